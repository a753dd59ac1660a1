"""Diode-mode readings: shorts, opens, outliers among peers, and what they cannot see."""

from __future__ import annotations

from math import inf, log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from connector_check.analysis.diode import LIMITS, LISTED, NO_JUNCTION, DiodeReading, judge_diode
from connector_check.analysis.fellows import OTHER_DATA, SPREAD_VOLTS, band, peer_group
from connector_check.analysis.result import JUNCTION_OPEN, JUNCTION_SHORT, OUTLIER, DiodeFinding
from connector_check.board.board import Board
from connector_check.board.ohms import NEAR_ZERO_VOLTS
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.testlog.readings import parse_volts

BUS_YAML = """\
format: 1
id: bus
title: a bus for the tests
source: [{document: invented for the tests, known: memory}]
nets:
  GND: {role: ground, contacts: [1]}
  +5V: {role: power, volts: 5, contacts: [2]}
  D0: {role: data, contacts: [3]}
  D1: {role: data, contacts: [4]}
  D2: {role: data, contacts: [5]}
  D3: {role: data, contacts: [6]}
  D4: {role: data, contacts: [7]}
  D5: {role: data, contacts: [8]}
  D6: {role: data, contacts: [9]}
  D7: {role: data, contacts: [10]}
  TX1+: {role: data, contacts: [11]}
  TX1-: {role: data, contacts: [12]}
  VIDEO: {role: data, contacts: [13]}
  USB: {role: data, contacts: [14, 15]}
  ACK: {role: data, contacts: [16]}
  BUSY: {role: data, contacts: [17]}
  SELECT: {role: data, contacts: [18]}
  STROBE: {role: data, contacts: [19]}
  NC: {role: reserved, contacts: [20]}
paths:
  - {between: [VIDEO, GND], ohms: [75, 75], why: a termination, absent: may}
layouts:
  - id: row
    source: invented for the tests
    pads: [{row: [1..20], start: [0, 0], step: [0.5, 0], size: [0.3, 1]}]
"""
D_LINES = [f"D{n}" for n in range(8)]


def bus() -> Board:
    pin_map = parse_pin_map(BUS_YAML.encode(), "bus.yaml")
    return Board(pin_map, pin_map.layouts[0])


BUS = bus()


def judged(volts: dict[str, float], resolution: float = 0.001) -> dict[str, DiodeFinding]:
    """Findings by joint, from volts by net or joint name."""
    readings = []
    for line, (name, value) in enumerate(volts.items(), 1):
        point = BUS.joints_of[name][0] if name in BUS.joints_of else BUS.number[name]
        readings.append(DiodeReading(point, value, line))
    return {f.net: f for f in judge_diode(BUS, readings, resolution)}


@pytest.mark.parametrize(
    ("text", "volts"),
    [
        ("0.512 V", 0.512),
        ("0,512V", 0.512),
        (" .5 v ", 0.5),
        ("512 mV", 0.512),
        ("512mv", 0.512),
        ("0.5 volts", 0.5),
        ("0 V", 0.0),
        ("OL V", inf),
        ("olV", inf),
        ("O.L V", inf),
        ("0L V", inf),
    ],
)
def test_volts(text, volts):
    assert parse_volts(text) == pytest.approx(volts)


@pytest.mark.parametrize(
    "text",
    ["OL", "o.l", "0L", "0.5", "512", "512 MV", "5 kV", "-0.5 V", "V", "mV", "", "1e-3 V", "nan V", "inf V", "٣ V"],
)
def test_no_volts(text):
    assert parse_volts(text) is None


@pytest.mark.parametrize(
    ("names", "group"),
    [
        ("D0 D7 D00 D15", "lines D"),
        ("DAT0 DAT3", "lines DAT"),
        ("TX1+ TX1- TX2+", "lanes TX"),
        ("ML0+ ML3-", "lanes ML"),
        ("PETp0 PETn15", "lanes PET"),
        ("D0+ D2- CK+ CK-", "lanes D and CK"),
        ("D+ D-", "pair D"),
        ("DA+ DD-", "pairs DA to DD"),
        ("RED BLUE", "colours"),
        ("HPD -OE nSTROBE", OTHER_DATA),
        ("MAKER1 VENDOR38 GPIO4 LED1#", ""),
    ],
)
def test_groups(names, group):
    assert {peer_group(name) for name in names.split()} == {group}


def test_agreeing_lines_get_no_finding():
    assert judged({name: 0.51 + 0.002 * n for n, name in enumerate(D_LINES)}) == {}


def test_short_open_and_outliers():
    found = judged(dict(zip(D_LINES, [0.51, 0.512, inf, 0.003, 0.508, 0.71, 0.33, 0.511], strict=True)))
    assert {net: f.kind for net, f in found.items()} == {
        "D3": JUNCTION_SHORT,
        "D2": JUNCTION_OPEN,
        "D5": OUTLIER,
        "D6": OUTLIER,
    }
    assert "higher" in found["D5"].why and "lower" in found["D6"].why
    assert found["D2"].volts is None and found["D2"].readings == (3,) and found["D2"].joint == "5"
    low, high = found["D5"].expected
    assert low < 0.51 < high < 0.71
    assert list(found) == ["D3", "D2", "D5", "D6"]


def test_two_bridged_signals_are_not_found_and_the_limits_say_so():
    """Twice the diode area lowers both by n x 18 mV (n 1 to 2), HiLevel note L45 and arithmetic."""
    for n in (1.0, 1.5, 2.0):
        drop = n * 0.02585 * log(2)
        assert 0.0178 <= drop <= 0.036
        for spread in (0.0, 0.001, 0.005):
            for pair in (("D0", "D1"), ("D3", "D7")):
                volts = {
                    name: 0.52 + spread * (k % 3 - 1) - (drop if name in pair else 0) for k, name in enumerate(D_LINES)
                }
                assert judged(volts) == {}
    assert "bridged together still pass" in LIMITS[0] and "18 to 36 mV" in LIMITS[0]
    assert SPREAD_VOLTS > 0.036


def test_all_over_range_is_no_junction_expected():
    """A bidirectional protection diode (TI SLLA305A table 4-9) and AC-coupled lanes (GIGABYTE manual p.97) read OL."""
    found = judged(dict.fromkeys(D_LINES, inf))
    assert {f.kind for f in found.values()} == {NO_JUNCTION} and len(found) == 8
    assert "not seen" in found["D0"].why


def test_over_range_counts_as_open_only_where_half_the_lines_show_a_junction():
    half = {name: (inf if n < 4 else 0.5) for n, name in enumerate(D_LINES)}
    assert {f.kind for f in judged(half).values()} == {JUNCTION_OPEN}
    few = half | {"D4": inf}
    found = judged(few)
    assert {net: f.kind for net, f in found.items()} == dict.fromkeys([f"D{n}" for n in range(5)], LISTED)
    assert "3 of 8" in found["D0"].why


def test_one_line_of_a_group_is_only_listed_and_two_are_twins():
    assert [f.kind for f in judged({"D0": 0.5}).values()] == [LISTED]
    assert "1 of lines D read, 2 needed" in judged({"D0": 0.5})["D0"].why
    assert judged({"D0": 0.5, "D1": 0.6}) == {}
    found = judged({"D0": 0.5, "D1": 0.601})
    assert {net: f.kind for net, f in found.items()} == {"D0": OUTLIER, "D1": OUTLIER}
    assert "differs from its twin 4 (D1), 0.601 V" in found["D0"].why and "is the lower one" in found["D0"].why
    assert found["D0"].readings == (1, 2)


def test_of_three_lines_the_one_beyond_the_wider_bound_is_named():
    assert judged({"D0": 0.5, "D1": 0.55, "D2": 0.6}) == {}
    found = judged({"D0": 0.5, "D1": 0.55, "D2": 0.66})
    assert {net: f.kind for net, f in found.items()} == {"D2": OUTLIER}


def test_a_twin_without_a_junction_is_open():
    found = judged({"TX1+": 0.3, "TX1-": inf})
    assert found["TX1-"].kind == JUNCTION_OPEN and "1 of 2 of lanes TX show a junction" in found["TX1-"].why
    assert found["TX1+"].kind == LISTED
    assert {f.kind for f in judged({"TX1+": inf, "TX1-": inf}).values()} == {NO_JUNCTION}
    assert judged({"TX1+": 0.01})["TX1+"].kind == JUNCTION_SHORT


def test_two_joints_of_one_net_show_an_open_between_them():
    point = BUS.number
    found = judge_diode(BUS, [DiodeReading(point["14"], 0.5, 1), DiodeReading(point["15"], inf, 2)])
    assert [(f.kind, f.joint, f.readings) for f in found] == [(JUNCTION_OPEN, "15", (1, 2)), (LISTED, "14", (1,))]


def test_a_joint_at_ol_is_open_where_solder_holds_its_net_at_ground():
    point = BUS.number
    found = judge_diode(BUS, [DiodeReading(point["14"], 0.002, 1), DiodeReading(point["15"], inf, 2)])
    assert [(f.kind, f.joint) for f in found] == [(JUNCTION_SHORT, "14"), (JUNCTION_OPEN, "15")]


def test_joints_of_one_net_agree_without_further_fellows():
    point = BUS.number
    assert judge_diode(BUS, [DiodeReading(point["14"], 0.5, 1), DiodeReading(point["15"], 0.52, 2)]) == []


def test_a_ground_contact_that_is_not_near_zero_has_no_contact():
    for volts, shown in ((inf, "OL"), (0.5, "0.5 V")):
        (found,) = judge_diode(BUS, [DiodeReading(BUS.number["1"], volts, 1)])
        assert found.kind == JUNCTION_OPEN and f"reads {shown}" in found.why


def test_other_data_is_weak():
    found = judged({"ACK": inf, "BUSY": 0.5, "SELECT": 0.51, "STROBE": 0.505, "USB": 0.9})
    assert found["ACK"].kind == LISTED and "role only" in found["ACK"].why
    assert found["USB"].kind == LISTED and "by design" in found["USB"].why


def test_near_zero_over_a_part_by_design_asks_for_ohms():
    """75 ohm to ground at a video output: ADV7123 data sheet p.18-19; at 0.5 mA it reads 0.038 V."""
    found = judged({"VIDEO": 0.0375, "ACK": 0.0375})
    assert found["VIDEO"].kind == LISTED and "75" not in found["VIDEO"].why and "measure ohms" in found["VIDEO"].why
    assert found["ACK"].kind == JUNCTION_SHORT


def test_ol_is_an_open_where_the_terminations_of_its_fellows_read_near_zero():
    """37.5 ohm, terminated at both ends (ADV7123 data sheet p.18-19), read 0.0375 V at 1 mA."""
    vga = find_pin_map("vga-de15")
    board = Board(vga, vga.layouts[0])
    colours = {"RED": 0.0375, "GREEN": 0.0375, "BLUE": inf}
    readings = [DiodeReading(board.joints_of[net][0], volts, n) for n, (net, volts) in enumerate(colours.items(), 1)]
    found = {f.net: f for f in judge_diode(board, readings)}
    assert {net: f.kind for net, f in found.items()} == {"RED": LISTED, "GREEN": LISTED, "BLUE": JUNCTION_OPEN}
    assert "2 of 3 of colours show a junction or a part" in found["BLUE"].why


def test_a_line_tied_to_ground_by_design_is_no_short():
    board = Board(BUS.pin_map, BUS.layout, [["ACK", "GND"]])
    (found,) = judge_diode(board, [DiodeReading(board.number["16"], 0.0, 1)])
    assert found.kind == LISTED and "by design" in found.why


def test_supply_ground_and_reserved():
    found = judged({"+5V": 0.02, "GND": 0.0, "NC": inf, "@D0": 0.5})
    assert {net: f.kind for net, f in found.items()} == {
        "+5V": JUNCTION_SHORT,
        "NC": LISTED,
        "D0": LISTED,
    }
    assert "low-ohm" in found["+5V"].why
    assert judged({"+5V": 0.4})["+5V"].kind == LISTED


def test_what_is_not_compared_says_why():
    volts = {"1": 0.0, "2": 0.4, "20": 0.4, "@D0": 0.5, "@GND": 0.0}
    found = judge_diode(BUS, [DiodeReading(BUS.number[name], value, 1) for name, value in volts.items()])
    by_joint = {f.joint: f.why for f in found}
    assert "1" not in by_joint
    assert by_joint["20"] == "reserved: not compared"
    assert by_joint["@D0"] == "a board point: not compared"
    assert by_joint["2"] == "a supply has no peers: not compared"


def test_near_zero_is_under_a_twentieth_of_a_volt():
    assert judged({"ACK": NEAR_ZERO_VOLTS})["ACK"].kind == LISTED
    assert judged({"ACK": NEAR_ZERO_VOLTS - 0.001})["ACK"].kind == JUNCTION_SHORT


@pytest.mark.parametrize(("ohms", "kind"), [(75, LISTED), (100, LISTED), (101, JUNCTION_SHORT), (5000, JUNCTION_SHORT)])
def test_only_a_part_of_100_ohm_or_less_reads_near_zero(ohms, kind):
    """NEAR_ZERO_VOLTS over the least current that meters drive, 0.05 V at 0.5 mA, are 100 ohm."""
    text = BUS_YAML.replace("ohms: [75, 75]", f"ohms: [{ohms}, {ohms}]")
    pin_map = parse_pin_map(text.encode(), "bus.yaml")
    board = Board(pin_map, pin_map.layouts[0])
    (found,) = judge_diode(board, [DiodeReading(board.joints_of["VIDEO"][0], 0.04, 1)])
    assert found.kind == kind


def test_an_outlier_is_told_with_its_side_its_band_and_the_likely_cause():
    volts = dict.fromkeys(D_LINES, 0.5) | {"D0": 0.3, "D1": 0.7}
    found = judged(volts)
    assert set(found) == {"D0", "D1"}
    lower = "lower than its peers of lines D, 0.450 to 0.550 V: a short or leak to another net, or a damaged part"
    higher = "higher than its peers of lines D, 0.450 to 0.550 V: a joint or part with ohms in it, or a damaged part"
    assert (found["D0"].why, found["D1"].why) == (lower, higher)
    assert found["D0"].expected == found["D1"].expected == (0.45, 0.55)
    assert (found["D0"].kind, found["D0"].group, found["D0"].volts) == (OUTLIER, "lines D", 0.3)


def test_the_band_never_reaches_under_zero_volts():
    volts = dict.fromkeys(D_LINES, 0.06) | {"D0": 0.3}
    assert judged(volts, 0.02)["D0"].expected[0] == 0.0


def test_the_band_of_like_volts_is_as_wide_as_sound_peers_may_differ():
    assert band([0.5] * 5) == (pytest.approx(0.45), pytest.approx(0.55))
    assert band([0.5] * 5, 0.1) == (pytest.approx(0.5 - 0.7413), pytest.approx(0.5 + 0.7413))


def test_the_kinds_by_their_words():
    assert (JUNCTION_SHORT, JUNCTION_OPEN, OUTLIER) == ("short", "open", "outlier")


def test_the_last_reading_of_a_joint_counts():
    readings = [DiodeReading(BUS.joints_of[name][0], 0.5, n) for n, name in enumerate(D_LINES, 1)]
    readings += [DiodeReading(readings[0].point, inf, 20)]
    assert [f.readings for f in judge_diode(BUS, readings)] == [(20,)]
    assert judge_diode(BUS, [*readings, DiodeReading(readings[0].point, 0.5, 21)]) == []


def test_a_coarse_meter_widens_the_band():
    narrow, wide = band([0.5] * 8, 0.001), band([0.5] * 8, 0.01)
    assert narrow == pytest.approx((0.45, 0.55)) and wide == pytest.approx((0.5 - 0.07413, 0.5 + 0.07413))


@given(
    st.floats(0.3, 0.8),
    st.lists(st.floats(-0.024, 0.024), min_size=8, max_size=8),
    st.dictionaries(st.integers(0, 7), st.sampled_from(["open", "short", "high"]), max_size=3),
)
def test_few_faults_among_sound_peers_are_all_found_and_nothing_else(base, noise, faults):
    """Sound peers within a few tens of mV (common practice, no source); faults of tens of percent stand out of them."""
    fault_volts = {"open": inf, "short": 0.0, "high": base + 0.4}
    kinds = {"open": JUNCTION_OPEN, "short": JUNCTION_SHORT, "high": OUTLIER}
    volts = {f"D{n}": fault_volts[faults[n]] if n in faults else base + noise[n] for n in range(8)}
    assert {net: f.kind for net, f in judged(volts).items()} == {f"D{n}": kinds[kind] for n, kind in faults.items()}


@given(st.lists(st.floats(0.2, 1.0), min_size=4, max_size=8), st.floats(-0.1, 0.1))
def test_moving_all_lines_moves_the_band(volts, shift):
    low, high = band(volts)
    moved = band([v + shift for v in volts])
    assert moved == pytest.approx((low + shift, high + shift))


@given(st.dictionaries(st.sampled_from(BUS.points), st.floats(0, 3) | st.just(inf)))
def test_any_readings_give_at_most_one_finding_a_joint(volts):
    readings = [DiodeReading(BUS.number[name], value, n) for n, (name, value) in enumerate(volts.items(), 1)]
    found = judge_diode(BUS, readings)
    assert len({f.joint for f in found}) == len(found) <= len(readings)
    for f in found:
        assert volts[f.joint] < NEAR_ZERO_VOLTS or f.kind != JUNCTION_SHORT
        assert volts[f.joint] == inf or f.kind not in (JUNCTION_OPEN, NO_JUNCTION) or f.net == "GND"


def test_shipped_maps_have_buses_to_compare():
    groups: dict[str, dict[str, int]] = {}
    for map_id in list_ids():
        counts = groups.setdefault(map_id, {})
        for net in find_pin_map(map_id).nets:
            if net.role == "data":
                counts[peer_group(net.name)] = counts.get(peer_group(net.name), 0) + 1
    assert groups["db25-ieee1284"]["lines D"] == 8 and groups["compactflash-50"]["lines D"] == 16
    assert groups["usb-c-24"]["lanes TX"] == groups["usb-c-24"]["lanes RX"] == 4
    assert groups["microsd"]["lines DAT"] == 4 and groups["displayport"]["lanes ML"] == 8
    assert groups["obd2-j1962"][""] == 7


def test_a_joint_on_ground_is_a_short_and_no_twin_of_the_other_joint_of_its_net():
    point = BUS.number
    found = judge_diode(BUS, [DiodeReading(point["14"], 0.002, 1), DiodeReading(point["15"], 0.5, 2)])
    assert [(f.kind, f.joint) for f in found] == [(JUNCTION_SHORT, "14"), (LISTED, "15")]


def test_two_joints_of_one_net_may_be_as_far_apart_as_twins():
    point = BUS.number
    assert judge_diode(BUS, [DiodeReading(point["14"], 0.1, 1), DiodeReading(point["15"], 0.2, 2)]) == []
    found = judge_diode(BUS, [DiodeReading(point["14"], 0.1, 1), DiodeReading(point["15"], 0.201, 2)])
    assert OUTLIER in {f.kind for f in found}


@pytest.mark.parametrize(("ties", "kind"), [((), LISTED), ((["GND", "AGND"],), JUNCTION_OPEN)])
def test_a_ground_read_against_another_ground_is_open_only_where_the_board_ties_the_two(ties, kind):
    text = BUS_YAML.replace("  NC: {role: reserved, contacts: [20]}", "  AGND: {role: ground, contacts: [20]}")
    pin_map = parse_pin_map(text.encode(), "bus.yaml")
    board = Board(pin_map, pin_map.layouts[0], ties)
    number = board.number
    (found,) = judge_diode(board, [DiodeReading(number["20"], 0.5, 1, red=number["@GND"])])
    assert (found.kind, found.joint) == (kind, "20")
    assert (found.why == "AGND may be apart from GND by design") is (kind == LISTED)
    # against its own ground it has no contact, whatever the board ties
    (found,) = judge_diode(board, [DiodeReading(number["20"], 0.5, 1, red=number["@AGND"])])
    assert found.kind == JUNCTION_OPEN


def three_joints() -> Board:
    text = BUS_YAML.replace("[14, 15]", "[14, 15, 16]").replace("  ACK: {role: data, contacts: [16]}\n", "")
    pin_map = parse_pin_map(text.encode(), "bus.yaml")
    return Board(pin_map, pin_map.layouts[0])


@pytest.mark.parametrize(("volts", "odd"), [((0.3, 0.45, 0.46), "14"), ((0.45, 0.46, 0.6), "16")])
def test_of_three_joints_of_one_net_the_one_unlike_the_other_two_is_named(volts, odd):
    board = three_joints()
    read = [DiodeReading(board.number[str(14 + n)], value, n) for n, value in enumerate(volts)]
    assert [(f.kind, f.joint) for f in judge_diode(board, read)] == [(OUTLIER, odd)]


def test_the_lines_of_a_finding_come_in_the_order_of_the_file():
    point = BUS.number
    found = judge_diode(BUS, [DiodeReading(point["14"], 0.5, 1), DiodeReading(point["15"], inf, 9)])
    assert found[0].readings == (1, 9)
