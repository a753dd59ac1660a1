"""The links of no ohms that solder, metal and design can make. How far they reach is held to the rule in test_stale."""

from __future__ import annotations

from math import inf

import pytest

from connector_check.analysis.knowledge import Knowledge
from connector_check.analysis.reach import Reach, part_floor, possible_links
from connector_check.analysis.replay import replay
from connector_check.board.board import NEAR, WIDE, Board
from connector_check.pinout.pinmap_file import parse_pin_map
from tests.strategies import log, tiny_board
from tests.test_closing import with_parts

FOUR_GROUNDS = """\
format: 1
id: grounds
title: four grounds and a shell that floats
source: [{document: invented for the tests, known: memory}]
nets:
  A: {role: ground, contacts: [1]}
  B: {role: ground, contacts: [2]}
  SHELL: {role: shell, contacts: [SH], ground: apart, why: it floats}
  C: {role: ground, contacts: [3]}
  D: {role: ground, contacts: [4]}
  S: {role: data, contacts: [5]}
layouts:
  - id: row
    source: invented for the tests
    pads:
      - {row: [1..5], start: [0, 0], step: [0.5, 0], size: [0.3, 1.0]}
      - {at: {SH1: [-2, 1], SH2: [5, 1]}, size: [1, 2], shape: oval}
"""


def test_every_fixed_link_of_a_small_board():
    pin_map = parse_pin_map(FOUR_GROUNDS.encode(), "grounds.yaml")
    board = Board(pin_map, pin_map.layouts[0])
    links = possible_links(board, NEAR)
    fixed = {frozenset(board.pair(link)) for link in links.fixed}
    landings = ["1 @A", "2 @B", "3 @C", "4 @D", "5 @S", "SH1 @SHELL", "SH2 @SHELL"]
    metal = ["SH SH1", "SH SH2", "SH @SHELL"]
    tied = ["@A @B", "@A @C", "@A @D", "@B @C", "@B @D", "@C @D"]
    assert fixed == {frozenset(link.split()) for link in [*landings, *metal, *tied]}
    row = ["1 2", "2 3", "3 4", "4 5"]
    assert {frozenset(board.pair(link)) for link in links.bridges} >= {frozenset(link.split()) for link in row}
    further = {frozenset(board.pair(link)) for link in possible_links(board, WIDE).bridges}
    assert {frozenset(("1", "3")), frozenset(("1", "4"))} <= further


def floor_of(board: Board, text: str, a: str, b: str) -> float:
    knowledge = replay(board, log(board, text)).knowledge if text else Knowledge(len(board.points))
    floor = part_floor(board, Reach(board, knowledge, possible_links(board, NEAR)))
    assert floor(board.number[a], board.number[b]) == floor(board.number[b], board.number[a])
    return floor(board.number[a], board.number[b])


def test_without_parts_nothing_but_links_can_carry_a_tone():
    assert floor_of(tiny_board(), "", "1", "@GND") == inf


def test_the_floor_is_all_parts_within_reach_side_by_side():
    """30 and 60 ohm, each at one end only: 20 ohm between any two points, the least that a board can show."""
    board = with_parts(("+5V, NC", 30, 40), ("D+, SHELL", 60, 70))
    assert floor_of(board, "", "3", "5") == pytest.approx(20)
    # 3 is apart from 2 and 4, so bridges do not lead on from it; its own net's part is all that is left
    assert floor_of(board, "2 3 quiet\n3 4 quiet", "3", "5") == pytest.approx(60)
    assert floor_of(with_parts(("+5V, NC", 0, 1)), "", "3", "5") == 0
