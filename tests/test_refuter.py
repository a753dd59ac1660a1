"""The refuter against the worked boards of `refuter_vectors.json`, each checked by brute force over all faults."""

from __future__ import annotations

import json
from itertools import combinations
from math import inf
from pathlib import Path

import pytest

from connector_check.analysis.explanations import explain
from connector_check.analysis.refuter import refutation, refute
from connector_check.analysis.refuter_model import BoardModel, Part, Reading, SolderJoint
from connector_check.analysis.separating import OHMS, separating_touch

VECTORS = {
    vector["name"]: vector
    for vector in json.loads((Path(__file__).parent / "data" / "refuter_vectors.json").read_text("utf-8"))["vectors"]
}


def model_of(vector) -> BoardModel:
    apart = {frozenset(pair) for pair in vector["must_be_apart"]}
    return BoardModel(
        nets=tuple(vector["nets"]),
        joints=tuple(SolderJoint(j["name"], j["net"], j["contact_required"]) for j in vector["joints"]),
        bridge_scope=tuple(tuple(pair) for pair in vector["bridge_scope"]),
        must_be_apart=lambda a, b: frozenset((a, b)) in apart,
        readings=tuple(
            Reading(r["a"], r["b"], r["true_ohms_least"], inf if r["true_ohms_most"] is None else r["true_ohms_most"])
            for r in vector["readings"]
        ),
        parts=tuple(Part(*p["nets"], p["low"], p["high"], p["may_be_absent"]) for p in vector["parts"]),
        optional_ties=tuple(combinations(vector["may_be_tied_by_the_board"], 2)),
        bridge_ohms_most=vector["bridge_ohms_most"],
        sounds_below=vector["meter"]["sounds_below"],
        silent_above=vector["meter"]["silent_above"],
    )


def words(faults) -> frozenset[str]:
    return frozenset(f"open {fault[0]}" if len(fault) == 1 else f"bridge {fault[0]}-{fault[1]}" for fault in faults)


@pytest.mark.parametrize("name", VECTORS)
def test_clear_is_earned_where_no_bad_board_reads_the_same(name):
    vector = VECTORS[name]
    found = refutation(model_of(vector))
    assert found.earned is vector["expect"]["clear_earned_up_to_two_faults"]
    assert (refute(model_of(vector)) is None) is found.earned
    fewest = vector["expect"]["fewest_faults_of_any_bad_board"]
    assert fewest == (len(found.counterexamples[0].board.faults) if found.counterexamples else None)


@pytest.mark.parametrize("name", VECTORS)
def test_every_minimal_bad_board_is_found(name):
    vector = VECTORS[name]
    found = refutation(model_of(vector), every=True).counterexamples
    expected = vector["expect"]["counterexamples_minimal"]
    assert {words(c.board.faults): c.board.ties for c in found} == {
        frozenset(e["faults"]): tuple(tuple(tie) for tie in e["earth_tied"]) for e in expected
    }


@pytest.mark.parametrize("name", VECTORS)
def test_the_minimal_explanations_are_listed(name):
    found = explain(model_of(VECTORS[name]))
    assert not found.undecided and not found.left_out
    expected = VECTORS[name]["expect"]["explanations_minimal_up_to_two_faults"]
    assert {words(e.board.faults) for e in found.explanations} == {frozenset(faults) for faults in expected}
    assert sum(e.share for e in found.explanations) == pytest.approx(1.0)


@pytest.mark.parametrize("name", [name for name in VECTORS if VECTORS[name]["expect"]["counterexamples_minimal"]])
def test_ohms_tell_each_bad_board_of_the_vectors_from_a_sound_one(name):
    model = model_of(VECTORS[name])
    for found in refutation(model, every=True).counterexamples:
        asked = separating_touch(model, found.board)
        assert asked.kind == OHMS
