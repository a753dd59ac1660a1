"""Fellows: lines of one kind, which end in like parts, so that their diode-mode readings are compared. Pure.

Joints of one net are one conductor. Lines of one bus, both of a pair, and the same contact on both rows of a reversible
part (CC1 and CC2) are told by the names of their nets.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from connector_check.board.board import Board
from connector_check.pinout.pinmap import DATA, GROUND, POWER

FEWEST_PEERS = 4
"""With three nets one odd reading is a third of all: fewer are compared as twins, with wider bounds."""

SPREAD_VOLTS = 0.05
"""Sound peers differ by a few tens of mV (common practice, no source), and so do two bridged signals: 18 to 36 mV."""

TWIN_SPREAD_VOLTS = 0.1
"""Twice that, our choice: two or three lines leave no way to tell their own spread."""

DEVIATIONS, NORMAL = 5.0, 1.4826
"""1.4826 times the MAD estimates the standard deviation of a normal spread (R manual, stats::mad). Five of them, our
choice, keep a sound group of 4 to 16 quiet although its MAD is itself uncertain."""


@dataclass(frozen=True)
class Rule:
    """A pattern for the whole net name, and the group it belongs to (`{stem}` is taken from the name, "" is none)."""

    pattern: re.Pattern[str]
    group: str


RULES = (
    Rule(re.compile(r"(?:MAKER|VENDOR|GPIO|COEX|LED|SENSE|CONFIG)_?\d+#?"), ""),
    Rule(re.compile(r"(?:D\d|CK)[+-]"), "lanes D and CK"),
    Rule(re.compile(r"(?P<stem>.+)[pn]\d{1,2}"), "lanes {stem}"),
    Rule(re.compile(r"(?P<stem>.*[A-Za-z_])\d{1,2}[+-]"), "lanes {stem}"),
    Rule(re.compile(r"D[A-D][+-]"), "pairs DA to DD"),
    Rule(re.compile(r"(?P<stem>.+)[+-]"), "pair {stem}"),
    Rule(re.compile(r"RED|GREEN|BLUE"), "colours"),
    Rule(re.compile(r"(?P<stem>.*[A-Za-z_])\d{1,2}"), "lines {stem}"),
)
"""Which data nets are lines of one bus, by name; the first match counts. Common practice in naming, no source.
Pins that a maker uses freely are no peers though their names are numbered."""

OTHER_DATA = "other data"


def peer_group(name: str) -> str:
    """The group of a data net by its name; `other data` when no rule names one, "" when it has no peers.

    >>> peer_group("D7"), peer_group("TX1-"), peer_group("PETp0"), peer_group("HPD"), peer_group("VENDOR38")
    ('lines D', 'lanes TX', 'lanes PET', 'other data', '')
    """
    for rule in RULES:
        if match := rule.pattern.fullmatch(name):
            return rule.group.format(**match.groupdict())
    return OTHER_DATA


def groups_of(board: Board) -> dict[str, str]:
    """The group of each data net on a board, by name. A line that would be alone in a group of its own (`RESET-`, whose
    sign tells its level) is one of the other data.
    """
    named = {net.name: peer_group(net.name) for net in board.nets if net.role == DATA and board.joints_of[net.name]}
    size = Counter(named.values())
    return {name: OTHER_DATA if group and size[group] == 1 else group for name, group in named.items()}


def band(volts: Sequence[float], resolution: float = 0.001) -> tuple[float, float]:
    """The volts between which a peer of these is no outlier: median and MAD, the meter's resolution as floor.

    The half width is five standard deviations as the MAD tells them, never under `SPREAD_VOLTS`; of two or three, it is
    `TWIN_SPREAD_VOLTS`, which two of them may be apart.

    >>> low, high = band([0.512, 0.514, 0.513, 0.9])
    >>> round(low, 4), round(high, 4)
    (0.4635, 0.5635)
    """
    middle = median(volts)
    if len(volts) < FEWEST_PEERS:
        half = TWIN_SPREAD_VOLTS / 2 if len(volts) == 2 else TWIN_SPREAD_VOLTS
        return middle - half, middle + half
    mad = median([abs(v - middle) for v in volts])
    half = max(SPREAD_VOLTS, DEVIATIONS * NORMAL * max(mad, resolution))
    return middle - half, middle + half


def fewest_of(group: str) -> int:
    """How many lines of a group must be read to compare them."""
    return FEWEST_PEERS if group == OTHER_DATA else 2


USUAL_VOLTS = (0.3, 0.8)
"""What a line with a junction shows: a silicon one 0.4 to 0.8 V (FLIR CM174 manual, p.21; 0.4 to 0.7 V Sonel CMM-10,
p.17; 0.4 to 0.9 V Iso-Tech IDM 97, p.20), less with a Schottky diode or several in parallel (0.3 V: common practice, no
source)."""


def usual_words(role: str) -> str:
    """What is usual for a contact of that role in diode mode, red lead on ground."""
    low, high = USUAL_VOLTS
    if role == GROUND:
        return "near 0 V; OL is no contact"
    if role == POWER:
        return f"{low:g} to {high:g} V once it no longer counts up (capacitors charge first)"
    if role == DATA:
        return f"{low:g} to {high:g} V; OL behind a series capacitor, on all of its kind"
    return "anything, OL as well"
