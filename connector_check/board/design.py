"""What the parts on a board read by design between two nets. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from functools import cached_property
from heapq import heappop, heappush
from itertools import pairwise
from math import inf
from typing import NamedTuple

from connector_check.board.network import Network
from connector_check.board.ohms import BRIDGE_OHMS, OHMS_ADDED
from connector_check.pinout.pinmap import GROUND, SHELL, DesignPath, Net

TOLERANCE = 0.1
"""Parts read up to this share beside their range (10 % parts; common practice, no source), the leads and contacts
OHMS_ADDED more."""


class DesignOhms(NamedTuple):
    """What parts by design read between two nets: from `low` to `high` ohms; why: those parts in words; sure: a route
    of parts that are not said to be absent on some boards.
    """

    low: float
    high: float
    why: tuple[str, ...]
    sure: bool

    @property
    def least(self) -> float:
        """The least ohms that still read as the parts."""
        return max(self.low * (1 - TOLERANCE) - OHMS_ADDED, 0.0)

    @property
    def most(self) -> float:
        """The most ohms that still read as the parts."""
        return self.high * (1 + TOLERANCE) + OHMS_ADDED

    def reads_as(self, ohms: float) -> bool:
        """Whether a reading, the leads' own taken off, is what the parts read."""
        return self.least <= ohms <= self.most

    @property
    def tells_from_solder(self) -> bool:
        """Whether ohms in this range show that no solder lies in parallel: two bridges in series stay under it."""
        return self.least > 2 * BRIDGE_OHMS


class Resistor(NamedTuple):
    """Ohms between two nodes of the network; path: the design path it belongs to, None for a wire; perhaps: a wire that
    a board may lack, as between grounds, and between a shell and ground.
    """

    a: str
    b: str
    low: float
    high: float
    path: DesignPath | None
    perhaps: bool = False


Route = tuple[DesignPath, ...]


class DesignNetwork:
    """Every design path of a board as resistors between its nets.

    resistors: all of them, wires between nets that are one conductor included.

    paths: the design paths; nets: the board's; tie_of: the tie of each net that is one conductor with others by design.
    """

    def __init__(self, paths: Iterable[DesignPath], nets: Iterable[Net], tie_of: Mapping[str, str]) -> None:
        self.resistors = _resistors(paths, nets, tie_of)
        self._at: dict[str, list[tuple[str, Resistor]]] = {}
        for resistor in self.resistors:
            self._at.setdefault(resistor.a, []).append((resistor.b, resistor))
            self._at.setdefault(resistor.b, []).append((resistor.a, resistor))
        self._known: dict[tuple[str, str], DesignOhms | None] = {}

    def ohms(self, net_a: str, net_b: str) -> DesignOhms | None:
        """What the parts by design read between two nets, or None when none joins them.

        low: the whole network with every part fitted at its lowest value; high: the least route at its highest values
        over parts that are always fitted, else the worst of the routes that remain while others are absent. Chains add
        up, parallel parts lower the reading.
        """
        if not self.resistors:
            return None
        key = (min(net_a, net_b), max(net_a, net_b))
        if key not in self._known:
            self._known[key] = self._between(*key)
        return self._known[key]

    def fitted(self, net_a: str, net_b: str) -> DesignOhms | None:
        """What two nets read when every part is fitted, or None when none joins them; its parts are not named."""
        low, high = (round(network.ohms(net_a, net_b), 6) for network in (self._lowest, self._highest))
        return None if high == inf else DesignOhms(low, high, (), True)

    def sure_route(self, net_a: str, net_b: str) -> Route:
        """The least route over parts that are fitted on every board, empty where there is none."""
        return self._least_route(net_a, net_b, sure=True)[1]

    @cached_property
    def _lowest(self) -> Network:
        return Network((resistor.a, resistor.b, resistor.low) for resistor in self.resistors)

    @cached_property
    def _highest(self) -> Network:
        return Network((resistor.a, resistor.b, resistor.high) for resistor in self.resistors)

    def _between(self, net_a: str, net_b: str) -> DesignOhms | None:
        low = round(self._lowest.ohms(net_a, net_b), 6)
        high, route = self._least_route(net_a, net_b, sure=True)
        if route:
            return DesignOhms(low, round(high, 6), _why(route), True)
        without: set[DesignPath] = set()
        routes: list[Route] = []
        most = 0.0
        while True:
            high, route = self._least_route(net_a, net_b, without=without)
            if not route:
                return DesignOhms(low, round(most, 6), _why(routes[0]), False) if routes else None
            most = max(most, high)
            routes.append(route)
            without.update(route)

    def _least_route(
        self, start: str, end: str, sure: bool = False, without: Collection[DesignPath] = ()
    ) -> tuple[float, Route]:
        """Dijkstra's shortest path by the highest values: its ohms, and the design paths it takes.

        sure: over parts that are fitted on every board only; without: parts taken as absent.
        """
        best: dict[str, float] = {start: 0.0}
        route: dict[str, Route] = {start: ()}
        heap: list[tuple[float, str]] = [(0.0, start)]
        while heap:
            ohms, node = heappop(heap)
            if ohms > best[node]:
                continue
            for other, resistor in self._at.get(node, ()):
                path = resistor.path
                if path in without or (sure and (resistor.perhaps or (path and path.may_be_absent))):
                    continue
                if ohms + resistor.high < best.get(other, inf):
                    best[other] = ohms + resistor.high
                    route[other] = route[node] + ((path,) if path and path not in route[node] else ())
                    heappush(heap, (best[other], other))
        return best.get(end, inf), route.get(end, ())


def _why(route: Route) -> tuple[str, ...]:
    return tuple(dict.fromkeys(path.why for path in route))


def _resistors(paths: Iterable[DesignPath], nets: Iterable[Net], tie_of: Mapping[str, str]) -> list[Resistor]:
    """The network. Nets that all conduct to each other meet at a node of their own; grounds, and a shell that may touch
    ground, are one node, so that a termination to ground is also seen from the shell.
    """
    found: list[Resistor] = []
    for number, path in enumerate(paths):
        if len(path.nets) == 2:
            found.append(Resistor(*path.nets, path.low, path.high, path))
        else:
            found += [Resistor(net, f"*{number}", path.low / 2, path.high / 2, path) for net in path.nets]
    if found:
        earth = [n.name for n in nets if n.role == GROUND or (n.role == SHELL and n.ground == "may")]
        found += [Resistor(a, b, 0.0, 0.0, None, perhaps=True) for a, b in pairwise(earth)]
        found += [Resistor(net, tie, 0.0, 0.0, None) for net, tie in tie_of.items() if net != tie]
    return found
