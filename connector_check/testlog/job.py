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


DATE_UNKNOWN = "date unknown"


@dataclass(frozen=True, eq=False)
class GoodBoard(Log):
    """What was read on a board of the same kind that is known to be sound. Two are never equal.

    name: of its job, for people; date: when it was read, in the words of its file; called: what its job calls the
    board, or "".
    """

    name: str = "good board"
    date: str = DATE_UNKNOWN
    called: str = ""

    __hash__ = object.__hash__


@dataclass(frozen=True)
class Job(Log):
    """A log with the file it was read from.

    header: its header lines by name; good_boards: what was read on boards known to be sound; as_good: what of the board
    was taken from them as the designer's, in words.
    """

    file: str = ""
    header: dict[str, str] = field(default_factory=dict)
    good_boards: tuple[GoodBoard, ...] = ()
    as_good: tuple[str, ...] = ()
