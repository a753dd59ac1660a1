"""Comparison with jobs of boards known to be sound, or of this one before the old connector came off. Pure.

What reads otherwise here is found: joined there and silent here is an open, any other difference a reason to look,
never a harm by itself. What is silent or over the range on both is no finding. The maker of boards who prints the
practice says of volts: higher is open, lower is short (GIGABYTE Service Manual v3.0, s.11.2.3).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from functools import lru_cache, partial
from math import inf
from typing import NamedTuple

from connector_check.analysis.diode import LISTED, diode_readings
from connector_check.analysis.good_design import standing_on
from connector_check.analysis.good_ohms import (
    LEADS_UNKNOWN,
    expected_ohms,
    expected_volts,
    four_digits,
    median_of,
    ohms_agree,
    volts_agree,
)
from connector_check.analysis.knowledge import UNKNOWN
from connector_check.analysis.meaning import DOUBTFUL, JOINS, PARTS
from connector_check.analysis.obligations import Obligations, Pair, missing
from connector_check.analysis.replay import Reading, Standing
from connector_check.analysis.result import (
    CLEAR,
    OUTLIER,
    UNPROVEN,
    Difference,
    DiodeFinding,
    Open,
    Parts,
)
from connector_check.board.board import Board
from connector_check.board.harm import NOTE
from connector_check.board.ohms import LEAK_OHMS
from connector_check.testlog.job import GoodBoard
from connector_check.testlog.readings import BEEP, LEADS_GOOD, OHMS, SEEN_CLEAR, VOLTS

TONE, IN_OHMS, IN_VOLTS = "tone", "ohms", "volts"
TOLD = 8
"""So many disagreements of the good boards are named."""


class Shown(NamedTuple):
    """What one job shows directly, last readings first: ohms by pair, without the leads' own; volts in diode mode by
    joint; how each of the other pairs reads, JOINS, PARTS or DOUBTFUL. slack: ohms of leads that were not measured.
    """

    standing: Standing
    ohms: dict[frozenset[int], float]
    volts: dict[int, float]
    tones: dict[frozenset[int], str]
    slack: float


class Comparison(NamedTuple):
    """What good boards say of a job: opens and differences found, and the references in words, for the assumptions."""

    opens: tuple[Open, ...]
    differences: tuple[Difference, ...]
    told: tuple[str, ...]


NOTHING_COMPARED = Comparison((), (), ())


def shown_by(standing: Standing) -> Shown:
    """What a job shows directly."""
    ohms: dict[frozenset[int], float] = {}
    tones: dict[frozenset[int], str] = {}
    for reading in standing.readings:
        pair = frozenset(reading.entry.points)
        if reading.entry.kind == OHMS and reading.ohms is not None:
            ohms[pair] = reading.ohms
        if reading.meaning in (JOINS, PARTS, DOUBTFUL) and reading.entry.kind not in (SEEN_CLEAR, VOLTS):
            tones[pair] = reading.meaning
    volts = {reading.point: reading.volts for reading in diode_readings(standing.board, standing.entries)}
    measured = standing.leads_ohms > 0 or any(e.kind == LEADS_GOOD and e.ohms is not None for e in standing.job)
    return Shown(standing, ohms, volts, tones, 0.0 if measured else LEADS_UNKNOWN)


@lru_cache(maxsize=64)
def _reference(board: Board, good: GoodBoard) -> Shown:
    return shown_by(standing_on(board, good))


def found_against(standing: Standing, good_boards: Sequence[GoodBoard]) -> tuple[list[Open], list[Difference]]:
    """Opens and differences alone, for a session as it goes."""
    references = [_reference(standing.board, good) for good in good_boards]
    opens = opens_against(standing, [one.standing for one in references])
    return opens, list(differences_of(shown_by(standing), references, []))


def compare(standing: Standing, needed: Obligations, good_boards: Sequence[GoodBoard]) -> Comparison:
    """Compare a job with good boards. Their points are the job's, which `testlog.references` sees to."""
    if not good_boards:
        return NOTHING_COMPARED
    board = standing.board
    references = [_reference(board, good) for good in good_boards]
    here = shown_by(standing)
    opens = opens_against(standing, [one.standing for one in references])
    disputes: list[str] = []
    differences = list(differences_of(here, references, disputes))
    told = [_told(here, one, good, needed) for good, one in zip(good_boards, references, strict=True)]
    more = [f"and {len(disputes) - TOLD} more"] if len(disputes) > TOLD else []
    if disputes:
        told.append("the good boards disagree, so it is not used: " + "; ".join([*disputes[:TOLD], *more]))
    return Comparison(tuple(opens), tuple(differences), tuple(told))


# Opens


def opens_against(standing: Standing, good: Sequence[Standing]) -> list[Open]:
    """Pairs that good boards join, and none of them parts, and that are silent here; each pair is told once."""
    board = standing.board
    sounding = {frozenset(r.entry.points) for one in good for r in one.readings if r.entry.kind == BEEP}
    found: dict[frozenset[int], Open] = {}
    for reading in standing.readings:
        if reading.meaning != PARTS or reading.entry.kind == SEEN_CLEAR:
            continue
        # the joint can be reflowed, what is behind it cannot: of a joint and a board point the joint is named
        a, b = sorted(reading.entry.points, key=lambda point: point >= len(board.joints))
        if standing.knowledge.joined(a, b) or any(one.knowledge.apart(a, b) for one in good):
            continue
        over_part = _is_high(reading) and frozenset((a, b)) in sounding
        if over_part or any(one.knowledge.joined(a, b) for one in good):
            names = board.pair((a, b))
            why = f"{names[0]} is silent to {names[1]}, which it reaches on the good board: open joint, part or track"
            found[frozenset((a, b))] = Open(board.net_of[a].name, names[0], why, (reading.entry.line,))
    return list(found.values())


def _is_high(reading: Reading) -> bool:
    """Over the range, or ohms on which no meter sounds: what was a part on a board that sounds here is not there."""
    return reading.ohms is not None and reading.ohms >= LEAK_OHMS


# Differences


def differences_of(here: Shown, good: Sequence[Shown], disputes: list[str]) -> Iterator[Difference]:
    """Where this board reads otherwise than the good ones, in tones, ohms and volts.

    disputes: takes in words what the good boards disagree on.
    """
    yield from _tone_differences(here, good)
    yield from _ohms_differences(here, good, disputes)
    yield from _volts_differences(here, good, disputes)


def _tone_differences(here: Shown, good: Sequence[Shown]) -> Iterator[Difference]:
    """Joins that the map calls harmless while unused, and that no good board has; others are shorts already."""
    board = here.standing.board
    for reading in here.standing.readings:
        a, b = _ends(board, reading.entry.points)
        if reading.meaning != JOINS or board.grade(board.net_of[a], board.net_of[b]).harm != NOTE:
            continue
        if all(one.standing.knowledge.apart(a, b) for one in good):
            names = board.pair((a, b))
            why = f"{names[0]} is joined to {names[1]}, which is silent on the good board: look for solder"
            nets = tuple(sorted((board.net_of[a].name, board.net_of[b].name)))
            yield Difference(TONE, names, nets, None, None, None, True, why, (reading.entry.line,))


def _ohms_differences(here: Shown, good: Sequence[Shown], disputes: list[str]) -> Iterator[Difference]:
    board = here.standing.board
    lines = {frozenset(r.entry.points): r.entry.line for r in here.standing.readings if r.entry.kind == OHMS}
    for pair, ohms in here.ohms.items():
        values = [one.ohms[pair] for one in good if pair in one.ohms]
        slack = here.slack + max((one.slack for one in good if pair in one.ohms), default=0.0)
        names = board.pair(_ends(board, pair))
        if not values:
            continue
        usual = median_of(values, partial(ohms_agree, slack=slack))
        if usual is None:
            disputes.append(f"{names[0]} - {names[1]} ({_list(values, 'ohm')})")
        elif not ohms_agree(ohms, usual, slack):
            expected = None if usual == inf else expected_ohms(usual, slack)
            cause = (
                "solder, a leak or another part beside it"
                if ohms < usual
                else "a joint, part or track with more ohms in it"
            )
            why = _why(
                names, _value(ohms, "ohm"), _usual(usual, "ohm", len(values)), expected, "ohm", ohms < usual, cause
            )
            yield _difference(board, IN_OHMS, pair, (ohms, usual), expected, why, lines[pair])


def _volts_differences(here: Shown, good: Sequence[Shown], disputes: list[str]) -> Iterator[Difference]:
    board = here.standing.board
    lines = {r.point: r.line for r in diode_readings(board, here.standing.entries)}
    for joint, volts in here.volts.items():
        values = [one.volts[joint] for one in good if joint in one.volts]
        if not values:
            continue
        usual = median_of(values, volts_agree)
        if usual is None:
            disputes.append(f"{board.points[joint]} ({_list(values, 'V')})")
        elif not volts_agree(volts, usual, len(values)):
            expected = None if usual == inf else expected_volts(usual, len(values))
            cause = (
                "a short or leak, or another part"
                if volts < usual
                else "no contact, or a joint or part with ohms in it"
            )
            names = (board.points[joint], "ground")
            why = _why(names, _value(volts, "V"), _usual(usual, "V", len(values)), expected, "V", volts < usual, cause)
            yield _difference(board, IN_VOLTS, frozenset((joint,)), (volts, usual), expected, why, lines[joint])


def _ends(board: Board, pair: Collection[int]) -> Pair:
    a, b = sorted(pair, key=lambda point: (point >= len(board.joints), point))
    return a, b


def _difference(
    board: Board,
    kind: str,
    points: Collection[int],
    values: tuple[float, float],
    expected: tuple[float, float] | None,
    why: str,
    line: int,
) -> Difference:
    here, usual = (None if value == inf else round(value, 4) for value in values)
    if expected is not None:
        expected = (round(expected[0], 4), round(expected[1], 4))
    nets = tuple(sorted({board.net_of[point].name for point in points}))
    ends = tuple(board.names(points))
    return Difference(kind, ends, nets, here, usual, expected, values[0] < values[1], why, (line,))


def _value(value: float, unit: str) -> str:
    return "over the range" if value == inf else f"{four_digits(value)} {unit}"


def _usual(value: float, unit: str, boards: int) -> str:
    return _value(value, unit) + (f" (median of {boards})" if boards > 1 else "")


def _list(values: Iterable[float], unit: str) -> str:
    return " and ".join(_value(value, unit) for value in values)


def _why(
    names: tuple[str, str],
    here: str,
    usual: str,
    expected: tuple[float, float] | None,
    unit: str,
    lower: bool,
    cause: str,
) -> str:
    between = ""
    if expected:
        between = f" ({four_digits(expected[0])} to {four_digits(expected[1])} {unit} expected)"
    side = "lower" if lower else "higher"
    return (
        f"{names[0]} to {names[1]} differs from the good board: {here} here, {usual} there{between}; "
        f"{side}: {cause}; measure again on both"
    )


def unproven_by(parts: Parts, differences: Iterable[Difference]) -> Parts:
    """The parts of the verdict with differences told: lower leaves shorts unproven, higher contact; neither is rework
    by one odd value.
    """
    lower = {difference.lower for difference in differences}
    shorts = UNPROVEN if True in lower and parts.shorts == CLEAR else parts.shorts
    contact = UNPROVEN if False in lower and parts.contact == CLEAR else parts.contact
    return Parts(shorts, contact)


# What both boards show


def excused(
    standing: Standing, findings: Iterable[DiodeFinding], good_boards: Sequence[GoodBoard]
) -> list[DiodeFinding]:
    """Diode-mode findings with those made LISTED that the good boards read alike: unlike their fellows in the same way.
    Near zero stays what it is; what is over the range on both, `diode` has listed already.
    """
    board = standing.board
    usual = usual_volts(board, good_boards)

    def is_alike(found: DiodeFinding) -> bool:
        there = usual.get(found.joint, inf)
        return found.kind == OUTLIER and found.volts is not None and volts_agree(found.volts, there, len(good_boards))

    return [
        found._replace(kind=LISTED, why=f"{found.why}; the good board reads the same") if is_alike(found) else found
        for found in findings
    ]


def usual_volts(board: Board, good_boards: Sequence[GoodBoard]) -> dict[str, float]:
    """What good boards show in diode mode, by joint: the median in volts, infinite for over the range, where they
    agree.
    """
    read: dict[int, list[float]] = {}
    for good in good_boards:
        for joint, volts in _reference(board, good).volts.items():
            read.setdefault(joint, []).append(volts)
    usual = {board.points[joint]: median_of(values, volts_agree) for joint, values in read.items()}
    return {name: volts for name, volts in usual.items() if volts is not None}


def _told(here: Shown, there: Shown, good: GoodBoard, needed: Obligations) -> str:
    """A reference with its date, what it covers of the scope, and how far the two agree."""
    covered, scope = coverage(there.standing, there.volts, needed)
    both, agree = agreement(here, there)
    called = f" ({good.called})" if good.called else ""
    return (
        f"good board {good.name}{called}, {good.date}: it read {covered} of {scope} pairs in scope; "
        f"of {both} pairs read on both, {agree} agree"
    )


def coverage(there: Standing, volts: Collection[int], needed: Obligations) -> tuple[int, int]:
    """How many of the pairs in scope a good board's job read, in whatever way, and how many there are."""
    board, known = there.board, there.closed.presumed
    ends = [*needed.joins, *needed.contacts]
    read = sum(known.status(*pair) != UNKNOWN or pair[0] in volts for pair in ends)
    for wall in needed.isolation:
        pair = missing(board, known, wall)
        read += pair is None or known.joined(*pair)
    return read, len(ends) + len(needed.isolation)


def agreement(here: Shown, there: Shown) -> tuple[int, int]:
    """Of the pairs and joints that both boards read, how many there are, and how many read alike."""
    alike: list[bool] = []
    for pair, meaning in here.tones.items() | dict.fromkeys(here.ohms.keys() - here.tones.keys(), "").items():
        if pair in here.ohms and pair in there.ohms:
            alike.append(ohms_agree(here.ohms[pair], there.ohms[pair], here.slack + there.slack))
            continue
        now, then = (one.standing.closed.presumed.status(*pair) for one in (here, there))
        if UNKNOWN not in (now, then):
            alike.append(now == then)
        elif {meaning, there.tones.get(pair)} <= {DOUBTFUL, PARTS}:
            alike.append(there.tones[pair] == meaning)
    alike += [volts_agree(volts, there.volts[joint]) for joint, volts in here.volts.items() if joint in there.volts]
    return len(alike), sum(alike)
