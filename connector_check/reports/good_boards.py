"""Good boards that are kept: which job may join them, and what those of one kind read together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from typing import NamedTuple

from connector_check.analysis.good_board import Shown, shown_by
from connector_check.analysis.good_design import designed_as, standing_on
from connector_check.analysis.good_ohms import median_of, ohms_agree, volts_agree
from connector_check.analysis.result import JUNCTION_SHORT, REWORK, Result
from connector_check.board.board import Board
from connector_check.board.harm import HARMFUL
from connector_check.errors import InputError
from connector_check.job import check, load_job
from connector_check.testlog import good_boards
from connector_check.testlog.job import GoodBoard
from connector_check.testlog.jobfile import read_text
from connector_check.testlog.meter_file import meter_line
from connector_check.testlog.references import Asked, date_of, is_one_board, load_reference

BY_DESIGN = "mend it first; if the designer did it, say so in board notes, or give --by-design"
SAME = "each board counts once"
REASONS = 3


class Vetted(NamedTuple):
    """A job that may be kept: the header lines that it is to have, and what is to be told with it."""

    header: dict[str, str]
    told: tuple[str, ...]


def vetted(job_name: str, asked: Asked, name: str, notes: str = "", by_design: bool = False) -> Vetted:
    """A job that may be kept under that name; raises InputError with the reason where it may not.

    asked: map, layout and variant as the user named them; by_design: findings of the map are the designer's doing.
    """
    job = load_job(job_name, *asked, notes=notes)
    board = job.board
    good = load_reference(job_name, board, (board.pin_map.id, board.layout.id, board.pin_map.variant))
    result = check(job)
    _refuse_unsound(job_name, result, by_design)
    kind = _kind(board.pin_map.id, board.layout.id, board.pin_map.variant)
    for file in good_boards.jobs(name):
        header = read_text(str(file)).header
        theirs = _kind(header.get("map", ""), header.get("layout", ""), header.get("variant", ""))
        if theirs != kind:
            what = f"is of {kind}, while {name} holds boards of {theirs}"
            raise InputError.one(job_name, 0, what, "keep it under another name")
        if is_one_board(good, load_reference(str(file), board)):
            what = f"is the same board or holds the same readings as {file.stem}, which is kept already"
            raise InputError.one(job_name, 0, what, SAME)
    header = {"map": board.pin_map.id, "layout": board.layout.id, "date": date_of(job.header, job_name)}
    if board.pin_map.variant:
        header["variant"] = board.pin_map.variant
    if not job.meter.is_unknown:
        header["meter"] = meter_line(job.meter)
    silent = result.record.unproven_silence
    lost = f"{silent} silent readings do not lie between two proofs of the leads: they will not count"
    return Vetted(header, (lost,) if silent else ())


def _kind(pin_map: str, layout: str, variant: str) -> str:
    return f"{pin_map}, layout {layout}" + (f", variant {variant}" if variant else "")


def _refuse_unsound(job_name: str, result: Result, by_design: bool) -> None:
    if result.conflicts:
        a, b = result.conflicts[0].quiet
        what = f"contradicts itself: {a} - {b} was quiet, yet beeps join them"
        raise InputError.one(job_name, 0, what, "touch the pair again and take back what was wrong")
    reasons = [f"{' + '.join(short.nets)} {short.harm}" for short in result.shorts if short.harm in HARMFUL]
    reasons += [f"{found.joint} open" for found in result.opens]
    reasons += [f"{' - '.join(leak.pair)} {leak.ohms:g} ohm" for leak in result.leaks]
    reasons += [f"{odd.joint} near zero in diode mode" for odd in result.diode if odd.kind == JUNCTION_SHORT]
    if by_design or not (result.verdict == REWORK or reasons):
        return
    more = f" and {len(reasons) - REASONS} more" if len(reasons) > REASONS else ""
    raise InputError.one(job_name, 0, f"is no good board: {'; '.join(reasons[:REASONS])}{more}", BY_DESIGN)


@dataclass(frozen=True)
class GoodSet:
    """The good boards of one kind on their board."""

    name: str
    board: Board
    good_boards: tuple[GoodBoard, ...]


def load_set(name: str, asked: Asked = ("", "", ""), notes: str = "") -> GoodSet:
    """Load the good boards that are kept under a name. Raises InputError."""
    files = [str(path) for path in good_boards.jobs(name)]
    if not files:
        raise good_boards.no_set(name)
    board = load_job(files[0], *asked, notes=notes).board
    found = (replace(load_reference(file, board, asked), name=Path(file).stem) for file in files)
    return GoodSet(name, board, tuple(found))


class Spread(NamedTuple):
    """What good boards read at one place.

    values: in ohms or volts, infinite for over the range; usual: the median, None where they disagree.
    """

    points: tuple[str, ...]
    values: tuple[float, ...]
    usual: float | None


@dataclass(frozen=True)
class SetSummary:
    """What the good boards of one kind read. readings: how many stand on each board; tones: pairs on which they
    disagree; told: what is taken from them as the designer's doing.
    """

    of: GoodSet
    readings: tuple[int, ...]
    volts: tuple[Spread, ...]
    ohms: tuple[Spread, ...]
    tones: tuple[tuple[str, str], ...]
    told: tuple[str, ...]


def summary_of(found: GoodSet) -> SetSummary:
    """Medians, spread and disagreement of the boards of a set."""
    board = found.board
    design = designed_as(board, found.good_boards)
    shown = [shown_by(standing_on(design.board, good)) for good in found.good_boards]
    points = sorted({joint for one in shown for joint in one.volts})
    pairs = sorted({tuple(sorted(pair)) for one in shown for pair in one.ohms})
    volts = [_spread(board, (p,), [one.volts[p] for one in shown if p in one.volts], volts_agree) for p in points]
    ohms = [
        _spread(board, pair, [one.ohms[frozenset(pair)] for one in shown if frozenset(pair) in one.ohms], ohms_agree)
        for pair in pairs
    ]
    counts = tuple(len(one.standing.entries) for one in shown)
    return SetSummary(found, counts, tuple(volts), tuple(ohms), tuple(_torn(board, shown)), design.told)


def _spread(
    board: Board, points: Sequence[int], values: Sequence[float], agree: Callable[[float, float], bool]
) -> Spread:
    return Spread(tuple(board.points[p] for p in points), tuple(values), median_of(values, agree))


def _torn(board: Board, shown: Sequence[Shown]) -> list[tuple[str, str]]:
    """Pairs that one board joins and another parts."""
    pairs = dict.fromkeys(tuple(sorted(pair)) for pair in chain.from_iterable(one.tones for one in shown))
    return [
        board.pair((a, b))
        for a, b in sorted(pairs)
        if any(one.standing.knowledge.joined(a, b) for one in shown)
        and any(one.standing.knowledge.apart(a, b) for one in shown)
    ]
