"""How far two sound boards may differ: measured on simulated ones, and what no tolerance may hide."""

from __future__ import annotations

import random
from functools import partial
from math import inf
from statistics import median, pstdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from connector_check.analysis.good_ohms import (
    expected_ohms,
    expected_volts,
    four_digits,
    like_ohms,
    median_of,
    ohms_agree,
    volts_agree,
)
from connector_check.simulated.board import Part, SimulatedBoard
from connector_check.simulated.meter import SimulatedMeter
from tests.strategies import tiny_board

SPREAD, PAIRS = 0.05, 20_000
MOST = 0.01
"""The false alarms that are allowed, as a share of the pairs compared."""


@pytest.mark.parametrize("boards", [1, 2, 3, 5])
def test_volts_of_sound_boards_with_five_per_cent_spread_seldom_differ(boards):
    """Junctions of 0.25 to 0.9 V, their spread normal, read to a millivolt. Measured: 0.2 to 0.4 % of pairs."""
    rng = random.Random(boards)
    false = 0
    for _ in range(PAIRS):
        nominal = rng.uniform(0.25, 0.9)
        read = [round(nominal * rng.gauss(1, SPREAD), 3) for _ in range(boards + 1)]
        false += not volts_agree(read[0], median(read[1:]), boards)
    assert false / PAIRS < MOST


@pytest.mark.parametrize("boards", [1, 2, 3, 5])
def test_ohms_of_sound_boards_with_five_per_cent_spread_seldom_differ(boards):
    """One part to ground on each, read by a simulated meter with 2 % error and leads of 0.2 ohm taken off."""
    rng = random.Random(boards)
    board = tiny_board()
    ground, data = board.board_point["GND"], board.board_point["D+"]
    meter = SimulatedMeter(rng)
    false = 0
    runs = 1000
    for _ in range(runs):
        nominal = rng.choice([0.3, 5.0, 22.0, 75.0, 150.0, 4700.0])
        read = []
        for _ in range(boards + 1):
            ohms = max(nominal * rng.gauss(1, SPREAD), 0.0)
            one = SimulatedBoard(board, parts=(Part(("D+", "GND"), (ohms,)),))
            read.append(meter.ohms(one, data, ground) - meter.leads_ohms)
        false += not ohms_agree(read[0], median(read[1:]))
    assert false / runs < MOST


def test_boards_of_one_kind_seldom_disagree_among_themselves():
    rng = random.Random(7)
    sets = [[rng.uniform(0.25, 0.9)] for _ in range(2000)]
    torn = sum(median_of([v * rng.gauss(1, SPREAD) for _ in range(3)], volts_agree) is None for (v,) in sets)
    assert torn / len(sets) < MOST


@pytest.mark.parametrize(
    ("here", "good", "alike"),
    [
        (75, 75, True),
        (75, 37.5, False),  # RED and GREEN of a VGA joined: two 75 ohm terminations side by side
        (37.5, 75, False),
        (135, 165, True),  # 150 ohm less 10 %, beside 150 ohm more 10 %
        (0.2, 1.0, True),
        (3.0, 0.2, False),
        (inf, 75, False),
        (75, inf, False),
        (inf, inf, True),
        (2e6, inf, True),
        (4700, inf, False),
    ],
)
def test_ohms_that_agree(here, good, alike):
    assert ohms_agree(here, good) is alike


@given(st.floats(0, 1e5), st.floats(-0.1, 0.1), st.floats(-0.1, 0.1))
def test_two_parts_within_their_tolerance_always_agree(nominal, one, other):
    assert ohms_agree(nominal * (1 + one), nominal * (1 + other))


@given(st.floats(0.01, 9e4), st.floats(0, 2))
def test_agreement_is_the_range_that_is_told(good, slack):
    low, high = expected_ohms(good, slack)
    agree = partial(ohms_agree, slack=slack)
    assert low <= good <= high
    assert agree(low, good) and agree(high, good)
    assert not agree(high * 1.01 + 0.01, good) and (low == 0 or not agree(low * 0.99 - 0.01, good))


@given(st.floats(0.2, 0.95))
def test_a_short_an_open_and_another_supply_never_agree_in_volts(volts):
    assert not volts_agree(0.01, volts) and not volts_agree(inf, volts) and not volts_agree(volts, inf)
    assert not volts_agree(2 * volts, volts) and volts_agree(volts, volts)


def test_unmeasured_leads_widen_small_ohms_alone():
    assert not ohms_agree(2.2, 0.2) and ohms_agree(2.2, 0.2, slack=1.0)
    assert not ohms_agree(75, 37.5, slack=1.0)
    assert like_ohms(75).low < 75 < like_ohms(75).high


@pytest.mark.parametrize("boards", [1, 2, 3, 4, 5, 7])
def test_the_volts_expected_are_as_wide_as_one_board_and_the_median_of_the_good_ones_vary_together(boards):
    """Three standard deviations of their difference, which is measured here; at most a tenth wider."""
    rng = random.Random(boards)
    differences = [rng.gauss(1, SPREAD) - median(rng.gauss(1, SPREAD) for _ in range(boards)) for _ in range(PAIRS)]
    low, high = expected_volts(1.0, boards)
    assert high - 1 == pytest.approx(1 - low)
    assert 0.98 < (high - 1 - 0.002) / (3 * pstdev(differences)) < 1.1


def test_over_the_range_agrees_with_itself_alone():
    assert volts_agree(inf, inf) and not volts_agree(0.5, inf) and not volts_agree(inf, 0.5)


def test_the_last_digit_of_a_meter_is_no_difference():
    """2 mV are two digits, one of each board; on a junction of nearly no volts the spread adds next to nothing."""
    assert volts_agree(0.002, 0.0) and not volts_agree(0.004, 0.0)


def test_from_100_kohm_up_ohms_are_not_compared():
    """There they hang on capacitors still charging (common practice, no source)."""
    assert ohms_agree(100e3, 5e6) and ohms_agree(5e6, 100e3)
    assert not ohms_agree(99e3, 5e6) and not ohms_agree(5e6, 99e3)


@pytest.mark.parametrize(("value", "told"), [(0.123456, "0.1235"), (75.0, "75"), (1234.56, "1235"), (4.7e4, "47000")])
def test_four_digits_are_told(value, told):
    assert four_digits(value) == told


def test_one_good_board_with_measured_leads_is_what_is_taken_unless_told_otherwise():
    assert expected_ohms(75.0) == expected_ohms(75.0, 0.0) and expected_ohms(75.0, 1.0)[1] > expected_ohms(75.0)[1]
    assert expected_volts(0.5) == expected_volts(0.5, 1) and expected_volts(0.5, 2)[1] < expected_volts(0.5)[1]
    assert volts_agree(0.6, 0.5) and not volts_agree(0.6, 0.5, 7)
