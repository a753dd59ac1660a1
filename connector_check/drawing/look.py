"""How roles and states look in an SVG: a glyph, a fill and an outline each, as one style sheet. Pure.

Colours are of the Okabe-Ito set. Every role and state has a glyph and a word beside its colour. Rules use no variables,
so that plain viewers draw them too; dark screens and paper have their own.
"""

from __future__ import annotations

from connector_check.analysis.states import APART, HARMLESS, NOT_ASKED, NOTE, OPEN, PROVEN, SHORTED, UNPROVEN, State
from connector_check.pinout.pinmap import DATA, GROUND, POWER, RESERVED, SHELL

FONT, SMALL = 13.0, 12.0
"""Sizes of the numbers on the pads, and of all other text, in pixels."""

AT_SITE = "at site"
"""A shorted joint where the solder most likely is; other joints of its group are paler."""

GLYPHS = {
    GROUND: "M0-4V-1M-4-1H4M-2.5 1.5H2.5M-1 4H1",
    POWER: "M0-4V4M-4 0H4",
    DATA: "M-4 2C-3-5-1-5 0 0S3 5 4-2",
    SHELL: "M-4-3V3H4V-3",
    RESERVED: "M-4 0H-3.9M0 0H.1M3.9 0H4",
    PROVEN: "M-4 0L-1 3.5L4-3.5",
    APART: "M-3 4L3-4",
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
    APART: ("#cfe4f2", "#000000"),
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
    APART: "stroke:#0072B2;stroke-width:2.5",
}


def state_kind(state: State) -> str:
    """What a joint in that state is drawn as: a shorted one is at a likely bridge site or is not."""
    return AT_SITE if state.kind == SHORTED and state.sites else state.kind


def class_of(kind: str) -> str:
    """The name that the style sheet has for a role or state."""
    return kind.replace(" ", "-")


def drawing_style() -> str:
    """The style sheet of every drawing, on one line; it holds for what is inside class `cc` alone."""
    font = "'DejaVu Sans Mono','Liberation Mono',Consolas,Menlo,monospace"
    rules = [
        ".cc .page{fill:#ffffff}",
        f".cc text{{font-family:{font};font-size:{SMALL:g}px;fill:#000000}}",
        f".cc .number{{font-size:{FONT:g}px;font-weight:bold}}",
        ".cc .head{font-size:15px;font-weight:bold}",
        ".cc .pad{stroke:#333333;stroke-width:1}",
        ".cc .glyph{fill:none;stroke-width:1.8;stroke-linecap:round;stroke-linejoin:round}",
        ".cc .cut{fill:none;stroke:#555555;stroke-dasharray:6 4}",
        ".cc .solder{stroke:#D55E00;stroke-width:7}",
    ]
    for kind, (pad, ink) in FILLS.items():
        name = class_of(kind)
        rules.append(f".cc .{name} .pad{{fill:{pad};{OUTLINES.get(kind, '')}}}")
        rules.append(f".cc .{name} .number{{fill:{ink}}}.cc .{name} .glyph{{stroke:{ink}}}")
    dark = ".cc .page{fill:#151515}.cc text{fill:#eeeeee}.cc .pad{stroke:#bbbbbb}.cc .cut{stroke:#aaaaaa}"
    dark += "".join(f".cc .{class_of(k)} .number{{fill:{ink}}}" for k, (_, ink) in FILLS.items())
    dark += ".cc .open .pad,.cc .shorted .pad{stroke:#D55E00}"
    paper = ".cc *{print-color-adjust:exact;-webkit-print-color-adjust:exact}"
    dark = f"@media screen and (prefers-color-scheme:dark){{{dark}}}"
    return "".join(rules) + dark + f"@media print{{{paper}}}"
