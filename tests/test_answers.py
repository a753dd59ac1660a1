"""Answers through the real probe, typed on lines and by keys: refused, or written so that the job reader reads them."""

from __future__ import annotations

from itertools import chain, repeat
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from connector_check.board.board import Board
from connector_check.cli.commands import main
from connector_check.pinout.library import find_pin_map
from connector_check.probing.keys import key_map
from connector_check.probing.probe import LINE_WORDS, Keyboard, Probe, run_keys, run_lines
from connector_check.probing.session import Session
from connector_check.testlog.jobfile import decode, parse
from connector_check.testlog.jobwriter import JobWriter
from connector_check.testlog.readings import WORDS
from tests.strategies import tiny_board

USB = find_pin_map("usb-c-16")
BOARD = Board(USB, USB.layouts[0])
TINY = tiny_board()


def on_lines(probe: Probe, answers: list[str]) -> str:
    shown: list[str] = []
    run_lines(probe, iter(answers), shown.append)
    return "\n".join(shown)


def by_keys(probe: Probe, answers: list[str]) -> str:
    """`beep` is pressed, everything else typed after the key that asks for it."""
    pressed, typed = [], []
    for answer in answers:
        word, _, rest = answer.partition(" ")
        pressed.append({"beep": "b", "rework": "r"}.get(word, "o"))
        typed += [] if word == "beep" else [rest if word == "rework" else answer]
    shown: list[str] = []
    texts = iter(typed)
    keyboard = Keyboard(iter([*pressed, "q"]).__next__, key_map(), 0.0)
    run_keys(probe, keyboard, shown.append, lambda prompt: next(texts))
    return "\n".join(shown)


@pytest.fixture(params=[on_lines, by_keys])
def give(request, tmp_path):
    """Gives answers to a new job of usb-c-16, behind cautions and lead check; returns what was shown, the rows that the
    answers left in the file, and the entries of the session.
    """

    def run(*answers: str):
        path = tmp_path / "job.csv"
        with JobWriter.open(path, {"map": "usb-c-16"}) as writer:
            probe = Probe(Session(BOARD, []), writer, "component")
            shown = request.param(probe, ["beep", "beep", *answers])
        raw = path.read_bytes()
        assert parse(decode(raw, "job.csv"), BOARD) == probe.session.entries
        return shown, raw.decode().splitlines()[4:]

    return run


@pytest.mark.parametrize(
    ("answer", "message"),
    [
        ("leads good", "'leads good' names a pin: a lead check has no pins: ',,leads good'"),
        ("leads good 0.3", "'leads good' names a pin"),
        ("0.512 V", "in diode mode: the red lead sits on ground"),
        ("OL V", "in diode mode: the red lead sits on ground"),
        ("hum", "unknown reading 'hum': expected beep"),
        ("1" * 2000, "unknown reading"),
        ("rework nowhere", "'nowhere' is no joint"),
        ("rework @GND", "'@GND' is no joint"),
    ],
)
def test_what_the_job_reader_would_refuse_is_refused_at_the_prompt(give, answer, message):
    shown, rows = give(answer)
    assert message in shown
    assert rows == []


@pytest.mark.parametrize("name", ["A4B9", "a4b9", "A4", "b9"])
def test_a_reworked_joint_is_written_by_its_own_name(give, name):
    _, rows = give(f"rework {name}")
    assert rows == ["A4B9,,reworked,"]


def test_a_joint_named_twice_is_reworked_once(give):
    assert give("rework A4, b9 A5")[1] == ["A4B9,,reworked,", "A5,,reworked,"]


def test_leads_of_next_to_nothing_are_written_as_ohms_that_read_back(tmp_path):
    path = tmp_path / "job.csv"
    with JobWriter.open(path, {}) as writer:
        probe = Probe(Session(BOARD, []), writer, "component")
        on_lines(probe, ["beep", "0.0000001", "0.2"])
    assert [(e.kind, e.ohms) for e in parse(decode(path.read_bytes(), ""), BOARD)] == [
        ("remark", None),
        ("leads good", 0.0),
        ("ohms", 0.2),
    ]


def test_volts_at_a_ground_and_a_signal_are_a_reading(tmp_path):
    path = tmp_path / "job.csv"
    with JobWriter.open(path, {}) as writer:
        probe = Probe(Session(TINY, []), writer, "component")
        shown = on_lines(probe, ["beep", "beep", "beep", "beep", "beep", "0.512 V", "undo"])
    assert "diode mode" not in shown
    assert path.read_text().splitlines()[-2:] == ["'@GND,2,0.512 V,", "'@GND,2,taken back volts,undo"]
    assert parse(decode(path.read_bytes(), ""), TINY) == probe.session.entries


def test_the_real_command_leaves_a_job_that_check_reads(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    typed = ["beep", "beep", "leads good", "0.512 V", "OL V", "rework a4b9", "rework A4", "0.0000001", "what?", "beep"]
    probed = CliRunner().invoke(main, ["probe", "job.csv", "--map", "usb-c-16"], input="\n".join(typed) + "\n")
    assert probed.exit_code == 4, probed.output
    assert CliRunner().invoke(main, ["check", "job.csv"]).exit_code == 4


# --- any text at any step

WORDLIKE = st.sampled_from([*(word.word for word in WORDS), *LINE_WORDS, "b", "n", "0.4", "OL", "0.5 V", "OL V", "4k7"])
NAMES = st.sampled_from(["1", "4", "2 3", "SH", "sh1", "@GND", "gnd", "D+", "all", "ground: 1 4", "+5V", "#", "'1"])
LINES = st.one_of(
    st.sampled_from(["beep", "quiet", "beep", "quiet", "unsure", "skip", "undo", "0.3"]),
    WORDLIKE,
    st.builds("{} {}".format, WORDLIKE, NAMES),
    st.builds("{} {}".format, WORDLIKE, st.text(max_size=30)),
    st.text(max_size=30),
)
HEADS = ["", "pin_a;pin_b;reading;note\n", "note,reading,pin_b,pin_a\n", "pin_a,pin_b,reading\n", '1,4,beep,"a\nb"\r\n']


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(HEADS), st.integers(0, 12), st.lists(LINES, max_size=12))
def test_any_text_at_any_step_leaves_a_job_whose_entries_are_the_sessions(tmp_path_factory, head, steps, lines):
    """steps: beeps before, so that the lines meet every kind of step."""
    path = tmp_path_factory.mktemp("any") / "job.csv"
    path.write_bytes(head.encode())
    before = parse(decode(head.encode(), ""), TINY) if "beep" in head else []
    with JobWriter.open(path, {"map": "tiny"}) as writer:
        probe = Probe(Session(TINY, before), writer, "component")
        run_lines(probe, chain(repeat("beep", steps), lines), lambda text: None)
    read = parse(decode(path.read_bytes(), "job.csv"), TINY) if probe.session.entries else []
    assert read == probe.session.entries


# --- bugs


@pytest.mark.parametrize("error", [ValueError("planted"), KeyError("planted"), AssertionError("planted")])
def test_a_bug_in_the_planner_keeps_its_traceback(tmp_path: Path, monkeypatch, error):
    def broken(*_: object, **__: object) -> None:
        raise error

    with JobWriter.open(tmp_path / "job.csv", {}) as writer:
        probe = Probe(Session(TINY, []), writer, "component")
        probe.do("beep")
        probe.do("beep")
        monkeypatch.setattr("connector_check.probing.steps.next_touch", broken)
        with pytest.raises(type(error), match="planted"):
            probe.do("beep")
    monkeypatch.setattr("connector_check.probing.progress.plan", broken)
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(main, ["probe", "new.csv", "--map", "usb-c-16"], input="beep\n")
    assert done.exception is error
