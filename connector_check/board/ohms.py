"""What ohms mean between two points of a board: the limits that tell solder, parts and leaks apart. Pure."""

from __future__ import annotations

BRIDGE_OHMS = 5.0
"""Solder reads well under this; probes on flux add up to several ohms (common practice, no source)."""

LEAK_OHMS = 250.0
"""Ohms from here up are no leak: on healthy open-hardware boards no supply read under 269 ohm to ground."""

OHMS_SHARE, OHMS_ADDED = 0.02, 0.5
"""An ohms reading is trusted to 2 % and half an ohm (probes on solder; common practice, no source)."""


def margin(ohms: float) -> float:
    """How far the true ohms may lie from a reading."""
    return ohms * OHMS_SHARE + OHMS_ADDED
