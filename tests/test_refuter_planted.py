"""Weaknesses planted into the refuter: each is caught by a worked board of the vectors, or by one written out here."""

from __future__ import annotations

import dataclasses
from math import inf

import pytest

from connector_check.analysis import refuter_state
from connector_check.analysis.refuter import refutation
from connector_check.analysis.refuter_model import BoardModel, Metal, Part, Reading, SolderJoint
from connector_check.analysis.refuter_network import Fit
from connector_check.analysis.refuter_state import State
from tests.test_refuter import VECTORS, model_of, words


def wrong() -> set[str]:
    """Vectors whose earned claim or minimal bad boards the refuter gets wrong."""
    found = set()
    for name, vector in VECTORS.items():
        told = refutation(model_of(vector), every=True)
        bad = {words(counterexample.board.faults) for counterexample in told.counterexamples}
        expected = {frozenset(e["faults"]) for e in vector["expect"]["counterexamples_minimal"]}
        if told.earned is not vector["expect"]["clear_earned_up_to_two_faults"] or bad != expected:
            found.add(name[:2])
    return found


def test_nothing_planted_nothing_wrong():
    assert not wrong()


def test_optional_ties_left_out_are_missed(monkeypatch):
    for vector in VECTORS.values():
        monkeypatch.setitem(vector, "may_be_tied_by_the_board", [])
    assert wrong() == {"08"}


def test_bad_judged_on_the_fault_is_caught(monkeypatch):
    monkeypatch.setattr(State, "bad", lambda state: (True, True))
    assert "07" in wrong() and "06" in wrong()


def test_readings_judged_one_by_one_are_caught(monkeypatch):
    """Each reading possible somewhere in the ranges, no choice for all of them."""

    def corners_only(size, resistors, bounds, hint=None, goal=None):
        return Fit(tuple(r.low for r in resistors))

    monkeypatch.setattr(refuter_state, "fit", corners_only)
    assert "10" in wrong()


TWO = {"nets": ("GND", "S"), "must_be_apart": lambda a, b: a != b}


def board(joints, scope, readings, **more) -> BoardModel:
    return BoardModel(**{**TWO, "joints": joints, "bridge_scope": scope, "readings": readings, **more})


def test_a_joint_never_touched_is_refuted_by_a_single_fault():
    joints = (SolderJoint("1", "GND"), SolderJoint("2", "S"))
    readings = (Reading("1", "@GND", 0, 250), Reading("1", "2", 10.01, inf))
    found = refutation(board(joints, (("1", "2"),), readings))
    assert [c.told() for c in found.counterexamples] == ["a board with joint 2 open would read the same"]
    assert found.counterexamples[0].without_contact == ("2",) and not found.counterexamples[0].joined


def test_equal_parts_exactly_on_the_threshold_do_not_refute():
    """Joint 1 open and bridged to 2 would read 35 ohm, the threshold, only with both parts at their least."""
    joints = (SolderJoint("1", "GND"), SolderJoint("2", "S"))
    parts = (Part("S", "GND", 70, 80, may_be_absent=False), Part("S", "GND", 70, 80, may_be_absent=False))
    readings = (Reading("1", "@GND", 0, 35), Reading("2", "@S", 0, 35), Reading("2", "@GND", 35 * 1.001, inf))
    assert refutation(board(joints, (("1", "2"),), readings, parts=parts)).earned
    loose = dataclasses.replace(
        board(joints, (("1", "2"),), readings, parts=parts), readings=(*readings[:2], Reading("2", "@GND", 35, inf))
    )
    assert not refutation(loose).earned


def scart_like() -> BoardModel:
    """The open joint, bridged to two terminated signals, sounds to ground; over one it would not."""
    joints = (SolderJoint("11", "G"), SolderJoint("13", "GND"), SolderJoint("15", "R"))
    parts = (Part("G", "GND", 70, 80), Part("R", "GND", 70, 80))
    apart = dict.fromkeys([frozenset(p) for p in (("G", "GND"), ("R", "GND"), ("R", "G"))])
    readings = (
        Reading("13", "@GND", 0, 60),
        Reading("11", "@G", 0, 60),
        Reading("15", "@R", 0, 60),
        Reading("11", "@GND", 20.02, inf),
        Reading("15", "@GND", 20.02, inf),
    )
    return BoardModel(
        ("GND", "G", "R"),
        joints,
        (("11", "13"), ("13", "15")),
        lambda a, b: frozenset((a, b)) in apart,
        readings,
        parts=parts,
        sounds_below=20,
        silent_above=60,
    )


def test_one_open_joint_with_two_bridges_is_found():
    model = scart_like()
    found = refutation(model)
    assert [words(c.board.faults) for c in found.counterexamples] == [{"open 13", "bridge 11-13", "bridge 13-15"}]
    assert found.counterexamples[0].told() == (
        "a board with joint 13 open and bridged to 11 and 15 would read the same"
    )
    looked_at = dataclasses.replace(model, readings=(*model.readings, Reading("13", "15", by_eye=True)))
    assert refutation(looked_at).earned


def test_a_shell_keeps_contact_over_its_other_joint_and_loses_it_with_both():
    joints = (SolderJoint("1", "S", False), SolderJoint("SH1", "GND"), SolderJoint("SH2", "GND"))
    metals = (Metal("SH", ("SH1", "SH2")),)
    found = refutation(board(joints, (), (Reading("1", "@S", 0, 250),), metals=metals))
    assert [words(c.board.faults) for c in found.counterexamples] == [{"open SH1", "open SH2"}]
    assert refutation(board(joints, (), (Reading("SH", "@GND", 0, 250),), metals=metals)).earned


def test_readings_that_nothing_explains_earn_nothing():
    joints = (SolderJoint("1", "GND"), SolderJoint("2", "S"))
    readings = (Reading("1", "@GND", 0, 250), Reading("2", "@S", 0, 250), Reading("@GND", "@S", 0, 1))
    found = refutation(board(joints, (), readings))
    assert not found.counterexamples and not found.explained and not found.earned


def test_a_search_cut_short_says_so():
    model = model_of(VECTORS["02 the same, ohms at both ground joints"])
    found = refutation(model, most_states=2)
    assert found.left_out == ("stopped after 2 sets of faults, within the single faults",) and not found.earned


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"readings": (Reading("1", "9", 0, 1),)}, "no such point: 9"),
        ({"metals": (Metal("SH", ("1", "2")),)}, "several nets"),
    ],
)
def test_a_model_that_contradicts_itself_is_refused(more, message):
    joints = (SolderJoint("1", "GND"), SolderJoint("2", "S"))
    with pytest.raises(ValueError, match=message):
        refutation(board(joints, (), **{"readings": (), **more}))
