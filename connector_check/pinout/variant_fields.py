"""The variants of a pin map file: what a revision or another wiring changes, contact by contact."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from connector_check.files.fields import Fields
from connector_check.files.yaml_text import Tree
from connector_check.pinout.net_fields import NET_KEYS, read_net
from connector_check.pinout.pinmap import GROUND, POWER, Net, Variant

VARIANT_KEYS = {"id", "title", "why", "contacts"}
CHANGE_KEYS = NET_KEYS | {"net", "name"}


def read_variants(
    fields: Fields, tree: Tree | None, nets: Sequence[Net], names: Mapping[str, str]
) -> tuple[Variant, ...]:
    """The variants; nets, names: those of the map they change."""
    found = (_variant(fields, item, nets, names) for item in fields.items(tree, "'variants'"))
    return tuple(variant for variant in found if variant is not None)


def _variant(fields: Fields, tree: Tree, nets: Sequence[Net], names: Mapping[str, str]) -> Variant | None:
    table = fields.table(tree, "a variant", VARIANT_KEYS)
    if table is None:
        return None
    variant_id = fields.text(table, "id", "a variant")
    owner = {contact: net.name for net in nets for contact in net.contacts}
    known = {net.name for net in nets}
    added: dict[str, Net] = {}
    changed_names = dict(names)
    for contact, entry, line in fields.entries(table.entries.get("contacts"), f"'contacts' of variant '{variant_id}'"):
        what = f"contact '{contact}' of variant '{variant_id}'"
        change = fields.table(entry, what, CHANGE_KEYS)
        if change is None:
            continue
        if contact not in owner:
            fields.say(line, f"variant '{variant_id}' changes unknown contact '{contact}'")
            continue
        net_name = fields.text(change, "net", what)
        owner[contact] = net_name
        changed_names[contact] = fields.text(change, "name", "a variant", required=False) or net_name
        if net_name not in known and net_name not in added:
            added[net_name] = read_net(fields, net_name, change, line, (contact,))
    title, why = fields.text(table, "title", "a variant"), fields.text(table, "why", "a variant", required=False)
    return Variant(variant_id, title, why, _rewired([*nets, *added.values()], owner), changed_names)


def _rewired(nets: Sequence[Net], owner: Mapping[str, str]) -> tuple[Net, ...]:
    """The nets that still have contacts, with those that they own now."""
    found = []
    for net in nets:
        members = tuple(contact for contact, name in owner.items() if name == net.name)
        must = net.must_join if len(net.contacts) > 1 else net.role in (GROUND, POWER)
        if members:
            found.append(net._replace(contacts=members, must_join=must and len(members) > 1))
    return tuple(found)
