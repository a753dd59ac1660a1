"""The joints of a new map: pads with the contacts they carry, those of one net that touch made one. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from connector_check.board.ties import tie_by_name
from connector_check.errors import InputError, Problem
from connector_check.files.text import printable
from connector_check.kicad.footprints import Pad
from connector_check.new_map.records import SHELL_NET, Names, NewNet, Places, in_order, is_shell
from connector_check.pinout.geometry import pad_gaps
from connector_check.pinout.layout_fields import LARGEST_PAD_MM, SMALLEST_PAD_MM
from connector_check.pinout.pinmap import SHELL, SHELL_CONTACT, Joint
from connector_check.pinout.position_fields import FARTHEST_MM
from connector_check.pinout.roles import guess

MAX_PADS = 1000


def make_joints(names: Names, places: Places, nets: list[NewNet]) -> tuple[list[Joint], list[NewNet], list[str]]:
    """The joints, the shell's last; the nets, with the shell's where only pads tell of it; what to know of the pads.

    Raises InputError for pads that do not fit the names, have impossible sizes, or touch pads of another net.
    """
    pads = [pad for pad in places.pads if pad.has_copper and pad.number]
    if len(pads) > MAX_PADS:
        raise InputError.one(places.file, 0, f"{len(pads):,} pads", f"a connector has at most {MAX_PADS:,}")
    on_shell = _shell_numbers(names, pads)
    net_of = {contact: net.name for net in nets for contact in net.contacts}
    _check_pads(pads, on_shell, net_of, names, places)
    if SHELL_CONTACT not in net_of and on_shell:
        rule = "pads named as a shield, shell or mounting pad"
        nets = [*nets, NewNet(SHELL_NET, SHELL, None, (SHELL_CONTACT,), rule)]
        net_of[SHELL_CONTACT] = SHELL_NET
    left_out = sum(pad.has_copper and not pad.number for pad in places.pads)
    notes = [f"{left_out} copper pads without a number are left out"] if left_out else []
    ordinary = _one_a_number([pad for pad in pads if pad.number not in on_shell], notes)
    order = {pin.number: i for i, pin in enumerate(names.pins)}
    joints = sorted((_joint(pad, pad.number, pad.number) for pad in ordinary), key=lambda j: order[j.name])
    shell_pads = [pad for pad in pads if pad.number in on_shell]
    tabs = [_joint(pad, f"{SHELL_CONTACT}{i}", SHELL_CONTACT) for i, pad in enumerate(shell_pads, 1)]
    joints = _merged(joints + tabs, net_of, places.file, notes)
    tabs = sorted((joint for joint in joints if joint.is_shell), key=lambda joint: (joint.y, joint.x))
    numbers = in_order(on_shell - {SHELL_CONTACT})
    if numbers:
        notes.append(f"the shell's joints SH1..SH{len(tabs)} are the pads {', '.join(numbers)}")
    numbered = [joint._replace(name=f"{SHELL_CONTACT}{i}") for i, joint in enumerate(tabs, 1)]
    return [*(joint for joint in joints if not joint.is_shell), *numbered], nets, notes


def _shell_numbers(names: Names, pads: Iterable[Pad]) -> set[str]:
    """The numbers of the pads on the shell: as the names say, else by the number itself."""
    shell_of = {pin.number: is_shell(pin) for pin in names.pins}
    return {p.number for p in pads if shell_of.get(p.number, guess(p.number).role == SHELL)}


def _check_pads(
    pads: Iterable[Pad], on_shell: Collection[str], net_of: Mapping[str, str], names: Names, places: Places
) -> None:
    problems: list[Problem] = []
    unknown = in_order({pad.number for pad in pads if pad.number not in net_of and pad.number not in on_shell})
    if unknown:
        what = f"pad {', '.join(unknown[:12])} has no name in {names.file}"
        problems.append(Problem(places.file, 0, what, "name every pad; NC where nothing is connected"))
    for pad in pads:
        w, h = pad.extent
        far = max(abs(pad.x_mm), abs(pad.y_mm)) > FARTHEST_MM
        if far or not SMALLEST_PAD_MM <= min(w, h) <= max(w, h) <= LARGEST_PAD_MM:
            what = f"pad '{printable(pad.number)}' of {w:g} x {h:g} mm at {pad.x_mm:g}, {pad.y_mm:g}"
            sizes = f"sizes of {SMALLEST_PAD_MM:g} to {LARGEST_PAD_MM:g} mm"
            problems.append(
                Problem(places.file, 0, what, f"positions up to {FARTHEST_MM:g} mm and {sizes} are expected")
            )
    if not any(pad.number in net_of for pad in pads):
        what = f"no pad carries a contact of {names.file}"
        problems.append(Problem(places.file, 0, what, "do the two belong together?"))
    if problems:
        raise InputError(problems)


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


def _merged(joints: list[Joint], net_of: Mapping[str, str], file: str, notes: list[str]) -> list[Joint]:
    """The joints with those of one net that touch made into one. Raises InputError where two nets touch."""
    remedy = "they are one joint: name them alike"
    while touching := [(a, b) for a, b, _ in pad_gaps(tuple(joints), 0.0)]:
        net = {joint.name: net_of[joint.contacts[0]] for joint in joints}
        problems = [
            Problem(file, 0, f"the pads of {a} and {b} touch and are of different nets", remedy)
            for a, b in touching
            if net[a] != net[b]
        ]
        if problems:
            raise InputError(problems)
        together = tie_by_name(touching)
        groups: dict[str, list[Joint]] = {}
        for joint in joints:
            groups.setdefault(together.get(joint.name, joint.name), []).append(joint)
        joints = [group[0] if len(group) == 1 else _union(group) for group in groups.values()]
        notes += [f"joint {j.name} carries contacts {', '.join(j.contacts)}" for j in joints if len(j.contacts) > 1]
        notes[:] = dict.fromkeys(notes)
    return joints


def _union(group: list[Joint]) -> Joint:
    contacts = tuple(dict.fromkeys(contact for joint in group for contact in joint.contacts))
    name = group[0].name if contacts == (SHELL_CONTACT,) else "".join(contacts)
    if len({joint._replace(name="", contacts=()) for joint in group}) == 1:
        return group[0]._replace(name=name, contacts=contacts)
    x0, x1 = min(j.x - j.width / 2 for j in group), max(j.x + j.width / 2 for j in group)
    y0, y1 = min(j.y - j.height / 2 for j in group), max(j.y + j.height / 2 for j in group)
    box = (round((x0 + x1) / 2, 4), round((y0 + y1) / 2, 4), round(x1 - x0, 4), round(y1 - y0, 4))
    return Joint(name, contacts, *box, "rect")
