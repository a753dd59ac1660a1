"""What the session says of the meter: how long to hold a touch, its range, and what knowing it would save. Pure."""

from __future__ import annotations

from math import inf

from connector_check.analysis.meaning import DOUBTFUL, PART
from connector_check.analysis.obligations import Pair
from connector_check.analysis.reach import part_links
from connector_check.analysis.stale import heard
from connector_check.board.board import NEAR, Board
from connector_check.probing.planner import next_touch
from connector_check.probing.progress import Progress
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.readings import BEEP, OHMS, QUIET, SEEN_CLEAR, Entry

KNOWN_METER = Meter(10, 50)
"""What an unknown meter is compared with: silent above 50 ohm, as the manual of the MT-1708 prints (p.12); the UT61B's
prints 35 (p.12)."""


def hold_words(meter: Meter) -> str:
    """How long to hold each touch, or "" where that is not known."""
    if not meter.hold_seconds:
        return ""
    return f"hold each touch for {meter.hold_seconds:.2g} s: this meter needs {meter.latency_ms:g} ms to sound"


def range_words(meter: Meter) -> str:
    """The range to be in, where this meter sounds in another one on what is no solder; else ""."""
    return "use the continuity range: in diode mode this meter sounds on a junction" if meter.beeps_on_junction else ""


def ohms_asked(board: Board, meter: Meter, scope: str = NEAR, shorts_only: bool = False) -> int:
    """How many ohms the plan makes necessary on a sound board, where this meter sounds on every part it may sound on.

    The whole plan is gone through, each answer taken in before the next. What tells a bad board that reads the same
    comes after the plan and is not counted.
    """
    progress = Progress(board, [], scope, shorts_only, meter=meter)
    asked: set[Pair] = set()
    looked_at: set[Pair] = set()
    touched: set[Pair] = set()
    while True:
        doubtful = _unsettled(progress, DOUBTFUL) - asked
        look = _unsettled(progress, PART) - looked_at
        if doubtful:
            pair = min(doubtful)
            asked.add(pair)
            answer = _sound_answer(board, meter, pair, ohms=True)
        elif look:
            pair = min(look)
            looked_at.add(pair)
            answer = Entry(0, SEEN_CLEAR, pair)
        else:
            args = (board, progress.known, progress.needed, progress.contacts_wanted(), progress.held)
            progress.planned, touch = next_touch(progress.planned, *args)
            if touch is None or (touch.a, touch.b) in touched:
                return len(asked)
            pair = touch.a, touch.b
            touched.add(pair)
            answer = _sound_answer(board, meter, pair)
        progress.learn([answer], pair, again=False)


def _unsettled(progress: Progress, meaning: str) -> set[Pair]:
    return {(r.entry.points[0], r.entry.points[1]) for r in progress.standing.unsettled_as(meaning)}


def _sound_answer(board: Board, meter: Meter, pair: Pair, ohms: bool = False) -> Entry:
    """What a sound board answers to a touch, or to a measurement in ohms."""
    a, b = (board.net_of[point] for point in pair)
    part = board.design_ohms(a.name, b.name)
    joined = a is b or board.tied(a, b)
    if ohms:
        return Entry(0, OHMS, pair, 0.0 if joined else inf if part is None else (part.low + part.high) / 2)
    return Entry(0, BEEP if joined or (part is not None and part.low <= meter.silent_above) else QUIET, pair)


def saving_words(board: Board, meter: Meter, scope: str = NEAR, shorts_only: bool = False) -> str:
    """What it would save to know the meter, or "" where it is known or nothing is saved."""
    # going through two plans is felt at the start, and in vain where no meter can hear a part
    if not meter.is_unknown or not heard(part_links(board)):
        return ""
    now, then = (ohms_asked(board, one, scope, shorts_only) for one in (UNKNOWN_METER, KNOWN_METER))
    if then >= now:
        return ""
    known = f"one that is silent above {KNOWN_METER.silent_above:g} ohm"
    return (
        f"parts by design may make a meter sound here: the plan needs ohms {now} times with an unknown one, {then} "
        f"times with {known}; meter-test finds yours with two or three resistors"
    )
