"""Where the solder most likely sits: the smallest gaps that connect the nets of a short. Pure.

Two-point beeps see only which points are joined; every set of bridges that spans the group gives the same readings.
So the answer is a minimum spanning tree over the gaps between nets, each edge with every gap that could replace it.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from itertools import combinations
from math import log

from connector_check.analysis.knowledge import Knowledge
from connector_check.analysis.odds import DECAY_MM, NO_REMARKS, Remarks, remark_odds
from connector_check.board.board import Board
from connector_check.board.disjoint import Disjoint
from connector_check.pinout.geometry import TIE_MM, gap

Pair = tuple[int, int]

MANY_JOINTS = 300


@dataclass(frozen=True)
class Site:
    """One likely bridge: the joint pair, its gap in mm, and every equal alternative."""

    pair: Pair
    gap_mm: float
    alternatives: tuple[Pair, ...]


def sites(
    board: Board,
    knowledge: Knowledge,
    group: Collection[int],
    remarks: Remarks = NO_REMARKS,
    parted: Collection[frozenset[int]] = (),
) -> list[Site]:
    """The likeliest bridges of one joined group (point numbers), a minimum spanning tree over its nets' gaps.

    Nets that may touch (grounds, a shell that may be grounded) count as one conductor. A net takes part with its joints
    in the group, and when only its board point was touched, with those that are not known apart from it. Ties within
    0.02 mm are listed with the edge they could replace. parted: pairs that a reading of their own shows apart, so that
    no solder lies there. O(j^2 log j) for j joints.
    """
    members = _members(board, knowledge, group)
    edges = [edge for edge in _edges(board, members, remarks) if frozenset(edge[2]) not in parted]
    conductors: Disjoint[str] = Disjoint()
    touching = [net.name for net in board.touching_nets if net.name in members]
    for name, other in combinations(touching, 2):
        nets = board.net_of[board.board_point[name]], board.net_of[board.board_point[other]]
        if not board.must_be_apart(*nets):
            conductors.join(name, other)
    tied = {name: conductors.find(name) for name in members}
    tree: list[tuple[float, float, Pair]] = []
    for weight, mm, pair in edges:
        if conductors.join(*(board.net_of[p].name for p in pair)):
            tree.append((weight, mm, pair))
    return [Site(pair, mm, tuple(_replacements(board, edges, tree, tied, i))) for i, (_, mm, pair) in enumerate(tree)]


def _members(board: Board, knowledge: Knowledge, group: Collection[int]) -> dict[str, list[int]]:
    members: dict[str, list[int]] = {}
    for point in group:
        joints = members.setdefault(board.net_of[point].name, [])
        if point < len(board.joints):
            joints.append(point)
    for name, joints in members.items():
        if not joints:
            anyone = next(iter(group))
            joints.extend(j for j in board.joints_of[name] if not knowledge.apart(j, anyone))
    return {name: joints for name, joints in members.items() if joints}


def _edges(board: Board, members: dict[str, list[int]], remarks: Remarks) -> list[tuple[float, float, Pair]]:
    names = list(members)
    edges = []
    if sum(map(len, members.values())) > MANY_JOINTS:
        inside = {j for joints in members.values() for j in joints}
        candidates = [(board.number[a], board.number[b]) for a, b, _ in board.wide_gaps]
        candidates = [(a, b) for a, b in candidates if a in inside and b in inside]
    else:
        candidates = [
            (a, b)
            for i, first in enumerate(names)
            for second in names[i + 1 :]
            for a in members[first]
            for b in members[second]
        ]
    for a, b in candidates:
        if board.net_of[a].name != board.net_of[b].name:
            mm = gap(board.joints[a], board.joints[b])
            # rounded, so that gaps drawn alike come in the order of the layout
            weight = round(mm - DECAY_MM * log(remark_odds(remarks, a, b)), 6)
            edges.append((weight, mm, (min(a, b), max(a, b))))
    edges.sort(key=lambda edge: (edge[0], edge[2]))
    return edges


def _replacements(
    board: Board,
    edges: list[tuple[float, float, Pair]],
    tree: list[tuple[float, float, Pair]],
    tied: dict[str, str],
    removed: int,
) -> list[Pair]:
    def conductors(pair: Pair) -> tuple[str, str]:
        a, b = (tied[board.net_of[point].name] for point in pair)
        return a, b

    rest: Disjoint[str] = Disjoint()
    for i, (_, _, pair) in enumerate(tree):
        if i != removed:
            rest.join(*conductors(pair))
    limit = tree[removed][0] + TIE_MM
    found = []
    for weight, _, pair in edges:
        if weight > limit:
            break
        if pair != tree[removed][2] and not rest.joined(*conductors(pair)):
            found.append(pair)
    return found
