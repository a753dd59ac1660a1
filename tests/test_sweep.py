"""The sweep in diode mode: its order, what can be typed, what is asked again, its form."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from connector_check.analysis.diode import DiodeReading, diode_readings
from connector_check.analysis.strip import strip
from connector_check.board.board import Board
from connector_check.cli.commands import main
from connector_check.drawing.strip import strip_lines
from connector_check.pinout.library import find_pin_map
from connector_check.probing.answers import AnswerError
from connector_check.probing.keys import ACTIONS, key_map
from connector_check.probing.probe import Keyboard, Probe, line_action, run_keys
from connector_check.probing.session import Session
from connector_check.probing.steps import ASK_AGAIN, JUNCTION, LEADS, TOUCH
from connector_check.probing.sweep import fellows_of, row_order, typed_values
from connector_check.testlog.job import GoodBoard
from connector_check.testlog.readings import REMARK, VOLTS
from connector_check.testlog.rows import Row, entry_of
from tests.strategies import TINY_YAML
from tests.test_diode import BUS
from tests.test_session import Memory, give, start, take
from tests.test_volts_meaning import SOUND

USB_C = Board(find_pin_map("usb-c-16"), find_pin_map("usb-c-16").layouts[0])


def sweeping(board: Board = USB_C) -> Session:
    session = start(board)
    session.diode()
    return session


def asked(session: Session) -> str:
    step = session.step()
    assert step.kind == JUNCTION and step.points is not None
    assert session.board.points[step.points[0]] == "@GND"
    return session.board.points[step.points[1]]


def swept(volts: dict[str, float | str], session: Session | None = None) -> Session:
    """A session whose sweep was answered to its last lead check."""
    session = session or sweeping()
    while session.step().kind == JUNCTION:
        give(session, str(volts[asked(session)]))
    return session


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("512", ["0.512 V"]),
        ("0.512", ["0.512 V"]),
        (".512 V", ["0.512 V"]),
        ("512 mV", ["0.512 V"]),
        ("512mv", ["0.512 V"]),
        ("0,512", ["0.512 V"]),
        ("0", ["0 V"]),
        ("3", ["0.003 V"]),
        ("1 mV", ["0.001 V"]),
        ("OL", ["OL V"]),
        ("o.l", ["OL V"]),
        ("0.5 V 512 mV OL 498; 0,51, 505", ["0.5 V", "0.512 V", "OL V", "0.498 V", "0.51 V", "0.505 V"]),
        ("-0.000", ["0 V"]),
    ],
)
def test_what_can_be_typed(text, readings):
    assert typed_values(text) == readings


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("4.98", "the board may be live: stop"),
        ("512.3", "the board may be live: stop"),
        ("12000", "the board may be live: stop"),
        ("-1.9", "the board may be live: stop"),
        ("-0.512", "the leads may be swapped"),
        ("512 -498", "the leads may be swapped"),
        ("1", "over the range"),
        ("hm", "'hm' is no volts"),
        ("", "type the volts"),
        ("0.512k", "is no volts"),
    ],
)
def test_what_is_refused_and_why(text, words):
    with pytest.raises(ValueError, match=words):
        typed_values(text)


def test_it_walks_the_contacts_in_the_order_of_the_row():
    names = [USB_C.points[joint] for joint in row_order(USB_C)]
    assert names == ["A1B12", "A4B9", "B8", "A5", "B7", "A6", "A7", "B6", "A8", "B5", "B4A9", "B1A12"]
    session = sweeping()
    assert session.said and "never the pad" in session.said[-1]
    assert asked(session) == "A1B12" and "near 0 V" in session.step().why and session.step().left == 12


def test_it_says_what_the_fellows_show():
    session = sweeping()
    give(session, "2 410 620 580 550")
    assert asked(session) == "A6" and "its fellows: 0.55 V at B7" in session.step().why
    assert [USB_C.points[j] for j in fellows_of(USB_C, USB_C.number["A5"])] == ["B5"]


def test_several_values_fill_the_row_and_stand_as_volts_against_ground():
    session = sweeping()
    rows = session.answer("0.002 410 mV 620")
    assert [(row.pin_a, row.pin_b, row.reading) for row in rows] == [
        ("A1B12", "@GND", "0.002 V"),
        ("A4B9", "@GND", "0.41 V"),
        ("B8", "@GND", "0.62 V"),
    ]
    take(session, rows)
    assert asked(session) == "A5"


@pytest.mark.parametrize("text", ["0.5 4.98", "0.5 hm", " ".join(["500"] * 13), "beep", "quiet"])
def test_of_a_row_that_cannot_be_taken_nothing_is_written(text):
    session = sweeping()
    with pytest.raises(AnswerError):
        session.answer(text)
    assert not any(entry.kind == VOLTS for entry in session.entries)


def test_counting_up_is_a_remark_and_the_contact_is_read_again():
    session = sweeping()
    give(session, "0.001")
    give(session, "chirp")
    assert session.entries[-1].kind == REMARK and "counts up" in session.entries[-1].note
    assert "wait until the value stays" in session.said[-1]
    assert asked(session) == "A4B9"
    assert line_action("counts up") == ("chirp", "") and line_action("diode") == ("diode", "")


def test_a_sound_board_ends_with_the_leads_and_no_contact_is_asked_for():
    session = swept(SOUND)
    assert session.step().kind == LEADS and "the sweep is done" in session.step().why
    give(session, "beep")
    assert session.step().kind == TOUCH and not session.diode_sweep.on
    assert not session.examined().account.contacts
    assert session.known.joined(USB_C.number["A1B12"], USB_C.board_point["GND"])


def test_an_odd_value_is_asked_once_more_before_it_counts():
    session = sweeping()
    give(session, "2 410 620 580 550 551 552 549 630 585 410 OL")
    step = session.step()
    assert asked(session) == "B1A12" and "touch again before it counts" in step.why
    rows = session.answer("3")
    assert [row.reading for row in rows] == ["taken back volts", "0.003 V"]
    take(session, rows)
    assert session.step().kind == LEADS
    assert not session.result().opens


def test_a_value_that_stays_odd_counts_and_is_not_asked_a_third_time():
    session = swept(SOUND | {"A5": "OL"})
    assert session.step().kind == LEADS
    assert [opened.joint for opened in session.result().opens] == ["A5"]
    assert [entry.kind for entry in session.entries].count(VOLTS) == 13


def test_what_was_skipped_comes_back_once():
    session = sweeping()
    session.skip()
    assert asked(session) == "A4B9"
    give(session, "410 620 580 550 551 552 549 630 585 410 3")
    assert asked(session) == "A1B12" and session.step().again
    session.skip()
    assert session.step().kind == LEADS


def test_a_contradiction_is_asked_again_and_volts_answer_it():
    session = start(USB_C)
    take(session, [Row("A5", "@GND", "quiet")])
    session.diode()
    for volts in ("3", "410", "620", "4"):
        give(session, volts)
    step = session.step()
    assert step.kind == "ask again" and "contradiction: it was quiet, yet beeps join it" in step.why
    give(session, "quiet")
    assert not session.standing.knowledge.conflicts()
    assert session.step().kind == JUNCTION


def test_leaving_diode_mode_and_coming_back_keeps_what_was_read():
    session = sweeping()
    give(session, "0.002")
    session.diode()
    assert session.step().kind == TOUCH
    session.diode()
    assert asked(session) == "A4B9"


def test_a_map_without_ground_has_no_sweep(tmp_path):
    pin_map = find_pin_map("rj45-1000")
    session = start(Board(pin_map, pin_map.layouts[0]))
    with pytest.raises(AnswerError, match="no ground contact"):
        session.diode()
    done = CliRunner().invoke(main, ["probe", str(tmp_path / "j.csv"), "--map", "rj45-1000", "--diode"], input="")
    assert done.exit_code == 1 and "no ground contact" in done.stderr
    done = CliRunner().invoke(main, ["plan", "--map", "rj45-1000", "--diode"])
    assert done.exit_code == 1 and "no ground contact" in done.stderr


def test_a_digit_begins_the_volts_at_the_keyboard():
    session = sweeping()
    probe = Probe(session, Memory(), "component")
    bursts = iter(["5", "l", "q"])
    prompts: list[str] = []

    def ask(prompt: str) -> str:
        prompts.append(prompt)
        return "12"

    keyboard = Keyboard(lambda: next(bursts), key_map(), 0.0)
    run_keys(probe, keyboard, lambda _message: None, ask)
    assert prompts[0].endswith(": 5")
    assert [(entry.kind, entry.ohms) for entry in session.standing.entries] == [(VOLTS, 0.512), (VOLTS, float("inf"))]


def test_a_pasted_line_of_volts_is_taken_whole():
    session = sweeping()
    probe = Probe(session, Memory(), "component")
    keyboard = Keyboard(iter(["498 505\r", "q"]).__next__, key_map(), 0.0)
    run_keys(probe, keyboard, lambda _message: None, lambda _prompt: pytest.fail("asked for the rest"))
    assert [entry.ohms for entry in session.standing.entries] == [0.498, 0.505]


def test_the_screen_shows_the_strip():
    session = sweeping()
    give(session, "2 410 620 580 550 551")
    lines = Probe(session, Memory(), "component").screen("", key_map(), 100, 40)
    shown = "\n".join(lines)
    assert "DIODE MODE, black on   [ A7 ]" in shown and "0.551 V" in shown and "like its fellows" in shown
    assert "type the volts" in shown


def test_the_strip_takes_what_known_good_boards_show():
    readings = [DiodeReading(BUS.joints_of[f"D{n}"][0], 0.5, n) for n in range(4)]
    lines = strip(BUS, readings, {"3": 0.498, "4": float("inf")})
    assert [(line.joint, line.reference) for line in lines[:3]] == [("3", 0.498), ("4", float("inf")), ("5", None)]
    assert lines[0].place == pytest.approx(0.5) and lines[0].word == "like its fellows"
    shown = strip_lines(lines)
    assert "good boards 0.498 V" in shown[0] and "good boards OL" in shown[1]


def test_the_strip_says_what_is_usual_where_nothing_is_compared():
    session = sweeping()
    give(session, "2")
    give(session, "1.9 V")
    alone = [line.word for line in strip(USB_C, diode_readings(USB_C, session.standing.entries))]
    assert alone == ["near 0, as ground is", "nothing to compare with; 0.3 to 0.8 V is usual"]


def test_the_form_on_paper_and_as_a_job_file(tmp_path):
    run = CliRunner()
    text = run.invoke(main, ["plan", "--map", "usb-c-16", "--diode"], catch_exceptions=False).stdout
    assert max(map(len, text.splitlines())) <= 80
    assert "12. B1A12  GND   ________ V" in text and "like B7 A7 B6" in text and "may be live" in text
    form = run.invoke(main, ["plan", "--map", "usb-c-16", "--diode", "--format", "csv"], catch_exceptions=False).stdout
    rows = list(csv.reader(io.StringIO(form)))
    assert all("volts with the V: 0.512 V" in row[3] for row in rows if len(row) == 4 and row[1] == "'@GND")
    filled = io.StringIO()
    writer = csv.writer(filled, lineterminator="\n")
    for row in rows:
        if len(row) == 4 and row != ["pin_a", "pin_b", "reading", "note"]:
            row[2] = f"{SOUND[row[0]]} V" if row[0] else "leads good"
        writer.writerow(row)
    job = Path(tmp_path / "filled.csv")
    job.write_text(filled.getvalue())
    found = json.loads(run.invoke(main, ["check", str(job), "--format", "json"]).stdout)
    assert found["record"]["standing"] == 12 and not found["opens"] and not found["shorts"]
    left = json.loads(run.invoke(main, ["plan", str(job), "--diode", "--format", "json"]).stdout)
    assert left == {"contacts": []}
    plain = run.invoke(main, ["plan", "--map", "usb-c-16", "--format", "csv"], catch_exceptions=False).stdout
    assert "'@GND,A1B12,,A1B12 must reach GND" in plain


def test_a_whole_sweep_on_lines(tmp_path):
    job = tmp_path / "job.csv"
    values = "2 410 620 580 550 551 552 549 630 585 410 3"
    typed = f"beep\nbeep\n{values}\nbeep\nquit\n"
    done = CliRunner().invoke(main, ["probe", str(job), "--map", "usb-c-16", "--diode"], input=typed)
    assert "diode mode, red lead on @GND, black on A1B12 (GND)" in done.stdout
    assert "the sweep is done" in done.stdout
    written = [row[2] for row in csv.reader(io.StringIO(job.read_text())) if len(row) == 4][1:]
    volts = [f"{int(value) / 1000:g} V" for value in values.split()]
    assert written == ["remark", "leads good", *volts, "leads good"]


def test_of_two_joints_of_a_supply_that_differ_none_has_nothing_to_compare_with():
    session = swept(dict(SOUND, A4B9=0.4, B4A9=0.9))
    shown = {line.joint: line.word for line in session.result().strip}
    assert (shown["A4B9"], shown["B4A9"]) == ("UNLIKE its fellows", "NO CONTACT")
    listed = {found.joint: found.why for found in session.result().diode}
    assert listed["A4B9"] == "unlike B4A9 of the same net, see there"


def test_ol_where_others_of_its_role_conduct_is_unlike_them():
    readings = [DiodeReading(BUS.joints_of[name][0], 0.5, n) for n, name in enumerate(("D0", "D1", "D2"))]
    readings.append(DiodeReading(BUS.joints_of["D3"][0], float("inf"), 9))
    assert strip(BUS, readings)[3].word == "NO CONTACT"
    board = Board(find_pin_map("de9-rs232-dte"), find_pin_map("de9-rs232-dte").layouts[0])
    volts = {"1": float("inf"), "2": 0.5, "3": 0.5, "4": 0.5, "6": 0.5}
    words = {
        line.joint: line.word
        for line in strip(board, [DiodeReading(board.number[pin], v, 1) for pin, v in volts.items()])
    }
    assert words["1"] == "UNLIKE its fellows" and words["2"] == "like its fellows"


def test_volts_outside_of_the_sweep_are_volts_and_no_ohms():
    session = start(USB_C)
    probe = Probe(session, Memory(), "component")
    while "@GND" not in session.board.names(session.step().points):
        session.skip()
    assert "one touch is asked" in probe.do("volts", "512 498") and "may be live" in probe.do("volts", "3.6")
    assert not session.standing.entries
    probe.do("volts", "0.5")
    assert [(entry.kind, entry.ohms) for entry in session.standing.entries] == [(VOLTS, 0.5)]


def test_a_ground_that_reads_ol_outside_of_the_sweep_is_asked_once_more():
    session = start(USB_C)
    probe = Probe(session, Memory(), "component")
    while "@GND" not in session.board.names(session.step().points):
        session.skip()
    session.jump("A1B12")
    pair = set(session.step().points)
    assert session.board.names(pair) == ["A1B12", "@GND"]
    probe.do("over")
    assert session.step().kind == ASK_AGAIN and set(session.step().points) == pair
    probe.do("over")
    assert set(session.step().points or ()) != pair


def test_no_ohms_are_typed_in_the_sweep_where_they_would_be_volts():
    session = sweeping()
    bursts, shown = iter(["o", "q"]), list[str]()
    run_keys(
        Probe(session, Memory(), "component"),
        Keyboard(lambda: next(bursts), key_map(), 0.0),
        shown.append,
        lambda _: "4",
    )
    assert "leave diode mode for ohms" in shown[-1] and not session.standing.entries


def test_the_session_shows_what_good_boards_show_and_its_own_keys():
    entries = [entry_of(USB_C, Row(pin, "@GND", f"{volts} V")) for pin, volts in SOUND.items()]
    session = start(USB_C, good_boards=[GoodBoard(USB_C, entries)])
    session.diode()
    give(session, "2 410 620 580 550 551")
    keys = {key: action for action, key in (ACTIONS | {"over": "i", "diode": "x"}).items()}
    for size in ((80, 24), (60, 24), (100, 40)):
        shown = "\n".join(Probe(session, Memory(), "component").screen("", keys, *size))
        assert "or i OL, c counts up, s skip, x leave" in shown
        assert f"good boards: {SOUND['A7']:.3f} V" in " ".join(shown.split()) and "why: its fellows: " in shown
    assert f"good boards {SOUND['A6']:.3f} V" in shown


@pytest.mark.parametrize("form", [["--diode"], []])
def test_a_form_carries_the_roles_that_were_told(form, tmp_path):
    told = "1=power 3.3 VCC, 2=ground, 3..4=data"
    run = CliRunner()
    done = run.invoke(main, ["plan", "--map", "header-1x4", "--role", told, *form, "--format", "csv"])
    job = tmp_path / "form.csv"
    job.write_text(done.stdout.split("pin_a")[0] + "pin_a,pin_b,reading\n2,GND,beep\n")
    assert "# role: 1=power 3.3 VCC, 2=ground, 3=data, 4=data" in done.stdout
    assert "1 power 3.3 V (VCC), 2 ground (GND)" in run.invoke(main, ["check", str(job)]).stdout


def test_an_open_that_the_sweep_found_is_probed_again_after_the_iron():
    steps = swept(dict(SOUND, B7="OL")).result().rework
    assert [step.joints for step in steps] == [("B7",)] and ("B7", "@D-") in steps[0].probe_again


def test_a_form_and_a_job_name_a_map_of_ones_own_as_a_file_beside_them(tmp_path):
    (tmp_path / "tiny-port.yaml").write_text(TINY_YAML)
    run, own = CliRunner(), ["--map", str(tmp_path / "tiny-port.yaml")]
    for form in (["--diode"], []):
        done = run.invoke(main, ["plan", *own, *form, "--format", "csv"])
        assert done.stdout.startswith("# map: tiny-port.yaml\n")
    job = str(tmp_path / "job.csv")
    assert run.invoke(main, ["probe", job, *own], input="beep\nbeep\nquit\n").exit_code == 4
    assert run.invoke(main, ["check", job]).exit_code == 4
