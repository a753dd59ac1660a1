"""Tones that a junction may have made: some meters sound on one in diode mode, where a tone is no solder. Pure.

Only a meter that is known to do so, and a joint whose volts in diode mode show a junction, raise this doubt.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from math import inf

from connector_check.board.board import Board
from connector_check.board.ohms import NEAR_ZERO_VOLTS
from connector_check.pinout.pinmap import GROUND
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import VOLTS, Entry


def tone_junctions(board: Board, meter: Meter, entries: Iterable[Entry]) -> frozenset[int]:
    """The joints at which this meter may sound on a junction to ground; entries: the standing readings."""
    if not meter.beeps_on_junction:
        return frozenset()
    last = {point: entry.ohms for entry in entries if entry.kind == VOLTS for point in entry.points}
    return frozenset(
        point
        for point, volts in last.items()
        if board.net_of[point].role != GROUND and volts is not None and NEAR_ZERO_VOLTS <= volts < inf
    )


def may_be_junction(board: Board, joints: Collection[int], points: tuple[int, ...]) -> bool:
    """Whether a tone between two points may be the junction of one of these joints, the other point being ground."""
    return any(point in joints for point in points) and any(board.net_of[point].role == GROUND for point in points)
