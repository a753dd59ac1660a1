"""What readings mean all together where parts conduct (T8): worked cases on the tiny row with one or two parts."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import pytest

from connector_check.analysis.meaning import DOUBTFUL, JOINS, LEAK, PART, PARTS, RESISTIVE, judge, net_ohms
from connector_check.analysis.replay import Standing, replay
from connector_check.board.board import Board
from connector_check.board.making import make_board
from connector_check.board.ohms import margin
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import DesignPath, Joint, Layout, Net
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.testlog.meter import Meter
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


def test_a_join_once_proven_stays_proven():
    """2 is silent to both its neighbours, so nothing but 6 can have sounded there, although a part hangs on 6 (T8)."""
    board = with_part("NC, TX", 100, 100)
    standing = replay(board, log(board, "1 2 quiet\n2 3 quiet\n2 6 beep"))
    assert joined(standing, "2", "6")
    assert [reading.meaning for reading in standing.readings] == [PARTS, PARTS, JOINS] and unsettled(standing) == {}


def test_solder_seen_makes_no_join_of_a_leak():
    board = tiny_board()
    standing = replay(board, [ohms(board, 1, "3", "5", 40), entry(board, 2, "3", "5", SOLDER_SEEN)])
    assert not joined(standing, "3", "5") and unsettled(standing) == {("3", "5"): LEAK}


def test_a_pair_seen_clear_that_sounds_by_itself_is_a_contradiction():
    """Unless other pairs join the two, eyes and tone cannot both be right."""
    board = tiny_board()
    (conflict,) = replay(board, log(board, "2 3 beep\n2 3 seen clear")).knowledge.conflicts()
    assert set(conflict.quiet) == {board.number["2"], board.number["3"]}
    assert not replay(board, log(board, "2 5 beep\n5 3 beep\n2 3 seen clear")).knowledge.conflicts()


def test_solder_seen_alone_joins_only_over_a_part_that_ohms_cannot_tell_from_it():
    """Elsewhere it is a remark that raises the site; a touch tells."""
    for board, together in (
        (with_part("TX, D+", 0.2, 5), True),
        (with_part("TX, D+", 70, 80), False),
        (with_part("TX, NC", 0.2, 5), False),
        (tiny_board(), False),
    ):
        assert joined(replay(board, [entry(board, 1, "3", "5", SOLDER_SEEN)]), "3", "5") is together


def test_a_tone_after_ohms_leaves_the_ohms_to_settle():
    board = with_part("TX, D+", 0.2, 5)
    standing = replay(board, [ohms(board, 1, "3", "5", 0.4), *log(board, "3 5 beep")])
    assert unsettled(standing) == {("3", "5"): PART}


def test_nothing_is_looked_at_behind_the_joints():
    """A winding from A to B: ohms at the first board point, which comes right after the joints, ask for no eyes."""
    tiny = tiny_board().pin_map
    nets = (Net("A", "data", ("1",)), Net("B", "data", ("2",)))
    layout = Layout("row", "", "invented", tuple(Joint(c, (c,), 0.5 * int(c), 0, 0.3, 1.0) for c in "12"))
    path = DesignPath(("A", "B"), 0.2, 5, "winding")
    board = Board(replace(tiny, nets=nets, layouts=(layout,), paths=(path,)), layout)
    assert board.points[len(board.joints)] == "@A"
    for pair, settled in ((("2", "1"), {("2", "1"): PART}), (("2", "@A"), {})):
        standing = replay(board, [ohms(board, 1, *pair, 0.4)])
        assert unsettled(standing) == settled
        assert standing.closed.presumed.apart(*(board.number[name] for name in pair)) is (settled == {})


def test_a_leak_where_no_part_runs_stays_one_beside_a_short_elsewhere():
    board = with_parts(("D+, GND", 75, 75))
    standing = replay(board, [ohms(board, 1, "3", "2", 40), *log(board, "5 6 beep\n4 5 quiet\n3 4 quiet\n6 7 quiet")])
    assert joined(standing, "5", "6") and unsettled(standing) == {("3", "2"): LEAK}


@pytest.mark.parametrize(
    ("a", "b", "kind", "value", "meaning"),
    [
        ("3", "2", SEEN_CLEAR, None, "parts"),
        ("3", "2", "unsure", None, "nothing"),
        ("3", "@GND", "volts", 0.5, "parts"),
        # the shell may touch ground: what it reads to it is information
        ("SH1", "4", OHMS, 30.0, "nothing"),
        ("1", "4", OHMS, 30.0, "resistive"),
        ("3", "2", OHMS, 30.0, "leak"),
        ("3", "2", OHMS, 249.9, "leak"),
        ("3", "2", OHMS, 250.0, "parts"),
        ("3", "2", OHMS, 4.9, "joins"),
        # from the limit up it is no solder
        ("3", "2", OHMS, 5.0, "leak"),
    ],
)
def test_the_meaning_of_one_reading_where_no_part_is(a, b, kind, value, meaning):
    board = tiny_board()
    assert judge(board, Meter(), entry(board, 1, a, b, kind, value), lambda _a, _b: inf, value) == meaning


@pytest.mark.parametrize(("floor", "meaning"), [(249.9, DOUBTFUL), (250.0, DOUBTFUL), (250.1, JOINS)])
def test_a_tone_joins_only_where_parts_read_more_than_any_meter_sounds_to(floor, meaning):
    """The meter is silent above 250 ohm; exactly there it may still sound (T8)."""
    board = tiny_board()
    assert judge(board, Meter(10, 250), entry(board, 1, "3", "2", "beep"), lambda _a, _b: floor) == meaning


def test_a_leak_that_reads_high_at_last_is_settled():
    board = tiny_board()
    assert unsettled(replay(board, [ohms(board, 1, "3", "2", 40), ohms(board, 2, "3", "2", 4700)])) == {}


def test_what_is_to_be_cleaned_or_lies_behind_the_joints_is_not_asked_by_one_more_touch():
    """For the plan a leak counts as apart, and so do ohms of a winding at a board point, where nothing can be seen."""
    board = tiny_board()
    standing = replay(board, [ohms(board, 1, "3", "2", 40)])
    pair = board.number["2"], board.number["3"]
    assert standing.closed.presumed.apart(*pair) and not standing.knowledge.apart(*pair)
    board = with_part("TX, D+", 0.2, 5)
    standing = replay(board, [ohms(board, 1, "5", "@D+", 0.4)])
    assert standing.closed.presumed.apart(board.number["5"], board.number["@D+"])
    # between two joints eyes can tell, so it stays open
    standing = replay(board, [ohms(board, 1, "5", "3", 0.4)])
    assert standing.closed.presumed.status(board.number["5"], board.number["3"]) == "unknown"


def test_the_leads_own_ohms_come_off_ohms_alone_and_leave_none_below_nothing():
    def net(kind: str, value: float | None = None) -> float | None:
        return net_ohms(Entry(1, kind, (0, 1), value), 0.3)

    assert (net(OHMS, 0.5), net(OHMS, 0.1), net(OHMS, inf)) == (pytest.approx(0.2), 0.0, inf)
    assert (net("beep"), net("volts", 0.5)) == (None, None)


def test_a_tone_that_a_part_may_carry_is_left_open_by_the_plan():
    """Neither one conductor nor apart: ohms are asked there, between the joints as at a board point."""
    board = with_part("D+, GND", 75, 75)
    for ground in ("@GND", "4"):
        presumed = replay(board, log(board, f"3 {ground} beep")).closed.presumed
        assert presumed.status(board.number["3"], board.number[ground]) == "unknown"


def test_ohms_join_only_where_they_and_what_they_are_trusted_to_stay_under_the_parts():
    """4 ohm may be 4.58: 2 % and half an ohm."""
    board, read = tiny_board(), entry(tiny_board(), 1, "3", "2", OHMS, 4.0)
    for floor, meaning in ((4.0 + margin(4.0), PART), (4.6, JOINS)):
        assert judge(board, Meter(), read, lambda _a, _b, floor=floor: floor, 4.0) == meaning


def test_a_part_that_ohms_show_is_told_once_however_often_the_readings_are_judged():
    """The join of 1 has the readings judged once more."""
    board = with_part("TX, D+", 70, 80)
    standing = replay(board, [ohms(board, 1, "1", "@GND", 0.3), ohms(board, 2, "3", "5", 75)])
    assert joined(standing, "1", "@GND")
    assert [board.pair(pair) for pair in standing.closed.through] == [("3", "5")]


def test_low_ohms_that_a_part_reads_too_count_as_a_join_for_the_plan():
    board = with_part("+5V, NC", 0.7, 1)
    assert presumed_joined(replay(board, [ohms(board, 1, "1", "@GND", 0.3)]), "1", "@GND")
