"""The ledger, what is still to be touched, and the verdict, on a small board counted by hand."""

from __future__ import annotations

import pytest

from connector_check.analysis.obligations import obligations
from connector_check.analysis.replay import replay
from connector_check.analysis.result import Count
from connector_check.analysis.verdict import account, decide, verdict
from connector_check.board.board import NEAR
from tests.strategies import entry, log, tiny_board
from tests.test_replay import GOOD


def counted(text: str, landings: bool = False):
    """The ledger and the wanted pairs by name."""
    board = tiny_board()
    ledger, todo = account(board, replay(board, log(board, text)).knowledge, obligations(board, NEAR), landings)
    return ledger, [board.pair(pair) for pair in todo]


def without(text: str, *lines: str) -> str:
    return "\n".join(line for line in text.strip().splitlines() if line not in lines)


def test_the_ledger_of_an_untouched_and_of_a_good_board():
    """Three ground joints; 2, 3, 5, 6 against ground, 2 beside 3, 5 beside 6; four lone signals less the reserved one.
    Not in scope: of five conductors 2, 3, 5, 6 and ground ten pairs, six of them asked; the shell adds 2, 3, 5, 6 at
    each of its two joints.
    """
    ledger, todo = counted("")
    assert (ledger.joins, ledger.isolation, ledger.landings) == (Count(3, 0, 0), Count(6, 0, 0), Count(0, 0, 0))
    assert (ledger.landings_listed, ledger.landings_reached, ledger.not_in_scope) == (3, 0, 4 + 8)
    assert todo[:3] == [("1", "@GND"), ("4", "@GND"), ("7", "@GND")]
    ledger, todo = counted(GOOD + "3 @D+ beep\n5 @TX quiet")
    assert (ledger.joins, ledger.isolation, todo) == (Count(3, 3, 0), Count(6, 6, 0), [])
    assert (ledger.landings, ledger.landings_listed, ledger.landings_reached) == (Count(0, 0), 3, 1)


def test_landings_that_are_required_are_counted_and_asked_unless_known_either_way():
    ledger, todo = counted(GOOD + "3 @D+ beep\n5 @TX quiet", landings=True)
    assert ledger.landings == Count(3, 1)
    assert todo == [("2", "@+5V")]


def test_a_harmful_short_is_needed_and_not_proven_a_note_is_no_longer_needed():
    ledger, todo = counted(GOOD.replace("2 3 quiet", "2 3 beep"))
    assert (ledger.isolation, todo) == (Count(6, 5), [])
    ledger, todo = counted(GOOD.replace("5 6 quiet", "5 6 beep"))
    assert (ledger.isolation, todo) == (Count(5, 5), [])
    both = GOOD.replace("2 3 quiet", "2 3 beep").replace("5 6 quiet", "5 6 beep")
    assert counted(both)[0].isolation == Count(5, 4)


def test_joints_joined_to_their_fellows_alone_are_assumed_and_one_of_them_is_asked():
    ledger, todo = counted("1 4 beep\n3 7 quiet")
    assert ledger.joins == Count(3, 0, 2)
    assert todo[:2] == [("1", "@GND"), ("7", "@GND")] and ("4", "@GND") not in todo
    ledger, todo = counted("1 4 beep\n1 @GND quiet")
    assert ledger.joins == Count(3, 0, 2)
    assert todo[0] == ("7", "@GND")
    assert counted("1 4 beep\n1 @GND beep")[0].joins == Count(3, 2, 0)


def test_what_a_wanted_join_will_answer_is_not_asked_by_itself():
    """3 is silent to joint 4; if 4 beeps to its board, 3 is apart from ground as well. Joint 5 was not touched."""
    _, todo = counted("3 4 quiet")
    assert ("4", "@GND") in todo
    assert not {("3", "@GND"), ("3", "1"), ("3", "7"), ("1", "3")} & set(todo)
    assert any("5" in pair for pair in todo)
    # joint 4 is open: 3 has to be asked against the other grounds
    _, todo = counted("3 4 quiet\n4 @GND quiet")
    assert any(set(pair) & {"1", "7", "@GND"} and "3" in pair for pair in todo)


def test_isolation_is_asked_nearest_first_after_the_joins():
    _, todo = counted("")
    near = [("1", "2"), ("2", "3"), ("3", "4"), ("4", "5"), ("5", "6"), ("6", "7")]
    assert sorted(todo[3:]) == near


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "unproven"),
        (GOOD, "clear"),
        (GOOD.replace("5 6 quiet", "5 6 beep"), "clear"),
        (GOOD.replace("2 3 quiet", "2 3 beep"), "rework"),
        (GOOD + "4 7 quiet", "unproven"),
        (GOOD.replace("@GND 4 beep", "@GND 4 quiet"), "rework"),
        (without(GOOD, "5 6 quiet"), "unproven"),
        (GOOD + "4 7 unsure", "clear"),
    ],
)
def test_the_verdict(text, said):
    board = tiny_board()
    standing = replay(board, log(board, text))
    assert verdict(standing, obligations(board, NEAR), False) == said


@pytest.mark.parametrize(
    ("harms", "said"),
    [
        ([], "clear"),
        (["note"], "clear"),
        (["harmless", "note"], "clear"),
        (["note", "dead-signal"], "rework"),
        (["supply-short"], "rework"),
        (["damage", "note"], "rework"),
    ],
)
def test_only_a_harmful_short_asks_for_rework(harms, said):
    board = tiny_board()
    assert decide(replay(board, log(board, GOOD)), harms, [], []) == said


def test_a_leak_keeps_it_unproven():
    board = tiny_board()
    leak = replay(board, [*log(board, GOOD), entry(board, 30, "3", "5", "ohms", 40.0)])
    assert decide(leak, [], [], []) == "unproven"


def test_an_open_asks_for_rework_and_a_wanted_touch_keeps_it_unproven():
    board = tiny_board()
    good = replay(board, log(board, GOOD))
    opened = replay(board, log(board, "4 @GND quiet"))
    assert verdict(opened, obligations(board, NEAR), False) == "rework"
    assert decide(good, [], [], [(0, 1)]) == "unproven"
    assert verdict(good, obligations(board, NEAR), True) == "unproven"
