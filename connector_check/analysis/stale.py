"""Which readings the heat of a rework could have made untrue. Pure.

The rule, for reworked joints R, in a model where solder bridges form only between neighbours G:
Pot(u) = points not known apart from u that a chain of possible links can reach; Z = R, its neighbours, its net-mates.
A quiet (u, v) is stale when both Pot(u) and Pot(v) meet Z. A beep (u, v) is stale when u or v is in R, or some r in R
and Pot(u) has a neighbour in Pot(u). Proof: every changed link has an end in R and its other end in G(R) or at the
net's board point; a new path leaves u's true class (inside Pot(u)) and enters v's over changed links, both ends in Z;
a beep is lost only if some r in R is inside every path, which then uses a link of G at r; only a shell joint has
two links that are no bridges (to the shell and to the board), so a beep through one is stale as well.
Where parts conduct, those that a meter may hear count as links for silence; ohms go stale when either end is within
reach of the heat, and silence over a part that must sound when one of its ends was heated.
"""

from __future__ import annotations

from collections.abc import Iterable

from connector_check.analysis.knowledge import Knowledge
from connector_check.analysis.meaning import PARTS
from connector_check.analysis.reach import Links, Reach, part_pairs, possible_links
from connector_check.board.board import NEAR, Board
from connector_check.testlog.readings import OHMS, SILENT, UNSURE, VOLTS, Entry

SOUNDS_AT_MOST = 250.0
"""No meter whose makers print a threshold sounds over a part from here up (250 ohm is from memory)."""


def stale_after_rework(
    board: Board, knowledge: Knowledge, readings: Iterable[tuple[int, Entry, str]], heated: set[int], scope: str = NEAR
) -> list[int]:
    """The numbers of the standing readings that go stale when the joints `heated` (point numbers) have been reworked.

    readings: number, entry and meaning of each; knowledge: what they prove before the rework; scope: where solder can
    bridge. Links considered are those of `reach.possible_links`.
    """
    heat = _Heat(board, knowledge, heated, scope)
    return [number for number, entry, meaning in readings if entry.kind != UNSURE and heat.changes(entry, meaning)]


class _Heat:
    """What the iron at some joints can have changed, by class of points."""

    def __init__(self, board: Board, knowledge: Knowledge, heated: set[int], scope: str) -> None:
        links = possible_links(board, scope)
        self.knowledge, self.heated = knowledge, heated
        heard = [part for part in part_pairs(board) if part.low <= SOUNDS_AT_MOST]
        self.reach = Reach(board, knowledge, Links(links.bridges, [*links.fixed, *(part.pair for part in heard)]))
        self.board = board
        self.shell = set(board.shell_joints)
        self.neighbours: dict[int, set[int]] = {}
        for a, b in links.bridges:
            self.neighbours.setdefault(a, set()).add(b)
            self.neighbours.setdefault(b, set()).add(a)
        self.zone = self._zone(board)
        self._meets: dict[int, bool] = {}
        self._loses: dict[int, bool] = {}

    def _zone(self, board: Board) -> set[int]:
        """The ends that a changed link can have: the joints, their neighbours, and their net at either end."""
        zone = set(self.heated)
        for joint in self.heated:
            zone |= self.neighbours.get(joint, set())
            net = board.net_of[joint].name
            zone.update(board.joints_of[net])
            zone.add(board.board_point[net])
            if joint in self.shell and board.shell_point is not None:
                zone.add(board.shell_point)
        return zone

    def changes(self, entry: Entry, meaning: str) -> bool:
        """Whether the reading may be untrue now."""
        u, v = entry.points
        joined = self.knowledge.joined(u, v)
        if self.board.resistors and not joined and entry.kind in (OHMS, *SILENT):
            return self._changes_over_parts(entry, u, v)
        # volts of a junction show contact besides, and that may be lost
        parts = (meaning == PARTS and entry.kind != VOLTS) or (entry.kind == OHMS and not joined)
        if parts or (meaning == PARTS and self.meets(u) and self.meets(v)):
            return self.meets(u) and self.meets(v)
        return u in self.heated or v in self.heated or self.may_lose(u) or self.may_lose(v)

    def _changes_over_parts(self, entry: Entry, u: int, v: int) -> bool:
        if entry.kind == OHMS:
            return self.meets(u) or self.meets(v)
        part = self.board.design_ohms(self.board.net_of[u].name, self.board.net_of[v].name)
        at_heat = u in self.heated or v in self.heated
        return (self.meets(u) and self.meets(v)) or bool(part and part.sure and at_heat)

    def meets(self, point: int) -> bool:
        """Whether a new path may leave what this point can reach."""
        root = self.knowledge.find(point)
        if root not in self._meets:
            self._meets[root] = not self.zone.isdisjoint(self.reach.of(point))
        return self._meets[root]

    def may_lose(self, point: int) -> bool:
        """Whether a path inside what this point can reach may be gone."""
        root = self.knowledge.find(point)
        if root not in self._loses:
            reach = self.reach.of(point)
            self._loses[root] = any(
                r in reach and (r in self.shell or not self.neighbours.get(r, set()).isdisjoint(reach))
                for r in self.heated
            )
        return self._loses[root]
