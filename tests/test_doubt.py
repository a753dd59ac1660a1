"""The refuter asked about a job: what it tells, what it asks for, and when `clear` is earned."""

from __future__ import annotations

import dataclasses
from itertools import combinations
from math import inf

import pytest

from connector_check.analysis.doubt import MOST_JOINTS, OPEN_ODDS, fault_odds, find_doubt, true_ohms
from connector_check.analysis.explanations import BOUND
from connector_check.analysis.obligations import obligations
from connector_check.analysis.replay import replay
from connector_check.board.board import NEAR, Board
from connector_check.board.ohms import FAR_FROM_ZERO_OHMS, NEAR_ZERO_OHMS
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import DesignPath
from connector_check.probing.session import Session
from connector_check.probing.steps import IRON
from connector_check.simulated.board import Bridge, Part, SimulatedBoard
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import OHMS, SEEN_CLEAR, SOLDER_SEEN, VOLTS, Entry
from tests.simulate import Drive, Options
from tests.strategies import checked, entry, log, tiny_board
from tests.test_bridges import row_of_nets
from tests.test_closing import with_parts
from tests.test_diode import BUS
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
    assert result.doubt.bound == "up to two faults, and one open joint with up to three bridges at it"
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
        # a junction, or nothing at all, is far from solder; near 0 V is solder or hardly more
        (VOLTS, 0.5, (FAR_FROM_ZERO_OHMS, inf, False)),
        (VOLTS, inf, (FAR_FROM_ZERO_OHMS, inf, False)),
        (VOLTS, 0.001, (0.0, NEAR_ZERO_OHMS, False)),
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


def midi_in_with_an_ohm() -> Board:
    """din-5-midi-in, with 1 ohm from IN+ to the shield by board notes; joint 1 is reserved."""
    pin_map = find_pin_map("din-5-midi-in")
    part = DesignPath(("IN+", "SHIELD"), 0.9, 1.1, "1 ohm by the notes")
    return Board(dataclasses.replace(pin_map, paths=(*pin_map.paths, part)), pin_map.layouts[0])


SEEN_ON_ONE_SIDE = """4 @IN+ beep
1 4 beep
2 4 beep
2 3 quiet
2 5 quiet
5 SH1 quiet
3 SH1 quiet
3 5 beep
1 SH2 beep
5 @IN- beep
2 @SHIELD beep
SH @SHELL beep"""


def test_a_look_at_two_joints_tells_nothing_of_a_reserved_joint_that_is_one_with_them():
    """4 is open and bridged to the reserved 1, and 1 to the shield at 2: between 2 and 4 there is nothing to see."""
    board = midi_in_with_an_ohm()
    entries = log(board, SEEN_ON_ONE_SIDE)
    for pair, ohms in ((("1", "4"), 0.2), (("2", "4"), 0.7), (("1", "SH2"), 0.6)):
        entries.append(entry(board, 20 + len(entries), *pair, OHMS, ohms))
    entries += [entry(board, 50 + i, *pair, SEEN_CLEAR) for i, pair in enumerate((("2", "4"), ("1", "SH2")))]
    result = checked(board, entries, shorts_only=False)
    assert result.verdict == "unproven"
    assert (set(result.doubt.pair), result.doubt.kind) == ({"1", "2"}, "eyes")
    soldered = checked(board, [*entries, entry(board, 60, "1", "2", SOLDER_SEEN)], shorts_only=False)
    assert soldered.verdict == "rework" and {"IN+", "SHIELD"} <= set(soldered.shorts[0].nets)
    assert [set(site.joints) for site in soldered.shorts[0].sites] == [{"1", "4"}, {"1", "2"}]


def test_ohms_of_more_faults_than_were_searched_for_send_the_eye_to_the_joints_that_may_be_bridged():
    """10, 11 and 12 lie on ground over 8, 13 and 14, half an ohm by design beside them: no two faults read so."""
    pin_map = find_pin_map("mini-displayport")
    part = DesignPath(("ML0-", "ML1-"), 0.45, 0.55, "half an ohm by the notes")
    board = Board(dataclasses.replace(pin_map, paths=(*pin_map.paths, part)), pin_map.layouts[0])
    number = board.number
    bridges = tuple(Bridge(number[a], number[b], ohms) for a, b, ohms in (("14", "12", 0.0), ("10", "8", 0.49)))
    bridges += (Bridge(number["13"], number["11"], 0.43),)
    drive = Drive(3, Options(("mini-displayport",), meters=("10:35",), slip=0.0), trace=True)
    drive.board, drive.session = board, Session(board, [], meter=drive.person.meter.band)
    drive.person.board = SimulatedBoard(board, bridges, parts=(Part(part.nets, (0.528,)),))
    assert drive.probe().kind == IRON
    assert "look 14 - 12: solder seen" in drive.lines
    assert {"ML3-", "GND"} <= set(drive.session.result().shorts[0].nets)
    sites = [set(site.joints) for short in drive.session.result().shorts for site in short.sites]
    assert {"12", "14"} in sites


def test_what_the_floating_metal_of_a_shell_reads_to_its_board_hides_no_bad_board():
    """The shell may float: its board point, apart from it, tells nothing of joints, and `clear` is earned as before."""
    text = GOOD + CONTACTS + "SH @SHELL quiet\n"
    result = checked(tiny_board(), log(tiny_board(), text), shorts_only=False)
    assert (result.verdict, result.doubt) == ("clear", None)


def test_between_two_joints_a_winding_apart_the_eye_looks_at_these_two():
    """2 to 3 reads 0.4 ohm over a winding; 1 - 2 comes before them in the row and 3 - 4 after."""
    board = with_part("+5V, D+", 0.2, 1)
    read = entry(board, 20, "2", "3", OHMS, 0.4)
    result = checked(board, [*log(board, GOOD.replace("2 3 quiet\n", "") + CONTACTS), read], shorts_only=False)
    assert result.verdict == "unproven"
    wanted = [set(m.pair) for m in result.measure] + ([set(result.doubt.pair)] if result.doubt else [])
    assert wanted == [{"2", "3"}]
    seen = [*log(board, GOOD.replace("2 3 quiet\n", "") + CONTACTS), read, entry(board, 21, "2", "3", SEEN_CLEAR)]
    assert checked(board, seen, shorts_only=False).verdict == "clear"


@pytest.mark.parametrize(("sounds_on_junction", "none"), [(True, True), (False, False)])
def test_a_tone_on_a_junction_allows_any_ohms(sounds_on_junction, none):
    board = tiny_board()
    meter = Meter(30, 70, beeps_on_junction=sounds_on_junction)
    standing = replay(board, [entry(board, 1, "3", "@GND", VOLTS, 0.5), *log(board, "3 1 beep")], meter)
    assert (true_ohms(standing.readings[1], meter) is None) is none


def test_ohms_between_what_the_board_may_join_or_not_allow_anything():
    """40 ohm from the shell to ground: the shell may touch ground, or not, so nothing is proven by it."""
    board = tiny_board()
    standing = replay(board, [entry(board, 1, "SH1", "1", OHMS, 40.0), *log(board, "SH2 @GND beep")])
    assert [true_ohms(reading, standing.meter) is None for reading in standing.readings] == [True, False]


def test_where_no_board_reads_so_clear_is_not_earned_and_what_to_do_is_told():
    """1 sounds and is silent to its board: neither a sound board nor one with two faults reads both."""
    board = tiny_board()
    standing = replay(board, log(board, GOOD + CONTACTS + "1 @GND quiet"))
    found = find_doubt(standing, obligations(board, NEAR), True)
    assert (found.told, found.pair, found.kind, found.bound) == ("", None, "", BOUND)
    assert found.left_out == ("no board with up to two faults would read so: touch again what looks odd",)


def test_contact_by_diode_mode_is_vouched_for_and_without_it_an_open_joint_is_told():
    """Lines D0 to D7 show junctions alike, all nets are silent to each other, all else reached its board by a tone."""
    names = [joint.name for joint in BUS.joints]
    lines = [str(contact) for contact in range(3, 11)]
    text = "\n".join(f"{a} {b} quiet" for a, b in combinations(names, 2) if {a, b} != {"14", "15"})
    tones = [f"{name} @{BUS.net_of[BUS.number[name]].name} beep" for name in names if name not in lines]
    entries = log(BUS, "\n".join([text, *tones]))
    needed = obligations(BUS, NEAR)
    volts = [entry(BUS, 900 + n, name, "@GND", VOLTS, 0.5) for n, name in enumerate(lines)]
    assert find_doubt(replay(BUS, [*entries, *volts]), needed, False) is None
    assert "open" in find_doubt(replay(BUS, [*entries, *volts[1:]]), needed, False).told


def test_from_the_bridge_limit_up_ohms_are_not_those_of_solder_alone():
    board = tiny_board()
    for ohms, solder in ((4.9, True), (5.0, False)):
        standing = replay(board, [entry(board, 1, "3", "5", OHMS, ohms)])
        _, _, least, most, _ = true_ohms(standing.readings[0], standing.meter)
        assert (least == 0) is solder and least <= ohms <= most


def test_where_ohms_are_those_of_a_winding_and_an_eye_has_been_there_nothing_more_is_asked_of_it():
    """The look at 2 and 3 settles the one pair; a second winding, 5 to 6, is still to be looked at."""
    board = with_parts(("+5V, D+", 0.2, 1), ("TX, NC", 0.2, 1))
    text = GOOD.replace("2 3 quiet\n", "").replace("5 6 quiet\n", "") + CONTACTS
    read = [entry(board, 20, "2", "3", OHMS, 0.4), entry(board, 21, "5", "6", OHMS, 0.4)]
    looked = entry(board, 22, "2", "3", SEEN_CLEAR)
    result = checked(board, [*log(board, text), *read, looked], shorts_only=False)
    assert [set(wanted.pair) for wanted in result.measure] == [{"5", "6"}]
    done = [*log(board, text), *read, looked, entry(board, 23, "5", "6", SEEN_CLEAR)]
    assert checked(board, done, shorts_only=False).verdict == "clear"


def test_a_shell_that_floats_hides_no_bad_board():
    """Two open joints of the shell would explain its silence to the board, and leave no faults for 3 and 4."""
    board = terminated()
    result = checked(board, [*good_readings(board), *log(board, "SH @SHELL quiet")])
    assert result.doubt.told == "a board with joint 4 open and bridged to 3 would read the same"
