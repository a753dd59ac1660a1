"""Contacts and pads for a new pin map out of KiCad files: a symbol, a footprint, a part on a board.

Pure: bytes in, records out; whatever is malformed raises InputError with place and remedy.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import PurePath

from connector_check.errors import InputError
from connector_check.files.text import decode, natural
from connector_check.kicad.boards import footprints_of, own_frame, pad_net, reference_of, short_name
from connector_check.kicad.files import MAX_KICAD_BYTES, kicad_problem, read_kicad
from connector_check.kicad.footprints import pads_of
from connector_check.kicad.symbols import library_pins
from connector_check.new_map.records import SHELL_NET, Names, Pin, Places, Sources, in_order
from connector_check.pinout.pinmap import RESERVED, SHELL
from connector_check.pinout.roles import guess

NO_NET = "no net on this board"


def symbol_names(raw: bytes, file: str, name: str) -> Names:
    """The contacts of a symbol in a `.kicad_sym` library; name may be empty when the library holds one symbol."""
    library = read_kicad(decode(raw, file, MAX_KICAD_BYTES), file, "kicad_symbol_lib", "symbol library")
    known = [symbol.args[0] for symbol in library.all("symbol") if symbol.args]
    if not name and len(known) == 1:
        name = known[0]
    if name not in known:
        from difflib import get_close_matches

        near = get_close_matches(name, known, n=3) or known[:5]
        remedy = f"name it as FILE:NAME, say {', '.join(near) or 'one that it holds'}"
        raise InputError.one(file, 0, f"no symbol '{name}' among {len(known)}", remedy)
    try:
        found = library_pins(library, name)
    except ValueError as error:
        raise kicad_problem(file, error) from None
    pins: dict[str, Pin] = {}
    for number, pin_name, kind in found:
        pin = Pin(number, _telling(pin_name) or f"P{number}")
        if kind == "no_connect":
            pin = replace(pin, role=RESERVED, rule="a no-connect pin of the symbol")
        if number in pins and pins[number] != pin:
            what = f"symbol '{name}' has pin {number} as {pins[number].name} and as {pin.name}"
            raise InputError.one(file, 0, what, "give the names in a table with --table")
        pins[number] = pin
    if not pins:
        raise InputError.one(file, 0, f"symbol '{name}' has no pins", "choose the connector's own symbol")
    document = f"KiCad symbol {PurePath(file).stem}:{name}"
    return Names(file, tuple(pins[number] for number in in_order(pins)), document)


def footprint_places(raw: bytes, file: str) -> Places:
    """The pads of a `.kicad_mod` footprint."""
    root = read_kicad(decode(raw, file, MAX_KICAD_BYTES), file, "footprint module", "footprint")
    try:
        pads = pads_of(root)
    except ValueError as error:
        raise kicad_problem(file, error) from None
    folder = PurePath(file).parent.name
    library = folder.removesuffix(".pretty") + ":" if folder.endswith(".pretty") else ""
    name = (root.args[0] if root.args else PurePath(file).stem).rpartition(":")[2]
    return Places(file, tuple(pads), "footprint", f"KiCad footprint {library}{name}")


def board_part(raw: bytes, file: str, ref: str) -> Sources:
    """The footprint with that reference designator on a `.kicad_pcb` board, turned back to its own frame.

    A part on the bottom is turned over as well, so that its pads are seen from its own component side.
    """
    root = read_kicad(decode(raw, file, MAX_KICAD_BYTES), file, "kicad_pcb", "board")
    parts = [(reference_of(part), part) for part in footprints_of(root)]
    found = [part for name, part in parts if name == ref]
    if len(found) != 1:
        near = sorted({name for name, _ in parts if name[:1] in (ref[:1] or "J", "J")}, key=natural)
        what = f"reference '{ref}' is on {len(found)} footprints" if found else f"no footprint '{ref}' on this board"
        raise InputError.one(
            file, found[1].line if found else 0, what, f"it has {', '.join(near[:12]) or 'none like it'}"
        )
    try:
        pads = own_frame(found[0])
        nets = [pad_net(pad) for pad in found[0].all("pad")]
    except ValueError as error:
        raise kicad_problem(file, error) from None
    named = [
        (pad, net, function) for pad, (net, function) in zip(pads, nets, strict=True) if pad.number and pad.has_copper
    ]
    board = PurePath(file).name
    net_of: dict[str, str] = {}
    functions: dict[str, str] = {}
    for pad, net, function in named:
        if net:
            net_of.setdefault(pad.number, net)
        functions.setdefault(pad.number, _telling(function))
    pins = _board_pins(functions, net_of)
    if not pins:
        raise InputError.one(file, found[0].line, f"footprint '{ref}' has no numbered pads", "choose the connector")
    footprint = (found[0].args or ["unnamed"])[0]
    return Sources(
        Names(file, pins, f"nets of {ref} on the board {board}"),
        Places(file, tuple(pads), "board", f"footprint {footprint} as {ref} on the board {board}"),
        net_of,
    )


def _board_pins(functions: dict[str, str], net_of: dict[str, str]) -> tuple[Pin, ...]:
    """Contacts named after their nets' last path part; two nets never share a name."""
    owner: dict[str, str] = {}
    name_of: dict[str, str] = {}
    pins = []
    for number in in_order(functions):
        net, function = net_of.get(number, ""), functions[number]
        if any(guess(word).role == SHELL for word in (number, function) if word):
            pins.append(Pin(number, SHELL_NET, SHELL, "named as a shield, shell or mounting pad"))
            continue
        if not net:
            name = _free(number, [function or "NC"], owner, net or ("" if not function else f" {number}"))
            pins.append(Pin(number, name, RESERVED, NO_NET))
            continue
        if net not in name_of:
            wanted = [function or f"P{number}"] if net.startswith("Net-(") else [short_name(net), net.strip("/")]
            name_of[net] = _free(number, wanted, owner, net)
        pins.append(Pin(number, name_of[net]))
    return tuple(pins)


def _free(number: str, wanted: list[str], owner: dict[str, str], net: str) -> str:
    name = next((name for name in wanted if owner.get(name, net) == net), f"{wanted[0]}_{number}")
    owner[name] = net
    return name


def _telling(name: str) -> str:
    """The name of a pin, or nothing where it only repeats its number (`~`, `Pin_7`)."""
    return "" if name in ("", "~") or re.fullmatch(r"(?i)pin_?\w{1,3}", name) else name
