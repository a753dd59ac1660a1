"""Columns of a terminal: wide and combining characters line up in drawings, forms and tables."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from connector_check.analysis.knowledge import Knowledge
from connector_check.analysis.obligations import obligations
from connector_check.board.board import Board
from connector_check.drawing.text import draw_text
from connector_check.drawing.views import Mark, View
from connector_check.files.text import beginning, columns, fitted, padded
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap
from connector_check.probing.planner import plan
from connector_check.renderers.history import _cell
from connector_check.renderers.maps import list_text, map_text
from connector_check.renderers.plan import plan_lines
from tests.strategies import checked

EARTH = "\u63a5\u5730"
"""Two characters of two columns each (East Asian Width W, Unicode UAX #11)."""

ACUTE = "e\u0301"
"""A letter and the accent on it: one column (the accent is of category Mn, Unicode UAX #44)."""

ANY_TEXT = st.text(st.sampled_from("aZ 1\u63a5\u5730\u0301\u0308\U0001f525\u2714\x1b\u202e"), max_size=30)


def test_columns_of_known_texts():
    assert [columns(text) for text in ("", "GND", EARTH, ACUTE, f"{EARTH}{ACUTE}1")] == [0, 3, 4, 1, 6]
    assert columns("A\x1b[2J\u202e") == len("A?[2J?")


@given(ANY_TEXT, st.integers(0, 40))
def test_a_beginning_is_the_longest_that_fits(text, most):
    head = beginning(text, most)
    assert text.startswith(head) and columns(head) <= most
    assert head == text or columns(text[: len(head) + 1]) > most


@given(ANY_TEXT, st.integers(3, 40))
def test_fitted_and_padded_keep_to_the_columns(text, most):
    shown = fitted(text, most)
    assert columns(shown) <= most and (shown == text) == (columns(text) <= most)
    assert columns(padded(shown, most)) == most


def named_board(names: list[str]) -> Board:
    row = Layout("row", "", "", tuple(Joint(name, (name,), i * 0.5, 0, 0.3, 1) for i, name in enumerate(names)))
    nets = (Net("GND", "ground", (names[0],)), *(Net(f"{name}x", "data", (name,)) for name in names[1:]))
    return Board(PinMap("wide", EARTH, "", (), nets, {name: name for name in names}, (row,)), row)


def test_the_borders_of_a_drawing_stand_below_each_other():
    names = ["1", f"{EARTH}2", f"{ACUTE}3", "4", f"{EARTH}{ACUTE}5"]
    marks = tuple(Mark(n, n, "data", i * 0.5, i % 2, 0.3, 1.0, "rect") for i, n in enumerate(names))
    framed = [line for line in draw_text(View("t", "c", marks)).splitlines() if line[:1] in "┌│└"]
    assert len(framed) >= 4 and len({columns(line) for line in framed}) == 1


def test_the_boxes_of_the_paper_form_stand_below_each_other():
    board = named_board(["1", *(f"{EARTH}{i}" if i % 3 else f"{ACUTE}{i}" for i in range(2, 30))])
    rows = [
        line
        for line in plan_lines(
            plan(board, Knowledge(len(board.points)), obligations(board, "near")), checked(board, []), board
        )
        if line.startswith("  ")
    ]
    boxes = [[columns(line[: found.start()]) for found in re.finditer(r"\[ \]", line)] for line in rows]
    widest = max(boxes, key=len)
    assert len(widest) > 2 and len(rows) > 3
    assert all(found == widest[: len(found)] for found in boxes)
    assert all(columns(line) <= 80 for line in rows)


def test_the_columns_of_tables_stand_below_each_other():
    pin_map = named_board(["1", f"{EARTH}2", f"{ACUTE}3"]).pin_map
    for table, last in ((map_text(pin_map), "data"), (list_text([pin_map]), EARTH)):
        lines = table.splitlines()
        rule = next(line for line in lines if set(line) == {"-", " "})
        starts = {found.start() for found in re.finditer("-+", rule)}
        told = [line for line in lines[lines.index(rule) + 1 :] if last in line and line != "title"]
        assert told and all(columns(line[: line.index(last)]) in starts for line in told)


def test_a_cell_of_the_history_is_cut_by_columns():
    assert columns(_cell(EARTH * 30)) <= 40 and _cell(EARTH * 30).endswith("...")
    assert _cell(EARTH * 10) == EARTH * 10
