"""A history as text, CSV, JSON and an SVG chart. Names from files are shown without control characters."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple
from xml.etree.ElementTree import Element

from connector_check.drawing.elements import element, svg
from connector_check.files.text import fitted, neutral, printable
from connector_check.reports.digest import BRIDGE, OPEN
from connector_check.reports.history import BrokenFile, History
from connector_check.reports.summary import Summary

if TYPE_CHECKING:
    import pandas as pd

SHOWN, LONGEST = 20, 60
HEADINGS = {
    "map": "connector",
    "yield_percent": "yield %",
    "of_jobs": "of jobs",
    "touches_mean": "touches (mean)",
    "touches_most": "most",
    "rounds_mean": "rounds (mean)",
    "rounds_most": "most rounds",
    "stale_mean": "stale (mean)",
    "timed_jobs": "timed jobs",
    "minutes_median": "minutes (median)",
    "minutes_mean": "mean",
    "minutes_most": "most",
    "share": "weight",
}
SECTIONS = {
    "first_pass": (
        "FIRST-PASS YIELD",
        "first round ended clear, of the jobs whose first round was decided (clear, rework, or reworked)",
    ),
    "effort": ("TOUCHES AND ROUNDS A JOB", "readings of every round, those taken back included"),
    "joints": (
        "JOINTS THAT BRIDGE OR OPEN MOST",
        "likeliest sites of harmful shorts; one of n equally likely pairs weighs 1/n",
    ),
    "again": (
        "FOUND AGAIN AFTER REWORK",
        "the same finding, carried by a reading made after the iron was at its joints",
    ),
    "time": ("TIME A JOB", "from the column 'time', breaks over 30 minutes left out"),
}
"""Of each table of a summary: its title, and what its counts mean."""

BLUE, VERMILLION, ORANGE = "#0072B2", "#D55E00", "#E69F00"
WIDTH, LABEL, BAR, ROW, TOP = 820, 270, 300, 26, 34
STYLE = (
    ".hist .page{fill:#ffffff}.hist text{font:13px 'DejaVu Sans',Arial,sans-serif;fill:#000000}"
    ".hist .head{font-size:16px;font-weight:bold}.hist .small{font-size:12px}"
    ".hist .frame{fill:none;stroke:#767676}.hist .pass,.hist .bridge,.hist .open{stroke:#000000}"
    f".hist .pass{{fill:{BLUE}}}.hist .bridge{{fill:{VERMILLION}}}.hist .open{{fill:url(#hist-hatch)}}"
    "@media (prefers-color-scheme:dark){.hist .page{fill:#151515}.hist text{fill:#eeeeee}"
    ".hist .pass,.hist .bridge,.hist .open{stroke:#eeeeee}}"
    "@media print{.hist .page{fill:#ffffff}.hist text{fill:#000000}}"
)


def _short(text: str, most: int = LONGEST) -> str:
    return fitted(printable(text), most)


def broken_lines(broken: Iterable[BrokenFile], most: int | None = SHOWN) -> Iterator[str]:
    """One line a broken file: its first problem and how many more it has."""
    listed = list(broken)
    for found in listed[:most]:
        more = f" (and {len(found.problems) - 1} more problems)" if len(found.problems) > 1 else ""
        yield _short(str(found.problems[0]), 240) + more
    if most is not None and len(listed) > most:
        yield f"... and {len(listed) - most} more files"


def history_lines(history: History, summary: Summary) -> Iterator[str]:
    """The summaries as plain tables, with what each count means."""
    yield f"{_short(history.folder)}: {summary.jobs} jobs, {len(history.broken)} files that could not be read"
    yield f"verdicts in scope {history.scope}"
    for name, (title, means) in SECTIONS.items():
        yield from _section(title, getattr(summary, name), means)
    if history.broken:
        yield ""
        yield "NOT READ"
        yield from broken_lines(history.broken)
    if history.remarks:
        yield ""
        yield "REMARKS"
        yield from (_short(str(problem), 240) for problem in history.remarks[:SHOWN])
        if len(history.remarks) > SHOWN:
            yield f"... and {len(history.remarks) - SHOWN} more"


def _section(title: str, table: pd.DataFrame, means: str) -> Iterator[str]:
    from tabulate import tabulate

    yield ""
    yield f"{title} ({means})"
    if table.empty:
        yield "none"
        return
    rows = [[_cell(value) for value in row] for row in table.head(SHOWN).itertuples(index=False)]
    headings = [HEADINGS.get(name, name) for name in table.columns]
    yield from str(tabulate(rows, headings, tablefmt="simple", disable_numparse=True)).splitlines()
    if len(table) > SHOWN:
        yield f"... and {len(table) - SHOWN} more rows"


def _cell(value: Any) -> str:
    if isinstance(value, str):
        return _short(value, 40)
    if isinstance(value, float):
        return "-" if value != value else f"{value:g}"
    return str(value)


def history_csv(history: History) -> str:
    """One row a job."""
    jobs = history.jobs.map(lambda cell: neutral(printable(cell)) if isinstance(cell, str) else cell)
    return str(jobs.to_csv(index=False, lineterminator="\n"))


def history_json(history: History, summary: Summary) -> dict[str, Any]:
    """The whole history for another program."""
    return {
        "schema": 1,
        "folder": history.folder,
        "scope": history.scope,
        "jobs": _records(history.jobs),
        "first_pass": _records(summary.first_pass),
        "effort": _records(summary.effort),
        "joints": _records(summary.joints),
        "found_again": _records(summary.again),
        "time": _records(summary.time),
        "broken": [
            {"file": b.file, "problems": [{"line": p.line, "what": p.what, "remedy": p.remedy} for p in b.problems]}
            for b in history.broken
        ],
        "remarks": [{"file": p.file, "line": p.line, "what": p.what, "remedy": p.remedy} for p in history.remarks],
    }


def _records(table: pd.DataFrame) -> list[dict[str, Any]]:
    plain = table.astype(object)
    found: list[dict[str, Any]] = plain.where(table.notna(), None).to_dict("records")
    return found


class _Bar(NamedTuple):
    """One bar: its name, its part of the full length, its value in words, and its kind."""

    label: str
    part: float
    value: str
    kind: str

    @property
    def told(self) -> str:
        return f"{self.label}: {self.value}"


def history_svg(history: History, summary: Summary) -> str:
    """Two bar charts: first-pass yield by connector and layout, and the joints most often at fault.

    Every bar has its name and value in words; bridges are plain and opens hatched, beside their colours.
    """
    yields, joints = _yield_bars(summary), _joint_bars(summary)
    means = "bar: first round clear, of the jobs decided; full length is 100 %"
    first, y = _chart("First-pass yield by connector and layout", means, yields, 74)
    means = "bar: weight over all jobs; one of n equally likely pairs weighs 1/n"
    second, y = _chart("Joints most often at fault", means, joints, y)
    height = y + 16
    counted = f"{summary.jobs} jobs, {len(history.broken)} files not read"
    told = f"{counted}. " + "; ".join(bar.told for bar in (*yields, *joints))
    page = svg(
        {"viewBox": f"0 0 {WIDTH} {height}", "class": "hist", "role": "img", "aria-labelledby": "hist-title hist-desc"},
        element("title", {"id": "hist-title"}, "History of jobs: first-pass yield and joints most often at fault"),
        element("desc", {"id": "hist-desc"}, told),
        element("style", {}, STYLE),
        _hatch(),
        element("rect", {"class": "page", "width": str(WIDTH), "height": str(height)}),
        _words(20, 32, counted, {"class": "head"}),
        *first,
        *second,
        *_key(y - 14),
    )
    return page + "\n"


def _yield_bars(summary: Summary) -> list[_Bar]:
    rows = summary.first_pass.sort_values("jobs", ascending=False, kind="stable").head(SHOWN).itertuples()
    return [
        _Bar(
            f"{row.map}, {row.layout}",
            row.passed / row.decided if row.decided else 0.0,
            f"{row.passed} of {row.decided} ({row.yield_percent:g} %)" if row.decided else "none decided",
            "pass",
        )
        for row in rows
    ]


def _joint_bars(summary: Summary) -> list[_Bar]:
    most = float(summary.joints["share"].max()) if len(summary.joints) else 1.0
    return [
        _Bar(
            f"{row.joint} in {row.map}, {row.layout}",
            row.share / most,
            f"{row.kind}: {row.jobs} of {row.of_jobs} jobs",
            row.kind,
        )
        for row in summary.joints.head(SHOWN).itertuples()
    ]


def _chart(title: str, means: str, bars: Sequence[_Bar], y: int) -> tuple[list[Element], int]:
    """A headline with its bars below, from y down, and where the next thing goes."""
    parts = [_words(20, y, title, {"class": "head"}), _words(20, y + 18, means, {"class": "small"})]
    y += TOP
    if not bars:
        parts.append(_words(20, y + 16, "none"))
    parts += [_drawn(bar, y + i * ROW) for i, bar in enumerate(bars)]
    return parts, y + max(len(bars), 1) * ROW + 40


def _drawn(bar: _Bar, y: int) -> Element:
    at = {"x": str(LABEL), "y": str(y + 3)}
    return element(
        "g",
        {},
        element("title", {}, bar.told),
        _words(LABEL - 8, y + 16, _short(bar.label, 32), {"text-anchor": "end"}),
        element("rect", {"class": "frame", **at, "width": str(BAR), "height": "18"}),
        element("rect", {"class": bar.kind, **at, "width": f"{max(BAR * bar.part, 1.0):.1f}", "height": "18"}),
        _words(LABEL + BAR + 8, y + 16, _short(bar.value, 24)),
    )


def _words(x: int, y: int, text: str, more: dict[str, str] | None = None) -> Element:
    return element("text", {**(more or {}), "x": str(x), "y": str(y)}, text)


def _key(y: int) -> Iterator[Element]:
    words = (("pass", "first round clear"), (BRIDGE, "bridge (plain)"), (OPEN, "open (hatched)"))
    for i, (kind, word) in enumerate(words):
        at = {"x": str(20 + 200 * i), "y": str(y - 11)}
        yield element("rect", {"class": kind, **at, "width": "26", "height": "14"})
        yield _words(54 + 200 * i, y, word)


def _hatch() -> Element:
    tile = {"width": "6", "height": "6"}
    turned = {"patternUnits": "userSpaceOnUse", "patternTransform": "rotate(45)"}
    return element(
        "defs",
        {},
        element(
            "pattern",
            {"id": "hist-hatch", **tile, **turned},
            element("rect", {**tile, "fill": ORANGE}),
            element("rect", {"width": "2.5", "height": "6", "fill": "#000000"}),
        ),
    )
