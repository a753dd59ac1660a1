"""The demo: the whole job on the shipped example, round by round, with a line of explanation before each step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from connector_check.job import check, load_job
from connector_check.pinout.library import shipped_folder
from connector_check.renderers.text import VERDICT_MARK, result_lines, rework_lines, search_words, verdict_words
from connector_check.testlog.readings import REWORKED

EXAMPLE = "village-workshop-vga.csv"


def demo_lines() -> Iterator[str]:
    """The demo's text, line by line."""
    path = shipped_folder("examples") / EXAMPLE
    job = load_job(str(path))
    first = next(i for i, entry in enumerate(job.entries) if entry.kind == REWORKED)
    before = check(replace(job, entries=job.entries[:first]))
    after = check(job)

    yield "The village repair workshop has put a new VGA socket into the projector of the village hall."
    yield f"What the meter said, pair by pair, is in {EXAMPLE}; the file names the pin map {job.board.pin_map.id}."
    yield ""
    yield f"--- Round 1: {before.record.standing} readings. A beep between grounds is harmless, one between supply"
    yield "    and ground is not, and one over a 75 ohm termination proves nothing until ohms are read. Each"
    yield "    contact is touched in the mouth, against a point of its track behind the joint."
    yield ""
    for line, _ in result_lines(before):
        if line.startswith("REWORK LIST"):
            break
        yield line
    yield "--- The rework list, in the order the iron travels:"
    yield ""
    yield from rework_lines(before.rework)
    yield ""
    yield "--- Round 2: joints 8, 9, 10 and 13 were reworked. Readings that the heat could have changed went stale"
    yield f"    ({after.record.stale} of them); the rest still stands, and only the stale pairs were probed again."
    yield "    A tone may run through a bridge and a termination too: ohms at 6, 7 and 8 rule that out."
    yield ""
    yield f"{VERDICT_MARK[after.verdict]} {verdict_words(after)}"
    yield f"    {search_words(after)}"
    ledger = after.ledger
    yield (
        f"proven: joins {ledger.joins.proven} of {ledger.joins.needed}, "
        f"contact of other joints {ledger.contacts.proven} of {ledger.contacts.needed}, "
        f"isolation {ledger.isolation.proven} of {ledger.isolation.needed}; not in scope: {ledger.not_in_scope} pairs"
    )
    for assumption in after.assumptions:
        yield f"assumed: {assumption}"
    yield ""
    yield f"Your own job: connector-check maps, then connector-check check JOB.csv. This example: {path}"
