"""What one reading means between two points: it joins, it parts, or neither, and why. Pure."""

from __future__ import annotations

from math import inf

from connector_check.board.board import Board
from connector_check.testlog.meter import BRIDGE_OHMS, Meter
from connector_check.testlog.readings import BEEP, CHIRP, OHMS, QUIET, Entry

JOINS, PARTS, DOUBTFUL, LEAK, RESISTIVE, NOTHING = "joins", "parts", "doubtful", "leak", "resistive", "nothing"
UNSETTLED = (DOUBTFUL, LEAK, RESISTIVE)
"""Neither joined nor apart: something is still to be measured or mended there."""


def net_ohms(entry: Entry, leads_ohms: float) -> float | None:
    """Ohms of a reading without the leads' own; infinite for OL, None for readings that are no ohms."""
    if entry.kind != OHMS:
        return None
    return max((entry.ohms if entry.ohms is not None else inf) - leads_ohms, 0.0)


def judge(board: Board, meter: Meter, entry: Entry, ohms: float | None = None) -> str:
    """What one reading means: JOINS, PARTS, DOUBTFUL (a part may have sounded), LEAK, RESISTIVE or NOTHING.

    ohms: of an ohms reading, the leads' own taken off. A quiet always excludes solder. A beep joins, except between
    nets where the parts by design can read at or under `silent_above`. Ohms under the bridge limit join; inside the
    parts' range they are the part; over `silent_above` they part; between, they are a leak, or on one net a resistive
    joint.
    """
    kind = entry.kind
    if kind in (QUIET, CHIRP):
        return PARTS
    if kind not in (BEEP, OHMS):
        return NOTHING
    net_a, net_b = board.net_of[entry.points[0]], board.net_of[entry.points[1]]
    part = board.design_ohms(net_a.name, net_b.name) if net_a is not net_b else None
    if kind == BEEP:
        return DOUBTFUL if part and part.low <= meter.silent_above else JOINS
    if ohms is None:
        ohms = net_ohms(entry, meter.leads_ohms)
        assert ohms is not None, "an ohms reading has ohms"
    if part and part.low <= ohms <= part.high:
        return PARTS
    if ohms < min([BRIDGE_OHMS] + ([part.low] if part else [])):
        return JOINS
    if ohms > meter.silent_above:
        return PARTS
    return LEAK if board.must_be_apart(net_a, net_b) else RESISTIVE
