"""The commands `good-board`: jobs of boards known to be good, kept for comparison."""

from __future__ import annotations

from typing import Any

import click
from click.shell_completion import CompletionItem

from connector_check.cli.console import emit, say
from connector_check.cli.options import connector_options
from connector_check.files.text import printable


def complete_name(_ctx: click.Context, _: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Names of sets that are kept."""
    from connector_check.testlog.good_boards import names

    return [CompletionItem(name) for name in names() if name.startswith(incomplete)]


@click.group("good-board")
def good_board() -> None:
    """Keep jobs of boards known to be good, a name for each kind of board, for --like NAME.

    They lie in your own folder (CONNECTOR_CHECK_HOME names another).
    """


@good_board.command()
@click.argument("name", metavar="NAME", shell_complete=complete_name)
@click.argument("job", metavar="JOB.csv", type=click.Path())
@connector_options
@click.option("--notes", default="", metavar="BOARD.yaml", help="What is special about this board, from board-notes.")
@click.option(
    "--by-design",
    is_flag=True,
    help="This board is known to work: what the check finds on it is the designer's doing.",
)
def add(name: str, job: str, notes: str, by_design: bool, **given: Any) -> None:
    """Keep a copy of JOB.csv as a good board of the kind NAME.

    The job may be partial, say a diode-mode sweep alone. One with findings is refused, and so is one that contradicts
    itself, is of another connector than the others of that name, or holds the readings of one of them.
    """
    from connector_check.reports.good_boards import vetted
    from connector_check.testlog import good_boards

    good_boards.check_name(name)
    found = vetted(job, _asked(given), name, notes, by_design)
    for line in found.told:
        click.echo(f"connector-check: {printable(line)}", err=True)
    path = good_boards.keep(name, job, found.header)
    say(printable(f"kept as {path.stem} of {name}: compare with --like {name}\n", lines=True))


@good_board.command("list")
def list_sets() -> None:
    """List the kinds of boards that are kept, with their connector and jobs."""
    from connector_check.renderers.good_boards import list_lines
    from connector_check.testlog import good_boards

    emit("\n".join(printable(line) for line in list_lines(good_boards.kept())))


@good_board.command()
@click.argument("name", metavar="NAME", shell_complete=complete_name)
@connector_options
@click.option("--notes", default="", metavar="BOARD.yaml", help="What is special about this board, from board-notes.")
def show(name: str, notes: str, **given: Any) -> None:
    """Show what the good boards of NAME read: medians and spread, and where they disagree."""
    from connector_check.renderers.good_boards import summary_lines
    from connector_check.reports.good_boards import load_set, summary_of

    found = summary_of(load_set(name, _asked(given), notes))
    emit("\n".join(printable(line) for line in summary_lines(found)))


def _asked(given: dict[str, Any]) -> tuple[str, str, str]:
    return given["map_name"], given["layout"], given["variant"]


@good_board.command()
@click.argument("name", metavar="NAME", shell_complete=complete_name)
@click.argument("job", metavar="JOB")
def remove(name: str, job: str) -> None:
    """Take JOB, as `show` names it, out of the good boards of NAME."""
    from connector_check.testlog import good_boards

    path = good_boards.remove(name, job)
    say(printable(f"removed {path.stem} from {name}\n", lines=True))
