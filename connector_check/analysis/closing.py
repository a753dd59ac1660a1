"""What standing readings mean all together, where parts on the board conduct. Pure.

Where parts conduct, what proves a join depends on what is known apart, and more joins make more known apart: the
readings are judged again until no further join is proven.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from math import inf
from typing import NamedTuple

from connector_check.analysis.junction_tone import may_be_junction, tone_junctions
from connector_check.analysis.knowledge import Knowledge, closure
from connector_check.analysis.meaning import (
    ALWAYS_PARTS,
    DOUBTFUL,
    JOINS,
    LEAK,
    PART,
    PARTS,
    RESISTIVE,
    UNSETTLED,
    Floor,
    excludes_solder,
    judge,
)
from connector_check.analysis.reach import Reach, part_floor, possible_links
from connector_check.board.board import Board
from connector_check.board.ohms import BRIDGE_OHMS
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import BEEP, OHMS, SEEN_CLEAR, SILENT, VOLTS, Entry

Pair = tuple[int, int]


class Closed(NamedTuple):
    """What the standing readings prove.

    meanings: of the readings that are not silent, by number; knowledge: the closure of what joins and parts;
    measured: the same without pairs seen clear, which solder elsewhere may join; presumed: the first with tones and
    low ohms that parts may carry taken as joins where the two may be one conductor, for planning; through: pairs
    whose ohms are a part's by design; unsettled: numbers of readings that leave something to measure, to look at or
    to mend, the strongest of each pair.
    """

    meanings: dict[int, str]
    knowledge: Knowledge
    measured: Knowledge
    presumed: Knowledge
    through: list[Pair]
    unsettled: list[int]


NOTHING_YET = Closed({}, Knowledge(0), Knowledge(0), Knowledge(0), [], [])


def close(
    board: Board,
    meter: Meter,
    scope: str,
    live: Mapping[int, Entry],
    ohms: Mapping[int, float],
    solder_seen: Collection[frozenset[int]] = (),
) -> Closed:
    """Judge the standing readings together.

    live: readings by number, in time order; ohms: of the ohms readings, the leads' own taken off; scope: where solder
    can bridge, for what parts could have carried; solder_seen: pairs where the eye found what ohms leave open.
    """
    judged = _Judged(board, meter, live, ohms, solder_seen)
    if not board.resistors:
        judged.judge(lambda _a, _b: inf, Knowledge(len(board.points)))
        knowledge = judged.closure()
    else:
        # the eye rules out solder between two joints, not a way around it
        links = possible_links(board, scope).without(judged.seen_clear)
        proven = -1
        while len(judged.joins) > proven:
            proven = len(judged.joins)
            known = judged.closure(by_eye=False)
            judged.judge(part_floor(board, Reach(board, known, links)), known)
        knowledge = judged.closure()
    presumed = judged.closure(presumed=True) if judged.presumed or judged.presumed_apart else knowledge
    measured = judged.closure(by_eye=False) if judged.seen_clear else knowledge
    return Closed(judged.meanings, knowledge, measured, presumed, judged.through, judged.unsettled(presumed))


class _Judged:
    """The standing readings sorted by what they mean, for one floor of parts."""

    def __init__(
        self,
        board: Board,
        meter: Meter,
        live: Mapping[int, Entry],
        ohms: Mapping[int, float],
        solder_seen: Collection[frozenset[int]],
    ) -> None:
        self.board, self.meter, self.live, self.ohms, self.solder_seen = board, meter, live, ohms, solder_seen
        self.meanings: dict[int, str] = {}
        self.joins: dict[int, Pair] = {}
        self.presumed: list[Pair] = []
        self.presumed_apart: list[Pair] = []
        self.through: list[Pair] = []
        self.parts: list[Pair] = []
        self.seen_clear: list[Pair] = []
        self.open_to_judge: list[tuple[int, Entry]] = []
        self.junctions = tone_junctions(board, meter, live.values())
        for number, entry in live.items():
            if entry.kind == SEEN_CLEAR:
                self.seen_clear.append(entry.points)  # type: ignore[arg-type]
            elif entry.kind in SILENT or (entry.kind == VOLTS and excludes_solder(entry)):
                self.parts.append(entry.points)  # type: ignore[arg-type]
            elif entry.kind in (BEEP, OHMS, VOLTS):
                self.open_to_judge.append((number, entry))

    def judge(self, floor: Floor, known: Knowledge) -> None:
        """Judge every reading whose meaning depends on parts; parts found by ohms are counted once.

        known: what is joined so far: solder seen between two joints is solder between what each is joined to.
        """
        first = not self.meanings
        soldered = {frozenset(map(known.find, pair)) for pair in self.solder_seen}
        self.presumed, self.presumed_apart = [], []
        for number, entry in self.open_to_judge:
            if number in self.joins:
                continue
            pair: Pair = entry.points  # type: ignore[assignment]
            meaning = self._meaning(number, entry, pair, floor)
            if meaning == PART and frozenset(map(known.find, pair)) in soldered:
                meaning = JOINS
            self.meanings[number] = meaning
            if meaning == JOINS:
                self.joins[number] = pair
            elif meaning in (DOUBTFUL, PART, LEAK):
                self._presume(meaning, pair, self.ohms.get(number))
            if first and entry.kind == OHMS:
                self._take_ohms(meaning, pair, self.ohms[number])

    def _meaning(self, number: int, entry: Entry, pair: Pair, floor: Floor) -> str:
        if entry.kind == BEEP and may_be_junction(self.board, self.junctions, pair):
            return DOUBTFUL
        if entry.kind in (BEEP, VOLTS) and not self.board.resistors:
            return JOINS
        return judge(self.board, self.meter, entry, floor, self.ohms.get(number))

    def _presume(self, meaning: str, pair: Pair, ohms: float | None) -> None:
        if self._may_be_one(pair):
            if ohms is None or ohms < BRIDGE_OHMS:
                self.presumed.append(pair)
        elif meaning == LEAK or (meaning == PART and max(pair) >= len(self.board.joints)):
            # a leak is for the cleaning, not for one more touch; behind the joints nothing can be looked at, there the
            # refuter asks for the joints that matter
            self.presumed_apart.append(pair)

    def _take_ohms(self, meaning: str, pair: Pair, ohms: float) -> None:
        if meaning == PARTS:
            self.parts.append(pair)
        if meaning in (PARTS, PART) and self._reads_as_part(pair, ohms):
            self.through.append(pair)

    def _may_be_one(self, pair: Pair) -> bool:
        return not self.board.must_be_apart(self.board.net_of[pair[0]], self.board.net_of[pair[1]])

    def _reads_as_part(self, pair: Pair, ohms: float) -> bool:
        part = self.board.design_ohms(self.board.net_of[pair[0]].name, self.board.net_of[pair[1]].name)
        return part is not None and part.reads_as(ohms)

    def closure(self, presumed: bool = False, by_eye: bool = True) -> Knowledge:
        joins = [*self.joins.values(), *self._seen_joined(), *(self.presumed if presumed else ())]
        apart = [*self.parts, *(self.presumed_apart if presumed else ())]
        parts = [*apart, *_whole_shell(self.board, apart)]
        if self.seen_clear and by_eye:
            parts += self._seen_apart(joins)
        return closure(len(self.board.points), joins, parts)

    def _seen_apart(self, joins: list[Pair]) -> list[Pair]:
        """Pairs seen clear that no other pairs join: two joints without solder between them may be joined elsewhere."""

        def elsewhere(pair: Pair) -> bool:
            others = [join for join in joins if set(join) != set(pair)]
            return closure(len(self.board.points), others, ()).joined(*pair)

        return [pair for pair in self.seen_clear if not elsewhere(pair)]

    def _seen_joined(self) -> list[Pair]:
        """Solder seen where a part by design reads like solder: there only the eye can tell.

        It tells as well where ohms that leave that open were read between what the two are presumed to be one with.
        """
        if not self.solder_seen:
            return []
        one = closure(len(self.board.points), [*self.joins.values(), *self.presumed], ())
        open_to_eyes = {
            frozenset(map(one.find, entry.points))
            for number, entry in self.open_to_judge
            if self.meanings.get(number) == PART
        }
        joined: list[Pair] = []
        for seen in self.solder_seen:
            a, b = sorted(seen)
            part = self.board.design_ohms(self.board.net_of[a].name, self.board.net_of[b].name)
            if frozenset((one.find(a), one.find(b))) in open_to_eyes or (part and not part.tells_from_solder):
                joined.append((a, b))
        return joined

    def unsettled(self, knowledge: Knowledge) -> list[int]:
        """The readings that leave something to do, the strongest of each pair: ohms before beeps, the last ohms."""
        found: dict[frozenset[int], int] = {}
        for number, entry in self.open_to_judge:
            if self.meanings[number] in UNSETTLED:
                found.setdefault(frozenset(entry.points), number)
        if not found:
            return []
        for number, entry in self.open_to_judge:
            if entry.kind == OHMS and frozenset(entry.points) in found:
                found[frozenset(entry.points)] = number
        looked_at: dict[frozenset[int], set[str]] = {}
        for entry in self.live.values():
            if entry.kind in ALWAYS_PARTS and frozenset(entry.points) in found:
                looked_at.setdefault(frozenset(entry.points), set()).add(entry.kind)
        return [n for pair, n in found.items() if self._is_unsettled(n, knowledge, looked_at.get(pair, set()))]

    def _is_unsettled(self, number: int, knowledge: Knowledge, also: set[str]) -> bool:
        meaning, entry = self.meanings[number], self.live[number]
        a, b = entry.points
        if meaning == RESISTIVE:
            return True
        if knowledge.joined(a, b):
            return False
        if meaning == LEAK:
            return not self._read_over_joined_nets(number, entry, knowledge)
        if meaning == DOUBTFUL:
            return not also
        return meaning == PART and SEEN_CLEAR not in also and max(a, b) < len(self.board.joints)

    def _read_over_joined_nets(self, number: int, entry: Entry, knowledge: Knowledge) -> bool:
        """Whether the ohms are those of parts by design once the nets that are joined here count as one."""
        net_of = self.board.net_of
        groups = ({net_of[p].name for p in group} for group in knowledge.classes())
        ties = [group for group in groups if len(group) > 1]
        if not ties or not self.board.resistors:
            return False
        part = self.board.design_with(ties).ohms(*(net_of[p].name for p in entry.points))
        return part is not None and part.reads_as(self.ohms[number])


def _whole_shell(board: Board, parts: Iterable[Pair]) -> list[Pair]:
    """A quiet on the shell as a whole is a quiet on each of its joints: the shell is one piece of metal."""
    whole = board.shell_point
    if whole is None:
        return []
    return [
        (joint, b if a == whole else a)
        for a, b in parts
        if whole in (a, b)
        for joint in board.shell_joints
        if joint not in (a, b)
    ]
