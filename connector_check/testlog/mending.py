"""Mending a job file whose last line a crash left torn: the piece is kept in `JOB.csv.torn`, told, and cut off."""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Mapping
from pathlib import Path

from connector_check.files.lock import BINARY, refused, sync_folder
from connector_check.files.text import one_line, printable, shortened
from connector_check.testlog.diagnosis import Diagnosis
from connector_check.testlog.rows import CELL_CHARACTERS, COLUMNS


def mend(path: Path, descriptor: int, found: Diagnosis) -> list[str]:
    """Cut the file back to its whole lines; returns what to tell the user. Raises InputError, with nothing cut, where
    the torn piece cannot be kept.
    """
    told = [_set_aside(path, found)] if found.torn else []
    if found.tail:
        try:
            os.ftruncate(descriptor, found.length)
            os.fsync(descriptor)
        except OSError as error:
            raise refused(path, "its torn last line cannot be taken off", error) from None
    return told


def beginning(found: Diagnosis, header: Mapping[str, str]) -> list[str]:
    """The lines that a file without rows still lacks: header lines by name, the heading of the columns."""
    if found.begun:
        return []
    text = found.text.text if found.text else ""
    missing = [key for key in header if not re.search(rf"(?mi)^\W*#\s*{re.escape(key)}\s*:", text)]
    return [f"# {key}: {one_line(header[key], CELL_CHARACTERS)}" for key in missing] + [",".join(COLUMNS)]


def _set_aside(path: Path, found: Diagnosis) -> str:
    aside = path.with_name(path.name + ".torn")
    try:
        descriptor = os.open(aside, os.O_WRONLY | os.O_APPEND | os.O_CREAT | BINARY, 0o666)
        try:
            text = found.torn.rstrip(b"\r") + b"\n"
            if os.write(descriptor, text) < len(text):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
        sync_folder(aside)
    except OSError as error:
        raise refused(aside, f"the torn last line of {path.name} cannot be kept here", error) from None
    piece = shortened(printable(found.torn.decode("utf-8", "replace").strip()), 60)
    remedy = "touch that pair again" if found.begun else "its heading is written anew"
    what = f"the last line was torn ('{piece}'); it does not count and is kept in {aside.name}: {remedy}"
    return f"{path}:{found.lines + 1}: {what}"
