"""What to touch next: the touches still needed (`wanted`), in an order in which one lead stays put (`order`). Pure."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from connector_check.analysis.knowledge import APART, JOINED, UNKNOWN, Knowledge
from connector_check.analysis.obligations import Obligations, Pair
from connector_check.board.board import Board
from connector_check.probing.order import held_points, lead_order, least_placements, placements
from connector_check.probing.wanted import wanted_touches


@dataclass(frozen=True)
class Touch:
    """One touch of the two leads, points by number; a: where a lead stays put; why: what the touch is for."""

    a: int
    b: int
    why: str


@dataclass(frozen=True)
class Plan:
    """touches: in order; placements: how often a lead is put down for them; bound: no order needs fewer than this:
    the touches plus the connected components of their graph.
    """

    touches: tuple[Touch, ...]
    placements: int
    bound: int


def plan(
    board: Board, knowledge: Knowledge, needed: Obligations, contacts: Collection[Pair] = (), held: int | None = None
) -> Plan:
    """The touches still needed, in order.

    needed: of the scope; contacts: joints and board points whose contact is wanted; held: the point a lead sits on
    already, which the first touch shares where it can (it then costs one placement, so the total may be one under the
    bound).

    >>> from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap
    >>> from connector_check.analysis.obligations import obligations
    >>> row = Layout("row", "", "", tuple(Joint(n, (n,), i, 0, 0.5, 1) for i, n in enumerate("1234")))
    >>> nets = (Net("GND", "ground", ("1", "4"), must_join=True), Net("A", "data", ("2",)), Net("B", "data", ("3",)))
    >>> board = Board(PinMap("demo", "", "", (), nets, {}, (row,)), row)
    >>> found = plan(board, Knowledge(len(board.points)), obligations(board, "near"))
    >>> [(board.points[t.a], board.points[t.b]) for t in found.touches], found.placements, found.bound
    ([('@GND', '1'), ('@GND', '4'), ('@GND', '2'), ('@GND', '3'), ('3', '2')], 6, 6)
    """
    wanted = wanted_touches(board, knowledge, needed, contacts)
    pairs = [touch.pair for touch in wanted]
    order = lead_order(pairs, [touch.phase for touch in wanted], held)
    ordered = [pairs[e] for e in order]
    touches = [
        Touch(stay, b if a == stay else a, wanted[e].why)
        for e, (a, b), stay in zip(order, ordered, held_points(ordered, held), strict=True)
    ]
    return Plan(tuple(touches), placements(ordered, held), least_placements(pairs))


def next_touch(
    current: Plan,
    board: Board,
    knowledge: Knowledge,
    needed: Obligations,
    contacts: Collection[Pair] = (),
    held: int | None = None,
    put_off: Collection[Pair] = (),
) -> tuple[Plan, Touch | None]:
    """The plan that holds now and its first touch still needed, or None when nothing is left.

    An expected answer leaves the rest of the plan as good as it was, so it is kept and only walked along: the order
    the user has seen stays. A join that was silent, a quiet that beeped, and the end of the list make a new plan from
    `held`. After a reading was taken back or went stale, make a new plan yourself.

    put_off: pairs to leave for later (skipped, unsure, or waiting for ohms); they come back only through `plan`.
    """
    later = {frozenset(pair) for pair in put_off}
    for fresh in (False, True):
        if fresh:
            current = plan(board, knowledge, needed, contacts, held)
        for touch in current.touches:
            status = knowledge.status(touch.a, touch.b)
            if status == UNKNOWN:
                if frozenset((touch.a, touch.b)) not in later:
                    return current, touch
            elif status != (JOINED if expects_beep(board, touch) else APART):
                break
    return current, None


def expects_beep(board: Board, touch: Touch) -> bool:
    """Whether a good board beeps here: the two points are of one net."""
    return board.net_of[touch.a] is board.net_of[touch.b]


def plan_json(found: Plan, board: Board) -> dict[str, Any]:
    """The plan for a machine: points by name."""
    return {
        "touches": [{"a": board.points[t.a], "b": board.points[t.b], "why": t.why} for t in found.touches],
        "placements": found.placements,
        "bound": found.bound,
    }
