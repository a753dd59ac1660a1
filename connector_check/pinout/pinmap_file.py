"""Pin map files: YAML in, a checked `PinMap` out, or every problem at once as `file:line`."""

from __future__ import annotations

from pathlib import Path

from connector_check.errors import InputError
from connector_check.files.fields import Fields
from connector_check.files.reading import read_capped
from connector_check.files.yaml_text import MAX_BYTES, Table, Text, Tree, read_yaml
from connector_check.pinout.layout_fields import read_layouts
from connector_check.pinout.names import ID
from connector_check.pinout.net_fields import read_contact_names, read_nets
from connector_check.pinout.path_fields import read_paths
from connector_check.pinout.pinmap import PinMap, Source
from connector_check.pinout.position_fields import read_face
from connector_check.pinout.variant_fields import read_variants

WHAT = "the pin map"
TOP_KEYS = {
    "format",
    "id",
    "title",
    "pitch_mm",
    "side",
    "source",
    "settled",
    "nets",
    "names",
    "paths",
    "face",
    "layouts",
    "variants",
}
SOURCE_KEYS = {"document", "known", "note"}
KNOWN = ("read", "compared", "memory")


def load_pin_map(path: Path | str, name: str = "") -> PinMap:
    """Read and check one pin map file.

    name: what to call the file in messages (default: the path as given). Raises InputError with all problems.
    """
    file = name or str(path)
    return parse_pin_map(read_capped(path, file, MAX_BYTES), file)


def parse_pin_map(raw: bytes, file: str) -> PinMap:
    """Check the bytes of a pin map file; see `load_pin_map`."""
    tree, problems = read_yaml(raw, file)
    fields = Fields(file, problems)
    found = _pin_map(fields, tree)
    if fields.problems or found is None:
        raise InputError(fields.problems)
    return found


def _pin_map(fields: Fields, tree: Tree) -> PinMap | None:
    top = fields.table(tree, WHAT, TOP_KEYS)
    if top is None:
        return None
    fields.check_format(top, WHAT)
    map_id = fields.text(top, "id", WHAT)
    if map_id and not ID.match(map_id):
        fields.say(top.lines["id"], f"id '{map_id}'", "small letters, digits, '.' and '-' only")
    sources = _sources(fields, top)
    nets = read_nets(fields, top)
    net_of = {contact: net.name for net in nets for contact in net.contacts}
    names = net_of | read_contact_names(fields, top.entries.get("names"), net_of)
    return PinMap(
        id=map_id,
        layouts=read_layouts(fields, top, net_of),
        title=fields.text(top, "title", WHAT),
        side=fields.text(top, "side", WHAT, required=False),
        sources=sources,
        nets=nets,
        names=names,
        paths=read_paths(fields, top.entries.get("paths"), {net.name for net in nets}),
        face=read_face(fields, top.entries.get("face"), net_of),
        settled=tuple(i.value for i in fields.items(top.entries.get("settled"), "'settled'") if isinstance(i, Text)),
        pitch_mm=fields.number(top.entries.get("pitch_mm"), "'pitch_mm'", 0),
        variants=read_variants(fields, top.entries.get("variants"), nets, names),
    )


def _sources(fields: Fields, top: Table) -> tuple[Source, ...]:
    found = []
    for item in fields.items(top.entries.get("source"), "'source'"):
        table = fields.table(item, "a source", SOURCE_KEYS)
        if table is not None:
            document = fields.text(table, "document", "a source")
            known = fields.word(table, "known", "a source", KNOWN, "")
            if "known" not in table.entries:
                fields.say(table, "a source does not say how it is known", "add 'known: read|compared|memory'")
            found.append(Source(document, known, fields.text(table, "note", "a source", required=False)))
    if not found:
        remedy = "add 'source:' with '- {document: ..., known: read|compared|memory}'"
        fields.say(top.lines.get("source", top.line), "the pin map names no source", remedy)
    return tuple(found)
