"""The driver of simulated sessions: a slice of boards for each run, and that it can fail."""

from __future__ import annotations

import dataclasses

import pytest

from connector_check.board.ohms import BRIDGE_OHMS
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.probing.steps import DONE, IRON
from connector_check.simulated.board import Bridge, SimulatedBoard
from tests.simulate import (
    CLEAR_ON_BAD,
    FAILURES,
    GAVE_UP,
    LONG,
    MISSED,
    MUST_NOT,
    RAISED,
    REWORK_ON_SOUND,
    STUCK,
    WRONG_JOIN,
    Drive,
    Options,
    draw,
    main,
    missed_shorts,
    one,
    options_of,
    parser,
    required,
    simulate,
    table,
    wired,
    wrong_joins,
)
from tests.strategies import checked, log

TOLD_BY_OHMS = tuple(
    map_id for map_id in list_ids() if all(path.low > BRIDGE_OHMS for path in find_pin_map(map_id).paths)
)
"""Maps none of whose parts reads as solder does: elsewhere a two-wire meter cannot tell."""


def test_a_slice_of_boards_without_parts_is_judged_right():
    """`python -m tests.simulate` runs the whole; sessions that never find the solder's place are its own column."""
    outcomes = simulate(150, 77, Options(TOLD_BY_OHMS), processes=1)
    assert sum(o.counts["bad at first"] for o in outcomes) > 30
    assert sum(o.counts["rounds"] > 1 for o in outcomes) > 30
    for outcome in outcomes:
        failed = [kind for kind in FAILURES if outcome.counts[kind] and kind != GAVE_UP]
        assert not failed, (outcome.seed, outcome.told)


def test_leads_that_fail_midway_never_lead_to_a_wrong_verdict():
    """Broken leads and leads that touch, from some touch on: a lead check stands behind silence, and behind tones."""
    outcomes = simulate(60, 78, Options(TOLD_BY_OHMS, lead_faults=1.0), processes=1)
    assert sum(o.counts["bad at first"] for o in outcomes) > 10
    for outcome in outcomes:
        failed = [kind for kind in MUST_NOT if outcome.counts[kind]]
        assert not failed, (outcome.seed, outcome.told)


def test_a_seed_draws_one_board_whatever_the_processes():
    options = Options(("vga-de15", "usb-c-16", "sata-7"), parts=True, miss=0.02, stray=0.01, lead_faults=0.5)
    alone = simulate(12, 5, options, processes=1)
    assert alone == simulate(12, 5, options, processes=2) and len({o.seed for o in alone}) == 12
    assert [one((o.seed, options)) for o in alone[:3]] == alone[:3]
    assert len({draw(o.seed, options)[0] for o in alone}) > 3


def settled(state_of) -> Drive:
    """A session that ended on a sound board, or on the board that `state_of` makes of it."""
    drive = Drive(3, Options(("hdmi-a",), slip=0.0))
    drive.person.board = state_of(SimulatedBoard(drive.board))
    drive.probe()
    drive.counts.clear()
    drive.told.clear()
    return drive


def bridged(state: SimulatedBoard) -> SimulatedBoard:
    number = state.board.number
    return dataclasses.replace(state, bridges=(Bridge(number["18"], number["17"]),))


def test_clear_on_a_bad_board_is_told():
    drive = settled(lambda state: state)
    assert drive.session.step().kind == DONE and drive.judge_round(drive.session.step())
    assert not drive.told
    drive.person.board = bridged(drive.person.board)
    drive.judge_round(drive.session.step())
    assert drive.counts[CLEAR_ON_BAD] == 1 and "+5V" in drive.told[0]
    drive.person.board = SimulatedBoard(drive.board, opens=frozenset({drive.board.number["1"]}))
    drive.judge_round(drive.session.step())
    assert drive.counts[CLEAR_ON_BAD] == 2 and "open ['1']" in drive.told[1]


def test_rework_on_a_sound_board_and_wrong_joins_are_told():
    drive = settled(bridged)
    step = drive.session.step()
    assert step.kind == IRON and drive.judge_round(step) and not drive.told
    drive.person.board = SimulatedBoard(drive.board)
    assert not drive.judge_round(step)
    assert drive.counts[REWORK_ON_SOUND] == 1 and drive.counts[WRONG_JOIN] == 1


def test_a_missed_short_is_told():
    drive = settled(bridged)
    number = drive.board.number
    other = Bridge(number["1"], number["2"])
    drive.person.board = dataclasses.replace(drive.person.board, bridges=(*drive.person.board.bridges, other))
    drive.judge_round(drive.session.step())
    assert drive.counts[MISSED] == 2, "the new line onto ground, and onto the supply that was on ground before"
    assert all("D2+" in line for line in drive.told if line.startswith(MISSED))


def test_nets_that_the_designer_tied_are_one_for_a_finding():
    drive = settled(bridged)
    tied = dataclasses.replace(drive.person.board, ties=(("GND", "SHELL"),))
    drive.person.board = tied
    harmful = {frozenset(pair) for short in drive.truth().shorts for pair in short.pairs}
    assert harmful == {frozenset(("+5V", "GND")), frozenset(("+5V", "SHELL"))}
    assert missed_shorts(drive.session.result(), drive.truth(), tied) == []


def test_wrong_joins_of_a_result():
    board = wired("hdmi-a", 0, 0)
    result = checked(board, log(board, "1 2 beep\n4 5 beep"))
    assert len(wrong_joins(result, SimulatedBoard(board))) == 2
    assert not wrong_joins(result, SimulatedBoard(board, (Bridge(0, 1), Bridge(3, 4))))


def test_a_session_that_never_ends_and_one_that_raises_are_told(monkeypatch):
    monkeypatch.setattr(Drive, "answer", lambda self, step: None)
    drive = Drive(3, Options(("hdmi-a",)))
    drive.take(drive.session.answer("beep"))
    drive.take(drive.session.answer("beep"))
    assert drive.probe().kind == "touch" and drive.counts[LONG] == 1

    def broken(self, step):
        raise KeyError("a4b9")

    monkeypatch.setattr(Drive, "answer", broken)
    outcome = one((3, Options(("hdmi-a",))))
    assert outcome.counts[RAISED] == 1 and "KeyError" in outcome.told[0]
    text = table([outcome])
    assert RAISED in text and STUCK in text


def test_the_command(capsys):
    words = ["--boards", "4", "--seed", "2", "--maps", "sata-7", "--meter", "10:250", "--processes", "1"]
    assert main(words) == 0
    lines = capsys.readouterr().out.strip().splitlines()
    assert lines[0].split()[:3] == ["meter", "boards", "bad"]
    assert [line.split()[:2] for line in lines[1:]] == [["10:250", "4"], ["all", "4"]]
    assert main([*words, "--replay", "20000001"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("sata-7 ") and "lead check" in told and "-- round ends" in told
    assert options_of(parser().parse_args([])).maps == tuple(list_ids())
    assert required(wired("sata-7", 0, 0))
    with pytest.raises(SystemExit):
        main(["--boards", "many"])
