"""Drawing boards: faults by the gaps between joints, the designer's choices, the parts that are fitted. Pure."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from itertools import combinations
from math import exp
from typing import NamedTuple

from connector_check.board.board import NEAR, Board
from connector_check.board.harm import HARMLESS
from connector_check.pinout.geometry import Gap
from connector_check.pinout.pinmap import GROUND, SHELL, DesignPath
from connector_check.simulated.board import Bridge, Part, SimulatedBoard
from connector_check.simulated.truth import optional_joints

FALL_MM = 0.15
"""The odds of a bridge fall by e for each of these mm over the smallest gap (an assumption; no published rate)."""


class Rates(NamedTuple):
    """How often faults are drawn.

    bridge: odds at the smallest gap, falling with the gap, or of every neighbour alike when `uniform`; open: odds per
    joint; both: odds of one joint that is open and bridged at once; bridge_ohms: the most that a bridge reads, in ohms
    (a third of the bridges read 0); scope: which neighbours can be bridged.
    """

    bridge: float = 0.02
    open: float = 0.01
    both: float = 0.0
    uniform: bool = False
    bridge_ohms: float = 1.0
    scope: str = NEAR


def draw_faults(board: Board, rng: random.Random, rates: Rates) -> tuple[tuple[Bridge, ...], frozenset[int]]:
    """Bridges and open joints of one board."""
    gaps = board.gaps(rates.scope)
    odds = [rates.bridge * weight for weight in gap_weights(gaps, rates.uniform)]
    pairs = [
        (board.number[a], board.number[b]) for (a, b, _), odd in zip(gaps, odds, strict=True) if rng.random() < odd
    ]
    opens = {joint for joint in range(len(board.joints)) if rng.random() < rates.open}
    if gaps and rng.random() < rates.both:
        a, b, _ = rng.choice(gaps)
        pairs.append((board.number[a], board.number[b]))
        opens.add(board.number[rng.choice((a, b))])
    bridges = tuple(Bridge(a, b, bridge_ohms(rng, rates.bridge_ohms)) for a, b in dict.fromkeys(pairs))
    return bridges, frozenset(opens)


def gap_weights(gaps: Sequence[Gap], uniform: bool) -> list[float]:
    """How likely each gap is bridged, against the smallest of them; all alike when uniform."""
    least = min((mm for _, _, mm in gaps), default=0.0)
    return [1.0 if uniform else exp(-(mm - least) / FALL_MM) for _, _, mm in gaps]


def bridge_ohms(rng: random.Random, most: float) -> float:
    """Ohms of a bridge: 0 for a third of them, else evenly up to `most`."""
    return 0.0 if rng.random() < 1 / 3 else rng.uniform(0.0, most)


def corners(board: Board, scope: str = NEAR) -> Iterator[tuple[Bridge, int]]:
    """Every bridge of the scope with each of its ends open: the rare corner where a silent joint hides a short."""
    for a, b, _ in board.gaps(scope):
        bridge = Bridge(board.number[a], board.number[b])
        yield bridge, bridge.a
        yield bridge, bridge.b


def possible_ties(board: Board) -> list[tuple[str, str]]:
    """Nets that the map lets a designer join: grounds among each other, a shell that may touch ground."""
    earth = [net for net in board.nets if net.role in (GROUND, SHELL)]
    return [(a.name, b.name) for a, b in combinations(earth, 2) if board.grade(a, b).harm == HARMLESS]


def draw_ties(board: Board, rng: random.Random, rate: float = 0.5) -> tuple[tuple[str, str], ...]:
    """Those of the possible ties that this designer made."""
    return tuple(tie for tie in possible_ties(board) if rng.random() < rate)


def draw_left_open(board: Board, rng: random.Random, rate: float) -> frozenset[int]:
    """Optional ground and supply joints that this designer left without their net; the first of a net stays."""
    first = {joints[0] for joints in board.joints_of.values() if joints}
    return frozenset(j for j in optional_joints(board) if j not in first and rng.random() < rate)


def draw_parts(board: Board, rng: random.Random, absent: float = 0.5) -> tuple[Part, ...]:
    """The parts by design as this board has them: each at ohms inside the map's range, its ends drawn often; absent at
    that rate where the map says that it may be.
    """
    parts = []
    for path in board.pin_map.paths:
        nets = tuple(net for net in path.nets if net in board.board_point)
        if len(nets) > 1 and not (path.may_be_absent and rng.random() < absent):
            parts.append(_fit(path, nets, rng))
    return tuple(parts)


def draw_parts_alike(board: Board, rng: random.Random, absent: float = 0.5) -> tuple[Part, ...]:
    """As `draw_parts`, where parts of one kind (their ohms and their reason are the same) are fitted all or none, at
    like ohms: 1 % apart at most.
    """
    kinds: dict[tuple[float, float, str], float | None] = {}
    parts = []
    for path in board.pin_map.paths:
        nets = tuple(net for net in path.nets if net in board.board_point)
        kind = (path.low, path.high, path.why)
        if kind not in kinds:
            gone = path.may_be_absent and rng.random() < absent
            kinds[kind] = None if gone else _value(path.low, path.high, rng)
        base = kinds[kind]
        if base is not None and len(nets) > 1:
            ohms = (base,) if len(path.nets) == 2 else (base / 2,) * len(nets)
            parts.append(Part(nets, tuple(value * rng.uniform(0.995, 1.005) for value in ohms)))
    return tuple(parts)


def _fit(path: DesignPath, nets: tuple[str, ...], rng: random.Random) -> Part:
    if len(path.nets) == 2:
        return Part(nets, (_value(path.low, path.high, rng),))
    return Part(nets, tuple(_value(path.low / 2, path.high / 2, rng) for _ in nets))


def _value(low: float, high: float, rng: random.Random) -> float:
    spot = rng.random()
    return low if spot < 0.1 else high if spot > 0.9 else rng.uniform(low, high)


def draw_board(board: Board, rng: random.Random, rates: Rates, parts: bool = False) -> SimulatedBoard:
    """One whole board: faults, the designer's ties, and parts where they are wanted."""
    ties = draw_ties(board, rng)
    fitted = draw_parts(board, rng) if parts else ()
    bridges, opens = draw_faults(board, rng, rates)
    return SimulatedBoard(board, bridges, opens, ties, fitted)
