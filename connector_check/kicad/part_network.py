"""What conducts on a board: its two-ended parts as ohms between board nets, and the links among them. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from functools import cached_property
from heapq import heappop, heappush
from typing import NamedTuple

from connector_check.files.text import natural
from connector_check.kicad.board_parts import Part
from connector_check.kicad.part_paths import paths_of_part

MOST_LINK_OHMS = 2.0
"""A part up to this many ohms links two nets: 0-ohm links, ferrites, fuses, windings of chokes."""
MOST_NAMED = 8


class Leg(NamedTuple):
    """Parts between two board nets, as a whole from `low` to `high` ohms."""

    low: float
    high: float
    parts: tuple[str, ...]

    @property
    def why(self) -> str:
        """The parts in words."""
        if len(self.parts) < 2:
            return "".join(self.parts)
        more = len(self.parts) - MOST_NAMED
        named = self.parts if more <= 0 else (*self.parts[:MOST_NAMED], f"{more} more")
        return f"{', '.join(named[:-1])} and {named[-1]} in series"


NOTHING = Leg(0.0, 0.0, ())


def in_series(*legs: Leg) -> Leg:
    """One leg after the other."""
    parts = tuple(dict.fromkeys(part for leg in legs for part in leg.parts))
    return Leg(sum(leg.low for leg in legs), sum(leg.high for leg in legs), parts)


def beside(one: Leg, two: Leg) -> Leg:
    """One leg in parallel with the other."""

    def together(a: float, b: float) -> float:
        return a * b / (a + b) if a and b else 0.0

    return Leg(together(one.low, two.low), together(one.high, two.high), (f"{one.why} beside {two.why}",))


class Untold(NamedTuple):
    """A part of which it is not told whether it conducts, or how, and the reason."""

    part: Part
    why: str


class PartNetwork:
    """What conducts between the board nets of these parts. Treat it as frozen.

    legs: by board net and the board net at the other end; untold: the parts that could not be told.
    """

    def __init__(self, parts: Iterable[Part], at_connector: Collection[str]) -> None:
        """at_connector: board nets of the connector, which help to pair the windings of a choke."""
        self.legs: dict[str, dict[str, Leg]] = {}
        self.untold: list[Untold] = []
        for part in sorted(parts, key=lambda part: natural(part.reference)):
            told, why_not = paths_of_part(part, set(at_connector))
            if why_not:
                self.untold.append(Untold(part, why_not))
            for path in told:
                add(self.legs, path.a, path.b, Leg(path.low, path.high, (path.why,)))

    @cached_property
    def links(self) -> dict[str, dict[str, Leg]]:
        """The legs that link."""
        return {
            net: {other: leg for other, leg in legs.items() if leg.high <= MOST_LINK_OHMS}
            for net, legs in self.legs.items()
        }

    def linked(self, start: str) -> dict[str, Leg]:
        """The board nets that links alone join to that one, itself among them, each with the way there."""
        return {net: leg for net, (_, leg) in reach(self.links, [start]).items()}


def add(legs: dict[str, dict[str, Leg]], a: str, b: str, leg: Leg) -> None:
    """Put a leg between two different nodes, in parallel with what is there."""
    if a == b:
        return
    known = legs.setdefault(a, {}).get(b)
    legs[a][b] = legs.setdefault(b, {})[a] = beside(known, leg) if known else leg


def reach(
    legs: Mapping[str, Mapping[str, Leg]],
    starts: Collection[str],
    most_ohms: float = float("inf"),
    ends: Collection[str] = (),
) -> dict[str, tuple[str, Leg]]:
    """Every net that these legs join to one of the starts: the nearest start by its highest ohms, and the way there.

    most_ohms: how far, by the lowest ohms; ends: nets that are reached but not gone through. Dijkstra's algorithm.
    """
    found: dict[str, tuple[str, Leg]] = {}
    heap: list[tuple[float, str, str, Leg]] = [(0.0, net, net, NOTHING) for net in sorted(starts)]
    while heap:
        _, net, start, way = heappop(heap)
        if net in found:
            continue
        found[net] = start, way
        if net in ends and net not in starts:
            continue
        for other, leg in legs.get(net, {}).items():
            longer = in_series(way, leg)
            if other not in found and longer.low <= most_ohms:
                heappush(heap, (longer.high, other, start, longer))
    return found
