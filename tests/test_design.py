"""What parts by design read between two nets, held to networkx and to the pseudo-inverse of the Laplacian."""

from __future__ import annotations

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.board.design import DesignNetwork, DesignOhms
from connector_check.pinout.pinmap import DesignPath, Net

NAMES = ("A", "B", "C", "D", "E")
NETS = tuple(Net(name, "data", (name,)) for name in NAMES)
GROUND, AGND = Net("GND", "ground", ("1",)), Net("AGND", "ground", ("2",))
SHELL = Net("SHELL", "shell", ("SH",), ground="may")


def path(nets: str, low: float, high: float, why: str = "", absent: bool = False) -> DesignPath:
    return DesignPath(tuple(nets.split()), low, high, why or nets, absent)


def network(*paths: DesignPath, nets: tuple[Net, ...] = NETS, **tie_of: str) -> DesignNetwork:
    return DesignNetwork(paths, nets, tie_of)


@st.composite
def part_lists(draw: st.DrawFn) -> list[DesignPath]:
    pairs = st.tuples(st.sampled_from(NAMES), st.sampled_from(NAMES)).filter(lambda pair: pair[0] < pair[1])
    found = []
    for i, pair in enumerate(draw(st.lists(pairs, min_size=1, max_size=7))):
        low = draw(st.integers(1, 50))
        found.append(DesignPath(pair, float(low), float(low + draw(st.integers(0, 50))), f"R{i}", draw(st.booleans())))
    return found


@settings(max_examples=100, deadline=None)
@given(part_lists())
def test_low_is_the_whole_network_and_high_the_least_route_of_fitted_parts(parts):
    """low: networkx's resistance distance, each part at its lowest; high: its shortest path over the parts that are
    always fitted, each at its highest; where there is none, at least the shortest of all.
    """
    lowest, highest, fitted = nx.MultiGraph(), nx.MultiGraph(), nx.MultiGraph()
    fitted.add_nodes_from(NAMES)
    for part in parts:
        lowest.add_edge(*part.nets, ohms=part.low)
        highest.add_edge(*part.nets, ohms=part.high)
        if not part.may_be_absent:
            fitted.add_edge(*part.nets, ohms=part.high)
    found = network(*parts)
    for a in NAMES:
        for b in NAMES:
            if a == b:
                continue
            told = found.ohms(a, b)
            assert told == found.ohms(b, a)
            if a not in lowest or b not in lowest or not nx.has_path(lowest, a, b):
                assert told is None
                continue
            piece = lowest.subgraph(nx.node_connected_component(lowest, a))
            assert told.low == pytest.approx(nx.resistance_distance(piece, a, b, "ohms"), abs=1e-5)
            assert told.sure == nx.has_path(fitted, a, b)
            if told.sure:
                assert told.high == pytest.approx(nx.shortest_path_length(fitted, a, b, "ohms"), abs=1e-5)
            else:
                assert told.high >= nx.shortest_path_length(highest, a, b, "ohms") - 1e-5


def test_a_chain_names_its_parts_in_the_order_of_the_route_and_each_once():
    chain = network(path("A B", 1, 2, "L1"), path("B C", 10, 20, "R1"), path("C D", 5, 6, "L1"))
    assert chain.ohms("A", "C") == DesignOhms(11, 22, ("L1", "R1"), True)
    assert chain.ohms("D", "A") == DesignOhms(16, 28, ("L1", "R1"), True)
    assert network(path("A B", 1, 2)).ohms("A", "C") is None
    assert network().ohms("A", "B") is None
    assert network(path("A B", 0.1, 0.2)).ohms("A", "A") is None


def test_a_route_is_sure_only_when_no_part_of_it_may_be_absent():
    sure, may = path("A B", 1, 2), path("B C", 1, 2, absent=True)
    assert [network(sure, may).ohms(*pair).sure for pair in ("AB", "AC", "BC")] == [True, False, False]
    # where the cheaper part is absent, the dearer one that is surely there still conducts
    assert network(path("A B", 1, 2, absent=True), path("A B", 5, 9)).ohms("A", "B")[1:] == (9, ("A B",), True)
    assert network(path("A B", 5, 9, absent=True), path("A B", 1, 2)).ohms("A", "B") == DesignOhms(
        pytest.approx(5 / 6, abs=1e-6), 2, ("A B",), True
    )


def test_of_parts_that_may_all_be_absent_the_worst_route_that_may_remain_counts():
    """30 ohm and 90 ohm side by side, either or both fitted: 22.5 ohm to 90 ohm."""
    either = network(path("A B", 30, 30, "R1", absent=True), path("A B", 90, 90, "R2", absent=True))
    assert either.ohms("A", "B") == DesignOhms(22.5, 90, ("R1",), False)


def test_a_longer_route_of_less_ohms_is_the_one_that_counts():
    """Found late: C is first reached over 50 ohm, then over 1 + 1."""
    found = network(
        path("A C", 50, 50, "direct"), path("A B", 1, 1, "one"), path("B C", 1, 1, "two"), path("C D", 1, 1)
    )
    assert found.ohms("A", "D").high == 3
    assert found.ohms("A", "C").why == ("one", "two")


def test_lines_that_meet_at_one_point_are_half_the_ohms_each_and_one_part():
    star = network(DesignPath(("A", "B", "C"), 90, 110, "star", False), path("C D", 1, 2, "R"))
    assert star.ohms("A", "B") == star.ohms("B", "C") == DesignOhms(90, 110, ("star",), True)
    assert star.ohms("A", "D") == DesignOhms(91, 112, ("star", "R"), True)
    two = network(DesignPath(("A", "B", "C"), 90, 110, "s", False), DesignPath(("C", "D", "E"), 30, 50, "t", False))
    assert two.ohms("A", "E")[:3] == (120, 160, ("s", "t"))
    assert two.ohms("A", "B")[:2] == (90, 110)


def test_grounds_and_a_shell_that_may_touch_them_are_one_node():
    part = path("A GND", 70, 80)
    grounds = (*NETS, GROUND, AGND, SHELL)
    found = network(part, nets=grounds)
    assert found.ohms("A", "GND") == DesignOhms(70, 80, ("A GND",), True)
    # the grounds of a board need not be one, nor its shell ground: the part may be silent to these
    assert found.ohms("A", "AGND") == found.ohms("A", "SHELL") == DesignOhms(70, 80, ("A GND",), False)
    assert [r[:2] for r in found.resistors if r.perhaps] == [("GND", "AGND"), ("AGND", "SHELL")]
    floats = network(part, nets=(*NETS, GROUND, SHELL._replace(ground="apart")))
    assert floats.ohms("A", "SHELL") is None
    assert found.ohms("GND", "SHELL") is None
    # two lines with 70 ohm each to ground, over whichever ground
    both = network(part, path("B AGND", 70, 80), nets=grounds)
    assert both.ohms("A", "B")[:2] == (140, 160)


def test_tied_nets_are_one_node():
    tied = network(path("A B", 10, 12), B="B", C="B")
    assert tied.ohms("A", "C") == DesignOhms(10, 12, ("A B",), True)
    assert tied.ohms("B", "C") is None and tied.ohms("A", "D") is None


def test_ohms_are_told_to_the_millionth():
    third = network(path("A B", 1, 1 / 3), path("A B", 1, 1), path("A B", 1, 1))
    assert third.ohms("A", "B")[:2] == (0.333333, 0.333333)


def test_a_part_reads_a_tenth_and_half_an_ohm_beside_its_range():
    part = DesignOhms(75, 80, ("made",), True)
    assert (part.least, part.most) == (pytest.approx(67), pytest.approx(88.5))
    assert [part.reads_as(ohms) for ohms in (66.9, 67.1, 88.4, 88.6)] == [False, True, True, False]
    assert DesignOhms(0.2, 1, (), True).least == 0


@pytest.mark.parametrize(("low", "tells"), [(11.6, False), (11.7, True), (75, True), (0, False)])
def test_a_part_tells_itself_from_solder_where_two_bridges_in_series_read_less(low, tells):
    """Its least, a tenth and half an ohm off, against twice 5 ohm."""
    assert DesignOhms(low, 100, (), True).tells_from_solder == tells
