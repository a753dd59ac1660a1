"""What is truly wrong with a simulated board, judged on the state that results and not on the faults drawn. Pure."""

from __future__ import annotations

from collections.abc import Collection
from itertools import combinations
from typing import NamedTuple

from connector_check.board.board import Board
from connector_check.board.harm import GRADES, HARMFUL
from connector_check.simulated.board import SimulatedBoard


class TrueShort(NamedTuple):
    """A linked group that spans nets whose short harms.

    pairs: those nets, two by two; points: the group; harm: the worst grade.
    """

    pairs: tuple[tuple[str, str], ...]
    points: tuple[int, ...]
    harm: str


class Truth(NamedTuple):
    """Harmful shorts, and joints that lack the contact they need."""

    shorts: tuple[TrueShort, ...]
    opens: tuple[int, ...]

    @property
    def bad(self) -> bool:
        """Whether the board must not be called clear."""
        return bool(self.shorts or self.opens)


def optional_joints(board: Board) -> tuple[int, ...]:
    """Joints that a designer may leave without their net: grounds and supplies that the map lets be open."""
    return tuple(joint for joint in range(len(board.joints)) if board.net_of[joint].may_be_open)


def contact_required(board: Board, signals: bool = True) -> tuple[int, ...]:
    """Joints that must reach their board point: those of must-join nets and, with `signals`, every other ground, supply
    and data joint that no designer may leave open. Joints of the shell need no contact.
    """
    return tuple(
        joint
        for joint in range(len(board.joints))
        if (net := board.net_of[joint]).must_join or (signals and board.must_reach(net))
    )


def judge(state: SimulatedBoard, contact: Collection[int]) -> Truth:
    """The truth of a board. contact: the joints that must reach their board point (`contact_required`).

    A joint lacks contact when no chain of joints, bridges and ties links it to its board point: an open joint bridged
    to its own net has contact. A short is harmful by `Board.grade`; a `note` is not.
    """
    board = state.board
    opens = [j for j in contact if not state.linked(j, board.board_point[board.net_of[j].name])]
    return Truth(tuple(_shorts(state)), tuple(opens))


def _shorts(state: SimulatedBoard) -> list[TrueShort]:
    board = state.board
    found = []
    for group in state.groups:
        nets = list({board.net_of[p].name: board.net_of[p] for p in group}.values())
        harms = {(a.name, b.name): board.grade(a, b).harm for a, b in combinations(nets, 2)}
        pairs = tuple(pair for pair, harm in harms.items() if harm in HARMFUL)
        if pairs:
            found.append(TrueShort(pairs, group, min((harms[p] for p in pairs), key=GRADES.index)))
    return found
