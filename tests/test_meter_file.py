"""Meter descriptions, the guided self-test, and its command."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from connector_check.errors import InputError
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.meter_file import (
    TOUCHES,
    MeterDescription,
    SelfTest,
    load_meter,
    meter_text,
    parse_meter,
    parse_meter_file,
)
from connector_check.testlog.readings import BEEP, QUIET

ROOT = Path(__file__).resolve().parents[1]

FULL = b"""\
format: 1
name: the handheld in the drawer
sounds_below: 10
silent_above: 70
leads_ohms: 0.2
latency_ms: 100
beeps_on_junction: no
source: its manual, page 19
"""


def problems(raw: bytes) -> list[str]:
    with pytest.raises(InputError) as caught:
        parse_meter_file(raw, "m.yaml")
    return caught.value.lines()


# Descriptions


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [("10:250", 10, 250), (" 30 70 ", 30, 70), ("10 ohm : 35 ohm", 10, 35), ("0.5:0.5", 0.5, 0.5), (".5:1", 0.5, 1)],
)
def test_two_ohms(text, low, high):
    assert parse_meter(text).meter == Meter(low, high)


@pytest.mark.parametrize(
    "text", ["", "10", "250:10", "0:10", "nan:10", "10:inf", "-1:5", "1_0:20", "a:b", "1:2:3", "x" * 99]
)
def test_bad_ohms(text):
    with pytest.raises(InputError, match=r"expected two ohms.*10:250"):
        parse_meter(text)


def test_bad_ohms_name_their_place():
    with pytest.raises(InputError) as caught:
        parse_meter("250:10", "job.csv", 2)
    assert caught.value.lines()[0].startswith("job.csv:2: meter '250:10'")


def test_a_full_file():
    found = parse_meter_file(FULL, "m.yaml")
    assert found == MeterDescription(
        Meter(10, 70), "the handheld in the drawer", 0.2, 100, False, "its manual, page 19"
    )


@pytest.mark.parametrize(
    ("lines", "meter"),
    [
        ("", UNKNOWN_METER),
        ("sounds_below: 30", Meter(30, 250)),
        ("sounds_below: 300", Meter(300, 300)),
        ("silent_above: 60", Meter(10, 60)),
        ("silent_above: 8", Meter(8, 8)),
    ],
)
def test_one_printed_threshold_leaves_the_other_careful(lines, meter):
    assert parse_meter_file(f"format: 1\n{lines}\n".encode(), "m.yaml").meter == meter


def test_every_problem_at_once_with_its_line():
    found = problems(
        b"format: 2\nname: [a]\nsounds_below: 80\nsilent_above: 20\nleads_ohms: nan\nlatency_ms: fast\n"
        b"beeps_on_junction: perhaps\ncolour: red\n"
    )
    assert [line.split(":")[1] for line in found] == ["1", "2", "3", "5", "6", "7", "8"]
    assert all(line.startswith("m.yaml:") for line in found)


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "empty"),
        (b"# only a remark\n", "empty"),
        (b"[1, 2]", "not a table"),
        (b"sounds_below: 10", "no 'format'"),
        (b"format: 1\nname: \xff", "UTF-8"),
        (b"format: 1\nformat: 1", "twice"),
        (b"a: &x 1", "anchor"),
        (b"a: [", "YAML"),
        (b"#" * 100_001, "larger"),
        (b"format: 1\nsounds_below: 0", "not a number from 0.01"),
    ],
)
def test_bad_files(raw, says):
    assert says in "\n".join(problems(raw))


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        load_meter(tmp_path / "none.yaml")
    (tmp_path / "m.yaml").write_bytes(FULL)
    assert load_meter(tmp_path / "m.yaml").meter == Meter(10, 70)


@given(
    st.tuples(st.floats(0.01, 1e6), st.floats(0.01, 1e6)).map(sorted),
    st.text(max_size=30),
    st.none() | st.floats(0, 100),
    st.none() | st.floats(0, 10_000),
    st.none() | st.booleans(),
)
def test_what_is_written_reads_back(ohms, name, leads, latency, junction):
    clean = "".join(c if c.isprintable() else "?" for c in name).strip()
    given_name = MeterDescription(Meter(*ohms), name, leads, latency, junction, name)
    back = parse_meter_file(meter_text(given_name).encode(), "m.yaml")
    assert back == MeterDescription(Meter(*ohms), clean, leads, latency, junction, clean)


# Self-test


def run(resistors, sounds) -> SelfTest:
    """A whole self-test; sounds(ohms, touch) tells whether the meter beeps."""
    test = SelfTest.of(resistors)
    while (ohms := test.next()) is not None:
        test = test.answer(BEEP if sounds(ohms, len(test.said(ohms))) else QUIET)
    return test


def fickle(low, high):
    """A meter that answers by turns inside its dead band."""
    return lambda ohms, touch: ohms < low or (ohms <= high and touch % 2 == 0)


PRINTED = [
    ("UT39, operating manual p.19", 10, 70, [4.7, 33, 100], Meter(10, 100)),
    ("UT39, operating manual p.19", 10, 70, [22, 47, 68], Meter(10, 250)),
    ("UT61B, operating manual p.12", 10, 35, [22, 47, 100], Meter(10, 47)),
    ("KN-8058, manual p.5", 10, 35, [8.2, 27, 39], Meter(10, 39)),
    ("22-0179, faxback doc 6270: 50 ohm, plus or minus 30", 20, 80, [15, 47, 100], Meter(15, 100)),
    ("22-00813, manual p.14: 50 ohm, plus or minus 10", 40, 60, [33, 47, 68], Meter(33, 68)),
    ("MT-1708, manual p.12", 30, 50, [22, 39, 56], Meter(22, 56)),
    ("finest 716, manual s.4-5", 70, 70, [68, 82], Meter(68, 82)),
    ("EX410, manual p.9", 150, 150, [100, 180, 300], Meter(100, 180)),
]


@pytest.mark.parametrize(("source", "low", "high", "resistors", "expected"), PRINTED)
def test_printed_thresholds(source, low, high, resistors, expected):
    """Thresholds as the named manuals print them; the resistors lie in and beside the dead band."""
    assert run(resistors, fickle(low, high)).outcome().meter == expected, source


BOUGHT = st.sampled_from([4.7, 10.0, 15.0, 22.0, 33.0, 47.0, 68.0, 100.0, 150.0, 220.0, 330.0])


@given(
    st.tuples(st.floats(10, 250), st.floats(10, 250)).map(sorted),
    st.lists(BOUGHT, min_size=2, max_size=8, unique=True),
)
def test_a_dead_band_that_shows_itself_never_yields_tighter_bounds(band, resistors):
    found = run(resistors, fickle(*band)).outcome()
    assert found.meter is not None and not found.contradictions
    assert found.meter.sounds_below <= band[0] and found.meter.silent_above >= band[1]


@given(
    st.tuples(st.floats(1, 400), st.floats(1, 400)).map(sorted),
    st.lists(st.floats(0.5, 500), min_size=2, max_size=8, unique=True),
    st.randoms(use_true_random=False),
)
def test_any_meter_is_described_so_that_no_answer_speaks_against_it(band, resistors, chance):
    """Whatever it answers in its dead band: all answers fit the bounds, and what stays open stays at 10 and 250."""
    low, high = band
    test = run(resistors, lambda ohms, _: ohms < low or (ohms <= high and chance.random() < 0.5))
    meter = test.outcome().meter
    quiet = [ohms for ohms, heard in test.answers if heard == QUIET]
    beeped = [ohms for ohms, heard in test.answers if heard == BEEP]
    if meter is None:
        assert min(quiet, default=10) < 10 or max(beeped, default=250) > 250
        return
    assert 0 < meter.sounds_below <= meter.silent_above
    assert all(ohms >= meter.sounds_below for ohms in quiet) and all(ohms <= meter.silent_above for ohms in beeped)
    assert meter.sounds_below == 10 or meter.sounds_below in beeped
    assert meter.silent_above == 250 or meter.silent_above in quiet
    if not [r for r in test.resistors if low <= r <= high] and low >= 10 and high <= 250:
        assert meter.sounds_below <= low and meter.silent_above >= high


def test_a_meter_outside_the_careful_default_widens_it():
    assert run([3.3, 4.7, 22], lambda ohms, _: ohms < 4).outcome().meter == Meter(3.3, 4.7)
    assert run([100, 270, 470], lambda ohms, _: ohms < 300).outcome().meter == Meter(270, 470)
    deaf = run([4.7, 22], lambda ohms, _: False).outcome()
    assert deaf.meter is None and "solder could be silent" in deaf.notes[-1]
    keen = run([100, 300], lambda ohms, _: True).outcome()
    assert keen.meter is None and "larger resistor" in keen.notes[-1]


def test_contradictory_answers_are_named_and_narrow_nothing():
    found = run([22, 47, 100], lambda ohms, _: ohms == 47).outcome()
    assert found.meter == Meter(10, 100)
    assert len(found.contradictions) == 1 and "quiet at 22 ohm, a beep at 47 ohm" in found.contradictions[0]


def test_one_touch_narrows_nothing():
    test = SelfTest.of([22, 100]).answer(BEEP).answer(QUIET)
    assert test.outcome().meter == UNKNOWN_METER
    assert test.take_back() == SelfTest.of([22, 100]).answer(BEEP)


def test_rounds_and_mixed_answers():
    test = SelfTest.of([47, 22])
    asked = []
    while (ohms := test.next()) is not None:
        asked.append(ohms)
        test = test.answer(BEEP if ohms == 22 or len(test.said(47)) == 0 else QUIET)
    assert asked == [22, 47, 22, 47, 22]
    assert "both answers at 47 ohm" in " ".join(test.outcome().notes)
    with pytest.raises(ValueError, match="no answer 'beep' here"):
        test.answer(BEEP)


@pytest.mark.parametrize("ohms", [[], [22], [22, 22], [0, 22], [-1, 22], [float("inf"), 22], list(range(1, 10))])
def test_resistors_that_cannot_serve(ohms):
    with pytest.raises(ValueError, match="two to eight"):
        SelfTest.of(ohms)


# The command


def typed(text: str, *args: str):
    """The command with lines in a pipe. Where click's test runner would echo them depends on its version."""
    code = "from connector_check.cli.commands import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, "meter-test", *args], input=text, capture_output=True, text=True, cwd=ROOT
    )
    return SimpleNamespace(exit_code=done.returncode, stdout=done.stdout, stderr=done.stderr)


LINES = "drawer\n22 47 100\n" + "beep\nq\nquiet\n" * TOUCHES + "0.3\nno\n"


def test_the_command_prints_a_meter_file():
    done = typed(LINES)
    assert done.exit_code == 0, done.stderr
    found = parse_meter_file(done.stdout.encode(), "stdout")
    assert (found.name, found.meter) == ("drawer", Meter(22, 47))
    assert (found.leads_ohms, found.beeps_on_junction) == (0.3, False)
    assert "22, 47, 100 ohm" in found.source and "touch 22 ohm, 1 of 3" in done.stderr


def test_the_command_writes_a_file_and_never_over_one(tmp_path):
    out = tmp_path / "m.yaml"
    assert typed(LINES, "-o", str(out)).exit_code == 0
    assert load_meter(out).meter == Meter(22, 47)
    again = typed(LINES, "-o", str(out))
    assert again.exit_code == 1 and "exists already" in again.stderr


def test_wrong_answers_are_asked_again_and_back_takes_back():
    done = typed("\n22\n22 x\n22 100\nhm\nq\nback\n" + "b\nq\n" * TOUCHES + "300\n\nperhaps\n\n")
    assert done.exit_code == 0, done.stderr
    found = parse_meter_file(done.stdout.encode(), "stdout")
    assert found.meter == Meter(22, 100)
    assert found.leads_ohms is None and found.beeps_on_junction is None and not found.name


def test_no_thresholds_and_no_more_lines_end_with_a_message():
    deaf = typed("\n4.7 22\n" + "q\n" * 2 * TOUCHES)
    assert deaf.exit_code == 1 and "do not give the thresholds" in deaf.stderr and not deaf.stdout
    cut = typed("\n22 47\nb\n")
    assert cut.exit_code == 1 and "Aborted" in cut.stderr and "Traceback" not in cut.stderr
