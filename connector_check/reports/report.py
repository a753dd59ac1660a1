"""What a report page shows of one job, gathered as one frozen record. Pure; the renderer computes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import inf
from pathlib import PurePath

from connector_check.analysis.contact import Contacts
from connector_check.analysis.examine import DEFAULT, Examined, Settings, examine
from connector_check.analysis.meaning import DOUBTFUL, JOINS, LEAK, NOTHING, PARTS, RESISTIVE
from connector_check.analysis.replay import STALE, STANDS, TAKEN, VOID, Standing
from connector_check.analysis.replay import Reading as Judged
from connector_check.analysis.residual import DEFAULTS, Assumptions, Residual, residual_risk
from connector_check.analysis.result import LEAK_KIND, OUTLIER, RESISTIVE_KIND, BridgeSite, Ledger, PointPair, Result
from connector_check.analysis.states import State, joint_states
from connector_check.board.board import Board
from connector_check.board.harm import GRADES, HARMFUL
from connector_check.drawing.views import (
    COMPONENT_SIDE,
    SIDES,
    SOLDER_SIDE,
    View,
    face_view,
    solder_view,
    states_by_contact,
)
from connector_check.pinout.pinmap import SHELL
from connector_check.testlog.job import Job
from connector_check.testlog.readings import (
    LEADS_BAD,
    LEADS_GOOD,
    OHMS,
    READINGS,
    VOLTS,
    Entry,
)

EVENT = "event"
CLEARED, STAYS, UNSURE_YET, OPEN_NOW = "cleared", "still there", "not proven yet", "open now"
"""What became of a finding in the round after it; the last round's are open now."""

OPEN, OHMS_WANTED, CONTRADICTION = "open", "ohms wanted", "contradiction"
UNLIKE = "diode mode: unlike its fellows"
DIFFERS = "differs from the good board"
TO_MEASURE = (LEAK_KIND, RESISTIVE_KIND, OHMS_WANTED, CONTRADICTION, DIFFERS, UNLIKE)
_MEANS = {
    JOINS: "joined",
    PARTS: "apart",
    DOUBTFUL: "nothing alone: a part may have sounded",
    LEAK: "a leak",
    RESISTIVE: "a resistive joint",
    NOTHING: "nothing",
}
_STATES = {STANDS: STANDS, TAKEN: TAKEN, STALE: STALE, VOID: STALE}


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

    harm: a grade of `harm`, `open`, or one of TO_MEASURE; volts at stake, or None; joints: numbers of the drawn joints
    it speaks of; points: names as found; sites: likely places in words; site_pairs: their joints; lines: of its
    readings; fate: what became of it, with the readings that cleared it.
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
    """The probing between two reworks: its verdict in a word, what it found, and what was then done (the lines of
    rework and remarks).
    """

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
    """All that the page shows.

    file: name without folders; meter: which it was and where that comes from, in words; drawings: of the final state;
    work: the side the iron works on; bench: the same, larger, without the shell joints that no rework step names;
    residual: None beside findings, which come first; leads: lead checks in time order; probe_again: every pair of the
    rework list once; contact_open: joints of single signals that were not shown to reach their track; ties: nets that
    are one conductor on this board by design.
    """

    file: str
    result: Result
    residual: Residual | None
    meter: str
    leads_ohms: float
    drawings: tuple[Drawn, ...]
    work: Drawn
    bench: Drawn
    joints: tuple[JointRow, ...]
    rounds: tuple[Round, ...]
    leads: tuple[Reading, ...]
    readings: tuple[Reading, ...]
    probe_again: tuple[PointPair, ...]
    contact_open: tuple[str, ...]
    ties: tuple[tuple[str, ...], ...]


def report(job: Job, settings: Settings = DEFAULT, assumptions: Assumptions = DEFAULTS) -> Report:
    """Gather the page of a job. settings: as for `check`; assumptions: of the residual risk."""
    entries = job.entries
    found = examine(job, settings)
    standing = found.standing
    readings = [_reading(standing, number) for number in range(len(entries))]
    ends = [rework.start for rework in standing.reworks]
    told = [examine(replace(job, entries=entries[:end]), settings) for end in ends] + [found]
    rounds = _rounds(told, readings)
    drawn = {side: _joints_drawn(found, side, side, f"{side.capitalize()} side") for side in SIDES}
    work = drawn[_work_side(job.board)]
    result = found.result
    again = {frozenset(pair): pair for step in reversed(result.rework) for pair in reversed(step.probe_again)}
    return Report(
        file=PurePath(job.file).name or job.file,
        result=result,
        residual=residual_risk(result, standing, assumptions),
        meter=job.meter.in_words(),
        leads_ohms=standing.leads_ohms,
        drawings=((_face_drawn(found),) if job.board.pin_map.face else ()) + tuple(drawn.values()),
        work=work,
        bench=_bench_drawn(work, {name for step in result.rework for name in step.joints}),
        joints=_joint_rows(found, rounds),
        rounds=rounds,
        leads=tuple(r for r, e in zip(readings, entries, strict=True) if e.kind in (LEADS_GOOD, LEADS_BAD)),
        readings=tuple(readings),
        probe_again=tuple(reversed(again.values())),
        contact_open=_contact_open(found),
        ties=tuple(sorted(tuple(sorted(group)) for group in job.board.ties)),
    )


def _contact_open(found: Examined) -> tuple[str, ...]:
    contacts = Contacts(found.standing, found.standing.closed.presumed)
    points = found.standing.board.points
    return tuple(points[joint] for joint, _ in found.needed.contacts if not contacts.proven(joint))


def _rounds(told: Sequence[Examined], readings: Sequence[Reading]) -> tuple[Round, ...]:
    """Each round at its end; told: what was found at each, the last being the whole job."""
    last = told[-1].standing
    work_side = _work_side(last.board)
    rounds = []
    for number, found in enumerate(told, 1):
        findings = tuple(_findings(last.board, found.result, number))
        done: tuple[Reading, ...] = ()
        if number < len(told):
            rework = last.reworks[number - 1]
            done = tuple(readings[rework.start : rework.stop])
            later = [(r, readings[r.number]) for r in told[number].standing.readings if r.number >= rework.start]
            findings = tuple(_with_fate(told[number], finding, later) for finding in findings)
        heading = f"Round {number} at its end, {work_side} side"
        drawn = _joints_drawn(found, work_side, f"round-{number}", heading) if len(told) > 1 else None
        standing = len(found.standing.entries)
        rounds.append(Round(number, found.result.word, standing, found.result.ledger, findings, done, drawn))
    return tuple(rounds)


def _joint_rows(found: Examined, rounds: Iterable[Round]) -> tuple[JointRow, ...]:
    board = found.standing.board
    of_joint: dict[int, list[str]] = {}
    for finding in (f for r in rounds for f in r.findings):
        for joint in finding.joints:
            of_joint.setdefault(joint, []).append(finding.id)
    states = joint_states(found)
    return tuple(
        JointRow(i, m.name, m.label, m.role, states[m.name], tuple(of_joint.get(i, ())))
        for i, m in enumerate(solder_view(board, COMPONENT_SIDE).marks)
    )


def _reading(standing: Standing, number: int) -> Reading:
    entry = standing.job[number]
    state, ended_by, proves = EVENT, 0, ""
    if entry.kind in READINGS:
        reading = standing.reading(number)
        state, ended_by = _STATES[reading.fate], reading.ended_by
        if reading.fate == STANDS:
            proves = _MEANS[reading.meaning]
    names = tuple(standing.board.points[p] for p in entry.points)
    return Reading(entry.line, names, _said(entry), state, ended_by, proves, entry.note)


def _said(entry: Entry) -> str:
    said = entry.kind
    if entry.ohms is not None:
        unit = "V in diode mode" if entry.kind == VOLTS else "ohm"
        value = f"OL ({unit}: over the range)" if entry.ohms == inf else f"{entry.ohms:g} {unit}"
        said = value if entry.kind in (OHMS, VOLTS) else f"{entry.kind}, {value}"
    return f"{said} {entry.which}" if entry.which else said


def _findings(board: Board, result: Result, number: int) -> Iterator[Finding]:
    count = 0

    def finding(
        harm: str,
        nets: Iterable[str],
        points: Iterable[str],
        why: str,
        lines: tuple[int, ...] = (),
        volts: float | None = None,
        sites: tuple[BridgeSite, ...] = (),
    ) -> Finding:
        nonlocal count
        count += 1
        points, nets = tuple(dict.fromkeys(points)), tuple(nets)
        joints = _drawn_joints(board, nets, points)
        told = tuple(f"{site.told()} (gap {site.gap_mm:.2f} mm)" for site in sites)
        pairs = tuple(pair for site in sites for pair in site.places)
        return Finding(
            f"finding-{number}-{count}",
            number,
            harm,
            nets,
            points,
            joints,
            why,
            volts,
            told,
            pairs,
            lines,
            OPEN_NOW,
            (),
        )

    for short in result.shorts:
        yield finding(short.harm, short.nets, short.joints, short.why, short.readings, short.volts, short.sites)
    for opened in result.opens:
        yield finding(OPEN, (opened.net,), (opened.joint,), opened.why, opened.readings)
    for leak in result.leaks:
        yield finding(leak.kind, leak.nets, leak.pair, leak.why)
    for wanted in result.measure:
        yield finding(OHMS_WANTED, wanted.nets, wanted.pair, wanted.why)
    for differs in result.differences:
        yield finding(DIFFERS, differs.nets, differs.points, differs.why, differs.readings)
    for odd in result.diode:
        if odd.kind == OUTLIER:
            yield finding(UNLIKE, (odd.net,), (odd.joint,), odd.why, odd.readings)
    for conflict in result.conflicts:
        beeps = ", ".join(f"{a} - {b}" for a, b in conflict.beeps)
        yield finding(
            CONTRADICTION,
            (),
            (*conflict.quiet, *(p for pair in conflict.beeps for p in pair)),
            f"{conflict.quiet[0]} - {conflict.quiet[1]} {conflict.apart_words}, yet beeps join them ({beeps}): "
            "a missed touch, a stray touch or a resistive joint; ask the quiet again first",
            conflict.readings,
        )


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


def _with_fate(after: Examined, finding: Finding, later: Sequence[tuple[Judged, Reading]]) -> Finding:
    """The finding with what the next round says of it. after: that round at its end; later: its readings."""
    board, result = after.standing.board, after.result
    if any(_same(finding, other) for other in _findings(board, result, finding.round + 1)):
        return replace(finding, fate=STAYS)
    cleared = tuple(shown for judged, shown in later if _clears(after.standing, finding, judged))
    if cleared:
        return replace(finding, fate=CLEARED, cleared_by=cleared)
    missing = any(set(pair) & set(finding.points) for pair in result.unproven)
    return replace(finding, fate=UNSURE_YET if missing else CLEARED)


def _clears(after: Standing, finding: Finding, judged: Judged) -> bool:
    """Whether a later reading shows that the finding is gone."""
    board, find = after.board, after.knowledge.find
    numbers = [board.number[name] for name in finding.points]
    touched, meaning = judged.entry.points, judged.meaning
    if finding.harm == OPEN:
        return numbers[0] in touched and meaning == JOINS
    if finding.harm in TO_MEASURE:
        return set(numbers[:2]) <= set(touched) and (meaning in (JOINS, PARTS) or judged.entry.kind == VOLTS)
    if meaning != PARTS:
        return False
    near = [{find(board.number[name]) for name in pair} for pair in finding.site_pairs]
    if not near:
        near = [{find(a), find(b)} for a, b in combinations(numbers, 2) if board.net_of[a] is not board.net_of[b]]
    return {find(p) for p in touched} in near


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


def _joints_drawn(found: Examined, side: str, name: str, heading: str) -> Drawn:
    board = found.standing.board
    view = solder_view(board, side)
    return Drawn(name, heading, view, joint_states(found), {m.name: board.number[m.name] for m in view.marks})


def _face_drawn(found: Examined) -> Drawn:
    board = found.standing.board
    view = face_view(board.pin_map)
    drawn = {mark.name for mark in view.marks}
    joint_of = {c: i for i, joint in enumerate(board.joints) for c in joint.contacts if c in drawn}
    return Drawn("face", "Mating face", view, states_by_contact(board, joint_states(found)), joint_of)


def _bench_drawn(work: Drawn, named: set[str]) -> Drawn:
    marks = tuple(mark for mark in work.view.marks if mark.role != SHELL or mark.name in named)
    return replace(work, view=replace(work.view, marks=marks)) if marks else work
