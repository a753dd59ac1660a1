"""Diode-mode readings in a job: what they join and part, what they decide, and what is refused."""

from __future__ import annotations

import csv
import io
import json
from math import inf

import pytest
from click.testing import CliRunner

from connector_check.analysis.contact import Contacts
from connector_check.analysis.examine import examine
from connector_check.analysis.result import REWORK
from connector_check.board.board import Board
from connector_check.cli.commands import main
from connector_check.pinout.library import find_pin_map
from connector_check.testlog.job import Log
from connector_check.testlog.readings import LEADS_GOOD, VOLTS, Entry, parse_volts, refused_volts
from connector_check.testlog.rows import Row, entry_of
from tests.strategies import log, tiny_board

USB_C = Board(find_pin_map("usb-c-16"), find_pin_map("usb-c-16").layouts[0])


def swept(board: Board, volts: dict[str, float]) -> Log:
    entries = [Entry(1, LEADS_GOOD, ())]
    for line, (name, value) in enumerate(volts.items(), 2):
        net = board.net_of[board.number[name]]
        black = board.number[name]
        red = board.board_point["GND"]
        assert net.name
        entries.append(Entry(line, VOLTS, (black, red), value))
    return Log(board, [*entries, Entry(99, LEADS_GOOD, ())])


SOUND = {
    "A1B12": 0.001,
    "A4B9": 0.41,
    "B8": 0.62,
    "A5": 0.58,
    "B7": 0.55,
    "A6": 0.551,
    "A7": 0.552,
    "B6": 0.549,
    "A8": 0.63,
    "B5": 0.585,
    "B4A9": 0.41,
    "B1A12": 0.002,
}
"""A made-up sound board: no published values of a whole connector were found."""


def cells(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text)))


def test_near_zero_joins_and_a_junction_or_ol_parts():
    board = tiny_board()
    known = examine(swept(board, {"3": 0.003, "5": 0.5, "2": inf})).standing.knowledge
    ground = board.board_point["GND"]
    assert known.joined(board.number["3"], ground)
    assert known.apart(board.number["5"], ground) and known.apart(board.number["2"], ground)


def test_a_ground_contact_proves_its_contact_near_zero_and_is_open_at_ol_or_over_a_junction():
    found = examine(swept(USB_C, SOUND))
    contacts = Contacts(found.standing, found.standing.knowledge)
    assert contacts.proven(USB_C.number["A1B12"]) and contacts.proven(USB_C.number["B1A12"])
    for volts in (inf, 0.55):
        result = examine(swept(USB_C, SOUND | {"A1B12": volts})).result
        assert [opened.joint for opened in result.opens] == ["A1B12"] and result.parts.contact == REWORK
        assert [step.joints for step in result.rework] == [("A1B12",)]


def test_a_quiet_and_near_zero_on_one_pair_contradict():
    board = tiny_board()
    entries = [*log(board, "3 @GND quiet"), Entry(2, VOLTS, (board.number["3"], board.board_point["GND"]), 0.003)]
    (conflict,) = examine(Log(board, entries)).result.conflicts
    assert (set(conflict.quiet), conflict.kind) == ({"3", "@GND"}, "quiet") and conflict.readings == (1, 2)


def test_a_beep_and_a_junction_on_one_pair_contradict():
    board = tiny_board()
    entries = [*log(board, "3 @GND beep"), Entry(2, VOLTS, (board.number["3"], board.board_point["GND"]), 0.5)]
    (conflict,) = examine(Log(board, entries)).result.conflicts
    assert (conflict.kind, conflict.apart_words) == ("volts", "read as apart in diode mode")


def test_a_supply_on_0_4_and_0_9_volts_is_an_open_or_a_bad_joint():
    result = examine(swept(USB_C, SOUND | {"B4A9": 0.9})).result
    (opened,) = result.opens
    assert (opened.net, opened.joint) == ("VBUS", "B4A9")
    assert "0.9 V, unlike A4B9 of the same net, 0.41 V" in opened.why
    assert result.verdict == REWORK


@pytest.mark.parametrize(("joint", "twin"), [("A5", "B5"), ("A8", "B8")])
def test_the_same_contact_on_both_rows_is_a_twin(joint, twin):
    result = examine(swept(USB_C, SOUND | {joint: 0.9})).result
    odd = {found.joint: found for found in result.diode if found.kind == "outlier"}
    assert set(odd) == {joint, twin} and f"differs from its twin {twin}" in odd[joint].why
    # one odd value proves no fault: more is asked, nothing is for the iron
    assert not result.shorts and not result.opens and not result.rework
    assert result.verdict == "unproven"
    assert [found.joint for found in examine(swept(USB_C, SOUND | {joint: inf})).result.opens] == [joint]


def test_the_pair_and_its_two_rows_are_compared():
    assert examine(swept(USB_C, SOUND)).result.diode == ()
    result = examine(swept(USB_C, SOUND | {"B7": inf})).result
    assert [(found.joint, found.net) for found in result.opens] == [("B7", "D-")]
    assert "A7 of the same net shows 0.552 V" in result.opens[0].why


def test_twins_that_agree_prove_contact_for_both_once_their_neighbours_are_apart():
    swept_only = examine(swept(USB_C, SOUND))
    needed = [joint for joint, _ in swept_only.needed.contacts]
    contacts = Contacts(swept_only.standing, swept_only.standing.knowledge)
    assert not any(contacts.proven(joint) for joint in needed) and all(contacts.likely(joint) for joint in needed)
    # nothing is asked for contact, yet contact is not clear while a neighbour may have lent its junction
    assert swept_only.account.contacts == [] and swept_only.result.parts.contact != "clear"
    walls = [Entry(100 + n, "quiet", pair) for n, pair in enumerate(swept_only.account.isolation)]
    job = swept(USB_C, SOUND)
    both = examine(Log(USB_C, [*job.entries, *walls, Entry(200, LEADS_GOOD, ())]))
    contacts = Contacts(both.standing, both.standing.knowledge)
    assert all(contacts.proven(joint) for joint in needed)


def test_what_reaches_its_board_point_by_a_tone_is_no_open_for_want_of_a_junction():
    job = swept(USB_C, SOUND | {"A5": inf})
    tone = Entry(50, "beep", (USB_C.number["A5"], USB_C.board_point["CC1"]))
    result = examine(Log(USB_C, [*job.entries, tone])).result
    assert not result.opens
    (told,) = [found for found in result.diode if found.joint == "A5"]
    assert told.kind == "listed" and "lies behind it" in told.why


def test_findings_of_diode_mode_are_in_every_output(tmp_path):
    """A short at 7 stood under 'nothing harmful found', and had no row in CSV."""
    rows = [
        ",,leads good",
        "7,GND,0.002 V",
        *(f"{n},GND,0.51 V" for n in (2, 3, 4, 5, 6, 8)),
        "9,GND,OL V",
        ",,leads good",
    ]
    job = tmp_path / "job.csv"
    job.write_text("# map: db25-ieee1284\npin_a,pin_b,reading\n" + "\n".join(rows) + "\n")

    def told(*args: str) -> str:
        return CliRunner().invoke(main, [*args], catch_exceptions=False).output

    text = told("check", str(job))
    assert "nothing harmful found" not in text and "DEAD SIGNAL: D5 + GND" in text and "OPEN: 9 (D7)" in text
    assert "7  D5  0.002 V" in text and "SHORT to ground" in text and "NO CONTACT" in text
    kinds = [row[:1] + row[3:4] for row in cells(told("check", str(job), "--format", "csv"))]
    assert ["short", "7 @GND"] in kinds and ["open", "9"] in kinds
    found = json.loads(told("check", str(job), "--format", "json"))
    assert [line["joint"] for line in found["strip"]][:2] == ["2", "3"]
    assert [step["joints"] for step in found["rework"]] == [["7", "24"], ["9"]] or len(found["rework"]) == 2
    page = told("check", str(job), "--format", "html")
    assert "Sweep in diode mode" in page and "NO CONTACT" in page
    drawn = told("show", "db25-ieee1284", "--solder", "--job", str(job))
    assert "shorted (" in drawn and "open (1): 9" in drawn
    assert "DEAD SIGNAL" in told("rework", str(job))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("4.98 V", "the board may be live: stop"),
        ("3.51 V", "the board may be live: stop"),
        ("-1.2 V", "the board may be live: stop"),
        ("-0.05 V", "the board may be live: stop"),
        ("\u22125V", "the board may be live: stop"),
        ("-0.512 V", "the leads may be swapped"),
        ("-512 mV", "the leads may be swapped"),
    ],
)
def test_volts_of_a_live_board_are_an_error_with_the_line(tmp_path, text, words):
    assert parse_volts(text) is None and refused_volts(text)
    job = tmp_path / "job.csv"
    job.write_text(f"# map: usb-c-16\npin_a,pin_b,reading\nA5,GND,0.5 V\nA6,GND,{text}\n", encoding="utf-8")
    done = CliRunner().invoke(main, ["check", str(job)])
    assert done.exit_code == 1 and ":4: " in done.stderr and words in done.stderr


def test_volts_of_a_dead_board_are_not_refused():
    assert [refused_volts(text) for text in ("3.5 V", "0 V", "512 mV", "OL V", "0.5", "hmm")] == [None] * 6
    assert parse_volts("3.5 V") == 3.5


def test_two_grounds_are_a_reading_and_two_signals_are_none():
    assert entry_of(USB_C, Row("A1B12", "GND", "0.001 V")).kind == VOLTS
    assert entry_of(USB_C, Row("A1B12", "B1A12", "0.001 V")).kind == VOLTS
    with pytest.raises(Exception, match="the red lead sits on ground"):
        entry_of(USB_C, Row("A5", "B5", "0.5 V"))
