"""Saying aloud what to touch, with a speech program that happens to be installed.

The program runs beside the session: starting it waits for nothing, new text cuts the old off, and a missing or failing
program only means silence. `spell` turns the names of pins and nets into what a voice reads well.
"""

from __future__ import annotations

import os
import re
import shutil
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
    """A joint, contact, net or board point as it is read aloud: letter by letter, known words as words.

    >>> spell("A1B12"), spell("@GND"), spell("D+"), spell("+3.3V"), spell("nRESET"), spell("SH1"), spell("CC2")
    ('A 1 B 12', 'board ground', 'D plus', 'plus 3 point 3 V', 'n reset', 'shell 1', 'C C 2')
    """
    said = (_spoken(piece) for piece in _PIECES.findall(name))
    return " ".join(word for word in said if word.strip())


def _spoken(piece: str) -> str:
    if piece in _WORDS or piece in _SIGNS:
        return _WORDS.get(piece) or _SIGNS[piece]
    return " ".join(piece) if piece.isalpha() else piece


def point_words(board: Board, point: int) -> str:
    """A point of a board as it is read aloud: `pin A 1 B 12`, `shell 2`, `board ground`."""
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
            self._speaking = subprocess.Popen(
                [*self._command, *arguments],
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
            return True
        return False

    def stop(self) -> None:
        """End what is being said, without waiting for the program to be gone."""
        for old in self._ending:
            with suppress(OSError):
                old.kill()
        if self._speaking is not None:
            with suppress(OSError):
                self._speaking.terminate()
            self._ending.append(self._speaking)
            self._speaking = None
        self._ending = [old for old in self._ending if old.poll() is None]

    def close(self) -> None:
        """End what is being said, for good: a program that does not go by itself is killed."""
        self.stop()
        for old in self._ending:
            with suppress(OSError, subprocess.TimeoutExpired):
                try:
                    old.wait(0.2)
                except subprocess.TimeoutExpired:
                    old.kill()
                    old.wait(1.0)
        self._ending = []
