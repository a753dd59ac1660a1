"""The command `show`: one pin map as text, or drawn."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from connector_check.cli.console import can_draw_lines, emit, say, wants_colour
from connector_check.cli.options import complete_layout, complete_map, complete_pin, complete_variant
from connector_check.files.text import printable
from connector_check.files.writing import write_whole


@click.command()
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
@click.option(
    "--side",
    type=click.Choice(["component", "solder"]),
    default="component",
    show_default=True,
    help="The side of the board the joints are seen from.",
)
@click.option(
    "--rotate",
    type=click.Choice(["0", "90", "180", "270"]),
    default="0",
    show_default=True,
    help="Turn the joints' drawing, in degrees.",
)
@click.option("--job", "readings", default="", metavar="READINGS", help="Show each joint's state in this job.")
@click.option(
    "--width", type=click.IntRange(24, 400), default=80, show_default=True, help="Columns of a terminal drawing."
)
@click.option("--ascii", "ascii_only", is_flag=True, help="Draw with plain ASCII.")
@click.option("-o", "--output", type=click.Path(path_type=Path), help="Write the drawing as an SVG file.")
def show(
    map_name: str,
    variant: str,
    form: str,
    face: bool,
    solder: bool,
    layout: str,
    side: str,
    rotate: str,
    readings: str,
    width: int,
    ascii_only: bool,
    output: Path | None,
    pin: str,
) -> None:
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
        say(pin_text(make_board(find_pin_map(map_name), layout, variant), pin, side))
        return
    pin_map = make_board(find_pin_map(map_name), layout, variant).pin_map
    emit(json.dumps(map_json(pin_map), indent=2) if form == "json" else printable(map_text(pin_map), lines=True))


def _views(
    map_name: str, variant: str, layout: str, readings: str, face: bool, solder: bool, side: str, rotate: int
) -> list[tuple[Any, Any]]:
    """The views asked for, each with the states of its marks."""
    from connector_check.analysis.examine import examine
    from connector_check.analysis.states import joint_states
    from connector_check.board.making import make_board
    from connector_check.drawing import views as drawing
    from connector_check.job import load_job
    from connector_check.pinout.library import find_pin_map

    states: dict[str, Any] = {}
    if readings:
        job = load_job(readings, map_name, layout, variant)
        board = job.board
        states = joint_states(examine(job))
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
