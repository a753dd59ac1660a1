"""Diode-mode readings: red lead on ground, black lead on a joint, board without power. Pure.

The meter drives a small current through the protection diode of the chip behind the joint and shows its volts. A joint
that reaches no chip shows OL, a joint on ground shows almost nothing. The lines of one bus end in like parts, so they
are compared with each other; no sound board is needed. The practice is printed in the GIGABYTE Service Manual v3.0,
s.11.2.3, with a sound board as the measure: higher means open, lower means short.

Nothing here proves a joint apart or joined: these findings stand beside those of the beeps.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import inf
from statistics import median
from typing import NamedTuple

from connector_check.analysis.result import JUNCTION_OPEN, JUNCTION_SHORT, ODD_JUNCTIONS, OUTLIER, DiodeFinding
from connector_check.board.board import Board
from connector_check.pinout.pinmap import DATA, GROUND, POWER
from connector_check.testlog.readings import VOLTS, Entry

NO_JUNCTION, LISTED = "no junction expected", "listed"
KINDS = (*ODD_JUNCTIONS, NO_JUNCTION, LISTED)
"""What a finding can be, worst first."""

SHORT_VOLTS = 0.05
"""Under this no silicon junction is in the way (common practice, no source): 50 ohm or less at 1 mA."""

LEAST_MILLIAMPS = 0.5
"""Meters print 0.7 to 1.2 mA for this range (Fluke 45, Fluke 115 manuals); the margin is ours."""

FEWEST_PEERS = 4
"""With three nets one odd reading is a third of all; fewer are listed and left to the user's eye."""

SPREAD_VOLTS = 0.05
"""Sound peers differ by a few tens of mV (common practice, no source), and so do two bridged signals: 18 to 36 mV."""

DEVIATIONS, NORMAL = 5.0, 1.4826
"""1.4826 times the MAD estimates the standard deviation of a normal spread (R manual, stats::mad). Five of them, our
choice, keep a sound group of 4 to 16 quiet although its MAD is itself uncertain."""

LIMITS = (
    (
        "Two signals bridged together still pass in diode mode: the pair reads only 18 to 36 mV lower, "
        "less than sound lines differ. Only beeps or ohms between the two show it."
    ),
    (
        "A line behind a series capacitor reads OL whether its joint is good or open, and so does one whose only part "
        "is a bidirectional protection diode."
    ),
    "A diode-mode reading proves no joint apart and none joined; a fault that all lines of a group share is not seen.",
)
"""What these readings cannot see, for every report that shows them."""


class DiodeReading(NamedTuple):
    """One reading: the joint's point number, volts as read (infinite for OL), its line in the job."""

    point: int
    volts: float
    line: int


@dataclass(frozen=True)
class Rule:
    """A pattern for the whole net name, and the group it belongs to (`{stem}` is taken from the name, "" is none)."""

    pattern: re.Pattern[str]
    group: str


RULES = (
    Rule(re.compile(r"(?:MAKER|VENDOR|GPIO|COEX|LED|SENSE|CONFIG)_?\d+#?"), ""),
    Rule(re.compile(r"(?:D\d|CK)[+-]"), "lanes D and CK"),
    Rule(re.compile(r"(?P<stem>.+)[pn]\d{1,2}"), "lanes {stem}"),
    Rule(re.compile(r"(?P<stem>.*[A-Za-z_])\d{1,2}[+-]"), "lanes {stem}"),
    Rule(re.compile(r"D[A-D][+-]"), "pairs DA to DD"),
    Rule(re.compile(r"(?P<stem>.+)[+-]"), "pair {stem}"),
    Rule(re.compile(r"RED|GREEN|BLUE"), "colours"),
    Rule(re.compile(r"(?P<stem>.*[A-Za-z_])\d{1,2}"), "lines {stem}"),
)
"""Which data nets are lines of one bus, by name; the first match counts. Common practice in naming, no source.
Pins that a maker uses freely are no peers though their names are numbered."""

OTHER_DATA = "other data"


def peer_group(name: str) -> str:
    """The group of a data net by its name; `other data` when no rule names one, "" when it has no peers.

    >>> peer_group("D7"), peer_group("TX1-"), peer_group("PETp0"), peer_group("HPD"), peer_group("VENDOR38")
    ('lines D', 'lanes TX', 'lanes PET', 'other data', '')
    """
    for rule in RULES:
        if match := rule.pattern.fullmatch(name):
            return rule.group.format(**match.groupdict())
    return OTHER_DATA


def band(volts: Sequence[float], resolution: float = 0.001) -> tuple[float, float]:
    """The volts between which a peer of these is no outlier: median and MAD, the meter's resolution as floor.

    The half width is five standard deviations as the MAD tells them, never under `SPREAD_VOLTS`.

    >>> low, high = band([0.512, 0.514, 0.513, 0.9])
    >>> round(low, 4), round(high, 4)
    (0.4635, 0.5635)
    """
    middle = median(volts)
    mad = median([abs(v - middle) for v in volts])
    half = max(SPREAD_VOLTS, DEVIATIONS * NORMAL * max(mad, resolution))
    return middle - half, middle + half


def diode_readings(board: Board, entries: Iterable[Entry]) -> list[DiodeReading]:
    """The diode-mode readings among the entries of a job, in time order."""
    return [
        DiodeReading(next(p for p in entry.points if board.net_of[p].role != GROUND), entry.ohms or 0.0, entry.line)
        for entry in entries
        if entry.kind == VOLTS
    ]


def joints_with_junction(board: Board, entries: Iterable[Entry]) -> frozenset[int]:
    """The joints that show a junction like their fellows': they reach the chip behind them."""
    readings = diode_readings(board, entries)
    if not readings:
        return frozenset()
    odd = {board.number[finding.joint] for finding in judge_diode(board, readings)}
    last = {reading.point: reading for reading in readings}
    return frozenset(p for p, r in last.items() if p not in odd and SHORT_VOLTS <= r.volts < inf)


def judge_diode(board: Board, readings: Iterable[DiodeReading], resolution: float = 0.001) -> list[DiodeFinding]:
    """Shorts, opens and outliers among joints read in diode mode, and what was only listed; worst first.

    readings: in time order; the last one of a joint counts. resolution: the meter's last digit in volts. Joints that
    agree with their peers get no finding.
    """
    last = {reading.point: reading for reading in readings}
    found: list[DiodeFinding] = []
    compared: list[tuple[str, DiodeReading]] = []
    for point in sorted(last):
        reading = last[point]
        role = board.net_of[point].role
        if point >= len(board.joints) or role not in (DATA, POWER):
            why = "ground: beep it instead" if role == GROUND else f"{_role(board, point)}: not compared"
            found.append(_finding(board, reading, LISTED, why))
        elif reading.volts < SHORT_VOLTS:
            found.append(_near_zero(board, reading))
        elif fellow := _fellow_with_junction(board, last, reading):
            shown = f"{board.points[fellow.point]} of the same net shows {fellow.volts:g} V"
            why = f"OL, while {shown}: open joint, unless the board leaves this contact out"
            found.append(_finding(board, reading, JUNCTION_OPEN, why, more=(fellow,)))
        elif role == POWER:
            found.append(_finding(board, reading, LISTED, "a supply has no peers: not compared"))
        else:
            compared.append((peer_group(board.net_of[point].name), reading))
    for group, members in groupby(sorted(compared, key=lambda pair: (pair[0], pair[1].point)), lambda pair: pair[0]):
        found += _compare(board, group, [reading for _, reading in members], resolution)
    return sorted(found, key=lambda f: (KINDS.index(f.kind), board.number[f.joint]))


def _role(board: Board, point: int) -> str:
    return "a board point" if point >= len(board.joints) else board.net_of[point].role


def _finding(
    board: Board,
    reading: DiodeReading,
    kind: str,
    why: str,
    group: str = "",
    expected: tuple[float, float] | None = None,
    more: tuple[DiodeReading, ...] = (),
) -> DiodeFinding:
    volts = None if reading.volts == inf else reading.volts
    if expected is not None:
        expected = (round(max(expected[0], 0.0), 4), round(expected[1], 4))
    lines = tuple(sorted({reading.line, *(r.line for r in more)}))
    return DiodeFinding(
        kind, board.points[reading.point], board.net_of[reading.point].name, volts, group, expected, why, lines
    )


def _near_zero(board: Board, reading: DiodeReading) -> DiodeFinding:
    """A short to ground, unless a part by design carries so much current that it reads the same."""
    net = board.net_of[reading.point]
    most_ohms = SHORT_VOLTS / LEAST_MILLIAMPS * 1000
    for ground in (other for other in board.nets if other.role == GROUND):
        if not board.must_be_apart(net, ground):
            return _finding(board, reading, LISTED, f"near 0, and joined to {ground.name} by design")
        part = board.design_ohms(net.name, ground.name)
        if part and part.low <= most_ohms:
            why = f"near 0, and {', then '.join(part.why)} may read so by design: measure ohms to ground"
            return _finding(board, reading, LISTED, why)
    if net.role == POWER:
        why = "near 0: short to ground, or a supply with low-ohm chips: measure ohms to ground"
    else:
        why = "near 0: short to ground"
    return _finding(board, reading, JUNCTION_SHORT, why)


def _fellow_with_junction(board: Board, last: dict[int, DiodeReading], reading: DiodeReading) -> DiodeReading | None:
    """For an OL: another joint of the same net that shows a junction."""
    if reading.volts != inf:
        return None
    joints = board.joints_of[board.net_of[reading.point].name]
    return next((last[j] for j in joints if j in last and SHORT_VOLTS <= last[j].volts < inf), None)


def _compare(board: Board, group: str, members: list[DiodeReading], resolution: float) -> list[DiodeFinding]:
    """Findings of one group; members have a junction or read OL."""

    def nets(some: list[DiodeReading]) -> int:
        return len({board.net_of[r.point].name for r in some})

    def all_of(kind: str, some: list[DiodeReading], why: str) -> list[DiodeFinding]:
        return [_finding(board, r, kind, why, group) for r in some]

    read = nets(members)
    if not group or read < FEWEST_PEERS:
        few = f"{read} of {group} read, {FEWEST_PEERS} needed to compare" if group else "no peers by its name"
        return all_of(LISTED, members, f"not compared: {few}")
    silent = [r for r in members if r.volts == inf]
    junction = [r for r in members if r.volts != inf]
    if not junction:
        why = f"OL on all {read} of {group}: series capacitors or no junction by design; a joint open here is not seen"
        return all_of(NO_JUNCTION, silent, why)
    shown = f"{nets(junction)} of {read} of {group} show a junction"
    found: list[DiodeFinding] = []
    if group == OTHER_DATA:
        found += all_of(LISTED, silent, "OL: open, or no junction by design; its peers share the role only")
    elif 2 * nets(junction) < read:
        found += all_of(LISTED, silent, f"OL, and only {shown}: open, or lines the board does not use")
    else:
        why = f"OL, while {shown}: open joint or broken track, unless the board leaves this line out"
        found += all_of(JUNCTION_OPEN, silent, why)
    if nets(junction) < FEWEST_PEERS:
        few = f"not compared in volts: only {shown}, {FEWEST_PEERS} needed"
        return found + all_of(LISTED, junction, few)
    low, high = band([r.volts for r in junction], resolution)
    only = "; these peers share the role only, so it may be by design" if group == OTHER_DATA else ""
    for r in junction:
        if not low <= r.volts <= high:
            side, cause = (
                ("lower", "a short or leak to another net, or a damaged part")
                if r.volts < low
                else ("higher", "a joint or part with ohms in it, or a damaged part")
            )
            why = f"{side} than its peers of {group}, {max(low, 0.0):.3f} to {high:.3f} V: {cause}{only}"
            found.append(_finding(board, r, OUTLIER, why, group, (low, high)))
    return found
