"""Roles and nets of twelve pin maps held against published tables, each written out here on its own.

A row is `contact printed name -> net role`: the name as the publisher prints it, then what it means. The source stands
beside each table
"from memory" says that nothing was read for it. A table that its excerpt cuts off lists only what was read.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import pytest

from connector_check.pinout.geometry import pad_gaps
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import PinMap

ROW = re.compile(r"(\S+) (.+?) -> (\S+) (ground|power|data|reserved)\Z")


@dataclass(frozen=True)
class Published:
    map_id: str
    source: str
    rows: str
    variant: str = ""
    cut_off: bool = False

    @property
    def meaning(self) -> dict[str, tuple[str, str]]:
        """Contact -> (net, role)."""
        found: dict[str, tuple[str, str]] = {}
        for row in filter(None, (row.strip() for row in re.split(r"[;\n]", self.rows))):
            match = ROW.match(row)
            assert match, row
            for contact in match[1].split(","):
                assert contact not in found, row
                found[contact] = match[3], match[4]
        return found


TABLES = [
    Published(
        "hdmi-a",
        "photo printer user guide (620 series), chapter 8 Connector pin assignments, HDMI, p.158; 14 is not "
        "connected there",
        """
1 TMDS data 2+ -> D2+ data; 2 TMDS data 2 shield -> GND ground; 3 TMDS data 2- -> D2- data
4 TMDS data 1+ -> D1+ data; 5 TMDS data 1 shield -> GND ground; 6 TMDS data 1- -> D1- data
7 TMDS data 0+ -> D0+ data; 8 TMDS data 0 shield -> GND ground; 9 TMDS data 0- -> D0- data
10 TMDS clock+ -> CK+ data; 11 TMDS clock shield -> GND ground; 12 TMDS clock- -> CK- data
13 Consumer electronic control (CEC) -> CEC data; 14 Not connected -> RESERVED reserved
15 DDC clock -> SCL data; 16 DDC data -> SDA data; 17 Ground -> GND ground; 18 +5V power -> +5V power
19 Hot plug detect -> HPD data
""",
        variant="hdmi-1.3",
    ),
    Published(
        "hdmi-a",
        "HDMI 1.4 pin assignment, what changed, from memory",
        """
14 Utility -> UTILITY data; 19 Hot Plug Detect -> HPD data
""",
        cut_off=True,
    ),
    Published(
        "hdmi-a",
        "HDMI 1.4 with HEAC, from memory (revingivanny.blogspot.com prints HEC data on the same two contacts, "
        "signs exchanged)",
        """
14 Utility/HEAC+ -> HEAC+ data; 19 Hot Plug Detect/HEAC- -> HEAC- data; 17 DDC/CEC ground -> GND ground
""",
        variant="heac",
        cut_off=True,
    ),
    Published(
        "usb-c-24",
        "electronics question 125011 (qastack.com.br copy), receptacle drawing, upper row A1 to A12, lower row "
        "B12 to B1",
        """
A1 GND -> GND ground; A2 TX1+ -> TX1+ data; A3 TX1- -> TX1- data; A4 Vbus -> VBUS power; A5 CC1 -> CC1 data
A6 D+ -> D+ data
A7 D- -> D- data; A8 SBU1 -> SBU1 data; A9 Vbus -> VBUS power; A10 RX2- -> RX2- data; A11 RX2+ -> RX2+ data
A12 GND -> GND ground
B12 GND -> GND ground; B11 RX1+ -> RX1+ data; B10 RX1- -> RX1- data; B9 Vbus -> VBUS power; B8 SBU2 -> SBU2 data
B7 D- -> D- data
B6 D+ -> D+ data; B5 CC2 -> CC2 data; B4 Vbus -> VBUS power; B3 TX2- -> TX2- data; B2 TX2+ -> TX2+ data
B1 GND -> GND ground
""",
    ),
    Published(
        "usb-c-24",
        "ST UM2191, table 1 (USB Type-C pinout description), receptacle signal, as far as B9",
        """
A1 GND -> GND ground; A2 TX1+ -> TX1+ data; A3 TX1- -> TX1- data; A4 VBUS -> VBUS power; A5 CC1 or VCONN -> CC1 data
A6 D+ -> D+ data; A7 D- -> D- data; A8 SBU1 -> SBU1 data; A9 VBUS -> VBUS power; A10 RX2- -> RX2- data
A11 RX2+ -> RX2+ data
A12 GND -> GND ground; B1 GND -> GND ground; B2 TX2+ -> TX2+ data; B3 TX2- -> TX2- data; B4 VBUS -> VBUS power
B5 CC2 or VCONN -> CC2 data; B6 D+ -> D+ data; B7 D- -> D- data; B8 SBU2 -> SBU2 data; B9 VBUS -> VBUS power
""",
        cut_off=True,
    ),
    Published(
        "usb-c-16",
        "ST UM2191, table 1, receptacle signal, without the TX and RX pairs; B12 from the drawing of electronics "
        "question 125011",
        """
A1 GND -> GND ground; A4 VBUS -> VBUS power; A5 CC1 or VCONN -> CC1 data; A6 D+ -> D+ data; A7 D- -> D- data
A8 SBU1 -> SBU1 data; A9 VBUS -> VBUS power; A12 GND -> GND ground; B1 GND -> GND ground; B4 VBUS -> VBUS power
B5 CC2 or VCONN -> CC2 data; B6 D+ -> D+ data; B7 D- -> D- data; B8 SBU2 -> SBU2 data; B9 VBUS -> VBUS power
B12 GND -> GND ground
""",
    ),
    Published(
        "usb-micro-b",
        "liquisearch.com, Universal Serial Bus, USB 1.x/2.0 Mini/Micro pinout, device",
        """
1 VBUS +5 V -> VBUS power; 2 D- -> D- data; 3 D+ -> D+ data; 4 ID, not connected -> ID data; 5 GND -> GND ground
""",
    ),
    Published(
        "usb-micro-b",
        "the same table, host: ID joined to signal ground",
        """
4 ID, connected to signal ground -> GND ground; 5 GND -> GND ground
""",
        variant="id-grounded",
        cut_off=True,
    ),
    Published(
        "usb-a-2",
        "hardwarebook.net, USB connector (copy at mirrors.de.sinuspl.net)",
        """
1 VBUS +5 VDC -> VBUS power; 2 D- -> D- data; 3 D+ -> D+ data; 4 GND -> GND ground
""",
    ),
    Published(
        "usb-a-3",
        "pinoutguide.com, USB 3.0 connector pinout, Standard-A",
        """
1 VBus +5V Power -> VBUS power; 2 USB D- -> D- data; 3 USB D+ -> D+ data; 4 GND -> GND ground
5 StdA_SSRX- -> SSRX- data
6 StdA_SSRX+ -> SSRX+ data; 7 GND_DRAIN -> GND_DRAIN ground; 8 StdA_SSTX- -> SSTX- data; 9 StdA_SSTX+ -> SSTX+ data
""",
    ),
    Published(
        "displayport",
        "techno-fix.com, connector pinout DisplayPort version 1.2, source side",
        """
1 ML_Lane 0 (p) -> ML0+ data; 2 GND -> GND ground; 3 ML_Lane 0 (n) -> ML0- data; 4 ML_Lane 1 (p) -> ML1+ data
5 GND -> GND ground; 6 ML_Lane 1 (n) -> ML1- data; 7 ML_Lane 2 (p) -> ML2+ data; 8 GND -> GND ground
9 ML_Lane 2 (n) -> ML2- data; 10 ML_Lane 3 (p) -> ML3+ data; 11 GND -> GND ground; 12 ML_Lane 3 (n) -> ML3- data
13 CONFIG1 -> CONFIG1 data; 14 CONFIG2 -> CONFIG2 data; 15 AUX CH (p) -> AUX+ data; 16 GND -> GND ground
17 AUX CH (n) -> AUX- data; 18 Hot Plug -> HPD data; 19 Return for Power -> GND ground; 20 DP_PWR 3.3 V -> DP_PWR power
""",
    ),
    Published(
        "displayport",
        "pinoutguide.com, 20 pin DisplayPort, receiving end, lanes",
        """
1 ML_Lane 3 (n) -> ML3- data; 3 ML_Lane 3 (p) -> ML3+ data; 4 ML_Lane 2 (n) -> ML2- data; 6 ML_Lane 2 (p) -> ML2+ data
7 ML_Lane 1 (n) -> ML1- data; 9 ML_Lane 1 (p) -> ML1+ data; 10 ML_Lane 0 (n) -> ML0- data; 12 ML_Lane 0 (p) -> ML0+ data
""",
        variant="sink",
        cut_off=True,
    ),
    Published(
        "displayport",
        "monitor user manual (XV275K) p.15, 20-pin signal cable, contacts 13 to 20",
        """
13,14,16 GND -> GND ground; 15 AUX_CH_P -> AUX+ data; 17 AUX_CH_N -> AUX- data; 18 HPD -> HPD data
19 RETURN(GND) -> GND ground; 20 DP_PWR -> DP_PWR power
""",
        variant="config-grounded",
        cut_off=True,
    ),
    Published(
        "rj45-1000",
        "Planet GT-1205A manual p.21, 1000Base-T, MDI",
        """
1 BI_DA+ -> DA+ data; 2 BI_DA- -> DA- data; 3 BI_DB+ -> DB+ data; 4 BI_DC+ -> DC+ data; 5 BI_DC- -> DC- data
6 BI_DB- -> DB- data; 7 BI_DD+ -> DD+ data; 8 BI_DD- -> DD- data
""",
    ),
    Published(
        "vga-de15",
        "pinouts.ru, VGA VESA DDC pinout; 11 is optional there and reserved since E-DDC (Wikipedia, VGA connector)",
        """
1 RED -> RED data; 2 GREEN -> GREEN data; 3 BLUE -> BLUE data; 4 RES -> ID2 reserved; 5 GND -> GND ground
6 RGND -> GND ground
7 GGND -> GND ground; 8 BGND -> GND ground; 9 +5V -> +5V power; 10 SGND -> GND ground; 11 ID0 -> ID0 reserved
12 SDA -> SDA data
13 HSYNC or CSYNC -> HSYNC data; 14 VSYNC -> VSYNC data; 15 SCL -> SCL data
""",
    ),
    Published(
        "vga-de15",
        "hardwarebook.info, VGA (15), first edition",
        """
9 Key (no pin) -> KEY reserved
""",
        variant="key-9",
        cut_off=True,
    ),
    Published(
        "de9-rs232-dte",
        "antona.com, RS232 PC serial interface, DB-9, male at the PC",
        """
1 DCD/RLSD -> DCD data; 2 RXD -> RXD data; 3 TXD -> TXD data; 4 DTR -> DTR data; 5 GND -> GND ground; 6 DSR -> DSR data
7 RTS -> RTS data; 8 CTS -> CTS data; 9 RI -> RI data
""",
    ),
    Published(
        "microsd",
        "mbrainx.blogspot.com, microSD pinout, SD mode (2009)",
        """
1 DAT2 -> DAT2 data; 2 CD/DAT3 -> DAT3 data; 3 CMD -> CMD data; 4 Vdd -> VDD power; 5 CLK -> CLK data
6 Vss -> GND ground
7 DAT0 -> DAT0 data; 8 DAT1 -> DAT1 data
""",
        cut_off=True,
    ),
    Published(
        "sata-7",
        "pinoutguide.com, Serial ATA pinout, 7-pin data connector",
        """
S1 GND -> GND ground; S2 A+ -> A+ data; S3 A- -> A- data; S4 GND -> GND ground; S5 B- -> B- data; S6 B+ -> B+ data
S7 GND -> GND ground
""",
    ),
]

SUPPLIES = {
    ("hdmi-a", "+5V"): (5, None),  # photo printer user guide, HDMI: +5V power
    ("usb-c-16", "VBUS"): (5, 20),  # TI SLYY109B: 5 V to 20 V
    ("usb-c-24", "VBUS"): (5, 20),  # TI SLYY109B: 5 V to 20 V
    ("usb-micro-b", "VBUS"): (5, None),  # liquisearch.com: +5 V
    ("usb-a-2", "VBUS"): (5, None),  # hardwarebook.net: +5 VDC
    ("usb-a-3", "VBUS"): (5, None),  # pinoutguide.com: +5V Power
    ("displayport", "DP_PWR"): (3.3, None),  # techno-fix.com: 3.3 V 500 mA
    ("vga-de15", "+5V"): (5, None),  # pinouts.ru: +5 VDC
    ("microsd", "VDD"): (3.3, 3.6),  # components.monofindia.com: +3.3V; mbrainx.blogspot.com: 2.7 to 3.6 V
}

MAP_IDS = [
    "hdmi-a",
    "usb-c-16",
    "usb-c-24",
    "usb-micro-b",
    "usb-a-2",
    "usb-a-3",
    "displayport",
    "rj45-1000",
    "vga-de15",
    "de9-rs232-dte",
    "microsd",
    "sata-7",
]
WITHOUT_SHELL = {"sata-7"}
OUTSIDE_THE_STANDARD = {"microsd": {"DET_A", "DET_B"}}


def wired(table: Published) -> PinMap:
    found = find_pin_map(table.map_id)
    changed = found.with_variant(table.variant) if table.variant else found
    assert changed is not None, f"{table.map_id} has no variant {table.variant}"
    return changed


def table_id(table: Published) -> str:
    return "-".join(filter(None, (table.map_id, table.variant, table.source.split()[0].strip(","))))


@pytest.mark.parametrize("table", TABLES, ids=table_id)
def test_each_contact_has_the_net_and_role_of_the_published_table(table):
    pin_map = wired(table)
    assert table.meaning
    assert {
        c: (pin_map.net_of[c].name, pin_map.net_of[c].role) for c in table.meaning if c in pin_map.net_of
    } == table.meaning


@pytest.mark.parametrize("table", [t for t in TABLES if not t.cut_off], ids=table_id)
def test_the_map_has_no_contact_that_the_published_table_lacks(table):
    assert set(wired(table).net_of) - {"SH"} == set(table.meaning)


def test_every_map_is_held_against_a_published_table():
    for map_id in MAP_IDS:
        told = {
            contact for table in TABLES if table.map_id == map_id and not table.variant for contact in table.meaning
        }
        whole = {contact for table in TABLES if table.map_id == map_id for contact in table.meaning}
        contacts = set(find_pin_map(map_id).net_of) - {"SH"}
        assert told and whole == contacts - OUTSIDE_THE_STANDARD.get(map_id, set()), map_id


@pytest.mark.parametrize("map_id", MAP_IDS)
def test_supplies_have_the_published_volts_and_nothing_else_is_a_supply(map_id):
    found = {(map_id, n.name): (n.volts, n.volts_max) for n in find_pin_map(map_id).nets if n.role == "power"}
    assert found == {key: volts for key, volts in SUPPLIES.items() if key[0] == map_id}


@pytest.mark.parametrize("map_id", MAP_IDS)
def test_one_common_ground_that_the_board_must_join_and_a_shell_that_may_touch_it(map_id):
    pin_map = find_pin_map(map_id)
    if map_id != "rj45-1000":
        ground = pin_map.net_named["GND"]
        assert ground.role == "ground" and ground.must_join == (len(ground.contacts) > 1)
    shells = [(net.name, net.contacts, net.ground) for net in pin_map.nets if net.role == "shell"]
    assert shells == ([] if map_id in WITHOUT_SHELL else [("SHELL", ("SH",), "may")])


def test_the_data_pairs_of_usb_c_may_be_joined_and_its_supplies_must():
    """TI SLYY109B: the receptacle may short D+ to D+ and D- to D-."""
    for map_id in ("usb-c-16", "usb-c-24"):
        joined = {net.name: net.must_join for net in find_pin_map(map_id).nets if len(net.contacts) > 1}
        assert joined == {"GND": True, "VBUS": True, "D+": False, "D-": False}


def row_of(pin_map: PinMap) -> list[str]:
    """Contacts of the first layout's row from left to right on the board, a joint of two as `A1/B12`."""
    joints = [joint for joint in pin_map.layouts[0].joints if not joint.name.startswith("SH")]
    return ["/".join(joint.contacts) for joint in sorted(joints, key=lambda joint: joint.x)]


def test_the_solder_row_of_the_16_contact_part_is_not_in_the_order_of_its_face():
    """Order read from the maker's part as KiCad draws it (TYPE-C-31-M-12), the joint pairs from the USB-C pinout."""
    pin_map = find_pin_map("usb-c-16")
    assert row_of(pin_map) == ["A1/B12", "A4/B9", "B8", "A5", "B7", "A6", "A7", "B6", "A8", "B5", "B4/A9", "B1/A12"]
    assert [j.name for j in pin_map.layouts[0].joints if len(j.contacts) > 1] == ["A1B12", "A4B9", "B4A9", "B1A12"]
    nets = {joint.name: pin_map.net_of[joint.contacts[0]].name for joint in pin_map.layouts[0].joints}
    beside_vbus = {
        nets[b if nets[a] == "VBUS" else a]
        for a, b, _ in pad_gaps(pin_map.layouts[0].joints, 0.26)
        if (nets[a] == "VBUS") != (nets[b] == "VBUS")
    }
    assert beside_vbus == {"GND", "SBU2", "CC2"}


def test_hdmi_shields_lie_between_the_two_lines_of_their_pair():
    """From the pinout (byminsk.com/hdmi.htm): data beside data only at 3-4, 6-7, 9-10 and along 12 to 16."""
    pin_map = find_pin_map("hdmi-a")
    assert row_of(pin_map) == [str(n) for n in range(19, 0, -1)]
    pairs = [
        (a, b)
        for a, b, _ in pad_gaps(pin_map.layouts[0].joints, 0.21)
        if pin_map.net_of[a].role == pin_map.net_of[b].role == "data"
    ]
    assert sorted((int(a), int(b)) for a, b in pairs) == [
        (3, 4),
        (6, 7),
        (9, 10),
        (12, 13),
        (13, 14),
        (14, 15),
        (15, 16),
    ]


@pytest.mark.parametrize(
    ("map_id", "left", "right"),
    [
        ("hdmi-a", "19", "1"),
        ("usb-c-16", "A1", "A12"),
        ("usb-c-24", "A1", "A12"),
        ("usb-micro-b", "1", "5"),
        ("usb-a-2", "1", "4"),
        ("usb-a-3", "1", "4"),
        ("vga-de15", "5", "1"),
    ],
)
def test_face_and_first_layout_are_no_mirror_images(map_id, left, right):
    """Mouth at the bottom of the footprint: who looks in sees left and right as on the board (KiCad's outlines)."""
    pin_map = find_pin_map(map_id)
    face = {spot.contact: spot.x for spot in pin_map.face}
    layout = pin_map.layouts[0]
    board = {contact: joint.x for joint in layout.joints for contact in joint.contacts}
    assert face[left] < face[right] and board[left] < board[right]
