"""The board at one connector: names, points, gaps, ties, and what the designer joined."""

from __future__ import annotations

from dataclasses import replace

import pytest

from connector_check.board.board import ALL, NEAR, WIDE, Board
from connector_check.board.harm import Grade
from connector_check.board.making import make_board
from connector_check.errors import InputError
from connector_check.pinout.geometry import gap
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import Joint, Net
from connector_check.pinout.pinmap_file import parse_pin_map
from tests.strategies import TINY_YAML, tiny_board

TINY = tiny_board()


def named(board: Board, name: str) -> str | None:
    found = board.resolve(name)
    return None if found is None else board.points[found]


def test_points_are_the_joints_the_shell_and_a_board_point_for_each_net():
    nets = ["GND", "+5V", "D+", "TX", "NC", "SHELL"]
    assert TINY.points == [*"1234567", "SH1", "SH2", "SH", *("@" + net for net in nets)]
    assert [net.name for net in TINY.net_of][7:11] == ["SHELL", "SHELL", "SHELL", "GND"]
    assert (TINY.shell_joints, TINY.shell_point) == ((7, 8), 9)
    assert TINY.joints_of == {"GND": [0, 3, 6], "+5V": [1], "D+": [2], "TX": [4], "NC": [5], "SHELL": [7, 8]}
    assert TINY.board_point["GND"] == 10
    assert all(TINY.points[number] == name for name, number in TINY.number.items())
    assert len(TINY.number) == len(TINY.points)


def test_a_layout_without_a_shell_or_with_a_joint_of_its_name():
    bare = Board(TINY.pin_map, replace(TINY.layout, joints=TINY.joints[:7]))
    assert (bare.shell_joints, bare.points[bare.shell_point]) == ((), "SH")
    alone = Board(TINY.pin_map, replace(TINY.layout, joints=(*TINY.joints[:7], TINY.joints[7]._replace(name="SH"))))
    assert (alone.shell_point, alone.shell_joints, alone.points[7]) == (None, (7,), "SH")
    nets = tuple(net for net in TINY.pin_map.nets if net.role != "shell")
    none = Board(replace(TINY.pin_map, nets=nets), bare.layout)
    assert (none.shell_point, [net.name for net in none.nets]) == (None, ["GND", "+5V", "D+", "TX", "NC"])


def test_a_net_without_a_joint_in_the_layout_is_left_out():
    few = Board(TINY.pin_map, replace(TINY.layout, joints=TINY.joints[:3]))
    assert [net.name for net in few.nets] == ["GND", "+5V", "D+", "SHELL"]


@pytest.mark.parametrize(
    ("typed", "point"),
    [
        ("1", "1"),
        ("SH1", "SH1"),
        ("sh1", "SH1"),
        ("SH", "SH"),
        ("@GND", "@GND"),
        ("GND", "@GND"),
        ("gnd", "@GND"),
        ("d+", "@D+"),
        ("@nc", "@NC"),
        ("TP4", None),
        ("", None),
        ("9", None),
    ],
)
def test_what_a_typed_name_means(typed, point):
    assert named(TINY, typed) == point


def test_names_from_board_notes_mean_the_board_point_of_their_net():
    board = Board(TINY.pin_map, TINY.layout, (), {"TP4": "+5V", "C7": "GND", "X1": "NOWHERE"})
    assert [named(board, name) for name in ("@TP4", "@tp4", "@C7", "@X1", "TP4")] == [
        "@+5V",
        "@+5V",
        "@GND",
        None,
        None,
    ]
    assert board.known_names[: len(board.points)] == board.points
    assert set(board.known_names) == {*board.points, *(net.name for net in board.nets), "@TP4", "@C7"}
    assert len(set(board.known_names)) == len(board.known_names)


def test_a_contact_means_its_joint_and_comes_before_a_net_of_its_name():
    usb = make_board(find_pin_map("usb-c-16"), "")
    assert named(usb, "A4") == named(usb, "b9") == named(usb, "A4B9") == "A4B9"
    text = TINY_YAML.replace("TX:", '"3":')
    pin_map = parse_pin_map(text.encode(), "t.yaml")
    board = Board(pin_map, pin_map.layouts[0])
    assert (named(board, "3"), named(board, "@3")) == ("3", "@3")


def test_case_counts_only_where_it_tells_two_points_apart():
    nets = (Net("sda", "data", ("1",)), Net("SDA", "data", ("2",)), Net("Scl", "data", ("3",)))
    layout = replace(TINY.layout, joints=tuple(Joint(c, (c,), int(c), 0, 0.3, 1.0) for c in "123"))
    board = Board(replace(TINY.pin_map, nets=nets, layouts=(layout,)), layout)
    assert (named(board, "sda"), named(board, "SDA"), named(board, "Sda")) == ("@sda", "@SDA", None)
    assert named(board, "SCL") == "@Scl"


def test_pairs_and_names_of_points():
    assert TINY.pair((2, 10)) == ("3", "@GND")
    assert TINY.names({10, 3, 0}) == ["1", "4", "@GND"]


def test_gaps_by_scope():
    """0.2 mm to the next pad of the row; within 1.27 mm, sight or not, the two after it as well: 0.7 and 1.2 mm."""
    row = {(str(i), str(i + step)): 0.5 * step - 0.3 for step in (1, 2, 3) for i in range(1, 8 - step)}
    near = {(a, b): mm for a, b, mm in TINY.gaps(NEAR)}
    wide = {(a, b): mm for a, b, mm in TINY.gaps(WIDE)}
    pads = {pair: mm for pair, mm in wide.items() if not any(n.startswith("SH") for n in pair)}
    assert pads == {pair: pytest.approx(mm) for pair, mm in row.items()}
    assert {pair for pair in near if not any(n.startswith("SH") for n in pair)} == {p for p in row if row[p] < 0.3}
    assert (NEAR, WIDE, ALL) == ("near", "wide", "all")
    assert set(near) <= set(wide) and TINY.gaps(ALL) == TINY.gaps(WIDE)
    # a shell joint past the window still has its nearest neighbour
    assert near["1", "SH1"] == wide["1", "SH1"] == pytest.approx(gap(TINY.joints[0], TINY.joints[7]))


def test_tied_nets_are_one_conductor_by_design():
    board = Board(TINY.pin_map, TINY.layout, [{"TX", "GND"}, {"NC", "TX"}, {"+5V"}])
    net = {n.name: n for n in board.nets}
    assert board.tied(net["GND"], net["NC"]) and board.tied(net["NC"], net["TX"])
    assert not board.tied(net["GND"], net["D+"]) and not board.tied(net["D+"], net["+5V"])
    assert not TINY.tied(net["D+"], net["TX"])
    assert board.grade(net["NC"], net["TX"]) == Grade("harmless", "NC and TX are one conductor on this board by design")
    assert board.grade(net["TX"], net["TX"]) == Grade("harmless", "joints of one net, TX")
    assert not board.must_be_apart(net["GND"], net["TX"]) and board.must_be_apart(net["GND"], net["D+"])
    assert not board.must_be_apart(net["D+"], net["D+"])
    assert TINY.must_be_apart(net["GND"], net["TX"])


def test_nets_that_may_touch_another_are_grounds_shell_and_tied_ones():
    assert [net.name for net in TINY.touching_nets] == ["GND", "SHELL"]
    board = Board(TINY.pin_map, TINY.layout, [{"TX", "NC"}])
    assert [net.name for net in board.touching_nets] == ["GND", "TX", "NC", "SHELL"]


def test_the_worst_of_a_group_sees_ties():
    """Three data lines alike: two are tied, so only a line outside of the tie makes a fault."""
    nets = tuple(Net(name, "data", (str(i),)) for i, name in enumerate("ABC", 1))
    layout = replace(TINY.layout, joints=TINY.joints[:3])
    board = Board(replace(TINY.pin_map, nets=nets), layout, [{"A", "B"}])
    assert board.worst(nets[:2]).harm == "harmless"
    assert board.worst(nets).harm == board.worst(nets[1:]).harm == "dead-signal"


# --- made from what a user asks for


CAN = find_pin_map("de9-can")
"""Two layouts and one variant."""


def test_a_board_is_made_in_the_layout_and_variant_that_are_asked_for():
    assert make_board(CAN, "").layout is CAN.layouts[0]
    assert make_board(CAN, "upright").layout.id == "upright"
    board = make_board(CAN, "", "error-line")
    assert (board.pin_map.variant, board.pin_map.nets) == ("error-line", CAN.variants[0].nets)
    assert board.pin_map.nets != CAN.nets


@pytest.mark.parametrize(
    ("layout", "variant", "told"),
    [
        ("", "rev2", "variant.csv:3: no variant 'rev2' of de9-can: it has: error-line"),
        ("smt", "", "layout.csv:3: no layout 'smt' of de9-can: it has: right-angle, upright"),
        ("smt", "error-line", "layout.csv:3: no layout 'smt' of de9-can: it has: right-angle, upright"),
    ],
)
def test_a_layout_or_variant_that_is_not_there_is_refused_with_its_place_and_what_there_is(layout, variant, told):
    with pytest.raises(InputError) as caught:
        make_board(CAN, layout, variant, place=lambda key: (f"{key}.csv", 3))
    assert str(caught.value) == told


def test_without_a_place_the_message_names_the_map():
    with pytest.raises(InputError) as caught:
        make_board(TINY.pin_map, "", "rev2")
    assert str(caught.value) == "tiny: no variant 'rev2' of tiny: it has: none"
