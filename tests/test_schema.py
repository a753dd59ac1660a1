"""The JSON Schema for editors and the validator agree on what a pin map is."""

from __future__ import annotations

import copy
import datetime
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

import connector_check
from connector_check.errors import InputError
from connector_check.pinout import layout_fields, net_fields, path_fields, pinmap_file, position_fields, variant_fields
from connector_check.pinout.library import shipped_folder
from connector_check.pinout.pinmap import ROLES

FOLDER = Path(__file__).parent / "data" / "maps"
SCHEMA = json.loads((Path(connector_check.__file__).parent / "pin_map.schema.json").read_text(encoding="utf-8"))
CHECK = jsonschema.Draft7Validator(SCHEMA)
GOOD = sorted((FOLDER / "good").glob("*.yaml")) + sorted(shipped_folder().glob("*.yaml"))
BAD = sorted((FOLDER / "bad").glob("*.yaml"))

BEYOND = {
    "alias": "anchors are gone once YAML is loaded",
    "anchor": "anchors are gone once YAML is loaded",
    "broken-yaml": "not YAML",
    "contact-without-joint": "one part of the file against another",
    "duplicate-key": "the second key is gone once YAML is loaded",
    "joints-on-top": "geometry",
    "path-ohms-swapped": "compares two numbers",
    "path-unknown-net": "one part of the file against another",
    "tag": "tags are gone once YAML is loaded",
    "two-documents": "two documents",
    "two-nets-one-contact": "one part of the file against another",
    "very-deep": "too deep for a YAML reader",
}
"""Bad fixtures that a schema cannot refuse, and why; every other one it must."""


def as_text(path: Path) -> Any:
    """The document as the validator sees it: every scalar is text."""
    return yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)


def as_typed(path: Path) -> Any:
    """The document as an editor sees it: numbers and booleans typed, keys and dates as text."""

    def keyed(value: Any) -> Any:
        if isinstance(value, dict):
            return {str(key): keyed(entry) for key, entry in value.items()}
        if isinstance(value, list):
            return [keyed(entry) for entry in value]
        return str(value) if isinstance(value, datetime.date) else value

    return keyed(yaml.safe_load(path.read_text(encoding="utf-8")))


def refusals(document: Any) -> list[str]:
    return [error.message for error in CHECK.iter_errors(document)]


def validator_refuses(document: Any) -> bool:
    try:
        pinmap_file.parse_pin_map(yaml.safe_dump(document, sort_keys=False).encode(), "changed.yaml")
    except InputError:
        return True
    return False


def test_the_schema_is_draft_7():
    jsonschema.Draft7Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.stem)
def test_good_and_shipped_maps_pass_both(path):
    assert pinmap_file.load_pin_map(path).id
    assert refusals(as_text(path)) == []
    assert refusals(as_typed(path)) == []


@pytest.mark.parametrize("path", [path for path in BAD if path.stem not in BEYOND], ids=lambda path: path.stem)
def test_bad_maps_are_refused_by_both(path):
    with pytest.raises(InputError):
        pinmap_file.load_pin_map(path)
    assert refusals(as_text(path))
    assert refusals(as_typed(path))


@pytest.mark.parametrize("name", sorted(BEYOND))
def test_what_is_called_beyond_a_schema_is(name):
    path = FOLDER / "bad" / f"{name}.yaml"
    with pytest.raises(InputError):
        pinmap_file.load_pin_map(path)
    try:
        document = as_text(path)
    except (yaml.YAMLError, RecursionError):
        return
    assert refusals(document) == []


def test_the_schema_knows_the_same_keys_and_words():
    part = SCHEMA["definitions"]
    assert set(SCHEMA["properties"]) == pinmap_file.TOP_KEYS
    assert set(part["net"]["properties"]) == net_fields.NET_KEYS
    assert set(part["path"]["properties"]) == path_fields.PATH_KEYS
    assert set(part["layout"]["properties"]) == layout_fields.LAYOUT_KEYS
    assert set(part["positions"]["properties"]) == position_fields.PADS_KEYS
    changes = part["variant"]["properties"]["contacts"]["additionalProperties"]
    assert set(changes["properties"]) == variant_fields.CHANGE_KEYS
    assert part["role"]["enum"] == list(ROLES)
    assert part["source"]["properties"]["known"]["enum"] == list(pinmap_file.KNOWN)
    assert part["positions"]["properties"]["shape"]["enum"] == list(layout_fields.SHAPES)


def changed(document: Any) -> list[tuple[str, Any]]:
    """The document with each value in turn dropped or replaced by something of another kind, and with a key added."""
    found: list[tuple[str, Any]] = []
    for way, value in places(document):
        if way:
            found.append((f"{way} dropped", put(document, way, None, drop=True)))
            others = [o for o in ("", "x", "-1", "1", "1e9", [], ["x"], {}, {"x": "y"}) if o != value]
            found += [(f"{way} = {other!r}", put(document, way, other)) for other in others]
        if isinstance(value, dict):
            found.append((f"{way} with a key added", put(document, way, {**value, "added": "x"})))
    return found


def places(value: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """Every value inside a document, itself included, with the keys that lead to it."""
    yield way, value
    if isinstance(value, dict | list):
        for key, entry in value.items() if isinstance(value, dict) else enumerate(value):
            yield from places(entry, (*way, key))


def put(document: Any, way: tuple[Any, ...], other: Any, drop: bool = False) -> Any:
    """A copy of the document with another value at a place, or without what is there."""
    if not way:
        return copy.deepcopy(other)
    made = copy.deepcopy(document)
    inner = made
    for key in way[:-1]:
        inner = inner[key]
    if drop:
        del inner[way[-1]]
    else:
        inner[way[-1]] = copy.deepcopy(other)
    return made


@pytest.mark.parametrize("path", sorted((FOLDER / "good").glob("*.yaml")), ids=lambda path: path.stem)
def test_the_schema_never_refuses_what_the_validator_takes(path):
    changes = changed(as_text(path))
    refused = [(what, document) for what, document in changes if refusals(document)]
    assert len(refused) > len(changes) / 3
    assert [what for what, document in refused if not validator_refuses(document)] == []
