"""Generic pin headers: a plain grid of pins of which nothing is known but their places. Pure."""

from __future__ import annotations

import re

from connector_check.pinout.pinmap import DATA, Joint, Layout, Net, PinMap, Source

HEADER_ID = re.compile(r"header-([1-4]x[1-9][0-9]?)(?:-([0-9]{1,2}(?:\.[0-9]{1,2})?))?\Z")
HEADER_PAD_MM = {2.54: 1.7, 2.0: 1.35, 1.27: 1.0, 1.0: 0.85}
"""Pad of a pin header by pitch, as KiCad's footprints Connector_PinHeader_*mm have it (kicad-footprints 6.0.11)."""
COUNTED = "none, the names P1 and on only count the pins"
"""What stands as the source of an assignment that nobody published."""


def header_size(text: str) -> tuple[int, int] | None:
    """Rows and pins a row of `2x20`, or None when it is not of that form or over 4 x 64."""
    match = re.fullmatch(r"([1-4])x([1-9][0-9]?)", text)
    return (int(match[1]), int(match[2])) if match and int(match[2]) <= 64 else None


def is_counted(pin_map: PinMap) -> bool:
    """Whether nothing is known of the contacts of that map but their numbers."""
    return any(source.document == COUNTED for source in pin_map.sources)


def header_layout(rows: int, columns: int, pitch_mm: float, numbering: str = "") -> Layout:
    """A vertical pin header seen from the component side: `rows` x `columns` round pads at that pitch in mm.

    numbering: `zigzag` (two rows: odd pins in one, even pins in the other, pin 1 at the left end of the lower row) or
    `rows` (row after row, pin 1 at the upper left); by default zigzag for two rows.
    """
    zigzag = rows == 2 and numbering != "rows"
    size = HEADER_PAD_MM.get(pitch_mm, round(0.67 * pitch_mm, 2))
    joints = []
    for index in range(rows * columns):
        column, row = (index // 2, 1 - index % 2) if zigzag else (index % columns, index // columns)
        name = str(index + 1)
        joints.append(Joint(name, (name,), round(column * pitch_mm, 4), round(row * pitch_mm, 4), size, size, "round"))
    how = "odd pins in one row, even pins in the other" if zigzag else "pins counted row after row"
    source = f"a plain grid of {pitch_mm:g} mm, {how if rows > 1 else 'one straight row'}; pads of {size:g} mm " + (
        "as in KiCad's pin headers" if pitch_mm in HEADER_PAD_MM else "by assumption"
    )
    return Layout("through", "", source, tuple(joints))


def header_map(map_id: str) -> PinMap | None:
    """The generic pin header of that id, `header-2x20` or with its pitch in mm `header-1x8-2.0`, or None.

    1 to 4 rows of 1 to 64 pins; each contact is a data net of its own, P1 and so on. Two rows count in zigzag.

    >>> found = header_map("header-2x20")
    >>> len(found.nets), found.nets[39].name, found.layouts[0].id, header_map("header-5x2")
    (40, 'P40', 'through', None)
    """
    match = HEADER_ID.match(map_id)
    size = header_size(match[1]) if match else None
    pitch_mm = float(match[2] or 2.54) if match else 0.0
    if size is None or not 0.3 <= pitch_mm <= 20:
        return None
    layout = header_layout(*size, pitch_mm)
    names = {joint.name: f"P{joint.name}" for joint in layout.joints}
    return PinMap(
        id=map_id,
        title=f"generic pin header, {size[0]} x {size[1]}, {pitch_mm:g} mm",
        side="board",
        sources=(Source(COUNTED, "memory"),),
        nets=tuple(Net(name, DATA, (contact,)) for contact, name in names.items()),
        names=names,
        layouts=(layout,),
        pitch_mm=pitch_mm,
    )
