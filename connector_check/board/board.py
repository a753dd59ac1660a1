"""The board at one connector: a pin map in one layout, as points that a lead can touch.

Points are numbered: the joints first, then the shell as a whole (`SH`), then one board point per net (`@NET`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from functools import cached_property
from heapq import heappop, heappush
from itertools import pairwise
from math import inf
from typing import NamedTuple

from connector_check.board.harm import HARMLESS, Grade, grade, worst
from connector_check.board.network import Network
from connector_check.pinout.geometry import Gap, neighbours
from connector_check.pinout.pinmap import GROUND, SHELL, DesignPath, Joint, Layout, Net, PinMap

NEAR, WIDE, ALL = "near", "wide", "all"


class DesignOhms(NamedTuple):
    """What parts by design read between two nets: from `low` to `high` ohms; why: those parts in words; sure: a route
    of parts that are not said to be absent on some boards.
    """

    low: float
    high: float
    why: tuple[str, ...]
    sure: bool = False


class Board:
    """Points, nets and neighbours of one connector on one board. Treat it as frozen.

    points: names by number; net_of: each point's net, by number; number: point numbers by name.
    """

    def __init__(
        self,
        pin_map: PinMap,
        layout: Layout,
        ties: Iterable[Collection[str]] = (),
        named: Mapping[str, str] | None = None,
    ) -> None:
        """ties: groups of nets that are one conductor on this board by design; named: board points by name (`TP4`),
        each with its net.
        """
        self.named = dict(named or {})
        self.ties = [frozenset(group) for group in ties]
        self.pin_map = pin_map
        self.tie_of: dict[str, str] = {}
        for group in self.ties:
            names = sorted({self.tie_of.get(name, name) for name in group})
            for net_name, tie in [*self.tie_of.items(), *((name, name) for name in group)]:
                if tie in names:
                    self.tie_of[net_name] = names[0]
        self.layout = layout
        self.joints: tuple[Joint, ...] = layout.joints
        placed = {contact for joint in self.joints for contact in joint.contacts}
        self.nets: tuple[Net, ...] = tuple(
            n for n in pin_map.nets if placed.intersection(n.contacts) or n.role == SHELL
        )
        self.points: list[str] = [joint.name for joint in self.joints]
        self.net_of: list[Net] = [pin_map.net_of[joint.contacts[0]] for joint in self.joints]
        self.shell_point: int | None = None
        if "SH" in pin_map.net_of and "SH" not in self.points:
            self.shell_point = len(self.points)
            self.points.append("SH")
            self.net_of.append(pin_map.net_of["SH"])
        self.board_point: dict[str, int] = {}
        for net in self.nets:
            self.board_point[net.name] = len(self.points)
            self.points.append("@" + net.name)
            self.net_of.append(net)
        self.number: dict[str, int] = {name: i for i, name in enumerate(self.points)}

    @cached_property
    def joints_of(self) -> dict[str, list[int]]:
        """Joint numbers of each net, in layout order."""
        found: dict[str, list[int]] = {net.name: [] for net in self.nets}
        for i in range(len(self.joints)):
            found[self.net_of[i].name].append(i)
        return found

    @cached_property
    def shell_joints(self) -> tuple[int, ...]:
        """Numbers of the shell's joints."""
        return tuple(i for i, joint in enumerate(self.joints) if joint.contacts == ("SH",))

    @cached_property
    def _names(self) -> tuple[dict[str, int], dict[str, list[int]]]:
        exact: dict[str, int] = {}
        for net in self.nets:
            exact[net.name] = exact["@" + net.name] = self.board_point[net.name]
        for name, net_name in self.named.items():
            if net_name in self.board_point:
                exact["@" + name] = self.board_point[net_name]
        for contact, joint in self.layout.joint_of.items():
            exact[contact] = self.number[joint]
        exact.update(self.number)
        folded: dict[str, list[int]] = {}
        for name, point in exact.items():
            if point not in folded.setdefault(name.casefold(), []):
                folded[name.casefold()].append(point)
        return exact, folded

    def resolve(self, name: str) -> int | None:
        """The point that a typed name means, or None.

        A joint or contact comes before a net of the same name; a net's name means its board point; case is ignored
        where that leaves one choice.
        """
        exact, folded = self._names
        found = exact.get(name)
        if found is None:
            candidates = folded.get(name.casefold(), [])
            if len(candidates) == 1:
                return candidates[0]
        return found

    @cached_property
    def known_names(self) -> list[str]:
        """Every name that `resolve` knows, joints first."""
        return list(dict.fromkeys([*self.points, *self._names[0]]))

    @cached_property
    def near_gaps(self) -> list[Gap]:
        """Neighbours by line of sight and nearness; see `geometry.neighbours`."""
        return neighbours(self.joints)

    @cached_property
    def wide_gaps(self) -> list[Gap]:
        """The same without the line of sight, for solder over or under a joint."""
        return neighbours(self.joints, in_sight=False)

    def gaps(self, scope: str) -> list[Gap]:
        """Where the scope expects solder bridges: `near_gaps` in scope near, `wide_gaps` in the others."""
        return self.near_gaps if scope == NEAR else self.wide_gaps

    @cached_property
    def _design_edges(self) -> list[tuple[str, str, float, float, DesignPath | None]]:
        """Every design path as resistors (node, node, low, high ohms). Nets that all conduct to each other meet at a
        node of their own; grounds, and a shell that may touch ground, are one node, so that a termination to ground
        is also seen from the shell.
        """
        edges: list[tuple[str, str, float, float, DesignPath | None]] = []
        for number, path in enumerate(self.pin_map.paths):
            if len(path.nets) == 2:
                edges.append((*path.nets, path.low, path.high, path))
            else:
                edges += [(net, f"*{number}", path.low / 2, path.high / 2, path) for net in path.nets]
        if edges:
            earth = [n.name for n in self.nets if n.role == GROUND or (n.role == SHELL and n.ground == "may")]
            edges += [(a, b, 0.0, 0.0, None) for a, b in pairwise(earth)]
            edges += [(net, tie, 0.0, 0.0, None) for net, tie in self.tie_of.items() if net != tie]
        return edges

    @cached_property
    def _least_network(self) -> Network:
        return Network((a, b, low) for a, b, low, _, _ in self._design_edges)

    def design_ohms(self, net_a: str, net_b: str) -> DesignOhms | None:
        """What the parts by design read between two nets, or None when none joins them.

        low: the whole network with every part fitted at its lowest value; high: the least route at its highest values,
        the parts that may be absent elsewhere left out. Chains add up, parallel parts lower the reading.
        """
        if not self._design_edges:
            return None
        key = (min(net_a, net_b), max(net_a, net_b))
        if key not in self._design_cache:
            self._design_cache[key] = self._design_between(*key)
        return self._design_cache[key]

    @cached_property
    def _design_cache(self) -> dict[tuple[str, str], DesignOhms | None]:
        return {}

    def _design_between(self, net_a: str, net_b: str) -> DesignOhms | None:
        best: dict[str, float] = {net_a: 0.0}
        route: dict[str, tuple[DesignPath, ...]] = {net_a: ()}
        heap: list[tuple[float, str]] = [(0.0, net_a)]
        while heap:
            ohms, node = heappop(heap)
            if ohms > best[node]:
                continue
            for a, b, _, high, path in self._design_edges:
                other = b if a == node else a if b == node else None
                if other is not None and ohms + high < best.get(other, inf):
                    best[other] = ohms + high
                    route[other] = route[node] + ((path,) if path and path not in route[node] else ())
                    heappush(heap, (best[other], other))
        if not route.get(net_b):
            return None
        parts = tuple(dict.fromkeys(path.why for path in route[net_b]))
        low = round(self._least_network.ohms(net_a, net_b), 6)
        return DesignOhms(low, round(best[net_b], 6), parts, not any(path.may_be_absent for path in route[net_b]))

    def must_be_apart(self, a: Net, b: Net) -> bool:
        """Whether a short between two nets is more than harmless."""
        return a.name != b.name and self.grade(a, b).harm != HARMLESS

    def grade(self, a: Net, b: Net) -> Grade:
        """`harm.grade` of two nets on this board, where the designer may have tied them."""
        if a.name != b.name and self.tied(a, b):
            return Grade(HARMLESS, f"{a.name} and {b.name} are one conductor on this board by design")
        return grade(a, b)

    def worst(self, nets: Iterable[Net]) -> Grade:
        """`harm.worst` of these nets on this board."""
        return worst(nets, self.grade, lambda net: self.tie_of.get(net.name))

    def tied(self, a: Net, b: Net) -> bool:
        """Whether two nets are one conductor on this board by design."""
        return a.name in self.tie_of and self.tie_of.get(a.name) == self.tie_of.get(b.name)

    @cached_property
    def touching_nets(self) -> list[Net]:
        """Nets that may be joined to another: grounds, shell, and those tied by design."""
        return [net for net in self.nets if net.role in (GROUND, SHELL) or net.name in self.tie_of]

    def pair(self, points: tuple[int, int]) -> tuple[str, str]:
        """The names of two points."""
        return self.points[points[0]], self.points[points[1]]

    def names(self, points: Iterable[int]) -> list[str]:
        """Point names, joints in layout order before board points."""
        return [self.points[p] for p in sorted(points)]
