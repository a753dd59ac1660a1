"""Opens a job for the live session, runs it on a terminal or on lines, and closes it with the verdict."""

from __future__ import annotations

import sys
from pathlib import Path
from types import TracebackType
from typing import Any

import click

from connector_check.board.making import make_board
from connector_check.cli.console import emit
from connector_check.cli.options import loading
from connector_check.files.text import printable
from connector_check.job import load_job
from connector_check.pinout.library import find_pin_map
from connector_check.probing.probe import Keyboard, Probe, Screen, run_keys, run_lines
from connector_check.probing.session import Session
from connector_check.probing.terminal import KeyTerminal
from connector_check.testlog.job import Job
from connector_check.testlog.jobfile import parse, read_text
from connector_check.testlog.jobwriter import JobWriter


class OpenSession:
    """A probe on an open job file; closing it releases the file."""

    def __init__(self, path: Path, probe: Probe, writer: JobWriter, told: list[str]) -> None:
        self.path, self.probe, self.writer, self.told = path, probe, writer, told

    def __enter__(self) -> OpenSession:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.writer.close()
        if self.probe.speaker is not None:
            self.probe.speaker.close()

    def closing(self) -> tuple[str, list[str]]:
        """The verdict, and what is printed at the end: findings, ledger, rework list, and where
        nothing was found the residual risk with its assumptions.

        Read from the file again, so that it speaks of what is on disk.
        """
        from connector_check.analysis.examine import Settings, examine
        from connector_check.analysis.residual import residual_risk
        from connector_check.renderers.residual import residual_lines
        from connector_check.renderers.text import result_lines

        session = self.probe.session
        board = session.board
        entries = parse(read_text(str(self.path)), board)
        job = Job(board, entries, session.meter, good_boards=session.good_boards, as_good=session.as_good)
        found = examine(job, Settings(session.scope, session.shorts_only))
        lines = [line for line, _ in result_lines(found.result)]
        risk = residual_risk(found.result, found.standing, self.probe.assumptions)
        return found.result.verdict, lines + (residual_lines(risk) if risk else [])


def open_session(
    path: Path, given: dict[str, Any], passes: int, side: str, speak: bool, assume: str = ""
) -> OpenSession:
    """Open or create the job file and make the session of it; given: the options of `options.job_options`. Raises
    InputError.
    """
    from connector_check.analysis.residual import assumptions_from
    from connector_check.errors import InputError

    assumptions = assumptions_from(assume)
    header: dict[str, str] = {}
    if given["map_name"]:
        board = make_board(find_pin_map(given["map_name"]), given["layout"], given["variant"])
        header = {"map": given["map_name"], "layout": board.layout.id}
        if given["variant"]:
            header["variant"] = given["variant"]
    elif not path.exists():
        raise InputError.one(
            str(path), 0, "a new job and no pin map named", "give --map ID ('connector-check maps' lists them)"
        )
    writer = JobWriter.open(path, header)
    try:
        job = load_job(str(path), **loading(given))
        session = Session(
            job.board,
            job.entries,
            given["scope"],
            given["shorts_only"],
            passes,
            job.meter,
            job.good_boards,
            job.as_good,
        )
    except BaseException:
        writer.close()
        raise
    told = list(writer.told)
    speaker = None
    if speak:
        from connector_check.probing.speech import Speaker

        speaker = Speaker.find()
        if speaker is None:
            told.append("no speech program found (espeak-ng, say); going on without")
    if job.entries:
        told.append(f"{len(job.entries)} lines of this job taken up; going on from there")
    return OpenSession(path, Probe(session, writer, side, speaker, assumptions), writer, told)


def run(opened: OpenSession, keys: dict[str, str], bounce: float, plain: bool) -> None:
    """Run the session until it is quit or done."""
    probe = opened.probe
    told = printable("; ".join(opened.told), lines=True)
    if not sys.stdin.isatty():
        if told:
            click.echo(f"connector-check: {told}", err=True)
        run_lines(probe, iter(sys.stdin), lambda text: _line(printable(text, lines=True)))
        return
    with KeyTerminal() as terminal:
        keyboard = Keyboard(terminal.read, keys, bounce)
        try:
            if plain or not sys.stdout.isatty():
                run_keys(probe, keyboard, lambda message: _plain_step(probe, message), terminal.ask, told)
            else:
                with Screen(probe, keys) as screen:
                    run_keys(probe, keyboard, screen.show, lambda prompt: terminal.ask(screen.bottom(prompt)), told)
        except EOFError:
            return


def _plain_step(probe: Probe, message: str) -> None:
    for text in filter(None, (probe.noted and f"noted: {probe.noted}", message)):
        _line(printable(text, lines=True))
    _line(printable(probe.line(), lines=True))


def _line(text: str) -> None:
    emit(text)
    sys.stdout.flush()
