"""Pin map files: fixture folders of good and bad ones, and hostile bytes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.errors import InputError
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.pinout.pinmap_file import load_pin_map, parse_pin_map
from tests.strategies import TINY_YAML

FOLDER = Path(__file__).parent / "data" / "maps"


@pytest.mark.parametrize("path", sorted((FOLDER / "good").glob("*.yaml")), ids=lambda p: p.stem)
def test_good_maps_load(path):
    found = load_pin_map(path)
    assert found.layouts and found.nets


@pytest.mark.parametrize("path", sorted((FOLDER / "bad").glob("*.yaml")), ids=lambda p: p.stem)
def test_bad_maps_get_every_problem_with_file_and_line(path):
    expected = re.findall(r"^# expect: (.*)$", path.read_text(encoding="utf-8"), re.MULTILINE)
    assert expected
    with pytest.raises(InputError) as caught:
        load_pin_map(path, path.name)
    text = str(caught.value)
    for what in expected:
        assert what in text
    assert all(problem.file == path.name for problem in caught.value.problems)
    if path.stem != "empty":
        assert all(problem.line > 0 for problem in caught.value.problems)


def test_the_line_of_a_problem_is_where_it_stands():
    text = TINY_YAML.replace("volts: 5,", "volts: five,")
    line = next(i for i, row in enumerate(text.splitlines(), 1) if "five" in row)
    with pytest.raises(InputError) as caught:
        parse_pin_map(text.encode(), "t.yaml")
    assert [p.line for p in caught.value.problems] == [line]


@pytest.mark.parametrize(
    ("raw", "what"),
    [
        (b"\xff\xfe\x00\x01", "not a table"),
        (b"id: a\0b", "binary"),
        (b"", "empty"),
        (b"x" * 2_000_001, "bytes"),
        (b"\x89PNG\r\n\x1a\n\0\0", "UTF-8"),
    ],
)
def test_bytes_that_are_no_map(raw, what):
    with pytest.raises(InputError, match=what):
        parse_pin_map(raw, "x.yaml")


def test_a_billion_laughs_file_is_refused_at_once():
    lines = ["a: &a [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"{c}: &{c} [{', '.join(['*' + p] * 10)}]" for p, c in zip("abcdefgh", "bcdefghi", strict=True)]
    with pytest.raises(InputError, match="anchor"):
        parse_pin_map("\n".join(lines).encode(), "x.yaml")


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_a_damaged_map_is_read_or_refused_but_never_a_traceback(data):
    text = TINY_YAML
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text) - 1))
        piece = data.draw(
            st.sampled_from(["", "[", "{", ":", "\n", "- ", "é", "1e999", "..", "1..999999999", "nan", "\t", "'"])
        )
        text = text[:at] + piece + text[at + data.draw(st.integers(0, 6)) :]
    try:
        found = parse_pin_map(text.encode(), "x.yaml")
    except InputError as error:
        problems = error.problems
    else:
        assert found.layouts
        return
    assert problems


def test_scalars_stay_as_typed():
    found = load_pin_map(FOLDER / "good" / "text-stays-text.yaml")
    assert "01" in found.net_of and "NO" in found.net_named


def test_a_variant_changes_contacts_and_keeps_the_rest():
    base = load_pin_map(FOLDER / "good" / "variant-and-paths.yaml")
    changed = base.with_variant("old")
    assert changed is not None
    assert (base.net_of["6"].role, changed.net_of["6"].name, changed.net_of["6"].role) == ("reserved", "AUX", "data")
    assert "NC" not in changed.net_named and changed.net_of["5"] == base.net_of["5"]
    assert base.with_variant("none") is None


def test_every_shipped_map_loads_and_has_its_file_name_as_id():
    ids = list_ids()
    assert len(ids) >= 12
    for map_id in ids:
        found = find_pin_map(map_id)
        assert found.id == map_id and found.sources
        assert all(layout.source for layout in found.layouts)


@pytest.mark.parametrize("name", ["../../etc/passwd", "hdmi-a/../hdmi-a", "..", "/etc/passwd", "HDMI-A", "", "nope"])
def test_an_id_never_becomes_a_path(name):
    with pytest.raises(InputError, match="no pin map"):
        find_pin_map(name)


def test_own_folder_of_maps(tmp_path, monkeypatch):
    (tmp_path / "tiny.yaml").write_text(TINY_YAML)
    monkeypatch.setenv("CONNECTOR_CHECK_MAPS", str(tmp_path))
    assert find_pin_map("tiny").id == "tiny" and "tiny" in list_ids()
    (tmp_path / "other.yaml").write_text(TINY_YAML)
    with pytest.raises(InputError, match=r"rename it to tiny\.yaml"):
        find_pin_map("other")
