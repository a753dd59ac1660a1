"""The result and the rework list as text for a terminal; every state has a word and a shape, never colour alone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from connector_check.analysis.explanations import BOUND
from connector_check.analysis.result import (
    CLEAR,
    REWORK,
    UNPROVEN,
    BridgeSite,
    Count,
    Doubt,
    PointPair,
    Result,
    ReworkStep,
)
from connector_check.board.harm import DAMAGE, DEAD_SIGNAL, NOTE, SUPPLY_SHORT

SHOWN = 12
BAD, GOOD, OPEN_END = "[x]", "[ok]", "[?]"
VERDICT_MARK = {CLEAR: GOOD, REWORK: BAD, UNPROVEN: OPEN_END}
VERDICT_WORDS = {
    CLEAR: "clear: everything in scope was proven, nothing harmful found",
    REWORK: "rework: see the list",
    UNPROVEN: "unproven: nothing harmful found, but not everything was proven",
}
HARM_WORDS = {
    DAMAGE: "DAMAGE when powered",
    SUPPLY_SHORT: "SUPPLY SHORT",
    DEAD_SIGNAL: "DEAD SIGNAL",
    NOTE: "note",
    "open": "OPEN",
    "likely short": "LIKELY SHORT",
    "resistive joint": "RESISTIVE JOINT",
    "leak": "LEAK",
}
DOUBT_WORDS = {
    "touch": "touch {} and {}",
    "ohms": "measure ohms {} - {}",
    "eyes": "look at {} and {} under magnification",
}

CAUTIONS = (
    "Before the iron: board unplugged, batteries and coin cell out, capacitors discharged and measured.",
    "At the iron: fume extraction, eye protection, wash hands after leaded solder, solvent away from heat, ESD strap;",
    "hot air and cells do not mix. Mains and high voltage only by a competent person. Local codes come first.",
)

PROVES = (
    "A verdict speaks of solder between joints and of joints to their nets, within the scope and assumptions above.",
    "It does not say that the board works, or what happens under power.",
)


Line = tuple[str, str]
"""A line of the result with its tone: `good`, `bad` or ``."""


def verdict_words(result: Result) -> str:
    """The verdict in words; never more than was asked for and proven."""
    if result.shorts_alone:
        return f"{result.word}; contact of {result.untested} joints not tested"
    return VERDICT_WORDS[result.verdict]


def parts_words(result: Result) -> str:
    """The two parts of the verdict."""
    left_out = result.shorts_only and result.untested and result.parts.contact == CLEAR
    contact = f"{result.untested} joints not tested" if left_out else result.parts.contact
    return f"shorts: {result.parts.shorts}; contact: {contact}"


def search_words(result: Result) -> str:
    """Within which faults `clear` withstood the search for a bad board; nothing beside any other verdict."""
    if result.verdict != CLEAR or result.doubt is not None:
        return ""
    return f"no bad board within {BOUND} would read the same"


def doubt_words(doubt: Doubt) -> str:
    """A bad board that would read the same, and what tells it from a sound one; nothing where none was found."""
    if not doubt.told:
        return ""
    wanted = DOUBT_WORDS[doubt.kind].format(*doubt.pair) if doubt.pair else "no measurement tells it apart"
    return f"{doubt.told}: {wanted}"


def _pair(pair: PointPair) -> str:
    return f"{pair[0]} - {pair[1]}"


def _some(items: Iterable[str], most: int = SHOWN) -> str:
    listed = list(items)
    return ", ".join(listed[:most]) + (f" and {len(listed) - most} more" if len(listed) > most else "")


def _again(step: ReworkStep) -> Iterator[str]:
    return (f"{_pair(pair)} {told}" for pair, told in zip(step.probe_again, step.expected, strict=True))


def _site(site: BridgeSite) -> str:
    text = f"most likely between {site.joints[0]} and {site.joints[1]} (gap {site.gap_mm:.2f} mm)"
    for word, places in (("equally likely", site.alternatives), ("less likely", site.less_likely)):
        if places:
            text += f"; {word}: " + _some(map(_pair, places))
    return text


def _count(name: str, count: Count) -> str:
    assumed = f" ({count.assumed} joined to their fellows only)" if count.assumed else ""
    return f"{name} {count.proven} of {count.needed}{assumed}"


def result_lines(result: Result) -> Iterator[Line]:
    """The whole result: heading, verdict, findings worst first, what to do, what is missing, and what was proven."""
    variant = f", {result.variant}" if result.variant else ""
    yield f"{result.title} ({result.map}{variant}, layout {result.layout}, scope {result.scope})", ""
    tone = {CLEAR: "good", REWORK: "bad"}.get(result.verdict, "")
    yield f"{VERDICT_MARK[result.verdict]} {verdict_words(result)}", tone
    yield f"    {parts_words(result)}", ""
    if search_words(result):
        yield f"    {search_words(result)}", ""
    for section in _SECTIONS:
        yield from section(result)
    yield "", ""
    yield from _ledger_lines(result)
    for line in (*(f"assumed: {assumption}" for assumption in result.assumptions), *PROVES):
        yield line, ""


def _short_lines(result: Result) -> Iterator[Line]:
    for short in result.shorts:
        yield "", ""
        mark = OPEN_END if short.harm == NOTE else BAD
        yield f"{mark} {HARM_WORDS[short.harm]}: {' + '.join(short.nets)}", "bad" if mark == BAD else ""
        yield f"    {short.why}", ""
        yield f"    joined: {_some(short.joints, 20)} ({short.known}, lines {_some(map(str, short.readings))})", ""
        for site in short.sites:
            yield f"    {_site(site)}", ""


def _open_lines(result: Result) -> Iterator[Line]:
    for found in result.opens:
        yield "", ""
        yield f"{BAD} OPEN: {found.joint} ({found.net})", "bad"
        yield f"    {found.why} ({found.known}, lines {_some(map(str, found.readings))})", ""


def _conflict_lines(result: Result) -> Iterator[Line]:
    for conflict in result.conflicts:
        yield "", ""
        yield f"{OPEN_END} contradiction: {_pair(conflict.quiet)} {conflict.apart_words}, yet beeps join them:", ""
        yield f"    {_some(_pair(p) for p in conflict.beeps)} (lines {_some(map(str, conflict.readings))})", ""
        yield "    ask the quiet again first; a missed touch, a stray touch or a resistive joint explains it.", ""
        a, b = conflict.quiet
        yield f"    then write '{a},{b},taken back {conflict.kind}' (or take back the beep)", ""


def _meter_lines(result: Result) -> Iterator[Line]:
    for wanted in result.measure:
        yield "", ""
        yield f"{OPEN_END} ohms wanted: {_pair(wanted.pair)} ({' + '.join(wanted.nets)})", ""
        yield f"    {wanted.why}", ""
    for leak in result.leaks:
        yield "", ""
        yield f"{OPEN_END} {_pair(leak.pair)} ({' + '.join(leak.nets)}): {leak.why}", ""


def _difference_lines(result: Result) -> Iterator[Line]:
    for found in result.differences:
        yield "", ""
        yield f"{OPEN_END} differs from the good board: {' - '.join(found.points)} ({' + '.join(found.nets)})", ""
        yield f"    {found.why} (lines {_some(map(str, found.readings))})", ""


def _diode_lines(result: Result) -> Iterator[Line]:
    if not result.strip and not result.diode:
        return
    from connector_check.analysis.diode import LIMITS, TOLD_ELSEWHERE
    from connector_check.analysis.fellows import USUAL_VOLTS
    from connector_check.drawing.strip import strip_lines

    low, high = USUAL_VOLTS
    yield "", ""
    yield f"[d] diode mode, red lead on ground; usual for a line {low:g} to {high:g} V:", ""
    yield from ((f"    {line}", "") for line in strip_lines(result.strip))
    for said in (found for found in result.diode if found.kind not in TOLD_ELSEWHERE):
        volts = "OL" if said.volts is None else f"{said.volts:g} V"
        yield f"    {said.kind}: {said.joint} ({said.net}) {volts}: {said.why}", ""
    for limit in LIMITS:
        yield f"    {limit}", ""


def _harmless_lines(result: Result) -> Iterator[Line]:
    if result.harmless:
        yield "", ""
        yield "[=] harmless, not to be reworked:", ""
    for join in result.harmless:
        yield f"    {_some(join.joints, 20)}: {join.why}", ""


def _work_lines(result: Result) -> Iterator[Line]:
    """What is to be reworked, and what still to be touched."""
    if result.rework:
        yield "", ""
        yield from ((line, "") for line in rework_lines(result.rework))
    if result.doubt:
        yield "", ""
        yield from _doubt_lines(result.doubt)
    if result.unproven:
        yield "", ""
        yield f"{OPEN_END} still to be touched ({len(result.unproven)}): {_some(map(_pair, result.unproven))}", ""


def _doubt_lines(doubt: Doubt) -> Iterator[Line]:
    """A bad board that would read the same, and what was not searched."""
    if doubt_words(doubt):
        yield f"{OPEN_END} {doubt_words(doubt)}", ""
    for left in doubt.left_out:
        yield f"{OPEN_END} {left}", ""


_SECTIONS = (
    _short_lines,
    _open_lines,
    _conflict_lines,
    _meter_lines,
    _difference_lines,
    _diode_lines,
    _harmless_lines,
    _work_lines,
)


def _ledger_lines(result: Result) -> Iterator[Line]:
    ledger, record = result.ledger, result.record
    contact = _count("contact of other joints", ledger.contacts) + (" (left out)" if result.shorts_only else "")
    looked = f", {ledger.by_eye} pairs by eye" if ledger.by_eye else ""
    yield f"proven: {_count('joins', ledger.joins)}, {contact}, {_count('isolation', ledger.isolation)}{looked}", ""
    yield f"not in scope: {ledger.not_in_scope} pairs that must be apart were not asked for", ""
    readings = f"{record.standing} readings stand, {record.stale} went stale, {record.taken_back} taken back"
    leads = f"lead checks {record.lead_checks_good} good {record.lead_checks_bad} bad"
    yield f"record: round {record.rounds}, {readings}, {record.unsure} unsure, {leads}", ""


def rework_lines(steps: Iterable[ReworkStep], cautions: bool = True) -> Iterator[str]:
    """The rework list with its cautions."""
    steps = list(steps)
    if not steps:
        yield "nothing to rework"
        return
    yield "REWORK LIST"
    for step in steps:
        joints = " + ".join(step.joints) or "no joint"
        yield f"{step.step:3}. [ ] {joints} ({' + '.join(step.nets)}, {HARM_WORDS[step.harm]})"
        yield f"         {step.do}"
        if step.probe_again:
            yield f"         probe again ({len(step.probe_again)}): {_some(_again(step), 8)}"
    if cautions:
        yield from CAUTIONS
