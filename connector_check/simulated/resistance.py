"""Effective resistance between any two nodes of a network of links and resistors, by one matrix inverse. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf
from typing import NamedTuple


class Resistor(NamedTuple):
    """Ohms between two nodes; 0 is a plain link."""

    a: int
    b: int
    ohms: float


def components(count: int, links: Iterable[tuple[int, int]]) -> list[int]:
    """The component of each of the nodes 0 to count - 1, named by its smallest node, by walking the links.

    >>> components(5, [(3, 1), (4, 3)])
    [0, 1, 2, 1, 1]
    """
    beside: list[list[int]] = [[] for _ in range(count)]
    for a, b in links:
        beside[a].append(b)
        beside[b].append(a)
    found = [-1] * count
    for start in range(count):
        if found[start] < 0:
            found[start] = start
            waiting = [start]
            while waiting:
                for node in beside[waiting.pop()]:
                    if found[node] < 0:
                        found[node] = start
                        waiting.append(node)
    return found


class Resistances:
    """All effective resistances of one network, in ohms; infinite where nothing conducts.

    Links of 0 ohm are contracted first, so that the matrix stays well conditioned; then one node of each conducting
    component is held at 0 V and the rest of the Laplacian is inverted: R(a, b) = G(a, a) + G(b, b) - 2 G(a, b) (the
    definition by unit current, as in Klein and Randic, Resistance distance, 1993; from memory). One inverse of as many
    rows as there are nodes with a resistor.

    >>> two = Resistances(4, [Resistor(0, 1, 0.0), Resistor(1, 2, 75.0), Resistor(0, 2, 75.0)])
    >>> round(two.ohms(0, 2), 6), two.ohms(0, 1), two.ohms(0, 3)
    (37.5, 0.0, inf)
    """

    def __init__(self, count: int, resistors: Iterable[Resistor]) -> None:
        resistors = list(resistors)
        self._spot = components(count, ((r.a, r.b) for r in resistors if r.ohms <= 0))
        spot = self._spot
        edges = [(spot[r.a], spot[r.b], 1 / r.ohms) for r in resistors if r.ohms > 0 and spot[r.a] != spot[r.b]]
        self._part = components(count, ((a, b) for a, b, _ in edges))
        self._row: dict[int, int] = {}
        self._inverse: list[list[float]] = []
        if edges:
            self._solve(edges)

    def _solve(self, edges: list[tuple[int, int, float]]) -> None:
        import numpy as np

        nodes = sorted({node for a, b, _ in edges for node in (a, b)} - set(self._part))
        self._row = {node: row for row, node in enumerate(nodes)}
        laplacian = np.zeros((len(nodes), len(nodes)))
        for a, b, siemens in edges:
            rows = [self._row[node] for node in (a, b) if node in self._row]
            for row in rows:
                laplacian[row, row] += siemens
            if len(rows) == 2:
                laplacian[rows[0], rows[1]] -= siemens
                laplacian[rows[1], rows[0]] -= siemens
        self._inverse = np.linalg.inv(laplacian).tolist()

    def ohms(self, a: int, b: int) -> float:
        """The effective resistance between two nodes."""
        a, b = self._spot[a], self._spot[b]
        if a == b:
            return 0.0
        if self._part[a] != self._part[b]:
            return inf
        i, k = self._row.get(a), self._row.get(b)
        own = sum(self._inverse[row][row] for row in (i, k) if row is not None)
        return own - (2 * self._inverse[i][k] if i is not None and k is not None else 0.0)
