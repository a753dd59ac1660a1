"""The rework list and the rounds."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.testlog.readings import REWORKED, Entry
from tests.strategies import SimulatedBoard, boards, checked, log, probe_until_settled, random_faults, tiny_board

FAULTY = "@GND 1 beep\n@GND 4 beep\n@GND 7 quiet\n1 2 beep\n2 3 quiet\n3 4 quiet\n4 5 beep\n5 6 quiet\n6 7 quiet"


def test_orders():
    board = tiny_board()
    text = "@GND 1 quiet\n@GND 4 beep\n@GND 7 beep\n2 3 beep"
    by_row = checked(board, log(board, text), order="row").rework
    assert [(s.step, s.joints, s.harm) for s in by_row] == [(1, ("1",), "open"), (2, ("2", "3"), "dead-signal")]
    by_harm = checked(board, log(board, text), order="harm").rework
    assert [(s.step, s.joints) for s in by_harm] == [(1, ("2", "3")), (2, ("1",))]


def test_probe_again_is_what_the_plan_asks_after_that_rework():
    board = tiny_board()
    entries = log(board, FAULTY.replace("1 2 beep", "1 2 quiet").replace("7 quiet", "7 beep", 1))
    result = checked(board, entries)
    (step,) = result.rework
    after = checked(board, [*entries, Entry(50, REWORKED, tuple(board.number[j] for j in step.joints))])
    wanted = {frozenset(p) for p in after.unproven}
    assert wanted - {frozenset(step.joints)} <= {frozenset(p) for p in step.probe_again}
    assert after.record.rounds == 2


@settings(max_examples=80, deadline=None)
@given(boards(most=9), st.integers(0, 2**32))
def test_rounds_end_clear_when_the_rework_is_well_done(board, seed):
    """Rework every step, the faults at its joints vanish; probe what is wanted; a few rounds end in clear."""
    import random

    sim = random_faults(board, random.Random(seed), 0.2, 0.1)
    entries, _verdict = probe_until_settled(sim)
    for _ in range(len(board.joints) + 2):
        result = checked(board, entries)
        if result.verdict != "rework":
            break
        heated = {board.number[j] for s in result.rework for j in s.joints if board.number[j] < len(board.joints)}
        heated |= {board.number[j] for s in result.rework for p in s.alternatives for j in p}
        sim = SimulatedBoard(
            board, [b for b in sim.bridges if not set(b) & heated], sim.opens - heated, sim.shell_on_ground
        )
        entries.append(Entry(len(entries) + 1, REWORKED, tuple(sorted(heated))))
        for _ in range(200):
            todo = checked(board, entries).unproven
            if not todo:
                break
            for a, b in todo:
                entries.append(sim.read(len(entries) + 1, board.number[a], board.number[b]))
    assert checked(board, entries).verdict == "clear"
