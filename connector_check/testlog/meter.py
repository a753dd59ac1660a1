"""The meter: when it sounds, what else is known of it, and where that was told. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field

from connector_check.files.text import one_line

HOLD_TIMES = 2.0
"""A touch is held this many times as long as the meter needs to sound; the margin is ours, for hands and scales."""


@dataclass(frozen=True)
class Meter:
    """Thresholds in ohms: must sound below `sounds_below`, must be silent above `silent_above`, either between.

    leads_ohms: of the leads themselves, subtracted from ohms read; a lead check in the job goes before it. name and
    source: the user's own words; latency_ms: the shortest touch it sounds on; beeps_on_junction: whether it sounds on a
    junction in diode mode; None is not known. told_by: where all this comes from, in words, or "" when nobody told.

    The default is the careful one for an unknown meter: the lowest and highest thresholds that makers print
    (10 ohm, many manuals; 250 ohm, from memory for one maker).
    """

    sounds_below: float = 10.0
    silent_above: float = 250.0
    leads_ohms: float = field(default=0.0, repr=False)
    name: str = field(default="", repr=False)
    latency_ms: float | None = field(default=None, repr=False)
    beeps_on_junction: bool | None = field(default=None, repr=False)
    source: str = field(default="", repr=False)
    told_by: str = field(default="", repr=False, compare=False)

    @property
    def is_unknown(self) -> bool:
        """Whether nothing is known of it, so that the careful default stands in."""
        return not self.told_by and (self.sounds_below, self.silent_above) == _CAREFUL

    @property
    def hold_seconds(self) -> float | None:
        """How long each touch is to be held, or None when that is not known."""
        return None if self.latency_ms is None else HOLD_TIMES * self.latency_ms / 1000

    def in_words(self) -> str:
        """Thresholds, which meter it is, and where that comes from.

        >>> Meter().in_words()
        'sounds below 10 ohm, silent above 250 ohm (unknown meter, the careful default)'
        >>> Meter(30, 70, name="the handheld", told_by="--meter").in_words()
        'sounds below 30 ohm, silent above 70 ohm (the handheld, from --meter)'
        """
        known = [one_line(self.name, 60), f"from {self.told_by}" if self.told_by else ""]
        which = "unknown meter, the careful default" if self.is_unknown else ", ".join(filter(None, known))
        limits = f"sounds below {self.sounds_below:g} ohm, silent above {self.silent_above:g} ohm"
        return f"{limits} ({which})" if which else limits


UNKNOWN_METER = Meter()
_CAREFUL = (UNKNOWN_METER.sounds_below, UNKNOWN_METER.silent_above)
