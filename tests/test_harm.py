"""Harm grades against the trade's table of what a short does when powered."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from connector_check.board.harm import GRADES, HARMLESS, grade, kind_of, worst
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
