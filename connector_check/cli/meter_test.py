"""The command `meter-test`: finds the meter's thresholds with a few known resistors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from connector_check.cli.console import emit
from connector_check.errors import InputError
from connector_check.files.text import printable
from connector_check.files.writing import refuse_existing, write_whole
from connector_check.testlog.readings import BEEP, QUIET, parse_ohms

if TYPE_CHECKING:
    from connector_check.testlog.meter_file import MeterDescription, SelfTest

ANSWERS = {"beep": BEEP, "b": BEEP, "quiet": QUIET, "q": QUIET, "back": ""}


@click.command("meter-test")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Write the meter file here; default: stdout.")
def meter_test(output: Path | None) -> None:
    """Find out when your meter sounds, with two or three known resistors.

    Loose resistors, not on a board; good values are 22, 47 and 100 ohm, measured first in the ohms range. Questions
    go to stderr and answers may come from a file or a pipe, one a line: beep, quiet, or back for the answer before.
    """
    if output is not None:
        refuse_existing(output)
    from connector_check.testlog.meter_file import meter_text

    described = _ask()
    text = meter_text(described)
    if output is None:
        emit(text)
    else:
        write_whole(output, text)
        low, high = described.meter.sounds_below, described.meter.silent_above
        emit(printable(f"{output}: sounds below {low:g} ohm, silent above {high:g} ohm", lines=True))


def _ask() -> MeterDescription:
    from connector_check.testlog.meter_file import TOUCHES

    name = click.prompt("name of the meter (empty: none)", default="", show_default=False, err=True)
    test = click.prompt("loose resistors in ohms, spaces between (say 22 47 100)", value_proc=_resistors, err=True)
    while (ohms := test.next()) is not None:
        touch = f"touch {ohms:g} ohm, {len(test.said(ohms)) + 1} of {TOUCHES}: beep, quiet or back"
        heard = click.prompt(touch, value_proc=_answer, err=True)
        test = test.answer(heard) if heard else test.take_back()
    outcome = test.outcome()
    for line in (*outcome.contradictions, *outcome.notes):
        click.echo(printable(f"connector-check: {line}", lines=True), err=True)
    described = test.described(printable(name.strip(), lines=True))
    if described is None:
        raise InputError.one("meter-test", 0, "the answers do not give the thresholds", "see above, and test again")
    leads = _prompt_or_nothing("ohms with the leads held together (empty: not known)", _leads)
    junction = _prompt_or_nothing("does it beep on a diode in diode mode: yes, no (empty: not known)", _yes_no)
    return replace(described, leads_ohms=leads, beeps_on_junction=junction)


def _prompt_or_nothing(text: str, value: Callable[[str], Any]) -> Any:
    return click.prompt(text, default="", show_default=False, value_proc=value, err=True)


def _resistors(text: str) -> SelfTest:
    from connector_check.testlog.meter_file import SelfTest

    values = [parse_ohms(word) for word in text.split()]
    if None in values:
        raise click.UsageError("ohms with spaces between, such as 22 47 100 or 4.7 0.1k")
    try:
        return SelfTest.of([v for v in values if v is not None])
    except ValueError as error:
        raise click.UsageError(str(error)) from None


def _answer(text: str) -> str:
    heard = ANSWERS.get(text.strip().lower())
    if heard is None:
        raise click.UsageError("beep, quiet or back")
    return heard


def _leads(text: str) -> float | None:
    if not text.strip():
        return None
    ohms = parse_ohms(text)
    if ohms is None or ohms > 100:
        raise click.UsageError("ohms such as 0.2, at most 100")
    return ohms


def _yes_no(text: str) -> bool | None:
    words = {"": None, "yes": True, "y": True, "no": False, "n": False}
    if text.strip().lower() not in words:
        raise click.UsageError("yes, no or nothing")
    return words[text.strip().lower()]
