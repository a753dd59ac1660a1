"""Complete and broken jobs on shipped maps for the refuter: readings drawn from a board by the second judge."""

from __future__ import annotations

import random
from itertools import combinations
from math import inf

from connector_check.analysis.refuter_model import BoardModel, ohms_range
from connector_check.analysis.refuting import model_of
from connector_check.board.board import Board
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import GROUND, POWER, RESERVED, SHELL
from connector_check.testlog.meter import Meter
from tests.refuter_truth import Truth

BRIDGE_LIMIT = 5.0


def shipped_board(map_id: str) -> Board:
    pin_map = find_pin_map(map_id)
    return Board(pin_map, pin_map.layouts[0])


def required(board: Board) -> set[int]:
    return {i for i in range(len(board.joints)) if board.net_of[i].role not in (SHELL, RESERVED)}


def empty_model(board: Board, meter: Meter) -> BoardModel:
    return model_of(board, [], "near", meter, required(board))


def drawn(model: BoardModel, faults, rng: random.Random, fitted: float = 0.7) -> Truth:
    """A board with these faults, its optional ties and parts drawn."""
    ties = [tie for tie in model.optional_ties if rng.random() < 0.5]
    star_there: dict[str, bool] = {}
    ohms = []
    for part in model.parts:
        there = star_there.setdefault(part.b if part.b.startswith("*") else str(len(ohms)), rng.random() < fitted)
        ohms.append(rng.uniform(part.low, part.high) if there or not part.may_be_absent else inf)
    return Truth(model, faults, ties, ohms)


def wanted_pairs(board: Board) -> list[tuple[int, int]]:
    """What a complete job touches: contact of every joint but the shell's, each near pair, each joint against ground,
    each supply against every other."""
    joints = range(len(board.joints))
    pairs = [(i, board.board_point[board.net_of[i].name]) for i in joints if board.net_of[i].role != RESERVED]
    pairs += [(board.number[a], board.number[b]) for a, b, _ in board.near_gaps]
    for i in joints:
        for net in board.nets:
            asked = net.role == GROUND or (net.role == POWER and board.net_of[i].role == POWER)
            if asked and net.name != board.net_of[i].name:
                pairs.append((i, board.board_point[net.name]))
    points = [board.board_point[net.name] for net in board.touching_nets]
    return [*dict.fromkeys([*pairs, *combinations(points, 2)])]


def read(truth: Truth, board: Board, pairs, meter: Meter, rng: random.Random, ask_ohms: bool = True):
    """Standing readings of these pairs: a touch each, and ohms where another net sounded."""
    standing = []
    for a, b in pairs:
        ohms = truth.ohms(board.points[a], board.points[b])
        sounds = ohms < meter.sounds_below * 1.001 or (ohms <= meter.silent_above and rng.random() < 0.5)
        standing.append(
            (a, b, 0.0 if sounds else meter.sounds_below * 1.001, meter.silent_above if sounds else inf, False)
        )
        if ask_ohms and sounds and board.net_of[a] is not board.net_of[b]:
            standing.append(ohms_reading(a, b, ohms))
    return standing


def ohms_reading(a: int, b: int, ohms: float):
    least, most = ohms_range(round(ohms, 1))
    return (a, b, least if ohms >= BRIDGE_LIMIT else 0.0, most, False)
