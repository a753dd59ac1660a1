"""Which points the paths between two others may pass, against paths listed one by one with networkx."""

from __future__ import annotations

from itertools import combinations

import networkx as nx
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.analysis.blocks import Blocks

POINTS = range(7)


@settings(max_examples=300, deadline=None)
@given(
    st.sets(st.sampled_from(list(combinations(POINTS, 2))), max_size=12), st.sets(st.sampled_from(POINTS)), st.data()
)
def test_a_hot_point_is_passed_exactly_when_one_of_all_paths_passes_it(links, hot, data):
    graph = nx.Graph(links)
    graph.add_nodes_from(POINTS)
    turned = data.draw(st.permutations([data.draw(st.sampled_from([(a, b), (b, a)])) for a, b in links]))
    blocks = Blocks(turned, hot)
    for a, b in combinations(POINTS, 2):
        paths = list(nx.all_simple_paths(graph, a, b))
        for ends in ((a, b), (b, a)):
            assert blocks.connected(*ends) == bool(paths)
            assert blocks.may_pass_hot(*ends) == any(hot.intersection(path) for path in paths)


def test_a_long_row_and_a_long_ring_are_walked_without_recursion():
    row = [(i, i + 1) for i in range(5_000)]
    assert Blocks(row, {2_000}).may_pass_hot(0, 5_000)
    assert not Blocks(row, {2_000}).may_pass_hot(2_001, 5_000)
    assert Blocks([*row, (0, 5_000)], {2_000}).may_pass_hot(2_001, 5_000)
