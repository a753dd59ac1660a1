"""Reading KiCad files: S-expressions, symbol pins, footprint pads, and what malformed text is told."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from connector_check.files.sexpr import Node, read_sexpr
from connector_check.kicad.footprints import Pad, footprint_pads, pads_of
from connector_check.kicad.symbols import library_pins, symbol_pins

LIBRARY = """(kicad_symbol_lib (version 20211014)
  (symbol "JACK" (pin_names (offset 1))
    (symbol "JACK_0_1" (rectangle (start 0 0) (end 1 1)))
    (symbol "JACK_1_1"
      (pin power_in line (at 0 0 0) (length 2) (name "VBUS" (effects)) (number "1" (effects)))
      (pin passive line (at 0 0 0) (length 2) (name "~{EN}" (effects)) (number "A2" (effects))))
    (symbol "JACK_1_2"
      (pin passive line (at 0 0 0) (length 2) (name "other body style") (number "1")))
    (symbol "JACK_2_1"
      (pin passive line (at 0 0 0) (length 2) (name "second unit") (number "3"))))
  (symbol "JACK_SHORT" (extends "JACK") (property "Value" "JACK_SHORT"))
  (symbol "JACK_SHORTER" (extends "JACK_SHORT"))
  (symbol "LOST" (extends "NOBODY"))
  (symbol "ROUND_A" (extends "ROUND_B"))
  (symbol "ROUND_B" (extends "ROUND_A")))
"""
JACK_PINS = [("1", "VBUS", "power_in"), ("A2", "~{EN}", "passive"), ("3", "second unit", "passive")]

FOOTPRINT = """(footprint "X" (version 20211014) (layer "F.Cu")
  (fp_text reference "REF**" (at 0 0) (layer "F.SilkS"))
  (pad "1" smd roundrect (at -1 2.5) (size 0.3 1.5) (layers "F.Cu" "F.Paste" "F.Mask") (roundrect_rratio 0.25))
  (pad "2" smd oval (at 1 2.5 90) (size 0.3 1.5) (layers "F.Cu"))
  (pad "SH" thru_hole circle (at 4 0) (size 2 2) (drill 1) (layers *.Cu *.Mask))
  (pad "" np_thru_hole circle (at 5 0) (size 0.65 0.65) (drill 0.65) (layers *.Cu *.Mask))
  (pad "" smd rect (at -1 2.5) (size 0.2 1) (layers "F.Paste"))
  (pad "3" smd rect (at 0 0 90) (size 1 2) (drill (offset 0.5 0)) (layers "F.Cu"))
)
"""


@pytest.mark.parametrize("name", ["JACK", "JACK_SHORT", "JACK_SHORTER"])
def test_pins_of_every_unit_in_the_normal_body_style_through_extends(name):
    assert symbol_pins(LIBRARY, name) == JACK_PINS
    assert library_pins(read_sexpr(LIBRARY), name) == JACK_PINS


def test_pads_with_place_size_shape_and_kind():
    assert footprint_pads(FOOTPRINT) == [
        Pad("1", -1, 2.5, 0.3, 1.5, "rect", 0, "smd"),
        Pad("2", 1, 2.5, 0.3, 1.5, "oval", 90, "smd"),
        Pad("SH", 4, 0, 2, 2, "round", 0, "thru_hole"),
        Pad("", 5, 0, 0.65, 0.65, "round", 0, "np_thru_hole"),
        Pad("", -1, 2.5, 0.2, 1, "rect", 0, "aperture"),
        Pad("3", 0, -0.5, 1, 2, "rect", 90, "smd"),
    ]
    assert [pad.number for pad in footprint_pads(FOOTPRINT) if pad.has_copper] == ["1", "2", "SH", "3"]


def test_kicad_5_footprints_have_bare_words():
    text = "(module X (layer F.Cu)\r\n (pad A1 smd rect (at 1 -2) (size 1 2) (layers F.Cu F.Mask))\r\n)"
    assert footprint_pads(text) == [Pad("A1", 1, -2, 1, 2, "rect", 0, "smd")]


def test_pads_of_a_footprint_inside_a_board():
    board = read_sexpr('(kicad_pcb (net 1 "GND") ' + FOOTPRINT + ")")
    assert [pad.number for pad in pads_of(board.need("footprint"))] == ["1", "2", "SH", "", "", "3"]


@pytest.mark.parametrize(
    ("pad", "extent"),
    [
        (Pad("1", 0, 0, 1, 3, "rect", 0, "smd"), (1, 3)),
        (Pad("1", 0, 0, 1, 3, "rect", 270, "smd"), (3, 1)),
        (Pad("1", 0, 0, 1, 3, "oval", 90, "smd"), (3, 1)),
        (Pad("1", 0, 0, 2, 2, "round", 45, "smd"), (2, 2)),
        (Pad("1", 0, 0, 2, 2, "rect", 45, "smd"), (2.828427, 2.828427)),
        (Pad("1", 0, 0, 1, 3, "oval", 45, "smd"), (2.414214, 2.414214)),
    ],
)
def test_the_box_around_a_turned_pad(pad, extent):
    assert pad.extent == pytest.approx(extent)


def test_words_keep_quotes_escapes_and_empty_text():
    node = read_sexpr('\ufeff(a "b c" "" "say \\"x\\" \\\\ \\n" d(e)f)')
    assert (node.name, node.args) == ("a", ["b c", "", 'say "x" \\ \n', "d", "f"])
    assert [child.name for child in node.children] == ["e"]


def test_lines_count_through_quoted_line_breaks():
    node = read_sexpr('(a "one\ntwo"\n\n(b))')
    assert node.need("b").line == 4


@pytest.mark.parametrize(
    ("text", "line", "expected"),
    [
        ("", 1, r"expected '\('"),
        ("  \n\n ", 3, r"expected '\('"),
        ("word", 1, r"expected '\(', found 'word'"),
        (")", 1, r"expected '\(' before '\)'"),
        ("(a)\n)", 2, r"expected '\(' before '\)'"),
        ("(a\n (b)\n", 3, r"expected '\)' for the '\(' of line 1"),
        ("(a\n (b\n", 3, r"expected '\)' for the '\(' of line 2"),
        ('(a\n "open)', 2, "expected a closing quote"),
        ("(a)\n(b)", 2, "expected the end of the text"),
        ("(a) b", 1, "expected the end of the text.*'b'"),
    ],
)
def test_malformed_expressions_are_told_the_line_and_what_was_expected(text, line, expected):
    with pytest.raises(ValueError, match=rf"^line {line}: .*{expected}"):
        read_sexpr(text)


@pytest.mark.parametrize(
    ("old", "new", "line", "expected"),
    [
        ("(footprint", "(symbol", 1, "expected .footprint"),
        ("(at -1 2.5) (size 0.3", "(size 0.3", 3, r"expected \(at"),
        ('(size 0.3 1.5) (layers "F.Cu" ', '(layers "F.Cu" ', 3, r"expected \(size"),
        ("(at -1 2.5)", "(at -1)", 3, "expected y in mm"),
        ("(at -1 2.5)", "(at x 2.5)", 3, "expected x in mm as a number.*'x'"),
        ("(at -1 2.5)", "(at nan 2.5)", 3, "as a number"),
        ("(at -1 2.5)", "(at 1e999 2.5)", 3, "as a number"),
        ("(size 0.3 1.5)", "(size 0 1.5)", 3, "expected a pad size above 0"),
        ("smd roundrect", "smd star", 3, "expected a pad shape.*'star'"),
        ("smd roundrect", "glued roundrect", 3, "expected a pad kind.*'glued'"),
        ('(pad "1" smd roundrect', "(pad", 3, "expected a pad number"),
    ],
)
def test_malformed_footprints_are_told_the_line_and_what_was_expected(old, new, line, expected):
    assert old in FOOTPRINT
    with pytest.raises(ValueError, match=rf"^line {line}: .*{expected}"):
        footprint_pads(FOOTPRINT.replace(old, new, 1))


@pytest.mark.parametrize(
    ("name", "line", "expected"),
    [
        ("NOSUCH", 1, "expected a symbol 'NOSUCH'"),
        ("LOST", 13, "expected a symbol 'NOBODY'"),
        ("ROUND_A", 15, "expected an end to 'extends'.*ROUND_A -> ROUND_B -> ROUND_A"),
    ],
)
def test_symbols_that_are_not_there(name, line, expected):
    with pytest.raises(ValueError, match=rf"^line {line}: {expected}"):
        symbol_pins(LIBRARY, name)


def test_malformed_symbols():
    with pytest.raises(ValueError, match=r"^line 1: expected \(kicad_symbol_lib"):
        symbol_pins(FOOTPRINT, "X")
    with pytest.raises(ValueError, match=r"^line 5: expected \(number"):
        symbol_pins(LIBRARY.replace('(number "1" (effects))', "", 1), "JACK")


def test_depth_is_no_limit():
    depth = 200_000
    node = read_sexpr("(a" * depth + ")" * depth)
    for _ in range(depth - 1):
        node = node.children[0]
    assert node.children == []


WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=6)
TREES = st.recursive(WORDS, lambda inner: st.lists(inner, max_size=4), max_leaves=20).filter(
    lambda t: isinstance(t, list)
)


def written(tree) -> str:
    if isinstance(tree, str):
        return '"' + tree.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return "(" + " ".join(written(item) for item in tree) + ")"


def same(node: Node, tree) -> bool:
    children = [item for item in tree if isinstance(item, list)]
    return (
        node.words == [item for item in tree if isinstance(item, str)]
        and len(node.children) == len(children)
        and all(same(a, b) for a, b in zip(node.children, children, strict=True))
    )


@given(TREES)
def test_what_is_written_is_read_back(tree):
    assert same(read_sexpr(written(tree)), tree)


@given(st.text(alphabet='()" \\\nab1.', max_size=40))
def test_any_text_is_read_or_refused_with_a_line(text):
    refused = None
    try:
        read_sexpr(text)
    except ValueError as error:
        refused = str(error)
    assert refused is None or re.match(r"line \d+: expected ", refused)
