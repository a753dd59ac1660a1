"""In which order to touch: so that one lead stays put as long as it can. Pure.

A touch that shares no point with the one before it costs a second lead placement. Sweeps make chains of touches that
share points: hold a point, touch all its partners, the last one such that it can be held next. Joins go star by star on
their board points, the main ground last; from star to star the lead goes over the quiet of the two board points. Then
the chains are put into each other (`splicing`), stage by stage; where that stays over the accepted placements, ground,
neighbours and the rest are mixed; and where that does not do either, they are mixed from the first sweep on.

Closure does not mind the order: a quiet stays true of the group it was taken on when a join turns out open later, and
the next plan asks that joint by itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from functools import partial

from connector_check.analysis.knowledge import Knowledge
from connector_check.analysis.obligations import Pair
from connector_check.probing.splicing import Chains
from connector_check.probing.wanted import JOIN, STAGE, SWEEP

SLACK = 1.02
"""Accepted lead placements over the bound."""

ATTEMPTS = (
    (((1,), (2,)), False),
    (((1,), (2,)), True),
    (((0, 1, 2),), True),
)
"""In turn until the placements are accepted: the stages of each sweep, and whether splicing mixes them. A sweep that
includes the joins (stage 0) takes the place of their stars."""


def placements(pairs: list[Pair], held: int | None = None) -> int:
    """How often a lead is put down for these touches in this order: 2 for the first, then 1 where a point is shared
    with the touch before, else 2; held: a point where a lead sits already.
    """
    before: Collection[int] = () if held is None else (held,)
    count = 0
    for pair in pairs:
        count += 1 if pair[0] in before or pair[1] in before else 2
        before = pair
    return count


def least_placements(pairs: list[Pair]) -> int:
    """No order needs fewer: the touches plus the connected components of their graph."""
    graph = Knowledge(1 + max((max(pair) for pair in pairs), default=0))
    for a, b in pairs:
        graph.join(a, b)
    return len(pairs) + len({graph.find(a) for a, _ in pairs})


def lead_order(pairs: list[Pair], phases: list[int], held: int | None) -> list[int]:
    """The touches by number, in an order of few lead placements: at most `SLACK` over the least where it is found."""
    accepted = least_placements(pairs) * SLACK
    best: list[int] = []
    for stages, mixed in ATTEMPTS:
        sweeps = _Sweeps(pairs, phases, held, stages)
        found = Chains(pairs, sweeps.phases, sweeps.at, held, sweeps.sequence).spliced(mixed)
        best = min(best or found, found, key=lambda order: placements([pairs[e] for e in order], held))
        if placements([pairs[e] for e in best], held) <= accepted:
            break
    return best


def held_points(pairs: list[Pair], held: int | None) -> list[int]:
    """For each touch the point where a lead stays: the longest runs that share a point, from the front."""
    stays: list[int] = []
    while len(stays) < len(pairs):
        start = len(stays)
        runs = []
        for point in pairs[start]:
            end = start + 1
            while end < len(pairs) and point in pairs[end]:
                end += 1
            was_down = point == held or (start > 0 and point in pairs[start - 1])
            runs.append((end, was_down, point))
        end, _, point = max(runs, key=lambda run: run[:2])
        stays += [point] * (end - start)
    return stays


class _Sweeps:
    """One set of sweeps over all touches.

    sequence: the touches by number in the order they were taken; phases: theirs, where a quiet that leads from star to
    star counts as a join, so that nothing comes between; at: the touches at each point.
    """

    def __init__(
        self, pairs: list[Pair], phases: list[int], held: int | None, stages: tuple[tuple[int, ...], ...]
    ) -> None:
        self.pairs, self.phases, self.held = pairs, list(phases), held
        self.at: dict[int, list[int]] = {}
        for e, pair in enumerate(pairs):
            for point in pair:
                self.at.setdefault(point, []).append(e)
        for point, touches in self.at.items():
            touches.sort(key=partial(self._other, point))
        self.work = {point: len(touches) for point, touches in self.at.items()}
        self.done = [False] * len(pairs)
        self.sequence: list[int] = []
        hold = self.held if self.held in self.at else None
        if STAGE[JOIN] not in stages[0]:
            hold = self._stars()
        for swept in stages:
            hold = self._sweep(swept, hold)

    def _take(self, e: int) -> None:
        self.done[e] = True
        self.sequence.append(e)
        for point in self.pairs[e]:
            self.work[point] -= 1

    def _other(self, point: int, e: int) -> int:
        a, b = self.pairs[e]
        return b if a == point else a

    def _stars(self) -> int | None:
        """The joins, star by star, the main ground last; returns the point to hold next."""
        stars: dict[int, list[int]] = {}
        for e, (hub, _) in enumerate(self.pairs):
            if self.phases[e] == JOIN:
                stars.setdefault(hub, []).append(e)
        swept = Counter(point for e, pair in enumerate(self.pairs) if self.phases[e] == SWEEP for point in pair)
        main = max(swept, key=lambda point: swept[point], default=None)
        links = {star: {self._other(star, e): e for e in self.at[star]} for star in stars}

        def onward_links(star: int) -> int:
            return sum(1 for other in stars if other in links[star])

        hold = self.held if self.held in self.at else main
        following = self.held if self.held in stars else None
        while stars:
            if following is None:
                following = min(stars, key=lambda star: (star == main, onward_links(star)))
            hold = following
            for e in stars.pop(hold):
                self._take(e)
            onward = [star for star in stars if star in links[hold] and (star != main or len(stars) == 1)]
            following = min(onward, key=onward_links, default=None)
            if following is not None:
                link = links[hold][following]
                self._take(link)
                self.phases[link] = JOIN
        return hold

    def _sweep(self, stages: tuple[int, ...], hold: int | None) -> int | None:
        """Hold a point, touch all its partners, the last one such that it can be held next; again from each start."""
        left = {
            point: [e for e in touches if not self.done[e] and STAGE[self.phases[e]] in stages]
            for point, touches in self.at.items()
        }
        degree = {point: len(touches) for point, touches in left.items()}
        starts = sorted(left, key=lambda point: degree[point])
        for start in starts if hold is None else (hold, *starts):
            point = start
            while degree[point]:
                touches = sorted((e for e in left[point] if not self.done[e]), key=lambda e: self.phases[e])
                partners = [self._other(point, e) for e in touches]
                onward = [(degree[p] > 1, self.work[p] > 1, i) for i, p in enumerate(partners)]
                touches.append(touches.pop(max(onward)[-1]))
                for e in touches:
                    self._take(e)
                    for end in self.pairs[e]:
                        degree[end] -= 1
                hold = point = self._other(point, touches[-1])
        return hold
