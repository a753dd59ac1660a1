"""Board notes: read from YAML, applied to a pin map, derived from a board file."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from connector_check.board.board import Board
from connector_check.board.harm import DAMAGE, HARMLESS, NOTE, SUPPLY_SHORT, grade
from connector_check.board.notes import BoardNotes, ShellRule, apply, ties_of
from connector_check.board.notes_file import load_board_notes, parse_board_notes
from connector_check.board.notes_text import notes_text
from connector_check.board.ties import merged
from connector_check.cli.board_notes import board_notes
from connector_check.cli.commands import Commands
from connector_check.errors import InputError
from connector_check.kicad.board_notes import derive
from connector_check.kicad.board_parts import Part, PartPad
from connector_check.kicad.part_paths import ohms, paths_of_part
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import DesignPath, PinMap
from connector_check.pinout.pinmap_file import parse_pin_map

KICAD = Path(__file__).parent / "data" / "kicad"
LOGGER = KICAD / "scale_logger.kicad_pcb"
OLD = KICAD / "scale_old.kicad_pcb"

MAP = b"""
format: 1
id: scale
title: scale port
source: [{document: made for a test, known: memory}]
nets:
  +5V: {role: power, volts: 5, volts_max: 20, contacts: [1, 2]}
  GND: {role: ground, contacts: [3, 4, 5]}
  D+: {role: data, contacts: [6], withstands: 5}
  D-: {role: data, contacts: [7]}
  ID: {role: data, contacts: [8]}
  NC: {role: reserved, contacts: [9]}
  SHELL: {role: shell, contacts: [SH], ground: may}
paths:
  - {between: [D+, ID], ohms: [100, 120], why: made}
face:
  - {row: [1..9], start: [0, 0], step: [1, 0]}
layouts:
  - id: row
    source: made for a test
    pads:
      - {row: [1..9], start: [0, 0], step: [1, 0], size: [0.5, 1]}
      - {at: {SH1: [-3, 0], SH2: [12, 0]}, size: [1, 2]}
"""

GOOD = b"""
format: 1
map: scale
board: milk scale, board B
ties: [[ID, GND], [D+, D-]]
paths:
  - {between: [D+, +5V], ohms: [1400, 1600], why: R3}
  - {among: [D+, D-, NC], ohms: [90, 110], why: R4 to R6, absent: no}
not_fitted: [9]
left_open: [2, 5]
shell: {ground: apart, why: kept off the frame}
volts: {+5V: 12}
points: {TP4: +5V, C7: GND}
withstands: {D-: 3.6}
"""


def scale() -> PinMap:
    return parse_pin_map(MAP, "scale.yaml")


def notes_of(raw: bytes) -> BoardNotes:
    return parse_board_notes(b"format: 1\nmap: scale\n" + raw, "notes.yaml", scale())


def derived(reference: str, map_id: str, board: Path = LOGGER) -> tuple[BoardNotes, list[str]]:
    return derive(board.read_text(encoding="utf-8"), reference, find_pin_map(map_id), board.name)


def paths_in(notes: BoardNotes) -> dict[frozenset[str], tuple[float, float]]:
    return {frozenset(path.nets): (path.low, path.high) for path in notes.paths}


# The file


def test_a_whole_file_is_read():
    notes = parse_board_notes(GOOD, "notes.yaml", scale())
    assert notes == BoardNotes(
        map="scale",
        board="milk scale, board B",
        ties=(frozenset({"D+", "D-"}), frozenset({"GND", "ID"})),
        paths=(
            DesignPath(("D+", "+5V"), 1400, 1600, "R3"),
            DesignPath(("D+", "D-", "NC"), 90, 110, "R4 to R6", False),
        ),
        not_fitted=("9",),
        left_open=("2", "5"),
        shell=ShellRule("apart", "kept off the frame"),
        volts={"+5V": 12.0},
        points={"TP4": "+5V", "C7": "GND"},
        withstands={"D-": 3.6},
    )


def test_every_problem_is_told_at_once_with_its_line():
    raw = b"""format: 2
map: scale
colour: red
ties: [[ID], [D+, LOST]]
paths: [{between: [D+, GNDX], ohms: [5, 1], why: R1}]
not_fitted: [99]
left_open: [SH, 3, 3]
shell: {ground: maybe}
volts: {GND: 3, +5V: much}
points: {TP1: NOWHERE, "7": GND}
withstands: {D+: -2}
"""
    with pytest.raises(InputError) as caught:
        parse_board_notes(raw, "n.yaml", scale())
    told = {(problem.line, problem.what) for problem in caught.value.problems}
    expected = {
        (1, "unknown format"),
        (3, "unknown key 'colour'"),
        (4, "two different nets"),
        (4, "unknown net 'LOST'"),
        (5, "unknown net 'GNDX'"),
        (5, "from 5 to 1 ohm"),
        (6, "unknown contact '99'"),
        (7, "shell is listed"),
        (7, "'3' twice"),
        (8, "ground: maybe"),
        (9, "'volts' on GND"),
        (9, "not a number"),
        (10, "unknown net 'NOWHERE'"),
        (10, "'7' is already a name"),
        (11, "not a number from 0"),
    }
    for line, words in expected:
        assert any(at == line and words in what for at, what in told), (line, words, sorted(told))


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"ties: [[+5V, GND]]", "a tie of supply +5V and ground"),
        (b"ties: [[+5V, D+], [D+, GND]]", "a tie of supply +5V and ground"),
        (b"not_fitted: [1..9]", "no contact is left"),
        (b"not_fitted: [5]\nleft_open: [5]", "left open and not fitted"),
        (b"points: {tp1: GND, TP1: D+}", "'TP1' is already a name"),
        (b"shell: {why: x}", "has no 'ground'"),
        (b"ties: {ID: GND}", "not a list"),
    ],
)
def test_what_contradicts_itself_is_refused(raw, words):
    with pytest.raises(InputError, match=words.replace("+", r"\+")):
        notes_of(raw)


def test_notes_of_another_map_are_refused_with_their_line():
    with pytest.raises(InputError, match=r"n\.yaml:2: notes for the pin map 'barn'"):
        parse_board_notes(b"format: 1\nmap: barn\n", "n.yaml", scale())


def test_a_missing_file_is_a_message(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        load_board_notes(tmp_path / "none.yaml", scale())


def test_the_written_text_reads_back_as_the_same_notes():
    notes = parse_board_notes(GOOD, "notes.yaml", scale())
    text = notes_text(notes, ["R8: its ohms\nare odd"], {"ties": "on one net"})
    assert parse_board_notes(text.encode(), "again.yaml", scale()) == notes
    assert "# - R8: its ohms?are odd\n" in text and "# on one net\nties:" in text


@given(st.text(max_size=40), st.text(max_size=40))
def test_no_title_or_remark_breaks_the_written_file(title, remark):
    pin_map = scale()
    text = notes_text(BoardNotes("scale", title, shell=ShellRule("may", remark)), [remark])
    again = parse_board_notes(text.encode("utf-8", "replace"), "again.yaml", pin_map)
    assert again.map == "scale" and again.shell is not None and again.shell.ground == "may"


# Applied


def test_a_part_that_is_fitted_takes_the_place_of_an_optional_one_of_the_map():
    """The map's 75 ohm termination of RED may be absent; 50 ohm by the notes is that part, not one beside it."""
    vga = find_pin_map("vga-de15")
    for absent, read in (
        (False, (50, 50)),
        (True, (pytest.approx(50 * 75 / 125, rel=0.1), pytest.approx(75, rel=0.1))),
    ):
        notes = BoardNotes("vga-de15", paths=(DesignPath(("GND", "RED"), 50, 50, "R1", absent),))
        applied = apply(vga, notes)
        part = Board(applied, applied.layouts[0]).design_ohms("RED", "GND")
        assert part is not None and (part.low, part.high) == read
        # the other colours keep what the map says of them
        assert sum("GREEN" in path.nets for path in applied.paths) == sum("GREEN" in path.nets for path in vga.paths)


def test_applied_notes_change_nets_layouts_and_paths():
    pin_map = scale()
    notes = parse_board_notes(GOOD, "notes.yaml", pin_map)
    applied = apply(pin_map, notes)
    nets = applied.net_named
    assert nets["GND"].contacts == ("3", "4") and nets["GND"].must_join
    assert nets["5-open"].role == "reserved" and not nets["5-open"].must_join
    assert (nets["+5V"].contacts, nets["+5V"].volts, nets["+5V"].most_volts) == (("1",), 12.0, 12.0)
    assert not nets["+5V"].must_join
    assert nets["ID"].role == "ground" and nets["D+"].role == "data" and nets["D-"].withstands == 3.6
    assert nets["SHELL"].ground == "apart" and "NC" not in nets
    assert [joint.name for joint in applied.layouts[0].joints] == ["1", "2", "3", "4", "5", "6", "7", "8", "SH1", "SH2"]
    assert "9" not in {spot.contact for spot in applied.face}
    assert [path.why for path in applied.paths] == ["made", "R3"]
    assert applied.variants == () and pin_map.net_named["GND"].contacts == ("3", "4", "5")


def test_a_supply_contact_left_open_still_carries_its_volts():
    pin_map = scale()
    notes = notes_of(b"left_open: [2, 8]")
    applied = apply(pin_map, notes)
    board = Board(applied, applied.layouts[0], ties_of(pin_map, notes))
    opened, supply = applied.net_of["2"], applied.net_named["+5V"]
    assert grade(opened, applied.net_named["D-"]).harm == DAMAGE
    assert not board.must_be_apart(opened, supply)
    assert grade(applied.net_named["ID"], applied.net_named["GND"]).harm == NOTE
    assert applied.net_of["8"].name == "ID"


def test_tied_nets_are_one_conductor_for_the_board_and_others_are_not():
    pin_map = scale()
    notes = notes_of(b"ties: [[ID, GND], [D+, D-]]")
    applied = apply(pin_map, notes)
    board = Board(applied, applied.layouts[0], ties_of(pin_map, notes))
    nets = applied.net_named
    assert not board.must_be_apart(nets["ID"], nets["GND"]) and not board.must_be_apart(nets["D+"], nets["D-"])
    assert board.must_be_apart(nets["D+"], nets["GND"])
    assert grade(nets["ID"], nets["+5V"]).harm == SUPPLY_SHORT
    assert grade(pin_map.net_named["ID"], nets["+5V"]).harm == DAMAGE
    assert board.resolve("@ID") is not None and board.resolve("@ID") != board.resolve("@GND")


def test_a_signal_tied_to_a_supply_counts_as_that_supply():
    applied = apply(scale(), notes_of(b"ties: [[NC, +5V]]"))
    assert (applied.net_named["NC"].role, applied.net_named["NC"].volts) == ("power", 5.0)


@pytest.mark.parametrize(("rule", "harm"), [("may", HARMLESS), ("tied", HARMLESS), ("apart", NOTE)])
def test_the_shell_rule_decides_what_shell_to_ground_means(rule, harm):
    nets = apply(scale(), notes_of(f"shell: {{ground: {rule}}}".encode())).net_named
    assert grade(nets["SHELL"], nets["GND"]).harm == harm


def test_volts_on_a_signal_make_it_a_supply():
    nets = apply(scale(), notes_of(b"volts: {ID: 24}")).net_named
    assert (nets["ID"].role, nets["ID"].most_volts) == ("power", 24.0)
    assert grade(nets["ID"], nets["D+"]).harm == DAMAGE


def test_empty_notes_change_nothing_but_the_variants():
    pin_map = scale()
    assert apply(pin_map, BoardNotes("scale")) == pin_map
    assert ties_of(pin_map, BoardNotes("scale")) == ()


@given(st.lists(st.frozensets(st.integers(0, 9).map(str), min_size=2, max_size=4), max_size=8))
def test_merged_ties_are_disjoint_and_keep_every_tie(ties):
    whole = merged(ties)
    assert sum(len(tie) for tie in whole) == len(frozenset().union(*whole))
    assert all(any(tie <= found for found in whole) for tie in ties)


# Derived


def test_a_usb_port_with_id_on_ground_fuse_ferrite_and_choke():
    notes, listed = derived("J1", "usb-micro-b")
    assert notes.ties == (frozenset({"GND", "ID"}),)
    assert paths_in(notes) == {frozenset({"SHELL", "GND"}): (0, 1), frozenset({"D+", "GND"}): (67.5, 83.7)}
    assert notes.shell == ShellRule("may", "on /SHIELD, joined to GND by ferrite FB1")
    assert notes.points == {"TP1": "VBUS"} and notes.left_open == () and notes.not_fitted == ()
    assert listed == ["pad 6 (2 of them) is no contact of usb-micro-b: taken as the shell"]


def test_a_display_port_with_terminations_a_link_and_parts_that_cannot_be_told():
    notes, listed = derived("J2", "vga-de15")
    assert paths_in(notes) == {
        frozenset({"RED", "GND"}): (67.5, 82.5),
        frozenset({"GREEN", "GND"}): (67.5, 82.5),
        frozenset({"+5V", "SDA"}): (1980, 2420),
        frozenset({"ID2", "GND"}): (0, 0.5),
    }
    assert notes.left_open == ("10", "11") and notes.shell == ShellRule("tied", "its pads are on GND")
    assert [line.split(" ")[0] for line in listed] == ["R6", "R8", "RN1"]
    assert "not fitted" in listed[0] and "cannot be read" in listed[1]


def test_a_termination_of_two_halves_is_a_path_and_a_jumper_is_listed():
    notes, listed = derived("J3", "de9-can")
    assert paths_in(notes) == {
        frozenset({"CAN_SHLD", "CAN_GND"}): (0, 1),
        frozenset({"CAN_H", "CAN_L"}): (108.72, 132.88),
    }
    assert notes.left_open == ("1", "4", "6", "8")
    assert notes.shell == ShellRule("may", "its pads are joined to nothing")
    assert listed == ["JP1 (open when shipped) at CAN_H: a jumper: open or closed is not told"]


def test_lines_that_meet_at_a_rail_make_one_star():
    raw = MAP.replace(b"id: scale", b"id: row").split(b"nets:")[0] + (
        b"nets: {A: {role: data, contacts: [1]}, B: {role: data, contacts: [2]}, C: {role: data, contacts: [3]}, "
        b"G: {role: ground, contacts: [4]}}\nlayouts: [{id: r, source: made, "
        b"pads: [{row: [1..4], start: [0, 0], step: [1, 0], size: [0.5, 1]}]}]"
    )
    notes, listed = derive(LOGGER.read_text(), "J5", parse_pin_map(raw, "row.yaml"), "b")
    (star,) = notes.paths
    assert star.nets == ("A", "B", "C") and (star.low, star.high) == (89.82, 109.78)
    assert star.why == "R12 49.9, R13 49.9, R14 49.9 to +1V8" and listed == []


def test_a_jack_with_magnetics_is_listed_and_nothing_derived():
    notes, listed = derived("J4", "rj45-10-100")
    assert notes == BoardNotes("rj45-10-100", "Milk scale logger, J4 of scale_logger.kicad_pcb")
    assert len(listed) == 1 and "jack with magnetics" in listed[0]


def test_a_supply_on_a_net_named_ground_is_refused():
    with pytest.raises(InputError) as caught:
        derived("J6", "vga-de15")
    told = [problem.what for problem in caught.value.problems]
    assert told[0] == "contact 5 is GND (ground) in the map and on +5V on the board"
    assert caught.value.problems[0].line > 0 and "J6 is no vga-de15" in caught.value.problems[0].remedy


def test_a_signal_of_the_map_on_a_supply_of_the_board_is_listed():
    text = LOGGER.read_text().replace('"/HSYNC"', '"/port/+12V"')
    notes, listed = derive(text, "J2", find_pin_map("vga-de15"), "b")
    assert "HSYNC on board net /port/+12V: named as power, data in the map" in "".join(listed) and not notes.volts


def test_volts_are_read_from_the_name_of_a_supply_that_differs():
    text = LOGGER.read_text().replace('"+5V"', '"+12V"')
    notes, listed = derive(text, "J2", find_pin_map("vga-de15"), "b")
    assert notes.volts == {"+5V": 12.0} and "volts of +5V are read from the name of its board net, +12V" in listed


def test_an_old_board_file_is_read():
    notes, listed = derived("J1", "usb-a-2", OLD)
    assert paths_in(notes) == {frozenset({"D+", "D-"}): (180, 220)} and len(listed) == 1


@pytest.mark.parametrize(
    ("reference", "map_id", "words"),
    [
        ("J9", "usb-a-2", "no footprint 'J9' on this board: it has J1, J2"),
        ("R1", "usb-a-2", "do not fit usb-a-2: 2 of its 4 contacts"),
        ("J2", "usb-a-2", "4 of its 4 contacts, 11 pads that are none"),
    ],
)
def test_a_connector_that_is_not_there_or_does_not_fit_is_refused(reference, map_id, words):
    with pytest.raises(InputError, match=words):
        derived(reference, map_id)


@pytest.mark.parametrize("text", ["(kicad_pcb", "(footprint x)", "hello", '(kicad_pcb (footprint "x" (pad)))'])
def test_what_is_no_board_is_refused_with_its_line(text):
    with pytest.raises(InputError, match="b:1: expected"):
        derive(text, "J1", scale(), "b")


@pytest.mark.parametrize(("reference", "map_id"), [("J1", "usb-micro-b"), ("J2", "vga-de15"), ("J3", "de9-can")])
def test_derived_notes_apply_to_their_map(reference, map_id):
    pin_map = find_pin_map(map_id)
    notes, _ = derived(reference, map_id)
    applied = apply(pin_map, notes)
    assert set(applied.net_of) == set(pin_map.net_of)
    board = Board(applied, applied.layouts[0], ties_of(pin_map, notes))
    assert len(board.points) > len(board.nets)


# Parts


def part(reference: str, value: str, *nets: str, footprint: str = "") -> Part:
    pads = tuple(PartPad(str(i), net, "") for i, net in enumerate(nets, 1))
    return Part(reference, value, footprint, True, pads, 1)


@pytest.mark.parametrize("value", ["", "?", "tbd", "R", "k", "4.7.1", "1k2k", "10uF", "100n", "75X", "RES", "1.5k2"])
def test_a_value_that_is_no_resistance_is_not_read(value):
    assert ohms(value) is None


@pytest.mark.parametrize(
    ("value", "expected"), [("1Meg", 1e6), ("10m", 0.01), ("0R05", 0.05), ("2M2", 2.2e6), (".5R", 0.5)]
)
def test_values_in_other_spellings_are_read(value, expected):
    assert ohms(value) == expected


@given(st.integers(1, 999), st.integers(0, 9), st.sampled_from("RkM"))
def test_the_letter_stands_where_the_decimal_point_is(whole, tenth, letter):
    assert ohms(f"{whole}{letter}{tenth}") == ohms(f"{whole}.{tenth}{letter}")


@pytest.mark.parametrize(
    ("given_part", "pairs"),
    [
        (part("L1", "common mode choke", "D+", "D-", "X_D-", "X_D+"), {("D+", "X_D+"), ("D-", "X_D-")}),
        (part("L1", "common mode choke", "D+", "X_D+", "D-", "X_D-"), {("D+", "X_D+"), ("D-", "X_D-")}),
        (part("FL2", "CMC", "A_P", "A_N", "B_P", "B_N"), {("A_P", "B_P"), ("A_N", "B_N")}),
    ],
)
def test_windings_of_a_choke_are_paired_by_polarity(given_part, pairs):
    found, why_not = paths_of_part(given_part)
    assert {(min(p.a, p.b), max(p.a, p.b)) for p in found} == {(min(p), max(p)) for p in pairs} and why_not == ""


def test_a_choke_without_polarity_is_told_with_a_question():
    found, why_not = paths_of_part(part("L1", "choke", "LEFT", "x", "RIGHT", "y"), {"LEFT", "x"})
    assert {(p.a, p.b) for p in found} == {("LEFT", "y"), ("x", "RIGHT")} and "1-4 and 2-3; confirm" in why_not


def test_a_part_between_one_net_and_itself_or_none_is_no_path():
    assert paths_of_part(part("R1", "75R", "A", "A")) == ([], "")
    assert paths_of_part(part("R1", "75R", "A", "")) == ([], "")
    assert paths_of_part(part("C1", "10u", "A", "B")) == ([], "")


# The command


def run(*args: str):
    group = Commands("main", commands={"board-notes": board_notes})
    return CliRunner().invoke(group, ["board-notes", *args])


def test_the_command_writes_notes_that_read_back(tmp_path):
    out = tmp_path / "logger.yaml"
    done = run(str(LOGGER), "J2", "--map", "vga-de15", "-o", str(out))
    assert done.exit_code == 0 and "3 remarks" in done.output
    notes = load_board_notes(out, find_pin_map("vga-de15"))
    assert notes == derived("J2", "vga-de15")[0]
    assert run(str(LOGGER), "J2", "--map", "vga-de15").output == out.read_text(encoding="utf-8")


def test_the_command_never_overwrites(tmp_path):
    out = tmp_path / "logger.yaml"
    out.write_text("mine")
    done = run(str(LOGGER), "J2", "--map", "vga-de15", "-o", str(out))
    assert done.exit_code != 0 and "exists already" in done.output and out.read_text() == "mine"


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["none.kicad_pcb", "J1", "--map", "usb-a-2"], "cannot be read"),
        ([str(LOGGER), "J1", "--map", "nothing-such"], "no pin map of that id"),
        ([str(LOGGER), "J1", "--map", "usb-a-2", "--variant", "odd"], "no variant 'odd'"),
    ],
)
def test_the_command_says_what_is_wrong(args, words):
    done = run(*args)
    assert done.exit_code != 0 and words in done.output and "Traceback" not in done.output
