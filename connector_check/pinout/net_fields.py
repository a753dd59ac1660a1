"""The nets of a pin map file, and the published names of their contacts: read and checked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Container

from connector_check.files.fields import Fields
from connector_check.files.yaml_text import Items, Table, Text, Tree
from connector_check.pinout.names import NAME, read_names
from connector_check.pinout.pinmap import GROUND, MOST_VOLTS, POWER, ROLES, SHELL, Net

NET_KEYS = {"role", "contacts", "volts", "volts_max", "withstands", "joined", "ground", "why", "guessed"}


def read_nets(fields: Fields, top: Table) -> tuple[Net, ...]:
    """The nets in the order of the file; a contact in two of them is a problem."""
    tree = top.entries.get("nets")
    listed = fields.entries(tree, "'nets'")
    if not listed and not isinstance(tree, Text | Items):
        fields.say(tree or top, "the pin map has no nets", "add 'nets:' with a line for each net")
    nets: list[Net] = []
    owner: dict[str, str] = {}
    for name, entry, line in listed:
        if not NAME.match(name):
            fields.say(line, f"net name '{name}'", "no spaces, commas, quotes or @, at most 32 characters")
        table = fields.table(entry, f"net '{name}'", NET_KEYS)
        if table is None:
            continue
        net = read_net(fields, name, table, line)
        for contact in net.contacts:
            if contact in owner:
                what = f"contact '{contact}' is in net '{name}' and in net '{owner[contact]}'"
                fields.say(line, what, "a contact belongs to one net")
            owner[contact] = name
        nets.append(net)
    return tuple(nets)


def read_net(fields: Fields, name: str, table: Table, line: int, contacts: tuple[str, ...] = ()) -> Net:
    """One net. line: where its name stands; contacts: those it has when its table does not list them."""
    what = f"net '{name}'"
    if "role" not in table.entries:
        fields.say(line, f"{what} has no 'role'", f"add one of {', '.join(ROLES)}")
    role = fields.word(table, "role", what, ROLES, "data")
    contacts = contacts or _contacts(fields, table, what, line)
    volts = fields.number(table.entries.get("volts"), f"'volts' of {what}", -MOST_VOLTS, MOST_VOLTS)
    if role == POWER and "volts" not in table.entries:
        fields.say(line, f"{what} is a supply without volts", "add 'volts: ...', its nominal volts")
    if role != POWER and ("volts" in table.entries or "volts_max" in table.entries):
        fields.say(line, f"{what} is {role} and has volts", "only a net of role power has volts")
    joined = fields.word(table, "joined", what, ("must", "may"), "must" if role in (GROUND, POWER) else "may")
    return Net(
        name=name,
        role=role,
        contacts=contacts,
        volts=volts,
        volts_max=fields.number(table.entries.get("volts_max"), f"'volts_max' of {what}", -MOST_VOLTS, MOST_VOLTS),
        withstands=fields.number(table.entries.get("withstands"), f"'withstands' of {what}", 0, MOST_VOLTS),
        must_join=joined == "must" and len(contacts) > 1,
        may_be_open=joined == "may" and role in ("ground", POWER),
        ground=fields.word(table, "ground", what, ("may", "apart"), "may" if role == SHELL else ""),
        why=fields.text(table, "why", what, required=False),
        guessed=fields.text(table, "guessed", what, required=False),
    )


def _contacts(fields: Fields, table: Table, what: str, line: int) -> tuple[str, ...]:
    counts = Counter(
        contact for contact, _ in read_names(fields, table.entries.get("contacts"), f"'contacts' of {what}")
    )
    for contact in sorted(contact for contact, count in counts.items() if count > 1):
        fields.say(line, f"contact '{contact}' twice in {what}", "list each contact once")
    if not counts:
        fields.say(line, f"{what} has no contacts", "add 'contacts: [...]' or remove the net")
    return tuple(counts)


def read_contact_names(fields: Fields, tree: Tree | None, contacts: Container[str]) -> dict[str, str]:
    """The contacts that have a published name other than their net's, with that name."""
    names = {}
    for contact, entry, line in fields.entries(tree, "'names'"):
        if contact not in contacts:
            fields.say(line, f"'names' gives a name to unknown contact '{contact}'")
        elif not isinstance(entry, Text):
            fields.say(entry, f"the name of contact '{contact}' is not a text")
        else:
            names[contact] = entry.value
    return names
