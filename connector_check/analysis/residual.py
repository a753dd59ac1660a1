"""Residual risk: how likely a bridge is still there, or a joint without contact, after what stands. Pure; in mm.

A pair of joints has a prior for a bridge that falls with the gap; each quiet between the two lowers it. Priors and
rates are assumptions, none is measured: no published figures were found. Formulas and worked values: the project's
own derivation by Bayes' rule, its product over pairs checked against enumeration (tests/test_residual.py).

A joint has a prior for making no contact; each tone or ohms reading at it lowers that, since over an open joint such a
reading comes only from a stray touch or a false beep. What the contact of a joint rests on otherwise (a chain through
its fellows, a junction in diode mode) counts as one reading. A joint whose contact was not tested keeps its prior.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from math import exp, inf, log, log1p

from connector_check.analysis.contact import Contacts
from connector_check.analysis.meaning import DOUBTFUL, JOINS, PARTS
from connector_check.analysis.obligations import Obligations, conductor, obligations
from connector_check.analysis.odds import DECAY_MM, FACTORS, Factors, remark_odds
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import CLEAR, REWORK, UNPROVEN, Result
from connector_check.board.board import Board
from connector_check.errors import InputError
from connector_check.pinout.geometry import pad_gaps

NEGLIGIBLE = 1e-12
"""Pairs with a smaller prior are left out: all of them together weigh less than n^2/2 of it for n joints."""

_LIMITS = {
    "prior_at_least_gap": (0.0, 0.5, "a probability under 0.5"),
    "decay_mm": (0.001, 10.0, "a length from 0.001 to 10 mm"),
    "miss": (0.0, 1.0, "a probability"),
    "persistent_miss": (0.0, 1.0, "a probability"),
    "false_beep": (0.0, 0.99, "a probability under 0.99"),
    "mask_factor": (0.001, 1e6, "an odds factor, 1 for no effect"),
    "rework_factor": (0.001, 1e6, "an odds factor, 1 for no effect"),
    "prior_open": (0.0, 0.5, "a probability under 0.5"),
}


@dataclass(frozen=True)
class Assumptions:
    """What the residual risk assumes; every default is an assumption, not a measurement.

    prior_at_least_gap: probability of a bridge, before any touch, between two joints at the layout's smallest gap;
    decay_mm: the prior falls by e for each of these mm that a gap is wider; miss: probability that one touch over a
    bridge is silent (tip not on the pin, flux), each touch by itself; persistent_miss: probability that a bridge is
    silent at every touch (its resistance lies over the meter's threshold); false_beep: probability that a touch beeps
    without a bridge; mask_factor, rework_factor: what the odds are multiplied with where solder mask is lost between
    the joints, and at a joint that was reworked; prior_open: probability, before any touch, that a joint makes no
    contact. Raises InputError for values out of range.
    """

    prior_at_least_gap: float = 0.01
    decay_mm: float = DECAY_MM
    miss: float = 0.01
    persistent_miss: float = 0.005
    false_beep: float = 0.002
    mask_factor: float = FACTORS.mask_lost
    rework_factor: float = FACTORS.reworked
    prior_open: float = 0.01

    def __post_init__(self) -> None:
        for name, value in asdict(self).items():
            low, high, expected = _LIMITS[name]
            if not low <= value <= high:
                raise InputError.one("assumptions", 0, f"{name} is {value:g}", f"expected {expected}")

    def lines(self) -> tuple[str, ...]:
        """The assumptions in words, one line each, for the end of a session."""
        prior = (
            f"assumed: a bridge at the smallest gap has a chance of {self.prior_at_least_gap:g} before any touch; "
            f"it falls by e for each {self.decay_mm:g} mm of gap (prior_at_least_gap, decay_mm)"
        )
        misses = (
            f"assumed: {self.miss:g} of the touches over a bridge are silent by chance (miss), "
            f"{self.persistent_miss:g} of the bridges are silent always (persistent_miss), "
            f"{self.false_beep:g} of the touches beep over none (false_beep)"
        )
        remarks = (
            f"assumed: lost mask multiplies the odds by {self.mask_factor:g} (mask_factor), "
            f"rework by {self.rework_factor:g} (rework_factor)"
        )
        opens = (
            f"assumed: a joint makes no contact with a chance of {self.prior_open:g} before any touch (prior_open); "
            f"{self.false_beep:g} of the touches over an open joint read as contact, stray or false (false_beep)"
        )
        return prior, misses, remarks, opens


DEFAULTS = Assumptions()


def assumptions_from(text: str) -> Assumptions:
    """The defaults with `name=value,...` over them. Raises InputError naming what was not understood.

    >>> assumptions_from("miss=0.05").miss
    0.05
    """
    values: dict[str, float] = {}
    for part in filter(None, (p.strip() for p in text.split(","))):
        name, _, value = part.partition("=")
        try:
            values[name.strip()] = float(value)
        except ValueError:
            raise InputError.one("assumptions", 0, f"'{part}'", "expected NAME=NUMBER") from None
        if name.strip() not in _LIMITS:
            raise InputError.one("assumptions", 0, f"unknown '{name.strip()}'", f"there are {', '.join(_LIMITS)}")
    return replace(DEFAULTS, **values)


@dataclass(frozen=True)
class Residual:
    """risk: probability of at least one undetected bridge, in scope and beyond together; in_scope, beyond_scope: of
    each part; pairs_in_scope, unprobed_in_scope, pairs_beyond: how many joint pairs that were weighed; no_contact:
    probability of at least one joint without contact; joints, untested: how many joints that were weighed, and those of
    them whose contact is not shown.
    """

    risk: float
    in_scope: float
    beyond_scope: float
    pairs_in_scope: int
    unprobed_in_scope: int
    pairs_beyond: int
    no_contact: float
    joints: int
    untested: int
    assumptions: Assumptions


def pair_prior(gap_mm: float, least_gap_mm: float, assumptions: Assumptions = DEFAULTS, odds: float = 1.0) -> float:
    """Probability of a bridge before any touch, p0 * e^(-(gap - least gap) / decay).

    gap_mm, least_gap_mm: edge to edge, of this pair and the smallest of the layout; odds: what remarks multiply.

    >>> round(pair_prior(0.7, 0.2), 7)
    0.0003567
    """
    p = assumptions.prior_at_least_gap * exp(-max(gap_mm - least_gap_mm, 0.0) / assumptions.decay_mm)
    return p * odds / (p * odds + 1.0 - p)


def posterior(p: float, quiets: int, assumptions: Assumptions = DEFAULTS) -> float:
    """Probability of a bridge after `quiets` silent touches: p L / (p L + (1 - p)(1 - f)^r), with
    L = m_h + (1 - m_h) m^r; m the chance miss, m_h the persistent one, f the false beep.

    >>> round(posterior(0.01, 1, Assumptions(persistent_miss=0, false_beep=0)), 7)
    0.000101
    """
    a = assumptions
    silent = a.persistent_miss + (1.0 - a.persistent_miss) * a.miss**quiets
    return _bayes(p, silent, (1.0 - a.false_beep) ** quiets)


def posterior_with_beeps(p: float, beeps: int, quiets: int, assumptions: Assumptions = DEFAULTS) -> float:
    """Probability of a bridge after beeps and quiets on the same pair, each touch by itself:
    p (1 - m)^b m^q / (that + (1 - p) f^b (1 - f)^q). A persistent miss never beeps, so with a beep it is ruled out.
    """
    if not beeps:
        return posterior(p, quiets, assumptions)
    a = assumptions
    bridged = (1.0 - a.persistent_miss) * (1.0 - a.miss) ** beeps * a.miss**quiets
    return _bayes(p, bridged, a.false_beep**beeps * (1.0 - a.false_beep) ** quiets)


def open_posterior(p: float, proofs: int, assumptions: Assumptions = DEFAULTS) -> float:
    """Probability that a joint makes no contact after `proofs` readings that show its contact, each touch by itself:
    p f^b / (p f^b + (1 - p)(1 - m)^b); p the prior, f the false beep, m the chance miss.

    >>> round(open_posterior(0.01, 1), 8), open_posterior(0.01, 0)
    (2.041e-05, 0.01)
    """
    a = assumptions
    return _bayes(p, a.false_beep**proofs, (1.0 - a.miss) ** proofs)


def _bayes(p: float, if_bridged: float, if_not: float) -> float:
    total = p * if_bridged + (1.0 - p) * if_not
    return p * if_bridged / total if total else p


def board_risk(posteriors: Iterable[float]) -> float:
    """Probability of at least one bridge among pairs taken as independent: 1 - product of (1 - posterior).

    >>> round(board_risk([0.01, 0.01]), 6)
    0.0199
    """
    kept = 0.0
    for p in posteriors:
        if p >= 1.0:
            return 1.0
        kept += log1p(-p)
    return 1.0 - exp(kept)


def residual(
    board: Board, standing: Standing, scope: str, assumptions: Assumptions = DEFAULTS, vouched: bool = False
) -> Residual:
    """The residual risk of a board as its standing readings leave it.

    Every two joints that must be apart count, with the number of standing quiets between their joined groups: a quiet
    of one member is a quiet of all. Pairs that beeps join are findings, not risk, and are left out; so are joints shown
    open. vouched: no bad board would read the same, so what parts may have carried shows contact too.
    """
    needed = obligations(board, scope)
    whole = {wall.key for wall in needed.isolation if wall.whole}
    listed = {(board.number[a], board.number[b]) for a, b, _ in board.gaps(scope)}
    gaps = board.near_gaps
    least = min((mm for _, _, mm in gaps), default=inf)
    quiets = _quiets(standing)
    find = standing.knowledge.find
    factors = Factors(assumptions.mask_factor, assumptions.rework_factor, 1.0, assumptions.rework_factor)
    inside: list[float] = []
    beyond: list[float] = []
    unprobed = 0
    for a_name, b_name, mm in pad_gaps(board.joints, _horizon(least, assumptions)) if gaps else ():
        a, b = board.number[a_name], board.number[b_name]
        if not board.must_be_apart(board.net_of[a], board.net_of[b]) or find(a) == find(b):
            continue
        prior = pair_prior(mm, least, assumptions, remark_odds(standing.remarks, a, b, factors))
        count = quiets[_roots(find(a), find(b))]
        risk = posterior(prior, count, assumptions)
        names = sorted((conductor(board, a), conductor(board, b)))
        if (a, b) in listed or (names[0], names[1]) in whole:
            inside.append(risk)
            unprobed += not count
        else:
            beyond.append(risk)
    opens, untested = _opens(standing, needed, assumptions, vouched)
    return Residual(
        risk=board_risk([*inside, *beyond]),
        in_scope=board_risk(inside),
        beyond_scope=board_risk(beyond),
        pairs_in_scope=len(inside),
        unprobed_in_scope=unprobed,
        pairs_beyond=len(beyond),
        no_contact=board_risk(opens),
        joints=len(opens),
        untested=untested,
        assumptions=assumptions,
    )


def residual_risk(result: Result, standing: Standing, assumptions: Assumptions = DEFAULTS) -> Residual | None:
    """The residual risk beside that result; None beside findings, which come first."""
    if result.verdict == REWORK or (result.verdict == UNPROVEN and result.has_findings):
        return None
    return residual(standing.board, standing, result.scope, assumptions, result.verdict == CLEAR)


def _opens(standing: Standing, needed: Obligations, assumptions: Assumptions, vouched: bool) -> tuple[list[float], int]:
    """For each joint that must make contact the probability that it does not, and how many are not shown to."""
    knowledge = standing.closed.presumed if vouched else standing.knowledge
    contacts = Contacts(standing, knowledge)
    sounded = Counter(p for r in standing.readings if r.meaning in (JOINS, DOUBTFUL) for p in r.entry.points)
    found, untested = [], 0
    for joint, point in (*needed.joins, *needed.contacts):
        shown = contacts.proven(joint)
        if not shown and knowledge.apart(joint, point):
            continue
        untested += not shown
        found.append(open_posterior(assumptions.prior_open, max(sounded[joint], 1) if shown else 0, assumptions))
    return found, untested


def _horizon(least: float, assumptions: Assumptions) -> float:
    """The gap in mm past which the prior is negligible."""
    if assumptions.prior_at_least_gap <= NEGLIGIBLE:
        return least
    return least + assumptions.decay_mm * log(assumptions.prior_at_least_gap / NEGLIGIBLE)


def _roots(a: int, b: int) -> tuple[int, int]:
    return (a, b) if a <= b else (b, a)


def _quiets(standing: Standing) -> Counter[tuple[int, int]]:
    """How many standing readings part each two joined groups; one on the whole shell speaks for each of its joints."""
    board, find = standing.board, standing.knowledge.find
    found: Counter[tuple[int, int]] = Counter()
    for reading in standing.readings:
        if reading.meaning != PARTS:
            continue
        ends = [
            {find(p), *map(find, board.shell_joints)} if p == board.shell_point else {find(p)}
            for p in reading.entry.points
        ]
        found.update({_roots(a, b) for a in ends[0] for b in ends[1] if a != b})
    return found
