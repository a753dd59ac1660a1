"""The guided self-test of a meter: known resistors, touched in turn, and what its answers tell. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import NamedTuple

from connector_check.files.text import shown
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.meter_file import MOST_OHMS
from connector_check.testlog.readings import BEEP, QUIET, parse_ohms

TOUCHES = 3
"""How often the self-test asks for each resistor. Inside its dead band a meter may answer either way, so one touch
there says nothing; three equal ones can still be chance, and the result says so."""

_UNIT_APART = re.compile(r"(?<=[0-9.])\s+(?=(?:[kmr]?(?:ohms?|\u03a9|\u2126)|[kmr])(?:[\s,;]|\Z))", re.IGNORECASE)
_BETWEEN = re.compile(r"\s*[,;]\s+|\s+|;")
_LONG_FRACTION = re.compile(r"[0-9]+,[0-9]{2,}")


def parse_resistors(text: str) -> list[float]:
    """The ohms of resistors named in one line, apart by blanks, commas or semicolons. Raises ValueError with a message.

    >>> parse_resistors("22 47 100"), parse_resistors("22,47,100"), parse_resistors("4,7 Ohm, 0.1k; 47 ohm")
    ([22.0, 47.0, 100.0], [22.0, 47.0, 100.0], [4.7, 100.0, 47.0])
    """
    words = _BETWEEN.split(_UNIT_APART.sub("", text.strip(" \t,;")))
    if len(words) == 1:
        # one value is no test: between the digits of one word, commas part values
        words = words[0].split(",")
    found = []
    for word in words:
        if _LONG_FRACTION.match(word):
            raise ValueError(
                f"'{shown(word)}' may be one value or two: write {shown(word).replace(',', '.')}, or a blank"
            )
        ohms = parse_ohms(word)
        if ohms is None:
            raise ValueError(f"'{shown(word)}' is no ohms: write them as 22 47 100, or 4.7 0.1k")
        found.append(ohms)
    return found


class Outcome(NamedTuple):
    """What the self-test found: the thresholds (None when they cannot be told), what to say, contradictory answers."""

    meter: Meter | None
    notes: tuple[str, ...]
    contradictions: tuple[str, ...]


@dataclass(frozen=True)
class SelfTest:
    """The guided self-test: known resistors, touched in turn, and the answers so far. Each step is a new value.

    resistors: ohms, measured or marked; answers: (ohms, BEEP or QUIET) in time order.

    >>> test = SelfTest.of([100, 22])
    >>> for answer in [BEEP, QUIET] * 3:
    ...     test = test.answer(answer)
    >>> test.outcome().meter
    Meter(sounds_below=22, silent_above=100)
    """

    resistors: tuple[float, ...]
    answers: tuple[tuple[float, str], ...] = ()

    @classmethod
    def of(cls, ohms: list[float]) -> SelfTest:
        """A test with these resistors, smallest first. Raises ValueError for fewer than two or more than eight."""
        resistors = tuple(sorted(set(ohms)))
        if not 2 <= len(resistors) <= 8 or not all(0 < r <= MOST_OHMS for r in resistors):
            raise ValueError(f"two to eight different resistors, each over 0 and at most {MOST_OHMS:,.0f} ohm")
        return cls(resistors)

    def said(self, ohms: float) -> list[str]:
        """The answers at one resistor."""
        return [answer for at, answer in self.answers if at == ohms]

    def next(self) -> float | None:
        """The resistor to touch next, or None at the end: each once a round, one that gave both answers no more."""
        open_ones = [r for r in self.resistors if len(self.said(r)) < TOUCHES and len(set(self.said(r))) < 2]
        return min(open_ones, key=lambda r: (len(self.said(r)), r), default=None)

    def answer(self, heard: str) -> SelfTest:
        """The test after BEEP or QUIET at the resistor that `next` named."""
        ohms = self.next()
        if ohms is None or heard not in (BEEP, QUIET):
            raise ValueError(f"no answer '{heard}' here")
        return replace(self, answers=(*self.answers, (ohms, heard)))

    def take_back(self) -> SelfTest:
        """The test before its last answer."""
        return replace(self, answers=self.answers[:-1])

    def _steady(self, heard: str) -> list[float]:
        return [r for r in self.resistors if self.said(r) == [heard] * TOUCHES]

    def outcome(self) -> Outcome:
        """The thresholds as far as the answers tell them; what they leave open stays with the careful default.

        Sounds below: the largest resistor with only beeps under which none was ever quiet. Silent above: the smallest
        with only quiets over which none ever beeped. One answer against the default widens it at once.
        """
        beeped = {ohms for ohms, heard in self.answers if heard == BEEP}
        quiet = {ohms for ohms, heard in self.answers if heard == QUIET}
        sounding = [r for r in self._steady(BEEP) if not quiet or r < min(quiet)]
        silent = [r for r in self._steady(QUIET) if not beeped or r > max(beeped)]
        default = UNKNOWN_METER
        low = max(sounding, default=0.0)
        high = min(silent, default=0.0)
        notes = []
        problem = ""
        if quiet and min(quiet) <= default.sounds_below:
            if not low:
                problem = (
                    f"quiet at {min(quiet):g} ohm and nothing smaller beeped: solder could be silent on this meter; "
                    "check battery and leads, or test a smaller resistor"
                )
        elif low < default.sounds_below:
            low = default.sounds_below
            notes.append(f"sounds below: not found, the careful {low:g} ohm stays")
        if beeped and max(beeped) >= default.silent_above:
            if not high:
                more = f"beeps at {max(beeped):g} ohm and nothing larger was quiet: test a larger resistor"
                problem = f"{problem}; {more}" if problem else more
        elif not high or high > default.silent_above:
            high = default.silent_above
            notes.append(f"silent above: not found, the careful {high:g} ohm stays")
        mixed = [r for r in self.resistors if len(set(self.said(r))) == 2]
        if mixed:
            named = ", ".join(f"{r:g}" for r in mixed)
            notes.append(f"both answers at {named} ohm: inside the meter's dead band, where a beep says little")
        if problem:
            return Outcome(None, (*notes, problem), self._contradictions())
        if sounding or silent:
            notes.append(
                f"{TOUCHES} equal answers inside the dead band can be chance: where a manual prints a lower 'sounds "
                "below' or a higher 'silent above', take the manual's"
            )
        return Outcome(Meter(low, high), tuple(notes), self._contradictions())

    def _contradictions(self) -> tuple[str, ...]:
        return tuple(
            f"quiet at {small:g} ohm, a beep at {large:g} ohm: a value mistyped, a missed touch, or both inside the "
            "dead band; neither narrows anything"
            for small in self._steady(QUIET)
            for large in self._steady(BEEP)
            if small < large
        )

    def described(self, name: str = "") -> Meter | None:
        """The meter as it was found, or None when the thresholds cannot be told."""
        meter = self.outcome().meter
        if meter is None:
            return None
        used = ", ".join(f"{r:g}" for r in self.resistors)
        return replace(meter, name=name, source=f"self-test with {used} ohm, each touched up to {TOUCHES} times")
