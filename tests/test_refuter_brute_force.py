"""The refuter and its explanations against a brute force over all fault sets on tiny random boards.

The brute force (tests/refuter_truth.py) shares no code with the program: numpy Laplacian, networkx connectivity, every
set of ties, parts at a grid of values. It rests on the same physical assumptions, said there. What the program finds
between the grid's values is checked by reading its own board with that judge.
"""

from __future__ import annotations

import random

import pytest

from connector_check.analysis.explanations import explain
from connector_check.analysis.refuter import refutation
from tests.refuter_truth import Truth, boards_of, fault_sets, random_model, random_truth, with_readings

CHUNK = 60


def case(seed: int):
    """A random model with readings of a random board of it, and that board's faults."""
    rng = random.Random(seed)
    model = random_model(rng)
    faults = rng.choice(fault_sets(model)) if rng.random() < 0.6 else frozenset()
    truth = random_truth(model, rng, faults)
    return with_readings(model, truth, rng, rng.choice([0.1, 0.4, 0.7, 1.0])), truth, faults


def least(sets):
    return {faults for faults in sets if not any(other < faults for other in sets)}


def by_brute_force(model, truth, faults):
    """Sets of faults of which some board fits, and of which some bad board fits."""
    fits, bad = set(), set()
    if truth.fits():
        fits.add(faults)
        bad |= {faults} if truth.bad() else set()
    for tried in fault_sets(model):
        for board in boards_of(model, tried):
            if tried in bad:
                break
            if board.fits():
                fits.add(tried)
                bad |= {tried} if board.bad() else set()
    return fits, bad


def shown(model, board) -> Truth:
    """The board that the program names, read by the second judge; it must read the same to 0.02 %."""
    truth = Truth(model, board.faults, board.ties, board.part_ohms, board.bridge_ohms)
    assert truth.fits(2e-4)
    return truth


@pytest.mark.parametrize("chunk", range(4))
def test_refuter_and_explanations_equal_brute_force_on_tiny_boards(chunk):
    kinds = set()
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        model, truth, faults = case(seed)
        fits, bad = by_brute_force(model, truth, faults)
        found = refutation(model, every=True)
        assert not found.undecided and not found.left_out, seed
        mine = {frozenset(counterexample.board.faults) for counterexample in found.counterexamples}
        assert mine == least(mine)
        for counterexample in found.counterexamples:
            assert shown(model, counterexample.board).bad(), seed
            assert counterexample.without_contact or counterexample.joined
        assert all(any(known <= other for known in mine) for other in bad), seed
        told = explain(model)
        listed = {frozenset(e.board.faults) for e in told.explanations}
        for explanation in told.explanations:
            shown(model, explanation.board)
        small = [other for other in fits if len(other) <= 2]
        assert all(any(known <= other for known in listed) for other in small or fits), seed
        assert listed == least(listed) and not told.undecided
        kinds |= {(bool(mine), bool(bad))} | {("size", len(one)) for one in mine}
    assert {(True, True), (False, False), ("size", 1), ("size", 2)} <= kinds


@pytest.mark.parametrize("chunk", range(4))
def test_bridges_with_ohms_are_found_as_well(chunk):
    """The board that was read has bridges of 0 to 2 ohm; where it is bad, the refuter must find a bad one."""
    refuted = 0
    for seed in range(1000 + chunk * 60, 1060 + chunk * 60):
        rng = random.Random(seed)
        model = random_model(rng)
        model = type(model)(**{**vars(model), "bridge_ohms_most": 2.0})
        faults = rng.choice(fault_sets(model))
        drawn = random_truth(model, rng, faults)
        ohms = [rng.choice([0.0, 2.0, rng.uniform(0, 2)]) for fault in faults if len(fault) == 2]
        ties = [tie for tie in model.optional_ties if rng.random() < 0.5]
        truth = Truth(model, faults, ties, [r[2] for r in drawn.resistors[: len(model.parts)]], ohms)
        model = with_readings(model, truth, rng, 0.7)
        found = refutation(model)
        for counterexample in found.counterexamples:
            assert shown(model, counterexample.board).bad()
        if truth.fits() and truth.bad():
            assert found.counterexamples or found.undecided, seed
            refuted += bool(found.counterexamples)
    assert refuted > 20
