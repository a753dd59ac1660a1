"""Joined groups: the shorts among them with their likely sites, and the joins that are no fault. Pure."""

from __future__ import annotations

from itertools import combinations

from connector_check.analysis.bridges import sites
from connector_check.analysis.meaning import JOINS, PARTS
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import INFERRED, MEASURED, BridgeSite, Harmless, Short
from connector_check.board.board import Board
from connector_check.board.harm import GRADES, HARMLESS
from connector_check.pinout.pinmap import Net


def short_groups(standing: Standing) -> list[list[int]]:
    """The joined groups that span nets which must be apart, worst harm first, then in layout order."""
    board = standing.board
    found = []
    for group in standing.knowledge.classes():
        if len(group) > 1:
            nets = {board.net_of[p].name: board.net_of[p] for p in group}
            harm = board.worst(nets.values()).harm
            if harm != HARMLESS:
                found.append((GRADES.index(harm), group))
    return [group for _, group in sorted(found)]


def find_shorts(standing: Standing) -> list[Short]:
    """One short for each group of `short_groups`, with its likely sites and the readings that carry it."""
    board, knowledge = standing.board, standing.knowledge
    groups = short_groups(standing)
    lines: dict[int, list[int]] = {knowledge.find(group[0]): [] for group in groups}
    direct: set[frozenset[str]] = set()
    if groups:
        for reading in standing.readings:
            carried = lines.get(knowledge.find(reading.entry.points[0])) if reading.meaning == JOINS else None
            if carried is not None:
                carried.append(reading.entry.line)
                direct.add(frozenset(board.net_of[p].name for p in reading.entry.points))
    parted = {frozenset(r.entry.points) for r in standing.readings if r.meaning == PARTS} if groups else set()
    shorts = []
    for group in groups:
        nets = {board.net_of[p].name: board.net_of[p] for p in group}
        harm = board.worst(nets.values())
        found = sites(board, knowledge, group, standing.remarks, parted)
        shorts.append(
            Short(
                nets=tuple(sorted(nets)),
                joints=tuple(board.names(group)),
                harm=harm.harm,
                why=harm.why,
                volts=harm.volts,
                sites=tuple(
                    BridgeSite(board.pair(s.pair), tuple(map(board.pair, s.alternatives)), s.gap_mm) for s in found
                ),
                readings=tuple(lines[knowledge.find(group[0])]),
                known=MEASURED if _all_direct(board, nets, direct) else INFERRED,
            )
        )
    return shorts


def _all_direct(board: Board, nets: dict[str, Net], direct: set[frozenset[str]]) -> bool:
    """Whether each two nets that must be apart beeped directly; a group of many is not gone through pair by pair."""
    if len(nets) > 40:
        return False
    return all(
        frozenset((a.name, b.name)) in direct for a, b in combinations(nets.values(), 2) if board.must_be_apart(a, b)
    )


def find_harmless(standing: Standing) -> list[Harmless]:
    """Joins that are no fault: joints of one net, ground to ground, shell to ground where the map allows it."""
    board = standing.board
    touching = {net.name for net in board.touching_nets}
    board_points = set(board.board_point.values())
    found = []
    for group in standing.knowledge.classes():
        if len(group) < 2:
            continue
        by_net: dict[str, list[int]] = {}
        for point in group:
            by_net.setdefault(board.net_of[point].name, []).append(point)
        earth = [n for n in by_net if n in touching]
        bundles = [[n] for n in by_net if n not in earth]
        for name in earth:
            for bundle in bundles:
                if bundle[0] in earth and not any(_apart(board, name, other) for other in bundle):
                    bundle.append(name)
                    break
            else:
                bundles.append([name])
        for names in bundles:
            points = [p for name in names for p in by_net[name]]
            joints = sum(1 for p in points if p not in board_points)
            if len(points) > 1 and (joints > 1 or names[0] in earth):
                why = board.grade(_net(board, names[0]), _net(board, names[-1])).why
                found.append(Harmless(tuple(sorted(names)), tuple(board.names(points)), why))
    return found


def _apart(board: Board, a: str, b: str) -> bool:
    return board.must_be_apart(_net(board, a), _net(board, b))


def _net(board: Board, name: str) -> Net:
    return board.net_of[board.board_point[name]]
