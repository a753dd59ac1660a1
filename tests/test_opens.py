"""Opens: which joints are named, by which readings, and where nothing tells which of two groups is the open one."""

from __future__ import annotations

from math import inf

import pytest

from connector_check.analysis.check import check
from connector_check.analysis.opens import find_opens
from connector_check.analysis.replay import replay
from connector_check.analysis.result import Open
from connector_check.board.board import Board
from connector_check.board.making import make_board, noted_board
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.testlog.job import GoodBoard, Job
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import LEADS_GOOD, Entry
from tests.strategies import TINY_YAML, checked, entry, log, tiny_board

TRACK = "open joint or broken track"
FITTED = [
    ("vga-de15", ("1", "6"), "[74, 76]"),
    ("de9-can", ("2", "7"), "[118, 122]"),
    ("rj45-1000", ("1", "2"), "[0.2, 1.2]"),
]
"""A termination of a colour, that of a bus, and the winding of a line: pairs that must sound or read so once fitted."""


def opens_of(text: str) -> list[Open]:
    board = tiny_board()
    return find_opens(replay(board, log(board, text)))


def five_grounds() -> Board:
    text = TINY_YAML.replace("contacts: [1, 4, 7]", "contacts: [1, 2, 4, 6, 7]")
    lines = [line for line in text.splitlines() if "contacts: [2]" not in line and "contacts: [6]" not in line]
    pin_map = parse_pin_map("\n".join(lines).encode(), "tiny.yaml")
    return Board(pin_map, pin_map.layouts[0])


def test_a_ground_joint_silent_to_its_board_is_open():
    assert opens_of("4 @GND quiet\n1 @GND beep\n4 5 quiet") == [
        Open("GND", "4", f"4 does not reach GND on the board: {TRACK}", (1,), "measured")
    ]


def test_a_ground_joint_silent_to_the_board_alone_is_open_though_no_fellow_was_touched():
    assert [(o.joint, o.why) for o in opens_of("7 @GND quiet")] == [
        ("7", f"7 does not reach GND on the board: {TRACK}")
    ]


def test_a_joint_that_follows_from_what_is_joined_to_it_is_inferred():
    """7 beeps to 4, 4 is silent to the board: 7 is open as well, though no quiet names it."""
    found = opens_of("4 @GND quiet\n4 7 beep\n1 @GND beep")
    assert [(o.joint, o.readings, o.known) for o in found] == [("4", (1,), "measured"), ("7", (1,), "inferred")]


def test_an_open_is_measured_when_one_quiet_of_several_names_the_joint():
    found = opens_of("4 @GND quiet\n4 7 beep\n7 5 quiet\n1 @GND beep")
    assert [(o.joint, o.readings, o.known) for o in found] == [("4", (1,), "measured"), ("7", (1,), "measured")]


def test_the_readings_of_an_open_are_those_within_its_net():
    """A quiet between 4 and the signal 5 says nothing of the joint's own net."""
    (found,) = opens_of("4 5 quiet\n4 1 quiet\n4 @GND quiet\n1 @GND beep\n3 4 quiet")
    assert found.readings == (2, 3)


def test_of_two_silent_halves_neither_is_named_and_both_are_asked_to_the_board():
    """One of them is open, or both; which, only the board's ground tells."""
    board = five_grounds()
    result = checked(board, log(board, "1 2 beep\n4 6 beep\n1 4 quiet"))
    assert (result.opens, result.verdict) == ((), "unproven")
    assert {("1", "@GND"), ("4", "@GND"), ("7", "@GND")} <= set(result.unproven)


@pytest.mark.parametrize(
    ("text", "joints"),
    [
        # three joined to each other outnumber one, which proves nothing: these three may be open and bridged
        ("1 2 beep\n2 4 beep\n1 7 quiet", []),
        ("1 2 beep\n2 4 beep\n1 7 quiet\n2 @GND beep", ["7"]),
        ("1 2 beep\n4 6 beep\n1 4 quiet\n1 7 quiet", []),
        # a touch to the board tells, even where fewer reach it
        ("1 2 beep\n4 6 beep\n1 4 quiet\n4 @GND beep", ["1", "2"]),
        # 1 and 2 do not reach the board, so their silence to 4 and 6 says nothing against these
        ("1 2 beep\n4 6 beep\n1 4 quiet\n1 @GND quiet", ["1", "2"]),
        ("1 2 beep\n4 6 beep\n1 4 quiet\n4 @GND quiet", ["4", "6"]),
    ],
)
def test_which_group_is_open(text, joints):
    board = five_grounds()
    found = find_opens(replay(board, log(board, text)))
    assert [o.joint for o in found] == joints


def test_a_signal_silent_to_its_board_point_is_open():
    assert opens_of("3 @D+ quiet\n5 @TX beep") == [
        Open("D+", "3", f"3 does not reach its board point @D+: {TRACK}", (1,), "measured")
    ]


def test_silence_between_two_nets_is_no_open():
    assert [o.joint for o in opens_of("3 2 quiet\n5 4 quiet")] == []


def with_choke(low: float, high: float, absent: str = "no", between: str = "TX, D+") -> Board:
    part = f"paths:\n  - {{between: [{between}], ohms: [{low}, {high}], absent: {absent}, why: choke}}\nlayouts:"
    pin_map = parse_pin_map(TINY_YAML.replace("layouts:", part).encode(), "tiny.yaml")
    return Board(pin_map, pin_map.layouts[0])


@pytest.mark.parametrize(
    ("board", "meter", "kind", "found"),
    [
        (with_choke(0.2, 5), Meter(10, 250), "quiet", True),
        (with_choke(0.2, 5), Meter(10, 250), "chirp", True),
        (with_choke(0.2, 5), Meter(10, 250), "unsure", False),
        (with_choke(0.2, 5), Meter(10, 250), "beep", False),
        (with_choke(0.2, 5, "may"), Meter(10, 250), "quiet", False),
        # the part may read 10 % and half an ohm more: a meter that must sound only below 6 ohm may be silent over it
        (with_choke(0.2, 5), Meter(6, 250), "quiet", False),
        (with_choke(0.2, 5), Meter(6.1, 250), "quiet", True),
        (with_choke(70, 80), Meter(10, 250), "quiet", False),
        (with_choke(70, 80), Meter(100, 250), "quiet", True),
        (with_choke(0.2, 5, between="TX, NC"), Meter(10, 250), "quiet", False),
    ],
)
def test_silence_over_a_part_is_an_open_only_where_the_part_must_sound(board, meter, kind, found):
    opens = find_opens(replay(board, log(board, f"3 5 {kind}"), meter))
    assert [(o.net, o.joint, o.readings) for o in opens] == ([("D+", "3", (1,))] if found else [])


def test_a_silent_part_is_told_with_its_ohms_and_once_a_pair():
    board = with_choke(0.2, 5)
    (opened,) = find_opens(replay(board, log(board, "3 5 quiet\n3 5 chirp")))
    assert opened.readings == (2,)
    assert opened.why == "3 does not conduct to 5 over choke (0.2 to 5 ohm): open part, or an open joint at either end"


def test_a_quiet_within_one_net_is_no_silent_part():
    board = with_choke(0.2, 5, between="TX, GND")
    opens = find_opens(replay(board, log(board, "4 @GND quiet\n1 @GND beep")))
    assert [o.why for o in opens] == [f"4 does not reach GND on the board: {TRACK}"]


@pytest.mark.parametrize(
    ("ohms", "found"), [(5.0, False), (6.1, False), (249.0, False), (250.0, True), (4700.0, True), (None, True)]
)
def test_ohms_that_no_leak_reads_are_an_open_as_silence_is(ohms, found):
    """The part reads 0.2 to 5 ohm, 6 with its tolerance; a leak is under 250; None is over the range."""
    board = with_choke(0.2, 5)
    opens = find_opens(replay(board, [entry(board, 1, "3", "5", "ohms", ohms)]))
    assert [o.joint for o in opens] == (["3"] if found else [])


@pytest.mark.parametrize(("ohms", "found"), [(330.0, False), (440.5, False), (440.6, True)])
def test_a_part_that_reads_its_most_is_whole(ohms, found):
    """300 to 400 ohm, with 10 % and half an ohm beside it: 440.5 is the most that the part reads."""
    board = with_choke(300, 400)
    opens = find_opens(replay(board, [entry(board, 1, "3", "5", "ohms", ohms)]))
    assert [o.joint for o in opens] == (["3"] if found else [])


@pytest.mark.parametrize(("map_id", "pair", "ohms"), FITTED)
@pytest.mark.parametrize("value", [inf, 4700.0])
def test_ol_and_kilohms_over_a_part_that_the_notes_call_fitted_are_never_clear(tmp_path, map_id, pair, ohms, value):
    """Every path of the shipped maps may be absent; the board notes say which part is fitted on this board."""
    nets = [find_pin_map(map_id).net_of[name].name for name in pair]
    part = f"  - {{between: [{', '.join(nets)}], ohms: {ohms}, absent: no, why: fitted here}}\n"
    notes = tmp_path / "notes.yaml"
    notes.write_text(f"format: 1\nmap: {map_id}\npaths:\n{part}")
    board = noted_board(make_board(find_pin_map(map_id), ""), str(notes))
    leads = Entry(0, LEADS_GOOD, ())
    read = [leads, entry(board, 1, *pair, "ohms", value), leads]
    result = checked(board, read)
    assert result.verdict == "rework" and [found.joint for found in result.opens] == [pair[0]]
    assert [found.why for found in result.opens if "fitted here" in found.why]
    # and so it stays beside a reference on which the pair conducts
    good = GoodBoard(board, log(board, f"{pair[0]} {pair[1]} beep"))
    job = Job(board, read, good_boards=(good,))
    assert [found.joint for found in check(job).opens] == [pair[0]]


@pytest.mark.parametrize(
    ("kind", "value", "found"), [("quiet", None, True), ("seen clear", None, False), ("ohms", 75.0, False)]
)
def test_a_part_is_not_open_for_what_is_no_silence(kind, value, found):
    """70 to 80 ohm, on a meter that must sound there: no solder seen between, or the part's own ohms, is no silence."""
    board = with_choke(70, 80)
    opens = find_opens(replay(board, [entry(board, 1, "3", "5", kind, value)], Meter(100, 250)))
    assert bool(opens) is found
