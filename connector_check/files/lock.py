"""Opening a file that one program at a time may write: the lock, and errors as messages with a remedy."""

from __future__ import annotations

import errno
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from connector_check.errors import InputError

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

BINARY: int = getattr(os, "O_BINARY", 0)

_REMEDY = {
    errno.ENOENT: "make the folder first, or check the name",
    errno.ENOTDIR: "a part of this path is a file, not a folder: check the name",
    errno.EISDIR: "this is a folder: name a file in it, say job.csv",
    errno.ELOOP: "its symbolic links lead in a circle: remove them or give another name",
    errno.EACCES: "you may not write there: change its rights, or give a file in a folder of your own",
    errno.EPERM: "the file is protected against writing: lift that, or give another file",
    errno.EROFS: "the disk is read-only: give a file on another disk",
    errno.ENOSPC: "the disk is full: make room, then give the answer again",
    errno.EDQUOT: "your disk quota is used up: make room, then give the answer again",
    errno.EFBIG: "the file may not grow: lift the file size limit, then give the answer again",
    errno.ENAMETOOLONG: "give a shorter name",
}


def refused(path: Path, what: str, error: OSError) -> InputError:
    """An operating system's error as a message: the file, what did not work, why, and what to do."""
    remedy = _REMEDY.get(error.errno or 0, "check the disk and the rights, then try again")
    return InputError.one(str(path), 0, f"{what} ({error.strerror})", remedy)


def is_still(path: Path, descriptor: int) -> bool:
    """Whether the path still names the open file."""
    try:
        named, mine = os.stat(path), os.fstat(descriptor)
    except OSError:
        return False
    return (named.st_dev, named.st_ino) == (mine.st_dev, mine.st_ino)


def open_locked(path: Path) -> tuple[int, int | None, bool]:
    """(descriptor, lock file's descriptor or None, whether the file is new) of a job that no one else writes."""
    for _ in range(5):
        with _telling(path, "cannot be written"):
            if path.exists() and not stat.S_ISREG(path.stat().st_mode) and not path.is_dir():
                raise InputError.one(str(path), 0, "is not a plain file", "give the name of a CSV file")
            flags = os.O_RDWR | os.O_APPEND | os.O_CREAT | BINARY
            try:
                descriptor, created = os.open(path, flags | os.O_EXCL, 0o666), True
            except FileExistsError:
                descriptor, created = os.open(path, flags, 0o666), False
        try:
            lock = _lock(path, descriptor)
        except BaseException:
            os.close(descriptor)
            raise
        # Between opening and locking, another program may have put another file in its place.
        if is_still(path, descriptor):
            return descriptor, lock, created
        for handle in (descriptor, lock):
            if handle is not None:
                os.close(handle)
    raise InputError.one(str(path), 0, "is replaced again and again by another program", "close that program")


@contextmanager
def _telling(path: Path, what: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise refused(path, what, error) from None


def _lock(path: Path, descriptor: int) -> int | None:
    busy = InputError.one(str(path), 0, "another session writes this job", "go on there, or end it first")
    if sys.platform == "win32":
        with _telling(path, "cannot be locked"):
            lock = os.open(path.with_name(path.name + ".lock"), os.O_RDWR | os.O_CREAT, 0o666)
        try:
            msvcrt.locking(lock, msvcrt.LK_NBLCK, 1)
        except OSError:
            os.close(lock)
            raise busy from None
        return lock
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise busy from None
    except OSError as error:
        what = f"cannot be locked ({error.strerror})"
        raise InputError.one(str(path), 0, what, "put the job on a local disk") from None
    return None


def sync_folder(path: Path) -> None:
    """Make a new file's name last; file systems that cannot sync a folder are left to themselves."""
    if sys.platform != "win32":
        with suppress(OSError):
            folder = os.open(path.resolve().parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)
