"""The command line: the group of all commands, and how bad input is told."""

from __future__ import annotations

from typing import Any

import click

from connector_check.cli.about_setup import about_setup
from connector_check.cli.bench import plan, probe
from connector_check.cli.board_notes import board_notes
from connector_check.cli.check import check, rework
from connector_check.cli.console import EXIT_INPUT, emit
from connector_check.cli.good_board import good_board
from connector_check.cli.history import history
from connector_check.cli.maps import lint, maps
from connector_check.cli.meter_test import meter_test
from connector_check.cli.new_map import new_map
from connector_check.cli.report import report
from connector_check.cli.show import show
from connector_check.errors import InputError
from connector_check.files.text import printable
from connector_check.version import __version__


class Commands(click.Group):
    """Shows bad input as one line a problem, exit 1; a bug keeps its traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; problems of the input are told and end it."""
        try:
            return super().invoke(ctx)
        except InputError as error:
            for line in error.lines():
                click.echo(f"connector-check: {printable(line, lines=True)}", err=True)
            ctx.exit(EXIT_INPUT)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__)
def main() -> None:
    """Checks a connector that was just soldered, from what a beeping meter said.

    \b
    connector-check demo              the whole job on a shipped example
    connector-check maps              the connectors it knows
    connector-check check JOB.csv     verdict, findings, what is still unproven
    connector-check rework JOB.csv    the rework list alone

    Only on a board without power: unplugged, batteries out, capacitors discharged.
    """


@main.command()
def demo() -> None:
    """Run the whole job on the shipped example, explained as it goes."""
    from connector_check.cli.demo import demo_lines

    for line in demo_lines():
        emit(line)


for command in (
    check,
    rework,
    maps,
    show,
    lint,
    probe,
    plan,
    new_map,
    meter_test,
    board_notes,
    history,
    report,
    good_board,
    about_setup,
):
    main.add_command(command)
