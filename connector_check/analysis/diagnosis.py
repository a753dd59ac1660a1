"""Where the solder of a short sits, by every explanation of the readings that is left. Pure.

The gaps alone (`bridges`) do not know what readings rule out; the explanations do, so that no impossible place is sent
to the iron. They hold where at most two faults are on the board; else the gaps stand.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from connector_check.analysis.doubt import MOST_JOINTS, fault_odds, index_of
from connector_check.analysis.explanations import Explanation, explain
from connector_check.analysis.obligations import Obligations
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import BridgeSite, PointPair, Short
from connector_check.board.board import Board
from connector_check.pinout.geometry import gap

MOST_FAULTS = 2
MOST_STATES = 4_000
"""Fault sets looked at; a larger search leaves the sites as the gaps have them."""
LEAST_SHARE = 0.2
"""A place with less than this of the likeliest one's share is not named beside it."""


def diagnosed(
    standing: Standing, needed: Obligations, shorts_only: bool, shorts: Sequence[Short], opens: int
) -> list[Short]:
    """The shorts with their sites as the explanations leave them.

    opens: how many open joints were found besides. Unchanged where there are more faults than the search allows for.
    """
    if not shorts or len(shorts) + opens > MOST_FAULTS or len(standing.board.joints) > MOST_JOINTS:
        return list(shorts)
    found = explain(index_of(standing, needed, shorts_only), fault_odds(standing), MOST_STATES)
    if found.left_out or not found.explanations:
        return list(shorts)
    touched = {point for entry in standing.entries for point in entry.points}
    return [_with_sites(standing.board, short, found.explanations, touched) for short in shorts]


def _with_sites(board: Board, short: Short, explanations: Sequence[Explanation], touched: Collection[int]) -> Short:
    share: dict[PointPair, float] = {}
    together: set[frozenset[PointPair]] = set()
    for explanation in explanations:
        bridges = [pair for pair in explanation.board.bridges if _concerns(board, pair, short)]
        for pair in bridges:
            share[pair] = share.get(pair, 0.0) + explanation.share
        together.update(frozenset((a, b)) for a in bridges for b in bridges if a != b)
    sites = tuple(_sites(board, share, together))
    if not sites:
        return short
    named = dict.fromkeys(name for site in sites for name in site.joints)
    between = [name for name in named if board.number[name] not in touched]
    first = f"; {' and '.join(between)} lies between and was not touched: touch it first" if between else ""
    return short._replace(sites=sites, why=short.why + first)


def _concerns(board: Board, pair: PointPair, short: Short) -> bool:
    nets = {board.net_of[board.number[name]].name for name in pair}
    return nets <= set(short.nets) or bool(set(pair) & set(short.joints))


def _sites(
    board: Board, share: dict[PointPair, float], together: Iterable[frozenset[PointPair]]
) -> Iterable[BridgeSite]:
    """The likeliest bridge of those that never occur together, with the others as its alternatives; then the next."""
    left = sorted(share, key=lambda pair: (-share[pair], pair))
    beside = set(together)
    while left:
        top = left.pop(0)
        instead = [pair for pair in left if frozenset((top, pair)) not in beside]
        left = [pair for pair in left if pair not in instead]
        named = tuple(pair for pair in instead if share[pair] >= LEAST_SHARE * share[top])
        a, b = (board.joints[board.number[name]] for name in top)
        yield BridgeSite(top, named, gap(a, b))
