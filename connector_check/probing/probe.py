"""The live session at a terminal, or on lines of text when stdin is none: reads answers, writes rows, shows steps."""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from connector_check.analysis.residual import DEFAULTS, Assumptions
from connector_check.board.board import Board
from connector_check.errors import InputError
from connector_check.probing.answers import AnswerError
from connector_check.probing.keys import ACTIONS, BOUNCE_SECONDS, KEYS_BY_WORD, Bounce, split_keys
from connector_check.probing.screen import plain_line, screen_lines, spoken
from connector_check.probing.session import Session
from connector_check.probing.steps import DONE, JUNCTION
from connector_check.testlog.readings import PRESSED, WORD, Entry
from connector_check.testlog.rows import Row


class Writer(Protocol):
    """What the session needs of a job writer."""

    def record(self, row: Row, board: Board) -> Entry:
        """Have a whole line on disk before it returns the entry of it. Raises InputError, with nothing written."""


class Talker(Protocol):
    """What the session needs of a speaker."""

    def say(self, text: str) -> object:
        """Start to speak and return at once."""

    def stop(self) -> None:
        """End what is being said, at once."""

    def close(self) -> None:
        """End what is being said, for good."""


class Probe:
    """A session with its writer: each answer is on disk before the session knows it."""

    def __init__(
        self,
        session: Session,
        writer: Writer,
        side: str,
        speaker: Talker | None = None,
        assumptions: Assumptions = DEFAULTS,
    ) -> None:
        self.session, self.writer, self.side, self.speaker = session, writer, side, speaker
        self.assumptions = assumptions
        self.noted = ""
        self._explained: set[str] = set()
        self._spoken = ""
        self._heard = ""

    def record(self, rows: Sequence[Row]) -> None:
        """Write rows and take them in, one by one. Raises AnswerError, with nothing written, when the job reader would
        not read one of them.
        """
        self.session.entries_of(rows)
        entries = []
        for row in rows:
            entries.append(self.writer.record(row, self.session.board))
            self.session.accept(entries[-1:])
        self._heard = self._answer_words(entries)
        if rows:
            last = rows[-1]
            pins = " - ".join(filter(None, (last.pin_a, last.pin_b)))
            self.noted = " ".join(filter(None, (pins, last.reading, last.note and f"({last.note})")))

    def do(self, action: str, text: str = "") -> str:
        """Carry out one action; returns a message for the user, or "". `quit` is the caller's."""
        in_diode_mode = self.session.step().kind == JUNCTION
        try:
            self._carry_out(action, text)
        except AnswerError as error:
            self._heard = "not taken"
            return str(error)
        except InputError as error:
            self._heard = "not taken"
            return "NOT recorded: " + "; ".join(error.lines())
        word = WORD.get(action)
        explained = []
        if word is not None and word.first and not in_diode_mode and action not in self._explained:
            self._explained.add(action)
            explained = [word.first]
        return "; ".join([*explained, *self._told()])

    def _carry_out(self, action: str, text: str) -> None:
        session = self.session
        match action:
            case "skip":
                session.skip()
            case "jump":
                session.jump(text.strip())
            case "diode":
                session.diode()
            case _:
                self.record(self._rows(action, text))

    def _rows(self, action: str, text: str) -> list[Row]:
        session = self.session
        match action:
            case "ohms":
                return session.answer(text)
            case "volts":
                return session.volts(text)
            case "over":
                return session.answer("OL V")
            case "undo":
                return session.undo()
            case "remark":
                return session.remark(text)
            case "rework":
                return session.rework(text.replace(",", " ").split())
            case "sweep":
                held, _, pins = text.partition(":")
                return session.sweep(held.strip(), pins.replace(",", " ").split())
        return session.answer(action, text) if action in KEYS_BY_WORD else []

    def _told(self) -> list[str]:
        """What is to be said with the step that comes now."""
        self.session.step()
        told, self.session.said = self.session.said, []
        return told

    def screen(self, message: str, keys: dict[str, str], columns: int, lines: int) -> list[str]:
        """The whole screen of the step with a message, in at most so many columns and lines. keys: actions by key."""
        step = self.session.step()
        return screen_lines(self.session, step, self.noted, message, keys, self.side, columns, lines)

    def line(self) -> str:
        """The step in one line."""
        return plain_line(self.session, self.session.step(), self.side)

    def _answer_words(self, entries: Sequence[Entry]) -> str:
        if self.speaker is None:
            return ""
        from connector_check.probing.aloud import answer_words

        return answer_words(self.session.board, self.session.meter, entries)

    def speak(self) -> None:
        """Say what became of the answer, and the step; a step that was said before only after an answer."""
        if self.speaker is None:
            return
        step = spoken(self.session, self.session.step())
        if self._heard or step != self._spoken:
            self.speaker.say(". ".join(filter(None, (self._heard, step))))
        self._spoken, self._heard = step, ""

    def hush(self) -> None:
        """End what is being said: the user has answered, or is about to."""
        if self.speaker is not None:
            self.speaker.stop()


def run_lines(probe: Probe, lines: Iterator[str], out: Callable[[str], None]) -> None:
    """The session on lines of text: one line a step, answers as words (see `--help`)."""
    message = ""
    while True:
        if message:
            out(message)
        out(probe.line())
        probe.speak()
        if probe.session.step().kind == DONE:
            return
        line = next(lines, None)
        probe.hush()
        if line is None:
            return
        action, text = line_action(line.strip())
        if action == "quit":
            return
        message = "" if action == "pause" else probe.do(action, text)
        if action == "help":
            message = LINE_HELP


LINE_HELP = (
    f"answers: {' '.join(word.word for word in PRESSED)}, ohms such as 0.4 or 4.7k or OL, skip, undo, remark TEXT, "
    "rework JOINTS or all, jump PIN, quit; "
    "a whole sweep: 'ground: 7 12' (these beeped, the other asked pins were quiet); "
    "diode begins or leaves diode mode: there volts (512, 0.512, .512 V, 512 mV, OL), one or several in a row, and "
    "'counts up' while a capacitor charges"
)
LINE_WORDS = (*KEYS_BY_WORD, "skip", "undo", "remark", "rework", "jump", "diode", "over", "pause", "quit", "help")
"""Actions that are called by their word on a line; everything else typed is a sweep or a reading."""

_SHORT = {ACTIONS[word]: word for word in LINE_WORDS} | {"reworked": "rework", "exit": "quit", "?": "help"}
_TWO = {"counts up": "chirp"}


def line_action(line: str) -> tuple[str, str]:
    """The action and its text that a typed line means.

    >>> line_action("beep"), line_action("0.4 ohm"), line_action("ground: 7 12"), line_action("r 4 5")
    (('beep', ''), ('ohms', '0.4 ohm'), ('sweep', 'ground: 7 12'), ('rework', '4 5'))
    """
    two = " ".join(line.lower().split()[:2])
    if two in LINE_WORDS or two in _TWO:
        return _TWO.get(two, two), " ".join(line.split()[2:])
    word, _, rest = line.partition(" ")
    word = _SHORT.get(word.lower(), word.lower())
    if word in LINE_WORDS:
        return word, rest.strip()
    return ("sweep" if ":" in line else "ohms"), line


NUMBER = "number"


class Keyboard:
    """Keys from the terminal, split, debounced and mapped."""

    def __init__(
        self,
        read: Callable[[], str],
        keys: dict[str, str],
        seconds: float = BOUNCE_SECONDS,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.read, self.keys, self.clock = read, keys, clock
        self.bounce = Bounce(seconds)
        self.waiting: list[str] = []
        self.typed = ""
        self.line_ended = False

    def key(self) -> str:
        """The next raw key."""
        while not self.waiting:
            burst = self.read()
            self.line_ended = burst.endswith(("\r", "\n"))
            self.waiting.extend(split_keys(burst))
        return self.waiting.pop(0)

    def action(self) -> str:
        """The next action, or "" for a key without meaning, or NUMBER where a key without meaning begins one: then
        `typed` is that key with what came in the same read, a whole line where `line_ended`.
        """
        key = self.key().lower()
        if not self.bounce.passes(key, self.clock()):
            return "bounce"
        if key not in self.keys and key in "0123456789.,-":
            self.typed = key + "".join(self.waiting)
            self.waiting.clear()
            return NUMBER
        return self.keys.get(key, "")


def run_keys(
    probe: Probe, keyboard: Keyboard, show: Callable[[str], None], ask: Callable[[str], str], message: str = ""
) -> None:
    """The session on single keys until quit. show: put up the step with a message; ask: a line of text typed;
    message: the first one, say what was found when the job was opened.
    """
    while True:
        show(message)
        probe.speak()
        action = keyboard.action()
        while action == "bounce":
            action = keyboard.action()
        probe.hush()
        if action == "quit":
            return
        typed, at_junction = "", probe.session.step().kind == JUNCTION
        if action == NUMBER:
            action, typed = ("volts", keyboard.typed) if at_junction else ("", "")
        if action in ("", "help"):
            message = "keys: " + " ".join(f"{k} {a}" for k, a in keyboard.keys.items())
        elif action == "pause":
            ask("paused; everything is on disk. Enter goes on ")
            message = ""
        elif action == "ohms" and at_junction:
            message = "in diode mode the meter shows volts; leave diode mode for ohms"
        elif action in _ASKS:
            text = typed if typed and keyboard.line_ended else typed + ask(_ASKS[action] + typed)
            message = probe.do(action, text) if text.strip() else ""
        else:
            message = probe.do(action)


_ASKS = {
    "ohms": "ohms: ",
    "volts": "volts (512, 0.512, OL; several fill the row): ",
    "remark": "remark: ",
    "rework": "reworked joints (or all): ",
    "jump": "pin: ",
    "sweep": "sweep, the pins that beeped with one lead on a point (ground: 7 12): ",
}


class Screen:
    """A full-screen terminal: each step is drawn in one write, over the old one."""

    def __init__(self, probe: Probe, keys: dict[str, str]) -> None:
        self.probe, self.keys = probe, keys

    def __enter__(self) -> Screen:
        self._write("\x1b[?1049h\x1b[2J")
        return self

    def __exit__(self, *_: object) -> None:
        self._write("\x1b[?1049l")

    def _write(self, text: str) -> None:
        encoding = sys.stdout.encoding or "utf-8"
        sys.stdout.flush()
        os.write(sys.stdout.fileno(), text.encode(encoding, "replace"))

    def show(self, message: str) -> None:
        """Draw the step."""
        size = shutil.get_terminal_size()
        lines = self.probe.screen(message, self.keys, size.columns, size.lines)
        self._write("\x1b[H" + "\r\n".join(line + "\x1b[K" for line in lines) + "\x1b[J")

    def bottom(self, prompt: str) -> str:
        """The prompt for a typed line, at the bottom of the screen."""
        return f"\x1b[{shutil.get_terminal_size().lines};1H\x1b[K{prompt}"
