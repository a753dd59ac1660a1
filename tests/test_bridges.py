"""Bridge sites against networkx minimum spanning trees, and the worked cases of locating."""

from __future__ import annotations

import itertools

import networkx as nx
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from connector_check.analysis.bridges import sites
from connector_check.analysis.knowledge import closure
from connector_check.analysis.odds import Remarks
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
