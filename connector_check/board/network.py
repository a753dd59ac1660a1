"""Effective resistance between two nodes of a resistor network. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf

from connector_check.board.disjoint import Disjoint

Edge = tuple[str, str, float]


class Network:
    """Resistors between named nodes; 0 ohm joins two nodes into one.

    >>> net = Network([("A", "B", 100.0), ("A", "C", 50.0), ("C", "B", 50.0)])
    >>> net.ohms("A", "B"), net.ohms("A", "Z")
    (50.0, inf)
    """

    def __init__(self, edges: Iterable[Edge]) -> None:
        edges = list(edges)
        wires: Disjoint[str] = Disjoint()
        for a, b, ohms in edges:
            if ohms <= 0:
                wires.join(a, b)
        self._node = wires.find
        self._conductance: dict[str, dict[str, float]] = {}
        for a, b, ohms in edges:
            u, v = self._node(a), self._node(b)
            if u != v:
                for one, other in ((u, v), (v, u)):
                    row = self._conductance.setdefault(one, {})
                    row[other] = row.get(other, 0.0) + 1.0 / ohms

    def ohms(self, a: str, b: str) -> float:
        """Effective resistance in ohms; 0 for one node, infinite when nothing conducts.

        Solves Kirchhoff's equations of the connected part with b held at 0 V and 1 A into a: O(n^3) for n nodes.
        """
        start, end = self._node(a), self._node(b)
        if start == end:
            return 0.0
        part = self._reached(start)
        if end not in part:
            return inf
        order = [node for node in part if node != end]
        place = {node: i for i, node in enumerate(order)}
        rows = []
        for node in order:
            row = [0.0] * (len(order) + 1)
            for other, conductance in self._conductance[node].items():
                row[place[node]] += conductance
                if other != end:
                    row[place[other]] -= conductance
            rows.append(row)
        rows[place[start]][-1] = 1.0
        return _solve(rows)[place[start]]

    def _reached(self, start: str) -> list[str]:
        seen, stack = {start: None}, [start]
        while stack:
            for other in self._conductance.get(stack.pop(), ()):
                if other not in seen:
                    seen[other] = None
                    stack.append(other)
        return list(seen)


def _solve(rows: list[list[float]]) -> list[float]:
    """Gaussian elimination with the largest pivot; each row ends in its right-hand side."""
    n = len(rows)
    for i in range(n):
        best = max(range(i, n), key=lambda r: abs(rows[r][i]))
        rows[i], rows[best] = rows[best], rows[i]
        for r in range(i + 1, n):
            factor = rows[r][i] / rows[i][i]
            if factor:
                rows[r] = [x - factor * y for x, y in zip(rows[r], rows[i], strict=True)]
    found = [0.0] * n
    for i in range(n - 1, -1, -1):
        found[i] = (rows[i][-1] - sum(rows[i][k] * found[k] for k in range(i + 1, n))) / rows[i][i]
    return found
