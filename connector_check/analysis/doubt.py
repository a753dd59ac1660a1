"""Whether a bad board would read the same: the refuter asked about a job, before `clear` is said. Pure."""

from __future__ import annotations

from dataclasses import replace
from math import inf

from connector_check.analysis.contact import Contacts
from connector_check.analysis.explanations import BOUND
from connector_check.analysis.meaning import DOUBTFUL, NOTHING, PART, is_near_zero
from connector_check.analysis.obligations import Obligations
from connector_check.analysis.odds import remark_odds
from connector_check.analysis.refuter import refutation
from connector_check.analysis.refuter_index import Index
from connector_check.analysis.refuter_model import BoardModel, Fault, Odds, beep_range, ohms_range, quiet_range
from connector_check.analysis.refuting import StandingOhms, model_of
from connector_check.analysis.replay import Reading, Standing
from connector_check.analysis.residual import DEFAULTS, pair_prior
from connector_check.analysis.result import Doubt, PointPair
from connector_check.analysis.separating import EYES, separating_touch
from connector_check.board.ohms import BRIDGE_OHMS, FAR_FROM_ZERO_OHMS, LEAK_OHMS, NEAR_ZERO_OHMS
from connector_check.pinout.pinmap import RESERVED
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import BEEP, OHMS, SEEN_CLEAR, SILENT, VOLTS

MOST_JOINTS = 500
"""On a larger part the search is left out, and the answer says so."""
OPEN_ODDS = 0.01
"""Assumed odds of an open joint before any touch, to order boards with equally many faults."""


def find_doubt(standing: Standing, needed: Obligations, shorts_only: bool) -> Doubt | None:
    """A bad board that fits all standing readings, or what was not searched; None when `clear` is earned.

    needed: of the scope; shorts_only: the contact of single signals is not vouched for.
    """
    board = standing.board
    if len(board.joints) > MOST_JOINTS:
        left = f"not searched for a bad board that would read the same: more than {MOST_JOINTS} joints"
        return Doubt("", None, "", BOUND, (left,))
    index = index_of(standing, needed, shorts_only)
    found = refutation(index, fault_odds(standing))
    if found.earned:
        return None
    boards = [*(counter.board for counter in found.counterexamples), *found.undecided]
    if not boards:
        return _more_faults(standing, found.left_out)
    touch = separating_touch(index, boards[0])
    told = f"a board with {boards[0].told()} would read the same"
    if touch is None:
        return Doubt(told, None, "", BOUND, found.left_out)
    pair = _to_look_at(standing, (touch.a, touch.b)) if touch.kind == EYES else (touch.a, touch.b)
    return Doubt(told, pair, touch.kind, BOUND, found.left_out)


def _more_faults(standing: Standing, left_out: tuple[str, ...]) -> Doubt:
    """No sound board and none within the bound reads so: where ohms may be solder's, the eye has to tell."""
    board, groups = standing.board, standing.closed.presumed
    gaps = [(board.number[a], board.number[b]) for a, b in _not_looked_at(standing)]
    for reading in standing.readings:
        x, y = reading.entry.points
        ends = {groups.find(x), groups.find(y)}
        if reading.meaning == PART and len(ends) == 2:
            for a, b in gaps:
                if {groups.find(a), groups.find(b)} == ends:
                    odd = " - ".join(board.pair((x, y)))
                    told = f"more faults than were searched for: {odd} reads as solder does, look at the two joints"
                    return Doubt(told, board.pair((a, b)), EYES, BOUND, left_out)
    left_out = left_out or ("no board with up to two faults would read so: touch again what looks odd",)
    return Doubt("", None, "", BOUND, left_out)


def _not_looked_at(standing: Standing) -> list[PointPair]:
    """The gaps that solder can bridge and that were not seen clear, by the names of their joints."""
    board = standing.board
    seen = {frozenset(board.names(entry.points)) for entry in standing.entries if entry.kind == SEEN_CLEAR}
    return [(a, b) for a, b, _ in board.gaps(standing.scope) if frozenset((a, b)) not in seen]


def _to_look_at(standing: Standing, pair: PointPair) -> PointPair:
    """Where to look for solder between two joints, each of which may stand for reserved joints that are one with it."""
    into, names = _reserved_as_one(standing), standing.board.points
    places = _not_looked_at(standing)
    ends = [{pair_end, *(name for name in names if into.get(name) == pair_end)} for pair_end in pair]
    here = [(a, b) for a, b in places if (a in ends[0] and b in ends[1]) or (a in ends[1] and b in ends[0])]
    return here[0] if here else pair


def index_of(standing: Standing, needed: Obligations, shorts_only: bool, reserved_as_one: bool = True) -> Index:
    """The board and all its standing readings as the refuter takes them.

    reserved_as_one: reserved joints are taken as one with what they are joined to, which hides where that solder sits.
    """
    board = standing.board
    contacts = Contacts(standing, standing.knowledge)
    required = [joint for joint, _ in needed.joins]
    if not shorts_only:
        required += [joint for joint, _ in needed.contacts if not contacts.by_junction(joint)]
    readings = [ohms for reading in standing.readings if (ohms := true_ohms(reading, standing.meter))]
    model = model_of(board, readings, standing.scope, standing.meter, frozenset(required))
    return Index(_without_harmless_faults(model, standing, reserved_as_one))


def _without_harmless_faults(model: BoardModel, standing: Standing, reserved_as_one: bool) -> BoardModel:
    """The model with what was found and harms nothing taken as given, so that the search need not guess it.

    A reserved joint that is joined to another is one with it; of a shell that floats, its board point tells nothing.
    """
    board, knowledge = standing.board, standing.knowledge
    into = _reserved_as_one(standing) if reserved_as_one else {}
    left_out: set[str] = set()
    if board.shell_point is not None:
        behind = board.board_point[board.net_of[board.shell_point].name]
        if knowledge.apart(board.shell_point, behind):
            left_out.add(board.points[behind])
    # the eye tells of two joints, not of those that are one with them
    one_with = {*into, *into.values()}
    seen = {frozenset((r.a, r.b)) for r in model.readings if r.by_eye}
    told = [r for r in model.readings if not (r.by_eye and {r.a, r.b} & one_with)]
    renamed = [r._replace(a=into.get(r.a, r.a), b=into.get(r.b, r.b)) for r in told]
    open_to_solder = [pair for pair in model.bridge_scope if frozenset(pair) not in seen]
    scope = dict.fromkeys((into.get(a, a), into.get(b, b)) for a, b in open_to_solder)
    return replace(
        model,
        joints=tuple(joint for joint in model.joints if joint.name not in into),
        readings=tuple(r for r in renamed if r.a != r.b and not {r.a, r.b} & left_out),
        bridge_scope=tuple((a, b) for a, b in scope if a != b and (a < b or (b, a) not in scope)),
    )


def _reserved_as_one(standing: Standing) -> dict[str, str]:
    """The reserved joints that are joined to another joint, each with the one that stands for it."""
    board = standing.board
    into: dict[str, str] = {}
    for group in standing.knowledge.classes():
        joints = sorted((p for p in group if p < len(board.joints)), key=lambda p: board.net_of[p].role == RESERVED)
        for joint in joints[1:]:
            if board.net_of[joint].role == RESERVED:
                into[board.points[joint]] = board.points[joints[0]]
    return into


def true_ohms(reading: Reading, meter: Meter) -> StandingOhms | None:
    """The ohms between two points that a standing reading allows; None when it says nothing of ohms."""
    a, b = reading.entry.points
    kind = reading.entry.kind
    if kind == OHMS and reading.meaning == NOTHING:
        return None
    if kind == SEEN_CLEAR:
        return a, b, 0.0, inf, True
    if kind in SILENT:
        return (a, b, *quiet_range(meter.sounds_below), False)
    if kind == BEEP and reading.meaning == DOUBTFUL and meter.beeps_on_junction:
        # a junction may have sounded, and a junction is no ohms
        return None
    if kind == BEEP:
        return (a, b, *beep_range(meter.silent_above), False)
    if kind == VOLTS:
        least, most = (0.0, NEAR_ZERO_OHMS) if is_near_zero(reading.entry) else (FAR_FROM_ZERO_OHMS, inf)
        return a, b, least, most, False
    if kind != OHMS or reading.ohms is None:
        return None
    if reading.ohms == inf:
        return a, b, LEAK_OHMS, inf, False
    least, most = ohms_range(reading.ohms)
    return a, b, 0.0 if reading.ohms < BRIDGE_OHMS else least, most, False


def fault_odds(standing: Standing) -> Odds:
    """How likely a fault is against its absence, for a bridge by its gap and what was remarked there: assumptions, to
    order what fits.
    """
    board = standing.board
    gaps = {frozenset((a, b)): mm for a, b, mm in board.gaps(standing.scope)}
    least = min(gaps.values(), default=0.0)

    def odds(fault: Fault) -> float:
        if len(fault) == 1:
            return OPEN_ODDS
        a, b = (board.number[name] for name in fault)
        chance = pair_prior(gaps.get(frozenset(fault), least), least, DEFAULTS, remark_odds(standing.remarks, a, b))
        return chance / (1 - chance)

    return odds
