"""The rework list: one step a site, in the iron's order or worst first, with what to probe again. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from connector_check.analysis.obligations import Obligations
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import (
    LEAK_KIND,
    RESISTIVE_KIND,
    BridgeSite,
    Leak,
    Open,
    PointPair,
    ReworkStep,
    Short,
)
from connector_check.analysis.stale import stale_after_rework
from connector_check.analysis.verdict import account
from connector_check.board.board import Board
from connector_check.board.harm import GRADES, HARMFUL, Grade
from connector_check.board.ohms import BRIDGE_OHMS, LEAK_OHMS
from connector_check.pinout.pinmap import Net

ROW, HARM = "row", "harm"
SOUNDS, SILENT_NOW = "sounds", "silent"
LIKELY_HARM, OPEN_HARM = "likely short", "open"


def rework_list(
    standing: Standing,
    needed: Obligations,
    shorts: Iterable[Short],
    opens: Iterable[Open],
    leaks: Iterable[Leak],
    order: str,
    shorts_only: bool = False,
) -> tuple[ReworkStep, ...]:
    """The steps that clear the findings.

    order: `row` follows the joints along the board (left to right, then top to bottom), `harm` puts the worst first.
    The probe_again of all steps together holds their own pairs and every required pair whose proof the heat undoes.
    """
    board = standing.board
    steps = [step for short in shorts if short.harm in HARMFUL for step in _short_steps(board, short)]
    steps += [_step((o.joint,), (o.net,), _OPEN.format(o.joint), OPEN_HARM, o.why) for o in opens]
    for leak in leaks:
        if leak.likely is not None:
            steps.append(_likely_step(board, leak, leak.likely))
            continue
        joints = tuple(name for name in leak.pair if board.number[name] < len(board.joints))
        do = _RESISTIVE.format(" and ".join(joints)) if leak.kind == RESISTIVE_KIND else _CLEAN.format(*leak.pair)
        steps.append(_step(joints, leak.nets, do, leak.kind, leak.why))
    ranks = {harm: i for i, harm in enumerate([*GRADES[:3], LIKELY_HARM, OPEN_HARM, RESISTIVE_KIND, LEAK_KIND])}
    steps.sort(key=lambda s: _place(board, s.joints))
    if order == HARM:
        steps.sort(key=lambda s: ranks[s.harm])
    again = _probe_again(standing, needed, steps, shorts_only)
    return tuple(
        step._replace(step=i, probe_again=tuple(pairs), expected=tuple(_expected(board, pair) for pair in pairs))
        for i, (step, pairs) in enumerate(zip(steps, again, strict=True), 1)
    )


def _short_steps(board: Board, short: Short) -> Iterator[ReworkStep]:
    if not short.sites:
        yield _step(short.joints, short.nets, _FIND.format(_words(short.joints)), short.harm, short.why)
    for site in short.sites:
        nets = tuple(sorted(net.name for net in _nets(board, site.joints)))
        do = _CLEAR.format(*site.joints)
        harm = Grade(short.harm, short.why)
        if between := [name for name in site.joints if name in short.between]:
            do = _TOUCH_FIRST.format(*site.joints, _words(between)) + do
            harm = min(harm, board.worst(_nets(board, site.joints)), key=lambda grade: GRADES.index(grade.harm))
        step = _step(site.joints, nets, do + _elsewhere(site), harm.harm, harm.why)
        yield step._replace(alternatives=site.alternatives, less_likely=site.less_likely)


def _likely_step(board: Board, leak: Leak, site: BridgeSite) -> ReworkStep:
    """Ohms that a short explains: the measurement that tells, then the iron or the cleaning."""
    clear, clean = _CLEAR.format(*site.joints), _CLEAN.format(*leak.pair)
    do = _LIKELY.format(*site.joints, leak.ohms, BRIDGE_OHMS) + f"{clear}{_elsewhere(site)}; if not: {clean}"
    nets = tuple(sorted(net.name for net in _nets(board, site.joints)))
    step = _step(site.joints, nets, do, LIKELY_HARM, leak.why)
    return step._replace(alternatives=site.alternatives, less_likely=site.less_likely)


def _elsewhere(site: BridgeSite) -> str:
    named = (("equally likely", site.alternatives), ("less likely", site.less_likely))
    return "".join(f"; {word}: " + ", ".join(f"{a} and {b}" for a, b in places) for word, places in named if places)


def _nets(board: Board, names: Iterable[str]) -> set[Net]:
    return {board.net_of[board.number[name]] for name in names}


_TOUCH_FIRST = "touch {} and {} first, for {} lies between; only if they sound: "
_LIKELY = "measure ohms between {} and {} first, for {:g} ohm is what their nets joined would read; if under {:g} ohm: "
_CLEAR = "flux, draw the solder off between {} and {} with clean braid, then look through a magnifier"
_FIND = "find and clear the bridge between {} (its joints were not touched one by one)"
_OPEN = "flux and reflow {} until it wets joint and pad; if it stays silent, follow its track"
_CLEAN = "clean off flux between {} and {} with solvent (iron cold), dry, measure ohms again"
_RESISTIVE = "flux and reflow {}, measure ohms again"


def _words(names: Iterable[str]) -> str:
    return ", ".join(names)


def _step(
    joints: tuple[str, ...],
    nets: tuple[str, ...],
    do: str,
    harm: str,
    why: str,
) -> ReworkStep:
    return ReworkStep(0, joints, nets, do, harm, why, ())


def _place(board: Board, names: tuple[str, ...]) -> tuple[float, float]:
    spots = [board.joints[p] for name in names if (p := board.number[name]) < len(board.joints)]
    return min(((round(j.y, 1), j.x) for j in spots), default=(1e9, 1e9))


def _probe_again(
    standing: Standing, needed: Obligations, steps: Sequence[ReworkStep], shorts_only: bool
) -> list[list[PointPair]]:
    """What to touch again once all steps are done, each pair once, under the first step that concerns it.

    A step's own pair comes first; then what must be proven and is no more, since the heat made its readings stale.
    """
    board = standing.board
    again: list[list[PointPair]] = [[] for _ in steps]
    told: set[frozenset[str]] = set()

    def tell(number: int, pair: PointPair) -> None:
        if frozenset(pair) not in told:
            told.add(frozenset(pair))
            again[number].append(pair)

    for number, step in enumerate(steps):
        own = [(step.joints[0], step.joints[1])] if len(step.joints) == 2 else []
        for pair in (*own, *step.elsewhere):
            tell(number, pair)
    heated = {p for step in steps for name in step.joints if (p := board.number[name]) < len(board.joints)}
    readings = ((r.number, r.entry, r.meaning) for r in standing.readings)
    after = standing.without(stale_after_rework(board, standing.closed.measured, readings, heated, standing.scope))
    # an open is wanted again although its contact was never shown, as where volts alone tell of it
    opens = {board.number[step.joints[0]] for step in steps if step.harm == OPEN_HARM}
    own_contacts = {frozenset(pair) for pair in (*needed.joins, *needed.contacts) if pair[0] in opens}
    before = {frozenset(pair) for pair in account(standing, needed, shorts_only).todo} - own_contacts
    for points in account(after, needed, shorts_only).todo if steps else ():
        if frozenset(points) not in before:
            pair = board.pair(points)
            concerned = (n for n, step in enumerate(steps) if not set(pair).isdisjoint(step.joints))
            tell(next(concerned, 0), pair)
    return again


def _expected(board: Board, pair: PointPair) -> str:
    """What a sound board answers: `sounds`, `silent`, or the ohms of a part that a meter may hear."""
    a, b = (board.net_of[board.number[name]] for name in pair)
    if not board.must_be_apart(a, b):
        return SOUNDS
    part = board.design_ohms(a.name, b.name)
    return f"{part.low:g} to {part.high:g} ohm" if part and part.low < LEAK_OHMS else SILENT_NOW
