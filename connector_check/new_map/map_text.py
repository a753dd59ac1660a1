"""The text of a new pin map file: readable, commented, guesses marked on their lines. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from connector_check.files.text import printable
from connector_check.files.yaml_out import quoted
from connector_check.new_map.records import NewLayout, NewNet
from connector_check.pinout.pinmap import POWER, SHELL, Joint
from connector_check.pinout.ranges import names_list

LONGEST_RUN_STEP_MM = 0.0005

HEADING = """\
# connector-check pin map, format 1, started by 'connector-check new-map'
# A mark 'guessed: RULE' says what was guessed. Hold it against the published pinout, then delete the mark:
# until then every result warns of it.
# Roles and volts decide which shorts count as damage: a wrong one hides a short that matters.
"""


def map_text(
    map_id: str,
    title: str,
    pitch_mm: float | None,
    source: tuple[str, str],
    notes: Iterable[str],
    nets: Iterable[NewNet],
    layout: NewLayout,
) -> str:
    """The pin map file. source: document and how it is known; notes become comments over the nets."""
    lines = [HEADING + "format: 1", f"id: {quoted(map_id)}", f"title: {quoted(title, free=True)}"]
    if pitch_mm:
        lines.append(f"pitch_mm: {pitch_mm:g}")
    lines.append("# side: which end this describes, say host, device or plug")
    lines += ["source:", f"  - document: {quoted(source[0], free=True)}", f"    known: {source[1]}"]
    lines += [f"# {printable(note)}" for note in notes]
    lines.append("nets:")
    lines += [_net_line(net) for net in nets]
    lines += ["layouts:", f"  - id: {layout.id}", f"    source: {quoted(layout.source, free=True)}"]
    shared = [f"{quoted(j.name)}: {names_list(j.contacts)}" for j in layout.joints if len(j.contacts) > 1]
    if shared:
        lines.append(f"    joints: {{{', '.join(shared)}}}")
    if layout.without:
        lines.append(f"    without: {names_list(layout.without)}   # no pad for them; confirm")
    lines.append("    pads:")
    lines += [f"      - {row}" for row in _pad_rows(layout.joints)]
    return "\n".join(lines) + "\n"


def _net_line(net: NewNet) -> str:
    parts = [f"role: {net.role}"]
    if net.role == POWER and net.volts is not None:
        parts.append(f"volts: {net.volts:g}")
    parts.append(f"contacts: {names_list(net.contacts)}")
    if net.role == SHELL:
        parts.append("ground: may")
    if net.rule:
        parts.append(f"guessed: {quoted(net.rule, free=True)}")
    return f"  {quoted(net.name)}: {{{', '.join(parts)}}}"


# Pads: rows of an even step where there are any, single positions elsewhere


def _pad_rows(joints: Sequence[Joint]) -> list[str]:
    kinds: dict[tuple[float, float, str], list[Joint]] = {}
    for joint in joints:
        kinds.setdefault((joint.width, joint.height, joint.shape), []).append(joint)
    rows = []
    for (width, height, shape), group in kinds.items():
        look = f"size: [{width:g}, {height:g}], shape: {shape}"
        single = []
        for run in _runs(group):
            if len(run) < 3:
                single += run
                continue
            first, last, steps = run[0], run[-1], len(run) - 1
            dx, dy = round((last.x - first.x) / steps, 6), round((last.y - first.y) / steps, 6)
            start, step = f"start: [{first.x:g}, {first.y:g}]", f"step: [{dx:g}, {dy:g}]"
            rows.append(f"{{row: {names_list([j.name for j in run])}, {start}, {step}, {look}}}")
        for at in range(0, len(single), 4):
            spots = ", ".join(f"{quoted(j.name)}: [{j.x:g}, {j.y:g}]" for j in single[at : at + 4])
            rows.append(f"{{at: {{{spots}}}, {look}}}")
    return rows


def _runs(group: list[Joint]) -> list[list[Joint]]:
    """The joints as straight rows of an even step: along x or along y, whichever takes fewer rows."""
    flat: dict[float, list[Joint]] = {}
    upright: dict[float, list[Joint]] = {}
    for joint in group:
        flat.setdefault(joint.y, []).append(joint)
        upright.setdefault(joint.x, []).append(joint)
    across = len(flat) <= len(upright)
    runs: list[list[Joint]] = []
    for line in (flat if across else upright).values():
        ordered = sorted(line, key=lambda j: j.x if across else j.y)
        run = ordered[:1]
        for before, joint in pairwise(ordered):
            gap = joint.x - before.x + joint.y - before.y
            first = run[1].x - run[0].x + run[1].y - run[0].y if len(run) > 1 else gap
            if abs(gap - first) > LONGEST_RUN_STEP_MM:
                runs.append(run)
                run = []
            run.append(joint)
        runs.append(run)
    return runs
