"""Closure against networkx and scipy, conflicts, and the worked statements of the closure rules."""

from __future__ import annotations

import random

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from connector_check.analysis.knowledge import APART, JOINED, UNKNOWN, Knowledge, closure

N = 14
pairs = st.tuples(st.integers(0, N - 1), st.integers(0, N - 1)).filter(lambda p: p[0] != p[1])
logs = st.lists(st.tuples(pairs, st.booleans()), max_size=60)


def incremental(log: list[tuple[tuple[int, int], bool]]) -> Knowledge:
    knowledge = Knowledge(N)
    for (a, b), beep in log:
        (knowledge.join if beep else knowledge.part)(a, b)
    return knowledge


def oracle_status(log: list[tuple[tuple[int, int], bool]]) -> dict[tuple[int, int], str]:
    graph = nx.Graph()
    graph.add_nodes_from(range(N))
    graph.add_edges_from(p for p, beep in log if beep)
    label = {p: i for i, part in enumerate(nx.connected_components(graph)) for p in part}
    quiet = {frozenset((label[a], label[b])) for (a, b), beep in log if not beep}
    status = {}
    for a in range(N):
        for b in range(a + 1, N):
            if label[a] == label[b]:
                status[a, b] = JOINED
            else:
                status[a, b] = APART if frozenset((label[a], label[b])) in quiet else UNKNOWN
    return status


@settings(max_examples=400, deadline=None)
@given(logs)
def test_every_pair_status_equals_the_networkx_oracle_in_any_order(log):
    expected = oracle_status(log)
    batch = closure(N, [p for p, beep in log if beep], [p for p, beep in log if not beep])
    for knowledge in (incremental(log), incremental(list(reversed(log))), batch):
        assert {pair: knowledge.status(*pair) for pair in expected} == expected


@settings(max_examples=200, deadline=None)
@given(logs)
def test_classes_equal_scipy_connected_components(log):
    beeps = np.array([p for p, beep in log if beep], dtype=int).reshape(-1, 2)
    graph = coo_array((np.ones(len(beeps)), (beeps[:, 0], beeps[:, 1])), shape=(N, N))
    count, labels = connected_components(graph, directed=False)
    classes = incremental(log).classes()
    assert len(classes) == count
    assert all(len({labels[p] for p in group}) == 1 for group in classes)


@settings(max_examples=200, deadline=None)
@given(logs)
def test_conflicts_are_exactly_the_quiets_inside_classes_and_minimal(log):
    knowledge = incremental(log)
    expected = {frozenset(p) for p, beep in log if not beep and knowledge.joined(*p)}
    conflicts = knowledge.conflicts()
    assert {frozenset(c.quiet) for c in conflicts} == expected
    assert len(conflicts) == len(expected)
    graph = nx.Graph(p for p, beep in log if beep)
    for conflict in conflicts:
        path = nx.Graph(conflict.beeps)
        assert nx.has_path(path, *conflict.quiet)
        assert len(conflict.beeps) == nx.shortest_path_length(graph, *conflict.quiet)
        for edge in conflict.beeps:
            less = path.copy()
            less.remove_edge(*edge)
            assert not nx.has_path(less, *conflict.quiet)


@settings(max_examples=100, deadline=None)
@given(logs, st.permutations(range(N)))
def test_relabelling_points_relabels_the_answers(log, names):
    moved = incremental([((names[a], names[b]), beep) for (a, b), beep in log])
    knowledge = incremental(log)
    assert all(knowledge.status(a, b) == moved.status(names[a], names[b]) for a in range(N) for b in range(N) if a != b)


@pytest.mark.parametrize("n", [2, 3, 4, 5, 6])
def test_certificate_of_a_partition_is_exactly_the_published_count(n):
    """T1: certifying a partition with k classes takes (n-k) + C(k,2) probes, exhaustively for n up to 6 here: with
    spanning beeps and one quiet per class pair every pair is settled, and without any one of them some pair is not.
    """
    for partition in set_partitions(list(range(n))):
        beeps = [(group[0], other) for group in partition for other in group[1:]]
        quiets = [(g[0], h[0]) for i, g in enumerate(partition) for h in partition[i + 1 :]]
        k = len(partition)
        assert len(beeps) + len(quiets) == (n - k) + k * (k - 1) // 2
        everything = [(a, b) for a in range(n) for b in range(a + 1, n)]
        full = closure(n, beeps, quiets)
        assert all(full.status(*pair) != UNKNOWN for pair in everything)
        for i in range(len(beeps)):
            less = closure(n, beeps[:i] + beeps[i + 1 :], quiets)
            assert any(less.status(*pair) == UNKNOWN for pair in everything)
        for i in range(len(quiets)):
            less = closure(n, beeps, quiets[:i] + quiets[i + 1 :])
            assert any(less.status(*pair) == UNKNOWN for pair in everything)


def set_partitions(items):
    if not items:
        yield []
        return
    first, *rest = items
    for partition in set_partitions(rest):
        yield [[first], *partition]
        for i, group in enumerate(partition):
            yield [*partition[:i], [first, *group], *partition[i + 1 :]]


def test_random_logs_reading_by_reading_and_all_at_once():
    """A quick walk over the same oracle, in the order of the log, so that quiets are moved as classes grow."""
    rng = random.Random(4)
    for _ in range(60):
        log = [(tuple(rng.sample(range(N), 2)), rng.random() < 0.4) for _ in range(rng.randint(1, 40))]
        expected = oracle_status(log)
        batch = closure(N, [p for p, beep in log if beep], [p for p, beep in log if not beep])
        for knowledge in (incremental(log), batch):
            assert {pair: knowledge.status(*pair) for pair in expected} == expected
            roots = {knowledge.find(p) for p in range(N)}
            for point in range(N):
                parted = set(knowledge.parted_roots(point))
                assert parted <= roots
                others = {knowledge.find(p) for p in range(N) if knowledge.apart(point, p)}
                assert parted == others
        graph = nx.Graph(p for p, beep in log if beep)
        for conflict in incremental(log).conflicts():
            assert len(conflict.beeps) == nx.shortest_path_length(graph, *conflict.quiet)


def test_a_path_of_beeps_runs_from_the_first_point_to_the_second():
    knowledge = closure(6, [(1, 0), (1, 2), (3, 2), (0, 4), (4, 3)], [])
    assert knowledge.beep_path(0, 2) == ((0, 1), (1, 2))
    assert knowledge.beep_path(2, 0) == ((2, 1), (1, 0))
    assert knowledge.beep_path(0, 5) == () == knowledge.beep_path(3, 3)
    knowledge.join(0, 2)
    assert knowledge.beep_path(0, 2) == ((0, 2),)


def test_a_quiet_that_was_asked_twice_is_one_contradiction():
    knowledge = closure(4, [(0, 1), (2, 3)], [(0, 1), (1, 0), (3, 2), (0, 2)])
    assert [conflict.quiet for conflict in knowledge.conflicts()] == [(0, 1), (3, 2)]


def test_a_quiet_known_before_the_beeps_parts_all_that_they_join():
    knowledge = Knowledge(6)
    knowledge.part(0, 1)
    for pair in ((1, 2), (3, 4), (3, 2), (0, 5)):
        knowledge.join(*pair)
    assert knowledge.status(5, 4) == APART and set(knowledge.parted_roots(5)) == {knowledge.find(1)}
    assert list(knowledge.parted_roots(4)) == [knowledge.find(0)]
    knowledge.join(0, 4)
    assert knowledge.status(0, 1) == JOINED and list(knowledge.parted_roots(0)) == []
    assert knowledge.classes() == [[0, 1, 2, 3, 4, 5]]


def test_two_aparts_give_nothing():
    knowledge = closure(3, [], [(0, 1), (1, 2)])
    assert knowledge.status(0, 2) == UNKNOWN


def test_a_beep_is_never_outvoted():
    knowledge = closure(2, [(0, 1)], [(0, 1)] * 5)
    assert knowledge.status(0, 1) == JOINED
    assert [c.quiet for c in knowledge.conflicts()] == [(0, 1)]
