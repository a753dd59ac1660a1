"""What boards known to be sound say of the design: nets that are one conductor, parts, what is left out. Pure.

A reference excuses what it shows itself. What would destroy something, or shorts or joins a supply, two independent
boards must show; and a supply that sounds to ground may be its load, so there only solder ohms on both count. What the
boards disagree on is not used, and told.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from math import inf
from typing import NamedTuple

from connector_check.analysis.diode import diode_readings
from connector_check.analysis.good_ohms import like_ohms, median_of
from connector_check.analysis.meaning import DOUBTFUL, JOINS, LEAK, PART, PARTS
from connector_check.analysis.obligations import body
from connector_check.analysis.opens import open_part
from connector_check.analysis.replay import Standing, replay
from connector_check.board.board import Board
from connector_check.board.harm import DAMAGE, SUPPLY_SHORT
from connector_check.board.ohms import BRIDGE_OHMS
from connector_check.board.ties import merged
from connector_check.pinout.pinmap import GROUND, POWER, SHELL, DesignPath
from connector_check.testlog.job import GoodBoard
from connector_check.testlog.readings import OHMS

AS_GOOD = "as read on the good board"
DESTRUCTIVE = (DAMAGE, SUPPLY_SHORT)
"""Harms that one good board does not excuse."""

NetPair = tuple[str, str]
"""Two nets, in the order of their names."""


class Design(NamedTuple):
    """A board as good boards show it; told: what was taken from them, and what was not, in words."""

    board: Board
    told: tuple[str, ...]


def standing_on(board: Board, good: GoodBoard) -> Standing:
    """What a good board's job amounts to: silence that no proof of the leads stands around does not count."""
    standing = replay(board, good.entries, good.meter)
    return standing.without(standing.unproven_silence) if standing.unproven_silence else standing


def designed_as(board: Board, good_boards: Sequence[GoodBoard]) -> Design:
    """The board with the designer's doing as its good fellows show it. Their points are the board's."""
    told: list[str] = []
    seen = [standing_on(board, good) for good in good_boards]
    board = _without_absent(board, seen, told)
    board = _with_parts(board, [standing_on(board, good) for good in good_boards], told)
    seen = [standing_on(board, good) for good in good_boards]
    for good, one in zip(good_boards, seen, strict=True):
        for conflict in one.knowledge.conflicts()[:1]:
            a, b = board.pair(conflict.quiet)
            told.append(f"good board {good.name} contradicts itself at {a} - {b}: what it joins there is not used")
    ties = _ties(board, seen, told)
    unreached = _unreached(board, seen, told)
    silent = _no_junction(board, seen)
    if silent:
        names = ", ".join(name for name in board.points if name in silent)
        told.append(f"{names} over the range in diode mode is no finding: so on the good board as well")
    if ties or unreached or silent:
        board = Board(board.pin_map, board.layout, [*board.ties, *ties], board.named, unreached, silent)
    return Design(board, tuple(told))


def _with_paths(board: Board, paths: Iterable[DesignPath]) -> Board:
    return Board(replace(board.pin_map, paths=tuple(paths)), board.layout, board.ties, board.named)


def _net_pair(board: Board, points: Sequence[int]) -> NetPair:
    a, b = sorted(board.net_of[point].name for point in points)
    return a, b


def _is_destructive(board: Board, nets: NetPair) -> bool:
    a, b = (board.net_of[board.board_point[name]] for name in nets)
    return board.grade(a, b).harm in DESTRUCTIVE


# What is not fitted, and joints that are left open


def _without_absent(board: Board, seen: Sequence[Standing], told: list[str]) -> Board:
    """The board on which a part that must sound may be absent where it is silent on the good boards too."""
    if not board.pin_map.paths:
        return board
    silent: set[NetPair] = set()
    sounding: set[NetPair] = set()
    for one in seen:
        for reading in one.readings:
            nets = _net_pair(board, reading.entry.points)
            if reading.meaning in (JOINS, DOUBTFUL, PART):
                sounding.add(nets)
            elif reading.meaning == PARTS and open_part(one, reading):
                silent.add(nets)
    told += [
        f"the good boards disagree on the part between {a} and {b}: not used" for a, b in sorted(silent & sounding)
    ]
    for nets in sorted(silent - sounding):
        paths = board.pin_map.paths
        while route := _with_paths(board, paths).sure_route(*nets):
            paths = tuple(path._replace(may_be_absent=True) if path in route else path for path in paths)
        told.append(f"the part between {nets[0]} and {nets[1]} may be absent: it is silent on the good board as well")
        board = _with_paths(board, paths)
    return board


def _unreached(board: Board, seen: Sequence[Standing], told: list[str]) -> set[str]:
    """Joints that do not reach their net on the good boards, on none of them."""
    found: set[str] = set()
    for joint in range(len(board.joints)):
        net, name = board.net_of[joint], board.points[joint]
        if not board.must_reach(net):
            continue
        point = board.board_point[net.name]
        open_on = sum(_is_left_open(one, joint) for one in seen)
        if open_on and any(one.closed.presumed.joined(joint, point) for one in seen):
            told.append(f"the good boards disagree on whether {name} reaches {net.name}: not used")
        elif open_on:
            found.add(name)
    if found:
        names = ", ".join(name for name in board.points if name in found)
        told.append(f"contact of {names} is not required: silent to the board on the good board as well")
    return found


def _no_junction(board: Board, seen: Sequence[Standing]) -> set[str]:
    """Joints that read over the range in diode mode on every good board that has them."""
    read: dict[int, list[float]] = {}
    for one in seen:
        for point, volts in {r.point: r.volts for r in diode_readings(board, one.entries)}.items():
            read.setdefault(point, []).append(volts)
    return {board.points[point] for point, volts in read.items() if set(volts) == {inf}}


def _is_left_open(standing: Standing, joint: int) -> bool:
    """Whether a joint is apart from its net; where the board must join that net, while a fellow reaches it, be it by a
    tone that parts may have carried.
    """
    board, presumed = standing.board, standing.closed.presumed
    net = board.net_of[joint]
    point = board.board_point[net.name]
    if not standing.knowledge.apart(joint, point):
        return False
    return not net.must_join or any(presumed.joined(other, point) for other in board.joints_of[net.name])


# Parts that the map does not know


def _with_parts(board: Board, seen: Sequence[Standing], told: list[str]) -> Board:
    """The board with parts where the good boards read ohms between solder and silence, the least first.

    What the parts found so far explain is no part of its own.
    """
    read: dict[NetPair, list[float]] = {}
    for one in seen:
        leaks = {_net_pair(board, r.entry.points): r.ohms or 0.0 for r in one.readings if r.meaning == LEAK}
        for nets, ohms in leaks.items():
            read.setdefault(nets, []).append(ohms)
    for nets, values in sorted(read.items(), key=lambda item: min(item[1])):
        shown = " and ".join(f"{value:g}" for value in values)
        where = f"{nets[0]} and {nets[1]}"
        if median_of(values) is None:
            told.append(f"the good boards disagree on the ohms between {where} ({shown}): not used")
        elif len(values) < 2 and _is_destructive(board, nets):
            told.append(f"{shown} ohm between {where} on the good board: one board alone excuses nothing at a supply")
        elif (part := board.design_ohms(*nets)) is None or not all(map(part.reads_as, values)):
            low, high = like_ohms(min(values)).low, like_ohms(max(values)).high
            path = DesignPath(nets, round(low, 3), round(high, 3), AS_GOOD)
            board = _with_paths(board, [*board.pin_map.paths, path])
            told.append(f"{shown} ohm between {where} is a part: {AS_GOOD}")
    return board


# Nets that are one conductor


def ties_of(board: Board, seen: Sequence[Standing]) -> list[frozenset[str]]:
    """The groups of nets that the good boards join, though the pin map would call it a short."""
    return _ties(board, seen, [])


def _ties(board: Board, seen: Sequence[Standing], told: list[str]) -> list[frozenset[str]]:
    joined = [dict(_joined_nets(one)) for one in seen]
    disputed = {pair for pair in set().union(*joined) if any(_is_apart(one, pair) for one in seen)}
    for a, b in sorted(disputed):
        told.append(f"the good boards disagree on whether {a} and {b} are joined: not used")

    def excused(pair: NetPair) -> bool:
        if not _is_destructive(board, pair):
            return True
        solder = _may_be_load(board, pair)
        return sum(pair in nets and (nets[pair] or not solder) for nets in joined) > 1

    groups: list[frozenset[str]] = []
    for nets in joined:
        for group in merged(nets):
            pairs = [pair for pair in nets if group.issuperset(pair)]
            if all(map(excused, pairs)) and disputed.isdisjoint(pairs):
                groups.append(group)
            elif disputed.isdisjoint(pairs):
                told.append(_refused(board, next(pair for pair in pairs if not excused(pair))))
    kept = []
    for tie in merged(groups):
        # together with what is tied already, and through it with each other, they must be sound as well
        whole = next(nets for nets in merged([*board.ties, *groups]) if tie <= nets)
        wrong = next((pair for pair in combinations(sorted(whole), 2) if not excused(pair)), None)
        if wrong:
            told.append(_refused(board, wrong))
            continue
        kept.append(tie)
        by_ohms = all(nets[pair] for nets in joined for pair in nets if tie.issuperset(pair))
        by_tone = "" if by_ohms else ", by tone alone: a part of low ohms would sound the same"
        told.append(f"{' + '.join(sorted(tie))} are one conductor by design, as on the good board{by_tone}")
    told[:] = dict.fromkeys(told)
    return kept


def _refused(board: Board, pair: NetPair) -> str:
    a, b = (board.net_of[board.board_point[name]] for name in pair)
    enough = "two good boards or the board notes can"
    if _may_be_load(board, pair):
        enough = f"only ohms under {BRIDGE_OHMS:g} there on two good boards can"
    return (
        f"{pair[0]} and {pair[1]} are joined on the good board as well, which does not excuse it "
        f"({board.grade(a, b).harm}): {enough}"
    )


def _may_be_load(board: Board, pair: NetPair) -> bool:
    """Whether a tone between two nets may be a supply's load."""
    roles = {board.net_of[board.board_point[name]].role for name in pair}
    return POWER in roles and bool(roles & {GROUND, SHELL})


def _joined_nets(standing: Standing) -> Iterator[tuple[NetPair, bool]]:
    """Every two nets that must be apart and are joined, each with whether ohms between them showed solder. A group that
    contradicts itself says nothing.
    """
    board, knowledge = standing.board, standing.knowledge
    solder = _by_ohms(standing)
    contradicted = {knowledge.find(conflict.quiet[0]) for conflict in knowledge.conflicts()}
    for group in knowledge.classes():
        if knowledge.find(group[0]) in contradicted:
            continue
        names = sorted({board.net_of[p].name for p in group})
        nets = {name: board.net_of[board.board_point[name]] for name in names}
        for a, b in combinations(names, 2):
            if board.must_be_apart(nets[a], nets[b]):
                yield (a, b), frozenset((a, b)) in solder


def _by_ohms(standing: Standing) -> set[frozenset[str]]:
    """Nets with a direct reading of solder ohms between them."""
    board = standing.board
    return {
        frozenset(board.net_of[p].name for p in reading.entry.points)
        for reading in standing.readings
        if reading.entry.kind == OHMS and reading.meaning == JOINS and (reading.ohms or 0.0) < BRIDGE_OHMS
    }


def _is_apart(standing: Standing, nets: NetPair) -> bool:
    """Whether two nets are known apart."""
    board, knowledge = standing.board, standing.knowledge
    return knowledge.apart(body(board, knowledge, nets[0]), body(board, knowledge, nets[1]))
