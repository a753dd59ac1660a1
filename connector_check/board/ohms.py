"""What ohms mean between two points of a board: the limits that tell solder, parts and leaks apart. Pure."""

from __future__ import annotations

BRIDGE_OHMS = 5.0
"""Solder reads well under this; probes on flux add up to several ohms (common practice, no source)."""

LEAK_OHMS = 250.0
"""Ohms from here up are no leak: on healthy open-hardware boards no supply read under 269 ohm to ground."""

OHMS_SHARE, OHMS_ADDED = 0.02, 0.5
"""An ohms reading is trusted to 2 % and half an ohm (probes on solder; common practice, no source)."""

NEAR_ZERO_VOLTS = 0.05
"""Under this, in diode mode, no silicon junction is in the way (common practice, no source)."""

LEAST_MILLIAMPS, MOST_MILLIAMPS = 0.5, 2.0
"""Meters print 0.7 to 1.2 mA for diode mode (Fluke 45, Fluke 115 manuals; about 1 mA: Steren MUL-010 manual, p.18); the
margin either way is ours."""

NEAR_ZERO_OHMS = NEAR_ZERO_VOLTS / LEAST_MILLIAMPS * 1000
"""A diode-mode reading near zero says: so many ohms or less (100)."""

FAR_FROM_ZERO_OHMS = NEAR_ZERO_VOLTS / MOST_MILLIAMPS * 1000
"""One that is not near zero says: more than this (25), so it is no solder."""


def margin(ohms: float) -> float:
    """How far the true ohms may lie from a reading."""
    return ohms * OHMS_SHARE + OHMS_ADDED
