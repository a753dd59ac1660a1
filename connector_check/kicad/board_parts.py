"""The parts on a KiCad board, as far as connectors need them: reference, value, footprint, nets of the pads. Pure."""

from __future__ import annotations

import re
from typing import NamedTuple

from connector_check.files.sexpr import Node
from connector_check.kicad.boards import footprints_of, pad_net, reference_of, value_of

ABSENT = re.compile(
    r"(?i)(?:^|[\s/_,(-])(DNP|DNF|DNI|DNS|NF|N\.F\.|NC|NOPOP|NO POP|unpopulated|not fitted)(?:$|[\s/_,)-])"
)
MAGNETICS = re.compile(
    r"(?i)mag.?jack|magnetic|HR9\d{4}|HR86|RJMG|ARJM|ARJ-?\d|LPJ\d|J00\d{2}|J0G|JXD|JK0|7499\d|transformer"
)
TAP = re.compile(r"(?i)(?:T|R|TX|RX|TD|RD|TRP?\d?|[A-D])?_?(?:CT|TCT|RCT|center.?tap|centre.?tap|V_?DAC)[1-4]?\Z")
"""Part series in these patterns are from memory."""


class PartPad(NamedTuple):
    """A numbered copper pad; net empty for none."""

    number: str
    net: str
    function: str


class Part(NamedTuple):
    """A footprint on a board; fitted: not marked as left off."""

    reference: str
    value: str
    footprint: str
    fitted: bool
    pads: tuple[PartPad, ...]
    line: int

    @property
    def prefix(self) -> str:
        """The letters of the reference designator, in capitals."""
        return re.match(r"[A-Za-z]*", self.reference)[0].upper()  # type: ignore[index]


def parts_of(board: Node) -> list[Part]:
    """Every footprint of a board. Raises ValueError."""
    return [_part(node) for node in footprints_of(board)]


def _part(node: Node) -> Part:
    pads = []
    for pad in node.all("pad"):
        number, kind = pad.word(0, "a pad number"), pad.word(1, "a pad kind")
        if number and kind != "np_thru_hole":
            pads.append(PartPad(number, *pad_net(pad)))
    value = value_of(node)
    attributes = [word for attr in node.all("attr") for word in attr.args]
    fitted = "dnp" not in attributes and not ABSENT.search(value)
    footprint = node.args[0] if node.args else ""
    return Part(reference_of(node), value, footprint, fitted, tuple(pads), node.line)


def magnetics(part: Part) -> str:
    """What says that a jack holds transformers, or nothing."""
    match = MAGNETICS.search(f"{part.value} {part.footprint}")
    if match:
        return f"its type has '{match[0]}'"
    taps = [pad.function for pad in part.pads if pad.function and TAP.match(pad.function)]
    return f"its pins include the centre tap {taps[0]}" if taps else ""
