"""Which joints make contact: they reach their net's board point, directly, through a part, or by diode mode. Pure."""

from __future__ import annotations

from connector_check.analysis.diode import joints_with_junction
from connector_check.analysis.knowledge import Knowledge
from connector_check.analysis.replay import Standing
from connector_check.board.board import Board


def reaches(board: Board, knowledge: Knowledge, joint: int) -> bool:
    """Whether a joint is joined to the board point of its net."""
    return knowledge.joined(joint, board.board_point[board.net_of[joint].name])


class Contacts:
    """The contacts that a job's standing readings prove.

    A joint reaches its board point by a tone or by solder ohms; by ohms inside the range of a part that hangs on its
    net, read to a point that is proven itself; or by a junction like its fellows' in diode mode.
    """

    def __init__(self, standing: Standing, knowledge: Knowledge) -> None:
        self._board, self._knowledge = standing.board, knowledge
        self._by_junction = joints_with_junction(standing.board, standing.entries)
        self._through: set[int] = set()
        for a, b in standing.closed.through:
            for point, other in ((a, b), (b, a)):
                if self._is_board(other):
                    self._through.add(knowledge.find(point))

    def _is_board(self, point: int) -> bool:
        return point >= len(self._board.joints) or reaches(self._board, self._knowledge, point)

    def proven(self, joint: int) -> bool:
        """Whether the joint's contact is proven."""
        if reaches(self._board, self._knowledge, joint) or joint in self._by_junction:
            return True
        return self._knowledge.find(joint) in self._through

    def by_junction(self, joint: int) -> bool:
        """Whether diode mode alone proves it."""
        return joint in self._by_junction
