"""Where the solder of a short sits, by what the readings leave possible: worked cases."""

from __future__ import annotations

from connector_check.analysis.diagnosis import splitting
from connector_check.analysis.obligations import obligations
from connector_check.analysis.replay import replay
from connector_check.analysis.result import BridgeSite, Result, Short
from connector_check.board.board import NEAR, Board
from connector_check.board.making import make_board
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap, Source
from connector_check.testlog.readings import BEEP, OHMS, Entry
from tests.strategies import checked, entry, log, tiny_board
from tests.test_bridges import row_of_nets
from tests.test_replay import GOOD


def shorts_of(board: Board, text: str, *more: Entry) -> tuple[Short, ...]:
    return checked(board, [*log(board, text), *more]).shorts


def places(short: Short) -> list[tuple[tuple[str, str], ...]]:
    """The sites, each with its alternatives."""
    return [(site.joints, *site.alternatives) for site in short.sites]


def test_two_joints_that_are_no_neighbours_are_bridged_over_the_one_between_which_is_touched_first():
    board = make_board(find_pin_map("usb-c-16"), "")
    (short,) = shorts_of(board, "A1B12 B8 beep")
    assert {frozenset(site.joints) for site in short.sites} == {
        frozenset(p) for p in (("A1B12", "A4B9"), ("A4B9", "B8"))
    }
    assert not any(site.alternatives for site in short.sites)
    assert short.why.endswith("; A4B9 lies between: touch it first") and short.between == ("A4B9",)
    (short, *_) = shorts_of(board, "A1B12 B8 beep\nA4B9 B8 beep")
    assert "lies between" not in short.why and short.between == ()


def test_a_joint_between_is_touched_before_the_iron_comes():
    board = make_board(find_pin_map("usb-c-16"), "")
    steps = checked(board, log(board, "A1B12 B8 beep")).rework
    assert [(step.joints, step.harm) for step in steps] == [
        (("A1B12", "A4B9"), "supply-short"),
        (("A4B9", "B8"), "damage"),
    ]
    assert [step.do.partition(": flux, draw ")[0] for step in steps] == [
        "touch A1B12 and A4B9 first, for A4B9 lies between; only if they sound",
        "touch A4B9 and B8 first, for A4B9 lies between; only if they sound",
    ]
    touched = checked(board, log(board, "A1B12 B8 beep\nA4B9 B8 beep")).rework
    assert [step.joints for step in touched] == [step.joints for step in steps]
    assert all(step.do.startswith("flux, draw ") for step in touched)


def test_where_neighbours_beep_nothing_lies_between():
    (short,) = shorts_of(tiny_board(), "2 3 beep")
    assert short.sites == (BridgeSite(("2", "3"), (), short.sites[0].gap_mm),)
    assert "lies between" not in short.why
    # behind the joints: which of them is bridged is not told, and none lies between
    (short,) = shorts_of(tiny_board(), "@+5V @D+ beep")
    assert "lies between" not in short.why


def test_several_joints_between_are_told_together():
    (short,) = shorts_of(row_of_nets("S", "T", "U", "V"), "1 3 beep")
    assert places(short) == [(("1", "2"),), (("2", "3"),)]
    (near, wide) = (shorts_of(row_of_nets("S", "T", "U"), text)[0].why for text in ("1 2 beep", "1 3 beep"))
    assert "between" not in near and wide.endswith("2 lies between: touch it first")


def test_a_place_that_ohms_rule_out_is_not_sent_to_the_iron():
    """1 to 2 reads 400 ohm, so no solder lies there; 3 joins both to itself only by the other gap."""
    board = row_of_nets("S", "T", "U")
    ruled_out = entry(board, 9, "1", "2", "ohms", 400.0)
    for short in shorts_of(board, "2 3 beep", ruled_out):
        assert places(short) == [(("2", "3"),)]


def test_one_of_two_gaps_of_an_equal_chance_is_named_and_the_other_beside_it():
    (short,) = shorts_of(row_of_nets("G", "S", "G", "T"), "1 3 beep\n1 2 beep\n2 4 quiet\n3 4 quiet")
    assert places(short) == [(("1", "2"), ("2", "3"))]


def test_of_three_gaps_two_are_bridged_and_the_third_may_stand_for_either():
    """4 and 7 are ground; 5 and 6 join them: two of the gaps 4 - 5, 5 - 6, 6 - 7, not all three."""
    text = GOOD.replace("4 5 quiet", "4 5 beep").replace("5 6 quiet", "5 6 beep").replace("6 7 quiet\n", "")
    (short,) = shorts_of(tiny_board(), text)
    assert places(short) == [(("4", "5"), ("6", "7")), (("5", "6"), ("6", "7"))]


def test_a_reserved_joint_in_a_short_keeps_its_own_place():
    """6 is reserved: its bridge to 5 is told as such, not at another joint of the same short."""
    (short,) = shorts_of(tiny_board(), GOOD.replace("5 6 quiet", "5 6 beep"))
    assert (places(short), short.harm) == ([(("5", "6"),)], "note")


def test_more_than_two_faults_leave_the_places_as_the_gaps_have_them():
    board = row_of_nets(*"ABCDEFGH")
    shorts = shorts_of(board, "1 2 beep\n4 5 beep\n7 8 beep\n2 3 quiet")
    assert [places(short) for short in shorts] == [[(("1", "2"),)], [(("4", "5"),)], [(("7", "8"),)]]
    # 1 and 3 are no neighbours: solder leads over 2, unless 2 is known apart
    first, *others = shorts_of(board, "1 3 beep\n4 5 beep\n7 8 beep")
    assert places(first) == [(("1", "2"),), (("2", "3"),)] and first.between == ("2",)
    assert not any(short.between for short in others)
    first, *_ = shorts_of(board, "1 3 beep\n4 5 beep\n7 8 beep\n2 3 quiet")
    assert places(first) == [(("1", "3"),)] and first.between == ()


VGA_BEEPS = [("3", "9", BEEP, None), ("9", "10", BEEP, None)]
VGA_SOLDER = [("3", "9", OHMS, 0.4), ("9", "10", OHMS, 0.4)]
VGA_PART = ("3", "8", OHMS, 400.0)


def vga(*readings: tuple[str, str, str, float | None]) -> Result:
    board = make_board(find_pin_map("vga-de15"), "")
    return checked(board, [entry(board, line, *reading) for line, reading in enumerate(readings, 2)])


def test_beeps_that_terminations_may_carry_send_no_iron_anywhere():
    """BLUE, 9 and ground 10 sound on a meter that hears 75 ohm: ohms are asked there, and nothing is called a short."""
    found = vga(VGA_PART, *VGA_BEEPS)
    assert (found.shorts, found.rework, found.leaks) == ((), (), ())
    assert [wanted.pair for wanted in found.measure] == [("3", "9"), ("9", "10")]
    half = vga(VGA_PART, VGA_SOLDER[0], VGA_BEEPS[1])
    assert [step.joints for step in half.rework] == [("3", "9")]
    assert [wanted.pair for wanted in half.measure] == [("9", "10")]


def test_a_gap_that_read_400_ohm_is_no_place_for_the_iron():
    """3, 9 and 10 are one conductor; 8 is ground as 10 is and as near to 3, but 3 - 8 reads 400 ohm."""
    (short,) = vga(*VGA_SOLDER).shorts
    assert ("3", "8") in short.sites[0].places
    found = vga(VGA_PART, *VGA_SOLDER)
    assert places(found.shorts[0]) == [(("3", "9"),), (("9", "10"),)]
    assert [(step.joints, step.elsewhere) for step in found.rework] == [(("3", "9"), ()), (("9", "10"), ())]
    # 10 reaches ground: then 8, apart from 3, does not
    found = vga(VGA_PART, *VGA_SOLDER, ("10", "@GND", OHMS, 0.2))
    assert [opened.joint for opened in found.opens] == ["8"]
    assert [(step.joints, step.elsewhere) for step in found.rework] == [
        (("3", "9"), ()),
        (("9", "10"), ()),
        (("8",), ()),
    ]


def test_the_joint_of_a_net_that_was_touched_at_its_board_point_does_not_lie_between():
    """Solder leads from 1, the joint of S, over 2 to 3; of these only 2 is touched first."""
    (short,) = shorts_of(row_of_nets("S", "T", "U"), "@S 3 beep")
    assert places(short) == [(("1", "2"),), (("2", "3"),)]
    assert short.between == ("2",) and short.why.endswith("; 2 lies between: touch it first")


def square() -> Board:
    """A B over C D, one joint a net."""
    joints = tuple(
        Joint(name, (name,), x, y, 0.5, 0.5) for name, x, y in zip("1234", (0, 2, 0, 2), (0, 0, 2, 2), strict=True)
    )
    nets = tuple(Net(name, "data", (contact,)) for name, contact in zip("ABCD", "1234", strict=True))
    layout = Layout("square", "", "test", joints)
    names = dict(zip("1234", "ABCD", strict=True))
    return Board(PinMap("square", "square", "", (Source("test", "memory"),), nets, names, (layout,)), layout)


def test_a_touch_that_splits_is_sought_while_at_most_two_faults_were_found():
    """From A to D over B or over C, for nothing was seen between the two: A to B, or the like, tells."""
    board = square()
    standing = replay(board, log(board, "1 @A beep\n2 @B beep\n3 @C beep\n4 @D beep\n1 4 seen clear\n1 4 beep"))
    needed = obligations(board, NEAR)
    found = {faults: splitting(standing, needed, False, faults, lambda _: True) for faults in (0, 1, 2, 3)}
    assert found[0] is None and found[3] is None and found[1] == found[2]
    split = found[1]
    assert split is not None and len({split.measurement.a, split.measurement.b} & {"2", "3", "@B", "@C"}) == 1
    over_b, over_c = "joints 1 and 2 bridged, joints 2 and 4 bridged", "joints 1 and 3 bridged, joints 3 and 4 bridged"
    assert split.why == f"tells {over_b} from {over_c}"
    assert splitting(standing, needed, False, 1, lambda _: False) is None


def test_solder_leads_over_a_neighbour_whatever_the_joints_are_called():
    """10 lies between 9 and 11, though by its letters it comes first; with three faults the gaps alone tell."""
    board = row_of_nets(*"ABCDEFGHIJKL")
    *_, last = shorts_of(board, "1 2 beep\n4 5 beep\n9 11 beep")
    assert {frozenset(site.joints) for site in last.sites} == {frozenset(("9", "10")), frozenset(("10", "11"))}
    assert last.between == ("10",)


def test_of_two_places_the_one_that_is_no_gap_leads_over_the_joint_between():
    """1 - 2 are neighbours, 2 and 4 are not; with three faults the gaps alone tell."""
    first, *_ = shorts_of(row_of_nets(*"ABCDEFGHIJ"), "1 2 beep\n2 4 beep\n6 7 beep\n9 10 beep")
    assert places(first) == [(("1", "2"),), (("2", "3"),), (("3", "4"),)] and first.between == ("3",)
