"""What readings mean all together where parts conduct (T8): worked cases on the tiny row with one or two parts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from connector_check.analysis.meaning import DOUBTFUL, LEAK, PART, PARTS, RESISTIVE
from connector_check.analysis.replay import Standing, replay
from connector_check.board.board import Board
from connector_check.board.making import make_board
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import DesignPath
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.testlog.readings import OHMS, SEEN_CLEAR, SOLDER_SEEN, Entry
from tests.strategies import TINY_YAML, entry, log, tiny_board
from tests.test_findings import with_part


def with_parts(*parts: tuple[str, float, float]) -> Board:
    lines = [f"  - {{between: [{nets}], ohms: [{low}, {high}], why: made}}" for nets, low, high in parts]
    text = TINY_YAML.replace("layouts:", "\n".join(["paths:", *lines, "layouts:"]))
    pin_map = parse_pin_map(text.encode(), "tiny.yaml")
    return Board(pin_map, pin_map.layouts[0])


def ohms(board: Board, line: int, a: str, b: str, value: float) -> Entry:
    return entry(board, line, a, b, OHMS, value)


def unsettled(standing: Standing) -> dict[tuple[str, str], str]:
    found = [standing.reading(number) for number in standing.closed.unsettled]
    return {standing.board.pair(reading.entry.points): reading.meaning for reading in found}


def joined(standing: Standing, a: str, b: str) -> bool:
    number = standing.board.number
    return standing.knowledge.joined(number[a], number[b])


def apart(standing: Standing, a: str, b: str) -> bool:
    number = standing.board.number
    return standing.knowledge.apart(number[a], number[b])


def presumed_joined(standing: Standing, a: str, b: str) -> bool:
    number = standing.board.number
    return standing.closed.presumed.joined(number[a], number[b])


def test_without_parts_every_tone_joins():
    standing = replay(tiny_board(), log(tiny_board(), "1 @GND beep"))
    assert joined(standing, "1", "@GND") and standing.closed.presumed is standing.knowledge


def test_a_tone_within_one_net_joins_only_once_no_part_can_have_carried_it():
    """A 1 ohm part from +5V to NC: open joint 1 on 2 and joint 6 on 7 sound from 1 to ground too, in either order."""
    board = with_part("+5V, NC", 1, 1)
    lines = ["1 @GND beep", "1 2 quiet", "1 6 quiet"]
    for text in ("\n".join(lines), "\n".join(reversed(lines))):
        assert joined(replay(board, log(board, text)), "1", "@GND")
    for kept in (lines[:1], lines[:2]):
        standing = replay(board, log(board, "\n".join(kept)))
        assert not joined(standing, "1", "@GND")
        assert presumed_joined(standing, "1", "@GND"), "the plan goes on as if"
    (reading, *_) = replay(board, log(board, lines[0])).readings
    assert reading.meaning == DOUBTFUL


def test_low_ohms_join_where_the_parts_read_well_more():
    board = with_part("+5V, NC", 70, 80)
    assert joined(replay(board, [ohms(board, 1, "1", "@GND", 0.3)]), "1", "@GND")
    near = with_part("+5V, NC", 0.7, 1)
    standing = replay(near, [ohms(near, 1, "1", "@GND", 0.3)])
    assert not joined(standing, "1", "@GND") and standing.readings[0].meaning == PART


@pytest.mark.parametrize(("looked", "together"), [(SEEN_CLEAR, False), (SOLDER_SEEN, True)])
def test_ohms_of_a_winding_part_nothing_until_eyes_tell(looked, together):
    board = with_part("TX, D+", 0.2, 5)
    read = ohms(board, 1, "3", "5", 0.4)
    standing = replay(board, [read])
    assert not apart(standing, "3", "5") and not joined(standing, "3", "5")
    assert unsettled(standing) == {("3", "5"): PART}
    standing = replay(board, [read, entry(board, 2, "3", "5", looked)])
    assert (joined(standing, "3", "5"), apart(standing, "3", "5")) == (together, not together)
    assert unsettled(standing) == {}


def test_ohms_inside_a_part_that_may_read_nothing_show_nothing_apart():
    """The published map of a 3.5 mm socket: R beeps to S, R to RN reads 0.05 ohm; S - RN may still be joined."""
    board = make_board(find_pin_map("trs-3.5"), "")
    standing = replay(board, [*log(board, "R S beep"), ohms(board, 2, "R", "RN", 0.05)])
    assert not apart(standing, "S", "RN")


def test_ohms_of_a_part_well_above_solder_show_the_pair_apart():
    board = with_part("TX, D+", 70, 80)
    standing = replay(board, [ohms(board, 1, "3", "5", 75)])
    assert apart(standing, "3", "5") and standing.readings[0].meaning == PARTS
    assert [board.pair(pair) for pair in standing.closed.through] == [("3", "5")]


def test_of_several_readings_of_a_pair_ohms_are_what_is_left_to_settle():
    board = with_part("TX, D+", 0.2, 5)
    text = log(board, "3 5 beep\n3 5 beep")
    assert unsettled(replay(board, text)) == {("3", "5"): DOUBTFUL}
    assert unsettled(replay(board, [*text, ohms(board, 9, "3", "5", 0.4)])) == {("3", "5"): PART}


def test_a_resistive_joint_stays_to_be_reflowed_though_a_tone_joins_it():
    board = tiny_board()
    standing = replay(board, [*log(board, "4 @GND beep"), ohms(board, 2, "4", "@GND", 20)])
    assert joined(standing, "4", "@GND")
    assert unsettled(standing) == {("4", "@GND"): RESISTIVE}


def test_ohms_of_two_terminations_side_by_side_are_no_leak_once_their_nets_are_joined():
    """75 ohm each from D+ and TX to ground; 37.5 ohm is what both read together."""
    board = with_parts(("D+, GND", 75, 75), ("TX, GND", 75, 75))
    half = ohms(board, 1, "3", "@GND", 37.5)
    assert unsettled(replay(board, [half])) == {("3", "@GND"): LEAK}
    standing = replay(board, [half, ohms(board, 2, "3", "5", 0.1)])
    assert joined(standing, "3", "5") and unsettled(standing) == {}
    # a lower one is explained by no part
    lower = replay(board, [ohms(board, 1, "3", "@GND", 20), ohms(board, 2, "3", "5", 0.1)])
    assert unsettled(lower) == {("3", "@GND"): LEAK}


def test_a_quiet_on_the_shell_is_one_on_each_of_its_joints():
    board = tiny_board()
    standing = replay(board, log(board, "SH 5 quiet"))
    assert apart(standing, "SH1", "5") and apart(standing, "SH2", "5") and not apart(standing, "SH1", "6")


def test_the_eye_rules_out_solder_between_two_joints_and_no_way_around_it():
    """5 is sound and reads 1.0 ohm to ground: 11 lies on ground over 13, and half an ohm by design leads from 5 to 11.

    Seen clear between 5 and 10 (on ground over 8) and around 11, nothing shows that 5 is joined to anything.
    """
    pin_map = find_pin_map("mini-displayport")
    part = DesignPath(("ML0-", "ML1-"), 0.45, 0.55, "half an ohm by the notes")
    board = Board(replace(pin_map, paths=(*pin_map.paths, part)), pin_map.layouts[0])
    readings = [("10", "@GND", 0.5), ("11", "@GND", 0.4), ("5", "@GND", 1.0), ("5", "10", 1.4), ("11", "10", 0.9)]
    entries = [ohms(board, line, *reading) for line, reading in enumerate(readings, 1)]
    entries += [entry(board, 10 + i, a, b, SEEN_CLEAR) for i, (a, b) in enumerate([("5", "10"), ("11", "10")])]
    standing = replay(board, entries)
    assert not joined(standing, "5", "10") and not joined(standing, "5", "@GND")
