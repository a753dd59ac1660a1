"""Simulated boards of one kind, good ones and bad ones, on shipped maps: what a reference excuses and what it tells."""

from __future__ import annotations

import random
from itertools import pairwise
from math import inf

import pytest

from connector_check.analysis.check import check
from connector_check.analysis.good_board import differences_of, shown_by
from connector_check.analysis.good_design import designed_as
from connector_check.analysis.replay import replay
from connector_check.analysis.result import Result
from connector_check.board.board import Board
from connector_check.board.harm import DAMAGE, DEAD_SIGNAL
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.testlog.job import GoodBoard, Job
from connector_check.testlog.readings import LEADS_GOOD, OHMS, VOLTS, Entry
from tests.strategies import SimulatedBoard, probe_until_settled

LEADS = Entry(0, LEADS_GOOD, ())
MAPS = ["vga-de15", "usb-c-16", "usb-a-3", "arm-jtag-20", "sata-7", "rj45-10-100"]


def board_of(map_id: str) -> Board:
    pin_map = find_pin_map(map_id)
    return Board(pin_map, pin_map.layouts[0])


def beside_good(board: Board, count: int, opens: tuple[int, ...] = (), bridge: tuple[int, int] | None = None) -> Result:
    """A whole job on a board beside so many others that were made like it, solder read in ohms as well."""
    bridges = [bridge] if bridge else []
    solder = [Entry(9999, OHMS, bridge, 0.1)] if bridge else []
    entries, verdict = probe_until_settled(SimulatedBoard(board, bridges, opens), shorts_only=False)
    assert verdict == "rework"
    good = tuple(GoodBoard(board, [LEADS, *entries, *solder, LEADS]) for _ in range(count))
    design = designed_as(board, good)
    entries, _ = probe_until_settled(SimulatedBoard(design.board, bridges, opens), shorts_only=False)
    job = Job(design.board, [LEADS, *entries, *solder, LEADS], good_boards=good, as_good=design.told)
    return check(job)


@pytest.mark.parametrize("map_id", MAPS)
def test_what_is_open_on_both_boards_is_no_finding_and_clear_survives_the_search(map_id):
    board = board_of(map_id)
    nets = [board.net_of[j] for j in range(len(board.joints))]
    alone = [j for j, net in enumerate(nets) if not net.must_join and board.must_reach(net)]
    ground = [j for j, net in enumerate(nets) if net.must_join and len(board.joints_of[net.name]) > 2]
    for joints in filter(None, (alone, ground)):
        assert beside_good(board, 1, (random.Random(map_id).choice(joints),)).verdict == "clear"


@pytest.mark.parametrize("map_id", MAPS)
def test_solder_on_both_boards_is_excused_where_nothing_is_destroyed_and_else_by_two_boards_alone(map_id):
    board = board_of(map_id)
    rng = random.Random(map_id)
    gaps = [(board.number[a], board.number[b]) for a, b, _ in board.near_gaps]
    of = {
        harm: [g for g in gaps if board.grade(*(board.net_of[p] for p in g)).harm == harm]
        for harm in (DEAD_SIGNAL, DAMAGE)
    }
    assert of[DEAD_SIGNAL]
    assert beside_good(board, 1, bridge=rng.choice(of[DEAD_SIGNAL])).verdict == "clear"
    if of[DAMAGE]:
        bridge = rng.choice(of[DAMAGE])
        assert beside_good(board, 1, bridge=bridge).shorts[0].harm == DAMAGE
        assert beside_good(board, 2, bridge=bridge).verdict == "clear"


SPREAD, MOST = 0.05, 0.01


def swept(board: Board, rng: random.Random, volts: dict[int, float], ohms: dict[tuple[int, int], float]) -> list[Entry]:
    """A diode-mode sweep and ohms of one board: each of its values off by a spread of its own."""
    ground = next(board.board_point[net.name] for net in board.nets if net.role == "ground")
    entries = [
        Entry(i, VOLTS, (j, ground), round(v * rng.gauss(1, SPREAD), 3)) for i, (j, v) in enumerate(volts.items())
    ]
    entries += [Entry(i, OHMS, pair, v * rng.gauss(1, SPREAD)) for i, (pair, v) in enumerate(ohms.items())]
    return [LEADS, *entries, LEADS]


@pytest.mark.parametrize("count", [1, 3])
def test_pairs_of_good_boards_with_five_per_cent_spread_over_all_maps(count):
    """Every signal and supply at 0.25 to 0.9 V, and 5 ohm to 47 kohm to its neighbour. Few of the pairs may differ; an
    open line and a halved resistance are always told.
    """
    rng = random.Random(count)
    compared = false = 0
    for map_id in [*list_ids(), *list_ids()]:
        board = board_of(map_id)
        joints = [j for j in range(len(board.joints)) if board.net_of[j].role in ("data", "power")][:60]
        if len(joints) < 2 or not any(net.role == "ground" for net in board.nets):
            continue
        volts = {j: rng.uniform(0.25, 0.9) for j in joints}
        ohms = {pair: rng.choice([5.0, 22.0, 75.0, 330.0, 4.7e3, 47e3]) for pair in pairwise(joints)}
        ohms[joints[0], joints[1]] = 75.0
        good = [shown_by(replay(board, swept(board, rng, volts, ohms))) for _ in range(count)]
        here = shown_by(replay(board, swept(board, rng, volts, ohms)))
        compared += len(volts) + len(ohms)
        false += len(list(differences_of(here, good, [])))
        volts[joints[0]], ohms[joints[0], joints[1]] = inf, 75.0 / 2
        faulty = shown_by(replay(board, swept(board, rng, volts, ohms)))
        found = {difference.points for difference in differences_of(faulty, good, [])}
        assert {(board.points[joints[0]],), board.pair((joints[0], joints[1]))} <= found
    assert compared > 2000 and false / compared < MOST, f"{false} of {compared}"
