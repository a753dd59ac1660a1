"""The layouts of a pin map file: the joints with their contacts and pads, and whether they can be a part's."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from connector_check.files.fields import Fields
from connector_check.files.yaml_text import Table, Tree
from connector_check.pinout.geometry import pad_gaps
from connector_check.pinout.names import ID, NAME, SHELL_JOINT, read_names
from connector_check.pinout.pinmap import SHELL_CONTACT, Joint, Layout
from connector_check.pinout.position_fields import PADS_KEYS, read_spots

SMALLEST_PAD_MM, LARGEST_PAD_MM = 0.01, 50.0
"""No connector has larger pads; without a bound the search for neighbours would never end."""
SHAPES = ("rect", "oval", "round")
LAYOUT_KEYS = {"id", "title", "source", "joints", "pads", "without", "note"}


def read_layouts(fields: Fields, top: Table, net_of: Mapping[str, str]) -> tuple[Layout, ...]:
    """The layouts, each with its own id; net_of: the net's name of each contact."""
    layouts: list[Layout] = []
    for item in fields.items(top.entries.get("layouts"), "'layouts'"):
        layout = _layout(fields, item, net_of)
        if layout is not None:
            if any(layout.id == other.id for other in layouts):
                fields.say(item, f"layout '{layout.id}' twice", "give each layout its own id")
            layouts.append(layout)
    remedy = "add at least one, with its pads in mm"
    if not top.entries.get("layouts"):
        fields.say(top, "the pin map has no 'layouts'", remedy)
    elif not layouts and not fields.problems:
        fields.say(top.lines["layouts"], "no layout", remedy)
    return tuple(layouts)


def _layout(fields: Fields, tree: Tree, net_of: Mapping[str, str]) -> Layout | None:
    table = fields.table(tree, "a layout", LAYOUT_KEYS)
    if table is None:
        return None
    layout_id = fields.text(table, "id", "a layout")
    what = f"layout '{layout_id}'"
    if layout_id and not ID.match(layout_id):
        fields.say(table.lines["id"], f"layout id '{layout_id}'", "small letters, digits, '.' and '-' only")
    carries = _carried(fields, table, what, net_of)
    without = {name for name, _ in read_names(fields, table.entries.get("without"), f"'without' of {what}")}
    joints = _joints(fields, table, what, carries, net_of)
    if not joints:
        fields.say(table, f"{what} has no pads", "add 'pads:' with rows or positions in mm")
        return None
    for name in carries:
        if name not in joints:
            fields.say(table, f"joint '{name}' of {what} has no pad", "place it under 'pads'")
    _check_coverage(fields, table, what, net_of, without, joints.values())
    for a, b, gap in pad_gaps(tuple(joints.values()), 0.0):
        if gap <= 0:
            fields.say(
                table, f"joints '{a}' and '{b}' of {what} lie on top of each other", "check start, step and size"
            )
    title = fields.text(table, "title", what, required=False)
    return Layout(layout_id, title, fields.text(table, "source", what), tuple(joints.values()))


def _carried(fields: Fields, table: Table, what: str, net_of: Mapping[str, str]) -> dict[str, tuple[str, ...]]:
    """The contacts of the joints that are named otherwise than their one contact."""
    carries: dict[str, tuple[str, ...]] = {}
    for name, entry, line in fields.entries(table.entries.get("joints"), f"'joints' of {what}"):
        carried = tuple(contact for contact, _ in read_names(fields, entry, f"the contacts of joint '{name}'"))
        for contact in carried:
            if contact not in net_of:
                fields.say(line, f"joint '{name}' carries unknown contact '{contact}'")
        nets = sorted({net_of[contact] for contact in carried if contact in net_of})
        if len(nets) > 1:
            several = f"joint '{name}' carries contacts of different nets ({', '.join(nets)})"
            fields.say(line, several, "one joint is one conductor")
        carries[name] = carried
    return carries


def _joints(
    fields: Fields, table: Table, what: str, carries: Mapping[str, tuple[str, ...]], contacts: Collection[str]
) -> dict[str, Joint]:
    joints: dict[str, Joint] = {}
    for entry in fields.items(table.entries.get("pads"), f"'pads' of {what}"):
        for joint, line in _pads(fields, entry, what, carries):
            if joint.name in joints:
                fields.say(line, f"joint '{joint.name}' twice in {what}", "each joint has one place")
                continue
            for contact in joint.contacts:
                if contact not in contacts:
                    unknown = f"joint '{joint.name}' of {what} carries no known contact"
                    fields.say(line, unknown, "name it after a contact, or list it under 'joints'")
            joints[joint.name] = joint
    return joints


def _pads(fields: Fields, tree: Tree, what: str, carries: Mapping[str, tuple[str, ...]]) -> list[tuple[Joint, int]]:
    row = f"a pad row of {what}"
    table = fields.table(tree, row, PADS_KEYS)
    if table is None:
        return []
    if "size" not in table.entries:
        fields.say(tree, f"{row} has no 'size'", "add 'size: [width, height]' in mm")
    size = fields.numbers(table.entries.get("size"), f"'size' of {what}", 2, SMALLEST_PAD_MM, LARGEST_PAD_MM)
    width, height = size or (SMALLEST_PAD_MM, SMALLEST_PAD_MM)
    shape = fields.word(table, "shape", row, SHAPES, "rect")
    found = []
    for name, line, x, y in read_spots(fields, tree, row):
        if not NAME.match(name):
            fields.say(line, f"joint name '{name}' in {what}", "no spaces, commas, quotes or @")
            continue
        carried = carries.get(name) or ((SHELL_CONTACT,) if SHELL_JOINT.match(name) else (name,))
        found.append((Joint(name, carried, x, y, width, height, shape), line))
    return found


def _check_coverage(
    fields: Fields, table: Table, what: str, contacts: Collection[str], without: set[str], joints: Collection[Joint]
) -> None:
    """Each contact but the shell has one joint, or is listed as one that the part lacks."""
    on: dict[str, list[str]] = {}
    for joint in joints:
        for contact in joint.contacts:
            on.setdefault(contact, []).append(joint.name)
    for contact in sorted(without.difference(contacts)):
        fields.say(table, f"'without' of {what} names unknown contact '{contact}'")
    missing = [c for c in contacts if c not in on and c not in without and c != SHELL_CONTACT]
    if missing:
        absent = f"{what} places no joint for contact {', '.join(missing[:8])}"
        fields.say(table, absent, "place it, or list it under 'without'")
    for contact, names in on.items():
        if contact in without:
            fields.say(table, f"{what} places contact '{contact}' and lists it under 'without'")
        if len(names) > 1 and contact != SHELL_CONTACT:
            several = f"contact '{contact}' is on joints {', '.join(names)} of {what}"
            fields.say(table, several, "a contact has one joint")
