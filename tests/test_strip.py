"""The strip of a sweep: which joints it lists, in which order, and what each is compared with."""

from __future__ import annotations

from math import inf

import pytest

from connector_check.analysis.diode import DiodeReading
from connector_check.analysis.result import StripLine
from connector_check.analysis.strip import strip
from tests.strategies import tiny_board
from tests.test_diode import BUS


def lines(*read: tuple[str, float], known_good: dict[str, float] | None = None) -> dict[str, StripLine]:
    """The strip by joint, from joints or board points with their volts, in time order."""
    readings = [DiodeReading(BUS.number[name], volts, line) for line, (name, volts) in enumerate(read, 1)]
    return {line.joint: line for line in strip(BUS, readings, known_good)}


def test_it_lists_joints_alone_and_the_last_reading_of_each():
    behind = [(name, 0.5) for name in BUS.points[len(BUS.joints) :]]
    found = lines(("3", 0.9), *behind, ("3", 0.5))
    assert list(found) == ["3"] and found["3"].volts == 0.5


def test_grounds_come_first_then_supplies_then_lines_by_their_fellows_and_the_rest_last():
    found = lines(("16", 0.5), ("11", 0.5), ("2", 0.4), ("12", 0.5), ("3", 0.5), ("1", 0.0), ("4", 0.5))
    assert list(found) == ["1", "2", "11", "12", "3", "4", "16"]


def test_a_line_is_compared_with_fellows_that_show_a_junction_alone():
    """11 and 12 are twins; beside a short or an open nothing is left to compare a value with."""
    for fellow in (0.001, inf):
        found = lines(("11", 0.5), ("12", fellow))
        assert found["11"].expected is None and found["11"].place is None
    found = lines(("11", 0.5), ("12", 0.5))
    assert found["11"].expected == (pytest.approx(0.45), pytest.approx(0.55))
    assert found["11"].place == pytest.approx(0.5)


def test_the_joints_of_one_net_are_each_others_fellows_and_nothing_below_0_v_is_expected():
    found = lines(("14", 0.06), ("15", 0.08))
    assert found["14"].expected == (0.0, pytest.approx(0.17))
    assert found["14"].place == pytest.approx(0.06 / 0.17)
    assert lines(("14", 0.06))["14"].expected is None


def test_the_words_of_each_value():
    """8 is on ground, 9 is open, 10 is far above the others."""
    bus = [(str(n), 0.5) for n in range(3, 8)]
    found = lines(*bus, ("8", 0.001), ("9", inf), ("10", 0.9), ("1", 0.001), ("2", 0.4), ("13", 0.2))
    words = {joint: line.word for joint, line in found.items()}
    assert words["3"] == "like its fellows" and words["1"] == "near 0, as ground is"
    assert words["8"] == "SHORT to ground" and words["9"] == "NO CONTACT" and words["10"] == "UNLIKE its fellows"
    assert words["2"] == "nothing to compare with"
    assert words["13"] == "nothing to compare with; 0.3 to 0.8 V is usual"
    assert (found["9"].volts, found["9"].place, found["8"].volts) == (None, None, 0.001)
    assert found["10"].place > 1


@pytest.mark.parametrize(("volts", "unusual"), [(0.299, True), (0.3, False), (0.8, False), (0.801, True), (inf, False)])
def test_what_a_line_without_fellows_usually_shows(volts, unusual):
    """A supply's chips and a data line show 0.3 to 0.8 V (common practice, no source); over the range is not odd."""
    for joint in ("2", "13"):
        assert ("is usual" in lines((joint, volts))[joint].word) is unusual
    assert "is usual" not in lines(("20", volts))["20"].word, "a reserved joint may show anything"


def test_what_known_good_boards_show_stands_beside_it():
    found = lines(("3", 0.5), ("4", 0.5), known_good={"3": 0.51, "5": 0.5})
    assert (found["3"].reference, found["4"].reference) == (0.51, None)


def test_a_ground_is_compared_with_nothing():
    board = tiny_board()
    readings = [DiodeReading(board.number[name], 0.5, line) for line, name in enumerate("147", 1)]
    assert [(line.joint, line.expected) for line in strip(board, readings)] == [("1", None), ("4", None), ("7", None)]
