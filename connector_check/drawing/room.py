"""Where the marks of a view find room: columns of a terminal, parts of a page, labels inside pads. Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise
from math import hypot

from connector_check.drawing.views import SAME_COLUMN_MM, SAME_ROW_MM, Mark, rows_of


def columns_of(
    marks: Sequence[Mark], rows: Sequence[Sequence[Mark]], cells: Mapping[str, int], scale: float
) -> tuple[dict[str, int], int]:
    """Where each mark's cell starts in a terminal, and the width of it all.

    Marks further right start further right, cells of one row never touch, and `scale` columns a mm are kept wherever
    the cells leave room.
    """
    before = {b.name: a.name for row in rows for a, b in pairwise(row)}
    middle: dict[str, int] = {}
    stacks = _stacks(marks)
    column = -1
    for stack in stacks:
        column = max(column + 1, round(scale * (stack[0].x - stacks[0][0].x)))
        for name in (m.name for m in stack):
            left = before.get(name)
            if left in middle:
                room = cells[left] - cells[left] // 2 + 1 + cells[name] // 2
                column = max(column, middle[left] + room)
        middle.update({m.name: column for m in stack})
    starts = {name: at - cells[name] // 2 for name, at in middle.items()}
    shift = min(starts.values())
    return {n: s - shift for n, s in starts.items()}, max(starts[n] + cells[n] for n in starts) - shift


def text_scale(marks: Sequence[Mark], cells: Mapping[str, int], width: int) -> float:
    """The most columns a mm, up to true proportions, at which the marks fit the width (0 when only packed)."""
    rows = rows_of(marks)
    steps = [((cells[a.name] + cells[b.name]) / 2 + 1, b.x - a.x) for row in rows for a, b in pairwise(row)]
    low, high = 0.0, max((need / dx for need, dx in steps if dx > SAME_COLUMN_MM), default=1.0)
    for _ in range(30):
        middle = (low + high) / 2
        if columns_of(marks, rows, cells, middle)[1] <= width:
            low = middle
        else:
            high = middle
    return low


def parts_of(marks: Sequence[Mark], measure: Callable[[Sequence[Mark]], float], limit: float) -> list[list[Mark]]:
    """The marks cut from left to right into the fewest parts that each measure at most `limit`, of about equal size."""
    parts = _cut(marks, measure, limit)
    low, high = 0.0, limit
    for _ in range(12 if len(parts) > 1 else 0):
        middle = (low + high) / 2
        if len(_cut(marks, measure, middle)) == len(parts):
            high = middle
        else:
            low = middle
    return _cut(marks, measure, high)


def _cut(marks: Sequence[Mark], measure: Callable[[Sequence[Mark]], float], limit: float) -> list[list[Mark]]:
    parts: list[list[Mark]] = [[]]
    for stack in _stacks(marks):
        if parts[-1] and measure([*parts[-1], *stack]) > limit:
            parts.append([])
        parts[-1] += stack
    return parts


def _stacks(marks: Sequence[Mark]) -> list[list[Mark]]:
    """The marks from left to right, those above each other together; marks of one row never share a stack."""
    stacks: list[list[Mark]] = []
    for mark in sorted(marks, key=lambda m: m.x):
        beside = not stacks or mark.x - stacks[-1][0].x > SAME_COLUMN_MM
        if beside or any(abs(mark.y - other.y) <= 2 * SAME_ROW_MM for other in stacks[-1]):
            stacks.append([])
        stacks[-1].append(mark)
    return stacks


def has_room(mark: Mark, box: tuple[float, float], scale: float) -> bool:
    """Whether a label of that width and height lies inside the mark, drawn at `scale` units a mm."""
    radius = 0.0 if mark.shape == "rect" else min(mark.width, mark.height) * scale / 2
    dx = box[0] / 2 - (mark.width * scale / 2 - radius)
    dy = box[1] / 2 - (mark.height * scale / 2 - radius)
    return hypot(max(dx, 0.0), max(dy, 0.0)) <= radius + 1e-9


def label_scale(
    marks: Iterable[Mark],
    flat: Mapping[str, tuple[float, float]],
    upright: Mapping[str, tuple[float, float]],
    least: float,
    most: float,
) -> float:
    """The smallest units a mm, between `least` and `most`, at which every mark holds its label flat or upright."""
    scale = least
    for mark in marks:
        low, high = scale, most
        while high - low > 0.05:
            middle = (low + high) / 2
            if has_room(mark, flat[mark.name], middle) or has_room(mark, upright[mark.name], middle):
                high = middle
            else:
                low = middle
        scale = high if high - scale > 0.05 else scale
    return scale
