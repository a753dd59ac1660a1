"""The command line. Each command parses, calls one library function, hands its record to a renderer and exits."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from connector_check.errors import InputError

EXIT_INPUT = 1
EXIT_CODES = {"clear": 0, "rework": 3, "unproven": 4}

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
                click.echo(f"connector-check: {printable(line)}", err=True)
            ctx.exit(EXIT_INPUT)


def printable(text: str) -> str:
    """Text without control characters and direction marks, so that no input can steer the terminal."""
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)


def emit(text: str) -> None:
    """Write to stdout what its encoding can show."""
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    click.echo(text.encode(encoding, "replace").decode(encoding), nl=not text.endswith("\n"))


def wants_colour() -> bool:
    """Colour only on a terminal, and not against NO_COLOR."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="connector-check")
def main() -> None:
    """Checks a connector that was just soldered, from what a beeping meter said.

    \b
    connector-check demo              the whole job on a shipped example
    connector-check maps              the connectors it knows
    connector-check check JOB.csv     verdict, findings, what is still unproven
    connector-check rework JOB.csv    the rework list alone

    Only on a board without power: unplugged, batteries out, capacitors discharged.
    """


def _job_options(command: Callable[..., Any]) -> Callable[..., Any]:
    for option in reversed(
        [
            click.argument("readings", metavar="READINGS"),
            click.option("--map", "map_name", default="", metavar="ID|FILE", help="Pin map; goes before the job's own '# map:' line."),
            click.option("--layout", default="", metavar="L", help="Layout of the part; default: the job's, else the map's first."),
            click.option("--variant", default="", metavar="V", help="Revision or wiring, where the map has several."),
            click.option("--scope", type=click.Choice(["near", "wide", "all"]), default="near", show_default=True,
                         help="Which pairs must be proven apart: neighbours in line of sight, neighbours at all, every pair."),
            click.option("--landings", is_flag=True, help="Require single signals to reach their board points as well."),
        ]
    ):  # fmt: skip
        command = option(command)
    return command


@main.command(epilog=POINTS_HELP)
@_job_options
@click.option(
    "--format", "form", type=click.Choice(["text", "json", "csv", "markdown"]), default="text", show_default=True
)
def check(readings: str, map_name: str, layout: str, variant: str, scope: str, landings: bool, form: str) -> None:
    """Judge a job: shorts that matter, harmless ones, opens, what is unproven, the rework list.

    READINGS is a job file (CSV: pin_a,pin_b,reading,note) or - for standard input.

    Exit codes: 0 clear, 1 bad input, 2 usage, 3 rework, 4 unproven.
    """
    result = _result(readings, map_name, layout, variant, scope, landings)
    if form == "json":
        emit(json.dumps(result.as_json(), indent=2, ensure_ascii=True))
    elif form == "text":
        from connector_check.renderers import text

        paint = text.colour if wants_colour() else (lambda line, tone: line)
        emit("\n".join(paint(printable(line), tone) for line, tone in text.result_lines(result)))
    else:
        from connector_check.renderers import tables

        table = tables.findings_table(result)
        emit(tables.as_csv(table) if form == "csv" else tables.as_markdown(table))
    sys.exit(EXIT_CODES[result.verdict])


def _result(
    readings: str, map_name: str, layout: str, variant: str, scope: str, landings: bool, order: str = "row"
) -> Any:
    from connector_check.check import check as run
    from connector_check.jobfile import load_job

    job = load_job(readings, map_name, layout, variant)
    named = job.header.get("map", "")
    if map_name and named and map_name != named:
        click.echo(f"connector-check: the job says map {printable(named)}; checked as {job.board.pin_map.id}", err=True)
    return run(job.board, job.entries, scope, landings, job.meter, order)


@main.command()
@_job_options
@click.option("--order", type=click.Choice(["row", "harm"]), default="row", show_default=True,
              help="Along the joints as the iron travels, or worst first.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", "json", "csv", "markdown"]),
              help="Default: by the ending of -o (.csv, .md, .json), else text.")  # fmt: skip
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Write to a file, whole or not at all.")
def rework(
    readings: str, map_name: str, layout: str, variant: str, scope: str, landings: bool, order: str, form: str | None,
    output: Path | None,
) -> None:  # fmt: skip
    """Print the rework list alone: joints, what to do, what to probe again.

    Exit codes as for check.
    """
    result = _result(readings, map_name, layout, variant, scope, landings, order)
    by_ending = {".csv": "csv", ".md": "markdown", ".json": "json"}
    form = form or (by_ending.get(output.suffix.lower(), "text") if output else "text")
    if form == "text":
        from connector_check.renderers import text

        body = printable("\n".join(text.rework_lines(result.rework)) + "\n")
    elif form == "json":
        full = result.as_json()
        body = json.dumps({key: full[key] for key in ("schema", "map", "layout", "verdict", "rework")}, indent=2) + "\n"
    else:
        from connector_check.renderers import tables

        table = tables.rework_table(result.rework)
        body = tables.as_csv(table) if form == "csv" else tables.as_markdown(table)
    if output is None:
        emit(body)
    else:
        write_whole(output, body)
    sys.exit(EXIT_CODES[result.verdict])


def write_whole(path: Path, text: str) -> None:
    """Write a file whole or not at all: temporary file in the same folder, synced, then moved into place."""
    import tempfile

    try:
        descriptor, name = tempfile.mkstemp(dir=path.parent or Path("."), prefix=path.name + ".")
        try:
            with os.fdopen(descriptor, "w", encoding="utf-8", newline="") as handle:
                handle.write(text)
                handle.flush()
                os.fsync(handle.fileno())
            os.replace(name, path)
        except BaseException:
            os.unlink(name)
            raise
    except OSError as error:
        raise InputError.one(
            str(path), 0, f"cannot be written ({error.strerror})", "choose another file or folder"
        ) from None


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
    from connector_check.map_search import search
    from connector_check.pinmap_library import find_pin_map, list_ids
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
    from connector_check.pinmap_file import load_pin_map

    problems = []
    for file in files:
        try:
            found = load_pin_map(file)
            emit(printable(f"{file}: good, {found.id}, {len(found.net_of)} contacts, {len(found.layouts)} layouts"))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)


@main.command()
@click.argument("map_name", metavar="MAP")
@click.option("--variant", default="", metavar="V", help="Show the map as that revision or wiring has it.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
def show(map_name: str, variant: str, form: str) -> None:
    """Print one pin map: contacts, roles, nets, volts, layouts, sources. MAP is an id or a .yaml file."""
    from connector_check.jobfile import make_board
    from connector_check.pinmap_library import find_pin_map
    from connector_check.renderers.maps import map_json, map_text

    pin_map = find_pin_map(map_name)
    if variant:
        pin_map = make_board(pin_map, "", variant).pin_map
    emit(json.dumps(map_json(pin_map), indent=2) if form == "json" else printable(map_text(pin_map)))


@main.command()
def demo() -> None:
    """Run the whole job on the shipped example, explained as it goes."""
    from connector_check.demo import demo_lines

    for line in demo_lines():
        emit(line)
