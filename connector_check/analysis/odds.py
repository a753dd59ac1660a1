"""How much likelier solder is at one gap than at another: one rule for sites and for the residual risk. Pure.

Every figure is an assumption; no published one was found.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from typing import NamedTuple

from connector_check.pinout.geometry import TIE_MM

DECAY_MM = 0.15
"""Assumed: the odds of a bridge fall by e for each 0.15 mm of gap."""
EQUAL_ODDS = exp(-TIE_MM / DECAY_MM)
"""Odds from this share of the greatest on are equal: those of gaps that are drawn alike."""
LEAST_SHARE = 0.2
"""A place with less than this of the likeliest one's odds is not named beside it."""


@dataclass(frozen=True)
class Remarks:
    """What raises a bridge site: pairs (or single points) with lost mask or seen solder, reworked points; visits: the
    points that each visit of the iron heated.
    """

    mask_lost: frozenset[frozenset[int]] = frozenset()
    solder_seen: frozenset[frozenset[int]] = frozenset()
    reworked: frozenset[int] = frozenset()
    visits: tuple[frozenset[int], ...] = ()


NO_REMARKS = Remarks()


class Factors(NamedTuple):
    """What the odds of a bridge between two joints are multiplied with: where the mask between them is lost, at a
    joint that was reworked, where solder was seen, and where both joints were reworked in one visit: that gap was
    cleared and looked at, so what still joins them sits elsewhere.
    """

    mask_lost: float = 4.0
    reworked: float = 2.0
    solder_seen: float = 50.0
    cleared: float = 1e-30


FACTORS = Factors()


def remark_odds(remarks: Remarks, a: int, b: int, factors: Factors = FACTORS) -> float:
    """The factor on the odds of a bridge between two joints (point numbers) by what was remarked there.

    A remark on a pair raises that pair; a remark on one joint raises every gap at it that lies within the remark.
    """
    odds = 1.0
    pair = {a, b}
    if any(remark <= pair for remark in remarks.mask_lost):
        odds *= factors.mask_lost
    if any(pair <= visit for visit in remarks.visits):
        odds *= factors.cleared
    elif pair & remarks.reworked:
        odds *= factors.reworked
    if any(remark <= pair for remark in remarks.solder_seen):
        odds *= factors.solder_seen
    return odds
