"""Drawings for a page: the pads alone, each with the class of its joint; the page says the rest in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from connector_check.analysis.result import ReworkStep
from connector_check.analysis.states import KINDS, State
from connector_check.drawing.elements import element, svg
from connector_check.drawing.look import state_kind
from connector_check.drawing.svg import Sheet, Spot, swatch
from connector_check.drawing.views import Mark
from connector_check.reports.report import Drawn

BADGE = 9.0


class KeyEntry(NamedTuple):
    """One way in which joints of a drawing are drawn: the state that is drawn so, and the names of the joints."""

    state: State
    names: tuple[str, ...]


def key_entries(drawn: Drawn) -> tuple[KeyEntry, ...]:
    """The key of a drawing, worst first."""
    first: dict[str, State] = {}
    names: dict[str, list[str]] = {}
    for mark in drawn.view.marks:
        state = drawn.states.get(mark.name)
        if state is not None:
            kind = state_kind(state)
            first.setdefault(kind, state)
            names.setdefault(kind, []).append(mark.name)
    order = sorted(first, key=lambda kind: KINDS.index(first[kind].kind))
    return tuple(KeyEntry(first[kind], tuple(names[kind])) for kind in order)


def swatch_svg(state: State) -> str:
    """A state as it is drawn, small enough to stand in a line of text."""
    small = {"class": "cc swatch", "viewBox": "0 0 20 20", "aria-hidden": "true"}
    return svg(small, swatch(state_kind(state), 10, 10))


class Pads(Sheet):
    """The pads of a drawing, with the number of each rework step at its site."""

    def __init__(self, drawn: Drawn, steps: Sequence[ReworkStep] = ()) -> None:
        super().__init__(drawn.view, drawn.states)
        self.drawn, self.steps, self.y = drawn, steps, 4.0 if steps else 0.0
        widest = max(self.extent(part) for part in self.parts) * self.scale
        self.width = round(widest + 40)

    def document(self) -> str:
        """The drawing as an element of a page, between 0.6 and 1.3 times as wide as drawn where there is room."""
        self.draw_parts()
        self.badges()
        name = f"drawing-{self.drawn.id}"
        least = min(self.width * 0.8, 280) if self.width < 450 else self.width * 0.6
        return svg(
            {
                "class": "cc",
                "role": "img",
                "aria-labelledby": f"{name}-title {name}-desc",
                "viewBox": f"0 0 {self.width} {round(self.y + 10)}",
                "style": f"min-width:{least:.0f}px;max-width:{self.width * 1.3:.0f}px",
            },
            element("title", {"id": f"{name}-title"}, f"{self.drawn.heading}: {self.view.title}"),
            element("desc", {"id": f"{name}-desc"}, self.told()),
            *self.body,
        )

    def classes(self, mark: Mark) -> str:
        """As on every sheet, and the class by which the page finds the joint."""
        joint = self.drawn.joint_of.get(mark.name)
        return super().classes(mark) if joint is None else f"j{joint} {super().classes(mark)}"

    def badges(self) -> None:
        """The number of each step at its site, none over another."""
        taken: list[Spot] = []
        for step in self.steps:
            names = [name for name in step.joints if name in self.at][:2]
            if not names:
                continue
            x, y = self.site(names)
            while any(abs(x - a) < 2 * BADGE and abs(y - b) < 2 * BADGE for a, b in taken):
                x += 2 * BADGE
            x = min(max(x, BADGE + 1), self.width - BADGE - 1)
            taken.append((x, y))
            self.badge(step.step, x, max(y, BADGE + 1))

    def site(self, names: Sequence[str]) -> Spot:
        """Where a number names one joint or two: above a pad, or between two."""
        marks = {m.name: m for m in self.view.marks}
        spots = [self.at[name] for name in names]
        x, y = sum(s[0] for s in spots) / len(spots), sum(s[1] for s in spots) / len(spots)
        if len(spots) == 1 or abs(spots[0][0] - spots[1][0]) >= abs(spots[0][1] - spots[1][1]):
            y = min(self.at[name][1] - marks[name].height * self.scale / 2 for name in names) + 1
        if len(spots) == 1:
            x += marks[names[0]].width * self.scale / 2
        return x, y

    def badge(self, number: int, x: float, y: float) -> None:
        """A number in a ring."""
        ring = {"cx": f"{x:.1f}", "cy": f"{y:.1f}", "r": f"{BADGE:g}", "fill": "#ffffff", "stroke": "#000000"}
        at = {"x": f"{x:.1f}", "y": f"{y + 4:.1f}", "text-anchor": "middle", "style": "fill:#000000;font-weight:bold"}
        self.body.append(
            element(
                "g",
                {"class": "badge"},
                element("circle", {**ring, "stroke-width": "2"}),
                element("text", at, str(number)),
            )
        )
