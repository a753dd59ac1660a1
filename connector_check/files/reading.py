"""Reading files without being led astray by their size."""

from __future__ import annotations

from pathlib import Path

from connector_check.errors import InputError

CHECK_NAME = "check the name and its rights"


def read_capped(path: Path | str, file: str, most: int, remedy: str = CHECK_NAME) -> bytes:
    """The bytes of a file, at most one more than `most`, so that the caller can tell a larger one without reading it.

    file: its name in messages. Raises InputError.
    """
    try:
        with open(path, "rb") as handle:
            return handle.read(most + 1)
    except OSError as error:
        raise InputError.one(file, 0, f"cannot be read ({error.strerror})", remedy) from None
    except ValueError:
        raise InputError.one("a file name", 0, "cannot be opened", "check the name") from None
