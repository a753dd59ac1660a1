"""Writing a job while probing: append-only, each line whole and synced before anything else hears of it.

One writer at a time holds a lock. A line that a crash left torn is set aside in `JOB.csv.torn` and told; a line that
could not be written whole is rolled back, so that the file always holds exactly the acknowledged readings.
"""

from __future__ import annotations

import csv
import errno
import io
import os
import re
from contextlib import suppress
from pathlib import Path
from types import TracebackType

from connector_check.errors import InputError
from connector_check.files.lock import BINARY, is_still, open_locked, refused, sync_folder
from connector_check.files.text import UTF16_MARKS, neutral, one_line, printable, salvaged, shortened
from connector_check.testlog.jobfile import COLUMNS, MAX_BYTES, JobText, decode
from connector_check.testlog.readings import parse_reading

NOTE_CHARACTERS = 1000
"""A longer note is cut: a CSV reader refuses fields past 131,072 characters, and with them the whole job."""

_UTF8_MARK = b"\xef\xbb\xbf"
_SENTINEL = "\x1eend"


class JobWriter:
    """An open job file that only grows, one synced line for each `append`. Get one from `JobWriter.open`.

    told: messages to show the user about what was found and mended at opening.
    """

    def __init__(self, path: Path, descriptor: int, lock: int | None) -> None:
        self.path = path
        self.told: list[str] = []
        self._descriptor: int | None = descriptor
        self._lock = lock
        self._length = 0
        self._ragged = False
        self._delimiter = ","
        self._end = "\n"
        self._columns: list[str] = list(COLUMNS)

    @classmethod
    def open(cls, path: Path, header: dict[str, str]) -> JobWriter:
        """Open a job for appending, made with its header lines and heading when it is new or holds no lines yet.

        header: header lines by name, in order (`{"map": "usb-c-16", "layout": "smt-row"}`); an existing job keeps
        its own. Raises InputError: locked by another writer, no right to write, not a job file.
        """
        descriptor, lock, created = open_locked(path)
        writer = cls(path, descriptor, lock)
        try:
            writer._mend(header)
        except BaseException:
            with suppress(OSError):
                if created and not path.stat().st_size:
                    path.unlink()
            writer.close()
            raise
        return writer

    def append(self, pin_a: str, pin_b: str, reading: str, note: str = "") -> None:
        """Write one line and sync it. When it returns, the line is on the disk; when it raises, nothing of it is.

        pin_a, pin_b: point names, or empty for an event without points; reading: as `readings.parse_reading` knows
        it; note: free text, made one line without control characters. Raises InputError.
        """
        row = [""] * len(self._columns)
        for name, cell in zip(COLUMNS, (pin_a, pin_b, reading, note), strict=True):
            if name in self._columns:
                row[self._columns.index(name)] = neutral(one_line(cell, NOTE_CHARACTERS))
            elif cell:
                row.append(neutral(one_line(cell, NOTE_CHARACTERS)))
        if row[0].lstrip(" '\"").startswith("#"):
            row[0] = "note: " + row[0]
        text = io.StringIO()
        csv.writer(text, delimiter=self._delimiter, lineterminator=self._end).writerow(row)
        self._write(text.getvalue().encode())

    def close(self) -> None:
        """Release the lock and the file. Safe to call twice."""
        descriptor, self._descriptor = self._descriptor, None
        lock, self._lock = self._lock, None
        for handle in (descriptor, lock):
            if handle is not None:
                with suppress(OSError):
                    os.close(handle)

    def __enter__(self) -> JobWriter:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _write(self, line: bytes) -> None:
        if self._descriptor is None:
            raise ValueError("the job is closed")
        self._check_unchanged()
        if self._length + len(line) > MAX_BYTES:
            raise InputError.one(str(self.path), 0, f"would grow past {MAX_BYTES // 2**20} MiB", "start a new job file")
        try:
            self._ragged = True
            written = os.write(self._descriptor, line)
            if written < len(line):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            os.fsync(self._descriptor)
        except OSError as error:
            self._roll_back()
            raise refused(self.path, "not written", error) from None
        except BaseException:
            # Ctrl-C between the write and the sync: the answer was never acknowledged.
            self._roll_back()
            raise
        self._length += len(line)
        self._ragged = False

    def _roll_back(self) -> None:
        assert self._descriptor is not None
        with suppress(OSError):
            os.ftruncate(self._descriptor, self._length)
            self._ragged = False
            os.fsync(self._descriptor)

    def _check_unchanged(self) -> None:
        """Refuse to write into a file that was replaced, removed or changed meanwhile: the line would be lost."""
        assert self._descriptor is not None
        if self._ragged:
            self._roll_back()
        if self._ragged:
            raise InputError.one(str(self.path), 0, "ends in half a line that cannot be taken off",
                                 "check the disk, then open the session again")  # fmt: skip
        mine = os.fstat(self._descriptor)
        if not is_still(self.path, self._descriptor) or mine.st_size != self._length:
            raise InputError.one(str(self.path), 0, "was changed or removed by another program while probing",
                                 "put it back or close that program, then open the session again")  # fmt: skip

    def _mend(self, header: dict[str, str]) -> None:
        """Bring the file into a state that takes whole lines: set a torn tail aside, add a missing header."""
        assert self._descriptor is not None
        file = str(self.path)
        with os.fdopen(self._descriptor, "rb", closefd=False) as handle:
            handle.seek(0)
            raw = handle.read(MAX_BYTES + 1)
        if raw[:2] in UTF16_MARKS:
            raise InputError.one(file, 0, "text in UTF-16, which takes no lines from here", "save it as 'CSV UTF-8'")
        tail = raw[raw.rfind(b"\n") + 1 :]
        whole = raw[: len(raw) - len(tail)]
        if b"\r" in tail.rstrip(b"\r"):
            raise InputError.one(file, 0, "lines that end in a lone carriage return", "save it as 'CSV UTF-8'")
        if len(raw) > MAX_BYTES:
            decode(raw, file)
        # blanks, and the zeros that a power cut leaves, are not worth keeping
        kept = tail if tail.removeprefix(_UTF8_MARK).strip(b"\0 \t\r") else b""
        text = decode(whole, file) if whole.removeprefix(_UTF8_MARK).strip() else None
        first = text.text if text else salvaged(kept)
        if not _looks_like_a_job(first, text.delimiter if text else ","):
            raise InputError.one(
                file, 0, "not a job file", "expected lines 'pin_a,pin_b,reading,note'; is this the right file?"
            )
        if text:
            self._learn(text)
        self._length = len(whole)
        bare = text is None or _only_remarks(text.text)
        if kept:
            self._set_aside(
                kept, whole.count(b"\n") + 1, "its heading is written anew" if bare else "touch that pair again"
            )
        if tail:
            try:
                os.ftruncate(self._descriptor, len(whole))
                os.fsync(self._descriptor)
            except OSError as error:
                raise refused(self.path, "its torn last line cannot be taken off", error) from None
        if bare:
            missing = [
                key for key in header if not text or not re.search(rf"(?mi)^\W*#\s*{re.escape(key)}\s*:", text.text)
            ]
            lines = [f"# {key}: {one_line(header[key], NOTE_CHARACTERS)}" for key in missing] + [",".join(COLUMNS)]
            self._write("".join(line + self._end for line in lines).encode())
        if not raw:
            sync_folder(self.path)

    def _learn(self, text: JobText) -> None:
        """Take over the delimiter, the line ends and the columns of the lines that are there."""
        file = str(self.path)
        self._end = "\r\n" if text.text.endswith("\r\n") else "\n"
        if _only_remarks(text.text):
            return
        self._delimiter = text.delimiter
        rows = csv.reader(io.StringIO(text.text + _SENTINEL + "\n", newline=""), delimiter=self._delimiter)
        before, line, row = 0, 1, [""]
        heading: list[str] | None = None
        try:
            for row in rows:
                line, before = before + 1, rows.line_num
                if heading is None and any(row) and not row[0].lstrip(" '\"").startswith("#"):
                    heading = [cell.strip().lower() for cell in row]
        except csv.Error as error:
            raise InputError.one(file, rows.line_num, f"not readable as CSV ({error})", "check the quotes") from None
        if row != [_SENTINEL]:
            raise InputError.one(file, line, "a quote is opened here and never closed", "close it, or take it out")
        if heading is not None and "reading" in heading:
            self._columns = heading
            if "note" not in heading:
                self.told.append(f"{file}: the heading has no column 'note'; remarks go into a column without a name")

    def _set_aside(self, tail: bytes, line: int, remedy: str) -> None:
        aside = self.path.with_name(self.path.name + ".torn")
        try:
            descriptor = os.open(aside, os.O_WRONLY | os.O_APPEND | os.O_CREAT | BINARY, 0o666)
            try:
                text = tail.rstrip(b"\r") + b"\n"
                if os.write(descriptor, text) < len(text):
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
                os.fsync(descriptor)
            finally:
                os.close(descriptor)
            sync_folder(aside)
        except OSError as error:
            raise refused(aside, f"the torn last line of {self.path.name} cannot be kept here", error) from None
        shown = shortened(printable(salvaged(tail).strip()), 60)
        what = f"the last line was torn ('{shown}'); it does not count and is kept in {aside.name}: {remedy}"
        self.told.append(f"{self.path}:{line}: {what}")


def _only_remarks(text: str) -> bool:
    lines = (line.strip(" \t\r\n,;\"'") for line in io.StringIO(text))
    return all(line.startswith("#") for line in lines if line)


def _looks_like_a_job(text: str, delimiter: str) -> bool:
    """Whether the first row is a heading or a reading, or there are only header lines, whole or torn, or nothing: the
    last line of some other file is not to be taken for a torn one."""
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    with suppress(csv.Error):
        for row in rows:
            if any(row) and not row[0].lstrip(" '\"").startswith("#"):
                heading = "reading" in [cell.strip().lower() for cell in row] or ",".join(COLUMNS).startswith(text)
                return heading or (len(row) > 2 and parse_reading(row[2].strip(" '")) is not None)
        torn = text.startswith("#") and "\n" not in text
        return not text.strip() or torn or re.search(r"(?m)^\W*#\s*[A-Za-z ]+:", text) is not None
    return False
