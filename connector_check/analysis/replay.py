"""From the entries of a job to standing readings and what they prove.

Nothing is erased: an entry stands, or it was taken back, or it went stale (rework, bad leads). The standing ones are
judged against meter and design paths, and closed by `knowledge`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import inf

from connector_check.analysis.knowledge import Knowledge, closure
from connector_check.analysis.stale import stale_after_rework
from connector_check.board.board import NEAR, Board
from connector_check.testlog.meter import BRIDGE_OHMS, UNKNOWN_METER, Meter
from connector_check.testlog.readings import (
    BEEP,
    CHIRP,
    LEADS_BAD,
    LEADS_GOOD,
    MASK_LOST,
    OHMS,
    QUIET,
    READINGS,
    REMARK,
    REWORKED,
    SOLDER_SEEN,
    TAKEN_BACK,
    Entry,
)

JOINS, PARTS, DOUBTFUL, LEAK, RESISTIVE, NOTHING = "joins", "parts", "doubtful", "leak", "resistive", "nothing"


@dataclass
class Standing:
    """What a job amounts to at its end. Points are numbers of the board.

    entries: standing readings; taken_back, stale: how many readings no longer stand, and why; knowledge: what the
    standing ones prove; doubtful, leaks: readings that neither join nor part; mask_lost, solder_seen, reworked: remarks
    that raise a bridge site; rounds: probing rounds so far; lead_checks: good and bad ones; leads_ohms: the leads' own
    resistance; open_quiets: standing quiets after the last good lead check.
    """

    board: Board
    meter: Meter
    scope: str = NEAR
    entries: list[Entry] = field(default_factory=list)
    knowledge: Knowledge = field(default_factory=lambda: Knowledge(0))
    doubtful: list[Entry] = field(default_factory=list)
    leaks: list[tuple[Entry, float]] = field(default_factory=list)
    resistive: list[tuple[Entry, float]] = field(default_factory=list)
    taken_back: int = 0
    stale: int = 0
    mask_lost: set[frozenset[int]] = field(default_factory=set)
    solder_seen: set[frozenset[int]] = field(default_factory=set)
    reworked: set[int] = field(default_factory=set)
    rounds: int = 1
    lead_checks: list[bool] = field(default_factory=list)
    leads_ohms: float = 0.0
    unclosed_quiets: int = 0


def judge(board: Board, meter: Meter, entry: Entry, leads_ohms: float = 0.0) -> str:
    """What one reading means: JOINS, PARTS, DOUBTFUL (a part may have sounded), LEAK, RESISTIVE or NOTHING.

    A quiet always excludes solder. A beep joins, except between nets where the parts by design can read at or under
    `silent_above`. Ohms under the bridge limit join; inside the parts' range they are the part; over
    `silent_above` they part; between, they are a leak, or on one net a resistive joint.
    """
    kind = entry.kind
    if kind in (QUIET, CHIRP):
        return PARTS
    if kind not in (BEEP, OHMS):
        return NOTHING
    net_a, net_b = board.net_of[entry.points[0]], board.net_of[entry.points[1]]
    part = board.design_ohms(net_a.name, net_b.name) if net_a is not net_b else None
    if kind == BEEP:
        return DOUBTFUL if part and part.low <= meter.silent_above else JOINS
    ohms = max((entry.ohms if entry.ohms is not None else inf) - leads_ohms, 0.0)
    if part and part.low <= ohms <= part.high:
        return PARTS
    if ohms < min([BRIDGE_OHMS] + ([part.low] if part else [])):
        return JOINS
    if ohms > meter.silent_above:
        return PARTS
    if board.must_be_apart(net_a, net_b):
        return LEAK
    return RESISTIVE


def replay(board: Board, entries: Sequence[Entry], meter: Meter = UNKNOWN_METER, scope: str = NEAR) -> Standing:
    """Walk the entries in time order and return what stands at the end.

    scope: which neighbours solder can bridge when it decides what a rework made stale.
    """
    standing = Standing(board, meter, scope, leads_ohms=meter.leads_ohms)
    live: dict[int, Entry] = {}
    heated: set[int] = set()
    last_good = 0
    for number, entry in enumerate(entries):
        kind = entry.kind
        if heated and kind not in (REWORKED, REMARK, MASK_LOST, SOLDER_SEEN):
            _rework(standing, live, heated)
            heated = set()
        if kind in READINGS:
            live[number] = entry
        elif kind == TAKEN_BACK:
            _take_back(standing, live, entry)
        elif kind == LEADS_GOOD:
            standing.lead_checks.append(True)
            last_good = number
            if entry.ohms is not None:
                standing.leads_ohms = entry.ohms
        elif kind == LEADS_BAD:
            standing.lead_checks.append(False)
            void = [n for n, e in live.items() if n >= last_good and e.kind in (QUIET, CHIRP, OHMS) and _silent(e)]
            standing.stale += len(void)
            for n in void:
                del live[n]
        elif kind == REWORKED:
            heated.update(entry.points)
        elif kind == MASK_LOST:
            standing.mask_lost.add(frozenset(entry.points))
        elif kind == SOLDER_SEEN:
            standing.solder_seen.add(frozenset(entry.points))
    if heated:
        _rework(standing, live, heated)
    standing.entries = list(live.values())
    if standing.lead_checks:
        standing.unclosed_quiets = sum(1 for n, e in live.items() if n > last_good and e.kind in (QUIET, CHIRP))
    _close(standing)
    return standing


def _silent(entry: Entry) -> bool:
    return entry.kind != OHMS or entry.ohms == inf


def _take_back(standing: Standing, live: dict[int, Entry], entry: Entry) -> None:
    for number in reversed(live):
        old = live[number]
        same_pair = not entry.points or set(old.points) == set(entry.points)
        if same_pair and (not entry.which or old.kind == entry.which):
            del live[number]
            standing.taken_back += 1
            return


def _rework(standing: Standing, live: dict[int, Entry], heated: set[int]) -> None:
    standing.rounds += 1
    standing.reworked |= heated
    standing.entries = list(live.values())
    _close(standing)
    gone = stale_after_rework(standing.board, standing.knowledge, standing.entries, heated, standing.scope)
    standing.stale += len(gone)
    for number in [n for n, e in live.items() if e in gone]:
        del live[number]
    # Solder seen before the iron came is no longer evidence about these joints.
    standing.solder_seen = {pair for pair in standing.solder_seen if not pair & heated}


def _close(standing: Standing) -> None:
    board, meter, leads = standing.board, standing.meter, standing.leads_ohms
    joins: list[tuple[int, int]] = []
    parts: list[tuple[int, int]] = []
    has_paths = bool(board.pin_map.paths)
    unsettled: dict[frozenset[int], tuple[str, Entry]] = {}
    for entry in standing.entries:
        kind = entry.kind
        if kind in (QUIET, CHIRP):
            meaning = PARTS
        elif kind == BEEP and not has_paths:
            meaning = JOINS
        else:
            meaning = judge(board, meter, entry, leads)
        if meaning == PARTS:
            parts.append(entry.points)  # type: ignore[arg-type]
        elif meaning == JOINS:
            joins.append(entry.points)  # type: ignore[arg-type]
        if kind == OHMS or meaning == DOUBTFUL or unsettled:
            pair = frozenset(entry.points)
            if meaning in (DOUBTFUL, LEAK, RESISTIVE):
                unsettled[pair] = meaning, entry
            elif meaning != NOTHING:
                unsettled.pop(pair, None)
    parts.extend(_whole_shell(board, parts))
    standing.knowledge = closure(len(board.points), joins, parts)
    standing.doubtful, standing.leaks, standing.resistive = [], [], []
    for meaning, entry in unsettled.values():
        ohms = max((entry.ohms or 0.0) - leads, 0.0)
        if standing.knowledge.joined(*entry.points):
            continue
        if meaning == DOUBTFUL:
            standing.doubtful.append(entry)
        else:
            (standing.leaks if meaning == LEAK else standing.resistive).append((entry, ohms))


def _whole_shell(board: Board, parts: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """A quiet on the shell as a whole is a quiet on each of its joints: the shell is one piece of metal."""
    whole = board.shell_point
    if whole is None:
        return []
    return [(joint, b if a == whole else a) for a, b in parts if whole in (a, b)
            for joint in board.shell_joints if joint not in (a, b)]  # fmt: skip


def replay_standing(standing: Standing, entries: Sequence[Entry]) -> Standing:
    """The same job with only these of its standing readings, as after a rework that made the others stale."""
    kept = Standing(standing.board, standing.meter, standing.scope, list(entries), leads_ohms=standing.leads_ohms)
    _close(kept)
    return kept
