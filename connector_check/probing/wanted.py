"""Which touches are still needed, and what each is for. Pure.

What is asked runs ahead of the meter on a copy of the knowledge, as if the board were good (joins beep, isolation is
quiet), and leaves out what that copy holds already. On a good board that is one beep for each join and one quiet for
each two conductors in scope, which is the least that can certify it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from connector_check.analysis.knowledge import JOINED, UNKNOWN, Knowledge
from connector_check.analysis.obligations import Isolation, Obligations, Pair, missing
from connector_check.board.board import Board
from connector_check.pinout.pinmap import GROUND

WHERE_TO_TOUCH = (
    "for contact touch the metal of the contact itself, in the mouth or in a mated plug or breakout, never the pad; "
    "the far end is a part leg, test pad or via of that track"
)
JOIN, SWEEP, NEIGHBOUR, REST, CONTACT = range(5)
STAGE = (0, 1, 1, 2, 2)
"""By phase; phases of one stage may be mixed where that saves lead placements."""


class Wanted(NamedTuple):
    """A touch that is needed: two points by number, its phase (JOIN, SWEEP, NEIGHBOUR, REST, CONTACT), why in words."""

    pair: Pair
    phase: int
    why: str


def wanted_touches(
    board: Board, knowledge: Knowledge, needed: Obligations, contacts: Iterable[Pair] = ()
) -> list[Wanted]:
    """Every touch still needed on a board that turns out good, phase by phase but in no order of the leads.

    needed: of the scope; contacts: joints and board points whose contact is wanted as well.
    """
    model = _copy(knowledge, len(board.points))
    found = _joins(board, model, needed)
    found += _isolation(board, model, needed)
    return found + _contacts(board, model, contacts)


def _joins(board: Board, model: Knowledge, needed: Obligations) -> list[Wanted]:
    found = []
    for joint, hub in needed.joins:
        if model.status(joint, hub) == UNKNOWN:
            model.join(joint, hub)
            found.append(Wanted((hub, joint), JOIN, f"{board.points[joint]} must reach {board.net_of[joint].name}"))
    return found


def _isolation(board: Board, model: Knowledge, needed: Obligations) -> list[Wanted]:
    """One quiet for each two conductors, taken at the point that stands for each joined group: its board point."""
    stands: dict[tuple[int, str], int] = {}
    for joint, hub in needed.joins:
        if model.joined(joint, hub):
            stands.setdefault((model.find(hub), board.net_of[hub].name), hub)
    found = []
    for obligation in needed.isolation:
        for pair in _unknown_pairs(board, model, obligation):
            model.part(*pair)
            a, b = (stands.setdefault((model.find(p), board.net_of[p].name), p) for p in pair)
            found.append(Wanted((a, b), *_reason(board, obligation, pair)))
    return found


def _unknown_pairs(board: Board, model: Knowledge, obligation: Isolation) -> Iterator[Pair]:
    """The pairs of an obligation that the model does not know, each asked for after the one before was parted."""
    for pair in obligation.pairs if obligation.gap_mm is not None else ():
        status = model.status(*pair)
        if status == JOINED:
            return
        if status == UNKNOWN:
            yield pair
    while obligation.whole and (left := missing(board, model, obligation)) and model.status(*left) == UNKNOWN:
        yield left


def _contacts(board: Board, model: Knowledge, contacts: Iterable[Pair]) -> list[Wanted]:
    found = []
    for joint, point in contacts:
        if model.status(joint, point) == UNKNOWN:
            model.join(joint, point)
            why = f"contact of {board.points[joint]} with {board.net_of[point].name}"
            found.append(Wanted((joint, point), CONTACT, why))
    return found


def _copy(knowledge: Knowledge, n: int) -> Knowledge:
    copy = Knowledge(n)
    groups = knowledge.classes()
    for group in groups:
        for point in group[1:]:
            copy.join(group[0], point)
    for group in groups:
        for other in knowledge.parted_roots(group[0]):
            copy.part(group[0], other)
    return copy


def _reason(board: Board, obligation: Isolation, pair: Pair) -> tuple[int, str]:
    first, second = (board.net_of[p] for p in pair)
    for net, other, point in ((first, second, pair[1]), (second, first, pair[0])):
        if net.role == GROUND:
            return SWEEP, f"{board.points[point]} ({other.name}) against ground {net.name}"
    if obligation.gap_mm is not None:
        a, b = board.names(pair)
        return NEIGHBOUR, f"neighbours {a} and {b}, nearest gap {obligation.gap_mm:.2f} mm"
    return REST, f"{first.name} against {second.name}"
