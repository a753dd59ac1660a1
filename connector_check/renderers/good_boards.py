"""Good boards that are kept, as text: the sets, and what the boards of one read."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import inf

from connector_check.analysis.good_ohms import four_digits
from connector_check.reports.good_boards import SetSummary, Spread
from connector_check.testlog.good_boards import Kept

NONE_KEPT = "no good boards are kept yet: 'connector-check good-board add NAME JOB.csv'"
DISAGREE = "[?] they disagree, not used"


def list_lines(sets: Iterable[Kept]) -> Iterator[str]:
    """One line a set, and one a job."""
    empty = True
    for one in sets:
        empty = False
        yield f"{one.name}: {one.kind}, {_count(len(one.jobs), 'board')}"
        for job in one.jobs:
            yield f"    {job.name}, {job.date}" + (f" ({job.called})" if job.called else "")
    if empty:
        yield NONE_KEPT


def summary_lines(found: SetSummary) -> Iterator[str]:
    """What the boards of a set read: each board, then volts and ohms with median and spread, then what they say of the
    design.
    """
    board = found.of.board
    yield f"{found.of.name}: {board.pin_map.title} ({board.pin_map.id}, layout {board.layout.id})"
    for good, count in zip(found.of.good_boards, found.readings, strict=True):
        called = f" ({good.called})" if good.called else ""
        yield f"    {good.name}{called}, {good.date}: {_count(count, 'reading')}"
    for heading, spreads, unit in (("volts in diode mode", found.volts, "V"), ("ohms", found.ohms, "ohm")):
        if spreads:
            yield f"{heading}:"
            yield from (f"    {_spread(one, unit)}" for one in spreads)
    for a, b in found.tones:
        yield f"tone {a} - {b}: {DISAGREE}"
    yield from (f"taken: {line}" for line in found.told)


def _spread(one: Spread, unit: str) -> str:
    low, high = _value(min(one.values), unit), _value(max(one.values), unit)
    spread = low if low == high else f"{low} to {high}"
    usual = DISAGREE if one.usual is None else f"median {_value(one.usual, unit)}"
    return f"{' - '.join(one.points)}: {usual} ({_count(len(one.values), 'board')}, {spread})"


def _value(value: float, unit: str) -> str:
    return "OL" if value == inf else f"{four_digits(value)} {unit}"


def _count(number: int, what: str) -> str:
    return f"{number} {what}" + ("" if number == 1 else "s")
