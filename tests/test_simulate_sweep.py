"""A slice of the simulated sweeps; `python -m tests.simulate_sweep` runs as many as wanted."""

from __future__ import annotations

import random
from collections import Counter
from math import inf

import pytest

from connector_check.analysis.result import Result
from connector_check.probing.session import Session
from connector_check.probing.steps import CAUTION, DONE, IRON, JUNCTION, LEADS
from connector_check.probing.sweep import red_point
from connector_check.simulated.board import Bridge, SimulatedBoard
from connector_check.simulated.junctions import DiodeMeter, draw_junctions
from connector_check.simulated.meter import SimulatedMeter
from connector_check.testlog.readings import BEEP, REMARK, TAKEN_BACK
from tests import simulate_sweep
from tests.simulate_sweep import ALARM, FELLOW_OPENS, GROUND_OPENS, SHORTS, Bench, board_of, cost, draw, report, run

SMALL = ("usb-c-16", "usb-micro-b", "vga-de15", "microsd", "hdmi-d", "sata-7")


@pytest.mark.parametrize("map_id", SMALL)
def test_single_and_double_faults_are_found_by_the_sweep_alone_and_nothing_else_is(map_id):
    outcomes = [run(seed, map_id, faults) for faults in (1, 2) for seed in range(3)]
    drawn, found = (sum((getattr(o, name) for o in outcomes), Counter()) for name in ("drawn", "found"))
    assert [line for outcome in outcomes for line in outcome.told] == []
    assert drawn.total() and all(found[kind] == drawn[kind] for kind in (FELLOW_OPENS, GROUND_OPENS, SHORTS))


def test_missed_touches_are_asked_again_and_charging_capacitors_are_no_readings():
    drawn = draw(7, "usb-c-16", 0, Bench(miss=0.1))
    session = simulate_sweep.swept(drawn._replace(farads={"VBUS": 0.01}))
    notes = [entry.note for entry in session.entries if entry.kind == REMARK]
    assert notes.count("counts up: a capacitor charges") == 4  # each joint of VBUS
    # two grounds read OL once
    assert [entry.kind for entry in session.entries].count(TAKEN_BACK) == 2
    assert not session.result().opens


def test_sound_boards_are_called_sound():
    outcomes = [run(seed, map_id, 0) for seed, map_id in enumerate(SMALL)]
    assert sum(outcome.counts[ALARM] for outcome in outcomes) == 0
    assert [line for outcome in outcomes for line in outcome.told] == []


def test_a_seed_draws_the_same_board_again():
    first, second = draw(5, "microsd", 2), draw(5, "microsd", 2)
    assert (first.opens, first.shorted, first.junctions) == (second.opens, second.shorted, second.junctions)


def test_contact_by_the_sweep_costs_fewer_touches_than_by_tones():
    for map_id in ("usb-c-16", "microsd"):
        found = cost(map_id)
        assert found.shorts < found.with_sweep < found.with_tones


def test_the_report_gives_shares_of_what_was_drawn():
    lines = list(report([run(seed, "usb-c-16", 2) for seed in (1, 2)]))
    assert any(line.startswith("opens on lines with fellows:") for line in lines)
    assert any(line.startswith("boards with a false alarm: 0 of 2") for line in lines)


def whole_session(map_id: str, opens: tuple[str, ...] = (), bridges: tuple[tuple[str, str], ...] = ()) -> Result:
    """A sweep and all that the session asks after it, on a board without terminations."""
    board, rng = board_of(map_id, 0), random.Random(1)
    number = board.number
    solder = tuple(Bridge(number[a], number[b]) for a, b in bridges)
    state = SimulatedBoard(board, solder, frozenset(number[name] for name in opens))
    junctions, diode, tones = draw_junctions(board, rng, absent=0.0), DiodeMeter(rng), SimulatedMeter(rng)
    session = Session(board, [])
    swept = False
    while (step := session.step()).kind not in (DONE, IRON):
        if not swept and step.kind not in (CAUTION, LEADS):
            session.diode()
            swept = True
        elif step.points is None:
            session.accept(session.entries_of(session.answer(BEEP)))
        else:
            assert red_point(board) is not None
            told = tones.continuity(state, *step.points)
            if step.kind == JUNCTION:
                volts = diode.volts(state, junctions, *step.points)
                told = "OL" if volts == inf else f"{volts:.3f}"
            session.accept(session.entries_of(session.answer(told)))
    return session.result()


@pytest.mark.parametrize("map_id", ["usb-c-16", "microsd", "sata-7"])
def test_a_sound_board_is_clear_after_a_sweep_and_no_contact_by_tones(map_id):
    result = whole_session(map_id)
    assert result.verdict == "clear" and result.doubt is None


def test_an_open_joint_that_borrows_its_neighbours_junction_is_found_by_the_touches_after_the_sweep():
    result = whole_session("usb-c-16", opens=("A5",), bridges=(("A5", "B7"),))
    assert [found.joint for found in result.opens] == ["A5"]
    assert [found.nets for found in result.shorts] == [("CC1", "D-")]


def test_two_bridged_signals_pass_the_sweep_and_are_found_by_the_touches_after_it():
    result = whole_session("usb-c-16", bridges=(("A6", "A7"),))
    assert not result.opens and [found.nets for found in result.shorts] == [("D+", "D-")]
