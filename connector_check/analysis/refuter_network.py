"""Which ohms a network of parts can read, and whether one choice of its parts meets all readings at once. Pure.

Resistance between two points rises with each resistor's ohms (Rayleigh's monotonicity law), so the least and the most
of a box of values are read at its two corners, and a box that no reading rules out is halved until one does or a choice
is found.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import inf, sqrt
from typing import NamedTuple

TOLERANCE = 1e-4
"""A choice of values counts when it meets every reading to within 0.01 %; a box is ruled out by the readings as they
are. So what cannot be told apart at 0.01 % is taken as possible: the refuter errs towards refuting."""
NOISE = 1e-9
MOST_STEPS = 12
"""Parts changed one after the other in search of a choice, before a box is halved."""
MOST_BOXES = 2000
"""Boxes looked at before a network is given up as undecided."""


class Range(NamedTuple):
    """A resistor between two rows of the matrix: `low` to `high` ohms, or absent. A tie is 0 ohm or absent."""

    a: int
    b: int
    low: float
    high: float
    may_be_absent: bool
    tie: bool = False


class Bound(NamedTuple):
    """What is known of the ohms between two rows: from `least` (told by reading number `low_from`) to `most` (told by
    reading number `high_from`).
    """

    a: int
    b: int
    least: float
    low_from: int
    most: float
    high_from: int


Conflict = frozenset[tuple[int, bool]]
"""Readings that no choice meets together, each with whether it finds too little resistance (True) or too much."""


class Fit(NamedTuple):
    """The answer for a network: the values that fit (infinite where absent), or None; conflicts: otherwise, sets of
    readings of which each one rules the network out; undecided: neither could be shown.
    """

    values: tuple[float, ...] | None
    conflicts: tuple[Conflict, ...] = ()
    undecided: bool = False


Matrix = list[list[float]]
Goal = Callable[[Sequence[bool], Sequence[bool]], tuple[bool, bool]]
"""From which resistors are surely and which are possibly there: whether what is looked for is possible, and is sure."""


def unjoined(size: int) -> Matrix:
    """The resistances between `size` points that nothing joins."""
    return [[inf] * i + [0.0] + [inf] * (size - i - 1) for i in range(size)]


def add(matrix: Matrix, a: int, b: int, ohms: float) -> None:
    """Put a resistor between two points, in place; O(points squared).

    The update of a resistance matrix by one resistor (a rank-one update of the Laplacian's inverse, written in
    resistances).

    >>> m = unjoined(3)
    >>> add(m, 0, 1, 100.0); add(m, 0, 2, 50.0); add(m, 2, 1, 50.0)
    >>> m[0][1], m[0][2]
    (50.0, 37.5)
    """
    between = matrix[a][b]
    if ohms == inf or between + ohms < NOISE:
        return
    row_a, row_b = matrix[a], matrix[b]
    if between == inf:
        left = [(u, r + ohms) for u, r in enumerate(row_a) if r < inf]
        right = [(v, r) for v, r in enumerate(row_b) if r < inf]
        for u, to_a in left:
            row = matrix[u]
            for v, to_b in right:
                row[v] = matrix[v][u] = to_a + to_b
        return
    share = 4 * (between + ohms)
    part = [(u, row_a[u] - row_b[u]) for u in range(len(matrix)) if row_a[u] < inf]
    for i, (u, du) in enumerate(part):
        row = matrix[u]
        for v, dv in part[:i]:
            if du != dv:
                row[v] = matrix[v][u] = max(row[v] - (du - dv) ** 2 / share, 0.0)


def matrix_of(size: int, resistors: Sequence[Range], values: Sequence[float]) -> Matrix:
    """The resistances between all points with these values of the resistors."""
    matrix = unjoined(size)
    for resistor, ohms in zip(resistors, values, strict=True):
        if ohms < inf:
            add(matrix, resistor.a, resistor.b, ohms)
    return matrix


def ruled_out(bounds: Sequence[Bound], least: Matrix, most: Matrix) -> list[Conflict]:
    """Readings that alone rule out every value between the two corners."""
    found = []
    for a, b, low, low_from, high, high_from in bounds:
        if most[a][b] < low - NOISE * (low + 1):
            found.append(frozenset([(low_from, True)]))
        elif least[a][b] > high + NOISE * (high + 1):
            found.append(frozenset([(high_from, False)]))
    return found


def failing(bounds: Sequence[Bound], matrix: Matrix) -> Bound | None:
    """A bound that this matrix misses by more than the tolerance."""
    for bound in bounds:
        ohms = matrix[bound.a][bound.b]
        if not bound.least * (1 - TOLERANCE) <= ohms <= bound.most * (1 + TOLERANCE) + NOISE:
            return bound
    return None


class Box(NamedTuple):
    """Values still open: each resistor from `low` to `high`; high infinite and low not: it may be absent too."""

    low: tuple[float, ...]
    high: tuple[float, ...]


def root_box(resistors: Sequence[Range]) -> Box:
    """All that the resistors may be."""
    return Box(tuple(r.low for r in resistors), tuple(inf if r.may_be_absent else r.high for r in resistors))


def fit(
    size: int,
    resistors: Sequence[Range],
    bounds: Sequence[Bound],
    hint: Sequence[float] | None = None,
    goal: Goal | None = None,
) -> Fit:
    """Find values of the resistors that meet all bounds at once, and the goal where there is one.

    hint: values to try first. Complexity: two matrices a box, at most `MOST_BOXES` boxes; the boxes branch first on
    which ties are there (only for a goal), then on what moves a bound that is missed.
    """
    search = _Search(size, resistors, bounds, goal)
    stack = [root_box(resistors)]
    blame: set[tuple[int, bool]] = set()
    first = True
    for _ in range(MOST_BOXES):
        if not stack:
            return Fit(None, (frozenset(blame),))
        box = stack.pop()
        possible, sure = search.goal_in(box)
        if not possible or search.repeats(box):
            continue
        least, most = search.matrix(box.low), search.matrix(box.high)
        out = ruled_out(bounds, least, most)
        if out and first:
            return Fit(None, tuple(out))
        if out:
            blame |= min(out, key=lambda conflict: (not conflict & blame, sorted(conflict)))
            continue
        values = search.tried(box, least, most, hint if first else None)
        if values is not None:
            return Fit(values)
        first = False
        stack += reversed(search.halves(box, least, most, sure, hint))
    return Fit(None, undecided=True)


class _Search:
    def __init__(self, size: int, resistors: Sequence[Range], bounds: Sequence[Bound], goal: Goal | None) -> None:
        self.size, self.resistors, self.bounds, self.goal = size, resistors, bounds, goal

    def matrix(self, values: Sequence[float]) -> Matrix:
        return matrix_of(self.size, self.resistors, values)

    def goal_in(self, box: Box) -> tuple[bool, bool]:
        if self.goal is None:
            return True, True
        return self.goal([high < inf for high in box.high], [low < inf for low in box.low])

    def repeats(self, box: Box) -> bool:
        """Whether a tie that is left out is made by others all the same: then the box with it holds the same boards."""
        group = list(range(self.size))
        for resistor, high in zip(self.resistors, box.high, strict=True):
            if resistor.tie and high == 0:
                old, new = group[resistor.a], group[resistor.b]
                group = [new if other == old else other for other in group]
        return any(
            low == inf and resistor.tie and group[resistor.a] == group[resistor.b]
            for resistor, low in zip(self.resistors, box.low, strict=True)
        )

    def middle(self, box: Box) -> tuple[float, ...]:
        found = []
        for resistor, low, high in zip(self.resistors, box.low, box.high, strict=True):
            found.append(low if low == inf else _between(low, min(high, resistor.high)))
        return tuple(found)

    def tried(self, box: Box, least: Matrix, most: Matrix, hint: Sequence[float] | None) -> tuple[float, ...] | None:
        """The first of a few likely choices in the box that meets everything."""
        for values, matrix in ((hint, None), (box.low, least), (box.high, most)):
            if values is not None and self.meets(values, matrix):
                return tuple(values)
        walked = self.walk(box, self.middle(box))
        return walked if walked is not None and self.meets(walked, None) else None

    def walk(self, box: Box, values: tuple[float, ...]) -> tuple[float, ...] | None:
        """From these values, change one part after the other to meet a missed bound; None when that does not end."""
        for _ in range(MOST_STEPS):
            matrix = self.matrix(values)
            missed = failing(self.bounds, matrix)
            if missed is None:
                return values
            left = _misfit(self.bounds, matrix)
            best: tuple[float, int, float] | None = None
            for i, resistor in enumerate(self.resistors):
                if values[i] == inf or values[i] <= 0:
                    continue
                ohms = _steered(matrix, resistor, missed, values[i], self.reach(box, i))
                if ohms != values[i]:
                    beside = 1 / (1 / ohms - 1 / values[i])
                    step = _misfit(self.bounds, matrix, (resistor.a, resistor.b, beside)), i, ohms
                    best = min(best, step) if best else step
            if best is None or best[0] >= left:
                return None
            values = (*values[: best[1]], best[2], *values[best[1] + 1 :])
        return None

    def reach(self, box: Box, i: int) -> tuple[float, float]:
        return box.low[i], min(box.high[i], self.resistors[i].high)

    def meets(self, values: Sequence[float], matrix: Matrix | None) -> bool:
        there = [value < inf for value in values]
        if self.goal is not None and not self.goal(there, there)[1]:
            return False
        return failing(self.bounds, matrix or self.matrix(values)) is None

    def halves(self, box: Box, least: Matrix, most: Matrix, sure: bool, hint: Sequence[float] | None) -> list[Box]:
        """The box in two, the half that holds the hint first."""
        chosen = None if sure else self.open_tie(box)
        if chosen is None:
            middle = self.middle(box)
            missed = failing(self.bounds, self.matrix(middle)) or failing(self.bounds, most)
            missed = missed or failing(self.bounds, least)
            chosen = self.widest(box, least, most, missed) if missed else self.open_tie(box)
        if chosen is None:
            return []
        low, high = box.low[chosen], box.high[chosen]
        there = self.resistors[chosen].high
        if high == inf:
            halves = [_with(box, chosen, low, there), _with(box, chosen, inf, inf)]
            return halves[::-1] if hint is not None and hint[chosen] == inf else halves
        cut = _between(low, high)
        halves = [_with(box, chosen, low, cut), _with(box, chosen, cut, high)]
        return halves[::-1] if hint is not None and hint[chosen] > cut else halves

    def open_tie(self, box: Box) -> int | None:
        for i, resistor in enumerate(self.resistors):
            if resistor.tie and box.low[i] < inf and box.high[i] == inf:
                return i
        return None

    def widest(self, box: Box, least: Matrix, most: Matrix, missed: Bound) -> int | None:
        """The open resistor that moves the missed bound's ohms most; whether one is there comes before its ohms.

        Ties and parts from 0 ohm hide what others do: where nothing seems to move the bound, they come first.
        """
        best: tuple[bool, float, float, bool, int] | None = None
        for i, resistor in enumerate(self.resistors):
            low, high = box.low[i], box.high[i]
            if low == high or least[missed.a][resistor.a] == inf:
                continue
            ends = resistor.a, resistor.b
            if high == inf:
                score = (True, _moved(most, (*ends, low), missed), _moved(least, (*ends, 0.0), missed), low == 0, -i)
            else:
                step = 1 / (1 / low - 1 / high) if low > 0 else 0.0
                width = _moved(most, (*ends, step), missed) + _raised(least, resistor._replace(low=low), missed, high)
                score = (False, width, 0.0, False, -i)
            best = max(best, score) if best else score
        return -best[-1] if best else None


def _aim(bound: Bound) -> float:
    """Ohms well inside a bound."""
    if bound.most == inf:
        return bound.least * 1.05
    return (bound.least + bound.most) / 2 if bound.least > 0 else bound.most * 0.9


def _misfit(bounds: Sequence[Bound], matrix: Matrix, beside: tuple[int, int, float] | None = None) -> float:
    """How far the bounds are missed in all, relative to their ohms; beside: with one more resistor (points, ohms)."""
    total = 0.0
    for bound in bounds:
        ohms = matrix[bound.a][bound.b]
        if beside and ohms < inf:
            ohms -= _moved(matrix, beside, bound)
        total += max(bound.least - ohms, ohms - bound.most, 0.0) / (min(bound.most, bound.least + ohms) + NOISE)
    return total


def _steered(matrix: Matrix, resistor: Range, bound: Bound, ohms: float, reach: tuple[float, float]) -> float:
    """This resistor's ohms, within its reach, that bring the bound's ohms closest to the inside of the bound."""
    row_u, row_v = matrix[resistor.a], matrix[resistor.b]
    now, across, aim = matrix[bound.a][bound.b], row_u[resistor.b], _aim(bound)
    if now in (inf, aim) or row_u[bound.a] == inf:
        return ohms
    square = (row_u[bound.a] - row_v[bound.a] - row_u[bound.b] + row_v[bound.b]) ** 2 / 4
    beside = square / (now - aim) - across
    if square < NOISE or beside == 0:
        return ohms
    conductance = 1 / ohms + 1 / beside
    wanted = 1 / conductance if conductance > 0 else inf
    found = min(max(wanted, reach[0]), reach[1])
    return found if found > 0 else ohms


def _with(box: Box, i: int, low: float, high: float) -> Box:
    return Box((*box.low[:i], low, *box.low[i + 1 :]), (*box.high[:i], high, *box.high[i + 1 :]))


def _between(low: float, high: float) -> float:
    return sqrt(low * high) if low > 0 and high > 4 * low else (low + high) / 2


def _moved(matrix: Matrix, beside: tuple[int, int, float], bound: Bound) -> float:
    """How far one more resistor (points, ohms; below 0 for a rise of one that is there) lowers the bound's ohms."""
    u, v, ohms = beside
    a, b, row_u, row_v = bound.a, bound.b, matrix[u], matrix[v]
    if matrix[a][b] == inf:
        joins = (row_u[a] < inf and row_v[b] < inf) or (row_v[a] < inf and row_u[b] < inf)
        return inf if joins else 0.0
    if row_u[v] == inf or row_u[a] == inf or abs(row_u[v] + ohms) < NOISE:
        return 0.0
    return (row_u[a] - row_v[a] - row_u[b] + row_v[b]) ** 2 / (4 * (row_u[v] + ohms))


def _raised(matrix: Matrix, resistor: Range, bound: Bound, high: float) -> float:
    """About how far this resistor at `high` instead of at its low end would raise the ohms of the bound."""
    a, b, row_u, row_v = bound.a, bound.b, matrix[resistor.a], matrix[resistor.b]
    if resistor.low <= 0 or row_u[a] == inf or row_u[b] == inf:
        return 0.0
    current = (row_u[a] - row_v[a] - row_u[b] + row_v[b]) / (2 * resistor.low)
    return min(current * current, 1.0) * (high - resistor.low)
