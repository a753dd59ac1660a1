"""What the live session asks for next. Pure.

The questions come in a fixed order, and the first that has something to ask is the step: the cautions, the leads,
contradictions, a contact that was silent once, the sweep in diode mode where it is on, ohms or a look that a part by
design makes necessary, what tells most about a new finding, the planned touches, a further pass, what still tells
findings apart, the lead check that closes the last quiets, the iron, what would tell a bad board that reads the same,
the last lead check.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from connector_check.analysis.meaning import DOUBTFUL, PART, PARTS
from connector_check.analysis.obligations import Pair
from connector_check.analysis.result import REWORK, apart_words
from connector_check.analysis.separating import EYES
from connector_check.analysis.separating import OHMS as OHMS_KIND
from connector_check.probing.planner import Touch, next_touch
from connector_check.probing.progress import Progress
from connector_check.probing.sweep import joints_left, odd_once, red_point, usual_at
from connector_check.probing.telling import found_so_far, next_to_tell
from connector_check.probing.wanted import WHERE_TO_TOUCH
from connector_check.testlog.readings import QUIET, REMARK, UNSURE, VOLTS

CAUTION, LEADS, TOUCH, OHMS_WANTED, LOOK = "caution", "lead check", "touch", "ohms wanted", "look"
ASK_AGAIN, IRON, DONE, JUNCTION = "ask again", "iron", "done", "diode mode"

LEAD_CHECK_EVERY = 30
"""Touches between two proofs of the leads: near sqrt(c / h) for a proof worth 2 touches and one lead failure in 500
touches (both assumed); a beep that joined is a proof too."""

CAUTIONS_SEEN = "cautions seen"
OHMS_FOR_A_PART = "a part by design may have sounded: measure ohms"


@dataclass(frozen=True)
class Step:
    """What the session asks for now.

    kind: one of the step names; points: the two points to touch, the first is where a lead stays put; why: in words;
    left: touches still planned, this one included; again: this pair was skipped or unsure before; doubt: the kind of
    measurement that is to tell a bad board that would read the same, where it is asked for that; tells: it is to tell
    what is wrong, as TOUCH or OHMS of `separating`, else empty.
    """

    kind: str
    points: Pair | None = None
    why: str = ""
    left: int = 0
    again: bool = False
    doubt: str = ""
    tells: str = ""


def next_step(progress: Progress) -> Step:
    """What is asked for now; may make a new plan."""
    for question in QUESTIONS:
        step = question(progress)
        if step is not None:
            return step
    return Step(DONE)


def _cautions(progress: Progress) -> Step | None:
    seen = any(entry.kind == REMARK and entry.note == CAUTIONS_SEEN for entry in progress.entries)
    return None if seen else Step(CAUTION)


def _leads(progress: Progress) -> Step | None:
    if progress.leads_are_proven() and progress.touches_since_proof() < LEAD_CHECK_EVERY:
        return None
    return Step(LEADS, why="touch the leads together: must sound; hold them apart: must be silent")


def _contradiction(progress: Progress) -> Step | None:
    for conflict in progress.standing.knowledge.conflicts():
        for suspect in (conflict.quiet, *conflict.beeps):
            if frozenset(suspect) not in progress.asked_again:
                is_quiet = suspect is conflict.quiet
                said = f"it {_apart_words(progress, suspect)}, yet beeps join it"
                said = said if is_quiet else "it beeped, yet a quiet contradicts it"
                return Step(ASK_AGAIN, suspect, f"contradiction: {said}; touch again", 1)
    return None


def _apart_words(progress: Progress, pair: Pair) -> str:
    """What the last reading that shows the two apart says, in words; one on the whole shell counts for its joints."""
    kinds = [
        r.entry.kind for r in progress.standing.readings if r.meaning == PARTS and set(r.entry.points) == set(pair)
    ]
    return apart_words(kinds[-1] if kinds else QUIET)


def _silent_contact(progress: Progress) -> Step | None:
    """A single silence (or OL) on a joint's own contact may be a missed touch: it is asked once more before it counts,
    and until as many stand as there are passes. While it is on, the sweep asks its own values again.
    """
    wanted = max(2, progress.passes)
    hold = progress.meter.hold_seconds
    held = f" and hold it for {hold:.2g} s" if hold else ""
    silent, touched = Counter[frozenset[int]](), Counter[frozenset[int]]()
    for reading in progress.standing.readings:
        key = frozenset(reading.entry.points)
        silent[key] += reading.meaning == PARTS and not (progress.diode_sweep.on and reading.entry.kind == VOLTS)
        # what was read there since; more than that is not asked, whatever it said
        touched[key] += silent[key] > 0 and reading.entry.kind != UNSURE
    for pair in (*progress.needed.joins, *progress.needed.contacts):
        key = frozenset(pair)
        if silent[key] and touched[key] < wanted and key not in progress.put_off:
            times = "once" if silent[key] == 1 else f"{silent[key]} times"
            why = f"silent {times}, as a missed touch is: touch the contact's metal again{held}"
            return Step(ASK_AGAIN, pair, why, 1)
    return None


def _sweep(progress: Progress) -> Step | None:
    """The sweep in diode mode: each contact in the order of the row, odd values once more, the leads at the end."""
    sweep, board, standing = progress.diode_sweep, progress.board, progress.standing
    red = red_point(board)
    if not sweep.on or red is None:
        return None
    if left := joints_left(board, standing, sweep):
        usual = usual_at(board, standing, left[0], progress.good_volts)
        return Step(JUNCTION, (red, left[0]), usual, len(left), left[0] in sweep.later)
    if odd := odd_once(board, standing, sweep):
        return Step(JUNCTION, (red, odd[0]), f"{odd[1]}; touch again before it counts", 1)
    if progress.read_since_check():
        return Step(LEADS, why="the sweep is done: the leads once more, together and apart")
    progress.end_sweep()
    progress.said.append("the sweep is done; what is still needed comes now")
    return None


def _ohms(progress: Progress) -> Step | None:
    standing = progress.standing
    for meaning, kind, why in (
        (DOUBTFUL, OHMS_WANTED, OHMS_FOR_A_PART),
        (PART, LOOK, "the part reads as solder does: look at the two under magnification"),
    ):
        for reading in standing.unsettled_as(meaning):
            a, b = reading.entry.points
            if frozenset((a, b)) not in progress.put_off:
                return Step(kind, (a, b), why, 1)
    return None


def _tell_at_once(progress: Progress) -> Step | None:
    """After a finding, what tells most about it; asked about the same findings once."""
    found = found_so_far(progress.standing)
    if not found or found == progress.told:
        return None
    step = _tell(progress)
    if step is None:
        progress.told = found
    return step


def _tell(progress: Progress) -> Step | None:
    """What tells explanations of the findings apart, before the iron comes."""
    if not found_so_far(progress.standing):
        return None
    asked = next_to_tell(progress)
    if asked is None:
        return None
    a, b = (progress.board.number[name] for name in asked.pair)
    points = (b, a) if b == progress.held else (a, b)
    kind = OHMS_WANTED if asked.kind == OHMS_KIND else TOUCH
    return Step(kind, points, asked.why, len(progress.open_touches()) + 1, tells=asked.kind)


def _touch(progress: Progress) -> Step | None:
    touch = _next_touch(progress)
    if touch is None:
        return None
    again = frozenset((touch.a, touch.b)) in progress.put_off
    if not progress.where_was_told and is_contact(progress, touch):
        progress.where_was_told = True
        progress.said.append(WHERE_TO_TOUCH)
    return Step(TOUCH, (touch.a, touch.b), touch.why, len(progress.open_touches()), again)


def is_contact(progress: Progress, touch: Touch) -> bool:
    """Whether a touch asks for the contact of one joint: its join, or the way to its own board point."""
    pairs = {frozenset(pair) for pair in (*progress.needed.joins, *progress.needed.contacts)}
    return frozenset((touch.a, touch.b)) in pairs


def _next_touch(progress: Progress) -> Touch | None:
    """The planned touch that comes now: at the point that was jumped to, else the first that was not put off, else the
    first at all: what was skipped or unsure comes back, once a round.
    """
    args = (progress.board, progress.known, progress.needed, progress.contacts_wanted(), progress.held)
    later = [(min(pair), max(pair)) for pair in progress.put_off]
    progress.planned, touch = next_touch(progress.planned, *args, later)
    if progress.focus is not None:
        for wanted in progress.open_touches():
            if progress.focus in (wanted.a, wanted.b) and frozenset((wanted.a, wanted.b)) not in progress.put_off:
                return wanted
        progress.focus = None
    if touch is None and progress.put_off:
        progress.planned, touch = next_touch(progress.planned, *args)
        if touch is not None and not progress.put_off_is_back:
            progress.put_off_is_back = True
            progress.said.append("what was skipped or unsure comes back now")
    return touch


def _further_pass(progress: Progress) -> Step | None:
    """Every quiet again, until each two conductors in scope have as many as there are passes."""
    if progress.passes < 2:
        return None
    knowledge = progress.known
    counts = Counter(
        frozenset(map(knowledge.find, reading.entry.points))
        for reading in progress.standing.readings
        if reading.meaning == PARTS
    )
    wanted = [
        pair
        for obligation in progress.needed.isolation
        for pair in obligation.pairs
        if knowledge.apart(*pair) and counts[frozenset(map(knowledge.find, pair))] < progress.passes
    ]
    if not wanted:
        return None
    a, b = min(wanted, key=lambda pair: (frozenset(pair) in progress.put_off, progress.held not in pair))
    points = (b, a) if b == progress.held else (a, b)
    return Step(TOUCH, points, f"pass {progress.passes}: quiet once, touch again", len(wanted))


def _last_leads(progress: Progress) -> Step | None:
    if not progress.has_open_quiets():
        return None
    return Step(LEADS, why="the last one: it closes the quiets since the lead check before")


def _iron(progress: Progress) -> Step | None:
    """The iron, once a lead check stands behind what sends it there: leads that touch sound on any two points."""
    found = progress.examined().result
    if found.verdict != REWORK and not found.leaks:
        return None
    if progress.read_since_check():
        return Step(LEADS, why="before the iron: leads that touch would have sounded on anything")
    return Step(IRON, why="see the rework list")


def _doubt(progress: Progress) -> Step | None:
    """What tells a bad board that would read the same from a sound one; each is asked once a round."""
    doubt = progress.examined().result.doubt
    if doubt is None or doubt.pair is None:
        return None
    number = progress.board.number
    a, b = number[doubt.pair[0]], number[doubt.pair[1]]
    if (frozenset((a, b)), doubt.kind) in progress.doubts_asked:
        return None
    kind = {OHMS_KIND: OHMS_WANTED, EYES: LOOK}.get(doubt.kind, TOUCH)
    return Step(kind, (a, b), doubt.told, 1, doubt=doubt.kind)


def _leads_at_end(progress: Progress) -> Step | None:
    if not progress.read_since_check():
        return None
    return Step(LEADS, why="the last one: it stands behind every tone since the lead check before")


QUESTIONS: tuple[Callable[[Progress], Step | None], ...] = (
    _cautions,
    _leads,
    _contradiction,
    _silent_contact,
    _sweep,
    _ohms,
    _tell_at_once,
    _touch,
    _further_pass,
    _tell,
    _last_leads,
    _iron,
    _doubt,
    _leads_at_end,
)
