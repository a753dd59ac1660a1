"""What solder could link: the links that are possible in a scope, and how far they could reach from a point. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations
from math import inf
from typing import NamedTuple

from connector_check.analysis.knowledge import Knowledge
from connector_check.analysis.meaning import Floor
from connector_check.board.board import Board

Pair = tuple[int, int]


class Links(NamedTuple):
    """Links of no ohms that may exist: bridges between neighbours, and fixed ones (each joint to its net's board point,
    the shell to its joints, board points of nets that may be tied).
    """

    bridges: list[Pair]
    fixed: list[Pair]

    def without(self, pairs: Iterable[Pair]) -> Links:
        """The same without bridges between these pairs."""
        gone = {frozenset(pair) for pair in pairs}
        return Links([pair for pair in self.bridges if frozenset(pair) not in gone], self.fixed) if gone else self


def possible_links(board: Board, scope: str) -> Links:
    """The links that solder, the shell's metal and the board's design can make; scope: where solder can bridge."""
    number = board.number
    bridges = [(number[a], number[b]) for a, b, _ in board.gaps(scope)]
    fixed = [(joint, board.board_point[board.net_of[joint].name]) for joint in range(len(board.joints))]
    if board.shell_point is not None:
        fixed += [(board.shell_point, joint) for joint in board.shell_joints]
        fixed.append((board.shell_point, board.board_point[board.net_of[board.shell_point].name]))
    tied = board.touching_nets
    fixed += [
        (board.board_point[a.name], board.board_point[b.name])
        for i, a in enumerate(tied)
        for b in tied[i + 1 :]
        if not board.must_be_apart(a, b)
    ]
    return Links(bridges, fixed)


class PartPair(NamedTuple):
    """A part by design between the board points of two nets, with its least ohms."""

    pair: Pair
    low: float


def part_pairs(board: Board) -> list[PartPair]:
    """Every part as pairs of board points; a part among several nets between each two."""
    found = []
    for path in board.pin_map.paths:
        points = [board.board_point[net] for net in path.nets if net in board.board_point]
        found += [PartPair(pair, path.low) for pair in combinations(points, 2)]
    return found


def part_floor(board: Board, reach: Reach) -> Floor:
    """The least ohms that parts alone can show between two points that no links join (T8).

    The current leaves what a point can reach only through parts with an end in it; all of them side by side, each at
    its least, is the least that any board can show (Rayleigh's monotonicity law). Infinite without parts.
    """
    parts = [(r.a, r.b, r.low) for r in board.resistors if r.path is not None]
    nets_at: dict[int, set[str]] = {}
    for net, point in board.board_point.items():
        nets_at.setdefault(reach.root(point), set()).add(net)
    known: dict[int, float] = {}

    def at(point: int) -> float:
        key = reach.root(point)
        if key not in known:
            nets = {net for root in reach.roots(point) for net in nets_at.get(root, ())}
            touching = [low for a, b, low in parts if a in nets or b in nets]
            if not touching:
                known[key] = inf
            else:
                known[key] = 0.0 if min(touching) <= 0 else 1 / sum(1 / low for low in touching)
        return known[key]

    return lambda a, b: max(at(a), at(b))


class Reach:
    """Pot(u): points that a chain of possible links reaches from u's class, passing none known apart from it."""

    def __init__(self, board: Board, knowledge: Knowledge, links: Links) -> None:
        self._knowledge = knowledge
        find = knowledge.find
        self._members: dict[int, list[int]] = {}
        for point in range(len(board.points)):
            self._members.setdefault(find(point), []).append(point)
        self._linked: dict[int, set[int]] = {root: set() for root in self._members}
        for a, b in [*links.bridges, *links.fixed]:
            ra, rb = find(a), find(b)
            if ra != rb and not knowledge.apart(a, b):
                self._linked[ra].add(rb)
                self._linked[rb].add(ra)
        self._roots: dict[int, set[int]] = {}
        self._found: dict[int, set[int]] = {}

    def root(self, point: int) -> int:
        """What points with the same reach have in common."""
        return self._knowledge.find(point)

    def roots(self, point: int) -> set[int]:
        """The roots of what is within reach of this point, its own included."""
        root = self._knowledge.find(point)
        if root not in self._roots:
            barred = set(self._knowledge.parted_roots(point))
            seen, stack = {root}, [root]
            while stack:
                new = self._linked[stack.pop()] - seen - barred
                seen |= new
                stack += new
            self._roots[root] = seen
        return self._roots[root]

    def of(self, point: int) -> set[int]:
        """The points within reach of this one, itself and what is joined to it included."""
        root = self._knowledge.find(point)
        if root not in self._found:
            self._found[root] = {p for r in self.roots(point) for p in self._members[r]}
        return self._found[root]
