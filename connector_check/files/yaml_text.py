"""YAML read as text: every scalar stays what was typed and every value knows its line.

`010`, `NO` and `12:30` stay text, duplicate keys are reported, anchors, aliases and tags are refused (a few hundred
bytes of aliases can expand to billions of leaves), nesting and size are capped before anything is built.
"""

from __future__ import annotations

from dataclasses import dataclass

from connector_check.errors import InputError, Problem
from connector_check.files.text import decode

MAX_BYTES = 2_000_000
MAX_DEPTH = 20


@dataclass(frozen=True)
class Text:
    """A scalar as typed."""

    value: str
    line: int


@dataclass(frozen=True)
class Items:
    """A sequence."""

    items: tuple[Tree, ...]
    line: int


@dataclass(frozen=True)
class Table:
    """A mapping; `lines` holds the line of each key."""

    entries: dict[str, Tree]
    lines: dict[str, int]
    line: int


Tree = Text | Items | Table


def read_yaml(raw: bytes, file: str) -> tuple[Tree, list[Problem]]:
    """Parse one YAML document into a tree of texts.

    Returns the tree and the problems that did not stop the reading (duplicate keys; the first one is kept).
    Raises InputError for a file that is too large, binary, empty, not YAML, too deep, or that uses anchors or tags.

    >>> tree, problems = read_yaml(b"id: 010", "x.yaml")
    >>> tree.entries["id"].value, problems
    ('010', [])
    """
    import yaml

    text = decode(raw, file, MAX_BYTES)
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    try:
        return _build(yaml, yaml.parse(text, loader), file)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
        what = getattr(error, "problem", None) or "not readable as YAML"
        line = mark.line + 1 if mark else 1
        raise InputError.one(file, line, f"not valid YAML ({what})", "check colons, quotes and indentation") from None


def _build(yaml, events, file: str) -> tuple[Tree, list[Problem]]:  # type: ignore[no-untyped-def]
    problems: list[Problem] = []
    # what is open, the innermost last: kind, line, parts so far
    stack: list[tuple[str, int, list[Tree]]] = [("document", 0, [])]
    documents = 0
    for event in events:
        line = event.start_mark.line + 1
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                raise InputError.one(file, line, "a second YAML document", "one file holds one document; remove '---'")
        elif isinstance(event, yaml.NodeEvent):
            _refuse_links(yaml, event, file, line)
            if isinstance(event, yaml.ScalarEvent):
                stack[-1][2].append(Text(event.value, line))
                continue
            if len(stack) > MAX_DEPTH:
                raise InputError.one(file, line, f"nested more than {MAX_DEPTH} levels deep", "a pin map needs five")
            stack.append(("map" if isinstance(event, yaml.MappingStartEvent) else "list", line, []))
        elif isinstance(event, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
            kind, start, parts = stack.pop()
            stack[-1][2].append(Items(tuple(parts), start) if kind == "list" else _table(parts, start, file, problems))
    if not stack[0][2]:
        raise InputError.one(file, 0, "the file is empty", "a pin map starts with 'format: 1'")
    return stack[0][2][0], problems


def _refuse_links(yaml, event, file: str, line: int) -> None:  # type: ignore[no-untyped-def]
    """Anchors and aliases multiply what a file holds, and tags change what a text is."""
    if isinstance(event, yaml.AliasEvent) or event.anchor:
        raise InputError.one(file, line, "a YAML anchor or alias", "write the value out, or quote a leading & or *")
    if event.tag:
        remedy = "remove it, or quote a leading !" if isinstance(event, yaml.ScalarEvent) else "remove it"
        raise InputError.one(file, line, f"a YAML tag '{event.tag}'", remedy)


def _table(parts: list[Tree], line: int, file: str, problems: list[Problem]) -> Table:
    entries: dict[str, Tree] = {}
    lines: dict[str, int] = {}
    for key, value in zip(parts[::2], parts[1::2], strict=True):
        if not isinstance(key, Text):
            problems.append(Problem(file, key.line, "a key that is a list or a table", "keys are plain words"))
        elif key.value in entries:
            first = lines[key.value]
            problems.append(Problem(file, key.line, f"'{key.value}' twice", f"first on line {first}; keep one"))
        else:
            entries[key.value] = value
            lines[key.value] = key.line
    return Table(entries, lines, line)
