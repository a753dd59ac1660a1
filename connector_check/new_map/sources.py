"""The sources of a new map that a user names: opens the files and puts names and places together."""

from __future__ import annotations

from connector_check.errors import InputError
from connector_check.files.reading import read_capped
from connector_check.kicad.files import MAX_KICAD_BYTES
from connector_check.new_map.from_kicad import board_part, footprint_places, symbol_names
from connector_check.new_map.grid import DEFAULT_PITCH_MM, PITCH_MM, grid_places, row_places
from connector_check.new_map.records import Names, Places, Sources, counted_names, in_order
from connector_check.new_map.table import table_names
from connector_check.pinout.headers import header_size

EXCLUSIVE = (("table", "symbol"), ("footprint", "board"), ("footprint", "header"), ("board", "header"))
"""Sources of the same thing: one of the two."""


def gather(
    table: str = "",
    symbol: str = "",
    footprint: str = "",
    board: str = "",
    ref: str = "",
    header: str = "",
    numbering: str = "",
    pitch_mm: float | None = None,
) -> Sources:
    """Read the named files. Names come from the table, else the symbol, else the board; pads from the footprint, the
    board or the header, else one straight row. Raises InputError, also for sources that exclude each other.
    """
    given = {"table": table, "symbol": symbol, "footprint": footprint, "board": board, "header": header}
    for one, other in EXCLUSIVE:
        if given[one] and given[other]:
            raise InputError.one(f"--{other}", 0, f"given together with --{one}", "choose one of the two")
    if bool(board) != bool(ref):
        what = "a board and a reference go together"
        raise InputError.one("--board" if board else "--ref", 0, what, "give --board FILE --ref J1")
    size = _header_size(header, numbering)
    if pitch_mm is not None and not PITCH_MM[0] <= pitch_mm <= PITCH_MM[1]:
        remedy = f"expected {PITCH_MM[0]:g} to {PITCH_MM[1]:g}"
        raise InputError.one("--pitch", 0, f"a pitch of {pitch_mm:g} mm", remedy)
    names = _names(table, symbol)
    places: Places | None = None
    nets: dict[str, str] = {}
    if footprint:
        places = footprint_places(_bytes(footprint), footprint)
    elif board:
        part = board_part(_bytes(board), board, ref)
        names, places, nets = names or part.names, part.places, part.board_nets
    elif size:
        places = grid_places(*size, pitch_mm or DEFAULT_PITCH_MM, numbering)
    if names is None and places is not None:
        names = counted_names(places.file, in_order({p.number for p in places.pads if p.number and p.has_copper}))
    if names is None:
        raise InputError.one("new-map", 0, "no source", "give --table, --symbol, --footprint, --board or --header")
    return Sources(names, places or row_places(names, pitch_mm or DEFAULT_PITCH_MM), nets)


def _header_size(header: str, numbering: str) -> tuple[int, int] | None:
    size = header_size(header)
    if header and size is None:
        raise InputError.one("--header", 0, f"'{header}' is no header", "rows x pins a row, 1x1 to 4x64, say 2x20")
    if numbering and not header:
        raise InputError.one("--numbering", 0, "given without a header", "add --header ROWSxPINS")
    return size


def _names(table: str, symbol: str) -> Names | None:
    """The contacts of the table, else of the symbol, which is `FILE:NAME` or a library of one symbol."""
    if table:
        return table_names(_bytes(table), table)
    if not symbol:
        return None
    file, _, name = (symbol, "", "") if symbol.endswith(".kicad_sym") else symbol.rpartition(":")
    return symbol_names(_bytes(file), file, name) if file else symbol_names(_bytes(symbol), symbol, "")


def _bytes(file: str) -> bytes:
    return read_capped(file, file, MAX_KICAD_BYTES)
