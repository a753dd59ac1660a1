"""Which board nets the contacts of a connector are on: a footprint's pads held against a pin map. Pure."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from functools import cached_property

from connector_check.errors import InputError
from connector_check.kicad.board_parts import Part
from connector_check.kicad.boards import short_name
from connector_check.pinout.pinmap import GROUND, POWER, SHELL, SHELL_CONTACT, PinMap
from connector_check.pinout.roles import guess

Say = Callable[[str], None]
"""Takes a line on what could not be told."""
LEAST_SHARE = 0.75
"""A part has more than this share of the contacts of its map (a D-sub with 9 contacts is none with 15), and no more
than the rest as other pads, tabs aside."""
SHELL_NUMBERS = ("0",)
"""KiCad's D-sub footprints number the holes of the shell 0."""


@dataclass(frozen=True)
class BoardContacts:
    """The contacts of a connector on a board.

    nets_of: the board nets of each contact that has a pad; shared: the board nets that have other pads.
    """

    pin_map: PinMap
    nets_of: Mapping[str, Sequence[str]]
    shared: Set[str]

    def joined(self, contact: str) -> list[str]:
        """The nets of that contact which have other pads."""
        return [net for net in self.nets_of.get(contact, ()) if net in self.shared]

    @cached_property
    def fitted(self) -> list[str]:
        """The contacts that the part has, in the order of the map; the shell is not left out for want of a pad."""
        return [contact for contact in self.pin_map.net_of if contact == SHELL_CONTACT or contact in self.nets_of]

    @cached_property
    def left_open(self) -> list[str]:
        """The fitted contacts that the board joins to nothing."""
        return [c for c in self.fitted if c != SHELL_CONTACT and not self.joined(c)]

    @cached_property
    def mains(self) -> dict[str, str]:
        """The board net of each net of the map: that of most of its contacts."""
        found: dict[str, str] = {}
        for net in self.pin_map.nets:
            counted = Counter(on for contact in net.contacts for on in dict.fromkeys(self.joined(contact)))
            if counted:
                found[net.name] = counted.most_common(1)[0][0]
        return found

    @cached_property
    def ground(self) -> str:
        """The board net of most grounds, of those named as ground if there are any; empty when no ground is joined."""
        grounds = Counter(self.mains[n.name] for n in self.pin_map.nets if n.role == GROUND and n.name in self.mains)
        named = [net for net in grounds if role_of(net) == GROUND]
        return max(named or grounds, key=lambda net: grounds[net], default="")

    @cached_property
    def terminals(self) -> dict[str, str]:
        """The map's net for each board net at the connector; of tied nets ground first, then supply."""
        order = {GROUND: 0, POWER: 1}
        found: dict[str, str] = {}
        for name in sorted(self.mains, key=lambda name: order.get(self.pin_map.net_named[name].role, 2)):
            found.setdefault(self.mains[name], name)
        return found


def role_of(board_net: str) -> str:
    """The role that a board net's name suggests."""
    return guess(short_name(board_net)).role


def find_contacts(parts: Iterable[Part], connector: Part, pin_map: PinMap, file: str, say: Say) -> BoardContacts:
    """The contacts of that connector, one of the parts. Raises InputError where its pads do not fit the map."""
    used: dict[str, set[tuple[int, str]]] = defaultdict(set)
    for index, part in enumerate(parts):
        for pad in part.pads:
            used[pad.net].add((index, pad.number))
    shared = {net for net, pads in used.items() if net and len(pads) > 1}
    found = BoardContacts(pin_map, _nets_of(connector, pin_map, file, say), shared)
    _tell_strays(found, say)
    _tell_ground(found, say)
    return found


def _nets_of(connector: Part, pin_map: PinMap, file: str, say: Say) -> dict[str, list[str]]:
    """The board nets of each contact that has a pad."""
    found, strange = _by_contact(connector, pin_map)
    unknown = []
    for number, nets in strange.items():
        if len(nets) > 1 and SHELL_CONTACT in pin_map.net_of and SHELL_CONTACT not in found:
            say(f"pad {number} ({len(nets)} of them) is no contact of {pin_map.id}: taken as the shell")
            found[SHELL_CONTACT] = nets
        else:
            unknown.append(f"{number} (net {nets[0] or 'none'})")
    if unknown:
        say(f"pads that are no contacts of {pin_map.id}: {', '.join(unknown)}")
    matched = sum(1 for contact in found if contact != SHELL_CONTACT)
    lost = [number for number in strange if guess(number).role != SHELL]
    if matched <= LEAST_SHARE * pin_map.contact_count or len(lost) > (1 - LEAST_SHARE) * matched:
        numbers = ", ".join(list(dict.fromkeys(pad.number for pad in connector.pads))[:12]) or "no numbers"
        what = (
            f"pads of {connector.reference} ({numbers}) do not fit {pin_map.id}: {matched} of its "
            f"{pin_map.contact_count} contacts, {len(unknown)} pads that are none"
        )
        remedy = "choose the map of this connector, or write one with new-map"
        raise InputError.one(file, connector.line, what, remedy)
    return found


def _by_contact(connector: Part, pin_map: PinMap) -> tuple[dict[str, list[str]], dict[str, list[str]]]:
    """The board nets of each contact, and those of each pad number that is none."""
    by_name: dict[str, tuple[str, ...]] = {}
    for layout in pin_map.layouts:
        by_name.update({joint.name.upper(): joint.contacts for joint in layout.joints})
    by_name.update({contact.upper(): (contact,) for contact in pin_map.net_of})
    found: dict[str, list[str]] = {}
    strange: dict[str, list[str]] = {}
    for pad in connector.pads:
        contacts = by_name.get(pad.number.upper(), ())
        is_shell = any(guess(word).role == SHELL for word in (pad.number, pad.function) if word)
        if not contacts and SHELL_CONTACT in pin_map.net_of and (is_shell or pad.number in SHELL_NUMBERS):
            contacts = (SHELL_CONTACT,)
        for contact in contacts:
            found.setdefault(contact, []).append(pad.net)
        if not contacts:
            strange.setdefault(pad.number, []).append(pad.net)
    return found, strange


def _tell_strays(found: BoardContacts, say: Say) -> None:
    """Contacts that are on another board net than their fellows."""
    mains = found.mains
    for net in found.pin_map.nets:
        for contact in net.contacts:
            for other in sorted(set(found.joined(contact)) - {mains.get(net.name)}):
                owner = next((f", which is that of {n}" for n, main in mains.items() if main == other), "")
                say(
                    f"contact {contact} of {net.name} is on board net {other}{owner}, its fellows on "
                    f"{mains[net.name]}: left as in the map; a variant of the map, or 'left_open'"
                )


def _tell_ground(found: BoardContacts, say: Say) -> None:
    if not found.ground:
        say("no ground contact of the map is on a net with other pads: board ground is not told")
    elif role_of(found.ground) != GROUND:
        say(f"board ground is taken as {found.ground}, whose name does not say ground; confirm the map")
