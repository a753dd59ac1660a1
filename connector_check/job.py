"""The front door for programs: load a job with its board, meter and notes, and check it.

>>> job = load_job("examples/village-workshop-vga.csv")
>>> check(job).verdict
'clear'
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from connector_check.analysis.check import check
from connector_check.analysis.examine import Settings
from connector_check.board.making import make_board, noted_board
from connector_check.errors import InputError
from connector_check.files.text import shown
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import PinMap
from connector_check.pinout.told_roles import ROLE_OPTION, Place, ToldRole, read_told
from connector_check.testlog.job import GoodBoard, Job
from connector_check.testlog.jobfile import JobText, meter_of, parse, read_text

__all__ = ["Job", "Settings", "check", "load_job"]


def load_job(
    name: str,
    map_name: str = "",
    layout: str = "",
    variant: str = "",
    *,
    meter: str = "",
    notes: str = "",
    like: str | Sequence[str] = (),
    roles: Sequence[str] = (),
) -> Job:
    """Read a job file (`-` is standard input), find its pin map and layout, and parse its entries.

    name: a CSV file as README.md describes it. map_name (an id or a .yaml file), layout, variant: what the user asked
    for; each goes before the job's own header line. meter: `10:250`, in ohms (must sound below, must be silent above),
    or a meter file (.yaml); default: the job's own line, else the user's own meter (see
    `testlog.meter_file.own_meter`), else 10 and 250 ohm. notes: a board notes file (.yaml); like: boards of the same
    kind known to be good, one or several: job files, or names that `good-board` keeps some under. roles: roles of
    contacts that the map does not know, `1=power 5, 2=ground`; each goes before what the job's own lines say of that
    contact. Raises InputError with every problem found, each with file and line; OSError never.
    """
    text = read_text(name)
    pin_map = _pin_map(text, None if name == "-" else Path(name).resolve().parent, map_name)
    chosen = (layout or text.header.get("layout", ""), variant or text.header.get("variant", ""))

    def place(key: str) -> tuple[str, int]:
        return (text.file, text.header_lines[key]) if key in text.header_lines else (pin_map.id, 0)

    board = make_board(pin_map, *chosen, place, _told_roles(text, roles))
    if notes:
        board = noted_board(board, notes)
    job = Job(board, parse(text, board), meter_of(text, meter), text.file, text.header)
    return beside_good_boards(job, like, (map_name, layout, variant)) if like else job


def beside_good_boards(job: Job, like: str | Sequence[str], asked: tuple[str, str, str] = ("", "", "")) -> Job:
    """The job with good boards beside it, on its board as they show it. asked: map, layout and variant that job files
    without such header lines are of. Raises InputError.
    """
    from connector_check.analysis.good_design import designed_as, standing_on
    from connector_check.testlog.references import load_references

    own = GoodBoard(job.board, job.entries, job.meter, name=job.file, called=shown(job.header.get("board", "")))
    found = load_references([like] if isinstance(like, str) else like, own, asked)
    for good in found.good_boards:
        if not standing_on(job.board, good).entries:
            what = "no reading of the good board stands"
            remedy = "silence counts between two proofs of the leads, say lines ',,leads good'"
            raise InputError.one(good.name, 0, what, remedy)
    design = designed_as(job.board, found.good_boards)
    return replace(job, board=design.board, good_boards=found.good_boards, as_good=(*found.told, *design.told))


def _pin_map(text: JobText, folder: Path | None, map_name: str) -> PinMap:
    wanted = map_name or text.header.get("map", "")
    if not wanted:
        raise InputError.one(text.file, 1, "no pin map named", "add a first line '# map: ID', or give --map ID")
    if not map_name and ("/" in wanted or "\\" in wanted):
        raise InputError.one(
            text.file,
            text.header_lines["map"],
            f"map '{shown(wanted)}' is a path",
            "a job names an id or a file beside it; give other files with --map",
        )
    try:
        return find_pin_map(wanted, folder)
    except InputError as error:
        first = error.problems[0]
        if not map_name and len(error.problems) == 1 and first.file == wanted:
            line = text.header_lines["map"]
            raise InputError.one(text.file, line, f"map '{shown(wanted)}': {first.what}", first.remedy) from None
        raise


def _told_roles(text: JobText, given: Sequence[str]) -> list[ToldRole]:
    """The roles that the options tell, then those that the job tells of other contacts."""
    first = read_told((ROLE_OPTION, told) for told in given)
    contacts = {told.contact.casefold() for told in first}
    own = read_told((Place(text.file, line), told) for line, told in text.roles)
    return [*first, *(told for told in own if told.contact.casefold() not in contacts)]
