"""The refuter: tries to build a bad board that would give exactly the standing readings. Pure.

Theory: a verdict `clear` claims that no bad board of the model fits the readings, all at once. Searched are every
single fault, every two faults, and one open joint (of a shell too) with up to three bridges at it; every optional tie
there or not, every part absent or anywhere in its range. Bad is judged on the board that results: a joint without the
contact that it needs, or one conductor over nets that must be apart.

Every bad board holds a core that is bad by itself: an open, a bridge, or two bridges. A core that the readings rule out
needs, for each set of readings that does, one more fault that changes one of them; so each step tries only those.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import NamedTuple

from connector_check.analysis.explanations import BOUND, CONFLICTS_WEIGHED, FAMILY_BRIDGES, MOST_STATES, even, explain
from connector_check.analysis.refuter_index import Index
from connector_check.analysis.refuter_model import BoardModel, Odds, SupposedBoard
from connector_check.analysis.refuter_repairs import repairs
from connector_check.analysis.refuter_state import Outcome, State

Faults = frozenset[int]


class Counterexample(NamedTuple):
    """A bad board that would read the same.

    board: its faults and a choice of ties and ohms; without_contact: required joints that do not reach their board
    point; joined: pairs of nets that must be apart and are one conductor.
    """

    board: SupposedBoard
    without_contact: tuple[str, ...]
    joined: tuple[tuple[str, str], ...]

    def told(self) -> str:
        """One line about it."""
        return f"a board with {self.board.told()} would read the same"


class Refutation(NamedTuple):
    """What the search found.

    counterexamples: bad boards that fit, the fewest faults first, then the likeliest; undecided: fault sets that were
    neither shown to fit nor ruled out; left_out: what was not searched, in words; states: fault sets looked
    at; explained: a board that is not bad (sound, or with harmless faults) fits the readings; bound: what a search
    without counterexample claims.
    """

    counterexamples: tuple[Counterexample, ...]
    undecided: tuple[SupposedBoard, ...]
    left_out: tuple[str, ...]
    states: int
    explained: bool
    bound: str = BOUND

    @property
    def earned(self) -> bool:
        """Whether no bad board within the bound fits the readings, one that is not bad does, and all was searched."""
        return self.explained and not (self.counterexamples or self.undecided or self.left_out)


def refute(model: BoardModel | Index, odds: Odds = even, most_states: int = MOST_STATES) -> Counterexample | None:
    """The bad board with the fewest faults (then the likeliest) that fits all readings, or None.

    None promises nothing when the search was cut short: ask `refutation` for what was left out or undecided.
    """
    found = refutation(model, odds, most_states).counterexamples
    return found[0] if found else None


def refutation(
    model: BoardModel | Index, odds: Odds = even, most_states: int = MOST_STATES, every: bool = False
) -> Refutation:
    """Search for bad boards that fit all readings.

    odds: of a fault, to order boards with equally many; most_states: how many fault sets are looked at before the
    search is cut short; every: all minimal ones within the bound, not only those with the fewest faults.
    """
    return _Search(model if isinstance(model, Index) else Index(model), odds, most_states).run(every)


class OutOfStatesError(Exception):
    """The search looked at as many fault sets as it may."""


class _Search:
    def __init__(self, index: Index, odds: Odds, most_states: int) -> None:
        self.index, self.odds, self.most_states = index, odds, most_states
        self.outcomes: dict[Faults, Outcome | None] = {}
        self.states: dict[Faults, State] = {}
        self.found: dict[Faults, SupposedBoard] = {}

    def run(self, every: bool) -> Refutation:
        left_out: list[str] = []
        searches = {
            "single faults": self.singles,
            "pairs of faults": self.pairs,
            "open joints with two or three bridges at them": self.families,
        }
        for layer, search in searches.items():
            try:
                search()
            except OutOfStatesError:
                left_out.append(f"stopped after {self.most_states} sets of faults, within the {layer}")
                break
            if self.found and not every:
                break
        order = sorted(self.found, key=self.rank)
        undecided = [
            self.index.supposed(faults, {}, {})
            for faults, outcome in self.outcomes.items()
            if outcome and outcome.undecided
        ]
        counterexamples = tuple(self.counterexample(faults) for faults in order)
        return Refutation(counterexamples, tuple(undecided), tuple(left_out), len(self.outcomes), self.explained())

    def rank(self, faults: Faults) -> tuple[int, float, list[int]]:
        """Fewest faults first, then the likeliest, then in the order of joints and scope."""
        numbers = sorted(~fault if fault < 0 else len(self.index.bodies) + fault for fault in faults)
        return self.index.size(faults), -self.index.likely(faults, self.odds), numbers

    def explained(self) -> bool:
        """Whether the sound board fits, or one with faults that are not bad with the ties it has."""
        if State(self.index, frozenset()).judge(False).fits:
            return True
        for explanation in explain(self.index, self.odds, self.most_states).explanations:
            state = State(self.index, self.index.faults_of(explanation.board))
            ties = [self.index.ties_key(tie) for tie in explanation.board.ties]
            if not state.shorted(ties) and not state.cut_off(ties):
                return True
        return False

    def judge(self, faults: Faults) -> Outcome | None:
        """The outcome of a set of faults that can be bad, or None when it cannot; kept in `found` when it fits."""
        if faults in self.outcomes:
            return self.outcomes[faults]
        if len(self.outcomes) >= self.most_states:
            raise OutOfStatesError
        state = State(self.index, faults)
        outcome = state.judge(True) if state.bad()[0] else None
        self.outcomes[faults] = outcome
        if outcome:
            self.states[faults] = state
        if outcome and outcome.fits and not any(known < faults for known in self.found):
            self.found[faults] = outcome.fits
        return outcome

    def opens(self) -> Iterator[int]:
        """Bodies whose loss is bad, as faults, within two open joints."""
        for body, told in enumerate(self.index.bodies):
            if told.required and len(told.joints) <= 2:
                yield ~body

    def singles(self) -> None:
        for fault in (*self.opens(), *range(len(self.index.solder))):
            if self.index.size([fault]) == 1:
                self.judge(frozenset([fault]))

    def pairs(self) -> None:
        for fault in self.opens():
            if self.index.size([fault]) == 2:
                self.judge(frozenset([fault]))
        for pair in self.bridge_cores():
            self.judge(pair)
        for core in [faults for faults in self.outcomes if self.index.size(faults) == 1]:
            for repair in self.repairs(core, last=True):
                if self.index.size(core | {repair}) == 2:
                    self.judge(core | {repair})

    def bridge_cores(self) -> list[Faults]:
        """Two bridges that can be bad together and not alone, whatever ties are there."""
        by_reach: dict[Faults, list[int]] = {}
        for i in range(len(self.index.solder)):
            reach = self.reach(i)
            if self.outcomes.get(frozenset([i])) is None and reach:
                by_reach.setdefault(reach, []).append(i)
        pairs = [
            (first, second)
            for first, second in combinations(by_reach, 2)
            if first & second and any(self.index.apart(x, y) for x in first for y in second)
        ]
        return [frozenset((i, k)) for first, second in pairs for i in by_reach[first] for k in by_reach[second]]

    def reach(self, solder: int) -> Faults:
        """The nodes that a bridge joins when every optional tie is there; none when it joins nothing."""
        place = self.index.solder[solder]
        nodes = {self.index.bodies[body].node for body in (place.a, place.b)}
        return frozenset().union(*(self.index.tied(node) for node in nodes)) if len(nodes) == 2 else frozenset()

    def families(self) -> None:
        """One open joint and its bridges. A joint of a shell with others stays on its net by them, open or not."""
        for number, body in enumerate(self.index.bodies):
            loose = frozenset([~number]) if len(body.joints) == 1 else frozenset[int]()
            for joint in body.joints:
                places = [i for i in self.index.solder_at[number] if joint in self.index.solder[i].joints]
                self.family(number, loose, places)

    def family(self, body: int, loose: Faults, places: list[int]) -> None:
        """The body loose or not, with one to three bridges at these places."""
        todo = list(self.family_cores(body, loose, places)) if places else []
        seen = set(todo)
        while todo:
            faults = todo.pop()
            self.judge(faults)
            bridges = len(faults - loose)
            if bridges == FAMILY_BRIDGES:
                continue
            for repair in self.repairs(faults, last=bridges == FAMILY_BRIDGES - 1, among=places):
                larger = faults | {repair}
                if larger not in seen:
                    seen.add(larger)
                    todo.append(larger)

    def family_cores(self, body: int, loose: Faults, places: list[int]) -> Iterator[Faults]:
        """What can be bad of one body and its bridges: it loose, one bridge more, or two that are not bad alone."""
        if loose and self.index.bodies[body].required:
            yield loose
        mild = []
        for place in places:
            faults = loose | {place}
            state = self.states.get(faults) or State(self.index, faults)
            if state.shorted(state.ties_near()):
                yield faults
            else:
                mild.append(place)
        for i, k in combinations(mild, 2):
            if any(self.index.apart(x, y) for x in self.reach_beyond(i, body) for y in self.reach_beyond(k, body)):
                yield loose | {i, k}

    def reach_beyond(self, solder: int, body: int) -> Faults:
        """The nodes that a bridge at a body joins it to when every optional tie is there."""
        place = self.index.solder[solder]
        other = place.b if place.a == body else place.a
        return self.index.tied(self.index.bodies[other].node)

    def repairs(self, faults: Faults, last: bool, among: list[int] | None = None) -> list[int]:
        """The fewest faults to try next on a set that the readings rule out (among: only these)."""
        outcome = self.outcomes[faults]
        if not outcome or not outcome.conflicts:
            return []
        best: set[int] | None = None
        for conflict in outcome.conflicts[:CONFLICTS_WEIGHED]:
            found = repairs(self.states[faults], conflict, last, among)
            if best is None or len(found) < len(best):
                best = found
            if not best:
                break
        return sorted(best or ())

    def counterexample(self, faults: Faults) -> Counterexample:
        state, board = self.states[faults], self.found[faults]
        ties = [self.index.ties_key(pair) for pair in board.ties]
        names = self.index.names
        joined = {
            tuple(sorted((x, y)))
            for a, b in state.shorted(ties)
            for x in names[a]
            for y in names[b]
            if self.index.model.must_be_apart(x, y) or self.index.model.must_be_apart(y, x)
        }
        without = [joint for body in state.cut_off(ties) for joint in self.index.bodies[body].required]
        return Counterexample(board, tuple(without), tuple((a, b) for a, b in sorted(joined)))
