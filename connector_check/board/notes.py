"""What is known of one board at one connector: ties, paths, contacts not fitted or left open, shell, volts, points.

Pure data, and the pin map as they change it. `notes_file` reads them from YAML, `kicad.board_notes` derives them from a
board file.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from connector_check.board.ties import merged
from connector_check.pinout.pinmap import DATA, GROUND, POWER, RESERVED, SHELL, DesignPath, Layout, Net, PinMap

MAY, APART, TIED = "may", "apart", "tied"
SHELL_RULES = (MAY, APART, TIED)
LEFT_OPEN = "left open on this board"
"""Why a contact is a net of its own that the board joins to nothing."""


@dataclass(frozen=True)
class ShellRule:
    """ground: `may` touch it, is to stay `apart`, or is `tied` to it by the designer."""

    ground: str
    why: str = ""


@dataclass(frozen=True)
class BoardNotes:
    """Notes for one board, on the nets and contacts of the pin map `map`.

    ties: nets that are one conductor by design; not_fitted: contacts that this part lacks; left_open: contacts that the
    board joins to nothing; volts: volts present on a net; points: board points by name, each with its net;
    withstands: volts that a net survives.
    """

    map: str
    board: str = ""
    ties: tuple[frozenset[str], ...] = ()
    paths: tuple[DesignPath, ...] = ()
    not_fitted: tuple[str, ...] = ()
    left_open: tuple[str, ...] = ()
    shell: ShellRule | None = None
    volts: dict[str, float] = field(default_factory=dict, hash=False)
    points: dict[str, str] = field(default_factory=dict, hash=False)
    withstands: dict[str, float] = field(default_factory=dict, hash=False)


def apply(pin_map: PinMap, notes: BoardNotes) -> PinMap:
    """The map as this board has it. Choose the variant first: the result has none.

    A contact left open leaves its net and becomes a reserved one of its own, so that its silence is no open; a supply
    contact keeps its volts there, because a plug still carries them. A net tied to ground counts as ground, one tied to
    a supply as that supply. A part that the notes call fitted takes the place of one that the map calls optional there.
    """
    nets: list[Net] = []
    for net in pin_map.nets:
        fitted = tuple(c for c in net.contacts if c not in notes.not_fitted)
        kept = tuple(c for c in fitted if c not in notes.left_open)
        if kept:
            noted = _noted(net, notes)
            nets.append(noted._replace(contacts=kept, must_join=net.must_join and len(kept) > 1))
        nets += [
            _open_net(_noted(net, notes), contact, name)
            for contact, name in _open_names(pin_map, net, notes).items()
            if contact in fitted
        ]
    by_name = {net.name: net for net in nets}
    for tie in merged(notes.ties):
        for name, role, volts, most in _tie_roles([by_name[n] for n in sorted(tie) if n in by_name]):
            by_name[name] = by_name[name]._replace(role=role, volts=volts, volts_max=most)
    known = by_name.keys()
    placed = {frozenset(path.nets) for path in notes.paths if not path.may_be_absent}
    mapped = (path for path in pin_map.paths if not (path.may_be_absent and frozenset(path.nets) in placed))
    paths = (path for path in (*mapped, *notes.paths) if known >= set(path.nets))
    return replace(
        pin_map,
        nets=tuple(by_name.values()),
        names={c: name for c, name in pin_map.names.items() if c not in notes.not_fitted},
        layouts=tuple(_without(layout, notes.not_fitted) for layout in pin_map.layouts),
        face=tuple(spot for spot in pin_map.face if spot.contact not in notes.not_fitted),
        paths=tuple(paths),
        variants=(),
    )


def ties_of(pin_map: PinMap, notes: BoardNotes) -> tuple[frozenset[str], ...]:
    """Groups of nets of the applied map that are one conductor, or become one in any plug.

    A supply contact that the board leaves open meets its fellows in the plug, so joining them harms nothing.
    """
    open_supply = [
        frozenset((net.name, name))
        for net in pin_map.nets
        if net.role == POWER
        for name in _open_names(pin_map, net, notes).values()
        if name != net.name
    ]
    return merged([*notes.ties, *open_supply])


def _noted(net: Net, notes: BoardNotes) -> Net:
    if net.name in notes.volts:
        role = POWER if net.role in (DATA, RESERVED) else net.role
        net = net._replace(volts=notes.volts[net.name], volts_max=None, role=role, guessed="")
    if net.name in notes.withstands:
        net = net._replace(withstands=notes.withstands[net.name])
    if net.role == SHELL and notes.shell:
        ground = APART if notes.shell.ground == APART else MAY
        net = net._replace(ground=ground, why=notes.shell.why or net.why)
    return net


def _open_names(pin_map: PinMap, net: Net, notes: BoardNotes) -> dict[str, str]:
    """The net of each contact that is left open: its own name when it has it for itself, else made from the contact."""
    if len(net.contacts) == 1:
        return {contact: net.name for contact in net.contacts if contact in notes.left_open}
    found = {}
    for contact in net.contacts:
        if contact in notes.left_open:
            name = f"{contact}-open"
            while name in pin_map.net_named:
                name += "-"
            found[contact] = name
    return found


def _open_net(net: Net, contact: str, name: str) -> Net:
    role = net.role if net.role in (POWER, SHELL) else RESERVED
    return net._replace(name=name, contacts=(contact,), must_join=False, role=role, why=LEFT_OPEN)


def _tie_roles(nets: list[Net]) -> list[tuple[str, str, float | None, float | None]]:
    """Name, role and volts of the tied nets whose role another decides: ground before supply."""
    leaders = [net for role in (GROUND, POWER) for net in nets if net.role == role]
    if not leaders:
        return []
    first = leaders[0]
    return [(n.name, first.role, first.volts, first.volts_max) for n in nets if n.role in (DATA, RESERVED)]


def _without(layout: Layout, contacts: tuple[str, ...]) -> Layout:
    if not contacts:
        return layout
    joints = []
    for joint in layout.joints:
        left = tuple(c for c in joint.contacts if c not in contacts)
        if left:
            joints.append(joint._replace(contacts=left))
    return replace(layout, joints=tuple(joints))
