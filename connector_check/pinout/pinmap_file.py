"""Pin map files: YAML in, a checked `PinMap` out, or every problem at once as `file:line`."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from connector_check.errors import InputError
from connector_check.files.fields import Fields
from connector_check.files.reading import read_capped
from connector_check.files.yaml_text import MAX_BYTES, Items, Table, Text, Tree, read_yaml
from connector_check.pinout.pinmap import (
    POWER,
    ROLES,
    SHELL,
    DesignPath,
    FacePosition,
    Joint,
    Layout,
    Net,
    PinMap,
    Source,
    Variant,
)
from connector_check.pinout.ranges import MAX_CONTACTS, expand

LARGEST_PAD_MM, FARTHEST_MM = 50.0, 1000.0
"""No connector has larger pads or reaches farther; without a bound the search for neighbours would never end."""
ID = re.compile(r"[a-z0-9][a-z0-9.-]*\Z")
NAME = re.compile(r"[^\s,;\"@#'\x00-\x1f\x7f][^\s,;\"@\x00-\x1f\x7f]{0,31}\Z")
SHELL_JOINT = re.compile(r"SH\d+\Z")
KNOWN = ("read", "compared", "memory")
SHAPES = ("rect", "oval", "round")

TOP_KEYS = {"format", "id", "title", "pitch_mm", "side", "source", "settled", "nets", "names", "paths", "face",
            "layouts", "variants"}  # fmt: skip
NET_KEYS = {"role", "contacts", "volts", "volts_max", "withstands", "joined", "ground", "why"}
PATH_KEYS = {"between", "among", "ohms", "why", "absent", "source"}
LAYOUT_KEYS = {"id", "title", "source", "joints", "pads", "without", "note"}
PADS_KEYS = {"row", "at", "start", "step", "size", "shape", "note"}


def load_pin_map(path: Path | str, name: str = "") -> PinMap:
    """Read and check one pin map file.

    name: what to call the file in messages (default: the path as given). Raises InputError with all problems.
    """
    file = name or str(path)
    return parse_pin_map(read_capped(path, file, MAX_BYTES), file)


def parse_pin_map(raw: bytes, file: str) -> PinMap:
    """Check the bytes of a pin map file; see `load_pin_map`."""
    tree, problems = read_yaml(raw, file)
    reader = MapReader(file, problems)
    found = reader.pin_map(tree)
    if reader.problems or found is None:
        raise InputError(reader.problems)
    return found


class NameFields(Fields):
    """Fields that hold contact, joint or net names."""

    def names(self, tree: Tree | None, what: str) -> list[tuple[str, int]]:
        """A list of contact or joint names with ranges spelled out, each with its line."""
        found: list[tuple[str, int]] = []
        for item in self.items(tree, what):
            if not isinstance(item, Text):
                self.say(item, f"{what} holds something that is not a name")
                continue
            for name in expand(item.value):
                if NAME.match(name):
                    found.append((name, item.line))
                else:
                    self.say(item, f"'{name}' in {what} cannot be a name", "no spaces, commas, quotes or @")
            if len(found) > MAX_CONTACTS:
                self.say(item, f"{what} holds more than {MAX_CONTACTS:,} names")
                return found[:MAX_CONTACTS]
        return found

    def paths(self, tree: Tree | None, nets: set[str]) -> tuple[DesignPath, ...]:
        found = []
        for item in self.items(tree, "'paths'"):
            table = self.table(item, "a path", PATH_KEYS)
            if table is None:
                continue
            key = "among" if "among" in table.entries else "between"
            between = [name for name, _ in self.names(table.entries.get(key), f"'{key}'")]
            wanted = len(between) == 2 if key == "between" else len(between) > 2
            if not wanted or len(set(between)) < len(between) or len(between) > 64:
                self.say(
                    item, "a path needs 'between: [NET, NET]' with two different nets, or 'among' with three or more"
                )
                continue
            for name in between:
                if name not in nets:
                    self.say(item, f"a path names unknown net '{name}'", "use names from 'nets'")
            ohms = self.numbers(table.entries.get("ohms"), "'ohms' of a path", 2, 0)
            if ohms is None:
                if "ohms" not in table.entries:
                    self.say(item, "a path has no 'ohms'", "add 'ohms: [LOW, HIGH]'")
                continue
            if ohms[0] > ohms[1]:
                self.say(item, f"a path reads from {ohms[0]:g} to {ohms[1]:g} ohm", "write the lower value first")
            absent = self.word(table, "absent", "a path", ("may", "no"), "may") == "may"
            source = self.text(table, "source", "a path", required=False)
            why = self.text(table, "why", "a path")
            found.append(DesignPath(tuple(between), ohms[0], ohms[1], why, absent, source))
        return tuple(found)


class MapReader(NameFields):
    """Walks the tree of a pin map; a value that is wrong reads as None or its default."""

    # The parts of a map

    def pin_map(self, tree: Tree) -> PinMap | None:
        top = self.table(tree, "the pin map", TOP_KEYS)
        if top is None:
            return None
        if self.text(top, "format", "the pin map") not in ("1", ""):
            self.say(top.lines["format"], "an unknown format", "this version reads 'format: 1'")
        map_id = self.text(top, "id", "the pin map")
        if map_id and not ID.match(map_id):
            self.say(top.lines["id"], f"id '{map_id}'", "small letters, digits, '.' and '-' only")
        sources = self.sources(top)
        nets, lines = self.nets(top.entries.get("nets"), top)
        contacts = {contact: net.name for net in nets for contact in net.contacts}
        names = self.contact_names(top.entries.get("names"), contacts)
        layouts: list[Layout] = []
        for item in self.items(top.entries.get("layouts"), "'layouts'"):
            layout = self.layout(item, contacts)
            if layout is not None:
                if any(layout.id == other.id for other in layouts):
                    self.say(item, f"layout '{layout.id}' twice", "give each layout its own id")
                layouts.append(layout)
        if not top.entries.get("layouts"):
            self.say(top, "the pin map has no 'layouts'", "add at least one, with its pads in mm")
        elif not layouts and not self.problems:
            self.say(top.lines["layouts"], "no layout", "add at least one, with its pads in mm")
        found = PinMap(
            id=map_id,
            title=self.text(top, "title", "the pin map"),
            side=self.text(top, "side", "the pin map", required=False),
            sources=sources,
            nets=nets,
            names=names,
            layouts=tuple(layouts),
            paths=self.paths(top.entries.get("paths"), {net.name for net in nets}),
            face=self.face(top.entries.get("face"), contacts),
            settled=tuple(
                item.value for item in self.items(top.entries.get("settled"), "'settled'") if isinstance(item, Text)
            ),  # fmt: skip
            pitch_mm=self.number(top.entries.get("pitch_mm"), "'pitch_mm'", 0),
        )
        variants = tuple(v for item in self.items(top.entries.get("variants"), "'variants'")
                         if (v := self.variant(item, found)) is not None)  # fmt: skip
        object.__setattr__(found, "variants", variants)
        return found

    def sources(self, top: Table) -> tuple[Source, ...]:
        found = []
        for item in self.items(top.entries.get("source"), "'source'"):
            table = self.table(item, "a source", {"document", "known", "note"})
            if table is not None:
                document = self.text(table, "document", "a source")
                known = self.word(table, "known", "a source", KNOWN, "")
                if "known" not in table.entries:
                    self.say(table, "a source does not say how it is known", "add 'known: read|compared|memory'")
                found.append(Source(document, known, self.text(table, "note", "a source", required=False)))
        if not found:
            self.say(top.lines.get("source", top.line), "the pin map names no source",
                     "add 'source:' with '- {document: ..., known: read|compared|memory}'")  # fmt: skip
        return tuple(found)

    def nets(self, tree: Tree | None, top: Table) -> tuple[tuple[Net, ...], dict[str, int]]:
        table = self.table(tree, "'nets'")
        if table is None or not table.entries:
            if not isinstance(tree, Text | Items):
                self.say(tree or top, "the pin map has no nets", "add 'nets:' with a line for each net")
            return (), {}
        nets: list[Net] = []
        owner: dict[str, str] = {}
        for name, entry in table.entries.items():
            line = table.lines[name]
            if not NAME.match(name):
                self.say(line, f"net name '{name}'", "no spaces, commas, quotes or @, at most 32 characters")
            net = self.net(name, entry, line)
            if net is None:
                continue
            for contact in net.contacts:
                if contact in owner:
                    self.say(line, f"contact '{contact}' is in net '{name}' and in net '{owner[contact]}'",
                             "a contact belongs to one net")  # fmt: skip
                owner[contact] = name
            nets.append(net)
        return tuple(nets), table.lines

    def net(self, name: str, entry: Tree, line: int, contacts: tuple[str, ...] | None = None) -> Net | None:
        table = self.table(entry, f"net '{name}'", NET_KEYS if contacts is None else NET_KEYS | {"net", "name"})
        if table is None:
            return None
        what = f"net '{name}'"
        if "role" not in table.entries:
            self.say(line, f"{what} has no 'role'", f"add one of {', '.join(ROLES)}")
        role = self.word(table, "role", what, ROLES, "data")
        if contacts is None:
            listed = self.names(table.entries.get("contacts"), f"'contacts' of {what}")
            counts = Counter(contact for contact, _ in listed)
            for contact in sorted(contact for contact, count in counts.items() if count > 1):
                self.say(line, f"contact '{contact}' twice in {what}", "list each contact once")
            contacts = tuple(dict.fromkeys(contact for contact, _ in listed))
            if not contacts:
                self.say(line, f"{what} has no contacts", "add 'contacts: [...]' or remove the net")
        volts = self.number(table.entries.get("volts"), f"'volts' of {what}", -1000, 1000)
        if role == POWER and "volts" not in table.entries:
            self.say(line, f"{what} is a supply without volts", "add 'volts: ...', its nominal volts")
        if role != POWER and ("volts" in table.entries or "volts_max" in table.entries):
            self.say(line, f"{what} is {role} and has volts", "only a net of role power has volts")
        joined = self.word(table, "joined", what, ("must", "may"), "must" if role in ("ground", POWER) else "may")
        return Net(
            name=name,
            role=role,
            contacts=contacts,
            volts=volts,
            volts_max=self.number(table.entries.get("volts_max"), f"'volts_max' of {what}", -1000, 1000),
            withstands=self.number(table.entries.get("withstands"), f"'withstands' of {what}", 0, 1000),
            must_join=joined == "must" and len(contacts) > 1,
            may_be_open=joined == "may" and role in ("ground", POWER),
            ground=self.word(table, "ground", what, ("may", "apart"), "may" if role == SHELL else ""),
            why=self.text(table, "why", what, required=False),
        )

    def contact_names(self, tree: Tree | None, contacts: dict[str, str]) -> dict[str, str]:
        names = dict(contacts)
        table = self.table(tree, "'names'")
        for contact, entry in (table.entries if table else {}).items():
            if contact not in contacts:
                assert table is not None
                self.say(table.lines[contact], f"'names' gives a name to unknown contact '{contact}'")
            elif not isinstance(entry, Text):
                self.say(entry, f"the name of contact '{contact}' is not a text")
            else:
                names[contact] = entry.value
        return names

    def placed(self, tree: Tree, what: str) -> list[tuple[str, int, float, float, Table]]:
        """The named positions of one `{row: ..., start, step}` or `{at: {NAME: [x, y]}}` entry."""
        table = self.table(tree, what, PADS_KEYS)
        if table is None:
            return []
        if ("row" in table.entries) == ("at" in table.entries):
            self.say(
                tree, f"{what} needs either 'row' or 'at'", "row: [names] with start and step, or at: {NAME: [x, y]}"
            )
            return []
        if "at" in table.entries:
            spots = self.table(table.entries["at"], f"'at' of {what}")
            found = []
            for name, entry in (spots.entries if spots else {}).items():
                assert spots is not None
                xy = self.numbers(entry, f"the position of '{name}'", 2, -FARTHEST_MM, FARTHEST_MM)
                if xy is not None:
                    found.append((name, spots.lines[name], xy[0], xy[1], table))
            return found
        names = self.names(table.entries["row"], f"'row' of {what}")
        start = self.numbers(table.entries.get("start"), f"'start' of {what}", 2, -FARTHEST_MM, FARTHEST_MM)
        step = (
            self.numbers(table.entries.get("step"), f"'step' of {what}", 2, -FARTHEST_MM, FARTHEST_MM)
            if "step" in table.entries
            else [0.0, 0.0]
        )
        if "start" not in table.entries:
            self.say(tree, f"{what} has no 'start'", "add 'start: [x, y]' in mm")
        if "step" not in table.entries and len(names) > 1:
            self.say(tree, f"{what} has no 'step'", "add 'step: [dx, dy]' in mm")
        if start is None or step is None:
            return []
        return [(name, line, round(start[0] + i * step[0], 4), round(start[1] + i * step[1], 4), table)
                for i, (name, line) in enumerate(names)]  # fmt: skip

    def face(self, tree: Tree | None, contacts: dict[str, str]) -> tuple[FacePosition, ...]:
        found: dict[str, FacePosition] = {}
        for item in self.items(tree, "'face'"):
            for name, line, x, y, _ in self.placed(item, "a face row"):
                if name not in contacts:
                    self.say(line, f"the face shows unknown contact '{name}'", "use contacts from 'nets'")
                elif name in found:
                    self.say(line, f"the face shows contact '{name}' twice")
                else:
                    found[name] = FacePosition(name, x, y)
        return tuple(found.values())

    def layout(self, tree: Tree, contacts: dict[str, str]) -> Layout | None:
        table = self.table(tree, "a layout", LAYOUT_KEYS)
        if table is None:
            return None
        layout_id = self.text(table, "id", "a layout")
        what = f"layout '{layout_id}'"
        if layout_id and not ID.match(layout_id):
            self.say(table.lines["id"], f"layout id '{layout_id}'", "small letters, digits, '.' and '-' only")
        carries = self.carried(table, what, contacts)
        without = {name for name, _ in self.names(table.entries.get("without"), f"'without' of {what}")}
        joints: dict[str, Joint] = {}
        for entry in self.items(table.entries.get("pads"), f"'pads' of {what}"):
            for joint, line in self.pads(entry, what, carries):
                if joint.name in joints:
                    self.say(line, f"joint '{joint.name}' twice in {what}", "each joint has one place")
                    continue
                for contact in joint.contacts:
                    if contact not in contacts:
                        self.say(line, f"joint '{joint.name}' of {what} carries no known contact",
                                 "name it after a contact, or list it under 'joints'")  # fmt: skip
                joints[joint.name] = joint
        if not joints:
            self.say(tree, f"{what} has no pads", "add 'pads:' with rows or positions in mm")
            return None
        for name in carries:
            if name not in joints:
                self.say(tree, f"joint '{name}' of {what} has no pad", "place it under 'pads'")
        self.check_coverage(tree, what, contacts, without, joints)
        self.check_overlap(tree, what, joints)
        title = self.text(table, "title", what, required=False)
        return Layout(layout_id, title, self.text(table, "source", what), tuple(joints.values()))

    def carried(self, table: Table, what: str, contacts: dict[str, str]) -> dict[str, tuple[str, ...]]:
        carries: dict[str, tuple[str, ...]] = {}
        listed = self.table(table.entries.get("joints"), f"'joints' of {what}")
        for name, entry in (listed.entries if listed else {}).items():
            assert listed is not None
            carried = tuple(contact for contact, _ in self.names(entry, f"the contacts of joint '{name}'"))
            nets = {contacts[c] for c in carried if c in contacts}
            for contact in carried:
                if contact not in contacts:
                    self.say(listed.lines[name], f"joint '{name}' carries unknown contact '{contact}'")
            if len(nets) > 1:
                self.say(listed.lines[name], f"joint '{name}' carries contacts of different nets ({', '.join(sorted(nets))})",
                         "one joint is one conductor")  # fmt: skip
            carries[name] = carried
        return carries

    def pads(self, tree: Tree, what: str, carries: dict[str, tuple[str, ...]]) -> list[tuple[Joint, int]]:
        table = self.table(tree, f"a pad row of {what}", PADS_KEYS)
        if table is None:
            return []
        if "size" not in table.entries:
            self.say(tree, f"a pad row of {what} has no 'size'", "add 'size: [width, height]' in mm")
        size = self.numbers(table.entries.get("size"), f"'size' of {what}", 2, 0.01, LARGEST_PAD_MM)
        shape = self.word(table, "shape", f"a pad row of {what}", SHAPES, "rect")
        found = []
        for name, line, x, y, _ in self.placed(tree, f"a pad row of {what}"):
            if not NAME.match(name):
                self.say(line, f"joint name '{name}' in {what}", "no spaces, commas, quotes or @")
                continue
            carried = carries.get(name) or (("SH",) if SHELL_JOINT.match(name) else (name,))
            width, height = size or (0.01, 0.01)
            found.append((Joint(name, carried, x, y, width, height, shape), line))
        return found

    def check_coverage(
        self, tree: Tree, what: str, contacts: dict[str, str], without: set[str], joints: dict[str, Joint]
    ) -> None:
        on: dict[str, list[str]] = {}
        for joint in joints.values():
            for contact in joint.contacts:
                on.setdefault(contact, []).append(joint.name)
        for contact in sorted(without - contacts.keys()):
            self.say(tree, f"'without' of {what} names unknown contact '{contact}'")
        missing = [c for c in contacts if c not in on and c not in without and c != "SH"]
        if missing:
            self.say(
                tree,
                f"{what} places no joint for contact {', '.join(missing[:8])}",
                "place it, or list it under 'without'",
            )
        for contact, names in on.items():
            if contact in without:
                self.say(tree, f"{what} places contact '{contact}' and lists it under 'without'")
            if len(names) > 1 and contact != "SH":
                self.say(
                    tree, f"contact '{contact}' is on joints {', '.join(names)} of {what}", "a contact has one joint"
                )

    def check_overlap(self, tree: Tree, what: str, joints: dict[str, Joint]) -> None:
        from connector_check.pinout.geometry import pad_gaps

        for a, b, gap in pad_gaps(tuple(joints.values()), 0.0):
            if gap <= 0:
                self.say(
                    tree, f"joints '{a}' and '{b}' of {what} lie on top of each other", "check start, step and size"
                )

    def variant(self, tree: Tree, base: PinMap) -> Variant | None:
        table = self.table(tree, "a variant", {"id", "title", "why", "contacts"})
        if table is None:
            return None
        variant_id = self.text(table, "id", "a variant")
        changes = self.table(table.entries.get("contacts"), f"'contacts' of variant '{variant_id}'")
        owner = {contact: net.name for net in base.nets for contact in net.contacts}
        added: dict[str, Net] = {}
        names = dict(base.names)
        for contact, entry in (changes.entries if changes else {}).items():
            assert changes is not None
            line = changes.lines[contact]
            change = self.table(entry, f"contact '{contact}' of variant '{variant_id}'", NET_KEYS | {"net", "name"})
            if change is None:
                continue
            if contact not in owner:
                self.say(line, f"variant '{variant_id}' changes unknown contact '{contact}'")
                continue
            net_name = self.text(change, "net", f"contact '{contact}' of variant '{variant_id}'")
            owner[contact] = net_name
            names[contact] = self.text(change, "name", "a variant", required=False) or net_name
            if net_name not in base.net_named and net_name not in added:
                net = self.net(net_name, change, line, contacts=(contact,))
                if net is not None:
                    added[net_name] = net
        nets = []
        for net in [*base.nets, *added.values()]:
            members = tuple(contact for contact, name in owner.items() if name == net.name)
            if members:
                must = net.must_join if len(net.contacts) > 1 else net.role in ("ground", POWER)
                nets.append(_with_contacts(net, members, must and len(members) > 1))
        return Variant(variant_id, self.text(table, "title", "a variant"), self.text(table, "why", "a variant", False),
                       tuple(nets), names)  # fmt: skip


def _with_contacts(net: Net, contacts: tuple[str, ...], must_join: bool) -> Net:
    return net._replace(contacts=contacts, must_join=must_join)
