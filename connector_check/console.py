"""What the commands share at the console: harmless text, encodings, colour, exit codes."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from connector_check.errors import InputError

EXIT_INPUT = 1
EXIT_CODES = {"clear": 0, "rework": 3, "unproven": 4}


def printable(text: str) -> str:
    """Text without control characters and direction marks, so that no input can steer the terminal."""
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)


def emit(text: str) -> None:
    """Write to stdout what its encoding can show."""
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    click.echo(text.encode(encoding, "replace").decode(encoding), nl=not text.endswith("\n"))


def wants_colour() -> bool:
    """Colour only on a terminal, and not against NO_COLOR."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def refuse_existing(path: Path) -> None:
    """For commands that start a file a person goes on writing: raises InputError when it is there already."""
    if os.path.lexists(path):
        raise InputError.one(str(path), 0, "exists already and is left as it is", "choose another name")


def can_draw_lines() -> bool:
    """Whether stdout's encoding has line-drawing characters."""
    try:
        "\N{BOX DRAWINGS LIGHT HORIZONTAL}\N{CHECK MARK}".encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except UnicodeEncodeError:
        return False
    return True


def write_whole(path: Path, text: str) -> None:
    """Write a file whole or not at all: temporary file in the same folder, synced, then moved into place."""
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
        raise InputError.one(
            str(path), 0, f"cannot be written ({error.strerror})", "choose another file or folder"
        ) from None


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
