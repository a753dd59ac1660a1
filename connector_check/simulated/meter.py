"""A simulated meter, its leads and the hands that hold them: thresholds, errors, misses, strays, leads that fail."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from math import exp, inf, log

from connector_check.board.board import NEAR, Board
from connector_check.simulated.board import SimulatedBoard
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.readings import BEEP, CHIRP, QUIET

GOOD, SILENT, SOUND = "good", "silent", "sound"
"""What a lead check finds: all well; together, no tone (a broken lead); apart, a tone (leads that touch)."""


@dataclass(frozen=True)
class LeadFault:
    """Leads that fail midway.

    kind: SILENT, a broken lead, or SOUND, leads that touch each other; after: the touch from which they fail, counted
    from 1; rate: the share of touches at which they do (1 for good).
    """

    kind: str
    after: int
    rate: float = 1.0


@dataclass(frozen=True)
class Hands:
    """How touches go wrong, as rates per touch.

    miss: no contact is made; stray: the tip lands on a neighbour of the joint that was meant.
    """

    miss: float = 0.0
    stray: float = 0.0


@dataclass
class SimulatedMeter:
    """One meter on the bench. All that is random comes from `rng`.

    band: the meter as its owner knows it: it sounds below `sounds_below`, is silent above `silent_above`; where
    between it changes over is drawn once, or at each touch when `wavers`. The threshold holds for what lies between the
    tips. leads_ohms: added to every ohms reading; error: the largest share by which ohms are off; resolution: the
    smallest step shown, in ohms; over: ohms above which it shows OL; chirps: whether a capacitor makes it chirp.
    """

    rng: random.Random
    band: Meter = UNKNOWN_METER
    wavers: bool = False
    leads_ohms: float = 0.2
    error: float = 0.02
    resolution: float = 0.1
    over: float = 40e6
    chirps: bool = False
    hands: Hands = Hands()
    lead_fault: LeadFault | None = None
    touches: int = field(default=0, init=False)

    def __post_init__(self) -> None:
        self._threshold = self._draw()
        self._beside: tuple[Board, dict[int, list[int]]] | None = None

    def _draw(self) -> float:
        """A threshold of the band: either end often, else evenly by the logarithm."""
        low, high = self.band.sounds_below, self.band.silent_above
        spot = self.rng.random()
        if spot < 0.2 or low == high:
            return low
        return high if spot > 0.8 else exp(self.rng.uniform(log(low), log(high)))

    def sounds(self, ohms: float) -> bool:
        """Whether it sounds on these ohms between the tips."""
        return ohms <= (self._draw() if self.wavers else self._threshold)

    def continuity(self, board: SimulatedBoard, a: int, b: int) -> str:
        """One touch of two points: `beep`, `quiet`, or `chirp`."""
        a, b, fault = self._touch(board.board, a, b)
        if fault == SOUND or (not fault and self.sounds(board.ohms(a, b))):
            return BEEP
        return CHIRP if self.chirps and not fault and board.charges(a, b) else QUIET

    def ohms(self, board: SimulatedBoard, a: int, b: int) -> float:
        """Ohms as shown for one touch, the leads' own included; infinite for OL."""
        a, b, fault = self._touch(board.board, a, b)
        if fault == SILENT:
            return inf
        return self._shown(0.0 if fault == SOUND else board.ohms(a, b))

    def lead_check(self) -> str:
        """GOOD, SILENT or SOUND: the truth about the leads as they are now."""
        return self._leads_now() or GOOD

    def leads_read(self) -> float:
        """Ohms as shown with the leads touched together; infinite for OL."""
        return inf if self._leads_now() == SILENT else self._shown(0.0)

    def mend_leads(self) -> None:
        """Other leads, which hold."""
        self.lead_fault = None

    def _shown(self, ohms: float) -> float:
        read = (ohms + self.leads_ohms) * (1 + self.rng.uniform(-self.error, self.error))
        if read > self.over:
            return inf
        return round(round(read / self.resolution) * self.resolution, 6) if self.resolution else read

    def _leads_now(self) -> str:
        fault = self.lead_fault
        if fault is None or self.touches < fault.after or self.rng.random() >= fault.rate:
            return ""
        return fault.kind

    def _touch(self, board: Board, a: int, b: int) -> tuple[int, int, str]:
        """Where the tips land, and what spoils the touch: SILENT, SOUND or nothing."""
        self.touches += 1
        leads = self._leads_now()
        missed = self.hands.miss > 0 and self.rng.random() < self.hands.miss
        return self._land(board, a), self._land(board, b), leads or (SILENT if missed else "")

    def _land(self, board: Board, point: int) -> int:
        if not self.hands.stray or self.rng.random() >= self.hands.stray / 2:
            return point
        if self._beside is None or self._beside[0] is not board:
            beside: dict[int, list[int]] = {}
            for a, b, _ in board.gaps(NEAR):
                beside.setdefault(board.number[a], []).append(board.number[b])
                beside.setdefault(board.number[b], []).append(board.number[a])
            self._beside = board, beside
        near = self._beside[1].get(point)
        return self.rng.choice(near) if near else point
