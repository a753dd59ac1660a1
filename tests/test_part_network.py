"""Parts in series and in meshes between the nets of a connector, held against circuit theory."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.board.design import DesignNetwork
from connector_check.kicad.board_contacts import BoardContacts
from connector_check.kicad.board_notes import derive
from connector_check.kicad.board_parts import Part, PartPad
from connector_check.kicad.board_paths import find_paths
from connector_check.kicad.part_network import PartNetwork
from connector_check.pinout.headers import header_map
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import DesignPath
from tests.test_board_fit import LOGGER

AT_CONNECTOR = {"1": "A", "2": "B", "3": "C"}


def part(reference: str, value: str, *nets: str, footprint: str = "") -> Part:
    return Part(reference, value, footprint, True, tuple(PartPad(str(i), net, "") for i, net in enumerate(nets, 1)), 1)


def paths(*parts: Part) -> tuple[tuple[DesignPath, ...], list[str]]:
    pin_map = header_map("header-1x3")
    assert pin_map is not None
    nets = {pad.net for one in parts for pad in one.pads}
    found = BoardContacts(pin_map, {pin: [net] for pin, net in AT_CONNECTOR.items()}, nets | set("ABC"))
    listed: list[str] = []
    return find_paths(found, PartNetwork(parts, found.terminals), "a board", listed.append), listed


def ranges(found: tuple[DesignPath, ...]) -> dict[str, tuple[float, float]]:
    return {"".join(name[1] for name in path.nets): (path.low, path.high) for path in found}


# Chains


def test_links_fuses_ferrites_and_chokes_in_series_are_one_path():
    found, listed = paths(
        part("F1", "500mA", "A", "n1"),
        part("FB1", "600R@100MHz", "n1", "n2"),
        part("R1", "0R", "n2", "n3"),
        part("L1", "common mode choke", "n3", "B", "x3", "x4"),
    )
    assert ranges(found) == {"12": (0, 3.7)} and listed[0].startswith("L1 ")
    assert found[0].why == "fuse F1, ferrite FB1, winding of choke L1 and link R1 in series"


def test_resistors_in_series_add_up_with_what_links_lie_between():
    found, listed = paths(
        part("R1", "22R", "A", "n1"),
        part("FB1", "", "n1", "n2"),
        part("R2", "33R", "n2", "n3"),
        part("R3", "47R", "n3", "B"),
    )
    assert ranges(found) == {"12": (91.8, 113.2)} and listed == []
    assert found[0].why == "R3 47R, ferrite FB1, R2 33R and R1 22R in series"


def test_a_pull_up_behind_a_ferrite_is_a_path_to_the_supply():
    found, _ = paths(part("FB1", "", "A", "n1"), part("R1", "4k7", "n1", "B"))
    assert ranges(found) == {"12": (4230, 5171)}


def test_resistors_in_series_that_no_meter_beeps_through_are_left_out():
    assert paths(part("R1", "10k", "A", "n1"), part("R2", "10k", "n1", "B"))[0] == ()


def test_a_tee_of_unequal_legs_is_the_mesh_of_the_star_mesh_transformation():
    found, _ = paths(part("R1", "10R", "A", "n"), part("R2", "20R", "B", "n"), part("R3", "30R", "C", "n"))
    middles = {name: (low + high) / 2 for name, (low, high) in ranges(found).items()}
    # R1 + R2 + R1 R2 / R3 and so on: circuit theory
    assert middles == pytest.approx({"12": 10 + 20 + 20 / 3, "13": 10 + 30 + 15, "23": 20 + 30 + 60}, rel=0.03)


def test_a_dead_end_and_a_loop_are_no_path():
    assert paths(part("R1", "10R", "A", "n"), part("R2", "10R", "n", "m"), part("R3", "10R", "m", "k"))[0] == ()
    assert paths(part("R1", "0R", "A", "n"), part("FB1", "", "n", "A"))[0] == ()


def test_many_parts_at_one_inner_net_are_said_and_not_followed():
    parts = [part(f"R{i}", f"{i + 10}R", f"n{i}", "rail") for i in range(70)]
    legs = [part(f"R{i + 100}", "10R", "A" if i % 2 else "B", f"n{i}") for i in range(70)]
    found, listed = paths(*parts, *legs)
    assert "13" not in ranges(found)
    assert found or listed


COILS = st.sampled_from(["FB", "F"])
NODES = st.sampled_from(["A", "B", "C", "n", "m", "k"])
PARTS = st.lists(
    st.tuples(NODES, NODES, st.one_of(st.integers(10, 150), st.just(0))).filter(lambda p: p[0] != p[1]),
    min_size=1,
    max_size=8,
)


@settings(max_examples=300, deadline=None)
@given(PARTS, st.floats(0, 0.5))
def test_what_the_paths_read_holds_what_the_board_reads(parts, link):
    """The effective resistance by the pseudo-inverse of the network's Laplacian, another way than the program's."""
    found, _ = paths(*(part(f"R{i}", f"{ohms}R", a, b) for i, (a, b, ohms) in enumerate(parts)))
    network = DesignNetwork(found, find_pin_map("header-1x3").nets, {})
    nodes = sorted({node for a, b, _ in parts for node in (a, b)})
    laplacian = np.zeros((len(nodes), len(nodes)))
    joined = {node: {node} for node in nodes}
    for a, b, ohms in parts:
        i, j = nodes.index(a), nodes.index(b)
        g = 1 / (ohms or max(link, 1e-4))
        laplacian[i, i] += g
        laplacian[j, j] += g
        laplacian[i, j] -= g
        laplacian[j, i] -= g
        whole = joined[a] | joined[b]
        joined.update(dict.fromkeys(whole, whole))
    inverse = np.linalg.pinv(laplacian, rcond=1e-12)
    for a, b, nets in [("A", "B", ("P1", "P2")), ("A", "C", ("P1", "P3")), ("B", "C", ("P2", "P3"))]:
        ohms = network.ohms(*nets)
        if a not in nodes or b not in joined[a]:
            assert ohms is None
            continue
        i, j = nodes.index(a), nodes.index(b)
        true = inverse[i, i] + inverse[j, j] - 2 * inverse[i, j]
        assert ohms is not None and ohms.least - 1e-6 <= true <= ohms.most + 1e-6


# What is skipped


@pytest.mark.parametrize(
    ("skipped", "words"),
    [
        (part("JP1", "open", "n", "B"), "JP1 (open) at P1, P2: a jumper: open or closed is not told"),
        (part("SW1", "", "n", "gone"), "a switch: open or closed is not told"),
        (part("RN1", "4x33R", "n", "x", "y", "z"), "RN1 (4x33R) at P1: a resistor network"),
        (part("R9", "tbd", "n", "x"), "R9 (tbd) at P1: its ohms cannot be read from its value"),
        (part("RV1", "10k", "n", "x", "y"), "a potentiometer or varistor"),
        (part("LS1", "8R", "n", "x"), "LS1 (8R) at P1: a loudspeaker or buzzer: its ohms are not told"),
        (part("POT1", "10k", "n", "x", "y"), "a potentiometer: its ohms are not told"),
        (part("JMP1", "", "n", "x"), "a jumper: open or closed is not told"),
    ],
)
def test_what_is_not_told_is_listed_with_its_reason_also_behind_a_link(skipped, words):
    _, listed = paths(part("R1", "0R", "A", "n"), skipped)
    assert len(listed) == 1 and words in listed[0]


def test_what_hangs_on_a_rail_behind_a_pull_up_is_not_listed():
    _, listed = paths(part("R1", "470R", "A", "+3V3"), part("JP1", "", "+3V3", "x"), part("SW1", "", "GND", "y"))
    assert listed == []


def test_a_link_behind_a_choke_on_a_board_is_told():
    text = LOGGER.read_text(encoding="utf-8")
    notes, _ = derive(text, "J1", find_pin_map("usb-micro-b"), "b")
    (path,) = [path for path in notes.paths if set(path.nets) == {"D+", "GND"}]
    assert "winding of choke" in path.why and "in series" in path.why
