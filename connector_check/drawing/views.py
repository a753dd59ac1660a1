"""Drawings of a connector, as places: what is seen from where, each joint's state, and where labels find room. Pure.

A view holds marks in mm, x right and y down *as seen*; the renderers `draw_text` and `draw_svg` put them on the page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot

from connector_check.analysis.states import KINDS, State
from connector_check.board.board import Board
from connector_check.errors import InputError
from connector_check.pinout.geometry import pitch
from connector_check.pinout.pinmap import SHELL, Joint, PinMap

COMPONENT_SIDE, SOLDER_SIDE = "component", "solder"
SIDES = (COMPONENT_SIDE, SOLDER_SIDE)
TURNS = (0, 90, 180, 270)

FACE_CAPTION = "Mating face, seen looking into the mouth of the part on the board."
SIDE_CAPTIONS = {
    COMPONENT_SIDE: "Component side: seen from the side of the board that carries the part.",
    SOLDER_SIDE: "Solder side: seen from the side of the board away from the part, so left and right are swapped "
    "against the component side. Surface-mount joints themselves lie on the component side.",
}

SAME_ROW_MM = 0.1
SAME_COLUMN_MM = 0.03
"""Centres closer than this are drawn in one text row or column: footprints round to about a hundredth of a mm."""


@dataclass(frozen=True)
class Mark:
    """One joint or contact as seen: its name and published signal name, role, centre and size in mm, and shape."""

    name: str
    label: str
    role: str
    x: float
    y: float
    width: float
    height: float
    shape: str


@dataclass(frozen=True)
class View:
    """A drawing before it is drawn: whose it is, from which side it is seen (in words), and its marks."""

    title: str
    caption: str
    marks: tuple[Mark, ...]

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """(left, top, right, bottom) of all marks, mm."""
        return (
            min(m.x - m.width / 2 for m in self.marks),
            min(m.y - m.height / 2 for m in self.marks),
            max(m.x + m.width / 2 for m in self.marks),
            max(m.y + m.height / 2 for m in self.marks),
        )


def face_view(pin_map: PinMap) -> View:
    """The mating face, looking into the mouth. Raises InputError when the map does not give it."""
    if not pin_map.face:
        raise InputError.one(
            pin_map.id, 0, "the pin map does not say how its contacts lie at the mating face", "add 'face:' to it"
        )
    spots = tuple(Joint(p.contact, (p.contact,), p.x, p.y, 0.01, 0.01) for p in pin_map.face)
    size = round(max(0.7 * (pitch(spots) or 1.0), 0.05), 3)
    marks = tuple(
        Mark(p.contact, _label(pin_map, (p.contact,)), pin_map.net_of[p.contact].role, p.x, p.y, size, size, "rect")
        for p in pin_map.face
    )
    return View(_title(pin_map), FACE_CAPTION, marks)


def solder_view(board: Board, side: str = SOLDER_SIDE, rotate: int = 0) -> View:
    """The solder joints of the board's layout.

    side: `component` (as the layout is written) or `solder` (its mirror image); rotate: 0, 90, 180 or 270 degrees
    clockwise as seen.
    """
    if side not in SIDES:
        raise ValueError(f"side must be one of {', '.join(SIDES)}, not {side!r}")
    pin_map, layout = board.pin_map, board.layout
    marks = tuple(
        Mark(j.name, _label(pin_map, j.contacts), pin_map.net_of[j.contacts[0]].role, j.x, j.y, j.width, j.height,
             j.shape)
        for j in board.joints
    )  # fmt: skip
    view = View(f"{_title(pin_map)}, layout {layout.id}", SIDE_CAPTIONS[side], marks)
    return rotated(mirrored(view) if side == SOLDER_SIDE else view, rotate)


def _title(pin_map: PinMap) -> str:
    return f"{pin_map.title} ({pin_map.id}{', ' + pin_map.variant if pin_map.variant else ''})"


def _label(pin_map: PinMap, contacts: tuple[str, ...]) -> str:
    if contacts == ("SH",):
        return "shell"
    return "/".join(dict.fromkeys(pin_map.names.get(c) or pin_map.net_of[c].name for c in contacts))


def mirrored(view: View) -> View:
    """The view with left and right swapped; its caption stays. Twice gives the view itself."""
    return replace(view, marks=tuple(replace(m, x=-m.x) for m in view.marks))


def rotated(view: View, degrees: int) -> View:
    """The view turned clockwise as seen, by 0, 90, 180 or 270 degrees; the caption says so."""
    if degrees not in TURNS:
        raise ValueError(f"rotate must be one of {', '.join(map(str, TURNS))}, not {degrees!r}")
    marks = view.marks
    for _ in range(degrees // 90):
        marks = tuple(replace(m, x=-m.y, y=m.x, width=m.height, height=m.width) for m in marks)
    turned = f" Turned {degrees} degrees clockwise." if degrees else ""
    return replace(view, caption=view.caption + turned, marks=marks)


def states_by_contact(board: Board, by_joint: Mapping[str, State]) -> dict[str, State]:
    """The states for a face view: each contact has its joint's."""
    return {c: by_joint[j.name] for j in board.joints for c in j.contacts if c != "SH"}


def state_lines(view: View, by_name: Mapping[str, State]) -> list[tuple[State, str]]:
    """What the states say in words, worst first: one line for each finding, with its marks in the view's order."""
    grouped: dict[tuple[str, str], list[str]] = {}
    first: dict[tuple[str, str], State] = {}
    for mark in view.marks:
        state = by_name.get(mark.name)
        if state is not None:
            grouped.setdefault((state.kind, state.detail), []).append(mark.name)
            shown = first.setdefault((state.kind, state.detail), state)
            if shown.sites and not state.sites:
                first[state.kind, state.detail] = state
    return [
        (first[key], f"{key[0]} ({len(names)}): {' '.join(names)}" + (f" ({key[1]})" if key[1] else ""))
        for key, names in sorted(grouped.items(), key=lambda entry: KINDS.index(entry[0][0]))
    ]


def by_number(marks: Iterable[Mark]) -> list[Mark]:
    """The marks by row letter and number, shell joints last, as a reader looks a pin up."""

    def key(mark: Mark) -> tuple[bool, str, int, str]:
        letters = mark.name.rstrip("0123456789")
        return mark.role == SHELL, letters, int(mark.name[len(letters) :] or 0), mark.name

    return sorted(marks, key=key)


def rows_of(marks: Sequence[Mark]) -> list[list[Mark]]:
    """The marks in rows from top to bottom, each from left to right."""
    rows: list[list[Mark]] = []
    for mark in sorted(marks, key=lambda m: m.y):
        if not rows or mark.y - rows[-1][0].y > SAME_ROW_MM:
            rows.append([])
        rows[-1].append(mark)
    return [sorted(row, key=lambda m: m.x) for row in rows]


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
        if (
            not stacks or mark.x - stacks[-1][0].x > SAME_COLUMN_MM
            or any(abs(mark.y - other.y) <= 2 * SAME_ROW_MM for other in stacks[-1])
        ):  # fmt: skip
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
    marks: Iterable[Mark], flat: Mapping[str, tuple[float, float]], upright: Mapping[str, tuple[float, float]],
    least: float, most: float,
) -> float:  # fmt: skip
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
