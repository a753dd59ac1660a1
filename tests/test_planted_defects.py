"""The simulation must be able to fail: defects planted on purpose are caught by it, and every small fault set is judged
right one by one.
"""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import chain, combinations

import pytest

from connector_check.analysis import closing, replay, shorts, stale
from connector_check.analysis.knowledge import Knowledge, closure
from connector_check.analysis.meaning import JOINS
from connector_check.analysis.obligations import obligations
from connector_check.analysis.reach import Links, possible_links
from connector_check.testlog.readings import BEEP, QUIET
from tests.bench.stale_kept import PARTLY, reworks
from tests.planted import ANALYSIS, Defect, caught, swap
from tests.simulate import CLEAR_ON_BAD, WRONG_JOIN, Drive, Options, simulate
from tests.strategies import SimulatedBoard, probe_until_settled, random_faults, tiny_board


def wrong_verdicts(boards: int = 400, seed: int = 3) -> int:
    """How many of the simulated tiny boards get a wrong verdict."""
    board, rng, wrong = tiny_board(), random.Random(seed), 0
    for _ in range(boards):
        sim = random_faults(board, rng, 0.15, 0.15)
        _, verdict = probe_until_settled(sim)
        wrong += verdict != ("rework" if sim.harmful() or sim.open_in_scope() else "clear")
    return wrong


def test_without_a_defect_nothing_is_wrong():
    assert wrong_verdicts() == 0


def test_unknown_read_as_apart_is_caught(monkeypatch):
    monkeypatch.setattr(Knowledge, "apart", lambda self, a, b: self.find(a) != self.find(b))
    assert wrong_verdicts() > 0


def test_joins_left_out_is_caught(monkeypatch):
    """Net representatives without joins (T5): one ground joint stands for all, whether it reaches the board or not."""

    def representatives_only(board, scope):
        needed = obligations(board, scope)
        isolation = tuple(replace(o, pairs=o.pairs[:1], whole=False) for o in needed.isolation)
        return replace(needed, joins=(), isolation=isolation)

    monkeypatch.setattr(
        "connector_check.analysis.obligations.body", lambda board, knowledge, net: board.joints_of[net][0]
    )
    board, rng, missed = tiny_board(), random.Random(5), 0
    needed = representatives_only(board, "near")
    for _ in range(400):
        sim = random_faults(board, rng, 0.2, 0.2)
        reached = [(o.pairs[0]) for o in needed.isolation]
        first = {net.name: board.joints_of[net.name][0] for net in board.nets if board.joints_of[net.name]}
        pairs = [tuple(first[board.net_of[p].name] for p in pair) for pair in reached]
        entries = [sim.read(i, *pair) for i, pair in enumerate(pairs, 1) if pair[0] != pair[1]]
        standing = replay.replay(board, entries)
        missed += sim.harmful() and not shorts.short_groups(standing)
    assert missed > 0


def test_a_beep_outvoted_by_quiets_is_caught(monkeypatch):
    monkeypatch.setattr(closing, "closure", lambda count, joins, parts: closure(count, [], [*parts, *joins]))
    assert wrong_verdicts() > 0


@pytest.fixture(scope="module")
def probed() -> list[Drive]:
    """Boards of shipped maps with faults, without parts and with them, probed to the end of their first round."""
    drives = [Drive(seed, Options(STALE_MAPS, parts=seed % 2 == 1)) for seed in range(24)]
    for drive in drives:
        drive.probe()
    return drives


def kept_but_false(drives: list[Drive]) -> int:
    """Readings kept though some state that the heat can leave denies them."""
    return sum(count.false for drive in drives for count in reworks(drive))


STALE_MAPS = ("usb-c-16", "trs-3.5", "vga-de15", "usb-a-3", "usb-mini-b", "sata-7", "trrs-3.5-sleeve-gnd")


def test_the_stale_rule_keeps_nothing_that_the_heat_may_have_made_false(probed):
    counts = [count for drive in probed for count in reworks(drive)]
    assert sum(count.false for count in counts) == 0
    whole_plan = [count for count in counts if count.joints != PARTLY]
    # 0.785 of what the oracle keeps on these small boards
    assert sum(count.kept for count in whole_plan) > 0.75 * sum(count.oracle for count in whole_plan)


def only_at_the_joints(heat, entry, meaning):
    return bool(set(entry.points) & heat.heated)


def only_silence(heat, entry, meaning):
    return entry.kind == QUIET and RIGHT(heat, entry, meaning)


def only_joins(heat, entry, meaning):
    return entry.kind == BEEP and RIGHT(heat, entry, meaning)


def without_new_links(heat, entry, meaning):
    heat.after = heat.before
    return RIGHT(heat, entry, meaning)


def without_parts(heat, entry, meaning):
    heat.parts = []
    return RIGHT(heat, entry, meaning)


def one_graph_for_silence_and_joins(heat, entry, meaning):
    """Silence judged by the links that there may have been before."""
    return RIGHT(heat, entry, JOINS)


RIGHT = stale._Heat.may_change


@pytest.mark.parametrize(
    "naive",
    [
        only_at_the_joints,
        only_silence,
        only_joins,
        without_new_links,
        without_parts,
        one_graph_for_silence_and_joins,
    ],
)
def test_each_clause_of_the_stale_rule_is_missed_when_it_is_left_out(monkeypatch, probed, naive):
    monkeypatch.setattr(stale._Heat, "may_change", naive)
    assert kept_but_false(probed) > 0


def test_links_known_apart_that_a_rework_may_make_are_missed(monkeypatch, probed):
    """What was apart before the heat stays apart only away from it; and unknown is not apart."""
    monkeypatch.setattr(stale, "possible_links", lambda board, scope: Links([], possible_links(board, scope).fixed))
    assert kept_but_false(probed) > 0
    monkeypatch.setattr(stale, "possible_links", lambda board, scope: Links(possible_links(board, scope).bridges, []))
    assert kept_but_false(probed) > 0


@pytest.mark.parametrize("shell_on_ground", [False, True])
def test_every_set_of_neighbour_bridges_and_open_grounds_is_judged_right(shell_on_ground):
    """Exhaustive: 2^8 bridge sets by 2^3 sets of open ground joints on the seven-pin connector."""
    board = tiny_board()
    edges = [(board.number[a], board.number[b]) for a, b, _ in board.near_gaps]
    assert len(edges) == 8

    def subsets(items):
        return chain.from_iterable(combinations(items, n) for n in range(len(items) + 1))

    for opens in subsets([0, 3, 6]):
        for bridges in subsets(edges):
            sim = SimulatedBoard(board, list(bridges), set(opens), shell_on_ground)
            _, verdict = probe_until_settled(sim)
            assert verdict == ("rework" if sim.harmful() or sim.open_in_scope() else "clear"), (bridges, opens)


def failures(kind: str) -> int:
    """How many of five whole sessions over VGA sockets with parts and faults end in this failure."""
    outcomes = simulate(5, 3, Options(("vga-de15",), ("10:250",), parts=True), processes=1)
    return sum(outcome.counts[kind] > 0 for outcome in outcomes)


def no_contact(board, scope):
    return replace(obligations(board, scope), contacts=())


def contact_is_nobodys_concern(monkeypatch):
    monkeypatch.setattr(f"{ANALYSIS}.examine.obligations", no_contact)
    monkeypatch.setattr("connector_check.probing.progress.obligations", no_contact)


def no_floor(board, reach):
    return lambda a, b: float("inf")


SESSIONS = [
    Defect("contact is half of the verdict", contact_is_nobodys_concern, lambda: not failures(CLEAR_ON_BAD)),
    Defect("parts conduct (T8)", swap(f"{ANALYSIS}.closing.part_floor", no_floor), lambda: not failures(WRONG_JOIN)),
]


@pytest.mark.parametrize("defect", SESSIONS, ids=lambda defect: defect.rule)
def test_a_rule_switched_off_is_caught_in_whole_sessions(defect, monkeypatch):
    assert caught(defect, monkeypatch)
