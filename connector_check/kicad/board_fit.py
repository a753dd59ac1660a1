"""Whether the nets of a board allow a connector to be the one that a map describes. Pure.

A wrong map, or one numbered otherwise, puts supplies on ground and signals on both. Names of board nets tell that, by
the same written rules that guess roles elsewhere; a net without a name of its own tells nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from connector_check.errors import InputError, Problem
from connector_check.kicad.board_contacts import BoardContacts, role_of
from connector_check.kicad.board_parts import Part
from connector_check.kicad.boards import short_name
from connector_check.kicad.part_network import PartNetwork
from connector_check.pinout.headers import is_counted
from connector_check.pinout.pinmap import DATA, GROUND, POWER, SHELL, SHELL_CONTACT, Net
from connector_check.pinout.roles import guess

UNNAMED = re.compile(r"(?:Net|unconnected)-\(.*\)\Z|N-0*\d+\Z|N\$\d+\Z")
"""Names that a layout program gives to nets that have none."""
PERHAPS_SUPPLY = re.compile(
    r"\dV|V\d|(?:^|[_ +-])V[A-Z]*$|V(?:CC|DD|BUS|IN|OUT|BAT|USB|SYS)|PWR|POWER|FEED|BATT|SUPPLY|RAIL", re.IGNORECASE
)
"""What in a name may mean a supply though no rule says so; such a name tells nothing."""
OPPOSITE = {GROUND: POWER, POWER: GROUND}
MOST_HELD, MOST_SHARE = 1, 0.25
"""Single signals may be held at ground or a supply by design (an ID or detect pin); more than one, and more than this
share of them, makes another connector."""
LEAST_AGAINST = 2


class Witness(NamedTuple):
    """A ground or supply contact with its net of the map and of the board.

    says: `for` where the name of the board net is of the same role, `against` where it is that of a signal that no link
    joins to one of the role, else empty.
    """

    net: Net
    contact: str
    board_net: str
    says: str


def refuse_misfit(found: BoardContacts, network: PartNetwork, connector: Part, file: str) -> None:
    """Raises InputError, with every contradiction, where the board's nets contradict the map."""
    seen = list(_witnesses(found, network))
    told = dict.fromkeys([*_swapped(found), *_other_volts(found), *_lost(seen, found), *_held(found)])
    if told:
        map_id = found.pin_map.id
        remedy = f"{connector.reference} is no {map_id}, or numbered otherwise: choose its map, or write one (new-map)"
        raise InputError([Problem(file, connector.line, what, remedy) for what in told])


def _on_board(found: BoardContacts, nets: Iterable[Net]) -> Iterator[tuple[Net, str, str]]:
    """Each net with its contacts and the board nets that these are on."""
    for net in nets:
        for contact in net.contacts:
            for board_net in dict.fromkeys(found.joined(contact)):
                yield net, contact, board_net


def _witnesses(found: BoardContacts, network: PartNetwork) -> Iterator[Witness]:
    for net, contact, board_net in _on_board(found, [n for n in found.pin_map.nets if n.role in OPPOSITE]):
        name, roles = short_name(board_net), {role_of(other) for other in network.linked(board_net)}
        alike = {GROUND, SHELL} if net.role == GROUND else {POWER}
        silent = UNNAMED.match(name) or (net.role == POWER and PERHAPS_SUPPLY.search(name))
        says = "for" if roles & alike else "" if silent or role_of(board_net) != DATA else "against"
        yield Witness(net, contact, board_net, says)


def _swapped(found: BoardContacts) -> Iterator[str]:
    """Supplies on a net named as ground, and the reverse."""
    for net, contact, board_net in _on_board(found, found.pin_map.nets):
        if net.role in OPPOSITE and role_of(board_net) == OPPOSITE[net.role]:
            yield f"contact {contact} is {net.name} ({net.role}) in the map and on {board_net} on the board"


def _other_volts(found: BoardContacts) -> Iterator[str]:
    """Supplies on a net named with the volts of another supply of the map, or with its own turned round."""
    supplies = [net for net in found.pin_map.nets if net.role == POWER and net.volts is not None]
    nominal = {net.volts for net in supplies}
    for net, contact, board_net in _on_board(found, supplies):
        volts = guess(short_name(board_net)).volts
        turned = net.volts is not None and volts == -net.volts
        if volts is not None and volts != net.volts and (volts in nominal or turned):
            yield f"contact {contact} is {net.name} ({net.volts:g} V) in the map and on {board_net} on the board"


def _lost(seen: Sequence[Witness], found: BoardContacts) -> Iterator[str]:
    """Grounds and supplies on signals, while the connector has a contact on ground.

    Told where half of a ground's contacts or more are on signals, where no ground of the map is on ground at all, and
    where nets against the map outnumber those for it.
    """
    grounded = {
        board_net: contact
        for contact in found.fitted
        for board_net in found.joined(contact)
        if contact != SHELL_CONTACT and role_of(board_net) == GROUND
    }
    if not grounded:
        return
    grounds = [net for net in found.pin_map.nets if net.role == GROUND]
    against = {(one.net.name, one.board_net): one for one in seen if one.says == "against"}
    backing = {(one.net.name, one.board_net) for one in seen if one.says == "for"}
    lost = [
        one
        for net in grounds
        for one in seen
        if one.net is net and one.says == "against" and 2 * _count(seen, net, "against") >= _count(seen, net)
    ]
    if len(against) >= max(LEAST_AGAINST, len(backing) + 1):
        lost += against.values()
    for one in lost:
        what = f"contact {one.contact} is {one.net.name} ({one.net.role}) in the map"
        yield f"{what} and on {one.board_net} on the board, whose ground is {', '.join(sorted(grounded))}"
    if grounds and not any(one.net.role == GROUND and one.says != "against" for one in seen):
        names, contacts = ", ".join(net.name for net in grounds), ", ".join(grounded.values())
        yield f"no ground of the map is on ground: {names}; contact {contacts} is"


def _count(seen: Sequence[Witness], net: Net, says: str | None = None) -> int:
    return sum(1 for one in seen if one.net is net and says in (None, one.says))


def _held(found: BoardContacts) -> list[str]:
    """Signals on nets named as ground or supply, where they are more than one board would hold there.

    A generic header only counts its pins, and a guessed role is no statement: neither contradicts a board.
    """
    if is_counted(found.pin_map):
        return []
    signals = [net for net in found.pin_map.nets if net.role == DATA and not net.guessed]
    joined = {contact: net for net, contact, _ in _on_board(found, signals)}
    held = {
        contact: f"contact {contact} is {net.name} (signal) in the map and on {board_net} on the board"
        for net, contact, board_net in _on_board(found, signals)
        if role_of(board_net) in OPPOSITE
    }
    return list(held.values()) if len(held) > max(MOST_HELD, MOST_SHARE * len(joined)) else []
