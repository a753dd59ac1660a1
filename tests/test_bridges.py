"""Bridge sites against networkx minimum spanning trees, and the worked cases of locating."""

from __future__ import annotations

import itertools

import networkx as nx
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from connector_check.analysis.bridges import sites
from connector_check.analysis.knowledge import closure
from connector_check.analysis.odds import NO_REMARKS, Remarks
from connector_check.board.board import Board
from connector_check.pinout.geometry import TIE_MM, gap
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap, Source
from tests.strategies import boards, tiny_board


def net_multigraph(board, group):
    graph = nx.MultiGraph()
    for i, a in enumerate(group):
        for b in group[i + 1 :]:
            ends = board.net_of[a], board.net_of[b]
            if ends[0].name != ends[1].name:
                graph.add_edge(ends[0].name, ends[1].name, pair=(a, b), weight=gap(board.joints[a], board.joints[b]))
    for net in board.nets:
        for other in board.nets:
            if (
                net.name in graph
                and other.name in graph
                and net.name < other.name
                and not board.must_be_apart(net, other)
            ):
                graph = nx.contracted_nodes(graph, net.name, other.name, self_loops=False)
    return graph


@settings(max_examples=200, deadline=None)
@given(boards(), st.data())
def test_tree_weight_equals_networkx_and_ties_are_exactly_the_replacing_edges(board, data):
    count = len(board.joints)
    group = sorted(data.draw(st.sets(st.integers(0, count - 1), min_size=2, max_size=6)))
    assume(len({board.net_of[p].name for p in group}) > 1)
    knowledge = closure(len(board.points), itertools.pairwise(group), [])
    graph = net_multigraph(board, group)
    assume(graph.number_of_nodes() > 1)
    found = sites(board, knowledge, group)
    tree = nx.minimum_spanning_tree(graph)
    assert abs(sum(s.gap_mm for s in found) - tree.size("weight")) < 1e-9
    edges = {frozenset(d["pair"]): (u, v, d["weight"]) for u, v, d in graph.edges(data=True)}
    chosen = [edges[frozenset(s.pair)] for s in found]
    for i, site in enumerate(found):
        rest = nx.Graph()
        rest.add_nodes_from(graph)
        rest.add_edges_from((u, v) for k, (u, v, _) in enumerate(chosen) if k != i)
        replacing = {
            pair
            for pair, (u, v, weight) in edges.items()
            if weight <= site.gap_mm + TIE_MM and not nx.has_path(rest, u, v) and pair != frozenset(site.pair)
        }
        assert {frozenset(pair) for pair in site.alternatives} == replacing


def row_of_nets(*nets: str) -> Board:
    """Pads 0.3 mm wide at 0.5 mm pitch, one data net a letter."""
    joints = tuple(Joint(str(i), (str(i),), 0.5 * i, 0, 0.3, 1.0) for i in range(1, len(nets) + 1))
    contacts = {name: tuple(str(i) for i, n in enumerate(nets, 1) if n == name) for name in nets}
    built = [Net(name, "data", numbers) for name, numbers in contacts.items()]
    layout = Layout("row", "", "test", joints)
    names = {c: n.name for n in built for c in n.contacts}
    pin_map = PinMap("row", "row", "", (Source("test", "memory"),), tuple(built), names, (layout,))
    return Board(pin_map, layout)


def test_signal_between_two_joints_of_one_net_lists_both_gaps():
    """Worked value C of locating: a signal between two grounds is two parallel edges: the site is not identifiable."""
    board = row_of_nets("G", "S", "G")
    found = sites(board, closure(len(board.points), [(0, 1), (0, 2)], []), [0, 1, 2])
    assert [(s.pair, s.alternatives) for s in found] == [((0, 1), ((1, 2),))]


def test_three_nets_in_a_row_leave_one_choice():
    """Worked geometry A: gaps .2, .2 and .7 across; the far pair is no alternative."""
    board = row_of_nets("A", "B", "C")
    found = sites(board, closure(len(board.points), [(0, 1), (1, 2)], []), [0, 1, 2])
    assert [(s.pair, s.alternatives, round(s.gap_mm, 2)) for s in found] == [((0, 1), (), 0.2), ((1, 2), (), 0.2)]


def test_lost_mask_and_seen_solder_raise_a_site():
    board = row_of_nets("G", "S", "G")
    knowledge = closure(len(board.points), [(0, 1), (0, 2)], [])
    for remarks in (
        Remarks(mask_lost=frozenset({frozenset({1, 2})})),
        Remarks(solder_seen=frozenset({frozenset({1, 2})})),
        Remarks(reworked=frozenset({2})),
    ):
        found = sites(board, knowledge, [0, 1, 2], remarks)
        assert [(s.pair, s.alternatives) for s in found] == [((1, 2), ())]


def test_a_net_known_by_its_board_point_only_takes_part_with_its_joints():
    board = tiny_board()
    group = [board.number["@+5V"], board.number["@D+"]]
    found = sites(board, closure(len(board.points), [tuple(group)], []), group)
    assert [(board.points[a], board.points[b]) for a, b in (s.pair for s in found)] == [("2", "3")]


def test_a_grounded_shell_is_no_site_of_its_own():
    board = tiny_board()
    group = [board.number[p] for p in ("1", "2", "SH", "@GND")]
    found = sites(board, closure(len(board.points), itertools.pairwise(group), []), group)
    assert [(board.points[s.pair[0]], board.points[s.pair[1]]) for s in found] == [("1", "2")]


def test_a_joint_known_apart_from_the_group_is_no_site_of_its_net():
    """Ground is joined to the supply at its board point; joint 1 beside the supply is shown apart from there."""
    board = tiny_board()
    number = board.number
    group = [number["2"], number["@GND"]]
    found = sites(board, closure(len(board.points), [tuple(group)], [(number["1"], number["@GND"])]), group)
    assert [(board.pair(s.pair), round(s.gap_mm, 2)) for s in found] == [(("2", "4"), 0.7)]
    silent = [(number[joint], number["2"]) for joint in ("1", "4", "7")]
    assert sites(board, closure(len(board.points), [tuple(group)], silent), group) == []


def test_nets_tied_to_a_third_that_is_not_in_the_group_are_bridged_for_themselves():
    """TX carries D+ by design; the shell on TX without D+ is solder all the same."""
    tiny = tiny_board()
    board = Board(tiny.pin_map, tiny.layout, [{"D+", "TX"}])
    group = [board.number["5"], board.number["SH2"]]
    found = sites(board, closure(len(board.points), [tuple(group)], []), group)
    assert [board.pair(s.pair) for s in found] == [("5", "SH2")]


def placed(*spots: tuple[str, float], width: float = 0.3) -> Board:
    """Joints in a line, each with its net and its place in mm."""
    joints = tuple(Joint(str(i), (str(i),), x, 0, width, 1.0) for i, (_, x) in enumerate(spots))
    contacts = {name: tuple(str(i) for i, (n, _) in enumerate(spots) if n == name) for name, _ in spots}
    built = tuple(Net(name, "data", numbers) for name, numbers in contacts.items())
    layout = Layout("line", "", "test", joints)
    names = {c: n.name for n in built for c in n.contacts}
    return Board(PinMap("line", "line", "", (Source("test", "memory"),), built, names, (layout,)), layout)


def joined(board: Board, group: list[int], remarks: Remarks = NO_REMARKS) -> list[tuple[tuple, tuple, float]]:
    knowledge = closure(len(board.points), itertools.pairwise(group), [])
    return [(s.pair, s.alternatives, round(s.gap_mm, 3)) for s in sites(board, knowledge, group, remarks)]


def test_of_equal_gaps_the_first_in_the_layout_is_named_and_the_other_is_its_alternative():
    """C is 0.3 mm from A; B is 0.7 mm from C on one side and from another joint of A on the other."""
    board = placed(("A", 1.6), ("B", 0.0), ("C", 1.0), ("A", -1.0))
    assert joined(board, [0, 1, 2, 3]) == [((0, 2), (), 0.3), ((1, 2), ((1, 3),), 0.7)]


def test_a_gap_wider_by_exactly_the_tolerance_is_a_tie():
    board = placed(("A", 0.0), ("B", 0.0), ("B", TIE_MM), width=0.0)
    assert joined(board, [0, 1, 2]) == [((0, 1), ((0, 2),), 0.0)]
    wider = placed(("A", 0.0), ("B", 0.0), ("B", TIE_MM + 0.001), width=0.0)
    assert joined(wider, [0, 1, 2]) == [((0, 1), (), 0.0)]


def test_lost_mask_is_worth_as_much_gap_as_its_odds():
    """Odds of 4 at a decay of 0.15 mm are worth 0.15 * ln 4 = 0.208 mm; the gap told is the true one."""
    lost = Remarks(mask_lost=frozenset({frozenset({0, 2})}))
    near, far = placed(("A", 0.0), ("A", 1.0), ("B", 0.57)), placed(("A", 0.0), ("A", 1.0), ("B", 0.62))
    assert joined(near, [0, 1, 2]) == [((1, 2), (), 0.13)]
    assert joined(near, [0, 1, 2], lost) == [((0, 2), (), 0.27)]
    assert joined(far, [0, 1, 2], lost) == [((1, 2), (), 0.08)]


def test_a_group_of_more_than_300_joints_is_bridged_between_neighbours_in_the_group_alone():
    """Every second of 640 joints beeps together: the solder runs over the joint between, never to it."""
    board = placed(*((f"S{i}", 0.5 * i) for i in range(640)))
    group = list(range(0, 640, 2))
    assert joined(board, group) == [((i, i + 2), (), 0.7) for i in range(0, 638, 2)]


def test_up_to_300_joints_every_pair_counts_beyond_only_neighbours():
    """B is past a joint that is not in the group: no neighbour of any joint of A."""
    for count, found in ((299, [((298, 300), (), 8.7)]), (300, [])):
        board = placed(*(("A", 0.5 * i) for i in range(count)), ("C", 0.5 * count + 4), ("B", 0.5 * count + 8.5))
        group = [*range(count), count + 1]
        assert joined(board, group) == found
