"""The live session as a state machine without terminal, clock or files: which step comes next (`steps`), which job rows
an answer makes (`answers`), what is remembered between (`progress`).

The caller writes the rows of an answer to disk first and hands their entries back with `accept`; so what the session
knows is never ahead of the file.
"""

from __future__ import annotations

from collections.abc import Sequence

from connector_check.analysis.findings import find_leaks
from connector_check.analysis.opens import find_opens
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import CLEAR, Result
from connector_check.analysis.shorts import find_shorts
from connector_check.analysis.verdict import account
from connector_check.probing import answers
from connector_check.probing.answers import AnswerError
from connector_check.probing.progress import Progress
from connector_check.probing.steps import ASK_AGAIN, DONE, Step, next_step
from connector_check.testlog.readings import Entry
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
        bad += [f"{' - '.join(leak.pair)} {leak.ohms:g} ohm" for leak in find_leaks(standing)]
        bad += self._against_good_boards(standing)
        counts = {"joins": ledger.joins, "isolation": ledger.isolation}
        if not self.shorts_only:
            counts["contact"] = ledger.contacts
        proven = ", ".join(f"{name} {count.proven}/{count.needed}" for name, count in counts.items())
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
            joints = [name for step in steps for pair in (step.joints, *step.alternatives) for name in pair]
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
        if step.kind == ASK_AGAIN:
            self.asked_again.add(pair)
        elif pair in self.put_off:
            raise AnswerError("already skipped; answer it, or quit and come back: the job keeps everything")
        else:
            self.put_off.add(pair)
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

    # What was written

    def entries_of(self, rows: Sequence[Row]) -> list[Entry]:
        """What the job reader will make of these rows."""
        return answers.entries_of(self, rows)

    def accept(self, entries: Sequence[Entry]) -> None:
        """Take in the entries of rows that are on disk now."""
        step = self.step()
        doubt = self.examined().result.doubt if step.points and step.why else None
        if doubt is not None and doubt.told == step.why and step.points is not None:
            self.doubts_asked.add((frozenset(step.points), doubt.kind))
        self.learn(entries, step.points, step.kind == ASK_AGAIN)
        self._step = None
