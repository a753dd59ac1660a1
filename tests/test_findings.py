"""What is still to be measured, leaks and contradictions, on worked cases."""

from __future__ import annotations

import pytest

from connector_check.analysis.findings import find_conflicts, find_leaks, find_measures
from connector_check.analysis.replay import replay
from connector_check.analysis.result import ConflictSet, Leak
from connector_check.board.board import Board
from connector_check.board.making import make_board
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.testlog.readings import BEEP, LEADS_GOOD, OHMS, SEEN_CLEAR, SOLDER_SEEN, Entry
from tests.strategies import TINY_YAML, entry, log, tiny_board


def with_part(nets: str, low: float, high: float) -> Board:
    part = f"paths:\n  - {{between: [{nets}], ohms: [{low}, {high}], why: made}}\nlayouts:"
    pin_map = parse_pin_map(TINY_YAML.replace("layouts:", part).encode(), "tiny.yaml")
    return Board(pin_map, pin_map.layouts[0])


def leaks_of(*readings: tuple[str, str, float], leads: float = 0.0) -> list[Leak]:
    board = tiny_board()
    entries = [entry(board, line, a, b, OHMS, ohms) for line, (a, b, ohms) in enumerate(readings, 2)]
    return find_leaks(replay(board, [Entry(1, LEADS_GOOD, (), leads), *entries]))


def test_ohms_between_nets_that_must_be_apart_are_a_leak_to_clean():
    (leak,) = leaks_of(("5", "3", 71.0))
    assert (leak.pair, leak.nets, leak.ohms) == (("5", "3"), ("D+", "TX"), 71.0)
    assert leak.why == (
        "71 ohm between solder and silence: leak (flux residue, whisker or damaged part): clean, dry, measure again"
    )


def test_ohms_within_one_net_are_a_resistive_joint_to_reflow():
    (leak,) = leaks_of(("4", "1", 71.0))
    assert (leak.pair, leak.nets, leak.ohms) == (("4", "1"), ("GND",), 71.0)
    assert leak.why == "71 ohm between solder and silence: resistive joint: reflow it, measure again"


def test_leaks_come_before_resistive_joints_and_their_ohms_to_the_milliohm():
    found = leaks_of(("1", "4", 20.0), ("3", "5", 30.1236), leads=0.1)
    assert [(leak.pair, leak.ohms) for leak in found] == [(("3", "5"), 30.024), (("1", "4"), 19.9)]


def test_the_nets_of_a_leak_are_in_the_order_of_their_names():
    found = leaks_of(*((a, b, 40.0) for a in "2356" for b in "2356" if a != b))
    assert len(found) == 6
    assert all(leak.nets == tuple(sorted(leak.nets)) for leak in found)


def vga_leaks(*readings: tuple[str, str, float], layout: str = "") -> list[Leak]:
    board = make_board(find_pin_map("vga-de15"), layout)
    return find_leaks(
        replay(board, [entry(board, line, a, b, OHMS, ohms) for line, (a, b, ohms) in enumerate(readings)])
    )


def test_half_a_termination_is_told_as_the_likely_short_of_two():
    """Two of 75 ohm side by side read 37.5: RED can only be joined to GREEN, its one neighbour with a termination."""
    for ground in ("@GND", "6"):
        (leak,) = vga_leaks(("1", ground, 37.5))
        assert leak.likely is not None and leak.likely.places == (("1", "2"),)
        assert leak.why == (
            "37.5 ohm is what GREEN and RED joined would read (35 to 40 ohm): likely solder, 1 - 2; measure ohms there "
            "first"
        )
    # 3 - 8 counts for nothing: BLUE on its return would read 0 ohm
    (leak,) = vga_leaks(("3", "@GND", 37.5))
    assert leak.likely is not None and leak.likely.places == (("2", "3"),)


def test_every_likely_short_is_told_the_nearest_gap_first():
    (leak,) = vga_leaks(("2", "@GND", 37.5))
    assert leak.likely is not None
    assert (leak.likely.joints, leak.likely.alternatives, leak.likely.less_likely) == (("1", "2"), (("2", "3"),), ())
    assert "1 - 2 or 2 - 3" in leak.why


def test_ohms_of_three_terminations_are_told_once_two_are_known_to_be_joined():
    assert vga_leaks(("1", "@GND", 25.0))[0].likely is None
    leaks = vga_leaks(("2", "3", 0.4), ("1", "@GND", 25.0))
    assert [leak.likely.places for leak in leaks if leak.likely] == [(("1", "2"),)]


def test_a_likely_short_that_ohms_rule_out_is_a_leak_again_and_one_that_they_show_is_none():
    (leak,) = vga_leaks(("1", "@GND", 37.5), ("1", "2", 150.0))
    assert leak.likely is None and "leak (flux residue" in leak.why
    assert vga_leaks(("1", "@GND", 37.5), ("1", "2", 0.4)) == []


def test_ohms_that_no_two_nets_read_stay_a_leak():
    assert [leak.likely for leak in vga_leaks(("1", "@GND", 50.0), ("13", "@GND", 37.5), ("9", "@GND", 37.5))] == [
        None
    ] * 3
    assert [leak.likely for leak in leaks_of(("3", "5", 37.5))] == [None]


def test_no_ohms_no_leaks():
    assert leaks_of(("3", "5", 0.3), ("2", "3", 4700.0)) == []


@pytest.mark.parametrize(
    ("low", "high", "tell"),
    [
        (70, 80, "the part reads 70 to 80 ohm, solder under 5 ohm"),
        # 10 % and 0.5 ohm off the least the part reads, two bridges in series stay under it: from 11.7 ohm up
        (11.7, 12, "the part reads 11.7 to 12 ohm, solder under 5 ohm"),
        (11.6, 12, "the part reads 11.6 to 12 ohm, solder hardly less: look as well"),
        (0.5, 8, "the part reads 0.5 to 8 ohm, solder hardly less: look as well"),
        (0, 1, "the part reads 0 to 1 ohm, solder hardly less: look as well"),
    ],
)
def test_a_beep_over_a_part_asks_for_ohms_and_says_which_mean_solder(low, high, tell):
    board = with_part("TX, D+", low, high)
    (measure,) = find_measures(replay(board, [entry(board, 1, "5", "3", BEEP)]))
    assert (measure.pair, measure.nets) == (("5", "3"), ("D+", "TX"))
    assert (measure.expected_ohms, measure.solder_below_ohms) == ((low, high), 5.0)
    assert measure.why == f"made: {tell}; measure ohms here"


def test_a_pair_that_beeped_twice_is_asked_once():
    board = with_part("TX, D+", 70, 80)
    assert len(find_measures(replay(board, log(board, "3 5 beep\n3 5 beep")))) == 1


def test_ohms_that_the_part_reads_as_solder_does_ask_for_eyes_until_they_have_looked():
    board = with_part("TX, D+", 0.2, 5)
    read = [entry(board, 1, "5", "3", OHMS, 0.4)]
    (measure,) = find_measures(replay(board, read))
    assert measure.why == (
        "0.4 ohm may be made (0.2 to 5 ohm) or solder: look at the two under magnification, then "
        "'5,3,seen clear' or 'solder seen'"
    )
    for looked in (SEEN_CLEAR, SOLDER_SEEN):
        assert find_measures(replay(board, [*read, entry(board, 2, "5", "3", looked)])) == []


def test_a_beep_asks_for_ohms_where_parts_elsewhere_may_carry_it():
    """3 may be bridged to 2 and 5 to 6: then the part between +5V and NC sounds between 3 and 5."""
    board = with_part("+5V, NC", 1, 2)
    (measure,) = find_measures(replay(board, [entry(board, 1, "3", "5", BEEP)]))
    assert measure.expected_ohms is None
    assert measure.why == (
        "no part joins these two, but parts behind joints not yet proven apart may sound: measure ohms here"
    )
    apart = log(board, "3 5 beep\n2 3 quiet\n5 6 quiet\n3 4 quiet\n4 5 quiet")
    assert find_measures(replay(board, apart)) == []


def test_a_contradiction_names_the_quiet_the_path_and_their_lines():
    board = tiny_board()
    text = "1 2 beep\n2 3 beep\n2 1 beep\n1 3 quiet\n5 6 beep\n4 5 quiet"
    assert find_conflicts(replay(board, log(board, text))) == [
        ConflictSet(("1", "3"), (("1", "2"), ("2", "3")), (1, 2, 4))
    ]
    assert find_conflicts(replay(board, log(board, "1 2 beep\n2 3 quiet"))) == []
    late = replay(board, [*log(board, "1 2 beep"), entry(board, 8, "1", "2", "quiet")])
    assert find_conflicts(late)[0].readings == (1, 8)


def test_a_quiet_on_the_whole_shell_is_named_as_it_was_touched():
    board = tiny_board()
    found = find_conflicts(replay(board, log(board, "SH 5 quiet\nSH1 5 beep")))
    assert found == [ConflictSet(("SH", "5"), (("SH1", "5"),), (1, 2))]
    direct = find_conflicts(replay(board, log(board, "SH1 5 quiet\nSH1 5 beep")))
    assert direct == [ConflictSet(("SH1", "5"), (("SH1", "5"),), (1, 2))]


def test_a_quiet_between_the_shell_and_its_own_joint_may_contradict_a_beep_at_another():
    """SH to SH1 is silent, so SH2 counts as silent to SH1; yet the two beeped."""
    board = tiny_board()
    for quiet in ("SH SH1 quiet", "SH1 SH quiet"):
        found = find_conflicts(replay(board, log(board, f"{quiet}\nSH1 SH2 beep")))
        assert found == [ConflictSet(("SH", "SH1"), (("SH2", "SH1"),), (1, 2))]
