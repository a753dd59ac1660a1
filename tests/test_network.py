"""Resistor networks against numpy, and the sums of the trade's design paths."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.board.board import Board
from connector_check.board.network import Network
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap_file import parse_pin_map

nodes = st.sampled_from("abcdefg")
edges = st.lists(st.tuples(nodes, nodes, st.floats(0.1, 1e5)).filter(lambda e: e[0] != e[1]), max_size=14)


@settings(max_examples=300, deadline=None)
@given(edges, nodes, nodes)
def test_effective_resistance_equals_the_pseudo_inverse_of_the_laplacian(found, a, b):
    names = "abcdefg"
    laplacian = np.zeros((7, 7))
    linked = np.eye(7, dtype=bool)
    for u, v, ohms in found:
        i, k = names.index(u), names.index(v)
        laplacian[i, i] += 1 / ohms
        laplacian[k, k] += 1 / ohms
        laplacian[i, k] -= 1 / ohms
        laplacian[k, i] -= 1 / ohms
        linked[i, k] = linked[k, i] = True
    i, k = names.index(a), names.index(b)
    if not np.linalg.matrix_power(linked.astype(int), 7)[i, k]:
        assert Network(found).ohms(a, b) == inf
        return
    inverse = np.linalg.pinv(laplacian, rcond=1e-12)
    expected = inverse[i, i] + inverse[k, k] - 2 * inverse[i, k]
    assert Network(found).ohms(a, b) == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_zero_ohm_joins_nodes():
    net = Network([("a", "b", 0.0), ("b", "c", 10.0), ("a", "c", 10.0)])
    assert net.ohms("a", "b") == 0 and net.ohms("a", "c") == 5


def test_what_is_not_connected_has_infinite_ohms():
    net = Network([("a", "b", 10.0), ("c", "d", 10.0), ("b", "e", 5.0)])
    assert net.ohms("a", "d") == inf and net.ohms("d", "a") == inf
    assert net.ohms("a", "nowhere") == inf and net.ohms("nowhere", "nowhere") == 0
    assert net.ohms("a", "e") == pytest.approx(15.0)


def test_zero_and_less_join_over_several_and_a_resistor_within_one_node_counts_nothing():
    net = Network(
        [("a", "b", 0.0), ("b", "c", -1.0), ("c", "a", 0.0), ("a", "c", 7.0), ("c", "d", 4.0), ("d", "a", 4.0)]
    )
    assert net.ohms("a", "c") == 0
    assert net.ohms("b", "d") == pytest.approx(2.0)


def test_a_bridge_of_five_needs_the_solver():
    """Wheatstone's bridge: 1, 2 on top, 3, 4 below, 5 across; 1 ohm steps, solved by hand with delta to star."""
    net = Network([("in", "l", 1.0), ("in", "r", 2.0), ("l", "out", 3.0), ("r", "out", 4.0), ("l", "r", 5.0)])
    star_in, star_l, star_r = 1 * 2 / 8, 1 * 5 / 8, 2 * 5 / 8
    left, right = star_l + 3, star_r + 4
    assert net.ohms("in", "out") == pytest.approx(star_in + left * right / (left + right))


def board_of(map_id: str) -> Board:
    pin_map = find_pin_map(map_id)
    return Board(pin_map, pin_map.layouts[0])


def test_ethernet_windings_and_common_mode_termination_add_up():
    """Wurth RJ45 tutorial and Intel 82547 design guide p.28: 75 + 75 ohm between pairs, plus the windings."""
    board = board_of("rj45-1000")
    assert board.design_ohms("DA+", "DA-")[:2] == (0.2, 1.2)
    part = board.design_ohms("DA-", "DB-")
    assert part[:2] == (145.4, 162.4) and len(part.why) == 2 and not part.sure


def test_a_termination_to_ground_is_seen_from_the_shell_and_between_lines():
    """ADV7123 data sheet p.18: 75 ohm each; line to line is the sum, and the shell may be grounded."""
    board = board_of("vga-de15")
    assert board.design_ohms("RED", "SHELL")[:2] == (70, 80)
    assert board.design_ohms("RED", "BLUE")[:2] == (140, 160)
    assert board.design_ohms("RED", "HSYNC") is None


def test_lines_that_meet_at_one_point_are_no_mesh():
    """ROHM BU16028KV: 45 to 55 ohm from each line to one node gives 90 to 110 between any two, however many lines."""
    text = b"""format: 1
id: star
title: four lines
source: [{document: invented for the test, known: memory}]
nets:
  A: {role: data, contacts: [1]}
  B: {role: data, contacts: [2]}
  C: {role: data, contacts: [3]}
  D: {role: data, contacts: [4]}
paths: [{among: [A, B, C, D], ohms: [90, 110], why: terminations}]
layouts: [{id: row, source: invented, pads: [{row: [1..4], start: [0, 0], step: [1, 0], size: [0.5, 0.5]}]}]
"""
    pin_map = parse_pin_map(text, "star.yaml")
    assert Board(pin_map, pin_map.layouts[0]).design_ohms("A", "D")[:2] == (90, 110)
