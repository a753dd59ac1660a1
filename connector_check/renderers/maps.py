"""Pin maps as text and as JSON."""

from __future__ import annotations

from typing import Any

from connector_check.board.board import Board
from connector_check.errors import InputError
from connector_check.pinout.pinmap import POWER, PinMap
from connector_check.pinout.roles import guessed_line


def map_json(pin_map: PinMap) -> dict[str, Any]:
    """The pin map for `show --format json`: contacts in published order, layouts with their joints in mm."""
    return {
        "id": pin_map.id,
        "title": pin_map.title,
        "side": pin_map.side,
        "variant": pin_map.variant,
        "source": "; ".join(f"{s.document} ({s.known})" for s in pin_map.sources),
        "sources": [{"document": s.document, "known": s.known, "note": s.note} for s in pin_map.sources],
        "settled": list(pin_map.settled),
        "contacts": [
            {
                "contact": contact,
                "name": pin_map.names[contact],
                "net": net.name,
                "role": net.role,
                "volts": net.volts if net.role == POWER else None,
            }
            for contact, net in contacts_in_order(pin_map)
        ],
        "paths": [
            {
                "nets": list(p.nets),
                "ohms": [p.low, p.high],
                "why": p.why,
                "may_be_absent": p.may_be_absent,
                "source": p.source,
            }
            for p in pin_map.paths
        ],
        "variants": [{"id": v.id, "title": v.title, "why": v.why} for v in pin_map.variants],
        "layouts": [
            {
                "id": layout.id,
                "title": layout.title,
                "source": layout.source,
                "joints": [
                    {
                        "joint": j.name,
                        "contacts": list(j.contacts),
                        "x_mm": j.x,
                        "y_mm": j.y,
                        "width_mm": j.width,
                        "height_mm": j.height,
                        "shape": j.shape,
                    }
                    for j in layout.joints
                ],
            }
            for layout in pin_map.layouts
        ],
    }


def list_json(found: list[PinMap]) -> list[dict[str, Any]]:
    """The list of `maps --format json`."""
    return [
        {
            "id": m.id,
            "title": m.title,
            "contacts": m.contact_count,
            "pitch_mm": m.pitch_mm,
            "layouts": [layout.id for layout in m.layouts],
            "variants": [variant.id for variant in m.variants],
            "sources": [{"document": s.document, "known": s.known} for s in m.sources],
        }
        for m in found
    ]


def list_text(found: list[PinMap]) -> str:
    """The list of `maps`, or a line that none fits."""
    from tabulate import tabulate

    if not found:
        return "no pin map fits; 'connector-check maps' lists all\n"
    rows = [[m.id, m.contact_count, "" if m.pitch_mm is None else f"{m.pitch_mm:g}", m.title] for m in found]
    return str(tabulate(rows, ["id", "contacts", "pitch mm", "title"], tablefmt="simple", disable_numparse=True)) + "\n"


def sources_text(found: list[PinMap]) -> str:
    """For each map what it was compared with, what was read, and what rests on memory, layouts included."""
    lines = []
    for m in found:
        lines.append(f"{m.id}: {m.title}")
        for known, words in (("compared", "compared with"), ("read", "read in"), ("memory", "from memory")):
            lines += [
                f"  {words}: {s.document}" + (f" ({s.note})" if s.note else "") for s in m.sources if s.known == known
            ]
        lines += [f"  layout {layout.id}: {layout.source}" for layout in m.layouts]
        if not any(s.known == "compared" for s in m.sources):
            lines.append("  compared with no data set of its own; see the published tables in the tests")
    return "\n".join(lines) + "\n"


def contacts_in_order(pin_map: PinMap) -> list[tuple[str, Any]]:
    """(contact, net) by row letter and number."""

    def key(item: tuple[str, Any]) -> tuple[str, int, str]:
        digits = "".join(c for c in item[0] if c.isdigit())
        letters = item[0].rstrip("0123456789")
        return ("~" if item[0] == "SH" else letters, int(digits or 0), item[0])

    return sorted(pin_map.net_of.items(), key=key)


def map_text(pin_map: PinMap) -> str:
    """The pin map for reading: contacts, roles, nets, volts, paths, layouts, sources."""
    from tabulate import tabulate

    lines = [f"{pin_map.id}: {pin_map.title}"]
    if pin_map.side:
        lines.append(f"side: {pin_map.side}")
    if pin_map.variant:
        lines.append(f"variant: {pin_map.variant}")
    rows = []
    for contact, net in contacts_in_order(pin_map):
        volts = "" if net.volts is None else f"{net.volts:g}" + (f" (to {net.volts_max:g})" if net.volts_max else "")
        if net.withstands is not None:
            volts = f"withstands {net.withstands:g}"
        joints = [j.name for j in pin_map.layouts[0].joints if contact in j.contacts]
        rows.append([contact, pin_map.names[contact], net.name, net.role, volts, " ".join(joints)])
    heads = ["contact", "name", "net", "role", "volts", f"joint ({pin_map.layouts[0].id})"]
    lines += ["", tabulate(rows, heads, tablefmt="simple", disable_numparse=True), ""]
    for path in pin_map.paths:
        absent = ", may be absent" if path.may_be_absent else ""
        lines.append(f"path {' - '.join(path.nets)}: {path.low:g} to {path.high:g} ohm, {path.why}{absent}")
    for variant in pin_map.variants:
        lines.append(f"variant {variant.id}: {variant.title}" + (f" ({variant.why})" if variant.why else ""))
    for layout in pin_map.layouts:
        lines.append(f"layout {layout.id}: {layout.title}, {len(layout.joints)} joints; from {layout.source}")
    lines += filter(None, [guessed_line(pin_map.nets)])
    for line in pin_map.settled:
        lines.append(f"settled: {line}")
    for source in pin_map.sources:
        note = f"; {source.note}" if source.note else ""
        lines.append(f"source: {source.document} ({source.known}{note})")
    return "\n".join(lines) + "\n"


def pin_text(board: Board, name: str, side: str) -> str:
    """One point of a board: its contacts and net, where it sits, and its neighbours by gap. Raises InputError."""
    from connector_check.drawing.places import place_words
    from connector_check.testlog.rows import unknown_pin

    point = board.resolve(name)
    if point is None:
        raise InputError([unknown_pin(board.pin_map.id, 0, board, name)])
    net, point_name = board.net_of[point], board.points[point]
    lines = [f"{point_name}: net {net.name}, {net.role}, {place_words(board, point, side)}"]
    if point < len(board.joints):
        carried = board.joints[point].contacts
        lines.append("contacts: " + ", ".join(f"{c} {board.pin_map.names.get(c, '')}".strip() for c in carried))
    near = sorted((gap, b if a == point_name else a) for a, b, gap in board.near_gaps if point_name in (a, b))
    for gap, other in near:
        other_net = board.net_of[board.number[other]]
        harm = board.grade(net, other_net)
        lines.append(f"  {gap:.2f} mm to {other} ({other_net.name}): a bridge is {harm.harm}, {harm.why}")
    return "\n".join(lines) + "\n"
