"""The rework list: one step a site, in the iron's order or worst first, with what to probe again. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from connector_check.analysis.obligations import Obligations
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import Leak, Open, PointPair, ReworkStep, Short
from connector_check.analysis.stale import stale_after_rework
from connector_check.analysis.verdict import account
from connector_check.board.board import Board
from connector_check.board.harm import GRADES, HARMFUL

ROW, HARM = "row", "harm"
OPEN_HARM, LEAK_HARM = "open", "leak"


def rework_list(
    standing: Standing,
    needed: Obligations,
    shorts: Iterable[Short],
    opens: Iterable[Open],
    leaks: Iterable[Leak],
    order: str,
) -> tuple[ReworkStep, ...]:
    """The steps that clear the findings.

    order: `row` follows the joints along the board (left to right, then top to bottom), `harm` puts the worst first.
    Each step's probe_again holds its own pair and every required pair whose proof the heat on its joints makes stale.
    """
    board = standing.board
    steps = [step for short in shorts if short.harm in HARMFUL for step in _short_steps(board, short)]
    steps += [_step((o.joint,), (o.net,), _OPEN.format(o.joint), OPEN_HARM, o.why) for o in opens]
    for leak in leaks:
        do = _RESISTIVE if len(leak.nets) == 1 else _CLEAN
        steps.append(_step(leak.pair, leak.nets, do.format(*leak.pair), LEAK_HARM, leak.why))
    ranks = {harm: i for i, harm in enumerate([*GRADES[:3], OPEN_HARM, LEAK_HARM])}
    steps.sort(key=lambda s: _place(board, s.joints))
    if order == HARM:
        steps.sort(key=lambda s: ranks[s.harm])
    return tuple(
        step._replace(step=i, probe_again=_probe_again(standing, needed, step)) for i, step in enumerate(steps, 1)
    )


def _short_steps(board: Board, short: Short) -> Iterator[ReworkStep]:
    if not short.sites:
        yield _step(short.joints, short.nets, _FIND.format(_words(short.joints)), short.harm, short.why)
    for site in short.sites:
        nets = tuple(sorted({board.net_of[board.number[j]].name for j in site.joints}))
        do = _CLEAR.format(*site.joints)
        if site.alternatives:
            do += "; equally likely: " + ", ".join(f"{a} and {b}" for a, b in site.alternatives)
        yield _step(site.joints, nets, do, short.harm, short.why, site.alternatives)


_CLEAR = "flux, draw the solder off between {} and {} with clean braid, then look through a magnifier"
_FIND = "find and clear the bridge between {} (its joints were not touched one by one)"
_OPEN = "flux and reflow {} until it wets joint and pad; if it stays silent, follow its track"
_CLEAN = "clean off flux between {} and {} with solvent (iron cold), dry, measure ohms again"
_RESISTIVE = "flux and reflow {} and {}, measure ohms again"


def _words(names: Iterable[str]) -> str:
    return ", ".join(names)


def _step(
    joints: tuple[str, ...],
    nets: tuple[str, ...],
    do: str,
    harm: str,
    why: str,
    alternatives: tuple[PointPair, ...] = (),
) -> ReworkStep:
    return ReworkStep(0, joints, nets, do, harm, why, alternatives, ())


def _place(board: Board, names: tuple[str, ...]) -> tuple[float, float]:
    spots = [board.joints[p] for name in names if (p := board.number[name]) < len(board.joints)]
    return min(((round(j.y, 1), j.x) for j in spots), default=(1e9, 1e9))


def _probe_again(standing: Standing, needed: Obligations, step: ReworkStep) -> tuple[PointPair, ...]:
    board = standing.board
    heated = {board.number[name] for name in step.joints if board.number[name] < len(board.joints)}
    again: list[PointPair] = []
    if len(step.joints) == 2:
        again.append((step.joints[0], step.joints[1]))
    again.extend(step.alternatives)
    readings = ((r.number, r.entry, r.meaning) for r in standing.readings)
    after = standing.without(stale_after_rework(board, standing.knowledge, readings, heated, standing.scope))
    before = {frozenset(pair) for pair in account(board, standing.knowledge, needed, False)[1]}
    for a, b in account(board, after.knowledge, needed, False)[1]:
        pair = (board.points[a], board.points[b])
        if frozenset((a, b)) not in before and set(pair) not in [set(p) for p in again]:
            again.append(pair)
    return tuple(again)
