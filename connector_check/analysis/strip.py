"""The strip of a sweep: each joint's diode-mode reading against its fellows and against known good boards. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf
from statistics import median

from connector_check.analysis.diode import DiodeReading, judge_diode
from connector_check.analysis.fellows import OTHER_DATA, TWIN_SPREAD_VOLTS, USUAL_VOLTS, band, fewest_of, groups_of
from connector_check.analysis.result import JUNCTION_OPEN, JUNCTION_SHORT, OUTLIER, StripLine
from connector_check.board.board import Board
from connector_check.board.ohms import NEAR_ZERO_VOLTS
from connector_check.pinout.pinmap import DATA, GROUND, POWER

LIKE, ON_GROUND, ALONE = "like its fellows", "near 0, as ground is", "nothing to compare with"
_WORDS = {JUNCTION_SHORT: "SHORT to ground", JUNCTION_OPEN: "NO CONTACT", OUTLIER: "UNLIKE its fellows"}


def strip(
    board: Board, readings: Iterable[DiodeReading], known_good: Mapping[str, float] | None = None
) -> tuple[StripLine, ...]:
    """The joints that were read, in the order of their fellows.

    readings: in time order; the last one of a joint counts. known_good: what sound boards of this kind show, in volts
    (infinite for OL) by joint name.
    """
    last = {reading.point: reading for reading in readings if reading.point < len(board.joints)}
    odd = {found.joint: found for found in judge_diode(board, last.values())}
    expected = _expected(board, last)
    known_good = known_good or {}
    lines = []
    groups = groups_of(board)
    for _, point in sorted((_family(board, groups, point), point) for point in last):
        reading, name = last[point], board.points[point]
        found = odd.get(name)
        within = (found.expected if found else None) or expected.get(point)
        volts = None if reading.volts == inf else reading.volts
        place = None
        if within and volts is not None:
            place = (volts - within[0]) / (within[1] - within[0])
        if found is not None:
            unlike = within is not None and not (place is not None and 0 <= place <= 1)
            word = _WORDS.get(found.kind, _WORDS[OUTLIER] if unlike else ALONE + _unusual(board, reading))
        else:
            word = ON_GROUND if reading.volts < NEAR_ZERO_VOLTS else LIKE
        net = board.net_of[point].name
        lines.append(StripLine(name, net, volts, within, known_good.get(name), place, word))
    return tuple(lines)


def _unusual(board: Board, reading: DiodeReading) -> str:
    """Said of a value that nothing is compared with, where it is none that a line usually shows."""
    is_line = board.net_of[reading.point].role in (DATA, POWER)
    usual = USUAL_VOLTS[0] <= reading.volts <= USUAL_VOLTS[1] or reading.volts == inf
    return "" if usual or not is_line else f"; {USUAL_VOLTS[0]:g} to {USUAL_VOLTS[1]:g} V is usual"


def _family(board: Board, groups: Mapping[str, str], point: int) -> tuple[int, str]:
    """What a joint is listed with: grounds first, then supplies, then lines by their group."""
    net = board.net_of[point]
    if net.role == GROUND:
        return 0, ""
    group = groups.get(net.name)
    return (1, net.name) if group is None else (2 if group != OTHER_DATA else 3, group)


def _expected(board: Board, last: Mapping[int, DiodeReading]) -> dict[int, tuple[float, float]]:
    """For each joint with a junction: the volts that its fellows, or the other joints of its net, tell."""
    groups = groups_of(board)
    by_group: dict[str, dict[str, list[float]]] = {}
    by_net: dict[str, list[float]] = {}
    for point, reading in last.items():
        name = board.net_of[point].name
        if reading.has_junction and board.net_of[point].role != GROUND:
            by_net.setdefault(name, []).append(reading.volts)
            if groups.get(name):
                by_group.setdefault(groups[name], {}).setdefault(name, []).append(reading.volts)
    found = {}
    for point in last:
        name = board.net_of[point].name
        nets = by_group.get(groups.get(name, ""), {})
        if len(nets) >= fewest_of(groups.get(name, "")):
            found[point] = band([median(volts) for volts in nets.values()])
        elif len(by_net.get(name, ())) > 1:
            middle = median(by_net[name])
            found[point] = middle - TWIN_SPREAD_VOLTS, middle + TWIN_SPREAD_VOLTS
    return {point: (max(low, 0.0), high) for point, (low, high) in found.items()}
