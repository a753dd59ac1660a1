"""`report`, the page of a job, and what `check` and `rework` write as HTML."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from connector_check.cli.console import EXIT_CODES, emit
from connector_check.cli.options import job_options, loading, settings_of
from connector_check.files.writing import write_whole

if TYPE_CHECKING:
    from connector_check.analysis.examine import Settings
    from connector_check.testlog.job import Job


def job_html(job: Job, settings: Settings) -> tuple[str, str]:
    """(verdict, page) of a job, for `report` and for `check --format html`."""
    from connector_check.renderers.html import report_html
    from connector_check.reports.report import report as gather

    found = gather(job, settings)
    return found.result.verdict, report_html(found)


def rework_html(job: Job, settings: Settings) -> tuple[str, str]:
    """(verdict, rework card) of a job, for `rework --format html`."""
    from connector_check.renderers.html import card_html
    from connector_check.reports.report import report as gather

    found = gather(job, settings)
    return found.result.verdict, card_html(found)


@click.command()
@click.argument("job", metavar="JOB.csv")
@job_options
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), help="Write to a file, whole or not at all; default: stdout."
)
def report(job: str, output: Path | None, **given: Any) -> None:
    """Write the record of a job as one HTML page that also prints on A4.

    It holds the verdict, drawings, rounds, findings, rework list, what was proven and what was not, and all readings.
    Exit codes as for check.
    """
    from connector_check.job import load_job

    verdict, page = job_html(load_job(job, **loading(given)), settings_of(given))
    if output is None:
        emit(page)
    else:
        write_whole(output, page)
    sys.exit(EXIT_CODES[verdict])
