"""Job files: what spreadsheets write, bad input, neutralised formulas."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.board.making import make_board
from connector_check.errors import InputError
from connector_check.files.text import neutral
from connector_check.testlog.jobfile import decode, meter_of, parse
from connector_check.testlog.readings import parse_ohms, parse_reading
from tests.strategies import tiny_board

BOARD = tiny_board()


def read(text: str | bytes):
    raw = text.encode() if isinstance(text, str) else text
    return parse(decode(raw, "job.csv"), BOARD)


def problems(text: str | bytes) -> list[str]:
    with pytest.raises(InputError) as caught:
        read(text)
    return [str(p) for p in caught.value.problems]


SAME = [("beep", (0, 3)), ("quiet", (1, 2)), ("ohms", (2, 4))]


@pytest.mark.parametrize(
    "text",
    [
        "1,4,beep\n2,3,quiet\n3,5,0.4\n",
        "pin_a,pin_b,reading,note\n1,4,beep,\n2,3,quiet,\n3,5,0.4 ohm,\n",
        "# map: tiny,,,\n# meter: 10 250,,,\npin_a,pin_b,reading,note\n1,4,beep,\n2,3,quiet,\n3,5,0.4,\n,,,\n",
        "\ufeff1;4;Beep;\r\n2;3;QUIET;\r\n3;5;0,4;\r\n",
        "1\t4\tbeep\n2\t3\tquiet\n3\t5\t0.4\n",
        "note,reading,pin_b,pin_a\nx,beep,4,1\n,quiet,3,2\n,0.4,5,3\n",
        "pin_a,pin_b,reading,note,operator\n1,4,beep,,jo\n2,3,quiet,,jo\n3,5,0.4,,\n",
        '"1","4","beep"\n"2","3","quiet"\n"3","5","0.4"\n',
        "1,4,beep\n\n# a remark line\n2,3,quiet\n3,5,400m\n".replace("400m", "0.4"),
    ],
)
def test_the_same_job_in_many_hands(text):
    entries = read(text)
    assert [(e.kind, e.points) for e in entries] == SAME
    assert entries[2].ohms == 0.4


def test_utf16_from_a_spreadsheet():
    assert len(read("1\t4\tbeep\n".encode("utf-16"))) == 1


def test_names_contacts_nets_and_case():
    entries = read("d+,3,beep\n@gnd,GND,unsure\n".replace("@gnd,GND", "@gnd,1") + "sh1,sh,quiet\n'+5V,'@GND,quiet\n")
    names = [[BOARD.points[p] for p in e.points] for e in entries]
    assert names == [["@D+", "3"], ["@GND", "1"], ["SH1", "SH"], ["@+5V", "@GND"]]


def test_events():
    entries = read(
        ",,leads good\n,,leads good 0.3\n4 5,,reworked\n4,5,mask lost\n1,4,beep\n1,4,taken back\n"
        ",,taken back quiet\n4,,remark,flux\n"
    )
    assert [(e.kind, e.points, e.ohms, e.which) for e in entries] == [
        ("leads good", (), None, ""),
        ("leads good", (), 0.3, ""),
        ("reworked", (3, 4), None, ""),
        ("mask lost", (3, 4), None, ""),
        ("beep", (0, 3), None, ""),
        ("taken back", (0, 3), None, ""),
        ("taken back", (), None, "quiet"),
        ("remark", (3,), None, ""),
    ]


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("1,99,beep", 1, "unknown pin '99'"),
        ("1,2,beep\n1,1,beep", 2, "touches itself"),
        ("1,2,bep", 1, "unknown reading 'bep'"),
        ("1,2,", 1, "no reading"),
        ("1,,beep", 1, "names one pin"),
        ("1", 1, "only 1 columns"),
        ("GND,@GND,beep", 1, "touches itself"),
        ("4,5,leads good", 1, "names a pin"),
        (",,reworked", 1, "names no joint"),
        ("1,,taken back", 1, "names one pin"),
        ("pin_a,reading\n1,beep", 1, "no column pin_b"),
        ("# only\n", 0, "no readings"),
        ("", 0, "empty"),
        (" \n\n", 0, "empty"),
        (b"\x89PNG\r\n\x1a\n\x00", 1, "not text"),
        (b"1,2,beep\n\x00\x00", 2, "binary"),
        ("1,2,5 m", 1, "unknown reading"),
        ("1,2,-3", 1, "unknown reading"),
        ("1,2,\x1b[2J", 1, "unknown reading '?[2J'"),
    ],
)
def test_bad_input_says_where_and_what(text, line, what):
    (found,) = problems(text)
    place = f"job.csv:{line}: " if line else "job.csv: "
    assert found.startswith(place) and what in found


def test_all_problems_at_once_the_first_twenty_shown():
    with pytest.raises(InputError) as caught:
        read("\n".join(f"1,{n},beep" for n in range(100, 130)))
    assert len(caught.value.problems) == 30
    assert len(caught.value.lines()) == 21
    assert caught.value.lines()[-1] == "... and 10 more problems"


def test_a_near_miss_is_suggested():
    assert "did you mean" in problems("SH9,1,beep")[0]


def test_a_file_that_is_too_large():
    with pytest.raises(InputError, match="larger than 64 MiB"):
        decode(b"1,2,beep\n" * (8 * 1024 * 1024), "big.csv")


def test_a_layout_or_variant_that_is_not_there():
    with pytest.raises(InputError, match="it has: row"):
        make_board(BOARD.pin_map, "column")
    with pytest.raises(InputError, match="it has: none"):
        make_board(BOARD.pin_map, "", "rev-9")


@pytest.mark.parametrize(("text", "low", "high"), [("10 250", 10, 250), ("10:50", 10, 50), ("30 ohm 70 ohm", 30, 70)])
def test_the_meter_line(text, low, high):
    meter = meter_of(decode(f"# meter: {text}\n1,2,beep\n".encode(), "job.csv"))
    assert (meter.sounds_below, meter.silent_above) == (low, high)


@pytest.mark.parametrize("text", ["ten", "250 10", "10", "-1 5", "10 250 300"])
def test_a_bad_meter_line(text):
    with pytest.raises(InputError, match=r"job.csv:1: meter"):
        meter_of(decode(f"# meter: {text}\n1,2,beep\n".encode(), "job.csv"))


@given(st.text(max_size=20))
def test_neutral_cells_are_read_back(text):
    cell = neutral(text)
    assert cell == text or cell == "'" + text
    assert cell[:1] not in ("=", "@", "\t", "\r", "\n")
    if cell[:1] in ("+", "-"):
        float(cell.replace(",", "."))


@given(st.floats(0.001, 9e6).map(lambda v: round(v, 3)))
def test_ohms_are_read_as_written(value):
    assert parse_ohms(f"{value:.3f}") == value
    assert parse_ohms(f"{value:.3f} ohm") == value
    assert parse_reading(f"{value / 1000:.6f}k") == ("ohms", value, "")


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused_but_never_a_traceback(raw):
    refused = None
    try:
        entries = read(raw)
    except InputError as error:
        refused = error
    assert refused.problems if refused else all(entry.line > 0 for entry in entries)
