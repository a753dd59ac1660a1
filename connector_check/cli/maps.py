"""The commands `maps`, the connectors that are known, and `lint`, pin map files of one's own checked."""

from __future__ import annotations

import json

import click

from connector_check.cli.console import emit, say
from connector_check.errors import InputError


@click.command()
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


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
def lint(files: tuple[str, ...]) -> None:
    """Check pin map files: every problem of every file at once. Exit code 1 when there is any.

    Roles that are still guesses are told; they are no problem.
    """
    from connector_check.pinout.pinmap_file import load_pin_map
    from connector_check.pinout.roles import guessed_line

    problems = []
    for file in files:
        try:
            found = load_pin_map(file)
            say(f"{file}: good, {found.id}, {len(found.net_of)} contacts, {len(found.layouts)} layouts")
            if guessed := guessed_line(found.nets):
                say(f"{file}: {guessed}")
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
