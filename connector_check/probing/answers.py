"""What an answer means in rows of the job: what was typed or pressed at a step, or a reason to refuse it. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from connector_check.analysis.meaning import DOUBTFUL, JOINS, PARTS
from connector_check.analysis.obligations import Pair
from connector_check.analysis.replay import Reading
from connector_check.board.ohms import NEAR_ZERO_VOLTS
from connector_check.errors import InputError
from connector_check.probing.progress import Progress
from connector_check.probing.steps import ASK_AGAIN, CAUTION, CAUTIONS_SEEN, JUNCTION, LEADS, Step
from connector_check.probing.sweep import COUNTS_UP, joints_left, typed_values
from connector_check.testlog.readings import (
    BEEP,
    CHIRP,
    LEADS_BAD,
    LEADS_FAILED,
    LEADS_GOOD,
    OHMS,
    QUIET,
    REMARK,
    REWORKED,
    SEEN_CLEAR,
    TAKEN_BACK,
    VOLTS,
    Entry,
    ohms_text,
    parse_reading,
)
from connector_check.testlog.rows import Row, entry_of


class AnswerError(Exception):
    """An answer that cannot be taken; its text is the message for the user. Nothing was written."""


def entries_of(progress: Progress, rows: Sequence[Row]) -> list[Entry]:
    """The entries that the rows will be, as the job reader reads them. Raises AnswerError with the reader's message."""
    try:
        return [entry_of(progress.board, row, len(progress.entries) + 1 + i) for i, row in enumerate(rows)]
    except InputError as error:
        raise AnswerError("; ".join(f"{p.what}: {p.remedy}" for p in error.problems)) from None


def answer_rows(progress: Progress, step: Step, reading: str, note: str) -> list[Row]:
    """Rows for a reading answered at a step; raises AnswerError when it does not fit."""
    if step.kind == CAUTION:
        return [Row("", "", REMARK, CAUTIONS_SEEN)]
    if step.kind == LEADS:
        return [_lead_check(reading, note)]
    if step.points is None:
        raise AnswerError("nothing to touch now")
    if step.kind == JUNCTION:
        return _junction_rows(progress, step.points, reading, note)
    a, b = (progress.board.points[point] for point in step.points)
    rows = []
    if step.kind == ASK_AGAIN:
        here = [r for r in progress.standing.readings if set(r.entry.points) == set(step.points)]
        now, kinds = _found_wrong(reading, here)
        rows = [Row(a, b, f"{TAKEN_BACK} {kind}", f"asked again: {now}") for kind in kinds]
    return [*rows, Row(a, b, reading, note)]


def _found_wrong(reading: str, here: Sequence[Reading]) -> tuple[str, list[str]]:
    """What an answer to a pair asked again shows, and the kinds of its readings that this makes wrong. A tone does not
    take back what eyes saw: the two may be joined by another way, and to look again would change nothing.
    """
    match reading:
        case "beep":
            return "it beeps", [r.entry.kind for r in here if r.meaning == PARTS and r.entry.kind != SEEN_CLEAR]
        case "quiet":
            return "it is silent", [r.entry.kind for r in here if r.meaning in (JOINS, DOUBTFUL)]
        case value if (parsed := parse_reading(value)) and parsed[0] == VOLTS and parsed[1] is not None:
            meanings = (PARTS,) if parsed[1] < NEAR_ZERO_VOLTS else (JOINS, DOUBTFUL)
            return f"it reads {value}", [r.entry.kind for r in here if r.meaning in meanings]
        case "solder seen":
            return "solder is there", [r.entry.kind for r in here if r.entry.kind == SEEN_CLEAR]
    return "", []


def _junction_rows(progress: Progress, points: Pair, reading: str, note: str) -> list[Row]:
    """Rows for what was typed at a contact of the sweep: the values of this one and of those that follow it."""
    board, standing = progress.board, progress.standing
    red, joint = points
    names = board.points
    if reading == CHIRP:
        return [Row(names[joint], names[red], REMARK, note or COUNTS_UP)]
    values = _typed(reading)
    joints = [joint, *(other for other in joints_left(board, standing, progress.diode_sweep) if other != joint)]
    if len(values) > len(joints):
        raise AnswerError(f"{len(values)} values, and {len(joints)} contacts are left")
    rows = []
    for one, value in zip(joints, values, strict=False):
        here = [r for r in standing.readings if set(r.entry.points) == {one, red} and r.entry.kind == VOLTS]
        now, kinds = _found_wrong(value, here)
        rows += [Row(names[one], names[red], f"{TAKEN_BACK} {kind}", f"asked again: {now}") for kind in kinds]
        rows.append(Row(names[one], names[red], value, note))
    return rows


def one_value(text: str) -> str:
    """The reading that typed volts mean at a single touch. Raises AnswerError."""
    values = _typed(text)
    if len(values) > 1:
        raise AnswerError(f"{len(values)} values, and one touch is asked: several fill the row in diode mode only")
    return values[0]


def _typed(text: str) -> list[str]:
    try:
        return typed_values(text)
    except ValueError as error:
        raise AnswerError(str(error)) from None


def _lead_check(reading: str, note: str) -> Row:
    if reading in (BEEP, QUIET):
        return Row("", "", LEADS_GOOD if reading == BEEP else LEADS_BAD, note)
    if reading in LEADS_FAILED:
        return Row("", "", reading, note)
    parsed = parse_reading(reading)
    if parsed and parsed[0] == OHMS and parsed[1] is not None and parsed[1] < 10:
        return Row("", "", f"{LEADS_GOOD} {ohms_text(parsed[1])}", note)
    raise AnswerError(
        "a lead check is beep (sounded together, silent apart), quiet (failed), leads silent (no tone together), "
        "leads sound (a tone apart), or the leads' ohms"
    )


def sweep_rows(progress: Progress, held: str, beeped: Sequence[str]) -> list[Row]:
    """Rows of a whole sweep noted afterwards: with one lead on `held`, the named pins beeped and the other asked pins,
    the run of planned touches at that point, were quiet. Raises AnswerError.
    """
    points = progress.board.points
    point = progress.board.resolve(_ground(progress) if held.casefold() == "ground" else held)
    if point is None:
        raise AnswerError(f"unknown point '{held}'")
    asked = [
        touch.b if touch.a == point else touch.a for touch in progress.open_touches() if point in (touch.a, touch.b)
    ]
    if not asked:
        raise AnswerError(f"nothing is asked at {points[point]} now")
    named = set()
    for name in beeped:
        pin = progress.board.resolve(name)
        if pin is None or pin not in asked:
            raise AnswerError(f"'{name}' is not asked in this sweep: {', '.join(points[other] for other in asked)}")
        named.add(pin)
    return [Row(points[point], points[pin], BEEP if pin in named else QUIET, "sweep") for pin in asked]


def _ground(progress: Progress) -> str:
    grounds = [net.name for net in progress.board.nets if net.role == "ground"]
    return "@" + grounds[0] if grounds else "ground"


def undo_rows(progress: Progress) -> list[Row]:
    """The row that takes back the last standing reading; raises AnswerError when there is none."""
    if not progress.standing.entries:
        raise AnswerError("nothing to take back")
    last = progress.standing.entries[-1]
    a, b = (progress.board.points[point] for point in last.points)
    return [Row(a, b, f"{TAKEN_BACK} {last.kind}", "undo")]


def rework_rows(progress: Progress, joints: Sequence[str]) -> list[Row]:
    """Rows that mark joints as reworked, each by its own name whatever contact it was called by. Raises AnswerError."""
    if not joints:
        raise AnswerError("name the reworked joints, or 'all' for those on the list")
    found = []
    for name in joints:
        point = progress.board.resolve(name)
        if point is None or point >= len(progress.board.joints):
            raise AnswerError(f"'{name}' is no joint")
        found.append(progress.board.points[point])
    return [Row(name, "", REWORKED) for name in dict.fromkeys(found)]


def remark_rows(progress: Progress, step: Step, text: str) -> list[Row]:
    """The row of a remark on the pair at hand."""
    a, b = (progress.board.points[point] for point in step.points) if step.points else ("", "")
    return [Row(a, b, REMARK, text)]
