"""How far ohms and volts of two sound boards of one kind may differ. Pure."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import inf, pi, sqrt
from statistics import median

from connector_check.board.design import TOLERANCE, DesignOhms
from connector_check.board.ohms import OHMS_ADDED

LEADS_UNKNOWN = 0.5
"""Ohms that leads which nobody measured may add on one board (common practice, no source)."""

STEADY_OHMS = 100e3
"""From here up a reading hangs on capacitors still charging and on the chips' inputs: not compared (common practice, no
source)."""

VOLTS_SPREAD = 0.05
"""Standard deviation, as a share, of a junction's volts over sound boards of one kind: 5 %, assumed."""

VOLTS_RESOLUTION = 0.001
"""The last digit of a meter in diode mode."""

DEVIATIONS = 3.0
"""Two boards may differ by so many standard deviations of their difference: 0.27 % of sound pairs lie beyond, where
the spread is normal."""


def like_ohms(ohms: float) -> DesignOhms:
    """What a part that reads these ohms on one board may be on any: 10 % parts, half an ohm for the probes."""
    return DesignOhms(
        max((ohms - OHMS_ADDED) / (1 + TOLERANCE), 0.0), (ohms + OHMS_ADDED) / (1 - TOLERANCE), (), sure=True
    )


def expected_ohms(ohms: float, slack: float = 0.0) -> tuple[float, float]:
    """Between which ohms another board should read the same part. slack: ohms of leads that were not measured."""
    part = like_ohms(ohms)
    return max(part.least - slack, 0.0), part.most + slack


def ohms_agree(ohms: float, good: float, slack: float = 0.0) -> bool:
    """Whether two boards read the same, as far as parts and leads allow; infinite is over the range.

    >>> ohms_agree(75, 82), ohms_agree(75, 37.5), ohms_agree(0.3, 0.9), ohms_agree(float("inf"), 2e6)
    (True, False, True, True)
    """
    if min(ohms, good) >= STEADY_OHMS:
        return True
    low, high = expected_ohms(good, slack)
    return low <= ohms <= high


def expected_volts(volts: float, boards: int = 1) -> tuple[float, float]:
    """Between which volts a board should read, where the median of so many good boards is `volts`.

    A median of n values varies by pi / 2n of their variance (n large; Kenney and Keeping, Mathematics of Statistics,
    from memory); up to two values it is their mean.
    """
    share = 1 + (1 / boards if boards < 3 else pi / 2 / boards)
    half = DEVIATIONS * VOLTS_SPREAD * sqrt(share) * volts + 2 * VOLTS_RESOLUTION
    return max(volts - half, 0.0), volts + half


def volts_agree(volts: float, good: float, boards: int = 1) -> bool:
    """Whether a junction reads as on so many good boards; infinite is over the range.

    >>> volts_agree(0.52, 0.48), volts_agree(0.9, 0.5), volts_agree(float("inf"), 0.5)
    (True, False, False)
    """
    if inf in (volts, good):
        return volts == good
    low, high = expected_volts(good, boards)
    return low <= volts <= high


def four_digits(value: float) -> str:
    """A finite value in four digits, for people.

    >>> four_digits(0.50512), four_digits(4909.6), four_digits(10000.0)
    ('0.5051', '4910', '10000')
    """
    return f"{float(f'{value:.4g}'):g}"


def median_of(values: Sequence[float], agree: Callable[[float, float], bool] = ohms_agree) -> float | None:
    """The median of what good boards read, or None where one of them does not agree with it.

    >>> median_of([71.0, 75.0, 73.0]), median_of([37.0, 75.0]), median_of([float("inf"), float("inf")])
    (73.0, None, inf)
    """
    middle = median(values)
    return middle if all(agree(value, middle) for value in values) else None
