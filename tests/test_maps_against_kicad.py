"""Shipped pin maps held against KiCad's symbols and footprints (Debian kicad-symbols 6.0.10, kicad-footprints 6.0.11).

Every contact's number and name, and every joint's place, size and shape, is compared with the facts under
`data/kicad_facts`. What is translated, renamed or left out on the way is written in `data/comparisons/<map-id>.yaml`,
each difference with its reason; one that no longer applies fails. Whatever part of KiCad a map names must be compared.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from math import hypot
from typing import Any

import pytest

from connector_check.kicad.footprints import Pad
from connector_check.pinout.library import find_pin_map, shipped_folder
from connector_check.pinout.pinmap import Joint, Layout, PinMap
from tests.kicad_facts import COMPARISONS, FACTS, facts_of, read_comparison

TOLERANCE_MM = 0.02
SHELL_JOINT = re.compile(r"SH\d+\Z")
CLAIM = {kind: re.compile(rf"KiCad {kind}s? ([^()]*)") for kind in ("symbol", "footprint")}

MAP_IDS = sorted(path.stem for path in shipped_folder().glob("*.yaml"))
COMPARED = sorted(path.stem for path in COMPARISONS.glob("*.yaml"))
Entry = dict[str, Any]


def load(map_id: str) -> tuple[PinMap, Entry, Entry]:
    facts: Entry = json.loads((FACTS / f"{map_id}.json").read_text(encoding="utf-8"))
    return find_pin_map(map_id), read_comparison(map_id), facts


def claimed(kind: str, text: str) -> list[str]:
    """The parts that a source text names: `KiCad symbols Lib:A and B (...)` names Lib:A and Lib:B."""
    found: list[str] = []
    for claim in CLAIM[kind].finditer(text):
        library = ""
        for word in re.split(r"[\s,;]+|\band\b", claim[1]):
            if word:
                library = word.partition(":")[0] if ":" in word else library
                found.append(word if ":" in word else f"{library}:{word}")
    return found


def pads_in(rows: list[Entry]) -> list[Pad]:
    return [Pad(**row) for row in rows]


# Symbols


def spelled_as_ours(name: str, same: dict[str, str], rules: list[dict[str, str]], used: set[str]) -> str:
    """KiCad's name of a pin in the map's spelling; what of the entry was needed for that is added to `used`."""
    if name in same:
        used.add(f"same {name}")
        name = same[name]
    for rule in rules:
        if re.fullmatch(rule["from"], name):
            used.add(f"rule {rule['from']}")
            name = re.sub(rule["from"], rule["into"], name)
    return name


def compare_symbol(pin_map: PinMap, entry: Entry, pins: list[tuple[str, str]]) -> list[str]:
    """Every way in which the map's contacts and the symbol's pins differ beyond what the entry states."""
    variant = entry.get("variant", "")
    wired = pin_map.with_variant(variant) if variant else pin_map
    assert wired is not None, f"no variant {variant}"
    problems: list[str] = []
    numbers, same, rules = entry.get("numbers", {}), entry.get("same", {}), entry.get("rules", [])
    used: set[str] = set()
    differ: dict[str, tuple[str, str]] = {}
    seen: set[str] = set()
    named = False
    for number, name in pins:
        contact = numbers.get(number, number)
        used.add(f"number {number}")
        seen.add(contact)
        if contact not in wired.net_of:
            differ[contact] = (name, "none")
            continue
        if "unnamed" in entry:
            named = named or not (contact == "SH" or name in ("~", "", number, f"Pin_{number}"))
            continue
        printed = spelled_as_ours(name, same, rules, used)
        if printed != wired.names[contact]:
            differ[contact] = (printed, wired.names[contact])
    differ.update({contact: ("none", wired.names[contact]) for contact in wired.net_of if contact not in seen})
    if named:
        problems.append("the symbol names signals: 'unnamed' does not apply")
    stated = [f"number {n}" for n in numbers] + [f"same {n}" for n in same] + [f"rule {r['from']}" for r in rules]
    problems += [f"{what} is never used" for what in stated if what not in used]
    for exception in entry.get("exceptions", []):
        contact = exception["contact"]
        if not exception.get("why"):
            problems.append(f"the exception for contact {contact} gives no reason")
        if differ.get(contact) != (exception["kicad"], exception["map"]):
            problems.append(f"the exception for contact {contact} no longer applies: {differ.get(contact)}")
        differ.pop(contact, None)
    return problems + [f"contact {c}: KiCad {kicad}, map {ours}" for c, (kicad, ours) in differ.items()]


# Footprints


def compare_footprint(layout: Layout, entry: Entry, pads: list[Pad]) -> list[str]:
    """Every way in which the layout's joints and the footprint's pads differ beyond what the entry states."""
    renamed, left_out, shell = entry.get("pads", {}), entry.get("leave_out", {}), entry.get("shell", [])
    dx, dy = (float(v) for v in entry.get("shift", ["0", "0"]))
    joints = {joint.name: joint for joint in layout.joints}
    free_shell = [joint for joint in layout.joints if SHELL_JOINT.match(joint.name)]
    used: set[str] = set()
    differ: dict[tuple[str, str], str] = {}
    carried: dict[str, set[str]] = {name: set() for name in joints}
    for pad in pads:
        spot = f"{pad.number}@{pad.x_mm:g},{pad.y_mm:g}"
        key = next((k for k in (spot, pad.number) if k in left_out or k in renamed or k in shell), pad.number)
        used.add(key)
        if key in left_out:
            continue
        x, y = pad.x_mm + dx, pad.y_mm + dy
        name = renamed.get(key, pad.number)
        if key in shell and free_shell:
            joint = min(free_shell, key=lambda j: hypot(j.x - x, j.y - y))
            free_shell.remove(joint)
        elif key in shell or name not in layout.joint_of:
            differ[spot, "joint"] = "a pad without a joint in the map"
            continue
        else:
            joint = joints[layout.joint_of[name]]
        carried[joint.name].update({name} if name in joint.contacts else joint.contacts)
        differ.update({(joint.name, what): text for what, text in pad_differences(joint, pad, x, y)})
    for joint in layout.joints:
        missing = [contact for contact in joint.contacts if contact not in carried[joint.name]]
        if missing:
            differ[joint.name, "joint"] = f"no pad for contact {', '.join(missing)}"
    problems = [f"'{key}' is in no pad of the footprint" for key in [*renamed, *left_out, *shell] if key not in used]
    problems += [f"leave_out '{key}' gives no reason" for key, why in left_out.items() if not why]
    problems += excused(entry, differ)
    return problems + [f"{name} {what}: {text}" for (name, what), text in differ.items()]


def pad_differences(joint: Joint, pad: Pad, x: float, y: float) -> Iterator[tuple[str, str]]:
    """What of a joint differs from its pad at that place, in words."""
    if hypot(joint.x - x, joint.y - y) > TOLERANCE_MM:
        yield "position", f"KiCad {x:g}, {y:g}, map {joint.x:g}, {joint.y:g}"
    w, h = pad.extent
    if max(abs(joint.width - w), abs(joint.height - h)) > TOLERANCE_MM:
        yield "size", f"KiCad {w:g} x {h:g}, map {joint.width:g} x {joint.height:g}"
    if joint.shape != ("round" if pad.shape == "oval" and w == h else pad.shape):
        yield "shape", f"KiCad {pad.shape}, map {joint.shape}"


def excused(entry: Entry, differ: dict[tuple[str, str], str]) -> list[str]:
    """Take the stated exceptions off the differences; those without a reason or without a difference are problems."""
    problems = []
    for exception in entry.get("exceptions", []):
        subject = exception["joint"], exception["what"]
        if not exception.get("why"):
            problems.append(f"the exception for {' '.join(subject)} gives no reason")
        if differ.pop(subject, None) is None:
            problems.append(f"the exception for {' '.join(subject)} no longer applies")
    return problems


# The shipped maps


@pytest.mark.parametrize("map_id", MAP_IDS)
def test_every_kicad_part_that_a_map_names_is_compared(map_id):
    pin_map = find_pin_map(map_id)
    symbols = sorted(part for source in pin_map.sources for part in claimed("symbol", source.document))
    footprints = {layout.id: claimed("footprint", layout.source) for layout in pin_map.layouts}
    footprints = {layout: parts for layout, parts in footprints.items() if parts}
    if map_id not in COMPARED:
        assert not symbols and not footprints, f"write data/comparisons/{map_id}.yaml"
        return
    comparison = read_comparison(map_id)
    assert sorted(e["symbol"] for e in comparison.get("symbols", [])) == symbols
    assert {name: [e["footprint"]] for name, e in comparison.get("footprints", {}).items()} == footprints
    assert ("none" in comparison) == (not symbols and not footprints)


@pytest.mark.parametrize("map_id", COMPARED)
def test_contacts_are_named_as_in_the_symbols(map_id):
    pin_map, comparison, facts = load(map_id)
    problems = [
        f"{entry['symbol']}: {problem}"
        for entry in comparison.get("symbols", [])
        for problem in compare_symbol(pin_map, entry, facts["symbols"][entry["symbol"]])
    ]
    assert problems == []


@pytest.mark.parametrize("map_id", COMPARED)
def test_joints_sit_where_the_footprints_have_their_pads(map_id):
    pin_map, comparison, facts = load(map_id)
    problems = []
    for layout_id, entry in comparison.get("footprints", {}).items():
        layout = pin_map.layout(layout_id)
        assert layout is not None, f"no layout {layout_id}"
        pads = pads_in(facts["footprints"][entry["footprint"]])
        problems += [f"{layout_id}: {problem}" for problem in compare_footprint(layout, entry, pads)]
    assert problems == []


@pytest.mark.needs("kicad", "kicad-of-the-facts")
@pytest.mark.parametrize("map_id", COMPARED)
def test_the_facts_are_those_of_the_package(map_id):
    assert json.loads((FACTS / f"{map_id}.json").read_text(encoding="utf-8")) == facts_of(map_id)


def test_no_comparison_or_fact_is_left_of_a_map_that_is_gone():
    assert set(COMPARED) <= set(MAP_IDS)
    assert sorted(path.stem for path in FACTS.glob("*.json")) == COMPARED


# The comparison itself: what it must not overlook

HDMI, HDMI_ENTRY, HDMI_FACTS = load("hdmi-a")
ROW = HDMI_ENTRY["footprints"]["smt-row"]
SYMBOL = HDMI_ENTRY["symbols"][0]


def row_with(name: str, **changes: Any) -> list[str]:
    layout = HDMI.layouts[0]
    joints = tuple(joint._replace(**changes) if joint.name == name else joint for joint in layout.joints)
    return compare_footprint(replace(layout, joints=joints), ROW, pads_in(HDMI_FACTS["footprints"][ROW["footprint"]]))


def symbol_with(pins: dict[str, str] | None = None, **entry: Any) -> list[str]:
    rows = [(number, (pins or {}).get(number, name)) for number, name in HDMI_FACTS["symbols"][SYMBOL["symbol"]]]
    return compare_symbol(HDMI, SYMBOL | entry, rows)


def test_a_joint_out_of_place_size_or_shape_is_found():
    joint = HDMI.layouts[0].joints[0]
    assert row_with(joint.name) == []
    assert row_with(joint.name, x=joint.x + 0.019) == []
    assert "position" in row_with(joint.name, x=joint.x + 0.021)[0]
    assert "position" in row_with("SH4", y=0.95)[0]
    assert "size" in row_with(joint.name, width=joint.width + 0.03)[0]
    assert "shape" in row_with(joint.name, shape="oval")[0]


def test_a_joint_without_pad_and_a_pad_without_joint_are_found():
    layout, pads = HDMI.layouts[0], pads_in(HDMI_FACTS["footprints"][ROW["footprint"]])
    assert compare_footprint(layout, ROW, pads[1:]) == ["1 joint: no pad for contact 1"]
    assert compare_footprint(layout, ROW, [pad for pad in pads if pad.number != "SH"] + pads[-1:]) != []
    assert any("without a joint" in text for text in compare_footprint(layout, {**ROW, "shell": []}, pads))
    assert compare_footprint(replace(layout, joints=layout.joints[1:]), ROW, pads) == [
        "1@4.75,-5 joint: a pad without a joint in the map"
    ]
    assert any("position" in text for text in compare_footprint(layout, {**ROW, "shift": ["0.1", "0"]}, pads))


def test_two_exchanged_joints_are_found():
    layout = HDMI.layouts[0]
    swap = {"1": "3", "3": "1"}
    joints = tuple(
        joint._replace(name=swap.get(joint.name, joint.name), contacts=(swap.get(joint.name, joint.contacts[0]),))
        for joint in layout.joints
    )
    problems = compare_footprint(
        replace(layout, joints=joints), ROW, pads_in(HDMI_FACTS["footprints"][ROW["footprint"]])
    )
    assert sorted(text.split()[0] for text in problems) == ["1", "3"]


def test_a_contact_of_another_name_or_number_is_found():
    assert symbol_with() == []
    assert symbol_with({"13": "SCL"}) == ["contact 13: KiCad SCL, map CEC"]
    assert symbol_with({"1": "D2-", "3": "D2+"}) == ["contact 1: KiCad D2-, map D2+", "contact 3: KiCad D2+, map D2-"]
    assert symbol_with(numbers={"13": "14", "14": "13"}) == [
        "contact 14: KiCad CEC, map UTILITY",
        "contact 13: KiCad UTILITY, map CEC",
    ]
    assert symbol_with(numbers={"19": "20"}) == ["contact 20: KiCad HPD, map none", "contact 19: KiCad none, map HPD"]


def test_what_no_longer_applies_is_found():
    gone = {"contact": "13", "kicad": "CEC", "map": "SCL", "why": "an old difference"}
    assert symbol_with(exceptions=[gone]) == ["the exception for contact 13 no longer applies: None"]
    assert symbol_with({"13": "CE"}, exceptions=[gone]) == [
        "the exception for contact 13 no longer applies: ('CE', 'CEC')"
    ]
    assert symbol_with({"13": "SCL"}, exceptions=[{"contact": "13", "kicad": "SCL", "map": "CEC", "why": ""}]) == [
        "the exception for contact 13 gives no reason"
    ]
    assert symbol_with(same={**SYMBOL["same"], "GROUND": "GND"}) == ["same GROUND is never used"]
    assert symbol_with(rules=[{"from": "X", "into": "Y", "why": "w"}]) == ["rule X is never used"]
    assert symbol_with(numbers={"77": "SH"}) == ["number 77 is never used"]
    assert "the symbol names signals: 'unnamed' does not apply" in symbol_with(unnamed="no names")
    pads, layout = pads_in(HDMI_FACTS["footprints"][ROW["footprint"]]), HDMI.layouts[0]
    stale = {**ROW, "exceptions": [{"joint": "1", "what": "size", "why": "w"}], "leave_out": {"MP": "anchor"}}
    assert compare_footprint(layout, stale, pads) == [
        "'MP' is in no pad of the footprint",
        "the exception for 1 size no longer applies",
    ]


def test_the_parts_a_source_names():
    assert claimed("symbol", "KiCad symbols Connector:A_1.3 and A_1.4 (kicad-symbols 6.0.10)") == [
        "Connector:A_1.3",
        "Connector:A_1.4",
    ]
    assert claimed("footprint", "KiCad footprint Lib:B_P2.77x2.84mm (kicad-footprints 6.0.11)") == [
        "Lib:B_P2.77x2.84mm"
    ]
    assert claimed("footprint", "nominal, from memory") == []
