"""What is still to be measured, leaks, and contradictions. Pure."""

from __future__ import annotations

from collections.abc import Container
from math import exp

from connector_check.analysis.joined_nets import likely_joins
from connector_check.analysis.junction_tone import may_be_junction, tone_junctions
from connector_check.analysis.meaning import DOUBTFUL, JOINS, LEAK, PART, PARTS, RESISTIVE
from connector_check.analysis.obligations import Pair
from connector_check.analysis.odds import DECAY_MM, EQUAL_ODDS, LEAST_SHARE
from connector_check.analysis.replay import Reading, Standing
from connector_check.analysis.result import LEAK_KIND, RESISTIVE_KIND, BridgeSite, ConflictSet, Leak, Measure, PointPair
from connector_check.board.board import Board
from connector_check.board.ohms import BRIDGE_OHMS
from connector_check.pinout.geometry import gap
from connector_check.testlog.readings import Entry


def find_measures(standing: Standing) -> list[Measure]:
    """What is to be measured or looked at because parts may have made the reading: tones between nets that must be
    apart, and ohms that a part reads as well as solder.
    """
    found: dict[PointPair, Measure] = {}
    for reading in [*standing.unsettled_as(DOUBTFUL), *standing.unsettled_as(PART)]:
        measure = _measure(standing, reading)
        found[measure.pair] = measure
    return list(found.values())


def _measure(standing: Standing, reading: Reading) -> Measure:
    board = standing.board
    a, b = reading.entry.points
    pair, nets = board.pair((a, b)), (board.net_of[a], board.net_of[b])
    part = board.design_ohms(nets[0].name, nets[1].name)
    expected = (part.low, part.high) if part else None
    names = tuple(sorted(net.name for net in nets))
    junctions = tone_junctions(board, standing.meter, standing.entries)
    if reading.meaning == DOUBTFUL and may_be_junction(board, junctions, reading.entry.points):
        why = "diode mode shows a junction here, and on one this meter sounds: the tone may be that; measure ohms here"
    elif part is None:
        why = "no part joins these two, but parts behind joints not yet proven apart may sound: measure ohms here"
    elif reading.meaning == DOUBTFUL:
        tell = f"solder under {BRIDGE_OHMS:g} ohm" if part.tells_from_solder else "solder hardly less: look as well"
        what = ", then ".join(part.why)
        why = f"{what}: the part reads {part.low:g} to {part.high:g} ohm, {tell}; measure ohms here"
    else:
        what = ", then ".join(part.why)
        why = (
            f"{reading.ohms:g} ohm may be {what} ({part.low:g} to {part.high:g} ohm) or solder: look at the two under "
            f"magnification, then '{pair[0]},{pair[1]},seen clear' or 'solder seen'"
        )
    return Measure(pair, names, expected, BRIDGE_OHMS, why)


def find_leaks(standing: Standing) -> list[Leak]:
    """Ohms between solder and silence, and joints of one net that join only through ohms."""
    board = standing.board
    found = []
    for meaning, text in (
        (LEAK, f"{LEAK_KIND} (flux residue, whisker or damaged part): clean, dry, measure again"),
        (RESISTIVE, f"{RESISTIVE_KIND}: reflow it, measure again"),
    ):
        kind = LEAK_KIND if meaning == LEAK else RESISTIVE_KIND
        for reading in standing.unsettled_as(meaning):
            a, b = reading.entry.points
            nets = tuple(sorted({board.net_of[a].name, board.net_of[b].name}))
            ohms = reading.ohms or 0.0
            why = f"{ohms:g} ohm between solder and silence: {text}"
            leak = Leak(board.pair((a, b)), nets, round(ohms, 3), why, kind=kind)
            found.append(_explained(standing, reading, leak) if meaning == LEAK else leak)
    return found


def _explained(standing: Standing, reading: Reading, leak: Leak) -> Leak:
    """The leak with the short that is likely behind it, where two nets joined would read so."""
    joins = likely_joins(standing, reading)
    if not joins:
        return leak
    board, top = standing.board, joins[0]
    share = {board.pair(join.pair): exp((top.weight - join.weight) / DECAY_MM) for join in joins[1:]}
    equal = tuple(pair for pair, odds in share.items() if odds >= EQUAL_ODDS)
    less = tuple(pair for pair, odds in share.items() if LEAST_SHARE <= odds < EQUAL_ODDS)
    a, b = top.pair
    likely = BridgeSite(board.pair(top.pair), equal, gap(board.joints[a], board.joints[b]), less)
    nets = " and ".join(sorted((board.net_of[a].name, board.net_of[b].name)))
    why = (
        f"{leak.ohms:g} ohm is what {nets} joined would read ({top.reads.low:g} to {top.reads.high:g} ohm): "
        f"likely solder, {likely.told()}; measure ohms there first"
    )
    return leak._replace(why=why, likely=likely)


def find_conflicts(standing: Standing) -> list[ConflictSet]:
    """Every quiet inside a joined group with a shortest path of beeps, and the lines of both."""
    board = standing.board
    conflicts = standing.knowledge.conflicts()
    if not conflicts:
        return []
    parting: dict[frozenset[int], Entry] = {}
    joining: dict[frozenset[int], int] = {}
    for reading in standing.readings:
        pair = frozenset(reading.entry.points)
        if reading.meaning == PARTS:
            parting[pair] = reading.entry
        elif reading.meaning == JOINS:
            joining.setdefault(pair, reading.entry.line)
    found = []
    for conflict in conflicts:
        quiet = _as_touched(board, conflict.quiet, parting)
        told = parting[frozenset(quiet)]
        lines = {told.line, *(joining[frozenset(b)] for b in conflict.beeps)}
        beeps = tuple(map(board.pair, conflict.beeps))
        found.append(ConflictSet(board.pair(quiet), beeps, tuple(sorted(lines)), told.kind))
    return found


def _as_touched(board: Board, quiet: Pair, parting: Container[frozenset[int]]) -> Pair:
    """The pair as it was touched: a quiet on the whole shell counts for each of its joints, which then comes first."""
    whole = board.shell_point
    if frozenset(quiet) in parting or whole is None:
        return quiet
    return whole, quiet[1]
