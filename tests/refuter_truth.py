"""A second judge for the refuter: a board with chosen faults, ties and ohms, read through numpy's Laplacian.

It shares no code with the program. It rests on the same assumptions: joints, bridges and ties are 0 ohm (or as chosen),
parts are constant resistors, an open joint touches nothing but its bridges, all joints of a metal are one conductor.
"""

from __future__ import annotations

import random
from itertools import combinations, pairwise, product
from math import inf

import networkx as nx
import numpy as np

from connector_check.analysis.refuter_model import BoardModel, Metal, Part, Reading, SolderJoint


class Truth:
    """A board whose faults, ties and ohms are all chosen."""

    def __init__(self, model, faults, ties, part_ohms, bridge_ohms=None):
        self.model = model
        metal = {joint: m.name for m in model.metals for joint in m.joints}
        self.contact = {joint.name: ("pin", metal.get(joint.name, joint.name)) for joint in model.joints}
        self.contact |= {m.name: ("pin", m.name) for m in model.metals}
        self.links = nx.Graph()
        self.links.add_nodes_from(self.contact.values())
        self.links.add_nodes_from(("net", net) for net in model.nets)
        opens = {fault[0] for fault in faults if len(fault) == 1}
        for joint in model.joints:
            if joint.name not in opens:
                self.links.add_edge(self.contact[joint.name], ("net", joint.net))
        for group in (*model.fixed_ties, *ties):
            for a, b in pairwise(group):
                self.links.add_edge(("net", a), ("net", b))
        self.resistors = [(("net", p.a), ("net", p.b), ohms) for p, ohms in zip(model.parts, part_ohms, strict=True)]
        bridges = [fault for fault in faults if len(fault) == 2]
        wires = self.links.copy()
        for (a, b), ohms in zip(bridges, bridge_ohms or [0.0] * len(bridges), strict=True):
            self.links.add_edge(self.contact[a], self.contact[b])
            if ohms:
                self.resistors.append((self.contact[a], self.contact[b], ohms))
            else:
                wires.add_edge(self.contact[a], self.contact[b])
        wires.add_nodes_from(end for r in self.resistors for end in r[:2])
        wires.add_edges_from(r[:2] for r in self.resistors if r[2] == 0)
        self.place = {n: i for i, part in enumerate(nx.connected_components(wires)) for n in part}
        self.matrix = self.resistances()

    def resistances(self):
        size = max(self.place.values()) + 1
        laplacian = np.zeros((size, size))
        graph = nx.Graph()
        graph.add_nodes_from(range(size))
        for a, b, ohms in self.resistors:
            u, v = self.place[a], self.place[b]
            if u != v and 0 < ohms < inf:
                graph.add_edge(u, v)
                laplacian[[u, v], [u, v]] += 1 / ohms
                laplacian[[u, v], [v, u]] -= 1 / ohms
        found = np.full((size, size), inf)
        for part in nx.connected_components(graph):
            rows = sorted(part)
            inverse = np.linalg.pinv(laplacian[np.ix_(rows, rows)])
            diagonal = np.diag(inverse)
            found[np.ix_(rows, rows)] = np.maximum(diagonal[:, None] + diagonal[None, :] - 2 * inverse, 0)
        np.fill_diagonal(found, 0.0)
        return found

    def node(self, point):
        return ("net", point[1:]) if point.startswith("@") else self.contact[point]

    def ohms(self, a, b):
        return float(self.matrix[self.place[self.node(a)], self.place[self.node(b)]])

    def fits(self, tolerance=0.0):
        """Whether every standing reading could have been read on this board."""
        for r in self.model.readings:
            ohms = self.ohms(r.a, r.b)
            if not r.by_eye and not r.least * (1 - tolerance) - 1e-7 <= ohms <= r.most * (1 + tolerance) + 1e-7:
                return False
        return True

    def bad(self):
        """A required joint without its board point, or one conductor over nets that must be apart."""
        for joint in self.model.joints:
            if joint.contact_required and not nx.has_path(self.links, self.contact[joint.name], ("net", joint.net)):
                return True
        net = {self.contact[joint.name]: joint.net for joint in self.model.joints}
        for part in nx.connected_components(self.links):
            nets = {n[1] if n[0] == "net" else net[n] for n in part}
            tied = nx.Graph()
            tied.add_edges_from((a, b) for group in self.model.fixed_ties for a, b in combinations(group, 2))
            for a, b in combinations(sorted(nets), 2):
                by_design = a in tied and b in tied and nx.has_path(tied, a, b)
                if self.model.must_be_apart(a, b) and not by_design:
                    return True
        return False


def fault_sets(model):
    """All sets of faults within the bound, fewest first."""
    faults = [(j.name,) for j in model.joints] + list(model.bridge_scope)
    found = [frozenset(chosen) for count in range(3) for chosen in combinations(faults, count)]
    for joint in model.joints:
        at = [pair for pair in model.bridge_scope if joint.name in pair]
        found += [frozenset([(joint.name,), *chosen]) for count in (2, 3) for chosen in combinations(at, count)]
    return found


def part_grid(part):
    values = [part.low, (part.low + part.high) / 2, part.high]
    return [*values, inf] if part.may_be_absent else values


def boards_of(model, faults):
    """The boards with these faults, every set of ties and the parts on a grid."""
    for count in range(len(model.optional_ties) + 1):
        for ties in combinations(model.optional_ties, count):
            for ohms in product(*(part_grid(part) for part in model.parts)):
                yield Truth(model, faults, ties, ohms)


RANGES = [(70, 80), (0.2, 1.2), (0, 1), (60, 120), (145, 160), (20, 40), (3000, 7000)]
METERS = [(10, 250), (30, 30), (10, 35), (50, 75), (100, 150), (5, 40)]


def random_model(rng: random.Random, most_joints: int = 5) -> BoardModel:
    """A tiny connector with parts, ties and a metal, nothing read yet."""
    count = rng.randint(2, most_joints)
    nets = ["GND", "G2", "S", "T"][: rng.randint(2, 4)]
    joints = [SolderJoint(str(i), rng.choice(nets), rng.random() < 0.8) for i in range(count)]
    scope = [(str(i), str(k)) for i, k in combinations(range(count), 2) if k - i == 1 or rng.random() < 0.25]
    grounds, tied_signal = {"GND", "G2"}, len(nets) == 4 and rng.random() < 0.2
    if tied_signal:
        grounds |= {"S"}
    mild = frozenset(rng.sample(nets, 2)) if rng.random() < 0.3 else frozenset()
    parts = []
    for _ in range(rng.randint(0, 2)):
        low, high = rng.choice(RANGES)
        parts.append(Part(*rng.sample(nets, 2), low, high, rng.random() < 0.7))
    together = [joint.name for joint in joints if joint.net == joints[0].net]
    metals = (Metal("SH", tuple(together[:2])),) if len(together) > 1 and rng.random() < 0.3 else ()
    ties = (("GND", "G2"),) if "G2" in nets and rng.random() < 0.6 else ()
    if tied_signal:
        ties = (*ties, ("S", "G2"))
    meter = rng.choice(METERS)
    fixed = (("GND", "G2"),) if "G2" in nets and not ties and rng.random() < 0.3 else ()
    return BoardModel(
        tuple(nets),
        tuple(joints),
        tuple(scope),
        lambda a, b: a != b and not {a, b} <= grounds and {a, b} != mild,
        (),
        metals,
        tuple(parts),
        fixed,
        ties,
        0.0,
        *meter,
    )


def with_readings(model: BoardModel, truth: Truth, rng: random.Random, share: float) -> BoardModel:
    """The model with some pairs of points read on that board by this model's meter."""
    import dataclasses

    points = [joint.name for joint in model.joints] + [m.name for m in model.metals] + ["@" + n for n in model.nets]
    readings = []
    for a, b in combinations(points, 2):
        if rng.random() > share:
            continue
        ohms = truth.ohms(a, b)
        if rng.random() < 0.3 and ohms < 1e4:
            shown = ohms * rng.uniform(0.99, 1.01) + rng.uniform(-0.3, 0.3)
            shown = max(shown, 0.0)
            margin = 0.02 * shown + 0.5
            readings.append(Reading(a, b, max(shown - margin, 0.0), shown + margin))
        elif ohms < model.sounds_below * 1.001 or (ohms <= model.silent_above and rng.random() < 0.5):
            if ohms <= model.silent_above:
                readings.append(Reading(a, b, 0.0, model.silent_above))
        else:
            readings.append(Reading(a, b, model.sounds_below * 1.001, inf))
    return dataclasses.replace(model, readings=tuple(readings))


def random_truth(model: BoardModel, rng: random.Random, faults) -> Truth:
    """A board with these faults, its ties and parts drawn (half of the parts on the grid of `part_grid`)."""
    ties = [tie for tie in model.optional_ties if rng.random() < 0.5]
    ohms = []
    for part in model.parts:
        value = rng.choice(part_grid(part)) if rng.random() < 0.5 else rng.uniform(part.low, part.high)
        ohms.append(value)
    return Truth(model, faults, ties, ohms)
