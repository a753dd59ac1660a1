"""What remarks do to the odds of a bridge: a truth table, and that each factor counts once."""

from __future__ import annotations

from itertools import product

import pytest

from connector_check.analysis.odds import FACTORS, NO_REMARKS, Factors, Remarks, remark_odds


def told(*points: int) -> frozenset[frozenset[int]]:
    return frozenset({frozenset(points)})


@pytest.mark.parametrize(
    ("remarks", "odds"),
    [
        (NO_REMARKS, 1),
        (Remarks(mask_lost=told(1, 2)), 3),
        (Remarks(mask_lost=told(2)), 3),
        (Remarks(mask_lost=told(1, 2, 3)), 1),
        (Remarks(mask_lost=told(1, 3)), 1),
        (Remarks(mask_lost=told(1) | told(2)), 3),
        (Remarks(solder_seen=told(1, 2)), 7),
        (Remarks(solder_seen=told(1)), 7),
        (Remarks(solder_seen=told(1) | told(3, 4)), 7),
        (Remarks(solder_seen=told(2, 3)), 1),
        (Remarks(reworked=frozenset({1})), 5),
        (Remarks(reworked=frozenset({2})), 5),
        (Remarks(reworked=frozenset({1, 2})), 5),
        (Remarks(reworked=frozenset({3})), 1),
        (Remarks(told(1, 2), told(2), frozenset({1})), 105),
    ],
)
def test_what_a_remark_multiplies(remarks, odds):
    for a, b in product((1, 2), repeat=2):
        if a != b:
            assert remark_odds(remarks, a, b, Factors(3.0, 5.0, 7.0)) == odds


def test_seen_solder_weighs_more_than_lost_mask_and_rework_together():
    assert FACTORS.solder_seen > FACTORS.mask_lost * FACTORS.reworked > 1
    assert remark_odds(Remarks(solder_seen=told(1, 2)), 1, 2) == 50
