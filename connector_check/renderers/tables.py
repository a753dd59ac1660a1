"""Results as tables (pandas), for CSV and Markdown. Text cells are kept from being read as spreadsheet formulas."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from connector_check.analysis.result import PointPair, Result, ReworkStep
from connector_check.files.text import neutral

if TYPE_CHECKING:
    import pandas as pd


def _pairs(pairs: Iterable[PointPair]) -> str:
    return "; ".join(f"{a} - {b}" for a, b in pairs)


def findings_table(result: Result) -> pd.DataFrame:
    """One row a finding: kind, harm, nets, joints, likely_sites, why, readings; the verdict is the first row."""
    import pandas as pd

    rows: list[dict[str, Any]] = [
        _row("verdict", result.verdict, why=f"{result.title}, layout {result.layout}, scope {result.scope}")
    ]
    for short in result.shorts:
        sites = "; ".join(" or ".join(f"{a} - {b}" for a, b in (s.joints, *s.alternatives)) for s in short.sites)
        rows.append(_row("short", short.harm, short.nets, short.joints, sites, short.why, short.readings))
    for found in result.opens:
        rows.append(_row("open", "open", (found.net,), (found.joint,), "", found.why, found.readings))
    for conflict in result.conflicts:
        why = f"quiet {_pairs([conflict.quiet])} against beeps {_pairs(conflict.beeps)}"
        rows.append(_row("contradiction", "", (), conflict.quiet, "", why, conflict.readings))
    for wanted in result.measure:
        rows.append(_row("ohms wanted", "", wanted.nets, wanted.pair, "", wanted.why))
    for leak in result.leaks:
        rows.append(_row("leak", "", leak.nets, leak.pair, "", leak.why))
    for join in result.harmless:
        rows.append(_row("harmless", "harmless", join.nets, join.joints, "", join.why))
    for pair in result.unproven:
        rows.append(_row("unproven", "", (), pair, "", "not proven yet"))
    return pd.DataFrame(rows)


def _row(
    kind: str, harm: str, nets: tuple[str, ...] = (), joints: tuple[str, ...] = (), sites: str = "", why: str = "",
    readings: tuple[int, ...] = (),
) -> dict[str, Any]:  # fmt: skip
    return {
        "kind": kind,
        "harm": harm,
        "nets": " ".join(nets),
        "joints": " ".join(joints),
        "likely_sites": sites,
        "why": why,
        "readings": " ".join(map(str, readings)),
    }


def rework_table(steps: Iterable[ReworkStep]) -> pd.DataFrame:
    """One row a step: step, joints, nets, harm, do, why, probe_again."""
    import pandas as pd

    columns = ["step", "joints", "nets", "harm", "do", "why", "probe_again"]
    rows = [[s.step, " ".join(s.joints), " ".join(s.nets), s.harm, s.do, s.why, _pairs(s.probe_again)] for s in steps]
    return pd.DataFrame(rows, columns=columns)


def as_csv(table: pd.DataFrame) -> str:
    """The table as CSV for spreadsheets."""
    return str(
        table.map(lambda cell: neutral(cell) if isinstance(cell, str) else cell).to_csv(
            index=False, lineterminator="\n"
        )
    )


def as_markdown(table: pd.DataFrame) -> str:
    """The table as Markdown; pipes, angle brackets and line breaks in cells are made harmless."""

    def cell(value: Any) -> Any:
        if not isinstance(value, str):
            return value
        text = value.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace("|", "\\|")
        return " ".join(text.split())

    return str(table.map(cell).to_markdown(index=False, disable_numparse=True)) + "\n"
