"""Starting a pin map: from named contacts and placed pads to the commented text of a pin map file.

Every role or voltage that was guessed is marked `guessed: RULE` in its net; deleting the mark confirms it. Volts that
nothing tells are asked for, never invented. Pure.
"""

from __future__ import annotations

from dataclasses import dataclass

from connector_check.errors import InputError, Problem
from connector_check.new_map.joints import make_joints
from connector_check.new_map.map_text import map_text
from connector_check.new_map.nets import check_names, make_nets
from connector_check.new_map.records import SHELL_NET, Names, NewLayout, NewNet, Pin, Places, is_shell
from connector_check.pinout.geometry import pitch
from connector_check.pinout.names import ID
from connector_check.pinout.pinmap import SHELL_CONTACT, PinMap
from connector_check.pinout.pinmap_file import parse_pin_map


@dataclass(frozen=True)
class NewMap:
    """A pin map file's text, the map it reads as, what was guessed in it, and what to know besides.

    guessed: the nets with a guess and its rule. tied: (board net, contacts), where a board joins several contacts.
    notes: sentences on pads that were merged, left out or renamed, and on ties.
    """

    text: str
    pin_map: PinMap
    guessed: tuple[NewNet, ...]
    tied: tuple[tuple[str, tuple[str, ...]], ...]
    notes: tuple[str, ...]


def make_map(
    names: Names,
    places: Places,
    map_id: str,
    title: str,
    volts: dict[str, float] | None = None,
    pitch_mm: float | None = None,
    board_nets: dict[str, str] | None = None,
) -> NewMap:
    """The new map of those contacts on those pads.

    names: as `roles_and_volts.told` gives them. volts: nominal volts by name, for supplies whose name does not carry
    them. pitch_mm: contact pitch in mm, measured on the joints when None. board_nets: board net by contact, to note
    which contacts a board ties. Raises InputError, also for supplies of unknown volts.
    """
    problems: list[Problem] = []
    if not ID.match(map_id):
        problems.append(Problem("--id", 0, f"id '{map_id}'", "small letters, digits, '.' and '-' only"))
    check_names(names, problems)
    nets = make_nets(names, volts or {}, problems)
    if problems:
        raise InputError(problems)
    joints, nets, notes = make_joints(names, places, nets)
    tied = _tied(names, board_nets or {})
    notes += [note for _, note in tied]
    placed = {contact for joint in joints for contact in joint.contacts}
    without = [
        contact for net in nets for contact in net.contacts if contact not in placed and contact != SHELL_CONTACT
    ]
    if without:
        notes.append(f"no pad in the layout for contact {', '.join(without)}: confirm that the part lacks it")
    measured = pitch(tuple(joint for joint in joints if not joint.is_shell))
    layout = NewLayout(places.layout, places.source, tuple(joints), tuple(without))
    source = (names.document, names.known)
    text = map_text(map_id, title or map_id, pitch_mm or measured, source, notes, nets, layout)
    found = parse_pin_map(text.encode(), f"{map_id}.yaml")
    return NewMap(text, found, tuple(net for net in nets if net.rule), tuple(tie for tie, _ in tied), tuple(notes))


def _tied(names: Names, board_nets: dict[str, str]) -> list[tuple[tuple[str, tuple[str, ...]], str]]:
    """The contacts that a board ties, as in `NewMap.tied`, each with its note."""
    on: dict[str, list[Pin]] = {}
    for pin in names.pins:
        if pin.number in board_nets:
            on.setdefault(board_nets[pin.number], []).append(pin)
    found = []
    for net, pins in on.items():
        if len(pins) > 1:
            named = list(dict.fromkeys(SHELL_NET if is_shell(pin) else pin.name for pin in pins))
            nets = f" (nets {', '.join(named)})" if len(named) > 1 else ""
            contacts = tuple(pin.number for pin in pins)
            note = f"tied on this board by its net {net}: contacts {', '.join(contacts)}{nets}"
            found.append(((net, contacts), note))
    return found
