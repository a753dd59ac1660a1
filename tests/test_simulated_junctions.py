"""The simulated chips and the meter in diode mode, against circuits solved by other means."""

from __future__ import annotations

import random
from math import exp, inf, log

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from connector_check.simulated.board import Bridge, Part, SimulatedBoard
from connector_check.simulated.junctions import THERMAL_VOLTS, DiodeMeter, Junction, draw_junctions, family_of
from tests.test_diode import BUS

GROUND = BUS.board_point["GND"]
D0, D1, VIDEO = (BUS.joints_of[net][0] for net in ("D0", "D1", "VIDEO"))


def meter(milliamps: float = 1.0, over: float = 3.0) -> DiodeMeter:
    return DiodeMeter(random.Random(1), milliamps, over, leads_ohms=0.0, noise=0.0, resolution=1e-6)


def read(joint: int, junctions: dict[str, Junction], milliamps: float = 1.0, **state) -> float:
    return meter(milliamps).volts(SimulatedBoard(BUS, **state), junctions, GROUND, joint)


@given(st.floats(0.25, 0.9), st.floats(1.0, 2.0), st.floats(0.5, 1.2))
def test_a_lone_chip_shows_its_diode_law(volts, ideality, milliamps):
    shown = read(D0, {"D0": Junction(volts, ideality)}, milliamps)
    slope = ideality * THERMAL_VOLTS
    assert shown == pytest.approx(volts + slope * log(milliamps + exp(-volts / slope)), abs=2e-6)


@given(st.floats(0.3, 0.9), st.floats(1.0, 2.0), st.floats(10, 1e5), st.floats(0.5, 1.2))
def test_a_termination_beside_a_chip_takes_its_share(volts, ideality, ohms, milliamps):
    """The same node solved by bisection (scipy.optimize.brentq)."""

    def left(v: float) -> float:
        slope = ideality * THERMAL_VOLTS
        return 1000 * v / ohms + exp((v - volts) / slope) - exp(-volts / slope) - milliamps

    junctions = {"VIDEO": Junction(volts, ideality)}
    shown = read(VIDEO, junctions, milliamps, parts=(Part(("VIDEO", "GND"), (ohms,)),))
    assert shown == pytest.approx(brentq(left, -0.001, 3.0), abs=1e-5)


def test_two_bridged_lines_read_little_lower():
    """n x 18 mV for twice the area: HiLevel note L45 and the diode law."""
    alike = {"D0": Junction(0.5, 1.5), "D1": Junction(0.5, 1.5)}
    drop = 0.5 - read(D0, alike, bridges=(Bridge(D0, D1, 0.0),))
    assert drop == pytest.approx(1.5 * THERMAL_VOLTS * log(2), abs=1e-4)


def test_an_open_joint_and_a_line_without_a_chip_show_ol_and_a_short_shows_its_ohms():
    chip = {"D0": Junction(0.5, 1.5)}
    assert read(D0, chip, opens=frozenset([D0])) == inf and read(D1, chip) == inf
    ground = BUS.joints_of["GND"][0]
    assert read(D0, chip, bridges=(Bridge(D0, ground, 2.0),)) == pytest.approx(0.002, abs=1e-5)
    # an open joint that solder bridges to a fellow shows that one's chip
    assert read(D1, chip, opens=frozenset([D1]), bridges=(Bridge(D0, D1, 0.0),)) == pytest.approx(0.5)


def test_a_meter_shows_ol_above_its_own_volts():
    assert meter(1.0, over=0.4).volts(SimulatedBoard(BUS), {"D0": Junction(0.5, 1.5)}, GROUND, D0) == inf


def test_lines_of_one_family_are_drawn_alike():
    for seed in range(20):
        drawn = draw_junctions(BUS, random.Random(seed))
        lines = [drawn[f"D{n}"].volts for n in range(8) if f"D{n}" in drawn]
        assert len(lines) in (0, 8) and (not lines or max(lines) - min(lines) < 0.06)
    assert family_of("USB_D+") == family_of("USB_D-") and family_of("D7") == family_of("CK-")


def test_a_large_capacitor_counts_up_and_a_small_one_does_not():
    """t = C V / I: 1000 uF to 0.6 V at 1 mA take 0.6 s."""
    assert meter().counts_up(0.6, 1000e-6) and not meter().counts_up(0.6, 100e-6) and not meter().counts_up(inf, 1.0)
