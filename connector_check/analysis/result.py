"""The one result record that every renderer shows. Points appear by name, readings by their line in the job."""

from __future__ import annotations

from math import inf
from typing import Any, NamedTuple

from connector_check.testlog.readings import OHMS, QUIET, SEEN_CLEAR, VOLTS

CLEAR, REWORK, UNPROVEN = "clear", "rework", "unproven"
NOT_TESTED = "not tested"
"""Said of contact in machine-readable results where it was left out and not all of it is shown."""

LEAK_KIND, RESISTIVE_KIND = "leak", "resistive joint"
"""Ohms too many for solder: between two that must be apart, or two that must join."""
JUNCTION_SHORT, JUNCTION_OPEN, OUTLIER = "short", "open", "outlier"
ODD_JUNCTIONS = (JUNCTION_SHORT, JUNCTION_OPEN, OUTLIER)
"""Kinds of diode-mode findings that say something is wrong."""

MEASURED, INFERRED, ASSUMED = "measured", "inferred", "assumed from the map"
"""How a finding is known: read directly, following from several readings, or from the map alone."""

PointPair = tuple[str, str]

_APART = {OHMS: "read as apart in ohms", VOLTS: "read as apart in diode mode", SEEN_CLEAR: "was seen clear"}


def apart_words(kind: str) -> str:
    """What a reading of that kind says of two points that it shows apart, in words."""
    return _APART.get(kind, "was quiet")


class BridgeSite(NamedTuple):
    """A likely bridge: joints, the gap between them in mm, and where else it may be, equally likely or less."""

    joints: PointPair
    alternatives: tuple[PointPair, ...]
    gap_mm: float
    less_likely: tuple[PointPair, ...] = ()

    @property
    def places(self) -> tuple[PointPair, ...]:
        """Every place, the likeliest first."""
        return self.joints, *self.alternatives, *self.less_likely

    def as_json(self) -> dict[str, Any]:
        """The site for a machine."""
        return {
            "joints": list(self.joints),
            "or": [list(pair) for pair in self.alternatives],
            "less_likely": [list(pair) for pair in self.less_likely],
            "gap_mm": round(self.gap_mm, 3),
        }

    def told(self, most: int | None = None) -> str:
        """The places in words; most: how many are named.

        >>> BridgeSite(("1", "2"), (("2", "3"),), 0.2, (("1", "4"), ("2", "4"))).told(3)
        '1 - 2 or 2 - 3 or less likely 1 - 4 or 1 more places'
        """
        named = [f"{a} - {b}" for a, b in (self.joints, *self.alternatives)]
        named += [f"less likely {a} - {b}" for a, b in self.less_likely]
        left = 0 if most is None else len(named) - most
        return " or ".join([*named[:most], *([f"{left} more places"] if left > 0 else [])])


class Short(NamedTuple):
    """Nets joined that must be apart; harm is one of `harm.GRADES`, volts those at stake; known: `measured` when each
    two of its nets that must be apart beeped directly, `inferred` when some follow from the chain of readings;
    between: joints that its sites lead over and that no reading joins to it yet, to be touched before the iron comes.
    """

    nets: tuple[str, ...]
    joints: tuple[str, ...]
    harm: str
    why: str
    volts: float | None
    sites: tuple[BridgeSite, ...]
    readings: tuple[int, ...]
    known: str = MEASURED
    between: tuple[str, ...] = ()


class Harmless(NamedTuple):
    """A join that is no fault; that it is none is known from the map or the board notes."""

    nets: tuple[str, ...]
    joints: tuple[str, ...]
    why: str
    known: str = ASSUMED


class Open(NamedTuple):
    """A joint that does not reach its net; known: `measured` when a quiet names the joint itself, else `inferred`."""

    net: str
    joint: str
    why: str
    readings: tuple[int, ...]
    known: str = MEASURED


class Measure(NamedTuple):
    """What parts may have made: ohms wanted, or a look. expected_ohms: of the part between the two, or None."""

    pair: PointPair
    nets: tuple[str, ...]
    expected_ohms: tuple[float, float] | None
    solder_below_ohms: float
    why: str


class Leak(NamedTuple):
    """Ohms between solder and silence; likely: where solder that joins two nets would make them; kind: see above."""

    pair: PointPair
    nets: tuple[str, ...]
    ohms: float
    why: str
    likely: BridgeSite | None = None
    kind: str = LEAK_KIND


class ConflictSet(NamedTuple):
    """A quiet and the shortest path of beeps that contradicts it, with the lines of the readings.

    kind: the kind of reading that parts the two: silence, ohms, volts, or a pair seen clear.
    """

    quiet: PointPair
    beeps: tuple[PointPair, ...]
    readings: tuple[int, ...]
    kind: str = QUIET

    @property
    def apart_words(self) -> str:
        """What shows the two apart, in words."""
        return apart_words(self.kind)


class DiodeFinding(NamedTuple):
    """What one joint's reading says.

    kind: one of KINDS; volts: as read, None for OL; group: the lines compared, or ""; expected: the volts between
    which its peers say it should lie, where they were compared; readings: the lines in the job.
    """

    kind: str
    joint: str
    net: str
    volts: float | None
    group: str
    expected: tuple[float, float] | None
    why: str
    readings: tuple[int, ...]


class StripLine(NamedTuple):
    """One joint of the strip of a sweep in diode mode.

    volts: as read, None for OL; expected: the volts between which its fellows say it should lie, or None; reference:
    what known good boards show in volts (infinite for OL), or None; place: where the value lies between the expected
    ones, 0 at the lower and 1 at the upper, None where there is no value or nothing expected; word: what that says.
    """

    joint: str
    net: str
    volts: float | None
    expected: tuple[float, float] | None
    reference: float | None
    place: float | None
    word: str


class Difference(NamedTuple):
    """What reads otherwise than on boards known to be good: a reason to look, never a harm by itself.

    kind: `tone`, `ohms` or `volts` (in diode mode, to ground); points: the two that were read, one for volts; here,
    good: as read here, and the median of the good boards, None for over the range and for tones; expected: between
    which it should lie, or None; lower: lower here, or joined; readings: lines in the job.
    """

    kind: str
    points: tuple[str, ...]
    nets: tuple[str, ...]
    here: float | None
    good: float | None
    expected: tuple[float, float] | None
    lower: bool
    why: str
    readings: tuple[int, ...]


class Count(NamedTuple):
    """Proven of needed; `assumed` are joins shown among fellows only."""

    needed: int
    proven: int
    assumed: int = 0


class Ledger(NamedTuple):
    """What was to be proven and what was.

    joins: joints that the board must join; isolation: conductors that must be apart; contacts: every other joint that
    must reach its board point, whether asked for or not; by_eye: pairs that were seen clear, not measured.
    """

    joins: Count
    isolation: Count
    contacts: Count
    by_eye: int
    not_in_scope: int


class ReworkStep(NamedTuple):
    """One line of the rework list.

    alternatives, less_likely: where else the bridge may be, equally likely or less;
    probe_again: pairs to touch afterwards, each once in the whole list; expected: what each reads on a sound board.
    """

    step: int
    joints: tuple[str, ...]
    nets: tuple[str, ...]
    do: str
    harm: str
    why: str
    alternatives: tuple[PointPair, ...]
    probe_again: tuple[PointPair, ...] = ()
    expected: tuple[str, ...] = ()
    less_likely: tuple[PointPair, ...] = ()

    @property
    def elsewhere(self) -> tuple[PointPair, ...]:
        """Where else the bridge may be, the likeliest first."""
        return *self.alternatives, *self.less_likely


class Record(NamedTuple):
    """What the job log holds: standing, stale and taken-back readings, rounds, lead checks."""

    standing: int
    stale: int
    taken_back: int
    unsure: int
    rounds: int
    lead_checks_good: int
    lead_checks_bad: int
    unproven_silence: int


class Parts(NamedTuple):
    """The two parts of a verdict: whether joints touch that must not, and whether every joint makes contact."""

    shorts: str
    contact: str

    @property
    def whole(self) -> str:
        """The worse of the two."""
        return next(v for v in (REWORK, UNPROVEN, CLEAR) if v in self)


class Doubt(NamedTuple):
    """A bad board that would read the same, and the measurement that tells it from a sound one.

    told: one line; pair, kind: what to do at which two points, kind `touch`, `ohms` or `eyes`; None where nothing tells
    them apart; bound: within which faults it was searched; left_out: what was not searched, in words.
    """

    told: str
    pair: PointPair | None
    kind: str
    bound: str
    left_out: tuple[str, ...] = ()


class Result(NamedTuple):
    """The whole answer of `check`.

    shorts_only: signal contact was left out, so `clear` means clear of shorts and no more.
    """

    map: str
    title: str
    variant: str
    layout: str
    scope: str
    shorts_only: bool
    meter: tuple[float, float]
    verdict: str
    parts: Parts
    shorts: tuple[Short, ...]
    harmless: tuple[Harmless, ...]
    opens: tuple[Open, ...]
    measure: tuple[Measure, ...]
    leaks: tuple[Leak, ...]
    conflicts: tuple[ConflictSet, ...]
    unproven: tuple[PointPair, ...]
    ledger: Ledger
    record: Record
    assumptions: tuple[str, ...]
    rework: tuple[ReworkStep, ...] = ()
    diode: tuple[DiodeFinding, ...] = ()
    strip: tuple[StripLine, ...] = ()
    doubt: Doubt | None = None
    differences: tuple[Difference, ...] = ()

    @property
    def untested(self) -> int:
        """How many joints' signal contact was not shown."""
        return self.ledger.contacts.needed - self.ledger.contacts.proven

    @property
    def shorts_alone(self) -> bool:
        """Whether `clear` speaks of shorts alone: contact was left out and some of it is not shown."""
        return self.verdict == CLEAR and self.shorts_only and self.untested > 0

    @property
    def word(self) -> str:
        """The verdict as people read it, never more than was proven."""
        return "clear of shorts" if self.shorts_alone else self.verdict

    @property
    def has_findings(self) -> bool:
        """Whether anything was found that is to be settled first, by the iron, a measurement or a look."""
        odd = any(found.kind in ODD_JUNCTIONS for found in self.diode)
        return bool(
            self.shorts or self.opens or self.leaks or self.conflicts or self.measure or self.differences or odd
        )

    def as_json(self) -> dict[str, Any]:
        """The machine-readable result, schema 1, as plain lists and dictionaries."""
        ledger = self.ledger
        return {
            "schema": 1,
            "map": self.map,
            "variant": self.variant,
            "layout": self.layout,
            "scope": self.scope,
            "meter": {"sounds_below_ohms": self.meter[0], "silent_above_ohms": self.meter[1]},
            "verdict": self.verdict,
            "parts": {"shorts": self.parts.shorts, "contact": NOT_TESTED if self.shorts_alone else self.parts.contact},
            "shorts_only": self.shorts_only,
            "shorts": [
                {
                    "nets": list(s.nets),
                    "joints": list(s.joints),
                    "harm": s.harm,
                    "why": s.why,
                    "volts": s.volts,
                    "sites": [site.as_json() for site in s.sites],
                    "readings": list(s.readings),
                    "known": s.known,
                    "between": list(s.between),
                }
                for s in self.shorts
            ],
            "harmless": [_plain(h) for h in self.harmless],
            "opens": [_plain(o) for o in self.opens],
            "measure": [_plain(m) for m in self.measure],
            "leaks": [_plain(leak) | {"likely": leak.likely.as_json() if leak.likely else None} for leak in self.leaks],
            "diode": [_plain(d) for d in self.diode],
            "strip": [_plain(line) for line in self.strip],
            "differences": [_plain(d) for d in self.differences],
            "conflicts": [_plain(c) for c in self.conflicts],
            "unproven": [list(pair) for pair in self.unproven],
            "ledger": {
                "joins": _plain(ledger.joins),
                "isolation": {"needed": ledger.isolation.needed, "proven": ledger.isolation.proven},
                "contacts": {"needed": ledger.contacts.needed, "proven": ledger.contacts.proven},
                "by_eye": ledger.by_eye,
                "not_in_scope": ledger.not_in_scope,
            },
            "doubt": _plain(self.doubt),
            "rework": [
                {
                    "step": r.step,
                    "joints": list(r.joints),
                    "nets": list(r.nets),
                    "do": r.do,
                    "harm": r.harm,
                    "why": r.why,
                    "or": [list(p) for p in r.alternatives],
                    "less_likely": [list(p) for p in r.less_likely],
                    "probe_again": [list(p) for p in r.probe_again],
                    "expected": list(r.expected),
                }
                for r in self.rework
            ],
            "record": _plain(self.record),
            "assumptions": list(self.assumptions),
        }


def _plain(value: Any) -> Any:
    """Records as dictionaries, tuples as lists, what is over the range as `OL`."""
    if hasattr(value, "_asdict"):
        return {key: _plain(entry) for key, entry in value._asdict().items()}
    if isinstance(value, tuple):
        return [_plain(entry) for entry in value]
    return "OL" if value == inf else value
