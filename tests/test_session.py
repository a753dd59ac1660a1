"""The live session as a state machine, driven by a simulated meter and by scripted answers."""

from __future__ import annotations

import dataclasses
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.analysis.replay import TAKEN
from connector_check.board.board import Board
from connector_check.errors import InputError
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import DesignPath
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.probing.answers import AnswerError
from connector_check.probing.keys import KEYS_HELP, key_map
from connector_check.probing.probe import LINE_HELP, Keyboard, Probe, line_action, run_keys, run_lines
from connector_check.probing.screen import spoken
from connector_check.probing.session import Session
from connector_check.probing.steps import ASK_AGAIN, CAUTION, DONE, IRON, LEADS, LOOK, OHMS_WANTED, TOUCH
from connector_check.testlog.readings import (
    BEEP,
    LEADS_BAD,
    LEADS_GOOD,
    LEADS_SILENT,
    LEADS_SOUND,
    QUIET,
    READINGS,
    Entry,
)
from connector_check.testlog.rows import Row, entry_of
from tests.strategies import TINY_YAML, SimulatedBoard, boards, checked, random_faults, tiny_board


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
    session = start(board, shorts_only=True)
    assert drive(session, SimulatedBoard(board)) == DONE
    assert touches(session) == 3 + 6
    assert session.finished() and checked(board, session.entries, leads=False).verdict == "clear"
    assert session.entries[-1].kind == LEADS_GOOD


def test_contact_of_each_signal_costs_one_touch_and_the_shell_is_asked_once():
    """Contact of +5V, D+ and TX; SHELL, which may float, as information. The reserved NC has no track to reach."""
    board = tiny_board()
    session = start(board)
    assert drive(session, SimulatedBoard(board)) == DONE
    assert touches(session) == 3 + 6 + 3 + 1
    assert session.finished() and checked(board, session.entries, leads=False, shorts_only=False).verdict == "clear"
    assert not session.standing.unproven_silence


@settings(max_examples=150, deadline=None)
@given(boards(most=10), st.integers(0, 2**32))
def test_random_boards_with_rework_rounds_end_clear_and_never_ask_what_is_known(board, seed):
    sim = random_faults(board, random.Random(seed), 0.2, 0.1)
    session = start(board, shorts_only=True)
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
        heated = {board.number[j] for s in result.rework for j in [*s.joints, *(p for a in s.elsewhere for p in a)]}
        names = sorted(board.points[p] for p in heated if p < len(board.joints))
        bridges = [b for b in sim.bridges if not set(b) & heated]
        sim = SimulatedBoard(board, bridges, sim.opens - heated, sim.shell_on_ground)
        take(session, session.rework(names))
    raise AssertionError("rework never ends")


def test_lead_checks_at_start_between_and_at_the_end(monkeypatch):
    monkeypatch.setattr("connector_check.probing.steps.LEAD_CHECK_EVERY", 3)
    board = tiny_board()
    session = start(board, shorts_only=True)
    drive(session, SimulatedBoard(board))
    since = 0
    for entry in session.entries:
        since = 0 if entry.kind in (LEADS_GOOD, BEEP) else since + (entry.kind in READINGS)
        assert since <= 3
    assert session.entries[-1].kind == LEADS_GOOD


@pytest.mark.parametrize(
    ("typed", "kind", "left"),
    [(QUIET, LEADS_BAD, 9), ("leads silent", LEADS_SILENT, 6), ("leads sound", LEADS_SOUND, 3)],
)
def test_a_failed_lead_check_voids_what_rests_on_it_and_says_so(typed, kind, left):
    """No tone together voids the six quiets since the last proof, a tone apart the three beeps, the key n both."""
    board = tiny_board()
    session = start(board, shorts_only=True)
    while sum(e.kind == QUIET for e in session.entries) < 6:
        give(session, BEEP if SimulatedBoard(board).beeps(*session.step().points) else QUIET)
    assert session.step().kind == LEADS
    give(session, typed)
    assert session.entries[-1].kind == kind
    assert "no longer counts" in session.said[-1]
    assert session.step().kind == LEADS
    give(session, BEEP)
    assert session.step().kind == TOUCH and session.step().left == left


def test_silence_from_before_the_leads_were_proven_is_asked_again():
    """A job noted by hand: no later check mends it, so the last one is not asked without end."""
    board = tiny_board()
    done = start(board, shorts_only=True)
    drive(done, SimulatedBoard(board))
    silent = [entry for entry in done.entries if entry.kind == QUIET]
    session = Session(board, [Entry(1, LEADS_BAD, ()), *silent], shorts_only=True)
    assert drive(session, SimulatedBoard(board), 60) == DONE
    assert session.result().verdict == "clear"


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


@pytest.mark.parametrize("wrong", [0, 1])
def test_the_beep_that_is_silent_when_asked_again_is_taken_back(wrong):
    """The quiet of 1 and 4 holds when asked again; of the two beeps to board ground the wrong one then goes."""
    board = tiny_board()
    session = start(board)
    drive(session, SimulatedBoard(board))
    take(session, [Row("1", "4", "quiet")])
    give(session, QUIET)
    for number in range(wrong + 1):
        assert session.step().kind == ASK_AGAIN and session.standing.knowledge.conflicts()
        asked = session.step().points
        give(session, QUIET if number == wrong else BEEP)
    assert not session.standing.knowledge.conflicts()
    assert session.standing.count(TAKEN) == 1
    assert session.standing.knowledge.apart(*asked)


def test_a_conflict_whose_every_reading_holds_is_asked_once_and_stays_unproven():
    board = tiny_board()
    session = start(board)
    drive(session, SimulatedBoard(board))
    take(session, [Row("1", "4", "quiet")])
    for kind in (QUIET, BEEP, BEEP):
        assert session.step().kind == ASK_AGAIN
        give(session, kind)
    assert drive(session, SimulatedBoard(board), most=5) == DONE
    assert session.standing.knowledge.conflicts() and not session.finished()
    assert session.result().verdict == "unproven"


@pytest.mark.parametrize("joint", ["4", "3"])
def test_a_join_or_contact_silent_once_is_asked_again_before_it_is_open(joint):
    """Joint 4 is a join, joint 3 the contact of a single signal: one missed touch ends clear, two mean open."""
    board = tiny_board()
    asked = {board.number[joint], board.board_point[board.net_of[board.number[joint]].name]}
    for misses, verdict in ((1, "clear"), (2, "rework")):
        session = start(board)
        silent, kinds = 0, []
        while session.step().kind not in (DONE, IRON):
            step = session.step()
            if step.points is None or set(step.points) != asked:
                give(session, BEEP if step.points is None or SimulatedBoard(board).beeps(*step.points) else QUIET)
                continue
            kinds.append(step.kind)
            silent += 1
            give(session, QUIET if silent <= misses else BEEP)
        assert kinds == [TOUCH, ASK_AGAIN]
        assert session.result().verdict == verdict
        assert [found.joint for found in session.result().opens] == ([joint] if misses == 2 else [])


def test_taking_back_what_does_not_stand_says_so():
    probe = Probe(Session(tiny_board(), []), Memory(), "component")
    for _ in range(2):
        probe.do("beep")
    told = probe.do("ohms", "taken back beep")
    assert "nothing was taken back" in told
    assert "nothing was taken back" not in probe.do("beep")
    assert "nothing was taken back" not in probe.do("undo")
    line = probe.session.standing.nothing_taken[0]
    assumed = checked(probe.session.board, probe.session.entries).assumptions
    assert any(f"line {line} takes back what does not stand" in text for text in assumed)


def test_where_to_touch_for_contact_is_said_once_at_the_first_contact_touch():
    probe = Probe(Session(tiny_board(), []), Memory(), "component")
    sim, told = SimulatedBoard(probe.session.board), []
    while probe.session.step().kind != DONE:
        points = probe.session.step().points
        told.append(probe.do("beep" if points is None or sim.beeps(*points) else "quiet"))
        assert "never the pad" not in probe.line()
    said = [number for number, text in enumerate(told) if "never the pad" in text]
    assert said == [1], "with the step after the lead check, which is the first join"
    assert "mated plug or breakout" in told[1] and "part leg, test pad or via" in told[1]


def winding() -> Board:
    """+5V and D+ are joined by a winding that reads as solder does."""
    pin_map = tiny_board().pin_map
    paths = (DesignPath(("D+", "+5V"), 0.2, 1.2, "winding"),)
    return Board(dataclasses.replace(pin_map, paths=paths), pin_map.layouts[0])


@pytest.mark.parametrize(("answer", "verdict"), [("seen clear", "clear"), ("solder seen", "rework")])
def test_where_ohms_cannot_tell_the_session_asks_for_eyes(answer, verdict):
    board = winding()
    memory = Memory()
    probe = Probe(Session(board, []), memory, "component")
    sim, looks = SimulatedBoard(board), []
    for _ in range(200):
        step = probe.session.step()
        if step.kind in (DONE, IRON):
            break
        if step.kind == LOOK:
            looks.append({board.points[p] for p in step.points})
            a, b = (board.points[p] for p in step.points)
            assert probe.line().startswith(f"look at {a} and {b} under magnification: seen clear?")
            assert spoken(probe.session, step).startswith("look at pin ")
            assert any("LOOK AT" in line for line in probe.screen("", key_map(), 80, 24))
            probe.do(*line_action(answer))
        elif step.kind == OHMS_WANTED:
            probe.do("ohms", "0.5")
        else:
            wound = step.points and {board.net_of[p].name for p in step.points} == {"D+", "+5V"}
            probe.do("beep" if step.points is None or wound or sim.beeps(*step.points) else "quiet")
    assert looks == [{"2", "3"}]
    assert probe.session.result().verdict == verdict
    assert [row.reading for row in memory.rows].count(answer) == 1


def test_a_tone_does_not_take_back_what_eyes_saw_and_nothing_is_asked_for_ever():
    """Two joints without solder between them may be joined over a third: each is asked again once."""
    board = tiny_board()
    session = start(board)
    sim = SimulatedBoard(board, [(board.number["2"], board.number["3"])])
    assert drive(session, sim) == IRON
    take(session, [Row("2", "3", "seen clear")])
    assert session.step().kind == ASK_AGAIN
    give(session, BEEP)
    assert drive(session, sim, most=5) == IRON
    assert session.standing.count(TAKEN) == 0 and session.standing.knowledge.conflicts()


def test_solder_seen_after_all_takes_the_look_back():
    board = tiny_board()
    session = start(board)
    drive(session, SimulatedBoard(board, [(board.number["2"], board.number["3"])]))
    take(session, [Row("2", "3", "seen clear")])
    assert session.step().kind == ASK_AGAIN
    give(session, "solder seen")
    assert session.standing.count(TAKEN) == 1 and not session.standing.knowledge.conflicts()


def test_a_joint_silent_once_is_not_called_open_before_it_was_asked_again():
    board = tiny_board()
    session = start(board)
    give(session, QUIET)
    assert session.step().kind == ASK_AGAIN and session.findings_line().endswith("nothing bad so far")
    give(session, QUIET)
    assert session.findings_line().endswith("1 open")


def test_tones_that_a_part_may_carry_are_told_beside_what_is_proven():
    pin_map = find_pin_map("vga-de15")
    board = Board(pin_map, pin_map.layouts[0])
    session = start(board)
    take(session, [Row(str(ground), "@GND", "beep") for ground in (5, 6, 7, 8, 10)])
    assert session.findings_line().startswith("joins 0/5 (5 more, unless by a part or a neighbour), isolation 0/")
    tiny = start(tiny_board())
    take(tiny, [Row("1", "@GND", "beep")])
    assert tiny.findings_line().startswith("joins 1/3, ")


def test_what_is_asked_for_information_is_asked_once_and_decides_nothing():
    """The shell's metal may float: silent or not, it is asked once, and a sound board is clear."""
    pin_map = find_pin_map("usb-a-2")
    board = Board(pin_map, pin_map.layouts[0])
    asked = {board.shell_point, board.board_point[board.net_of[board.shell_point].name]}
    for answer in (BEEP, QUIET):
        session = start(board)
        seen = []
        while session.step().kind not in (DONE, IRON):
            step = session.step()
            if step.points is not None and set(step.points) == asked:
                seen.append(step.kind)
                give(session, answer)
            elif step.kind == OHMS_WANTED:
                give(session, "0.1" if SimulatedBoard(board).beeps(*step.points) else "OL")
            else:
                give(session, BEEP if step.points is None or SimulatedBoard(board).beeps(*step.points) else QUIET)
        assert seen == [TOUCH] and session.finished() and not session.result().opens


def test_the_key_of_seen_clear_and_its_help():
    assert key_map()["e"] == "seen clear"
    assert "e seen clear (looked at under magnification)" in KEYS_HELP and "seen clear" in LINE_HELP
    assert line_action("e") == line_action("Seen  clear") == ("seen clear", "")


def test_rework_all_names_the_equally_likely_joints_too():
    """TX on 5 lies between the grounds 4 and 6, at the same gap from both."""
    text = TINY_YAML.replace("[1, 4, 7]", "[1, 4, 6]").replace("contacts: [6]", "contacts: [7]")
    pin_map = parse_pin_map(text.encode(), "tiny.yaml")
    board = Board(pin_map, pin_map.layouts[0])
    session = start(board)
    assert drive(session, SimulatedBoard(board, [(board.number["4"], board.number["5"])])) == IRON
    steps = session.result().rework
    listed = {name for step in steps for pair in (step.joints, *step.elsewhere) for name in pair}
    assert any(step.alternatives for step in steps)
    assert {row.pin_a for row in session.rework(["all"])} == listed > set(steps[0].joints)


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
    session = start(board, passes=2, shorts_only=True)
    drive(session, SimulatedBoard(board))
    assert touches(session) == 3 + 2 * 6


def test_two_passes_ask_a_silent_join_again():
    board = tiny_board()
    session = start(board, passes=2, shorts_only=True)
    sim = SimulatedBoard(board, [], {board.number["4"]})
    assert drive(session, sim) == IRON
    pair = {board.number["4"], board.number["@GND"]}
    assert sum(entry.kind == QUIET and set(entry.points) == pair for entry in session.entries) == 2


def test_three_passes_ask_a_silent_contact_until_three_stand():
    """Joint 3 is the contact of a single signal; skipped, it is not asked for again."""
    board = tiny_board()
    session = start(board, passes=3)
    sim = SimulatedBoard(board, [], {board.number["3"]})
    assert drive(session, sim) == IRON
    contact = {board.number["3"], board.board_point[board.net_of[board.number["3"]].name]}
    assert sum(entry.kind == QUIET and set(entry.points) == contact for entry in session.entries) == 3
    for wall in session.needed.isolation:
        if session.known.apart(*wall.pairs[0]):
            ends = {frozenset(map(session.known.find, pair)) for pair in wall.pairs}
            silent = [e for e in session.entries if e.kind == QUIET]
            assert sum(frozenset(map(session.known.find, e.points)) in ends for e in silent) >= 3
    session = start(board, passes=3)
    while session.step().kind != ASK_AGAIN:
        step = session.step()
        give(session, BEEP if step.points is None or sim.beeps(*step.points) else QUIET)
    session.skip()
    assert session.step().kind != ASK_AGAIN and drive(session, sim) == IRON


def test_ol_on_a_contact_that_beeped_before_is_asked_again():
    """75 ohm from the signal to ground may have carried the beep of joint 4: one missed ohms touch makes no open."""
    tiny = tiny_board()
    part = DesignPath(("GND", tiny.net_of[tiny.number["3"]].name), 67.5, 82.5, "termination", True)
    board = Board(dataclasses.replace(tiny.pin_map, paths=(part,)), tiny.layout)
    session = start(board)
    four, ground = board.number["4"], board.number["@GND"]
    take(session, [Row("4", "@GND", "beep"), Row("4", "@GND", "OL")])
    assert session.step().kind == ASK_AGAIN and set(session.step().points) == {four, ground}
    give(session, BEEP)
    assert session.standing.count(TAKEN) == 1 and not session.result().opens


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
        assert "NOT recorded" not in probe.do("beep")
    asked = probe.session.step().points
    assert "NOT recorded" in probe.do("beep") and "free some space" in probe.do("beep")
    assert probe.session.step().points == asked and len(probe.session.entries) == 2
    memory.rows.append(Row("", "", "space again"))
    assert probe.do("beep") == "" and len(probe.session.entries) == 3
