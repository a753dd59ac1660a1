"""Chains of touches put into each other, so that fewer touches cost a second lead placement. Pure.

A chain is a run of touches in which each shares a point with the one before. Shortest first, each chain is put between
two neighbouring touches of another where both its ends share a point with what they come to lie beside. Where only one
end does, a quiet that shares points with both sides of the gap at the other end, and that can be taken out of where it
is, is put there as well. The front and the back of a chain take any other chain's end.

What may come where: with stages apart nothing of a stage (joins, then ground and neighbours, then the rest) comes
before an earlier one; mixed, only joins stay first, but for a chain put before the first or taken whole to another
place.
"""

from __future__ import annotations

from collections.abc import Iterator

from connector_check.analysis.obligations import Pair
from connector_check.probing.wanted import JOIN, STAGE

LOOKS = 40
"""How many touches at one point are considered: a hub of thousands offers no better ones further on."""


class Chains:
    """Touches by number as rings of links: each chain's touches and one link more (numbered from `first` up) that
    closes its ring, so that putting in and taking out is a matter of neighbours.

    pairs, phases: the points and the phase of each touch; at: the touches at each point; held: the point where a lead
    sits, which the very first touch keeps; sequence: every touch once, in the order that makes the chains.
    """

    def __init__(
        self,
        pairs: list[Pair],
        phases: list[int],
        at: dict[int, list[int]],
        held: int | None,
        sequence: list[int],
    ) -> None:
        self.pairs, self.at, self.held = pairs, at, held
        self.stage = [STAGE[phase] for phase in phases]
        self.stays = [phase == JOIN for phase in phases]
        self.number = {pair: e for e, (a, b) in enumerate(pairs) for pair in ((a, b), (b, a))}
        self.first = len(pairs)
        chains: list[list[int]] = []
        for e in sequence:
            if chains and self._share(chains[-1][-1], e):
                chains[-1].append(e)
            else:
                chains.append([e])
        self.rings = range(self.first, self.first + len(chains))
        self.before = list(range(self.rings.stop))
        self.after = list(range(self.rings.stop))
        for ring, chain in zip(self.rings, chains, strict=True):
            self._insert(ring, chain)

    def spliced(self, mixed: bool) -> list[int]:
        """The touches in order, as few chains as splicing leaves, one after the other.

        mixed: only joins stay first; the first chain moves as well, last of all, unless a lead is held on it.
        """
        others, first = self.rings[1:], self.rings[:1] if mixed and self.held is None else range(0)
        moved = 1
        while moved:
            moved = sum(self._moved(ring, mixed) for ring in (*sorted(others, key=self._length), *first))
        left = [chain for ring in self.rings if (chain := self._chain(ring))]
        left[1:] = sorted(left[1:], key=lambda chain: self.stage[chain[0]])
        return [e for chain in left for e in chain]

    def _length(self, ring: int) -> int:
        return len(self._chain(ring))

    def _moved(self, ring: int, mixed: bool) -> bool:
        chain = self._chain(ring)
        self.before[ring] = self.after[ring] = ring
        if not chain or self._splice(chain, mixed):
            return bool(chain)
        self._insert(ring, chain)
        return False

    def _splice(self, chain: list[int], mixed: bool) -> bool:
        for with_quiet in (False, True):
            for run in (chain, chain[::-1]):
                for before, after in self._places(run, chain):
                    if self._allowed(before, run, after, mixed) and self._put(before, run, after, with_quiet):
                        return True
        return False

    def _places(self, run: list[int], chain: list[int]) -> Iterator[Pair]:
        """Neighbouring links between which one end of the run fits."""
        own = set(chain)
        for point in self.pairs[run[0]]:
            yield from ((e, self.after[e]) for e in self.at[point][:LOOKS] if e not in own)
        for point in self.pairs[run[-1]]:
            yield from ((self.before[e], e) for e in self.at[point][:LOOKS] if e not in own)
        for ring in self.rings[:LOOKS]:
            if self.after[ring] != ring:
                yield ring, self.after[ring]
                yield self.before[ring], ring

    def _put(self, before: int, run: list[int], after: int, with_quiet: bool) -> bool:
        """Put the run between two links if it fits on both sides, or on one and a quiet may close the other."""
        fits_before = before >= self.first or self._share(before, run[0])
        fits_after = after >= self.first or self._share(run[-1], after)
        if fits_before and fits_after:
            self._insert(before, run)
        elif with_quiet and fits_before and (e := self._quiet_between(run, run[-1], after, (before, after))) >= 0:
            self._insert(before, [*run, e])
        elif with_quiet and fits_after and (e := self._quiet_between(run, before, run[0], (before, after))) >= 0:
            self._insert(before, [e, *run])
        else:
            return False
        return True

    def _quiet_between(self, run: list[int], one: int, other: int, beside: Pair) -> int:
        """Take out and return a quiet that shares a point with both touches and is not missed where it is, or -1."""
        for a in self.pairs[one]:
            for b in self.pairs[other]:
                e = self.number.get((a, b), -1)
                if e >= 0 and e not in beside and e not in run and not self.stays[e]:
                    before, after = self.before[e], self.after[e]
                    if max(before, after) >= self.first or self._share(before, after):
                        self.after[before], self.before[after] = after, before
                        return e
        return -1

    def _allowed(self, before: int, run: list[int], after: int, mixed: bool) -> bool:
        at_head, at_tail = before >= self.first, after >= self.first
        if before == self.first and self.held is not None and self.held not in self.pairs[run[0]]:
            return False
        stages = [self.stage[e] for e in (before, run[0], run[-1], after) if e < self.first]
        return at_head or at_tail or stages[-1] > 0 if mixed else stages == sorted(stages)

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

    def _insert(self, before: int, run: list[int]) -> None:
        after = self.after[before]
        for e in (*run, after):
            self.after[before], self.before[e] = e, before
            before = e
