"""The state of each joint for drawings and tables, from point numbers. Pure.

A joint counts as proven only when nothing that the scope asks of it is missing and its contact is proven; one whose
contact nobody asked for is apart, no more. Where a touch was left out because another, still missing one will answer
it, or where a part may have carried what was read, the joint is not proven yet. The shell is one piece of metal.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from connector_check.analysis.contact import Contacts
from connector_check.analysis.examine import Examined
from connector_check.analysis.obligations import conductor
from connector_check.analysis.result import CLEAR, OUTLIER, Short
from connector_check.analysis.shorts import short_groups
from connector_check.board import harm
from connector_check.board.board import Board
from connector_check.pinout.pinmap import GROUND

SHORTED, OPEN, UNPROVEN, NOTE, HARMLESS, APART, PROVEN, NOT_ASKED = (
    "shorted",
    "open",
    "unproven",
    "note",
    "harmless",
    "apart",
    "proven",
    "not asked",
)
KINDS = (SHORTED, OPEN, UNPROVEN, NOTE, HARMLESS, APART, PROVEN, NOT_ASKED)
"""States of a joint; the first that holds is shown."""

MARKS = {
    SHORTED: "x",
    OPEN: "o",
    UNPROVEN: "?",
    NOTE: "!",
    HARMLESS: "=",
    APART: "/",
    PROVEN: "v",
    NOT_ASKED: "-",
}
NOT_TESTED = "contact not tested"
"""What is said of a joint that is apart and no more."""
SITE_MARK = "X"
SITES_SHOWN = 6


@dataclass(frozen=True)
class State:
    """What a result says of one joint.

    kind: one of KINDS; detail: why, in words; partners: the joints of other nets it is shorted with; sites: the joints
    to which the solder most likely runs from here.
    """

    kind: str
    detail: str = ""
    partners: tuple[str, ...] = ()
    sites: tuple[str, ...] = ()

    @property
    def mark(self) -> str:
        """One character, different for each kind; a likely bridge site has its own."""
        return SITE_MARK if self.sites else MARKS[self.kind]

    @property
    def word(self) -> str:
        """The state in words, with whom it is shorted."""
        if not self.partners:
            return self.kind
        first = [*dict.fromkeys((*self.sites, *self.partners))][:2]
        shown = " ".join(first) + (f" and {len(self.partners) - 2} more" if len(self.partners) > 2 else "")
        return f"{self.kind}{': joined' if self.kind == NOTE else ''} with {shown}"


def joint_states(found: Examined) -> dict[str, State]:
    """The state of each joint of the board's layout, by joint name, in layout order."""
    said = _Said(found.standing.board)
    _say_shorts(found, said)
    _say_findings(found, said)
    for odd in (one for one in found.result.diode if one.kind == OUTLIER):
        said.say(said.board.number[odd.joint], State(UNPROVEN, f"diode mode: {odd.why}"))
    needed, asked = _Asked(found).missing_and_asked()
    why = "not proven yet" + (", or asked again once a short is reworked" if found.result.shorts else "")
    for joint in sorted(needed):
        said.say(joint, State(UNPROVEN, why))
    touching = _joints_with_contact(found)
    return {
        said.board.points[joint]: min(heard, key=lambda s: KINDS.index(s.kind))
        if heard
        else _nothing_said(joint in asked, joint in touching)
        for joint, heard in enumerate(said.by_joint)
    }


def _nothing_said(asked: bool, touching: bool) -> State:
    """The state of a joint of which nothing is found and nothing missing."""
    if not asked:
        return State(NOT_ASKED)
    return State(PROVEN) if touching else State(APART, NOT_TESTED)


def _joints_with_contact(found: Examined) -> set[int]:
    """The joints whose contact is proven; what a part may have carried counts only once the whole is clear."""
    standing = found.standing
    contacts = Contacts(standing, standing.closed.presumed if found.result.verdict == CLEAR else standing.knowledge)
    return {joint for joint in range(len(standing.board.joints)) if contacts.proven(joint)}


class _Said:
    """All that is said of each joint."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.by_joint: list[list[State]] = [[] for _ in board.joints]

    def say(self, point: int, state: State) -> None:
        for joint in joints_at(self.board, point):
            self.by_joint[joint].append(state)


def joints_at(board: Board, point: int) -> tuple[int, ...]:
    """The joints that a point shows at: itself, all of the shell for its metal, none for a board point."""
    if point < len(board.joints):
        return (point,)
    return board.shell_joints if point == board.shell_point else ()


def _say_findings(found: Examined, said: _Said) -> None:
    board, result = said.board, found.result
    for opened in result.opens:
        said.say(board.number[opened.joint], State(OPEN, opened.why))
    for pair, why in [(leak.pair, leak.why) for leak in result.leaks] + [(m.pair, m.why) for m in result.measure]:
        for name in pair:
            said.say(board.number[name], State(UNPROVEN, f"{pair[0]} to {pair[1]}: {why}"))
    for conflict in result.conflicts:
        state = State(UNPROVEN, f"contradiction: {conflict.quiet[0]} - {conflict.quiet[1]} quiet, yet joined")
        for name in dict.fromkeys(n for pair in (conflict.quiet, *conflict.beeps) for n in pair):
            said.say(board.number[name], state)
    for join in result.harmless:
        for name in join.joints:
            for joint in joints_at(board, board.number[name]):
                if not board.net_of[joint].must_join:
                    said.say(joint, State(HARMLESS, join.why))


def _say_shorts(found: Examined, said: _Said) -> None:
    for group, short in zip(short_groups(found.standing), found.result.shorts, strict=True):
        _say_short(said, group, short)


def _say_short(said: _Said, group: list[int], short: Short) -> None:
    board = said.board
    members = dict.fromkeys(joint for point in group for joint in joints_at(board, point))
    # a net that is short behind its joints, at its board point, shows at all of its joints
    absent = set(short.nets) - {board.net_of[joint].name for joint in members}
    members.update((j, None) for j in range(len(board.joints)) if board.net_of[j].name in absent)
    runs: dict[str, dict[str, None]] = {}
    for site in short.sites:
        for a, b in site.places:
            runs.setdefault(a, {})[b] = None
            runs.setdefault(b, {})[a] = None
    detail = f"{' + '.join(short.nets)}: {short.why}" + _places(short)
    kind = NOTE if short.harm == harm.NOTE else SHORTED
    names = [(board.points[m], board.net_of[m].name) for m in members]
    partners = {net: tuple(name for name, other in names if other != net) for net in dict.fromkeys(n for _, n in names)}
    for joint, (name, net) in zip(members, names, strict=True):
        said.say(joint, State(kind, detail, partners[net], tuple(runs.get(name, ()))))


def _places(short: Short) -> str:
    places = [site.told(SITES_SHOWN) for site in short.sites]
    return f"; solder most likely at {SITE_MARK}: {', and '.join(places)}" if places else ""


class _Asked:
    """Of which joints the scope asks anything, and of which something is still missing."""

    def __init__(self, found: Examined) -> None:
        self.found, self.board = found, found.standing.board
        self.missing, self.doubtful = self._without_join()

    def missing_and_asked(self) -> tuple[set[int], set[int]]:
        """Joints of which something is missing, and joints of which anything is asked."""
        found, board, needed = self.found, self.board, self.found.needed
        missing = self.missing
        asked = {joint for joint, _ in needed.joins}
        if not found.settings.shorts_only:
            asked.update(joint for joint, _ in needed.contacts)
        unproven = [*found.account.todo, *found.account.presumed]
        missing.update(joint for pair in unproven for point in pair for joint in joints_at(board, point))
        keys = {frozenset(self._conductors(pair)) for pair in unproven}
        # a short ends the asking between its conductors, so their joints that are not in it were never asked further
        groups = short_groups(found.standing)
        shorted = {joint for group in groups for point in group for joint in joints_at(board, point)}
        ended = [self._conductors(group) for group in groups]
        for wall in needed.isolation:
            near = {j for pair in wall.pairs for j in pair} if wall.gap_mm is not None else set()
            sides = wall.key if wall.whole else ()
            asked |= near | {j for key in sides for j in self._joints_of(key)}
            if frozenset(wall.key) in keys or self.doubtful.intersection(wall.key):
                missing |= near | self._joints_asked_for(sides)
            elif any(both.issuperset(wall.key) for both in ended):
                missing |= (near | self._joints_asked_for(sides)) - shorted
        return missing, asked

    def _joints_of(self, key: str) -> list[int]:
        return self.board.joints_of[key[1:]] if key[0] == "@" else [self.board.number[key]]

    def _joints_asked_for(self, keys: Iterable[str]) -> set[int]:
        """The joints of these sides of an isolation, but not of a ground that the board joins: what is missing between
        a joint and such a net shows at that joint. A ground joint that stands for itself alone shows it as well.
        """
        net_of, number = self.board.net_of, self.board.number
        return {j for key in keys for j in self._joints_of(key) if key[0] != "@" or net_of[number[key]].role != GROUND}

    def _without_join(self) -> tuple[set[int], set[str]]:
        """Joints whose join to their net is not known either way, with what is joined to them; and the conductors on
        which touches may have been left out until these joins are known.
        """
        knowledge, wanted = self.found.standing.knowledge, set(self.found.account.todo)
        # of joints that are joined together only one is asked for
        ends = [(joint, point) for joint, point in self.found.needed.joins if (joint, point) in wanted]
        without, hubs = ({knowledge.find(pair[i]) for pair in ends} for i in (0, 1))
        points = range(len(self.board.points))
        found = {p for p in points if knowledge.find(p) in without}
        behind = {p for p in points if knowledge.find(p) in hubs}
        return {p for p in found if p < len(self.board.joints)}, self._conductors(found | behind)

    def _conductors(self, points: Iterable[int]) -> set[str]:
        """What points stand for in the obligations; the shell as a whole stands for each of its joints."""
        found: set[str] = set()
        for point in points:
            joints = joints_at(self.board, point)
            found.update(conductor(self.board, joint) for joint in joints)
            found.update(() if joints else (self.board.points[point],))
        return found
