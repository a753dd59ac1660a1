"""Names that are one conductor, nets by design or joints that touch, in groups. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable


def merged(ties: Iterable[Collection[str]]) -> tuple[frozenset[str], ...]:
    """The ties with those that share a net made one.

    >>> [sorted(tie) for tie in merged(["ab", "cd", "bc", "xy"])]
    [['a', 'b', 'c', 'd'], ['x', 'y']]
    """
    found: list[frozenset[str]] = []
    for tie in map(frozenset, ties):
        touching = [other for other in found if other & tie]
        found = [other for other in found if not other & tie]
        found.append(tie.union(*touching))
    return tuple(sorted(found, key=sorted))


def tie_by_name(ties: Iterable[Collection[str]]) -> dict[str, str]:
    """The tie of each tied name, called by the first of its names in the order of the alphabet.

    >>> tie_by_name(["bc", "ab"])
    {'a': 'a', 'b': 'a', 'c': 'a'}
    """
    return {name: min(tie) for tie in merged(ties) for name in sorted(tie)}
