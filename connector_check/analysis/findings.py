"""What is still to be measured, leaks, and contradictions. Pure."""

from __future__ import annotations

from collections.abc import Container

from connector_check.analysis.meaning import JOINS, LEAK, PARTS, RESISTIVE
from connector_check.analysis.obligations import Pair
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import ConflictSet, Leak, Measure, PointPair
from connector_check.board.board import Board
from connector_check.testlog.meter import BRIDGE_OHMS


def find_measures(standing: Standing) -> list[Measure]:
    """Beeps that a part by design may have made, with the ohms that mean the part and those that mean solder."""
    board = standing.board
    found: dict[PointPair, Measure] = {}
    for entry in standing.doubtful:
        pair = board.pair((entry.points[0], entry.points[1]))
        nets = [board.net_of[p] for p in entry.points]
        part = board.design_ohms(nets[0].name, nets[1].name)
        assert part is not None, "a beep is doubtful only where a part by design conducts"
        low, high = part.low, part.high
        solder = min(BRIDGE_OHMS, low)
        tell = f"solder under {solder:g} ohm" if low > 0 else "as solder does: look through a magnifier as well"
        parts = ", then ".join(part.why)
        why = f"{parts}: the part reads {low:g} to {high:g} ohm, {tell}; measure ohms here"
        found[pair] = Measure(pair, tuple(sorted(n.name for n in nets)), (low, high), solder, why)
    return list(found.values())


def find_leaks(standing: Standing) -> list[Leak]:
    """Ohms between solder and silence, and joints of one net that join only through ohms."""
    board = standing.board
    found = []
    for meaning, text in (
        (LEAK, "leak (flux residue, whisker or damaged part): clean, dry, measure again"),
        (RESISTIVE, "resistive joint: reflow it, measure again"),
    ):
        for reading in standing.unsettled_as(meaning):
            a, b = reading.entry.points
            nets = tuple(sorted({board.net_of[a].name, board.net_of[b].name}))
            ohms = reading.ohms or 0.0
            found.append(
                Leak(board.pair((a, b)), nets, round(ohms, 3), f"{ohms:g} ohm between solder and silence: {text}")
            )
    return found


def find_conflicts(standing: Standing) -> list[ConflictSet]:
    """Every quiet inside a joined group with a shortest path of beeps, and the lines of both."""
    board = standing.board
    conflicts = standing.knowledge.conflicts()
    if not conflicts:
        return []
    parting: dict[frozenset[int], int] = {}
    joining: dict[frozenset[int], int] = {}
    for reading in standing.readings:
        pair = frozenset(reading.entry.points)
        if reading.meaning == PARTS:
            parting[pair] = reading.entry.line
        elif reading.meaning == JOINS:
            joining.setdefault(pair, reading.entry.line)
    found = []
    for conflict in conflicts:
        quiet = _as_touched(board, conflict.quiet, parting)
        lines = {parting[frozenset(quiet)], *(joining[frozenset(b)] for b in conflict.beeps)}
        found.append(ConflictSet(board.pair(quiet), tuple(map(board.pair, conflict.beeps)), tuple(sorted(lines))))
    return found


def _as_touched(board: Board, quiet: Pair, parting: Container[frozenset[int]]) -> Pair:
    """The pair as it was touched: a quiet on the whole shell counts for each of its joints, which then comes first."""
    whole = board.shell_point
    if frozenset(quiet) in parting or whole is None:
        return quiet
    return whole, quiet[1]
