"""Plain grids of pads for a new map: a header, or one row in the order of the pins. Pure."""

from __future__ import annotations

from dataclasses import replace

from connector_check.kicad.footprints import Pad
from connector_check.new_map.records import Names, Places, is_shell
from connector_check.pinout.headers import header_layout

PITCH_MM = (0.1, 50.0)
"""The pitches of pins that can be asked for, from the least to the largest."""
DEFAULT_PITCH_MM = 2.54


def grid_places(rows: int, columns: int, pitch: float, numbering: str = "") -> Places:
    """A vertical pin header's pads at that pitch in mm; numbering: see `pinout.headers.header_layout`."""
    layout = header_layout(rows, columns, pitch, numbering)
    pads = tuple(Pad(j.name, j.x, j.y, j.width, j.height, j.shape, 0, "thru_hole") for j in layout.joints)
    return Places(f"header {rows}x{columns}", pads, layout.id, layout.source)


def row_places(names: Names, pitch: float) -> Places:
    """One straight row in the order of the pins, for a table that says nothing of positions; the shell is left out."""
    numbers = [pin.number for pin in names.pins if not is_shell(pin)]
    pads = grid_places(1, len(numbers), pitch).pads
    placed = tuple(replace(pad, number=number) for pad, number in zip(pads, numbers, strict=True))
    source = f"assumed: one straight row at {pitch:g} mm in the order of the pins; measure the part"
    return Places(names.file, placed, "row", source)
