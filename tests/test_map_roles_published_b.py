"""Pin maps held against a second published table, contact by contact: name and role.

Each table is written out as its publisher prints it, `contact name` after `contact name`, and names its source
"from memory"
says that nothing was read. Names are brought together by the rules in `RULES` and, per table, in `same`; roles follow
from the published name alone (`role_of`). A contact where map and table differ is listed in `differs` with its reason.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import pytest

from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import PinMap


@dataclass(frozen=True)
class Published:
    map_id: str
    source: str
    rows: str
    same: dict[str, str] = field(default_factory=dict)
    differs: dict[str, str] = field(default_factory=dict)
    variant: str = ""
    partial: bool = False

    @property
    def names(self) -> dict[str, str]:
        found = {}
        for entry in filter(str.strip, re.split(r"[;\n]", self.rows)):
            contacts, name = entry.split(None, 1)
            for contact in contacts.split(","):
                found[contact] = name.strip()
        return found


RULES = (
    (re.compile(r"TMDS Data ?(\d)([+-])$"), r"D\1\2"),
    (re.compile(r"TMDS Clock ?([+-])$"), r"CK\1"),
    (re.compile(r"ML_Lane (\d) \(p\)$"), r"ML\1+"),
    (re.compile(r"ML_Lane (\d) \(n\)$"), r"ML\1-"),
    (re.compile(r"HSOp\((\d+)\)$"), r"PETp\1"),
    (re.compile(r"HSOn\((\d+)\)$"), r"PETn\1"),
    (re.compile(r"HSIp\((\d+)\)$"), r"PERp\1"),
    (re.compile(r"HSIn\((\d+)\)$"), r"PERn\1"),
    (re.compile(r"Data Bit (\d)$"), r"D\1"),
)
GROUNDS = re.compile(r"gnd|ground|shield|\bcom\b|^sg$|^fg$", re.IGNORECASE)
SUPPLIES = re.compile(r"^[+-]?\d+(\.\d+)? ?v|power|pwr$|vcc|vbus|can_v\+", re.IGNORECASE)
UNUSED = re.compile(
    r"reserved|\bn/?c\b|not (connected|assigned|used)|unassigned|test voltage|^rsvd$|no connect", re.IGNORECASE
)


def role_of(name: str) -> str:
    """The role a published name speaks of."""
    if UNUSED.search(name):
        return "reserved"
    if GROUNDS.search(name):
        return "ground"
    return "power" if SUPPLIES.search(name) else "data"


def net_name(name: str, same: dict[str, str]) -> str:
    if name in same:
        return same[name]
    for pattern, into in RULES:
        if pattern.match(name):
            return pattern.sub(into, name)
    return name


MINI_DISPLAYPORT = """
1,7,8,13,14,19 GND; 2 Hot Plug Detect; 3 ML_Lane 0 (p); 4 CONFIG1; 5 ML_Lane 0 (n); 6 CONFIG2; 9 ML_Lane 1 (p);
10 ML_Lane 3 (p); 11 ML_Lane 1 (n); 12 ML_Lane 3 (n); 15 ML_Lane 2 (p); 16 AUX_CH (p); 17 ML_Lane 2 (n);
18 AUX_CH (n); 20 DP_PWR
"""
DP_NAMES = {"Hot Plug Detect": "HPD", "AUX_CH (p)": "AUX+", "AUX_CH (n)": "AUX-"}

TABLES = [
    Published(
        "mini-displayport",
        "Wikipedia, Mini DisplayPort, copy at kiwix.lema.org (2024-02), source side",
        MINI_DISPLAYPORT,
        DP_NAMES,
    ),
    Published(
        "mini-displayport",
        "the same article: at a sink lane 3 is on 3 (n) and 5 (p), lane 0 on 10 (n) and 12 (p)",
        "3 ML_Lane 3 (n); 5 ML_Lane 3 (p); 10 ML_Lane 0 (n); 12 ML_Lane 0 (p)",
        variant="sink",
        partial=True,
    ),
    Published(
        "hdmi-c",
        "discountlowvoltage.blogspot.com, HDMI Mini vs HDMI Micro (2010), applied to the type A table of "
        "byminsk.com/hdmi.htm",
        """
1 TMDS Data2 Shield; 2 TMDS Data2+; 3 TMDS Data2-; 4 TMDS Data1 Shield; 5 TMDS Data1+; 6 TMDS Data1-;
7 TMDS Data0 Shield; 8 TMDS Data0+; 9 TMDS Data0-; 10 TMDS Clock Shield; 11 TMDS Clock+; 12 TMDS Clock-;
13 DDC/CEC Ground; 14 CEC; 15 SCL; 16 SDA; 17 Reserved; 18 +5V Power; 19 Hot plug Detect
""",
        {
            "TMDS Data2 Shield": "GND",
            "TMDS Data1 Shield": "GND",
            "TMDS Data0 Shield": "GND",
            "TMDS Clock Shield": "GND",
            "DDC/CEC Ground": "GND",
            "Reserved": "RESERVED",
            "+5V Power": "+5V",
            "Hot plug Detect": "HPD",
        },
        variant="hdmi-1.3",
    ),
    Published(
        "dvi-i",
        "Euresys Picolo HD documentation, DVI-I input connector",
        """
1 TMDS Data2-; 2 TMDS Data2+; 3 TMDS Data 2/4 Shield; 4 TMDS Data4-; 5 TMDS Data4+; 6 SCL; 7 SDA; 8 VSYNC;
9 TMDS Data1-; 10 TMDS Data1+; 11 TMDS Data 1/3 Shield; 12 TMDS Data3-; 13 TMDS Data3+; 14 -; 15 Ground; 16 HPD;
17 TMDS Data0-; 18 TMDS Data0+; 19 TMDS Data 0/5 Shield; 20 TMDS Data5-; 21 TMDS Data5+; 22 TMDS Clock Shield;
23 TMDS Clock+; 24 TMDS Clock-; C1 R; C2 G; C3 B; C4 HSYNC; C5 AGND
""",
        {
            "TMDS Data 2/4 Shield": "GND",
            "TMDS Data 1/3 Shield": "GND",
            "TMDS Data 0/5 Shield": "GND",
            "TMDS Clock Shield": "GND",
            "Ground": "GND",
            "R": "RED",
            "G": "GREEN",
            "B": "BLUE",
        },
        differs={
            "14": "an input board that takes no +5 V; the DVI 1.0 table and the projector manual 148379 p.7 print +5 V"
        },
    ),
    Published(
        "dvi-i",
        "manualsdump.com 148379, projector manual p.7, DVI connector, the contacts the first table leaves open",
        "14 +5V Power; 15 Ground; 16 Hot Plug Detect",
        {"+5V Power": "+5V", "Ground": "GND", "Hot Plug Detect": "HPD"},
        partial=True,
    ),
    Published(
        "usb-b-2",
        "pinoutguide.com, USB 3.0 connector pinout, Standard-B contacts 1 to 4",
        "1 VBus; 2 USB D-; 3 USB D+; 4 GND",
        {"VBus": "VBUS", "USB D-": "D-", "USB D+": "D+"},
    ),
    Published(
        "usb-b-3",
        "pinoutsguide.com, USB 3.0 connector pinout, Standard-B (its StdA_ prefix left out)",
        "1 VBus; 2 USB D-; 3 USB D+; 4 GND; 5 SSTX-; 6 SSTX+; 7 GND_DRAIN ground; 8 SSRX-; 9 SSRX+",
        {"VBus": "VBUS", "USB D-": "D-", "USB D+": "D+", "GND_DRAIN ground": "GND_DRAIN"},
    ),
    Published(
        "usb-c-6p",
        "ST UM2191, table 1, receptacle signals of the six contacts",
        "A5 CC1; A9 VBUS; A12 GND; B5 CC2; B9 VBUS; B12 GND",
    ),
    Published(
        "rj45-10-100",
        "Planet GT-1205A manual p.21, 10/100Base-TX, MDI column",
        "1 Tx +; 2 Tx -; 3 Rx +; 6 Rx -",
        {"Tx +": "TX+", "Tx -": "TX-", "Rx +": "RX+", "Rx -": "RX-"},
        partial=True,
    ),
    Published(
        "rj45-10-100",
        "Planet GT-1205A manual p.21, 10/100Base-TX, MDI-X column",
        "1 Rx +; 2 Rx -; 3 Tx +; 6 Tx -",
        {"Tx +": "TX+", "Tx -": "TX-", "Rx +": "RX+", "Rx -": "RX-"},
        variant="mdi-x",
        partial=True,
    ),
    Published(
        "de9-can",
        "interfacebus.com, CAN bus connector pinout, 9-pin D",
        "1 Reserved; 2 CAN_L; 3 CAN_GND Ground; 4 Reserved; 5 CAN_SHLD Shield; 6 GND; 7 CAN_H; 8 Reserved; 9 CAN_V+",
        {"CAN_GND Ground": "CAN_GND", "CAN_SHLD Shield": "CAN_SHLD", "GND": "CAN_GND"},
    ),
    Published(
        "db25-rs232-dte",
        "coreth.com, RS-232-D signal chart",
        """
1 FG; 2 TD; 3 RD; 4 RTS; 5 CTS; 6 DSR; 7 SG; 8 DCD; 9 Positive DC Test Voltage; 10 Negative DC Test Voltage;
11 Not Assigned; 12 (S)DCD; 13 (S)CTS; 14 (S)TD; 15 TC; 16 (S)RD; 17 RC; 18 LL; 19 (S)RTS; 20 DTR; 21 SQ; 22 RI;
23 DRS; 24 XTC; 25 TM
""",
        {
            "FG": "SHIELD",
            "TD": "TXD",
            "RD": "RXD",
            "SG": "GND",
            "Positive DC Test Voltage": "TEST+",
            "Negative DC Test Voltage": "TEST-",
            "Not Assigned": "NC11",
            "(S)DCD": "SDCD",
            "(S)CTS": "SCTS",
            "(S)TD": "STXD",
            "TC": "TXC",
            "(S)RD": "SRXD",
            "RC": "RXC",
            "(S)RTS": "SRTS",
            "DRS": "DSRD",
        },
        variant="signal-quality",
    ),
    Published(
        "db25-rs232-dte",
        "Black Box MT136A manual p.94, table A-3",
        "18 Local Loopback; 21 Remote Loopback; 25 Test Indicator",
        {"Local Loopback": "LL", "Remote Loopback": "RL", "Test Indicator": "TM"},
        partial=True,
    ),
    Published(
        "db25-rs232-dte",
        "computerlanguage.com, TIA/EIA-232, 25-pin list (18 and 25 left blank, 21 signal quality detector)",
        "18 unassigned; 21 SQ; 25 unassigned",
        variant="rs-232-c",
        partial=True,
        same={"unassigned": "NC"},
    ),
    Published(
        "db25-ieee1284",
        "log2.ch, parport pins",
        """
1 -STROBE; 2 D0; 3 D1; 4 D2; 5 D3; 6 D4; 7 D5; 8 D6; 9 D7; 10 -ACK; 11 BUSY; 12 PE; 13 SELECT; 14 AUTO FEED;
15 -ERROR; 16 -INIT; 17 -SLCT IN; 18,19,20,21,22,23,24,25 GND
""",
        {
            "-STROBE": "nSTROBE",
            "-ACK": "nACK",
            "AUTO FEED": "nAUTOFD",
            "-ERROR": "nFAULT",
            "-INIT": "nINIT",
            "-SLCT IN": "nSELECTIN",
        },
    ),
    Published(
        "sata-15",
        "PC Hardware in a Nutshell, 3rd edition, table 13-7",
        """
P1,P2,P3 3.3 V power; P4,P5,P6,P10,P12 Ground; P7,P8,P9 5 V power; P11 Reserved; P13,P14,P15 12 V power
""",
        {"3.3 V power": "V33", "5 V power": "V5", "12 V power": "V12", "Ground": "GND"},
        differs={
            "P11": (
                "reserved in the first revisions; staggered spin-up and activity since (wiki.niidae.com, SATA "
                "power table)"
            )
        },
    ),
    Published(
        "sata-22",
        "datahunter.org, SATA port (data and power lists)",
        """
S1,S4,S7 Ground; S2 A+; S3 A-; S5 B-; S6 B+; P1,P2,P3 3.3V; P4,P5,P6,P10,P12 Gnd; P7,P8,P9 5V;
P11 Staggered spinup/activity; P13,P14,P15 12V
""",
        {"3.3V": "V33", "5V": "V5", "12V": "V12", "Ground": "GND", "Gnd": "GND", "Staggered spinup/activity": "P11"},
    ),
    Published(
        "sata-22",
        "wiki.niidae.com, SATA, standard power connector: P3 is power disable from revision 3.3",
        "P1,P2 3.3 V supply; P3 Enter/exit PWDIS mode",
        {"3.3 V supply": "V33", "Enter/exit PWDIS mode": "PWDIS"},
        variant="pwdis",
        partial=True,
    ),
    Published(
        "pcie-x4",
        "interfacebus.com, PCI Express 4x pinout",
        """
B1,B2,A2,A3 +12v; B3 RSVD; B4,A4,B7,A12,B13,A15,B16,A18,B18,A20,B21,B22,A23,A24,B25,B26,A27,A28,B29,A31,B32 GND;
A1 PRSNT#1; A7 JTAG4 TDO; A8 JTAG5 TMS; B9 JTAG1 TRST#; B8,A9,A10 +3.3v; B10 3.3Vaux; B11 WAKE#; A11 PWRGD;
B12 RSVD; A13 REFCLK+; A14 REFCLK-; B14 HSOp(0); B15 HSOn(0); A16 HSIp(0); A17 HSIn(0); B17,B31 PRSNT#2;
B19 HSOp(1); B20 HSOn(1); A21 HSIp(1); A22 HSIn(1); B23 HSOp(2); B24 HSOn(2); A25 HSIp(2); A26 HSIn(2);
B27 HSOp(3); B28 HSOn(0); A29 HSIp(3); A30 HSIn(3); A19,B30,A32 RSVD
""",
        {
            "+12v": "+12V",
            "+3.3v": "+3.3V",
            "PRSNT#1": "PRSNT1#",
            "PRSNT#2": "PRSNT2#",
            "JTAG4 TDO": "TDO",
            "JTAG5 TMS": "TMS",
            "JTAG1 TRST#": "TRST#",
            "PWRGD": "PERST#",
            "RSVD": "RSVD_*",
        },
        differs={
            "B3": "+12 V in the CEM table and at knightli.com; the variant b3-reserved keeps the older reading",
            "B12": (
                "clock request at knightli.com and in later CEM revisions; the variant b12-reserved keeps the "
                "older reading"
            ),
            "B28": "lane 3 minus; the table repeats the lane 0 name beside HSOp(3) on B27, a slip",
        },
        partial=True,
    ),
    Published(
        "pcie-x16",
        "knightli.com, PCI Express bus pinout, rows 50 to 66",
        """
B50 HSOp(8); B51 HSOn(8); A52 HSIp(8); A53 HSIn(8); B54 HSOp(9); B55 HSOn(9); A56 HSIp(9); A57 HSIn(9);
B58 HSOp(10); B59 HSOn(10); A60 HSIp(10); A61 HSIn(10); B62 HSOp(11); B63 HSOn(11); A64 HSIp(11); A65 HSIn(11);
B66 HSOp(12); A50 RSVD; A51,B52,B53,A54,A55,B56,B57,A58,A59,B60,B61,A62,A63,B64,B65 Ground
""",
        {"Ground": "GND", "RSVD": "RSVD_*"},
        partial=True,
    ),
    Published(
        "m2-key-e",
        "congatec application note AN43, M.2 pinout descriptions, socket 1 key E",
        """
1,7,18,33,39,45,51,57,63,69,75 GND; 2,4,72,74 3.3V; 3 USB_D+; 5 USB_D-; 6 LED_1#; 8 PCM_CLK/I2S SCK;
9 SDIO CLK/SYSCLK; 10 PCM_SYNC/I2S WS; 11 SDIO CMD; 12 PCM_IN/I2S SD_IN; 13 SDIO DATA0; 14 PCM_OUT/I2S SD_OUT;
15 SDIO DATA1; 16 LED_2#; 17 SDIO DATA2; 19 SDIO DATA3; 20 UART WAKE#; 21 SDIO WAKE#; 22 UART RXD;
23 SDIO RESET#/TX_BLANKING; 32 UART TXD; 34 UART CTS; 35 PETp0; 36 UART RTS; 37 PETn0; 38 VENDOR DEFINED 38;
40 VENDOR DEFINED 40; 41 PERp0; 42 VENDOR DEFINED 42; 43 PERn0; 44 COEX3; 46 COEX_RXD; 47 REFCLKp0; 48 COEX_TXD;
49 REFCLKn0; 50 SUSCLK(32kHz); 52 PERST0#; 53 CLKREQ0#; 54 W_DISABLE2#; 55 PEWAKE0#; 56 W_DISABLE1#; 58 I2C_DATA;
59 RESERVED/PETp1; 60 I2C_CLK; 61 RESERVED/PETn1; 62 ALERT#; 64 RESERVED; 65 RESERVED/PERp1; 66 UIM_SWP/PERST1#;
67 RESERVED/PERn1; 68 UIM_POWER_SNK/CLKREQ1#; 70 UIM_POWER_SRC/GPIO_1/PEWAKE1#; 71 RESERVED/REFCLKp1;
73 RESERVED/REFCLKn1
""",
        {
            "LED_1#": "LED1#",
            "LED_2#": "LED2#",
            "PCM_CLK/I2S SCK": "PCM_CLK",
            "SDIO CLK/SYSCLK": "SDIO_CLK",
            "PCM_SYNC/I2S WS": "PCM_SYNC",
            "SDIO CMD": "SDIO_CMD",
            "PCM_IN/I2S SD_IN": "PCM_IN",
            "SDIO DATA0": "SDIO_DATA0",
            "PCM_OUT/I2S SD_OUT": "PCM_OUT",
            "SDIO DATA1": "SDIO_DATA1",
            "SDIO DATA2": "SDIO_DATA2",
            "SDIO DATA3": "SDIO_DATA3",
            "UART WAKE#": "UART_WAKE#",
            "SDIO WAKE#": "SDIO_WAKE#",
            "UART RXD": "UART_RXD",
            "SDIO RESET#/TX_BLANKING": "SDIO_RESET#",
            "UART TXD": "UART_TXD",
            "UART CTS": "UART_CTS",
            "UART RTS": "UART_RTS",
            "SUSCLK(32kHz)": "SUSCLK",
            "UIM_SWP/PERST1#": "PERST1#",
            "RESERVED": "NC64",
            "UIM_POWER_SNK/CLKREQ1#": "CLKREQ1#",
            "UIM_POWER_SRC/GPIO_1/PEWAKE1#": "PEWAKE1#",
            **{f"VENDOR DEFINED {n}": f"VENDOR{n}" for n in (38, 40, 42)},
        },
        differs={
            **dict.fromkeys(
                ("59", "61", "65", "67", "71", "73"),
                "reserved or second lane; data here, the variant one-lane reserves it",
            ),
            "68": "SIM supply of a near-field module or clock request of lane 1: the signal is taken",
            "70": "SIM supply of a near-field module or wake of lane 1: the signal is taken",
        },
    ),
    Published(
        "scart",
        "tesla.rcub.bg.ac.rs, SCART 21-pin (CENELEC)",
        """
1 audio out ch2 (right); 2 audio in ch2 (right); 3 audio out ch1 (mono/left); 4 GND audio; 5 GND blue;
6 audio in ch1 (mono/left); 7 blue in; 8 function select in; 9 GND green; 11 green in; 13 GND red; 14 GND blanking;
15 red in; 16 blanking in; 17 GND composite video out; 18 GND composite video in; 19 composite video out;
20 composite video in
""",
        {
            "audio out ch2 (right)": "AUDIO_OUT_R",
            "audio in ch2 (right)": "AUDIO_IN_R",
            "audio out ch1 (mono/left)": "AUDIO_OUT_L",
            "GND audio": "AGND",
            "GND blue": "GND",
            "audio in ch1 (mono/left)": "AUDIO_IN_L",
            "blue in": "BLUE",
            "function select in": "SWITCHING",
            "GND green": "GND",
            "green in": "GREEN",
            "GND red": "GND",
            "GND blanking": "DGND",
            "red in": "RED",
            "blanking in": "BLANKING",
            "GND composite video out": "GND",
            "GND composite video in": "GND",
            "composite video out": "VIDEO_OUT",
            "composite video in": "VIDEO_IN",
        },
        partial=True,
    ),
    Published(
        "ieee1394-6",
        "en.kioskea.net, FireWire connectors, 6 wires",
        "1 VCC (12V); 2 Ground (0V); 3 TPB-; 4 TPB+; 5 TPA-; 6 TPA+",
        {"VCC (12V)": "VP", "Ground (0V)": "VG"},
    ),
    Published("ieee1394-4", "en.kioskea.net, FireWire connectors, 4 wires", "1 TPB-; 2 TPB+; 3 TPA-; 4 TPA+"),
    Published(
        "ieee488-24",
        "Dow-Key MS matrix manual p.20, table 3-4",
        """
1 DI01; 2 DI02; 3 DI03; 4 DI04; 5 EOI; 6 DAV; 7 NRFD; 8 NDAC; 9 IFC; 10 SRQ; 11 ATN; 12 SHIELD; 13 DI05; 14 DI06;
15 DI07; 16 DI08; 17 REN; 18,19,20,21,22,23 GND; 24 SIGNAL GROUND
""",
        {**{f"DI0{i}": f"DIO{i}" for i in range(1, 9)}, "SIGNAL GROUND": "GND"},
    ),
    Published(
        "atx-24",
        "cirkits.blogspot.com, ATX 24 pin power supply connector pinout (2012)",
        """
1,2,12,13 3.3V; 3,5,7,15,17,18,19,24 COM; 4,6,21,22,23 5V; 8 PWR_OK; 9 5VSB; 10,11 12V; 14 -12V; 16 /PS_ON; 20 -5V
""",
        {"3.3V": "+3.3V", "COM": "GND", "5V": "+5V", "5VSB": "+5VSB", "12V": "+12V", "/PS_ON": "PS_ON#"},
        variant="minus-5v",
    ),
    Published(
        "atx-20",
        "housea.ru, ATX power supply connector, 20 contacts",
        """
1,2,11 3.3V; 3,5,7,13,15,16,17 COM; 4,6,19,20 5V; 8 PWR_OK; 9 5VSB; 10 12V; 12 -12V; 14 /PS_ON; 18 -5V
""",
        {"3.3V": "+3.3V", "COM": "GND", "5V": "+5V", "5VSB": "+5VSB", "12V": "+12V", "/PS_ON": "PS_ON#"},
    ),
    Published(
        "pcie-power-8",
        "Intel ATX 3.0 design guide 336521, table 5-5",
        "1,2,3 12V3/V4; 4 Sense1; 5,7,8 COM; 6 Sense0",
        {"12V3/V4": "+12V", "COM": "GND", "Sense1": "SENSE1", "Sense0": "SENSE0"},
    ),
    Published(
        "pcie-power-8",
        "hwb, PCI Express Power (8 pin), 2007: the cable, where the senses are ground",
        "1,2,3 +12V; 4,5,6,7,8 GND",
        variant="supply-side",
    ),
    Published(
        "eps12v-8",
        "Intel ATX 3.0 design guide 336521, table 5-8, each half: row of 1, 2 ground, row of 3, 4 +12 V; the two "
        "halves side by side from memory",
        "1,2,3,4 COM; 5,6,7,8 12V2",
        {"COM": "GND", "12V2": "+12V"},
    ),
]


def variant_of(table: Published) -> PinMap:
    found = find_pin_map(table.map_id)
    if table.variant:
        changed = found.with_variant(table.variant)
        assert changed is not None, f"{table.map_id} has no variant {table.variant}"
        return changed
    return found


def differences(table: Published) -> dict[str, str]:
    """Contacts where map and published table differ in role or name, with both sides in words."""
    pin_map = variant_of(table)
    found = {}
    for contact, printed in table.names.items():
        net = pin_map.net_of.get(contact)
        if net is None:
            found[contact] = f"published {printed}, not in the map"
            continue
        wanted = net_name(printed, table.same)
        if net.role != role_of(printed):
            found[contact] = f"published {printed} ({role_of(printed)}), map {net.name} ({net.role})"
        elif wanted.endswith("*"):
            if net.name != wanted[:-1] + contact:
                found[contact] = f"published {printed}, map {net.name}"
        elif net.name != wanted and not (net.role == "reserved" and role_of(printed) == "reserved"):
            found[contact] = f"published {printed} = {wanted}, map {net.name}"
    return found


def table_id(table: Published) -> str:
    return "-".join(filter(None, (table.map_id, table.variant, table.source.split(",")[0].split()[0])))


@pytest.mark.parametrize("table", TABLES, ids=table_id)
def test_the_map_agrees_with_the_published_table(table: Published) -> None:
    assert table.names and all(table.differs.values())
    found = differences(table)
    assert found.keys() == table.differs.keys(), found


@pytest.mark.parametrize("table", [t for t in TABLES if not t.partial], ids=table_id)
def test_a_whole_table_has_exactly_the_contacts_of_the_map(table: Published) -> None:
    assert set(table.names) == set(variant_of(table).net_of) - {"SH"}


def test_every_name_a_table_translates_is_printed_in_it() -> None:
    for table in TABLES:
        assert set(table.same) <= set(table.names.values()), table.source


@pytest.mark.parametrize(
    ("printed", "role"),
    [
        ("TMDS Clock Shield", "ground"),
        ("COM", "ground"),
        ("+5V Power", "power"),
        ("-12V", "power"),
        ("DP_PWR", "power"),
        ("Not Assigned", "reserved"),
        ("Positive DC Test Voltage", "reserved"),
        ("PWR_OK", "data"),
        ("CAN_V+", "power"),
        ("SG", "ground"),
    ],
)
def test_the_role_of_a_published_name(printed: str, role: str) -> None:
    assert role_of(printed) == role


def test_a_wrong_contact_would_be_found() -> None:
    swapped = Published("ieee1394-4", "made wrong on purpose", "1 TPB+; 2 TPB-; 3 Ground; 4 TPA+")
    assert differences(swapped).keys() == {"1", "2", "3"}


def test_the_face_of_the_scart_socket_is_the_one_drawn() -> None:
    """tesla.rcub.bg.ac.rs, SCART 21-pin, socket front view: 1 3 5 ... 21 above 2 4 6 ... 20, left to right."""
    face = find_pin_map("scart").face
    above = [p.contact for p in sorted(face, key=lambda p: p.x) if p.y < 0]
    below = [p.contact for p in sorted(face, key=lambda p: p.x) if p.y > 0]
    assert above == [str(n) for n in range(1, 22, 2)] and below == [str(n) for n in range(2, 21, 2)]


def test_the_face_of_the_parallel_port_is_the_one_drawn() -> None:
    """techhelpmanual.com, parallel port connector (female): 13 ... 1 above 25 ... 14, left to right."""
    face = find_pin_map("db25-ieee1284").face
    above = [p.contact for p in sorted(face, key=lambda p: p.x) if p.y < 0]
    below = [p.contact for p in sorted(face, key=lambda p: p.x) if p.y > 0]
    assert above == [str(n) for n in range(13, 0, -1)] and below == [str(n) for n in range(25, 13, -1)]
