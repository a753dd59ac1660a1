"""Which readings the heat of a rework could have made untrue. Pure.

*What may have changed.* The iron at the joints R makes or breaks links with an end in R, and no others: bridges to
their neighbours in scope, each joint to its net's board point, a joint of the shell to the metal of the shell. All
other links and all parts are as they were.

*What may conduct.* Before the heat: the possible links (`reach.possible_links`) without those between points known
apart. After it: the same, and every possible link at R. A join that no chain of these explains is a link of its own,
away from the heat. Parts conduct whatever is known: that a meter was silent over one does not say it is absent.

*The rule.* What a meter reads between u and v depends only on what lies on paths from u to v that repeat no point
(current enters anything else and leaves it at one and the same point, so none flows). So a reading stands when no such
path can pass a joint of R, by the graph in which it could:
- silence, a pair seen clear, ohms that do not join: links after the heat, and parts;
- a beep or ohms that join: links before the heat. Links gained take nothing from a join;
- a beep that parts may have carried: links before the heat, and parts. What is gained lowers the ohms (Rayleigh);
- volts in diode mode: links after the heat, parts, and a junction from each board point to ground.
Silence stands as well where links after the heat and the parts that a meter may hear do not connect u and v: then all
current crosses parts that, side by side, are above what any meter sounds at. Flux leaks beside all links, so ohms that
do not join always go when u or v is in R. Nothing is said of contradictory readings beyond this.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property
from math import inf

from connector_check.analysis.blocks import Blocks
from connector_check.analysis.knowledge import Knowledge
from connector_check.analysis.meaning import JOINS
from connector_check.analysis.reach import Pair, PartLink, part_links, possible_links
from connector_check.board.board import NEAR, Board
from connector_check.board.design import TOLERANCE
from connector_check.pinout.pinmap import GROUND
from connector_check.testlog.readings import BEEP, OHMS, UNSURE, VOLTS, Entry

SOUNDS_AT_MOST = 250.0
"""No meter whose makers print a threshold sounds over a part from here up (250 ohm is from memory)."""


def stale_after_rework(
    board: Board, knowledge: Knowledge, readings: Iterable[tuple[int, Entry, str]], heated: set[int], scope: str = NEAR
) -> list[int]:
    """The numbers of the standing readings that go stale when the joints `heated` (point numbers) have been reworked.

    readings: number, entry and meaning of each; knowledge: what the meter proved before the rework (what was seen clear
    may still be joined elsewhere); scope: where solder can
    bridge. O(points + links + readings).
    """
    taken = [(number, entry, meaning) for number, entry, meaning in readings if entry.kind != UNSURE]
    joins = {entry.points for _, entry, meaning in taken if meaning == JOINS}
    heat = _Heat(board, knowledge, heated, scope, joins)
    return [number for number, entry, meaning in taken if heat.may_change(entry, meaning)]


class _Heat:
    """What the iron at some joints can have changed. Each graph is walked when a reading first needs it."""

    def __init__(
        self, board: Board, knowledge: Knowledge, heated: set[int], scope: str, joins: Iterable[tuple[int, ...]]
    ) -> None:
        self.board, self.heated = board, heated
        self.parts = part_links(board)
        possible = possible_links(board, scope)
        links = [*possible.bridges, *possible.fixed]
        self.before = [(a, b) for a, b in links if not knowledge.apart(a, b)]
        self._metal_before = Blocks(self.before, heated)
        unexplained = [(a, b) for a, b in joins if not self._metal_before.connected(a, b)]
        if unexplained:
            self.before += unexplained
            self._metal_before = Blocks(self.before, heated)
        self.after = [*self.before, *((a, b) for a, b in links if a in heated or b in heated)]

    @cached_property
    def _all_parts(self) -> list[Pair]:
        return [part.pair for part in self.parts]

    @cached_property
    def _before(self) -> Blocks:
        return Blocks([*self.before, *self._all_parts], self.heated)

    @cached_property
    def _after(self) -> Blocks:
        return Blocks([*self.after, *self._all_parts], self.heated)

    @cached_property
    def _heard_after(self) -> Blocks:
        return Blocks([*self.after, *heard(self.parts)], self.heated) if self.parts else self._after

    @cached_property
    def _diode_after(self) -> Blocks:
        point = self.board.board_point
        grounds = [point[net.name] for net in self.board.nets if net.role == GROUND]
        junctions = [(one, ground) for one in point.values() for ground in grounds if one != ground]
        return Blocks([*self.after, *self._all_parts, *junctions], self.heated)

    def may_change(self, entry: Entry, meaning: str) -> bool:
        """Whether the reading may be untrue now."""
        u, v = entry.points
        if meaning == JOINS:
            return self._metal_before.may_pass_hot(u, v)
        if entry.kind == BEEP:
            return self._before.may_pass_hot(u, v)
        if entry.kind == VOLTS:
            return self._diode_after.may_pass_hot(u, v)
        if entry.kind == OHMS:
            return u in self.heated or v in self.heated or self._after.may_pass_hot(u, v)
        return self._after.may_pass_hot(u, v) and self._heard_after.connected(u, v)


def heard(parts: Iterable[PartLink]) -> list[Pair]:
    """The parts that a meter may hear, alone or side by side: without the largest, as many as all together, each at the
    least of its tolerance, stay above SOUNDS_AT_MOST.
    """
    found = []
    siemens = 0.0
    for part in sorted(parts, key=lambda part: part.low, reverse=True):
        siemens += 1 / (part.low * (1 - TOLERANCE)) if part.low > 0 else inf
        if siemens * SOUNDS_AT_MOST >= 1:
            found.append(part.pair)
    return found
