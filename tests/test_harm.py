"""Harm grades against the trade's table of what a short does when powered."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from connector_check.board.harm import GRADES, HARMFUL, HARMLESS, Grade, grade, kind_of, worst
from connector_check.pinout.pinmap import Net

GND = Net("GND", "ground", ("1",))
AGND = Net("AGND", "ground", ("2",))
SHELL = Net("SHELL", "shell", ("SH",), ground="may")
ISOLATED = Net("SHELL", "shell", ("SH",), ground="apart")
VBUS = Net("VBUS", "power", ("3",), volts=5.0)
PD = Net("VBUS", "power", ("3",), volts=5.0, volts_max=20.0)
V12 = Net("V12", "power", ("4",), volts=12.0)
D = Net("D+", "data", ("5",), withstands=5.25)
DM = Net("D-", "data", ("9",), withstands=5.25)
CC = Net("CC1", "data", ("6",), withstands=5.5)
TX = Net("TX", "data", ("7",))
NC = Net("NC", "reserved", ("8",))

CASES = [
    # common practice, no source: a beep between two grounds is harmless
    (GND, AGND, "harmless"),
    (GND, SHELL, "harmless"),
    (GND, ISOLATED, "note"),
    # common practice, no source: a beep between ground and data or supply is a fault
    (GND, D, "dead-signal"),
    (SHELL, D, "dead-signal"),
    (GND, VBUS, "supply-short"),
    (SHELL, VBUS, "supply-short"),
    (TX, D, "dead-signal"),
    # USB 2.0 section 7.1.1 as quoted by the Fairchild FSUSB31 data sheet p.10: D+ and D- survive a short to 5 V VBUS
    (VBUS, D, "dead-signal"),
    # TI SSZT550, SSZTAQ6: VBUS above 5 V onto CC, which stands 5 to 6 V, is damage
    (PD, CC, "damage"),
    (PD, D, "damage"),
    (VBUS, TX, "damage"),
    # Microchip, absolute maximum ratings: a higher rail onto a lower one
    (V12, VBUS, "damage"),
    (NC, GND, "note"),
    (NC, TX, "note"),
    (VBUS, NC, "damage"),
]


@pytest.mark.parametrize(("a", "b", "harm"), CASES)
def test_grade_of_a_pair_in_either_order(a, b, harm):
    assert grade(a, b).harm == harm
    assert grade(b, a) == grade(a, b)
    assert a.name in grade(a, b).why or b.name in grade(a, b).why or harm == "harmless"


nets = st.sampled_from([GND, AGND, SHELL, VBUS, V12, D, DM, CC, TX, NC])


@given(st.lists(nets, min_size=1, max_size=7))
def test_a_group_takes_its_worst_pair(group):
    pairs = [grade(a, b).harm for i, a in enumerate(group) for b in group[i + 1 :]] or [HARMLESS]
    assert worst(group).harm == min(pairs, key=GRADES.index)


def test_a_net_named_twice_hides_no_other_of_its_kind():
    assert worst([D, D, DM]).harm == "dead-signal"


@given(nets, nets)
def test_a_net_of_the_same_kind_is_graded_alike(net, other):
    twin = net._replace(name="TWIN", contacts=("99",))
    assert kind_of(twin) == kind_of(net)
    if other.name != net.name:
        assert grade(twin, other)[::2] == grade(net, other)[::2]


def test_volts_at_stake_are_the_most_the_port_may_carry():
    assert grade(PD, CC).volts == 20.0
    assert "up to 20 V" in grade(PD, CC).why


AUX = Net("AUX5", "power", ("9",), volts=5.0)
SHELL2 = Net("SHIELD", "shell", ("SH2",), ground="may")
KEPT_APART = Net("SHELL", "shell", ("SH",), ground="apart", why="the cable carries it")
TX2 = Net("TX2", "data", ("10",))
D5 = Net("D5", "data", ("11",), withstands=5.0)

REASONS = [
    (GND, GND, Grade("harmless", "joints of one net, GND")),
    (GND, AGND, Grade("harmless", "both are ground (AGND, GND)")),
    (GND, SHELL, Grade("harmless", "the shell may touch ground on this connector")),
    (GND, ISOLATED, Grade("note", "the shell is to stay apart from GND on this connector")),
    (GND, KEPT_APART, Grade("note", "the shell is to stay apart from GND on this connector: the cable carries it")),
    (SHELL, SHELL2, Grade("harmless", "both are shell")),
    (NC, GND, Grade("note", "NC is reserved: harmless while the board leaves it unused")),
    (NC, TX, Grade("note", "NC is reserved: harmless while the board leaves it unused")),
    (NC, SHELL, Grade("note", "NC is reserved: harmless while the board leaves it unused")),
    (NC, NC._replace(name="NC2"), Grade("note", "NC is reserved: harmless while the board leaves it unused")),
    (GND, D, Grade("dead-signal", "data D+ is held at ground: no link")),
    (SHELL, D, Grade("dead-signal", "data D+ is held at the shell: no link")),
    (D, TX, Grade("dead-signal", "data D+ and TX drive each other: no link")),
    (VBUS, GND, Grade("supply-short", "supply VBUS (5 V) to ground GND", 5.0)),
    (PD, SHELL, Grade("supply-short", "supply VBUS (5 V, up to 20 V) to shell SHELL", 20.0)),
    (VBUS, AUX, Grade("supply-short", "two supplies of 5 V tied: AUX5 and VBUS feed each other", 5.0)),
    (PD, AUX, Grade("damage", "supply VBUS (5 V, up to 20 V) onto the lower supply AUX5 (5 V)", 20.0)),
    (V12, VBUS, Grade("damage", "supply V12 (12 V) onto the lower supply VBUS (5 V)", 12.0)),
    (VBUS, D5, Grade("dead-signal", "supply VBUS (5 V) on D5, which withstands 5 V", 5.0)),
    (PD, CC, Grade("damage", "supply VBUS (5 V, up to 20 V) onto CC1, which withstands 5.5 V", 20.0)),
    (VBUS, TX, Grade("damage", "supply VBUS (5 V) onto TX, which is not known to withstand it", 5.0)),
]


@pytest.mark.parametrize(("a", "b", "found"), REASONS)
def test_the_reason_and_the_volts_of_a_grade_in_either_order(a, b, found):
    assert grade(a, b) == grade(b, a) == found


def test_supplies_of_one_most_but_two_nominal_voltages_are_damage():
    wide = Net("A", "power", ("1",), volts=5.0, volts_max=12.0)
    assert grade(V12, wide)[:2] == ("damage", "supply V12 (12 V) onto the lower supply A (5 V, up to 12 V)")
    last = wide._replace(name="Z")
    assert grade(V12, last)[:2] == ("damage", "supply V12 (12 V) onto the lower supply Z (5 V, up to 12 V)")


def test_the_harmful_grades_are_the_three_worst():
    assert HARMFUL == GRADES[:3] == ("damage", "supply-short", "dead-signal")


def test_of_nets_alike_two_are_compared():
    assert worst([TX, TX2]).harm == "dead-signal"
    assert worst([TX, TX2, NC]).harm == "dead-signal"
    assert worst([TX]) == Grade("harmless", "joints of one net, TX")


def test_the_worst_of_one_grade_is_that_with_the_most_volts():
    assert worst([VBUS, TX, V12]).volts == 12.0
    assert worst([VBUS, Net("48V", "power", ("12",), volts=48.0), V12]).volts == 48.0


def test_a_reason_to_keep_nets_apart_counts_in_a_group():
    """`kind` may tell apart what role and volts do not: here the third of three equal lines has a grade of its own."""
    lines = [Net(name, "data", (name,)) for name in ("L1", "L2", "L3")]

    def odd(a: Net, b: Net) -> Grade:
        return Grade("damage", "the odd one") if "L3" in (a.name, b.name) else Grade("harmless", "fellows")

    assert worst(lines, odd).harm == "harmless"
    assert worst(lines, odd, kind=lambda net: (net.name,)).harm == "damage"
