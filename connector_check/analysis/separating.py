"""Which measurement tells boards apart: a bad board from a sound one, or the explanations from each other. Pure."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from itertools import combinations
from math import inf
from typing import NamedTuple

from connector_check.analysis.explanations import Explanation
from connector_check.analysis.refuter_index import Index, key_of
from connector_check.analysis.refuter_model import BoardModel, SupposedBoard
from connector_check.analysis.refuter_state import State
from connector_check.board.ohms import OHMS_ADDED, OHMS_SHARE

TOUCH, OHMS, EYES = "touch", "ohms", "eyes"
Ohms = tuple[float, float]
EQUAL = 1e-9


class Measurement(NamedTuple):
    """What to do at which two points: TOUCH in beep mode, OHMS, or look with EYES whether solder is between.

    expected: the least and most true ohms on each of the boards to be told apart, in their order (for EYES: 0 ohm where
    solder is to be seen, infinite where not).
    """

    a: str
    b: str
    kind: str
    expected: tuple[Ohms, ...]


def separating_touch(model: BoardModel | Index, board: SupposedBoard) -> Measurement | None:
    """The measurement that tells a bad board from a sound one; expected on the sound one first.

    Touches before ohms before eyes; points at the faults and their board points before neighbours. First what separates
    whatever the parts are, then what separates this choice of parts and ties. None when only the opens could be looked
    at, or every bridge of it was.
    """
    index = model if isinstance(model, Index) else Index(model)
    states = [State(index, frozenset()), State(index, index.faults_of(board))]
    there = index.there(board)
    near, far = points_about(index, [board])
    pairs = [*combinations(near, 2), *((a, b) for a in near for b in far)]
    for choices in ((None, None), (None, there), (there, there)):
        expected = [(pair, _expected(index, states, choices, *pair)) for pair in pairs]
        for kind, tells in ((TOUCH, _touch_tells), (OHMS, _ohms_tell)):
            for (a, b), ohms in expected:
                if ohms and tells(index, *ohms):
                    return Measurement(a, b, kind, ohms)
    for a, b in board.bridges:
        return Measurement(a, b, EYES, ((inf, inf), (0.0, 0.0)))
    return None


def splitting_touch(
    model: BoardModel | Index,
    explanations: Sequence[Explanation],
    kinds: Collection[str] = (TOUCH, OHMS, EYES),
    wanted: Callable[[Measurement], bool] = lambda _: True,
) -> Measurement | None:
    """The measurement after which the explanations' odds are expected to be most uneven; expected in their order.

    Measured by the expected sum of the squared shares afterwards. Touches before ohms before eyes where equal. kinds:
    of measurement to choose from; wanted: whether one may be asked. None when nothing tells any two of them apart.
    """
    if len(explanations) < 2:
        return None
    index = model if isinstance(model, Index) else Index(model)
    boards = [explanation.board for explanation in explanations]
    shares = [explanation.share for explanation in explanations]
    states = [State(index, index.faults_of(board)) for board in boards]
    near, far = points_about(index, boards)
    pairs = [*combinations(near, 2), *((a, b) for a in near for b in far)]
    now = sum(share * share for share in shares)
    for choices in ([None] * len(boards), [index.there(board) for board in boards]):
        expected = [(pair, _expected(index, states, choices, *pair)) for pair in pairs]
        best: tuple[float, Measurement] | None = None
        for gain, found in _gains(index, expected, boards, shares):
            better = gain > now + EQUAL and (best is None or gain > best[0] + EQUAL)
            if better and found.kind in kinds and wanted(found):
                best = gain, found
        if best:
            return best[1]
    return None


def points_about(index: Index, boards: Sequence[SupposedBoard]) -> tuple[list[str], list[str]]:
    """Points at the faults with their board points, and those of their neighbours."""
    joints = list(dict.fromkeys(joint for board in boards for fault in board.faults for joint in fault))
    near = _with_board_points(index, joints)
    places = [i for joint in joints for i in index.solder_at[index.body_of[joint]]]
    beside = list(dict.fromkeys(joint for i in places for joint in index.solder[i].joints if joint not in joints))
    parts = []
    for element in index.elements:
        ends = ["@" + name for node in element[:2] for name in index.names[node][:1]]
        parts += ends if not set(ends).isdisjoint(near) else []
    far = [*_with_board_points(index, beside), *parts]
    return near, [point for point in dict.fromkeys(far) if point not in near]


def _with_board_points(index: Index, joints: Sequence[str]) -> list[str]:
    points = []
    for joint in joints:
        points += [joint, "@" + index.names[index.bodies[index.body_of[joint]].node][0]]
    return list(dict.fromkeys(points))


def _expected(
    index: Index, states: Sequence[State], choices: Sequence[list[bool] | None], a: str, b: str
) -> tuple[Ohms, ...] | None:
    """The ohms on each board, as narrow as standing readings of these two points make them; None when one of the
    boards could not have read those, or both points are one piece of metal.
    """
    ends = index.end(a), index.end(b)
    if ends[0] == ends[1]:
        return None
    least, most = 0.0, inf
    for number in index.touches_of.get(key_of(index.home(ends[0]), index.home(ends[1])), ()):
        touch = index.touches[number]
        if {touch.a, touch.b} == set(ends):
            least, most = max(least, touch.least), min(most, touch.most)
    found = []
    for state, there in zip(states, choices, strict=True):
        low, high = state.range_between(*ends, there)
        low, high = max(low, least), min(high, most)
        if low > high * (1 + EQUAL) + EQUAL:
            return None
        found.append((low, max(low, high)))
    return tuple(found)


def _sounds(index: Index, ohms: Ohms) -> bool | None:
    """Whether the meter must sound (True), must be silent (False) or may do either."""
    if ohms[1] < index.model.sounds_below:
        return True
    return False if ohms[0] > index.model.silent_above else None


def _touch_tells(index: Index, first: Ohms, second: Ohms) -> bool:
    return {_sounds(index, first), _sounds(index, second)} == {True, False}


def _ohms_tell(_: Index, first: Ohms, second: Ohms) -> bool:
    return ohms_apart(first, second)


def told_apart(index: Index, measurement: Measurement) -> tuple[int, int] | None:
    """The first two boards that a touch or ohms surely tell apart, by their place in what is expected; None: no two."""
    tells = _touch_tells if measurement.kind == TOUCH else _ohms_tell
    pairs = combinations(range(len(measurement.expected)), 2)
    return next((p for p in pairs if tells(index, *(measurement.expected[i] for i in p))), None)


def ohms_apart(first: Ohms, second: Ohms) -> bool:
    """Whether no ohms reading, with the trust put in it, allows true ohms in both ranges.

    >>> ohms_apart((0, 0), (70, 80)), ohms_apart((0, 0), (0.2, 1.2)), ohms_apart((70, 80), (inf, inf))
    (True, False, True)
    """
    (_, high), (low, _) = sorted((first, second))
    if high == inf:
        return False
    shown = (high + OHMS_ADDED) / (1 - OHMS_SHARE)
    return shown * (1 + OHMS_SHARE) + OHMS_ADDED < low


def _gains(
    index: Index,
    expected: Sequence[tuple[tuple[str, str], tuple[Ohms, ...] | None]],
    boards: Sequence[SupposedBoard],
    shares: Sequence[float],
) -> Iterator[tuple[float, Measurement]]:
    """Each measurement with the sum of squared shares expected after it."""
    for (a, b), ohms in expected:
        if ohms:
            weights = [{True: (1.0, 0.0), False: (0.0, 1.0), None: (0.5, 0.5)}[_sounds(index, each)] for each in ohms]
            yield _after(shares, weights), Measurement(a, b, TOUCH, ohms)
    for (a, b), ohms in expected:
        if ohms:
            yield _after(shares, _ohms_weights(ohms)), Measurement(a, b, OHMS, ohms)
    for a, b in dict.fromkeys(pair for board in boards for pair in board.bridges):
        bridged = [(a, b) in board.bridges for board in boards]
        seen = tuple((0.0, 0.0) if there else (inf, inf) for there in bridged)
        yield _after(shares, [(1.0, 0.0) if there else (0.0, 1.0) for there in bridged]), Measurement(a, b, EYES, seen)


def _ohms_weights(ohms: Sequence[Ohms]) -> list[tuple[float, ...]]:
    """Boards whose ranges no reading tells apart, directly or over others between, share an outcome."""
    order = sorted(range(len(ohms)), key=lambda i: ohms[i])
    outcome = dict.fromkeys(order[:1], 0)
    top = order[0]
    for i in order[1:]:
        outcome[i] = max(outcome.values()) + ohms_apart((0.0, ohms[top][1]), ohms[i])
        top = i if ohms[i][1] > ohms[top][1] else top
    count = max(outcome.values()) + 1
    return [tuple(float(outcome[i] == k) for k in range(count)) for i in range(len(ohms))]


def _after(shares: Sequence[float], weights: Sequence[tuple[float, ...]]) -> float:
    """The expected sum of squared shares; weights: of each board, how likely each outcome is on it."""
    total = 0.0
    for outcome in range(len(weights[0])):
        parts = [share * weight[outcome] for share, weight in zip(shares, weights, strict=True)]
        if sum(parts) > 0:
            total += sum(part * part for part in parts) / sum(parts)
    return total
