"""The live session as a state machine, driven by a simulated meter and by scripted answers."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.analysis.replay import TAKEN
from connector_check.board.board import Board
from connector_check.errors import InputError
from connector_check.probing.answers import AnswerError
from connector_check.probing.keys import key_map
from connector_check.probing.probe import Keyboard, Probe, run_keys, run_lines
from connector_check.probing.session import Session
from connector_check.probing.steps import ASK_AGAIN, CAUTION, DONE, IRON, LEADS, OHMS_WANTED, TOUCH
from connector_check.testlog.readings import BEEP, LEADS_BAD, LEADS_GOOD, QUIET, READINGS, Entry
from connector_check.testlog.rows import Row, entry_of
from tests.strategies import SimulatedBoard, boards, checked, random_faults, tiny_board


class Memory:
    """A writer that keeps rows in a list."""

    def __init__(self) -> None:
        self.rows: list[Row] = []

    def record(self, row: Row, board: Board) -> Entry:
        self.rows.append(row)
        return entry_of(board, row, len(self.rows))


def take(session: Session, rows: list[Row]) -> None:
    session.accept(session.entries_of(rows))


def give(session: Session, kind: str) -> None:
    take(session, session.answer(kind))


def start(board, **options) -> Session:
    session = Session(board, [], **options)
    assert session.step().kind == CAUTION
    give(session, BEEP)
    assert session.step().kind == LEADS
    give(session, BEEP)
    return session


def drive(session: Session, sim: SimulatedBoard, most: int = 2000) -> str:
    """Answer as the simulated board until nothing is left; returns the last step's kind."""
    for _ in range(most):
        step = session.step()
        if step.kind in (DONE, IRON):
            return step.kind
        if step.points is None:
            give(session, BEEP)
        elif step.kind == OHMS_WANTED:
            give(session, "0.1" if sim.beeps(*step.points) else "OL")
        else:
            give(session, BEEP if sim.beeps(*step.points) else QUIET)
    raise AssertionError("the session never ends")


def touches(session: Session) -> int:
    return sum(e.kind in READINGS for e in session.entries)


def test_a_good_board_takes_the_certificate_and_ends_clear():
    """T4: joins (n - d) plus one quiet for each neighbouring pair of conductors."""
    board = tiny_board()
    session = start(board)
    assert drive(session, SimulatedBoard(board)) == DONE
    assert touches(session) == 3 + 6
    assert session.finished() and checked(board, session.entries).verdict == "clear"
    assert session.entries[-1].kind == LEADS_GOOD


@settings(max_examples=150, deadline=None)
@given(boards(most=10), st.integers(0, 2**32))
def test_random_boards_with_rework_rounds_end_clear_and_never_ask_what_is_known(board, seed):
    sim = random_faults(board, random.Random(seed), 0.2, 0.1)
    session = start(board)
    for _ in range(len(board.joints) + 2):
        known: set[frozenset[int]] = set()
        while session.step().kind not in (DONE, IRON):
            step = session.step()
            if step.kind == TOUCH:
                assert session.standing.knowledge.status(*step.points) == "unknown"
                assert frozenset(step.points) not in known
                known.add(frozenset(step.points))
            give(session, BEEP if step.points is None or sim.beeps(*step.points) else QUIET)
        bad = sim.harmful() or sim.open_in_scope()
        assert (session.step().kind == IRON) == bad
        if not bad:
            return
        result = session.result()
        heated = {board.number[j] for s in result.rework for j in [*s.joints, *(p for a in s.alternatives for p in a)]}
        names = sorted(board.points[p] for p in heated if p < len(board.joints))
        bridges = [b for b in sim.bridges if not set(b) & heated]
        sim = SimulatedBoard(board, bridges, sim.opens - heated, sim.shell_on_ground)
        take(session, session.rework(names))
    raise AssertionError("rework never ends")


def test_lead_checks_at_start_between_and_at_the_end(monkeypatch):
    monkeypatch.setattr("connector_check.probing.steps.LEAD_CHECK_EVERY", 3)
    board = tiny_board()
    session = start(board)
    drive(session, SimulatedBoard(board))
    since = 0
    for entry in session.entries:
        since = 0 if entry.kind in (LEADS_GOOD, BEEP) else since + (entry.kind in READINGS)
        assert since <= 3
    assert session.entries[-1].kind == LEADS_GOOD


def test_a_failed_lead_check_makes_quiets_stale_and_says_so():
    board = tiny_board()
    session = start(board)
    while sum(e.kind == QUIET for e in session.entries) < 6:
        give(session, BEEP if SimulatedBoard(board).beeps(*session.step().points) else QUIET)
    assert session.step().kind == LEADS
    take(session, session.answer(QUIET))
    assert session.entries[-1].kind == LEADS_BAD
    assert "stale" in session.said[-1]
    assert session.step().kind == LEADS
    give(session, BEEP)
    assert session.step().kind == TOUCH and session.step().left == 6


def test_undo_goes_back_to_any_depth_and_erases_nothing():
    board = tiny_board()
    session = start(board)
    asked = []
    for _ in range(4):
        asked.append(session.step().points)
        give(session, BEEP)
    for _ in range(4):
        take(session, session.undo())
    assert session.standing.entries == [] and session.standing.count(TAKEN) == 4
    assert len(session.entries) == 2 + 4 + 4
    with pytest.raises(AnswerError, match="nothing to take back"):
        session.undo()


def test_skipped_and_unsure_pairs_come_back_at_the_end():
    board = tiny_board()
    session = start(board)
    first = frozenset(session.step().points)
    session.skip()
    second = frozenset(session.step().points)
    give(session, "unsure")
    seen = []
    while session.step().kind == TOUCH:
        pair = frozenset(session.step().points)
        seen.append(pair)
        give(session, BEEP if SimulatedBoard(board).beeps(*pair) else QUIET)
    assert {first, second} <= set(seen[-4:])
    assert drive(session, SimulatedBoard(board)) == DONE and session.finished()


def test_a_contradiction_asks_the_quiet_again_first():
    board = tiny_board()
    session = start(board)
    drive(session, SimulatedBoard(board))
    take(session, [Row("1", "4", "quiet")])
    step = session.step()
    assert step.kind == ASK_AGAIN and {board.points[p] for p in step.points} == {"1", "4"}
    give(session, BEEP)
    assert not session.standing.knowledge.conflicts()
    assert session.standing.count(TAKEN) == 1
    take(session, [Row("1", "4", "quiet")])
    give(session, QUIET)
    assert session.standing.knowledge.conflicts(), "a quiet asked again and quiet again is never settled"
    give(session, BEEP)
    assert session.step().kind == DONE and not session.finished()


def test_a_sweep_noted_afterwards():
    board = tiny_board()
    session = start(board)
    rows = session.sweep("ground", ["1", "4", "7"])
    take(session, rows)
    by_pin = {r.pin_b: r.reading for r in rows}
    assert by_pin["1"] == by_pin["4"] == by_pin["7"] == "beep"
    assert all(r.pin_a == "@GND" for r in rows)
    with pytest.raises(AnswerError, match="nothing is asked"):
        session.sweep("ground", ["1"])
    with pytest.raises(AnswerError, match="not asked in this sweep"):
        start(board).sweep("ground", ["99"])
    with pytest.raises(AnswerError, match="unknown point"):
        session.sweep("nowhere", ["1"])


def test_jump_to_a_pin():
    board = tiny_board()
    session = start(board)
    session.jump("6")
    assert board.number["6"] in session.step().points
    with pytest.raises(AnswerError, match="unknown pin"):
        session.jump("99")


def test_two_passes_ask_every_quiet_twice():
    board = tiny_board()
    session = start(board, passes=2)
    drive(session, SimulatedBoard(board))
    assert touches(session) == 3 + 2 * 6


def test_rework_names():
    session = start(tiny_board())
    with pytest.raises(AnswerError, match="no joint"):
        session.rework(["@GND"])
    with pytest.raises(AnswerError, match="name the reworked joints"):
        session.rework([])
    assert [r.pin_a for r in session.rework(["1", "2"])] == ["1", "2"]


def test_the_session_on_lines_of_text():
    board = tiny_board()
    memory = Memory()
    probe = Probe(Session(board, []), memory, "component")
    out: list[str] = []
    answers = ["beep", "help", "beep", "what?", "beep", "b", "chirp", "undo", "remark a bent pin", "n", "quit"]
    run_lines(probe, iter(answers), out.append)
    text = "\n".join(out)
    assert "unplugged" in out[0] and "lead check" in out[1]
    assert (
        "answers: beep quiet" in text
        and "unknown reading 'what?': expected beep" in text
        and "capacitor charging" in text
    )
    kinds = [r[2] for r in memory.rows]
    assert kinds == ["remark", "leads good", "beep", "beep", "chirp", "taken back chirp", "remark", "quiet"]


def test_keys_bursts_bounce_and_prompts():
    board = tiny_board()
    memory = Memory()
    probe = Probe(Session(board, []), memory, "component")
    bursts = iter(["b", "b", "\x1b[A", "b", " ", "\r", "xbn", "z", "o", "r", "q"])
    clock = iter(float(n) for n in range(100))
    asked = iter(["0.3", ""])
    shown: list[str] = []
    keyboard = Keyboard(lambda: next(bursts), key_map(), 0.15, lambda: next(clock))
    run_keys(probe, keyboard, shown.append, lambda prompt: next(asked))
    kinds = [r[2] for r in memory.rows]
    assert kinds == ["remark", "leads good", "beep", "beep", "quiet", "taken back quiet", "0.3"]
    assert any("keys:" in message for message in shown)


def test_a_bouncing_pedal_counts_once():
    memory = Memory()
    probe = Probe(Session(tiny_board(), []), memory, "component")
    times = iter([0.0, 0.05, 0.1, 1.0, 1.04, 2.0])
    keyboard = Keyboard(iter(["bb", "b", "bb", "q"]).__next__, key_map(), 0.15, lambda: next(times))
    run_keys(probe, keyboard, lambda message: None, lambda prompt: "")
    assert [r[2] for r in memory.rows] == ["remark", "leads good"]


def test_an_answer_that_could_not_be_written_is_told_and_not_known():
    class Full(Memory):
        def record(self, row: Row, board: Board) -> Entry:
            if len(self.rows) == 2:
                raise InputError.one("job.csv", 0, "cannot be written (No space left on device)", "free some space")
            return super().record(row, board)

    memory = Full()
    probe = Probe(Session(tiny_board(), []), memory, "component")
    for _ in range(2):
        assert probe.do("beep") == ""
    asked = probe.session.step().points
    assert "NOT recorded" in probe.do("beep") and "free some space" in probe.do("beep")
    assert probe.session.step().points == asked and len(probe.session.entries) == 2
    memory.rows.append(Row("", "", "space again"))
    assert probe.do("beep") == "" and len(probe.session.entries) == 3
