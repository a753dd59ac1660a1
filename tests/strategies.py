"""Shared by the tests: a tiny pin map, random maps and faults (hypothesis), and a simulated meter.

The simulated board is the oracle's side: truth is connectivity in a networkx graph of joints, shell, board points,
good joints as edges and solder bridges as edges. It shares no code with the program's knowledge.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import networkx as nx
from hypothesis import strategies as st

from connector_check.analysis.check import check
from connector_check.analysis.examine import Examined, Settings, examine
from connector_check.analysis.result import Result
from connector_check.board.board import Board
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap, Source
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.testlog.job import Log
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.readings import BEEP, OHMS, QUIET, Entry

TINY_YAML = """\
format: 1
id: tiny
title: a connector for the tests
source: [{document: invented for the tests, known: memory}]
nets:
  GND: {role: ground, contacts: [1, 4, 7]}
  +5V: {role: power, volts: 5, contacts: [2]}
  D+: {role: data, contacts: [3], withstands: 5.25}
  TX: {role: data, contacts: [5]}
  NC: {role: reserved, contacts: [6]}
  SHELL: {role: shell, contacts: [SH], ground: may}
layouts:
  - id: row
    source: invented for the tests
    pads:
      - {row: [1..7], start: [0, 0], step: [0.5, 0], size: [0.3, 1.0]}
      - {at: {SH1: [-2, 1], SH2: [5, 1]}, size: [1, 2], shape: oval}
"""


def tiny_board() -> Board:
    """Seven pins in a row: GND +5V GND-side D+ GND TX NC GND, two shell joints."""
    pin_map = parse_pin_map(TINY_YAML.encode(), "tiny.yaml")
    return Board(pin_map, pin_map.layouts[0])


def entry(board: Board, line: int, a: str, b: str, kind: str, ohms: float | None = None) -> Entry:
    """An entry by point names."""
    points = tuple(board.resolve(name) for name in (a, b) if name)
    assert None not in points
    return Entry(line, kind, points, ohms)  # type: ignore[arg-type]


def log(board: Board, text: str) -> list[Entry]:
    """Entries from lines such as `1 2 beep` (points without blanks)."""
    entries = []
    for line, row in enumerate(text.strip().splitlines(), 1):
        a, b, kind = row.split(maxsplit=2)
        entries.append(entry(board, line, a, b, kind.strip()))
    return entries


@st.composite
def boards(draw: st.DrawFn, most: int = 12) -> Board:
    """A random connector of one or two rows with random nets: grounds, supplies, data, reserved, maybe a shell."""
    count = draw(st.integers(4, most))
    rows = draw(st.sampled_from([1, 2]))
    pitch = draw(st.sampled_from([0.5, 0.8, 1.27, 2.54]))
    roles = draw(st.lists(st.sampled_from(["ground", "ground", "power", "data", "data", "data", "reserved"]),
                          min_size=count, max_size=count))  # fmt: skip
    nets: dict[str, tuple[str, list[str]]] = {}
    for i, role in enumerate(roles):
        name = {"ground": "GND", "power": f"V{draw(st.integers(0, 1))}"}.get(role, f"S{i}")
        nets.setdefault(name, (role, []))[1].append(str(i + 1))
    built = [
        Net(name, role, tuple(contacts), volts={"V0": 5.0, "V1": 12.0}.get(name) if role == "power" else None,
            must_join=len(contacts) > 1 and role in ("ground", "power"), ground="may" if role == "shell" else "")
        for name, (role, contacts) in nets.items()
    ]  # fmt: skip
    joints = [
        Joint(str(i + 1), (str(i + 1),), (i // rows) * pitch, (i % rows) * pitch * 2, pitch * 0.6, pitch * 0.6,
              draw(st.sampled_from(["rect", "round"])))
        for i in range(count)
    ]  # fmt: skip
    if draw(st.booleans()):
        built.append(Net("SHELL", "shell", ("SH",), ground="may"))
        joints += [Joint(f"SH{i}", ("SH",), x, 0.0, 0.5, 1.0, "oval") for i, x in ((1, -2.0), (2, count * pitch + 2.0))]
    names = {c: net.name for net in built for c in net.contacts}
    layout = Layout("random", "", "random", tuple(joints))
    pin_map = PinMap("random", "random", "", (Source("random", "memory"),), tuple(built), names, (layout,))
    return Board(pin_map, layout)


@dataclass
class SimulatedBoard:
    """A board with faults: bridges between joints, open joints. beeps() is the perfect meter on it."""

    board: Board
    bridges: list[tuple[int, int]] = field(default_factory=list)
    opens: set[int] = field(default_factory=set)
    shell_on_ground: bool = False

    def __post_init__(self) -> None:
        board = self.board
        graph = nx.Graph()
        graph.add_nodes_from(range(len(board.points)))
        for joint in range(len(board.joints)):
            if joint not in self.opens:
                graph.add_edge(joint, board.board_point[board.net_of[joint].name])
        if board.shell_point is not None:
            # the metal of the shell reaches a tab's solder only through a sound joint
            for joint in board.shell_joints:
                if joint not in self.opens:
                    graph.add_edge(joint, board.shell_point)
        grounds = [p for p in board.board_point.values() if board.net_of[p].role == "ground"]
        if self.shell_on_ground and board.shell_point is not None and grounds:
            graph.add_edge(board.shell_point, grounds[0])
        graph.add_edges_from(self.bridges)
        self.graph = graph
        self.component = {p: i for i, part in enumerate(nx.connected_components(graph)) for p in part}

    def beeps(self, a: int, b: int) -> bool:
        """Whether the meter sounds between two points."""
        return self.component[a] == self.component[b]

    def harmful(self) -> bool:
        """Whether any bridge group spans nets whose short is harmful, by the trade's rules written out again here."""
        groups: dict[int, set[tuple[str, str]]] = {}
        # a path from 0 ohm is a tie that the designer may have made: no fault
        tied = {p.nets[0]: self.board.pin_map.net_named[p.nets[1]] for p in self.board.pin_map.paths if p.low == 0}
        for point in range(len(self.board.points)):
            net = tied.get(self.board.net_of[point].name, self.board.net_of[point])
            groups.setdefault(self.component[point], set()).add((net.name, net.role))
        for nets in groups.values():
            roles = [role for _, role in nets]
            earth = {"ground", "shell"}
            if "power" in roles and len(nets) > 1:
                return True
            if "data" in roles and (roles.count("data") > 1 or earth & set(roles)):
                return True
        return False

    def open_in_scope(self) -> bool:
        """Whether a joint of a net that the board must join is open and, by its own, apart from that net."""
        return any(
            self.board.net_of[j].must_join and not self.beeps(j, self.board.board_point[self.board.net_of[j].name])
            for j in self.opens
        )

    def read(self, line: int, a: int, b: int) -> Entry:
        """One reading of the perfect meter: a beep or a quiet, and ohms where a part by design could have sounded (none
        is fitted on this board, so it reads solder or nothing)."""
        nets = [self.board.net_of[p] for p in (a, b)]
        if nets[0] is not nets[1] and self.board.design_ohms(nets[0].name, nets[1].name):
            return Entry(line, OHMS, (a, b), 0.1 if self.beeps(a, b) else float("inf"))
        return Entry(line, BEEP if self.beeps(a, b) else QUIET, (a, b))


def random_faults(
    board: Board, rng: random.Random, bridge: float, opening: float, scope: str = "near"
) -> SimulatedBoard:
    """Bridges drawn by gap among the scope's neighbours (odds fall by e for each 0.3 mm), opens by joint, and often
    both at one pin."""
    from math import exp

    number = board.number
    gaps = board.gaps(scope)
    least = min((mm for _, _, mm in gaps), default=0.0)
    bridges = [(number[a], number[b]) for a, b, mm in gaps if rng.random() < bridge * exp(-(mm - least) / 0.3)]
    opens = {j for j in range(len(board.joints)) if rng.random() < opening}
    if gaps and rng.random() < bridge:
        a, b, _ = rng.choice(gaps)
        bridges.append((number[a], number[b]))
        opens.add(number[a])
    return SimulatedBoard(board, bridges, opens, rng.random() < 0.5)


def probe_until_settled(sim: SimulatedBoard, scope: str = "near", most: int = 5000) -> tuple[list[Entry], str]:
    """Touch what the program still wants, pair by pair, until it settles; returns the readings and the verdict."""
    from connector_check.analysis.obligations import obligations
    from connector_check.analysis.replay import replay
    from connector_check.analysis.verdict import account, verdict

    board = sim.board
    needed = obligations(board, scope)
    entries: list[Entry] = []
    while len(entries) < most:
        standing = replay(board, entries, scope=scope)
        _, todo = account(board, standing.knowledge, needed, False)
        if not todo:
            return entries, verdict(standing, needed, False)
        for a, b in todo[: max(8, len(todo) // 2)]:
            entries.append(sim.read(len(entries) + 1, a, b))
    raise AssertionError("the wanted pairs never end")


def checked(board: Board, entries: Sequence[Entry], meter: Meter = UNKNOWN_METER, **settings: Any) -> Result:
    """The result of these entries on that board; settings: fields of `Settings`."""
    return check(Log(board, list(entries), meter), Settings(**settings))


def examined(board: Board, entries: Sequence[Entry], meter: Meter = UNKNOWN_METER, **settings: Any) -> Examined:
    """As `checked`, with what the result rests on."""
    return examine(Log(board, list(entries), meter), Settings(**settings))
