"""The states of joints word by word, on a small board. The drawing of them is for test_drawing."""

from __future__ import annotations

from itertools import pairwise

import pytest

from connector_check.analysis.states import KINDS, MARKS, State, joint_states, joints_at
from connector_check.pinout.pinmap import Net
from tests.strategies import entry, examined, log, tiny_board
from tests.test_bridges import row_of_nets
from tests.test_findings import with_part
from tests.test_obligations import spread
from tests.test_replay import GOOD

BOARD = tiny_board()
SHELLS = "".join(f"{joint} SH quiet\n" for joint in "2356")


def quiet_row(board):
    """Each joint silent to the next."""
    names = [joint.name for joint in board.joints]
    return log(board, "\n".join(f"{a} {b} quiet" for a, b in pairwise(names)))


def states_of(text: str, **options) -> dict[str, State]:
    return joint_states(examined(BOARD, log(BOARD, text), **options))


def kinds(text: str, **options) -> dict[str, str]:
    return {joint: state.kind for joint, state in states_of(text, **options).items()}


def test_a_point_shows_at_itself_the_shell_at_all_of_its_joints_a_board_point_at_none():
    number = BOARD.number
    assert joints_at(BOARD, number["3"]) == (2,)
    assert joints_at(BOARD, number["SH1"]) == (7,)
    assert joints_at(BOARD, number["SH"]) == (7, 8)
    assert joints_at(BOARD, number["@GND"]) == joints_at(BOARD, number["@SHELL"]) == ()


def test_the_words_of_a_state():
    assert State("shorted").word == "shorted"
    assert State("shorted", "", ("3",)).word == "shorted with 3"
    assert State("shorted", "", ("3", "4")).word == "shorted with 3 4"
    assert State("shorted", "", ("3", "4", "5")).word == "shorted with 3 4 and 1 more"
    assert State("shorted", "", ("3", "4", "5", "6"), ("5",)).word == "shorted with 5 3 and 2 more"
    assert State("note", "", ("7",)).word == "note: joined with 7"
    assert (State("open").mark, State("open", sites=("3",)).mark) == ("o", "X")


def test_the_kinds_from_the_worst_on_and_their_marks():
    assert MARKS == {
        "shorted": "x",
        "open": "o",
        "unproven": "?",
        "note": "!",
        "harmless": "=",
        "apart": "/",
        "proven": "v",
        "not asked": "-",
    }
    assert tuple(MARKS) == KINDS


def test_a_short_of_two_names_each_other_and_the_place():
    found = states_of(GOOD.replace("2 3 quiet", "2 3 beep"))
    detail = "+5V + D+: supply +5V (5 V) on D+, which withstands 5.25 V; solder most likely at X: 2 - 3"
    assert found["2"] == State("shorted", detail, ("3",), ("3",))
    assert found["3"] == State("shorted", detail, ("2",), ("2",))


def test_a_note_is_told_as_such():
    found = states_of(GOOD.replace("5 6 quiet", "5 6 beep"))
    assert (found["5"].kind, found["6"].kind) == ("note", "note")
    assert found["6"].detail.startswith("NC + TX: NC is reserved")
    assert found["6"].partners == ("5",)


def test_alternatives_are_sites_as_well_and_several_places_are_told_one_after_the_other():
    """TX lies between 4 and 6; ground, TX and NC in one group: 4 to 5 and 5 to 6, or 7 to 6 in place of one of them."""
    found = states_of(GOOD.replace("4 5 quiet", "4 5 beep").replace("5 6 quiet", "5 6 beep").replace("6 7 quiet\n", ""))
    assert set(found["5"].sites) == {"4", "6"} and "7" in found["6"].sites
    assert found["5"].detail.endswith("4 - 5 or 6 - 7, and 5 - 6 or 6 - 7")
    assert found["1"].sites == () and found["1"].kind == "shorted"
    assert found["1"].partners == ("5", "6")
    assert found["5"].partners == ("1", "4", "6", "7")


def test_more_than_six_places_are_counted():
    board = row_of_nets(*"GSGSGSGSGSG")
    text = "\n".join(["1 2 beep", *(f"{i} {i + 2} beep" for i in range(1, 10))])
    found = joint_states(examined(board, log(board, text)))
    assert found["1"].detail.endswith(
        "solder most likely at X: 1 - 2 or 2 - 3 or 3 - 4 or 4 - 5 or 5 - 6 or 6 - 7 or 4 more places"
    )


def test_six_places_are_all_told():
    board = row_of_nets(*"GSGSGSG")
    text = "\n".join(["1 2 beep", *(f"{i} {i + 2} beep" for i in range(1, 6))])
    detail = joint_states(examined(board, log(board, text)))["1"].detail
    assert detail.endswith("1 - 2 or 2 - 3 or 3 - 4 or 4 - 5 or 5 - 6 or 6 - 7")


def test_a_signal_without_neighbours_is_asked_where_its_contact_is_required():
    board = row_of_nets("S")
    readings = log(board, "1 @S beep")
    assert joint_states(examined(board, readings))["1"].kind == "not asked"
    assert joint_states(examined(board, readings, shorts_only=False))["1"].kind == "proven"


def test_a_net_shorted_behind_its_joints_shows_at_all_of_them():
    found = states_of("@GND @D+ beep")
    assert {joint for joint, state in found.items() if state.kind == "shorted"} == {"1", "3", "4", "7"}
    assert found["3"].partners == ("1", "4", "7") and found["7"].partners == ("3",)
    one = states_of("1 3 beep")
    assert {joint for joint, state in one.items() if state.kind == "shorted"} == {"1", "3"}


def test_a_short_to_the_metal_of_the_shell_shows_at_its_joints():
    found = states_of("SH 3 beep")
    assert {joint for joint, state in found.items() if state.kind == "shorted"} == {"3", "SH1", "SH2"}


def test_opens_leaks_wanted_ohms_and_contradictions_are_told_with_their_reasons():
    found = states_of("4 @GND quiet\n1 @GND beep")
    assert found["4"] == State("open", "4 does not reach GND on the board: open joint or broken track")
    leak = [*log(BOARD, GOOD), entry(BOARD, 30, "3", "5", "ohms", 40.0)]
    found = joint_states(examined(BOARD, leak))
    for joint in "35":
        assert found[joint].kind == "unproven"
        assert found[joint].detail.startswith("3 to 5: 40 ohm between solder and silence: leak")
    found = states_of(GOOD + "1 4 quiet")
    assert {joint for joint, state in found.items() if "contradiction" in state.detail} == {"1", "4"}
    assert found["1"] == State("unproven", "contradiction: 1 - 4 quiet, yet joined")
    chain = states_of(GOOD.replace("@GND 4 beep", "1 7 beep\n7 4 beep") + "1 4 quiet")
    assert {joint for joint, state in chain.items() if "contradiction" in state.detail} == {"1", "4", "7"}


def test_harmless_joins_show_where_the_board_need_not_join():
    found = states_of(GOOD + "SH1 @GND beep\n" + SHELLS)
    assert found["SH1"] == State("harmless", "the shell may touch ground on this connector")
    assert (found["1"].kind, found["SH2"].kind) == ("proven", "not asked")


def test_what_is_missing_is_unproven_and_says_whether_a_short_comes_first():
    found = states_of(GOOD.replace("5 6 quiet\n", ""))
    assert [found[j] for j in "56"] == [State("unproven", "not proven yet")] * 2
    assert {kind.kind for joint, kind in found.items() if joint in "1234"} == {"proven", "apart"}
    found = states_of(GOOD.replace("5 6 quiet\n", "").replace("2 3 quiet", "2 3 beep"))
    assert found["5"].detail == "not proven yet, or asked again once a short is reworked"


@pytest.mark.parametrize(
    ("text", "unproven"),
    [
        (GOOD, ""),
        # a touch on one ground speaks for all of them only once all are known to be one
        (GOOD.replace("@GND 7 beep\n", ""), "1234567"),
        # 3 is silent to another ground, which is joined to 4
        (GOOD.replace("3 4 quiet", "3 1 quiet"), ""),
        # what is missing against ground shows at the joint and its neighbour, not at every ground
        (GOOD.replace("3 4 quiet\n", ""), "34"),
        (GOOD.replace("2 3 quiet\n", ""), "23"),
    ],
)
def test_where_something_is_missing(text, unproven):
    assert {joint for joint, kind in kinds(text).items() if kind == "unproven"} == set(unproven)


def test_signal_contact_counts_unless_it_is_left_out():
    assert kinds(GOOD, shorts_only=True)["3"] == "apart"
    required = kinds(GOOD, shorts_only=False)
    assert [required[j] for j in "1235"] == ["proven", "unproven", "unproven", "unproven"]
    reached = kinds(GOOD + "3 @D+ beep\n5 @TX beep\n2 @+5V beep", shorts_only=False)
    assert {reached[j] for j in "123457"} == {"proven"} and reached["6"] == "apart"


def test_a_joint_of_which_nothing_is_asked():
    """In scope near nothing is asked of a shell that may touch ground and lies far from the signals."""
    assert [kinds(GOOD)[j] for j in ("SH1", "SH2")] == ["not asked"] * 2
    assert [kinds(GOOD, scope="all")[j] for j in ("SH1", "SH2")] == ["unproven"] * 2


def test_the_worst_of_what_is_said_is_shown():
    """Joint 4 is open and shorted: the short is shown; 3 has a touch missing and is shorted."""
    found = kinds("4 @GND quiet\n1 @GND beep\n4 5 beep")
    assert (found["4"], found["5"]) == ("shorted", "shorted")


def test_each_kind_has_a_mark_of_its_own():
    assert "".join(State(kind).mark for kind in KINDS) == "xo?!=/v-"


def test_what_a_part_may_have_carried_is_proven_once_the_whole_is_clear():
    """1, 4 and 7 sound to ground; 4 may sound over 3 and its 75 ohm, until ohms at 4 leave no bad board."""
    board = with_part("D+, GND", 75, 75)
    text = log(board, GOOD.replace("3 4 quiet\n", ""))
    read = [*text, entry(board, 20, "3", "@GND", "ohms", 75.0)]
    found = joint_states(examined(board, read))
    assert {found[joint].kind for joint in "147"} == {"unproven"}
    found = joint_states(examined(board, [*read, entry(board, 21, "4", "@GND", "ohms", 0.1)]))
    assert {found[joint].kind for joint in "147"} == {"proven"} and found["5"].kind == "apart"


def test_a_joint_whose_neighbour_is_shorted_was_never_asked_against_it():
    """2 is open and sits on 3, so 3 is joined to the supply's other joint 6 by no reading, nor apart from it."""
    board = spread(Net("V", "power", ("2", "6"), volts=5.0, must_join=True), Net("S", "data", ("3",)))
    found = joint_states(examined(board, log(board, "2 @V quiet\n6 @V beep\n2 3 beep")))
    assert [found[joint].kind for joint in "236"] == ["shorted", "shorted", "unproven"]


def test_joints_joined_to_one_that_is_asked_are_not_proven_either():
    """Of 2 and 3, joined to each other alone, only 2 is asked to its board; 3 has no neighbour of another net."""
    board = spread(Net("S", "data", ("1",)), Net("G", "ground", ("2", "3"), must_join=True))
    found = joint_states(examined(board, log(board, "2 3 beep\n1 2 quiet")))
    assert {found[joint].kind for joint in "123"} == {"unproven"}
    known = joint_states(examined(board, log(board, "2 3 beep\n1 2 quiet\n3 @G beep")))
    assert [known[joint].kind for joint in "123"] == ["apart", "proven", "proven"]


def test_what_is_missing_between_a_net_and_a_signal_shows_at_each_neighbour():
    """2 and 6 are one supply on both sides of 3; 2 to 3 is asked first, and 6 to 3 is as little known."""
    board = spread(Net("V", "power", ("2", "6"), volts=5.0, must_join=True), Net("S", "data", ("3",)))
    found = joint_states(examined(board, log(board, "2 @V beep\n6 @V beep")))
    assert {found[joint].kind for joint in "236"} == {"unproven"}
    found = joint_states(examined(board, log(board, "2 @V beep\n6 @V beep\n2 3 quiet")))
    assert [found[joint].kind for joint in "236"] == ["proven", "apart", "proven"]


def test_a_joint_that_is_asked_against_a_ground_far_from_it_is_asked():
    """1 has the other joint of its own net beside it, and ground, which each joint is asked against, beyond."""
    board = spread(Net("S", "data", ("1", "2")), Net("G", "ground", ("3",)))
    text = "3 @G beep\n2 3 quiet\n1 3 quiet"
    found = joint_states(examined(board, log(board, text)))
    assert [found[joint].kind for joint in "12"] == ["apart", "apart"]
    found = joint_states(examined(board, log(board, text.removesuffix("\n1 3 quiet"))))
    assert [found[joint].kind for joint in "12"] == ["unproven", "apart"]


def test_what_a_join_of_a_shorted_supply_will_answer_is_not_proven_yet():
    """4 sits on the supply at 5. 3 is silent to 1, the supply's other joint, whose join nobody has touched: only that
    join will show 3 apart from 4, so 3 to 4 is not asked by itself, nor known.
    """
    lines = [Net(name, "data", (contact,)) for name, contact in (("N", "2"), ("Y", "3"), ("X", "4"))]
    board = spread(Net("V", "power", ("1", "5"), volts=5.0, must_join=True), *lines)
    text = "5 @V beep\n4 5 beep\n3 1 quiet\n2 3 quiet\n1 2 quiet"
    kinds = [joint_states(examined(board, log(board, more)))["3"].kind for more in (text, text + "\n1 @V beep")]
    assert kinds == ["unproven", "apart"]


def test_the_shell_on_a_ground_joint_whose_own_join_is_unknown_stays_harmless():
    """Nothing is asked of a shell that may touch ground; what is missing at 1 shows at 1."""
    found = kinds("1 SH beep")
    assert (found["1"], found["SH1"], found["SH2"]) == ("unproven", "harmless", "harmless")


def test_a_ground_of_one_joint_is_not_proven_while_a_join_is_to_show_it_apart_from_a_supply_joint():
    """1 is silent to 3. Only the join of 4, still wanted, will show it apart from 4, so that pair is neither asked by
    itself nor known. Of a ground of several joints it shows at the supply alone.
    """
    signal = Net("S", "data", ("2",))
    supply = Net("V", "power", ("3", "4"), volts=5.0, must_join=True)
    text = "1 2 quiet\n2 3 quiet\n1 3 quiet\n3 @V beep"
    one = spread(Net("G", "ground", ("1",)), signal, supply)
    assert joint_states(examined(one, log(one, text)))["1"].kind == "unproven"
    assert joint_states(examined(one, log(one, text + "\n4 @V beep")))["1"].kind == "apart"
    two = spread(Net("G", "ground", ("1", "5"), must_join=True), signal, supply)
    found = joint_states(examined(two, log(two, text + "\n1 @G beep\n5 @G beep\n4 5 quiet")))
    assert (found["1"].kind, found["4"].kind) == ("proven", "unproven")


def test_a_value_that_is_only_listed_takes_nothing_from_a_joint():
    """2 is the only supply: its junction is compared with nothing; an odd one among fellows is not proven."""
    text = log(BOARD, GOOD + "2 @+5V beep")
    listed = [*text, entry(BOARD, 40, "2", "@GND", "volts", 0.4)]
    assert joint_states(examined(BOARD, listed, shorts_only=False))["2"].kind == "proven"


def test_an_odd_value_in_diode_mode_is_not_proven():
    from tests.test_diode import BUS

    volts = {str(n): 0.5 for n in range(3, 10)} | {"10": 0.9}
    entries = [entry(BUS, line, joint, "@GND", "volts", value) for line, (joint, value) in enumerate(volts.items(), 1)]
    found = joint_states(examined(BUS, entries))
    assert found["10"].kind == "unproven"
    found = joint_states(examined(BUS, [*entries, *quiet_row(BUS)]))
    assert found["10"].kind == "unproven" and found["10"].detail.startswith("diode mode: ")
    assert "diode mode" not in found["9"].detail
