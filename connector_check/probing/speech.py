"""Saying aloud what to touch, with a speech program that happens to be installed.

The program runs beside the session: starting it waits for nothing, new text cuts the old off, and a missing or failing
program only means silence. `spell` turns the names of pins and nets into what a voice reads well.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress

from connector_check.board.board import Board
from connector_check.files.text import printable

PROGRAMS = ("espeak-ng", "espeak", "say")
"""Tried in this order; each speaks its last argument (espeak-ng --help; say(1) of macOS). On Windows the voice of
System.Speech, through PowerShell."""

SPOKEN_CHARACTERS = 400

_TEXT_VARIABLE = "CONNECTOR_CHECK_SPOKEN"
_WINDOWS = (
    "Add-Type -AssemblyName System.Speech; "
    f"(New-Object System.Speech.Synthesis.SpeechSynthesizer).Speak($env:{_TEXT_VARIABLE})"
)

_SIGNS = {"+": "plus", "-": "minus", "/": "slash", "#": "hash", ".": "point", "*": "star", "~": "tilde", "&": "and"}
_SIGNS |= {"@": "board"} | dict.fromkeys("_:()'", "")
_READ_AS_WORDS = (
    "ALERT AUDIO BATTERY BLANKING BLUE BUSY CARD CHASSIS CLOCK COLD COMMON DATA DENSITY DETECT DISABLE DRAIN FAULT "
    "GREEN GROUND HOT IN INDEX KEY LEFT OUT POWER PROTECT READY RED RESET RIGHT SELECT SHELL SHIELD SIGNAL SINK "
    "SOURCE STEP STROBE SWITCH SWITCHING TEST UTILITY VIDEO WAKE WRITE"
)
_WORDS = {word: word.lower() for word in _READ_AS_WORDS.split()}
_WORDS |= {"GND": "ground", "SH": "shell", "VBUS": "V bus", "CLK": "clock", "AUX": "aux", "aux": "aux"}
_PIECES = re.compile(r"\d+|[A-Z]+|[a-z]+|.")


def spell(name: str) -> str:
    """A joint, contact, net or board point as it is read aloud: letters apart, numbers as numbers, known words whole.

    Commas keep a voice from reading `A 5` as `a five`, with the article.

    >>> spell("A5"), spell("A1B12"), spell("@GND"), spell("D+"), spell("+3.3V"), spell("nRESET"), spell("CC2")
    ('A, 5', 'A, 1, B, 12', 'board ground', 'D plus', 'plus 3 point 3, V', 'n reset', 'C, C, 2')
    """
    said, apart = "", False
    for piece in _PIECES.findall(name):
        word = _WORDS.get(piece, _SIGNS.get(piece))
        for part in (word,) if word is not None else (piece,) if piece.isdigit() else piece:
            if part:
                comma = said and ((apart and word is None) or said.endswith(("A", "a")))
                said += (", " if comma else " " if said else "") + part
                apart = word is None
    return said


def point_words(board: Board, point: int) -> str:
    """A point of a board as it is read aloud: `pin A, 1, B, 12`, `shell 2`, `board ground`."""
    name = board.points[point]
    contact = point < len(board.joints) and point not in board.shell_joints
    return f"pin {spell(name)}" if contact else spell(name)


class Speaker:
    """Speaks one text at a time through a program; `find` looks for one. Nothing here raises or waits."""

    def __init__(self, command: Sequence[str], by_variable: bool = False) -> None:
        self._command = list(command)
        self._by_variable = by_variable
        self._speaking: subprocess.Popen[bytes] | None = None
        self._ending: list[subprocess.Popen[bytes]] = []

    @classmethod
    def find(cls) -> Speaker | None:
        """A speaker with the first program that is installed, or None."""
        for program in PROGRAMS:
            if found := shutil.which(program):
                return cls([found])
        if sys.platform == "win32" and (found := shutil.which("powershell")):
            return cls([found, "-NoProfile", "-NonInteractive", "-Command", _WINDOWS], by_variable=True)
        return None

    @property
    def program(self) -> str:
        """The program's path, to show the user."""
        return self._command[0]

    def say(self, text: str) -> bool:
        """Start to speak and return at once; what was being said ends. Returns whether the program started."""
        self.stop()
        words = " ".join(printable(text, instead=" ").split())[:SPOKEN_CHARACTERS]
        if not words:
            return False
        # a text that begins with a minus sign is not an option
        arguments = [] if self._by_variable else [" " + words if words.startswith("-") else words]
        environment = {**os.environ, _TEXT_VARIABLE: words} if self._by_variable else None
        with suppress(OSError, ValueError):
            # in a session of its own, so that what it starts ends with it
            self._speaking = subprocess.Popen(
                [*self._command, *arguments],
                env=environment,
                start_new_session=True,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
            return True
        return False

    def stop(self) -> None:
        """End what is being said, at once and without waiting for the program to be gone."""
        if self._speaking is not None:
            _kill(self._speaking)
            self._ending.append(self._speaking)
            self._speaking = None
        self._ending = [old for old in self._ending if old.poll() is None]

    def close(self) -> None:
        """End what is being said, for good."""
        self.stop()
        for old in self._ending:
            with suppress(OSError, subprocess.TimeoutExpired):
                old.wait(1.0)
        self._ending = []


def _kill(process: subprocess.Popen[bytes]) -> None:
    """End a program and what it started; a polite end could speak on until its sentence is over."""
    if process.poll() is not None:
        return
    with suppress(OSError):
        if sys.platform == "win32":
            process.kill()
        else:
            os.killpg(process.pid, signal.SIGKILL)
