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


@pytest.mark.parametrize(
    ("visits", "odds"),
    [
        # one visit of the iron heated both: cleared and looked at; that it was reworked raises it no more
        ([{1, 2}], 0.01),
        ([{1, 2, 3}, {1}], 0.01),
        # heated in two visits, each for another gap
        ([{1, 3}, {2, 4}], 5),
    ],
)
def test_a_gap_that_one_visit_of_the_iron_cleared_is_the_last_place_to_look_again(visits, odds):
    remarks = Remarks(reworked=frozenset({1, 2}), visits=tuple(map(frozenset, visits)))
    assert remark_odds(remarks, 1, 2, Factors(3.0, 5.0, 7.0, 0.01)) == odds
    assert FACTORS.cleared * FACTORS.solder_seen * FACTORS.mask_lost < 1e-20


def test_seen_solder_weighs_more_than_lost_mask_and_rework_together():
    assert FACTORS.solder_seen > FACTORS.mask_lost * FACTORS.reworked > 1
    assert remark_odds(Remarks(solder_seen=told(1, 2)), 1, 2) == 50
