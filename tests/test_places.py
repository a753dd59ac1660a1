"""Places in words: rows, columns, sides, turns, shell joints, and no two joints of a layout in one place."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from connector_check.board.board import Board
from connector_check.drawing.places import place_words
from connector_check.drawing.views import SIDES, TURNS, solder_view
from connector_check.pinout.library import find_pin_map, list_ids, shipped_folder
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap
from tests.strategies import boards, tiny_board

SHIPPED = sorted(path.stem for path in shipped_folder().glob("*.yaml"))


def layout_of(*places: tuple[str, float, float], size: tuple[float, float] = (0.5, 1.0)) -> Board:
    joints = tuple(Joint(name, ("SH",) if name.startswith("SH") else (name,), x, y, *size) for name, x, y in places)
    nets = [Net("N", "ground", tuple(j.name for j in joints if j.contacts != ("SH",)))]
    if any(j.contacts == ("SH",) for j in joints):
        nets.append(Net("SHELL", "shell", ("SH",)))
    layout = Layout("l", "", "invented", joints)
    return Board(PinMap("m", "m", "", (), tuple(nets), {}, (layout,)), layout)


def words(board: Board, name: str, side: str = "component", rotate: int = 0) -> str:
    return place_words(board, board.number[name], side, rotate).split(", seen from")[0]


def test_a_single_row_has_no_row_words():
    board = layout_of(*((str(n), n, 0) for n in range(1, 8)))
    assert [words(board, n) for n in "1347"] == [
        "1st from the left",
        "3rd from the left",
        "4th from the left",
        "1st from the right",
    ]
    assert words(board, "1", "solder") == "1st from the right"
    assert place_words(board, 1) == "2nd from the right, seen from the solder side"
    assert place_words(board, 1, "component") == "2nd from the left, seen from the component side"


def test_a_turned_row_counts_from_the_top():
    board = layout_of(*((str(n), n, 0) for n in range(1, 8)))
    assert words(board, "2", rotate=90) == "2nd from the top"
    assert words(board, "2", rotate=180) == "2nd from the right"
    assert words(board, "2", rotate=270) == "2nd from the bottom"
    assert place_words(board, 1, "component", 90).endswith(
        ", seen from the component side, turned 90 degrees clockwise"
    )


def test_a_vertical_row():
    board = layout_of(*((str(n), 0, n) for n in range(1, 8)), size=(1.0, 0.5))
    assert words(board, "3") == words(board, "3", "solder") == "3rd from the top"
    assert words(board, "6") == "2nd from the bottom"


def test_rows_within_half_a_pad_are_one_and_staggered_ones_two():
    near = layout_of(("1", 0, 0), ("2", 1, 0.4), ("3", 2, 0))
    assert [words(near, n) for n in "123"] == ["1st from the left", "2nd from the left", "1st from the right"]
    stagger = layout_of(("1", 0, 0), ("2", 1, 1.5), ("3", 2, 0), ("4", 3, 1.5))
    assert words(stagger, "1") == "1st from the left, upper row"
    assert words(stagger, "4") == "1st from the right, lower row"
    assert words(stagger, "4", "solder") == "1st from the left, lower row"
    assert words(stagger, "4", rotate=180) == "1st from the left, upper row"


def test_three_rows_four_rows_and_a_lone_joint():
    three = layout_of(*((f"{r}{c}", c, 3 * r) for r in (1, 2, 3) for c in range(4)))
    assert [words(three, f"{r}0").split(", ")[1] for r in (1, 2, 3)] == ["upper row", "middle row", "lower row"]
    four = layout_of(*((f"{r}{c}", c, 3 * r) for r in (1, 2, 3, 4) for c in range(5)))
    assert words(four, "21") == "2nd from the left, row 2 of 4 from the top"
    assert words(four, "21", rotate=90) == "2nd from the top, column 3 of 4 from the left"
    lone = layout_of(("1", 0, 0), ("2", 1, 0), ("3", 5, 9))
    assert words(lone, "3") == "alone in the lower row"
    assert words(layout_of(("1", 0, 0)), "1") == "the only joint"


def test_two_by_two_goes_by_rows():
    board = layout_of(("1", 0, 0), ("2", 2, 0), ("3", 0, 2), ("4", 2, 2))
    assert words(board, "3") == "1st from the left, lower row"


def test_shell_joints():
    board = layout_of(("1", 0, 0), ("SH1", -4, -2), ("SH2", 4, -2), ("SH3", -4, 3), ("SH4", 4, 3))
    assert [words(board, f"SH{n}") for n in (1, 2, 3, 4)] == [
        "shell joint, upper left",
        "shell joint, upper right",
        "shell joint, lower left",
        "shell joint, lower right",
    ]
    assert words(board, "SH1", "solder") == "shell joint, upper right"
    pair = layout_of(("1", 0, 0), ("SH1", -4, 1), ("SH2", 4, 1))
    assert words(pair, "SH2") == "shell joint, right" and words(pair, "SH2", rotate=90) == "shell joint, lower"
    assert words(layout_of(("1", 0, 0), ("SH1", -4, 1)), "SH1") == "the shell's only joint"
    row = layout_of(("1", 0, 0), *((f"SH{n}", n, 4) for n in range(1, 6)), ("SH6", 1, 0), ("SH7", 5, 0))
    assert words(row, "SH2") == "shell joint, 2nd from the left, lower row"


def test_points_that_are_no_joints():
    board = tiny_board()
    assert place_words(board, board.number["SH"]).startswith("the shell itself")
    assert place_words(board, board.number["@GND"]) == "the board's GND: plane, test pad or part leg"
    assert place_words(board, board.number["@D+"], "component", 90) == "the board's D+: plane, test pad or part leg"


def test_an_unknown_side_or_turn_is_refused():
    with pytest.raises(ValueError, match="side must be"):
        place_words(tiny_board(), 0, "top")
    with pytest.raises(ValueError, match="rotate must be"):
        place_words(tiny_board(), 0, "solder", 45)


def all_layouts() -> list[tuple[str, str]]:
    return [(name, layout.id) for name in SHIPPED for layout in find_pin_map(name).layouts]


@pytest.mark.parametrize(("name", "layout"), all_layouts())
@pytest.mark.parametrize("side", SIDES)
def test_words_are_unique_in_every_shipped_layout(name, layout, side):
    pin_map = find_pin_map(name)
    board = Board(pin_map, pin_map.layout(layout))
    for rotate in TURNS:
        said = [place_words(board, point, side, rotate) for point in range(len(board.points))]
        assert len(set(said)) == len(board.points)
        assert all(len(text.split(", seen from")[0]) <= 60 and text.isprintable() for text in said)
        check_directions(board, said, side, rotate)


def check_directions(board: Board, said: list[str], side: str, rotate: int) -> None:
    """Left is left of right, upper is above lower, and counting agrees with the drawing, within rows and columns."""
    marks = solder_view(board, side, rotate).marks
    contacts = [i for i, m in enumerate(marks) if m.role != "shell"]
    for i in contacts:
        match = re.match(r"(\d+)\w\w from the (left|right|top|bottom)(, .*?)?, seen", said[i])
        if not match:
            assert re.match(r"alone in|the only", said[i])
            continue
        number, end, band = int(match[1]), match[2], match[3]
        mates = [k for k in contacts if re.search(rf"from the \w+{re.escape(band or '')}, seen", said[k])]
        axis = [marks[k].x if end in ("left", "right") else marks[k].y for k in mates]
        here = marks[i].x if end in ("left", "right") else marks[i].y
        ahead = sum(a < here if end in ("left", "top") else a > here for a in axis)
        assert ahead == number - 1 and number <= (len(mates) + 1) // 2
    for low, high, axis_of in (("upper", "lower", "y"), ("left column", "right column", "x")):
        first = [getattr(marks[k], axis_of) for k in contacts if f", {low}" in said[k]]
        last = [getattr(marks[k], axis_of) for k in contacts if f", {high}" in said[k]]
        assert not first or not last or max(first) < min(last)


def test_every_shipped_map_is_walked():
    assert len(SHIPPED) >= 40 and set(SHIPPED) <= set(list_ids())


@given(boards(), st.sampled_from(SIDES), st.sampled_from(TURNS))
def test_words_are_unique_on_random_boards(board, side, rotate):
    said = [place_words(board, point, side, rotate) for point in range(len(board.points))]
    assert len(set(said)) == len(said)
    check_directions(board, said, side, rotate)
