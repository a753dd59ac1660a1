"""The commands `check`, a job's verdict and findings, and `rework`, its rework list."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from connector_check.cli.console import EXIT_CODES, emit, wants_colour
from connector_check.cli.options import job_options, loading, settings_of
from connector_check.files.text import printable
from connector_check.files.writing import write_whole

POINTS_HELP = """\b
Points are joints (4, A1B12, SH1), contacts (A1 means the joint that carries it),
SH for the shell as a whole, and board points: @GND is the board behind net GND.
A net's name where a joint is expected means that net's board point: GND = @GND.
"""


@click.command(epilog=POINTS_HELP)
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

        found, page = job_html(_job(readings, given), settings_of(given))
        emit(page)
        sys.exit(EXIT_CODES[found])
    if form == "json":
        verdict, said = _json(_job(readings, given), settings_of(given))
        emit(json.dumps(said, indent=2, ensure_ascii=True))
        sys.exit(EXIT_CODES[verdict])
    result = _result(readings, given)
    if form == "text":
        from connector_check.drawing.colours import colour
        from connector_check.renderers import text

        paint = colour if wants_colour() else (lambda line, _: line)
        emit("\n".join(paint(printable(line, lines=True), tone) for line, tone in text.result_lines(result)))
    else:
        from connector_check.renderers import tables

        table = tables.findings_table(result)
        emit(tables.as_csv(table) if form == "csv" else tables.as_markdown(table))
    sys.exit(EXIT_CODES[result.verdict])


def _json(job: Any, settings: Any) -> tuple[str, dict[str, Any]]:
    """The verdict and the machine-readable result, with the residual risk where nothing was found."""
    from connector_check.analysis.examine import examine
    from connector_check.analysis.residual import residual_risk
    from connector_check.renderers.residual import residual_json

    found = examine(job, settings)
    risk = residual_risk(found.result, found.standing)
    return found.result.verdict, found.result.as_json() | {"residual": residual_json(risk) if risk else None}


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
    from connector_check.job import check as run

    return run(_job(readings, given), settings_of(given, order))


@click.command()
@click.argument("readings", metavar="READINGS")
@job_options
@click.option(
    "--order",
    type=click.Choice(["row", "harm"]),
    default="row",
    show_default=True,
    help="Along the joints as the iron travels, or worst first.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "csv", "markdown", "html"]),
    help="Default: by the ending of -o (.csv, .md, .json, .html), else text.",
)
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Write to a file, whole or not at all.")
def rework(readings: str, order: str, form: str | None, output: Path | None, **given: Any) -> None:
    """Print the rework list alone: joints, what to do, what to probe again.

    Exit codes as for check.
    """
    by_ending = {".csv": "csv", ".md": "markdown", ".json": "json", ".html": "html"}
    form = form or (by_ending.get(output.suffix.lower(), "text") if output else "text")
    if form == "html":
        from connector_check.cli.report import rework_html

        found, body = rework_html(_job(readings, given), settings_of(given, order))
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
        return (
            json.dumps(
                {key: full[key] for key in ("schema", "map", "layout", "verdict", "parts", "shorts_only", "rework")},
                indent=2,
            )
            + "\n"
        )
    from connector_check.renderers import tables

    table = tables.rework_table(result.rework)
    return tables.as_csv(table) if form == "csv" else tables.as_markdown(table)
