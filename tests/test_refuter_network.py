"""Resistances and the search for one choice of parts, against numpy and on networks worked by hand."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.analysis.refuter_network import Bound, Range, add, fit, matrix_of, unjoined

SIZE = 5
OHMS = st.one_of(st.sampled_from([0.2, 75.0, 100.0]), st.floats(0.1, 1e5))
RESISTORS = st.lists(st.tuples(st.integers(0, SIZE - 1), st.integers(0, SIZE - 1), OHMS), max_size=9)


@given(RESISTORS)
def test_resistances_equal_the_laplacian_s(resistors):
    mine = unjoined(SIZE)
    laplacian = np.zeros((SIZE, SIZE))
    for a, b, ohms in resistors:
        add(mine, a, b, ohms)
        if a != b:
            laplacian[[a, b], [a, b]] += 1 / ohms
            laplacian[[a, b], [b, a]] -= 1 / ohms
    inverse = np.linalg.pinv(laplacian, rcond=1e-12)
    for a in range(SIZE):
        for b in range(SIZE):
            if mine[a][b] < inf:
                wanted = inverse[a, a] + inverse[b, b] - 2 * inverse[a, b]
                assert mine[a][b] == pytest.approx(wanted, rel=1e-5, abs=1e-5)


@given(RESISTORS, st.integers(0, SIZE - 1), st.integers(0, SIZE - 1))
def test_a_join_of_no_ohms_makes_two_points_one(resistors, a, b):
    matrix = unjoined(SIZE)
    for resistor in resistors:
        add(matrix, *resistor)
    add(matrix, a, b, 0.0)
    assert matrix[a][b] == pytest.approx(0.0, abs=1e-6)
    for point in range(SIZE):
        assert matrix[a][point] == pytest.approx(matrix[b][point], rel=1e-6, abs=1e-4)


def bound(a, b, least, most, number=0):
    return Bound(a, b, least, number, most, number)


def test_a_choice_between_the_corners_is_found():
    """75 and 75 ohm in parallel read 37.5; each alone is read too: neither corner of 50 to 100 fits."""
    parts = [Range(0, 1, 50, 100, True), Range(1, 2, 50, 100, True)]
    found = fit(3, parts, [bound(0, 1, 74.9, 75.1), bound(0, 2, 161.0, 161.2)])
    assert found.values == pytest.approx((75.0, 86.1), abs=0.3)


def test_each_bound_possible_alone_and_not_together_is_ruled_out_by_both():
    parts = [Range(0, 1, 60, 120, True)]
    found = fit(2, parts, [bound(0, 1, 0, 70, 1), bound(0, 1, 73, 77, 2)])
    assert found.values is None and not found.undecided
    assert found.conflicts == (frozenset({(1, False), (2, True)}),)


def test_absence_is_tried():
    assert fit(2, [Range(0, 1, 60, 120, True)], [bound(0, 1, 1e6, inf)]).values == (inf,)
    assert fit(2, [Range(0, 1, 60, 120, False)], [bound(0, 1, 1e6, inf)]).conflicts


@settings(deadline=None)
@given(st.lists(st.floats(10, 100), min_size=4, max_size=4), st.integers(0, 2**16))
def test_ohms_of_a_drawn_network_always_have_a_choice(values, seed):
    """Whatever was read on a network of the model fits it: a bridge of five parts with two readings across."""
    ends = [(0, 1), (1, 2), (2, 3), (0, 3)]
    parts = [Range(a, b, 10, 100, seed >> i & 1 == 1) for i, (a, b) in enumerate(ends)]
    true = matrix_of(4, parts, values)
    bounds = [bound(a, b, true[a][b] * 0.98, true[a][b] * 1.02, i) for i, (a, b) in enumerate([(0, 2), (1, 3)])]
    found = fit(4, parts, bounds)
    assert found.values is not None
    read = matrix_of(4, parts, found.values)
    for a, b, least, _, most, _ in bounds:
        assert least * 0.9998 <= read[a][b] <= most * 1.0002


def test_what_cannot_be_decided_in_time_is_said(monkeypatch):
    monkeypatch.setattr("connector_check.analysis.refuter_network.MOST_BOXES", 2)
    found = fit(2, [Range(0, 1, 60, 120, True)], [bound(0, 1, 0, 70, 1), bound(0, 1, 73, 77, 2)])
    assert found.undecided and found.values is None and not found.conflicts
