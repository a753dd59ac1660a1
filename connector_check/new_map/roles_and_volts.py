"""What the user tells of a new pin map by name: roles and volts. Pure."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

from connector_check.errors import InputError, Problem
from connector_check.files.text import printable
from connector_check.new_map.records import Names, Pin
from connector_check.pinout.pinmap import POWER
from connector_check.pinout.role_words import ROLE_REMEDY, VOLTS_REMEDY, role_of_word, volts_of_word
from connector_check.pinout.roles import OVERLINED, guess


def told(names: Names, roles: dict[str, str], volts: dict[str, float]) -> Names:
    """The contacts with the roles that the user told by name; a name with volts is a supply. Raises InputError."""
    spelled: dict[str, set[str]] = {}
    for pin in names.pins:
        spelled.setdefault(plain_name(pin.name), set()).add(pin.name)
    problems = [*_unknown("--role", roles, spelled), *_unknown("--volts", volts, spelled)]
    problems += [
        Problem("--volts", 0, f"'{name}' is told to be {roles[name]}", "only a supply has volts")
        for name in volts
        if roles.get(name, POWER) != POWER
    ]
    for name, ways in spelled.items():
        if len(ways) > 1:
            both = "', '".join(sorted(ways))
            problems.append(Problem(names.file, 0, f"'{both}' would all become '{name}'", "name them apart"))
    if problems:
        raise InputError(problems)
    wanted = {**dict.fromkeys(volts, POWER), **roles}
    return replace(names, pins=tuple(_told_pin(pin, wanted) for pin in names.pins))


def _unknown(option: str, given: Iterable[str], known: Collection[str]) -> list[Problem]:
    return [
        Problem(option, 0, f"no contact is named '{name}'", f"did you mean {_near(name, known)}?")
        for name in given
        if name not in known
    ]


def _told_pin(pin: Pin, wanted: Mapping[str, str]) -> Pin:
    name = plain_name(pin.name)
    role, rule = (wanted[name], "") if name in wanted else (pin.role, pin.rule)
    return replace(pin, name=name, role=role, rule=rule)


def assignments(option: str, given: Iterable[str]) -> dict[str, str]:
    """What was told as `NAME=VALUE`, by name as a pin map holds it. Raises InputError."""
    found: dict[str, str] = {}
    for text in given:
        name, _, value = text.rpartition("=")
        if not name.strip() or not value.strip() or found.get(plain_name(name), value.strip()) != value.strip():
            raise InputError.one(option, 0, f"'{printable(text)}'", f"expected one {option} NAME=VALUE for each name")
        found[plain_name(name)] = value.strip()
    return found


def told_roles(given: Iterable[str]) -> dict[str, str]:
    """Roles by name out of `NAME=ROLE`. Raises InputError."""
    found = {}
    for name, word in assignments("--role", given).items():
        role = role_of_word(word)
        if role is None:
            raise InputError.one("--role", 0, f"unknown role '{printable(word)}' of {name}", ROLE_REMEDY)
        found[name] = role
    return found


def told_volts(given: Iterable[str]) -> dict[str, float]:
    """Nominal volts by name out of `NAME=V`. Raises InputError."""
    found = {}
    for name, text in assignments("--volts", given).items():
        volts = volts_of_word(text)
        if volts is None:
            what = f"'{printable(text)}' of {name} is no voltage"
            raise InputError.one("--volts", 0, what, VOLTS_REMEDY)
        found[name] = volts
    return found


def plain_name(name: str) -> str:
    """A name as a pin map can hold it: `~{X}` becomes `~X`, what would end a name becomes `_`.

    >>> plain_name("CHASSIS GND"), plain_name("~{RESET}")
    ('CHASSIS_GND', '~RESET')
    """
    return re.sub(r"^[#']|[\s,;\"@]+", "_", OVERLINED.sub(r"~\1", name.strip()))


def unknown_volts(names: Names, volts: dict[str, float]) -> list[str]:
    """The supplies whose volts neither their name nor the user tells."""
    found = [pin.name for pin in names.pins if (pin.role or guess(pin.name).role) == POWER]
    return list(dict.fromkeys(name for name in found if name not in volts and guess(name).volts is None))


def _near(name: str, known: Iterable[str]) -> str:
    from difflib import get_close_matches

    names = list(known)
    return " or ".join(get_close_matches(name, names, n=3, cutoff=0.5) or names[:8])
