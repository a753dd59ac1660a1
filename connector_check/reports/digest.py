"""One job as rows of the tables over many: verdicts, faults of every round, findings that came back, minutes. Pure."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from connector_check.analysis.examine import Settings, examine
from connector_check.analysis.opens import find_opens
from connector_check.analysis.replay import STALE, TAKEN, VOID, replay
from connector_check.analysis.result import CLEAR, UNPROVEN, Short
from connector_check.analysis.shorts import find_shorts
from connector_check.board.board import NEAR
from connector_check.board.harm import DAMAGE, DEAD_SIGNAL, GRADES, HARMFUL, NOTE, SUPPLY_SHORT
from connector_check.errors import Problem
from connector_check.testlog.job import Job
from connector_check.testlog.jobfile import JobText
from connector_check.testlog.readings import READINGS

PAUSE = timedelta(minutes=30)
"""Assumed: a longer step between two timed entries is a break and does not count as time on the job."""

PASSED, FAILED, UNDECIDED = "yes", "no", "undecided"
BRIDGE, OPEN = "bridge", "open"
SHORT_COLUMN = {
    DAMAGE: "shorts_damage",
    SUPPLY_SHORT: "shorts_supply",
    DEAD_SIGNAL: "shorts_dead_signal",
    NOTE: "shorts_note",
}


@dataclass
class _Sighting:
    """A finding followed through the rounds. heated: the line of the last rework at its joints, 0 when there was none
    since it was seen last; back: the names it had in common with itself when it was found again.
    """

    kind: str
    names: frozenset[str]
    harm: str
    joints: set[str]
    heated: int = 0
    times: int = 0
    back: frozenset[str] = frozenset()

    def label(self) -> str:
        return f"{self.kind} {' + '.join(sorted(self.back or self.names))}"


@dataclass
class Digest:
    """One job's rows of the three tables."""

    job: dict[str, Any]
    faults: list[tuple[Any, ...]] = field(default_factory=list)
    again: list[tuple[Any, ...]] = field(default_factory=list)
    remarks: list[Problem] = field(default_factory=list)


def digest_job(name: str, job: Job, scope: str = NEAR) -> Digest:
    """One job as table rows: the whole job's verdict and counts, the first round's verdict, every round's faults."""
    board, entries = job.board, job.entries
    whole = replay(board, entries, job.meter, scope)
    sightings: list[_Sighting] = []
    shares: dict[tuple[str, str], tuple[int, float]] = {}
    first = last = ""
    for number, rework in enumerate([*whole.reworks, None], 1):
        standing = replay(board, entries[: rework.start], job.meter, scope) if rework else whole
        if number == 1 or rework is None:
            part = replace(job, entries=entries[: rework.start] if rework else entries)
            last = examine(part, Settings(scope)).result.verdict
        first = first or last
        shorts, opens = find_shorts(standing), find_opens(standing)
        seen = [_Sighting(BRIDGE, frozenset(s.nets), s.harm, _site_joints(s)) for s in shorts]
        seen += [_Sighting(OPEN, frozenset([o.joint]), OPEN, {o.joint}) for o in opens]
        _follow(sightings, seen, [s.readings for s in shorts] + [o.readings for o in opens])
        for kind, joint, share in _faults(shorts, (o.joint for o in opens)):
            since, most = shares.get((kind, joint), (number, 0.0))
            shares[kind, joint] = since, max(most, share)
        if rework:
            heated = {board.points[p] for p in rework.heated}
            for sighting in sightings:
                if not sighting.joints.isdisjoint(heated):
                    sighting.heated = rework.line
    again = [s for s in sightings if s.times]
    key = (name, board.pin_map.id, board.layout.id)
    row: dict[str, Any] = {
        "file": name,
        "map": key[1],
        "variant": board.pin_map.variant,
        "layout": key[2],
        "verdict": last,
        "first_verdict": first,
        "first_pass": first_pass(first, bool(whole.reworks)),
        "rounds": whole.rounds,
        "touches": sum(1 for e in entries if e.kind in READINGS),
        "stale": whole.count(STALE, VOID),
        "taken_back": whole.count(TAKEN),
        "lead_checks_good": whole.lead_checks.count(True),
        "lead_checks_bad": whole.lead_checks.count(False),
        "opens": sum(1 for s in sightings if s.kind == OPEN),
        "bridged": " ".join(joint for kind, joint in shares if kind == BRIDGE),
        "opened": " ".join(joint for kind, joint in shares if kind == OPEN),
        "found_again": "; ".join(s.label() for s in again),
        "minutes": None,
    }
    for harm, column in SHORT_COLUMN.items():
        row[column] = sum(1 for s in sightings if s.harm == harm)
    return Digest(
        row,
        [(*key, kind, joint, since, share) for (kind, joint), (since, share) in shares.items()],
        [(*key, s.label(), s.times) for s in again],
    )


def first_pass(first_verdict: str, was_reworked: bool) -> str:
    """Whether the first round ended clear. Undecided: it proved neither, and no iron came after it."""
    if first_verdict == CLEAR:
        return PASSED
    return UNDECIDED if first_verdict == UNPROVEN and not was_reworked else FAILED


def _site_joints(short: Short) -> set[str]:
    return {joint for site in short.sites for pair in site.places for joint in pair}


def _faults(shorts: Iterable[Short], opened: Iterable[str]) -> Iterator[tuple[str, str, float]]:
    """Joints of the likeliest sites of harmful shorts, each of n equally likely pairs counting 1/n; the open joints."""
    shares: dict[str, float] = {}
    for short in shorts:
        if short.harm in HARMFUL:
            for site in short.sites:
                pairs = (site.joints, *site.alternatives)
                for joint in (joint for pair in pairs for joint in pair):
                    shares[joint] = shares.get(joint, 0.0) + 1 / len(pairs)
    yield from ((BRIDGE, joint, min(share, 1.0)) for joint, share in shares.items())
    yield from ((OPEN, joint, 1.0) for joint in opened)


def _follow(known: list[_Sighting], seen: list[_Sighting], readings: list[tuple[int, ...]]) -> None:
    """Match the findings of a round with those of earlier rounds: an open by its joint, a short by two nets in common.

    A finding counts as found again when a reading made after the iron was at its joints carries it.
    """
    earlier = list(known)
    for sighting, lines in zip(seen, readings, strict=True):
        common = 2 if sighting.kind == BRIDGE else 1
        match = next(
            (old for old in earlier if old.kind == sighting.kind and len(old.names & sighting.names) >= common), None
        )
        if match is None:
            known.append(sighting)
            continue
        if match.heated and any(line > match.heated for line in lines):
            match.times += 1
            match.back = match.names & sighting.names
            match.heated = 0
        match.joints |= sighting.joints
        if sighting.kind == BRIDGE and GRADES.index(sighting.harm) < GRADES.index(match.harm):
            match.harm = sighting.harm


def minutes(text: JobText) -> tuple[float | None, list[Problem]]:
    """Minutes on the job from its column `time` (ISO 8601), breaks longer than PAUSE left out, and what was unreadable.

    None when fewer than two entries carry a time.
    """
    rows = csv.reader(io.StringIO(text.text, newline=""), delimiter=text.delimiter)
    column, last = -1, 0
    times: list[datetime] = []
    bad: list[tuple[int, str]] = []
    for row in rows:
        line, last = last + 1, rows.line_num
        if not any(row) or row[0].lstrip(" '\"").startswith("#"):
            continue
        if column < 0:
            names = [cell.strip().lower() for cell in row]
            if "reading" not in names or "time" not in names:
                return None, []
            column = names.index("time")
            continue
        cell = row[column].strip().lstrip("'") if column < len(row) else ""
        if not cell:
            continue
        try:
            when = datetime.fromisoformat(cell)
        except ValueError:
            bad.append((line, cell))
            continue
        if times and (when.tzinfo is None) != (times[0].tzinfo is None):
            bad.append((line, cell))
        else:
            times.append(when)
    remarks = []
    if bad:
        line, cell = bad[0]
        more = f" (and {len(bad) - 1} more)" if len(bad) > 1 else ""
        remarks.append(
            Problem(
                text.file,
                line,
                f"time '{cell[:40]}' does not count{more}",
                "expected ISO times, all with or all without a zone: 2031-05-04T10:15:00",
            )
        )
    if len(times) < 2:
        return None, remarks
    steps = [b - a for a, b in pairwise(times)]
    spent = sum((step for step in steps if timedelta(0) < step <= PAUSE), timedelta(0))
    return round(spent.total_seconds() / 60, 2), remarks
