"""Shared by the tests: a tiny pin map, random maps and faults (hypothesis), the simulated board with a perfect meter.

The simulated board is the oracle's side: truth is what `connector_check.simulated` says of it, itself held to networkx
and scipy in `test_simulated_truth`. It shares no code with the program's knowledge.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from typing import Any

from hypothesis import strategies as st

from connector_check.analysis.examine import Examined, Settings, examine
from connector_check.analysis.meaning import DOUBTFUL, PART
from connector_check.analysis.obligations import obligations
from connector_check.analysis.replay import replay
from connector_check.analysis.result import Result
from connector_check.analysis.separating import EYES
from connector_check.analysis.verdict import account
from connector_check.board.board import Board
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap, Source
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.simulated import board as board_truth
from connector_check.simulated.board import Bridge
from connector_check.simulated.faults import Rates, draw_faults
from connector_check.testlog.job import Log
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.readings import (
    BEEP,
    LEADS_GOOD,
    OHMS,
    QUIET,
    SEEN_CLEAR,
    SOLDER_SEEN,
    Entry,
)

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
    role = st.sampled_from(["ground", "ground", "power", "data", "data", "data", "reserved"])
    roles = draw(st.lists(role, min_size=count, max_size=count))
    nets: dict[str, tuple[str, list[str]]] = {}
    for i, role in enumerate(roles):
        name = {"ground": "GND", "power": f"V{draw(st.integers(0, 1))}"}.get(role, f"S{i}")
        nets.setdefault(name, (role, []))[1].append(str(i + 1))
    built = [
        Net(
            name,
            role,
            tuple(contacts),
            volts={"V0": 5.0, "V1": 12.0}.get(name) if role == "power" else None,
            must_join=len(contacts) > 1 and role in ("ground", "power"),
            ground="may" if role == "shell" else "",
        )
        for name, (role, contacts) in nets.items()
    ]
    joints = [
        Joint(
            str(i + 1),
            (str(i + 1),),
            (i // rows) * pitch,
            (i % rows) * pitch * 2,
            pitch * 0.6,
            pitch * 0.6,
            draw(st.sampled_from(["rect", "round"])),
        )
        for i in range(count)
    ]
    if draw(st.booleans()):
        built.append(Net("SHELL", "shell", ("SH",), ground="may"))
        joints += [Joint(f"SH{i}", ("SH",), x, 0.0, 0.5, 1.0, "oval") for i, x in ((1, -2.0), (2, count * pitch + 2.0))]
    names = {c: net.name for net in built for c in net.contacts}
    layout = Layout("random", "", "random", tuple(joints))
    pin_map = PinMap("random", "random", "", (Source("random", "memory"),), tuple(built), names, (layout,))
    return Board(pin_map, layout)


class SimulatedBoard:
    """The shipped simulated board as these tests speak of it: bridges of 0 ohm as pairs of joints, a shell that the
    designer joined to the first ground or not, no parts fitted.
    """

    def __init__(
        self,
        board: Board,
        bridges: Iterable[tuple[int, int]] = (),
        opens: Iterable[int] = (),
        shell_on_ground: bool = False,
    ) -> None:
        self.board, self.bridges, self.opens = board, list(bridges), set(opens)
        self.shell_on_ground = shell_on_ground
        earth = [next((n.name for n in board.nets if n.role == role), "") for role in ("shell", "ground")]
        ties = ((earth[0], earth[1]),) if shell_on_ground and all(earth) else ()
        self.true = board_truth.SimulatedBoard(
            board, tuple(Bridge(a, b) for a, b in self.bridges), frozenset(self.opens), ties
        )

    def beeps(self, a: int, b: int) -> bool:
        """Whether the meter sounds between two points."""
        return self.true.ohms(a, b) < 10

    def harmful(self) -> bool:
        """Whether any linked group spans nets whose short is harmful, by the trade's rules written out again here."""
        for group in self.true.groups:
            nets = [self.board.net_of[p] for p in group]
            roles = [role for _, role in {(net.name, net.role) for net in nets}]
            earth = {"ground", "shell"}
            if "power" in roles and len(roles) > 1:
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

    def read(self, line: int, a: int, b: int, how: str = "") -> Entry:
        """One reading of the perfect meter: a beep or a quiet, and ohms where a part by design could have sounded (none
        is fitted on this board, so it reads solder or nothing). how: ohms, or eyes, where that is asked for.
        """
        if how == EYES:
            bridged = {a, b} in [set(bridge) for bridge in self.bridges]
            return Entry(line, SOLDER_SEEN if bridged else SEEN_CLEAR, (a, b))
        nets = [self.board.net_of[p] for p in (a, b)]
        if how == OHMS or (nets[0] is not nets[1] and self.board.design_ohms(nets[0].name, nets[1].name)):
            return Entry(line, OHMS, (a, b), self.true.ohms(a, b))
        return Entry(line, BEEP if self.beeps(a, b) else QUIET, (a, b))


def random_faults(
    board: Board, rng: random.Random, bridge: float, opening: float, scope: str = "near"
) -> SimulatedBoard:
    """Bridges drawn by gap among the scope's neighbours, opens by joint, and often both at one pin."""
    bridges, opens = draw_faults(board, rng, Rates(bridge, opening, both=bridge, bridge_ohms=0.0, scope=scope))
    return SimulatedBoard(board, [(b.a, b.b) for b in bridges], opens, rng.random() < 0.5)


def probe_until_settled(
    sim: SimulatedBoard, scope: str = "near", most: int = 5000, shorts_only: bool = True
) -> tuple[list[Entry], str]:
    """Touch what the program still wants, pair by pair, until it settles; returns the readings and the verdict.

    A tone that parts may carry is measured, ohms that parts may show are looked at, and a doubt is answered as asked.
    """
    board = sim.board
    needed = obligations(board, scope)
    entries: list[Entry] = []
    while len(entries) < most:
        standing = replay(board, entries, scope=scope)
        unsettled = [
            (reading.meaning, reading.entry.points) for reading in map(standing.reading, standing.closed.unsettled)
        ]
        wanted = [
            (EYES if meaning == PART else OHMS, pair) for meaning, pair in unsettled if meaning in (PART, DOUBTFUL)
        ]
        if not wanted:
            todo = account(standing, needed, shorts_only).todo
            wanted = [("", pair) for pair in todo[: max(8, len(todo) // 2)]]
        if not wanted:
            result = checked(board, entries, scope=scope, shorts_only=shorts_only)
            if result.doubt is None or result.doubt.pair is None:
                return entries, result.verdict
            a, b = (board.number[name] for name in result.doubt.pair)
            wanted = [(result.doubt.kind, (a, b))]
        for how, (a, b) in wanted:
            entries.append(sim.read(len(entries) + 1, a, b, how))
    raise AssertionError("the wanted pairs never end")


def checked(board: Board, entries: Sequence[Entry], meter: Meter = UNKNOWN_METER, **settings: Any) -> Result:
    """The result of these entries on that board; settings: fields of `Settings`."""
    return examined(board, entries, meter, **settings).result


def examined(board: Board, entries: Sequence[Entry], meter: Meter = UNKNOWN_METER, **settings: Any) -> Examined:
    """As `checked`, with what the result rests on. Signal contact is left out unless told otherwise, and leads proven
    before and after stand around the entries, so that tests of other things need not spell them out.
    """
    settings.setdefault("shorts_only", True)
    if settings.pop("leads", True):
        entries = [Entry(0, LEADS_GOOD, ()), *entries, Entry(0, LEADS_GOOD, ())]
    return examine(Log(board, list(entries), meter), Settings(**settings))
