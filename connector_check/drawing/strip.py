"""The strip of a sweep as lines of text: the volts of each joint, and a bar for their place among its fellows. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf
from typing import NamedTuple

from connector_check.analysis.result import StripLine
from connector_check.files.text import columns, padded

BAR = 9
"""Characters of the bar between what is expected; one more on either side shows what lies outside."""


def volts_words(volts: float | None) -> str:
    """Volts as the meter shows them: None and infinite are OL."""
    return "OL" if volts is None or volts == inf else f"{volts:.3f} V"


def bar(place: float | None) -> str:
    """Where a value lies: `*` between the marks, or outside of them; no star where nothing is compared.

    >>> bar(0.5), bar(-0.2), bar(1.1), bar(None)
    (' |    *    | ', '*|         | ', ' |         |*', '             ')
    """
    if place is None:
        return " " * (BAR + 4)
    cells = [" "] * (BAR + 2)
    cells[0 if place < 0 else BAR + 1 if place > 1 else 1 + round(place * (BAR - 1))] = "*"
    return f"{cells[0]}|{''.join(cells[1:-1])}|{cells[-1]}"


class StripWords(NamedTuple):
    """A line of the strip in words; expected, reference: empty where there is none."""

    joint: str
    net: str
    volts: str
    bar: str
    expected: str
    reference: str
    word: str


def strip_words(line: StripLine) -> StripWords:
    """A line of the strip in words."""
    expected = f"{line.expected[0]:.3f} to {line.expected[1]:.3f} V" if line.expected else ""
    reference = "" if line.reference is None else volts_words(line.reference)
    return StripWords(line.joint, line.net, volts_words(line.volts), bar(line.place), expected, reference, line.word)


def strip_lines(lines: Iterable[StripLine]) -> list[str]:
    """One line a joint: name, net, volts, bar, the word, what known good boards show, what is expected."""
    rows = [strip_words(line) for line in lines]
    widths = [max((columns(row[i]) for row in rows), default=0) for i in range(3)]
    shown = []
    for row in rows:
        cells = [padded(row[i], widths[i]) for i in range(3)]
        good = f"good boards {row.reference}" if row.reference else ""
        said = "; ".join(filter(None, (row.word, good, row.expected)))
        shown.append("  ".join((*cells, row.bar, said)).rstrip())
    return shown
