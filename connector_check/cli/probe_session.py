"""Opens a job for the live session, runs it on a terminal or on lines, and closes it with the verdict."""

from __future__ import annotations

import sys
from pathlib import Path
from types import TracebackType
from typing import Any

import click

from connector_check.board.making import make_board, noted_board
from connector_check.cli.console import emit
from connector_check.cli.options import loading
from connector_check.files.text import printable
from connector_check.job import load_job
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.roles import guessed_line
from connector_check.probing.meter_words import hold_words, range_words, saving_words
from connector_check.probing.probe import Keyboard, Probe, Screen, run_keys, run_lines
from connector_check.probing.session import Session
from connector_check.probing.terminal import KeyTerminal
from connector_check.testlog.job import Job
from connector_check.testlog.jobfile import parse, read_text
from connector_check.testlog.jobwriter import JobWriter
from connector_check.testlog.meter import Meter
from connector_check.testlog.meter_file import meter_line, told_meter


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
    path: Path, given: dict[str, Any], passes: int, side: str, speak: bool, assume: str = "", diode: bool = False
) -> OpenSession:
    """Open or create the job file and make the session of it; given: the options of `options.job_options`; diode: it
    begins with a sweep in diode mode. Raises InputError.
    """
    from connector_check.analysis.residual import assumptions_from
    from connector_check.errors import InputError

    assumptions = assumptions_from(assume)
    header: dict[str, str] = {}
    if given["map_name"]:
        header = _header(path, given)
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
        if diode:
            _begin_sweep(session, str(path))
    except BaseException:
        writer.close()
        raise
    told = [*writer.told, *filter(None, [guessed_line(job.board.pin_map.nets)])]
    if given["roles"] and "role" not in header:
        told.append("--role holds for this session only: write it into the job as a line '# role: ...'")
    speaker = None
    if speak:
        from connector_check.probing.speech import Speaker

        speaker = Speaker.find()
        if speaker is None:
            told.append("no speech program found (espeak-ng, say); going on without")
    if job.entries:
        told.append(f"{len(job.entries)} lines of this job taken up; going on from there")
    saving = saving_words(job.board, job.meter, given["scope"], given["shorts_only"])
    told += filter(None, (hold_words(job.meter), range_words(job.meter), saving))
    return OpenSession(path, Probe(session, writer, side, speaker, assumptions), writer, told)


def _header(path: Path, given: dict[str, Any]) -> dict[str, str]:
    """The header lines of a new job; the meter stands in it where it is known, so that the job carries it along."""
    board = make_board(find_pin_map(given["map_name"]), given["layout"], given["variant"])
    header = {"map": board.pin_map.job_name, "layout": board.layout.id}
    if given["variant"]:
        header["variant"] = given["variant"]
    if given["roles"]:
        header["role"] = ", ".join(given["roles"])
    meter = told_meter(given["meter"])
    if not path.exists() and sys.stdin.isatty():
        noted = noted_board(board, given["notes"]) if given["notes"] else board
        saving = saving_words(noted, meter, given["scope"], given["shorts_only"])
        meter = _tested(saving) or meter if saving else meter
    if not meter.is_unknown:
        header["meter"] = meter_line(meter)
    return header


def _tested(saving: str) -> Meter | None:
    """The meter as the user finds it now, when they want to; None when not."""
    from connector_check.cli.meter_test import StoppedError, ask, ask_meter, offer_as_own, yes_no
    from connector_check.errors import InputError

    click.echo(f"connector-check: {saving}", err=True)
    try:
        if not ask("test it now: yes, no (empty: no)", yes_no, empty=True):
            return None
        found = ask_meter()
    except StoppedError:
        return None
    except InputError as error:
        click.echo("\n".join(f"connector-check: {line}" for line in error.lines()), err=True)
        return None
    offer_as_own(found)
    return found


def _begin_sweep(session: Session, file: str) -> None:
    from connector_check.errors import InputError
    from connector_check.probing.answers import AnswerError

    try:
        session.diode()
    except AnswerError as error:
        raise InputError.one(file, 0, str(error), "leave out --diode") from None


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
