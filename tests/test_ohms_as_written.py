"""Ohms and volts as people write them: every spelling reads the same, and nothing ambiguous is read silently."""

from __future__ import annotations

from decimal import Decimal
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from connector_check.board.board import Board
from connector_check.errors import InputError
from connector_check.pinout.library import find_pin_map
from connector_check.probing.probe import Probe, run_lines
from connector_check.probing.session import Session
from connector_check.testlog.jobfile import decode, parse
from connector_check.testlog.jobwriter import JobWriter
from connector_check.testlog.readings import OHMS, VOLTS, parse_ohms, parse_reading, unread
from tests.strategies import tiny_board

BOARD = tiny_board()
VGA = find_pin_map("vga-de15")


def read(text: str):
    return parse(decode(text.encode(), "job.csv"), BOARD)


def refused(text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        read(text)
    return [str(problem) for problem in caught.value.problems]


@pytest.mark.parametrize(
    ("text", "ohms"),
    [
        ("0.4", 0.4),
        ("0.4 Ohm", 0.4),
        ("0.4 OHM", 0.4),
        (".4", 0.4),
        ("0,4 ohm", 0.4),
        ("75 Ohms", 75),
        ("75 \u03a9", 75),
        ("75R", 75),
        ("4.7 kOhm", 4700),
        ("4.7 KOHM", 4700),
        ("4,7k", 4700),
        ("4k7", 4700),
        ("4K7 ohm", 4700),
        ("0R4", 0.4),
        ("R47", 0.47),
        ("1.2M", 1.2e6),
        ("1.2 MOhm", 1.2e6),
        ("1M2", 1.2e6),
        ("OL", inf),
        ("ol", inf),
        ("O.L", inf),
        ("o.l.", inf),
        ("0.L", inf),
        (".OL", inf),
        ("OL MOhm", inf),
        (">40M", inf),
        ("> 40 MOhm", inf),
        (">2000k", inf),
    ],
)
def test_ohms(text, ohms):
    assert parse_reading(text) == (OHMS, ohms, "")


@pytest.mark.parametrize(
    ("text", "volts"),
    [
        ("0.512 V", 0.512),
        (".512 v", 0.512),
        ("0,512V", 0.512),
        ("512 mV", 0.512),
        ("512 mVolts", 0.512),
        ("0.5 VOLTS", 0.5),
        ("OL V", inf),
        ("O.L V", inf),
        ("0.L volt", inf),
    ],
)
def test_volts(text, volts):
    assert parse_reading(text) == (VOLTS, volts, "")


@pytest.mark.parametrize(
    ("text", "what", "remedy"),
    [
        ("1,200", "'1,200' may part thousands or decimals", "write 1200 or 1.2"),
        ("4,700 ohm", "may part thousands or decimals", "write 4700 or 4.7"),
        ("1,000", "may part thousands or decimals", "write 1000 or 1"),
        (">1,200", "may part thousands or decimals", "write 1200 or 1.2"),
        ("5 m", "unknown reading '5 m'", "m may be milli or mega: write 5 M, or the ohms in full"),
        ("1.2 mohm", "unknown reading", "m may be milli or mega: write 1.2 Mohm, or the ohms in full"),
        ("4m7", "unknown reading", "m may be milli or mega: write 4M7, or the ohms in full"),
        (">200", "'>200' leaves open how much", "measure in the meter's highest range; what is over that is OL"),
        (">0.9M", "leaves open how much", "highest range"),
        ("-3", "unknown reading '-3'", "expected"),
        ("1.200,5", "unknown reading", "expected"),
        ("1 200", "unknown reading", "expected"),
        ("k7", "unknown reading", "expected"),
        ("M7", "unknown reading", "expected"),
        ("", "no reading", "expected"),
    ],
)
def test_what_is_not_read_says_why(text, what, remedy):
    assert parse_reading(text) is None
    found = unread(text)
    assert what in found[0] and remedy in found[1]


DIGITS = st.integers(0, 99_999)
PLACES = st.integers(0, 4)
PREFIXES = st.sampled_from([("", 0), ("r", 0), ("R", 0), ("k", 3), ("K", 3), ("M", 6)])
UNITS = st.sampled_from(["", "ohm", "Ohm", "OHM", "ohms", "Ohms", "\u03a9", "\u2126"])


def decimal(digits: int, places: int) -> str:
    text = str(digits).rjust(places + 1, "0")
    return f"{text[:-places]}.{text[-places:]}" if places else text


@given(DIGITS, PLACES, PREFIXES, UNITS, st.sampled_from(["", " "]), st.sampled_from(["", " "]))
def test_every_spelling_of_a_value_reads_as_the_same_ohms(digits, places, prefix, unit, before, behind):
    """The value by exact decimal arithmetic is the oracle."""
    letter, power = prefix
    number = decimal(digits, places)
    value = (OHMS, float(Decimal(number).scaleb(power)), "")
    spellings = [f"{number}{before}{letter}{behind}{unit}", f" {number}{letter}{unit} "]
    whole, _, part = number.partition(".")
    if part and letter:
        spellings += [f"{whole}{letter}{part}", f"{whole}{letter}{part}{behind}{unit}"]
    if part and not (len(part) == 3 and not number.startswith("0")):
        spellings.append(f"{whole},{part}{before}{letter}{unit}")
    if whole == "0" and part:
        spellings.append(f".{part}{letter}{unit}")
    assert {spelling: parse_reading(spelling) for spelling in spellings} == dict.fromkeys(spellings, value)


@given(st.text("0123456789.,kKmMrRoOhHlLsS> ", max_size=9))
def test_no_text_with_two_meanings_is_read(text):
    """A comma as thousands and as decimals, a small m, an open bound: read only where one meaning is left."""
    parsed = parse_reading(text)
    if parsed is None or parsed[1] in (None, inf):
        return
    groups = text.strip().split(",")
    if len(groups) == 2:
        thousands = groups[0].isdigit() and 1 <= len(groups[0]) <= 3 and not groups[0].startswith("0")
        following = len(groups[1]) - len(groups[1].lstrip("0123456789"))
        assert not (thousands and following == 3)
    assert len(groups) <= 2 and text.count(".") <= 1 and not text.strip().startswith(">")
    assert "m" not in text.replace("ohm", "").replace("ohM", "").replace("oHm", "").replace("Ohm", "").replace(
        "OHm", ""
    )


# In a job file


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("1,2,4,7k", "'4,7k' reads as 4 and a cell '7k': write 4.7k, or the note in words"),
        ("1,2,1,200", "'1,200' reads as 1 and a cell '200': write 1200 or 1.200, or the note in words"),
        ("1,2,0,4", "'0,4' reads as 0 and a cell '4'"),
        ("1,2,0,4 Ohm,scratched", "'0,4 Ohm' reads as 0 and a cell '4 Ohm'"),
        ("1,4,0,512 V", "'0,512 V' reads as 0 and a cell '512 V'"),
        (",,leads good 0,3", "'leads good 0,3' reads as leads good 0 and a cell '3'"),
        ('1,2,"1,200"', "'1,200' may part thousands or decimals: write 1200 or 1.2"),
    ],
)
def test_a_decimal_comma_in_a_comma_file_is_an_error_with_its_line(row, told):
    """`4,7k` read as 4 ohm with a note '7k', and sent the board to rework."""
    for head in ("", "pin_a,pin_b,reading,note\n", "# map: tiny\npin_a,pin_b,reading,note\n"):
        (found,) = refused(f"{head}1,3,beep\n{row}\n")
        assert found.startswith(f"job.csv:{head.count(chr(10)) + 2}: {told}")


def test_a_decimal_comma_before_other_columns_is_found_by_the_cell_too_many():
    (found,) = refused("pin_a,pin_b,reading,minutes,note\n1,2,4,7,3,\n")
    assert found.startswith("job.csv:2: '4,7' reads as 4 and a cell '7'")
    assert read("pin_a,pin_b,reading,minutes,note\n1,2,4,7,\n")[0].ohms == 4
    assert read("pin_a,pin_b,reading,minutes,note\n1,2,4,7,flux\n1,3,5,8\n")[1].ohms == 5


def test_values_with_notes_stay():
    rows = '1,2,"4,7k",in quotes\n1,3,47,2 touches\n1,5,0.4,3\n2,3,beep,7\n,,leads good,4\n1,6,4k7,12\n'
    assert [entry.ohms for entry in read(rows)] == [4700, 47, 0.4, None, None, 4700]


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_a_decimal_comma_where_commas_part_no_cells(delimiter):
    text = "1;4;beep\n1;2;4,7k\n1;3;0,4 Ohm\n1;5;1.2M\n".replace(";", delimiter)
    assert [entry.ohms for entry in read(text)] == [None, 4700, 0.4, 1.2e6]


def test_a_point_before_three_digits_is_unclear_where_decimals_have_a_comma():
    assert refused("1;4;beep\n1;2;1.200\n") == ["job.csv:2: '1.200' may part thousands or decimals: write 1200 or 1.2"]
    assert [entry.ohms for entry in read("1;4;beep\n1;2;1.2\n1;3;0.512\n1;5;1.234k\n")] == [None, 1.2, 0.512, 1234]
    assert read("1,2,1.200\n")[0].ohms == 1.2


@given(DIGITS, st.integers(1, 4), PREFIXES, UNITS)
def test_no_decimal_comma_is_read_silently_in_a_comma_file(digits, places, prefix, unit):
    cell = f"{decimal(digits, places).replace('.', ',')}{prefix[0]} {unit}".strip()
    for head in ("", "pin_a,pin_b,reading,note\n", "pin_a,pin_b,reading\n", "note,reading,pin_b,pin_a\n"):
        row = f"x,{cell},2,1" if head.startswith("note") else f"1,2,{cell}"
        assert refused(f"{head}{row}\n")


@given(DIGITS, PLACES, PREFIXES, UNITS)
def test_a_semicolon_file_reads_what_a_spreadsheet_with_decimal_commas_wrote(digits, places, prefix, unit):
    cell = f"{decimal(digits, places).replace('.', ',')}{prefix[0]} {unit}".strip()
    if parse_ohms(cell) is None:
        assert "thousands" in refused(f"1;2;{cell}\n")[0]
    else:
        assert read(f"1;2;{cell}\n")[0].ohms == float(Decimal(decimal(digits, places)).scaleb(prefix[1]))


# At a prompt of the session


@pytest.mark.parametrize("head", ["", "pin_a;pin_b;reading;note\n"])
def test_the_same_spellings_are_answers(tmp_path, head):
    path = tmp_path / "job.csv"
    path.write_text(head)
    board = Board(VGA, VGA.layouts[0])
    typed = ["4k7", "4,7 kOhm", "0,4 Ohm", "75 Ohms", ">40M", "O.L", "R47", "1,200", "5 m", ">200"]
    shown: list[str] = []
    with JobWriter.open(path, {"map": "vga-de15"}) as writer:
        probe = Probe(Session(board, []), writer, "component")
        run_lines(probe, iter(["beep", "beep", *typed]), shown.append)
    entries = parse(decode(path.read_bytes(), "job.csv"), board)
    assert entries == probe.session.entries
    assert [e.ohms for e in entries if e.kind == OHMS] == [4700, 4700, 0.4, 75, inf, inf, 0.47]
    text = "\n".join(shown)
    assert all(words in text for words in ("write 1200 or 1.2", "m may be milli or mega", "leaves open how much"))
