"""The ledger, what is still to be touched, and the verdict, on a small board counted by hand."""

from __future__ import annotations

import pytest

from connector_check.analysis.obligations import obligations
from connector_check.analysis.opens import find_opens
from connector_check.analysis.replay import Standing, replay
from connector_check.analysis.result import Count, Ledger, Parts, PointPair
from connector_check.analysis.shorts import find_shorts
from connector_check.analysis.verdict import Account, account, lead_proof_missing, parts_of
from connector_check.board.board import NEAR
from connector_check.testlog.readings import LEADS_GOOD, Entry
from tests.strategies import entry, log, tiny_board
from tests.test_findings import with_part
from tests.test_replay import GOOD


def standing_of(text: str, *more: Entry) -> Standing:
    """What stands of these readings, with leads proven before and after."""
    board = tiny_board()
    return replay(board, [Entry(0, LEADS_GOOD, ()), *log(board, text), *more, Entry(99, LEADS_GOOD, ())])


def account_of(standing: Standing, shorts_only: bool = True) -> Account:
    return account(standing, obligations(standing.board, NEAR), shorts_only)


def counted(text: str, shorts_only: bool = True) -> tuple[Ledger, list[PointPair]]:
    """The ledger and the wanted pairs by name."""
    standing = standing_of(text)
    found = account_of(standing, shorts_only)
    return found.ledger, [standing.board.pair(pair) for pair in found.todo]


def without(text: str, *lines: str) -> str:
    return "\n".join(line for line in text.strip().splitlines() if line not in lines)


def test_the_ledger_of_an_untouched_and_of_a_good_board():
    """Three ground joints; 2, 3, 5, 6 against ground, 2 beside 3, 5 beside 6; four lone signals less the reserved one.
    Not in scope: of five conductors 2, 3, 5, 6 and ground ten pairs, six of them asked; the shell adds 2, 3, 5, 6 at
    each of its two joints.
    """
    ledger, todo = counted("")
    assert (ledger.joins, ledger.isolation, ledger.contacts) == (Count(3, 0, 0), Count(6, 0, 0), Count(3, 0, 0))
    assert (ledger.by_eye, ledger.not_in_scope) == (0, 4 + 8)
    assert todo[:3] == [("1", "@GND"), ("4", "@GND"), ("7", "@GND")]
    ledger, todo = counted(GOOD + "3 @D+ beep\n5 @TX quiet")
    assert (ledger.joins, ledger.isolation, todo) == (Count(3, 3, 0), Count(6, 6, 0), [])
    assert ledger.contacts == Count(3, 1)


def test_signal_contacts_are_counted_and_asked_unless_known_either_way_or_left_out():
    text = GOOD + "3 @D+ beep\n5 @TX quiet"
    ledger, todo = counted(text, shorts_only=False)
    assert ledger.contacts == Count(3, 1)
    assert todo == [("2", "@+5V")]
    # left out they are counted all the same, so that no screen says more than was proven
    ledger, todo = counted(text, shorts_only=True)
    assert (ledger.contacts, todo) == (Count(3, 1), [])
    assert account_of(standing_of(text)).untested == 2


def test_the_account_lists_joins_isolation_and_contacts_apart():
    board, text = tiny_board(), without(GOOD, "@GND 4 beep", "5 6 quiet", "3 4 quiet")
    found = account_of(standing_of(text), shorts_only=False)
    names = [[board.pair(pair) for pair in part] for part in (found.joins, found.isolation, found.contacts)]
    assert names == [[("4", "@GND")], [("3", "4"), ("5", "6")], [("2", "@+5V"), ("3", "@D+"), ("5", "@TX")]]
    assert found.todo == [*found.joins, *found.isolation, *found.contacts]


def test_a_pair_seen_clear_is_counted_by_eye():
    ledger, todo = counted(GOOD.replace("5 6 quiet", "5 6 seen clear"))
    assert (ledger.isolation, ledger.by_eye, todo) == (Count(6, 6), 1, [])


def test_what_parts_may_have_carried_is_proven_once_it_is_vouched_for():
    """The choke between +5V and NC may sound between 1 and the board's ground over bridges 1 - 2 and 6 - 7."""
    board = with_part("+5V, NC", 1, 2)
    needed = obligations(board, NEAR)
    standing = replay(board, log(board, "1 @GND beep"))
    assert account(standing, needed, True).ledger.joins == Count(3, 0)
    assert account(standing, needed, True, vouched=True).ledger.joins == Count(3, 1)
    # and it is not asked again, either way
    pair = (board.number["1"], board.number["@GND"])
    assert pair not in account(standing, needed, True).todo


def test_a_harmful_short_is_needed_and_not_proven_a_note_is_no_longer_needed():
    ledger, todo = counted(GOOD.replace("2 3 quiet", "2 3 beep"))
    assert (ledger.isolation, todo) == (Count(6, 5), [])
    ledger, todo = counted(GOOD.replace("5 6 quiet", "5 6 beep"))
    assert (ledger.isolation, todo) == (Count(5, 5), [])
    both = GOOD.replace("2 3 quiet", "2 3 beep").replace("5 6 quiet", "5 6 beep")
    assert counted(both)[0].isolation == Count(5, 4)


def test_joints_joined_to_their_fellows_alone_are_assumed_and_one_of_them_is_asked():
    ledger, todo = counted("1 4 beep\n3 7 quiet")
    assert ledger.joins == Count(3, 0, 2)
    assert todo[:2] == [("1", "@GND"), ("7", "@GND")] and ("4", "@GND") not in todo
    ledger, todo = counted("1 4 beep\n1 @GND quiet")
    assert ledger.joins == Count(3, 0, 2)
    assert todo[0] == ("7", "@GND")
    assert counted("1 4 beep\n1 @GND beep")[0].joins == Count(3, 2, 0)


def test_what_a_wanted_join_will_answer_is_not_asked_by_itself():
    """3 is silent to joint 4; if 4 beeps to its board, 3 is apart from ground as well. Joint 5 was not touched."""
    _, todo = counted("3 4 quiet")
    assert ("4", "@GND") in todo
    assert not {("3", "@GND"), ("3", "1"), ("3", "7"), ("1", "3")} & set(todo)
    assert any("5" in pair for pair in todo)
    # joint 4 is open: 3 has to be asked against the other grounds
    _, todo = counted("3 4 quiet\n4 @GND quiet")
    assert any(set(pair) & {"1", "7", "@GND"} and "3" in pair for pair in todo)


def test_isolation_is_asked_nearest_first_after_the_joins():
    _, todo = counted("")
    near = [("1", "2"), ("2", "3"), ("3", "4"), ("4", "5"), ("5", "6"), ("6", "7")]
    assert sorted(todo[3:]) == near


def parts(text: str, *more: Entry, shorts_only: bool = True) -> Parts:
    standing = standing_of(text, *more)
    harms = [short.harm for short in find_shorts(standing)]
    return parts_of(standing, account_of(standing, shorts_only), harms, find_opens(standing), shorts_only)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", ("unproven", "unproven")),
        (GOOD, ("clear", "clear")),
        (GOOD.replace("5 6 quiet", "5 6 beep"), ("clear", "clear")),
        (GOOD.replace("2 3 quiet", "2 3 beep"), ("rework", "clear")),
        (GOOD + "4 7 quiet", ("unproven", "unproven")),
        (GOOD.replace("@GND 4 beep", "@GND 4 quiet"), ("unproven", "rework")),
        (without(GOOD, "5 6 quiet"), ("unproven", "clear")),
        # 6 is silent to 7, which may be open: nothing shows 6 apart from ground yet
        (without(GOOD, "@GND 7 beep"), ("unproven", "unproven")),
        # 1 and 4 reach the board, 7 beeps to them
        (GOOD.replace("@GND 7 beep", "4 7 beep"), ("clear", "clear")),
        (GOOD + "3 @D+ quiet", ("clear", "rework")),
    ],
)
def test_the_two_parts_of_the_verdict(text, said):
    assert parts(text) == said


def test_signal_contact_is_part_of_the_verdict_unless_it_is_left_out():
    contacts = "2 @+5V beep\n3 @D+ beep\n5 @TX beep\n"
    assert parts(GOOD, shorts_only=False) == ("clear", "unproven")
    assert parts(GOOD + contacts, shorts_only=False) == ("clear", "clear")


def test_the_whole_is_the_worse_of_the_two():
    order = ("clear", "unproven", "rework")
    for a in order:
        for b in order:
            assert Parts(a, b).whole == max(a, b, key=order.index)


@pytest.mark.parametrize(
    ("harms", "said"),
    [
        ([], "clear"),
        (["note"], "clear"),
        (["harmless", "note"], "clear"),
        (["note", "dead-signal"], "rework"),
        (["supply-short"], "rework"),
        (["damage", "note"], "rework"),
    ],
)
def test_only_a_harmful_short_asks_for_rework(harms, said):
    good = standing_of(GOOD)
    assert parts_of(good, account_of(good), harms, [], shorts_only=True) == (said, "clear")


def test_ohms_that_leave_something_to_do_keep_their_part_from_clear():
    """A leak is a matter of shorts and is measured again; a resistive joint is reflowed."""
    board = tiny_board()
    assert parts(GOOD, entry(board, 50, "3", "5", "ohms", 40.0)) == ("unproven", "clear")
    assert parts(GOOD, entry(board, 50, "1", "4", "ohms", 40.0)) == ("clear", "rework")


def test_odd_junctions_leave_contact_and_leads_without_proof_leave_shorts_unproven():
    good = standing_of(GOOD)
    assert parts_of(good, account_of(good), [], [], shorts_only=True, odd_junctions=True) == ("clear", "unproven")
    assert parts_of(good, account_of(good), [], [], shorts_only=True, lead_proof=False) == ("unproven", "clear")


def test_silence_that_is_needed_lies_between_two_proofs_of_the_leads():
    board = tiny_board()
    needed = obligations(board, NEAR)

    def lacks(entries: list[Entry]) -> bool:
        standing = replay(board, entries)
        return lead_proof_missing(standing, needed, True, account(standing, needed, True))

    good, bare = Entry(0, LEADS_GOOD, ()), log(board, GOOD)
    assert not lacks([good, *bare, good])
    # GOOD begins with beeps, which prove the leads as well, and ends with silence
    assert not lacks([*bare, good])
    assert lacks([good, *bare])
    assert not lacks([*bare, entry(board, 50, "1", "4", "beep")])
    # silence that nothing hangs on needs no proof
    assert not lacks([*bare, good, entry(board, 50, "2", "5", "quiet")])


def test_what_only_a_part_may_have_carried_is_neither_asked_again_nor_proven():
    """All joins sound, each perhaps over the 75 ohm at 3: the isolation that rests on them waits for the same proof."""
    board = with_part("D+, GND", 75, 75)
    text = log(board, without(GOOD, "3 4 quiet"))
    found = account_of(replay(board, [*text, entry(board, 20, "3", "@GND", "ohms", 75.0)]))
    presumed = {frozenset(board.pair(pair)) for pair in found.presumed}
    assert found.todo == [] and {frozenset(("3", "4")), frozenset(("1", "5")), frozenset(("1", "6"))} <= presumed


def test_a_contact_that_rests_on_what_a_part_may_have_carried_is_not_asked_again():
    """5 sounds to its board, perhaps over the part between TX and D+; 3 reads that part's 75 ohm to 5."""
    board = with_part("TX, D+", 70, 80)
    standing = replay(board, [*log(board, "5 @TX beep"), entry(board, 2, "3", "5", "ohms", 75.0)])
    found = account_of(standing, shorts_only=False)
    assert [board.pair(pair) for pair in found.contacts] == [("2", "@+5V")]
    assert {("3", "@D+"), ("5", "@TX")} <= {board.pair(pair) for pair in found.presumed} and found.untested == 3


# The leads


def left(*rows: str | Entry) -> list[int]:
    """The lines of the readings that stand at the end; the first row is line 1."""
    return [found.line for found in led(*rows).entries]


def led(*rows: str | Entry) -> Standing:
    """What stands of rows such as `1 2 beep`, `leads good`, or entries, without lead checks around them."""
    board, entries = tiny_board(), []
    for line, row in enumerate(rows, 1):
        if isinstance(row, Entry):
            entries.append(row._replace(line=line))
        elif row.startswith("leads"):
            entries.append(Entry(line, row, ()))
        else:
            entries.append(log(board, row)[0]._replace(line=line))
    return replay(board, entries)


def ohms(value: float) -> Entry:
    return entry(tiny_board(), 1, "3", "5", "ohms", value)


@pytest.mark.parametrize(
    ("fault", "lines"),
    [
        # a good check and a beep prove the leads; then 4 was silent, 5 read high, 6 sounded
        ("leads silent", [2, 3]),
        ("leads sound", [4, 5]),
        ("leads bad", []),
        ("leads good", [2, 3, 4, 5]),
    ],
)
def test_each_fault_of_the_leads_voids_what_it_could_have_made(fault, lines):
    assert left("leads good", "1 4 beep", ohms(0.2), "1 2 quiet", ohms(4700.0), fault) == lines


@pytest.mark.parametrize(
    ("value", "sound", "silent"),
    [(0.0, [], [1]), (0.2, [], [1]), (249.9, [], [1]), (250.0, [1], []), (float("inf"), [1], [])],
)
def test_low_ohms_are_a_tone_and_high_ones_are_silence_of_the_leads(value, sound, silent):
    """From 250 ohm up nothing is a leak, and a broken lead reads no less."""
    assert (left(ohms(value), "leads sound"), left(ohms(value), "leads silent")) == (sound, silent)


def test_neither_unsure_nor_a_look_hangs_on_the_leads():
    looked = ("1 2 unsure", "5 6 seen clear")
    assert left(*looked, "leads bad") == [1, 2]


def test_leads_that_touched_void_the_tones_since_the_last_good_check_alone():
    assert left("1 4 beep", "leads good", "4 7 beep", "leads sound") == [1]
    assert left("1 4 beep", "4 7 beep", "leads sound") == []
    # the check itself is the line between the two
    assert left("leads good", "1 4 beep", "leads sound") == []


def test_silence_counts_between_two_proofs_of_the_leads_in_the_order_of_the_file():
    """Lines of silence that is not yet proven."""

    def waiting(*rows: str | Entry) -> list[int]:
        standing = led(*rows)
        return sorted(standing.job[number].line for number in (*standing.unproven_silence, *standing.before_proof))

    assert waiting("leads good", "1 2 quiet", "leads good") == []
    assert waiting("1 2 quiet", "leads good") == [1], "none before it"
    assert waiting("leads good", "1 2 quiet") == [2], "none after it"
    assert waiting("leads good", "1 2 quiet", "1 4 beep", "2 3 quiet") == [4], "a beep is a proof as well"
    assert waiting("1 4 beep", "1 2 quiet", "1 7 beep") == []
    for fault in ("leads bad", "leads silent", "leads sound"):
        assert waiting("leads good", fault, "1 2 quiet", "leads good") == [3], "after a failed check none is proven"
        assert waiting("leads good", fault, "leads good", "1 2 quiet", "leads good") == []
    # leads that touch sound on anything, until a good check
    assert waiting("leads good", "leads sound", "1 4 beep", "1 2 quiet", "leads good") == [4]
    assert waiting("leads sound", "leads good", "1 2 quiet", "1 4 beep") == []
    assert waiting("leads good", "leads silent", "1 4 beep", "1 2 quiet", "1 7 beep") == [], "a whole lead sounds"
    # high ohms and OL in diode mode are silence too; a taken-back one waits for nothing
    assert waiting("leads good", ohms(4700.0)) == [2] and waiting("leads good", ohms(40.0)) == []
    volts = entry(tiny_board(), 1, "@GND", "5", "volts", float("inf"))
    assert waiting("leads good", volts) == [2] and waiting("leads good", volts._replace(ohms=0.5)) == []
    assert waiting("leads good", "1 2 quiet", "1 2 taken back") == []


def test_what_was_silent_before_a_good_check_is_not_voided_by_a_later_fault():
    assert left("leads good", "1 2 quiet", "leads good", "2 3 quiet", "leads silent") == [2]
    assert left("leads good", "1 2 quiet", "leads sound", "2 3 quiet", "leads silent") == [2]


def test_each_lead_check_is_kept_and_a_take_back_in_vain_is_told():
    standing = led("leads good", "1 2 quiet", "3 4 taken back", "leads silent", "leads sound", "leads good")
    assert standing.lead_checks == [True, False, False, True] and standing.nothing_taken == [3]
    assert standing.reading(1).fate == "void" and standing.reading(1).ended_by == 4
