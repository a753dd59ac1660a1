"""Findings: shorts, harmless joins, opens, what to measure, leaks, contradictions, the ledger and the verdict. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable
from itertools import combinations

from connector_check.analysis.bridges import Evidence, Pair, sites
from connector_check.analysis.knowledge import Knowledge
from connector_check.analysis.obligations import Obligations, apart_once_joined, body, missing
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import (
    CLEAR,
    INFERRED,
    MEASURED,
    REWORK,
    UNPROVEN,
    BridgeSite,
    ConflictSet,
    Count,
    Harmless,
    Leak,
    Ledger,
    Measure,
    Open,
    PointPair,
    Short,
)
from connector_check.board.board import Board
from connector_check.board.harm import GRADES, HARMFUL, HARMLESS, NOTE
from connector_check.pinout.pinmap import Net
from connector_check.testlog.meter import BRIDGE_OHMS
from connector_check.testlog.readings import BEEP, CHIRP, OHMS, QUIET


def evidence_of(standing: Standing) -> Evidence:
    """The remarks of a job that raise a bridge site."""
    return Evidence(standing.mask_lost, standing.solder_seen, standing.reworked)


def short_groups(standing: Standing) -> list[list[int]]:
    """The joined groups that span nets which must be apart, worst harm first, then in layout order."""
    board = standing.board
    found = []
    for group in standing.knowledge.classes():
        if len(group) > 1:
            nets = {board.net_of[p].name: board.net_of[p] for p in group}
            harm = board.worst(nets.values()).harm
            if harm != HARMLESS:
                found.append((GRADES.index(harm), group))
    return [group for _, group in sorted(found)]


def find_shorts(standing: Standing) -> list[Short]:
    """One short for each group of `short_groups`, with its likely sites and the readings that carry it."""
    board, knowledge = standing.board, standing.knowledge
    groups = short_groups(standing)
    lines: dict[int, list[int]] = {knowledge.find(group[0]): [] for group in groups}
    direct: set[frozenset[str]] = set()
    if groups:
        for entry in standing.entries:
            if entry.kind in (BEEP, OHMS):
                carried = lines.get(knowledge.find(entry.points[0]))
                if carried is not None and knowledge.joined(*entry.points):
                    carried.append(entry.line)
                    direct.add(frozenset(board.net_of[p].name for p in entry.points))
    shorts = []
    for group in groups:
        nets = {board.net_of[p].name: board.net_of[p] for p in group}
        harm = board.worst(nets.values())
        found = sites(board, knowledge, group, evidence_of(standing))
        shorts.append(
            Short(
                nets=tuple(sorted(nets)),
                joints=tuple(board.names(group)),
                harm=harm.harm,
                why=harm.why,
                volts=harm.volts,
                sites=tuple(
                    BridgeSite(_named(board, s.pair), tuple(_named(board, p) for p in s.alternatives), s.gap_mm)
                    for s in found
                ),  # fmt: skip
                readings=tuple(lines[knowledge.find(group[0])]),
                known=MEASURED if _all_direct(board, nets, direct) else INFERRED,
            )
        )
    return shorts


def _all_direct(board: Board, nets: dict[str, Net], direct: set[frozenset[str]]) -> bool:
    """Whether each two nets that must be apart beeped directly; a group of many is not gone through pair by pair."""
    if len(nets) > 40:
        return False
    return all(
        frozenset((a.name, b.name)) in direct for a, b in combinations(nets.values(), 2) if board.must_be_apart(a, b)
    )


def find_harmless(standing: Standing) -> list[Harmless]:
    """Joins that are no fault: joints of one net, ground to ground, shell to ground where the map allows it."""
    board = standing.board
    touching = {net.name for net in board.touching_nets}
    board_points = set(board.board_point.values())
    found = []
    for group in standing.knowledge.classes():
        if len(group) < 2:
            continue
        by_net: dict[str, list[int]] = {}
        for point in group:
            by_net.setdefault(board.net_of[point].name, []).append(point)
        earth = [n for n in by_net if n in touching]
        bundles = [[n] for n in by_net if n not in earth]
        for name in earth:
            for bundle in bundles:
                if bundle[0] in earth and not any(_apart(board, name, other) for other in bundle):
                    bundle.append(name)
                    break
            else:
                bundles.append([name])
        for names in bundles:
            points = [p for name in names for p in by_net[name]]
            joints = sum(1 for p in points if p not in board_points)
            if len(points) > 1 and (joints > 1 or names[0] in earth):
                why = board.grade(_net(board, names[0]), _net(board, names[-1])).why
                found.append(Harmless(tuple(sorted(names)), tuple(board.names(points)), why))
    return found


def _apart(board: Board, a: str, b: str) -> bool:
    return board.must_be_apart(_net(board, a), _net(board, b))


def _net(board: Board, name: str) -> Net:
    return board.net_of[board.board_point[name]]


def find_opens(standing: Standing) -> list[Open]:
    """Joints of a must-join net that are apart from its main group, and landings that are quiet."""
    board, knowledge = standing.board, standing.knowledge
    found = []
    for net in board.nets:
        joints = board.joints_of[net.name]
        point = board.board_point[net.name]
        if net.must_join:
            main = body(board, knowledge, net.name)
            split = [j for j in joints if knowledge.apart(j, main) or knowledge.apart(j, point)]
            sizes = Counter(knowledge.find(j) for j in joints)
            undecided = (
                bool(split) and main != point and not any(knowledge.apart(j, point) for j in joints)
                and sizes[knowledge.find(main)] <= max(sizes[knowledge.find(j)] for j in split)
            )  # fmt: skip
            for joint in [main, *split] if undecided else split:
                name = board.points[joint]
                if undecided:
                    others = [board.points[j] for j in joints if knowledge.apart(j, joint)]
                    why = (f"{name} is silent to {', '.join(others)} of its own net {net.name}: one of them is open; "
                           f"touch each to the board's {net.name}")  # fmt: skip
                else:
                    why = f"{name} does not reach {net.name} on the board: open joint or broken track"
                found.append(_open(standing, net.name, joint, why))
        else:
            for joint in joints:
                if knowledge.apart(joint, point):
                    name = board.points[joint]
                    why = f"{name} does not reach its board point @{net.name}: open joint or broken track"
                    found.append(_open(standing, net.name, joint, why))
    return found + find_open_parts(standing)


def _open(standing: Standing, net: str, joint: int, why: str) -> Open:
    measured = any(e.kind in (QUIET, CHIRP) and joint in e.points for e in standing.entries)
    lines = _quiet_lines(standing, joint, net)
    return Open(net, standing.board.points[joint], why, lines, MEASURED if measured else INFERRED)


def find_open_parts(standing: Standing) -> list[Open]:
    """Silence over a part that must sound on this meter: an open winding, choke or fuse, or an open joint at it."""
    board, meter = standing.board, standing.meter
    found: dict[PointPair, Open] = {}
    for entry in standing.entries:
        if entry.kind not in (QUIET, CHIRP):
            continue
        a, b = entry.points
        nets = board.net_of[a], board.net_of[b]
        part = board.design_ohms(nets[0].name, nets[1].name) if nets[0] is not nets[1] else None
        if part and part.sure and part.high < meter.sounds_below:
            pair = _named(board, (a, b))
            what = ", then ".join(part.why)
            why = (f"{pair[0]} is silent to {pair[1]} over {what} ({part.low:g} to {part.high:g} ohm): "
                   "open part, or an open joint at either end")  # fmt: skip
            found[pair] = Open(nets[0].name, pair[0], why, (entry.line,))
    return list(found.values())


def _quiet_lines(standing: Standing, joint: int, net: str) -> tuple[int, ...]:
    board, knowledge = standing.board, standing.knowledge
    root = knowledge.find(joint)
    return tuple(
        e.line for e in standing.entries
        if e.kind in (QUIET, CHIRP, OHMS) and not knowledge.joined(*e.points)
        and root in (knowledge.find(e.points[0]), knowledge.find(e.points[1]))
        and all(board.net_of[p].name == net for p in e.points)
    )  # fmt: skip


def find_measures(standing: Standing) -> list[Measure]:
    """Beeps that a part by design may have made, with the ohms that mean the part and those that mean solder."""
    board = standing.board
    found: dict[PointPair, Measure] = {}
    for entry in standing.doubtful:
        pair = _named(board, (entry.points[0], entry.points[1]))
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
    for entries, text in (
        (standing.leaks, "leak (flux residue, whisker or damaged part): clean, dry, measure again"),
        (standing.resistive, "resistive joint: reflow it, measure again"),
    ):
        for entry, ohms in entries:
            pair = _named(board, (entry.points[0], entry.points[1]))
            nets = tuple(sorted({board.net_of[p].name for p in entry.points}))
            found.append(Leak(pair, nets, round(ohms, 3), f"{ohms:g} ohm between solder and silence: {text}"))
    return found


def find_conflicts(standing: Standing) -> list[ConflictSet]:
    """Every quiet inside a joined group with a shortest path of beeps, and the lines of both."""
    board = standing.board
    found = []
    conflicts = standing.knowledge.conflicts()
    if not conflicts:
        return []
    quiet_lines: dict[frozenset[int], list[int]] = {}
    beep_lines: dict[frozenset[int], list[int]] = {}
    for entry in standing.entries:
        pair = frozenset(entry.points)
        if entry.kind in (QUIET, CHIRP) or (entry.kind == OHMS and (entry.ohms or 0.0) >= BRIDGE_OHMS):
            quiet_lines.setdefault(pair, []).append(entry.line)
        elif entry.kind in (BEEP, OHMS):
            beep_lines.setdefault(pair, []).append(entry.line)
    whole = board.shell_point
    for conflict in conflicts:
        quiet: tuple[int, ...] = conflict.quiet
        if frozenset(quiet) not in quiet_lines and whole is not None:
            quiet = tuple(whole if p in board.shell_joints else p for p in quiet)
        lines = quiet_lines.get(frozenset(quiet), [])[-1:]
        lines += [beep_lines[frozenset(b)][0] for b in conflict.beeps if frozenset(b) in beep_lines]
        found.append(
            ConflictSet(
                _named(board, (quiet[0], quiet[1])),
                tuple(_named(board, b) for b in conflict.beeps),
                tuple(sorted(lines)),
            )
        )
    return found


def _named(board: Board, pair: Pair) -> PointPair:
    a, b = pair
    return board.points[a], board.points[b]


def account(
    board: Board, knowledge: Knowledge, needed: Obligations, landings_required: bool
) -> tuple[Ledger, list[Pair]]:
    """The ledger, and the pairs still to be touched: joins first, then isolation nearest first, then landings."""
    todo: list[Pair] = []
    joins, assumed = 0, 0
    waiting: set[int] = set()
    for joint, point in needed.joins:
        if knowledge.joined(joint, point):
            joins += 1
            continue
        if any(knowledge.joined(joint, other) for other in board.joints_of[board.net_of[joint].name] if other != joint):
            assumed += 1
        if not knowledge.apart(joint, point) and knowledge.find(joint) not in waiting:
            waiting.add(knowledge.find(joint))
            todo.append((joint, point))
    proven = noted = 0
    soon = apart_once_joined(board, knowledge, needed) if todo else knowledge.apart
    for obligation in needed.isolation:
        pair = missing(board, knowledge, obligation)
        if pair is None:
            proven += 1
        elif knowledge.joined(*pair):
            if board.grade(board.net_of[pair[0]], board.net_of[pair[1]]).harm == NOTE:
                noted += 1
        elif (pair := missing(board, knowledge, obligation, soon)) is not None:
            todo.append(pair)
    reached = sum(1 for pair in needed.landings if knowledge.joined(*pair))
    if landings_required:
        todo += [pair for pair in needed.landings if not knowledge.joined(*pair) and not knowledge.apart(*pair)]
    required = len(needed.landings) if landings_required else 0
    ledger = Ledger(
        joins=Count(len(needed.joins), joins, assumed),
        isolation=Count(len(needed.isolation) - noted, proven),
        landings=Count(required, reached if landings_required else 0),
        landings_listed=len(needed.landings),
        landings_reached=reached,
        not_in_scope=needed.not_in_scope,
    )
    return ledger, todo


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
    unsettled = todo or standing.doubtful or standing.leaks or standing.resistive or standing.knowledge.conflicts()
    return UNPROVEN if unsettled else CLEAR
