"""The simulated board against networkx, scipy and values worked by hand; truth against rules written out again."""

from __future__ import annotations

import random
from math import inf, isinf

import networkx as nx
import numpy as np
import pytest
import scipy.linalg
import scipy.sparse.csgraph
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.board.board import Board
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.simulated.board import Bridge, Part, SimulatedBoard
from connector_check.simulated.faults import Rates, corners, draw_board, draw_faults, draw_parts, possible_ties
from connector_check.simulated.resistance import Resistances, Resistor, components
from connector_check.simulated.truth import contact_required, judge, optional_joints
from tests.strategies import SimulatedBoard as PlainBoard
from tests.strategies import boards, tiny_board


@st.composite
def networks(draw: st.DrawFn) -> tuple[int, list[Resistor]]:
    """Up to 12 nodes with links of 0 ohm and resistors of 0.05 ohm to 1 Mohm, parallel ones and loops included."""
    count = draw(st.integers(2, 12))
    node = st.integers(0, count - 1)
    ohms = st.one_of(st.just(0.0), st.sampled_from([0.05, 0.5, 4.9, 75.0, 120.0, 4700.0, 1e6]), st.floats(0.1, 1000.0))
    return count, draw(st.lists(st.builds(Resistor, node, node, ohms), max_size=25))


def by_networkx(count: int, resistors: list[Resistor]) -> dict[tuple[int, int], float]:
    """Ohms of all pairs: links of 0 ohm contracted by networkx, its resistance distance on each component."""
    links = nx.Graph()
    links.add_nodes_from(range(count))
    links.add_edges_from((r.a, r.b) for r in resistors if r.ohms == 0)
    spot = {node: min(part) for part in nx.connected_components(links) for node in part}
    graph = nx.MultiGraph()
    graph.add_nodes_from(spot.values())
    edges = ((spot[r.a], spot[r.b], r.ohms) for r in resistors if r.ohms)
    graph.add_edges_from((a, b, {"ohms": ohms}) for a, b, ohms in edges if a != b)
    found = {}
    for part in nx.connected_components(graph):
        inside = graph.subgraph(part)
        known = nx.resistance_distance(inside, weight="ohms", invert_weight=True) if len(part) > 1 else {}
        for a in range(count):
            for b in range(count):
                if spot[a] in part and spot[b] in part:
                    found[a, b] = 0.0 if spot[a] == spot[b] else float(known[spot[a]][spot[b]])
    return found


@settings(max_examples=200, deadline=None)
@given(networks())
def test_effective_resistance_as_networkx_has_it(network):
    count, resistors = network
    ours, theirs = Resistances(count, resistors), by_networkx(count, resistors)
    for a in range(count):
        for b in range(count):
            assert ours.ohms(a, b) == pytest.approx(theirs.get((a, b), inf), rel=1e-4, abs=1e-6)


@settings(max_examples=200, deadline=None)
@given(networks())
def test_effective_resistance_as_a_pseudo_inverse_of_scipy_has_it(network):
    """Links of 0 ohm as 0.1 milliohm: two roads to one value."""
    count, resistors = network
    laplacian = np.zeros((count, count))
    for a, b, ohms in resistors:
        siemens = 1 / max(ohms, 1e-4)
        for row, column, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
            laplacian[row, column] += sign * siemens
    _, labels = scipy.sparse.csgraph.connected_components(laplacian != 0)
    inverse = np.zeros_like(laplacian)
    for label in set(labels):
        rows = np.flatnonzero(labels == label)
        inverse[np.ix_(rows, rows)] = scipy.linalg.pinv(laplacian[np.ix_(rows, rows)], rtol=1e-13)
    ours = Resistances(count, resistors)
    for a in range(count):
        for b in range(count):
            wanted = inverse[a, a] + inverse[b, b] - 2 * inverse[a, b] if labels[a] == labels[b] else inf
            assert ours.ohms(a, b) == pytest.approx(wanted, rel=1e-3, abs=0.02)


@settings(max_examples=200, deadline=None)
@given(networks())
def test_components_as_scipy_has_them(network):
    count, resistors = network
    graph = np.zeros((count, count))
    for a, b, _ in resistors:
        graph[a, b] = 1
    _, labels = scipy.sparse.csgraph.connected_components(graph, directed=False)
    ours = components(count, [(r.a, r.b) for r in resistors])
    assert [[a == b for b in ours] for a in ours] == [[a == b for b in labels] for a in labels]


def test_worked_values():
    """By hand: series adds; parallel halves; a balanced bridge ignores its middle; a star of three 50 ohm legs."""
    assert Resistances(3, [Resistor(0, 1, 30), Resistor(1, 2, 45)]).ohms(0, 2) == pytest.approx(75)
    assert Resistances(2, [Resistor(0, 1, 75), Resistor(1, 0, 75)]).ohms(0, 1) == pytest.approx(37.5)
    square = [Resistor(0, 1, 100), Resistor(1, 3, 100), Resistor(0, 2, 100), Resistor(2, 3, 100), Resistor(1, 2, 7)]
    assert Resistances(4, square).ohms(0, 3) == pytest.approx(100)
    star = [Resistor(leg, 3, 50) for leg in range(3)]
    assert Resistances(4, star).ohms(0, 2) == pytest.approx(100)
    # a cube of 1 ohm edges: 5/6 across it, 3/4 across a face, 7/12 along an edge
    cube = [Resistor(a, a | bit, 1.0) for a in range(8) for bit in (1, 2, 4) if not a & bit]
    found = Resistances(8, cube)
    assert [found.ohms(0, b) for b in (7, 3, 1)] == pytest.approx([5 / 6, 3 / 4, 7 / 12])


def vga() -> Board:
    pin_map = find_pin_map("vga-de15")
    return Board(pin_map, pin_map.layouts[0])


def names(board: Board, *points: str) -> tuple[int, ...]:
    found = tuple(board.resolve(p) for p in points)
    assert None not in found
    return found  # type: ignore[return-value]


def test_two_terminated_signals_bridged_read_half():
    """Two signals with 75 ohm each to ground, bridged to each other, read 37.5 ohm to ground."""
    board = vga()
    parts = tuple(Part((net, "GND"), (75.0,)) for net in ("RED", "GREEN", "BLUE"))
    red, green, ground = names(board, "1", "2", "@GND")
    sound = SimulatedBoard(board, parts=parts)
    assert sound.ohms(red, ground) == pytest.approx(75) and sound.ohms(red, green) == pytest.approx(150)
    bridged = SimulatedBoard(board, (Bridge(red, green),), parts=parts)
    assert bridged.ohms(red, ground) == pytest.approx(37.5) and bridged.ohms(red, green) == 0


def test_an_open_ground_joint_bridged_to_a_terminated_signal_conducts_but_has_no_contact():
    """Joint 8 open and bridged to 3: the part carries 75 ohm, no metal does."""
    board = vga()
    eight, three, ground = names(board, "8", "3", "@GND")
    state = SimulatedBoard(board, (Bridge(eight, three),), frozenset({eight}), parts=(Part(("BLUE", "GND"), (75.0,)),))
    assert state.ohms(eight, ground) == pytest.approx(75) and not state.linked(eight, ground)
    truth = judge(state, contact_required(board))
    assert truth.bad and truth.opens == (eight,)
    assert [{frozenset(pair) for pair in short.pairs} for short in truth.shorts] == [{frozenset(("BLUE", "GND"))}]


def test_an_open_joint_bridged_to_its_own_net_has_contact():
    board = tiny_board()
    one, three, four, seven = names(board, "1", "3", "4", "7")
    required = contact_required(board)
    assert not judge(SimulatedBoard(board, (Bridge(one, four),), frozenset({four})), required).bad
    assert judge(SimulatedBoard(board, (), frozenset({four})), required).opens == (four,)
    # bridged to each other and both open: neither has contact
    both = judge(SimulatedBoard(board, (Bridge(four, seven),), frozenset({four, seven})), required)
    assert both.opens == (four, seven) and not both.shorts
    # a bridge of 5 ohm or more is no link
    assert judge(SimulatedBoard(board, (Bridge(one, four, 5.0),), frozenset({four})), required).opens == (four,)
    assert judge(SimulatedBoard(board, (Bridge(three, four, 4.9),)), required).shorts[0].harm == "dead-signal"


def test_which_joints_need_contact():
    board = tiny_board()
    assert board.names(contact_required(board)) == ["1", "2", "3", "4", "5", "7"]
    assert board.names(contact_required(board, signals=False)) == ["1", "4", "7"]
    can = find_pin_map("de9-can")
    wired = Board(can, can.layouts[0])
    optional = optional_joints(wired)
    assert {wired.net_of[j].name for j in optional} == {"CAN_GND"} and not set(optional) & set(contact_required(wired))


def test_reserved_contacts_and_shell_harm_nothing():
    board = tiny_board()
    five, six, seven, shell = names(board, "5", "6", "7", "SH2")
    required = contact_required(board)
    assert not judge(SimulatedBoard(board, (Bridge(five, six),)), required).bad
    assert not judge(SimulatedBoard(board, (Bridge(seven, shell),), frozenset({shell})), required).bad
    assert judge(SimulatedBoard(board, (Bridge(five, six), Bridge(six, seven))), required).bad


def test_the_shell_is_one_piece_of_metal():
    board = tiny_board()
    first, second, whole, net, ground = names(board, "SH1", "SH2", "SH", "@SHELL", "@GND")
    assert board.shell_point == whole
    state = SimulatedBoard(board, opens=frozenset({first}))
    assert state.ohms(first, second) == state.ohms(first, whole) == state.ohms(whole, net) == 0
    lifted = SimulatedBoard(board, opens=frozenset({first, second}), ties=(("SHELL", "GND"),))
    assert isinf(lifted.ohms(first, net)) and lifted.linked(first, second) and lifted.linked(net, ground)


def test_ties_of_the_board_notes_link():
    pin_map = tiny_board().pin_map
    board = Board(pin_map, pin_map.layouts[0], ties=[{"NC", "GND"}])
    six, ground, seven = names(board, "6", "@GND", "7")
    assert SimulatedBoard(board).linked(six, ground)
    assert not judge(SimulatedBoard(board, (Bridge(six, seven),)), contact_required(board)).bad


@settings(max_examples=300, deadline=None)
@given(boards(), st.integers(0, 2**32))
def test_harmful_shorts_and_opens_by_the_trade_s_rules_written_out_again(board, seed):
    rng = random.Random(seed)
    bridges, opens = draw_faults(board, rng, Rates(0.3, 0.2, both=0.3, uniform=True, bridge_ohms=0.0))
    plain = PlainBoard(board, [(b.a, b.b) for b in bridges], opens, rng.random() < 0.5)
    truth = judge(plain.true, contact_required(board, signals=False))
    assert bool(truth.shorts) == plain.harmful()
    assert bool(truth.opens) == plain.open_in_scope()


@settings(max_examples=150, deadline=None)
@given(boards(), st.integers(0, 2**32))
def test_without_parts_metal_and_ohms_agree_with_networkx(board, seed):
    rng = random.Random(seed)
    state = draw_board(board, rng, Rates(0.3, 0.2, both=0.3, bridge_ohms=0.3))
    graph = nx.Graph()
    graph.add_nodes_from(range(len(board.points)))
    sound = [j for j in range(len(board.joints)) if j not in state.opens]
    graph.add_edges_from((j, board.board_point[board.net_of[j].name]) for j in sound)
    nx.add_path(graph, state.metal)
    graph.add_edges_from((board.board_point[a], board.board_point[b]) for a, b in state.ties)
    graph.add_edges_from((b.a, b.b) for b in state.bridges)
    part = {p: i for i, group in enumerate(nx.connected_components(graph)) for p in group}
    for a in part:
        for b in part:
            assert state.linked(a, b) == (part[a] == part[b]) == (not isinf(state.ohms(a, b)))


# Drawing


@pytest.mark.parametrize("map_id", list_ids())
def test_parts_are_fitted_inside_the_range_that_the_map_gives(map_id):
    pin_map = find_pin_map(map_id)
    board = Board(pin_map, pin_map.layouts[0])
    rng = random.Random(map_id)
    for _ in range(5):
        fitted = draw_parts(board, rng, absent=0.0)
        # a net without a joint in this layout has no part that the connector could show
        paths = [path for path in pin_map.paths if len(board.board_point.keys() & set(path.nets)) > 1]
        state = SimulatedBoard(board, parts=fitted)
        for path, part in zip(paths, fitted, strict=True):
            half = 1 if len(path.nets) == 2 else 2
            assert all(path.low / half <= ohms <= path.high / half for ohms in part.ohms)
            a, b = (board.board_point[net] for net in part.nets[:2])
            assert state.ohms(a, b) <= path.high + 1e-9, "other parts can only lower it"
    must = sum(not path.may_be_absent for path in paths)
    assert len(draw_parts(board, rng, absent=1.0)) == must


def test_bridges_fall_with_the_gap_or_come_alike():
    """Rates over 20,000 draws against p0 exp(-(g - gmin) / 0.15), four standard errors wide."""
    board = vga()
    gaps = {frozenset((board.number[a], board.number[b])): mm for a, b, mm in board.near_gaps}
    least = min(gaps.values())
    for uniform in (False, True):
        rng, seen = random.Random(4), dict.fromkeys(gaps, 0)
        for _ in range(20_000):
            for bridge in draw_faults(board, rng, Rates(0.2, 0.0, uniform=uniform))[0]:
                seen[frozenset((bridge.a, bridge.b))] += 1
                assert 0 <= bridge.ohms <= 1.0
        for pair, count in seen.items():
            odds = 0.2 if uniform else 0.2 * np.exp(-(gaps[pair] - least) / 0.15)
            assert count / 20_000 == pytest.approx(odds, abs=4 * np.sqrt(odds / 20_000) + 1e-3)


def test_opens_and_both_at_one_joint():
    board, rng = tiny_board(), random.Random(9)
    drawn = [draw_faults(board, rng, Rates(0.0, 0.1)) for _ in range(4_000)]
    assert sum(len(opens) for _, opens in drawn) / 4_000 / len(board.joints) == pytest.approx(0.1, abs=0.01)
    bridges, opens = draw_faults(board, rng, Rates(0.0, 0.0, both=1.0))
    assert len(bridges) == len(opens) == 1 and any(bridges[0].at(joint) for joint in opens)


def test_corners_are_every_bridge_with_each_end_open():
    board = tiny_board()
    found = list(corners(board))
    assert len(found) == len(set(found)) == 2 * len(board.near_gaps)
    assert all(bridge.at(joint) for bridge, joint in found)


def test_ties_are_those_that_the_map_lets_touch():
    board = vga()
    assert possible_ties(board) and all(
        {board.pin_map.net_named[n].role for n in tie} <= {"ground", "shell"} for tie in possible_ties(board)
    )
    assert possible_ties(tiny_board()) == [("GND", "SHELL")]
