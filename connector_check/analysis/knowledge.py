"""What the standing readings prove: beeps join, quiets part, and nothing else follows.

Joined is transitive; joined and apart give apart; two aparts give nothing. Union-find over points, and for each class
the set of classes known apart from it. When two classes merge, the smaller set moves into the larger, so m readings on
n points cost O(m log n) in all.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

JOINED, APART, UNKNOWN = "joined", "apart", "unknown"


@dataclass(frozen=True)
class Conflict:
    """A quiet inside a joined group: the quiet pair and a shortest path of beeps between its points.

    The set is minimal: without the quiet, or without any one of the beeps on the path, it no longer contradicts
    itself.
    """

    quiet: tuple[int, int]
    beeps: tuple[tuple[int, int], ...]


class Knowledge:
    """Closure of joins and parts over points 0..n-1.

    >>> k = Knowledge(4); k.join(0, 1); k.part(1, 2)
    >>> k.status(0, 2), k.status(0, 3), k.status(0, 1)
    ('apart', 'unknown', 'joined')
    """

    def __init__(self, n: int) -> None:
        self._parent = list(range(n))
        self._size = [1] * n
        self._parted: dict[int, set[int]] = {}
        self._beeps: list[tuple[int, int]] = []
        self._quiets: list[tuple[int, int]] = []
        self._neighbours: dict[int, list[int]] | None = None
        self.bodies: dict[str, int] = {}
        """For `obligations.body`: what it found, valid until the next join."""

    def find(self, point: int) -> int:
        """The representative point of a point's class."""
        parent = self._parent
        root = point
        while parent[root] != root:
            root = parent[root]
        while parent[point] != root:
            parent[point], point = root, parent[point]
        return root

    def join(self, a: int, b: int) -> None:
        """A beep between two points."""
        self._beeps.append((a, b))
        self._neighbours = None
        self.bodies.clear()
        ra, rb = self.find(a), self.find(b)
        if ra == rb:
            return
        if self._size[ra] < self._size[rb]:
            ra, rb = rb, ra
        self._parent[rb] = ra
        self._size[ra] += self._size[rb]
        self._merge_parted(ra, rb)

    def _merge_parted(self, into: int, gone: int) -> None:
        parted = self._parted
        lost = parted.pop(gone, None)
        if lost is None:
            return
        kept = parted.get(into, set())
        for other in lost:
            parted[other].discard(gone)
        if len(lost) > len(kept):
            lost, kept = kept, lost
        kept |= lost
        kept.discard(into)
        for other in kept:
            parted.setdefault(other, set()).add(into)
        parted[into] = kept

    def part(self, a: int, b: int) -> None:
        """A quiet between two points."""
        self._quiets.append((a, b))
        self._part_classes(self.find(a), self.find(b))

    def joined(self, a: int, b: int) -> bool:
        """Whether beeps join the two points."""
        return self.find(a) == self.find(b)

    def apart(self, a: int, b: int) -> bool:
        """Whether a quiet lies between the classes of the two points, and no beep joins them."""
        parted = self._parted.get(self.find(a))
        return parted is not None and self.find(b) in parted

    def status(self, a: int, b: int) -> str:
        """`joined`, `apart` or `unknown`."""
        if self.joined(a, b):
            return JOINED
        return APART if self.apart(a, b) else UNKNOWN

    def parted_roots(self, point: int) -> Iterable[int]:
        """Representatives of the classes known apart from a point's class."""
        return self._parted.get(self.find(point), ())

    def classes(self) -> list[list[int]]:
        """The joined groups, each in point order, singletons included."""
        groups: dict[int, list[int]] = {}
        for point in range(len(self._parent)):
            groups.setdefault(self.find(point), []).append(point)
        return list(groups.values())

    def conflicts(self) -> list[Conflict]:
        """Every contradiction, one for each quiet pair inside a joined group, in the order of the readings."""
        seen: set[tuple[int, int]] = set()
        found = []
        for a, b in self._quiets:
            if self.find(a) == self.find(b) and (a, b) not in seen and (b, a) not in seen:
                seen.add((a, b))
                found.append(Conflict((a, b), self.beep_path(a, b)))
        return found

    def beep_path(self, a: int, b: int) -> tuple[tuple[int, int], ...]:
        """A shortest chain of beeps from a to b, found breadth first; () when none joins them."""
        if self._neighbours is None:
            self._neighbours = {}
            for u, v in self._beeps:
                self._neighbours.setdefault(u, []).append(v)
                self._neighbours.setdefault(v, []).append(u)
        before: dict[int, int] = {a: a}
        queue = deque([a])
        while queue and b not in before:
            point = queue.popleft()
            for other in self._neighbours.get(point, ()):
                if other not in before:
                    before[other] = point
                    queue.append(other)
        if b not in before:
            return ()
        chain = [b]
        while chain[-1] != a:
            chain.append(before[chain[-1]])
        chain.reverse()
        return tuple(pairwise(chain))

    @classmethod
    def closed(cls, n: int, joins: Iterable[tuple[int, int]], parts: Iterable[tuple[int, int]]) -> Knowledge:
        """Knowledge of a whole log at once.

        All joins go first, so that no set of parts is ever renamed, and the quiets are brought to pairs of classes
        before any set is built; the result is that of joining and parting one by one.
        """
        knowledge = cls(n)
        knowledge._beeps, knowledge._quiets = list(joins), list(parts)
        parent, size = knowledge._parent, knowledge._size
        # find() and join() written out: this loop runs once for each of up to millions of readings
        for a, b in knowledge._beeps:
            top_a, top_b = a, b
            while parent[top_a] != top_a:
                parent[top_a] = top_a = parent[parent[top_a]]
            while parent[top_b] != top_b:
                parent[top_b] = top_b = parent[parent[top_b]]
            if top_a != top_b:
                small, large = (top_a, top_b) if size[top_a] < size[top_b] else (top_b, top_a)
                parent[small] = large
                size[large] += size[small]
        root = [knowledge.find(point) for point in range(n)]
        for key in {root[a] * n + root[b] for a, b in knowledge._quiets}:
            knowledge._part_classes(*divmod(key, n))
        return knowledge

    def _part_classes(self, a: int, b: int) -> None:
        if a != b:
            self._parted.setdefault(a, set()).add(b)
            self._parted.setdefault(b, set()).add(a)


def closure(n: int, joins: Iterable[tuple[int, int]], parts: Iterable[tuple[int, int]]) -> Knowledge:
    """`Knowledge.closed` of these joins and parts over points 0..n-1."""
    return Knowledge.closed(n, joins, parts)
