"""Which joints make contact: by a tone, through a part, or by diode mode."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest

from connector_check.analysis.contact import Contacts, reaches
from connector_check.analysis.replay import Standing, replay
from connector_check.board.board import Board
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.testlog.readings import OHMS, QUIET, VOLTS, Entry
from tests.strategies import entry, log, tiny_board
from tests.test_diode import BUS, BUS_YAML
from tests.test_findings import with_part


def proven(standing: Standing) -> set[str]:
    board, contacts = standing.board, Contacts(standing, standing.knowledge)
    return {board.points[joint] for joint in range(len(board.joints)) if contacts.proven(joint)}


@pytest.mark.parametrize(("kind", "ohms"), [("beep", None), (OHMS, 0.3)])
def test_a_tone_or_solder_ohms_to_the_board_point_prove_contact(kind, ohms):
    board = tiny_board()
    standing = replay(board, [entry(board, 1, "3", "@D+", kind, ohms)])
    assert proven(standing) == {"3"}
    assert reaches(board, standing.knowledge, board.number["3"])


def test_joints_joined_to_each_other_alone_prove_nothing():
    board = tiny_board()
    assert proven(replay(board, log(board, "1 4 beep"))) == set()
    assert proven(replay(board, log(board, "1 4 beep\n4 @GND beep"))) == {"1", "4"}
    assert proven(replay(board, log(board, "3 @D+ quiet"))) == set()


def test_ohms_of_a_part_prove_contact_where_the_other_end_is_the_board_or_proven_itself():
    board = with_part("TX, D+", 70, 80)

    def read(a: str, b: str, ohms: float) -> Entry:
        return entry(board, 1, a, b, OHMS, ohms)

    assert proven(replay(board, [read("3", "@TX", 75)])) == {"3"}
    # two joints that see each other over the part: both reach it, or a bridge elsewhere carries the current
    assert proven(replay(board, [read("3", "5", 75)])) == set()
    assert proven(replay(board, [read("3", "5", 75), read("5", "@TX", 0.1)])) == {"3", "5"}
    # ohms that the part does not read prove nothing
    assert proven(replay(board, [read("3", "@TX", 120)])) == set()


def test_a_junction_like_its_fellows_proves_contact_and_an_odd_one_does_not():
    ground = BUS.board_point["GND"]
    volts = {f"D{n}": 0.512 for n in range(8)} | {"D3": 0.2, "VIDEO": 0.5}
    entries = [Entry(i, VOLTS, (BUS.joints_of[net][0], ground), v) for i, (net, v) in enumerate(volts.items(), 1)]
    standing = replay(BUS, entries)
    # an open joint that solder bridges to a fellow shows that one's junction
    assert proven(standing) == set()
    row = [*range(BUS.joints_of["D0"][0] - 1, BUS.joints_of["D7"][0] + 2)]
    walls = [Entry(n, "quiet", pair) for n, pair in enumerate(pairwise(row), 20)]
    standing = replay(BUS, [*entries, *walls])
    lines = {BUS.points[BUS.joints_of[f"D{n}"][0]] for n in range(8) if n != 3}
    # VIDEO has no fellows to be compared with
    assert proven(standing) == lines
    contacts = Contacts(standing, standing.knowledge)
    assert {BUS.points[j] for j in range(len(BUS.joints)) if contacts.by_junction(j)} == lines


def test_ohms_of_a_part_to_the_metal_of_the_shell_prove_contact():
    """The shell may be on ground: what reads 75 ohm to it reaches the part, over whatever ties the two."""
    board = with_part("D+, GND", 75, 75)
    assert proven(replay(board, [entry(board, 1, "3", "SH", OHMS, 75.0)])) == {"3"}
    # a joint of the shell is no board point, and nothing shows that it reaches one
    assert proven(replay(board, [entry(board, 1, "3", "SH1", OHMS, 75.0)])) == set()


def test_ohms_of_a_winding_prove_contact_though_they_tell_nothing_of_solder():
    """0.2 to 5 ohm: solder between the lines would read the same, and lead to the same point of the board."""
    board = with_part("TX, D+", 0.2, 5)
    assert proven(replay(board, [entry(board, 1, "3", "@TX", OHMS, 0.4)])) == {"3"}
    assert proven(replay(board, [entry(board, 1, "3", "@TX", OHMS, 30.0)])) == set()


@pytest.mark.parametrize(("volts", "reached"), [(0.049, False), (0.05, True), (0.3, True), (float("inf"), False)])
def test_a_junction_begins_where_no_short_reads(volts, reached):
    """Under 0.05 V no junction is in the way; OL is none either. The fellows of VIDEO's kind are too few to compare."""
    joint, ground = BUS.joints_of["VIDEO"][0], BUS.board_point["GND"]
    standing = replay(BUS, [Entry(1, VOLTS, (joint, ground), volts)])
    contacts = Contacts(standing, standing.knowledge)
    assert contacts.by_junction(joint) is False, "one alone has no fellows"
    lines = [Entry(i, VOLTS, (BUS.joints_of[f"D{n}"][0], ground), volts) for i, n in enumerate(range(8), 1)]
    joints = range(len(BUS.joints))
    lines += [Entry(10, QUIET, pair) for pair in combinations(joints, 2)]
    standing = replay(BUS, lines)
    contacts = Contacts(standing, standing.knowledge)
    assert {contacts.by_junction(BUS.joints_of[f"D{n}"][0]) for n in range(8)} == {reached}


def test_solder_to_another_net_proves_no_contact_though_a_part_reads_hardly_more():
    """5.5 ohm between the lines: 4.5 is solder from 3 to TX, which may be all that 3 reaches."""
    board = with_part("TX, D+", 5.5, 6)
    standing = replay(board, [entry(board, 1, "3", "@TX", OHMS, 4.5)])
    assert standing.knowledge.joined(board.number["3"], board.number["@TX"]) and proven(standing) == set()


def test_a_junction_counts_once_all_neighbours_that_could_lend_theirs_are_apart_and_ground_lends_none():
    """D6 lies between D5 and ground; D5 between D4 and D6."""
    text = BUS_YAML.replace("GND: {role: ground, contacts: [1]}", "GND: {role: ground, contacts: [10]}")
    text = text.replace("D7: {role: data, contacts: [10]}", "D7: {role: data, contacts: [1]}")
    pin_map = parse_pin_map(text.encode(), "bus.yaml")
    board = Board(pin_map, pin_map.layouts[0])
    volts = [entry(board, n, str(n), "@GND", VOLTS, 0.5) for n in (1, *range(3, 10))]
    assert proven(replay(board, volts)) == set()
    assert proven(replay(board, [*volts, *log(board, "8 9 quiet")])) == {"9"}
    assert proven(replay(board, [*volts, *log(board, "8 9 quiet\n7 8 quiet")])) == {"8", "9"}
