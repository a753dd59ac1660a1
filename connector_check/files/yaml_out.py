"""Scalars and lists for YAML files that a person goes on writing. Pure."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable

from connector_check.files.text import printable

PLAIN = re.compile(r"(?:[A-Za-z0-9_+./~]|-(?=[A-Za-z0-9]))[A-Za-z0-9_+./~#()-]*\Z")


def quoted(text: str, free: bool = False) -> str:
    """A YAML scalar that reads as this text; free: a sentence, which may hold spaces.

    >>> quoted("+5V"), quoted("-"), quoted("a: b", free=True)
    ('+5V', '"-"', '"a: b"')
    """
    text = printable(text)
    plain = all(PLAIN.match(word) for word in text.split(" ")) if free else bool(PLAIN.match(text))
    return text if plain and not text.startswith("#") else in_quotes(text)


def in_quotes(text: str) -> str:
    """A sentence as a YAML scalar in quotes, whatever it holds.

    >>> in_quotes('a "b": c')
    '"a \\\\"b\\\\": c"'
    """
    return json.dumps(printable(text), ensure_ascii=False)


def flow_list(names: Iterable[str]) -> str:
    """A list of names on one line.

    >>> flow_list(["+5V", "-"])
    '[+5V, "-"]'
    """
    return f"[{', '.join(quoted(name) for name in names)}]"
