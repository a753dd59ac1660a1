"""The pads of a KiCad footprint: text or tree in, records out. Pure.

Whatever is malformed raises ValueError whose text starts with `line N:` and says what was expected; the caller adds the
file's name.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import cos, fabs, radians, sin

from connector_check.files.sexpr import Node, read_sexpr

SHAPES = {"rect": "rect", "roundrect": "rect", "trapezoid": "rect", "custom": "rect", "oval": "oval", "circle": "round"}
PAD_KINDS = ("smd", "thru_hole", "np_thru_hole", "connect")
NO_COPPER = ("aperture", "np_thru_hole")
ANY_LAYER_COPPER = re.compile(r"(\*|F&B|F|B|In\d+)\.Cu\Z")


@dataclass(frozen=True)
class Pad:
    """One pad of a footprint.

    number: as printed, may be empty. x_mm, y_mm: centre of its copper, x right, y down, from the footprint's origin,
    component side. w_mm, h_mm: size before turning. shape: `rect`, `oval` or `round`. rotation: degrees,
    counter-clockwise as seen. kind: `smd`, `thru_hole`, `connect`, and without copper `np_thru_hole` or `aperture`
    (paste or mask alone).
    """

    number: str
    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float
    shape: str
    rotation: float
    kind: str

    @property
    def has_copper(self) -> bool:
        """Whether something can be soldered to it."""
        return self.kind not in NO_COPPER

    @property
    def extent(self) -> tuple[float, float]:
        """Width and height in mm of the box around the turned pad.

        >>> Pad("1", 0, 0, 0.3, 1.5, "rect", 90, "smd").extent
        (1.5, 0.3)
        """
        if self.shape == "round":
            return self.w_mm, self.h_mm
        c, s = fabs(cos(radians(self.rotation))), fabs(sin(radians(self.rotation)))
        if self.shape == "oval":
            across = min(self.w_mm, self.h_mm)
            w, h = self.w_mm - across, self.h_mm - across
            return round(w * c + h * s + across, 6), round(w * s + h * c + across, 6)
        return round(self.w_mm * c + self.h_mm * s, 6), round(self.w_mm * s + self.h_mm * c, 6)


def footprint_pads(text: str) -> list[Pad]:
    """The pads of a `.kicad_mod` footprint in the order of the file, those without copper included.

    Of a custom pad only its anchor is given. Raises ValueError.
    """
    root = read_sexpr(text)
    if root.name not in ("footprint", "module"):
        raise ValueError(f"line {root.line}: expected (footprint ...) or (module ...), found ({root.name} ...)")
    return pads_of(root)


def pads_of(footprint: Node) -> list[Pad]:
    """The pads of a footprint that is already read, alone or out of a board file. Raises ValueError."""
    return [_pad(pad) for pad in footprint.all("pad")]


def turned(at: Node) -> float:
    """The degrees of an `(at X Y [DEGREES] ...)`, 0 where it has none. Raises ValueError."""
    return at.number(2, "degrees") if len(at.args) > 2 and at.args[2] != "unlocked" else 0.0


def _pad(pad: Node) -> Pad:
    number = pad.word(0, 'a pad number (it may be empty: "")')
    kind = pad.word(1, f"a pad kind, one of {', '.join(PAD_KINDS)}")
    shape = pad.word(2, f"a pad shape, one of {', '.join(SHAPES)}")
    if kind not in PAD_KINDS:
        raise ValueError(f"line {pad.line}: expected a pad kind, one of {', '.join(PAD_KINDS)}, found '{kind}'")
    if shape not in SHAPES:
        raise ValueError(f"line {pad.line}: expected a pad shape, one of {', '.join(SHAPES)}, found '{shape}'")
    at, size = pad.need("at"), pad.need("size")
    x, y = at.number(0, "x in mm"), at.number(1, "y in mm")
    degrees = turned(at)
    w, h = size.number(0, "a width in mm"), size.number(1, "a height in mm")
    if w <= 0 or h <= 0:
        raise ValueError(f"line {size.line}: expected a pad size above 0 mm, found {w:g} x {h:g}")
    layers = pad.first("layers")
    if kind != "np_thru_hole" and layers is not None and not any(ANY_LAYER_COPPER.match(a) for a in layers.args):
        kind = "aperture"
    drill = pad.first("drill")
    offset = drill.first("offset") if drill else None
    if offset is not None:
        dx, dy = offset.number(0, "x in mm"), offset.number(1, "y in mm")
        c, s = cos(radians(degrees)), sin(radians(degrees))
        x, y = round(x + dx * c + dy * s, 6), round(y - dx * s + dy * c, 6)
    return Pad(number, x, y, w, h, SHAPES[shape], degrees % 360, kind)
