"""The live session at a terminal, or on lines of text when stdin is none: reads answers, writes rows, shows steps."""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from connector_check.analysis.residual import DEFAULTS, Assumptions
from connector_check.errors import InputError
from connector_check.probing.keys import BOUNCE_SECONDS, Bounce, split_keys
from connector_check.probing.screen import CHIRP_LINE, plain_line, screen_lines, spoken
from connector_check.probing.session import DONE, Row, Session
from connector_check.testlog.readings import BEEP, CHIRP, QUIET, UNSURE


class Writer(Protocol):
    """What the session needs of a job writer: a whole line on disk before it returns."""

    def append(self, pin_a: str, pin_b: str, reading: str, note: str = "") -> None: ...


class Talker(Protocol):
    """What the session needs of a speaker."""

    def say(self, text: str) -> object: ...

    def close(self) -> None: ...


class Probe:
    """A session with its writer: each answer is on disk before the session knows it."""

    def __init__(
        self, session: Session, writer: Writer, side: str, speaker: Talker | None = None,
        assumptions: Assumptions = DEFAULTS,
    ) -> None:  # fmt: skip
        self.session, self.writer, self.side, self.speaker = session, writer, side, speaker
        self.assumptions = assumptions
        self.noted = ""
        self.chirp_explained = False
        self._said = ""

    def record(self, rows: Sequence[Row]) -> None:
        """Write rows and take them in, one by one."""
        for row in rows:
            self.writer.append(*row)
            self.session.accept([row])
        if rows:
            last = rows[-1]
            pins = " - ".join(filter(None, (last.pin_a, last.pin_b)))
            self.noted = " ".join(filter(None, (pins, last.reading, last.note and f"({last.note})")))

    def do(self, action: str, text: str = "") -> str:
        """Carry out one action; returns a message for the user, or "". `quit` is the caller's."""
        session = self.session
        try:
            if action in (BEEP, QUIET, CHIRP, UNSURE):
                self.record(session.answer(action, text))
                if action == CHIRP and not self.chirp_explained:
                    self.chirp_explained = True
                    return CHIRP_LINE
            elif action == "ohms":
                self.record(session.answer(text))
            elif action == "skip":
                session.skip()
            elif action == "undo":
                self.record(session.undo())
            elif action == "remark":
                self.record(session.remark(text))
            elif action == "rework":
                self.record(session.rework(text.replace(",", " ").split()))
            elif action == "jump":
                session.jump(text.strip())
            elif action == "sweep":
                held, _, pins = text.partition(":")
                self.record(session.sweep(held.strip(), pins.replace(",", " ").split()))
        except ValueError as error:
            return str(error)
        except InputError as error:
            return "NOT recorded: " + "; ".join(error.lines())
        return "; ".join(self._told())

    def _told(self) -> list[str]:
        told, self.session.said = self.session.said, []
        return told

    def speak(self) -> None:
        """Say the step aloud, once."""
        if self.speaker is None:
            return
        text = spoken(self.session, self.session.step())
        if text != self._said:
            self.speaker.say(text)
        self._said = text


def run_lines(probe: Probe, lines: Iterator[str], out: Callable[[str], None]) -> None:
    """The session on lines of text: one line a step, answers as words (see `--help`)."""
    message = ""
    while True:
        if message:
            out(message)
        step = probe.session.step()
        out(plain_line(probe.session, step, probe.side))
        probe.speak()
        if step.kind == DONE:
            return
        line = next(lines, None)
        if line is None:
            return
        action, text = line_action(line.strip())
        if action == "quit":
            return
        message = "" if action == "pause" else probe.do(action, text)
        if action == "help":
            message = LINE_HELP


LINE_HELP = (
    "answers: beep quiet chirp unsure, ohms such as 0.4 or 4.7k or OL, skip, undo, remark TEXT, rework JOINTS or all, "
    "jump PIN, quit; a whole sweep: 'ground: 7 12' (these beeped, the other asked pins were quiet)"
)
_SHORT = {"b": "beep", "n": "quiet", "c": "chirp", "u": "unsure", "s": "skip", "z": "undo", "q": "quit", "p": "pause",
          "h": "help", "reworked": "rework", "m": "remark", "r": "rework", "j": "jump", "exit": "quit", "?": "help"}  # fmt: skip


def line_action(line: str) -> tuple[str, str]:
    """The action and its text that a typed line means.

    >>> line_action("beep"), line_action("0.4 ohm"), line_action("ground: 7 12"), line_action("r 4 5")
    (('beep', ''), ('ohms', '0.4 ohm'), ('sweep', 'ground: 7 12'), ('rework', '4 5'))
    """
    word, _, rest = line.partition(" ")
    word = _SHORT.get(word.lower(), word.lower())
    if word in ("beep", "quiet", "chirp", "unsure", "skip", "undo", "quit", "pause", "help"):
        return word, rest.strip()
    if word in ("remark", "rework", "jump"):
        return word, rest.strip()
    if ":" in line:
        return "sweep", line
    return "ohms", line


class Keyboard:
    """Keys from the terminal, split, debounced and mapped."""

    def __init__(
        self, read: Callable[[], str], keys: dict[str, str], seconds: float = BOUNCE_SECONDS,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:  # fmt: skip
        self.read, self.keys, self.clock = read, keys, clock
        self.bounce = Bounce(seconds)
        self.waiting: list[str] = []

    def key(self) -> str:
        """The next raw key."""
        while not self.waiting:
            self.waiting.extend(split_keys(self.read()))
        return self.waiting.pop(0)

    def action(self) -> str:
        """The next action, or "" for a key without meaning."""
        key = self.key().lower()
        return self.keys.get(key, "") if self.bounce.passes(key, self.clock()) else "bounce"


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
        if action == "quit":
            return
        if action in ("", "help"):
            message = "keys: " + " ".join(f"{k} {a}" for k, a in keyboard.keys.items())
        elif action == "pause":
            ask("paused; everything is on disk. Enter goes on ")
            message = ""
        elif action in _ASKS:
            text = ask(_ASKS[action])
            message = probe.do(action, text) if text.strip() else ""
        else:
            message = probe.do(action)


_ASKS = {"ohms": "ohms: ", "remark": "remark: ", "rework": "reworked joints (or all): ", "jump": "pin: ",
         "sweep": "sweep, the pins that beeped with one lead on a point (ground: 7 12): "}  # fmt: skip


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
        session = self.probe.session
        lines = screen_lines(session, session.step(), self.probe.noted, message, self.keys, self.probe.side,
                             size.columns, size.lines)  # fmt: skip
        self._write("\x1b[H" + "\r\n".join(line + "\x1b[K" for line in lines) + "\x1b[J")

    def bottom(self, prompt: str) -> str:
        """The prompt for a typed line, at the bottom of the screen."""
        return f"\x1b[{shutil.get_terminal_size().lines};1H\x1b[K{prompt}"
