"""Pads on the board: edge-to-edge gaps, line of sight, nearest neighbours. Pure; all lengths in mm.

A pad is a core (a rectangle that may shrink to a segment or a point) with a rounding radius around it, so that
rectangles, ovals and circles share one distance formula.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import ceil, floor, hypot, inf

from connector_check.pinout.pinmap import Joint

ADJACENT_MM = 1.27
"""Window of accepted adjacency testing, 0.050 in edge to edge: Testing Todd, PCB Magazine, June 2014."""

NEAREST_TIMES = 1.6
"""Where pads lie farther apart, the window is this many times a pad's own nearest gap: rows of D-sub, DIN and mini-DIN
joints bridge across a diagonal that a fixed window misses (18 of 392 random bridges on 98 real connectors)."""

TIE_MM = 0.02
"""Gaps closer than this to each other are the same gap: pad positions are drawn to about a hundredth of a mm."""

Gap = tuple[str, str, float]
_Core = tuple[float, float, float, float, float]


def _core(joint: Joint) -> _Core:
    """(x0, y0, x1, y1, radius) of the pad."""
    radius = 0.0 if joint.shape == "rect" else min(joint.width, joint.height) / 2
    half_w, half_h = joint.width / 2 - radius, joint.height / 2 - radius
    return joint.x - half_w, joint.y - half_h, joint.x + half_w, joint.y + half_h, radius


def gap(a: Joint, b: Joint) -> float:
    """Edge-to-edge gap of two pads in mm; 0 when they touch or overlap.

    >>> row = [Joint(str(n), (str(n),), 0.5 * n, 0, 0.3, 1.0) for n in (1, 2)]
    >>> round(gap(*row), 3)
    0.2
    """
    return _core_gap(_core(a), _core(b))


def _core_gap(a: _Core, b: _Core) -> float:
    dx = max(b[0] - a[2], a[0] - b[2], 0.0)
    dy = max(b[1] - a[3], a[1] - b[3], 0.0)
    return max(hypot(dx, dy) - a[4] - b[4], 0.0)


class _Grid:
    """Buckets of pads, so that near pairs are found without comparing all pairs."""

    def __init__(self, joints: tuple[Joint, ...], cell: float) -> None:
        self.cell = cell
        self.joints = joints
        self.cores = [_core(j) for j in joints]
        self.boxes = [(c[0] - c[4], c[1] - c[4], c[2] + c[4], c[3] + c[4]) for c in self.cores]
        xs, ys = [x for b in self.boxes for x in (b[0], b[2])], [y for b in self.boxes for y in (b[1], b[3])]
        self.span = max(max(xs) - min(xs), max(ys) - min(ys))
        self.buckets: dict[tuple[int, int], list[int]] = {}
        for i, box in enumerate(self.boxes):
            for key in self._keys(box, 0.0):
                self.buckets.setdefault(key, []).append(i)

    def _keys(self, box: tuple[float, float, float, float], margin: float) -> Iterator[tuple[int, int]]:
        xs = range(floor((box[0] - margin) / self.cell), floor((box[2] + margin) / self.cell) + 1)
        ys = range(floor((box[1] - margin) / self.cell), floor((box[3] + margin) / self.cell) + 1)
        return product(xs, ys)

    def around(self, box: tuple[float, float, float, float], margin: float) -> set[int]:
        found: set[int] = set()
        for key in self._keys(box, margin):
            found.update(self.buckets.get(key, ()))
        return found


def _grid(joints: tuple[Joint, ...]) -> _Grid:
    sizes = sorted(max(j.width, j.height) for j in joints)
    return _Grid(joints, max(ADJACENT_MM, sizes[len(sizes) // 2]))


def pad_gaps(joints: tuple[Joint, ...], most: float) -> list[Gap]:
    """Every pair of pads with a gap of at most `most` mm, as (joint, joint, gap), in the order of the joints."""
    if not joints:
        return []
    grid = _grid(joints)
    found = []
    for i, core in enumerate(grid.cores):
        for k in sorted(grid.around(grid.boxes[i], most)):
            if k > i:
                distance = _core_gap(core, grid.cores[k])
                if distance <= most + 1e-9:
                    found.append((joints[i].name, joints[k].name, distance))
    return found


def neighbours(joints: tuple[Joint, ...], in_sight: bool = True) -> list[Gap]:
    """The pairs where a solder bridge is to be looked for: two pads with a gap of at most ADJACENT_MM or NEAREST_TIMES
    the larger of the two pads' own nearest gaps, whichever is more, and for each pad its nearest neighbours whatever
    the gap (ties within 0.02 mm included).

    in_sight: only pairs in each other's line of sight, that is when at least one of the shortest straight lines between
    the two pads crosses no third pad; the nearest neighbours count without.
    """
    if len(joints) < 2:
        return []
    grid = _grid(joints)
    pairs: dict[tuple[int, int], float] = {}
    for i, box in enumerate(grid.boxes):
        nearest = _nearest(grid, i, inf)
        pairs.update({(min(i, k), max(i, k)): distance for k, distance in nearest})
        window = max(ADJACENT_MM, NEAREST_TIMES * min(distance for _, distance in nearest))
        for k in grid.around(box, window):
            pair, distance = (min(i, k), max(i, k)), _core_gap(grid.cores[i], grid.cores[k])
            near = k != i and pair not in pairs and distance <= window + 1e-9
            if near and (not in_sight or _in_sight(grid, *pair)):
                pairs[pair] = distance
    return [(joints[i].name, joints[k].name, distance) for (i, k), distance in sorted(pairs.items())]


def _nearest(grid: _Grid, i: int, window: float) -> list[tuple[int, float]]:
    box, core = grid.boxes[i], grid.cores[i]
    margin = min(grid.cell, window)
    while True:
        near = [(k, _core_gap(core, grid.cores[k])) for k in grid.around(box, margin) if k != i]
        least = min((distance for _, distance in near), default=inf)
        if least <= margin or margin > grid.span:
            return [(k, distance) for k, distance in near if distance <= least + TIE_MM]
        margin *= 2


def _in_sight(grid: _Grid, i: int, k: int) -> bool:
    a, b = grid.boxes[i], grid.boxes[k]
    lines = list(_shortest_lines(a, b))
    region = (min(a[0], b[0]), min(a[1], b[1]), max(a[2], b[2]), max(a[3], b[3]))
    others = [grid.boxes[n] for n in grid.around(region, 0.0) if n not in (i, k)]
    return any(not any(_crosses(line, box) for box in others) for line in lines)


def _shortest_lines(
    a: tuple[float, float, float, float], b: tuple[float, float, float, float]
) -> Iterator[tuple[float, float, float, float]]:
    """Up to seven of the shortest straight lines between two boxes (one, corner to corner, when they do not face)."""
    x_low, x_high = max(a[0], b[0]), min(a[2], b[2])
    y_low, y_high = max(a[1], b[1]), min(a[3], b[3])
    ax, bx = (a[2], b[0]) if a[2] <= b[0] else (a[0], b[2])
    ay, by = (a[3], b[1]) if a[3] <= b[1] else (a[1], b[3])
    steps = [0.02, 1 / 6, 1 / 3, 1 / 2, 2 / 3, 5 / 6, 0.98]
    if x_low < x_high:
        for t in steps:
            x = x_low + t * (x_high - x_low)
            yield x, ay, x, by
    elif y_low < y_high:
        for t in steps:
            y = y_low + t * (y_high - y_low)
            yield ax, y, bx, y
    else:
        yield ax, ay, bx, by


def _crosses(line: tuple[float, float, float, float], box: tuple[float, float, float, float]) -> bool:
    """Whether a straight line passes through a box (touching an edge does not count)."""
    x0, y0, x1, y1 = line
    enter, leave = 0.0, 1.0
    for start, delta, low, high in ((x0, x1 - x0, box[0], box[2]), (y0, y1 - y0, box[1], box[3])):
        if abs(delta) < 1e-12:
            if not low + 1e-9 < start < high - 1e-9:
                return False
            continue
        t0, t1 = sorted(((low - start) / delta, (high - start) / delta))
        enter, leave = max(enter, t0), min(leave, t1)
    return leave - enter > 1e-9


def pitch(joints: tuple[Joint, ...]) -> float | None:
    """The smallest centre distance between two joints, in mm, or None for a single joint."""
    best = inf
    grid = _grid(joints)
    for i, joint in enumerate(joints):
        for k, _ in _nearest(grid, i, inf):
            best = min(best, hypot(joint.x - joints[k].x, joint.y - joints[k].y))
    return None if best == inf else ceil(best * 1000 - 0.5) / 1000
