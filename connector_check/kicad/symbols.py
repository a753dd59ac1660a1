"""The pins of a KiCad symbol: text or tree in, records out. Pure.

Whatever is malformed raises ValueError whose text starts with `line N:` and says what was expected; the caller adds the
file's name.
"""

from __future__ import annotations

from connector_check.files.sexpr import Node, read_sexpr


def symbol_pins(text: str, name: str) -> list[tuple[str, str, str]]:
    """The pins of a symbol in the text of a `.kicad_sym` library: see `library_pins`. Raises ValueError."""
    return library_pins(read_sexpr(text), name)


def library_pins(library: Node, name: str) -> list[tuple[str, str, str]]:
    """The pins of a symbol in a library that is already read, in the order of the file.

    Each as (number, name, electrical type). Follows `extends`; takes the pins of every unit, in the normal body style
    only. Raises ValueError.
    """
    if library.name != "kicad_symbol_lib":
        raise ValueError(f"line {library.line}: expected (kicad_symbol_lib ...), found ({library.name} ...)")
    symbols = {symbol.args[0]: symbol for symbol in library.all("symbol") if symbol.args}
    seen: list[str] = []
    line = library.line
    while True:
        if name not in symbols:
            raise ValueError(f"line {line}: expected a symbol '{name}' in the library")
        if name in seen:
            raise ValueError(f"line {line}: expected an end to 'extends', found {' -> '.join([*seen, name])}")
        seen.append(name)
        symbol = symbols[name]
        extends = symbol.first("extends")
        if extends is None:
            return _pins(symbol)
        line, name = extends.line, extends.word(0, "the name of a symbol")


def _pins(symbol: Node) -> list[tuple[str, str, str]]:
    found = []
    for unit in [symbol, *symbol.all("symbol")]:
        if unit is not symbol and unit.word(0, "the name of a unit").rpartition("_")[2] not in ("0", "1"):
            continue
        for pin in unit.all("pin"):
            number = pin.need("number").word(0, "a pin number")
            found.append((number, pin.need("name").word(0, "a pin name"), pin.word(0, "an electrical type")))
    return found
