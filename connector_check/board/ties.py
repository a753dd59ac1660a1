"""Names that are one conductor, nets by design or joints that touch, in groups. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from connector_check.board.disjoint import Disjoint


def merged(ties: Iterable[Collection[str]]) -> tuple[frozenset[str], ...]:
    """The ties with those that share a net made one.

    >>> [sorted(tie) for tie in merged(["ab", "cd", "bc", "xy"])]
    [['a', 'b', 'c', 'd'], ['x', 'y']]
    """
    sets: Disjoint[str] = Disjoint()
    names: set[str] = set()
    for tie in ties:
        first = next(iter(tie), "")
        names.update(tie)
        for name in tie:
            sets.join(name, first)
    return tuple(map(frozenset, sets.groups(sorted(names))))


def tie_by_name(ties: Iterable[Collection[str]]) -> dict[str, str]:
    """The tie of each tied name, called by the first of its names in the order of the alphabet.

    >>> tie_by_name(["bc", "ab"])
    {'a': 'a', 'b': 'a', 'c': 'a'}
    """
    return {name: min(tie) for tie in merged(ties) for name in sorted(tie)}
