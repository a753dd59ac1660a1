"""Where the solder of a short sits, by every explanation of the readings that is left. Pure.

The gaps alone (`bridges`) do not know what readings rule out; the explanations do, so that no impossible place is sent
to the iron. They hold where at most two faults are on the board; else the gaps stand.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from heapq import heappop, heappush
from itertools import pairwise
from typing import NamedTuple

from connector_check.analysis.doubt import MOST_JOINTS, fault_odds, index_of
from connector_check.analysis.explanations import Explanation, explain
from connector_check.analysis.obligations import Obligations
from connector_check.analysis.odds import EQUAL_ODDS, LEAST_SHARE
from connector_check.analysis.refuter_index import Index
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import BridgeSite, PointPair, Short
from connector_check.analysis.separating import OHMS, TOUCH, Measurement, splitting_touch, told_apart
from connector_check.board.board import Board
from connector_check.pinout.geometry import gap

MOST_FAULTS = 2
MOST_STATES = 4_000
"""Fault sets looked at; a larger search leaves the sites as the gaps have them."""
MOST_SPLIT = 8
"""Explanations that a measurement is to tell apart: the likeliest."""
LEAST_SPLIT = 0.05
"""An explanation with less than this of the likeliest one's share is not worth a touch."""
SHARE_DIGITS = 9
"""Shares that differ by less are equal: the sums are rounded differently."""


def diagnosed(
    standing: Standing, needed: Obligations, shorts_only: bool, shorts: Sequence[Short], opens: int
) -> list[Short]:
    """The shorts with their sites as the explanations leave them.

    opens: how many open joints were found besides. Where there are more faults than the search allows for, the places
    stay, but for those that are no neighbours: there solder leads over the joints between.
    """
    explained = _explained(standing, needed, shorts_only, len(shorts) + opens) if shorts else None
    explanations = _with_what_was_seen(standing, shorts, explained[1]) if explained else []
    if explanations:
        return [_with_sites(standing.board, short, explanations) for short in shorts]
    return [_over_neighbours(standing, short) for short in shorts]


def _explained(
    standing: Standing, needed: Obligations, shorts_only: bool, faults: int
) -> tuple[Index, Sequence[Explanation]] | None:
    """What was searched, and every explanation of what stands, the likeliest first; None where nothing was found, or
    more than the search allows for.
    """
    if not 0 < faults <= MOST_FAULTS or len(standing.board.joints) > MOST_JOINTS:
        return None
    index = index_of(standing, needed, shorts_only, reserved_as_one=False)
    found = explain(index, fault_odds(standing), MOST_STATES)
    return None if found.left_out else (index, found.explanations)


def _with_what_was_seen(
    standing: Standing, shorts: Sequence[Short], explanations: Sequence[Explanation]
) -> list[Explanation]:
    """The explanations that have solder where it was seen in a short; none, where more faults are on the board."""
    together = [set(short.joints) for short in shorts]
    names = (frozenset(standing.board.names(pair)) for pair in standing.remarks.solder_seen)
    seen = {pair for pair in names if any(pair <= joints for joints in together)}
    return [each for each in explanations if seen <= set(map(frozenset, each.board.bridges))]


def _with_sites(board: Board, short: Short, explanations: Sequence[Explanation]) -> Short:
    shares: dict[frozenset[PointPair], float] = {}
    for explanation in explanations:
        bridges = frozenset(pair for pair in explanation.board.bridges if _concerns(board, pair, short))
        if bridges:
            shares[bridges] = shares.get(bridges, 0.0) + explanation.share
    if not shares:
        return short
    return _led_over(short, tuple(_sites(board, shares)))


class Split(NamedTuple):
    """A measurement that tells apart what may be wrong. why: the two likeliest boards that it tells apart, in words."""

    measurement: Measurement
    why: str


def splitting(
    standing: Standing, needed: Obligations, shorts_only: bool, faults: int, wanted: Callable[[Measurement], bool]
) -> Split | None:
    """The touch or ohms that best split the odds of the explanations that are left.

    faults: how many shorts and opens were found; wanted: whether a measurement may be asked. None where one explanation
    is left, where only the eye can tell, or where there are more faults than the search allows for.
    """
    explained = _explained(standing, needed, shorts_only, faults)
    if explained is None:
        return None
    index, left = explained
    if len(left) < 2:
        return None
    likely = [each for each in left[:MOST_SPLIT] if each.share >= LEAST_SPLIT * left[0].share]

    def tells(measurement: Measurement) -> bool:
        return told_apart(index, measurement) is not None and wanted(measurement)

    measurement = splitting_touch(index, likely, (TOUCH, OHMS), tells)
    apart = told_apart(index, measurement) if measurement else None
    if measurement is None or apart is None:
        return None
    first, other = (likely[i].board.told() for i in apart)
    return Split(measurement, f"tells {first} from {other}")


def _over_neighbours(standing: Standing, short: Short) -> Short:
    """The short with each place between joints that are no neighbours as the places that solder leads over, where such
    a way is left.
    """
    gaps = {frozenset((a, b)): mm for a, b, mm in standing.board.gaps(standing.scope)}
    if all(frozenset(site.joints) in gaps for site in short.sites):
        return short
    sites: list[BridgeSite] = []
    for site in short.sites:
        way = () if frozenset(site.joints) in gaps else _way(standing, gaps, site.joints)
        sites += [BridgeSite(pair, (), gaps[frozenset(pair)]) for pair in pairwise(way)] if way else [site]
    return _led_over(short, tuple(sites))


def _way(standing: Standing, gaps: Mapping[frozenset[str], float], ends: PointPair) -> tuple[str, ...]:
    """The joints from one end to the other over the smallest gaps, by none that is known apart; empty without one."""
    number, knowledge = standing.board.number, standing.knowledge
    beside: dict[str, list[tuple[float, str]]] = {}
    for (a, b), mm in ((sorted(pair), mm) for pair, mm in gaps.items()):
        beside.setdefault(a, []).append((mm, b))
        beside.setdefault(b, []).append((mm, a))
    heap: list[tuple[float, tuple[str, ...]]] = [(0.0, ends[:1])]
    seen: set[str] = set()
    while heap:
        length, way = heappop(heap)
        if way[-1] == ends[1]:
            return way
        if way[-1] not in seen:
            seen.add(way[-1])
            for mm, name in beside.get(way[-1], ()):
                if not knowledge.apart(number[name], number[ends[0]]):
                    heappush(heap, (length + mm, (*way, name)))
    return ()


def _led_over(short: Short, sites: tuple[BridgeSite, ...]) -> Short:
    """The short with these places; joints that they lead over and that are not known to be joined are named."""
    ends = Counter(name for site in sites for name in site.joints)
    # two bridges meet at a joint that the current must have passed
    between = tuple(name for name, bridges in ends.items() if bridges > 1 and name not in short.joints)
    first = ""
    if between:
        lies = "lies between: touch it" if len(between) == 1 else "lie between: touch them"
        first = f"; {' and '.join(between)} {lies} first"
    return short._replace(sites=sites, why=short.why + first, between=between)


def _concerns(board: Board, pair: PointPair, short: Short) -> bool:
    """Whether a bridge belongs to a short; a net touched behind its joints alone takes part with all of them."""
    nets = {board.net_of[board.number[name]].name for name in pair}
    points = [board.number[name] for name in short.joints]
    behind = set(short.nets) - {board.net_of[point].name for point in points if point < len(board.joints)}
    return nets <= set(short.nets) or bool(set(pair) & set(short.joints)) or not behind.isdisjoint(nets)


def _sites(board: Board, shares: Mapping[frozenset[PointPair], float]) -> Iterable[BridgeSite]:
    """The bridges of the likeliest explanation, each with those that stand in its place in another one.

    shares: of each set of bridges that explains the short; a place has that of its likeliest set. Equal shares come in
    the order of the layout.
    """
    share: dict[PointPair, float] = {}
    for bridges, part in shares.items():
        for pair in bridges:
            share[pair] = max(share.get(pair, 0.0), part)

    def place(pair: PointPair) -> tuple[int, int]:
        return board.number[pair[0]], board.number[pair[1]]

    def rank(pair: PointPair) -> tuple[float, tuple[int, int]]:
        return -round(share[pair], SHARE_DIGITS), place(pair)

    likeliest = min(shares, key=lambda bridges: (-round(shares[bridges], SHARE_DIGITS), sorted(map(place, bridges))))
    for top in sorted(likeliest, key=rank):
        instead = {pair for bridges in shares if top not in bridges for pair in bridges} - likeliest
        named = [pair for pair in sorted(instead, key=rank) if share[pair] >= LEAST_SHARE * share[top]]
        equal = tuple(pair for pair in named if share[pair] >= EQUAL_ODDS * share[top])
        a, b = (board.joints[board.number[name]] for name in top)
        yield BridgeSite(top, equal, gap(a, b), tuple(named[len(equal) :]))
