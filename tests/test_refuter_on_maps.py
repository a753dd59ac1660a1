"""The refuter on shipped maps: bad boards within its bound are always refuted, sound ones always explained.

Readings are drawn by the second judge (tests/refuter_truth.py), from complete jobs, from jobs with one touch for each
net pair, and from scraps of them; ohms here and there.
"""

from __future__ import annotations

import random
from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.analysis.explanations import explain
from connector_check.analysis.obligations import obligations
from connector_check.analysis.refuter import refutation
from connector_check.analysis.refuter_index import Index
from connector_check.analysis.refuting import model_of
from connector_check.analysis.separating import EYES, OHMS, separating_touch
from connector_check.testlog.meter import Meter
from tests.refuter_jobs import drawn, empty_model, ohms_reading, read, required, shipped_board, wanted_pairs
from tests.refuter_truth import Truth

METERS = ((10, 250), (20, 60), (5, 40), (30, 30), (50, 75), (10, 35), (100, 150))
MAPS = (
    "vga-de15",
    "scart",
    "usb-c-16",
    "rj45-1000",
    "sata-22",
    "microsd",
    "de9-can",
    "usb-a-3",
    "trs-3.5",
    "mini-din-4-svideo",
    "hdmi-a",
    "ieee1394-6",
)
BOARDS = {name: shipped_board(name) for name in (*MAPS, "pcie-x16")}


def faults_in_bound(model, rng: random.Random):
    """Up to two faults, or one open joint with two or three bridges at it."""
    pairs, joints = list(model.bridge_scope), [(joint.name,) for joint in model.joints]
    if rng.random() < 0.3:
        joint = rng.choice(joints)
        at = [pair for pair in pairs if joint[0] in pair]
        return [joint, *rng.sample(at, min(len(at), rng.choice((2, 3))))]
    if rng.random() < 0.4:
        pair = rng.choice(pairs)
        return [pair, (rng.choice(pair),)]
    return rng.sample([*pairs, *joints], rng.choice((1, 2)))


def planned_pairs(board):
    """A touch for each join, contact and isolation."""
    needed = obligations(board, "near")
    return [*needed.joins, *needed.contacts, *(asked.pairs[0] for asked in needed.isolation)]


def job(board, truth: Truth, meter: Meter, rng: random.Random):
    pairs = rng.choice((wanted_pairs, planned_pairs))(board)
    share = rng.choice((0.05, 0.5, 0.9, 1.0, 1.0))
    pairs = [pair for pair in pairs if rng.random() < share]
    standing = read(truth, board, pairs, meter, rng, ask_ohms=rng.random() < 0.5)
    for a, b in rng.sample(pairs, min(3, len(pairs))):
        ohms = truth.ohms(board.points[a], board.points[b])
        if ohms < 1e6:
            standing.append(ohms_reading(a, b, ohms))
    return model_of(board, standing, "near", meter, required(board))


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(MAPS), st.sampled_from(METERS), st.integers(0, 2**32))
def test_a_bad_board_within_the_bound_is_always_refuted(name, thresholds, seed):
    board, meter, rng = BOARDS[name], Meter(*thresholds), random.Random(seed)
    blank = empty_model(board, meter)
    faults = faults_in_bound(blank, rng)
    truth = drawn(blank, faults, rng)
    model = job(board, truth, meter, rng)
    found = refutation(model)
    assert not found.left_out
    if truth.bad():
        assert found.counterexamples or found.undecided
        fewest = [len(counterexample.board.faults) for counterexample in found.counterexamples[:1]]
        assert found.undecided or fewest <= [len(faults)]
    for counterexample in found.counterexamples:
        shown = Truth(model, counterexample.board.faults, counterexample.board.ties, counterexample.board.part_ohms)
        assert shown.fits(2e-4) and shown.bad()


@pytest.mark.parametrize(("name", "seed"), [("usb-a-3", 11), ("usb-a-3", 16), ("usb-a-3", 45), ("microsd", 9)])
def test_an_open_shell_joint_with_three_bridges_is_found(name, seed):
    """The shell's other joints keep the open one on its net, so its bridges alone are the bad board."""
    board, rng, meter = BOARDS[name], random.Random(seed), Meter(*METERS[seed % len(METERS)])
    blank = empty_model(board, meter)
    at = {joint: [pair for pair in blank.bridge_scope if joint in pair] for joint in blank.metals[0].joints}
    joint = rng.choice([joint for joint, places in at.items() if len(places) >= 3])
    bridges = rng.sample(at[joint], rng.choice((2, 3)))
    truth = drawn(blank, [(joint,), *bridges], rng)
    model = job(board, truth, meter, rng)
    found = refutation(model)
    assert truth.bad() and len(bridges) == 3
    assert set(bridges) in [set(counterexample.board.faults) for counterexample in found.counterexamples]
    assert set(bridges) in [set(explanation.board.faults) for explanation in explain(model).explanations]


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(MAPS), st.sampled_from(METERS), st.integers(0, 2**32))
def test_a_sound_board_is_never_left_out_of_the_explanations(name, thresholds, seed):
    board, meter, rng = BOARDS[name], Meter(*thresholds), random.Random(seed)
    model = job(board, drawn(empty_model(board, meter), (), rng), meter, rng)
    told = explain(model)
    assert [e.board.faults for e in told.explanations] == [()]
    assert told.explanations[0].share == 1.0
    assert refutation(model).explained


@pytest.mark.parametrize("seed", range(3))
def test_a_bad_board_of_164_joints_is_refuted(seed):
    board, rng, meter = BOARDS["pcie-x16"], random.Random(seed), Meter()
    blank = empty_model(board, meter)
    truth = drawn(blank, faults_in_bound(blank, rng), rng)
    model = model_of(board, read(truth, board, wanted_pairs(board), meter, rng), "near", meter, required(board))
    assert bool(refutation(model).counterexamples) is truth.bad()


@pytest.mark.parametrize("name", MAPS)
def test_a_sound_board_earns_clear_by_the_measurements_asked_for(name):
    """From a touch for each obligation, following `separating_touch`: it ends, and in an earned claim."""
    board = BOARDS[name]
    for seed in range(4):
        rng = random.Random(seed)
        meter = Meter(*METERS[seed])
        truth = drawn(empty_model(board, meter), (), rng)
        standing = read(truth, board, planned_pairs(board), meter, rng)
        for _ in range(40):
            index = Index(model_of(board, standing, "near", meter, required(board)))
            found = refutation(index)
            if not found.counterexamples:
                break
            asked = separating_touch(index, found.counterexamples[0].board)
            pair = board.number[asked.a], board.number[asked.b]
            if asked.kind == EYES:
                standing.append((*pair, 0.0, inf, True))
            elif asked.kind == OHMS and truth.ohms(asked.a, asked.b) < inf:
                standing.append(ohms_reading(*pair, truth.ohms(asked.a, asked.b)))
            else:
                standing += read(truth, board, [pair], meter, rng, ask_ohms=False)
        assert found.earned
