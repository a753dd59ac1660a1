"""A meter that sounds on a junction in diode mode: its tone there is no solder."""

from __future__ import annotations

from dataclasses import replace

import pytest

from connector_check.analysis.examine import examine
from connector_check.analysis.junction_tone import tone_junctions
from connector_check.testlog.job import Log
from connector_check.testlog.jobfile import decode, parse
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import VOLTS
from tests.strategies import entry, tiny_board

BOARD = tiny_board()
SOUNDS = Meter(30, 70, beeps_on_junction=True, told_by="--meter")
LEADS = ",,leads good\n"


def judged(rows: str, meter: Meter):
    entries = parse(decode((LEADS + rows + LEADS).encode(), "job.csv"), BOARD)
    return examine(Log(BOARD, entries, meter))


@pytest.mark.parametrize("ground", ["1", "@GND"])
@pytest.mark.parametrize("first", [True, False])
def test_a_tone_where_diode_mode_shows_a_junction_is_no_short(ground, first):
    rows = [f"3,{ground},beep\n", "@GND,3,0.512 V\n"]
    text = "".join(rows if first else reversed(rows))
    found = judged(text, SOUNDS).result
    assert found.shorts == () and [m.pair for m in found.measure] == [("3", ground)]
    assert "diode mode shows a junction here" in found.measure[0].why and found.verdict == "unproven"
    for sounds in (False, None):
        told = judged(text, replace(SOUNDS, beeps_on_junction=sounds)).result
        assert told.shorts and told.measure == () and told.verdict == "rework"


@pytest.mark.parametrize(("row", "short"), [("3,@GND,0.3", True), ("3,@GND,OL", False), ("3,@GND,120k", False)])
def test_ohms_settle_it(row, short):
    found = judged(f"@GND,3,0.512 V\n3,@GND,beep\n{row}\n", SOUNDS).result
    assert bool(found.shorts) is short and found.measure == ()


@pytest.mark.parametrize("rows", ["3,@GND,beep\n", "3,@GND,beep\n@GND,3,0.002 V\n", "3,5,beep\n@GND,3,0.5 V\n"])
def test_a_tone_without_a_junction_behind_it_joins(rows):
    """No volts, volts near zero, and a tone between two signals."""
    assert judged(rows, SOUNDS).result.shorts


def test_what_sounds_on_a_junction_is_among_the_assumptions():
    told = judged("3,1,quiet\n", SOUNDS).result.assumptions
    assert any("in diode mode this meter sounds on a junction" in line for line in told)
    assert not any("junction" in line for line in judged("3,1,quiet\n", Meter(30, 70)).result.assumptions)


@pytest.mark.parametrize(
    ("joint", "volts", "found"),
    [("3", 0.5, True), ("3", 0.05, True), ("3", 0.049, False), ("3", float("inf"), False), ("4", 0.5, False)],
)
def test_a_junction_is_neither_near_zero_nor_over_the_range_and_never_that_of_a_ground_joint(joint, volts, found):
    entries = [entry(BOARD, 1, joint, "@GND", VOLTS, volts)]
    assert (BOARD.number[joint] in tone_junctions(BOARD, SOUNDS, entries)) is found


def test_the_last_value_of_a_joint_tells_whether_it_has_a_junction():
    entries = [entry(BOARD, line, "3", "@GND", VOLTS, volts) for line, volts in enumerate((0.5, 0.01), 1)]
    assert tone_junctions(BOARD, SOUNDS, entries) == frozenset()
    assert tone_junctions(BOARD, SOUNDS, entries[::-1]) == {BOARD.number["3"]}
