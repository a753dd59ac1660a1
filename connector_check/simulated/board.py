"""The true state of one board at a connector: open joints, bridges, ties, fitted parts, and what they read. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

from connector_check.board.board import Board
from connector_check.board.ohms import BRIDGE_OHMS
from connector_check.simulated.resistance import Resistances, Resistor, components


class Bridge(NamedTuple):
    """Solder between two joints (numbers of the board), in ohms."""

    a: int
    b: int
    ohms: float = 0.0

    def at(self, joint: int) -> bool:
        """Whether the bridge touches that joint."""
        return joint in (self.a, self.b)


class Part(NamedTuple):
    """A part by design as it is fitted on this board.

    nets: two nets, or those that meet at one inner point; ohms: between the two, or of each net's leg to that point.
    """

    nets: tuple[str, ...]
    ohms: tuple[float, ...]


@dataclass(frozen=True)
class SimulatedBoard:
    """One board as it truly is; nothing in it is known to the program that probes it.

    A joint's point is the metal of its contact: an open joint is cut off from the board, not from the solder that
    bridges it. The shell is one piece of metal: its joints and `SH` are one, and each of its joints that is not open is
    soldered to the board's shell net.

    opens: joint numbers; ties: pairs of nets that the designer joined at 0 ohm, beside those of the board notes;
    parts: what is fitted; capacitors: pairs of nets with a capacitor between them large enough to chirp.
    """

    board: Board
    bridges: tuple[Bridge, ...] = ()
    opens: frozenset[int] = frozenset()
    ties: tuple[tuple[str, str], ...] = ()
    parts: tuple[Part, ...] = ()
    capacitors: tuple[tuple[str, str], ...] = ()

    @cached_property
    def metal(self) -> tuple[int, ...]:
        """The points that are the metal of the shell."""
        whole = () if self.board.shell_point is None else (self.board.shell_point,)
        return (*self.board.shell_joints, *whole)

    def _solid(self) -> Iterator[tuple[int, int]]:
        """Closed joints, the metal of the shell, and ties: links of 0 ohm."""
        board = self.board
        for joint in range(len(board.joints)):
            if joint not in self.opens:
                yield joint, board.board_point[board.net_of[joint].name]
        yield from pairwise(self.metal)
        groups = [*self.ties, *(sorted(group) for group in board.ties)]
        for group in groups:
            yield from pairwise(board.board_point[name] for name in group if name in board.board_point)

    def _fitted(self) -> Iterator[Resistor]:
        point = self.board.board_point
        inner = len(self.board.points)
        for part in self.parts:
            if len(part.ohms) == 1:
                a, b = part.nets
                yield Resistor(point[a], point[b], part.ohms[0])
            else:
                for net, ohms in zip(part.nets, part.ohms, strict=True):
                    yield Resistor(point[net], inner, ohms)
                inner += 1

    @cached_property
    def resistors(self) -> tuple[Resistor, ...]:
        """Every joint, bridge, tie and part as a resistor between points; inner points of parts are numbered on."""
        solid = [Resistor(a, b, 0.0) for a, b in self._solid()]
        bridges = [Resistor(b.a, b.b, b.ohms) for b in self.bridges]
        return (*solid, *bridges, *self._fitted())

    @property
    def nodes(self) -> int:
        """How many points there are, inner points of parts included."""
        return len(self.board.points) + len(self.parts)

    @cached_property
    def _resistances(self) -> Resistances:
        return Resistances(self.nodes, self.resistors)

    def ohms(self, a: int, b: int) -> float:
        """What an ideal meter reads between two points: every joint, bridge, tie and part at once."""
        return self._resistances.ohms(a, b)

    @cached_property
    def _linked(self) -> list[int]:
        bridges = ((b.a, b.b) for b in self.bridges if b.ohms < BRIDGE_OHMS)
        return components(len(self.board.points), [*self._solid(), *bridges])

    def linked(self, a: int, b: int) -> bool:
        """Whether metal joins two points: joints, ties and bridges under the bridge limit; parts do not count."""
        return self._linked[a] == self._linked[b]

    @cached_property
    def groups(self) -> tuple[tuple[int, ...], ...]:
        """The linked groups of two points or more, in the order of their smallest points."""
        found: dict[int, list[int]] = {}
        for point, group in enumerate(self._linked):
            found.setdefault(group, []).append(point)
        return tuple(tuple(group) for group in found.values() if len(group) > 1)

    def charges(self, a: int, b: int) -> bool:
        """Whether a capacitor lies between two points, so that a silent touch begins with a chirp."""
        point = self.board.board_point
        ends = [(point[x], point[y]) for x, y in self.capacitors]
        return any(
            (self.linked(a, x) and self.linked(b, y)) or (self.linked(a, y) and self.linked(b, x)) for x, y in ends
        )
