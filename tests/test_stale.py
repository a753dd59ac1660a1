"""What goes stale by rework, against the rule written out again with networkx, and a worked case of each clause."""

from __future__ import annotations

from math import inf

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.analysis.meaning import DOUBTFUL, JOINS
from connector_check.analysis.reach import PartLink, Reach, possible_links
from connector_check.analysis.replay import Standing, replay
from connector_check.analysis.stale import heard, stale_after_rework
from connector_check.board.board import NEAR, WIDE, Board
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.testlog.readings import BEEP, OHMS, QUIET, VOLTS, Entry
from tests.strategies import TINY_YAML, boards, entry, log, tiny_board
from tests.test_closing import with_parts


def stale_lines(standing: Standing, *heated: str, scope: str = NEAR) -> set[int]:
    """The lines of the readings that go stale when these joints are reworked."""
    board = standing.board
    readings = [(r.number, r.entry, r.meaning) for r in standing.readings]
    numbers = stale_after_rework(board, standing.knowledge, readings, {board.number[j] for j in heated}, scope)
    return {standing.job[number].line for number in numbers}


def stale_on(board: Board, text: str, *heated: str) -> set[int]:
    return stale_lines(replay(board, log(board, text)), *heated)


def terminated(absent: str = "may") -> Board:
    """As `tiny`, with 70 to 80 ohm from D+ to ground."""
    part = f"paths:\n  - {{between: [D+, GND], ohms: [70, 80], absent: {absent}, why: made}}\nlayouts:"
    text = TINY_YAML.replace("layouts:", part)
    pin_map = parse_pin_map(text.encode(), "t.yaml")
    return Board(pin_map, pin_map.layouts[0])


class Rule:
    """The rule as `stale` states it, each path sought by itself: two ways from a heated joint, one to each point of the
    reading, that share nothing (Menger). And Pot(u) of `reach`. No known apart but by readings.
    """

    def __init__(self, board: Board, entries: list[Entry], heated: set[int], scope: str) -> None:
        self.heated = heated
        self.solder = nx.Graph((board.number[a], board.number[b]) for a, b, _ in board.gaps(scope))
        self.links = nx.Graph(self.solder.edges)
        self.links.add_nodes_from(range(len(board.points)))
        nets = [net.name for net in board.net_of]
        self.links.add_edges_from((j, board.board_point[nets[j]]) for j in range(len(board.joints)))
        shell = board.shell_point
        self.metal = set(board.shell_joints)
        if shell is not None:
            self.links.add_edges_from((shell, other) for other in (*self.metal, board.board_point["SHELL"]))
        earth = [net for net in board.nets if net.role in ("ground", "shell")]
        hubs = [board.board_point[net.name] for net in earth if net.role == "ground" or net.ground == "may"]
        self.links.add_edges_from((a, b) for a in hubs for b in hubs if a != b)
        self.classes = nx.Graph(e.points for e in entries if e.kind == BEEP)
        self.classes.add_nodes_from(self.links)
        self.parts = {e.points for e in entries if e.kind == QUIET}
        if shell is not None:
            both = [(a, b) for pair in self.parts for a, b in (pair, pair[::-1])]
            self.parts |= {(joint, b) for a, b in both if a == shell for joint in self.metal if joint != b}
        possible = list(self.links.edges)
        self.before = nx.Graph((a, b) for a, b in possible if not self.apart(self.joined(a), self.joined(b)))
        self.before.add_nodes_from(self.links)
        explained = {p: frozenset(group) for group in nx.connected_components(self.before) for p in group}
        self.before.add_edges_from((a, b) for a, b in self.classes.edges if explained[a] != explained[b])
        self.after = nx.Graph(self.before)
        self.after.add_edges_from((a, b) for a, b in possible if {a, b} & heated)

    def joined(self, point: int) -> frozenset[int]:
        return frozenset(nx.node_connected_component(self.classes, point))

    def apart(self, a: frozenset[int], b: frozenset[int]) -> bool:
        return a != b and any((u in a and v in b) or (u in b and v in a) for u, v in self.parts)

    def pot(self, point: int) -> set[int]:
        own = self.joined(point)
        allowed = {p for p in self.links if not self.apart(own, self.joined(p))}
        graph = nx.Graph(self.classes.edges)
        graph.add_nodes_from(self.links)
        graph.add_edges_from((a, b) for a, b in self.links.edges if not self.apart(self.joined(a), self.joined(b)))
        return set(nx.node_connected_component(graph.subgraph(allowed), point))

    def stale(self, entry: Entry) -> bool:
        u, v = entry.points
        graph = nx.Graph(self.after if entry.kind == QUIET else self.before)
        if not nx.has_path(graph, u, v):
            return False
        ends = max(graph) + 1
        graph.add_edges_from([(ends, u), (ends, v)])
        return bool(self.heated & {u, v}) or any(
            nx.has_path(graph, r, ends) and nx.node_connectivity(graph, r, ends) == 2 for r in self.heated
        )


@settings(max_examples=150, deadline=None)
@given(boards(most=7), st.data(), st.sampled_from([NEAR, WIDE]))
def test_what_goes_stale_is_what_the_rule_says(board, data, scope):
    points = st.integers(0, len(board.points) - 1)
    pairs = st.tuples(points, points).filter(lambda p: p[0] != p[1])
    touches = data.draw(st.lists(st.tuples(pairs, st.sampled_from([BEEP, QUIET, QUIET])), max_size=14))
    entries = [Entry(line, kind, pair) for line, (pair, kind) in enumerate(touches, 1)]
    joints = st.sampled_from([joint.name for joint in board.joints])
    heated = data.draw(st.lists(joints, min_size=1, max_size=2))
    rule = Rule(board, entries, {board.number[j] for j in heated}, scope)
    expected = {e.line for e in entries if rule.stale(e)}
    standing = replay(board, entries, scope=scope)
    assert stale_lines(standing, *heated, scope=scope) == expected
    reach = Reach(board, standing.knowledge, possible_links(board, scope))
    assert [reach.of(point) for point in range(len(board.points))] == [rule.pot(p) for p in range(len(board.points))]


ALONE = "4 @GND quiet\n4 3 quiet\n4 5 quiet\n4 SH1 quiet\n4 SH2 quiet\n"
"""Ground joint 4 shown apart from its board and from all that solder could link it with."""


def test_a_quiet_at_a_mate_of_the_reworked_joint_stands_where_nothing_leads_from_the_heat_to_it():
    """Joint 4 has no link left; the iron at 1 makes none at it, the iron at its neighbour 3 or at itself does."""
    assert 1 not in stale_on(tiny_board(), ALONE, "1")
    assert 1 in stale_on(tiny_board(), ALONE, "3")
    assert 1 in stale_on(tiny_board(), ALONE, "4")


@pytest.mark.parametrize(("heated", "expected"), [("1", True), ("7", False)])
def test_a_beep_at_a_mate_of_the_reworked_joint_goes_only_with_another_way_over_that_joint(heated, expected):
    """4 and its board point: over its own joint, or over 3, 2 and 1 should 4 be open; never over 7 past a silent 5."""
    assert (1 in stale_on(tiny_board(), "4 @GND beep\n4 5 quiet\n4 SH2 quiet\n7 SH2 quiet", heated)) == expected


def test_a_join_that_no_links_explain_stands_for_itself_away_from_the_heat():
    """2 and 6 lie too far apart for solder in scope; the short must not vanish because the iron was elsewhere."""
    text = "2 6 beep\n2 1 quiet\n2 3 quiet\n2 @+5V beep\n6 5 quiet\n6 7 quiet\n@+5V @GND quiet"
    assert stale_on(tiny_board(), text, "4") & {1, 4} == set()
    assert 1 in stale_on(tiny_board(), text, "2") and 1 in stale_on(tiny_board(), text, "6")
    # solder at 7 leads to 6, and over the join to 2 and its board point
    assert 7 in stale_on(tiny_board(), text, "7")


def lonely_shell() -> Board:
    """As `tiny`, but joint 1 is the signal RX and the shell stays apart from ground."""
    text = TINY_YAML.replace("[1, 4, 7]", "[4, 7]").replace("ground: may", "ground: apart, why: floats")
    pin_map = parse_pin_map(text.replace("nets:\n", "nets:\n  RX: {role: data, contacts: [1]}\n").encode(), "t.yaml")
    return Board(pin_map, pin_map.layouts[0])


def test_a_quiet_on_the_metal_of_the_shell_is_stale_when_a_joint_of_the_shell_was_reworked():
    """SH is apart from its joints and from the board, so only a changed link between it and SH1 can reach it."""
    text = "SH 4 quiet\nSH1 SH quiet\nSH2 SH quiet\n@SHELL SH quiet"
    assert 1 in stale_on(lonely_shell(), text, "SH1")
    assert 1 not in stale_on(lonely_shell(), text, "4")


def test_a_beep_over_the_shell_is_stale_when_its_joint_was_reworked():
    """The metal holds SH1 and SH2 together over links that are no bridges; no neighbour of SH1 is in reach."""
    text = "SH2 SH beep\nSH1 1 quiet\nSH2 7 quiet\n1 SH quiet\n7 SH quiet"
    assert 1 in stale_on(lonely_shell(), text, "SH1")
    assert 1 not in stale_on(lonely_shell(), text, "4")


def test_unsure_is_never_stale_and_a_chirp_is_as_a_quiet():
    board = tiny_board()
    text = "2 3 unsure\n2 3 chirp\n2 3 quiet"
    assert stale_on(board, text, "2") == {2, 3}


@pytest.mark.parametrize(("heated", "expected"), [("6", {1}), ("3", {2}), ("5", set()), ("2", set())])
def test_a_joint_in_the_middle_of_a_beep_takes_it_along_only_with_a_neighbour_in_reach(heated, expected):
    """Line 1 beeps 7 to 5 and may run over 6; line 2 beeps 3 to its board point, all else around it silent."""
    text = "7 5 beep\n3 @D+ beep\n3 2 quiet\n3 4 quiet\n5 4 quiet\n7 @GND quiet\n5 @TX quiet\n7 SH2 quiet\n2 @+5V beep"
    told = stale_on(tiny_board(), text, heated)
    assert told & {1, 2} == expected | ({1} if heated == "5" else set())


def test_ohms_that_join_go_as_a_beep_does_and_ohms_that_do_not_as_a_quiet():
    """Joint 5 reaches nothing but itself, so no changed link at joint 2 can end there."""
    board = tiny_board()
    two, three, five, six = (board.number[n] for n in "2356")
    silent = log(board, "5 4 quiet\n5 6 quiet\n5 @TX quiet")
    standing = replay(board, [*silent, Entry(11, OHMS, (two, three), 0.3), Entry(12, OHMS, (five, six), 40.0)])
    assert stale_lines(standing, "2") == {11}
    assert stale_lines(standing, "6") >= {12, 2}
    # new solder at joint 4 could lead from 5 to 6 over ground; nothing at it could lead the old way
    assert 12 in stale_lines(standing, "4")


def test_ohms_that_join_stay_when_the_iron_was_at_a_joint_that_could_not_carry_them():
    """Joint 1 is next to 2, but shown apart from it: a quiet there would go, what joins 2 and 3 does not."""
    board = tiny_board()
    two, three = board.number["2"], board.number["3"]
    silent = log(board, "2 1 quiet\n3 4 quiet\n2 4 quiet")
    standing = replay(board, [*silent, Entry(11, OHMS, (two, three), 0.3)])
    assert 11 not in stale_lines(standing, "1")
    assert 1 in stale_lines(standing, "1")


def test_volts_in_diode_mode_are_stale_when_solder_beside_the_joint_may_be_gone_in_either_order_of_the_leads():
    """The junction read at 3 may have been that of its neighbour 2; both are shown apart from ground."""
    board = tiny_board()
    three, ground = board.number["3"], board.number["@GND"]
    silent = log(board, "3 @GND quiet\n2 @GND quiet\n2 1 quiet\n3 4 quiet\n6 @GND quiet")
    for points in ((three, ground), (ground, three)):
        standing = replay(board, [*silent, Entry(11, VOLTS, points, 0.5)])
        assert 11 in stale_lines(standing, "2")
        assert 11 not in stale_lines(standing, "6")


def test_a_beep_that_a_part_may_have_made_goes_when_a_way_over_parts_passes_the_heat():
    """3 to 4 over the termination: 3 may be open and hold to 2 or 4, else the part and 4's own joint carry it."""
    board = terminated()
    silent = "3 2 quiet\n4 5 quiet\n4 SH1 quiet\n4 SH2 quiet\n3 4 beep"
    for pair in ("3 4", "4 3"):
        text = silent.replace("3 4", pair)
        assert [5 in stale_on(board, text, heated) for heated in "2345"] == [False, True, True, False]
        assert 5 in stale_on(board, text.replace("3 2 quiet", "6 2 quiet"), "2")


def test_a_beep_at_the_reworked_joint_is_stale_whichever_end_it_is_and_whatever_is_near():
    """Joint 3 is silent to both sides, so no solder could have carried its beep; joint 5 lies out of its reach."""
    text = "@D+ 3 beep\n@TX 5 beep\n3 2 quiet\n3 4 quiet"
    assert stale_on(tiny_board(), text, "3") & {1, 2} == {1}


def test_solder_bridges_only_neighbours_in_sight_unless_the_scope_says_more():
    """Joint 3 is silent to both sides and to its board; joint 6 is 1.2 mm away, three pads on. Nothing reaches @D+."""
    board = tiny_board()
    standing = replay(board, log(board, "3 2 quiet\n3 4 quiet\n3 @D+ quiet"))
    readings = [(r.number, r.entry, r.meaning) for r in standing.readings]
    assert stale_after_rework(board, standing.knowledge, readings, {board.number["6"]}) == []
    assert stale_after_rework(board, standing.knowledge, readings, {board.number["6"]}, WIDE) == [0, 1]


PART_SILENT = "3 @GND quiet\n2 @GND quiet\n4 @GND quiet\n@D+ @GND quiet"


@pytest.mark.parametrize("kind", [QUIET, OHMS])
@pytest.mark.parametrize("points", [("3", "@GND"), ("@GND", "3")])
def test_silence_over_a_part_goes_when_one_of_its_ends_was_reworked(kind, points):
    """The board's ground is shown apart from all that the iron at 3 can link; but reflowed, 3 may reach its part, which
    must sound, or may be there.
    """
    for absent in ("no", "may"):
        board = terminated(absent)
        silence = entry(board, 9, *points, kind, inf if kind == OHMS else None)
        standing = replay(board, [*log(board, PART_SILENT), silence])
        assert 9 in stale_lines(standing, "3")


def test_ohms_that_do_not_join_go_with_any_part_within_reach_and_silence_only_with_one_that_sounds():
    """6 is silent to all around it; over a pull-up of 1 kohm from TX to NC solder at 4 changes what 5 to 6 reads."""
    walls = "6 7 quiet\n6 @GND quiet\n6 5 quiet\n5 @GND quiet"
    for low, ohms_go, silence_goes in ((900, True, False), (None, False, False), (100, True, True)):
        board = tiny_board() if low is None else with_parts(("TX, NC", low, 1100), ("TX, GND", low, 1100))
        standing = replay(board, [*log(board, walls), entry(board, 9, "@NC", "@GND", OHMS, 4700.0)])
        assert (9 in stale_lines(standing, "4")) == ohms_go
        assert (2 in stale_lines(standing, "4")) == silence_goes


@pytest.mark.parametrize(
    ("lows", "count"),
    [
        ((300,), 0),
        ((278,), 0),
        ((277,), 1),
        ((600, 600), 0),
        ((500, 500), 1),
        ((60, 3000), 1),
        ((0,), 1),
        ((0, 900), 1),
    ],
)
def test_parts_are_left_out_while_all_of_them_side_by_side_are_above_what_a_meter_sounds_at(lows, count):
    """10 % under the least of their range: 277 ohm may be 249.3, two of 500 ohm side by side 225."""
    parts = [PartLink((2 * i, 2 * i + 1), low) for i, low in enumerate(lows)]
    found = heard(parts)
    assert len(found) == count
    assert found == [part.pair for part in sorted(parts, key=lambda part: -part.low)][len(parts) - count :]


def test_a_tone_that_a_part_may_have_carried_goes_where_the_way_over_the_part_passes_the_heat():
    """2 sounds to 5 over 1 ohm from +5V to NC and solder 6 - 5. Solder alone cannot lead from 2 to 5 here."""
    board = with_parts(("+5V, NC", 1, 1))
    entries = log(board, "2 5 beep\n1 2 quiet\n2 3 quiet\n2 6 quiet")
    standing = replay(board, entries)
    (sounded,) = [reading for reading in standing.readings if reading.entry.kind == BEEP]
    assert sounded.meaning == DOUBTFUL
    facts = [(sounded.number, sounded.entry, sounded.meaning)]
    heated = {board.number["6"]}
    assert stale_after_rework(board, standing.knowledge, facts, heated) == [sounded.number]
    taken_for_a_join = [(sounded.number, sounded.entry, JOINS)]
    assert stale_after_rework(board, standing.knowledge, taken_for_a_join, heated) == [], "told apart by its meaning"


def test_volts_go_when_the_ground_joint_under_the_red_lead_was_reworked_and_silence_there_stands():
    """No solder leads from 3 to anywhere: nothing new can sound there, but the junction was read through joint 1."""
    board = tiny_board()
    silent = log(board, "3 2 quiet\n3 4 quiet\n3 1 quiet")
    for points in (("3", "1"), ("1", "3")):
        standing = replay(board, [*silent, entry(board, 11, *points, VOLTS, 0.5)])
        assert 11 in stale_lines(standing, "1")
        assert not {1, 2, 3} & stale_lines(standing, "1")
