"""The board at one connector: a pin map in one layout, as points that a lead can touch.

Points are numbered, see `points`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from functools import cached_property

from connector_check.board.design import DesignNetwork, DesignOhms, Resistor
from connector_check.board.harm import HARMLESS, Grade, grade, kind_of, worst
from connector_check.board.point_names import PointNames
from connector_check.board.points import Points
from connector_check.board.ties import tie_by_name
from connector_check.pinout.geometry import Gap, neighbours
from connector_check.pinout.pinmap import GROUND, RESERVED, ROLES, SHELL, DesignPath, Joint, Layout, Net, PinMap

NEAR, WIDE, ALL = "near", "wide", "all"


class Board:
    """Points, nets and neighbours of one connector on one board. Treat it as frozen.

    points: names by number; net_of: each point's net, by number; number: point numbers by name; joints_of,
    shell_joints, shell_point, board_point, nets: see `points.Points`; tie_of: the tie of each tied net.
    """

    def __init__(
        self,
        pin_map: PinMap,
        layout: Layout,
        ties: Iterable[Collection[str]] = (),
        named: Mapping[str, str] | None = None,
        unreached: Iterable[str] = (),
        no_junction: Iterable[str] = (),
    ) -> None:
        """ties: groups of nets that are one conductor on this board by design; named: board points by name (`TP4`),
        each with its net; unreached: joints that boards of this kind do not join to their net; no_junction: joints
        that read over the range in diode mode on boards of this kind.
        """
        self.pin_map = pin_map
        self.layout = layout
        self.named = dict(named or {})
        self.unreached = frozenset(unreached)
        self.no_junction = frozenset(no_junction)
        self.ties = [frozenset(group) for group in ties]
        self.tie_of = tie_by_name(self.ties)
        self.joints: tuple[Joint, ...] = layout.joints
        found = self._points = Points(pin_map, layout)
        self.nets, self.points, self.net_of, self.number = found.nets, found.names, found.net_of, found.number
        self.joints_of, self.shell_joints = found.joints_of, found.shell_joints
        self.shell_point, self.board_point = found.shell_point, found.board_point

    # Names

    @cached_property
    def _names(self) -> PointNames:
        return PointNames(self._points, self.layout.joint_of, self.named)

    def resolve(self, name: str) -> int | None:
        """The point that a typed name means, or None; see `point_names.PointNames.resolve`."""
        return self._names.resolve(name)

    @property
    def known_names(self) -> list[str]:
        """Every name that `resolve` knows, joints first."""
        return self._names.known

    def pair(self, points: tuple[int, int]) -> tuple[str, str]:
        """The names of two points."""
        return self.points[points[0]], self.points[points[1]]

    def names(self, points: Iterable[int]) -> list[str]:
        """Point names, joints in layout order before board points."""
        return [self.points[p] for p in sorted(points)]

    # Gaps between pads

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

    # What conducts by design

    @cached_property
    def _design(self) -> DesignNetwork:
        return DesignNetwork(self.pin_map.paths, self.nets, self.tie_of)

    def design_ohms(self, net_a: str, net_b: str) -> DesignOhms | None:
        """What the parts by design read between two nets, or None; see `design.DesignNetwork.ohms`."""
        return self._design.ohms(net_a, net_b)

    def sure_route(self, net_a: str, net_b: str) -> tuple[DesignPath, ...]:
        """The parts that join two nets on every board, or none; see `design.DesignNetwork.sure_route`."""
        return self._design.sure_route(net_a, net_b)

    def design_with(self, ties: Iterable[Collection[str]]) -> DesignNetwork:
        """The network of parts on a board where these nets are one conductor as well."""
        return DesignNetwork(self.pin_map.paths, self.nets, tie_by_name([*self.ties, *ties]))

    @property
    def resistors(self) -> list[Resistor]:
        """The parts by design as resistors between nets, wires included; empty where there are none."""
        return self._design.resistors

    def tied(self, a: Net, b: Net) -> bool:
        """Whether two nets are one conductor on this board by design."""
        return a.name in self.tie_of and self.tie_of[a.name] == self.tie_of.get(b.name)

    @cached_property
    def touching_nets(self) -> list[Net]:
        """Nets that may be joined to another: grounds, shell, and those tied by design."""
        return [net for net in self.nets if net.role in (GROUND, SHELL) or net.name in self.tie_of]

    # What must be so

    def must_reach(self, net: Net) -> bool:
        """Whether every joint of a net must reach its board point. Not the shell, which the maps let float, nor what is
        reserved, nor what the board may leave open.
        """
        return net.must_join or not (net.role in (SHELL, RESERVED) or net.may_be_open)

    def joints_at(self, point: int) -> tuple[int, ...]:
        """The joints that a point stands for: itself, all of the shell for its metal, those of its net for a board
        point.
        """
        if point < len(self.joints):
            return (point,)
        return self.shell_joints if point == self.shell_point else tuple(self.joints_of[self.net_of[point].name])

    # What a short does

    def must_be_apart(self, a: Net, b: Net) -> bool:
        """Whether a short between two nets is more than harmless."""
        return a.name != b.name and self.grade(a, b).harm != HARMLESS

    def grade(self, a: Net, b: Net) -> Grade:
        """`harm.grade` of two nets on this board, where the designer may have tied them."""
        if a.name == b.name:
            return grade(a, b)
        if self.tied(a, b):
            return Grade(HARMLESS, f"{a.name} and {b.name} are one conductor on this board by design")
        return grade(self._as_tied(a), self._as_tied(b))

    def _as_tied(self, net: Net) -> Net:
        """The net that a net stands for in a short: what is tied to ground is ground, a spare on a signal is one."""
        tie = self.tie_of.get(net.name)
        if tie is None:
            return net
        fellows = (other for other in self.nets if self.tie_of.get(other.name) == tie)
        return min((net, *fellows), key=lambda other: ROLES.index(other.role))

    def kind_of(self, net: Net) -> tuple[object, ...]:
        """`harm.kind_of` on this board: nets of one kind are graded alike with every other, and with each other."""
        return *kind_of(net), self.tie_of.get(net.name)

    def worst(self, nets: Iterable[Net]) -> Grade:
        """`harm.worst` of these nets on this board."""
        return worst(nets, self.grade, self.kind_of)
