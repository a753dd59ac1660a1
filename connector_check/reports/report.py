"""What a report page shows of one job, gathered as one frozen record. Pure; the renderer computes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import inf
from pathlib import PurePath

from connector_check.analysis.check import Settings, check
from connector_check.analysis.obligations import obligations
from connector_check.analysis.replay import DOUBTFUL, JOINS, LEAK, NOTHING, PARTS, RESISTIVE, Standing, judge, replay
from connector_check.analysis.residual import DEFAULTS, Assumptions, Residual, residual
from connector_check.analysis.result import BridgeSite, Ledger, PointPair, Result
from connector_check.analysis.rework import ROW
from connector_check.board.board import NEAR, Board
from connector_check.board.harm import GRADES, HARMFUL
from connector_check.drawing.views import (
    COMPONENT_SIDE,
    SOLDER_SIDE,
    State,
    View,
    face_view,
    solder_view,
    states,
    states_by_contact,
)
from connector_check.pinout.pinmap import SHELL
from connector_check.testlog.job import Job
from connector_check.testlog.readings import (
    LEADS_BAD,
    LEADS_GOOD,
    MASK_LOST,
    OHMS,
    READINGS,
    REMARK,
    REWORKED,
    SOLDER_SEEN,
    TAKEN_BACK,
    VOLTS,
    Entry,
)

STANDS, STALE, TAKEN, EVENT = "stands", "stale", "taken back", "event"
CLEARED, STAYS, UNSURE_YET, OPEN_NOW = "cleared", "still there", "not proven yet", "open now"
"""What became of a finding in the round after it; the last round's are open now."""

OPEN, LEAKS, OHMS_WANTED, CONTRADICTION = "open", "leak", "ohms wanted", "contradiction"
DIODE = {
    "short": "diode mode: near zero",
    "open": "diode mode: over the range",
    "outlier": "diode mode: unlike its peers",
}
TO_MEASURE = (LEAKS, OHMS_WANTED, CONTRADICTION, *DIODE.values())
_MEANS = {
    JOINS: "joined",
    PARTS: "apart",
    DOUBTFUL: "nothing alone: a part may have sounded",
    LEAK: "a leak",
    RESISTIVE: "a resistive joint",
    NOTHING: "nothing",
}
_NO_FLUSH = (REWORKED, REMARK, MASK_LOST, SOLDER_SEEN)


@dataclass(frozen=True)
class Reading:
    """One line of the job: what it says, whether it still stands, what it proves if so, and the user's note.

    ended_by: the line that took it back or made it stale, 0 when it stands.
    """

    line: int
    points: tuple[str, ...]
    said: str
    state: str
    ended_by: int
    proves: str
    note: str


@dataclass(frozen=True)
class Finding:
    """One finding of one round.

    harm: a grade of `harm`, `open`, or one of TO_MEASURE; volts at stake, or None; joints: numbers
    of the drawn joints it speaks of; points: names as found; sites: likely places in words; site_pairs: their joints; lines: of its readings;
    fate: what became of it, with the readings that cleared it.
    """

    id: str
    round: int
    harm: str
    nets: tuple[str, ...]
    points: tuple[str, ...]
    joints: tuple[int, ...]
    why: str
    volts: float | None
    sites: tuple[str, ...]
    site_pairs: tuple[PointPair, ...]
    lines: tuple[int, ...]
    fate: str
    cleared_by: tuple[Reading, ...]


@dataclass(frozen=True)
class Drawn:
    """A drawing: a short name, what is seen, the states of its marks, and the joint number behind each mark."""

    id: str
    heading: str
    view: View
    states: Mapping[str, State]
    joint_of: Mapping[str, int]


@dataclass(frozen=True)
class Round:
    """The probing between two reworks, what it found and what was then done (the lines of rework and remarks)."""

    number: int
    verdict: str
    readings: int
    ledger: Ledger
    findings: tuple[Finding, ...]
    done: tuple[Reading, ...]
    drawn: Drawn | None


@dataclass(frozen=True)
class JointRow:
    """One joint: its number, name, signal and role, state, and the ids of the findings that speak of it."""

    number: int
    name: str
    label: str
    role: str
    state: State
    findings: tuple[str, ...]


@dataclass(frozen=True)
class Report:
    """All that the page shows. file: name without folders; meter_told: whether the job named the meter's thresholds;
    drawings: of the final state; work: the side the iron works on; bench: the
    same, larger, without the shell joints that no rework step names; leads: lead checks in time order; probe_again: every
    pair of the rework list once; landings_open: joints of single signals that were not shown to reach their track; ties: nets that are one conductor on this board by design.
    """

    file: str
    result: Result
    residual: Residual
    meter_told: bool
    leads_ohms: float
    drawings: tuple[Drawn, ...]
    work: Drawn
    bench: Drawn
    joints: tuple[JointRow, ...]
    rounds: tuple[Round, ...]
    leads: tuple[Reading, ...]
    readings: tuple[Reading, ...]
    probe_again: tuple[PointPair, ...]
    landings_open: tuple[str, ...]
    ties: tuple[tuple[str, ...], ...]


def report(
    job: Job, scope: str = NEAR, landings: bool = False, order: str = ROW, assumptions: Assumptions = DEFAULTS
) -> Report:
    """Gather the page of a job. scope, landings, order: as for `check`; assumptions: of the residual risk."""
    board, entries = job.board, job.entries
    standing = replay(board, entries, job.meter, scope)
    readings = _readings(standing, entries)
    ends = [*_rework_starts(entries), len(entries)]
    results = [check(replace(job, entries=entries[:end]), Settings(scope, landings, order)) for end in ends]
    stands = [replay(board, entries[:end], job.meter, scope) for end in ends]
    work_side = _work_side(board)
    rounds: list[Round] = []
    for i, result in enumerate(results):
        number = i + 1
        found = tuple(_findings(board, result, number))
        done: tuple[Reading, ...] = ()
        if i + 1 < len(results):
            done = tuple(readings[ends[i] : _block_end(entries, ends[i])])
            by_line = {e.line: r for e, r in zip(entries[ends[i] :], readings[ends[i] :], strict=True)}
            later = [(e, by_line[e.line]) for e in stands[i + 1].entries if e.line in by_line]
            found = tuple(_with_fate(stands[i + 1], f, results[i + 1], later) for f in found)
        heading = f"Round {number} at its end, {work_side} side"
        drawn = _joints_drawn(board, result, work_side, f"round-{number}", heading) if len(results) > 1 else None
        rounds.append(Round(number, result.verdict, len(stands[i].entries), result.ledger, found, done, drawn))
    result = results[-1]
    sides = [_joints_drawn(board, result, side, side, f"{side.capitalize()} side") for side in (COMPONENT_SIDE, SOLDER_SIDE)]  # fmt: skip
    drawings = ([_face_drawn(board, result)] if board.pin_map.face else []) + sides
    work = next(drawn for drawn in sides if drawn.id == work_side)
    said = states(board, result)
    of_joint: dict[int, list[str]] = {}
    for finding in (f for r in rounds for f in r.findings):
        for joint in finding.joints:
            of_joint.setdefault(joint, []).append(finding.id)
    rows = tuple(
        JointRow(i, m.name, m.label, m.role, said[m.name], tuple(of_joint.get(i, ())))
        for i, m in enumerate(solder_view(board, COMPONENT_SIDE).marks)
    )
    again = {frozenset(pair): pair for step in reversed(result.rework) for pair in reversed(step.probe_again)}
    return Report(
        file=PurePath(job.file).name or job.file,
        result=result,
        residual=residual(board, standing, scope, assumptions),
        meter_told=bool(job.header.get("meter")),
        leads_ohms=standing.leads_ohms,
        drawings=tuple(drawings),
        work=work,
        bench=_bench_drawn(work, {name for step in result.rework for name in step.joints}),
        joints=rows,
        rounds=tuple(rounds),
        leads=tuple(r for r, e in zip(readings, entries, strict=True) if e.kind in (LEADS_GOOD, LEADS_BAD)),
        readings=tuple(readings),
        probe_again=tuple(reversed(again.values())),
        landings_open=tuple(
            board.points[a] for a, b in obligations(board, scope).landings if not standing.knowledge.joined(a, b)
        ),
        ties=tuple(sorted(tuple(sorted(group)) for group in board.ties)),
    )


def _lines(standing: Standing) -> set[int]:
    return {entry.line for entry in standing.entries}


def _rework_starts(entries: Sequence[Entry]) -> Iterator[int]:
    """Where each rework begins: remarks between its lines do not end it."""
    heated = False
    for i, entry in enumerate(entries):
        if entry.kind == REWORKED and not heated:
            heated = True
            yield i
        elif entry.kind not in _NO_FLUSH:
            heated = False


def _block_end(entries: Sequence[Entry], start: int) -> int:
    end = start
    while end < len(entries) and entries[end].kind in _NO_FLUSH:
        end += 1
    return end


def _readings(standing: Standing, entries: Sequence[Entry]) -> list[Reading]:
    """Every line with its state; which line ended a reading is found by replaying up to each line that can end one."""
    board = standing.board
    ended: dict[int, tuple[str, int]] = {}
    for i, entry in enumerate(entries):
        if entry.kind in (TAKEN_BACK, REWORKED, LEADS_BAD):
            before = _lines(replay(board, entries[:i], standing.meter, standing.scope))
            after = _lines(replay(board, entries[: i + 1], standing.meter, standing.scope))
            state = TAKEN if entry.kind == TAKEN_BACK else STALE
            for line in before - after:
                ended.setdefault(line, (state, entry.line))
    alive = _lines(standing)
    return [_reading(standing, entry, alive, ended.get(entry.line, (STALE, 0))) for entry in entries]


def _reading(standing: Standing, entry: Entry, alive: set[int], ended: tuple[str, int]) -> Reading:
    board = standing.board
    state, ended_by, proves = EVENT, 0, ""
    if entry.kind in READINGS:
        if entry.line in alive:
            state = STANDS
            proves = "for comparing only" if entry.kind == VOLTS else _MEANS[_meaning(standing, entry)]
        else:
            state, ended_by = ended
    said = entry.kind
    if entry.ohms is not None:
        unit = "V in diode mode" if entry.kind == VOLTS else "ohm"
        value = f"OL ({unit}: over the range)" if entry.ohms == inf else f"{entry.ohms:g} {unit}"
        said = value if entry.kind in (OHMS, VOLTS) else f"{entry.kind}, {value}"
    if entry.which:
        said += f" {entry.which}"
    names = tuple(board.points[p] for p in entry.points)
    return Reading(entry.line, names, said, state, ended_by, proves, entry.note)


def _findings(board: Board, result: Result, number: int) -> Iterator[Finding]:
    count = 0

    def finding(
        harm: str, nets: Iterable[str], points: Iterable[str], why: str, lines: tuple[int, ...] = (),
        volts: float | None = None, sites: tuple[BridgeSite, ...] = (),
    ) -> Finding:  # fmt: skip
        nonlocal count
        count += 1
        points, nets = tuple(dict.fromkeys(points)), tuple(nets)
        joints = _drawn_joints(board, nets, points)
        told = tuple(
            " or ".join(f"{a} - {b}" for a, b in (s.joints, *s.alternatives)) + f" (gap {s.gap_mm:.2f} mm)"
            for s in sites
        )
        pairs = tuple(pair for s in sites for pair in (s.joints, *s.alternatives))
        return Finding(
            f"finding-{number}-{count}", number, harm, nets, points, joints, why, volts, told, pairs, lines, OPEN_NOW, ()
        )  # fmt: skip

    for short in result.shorts:
        yield finding(short.harm, short.nets, short.joints, short.why, short.readings, short.volts, short.sites)
    for opened in result.opens:
        yield finding(OPEN, (opened.net,), (opened.joint,), opened.why, opened.readings)
    for leak in result.leaks:
        yield finding(LEAKS, leak.nets, leak.pair, leak.why)
    for wanted in result.measure:
        yield finding(OHMS_WANTED, wanted.nets, wanted.pair, wanted.why)
    for odd in result.diode:
        if odd.kind in DIODE:
            yield finding(DIODE[odd.kind], (odd.net,), (odd.joint,), odd.why, odd.readings)
    for conflict in result.conflicts:
        beeps = ", ".join(f"{a} - {b}" for a, b in conflict.beeps)
        yield finding(
            CONTRADICTION, (), (*conflict.quiet, *(p for pair in conflict.beeps for p in pair)),
            f"{conflict.quiet[0]} - {conflict.quiet[1]} was quiet, yet beeps join them ({beeps}): "
            "a missed touch, a stray touch or a resistive joint; ask the quiet again first", conflict.readings,
        )  # fmt: skip


def _drawn_joints(board: Board, nets: tuple[str, ...], points: tuple[str, ...]) -> tuple[int, ...]:
    """The joints a finding shows at: its own, and all of a net that is in it only through a point behind the joints."""
    found: dict[int, None] = {}
    for name in points:
        number = board.number[name]
        if number < len(board.joints):
            found[number] = None
        elif number == board.shell_point:
            found.update(dict.fromkeys(board.shell_joints))
    seen = {board.net_of[j].name for j in found}
    behind = {board.net_of[board.number[name]].name for name in points} | set(nets)
    for net in sorted(behind - seen):
        found.update(dict.fromkeys(board.joints_of.get(net, ())))
    return tuple(sorted(found))


def _with_fate(after: Standing, finding: Finding, result: Result, later: Sequence[tuple[Entry, Reading]]) -> Finding:
    """The finding with what the next round says of it. after, result: that round at its end; later: its readings."""
    board, find = after.board, after.knowledge.find
    if any(_same(finding, other) for other in _findings(board, result, finding.round + 1)):
        return replace(finding, fate=STAYS)
    numbers = [board.number[name] for name in finding.points]
    if finding.harm == OPEN:
        cleared = [r for e, r in later if numbers[0] in e.points and _meaning(after, e) == JOINS]
    elif finding.harm in TO_MEASURE:
        pair = set(numbers[:2])
        cleared = [
            r for e, r in later if pair <= set(e.points) and (_meaning(after, e) in (JOINS, PARTS) or e.kind == VOLTS)
        ]
    else:
        near = [{find(board.number[name]) for name in pair} for pair in finding.site_pairs]
        if not near:
            near = [{find(a), find(b)} for a, b in combinations(numbers, 2) if board.net_of[a] is not board.net_of[b]]
        parting = [(e, r) for e, r in later if _meaning(after, e) == PARTS]
        cleared = [r for e, r in parting if {find(p) for p in e.points} in near]
    if cleared:
        return replace(finding, fate=CLEARED, cleared_by=tuple(cleared))
    missing = any(set(pair) & set(finding.points) for pair in result.unproven)
    return replace(finding, fate=UNSURE_YET if missing else CLEARED)


def _meaning(standing: Standing, entry: Entry) -> str:
    return judge(standing.board, standing.meter, entry, standing.leads_ohms)


def _same(a: Finding, b: Finding) -> bool:
    if a.harm in GRADES and b.harm in GRADES:
        return len(set(a.nets) & set(b.nets)) > 1
    return a.harm == b.harm and set(a.points[:2]) == set(b.points[:2])


def is_fault(finding: Finding) -> bool:
    """Whether a finding goes to the iron (a short that matters, an open), not only to the meter."""
    return finding.harm in (*HARMFUL, OPEN)


def _work_side(board: Board) -> str:
    """Where the iron works: pads with round ends are taken for through-hole joints (common practice, no source)."""
    signal = [j for j in board.joints if board.net_of[board.number[j.name]].role != SHELL] or list(board.joints)
    holes = sum(1 for j in signal if j.shape != "rect")
    return SOLDER_SIDE if holes * 2 >= len(signal) else COMPONENT_SIDE


def _joints_drawn(board: Board, result: Result, side: str, name: str, heading: str) -> Drawn:
    view = solder_view(board, side)
    return Drawn(name, heading, view, states(board, result), {m.name: board.number[m.name] for m in view.marks})


def _face_drawn(board: Board, result: Result) -> Drawn:
    view = face_view(board.pin_map)
    by_contact = states_by_contact(board, states(board, result))
    drawn = {mark.name for mark in view.marks}
    joint_of = {c: i for i, joint in enumerate(board.joints) for c in joint.contacts if c in drawn}
    return Drawn("face", "Mating face", view, by_contact, joint_of)


def _bench_drawn(work: Drawn, named: set[str]) -> Drawn:
    marks = tuple(mark for mark in work.view.marks if mark.role != SHELL or mark.name in named)
    return replace(work, view=replace(work.view, marks=marks)) if marks else work
