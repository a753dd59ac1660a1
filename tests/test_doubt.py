"""The refuter asked about a job: what it tells, what it asks for, and when `clear` is earned."""

from __future__ import annotations

from math import inf

import pytest

from connector_check.analysis.doubt import MOST_JOINTS, OPEN_ODDS, fault_odds, find_doubt, true_ohms
from connector_check.analysis.obligations import obligations
from connector_check.analysis.replay import replay
from connector_check.board.board import NEAR, Board
from connector_check.testlog.readings import OHMS, Entry
from tests.strategies import checked, entry, log, tiny_board
from tests.test_bridges import row_of_nets
from tests.test_findings import with_part
from tests.test_replay import GOOD

CONTACTS = "2 @+5V beep\n3 @D+ beep\n5 @TX beep\n"


def terminated() -> Board:
    """The tiny row with 75 ohm from D+ to ground, over which a meter may sound."""
    return with_part("D+, GND", 75, 75)


def good_readings(board: Board) -> list[Entry]:
    """As GOOD, with the ohms of the termination in place of the quiet between 3 and 4."""
    return [*log(board, GOOD.replace("3 4 quiet\n", "")), entry(board, 20, "3", "@GND", OHMS, 75.0)]


def test_without_parts_a_job_with_all_touches_is_clear():
    for shorts_only, text in ((True, GOOD), (False, GOOD + CONTACTS)):
        result = checked(tiny_board(), log(tiny_board(), text), shorts_only=shorts_only)
        assert (result.verdict, result.doubt) == ("clear", None)


def test_an_open_joint_bridged_to_a_terminated_line_sounds_to_ground_and_is_told():
    """4 beeps to ground over 3 and its 75 ohm, and 3 still reads 75: only ohms at 4 tell."""
    board = terminated()
    entries = good_readings(board)
    result = checked(board, entries)
    assert (result.verdict, result.parts) == ("unproven", ("unproven", "unproven"))
    assert result.doubt.told == "a board with joint 4 open and bridged to 3 would read the same"
    assert (set(result.doubt.pair), result.doubt.kind) == ({"4", "@GND"}, "ohms")
    answered = checked(board, [*entries, entry(board, 21, "4", "@GND", OHMS, 0.1)])
    assert (answered.verdict, answered.doubt) == ("clear", None)
    bad = checked(board, [*entries, entry(board, 21, "4", "@GND", OHMS, 75.0)])
    assert bad.verdict != "clear"


def test_a_large_part_is_not_searched_and_says_so():
    board = row_of_nets(*(f"N{i}" for i in range(MOST_JOINTS + 1)))
    doubt = find_doubt(replay(board, []), obligations(board, NEAR), True)
    assert (doubt.told, doubt.pair) == ("", None)
    assert doubt.left_out == ("not searched for a bad board that would read the same: more than 500 joints",)


@pytest.mark.parametrize(
    ("kind", "ohms", "allowed"),
    [
        ("beep", None, (0.0, 250.0, False)),
        ("seen clear", None, (0.0, inf, True)),
        # solder, however little it reads; over the range, what is no leak
        (OHMS, 3.0, (0.0, 3.56, False)),
        (OHMS, 75.0, (73.0, 77.0, False)),
        (OHMS, inf, (250.0, inf, False)),
        ("unsure", None, None),
    ],
)
def test_the_true_ohms_that_a_reading_allows(kind, ohms, allowed):
    board = tiny_board()
    standing = replay(board, [entry(board, 1, "3", "5", kind, ohms)])
    found = true_ohms(standing.readings[0], standing.meter)
    points = (board.number["3"], board.number["5"])
    assert found is None if allowed is None else found == (*points, pytest.approx(allowed[0]), *found[3:])
    if allowed is not None:
        assert found[3:] == (pytest.approx(allowed[1]) if allowed[1] < inf else inf, allowed[2])


def test_a_quiet_allows_no_ohms_at_which_the_meter_must_sound():
    board = tiny_board()
    standing = replay(board, log(board, "3 5 quiet"))
    _, _, least, most, by_eye = true_ohms(standing.readings[0], standing.meter)
    assert (least, most, by_eye) == (pytest.approx(standing.meter.sounds_below, rel=0.01), inf, False)
    assert least > standing.meter.sounds_below


def test_narrow_gaps_and_remarks_raise_the_odds_of_a_bridge():
    board = tiny_board()
    plain, seen = (replay(board, log(board, text)) for text in ("3 5 quiet", "3 5 quiet\n2 3 solder seen"))
    pair = frozenset(("2", "3"))
    assert fault_odds(seen)(pair) > fault_odds(plain)(pair) > 0
    assert fault_odds(seen)(frozenset(("5", "6"))) == fault_odds(plain)(frozenset(("5", "6")))
    assert fault_odds(plain)(frozenset(("4",))) == OPEN_ODDS
