"""Which faults explain the readings: every minimal set within the refuter's bound, with its odds. Pure.

Consistency-based diagnosis: a set of faults explains the readings when some board with just these faults fits them all.
Each set of readings that rules a set out must be met by one more fault, so only such faults are tried.
"""

from __future__ import annotations

from typing import NamedTuple

from connector_check.analysis.refuter_index import Index, split
from connector_check.analysis.refuter_model import BoardModel, Fault, Odds, SupposedBoard
from connector_check.analysis.refuter_repairs import repairs
from connector_check.analysis.refuter_state import Outcome, State

BOUND = "up to two faults, and one open joint with up to three bridges at it"
FAMILY_BRIDGES = 3
CONFLICTS_WEIGHED = 8
"""Of so many conflicts the one that leaves the fewest faults to try is taken."""
MOST_STATES = 60_000
"""Fault sets looked at before a search is cut short, and says so."""

Faults = frozenset[int]


def even(_: Fault) -> float:
    """The same odds for every fault."""
    return 1.0


class Explanation(NamedTuple):
    """A board that would read so, none of whose faults can be left out; share: its part of the odds of all, 0 to 1."""

    board: SupposedBoard
    share: float


class Explained(NamedTuple):
    """All minimal explanations within the bound, the likeliest first.

    A sound board is the one without faults. None at all: more faults than the bound, or a wrong reading. undecided:
    fault sets that were neither shown to fit nor ruled out; left_out: what was not searched; both in words.
    """

    explanations: tuple[Explanation, ...]
    undecided: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    bound: str = BOUND


def explain(model: BoardModel | Index, odds: Odds = even, most_states: int = MOST_STATES) -> Explained:
    """Find every minimal explanation of the readings.

    Up to two faults; where none fits, one joint, open or not, with up to three bridges at it. odds: of a fault against
    its absence; most_states: how many fault sets are looked at before the search is cut short.
    """
    index = model if isinstance(model, Index) else Index(model)
    search = _Search(index, most_states)
    search.run()
    likely = {faults: index.likely(faults, odds) for faults in search.found}
    total = sum(likely.values())
    order = sorted(likely, key=lambda faults: (-likely[faults], len(faults), sorted(faults)))
    return Explained(
        tuple(
            Explanation(search.found[faults], likely[faults] / total if total else 1 / len(order)) for faults in order
        ),
        tuple(index.supposed(faults, {}, {}).told() for faults in search.undecided),
        (f"stopped after {most_states} sets of faults",) if search.cut_short else (),
    )


class _Search:
    def __init__(self, index: Index, most_states: int) -> None:
        self.index, self.most_states = index, most_states
        self.found: dict[Faults, SupposedBoard] = {}
        self.undecided: list[Faults] = []
        self.ruled_out: dict[Faults, tuple[State, Outcome]] = {}
        self.seen: set[Faults] = set()
        self.cut_short = False

    def run(self) -> None:
        layer: list[Faults] = [frozenset()]
        for count in range(3):
            self.judge(layer)
            if count < 2:
                smaller = [faults for faults in self.ruled_out if self.index.size(faults) == count]
                larger = (more for faults in smaller for more in self.larger(faults, last=count == 1))
                layer = [faults for faults in larger if self.index.size(faults) <= 2]
        if self.found or self.undecided or self.cut_short:
            return
        layer = list(self.ruled_out)
        for _ in range(1 + FAMILY_BRIDGES):
            larger = (more for faults in layer if faults in self.ruled_out for more in self.larger(faults, last=False))
            layer = [faults for faults in larger if self.in_family(faults)]
            self.judge(layer)
        self.found = {faults: board for faults, board in self.found.items() if not any(k < faults for k in self.found)}

    def judge(self, layer: list[Faults]) -> None:
        for faults in layer:
            if faults in self.seen or any(known <= faults for known in self.found):
                continue
            if len(self.seen) >= self.most_states:
                self.cut_short = True
                return
            self.seen.add(faults)
            state = State(self.index, faults)
            outcome = state.judge(False)
            if outcome.fits:
                self.found[faults] = outcome.fits
            elif outcome.undecided:
                self.undecided.append(faults)
            else:
                self.ruled_out[faults] = (state, outcome)

    def larger(self, faults: Faults, last: bool) -> list[Faults]:
        state, outcome = self.ruled_out[faults]
        found = [repairs(state, conflict, last) for conflict in outcome.conflicts[:CONFLICTS_WEIGHED]]
        fewest: set[int] = min(found, key=len) if found else set()
        return [faults | {repair} for repair in sorted(fewest)]

    def in_family(self, faults: Faults) -> bool:
        """Whether all faults are at one joint: it open or not, and up to three bridges."""
        loose, bridges = split(faults)
        if len(bridges) > FAMILY_BRIDGES or len(loose) > 1:
            return False
        ends = [{self.index.solder[i].a, self.index.solder[i].b} for i in bridges]
        shared = set.intersection(*ends, *({body} for body in loose)) if faults else set()
        if any(len(self.index.bodies[body].joints) == 1 for body in shared):
            return True
        # a joint of a shell with others stays on its net by them: open or not, it is its bridges that count
        named = [set(self.index.solder[i].joints) for i in bridges]
        joints = {joint for body in shared for joint in self.index.bodies[body].joints}
        return not loose and bool(joints.intersection(*named))
