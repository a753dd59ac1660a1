"""What the commands share at the console: harmless text, encodings, colour, exit codes."""

from __future__ import annotations

import os
import sys

import click

from connector_check.files.text import printable

EXIT_INPUT = 1
EXIT_CODES = {"clear": 0, "rework": 3, "unproven": 4}


def emit(text: str) -> None:
    """Write to stdout what its encoding can show."""
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    click.echo(text.encode(encoding, "replace").decode(encoding), nl=not text.endswith("\n"))


def say(text: str) -> None:
    """Write to stdout, control characters and direction marks made harmless."""
    emit(printable(text, lines=True))


def wants_colour() -> bool:
    """Colour only on a terminal, and not against NO_COLOR."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def can_draw_lines() -> bool:
    """Whether stdout's encoding has line-drawing characters."""
    try:
        "\N{BOX DRAWINGS LIGHT HORIZONTAL}\N{CHECK MARK}".encode(getattr(sys.stdout, "encoding", None) or "ascii")
    except UnicodeEncodeError:
        return False
    return True
