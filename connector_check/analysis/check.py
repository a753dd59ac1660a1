"""The main job for programs: a job in, the result record out. Pure."""

from __future__ import annotations

from connector_check.analysis.examine import DEFAULT, Settings, examine
from connector_check.analysis.result import Result
from connector_check.testlog.job import Log

__all__ = ["Settings", "check"]


def check(job: Log, settings: Settings = DEFAULT) -> Result:
    """Reason over all entries of a job and return the whole answer: nothing decides after it.

    job: its board, meter and entries; a `Job` also has what was read on boards known to be sound. settings: the scope
    and what else is required. O(m log n) for m entries on n points, and more for the findings. Raises nothing: bad
    input is refused where it is read.
    """
    return examine(job, settings).result
