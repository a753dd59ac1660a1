"""What is said aloud of an answer: that it was taken, what is surprising about it, that the leads failed. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from connector_check.board.board import Board
from connector_check.board.ohms import BRIDGE_OHMS, NEAR_ZERO_OHMS, NEAR_ZERO_VOLTS
from connector_check.probing.speech import point_words, spell
from connector_check.probing.steps import CAUTIONS_SEEN
from connector_check.probing.sweep import COUNTS_UP
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import (
    BEEP,
    LEADS_BAD,
    LEADS_SILENT,
    LEADS_SOUND,
    OHMS,
    READINGS,
    REMARK,
    REWORKED,
    SILENT,
    VOLTS,
    Entry,
)

_FAILED = {
    LEADS_BAD: "lead check failed",
    LEADS_SILENT: "lead check failed, no tone together",
    LEADS_SOUND: "lead check failed, a tone apart",
}
_SOLDER_UNDER = {OHMS: (BRIDGE_OHMS, BRIDGE_OHMS), VOLTS: (NEAR_ZERO_VOLTS, NEAR_ZERO_OHMS)}
"""The value under which a reading says solder, and the ohms over which a part by design would not read so."""
_TOLD = 3
"""More surprises of one sweep are counted, not named."""


def answer_words(board: Board, meter: Meter, entries: Sequence[Entry]) -> str:
    """What is said once these entries, made of one answer, are on disk: what surprises, else what was taken."""
    surprises = [f"{what}, {_pair(board, entry)}" for entry in entries if (what := surprise(board, meter, entry))]
    if surprises:
        more = len(surprises) - _TOLD
        return "; ".join(surprises[:_TOLD]) + (f"; and {more} more" if more > 0 else "")
    if not entries:
        return ""
    readings = sum(entry.kind in READINGS for entry in entries)
    return f"{readings} taken" if readings > 1 else _taken(board, entries[-1])


def surprise(board: Board, meter: Meter, entry: Entry) -> str:
    """What a sound board would not read: a tone, solder ohms or volts near 0 where no part joins two nets that must be
    apart, silence or volts inside one net; else "".
    """
    if entry.kind not in READINGS:
        return ""
    a, b = (board.net_of[point] for point in entry.points)
    if a is b and board.must_reach(a):
        if entry.kind in SILENT:
            return "unexpected silence"
        junction = entry.kind == VOLTS and entry.ohms is not None and entry.ohms >= NEAR_ZERO_VOLTS
        return f"unexpected {_value(entry)}" if junction else ""
    if not board.must_be_apart(a, b):
        return ""
    part = board.design_ohms(a.name, b.name)
    if entry.kind == BEEP and (part is None or part.low > meter.silent_above):
        return "unexpected tone"
    value_limit, part_limit = _SOLDER_UNDER.get(entry.kind, (0.0, 0.0))
    solder = entry.ohms is not None and entry.ohms < value_limit
    return f"unexpected {_value(entry)}" if solder and (part is None or part.low > part_limit) else ""


def _pair(board: Board, entry: Entry) -> str:
    a, b = entry.points
    return f"{point_words(board, b)}; and {point_words(board, a)}"


def _value(entry: Entry) -> str:
    unit = "volts" if entry.kind == VOLTS else "ohm"
    return "over range" if entry.ohms == inf else f"{entry.ohms:g} {unit}"


def _taken(board: Board, entry: Entry) -> str:
    if entry.kind in (OHMS, VOLTS):
        return _value(entry)
    if entry.kind == REWORKED:
        return f"reworked {'; '.join(spell(board.points[point]) for point in entry.points)}"
    if entry.kind == REMARK:
        return {CAUTIONS_SEEN: "", COUNTS_UP: "wait, it counts up"}.get(entry.note, "remark taken")
    return _FAILED.get(entry.kind, entry.kind)
