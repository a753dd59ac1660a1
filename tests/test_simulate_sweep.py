"""A slice of the simulated sweeps; `python -m tests.simulate_sweep` runs as many as wanted."""

from __future__ import annotations

from collections import Counter

import pytest

from tests.simulate_sweep import ALARM, FELLOW_OPENS, GROUND_OPENS, SHORTS, cost, draw, report, run

SMALL = ("usb-c-16", "usb-micro-b", "vga-de15", "microsd", "hdmi-d", "sata-7")


@pytest.mark.parametrize("map_id", SMALL)
def test_single_and_double_faults_are_found_by_the_sweep_alone_and_nothing_else_is(map_id):
    outcomes = [run(seed, map_id, faults) for faults in (1, 2) for seed in range(3)]
    drawn, found = (sum((getattr(o, name) for o in outcomes), Counter()) for name in ("drawn", "found"))
    assert [line for outcome in outcomes for line in outcome.told] == []
    assert drawn.total() and all(found[kind] == drawn[kind] for kind in (FELLOW_OPENS, GROUND_OPENS, SHORTS))


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
