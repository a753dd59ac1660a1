"""Naming an unknown port: pin maps by words, by number of pins, by measured pitch. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from connector_check.pinout.geometry import pitch
from connector_check.pinout.pinmap import PinMap

PITCH_TOLERANCE = 0.06
"""A pitch read off a ruler under a loupe is good to about this fraction."""


def search(
    maps: Iterable[PinMap], words: str = "", pins: int | None = None, pitch_mm: float | None = None
) -> list[PinMap]:
    """The maps that fit all that is given, in their order.

    words: each must be in the id, the title or a signal name, case ignored; pins: number of contacts, or of solder
    joints of a layout, the shell not counted; pitch_mm: at the face as published, or of a layout's solder joints.
    """
    return [m for m in maps if _named(m, words) and _counted(m, pins) and _measured(m, pitch_mm)]


def _named(pin_map: PinMap, words: str) -> bool:
    text = " ".join([pin_map.id, pin_map.title, *pin_map.names.values()]).casefold()
    return all(word in text for word in words.casefold().split())


def _counted(pin_map: PinMap, pins: int | None) -> bool:
    if pins is None:
        return True
    joints = {sum(1 for j in layout.joints if not j.is_shell) for layout in pin_map.layouts}
    return pins == pin_map.contact_count or pins in joints


def _measured(pin_map: PinMap, pitch_mm: float | None) -> bool:
    if pitch_mm is None:
        return True
    known = [pin_map.pitch_mm] + [
        pitch(tuple(j for j in layout.joints if not j.is_shell)) for layout in pin_map.layouts
    ]
    return any(value is not None and abs(value - pitch_mm) <= PITCH_TOLERANCE * pitch_mm for value in known)
