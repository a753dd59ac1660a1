"""The job file: one CSV that a spreadsheet and the program can both write.

`pin_a,pin_b,reading,note` (more columns are allowed and left alone), before it optional lines `# map: ID`,
`# layout: ID`, `# variant: ID`, `# meter: 10 250` or `# meter: FILE`, `# board: NAME`, `# date: 2026-11-25`, and any
number of `# role: 1=power 5, 2=ground`. Order is time.
"""

from __future__ import annotations

import csv
import io
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from connector_check.board.board import Board
from connector_check.errors import InputError, Problem
from connector_check.files.reading import read_capped
from connector_check.files.text import decode as text_of
from connector_check.files.text import delimiter_of
from connector_check.testlog.meter import Meter
from connector_check.testlog.meter_file import read_meter, told_meter
from connector_check.testlog.readings import Entry
from connector_check.testlog.rows import RowReader, columns_of, is_heading, is_remark

MAX_BYTES = 64 * 1024 * 1024
HEADERS = ("map", "layout", "variant", "meter", "board", "date")
ROLE = "role"
"""The header line that may come several times."""
_HEADER = re.compile(r"#\s*([A-Za-z][A-Za-z ]*?)\s*:\s*(.*)\Z")


@dataclass(frozen=True)
class JobText:
    """A job file's text, decoded, with its header lines and the line of each.

    roles: each `# role:` line as its line and text; in `header` they are one.
    """

    file: str
    text: str
    header: dict[str, str]
    header_lines: dict[str, int]
    delimiter: str
    roles: tuple[tuple[int, str], ...] = ()


def read_text(name: str) -> JobText:
    """Read a job file (`-` is standard input) and its header lines. Raises InputError."""
    file = "standard input" if name == "-" else name
    raw = sys.stdin.buffer.read(MAX_BYTES + 1) if name == "-" else read_capped(name, file, MAX_BYTES)
    return decode(raw, file)


def decode(raw: bytes, file: str) -> JobText:
    """Job text from bytes, see `files.text.decode`, with its header lines."""
    text = text_of(raw, file, MAX_BYTES, "a job holds one connector; is this the right file?")
    header: dict[str, str] = {}
    lines: dict[str, int] = {}
    roles: list[tuple[int, str]] = []
    for line, key, told in _header(text):
        if key == ROLE:
            roles.append((line, told))
        elif key in HEADERS and key not in header:
            header[key], lines[key] = told, line
    if roles:
        header[ROLE], lines[ROLE] = ", ".join(told for _, told in roles), roles[0][0]
    return JobText(file, text, header, lines, delimiter_of(text), tuple(roles))


def _header(text: str) -> Iterator[tuple[int, str, str]]:
    """The header lines: line, name in small letters, and what it says."""
    for number, line in enumerate(io.StringIO(text), 1):
        stripped = line.strip().strip(",;\t").strip('"').strip(",;\t ").lstrip("'")
        if not stripped:
            continue
        if not stripped.startswith("#"):
            break
        match = _HEADER.match(stripped)
        if match:
            yield number, match[1].lower(), match[2].strip()


def parse(job: JobText, board: Board) -> list[Entry]:
    """The entries of a job. Raises InputError with every problem at once."""
    reader = RowReader(board, job.file, delimiter=job.delimiter)
    entries: list[Entry] = []
    rows = csv.reader(io.StringIO(job.text, newline=""), delimiter=job.delimiter)
    started = False
    last = 0
    try:
        for cells in rows:
            line, last = last + 1, rows.line_num
            if not cells or not any(cells) or is_remark(cells):
                reader.problems += _late_role(cells, job.file, line) if started else []
                continue
            if not started:
                started = True
                if is_heading(cells):
                    reader.columns, reader.width = columns_of(cells, job.file, line), len(cells)
                    continue
            entry = reader.read(line, cells)
            if entry is not None:
                entries.append(entry)
    except csv.Error as error:
        what = f"not readable as CSV ({error})"
        reader.problems.append(Problem(job.file, rows.line_num, what, "check the quotes on this line"))
    if reader.problems:
        raise InputError(reader.problems)
    if not started:
        raise InputError.one(job.file, 0, "no readings", "a job has lines 'pin_a,pin_b,reading', say '1,2,quiet'")
    return entries


def _late_role(cells: list[str], file: str, line: int) -> list[Problem]:
    """The problem of a role that is told after readings were taken, when it can no longer have its say."""
    match = _HEADER.match(cells[0].strip()) if cells else None
    if match is None or match[1].lower() != ROLE:
        return []
    return [Problem(file, line, "a role below the heading or a reading", "move this line up to the other '#' lines")]


def meter_of(job: JobText, given: str = "") -> Meter:
    """The meter that a job is judged with: the given one, else that of its line `# meter: 10 250` (or a meter file,
    relative to the job), else the user's own, else the unknown one with the careful default.

    given: two ohms or a meter file, as `--meter` has it. Raises InputError.
    """
    text = job.header.get("meter", "")
    if given or not text:
        return told_meter(given)
    place = job.file, job.header_lines["meter"]
    return read_meter(text, "the job's '# meter:' line", Path(job.file).parent, place)
