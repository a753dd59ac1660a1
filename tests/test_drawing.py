"""Drawings: places, mirror and rotation, states of joints, terminal and SVG."""

from __future__ import annotations

import random
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.analysis.obligations import body, obligations
from connector_check.analysis.replay import replay
from connector_check.analysis.states import (
    APART,
    HARMLESS,
    KINDS,
    MARKS,
    NOT_ASKED,
    NOTE,
    OPEN,
    PROVEN,
    SHORTED,
    SITE_MARK,
    UNPROVEN,
    State,
    joint_states,
)
from connector_check.board.board import Board
from connector_check.drawing.look import AT_SITE, FILLS, GLYPHS
from connector_check.drawing.room import columns_of, has_room
from connector_check.drawing.svg import draw_svg
from connector_check.drawing.text import draw_text
from connector_check.drawing.views import (
    Mark,
    View,
    face_view,
    mirrored,
    rotated,
    rows_of,
    solder_view,
    state_lines,
    states_by_contact,
)
from connector_check.errors import InputError
from connector_check.files.text import columns
from connector_check.pinout.library import shipped_folder
from connector_check.pinout.pinmap import ROLES, PinMap
from connector_check.pinout.pinmap_file import load_pin_map, parse_pin_map
from tests.strategies import TINY_YAML, boards, examined, log, probe_until_settled, random_faults, tiny_board

SHIPPED = sorted(path.stem for path in shipped_folder().glob("*.yaml"))
SVG = "{http://www.w3.org/2000/svg}"
FACE = "face:\n  - {row: [1..7], start: [0, 0], step: [0.5, 0]}\nlayouts:"
JOINS, WALLS = (
    "@GND 1 beep\n@GND 4 beep\n@GND 7 beep",
    "1 2 quiet\n2 3 quiet\n3 4 quiet\n4 5 quiet\n5 6 quiet\n6 7 quiet",
)
GOOD = f"{JOINS}\n{WALLS}\n2 @+5V beep"


def states_of(text: str, **options) -> dict[str, State]:
    board = tiny_board()
    return joint_states(examined(board, log(board, text), **options))


@cache
def shipped(name: str) -> PinMap:
    return load_pin_map(shipped_folder() / f"{name}.yaml")


def views(pin_map: PinMap) -> list[View]:
    found = [face_view(pin_map)] if pin_map.face else []
    for layout in pin_map.layouts:
        board = Board(pin_map, layout)
        found += [solder_view(board, "component"), solder_view(board, "solder", 90)]
    return found


# places


@settings(max_examples=60, deadline=None)
@given(boards())
def test_mirror_is_an_involution_and_reverses_every_row(board):
    view = solder_view(board, "component")
    assert mirrored(mirrored(view)) == view
    assert mirrored(view) != view or all(m.x == 0 for m in view.marks)
    for row, back in zip(rows_of(view.marks), rows_of(mirrored(view).marks), strict=True):
        if len({m.x for m in row}) == len(row):
            assert [m.name for m in back] == [m.name for m in reversed(row)]


def test_solder_side_is_the_mirror_of_the_component_side():
    board = tiny_board()
    component, solder = solder_view(board, "component"), solder_view(board)
    assert solder.marks == mirrored(component).marks
    assert [m.name for m in rows_of(component.marks)[0]] == list("1234567")
    assert [m.name for m in rows_of(solder.marks)[0]] == list("7654321")


def test_rotation_turns_clockwise_as_seen():
    board = tiny_board()
    view = solder_view(board, "component")
    turned = solder_view(board, "component", 90)
    top_down = sorted((m for m in turned.marks if m.role != "shell"), key=lambda m: m.y)
    assert [m.name for m in top_down] == list("1234567")
    # SH1, SH2 lie below the row; after a clockwise quarter they lie left of it
    by_name = {m.name: m for m in turned.marks}
    assert by_name["SH1"].x < by_name["1"].x and by_name["SH2"].x < by_name["7"].x
    assert (by_name["1"].width, by_name["1"].height) == (1.0, 0.3)
    assert rotated(rotated(view, 180), 180).marks == view.marks
    assert rotated(rotated(view, 90), 270).marks == view.marks
    assert rotated(view, 0) == view
    assert "90 degrees clockwise" in turned.caption


def test_wrong_side_or_turn_is_refused():
    with pytest.raises(ValueError, match="side must be one of"):
        solder_view(tiny_board(), "left")
    with pytest.raises(ValueError, match="rotate must be one of"):
        solder_view(tiny_board(), "solder", 45)


def test_a_map_without_face_says_so():
    with pytest.raises(InputError, match=r"mating face.*add 'face:'"):
        face_view(tiny_board().pin_map)


def test_labels_and_roles():
    marks = {m.name: m for m in solder_view(tiny_board()).marks}
    assert (marks["2"].label, marks["2"].role) == ("+5V", "power")
    assert (marks["SH1"].label, marks["SH1"].role) == ("shell", "shell")


@settings(max_examples=60, deadline=None)
@given(boards(), st.sampled_from([0.0, 2.0, 10.0]))
def test_cells_keep_left_and_right_and_never_touch(board, scale):
    marks = solder_view(board).marks
    rows = rows_of(marks)
    cells = {m.name: 3 + len(m.name) for m in marks}
    starts, width = columns_of(marks, rows, cells, scale)
    for row in rows:
        for a, b in pairwise(row):
            assert starts[a.name] + cells[a.name] < starts[b.name]
    assert min(starts.values()) == 0
    assert width == max(starts[n] + cells[n] for n in starts)
    middle = {m.name: starts[m.name] + cells[m.name] // 2 for m in marks}
    for a in marks:
        for b in marks:
            if b.x - a.x > 0.1:
                assert middle[a.name] < middle[b.name]


def test_label_room():
    pad = Mark("1", "", "data", 0, 0, 1.0, 2.0, "rect")
    assert has_room(pad, (10, 20), 10) and not has_room(pad, (20, 10), 10)
    round_pad = replace(pad, height=1.0, shape="round")
    assert has_room(round_pad, (7, 7), 10) and not has_room(round_pad, (8, 8), 10)


# states from real results


def test_everything_proven_on_a_good_board():
    # the contact of 3 and 5 is left out here, and 6 is reserved: nobody asked whether they reach the board
    expected = dict.fromkeys("1247", PROVEN) | dict.fromkeys("356", APART) | {"SH1": NOT_ASKED, "SH2": NOT_ASKED}
    assert {n: s.kind for n, s in states_of(GOOD).items()} == expected


def test_an_untouched_board_proves_nothing():
    found = states_of("")
    assert PROVEN not in {s.kind for s in found.values()}
    assert {found[n].kind for n in "1234567"} == {UNPROVEN}


def test_shorted_names_its_partners_and_the_likely_site():
    found = states_of(GOOD.replace("2 3 quiet", "2 3 beep"))
    assert (found["2"].kind, found["3"].kind) == (SHORTED, SHORTED)
    assert found["2"].partners == ("3",) and found["2"].sites == ("3",)
    assert found["2"].word == "shorted with 3" and found["2"].mark == SITE_MARK
    assert "D+" in found["2"].detail and "+5V" in found["2"].detail
    assert found["1"].kind != SHORTED


def test_a_short_to_ground_reaches_every_ground_joint_but_only_the_site_is_marked():
    found = states_of(GOOD.replace("4 5 quiet", "4 5 beep"))
    assert {n for n, s in found.items() if s.kind == SHORTED} == {"1", "4", "5", "7"}
    assert {n for n, s in found.items() if s.mark == SITE_MARK} == {"4", "5"}
    assert found["1"].mark == MARKS[SHORTED]
    assert found["5"].word == "shorted with 4 1 and 1 more"


def test_a_net_short_at_its_board_point_only_shows_at_its_joint():
    found = states_of("@D+ @+5V beep")
    assert (found["2"].kind, found["3"].kind) == (SHORTED, SHORTED)


def test_open_and_note_and_harmless():
    found = states_of(GOOD.replace("@GND 1 beep", "@GND 1 quiet"))
    assert found["1"].kind == OPEN and "does not reach GND" in found["1"].detail
    found = states_of(GOOD.replace("6 7 quiet", "6 7 beep"))
    assert found["6"].kind == NOTE and found["6"].word.startswith("note: joined with 7")
    found = states_of(GOOD + "\nSH1 SH2 beep\n2 SH1 quiet\n5 SH2 quiet\n3 SH1 quiet\n6 SH2 quiet")
    assert found["SH1"].kind == HARMLESS and found["SH1"].detail
    assert found["4"].kind == PROVEN


def test_ground_joints_joined_to_their_fellows_only_are_not_proven():
    found = states_of(GOOD.replace("@GND 1 beep\n@GND 4 beep\n@GND 7 beep", "1 4 beep\n4 7 beep"))
    assert {found[n].kind for n in "147"} == {UNPROVEN}


def test_a_neighbour_of_a_joint_that_may_still_be_open_is_not_proven():
    """A quiet from 3 to the supply says nothing of 2 beside it while 2 is not known to reach that supply."""
    text = TINY_YAML.replace("volts: 5, contacts: [2]", "volts: 5, contacts: [2, 6]")
    pin_map = parse_pin_map(text.replace("  NC: {role: reserved, contacts: [6]}\n", "").encode(), "tiny.yaml")
    board = Board(pin_map, pin_map.layouts[0])
    readings = "@GND 1 beep\n@GND 4 beep\n@GND 7 beep\n@GND @+5V quiet\n@GND 3 quiet\n@+5V 6 beep\n3 @+5V quiet"
    found = examined(board, log(board, readings))
    assert ("2", "3") not in found.result.unproven and ("3", "2") not in found.result.unproven
    assert joint_states(found)["3"].kind == UNPROVEN
    found = examined(board, log(board, readings + "\n@+5V 2 beep"))
    assert joint_states(found)["3"].kind == APART


def test_a_short_of_open_joints_leaves_their_fellows_unproven():
    """2 and 3 are open and bridged; with that short found, no touch asks whether the two supplies meet at 5 and 6."""
    text = TINY_YAML.replace("contacts: [2]", "contacts: [2, 6]").replace("  NC: {role: reserved, contacts: [6]}\n", "")
    text = text.replace(
        "D+: {role: data, contacts: [3], withstands: 5.25}", "+12V: {role: power, volts: 12, contacts: [3, 5]}"
    )
    pin_map = parse_pin_map(text.replace("  TX: {role: data, contacts: [5]}\n", "").encode(), "tiny.yaml")
    board = Board(pin_map, pin_map.layouts[0])
    joins = "@GND 1 beep\n@GND 4 beep\n@GND 7 beep\n@+5V 6 beep\n@+12V 5 beep\n@+5V 2 quiet\n@+12V 3 quiet\n2 3 beep"
    walls = "@GND @+5V quiet\n@GND @+12V quiet\n1 2 quiet\n3 4 quiet\n4 5 quiet\n6 7 quiet"
    told = examined(board, log(board, f"{joins}\n{walls}"))
    assert told.result.unproven == ()
    found = joint_states(told)
    assert [found[n].kind for n in "123456"] == [PROVEN, SHORTED, SHORTED, PROVEN, UNPROVEN, UNPROVEN]


def test_contradiction_and_required_contacts():
    found = states_of(GOOD + "\n1 4 quiet")
    assert found["1"].kind == UNPROVEN and "contradiction" in found["1"].detail
    found = states_of(GOOD, shorts_only=False)
    assert found["3"].kind == UNPROVEN


def test_every_kind_has_its_own_mark_and_drawing():
    marks = [*MARKS.values(), SITE_MARK]
    assert set(MARKS) == set(KINDS)
    assert len(set(marks)) == len(marks) and all(len(m) == 1 and m.isascii() for m in marks)
    assert set(GLYPHS) == set(FILLS) == {*ROLES, *KINDS, AT_SITE}
    assert len(set(GLYPHS.values())) == len(GLYPHS)


@settings(max_examples=300, deadline=None)
@given(boards(), st.integers(0, 2**32), st.floats(0, 1), st.sampled_from(["near", "wide", "all"]))
def test_proven_is_never_said_of_more_than_the_readings_prove(board, seed, share, scope):
    sim = random_faults(board, random.Random(seed), 0.15, 0.1, scope)
    entries, _ = probe_until_settled(sim, scope)
    rng = random.Random(seed)
    stray = [rng.sample(range(len(board.points)), 2) for _ in range(len(entries))]
    entries += [sim.read(len(entries) + i, a, b) for i, (a, b) in enumerate(stray, 1)]
    entries = rng.sample(entries, round(len(entries) * share))
    told = examined(board, entries, scope=scope)
    result, found = told.result, joint_states(told)
    known = replay(board, entries, scope=scope).knowledge
    assert set(found) == {j.name for j in board.joints}
    proven = {board.number[name] for name, s in found.items() if s.kind in (PROVEN, HARMLESS)}
    needed = obligations(board, scope)
    assert all(known.joined(j, p) for j, p in needed.joins if j in proven)
    for a_name, b_name, _ in board.gaps(scope):
        a, b = board.number[a_name], board.number[b_name]
        if {a, b} & proven and board.must_be_apart(board.net_of[a], board.net_of[b]):
            assert known.apart(a, b)
    for joint in proven:
        net = board.net_of[joint]
        for other in board.nets:
            asked = net.role != "ground" if other.role == "ground" else other.role == net.role == "power"
            if asked and other.must_join and board.must_be_apart(net, other):
                mine = body(board, known, net.name) if net.must_join else joint
                assert known.apart(mine, body(board, known, other.name))
    if result.verdict == "clear":
        assert not {s.kind for s in found.values()} & {SHORTED, OPEN, UNPROVEN}
    assert {o.joint for o in result.opens} <= {n for n, s in found.items() if s.kind in (OPEN, SHORTED)}


@settings(max_examples=60, deadline=None)
@given(boards(), st.integers(0, 2**32))
def test_a_real_bridge_is_never_drawn_as_proven(board, seed):
    sim = random_faults(board, random.Random(seed), 0.3, 0.1)
    entries, _ = probe_until_settled(sim)
    found = joint_states(examined(board, entries))
    for a, b in sim.bridges:
        if board.must_be_apart(board.net_of[a], board.net_of[b]):
            assert not {found[board.points[a]].kind, found[board.points[b]].kind} & {PROVEN, HARMLESS, NOT_ASKED}


# the terminal


def cells_of(text: str) -> list[str]:
    return re.findall(r"[(<\[{:]([^\s()<>\[\]{}:]+)[)>\]}:]", text)


def test_terminal_drawing_of_the_tiny_part():
    text = draw_text(solder_view(tiny_board(), "component"), ascii_only=True)
    assert "Component side" in text
    rows = [line for line in text.splitlines() if line.startswith("|")]
    assert cells_of(rows[0]) == list("1234567")
    assert any(cells_of(row) == ["SH1", "SH2"] for row in rows)
    assert "( ) ground  < > power  [ ] data  { } shell  : : reserved" in text


def test_terminal_states_have_mark_word_and_colour():
    board = tiny_board()
    view = solder_view(board, "component")
    found = joint_states(examined(board, log(board, GOOD.replace("2 3 quiet", "2 3 beep"))))
    text = draw_text(view, found, ascii_only=True)
    assert "<2>X" in text and "[3]X" in text and "(1)" in text
    assert re.search(r"^X shorted \(2\): 2 3 ", text, re.MULTILINE)
    assert "\x1b" not in text
    painted = draw_text(view, found, colour=True)
    assert "\x1b[1;38;2;213;94;0m<2>X\x1b[0m" in painted
    assert re.sub(r"\x1b\[[0-9;]*m", "", painted) == draw_text(view, found)


@settings(max_examples=40, deadline=None)
@given(boards(), st.integers(24, 120), st.integers(0, 2**32))
def test_terminal_drawing_fits_any_width_and_shows_each_joint_once(board, width, seed):
    sim = random_faults(board, random.Random(seed), 0.2, 0.1)
    entries, _ = probe_until_settled(sim)
    found = joint_states(examined(board, entries))
    text = draw_text(solder_view(board), found, width, ascii_only=True)
    assert all(len(line) <= width for line in text.splitlines())
    framed = "\n".join(line for line in text.splitlines() if line[:1] in "|~")
    assert sorted(cells_of(framed)) == sorted(j.name for j in board.joints)


def test_wide_and_hostile_text_stays_in_its_columns():
    marks = tuple(Mark(f"\u63a5\u5730{i}", "A\x1b[2J\u202eB", "data", i * 0.5, 0.0, 0.3, 1.0, "rect") for i in range(9))
    view = View("t\u63a5" * 60, "c" * 200, marks)
    text = draw_text(view, width=40)
    assert all(columns(line) <= 40 for line in text.splitlines())
    assert "\x1b" not in text and "\u202e" not in text
    assert draw_text(view, width=40, ascii_only=True).isascii()


# SVG


def parsed(text: str) -> ET.Element:
    return ET.fromstring(text)


def test_svg_has_title_desc_style_and_nothing_that_runs():
    board = tiny_board()
    found = joint_states(examined(board, log(board, GOOD.replace("2 3 quiet", "2 3 beep"))))
    text = draw_svg(solder_view(board), found)
    root = parsed(text)
    assert "tiny" in root.findtext(f"{SVG}title", "")
    told = root.findtext(f"{SVG}desc", "")
    assert "Solder side" in told and "Shorted (2): " in told
    assert "prefers-color-scheme:dark" in text and "@media print" in text
    for word in ("script", "href", "url(", "@import", "onload"):
        assert word not in text
    visible = [t.text for t in root.iter(f"{SVG}text")]
    assert any(t and "shorted with 3" in t for t in visible)
    assert root.findall(f".//{SVG}path[@class='solder']")


def test_svg_escapes_hostile_names():
    board = tiny_board()
    bad = '</text><script>alert("1")</script>&\x00\x1b\u202e'
    view = solder_view(board)
    view = replace(view, title=bad, marks=tuple(replace(m, label=bad) for m in view.marks))
    view = replace(view, marks=(replace(view.marks[0], name="<b>&]]>"), *view.marks[1:]))
    text = draw_svg(view, {"<b>&]]>": State(SHORTED, bad, (bad,), (bad,))})
    root = parsed(text)
    assert not list(root.iter(f"{SVG}script")) and "<script" not in text
    assert not re.search("[\x00-\x09\x0b-\x1f\u202e]", text)
    assert any(t.text == "<b>&]]>" for t in root.iter(f"{SVG}text"))


def test_okabe_ito_blue_is_good_vermillion_bad_ground_not_green_signals_not_white():
    assert FILLS[PROVEN][0] == "#0072B2" and FILLS[AT_SITE][0] == "#D55E00"
    assert FILLS["ground"][0] == "#000000" and FILLS["data"][0] == "#56B4E9"


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


@pytest.mark.parametrize("kind", FILLS)
def test_numbers_can_be_read_on_their_pads(kind):
    """Contrast of at least 4.5 to 1, WCAG 2.1 success criterion 1.4.3 (from memory)."""
    low, high = sorted(map(luminance, FILLS[kind]))
    assert (high + 0.05) / (low + 0.05) >= 4.5


# every shipped map


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_maps_draw(name):
    pin_map = shipped(name)
    for view in views(pin_map):
        names = sorted(m.name for m in view.marks)
        assert "seen " in view.caption and ("side" in view.caption or "mouth" in view.caption)
        plain = replace(view, marks=tuple(replace(m, label="signal") for m in view.marks))
        for ascii_only in (True, False):
            text = draw_text(plain, ascii_only=ascii_only)
            framed = [line for line in text.splitlines() if line[:1] in "|~│┆"]
            assert sorted(n for line in framed for n in cells_of(line)) == names
            text = draw_text(view, ascii_only=ascii_only)
            assert all(columns(line) <= 80 for line in text.splitlines())
            assert text.isascii() or not ascii_only
            assert view.caption.split(":")[0].split(",")[0] in text
        root = parsed(draw_svg(view))
        numbers = [t.text for t in root.iter(f"{SVG}text") if t.get("class") == "number"]
        assert sorted(map(str, numbers)) == names


@pytest.mark.parametrize("name", SHIPPED)
def test_numbers_lie_inside_their_pads_in_every_shipped_drawing(name):
    from connector_check.drawing.svg import Sheet

    for view in views(shipped(name)):
        sheet = Sheet(view, {})
        for mark in view.marks:
            assert any(has_room(mark, box[mark.name], sheet.scale) for box in (sheet.flat, sheet.upright)), mark


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_maps_draw_states(name):
    pin_map = shipped(name)
    board = Board(pin_map, pin_map.layouts[0])
    found = joint_states(examined(board, []))
    assert PROVEN not in {s.kind for s in found.values()}
    told = state_lines(solder_view(board), found)
    assert told and sum(int(re.findall(r"\((\d+)\)", line)[0]) for _, line in told) == len(board.joints)
    by_contact = states_by_contact(board, found)
    for view in views(pin_map)[: bool(pin_map.face)]:
        assert draw_text(view, by_contact, ascii_only=True).isascii()
        parsed(draw_svg(view, by_contact))


def test_face_of_the_tiny_part_with_states():
    pin_map = parse_pin_map(TINY_YAML.replace("layouts:", FACE).encode(), "tiny.yaml")
    board = Board(pin_map, pin_map.layouts[0])
    found = states_by_contact(board, joint_states(examined(board, log(board, "2 3 beep"))))
    text = draw_text(face_view(pin_map), found, ascii_only=True)
    assert "looking into the mouth" in text
    assert "<2>X [3]X" in text.replace("  ", " ")
