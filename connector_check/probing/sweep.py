"""The sweep in diode mode: which contacts in which order, what is usual there, and what was typed. Pure.

The red lead stays on ground, the black one walks the contacts in the order of the row.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from connector_check.analysis.diode import DiodeReading, diode_readings, judge_diode
from connector_check.analysis.fellows import OTHER_DATA, groups_of, usual_words
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import ODD_JUNCTIONS, StripLine
from connector_check.analysis.strip import strip
from connector_check.board.board import Board
from connector_check.errors import InputError
from connector_check.pinout.pinmap import DATA, GROUND, POWER
from connector_check.testlog.readings import live_board

HOW_TO_SWEEP = (
    "diode mode: red lead clipped to ground, black lead on the metal of each contact itself, in the mouth or in a "
    "mated plug or breakout, never the pad; type the volts, one or several in a row (512, 0.512, .512 V, 512 mV, OL)"
)
FELLOWS_SHOWN = 3
COUNTS_UP = "counts up: a capacitor charges"
WAIT = (
    "a capacitor charges: keep both leads on, wait until the value stays, then type it; nothing was taken as a reading"
)


@dataclass
class Sweep:
    """What a session remembers of its sweep.

    on: whether it is under way; later: joints skipped once, which come back at the end; left_out: those skipped again;
    again: joints whose odd value was asked a second time.
    """

    on: bool = False
    later: set[int] = field(default_factory=set)
    left_out: set[int] = field(default_factory=set)
    again: set[int] = field(default_factory=set)

    def start(self) -> None:
        """Begin anew; what was read stays read."""
        self.on = True
        self.later.clear()
        self.left_out.clear()
        self.again.clear()

    def skip(self, joint: int) -> None:
        """Leave a joint for the end, and the second time out."""
        (self.left_out if joint in self.later else self.later).add(joint)


def red_point(board: Board) -> int | None:
    """Where the red lead is clipped: the board point of a ground that the board must join, else of the first; None
    where the map has no ground.
    """
    grounds = [net for net in board.nets if net.role == GROUND and board.joints_of[net.name]]
    grounds.sort(key=lambda net: not net.must_join)
    return board.board_point[grounds[0].name] if grounds else None


def row_order(board: Board) -> list[int]:
    """The joints of grounds, supplies and data in the order of the row, seen from the component side."""
    from connector_check.drawing.views import COMPONENT_SIDE, rows_of, solder_view

    marks = (mark for row in rows_of(solder_view(board, COMPONENT_SIDE).marks) for mark in row)
    joints = (board.number[mark.name] for mark in marks)
    return [joint for joint in joints if board.net_of[joint].role in (GROUND, POWER, DATA)]


def joints_left(board: Board, standing: Standing, sweep: Sweep) -> list[int]:
    """The joints still to be read, those skipped before at the end."""
    read = {reading.point for reading in diode_readings(board, standing.entries)} | sweep.left_out
    left = [joint for joint in row_order(board) if joint not in read]
    return sorted(left, key=lambda joint: joint in sweep.later)


def odd_once(board: Board, standing: Standing, sweep: Sweep) -> tuple[int, str] | None:
    """A joint with an odd value that was read only once, and what is odd: a missed touch or a tip beside it shows so
    as well.
    """
    readings = diode_readings(board, standing.entries)
    times: dict[int, int] = {}
    for reading in readings:
        times[reading.point] = times.get(reading.point, 0) + 1
    for found in judge_diode(board, readings):
        joint = board.number[found.joint]
        if found.kind in ODD_JUNCTIONS and times[joint] == 1 and joint not in sweep.again:
            return joint, found.why
    return None


def usual_at(board: Board, standing: Standing, joint: int, known_good: Mapping[str, float] | None = None) -> str:
    """What is usual at a contact: by its fellows read so far, on good boards (as in `strip`), and by its role."""
    from connector_check.drawing.strip import volts_words

    fellows = set(fellows_of(board, joint))
    read = [r for r in diode_readings(board, standing.entries) if r.point in fellows and r.has_junction]
    shown = [f"{reading.volts:g} V at {board.points[reading.point]}" for reading in read[-FELLOWS_SHOWN:]]
    told = [f"its fellows: {', '.join(shown)}"] if shown else []
    good = (known_good or {}).get(board.points[joint])
    told += [] if good is None else [f"good boards: {volts_words(good)}"]
    return "; ".join([*told, f"usual here: {usual_words(board.net_of[joint].role)}"])


def fellows_of(board: Board, joint: int) -> list[int]:
    """The other joints of its net, and those of its kind, in the order of the row; a ground has none."""
    net = board.net_of[joint]
    if net.role == GROUND:
        return []
    groups = groups_of(board)
    group = groups.get(net.name, "")
    alike = {name for name, other in groups.items() if group and group != OTHER_DATA and other == group} | {net.name}
    return [other for other in row_order(board) if other != joint and board.net_of[other].name in alike]


def strip_at(
    board: Board, readings: Iterable[DiodeReading], joints: Iterable[int], known_good: Mapping[str, float] | None = None
) -> Iterator[StripLine]:
    """The lines of the strip for these joints; known_good: as in `strip`."""
    names = {board.points[joint] for joint in joints}
    return (line for line in strip(board, readings, known_good) if line.joint in names)


_VALUE = re.compile(
    r"(?:(?P<over>ol|o\.l\.?|0l|over)|(?P<value>[-\u2212]?(?:\d+(?:[.,]\d+)?|[.,]\d+)))\s*(?P<unit>mv|v|volts?)?"
    r"(?=[\s;,]|\Z)[\s;,]*",
    re.IGNORECASE,
)


def typed_values(text: str) -> list[str]:
    """The readings that a typed line of values means, one a contact: `0.512 V`, `OL V`. Raises ValueError with a
    message; a value of a live board is one.

    Without a unit a whole number is millivolts, as meters show them, and one with a decimal mark is volts.

    >>> typed_values("512 0.498 .51 V 512 mV OL")
    ['0.512 V', '0.498 V', '0.51 V', '0.512 V', 'OL V']
    >>> typed_values("0,512")
    ['0.512 V']
    """
    found, at, text = [], 0, text.strip()
    while at < len(text):
        match = _VALUE.match(text, at)
        if not match:
            raise ValueError(f"'{text[at : at + 12]}' is no volts: type 512, 0.512, .512 V, 512 mV or OL")
        at = match.end()
        found.append("OL V" if match["over"] else _volts_text(match["value"], (match["unit"] or "").lower()))
    if not found:
        raise ValueError("type the volts: 512, 0.512, .512 V, 512 mV or OL")
    return found


def _volts_text(value: str, unit: str) -> str:
    number = float(value.replace(",", ".").replace("\u2212", "-"))
    whole = value.lstrip("-\u2212").isdigit()
    if value == "1" and not unit:
        raise ValueError("'1' alone is how some meters show over the range: type OL, or 1 mV")
    volts = number / 1000 if unit == "mv" or (not unit and whole) else number
    if refused := live_board(volts):
        typed = "" if unit else f" (typed '{value}': {'mV' if whole else 'V'}, a whole number is mV)"
        raise ValueError(f"{refused[0]}{typed}; {refused[1]}")
    return f"{abs(volts):.6f}".rstrip("0").rstrip(".") + " V"


class SweepContact(NamedTuple):
    """One contact of the form: its point, the red lead's, its net with its role, and its fellows by name."""

    joint: str
    red: str
    net: str
    role: str
    fellows: tuple[str, ...]


def sweep_form(board: Board, standing: Standing) -> list[SweepContact]:
    """The contacts still to be read in diode mode, in the order of the row. Raises InputError without a ground."""
    red = red_point(board)
    if red is None:
        raise InputError.one(board.pin_map.id, 0, "no ground contact, where diode mode needs the red lead", "use tones")
    found = []
    for joint in joints_left(board, standing, Sweep()):
        net = board.net_of[joint]
        fellows = tuple(board.names(fellows_of(board, joint)))
        found.append(SweepContact(board.points[joint], board.points[red], net.name, net.role, fellows))
    return found
