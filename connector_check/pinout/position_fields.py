"""Positions in a pin map file, in mm: rows by start and step, single spots, and the mating face made of them."""

from __future__ import annotations

from collections.abc import Container
from typing import NamedTuple

from connector_check.files.fields import Fields
from connector_check.files.yaml_text import Table, Tree
from connector_check.pinout.names import read_names
from connector_check.pinout.pinmap import FacePosition

FARTHEST_MM = 1000.0
"""No connector reaches farther; without a bound the search for neighbours would never end."""
PADS_KEYS = {"row", "at", "start", "step", "size", "shape", "note"}


class Spot(NamedTuple):
    """A named position in mm, and the line where its name stands."""

    name: str
    line: int
    x: float
    y: float


def read_spots(fields: Fields, tree: Tree, what: str) -> list[Spot]:
    """The named positions of one `{row: ..., start, step}` or `{at: {NAME: [x, y]}}` entry."""
    table = fields.table(tree, what, PADS_KEYS)
    if table is None:
        return []
    if ("row" in table.entries) == ("at" in table.entries):
        remedy = "row: [names] with start and step, or at: {NAME: [x, y]}"
        fields.say(tree, f"{what} needs either 'row' or 'at'", remedy)
        return []
    return _single(fields, table, what) if "at" in table.entries else _row(fields, table, what)


def _single(fields: Fields, table: Table, what: str) -> list[Spot]:
    found = []
    for name, entry, line in fields.entries(table.entries["at"], f"'at' of {what}"):
        xy = _mm(fields, entry, f"the position of '{name}'")
        if xy is not None:
            found.append(Spot(name, line, *xy))
    return found


def _row(fields: Fields, table: Table, what: str) -> list[Spot]:
    names = read_names(fields, table.entries["row"], f"'row' of {what}")
    start = _mm(fields, table.entries.get("start"), f"'start' of {what}")
    step = _mm(fields, table.entries["step"], f"'step' of {what}") if "step" in table.entries else (0.0, 0.0)
    if "start" not in table.entries:
        fields.say(table, f"{what} has no 'start'", "add 'start: [x, y]' in mm")
    if "step" not in table.entries and len(names) > 1:
        fields.say(table, f"{what} has no 'step'", "add 'step: [dx, dy]' in mm")
    if start is None or step is None:
        return []
    (x, y), (dx, dy) = start, step
    return [Spot(name, line, round(x + i * dx, 4), round(y + i * dy, 4)) for i, (name, line) in enumerate(names)]


def _mm(fields: Fields, tree: Tree | None, what: str) -> tuple[float, float] | None:
    xy = fields.numbers(tree, what, 2, -FARTHEST_MM, FARTHEST_MM)
    return (xy[0], xy[1]) if xy is not None else None


def read_face(fields: Fields, tree: Tree | None, contacts: Container[str]) -> tuple[FacePosition, ...]:
    """The contacts at the mating face, each once."""
    found: dict[str, FacePosition] = {}
    for item in fields.items(tree, "'face'"):
        for name, line, x, y in read_spots(fields, item, "a face row"):
            if name not in contacts:
                fields.say(line, f"the face shows unknown contact '{name}'", "use contacts from 'nets'")
            elif name in found:
                fields.say(line, f"the face shows contact '{name}' twice")
            else:
                found[name] = FacePosition(name, x, y)
    return tuple(found.values())
