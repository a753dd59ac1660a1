"""The design paths of a pin map file or a board notes file: read and checked."""

from __future__ import annotations

from collections.abc import Collection

from connector_check.files.fields import Fields
from connector_check.files.yaml_text import Table, Tree
from connector_check.pinout.names import read_names
from connector_check.pinout.pinmap import DesignPath

PATH_KEYS = {"between", "among", "ohms", "why", "absent", "source"}
MOST_NETS = 64
"""The most nets that one path may join."""


def read_paths(fields: Fields, tree: Tree | None, nets: Collection[str]) -> tuple[DesignPath, ...]:
    """The paths of a list; nets: the names that they may join."""
    found = []
    for item in fields.items(tree, "'paths'"):
        table = fields.table(item, "a path", PATH_KEYS)
        path = _path(fields, table, nets) if table is not None else None
        if path is not None:
            found.append(path)
    return tuple(found)


def _path(fields: Fields, table: Table, nets: Collection[str]) -> DesignPath | None:
    key = "among" if "among" in table.entries else "between"
    ends = [name for name, _ in read_names(fields, table.entries.get(key), f"'{key}'")]
    wanted = len(ends) == 2 if key == "between" else len(ends) > 2
    if not wanted or len(set(ends)) < len(ends) or len(ends) > MOST_NETS:
        what = "a path needs 'between: [NET, NET]' with two different nets, or 'among' with three or more"
        fields.say(table, what)
        return None
    for name in ends:
        if name not in nets:
            fields.say(table, f"a path names unknown net '{name}'", "use names from 'nets'")
    ohms = fields.numbers(table.entries.get("ohms"), "'ohms' of a path", 2, 0)
    if ohms is None:
        if "ohms" not in table.entries:
            fields.say(table, "a path has no 'ohms'", "add 'ohms: [LOW, HIGH]'")
        return None
    low, high = ohms
    if low > high:
        fields.say(table, f"a path reads from {low:g} to {high:g} ohm", "write the lower value first")
    absent = fields.word(table, "absent", "a path", ("may", "no"), "may") == "may"
    source = fields.text(table, "source", "a path", required=False)
    return DesignPath(tuple(ends), low, high, fields.text(table, "why", "a path"), absent, source)
