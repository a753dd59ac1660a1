"""Many job files as one record: how often the first round was clear, what bridges or opens, what comes back, time.

`read_history` reads a folder; `summarise` counts. Files that cannot be read are listed, never fatal.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from connector_check.board.board import NEAR, Board
from connector_check.errors import InputError, Problem
from connector_check.job import load_job
from connector_check.reports.digest import Digest, digest_job, minutes
from connector_check.testlog.job import Job
from connector_check.testlog.jobfile import JobText, meter_of, parse, read_text

if TYPE_CHECKING:
    import pandas as pd

JOB_COLUMNS = (
    "file",
    "map",
    "variant",
    "layout",
    "verdict",
    "first_verdict",
    "first_pass",
    "rounds",
    "touches",
    "stale",
    "taken_back",
    "lead_checks_good",
    "lead_checks_bad",
    "shorts_damage",
    "shorts_supply",
    "shorts_dead_signal",
    "shorts_note",
    "opens",
    "bridged",
    "opened",
    "found_again",
    "minutes",
)
FAULT_COLUMNS = ("file", "map", "layout", "kind", "joint", "round", "share")
AGAIN_COLUMNS = ("file", "map", "layout", "finding", "times")


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
    digests = [found for found in done if isinstance(found, Digest)]
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


def _in_processes(root: Path, names: Sequence[str], scope: str, workers: int) -> list[Digest | BrokenFile]:
    """The same as `_read_all`, in order, spread over processes; each keeps boards of its own."""
    from concurrent.futures import ProcessPoolExecutor

    size = max(1, min(500, -(-len(names) // workers)))
    chunks = [names[start : start + size] for start in range(0, len(names), size)]
    with ProcessPoolExecutor(workers) as pool:
        parts = pool.map(_read_all, [root] * len(chunks), chunks, [scope] * len(chunks))
        return [found for part in parts for found in part]


def _read_all(root: Path, names: Sequence[str], scope: str) -> list[Digest | BrokenFile]:
    reader = _Reader(scope)
    done: list[Digest | BrokenFile] = []
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
        self.refused: dict[tuple[Any, ...], tuple[str, str, str]] = {}

    def digest(self, path: Path, name: str) -> Digest:
        if not path.is_file():
            raise InputError.one(str(path), 0, "not a file", "remove the link, or name a real job file")
        text = read_text(str(path))
        job = self.job(path, text)
        made = digest_job(name, job, self.scope)
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
