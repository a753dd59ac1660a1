"""Ties and disjoint sets: groups, their names and their order."""

from __future__ import annotations

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from connector_check.board.disjoint import Disjoint
from connector_check.board.ties import merged, tie_by_name

NAMES = [f"net{i}" for i in range(12)]


def test_groups_come_in_the_order_of_their_first_names():
    found = merged([[name, name + "x"] for name in reversed(NAMES)])
    assert [min(group) for group in found] == sorted(NAMES)
    assert merged([]) == merged([[]]) == ()


def test_a_tie_is_called_by_the_first_of_its_names():
    found = tie_by_name([["net3", "net1"], ["net2", "net3"], ["net0", "net9"], ["net7"]])
    assert found == {"net1": "net1", "net2": "net1", "net3": "net1", "net0": "net0", "net9": "net0", "net7": "net7"}
    many = tie_by_name([NAMES])
    assert list(many) == sorted(NAMES) and set(many.values()) == {"net0"}


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=15))
def test_sets_are_the_components_of_a_graph(pairs):
    sets: Disjoint[int] = Disjoint()
    graph = nx.Graph()
    graph.add_nodes_from(range(10))
    for a, b in pairs:
        assert sets.join(a, b) is not nx.has_path(graph, a, b)
        graph.add_edge(a, b)
    assert sorted(map(sorted, sets.groups(range(10)))) == sorted(map(sorted, nx.connected_components(graph)))
    assert all(sets.joined(a, b) == nx.has_path(graph, a, b) for a in range(10) for b in range(10))


def test_the_set_of_the_second_keeps_the_one_that_stands_for_it():
    sets: Disjoint[str] = Disjoint()
    assert sets.join("a", "b") is True and sets.join("b", "c") is True and sets.join("a", "c") is False
    assert [sets.find(name) for name in "abcd"] == ["c", "c", "c", "d"]
