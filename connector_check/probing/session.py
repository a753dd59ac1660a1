"""The live session as a state machine without terminal, clock or files: which step comes next, which job rows an answer
makes, what the accepted rows mean.

The caller writes the rows of an answer to disk first and hands them back with `accept`; so what the session knows is
never ahead of the file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from connector_check.analysis.findings import find_leaks
from connector_check.analysis.knowledge import UNKNOWN
from connector_check.analysis.meaning import PARTS
from connector_check.analysis.obligations import Obligations, obligations
from connector_check.analysis.opens import find_opens
from connector_check.analysis.replay import Standing, replay
from connector_check.analysis.result import CLEAR, REWORK, Result
from connector_check.analysis.shorts import find_shorts
from connector_check.analysis.verdict import account, verdict
from connector_check.board.board import NEAR, Board
from connector_check.probing.planner import Plan, Touch, next_touch, plan
from connector_check.testlog.job import Log
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.readings import (
    BEEP,
    CHIRP,
    LEADS_BAD,
    LEADS_GOOD,
    OHMS,
    QUIET,
    READINGS,
    REMARK,
    REWORKED,
    TAKEN_BACK,
    UNSURE,
    Entry,
    parse_reading,
)

CAUTION, LEADS, TOUCH, OHMS_WANTED, ASK_AGAIN, IRON, DONE = (
    "caution", "lead check", "touch", "ohms wanted", "ask again", "iron", "done",
)  # fmt: skip
LEAD_CHECK_EVERY = 30
"""Touches between two proofs of the leads: near sqrt(c / h) for a proof worth 2 touches and one lead failure in 500
touches (both assumed); a beep that joined is a proof too."""

CAUTIONS_SEEN = "cautions seen"


class Row(NamedTuple):
    """One line to be added to the job file."""

    pin_a: str
    pin_b: str
    reading: str
    note: str = ""


@dataclass(frozen=True)
class Step:
    """What the session asks for now.

    kind: one of the step names; points: the two points to touch, the first is where a lead stays put; why: in words;
    left: touches still planned, this one included; again: this pair was skipped or unsure before.
    """

    kind: str
    points: tuple[int, int] | None = None
    why: str = ""
    left: int = 0
    again: bool = False


class Session:
    """One probing session on a job. Not thread-safe.

    entries: the job so far; passes: how many standing quiets each pair in scope must have.
    """

    def __init__(
        self,
        board: Board,
        entries: Sequence[Entry],
        scope: str = NEAR,
        landings: bool = False,
        passes: int = 1,
        meter: Meter = UNKNOWN_METER,
    ) -> None:
        self.board, self.scope, self.landings, self.passes, self.meter = board, scope, landings, passes, meter
        self.entries = list(entries)
        self.needed: Obligations = obligations(board, scope)
        self.put_off: set[frozenset[int]] = set()
        self.asked_again: set[frozenset[int]] = set()
        self.focus: int | None = None
        self.held: int | None = None
        self.began = len(self.entries)
        self.said: list[str] = []
        self._ask_put_off = False
        self._plan: Plan | None = None
        self._refresh(replan=True)

    # What is known

    def _refresh(self, replan: bool) -> None:
        self.standing: Standing = replay(self.board, self.entries, self.meter, self.scope)
        if replan or self._plan is None:
            self._plan = plan(self.board, self.standing.knowledge, self.needed, self.landings, self.held)
        self._step: Step | None = None

    def result(self) -> Result:
        """The whole answer as it stands."""
        from connector_check.analysis.check import check
        from connector_check.analysis.examine import Settings

        return check(Log(self.board, self.entries, self.meter), Settings(self.scope, self.landings))

    def touches_since_proof(self) -> int:
        """Readings since the leads were last proven in this session, by a good lead check or a beep."""
        count = 0
        for entry in reversed(self.entries[self.began :]):
            if entry.kind in (LEADS_GOOD, BEEP):
                break
            count += entry.kind in READINGS
        return count

    def _lead_check_due(self) -> bool:
        here = self.entries[self.began :]
        if not any(e.kind == LEADS_GOOD for e in here) or (here and here[-1].kind == LEADS_BAD):
            return True
        return self.touches_since_proof() >= LEAD_CHECK_EVERY

    def _quiets_not_closed(self) -> bool:
        for entry in reversed(self.entries):
            if entry.kind == LEADS_GOOD:
                return False
            if entry.kind in (QUIET, CHIRP):
                return True
        return False

    # What to do next

    def step(self) -> Step:
        """What is asked for now."""
        if self._step is None:
            self._step = self._next()
        return self._step

    def _next(self) -> Step:
        if not any(e.kind == REMARK and e.note == CAUTIONS_SEEN for e in self.entries):
            return Step(CAUTION)
        if self._lead_check_due():
            return Step(LEADS, why="touch the leads together: must sound; hold them apart: must be silent")
        for conflict in self.standing.knowledge.conflicts():
            for suspect in (conflict.quiet, *conflict.beeps):
                if frozenset(suspect) not in self.asked_again:
                    said = (
                        "was quiet, yet beeps join it"
                        if suspect is conflict.quiet
                        else "beeped, yet a quiet contradicts it"
                    )
                    return Step(ASK_AGAIN, suspect, f"contradiction: it {said}; touch again", 1)
        for entry in self.standing.doubtful:
            if frozenset(entry.points) not in self.put_off:
                a, b = entry.points
                return Step(OHMS_WANTED, (a, b), "a part by design may have sounded: measure ohms", 1)
        touch = self._touch()
        if touch is not None:
            pair = frozenset((touch.a, touch.b))
            left = sum(1 for t in self._plan.touches if self._open(t)) if self._plan else 0
            return Step(TOUCH, (touch.a, touch.b), touch.why, left, pair in self.put_off)
        repeat = self._second_pass()
        if repeat is not None:
            return repeat
        if self._quiets_not_closed():
            return Step(LEADS, why="the last one: it closes the quiets since the lead check before")
        if verdict(self.standing, self.needed, self.landings) == REWORK:
            return Step(IRON, why="see the rework list")
        return Step(DONE)

    def _open(self, touch: Touch) -> bool:
        return self.standing.knowledge.status(touch.a, touch.b) == UNKNOWN

    def _touch(self) -> Touch | None:
        assert self._plan is not None
        knowledge = self.standing.knowledge
        args = (self.board, knowledge, self.needed, self.landings, self.held)
        later = [(min(pair), max(pair)) for pair in self.put_off]
        self._plan, touch = next_touch(self._plan, *args, later)
        if self.focus is not None:
            for wanted in self._plan.touches:
                at_focus = self.focus in (wanted.a, wanted.b)
                if at_focus and self._open(wanted) and frozenset((wanted.a, wanted.b)) not in self.put_off:
                    return wanted
            self.focus = None
        if touch is None and self.put_off:
            # Everything else is answered: what was skipped or unsure comes back, once a round.
            self._plan, touch = next_touch(self._plan, *args)
            if touch is not None and not self._ask_put_off:
                self._ask_put_off = True
                self.said.append("what was skipped or unsure comes back now")
        return touch

    def _second_pass(self) -> Step | None:
        if self.passes < 2:
            return None
        counts: dict[frozenset[int], int] = {}
        find = self.standing.knowledge.find
        for reading in self.standing.readings:
            if reading.meaning == PARTS:
                key = frozenset(find(p) for p in reading.entry.points)
                counts[key] = counts.get(key, 0) + 1
        wanted = []
        for obligation in self.needed.isolation:
            a, b = obligation.pairs[0]
            if self.standing.knowledge.apart(a, b) and counts.get(frozenset((find(a), find(b))), 0) < self.passes:
                wanted.append((a, b))
        if not wanted:
            return None
        a, b = next((pair for pair in wanted if self.held in pair), wanted[0])
        first, second = (b, a) if b == self.held else (a, b)
        return Step(TOUCH, (first, second), f"pass {self.passes}: quiet once, touch again", len(wanted))

    # Answers

    def answer(self, kind: str, note: str = "") -> list[Row]:
        """Rows for an answer to the step at hand: `beep`, `quiet`, `chirp`, `unsure`, ohms as typed.

        Raises ValueError with a message when the answer does not fit the step.
        """
        step = self.step()
        if step.kind == CAUTION:
            return [Row("", "", REMARK, CAUTIONS_SEEN)]
        if step.kind == LEADS:
            parsed = parse_reading(kind)
            if kind in (BEEP, QUIET):
                return [Row("", "", LEADS_GOOD if kind == BEEP else LEADS_BAD, note)]
            if parsed and parsed[0] == OHMS and parsed[1] is not None and parsed[1] < 10:
                return [Row("", "", f"{LEADS_GOOD} {parsed[1]:g}", note)]
            raise ValueError(
                "a lead check is beep (sounded together, silent apart), quiet (failed), or the leads' ohms"
            )
        if step.points is None:
            raise ValueError("nothing to touch now")
        if parse_reading(kind) is None:
            raise ValueError(f"'{kind}' is no reading")
        a, b = (self.board.points[p] for p in step.points)
        rows = []
        if step.kind == ASK_AGAIN and kind == BEEP:
            rows = [
                Row(a, b, f"{TAKEN_BACK} {r.entry.kind}", "asked again: it beeps")
                for r in self.standing.readings
                if r.meaning == PARTS and set(r.entry.points) == set(step.points)
            ]
        return [*rows, Row(a, b, kind, note)]

    def sweep(self, held: str, beeped: Sequence[str]) -> list[Row]:
        """Rows of a whole sweep noted afterwards: with one lead on `held`, the named pins beeped and the other asked
        pins, the run of planned touches at that point, were quiet. Raises ValueError with a message.
        """
        point = self.board.resolve(self._ground() if held.casefold() == "ground" else held)
        if point is None:
            raise ValueError(f"unknown point '{held}'")
        assert self._plan is not None
        run = [t for t in self._plan.touches if self._open(t) and point in (t.a, t.b)]
        if not run:
            raise ValueError(f"nothing is asked at {self.board.points[point]} now")
        asked = {(t.b if t.a == point else t.a): t for t in run}
        named = set()
        for name in beeped:
            pin = self.board.resolve(name)
            if pin is None or pin not in asked:
                known = ", ".join(self.board.points[p] for p in asked)
                raise ValueError(f"'{name}' is not asked in this sweep: {known}")
            named.add(pin)
        return [
            Row(self.board.points[point], self.board.points[p], BEEP if p in named else QUIET, "sweep") for p in asked
        ]

    def _ground(self) -> str:
        grounds = [net.name for net in self.board.nets if net.role == "ground"]
        return "@" + grounds[0] if grounds else "ground"

    def undo(self) -> list[Row]:
        """The row that takes back the last standing reading; ValueError when there is none."""
        if not self.standing.entries:
            raise ValueError("nothing to take back")
        last = self.standing.entries[-1]
        a, b = (self.board.points[p] for p in last.points)
        return [Row(a, b, f"{TAKEN_BACK} {last.kind}", "undo")]

    def rework(self, joints: Sequence[str]) -> list[Row]:
        """Rows that mark joints as reworked; `all` means every joint of the rework list. ValueError on unknown names."""
        if list(joints) == ["all"]:
            joints = list(dict.fromkeys(j for s in self.result().rework for j in s.joints if not j.startswith("@")))
        if not joints:
            raise ValueError("name the reworked joints, or 'all' for those on the list")
        for name in joints:
            point = self.board.resolve(name)
            if point is None or point >= len(self.board.joints):
                raise ValueError(f"'{name}' is no joint")
        return [Row(name, "", REWORKED) for name in joints]

    def remark(self, text: str) -> list[Row]:
        """The row of a remark on the pair at hand."""
        points = self.step().points
        names = [self.board.points[p] for p in points] if points else ["", ""]
        return [Row(names[0], names[1], REMARK, text)]

    # Moves that leave no row

    def skip(self) -> None:
        """Leave the pair at hand for later."""
        step = self.step()
        if step.points is None:
            raise ValueError("nothing to skip")
        pair = frozenset(step.points)
        if step.kind == ASK_AGAIN:
            self.asked_again.add(pair)
        elif pair in self.put_off:
            raise ValueError("already skipped; answer it, or quit and come back: the job keeps everything")
        else:
            self.put_off.add(pair)
        self._step = None

    def jump(self, name: str) -> None:
        """Ask the planned touches of one pin first. ValueError when it is unknown or nothing is planned there."""
        point = self.board.resolve(name)
        if point is None:
            raise ValueError(f"unknown pin '{name}'")
        assert self._plan is not None
        if not any(point in (t.a, t.b) and self._open(t) for t in self._plan.touches):
            raise ValueError(f"nothing is left to touch at {self.board.points[point]}")
        self.focus = point
        self._step = None

    # What was written

    def accept(self, rows: Sequence[Row]) -> None:
        """Take in rows that are on disk now."""
        step = self.step()
        replan = False
        for row in rows:
            entry = self._entry(row)
            self.entries.append(entry)
            replan |= entry.kind in (REWORKED, TAKEN_BACK, LEADS_BAD)
            if entry.kind in READINGS:
                pair = frozenset(entry.points)
                (self.put_off.add if entry.kind == UNSURE else self.put_off.discard)(pair)
                if step.kind != ASK_AGAIN:
                    self.asked_again.discard(pair)
                if step.points is not None:
                    self.held = step.points[0]
            if entry.kind == REWORKED:
                self.asked_again.clear()
                self.put_off.clear()
                self._ask_put_off = False
            if entry.kind == LEADS_BAD:
                self.said.append("lead check failed: the quiets since the last good one are stale; mend the leads")
        if step.kind == ASK_AGAIN and step.points is not None:
            self.asked_again.add(frozenset(step.points))
        self._refresh(replan)

    def _entry(self, row: Row) -> Entry:
        parsed = parse_reading(row.reading)
        assert parsed is not None
        points = tuple(self.board.number[name] for name in (row.pin_a, row.pin_b) if name)
        return Entry(len(self.entries) + 1, parsed[0], points, parsed[1], row.note, parsed[2])

    def findings_line(self) -> str:
        """Findings so far in one line."""
        standing = self.standing
        ledger, _ = account(self.board, standing.knowledge, self.needed, self.landings)
        bad = [f"{' + '.join(s.nets)} {s.harm}" for s in find_shorts(standing)]
        bad += [f"{o.joint} open" for o in find_opens(standing)]
        bad += [f"{' - '.join(leak.pair)} {leak.ohms:g} ohm" for leak in find_leaks(standing)]
        proven = f"joins {ledger.joins.proven}/{ledger.joins.needed}, isolation {ledger.isolation.proven}/{ledger.isolation.needed}"
        return f"{proven}; " + ("; ".join(bad) if bad else "nothing bad so far")

    def finished(self) -> bool:
        """Whether nothing is left to touch and the verdict is clear."""
        return self.step().kind == DONE and verdict(self.standing, self.needed, self.landings) == CLEAR
