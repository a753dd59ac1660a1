"""Board notes out of a KiCad board file: what its nets and its two-pin parts say about one connector.

Pure: text in, notes out. Followed are single parts and two in series between nets of the connector; chips, diodes and
transistors are taken as open. What the file cannot tell is listed, never guessed in silence.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from itertools import combinations

from connector_check.board.notes import APART, MAY, TIED, BoardNotes, ShellRule
from connector_check.errors import InputError
from connector_check.files.sexpr import read_sexpr
from connector_check.files.text import natural
from connector_check.kicad.board_parts import Part, PartPath, magnetics, parts_of, paths_of_part
from connector_check.kicad.files import kicad_problem
from connector_check.pinout.pinmap import DATA, GROUND, POWER, RESERVED, SHELL, DesignPath, PinMap
from connector_check.pinout.roles import guess

CHAIN_OHMS = 1000.0
"""Two parts in series are told up to this: four times the least sensitive beeper's threshold (250 ohm)."""
LARGEST_OHMS, LARGEST_STAR = 1e6, 64
SHELL_NUMBERS = ("0",)
"""KiCad's D-sub footprints number the holes of the shell 0."""


def derive(text: str, reference: str, pin_map: PinMap, file: str = "the board file") -> tuple[BoardNotes, list[str]]:
    """Notes for the connector of that reference on a `.kicad_pcb` board, and what could not be told, a line each.

    pin_map: with its variant chosen; its contacts are matched to pad numbers. file: for messages. Raises InputError.
    """
    try:
        root = read_sexpr(text)
        if root.name != "kicad_pcb":
            raise ValueError(f"line {root.line}: expected (kicad_pcb ...), found ({root.name} ...)")
        title = root.first("title_block")
        named = title.first("title") if title else None
        parts = parts_of(root)
    except ValueError as error:
        raise kicad_problem(file, error) from None
    found = [part for part in parts if part.reference == reference]
    if len(found) != 1:
        near = sorted({p.reference for p in parts if p.reference[:1] in (reference[:1], "J", "P")}, key=natural)
        what = f"'{reference}' is on {len(found)} footprints" if found else f"no footprint '{reference}' on this board"
        raise InputError.one(file, 0, what, f"it has {', '.join(near[:12]) or 'no connector'}")
    board = ", ".join(
        word for word in (named.args[0] if named and named.args else "", f"{reference} of {file}") if word
    )
    sign = magnetics(found[0])
    if sign:
        return BoardNotes(pin_map.id, board), [
            f"{reference} looks like a jack with magnetics ({sign}): its solder pins are not the cable contacts; "
            "it needs a pin map of its own, with windings and centre taps as paths"
        ]
    return _Derivation(parts, found[0], pin_map, file).notes(board)


class _Derivation:
    def __init__(self, parts: list[Part], connector: Part, pin_map: PinMap, file: str) -> None:
        self.connector, self.pin_map, self.file = connector, pin_map, file
        self.parts = [part for part in parts if part is not connector]
        self.listed: list[str] = []
        used: dict[str, set[tuple[int, str]]] = defaultdict(set)
        for index, part in enumerate(parts):
            for pad in part.pads:
                used[pad.net].add((index, pad.number))
        self.shared = {net for net, pads in used.items() if net and len(pads) > 1}
        self.nets_of = self.contacts()
        self.mains = self.main_nets()
        grounds = Counter(self.mains[n.name] for n in pin_map.nets if n.role == GROUND and n.name in self.mains)
        named = [net for net in grounds if _board_role(net) == GROUND]
        self.ground = max(named or grounds, key=lambda net: grounds[net], default="")
        if not grounds:
            self.say("no ground contact of the map is on a net with other pads: board ground is not told")
        elif not named:
            self.say(f"board ground is taken as {self.ground}, whose name does not say ground; confirm the map")

    def say(self, line: str) -> None:
        self.listed.append(line)

    def notes(self, board: str) -> tuple[BoardNotes, list[str]]:
        disagree = list(self.contradictions())
        if disagree:
            return BoardNotes(self.pin_map.id, board), [
                *disagree,
                "the map and the board disagree, so nothing is derived: is it the right map, numbered as on this board?",
            ]
        fitted = {contact for contact in self.pin_map.net_of if contact == "SH" or contact in self.nets_of}
        left_open = [c for c in self.pin_map.net_of if c in fitted and c != "SH" and not self.joined(c)]
        ties = self.ties()
        found = BoardNotes(
            map=self.pin_map.id,
            board=board,
            ties=ties,
            paths=self.paths(self.terminals()),
            not_fitted=tuple(sorted((c for c in self.pin_map.net_of if c not in fitted), key=natural)),
            left_open=tuple(sorted(left_open, key=natural)),
            shell=self.shell(),
            volts=self.volts(),
            points=self.points(),
        )
        return found, self.listed

    # Contacts and nets

    def contacts(self) -> dict[str, list[str]]:
        """The board nets of each contact that has a pad."""
        by_name: dict[str, tuple[str, ...]] = {}
        for layout in self.pin_map.layouts:
            by_name.update({joint.name.upper(): joint.contacts for joint in layout.joints})
        by_name.update({contact.upper(): (contact,) for contact in self.pin_map.net_of})
        found: dict[str, list[str]] = {}
        strange: dict[str, list[str]] = {}
        for pad in self.connector.pads:
            contacts = by_name.get(pad.number.upper(), ())
            is_shell = any(guess(word).role == SHELL for word in (pad.number, pad.function) if word)
            if not contacts and "SH" in self.pin_map.net_of and (is_shell or pad.number in SHELL_NUMBERS):
                contacts = ("SH",)
            for contact in contacts:
                found.setdefault(contact, []).append(pad.net)
            if not contacts:
                strange.setdefault(pad.number, []).append(pad.net)
        unknown = []
        for number, nets in strange.items():
            if len(nets) > 1 and "SH" in self.pin_map.net_of and "SH" not in found:
                self.say(f"pad {number} ({len(nets)} of them) is no contact of {self.pin_map.id}: taken as the shell")
                found["SH"] = nets
            else:
                unknown.append(f"{number} (net {nets[0] or 'none'})")
        if unknown:
            self.say(f"pads that are no contacts of {self.pin_map.id}: {', '.join(unknown)}")
        matched = sum(1 for contact in found if contact != "SH")
        if 2 * matched <= self.pin_map.contact_count or len(unknown) > matched:
            numbers = ", ".join(list(dict.fromkeys(pad.number for pad in self.connector.pads))[:12]) or "no numbers"
            raise InputError.one(self.file, self.connector.line,
                                 f"pads of {self.connector.reference} ({numbers}) do not fit {self.pin_map.id}: {matched} "
                                 f"of its {self.pin_map.contact_count} contacts, {len(unknown)} pads that are none",
                                 "choose the map of this connector, or write one with new-map")  # fmt: skip
        return found

    def contradictions(self) -> Iterable[str]:
        """Supplies on a net named as ground and the reverse, which a wrong map or numbering gives."""
        opposite = {GROUND: POWER, POWER: GROUND}
        for net in self.pin_map.nets:
            for contact in net.contacts:
                for board_net in dict.fromkeys(self.joined(contact)):
                    if net.role in opposite and _board_role(board_net) == opposite[net.role]:
                        yield f"contact {contact} is {net.name} ({net.role}) in the map and on {board_net} on the board"

    def joined(self, contact: str) -> list[str]:
        """The nets of that contact which have other pads."""
        return [net for net in self.nets_of.get(contact, ()) if net in self.shared]

    def main_nets(self) -> dict[str, str]:
        """The board net of each net of the map; contacts elsewhere are listed."""
        mains: dict[str, str] = {}
        for net in self.pin_map.nets:
            counted = Counter(
                board_net for contact in net.contacts for board_net in dict.fromkeys(self.joined(contact))
            )
            if counted:
                mains[net.name] = counted.most_common(1)[0][0]
        for net in self.pin_map.nets:
            for contact in net.contacts:
                for other in sorted(set(self.joined(contact)) - {mains.get(net.name)}):
                    owner = next((f", which is that of {n}" for n, main in mains.items() if main == other), "")
                    self.say(f"contact {contact} of {net.name} is on board net {other}{owner}, "
                             f"its fellows on {mains[net.name]}: left as in the map; a variant of the map, or 'left_open'")  # fmt: skip
        return mains

    def ties(self) -> tuple[frozenset[str], ...]:
        groups: dict[str, list[str]] = {}
        for name, board_net in self.mains.items():
            if self.pin_map.net_named[name].role != SHELL:
                groups.setdefault(board_net, []).append(name)
        found = []
        for board_net, names in groups.items():
            nets = [self.pin_map.net_named[name] for name in names]
            supplies = {net.volts for net in nets if net.role == POWER}
            says = _board_role(board_net)
            if says in (GROUND, POWER) and all(net.role in (DATA, RESERVED) for net in nets):
                self.say(f"{', '.join(names)} on board net {board_net}: named as {says}, {nets[0].role} in the map; "
                         "use a map that says so, or give 'volts'")  # fmt: skip
            if len(supplies) > 1 or (supplies and any(net.role == GROUND for net in nets)):
                self.say(f"{', '.join(names)} are all on board net {board_net}: the map and the board disagree")
            elif len(names) > 1:
                found.append(frozenset(names))
        return tuple(found)

    def shell(self) -> ShellRule | None:
        if not any(net.role == SHELL for net in self.pin_map.nets):
            return None
        if "SH" not in self.nets_of:
            self.say("the footprint has no pad that is known as the shell: whether it is on ground is not told")
            return None
        nets = set(self.joined("SH"))
        if not nets:
            return ShellRule(MAY, "its pads are joined to nothing")
        if not self.ground:
            return None
        if nets == {self.ground}:
            return ShellRule(TIED, f"its pads are on {self.ground}")
        others = ", ".join(sorted(nets - {self.ground}))
        if self.ground in nets:
            self.say(f"the pads of the shell are on several nets: {self.ground}, {others}")
            return ShellRule(MAY, "some of its pads are on ground")
        joins = [p for part in self.parts for p in paths_of_part(part)[0] if {p.a, p.b} == {others, self.ground}]
        if any(path.high <= 2.0 for path in joins):
            return ShellRule(MAY, f"on {others}, joined to {self.ground} by {joins[0].why}")
        return ShellRule(APART, f"its pads are on {others}, not on {self.ground}")

    def volts(self) -> dict[str, float]:
        found = {}
        for net in self.pin_map.nets:
            told = guess(_short(self.mains.get(net.name, "")))
            is_supply = net.role == POWER == told.role and net.volts_max is None
            if is_supply and told.volts not in (None, net.volts):
                assert told.volts is not None
                found[net.name] = told.volts
                self.say(f"volts of {net.name} are read from the name of its board net, {self.mains[net.name]}")
        return found

    def points(self) -> dict[str, str]:
        terminals = self.terminals()
        found = {}
        for part in sorted(self.parts, key=lambda part: natural(part.reference)):
            nets = {pad.net for pad in part.pads}
            if part.prefix == "TP" and len(nets) == 1 and (name := terminals.get(*nets)) is not None:
                found[part.reference] = name
        return found

    def terminals(self) -> dict[str, str]:
        """The map's net for each board net at the connector; of tied nets ground first, then supply."""
        order = {GROUND: 0, POWER: 1}
        names = sorted(self.mains, key=lambda name: order.get(self.pin_map.net_named[name].role, 2))
        found: dict[str, str] = {}
        for name in names:
            found.setdefault(self.mains[name], name)
        return found

    # Paths

    def paths(self, terminals: dict[str, str]) -> tuple[DesignPath, ...]:
        edges: dict[tuple[str, str], list[PartPath]] = {}
        for part in sorted(self.parts, key=lambda part: natural(part.reference)):
            told, why_not = paths_of_part(part, set(terminals))
            touched = {terminals[pad.net] for pad in part.pads if pad.net in terminals}
            signals = [name for name in touched if self.pin_map.net_named[name].role not in (GROUND, POWER)]
            if why_not and (signals or len(touched) > 1):
                self.say(
                    f"{part.reference} ({part.value or part.footprint}) at {', '.join(sorted(touched))}: {why_not}"
                )
            for path in told:
                if path.a != path.b:
                    edges.setdefault((min(path.a, path.b), max(path.a, path.b)), []).append(path)
        found = []
        around: dict[str, dict[str, PartPath]] = defaultdict(dict)
        for (a, b), several in edges.items():
            whole = _parallel(several)
            if a in terminals and b in terminals:
                found.append(self.path((terminals[a], terminals[b]), whole.low, whole.high, whole.why))
            elif a in terminals or b in terminals:
                node, terminal = (b, a) if a in terminals else (a, b)
                around[node][terminals[terminal]] = whole
        for node, legs in around.items():
            if len(legs) > 1:
                found += self.chains(node, legs)
        return tuple(path for path in found if path is not None)

    def chains(self, node: str, legs: dict[str, PartPath]) -> Iterable[DesignPath | None]:
        if len(legs) > 2 and len({(leg.low, leg.high) for leg in legs.values()}) == 1 and len(legs) <= LARGEST_STAR:
            low, high = next((leg.low, leg.high) for leg in legs.values())
            if 2 * low <= CHAIN_OHMS:
                why = f"{', '.join(leg.why for leg in legs.values())} to {node}"
                yield self.path(tuple(legs), 2 * low, 2 * high, why)
            return
        for (a, one), (b, two) in combinations(legs.items(), 2):
            if one.low + two.low <= CHAIN_OHMS:
                yield self.path((a, b), one.low + two.low, one.high + two.high, f"{one.why} and {two.why} by {node}")

    def path(self, nets: tuple[str, ...], low: float, high: float, why: str) -> DesignPath | None:
        if low > LARGEST_OHMS:
            return None
        return DesignPath(nets, round(low, 4), round(min(high, LARGEST_OHMS), 4), why, True, self.file)


def _parallel(several: list[PartPath]) -> PartPath:
    if len(several) == 1:
        return several[0]

    def together(ohms: list[float]) -> float:
        return 0.0 if 0.0 in ohms else 1 / sum(1 / value for value in ohms)

    low, high = together([path.low for path in several]), together([path.high for path in several])
    return PartPath(several[0].a, several[0].b, low, high, " beside ".join(path.why for path in several))


def _short(board_net: str) -> str:
    """The net's name without its sheet."""
    return board_net.rpartition("/")[2].replace("{slash}", "/")


def _board_role(board_net: str) -> str:
    return guess(_short(board_net)).role
