"""A view of a connector as one SVG file: pads to scale, numbers inside, what they mean in words, and a key."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from textwrap import wrap
from xml.etree.ElementTree import Element

from connector_check.analysis.states import NOT_ASKED, State
from connector_check.drawing.elements import element, svg
from connector_check.drawing.look import FONT, GLYPHS, SMALL, class_of, drawing_style, state_kind
from connector_check.drawing.room import has_room, label_scale, parts_of
from connector_check.drawing.views import Mark, View, by_number, state_lines
from connector_check.files.text import columns, fitted, printable
from connector_check.pinout.pinmap import DATA, GROUND, POWER, RESERVED, SHELL

PAGE, LEAST_PAGE, MARGIN = 1000.0, 520.0, 20.0
GLYPH = 10.0
ADVANCE = 0.61
"""Width of a monospaced character, in font sizes."""

MOST_SCALE, LEAST_SCALE = 150.0, 6.0
LONGEST_ENTRY = 48
ROLES = (GROUND, POWER, DATA, SHELL, RESERVED)

Spot = tuple[float, float]
"""A place on the page, in pixels from its upper left corner."""


def draw_svg(view: View, states: Mapping[str, State] | None = None) -> str:
    """The view as an SVG document; states: of the joints by name, from `drawing.states`."""
    return Sheet(view, states or {}).document()


def swatch(kind: str, x: float, y: float) -> Element:
    """A small pad with the fill and glyph of a role or state, around that place."""
    return element(
        "g",
        {"class": class_of(kind), "transform": _moved(x, y)},
        element("rect", {"class": "pad", "x": "-8", "y": "-8", "width": "16", "height": "16"}),
        element("path", {"class": "glyph", "d": GLYPHS[kind]}),
    )


def _moved(x: float, y: float) -> str:
    return f"translate({x:.1f} {y:.1f})"


def _line(x: float, y: float, text: str) -> Element:
    return element("text", {"x": f"{x:g}", "y": f"{y:.1f}"}, text)


class Sheet:
    """One document in the making: `y` is where the next thing goes, `at` where each mark's centre went."""

    def __init__(self, view: View, states: Mapping[str, State]) -> None:
        self.view = view
        self.states = states
        self.flat = {m.name: (columns(m.name) * FONT * ADVANCE + 4, FONT + GLYPH + 5) for m in view.marks}
        self.upright = {n: (FONT + 3, w + GLYPH + 3) for n, (w, _) in self.flat.items()}
        self.scale = label_scale(view.marks, self.flat, self.upright, LEAST_SCALE, MOST_SCALE)
        self.parts = parts_of(view.marks, self.extent, (PAGE - 2 * MARGIN) / self.scale)
        widest = max(self.extent(part) for part in self.parts) * self.scale + 2 * MARGIN
        self.width = round(max(widest, LEAST_PAGE))
        self.y = MARGIN
        self.at: dict[str, Spot] = {}
        self.body: list[Element] = []

    @staticmethod
    def extent(marks: Sequence[Mark]) -> float:
        """How wide the marks are together, mm."""
        return max(m.x + m.width / 2 for m in marks) - min(m.x - m.width / 2 for m in marks)

    def document(self) -> str:
        """The whole page, as the text of a file."""
        self.paragraph(self.view.title, "head", 15.0)
        self.paragraph(self.view.caption)
        self.draw_parts()
        self.legend()
        self.key()
        size = {"width": str(self.width), "height": str(round(self.y + MARGIN / 2))}
        named = ", ".join(f"{m.name} {m.label} ({m.role})" for m in by_number(self.view.marks))
        box = f"0 0 {size['width']} {size['height']}"
        return (
            svg(
                {"class": "cc", "role": "img", "viewBox": box, **size},
                element("title", {}, self.view.title),
                element("desc", {}, f"{self.told()} {named}."),
                element("style", {}, drawing_style()),
                element("rect", {"class": "page", **size}),
                *self.body,
            )
            + "\n"
        )

    def told(self) -> str:
        """The drawing in words, for those who do not see it."""
        lines = [line for _, line in state_lines(self.view, self.states)]
        return " ".join([self.view.caption, *(f"{line[:1].upper()}{line[1:]}." for line in lines)])

    def paragraph(self, raw: str, name: str = "", size: float = SMALL) -> None:
        """Text over the width of the page, in lines of the style sheet's class `name`."""
        count = max(int((self.width - 2 * MARGIN) / (size * ADVANCE)), 10)
        for line in wrap(printable(raw), count):
            self.y += size * 1.3
            at = {"x": f"{MARGIN:g}", "y": f"{self.y - size * 0.3:.1f}"}
            self.body.append(element("text", {"class": name, **at} if name else at, line))

    def draw_parts(self) -> None:
        """The pads, in as many parts below each other as the width needs."""
        for number, part in enumerate(self.parts, 1):
            self.part(part, number)

    def part(self, marks: Sequence[Mark], number: int) -> None:
        """One part of the pads, with solder under them and a dashed line where it was cut."""
        self.y += 14
        if len(self.parts) > 1:
            self.paragraph(f"part {number} of {len(self.parts)}, from the left")
            self.y += 4
        top, bottom = self.view.bounds[1], self.view.bounds[3]
        left = min(m.x - m.width / 2 for m in marks)
        wide = self.extent(marks) * self.scale
        start = (self.width - wide) / 2 if len(self.parts) == 1 else MARGIN
        at = {m.name: (start + (m.x - left) * self.scale, self.y + (m.y - top) * self.scale) for m in marks}
        self.at.update(at)
        height = (bottom - top) * self.scale
        edges = (start - 8, start + wide + 8)
        self.body += [*self.solder(marks, at, edges), *(self.pad(mark, *at[mark.name]) for mark in marks)]
        for cut, x in ((number > 1, edges[0]), (number < len(self.parts), edges[1])):
            if cut:
                self.body.append(element("path", {"class": "cut", "d": f"M{x:.1f} {self.y:.1f}v{height:.1f}"}))
        self.y += height + 4

    def solder(self, marks: Sequence[Mark], at: Mapping[str, Spot], edges: Spot) -> Iterator[Element]:
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
                yield element("path", {"class": "solder", "d": f"M{x0:.1f} {y0:.1f}l{dx:.1f} {dy:.1f}"})

    def kind(self, mark: Mark) -> str:
        """What a mark is drawn as: its state where states are given, else its role."""
        if not self.states:
            return mark.role
        return state_kind(self.states[mark.name]) if mark.name in self.states else NOT_ASKED

    def classes(self, mark: Mark) -> str:
        """The classes of a mark in the style sheet."""
        return f"joint {class_of(self.kind(mark))}"

    def pad(self, mark: Mark, x: float, y: float) -> Element:
        """A pad to scale around that place, with its number and glyph inside and its state as a tooltip."""
        width, height = mark.width * self.scale, mark.height * self.scale
        corner = 0.0 if mark.shape == "rect" else min(width, height) / 2
        shape = {
            "x": f"{-width / 2:.1f}",
            "y": f"{-height / 2:.1f}",
            "width": f"{width:.1f}",
            "height": f"{height:.1f}",
            "rx": f"{corner:.1f}",
        }
        number, glyph_at = self.number(mark)
        glyph = {"class": "glyph", "transform": f"translate(0 {glyph_at:.1f})", "d": GLYPHS[self.kind(mark)]}
        return element(
            "g",
            {"class": self.classes(mark), "transform": _moved(x, y)},
            element("title", {}, self.tip(mark)),
            element("rect", {"class": "pad", **shape}),
            number,
            element("path", glyph),
        )

    def tip(self, mark: Mark) -> str:
        """What is said of one mark: its name, signal and role, and its state with the reason."""
        state = self.states.get(mark.name)
        told = f"{mark.name}: {mark.label}, {mark.role}"
        if not state:
            return told
        return f"{told}; {state.word}" + (f" ({state.detail})" if state.detail else "")

    def number(self, mark: Mark) -> tuple[Element, float]:
        """The number on a pad, upright only where it has no room flat, and how far down the glyph goes."""
        flat = has_room(mark, self.flat[mark.name], self.scale)
        if flat or not has_room(mark, self.upright[mark.name], self.scale):
            placed, glyph_at = {"y": f"{-GLYPH / 2 + FONT * 0.3:.1f}"}, FONT / 2 + 2
        else:
            run = self.upright[mark.name][1]
            placed = {"transform": "rotate(-90)", "x": f"{-(GLYPH + 2) / 2:.1f}", "y": f"{FONT * 0.35:.1f}"}
            glyph_at = -run / 2 + GLYPH / 2 + 2
        return element("text", {"class": "number", "text-anchor": "middle", **placed}, mark.name), glyph_at

    def legend(self) -> None:
        """What the drawing says in words where states are given, else the roles and their looks."""
        self.y += 12
        if self.states:
            self.findings()
        else:
            self.roles()

    def findings(self) -> None:
        """One paragraph for each line of `state_lines`, with its swatch."""
        count = max(int((self.width - 2 * MARGIN - 26) / (SMALL * ADVANCE)), 10)
        for state, told in state_lines(self.view, self.states):
            self.body.append(swatch(state_kind(state), MARGIN + 8, self.y + 10))
            for text in wrap(printable(told), count):
                self.y += SMALL * 1.3
                self.body.append(_line(MARGIN + 26, self.y - 1, text))
            self.y += 8

    def roles(self) -> None:
        """The roles that the view has, in one line."""
        x = MARGIN
        for role in ROLES:
            if any(m.role == role for m in self.view.marks):
                self.body.append(swatch(role, x + 8, self.y + 10))
                self.body.append(_line(x + 22, self.y + 14, role))
                x += 22 + (len(role) + 3) * SMALL * ADVANCE
        self.y += 24

    def key(self) -> None:
        """Each mark's number, signal name and state word (or role), in columns read downwards."""
        self.y += 12
        entries = []
        for mark in by_number(self.view.marks):
            state, kind = self.states.get(mark.name), self.kind(mark)
            entries.append((kind, printable(f"{mark.name} {mark.label}: {state.word if state else kind}")))
        longest = min(max(columns(text) for _, text in entries), LONGEST_ENTRY)
        size = 24 + longest * SMALL * ADVANCE + 14
        count = max(int((self.width - 2 * MARGIN + 14) / size), 1)
        tall = -(-len(entries) // count)
        for i, (kind, text) in enumerate(entries):
            x, y = MARGIN + i // tall * size, self.y + i % tall * 20
            self.body.append(swatch(kind, x + 8, y + 8))
            shown = fitted(text, longest, "\N{HORIZONTAL ELLIPSIS}")
            self.body.append(element("text", {"x": f"{x + 22:.1f}", "y": f"{y + 12:.1f}"}, shown))
        self.y += tall * 20
