"""Each rule of contact and of scope switched off is caught by a worked board."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import pytest

from connector_check.analysis.contact import Contacts
from connector_check.analysis.obligations import Obligations, obligations
from connector_check.analysis.replay import replay
from connector_check.analysis.states import joint_states
from connector_check.board.board import Board
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap
from connector_check.probing import steps, wanted
from connector_check.probing.steps import DONE, IRON
from connector_check.testlog.readings import OHMS, QUIET, VOLTS, Entry
from tests.planted import ANALYSIS, Defect, caught, edit, swap, vga
from tests.strategies import SimulatedBoard, checked, examined, log, probe_until_settled, tiny_board
from tests.test_diode import BUS
from tests.test_findings import with_part
from tests.test_replay import GOOD
from tests.test_session import drive, start

# 1. Contact


def needed_without(field: str) -> Callable[[Board, str], Obligations]:
    return lambda board, scope: dataclasses.replace(obligations(board, scope), **{field: ()})


def joins_to_fellows(board: Board, scope: str) -> Obligations:
    """Each joint of a net that must join against a fellow, in place of its board point (T6)."""
    needed = obligations(board, scope)
    fellows = tuple(
        (joint, next(other for other in board.joints_of[board.net_of[joint].name] if other != joint))
        for joint, _ in needed.joins
    )
    return dataclasses.replace(needed, joins=fellows)


FELLOWS = GOOD.replace("@GND 1 beep", "1 4 beep").replace("@GND 4 beep", "4 7 beep").replace("@GND 7 beep", "1 7 beep")


def contacts_of(board: Board, *entries: Entry) -> set[str]:
    standing = replay(board, list(entries))
    found = Contacts(standing, standing.knowledge)
    return {board.points[joint] for joint in range(len(board.joints)) if found.proven(joint)}


def an_odd_junction_proves_no_contact() -> bool:
    ground = BUS.board_point["GND"]
    volts = {f"D{n}": 0.512 for n in range(8)} | {"D3": 0.2}
    lines = enumerate(volts.items(), 1)
    entries = [Entry(i, VOLTS, (BUS.joints_of[net][0], ground), value) for i, (net, value) in lines]
    odd = BUS.joints_of["D3"][0]
    entries += [Entry(20 + joint, QUIET, (odd, joint)) for joint in range(len(BUS.joints)) if joint != odd]
    return BUS.points[odd] not in contacts_of(BUS, *entries)


def every_junction(board: Board, entries: list[Entry]) -> frozenset[int]:
    return frozenset(min(e.points) for e in entries if e.kind == VOLTS)


def said_where_to_touch() -> int:
    """How often a session tells where to touch for contact."""
    board = tiny_board()
    session, sim, said = start(board), SimulatedBoard(board), 0
    while session.step().kind not in (DONE, IRON):
        points = session.step().points
        said += session.said.count(wanted.WHERE_TO_TOUCH)
        session.said.clear()
        kind = "beep" if points is None or sim.beeps(*points) else "quiet"
        session.accept(session.entries_of(session.answer(kind)))
    return said


def shell_is_asked() -> bool:
    board = tiny_board()
    session = start(board)
    drive(session, SimulatedBoard(board))
    shell = {board.number["SH"], board.number["@SHELL"]}
    return sum(set(e.points) == shell for e in session.entries) == 1


CONTACT = [
    Defect(
        "the contact of single signals",
        swap(f"{ANALYSIS}.examine.obligations", needed_without("contacts")),
        lambda: vga(gone=("3-@BLUE",)).verdict == "unproven",
    ),
    Defect(
        "a sole supply joint needs its contact like any other",
        edit(Board.must_reach, "SHELL, RESERVED", "SHELL, RESERVED, 'power'"),
        lambda: vga("9,@+5V,quiet", gone=("9-@+5V",)).parts.contact == "rework",
    ),
    Defect(
        "joins go to the board point, not to fellows (T6)",
        swap(f"{ANALYSIS}.examine.obligations", joins_to_fellows),
        lambda: checked(tiny_board(), log(tiny_board(), FELLOWS)).verdict == "unproven",
    ),
    Defect(
        "a joint whose contact was left out is apart, not proven",
        swap(f"{ANALYSIS}.contact.Contacts.proven", lambda self, joint: True),
        lambda: joint_states(examined(tiny_board(), log(tiny_board(), GOOD)))["3"].kind == "apart",
    ),
    Defect(
        "ohms of a part prove contact only to a point that is proven itself",
        swap(f"{ANALYSIS}.contact.Contacts._is_board", lambda self, point: True),
        lambda: not contacts_of(with_part("TX, D+", 70, 80), Entry(1, OHMS, (2, 4), 75.0)),
    ),
    Defect(
        "a junction proves contact only when it is like its fellows'",
        swap(f"{ANALYSIS}.contact.joints_with_junction", every_junction),
        an_odd_junction_proves_no_contact,
    ),
    Defect(
        "where to touch is told",
        swap("connector_check.probing.steps.is_contact", lambda progress, touch: False),
        lambda: said_where_to_touch() == 1,
    ),
    Defect(
        "where to touch is told once",
        edit(steps._touch, "progress.where_was_told = True", "pass"),
        lambda: said_where_to_touch() == 1,
    ),
    Defect(
        "the shell that floats is asked once, for information",
        swap("connector_check.probing.progress.obligations", needed_without("information")),
        shell_is_asked,
    ),
]


# 3. Scope


def settled(map_id: str, *bridges: tuple[str, str]) -> set[str]:
    """The verdicts on boards with one such bridge each, with everything touched that the scope asks."""
    pin_map = find_pin_map(map_id)
    found = set()
    for a, b in bridges:
        board = Board(pin_map, pin_map.layouts[0])
        sim = SimulatedBoard(board, [(board.number[a], board.number[b])])
        found.add(probe_until_settled(sim)[1])
    return found


def far_apart() -> str:
    """Two lines 4.7 mm apart, the nearest there are, with solder between them."""
    nets = tuple(Net(f"S{i}", "data", (str(i),)) for i in (1, 2, 3))
    layout = Layout("row", "", "invented", tuple(Joint(str(i), (str(i),), 5.0 * i, 0, 0.3, 1.0) for i in (1, 2, 3)))
    board = Board(PinMap("row", "row", "", (), nets, {}, (layout,)), layout)
    return probe_until_settled(SimulatedBoard(board, [(0, 1)]))[1]


NEAR_GAPS = Board.near_gaps.func


def in_one_row(self: Board):
    return [(a, b, mm) for a, b, mm in NEAR_GAPS(self) if len({self.joints[self.number[n]].y for n in (a, b)}) == 1]


SCOPE = [
    Defect(
        "the window is 1.6 times the nearest gap where that is more",
        swap("connector_check.pinout.geometry.NEAREST_TIMES", 0.0),
        lambda: settled("de9-rs232-dte", ("1", "6"), ("2", "7"), ("4", "8")) == {"rework"},
    ),
    Defect(
        "diagonal neighbours between the rows are in scope",
        swap("connector_check.board.board.Board.near_gaps", property(in_one_row)),
        lambda: settled("de9-rs232-dte", ("2", "7")) == {"rework"},
    ),
    Defect(
        "the nearest are always in scope",
        swap(
            "connector_check.board.board.Board.near_gaps",
            property(lambda self: [found for found in NEAR_GAPS(self) if found[2] <= 1.27]),
        ),
        lambda: far_apart() == "rework",
    ),
]


@pytest.mark.parametrize("defect", [*CONTACT, *SCOPE], ids=lambda defect: defect.rule)
def test_a_rule_switched_off_is_caught(defect, monkeypatch):
    assert caught(defect, monkeypatch)
