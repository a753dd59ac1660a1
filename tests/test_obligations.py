"""What a scope asks, against a plain enumeration of conductors, and worked cases of what is missing next."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.analysis.knowledge import Knowledge, closure
from connector_check.analysis.obligations import (
    Isolation,
    apart_once_joined,
    bare_shell,
    body,
    conductor,
    missing,
    obligations,
)
from connector_check.board.board import ALL, NEAR, WIDE, Board
from connector_check.board.making import make_board
from connector_check.pinout.geometry import gap
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap, Source
from connector_check.pinout.pinmap_file import parse_pin_map
from tests.strategies import TINY_YAML, boards, tiny_board

SCOPES = (NEAR, WIDE, ALL)


def spread(*nets: Net, step: float = 5.0) -> Board:
    """One joint a contact, in a row so far apart that only the next joint is a neighbour."""
    contacts = sorted((c for net in nets for c in net.contacts), key=int)
    joints = tuple(Joint(c, (c,), step * int(c), 0, 0.3, 1.0) for c in contacts)
    layout = Layout("row", "", "invented", joints)
    names = {c: net.name for net in nets for c in net.contacts}
    return Board(PinMap("row", "row", "", (Source("invented", "memory"),), nets, names, (layout,)), layout)


def asked(board: Board, scope: str) -> set[frozenset[str]]:
    return {frozenset(wall.key) for wall in obligations(board, scope).isolation}


def against_a_bare_shell(board: Board, scope: str) -> set[frozenset[str]]:
    """Where the layout has a shell and no ground: each conductor with none of the shell's joints beside it, against the
    first of them.
    """
    metal = [joint.name for joint in board.joints if joint.contacts == ("SH",)]
    if not metal or "ground" in {board.net_of[joint].role for joint in range(len(board.joints))}:
        return set()
    beside = {frozenset((a, b)) for a, b, _ in board.gaps(scope)}
    found = set()
    for joint in range(len(board.joints)):
        mates = [board.points[k] for k in range(len(board.joints)) if conductor(board, k) == conductor(board, joint)]
        near = any(frozenset((mate, shell)) in beside for mate in mates for shell in metal)
        if not near and board.must_be_apart(board.net_of[joint], board.net_of[board.number[metal[0]]]):
            found.add(frozenset((conductor(board, joint), metal[0])))
    return found


def expected(board: Board, scope: str) -> tuple[set[frozenset[str]], int]:
    """The pairs of conductors that the scope asks for, and how many more there are that must be apart."""
    near = {frozenset((a, b)) for a, b, _ in board.gaps(scope)}
    wanted, every = set(), set()
    for a, b in combinations(range(len(board.joints)), 2):
        net, other = board.net_of[a], board.net_of[b]
        if not board.must_be_apart(net, other):
            continue
        pair = frozenset((conductor(board, a), conductor(board, b)))
        every.add(pair)
        roles = [net.role, other.role]
        ground = roles.count("ground") == 1
        if scope == ALL or ground or roles == ["power", "power"] or {board.points[a], board.points[b]} in near:
            wanted.add(pair)
    wanted |= against_a_bare_shell(board, scope)
    return wanted, len(every - wanted)


def test_the_pairs_over_all_layouts_with_and_without_the_clause_of_the_shell():
    """near 2,977 by line of sight, ground and supplies; 15 more against a shell that is the only ground."""
    boards_ = [Board(pin_map, layout) for pin_map in map(find_pin_map, list_ids()) for layout in pin_map.layouts]
    needed = {id(board): {frozenset(wall.key) for wall in obligations(board, NEAR).isolation} for board in boards_}
    assert (len(boards_), sum(map(len, needed.values()))) == (101, 2992)
    clause = {id(board): against_a_bare_shell(board, NEAR) for board in boards_}
    assert sum(len(needed[key] - clause[key]) for key in needed) == 2977
    assert {board.pin_map.id for board in boards_ if clause[id(board)]} == {"ieee1394-4", "rj45-10-100", "rj45-1000"}


def test_a_shell_that_the_map_keeps_from_ground_floats():
    """Joint 3 lies beside no joint of the shell; ground speaks for a shell that may touch it, or that is tied to it."""
    tiny = tiny_board()
    nets = tuple(net._replace(ground="apart") if net.role == "shell" else net for net in tiny.pin_map.nets)
    floating = replace(tiny.pin_map, nets=nets)
    more = asked(Board(floating, tiny.layout), NEAR) - asked(tiny, NEAR)
    shell = {tiny.points[joint] for joint in tiny.shell_joints}
    assert frozenset(("3", tiny.points[tiny.shell_joints[0]])) in more and all(pair & shell for pair in more)
    tied = Board(floating, tiny.layout, ties=[{"GND", "SHELL"}])
    assert asked(tied, NEAR) == asked(Board(tiny.pin_map, tiny.layout, ties=[{"GND", "SHELL"}]), NEAR)


@settings(max_examples=100, deadline=None)
@given(boards(), st.sampled_from(SCOPES))
def test_what_is_asked_and_what_is_not_in_scope_is_every_pair_of_conductors(board, scope):
    wanted, others = expected(board, scope)
    assert asked(board, scope) == wanted
    assert obligations(board, scope).not_in_scope == others


def test_the_pairs_not_in_scope_of_a_worked_board():
    """Eight lines far apart, in a row: 28 pairs, 7 of them next to each other; two grounds count as one conductor."""
    lines = [Net(f"S{i}", "data", (str(i),)) for i in range(1, 9)]
    board = spread(*lines)
    assert (len(obligations(board, NEAR).isolation), obligations(board, NEAR).not_in_scope) == (7, 21)
    assert (len(obligations(board, ALL).isolation), obligations(board, ALL).not_in_scope) == (28, 0)
    ground = Net("GND", "ground", ("9", "10"), must_join=True)
    board = spread(*lines, ground)
    assert (len(obligations(board, NEAR).isolation), obligations(board, NEAR).not_in_scope) == (15, 21)
    doubled = spread(*lines[1:], Net("S1", "data", ("1", "9")), step=5.0)
    # the joints of a signal that the board need not join are conductors of their own: 9 joints, 36 pairs but their own
    assert len(obligations(doubled, ALL).isolation) == 35
    # beside the 7 neighbours of the row, joint 8 and joint 9
    assert obligations(doubled, NEAR).not_in_scope == 35 - 8


GROUNDS = (Net("GND", "ground", ("1", "5")), Net("AGND", "ground", ("2",)))
LINES = (Net("A", "data", ("3",)), Net("B", "data", ("4",)), Net("V", "power", ("6", "7"), volts=5.0, must_join=True))
ODD = [
    # a ground that the board need not join: each of its joints is asked by itself; grounds may touch
    spread(*GROUNDS, *LINES),
    # supplies of like volts must be apart as well
    spread(*LINES, Net("V2", "power", ("1", "2"), volts=5.0), Net("V3", "power", ("5", "8"), volts=3.3)),
    spread(*LINES, Net("NC", "reserved", ("1", "2")), Net("NC2", "reserved", ("5",))),
]


@pytest.mark.parametrize("scope", SCOPES)
@pytest.mark.parametrize("board", ODD)
def test_the_same_where_nets_of_one_kind_may_touch_or_need_no_join(board, scope):
    wanted, others = expected(board, scope)
    assert (asked(board, scope), obligations(board, scope).not_in_scope) == (wanted, others)


def test_a_shell_without_a_joint_in_the_layout_counts_for_nothing():
    board = spread(*LINES)
    shell = Net("SHELL", "shell", ("SH", "S1"), must_join=True)
    nets = (*board.pin_map.nets, shell)
    bare = Board(PinMap("row", "row", "", (), nets, {}, (board.layout,)), board.layout)
    assert "SHELL" in bare.joints_of
    assert obligations(bare, NEAR).not_in_scope == obligations(board, NEAR).not_in_scope


def test_joints_that_touch_come_before_those_with_a_gap():
    """B and C lie pad on pad, a hair over each other; A and B are 0.2 mm apart."""
    spots = {"1": 2.0, "2": 1.5, "3": 1.25}
    nets = tuple(Net(f"S{c}", "data", (c,)) for c in spots)
    layout = Layout("row", "", "invented", tuple(Joint(c, (c,), x, 0, 0.3, 1.0) for c, x in spots.items()))
    board = Board(PinMap("row", "row", "", (), nets, {}, (layout,)), layout)
    assert [wall.key for wall in obligations(board, NEAR).isolation] == [("2", "3"), ("1", "2")]


@settings(max_examples=60, deadline=None)
@given(boards(), st.sampled_from(SCOPES))
def test_joins_contacts_and_pairs_are_those_of_the_joints(board, scope):
    needed = obligations(board, scope)
    point = {joint: board.board_point[board.net_of[joint].name] for joint in range(len(board.joints))}
    assert needed.joins == tuple((j, point[j]) for j in point if board.net_of[j].must_join)
    signals = [j for j in point if not board.net_of[j].must_join and board.net_of[j].role not in ("shell", "reserved")]
    assert needed.contacts == tuple((j, point[j]) for j in signals)
    near = {frozenset((a, b)): mm for a, b, mm in board.gaps(scope)}
    for wall in needed.isolation:
        assert wall.key == tuple(sorted(wall.key))
        gaps = [gap(board.joints[a], board.joints[b]) for a, b in wall.pairs]
        assert gaps == sorted(gaps)
        for a, b in wall.pairs:
            assert {conductor(board, a), conductor(board, b)} == set(wall.key)
        beside = [board.names(pair) for pair in wall.pairs if frozenset(board.names(pair)) in near]
        assert len(beside) == (len(wall.pairs) if wall.gap_mm is not None else 0)
        if wall.gap_mm is None:
            # no neighbours: one pair stands for it, the closest there is
            every = [
                gap(board.joints[a], board.joints[b])
                for a, b in combinations(range(len(board.joints)), 2)
                if {conductor(board, a), conductor(board, b)} == set(wall.key)
            ]
            assert wall.whole and len(wall.pairs) == 1 and gaps[0] == min(every)
        else:
            assert wall.gap_mm == pytest.approx(gaps[0])
            keys = [tuple(sorted(conductor(board, board.number[name]) for name in pair)) for pair in near]
            assert keys.count(wall.key) == len(wall.pairs)
    order = [(wall.gap_mm is None, wall.gap_mm or 0) for wall in needed.isolation]
    assert order == sorted(order)


def walls(board: Board, scope: str = NEAR) -> dict[tuple[str, str], Isolation]:
    return {wall.key: wall for wall in obligations(board, scope).isolation}


def test_neighbours_that_are_not_asked_against_the_whole_net_are_proven_pair_by_pair():
    """A ground is asked as a whole at every joint, a signal beside another signal only where they are neighbours."""
    board = tiny_board()
    found = walls(board)
    assert {key for key, wall in found.items() if wall.whole} == {
        ("2", "@GND"),
        ("3", "@GND"),
        ("5", "@GND"),
        ("6", "@GND"),
    }
    assert {key for key, wall in found.items() if not wall.whole} == {("2", "3"), ("5", "6")}


def told(board: Board, knowledge: Knowledge, wall: Isolation) -> tuple[str, str] | None:
    pair = missing(board, knowledge, wall)
    return None if pair is None else board.pair(pair)


def test_what_is_missing_next_between_a_signal_and_a_ground():
    """First the neighbour, then the ground's main group while the joins are unproven; then one quiet speaks for all."""
    board = tiny_board()
    wall = walls(board)["3", "@GND"]
    assert [board.pair(pair) for pair in wall.pairs] == [("3", "4")]
    number = board.number
    three, four, one, seven, ground = (number[name] for name in ("3", "4", "1", "7", "@GND"))
    assert told(board, closure(20, [], []), wall) == ("3", "4")
    assert told(board, closure(20, [], [(three, four)]), wall) == ("1", "3") or told(
        board, closure(20, [], [(three, four)]), wall
    ) == ("3", "1")
    assert told(board, closure(20, [], [(three, four), (three, one)]), wall) is None
    assert told(board, closure(20, [(one, ground)], [(three, four), (three, ground)]), wall) is None
    assert told(board, closure(20, [(one, ground), (four, ground), (seven, ground)], [(three, seven)]), wall) is None
    # the neighbour is joined to the ground: asked by its board point only where the neighbour says nothing new
    assert told(board, closure(20, [(one, ground), (four, three)], []), wall) == ("3", "4")


def test_a_pair_of_neighbours_alone_is_no_question_of_the_whole_net():
    board = tiny_board()
    wall = walls(board)["2", "3"]
    two, three = board.number["2"], board.number["3"]
    assert told(board, closure(20, [], []), wall) == ("2", "3")
    assert told(board, closure(20, [], [(two, three)]), wall) is None


def test_a_supply_beside_a_signal_is_no_question_of_its_other_joints():
    """2, 6 and 9 are one supply; once its neighbours 2 and 6 are silent, nothing asks for 3 against joint 9."""
    board = spread(Net("V", "power", ("2", "6", "9"), volts=5.0, must_join=True), Net("S", "data", ("3",)))
    wall = walls(board)["3", "@V"]
    two, three, six, nine, point = (board.number[n] for n in ("2", "3", "6", "9", "@V"))
    assert not wall.whole and {board.pair(pair) for pair in wall.pairs} == {("2", "3"), ("3", "6")}
    silent = [(three, two), (three, six)]
    assert told(board, closure(len(board.points), [(nine, point)], silent), wall) is None
    assert told(board, closure(len(board.points), [(nine, point)], silent[:1]), wall) == ("3", "6")


def test_what_counts_as_apart_can_be_said_otherwise():
    board = tiny_board()
    wall = walls(board)["2", "3"]
    nothing = closure(20, [], [])
    assert missing(board, nothing, wall, lambda a, b: True) is None
    assert missing(board, closure(20, [], [(1, 2)]), wall, lambda a, b: False) == (1, 2)


def test_a_supply_is_asked_whole_against_every_other_and_far_from_it_by_the_closest_joints():
    board = spread(
        Net("V5", "power", ("1", "2"), volts=5.0, must_join=True),
        Net("S", "data", ("3",)),
        Net("V12", "power", ("4", "5"), volts=12.0, must_join=True),
    )
    wall = walls(board)["@V12", "@V5"]
    assert (wall.whole, wall.gap_mm) == (True, None)
    assert {board.points[p] for p in wall.pairs[0]} == {"2", "4"}
    numbers = {name: board.number[name] for name in board.points}
    nothing = closure(len(board.points), [], [])
    assert set(told(board, nothing, wall)) == {"2", "4"}
    # once that pair is known, the main groups: with joint 1 at the board its point speaks for the net
    known = closure(len(board.points), [(numbers["1"], numbers["@V5"])], [(numbers["2"], numbers["4"])])
    assert set(told(board, known, wall)) == {"@V5", "4"}


@pytest.mark.parametrize(
    ("joins", "stands"),
    [
        ([], "1"),
        ([("4", "7")], "4"),
        ([("1", "4"), ("7", "@GND")], "@GND"),
        ([("1", "7")], "1"),
        ([("4", "3"), ("3", "@GND")], "@GND"),
    ],
)
def test_the_point_that_stands_for_a_net(joins, stands):
    board = tiny_board()
    links = [(board.number[a], board.number[b]) for a, b in joins]
    knowledge = closure(len(board.points), links, [])
    assert board.points[body(board, knowledge, "GND")] == stands
    assert knowledge.bodies == {"GND": board.number[stands]}
    assert board.points[body(board, knowledge, "GND")] == stands
    knowledge.join(board.number["1"], board.number["@GND"])
    assert board.points[body(board, knowledge, "GND")] == "@GND"


def test_a_net_without_joints_is_stood_for_by_its_board_point():
    tiny = tiny_board()
    layout = Layout("few", "", "invented", tuple(j for j in tiny.layout.joints if not j.is_shell))
    board = Board(tiny.pin_map, layout)
    assert board.points[body(board, closure(len(board.points), [], []), "SHELL")] == "@SHELL"


def test_apart_were_the_unknown_joins_to_beep():
    """3 is quiet to joint 4; if 4 and 7 both beep to their board, 3 is apart from the board and from 7."""
    board = tiny_board()
    number = board.number
    needed = obligations(board, NEAR)
    three, four, seven, ground = (number[n] for n in ("3", "4", "7", "@GND"))
    soon = apart_once_joined(closure(20, [], [(three, four)]), needed)
    assert soon(three, ground) and soon(seven, three) and soon(number["1"], three)
    assert not soon(number["5"], ground) and not soon(four, ground) and not soon(three, number["@D+"])
    # joint 4 is known to be open: it stands for nothing but itself
    open_four = apart_once_joined(closure(20, [], [(three, four), (four, ground)]), needed)
    assert open_four(three, four) and not open_four(three, ground) and not open_four(three, seven)
    # joints that are joined together move together
    pair = apart_once_joined(closure(20, [(four, seven)], [(three, seven)]), needed)
    assert pair(three, ground) and pair(three, four)


def test_what_the_board_may_leave_open_and_the_metal_of_the_shell_are_asked_for_information():
    board = tiny_board()
    asked_once = [board.pair(pair) for pair in obligations(board, NEAR).information]
    assert asked_once == [("SH", "@SHELL")]
    can = make_board(find_pin_map("de9-can"), "")
    needed = obligations(can, NEAR)
    names = [can.pair(pair) for pair in needed.information]
    assert names[:2] == [("3", "@CAN_GND"), ("6", "@CAN_GND")]
    assert not {joint for joint, _ in needed.information} & {joint for joint, _ in (*needed.joins, *needed.contacts)}


@settings(max_examples=60, deadline=None)
@given(boards())
def test_every_joint_that_must_reach_its_board_point_is_a_join_or_a_contact(board):
    needed = obligations(board, NEAR)
    reached = sorted(joint for joint, _ in (*needed.joins, *needed.contacts))
    assert reached == [j for j in range(len(board.joints)) if board.must_reach(board.net_of[j])]


def test_the_metal_of_a_shell_without_a_joint_is_not_asked():
    tiny = tiny_board()
    layout = Layout("few", "", "invented", tuple(j for j in tiny.layout.joints if not j.is_shell))
    board = Board(tiny.pin_map, layout)
    assert board.shell_point is not None and obligations(board, NEAR).information == ()


def test_a_shell_that_stays_apart_from_ground_floats_though_the_board_ties_it_to_a_signal():
    """Tied to ground by the board's notes it does not float; tied to a signal it is as bare as before."""
    text = TINY_YAML.replace("ground: may", "ground: apart, why: it floats")
    pin_map = parse_pin_map(text.encode(), "tiny.yaml")
    for tie, bare in (([], True), ([{"SHELL", "TX"}], True), ([{"SHELL", "GND"}], False)):
        board = Board(pin_map, pin_map.layouts[0], tie)
        assert bool(bare_shell(board)) is bare
