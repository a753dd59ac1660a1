"""The command `about-setup`: what a fault report needs to know of this installation."""

from __future__ import annotations

import json
import os
import sys
from contextlib import suppress
from typing import TYPE_CHECKING

import click

from connector_check.cli.console import can_draw_lines, emit, wants_colour
from connector_check.files.text import printable

if TYPE_CHECKING:
    from connector_check.reports.setup import Terminal


@click.command("about-setup")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
def about_setup(form: str) -> None:
    """Print what a fault report needs: versions, packages, terminal, speech program, maps, environment variables.

    Put its output into the report. Your home folder is written ~; nothing leaves this machine. Exit code 0.
    """
    from connector_check.probing.speech import PROGRAMS, Speaker
    from connector_check.renderers.setup import setup_json, setup_lines
    from connector_check.reports.setup import gather_setup

    speaker = Speaker.find()
    setup = gather_setup(_terminal(), speaker.program if speaker else "")
    if form == "json":
        emit(json.dumps(setup_json(setup), indent=2, ensure_ascii=True))
        return
    remedy = f"--speak needs one of {', '.join(PROGRAMS)}; on Debian: apt-get install {PROGRAMS[0]}"
    emit("\n".join(printable(line) for line in setup_lines(setup, remedy)))


def _terminal() -> Terminal:
    from connector_check.reports.setup import Terminal

    size: os.terminal_size | None = None
    with suppress(OSError, ValueError):
        size = os.get_terminal_size(sys.stdout.fileno())
    return Terminal(
        columns=size.columns if size else None,
        lines=size.lines if size else None,
        encoding=getattr(sys.stdout, "encoding", None) or "unknown",
        kind=os.environ.get("TERM", ""),
        keyboard=sys.stdin.isatty(),
        screen=sys.stdout.isatty(),
        colour=wants_colour(),
        line_drawing=can_draw_lines(),
    )
