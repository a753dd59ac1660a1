"""The main job as one function: a board and the entries of a job in, the result record out. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from connector_check.analysis.findings import (
    account,
    decide,
    find_conflicts,
    find_harmless,
    find_leaks,
    find_measures,
    find_opens,
    find_shorts,
)
from connector_check.analysis.good_board import opens_against
from connector_check.analysis.obligations import obligations
from connector_check.analysis.replay import Standing, replay
from connector_check.analysis.result import CLEAR, UNPROVEN, Count, Record, Result
from connector_check.analysis.rework import ROW, rework_list
from connector_check.board.board import NEAR
from connector_check.pinout.pinmap import GROUND
from connector_check.testlog.job import Job, Log
from connector_check.testlog.readings import UNSURE, VOLTS

if TYPE_CHECKING:
    from connector_check.analysis.result import DiodeFinding


@dataclass(frozen=True)
class Settings:
    """What is asked of a job.

    scope: `near`, `wide` or `all`; landings: whether opens on single signals are required; order: of the rework list,
    `row` or `harm`.
    """

    scope: str = NEAR
    landings: bool = False
    order: str = ROW


DEFAULT = Settings()


def check(job: Log, settings: Settings = DEFAULT) -> Result:
    """Reason over all entries of a job and return the whole answer: nothing decides after it.

    job: its board, meter and entries; a `Job` also has what was read on a board known to be sound. settings: the scope
    and what else is required. O(m log n) for m entries on n points, and more for the findings. Raises nothing: bad
    input is refused where it is read.
    """
    board, scope, landings = job.board, settings.scope, settings.landings
    standing = replay(board, job.entries, job.meter, scope)
    needed = obligations(board, scope)
    shorts, opens, leaks = find_shorts(standing), find_opens(standing), find_leaks(standing)
    good = job.good if isinstance(job, Job) else None
    if good is not None:
        told = {known.joint for known in opens}
        sound = replay(good.board, good.entries, good.meter)
        opens += [found for found in opens_against(standing, sound) if found.joint not in told]
    ledger, todo = account(board, standing.knowledge, needed, landings)
    diode = _diode(standing)
    decided = decide(standing, (short.harm for short in shorts), opens, todo)
    if decided == CLEAR and any(found.kind in ("short", "open", "outlier") for found in diode):
        decided = UNPROVEN
    return Result(
        map=board.pin_map.id,
        title=board.pin_map.title,
        variant=board.pin_map.variant,
        layout=board.layout.id,
        scope=scope,
        landings_required=landings,
        meter=(job.meter.sounds_below, job.meter.silent_above),
        verdict=decided,
        shorts=tuple(shorts),
        harmless=tuple(find_harmless(standing)),
        opens=tuple(opens),
        measure=tuple(find_measures(standing)),
        leaks=tuple(leaks),
        conflicts=tuple(find_conflicts(standing)),
        unproven=tuple((board.points[a], board.points[b]) for a, b in todo),
        ledger=ledger,
        record=Record(
            standing=len(standing.entries),
            stale=standing.stale,
            taken_back=standing.taken_back,
            unsure=sum(1 for e in standing.entries if e.kind == UNSURE),
            rounds=standing.rounds,
            lead_checks_good=standing.lead_checks.count(True),
            lead_checks_bad=standing.lead_checks.count(False),
            unclosed_quiets=standing.unclosed_quiets,
        ),
        assumptions=tuple(_assumptions(standing, scope, ledger.joins)),
        rework=rework_list(standing, needed, shorts, opens, leaks, settings.order),
        diode=tuple(diode),
    )


def _diode(standing: Standing) -> list[DiodeFinding]:
    """What the diode-mode readings say; the module is loaded only where there are any."""
    if not any(entry.kind == VOLTS for entry in standing.entries):
        return []
    from connector_check.analysis.diode import DiodeReading, judge_diode

    net_of = standing.board.net_of
    readings = [
        DiodeReading(next(p for p in entry.points if net_of[p].role != GROUND), entry.ohms or 0.0, entry.line)
        for entry in standing.entries
        if entry.kind == VOLTS
    ]
    return judge_diode(standing.board, readings)


def _assumptions(standing: Standing, scope: str, joins: Count) -> list[str]:
    board, meter = standing.board, standing.meter
    found = [f"meter: sounds below {meter.sounds_below:g} ohm, silent above {meter.silent_above:g} ohm"]
    if not standing.lead_checks:
        found.append("no lead check in the job: every quiet rests on leads that were not proven")
    elif standing.unclosed_quiets:
        found.append(
            f"{standing.unclosed_quiets} quiets after the last good lead check: touch the leads together once more"
        )
    if scope == "near":
        found.append("solder bridges only between neighbours: in line of sight within 1.27 mm, or nearest")
    elif scope == "wide":
        found.append("solder bridges only between joints within 1.27 mm, or nearest")
    if joins.assumed:
        found.append(f"{joins.assumed} joints were joined to their fellows only: "
                     "touch one of each group to the board point of its net")  # fmt: skip
    if board.shell_point is not None and any(board.shell_point in e.points for e in standing.entries):
        found.append("a quiet on SH counts for every shell joint: the shell is taken as one piece of metal")
    return found
