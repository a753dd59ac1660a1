"""Readings and events of a job: the words, ohms, and what each entry is. Pure."""

from __future__ import annotations

import re
from math import inf
from typing import NamedTuple

BEEP, CHIRP, QUIET, UNSURE, OHMS, VOLTS = "beep", "chirp", "quiet", "unsure", "ohms", "volts"
LEADS_GOOD, LEADS_BAD, REWORKED, TAKEN_BACK, MASK_LOST = (
    "leads good",
    "leads bad",
    "reworked",
    "taken back",
    "mask lost",
)
SOLDER_SEEN, REMARK = "solder seen", "remark"
READINGS = (BEEP, CHIRP, QUIET, UNSURE, OHMS, VOLTS)
EVENTS = (LEADS_GOOD, LEADS_BAD, REWORKED, TAKEN_BACK, MASK_LOST, SOLDER_SEEN, REMARK)
WORDS_HELP = (
    "beep, chirp, quiet, unsure, ohms (0.4, 4.7k, OL), volts in diode mode (0.512 V, OL V), or an event: "
    + ", ".join(EVENTS)
)

_OHMS = re.compile(r"(\d+(?:[.,]\d+)?|[.,]\d+)\s*([kKmMrR]?)\s*(?:ohms?|\u03a9|\u2126)?\Z")
_VOLTS = re.compile(r"([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)\s*(m?)[vV](?:olts?)?\Z")
_OVER = re.compile(r"(?:OL|O\.L\.?|0L)\s*V(?:OLTS?)?\Z", re.IGNORECASE)
_SCALE = {"": 1.0, "r": 1.0, "R": 1.0, "k": 1e3, "K": 1e3, "M": 1e6}
_TAKEN = re.compile(r"taken back(?: (beep|chirp|quiet|unsure|ohms|volts))?\Z")
_LEADS = re.compile(r"(leads good)\s+(.+)\Z")


class Entry(NamedTuple):
    """One line of a job.

    line: its line in the file, 1-based; kind: one of READINGS or EVENTS; points: the point numbers it names (two for
    a reading, any number for an event); ohms: the value as read, infinite for OL (volts for a
    diode-mode reading); note: the user's own words;
    which: the kind of reading that a `taken back` names, or "".
    """

    line: int
    kind: str
    points: tuple[int, ...]
    ohms: float | None = None
    note: str = ""
    which: str = ""


def parse_reading(text: str) -> tuple[str, float | None, str] | None:
    """What the `reading` column says: (kind, ohms, which), or None for an unknown word.

    >>> parse_reading("Beep"), parse_reading("0.4 ohm"), parse_reading("4.7k"), parse_reading("OL")
    (('beep', None, ''), ('ohms', 0.4, ''), ('ohms', 4700.0, ''), ('ohms', inf, ''))
    >>> parse_reading("taken back quiet"), parse_reading("leads good 0.3"), parse_reading("hmm")
    (('taken back', None, 'quiet'), ('leads good', 0.3, ''), None)
    """
    word = " ".join(text.lower().replace("_", " ").split())
    if word in (BEEP, CHIRP, QUIET, UNSURE) or word in EVENTS:
        return word, None, ""
    if word in ("ol", "o.l", "o.l.", "0l"):
        return OHMS, float("inf"), ""
    ohms = parse_ohms(text)
    if ohms is not None:
        return OHMS, ohms, ""
    volts = parse_volts(text)
    if volts is not None:
        return VOLTS, volts, ""
    if match := _TAKEN.match(word):
        return TAKEN_BACK, None, match[1] or ""
    if (match := _LEADS.match(word)) and (ohms := parse_ohms(match[2])) is not None:
        return LEADS_GOOD, ohms, ""
    return None


def parse_ohms(text: str) -> float | None:
    """Ohms from text such as `0.4`, `0,4 ohm`, `75R`, `4.7k`, `1.2 Mohm`; None when it is none.

    A small `m` is refused: it could mean milliohm or megohm.
    """
    match = _OHMS.match(text.strip())
    if not match or match[2] == "m":
        return None
    return float(match[1].replace(",", ".")) * _SCALE[match[2]]


def parse_volts(text: str) -> float | None:
    """Volts from `0.512 V`, `0,512V`, `512 mV`; infinite for `OL V`; None for anything else, a bare `OL` included.

    A minus sign is refused: it means swapped leads or volts left on the board.

    >>> parse_volts("0.512 V"), parse_volts("512 mV"), parse_volts("OL V"), parse_volts("OL"), parse_volts("0.5")
    (0.512, 0.512, inf, None, None)
    """
    text = text.strip()
    if _OVER.match(text):
        return inf
    match = _VOLTS.match(text)
    if not match:
        return None
    value = float(match[1].replace(",", "."))
    return value / 1000 if match[2] else value
