"""Writing a job while probing: append-only, each line whole and synced before anything else hears of it.

One writer at a time holds a lock. A line that a crash left torn is set aside (`mending`) and told; a line that could
not be written whole is rolled back, so that the file always holds exactly the acknowledged readings.
"""

from __future__ import annotations

import csv
import errno
import io
import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from types import TracebackType

from connector_check.board.board import Board
from connector_check.errors import InputError
from connector_check.files.lock import is_still, open_locked, refused, sync_folder
from connector_check.testlog.diagnosis import Diagnosis, diagnose
from connector_check.testlog.jobfile import MAX_BYTES
from connector_check.testlog.mending import beginning, mend
from connector_check.testlog.readings import Entry
from connector_check.testlog.rows import Row, RowReader, harmless, is_remark


class JobWriter:
    """An open job file that only grows, one synced line for each row. Get one from `JobWriter.open`.

    told: messages to show the user about what was found and mended at opening.
    """

    def __init__(self, path: Path, descriptor: int, lock: int | None, found: Diagnosis) -> None:
        self.path = path
        self.told: list[str] = []
        self._descriptor: int | None = descriptor
        self._lock = lock
        self._form = found.form
        self._length = found.length
        self._lines = found.lines
        self._ragged = False

    @classmethod
    def open(cls, path: Path, header: Mapping[str, str]) -> JobWriter:
        """Open a job for appending, made with its header lines and heading when it is new or holds no lines yet.

        header: header lines by name, in order (`{"map": "usb-c-16", "layout": "smt-row"}`); an existing job keeps
        its own. Raises InputError: locked by another writer, no right to write, not a job file.
        """
        descriptor, lock, created = open_locked(path)
        try:
            with os.fdopen(descriptor, "rb", closefd=False) as handle:
                handle.seek(0)
                raw = handle.read(MAX_BYTES + 1)
            found = diagnose(raw, str(path))
            writer = cls(path, descriptor, lock, found)
            writer._begin(found, header)
        except BaseException:
            with suppress(OSError):
                if created and not path.stat().st_size:
                    path.unlink()
            _close(descriptor, lock)
            raise
        return writer

    def _begin(self, found: Diagnosis, header: Mapping[str, str]) -> None:
        assert self._descriptor is not None
        if not found.form.noted:
            self.told.append(f"{self.path}: the heading has no column 'note'; remarks go into a column without a name")
        self.told += mend(self.path, self._descriptor, found)
        if lines := beginning(found, header):
            self._write("".join(line + self._form.end for line in lines).encode(), len(lines))
        if not found.length and not found.tail:
            sync_folder(self.path)

    def append(self, pin_a: str, pin_b: str, reading: str, note: str = "") -> None:
        """Write one line and sync it. When it returns, the line is on the disk; when it raises, nothing of it is.

        pin_a, pin_b: point names, or empty for an event without points; reading: as `readings.parse_reading` knows
        it; note: free text, made one line without control characters. Raises InputError.
        """
        self._write(self._line(Row(pin_a, pin_b, reading, note)).encode(), 1)

    def record(self, row: Row, board: Board) -> Entry:
        """Append a row and return its entry: what the job reader makes of the line on this board.

        Raises InputError, and nothing is written, where the reader would refuse the line.
        """
        line = self._line(row)
        form = self._form
        reader = RowReader(board, str(self.path), form.columns, form.delimiter, form.width)
        cells = next(csv.reader(io.StringIO(line, newline=""), delimiter=form.delimiter))
        entry = reader.read(self._lines + 1, cells)
        if entry is None:
            raise InputError(reader.problems)
        self._write(line.encode(), 1)
        return entry

    def _line(self, row: Row) -> str:
        columns, form = self._form.columns, self._form
        safe = harmless(row)
        cells = [""] * (form.width if form.noted or not row.note else form.width + 1)
        for place, cell in zip(columns, safe, strict=True):
            if place < len(cells):
                cells[place] = cell
        if is_remark(cells):
            cells[0] = "note: " + cells[0]
        text = io.StringIO()
        csv.writer(text, delimiter=form.delimiter, lineterminator=form.end).writerow(cells)
        return text.getvalue()

    def close(self) -> None:
        """Release the lock and the file. Safe to call twice."""
        _close(self._descriptor, self._lock)
        self._descriptor = self._lock = None

    def __enter__(self) -> JobWriter:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _write(self, text: bytes, lines: int) -> None:
        if self._descriptor is None:
            raise ValueError("the job is closed")
        self._check_unchanged()
        if self._length + len(text) > MAX_BYTES:
            raise InputError.one(str(self.path), 0, f"would grow past {MAX_BYTES // 2**20} MiB", "start a new job file")
        try:
            self._ragged = True
            written = os.write(self._descriptor, text)
            if written < len(text):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            os.fsync(self._descriptor)
        except OSError as error:
            self._roll_back()
            raise refused(self.path, "not written", error) from None
        except BaseException:
            # Ctrl-C between the write and the sync: the answer was never acknowledged.
            self._roll_back()
            raise
        self._length += len(text)
        self._lines += lines
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
            what, remedy = "ends in half a line that cannot be taken off", "check the disk, then open the session again"
            raise InputError.one(str(self.path), 0, what, remedy)
        mine = os.fstat(self._descriptor)
        if not is_still(self.path, self._descriptor) or mine.st_size != self._length:
            what = "was changed or removed by another program while probing"
            raise InputError.one(
                str(self.path), 0, what, "put it back or close that program, then open the session again"
            )


def _close(*descriptors: int | None) -> None:
    for descriptor in descriptors:
        if descriptor is not None:
            with suppress(OSError):
                os.close(descriptor)
