"""Simulated chips behind the joints, and a meter in diode mode that reads them. It shares no inference with `analysis`.

Each line ends in a chip with two diodes, one from ground and one to its supply. With the red lead on ground the first
conducts and the second blocks, since the line lies under ground; what else leads to the black lead conducts too:
terminations, pull-ups to a supply with a junction of its own, other lines over solder. The circuit is solved as it is;
nothing is looked up.
"""

from __future__ import annotations

import random
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, inf, log
from typing import NamedTuple

from connector_check.board.board import Board
from connector_check.pinout.pinmap import DATA, POWER
from connector_check.simulated.board import SimulatedBoard
from connector_check.simulated.resistance import components

THERMAL_VOLTS = 0.02585
"""kT/q at 300 K."""
SPREAD_VOLTS = 0.008
"""Standard deviation of like parts on one board (an assumption; peers lie within a few tens of mV)."""

GLANCE_SECONDS = 0.5
"""From the touch to the look at the meter (an assumption)."""

_PAIR = re.compile(r"(?P<stem>.*?)(?:[pn]\d{1,2}|\d{0,2}[+-])$")
_NUMBER = re.compile(r"(?P<stem>.*[A-Za-z_])\d{1,2}$")
_FREE = re.compile(r"(?:MAKER|VENDOR|GPIO|COEX|LED|SENSE|CONFIG)")
_ONE_PART = {"CK": "D", "GREEN": "RED", "BLUE": "RED", "DB": "DA", "DC": "DA", "DD": "DA"}
"""Families that end in one part, by the name that stands for them."""


class Junction(NamedTuple):
    """The diode from ground behind one net: its volts at 1 mA, and its ideality (the law of Shockley)."""

    volts: float
    ideality: float

    def milliamps(self, volts: float) -> float:
        """The current at those volts, with what flows back at none."""
        return exp(min((volts - self.volts) / (self.ideality * THERMAL_VOLTS), 60.0))


def family_of(name: str) -> str:
    """Which lines end in one part, by a net's name: the drawing's own rule.

    >>> family_of("TX1-"), family_of("PETp0"), family_of("CC2"), family_of("CK+"), family_of("HPD")
    ('TX', 'PET', 'CC', 'D', 'HPD')
    """
    if _FREE.match(name):
        return name
    match = _PAIR.match(name) or _NUMBER.match(name)
    stem = match["stem"] if match and match["stem"] else name
    return _ONE_PART.get(stem, stem)


def draw_capacitance(board: Board, rng: random.Random) -> dict[str, float]:
    """The capacitance from each supply to ground, 1 uF to 5 mF, in farads by net."""
    return {net.name: 1e-6 * 10 ** rng.uniform(0, 3.7) for net in board.nets if net.role == POWER}


def draw_junctions(
    board: Board, rng: random.Random, absent: float = 0.15, spread: float = SPREAD_VOLTS
) -> dict[str, Junction]:
    """The junctions of one board by net: 0.25 to 0.9 V, alike within a family.

    absent: how often a whole family has none: series capacitors, or lines that the board does not use; spread: standard
    deviation within a family, in volts.
    """
    families: dict[str, tuple[float, float] | None] = {}
    found = {}
    for net in board.nets:
        if net.role not in (DATA, POWER):
            continue
        family = family_of(net.name) if net.role == DATA else net.name
        if family not in families:
            gone = net.role == DATA and rng.random() < absent
            families[family] = None if gone else (rng.uniform(0.25, 0.9), rng.uniform(1.0, 2.0))
        base = families[family]
        if base is not None:
            found[net.name] = Junction(max(base[0] + rng.gauss(0, spread), 0.2), base[1])
    return found


@dataclass
class DiodeMeter:
    """A meter in diode mode, in volts, ohms and milliamperes. All that is random comes from `rng`.

    milliamps: its current; over: from where it shows OL; noise: standard deviation of a reading; resolution: its last
    digit; miss: odds that a touch makes no contact.
    """

    rng: random.Random
    milliamps: float = 1.0
    over: float = 2.0
    leads_ohms: float = 0.2
    noise: float = 0.001
    resolution: float = 0.001
    miss: float = 0.0

    def counts_up(self, volts: float, farads: float) -> bool:
        """Whether the value is still on its way when the eye is on it: half a second after the touch."""
        return volts < inf and farads * volts / (self.milliamps / 1000) > GLANCE_SECONDS

    def volts(self, state: SimulatedBoard, junctions: Mapping[str, Junction], red: int, black: int) -> float:
        """What it shows with the red lead on ground and the black lead on a point; infinite for OL."""
        if self.miss and self.rng.random() < self.miss:
            return inf
        volts = _Circuit(state, junctions, red).volts(black, self.milliamps)
        if volts > self.over:
            return inf
        shown = volts + self.leads_ohms * self.milliamps / 1000 + self.rng.gauss(0, self.noise)
        return max(round(round(shown / self.resolution) * self.resolution, 6), 0.0)


class _Circuit:
    """One board with a current drawn out of one point: by nodes, which are the points that metal joins."""

    def __init__(self, state: SimulatedBoard, junctions: Mapping[str, Junction], ground: int) -> None:
        point = state.board.board_point
        self.spot = components(state.nodes, ((r.a, r.b) for r in state.resistors if r.ohms <= 0))
        self.ground = self.spot[ground]
        self.edges = [
            (self.spot[r.a], self.spot[r.b], 1 / r.ohms)
            for r in state.resistors
            if r.ohms > 0 and self.spot[r.a] != self.spot[r.b]
        ]
        self.diodes: dict[int, list[Junction]] = {}
        for net, junction in junctions.items():
            self.diodes.setdefault(self.spot[point[net]], []).append(junction)

    def volts(self, black: int, milliamps: float) -> float:
        """How far the point is pulled under ground, in volts; infinite where nothing conducts."""
        start = self.spot[black]
        if start == self.ground:
            return 0.0
        inside = self._reached(start)
        nodes = sorted(inside - {self.ground})
        if self.ground not in inside and not any(node in self.diodes for node in nodes):
            return inf
        if nodes == [start] and self.ground not in inside and len(self.diodes[start]) == 1:
            junction = self.diodes[start][0]
            leaked = junction.milliamps(0.0)
            return max(junction.volts + junction.ideality * THERMAL_VOLTS * log(milliamps + leaked), 0.0)
        return self._solved(nodes, start, milliamps)

    def _reached(self, start: int) -> set[int]:
        """The nodes that resistors connect with one, not through ground."""
        inside, waiting = {start}, [start]
        while waiting:
            node = waiting.pop()
            for a, b, _ in self.edges:
                if node in (a, b) and node != self.ground:
                    other = b if node == a else a
                    if other not in inside:
                        inside.add(other)
                        waiting.append(other)
        return inside

    def _solved(self, nodes: Sequence[int], start: int, milliamps: float) -> float:
        """Newton's method on the nodal equations, currents in mA; each step at most 0.1 V, as exponentials need."""
        import numpy as np

        row = {node: i for i, node in enumerate(nodes)}
        linear = np.zeros((len(nodes), len(nodes)))
        for a, b, siemens in self.edges:
            ends = [row[node] for node in (a, b) if node in row]
            for i in ends:
                linear[i, i] += siemens * 1000
            if len(ends) == 2:
                linear[ends[0], ends[1]] -= siemens * 1000
                linear[ends[1], ends[0]] -= siemens * 1000
        drawn = np.zeros(len(nodes))
        drawn[row[start]] = milliamps
        volts = np.zeros(len(nodes))
        for _ in range(400):
            left, slope = linear @ volts - drawn, linear.copy()
            for node, junctions in self.diodes.items():
                if node in row:
                    i = row[node]
                    for junction in junctions:
                        current = junction.milliamps(volts[i])
                        left[i] += current - junction.milliamps(0.0)
                        slope[i, i] += current / (junction.ideality * THERMAL_VOLTS)
            step = np.linalg.solve(slope + np.eye(len(nodes)) * 1e-9, -left)
            largest = float(np.abs(step).max())
            volts = volts + step * min(1.0, 0.1 / largest if largest > 0 else 1.0)
            if largest < 1e-6:
                break
        return float(volts[row[start]])
