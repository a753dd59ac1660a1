"""The commands used at the bench: `probe`, the live session, and `plan`, the touches still needed."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from connector_check.cli.console import EXIT_CODES, emit
from connector_check.cli.options import job_options, loading
from connector_check.errors import InputError
from connector_check.files.text import printable
from connector_check.probing.keys import KEYS_HELP, key_map

KEYS_VARIABLE = "CONNECTOR_CHECK_KEYS"


PROBE_HELP = f"""The live session: says which two points to touch and takes each answer in one keystroke.

Each answer is on disk before the screen shows it; stop at any time and go on later with the same job file. When
stdin is no terminal, answers are read as lines of words.

Keys: {KEYS_HELP}. Exit codes as for check.
"""
KEYS_OPTION_HELP = f"Other keys, say for foot pedals: beep=a,quiet=k. Also from {KEYS_VARIABLE}."
PASSES_HELP = "How many silences must stand for each pair that reads silent; for a join or contact at least two."
DIODE_HELP = "Begin with a sweep in diode mode: red lead on ground, the volts of each contact in the order of the row."
ASSUME_HELP = "Other assumptions of the residual risk, by the names printed with it: miss=0.05,prior_at_least_gap=0.02."


@click.command(help=PROBE_HELP)
@click.argument("job", metavar="JOB.csv", type=click.Path(path_type=Path))
@job_options
@click.option("--passes", type=click.IntRange(1, 5), default=1, show_default=True, help=PASSES_HELP)
@click.option(
    "--side",
    type=click.Choice(["solder", "component"]),
    default="component",
    show_default=True,
    help="The side of the board you look at.",
)
@click.option("--plain", is_flag=True, help="One line a step, no cursor moves (screen readers, narrow terminals).")
@click.option("--speak", is_flag=True, help="Say aloud what to touch, with an installed speech program.")
@click.option("--keys", default="", envvar=KEYS_VARIABLE, metavar="ACTION=KEY,...", help=KEYS_OPTION_HELP)
@click.option("--diode", is_flag=True, help=DIODE_HELP)
@click.option("--assume", default="", metavar="NAME=VALUE,...", help=ASSUME_HELP)
@click.option(
    "--bounce",
    type=click.FloatRange(0, 2),
    default=0.15,
    show_default=True,
    metavar="SECONDS",
    help="The same key within this time counts once.",
)
def probe(
    job: Path,
    passes: int,
    side: str,
    plain: bool,
    speak: bool,
    keys: str,
    diode: bool,
    assume: str,
    bounce: float,
    **given: Any,
) -> None:
    """Run the live session on a job file, print its verdict and leave with its exit code."""
    from connector_check.cli.probe_session import open_session, run

    try:
        by_key = key_map(keys)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--keys") from None
    opened = open_session(job, given, passes, side, speak, assume, diode)
    try:
        with opened:
            run(opened, by_key, bounce, plain)
    except KeyboardInterrupt:
        click.echo("\nstopped; every answer so far is on disk", err=True)
    verdict, lines = opened.closing()
    for line in lines:
        emit(printable(line, lines=True))
    sys.exit(EXIT_CODES[verdict])


@click.command()
@click.argument("job", metavar="[JOB.csv]", default="", required=False)
@job_options
@click.option("--diode", is_flag=True, help="The form of a sweep in diode mode instead.")
@click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", show_default=True)
def plan(job: str, diode: bool, form: str, **given: Any) -> None:
    """Print the touches still needed, in an order in which one lead stays put; on paper for a bench without a
    screen. As csv it is a job file whose readings are still empty.
    """
    from connector_check.board.making import make_board, noted_board
    from connector_check.job import beside_good_boards, load_job
    from connector_check.pinout.library import find_pin_map
    from connector_check.pinout.told_roles import ROLE_OPTION, read_told
    from connector_check.probing.planner import plan_json
    from connector_check.probing.progress import Progress
    from connector_check.probing.sweep import sweep_form
    from connector_check.renderers.plan import plan_csv, plan_lines
    from connector_check.renderers.sweep_form import sweep_csv, sweep_json, sweep_lines
    from connector_check.testlog.job import Job
    from connector_check.testlog.meter_file import told_meter

    if job:
        loaded = load_job(job, **loading(given))
    elif given["map_name"]:
        told = read_told((ROLE_OPTION, text) for text in given["roles"])
        board = make_board(find_pin_map(given["map_name"]), given["layout"], given["variant"], roles=told)
        noted = noted_board(board, given["notes"]) if given["notes"] else board
        loaded = Job(noted, [], told_meter(given["meter"]))
        if given["like"]:
            loaded = beside_good_boards(loaded, given["like"], (given["map_name"], given["layout"], given["variant"]))
    else:
        raise InputError.one("plan", 0, "neither a pin map nor a job named", "give --map ID, a job file, or both")
    board = loaded.board
    progress = Progress(
        board, loaded.entries, given["scope"], given["shorts_only"], 1, loaded.meter, loaded.good_boards, loaded.as_good
    )
    if diode:
        contacts = sweep_form(board, progress.standing)
        shown = {
            "json": lambda: json.dumps(sweep_json(contacts), indent=2),
            "csv": lambda: sweep_csv(contacts, board),
            "text": lambda: "\n".join(sweep_lines(contacts, board)),
        }
    else:
        planned = progress.planned
        shown = {
            "json": lambda: json.dumps(plan_json(planned, board), indent=2),
            "csv": lambda: plan_csv(planned, board),
            "text": lambda: "\n".join(plan_lines(planned, progress.examined().result, board, loaded.meter)),
        }
    text = shown[form]().rstrip("\n")
    emit(text if form == "json" else printable(text, lines=True))
