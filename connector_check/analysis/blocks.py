"""Which points of a graph the paths between two others may pass: its blocks, by one depth-first walk. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from connector_check.board.disjoint import Disjoint

Pair = tuple[int, int]


class Blocks:
    """The blocks of a graph, and where paths between two points may pass a hot one. A path repeats no point.

    A block is a largest set of points that stays connected when any one of them is taken away. Inside it a path leads
    through any of its points between any two others, and the blocks of a connected graph form a tree: all paths from u
    to v pass the same blocks. So none can pass a hot point exactly when blocks without a hot point connect u and v
    (Hopcroft and Tarjan 1973; from memory). O(points + links).

    >>> house = Blocks([(0, 1), (1, 2), (2, 0), (2, 3), (3, 4)], {1})
    >>> house.may_pass_hot(0, 2), house.may_pass_hot(2, 4), house.may_pass_hot(0, 4), house.connected(0, 5)
    (True, False, True, False)
    """

    def __init__(self, links: Iterable[Pair], hot: Collection[int]) -> None:
        """hot: the points asked about. A point without a link is connected to nothing."""
        self._hot = hot
        self._beside: dict[int, list[int]] = {}
        for a, b in links:
            self._beside.setdefault(a, []).append(b)
            self._beside.setdefault(b, []).append(a)
        self._cold: Disjoint[int] = Disjoint()
        self._start: dict[int, int] = {}
        for point in self._beside:
            if point not in self._start:
                self._walk(point)

    def connected(self, a: int, b: int) -> bool:
        """Whether any path leads from one point to the other."""
        return self._start.get(a, a) == self._start.get(b, b)

    def may_pass_hot(self, a: int, b: int) -> bool:
        """Whether a path from one point to the other may pass a hot one, its ends included."""
        return self.connected(a, b) and not self._cold.joined(a, b)

    def _walk(self, start: int) -> None:
        """Number the points as they are first met. When nothing met from a point on leads back beyond the one before
        it, what still waits from there is a block.
        """
        met = {start: 0}
        back = {start: 0}
        way = [(start, iter(self._beside[start]))]
        waiting: list[int] = []
        while way:
            point, others = way[-1]
            for other in others:
                if other not in met:
                    met[other] = back[other] = len(met)
                    way.append((other, iter(self._beside[other])))
                    waiting.append(other)
                    break
                back[point] = min(back[point], met[other])
            else:
                way.pop()
                if way:
                    before = way[-1][0]
                    back[before] = min(back[before], back[point])
                    if back[point] >= met[before]:
                        self._end_block(before, point, waiting)
        self._start.update(dict.fromkeys(met, start))

    def _end_block(self, before: int, first: int, waiting: list[int]) -> None:
        """before: the point where the block hangs on; first: the one met next, after which all that waits belongs."""
        block = [before]
        while block[-1] != first:
            block.append(waiting.pop())
        if not any(point in self._hot for point in block):
            for point in block[1:]:
                self._cold.join(point, before)
