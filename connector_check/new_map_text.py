"""The text of a new pin map file: readable, commented, guesses marked on their lines. Pure."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from connector_check.pinmap import POWER, SHELL, Joint

PLAIN = re.compile(r"(?:[A-Za-z0-9_+./~]|-(?=[A-Za-z0-9]))[A-Za-z0-9_+./~#()-]*\Z")
COUNTED = re.compile(r"([A-Za-z]*)(0|[1-9]\d*)\Z")
LONGEST_RUN_STEP_MM = 0.0005

HEADING = """\
# connector-check pin map, format 1, started by 'connector-check new-map'
# A comment 'guessed: RULE; confirm' marks what was guessed. Hold it against the published pinout, then delete the comment.
# Roles and volts decide which shorts count as damage: a wrong one hides a short that matters.
"""


@dataclass(frozen=True)
class NewNet:
    """A net of a new map; rule: what guessed its role or volts, empty when a person told both."""

    name: str
    role: str
    volts: float | None
    contacts: tuple[str, ...]
    rule: str


@dataclass(frozen=True)
class NewLayout:
    """Where the joints of a new map sit; without: contacts that the part lacks."""

    id: str
    source: str
    joints: tuple[Joint, ...]
    without: tuple[str, ...]


def map_text(
    map_id: str, title: str, pitch_mm: float | None, source: tuple[str, str], notes: Iterable[str],
    nets: Iterable[NewNet], layout: NewLayout,
) -> str:  # fmt: skip
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


def printable(text: str) -> str:
    """Text on one line, without control characters."""
    return "".join(c if c.isprintable() else "?" for c in text)


def quoted(text: str, free: bool = False) -> str:
    """A YAML scalar that reads as this text; free: a sentence, which may hold spaces.

    >>> quoted("+5V"), quoted("-"), quoted("a: b", free=True)
    ('+5V', '"-"', '"a: b"')
    """
    text = printable(text)
    plain = all(PLAIN.match(word) for word in text.split(" ")) if free else bool(PLAIN.match(text))
    return text if plain and not text.startswith("#") else json.dumps(text, ensure_ascii=False)


def names_list(names: Sequence[str]) -> str:
    """A list of names with runs written as ranges.

    >>> names_list(["1", "2", "3", "A1", "9", "7", "5"])
    '[1..3, A1, 9..5/2]'
    """
    parts: list[str] = []
    at = 0
    while at < len(names):
        end = _range_end(names, at)
        if end - at < 3:
            parts.append(quoted(names[at]))
            at += 1
            continue
        step = abs(_count(names[at + 1])[1] - _count(names[at])[1])
        parts.append(f"{names[at]}..{names[end - 1]}" + (f"/{step}" if step > 1 else ""))
        at = end
    return f"[{', '.join(parts)}]"


def _count(name: str) -> tuple[str, int]:
    match = COUNTED.match(name)
    return (match[1], int(match[2])) if match else ("", -1)


def _range_end(names: Sequence[str], at: int) -> int:
    """Where the run of counted names that starts there ends."""
    end, step = at + 1, 0
    while end < len(names):
        (letters, number), (other, following) = _count(names[end - 1]), _count(names[end])
        if (
            number < 0
            or following < 0
            or letters != other
            or following == number
            or step not in (0, following - number)
        ):
            break
        step = following - number
        end += 1
    return end


def _net_line(net: NewNet) -> str:
    parts = [f"role: {net.role}"]
    if net.role == POWER and net.volts is not None:
        parts.append(f"volts: {net.volts:g}")
    parts.append(f"contacts: {names_list(net.contacts)}")
    if net.role == SHELL:
        parts.append("ground: may")
    mark = f"   # guessed: {net.rule}; confirm" if net.rule else ""
    return f"  {quoted(net.name)}: {{{', '.join(parts)}}}{mark}"


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
            step = (run[-1].x - run[0].x) / (len(run) - 1), (run[-1].y - run[0].y) / (len(run) - 1)
            rows.append(f"{{row: {names_list([j.name for j in run])}, start: [{run[0].x:g}, {run[0].y:g}], "
                        f"step: [{round(step[0], 6):g}, {round(step[1], 6):g}], {look}}}")  # fmt: skip
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
