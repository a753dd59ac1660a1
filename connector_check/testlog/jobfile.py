"""The job file: one CSV that a spreadsheet and the program can both write.

`pin_a,pin_b,reading,note` (more columns are allowed and left alone), before it optional lines `# map: ID`,
`# layout: ID`, `# variant: ID`, `# meter: 10 250`, `# board: NAME`, `# date: 2026-11-25`. Order is time.
"""

from __future__ import annotations

import csv
import io
import re
import sys
from dataclasses import dataclass

from connector_check.board.board import Board
from connector_check.errors import InputError, Problem
from connector_check.files.reading import read_capped
from connector_check.files.text import decode as text_of
from connector_check.files.text import delimiter_of
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.meter_file import parse_meter
from connector_check.testlog.readings import Entry
from connector_check.testlog.rows import RowReader, columns_of, is_heading, is_remark

MAX_BYTES = 64 * 1024 * 1024
HEADERS = ("map", "layout", "variant", "meter", "board", "date")
_HEADER = re.compile(r"#\s*([A-Za-z][A-Za-z ]*?)\s*:\s*(.*)\Z")


@dataclass(frozen=True)
class JobText:
    """A job file's text, decoded, with its header lines and the line of each."""

    file: str
    text: str
    header: dict[str, str]
    header_lines: dict[str, int]
    delimiter: str


def read_text(name: str) -> JobText:
    """Read a job file (`-` is standard input) and its header lines. Raises InputError."""
    file = "standard input" if name == "-" else name
    raw = sys.stdin.buffer.read(MAX_BYTES + 1) if name == "-" else read_capped(name, file, MAX_BYTES)
    return decode(raw, file)


def decode(raw: bytes, file: str) -> JobText:
    """Job text from bytes, see `files.text.decode`, with its header lines."""
    text = text_of(raw, file, MAX_BYTES, "a job holds one connector; is this the right file?")
    header, lines = _header(text)
    return JobText(file, text, header, lines, delimiter_of(text))


def _header(text: str) -> tuple[dict[str, str], dict[str, int]]:
    header: dict[str, str] = {}
    lines: dict[str, int] = {}
    for number, line in enumerate(io.StringIO(text), 1):
        stripped = line.strip().strip(",;\t").strip('"').strip(",;\t ").lstrip("'")
        if not stripped:
            continue
        if not stripped.startswith("#"):
            break
        match = _HEADER.match(stripped)
        if match and match[1].lower() in HEADERS and match[1].lower() not in header:
            header[match[1].lower()] = match[2].strip()
            lines[match[1].lower()] = number
    return header, lines


def parse(job: JobText, board: Board) -> list[Entry]:
    """The entries of a job. Raises InputError with every problem at once."""
    reader = RowReader(board, job.file)
    entries: list[Entry] = []
    rows = csv.reader(io.StringIO(job.text, newline=""), delimiter=job.delimiter)
    started = False
    last = 0
    try:
        for cells in rows:
            line, last = last + 1, rows.line_num
            if not cells or not any(cells) or is_remark(cells):
                continue
            if not started:
                started = True
                if is_heading(cells):
                    reader.columns = columns_of(cells, job.file, line)
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


def meter_of(job: JobText) -> Meter:
    """The meter of the header line `# meter: 10 250`, or the careful default. Raises InputError."""
    text = job.header.get("meter", "")
    return parse_meter(text, job.file, job.header_lines["meter"]).meter if text else UNKNOWN_METER
