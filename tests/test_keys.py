"""Keys: configurable, no accident means quiet."""

from __future__ import annotations

import pytest

from connector_check.probing.keys import ACCIDENTAL, ACTIONS, key_map, split_keys


def test_every_action_has_one_key_and_no_accident_means_quiet():
    keys = key_map()
    assert set(keys.values()) == set(ACTIONS)
    assert ACTIONS["quiet"] not in ACCIDENTAL


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("hum=k", "is no action"),
        ("beep=ab", "one printable key"),
        ("quiet= ", "not space"),
        ("beep=n", "means"),
        ("beep=", "one printable"),
    ],
)
def test_bad_key_maps(text, what):
    with pytest.raises(ValueError, match=what):
        key_map(text)


@pytest.mark.parametrize(
    ("burst", "keys"),
    [
        ("yny", "yny"),
        ("\x1b[A", ""),
        ("\x1bOP", ""),
        ("y\r", "y"),
        ("\x1b[1;5Cb", "b"),
        ("\x1b", ""),
        ("a\x1b[200~b", "ab"),
    ],
)
def test_bursts(burst, keys):
    assert "".join(split_keys(burst)) == keys
