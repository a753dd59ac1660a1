"""Which two nets, joined by solder, would make ohms what they are: on rows of nets with parts between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from connector_check.analysis.joined_nets import likely_joins
from connector_check.analysis.replay import replay
from connector_check.board.board import Board
from connector_check.pinout.pinmap import DesignPath
from connector_check.testlog.readings import LEADS_GOOD, OHMS, Entry
from tests.strategies import entry, log
from tests.test_bridges import row_of_nets

TERMINATED = (("A", "G", 75.0), ("B", "G", 75.0), ("C", "G", 75.0))


def row(nets: str, parts: Sequence[tuple[str, str, float]] = TERMINATED) -> Board:
    """One joint a net at 0.5 mm pitch, and parts that are always fitted."""
    board = row_of_nets(*nets)
    paths = tuple(DesignPath((a, b), ohms, ohms, "made", may_be_absent=False) for a, b, ohms in parts)
    return Board(replace(board.pin_map, paths=paths), board.layout)


def likely(board: Board, ohms: float, between: str = "A G", text: str = "") -> list[tuple[str, str]]:
    """Where solder may be, the nearest first, as joints; ohms: read between the board points of two nets."""
    a, b = (f"@{net}" for net in between.split())
    entries = [Entry(1, LEADS_GOOD, ()), *(log(board, text) if text else ()), entry(board, 90, a, b, OHMS, ohms)]
    standing = replay(board, entries)
    return [board.pair(join.pair) for join in likely_joins(standing, standing.readings[-1])]


def test_half_the_ohms_of_a_termination_are_those_of_two_joined_nets():
    """75 ohm beside 75 ohm reads 37.5 (parallel resistors); C lies beyond B, and D has no part to lend."""
    assert likely(row("ABDCG"), 37.5) == [("1", "2")]
    assert likely(row("DABCG"), 37.5) == [("2", "3")]
    assert likely(row("ADBCG"), 37.5) == []


def test_what_the_joined_nets_would_read_comes_with_the_place():
    board = row("ABDCG")
    standing = replay(board, [entry(board, 1, "@A", "@G", OHMS, 37.5)])
    (found,) = likely_joins(standing, standing.readings[0])
    assert (found.reads.low, found.reads.high) == (37.5, 37.5)
    assert found.weight == pytest.approx(0.2)


def test_what_is_known_to_be_joined_already_counts_along():
    """1 and 2 are soldered: 25 ohm is a third 75 ohm beside the two, at the next gap; 37.5 needs no further solder."""
    text = "1 2 beep\n1 @A beep\n2 @B beep"
    board = row("ABCDG", ())
    assert likely(board, 25, text=text) == [], "without parts nothing is told of ohms"
    soldered = [entry(row("ABCDG"), 5, "1", "2", OHMS, 0.2)]
    board = row("ABCDG")
    contacts = [entry(board, 6, "1", "@A", OHMS, 0.2), entry(board, 7, "2", "@B", OHMS, 0.2)]
    for ohms, places in ((25.0, [("2", "3")]), (37.5, [])):
        standing = replay(board, [*soldered, *contacts, entry(board, 9, "@A", "@G", OHMS, ohms)])
        assert [board.pair(join.pair) for join in likely_joins(standing, standing.readings[-1])] == places


def test_nets_known_apart_are_not_joined():
    assert likely(row("ABDCG"), 37.5, text="1 2 quiet") == []
    assert likely(row("ABDCG"), 37.5, text="2 3 quiet") == [("1", "2")]


def test_solder_that_touches_neither_of_the_two_nets_is_not_told():
    """A - M - G in series, 100 ohm each, and N to G with 100 ohm: N on M reads 150, but touches neither A nor G."""
    board = row("MNAG", (("A", "M", 100.0), ("M", "G", 100.0), ("N", "G", 100.0)))
    assert likely(board, 150) == []
    # with N on A: 200 ohm beside 100 reads 66.7
    assert likely(board, 66.7) == [("2", "3")]


def test_of_equal_gaps_the_first_comes_first_and_lost_mask_or_seen_solder_raises_the_other():
    board = row("ABCG")
    assert likely(board, 37.5, "B G") == [("1", "2"), ("2", "3")]
    for remark in ("mask lost", "solder seen"):
        assert likely(board, 37.5, "B G", text=f"2 3 {remark}") == [("2", "3"), ("1", "2")]


def test_a_reading_that_is_no_ohms_tells_nothing():
    board = row("ABG")
    standing = replay(board, log(board, "@A @G quiet"))
    assert likely_joins(standing, standing.readings[0]) == []


def test_solder_at_a_net_that_is_joined_to_neither_is_not_told_though_another_solder_reaches_it():
    """P lies on M, in the middle between A and G; N on P would read 150, but P is joined to neither of the two."""
    board = row("NPMAG", (("A", "M", 100.0), ("M", "G", 100.0), ("N", "G", 100.0)))
    joined = [entry(board, 5, "2", "3", OHMS, 0.2), entry(board, 6, "3", "@M", OHMS, 0.2)]
    standing = replay(board, [*joined, entry(board, 9, "@A", "@G", OHMS, 150.0)])
    assert standing.knowledge.joined(board.number["2"], board.number["@M"])
    assert likely_joins(standing, standing.readings[-1]) == []
