"""A map of another connector is refused where pads or nets of the board contradict it.

Open data: the demo boards of KiCad 6.0.11 (Debian's kicad-demos), whose schematics say what each connector is; the
other boards here are our own.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from connector_check.errors import InputError
from connector_check.files.sexpr import read_sexpr
from connector_check.kicad.board_contacts import BoardContacts, find_contacts
from connector_check.kicad.board_fit import refuse_misfit
from connector_check.kicad.board_notes import derive
from connector_check.kicad.board_parts import Part, PartPad, parts_of
from connector_check.kicad.board_ties import find_ties
from connector_check.kicad.part_network import PartNetwork
from connector_check.pinout.library import find_pin_map, list_ids
from tests.kicad_facts import SHARE

LOGGER = Path(__file__).parent / "data" / "kicad" / "scale_logger.kicad_pcb"
DEMOS = SHARE / "demos"
FLAT = "flat_hierarchy/flat_hierarchy"
PROGRAMMER = "pic_programmer/pic_programmer"
PROBE = "sonde xilinx/sonde xilinx"
VIDEO = "video/video"
LOGIC = "test_xil_95108/carte_test"
PRINTER = "interf_u/interf_u"
HUB = "stickhub/StickHub"


@cache
def demo_parts(board: str) -> list[Part]:
    return parts_of(read_sexpr((DEMOS / f"{board}.kicad_pcb").read_text(encoding="utf-8")))


def fit(parts: list[Part], reference: str, map_id: str) -> tuple[BoardContacts, PartNetwork, list[str]]:
    """The steps of `derive` up to the refusal, on parts that are already read."""
    connector = next(part for part in parts if part.reference == reference)
    listed: list[str] = []
    found = find_contacts(parts, connector, find_pin_map(map_id), "board", listed.append)
    network = PartNetwork([part for part in parts if part is not connector], found.terminals)
    refuse_misfit(found, network, connector, "board")
    return found, network, listed


def refusal(parts: list[Part], reference: str, map_id: str) -> str:
    with pytest.raises(InputError) as caught:
        fit(parts, reference, map_id)
    assert all(problem.remedy and problem.line for problem in caught.value.problems)
    return str(caught.value)


def logger_parts() -> list[Part]:
    return parts_of(read_sexpr(LOGGER.read_text(encoding="utf-8")))


# Our own board


def test_nine_pads_are_no_connector_of_fifteen_contacts():
    told = refusal(logger_parts(), "J3", "vga-de15")
    assert "do not fit vga-de15: 9 of its 15 contacts" in told


def test_a_map_of_the_same_size_is_refused_where_signals_are_on_ground_and_supply():
    told = refusal(logger_parts(), "J3", "de9-rs232-dte")
    assert "contact 3 is TXD (signal) in the map and on GND on the board" in told
    assert "contact 9 is RI (signal) in the map and on +24V on the board" in told
    assert "no ground of the map is on ground: GND; contact 3 is" not in told


def test_a_supply_on_a_net_with_the_volts_of_another_supply_is_refused():
    nets = ("+5V", "GND", "GND", "+12V")
    pads = tuple(PartPad(str(number), net, "") for number, net in enumerate(nets, 1))
    told = refusal([Part(reference, "", "", True, pads, 1) for reference in ("J1", "J2")], "J1", "molex-4")
    assert "contact 1 is +12V (12 V) in the map and on +5V on the board" in told
    assert "contact 4 is +5V (5 V) in the map and on +12V on the board" in told


def test_one_signal_held_at_ground_is_a_way_to_build_a_board():
    text = LOGGER.read_text(encoding="utf-8").replace('"/HSYNC"', '"GND"')
    notes, _ = derive(text, "J2", find_pin_map("vga-de15"), "board")
    assert frozenset({"HSYNC", "GND"}) in notes.ties


def test_a_supply_named_oddly_is_no_contradiction():
    text = LOGGER.read_text(encoding="utf-8").replace('"/VBUS_IN"', '"/PORT_FEED"')
    assert derive(text, "J1", find_pin_map("usb-micro-b"), "board")[0].ties == (frozenset({"GND", "ID"}),)


def test_a_ground_behind_a_ferrite_is_on_ground_whatever_its_net_is_called():
    text = LOGGER.read_text(encoding="utf-8").replace('"/DRAIN"', '"/BARN"')
    notes, _ = derive(text, "J3", find_pin_map("de9-can"), "board")
    assert {frozenset(path.nets) for path in notes.paths} >= {frozenset({"CAN_SHLD", "CAN_GND"})}


# KiCad's demo boards


@pytest.mark.needs("kicad-boards")
@pytest.mark.parametrize(
    ("board", "reference", "map_id"),
    [
        (FLAT, "J1", "de9-rs232-dte"),
        (PROGRAMMER, "J1", "de9-rs232-dte"),
        (PRINTER, "P1", "db25-ieee1284"),
        (PROBE, "J1", "db25-ieee1284"),
        (LOGIC, "J1", "db25-ieee1284"),
        *((HUB, f"J{number}", "usb-a-2") for number in range(1, 9)),
    ],
)
def test_the_right_map_of_a_demo_board_is_taken(board, reference, map_id):
    found, _, _ = fit(demo_parts(board), reference, map_id)
    assert found.ground == "GND" and not [tie for tie in find_ties(found, lambda _: None) if "GND" in tie]


@pytest.mark.needs("kicad-boards")
@pytest.mark.parametrize(("board", "reference"), [(VIDEO, "J4"), (LOGIC, "J2"), (PROBE, "J2")])
def test_no_map_is_taken_for_a_nine_contact_connector_of_its_own_assignment(board, reference):
    """Analogue video and two programming ports on a DE-9: without the refusal 50 maps give notes, 38 with ties."""
    for map_id in list_ids():
        assert refusal(demo_parts(board), reference, map_id)


@pytest.mark.needs("kicad-boards")
@pytest.mark.parametrize(
    ("board", "reference", "map_id", "words"),
    [
        (VIDEO, "J4", "vga-de15", "9 of its 15 contacts"),
        (VIDEO, "J4", "de9-rs232-dte", "contact 4 is DTR (signal) in the map and on GND on the board"),
        (VIDEO, "J4", "de9-can", "contact 3 is CAN_GND (ground) in the map and on /BLUE_OUT on the board"),
        (LOGIC, "J2", "de9-can", "contact 9 is CAN_V+ (power) in the map and on GND on the board"),
        (LOGIC, "J2", "de9-rs232-dte", "contact 1 is DCD (signal) in the map and on VCC on the board"),
        (FLAT, "J1", "de9-can", "contact 3 is CAN_GND (ground) in the map and on /pic_programmer/VPP_ON on the board"),
        (FLAT, "J1", "microsd", "no ground of the map is on ground: GND; contact 5 is"),
        (PRINTER, "P1", "db25-rs232-dte", "contact 7 is GND (ground) in the map and on /BIT5 on the board"),
        (PROBE, "J1", "db25-rs232-dte", "no ground of the map is on ground"),
        (HUB, "J2", "molex-4", "contact 1 is +12V (12 V) in the map and on +5V on the board"),
        (HUB, "J2", "mini-din-4-svideo", "contact 1 is GND (ground) in the map and on +5V on the board"),
        (HUB, "J2", "usb-micro-b", "no ground of the map is on ground: GND; contact 4 is"),
    ],
)
def test_a_wrong_map_of_a_demo_board_is_refused_with_the_reason(board, reference, map_id, words):
    assert words in refusal(demo_parts(board), reference, map_id)


@pytest.mark.needs("kicad-boards")
def test_a_generic_header_fits_any_board_and_is_told_its_roles():
    found, _, listed = fit(demo_parts(VIDEO), "J4", "header-1x9")
    assert find_ties(found, listed.append) == (frozenset({"P4", "P5", "P6", "P7"}),)
    assert listed[-1].endswith("--role and the job's line '# role: 4..7=ground' name it so")
    found, _, listed = fit(
        demo_parts("kit-dev-coldfire-xilinx_5213/kit-dev-coldfire-xilinx_5213"), "P303", "header-2x20"
    )
    find_ties(found, listed.append)
    assert any("'# role: 38=power 3.3'" in line for line in listed)
