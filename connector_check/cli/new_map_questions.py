"""The questions of `new-map` when no source is named."""

from __future__ import annotations

import click

from connector_check.new_map.grid import DEFAULT_PITCH_MM, PITCH_MM, grid_places
from connector_check.new_map.records import Sources, counted_names
from connector_check.pinout.headers import header_size
from connector_check.pinout.names import ID, NAME
from connector_check.pinout.pinmap import MOST_VOLTS

MOST_PINS = 256


def ask_source(map_id: str, title: str, pitch_mm: float | None) -> tuple[str, str, Sources]:
    """Ask id, title, number of pins, pitch and names: the id, the title, and a source of them."""
    map_id = click.prompt("id", default=map_id or None, value_proc=_id)
    title = title or click.prompt("title, what a person calls it", default=map_id)
    rows, columns = click.prompt("number of pins, or rows x pins a row (2x5)", value_proc=_size)
    pitch_mm = pitch_mm or click.prompt("pitch in mm", default=DEFAULT_PITCH_MM, type=click.FloatRange(*PITCH_MM))
    places = grid_places(rows, columns, pitch_mm)
    names = counted_names("the answers", [pad.number for pad in places.pads])
    count = rows * columns
    listed = click.prompt(
        f"names of pins 1 to {count}, spaces between (empty: P1, P2 ...)",
        default="",
        show_default=False,
        value_proc=lambda text: _names(text, count),
    )
    return map_id, title, Sources(names.named(listed, "typed in by hand"), places, {})


def ask_volts(names: list[str]) -> dict[str, float]:
    """Ask the nominal volts of each supply that its name does not tell."""
    volts = click.FloatRange(-MOST_VOLTS, MOST_VOLTS)
    return {name: click.prompt(f"nominal volts of {name}", type=volts) for name in names}


def _id(text: str) -> str:
    if not ID.match(text):
        raise click.UsageError("small letters, digits, '.' and '-' only")
    return text


def _size(text: str) -> tuple[int, int]:
    text = text.strip()
    size = header_size(text)
    if size is None and text.isascii() and text.isdecimal() and 1 <= int(text[:9]) <= MOST_PINS:
        size = (1, int(text))
    if size is None:
        raise click.UsageError(f"a number from 1 to {MOST_PINS}, or rows x pins a row up to 4x64")
    return size


def _names(text: str, count: int) -> list[str]:
    names = text.replace(",", " ").split()
    if names and len(names) != count:
        raise click.UsageError(f"{len(names)} names for {count} pins")
    wrong = [name for name in names if not NAME.match(name)]
    if wrong:
        raise click.UsageError(f"'{wrong[0]}' cannot be a name: at most 32 characters, no quotes, no @")
    return names
