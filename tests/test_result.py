"""The machine-readable result, key by key, of a record made by hand."""

from __future__ import annotations

import json

from connector_check.analysis.result import (
    BridgeSite,
    ConflictSet,
    Count,
    DiodeFinding,
    Harmless,
    Leak,
    Ledger,
    Measure,
    Open,
    Parts,
    Record,
    Result,
    ReworkStep,
    Short,
)

RESULT = Result(
    map="tiny",
    title="a connector",
    variant="rev2",
    layout="row",
    scope="near",
    shorts_only=False,
    meter=(10.0, 250.0),
    verdict="rework",
    parts=Parts("rework", "unproven"),
    shorts=(
        Short(
            ("A", "B"),
            ("1", "2"),
            "damage",
            "because",
            5.0,
            (BridgeSite(("1", "2"), (("2", "3"),), 0.12345, (("3", "4"),)), BridgeSite(("5", "6"), (), 0.2)),
            (3, 17),
            "inferred",
            ("9",),
        ),
    ),
    harmless=(Harmless(("GND",), ("1", "4"), "one net"),),
    opens=(Open("GND", "7", "open", (4, 5)),),
    measure=(Measure(("1", "2"), ("A", "B"), (0.2, 1.2), 0.2, "a part"),),
    leaks=(
        Leak(("1", "3"), ("A", "C"), 71.0, "a leak"),
        Leak(("1", "4"), ("A", "D"), 37.5, "likely", BridgeSite(("1", "2"), (("2", "3"),), 0.12345)),
    ),
    conflicts=(ConflictSet(("1", "3"), (("1", "2"), ("2", "3")), (1, 2, 9)),),
    unproven=(("4", "5"),),
    ledger=Ledger(Count(5, 4, 1), Count(9, 8), Count(3, 2), 6, 97),
    record=Record(20, 2, 1, 3, 4, 5, 6, 7),
    assumptions=("assumed",),
    rework=(
        ReworkStep(
            1,
            ("4", "5"),
            ("A", "B"),
            "clean",
            "damage",
            "so",
            (("5", "6"),),
            (("4", "5"), ("5", "6")),
            ("silent", "sounds"),
            (("6", "7"),),
        ),
    ),
    diode=(DiodeFinding("outlier", "3", "D0", None, "lines D", (0.4, 0.5), "higher", (8,)),),
)

EXPECTED = {
    "schema": 1,
    "map": "tiny",
    "variant": "rev2",
    "layout": "row",
    "scope": "near",
    "meter": {"sounds_below_ohms": 10.0, "silent_above_ohms": 250.0},
    "verdict": "rework",
    "parts": {"shorts": "rework", "contact": "unproven"},
    "shorts_only": False,
    "shorts": [
        {
            "nets": ["A", "B"],
            "joints": ["1", "2"],
            "harm": "damage",
            "why": "because",
            "volts": 5.0,
            "sites": [
                {"joints": ["1", "2"], "or": [["2", "3"]], "less_likely": [["3", "4"]], "gap_mm": 0.123},
                {"joints": ["5", "6"], "or": [], "less_likely": [], "gap_mm": 0.2},
            ],
            "readings": [3, 17],
            "known": "inferred",
            "between": ["9"],
        }
    ],
    "harmless": [{"nets": ["GND"], "joints": ["1", "4"], "why": "one net", "known": "assumed from the map"}],
    "opens": [{"net": "GND", "joint": "7", "why": "open", "readings": [4, 5], "known": "measured"}],
    "measure": [
        {
            "pair": ["1", "2"],
            "nets": ["A", "B"],
            "expected_ohms": [0.2, 1.2],
            "solder_below_ohms": 0.2,
            "why": "a part",
        }
    ],
    "leaks": [
        {"pair": ["1", "3"], "nets": ["A", "C"], "ohms": 71.0, "why": "a leak", "likely": None, "kind": "leak"},
        {
            "pair": ["1", "4"],
            "nets": ["A", "D"],
            "ohms": 37.5,
            "why": "likely",
            "likely": {"joints": ["1", "2"], "or": [["2", "3"]], "less_likely": [], "gap_mm": 0.123},
            "kind": "leak",
        },
    ],
    "diode": [
        {
            "kind": "outlier",
            "joint": "3",
            "net": "D0",
            "volts": None,
            "group": "lines D",
            "expected": [0.4, 0.5],
            "why": "higher",
            "readings": [8],
        }
    ],
    "conflicts": [{"quiet": ["1", "3"], "beeps": [["1", "2"], ["2", "3"]], "readings": [1, 2, 9], "kind": "quiet"}],
    "unproven": [["4", "5"]],
    "ledger": {
        "joins": {"needed": 5, "proven": 4, "assumed": 1},
        "isolation": {"needed": 9, "proven": 8},
        "contacts": {"needed": 3, "proven": 2},
        "by_eye": 6,
        "not_in_scope": 97,
    },
    "rework": [
        {
            "step": 1,
            "joints": ["4", "5"],
            "nets": ["A", "B"],
            "do": "clean",
            "harm": "damage",
            "why": "so",
            "or": [["5", "6"]],
            "less_likely": [["6", "7"]],
            "probe_again": [["4", "5"], ["5", "6"]],
            "expected": ["silent", "sounds"],
        }
    ],
    "record": {
        "standing": 20,
        "stale": 2,
        "taken_back": 1,
        "unsure": 3,
        "rounds": 4,
        "lead_checks_good": 5,
        "lead_checks_bad": 6,
        "unproven_silence": 7,
    },
    "assumptions": ["assumed"],
}


def test_the_json_of_a_result():
    """Every key of the machine-readable result; users' programs read them, so a change here is a new schema."""
    assert {key: RESULT.as_json()[key] for key in EXPECTED} == EXPECTED


def test_how_a_finding_is_known_when_nothing_else_is_said():
    short = Short(("A", "B"), ("1", "2"), "damage", "because", 5.0, (), ())
    assert short.known == "measured" and Open("A", "1", "open", ()).known == "measured"
    assert Harmless(("A",), ("1",), "one net").known == "assumed from the map"
    assert Count(3, 2).assumed == 0


def test_it_is_plain_data_that_reads_back_as_it_was():
    assert json.loads(json.dumps(RESULT.as_json())) == RESULT.as_json()
