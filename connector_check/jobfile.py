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
from pathlib import Path

from connector_check.board import Board
from connector_check.errors import InputError, Problem, read_capped
from connector_check.good_board import ties_of
from connector_check.meter import Meter
from connector_check.pinmap import GROUND
from connector_check.readings import (
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
from connector_check.replay import Standing

MAX_BYTES = 64 * 1024 * 1024
HEADERS = ("map", "layout", "variant", "meter")
COLUMNS = ("pin_a", "pin_b", "reading", "note")
_HEADER = re.compile(r"#\s*([A-Za-z][A-Za-z ]*?)\s*:\s*(.*)\Z")
_PURE_NUMBER = re.compile(r"[+-]?\d*[.,]?\d+\Z")


@dataclass(frozen=True)
class Job:
    """A job as read: its header lines, the board it speaks of, its entries in time order, and what stands on a sound
    board that it is compared with.
    """

    file: str
    header: dict[str, str]
    board: Board
    meter: Meter
    entries: list[Entry]
    good: Standing | None = None


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
    """Job text from bytes: UTF-8 (with or without a mark) or a spreadsheet's UTF-16; anything else is refused."""
    if len(raw) > MAX_BYTES:
        raise InputError.one(
            file, 0, f"larger than {MAX_BYTES // 2**20} MiB", "a job holds one connector; is this the right file?"
        )
    encoding = "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError.one(
            file, line, "not text in UTF-8", "save it as 'CSV UTF-8'; is this the right file?"
        ) from None
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        raise InputError.one(file, line, "binary data, not a job file", "give the CSV with the readings")
    if not text.strip():
        raise InputError.one(file, 0, "the file is empty", "a job has lines 'pin_a,pin_b,reading', say '1,2,quiet'")
    header, lines = _header(text)
    return JobText(file, text, header, lines, _delimiter(text))


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


def _delimiter(text: str) -> str:
    for line in io.StringIO(text):
        bare = line.strip().strip(",;\t")
        if bare and not bare.lstrip("\"'").startswith("#"):
            return max(",;\t", key=line.count)
    return ","


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
                words[word] = parse_reading(_bare(word))
            parsed = words[word]
            if parsed is None:
                said = _shown(word)
                what = f"unknown reading '{said}'" if said else "no reading"
                problems.append(Problem(job.file, line, what, f"expected {WORDS_HELP}"))
                continue
            kind, ohms, which = parsed
            if a not in points:
                points[a] = board.resolve(_bare(a))
            if b not in points:
                points[b] = board.resolve(_bare(b))
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


def _bare(cell: str) -> str:
    """A cell without blanks and without the quote mark that keeps a spreadsheet from reading it as a formula."""
    cell = cell.strip()
    return cell[1:].strip() if cell.startswith("'") else cell


def _shown(cell: str) -> str:
    text = "".join(c if c.isprintable() else "?" for c in cell.strip())
    return text if len(text) <= 40 else text[:37] + "..."


def _careful(
    file: str, line: int, board: Board, kind: str, ohms: float | None, which: str, a: str, b: str, note: str,
    problems: list[Problem],
) -> Entry | None:  # fmt: skip
    """Events, and the readings that the quick way could not take."""
    cells = [cell for cell in (_bare(a), _bare(b)) if cell]
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
            what = f"'{_shown(a)}' to '{_shown(b)}' in diode mode"
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
            Problem(file, line, f"'{_shown(a_name)}' touches itself{alias}", "a reading has two different points")
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
    return Problem(file, line, f"unknown pin '{_shown(cell)}'", hint)


def summary(board: Board) -> str:
    """The joints and board points in a few words, for messages."""
    names = [joint.name for joint in board.joints]
    shown = ", ".join(names) if len(names) <= 24 else ", ".join(names[:6]) + f" ... {names[-1]}"
    nets = [net.name for net in board.nets]
    return f"joints {shown}; nets {', '.join(nets[:12])}{' ...' if len(nets) > 12 else ''}"


def meter_of(job: JobText) -> Meter:
    """The meter of the header line `# meter: 10 250`, or the careful default."""
    text = job.header.get("meter", "")
    if not text:
        return Meter()
    parts = re.split(r"[\s:,/;-]+", re.sub(r"ohms?", "", text).strip())
    try:
        low, high = (float(part) for part in parts)
        if not 0 < low <= high < 1e6:
            raise ValueError
    except ValueError:
        raise InputError.one(job.file, job.header_lines["meter"], f"meter '{_shown(text)}'",
                             "expected two ohms, sounds below and silent above: '# meter: 10 250'") from None  # fmt: skip
    return Meter(low, high)


def load_job(
    name: str,
    map_name: str = "",
    layout: str = "",
    variant: str = "",
    *,
    meter: str = "",
    notes: str = "",
    like: str = "",
) -> Job:
    """Read a job file (`-` is standard input), find its pin map and layout, and parse its entries.

    map_name, layout, variant, meter: what the user asked for; each goes before the job's own header line. meter:
    `10:250` or a meter file; notes: a board notes file; like: the job of a sound board. Raises InputError.
    """
    from connector_check.pinmap_library import find_pin_map

    text = read_text(name)
    wanted = map_name or text.header.get("map", "")
    if not wanted:
        raise InputError.one(text.file, 1, "no pin map named", "add a first line '# map: ID', or give --map ID")
    if not map_name and ("/" in wanted or "\\" in wanted):
        raise InputError.one(text.file, text.header_lines["map"], f"map '{_shown(wanted)}' is a path",
                             "a job names an id or a file beside it; give other files with --map")  # fmt: skip
    try:
        pin_map = find_pin_map(wanted, None if name == "-" else Path(name).resolve().parent)
    except InputError as error:
        first = error.problems[0]
        if not map_name and len(error.problems) == 1 and first.file == wanted:
            line = text.header_lines["map"]
            raise InputError.one(text.file, line, f"map '{_shown(wanted)}': {first.what}", first.remedy) from None
        raise
    chosen = (layout or text.header.get("layout", ""), variant or text.header.get("variant", ""))
    board = make_board(pin_map, *chosen, text)
    if notes:
        board = noted_board(board, notes)
    used = _given_meter(meter) if meter else meter_of(text)
    good = None
    if like:
        good = _good_board(board, like, wanted)
        ties = [*board.ties, *ties_of(good)]
        board = Board(board.pin_map, board.layout, ties, board.named)
    return Job(text.file, text.header, board, used, parse(text, board), good)


def noted_board(board: Board, notes: str) -> Board:
    """The board as a board notes file describes it. Raises InputError."""
    from connector_check import board_notes
    from connector_check.board_notes_file import load_board_notes

    noted = load_board_notes(notes, board.pin_map)
    pin_map = board_notes.apply(board.pin_map, noted)
    layout = pin_map.layout(board.layout.id)
    assert layout is not None
    return Board(pin_map, layout, board_notes.ties_of(board.pin_map, noted), noted.points)


def _given_meter(text: str) -> Meter:
    from connector_check.meter_file import load_meter, parse_meter

    found = load_meter(text) if text.endswith((".yaml", ".yml")) else parse_meter(text)
    return Meter(found.meter.sounds_below, found.meter.silent_above, found.leads_ohms or 0.0)


def _good_board(board: Board, like: str, map_name: str) -> Standing:
    from connector_check.replay import replay

    text = read_text(like)
    theirs = text.header.get("map", map_name)
    if theirs not in (map_name, board.pin_map.id):
        raise InputError.one(text.file, text.header_lines["map"], f"the sound board's job is of map '{_shown(theirs)}'",
                             f"compare with a job of {board.pin_map.id}")  # fmt: skip
    return replay(board, parse(text, board), meter_of(text))


def make_board(pin_map, layout_id: str, variant_id: str = "", text: JobText | None = None) -> Board:  # type: ignore[no-untyped-def]
    """The board of a pin map in a layout and variant (the first layout and the base wiring when empty)."""

    def place(key: str) -> tuple[str, int]:
        return (text.file, text.header_lines[key]) if text and key in text.header_lines else (pin_map.id, 0)

    if variant_id:
        changed = pin_map.with_variant(variant_id)
        if changed is None:
            known = ", ".join(v.id for v in pin_map.variants) or "none"
            raise InputError.one(
                *place("variant"), f"no variant '{_shown(variant_id)}' of {pin_map.id}", f"it has: {known}"
            )
        pin_map = changed
    layout = pin_map.layout(layout_id)
    if layout is None:
        known = ", ".join(found.id for found in pin_map.layouts)
        raise InputError.one(*place("layout"), f"no layout '{_shown(layout_id)}' of {pin_map.id}", f"it has: {known}")
    return Board(pin_map, layout)


def neutral(text: str) -> str:
    """A cell that no spreadsheet takes for a formula (OWASP, CSV injection); a pure number stays as it is.

    >>> neutral("+5V"), neutral("-0.4"), neutral("=1+1"), neutral("GND")
    ("'+5V", '-0.4', "'=1+1", 'GND')
    """
    return "'" + text if text[:1] in ("=", "+", "-", "@", "\t", "\r", "\n") and not _PURE_NUMBER.match(text) else text
