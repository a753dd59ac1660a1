"""Meter descriptions, the guided self-test, and its command."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from connector_check.cli.commands import main
from connector_check.errors import InputError
from connector_check.job import load_job
from connector_check.probing.keys import ACTIONS
from connector_check.testlog.jobfile import decode, meter_of
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.meter_file import (
    keep_as_own,
    load_meter,
    meter_line,
    meter_text,
    own_meter,
    own_meter_path,
    parse_meter,
    parse_meter_file,
)
from connector_check.testlog.readings import BEEP, QUIET
from connector_check.testlog.self_test import TOUCHES, SelfTest, parse_resistors
from tests.strategies import TINY_YAML

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
    assert parse_meter(text) == Meter(low, high)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "10",
        "250:10",
        "0:10",
        "nan:10",
        "10:inf",
        "-1:5",
        "1_0:20",
        "a:b",
        "1:2:3",
        "x" * 99,
        "1 2 leads 101",
        "1 2 latency 10001",
        "1 2 junction",
    ],
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
    assert found == Meter(10, 70, 0.2, "the handheld in the drawer", 100, False, "its manual, page 19")


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
    assert parse_meter_file(f"format: 1\n{lines}\n".encode(), "m.yaml") == meter


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
    assert load_meter(tmp_path / "m.yaml").silent_above == 70


@given(
    st.tuples(st.floats(0.01, 1e6), st.floats(0.01, 1e6)).map(sorted),
    st.text(max_size=30),
    st.floats(0, 100),
    st.none() | st.floats(0, 10_000),
    st.none() | st.booleans(),
)
def test_what_is_written_reads_back(ohms, name, leads, latency, junction):
    clean = "".join(c if c.isprintable() else "?" for c in name).strip()
    meter = Meter(*ohms, leads, name, latency, junction, name)
    assert parse_meter_file(meter_text(meter).encode(), "m.yaml") == replace(meter, name=clean, source=clean)
    line = meter_line(meter)
    assert line.isprintable() and not set(line) & set(",;'\"")
    assert replace(parse_meter(line), name="") == replace(meter, name="", source="")
    job = decode(f"# meter: {line},,,\n1,2,beep\n".encode(), "job.csv")
    assert replace(meter_of(job), name="") == replace(meter, name="", source="")


@given(st.text(max_size=80))
def test_any_name_goes_into_the_line_of_a_job_and_back(name):
    line = meter_line(Meter(30, 70, name=name))
    back = parse_meter(line)
    assert (back.sounds_below, back.silent_above, back.leads_ohms) == (30, 70, 0)
    if re.fullmatch(r"[A-Za-z0-9-]{1,60}", name):
        assert back.name == name


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
    st.tuples(st.floats(10, 249), st.floats(10, 249)).map(sorted),
    st.lists(BOUGHT, min_size=2, max_size=8, unique=True),
)
def test_a_dead_band_that_shows_itself_never_yields_tighter_bounds(band, resistors):
    found = run(resistors, fickle(*band)).outcome()
    if 10.0 in resistors and band[0] == 10.0 and 4.7 not in resistors:
        assert found.meter is None  # silent at 10 ohm and nothing smaller: solder could be silent
        return
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
        assert min(quiet, default=11) <= 10 or max(beeped, default=249) >= 250
        return
    assert 0 < meter.sounds_below <= meter.silent_above
    assert all(ohms > meter.sounds_below for ohms in quiet) and all(ohms < meter.silent_above for ohms in beeped)
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


def test_silent_at_ten_ohm_does_not_keep_ten_as_must_sound():
    """It kept 10 ohm: solder may read 10 ohm and be silent."""
    found = run([4.7, 10, 22], lambda ohms, _: ohms < 10).outcome()
    assert found.meter == Meter(4.7, 10)
    alone = run([10, 22], lambda ohms, _: ohms < 10).outcome()
    assert alone.meter is None and "quiet at 10 ohm and nothing smaller beeped" in alone.notes[-1]
    keen = run([22, 250], lambda ohms, _: True).outcome()
    assert keen.meter is None and "beeps at 250 ohm and nothing larger was quiet" in keen.notes[-1]


@pytest.mark.parametrize(
    ("text", "ohms"),
    [
        ("22 47 100", [22, 47, 100]),
        ("22, 47, 100", [22, 47, 100]),
        ("22,47,100", [22, 47, 100]),
        ("22;47; 100 ", [22, 47, 100]),
        ("22 ohm 47 ohm", [22, 47]),
        ("22 Ohm, 47 Ohms, 0.1 k", [22, 47, 100]),
        ("22ohm,47ohm", [22, 47]),
        ("4,7 22 47", [4.7, 22, 47]),
        ("4,7 ohm 0,1 kOhm", [4.7, 100]),
        ("4R7 22R", [4.7, 22]),
        ("22,47", [22, 47]),
    ],
)
def test_resistors_as_people_write_them(text, ohms):
    assert parse_resistors(text) == ohms


@pytest.mark.parametrize("text", ["22,47 100", "21,85 47", "1,200 47", "22 x", "", "ohm", "22 47 m", "4,7,22 47"])
def test_resistors_that_are_not_read(text):
    with pytest.raises(ValueError, match=r"no ohms|one value or two"):
        parse_resistors(text)


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


def typed(text: str, *args: str, **variables: str):
    """The command with lines in a pipe. Where click's test runner would echo them depends on its version."""
    code = "from connector_check.cli.commands import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, "meter-test", *args],
        input=text,
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, **variables},
    )
    return SimpleNamespace(exit_code=done.returncode, stdout=done.stdout, stderr=done.stderr)


LINES = "drawer\n22 47 100\n" + "beep\nn\nquiet\n" * TOUCHES + "0.3 Ohm\nno\n"


def test_the_command_prints_a_meter_file():
    done = typed(LINES)
    assert done.exit_code == 0, done.stderr
    found = parse_meter_file(done.stdout.encode(), "stdout")
    assert (found.name, found.sounds_below, found.silent_above) == ("drawer", 22, 47)
    assert (found.leads_ohms, found.beeps_on_junction) == (0.3, False)
    assert "22, 47, 100 ohm" in found.source and "touch 22 ohm, 1 of 3" in done.stderr
    assert "resistors: 22, 47, 100 ohm" in done.stderr


def test_the_command_writes_a_file_and_never_over_one(tmp_path):
    out = tmp_path / "m.yaml"
    assert typed(LINES, "-o", str(out)).exit_code == 0
    assert load_meter(out).silent_above == 47
    again = typed(LINES, "-o", str(out))
    assert again.exit_code == 1 and "exists already" in again.stderr


def test_where_it_cannot_write_nothing_is_asked(tmp_path):
    done = typed(LINES, "-o", str(tmp_path / "none" / "m.yaml"))
    assert done.exit_code == 1 and "cannot be written" in done.stderr
    assert "resistors" not in done.stderr and list(tmp_path.iterdir()) == []


def test_wrong_answers_are_asked_again_and_undo_takes_back():
    done = typed("\n22\n22 x\n22, 100\nhm\nb 4\nn\nz\n" + "b\nn\n" * TOUCHES + "300\n\nperhaps\n\n")
    assert done.exit_code == 0, done.stderr
    found = parse_meter_file(done.stdout.encode(), "stdout")
    assert (found.sounds_below, found.silent_above) == (22, 100)
    assert found.leads_ohms == 0 and found.beeps_on_junction is None and not found.name


def test_the_letters_are_those_of_probe():
    """`q` meant quiet: three of them ended in a meter that is silent at 22 ohm."""
    done = typed("\n22 47\n" + "b\nn\n" * TOUCHES + "\n\n")
    assert all(f"{ACTIONS[word]} {word}" in done.stderr for word in ("beep", "quiet", "undo", "quit"))


@pytest.mark.parametrize("text", ["q\n", "\nq\n", "\n22 47\nb\nquit\n", "\n22 47\n" + "b\nn\n" * TOUCHES + "Q\n"])
def test_q_quits_at_every_question(text, tmp_path):
    out = tmp_path / "m.yaml"
    done = typed(text, "-o", str(out))
    assert done.exit_code == 1 and "stopped; nothing was kept" in done.stderr and not out.exists()


def test_no_thresholds_and_no_more_lines_end_with_a_message():
    deaf = typed("\n4.7 22\n" + "n\n" * 2 * TOUCHES)
    assert deaf.exit_code == 1 and "do not give the thresholds" in deaf.stderr and not deaf.stdout
    cut = typed("\n22 47\nb\n")
    assert cut.exit_code == 1 and "Aborted" in cut.stderr and "Traceback" not in cut.stderr


# The user's own meter

JOB = "# map: tiny.yaml\n1,2,quiet\n"


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """An empty folder of settings, and a job in a folder of its own."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    (tmp_path / "jobs").mkdir()
    (tmp_path / "jobs" / "tiny.yaml").write_text(TINY_YAML)
    (tmp_path / "jobs" / "job.csv").write_text(JOB)
    return tmp_path


def assumed(path: Path, *args: str) -> str:
    """The line of a result that names the meter."""
    done = CliRunner().invoke(main, ["check", str(path), *args], catch_exceptions=False)
    (line,) = [line for line in done.stdout.splitlines() if line.startswith("assumed: meter: ")]
    return line.removeprefix("assumed: meter: ")


def test_a_meter_is_kept_when_asked_for_and_named_in_every_result_after(bench):
    job = bench / "jobs" / "job.csv"
    careful = "sounds below 10 ohm, silent above 250 ohm (unknown meter, the careful default)"
    assert assumed(job) == careful
    for answer in ("no\n", "\n", "q\n", ""):
        done = typed(LINES + answer)
        assert done.exit_code == 0 and own_meter() == UNKNOWN_METER and assumed(job) == careful
    kept = typed(LINES + "yes\n")
    assert kept.exit_code == 0 and "keep it as your own meter," in kept.stderr
    assert parse_meter_file(kept.stdout.encode(), "stdout") == own_meter() == load_meter(own_meter_path())
    assert assumed(job) == "sounds below 22 ohm, silent above 47 ohm (drawer, from the user's own settings)"
    again = typed(LINES.replace("drawer", "bench") + "y\n")
    assert "in place of the one there" in again.stderr and own_meter().name == "bench"


def test_each_source_goes_before_the_next_and_is_named(bench, monkeypatch):
    job = bench / "jobs" / "job.csv"
    keep_as_own(Meter(20, 60, name="drawer"))
    assert assumed(job) == "sounds below 20 ohm, silent above 60 ohm (drawer, from the user's own settings)"
    monkeypatch.setenv("CONNECTOR_CHECK_METER", "25:65")
    assert assumed(job) == "sounds below 25 ohm, silent above 65 ohm (from CONNECTOR_CHECK_METER)"
    (bench / "shelf.yaml").write_text(meter_text(Meter(30, 70, name="shelf")))
    monkeypatch.setenv("CONNECTOR_CHECK_METER", str(bench / "shelf.yaml"))
    assert assumed(job) == "sounds below 30 ohm, silent above 70 ohm (shelf, from CONNECTOR_CHECK_METER, shelf.yaml)"
    job.write_text("# meter: 35 75 name the small one\n" + JOB)
    assert assumed(job) == "sounds below 35 ohm, silent above 75 ohm (the small one, from the job's '# meter:' line)"
    assert assumed(job, "--meter", "40:80") == "sounds below 40 ohm, silent above 80 ohm (from --meter)"
    found = assumed(job, "--meter", str(bench / "shelf.yaml"))
    assert found == "sounds below 30 ohm, silent above 70 ohm (shelf, from --meter, shelf.yaml)"


def test_a_name_cannot_add_lines_to_a_result():
    name = "drawer\n\x1b[2J[ok] clear " + "x" * 100
    words = Meter(30, 70, name=name, told_by="--meter").in_words()
    assert words.isprintable() and len(words) < 140 and words.endswith("..., from --meter)")


def test_a_job_names_a_meter_file_relative_to_itself(bench, monkeypatch):
    job = bench / "jobs" / "job.csv"
    (bench / "meters").mkdir()
    (bench / "meters" / "shelf.yaml").write_text(meter_text(Meter(30, 70)))
    job.write_text("# meter: ../meters/shelf.yaml\n" + JOB)
    monkeypatch.chdir(bench.parent)
    assert assumed(job).endswith("(from the job's '# meter:' line, shelf.yaml)")
    (bench / "jobs" / "beside.YAML").write_text(meter_text(Meter(31, 71)))
    job.write_text("# map: tiny.yaml\n# meter: beside.YAML,,,\n1,2,quiet\n")
    assert assumed(job).startswith("sounds below 31 ohm")


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("none.yaml", "job.csv:1: meter 'none.yaml' is not there: put it beside the job, or write two ohms: 10:250"),
        ("/etc/m.yaml", "job.csv:1: meter '/etc/m.yaml' is an absolute path"),
        ("tiny.yaml", "tiny.yaml:2: the meter file has an unknown key 'id'"),
        ("ten", "job.csv:1: meter 'ten': expected two ohms"),
    ],
)
def test_a_meter_line_that_cannot_be_read(bench, line, told):
    job = bench / "jobs" / "job.csv"
    job.write_text(f"# meter: {line}\n{JOB}")
    with pytest.raises(InputError) as caught:
        load_job(str(job))
    assert any(told in found for found in caught.value.lines())


@pytest.mark.parametrize(
    "text", ["10:250", "10 250", "30 70 leads 0.2 junction yes", "m.yaml", "ten", "250:10", "none.yaml"]
)
def test_every_way_to_name_a_meter_reads_the_same_spellings(bench, monkeypatch, text):
    job = bench / "jobs" / "job.csv"
    (bench / "jobs" / "m.yaml").write_text(FULL.decode())
    monkeypatch.chdir(bench / "jobs")

    def read(line: str = "", option: str = "", variable: str = "") -> Meter | None:
        monkeypatch.setenv("CONNECTOR_CHECK_METER", variable)
        job.write_text(line + JOB)
        try:
            return load_job(str(job), meter=option).meter
        except InputError:
            return None

    found = read(f"# meter: {text}\n")
    assert found == read(option=text) == read(variable=text)
    assert (found is None) == (text in ("ten", "250:10", "none.yaml"))


def test_a_broken_own_meter_is_told_with_its_file(bench):
    own_meter_path().parent.mkdir(parents=True)
    own_meter_path().write_text("format: 1\nsounds_below: loud\n")
    done = CliRunner().invoke(main, ["check", str(bench / "jobs" / "job.csv")])
    assert done.exit_code == 1 and "meter.yaml:2: 'sounds_below' is not a number" in done.stderr


def test_a_history_reads_the_meter_of_each_job(bench):
    jobs = bench / "jobs"
    (jobs / "m.yaml").write_text(meter_text(Meter(30, 70)))
    for name, meter in (("job.csv", "m.yaml"), ("second.csv", "10:250"), ("third.csv", "none.yaml")):
        (jobs / name).write_text(f"# map: tiny.yaml\n# meter: {meter}\n1,2,quiet\n")
    done = CliRunner().invoke(main, ["history", str(jobs)], catch_exceptions=False)
    assert "2 jobs, 1 files that could not be read" in done.output
    assert "third.csv:2: meter 'none.yaml' is not there" in done.output
