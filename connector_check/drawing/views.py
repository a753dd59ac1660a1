"""Drawings of a connector, as places: what is seen from where, and each joint's state. Pure.

A view holds marks in mm, x right and y down *as seen*; the renderers `draw_text` and `draw_svg` put them on the page.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from connector_check.analysis.obligations import Obligations, conductor, obligations
from connector_check.analysis.result import Result, Short
from connector_check.board.board import Board
from connector_check.board.harm import NOTE as NOTE_GRADE
from connector_check.errors import InputError
from connector_check.pinout.geometry import pitch
from connector_check.pinout.pinmap import GROUND, SHELL, Joint, PinMap

COMPONENT_SIDE, SOLDER_SIDE = "component", "solder"
SIDES = (COMPONENT_SIDE, SOLDER_SIDE)
TURNS = (0, 90, 180, 270)

FACE_CAPTION = "Mating face, seen looking into the mouth of the part on the board."
SIDE_CAPTIONS = {
    COMPONENT_SIDE: "Component side: seen from the side of the board that carries the part.",
    SOLDER_SIDE: "Solder side: seen from the side of the board away from the part, so left and right are swapped "
    "against the component side. Surface-mount joints themselves lie on the component side.",
}

SHORTED, OPEN, UNPROVEN, NOTE, HARMLESS, PROVEN, NOT_ASKED = (
    "shorted", "open", "unproven", "note", "harmless", "proven", "not asked",
)  # fmt: skip
KINDS = (SHORTED, OPEN, UNPROVEN, NOTE, HARMLESS, PROVEN, NOT_ASKED)
"""States of a joint; the first that holds is shown."""

MARKS = {SHORTED: "x", OPEN: "o", UNPROVEN: "?", NOTE: "!", HARMLESS: "=", PROVEN: "v", NOT_ASKED: "-"}
SITE_MARK = "X"
SITES_SHOWN = 6

SAME_ROW_MM = 0.1
SAME_COLUMN_MM = 0.03
"""Centres closer than this are drawn in one text row or column: footprints round to about a hundredth of a mm."""


@dataclass(frozen=True)
class Mark:
    """One joint or contact as seen: its name and published signal name, role, centre and size in mm, and shape."""

    name: str
    label: str
    role: str
    x: float
    y: float
    width: float
    height: float
    shape: str


@dataclass(frozen=True)
class View:
    """A drawing before it is drawn: whose it is, from which side it is seen (in words), and its marks."""

    title: str
    caption: str
    marks: tuple[Mark, ...]

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """(left, top, right, bottom) of all marks, mm."""
        return (
            min(m.x - m.width / 2 for m in self.marks),
            min(m.y - m.height / 2 for m in self.marks),
            max(m.x + m.width / 2 for m in self.marks),
            max(m.y + m.height / 2 for m in self.marks),
        )


@dataclass(frozen=True)
class State:
    """What a result says of one joint.

    kind: one of KINDS; detail: why, in words; partners: the joints of other nets it is shorted with; sites: the joints
    to which the solder most likely runs from here.
    """

    kind: str
    detail: str = ""
    partners: tuple[str, ...] = ()
    sites: tuple[str, ...] = ()

    @property
    def mark(self) -> str:
        """One character, different for each kind; a likely bridge site has its own."""
        return SITE_MARK if self.sites else MARKS[self.kind]

    @property
    def word(self) -> str:
        """The state in words, with whom it is shorted."""
        if not self.partners:
            return self.kind
        first = [*dict.fromkeys((*self.sites, *self.partners))][:2]
        shown = " ".join(first) + (f" and {len(self.partners) - 2} more" if len(self.partners) > 2 else "")
        return f"{self.kind}{': joined' if self.kind == NOTE else ''} with {shown}"


def face_view(pin_map: PinMap) -> View:
    """The mating face, looking into the mouth. Raises InputError when the map does not give it."""
    if not pin_map.face:
        raise InputError.one(
            pin_map.id, 0, "the pin map does not say how its contacts lie at the mating face", "add 'face:' to it"
        )
    spots = tuple(Joint(p.contact, (p.contact,), p.x, p.y, 0.01, 0.01) for p in pin_map.face)
    size = round(max(0.7 * (pitch(spots) or 1.0), 0.05), 3)
    marks = tuple(
        Mark(p.contact, _label(pin_map, (p.contact,)), pin_map.net_of[p.contact].role, p.x, p.y, size, size, "rect")
        for p in pin_map.face
    )
    return View(_title(pin_map), FACE_CAPTION, marks)


def solder_view(board: Board, side: str = SOLDER_SIDE, rotate: int = 0) -> View:
    """The solder joints of the board's layout.

    side: `component` (as the layout is written) or `solder` (its mirror image); rotate: 0, 90, 180 or 270 degrees
    clockwise as seen.
    """
    if side not in SIDES:
        raise ValueError(f"side must be one of {', '.join(SIDES)}, not {side!r}")
    pin_map, layout = board.pin_map, board.layout
    marks = tuple(_joint_mark(pin_map, joint) for joint in board.joints)
    view = View(f"{_title(pin_map)}, layout {layout.id}", SIDE_CAPTIONS[side], marks)
    return rotated(mirrored(view) if side == SOLDER_SIDE else view, rotate)


def _joint_mark(pin_map: PinMap, joint: Joint) -> Mark:
    role = pin_map.net_of[joint.contacts[0]].role
    label = _label(pin_map, joint.contacts)
    return Mark(joint.name, label, role, joint.x, joint.y, joint.width, joint.height, joint.shape)


def _title(pin_map: PinMap) -> str:
    return f"{pin_map.title} ({pin_map.id}{', ' + pin_map.variant if pin_map.variant else ''})"


def _label(pin_map: PinMap, contacts: tuple[str, ...]) -> str:
    if contacts == ("SH",):
        return "shell"
    return "/".join(dict.fromkeys(pin_map.names.get(c) or pin_map.net_of[c].name for c in contacts))


def mirrored(view: View) -> View:
    """The view with left and right swapped; its caption stays. Twice gives the view itself."""
    return replace(view, marks=tuple(replace(m, x=-m.x) for m in view.marks))


def rotated(view: View, degrees: int) -> View:
    """The view turned clockwise as seen, by 0, 90, 180 or 270 degrees; the caption says so."""
    if degrees not in TURNS:
        raise ValueError(f"rotate must be one of {', '.join(map(str, TURNS))}, not {degrees!r}")
    marks = view.marks
    for _ in range(degrees // 90):
        marks = tuple(replace(m, x=-m.y, y=m.x, width=m.height, height=m.width) for m in marks)
    turned = f" Turned {degrees} degrees clockwise." if degrees else ""
    return replace(view, caption=view.caption + turned, marks=marks)


def states(board: Board, result: Result) -> dict[str, State]:
    """The state of each joint of the board's layout, by joint name, from the result of `check` on that board.

    A joint counts as proven only when nothing that the result's scope asks of it is missing; where the record leaves a
    touch out because another, still missing one will answer it, the joint is not proven yet. The shell is taken as one
    piece of metal.
    """
    found: dict[str, list[State]] = {joint.name: [] for joint in board.joints}

    def say(name: str, state: State) -> None:
        for joint in _joints_at(board, name):
            found[joint].append(state)

    for short in result.shorts:
        _say_short(board, short, found)
    for opened in result.opens:
        say(opened.joint, State(OPEN, opened.why))
    for leak in result.leaks:
        for name in leak.pair:
            say(name, State(UNPROVEN, f"{leak.pair[0]} to {leak.pair[1]}: {leak.why}"))
    for wanted in result.measure:
        for name in wanted.pair:
            say(name, State(UNPROVEN, f"{wanted.pair[0]} to {wanted.pair[1]}: {wanted.why}"))
    for conflict in result.conflicts:
        for name in dict.fromkeys(n for pair in (conflict.quiet, *conflict.beeps) for n in pair):
            say(name, State(UNPROVEN, f"contradiction: {conflict.quiet[0]} - {conflict.quiet[1]} quiet, yet joined"))
    needed, asked = _asked(board, result)
    why = "touches still missing" + (", or asked again once a short is reworked" if result.shorts else "")
    for name in sorted(needed, key=board.number.__getitem__):
        say(name, State(UNPROVEN, why))
    for join in result.harmless:
        for name in join.joints:
            for joint in _joints_at(board, name):
                if not board.net_of[board.number[joint]].must_join:
                    found[joint].append(State(HARMLESS, join.why))
    return {
        name: min(said, key=lambda s: KINDS.index(s.kind)) if said else State(PROVEN if name in asked else NOT_ASKED)
        for name, said in found.items()
    }


def states_by_contact(board: Board, by_joint: Mapping[str, State]) -> dict[str, State]:
    """The states for a face view: each contact has its joint's."""
    return {c: by_joint[j.name] for j in board.joints for c in j.contacts if c != "SH"}


def _joints_at(board: Board, point: str) -> list[str]:
    number = board.number[point]
    if number < len(board.joints):
        return [point]
    return [board.points[j] for j in board.shell_joints] if number == board.shell_point else []


def _say_short(board: Board, short: Short, found: dict[str, list[State]]) -> None:
    net_of = {name: board.net_of[board.number[name]].name for name in found}
    members = dict.fromkeys(joint for point in short.joints for joint in _joints_at(board, point))
    # a net that is short behind its joints, at its board point, shows at all of its joints
    absent = set(short.nets) - {net_of[joint] for joint in members}
    members.update(dict.fromkeys(name for name in found if net_of[name] in absent))
    runs: dict[str, dict[str, None]] = {}
    places = []
    for site in short.sites:
        pairs = (site.joints, *site.alternatives)
        for a, b in pairs:
            runs.setdefault(a, {})[b] = None
            runs.setdefault(b, {})[a] = None
        more = [f"{len(pairs) - SITES_SHOWN} more places"] if len(pairs) > SITES_SHOWN else []
        places.append(" or ".join([f"{a} - {b}" for a, b in pairs[:SITES_SHOWN]] + more))
    detail = f"{' + '.join(short.nets)}: {short.why}"
    if places:
        detail += f"; solder most likely at {SITE_MARK}: {', and '.join(places)}"
    kind = NOTE if short.harm == NOTE_GRADE else SHORTED
    partners = {net: tuple(m for m in members if net_of[m] != net) for net in {net_of[m] for m in members}}
    for joint in members:
        found[joint].append(State(kind, detail, partners[net_of[joint]], tuple(runs.get(joint, ()))))


def _asked(board: Board, result: Result) -> tuple[set[str], set[str]]:
    """Joints of which something is still missing, and joints of which the scope asks anything."""
    wanted = set(result.unproven)
    needed = obligations(board, result.scope)
    missing, doubtful = _without_join(board, result, needed)
    asked = {board.points[joint] for joint, _ in needed.joins}
    if result.landings_required:
        asked.update(board.points[joint] for joint, _ in needed.landings)
    for pair in wanted:
        missing.update(name for point in pair for name in _joints_at(board, point))
    keys = {frozenset(_conductors(board, pair)) for pair in wanted}
    # a short ends the asking between its conductors, so their joints that are not in it were never asked further
    shorted = {name for short in result.shorts for point in short.joints for name in _joints_at(board, point)}
    ended = [_conductors(board, short.joints) for short in result.shorts]
    whole_asked: set[str] = set()
    for wall in needed.isolation:
        near = {board.points[j] for pair in wall.pairs for j in pair} if wall.gap_mm is not None else set()
        asked |= near
        sides = wall.key if wall.whole else ()
        whole_asked.update(sides)
        if frozenset(wall.key) in keys or doubtful.intersection(wall.key):
            missing |= near | _joints_asked_for(board, sides)
        elif any(both.issuperset(wall.key) for both in ended):
            missing |= (near | _joints_asked_for(board, sides)) - shorted
    for key in whole_asked:
        asked.update([board.points[j] for j in board.joints_of[key[1:]]] if key[0] == "@" else [key])
    return missing, asked


def _joints_asked_for(board: Board, keys: Iterable[str]) -> set[str]:
    """The joints of these sides of an isolation, but not of a ground net: what is missing between a joint and ground
    shows at that joint.
    """
    found: set[str] = set()
    for key in keys:
        if key[0] != "@":
            found.add(key)
        elif board.net_of[board.number[key]].role != GROUND:
            found.update(board.points[j] for j in board.joints_of[key[1:]])
    return found


def _without_join(board: Board, result: Result, needed: Obligations) -> tuple[set[str], set[str]]:
    """Joints whose join to their net is not known either way, with what is joined to them; and the conductors on which
    touches may have been left out of the record until these joins are known.
    """
    wanted = set(result.unproven)
    groups: dict[str, list[set[str]]] = {}
    for points in (*(s.joints for s in result.shorts), *(h.joints for h in result.harmless)):
        group = set(points)
        for name in points:
            groups.setdefault(name, []).append(group)
    found: set[str] = set()
    hubs: set[str] = set()
    for joint, point in needed.joins:
        name, at = board.points[joint], board.points[point]
        # of joints that are joined together only one is asked for
        if (name, at) in wanted:
            found.update({name}, *groups.get(name, ()))
            hubs.update({at}, *groups.get(at, ()))
    return found & {joint.name for joint in board.joints}, _conductors(board, found | hubs)


def _conductors(board: Board, points: Iterable[str]) -> set[str]:
    """What points stand for in the obligations; the shell as a whole stands for each of its joints."""
    found: set[str] = set()
    for point in points:
        joints = _joints_at(board, point)
        found.update(conductor(board, board.number[joint]) for joint in joints)
        found.update(() if joints else (point,))
    return found


def state_lines(view: View, by_name: Mapping[str, State]) -> list[tuple[State, str]]:
    """What the states say in words, worst first: one line for each finding, with its marks in the view's order."""
    grouped: dict[tuple[str, str], list[str]] = {}
    first: dict[tuple[str, str], State] = {}
    for mark in view.marks:
        state = by_name.get(mark.name)
        if state is not None:
            grouped.setdefault((state.kind, state.detail), []).append(mark.name)
            shown = first.setdefault((state.kind, state.detail), state)
            if shown.sites and not state.sites:
                first[state.kind, state.detail] = state
    return [
        (first[key], f"{key[0]} ({len(names)}): {' '.join(names)}" + (f" ({key[1]})" if key[1] else ""))
        for key, names in sorted(grouped.items(), key=lambda entry: KINDS.index(entry[0][0]))
    ]


def by_number(marks: Iterable[Mark]) -> list[Mark]:
    """The marks by row letter and number, shell joints last, as a reader looks a pin up."""

    def key(mark: Mark) -> tuple[bool, str, int, str]:
        letters = mark.name.rstrip("0123456789")
        return mark.role == SHELL, letters, int(mark.name[len(letters) :] or 0), mark.name

    return sorted(marks, key=key)


def rows_of(marks: Sequence[Mark]) -> list[list[Mark]]:
    """The marks in rows from top to bottom, each from left to right."""
    rows: list[list[Mark]] = []
    for mark in sorted(marks, key=lambda m: m.y):
        if not rows or mark.y - rows[-1][0].y > SAME_ROW_MM:
            rows.append([])
        rows[-1].append(mark)
    return [sorted(row, key=lambda m: m.x) for row in rows]
