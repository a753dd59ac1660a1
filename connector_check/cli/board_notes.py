"""The command `board-notes`: notes for one connector derived from an open board file."""

from __future__ import annotations

from pathlib import Path

import click

from connector_check.cli.console import emit, say
from connector_check.files.reading import read_capped
from connector_check.files.text import decode
from connector_check.files.writing import refuse_existing, write_whole
from connector_check.kicad.files import MAX_KICAD_BYTES

COMMENTS = {
    "ties": "contacts of these nets are on one net of the board",
    "paths": "parts between nets of the connector, in series too; chips, diodes and transistors are taken as open",
    "not_fitted": "contacts without a pad on the footprint",
    "left_open": "pads without a net, or with nothing else on it",
    "points": "test points on nets of the connector",
    "volts": "read from net names; confirm",
}


@click.command("board-notes")
@click.argument("board", metavar="BOARD.kicad_pcb", type=click.Path(path_type=Path))
@click.argument("reference", metavar="REF")
@click.option("--map", "map_id", metavar="ID", required=True, help="Pin map of the connector, by id or .yaml file.")
@click.option("--variant", default="", metavar="NAME", help="Variant of the map.")
@click.option("--role", "roles", multiple=True, metavar="1=power 5", help="As for check: roles the map does not know.")
@click.option("-o", "--output", metavar="FILE", type=click.Path(path_type=Path), help="Write here; must not exist yet.")
def board_notes(
    board: Path, reference: str, map_id: str, variant: str, roles: tuple[str, ...], output: Path | None
) -> None:
    """Derive board notes for connector REF: ties, paths, contacts left open, shell.

    Parts are told by reference designator and value; what could not be told is listed at the end of the notes. A map
    that the board's nets contradict is refused.
    """
    from connector_check.board.making import make_board
    from connector_check.board.notes_file import parse_board_notes
    from connector_check.board.notes_text import notes_text
    from connector_check.kicad.board_notes import derive
    from connector_check.pinout.library import find_pin_map
    from connector_check.pinout.told_roles import ROLE_OPTION, read_told

    if output is not None:
        refuse_existing(output)
    told = read_told((ROLE_OPTION, text) for text in roles)
    pin_map = make_board(find_pin_map(map_id), "", variant, roles=told).pin_map
    notes, listed = derive(
        decode(read_capped(board, str(board), MAX_KICAD_BYTES), str(board), MAX_KICAD_BYTES),
        reference,
        pin_map,
        board.name,
    )
    text = notes_text(notes, listed, COMMENTS)
    parse_board_notes(text.encode(), str(output or "board notes"), pin_map)
    if output is None:
        emit(text)
        return
    write_whole(output, text)
    counts = f"{len(notes.ties)} ties, {len(notes.paths)} paths, {len(notes.left_open)} contacts left open"
    say(f"Wrote {output}: {counts}; {len(listed)} remarks at its end. Hold it against the schematic.\n")
