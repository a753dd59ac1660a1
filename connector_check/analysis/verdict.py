"""The ledger, the touches still wanted, and the verdict. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from connector_check.analysis.knowledge import UNKNOWN, Knowledge
from connector_check.analysis.obligations import Obligations, Pair, apart_once_joined, missing
from connector_check.analysis.opens import find_opens
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import CLEAR, REWORK, UNPROVEN, Count, Ledger, Open
from connector_check.analysis.shorts import short_groups
from connector_check.board.board import Board
from connector_check.board.harm import HARMFUL, NOTE


def account(
    board: Board, knowledge: Knowledge, needed: Obligations, landings_required: bool
) -> tuple[Ledger, list[Pair]]:
    """The ledger, and the pairs still to be touched: joins first, then isolation nearest first, then landings."""
    joins, todo = _joins(board, knowledge, needed)
    isolation, pairs = _isolation(board, knowledge, needed, joins_wanted=bool(todo))
    todo += pairs
    reached = sum(1 for pair in needed.landings if knowledge.joined(*pair))
    if landings_required:
        todo += [pair for pair in needed.landings if knowledge.status(*pair) == UNKNOWN]
    ledger = Ledger(
        joins=joins,
        isolation=isolation,
        landings=Count(len(needed.landings), reached) if landings_required else Count(0, 0),
        landings_listed=len(needed.landings),
        landings_reached=reached,
        not_in_scope=needed.not_in_scope,
    )
    return ledger, todo


def _joins(board: Board, knowledge: Knowledge, needed: Obligations) -> tuple[Count, list[Pair]]:
    proven = assumed = 0
    todo: list[Pair] = []
    waiting: set[int] = set()
    for joint, point in needed.joins:
        if knowledge.joined(joint, point):
            proven += 1
            continue
        fellows = board.joints_of[board.net_of[joint].name]
        assumed += any(knowledge.joined(joint, other) for other in fellows if other != joint)
        # of joints that are joined together one is asked for
        if not knowledge.apart(joint, point) and knowledge.find(joint) not in waiting:
            waiting.add(knowledge.find(joint))
            todo.append((joint, point))
    return Count(len(needed.joins), proven, assumed), todo


def _isolation(board: Board, knowledge: Knowledge, needed: Obligations, joins_wanted: bool) -> tuple[Count, list[Pair]]:
    proven = noted = 0
    todo: list[Pair] = []
    soon = apart_once_joined(knowledge, needed) if joins_wanted else knowledge.apart
    for obligation in needed.isolation:
        pair = missing(board, knowledge, obligation)
        if pair is None:
            proven += 1
        elif knowledge.joined(*pair):
            noted += board.grade(board.net_of[pair[0]], board.net_of[pair[1]]).harm == NOTE
        elif (pair := missing(board, knowledge, obligation, soon)) is not None:
            todo.append(pair)
    return Count(len(needed.isolation) - noted, proven), todo


def verdict(standing: Standing, needed: Obligations, landings_required: bool) -> str:
    """`rework`, `unproven` or `clear`, without building the findings (for simulations over many boards)."""
    board = standing.board
    harms = [board.worst(board.net_of[p] for p in group).harm for group in short_groups(standing)]
    _, todo = account(board, standing.knowledge, needed, landings_required)
    return decide(standing, harms, find_opens(standing), todo)


def decide(standing: Standing, harms: Iterable[str], opens: Collection[Open], todo: Collection[Pair]) -> str:
    """The verdict from findings already made: the shorts' harms, the opens, and the pairs still to be touched."""
    if opens or any(harm in HARMFUL for harm in harms):
        return REWORK
    return UNPROVEN if todo or standing.unsettled or standing.knowledge.conflicts() else CLEAR
