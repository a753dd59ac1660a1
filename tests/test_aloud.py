"""What a session says aloud: the answer taken, what surprises, a failed lead check, and that keys cut it short."""

from __future__ import annotations

from connector_check.board.board import Board
from connector_check.pinout.library import find_pin_map
from connector_check.probing.aloud import answer_words, surprise
from connector_check.probing.keys import key_map
from connector_check.probing.probe import Keyboard, Probe, run_keys, run_lines
from connector_check.probing.session import Session
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.readings import BEEP, OHMS, QUIET, Entry
from tests.screens import _NoFile
from tests.strategies import entry, tiny_board

BOARD = tiny_board()


class Recorder:
    """A speaker that keeps what it was told, and when it was to be silent."""

    def __init__(self) -> None:
        self.told: list[str] = []

    def say(self, text: str) -> None:
        self.told.append(text)

    def stop(self) -> None:
        self.told.append("(stop)")

    def close(self) -> None:
        self.told.append("(close)")

    @property
    def said(self) -> list[str]:
        return [text for text in self.told if not text.startswith("(")]


def probe_of(board: Board = BOARD) -> tuple[Probe, Recorder]:
    recorder = Recorder()
    return Probe(Session(board, []), _NoFile(), "component", recorder), recorder


def on_lines(answers: list[str], board: Board = BOARD) -> list[str]:
    probe, recorder = probe_of(board)
    run_lines(probe, iter(answers), lambda text: None)
    return recorder.said


def test_the_answer_and_the_next_pin_are_said():
    assert on_lines(["beep", "beep", "beep", "beep"]) == [
        "read the cautions",
        "lead check",
        "leads good. hold board ground; touch pin 1",
        "beep. pin 4",
        "beep. pin 7",
    ]


def test_a_contact_of_letters_and_numbers_is_said_so_that_a_voice_can_say_it():
    usb = find_pin_map("usb-c-16")
    said = on_lines(["beep"] * 3, Board(usb, usb.layouts[0]))
    assert said[2] == "leads good. hold board V bus; touch pin A, 4, B, 9"


def test_a_surprising_tone_and_silence_are_said():
    said = on_lines(["beep", "beep", "beep", "beep", "beep", "beep"])
    assert said[-1].startswith("unexpected tone, pin 2; and board ground. ")
    assert on_lines(["beep", "beep", "quiet"])[-1].startswith("unexpected silence, pin 1; and board ground. ")


def test_a_failed_lead_check_is_said():
    assert on_lines(["beep", "quiet"])[-1] == "lead check failed. lead check"
    assert on_lines(["beep", "leads silent"])[-1] == "lead check failed, no tone together. lead check"
    assert on_lines(["beep", "leads sound"])[-1] == "lead check failed, a tone apart. lead check"


def test_what_is_not_taken_is_said_and_nothing_twice():
    said = on_lines(["beep", "beep", "hum", "help", "0.4", "remark bent pin", "rework 4 5"])
    step = "hold board ground; touch pin 1"
    assert said[2:4] == [f"leads good. {step}", f"not taken. {step}"]
    assert said[4:6] == ["0.4 ohm. pin 4", "remark taken. pin 4"] and said[6].startswith("reworked 5. ")


def test_a_sweep_says_how_many_it_took_and_what_surprises():
    assert on_lines(["beep", "beep", "ground: 1 4 7"])[-1].startswith("7 taken. ")
    said = on_lines(["beep", "beep", "beep", "beep", "beep", "ground: 2 3"])[-1]
    assert said.startswith("unexpected tone, pin 2; and board ground; unexpected tone, pin 3; and board ground. ")


def test_a_key_stops_the_voice_before_the_next_word():
    probe, recorder = probe_of()
    keyboard = Keyboard(iter(["b", "b", "q"]).__next__, key_map(), 0.0)
    run_keys(probe, keyboard, lambda message: None, lambda prompt: "")
    assert recorder.told[:4] == ["read the cautions", "(stop)", "lead check", "(stop)"]
    assert recorder.told[-1] == "(stop)"


def test_tones_that_parts_may_make_are_no_surprise():
    vga = find_pin_map("vga-de15")
    board = Board(vga, vga.layouts[0])
    tone = entry(board, 1, "1", "@GND", BEEP)
    assert surprise(board, UNKNOWN_METER, tone) == ""
    assert surprise(board, Meter(10, 50), tone) == "unexpected tone"
    assert surprise(board, UNKNOWN_METER, entry(board, 1, "1", "2", QUIET)) == ""
    assert surprise(board, UNKNOWN_METER, entry(board, 1, "1", "@GND", OHMS, 0.3)) == "unexpected 0.3 ohm"
    assert surprise(board, UNKNOWN_METER, entry(board, 1, "1", "@GND", OHMS, 75)) == ""


def test_many_surprises_are_counted():
    entries = [entry(BOARD, 1, name, "@GND", BEEP) for name in ("2", "3", "5", "@+5V", "@D+")]
    assert answer_words(BOARD, UNKNOWN_METER, entries).endswith("; and 2 more")
    assert answer_words(BOARD, UNKNOWN_METER, []) == ""
    over = Entry(1, OHMS, entries[0].points, float("inf"))
    assert answer_words(BOARD, UNKNOWN_METER, [over]) == "over range"


def test_volts_that_surprise_are_said_and_a_capacitor_asks_to_wait():
    usb = find_pin_map("usb-c-16")
    said = on_lines(["diode", "beep", "beep", "0.5", "2", "counts up", "0.52"], Board(usb, usb.layouts[0]))
    assert said[3:] == [
        "unexpected 0.5 volts, board ground; and pin A, 1, B, 12. pin A, 4, B, 9",
        "unexpected 0.002 volts, board ground; and pin A, 4, B, 9. pin B, 8",
        "wait, it counts up. pin B, 8",
        "0.52 volts. pin A, 5",
    ]
