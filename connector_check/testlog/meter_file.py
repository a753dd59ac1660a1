"""What is known of a meter: typed as `10:250`, a small YAML file, or found by the guided self-test. Pure but for
`load_meter`.

A meter file, every key but `format` may be left out:

    format: 1
    name: the handheld in the drawer
    sounds_below: 30
    silent_above: 70
    leads_ohms: 0.2
    latency_ms: 100
    beeps_on_junction: no
    source: its manual, page 19
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

from connector_check.errors import InputError
from connector_check.files.fields import Fields
from connector_check.files.reading import read_capped
from connector_check.files.text import printable, shown
from connector_check.files.yaml_out import in_quotes
from connector_check.files.yaml_text import Table, read_yaml
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.readings import BEEP, QUIET

MAX_BYTES = 100_000
MOST_OHMS = 1e6
KEYS = ("format", "name", "sounds_below", "silent_above", "leads_ohms", "latency_ms", "beeps_on_junction", "source")
_PAIR = re.compile(r"([0-9]*\.?[0-9]+)\s*(?:ohms?)?\s*[\s:,/;-]\s*([0-9]*\.?[0-9]+)\s*(?:ohms?)?\Z", re.IGNORECASE)

TOUCHES = 3
"""How often the self-test asks for each resistor. Inside its dead band a meter may answer either way, so one touch
there says nothing; three equal ones can still be chance, and the result says so."""


@dataclass(frozen=True)
class MeterDescription:
    """A meter as the user describes it.

    meter: its two thresholds, ohms; name and source: the user's own words; leads_ohms: its leads' own resistance;
    latency_ms: the shortest touch it sounds on; beeps_on_junction: whether it sounds on a junction in diode mode. None
    is not known.
    """

    meter: Meter = UNKNOWN_METER
    name: str = ""
    leads_ohms: float | None = None
    latency_ms: float | None = None
    beeps_on_junction: bool | None = None
    source: str = ""


def parse_meter(text: str, file: str = "--meter", line: int = 0) -> MeterDescription:
    """The meter of `10:250`: sounds below, silent above, in ohms. file, line: what to name in the message.

    Raises InputError.

    >>> parse_meter("10:250").meter, parse_meter("30 70").meter
    (Meter(sounds_below=10.0, silent_above=250.0), Meter(sounds_below=30.0, silent_above=70.0))
    """
    match = _PAIR.match(text.strip())
    low, high = (float(match[1]), float(match[2])) if match else (0.0, 0.0)
    if not 0 < low <= high <= MOST_OHMS:
        raise InputError.one(
            file,
            line,
            f"meter '{shown(text)}'",
            "expected two ohms, sounds below and silent above, the smaller first: 10:250",
        )
    return MeterDescription(Meter(low, high))


def load_meter(path: Path | str) -> MeterDescription:
    """Read and check a meter file. Raises InputError with every problem at once."""
    return parse_meter_file(
        read_capped(path, str(path), MAX_BYTES, "give a meter file, or two ohms: 10:250"), str(path)
    )


def parse_meter_file(raw: bytes, file: str) -> MeterDescription:
    """Check the bytes of a meter file; see `load_meter`."""
    if len(raw) > MAX_BYTES:
        raise InputError.one(file, 0, f"larger than {MAX_BYTES:,} bytes", "a meter file has a dozen lines")
    if not any(line.strip() and not line.lstrip().startswith(b"#") for line in raw.splitlines()):
        raise InputError.one(file, 0, "the file is empty", "a meter file starts with 'format: 1'")
    tree, problems = read_yaml(raw, file)
    reader = Fields(file, problems)
    top = reader.table(tree, "the meter file", set(KEYS))
    found = _described(reader, top) if top else None
    if reader.problems or found is None:
        raise InputError(reader.problems)
    return found


def _described(reader: Fields, top: Table) -> MeterDescription:
    what = "the meter file"

    def ohms(key: str, least: float) -> float | None:
        return reader.number(top.entries.get(key), f"'{key}'", least, MOST_OHMS)

    reader.check_format(top, what)
    low, high = ohms("sounds_below", 0.01), ohms("silent_above", 0.01)
    if low is not None and high is not None and low > high:
        what_is_wrong = f"sounds below {low:g} ohm but is silent above {high:g} ohm"
        reader.say(top.lines["sounds_below"], what_is_wrong, "sounds_below is the smaller of the two")
    # A manual that prints one threshold says nothing of the other: the careful default, moved only where it must.
    sounds = low if low is not None else min(UNKNOWN_METER.sounds_below, high or UNKNOWN_METER.sounds_below)
    silent = high if high is not None else max(UNKNOWN_METER.silent_above, low or UNKNOWN_METER.silent_above)
    junction = reader.word(top, "beeps_on_junction", what, ("yes", "no"), "")
    return MeterDescription(
        Meter(sounds, silent),
        name=reader.text(top, "name", what, required=False),
        leads_ohms=reader.number(top.entries.get("leads_ohms"), "'leads_ohms'", 0, 100),
        latency_ms=reader.number(top.entries.get("latency_ms"), "'latency_ms'", 0, 10_000),
        beeps_on_junction={"yes": True, "no": False}.get(junction),
        source=reader.text(top, "source", what, required=False),
    )


def meter_text(described: MeterDescription) -> str:
    """A meter file that reads back as this description."""

    def number(value: float) -> str:
        return repr(value).removesuffix(".0")

    def words(text: str) -> str:
        return in_quotes(printable(text).strip())

    lines = ["format: 1"]
    if described.name:
        lines.append(f"name: {words(described.name)}")
    lines.append(f"sounds_below: {number(described.meter.sounds_below)}")
    lines.append(f"silent_above: {number(described.meter.silent_above)}")
    if described.leads_ohms is not None:
        lines.append(f"leads_ohms: {number(described.leads_ohms)}")
    if described.latency_ms is not None:
        lines.append(f"latency_ms: {number(described.latency_ms)}")
    if described.beeps_on_junction is not None:
        lines.append(f"beeps_on_junction: {'yes' if described.beeps_on_junction else 'no'}")
    if described.source:
        lines.append(f"source: {words(described.source)}")
    return "\n".join(lines) + "\n"


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
        if quiet and min(quiet) < default.sounds_below:
            if not low:
                problem = (
                    f"quiet at {min(quiet):g} ohm and nothing smaller beeped: solder could be silent on this meter; "
                    "check battery and leads, or test a smaller resistor"
                )
        elif low < default.sounds_below:
            low = default.sounds_below
            notes.append(f"sounds below: not found, the careful {low:g} ohm stays")
        if beeped and max(beeped) > default.silent_above:
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

    def described(self, name: str = "") -> MeterDescription | None:
        """The result as a description, or None when the thresholds cannot be told."""
        meter = self.outcome().meter
        if meter is None:
            return None
        used = ", ".join(f"{r:g}" for r in self.resistors)
        return MeterDescription(meter, name, source=f"self-test with {used} ohm, each touched up to {TOUCHES} times")
