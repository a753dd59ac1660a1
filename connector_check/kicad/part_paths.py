"""The parts on a KiCad board as ohms between nets: resistors, ferrites, chokes, fuses, links. Pure.

Ranges: ferrites, inductors and fuses 0 to 1 ohm, choke windings 0 to 1.2 ohm (data sheets of chip beads, resettable
fuses and data-line chokes stay within, small-current fuses do not); resistors their value +-10 %: common practice, no
source.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from connector_check.kicad.board_parts import Part
from connector_check.kicad.boards import short_name

LINK_OHMS, COIL_OHMS, WINDING_OHMS = 0.5, 1.0, 1.2
TOLERANCE = 0.1
COILS = {"FB": "ferrite", "L": "inductor", "FER": "ferrite", "F": "fuse", "PTC": "resettable fuse", "FS": "fuse"}
CHOKES = ("CMC", "FL", "CM", "LF")
JUMPERS = ("JP", "JMP", "SJ", "SB", "NT", "W", "LK")
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
    "POT": "a potentiometer: its ohms are not told",
    "NTC": "a thermistor: its ohms are not told",
    "LS": "a loudspeaker or buzzer: its ohms are not told",
    "BZ": "a loudspeaker or buzzer: its ohms are not told",
    "M": "a motor: its ohms are not told",
    "LA": "a lamp: its ohms are not told",
}
VALUE = re.compile(
    r"(?P<whole>\d*(?:[.,]\d+)?)\s*(?:(?P<unit>meg|MEG|Meg|[REkKMmG])(?P<part>\d*)\s*R?)?\s*"
    r"(?i:ohms?|\N{GREEK CAPITAL LETTER OMEGA})?(?=$|[\s/,;_(])"
)
SCALE = {"R": 1.0, "E": 1.0, "K": 1e3, "M": 1e6, "MEG": 1e6, "G": 1e9, "m": 1e-3}
CHOKE = re.compile(r"(?i)common.?mode|choke|\bCMC|EMI.?filter|DLW|DLP|ACM\d|ACT\d|DFC|0805USB")
"""Part series in this pattern are from memory."""


class PartPath(NamedTuple):
    """Ohms between two board nets through one part."""

    a: str
    b: str
    low: float
    high: float
    why: str


def ohms(value: str) -> float | None:
    """A resistor's value as written on a schematic, or None.

    Not the ohms of a reading (`testlog.readings.parse_ohms`): a schematic puts the letter for the point and the size
    of the part behind the value, a meter's display does neither.

    >>> [ohms(value) for value in ("4k7", "0R", "75R", "1M", "49.9", "R47", "2,2K")]
    [4700.0, 0.0, 75.0, 1000000.0, 49.9, 0.47, 2200.0]
    >>> [ohms(value) for value in ("10k/1%", "100R 0402", "5 kohm", "1R5", "?")]
    [10000.0, 100.0, 5000.0, 1.5, None]
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
    if not part.fitted and part.prefix in ("R", *COILS, *CHOKES, *JUMPERS):
        return [], "marked as not fitted: look at the board, and add its path when it is there"
    if part.prefix == "R":
        return _resistor(part, nets)
    if part.prefix in JUMPERS:
        return _jumper(part, nets)
    if len(pads) == 4 and part.prefix in (*COILS, *CHOKES, "Z", "U"):
        return _four_pads(part, pads, at_connector or set())
    if part.prefix in COILS and len(pads) == 2:
        return _between(nets, 0.0, COIL_OHMS, f"{COILS[part.prefix]} {part.reference}"), ""
    if part.prefix in (*COILS, *CHOKES):
        return [], f"{len(pads)} pads: which belong together is not told"
    return [], ""


def _between(nets: list[str], low: float, high: float, why: str) -> list[PartPath]:
    return [PartPath(nets[0], nets[1], low, high, why)] if nets[0] and nets[1] and nets[0] != nets[1] else []


def _resistor(part: Part, nets: list[str]) -> tuple[list[PartPath], str]:
    if len(nets) != 2:
        return [], f"a resistor with {len(nets)} pads: which belong together is not told" if len(nets) > 2 else ""
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


def _four_pads(part: Part, pads: dict[str, str], at_connector: set[str]) -> tuple[list[PartPath], str]:
    if CHOKE.search(f"{part.value} {part.footprint}") is not None:
        return _choke(part, pads, at_connector)
    return [], "" if part.prefix == "U" else "four pads and no type that says common-mode choke: windings not told"


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
    name = short_name(net).upper()
    match = re.search(r"[+]|-(?=$|_)", name)
    if match:
        return match[0]
    match = re.search(r"(?:_|D|TX|RX|\d|CAN)([PNMHL])(?:_|$)", name)
    return {"P": "+", "H": "+"}.get(match[1], "-") if match else ""
