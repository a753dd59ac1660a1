"""Fellows: which lines are compared with each other, within which bounds, and what is usual."""

from __future__ import annotations

from collections import Counter
from math import inf

import pytest

from connector_check.analysis.fellows import (
    FEWEST_PEERS,
    OTHER_DATA,
    TWIN_SPREAD_VOLTS,
    USUAL_VOLTS,
    band,
    fewest_of,
    groups_of,
    usual_words,
)
from connector_check.analysis.result import StripLine
from connector_check.board.board import Board
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.pinout.pinmap import DATA, GROUND, POWER, RESERVED
from connector_check.pinout.pinmap_file import parse_pin_map
from tests.test_diode import BUS_YAML
from tests.test_result import RESULT


@pytest.mark.parametrize("map_id", list_ids())
def test_no_line_is_alone_in_a_group_with_a_name(map_id):
    pin_map = find_pin_map(map_id)
    for layout in pin_map.layouts:
        size = Counter(group for group in groups_of(Board(pin_map, layout)).values() if group not in ("", OTHER_DATA))
        assert all(count > 1 for count in size.values())


def test_both_of_a_pair_and_both_rows_are_of_one_group():
    pin_map = find_pin_map("usb-c-16")
    groups = groups_of(Board(pin_map, pin_map.layouts[0]))
    assert groups["D+"] == groups["D-"] and groups["CC1"] == groups["CC2"] and groups["SBU1"] == groups["SBU2"]
    ide = find_pin_map("ide-40")
    assert groups_of(Board(ide, ide.layouts[0]))["RESET-"] == OTHER_DATA


def test_two_may_be_as_far_apart_as_the_bound_of_twins_and_three_lie_within_it_around_the_middle_one():
    low, high = band([0.5, 0.5 + TWIN_SPREAD_VOLTS])
    assert (low, high) == (pytest.approx(0.5), pytest.approx(0.6))
    assert band([0.5, 0.55, 0.9]) == (pytest.approx(0.45), pytest.approx(0.65))


def test_lines_that_share_the_role_only_need_more_of_them():
    assert (fewest_of("pair D"), fewest_of(OTHER_DATA)) == (2, FEWEST_PEERS)


def test_what_is_usual_by_role():
    low, high = (f"{volts:g}" for volts in USUAL_VOLTS)
    assert "near 0" in usual_words(GROUND) and "counts up" in usual_words(POWER)
    assert f"{low} to {high} V" in usual_words(DATA) and "series capacitor" in usual_words(DATA)
    assert "anything" in usual_words(RESERVED)


def test_json_has_no_infinite_volts():
    line = StripLine("3", "D0", 0.5, (0.4, 0.6), inf, 0.5, "like its fellows")
    (shown,) = RESULT._replace(strip=(line,)).as_json()["strip"]
    assert shown["reference"] == "OL" and shown["expected"] == [0.4, 0.6]


def test_a_line_without_peers_by_its_name_stays_without_even_where_it_is_the_only_one():
    pin_map = parse_pin_map(BUS_YAML.replace("ACK:", "GPIO4:").encode(), "bus.yaml")
    groups = groups_of(Board(pin_map, pin_map.layouts[0]))
    assert groups["GPIO4"] == "" and groups["BUSY"] == OTHER_DATA
