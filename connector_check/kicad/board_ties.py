"""What a board joins at a connector: nets that are one conductor, and the shell. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from connector_check.board.notes import APART, MAY, TIED, ShellRule
from connector_check.kicad.board_contacts import BoardContacts, Say, role_of
from connector_check.kicad.boards import short_name
from connector_check.kicad.part_network import PartNetwork
from connector_check.pinout.headers import is_counted
from connector_check.pinout.pinmap import DATA, GROUND, POWER, RESERVED, SHELL, SHELL_CONTACT, Net
from connector_check.pinout.ranges import names_list
from connector_check.pinout.roles import guess

A_MAP = "use a map that says so, or give 'volts'"


def find_ties(found: BoardContacts, say: Say) -> tuple[frozenset[str], ...]:
    """The nets of the map that are on one board net, the shell left out."""
    groups: dict[str, list[str]] = {}
    for name, board_net in found.mains.items():
        if found.pin_map.net_named[name].role != SHELL:
            groups.setdefault(board_net, []).append(name)
    ties = []
    for board_net, names in groups.items():
        nets = [found.pin_map.net_named[name] for name in names]
        supplies = {net.volts for net in nets if net.role == POWER}
        says = role_of(board_net)
        if says in (GROUND, POWER) and all(net.role in (DATA, RESERVED) for net in nets):
            remedy = _role_line(nets, board_net) if is_counted(found.pin_map) else A_MAP
            say(f"{', '.join(names)} on board net {board_net}: named as {says}, {nets[0].role} in the map; {remedy}")
        if len(supplies) > 1 or (supplies and any(net.role == GROUND for net in nets)):
            say(f"{', '.join(names)} are all on board net {board_net}: the map and the board disagree")
        elif len(names) > 1:
            ties.append(frozenset(names))
    return tuple(ties)


def _role_line(nets: Iterable[Net], board_net: str) -> str:
    """What to tell of a net of a generic header that its board net names."""
    named = guess(short_name(board_net))
    says = named.role if named.volts is None else f"{named.role} {named.volts:g}"
    contacts = names_list([contact for net in nets for contact in net.contacts])[1:-1].split(", ")
    return f"--role and the job's line '# role: {', '.join(f'{contact}={says}' for contact in contacts)}' name it so"


def find_shell(found: BoardContacts, network: PartNetwork, say: Say) -> ShellRule | None:
    """Whether the shell is on ground; network: of the other parts on the board. What only links part may touch."""
    if not any(net.role == SHELL for net in found.pin_map.nets):
        return None
    if SHELL_CONTACT not in found.nets_of:
        say("the footprint has no pad that is known as the shell: whether it is on ground is not told")
        return None
    nets = set(found.joined(SHELL_CONTACT))
    if not nets:
        return ShellRule(MAY, "its pads are joined to nothing")
    if not found.ground:
        return None
    if nets == {found.ground}:
        return ShellRule(TIED, f"its pads are on {found.ground}")
    others = ", ".join(sorted(nets - {found.ground}))
    if found.ground in nets:
        say(f"the pads of the shell are on several nets: {found.ground}, {others}")
        return ShellRule(MAY, "some of its pads are on ground")
    link = network.linked(found.ground).get(others)
    if link is not None:
        return ShellRule(MAY, f"on {others}, joined to {found.ground} by {link.why}")
    return ShellRule(APART, f"its pads are on {others}, not on {found.ground}")
