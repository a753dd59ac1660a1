"""One row of a job: its cells, where they stand, and the entry that it is on a board. Pure.

Every row goes this one way, whether a file is read, or the live session asks what a row would mean before it is
written.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from connector_check.board.board import Board
from connector_check.errors import InputError, Problem
from connector_check.files.text import bare, neutral, one_line, shown
from connector_check.pinout.pinmap import GROUND
from connector_check.testlog.readings import (
    EVENTS,
    GROUND_PAIR,
    JOINT_PAIR,
    JOINTS,
    NO_PINS,
    PAIR,
    PAIR_OR_NONE,
    READINGS,
    WORD,
    Entry,
    parse_reading,
    parted,
    refused_volts,
    unread,
)

COLUMNS = ("pin_a", "pin_b", "reading", "note")
EXPECTED = "expected " + ",".join(COLUMNS)
CELL_CHARACTERS = 1000
"""A longer cell is cut: a CSV reader refuses fields past 131,072 characters, and with them the whole job."""


class Row(NamedTuple):
    """The cells of one row. pin_a, pin_b: point names, or empty; reading: see `readings.parse_reading`."""

    pin_a: str
    pin_b: str
    reading: str
    note: str = ""


class Columns(NamedTuple):
    """Where the cells stand in a row. A note without a column of its own stands behind all named ones."""

    pin_a: int = 0
    pin_b: int = 1
    reading: int = 2
    note: int = 3


USUAL = Columns()

_WHOLE = re.compile(r"(?:.*\s)?[0-9]+\Z")
_FRACTION = re.compile(r"[0-9]+\s*(?:[kmr]?\s*(?:ohms?|\u03a9|\u2126)?|m?v(?:olts?)?)\Z", re.IGNORECASE)
_THREE = re.compile(r"[0-9]{3}(?![0-9])")
_POINT_AND_THREE = re.compile(r"([1-9][0-9]{0,2})\.([0-9]{3})\s*(?:ohms?|\u03a9|\u2126)?\Z", re.IGNORECASE)


def is_remark(cells: Sequence[str]) -> bool:
    """Whether a row of a file is a remark line or a header line, `# ...`."""
    return cells[0].lstrip(" '\"").startswith("#")


def is_heading(cells: Sequence[str]) -> bool:
    """Whether a row names the columns."""
    return any(cell.strip().lower() == "reading" for cell in cells)


def columns_of(heading: Sequence[str], file: str, line: int) -> Columns:
    """The columns that a heading names. Raises InputError where it lacks one."""
    names = [cell.strip().lower() for cell in heading]
    missing = [name for name in COLUMNS[:3] if name not in names]
    if missing:
        raise InputError.one(file, line, f"the heading has no column {' or '.join(missing)}", EXPECTED)
    return Columns(*(names.index(name) if name in names else len(names) for name in COLUMNS))


def harmless(row: Row) -> Row:
    """The row as it is written: each cell one printable line that no spreadsheet takes for a formula."""
    return Row(*(neutral(one_line(cell, CELL_CHARACTERS)) for cell in row))


def entry_of(board: Board, row: Row, line: int = 0, file: str = "") -> Entry:
    """The entry that a row will be once it is written. Raises InputError with all that the job reader would say."""
    reader = RowReader(board, file, delimiter="")
    entry = reader.read(line, harmless(row))
    if entry is None:
        raise InputError(reader.problems)
    return entry


class RowReader:
    """Reads rows on a board.

    file: its name in messages; columns, width: where the cells stand and how many columns the heading names;
    delimiter: what parts them in the file, "" for a row that is in none yet; problems: all that was wrong so far.
    """

    def __init__(self, board: Board, file: str, columns: Columns = USUAL, delimiter: str = ",", width: int = 0) -> None:
        self.board, self.file, self.delimiter = board, file, delimiter
        self.columns, self.width = columns, width
        self.problems: list[Problem] = []
        self._points: dict[str, int | None] = {}
        self._words: dict[str, tuple[str, float | None, str, bool] | None] = {}

    def read(self, line: int, cells: Sequence[str]) -> Entry | None:
        """The entry of a row, or None when something is wrong with it: see `problems`."""
        at_a, at_b, at_word, at_note = self.columns
        try:
            a, b, word = cells[at_a], cells[at_b], cells[at_word]
        except IndexError:
            self._say(line, f"only {len(cells)} columns", EXPECTED)
            return None
        note = cells[at_note] if at_note < len(cells) else ""
        words, points = self._words, self._points
        if word not in words:
            parsed = parse_reading(bare(word))
            words[word] = (*parsed, WORD[parsed[0]].pins == PAIR) if parsed else None
        known = words[word]
        if known is None:
            self._say(line, *(refused_volts(bare(word)) or unread(bare(word))))
            return None
        kind, value, which, is_pair = known
        if value is not None and (unclear := self._unclear_number(cells)):
            self._say(line, *unclear)
            return None
        if is_pair:
            # The quick way: a job may have a million readings, of few names.
            if a not in points:
                points[a] = self.board.resolve(bare(a))
            if b not in points:
                points[b] = self.board.resolve(bare(b))
            point_a, point_b = points[a], points[b]
            if point_a is not None and point_b is not None and point_a != point_b:
                return Entry(line, kind, (point_a, point_b), value, note)
        found = self._pins(line, kind, a, b)
        return None if found is None else Entry(line, kind, found, value, note, which)

    def _unclear_number(self, cells: Sequence[str]) -> tuple[str, str] | None:
        """What is wrong with a value that this file may have changed: a decimal comma that parted the cell in two, or
        a point where the file's own commas leave it to part thousands.
        """
        at = self.columns.reading
        word = bare(cells[at])
        if self.delimiter == ";":
            point = _POINT_AND_THREE.match(word)
            return parted(shown(word), point[1], point[2]) if point else None
        after = cells[at + 1].strip() if at + 1 < len(cells) else ""
        if self.delimiter != "," or not (_WHOLE.match(word) and _FRACTION.match(after)):
            return None
        if at + 1 != self.columns.note and len(cells) <= self.width:
            return None
        what = f"'{shown(word)},{shown(after)}' reads as {shown(word)} and a cell '{shown(after)}'"
        thousands = f"{shown(word)}{shown(after)} or " if _THREE.match(after) and word[0] in "123456789" else ""
        return what, f"write {thousands}{shown(word)}.{shown(after)}, or the note in words"

    def _say(self, line: int, what: str, remedy: str) -> None:
        self.problems.append(Problem(self.file, line, what, remedy))

    def _pins(self, line: int, kind: str, a: str, b: str) -> tuple[int, ...] | None:
        """The points that a row names, if they are what its word takes."""
        cells = [cell for cell in (bare(a), bare(b)) if cell]
        if kind in EVENTS:
            cells = [part for cell in cells for part in cell.split()]
        found = [self.board.resolve(cell) for cell in cells]
        unknown = [cell for cell, point in zip(cells, found, strict=True) if point is None]
        if unknown:
            self.problems += [unknown_pin(self.file, line, self.board, cell) for cell in unknown]
            return None
        points = tuple(point for point in found if point is not None)
        wrong = self._wrong_reading(kind, cells, points) if kind in READINGS else _wrong_event(kind, points)
        if wrong is not None:
            self._say(line, *wrong)
            return None
        return points

    def _wrong_reading(self, kind: str, cells: list[str], points: tuple[int, ...]) -> tuple[str, str] | None:
        """What is wrong with the points of a reading, and the remedy."""
        if len(points) < 2:
            return f"'{kind}' names {'one pin' if points else 'no pin'}", "a reading has pin_a and pin_b"
        a, b = (shown(cell) for cell in cells)
        if points[0] == points[1]:
            alias = f" ({a} and {b} are one joint, {self.board.points[points[0]]})" if a != b else ""
            return f"'{a}' touches itself{alias}", "a reading has two different points"
        if WORD[kind].pins == JOINT_PAIR and max(points) >= len(self.board.joints):
            return f"'{a}' to '{b}' {kind}", f"two joints are looked at: '4,5,{kind}'"
        grounds = sum(self.board.net_of[point].role == GROUND for point in points)
        if WORD[kind].pins == GROUND_PAIR and not grounds:
            return (
                f"'{a}' to '{b}' in diode mode",
                "the red lead sits on ground, the black one on a joint: '7,GND,0.512 V'",
            )
        return None


def _wrong_event(kind: str, points: tuple[int, ...]) -> tuple[str, str] | None:
    pins = WORD[kind].pins
    if pins == NO_PINS and points:
        return f"'{kind}' names a pin", "a lead check has no pins: ',,leads good'"
    if pins == JOINTS and not points:
        return f"'{kind}' names no joint", f"name the joints: '4,5,{kind}'"
    if pins == PAIR_OR_NONE and len(points) == 1:
        return f"'{kind}' names one pin", "name the pair, or none for the last reading"
    return None


def unknown_pin(file: str, line: int, board: Board, cell: str) -> Problem:
    """The problem of a name that is no point of the board."""
    from difflib import get_close_matches

    contact = next((c for c in board.pin_map.net_of if c.casefold() == cell.casefold()), None)
    if contact is not None:
        what = f"contact '{contact}' has no joint in layout {board.layout.id}"
        return Problem(file, line, what, "choose another --layout")
    near = get_close_matches(cell, board.known_names, n=3, cutoff=0.6)
    hint = f"did you mean {', '.join(near)}?" if near else f"{board.pin_map.id} has {_summary(board)}"
    return Problem(file, line, f"unknown pin '{shown(cell)}'", hint)


def _summary(board: Board) -> str:
    """The joints and board points in a few words, for messages."""
    names = [joint.name for joint in board.joints]
    listed = ", ".join(names) if len(names) <= 24 else ", ".join(names[:6]) + f" ... {names[-1]}"
    nets = [net.name for net in board.nets]
    return f"joints {listed}; nets {', '.join(nets[:12])}{' ...' if len(nets) > 12 else ''}"
