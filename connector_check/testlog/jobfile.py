"""The job file: one CSV that a spreadsheet and the program can both write.

`pin_a,pin_b,reading,note` (more columns are allowed and left alone), before it optional lines `# map: ID`,
`# layout: ID`, `# variant: ID`, `# meter: 10 250`. Order is time.
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
from connector_check.files.text import bare, delimiter_of, shown
from connector_check.files.text import decode as text_of
from connector_check.pinout.pinmap import GROUND
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.meter_file import parse_meter
from connector_check.testlog.readings import (
    EVENTS,
    LEADS_BAD,
    LEADS_GOOD,
    READINGS,
    REMARK,
    TAKEN_BACK,
    VOLTS,
    WORDS_HELP,
    Entry,
    parse_reading,
)

MAX_BYTES = 64 * 1024 * 1024
HEADERS = ("map", "layout", "variant", "meter")
COLUMNS = ("pin_a", "pin_b", "reading", "note")
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
    problems: list[Problem] = []
    entries: list[Entry] = []
    rows = csv.reader(io.StringIO(job.text, newline=""), delimiter=job.delimiter)
    columns = {"pin_a": 0, "pin_b": 1, "reading": 2, "note": 3}
    started = False
    points: dict[str, int | None] = {}
    words: dict[str, tuple[str, float | None, str] | None] = {}
    last = 0
    try:
        for row in rows:
            line, last = last + 1, rows.line_num
            if not row or not any(row):
                continue
            if row[0].lstrip(" '\"").startswith("#"):
                continue
            if not started:
                started = True
                names = [cell.strip().lower() for cell in row]
                if "reading" in names:
                    missing = [name for name in ("pin_a", "pin_b") if name not in names]
                    if missing:
                        raise InputError.one(job.file, line, f"the heading has no column {' or '.join(missing)}",
                                             "expected pin_a,pin_b,reading,note")  # fmt: skip
                    columns = {name: names.index(name) if name in names else -1 for name in COLUMNS}
                    continue
            try:
                a, b, word = row[columns["pin_a"]], row[columns["pin_b"]], row[columns["reading"]]
            except IndexError:
                problems.append(
                    Problem(job.file, line, f"only {len(row)} columns", "expected pin_a,pin_b,reading,note")
                )
                continue
            note = row[columns["note"]] if -1 < columns["note"] < len(row) else ""
            if word not in words:
                words[word] = parse_reading(bare(word))
            parsed = words[word]
            if parsed is None:
                said = shown(word)
                what = f"unknown reading '{said}'" if said else "no reading"
                problems.append(Problem(job.file, line, what, f"expected {WORDS_HELP}"))
                continue
            kind, ohms, which = parsed
            if a not in points:
                points[a] = board.resolve(bare(a))
            if b not in points:
                points[b] = board.resolve(bare(b))
            pa, pb = points[a], points[b]
            if kind in READINGS and kind != VOLTS and pa is not None and pb is not None and pa != pb:
                entries.append(Entry(line, kind, (pa, pb), ohms, note))
                continue
            entry = _careful(job.file, line, board, kind, ohms, which, a, b, note, problems)
            if entry is not None:
                entries.append(entry)
    except csv.Error as error:
        problems.append(
            Problem(job.file, rows.line_num, f"not readable as CSV ({error})", "check the quotes on this line")
        )
    if problems:
        raise InputError(problems)
    if not started:
        raise InputError.one(job.file, 0, "no readings", "a job has lines 'pin_a,pin_b,reading', say '1,2,quiet'")
    return entries


def _careful(
    file: str, line: int, board: Board, kind: str, ohms: float | None, which: str, a: str, b: str, note: str,
    problems: list[Problem],
) -> Entry | None:  # fmt: skip
    """Events, and the readings that the quick way could not take."""
    cells = [cell for cell in (bare(a), bare(b)) if cell]
    if kind in EVENTS:
        cells = [part for cell in cells for part in cell.split()]
    found: list[int] = []
    bad = False
    for cell in cells:
        point = board.resolve(cell)
        if point is None:
            problems.append(unknown_pin(file, line, board, cell))
            bad = True
        else:
            found.append(point)
    if bad:
        return None
    if kind == VOLTS and len(set(found)) == 2:
        if sum(board.net_of[point].role == GROUND for point in found) != 1:
            what = f"'{shown(a)}' to '{shown(b)}' in diode mode"
            problems.append(
                Problem(file, line, what, "the red lead sits on ground, the black one on a joint: '7,GND,0.512 V'")
            )
            return None
        return Entry(line, kind, tuple(found), ohms, note)
    if kind in READINGS:
        if len(found) < 2:
            problems.append(
                Problem(
                    file, line, f"'{kind}' names {'one pin' if found else 'no pin'}", "a reading has pin_a and pin_b"
                )
            )
            return None
        a_name, b_name = cells
        alias = f" ({a_name} and {b_name} are one joint, {board.points[found[0]]})" if a_name != b_name else ""
        problems.append(
            Problem(file, line, f"'{shown(a_name)}' touches itself{alias}", "a reading has two different points")
        )
        return None
    if kind in (LEADS_GOOD, LEADS_BAD) and found:
        problems.append(Problem(file, line, f"'{kind}' names a pin", "a lead check has no pins: ',,leads good'"))
        return None
    if kind not in (LEADS_GOOD, LEADS_BAD, REMARK, TAKEN_BACK) and not found:
        problems.append(Problem(file, line, f"'{kind}' names no joint", f"name the joints: '4,5,{kind}'"))
        return None
    if kind == TAKEN_BACK and len(found) == 1:
        problems.append(
            Problem(file, line, "'taken back' names one pin", "name the pair, or none for the last reading")
        )
        return None
    return Entry(line, kind, tuple(found), ohms, note, which)


def unknown_pin(file: str, line: int, board: Board, cell: str) -> Problem:
    """The problem of a name that is no point of the board."""
    from difflib import get_close_matches

    contact = next((c for c in board.pin_map.net_of if c.casefold() == cell.casefold()), None)
    if contact is not None:
        return Problem(
            file, line, f"contact '{contact}' has no joint in layout {board.layout.id}", "choose another --layout"
        )
    near = get_close_matches(cell, board.known_names, n=3, cutoff=0.6)
    hint = f"did you mean {', '.join(near)}?" if near else f"{board.pin_map.id} has {summary(board)}"
    return Problem(file, line, f"unknown pin '{shown(cell)}'", hint)


def summary(board: Board) -> str:
    """The joints and board points in a few words, for messages."""
    names = [joint.name for joint in board.joints]
    shown = ", ".join(names) if len(names) <= 24 else ", ".join(names[:6]) + f" ... {names[-1]}"
    nets = [net.name for net in board.nets]
    return f"joints {shown}; nets {', '.join(nets[:12])}{' ...' if len(nets) > 12 else ''}"


def meter_of(job: JobText) -> Meter:
    """The meter of the header line `# meter: 10 250`, or the careful default. Raises InputError."""
    text = job.header.get("meter", "")
    return parse_meter(text, job.file, job.header_lines["meter"]).meter if text else UNKNOWN_METER
