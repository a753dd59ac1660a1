"""What one reading means between two points: it joins, it parts, or neither, and why. Pure."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

from connector_check.board.board import Board
from connector_check.board.ohms import BRIDGE_OHMS, LEAK_OHMS, NEAR_ZERO_OHMS, NEAR_ZERO_VOLTS, margin
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import BEEP, OHMS, SEEN_CLEAR, SILENT, VOLTS, Entry

JOINS, PARTS, DOUBTFUL, PART, LEAK, RESISTIVE, NOTHING = (
    "joins",
    "parts",
    "doubtful",
    "part",
    "leak",
    "resistive",
    "nothing",
)
UNSETTLED = (DOUBTFUL, PART, LEAK, RESISTIVE)
"""Neither joined nor apart: something is still to be measured, looked at or mended there."""

ALWAYS_PARTS = frozenset((*SILENT, SEEN_CLEAR))
"""Kinds of readings that exclude solder, whatever they show."""

Floor = Callable[[int, int], float]
"""The least ohms that parts, with links not yet excluded, can show between two points that are not linked (T8)."""


def is_near_zero(entry: Entry) -> bool:
    """Whether a reading is one of diode mode that no junction could make."""
    return entry.kind == VOLTS and entry.ohms is not None and entry.ohms < NEAR_ZERO_VOLTS


def conducts(entry: Entry) -> bool:
    """Whether a reading shows that current flowed through the leads: a tone, or volts of a junction or of less."""
    return entry.kind == BEEP or (entry.kind == VOLTS and entry.ohms != inf)


def excludes_solder(entry: Entry) -> bool:
    """Whether a reading parts its points by itself, without a look at the parts: silence, a pair seen clear, and volts
    in diode mode that solder could not show.
    """
    return entry.kind in ALWAYS_PARTS or (entry.kind == VOLTS and not is_near_zero(entry))


def net_ohms(entry: Entry, leads_ohms: float) -> float | None:
    """Ohms of a reading without the leads' own; infinite for OL, None for readings that are no ohms."""
    if entry.kind != OHMS:
        return None
    return max((entry.ohms if entry.ohms is not None else inf) - leads_ohms, 0.0)


def judge(board: Board, meter: Meter, entry: Entry, floor: Floor, ohms: float | None = None) -> str:
    """What one reading means.

    JOINS, PARTS, DOUBTFUL (a beep that parts may carry), PART (ohms that parts may show and that do not tell them from
    solder), LEAK, RESISTIVE or NOTHING. floor: see `Floor`; ohms: of an ohms reading, the leads' own taken off.

    A quiet, a pair seen clear, and volts of a junction (or OL) always exclude solder. Volts near zero say what a tone
    says, with fewer ohms. A beep joins where no parts could have carried it, and so do
    ohms under the bridge limit. Ohms inside a part's range are the part, and show the pair apart where that range lies
    well above the limit. What no part explains is apart from LEAK_OHMS up; under it a leak, or a resistive joint where
    the two must join.
    """
    kind = entry.kind
    if excludes_solder(entry):
        return PARTS
    a, b = entry.points
    if kind in (BEEP, VOLTS):
        most = meter.silent_above if kind == BEEP else NEAR_ZERO_OHMS
        return JOINS if floor(a, b) > most else DOUBTFUL
    if kind != OHMS:
        return NOTHING
    assert ohms is not None, "an ohms reading has ohms"
    return _judge_ohms(board, ohms, (a, b), floor)


def _judge_ohms(board: Board, ohms: float, pair: tuple[int, int], floor: Floor) -> str:
    net_a, net_b = board.net_of[pair[0]], board.net_of[pair[1]]
    part = board.design_ohms(net_a.name, net_b.name)
    if ohms < BRIDGE_OHMS and ohms + margin(ohms) < floor(*pair):
        return JOINS
    if part and part.reads_as(ohms):
        return PARTS if part.tells_from_solder else PART
    if ohms < BRIDGE_OHMS:
        return PART
    if ohms >= LEAK_OHMS:
        return PARTS
    if board.must_be_apart(net_a, net_b):
        return LEAK
    return RESISTIVE if net_a is net_b and board.must_reach(net_a) else NOTHING
