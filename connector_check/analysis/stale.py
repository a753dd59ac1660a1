"""Which readings the heat of a rework could have made untrue. Pure.

The rule, for reworked joints R, in a model where solder bridges form only between neighbours G:
Pot(u) = points not known apart from u that a chain of possible links can reach; Z = R, its neighbours, and its net-mates.
A quiet (u, v) is stale when both Pot(u) and Pot(v) meet Z. A beep (u, v) is stale when u or v is in R, or some r in R
and Pot(u) has a neighbour in Pot(u). Proof: every changed link has an end in R and its other end in G(R) or at the
net's board point; a new path leaves u's true class (inside Pot(u)) and enters v's over changed links, both ends in Z;
a beep is lost only if some r in R is inside every path, which then uses a link of G at r; only a shell joint has
two links that are no bridges (to the shell and to the board), so a beep through one is stale as well.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from connector_check.analysis.knowledge import Knowledge
from connector_check.analysis.meaning import PARTS
from connector_check.board.board import NEAR, Board
from connector_check.testlog.readings import BEEP, OHMS, UNSURE, Entry


def stale_after_rework(
    board: Board, knowledge: Knowledge, readings: Iterable[tuple[int, Entry, str]], heated: set[int], scope: str = NEAR
) -> list[int]:
    """The numbers of the standing readings that go stale when the joints `heated` (point numbers) have been reworked.

    readings: number, entry and meaning of each; knowledge: what they prove before the rework. Links considered: the scope's neighbours, each joint
    to its net's board point, the shell to its joints, and board points of nets that may be tied.
    """
    links = _possible_links(board, scope)
    neighbours: dict[int, set[int]] = {}
    for a, b in links.bridges:
        neighbours.setdefault(a, set()).add(b)
        neighbours.setdefault(b, set()).add(a)
    zone = set(heated)
    for joint in heated:
        zone |= neighbours.get(joint, set())
        net = board.net_of[joint].name
        zone.update(board.joints_of[net])
        zone.add(board.board_point[net])
        if joint in board.shell_joints and board.shell_point is not None:
            zone.add(board.shell_point)
    shell = set(board.shell_joints)
    potential = _Potential(board, knowledge, links)
    touches_zone: dict[int, bool] = {}
    loses_beep: dict[int, bool] = {}

    def meets(point: int) -> bool:
        root = knowledge.find(point)
        if root not in touches_zone:
            touches_zone[root] = not zone.isdisjoint(potential.of(point))
        return touches_zone[root]

    def may_lose(point: int) -> bool:
        root = knowledge.find(point)
        if root not in loses_beep:
            reach = potential.of(point)
            loses_beep[root] = any(
                r in reach and (r in shell or not neighbours.get(r, set()).isdisjoint(reach)) for r in heated
            )
        return loses_beep[root]

    gone = []
    for number, entry, meaning in readings:
        if entry.kind == UNSURE:
            continue
        u, v = entry.points
        joined = knowledge.joined(u, v)
        if meaning == PARTS or (entry.kind == OHMS and not joined):
            stale = meets(u) and meets(v)
        else:
            stale = u in heated or v in heated or may_lose(u) or (entry.kind == BEEP and not joined and may_lose(v))
        if stale:
            gone.append(number)
    return gone


class _Links(NamedTuple):
    bridges: list[tuple[int, int]]
    fixed: list[tuple[int, int]]


def _possible_links(board: Board, scope: str) -> _Links:
    number = board.number
    bridges = [(number[a], number[b]) for a, b, _ in board.gaps(scope)]
    fixed = [(joint, board.board_point[board.net_of[joint].name]) for joint in range(len(board.joints))]
    if board.shell_point is not None:
        fixed += [(board.shell_point, joint) for joint in board.shell_joints]
        fixed.append((board.shell_point, board.board_point[board.net_of[board.shell_point].name]))
    tied = board.touching_nets
    fixed += [(board.board_point[a.name], board.board_point[b.name])
              for i, a in enumerate(tied) for b in tied[i + 1:] if not board.must_be_apart(a, b)]  # fmt: skip
    return _Links(bridges, fixed)


class _Potential:
    """Pot(u): points that a chain of possible links reaches from u's class, passing no pair known apart from it."""

    def __init__(self, board: Board, knowledge: Knowledge, links: _Links) -> None:
        self.knowledge = knowledge
        find = knowledge.find
        self.members: dict[int, list[int]] = {}
        for point in range(len(board.points)):
            self.members.setdefault(find(point), []).append(point)
        self.linked: dict[int, set[int]] = {root: set() for root in self.members}
        for a, b in [*links.bridges, *links.fixed]:
            ra, rb = find(a), find(b)
            if ra != rb and not knowledge.apart(a, b):
                self.linked[ra].add(rb)
                self.linked[rb].add(ra)
        self.cache: dict[int, set[int]] = {}

    def of(self, point: int) -> set[int]:
        root = self.knowledge.find(point)
        if root not in self.cache:
            barred = set(self.knowledge.parted_roots(point))
            seen, stack = {root}, [root]
            while stack:
                for other in self.linked[stack.pop()]:
                    if other not in seen and other not in barred:
                        seen.add(other)
                        stack.append(other)
            self.cache[root] = {p for r in seen for p in self.members[r]}
        return self.cache[root]
