"""Starting a pin map: from named contacts and placed pads to the commented text of a pin map file.

Every role or voltage that was guessed is marked `# guessed: RULE; confirm` on its net's line; deleting the comment confirms
it. Volts that nothing tells are asked for, never invented. Pure.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from connector_check.errors import InputError, Problem
from connector_check.files.text import printable
from connector_check.kicad.footprints import Pad
from connector_check.new_map.records import Names, Pin, Places, in_order, is_shell
from connector_check.new_map.text import NewLayout, NewNet, map_text
from connector_check.new_map.told import unknown_volts
from connector_check.pinout.geometry import pad_gaps, pitch
from connector_check.pinout.names import ID, NAME, SHELL_JOINT
from connector_check.pinout.pinmap import POWER, SHELL, Joint, PinMap
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.pinout.ranges import expand, names_list
from connector_check.pinout.roles import guess

MAX_PADS = 1000
MAX_MM = 1000.0
PAD_MM = (0.01, 50.0)
HEADER_ID = re.compile(r"header-([1-4]x[1-9][0-9]?)(?:-([0-9]{1,2}(?:\.[0-9]{1,2})?))?\Z")


@dataclass(frozen=True)
class NewMap:
    """A pin map file's text, the map it reads as, what was guessed in it, and what to know besides.

    guessed: the nets with a guess and its rule. tied: (board net, contacts), where a board joins several contacts.
    notes: sentences on pads that were merged, left out or renamed, and on ties.
    """

    text: str
    pin_map: PinMap
    guessed: tuple[NewNet, ...]
    tied: tuple[tuple[str, tuple[str, ...]], ...]
    notes: tuple[str, ...]


def make_map(
    names: Names, places: Places, map_id: str, title: str, volts: dict[str, float] | None = None,
    pitch_mm: float | None = None, board_nets: dict[str, str] | None = None,
) -> NewMap:  # fmt: skip
    """The new map of those contacts on those pads.

    names: as `new_map_told.told` gives them. volts: nominal volts by name, for supplies whose name does not carry them. pitch_mm: contact
    pitch in mm, measured on the joints when None. board_nets: board net by contact, to note which contacts a board ties.
    Raises InputError, also for supplies of unknown volts.
    """
    problems: list[Problem] = []
    if not ID.match(map_id):
        problems.append(Problem("--id", 0, f"id '{map_id}'", "small letters, digits, '.' and '-' only"))
    _check_names(names, problems)
    nets = _nets(names, volts or {}, problems)
    if problems:
        raise InputError(problems)
    joints, notes = _joints(names, places, nets)
    tied = _tied(names, board_nets or {})
    notes += [note for _, note in tied]
    placed = {contact for joint in joints for contact in joint.contacts}
    without = [contact for net in nets for contact in net.contacts if contact not in placed and contact != "SH"]
    if without:
        notes.append(f"no pad in the layout for contact {', '.join(without)}: confirm that the part lacks it")
    measured = pitch(tuple(joint for joint in joints if joint.contacts != ("SH",)))
    layout = NewLayout(places.layout, places.source, tuple(joints), tuple(without))
    source = (names.document, names.known)
    text = map_text(map_id, title or map_id, pitch_mm or measured, source, notes, nets, layout)
    found = parse_pin_map(text.encode(), f"{map_id}.yaml")
    return NewMap(text, found, tuple(net for net in nets if net.rule), tuple(tie for tie, _ in tied), tuple(notes))


def summary(made: NewMap, file: str) -> list[str]:
    """What was made, what in it is a guess, and the next step, as lines."""
    found, joints = made.pin_map, made.pin_map.layouts[0].joints
    lines = [
        f"{file}: {len(found.net_of)} contacts in {len(found.nets)} nets on {len(joints)} joints, layout {found.layouts[0].id}"
    ]
    lines += [f"  {note}" for note in made.notes]
    lines.append(f"  layout: {found.layouts[0].source}")
    if made.guessed:
        lines.append("guessed; confirm each against the published pinout and delete its comment in the file:")
        alike: dict[tuple[str, float | None, str], list[str]] = {}
        for net in made.guessed:
            alike.setdefault((net.role, net.volts, net.rule), []).append(net.name)
        for (role, volts, rule), nets in alike.items():
            nominal = f" {volts:g} V" if volts is not None else ""
            lines.append(f"  {role}{nominal}: {names_list(nets)[1:-1]} ({rule})")
    if not re.search(rf"(^|[/\\\\]){re.escape(found.id)}\.ya?ml$", file):
        lines.append(f"its id is {found.id}: call the file {found.id}.yaml, so that it can be found by its id")
    return [*lines, f"next: connector-check lint {file}"]


def _check_names(names: Names, problems: list[Problem]) -> None:
    first: dict[str, tuple[str, str]] = {}
    for pin in names.pins:
        if not NAME.match(pin.name):
            problems.append(Problem(names.file, pin.line, f"'{printable(pin.name)[:40]}' cannot be a net's name",
                                    "at most 32 characters; a table given with --table can name it anew"))  # fmt: skip
        if not is_shell(pin):
            if not NAME.match(pin.number) or expand(pin.number) != [pin.number]:
                problems.append(Problem(names.file, pin.line, f"'{printable(pin.number)[:40]}' cannot be a contact",
                                        "a number or a short name without spaces, commas, quotes or @"))  # fmt: skip
            elif pin.number == "SH" or SHELL_JOINT.match(pin.number):
                problems.append(Problem(names.file, pin.line, f"contact '{pin.number}' is not the shell",
                                        "SH, SH1 ... are the shell's joints: rename it, or give it role shell"))  # fmt: skip
        number, role = first.setdefault(pin.name, (pin.number, pin.role))
        if role != pin.role:
            problems.append(Problem(names.file, pin.line, f"'{pin.name}' has role '{role or 'none'}' at pin {number} and "
                                    f"'{pin.role or 'none'}' at pin {pin.number}", "one name is one net: give one role"))  # fmt: skip


def _nets(names: Names, volts: dict[str, float], problems: list[Problem]) -> list[NewNet]:
    asked = unknown_volts(names, volts)
    if asked:
        options = " ".join(f"--volts {name}=V" for name in asked[:3])
        problems.append(Problem(names.file, 0, f"the volts of {', '.join(asked)} are not known",
                                f"give each its nominal volts, {options}; if it is no supply: --role {asked[0]}=data"))  # fmt: skip
    members: dict[str, list[Pin]] = {}
    shells = [pin for pin in names.pins if is_shell(pin)]
    for pin in names.pins:
        if not is_shell(pin):
            members.setdefault(pin.name, []).append(pin)
    if shells and SHELL.upper() in members:
        problems.append(Problem(names.file, 0, "a contact that is not the shell is named SHELL", "rename it"))
    nets = []
    for name, pins in members.items():
        guessed, pin = guess(name), pins[0]
        role = pin.role or guessed.role
        rule = "" if pin.role and not pin.rule else pin.rule or guessed.rule
        nominal = volts.get(name, guessed.volts) if role == POWER else None
        if name in volts:
            rule = ""
        elif role == POWER and not rule:
            rule = "the volts, from the name"
        nets.append(NewNet(name, role, nominal, tuple(p.number for p in pins), rule))
    if shells:
        pin = shells[0]
        rule = "" if pin.role and not pin.rule else pin.rule or guess(pin.name).rule
        nets.append(NewNet("SHELL", SHELL, None, ("SH",), rule))
    return nets


# Joints


def _joints(names: Names, places: Places, nets: list[NewNet]) -> tuple[list[Joint], list[str]]:
    net_of = {contact: net.name for net in nets for contact in net.contacts}
    shell = {pin.number for pin in names.pins if is_shell(pin)}
    notes: list[str] = []
    problems: list[Problem] = []
    pads = [pad for pad in places.pads if pad.has_copper and pad.number]
    left_out = sum(pad.has_copper and not pad.number for pad in places.pads)
    if left_out:
        notes.append(f"{left_out} copper pads without a number are left out")
    if len(pads) > MAX_PADS:
        raise InputError.one(places.file, 0, f"{len(pads):,} pads", f"a connector has at most {MAX_PADS:,}")
    named = {pin.number for pin in names.pins}

    def on_shell(number: str) -> bool:
        return number in shell or (number not in named and guess(number).role == SHELL)

    unknown = in_order({pad.number for pad in pads if pad.number not in net_of and not on_shell(pad.number)})
    if unknown:
        problems.append(Problem(places.file, 0, f"pad {', '.join(unknown[:12])} has no name in {names.file}",
                                "name every pad; NC where nothing is connected"))  # fmt: skip
    for pad in pads:
        w, h = pad.extent
        if max(abs(pad.x_mm), abs(pad.y_mm)) > MAX_MM or not PAD_MM[0] <= min(w, h) <= max(w, h) <= PAD_MM[1]:
            problems.append(Problem(places.file, 0, f"pad '{printable(pad.number)}' of {w:g} x {h:g} mm at {pad.x_mm:g}, {pad.y_mm:g}",
                                    "positions up to 1000 mm and sizes of 0.01 to 50 mm are expected"))  # fmt: skip
    if not any(pad.number in net_of for pad in pads):
        problems.append(
            Problem(places.file, 0, f"no pad carries a contact of {names.file}", "do the two belong together?")
        )
    if problems:
        raise InputError(problems)
    if "SH" not in net_of and any(on_shell(pad.number) for pad in pads):
        nets.append(NewNet("SHELL", SHELL, None, ("SH",), "pads named as a shield, shell or mounting pad"))
        net_of["SH"] = "SHELL"
    ordinary = _one_a_number([pad for pad in pads if not on_shell(pad.number)], notes)
    tabs = [_joint(pad, f"SH{i}", "SH") for i, pad in enumerate((p for p in pads if on_shell(p.number)), 1)]
    order = {contact: i for i, contact in enumerate(pin.number for pin in names.pins)}
    joints = sorted((_joint(pad, pad.number, pad.number) for pad in ordinary), key=lambda j: order[j.name])
    joints = _merged(joints + tabs, net_of, places.file, notes)
    tabs = sorted((joint for joint in joints if joint.contacts == ("SH",)), key=lambda joint: (joint.y, joint.x))
    others = [joint for joint in joints if joint.contacts != ("SH",)]
    numbers = in_order({pad.number for pad in pads if on_shell(pad.number)} - {"SH"})
    if numbers:
        notes.append(f"the shell's joints SH1..SH{len(tabs)} are the pads {', '.join(numbers)}")
    return others + [_named(joint, f"SH{i}", joint.contacts) for i, joint in enumerate(tabs, 1)], notes


def _joint(pad: Pad, name: str, contact: str) -> Joint:
    w, h = (round(size, 4) for size in pad.extent)
    return Joint(name, (contact,), round(pad.x_mm, 4), round(pad.y_mm, 4), w, h, pad.shape)


def _one_a_number(pads: list[Pad], notes: list[str]) -> list[Pad]:
    """Of several pads of one contact, the largest: they are the same copper."""
    best: dict[str, Pad] = {}
    for pad in pads:
        other = best.setdefault(pad.number, pad)
        if pad is not other:
            notes.append(f"contact {pad.number} has several pads: the largest is its joint")
            best[pad.number] = max(other, pad, key=lambda p: p.w_mm * p.h_mm)
    notes[:] = dict.fromkeys(notes)
    return list(best.values())


def _merged(joints: list[Joint], net_of: dict[str, str], file: str, notes: list[str]) -> list[Joint]:
    """The joints with those of one net that touch made into one. Raises InputError where two nets touch."""
    while touching := [(a, b) for a, b, _ in pad_gaps(tuple(joints), 0.0)]:
        found = {joint.name: joint for joint in joints}
        problems = [
            Problem(file, 0, f"the pads of {a} and {b} touch and are of different nets", "they are one joint: name them alike")
            for a, b in touching if net_of[found[a].contacts[0]] != net_of[found[b].contacts[0]]
        ]  # fmt: skip
        if problems:
            raise InputError(problems)
        into = {name: name for name in found}
        for a, b in touching:
            keep, gone = into[a], into[b]
            into = {name: keep if target == gone else target for name, target in into.items()}
        groups: dict[str, list[Joint]] = {}
        for joint in joints:
            groups.setdefault(into[joint.name], []).append(joint)
        joints = [group[0] if len(group) == 1 else _union(group) for group in groups.values()]
        notes += [f"joint {j.name} carries contacts {', '.join(j.contacts)}" for j in joints if len(j.contacts) > 1]
        notes[:] = dict.fromkeys(notes)
    return joints


def _union(group: list[Joint]) -> Joint:
    contacts = tuple(dict.fromkeys(contact for joint in group for contact in joint.contacts))
    name = group[0].name if contacts == ("SH",) else "".join(contacts)
    if len({_named(joint, "", ()) for joint in group}) == 1:
        return _named(group[0], name, contacts)
    x0, x1 = min(j.x - j.width / 2 for j in group), max(j.x + j.width / 2 for j in group)
    y0, y1 = min(j.y - j.height / 2 for j in group), max(j.y + j.height / 2 for j in group)
    box = (round((x0 + x1) / 2, 4), round((y0 + y1) / 2, 4), round(x1 - x0, 4), round(y1 - y0, 4))
    return Joint(name, contacts, *box, "rect")


def _named(joint: Joint, name: str, contacts: tuple[str, ...]) -> Joint:
    return Joint(name, contacts, joint.x, joint.y, joint.width, joint.height, joint.shape)


def _tied(names: Names, board_nets: dict[str, str]) -> list[tuple[tuple[str, tuple[str, ...]], str]]:
    on: dict[str, list[Pin]] = {}
    for pin in names.pins:
        if pin.number in board_nets:
            on.setdefault(board_nets[pin.number], []).append(pin)
    found = []
    for net, pins in on.items():
        if len(pins) > 1:
            named = list(dict.fromkeys("SHELL" if is_shell(pin) else pin.name for pin in pins))
            nets = f" (nets {', '.join(named)})" if len(named) > 1 else ""
            contacts = tuple(pin.number for pin in pins)
            found.append(
                ((net, contacts), f"tied on this board by its net {net}: contacts {', '.join(contacts)}{nets}")
            )
    return found
