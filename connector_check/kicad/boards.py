"""A KiCad board's footprints: references and values, the nets of their pads, their pads in their own frame. Pure."""

from __future__ import annotations

from dataclasses import replace

from connector_check.files.sexpr import Node
from connector_check.kicad.footprints import Pad, pads_of, turned


def footprints_of(board: Node) -> list[Node]:
    """Every footprint of a board, in the order of the file (`module` before KiCad 6)."""
    return [part for part in board.children if part.name in ("footprint", "module")]


def reference_of(part: Node) -> str:
    """The reference designator of a footprint, empty when it has none."""
    return _labelled(part, "Reference")


def value_of(part: Node) -> str:
    """The value of a footprint as its schematic has it, empty when it has none."""
    return _labelled(part, "Value")


def _labelled(part: Node, label: str) -> str:
    wanted = (("property", label), ("fp_text", label.lower()))
    return next((c.args[1] for c in part.children if len(c.args) > 1 and (c.name, c.args[0]) in wanted), "")


def pad_net(pad: Node) -> tuple[str, str]:
    """The net of a pad and the function of its pin in the symbol, each empty when it has none."""
    net, function = pad.first("net"), pad.first("pinfunction")
    name = net.args[-1] if net is not None and net.args else ""
    return "" if name.startswith("unconnected-(") else name, function.args[0] if function and function.args else ""


def short_name(net: str) -> str:
    """A net's name without its sheet.

    >>> short_name("/port/SDA{slash}SCL")
    'SDA/SCL'
    """
    return net.rpartition("/")[2].replace("{slash}", "/")


def own_frame(part: Node) -> list[Pad]:
    """The pads as the library footprint has them: on a board, a pad's angle includes that of its footprint.

    Of a footprint on the bottom they are turned over. Raises ValueError.
    """
    angle = turned(part.need("at"))
    bottom = part.need("layer").word(0, "a layer") == "B.Cu"
    copies = []
    for pad in part.all("pad"):
        place = pad.need("at")
        own = str((turned(place) - angle) % 360)
        words = ["at", place.word(0, "x in mm"), place.word(1, "y in mm"), own]
        children = [Node(place.line, words) if child is place else child for child in pad.children]
        copies.append(Node(pad.line, pad.words, children))
    pads = pads_of(Node(part.line, part.words, copies))
    return [replace(pad, y_mm=-pad.y_mm, rotation=-pad.rotation % 360) for pad in pads] if bottom else pads
