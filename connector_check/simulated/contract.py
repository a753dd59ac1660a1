"""What a source of answers is held to: a user's own (an instrument, an ear, another simulation) as well as ours.

Each rule asks the source about pairs whose truth is known and tells what is broken, in words; none is an empty list.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

from connector_check.board.ohms import BRIDGE_OHMS
from connector_check.simulated.person import Source
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import (
    BEEP,
    CHIRP,
    LEADS_GOOD,
    OHMS,
    QUIET,
    SEEN_CLEAR,
    SOLDER_SEEN,
    UNSURE,
    parse_reading,
)

UNKNOWN_POINT = "no such point"


class Known(NamedTuple):
    """A pair of points by name and the true ohms between them (infinite when nothing conducts)."""

    a: str
    b: str
    ohms: float


def wrong_words(source: Source, pairs: Sequence[Known]) -> list[str]:
    """Answers are words that the job file has, of the kind that was asked for."""
    found = []
    for a, b, _ in pairs:
        heard, shown = source.touch(a, b), source.ohms(a, b)
        if heard not in (BEEP, CHIRP, QUIET, UNSURE):
            found.append(f"touch {a} - {b}: '{heard}' is none of beep, chirp, quiet, unsure")
        parsed = parse_reading(shown)
        if parsed is None or parsed[0] != OHMS:
            found.append(f"ohms {a} - {b}: '{shown}' is no ohms reading")
    return found


def unknown_points_taken(source: Source, pairs: Sequence[Known]) -> list[str]:
    """A point that the board does not have is refused with ValueError, at either lead."""
    known = pairs[0].a
    found = []
    for a, b in ((known, UNKNOWN_POINT), (UNKNOWN_POINT, known)):
        for word, ask in (("touch", source.touch), ("ohms", source.ohms)):
            try:
                answer = ask(a, b)
            except ValueError:
                continue
            found.append(f"{word} {a} - {b}: answered '{answer}' for a point that is not there")
    return found


def one_sided(source: Source, pairs: Sequence[Known]) -> list[str]:
    """Swapped leads sound alike, for pairs that are joined or open (a part near the threshold may waver)."""
    found = []
    for a, b, ohms in pairs:
        if ohms < BRIDGE_OHMS or ohms == inf:
            there, back = source.touch(a, b) == BEEP, source.touch(b, a) == BEEP
            if there != back:
                found.append(f"touch {a} - {b} and {b} - {a} differ")
    return found


def wrong_tones(source: Source, pairs: Sequence[Known], meter: Meter) -> list[str]:
    """Below `sounds_below` it beeps, solder included; above `silent_above` it does not; between, either is fair."""
    found = []
    for a, b, ohms in pairs:
        heard = source.touch(a, b)
        if ohms < meter.sounds_below and heard != BEEP:
            found.append(f"touch {a} - {b}: '{heard}' at {ohms:g} ohm, must sound below {meter.sounds_below:g}")
        if ohms > meter.silent_above and heard == BEEP:
            found.append(f"touch {a} - {b}: a tone at {ohms:g} ohm, must be silent above {meter.silent_above:g}")
    return found


def wrong_ohms(source: Source, pairs: Sequence[Known], leads: float = 0.5, share: float = 0.1) -> list[str]:
    """Ohms are those between the points, up to `leads` ohms more, off by at most that share; OL where nothing does."""
    found = []
    for a, b, ohms in pairs:
        shown = source.ohms(a, b)
        parsed = parse_reading(shown)
        value = parsed[1] if parsed else None
        if value is None:
            continue  # told by `wrong_words`
        if not ohms * (1 - share) - 0.1 <= value <= (ohms + leads) * (1 + share) + 0.1:
            found.append(f"ohms {a} - {b}: '{shown}' for {ohms:g} ohm")
    return found


def wrong_leads(source: Source, fault: str = "") -> list[str]:
    """A lead check tells the truth: `leads good` (ohms under 10), or `leads silent` or `leads sound` where that is so.

    fault: what is wrong with the leads now, `silent` or `sound`, or nothing.
    """
    said = source.leads()
    if fault:
        return [] if said == f"leads {fault}" else [f"lead check: '{said}' with leads that are {fault}"]
    parsed = parse_reading(said)
    if parsed is None or parsed[0] != LEADS_GOOD:
        return [f"lead check: '{said}' with sound leads"]
    return [f"lead check: '{said}': leads of {parsed[1]:g} ohm"] if (parsed[1] or 0.0) >= 10 else []


def wrong_looks(source: Source, clear: Sequence[tuple[str, str]], solder: Sequence[tuple[str, str]]) -> list[str]:
    """A look finds solder where it is and none where there is none."""
    wanted = [(pair, SEEN_CLEAR) for pair in clear] + [(pair, SOLDER_SEEN) for pair in solder]
    return [f"look {a} - {b}: not '{word}'" for (a, b), word in wanted if source.look(a, b) != word]


def broken(source: Source, pairs: Sequence[Known], meter: Meter) -> list[str]:
    """All that a source of answers breaks on a bench with sound leads; empty when it can be trusted.

    pairs: at least one pair that is joined, one that is open, and the ends of each part on the bench.
    """
    if not any(p.ohms < BRIDGE_OHMS for p in pairs) or not any(p.ohms == inf for p in pairs):
        raise ValueError("the contract needs a pair that is joined and a pair that is open")
    return [
        *wrong_leads(source),
        *wrong_words(source, pairs),
        *unknown_points_taken(source, pairs),
        *one_sided(source, pairs),
        *wrong_tones(source, pairs, meter),
        *wrong_ohms(source, pairs),
    ]
