"""The command `meter-test`: finds the meter's thresholds with a few known resistors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from connector_check.cli.console import EXIT_INPUT, emit
from connector_check.errors import InputError
from connector_check.files.text import printable
from connector_check.files.writing import refuse_unwritable, write_whole
from connector_check.probing.keys import ACTIONS
from connector_check.testlog.readings import BEEP, QUIET

if TYPE_CHECKING:
    from connector_check.testlog.meter import Meter
    from connector_check.testlog.self_test import SelfTest

UNDO, QUIT = "undo", "quit"
ANSWERED = ", ".join(f"{ACTIONS[action]} {action}" for action in (BEEP, QUIET, UNDO, QUIT))
TEST_HELP = f"""Find out when your meter sounds, with two or three known resistors.

Loose resistors, not on a board; good values are 22, 47 and 100 ohm, measured first in the ohms range. Questions go to
stderr and answers may come from a file or a pipe, one a line, with the words and letters of probe: {ANSWERED}. At the
end it can be kept as your own meter, which every command then takes where no other is named.
"""


class StoppedError(Exception):
    """The user left the test before its end; nothing was kept."""


@click.command("meter-test", help=TEST_HELP)
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Write the meter file here; default: stdout.")
def meter_test(output: Path | None) -> None:
    """Ask, write the meter file, and offer to keep it."""
    if output is not None:
        refuse_unwritable(output)
    from connector_check.testlog.meter_file import meter_text

    try:
        found = ask_meter()
    except StoppedError:
        click.echo("connector-check: stopped; nothing was kept", err=True)
        raise click.exceptions.Exit(EXIT_INPUT) from None
    if output is None:
        emit(meter_text(found))
    else:
        write_whole(output, meter_text(found))
        emit(printable(f"{output}: {found.in_words()}", lines=True))
    offer_as_own(found)


def ask_meter() -> Meter:
    """The whole test on the console. Raises StoppedError, or InputError when the answers do not give the thresholds."""
    from connector_check.testlog.self_test import TOUCHES

    name = ask("name of the meter (empty: none)", str.strip, empty=True)
    test: SelfTest = ask("loose resistors in ohms (say 22 47 100)", _resistors)
    click.echo(f"resistors: {', '.join(f'{ohms:g}' for ohms in test.resistors)} ohm", err=True)
    while (ohms := test.next()) is not None:
        touch = f"touch {ohms:g} ohm, {len(test.said(ohms)) + 1} of {TOUCHES}: {ANSWERED}"
        heard = ask(touch, _heard)
        test = test.take_back() if heard == UNDO else test.answer(heard)
    outcome = test.outcome()
    for line in (*outcome.contradictions, *outcome.notes):
        click.echo(printable(f"connector-check: {line}", lines=True), err=True)
    found = test.described(printable(name, lines=True))
    if found is None:
        raise InputError.one("meter-test", 0, "the answers do not give the thresholds", "see above, and test again")
    leads = ask("ohms with the leads held together (empty: not known)", _leads, empty=True)
    junction = ask("does it sound on a diode in diode mode: yes, no (empty: not known)", yes_no, empty=True)
    return replace(found, leads_ohms=leads, beeps_on_junction=junction)


def offer_as_own(found: Meter) -> None:
    """Ask whether it is the user's own meter from now on, and keep it. Without an answer it is not."""
    from connector_check.testlog.meter_file import keep_as_own, own_meter_path

    path = own_meter_path()
    instead = " in place of the one there" if path.exists() else ""
    question = f"keep it as your own meter{instead}, used where no other is named ({path}): yes, no"
    try:
        wanted = ask(printable(question, lines=True), yes_no, empty=True)
    except (click.Abort, StoppedError):
        wanted = None
    if wanted:
        keep_as_own(found)
        click.echo(printable(f"connector-check: kept in {path}", lines=True), err=True)


def ask(text: str, read: Callable[[str], Any], empty: bool = False) -> Any:
    """One answered question; `quit` leaves at any of them."""
    from connector_check.probing.probe import line_action

    def answer(typed: str) -> Any:
        if line_action(typed.strip()) == (QUIT, ""):
            raise StoppedError
        return read(typed)

    return click.prompt(text, default="" if empty else None, show_default=False, value_proc=answer, err=True)


def _resistors(text: str) -> SelfTest:
    from connector_check.testlog.self_test import SelfTest, parse_resistors

    try:
        return SelfTest.of(parse_resistors(text))
    except ValueError as error:
        raise click.UsageError(str(error)) from None


def _heard(text: str) -> str:
    from connector_check.probing.probe import line_action

    action, rest = line_action(text.strip())
    if action not in (BEEP, QUIET, UNDO) or rest:
        raise click.UsageError(ANSWERED)
    return action


def _leads(text: str) -> float:
    from connector_check.testlog.meter_file import MOST_LEADS_OHMS
    from connector_check.testlog.readings import parse_ohms

    if not text.strip():
        return 0.0
    ohms = parse_ohms(text)
    if ohms is None or ohms > MOST_LEADS_OHMS:
        raise click.UsageError(f"ohms such as 0.2, at most {MOST_LEADS_OHMS:g}")
    return ohms


def yes_no(text: str) -> bool | None:
    """An answer to `ask`: None for an empty one."""
    words = {"": None, "yes": True, "y": True, "no": False, "n": False}
    if text.strip().lower() not in words:
        raise click.UsageError("yes, no or nothing")
    return words[text.strip().lower()]
