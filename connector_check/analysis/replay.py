"""From the entries of a job to readings with their meaning and fate, and what the standing ones prove. Pure.

Nothing is erased: a reading stands, was taken back, went stale by a rework, or is void by a failed lead check. Each
gets its meaning here, once; findings, residual risk, session, report and history read it and interpret nothing again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import inf
from typing import NamedTuple

from connector_check.analysis.closing import NOTHING_YET, Closed, close
from connector_check.analysis.knowledge import Knowledge
from connector_check.analysis.meaning import (
    NOTHING,
    PARTS,
    conducts,
    excludes_solder,
    is_near_zero,
    net_ohms,
)
from connector_check.analysis.odds import NO_REMARKS, Remarks
from connector_check.analysis.stale import stale_after_rework
from connector_check.board.board import NEAR, Board
from connector_check.board.ohms import LEAK_OHMS
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.readings import (
    BEEP,
    LEADS_BAD,
    LEADS_GOOD,
    LEADS_SILENT,
    LEADS_SOUND,
    MASK_LOST,
    OHMS,
    READINGS,
    REMARK,
    REWORKED,
    SILENT,
    SOLDER_SEEN,
    TAKEN_BACK,
    VOLTS,
    Entry,
)

STANDS, TAKEN, STALE, VOID = "stands", "taken back", "stale", "void"
FATES = (STANDS, TAKEN, STALE, VOID)
WHILE_IRON_WORKS = (REWORKED, REMARK, MASK_LOST, SOLDER_SEEN)
"""Entries that do not end a rework: anything else after a `reworked` line means that probing goes on."""

_IS_READING = frozenset(READINGS)


class Reading(NamedTuple):
    """One reading of a job with all that it amounts to.

    number: its place among the job's entries; entry: as written; meaning: what it proves, NOTHING once it no longer
    stands; ohms: of an ohms reading, the leads' own at that time taken off, else None; round: the round it was taken
    in, from 1; fate: one of FATES; ended_by: the line of the entry that ended it, 0 while it stands.
    """

    number: int
    entry: Entry
    meaning: str
    ohms: float | None
    round: int
    fate: str
    ended_by: int


class Rework(NamedTuple):
    """One visit of the iron: entries `start` up to `stop` (not included); the points it heated; its last line."""

    start: int
    stop: int
    heated: frozenset[int]
    line: int


@dataclass
class Standing:
    """What a job amounts to at its end. Points are numbers of the board.

    job: all its entries; live: the standing readings by their place in it; ended: fate and ending line of the others;
    ohms: of the ohms readings, the leads' own taken off; closed: what the standing ones mean together; remarks: what
    raises a site; reworks: in time order; lead_checks: good and bad ones; leads_ohms: the leads' own resistance at the
    end; unproven_silence: numbers of the standing silent readings that do not lie between two proofs of the leads;
    before_proof: of those that are void, for the leads were proven only after them; nothing_taken: lines of
    `taken back` that found nothing.
    """

    board: Board
    meter: Meter
    scope: str
    job: Sequence[Entry]
    live: dict[int, Entry]
    ended: dict[int, tuple[str, int]] = field(default_factory=dict)
    ohms: dict[int, float] = field(default_factory=dict)
    closed: Closed = NOTHING_YET
    remarks: Remarks = NO_REMARKS
    reworks: list[Rework] = field(default_factory=list)
    lead_checks: list[bool] = field(default_factory=list)
    leads_ohms: float = 0.0
    unproven_silence: list[int] = field(default_factory=list)
    before_proof: list[int] = field(default_factory=list)
    nothing_taken: list[int] = field(default_factory=list)

    @property
    def knowledge(self) -> Knowledge:
        """What the standing readings prove."""
        return self.closed.knowledge

    @property
    def rounds(self) -> int:
        """Probing rounds so far: one more than reworks."""
        return len(self.reworks) + 1

    def count(self, *fates: str) -> int:
        """How many readings came to these ends."""
        return sum(1 for fate, _ in self.ended.values() if fate in fates)

    @cached_property
    def entries(self) -> list[Entry]:
        """The standing readings as written, in time order."""
        return list(self.live.values())

    @cached_property
    def readings(self) -> list[Reading]:
        """The standing readings, in time order."""
        return [self.reading(number) for number in self.live]

    def reading(self, number: int) -> Reading:
        """The reading at that place of the job, standing or not."""
        entry = self.job[number]
        fate, ended_by = self.ended.get(number, (STANDS, 0))
        meaning = self.meaning(number, entry) if fate == STANDS else NOTHING
        round_ = 1 + sum(1 for rework in self.reworks if rework.start < number)
        return Reading(number, entry, meaning, self.ohms.get(number), round_, fate, ended_by)

    @cached_property
    def _parting_by_class(self) -> dict[int, list[Reading]]:
        found: dict[int, list[Reading]] = {}
        for reading in self.readings:
            if reading.meaning == PARTS:
                for root in {self.knowledge.find(p) for p in reading.entry.points}:
                    found.setdefault(root, []).append(reading)
        return found

    def parting_at_class(self, point: int) -> list[Reading]:
        """The standing readings that show a point, or one joined to it, apart from another; in time order."""
        return self._parting_by_class.get(self.knowledge.find(point), [])

    def meaning(self, number: int, entry: Entry) -> str:
        """What a standing reading proves."""
        if excludes_solder(entry):
            return PARTS
        return self.closed.meanings.get(number, NOTHING)

    def unsettled_as(self, meaning: str) -> list[Reading]:
        """The readings that are still DOUBTFUL, a LEAK or RESISTIVE."""
        return [reading for reading in map(self.reading, self.closed.unsettled) if reading.meaning == meaning]

    def close(self) -> None:
        """Judge the readings that stand now."""
        self.closed = close(self.board, self.meter, self.scope, self.live, self.ohms, self.remarks.solder_seen)

    def without(self, numbers: Iterable[int]) -> Standing:
        """The same job with these readings no longer standing, as after a rework that made them stale."""
        gone = set(numbers)
        kept = {number: entry for number, entry in self.live.items() if number not in gone}
        kept_only = replace(self, live=kept)
        kept_only.close()
        return kept_only


def replay(
    board: Board,
    entries: Sequence[Entry],
    meter: Meter = UNKNOWN_METER,
    scope: str = NEAR,
    stale_at: dict[int, list[int]] | None = None,
) -> Standing:
    """Walk the entries in time order and return what stands at the end.

    scope: which neighbours solder can bridge when it decides what a rework made stale; stale_at: what each rework made
    stale, by the number of entries up to its end, kept by a caller that only ever adds entries.
    """
    walk = _Walk(Standing(board, meter, scope, entries, {}, leads_ohms=meter.leads_ohms), stale_at)
    walk.run()
    return walk.standing


class _Walk:
    """Takes the entries one by one; what stands so far is in `standing`.

    Silence counts between two proofs of the leads, a good lead check or a reading that conducts: `waiting` holds what
    was silent since the last one, `early` what was silent while the leads were not proven. Nothing later mends that: a
    good check says that the leads are whole from there on, so it ends what is early.
    """

    def __init__(self, standing: Standing, stale_at: dict[int, list[int]] | None = None) -> None:
        self.standing = standing
        self.stale_at = {} if stale_at is None else stale_at
        self.heated: set[int] = set()
        self.began = 0
        self.heated_line = 0
        self.proven = False
        self.leads_touch = False
        self.last_good = 0
        self.waiting: list[int] = []
        self.early: set[int] = set()
        self.mask_lost: set[frozenset[int]] = set()
        self.solder_seen: set[frozenset[int]] = set()
        self.reworked: set[int] = set()
        self.events: dict[str, Callable[[int, Entry], None]] = {
            TAKEN_BACK: self.take_back,
            LEADS_GOOD: self.leads_good,
            LEADS_SILENT: lambda _, entry: self.leads_bad(entry, silent=True),
            LEADS_SOUND: lambda _, entry: self.leads_bad(entry, sound=True),
            LEADS_BAD: lambda _, entry: self.leads_bad(entry, silent=True, sound=True),
            REWORKED: self.iron,
            MASK_LOST: lambda _, entry: self.mask_lost.add(frozenset(entry.points)),
            SOLDER_SEEN: lambda _, entry: self.solder_seen.add(frozenset(entry.points)),
            REMARK: lambda _number, _entry: None,
        }

    def run(self) -> None:
        standing = self.standing
        live, ohms = standing.live, standing.ohms
        for number, entry in enumerate(standing.job):
            kind = entry.kind
            if self.heated and kind not in WHILE_IRON_WORKS:
                self.end_rework(number)
            if kind in _IS_READING:
                live[number] = entry
                if conducts(entry):
                    # leads that touch sound on anything
                    if not self.leads_touch:
                        self.prove_leads()
                elif _is_silent(entry):
                    self.waiting.append(number)
                    if not self.proven:
                        self.early.add(number)
                if kind == OHMS:
                    ohms[number] = net_ohms(entry, standing.leads_ohms) or 0.0
            else:
                self.events[kind](number, entry)
        if self.heated:
            self.end_rework(len(standing.job))
        standing.unproven_silence = [n for n in {*self.early, *self.waiting} if n in live]
        self.close()

    def close(self) -> None:
        standing = self.standing
        standing.remarks = Remarks(
            frozenset(self.mask_lost),
            frozenset(self.solder_seen),
            frozenset(self.reworked),
            tuple(rework.heated for rework in standing.reworks),
        )
        standing.close()

    def prove_leads(self) -> None:
        self.proven = True
        self.waiting.clear()

    def end(self, numbers: Iterable[int], fate: str, line: int) -> None:
        for number in numbers:
            del self.standing.live[number]
            self.standing.ended[number] = fate, line

    def take_back(self, _: int, entry: Entry) -> None:
        live = self.standing.live
        for before in reversed(live):
            old = live[before]
            same_pair = not entry.points or set(old.points) == set(entry.points)
            if same_pair and (not entry.which or old.kind == entry.which):
                self.end([before], TAKEN, entry.line)
                return
        self.standing.nothing_taken.append(entry.line)

    def leads_good(self, number: int, entry: Entry) -> None:
        self.standing.lead_checks.append(True)
        self.prove_leads()
        unproven = sorted(n for n in self.early if n in self.standing.live)
        self.standing.before_proof += unproven
        self.end(unproven, VOID, entry.line)
        self.early.clear()
        self.leads_touch = False
        self.last_good = number
        if entry.ohms is not None:
            self.standing.leads_ohms = entry.ohms

    def leads_bad(self, entry: Entry, silent: bool = False, sound: bool = False) -> None:
        """silent: no tone together, so silence since the last proof is void; sound: a tone apart, so are tones."""
        live = self.standing.live
        self.standing.lead_checks.append(False)
        self.proven = False
        void = [n for n in self.waiting if n in live] if silent else []
        if sound:
            self.leads_touch = True
            void += [n for n, e in live.items() if n >= self.last_good and _is_sound(e)]
        self.end(dict.fromkeys(void), VOID, entry.line)
        self.waiting.clear()

    def iron(self, number: int, entry: Entry) -> None:
        if not self.heated:
            self.began = number
        here = {joint for point in entry.points for joint in self.standing.board.joints_at(point)}
        self.heated |= here
        self.heated_line = entry.line
        # Solder seen before the iron came is no longer evidence about these joints.
        self.solder_seen = {pair for pair in self.solder_seen if not pair & here}

    def end_rework(self, stop: int) -> None:
        standing, heated = self.standing, self.heated
        standing.reworks.append(Rework(self.began, stop, frozenset(heated), self.heated_line))
        self.reworked |= heated
        if stop not in self.stale_at:
            self.close()
            live = ((n, e, standing.meaning(n, e)) for n, e in standing.live.items())
            self.stale_at[stop] = stale_after_rework(
                standing.board, standing.closed.measured, live, heated, standing.scope
            )
        self.end(self.stale_at[stop], STALE, self.heated_line)
        self.heated = set()


def _is_silent(entry: Entry) -> bool:
    """What a broken lead gives as well: silence, over the range, high ohms."""
    if entry.kind == OHMS:
        return (entry.ohms or 0.0) >= LEAK_OHMS
    return entry.kind in SILENT or (entry.kind == VOLTS and entry.ohms == inf)


def _is_sound(entry: Entry) -> bool:
    """What leads that touch give as well: a tone, low ohms, volts near zero."""
    return entry.kind == BEEP or is_near_zero(entry) or (entry.kind == OHMS and (entry.ohms or 0.0) < LEAK_OHMS)
