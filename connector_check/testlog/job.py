"""A job as read: the board it speaks of, the meter, and its entries in time order. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field

from connector_check.board.board import Board
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.readings import Entry


@dataclass(frozen=True)
class Log:
    """Readings and events on one board with one meter, in time order."""

    board: Board
    entries: list[Entry]
    meter: Meter = UNKNOWN_METER


@dataclass(frozen=True)
class Job(Log):
    """A log with the file it was read from.

    header: its header lines by name; good: what was read on a board known to be sound, or None.
    """

    file: str = ""
    header: dict[str, str] = field(default_factory=dict)
    good: Log | None = None
