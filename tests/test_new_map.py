"""Starting a pin map: from a table, KiCad files, a header's size, or answers."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from dataclasses import replace
from math import hypot
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.cli.commands import Commands
from connector_check.cli.new_map import new_map
from connector_check.errors import InputError
from connector_check.files.sexpr import Node, read_sexpr
from connector_check.files.yaml_out import quoted
from connector_check.kicad.footprints import Pad, footprint_pads
from connector_check.new_map.from_kicad import board_part, footprint_places, symbol_names
from connector_check.new_map.grid import grid_places, row_places
from connector_check.new_map.making import NewMap, make_map
from connector_check.new_map.roles_and_volts import told, told_roles, told_volts
from connector_check.new_map.sources import gather
from connector_check.new_map.table import table_names
from connector_check.pinout.headers import header_map
from connector_check.pinout.pinmap import Layout
from connector_check.pinout.pinmap_file import load_pin_map, parse_pin_map
from connector_check.pinout.ranges import expand, names_list

KICAD = Path(__file__).parent / "data" / "kicad"
SYMBOLS = str(KICAD / "workshop.kicad_sym")
FOOTPRINT = str(KICAD / "scale_port.kicad_mod")
BOARD = str(KICAD / "scale_board.kicad_pcb")
SHARE = Path("/usr/share/kicad")
TABLE = b"pin,name,role\n1,+5V,\n2,GND,\n3,TX,data\n4,RX\n5,NC\n6,GND\nSH,SHIELD\n"


def made_of(raw: bytes, roles=(), volts=()) -> NewMap:
    names = told(table_names(raw, "pins.csv"), told_roles(roles), told_volts(volts))
    return make_map(names, row_places(names, 2.54), "made", "made for a test", told_volts(volts))


def made_from(roles=(), volts=(), **sources) -> NewMap:
    found = gather(**sources)
    names = told(found.names, told_roles(roles), told_volts(volts))
    return make_map(names, found.places, "made", "made for a test", told_volts(volts), board_nets=found.board_nets)


def net_line(made: NewMap, name: str) -> str:
    return next(line for line in made.text.splitlines() if line.startswith(f"  {name}: "))


# Tables


def test_a_table_gives_nets_and_a_single_row():
    made = made_of(TABLE)
    found = made.pin_map
    assert {net.name: (net.role, net.volts, net.contacts) for net in found.nets} == {
        "+5V": ("power", 5.0, ("1",)),
        "GND": ("ground", None, ("2", "6")),
        "TX": ("data", None, ("3",)),
        "RX": ("data", None, ("4",)),
        "NC": ("reserved", None, ("5",)),
        "SHELL": ("shell", None, ("SH",)),
    }
    layout = found.layouts[0]
    assert [(joint.name, joint.x, joint.y) for joint in layout.joints] == [
        (str(n), round(2.54 * (n - 1), 4), 0.0) for n in range(1, 7)
    ]
    assert "assumed" in layout.source and "2.54 mm" in layout.source and found.pitch_mm == 2.54


def test_guesses_are_marked_at_their_line_and_what_was_told_is_not():
    made = made_of(TABLE)
    assert net_line(made, "GND").endswith(", guessed: named as a ground}")
    assert "guessed" not in net_line(made, "TX")
    assert {net.name for net in made.guessed} == {"+5V", "GND", "RX", "NC", "SHELL"}
    assert made.text.count(", guessed: ") == 5
    assert {net.name for net in made.pin_map.nets if net.guessed} == {net.name for net in made.guessed}
    assert 'guessed: "the volts, from the name"}' in net_line(made_of(b"1,+5V,power\n2,GND,ground"), "+5V")


def test_deleting_the_marks_leaves_the_same_map():
    made = made_of(TABLE)
    bare = re.sub(r", guessed: .*(?=}$)", "", made.text, flags=re.MULTILINE)
    nets = tuple(net._replace(guessed="") for net in made.pin_map.nets)
    assert bare != made.text
    assert parse_pin_map(bare.encode(), "bare.yaml") == replace(made.pin_map, nets=nets)


@pytest.mark.parametrize(
    "raw",
    [
        b"1,GND\n2,TX",
        b"1;GND\n2;TX\n",
        b"pin\tname\n1\tGND\n2\tTX\n",
        b"# of the seed drill\nname,pin\nGND,1\nTX,2\n",
        b"\xef\xbb\xbfContact,Signal\r\n1,GND\r\n\r\n2,TX\r\n",
        "1,GND\n2,TX".encode("utf-16"),
        b"1,GND,ground,a remark\n2,TX,,\n",
        b'"1","GND"\n"2","TX"\n',
        b"1,GND,gnd\n2,TX,Signal\n",
    ],
)
def test_tables_as_people_write_them(raw):
    assert [(pin.number, pin.name) for pin in table_names(raw, "t").pins] == [("1", "GND"), ("2", "TX")]


def test_roles_in_a_table_may_be_the_words_people_use():
    pins = table_names(b"1,A,supply\n2,B,gnd\n3,C,Shield\n4,D,SIGNAL\n5,E,power\n6,F\n", "t").pins
    assert [pin.role for pin in pins] == ["power", "ground", "shell", "data", "power", ""]


def test_a_range_of_pins_and_a_name_made_harmless_for_a_spreadsheet():
    pins = table_names(b"1..3,GND\nA4,'+12V\n", "t").pins
    assert [(pin.number, pin.name) for pin in pins] == [("1", "GND"), ("2", "GND"), ("3", "GND"), ("A4", "+12V")]


@pytest.mark.parametrize(
    ("raw", "what"),
    [
        (b"", "empty"),
        (b"pin,name\n", "no pins"),
        (b"1,GND\n2\n", "t.csv:2: no name on this line"),
        (b"1,GND\n,TX\n", "t.csv:2: no pin"),
        (b"1,\n2,TX\n", "t.csv:1: no name on this line: write NC"),
        (b"1,GND\n1,TX\n", "t.csv:2: pin '1' twice: first on line 1"),
        (b"1,GND,earth\n", "t.csv:1: unknown role 'earth': expected one of ground"),
        (b"pin,role\n1,data\n", "t.csv:1: the heading needs"),
        (b'1,"GND\n2,TX\n', "not readable as a table"),
        (b"\x89PNG\r\n\x1a\n", "not text in UTF-8"),
        (b"1,G\0ND\n", "binary"),
        (b"1,A\n" * 300_000, "larger than"),
        (b"1 GND\n2 TX\n", "t.csv:1: no name"),
    ],
)
def test_a_bad_table_is_told_with_place_and_remedy(raw, what):
    with pytest.raises(InputError) as caught:
        table_names(raw, "t.csv")
    assert what in str(caught.value)
    assert all(problem.remedy or "binary" in problem.what for problem in caught.value.problems)


@pytest.mark.parametrize(
    ("raw", "what"),
    [
        (
            b"1,VCC\n2,VDD\n3,GND\n",
            "the volts of VCC, VDD are not known: give each its nominal volts, --volts VCC=V --volts VDD=V",
        ),
        (b"1,MOTOR,power\n", "the volts of MOTOR are not known"),
        (b"1,TX,data\n2,TX,reserved\n", "pins.csv:2: 'TX' has role 'data' at pin 1 and 'reserved' at pin 2"),
        (b"1," + b"X" * 33 + b"\n", "cannot be a net's name"),
        (b"1 a,TX\n", "pins.csv:1: '1 a' cannot be a contact"),
        (b"SH1,TX\n", "contact 'SH1' is not the shell"),
        (b"1,A B\n2,A_B\n", "'A B', 'A_B' would all become 'A_B'"),
        (b"1,SHELL,data\n2,SHIELD\n", "not the shell is named SHELL"),
        (b"SH,SHIELD\n", "no pad carries a contact"),
    ],
)
def test_what_cannot_be_a_map_is_told(raw, what):
    with pytest.raises(InputError) as caught:
        made_of(raw)
    assert what in str(caught.value)


def test_told_volts_and_roles_are_no_guesses():
    made = made_of(b"1,VCC\n2,SCALE\n3,CHASSIS\n", ["CHASSIS=ground"], ["VCC=3.3", "SCALE=-12 V"])
    assert [(net.name, net.role, net.volts) for net in made.pin_map.nets] == [
        ("VCC", "power", 3.3),
        ("SCALE", "power", -12.0),
        ("CHASSIS", "ground", None),
    ]
    assert made.guessed == () and "guessed: n" not in made.text


@pytest.mark.parametrize(
    ("roles", "volts", "what"),
    [
        (["TX=aerial"], [], "unknown role 'aerial' of TX"),
        (["TX"], [], "--role: 'TX': expected one --role NAME=VALUE"),
        (["TX=data", "TX=ground"], [], "--role"),
        (["TY=data"], [], "no contact is named 'TY': did you mean TX"),
        ([], ["TX=five"], "'five' of TX is no voltage"),
        ([], ["TX=nan"], "no voltage"),
        ([], ["TX=99999"], "no voltage"),
        (["TX=data"], ["TX=5"], "'TX' is told to be data"),
    ],
)
def test_options_that_make_no_sense(roles, volts, what):
    with pytest.raises(InputError) as caught:
        made_of(b"1,TX\n2,GND\n", roles, volts)
    assert what in str(caught.value)


NAMES = st.text(st.characters(codec="utf-8", exclude_characters="\r\n"), min_size=1, max_size=34)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(NAMES, NAMES), min_size=1, max_size=8))
def test_any_table_gives_a_map_that_reads_back_or_a_message(rows):
    raw = "\n".join(f"{number}\t{name}" for number, name in rows).encode()
    try:
        made = made_of(raw)
    except InputError as error:
        problems = error.problems
    else:
        assert parse_pin_map(made.text.encode(), "again.yaml") == made.pin_map
        assert {c for c in made.text if not c.isprintable()} == {"\n"}
        return
    assert problems


@given(st.lists(st.from_regex(r"[A-B]?[0-9]{1,2}\Z", fullmatch=True), min_size=1, max_size=12))
def test_lists_of_names_read_back(names):
    items = names_list(names)[1:-1].split(", ")
    assert [name for item in items for name in expand(item)] == names


def test_quotes_only_where_yaml_needs_them():
    assert [quoted(text) for text in ("GND", "+5V", "-12V", "~RESET", "PS_ON#")] == [
        "GND",
        "+5V",
        "-12V",
        "~RESET",
        "PS_ON#",
    ]
    assert [quoted(text) for text in ("-", "a:", "{x", "*x", "")] == ['"-"', '"a:"', '"{x"', '"*x"', '""']


# Headers


def test_a_two_row_header_counts_in_zigzag_as_kicad_draws_it_turned_a_quarter():
    found = header_map("header-2x20")
    assert found is not None
    at = {joint.name: (joint.x, joint.y) for joint in found.layouts[0].joints}
    for n in range(1, 41):
        x, y = 2.54 * ((n - 1) % 2), 2.54 * ((n - 1) // 2)
        turned = (at["1"][0] + y, at["1"][1] - x)
        assert hypot(at[str(n)][0] - turned[0], at[str(n)][1] - turned[1]) < 1e-6


@pytest.mark.needs("kicad")
@pytest.mark.parametrize(
    ("pins", "pitch", "ids"),
    [(40, "2.54mm", "header-2x20"), (8, "2.00mm", "header-1x8-2.0"), (10, "1.27mm", "header-2x5-1.27")],
)
def test_headers_against_installed_footprints(pins, pitch, ids):
    size = ids.split("-")[1]
    name = f"PinHeader_{size[0]}x{int(size[2:]):02}_P{pitch}_Vertical"
    path = SHARE / "footprints" / f"Connector_PinHeader_{pitch}.pretty" / f"{name}.kicad_mod"
    found = header_map(ids)
    assert found is not None and len(found.layouts[0].joints) == pins
    pads = {pad.number: pad for pad in footprint_pads(path.read_text(encoding="utf-8"))}
    first = found.layouts[0].joints[0]
    for joint in found.layouts[0].joints:
        pad = pads[joint.name]
        assert (joint.x - first.x, joint.y - first.y) == pytest.approx((pad.y_mm, -pad.x_mm), abs=1e-6)
        assert joint.width == pad.w_mm


def test_a_header_is_data_alone_and_has_the_id_it_was_asked_by():
    found = header_map("header-1x8-2.0")
    assert found is not None
    assert (found.id, found.pitch_mm, len(found.layouts[0].joints)) == ("header-1x8-2.0", 2.0, 8)
    assert [(net.name, net.role) for net in found.nets[:2]] == [("P1", "data"), ("P2", "data")]
    assert all(joint.shape == "round" and joint.width == 1.35 for joint in found.layouts[0].joints)


@pytest.mark.parametrize(
    "map_id",
    [
        "header-5x2",
        "header-0x4",
        "header-2x65",
        "header-2x0",
        "header-2x20-0.1",
        "header-2x20-",
        "header-02x04",
        "header-2x20-99",
        "header",
        "header-2x2x2",
        "Header-2x2",
        "header-٢x2",
    ],
)
def test_ids_that_are_no_header(map_id):
    assert header_map(map_id) is None


def test_row_after_row_numbering_and_three_rows():
    at = {pad.number: (pad.x_mm, pad.y_mm) for pad in grid_places(2, 3, 2.0, "rows").pads}
    assert at == {"1": (0, 0), "2": (2, 0), "3": (4, 0), "4": (0, 2), "5": (2, 2), "6": (4, 2)}
    assert [pad.y_mm for pad in grid_places(3, 2, 1.0).pads] == [0, 0, 1, 1, 2, 2]


def test_a_header_with_names_from_a_table(tmp_path):
    (tmp_path / "t.csv").write_text("".join(f"{n},{'GND' if n % 2 else f'D{n}'}\n" for n in range(1, 11)))
    made = made_from(table=str(tmp_path / "t.csv"), header="2x5")
    assert made.pin_map.net_named["GND"].contacts == ("1", "3", "5", "7", "9")
    assert "contacts: [1..9/2]" in net_line(made, "GND")
    assert "{row: [2..10/2], start: [0, 0], step: [2.54, 0]" in made.text
    with pytest.raises(InputError, match="pad 11, 12 has no name"):
        made_from(table=str(tmp_path / "t.csv"), header="2x6")


# KiCad


def own_joints(layout: Layout) -> list[tuple[object, ...]]:
    return [(j.name, j.contacts, round(j.x, 3), round(j.y, 3), j.width, j.height, j.shape) for j in layout.joints]


def test_a_symbol_and_a_footprint_make_a_map():
    made = made_from(symbol=f"{SYMBOLS}:Scale_Port", footprint=FOOTPRINT)
    found = made.pin_map
    assert {net.name: (net.role, net.contacts) for net in found.nets} == {
        "+5V": ("power", ("1",)),
        "GND": ("ground", ("2", "5")),
        "~WEIGH": ("data", ("3",)),
        "TEST": ("reserved", ("4",)),
        "SHELL": ("shell", ("SH",)),
    }
    assert own_joints(found.layouts[0]) == [
        ("1", ("1",), -2, -2, 0.6, 1.5, "rect"),
        ("2", ("2",), -1, -2, 0.6, 1.5, "rect"),
        ("3", ("3",), 0, -2, 0.6, 1.5, "rect"),
        ("4", ("4",), 1, -2, 0.6, 1.5, "rect"),
        ("5", ("5",), 3, -2, 1, 2, "oval"),
        ("SH1", ("SH",), -3.5, 1, 1.2, 2, "oval"),
        ("SH2", ("SH",), 3.5, 1.2, 1.2, 2, "oval"),
    ]
    assert "guessed: a no-connect pin of the symbol}" in net_line(made, "TEST")
    assert "contact 5 has several pads: the largest is its joint" in made.notes
    assert found.pitch_mm == 1.0
    assert "KiCad footprint Scale_Port_Top_Mount" in found.layouts[0].source


def test_a_symbol_that_extends_another_and_pins_named_by_number_alone():
    assert len(symbol_names(Path(SYMBOLS).read_bytes(), "w.kicad_sym", "Scale_Port_Panel").pins) == 6
    pins = symbol_names(Path(SYMBOLS).read_bytes(), "w.kicad_sym", "Plain_Row").pins
    assert [(pin.number, pin.name) for pin in pins] == [("1", "P1"), ("2", "P2"), ("10", "VCC")]


def test_a_part_on_a_board_is_turned_back_to_its_own_frame():
    footprint = made_from(symbol=f"{SYMBOLS}:Scale_Port", footprint=FOOTPRINT).pin_map.layouts[0]
    for ref in ("J1", "J2"):
        assert own_joints(made_from(board=BOARD, ref=ref).pin_map.layouts[0]) == own_joints(footprint), ref


def test_a_board_names_contacts_after_its_nets_and_tells_its_ties():
    made = made_from(board=BOARD, ref="J1")
    assert {net.name: (net.role, net.contacts) for net in made.pin_map.nets} == {
        "+5V": ("power", ("1",)),
        "GND": ("ground", ("2", "5")),
        "DATA": ("data", ("3",)),
        "NC": ("reserved", ("4",)),
        "SHELL": ("shell", ("SH",)),
    }
    assert "guessed: no net on this board}" in net_line(made, "NC")
    assert made.tied == (("GND", ("2", "5", "S1")),)
    assert "# tied on this board by its net GND: contacts 2, 5, S1 (nets GND, SHELL)" in made.text


def test_two_board_nets_of_one_short_name_stay_two():
    nets = made_from(board=BOARD, ref="J2").pin_map.net_named
    assert nets["WEIGH"].contacts == ("1", "4") and nets["spare/WEIGH"].contacts == ("3",)


def test_joints_of_a_board_with_names_of_a_symbol_tell_which_nets_the_board_ties():
    made = made_from(board=BOARD, ref="J2", symbol=f"{SYMBOLS}:Scale_Port")
    assert made.tied == (("/port/WEIGH", ("1", "4")), ("GND", ("2", "5")))
    assert any("contacts 1, 4 (nets +5V, TEST)" in note for note in made.notes)


@pytest.mark.parametrize(
    ("sources", "what"),
    [
        ({"symbol": f"{SYMBOLS}:Scale_Prt"}, "no symbol 'Scale_Prt' among 3: name it as FILE:NAME, say Scale_Port"),
        ({"symbol": SYMBOLS}, "no symbol '' among 3"),
        ({"symbol": FOOTPRINT + ":x"}, "scale_port.kicad_mod:1: not a KiCad symbol library"),
        ({"footprint": SYMBOLS}, "workshop.kicad_sym:1: not a KiCad footprint"),
        ({"board": FOOTPRINT, "ref": "J1"}, "not a KiCad board"),
        ({"board": BOARD, "ref": "J7"}, "no footprint 'J7' on this board: it has J1, J2"),
        ({"board": BOARD}, "a board and a reference go together"),
        ({"ref": "J1"}, "a board and a reference go together"),
        ({"table": "nowhere.csv"}, "nowhere.csv: cannot be read"),
        ({"table": "a.csv", "symbol": "b"}, "--symbol: given together with --table"),
        ({"footprint": FOOTPRINT, "header": "2x2"}, "--header: given together with --footprint"),
        ({"header": "9x9"}, "'9x9' is no header"),
        ({"header": "2x2", "pitch_mm": 0.0}, "a pitch of 0 mm"),
        ({"header": "2x2", "pitch_mm": float("nan")}, "a pitch of nan mm"),
        ({"table": "a.csv", "numbering": "rows"}, "given without a header"),
        ({}, "no source"),
    ],
)
def test_sources_that_cannot_be_used(sources, what):
    with pytest.raises(InputError) as caught:
        gather(**sources)
    assert what in str(caught.value)
    assert all(problem.remedy for problem in caught.value.problems)


PAD = '(pad "{}" smd rect (at {} 0) (size 1 1) (layers "F.Cu"))'


@pytest.mark.parametrize(
    ("pads", "what"),
    [
        (PAD.format("1", "0") + PAD.format("2", "0.5"), "the pads of 1 and 2 touch and are of different nets"),
        (PAD.format("1", "0") + PAD.format("9", "5"), "pad 9 has no name in pins.csv"),
        (PAD.format("9", "5"), "no pad carries a contact of pins.csv"),
        (PAD.format("1", "1e9"), "pad '1' of 1 x 1 mm at 1e+09, 0"),
        (PAD.format("1", "0").replace("1 1", "1e8 1e8"), "pad '1' of 1e+08 x 1e+08 mm"),
        (PAD.format("1", "x"), "f.kicad_mod:1: expected x in mm"),
        ('(pad "1" smd', "f.kicad_mod:1: expected ')'"),
        ("", "no pad carries"),
        ("".join(PAD.format("1", n) for n in range(1001)), "1,001 pads"),
    ],
)
def test_footprints_that_do_not_fit(pads, what):
    names = told(table_names(b"1,A\n2,B\n3,C\n", "pins.csv"), {}, {})
    with pytest.raises(InputError) as caught:
        make_map(names, footprint_places(f'(footprint "F" {pads})'.encode(), "f.kicad_mod"), "made", "")
    assert what in str(caught.value)


def test_pads_named_as_the_shell_need_no_name_in_the_table():
    names = told(table_names(b"1,TX\n", "pins.csv"), {}, {})
    text = f'(footprint "F" {PAD.format("1", "0")} {PAD.format("SH", "9")} {PAD.format("SH", "5")})'
    made = make_map(names, footprint_places(text.encode(), "f.kicad_mod"), "made", "")
    assert [(j.name, j.contacts, j.x) for j in made.pin_map.layouts[0].joints] == [
        ("1", ("1",), 0),
        ("SH1", ("SH",), 5),
        ("SH2", ("SH",), 9),
    ]
    assert "SHELL" in {net.name for net in made.guessed}


def test_a_contact_without_a_pad_is_listed_and_touching_pads_of_one_net_are_one_joint():
    names = told(table_names(b"A1,GND\nB12,GND\nA2,TX\nA3,RX\n", "pins.csv"), {}, {})
    text = f'(footprint "F" {PAD.format("A1", "0")} {PAD.format("B12", "0")} {PAD.format("A2", "3")})'
    made = make_map(names, footprint_places(text.encode(), "f.kicad_mod"), "made", "")
    assert own_joints(made.pin_map.layouts[0]) == [
        ("A1B12", ("A1", "B12"), 0, 0, 1, 1, "rect"),
        ("A2", ("A2",), 3, 0, 1, 1, "rect"),
    ]
    assert "without: [A3]" in made.text and any("contact A3" in note for note in made.notes)


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_a_damaged_board_is_read_or_refused_but_never_a_traceback(data):
    text = Path(BOARD).read_text(encoding="utf-8")
    start = text.index("(footprint")
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(start, len(text) - 1))
        piece = data.draw(st.sampled_from(["", "(", ")", '"', "x", "1e999", "-", "nan", "\n", "é", " 0 "]))
        text = text[:at] + piece + text[at + data.draw(st.integers(0, 8)) :]
    try:
        part = board_part(text.encode(), "b.kicad_pcb", "J1")
        made = make_map(told(part.names, {}, {}), part.places, "made", "", board_nets=part.board_nets)
    except InputError as error:
        problems = error.problems
    else:
        assert parse_pin_map(made.text.encode(), "again.yaml") == made.pin_map
        return
    assert problems


REAL = [
    ("Connector:USB_C_Receptacle_USB2.0", "Connector_USB:USB_C_Receptacle_HRO_TYPE-C-31-M-12", 16),
    ("Connector:USB_B_Micro", "Connector_USB:USB_Micro-B_Molex-105017-0001", 11),
    ("Connector:HDMI_A", "Connector_HDMI:HDMI_A_Molex_208658-1001_Horizontal", 23),
    (
        "Connector:DB25_Female_MountingHoles",
        "Connector_Dsub:DSUB-25_Female_Horizontal_P2.77x2.84mm_EdgePinOffset9.90mm_Housed_MountingHolesOffset11.32mm",
        27,
    ),
]


@pytest.mark.needs("kicad")
@pytest.mark.parametrize(("symbol", "footprint", "joints"), REAL, ids=[symbol for symbol, _, _ in REAL])
def test_installed_symbols_and_footprints(symbol, footprint, joints, tmp_path):
    library, _, name = symbol.partition(":")
    folder, _, part = footprint.partition(":")
    symbol_file = SHARE / "symbols" / f"{library}.kicad_sym"
    footprint_file = SHARE / "footprints" / f"{folder}.pretty" / f"{part}.kicad_mod"
    sources = {"symbol": f"{symbol_file}:{name}", "footprint": str(footprint_file)}
    try:
        made = made_from(**sources)
    except InputError as error:
        asked = re.findall(r"--volts (\S+)=V", str(error))
        made = made_from(**sources, volts=[f"{supply}=5" for supply in asked])
    assert len(made.pin_map.layouts[0].joints) == joints
    assert "/usr" not in made.text


@pytest.mark.needs("kicad", "kicad-boards")
def test_parts_on_installed_boards_have_the_pads_of_their_library():
    board = SHARE / "demos" / "stickhub" / "StickHub.kicad_pcb"
    turns = set()
    for part in read_sexpr(board.read_text(encoding="utf-8")).all("footprint"):
        library, _, name = part.args[0].partition(":")
        file = SHARE / "footprints" / f"{library}.pretty" / f"{name}.kicad_mod"
        if not library.startswith("Connector_") or not file.is_file():
            continue
        board_alone = f"(kicad_pcb {as_text(part)})".encode()
        ref = next(text.args[1] for text in part.all("fp_text") if text.args[0] == "reference")
        ours = in_place(board_part(board_alone, board.name, ref).places.pads)
        assert ours == in_place(footprint_pads(file.read_text("utf-8")))
        turns.add(tuple(part.need("at").args[2:]))
    assert len(turns) > 1


def in_place(pads: Iterable[Pad]) -> list[tuple[object, ...]]:
    return sorted((p.number, round(p.x_mm, 2), round(p.y_mm, 2), *p.extent, p.shape) for p in pads)


def as_text(node: Node) -> str:
    words = [node.name, *('"' + word.replace("\\", "\\\\").replace('"', '\\"') + '"' for word in node.args)]
    return f"({' '.join(words)} {' '.join(as_text(child) for child in node.children)})"


# The command


def run(*args: str, answers: str = ""):
    group = Commands("connector-check")
    group.add_command(new_map)
    return CliRunner().invoke(group, ["new-map", *args], input=answers)


def test_the_command_writes_a_map_and_names_the_next_step(tmp_path):
    (tmp_path / "pins.csv").write_bytes(TABLE)
    out = tmp_path / "sorting-table.yaml"
    done = run(str(out), "--table", str(tmp_path / "pins.csv"), "--title", "Sorting table: motor port", "--pitch", "2")
    assert done.exit_code == 0, done.output
    found = load_pin_map(out)
    assert (found.id, found.title, found.pitch_mm) == ("sorting-table", "Sorting table: motor port", 2.0)
    lines = done.output.splitlines()
    assert lines[-1] == f"next: connector-check lint {out}"
    assert any("ground: GND (named as a ground)" in line for line in lines)
    assert os.listdir(tmp_path) == ["pins.csv", out.name] or sorted(os.listdir(tmp_path)) == ["pins.csv", out.name]


def test_the_command_never_overwrites_and_writes_nothing_on_bad_input(tmp_path):
    out = tmp_path / "made.yaml"
    out.write_text("mine")
    done = run(str(out), "--header", "1x4")
    assert done.exit_code == 1 and "exists already" in done.output and out.read_text() == "mine"
    (tmp_path / "pins.csv").write_text("1,VCC\n2,GND\n")
    done = run(str(tmp_path / "new.yaml"), "--table", str(tmp_path / "pins.csv"))
    assert done.exit_code == 1 and "--volts VCC=V" in done.output
    assert not (tmp_path / "new.yaml").exists()
    done = run(str(tmp_path / "new.yaml"), "--table", str(tmp_path / "pins.csv"), "--volts", "VCC=24")
    assert done.exit_code == 0 and load_pin_map(tmp_path / "new.yaml").net_named["VCC"].volts == 24


@pytest.mark.parametrize(
    ("args", "what"),
    [
        (["new.txt", "--header", "1x4"], "does not end in .yaml: write new.txt.yaml"),
        (["new.yaml", "--header", "1x4", "--id", "No Id"], "id 'No Id'"),
        (["none/new.yaml", "--header", "1x4"], "cannot be written"),
        (["new.yaml", "--table", "a\x1b[31m.csv"], "a?[31m.csv: cannot be read"),
    ],
)
def test_the_command_on_bad_options(tmp_path, monkeypatch, args, what):
    monkeypatch.chdir(tmp_path)
    done = run(*args)
    assert done.exit_code == 1 and what in done.output and "Traceback" not in done.output
    assert os.listdir(tmp_path) == []


def test_without_a_source_it_asks(tmp_path):
    out = tmp_path / "loom-port.yaml"
    answers = "Loom Port\nloom-port\nLoom, pedal port\nmany\n2x2\n2.0\nGND VCC\nGND VCC UP DOWN\n5\n"
    done = run(str(out), answers=answers)
    assert done.exit_code == 0, done.output
    found = load_pin_map(out)
    assert (found.id, found.title, found.pitch_mm) == ("loom-port", "Loom, pedal port", 2.0)
    assert [(net.name, net.role, net.volts) for net in found.nets] == [
        ("GND", "ground", None),
        ("VCC", "power", 5.0),
        ("UP", "data", None),
        ("DOWN", "data", None),
    ]
    assert "2 names for 4 pins" in done.output and "small letters" in done.output


def test_stopping_the_questions_writes_nothing(tmp_path):
    done = run(str(tmp_path / "a.yaml"), answers="a\nb\n")
    assert done.exit_code == 1 and os.listdir(tmp_path) == []


def test_an_id_unlike_the_file_is_told(tmp_path):
    done = run(str(tmp_path / "a.yaml"), "--id", "b", "--header", "1x2")
    assert "its id is b: call the file b.yaml" in done.output
