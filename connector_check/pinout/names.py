"""What an id, a contact, a joint or a net may be called, and lists of such names in files of ours. Pure."""

from __future__ import annotations

import re

from connector_check.files.fields import Fields
from connector_check.files.yaml_text import Text, Tree
from connector_check.pinout.ranges import MAX_CONTACTS, expand

ID = re.compile(r"[a-z0-9][a-z0-9.-]*\Z")
NAME = re.compile(r"[^\s,;\"@#'\x00-\x1f\x7f][^\s,;\"@\x00-\x1f\x7f]{0,31}\Z")
SHELL_JOINT = re.compile(r"SH\d+\Z")


def read_names(fields: Fields, tree: Tree | None, what: str) -> list[tuple[str, int]]:
    """A list of contact, joint or net names with ranges spelled out, each with its line."""
    found: list[tuple[str, int]] = []
    for item in fields.items(tree, what):
        if not isinstance(item, Text):
            fields.say(item, f"{what} holds something that is not a name")
            continue
        for name in expand(item.value):
            if NAME.match(name):
                found.append((name, item.line))
            else:
                fields.say(item, f"'{name}' in {what} cannot be a name", "no spaces, commas, quotes or @")
        if len(found) > MAX_CONTACTS:
            fields.say(item, f"{what} holds more than {MAX_CONTACTS:,} names")
            return found[:MAX_CONTACTS]
    return found
