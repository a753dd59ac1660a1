"""The contacts of a new map out of a table of pins: bytes in, records out, or every problem with its line. Pure."""

from __future__ import annotations

import csv
import io
from pathlib import PurePath

from connector_check.errors import InputError, Problem
from connector_check.files.text import bare, decode, delimiter_of
from connector_check.new_map.records import Names, Pin
from connector_check.pinout.ranges import expand
from connector_check.pinout.role_words import ROLE_REMEDY, role_of_word

MAX_TABLE_BYTES = 1_000_000
HEADINGS = {
    "pin": ("pin", "contact", "number", "no."),
    "name": ("name", "signal", "net"),
    "role": ("role",),
}


def table_names(raw: bytes, file: str) -> Names:
    """The contacts of a table: columns pin, name and, if wanted, role, parted by comma, semicolon or tab.

    A heading may put them in another order; a line that starts with # is left alone; `A1..A4` stands for four pins.
    """
    text = decode(raw, file, MAX_TABLE_BYTES)
    delimiter = delimiter_of(text)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    columns: dict[str, int] | None = None
    problems: list[Problem] = []
    pins: dict[str, Pin] = {}
    last = 0
    try:
        for row in rows:
            line, last = last + 1, rows.line_num
            cells = [bare(cell) for cell in row]
            if not any(cells) or cells[0].startswith("#"):
                continue
            if columns is None:
                columns = _heading(cells, file, line)
                if columns:
                    continue
                columns = {"pin": 0, "name": 1, "role": 2}
            _table_row(cells, columns, file, line, pins, problems)
    except csv.Error as error:
        problems.append(Problem(file, rows.line_num, f"not readable as a table ({error})", "check the quotes"))
    if problems:
        raise InputError(problems)
    if not pins:
        raise InputError.one(file, 0, "no pins", "write a line for each: pin,name,role (the role may be left out)")
    return Names(file, tuple(pins.values()), f"table {PurePath(file).name}")


def _heading(cells: list[str], file: str, line: int) -> dict[str, int] | None:
    small = [cell.lower() for cell in cells]
    found = {key: next((small.index(word) for word in words if word in small), -1) for key, words in HEADINGS.items()}
    if small[0] not in HEADINGS["pin"] and (found["pin"] < 0 or found["name"] < 0):
        return None
    if found["name"] < 0:
        raise InputError.one(file, line, "the heading needs a column pin and a column name", "expected pin,name,role")
    return found


def _table_row(
    cells: list[str], columns: dict[str, int], file: str, line: int, pins: dict[str, Pin], problems: list[Problem]
) -> None:
    def cell(key: str) -> str:
        return cells[columns[key]] if -1 < columns[key] < len(cells) else ""

    role = role_of_word(cell("role")) if cell("role") else ""
    if not cell("pin") or not cell("name"):
        missing = "name" if cell("pin") else "pin"
        remedy = "write NC where nothing is connected" if cell("pin") and len(cells) > 1 else "expected pin,name,role"
        problems.append(Problem(file, line, f"no {missing} on this line", remedy))
        return
    if role is None:
        problems.append(Problem(file, line, f"unknown role '{cell('role')}'", ROLE_REMEDY))
    for number in expand(cell("pin")):
        if number in pins:
            problems.append(Problem(file, line, f"pin '{number}' twice", f"first on line {pins[number].line}"))
        else:
            pins[number] = Pin(number, cell("name"), role or "", line=line)
