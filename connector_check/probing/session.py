"""The live session as a state machine without terminal, clock or files: which step comes next (`steps`), which job rows
an answer makes (`answers`), what is remembered between (`progress`).

The caller writes the rows of an answer to disk first and hands their entries back with `accept`; so what the session
knows is never ahead of the file.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from connector_check.analysis.findings import find_leaks
from connector_check.analysis.opens import find_opens
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import CLEAR, Count, Result
from connector_check.analysis.shorts import find_shorts
from connector_check.analysis.verdict import account
from connector_check.probing import answers
from connector_check.probing.answers import AnswerError
from connector_check.probing.progress import Progress
from connector_check.probing.steps import ASK_AGAIN, DONE, JUNCTION, Step, next_step
from connector_check.probing.sweep import COUNTS_UP, HOW_TO_SWEEP, WAIT, joints_left, red_point
from connector_check.testlog.readings import REMARK, TAKEN_BACK, VOLTS, Entry
from connector_check.testlog.rows import Row


class Session(Progress):
    """One probing session on a job. Not thread-safe.

    The answers return rows and change nothing; they raise `AnswerError` with a message when they do not fit the step.
    """

    _step: Step | None = None

    def step(self) -> Step:
        """What is asked for now."""
        if self._step is None:
            self._step = next_step(self)
        return self._step

    def result(self) -> Result:
        """The whole answer as it stands."""
        return self.examined().result

    def findings_line(self) -> str:
        """Findings so far in one line."""
        standing, step = self.standing, self.step()
        # what parts may have carried counts at the end, when no bad board would read the same
        found = self.examined().account if step.kind == DONE else account(standing, self.needed, self.shorts_only)
        ledger = found.ledger
        once = self.board.names(step.points) if step.kind == ASK_AGAIN and step.points else ()
        bad = [f"{' + '.join(short.nets)} {short.harm}" for short in find_shorts(standing)]
        bad += [f"{one.joint} open" for one in find_opens(standing) if one.joint not in once]
        for leak in find_leaks(standing):
            likely = f", likely a short at {leak.likely.told()}" if leak.likely else ""
            bad.append(f"{' - '.join(leak.pair)} {leak.ohms:g} ohm{likely}")
        bad += self._against_good_boards(standing)
        sounded = Counter(found.presumed)
        counts = [("joins", ledger.joins, self.needed.joins), ("isolation", ledger.isolation, ())]
        if not self.shorts_only:
            counts.append(("contact", ledger.contacts, self.needed.contacts))
        proven = ", ".join(_so_far(name, count, sum(sounded[pair] for pair in pairs)) for name, count, pairs in counts)
        return f"{proven}; " + ("; ".join(bad) if bad else "nothing bad so far")

    def _against_good_boards(self, standing: Standing) -> list[str]:
        """What reads otherwise than on the good boards so far, in a few words."""
        if not self.good_boards:
            return []
        from connector_check.analysis.good_board import found_against

        opens, differences = found_against(standing, self.good_boards)
        silent = [f"{found.joint} silent, not so on the good board" for found in opens]
        return silent + [
            f"{' - '.join(found.points)} {found.kind} differs from the good board" for found in differences
        ]

    def finished(self) -> bool:
        """Whether nothing is left to touch and the verdict is clear."""
        return self.step().kind == DONE and self.result().verdict == CLEAR

    # Answers

    def answer(self, reading: str, note: str = "") -> list[Row]:
        """Rows for an answer to the step at hand: a reading's word, or ohms as typed."""
        return answers.answer_rows(self, self.step(), reading, note)

    def volts(self, text: str) -> list[Row]:
        """Rows for volts typed at the step at hand, see `sweep.typed_values`; outside of the sweep it is one value."""
        step = self.step()
        return self.answer(text if step.kind == JUNCTION else answers.one_value(text))

    def sweep(self, held: str, beeped: Sequence[str]) -> list[Row]:
        """Rows of a whole sweep noted afterwards, see `answers.sweep_rows`."""
        return answers.sweep_rows(self, held, beeped)

    def undo(self) -> list[Row]:
        """The row that takes back the last standing reading."""
        return answers.undo_rows(self)

    def rework(self, joints: Sequence[str]) -> list[Row]:
        """Rows that mark joints as reworked; `all` means every joint of the rework list."""
        if list(joints) == ["all"]:
            steps = self.result().rework
            joints = [name for step in steps for pair in (step.joints, *step.elsewhere) for name in pair]
        return answers.rework_rows(self, joints)

    def remark(self, text: str) -> list[Row]:
        """The row of a remark on the pair at hand."""
        return answers.remark_rows(self, self.step(), text)

    # Moves that leave no row

    def skip(self) -> None:
        """Leave the pair at hand for later."""
        step = self.step()
        if step.points is None:
            raise AnswerError("nothing to skip")
        pair = frozenset(step.points)
        if step.kind == JUNCTION:
            joint = step.points[1]
            self.diode_sweep.skip(joint)
            self.diode_sweep.again.add(joint)
        elif step.kind == ASK_AGAIN:
            self.asked_again.add(pair)
            self.put_off.add(pair)
        elif pair in self.put_off:
            raise AnswerError("already skipped; answer it, or quit and come back: the job keeps everything")
        else:
            self.put_off.add(pair)
        self._step = None

    def diode(self) -> None:
        """Begin the sweep in diode mode, or leave it."""
        if red_point(self.board) is None:
            raise AnswerError("this map has no ground contact, where diode mode needs the red lead")
        if self.diode_sweep.on:
            self.end_sweep()
            self.said.append("diode mode left; back to tones")
        else:
            self.diode_sweep.start()
            self.said.append(HOW_TO_SWEEP)
        self._step = None

    def jump(self, name: str) -> None:
        """Ask the planned touches of one pin first."""
        point = self.board.resolve(name)
        if point is None:
            raise AnswerError(f"unknown pin '{name}'")
        if not any(point in (touch.a, touch.b) for touch in self.open_touches()):
            raise AnswerError(f"nothing is left to touch at {self.board.points[point]}")
        self.focus = point
        self._step = None

    def _swept(self, entries: Sequence[Entry], joint: int) -> None:
        """Remember of a sweep what the job does not hold: what was asked again, what charges."""
        asked_again = joint not in joints_left(self.board, self.standing, self.diode_sweep)
        if asked_again and any(entry.kind in (VOLTS, TAKEN_BACK) for entry in entries):
            self.diode_sweep.again.add(joint)
        if any(entry.kind == REMARK and entry.note == COUNTS_UP for entry in entries):
            self.said.append(WAIT)

    # What was written

    def entries_of(self, rows: Sequence[Row]) -> list[Entry]:
        """What the job reader will make of these rows."""
        return answers.entries_of(self, rows)

    def accept(self, entries: Sequence[Entry]) -> None:
        """Take in the entries of rows that are on disk now."""
        step = self.step()
        if step.kind == JUNCTION and step.points is not None:
            self._swept(entries, step.points[1])
        if step.doubt and step.points is not None:
            self.doubts_asked.add((frozenset(step.points), step.doubt))
        if step.tells and step.points is not None:
            self.told_apart.add((frozenset(step.points), step.tells))
        self.learn(entries, step.points, step.kind == ASK_AGAIN)
        self._step = None


def _so_far(name: str, count: Count, sounded: int) -> str:
    """How many of a kind are proven, and how many were shown where a part by design may have carried the tone, or a
    neighbour may have lent its junction.
    """
    doubt = f" ({sounded} more, unless by a part or a neighbour)" if sounded else ""
    return f"{name} {count.proven}/{count.needed}{doubt}"
