"""Readings and events of a job: the one table of their words, ohms and volts, and what each entry is. Pure.

A new word is a row of `WORDS`: the job reader, the live session, its keys and the help texts take it from there. What a
reading means, whether it joins or parts, is for `analysis.replay` to say.
"""

from __future__ import annotations

import re
from math import inf
from typing import NamedTuple

from connector_check.files.text import shown

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
    Word(OHMS, PAIR, value="ohms (0.4, 4.7k, 4k7, OL)"),
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

_NUMBER = r"([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
_UNIT = r"\s*(?:ohms?|\u03a9|\u2126)?"
_OHMS = re.compile(rf"{_NUMBER}\s*([kmr]?){_UNIT}\Z", re.IGNORECASE)
_LETTER_AS_POINT = re.compile(rf"([0-9]*)([kmr])([0-9]+){_UNIT}\Z", re.IGNORECASE)
_THOUSANDS = re.compile(r"([1-9][0-9]{0,2}),([0-9]{3})(?![0-9])")
_VOLTS = re.compile(rf"{_NUMBER}\s*(m?)(?i:v(?:olts?)?)\Z")
_OVER_SHOWN = r"(?:OL|O\.L\.?|0L|0\.L\.?|\.OL|\.0L)"
_OVER_VOLTS = re.compile(rf"{_OVER_SHOWN}\s*V(?:OLTS?)?\Z", re.IGNORECASE)
_OVER_OHMS = re.compile(rf"{_OVER_SHOWN}\s*[kM]?{_UNIT}\Z", re.IGNORECASE)
_POWER_OF_TEN = {"": 0, "r": 0, "R": 0, "k": 3, "K": 3, "M": 6}

OVER_RANGE_OHMS = 1e6
"""`>40M` is over the range; under this much `>` leaves open what a higher range of the meter would show."""

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
    typed = " ".join(text.replace("_", " ").split())
    word = typed.lower()
    if word in _PLAIN:
        return word, None, ""
    ohms = inf if _is_over_range(typed) else parse_ohms(typed)
    if ohms is not None:
        return OHMS, ohms, ""
    volts = parse_volts(typed)
    if volts is not None:
        return VOLTS, volts, ""
    return _two_part(word, typed)


def _is_over_range(text: str) -> bool:
    if text.startswith(">"):
        return (parse_ohms(text[1:]) or 0.0) >= OVER_RANGE_OHMS
    return _OVER_OHMS.match(text) is not None


def _two_part(word: str, typed: str) -> tuple[str, float | None, str] | None:
    for before in _BEFORE_READING:
        if word.startswith(before) and (which := word.removeprefix(before)) in READINGS:
            return before.rstrip(), None, which
    for before in _BEFORE_OHMS:
        if word.startswith(before) and (ohms := parse_ohms(typed[len(before) :])) is not None:
            return before.rstrip(), ohms, ""
    return None


def unread(text: str) -> tuple[str, str]:
    """Why `parse_reading` does not take a text: what is wrong, and the remedy.

    >>> unread("1,200")
    ("'1,200' may part thousands or decimals", 'write 1200 or 1.2')
    """
    said = shown(text)
    value = text.strip().removeprefix(">").lstrip()
    if thousands := _THOUSANDS.match(value):
        return parted(said, thousands[1], thousands[2])
    milli = _OHMS.match(value) or _LETTER_AS_POINT.match(value)
    if milli and milli[2] == "m":
        large = said.replace("m", "M", 1)
        return f"unknown reading '{said}'", f"m may be milli or mega: write {large}, or the ohms in full"
    if value != text.strip() and parse_ohms(value) is not None:
        return f"'{said}' leaves open how much", "measure in the meter's highest range; what is over that is OL"
    return (f"unknown reading '{said}'" if said else "no reading"), f"expected {WORDS_HELP}"


def parted(said: str, whole: str, rest: str) -> tuple[str, str]:
    """What is wrong with a sign that may part thousands or decimals, and the remedy; said: as written."""
    decimal = f"{whole}.{rest}".rstrip("0").rstrip(".")
    return f"'{said}' may part thousands or decimals", f"write {whole}{rest} or {decimal}"


def ohms_text(ohms: float) -> str:
    """A finite value so that `parse_ohms` reads it back, to a millionth of an ohm.

    >>> ohms_text(0.3), ohms_text(12.0), ohms_text(1e-7)
    ('0.3', '12', '0')
    """
    return f"{ohms:.6f}".rstrip("0").rstrip(".")


def parse_ohms(text: str) -> float | None:
    """Ohms from text such as `0.4`, `0,4 Ohm`, `75R`, `4.7 kOhm`, `4k7`, `1.2M`; None when it is none.

    A small `m` is refused: it could mean milliohm or megohm. So is `4,700`, which is 4.7 or 4700; see `unread`.

    >>> parse_ohms("4k7"), parse_ohms("R47"), parse_ohms("75 Ohms"), parse_ohms("4,700"), parse_ohms("5 m")
    (4700.0, 0.47, 75.0, None, None)
    """
    text = text.strip()
    if _THOUSANDS.match(text):
        return None
    if match := _OHMS.match(text):
        digits, letter = match[1].replace(",", "."), match[2]
    elif (match := _LETTER_AS_POINT.match(text)) and (match[1] or match[2] in "rR"):
        digits, letter = f"{match[1]}.{match[3]}", match[2]
    else:
        return None
    power = _POWER_OF_TEN.get(letter)
    # one rounding only, so that 4k7, 4.7k and 4700 are the same number
    return None if power is None else float(f"{digits}e{power}")


def parse_volts(text: str) -> float | None:
    """Volts from `0.512 V`, `0,512V`, `512 mV`, `.5 volts`; infinite for `OL V`; None for anything else, a bare `OL`
    included.

    A minus sign, and more than `MOST_DIODE_VOLTS`, are refused: see `refused_volts`.

    >>> parse_volts("0.512 V"), parse_volts("512 mV"), parse_volts("OL V"), parse_volts("OL"), parse_volts("0.5")
    (0.512, 0.512, inf, None, None)
    """
    text = text.strip()
    if _OVER_VOLTS.match(text):
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
