"""The form of a sweep in diode mode: on paper, as a job file whose readings are still empty, and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from connector_check.analysis.fellows import usual_words
from connector_check.board.board import Board
from connector_check.files.text import columns, padded
from connector_check.probing.sweep import HOW_TO_SWEEP, SweepContact
from connector_check.renderers.plan import BEFORE_PROBING, LEAD_CHECK, job_csv, wrapped

FELLOWS_SHOWN = 4
WITH_UNIT = "volts with the V: 0.512 V, 512 mV, OL V"
NOTES = (
    "Wait until a value stays (capacitors charge first). Over 3.5 V, or a minus sign: the board may be live, stop.",
    "Near 0 on a line, or OL where its fellows show volts: touch it once more before you write it down.",
)


def sweep_lines(contacts: Sequence[SweepContact], board: Board) -> Iterator[str]:
    """The form on paper, a line a contact."""
    yield f"{board.pin_map.id}, layout {board.layout.id}: diode mode, {len(contacts)} contacts"
    if not contacts:
        yield "every contact was read"
        return
    yield from BEFORE_PROBING
    for note in (HOW_TO_SWEEP[:1].upper() + HOW_TO_SWEEP[1:] + ".", *NOTES):
        yield from wrapped(note)
    yield ""
    yield LEAD_CHECK
    yield f"red lead on {contacts[0].red}, black lead on:"
    widths = [max(columns(cell) for cell in cells) for cells in zip(*((c.joint, c.net) for c in contacts), strict=True)]
    for number, contact in enumerate(contacts, 1):
        name, net = padded(contact.joint, widths[0]), padded(contact.net, widths[1])
        yield f"  {number:{len(str(len(contacts)))}}. {name}  {net}  ________ V   {_like(contact)}".rstrip()
    yield LEAD_CHECK
    for role in dict.fromkeys(contact.role for contact in contacts):
        yield from wrapped(f"usual for {role}: {usual_words(role)}")


def _like(contact: SweepContact) -> str:
    more = len(contact.fellows) - FELLOWS_SHOWN
    like = " ".join(contact.fellows[:FELLOWS_SHOWN]) + (f" and {more} more" if more > 0 else "")
    return f"like {like}" if like else contact.role


def _usual(contact: SweepContact) -> str:
    return usual_words(contact.role) + (f"; {_like(contact)}" if contact.fellows else "")


def sweep_csv(contacts: Sequence[SweepContact], board: Board) -> str:
    """The form as a job file. Each note says the unit: a bare number would be ohms, and a short."""
    return job_csv(board, ((c.joint, c.red, f"{c.net}: {WITH_UNIT}; {_usual(c)}") for c in contacts))


def sweep_json(contacts: Sequence[SweepContact]) -> dict[str, Any]:
    """The form for a machine: points by name."""
    return {"contacts": [contact._asdict() | {"usual": usual_words(contact.role)} for contact in contacts]}
