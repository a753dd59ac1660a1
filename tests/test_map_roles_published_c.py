"""Card, audio, drive, debug and vehicle connectors held against a second published table, contact by contact.

Role, net and volts of each.

A table is written as its publisher prints it: `contacts printed name`, followed by `= net` where the map uses another
spelling. The role follows from the printed name alone (`role_of`); volts are compared where they are printed. A contact
where map and table differ is listed in `differs` with its reason. What was not read anywhere says "from memory".
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import pytest

from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import Net, PinMap
from connector_check.pinout.ranges import expand

UNUSED = re.compile(r"reserved|rfu|n/?c|no connect|not connected|\(key\)|\(reserved\)|key|rsv", re.IGNORECASE)
GROUNDS = re.compile(r"gnd|ground|\bvss|screen|shield|\bcom\b", re.IGNORECASE)
SUPPLIES = re.compile(r"\bv(cc|dd|pp|tg|tref|supply)\b|\bbattery\b|[+-]\d+ ?v", re.IGNORECASE)
VOLTS = re.compile(r"([+-]?\d+(?:\.\d+)?) ?v", re.IGNORECASE)


@dataclass(frozen=True)
class Row:
    contact: str
    printed: str
    net: str


@dataclass(frozen=True)
class Table:
    """partial: the table leaves out contacts that the map has."""

    map_id: str
    source: str
    text: str
    variant: str = ""
    partial: bool = False
    differs: dict[str, str] = field(default_factory=dict)

    @property
    def rows(self) -> list[Row]:
        found = []
        for entry in filter(None, (part.strip() for part in re.split(r"[;\n]", self.text))):
            contacts, rest = entry.split(None, 1)
            printed, _, net = rest.partition(" = ")
            found += [Row(c, printed, net or printed) for item in contacts.split(",") for c in expand(item)]
        return found

    @property
    def pin_map(self) -> PinMap:
        found = find_pin_map(self.map_id)
        if not self.variant:
            return found
        changed = found.with_variant(self.variant)
        assert changed is not None, f"{self.map_id} has no variant {self.variant}"
        return changed


def role_of(printed: str) -> str:
    """The role a printed name speaks of."""
    if UNUSED.fullmatch(printed):
        return "reserved"
    if GROUNDS.search(printed):
        return "ground"
    return "power" if SUPPLIES.search(printed) else "data"


def difference(row: Row, net: Net | None) -> str:
    """In what a contact of the map differs from the row, or nothing."""
    if net is None:
        return "not in the map"
    if net.role != role_of(row.printed):
        return f"published {row.printed} ({role_of(row.printed)}), map {net.name} ({net.role})"
    if net.role != "reserved" and net.name != row.net:
        return f"published {row.printed} = {row.net}, map {net.name}"
    volts = VOLTS.search(row.printed)
    if net.role == "power" and volts and float(volts[1]) != net.volts:
        return f"published {volts[1]} V, map {net.volts} V"
    return ""


def differences(table: Table) -> dict[str, str]:
    nets = table.pin_map.net_of
    found = {row.contact: difference(row, nets.get(row.contact)) for row in table.rows}
    return {contact: what for contact, what in found.items() if what}


CF_MEMORY = """
1,50 GND; 13,38 VCC; 2 D03; 3 D04; 4 D05; 5 D06; 6 D07; 7 !CE1 = -CE1; 8 A10; 9 !OE = -OE; 10 A09; 11 A08; 12 A07
14 A06; 15 A05;
16 A04; 17 A03; 18 A02; 19 A01; 20 A00; 21 D00; 22 D01; 23 D02; 24 WP; 25 !CD2 = -CD2; 26 !CD1 = -CD1; 27 D11; 28 D12
29 D13;
30 D14; 31 D15; 32 !CE2 = -CE2; 33 !VS1 = -VS1; 34 !IORD = -IORD; 35 !IOWR = -IOWR; 36 !WE = -WE; 37 RDY/BSY = RDY/-BSY;
39 !CSEL = -CSEL; 40 !VS2 = -VS2; 41 RESET; 42 !WAIT = -WAIT; 43 !INPACK = -INPACK; 44 !REG = -REG; 45 BVD2; 46 BVD1
47 D08;
48 D09; 49 D10
"""
ATA = """
2,19,22,24,26,30,40 GROUND = GND; 1 -RESET = RESET-; 3 DD7; 4 DD8; 5 DD6; 6 DD9; 7 DD5; 8 DD10; 9 DD4; 10 DD11; 11 DD3
12 DD12;
13 DD2; 14 DD13; 15 DD1; 16 DD14; 17 DD0; 18 DD15; 20 (key); 21 DMARQ; 23 -DIOW:STOP = DIOW-
25 DIOR:-HDMARDY:HSTROBE = DIOR-;
27 IORDY:-DDMARDY:DSTROBE = IORDY; 28 CSEL; 29 -DMACK = DMACK-; 31 INTRQ; 32 (reserved); 33 DA1
34 -PDIAG:-CBLID = PDIAG-;
35 DA0; 36 DA2; 37 -CS0 = CS0-; 38 -CS1 = CS1-; 39 -DASP = DASP-
"""
MAKER = "".join(f"; {n} Manufacturer Discretionary = MAKER{n}" for n in (1, 3, 8, 9, 11, 12, 13))

TABLES = [
    Table(
        "sd",
        "pinouts.ru, Secure Digital card pinout, SD mode (mirror at textfiles.meulie.net)",
        """
1 CD/DAT3 = DAT3; 2 CMD; 3 Vss1 = VSS; 4 Vdd = VDD; 5 CLK; 6 Vss2 = VSS; 7 DAT0; 8 DAT1; 9 DAT2
""",
        partial=True,
    ),
    Table("sd", "SD Physical Layer Simplified Specification 4.10, table 3-1, SPI mode", "8 RSV; 9 RSV", "spi", True),
    Table(
        "sim-card",
        "cardweb.com.tw, ISO 7816-2 contacts",
        "C1 Vcc = VCC; C2 RST; C3 CLK; C4 RFU; C5 GND; C6 Vpp = VPP; C7 I/O; C8 RFU",
        differs={"C6": "programming supply of the first cards; no supply since, see the map's settled notes"},
    ),
    Table(
        "sim-card",
        "pinoutsearch.com, SIM card pinout",
        "C1 VCC; C2 RST; C3 CLK; C4 USB D+ = D+; C5 GND; C7 I/O; C8 USB D- = D-",
        "usb",
        partial=True,
    ),
    Table("compactflash-50", "howell1964.freeserve.co.uk, Compact Flash Card Pinout, memory column", CF_MEMORY),
    Table(
        "compactflash-50",
        "howell1964.freeserve.co.uk, Compact Flash Card Pinout, True IDE column where it differs",
        """
7 !CS0 = -CS0; 24 !IOCS16 = -IOCS16; 32 !CS1 = -CS1; 37 INTRQ; 41 !RESET = -RESET; 42 IORDY; 43 NC; 45 !DASP = -DASP
46 !PDIAG = -PDIAG
""",
        "true-ide",
        partial=True,
    ),
    Table(
        "compactflash-50",
        "ant-computing.ods.org, CompactFlash to ATA connection table: what goes to ground and to the supply",
        "1,8..12,14..17,50 GND; 13,36,38,44 Vcc = VCC; 43 NC",
        "true-ide",
        partial=True,
    ),
    Table(
        "compactflash-50",
        "howell1964.freeserve.co.uk, Compact Flash Card Pinout, I/O column",
        "24 !IOIS16 = -IOIS16; 37 IREQ = -IREQ; 45 !SPKR = -SPKR; 46 !STSCHG = -STSCHG",
        "pc-card-io",
        partial=True,
    ),
    Table("mini-din-4-svideo", "pinoutdiagram.com, S-Video connector", "1 GND; 2 GND; 3 Y; 4 C"),
    Table(
        "mini-din-4-svideo",
        "zavalatips.gearlytools.com, S-Video pinout diagram",
        "1 Luminance (Y) = Y; 2 Chrominance (C) = C; 3,4 Ground = GND",
        differs=dict.fromkeys("1234", "this page alone turns the connector round; four others agree with the map"),
    ),
    Table(
        "mini-din-6-ps2",
        "cadxservices.com, PS/2 Port",
        "1 Data = DATA; 2 Reserved; 3 Ground = GND; 4 +5 Volts = +5V; 5 Clock = CLK; 6 Reserved",
    ),
    Table("mini-din-6-ps2", "hardwarebook.info, Mouse (PS/2), note on combo mice", "2 RXD; 6 TXD", "combo-mouse", True),
    Table(
        "din-5-midi-out",
        "pinoutsearch.com, DIN-5 MIDI",
        """
1 Not connected; 2 Shield / Ground = SHIELD; 3 Not connected; 4 Current source (+) = SOURCE
5 Current sink (data) = SINK
""",
    ),
    Table(
        "din-5-midi-out",
        "interfacebus.com, MIDI pinout, OUT column",
        "1 No Connect; 2 Shield = SHIELD; 3 No Connect; 4 +5v = SOURCE",
        partial=True,
        differs={"4": "fed through a resistor: a current source, not a supply"},
    ),
    Table(
        "din-5-midi-in",
        "interfacebus.com, MIDI pinout, IN column",
        "1 No Connect; 2 No Connect; 3 No Connect; 4 IN+",
        partial=True,
        differs={"2": "open on the board, yet the cable brings the sender's ground to it: a ground that needs no join"},
    ),
    Table(
        "din-5-midi-in",
        "pinoutguide.com, MIDI IN",
        "1 Not connected; 2 connected to shield = SHIELD; 3 Not connected; 4 Current Source = IN+; 5 Current "
        "Sink = IN-",
    ),
    Table(
        "xlr-3",
        "TL Audio VTC user guide p.8, balanced inputs",
        "1 Ground (screen) = GND; 2 Signal Phase (hot) = HOT; 3 Signal Non-Phase (cold) = COLD",
    ),
    Table(
        "xlr-3",
        "pinouts.ru, 3 pole XLR, unbalanced audio",
        "1 Ground / Screen = GND; 2 Signal = HOT; 3 Ground / Screen = GND",
        "unbalanced",
    ),
    Table("xlr-3", "pinouts.ru, 3 pole XLR, DMX512", "1 Screen = GND; 2 Data - = DATA-; 3 Data + = DATA+", "dmx512"),
    Table(
        "xlr-3",
        "pinouts.ru, 3 pole XLR, talkback backbone",
        "1 Earth/Screen = GND; 2 Power +24VDC = +24V; 3 Audio = AUDIO",
        "intercom",
    ),
    Table(
        "trs-3.5",
        "Allen & Heath PA user guide p.12, headphones",
        "T left = LEFT; R right = RIGHT; S ground = GND",
        partial=True,
    ),
    Table(
        "trrs-3.5-sleeve-gnd",
        "wiki.tbpindustries.com, Headset Jack Standards, OMTP",
        "S Ground = GND; R2 Microphone = MIC; R1 Right Ear = RIGHT; T Left Ear = LEFT",
        partial=True,
    ),
    Table(
        "trrs-3.5-ring2-gnd",
        "wiki.tbpindustries.com, Headset Jack Standards, AHJ/CTIA",
        "S Microphone = MIC; R2 Ground = GND; R1 Right Ear = RIGHT; T Left Ear = LEFT",
        partial=True,
    ),
    Table(
        "molex-4",
        "technologyhumans.com, 4-pin peripheral power connector pinout (ATX 2.2)",
        "1 +12VDC = +12V; 2,3 COM = GND; 4 +5VDC = +5V",
    ),
    Table(
        "floppy-34",
        "cadxservices.com, Floppy Drive and Interface",
        """
1..33/2 Ground = GND; 2 Density = DENSITY; 4,6 N/C; 8 Index = INDEX; 10 Motor Enable Drive 0 = MOTEA
12 Drive Select 1 = DRVSB;
14 Drive Select 0 = DRVSA; 16 Motor Enable Drive 1 = MOTEB; 18 Direction Select = DIR; 20 Head Step = STEP
22 Write Data = WDATA;
24 Write Gate = WGATE; 26 Track 00 = TRK00; 28 Write Protect = WPT; 30 Read Data = RDATA; 32 Head Select = SIDE1;
34 Disk Change/Ready = DSKCHG
""",
    ),
    Table(
        "floppy-34",
        "pinouts.ru, internal floppy disk, Shugart list",
        """
2 /DCD = DCD; 4 /INUSE = INUSE; 6 /DS3 = DS3; 8 /INDEX = INDEX; 10 /DS0 = DS0; 12 /DS1 = DS1; 14 /DS2 = DS2
16 /MTRON = MTRON;
18 /DIR = DIR; 20 /STEP = STEP; 22 /WDATE = WDATA; 24 /WGATE = WGATE; 26 /TRK00 = TRK00; 28 /WPT = WPT
30 /RDATA = RDATA;
32 /SIDE1 = SIDE1; 34 /RDY = RDY
""",
        "shugart",
        partial=True,
    ),
    Table("ide-40", "storagereview.com, IDE/ATA connectors and signals", ATA),
    Table(
        "ide-40",
        "pinouts.ru, ATA / IDE interface pinout (mirror at textfiles.meulie.net), where it differs from the "
        "later table",
        "20 KEY; 28 SPSYNC:CSEL = SPSYNC; 32 /IOCS16 = IOCS16-; 34 PDIAG = PDIAG-; 39 /ACTIVE = DASP-",
        "early-ata",
        partial=True,
    ),
    Table(
        "arm-jtag-20",
        "pinoutsearch.com, JTAG 20-pin (ARM)",
        """
1 VTref = VTREF; 2 VCC / Vsupply = VSUPPLY; 3 nTRST; 4..20/2 GND; 5 TDI; 7 TMS / SWDIO = TMS; 9 TCK / SWCLK = TCK
11 RTCK;
13 TDO / SWO = TDO; 15 nRESET = nSRST; 17 DBGRQ / NC = DBGRQ; 19 DBGACK / NC = DBGACK
""",
    ),
    Table(
        "arm-cortex-debug-10",
        "Microchip online documentation, SAM JTAG pinout, table 1",
        """
1 VTG = VTREF; 2 TMS = SWDIO; 3,5,9 GND; 4 TCK = SWCLK; 6 TDO = SWO; 7 KEY; 8 TDI; 10 nRESET
""",
    ),
    Table(
        "arm-cortex-debug-10",
        "pinoutsearch.com, JTAG / SWD header",
        """
1 VTREF; 2 SWDIO / TMS = SWDIO; 3,5 GND; 4 SWCLK / TCK = SWCLK; 6 SWO / TDO = SWO; 7 KEY; 8 TDI; 9 GNDDetect = GND
10 nRESET
""",
    ),
    Table(
        "obd2-j1962",
        "dashlogic.com, OBD-II J1962 connector, type A",
        "2 SAE J1850 Bus + = J1850+; 4 Chassis Ground = CHASSIS_GND; 5 Signal Ground = SIGNAL_GND; 6 CAN High = "
        "CAN_H; 7 K Line = K;"
        " 10 SAE J1850 Bus - = J1850-; 14 CAN Low = CAN_L; 15 L Line = L; 16 Vehicle Battery Power 12V = BATTERY"
        + MAKER,
    ),
    Table(
        "obd2-j1962",
        "dashlogic.com, OBD-II J1962 connector, type B",
        "16 Vehicle Battery Power 24V = BATTERY_24V",
        "type-b-24v",
        partial=True,
    ),
    Table(
        "obd2-j1962",
        "dashlogic.com, OBD-II J1962 connector, one maker's table",
        """
3 Ethernet RX+ = RX+; 8 Ethernet Enable = ETH_ENABLE; 11 Ethernet RX- = RX-; 12 Ethernet TX+ = TX+
13 Ethernet TX- = TX-
""",
        "ethernet",
        partial=True,
    ),
    Table(
        "obd2-j1962",
        "uobdii.com, OBD-II diagnostic connector, one maker's use of contact 1",
        "1 Switched +12 V = IGNITION",
        "ignition-on-1",
        partial=True,
    ),
]


def table_id(table: Table) -> str:
    return "-".join(filter(None, (table.map_id, table.variant, re.split(r"[ ,]", table.source)[0])))


@pytest.mark.parametrize("table", TABLES, ids=table_id)
def test_the_map_agrees_with_the_published_table(table):
    assert table.rows and all(table.differs.values())
    found = differences(table)
    assert found.keys() == table.differs.keys(), found


@pytest.mark.parametrize("table", [t for t in TABLES if not t.partial], ids=table_id)
def test_a_whole_table_has_exactly_the_contacts_of_the_map(table):
    contacts = [row.contact for row in table.rows]
    assert len(contacts) == len(set(contacts))
    assert set(contacts) == set(table.pin_map.net_of) - {"SH"}


@pytest.mark.parametrize(
    ("printed", "role"),
    [
        ("NC", "reserved"),
        ("NC/TDI", "data"),
        ("Vss1", "ground"),
        ("Power +24VDC", "power"),
        ("Vpp", "power"),
        ("COM", "ground"),
        ("BVD1", "data"),
        ("Current source (+)", "data"),
        ("(key)", "reserved"),
        ("-CS0", "data"),
        ("Vehicle Battery Power 12V", "power"),
    ],
)
def test_the_role_of_a_printed_name(printed, role):
    assert role_of(printed) == role


def test_a_wrong_contact_role_or_volts_would_be_found():
    wrong = Table("molex-4", "made wrong on purpose", "1 +5V = +12V; 2 +12V = GND; 3 COM = +5V; 4 +5V; 5 GND")
    assert differences(wrong) == {
        "1": "published +5 V, map 12.0 V",
        "2": "published +12V (power), map GND (ground)",
        "3": "published COM = +5V, map GND",
        "5": "not in the map",
    }


# What the tables cannot say


@pytest.mark.parametrize(
    ("map_id", "closed"),
    [
        ("trs-3.5", {"T": "TN", "R": "RN"}),
        ("trrs-3.5-sleeve-gnd", {"T": "TN", "R1": "R1N"}),
        ("trrs-3.5-ring2-gnd", {"T": "TN", "R1": "R1N"}),
    ],
)
def test_switch_contacts_are_closed_without_a_plug_and_open_with_one(map_id, closed):
    """Same Sky and Cliff jack socket texts: normally closed, about 0 ohm."""
    pin_map = find_pin_map(map_id)
    wanted = {(pin_map.net_of[pole].name, pin_map.net_of[switch].name) for pole, switch in closed.items()}
    assert {path.nets for path in pin_map.paths} == wanted
    assert all(path.low == 0 and path.high <= 1 and path.may_be_absent for path in pin_map.paths)


def test_the_shield_of_midi_in_needs_no_join_and_is_no_fault_when_joined_to_the_shell():
    """francoisgeorgy.ch, MIDI connectors: contact 2 of an IN must be left floating."""
    pin_map = find_pin_map("din-5-midi-in")
    shield = pin_map.net_of["2"]
    assert shield.role == "ground" and not shield.must_join and pin_map.net_of["SH"].ground == "may"


@pytest.mark.parametrize(
    ("variant", "role", "joined"),
    [("", "data", False), ("swp", "data", False), ("vpp-on-vcc", "power", True), ("c6-open", "reserved", False)],
)
def test_sim_contact_c6_is_a_supply_only_where_the_board_ties_it_so(variant, role, joined):
    pin_map = find_pin_map("sim-card")
    wired = pin_map.with_variant(variant) if variant else pin_map
    assert wired is not None
    assert (wired.net_of["C6"].role, wired.net_of["C6"].must_join) == (role, joined)


def test_the_face_of_the_vehicle_connector_is_the_one_published():
    """softechpro-solutions.com, OBD-II connector pinout: into the female connector, 1 at the upper left, 9 below it."""
    face = sorted(find_pin_map("obd2-j1962").face, key=lambda p: (p.y, p.x))
    assert [p.contact for p in face] == [str(n) for n in range(1, 17)]


# Joints against the drawings that were read


def places(map_id: str, layout_id: str) -> dict[str, tuple[float, float]]:
    layout = find_pin_map(map_id).layout(layout_id)
    assert layout is not None
    return {joint.name: (joint.x, joint.y) for joint in layout.joints}


def test_the_ps2_joints_sit_where_both_drawings_have_them():
    """Neotron-Compute/Neotron-32-Hardware, mini-DIN_6.kicad_mod (mm).

    74hc595/Ultim809, minidin6h.fp (1/100 mil, turned).
    """
    assert places("mini-din-6-ps2", "right-angle") == {
        "1": (-1.3, 8.51),
        "2": (1.3, 8.51),
        "3": (-3.35, 8.51),
        "4": (3.35, 8.51),
        "5": (-3.35, 11),
        "6": (3.35, 11),
        "SH1": (-6.76, 5.51),
        "SH2": (0, 4.7),
        "SH3": (6.76, 5.51),
    }
    drawn = {
        "3": (29528, 13386),
        "1": (29528, 5118),
        "2": (29528, -5118),
        "4": (29528, -13386),
        "5": (39370, 13386),
        "6": (39370, -13386),
        "SH1": (17717, 26575),
        "SH2": (14567, 0),
        "SH3": (17717, -26575),
    }
    turned = {name: pytest.approx((-y * 0.000254, x * 0.000254), abs=0.02) for name, (x, y) in drawn.items()}
    assert places("mini-din-6-ps2", "right-angle-short") == turned


@pytest.mark.parametrize("map_id", ["din-5-midi-in", "din-5-midi-out"])
def test_the_midi_joints_sit_where_the_drawing_has_them(map_id):
    """Neotron-Compute/Neotron-32-Hardware, 5P180_DIN_Socket.kicad_mod (mm)."""
    assert places(map_id, "right-angle") == {
        "1": (5, 7.5),
        "3": (5, -7.5),
        "2": (5, 0),
        "5": (7.5, -5),
        "4": (7.5, 5),
        "SH1": (-5, -5),
        "SH2": (-5, 5),
    }


MOUTH_TOWARDS = {
    ("mini-din-6-ps2", "right-angle"): (0, -1),
    ("mini-din-6-ps2", "right-angle-short"): (0, -1),
    ("mini-din-4-svideo", "right-angle"): (0, -1),
    ("din-5-midi-in", "right-angle"): (-1, 0),
    ("din-5-midi-out", "right-angle"): (-1, 0),
    ("xlr-3", "female-right-angle"): (1, 0),
    ("sd", "smt-row"): (0, 1),
    ("sd", "smt-row-side-switch"): (0, 1),
    ("compactflash-50", "smt-rows"): (1, 0),
    ("obd2-j1962", "right-angle"): (0, 1),
}
"""Where the mouth of each part lies in its drawing, seen from the component side (body outlines of these drawings)."""


@pytest.mark.parametrize(("map_id", "layout_id"), MOUTH_TOWARDS, ids="-".join)
def test_face_and_joints_are_no_mirror_images(map_id, layout_id):
    """From left to right in the face, the joints run to the right of one who looks into the mouth.

    That is along (mouth y, -mouth x).
    """
    mouth_x, mouth_y = MOUTH_TOWARDS[map_id, layout_id]
    placed = places(map_id, layout_id)
    rows: dict[float, list[tuple[float, float]]] = {}
    for spot in find_pin_map(map_id).face:
        x, y = placed[spot.contact]
        rows.setdefault(spot.y, []).append((spot.x, x * mouth_y - y * mouth_x))
    compared = 0
    for row in rows.values():
        for (face_a, board_a), (face_b, board_b) in zip(sorted(row), sorted(row)[1:], strict=False):
            assert board_b > board_a, f"face {face_a:g} to {face_b:g}"
            compared += 1
    assert compared
