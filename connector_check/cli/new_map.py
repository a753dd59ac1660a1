"""The command `new-map`: a pin map of one's own from a table, KiCad files, a header's size or a few answers."""

from __future__ import annotations

import re
from pathlib import Path

import click

from connector_check.cli.console import say
from connector_check.errors import InputError
from connector_check.files.writing import refuse_existing, write_whole


@click.command("new-map")
@click.argument("output", metavar="OUT.yaml", type=click.Path(path_type=Path))
@click.option("--id", "map_id", metavar="ID", help="Default: the name of OUT.yaml.")
@click.option("--title", default="", help="What a person calls the connector.")
@click.option("--table", default="", metavar="FILE", help="CSV or TSV with a line for each pin: pin,name[,role].")
@click.option("--symbol", default="", metavar="FILE:NAME", help="Names from a symbol in a .kicad_sym ")
@click.option("--footprint", default="", metavar="FILE", help="Joints from a .kicad_mod footprint.")
@click.option("--board", default="", metavar="FILE", help="Joints and net names from a .kicad_pcb board; with --ref.")
@click.option("--ref", default="", metavar="J1", help="Reference designator of the connector on the board.")
@click.option("--header", default="", metavar="2x20", help="Joints of a pin header: rows x pins a row.")
@click.option("--numbering", type=click.Choice(["zigzag", "rows"]), help="Header: 1 opposite 2, or row by row.")
@click.option("--pitch", type=float, metavar="MM", help="Contact pitch; default 2.54 where the joints do not tell it.")
@click.option("--volts", multiple=True, metavar="NAME=V", help="Nominal volts of a supply; may be repeated.")
@click.option("--role", "roles", multiple=True, metavar="NAME=ROLE", help="Role of a name; may be repeated.")
def new_map(
    output: Path,
    map_id: str | None,
    title: str,
    pitch: float | None,
    volts: tuple[str, ...],
    roles: tuple[str, ...],
    **sources: str | None,
) -> None:
    """Start a pin map of your own and write it to OUT.yaml, which must not exist yet.

    Without a source it asks. Roles are guessed from names and marked so in the file until you confirm them.
    """
    from connector_check.cli.new_map_questions import ask_source, ask_volts
    from connector_check.new_map.making import make_map
    from connector_check.new_map.roles_and_volts import told, told_roles, told_volts, unknown_volts
    from connector_check.new_map.sources import gather
    from connector_check.new_map.summary import summary

    refuse_existing(output)
    if output.suffix not in (".yaml", ".yml"):
        raise InputError.one(str(output), 0, "does not end in .yaml", f"write {output.name}.yaml")
    chosen = re.sub(r"[^a-z0-9.]+", "-", output.stem.lower()).strip("-.")
    given_roles, given_volts = told_roles(roles), told_volts(volts)
    asking = not any(sources.values())
    if asking:
        map_id, title, found = ask_source(map_id or chosen, title, pitch)
    else:
        found = gather(**{key: text or "" for key, text in sources.items()}, pitch_mm=pitch)
    names = told(found.names, given_roles, given_volts)
    if asking:
        given_volts |= ask_volts(unknown_volts(names, given_volts))
    map_id = chosen if map_id is None else map_id
    made = make_map(names, found.places, map_id, title, given_volts, pitch, found.board_nets)
    write_whole(output, made.text)
    say("\n".join(summary(made, str(output))))
