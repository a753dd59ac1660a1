"""Roles and nominal volts as people write them: in a table of pins, in a job, in options. Pure."""

from __future__ import annotations

import re

from connector_check.pinout.pinmap import DATA, GROUND, MOST_VOLTS, POWER, ROLES, SHELL

ROLE_WORDS = {**{role: role for role in ROLES}, "supply": POWER, "gnd": GROUND, "shield": SHELL, "signal": DATA}
"""The role that each word means; beside the names of the roles, what people call them (common practice, no source)."""
ROLE_REMEDY = f"expected one of {', '.join(ROLE_WORDS)}"
VOLTS_REMEDY = "expected a number, say 3.3 or -12"
_VOLTS = re.compile(r"([+-]?[0-9]{1,4}(?:\.[0-9]{1,3})?) ?(?:V(?:DC)?)?|([+-]?[0-9]{1,4})V([0-9]{1,3})", re.IGNORECASE)


def role_of_word(text: str) -> str | None:
    """The role that a word means, case ignored, or None.

    >>> role_of_word("Supply"), role_of_word("gnd"), role_of_word("aerial")
    ('power', 'ground', None)
    """
    return ROLE_WORDS.get(text.strip().lower())


def volts_of_word(text: str) -> float | None:
    """Nominal volts, or None for what is no voltage or more than any net is believed to carry.

    >>> [volts_of_word(text) for text in ("5", "3.3V", "-12 V", "3V3", "24 VDC", "five", "99999")]
    [5.0, 3.3, -12.0, 3.3, 24.0, None, None]
    """
    match = _VOLTS.fullmatch(text.strip())
    if match is None:
        return None
    volts = float(match[1] or f"{match[2]}.{match[3]}")
    return volts if abs(volts) <= MOST_VOLTS else None
