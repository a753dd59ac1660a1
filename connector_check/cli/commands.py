"""The command line. Each command parses, calls one library function, hands its record to a renderer and exits."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from connector_check.cli.about_setup import about_setup
from connector_check.cli.bench import plan, probe
from connector_check.cli.board_notes import board_notes
from connector_check.cli.console import EXIT_CODES, EXIT_INPUT, can_draw_lines, emit, wants_colour
from connector_check.cli.history import history
from connector_check.cli.meter_test import meter_test
from connector_check.cli.new_map import new_map
from connector_check.cli.options import (
    complete_layout,
    complete_map,
    complete_pin,
    complete_variant,
    job_options,
    loading,
)
from connector_check.cli.report import report
from connector_check.errors import InputError
from connector_check.files.text import printable
from connector_check.files.writing import write_whole
from connector_check.version import __version__

POINTS_HELP = """\b
Points are joints (4, A1B12, SH1), contacts (A1 means the joint that carries it),
SH for the shell as a whole, and board points: @GND is the board behind net GND.
A net's name where a joint is expected means that net's board point: GND = @GND.
"""


class _Group(click.Group):
    """Shows bad input as one line a problem, exit 1; a bug keeps its traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except InputError as error:
            for line in error.lines():
                click.echo(f"connector-check: {printable(line, lines=True)}", err=True)
            ctx.exit(EXIT_INPUT)


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"]})
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


@main.command(epilog=POINTS_HELP)
@click.argument("readings", metavar="READINGS")
@job_options
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "csv", "markdown", "html"]),
    default="text",
    show_default=True,
)
def check(readings: str, form: str, **given: Any) -> None:
    """Judge a job: shorts that matter, harmless ones, opens, what is unproven, the rework list.

    READINGS is a job file (CSV: pin_a,pin_b,reading,note) or - for standard input.

    Exit codes: 0 clear, 1 bad input, 2 usage, 3 rework, 4 unproven.
    """
    if form == "html":
        from connector_check.cli.report import job_html

        found, page = job_html(_job(readings, given), given["scope"], given["landings"])
        emit(page)
        sys.exit(EXIT_CODES[found])
    result = _result(readings, given)
    if form == "json":
        emit(json.dumps(result.as_json(), indent=2, ensure_ascii=True))
    elif form == "text":
        from connector_check.drawing.colours import colour
        from connector_check.renderers import text

        paint = colour if wants_colour() else (lambda line, tone: line)
        emit("\n".join(paint(printable(line, lines=True), tone) for line, tone in text.result_lines(result)))
    else:
        from connector_check.renderers import tables

        table = tables.findings_table(result)
        emit(tables.as_csv(table) if form == "csv" else tables.as_markdown(table))
    sys.exit(EXIT_CODES[result.verdict])


def _job(readings: str, given: dict[str, Any]) -> Any:
    from connector_check.job import load_job

    job = load_job(readings, **loading(given))
    named, map_name = job.header.get("map", ""), given["map_name"]
    if map_name and named and map_name != named:
        click.echo(
            f"connector-check: the job says map {printable(named, lines=True)}; checked as {job.board.pin_map.id}",
            err=True,
        )
    return job


def _result(readings: str, given: dict[str, Any], order: str = "row") -> Any:
    from connector_check.analysis.check import Settings
    from connector_check.job import check as run

    return run(_job(readings, given), Settings(given["scope"], given["landings"], order))


@main.command()
@click.argument("readings", metavar="READINGS")
@job_options
@click.option("--order", type=click.Choice(["row", "harm"]), default="row", show_default=True,
              help="Along the joints as the iron travels, or worst first.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", "json", "csv", "markdown", "html"]),
              help="Default: by the ending of -o (.csv, .md, .json, .html), else text.")  # fmt: skip
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Write to a file, whole or not at all.")
def rework(readings: str, order: str, form: str | None, output: Path | None, **given: Any) -> None:
    """Print the rework list alone: joints, what to do, what to probe again.

    Exit codes as for check.
    """
    by_ending = {".csv": "csv", ".md": "markdown", ".json": "json", ".html": "html"}
    form = form or (by_ending.get(output.suffix.lower(), "text") if output else "text")
    if form == "html":
        from connector_check.cli.report import rework_html

        found, body = rework_html(_job(readings, given), given["scope"], given["landings"], order)
    else:
        result = _result(readings, given, order)
        found, body = result.verdict, _rework_body(result, form)
    if output is None:
        emit(body)
    else:
        write_whole(output, body)
    sys.exit(EXIT_CODES[found])


def _rework_body(result: Any, form: str) -> str:
    if form == "text":
        from connector_check.renderers import text

        return printable("\n".join(text.rework_lines(result.rework)) + "\n", lines=True)
    if form == "json":
        full = result.as_json()
        return json.dumps({key: full[key] for key in ("schema", "map", "layout", "verdict", "rework")}, indent=2) + "\n"
    from connector_check.renderers import tables

    table = tables.rework_table(result.rework)
    return tables.as_csv(table) if form == "csv" else tables.as_markdown(table)


@main.command()
@click.option(
    "--find", "words", default="", metavar="WORDS", help="Only maps whose id, title or signal names hold these words."
)
@click.option("--pins", type=int, metavar="N", help="Only maps with N contacts or N solder joints (shell not counted).")
@click.option(
    "--pitch", type=float, metavar="MM", help="Only maps with this pitch, at the face or at the solder joints."
)
@click.option("--sources", is_flag=True, help="What each map was compared with, and what rests on memory.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
def maps(words: str, pins: int | None, pitch: float | None, sources: bool, form: str) -> None:
    """List the pin maps: shipped ones, and your own in the folder named by CONNECTOR_CHECK_MAPS.

    An unknown port can be named by what you can see and measure: --pins 19 --pitch 0.5.
    """
    from connector_check.pinout.library import find_pin_map, list_ids
    from connector_check.pinout.search import search
    from connector_check.renderers import maps as renderer

    found = search([find_pin_map(map_id) for map_id in list_ids()], words, pins, pitch)
    if form == "json":
        emit(json.dumps(renderer.list_json(found), indent=2, ensure_ascii=True))
    else:
        emit(renderer.sources_text(found) if sources else renderer.list_text(found))


@main.command()
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
def lint(files: tuple[str, ...]) -> None:
    """Check pin map files: every problem of every file at once. Exit code 1 when there is any."""
    from connector_check.pinout.pinmap_file import load_pin_map

    problems = []
    for file in files:
        try:
            found = load_pin_map(file)
            emit(
                printable(
                    f"{file}: good, {found.id}, {len(found.net_of)} contacts, {len(found.layouts)} layouts", lines=True
                )
            )
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)


@main.command()
@click.argument("map_name", metavar="MAP", shell_complete=complete_map)
@click.option(
    "--variant",
    default="",
    metavar="V",
    shell_complete=complete_variant,
    help="Show the map as that revision or wiring has it.",
)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@click.option("--face", is_flag=True, help="Draw the mating face, seen looking into the mouth.")
@click.option("--solder", is_flag=True, help="Draw the solder joints.")
@click.option(
    "--pin",
    default="",
    metavar="PIN",
    shell_complete=complete_pin,
    help="One contact or joint: net, place, neighbours.",
)
@click.option(
    "--layout",
    default="",
    metavar="L",
    shell_complete=complete_layout,
    help="Layout to draw; default: the job's, else the map's first.",
)
@click.option("--side", type=click.Choice(["component", "solder"]), default="component", show_default=True,
              help="The side of the board the joints are seen from.")  # fmt: skip
@click.option("--rotate", type=click.Choice(["0", "90", "180", "270"]), default="0", show_default=True,
              help="Turn the joints' drawing, in degrees.")  # fmt: skip
@click.option("--job", "readings", default="", metavar="READINGS", help="Show each joint's state in this job.")
@click.option(
    "--width", type=click.IntRange(24, 400), default=80, show_default=True, help="Columns of a terminal drawing."
)
@click.option("--ascii", "ascii_only", is_flag=True, help="Draw with plain ASCII.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Write the drawing as an SVG file.")
def show(
    map_name: str, variant: str, form: str, face: bool, solder: bool, layout: str, side: str, rotate: str, readings: str,
    width: int, ascii_only: bool, output: Path | None, pin: str,
) -> None:  # fmt: skip
    """Print one pin map: contacts, roles, nets, volts, layouts, sources; or draw its face or its solder joints.

    MAP is an id or a .yaml file.
    """
    from connector_check.board.making import make_board
    from connector_check.pinout.library import find_pin_map

    if face or solder:
        for_svg = output is not None
        if for_svg and face and solder:
            raise click.UsageError("one SVG file holds one drawing: give --face or --solder")
        views = _views(map_name, variant, layout, readings, face, solder, side, int(rotate))
        _draw(views, width, ascii_only, output)
        return
    if output or readings:
        raise click.UsageError("-o and --job go with a drawing: add --face or --solder")
    from connector_check.renderers.maps import map_json, map_text, pin_text

    if pin:
        emit(printable(pin_text(make_board(find_pin_map(map_name), layout, variant), pin, side), lines=True))
        return
    pin_map = make_board(find_pin_map(map_name), layout, variant).pin_map
    emit(json.dumps(map_json(pin_map), indent=2) if form == "json" else printable(map_text(pin_map), lines=True))


def _views(
    map_name: str, variant: str, layout: str, readings: str, face: bool, solder: bool, side: str, rotate: int
) -> list[tuple[Any, Any]]:
    """The views asked for, each with the states of its marks."""
    from connector_check.board.making import make_board
    from connector_check.drawing import views as drawing
    from connector_check.job import check as run
    from connector_check.job import load_job
    from connector_check.pinout.library import find_pin_map

    states: dict[str, drawing.State] = {}
    if readings:
        job = load_job(readings, map_name, layout, variant)
        board = job.board
        states = drawing.states(board, run(job))
    else:
        board = make_board(find_pin_map(map_name), layout, variant)
    views: list[tuple[Any, Any]] = []
    if face:
        views.append((drawing.face_view(board.pin_map), drawing.states_by_contact(board, states) if states else {}))
    if solder:
        views.append((drawing.solder_view(board, side, rotate), states))
    return views


def _draw(views: list[tuple[Any, Any]], width: int, ascii_only: bool, output: Path | None) -> None:
    if output is not None:
        from connector_check.drawing.svg import draw_svg

        write_whole(output, draw_svg(*views[0]))
        return
    from connector_check.drawing.text import draw_text

    narrow = ascii_only or not can_draw_lines()
    emit("\n".join(draw_text(view, states, width, narrow, wants_colour()) for view, states in views))


@main.command()
def demo() -> None:
    """Run the whole job on the shipped example, explained as it goes."""
    from connector_check.cli.demo import demo_lines

    for line in demo_lines():
        emit(line)


main.add_command(probe)
main.add_command(plan)
main.add_command(new_map)
main.add_command(meter_test)
main.add_command(board_notes)
main.add_command(history)
main.add_command(report)
main.add_command(about_setup)
