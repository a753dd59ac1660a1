"""What good boards excuse, and what they never do, on a tiny map."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.analysis.check import Settings, check
from connector_check.analysis.good_design import DESTRUCTIVE, designed_as, ties_of
from connector_check.analysis.replay import replay
from connector_check.analysis.result import Result
from connector_check.board.board import Board
from connector_check.board.harm import HARMFUL
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.testlog.job import GoodBoard, Job
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.readings import OHMS, VOLTS, Entry, parse_reading
from tests.strategies import TINY_YAML, boards, tiny_board

TWO_SUPPLIES = TINY_YAML.replace(
    "  NC: {role: reserved, contacts: [6]}", "  +5B: {role: power, volts: 5, contacts: [6]}"
)
PATH = "paths:\n  - {{between: [TX, D+], ohms: {}, absent: no, why: ferrite}}\nlayouts:"
ALL = (
    "1 GND beep, 4 GND beep, 7 GND beep, 1 2 quiet, 2 3 quiet, 3 4 quiet, 4 5 quiet, 5 6 quiet, 6 7 quiet, "
    "2 @+5V beep, 3 @D+ beep, 5 @TX beep"
)
"""Every touch of a sound board."""


def board_of(text: str) -> Board:
    pin_map = parse_pin_map(text.encode(), "t.yaml")
    return Board(pin_map, pin_map.layouts[0])


TINY = tiny_board()
SUPPLIES = board_of(TWO_SUPPLIES)


def rows(board: Board, text: str, leads: bool = True) -> list[Entry]:
    """Entries from `1 2 quiet, 3 4 0.2 ohm`; leads: proven before and after."""
    around = [",,leads good"] if leads else []
    entries = []
    for line, row in enumerate([*around, *filter(None, map(str.strip, text.split(","))), *around], 1):
        if row == ",,leads good":
            entries.append(Entry(line, "leads good", ()))
            continue
        a, b, said = row.split(maxsplit=2)
        parsed = parse_reading(said)
        assert parsed is not None, row
        entries.append(Entry(line, parsed[0], (board.resolve(a), board.resolve(b)), parsed[1]))  # type: ignore[arg-type]
    return entries


def judged(
    board: Board, text: str, *good: str, meter: Meter = UNKNOWN_METER, shorts_only: bool = False, leads: bool = True
) -> Result:
    """The result of a job beside good boards, as `load_job` puts them together."""
    references = tuple(
        GoodBoard(board, rows(board, one, leads), meter, name=f"good {i}", date="2026-11-02")
        for i, one in enumerate(good)
    )
    design = designed_as(board, references)
    job = Job(design.board, rows(board, text), meter, good_boards=references, as_good=design.told)
    return check(job, Settings(shorts_only=shorts_only))


def harms(result: Result) -> list[tuple[tuple[str, ...], str]]:
    return [(short.nets, short.harm) for short in result.shorts]


def told(result: Result, words: str) -> bool:
    return any(words in line for line in result.assumptions)


# What would destroy something, or shorts or joins a supply

DAMAGE = ALL.replace("2 3 quiet", "2 3 beep, 2 3 0.2 ohm")
SHORT = ALL.replace("1 2 quiet", "1 2 beep")
JOIN = ALL.replace("5 6 quiet", "5 6 quiet, 2 6 beep")


@pytest.mark.parametrize(
    ("text", "nets", "harm"),
    [(SHORT, ("+5V", "GND"), "supply-short"), (JOIN, ("+5B", "+5V"), "supply-short")],
)
def test_one_good_board_excuses_no_supply(text, nets, harm):
    result = judged(SUPPLIES, text, text)
    assert result.verdict == "rework" and harms(result) == [(nets, harm)]
    enough = (
        "only ohms under 5 there on two good boards can" if "GND" in nets else "two good boards or the board notes can"
    )
    assert told(result, f"which does not excuse it (supply-short): {enough}")


def test_one_good_board_excuses_no_damage_two_do():
    """The tiny map's TX is not known to withstand 5 V."""
    text = ALL.replace("5 6 quiet", "5 6 quiet, 2 5 beep")
    assert harms(judged(TINY, text, text)) == [(("+5V", "TX"), "damage")]
    assert harms(judged(TINY, text, text, ALL)) == [(("+5V", "TX"), "damage")]
    assert harms(judged(TINY, text, text, text)) == []


def test_two_good_boards_that_agree_excuse_a_supply_join():
    text = JOIN + ", 6 @+5B beep"
    result = judged(SUPPLIES, text, text, text)
    assert result.verdict == "clear" and not result.shorts
    assert told(result, "+5B + +5V are one conductor by design, as on the good board, by tone alone")
    assert harms(judged(SUPPLIES, text, text, ALL + ", 2 6 quiet")) == [(("+5B", "+5V"), "supply-short")]
    assert told(judged(SUPPLIES, text, text, ALL + ", 2 6 quiet"), "disagree on whether +5B and +5V are joined")


def test_a_supply_that_sounds_to_ground_on_two_boards_may_be_its_load_until_ohms_say_solder():
    assert harms(judged(TINY, SHORT, SHORT, SHORT)) == [(("+5V", "GND"), "supply-short")]
    by_ohms = SHORT.replace("1 2 beep", "1 2 0.1 ohm")
    assert harms(judged(TINY, by_ohms, by_ohms, SHORT)) == [(("+5V", "GND"), "supply-short")]
    assert harms(judged(TINY, by_ohms, by_ohms, by_ohms)) == []


def test_a_load_of_two_good_boards_is_a_part_and_solder_there_still_a_short():
    load = ALL.replace("1 2 quiet", "1 2 71 ohm")
    alone = judged(TINY, load, load)
    assert [leak.ohms for leak in alone.leaks] == [71] and told(alone, "one board alone excuses nothing at a supply")
    both = judged(TINY, load, load, load.replace("71", "76"))
    assert (both.verdict, both.leaks) == ("clear", ()) and told(both, "71 and 76 ohm between +5V and GND is a part")
    solder = load.replace("71", "0.2")
    assert harms(judged(TINY, solder, load, load.replace("71", "76"))) == [(("+5V", "GND"), "supply-short")]
    tone = judged(TINY, ALL.replace("1 2 quiet", "1 2 beep"), load, load.replace("71", "76"))
    assert tone.verdict != "clear" and [wanted.pair for wanted in tone.measure] == [("1", "2")]
    torn = judged(TINY, load, load, load.replace("71", "37"))
    assert torn.leaks and told(torn, "disagree on the ohms between +5V and GND (71 and 37)")


def test_a_tie_over_two_good_boards_makes_no_supply_join_that_neither_showed():
    """One joins TX and D+, the other D+ and the supply's fellow; nobody showed TX on the supply."""
    one = ALL.replace("5 6 quiet", "5 3 beep")
    other = ALL.replace("5 6 quiet", "5 6 beep")
    result = judged(SUPPLIES, ALL.replace("5 6 quiet", "5 6 beep, 5 3 beep"), one, other)
    assert result.verdict == "rework" and result.shorts[0].harm == "damage"


def test_ties_that_meet_through_the_notes_tie_no_supply_to_ground():
    """The notes tie TX and D+; two boards join the supply to TX, a third joins D+ to ground: none joined all three."""
    tied = Board(TINY.pin_map, TINY.layout, [{"TX", "D+"}])
    seen = [replay(tied, rows(tied, text)) for text in ("2 5 beep", "2 5 beep", "3 1 beep")]
    assert ties_of(tied, seen[:2]) == [{"+5V", "TX"}] and ties_of(tied, seen[2:]) == [{"D+", "GND"}]
    assert ties_of(tied, seen) == []
    further = Board(TINY.pin_map, TINY.layout, [{"NC", "SHELL"}, {"TX", "D+"}])
    assert (
        ties_of(further, [replay(further, rows(further, text)) for text in ("2 5 beep", "2 5 beep", "3 1 beep")]) == []
    )


def test_a_signal_that_the_designer_tied_is_no_short_and_the_map_still_speaks_elsewhere():
    text = ALL.replace("4 5 quiet", "4 5 beep")
    assert judged(TINY, text).verdict == "rework"
    assert judged(TINY, text, text).verdict == "clear"
    worse = judged(TINY, text.replace("3 4 quiet", "3 4 beep"), text)
    assert [short.harm for short in worse.shorts] == ["dead-signal"]


def test_a_good_board_that_contradicts_itself_ties_nothing():
    text = ALL.replace("4 5 quiet", "4 5 beep")
    result = judged(TINY, text, text + ", 4 5 quiet")
    assert result.verdict == "rework" and told(result, "good board good 0 contradicts itself at 4 - 5")


# What is silent, or over the range, on both

OPEN_CONTACT = ALL.replace("5 @TX beep", "5 @TX quiet")


def test_a_contact_that_is_silent_on_both_is_no_open():
    assert [found.joint for found in judged(TINY, OPEN_CONTACT).opens] == ["5"]
    result = judged(TINY, OPEN_CONTACT, OPEN_CONTACT)
    assert (result.verdict, result.opens) == ("clear", ())
    assert told(result, "contact of 5 is not required: silent to the board on the good board as well")
    assert result.ledger.contacts.needed == 2
    torn = judged(TINY, OPEN_CONTACT, OPEN_CONTACT, ALL)
    assert [found.joint for found in torn.opens] == ["5"]
    assert told(torn, "the good boards disagree on whether 5 reaches TX: not used")


def test_a_ground_that_is_silent_on_both_is_no_open_while_its_fellows_are_joined():
    # beside a ground that reaches nothing, ground itself is still to be touched
    one = ALL.replace("4 GND beep", "4 GND quiet") + ", 3 GND quiet, 5 GND quiet"
    assert [found.joint for found in judged(TINY, one).opens] == ["4"]
    result = judged(TINY, one, one)
    assert (result.verdict, result.opens) == ("clear", ()) and result.ledger.joins.needed == 2
    every = ALL.replace("GND beep", "GND quiet")
    assert judged(TINY, every, every).verdict == "rework"


def test_silence_of_a_good_board_counts_between_proofs_of_the_leads_alone():
    silent = "5 @TX quiet"
    assert judged(TINY, OPEN_CONTACT, silent).opens == ()
    assert [found.joint for found in judged(TINY, OPEN_CONTACT, silent, leads=False).opens] == ["5"]


@pytest.mark.parametrize("word", ["quiet", "OL", "4.7k", "chirp"])
def test_a_part_that_must_sound_and_is_silent_on_both_is_no_open(word):
    """Chip ferrite 0.05 to 0.1 ohm (BMB series); the good board has none fitted."""
    board = board_of(TINY_YAML.replace("layouts:", PATH.format("[0.05, 1]")))
    text = f"{ALL}, 3 5 {word}"
    assert [found.joint for found in judged(board, text).opens] == ["3"]
    assert judged(board, text, text).opens == ()
    assert told(judged(board, text, text), "the part between D+ and TX may be absent")
    sounds = ALL + ", 3 5 beep"
    assert [found.joint for found in judged(board, text, sounds).opens] == ["3"]
    assert [found.joint for found in judged(board, text, text, sounds).opens] == ["3"]
    assert told(judged(board, text, text, sounds), "disagree on the part between D+ and TX")


@pytest.mark.parametrize(("word", "clear"), [("OL", False), ("4.7k", False), ("75 ohm", True)])
def test_a_part_that_a_board_may_lack_is_missed_where_the_good_board_sounds(word, clear):
    board = board_of(TINY_YAML.replace("layouts:", PATH.format("[70, 80]").replace("absent: no", "absent: may")))
    result = judged(board, f"{ALL}, 3 5 {word}", ALL + ", 3 5 beep")
    assert [found.joint for found in result.opens] == ([] if clear else ["3"])


def test_over_the_range_on_both_excuses_a_diode_finding_and_near_zero_does_not():
    bus = board_of(
        TINY_YAML.replace(
            "  D+: {role: data, contacts: [3], withstands: 5.25}\n", "  D1: {role: data, contacts: [3]}\n"
        )
        .replace("  TX: {role: data, contacts: [5]}\n", "  D2: {role: data, contacts: [5]}\n")
        .replace("  NC: {role: reserved, contacts: [6]}", "  D3: {role: data, contacts: [6]}")
        .replace("contacts: [1, 4, 7]", "contacts: [1, 7]")
        .replace("  SHELL", "  D4: {role: data, contacts: [4]}\n  SHELL")
    )
    volts = "3 GND 0.5 V, 5 GND 0.51 V, 6 GND 0.52 V, 4 GND OL V"

    def kinds(text: str, *good: str) -> list[str]:
        return [found.kind for found in judged(bus, text, *good).diode if found.joint == "4"]

    assert kinds(volts) == ["open"]
    assert kinds(volts, "4 GND OL V") == ["listed"] and judged(bus, volts, "4 GND OL V").opens == ()
    assert any("; the good board reads the same" in found.why for found in judged(bus, volts, volts).diode)
    assert told(judged(bus, volts, volts), "4 over the range in diode mode is no finding: so on the good board as well")
    assert kinds(volts, "4 GND 0.5 V") == kinds(volts, "4 GND OL V", "4 GND 0.5 V") == ["open"]
    short = "2 GND 0.01 V"
    assert [found.kind for found in judged(bus, short, short).diode] == ["short"]
    odd = volts.replace("OL V", "0.7 V") + ", 3 GND 0.5 V"
    assert kinds(odd) == kinds(odd, "4 GND 0.5 V") == ["outlier"]
    assert kinds(odd, "4 GND 0.69 V") == ["listed"]


# Differences


def test_ohms_that_differ_are_told_and_leave_their_part_unproven():
    text = ALL.replace("3 4 quiet", "3 4 4.7k")
    assert judged(TINY, text, text).verdict == "clear"
    lower = judged(TINY, text, text.replace("4.7k", "10k"))
    (found,) = lower.differences
    assert (found.kind, found.points, found.here, found.good, found.lower) == ("ohms", ("3", "4"), 4700, 10000, True)
    assert "3 to 4 differs from the good board: 4700 ohm here, 10000 ohm there" in found.why
    assert found.nets == ("D+", "GND")
    assert (lower.verdict, lower.parts.shorts, lower.parts.contact, lower.rework) == (
        "unproven",
        "unproven",
        "clear",
        (),
    )
    higher = judged(TINY, text, text.replace("4.7k", "1k"))
    assert (higher.parts.shorts, higher.parts.contact, higher.rework) == ("clear", "unproven", ())
    assert lower.as_json()["differences"][0]["good"] == 10000
    assert judged(TINY, ALL + ", 3 @D+ 3 ohm", ALL + ", 3 @D+ 0.1 ohm").differences[0].here == 3


def test_a_reserved_pin_joined_here_and_apart_there_is_told():
    text = ALL.replace("6 7 quiet", "6 7 beep")
    assert judged(TINY, text).verdict == "clear"
    result = judged(TINY, text, ALL)
    assert [(found.kind, found.points, found.nets) for found in result.differences] == [
        ("tone", ("6", "7"), ("GND", "NC"))
    ]
    # where one good board has that join it is no difference, and where one never touched it nothing is known
    for others in ((ALL, text), (text, ALL), (ALL, "1 GND beep")):
        assert judged(TINY, text, *others).differences == ()
    assert result.verdict == "unproven"


@pytest.mark.parametrize(
    ("here", "there", "part"),
    [("0.5", "0.52", ""), ("0.9", "0.5", "contact"), ("OL", "0.5", "contact"), ("0.2", "0.5", "shorts")],
)
def test_volts_that_differ_are_no_harm_by_themselves(here, there, part):
    result = judged(TINY, f"{ALL}, 3 GND {here} V", f"3 GND {there} V")
    assert [found.kind for found in result.differences] == ["volts"] * bool(part)
    assert result.rework == () and result.verdict == ("unproven" if part else "clear")
    assert not part or getattr(result.parts, part) == "unproven"


def test_what_the_good_boards_disagree_on_is_told_and_not_used():
    result = judged(TINY, ALL + ", 3 GND 0.9 V", "3 GND 0.5 V", "3 GND 0.9 V")
    assert result.differences == () and result.verdict == "clear"
    assert told(result, "the good boards disagree, so it is not used: 3 (0.5 V and 0.9 V)")


def test_coverage_and_agreement_are_told_for_each_good_board():
    """12 in scope: joins 3, contacts 3, isolation 9."""
    result = judged(
        TINY, ALL + ", 3 GND 0.5 V", "1 GND beep, 1 2 quiet, 3 GND 0.51 V, 5 6 quiet", ALL + ", 3 GND 0.9 V"
    )
    first, second = (line for line in result.assumptions if line.startswith("good board "))
    needed = sum(count.needed for count in (result.ledger.joins, result.ledger.contacts, result.ledger.isolation))
    assert first.startswith(f"good board good 0, 2026-11-02: it read 4 of {needed} pairs in scope; of 4 pairs read on")
    assert "read on both, 4 agree" in first
    assert f"it read {needed} of {needed} pairs" in second and "of 13 pairs read on both, 12 agree" in second


# On any map


@settings(max_examples=60, deadline=None)
@given(boards(), st.data())
def test_one_reference_never_makes_a_destructive_short_clear(board, data):
    """A board with a bridge that would destroy something, or shorts a supply, beside any one good board."""
    joints = range(len(board.joints))
    pairs = [
        (a, b)
        for a in joints
        for b in joints
        if a < b and board.grade(board.net_of[a], board.net_of[b]).harm in DESTRUCTIVE
    ]
    if not pairs:
        return
    bad = data.draw(st.sampled_from(pairs))
    touches = st.lists(st.tuples(st.sampled_from(joints), st.sampled_from(joints), st.sampled_from(["beep", "quiet"])))
    good = [Entry(i, kind, (a, b)) for i, (a, b, kind) in enumerate(data.draw(touches)) if a != b]
    leads = Entry(0, "leads good", ())
    solder = [leads, Entry(1, "beep", bad), Entry(2, OHMS, bad, 0.1), leads]
    reference = GoodBoard(board, [leads, *good, *solder])
    design = designed_as(board, [reference])
    result = check(Job(design.board, solder, good_boards=(reference,), as_good=design.told))
    assert result.verdict == "rework" and any(short.harm in HARMFUL for short in result.shorts)
    assert result.shorts[0].harm in DESTRUCTIVE


@settings(max_examples=40, deadline=None)
@given(boards(), st.randoms(use_true_random=False))
def test_a_board_beside_its_twin_gets_no_difference(board, rng):
    joints = range(len(board.joints))
    grounds = [p for p in range(len(board.points)) if board.net_of[p].role == "ground"]
    entries = [Entry(i, OHMS, (j, rng.choice(joints)), rng.choice([0.1, 75.0, 4700.0])) for i, j in enumerate(joints)]
    entries += [
        Entry(i, VOLTS, (j, grounds[0]), rng.uniform(0.3, 0.8))
        for i, j in enumerate(joints)
        if grounds and board.net_of[j].role != "ground"
    ]
    leads = Entry(0, "leads good", ())
    entries = [leads, *(entry for entry in entries if len(set(entry.points)) == 2), leads]
    reference = GoodBoard(board, entries)
    design = designed_as(board, [reference])
    result = check(Job(design.board, entries, good_boards=(reference,), as_good=design.told))
    assert result.differences == ()


def test_leads_that_nobody_measured_may_add_half_an_ohm_on_each_board():
    """0.2 ohm there is up to 0.78 on any board, read as up to 1.36, and 2.36 with half an ohm of leads on both."""
    good = ALL + ", 3 @D+ 0.2 ohm"
    assert judged(TINY, ALL + ", 3 @D+ 2.3 ohm", good).differences == ()
    (found,) = judged(TINY, ALL + ", 3 @D+ 2.4 ohm", good).differences
    assert found.expected == (0.0, pytest.approx(2.3556, abs=1e-4))


def test_eight_disputes_are_told_and_the_others_counted():
    def good(volts: float, count: int) -> str:
        return ", ".join(f"{joint} GND {volts} V" for joint in "123456789"[:count])

    board = board_of(
        TINY_YAML.replace("[1, 4, 7]", "[7]")
        .replace("[3]", "[1, 3, 4]")
        .replace("[1..7]", "[1..9]")
        .replace("contacts: [6]", "contacts: [6, 8, 9]")
    )
    for count, more in ((8, False), (9, True)):
        result = judged(board, good(0.5, count), good(0.3, count), good(0.6, count))
        (line,) = (line for line in result.assumptions if "the good boards disagree, so it is not used" in line)
        assert line.count(" (0.3 V and 0.6 V)") == 8 and line.endswith("; and 1 more") is more
        assert ("more" in line) is more


def test_a_part_of_two_good_boards_reaches_from_the_lesser_to_the_larger_of_what_they_read():
    """71 and 76 ohm: 10 % and half an ohm below the one, and above the other, is the part still."""
    load = ALL.replace("1 2 quiet", "1 2 {} ohm")
    for ohms, leak in ((59, False), (90, False), (55, True), (99, True)):
        result = judged(TINY, load.format(ohms), load.format(71), load.format(76))
        assert bool(result.leaks) is leak


def test_a_joint_that_conducts_here_and_is_over_the_range_there_does_not_read_the_same():
    """Two joints of one supply are one conductor: 0.9 V at 6 is a bad joint, whatever a board without contact shows."""
    board = board_of(
        TINY_YAML.replace("contacts: [2]}", "contacts: [2, 6]}").replace("  NC: {role: reserved, contacts: [6]}\n", "")
    )
    volts = "2 GND 0.4 V, 6 GND {} V"
    for here, kind in (("0.9", "open"), ("OL", "listed")):
        result = judged(board, volts.format(here), "6 GND OL V")
        (found,) = (found for found in result.diode if found.joint == "6")
        assert found.kind == kind and found.why.endswith("the good board reads the same") is (kind == "listed")
        assert [opened.joint for opened in result.opens] == (["6"] if kind == "open" else [])


def test_what_differs_is_told_with_both_values_and_what_was_expected():
    """10 % parts and half an ohm, or 5 % spread of junctions at three deviations around 0.5 V."""
    result = judged(TINY, ALL + ", 3 @D+ 3 ohm, 5 GND 0.3 V", ALL + ", 3 @D+ 0.1 ohm, 5 GND 0.5 V")
    ohms, volts = result.differences
    assert ohms.why == (
        "3 to @D+ differs from the good board: 3 ohm here, 0.1 ohm there (0 to 2.233 ohm expected); "
        "higher: a joint, part or track with more ohms in it; measure again on both"
    )
    assert volts.why == (
        "5 to ground differs from the good board: 0.3 V here, 0.5 V there (0.3919 to 0.6081 V expected); "
        "lower: a short or leak, or another part; measure again on both"
    )
    assert (volts.points, volts.nets, volts.here, volts.good, volts.lower) == (("5",), ("TX",), 0.3, 0.5, True)
    assert volts.expected == (pytest.approx(0.3919, abs=1e-4), pytest.approx(0.6081, abs=1e-4))
    several = judged(TINY, ALL + ", 5 GND OL V", *["5 GND 0.5 V"] * 3)
    assert "over the range here, 0.5 V (median of 3) there" in several.differences[0].why
    assert (several.differences[0].here, several.differences[0].lower) == (None, False)
    assert "higher: no contact, or a joint or part with ohms in it" in several.differences[0].why


def test_a_leak_beside_a_good_board_is_lower():
    lower = judged(TINY, ALL.replace("3 4 quiet", "3 4 4.7k"), ALL.replace("3 4 quiet", "3 4 10k"))
    assert "lower: solder, a leak or another part beside it" in lower.differences[0].why
    over = judged(TINY, ALL.replace("3 4 quiet", "3 4 4.7k"), ALL.replace("3 4 quiet", "3 4 OL"))
    assert "over the range there; lower: " in over.differences[0].why and over.differences[0].expected is None


def test_a_tie_is_told_to_rest_on_tones_unless_every_joining_reading_was_ohms():
    text = ALL + ", 3 5 0.2 ohm"
    design = judged(TINY, text, text)
    (line,) = (line for line in design.assumptions if "one conductor by design" in line)
    assert line.startswith("D+ + TX are one conductor") and "by tone alone" not in line
    toned = judged(TINY, text, ALL + ", 3 5 beep")
    assert told(toned, "D+ + TX are one conductor by design, as on the good board, by tone alone")
    mixed = judged(SUPPLIES, text, text + ", 4 3 quiet", text)
    assert told(mixed, "D+ + TX are one conductor by design") and not told(mixed, "by tone alone")


def test_each_dispute_is_told_once_in_the_order_of_the_nets():
    """Two parts that must sound, silent on one good board and sounding on the other; told twice by two findings."""
    parts = "paths:\n" + "".join(
        f"  - {{between: [{nets}], ohms: [0.05, 1], absent: no, why: ferrite}}\n" for nets in ("TX, D+", "TX, NC")
    )
    board = board_of(TINY_YAML.replace("layouts:", parts + "layouts:"))
    result = judged(board, ALL, "3 5 quiet, 6 5 quiet", "3 5 beep, 6 5 beep")
    lines = [line for line in result.assumptions if "disagree on the part" in line]
    assert [line.partition("between ")[2] for line in lines] == ["D+ and TX: not used", "NC and TX: not used"]
