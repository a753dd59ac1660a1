"""The meter: when it sounds, and what a reading then means between two nets. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Meter:
    """Thresholds in ohms: must sound below `sounds_below`, must be silent above `silent_above`, either between.
    leads_ohms: of the leads themselves, subtracted from ohms read; a lead check in the job goes before it.

    The default is the careful one for an unknown meter: the lowest and highest thresholds that makers print
    (10 ohm, many manuals; 250 ohm, from memory for one maker).
    """

    sounds_below: float = 10.0
    silent_above: float = 250.0
    leads_ohms: float = field(default=0.0, repr=False)


UNKNOWN_METER = Meter()
