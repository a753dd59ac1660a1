"""The counts over a history, as tables by connector and layout."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

from dataclasses import dataclass

from connector_check.reports.digest import PASSED, UNDECIDED
from connector_check.reports.history import History

GROUP = ["map", "layout"]


@dataclass
class Summary:
    """The counts over a history, as tables by connector (`map`) and `layout`.

    first_pass: jobs, decided, passed, yield_percent; effort: mean and most touches and rounds, stale readings;
    joints: kind, joint, jobs, of_jobs, share; again: finding, jobs, times; time: timed jobs, minutes.
    """

    files: int
    jobs: int
    first_pass: pd.DataFrame
    effort: pd.DataFrame
    joints: pd.DataFrame
    again: pd.DataFrame
    time: pd.DataFrame


def summarise(history: History) -> Summary:
    """Count a history by connector and layout."""
    jobs = history.jobs
    by = jobs.groupby(GROUP, sort=True)
    table = by.agg(
        jobs=("file", "count"),
        decided=("first_pass", lambda column: int((column != UNDECIDED).sum())),
        passed=("first_pass", lambda column: int((column == PASSED).sum())),
    ).reset_index()
    table["yield_percent"] = (100 * table["passed"] / table["decided"].where(table["decided"] > 0)).round(1)
    effort = (
        by.agg(
            jobs=("file", "count"),
            touches_mean=("touches", "mean"),
            touches_most=("touches", "max"),
            rounds_mean=("rounds", "mean"),
            rounds_most=("rounds", "max"),
            stale_mean=("stale", "mean"),
        )
        .reset_index()
        .round(2)
    )
    joints = (
        history.faults.groupby([*GROUP, "kind", "joint"], sort=True)
        .agg(jobs=("file", "nunique"), share=("share", "sum"))
        .reset_index()
    )
    joints = joints.merge(table[[*GROUP, "jobs"]].rename(columns={"jobs": "of_jobs"}), on=GROUP, how="left")
    joints["share"] = joints["share"].astype("float64").round(2)
    joints = joints.sort_values(["share", "jobs", *GROUP, "kind", "joint"], ascending=[False, False, *[True] * 4])
    again = (
        history.again.groupby([*GROUP, "finding"], sort=True)
        .agg(jobs=("file", "nunique"), times=("times", "sum"))
        .reset_index()
        .sort_values(["times", *GROUP, "finding"], ascending=[False, True, True, True])
    )
    timed = jobs[jobs["minutes"].notna()].groupby(GROUP, sort=True)
    time = (
        timed.agg(
            timed_jobs=("file", "count"),
            minutes_median=("minutes", "median"),
            minutes_mean=("minutes", "mean"),
            minutes_most=("minutes", "max"),
        )
        .reset_index()
        .round(1)
    )
    return Summary(
        files=len(jobs) + len(history.broken),
        jobs=len(jobs),
        first_pass=table,
        effort=effort,
        joints=joints.reset_index(drop=True),
        again=again.reset_index(drop=True),
        time=time,
    )
