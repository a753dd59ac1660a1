"""The ledger, the touches still wanted, and the verdict in its two parts. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import NamedTuple

from connector_check.analysis.contact import Contacts
from connector_check.analysis.knowledge import UNKNOWN, Knowledge
from connector_check.analysis.meaning import RESISTIVE
from connector_check.analysis.obligations import Obligations, Pair, apart_once_joined, missing
from connector_check.analysis.replay import Standing
from connector_check.analysis.result import CLEAR, REWORK, UNPROVEN, Count, Ledger, Open, Parts
from connector_check.board.harm import HARMFUL, NOTE
from connector_check.testlog.readings import SEEN_CLEAR


class Account(NamedTuple):
    """What was to be proven, what was, and what is still to be touched.

    joins, isolation, contacts: pairs still wanted, as point numbers; presumed: pairs not wanted now, yet shown only by
    what a part may have carried, or by silence that waits for a proof of the leads; untested: joints without proven
    signal contact; borrowed: those of them that show a junction, which may be a neighbour's until the two are shown
    apart.
    """

    ledger: Ledger
    joins: list[Pair]
    isolation: list[Pair]
    contacts: list[Pair]
    presumed: list[Pair]
    untested: int
    borrowed: int

    @property
    def todo(self) -> list[Pair]:
        """All pairs still wanted: joins, isolation nearest first, contacts."""
        return [*self.joins, *self.isolation, *self.contacts]


def account(standing: Standing, needed: Obligations, shorts_only: bool, vouched: bool = False) -> Account:
    """Count what stands against what is needed.

    vouched: no bad board would read the same, so what parts may have carried counts as proven too.
    """
    board, presumed = standing.board, standing.closed.presumed
    known = presumed if vouched else standing.knowledge
    joins = [pair for pair in needed.joins if not known.joined(*pair)]
    fellows = sum(any(known.joined(a, o) for o in board.joints_of[board.net_of[a].name] if o != a) for a, _ in joins)
    join_todo = _one_a_group(presumed, joins)
    only_presumed = [pair for pair in joins if presumed.joined(*pair)]
    soon = apart_once_joined(presumed, needed) if join_todo else presumed.apart
    proven, noted, isolation_todo = 0, 0, []
    for obligation in needed.isolation:
        pair = missing(board, known, obligation)
        if pair is None:
            proven += 1
        elif known.joined(*pair):
            noted += board.grade(board.net_of[pair[0]], board.net_of[pair[1]]).harm == NOTE
        elif (later := missing(board, presumed, obligation, soon)) is None:
            only_presumed.append(pair)
        elif not presumed.joined(*later):
            isolation_todo.append(later)
    contacts, likely = Contacts(standing, known), Contacts(standing, presumed)
    untested = [pair for pair in needed.contacts if not contacts.proven(pair[0])]
    open_contacts = [p for p in untested if presumed.status(*p) == UNKNOWN and not likely.likely(p[0])]
    contact_todo = [] if shorts_only else open_contacts
    only_presumed += [] if shorts_only else [pair for pair in untested if likely.likely(pair[0])]
    borrowed = 0 if shorts_only else sum(contacts.likely(joint) for joint, _ in untested)
    ledger = Ledger(
        joins=Count(len(needed.joins), len(needed.joins) - len(joins), fellows),
        isolation=Count(len(needed.isolation) - noted, proven),
        contacts=Count(len(needed.contacts), len(needed.contacts) - len(untested)),
        by_eye=sum(entry.kind == SEEN_CLEAR for entry in standing.entries),
        not_in_scope=needed.not_in_scope,
    )
    return Account(ledger, join_todo, isolation_todo, contact_todo, only_presumed, len(untested), borrowed)


def _one_a_group(knowledge: Knowledge, joins: Iterable[Pair]) -> list[Pair]:
    """Of joints that are joined together one is asked for, and none that is known not to reach its board point."""
    waiting: dict[int, Pair] = {}
    for joint, point in joins:
        if knowledge.status(joint, point) == UNKNOWN:
            waiting.setdefault(knowledge.find(joint), (joint, point))
    return list(waiting.values())


def lead_proof_missing(standing: Standing, needed: Obligations, shorts_only: bool, found: Account) -> bool:
    """Whether silence that is needed does not lie between two proofs of the leads; found: the account as it stands."""
    if not standing.unproven_silence:
        return False
    strict = standing.without(standing.unproven_silence)
    return len(account(strict, needed, shorts_only).todo) > len(found.todo)


def without_lead_proof(found: Account, strict: Account) -> Account:
    """The account where silence waits for a proof of the leads: it counts for nothing, yet is not to be touched again.

    found: with that silence; strict: without.
    """
    told = {*found.todo, *found.presumed}
    waiting = [pair for pair in (*strict.todo, *strict.presumed) if pair not in told]
    return found._replace(ledger=strict.ledger, presumed=[*found.presumed, *waiting], untested=strict.untested)


def parts_of(
    standing: Standing,
    found: Account,
    harms: Iterable[str],
    opens: Collection[Open],
    shorts_only: bool = False,
    lead_proof: bool = True,
    odd_junctions: bool = False,
) -> Parts:
    """The two parts of the verdict, from findings already made.

    What parts of the board may have carried counts only in a verdict that is clear as a whole, for only then is the
    refuter asked; beside another part that is not, it leaves this one unproven.

    harms: of the shorts; shorts_only: the contact of single signals is left out; lead_proof: silence lies between two
    proofs of the leads; odd_junctions: diode mode shows what is not explained.
    """
    unsettled = [reading.meaning for reading in map(standing.reading, standing.closed.unsettled)]
    to_measure = any(meaning != RESISTIVE for meaning in unsettled)
    conflict = bool(standing.knowledge.conflicts())
    # what only a wanted join will show apart is not asked by itself, nor is it proven yet
    behind_joins = bool(found.joins) and found.ledger.isolation.proven < found.ledger.isolation.needed
    shorts = contact = CLEAR
    if any(harm in HARMFUL for harm in harms):
        shorts = REWORK
    elif found.isolation or behind_joins or conflict or not lead_proof or to_measure:
        shorts = UNPROVEN
    if opens or RESISTIVE in unsettled:
        contact = REWORK
    elif found.joins or found.contacts or found.borrowed or conflict or odd_junctions:
        contact = UNPROVEN
    if shorts != contact:
        ledger = found.ledger
        counted = (ledger.joins,) if shorts_only else (ledger.joins, ledger.contacts)
        if shorts == CLEAR and ledger.isolation.proven < ledger.isolation.needed:
            shorts = UNPROVEN
        if contact == CLEAR and any(count.proven < count.needed for count in counted):
            contact = UNPROVEN
    return Parts(shorts, contact)
