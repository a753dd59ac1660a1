"""Who answers a session: what a source of answers must do, and a simulated person with a board, a meter and an iron."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from math import isinf
from typing import NamedTuple, Protocol, runtime_checkable

from connector_check.board.board import NEAR
from connector_check.board.ohms import BRIDGE_OHMS
from connector_check.simulated.board import Bridge, SimulatedBoard
from connector_check.simulated.faults import bridge_ohms
from connector_check.simulated.meter import GOOD, SimulatedMeter
from connector_check.testlog.readings import LEADS_GOOD, SEEN_CLEAR, SOLDER_SEEN

LEADS = "leads"

JointPair = tuple[str, str]


@runtime_checkable
class Source(Protocol):
    """What answers a session: a person, an instrument, a simulation. Points are named as in the job file (`4`, `@GND`),
    answers are words as the job file has them. An unknown point raises ValueError.
    """

    def touch(self, a: str, b: str) -> str:
        """Continuity between two points: `beep`, `chirp`, `quiet` or `unsure`."""

    def ohms(self, a: str, b: str) -> str:
        """Ohms between two points as the meter shows them, its leads included: `0.4`, `4.7k`, `OL`."""

    def leads(self) -> str:
        """A lead check: `leads good` (with the leads' ohms where read), `leads silent` or `leads sound`."""

    def look(self, a: str, b: str) -> str:
        """A look at the gap between two joints: `seen clear` or `solder seen`."""


class Repair(NamedTuple):
    """One line of a rework list.

    joints: one joint to be reflowed, or those with a bridge between; alternatives: where else the bridge may be;
    reflow: whether its joints are to be reflowed rather than cleared.
    """

    joints: tuple[str, ...]
    alternatives: tuple[JointPair, ...] = ()
    reflow: bool = False


@dataclass
class SimulatedPerson:
    """A source of answers with a true board. `board` is the state as it is now; rework replaces it.

    tells_leads_ohms: whether a good lead check names the leads' ohms; mends: whether bad leads are changed after a
    failed check; slip: odds of a new fault for each joint that the iron touches.
    """

    board: SimulatedBoard
    meter: SimulatedMeter
    rng: random.Random
    tells_leads_ohms: bool = False
    mends: bool = True
    slip: float = 0.0
    answers: int = field(default=0, init=False)

    def _point(self, name: str) -> int:
        found = self.board.board.resolve(name)
        if found is None:
            raise ValueError(f"unknown point '{name}'")
        return found

    def touch(self, a: str, b: str) -> str:
        """As `Source.touch`."""
        self.answers += 1
        return self.meter.continuity(self.board, self._point(a), self._point(b))

    def ohms(self, a: str, b: str) -> str:
        """As `Source.ohms`."""
        self.answers += 1
        return _words(self.meter.ohms(self.board, self._point(a), self._point(b)))

    def leads(self) -> str:
        """As `Source.leads`; bad leads are changed after the answer."""
        found = self.meter.lead_check()
        if found != GOOD:
            if self.mends:
                self.meter.mend_leads()
            return f"{LEADS} {found}"
        read = self.meter.leads_read() if self.tells_leads_ohms else None
        return LEADS_GOOD if read is None or isinf(read) else f"{LEADS_GOOD} {_words(read)}"

    def look(self, a: str, b: str) -> str:
        """As `Source.look`: eyes are right."""
        self.answers += 1
        seen = {self._point(a), self._point(b)}
        return SOLDER_SEEN if any({b.a, b.b} == seen for b in self.board.bridges) else SEEN_CLEAR

    def rework(self, repairs: Iterable[Repair]) -> list[str]:
        """Work through a rework list and return the joints that the iron touched, in layout order.

        Bridges are cleared where the list names them and they are there; its alternatives are looked at, and cleared
        where solder is seen. Open joints are reflowed only where the list names them.
        """
        heated: set[int] = set()
        reflowed: set[int] = set()
        cleared: set[Bridge] = set()
        for repair in repairs:
            joints = {self._point(name) for name in repair.joints} & set(range(len(self.board.board.joints)))
            heated |= joints
            if repair.reflow or len(joints) < 2:
                reflowed |= joints
                continue
            others = [{self._point(name) for name in pair} for pair in repair.alternatives]
            found = {b for b in self.board.bridges if {b.a, b.b} <= joints or {b.a, b.b} in others}
            cleared |= found
            heated |= {joint for bridge in found for joint in (bridge.a, bridge.b)}
        bridges = tuple(b for b in self.board.bridges if b not in cleared)
        self.board = replace(self.board, bridges=bridges, opens=self.board.opens - reflowed)
        self._slip(heated)
        return self.board.board.names(heated)

    def _slip(self, heated: set[int]) -> None:
        board = self.board.board
        for joint in sorted(heated):
            if self.rng.random() >= self.slip:
                continue
            near = [(board.number[a], board.number[b]) for a, b, _ in board.gaps(NEAR) if board.points[joint] in (a, b)]
            if near and self.rng.random() < 0.7:
                bridge = Bridge(*self.rng.choice(near), bridge_ohms(self.rng, BRIDGE_OHMS / 5))
                self.board = replace(self.board, bridges=(*self.board.bridges, bridge))
            else:
                self.board = replace(self.board, opens=self.board.opens | {joint})


def _words(ohms: float) -> str:
    """Ohms as typed into a job."""
    return "OL" if isinf(ohms) else f"{ohms:.12g}" if ohms < 1e4 else f"{ohms / 1e3:.12g}k"
