"""The board that a user asks for: a pin map in one layout and variant, as board notes describe it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from connector_check.board.board import Board
from connector_check.errors import InputError
from connector_check.files.text import shown
from connector_check.pinout.pinmap import PinMap
from connector_check.pinout.told_roles import ToldRole, with_roles

Place = Callable[[str], tuple[str, int]]
"""Where `layout` or `variant` was asked for, as file and line."""


def make_board(
    pin_map: PinMap, layout: str, variant: str = "", place: Place | None = None, roles: Sequence[ToldRole] = ()
) -> Board:
    """The board of a pin map in a layout (default: the first) and a variant.

    place: what to name in messages (default: the pin map); roles: what the user tells of contacts that the map does not
    know. Raises InputError for a layout or variant that it lacks, and for roles that cannot be.
    """
    place = place or (lambda _key: (pin_map.id, 0))
    if variant:
        changed = pin_map.with_variant(variant)
        if changed is None:
            known = ", ".join(v.id for v in pin_map.variants) or "none"
            raise InputError.one(
                *place("variant"), f"no variant '{shown(variant)}' of {pin_map.id}", f"it has: {known}"
            )
        pin_map = changed
    pin_map = with_roles(pin_map, roles)
    found = pin_map.layout(layout)
    if found is None:
        known = ", ".join(one.id for one in pin_map.layouts)
        raise InputError.one(*place("layout"), f"no layout '{shown(layout)}' of {pin_map.id}", f"it has: {known}")
    return Board(pin_map, found)


def noted_board(board: Board, notes: str) -> Board:
    """The board as a board notes file describes it. Raises InputError."""
    from connector_check.board.notes import apply, ties_of
    from connector_check.board.notes_file import load_board_notes

    noted = load_board_notes(notes, board.pin_map)
    pin_map = apply(board.pin_map, noted)
    layout = pin_map.layout(board.layout.id)
    assert layout is not None
    return Board(pin_map, layout, ties_of(board.pin_map, noted), noted.points)
