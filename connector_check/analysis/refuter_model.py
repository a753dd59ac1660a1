"""What the refuter is told of a board: nets, joints, parts, ties, where solder can bridge, and the standing readings.

Pure data with its own words, so that the refuter rests on nothing of the analysis that it is to check. Points are
named: a joint or a metal by its name, the board behind a net as `@NET`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import NamedTuple

Fault = tuple[str, ...]
"""`("8",)`: joint 8 is open; `("8", "3")`: solder bridges joints 8 and 3, in the order of the scope."""

Odds = Callable[[Fault], float]
"""How likely a fault is against its absence: p / (1 - p)."""

QUIET_FACTOR = 1.001
"""A quiet needs ohms strictly above the meter's `sounds_below`: two parts of equal value often end exactly on it."""
OHMS_SHARE, OHMS_ADDED = 0.02, 0.5
"""An ohms reading is trusted to 2 % and half an ohm (probes on solder; common practice, no source)."""


class SolderJoint(NamedTuple):
    """A joint, the net it is to reach, and whether a board without that contact is bad."""

    name: str
    net: str
    contact_required: bool = True


class Metal(NamedTuple):
    """Joints of one net that share one piece of metal, such as the shell's: one conductor on the connector's side."""

    name: str
    joints: tuple[str, ...]


class Part(NamedTuple):
    """A part between two nets: `low` to `high` ohms, any value between, or absent where it may be.

    A part among several nets comes as a star: each net to an inner node of its own name (any name that is no net, the
    same in each leg) over half of its ohms. Each leg may then be absent alone, which covers the whole one being absent.
    """

    a: str
    b: str
    low: float
    high: float
    may_be_absent: bool = True


class Reading(NamedTuple):
    """The true ohms between two points lie from `least` to `most` (both 0 to infinity).

    by_eye: the pair of joints was looked at and has no bridge; then the ohms say nothing.
    """

    a: str
    b: str
    least: float = 0.0
    most: float = inf
    by_eye: bool = False


@dataclass(frozen=True)
class BoardModel:
    """One board at one connector and what was read on it.

    nets, joints, metals, parts: the board; fixed_ties: groups of nets that are one conductor on this board;
    optional_ties: pairs of nets that the board may have joined; bridge_scope: pairs of joints that solder may bridge,
    each over 0 to `bridge_ohms_most` ohms; must_be_apart: whether joining two nets (by name, either order) is bad;
    sounds_below, silent_above: the meter's thresholds in ohms; readings: what stands.
    """

    nets: tuple[str, ...]
    joints: tuple[SolderJoint, ...]
    bridge_scope: tuple[tuple[str, str], ...]
    must_be_apart: Callable[[str, str], bool]
    readings: tuple[Reading, ...]
    metals: tuple[Metal, ...] = ()
    parts: tuple[Part, ...] = ()
    fixed_ties: tuple[tuple[str, ...], ...] = ()
    optional_ties: tuple[tuple[str, str], ...] = ()
    bridge_ohms_most: float = 0.0
    sounds_below: float = 10.0
    silent_above: float = 250.0


def beep_range(silent_above: float) -> tuple[float, float]:
    """The true ohms that a steady tone allows."""
    return 0.0, silent_above


def quiet_range(sounds_below: float) -> tuple[float, float]:
    """The true ohms that silence allows."""
    return sounds_below * QUIET_FACTOR, inf


def ohms_range(ohms: float) -> tuple[float, float]:
    """The true ohms that a reading in ohms (the leads' own taken off) allows."""
    if ohms == inf:
        return 0.0, inf
    margin = ohms * OHMS_SHARE + OHMS_ADDED
    return max(ohms - margin, 0.0), ohms + margin


class SupposedBoard(NamedTuple):
    """A board that was made up: faults on it and the freedom it leaves, settled.

    faults: open joints and bridges; ties: the optional ties that are there; part_ohms: the ohms of each part of the
    model, in its order, infinite where absent; bridge_ohms: of each bridge among the faults, in their order.
    """

    faults: tuple[Fault, ...]
    ties: tuple[tuple[str, str], ...]
    part_ohms: tuple[float, ...]
    bridge_ohms: tuple[float, ...]

    @property
    def opens(self) -> tuple[str, ...]:
        """The open joints."""
        return tuple(fault[0] for fault in self.faults if len(fault) == 1)

    @property
    def bridges(self) -> tuple[tuple[str, str], ...]:
        """The bridged pairs of joints."""
        return tuple((fault[0], fault[1]) for fault in self.faults if len(fault) == 2)

    def told(self) -> str:
        """The faults in words.

        >>> SupposedBoard((("8",), ("8", "3")), (), (), ()).told()
        'joint 8 open and bridged to 3'
        >>> SupposedBoard((("8", "3"), ("4",)), (), (), ()).told()
        'joint 4 open, joints 8 and 3 bridged'
        >>> SupposedBoard((), (), (), ()).told()
        'no fault'
        """
        words = []
        left = list(self.bridges)
        for joint in self.opens:
            at = [pair for pair in left if joint in pair]
            left = [pair for pair in left if pair not in at]
            others = [b if a == joint else a for a, b in at]
            words.append(f"joint {joint} open" + (f" and bridged to {' and '.join(others)}" if others else ""))
        words += [f"joints {a} and {b} bridged" for a, b in left]
        return ", ".join(words) or "no fault"
