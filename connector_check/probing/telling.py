"""What the live session asks between a finding and the iron: the measurement that tells what is wrong. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from connector_check.analysis.diagnosis import splitting
from connector_check.analysis.findings import find_leaks
from connector_check.analysis.knowledge import UNKNOWN
from connector_check.analysis.opens import find_opens
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import PointPair, Result
from connector_check.analysis.separating import OHMS, TOUCH, Measurement
from connector_check.analysis.shorts import short_groups
from connector_check.probing.progress import Progress


class Asked(NamedTuple):
    """A measurement by the names of its points; kind: TOUCH or OHMS; why: in words."""

    pair: PointPair
    kind: str
    why: str


def next_to_tell(progress: Progress) -> Asked | None:
    """The measurement that tells most about the findings as they stand; each is asked once a round.

    First a joint that solder leads over, and where two joined nets would read the ohms that were read; then what best
    splits the odds of the explanations.
    """
    found = progress.examined()
    result = found.result
    for asked in _led_to(result):
        if _may_ask(progress, asked.pair, asked.kind):
            return asked

    def wanted(measurement: Measurement) -> bool:
        return _may_ask(progress, (measurement.a, measurement.b), measurement.kind)

    faults = len(result.shorts) + len(result.opens)
    split = splitting(found.standing, found.needed, progress.shorts_only, faults, wanted)
    if split is None:
        return None
    return Asked((split.measurement.a, split.measurement.b), split.measurement.kind, split.why)


def found_so_far(standing: Standing) -> frozenset[frozenset[str]]:
    """What was found, as far as it decides whether to ask anew: the nets of each short, open joints, leaking pairs.

    Cheap: it is asked after each answer, where a whole examination would be felt.
    """
    names = standing.board.net_of
    shorts = (frozenset(names[point].name for point in group) for group in short_groups(standing))
    opens = (frozenset((opened.joint, "")) for opened in find_opens(standing))
    return frozenset((*shorts, *opens, *(frozenset(leak.pair) for leak in find_leaks(standing))))


def _led_to(result: Result) -> Iterator[Asked]:
    for short in result.shorts:
        for site in short.sites:
            for name in set(site.joints) & set(short.between):
                yield Asked(site.joints, TOUCH, f"{name} lies between: touch it before the iron comes")
    for leak in result.leaks:
        for pair in leak.likely.places if leak.likely else ():
            yield Asked(pair, OHMS, leak.why)


def _may_ask(progress: Progress, pair: PointPair, kind: str) -> bool:
    """Whether a pair was not asked so this round, nor put off, and is not known."""
    a, b = (progress.board.number[name] for name in pair)
    points = frozenset((a, b))
    if (points, kind) in progress.told_apart or points in progress.put_off:
        return False
    known = progress.known if kind == TOUCH else progress.standing.knowledge
    return known.status(a, b) == UNKNOWN
