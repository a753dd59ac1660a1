"""Scalars for YAML files that a person goes on writing. Pure."""

from __future__ import annotations

import json
import re

from connector_check.files.text import printable

PLAIN = re.compile(r"(?:[A-Za-z0-9_+./~]|-(?=[A-Za-z0-9]))[A-Za-z0-9_+./~#()-]*\Z")


def quoted(text: str, free: bool = False) -> str:
    """A YAML scalar that reads as this text; free: a sentence, which may hold spaces.

    >>> quoted("+5V"), quoted("-"), quoted("a: b", free=True)
    ('+5V', '"-"', '"a: b"')
    """
    text = printable(text)
    plain = all(PLAIN.match(word) for word in text.split(" ")) if free else bool(PLAIN.match(text))
    return text if plain and not text.startswith("#") else json.dumps(text, ensure_ascii=False)
