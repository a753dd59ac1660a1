"""The touches still needed as a paper form: numbered boxes to tick, grouped by the point where one lead stays."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from itertools import groupby
from textwrap import wrap

from connector_check.analysis.obligations import obligations
from connector_check.analysis.result import Result
from connector_check.board.board import Board
from connector_check.files.text import columns, neutral, padded
from connector_check.probing.meter_words import hold_words, range_words
from connector_check.probing.planner import Plan, Touch, expects_beep
from connector_check.renderers.text import doubt_words, verdict_words
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.rows import COLUMNS

WIDTH = 80
TOUCHES_PER_LEAD_CHECK = 40
LEAD_CHECK = "leads:  [ ] together: sounds   [ ] held apart: silent"
BEFORE_PROBING = (
    "Before probing: unplugged, batteries and coin cell out, capacitors discharged",
    "and measured. Mains and high voltage only by a competent person; local rules.",
)
HOW_TO = (
    "Tick a box when the meter does what the line says. When it does not, or only",
    "chirps, write that beside the box and go on: a silent touch may be a missed one.",
    "When a lead check fails, touch the quiets since the last good one again.",
    "For contact (each must beep) touch the contact's own metal, in the mouth or in a",
    "mated plug, never the pad; far end: a part leg, test pad or via of that track.",
)


def plan_lines(found: Plan, result: Result, board: Board, meter: Meter = UNKNOWN_METER) -> Iterator[str]:
    """The form, at most 80 columns wide as long as the names of points allow.

    result: of the readings so far, for what the touches leave open; meter: for how long to hold a touch, and its range.
    """
    yield f"{board.pin_map.id}, layout {board.layout.id}"
    if result.shorts_only and result.untested:
        yield f"for shorts only: contact of {result.untested} joints is not asked for"
    if not found.touches:
        yield from _nothing_left(result)
        return
    yield f"touches: {len(found.touches)}, lead placements: {found.placements}"
    yield from BEFORE_PROBING
    yield from HOW_TO
    yield from filter(None, (hold_words(meter), range_words(meter)))
    yield ""
    yield LEAD_CHECK
    cells = [f"{n:{len(str(len(found.touches)))}}. [ ] {board.points[t.b]}" for n, t in enumerate(found.touches, 1)]
    width = max(map(columns, cells)) + 2
    per_line = max((WIDTH - 2) // width, 1)
    done = since_check = 0

    free = set(map(frozenset, obligations(board, result.scope).information))

    def group(touch: Touch) -> tuple[int, str]:
        if frozenset((touch.a, touch.b)) in free:
            return touch.a, "note whether it beeps (either is right here)"
        return touch.a, "each must " + ("beep" if expects_beep(board, touch) else "be silent")

    for (held, expected), touches in groupby(found.touches, group):
        left = sum(1 for _ in touches)
        while left:
            if since_check == TOUCHES_PER_LEAD_CHECK or (since_check and since_check + left > TOUCHES_PER_LEAD_CHECK):
                yield LEAD_CHECK
                since_check = 0
            count = min(left, TOUCHES_PER_LEAD_CHECK)
            yield f"hold {board.points[held]}, touch, {expected}:"
            for start in range(done, done + count, per_line):
                row = cells[start : min(start + per_line, done + count)]
                yield "  " + "".join(padded(cell, width) for cell in row).rstrip()
            done += count
            since_check += count
            left -= count
    yield LEAD_CHECK


def wrapped(text: str) -> list[str]:
    """A sentence in lines of the form's width."""
    return wrap(text, WIDTH)


LEADS_TO_TELL = "leads: write 'leads good', 'leads silent' (together no tone) or 'leads sound' (apart a tone)"


def job_csv(board: Board, rows: Iterable[tuple[str, str, str]]) -> str:
    """A job file whose readings are still empty, between two lead checks; rows: two points and a note each."""
    out = io.StringIO()
    out.write(f"# map: {board.pin_map.job_name}\n# layout: {board.layout.id}\n")
    if board.pin_map.variant:
        out.write(f"# variant: {board.pin_map.variant}\n")
    if board.pin_map.told_line:
        out.write(f"# role: {board.pin_map.told_line}\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    leads = ("", "", "", LEADS_TO_TELL)
    table = [leads, *((a, b, "", note) for a, b, note in rows), leads]
    writer.writerows([neutral(cell) for cell in row] for row in table)
    return out.getvalue()


def plan_csv(found: Plan, board: Board) -> str:
    """The touches still needed as a job file whose readings are still empty."""
    return job_csv(board, ((board.points[t.a], board.points[t.b], t.why) for t in found.touches))


def _nothing_left(result: Result) -> Iterator[str]:
    """What is said when no touch is planned: the verdict, and what else would be measured."""
    yield f"nothing left to touch in this scope; {verdict_words(result)}"
    if result.doubt and doubt_words(result.doubt):
        yield doubt_words(result.doubt)
