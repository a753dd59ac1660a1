"""What a live session remembers between two answers: the job so far, what stands of it, the plan, what was put off.

Pure: no terminal, clock or file.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property

from connector_check.analysis.contact import Contacts
from connector_check.analysis.examine import Examined, Settings, examine
from connector_check.analysis.knowledge import UNKNOWN, Knowledge
from connector_check.analysis.meaning import conducts
from connector_check.analysis.obligations import Obligations, Pair, obligations
from connector_check.analysis.replay import Standing, replay
from connector_check.board.board import NEAR, Board
from connector_check.probing.planner import Plan, Touch, plan
from connector_check.probing.sweep import Sweep
from connector_check.testlog.job import GoodBoard, Job
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.readings import (
    LEADS_FAILED,
    LEADS_GOOD,
    READINGS,
    REWORKED,
    TAKEN_BACK,
    UNSURE,
    Entry,
)


class Progress:
    """A session between two answers.

    entries: the job so far; standing: what it amounts to; planned: the touches still needed; passes: how many standing
    quiets each pair in scope must have; put_off: pairs that were skipped or unsure; asked_again: contradictory pairs
    asked once more since the last rework; focus: the point whose touches come first; held: where a lead sits; began:
    how many entries there were when the session was opened; told_apart: what was measured to tell findings apart since
    the last rework; told: the findings about which nothing more was to be told; said: what is to be told with the next
    step; where_was_told: whether it was said where to touch for contact; diode_sweep: of the sweep in diode mode;
    good_boards, as_good: see `testlog.job.Job`.
    """

    def __init__(
        self,
        board: Board,
        entries: Sequence[Entry],
        scope: str = NEAR,
        shorts_only: bool = False,
        passes: int = 1,
        meter: Meter = UNKNOWN_METER,
        good_boards: Sequence[GoodBoard] = (),
        as_good: Sequence[str] = (),
    ) -> None:
        self.board, self.scope, self.shorts_only, self.passes, self.meter = board, scope, shorts_only, passes, meter
        self.good_boards, self.as_good = tuple(good_boards), tuple(as_good)
        self.entries = list(entries)
        self.needed: Obligations = obligations(board, scope)
        self.put_off: set[frozenset[int]] = set()
        self.put_off_is_back = False
        self.asked_again: set[frozenset[int]] = set()
        self.focus: int | None = None
        self.held: int | None = None
        self.began = len(self.entries)
        self.said: list[str] = []
        self.where_was_told = False
        self.doubts_asked: set[tuple[frozenset[int], str]] = set()
        self.told_apart: set[tuple[frozenset[int], str]] = set()
        self.told: frozenset[frozenset[str]] = frozenset()
        self.diode_sweep = Sweep()
        self.standing: Standing
        self._stale_at: dict[int, list[int]] = {}
        self._examined: Examined | None = None
        self.planned: Plan
        self._replay()
        self._replan()

    @cached_property
    def good_volts(self) -> dict[str, float]:
        """What the good boards show in diode mode, see `analysis.good_board.usual_volts`."""
        if not self.good_boards:
            return {}
        from connector_check.analysis.good_board import usual_volts

        return usual_volts(self.board, self.good_boards)

    def _replay(self) -> None:
        self.standing = replay(self.board, self.entries, self.meter, self.scope, self._stale_at)
        self._examined = None

    @property
    def known(self) -> Knowledge:
        """What the plan goes by: tones and low ohms that parts may carry count as joins until something contradicts."""
        return self.standing.closed.presumed

    def examined(self) -> Examined:
        """The whole answer as it stands, with what it rests on."""
        if self._examined is None:
            job = Job(self.board, self.entries, self.meter, good_boards=self.good_boards, as_good=self.as_good)
            self._examined = examine(job, Settings(self.scope, self.shorts_only))
        return self._examined

    def contacts_wanted(self) -> list[Pair]:
        """Joints and board points whose contact is still to be shown, and what is asked once for information."""
        contacts = Contacts(self.standing, self.known)
        wanted = [] if self.shorts_only else [pair for pair in self.needed.contacts if not contacts.likely(pair[0])]
        read = {frozenset(entry.points) for entry in self.standing.entries}
        asked = [pair for pair in self.needed.information if frozenset(pair) not in read]
        return wanted + ([] if self.shorts_only else asked)

    def _replan(self) -> None:
        self.planned = plan(self.board, self.known, self.needed, self.contacts_wanted(), self.held)

    def end_sweep(self) -> None:
        """Leave diode mode, and plan what is left by what it showed."""
        self.diode_sweep.on = False
        self._replan()

    def learn(self, entries: Iterable[Entry], asked: Pair | None, again: bool) -> None:
        """Take in entries that were made of answers. asked: the two points of the step that was answered; again: it
        asked about a contradiction.
        """
        new = list(entries)
        for entry in new:
            self.entries.append(entry)
            if entry.kind in READINGS:
                self._remember_reading(entry, asked, again)
            elif entry.kind == REWORKED:
                self.asked_again.clear()
                self._ask_anew()
                self.put_off.clear()
                self.put_off_is_back = False
            elif entry.kind == TAKEN_BACK:
                self._ask_anew(frozenset(entry.points))
            elif entry.kind in LEADS_FAILED:
                self._ask_anew()
                self.said.append("lead check failed: what rests on it no longer counts; mend the leads")
        if again and asked is not None:
            self.asked_again.add(frozenset(asked))
        taken_in_vain = len(self.standing.nothing_taken)
        self._replay()
        if len(self.standing.nothing_taken) > taken_in_vain:
            self.said.append("nothing was taken back: no such reading stands")
        if any(entry.kind in (REWORKED, TAKEN_BACK, *LEADS_FAILED) for entry in new):
            self._replan()

    def _ask_anew(self, pair: frozenset[int] = frozenset()) -> None:
        """Measurements asked to tell something apart may be asked again: what they showed may be gone.

        pair: only what was asked at these two points; all when empty.
        """
        if pair:
            self.doubts_asked = {asked for asked in self.doubts_asked if asked[0] != pair}
            self.told_apart = {asked for asked in self.told_apart if asked[0] != pair}
        else:
            self.doubts_asked.clear()
            self.told_apart.clear()
        self.told = frozenset()

    def _remember_reading(self, entry: Entry, asked: Pair | None, again: bool) -> None:
        pair = frozenset(entry.points)
        (self.put_off.add if entry.kind == UNSURE else self.put_off.discard)(pair)
        if not again:
            self.asked_again.discard(pair)
        if asked is not None:
            self.held = asked[0]

    def is_open(self, touch: Touch) -> bool:
        """Whether a planned touch is still unknown."""
        return self.known.status(touch.a, touch.b) == UNKNOWN

    def open_touches(self) -> list[Touch]:
        """The planned touches that are still unknown, in their order."""
        return [touch for touch in self.planned.touches if self.is_open(touch)]

    def touches_since_proof(self) -> int:
        """Readings since this session last proved the leads, by a good lead check or a reading that conducts."""
        count = 0
        for entry in reversed(self.entries[self.began :]):
            if entry.kind == LEADS_GOOD or conducts(entry):
                break
            count += entry.kind in READINGS
        return count

    def leads_are_proven(self) -> bool:
        """Whether this session saw a good lead check, and no bad one as the last thing."""
        here = self.entries[self.began :]
        return any(entry.kind == LEADS_GOOD for entry in here) and here[-1].kind not in LEADS_FAILED

    def read_since_check(self) -> bool:
        """Whether this session took readings after its last good lead check."""
        for entry in reversed(self.entries[self.began :]):
            if entry.kind == LEADS_GOOD or entry.kind in READINGS:
                return entry.kind != LEADS_GOOD
        return False

    def has_open_quiets(self) -> bool:
        """Whether silence waits for the lead check that closes it."""
        return bool(self.standing.unproven_silence)
