"""A view of a connector as one SVG file: pads to scale with their numbers inside, what they mean in words, and a key.

Colours are of the Okabe-Ito set. Every role and state has a glyph and a word beside its colour. Rules stand in a style
element (no variables, so that plain viewers draw it too); dark screens and paper have their own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from textwrap import wrap
from xml.sax.saxutils import escape, quoteattr

from connector_check.analysis.states import HARMLESS, NOT_ASKED, NOTE, OPEN, PROVEN, SHORTED, UNPROVEN, State
from connector_check.drawing.views import Mark, View, by_number, has_room, label_scale, parts_of, state_lines
from connector_check.files.text import printable
from connector_check.pinout.pinmap import DATA, GROUND, POWER, RESERVED, SHELL

PAGE, LEAST_PAGE, MARGIN = 1000.0, 520.0, 20.0
FONT, SMALL, GLYPH = 13.0, 12.0, 10.0
ADVANCE = 0.61
"""Width of a monospaced character, in font sizes."""

MOST_SCALE, LEAST_SCALE = 150.0, 6.0
LONGEST_ENTRY = 48

AT_SITE = "at site"
"""A shorted joint where the solder most likely is; other joints of its group are paler."""

ROLES = (GROUND, POWER, DATA, SHELL, RESERVED)
GLYPHS = {
    GROUND: "M0-4V-1M-4-1H4M-2.5 1.5H2.5M-1 4H1",
    POWER: "M0-4V4M-4 0H4",
    DATA: "M-4 2C-3-5-1-5 0 0S3 5 4-2",
    SHELL: "M-4-3V3H4V-3",
    RESERVED: "M-4 0H-3.9M0 0H.1M3.9 0H4",
    PROVEN: "M-4 0L-1 3.5L4-3.5",
    SHORTED: "M-3-3L3 3M-3 3L3-3",
    AT_SITE: "M-4.5-4.5L4.5 4.5M-4.5 4.5L4.5-4.5",
    OPEN: "M-4 0A4 4 0 1 1 4 0A4 4 0 1 1-4 0",
    UNPROVEN: "M-2.5-2C-2.5-5 2.5-5 2.5-2C2.5 0 0-.5 0 1.5M0 3.6V4.4",
    HARMLESS: "M-4-1.8H4M-4 1.8H4",
    NOTE: "M0-4.5V1.5M0 3.6V4.4",
    NOT_ASKED: "M-3.5 0H3.5",
}
FILLS = {
    GROUND: ("#000000", "#ffffff"),
    POWER: ("#E69F00", "#000000"),
    DATA: ("#56B4E9", "#000000"),
    SHELL: ("#CC79A7", "#000000"),
    RESERVED: ("#c4c4c4", "#000000"),
    PROVEN: ("#0072B2", "#ffffff"),
    SHORTED: ("#f2b48c", "#000000"),
    AT_SITE: ("#D55E00", "#000000"),
    OPEN: ("#ffe3cf", "#000000"),
    UNPROVEN: ("#d9d9d9", "#000000"),
    NOTE: ("#E69F00", "#000000"),
    HARMLESS: ("#56B4E9", "#000000"),
    NOT_ASKED: ("#efefef", "#000000"),
}
"""Pad and ink of each role and state."""

OUTLINES = {
    OPEN: "stroke:#D55E00;stroke-width:2.5;stroke-dasharray:5 3",
    SHORTED: "stroke:#D55E00;stroke-width:2.5",
    UNPROVEN: "stroke-dasharray:2 2",
}


def draw_svg(view: View, states: Mapping[str, State] | None = None) -> str:
    """The view as an SVG document; states: of the joints by name, from `drawing.states`."""
    return Sheet(view, states or {}).document()


def _kind(mark: Mark, states: Mapping[str, State]) -> str:
    """What a mark is drawn as: its state where states are given, else its role."""
    if not states:
        return mark.role
    return state_kind(states[mark.name]) if mark.name in states else NOT_ASKED


def state_kind(state: State) -> str:
    return AT_SITE if state.kind == SHORTED and state.sites else state.kind


def _class(kind: str) -> str:
    return kind.replace(" ", "-")


def drawing_style() -> str:
    rules = [
        ".cc .page{fill:#ffffff}",
        f".cc text{{font-family:'DejaVu Sans Mono','Liberation Mono',Consolas,Menlo,monospace;font-size:{SMALL:g}px;fill:#000000}}",
        f".cc .number{{font-size:{FONT:g}px;font-weight:bold}}",
        ".cc .head{font-size:15px;font-weight:bold}",
        ".cc .pad{stroke:#333333;stroke-width:1}",
        ".cc .glyph{fill:none;stroke-width:1.8;stroke-linecap:round;stroke-linejoin:round}",
        ".cc .cut{fill:none;stroke:#555555;stroke-dasharray:6 4}",
        ".cc .solder{stroke:#D55E00;stroke-width:7}",
    ]
    for kind, (pad, ink) in FILLS.items():
        name = _class(kind)
        rules.append(f".cc .{name} .pad{{fill:{pad};{OUTLINES.get(kind, '')}}}")
        rules.append(f".cc .{name} .number{{fill:{ink}}}.cc .{name} .glyph{{stroke:{ink}}}")
    dark = ".cc .page{fill:#151515}.cc text{fill:#eeeeee}.cc .pad{stroke:#bbbbbb}.cc .cut{stroke:#aaaaaa}"
    dark += "".join(f".cc .{_class(k)} .number{{fill:{ink}}}" for k, (_, ink) in FILLS.items())
    dark += ".cc .open .pad,.cc .shorted .pad{stroke:#D55E00}"
    paper = ".cc *{print-color-adjust:exact;-webkit-print-color-adjust:exact}"
    return (
        "".join(rules) + f"@media screen and (prefers-color-scheme:dark){{{dark}}}@media print{{{paper}}}"
    )  # fmt: skip


class Sheet:
    """One document in the making: `y` is where the next thing goes."""

    def __init__(self, view: View, states: Mapping[str, State]) -> None:
        self.view = view
        self.states = states
        self.flat = {m.name: (len(m.name) * FONT * ADVANCE + 4, FONT + GLYPH + 5) for m in view.marks}
        self.upright = {n: (FONT + 3, w + GLYPH + 3) for n, (w, _) in self.flat.items()}
        self.scale = label_scale(view.marks, self.flat, self.upright, LEAST_SCALE, MOST_SCALE)
        self.parts = parts_of(view.marks, self.extent, (PAGE - 2 * MARGIN) / self.scale)
        widest = max(self.extent(part) for part in self.parts) * self.scale + 2 * MARGIN
        self.width = round(max(widest, LEAST_PAGE))
        self.y = MARGIN
        self.body: list[str] = []

    @staticmethod
    def extent(marks: Sequence[Mark]) -> float:
        return max(m.x + m.width / 2 for m in marks) - min(m.x - m.width / 2 for m in marks)

    def document(self) -> str:
        self.paragraph(self.view.title, "head", 15.0)
        self.paragraph(self.view.caption)
        for number, part in enumerate(self.parts, 1):
            self.part(part, number)
        self.legend()
        self.key()
        height = round(self.y + MARGIN / 2)
        lines = [line for _, line in state_lines(self.view, self.states)]
        told = " ".join([self.view.caption, *(f"{line[:1].upper()}{line[1:]}." for line in lines)])
        named = ", ".join(f"{m.name} {m.label} ({m.role})" for m in by_number(self.view.marks))
        return "\n".join(
            [
                f'<svg xmlns="http://www.w3.org/2000/svg" class="cc" role="img" viewBox="0 0 {self.width} {height}" '
                f'width="{self.width}" height="{height}">',
                f"<title>{_text(self.view.title)}</title>",
                f"<desc>{_text(told)} {_text(named)}.</desc>",
                f"<style>{drawing_style()}</style>",
                f'<rect class="page" width="{self.width}" height="{height}"/>',
                *self.body,
                "</svg>\n",
            ]
        )

    def paragraph(self, raw: str, name: str = "", size: float = SMALL) -> None:
        count = max(int((self.width - 2 * MARGIN) / (size * ADVANCE)), 10)
        for line in wrap(printable(raw), count):
            self.y += size * 1.3
            self.body.append(
                f'<text{_attribute("class", name)} x="{MARGIN:g}" y="{self.y - size * 0.3:.1f}">{_text(line)}</text>'
            )

    def part(self, marks: Sequence[Mark], number: int) -> None:
        self.y += 14
        if len(self.parts) > 1:
            self.paragraph(f"part {number} of {len(self.parts)}, from the left")
            self.y += 4
        top, bottom = self.view.bounds[1], self.view.bounds[3]
        left = min(m.x - m.width / 2 for m in marks)
        wide = self.extent(marks) * self.scale
        start = (self.width - wide) / 2 if len(self.parts) == 1 else MARGIN
        at = {m.name: (start + (m.x - left) * self.scale, self.y + (m.y - top) * self.scale) for m in marks}
        height = (bottom - top) * self.scale
        edges = (start - 8, start + wide + 8)
        self.body.extend(self.solder(marks, at, edges))
        for mark in marks:
            self.body.append(self.pad(mark, *at[mark.name]))
        for cut, x in ((number > 1, edges[0]), (number < len(self.parts), edges[1])):
            if cut:
                self.body.append(f'<path class="cut" d="M{x:.1f} {self.y:.1f}v{height:.1f}"/>')
        self.y += height + 4

    def solder(
        self, marks: Sequence[Mark], at: Mapping[str, tuple[float, float]], edges: tuple[float, float]
    ) -> Iterator[str]:
        """A bar where the solder most likely runs, up to the cut when the other joint is in another part."""
        by_name = {m.name: m for m in self.view.marks}
        drawn: set[frozenset[str]] = set()
        for mark in marks:
            state = self.states.get(mark.name)
            for other in state.sites if state else ():
                pair = frozenset((mark.name, other))
                if other not in by_name or pair in drawn:
                    continue
                drawn.add(pair)
                x0, y0 = at[mark.name]
                dx = (by_name[other].x - mark.x) * self.scale
                dy = (by_name[other].y - mark.y) * self.scale
                if other not in at and dx:
                    shown = (edges[dx > 0] - x0) / dx
                    dx, dy = dx * shown, dy * shown
                yield f'<path class="solder" d="M{x0:.1f} {y0:.1f}l{dx:.1f} {dy:.1f}"/>'

    def pad(self, mark: Mark, x: float, y: float) -> str:
        state = self.states.get(mark.name)
        kind = _kind(mark, self.states)
        width, height = mark.width * self.scale, mark.height * self.scale
        corner = 0.0 if mark.shape == "rect" else min(width, height) / 2
        told = f"{mark.name}: {mark.label}, {mark.role}"
        if state:
            told += f"; {state.word}" + (f" ({state.detail})" if state.detail else "")
        flat = has_room(mark, self.flat[mark.name], self.scale) or not has_room(
            mark, self.upright[mark.name], self.scale
        )
        text_at, glyph_at = (-GLYPH / 2 + FONT * 0.3, FONT / 2 + 2) if flat else (0.0, 0.0)
        if flat:
            number = f'<text class="number" text-anchor="middle" y="{text_at:.1f}">{_text(mark.name)}</text>'
        else:
            run = self.upright[mark.name][1]
            glyph_at = -run / 2 + GLYPH / 2 + 2
            number = (
                f'<text class="number" text-anchor="middle" transform="rotate(-90)" '
                f'x="{-(GLYPH + 2) / 2:.1f}" y="{FONT * 0.35:.1f}">{_text(mark.name)}</text>'
            )
        return (
            f'<g class="joint {_class(kind)}" transform="translate({x:.1f} {y:.1f})"><title>{_text(told)}</title>'
            f'<rect class="pad" x="{-width / 2:.1f}" y="{-height / 2:.1f}" width="{width:.1f}" height="{height:.1f}" '
            f'rx="{corner:.1f}"/>{number}<path class="glyph" transform="translate(0 {glyph_at:.1f})" '
            f'd="{GLYPHS[kind]}"/></g>'
        )

    def swatch(self, kind: str, x: float, y: float) -> str:
        return (
            f'<g class="{_class(kind)}" transform="translate({x:.1f} {y:.1f})">'
            f'<rect class="pad" x="-8" y="-8" width="16" height="16"/><path class="glyph" d="{GLYPHS[kind]}"/></g>'
        )

    def legend(self) -> None:
        self.y += 12
        if self.states:
            for state, line in state_lines(self.view, self.states):
                count = max(int((self.width - 2 * MARGIN - 26) / (SMALL * ADVANCE)), 10)
                self.body.append(self.swatch(state_kind(state), MARGIN + 8, self.y + 10))
                for text in wrap(printable(line), count):
                    self.y += SMALL * 1.3
                    self.body.append(f'<text x="{MARGIN + 26:g}" y="{self.y - 1:.1f}">{_text(text)}</text>')
                self.y += 8
            return
        x = MARGIN
        for role in ROLES:
            if any(m.role == role for m in self.view.marks):
                self.body.append(self.swatch(role, x + 8, self.y + 10))
                self.body.append(f'<text x="{x + 22:g}" y="{self.y + 14:.1f}">{role}</text>')
                x += 22 + (len(role) + 3) * SMALL * ADVANCE
        self.y += 24

    def key(self) -> None:
        """Each mark's number, signal name and state word (or role), in columns read downwards."""
        self.y += 12
        entries = []
        for mark in by_number(self.view.marks):
            state = self.states.get(mark.name)
            kind = _kind(mark, self.states)
            word = state.word if state else kind
            entries.append((kind, printable(f"{mark.name} {mark.label}: {word}")))
        longest = min(max(len(text) for _, text in entries), LONGEST_ENTRY)
        size = 24 + longest * SMALL * ADVANCE + 14
        count = max(int((self.width - 2 * MARGIN + 14) / size), 1)
        tall = -(-len(entries) // count)
        for i, (kind, text) in enumerate(entries):
            x, y = MARGIN + i // tall * size, self.y + i % tall * 20
            shown = text if len(text) <= longest else text[: longest - 1] + "\N{HORIZONTAL ELLIPSIS}"
            self.body.append(self.swatch(kind, x + 8, y + 8))
            self.body.append(f'<text x="{x + 22:.1f}" y="{y + 12:.1f}">{_text(shown)}</text>')
        self.y += tall * 20


def _text(raw: str) -> str:
    return escape(printable(raw))


def _attribute(name: str, value: str) -> str:
    return f" {name}={quoteattr(value)}" if value else ""
