"""The options that choose a board and a scope, shared by every command that reads a job."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click


def job_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Adds them; the command gets map_name, layout, variant, scope, landings, meter, notes and like."""
    for option in reversed(
        [
            click.option("--map", "map_name", default="", metavar="ID|FILE", help="Pin map; goes before the job's own '# map:' line."),
            click.option("--layout", default="", metavar="L", help="Layout of the part; default: the job's, else the map's first."),
            click.option("--variant", default="", metavar="V", help="Revision or wiring, where the map has several."),
            click.option("--scope", type=click.Choice(["near", "wide", "all"]), default="near", show_default=True,
                         help="Which pairs must be proven apart: neighbours in line of sight, neighbours at all, every pair."),
            click.option("--landings", is_flag=True, help="Require single signals to reach their board points as well."),
            click.option("--meter", default="", metavar="FILE|10:250",
                         help="The meter: must sound below, must be silent above, in ohms; or its file from meter-test."),
            click.option("--notes", default="", metavar="BOARD.yaml", help="What is special about this board, from board-notes."),
            click.option("--like", default="", metavar="GOOD.csv",
                         help="A job of a sound board: joins that stand in both are by design, differences are findings."),
        ]
    ):  # fmt: skip
        command = option(command)
    return command


def loading(given: dict[str, Any]) -> dict[str, Any]:
    """The part of the options that `jobfile.load_job` takes."""
    return {key: given[key] for key in ("map_name", "layout", "variant", "meter", "notes", "like")}
