"""Which measurement tells a bad board from a sound one, and which splits the explanations."""

from __future__ import annotations

from math import inf

from connector_check.analysis.explanations import explain
from connector_check.analysis.refuter import refutation, refute
from connector_check.analysis.refuter_model import BoardModel, Part, Reading, SolderJoint, ohms_range
from connector_check.analysis.separating import EYES, OHMS, TOUCH, separating_touch, splitting_touch
from tests.test_refuter import VECTORS, model_of, words


def row(count, nets, readings, **more):
    """Joints 1 to count in a row, each on the net given, all nets to be apart."""
    joints = tuple(SolderJoint(str(i + 1), nets[i]) for i in range(count))
    scope = tuple((str(i), str(i + 1)) for i in range(1, count))
    names = tuple(dict.fromkeys(nets))
    return BoardModel(names, joints, scope, lambda a, b: a != b, tuple(readings), **more)


def contact(*numbers_and_nets):
    return [Reading(number, "@" + net, 0, 250) for number, net in numbers_and_nets]


def test_the_first_vector_asks_ohms_between_the_joint_and_its_board_point():
    model = model_of(VECTORS["01 open ground joint bridged to a terminated signal"])
    asked = separating_touch(model, refute(model).board)
    assert asked == ("g", "@GND", OHMS, ((0.0, 0.0), (70.0, 250.0)))


def test_a_touch_comes_before_ohms():
    model = row(2, ["GND", "S"], contact(("1", "GND")))
    found = refute(model)
    asked = separating_touch(model, found.board)
    assert found.board.opens == ("2",)
    assert (asked.a, asked.b, asked.kind) == ("2", "@S", TOUCH)
    assert asked.expected == ((0.0, 0.0), (inf, inf))


def test_solder_over_a_winding_needs_eyes_and_these_settle_it():
    part = Part("S", "T", 0.2, 1.2, may_be_absent=False)
    model = row(2, ["S", "T"], [*contact(("1", "S"), ("2", "T")), Reading("1", "2", 0, 0.9)], parts=(part,))
    found = refute(model)
    assert found.board.bridges == (("1", "2"),) and found.joined == (("S", "T"),)
    asked = separating_touch(model, found.board)
    assert (asked.a, asked.b, asked.kind) == ("1", "2", EYES)
    looked = row(2, ["S", "T"], [*model.readings, Reading("1", "2", by_eye=True)], parts=(part,))
    assert refutation(looked).earned


def test_a_beep_in_a_row_has_two_explanations_and_their_split_is_asked():
    """1 and 3 sound: 2 lies between, so no single bridge does it; 1-2 and 2-3 together do."""
    readings = [*contact(("1", "A"), ("2", "B"), ("3", "C")), Reading("1", "3", 0, 5)]
    told = explain(row(3, ["A", "B", "C"], readings))
    assert [words(e.board.faults) for e in told.explanations] == [{"bridge 1-2", "bridge 2-3"}]


def test_an_impossible_site_is_not_listed():
    """3-9 and 9-10 sound in a mesh where 3-8 read 400 ohm: 3-8 carries nothing."""
    joints = tuple(SolderJoint(name, "N" + name) for name in ("3", "8", "9"))
    scope = (("3", "8"), ("8", "9"), ("3", "9"))
    readings = [
        *contact(("3", "N3"), ("8", "N8"), ("9", "N9")),
        Reading("3", "9", 0, 250),
        Reading("3", "8", *ohms_range(400)),
    ]
    part = Part("N3", "N8", 390, 410)
    nets = ("N3", "N8", "N9")
    model = BoardModel(nets, joints, scope, lambda a, b: a != b, tuple(readings), parts=(part,))
    told = explain(model)
    assert [words(e.board.faults) for e in told.explanations] == [{"bridge 3-9"}]


def test_odds_order_the_explanations_and_the_split_separates_them():
    """Two grounds beside one signal: S sounds to ground over 1-2 or 2-3, and only eyes tell which."""
    readings = [*contact(("1", "GND"), ("2", "S"), ("3", "GND")), Reading("2", "@GND", 0, 1)]
    model = row(3, ["GND", "S", "GND"], readings)
    told = explain(model, lambda fault: 3.0 if fault == ("2", "3") else 1.0)
    assert [(words(e.board.faults), e.share) for e in told.explanations] == [
        ({"bridge 2-3"}, 0.75),
        ({"bridge 1-2"}, 0.25),
    ]
    asked = splitting_touch(model, told.explanations)
    assert (asked.a, asked.b, asked.kind) == ("2", "3", EYES)
    looked = row(3, ["GND", "S", "GND"], [*readings, Reading("2", "3", by_eye=True)])
    assert [words(e.board.faults) for e in explain(looked).explanations] == [{"bridge 1-2"}]
    assert splitting_touch(looked, explain(looked).explanations) is None


def test_a_touch_splits_where_it_can():
    """A ground joint is silent to its board point, or it is open: an open 1 or nothing else of one fault."""
    readings = [*contact(("2", "S"), ("3", "T")), Reading("2", "@T", 0, 1)]
    nets, joints = ("S", "T", "U"), [("1", "U"), ("2", "S"), ("3", "T"), ("4", "U")]
    scope = (("2", "3"), ("2", "1"), ("1", "3"))
    model = BoardModel(
        nets, tuple(SolderJoint(*joint) for joint in joints), scope, lambda a, b: a != b, tuple(readings)
    )
    told = explain(model)
    assert [words(e.board.faults) for e in told.explanations] == [
        {"bridge 2-3"},
        {"bridge 2-1", "bridge 1-3"},
    ]
    asked = splitting_touch(model, told.explanations)
    assert asked.kind == TOUCH and {asked.a, asked.b} & {"1", "@U"}
