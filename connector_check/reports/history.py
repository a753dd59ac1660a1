"""Many job files as one record: how often the first round was clear, what bridges or opens, what comes back, time a job.

`read_history` reads a folder; `summarise` counts. Files that cannot be read are listed, never fatal.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from connector_check.analysis.obligations import Obligations, obligations
from connector_check.analysis.opens import find_opens
from connector_check.analysis.replay import STALE, TAKEN, VOID, replay
from connector_check.analysis.result import CLEAR, UNPROVEN, Short
from connector_check.analysis.shorts import find_shorts
from connector_check.analysis.verdict import verdict
from connector_check.board.board import NEAR, Board
from connector_check.board.harm import DAMAGE, DEAD_SIGNAL, GRADES, HARMFUL, NOTE, SUPPLY_SHORT
from connector_check.errors import InputError, Problem
from connector_check.job import load_job
from connector_check.testlog.job import Job
from connector_check.testlog.jobfile import JobText, meter_of, parse, read_text
from connector_check.testlog.readings import READINGS

if TYPE_CHECKING:
    import pandas as pd

PAUSE = timedelta(minutes=30)
"""Assumed: a longer step between two timed entries is a break and does not count as time on the job."""

PASSED, FAILED, UNDECIDED = "yes", "no", "undecided"
BRIDGE, OPEN = "bridge", "open"
JOB_COLUMNS = (
    "file", "map", "variant", "layout", "verdict", "first_verdict", "first_pass", "rounds", "touches", "stale",
    "taken_back", "lead_checks_good", "lead_checks_bad", "shorts_damage", "shorts_supply", "shorts_dead_signal",
    "shorts_note", "opens", "bridged", "opened", "found_again", "minutes",
)  # fmt: skip
SHORT_COLUMN = {DAMAGE: "shorts_damage", SUPPLY_SHORT: "shorts_supply", DEAD_SIGNAL: "shorts_dead_signal",
                NOTE: "shorts_note"}  # fmt: skip
FAULT_COLUMNS = ("file", "map", "layout", "kind", "joint", "round", "share")
AGAIN_COLUMNS = ("file", "map", "layout", "finding", "times")
GROUP = ["map", "layout"]


class BrokenFile(NamedTuple):
    """A file that could not be read as a job, and why."""

    file: str
    problems: tuple[Problem, ...]


@dataclass
class History:
    """What a folder of jobs amounts to.

    jobs: one row a job (JOB_COLUMNS). faults: one row for each joint that bridged harmfully or opened in a job
    (FAULT_COLUMNS); round: where it was found first; share: 1, or 1/n where one of n pairs is as likely as the others.
    again: findings seen once more after the iron was at their joints (AGAIN_COLUMNS). broken: files left out.
    remarks: what could not be used in files that were read.
    """

    folder: str
    scope: str
    jobs: pd.DataFrame
    faults: pd.DataFrame
    again: pd.DataFrame
    broken: list[BrokenFile]
    remarks: list[Problem]


@dataclass
class Summary:
    """The counts over a history, as tables by connector (`map`) and `layout`.

    first_pass: jobs, decided, passed, yield_percent; effort: mean and most touches and rounds, stale readings;
    joints: kind, joint, jobs, of_jobs, share; again: finding, jobs, times; time: timed jobs, minutes.
    """

    files: int
    jobs: int
    first_pass: pd.DataFrame
    effort: pd.DataFrame
    joints: pd.DataFrame
    again: pd.DataFrame
    time: pd.DataFrame


@dataclass
class _Sighting:
    """A finding followed through the rounds. heated: the line of the last rework at its joints, 0 when there was none
    since it was seen last; back: the names it had in common with itself when it was found again."""

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
class _Digest:
    """One job's rows of the three tables."""

    job: dict[str, Any]
    faults: list[tuple[Any, ...]] = field(default_factory=list)
    again: list[tuple[Any, ...]] = field(default_factory=list)
    remarks: list[Problem] = field(default_factory=list)


def read_history(folder: str | Path, scope: str = NEAR, workers: int = 1) -> History:
    """Read every `.csv` under a folder, subfolders included (links to folders are not followed), as a job.

    scope: which pairs a verdict needs proven; workers: processes to read with. Raises InputError when the folder cannot
    be read or holds no such file.
    """
    import pandas as pd

    root = Path(folder)
    names, unread = _job_files(root)
    if workers > 1 and len(names) > 1:
        done = _in_processes(root, names, scope, min(workers, len(names)))
    else:
        done = _read_all(root, names, scope)
    digests = [found for found in done if isinstance(found, _Digest)]
    broken = unread + [found for found in done if isinstance(found, BrokenFile)]
    jobs = pd.DataFrame([d.job for d in digests], columns=list(JOB_COLUMNS))
    jobs["minutes"] = jobs["minutes"].astype("float64")
    return History(
        folder=str(folder),
        scope=scope,
        jobs=jobs,
        faults=pd.DataFrame([row for d in digests for row in d.faults], columns=list(FAULT_COLUMNS)),
        again=pd.DataFrame([row for d in digests for row in d.again], columns=list(AGAIN_COLUMNS)),
        broken=broken,
        remarks=[problem for d in digests for problem in d.remarks],
    )


def _job_files(root: Path) -> tuple[list[str], list[BrokenFile]]:
    if not root.is_dir():
        what = "is a file" if root.exists() else "no such folder"
        raise InputError.one(str(root), 0, what, "name a folder that holds job files")
    unread: list[BrokenFile] = []

    def refused(error: OSError) -> None:
        name = os.path.relpath(error.filename or root, root)
        unread.append(BrokenFile(name, (Problem(name, 0, f"cannot be read ({error.strerror})", "check its rights"),)))

    found = []
    for place, folders, files in os.walk(root, onerror=refused):
        folders.sort()
        found += [os.path.relpath(os.path.join(place, f), root) for f in files if f.lower().endswith(".csv")]
    if not found and not unread:
        raise InputError.one(str(root), 0, "no job files", "job files end in .csv")
    return sorted(found), unread


def _in_processes(root: Path, names: Sequence[str], scope: str, workers: int) -> list[_Digest | BrokenFile]:
    """The same as `_read_all`, in order, spread over processes; each keeps boards of its own."""
    from concurrent.futures import ProcessPoolExecutor

    size = max(1, min(500, -(-len(names) // workers)))
    chunks = [names[start : start + size] for start in range(0, len(names), size)]
    with ProcessPoolExecutor(workers) as pool:
        parts = pool.map(_read_all, [root] * len(chunks), chunks, [scope] * len(chunks))
        return [found for part in parts for found in part]


def _read_all(root: Path, names: Sequence[str], scope: str) -> list[_Digest | BrokenFile]:
    reader = _Reader(scope)
    done: list[_Digest | BrokenFile] = []
    for name in names:
        try:
            done.append(reader.digest(root / name, name))
        except InputError as error:
            whole = str(root / name)
            problems = [Problem(name if p.file == whole else p.file, *_rest(p)) for p in error.problems]
            done.append(BrokenFile(name, tuple(problems)))
    return done


def _rest(problem: Problem) -> tuple[int, str, str]:
    return problem.line, problem.what, problem.remedy


class _Reader:
    """Reads jobs one after the other and keeps each board, and each header that names none, for the next job."""

    def __init__(self, scope: str) -> None:
        self.scope = scope
        self.boards: dict[tuple[Any, ...], Board] = {}
        self.needed: dict[int, Obligations] = {}
        self.refused: dict[tuple[Any, ...], tuple[str, str, str]] = {}

    def digest(self, path: Path, name: str) -> _Digest:
        if not path.is_file():
            raise InputError.one(str(path), 0, "not a file", "remove the link, or name a real job file")
        text = read_text(str(path))
        job = self.job(path, text)
        needed = self.needed.get(id(job.board))
        if needed is None:
            needed = self.needed[id(job.board)] = obligations(job.board, self.scope)
        made = digest_job(name, job, needed, self.scope)
        made.job["minutes"], remarks = minutes(text)
        made.remarks += [Problem(name, *_rest(problem)) for problem in remarks]
        return made

    def job(self, path: Path, text: JobText) -> Job:
        header = {key: value for key, value in text.header.items() if key != "meter"}
        shipped = header.keys() <= {"map", "layout", "variant"} and not header.get("map", "").endswith(
            (".yaml", ".yml")
        )
        key = ("" if shipped else str(path.parent), *sorted(header.items()))
        if key in self.refused:
            place, what, remedy = self.refused[key]
            raise InputError.one(text.file, text.header_lines[place], what, remedy)
        if key in self.boards:
            board = self.boards[key]
            return Job(board, parse(text, board), meter_of(text), text.file, text.header)
        try:
            job = load_job(str(path))
        except InputError as error:
            first = error.problems[0]
            place = next((k for k, line in text.header_lines.items() if line == first.line and k != "meter"), "")
            if len(error.problems) == 1 and first.file == text.file and place:
                self.refused[key] = place, first.what, first.remedy
            raise
        self.boards[key] = job.board
        return job


def digest_job(name: str, job: Job, needed: Obligations, scope: str = NEAR) -> _Digest:
    """One job as table rows: the whole job's verdict and counts, the first round's verdict, the faults of every round."""
    board, entries = job.board, job.entries
    whole = replay(board, entries, job.meter, scope)
    sightings: list[_Sighting] = []
    shares: dict[tuple[str, str], tuple[int, float]] = {}
    first = last = ""
    for number, rework in enumerate([*whole.reworks, None], 1):
        standing = replay(board, entries[: rework.start], job.meter, scope) if rework else whole
        last = verdict(standing, needed, False) if number == 1 or rework is None else last
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
        "file": name, "map": key[1], "variant": board.pin_map.variant, "layout": key[2], "verdict": last,
        "first_verdict": first, "first_pass": first_pass(first, bool(whole.reworks)), "rounds": whole.rounds,
        "touches": sum(1 for e in entries if e.kind in READINGS), "stale": whole.count(STALE, VOID),
        "taken_back": whole.count(TAKEN), "lead_checks_good": whole.lead_checks.count(True),
        "lead_checks_bad": whole.lead_checks.count(False),
        "opens": sum(1 for s in sightings if s.kind == OPEN),
        "bridged": " ".join(joint for kind, joint in shares if kind == BRIDGE),
        "opened": " ".join(joint for kind, joint in shares if kind == OPEN),
        "found_again": "; ".join(s.label() for s in again), "minutes": None,
    }  # fmt: skip
    for harm, column in SHORT_COLUMN.items():
        row[column] = sum(1 for s in sightings if s.harm == harm)
    return _Digest(
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
    return {joint for site in short.sites for pair in (site.joints, *site.alternatives) for joint in pair}


def _faults(shorts: Iterable[Short], opened: Iterable[str]) -> Iterator[tuple[str, str, float]]:
    """Joints of the likeliest sites of harmful shorts, each pair of n equal ones counting 1/n, and the open joints."""
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
        remarks.append(Problem(text.file, line, f"time '{cell[:40]}' does not count{more}",
                               "expected ISO times, all with or all without a zone: 2031-05-04T10:15:00"))  # fmt: skip
    if len(times) < 2:
        return None, remarks
    steps = [b - a for a, b in zip(times, times[1:], strict=False)]
    spent = sum((step for step in steps if timedelta(0) < step <= PAUSE), timedelta(0))
    return round(spent.total_seconds() / 60, 2), remarks


def summarise(history: History) -> Summary:
    """Count a history by connector and layout."""
    jobs = history.jobs
    by = jobs.groupby(GROUP, sort=True)
    table = by.agg(
        jobs=("file", "count"),
        decided=("first_pass", lambda column: int((column != UNDECIDED).sum())),
        passed=("first_pass", lambda column: int((column == PASSED).sum())),
    ).reset_index()
    table["yield_percent"] = (100 * table["passed"] / table["decided"].where(table["decided"] > 0)).round(1)
    effort = by.agg(
        jobs=("file", "count"), touches_mean=("touches", "mean"), touches_most=("touches", "max"),
        rounds_mean=("rounds", "mean"), rounds_most=("rounds", "max"), stale_mean=("stale", "mean"),
    ).reset_index().round(2)  # fmt: skip
    joints = (
        history.faults.groupby([*GROUP, "kind", "joint"], sort=True)
        .agg(jobs=("file", "nunique"), share=("share", "sum"))
        .reset_index()
    )
    joints = joints.merge(table[[*GROUP, "jobs"]].rename(columns={"jobs": "of_jobs"}), on=GROUP, how="left")
    joints["share"] = joints["share"].astype("float64").round(2)
    joints = joints.sort_values(["share", "jobs", *GROUP, "kind", "joint"], ascending=[False, False, *[True] * 4])
    again = (
        history.again.groupby([*GROUP, "finding"], sort=True)
        .agg(jobs=("file", "nunique"), times=("times", "sum"))
        .reset_index()
        .sort_values(["times", *GROUP, "finding"], ascending=[False, True, True, True])
    )
    timed = jobs[jobs["minutes"].notna()].groupby(GROUP, sort=True)
    time = timed.agg(
        timed_jobs=("file", "count"), minutes_median=("minutes", "median"), minutes_mean=("minutes", "mean"),
        minutes_most=("minutes", "max"),
    ).reset_index().round(1)  # fmt: skip
    return Summary(
        files=len(jobs) + len(history.broken), jobs=len(jobs), first_pass=table, effort=effort,
        joints=joints.reset_index(drop=True), again=again.reset_index(drop=True), time=time,
    )  # fmt: skip
