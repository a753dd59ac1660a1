"""Which joints make contact: they reach their net's board point, directly, through a part, or by diode mode. Pure."""

from __future__ import annotations

from connector_check.analysis.diode import diode_readings, joints_with_junction
from connector_check.analysis.knowledge import JOINED, Knowledge
from connector_check.analysis.replay import Standing
from connector_check.board.board import Board
from connector_check.pinout.pinmap import GROUND


def reaches(board: Board, knowledge: Knowledge, joint: int) -> bool:
    """Whether a joint is joined to the board point of its net."""
    return knowledge.joined(joint, board.board_point[board.net_of[joint].name])


class Contacts:
    """The contacts that a job's standing readings prove.

    A joint reaches its board point by a tone or by solder ohms; by ohms inside the range of a part that hangs on its
    net, read to a point that is proven itself; or by a junction like its fellows' in diode mode. An open joint that is
    bridged to a neighbour shows that one's junction, so a junction counts only where the neighbours that could lend
    theirs are known apart.
    """

    def __init__(self, standing: Standing, knowledge: Knowledge) -> None:
        self._board, self._knowledge = standing.board, knowledge
        self._junctions = joints_with_junction(standing.board, standing.entries)
        self._lenders = _lenders(standing) if self._junctions else {}
        self._through: set[int] = set()
        for a, b in standing.closed.through:
            for point, other in ((a, b), (b, a)):
                if self._is_board(other):
                    self._through.add(knowledge.find(point))

    def _is_board(self, point: int) -> bool:
        return point >= len(self._board.joints) or reaches(self._board, self._knowledge, point)

    def proven(self, joint: int) -> bool:
        """Whether the joint's contact is proven."""
        if reaches(self._board, self._knowledge, joint) or self.by_junction(joint):
            return True
        return self._knowledge.find(joint) in self._through

    def by_junction(self, joint: int) -> bool:
        """Whether diode mode alone proves it."""
        return joint in self._junctions and all(self._knowledge.apart(joint, k) for k in self._lenders.get(joint, ()))

    def likely(self, joint: int) -> bool:
        """Whether it is proven, or will be once its neighbours turn out apart: no touch is asked for it now."""
        return self.proven(joint) or (
            joint in self._junctions
            and all(self._knowledge.status(joint, k) != JOINED for k in self._lenders.get(joint, ()))
        )


def _lenders(standing: Standing) -> dict[int, list[int]]:
    """For each joint with a junction, the neighbours of other nets whose junction it may show instead of its own."""
    board = standing.board
    shows = {r.point: r for r in diode_readings(board, standing.entries)}
    found: dict[int, list[int]] = {}
    for a, b, _ in board.gaps(standing.scope):
        for joint, other in ((board.number[a], board.number[b]), (board.number[b], board.number[a])):
            if joint not in shows or not board.must_be_apart(board.net_of[joint], board.net_of[other]):
                continue
            if board.net_of[other].role != GROUND and (other not in shows or shows[other].has_junction):
                found.setdefault(joint, []).append(other)
    return found
