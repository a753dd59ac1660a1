"""Sets that only grow together: what is one conductor, one class, one chain. Pure."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import Generic, TypeVar

T = TypeVar("T", bound=Hashable)


class Disjoint(Generic[T]):
    """Union-find over any names or numbers; what was never joined stands alone. Nearly O(1) an operation.

    >>> sets = Disjoint()
    >>> sets.join("A", "B"), sets.join("B", "C"), sets.join("A", "C")
    (True, True, False)
    >>> sets.joined("A", "C"), sets.joined("A", "D"), sets.groups("ABCD")
    (True, False, [['A', 'B', 'C'], ['D']])
    """

    def __init__(self) -> None:
        self._above: dict[T, T] = {}

    def find(self, member: T) -> T:
        """The member that stands for this one's set."""
        above = self._above
        top = member
        while (higher := above.get(top, top)) != top:
            top = higher
        while member != top:
            above[member], member = top, above[member]
        return top

    def join(self, a: T, b: T) -> bool:
        """Make the sets of two members one; whether they were two. The set of b keeps its representative."""
        top_a, top_b = self.find(a), self.find(b)
        if top_a == top_b:
            return False
        self._above[top_a] = top_b
        return True

    def joined(self, a: T, b: T) -> bool:
        """Whether two members are in one set."""
        return self.find(a) == self.find(b)

    def groups(self, members: Iterable[T]) -> list[list[T]]:
        """These members by set, in their order."""
        found: dict[T, list[T]] = {}
        for member in members:
            found.setdefault(self.find(member), []).append(member)
        return list(found.values())
