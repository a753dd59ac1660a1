"""The rework list and the rounds."""

from __future__ import annotations

import dataclasses
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.analysis.examine import Settings
from connector_check.analysis.result import ReworkStep
from connector_check.analysis.rework import HARM, ROW
from connector_check.board.board import Board
from connector_check.board.making import make_board
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap
from connector_check.probing.session import Session
from connector_check.renderers.text import result_lines
from connector_check.testlog.readings import MASK_LOST, OHMS, REWORKED, Entry
from connector_check.testlog.rows import Row, entry_of
from tests.strategies import SimulatedBoard, boards, checked, entry, log, probe_until_settled, random_faults, tiny_board
from tests.test_bridges import row_of_nets
from tests.test_findings import with_part
from tests.test_replay import GOOD

FAULTY = "@GND 1 beep\n@GND 4 beep\n@GND 7 quiet\n1 2 beep\n2 3 quiet\n3 4 quiet\n4 5 beep\n5 6 quiet\n6 7 quiet"


def placed(spots: dict[str, tuple[float, float]], *nets: Net) -> Board:
    joints = tuple(Joint(name, (name,), x, y, 0.3, 0.3) for name, (x, y) in spots.items())
    layout = Layout("l", "", "invented", joints)
    return Board(PinMap("m", "m", "", (), nets, {}, (layout,)), layout)


def two_rows() -> Board:
    """5 and 6 in the lower row at the left; 1 to 4 in the upper one, a hair out of line."""
    spots = {"5": (0, 2.0), "6": (1, 2.0), "3": (3, 0.04), "4": (4, 0.0), "1": (1, 0.0), "2": (2, 0.04)}
    return placed(spots, *(Net(name, "data", (str(i),)) for i, name in enumerate("ACDEBF", 1)))


def built_with_harm() -> Board:
    spots = {str(i): (0.5 * i, 0.0) for i in range(1, 12)}
    return placed(
        spots,
        Net("GND", "ground", ("1", "4", "7"), must_join=True),
        Net("5V", "power", ("2",), volts=5.0),
        Net("X", "data", ("3",)),
        Net("S", "data", ("6",)),
        Net("T", "data", ("8",)),
        Net("U", "data", ("9",)),
        Net("W", "data", ("10",)),
        Net("Y", "data", ("11",)),
        Net("12V", "power", ("5",), volts=12.0),
    )


def test_orders():
    board = tiny_board()
    text = "@GND 1 quiet\n@GND 4 beep\n@GND 7 beep\n2 3 beep"
    by_row = checked(board, log(board, text), order="row").rework
    assert [(s.step, s.joints, s.harm) for s in by_row] == [(1, ("1",), "open"), (2, ("2", "3"), "dead-signal")]
    by_harm = checked(board, log(board, text), order="harm").rework
    assert [(s.step, s.joints) for s in by_harm] == [(1, ("2", "3")), (2, ("1",))]


def steps_of(text: str, *ohms: tuple[str, str, float], **settings) -> list[ReworkStep]:
    board = tiny_board()
    more = [entry(board, 90 + i, a, b, "ohms", value) for i, (a, b, value) in enumerate(ohms)]
    return list(checked(board, [*log(board, text), *more], **settings).rework)


def test_each_finding_says_what_to_do_in_the_words_of_the_trade():
    found = {
        step.joints: (step.do, step.nets, step.harm)
        for step in steps_of("2 3 beep\n7 @GND quiet\n1 @GND beep\n4 @GND beep", ("5", "3", 40.0), ("1", "4", 20.0))
    }
    braid = "flux, draw the solder off between 2 and 3 with clean braid, then look through a magnifier"
    reflow = "flux and reflow 7 until it wets joint and pad; if it stays silent, follow its track"
    again = "flux and reflow 1 and 4, measure ohms again"
    clean = "clean off flux between 5 and 3 with solvent (iron cold), dry, measure ohms again"
    assert found == {
        ("2", "3"): (braid, ("+5V", "D+"), "dead-signal"),
        ("7",): (reflow, ("GND",), "open"),
        ("5", "3"): (clean, ("D+", "TX"), "leak"),
        # a beep to the same board point beside it takes nothing from it
        ("1", "4"): (again, ("GND",), "resistive joint"),
    }


def test_a_resistive_joint_is_reflowed_and_the_iron_is_never_sent_to_a_board_point():
    (step,) = steps_of("2 3 quiet", ("7", "@GND", 20.0))
    assert (step.do, step.joints) == ("flux and reflow 7, measure ohms again", ("7",))
    (step,) = steps_of("2 3 quiet", ("3", "@D+", 20.0))
    assert (step.do, step.nets) == ("flux and reflow 3, measure ohms again", ("D+",))


def test_what_to_probe_again_is_told_once_in_the_whole_list_with_what_is_expected():
    """Both bridges end at joint 4, ground; 3 - 4 and 4 - 5 belong to one step each, the join of 4 to the first."""
    text = GOOD.replace("3 4 quiet", "3 4 beep").replace("4 5 quiet", "4 5 beep")
    steps = steps_of(text)
    assert [step.joints for step in steps] == [("3", "4"), ("4", "5")]
    pairs = [frozenset(pair) for step in steps for pair in step.probe_again]
    assert len(pairs) == len(set(pairs))
    expected = {pair: said for step in steps for pair, said in zip(step.probe_again, step.expected, strict=True)}
    assert (expected[("3", "4")], expected[("4", "5")]) == ("silent", "silent")
    assert expected[("4", "@GND")] == "sounds"
    assert ("4", "@GND") in steps[0].probe_again


def test_ohms_are_expected_over_a_part():
    board = with_part("+5V, D+", 70, 80)
    (step,) = checked(board, [entry(board, 1, "2", "3", "ohms", 1.0)]).rework
    assert (step.probe_again, step.expected) == ((("2", "3"),), ("70 to 80 ohm",))


def test_a_note_is_no_step_and_reasons_come_along():
    assert steps_of("5 6 beep") == []
    (step,) = steps_of("1 2 beep")
    assert (step.harm, step.why) == ("supply-short", "supply +5V (5 V) to ground GND")


def test_equal_alternatives_are_told_and_probed_again():
    """2 lies between ground 1 and the signal 3, which is ground by a bridge as well: two gaps alike."""
    board = row_of_nets("G", "S", "G", "T")
    (step,) = checked(board, log(board, "1 3 beep\n1 2 beep\n2 4 quiet\n3 4 quiet")).rework
    assert (step.joints, step.alternatives) == (("1", "2"), (("2", "3"),))
    assert step.do.endswith("with clean braid, then look through a magnifier; equally likely: 2 and 3")
    assert step.probe_again[:2] == (("1", "2"), ("2", "3"))
    (plain,) = checked(board, log(board, "3 4 beep")).rework
    assert "equally likely" not in plain.do and plain.probe_again[0] == ("3", "4")


def test_places_of_unequal_odds_are_told_as_less_likely_and_heated_with_the_others():
    """Between 1 and 2 the mask is lost, which makes solder there four times as likely as between 2 and 3."""
    board = row_of_nets("G", "S", "G", "T")
    lost = entry(board, 9, "1", "2", MASK_LOST)
    result = checked(board, [lost, *log(board, "1 3 beep\n1 2 beep\n2 4 quiet\n3 4 quiet")])
    (step,), (site,) = result.rework, result.shorts[0].sites
    assert (site.joints, site.alternatives, site.less_likely) == (("1", "2"), (), (("2", "3"),))
    assert (step.joints, step.alternatives, step.elsewhere) == (("1", "2"), (), (("2", "3"),))
    assert step.do.endswith("through a magnifier; less likely: 2 and 3") and step.probe_again[1] == ("2", "3")
    (told,) = [line for line, _ in result_lines(result) if "most likely" in line]
    assert told.endswith("(gap 0.20 mm); less likely: 2 - 3")


def test_a_likely_short_is_measured_before_the_iron_comes():
    board = make_board(find_pin_map("vga-de15"), "")
    (step,) = checked(board, [entry(board, 2, "2", "@GND", OHMS, 37.5)]).rework
    assert (step.harm, step.joints, step.alternatives, step.nets) == (
        "likely short",
        ("1", "2"),
        (("2", "3"),),
        ("GREEN", "RED"),
    )
    assert step.do.startswith(
        "measure ohms between 1 and 2 first, for 37.5 ohm is what their nets joined would read; if under 5 ohm: flux, "
    )
    assert "; equally likely: 2 and 3; if not: clean off flux between 2 and @GND" in step.do
    assert step.probe_again[:2] == (("1", "2"), ("2", "3"))


def test_alternatives_come_right_after_the_pair_itself_and_then_what_the_heat_made_unknown():
    nets = (Net("G", "ground", ("1", "3"), must_join=True), Net("S", "data", ("2",)), Net("T", "data", ("4",)))
    board = placed({str(i): (0.5 * i, 0.0) for i in range(1, 5)}, *nets)
    (step,) = checked(board, log(board, "1 @G beep\n3 @G beep\n2 1 beep\n4 3 quiet")).rework
    assert step.probe_again[:2] == (("1", "2"), ("2", "3"))
    assert {("1", "@G"), ("3", "@G")} <= set(step.probe_again)
    assert len({frozenset(pair) for pair in step.probe_again}) == len(step.probe_again)


def test_what_was_never_proven_is_not_probed_again():
    """Nothing else was touched: only the pair itself is to be asked once the bridge is gone."""
    (step,) = steps_of("2 3 beep")
    assert step.probe_again == (("2", "3"),)
    (alone,) = steps_of("3 @D+ quiet")
    assert alone.probe_again == ()


def test_a_bridge_behind_joints_that_are_all_apart_from_it_is_to_be_found():
    """@GND and @+5V beep, and every joint of both is silent to them."""
    silent = "\n".join(f"{joint} @GND quiet" for joint in "1247")
    (step, *_) = [s for s in steps_of(f"@GND @+5V beep\n{silent}") if s.harm == "supply-short"]
    assert step.do == "find and clear the bridge between @GND, @+5V (its joints were not touched one by one)"
    assert (step.joints, step.nets, step.alternatives) == (("@GND", "@+5V"), ("+5V", "GND"), ())
    # no joint is heated, so nothing that was known is lost
    assert step.probe_again == (("@GND", "@+5V"),)


def test_steps_follow_the_iron_along_the_row_or_the_harm():
    """Two rows: by place first the upper row from the left, then the lower; board points last."""
    board = two_rows()
    text = "5 6 beep\n3 4 beep\n1 2 beep\n@A @B beep\n1 @A quiet\n5 @B quiet"
    result = checked(board, log(board, text))
    places = [step.joints for step in result.rework]
    assert places[-1] == ("@A", "@B")
    assert [p for p in places if len(p) == 2 and p[0][0] != "@"] == [("1", "2"), ("3", "4"), ("5", "6")]
    assert [step.step for step in result.rework] == list(range(1, len(places) + 1))


def test_a_row_is_what_lies_within_a_twentieth_of_a_millimetre():
    """1 is a hair below 2 and left of it; 3 lies 0.3 mm lower, in a row of its own."""
    nets = tuple(Net(name, "data", (str(i),)) for i, name in enumerate("ABC", 1))
    board = placed({"1": (1, 0.04), "2": (2, 0.0), "3": (0, 0.3)}, *nets)
    found = checked(board, log(board, "3 @C quiet\n2 @B quiet\n1 @A quiet"))
    assert [step.joints for step in found.rework] == [("1",), ("2",), ("3",)]
    assert Settings().order == ROW == "row"


def test_by_harm_supply_faults_come_before_signals_opens_and_leaks_and_place_breaks_ties():
    board = built_with_harm()
    text = "10 11 beep\n7 @GND quiet\n1 @GND beep\n4 @GND beep\n2 3 beep\n5 4 beep\n9 8 beep"
    entries = [*log(board, text), entry(board, 99, "6", "8", "ohms", 40.0)]
    found = checked(board, entries, order="harm").rework
    assert [(step.harm, step.joints) for step in found] == [
        ("damage", ("2", "3")),
        ("supply-short", ("4", "5")),
        ("dead-signal", ("8", "9")),
        ("dead-signal", ("10", "11")),
        ("open", ("7",)),
        ("leak", ("6", "8")),
    ]
    assert [step.step for step in found] == [1, 2, 3, 4, 5, 6]
    assert all(step.nets == tuple(sorted(step.nets)) for step in found)
    by_row = [step.joints[0] for step in checked(board, entries).rework]
    assert by_row == ["2", "4", "6", "7", "8", "10"]


def test_probe_again_is_what_the_plan_asks_after_that_rework():
    board = tiny_board()
    entries = log(board, FAULTY.replace("1 2 beep", "1 2 quiet").replace("7 quiet", "7 beep", 1))
    result = checked(board, entries)
    (step,) = result.rework
    after = checked(board, [*entries, Entry(50, REWORKED, tuple(board.number[j] for j in step.joints))])
    wanted = {frozenset(p) for p in after.unproven}
    assert wanted - {frozenset(step.joints)} <= {frozenset(p) for p in step.probe_again}
    assert after.record.rounds == 2


@settings(max_examples=80, deadline=None)
@given(boards(most=9), st.integers(0, 2**32))
def test_rounds_end_clear_when_the_rework_is_well_done(board, seed):
    """Rework every step, the faults at its joints vanish; probe what is wanted; a few rounds end in clear."""
    import random

    sim = random_faults(board, random.Random(seed), 0.2, 0.1)
    entries, _verdict = probe_until_settled(sim)
    for _ in range(len(board.joints) + 2):
        result = checked(board, entries)
        if result.verdict != "rework":
            break
        heated = {board.number[j] for s in result.rework for j in s.joints if board.number[j] < len(board.joints)}
        heated |= {board.number[j] for s in result.rework for p in s.elsewhere for j in p}
        sim = SimulatedBoard(
            board, [b for b in sim.bridges if not set(b) & heated], sim.opens - heated, sim.shell_on_ground
        )
        entries.append(Entry(len(entries) + 1, REWORKED, tuple(sorted(heated))))
        for _ in range(200):
            todo = checked(board, entries).unproven
            if not todo:
                break
            for a, b in todo:
                entries.append(sim.read(len(entries) + 1, board.number[a], board.number[b]))
    assert checked(board, entries).verdict == "clear"


def test_what_to_probe_again_stands_under_the_step_whose_joints_it_names_else_under_the_first():
    """2 and 3, then 4 and 5 are bridged. Ground at 7 is reached by no way over the heat, and what it read stands."""
    first, second = steps_of(GOOD.replace("2 3 quiet", "2 3 beep").replace("4 5 quiet", "4 5 beep"))
    assert (first.joints, second.joints) == (("2", "3"), ("4", "5"))
    assert {frozenset(pair) for pair in second.probe_again} == {
        frozenset(p) for p in (("4", "5"), ("4", "@GND"), ("5", "6"))
    }
    assert {("1", "2"), ("3", "4"), ("6", "7")} <= set(first.probe_again)
    assert [step.expected[0] for step in (first, second)] == ["silent", "silent"]


@pytest.mark.parametrize(("low", "said"), [(249, "249 to 300 ohm"), (250, "silent"), (10_000, "silent")])
def test_ohms_are_expected_only_where_a_meter_may_hear_the_part(low, said):
    board = with_part("+5V, D+", low, max(low, 300))
    (step,) = checked(board, [entry(board, 1, "2", "3", "ohms", 1.0)]).rework
    assert step.expected == (said,)


def test_a_resistive_joint_of_a_shell_that_the_board_must_join_is_reflowed():
    """Both joints of this shell must reach the board: 30 ohm at one is a finding of its own, for the iron."""
    pin_map = tiny_board().pin_map
    nets = tuple(net._replace(must_join=True) if net.role == "shell" else net for net in pin_map.nets)
    pin_map = dataclasses.replace(pin_map, nets=nets)
    board = Board(pin_map, pin_map.layouts[0])
    read = [*log(board, GOOD + "SH2 @SHELL beep\n"), entry(board, 40, "SH1", "@SHELL", "ohms", 30.0)]
    result = checked(board, read)
    assert (result.parts.shorts, result.parts.contact) == ("clear", "rework")
    (leak,) = result.leaks
    assert (leak.pair, leak.nets) == (("SH1", "@SHELL"), ("SHELL",)) and "resistive joint: reflow it" in leak.why
    (step,) = result.rework
    assert (step.do, step.joints) == ("flux and reflow SH1, measure ohms again", ("SH1",))
    # a good tone beside it drops nothing; once the joint is reflowed and reads as solder it is
    again = [*read, entry(board, 41, "SH1", "@SHELL", "beep")]
    assert checked(board, again).parts.contact == "rework"
    mended = [*again, entry(board, 42, "SH1", "", "reworked"), entry(board, 43, "SH1", "@SHELL", "ohms", 0.2)]
    assert not checked(board, mended).leaks and not checked(board, mended).rework


def test_rework_all_is_written_joint_by_joint_the_equally_likely_ones_too():
    """2 lies between the grounds 1 and 3 at equal gaps: the rows name all three, and each touch at them is stale."""
    board = row_of_nets("G", "S", "G", "T")
    job = log(board, "1 3 beep\n1 2 beep\n2 4 quiet\n3 4 quiet")
    session = Session(board, job, shorts_only=True)
    (step,) = session.result().rework
    rows = session.rework(["all"])
    assert rows == [Row(name, "", "reworked") for name in ("1", "2", "3")]
    assert {*step.joints, *(name for pair in step.alternatives for name in pair)} == {row.pin_a for row in rows}
    ironed = [*job, *(entry_of(board, row, 10 + i) for i, row in enumerate(rows))]
    assert checked(board, ironed).record.stale == 4


def test_the_metal_of_the_shell_is_no_joint_for_the_iron():
    (step,) = steps_of("2 3 quiet", ("3", "SH", 40.0))
    assert (step.joints, step.do[:34]) == (("3",), "clean off flux between 3 and SH wi")


@pytest.mark.parametrize("map_id", ["usb-a-3", "usb-c-16", "hdmi-a", "vga-de15", "sata-7", "rj45-1000", "microsd"])
def test_each_pair_is_told_once_under_the_first_step_that_concerns_it_in_either_order(map_id):
    """The same pairs in both orders, each with what a sound board answers; only the step that tells it may differ."""
    board = Board(find_pin_map(map_id), find_pin_map(map_id).layouts[0])
    rng = random.Random(map_id)
    told = 0
    for _ in range(6):
        entries, verdict = probe_until_settled(random_faults(board, rng, 0.15, 0.1), shorts_only=False)
        if verdict != "rework":
            continue
        expected: list[dict[frozenset[str], str]] = []
        for order in (ROW, HARM):
            steps = checked(board, entries, order=order, shorts_only=False).rework
            pairs = [frozenset(pair) for step in steps for pair in step.probe_again]
            assert len(pairs) == len(set(pairs))
            for step in steps:
                own = [step.joints] if len(step.joints) == 2 else []
                for pair in map(frozenset, step.probe_again):
                    before = [earlier for earlier in steps if earlier.step < step.step]
                    bridged = [frozenset(p) for s in before for p in (s.joints, *s.alternatives)]
                    assert pair not in bridged
                    if pair not in map(frozenset, (*own, *step.alternatives)):
                        assert not any(pair & set(earlier.joints) for earlier in before)
            said = {frozenset(p): e for s in steps for p, e in zip(s.probe_again, s.expected, strict=True)}
            assert len(said) == len(pairs)
            expected.append(said)
            told += len(pairs)
        assert expected[0] == expected[1]
        for pair, said in expected[0].items():
            nets = [board.net_of[board.number[name]] for name in pair]
            if said == "sounds":
                assert not board.must_be_apart(*nets)
            else:
                assert board.must_be_apart(*nets) and (said == "silent" or said.endswith(" ohm"))
    assert told > 10
