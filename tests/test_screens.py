"""Every screen is as its file in tests/screens says; `python -m tests.screens` writes the files anew."""

from __future__ import annotations

import pytest

from tests.screens import FOLDER, SIZES, scenes

SCENES = dict(scenes())


@pytest.mark.parametrize("name", SCENES)
def test_a_screen_is_as_its_file_says(name):
    assert SCENES[name] == (FOLDER / name).read_text(encoding="utf-8")


def test_there_are_no_other_screens():
    assert {path.name for path in FOLDER.iterdir()} == set(SCENES)


@pytest.mark.parametrize("name", SCENES)
def test_a_screen_fits_its_size_and_takes_every_row_of_it(name):
    lines = SCENES[name].splitlines()
    for columns, rows in SIZES:
        start = lines.index(f"--- {columns} columns, {rows} lines") + 1
        screen = lines[start : start + rows]
        assert all(len(line) <= columns for line in screen)
        assert lines[start + rows].startswith("--- ")
