"""The command `history`: what many job files say together."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from connector_check.cli.console import EXIT_INPUT, emit, say
from connector_check.files.text import printable
from connector_check.files.writing import write_whole


@click.command()
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path))
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "csv", "json"]),
    default="text",
    show_default=True,
    help="csv is one row a job.",
)
@click.option("-o", "--output", metavar="CHART.svg", type=click.Path(path_type=Path), help="Write a bar chart as well.")
def history(folder: Path, form: str, output: Path | None) -> None:
    """Count over all job files (.csv) in FOLDER and its subfolders: first-pass yield, touches and rounds a job, joints
    that bridge or open most, findings that came back after rework, time a job.

    Files that cannot be read are listed and left out. Time needs a column 'time' (ISO) in the job files.

    Exit codes: 0 at least one job was read, 1 none, 2 usage.
    """
    from connector_check.renderers import history as shown
    from connector_check.reports.history import read_history
    from connector_check.reports.summary import summarise

    if output is not None and output.suffix.lower() != ".svg":
        raise click.BadParameter(f"'{printable(output.name, lines=True)}' does not end in .svg", param_hint="-o")
    found = read_history(folder)
    summary = summarise(found)
    if output is not None:
        write_whole(output, shown.history_svg(found, summary))
    if form == "json":
        emit(json.dumps(shown.history_json(found, summary), indent=2, ensure_ascii=True))
    elif form == "csv":
        emit(shown.history_csv(found))
        for line in shown.broken_lines(found.broken, None):
            click.echo(f"connector-check: not read: {printable(line, lines=True)}", err=True)
    else:
        say("\n".join(shown.history_lines(found, summary)))
    sys.exit(0 if summary.jobs else EXIT_INPUT)
