"""Roles of contacts that a user tells for one job: `1=power 5, 2..3=ground`, for maps that do not know them. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from connector_check.errors import InputError, Problem
from connector_check.files.text import printable
from connector_check.pinout.headers import is_counted
from connector_check.pinout.names import NAME
from connector_check.pinout.pinmap import GROUND, POWER, SHELL, SHELL_CONTACT, Net, PinMap
from connector_check.pinout.ranges import expand, names_list
from connector_check.pinout.role_words import ROLE_REMEDY, VOLTS_REMEDY, role_of_word, volts_of_word

GROUND_NET = "GND"
"""The net of all grounds without a name on a map that only counts its contacts."""
FORM = "expected CONTACT=ROLE [VOLTS] [NAME], say 1=power 5, 2..4=ground, 5=data SDA"
_PARTS = re.compile(r"[,;\t]")
_VOLT_UNITS = ("V", "VDC")
_NUMBER = re.compile(r"[+-]?[0-9.]+V?", re.IGNORECASE)


class Place(NamedTuple):
    """Where something was told: a file or an option, and its line (0 for none)."""

    file: str
    line: int


ROLE_OPTION = Place("--role", 0)


class ToldRole(NamedTuple):
    """What a user says of one contact. volts: nominal, power only, None when not told; name: of its net, or empty."""

    contact: str
    role: str
    volts: float | None
    name: str
    place: Place

    def written(self) -> str:
        """As `read_told` reads it.

        >>> ToldRole("1", "power", 3.3, "VCC", ROLE_OPTION).written()
        '1=power 3.3 VCC'
        """
        volts = "" if self.volts is None else f"{self.volts:g}"
        return " ".join(filter(None, (f"{self.contact}={self.role}", volts, self.name)))


def read_told(given: Iterable[tuple[Place, str]]) -> list[ToldRole]:
    """The roles in these texts, `1=power 5, 2..4=ground`. Raises InputError with every problem at once.

    >>> [(told.contact, told.role, told.volts, told.name) for told in read_told([(Place("j", 1), "1=supply 3.3V VCC")])]
    [('1', 'power', 3.3, 'VCC')]
    """
    problems: list[Problem] = []
    found = [
        told
        for place, text in given
        for item in map(str.strip, _PARTS.split(text.replace('"', "")))
        if item
        for told in _item(item, place, problems)
    ]
    if problems:
        raise InputError(problems)
    return found


def _item(item: str, place: Place, problems: list[Problem]) -> list[ToldRole]:
    def wrong(what: str, remedy: str) -> list[ToldRole]:
        problems.append(Problem(*place, what, remedy))
        return []

    contacts, sign, rest = item.partition("=")
    words = rest.split()
    if not (sign and contacts.strip() and words):
        return wrong(f"'{printable(item)}' names no role", f"{FORM}; volts have a point, 3.3")
    role = role_of_word(words.pop(0))
    if role is None:
        return wrong(f"unknown role '{printable(rest.split()[0])}' of {printable(contacts.strip())}", ROLE_REMEDY)
    volts = volts_of_word(words[0]) if words else None
    if volts is not None:
        words.pop(0)
        if words and words[0].upper() in _VOLT_UNITS:
            words.pop(0)
        if role != POWER:
            return wrong(f"'{printable(item)}': {role} with volts", "only a supply (power) has volts")
    name = words.pop(0) if words else ""
    if _NUMBER.fullmatch(name):
        return wrong(f"'{name}' of {printable(contacts.strip())} is no voltage", VOLTS_REMEDY)
    if words or (name and not NAME.match(name)):
        return wrong(f"'{printable(item)}'", FORM)
    return [ToldRole(contact, role, volts, name, place) for contact in expand(contacts.strip())]


def with_roles(pin_map: PinMap, told: Sequence[ToldRole]) -> PinMap:
    """The map with those roles. Raises InputError with every problem at once.

    Contacts that are told one name are one net; grounds without a name are all GND where the map only counts its
    contacts. A supply or signal without a name stays the net that it is in the map: two supplies of 5 V are two nets
    until one name makes them one. A ground or supply of several contacts must be joined by the board.
    """
    if not told:
        return pin_map
    problems: list[Problem] = []
    wanted = _by_contact(pin_map, told, problems)
    members: dict[str, list[str]] = {}
    for contact, net in pin_map.net_of.items():
        one = wanted.get(contact)
        on_ground = one is not None and one.role == GROUND and is_counted(pin_map)
        name = (one.name if one else "") or (GROUND_NET if on_ground else net.name)
        members.setdefault(name, []).append(contact)
    nets = [_net(pin_map, name, tuple(contacts), wanted, problems) for name, contacts in members.items()]
    if problems:
        raise InputError(problems)
    names = {
        contact: net.name if pin_map.names.get(contact) == pin_map.net_of[contact].name else pin_map.names[contact]
        for net in nets
        for contact in net.contacts
    }
    return replace(
        pin_map,
        nets=tuple(nets),
        names={contact: names[contact] for contact in pin_map.net_of},
        paths=tuple(path for path in pin_map.paths if members.keys() >= set(path.nets)),
        variants=(),
        told=", ".join(_words(net) for net in nets if wanted.keys() & set(net.contacts)),
        told_line=", ".join(one.written() for one in wanted.values()),
    )


def _words(net: Net) -> str:
    volts = f" {net.volts:g} V" if net.volts is not None else " of unknown volts" if net.role == POWER else ""
    return f"{names_list(net.contacts)[1:-1]} {net.role}{volts} ({net.name})"


def _by_contact(pin_map: PinMap, told: Sequence[ToldRole], problems: list[Problem]) -> dict[str, ToldRole]:
    """What is told of each contact of the map."""
    known = {contact.casefold(): contact for contact in pin_map.net_of if contact != SHELL_CONTACT}
    found: dict[str, ToldRole] = {}
    for one in told:
        contact = known.get(one.contact.casefold())
        if contact is None:
            remedy = f"it has {names_list(list(known.values()))[1:-1]}"
            what = f"no contact '{printable(one.contact)}' in {pin_map.id}"
            problems.append(Problem(*one.place, what, remedy))
            continue
        first = found.setdefault(contact, one)
        if first[1:4] != one[1:4]:
            problems.append(Problem(*one.place, f"contact {contact} is told two roles", "give it one"))
        elif not _may_tell(pin_map, contact, one):
            net = pin_map.net_of[contact]
            what = f"contact {contact} is {net.name} ({net.role}) in the pin map {pin_map.id}"
            remedy = "a job names what a map does not know; take a variant of the map, or board notes (--notes)"
            problems.append(Problem(*one.place, what, remedy))
        if one.name in known.values():
            problems.append(Problem(*one.place, f"'{one.name}' is a contact, no name of a net", "give another name"))
    return found


def _may_tell(pin_map: PinMap, contact: str, one: ToldRole) -> bool:
    """Whether the map leaves that role open: guessed, from memory alone, or the same as told."""
    net = pin_map.net_of[contact]
    same = one.role == net.role and one.volts in (None, net.volts) and one.name in ("", net.name)
    return same or bool(net.guessed) or all(source.known == "memory" for source in pin_map.sources)


def _net(
    pin_map: PinMap,
    name: str,
    contacts: tuple[str, ...],
    wanted: Mapping[str, ToldRole],
    problems: list[Problem],
) -> Net:
    """The net of that name as told; a net of which nothing is told stays as it is."""
    known = pin_map.net_named.get(name)
    told = [wanted[contact] for contact in contacts if contact in wanted]
    if not told:
        assert known is not None
        return known._replace(contacts=contacts, must_join=known.must_join and len(contacts) > 1)
    roles, volts = {one.role for one in told}, {one.volts for one in told} - {None}
    untold = [contact for contact in contacts if contact not in wanted]
    if untold and known and any(one.name == name for one in told):
        roles.add(known.role)
    if len(roles) > 1 or len(volts) > 1:
        ways = {f"{one.role} {one.volts:g} V" if one.volts is not None else one.role for one in told}
        ways |= roles - {one.role for one in told}
        what = f"net {name} (contacts {', '.join(contacts)}) is told to be {' and '.join(sorted(ways))}"
        problems.append(Problem(*told[-1].place, what, "one name is one net: one role, the same volts"))
    role = told[0].role
    same = known if known is not None and known.role == role else None
    told_volts = next(iter(volts), None)
    return Net(
        name=name,
        role=role,
        contacts=contacts,
        volts=(same.volts if same and told_volts is None else told_volts) if role == POWER else None,
        volts_max=same.volts_max if same and told_volts is None else None,
        withstands=same.withstands if same else None,
        must_join=role in (GROUND, POWER) and len(contacts) > 1,
        ground="may" if role == SHELL else "",
        why=known.why if known else "",
    )
