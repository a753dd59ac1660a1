"""The main job as one function: a job in, all that is found out about it. Nothing decides after it. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from connector_check.analysis.contact import reaches
from connector_check.analysis.diagnosis import diagnosed
from connector_check.analysis.doubt import find_doubt
from connector_check.analysis.findings import find_conflicts, find_leaks, find_measures
from connector_check.analysis.obligations import Obligations, obligations
from connector_check.analysis.opens import find_opens
from connector_check.analysis.replay import STALE, TAKEN, VOID, Standing, replay
from connector_check.analysis.result import CLEAR, JUNCTION_OPEN, OUTLIER, UNPROVEN, Parts, Record, Result
from connector_check.analysis.rework import ROW, rework_list
from connector_check.analysis.shorts import find_harmless, find_shorts
from connector_check.analysis.verdict import Account, account, lead_proof_missing, parts_of, without_lead_proof
from connector_check.board.board import NEAR
from connector_check.pinout.roles import guessed_line
from connector_check.testlog.job import Job, Log
from connector_check.testlog.readings import UNSURE, VOLTS

if TYPE_CHECKING:
    from connector_check.analysis.good_board import Comparison
    from connector_check.analysis.result import DiodeFinding, StripLine


@dataclass(frozen=True)
class Settings:
    """What is asked of a job.

    scope: `near`, `wide` or `all`; shorts_only: the contact of single signals is left out; order: of the rework list,
    `row` or `harm`.
    """

    scope: str = NEAR
    shorts_only: bool = False
    order: str = ROW


DEFAULT = Settings()


@dataclass(frozen=True)
class Examined:
    """A job with all that was found out about it, for reports and drawings.

    standing: its readings with meaning and fate; needed: what the scope asks; account: what is proven and still to be
    touched; result: the answer.
    """

    settings: Settings
    standing: Standing
    needed: Obligations
    account: Account
    result: Result


def examine(job: Log, settings: Settings = DEFAULT) -> Examined:
    """As `check`, with what the answer rests on."""
    board, shorts_only = job.board, settings.shorts_only
    standing = replay(board, job.entries, job.meter, settings.scope)
    needed = obligations(board, settings.scope)
    account_ = account(standing, needed, shorts_only)
    lead_proof = not lead_proof_missing(standing, needed, shorts_only, account_)
    # a broken lead is silent too: what waits for a proof of the leads is no open yet
    proven = standing if lead_proof else standing.without(standing.unproven_silence)
    if not lead_proof:
        account_ = without_lead_proof(account_, account(proven, needed, shorts_only))
    compared, (diode, strip_lines) = _compared(job, proven, needed), _diode(job, standing)
    shorts, opens, leaks = find_shorts(standing), find_opens(proven), find_leaks(standing)
    told = {found.joint for found in opens}
    opens += [found for found in compared.opens if found.joint not in told] if compared else []
    shorts = diagnosed(standing, needed, shorts_only, shorts, len(opens))
    odd = any(found.kind == OUTLIER for found in diode)
    parts = parts_of(standing, account_, (short.harm for short in shorts), opens, shorts_only, lead_proof, odd)
    if compared and compared.differences:
        from connector_check.analysis.good_board import unproven_by

        parts = unproven_by(parts, compared.differences)
    doubt = None
    if parts.whole == CLEAR:
        doubt = find_doubt(standing, needed, shorts_only)
        if doubt is None:
            account_ = account(standing, needed, shorts_only, vouched=True)
        elif doubt.told or board.resistors:
            parts = Parts(UNPROVEN, UNPROVEN)
    result = Result(
        map=board.pin_map.id,
        title=board.pin_map.title,
        variant=board.pin_map.variant,
        layout=board.layout.id,
        scope=settings.scope,
        shorts_only=shorts_only,
        meter=(job.meter.sounds_below, job.meter.silent_above),
        verdict=parts.whole,
        parts=parts,
        shorts=tuple(shorts),
        harmless=tuple(find_harmless(standing)),
        opens=tuple(opens),
        measure=tuple(find_measures(standing)),
        leaks=tuple(leaks),
        conflicts=tuple(find_conflicts(standing)),
        unproven=tuple(map(board.pair, account_.todo)),
        ledger=account_.ledger,
        record=_record(standing),
        assumptions=(*_assumptions(standing, settings.scope, account_, lead_proof), *_good_boards_told(job, compared)),
        rework=rework_list(standing, needed, shorts, opens, leaks, settings.order, shorts_only),
        diode=tuple(diode),
        strip=strip_lines,
        doubt=doubt,
        differences=compared.differences if compared else (),
    )
    return Examined(settings, standing, needed, account_, result)


def _compared(job: Log, standing: Standing, needed: Obligations) -> Comparison | None:
    """The comparison with boards known to be good; the module is loaded only where there are any."""
    if not (isinstance(job, Job) and job.good_boards):
        return None
    from connector_check.analysis.good_board import compare

    return compare(standing, needed, job.good_boards)


def _good_boards_told(job: Log, compared: Comparison | None) -> tuple[str, ...]:
    """The references and what was taken from them, for the assumptions."""
    return (*compared.told, *job.as_good) if compared and isinstance(job, Job) else ()


def _record(standing: Standing) -> Record:
    return Record(
        standing=len(standing.entries),
        stale=standing.count(STALE, VOID),
        taken_back=standing.count(TAKEN),
        unsure=sum(1 for e in standing.entries if e.kind == UNSURE),
        rounds=standing.rounds,
        lead_checks_good=standing.lead_checks.count(True),
        lead_checks_bad=standing.lead_checks.count(False),
        unproven_silence=len(standing.unproven_silence) + len(standing.before_proof),
    )


def _diode(job: Log, standing: Standing) -> tuple[list[DiodeFinding], tuple[StripLine, ...]]:
    """What the diode-mode readings say, and their strip; the modules are loaded only where there are any."""
    if not any(entry.kind == VOLTS for entry in standing.entries):
        return [], ()
    from connector_check.analysis.diode import LISTED, diode_readings, judge_diode
    from connector_check.analysis.strip import strip

    board = standing.board
    readings = diode_readings(board, standing.entries)
    judged = [
        found._replace(kind=LISTED, why=f"{found.why}; but the joint reaches its board point, so it lies behind it")
        if found.kind in (JUNCTION_OPEN, OUTLIER) and reaches(board, standing.knowledge, board.number[found.joint])
        else found
        for found in judge_diode(board, readings)
    ]
    if not (isinstance(job, Job) and job.good_boards):
        return judged, strip(board, readings)
    from connector_check.analysis.good_board import excused, usual_volts

    return excused(standing, judged, job.good_boards), strip(board, readings, usual_volts(board, job.good_boards))


def _assumptions(standing: Standing, scope: str, account_: Account, lead_proof: bool) -> list[str]:
    board, meter, joins = standing.board, standing.meter, account_.ledger.joins
    found = [f"meter: {meter.in_words()}"]
    if meter.beeps_on_junction:
        found.append("tones were heard in the continuity range: in diode mode this meter sounds on a junction as well")
    found += filter(None, [guessed_line(board.pin_map.nets)])
    if board.pin_map.told:
        found.append(f"roles as told, not published: {board.pin_map.told}")
    if standing.before_proof:
        found.append(f"{len(standing.before_proof)} silent readings came before the leads were proven and do not count")
    if not lead_proof:
        found.append(
            f"{len(standing.unproven_silence)} silent readings do not lie between two proofs of the leads: touch the "
            "leads together (must sound) and hold them apart (must be silent), then add ',,leads good'"
        )
    found += [f"line {line} takes back what does not stand: it changes nothing" for line in standing.nothing_taken]
    window = "within 1.27 mm or 1.6 times a joint's own nearest gap, or nearest"
    if scope == "near":
        found.append(f"solder bridges only between neighbours: in line of sight {window}")
    elif scope == "wide":
        found.append(f"solder bridges only between joints {window}")
    if joins.assumed:
        found.append(
            f"{joins.assumed} joints were joined to their fellows only: "
            "touch one of each group to the board point of its net"
        )
    if board.shell_point is not None and any(board.shell_point in e.points for e in standing.entries):
        found.append("a quiet on SH counts for every shell joint: the shell is taken as one piece of metal")
    return found
