"""Standing readings: taken back, lead checks, what a reading means, and findings on a small connector."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest

from connector_check.analysis.knowledge import Knowledge
from connector_check.analysis.meaning import DOUBTFUL, LEAK, PART, PARTS, RESISTIVE, Floor, judge
from connector_check.analysis.reach import Reach, part_floor, possible_links
from connector_check.analysis.replay import FATES, STALE, STANDS, TAKEN, VOID, replay
from connector_check.board.board import Board
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import LEADS_BAD, LEADS_GOOD, LEADS_SILENT, LEADS_SOUND, Entry
from tests.strategies import TINY_YAML, checked, entry, log, tiny_board

GOOD = """
@GND 1 beep
@GND 4 beep
@GND 7 beep
1 2 quiet
2 3 quiet
3 4 quiet
4 5 quiet
5 6 quiet
6 7 quiet
"""


def test_a_good_board_is_clear_with_the_certificate_of_touches():
    """T4: joins (n - d) plus one quiet for each neighbouring net pair; here 3 + 6."""
    result = checked(tiny_board(), log(tiny_board(), GOOD))
    assert result.verdict == "clear"
    assert (result.ledger.joins.proven, result.ledger.isolation.proven) == (3, 6)


@pytest.mark.parametrize("left_out", range(9))
def test_without_any_one_touch_it_is_unproven_and_says_which(left_out):
    lines = GOOD.strip().splitlines()
    gone = lines.pop(left_out).split()
    result = checked(tiny_board(), log(tiny_board(), "\n".join(lines)))
    assert result.verdict == "unproven"
    assert len(result.unproven) == 1
    assert set(gone[:2]) >= {p for p in result.unproven[0] if p not in ("1", "4", "7", "@GND")}


def test_grounds_joined_to_each_other_only_are_assumed_not_proven():
    """T6: all ground joints open but bridged together read like a perfect board, until the board itself is touched."""
    text = GOOD.replace("@GND 1 beep", "1 4 beep").replace("@GND 4 beep", "4 7 beep").replace("@GND 7 beep", "1 7 beep")
    result = checked(tiny_board(), log(tiny_board(), text))
    assert result.verdict == "unproven"
    assert (result.ledger.joins.proven, result.ledger.joins.assumed) == (0, 3)
    assert result.unproven == (("1", "@GND"),)
    assert any("fellows" in line for line in result.assumptions)


def test_an_open_ground_bridged_to_a_signal_is_found():
    """T5: the ground joint 4 is open and bridged to 5; it is silent to ground, so 5 to ground is silent too."""
    result = checked(
        tiny_board(), log(tiny_board(), GOOD.replace("@GND 4 beep", "@GND 4 quiet").replace("4 5 quiet", "4 5 beep"))
    )
    assert result.verdict == "rework"
    assert [s.nets for s in result.shorts] == [("GND", "TX")]
    assert [o.joint for o in result.opens] == ["4"]


def test_two_silent_grounds_name_neither_until_the_board_is_touched():
    """Either may be the open one: that is asked for, and nothing is called open that may be sound."""
    result = checked(tiny_board(), log(tiny_board(), "1 4 quiet"))
    assert result.opens == () and {("1", "@GND"), ("4", "@GND")} <= set(result.unproven)
    result = checked(tiny_board(), log(tiny_board(), "1 4 quiet\n@GND 1 beep"))
    assert [o.joint for o in result.opens] == ["4"]


def test_a_contradiction_is_named_with_the_shortest_beep_path_and_blocks_clear():
    result = checked(tiny_board(), log(tiny_board(), GOOD + "1 4 quiet\n"))
    assert result.verdict == "unproven"
    (conflict,) = result.conflicts
    assert set(conflict.quiet) == {"1", "4"}
    assert {frozenset(b) for b in conflict.beeps} == {frozenset({"@GND", "1"}), frozenset({"@GND", "4"})}
    assert conflict.readings == (1, 2, 10)


def test_taking_the_quiet_back_settles_it_and_nothing_else_does():
    board = tiny_board()
    entries = log(board, GOOD + "1 4 quiet\n1 4 beep\n")
    assert len(checked(board, entries).conflicts) == 1
    taken = [*entries, Entry(12, "taken back", (0, 3), None, "", "quiet")]
    result = checked(board, taken)
    assert (result.verdict, result.record.taken_back) == ("clear", 1)


def test_taken_back_without_pins_takes_the_last_reading():
    board = tiny_board()
    result = checked(board, [*log(board, GOOD), entry(board, 10, "2", "4", "beep"), Entry(11, "taken back", ())])
    assert result.verdict == "clear"


def test_a_failed_lead_check_voids_the_quiets_since_the_last_good_one():
    board = tiny_board()
    entries = log(board, GOOD)
    early = [*entries[:6], Entry(20, LEADS_GOOD, ()), *entries[6:], Entry(21, LEADS_BAD, ())]
    result = checked(board, early)
    assert result.verdict == "unproven"
    assert result.record.stale == 3
    assert len(result.unproven) == 3


def test_a_bad_pin_of_one_net_is_harmless_and_never_in_the_rework_list():
    board = tiny_board()
    result = checked(board, log(board, GOOD + "1 7 beep\nSH @GND beep\n"))
    assert result.verdict == "clear" and not result.rework and not result.shorts
    assert [(h.nets, h.known) for h in result.harmless] == [(("GND", "SHELL"), "assumed from the map")]


def test_reserved_to_data_is_a_note_and_no_rework():
    board = tiny_board()
    result = checked(board, log(board, GOOD.replace("5 6 quiet", "5 6 beep")))
    assert [s.harm for s in result.shorts] == ["note"]
    assert (result.verdict, result.rework) == ("clear", ())


def test_contact_is_required_unless_only_shorts_are_asked():
    board = tiny_board()
    entries = log(board, GOOD)
    assert checked(board, entries).verdict == "clear"
    result = checked(board, entries, shorts_only=False)
    assert (result.verdict, result.parts) == ("unproven", ("clear", "unproven"))
    assert set(result.unproven) == {("2", "@+5V"), ("3", "@D+"), ("5", "@TX")}
    closed = [*entries, *log(board, "2 @+5V beep\n3 @D+ beep\n5 @TX beep")]
    assert checked(board, closed, shorts_only=False).verdict == "clear"
    silent = [*entries, *log(board, "2 @+5V quiet")]
    assert [o.joint for o in checked(board, silent).opens] == ["2"]


def test_a_quiet_on_the_whole_shell_counts_for_each_of_its_joints():
    yaml = TINY_YAML.replace("[1, 4, 7]", "[4, 7]").replace("nets:\n", "nets:\n  RX: {role: data, contacts: [1]}\n")
    pin_map = parse_pin_map(yaml.encode(), "tiny.yaml")
    board = Board(pin_map, pin_map.layouts[0])
    assert ("1", "SH1") in checked(board, []).unproven
    assert ("1", "SH1") not in checked(board, log(board, "1 SH quiet")).unproven


TERMINATED = TINY_YAML.replace(
    "layouts:",
    "paths:\n  - {between: [D+, GND], ohms: [70, 80], why: termination}\n"
    "  - {between: [TX, D+], ohms: [0.2, 1.2], why: winding}\nlayouts:",
)


def terminated_board() -> Board:
    pin_map = parse_pin_map(TERMINATED.encode(), "t.yaml")
    return Board(pin_map, pin_map.layouts[0])


def nothing_known(board: Board) -> Floor:
    """The least that parts can show while no reading stands."""
    return part_floor(board, Reach(board, Knowledge(len(board.points)), possible_links(board, "near")))


@pytest.mark.parametrize(
    ("a", "b", "kind", "ohms", "meter", "meaning"),
    [
        ("3", "4", "beep", None, Meter(), DOUBTFUL),
        ("3", "4", "beep", None, Meter(10, 50), DOUBTFUL),  # over the winding and solder at its other end (T8)
        ("1", "2", "beep", None, Meter(10, 50), DOUBTFUL),
        ("3", "SH1", "beep", None, Meter(), DOUBTFUL),
        ("5", "4", "beep", None, Meter(), DOUBTFUL),
        ("3", "4", "quiet", None, Meter(), PARTS),
        ("3", "4", "ohms", 75.0, Meter(), PARTS),
        ("3", "4", "ohms", 0.4, Meter(), PART),
        ("3", "4", "ohms", 30.0, Meter(), LEAK),
        ("3", "2", "ohms", 71.0, Meter(), LEAK),
        ("1", "4", "ohms", 71.0, Meter(), RESISTIVE),
        ("3", "2", "ohms", 4700.0, Meter(), PARTS),
        ("3", "2", "ohms", float("inf"), Meter(), PARTS),
        ("3", "5", "ohms", 0.6, Meter(), PART),
        ("3", "5", "ohms", 0.1, Meter(), PART),
        ("3", "2", "beep", None, Meter(), DOUBTFUL),
    ],
)
def test_what_a_reading_means(a, b, kind, ohms, meter, meaning):
    board = terminated_board()
    assert judge(board, meter, entry(board, 1, a, b, kind, ohms), nothing_known(board), ohms) == meaning


def test_a_beep_over_a_part_asks_for_ohms_and_ohms_settle_it():
    board = terminated_board()
    asked = checked(board, [entry(board, 1, "3", "4", "beep")])
    assert asked.verdict == "unproven" and not asked.shorts
    (wanted,) = asked.measure
    assert (wanted.expected_ohms, wanted.solder_below_ohms) == ((70, 80), 5)
    settled = checked(board, [entry(board, 1, "3", "4", "beep"), entry(board, 2, "3", "4", "ohms", 75.0)])
    assert not settled.measure and not settled.shorts
    # the winding at 3 may carry low ohms as well while solder at its other end is possible: the eye decides
    low = [entry(board, 1, "3", "4", "beep"), entry(board, 2, "3", "4", "ohms", 0.3)]
    assert checked(board, low).measure
    shorted = checked(board, [*low, entry(board, 3, "3", "4", "solder seen")])
    assert [s.harm for s in shorted.shorts] == ["dead-signal"]


def test_the_leads_own_ohms_are_subtracted():
    board = tiny_board()
    standing = replay(board, [Entry(1, LEADS_GOOD, (), 0.4), entry(board, 2, "2", "3", "ohms", 5.2)])
    assert standing.knowledge.joined(1, 2)
    assert not replay(board, [entry(board, 2, "2", "3", "ohms", 5.2)]).knowledge.joined(1, 2)


def test_shorts_say_whether_they_were_measured_or_inferred():
    board = tiny_board()
    direct = checked(board, log(board, "2 3 beep"))
    assert [s.known for s in direct.shorts] == ["measured"]
    chain = checked(board, log(board, "2 3 beep\n3 5 beep"))
    assert [(s.known, s.readings) for s in chain.shorts] == [("inferred", (1, 2))]


def test_a_quiet_at_the_good_check_itself_is_none_after_it():
    """The first entry of a job has the number 0, as has a job without any good check before a bad one."""
    board = tiny_board()
    quiet = entry(board, 1, "1", "2", "quiet")
    bad = Entry(2, LEADS_BAD, ())
    assert replay(board, [quiet, bad]).reading(0).fate == "void"
    assert replay(board, [quiet, bad, entry(board, 3, "1", "2", "quiet")]).unproven_silence == [2]


def test_a_failed_lead_check_voids_what_silence_told_and_nothing_else():
    board = tiny_board()
    ohms = [("2", "3", 0.2), ("2", "4", float("inf")), ("2", "5", 4700.0)]
    entries = [
        *log(board, "1 4 beep\n1 2 quiet\n1 3 chirp\n1 5 unsure"),
        *(entry(board, line, a, b, "ohms", value) for line, (a, b, value) in enumerate(ohms, 5)),
        entry(board, 8, "@GND", "5", "volts", float("inf")),
        Entry(10, LEADS_SILENT, ()),
    ]
    standing = replay(board, entries)
    assert sorted(standing.job[n].line for n in standing.ended) == [2, 3, 6, 7, 8], "high ohms as well"
    assert set(standing.ended.values()) == {("void", 10)}
    assert standing.lead_checks == [False]


@pytest.mark.parametrize(("volts", "void"), [(0.5, set()), (0.001, set()), (float("inf"), {1})])
def test_a_junction_proves_the_leads_as_a_tone_does(volts, void):
    board = tiny_board()
    entries = [*log(board, "1 2 quiet"), entry(board, 2, "3", "@GND", "volts", volts), Entry(3, LEADS_SILENT, ())]
    standing = replay(board, entries)
    assert {standing.job[n].line for n in standing.ended} - {2} == void


def test_leads_that_touch_read_near_zero_and_no_junction():
    board = tiny_board()
    volts = (("3", 0.001), ("5", 0.5))
    entries = [entry(board, n, pin, "@GND", "volts", v) for n, (pin, v) in enumerate(volts, 1)]
    standing = replay(board, [*entries, Entry(3, LEADS_SOUND, ())])
    assert [standing.job[n].line for n in standing.ended] == [1]


def test_lost_mask_stays_lost_and_seen_solder_is_forgotten_where_the_iron_was():
    board = tiny_board()
    text = "2 3 mask lost\n3 4 solder seen\n5 6 solder seen\n3 4 reworked\n1 2 beep"
    remarks = replay(board, log(board, text)).remarks
    number = board.number
    assert remarks.mask_lost == {frozenset({number["2"], number["3"]})}
    assert remarks.solder_seen == {frozenset({number["5"], number["6"]})}
    assert remarks.reworked == {number["3"], number["4"]}
    # without anything after the iron the rework is over as well
    assert replay(board, log(board, text.removesuffix("\n1 2 beep"))).remarks == remarks
    # mask lost and solder seen before and while the iron works are told alike
    during = "3 4 reworked\n2 3 mask lost\n4 5 solder seen\n6 7 reworked\n1 2 beep"
    remarks = replay(board, log(board, during)).remarks
    assert remarks.mask_lost == {frozenset({number["2"], number["3"]})}
    assert remarks.reworked == {number[n] for n in "3467"}


@pytest.mark.parametrize(
    ("between", "reworks"),
    [
        ("2 3 mask lost", 1),
        ("2 3 solder seen", 1),
        ("2 3 remark", 1),
        ("2 3 quiet", 2),
        ("2 3 taken back", 2),
    ],
)
def test_a_remark_does_not_end_a_rework_and_probing_does(between, reworks):
    board = tiny_board()
    standing = replay(board, log(board, f"3 4 reworked\n{between}\n5 6 reworked\n1 2 beep"))
    assert (len(standing.reworks), standing.rounds) == (reworks, reworks + 1)


def test_solder_bridges_only_neighbours_in_sight_unless_a_scope_says_otherwise():
    """Joint 3 is silent to both sides and to its board; joint 6 is 1.2 mm away."""
    board = tiny_board()
    entries = log(board, "3 2 quiet\n3 4 quiet\n3 @D+ quiet\n6 7 reworked")
    assert replay(board, entries).count("stale") == 0
    assert replay(board, entries, scope="wide").count("stale") == 2


def test_what_is_taken_back_is_the_last_reading_of_that_pair_and_kind():
    board = tiny_board()
    readings = "1 2 quiet\n2 1 beep\n3 4 beep\n1 2 quiet"

    def ended(*points: str, which: str = "") -> list[int]:
        taken = Entry(9, "taken back", tuple(board.number[p] for p in points), None, "", which)
        standing = replay(board, [*log(board, readings), taken])
        assert set(standing.ended.values()) <= {("taken back", 9)}
        return [standing.job[n].line for n in standing.ended]

    assert ended() == [4]
    assert ended(which="beep") == [3]
    assert ended("1", "2") == ended("2", "1") == [4]
    assert ended("1", "2", which="beep") == [2]
    assert ended("3", "4", which="quiet") == []
    assert ended("5", "6") == []


def test_the_fates_are_counted():
    board = tiny_board()
    entries = [
        *log(board, "1 2 quiet\n2 3 quiet\n3 4 quiet\n3 4 taken back"),
        Entry(5, LEADS_BAD, ()),
        *log(board, "5 6 quiet\n5 @TX beep\n5 6 reworked\n2 3 quiet"),
    ]
    standing = replay(board, entries)
    assert (standing.count("taken back"), standing.count("void"), standing.count("stale")) == (1, 2, 2)
    assert standing.count("stale", "void") == 4
    assert standing.rounds == 2
    assert [e.line for e in standing.entries] == [4]


def test_what_is_unsettled_is_settled_by_the_next_ohms_on_that_pair_or_by_a_join():
    board = tiny_board()

    def unsettled(*readings: tuple[str, str, str, float | None]) -> list[int]:
        entries = [entry(board, line, *reading) for line, reading in enumerate(readings, 1)]
        return [number + 1 for number in replay(board, entries).closed.unsettled]

    leak = ("2", "3", "ohms", 40.0)
    assert unsettled(leak) == [1]
    assert unsettled(leak, ("3", "2", "quiet", None)) == [1], "a weaker reading drops no stronger one"
    assert unsettled(leak, ("3", "2", "ohms", 60.0)) == [2]
    assert unsettled(leak, ("3", "2", "unsure", None)) == [1]
    assert unsettled(leak, ("3", "4", "quiet", None)) == [1]
    assert unsettled(leak, ("2", "1", "beep", None), ("1", "3", "beep", None)) == []
    assert unsettled(("3", "2", "quiet", None), leak) == [2]


def test_readings_that_no_longer_stand_prove_nothing():
    """`without` is the same job with some readings gone, as a job that never had them."""
    board = tiny_board()
    entries = [*log(board, "1 2 beep\n2 3 quiet\n3 4 beep"), entry(board, 4, "5", "6", "ohms", 40.0)]
    standing = replay(board, entries)
    for gone in ([], [0], [1], [0, 3], [0, 1, 2, 3]):
        left = standing.without(gone)
        fresh = replay(board, [e for n, e in enumerate(entries) if n not in gone])
        assert left.entries == fresh.entries
        every = range(len(board.points))
        assert all(left.knowledge.status(a, b) == fresh.knowledge.status(a, b) for a in every for b in every)
        assert [left.job[n].line for n in left.closed.unsettled] == [fresh.job[n].line for n in fresh.closed.unsettled]
    assert standing.knowledge.joined(0, 1) and standing.closed.unsettled == [3]


def test_the_quiets_at_a_point_are_those_of_all_that_is_joined_to_it():
    board = tiny_board()
    standing = replay(board, log(board, "1 2 quiet\n1 4 beep\n4 5 quiet\n5 6 quiet\n1 7 unsure"))
    assert [r.entry.line for r in standing.parting_at_class(board.number["4"])] == [1, 3]
    assert [r.entry.line for r in standing.parting_at_class(board.number["5"])] == [3, 4]
    assert standing.parting_at_class(board.number["7"]) == []


def test_quiets_on_the_shell_part_each_of_its_joints_whichever_lead_was_on_it():
    board = tiny_board()
    for text in ("SH 2 quiet", "2 SH quiet"):
        knowledge = replay(board, log(board, text)).knowledge
        told = {name: knowledge.status(board.number[name], board.number["2"]) for name in ("SH", "SH1", "SH2", "1")}
        assert told == {"SH": "apart", "SH1": "apart", "SH2": "apart", "1": "unknown"}
    own = replay(board, log(board, "SH SH1 quiet")).knowledge
    assert own.status(board.number["SH2"], board.number["SH1"]) == "apart"
    assert own.conflicts() == []
    elsewhere = replay(board, log(board, "SH1 2 quiet\n1 3 quiet")).knowledge
    assert elsewhere.status(board.number["SH2"], board.number["2"]) == "unknown"
    assert elsewhere.status(board.number["SH2"], board.number["1"]) == "unknown"


def test_each_visit_of_the_iron_is_one_rework():
    """Every reworked line lies in exactly one rework, remarks between such lines end none, and each begins a round."""
    board = tiny_board()
    rng = random.Random(3)
    for _ in range(300):
        kinds = rng.choices(["beep", "quiet", "reworked", "remark", "mask_lost", "leads_good"], k=rng.randint(1, 14))
        entries = log(board, "\n".join(f"{rng.randint(1, 3)} {rng.randint(4, 7)} {k}".replace("_", " ") for k in kinds))
        standing = replay(board, entries)
        ironed = {i for i, e in enumerate(entries) if e.kind == "reworked"}
        blocks = [range(rework.start, rework.stop) for rework in standing.reworks]
        assert sorted(i for block in blocks for i in block if i in ironed) == sorted(ironed)
        for block, rework in zip(blocks, standing.reworks, strict=True):
            assert entries[block[0]].kind == "reworked" and entries[rework.line - 1].kind == "reworked"
            assert {entries[i].kind for i in block} <= {"reworked", "remark", "mask lost"}
            assert rework.heated == {p for i in block if i in ironed for p in entries[i].points}
        assert all(a.stop < b.start for a, b in pairwise(standing.reworks))
        assert all(standing.reading(n).round <= standing.rounds for n in standing.live)


def test_each_reading_knows_its_fate_and_what_ended_it():
    board = tiny_board()
    entries = [
        Entry(1, LEADS_GOOD, ()),
        entry(board, 2, "1", "2", "quiet"),
        entry(board, 3, "2", "3", "quiet"),
        Entry(4, LEADS_BAD, ()),
        entry(board, 5, "3", "4", "beep"),
        entry(board, 6, "3", "4", "quiet"),
        entry(board, 7, "3", "4", "taken back"),
        entry(board, 8, "1", "4", "beep"),
        entry(board, 9, "1", "", "reworked"),
        entry(board, 10, "5", "6", "quiet"),
    ]
    standing = replay(board, entries)
    told = {
        e.line: (r.fate, r.ended_by, r.meaning, r.round)
        for e in entries
        if e.kind in ("beep", "quiet")
        for r in [standing.reading(e.line - 1)]
    }
    assert told == {
        2: ("void", 4, "nothing", 1),
        3: ("void", 4, "nothing", 1),
        5: ("stale", 9, "nothing", 1),
        6: ("taken back", 7, "nothing", 1),
        8: ("stale", 9, "nothing", 1),
        10: ("stands", 0, "parts", 2),
    }
    assert FATES == (STANDS, TAKEN, STALE, VOID) == ("stands", "taken back", "stale", "void")
    assert {fate for fate, *_ in told.values()} == set(FATES)


def test_ohms_are_read_with_the_leads_as_they_were_then():
    board = tiny_board()
    entries = [
        Entry(1, LEADS_GOOD, (), 0.1),
        entry(board, 2, "2", "3", "ohms", 0.6),
        Entry(3, LEADS_GOOD, (), 0.5),
        entry(board, 4, "2", "5", "ohms", 0.6),
    ]
    standing = replay(board, entries)
    assert [round(standing.reading(n).ohms, 6) for n in (1, 3)] == [0.5, 0.1]
    shorted = replay(board, [Entry(1, LEADS_GOOD, (), 0.3), entry(board, 2, "2", "3", "ohms", 0.2)])
    assert shorted.reading(1).ohms == 0.0
    assert replay(board, [entry(board, 1, "2", "3", "beep")]).reading(0).ohms is None


def test_solder_seen_after_the_iron_stays_when_the_iron_goes_on_elsewhere():
    """4 and 5 are reworked and solder is seen there still; 6 and 7 follow in the same visit of the iron."""
    board = tiny_board()
    iron = [entry(board, 1, "4", "5", "reworked"), entry(board, 2, "4", "5", "solder seen")]
    seen = frozenset((board.number["4"], board.number["5"]))
    for later in ([], [entry(board, 3, "6", "7", "reworked")]):
        assert replay(board, [*iron, *later]).remarks.solder_seen == {seen}
    assert replay(board, [*iron, entry(board, 3, "5", "6", "reworked")]).remarks.solder_seen == frozenset()
