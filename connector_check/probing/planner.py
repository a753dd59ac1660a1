"""What to touch next: the touches still needed, in an order in which one lead stays put. Pure.

What is asked: the plan runs ahead of the meter on a copy of the knowledge, as if the board were good (joins beep,
isolation is quiet), and asks only what that copy does not hold yet. On a good board that is one beep for each join and
one quiet for each two conductors in scope, which is the least that can certify it.

In which order: joins, each net as a star on its board point, the main ground last; the ground sweep; neighbours; the
rest of the scope; landings. A touch that shares no point with the one before it costs a second lead placement, so the
order is a cover of the touch graph's line graph with few chains: sweeps from a held point make the chains, then
chains are spliced into each other, ground and neighbours mixed where that saves placements. From star to star the lead
goes over the quiet of the two board points. Only where this stays over the accepted placements do some quiets come
before joins. Closure does not mind: a quiet stays true of the group it was taken on when a join turns out open later,
and the next plan asks that joint by itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import partial
from random import Random
from typing import Any

from connector_check.analysis.knowledge import APART, JOINED, UNKNOWN, Knowledge
from connector_check.analysis.obligations import Isolation, Obligations, Pair, missing
from connector_check.board.board import Board
from connector_check.pinout.pinmap import GROUND

JOIN, SWEEP, NEIGHBOUR, REST, LANDING = range(5)
STAGE = (0, 1, 1, 2, 2)
"""By phase; phases of one stage may be mixed where that saves lead placements."""

SLACK = 1.02
"""Accepted lead placements over the bound; beyond it the order is searched again, more laxly and from other starts."""

RETRIES = 12
RETRIED_TOUCHES = 600
"""Searching again is for connectors of a size where it takes no felt time."""

SPLICE_LOOKS = 40
"""How many touches at one point a splice considers: a hub of thousands offers no better ones further on."""


@dataclass(frozen=True)
class Touch:
    """One touch of the two leads, points by number; a: where a lead stays put; why: what the touch is for."""

    a: int
    b: int
    why: str


@dataclass(frozen=True)
class Plan:
    """touches: in order; placements: how often a lead is put down for them; bound: no order needs fewer than this:
    the touches plus the connected components of their graph.
    """

    touches: tuple[Touch, ...]
    placements: int
    bound: int


def plan(
    board: Board, knowledge: Knowledge, needed: Obligations, landings: bool = False, held: int | None = None
) -> Plan:
    """The touches still needed, in order.

    needed: of the scope; landings: ask for them as well; held: the point a lead sits on already, which the first
    touch shares where it can (it then costs one placement, so the total may be one under the bound).

    >>> from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap
    >>> from connector_check.analysis.obligations import obligations
    >>> row = Layout("row", "", "", tuple(Joint(n, (n,), i, 0, 0.5, 1) for i, n in enumerate("1234")))
    >>> nets = (Net("GND", "ground", ("1", "4"), must_join=True), Net("A", "data", ("2",)), Net("B", "data", ("3",)))
    >>> board = Board(PinMap("demo", "", "", (), nets, {}, (row,)), row)
    >>> found = plan(board, Knowledge(len(board.points)), obligations(board, "near"))
    >>> [(board.points[t.a], board.points[t.b]) for t in found.touches], found.placements, found.bound
    ([('@GND', '1'), ('@GND', '4'), ('@GND', '2'), ('@GND', '3'), ('3', '2')], 6, 6)
    """
    wanted = _wanted(board, knowledge, needed, landings)
    pairs = [(a, b) for a, b, _, _ in wanted]
    components = _components(pairs)
    bound = len(pairs) + components
    best: list[int] = []
    least = 0
    for attempt in range(RETRIES if len(pairs) <= RETRIED_TOUCHES else 1):
        rng = Random(attempt) if attempt > 3 else None
        order = _Order(pairs, [phase for _, _, phase, _ in wanted], held, rng).run(attempt % 4, components)
        cost = placements([pairs[e] for e in order], held)
        if not best or cost < least:
            best, least = order, cost
        if least <= bound * SLACK:
            break
    stays = _held_points([pairs[e] for e in best], held)
    touches = [
        Touch(stay, pairs[e][1] if pairs[e][0] == stay else pairs[e][0], wanted[e][3])
        for e, stay in zip(best, stays, strict=True)
    ]
    return Plan(tuple(touches), least, bound)


def next_touch(
    current: Plan,
    board: Board,
    knowledge: Knowledge,
    needed: Obligations,
    landings: bool = False,
    held: int | None = None,
    put_off: Collection[Pair] = (),
) -> tuple[Plan, Touch | None]:
    """The plan that holds now and its first touch still needed, or None when nothing is left.

    An expected answer leaves the rest of the plan as good as it was, so it is kept and only walked along: the order
    the user has seen stays. A join that was silent, a quiet that beeped, and the end of the list make a new plan from
    `held`. After a reading was taken back or went stale, make a new plan yourself.

    put_off: pairs to leave for later (skipped, unsure, or waiting for ohms); they come back only through `plan`.
    """
    later = {frozenset(pair) for pair in put_off}
    for fresh in (False, True):
        if fresh:
            current = plan(board, knowledge, needed, landings, held)
        for touch in current.touches:
            status = knowledge.status(touch.a, touch.b)
            if status == UNKNOWN:
                if frozenset((touch.a, touch.b)) not in later:
                    return current, touch
            elif status != (JOINED if expects_beep(board, touch) else APART):
                break
    return current, None


def expects_beep(board: Board, touch: Touch) -> bool:
    """Whether a good board beeps here: the two points are of one net."""
    return board.net_of[touch.a] is board.net_of[touch.b]


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


def plan_json(found: Plan, board: Board) -> dict[str, Any]:
    """The plan for a machine: points by name."""
    return {
        "touches": [{"a": board.points[t.a], "b": board.points[t.b], "why": t.why} for t in found.touches],
        "placements": found.placements,
        "bound": found.bound,
    }


_Wanted = tuple[int, int, int, str]


def _wanted(board: Board, knowledge: Knowledge, needed: Obligations, landings: bool) -> list[_Wanted]:
    """(point, point, phase, why) of every touch still needed on a board that turns out good, in no special order."""
    model = _copy(knowledge, len(board.points))
    wanted: list[_Wanted] = []
    for joint, hub in needed.joins:
        if model.status(joint, hub) == UNKNOWN:
            model.join(joint, hub)
            wanted.append((hub, joint, JOIN, f"{board.points[joint]} must reach {board.net_of[joint].name}"))
    stands: dict[tuple[int, str], int] = {}
    for joint, hub in needed.joins:
        if model.joined(joint, hub):
            stands.setdefault((model.find(hub), board.net_of[hub].name), hub)

    def ask(obligation: Isolation, pair: Pair) -> None:
        model.part(*pair)
        a, b = (stands.setdefault((model.find(p), board.net_of[p].name), p) for p in pair)
        wanted.append((a, b, *_reason(board, obligation, pair)))

    for obligation in needed.isolation:
        for pair in obligation.pairs if obligation.gap_mm is not None else ():
            status = model.status(*pair)
            if status == JOINED:
                break
            if status == UNKNOWN:
                ask(obligation, pair)
        else:
            while obligation.whole and (left := missing(board, model, obligation)) and model.status(*left) == UNKNOWN:
                ask(obligation, left)
    for joint, point in needed.landings if landings else ():
        if model.status(joint, point) == UNKNOWN:
            model.join(joint, point)
            wanted.append(
                (
                    joint,
                    point,
                    LANDING,
                    f"does {board.points[joint]} reach its track? Touch the track or part behind it; pressing the joint can close an open",
                )
            )
    return wanted


def _copy(knowledge: Knowledge, n: int) -> Knowledge:
    copy = Knowledge(n)
    groups = knowledge.classes()
    for group in groups:
        for point in group[1:]:
            copy.join(group[0], point)
    for group in groups:
        for other in knowledge.parted_roots(group[0]):
            copy.part(group[0], other)
    return copy


def _reason(board: Board, obligation: Isolation, pair: Pair) -> tuple[int, str]:
    first, second = (board.net_of[p] for p in pair)
    for net, other, point in ((first, second, pair[1]), (second, first, pair[0])):
        if net.role == GROUND:
            return SWEEP, f"{board.points[point]} ({other.name}) against ground {net.name}"
    if obligation.gap_mm is not None:
        a, b = board.names(pair)
        return NEIGHBOUR, f"neighbours {a} and {b}, nearest gap {obligation.gap_mm:.2f} mm"
    return REST, f"{first.name} against {second.name}"


def _components(pairs: list[Pair]) -> int:
    graph = Knowledge(1 + max((max(pair) for pair in pairs), default=0))
    for a, b in pairs:
        graph.join(a, b)
    return len({graph.find(a) for a, _ in pairs})


def _held_points(pairs: list[Pair], held: int | None) -> list[int]:
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


class _Order:
    """One search for an order: sweeps make chains of touches that share points, splices join the chains."""

    def __init__(self, pairs: list[Pair], phases: list[int], held: int | None, rng: Random | None) -> None:
        self.pairs, self.phases, self.held, self.rng = pairs, phases, held, rng
        self.at: dict[int, list[int]] = {}
        for e, pair in enumerate(pairs):
            for point in pair:
                self.at.setdefault(point, []).append(e)
        for point, touches in self.at.items():
            touches.sort(key=partial(self._other, point))
        self.work = {point: len(touches) for point, touches in self.at.items()}
        self.done = [False] * len(pairs)
        self.sequence: list[int] = []

    def run(self, laxity: int, components: int) -> list[int]:
        if laxity == 3:
            self._sweep((0, 1, 2), self.held if self.held in self.at else None)
        else:
            self._sweep((2,), self._sweep((1,), self._stars()))
        return _Splicer(self, laxity).run(components)

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
        hold = self.held if self.held in self.at else main
        following = self.held if self.held in stars else None
        while stars:
            if following is None:
                following = min(stars, key=lambda star: (star == main, sum(1 for o in stars if o in links[star])))
            hold = following
            for e in stars.pop(hold):
                self._take(e)
            onward = [star for star in stars if star in links[hold] and (star != main or len(stars) == 1)]
            following = min(onward, key=lambda star: sum(1 for o in stars if o in links[star]), default=None)
            if following is not None:
                link = links[hold][following]
                self._take(link)
                self.phases[link] = JOIN  # so that nothing comes between it and the joins it leads to
        return hold

    def _sweep(self, stages: tuple[int, ...], hold: int | None) -> int | None:
        """Hold a point, touch all its partners, the last one such that it can be held next; again from each start."""
        left = {
            point: [e for e in touches if not self.done[e] and STAGE[self.phases[e]] in stages]
            for point, touches in self.at.items()
        }
        degree = {point: len(touches) for point, touches in left.items()}
        starts = sorted(left, key=lambda point: (degree[point], self.rng.random() if self.rng else 0.0))
        for start in starts if hold is None else (hold, *starts):
            point = start
            while degree[point]:
                touches = sorted((e for e in left[point] if not self.done[e]), key=lambda e: self.phases[e])
                if self.rng:
                    self.rng.shuffle(touches)
                partners = [self._other(point, e) for e in touches]
                onward = [(degree[p] > 1, self.work[p] > 1, i) for i, p in enumerate(partners)]
                touches.append(touches.pop(max(onward)[-1]))
                for e in touches:
                    self._take(e)
                    for end in self.pairs[e]:
                        degree[end] -= 1
                hold = point = self._other(point, touches[-1])
        return hold


class _Splicer:
    """Chains of touches as rings of links, the shortest put into others where both ends share a point with what comes
    before and after them, if need be over a quiet that can be taken out of where it is.

    laxity: 0 keeps the stages one after the other, 1 lets near quiets start a chain of joins, 2 and 3 only keep a star's
    joins together.
    """

    def __init__(self, order: _Order, laxity: int) -> None:
        self.pairs, self.phases, self.at, self.held = order.pairs, order.phases, order.at, order.held
        self.laxity = laxity
        self.edge = {pair: e for e, (a, b) in enumerate(self.pairs) for pair in ((a, b), (b, a))}
        chains: list[list[int]] = []
        for e in order.sequence:
            if chains and self._share(chains[-1][-1], e):
                chains[-1].append(e)
            else:
                chains.append([e])
        self.first = len(self.pairs)  # links of this number and up are no touches: each closes the ring of a chain
        self.rings = range(self.first, self.first + len(chains))
        self.before = list(range(self.rings.stop))
        self.after = list(range(self.rings.stop))
        for ring, chain in zip(self.rings, chains, strict=True):
            self._insert(ring, chain)

    def run(self, components: int) -> list[int]:
        """The touches in order, chain after chain; no splice can leave fewer chains than the graph has components."""
        chains = len(self.rings)
        merged = True
        while merged and chains > components:
            merged = False
            for _, ring in sorted((len(self._chain(ring)), ring) for ring in self.rings[1:]):
                chain = self._chain(ring)
                if chain:
                    self.before[ring] = self.after[ring] = ring
                    if self._splice(chain):
                        merged = True
                    else:
                        self._insert(ring, chain)
            chains = sum(1 for ring in self.rings if self.after[ring] != ring)
        left = [chain for ring in self.rings if (chain := self._chain(ring))]
        left[1:] = sorted(left[1:], key=lambda chain: STAGE[self.phases[chain[0]]])
        return [e for chain in left for e in chain]

    def _share(self, e: int, f: int) -> bool:
        a, b = self.pairs[e]
        return a in self.pairs[f] or b in self.pairs[f]

    def _chain(self, ring: int) -> list[int]:
        found = []
        e = self.after[ring]
        while e != ring:
            found.append(e)
            e = self.after[e]
        return found

    def _insert(self, before: int, chain: list[int]) -> None:
        after = self.after[before]
        for e in (*chain, after):
            self.after[before], self.before[e] = e, before
            before = e

    def _take_out(self, e: int) -> None:
        before, after = self.before[e], self.after[e]
        self.after[before], self.before[after] = after, before

    def _splice(self, chain: list[int]) -> bool:
        ends = [gap for ring in self.rings[:SPLICE_LOOKS] if self.after[ring] != ring
                for gap in ((ring, self.after[ring]), (self.before[ring], ring))]  # fmt: skip
        for run in self._turned(chain):
            touching = [e for point in self.pairs[run[0]] for e in self.at[point][:SPLICE_LOOKS] if e not in chain]
            gaps = [gap for e in touching for gap in ((e, self.after[e]), (self.before[e], e))]
            for places, over in ((gaps, False), (gaps + ends, True)):
                for before, after in places:
                    if self._fits(before, run, after, over) or self._fits(before, run[::-1], after, over):
                        return True
        return False

    def _turned(self, chain: list[int]) -> Iterator[list[int]]:
        """The chain both ways round, and with an end turned about where that end touches a point further in."""
        for run in (chain, chain[::-1]):
            yield run
        if self.laxity >= 2 and len(chain) <= SPLICE_LOOKS:
            for run in (chain, chain[::-1]):
                for i, e in enumerate(run[:-2]):
                    if self._share(e, run[-1]):
                        yield [*run[: i + 1], *reversed(run[i + 1 :])]
                        if i == 0:
                            yield from ([*run[k:], *run[:k]] for k in range(1, len(run)))

    def _fits(self, before: int, run: list[int], after: int, over: bool) -> bool:
        """Put the run between two neighbouring links where it fits; over: also where it fits on one side, if a quiet
        taken out elsewhere makes it fit on the other.
        """
        fits_before = before >= self.first or self._share(before, run[0])
        fits_after = after >= self.first or self._share(run[-1], after)
        if fits_before + fits_after < (1 if over else 2) or not self._allowed(before, run, after):
            return False
        if fits_before and fits_after:
            self._insert(before, run)
            return True
        near, far = (run[-1], after) if fits_before else (run[0], before)
        for a in self.pairs[near]:
            for b in self.pairs[far]:
                e = self.edge.get((a, b), -1)
                if e not in (-1, before, after) and e not in run and self._loose(e):
                    self._take_out(e)
                    self._insert(before, [*run, e] if fits_before else [e, *run])
                    return True
        return False

    def _allowed(self, before: int, run: list[int], after: int) -> bool:
        at_head, at_tail = before >= self.first, after >= self.first
        if before == self.first and self.held is not None and self.held not in self.pairs[run[0]]:
            return False
        links = [before] * (not at_head) + [run[0], run[-1]] + [after] * (not at_tail)
        stages = [STAGE[self.phases[e]] for e in links]
        if self.laxity >= 2 or (self.laxity == 1 and at_head and max(stages[:2]) < 2):
            return at_head or at_tail or stages[-1] > 0
        return stages == sorted(stages)

    def _loose(self, e: int) -> bool:
        before, after = self.before[e], self.after[e]
        return self.phases[e] != JOIN and (max(before, after) >= self.first or self._share(before, after))
