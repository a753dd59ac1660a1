"""A job as reference: read for comparison, and refused where it cannot serve as one.

A job proves nothing about itself: its own file, a copy of it and a file with the same readings are refused, and so is
one of another connector.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from math import inf
from pathlib import Path
from typing import NamedTuple

from connector_check.board.board import Board
from connector_check.board.ohms import BRIDGE_OHMS
from connector_check.errors import InputError
from connector_check.files.text import shown
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.told_roles import Place, read_told
from connector_check.testlog.good_boards import files_of
from connector_check.testlog.job import DATE_UNKNOWN, GoodBoard
from connector_check.testlog.jobfile import JobText, meter_of, parse, read_text
from connector_check.testlog.readings import OHMS, READINGS, UNSURE, VOLTS, Entry

TELLING, NEARLY_ALL = 3, 0.9
"""So many different values in ohms or volts, and this share of all that both jobs measured, equal to the last digit on
the same pairs, are a copy. Of 12 junctions that each read alike by chance one time in five, 11 do so 2 times in 10
million."""

ANOTHER_BOARD = "if it was read on another board, give each job a line '# board: NAME' with that board's name"

Asked = tuple[str, str, str]
"""Map, layout and variant as the user asked for them, each may be empty."""


class References(NamedTuple):
    """Good boards, each independent of the others; told: what was left out, in words."""

    good_boards: tuple[GoodBoard, ...]
    told: tuple[str, ...]


def load_reference(name: str, board: Board, asked: Asked = ("", "", "")) -> GoodBoard:
    """Read the job of a good board. Raises InputError where it is empty or of another map, layout or variant.

    board: of the job that is compared; asked: what a job without such header lines is of.
    """
    text = read_text(name)
    _check_connector(text, board, asked)
    _check_roles(text, board)
    entries = parse(text, board)
    if not any(entry.kind in READINGS and entry.kind != UNSURE for entry in entries):
        raise InputError.one(text.file, 0, "the good board's job holds no reading", "give a job that was probed")
    header = text.header
    called = shown(header.get("board", ""))
    return GoodBoard(board, entries, meter_of(text), name=text.file, date=date_of(header, name), called=called)


def date_of(header: Mapping[str, str], name: str) -> str:
    """When a job was read: as its header lines say, else when its file was last written."""
    from datetime import UTC, datetime

    if "date" in header:
        return shown(header["date"])
    try:
        return datetime.fromtimestamp(Path(name).stat().st_mtime, UTC).date().isoformat() + " by its file"
    except OSError:
        return DATE_UNKNOWN


def _check_connector(text: JobText, board: Board, asked: Asked) -> None:
    pin_map, layout = board.pin_map, board.layout.id
    theirs = text.header.get("map", asked[0])
    if not theirs:
        raise InputError.one(
            text.file, 1, "the good board's job names no pin map", f"add a first line '# map: {pin_map.id}'"
        )
    if theirs not in (pin_map.id, asked[0]) and _id_of(theirs, text) != pin_map.id:
        raise _other(text, "map", theirs, pin_map.id)
    if text.header.get("variant", asked[2]) != pin_map.variant:
        raise _other(text, "variant", text.header.get("variant", "") or "none", pin_map.variant or "none")
    named = text.header.get("layout", asked[1])
    if (named or pin_map.layouts[0].id) != layout:
        raise _other(text, "layout", named or "none, which means the map's first", layout)


def _check_roles(text: JobText, board: Board) -> None:
    """A header whose contacts are told otherwise is another connector."""
    for told in read_told((Place(text.file, line), roles) for line, roles in text.roles):
        net = board.pin_map.net_of.get(told.contact)
        if net is not None and net.role != told.role:
            what = f"in the good board's job contact {told.contact} is {told.role}, in the job {net.role}"
            raise InputError.one(
                *told.place, what, "compare with a board that is wired alike; tell its roles in both jobs"
            )


def _id_of(theirs: str, text: JobText) -> str:
    """The id of the map that a job names; one named by its file is looked up beside the job."""
    if not theirs.endswith((".yaml", ".yml")) or "/" in theirs or "\\" in theirs:
        return theirs
    return find_pin_map(theirs, Path(text.file).resolve().parent).id


def _other(text: JobText, what: str, theirs: str, ours: str) -> InputError:
    return InputError.one(
        text.file,
        text.header_lines.get(what, 0),
        f"the good board's job is of {what} '{shown(theirs)}'",
        f"compare with a job of {what} {ours}",
    )


Touched = tuple[str, frozenset[int]]
"""What was read where: the kind of reading and its points."""


def _values(entries: Iterable[Entry]) -> set[tuple[Touched, float | None]]:
    return {((e.kind, frozenset(e.points)), e.ohms) for e in entries if e.kind in READINGS and e.kind != UNSURE}


def same_readings(one: Iterable[Entry], other: Iterable[Entry]) -> bool:
    """Whether of two jobs one is taken for a copy of the other: they hold the same readings, in whatever order, or
    nearly all that both measured is equal to the last digit.

    A job without readings is no copy.
    """
    mine, theirs = _values(one), _values(other)
    if mine and mine == theirs:
        return True
    measured, again = _measured(mine), _measured(theirs)
    both = measured.keys() & again.keys()
    equal = [measured[place] for place in both if measured[place] == again[place]]
    return len(set(equal)) >= TELLING and len(equal) >= NEARLY_ALL * len(both)


def _measured(values: Iterable[tuple[Touched, float | None]]) -> dict[Touched, float]:
    """The values that two boards seldom share to the last digit: volts, and ohms of parts."""
    return {
        place: value
        for place, value in values
        if value is not None and value < inf and (place[0] == VOLTS or (place[0] == OHMS and value >= BRIDGE_OHMS))
    }


def same_file(a: str, b: str) -> bool:
    """Whether two names mean one file; standard input is none."""
    if "-" in (a, b):
        return False
    try:
        return Path(a).samefile(b)
    except OSError:
        return False


def is_copy(job: GoodBoard, other: GoodBoard) -> bool:
    """Whether a reference is the job itself under another name. Jobs that call their boards by different names are not.

    A file with the same readings may well come of another board that was touched in the same order: its name tells.
    """
    if job.called != other.called:
        return False
    return same_file(job.name, other.name) or same_readings(job.entries, other.entries)


def load_references(like: Iterable[str], job: GoodBoard, asked: Asked) -> References:
    """The good boards of these names: job files, or sets kept by `testlog.good_boards`.

    job: the job that is compared, whose copies are refused where they are named, and left out of a set. Raises
    InputError, also for a set of which nothing is left.
    """
    found: list[GoodBoard] = []
    told: list[str] = []
    for name in like:
        files = files_of(name)
        is_set = files != [name]
        left = len(found)
        for file in files:
            good = load_reference(file, job.board, asked)
            if is_set:
                good = replace(good, name=f"{name}/{Path(file).stem}")
            if same_file(job.name, file) or is_copy(job, good):
                if not is_set:
                    raise InputError.one(
                        good.name, 0, "holds the job's own readings: a copy proves nothing", ANOTHER_BOARD
                    )
                told.append(f"good board {good.name} holds the job's own readings and is left out: {ANOTHER_BOARD}")
            elif any(is_one_board(good, other) for other in found):
                told.append(f"good board {good.name} is one that was named already and counts once")
            else:
                found.append(good)
        if is_set and len(found) == left and not any(good.name.startswith(f"{name}/") for good in found):
            raise InputError.one(
                name, 0, "only the job's own readings are kept there", "add another board, or leave it out"
            )
    return References(tuple(found), tuple(told))


def is_one_board(good: GoodBoard, other: GoodBoard) -> bool:
    """Whether two references are no two boards: one file, the same readings, or one name for both boards."""
    return is_copy(good, other) or bool(good.called and good.called == other.called)
