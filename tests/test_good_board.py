"""Known-good comparison and ties: what is joined by design is no finding, what is silent against it is open."""

from __future__ import annotations

import pytest

from connector_check.analysis.check import check
from connector_check.analysis.good_board import (
    Shown,
    agreement,
    compare,
    differences_of,
    opens_against,
    shown_by,
    unproven_by,
)
from connector_check.analysis.good_design import ties_of
from connector_check.analysis.obligations import obligations
from connector_check.analysis.replay import replay
from connector_check.analysis.result import CLEAR, REWORK, UNPROVEN, Difference, Parts
from connector_check.board.board import NEAR, Board
from connector_check.testlog.job import GoodBoard, Job
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import LEADS_GOOD, Entry
from tests.strategies import checked, entry, log, tiny_board
from tests.test_findings import with_part
from tests.test_replay import GOOD

TIED = GOOD + "5 4 beep\n"
"""A sound board whose designer tied TX to ground."""


def test_a_join_that_stands_on_the_good_board_is_by_design():
    board = tiny_board()
    text = TIED.replace("4 5 quiet\n", "").replace("5 6 quiet", "5 6 quiet")
    assert checked(board, log(board, text)).verdict == "rework"
    ties = ties_of(board, [replay(board, log(board, text))])
    assert ties == [frozenset({"GND", "TX"})]
    tied = Board(board.pin_map, board.layout, ties)
    result = checked(tied, log(tied, text))
    assert result.verdict == "clear" and not result.shorts
    assert any(set(h.nets) == {"GND", "TX"} for h in result.harmless)
    worse = checked(tied, log(tied, text.replace("2 3 quiet", "2 3 beep")))
    assert [s.nets for s in worse.shorts] == [("+5V", "D+")]


def test_a_supply_tied_to_ground_by_fault_is_still_a_short_on_a_board_with_other_ties():
    board = tiny_board()
    tied = Board(board.pin_map, board.layout, [{"GND", "TX"}, {"D+", "NC"}])
    result = checked(tied, log(tied, "1 2 beep\n4 5 beep\n3 6 beep"))
    assert [(s.nets, s.harm) for s in result.shorts] == [(("+5V", "GND"), "supply-short")]
    assert {h.nets for h in result.harmless} == {("GND", "TX"), ("D+", "NC")}


def test_ties_gather_over_shared_nets():
    board = tiny_board()
    tied = Board(board.pin_map, board.layout, [{"GND", "TX"}, {"TX", "NC"}])
    nets = {n.name: n for n in tied.nets}
    assert tied.tied(nets["GND"], nets["NC"]) and not tied.tied(nets["GND"], nets["D+"])


def test_what_is_joined_there_and_silent_here_is_open():
    board = tiny_board()
    good = replay(board, log(board, "3 @D+ beep\n5 6 beep"))
    here = replay(board, log(board, "3 @D+ quiet\n5 6 quiet\n2 3 quiet"))
    assert {o.joint for o in opens_against(here, [good])} == {"3", "5"}
    assert opens_against(good, [good]) == []


def test_only_joins_that_the_map_calls_a_short_are_ties():
    board = tiny_board()
    assert ties_of(board, [replay(board, log(board, "1 4 beep\nSH1 1 beep\n3 @D+ beep"))]) == []
    # a supply on a spare is damage, on a good board too
    joined = replay(board, log(board, "3 5 beep\n5 1 beep\n2 6 beep\n2 3 quiet"))
    assert sorted(map(sorted, ties_of(board, [joined]))) == [["D+", "GND", "TX"]], (
        "a supply on a spare is damage, on a good board too"
    )


def test_each_open_against_the_good_board_is_told_once_with_its_pair():
    board = tiny_board()
    good = replay(board, log(board, "3 @D+ beep\n5 6 beep\n6 2 beep\n1 7 beep"))
    here = replay(board, log(board, "5 2 quiet\n2 5 chirp\n3 @D+ unsure\n1 7 quiet\n1 4 beep\n4 7 beep\n3 4 quiet"))
    (found,) = opens_against(here, [good])
    assert (found.net, found.joint, found.readings) == ("+5V", "2", (2,))
    assert found.why == "2 is silent to 5, which it reaches on the good board: open joint, part or track"
    chirp = replay(board, log(board, "3 @D+ chirp"))
    assert [(o.net, o.joint, o.readings) for o in opens_against(chirp, [good])] == [("D+", "3", (1,))]


def test_of_a_joint_and_its_board_point_the_joint_is_the_open_one_and_told_once():
    board = tiny_board()
    text = GOOD.replace("@GND 4 beep", "@GND 4 quiet").replace("@GND 7 beep", "SH 7 quiet")
    good = GoodBoard(board, log(board, GOOD + "SH 7 beep\n"))
    leads = Entry(0, LEADS_GOOD, ())
    result = check(Job(board, [leads, *log(board, text), leads], good_boards=(good,)))
    assert sorted(o.joint for o in result.opens) == ["4", "7"]
    assert sorted(step.joints for step in result.rework) == [("4",), ("7",)]


def test_silence_over_a_part_that_must_sound_is_an_open():
    """Chip ferrite 0.05 to 0.1 ohm (BMB series): a quiet over it on any meter is an open part or joint."""
    from connector_check.pinout.pinmap_file import parse_pin_map
    from tests.strategies import TINY_YAML

    text = TINY_YAML.replace(
        "layouts:", "paths:\n  - {between: [TX, D+], ohms: [0.05, 1], absent: no, why: ferrite}\nlayouts:"
    )
    pin_map = parse_pin_map(text.encode(), "t.yaml")
    ferrite = Board(pin_map, pin_map.layouts[0])
    result = checked(ferrite, log(ferrite, "3 5 quiet"))
    assert [o.joint for o in result.opens] == ["3"] and "ferrite" in result.opens[0].why
    maybe = parse_pin_map(text.replace("absent: no", "absent: may").encode(), "t.yaml")
    board = Board(maybe, maybe.layouts[0])
    assert not checked(board, log(board, "3 5 quiet")).opens


@pytest.mark.parametrize(
    ("leads", "meter_leads", "slack"),
    [(None, 0.0, 0.5), (None, 0.3, 0.0), (0.2, 0.0, 0.0), (0.0, 0.0, 0.0)],
)
def test_leads_whose_ohms_are_known_from_the_meter_or_the_job_need_no_allowance(leads, meter_leads, slack):
    """Half an ohm for leads that nobody measured (common practice, no source)."""
    board = tiny_board()
    entries = [Entry(1, "leads good", (), leads), entry(board, 2, "3", "@D+", "ohms", 0.4)]
    standing = replay(board, entries, Meter(10, 250, leads_ohms=meter_leads))
    assert shown_by(standing).slack == slack


def test_only_the_leads_of_good_boards_that_read_a_pair_widen_what_is_expected_there():
    """3 to @D+ was read with measured leads here and there; the leads of a board that did not read it tell nothing."""
    board = tiny_board()
    measured = Entry(1, "leads good", (), 0.0)

    def shown(ohms: float | None, *leads: Entry) -> Shown:
        return shown_by(replay(board, [*leads, *([entry(board, 2, "3", "@D+", "ohms", ohms)] if ohms else [])]))

    here, good, other = shown(1.5, measured), shown(0.1, measured), shown(None)
    assert other.slack > 0
    for boards in ([good], [good, other]):
        (found,) = differences_of(here, boards, [])
        # 0.1 is up to 0.667 on any board (10 %, half an ohm), read as up to 1.23
        assert found.expected == (0.0, pytest.approx(1.2333, abs=1e-4))
    assert list(differences_of(here, [shown(0.1)], [])) == []


def test_without_good_boards_nothing_is_compared():
    board = tiny_board()
    assert compare(replay(board, log(board, GOOD)), obligations(board, NEAR), []) == ((), (), ())


def test_how_many_pairs_read_on_both_agree():
    """In ohms, in tones by what they prove, and where a part may have carried one, tone for tone."""
    board = with_part("D+, GND", 75, 75)

    def shown(text: str, *more: Entry) -> Shown:
        return shown_by(replay(board, [*(log(board, text) if text else []), *more]))

    def ohms(value: float) -> Entry:
        return entry(board, 20, "5", "6", "ohms", value)

    assert agreement(shown("", ohms(40)), shown("", ohms(42))) == (1, 1)
    assert agreement(shown("", ohms(40)), shown("", ohms(90))) == (1, 0)
    assert agreement(shown("5 6 quiet"), shown("6 5 quiet\n2 3 quiet")) == (1, 1)
    assert (
        agreement(shown("1 4 quiet"), shown("1 4 beep")) == agreement(shown("1 4 beep"), shown("1 4 quiet")) == (1, 0)
    )
    assert agreement(shown("5 6 quiet"), shown("2 3 quiet")) == (0, 0)
    # 75 ohm from D+ to ground may sound
    assert agreement(shown("3 @GND beep"), shown("3 @GND beep")) == (1, 1)
    assert agreement(shown("3 @GND beep"), shown("3 @GND quiet")) == (1, 0)
    assert agreement(shown("3 @GND quiet"), shown("3 @GND beep")) == (1, 0)
    assert agreement(shown("3 @GND beep"), shown("5 6 beep")) == (0, 0)


def test_what_one_good_board_joins_and_another_parts_is_no_open():
    board = tiny_board()
    here, joins, parts = (replay(board, log(board, f"3 5 {word}")) for word in ("quiet", "beep", "quiet"))
    assert [found.joint for found in opens_against(here, [joins, joins])] == ["3"]
    for good in ([joins, parts], [parts, joins]):
        assert opens_against(here, good) == []


@pytest.mark.parametrize(("lower", "parts"), [(True, (UNPROVEN, CLEAR)), (False, (CLEAR, UNPROVEN))])
def test_a_difference_leaves_a_clear_part_unproven_and_takes_no_rework_back(lower, parts):
    difference = Difference("ohms", ("3", "4"), ("D+", "GND"), 1.0, 2.0, None, lower, "", (1,))
    assert unproven_by(Parts(CLEAR, CLEAR), [difference]) == parts
    assert unproven_by(Parts(REWORK, REWORK), [difference]) == (REWORK, REWORK)
    assert unproven_by(Parts(CLEAR, CLEAR), []) == (CLEAR, CLEAR)
