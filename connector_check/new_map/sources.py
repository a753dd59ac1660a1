"""The sources of a new map that a user names: opens the files and puts names and places together."""

from __future__ import annotations

from connector_check.errors import InputError
from connector_check.files.reading import read_capped
from connector_check.kicad.files import MAX_KICAD_BYTES
from connector_check.new_map.from_kicad import board_part, footprint_places, symbol_names
from connector_check.new_map.grid import grid_places, row_places
from connector_check.new_map.records import Names, Places, Sources, counted_names, in_order
from connector_check.new_map.table import table_names
from connector_check.pinout.headers import header_size


def gather(
    table: str = "", symbol: str = "", footprint: str = "", board: str = "", ref: str = "", header: str = "",
    numbering: str = "", pitch_mm: float | None = None,
) -> Sources:  # fmt: skip
    """Read the named files. Names come from the table, else the symbol, else the board; pads from the footprint, the
    board or the header, else one straight row. Raises InputError, also for sources that exclude each other.
    """
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
        names = table_names(read_capped(table, table, MAX_KICAD_BYTES), table)
    elif symbol:
        file, _, name = symbol.rpartition(":") if not symbol.endswith(".kicad_sym") else (symbol, "", "")
        names = symbol_names(
            read_capped(file or symbol, file or symbol, MAX_KICAD_BYTES), file or symbol, name if file else ""
        )
    if footprint:
        places = footprint_places(read_capped(footprint, footprint, MAX_KICAD_BYTES), footprint)
    elif board:
        part = board_part(read_capped(board, board, MAX_KICAD_BYTES), board, ref)
        names, places, nets = names or part.names, part.places, part.board_nets
    elif size:
        places = grid_places(*size, pitch_mm or 2.54, numbering)
    if names is None and places is not None:
        names = counted_names(places.file, in_order({p.number for p in places.pads if p.number and p.has_copper}))
    if names is None:
        raise InputError.one("new-map", 0, "no source", "give --table, --symbol, --footprint, --board or --header")
    return Sources(names, places or row_places(names, pitch_mm or 2.54), nets)
