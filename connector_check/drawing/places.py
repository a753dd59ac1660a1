"""Where a point sits, in plain words: "3rd from the left, upper row, seen from the solder side". Pure.

Rows and columns are found from the layout's coordinates, as the drawing of the same side and turn shows them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

from connector_check.board.board import Board
from connector_check.drawing.views import SOLDER_SIDE, Mark, solder_view
from connector_check.pinout.pinmap import SHELL

SHELL_ITSELF = "the shell itself, anywhere on its bare metal"

_BANDS = {
    (True, 2): ("upper row", "lower row"),
    (True, 3): ("upper row", "middle row", "lower row"),
    (False, 2): ("left column", "right column"),
    (False, 3): ("left column", "middle column", "right column"),
}


def place_words(board: Board, point: int, side: str = SOLDER_SIDE, rotate: int = 0) -> str:
    """Where a point of the board is touched, in words; unique among the joints of a layout.

    point: its number; side: `component` or `solder` (left and right swapped); rotate: 0, 90, 180 or 270 degrees
    clockwise as seen, as in `drawing.solder_view`. A joint counts from the nearer end of its row.

    >>> from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap
    >>> row = Layout("row", "", "", tuple(Joint(n, (n,), i, 0, 0.5, 1) for i, n in enumerate("12345")))
    >>> board = Board(PinMap("demo", "", "", (), (Net("GND", "ground", tuple("12345")),), {}, (row,)), row)
    >>> place_words(board, 1, "component")
    '2nd from the left, seen from the component side'
    >>> place_words(board, 1), place_words(board, 1, rotate=90)[:18]
    ('2nd from the right, seen from the solder side', '2nd from the botto')
    >>> place_words(board, board.number["@GND"])
    "the board's GND: plane, test pad or part leg"
    """
    if point == board.shell_point:
        return SHELL_ITSELF
    if point >= len(board.joints):
        net = board.net_of[point].name
        noted = [name for name, owner in board.named.items() if owner == net]
        return f"the board's {net}: {' or '.join(noted) or 'plane, test pad or part leg'}"
    return _joint_places(board, side, rotate)[point]


@lru_cache(maxsize=16)
def _joint_places(board: Board, side: str, rotate: int) -> tuple[str, ...]:
    marks = solder_view(board, side, rotate).marks
    shell = [m.role == SHELL for m in marks]
    contacts = _in_bands([m for m, is_shell in zip(marks, shell, strict=True) if not is_shell])
    tabs = _around([m for m, is_shell in zip(marks, shell, strict=True) if is_shell])
    seen = f", seen from the {side} side" + (f", turned {rotate} degrees clockwise" if rotate else "")
    return tuple(
        (f"shell joint, {tabs[m.name]}" if tabs[m.name] else "the shell's only joint") + seen
        if is_shell
        else contacts[m.name] + seen
        for m, is_shell in zip(marks, shell, strict=True)
    )


def _in_bands(marks: Sequence[Mark]) -> dict[str, str]:
    """Words for joints in rows, or in columns where those are fewer."""
    rows = _clusters(marks, lambda m: m.y, lambda m: m.height)
    columns = _clusters(marks, lambda m: m.x, lambda m: m.width)
    across = len(rows) <= len(columns)
    bands = rows if across else columns
    found: dict[str, str] = {}
    for number, band in enumerate(bands):
        in_order = sorted(band, key=lambda m: (m.x, m.y) if across else (m.y, m.x))
        named = _band_word(across, number, len(bands))
        for index, mark in enumerate(in_order):
            if len(in_order) == 1:
                found[mark.name] = f"alone in the {named}" if named else "the only joint"
            else:
                found[mark.name] = _counted(index, len(in_order), across) + (f", {named}" if named else "")
    return found


def _band_word(across: bool, number: int, count: int) -> str:
    if count == 1:
        return ""
    if (across, count) in _BANDS:
        return _BANDS[across, count][number]
    return f"row {number + 1} of {count} from the top" if across else f"column {number + 1} of {count} from the left"


def _counted(index: int, count: int, across: bool) -> str:
    back = count - 1 - index
    first, last = ("left", "right") if across else ("top", "bottom")
    return f"{_ordinal(index + 1)} from the {first}" if index <= back else f"{_ordinal(back + 1)} from the {last}"


def _ordinal(number: int) -> str:
    """A place in a row, counted from 1.

    >>> [_ordinal(n) for n in (1, 2, 3, 4, 11, 12, 13, 21, 82, 103, 111)]
    ['1st', '2nd', '3rd', '4th', '11th', '12th', '13th', '21st', '82nd', '103rd', '111th']
    """
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def _around(marks: Sequence[Mark]) -> dict[str, str]:
    """Words for shell joints: the corner or side where that tells them apart, else row by row."""
    if len(marks) == 1:
        return {marks[0].name: ""}
    xs, ys = _halves(marks, lambda m: m.x, lambda m: m.width), _halves(marks, lambda m: m.y, lambda m: m.height)
    corners = {
        m.name: " ".join(word for word in (("upper", "", "lower")[y], ("left", "", "right")[x]) if word) or "middle"
        for m, x, y in zip(marks, xs, ys, strict=True)
    }
    return corners if len(set(corners.values())) == len(marks) else _in_bands(marks)


def _halves(marks: Sequence[Mark], where: Callable[[Mark], float], size: Callable[[Mark], float]) -> list[int]:
    """0, 1 or 2 for each mark: before the middle of them all, at it (within half a pad), or past it."""
    at = [where(m) for m in marks]
    middle = (min(at, default=0.0) + max(at, default=0.0)) / 2
    return [
        1 if abs(place - middle) <= size(m) / 2 else 0 if place < middle else 2
        for place, m in zip(at, marks, strict=True)
    ]


def _clusters(marks: Sequence[Mark], where: Callable[[Mark], float], size: Callable[[Mark], float]) -> list[list[Mark]]:
    """The marks in bands along one axis: a mark within half a pad of the band's first one belongs to it."""
    found: list[list[Mark]] = []
    for mark in sorted(marks, key=where):
        band = found[-1] if found else None
        if band and where(mark) - where(band[0]) <= min(size(mark), size(band[0])) / 2 + 1e-9:
            band.append(mark)
        else:
            found.append([mark])
    return found
