"""KiCad's files as trees, of the kind that is expected, and their problems with file and line. Pure."""

from __future__ import annotations

import re

from connector_check.errors import InputError
from connector_check.files.sexpr import Node, read_sexpr

MAX_KICAD_BYTES = 100_000_000


def read_kicad(text: str, file: str, root: str, kind: str) -> Node:
    """The tree of a KiCad file. root: the names that its outermost node may have, parted by blanks; kind: the file in
    words. Raises InputError.
    """
    try:
        node = read_sexpr(text)
    except ValueError as error:
        raise kicad_problem(file, error) from None
    if node.name not in root.split():
        what = f"not a KiCad {kind}: expected ({root.split()[0]} ...)"
        remedy = "give a file of KiCad 5 or later; older ones: open and save them there"
        raise InputError.one(file, node.line, what, remedy)
    return node


def kicad_problem(file: str, error: ValueError) -> InputError:
    """The InputError of a ValueError of this package, whose text starts with `line N:`."""
    place, _, what = str(error).partition(": ")
    line = re.fullmatch(r"line (\d+)", place)
    remedy = "give a whole file of KiCad 5 or later"
    return InputError.one(file, int(line[1]) if line else 0, what if line else str(error), remedy)
