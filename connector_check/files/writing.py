"""Writing files whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

from connector_check.errors import InputError


def write_whole(path: Path, text: str) -> None:
    """Write a file whole or not at all: temporary file in the same folder, synced, then moved into place.

    Raises InputError.
    """
    import tempfile

    try:
        descriptor, name = tempfile.mkstemp(dir=path.parent or Path("."), prefix=path.name + ".")
        try:
            os.chmod(name, 0o666 & ~_umask())
            with os.fdopen(descriptor, "w", encoding="utf-8", newline="") as handle:
                handle.write(text)
                handle.flush()
                os.fsync(handle.fileno())
            os.replace(name, path)
        except BaseException:
            os.unlink(name)
            raise
    except OSError as error:
        raise _not_written(path, error) from None


def refuse_existing(path: Path) -> None:
    """For commands that start a file a person goes on writing: raises InputError when it is there already."""
    if os.path.lexists(path):
        raise InputError.one(str(path), 0, "exists already and is left as it is", "choose another name")


def refuse_unwritable(path: Path) -> None:
    """For commands that ask much before they write: raises InputError when the file is there already or could not be
    written, before anything is asked.
    """
    import tempfile

    refuse_existing(path)
    try:
        with tempfile.NamedTemporaryFile(dir=path.parent or Path("."), prefix=path.name + "."):
            pass
    except OSError as error:
        raise _not_written(path, error) from None


def _not_written(path: Path, error: OSError) -> InputError:
    return InputError.one(str(path), 0, f"cannot be written ({error.strerror})", "choose another file or folder")


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
