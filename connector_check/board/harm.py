"""What a short between two nets does when the board sees power (design: harm grades). Pure."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import combinations
from typing import NamedTuple

from connector_check.pinout.pinmap import DATA, GROUND, POWER, RESERVED, SHELL, Net

DAMAGE, SUPPLY_SHORT, DEAD_SIGNAL, NOTE, HARMLESS = "damage", "supply-short", "dead-signal", "note", "harmless"
GRADES = (DAMAGE, SUPPLY_SHORT, DEAD_SIGNAL, NOTE, HARMLESS)
"""Worst first."""

HARMFUL = (DAMAGE, SUPPLY_SHORT, DEAD_SIGNAL)


class Grade(NamedTuple):
    """harm: one of GRADES; why: the reason in words, with the volts at stake; volts: those volts, or None."""

    harm: str
    why: str
    volts: float | None = None


def grade(a: Net, b: Net) -> Grade:
    """Grade a short between two nets.

    Sources: supply onto a signal pin that does not withstand it, and onto a lower rail, are damage (facts of USB-C
    port protection and absolute maximum ratings); USB 2.0 data pins withstand 5 V (section 7.1.1, as quoted by
    transceiver data sheets); ground to ground is harmless: common practice, no source.
    """
    if a.name == b.name:
        return Grade(HARMLESS, f"joints of one net, {a.name}")
    if (ROLE_ORDER[a.role], a.name) > (ROLE_ORDER[b.role], b.name):
        a, b = b, a
    pair = (a.role, b.role)
    if a.role == POWER:
        return _supply(a, b)
    if pair == (GROUND, GROUND):
        return Grade(HARMLESS, f"both are ground ({a.name}, {b.name})")
    if pair == (GROUND, SHELL):
        if b.ground == "may":
            return Grade(HARMLESS, "the shell may touch ground on this connector")
        reason = f": {b.why}" if b.why else ""
        return Grade(NOTE, f"the shell is to stay apart from {a.name} on this connector{reason}")
    if pair == (SHELL, SHELL):
        return Grade(HARMLESS, "both are shell")
    if RESERVED in pair:
        spare = a if a.role == RESERVED else b
        return Grade(NOTE, f"{spare.name} is reserved: harmless while the board leaves it unused")
    if a.role in (GROUND, SHELL):
        return Grade(DEAD_SIGNAL, f"data {b.name} is held at {'ground' if a.role == GROUND else 'the shell'}: no link")
    return Grade(DEAD_SIGNAL, f"data {a.name} and {b.name} drive each other: no link")


ROLE_ORDER = {POWER: 0, GROUND: 1, SHELL: 2, DATA: 3, RESERVED: 4}


def _volts(net: Net) -> str:
    most = net.volts_max if net.volts_max is not None else net.volts
    nominal = f"{net.volts:g} V" if net.volts is not None else "unknown volts"
    return nominal if most == net.volts or most is None else f"{nominal}, up to {most:g} V"


def _is_told(net: Net) -> bool:
    """Whether a supply's volts are known."""
    return net.volts is not None or net.volts_max is not None


def _supply(a: Net, b: Net) -> Grade:
    at_stake = a.most_volts if _is_told(a) else None
    if b.role in (GROUND, SHELL):
        return Grade(SUPPLY_SHORT, f"supply {a.name} ({_volts(a)}) to {b.role} {b.name}", at_stake)
    if b.role == POWER:
        if _is_told(a) and a.volts == b.volts and a.most_volts == b.most_volts:
            why = f"two supplies of {_volts(a)} tied: {a.name} and {b.name} feed each other"
            return Grade(SUPPLY_SHORT, why, a.most_volts)
        if not (_is_told(a) and _is_told(b)):
            why = f"supplies {a.name} ({_volts(a)}) and {b.name} ({_volts(b)}) tied: one may be above the other"
            return Grade(DAMAGE, why, max(a.most_volts, b.most_volts) or None)
        low, high = sorted((a, b), key=lambda net: (net.most_volts, net.volts or 0.0))
        why = f"supply {high.name} ({_volts(high)}) onto the lower supply {low.name} ({_volts(low)})"
        return Grade(DAMAGE, why, high.most_volts)
    if b.withstands is not None and _is_told(a) and b.withstands >= a.most_volts:
        why = f"supply {a.name} ({_volts(a)}) on {b.name}, which withstands {b.withstands:g} V"
        return Grade(DEAD_SIGNAL, why, a.most_volts)
    limit = f"withstands {b.withstands:g} V" if b.withstands is not None else "is not known to withstand it"
    return Grade(DAMAGE, f"supply {a.name} ({_volts(a)}) onto {b.name}, which {limit}", at_stake)


def kind_of(net: Net) -> tuple[object, ...]:
    """All that a grade looks at in a net, its names and reasons aside: two nets of one kind are graded alike."""
    return net.role, net.volts, net.volts_max, net.withstands, net.ground


def worst(
    nets: Iterable[Net],
    grading: Callable[[Net, Net], Grade] = grade,
    kind: Callable[[Net], tuple[object, ...]] = kind_of,
) -> Grade:
    """The worst grade of any pair of these nets (harmless for a single net).

    grading: how a pair is graded; kind: what it looks at in a net. Nets of one kind are compared once, so thousands of
    merged nets cost no quadratic time.
    """
    kinds: dict[tuple[object, ...], list[Net]] = {}
    for net in nets:
        members = kinds.setdefault(kind(net), [])
        if len(members) < 2 and net not in members:
            members.append(net)
    chosen = [net for members in kinds.values() for net in members]
    if len(chosen) == 1:
        return grading(chosen[0], chosen[0])
    grades = [grading(a, b) for a, b in combinations(chosen, 2)]
    return min(grades, key=lambda g: (GRADES.index(g.harm), -(g.volts or 0.0)))
