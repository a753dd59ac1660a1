"""Readings and events of a job: the one table of their words, ohms and volts, and what each entry is. Pure.

A new word is a row of `WORDS`: the job reader, the live session, its keys and the help texts take it from there. What a
reading means, whether it joins or parts, is for `analysis.replay` to say.
"""

from __future__ import annotations

import re
from math import inf
from typing import NamedTuple

BEEP, QUIET, CHIRP, UNSURE, OHMS, VOLTS, SEEN_CLEAR = (
    "beep",
    "quiet",
    "chirp",
    "unsure",
    "ohms",
    "volts",
    "seen clear",
)
LEADS_GOOD, LEADS_BAD, LEADS_SILENT, LEADS_SOUND = "leads good", "leads bad", "leads silent", "leads sound"
REWORKED, TAKEN_BACK, MASK_LOST, SOLDER_SEEN, REMARK = "reworked", "taken back", "mask lost", "solder seen", "remark"

LEADS_FAILED = (LEADS_BAD, LEADS_SILENT, LEADS_SOUND)
PAIR, GROUND_PAIR, JOINT_PAIR = "pair", "pair with ground", "pair of joints"
NO_PINS, JOINTS, PAIR_OR_NONE, ANY_PINS = "no pins", "joints", "pair or none", "any pins"


class Word(NamedTuple):
    """One word of the `reading` column.

    word: as written, and the kind of its entries; pins: what it names, one of the seven above, the first three for
    readings; value: how it is written when it is a value and not the word; after: what may follow the word, OHMS or a
    reading's word ("reading"); key: its key in the live session, where it is answered in one keystroke; told: the word
    in the help of the keys; silent: no steady tone, so it counts between two proofs of the leads; first: what the
    session explains when it is answered for the first time.
    """

    word: str
    pins: str
    value: str = ""
    after: str = ""
    key: str = ""
    told: str = ""
    silent: bool = False
    first: str = ""


WORDS = (
    Word(BEEP, PAIR, key="b"),
    Word(QUIET, PAIR, key="n", told="quiet (no tone)", silent=True),
    Word(
        CHIRP,
        PAIR,
        key="c",
        silent=True,
        first="a chirp is a capacitor charging: it counts as silent. Only a tone that stays for two seconds is a path.",
    ),
    Word(UNSURE, PAIR, key="u"),
    Word(OHMS, PAIR, value="ohms (0.4, 4.7k, OL)"),
    Word(VOLTS, GROUND_PAIR, value="volts in diode mode (0.512 V, 512 mV, OL V)"),
    Word(SEEN_CLEAR, JOINT_PAIR, key="e", told="seen clear (looked at under magnification)"),
    Word(LEADS_GOOD, NO_PINS, after=OHMS),
    Word(LEADS_BAD, NO_PINS),
    Word(LEADS_SILENT, NO_PINS),
    Word(LEADS_SOUND, NO_PINS),
    Word(REWORKED, JOINTS),
    Word(TAKEN_BACK, PAIR_OR_NONE, after="reading"),
    Word(MASK_LOST, JOINTS),
    Word(SOLDER_SEEN, JOINTS),
    Word(REMARK, ANY_PINS),
)

WORD = {word.word: word for word in WORDS}
READINGS = tuple(word.word for word in WORDS if word.pins in (PAIR, GROUND_PAIR, JOINT_PAIR))
EVENTS = tuple(word.word for word in WORDS if word.word not in READINGS)
SILENT = tuple(word.word for word in WORDS if word.silent)
PRESSED = tuple(word for word in WORDS if word.key)
"""Answered in one keystroke."""

_PLAIN = frozenset(word.word for word in WORDS if not word.value)
WORDS_HELP = (
    ", ".join([*sorted(_PLAIN.intersection(READINGS)), *(word.value for word in WORDS if word.value)])
    + f", or an event: {', '.join(EVENTS)}"
)

_OHMS = re.compile(r"(\d+(?:[.,]\d+)?|[.,]\d+)\s*([kKmMrR]?)\s*(?:ohms?|\u03a9|\u2126)?\Z")
_UNCLEAR = re.compile(r"[1-9]\d{0,2},\d{3}(?!\d)")
_VOLTS = re.compile(r"([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)\s*(m?)[vV](?:olts?)?\Z")
_OVER = re.compile(r"(?:OL|O\.L\.?|0L)\s*V(?:OLTS?)?\Z", re.IGNORECASE)
_OVER_OHMS = ("ol", "o.l", "o.l.", "0l")
_SCALE = {"": 1.0, "r": 1.0, "R": 1.0, "k": 1e3, "K": 1e3, "M": 1e6}
_BEFORE_OHMS = tuple(word.word + " " for word in WORDS if word.after == OHMS)
_BEFORE_READING = tuple(word.word + " " for word in WORDS if word.after == "reading")


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
    if word in _PLAIN:
        return word, None, ""
    ohms = inf if word in _OVER_OHMS else parse_ohms(text)
    if ohms is not None:
        return OHMS, ohms, ""
    volts = parse_volts(text)
    if volts is not None:
        return VOLTS, volts, ""
    return _two_part(word)


def _two_part(word: str) -> tuple[str, float | None, str] | None:
    for before in _BEFORE_READING:
        if word.startswith(before) and (which := word.removeprefix(before)) in READINGS:
            return before.rstrip(), None, which
    for before in _BEFORE_OHMS:
        if word.startswith(before) and (ohms := parse_ohms(word.removeprefix(before))) is not None:
            return before.rstrip(), ohms, ""
    return None


def ohms_text(ohms: float) -> str:
    """A finite value so that `parse_ohms` reads it back, to a millionth of an ohm.

    >>> ohms_text(0.3), ohms_text(12.0), ohms_text(1e-7)
    ('0.3', '12', '0')
    """
    return f"{ohms:.6f}".rstrip("0").rstrip(".")


def parse_ohms(text: str) -> float | None:
    """Ohms from text such as `0.4`, `0,4 ohm`, `75R`, `4.7k`, `1.2 Mohm`; None when it is none.

    A small `m` is refused: it could mean milliohm or megohm. So is `4,700`; see `has_unclear_comma`.
    """
    match = _OHMS.match(text.strip())
    if not match or match[2] == "m" or has_unclear_comma(text):
        return None
    return float(match[1].replace(",", ".")) * _SCALE[match[2]]


def has_unclear_comma(text: str) -> bool:
    """Whether a comma may part thousands or decimals: `4,700` is 4.7 or 4700."""
    return _UNCLEAR.match(text.strip()) is not None


def parse_volts(text: str) -> float | None:
    """Volts from `0.512 V`, `0,512V`, `512 mV`; infinite for `OL V`; None for anything else, a bare `OL` included.

    A minus sign, and more than `MOST_DIODE_VOLTS`, are refused: see `refused_volts`.

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
    value = value / 1000 if match[2] else value
    return value if value <= MOST_DIODE_VOLTS else None


def refused_volts(text: str) -> tuple[str, str] | None:
    """What is wrong with volts that no dead board shows in diode mode, and the remedy; None where nothing is.

    >>> refused_volts("0.512 V"), refused_volts("4.98 V")[0], refused_volts("-0.512 V")[0]
    (None, 'the board may be live: stop', 'minus 0.512 V: the leads may be swapped')
    """
    match = _SIGNED_VOLTS.match(text.strip())
    if not match:
        return None
    value = float(match[2].replace(",", ".")) * (1e-3 if match[3] else 1.0)
    return live_board(-value if match[1] else value)


def live_board(volts: float) -> tuple[str, str] | None:
    """As `refused_volts`, of a value in volts."""
    if 0 <= volts <= MOST_DIODE_VOLTS:
        return None
    if SWAPPED_LEADS[0] <= -volts <= SWAPPED_LEADS[1]:
        what = f"minus {-volts:g} V: the leads may be swapped"
        return what, f"red lead on ground, black on the contact, touch again; still minus: {LIVE}, {MAKE_DEAD}"
    return LIVE, f"{volts:g} V is more than a dead board shows: {MAKE_DEAD}; nothing was taken as a reading"


LIVE = "the board may be live: stop"
MAKE_DEAD = "unplug it, take batteries out, discharge and measure the capacitors"
MOST_DIODE_VOLTS = 3.5
"""More is no junction on a dead board: meters drive diode mode with about 3 V (common practice, no source)."""
SWAPPED_LEADS = (0.2, 1.0)
"""The size of a junction, in volts: the one negative value that swapped leads may explain."""
_SIGNED_VOLTS = re.compile(r"([-\u2212]?)\s*([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)\s*(m?)[vV](?:olts?)?\Z")
