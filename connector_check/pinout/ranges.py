"""Runs of contact names as ranges, spelled out and written: `A1..A3`, `B12..B10`, `1..7/2`. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence

from connector_check.files.yaml_out import quoted

MAX_CONTACTS = 10_000
RANGE = re.compile(r"([A-Za-z]*)(\d+)\.\.([A-Za-z]*)(\d+)(?:/(\d+))?\Z")
COUNTED = re.compile(r"([A-Za-z]*)(0|[1-9]\d*)\Z")


def expand(item: str) -> list[str]:
    """Spell out a range: `1..3` is 1, 2, 3; `B12..B10` counts down; `1..7/2` takes every second.

    >>> expand("A1..A3"), expand("B12..B10"), expand("1..7/2"), expand("SH1")
    (['A1', 'A2', 'A3'], ['B12', 'B11', 'B10'], ['1', '3', '5', '7'], ['SH1'])
    """
    match = RANGE.match(item)
    if not match or match[1] != match[3] or abs(int(match[4]) - int(match[2])) > MAX_CONTACTS:
        return [item]
    first, last, step = int(match[2]), int(match[4]), int(match[5] or 1) or 1
    numbers = range(first, last + 1, step) if last >= first else range(first, last - 1, -step)
    return [f"{match[1]}{n}" for n in numbers]


def names_list(names: Sequence[str]) -> str:
    """A list of names with runs written as ranges.

    >>> names_list(["1", "2", "3", "A1", "9", "7", "5"])
    '[1..3, A1, 9..5/2]'
    """
    parts: list[str] = []
    at = 0
    while at < len(names):
        end = _range_end(names, at)
        if end - at < 3:
            parts.append(quoted(names[at]))
            at += 1
            continue
        step = abs(_count(names[at + 1])[1] - _count(names[at])[1])
        parts.append(f"{names[at]}..{names[end - 1]}" + (f"/{step}" if step > 1 else ""))
        at = end
    return f"[{', '.join(parts)}]"


def _count(name: str) -> tuple[str, int]:
    match = COUNTED.match(name)
    return (match[1], int(match[2])) if match else ("", -1)


def _range_end(names: Sequence[str], at: int) -> int:
    """Where the run of counted names that starts there ends."""
    end, step = at + 1, 0
    while end < len(names):
        (letters, number), (other, following) = _count(names[end - 1]), _count(names[end])
        if (
            number < 0
            or following < 0
            or letters != other
            or following == number
            or step not in (0, following - number)
        ):
            break
        step = following - number
        end += 1
    return end
