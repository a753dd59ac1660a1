"""Where a new pin map comes from: a table of pins or a plain grid of them; `new_map_kicad` reads KiCad files.

Bytes in, records out, whatever is malformed raises InputError with place and remedy; only `gather` opens files.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import PurePath

from connector_check.errors import InputError, Problem
from connector_check.kicad import Pad
from connector_check.pinmap import ROLES, SHELL
from connector_check.pinmap_file import expand
from connector_check.roles import guess

MAX_BYTES = 64 * 1024 * 1024
MAX_TABLE_BYTES = 1_000_000
HEADINGS = {
    "pin": ("pin", "contact", "number", "no."),
    "name": ("name", "signal", "net"),
    "role": ("role",),
}
HEADER_PAD_MM = {2.54: 1.7, 2.0: 1.35, 1.27: 1.0, 1.0: 0.85}
"""Pad of a pin header by pitch, as KiCad's footprints Connector_PinHeader_*mm have it (kicad-footprints 6.0.11)."""


@dataclass(frozen=True)
class Pin:
    """A contact as the source names it.

    role: as told or, when `rule` is given, as guessed by that rule; empty: to be guessed from the name.
    line: where it stands in the source, 0 when that has no lines.
    """

    number: str
    name: str
    role: str = ""
    rule: str = ""
    line: int = 0


@dataclass(frozen=True)
class Names:
    """The contacts of a connector, and where their assignment stands; known: as in `pinmap.Source`."""

    file: str
    pins: tuple[Pin, ...]
    document: str
    known: str = "read"

    def named(self, names: list[str], document: str) -> Names:
        """The same contacts with those names in order, from memory; as they are when there are none."""
        pins = (
            tuple(replace(pin, name=name) for pin, name in zip(self.pins, names, strict=True)) if names else self.pins
        )
        return replace(self, pins=pins, document=document, known="memory")


@dataclass(frozen=True)
class Places:
    """Pads in mm, x right, y down, component side; `number` is the contact each belongs to."""

    file: str
    pads: tuple[Pad, ...]
    layout: str
    source: str


@dataclass(frozen=True)
class Sources:
    """All that a new map is made of; board_nets: the board net of each contact that has one."""

    names: Names
    places: Places
    board_nets: dict[str, str]


def decode(raw: bytes, file: str, most: int = MAX_BYTES) -> str:
    """The text of a source file: UTF-8, or a spreadsheet's UTF-16. Raises InputError."""
    if len(raw) > most:
        raise InputError.one(file, 0, f"larger than {most:,} bytes", "is this the right file?")
    try:
        text = raw.decode("utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError.one(file, line, "not text in UTF-8", "save it as UTF-8; is this the right file?") from None
    if "\0" in text:
        raise InputError.one(file, text[: text.index("\0")].count("\n") + 1, "binary data", "is this the right file?")
    if not text.strip():
        raise InputError.one(file, 0, "the file is empty", "is this the right file?")
    return text


# A table


def table_names(raw: bytes, file: str) -> Names:
    """The contacts of a table: columns pin, name and, if wanted, role, parted by comma, semicolon or tab.

    A heading may put them in another order; a line that starts with # is left alone; `A1..A4` stands for four pins.
    """
    text = decode(raw, file, MAX_TABLE_BYTES)
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    delimiter = max(",;\t", key=lines[0].count) if lines else ","
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    columns: dict[str, int] | None = None
    problems: list[Problem] = []
    pins: dict[str, Pin] = {}
    last = 0
    try:
        for row in rows:
            line, last = last + 1, rows.line_num
            cells = [_bare(cell) for cell in row]
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


def _bare(cell: str) -> str:
    cell = cell.strip()
    return cell[1:] if cell[:1] == "'" and cell[1:2] in ("=", "+", "-", "@") else cell


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

    role = cell("role").lower()
    if not cell("pin") or not cell("name"):
        missing = "name" if cell("pin") else "pin"
        remedy = "write NC where nothing is connected" if cell("pin") and len(cells) > 1 else "expected pin,name,role"
        problems.append(Problem(file, line, f"no {missing} on this line", remedy))
        return
    if role not in ("", *ROLES):
        problems.append(Problem(file, line, f"unknown role '{role}'", f"expected one of {', '.join(ROLES)}"))
    for number in expand(cell("pin")):
        if number in pins:
            problems.append(Problem(file, line, f"pin '{number}' twice", f"first on line {pins[number].line}"))
        else:
            pins[number] = Pin(number, cell("name"), role, line=line)


# A grid of pins


def grid_places(rows: int, columns: int, pitch: float, numbering: str = "") -> Places:
    """A vertical pin header seen from the component side: `rows` x `columns` round pads at that pitch in mm.

    numbering: `zigzag` (two rows: odd pins in one, even pins in the other, pin 1 at the left end of the lower row) or
    `rows` (row after row, pin 1 at the upper left); by default zigzag for two rows.
    """
    zigzag = rows == 2 and numbering != "rows"
    size = HEADER_PAD_MM.get(pitch, round(0.67 * pitch, 2))
    pads = []
    for index in range(rows * columns):
        column, row = (index // 2, 1 - index % 2) if zigzag else (index % columns, index // columns)
        pads.append(Pad(str(index + 1), round(column * pitch, 4), round(row * pitch, 4), size, size, "round", 0, "thru_hole"))  # fmt: skip
    how = "odd pins in one row, even pins in the other" if zigzag else "pins counted row after row"
    source = f"a plain grid of {pitch:g} mm, {how if rows > 1 else 'one straight row'}; pads of {size:g} mm " + (
        "as in KiCad's pin headers" if pitch in HEADER_PAD_MM else "by assumption"
    )
    return Places(f"header {rows}x{columns}", tuple(pads), "through", source)


def row_places(names: Names, pitch: float) -> Places:
    """One straight row in the order of the pins, for a table that says nothing of positions; the shell is left out."""
    numbers = [pin.number for pin in names.pins if not is_shell(pin)]
    pads = grid_places(1, len(numbers), pitch).pads
    placed = tuple(replace(pad, number=number) for pad, number in zip(pads, numbers, strict=True))
    source = f"assumed: one straight row at {pitch:g} mm in the order of the pins; measure the part"
    return Places(names.file, placed, "row", source)


def is_shell(pin: Pin) -> bool:
    """Whether the pin is the shell, as told or by its name or number."""
    return (pin.role or guess(pin.name).role) == SHELL


def in_order(numbers: Iterable[str]) -> list[str]:
    """Contact numbers as people count: 2 before 10, A2 before B1."""
    return sorted(numbers, key=natural)


def natural(text: str) -> list[tuple[int, int, str]]:
    """Sort key that compares the numbers inside a text by value."""
    return [(0, int(part), "") if part.isdecimal() and part.isascii() else (1, 0, part)
            for part in re.findall(r"\d+|\D+", text)]  # fmt: skip


def header_size(text: str) -> tuple[int, int] | None:
    """Rows and pins a row of `2x20`, or None when it is not of that form or over 4 x 64."""
    match = re.fullmatch(r"([1-4])x([1-9][0-9]?)", text)
    return (int(match[1]), int(match[2])) if match and int(match[2]) <= 64 else None


def counted_names(file: str, numbers: Iterable[str]) -> Names:
    """Contacts that nothing is known of: P1, P2 and so on."""
    return Names(
        file, tuple(Pin(n, f"P{n}") for n in numbers), "none, the names P1 and on only count the pins", "memory"
    )


# The sources that a user names


def gather(
    table: str = "", symbol: str = "", footprint: str = "", board: str = "", ref: str = "", header: str = "",
    numbering: str = "", pitch_mm: float | None = None,
) -> Sources:  # fmt: skip
    """Read the named files. Names come from the table, else the symbol, else the board; pads from the footprint, the
    board or the header, else one straight row. Raises InputError, also for sources that exclude each other.
    """
    from connector_check.new_map_kicad import board_part, footprint_places, symbol_names

    for both in ((("--table", table), ("--symbol", symbol)), (("--footprint", footprint), ("--board", board)),
                 (("--footprint", footprint), ("--header", header)), (("--board", board), ("--header", header))):  # fmt: skip
        if all(given for _, given in both):
            raise InputError.one(both[1][0], 0, f"given together with {both[0][0]}", "choose one of the two")
    if bool(board) != bool(ref):
        raise InputError.one("--board" if board else "--ref", 0, "a board and a reference go together",
                             "give --board FILE --ref J1")  # fmt: skip
    size = header_size(header)
    if header and size is None:
        raise InputError.one("--header", 0, f"'{header}' is no header", "rows x pins a row, 1x1 to 4x64, say 2x20")
    if numbering and not header:
        raise InputError.one("--numbering", 0, "given without a header", "add --header ROWSxPINS")
    if pitch_mm is not None and not 0.1 <= pitch_mm <= 50:
        raise InputError.one("--pitch", 0, f"a pitch of {pitch_mm:g} mm", "expected 0.1 to 50")
    names: Names | None = None
    places: Places | None = None
    nets: dict[str, str] = {}
    if table:
        names = table_names(read_file(table), table)
    elif symbol:
        file, _, name = symbol.rpartition(":") if not symbol.endswith(".kicad_sym") else (symbol, "", "")
        names = symbol_names(read_file(file or symbol), file or symbol, name if file else "")
    if footprint:
        places = footprint_places(read_file(footprint), footprint)
    elif board:
        part = board_part(read_file(board), board, ref)
        names, places, nets = names or part.names, part.places, part.board_nets
    elif size:
        places = grid_places(*size, pitch_mm or 2.54, numbering)
    if names is None and places is not None:
        names = counted_names(places.file, in_order({p.number for p in places.pads if p.number and p.has_copper}))
    if names is None:
        raise InputError.one("new-map", 0, "no source", "give --table, --symbol, --footprint, --board or --header")
    return Sources(names, places or row_places(names, pitch_mm or 2.54), nets)


def read_file(name: str) -> bytes:
    """The bytes of a source file. Raises InputError."""
    try:
        with open(name, "rb") as handle:
            return handle.read(MAX_BYTES + 1)
    except OSError as error:
        raise InputError.one(name, 0, f"cannot be read ({error.strerror})", "check the name and its rights") from None
    except ValueError:
        raise InputError.one("a file name", 0, "cannot be opened", "check the name") from None
