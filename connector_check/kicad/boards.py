"""One footprint on a KiCad board: its reference, its nets, its pads in its own frame. Pure."""

from __future__ import annotations

from dataclasses import replace

from connector_check.files.sexpr import Node
from connector_check.kicad.library import Pad, pads_of


def reference_of(part: Node) -> str:
    for child in part.children:
        if len(child.args) > 1 and (child.name, child.args[0]) in (("property", "Reference"), ("fp_text", "reference")):
            return child.args[1]
    return ""


def pad_net(pad: Node) -> tuple[str, str]:
    net, function = pad.first("net"), pad.first("pinfunction")
    name = net.args[-1] if net is not None and net.args else ""
    return "" if name.startswith("unconnected-(") else name, function.args[0] if function and function.args else ""


def own_frame(part: Node) -> list[Pad]:
    """The pads as the library footprint has them: on a board, a pad's angle includes that of its footprint."""
    at = part.need("at")
    turned = at.number(2, "degrees") if len(at.args) > 2 and at.args[2] != "unlocked" else 0.0
    bottom = part.need("layer").word(0, "a layer") == "B.Cu"
    copies = []
    for pad in part.all("pad"):
        place = pad.need("at")
        own = place.number(2, "degrees") if len(place.args) > 2 and place.args[2] != "unlocked" else 0.0
        words = ["at", place.word(0, "x in mm"), place.word(1, "y in mm"), str((own - turned) % 360)]
        children = [Node(place.line, words) if child is place else child for child in pad.children]
        copies.append(Node(pad.line, pad.words, children))
    pads = pads_of(Node(part.line, part.words, copies))
    return [replace(pad, y_mm=-pad.y_mm, rotation=-pad.rotation % 360) for pad in pads] if bottom else pads
