"""Colours for a terminal, never alone: every state also has a word and a shape. Pure."""

from __future__ import annotations

BLUE, VERMILLION = (0, 114, 178), (213, 94, 0)
"""Okabe-Ito blue for good, vermillion for bad."""


def colour(line: str, tone: str) -> str:
    """The line in its tone's colour, for a terminal that wants colour."""
    rgb = {"good": BLUE, "bad": VERMILLION}.get(tone)
    return f"\x1b[1;38;2;{rgb[0]};{rgb[1]};{rgb[2]}m{line}\x1b[0m" if rgb else line
