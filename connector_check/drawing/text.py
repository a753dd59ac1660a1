"""A view of a connector for the terminal: rows of numbered cells where the joints are, in as many parts as the width
needs, then what the cells mean in words.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from connector_check.analysis.states import OPEN, PROVEN, SHORTED, State
from connector_check.drawing.colours import colour as painted
from connector_check.drawing.room import columns_of, parts_of, text_scale
from connector_check.drawing.views import (
    Mark,
    View,
    by_number,
    rows_of,
    state_lines,
)
from connector_check.files.text import beginning, columns, fitted, padded, printable
from connector_check.pinout.pinmap import DATA, GROUND, POWER, RESERVED, SHELL

LEAST_WIDTH = 24
LONGEST_LABEL = 12
BRACKETS = {GROUND: ("(", ")"), POWER: ("<", ">"), DATA: ("[", "]"), SHELL: ("{", "}"), RESERVED: (":", ":")}
TONES = {PROVEN: "good", SHORTED: "bad", OPEN: "bad"}
TICK = {"v": "\N{CHECK MARK}"}


class _Frame(NamedTuple):
    top: tuple[str, str]
    bottom: tuple[str, str]
    across: str
    side: str
    cut: str


PLAIN = _Frame(("+", "+"), ("+", "+"), "-", "|", "~")
LINES = _Frame(("┌", "┐"), ("└", "┘"), "─", "│", "┆")


def draw_text(
    view: View,
    states: Mapping[str, State] | None = None,
    width: int = 80,
    ascii_only: bool = False,
    colour: bool = False,
) -> str:
    """The view in at most `width` columns (not under 24), true to left and right, top and bottom.

    states: of the joints by name, from `drawing.states`; ascii_only: nothing but ASCII; colour: blue for proven and
    vermillion for shorted and open, on top of the marks and words. A part too wide for the page is cut from left to
    right into parts below each other.
    """
    page = _Page(max(width, LEAST_WIDTH), ascii_only, colour, states or {})
    lines = [*page.wrapped(view.title), *page.wrapped(view.caption)]
    lines += page.drawing(view)
    lines += page.legend(view)
    return "\n".join(lines) + "\n"


class _Page:
    def __init__(self, width: int, ascii_only: bool, colour: bool, states: Mapping[str, State]) -> None:
        self.width = width
        self.ascii_only = ascii_only
        self.colour = colour
        self.states = states
        self.frame = PLAIN if ascii_only else LINES

    def text(self, raw: str) -> str:
        shown = printable(raw)
        return shown.encode("ascii", "replace").decode("ascii") if self.ascii_only else shown

    def paint(self, text: str, state: State | None) -> str:
        return painted(text, TONES.get(state.kind, "")) if self.colour and state else text

    def mark(self, state: State) -> str:
        return state.mark if self.ascii_only else TICK.get(state.mark, state.mark)

    def cell(self, mark: Mark) -> str:
        left, right = BRACKETS[mark.role]
        name = self.shortened(mark.name, self.width - 8)
        state = self.states.get(mark.name)
        return f"{left}{name}{right}" + (self.mark(state) if state else " " if self.states else "")

    def shortened(self, raw: str, most: int) -> str:
        return fitted(self.text(raw), most, "~")

    def drawing(self, view: View) -> Iterator[str]:
        inner = self.width - 4
        cells = {m.name: columns(self.cell(m)) for m in view.marks}
        labels = {m.name: self.text(m.label) for m in view.marks}
        roomy = {n: max(size, columns(labels[n]) + 1) for n, size in cells.items()}
        all_fit = columns_of(view.marks, rows_of(view.marks), roomy, 0.0)[1] <= inner
        named = all_fit and max(map(columns, labels.values())) <= LONGEST_LABEL
        if named:
            cells = roomy

        def packed(marks: Sequence[Mark]) -> float:
            return columns_of(marks, rows_of(marks), cells, 0.0)[1]

        parts = parts_of(view.marks, packed, inner)
        scale = min(text_scale(part, cells, inner) for part in parts)
        for number, part in enumerate(parts, 1):
            if len(parts) > 1:
                yield ""
                yield from self.wrapped(f"part {number} of {len(parts)}, from the left")
            yield from self.part(part, cells, labels if named else {}, scale, number > 1, number < len(parts))
        if not named:
            yield ""
            yield from self.columns([self.shortened(f"{m.name} {m.label}", 36) for m in by_number(view.marks)])
            yield ""

    def part(
        self,
        marks: Sequence[Mark],
        cells: Mapping[str, int],
        labels: Mapping[str, str],
        scale: float,
        cut_left: bool,
        cut_right: bool,
    ) -> Iterator[str]:
        rows = rows_of(marks)
        starts, size = columns_of(marks, rows, cells, scale)
        frame = self.frame
        left, right = frame.cut if cut_left else frame.side, frame.cut if cut_right else frame.side
        yield (frame.across * (size + 2)).join(frame.top)
        last_y: float | None = None
        for row in rows:
            if last_y is not None:
                # a character is about twice as high as wide
                blank = min(max(round((row[0].y - last_y) * scale / 2) - 1 - bool(labels), 0), 1)
                yield from [f"{left} {' ' * size} {right}"] * blank
            last_y = row[0].y
            drawn = {mark.name: self.cell(mark) for mark in row}
            for texts in (drawn, labels) if labels else (drawn,):
                yield f"{left} {self.row(row, texts, starts, cells, size)} {right}"
        yield (frame.across * (size + 2)).join(frame.bottom)

    def row(
        self,
        marks: Sequence[Mark],
        texts: Mapping[str, str],
        starts: Mapping[str, int],
        cells: Mapping[str, int],
        size: int,
    ) -> str:
        """One line of `size` columns: the text of each mark in the middle of its cell."""
        line, at = "", 0
        for mark in marks:
            text = texts[mark.name]
            start = starts[mark.name] + (cells[mark.name] - columns(text)) // 2
            line += " " * (start - at) + self.paint(text, self.states.get(mark.name))
            at = start + columns(text)
        return line + " " * (size - at)

    def legend(self, view: View) -> Iterator[str]:
        roles = [role for role in BRACKETS if any(m.role == role for m in view.marks)]
        yield from self.wrapped("  ".join(f"{BRACKETS[r][0]} {BRACKETS[r][1]} {r}" for r in roles))
        for state, line in state_lines(view, self.states):
            for text in self.wrapped(f"{self.mark(state)} {line}", "  "):
                yield self.paint(text, state)

    def columns(self, entries: Sequence[str]) -> Iterator[str]:
        """The entries in columns, read down each, as on a printed list."""
        size = max(map(columns, entries)) + 2
        count = max(self.width // size, 1)
        height = -(-len(entries) // count)
        for i in range(height):
            yield "".join(padded(entry, size) for entry in entries[i::height]).rstrip()

    def wrapped(self, raw: str, indent: str = "") -> Iterator[str]:
        """The text in lines that fit the page, those after the first indented; a word longer than a line is cut."""
        line, lead = "", ""
        for word in self.text(raw).split(" "):
            rest = word
            if line and columns(f"{lead}{line} {rest}") > self.width:
                yield lead + line
                line, lead = "", indent
            while not line and columns(f"{lead} {rest}") > self.width:
                head = beginning(rest, self.width - columns(lead))
                if head == rest:
                    break
                yield lead + head
                rest, lead = rest[len(head) :], indent
            line = f"{line} {rest}" if line else rest
        yield lead + line
