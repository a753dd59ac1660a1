"""The refuter's model of a board of the program."""

from __future__ import annotations

import dataclasses
from math import inf
from pathlib import Path

from connector_check.analysis.refuter import refutation
from connector_check.analysis.refuter_index import Index
from connector_check.analysis.refuter_model import Metal, Part
from connector_check.analysis.refuting import model_of
from connector_check.board.board import Board
from connector_check.board.design import TOLERANCE
from connector_check.board.notes import BoardNotes, apply, ties_of
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from tests.refuter_jobs import required, shipped_board
from tests.strategies import tiny_board
from tests.test_package_order import imported

ROOT = Path(__file__).resolve().parents[1]


def model(board, standing=(), scope="near", meter=UNKNOWN_METER):
    return model_of(board, standing, scope, meter, required(board))


def test_every_shipped_layout_makes_a_model():
    for map_id in list_ids():
        pin_map = find_pin_map(map_id)
        for layout in pin_map.layouts:
            board = Board(pin_map, layout)
            built = model(board)
            assert len(built.joints) == len(board.joints)
            assert len(built.bridge_scope) == len(board.near_gaps)
            assert Index(built).regions


def test_joints_metal_ties_and_scope_of_the_tiny_board():
    board = tiny_board()
    built = model(board, meter=Meter(20, 60))
    assert built.metals == (Metal("SH", ("SH1", "SH2")),)
    assert built.optional_ties == (("GND", "SHELL"),) and not built.fixed_ties
    assert (built.sounds_below, built.silent_above) == (20, 60)
    assert [joint.name for joint in built.joints if not joint.contact_required] == ["6", "SH1", "SH2"]
    assert len(model(board, scope="wide").bridge_scope) >= len(built.bridge_scope)


def test_only_harmful_shorts_are_bad():
    built = model(tiny_board())
    assert built.must_be_apart("GND", "+5V") and built.must_be_apart("TX", "D+")
    assert not built.must_be_apart("GND", "NC") and not built.must_be_apart("GND", "SHELL")
    assert not built.must_be_apart("GND", "GND")


def test_a_part_among_several_nets_is_a_star_over_half_its_ohms():
    paths = [path for path in find_pin_map("rj45-1000").paths if len(path.nets) > 2]
    legs = [part for part in model(shipped_board("rj45-1000")).parts if part.b.startswith("*")]
    assert len(legs) == len(paths[0].nets) == 4
    low, high = paths[0].low * (1 - TOLERANCE) / 2, paths[0].high * (1 + TOLERANCE) / 2
    assert legs[0] == Part(paths[0].nets[0], legs[0].b, low, high, True)


def test_nets_tied_by_design_are_one_conductor():
    board = tiny_board()
    pin_map, notes = board.pin_map, BoardNotes("tiny", ties=(frozenset({"TX", "D+"}),))
    tied = Board(apply(pin_map, notes), pin_map.layouts[0], ties_of(pin_map, notes))
    built = model(tied)
    assert built.fixed_ties == (("D+", "TX"),) and not built.must_be_apart("D+", "TX")


def test_a_contact_left_open_is_tied_to_nothing():
    pin_map = find_pin_map("molex-4")
    supply = next(net for net in pin_map.nets if net.role == "power")
    notes = BoardNotes(pin_map.id, left_open=supply.contacts[:1])
    board = Board(apply(pin_map, notes), pin_map.layouts[0], ties_of(pin_map, notes))
    assert not model(board).fixed_ties


def test_readings_come_by_name_and_looked_at_pairs_leave_the_scope():
    board = tiny_board()
    standing = [(0, board.board_point["GND"], 0.0, 250.0, False), (0, 1, 0.0, inf, True)]
    built = model(board, standing)
    assert [(r.a, r.b, r.most) for r in built.readings] == [("1", "@GND", 250.0), ("1", "2", inf)]
    assert ("1", "2") not in [solder.joints for solder in Index(built).solder]


def test_a_map_without_shell_joints_drops_readings_at_the_shell():
    board = tiny_board()
    layout = dataclasses.replace(board.layout, joints=board.joints[:7])
    bare = Board(dataclasses.replace(board.pin_map, layouts=(layout,)), layout)
    assert bare.shell_point is not None
    built = model(bare, [(bare.shell_point, bare.board_point["GND"], 0.0, 250.0, False)])
    assert not built.metals and not built.readings


def test_an_untouched_board_is_refuted_at_once():
    found = refutation(model(tiny_board()))
    assert found.counterexamples and len(found.counterexamples[0].board.faults) == 1


def test_the_refuter_shares_nothing_with_what_it_checks():
    """Its modules import each other alone; the adapter adds the board, never the closure or the replay."""
    own = {"explanations", "separating", "refuting"} | {
        path.stem for path in (ROOT / "connector_check" / "analysis").glob("refuter*.py")
    }
    for name in own:
        found = imported(ROOT / "connector_check" / "analysis" / f"{name}.py")
        inside = {module.split(".")[2] for module in found if module.startswith("connector_check.analysis.")}
        assert inside <= own, name
        figures = "connector_check.board.ohms"  # how far a reading is trusted: figures alone, no rule
        others = {module.split(".")[1] for module in found if module != figures} - {"analysis"}
        assert others <= ({"board", "pinout", "testlog"} if name == "refuting" else set()), name
