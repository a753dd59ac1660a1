"""A board model by numbers, as the refuter searches it: conductors, readings between them, what is sound by itself.

A node is a conductor of the board: a net with those tied to it, or the inner node of a star of parts. A body is what a
lead touches on the connector: one joint, or all joints of one metal; it hangs on its node, or is loose when all its
joints are open. A spot is a node, or a loose body (numbered after the nodes). A region is a set of nodes that parts and
optional ties may connect. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations
from math import inf, prod
from typing import NamedTuple

from connector_check.analysis.refuter_model import BoardModel, Fault, Odds, SupposedBoard
from connector_check.analysis.refuter_network import Bound, Conflict, Fit, Matrix, Range, fit, matrix_of, root_box


class Body(NamedTuple):
    """Joints that are one conductor on the connector's side, the node they hang on, those whose contact is required."""

    joints: tuple[str, ...]
    node: int
    required: tuple[str, ...]


class Solder(NamedTuple):
    """A place for a bridge: its joints by name, their bodies."""

    joints: tuple[str, str]
    a: int
    b: int


class Touch(NamedTuple):
    """A reading by numbers; an end is a node, or `~body` for a body."""

    a: int
    b: int
    least: float
    most: float


class Tight(NamedTuple):
    """The narrowest that readings say of two spots, and which readings say it."""

    least: float
    low_from: int
    most: float
    high_from: int


Key = tuple[int, int]


def key_of(a: int, b: int) -> Key:
    """Two numbers as an unordered pair."""
    return (a, b) if a <= b else (b, a)


class Joined:
    """Disjoint sets of hashable things, as few as are named."""

    def __init__(self) -> None:
        self.parent: dict[int, int] = {}

    def find(self, x: int) -> int:
        """The set that x is in, named by its least member so far."""
        parent = self.parent
        while parent.get(x, x) != x:
            x = parent[x]
        return x

    def join(self, a: int, b: int) -> None:
        """Make one set of two; the lesser name stays."""
        a, b = sorted((self.find(a), self.find(b)))
        if a != b:
            self.parent[b] = a


def split(faults: Iterable[int]) -> tuple[list[int], list[int]]:
    """Loose bodies and bridges among faults by number."""
    numbers = sorted(faults)
    return [~fault for fault in numbers if fault < 0], [fault for fault in numbers if fault >= 0]


class Region(NamedTuple):
    """Nodes that parts may connect: those, its elements by number, the resistances at both ends of all ranges (rows in
    the order of the nodes), and whether its readings fit the board without faults.
    """

    nodes: tuple[int, ...]
    elements: tuple[int, ...]
    least: Matrix
    most: Matrix
    sound: Fit


class Index:
    """The model by numbers. Treat it as frozen."""

    def __init__(self, model: BoardModel) -> None:
        """Raise ValueError when the model names what it does not have, a metal lies on several nets, or optional ties
        alone could join nets that must be apart.
        """
        self.model = model
        self._number_nodes()
        self._number_bodies()
        self._number_solder()
        self._number_elements()
        self._number_readings()
        self._apart: dict[Key, bool] = {}
        self._find_conductors()
        self.regions = [self._region(nodes) for nodes in self._region_nodes]
        self.values = list(root_box(self.elements).high)
        for region in self.regions:
            for element, value in zip(region.elements, region.sound.values or (), strict=False):
                self.values[element] = value
        self.broken = [number for number, region in enumerate(self.regions) if region.sound.values is None]

    def _number_nodes(self) -> None:
        model, tied = self.model, Joined()
        number = {net: i for i, net in enumerate(model.nets)}
        for group in model.fixed_ties:
            for net in group[1:]:
                tied.join(number[group[0]], number[net])
        self.node: dict[str, int] = {}
        self.names: list[list[str]] = []
        firsts: dict[int, int] = {}
        for net, i in number.items():
            first = tied.find(i)
            if first not in firsts:
                firsts[first] = len(self.names)
                self.names.append([])
            self.node[net] = firsts[first]
            self.names[firsts[first]].append(net)
        for part in model.parts:
            for name in (part.a, part.b):
                if name not in self.node:
                    self.node[name] = len(self.names)
                    self.names.append([])

    def _number_bodies(self) -> None:
        model = self.model
        in_metal = {joint: metal for metal in model.metals for joint in metal.joints}
        members: dict[str, list[int]] = {metal.name: [] for metal in model.metals}
        for i, joint in enumerate(model.joints):
            name = in_metal[joint.name].name if joint.name in in_metal else joint.name
            members.setdefault(name, []).append(i)
        self.bodies: list[Body] = []
        self.body_of: dict[str, int] = {}
        for name, numbers in members.items():
            joints = [model.joints[i] for i in numbers]
            nodes = {self.node[joint.net] for joint in joints}
            if len(nodes) > 1:
                raise ValueError(f"the joints of metal {name} lie on several nets: name those nets as tied")
            if joints:
                self.body_of.update({joint.name: len(self.bodies) for joint in joints} | {name: len(self.bodies)})
                required = tuple(joint.name for joint in joints if joint.contact_required)
                self.bodies.append(Body(tuple(joint.name for joint in joints), nodes.pop(), required))

    def _number_solder(self) -> None:
        seen = {frozenset((r.a, r.b)) for r in self.model.readings if r.by_eye}
        self.solder: list[Solder] = []
        self.solder_at: list[list[int]] = [[] for _ in self.bodies]
        for pair in dict.fromkeys(self.model.bridge_scope):
            a, b = (self.body_of[name] for name in pair)
            if a != b and frozenset(pair) not in seen:
                seen.add(frozenset(pair))
                for body in (a, b):
                    self.solder_at[body].append(len(self.solder))
                self.solder.append(Solder(pair, a, b))

    def _number_elements(self) -> None:
        """Parts and ties as resistors between nodes; those within one conductor are none."""
        model = self.model
        self.elements: list[Range] = []
        self.element_of_part: list[int | None] = []
        for part in model.parts:
            a, b = self.node[part.a], self.node[part.b]
            self.element_of_part.append(len(self.elements) if a != b else None)
            if a != b:
                self.elements.append(Range(a, b, part.low, part.high, part.may_be_absent))
        ties: dict[Key, tuple[str, str]] = {}
        for tie in model.optional_ties:
            a, b = (self.node[net] for net in tie)
            if a != b:
                ties.setdefault(key_of(a, b), tie)
        self.ties = {len(self.elements) + i: pair for i, pair in enumerate(ties.values())}
        self.elements += [Range(a, b, 0.0, 0.0, True, True) for a, b in ties]
        self._tied_pairs = frozenset(ties)
        self.tie_nodes = {node for pair in ties for node in pair}
        joined = Joined()
        for element in self.elements:
            joined.join(element.a, element.b)
        numbers: dict[int, int] = {}
        self.region_of = [numbers.setdefault(joined.find(node), len(numbers)) for node in range(len(self.names))]
        self._region_nodes: list[list[int]] = [[] for _ in numbers]
        for node, number in enumerate(self.region_of):
            self._region_nodes[number].append(node)
        self._region_elements: list[list[int]] = [[] for _ in numbers]
        for i, element in enumerate(self.elements):
            self._region_elements[self.region_of[element.a]].append(i)
        self.solder_in: list[list[int]] = [[] for _ in numbers]
        for number, solder in enumerate(self.solder):
            for found in {self.region_of[self.bodies[body].node] for body in (solder.a, solder.b)}:
                self.solder_in[found].append(number)

    def _find_conductors(self) -> None:
        """What is one conductor when every optional tie is there, by each of its nodes."""
        tied, groups = Joined(), dict[int, set[int]]()
        for i in self.ties:
            tied.join(self.elements[i].a, self.elements[i].b)
        for node in self.tie_nodes:
            groups.setdefault(tied.find(node), set()).add(node)
        for nodes in groups.values():
            for a, b in combinations(sorted(nodes), 2):
                if self.apart(a, b):
                    raise ValueError(f"{self.names[a][0]} and {self.names[b][0]} must be apart and may be tied")
        self._conductors = {node: frozenset(nodes) for nodes in groups.values() for node in nodes}

    def tied(self, node: int) -> frozenset[int]:
        """What a node is one conductor with when every optional tie is there."""
        return self._conductors.get(node, frozenset([node]))

    def ties_key(self, tie: tuple[str, str]) -> Key:
        """An optional tie by its nodes."""
        return key_of(self.node[tie[0]], self.node[tie[1]])

    def end(self, point: str) -> int:
        """A named point as the end of a touch."""
        if point.startswith("@"):
            return self.node[point[1:]]
        return ~self.body_of[point]

    def home(self, end: int) -> int:
        """The node that an end of a touch hangs on."""
        return end if end >= 0 else self.bodies[~end].node

    def _number_readings(self) -> None:
        ends = {name: ~body for name, body in self.body_of.items()} | {"@" + n: i for n, i in self.node.items()}
        self.touches: list[Touch] = []
        self.touches_of: dict[Key, list[int]] = {}
        self.touches_at: list[list[int]] = [[] for _ in self.bodies]
        for reading in self.model.readings:
            if reading.by_eye or (reading.least <= 0 and reading.most == inf):
                continue
            if reading.a not in ends or reading.b not in ends:
                raise ValueError(f"no such point: {reading.a if reading.a not in ends else reading.b}")
            number, a, b = len(self.touches), ends[reading.a], ends[reading.b]
            self.touches.append(Touch(a, b, reading.least, reading.most))
            self.touches_of.setdefault(key_of(self.home(a), self.home(b)), []).append(number)
            for end in {a, b}:
                if end < 0:
                    self.touches_at[~end].append(number)
        self._number_touches()
        self.tight = {key: self.tightest(numbers) for key, numbers in self.touches_of.items()}
        self.keys_in: dict[Key, list[Key]] = {}
        self.torn: list[int] = []
        for key, tight in self.tight.items():
            regions = key_of(*(self.region_of[node] for node in key))
            if regions[0] != regions[1] and tight.most < inf:
                self.torn += [i for i in self.touches_of[key] if self.touches[i].most < inf]
            if key[0] != key[1] or tight.least > 0:
                self.keys_in.setdefault(regions, []).append(key)

    def _number_touches(self) -> None:
        """For each body: the pairs of nodes its touches are between, those that sounded, those by region."""
        self.keys_at = [
            frozenset(key_of(self.home(self.touches[i].a), self.home(self.touches[i].b)) for i in numbers)
            for numbers in self.touches_at
        ]
        self.sounding_at = [[i for i in numbers if self.touches[i].most < inf] for numbers in self.touches_at]
        self.touches_toward: list[dict[int, list[int]]] = [{} for _ in self.bodies]
        for body, numbers in enumerate(self.touches_at):
            for number in numbers:
                touch = self.touches[number]
                other = touch.b if touch.a == ~body else touch.a
                self.touches_toward[body].setdefault(self.region_of[self.home(other)], []).append(number)

    def tightest(self, numbers: Iterable[int]) -> Tight:
        """The narrowest of these readings."""
        least, low_from, most, high_from = 0.0, -1, inf, -1
        for number in numbers:
            touch = self.touches[number]
            if touch.least > least:
                least, low_from = touch.least, number
            if touch.most < most:
                most, high_from = touch.most, number
        return Tight(least, low_from, most, high_from)

    def _region(self, nodes: list[int]) -> Region:
        number = self.region_of[nodes[0]]
        elements = tuple(self._region_elements[number])
        row = {node: i for i, node in enumerate(nodes)}
        ranges = [self.elements[i]._replace(a=row[self.elements[i].a], b=row[self.elements[i].b]) for i in elements]
        bounds = [Bound(row[key[0]], row[key[1]], *self.tight[key]) for key in self.keys_in.get((number, number), ())]
        box = root_box(ranges)
        least, most = (matrix_of(len(nodes), ranges, values) for values in box)
        if not elements:
            low = frozenset[tuple[int, bool]]((bound.low_from, True) for bound in bounds)
            sound = Fit(None, tuple(Conflict([one]) for one in low)) if low else Fit(())
        else:
            sound = fit(len(nodes), ranges, bounds)
        return Region(tuple(nodes), elements, least, most, sound)

    def apart(self, a: int, b: int) -> bool:
        """Whether joining two nodes is bad. One conductor by design is not, nor what the designer may have tied."""
        key = key_of(a, b)
        if a == b or key in self._tied_pairs:
            return False
        if key not in self._apart:
            must = self.model.must_be_apart
            self._apart[key] = any(must(x, y) or must(y, x) for x in self.names[a] for y in self.names[b])
        return self._apart[key]

    def faults_of(self, board: SupposedBoard) -> frozenset[int]:
        """The faults of a supposed board by number: `~body` for one with all its joints open, else the solder place."""
        places = {frozenset(solder.joints): i for i, solder in enumerate(self.solder)}
        opens = set(board.opens)
        bodies = {self.body_of[joint] for joint in opens}
        loose = {~body for body in bodies if opens >= set(self.bodies[body].joints)}
        return frozenset(loose | {places[frozenset(pair)] for pair in board.bridges})

    def there(self, board: SupposedBoard) -> list[bool]:
        """Which parts and ties, by number, a supposed board has."""
        found = [False] * len(self.elements)
        for i, ohms in zip(self.element_of_part, board.part_ohms, strict=True):
            if i is not None:
                found[i] = ohms < inf
        for i, tie in self.ties.items():
            found[i] = tie in board.ties
        return found

    def named(self, faults: Iterable[int]) -> tuple[Fault, ...]:
        """Faults by the names of their joints, opens first."""
        loose, bridges = split(faults)
        opens = [(joint,) for body in sorted(loose) for joint in self.bodies[body].joints]
        return (*opens, *(self.solder[i].joints for i in bridges))

    def likely(self, faults: Iterable[int], odds: Odds) -> float:
        """The product of the odds of these faults."""
        return prod(odds(fault) for fault in self.named(faults))

    def size(self, faults: Iterable[int]) -> int:
        """How many joints are open and pairs bridged."""
        return sum(1 if fault >= 0 else len(self.bodies[~fault].joints) for fault in faults)

    def supposed(self, faults: Iterable[int], values: dict[int, float], solder: dict[int, float]) -> SupposedBoard:
        """A set of faults in the model's own words; values: of parts and ties other than on the sound board; solder:
        ohms of bridges.
        """
        chosen = [values.get(i, value) for i, value in enumerate(self.values)]
        ohms = tuple(
            part.low if i is None else chosen[i] for i, part in zip(self.element_of_part, self.model.parts, strict=True)
        )
        return SupposedBoard(
            self.named(faults),
            tuple(pair for i, pair in self.ties.items() if chosen[i] < inf),
            ohms,
            tuple(solder.get(i, 0.0) for i in split(faults)[1]),
        )
