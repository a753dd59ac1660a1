"""The parts on a KiCad board as ohms between nets: resistors, ferrites, chokes, fuses, links. Pure.

Ranges: ferrites, inductors and fuses 0 to 1 ohm, choke windings 0 to 1.2 ohm (data sheets of chip beads, resettable fuses
and data-line chokes stay within, small-current fuses do not); resistors their value +-10 %: common practice, no source.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from connector_check.files.sexpr import Node
from connector_check.kicad.boards import pad_net, reference_of

LINK_OHMS, COIL_OHMS, WINDING_OHMS = 0.5, 1.0, 1.2
TOLERANCE = 0.1
COILS = {"FB": "ferrite", "L": "inductor", "FER": "ferrite", "F": "fuse", "PTC": "resettable fuse", "FS": "fuse"}
JUMPERS = ("JP", "SJ", "SB", "NT", "W", "LK")
UNTOLD = {
    "RN": "a resistor network: which pads belong together is not told",
    "RP": "a resistor network or a potentiometer: not told",
    "RV": "a potentiometer or varistor: its ohms are not told",
    "VR": "a potentiometer, varistor or regulator: its ohms are not told",
    "TH": "a thermistor: its ohms are not told",
    "T": "a transformer: its windings are not told",
    "TR": "a transformer: its windings are not told",
    "SW": "a switch: open or closed is not told",
    "S": "a switch: open or closed is not told",
    "K": "a relay: its contacts are not told",
    "RL": "a relay: its contacts are not told",
    "BT": "a battery: ohms across it are false",
}
VALUE = re.compile(
    r"(?P<whole>\d*(?:[.,]\d+)?)\s*(?:(?P<unit>meg|MEG|Meg|[REkKMmG])(?P<part>\d*)\s*R?)?\s*(?i:ohms?|\N{GREEK CAPITAL LETTER OMEGA})?"
    r"(?=$|[\s/,;_(])"
)
SCALE = {"R": 1.0, "E": 1.0, "K": 1e3, "M": 1e6, "MEG": 1e6, "G": 1e9, "m": 1e-3}
ABSENT = re.compile(
    r"(?i)(?:^|[\s/_,(-])(DNP|DNF|DNI|DNS|NF|N\.F\.|NC|NOPOP|NO POP|unpopulated|not fitted)(?:$|[\s/_,)-])"
)
CHOKE = re.compile(r"(?i)common.?mode|choke|\bCMC|EMI.?filter|DLW|DLP|ACM\d|ACT\d|DFC|0805USB")
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


class PartPath(NamedTuple):
    """Ohms between two board nets through one part."""

    a: str
    b: str
    low: float
    high: float
    why: str


def parts_of(board: Node) -> list[Part]:
    """Every footprint of a board. Raises ValueError."""
    found = []
    for node in board.children:
        if node.name not in ("footprint", "module"):
            continue
        pads = []
        for pad in node.all("pad"):
            number, kind = pad.word(0, "a pad number"), pad.word(1, "a pad kind")
            if number and kind != "np_thru_hole":
                net, function = pad_net(pad)
                pads.append(PartPad(number, net, function))
        value = _value(node)
        attributes = [word for attr in node.all("attr") for word in attr.args]
        fitted = "dnp" not in attributes and not ABSENT.search(value)
        footprint = node.args[0] if node.args else ""
        found.append(Part(reference_of(node), value, footprint, fitted, tuple(pads), node.line))
    return found


def _value(part: Node) -> str:
    for child in part.children:
        if len(child.args) > 1 and (child.name, child.args[0]) in (("property", "Value"), ("fp_text", "value")):
            return child.args[1]
    return ""


def ohms(value: str) -> float | None:
    """A resistor's value as written on a schematic, or None.

    >>> [ohms(v) for v in ("4k7", "0R", "75R", "1M", "49.9", "R47", "2,2K", "10k/1%", "100R 0402", "5 kohm", "1R5", "?")]
    [4700.0, 0.0, 75.0, 1000000.0, 49.9, 0.47, 2200.0, 10000.0, 100.0, 5000.0, 1.5, None]
    """
    match = VALUE.match(value.strip().replace("\N{OHM SIGN}", "\N{GREEK CAPITAL LETTER OMEGA}"))
    if not match or not (match["whole"] or match["part"]):
        return None
    whole, part = match["whole"].replace(",", "."), match["part"]
    if part and "." in whole:
        return None
    unit = match["unit"] or "R"
    scale = SCALE["m" if unit == "m" else unit.upper()]
    return round(float(f"{whole or 0}.{part}" if part else whole) * scale, 6)


def paths_of_part(part: Part, at_connector: set[str] | None = None) -> tuple[list[PartPath], str]:
    """The paths through a part, and why it cannot be told (empty when it can, or when it is open to direct current).

    at_connector: board nets of the connector, which help to pair the windings of a choke.
    """
    pads: dict[str, str] = {}
    for pad in part.pads:
        pads.setdefault(pad.number, pad.net)
    nets = list(pads.values())
    if part.prefix in UNTOLD:
        return [], UNTOLD[part.prefix]
    is_choke = CHOKE.search(f"{part.value} {part.footprint}") is not None
    if part.prefix in (*COILS, "R", *JUMPERS, "CMC", "FL", "CM", "LF") and not part.fitted:
        return [], "marked as not fitted: look at the board, and add its path when it is there"
    if part.prefix == "R" and len(pads) == 2:
        return _resistor(part, nets)
    if part.prefix == "R" and len(pads) > 2:
        return [], f"a resistor with {len(pads)} pads: which belong together is not told"
    if len(pads) == 4 and part.prefix in (*COILS, "CMC", "FL", "CM", "LF", "Z", "U"):
        if is_choke:
            return _choke(part, pads, at_connector or set())
        return [], "" if part.prefix == "U" else "four pads and no type that says common-mode choke: windings not told"
    if part.prefix in COILS and len(pads) == 2:
        return _between(nets, 0.0, COIL_OHMS, f"{COILS[part.prefix]} {part.reference}"), ""
    if part.prefix in (*COILS, "FL", "LF", "CMC"):
        return [], f"{len(pads)} pads: which belong together is not told"
    if part.prefix in JUMPERS:
        return _jumper(part, nets)
    return [], ""


def _between(nets: list[str], low: float, high: float, why: str) -> list[PartPath]:
    return [PartPath(nets[0], nets[1], low, high, why)] if nets[0] and nets[1] and nets[0] != nets[1] else []


def _resistor(part: Part, nets: list[str]) -> tuple[list[PartPath], str]:
    value = ohms(part.value)
    if value is None:
        return [], "its ohms cannot be read from its value"
    if value == 0:
        return _between(nets, 0.0, LINK_OHMS, f"link {part.reference}"), ""
    low, high = value * (1 - TOLERANCE), value * (1 + TOLERANCE)
    return _between(nets, low, high, f"{part.reference} {part.value.strip()}"), ""


def _jumper(part: Part, nets: list[str]) -> tuple[list[PartPath], str]:
    if len(nets) == 2 and re.search(r"(?i)net.?tie|bridged", part.footprint):
        return _between(nets, 0.0, LINK_OHMS, f"link {part.reference}"), ""
    return [], "a jumper: open or closed is not told"


def _choke(part: Part, pads: dict[str, str], at_connector: set[str]) -> tuple[list[PartPath], str]:
    """Two windings. Makers number them differently, so the polarity in the net names pairs them where it can."""
    nets = [pads[number] for number in sorted(pads)]
    pairings = [((0, 1), (2, 3)), ((0, 3), (1, 2)), ((0, 2), (1, 3))]
    signs = [_polarity(net) for net in nets]
    told = [p for p in pairings if all(signs[a] == signs[b] for a, b in p)]
    sure = all(signs) and len(told) == 1
    able = [p for p in pairings if not any(nets[a] in at_connector and nets[b] in at_connector for a, b in p)]
    chosen = told[0] if sure else (able or pairings)[0]
    found = [
        path
        for a, b in chosen
        for path in _between([nets[a], nets[b]], 0.0, WINDING_OHMS, f"winding of choke {part.reference}")
    ]
    numbers = sorted(pads)
    taken = " and ".join(f"{numbers[a]}-{numbers[b]}" for a, b in chosen)
    return found, "" if sure else f"a choke whose windings are taken as {taken}; confirm"


def _polarity(net: str) -> str:
    """`+` or `-` as the net's name says, else empty.

    >>> [_polarity(net) for net in ("/USB_D+", "D_N", "/port/DM", "CANH", "VBUS", "/USB_DP_R")]
    ['+', '-', '-', '+', '', '+']
    """
    name = net.rpartition("/")[2].upper()
    match = re.search(r"[+]|-(?=$|_)", name)
    if match:
        return match[0]
    match = re.search(r"(?:_|D|TX|RX|\d|CAN)([PNMHL])(?:_|$)", name)
    return {"P": "+", "H": "+"}.get(match[1], "-") if match else ""


def magnetics(part: Part) -> str:
    """What says that a jack holds transformers, or nothing."""
    match = MAGNETICS.search(f"{part.value} {part.footprint}")
    if match:
        return f"its type has '{match[0]}'"
    taps = [pad.function for pad in part.pads if pad.function and TAP.match(pad.function)]
    return f"its pins include the centre tap {taps[0]}" if taps else ""
