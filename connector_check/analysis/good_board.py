"""Comparison with a job taken on a sound board (or on this one before the old connector came off). Pure.

Joins between different nets that stand on the good board are by design; what is joined there and silent here is open.
"""

from __future__ import annotations

from itertools import combinations

from connector_check.analysis.meaning import PARTS
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import Open
from connector_check.board.harm import DAMAGE, SUPPLY_SHORT
from connector_check.testlog.readings import SEEN_CLEAR


def ties_of(good: Standing) -> list[frozenset[str]]:
    """The groups of nets that the good board joins, though the pin map would call it a short.

    A reference excuses no damage and no short of a supply: a board where those are joined is not sound.
    """
    board = good.board
    found = []
    for group in good.knowledge.classes():
        nets = {board.net_of[p].name: board.net_of[p] for p in group}
        if board.worst(nets.values()).harm in (DAMAGE, SUPPLY_SHORT):
            continue
        if any(board.must_be_apart(a, b) for a, b in combinations(nets.values(), 2)):
            found.append(frozenset(nets))
    return found


def opens_against(standing: Standing, good: Standing) -> list[Open]:
    """Pairs that the good board joins and that are quiet here. Points are matched by name; each pair is told once."""
    board, there = standing.board, good.board.number
    found: dict[frozenset[int], Open] = {}
    for reading in standing.readings:
        if reading.meaning != PARTS or reading.entry.kind == SEEN_CLEAR:
            continue
        # the joint can be reflowed, what is behind it cannot: of a joint and a board point the joint is named
        a, b = sorted(reading.entry.points, key=lambda point: point >= len(board.joints))
        names = board.pair((a, b))
        if names[0] not in there or names[1] not in there or standing.knowledge.joined(a, b):
            continue
        if good.knowledge.joined(there[names[0]], there[names[1]]):
            why = f"{names[0]} is silent to {names[1]}, which it reaches on the good board: open joint, part or track"
            found[frozenset((a, b))] = Open(board.net_of[a].name, names[0], why, (reading.entry.line,))
    return list(found.values())
