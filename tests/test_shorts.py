"""Shorts and joins that are no fault: which groups, in which order, carried by which readings."""

from __future__ import annotations

import pytest

from connector_check.analysis.replay import Standing, replay
from connector_check.analysis.shorts import find_harmless, find_shorts, short_groups
from connector_check.board.board import Board
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap, Source
from connector_check.pinout.pinmap_file import parse_pin_map
from tests.strategies import TINY_YAML, log, tiny_board
from tests.test_bridges import row_of_nets


def standing_of(text: str, board: Board | None = None) -> Standing:
    board = board or tiny_board()
    return replay(board, log(board, text))


def built(*nets: Net) -> Board:
    """One joint a contact, in a row of 0.5 mm pitch."""
    contacts = [contact for net in nets for contact in net.contacts]
    joints = tuple(Joint(c, (c,), 0.5 * i, 0, 0.3, 1.0) for i, c in enumerate(contacts))
    layout = Layout("row", "", "invented", joints)
    names = {c: net.name for net in nets for c in net.contacts}
    return Board(PinMap("row", "row", "", (Source("invented", "memory"),), nets, names, (layout,)), layout)


def test_groups_come_worst_first_then_in_the_order_of_the_layout():
    """A note (5 to 6) comes last; of two dead signals (D+ and TX to ground) the one that comes first on the board."""
    board = built(
        Net("A", "data", ("1",)),
        Net("B", "data", ("2",)),
        Net("NC", "reserved", ("3",)),
        Net("C", "data", ("4",)),
        Net("D", "data", ("5",)),
        Net("E", "data", ("6",)),
        Net("V", "power", ("7",), volts=5.0),
        Net("GND", "ground", ("8", "9")),
    )
    standing = standing_of("5 6 beep\n7 8 beep\n3 4 beep\n1 2 beep", board)
    groups = [[board.points[p] for p in group] for group in short_groups(standing)]
    assert groups == [["7", "8"], ["1", "2"], ["5", "6"], ["3", "4"]]
    shorts = find_shorts(standing)
    assert [s.harm for s in shorts] == ["supply-short", "dead-signal", "dead-signal", "note"]
    assert [s.nets for s in shorts] == [("GND", "V"), ("A", "B"), ("D", "E"), ("C", "NC")]
    assert [s.readings for s in shorts] == [(2,), (4,), (1,), (3,)]
    assert (shorts[0].volts, shorts[1].volts) == (5.0, None)


def test_a_group_of_one_net_is_no_short_and_one_point_no_group():
    assert short_groups(standing_of("1 4 beep\n4 7 beep\n2 @+5V beep\n2 3 quiet")) == []


def test_the_readings_of_a_short_are_the_joining_ones_of_its_group():
    (short,) = find_shorts(standing_of("2 3 beep\n1 @GND beep\n3 4 quiet\n2 3 unsure\n3 2 beep\n2 @+5V beep"))
    assert short.readings == (1, 5, 6)
    assert (short.nets, short.joints, short.harm) == (("+5V", "D+"), ("2", "3", "@+5V"), "dead-signal")


def test_the_nets_of_a_group_are_told_in_the_order_of_their_names():
    assert [s.nets for s in find_shorts(standing_of("5 3 beep\n3 1 beep"))] == [("D+", "GND", "TX")]


@pytest.mark.parametrize(
    ("text", "known"),
    [
        ("2 3 beep", "measured"),
        ("3 2 beep", "measured"),
        ("@D+ 2 beep", "measured"),
        ("2 3 beep\n3 5 beep", "inferred"),
        ("2 3 beep\n3 5 beep\n5 2 beep", "measured"),
        ("2 3 beep\n3 5 beep\n2 5 unsure", "inferred"),
        # ground and shell may touch: that pair needs no beep of its own
        ("1 3 beep\nSH1 3 beep", "measured"),
        ("1 3 beep\n1 SH1 beep", "inferred"),
    ],
)
def test_a_short_is_measured_when_each_two_nets_that_must_be_apart_beeped(text, known):
    assert [s.known for s in find_shorts(standing_of(text))] == [known]


@pytest.mark.parametrize(("count", "known"), [(40, "measured"), (41, "inferred")])
def test_a_group_of_more_than_forty_nets_is_never_called_measured(count, known):
    board = built(*(Net(f"S{i}", "data", (str(i),)) for i in range(count)))
    text = "\n".join(f"{a} {b} beep" for a in range(count) for b in range(a))
    assert [s.known for s in find_shorts(standing_of(text, board))] == [known]


# --- joins that are no fault


def harmless_of(text: str, board: Board | None = None) -> list[tuple[tuple[str, ...], tuple[str, ...], str]]:
    return [tuple(found)[:3] for found in find_harmless(standing_of(text, board))]


def test_joints_of_one_net_and_shell_to_ground_are_told_apart_from_shorts():
    assert harmless_of("1 4 beep") == [(("GND",), ("1", "4"), "joints of one net, GND")]
    shell = "the shell may touch ground on this connector"
    assert harmless_of("1 4 beep\nSH1 1 beep") == [(("GND", "SHELL"), ("1", "4", "SH1"), shell)]
    assert harmless_of("SH1 @GND beep") == [(("GND", "SHELL"), ("SH1", "@GND"), shell)]
    assert harmless_of("3 5 quiet\n3 4 unsure") == []


def test_a_signal_that_reaches_its_board_is_a_contact_and_no_join_to_tell():
    """A ground joint at its board is told, as grounds are joined there; a lone signal or supply joint is not."""
    assert harmless_of("3 @D+ beep\n2 @+5V beep") == []
    assert harmless_of("1 @GND beep") == [(("GND",), ("1", "@GND"), "joints of one net, GND")]
    wide = built(Net("V", "power", ("1", "2"), volts=5.0), Net("S", "data", ("3",)))
    assert harmless_of("1 2 beep", wide) == [(("V",), ("1", "2"), "joints of one net, V")]
    assert harmless_of("1 @V beep", wide) == []


def test_a_net_with_one_point_in_a_short_is_no_join_of_its_own():
    assert harmless_of("1 3 beep") == []


def test_within_a_short_what_is_harmless_is_told_for_itself():
    found = harmless_of("1 4 beep\n4 3 beep\n3 5 beep")
    assert found == [(("GND",), ("1", "4"), "joints of one net, GND")]


def test_a_shell_that_is_to_stay_apart_makes_no_bundle_with_ground():
    text = TINY_YAML.replace("ground: may", "ground: apart, why: it floats")
    pin_map = parse_pin_map(text.encode(), "tiny.yaml")
    board = Board(pin_map, pin_map.layouts[0])
    assert harmless_of("1 4 beep\nSH1 1 beep\nSH2 SH1 beep", board) == [
        (("GND",), ("1", "4"), "joints of one net, GND"),
        (("SHELL",), ("SH1", "SH2"), "joints of one net, SHELL"),
    ]


def test_grounds_of_several_names_are_one_bundle_and_one_that_is_kept_apart_is_none_of_it():
    grounds = [Net("PGND", "ground", ("1",)), Net("AGND", "ground", ("2",)), Net("DGND", "ground", ("3",))]
    board = built(*grounds, Net("S", "data", ("4",)))
    assert harmless_of("1 2 beep\n2 3 beep\n3 4 beep", board) == [
        (("AGND", "DGND", "PGND"), ("1", "2", "3"), "both are ground (DGND, PGND)")
    ]


def test_a_tie_by_design_is_harmless_and_a_third_net_on_it_is_not():
    tiny = tiny_board()
    board = Board(tiny.pin_map, tiny.layout, [{"D+", "TX"}])
    standing = standing_of("3 5 beep\n5 2 beep", board)
    assert [s.nets for s in find_shorts(standing)] == [("+5V", "D+", "TX")]
    assert [(h.nets, h.joints) for h in find_harmless(standing)] == [(("D+", "TX"), ("3", "5"))]


def test_what_is_tied_to_ground_may_touch_what_ground_may_touch():
    """TX is ground by design and the shell may touch ground: no short, and one harmless join."""
    tiny = tiny_board()
    board = Board(tiny.pin_map, tiny.layout, [{"GND", "TX"}])
    (found,) = harmless_of("1 5 beep\n5 SH1 beep", board)
    assert found[:2] == (("GND", "SHELL", "TX"), ("1", "5", "SH1"))
    assert find_shorts(standing_of("1 5 beep\n5 SH1 beep", board)) == []


def test_a_shell_kept_apart_from_ground_makes_no_bundle_with_it_though_a_shell_on_ground_touches_both():
    ground, cover = Net("GND", "ground", ("1",)), Net("COVER", "shell", ("2",), ground="may")
    board = built(ground, cover, Net("FRAME", "shell", ("3", "4"), ground="apart"))
    found = [(nets, joints) for nets, joints, _ in harmless_of("1 2 beep\n2 3 beep\n3 4 beep", board)]
    assert found == [(("COVER", "GND"), ("1", "2")), (("FRAME",), ("3", "4"))]


def test_the_iron_is_not_sent_between_two_joints_that_read_apart():
    """S lies between two joints of one net, both gaps alike: a reading of its own rules one of them out."""
    board = row_of_nets("G", "S", "G")

    def places(text: str) -> list[tuple[tuple[str, str], ...]]:
        (short,) = find_shorts(standing_of(text, board))
        return [site.places for site in short.sites]

    assert places("1 3 beep\n3 2 beep") == [(("1", "2"), ("2", "3"))]
    assert places("1 3 beep\n3 2 beep\n1 2 quiet") == [(("2", "3"),)]
