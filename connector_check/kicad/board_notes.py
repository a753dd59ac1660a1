"""Board notes out of a KiCad board file: what its nets and its two-pin parts say about one connector.

Pure: text in, notes out. Followed are resistors, links, fuses, ferrites and chokes between nets of the connector, any
number in series; chips, diodes and transistors are taken as open. What the file cannot tell is listed, never guessed in
silence.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from connector_check.board.notes import BoardNotes
from connector_check.errors import InputError
from connector_check.files.sexpr import Node, read_sexpr
from connector_check.files.text import natural
from connector_check.kicad.board_contacts import BoardContacts, Say, find_contacts
from connector_check.kicad.board_fit import refuse_misfit
from connector_check.kicad.board_parts import Part, magnetics, parts_of
from connector_check.kicad.board_paths import find_paths
from connector_check.kicad.board_ties import find_shell, find_ties
from connector_check.kicad.boards import short_name
from connector_check.kicad.files import kicad_problem
from connector_check.kicad.part_network import PartNetwork
from connector_check.pinout.pinmap import POWER, PinMap
from connector_check.pinout.roles import guess


def derive(text: str, reference: str, pin_map: PinMap, file: str = "the board file") -> tuple[BoardNotes, list[str]]:
    """Notes for the connector of that reference on a `.kicad_pcb` board, and what could not be told, a line each.

    pin_map: with its variant chosen; its contacts are matched to pad numbers. file: for messages. Raises InputError,
    also for a map that the pads or the nets of the board contradict.
    """
    try:
        root = read_sexpr(text)
        if root.name != "kicad_pcb":
            raise ValueError(f"line {root.line}: expected (kicad_pcb ...), found ({root.name} ...)")
        parts = parts_of(root)
    except ValueError as error:
        raise kicad_problem(file, error) from None
    connector = _connector(parts, reference, file)
    board = ", ".join(word for word in (_title(root), f"{reference} of {file}") if word)
    sign = magnetics(connector)
    if sign:
        jack = (
            f"{reference} looks like a jack with magnetics ({sign}): its solder pins are not the cable contacts; "
            "it needs a pin map of its own, with windings and centre taps as paths"
        )
        return BoardNotes(pin_map.id, board), [jack]
    listed: list[str] = []
    found = find_contacts(parts, connector, pin_map, file, listed.append)
    others = [part for part in parts if part is not connector]
    network = PartNetwork(others, found.terminals)
    refuse_misfit(found, network, connector, file)
    return _notes(found, others, network, board, file, listed.append), listed


def _title(root: Node) -> str:
    block = root.first("title_block")
    title = block.first("title") if block else None
    return title.args[0] if title and title.args else ""


def _connector(parts: Sequence[Part], reference: str, file: str) -> Part:
    found = [part for part in parts if part.reference == reference]
    if len(found) != 1:
        near = sorted({p.reference for p in parts if p.reference[:1] in (reference[:1], "J", "P")}, key=natural)
        what = f"'{reference}' is on {len(found)} footprints" if found else f"no footprint '{reference}' on this board"
        raise InputError.one(file, 0, what, f"it has {', '.join(near[:12]) or 'no connector'}")
    return found[0]


def _notes(
    found: BoardContacts, others: Sequence[Part], network: PartNetwork, board: str, file: str, say: Say
) -> BoardNotes:
    absent = [contact for contact in found.pin_map.net_of if contact not in found.fitted]
    return BoardNotes(
        map=found.pin_map.id,
        board=board,
        ties=find_ties(found, say),
        paths=find_paths(found, network, file, say),
        not_fitted=tuple(sorted(absent, key=natural)),
        left_open=tuple(sorted(found.left_open, key=natural)),
        shell=find_shell(found, network, say),
        volts=_volts(found, say),
        points=_points(found, others),
    )


def _volts(found: BoardContacts, say: Say) -> dict[str, float]:
    """Volts that the names of board nets tell otherwise than the map."""
    volts = {}
    for net in found.pin_map.nets:
        told = guess(short_name(found.mains.get(net.name, "")))
        is_supply = net.role == POWER == told.role and net.volts_max is None
        if is_supply and told.volts is not None and told.volts != net.volts:
            volts[net.name] = told.volts
            say(f"volts of {net.name} are read from the name of its board net, {found.mains[net.name]}")
    return volts


def _points(found: BoardContacts, others: Iterable[Part]) -> dict[str, str]:
    """Test points on nets of the connector."""
    points = {}
    for part in sorted(others, key=lambda part: natural(part.reference)):
        nets = {pad.net for pad in part.pads}
        if part.prefix == "TP" and len(nets) == 1 and (name := found.terminals.get(*nets)) is not None:
            points[part.reference] = name
    return points
