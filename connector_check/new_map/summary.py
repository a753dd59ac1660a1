"""What was made for a new map, in lines for its maker. Pure."""

from __future__ import annotations

import re

from connector_check.new_map.making import NewMap
from connector_check.pinout.ranges import names_list


def summary(made: NewMap, file: str) -> list[str]:
    """What was made, what in it is a guess, and the next step, as lines."""
    found = made.pin_map
    layout = found.layouts[0]
    contacts, nets = f"{len(found.net_of)} contacts", f"{len(found.nets)} nets"
    lines = [f"{file}: {contacts} in {nets} on {len(layout.joints)} joints, layout {layout.id}"]
    lines += [f"  {note}" for note in made.notes]
    lines.append(f"  layout: {layout.source}")
    if made.guessed:
        lines.append("guessed; confirm each against the published pinout and delete its mark in the file:")
        alike: dict[tuple[str, float | None, str], list[str]] = {}
        for net in made.guessed:
            alike.setdefault((net.role, net.volts, net.rule), []).append(net.name)
        for (role, volts, rule), names in alike.items():
            nominal = f" {volts:g} V" if volts is not None else ""
            lines.append(f"  {role}{nominal}: {names_list(names)[1:-1]} ({rule})")
    if not re.search(rf"(^|[/\\\\]){re.escape(found.id)}\.ya?ml$", file):
        lines.append(f"its id is {found.id}: call the file {found.id}.yaml, so that it can be found by its id")
    return [*lines, f"next: connector-check lint {file}"]
