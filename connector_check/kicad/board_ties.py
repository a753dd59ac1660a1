"""What a board joins at a connector: nets that are one conductor, and the shell. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from connector_check.board.notes import APART, MAY, TIED, ShellRule
from connector_check.kicad.board_contacts import BoardContacts, Say, role_of
from connector_check.kicad.board_parts import Part
from connector_check.kicad.part_paths import paths_of_part
from connector_check.pinout.pinmap import DATA, GROUND, POWER, RESERVED, SHELL, SHELL_CONTACT

MOST_LINK_OHMS = 2.0
"""A part up to this many ohms between shell and ground is a link: it may touch ground."""


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
            say(
                f"{', '.join(names)} on board net {board_net}: named as {says}, {nets[0].role} in the map; "
                "use a map that says so, or give 'volts'"
            )
        if len(supplies) > 1 or (supplies and any(net.role == GROUND for net in nets)):
            say(f"{', '.join(names)} are all on board net {board_net}: the map and the board disagree")
        elif len(names) > 1:
            ties.append(frozenset(names))
    return tuple(ties)


def find_shell(found: BoardContacts, parts: Iterable[Part], say: Say) -> ShellRule | None:
    """Whether the shell is on ground; parts: the others on the board."""
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
    joins = [p for part in parts for p in paths_of_part(part)[0] if {p.a, p.b} == {others, found.ground}]
    if any(path.high <= MOST_LINK_OHMS for path in joins):
        return ShellRule(MAY, f"on {others}, joined to {found.ground} by {joins[0].why}")
    return ShellRule(APART, f"its pads are on {others}, not on {found.ground}")
