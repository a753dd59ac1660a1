"""Gaps, line of sight and neighbours."""

from __future__ import annotations

from math import hypot

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.pinout.geometry import gap, neighbours, pad_gaps, pitch
from connector_check.pinout.pinmap import Joint

sizes = st.floats(0.1, 2.0)
places = st.floats(-5, 5)
pads = st.builds(
    lambda x, y, w, h, s: (x, y, w, h, s), places, places, sizes, sizes, st.sampled_from(["rect", "oval", "round"])
)


def joints(specs):
    return tuple(Joint(str(i), (str(i),), *spec[:4], spec[4]) for i, spec in enumerate(specs))


def outline(joint, steps=240):
    """Points of the pad's edge, drawn from the shape's own definition."""
    from math import cos, pi, sin

    w, h = joint.width / 2, joint.height / 2
    if joint.shape == "rect":
        ts = [2 * i / steps - 1 for i in range(steps + 1)]
        return [(joint.x + t * w, joint.y + s * h) for t in ts for s in (-1, 1)] + [
            (joint.x + s * w, joint.y + t * h) for t in ts for s in (-1, 1)
        ]
    r = min(w, h)
    turns = [2 * pi * i / steps for i in range(steps)]
    ends = [
        (joint.x + (w - r) * sx + r * cos(t), joint.y + (h - r) * sy + r * sin(t))
        for t in turns
        for sx in (-1, 1)
        for sy in (-1, 1)
    ]
    ts = [2 * i / steps - 1 for i in range(steps + 1)]
    sides = [(joint.x + t * (w - r), joint.y + s * h) for t in ts for s in (-1, 1)]
    return ends + sides + [(joint.x + s * w, joint.y + t * (h - r)) for t in ts for s in (-1, 1)]


@settings(max_examples=60, deadline=None)
@given(pads, pads)
def test_gap_equals_the_distance_of_sampled_outlines(a, b):
    one, two = joints([a, b])
    sampled = min(hypot(p[0] - q[0], p[1] - q[1]) for p in outline(one, 60) for q in outline(two, 60))
    found = gap(one, two)
    assert abs(found - gap(two, one)) < 1e-9
    assert found <= sampled + 1e-9
    if found > 0:
        assert sampled - found < 0.12


@settings(max_examples=100, deadline=None)
@given(st.lists(pads, min_size=2, max_size=14), st.floats(0.0, 3.0))
def test_pad_gaps_equals_comparing_every_pair(specs, most):
    pads_ = joints(specs)
    brute = {(a.name, b.name) for i, a in enumerate(pads_) for b in pads_[i + 1 :] if gap(a, b) <= most}
    assert {(a, b) for a, b, _ in pad_gaps(pads_, most)} == brute


@settings(max_examples=100, deadline=None)
@given(st.lists(pads, min_size=2, max_size=14))
def test_every_joint_has_its_nearest_neighbour(specs):
    pads_ = joints(specs)
    found = {frozenset((a, b)) for a, b, _ in neighbours(pads_)}
    for joint in pads_:
        nearest = min((other for other in pads_ if other is not joint), key=lambda other: gap(joint, other))
        assert frozenset((joint.name, nearest.name)) in found


def row(n, pitch_mm, pad):
    return tuple(Joint(str(i), (str(i),), i * pitch_mm, 0, pad, 1.0) for i in range(n))


def test_a_row_sees_only_the_next_pad():
    """0.30 mm pads at 0.5 mm pitch leave 0.20 mm (KiCad footprint of an HDMI A receptacle); the pad two apart, 0.70 mm
    off, lies within the adjacency window of 1.27 mm (PCB Magazine, June 2014) but out of sight.
    """
    pads_ = row(19, 0.5, 0.3)
    assert {(int(a), int(b)) for a, b, _ in neighbours(pads_)} == {(i, i + 1) for i in range(18)}
    assert all(mm == pytest.approx(0.2) for _, _, mm in neighbours(pads_))


def test_neighbours_farther_than_the_window_count_when_nothing_is_nearer():
    assert [(a, b) for a, b, _ in neighbours(row(3, 6.0, 2.0))] == [("0", "1"), ("1", "2")]


def test_a_pad_half_hidden_is_still_seen():
    wide = Joint("a", ("a",), 0, 0, 2.0, 0.5)
    far = Joint("b", ("b",), 0, 1.5, 2.0, 0.5)
    blocker = Joint("c", ("c",), -0.6, 0.75, 0.9, 0.3)
    assert ("a", "b") in {(a, b) for a, b, _ in neighbours((wide, far, blocker))}
    full = Joint("c", ("c",), 0, 0.75, 2.2, 0.3)
    assert ("a", "b") not in {(a, b) for a, b, _ in neighbours((wide, far, full))}


def test_pitch_is_the_smallest_centre_distance():
    assert pitch(row(4, 0.5, 0.3)) == 0.5
    assert pitch(row(1, 0.5, 0.3)) is None
