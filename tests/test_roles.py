"""Roles guessed from names."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.pinout.pinmap import POWER, ROLES, Net
from connector_check.pinout.roles import OTHERWISE, RULES, guess, guessed_line
from tests.kicad_facts import SHARE

EXAMPLES = {
    "ground": "GND AGND GNDA VSS VSS1 PGND2 SIG_GND DDC/CEC_Ground GND_DRAIN 0V 12V_RTN BAT- TMDS_D2_SHIELD gnd "
    "EARTH PE_EARTH COM COMMON Common DC_COM B-",
    "shell": "SHIELD SH SH1 MP Shell CHASSIS MountPin",
    "reserved": "NC N/C N.C. NC3 KEY RESERVED RSVD2 no_connect DNC",
    "data": "D+ TX RESET RES KEY1 EN_3V3 5V_EN PG_5V 3V3_PGOOD GND_DETECT PWR_OK VREF V1 S1 A5 BACKGROUND NO COM1 "
    "VBUS_DET VBUS_EN VCC_EN VCC_SENSE-ERROR* VDD_ON PE D-5V POWER_GOOD",
}
VOLTS = {
    "3V3": 3.3,
    "+5V": 5,
    "12V": 12,
    "-12V": -12,
    "+3.3V": 3.3,
    "5VSB": 5,
    "+5V_SB": 5,
    "1V05": 1.05,
    "0V9": 0.9,
    "N12V": -12,
    "P12V": 12,
    "VDD_1V8": 1.8,
    "VCC3V3": 3.3,
    "V3.3": 3.3,
    "VBUS": 5,
    "VBUS2": 5,
    "+12V2": 12,
    "12VDC": 12,
    "48V": 48,
    "VBUS_IN": 5,
    "USB_VBUS_OUT": 5,
    "PWR_3_3-5V": 5,
    "PWR_3,3-5V": 5,
    "VIN_7-12V": 12,
}


@pytest.mark.parametrize(("role", "name"), [(role, name) for role, names in EXAMPLES.items() for name in names.split()])
def test_role_by_name(role, name):
    found = guess(name)
    assert (found.role, found.volts) == (role, None)
    assert (found.rule == OTHERWISE.rule) == (role == "data")


@pytest.mark.parametrize(("name", "volts"), VOLTS.items())
def test_volts_in_the_name(name, volts):
    assert (guess(name).role, guess(name).volts) == (POWER, pytest.approx(volts))


NO_VOLTS = "VCC VDD AVDD VCCIO VDD2 VIN VBAT BAT+ V+ V- VEE PWR -VE B+ V_IN PWR_IN POWER+ VCC_PIC VDD_CORE"


@pytest.mark.parametrize("name", NO_VOLTS.split())
def test_a_supply_without_volts_in_its_name_has_none(name):
    assert (guess(name).role, guess(name).volts) == (POWER, None)


def test_guesses_are_told_the_gravest_first_and_not_without_end():
    nets = [Net(f"D{i}", "data", (str(i),), guessed="no rule fits the name") for i in range(9)]
    nets += [Net("VBUS_IN", POWER, ("20",), 5.0, guessed="a rule"), Net("GND", "ground", ("21",))]
    line = guessed_line(nets)
    assert line.startswith("roles guessed: 10 (VBUS_IN power 5 V, D0 data, ")
    assert line.endswith(" and 2 more): confirm them in the map, each by deleting its mark")
    assert guessed_line(nets[-1:]) == ""


@pytest.mark.needs("kicad-boards")
def test_a_supply_of_a_demo_board_is_guessed():
    """KiCad 6.0.11's demo boards: a probe's and a programmer's supply, known as data before."""
    for board, net in [("sonde xilinx/sonde xilinx", "PWR_3,3-5V"), ("pic_programmer/pic_programmer", "VCC_PIC")]:
        text = (SHARE / "demos" / f"{board}.kicad_pcb").read_text(encoding="utf-8")
        assert f'/{net}"' in text and guess(net).role == POWER


def test_an_overbar_is_no_part_of_the_name():
    assert guess("~{NC}") == guess("NC")


@given(st.text(max_size=40))
def test_any_text_gets_a_role_and_a_rule(name):
    found = guess(name)
    assert found.role in ROLES and found.rule
    assert found.volts is None or found.role == POWER


def test_every_rule_decides_something():
    names = [name for names in EXAMPLES.values() for name in names.split()] + [*VOLTS, "VCC"]
    assert {guess(name).rule for name in names} == {rule.says for rule in RULES} | {OTHERWISE.rule}


def test_the_rules_agree_with_most_nets_of_the_shipped_maps():
    nets = [net for map_id in list_ids() for net in find_pin_map(map_id).nets]
    right = sum(guess(net.name).role == net.role for net in nets)
    told = [net for net in nets if guess(net.name).volts is not None and net.role == POWER]
    assert right >= 0.9 * len(nets)
    assert len(told) > 20 and sum(guess(net.name).volts == net.volts for net in told) >= 0.9 * len(told)
