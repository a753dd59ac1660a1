"""The pin map as board notes change it, clause by clause. Reading and writing the file is for test_board_notes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from connector_check.board.notes import LEFT_OPEN, BoardNotes, ShellRule, apply, ties_of
from connector_check.pinout.pinmap import DesignPath, FacePosition, Joint, Layout, Net, PinMap, Variant

NETS = (
    Net("V", "power", ("1", "2"), volts=5.0, volts_max=20.0, must_join=True),
    Net("GND", "ground", ("3", "4"), must_join=True),
    Net("A", "data", ("5",), withstands=5.0),
    Net("B", "data", ("6", "7")),
    Net("NC", "reserved", ("8",)),
    Net("SHELL", "shell", ("SH",), ground="may", why="as published"),
    Net("W", "power", ("9",), volts=12.0),
)
JOINTS = (*(Joint(c, (c,), int(c), 0, 0.3, 1) for c in "1256789"), Joint("3-4", ("3", "4"), 3, 0, 0.3, 1))
MAP = PinMap(
    "scale",
    "scale port",
    "",
    (),
    NETS,
    {c: f"name of {c}" for c in "123456789"},
    (Layout("row", "", "invented", JOINTS), Layout("other", "", "invented", JOINTS[:3])),
    paths=(DesignPath(("A", "B"), 1, 2, "made"), DesignPath(("NC", "A"), 1, 2, "lost with NC")),
    face=tuple(FacePosition(c, int(c), 0) for c in "123456789"),
    variants=(Variant("rev", "rev", "", NETS),),
)


def applied(**notes) -> dict[str, Net]:
    return apply(MAP, BoardNotes("scale", **notes)).net_named


def test_without_notes_only_the_variants_go():
    assert apply(MAP, BoardNotes("scale")) == replace(MAP, variants=())


def test_notes_can_be_kept_in_a_set_and_compare_by_all_they_say():
    one = BoardNotes("scale", volts={"A": 5.0}, points={"TP1": "A"}, withstands={"A": 5.0})
    assert len({one, replace(one)}) == 1 and one != replace(one, volts={})


def test_a_path_over_every_net_of_the_map_stays():
    pin_map = replace(MAP, nets=NETS[2:4], paths=MAP.paths[:1])
    assert apply(pin_map, BoardNotes("scale")).paths == MAP.paths[:1]


def test_a_contact_that_is_not_fitted_is_gone_everywhere():
    found = apply(MAP, BoardNotes("scale", not_fitted=("3", "8", "1")))
    nets = found.net_named
    assert (nets["GND"].contacts, nets["GND"].must_join) == (("4",), False)
    assert (nets["V"].contacts, nets["V"].must_join) == (("2",), False)
    assert "NC" not in nets
    assert set(found.names) == {spot.contact for spot in found.face} == set("245679")
    assert [joint.contacts for joint in found.layouts[0].joints] == [("2",), ("5",), ("6",), ("7",), ("9",), ("4",)]
    assert [joint.name for joint in found.layouts[1].joints] == ["2", "5"]
    assert [path.why for path in found.paths] == ["made"]


def test_a_net_that_keeps_two_contacts_is_still_joined_and_one_that_was_not_is_not():
    nets = applied(not_fitted=("8",))
    assert nets["V"].must_join and nets["GND"].must_join and not nets["B"].must_join


def test_a_contact_left_open_is_a_reserved_net_of_its_own():
    nets = applied(left_open=("5", "7", "4"))
    assert nets["A"] == Net("A", "reserved", ("5",), withstands=5.0, why=LEFT_OPEN)
    assert (nets["B"].contacts, nets["7-open"].contacts) == (("6",), ("7",))
    assert (nets["7-open"].role, nets["4-open"].role, nets["4-open"].must_join) == ("reserved", "reserved", False)
    assert (nets["GND"].contacts, nets["GND"].must_join) == (("3",), False)
    assert [*nets] == ["V", "GND", "4-open", "A", "B", "7-open", "NC", "SHELL", "W"]


def test_a_supply_or_shell_contact_left_open_keeps_its_role_and_its_volts():
    nets = applied(left_open=("2", "9", "SH"), volts={"V": 9.0})
    assert (nets["2-open"].role, nets["2-open"].volts, nets["2-open"].volts_max) == ("power", 9.0, None)
    assert (nets["W"].role, nets["W"].why, nets["W"].volts) == ("power", LEFT_OPEN, 12.0)
    assert (nets["SHELL"].role, nets["SHELL"].why) == ("shell", LEFT_OPEN)


def test_a_contact_that_is_neither_fitted_nor_joined_is_gone():
    nets = applied(left_open=("7", "8"), not_fitted=("7", "8"))
    assert "7-open" not in nets and "NC" not in nets and nets["B"].contacts == ("6",)


def test_a_whole_net_may_be_left_open_contact_by_contact():
    nets = applied(left_open=("6", "7"))
    assert "B" not in nets
    assert (nets["6-open"].contacts, nets["7-open"].contacts) == (("6",), ("7",))


def test_the_name_of_an_open_contact_is_one_that_the_map_does_not_have():
    taken = replace(MAP, nets=(*NETS, Net("7-open", "data", ("10",)), Net("7-open-", "data", ("11",))))
    nets = apply(taken, BoardNotes("scale", left_open=("7",))).net_named
    assert nets["7-open--"].contacts == ("7",) and nets["7-open"].contacts == ("10",)


@pytest.mark.parametrize(
    ("net", "role", "kept"),
    [
        ("A", "power", 5.0),
        ("NC", "power", None),
        ("V", "power", None),
        ("GND", "ground", None),
        ("SHELL", "shell", None),
    ],
)
def test_volts_make_a_supply_of_a_signal_or_a_reserved_net_and_of_nothing_else(net, role, kept):
    found = applied(volts={net: 24.0})[net]
    assert (found.role, found.volts, found.volts_max, found.withstands) == (role, 24.0, None, kept)
    other = applied(volts={net: 24.0})["W"]
    assert (other.volts, other.role) == (12.0, "power")


def test_what_a_net_withstands_is_as_noted():
    nets = applied(withstands={"A": 3.3, "B": 1.8})
    assert (nets["A"].withstands, nets["B"].withstands, nets["NC"].withstands) == (3.3, 1.8, None)


@pytest.mark.parametrize(
    ("rule", "ground", "why"),
    [
        (ShellRule("apart", "it floats"), "apart", "it floats"),
        (ShellRule("apart"), "apart", "as published"),
        (ShellRule("tied", "bolted"), "may", "bolted"),
        (ShellRule("may"), "may", "as published"),
    ],
)
def test_the_rule_for_the_shell(rule, ground, why):
    nets = applied(shell=rule)
    assert (nets["SHELL"].ground, nets["SHELL"].why) == (ground, why)
    assert all(nets[net.name] == net for net in NETS if net.role != "shell")


def tie(*names: str) -> dict[str, tuple]:
    """Role, volts and most volts of the signals of a board on which these nets are one."""
    nets = applied(ties=(frozenset(names),))
    return {name: (nets[name].role, nets[name].volts, nets[name].volts_max) for name in names}


def test_a_signal_tied_to_ground_is_ground_to_a_supply_that_supply_and_ground_comes_first():
    assert tie("A", "GND") == {"A": ("ground", None, None), "GND": ("ground", None, None)}
    assert tie("A", "NC", "V") == dict.fromkeys(("A", "NC", "V"), ("power", 5.0, 20.0))
    assert tie("A", "GND", "V")["A"] == ("ground", None, None)
    assert tie("A", "GND", "V")["V"] == ("power", 5.0, 20.0)
    assert tie("A", "B") == {"A": ("data", None, None), "B": ("data", None, None)}
    assert tie("SHELL", "A") == {"SHELL": ("shell", None, None), "A": ("data", None, None)}
    # the first by name of two supplies
    assert tie("A", "W", "V")["A"] == ("power", 5.0, 20.0)


def test_ties_that_share_a_net_decide_together():
    nets = applied(ties=(frozenset(("A", "B")), frozenset(("B", "GND"))))
    assert (nets["A"].role, nets["B"].role) == ("ground", "ground")


def test_a_tie_to_a_net_that_is_gone_is_passed_over():
    nets = applied(ties=(frozenset(("A", "NC")),), not_fitted=("8",))
    assert nets["A"].role == "data"


def test_paths_of_map_and_notes_stay_while_all_their_nets_do():
    more = (DesignPath(("V", "GND"), 5, 6, "noted"), DesignPath(("A", "NC", "V"), 5, 6, "star"))
    found = apply(MAP, BoardNotes("scale", paths=more))
    assert [path.why for path in found.paths] == ["made", "lost with NC", "noted", "star"]
    fewer = apply(MAP, BoardNotes("scale", paths=more, not_fitted=("8",)))
    assert [path.why for path in fewer.paths] == ["made", "noted"]


def test_ties_of_the_notes_and_of_supply_contacts_that_are_left_open():
    notes = BoardNotes("scale", ties=(frozenset(("A", "B")),), left_open=("2", "7", "4", "9"))
    assert set(ties_of(MAP, notes)) == {frozenset(("A", "B")), frozenset(("V", "2-open"))}
    assert ties_of(MAP, BoardNotes("scale", left_open=("9", "5"))) == ()
    both = BoardNotes("scale", ties=(frozenset(("A", "V")),), left_open=("1", "2"))
    assert ties_of(MAP, both) == (frozenset(("1-open", "2-open", "A", "V")),)
