"""What a file is that is to take more lines: a job, whole or torn, or something else that is left alone. Pure."""

from __future__ import annotations

import csv
import io
import re
from contextlib import suppress
from dataclasses import dataclass

from connector_check.errors import InputError
from connector_check.files.text import UTF16_MARKS
from connector_check.testlog.jobfile import MAX_BYTES, JobText, decode
from connector_check.testlog.readings import parse_reading
from connector_check.testlog.rows import COLUMNS, USUAL, Columns, columns_of, is_heading, is_remark

_UTF8_MARK = b"\xef\xbb\xbf"
_SENTINEL = "\x1eend"


@dataclass(frozen=True)
class Form:
    """How rows are written in a file. width: cells in a row; noted: whether the note has a column of its own."""

    delimiter: str = ","
    end: str = "\n"
    columns: Columns = USUAL
    width: int = len(COLUMNS)
    noted: bool = True


@dataclass(frozen=True)
class Diagnosis:
    """What was found. Lines are whole when they end.

    text: the whole lines, or None; length: their bytes; lines: how many, as a CSV reader counts them; tail: the bytes
    after them; torn: what of the tail is worth keeping; begun: whether there is a heading or a row; form: of the rows.
    """

    text: JobText | None
    length: int
    lines: int
    tail: bytes
    torn: bytes
    begun: bool
    form: Form


def diagnose(raw: bytes, file: str) -> Diagnosis:
    """What the bytes of a file are. file: its name in messages. Raises InputError when rows cannot be added to it: it
    is no job, or none that takes lines at its end.
    """
    if raw[:2] in UTF16_MARKS:
        raise InputError.one(file, 0, "text in UTF-16, which takes no lines from here", "save it as 'CSV UTF-8'")
    tail = raw[raw.rfind(b"\n") + 1 :]
    whole = raw[: len(raw) - len(tail)]
    if b"\r" in tail.rstrip(b"\r"):
        raise InputError.one(file, 0, "lines that end in a lone carriage return", "save it as 'CSV UTF-8'")
    if len(raw) > MAX_BYTES:
        decode(raw, file)
    # blanks, and the zeros that a power cut leaves, are not worth keeping
    torn = tail if tail.removeprefix(_UTF8_MARK).strip(b"\0 \t\r") else b""
    text = decode(whole, file) if whole.removeprefix(_UTF8_MARK).strip() else None
    first = text.text if text else torn.decode("utf-8", "replace").removeprefix("\ufeff")
    if not _looks_like_a_job(first, text.delimiter if text else ","):
        remedy = "expected lines 'pin_a,pin_b,reading,note'; is this the right file?"
        raise InputError.one(file, 0, "not a job file", remedy)
    lines = sum(1 for _ in io.StringIO(whole.decode("utf-8-sig"), newline=""))
    begun = text is not None and not _only_remarks(text.text)
    form = _form(text, begun) if text else Form()
    return Diagnosis(text, len(whole), lines, tail, torn, begun, form)


def _form(text: JobText, begun: bool) -> Form:
    """The delimiter, the line ends and the columns of the lines that are there."""
    end = "\r\n" if text.text.endswith("\r\n") else "\n"
    if not begun:
        return Form(end=end)
    line, heading = _first_row(text)
    if not is_heading(heading):
        return Form(text.delimiter, end)
    columns = columns_of(heading, text.file, line)
    return Form(text.delimiter, end, columns, len(heading), columns.note < len(heading))


def _first_row(text: JobText) -> tuple[int, list[str]]:
    """The first row that is no remark, with its line. Raises InputError where the rows do not end with the lines."""
    rows = csv.reader(io.StringIO(text.text + _SENTINEL + "\n", newline=""), delimiter=text.delimiter)
    before, line, cells = 0, 1, [""]
    first: tuple[int, list[str]] | None = None
    try:
        for cells in rows:
            line, before = before + 1, rows.line_num
            if first is None and any(cells) and not is_remark(cells):
                first = line, cells
    except csv.Error as error:
        raise InputError.one(text.file, rows.line_num, f"not readable as CSV ({error})", "check the quotes") from None
    if cells != [_SENTINEL]:
        raise InputError.one(text.file, line, "a quote is opened here and never closed", "close it, or take it out")
    return first or (line, cells)


def _only_remarks(text: str) -> bool:
    lines = (line.strip(" \t\r\n,;\"'") for line in io.StringIO(text))
    return all(line.startswith("#") for line in lines if line)


def _looks_like_a_job(text: str, delimiter: str) -> bool:
    """Whether the first row is a heading or a reading, or there are only header lines, whole or torn, or nothing: the
    last line of some other file is not to be taken for a torn one.
    """
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    with suppress(csv.Error):
        for cells in rows:
            if any(cells) and not is_remark(cells):
                heading = is_heading(cells) or ",".join(COLUMNS).startswith(text)
                return heading or (len(cells) > 2 and parse_reading(cells[2].strip(" '")) is not None)
        torn = text.startswith("#") and "\n" not in text
        return not text.strip() or torn or re.search(r"(?m)^\W*#\s*[A-Za-z ]+:", text) is not None
    return False
