"""The fields of a file of ours, read from a YAML tree: each checked, every problem kept with its line. Pure.

`what` names the field or its table in messages; `key` is the name of an entry.
"""

from __future__ import annotations

import math

from connector_check.errors import Problem
from connector_check.files.yaml_text import Items, Table, Text, Tree


class Fields:
    """Walks the tree of a file and collects problems; a value that is wrong reads as None or its default.

    file: its name in messages; problems: where each problem is added.
    """

    def __init__(self, file: str, problems: list[Problem]) -> None:
        self.file = file
        self.problems = problems

    def say(self, at: Tree | int, what: str, remedy: str = "") -> None:
        """Add a problem. at: the part of the tree that is wrong, or its line."""
        self.problems.append(Problem(self.file, at if isinstance(at, int) else at.line, what, remedy))

    def check_format(self, top: Table, what: str) -> None:
        """Every file of ours starts with the number of its format, so far 1."""
        if self.text(top, "format", what) not in ("1", ""):
            self.say(top.lines["format"], "an unknown format", "this version reads 'format: 1'")

    def table(self, tree: Tree | None, what: str, keys: set[str] | None = None) -> Table | None:
        """A mapping, or None; keys: those that it may have (any when None)."""
        if tree is None:
            return None
        if not isinstance(tree, Table):
            self.say(tree, f"{what} is not a table", "expected 'key: value' lines or {key: value, ...}")
            return None
        for key in tree.entries:
            if keys is not None and key not in keys:
                self.say(tree.lines[key], f"{what} has an unknown key '{key}'", f"known: {', '.join(sorted(keys))}")
        return tree

    def entries(self, tree: Tree | None, what: str) -> list[tuple[str, Tree, int]]:
        """The entries of a mapping whose keys the user chooses, each with the line of its key."""
        table = self.table(tree, what)
        return [(key, entry, table.lines[key]) for key, entry in table.entries.items()] if table else []

    def items(self, tree: Tree | None, what: str) -> tuple[Tree, ...]:
        """The parts of a list; none for what is no list."""
        if tree is None:
            return ()
        if not isinstance(tree, Items):
            self.say(tree, f"{what} is not a list", "expected [a, b, ...] or '- ' lines")
            return ()
        return tree.items

    def text(self, table: Table, key: str, what: str, required: bool = True) -> str:
        """A word or a sentence without blanks around it; required: that it is there."""
        tree = table.entries.get(key)
        if tree is None:
            if required:
                self.say(table, f"{what} has no '{key}'", f"add '{key}: ...'")
            return ""
        if not isinstance(tree, Text) or (required and not tree.value.strip()):
            self.say(tree, f"'{key}' of {what} is not a text", "expected a word or a sentence")
            return ""
        return tree.value.strip()

    def number(self, tree: Tree | None, what: str, least: float = -math.inf, most: float = 1e6) -> float | None:
        """A finite number from `least` to `most`, or None."""
        if tree is None:
            return None
        try:
            value = float(tree.value) if isinstance(tree, Text) else math.nan
        except ValueError:
            value = math.nan
        if not (math.isfinite(value) and least <= value <= most):
            given = f" ('{tree.value}')" if isinstance(tree, Text) else ""
            bound = f" from {least:g} to {most:g}" if math.isfinite(least) else ""
            self.say(tree, f"{what} is not a number{bound}{given}", "expected a plain decimal number")
            return None
        return value

    def numbers(
        self, tree: Tree | None, what: str, count: int, least: float = -math.inf, most: float = 1e6
    ) -> list[float] | None:
        """A list of that many numbers, each as `number` reads it, or None."""
        items = self.items(tree, what)
        if tree is None or not isinstance(tree, Items):
            return None
        if len(items) != count:
            self.say(tree, f"{what} has {len(items)} numbers", f"expected {count}")
            return None
        values = [self.number(item, what, least, most) for item in items]
        return None if None in values else [v for v in values if v is not None]

    def word(self, table: Table, key: str, what: str, allowed: tuple[str, ...], default: str) -> str:
        """One of the allowed words; the default where there is none."""
        tree = table.entries.get(key)
        if tree is None:
            return default
        if not isinstance(tree, Text) or tree.value not in allowed:
            given = tree.value if isinstance(tree, Text) else "a list"
            self.say(tree, f"'{key}: {given}' of {what}", f"expected one of {', '.join(allowed)}")
            return default
        return tree.value
