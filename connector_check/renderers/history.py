"""A history as text, CSV, JSON and an SVG chart. Names from files are shown without control characters."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

from connector_check.files.text import printable
from connector_check.renderers.tables import as_csv
from connector_check.reports.digest import BRIDGE, OPEN
from connector_check.reports.history import BrokenFile, History
from connector_check.reports.summary import Summary

if TYPE_CHECKING:
    import pandas as pd

SHOWN, LONGEST = 20, 60
HEADINGS = {
    "map": "connector", "yield_percent": "yield %", "of_jobs": "of jobs", "touches_mean": "touches (mean)",
    "touches_most": "most", "rounds_mean": "rounds (mean)", "rounds_most": "most rounds", "stale_mean": "stale (mean)",
    "timed_jobs": "timed jobs", "minutes_median": "minutes (median)", "minutes_mean": "mean", "minutes_most": "most",
    "share": "weight",
}  # fmt: skip
BLUE, VERMILLION, ORANGE = "#0072B2", "#D55E00", "#E69F00"
WIDTH, LABEL, BAR, ROW, TOP = 820, 270, 300, 26, 34


def _short(text: str, most: int = LONGEST) -> str:
    text = printable(text)
    return text if len(text) <= most else text[: most - 3] + "..."


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
    yield f"verdicts in scope {history.scope}, landings not required"
    yield from _section("FIRST-PASS YIELD", summary.first_pass,
                        "first round ended clear, of the jobs whose first round was decided (clear, rework, or reworked)")  # fmt: skip
    yield from _section(
        "TOUCHES AND ROUNDS A JOB", summary.effort, "readings of every round, those taken back included"
    )
    yield from _section("JOINTS THAT BRIDGE OR OPEN MOST", summary.joints,
                        "likeliest sites of harmful shorts; one of n equally likely pairs weighs 1/n")  # fmt: skip
    yield from _section("FOUND AGAIN AFTER REWORK", summary.again,
                        "the same finding, carried by a reading made after the iron was at its joints")  # fmt: skip
    yield from _section("TIME A JOB", summary.time, "from the column 'time', breaks over 30 minutes left out")
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
    return as_csv(history.jobs.map(lambda cell: printable(cell) if isinstance(cell, str) else cell))


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


def history_svg(history: History, summary: Summary) -> str:
    """Two bar charts: first-pass yield by connector and layout, and the joints most often at fault.

    Every bar has its name and value in words; bridges are plain and opens hatched, beside their colours.
    """
    yields = [
        (f"{row.map}, {row.layout}", (row.passed / row.decided) if row.decided else 0.0,
         f"{row.passed} of {row.decided} ({row.yield_percent:g} %)" if row.decided else "none decided", "pass")
        for row in summary.first_pass.sort_values("jobs", ascending=False, kind="stable").head(SHOWN).itertuples()
    ]  # fmt: skip
    most = float(summary.joints["share"].max()) if len(summary.joints) else 1.0
    joints = [
        (f"{row.joint} in {row.map}, {row.layout}", row.share / most,
         f"{row.kind}: {row.jobs} of {row.of_jobs} jobs", row.kind)
        for row in summary.joints.head(SHOWN).itertuples()
    ]  # fmt: skip
    parts: list[str] = []
    y = 74
    for title, note, bars in (
        ("First-pass yield by connector and layout", "bar: first round clear, of the jobs decided; full length is 100 %", yields),
        ("Joints most often at fault", "bar: weight over all jobs; one of n equally likely pairs weighs 1/n", joints),
    ):  # fmt: skip
        parts.append(
            f'<text class="head" x="20" y="{y}">{title}</text><text class="small" x="20" y="{y + 18}">{note}</text>'
        )
        y += TOP
        if not bars:
            parts.append(f'<text x="20" y="{y + 16}">none</text>')
            y += ROW
        for label, part, value, kind in bars:
            parts.append(_bar(label, part, value, kind, y))
            y += ROW
        y += 40
    parts.append(_key(y - 14))
    y += 16
    told = f"{summary.jobs} jobs, {len(history.broken)} files not read. " + "; ".join(
        f"{printable(label)}: {printable(value)}" for label, _, value, _ in (*yields, *joints)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {y}" class="hist" role="img"'
        ' aria-labelledby="hist-title hist-desc">\n'
        '<title id="hist-title">History of jobs: first-pass yield and joints most often at fault</title>\n'
        f'<desc id="hist-desc">{escape(told)}</desc>\n{_style()}{_hatch()}'
        f'<rect class="page" width="{WIDTH}" height="{y}"/>\n'
        f'<text class="head" x="20" y="32">{summary.jobs} jobs, {len(history.broken)} files not read</text>\n'
        + "\n".join(parts)
        + "\n</svg>\n"
    )


def _bar(label: str, part: float, value: str, kind: str, y: int) -> str:
    full = f"{printable(label)}: {printable(value)}"
    width = max(BAR * part, 1.0)
    return (
        f"<g><title>{escape(full)}</title>"
        f'<text x="{LABEL - 8}" y="{y + 16}" text-anchor="end">{escape(_short(label, 32))}</text>'
        f'<rect class="frame" x="{LABEL}" y="{y + 3}" width="{BAR}" height="18"/>'
        f'<rect class="{kind}" x="{LABEL}" y="{y + 3}" width="{width:.1f}" height="18"/>'
        f'<text x="{LABEL + BAR + 8}" y="{y + 16}">{escape(_short(value, 24))}</text></g>'
    )


def _key(y: int) -> str:
    words = (("pass", "first round clear"), (BRIDGE, "bridge (plain)"), (OPEN, "open (hatched)"))
    return "".join(
        f'<rect class="{kind}" x="{20 + 200 * i}" y="{y - 11}" width="26" height="14"/>'
        f'<text x="{54 + 200 * i}" y="{y}">{word}</text>'
        for i, (kind, word) in enumerate(words)
    )


def _hatch() -> str:
    return (
        '<defs><pattern id="hist-hatch" width="6" height="6" patternUnits="userSpaceOnUse"'
        ' patternTransform="rotate(45)">'
        f'<rect width="6" height="6" fill="{ORANGE}"/><rect width="2.5" height="6" fill="#000000"/></pattern></defs>\n'
    )


def _style() -> str:
    return (
        "<style>.hist .page{fill:#ffffff}.hist text{font:13px 'DejaVu Sans',Arial,sans-serif;fill:#000000}"
        ".hist .head{font-size:16px;font-weight:bold}.hist .small{font-size:12px}"
        ".hist .frame{fill:none;stroke:#767676}.hist .pass,.hist .bridge,.hist .open{stroke:#000000}"
        f".hist .pass{{fill:{BLUE}}}.hist .bridge{{fill:{VERMILLION}}}.hist .open{{fill:url(#hist-hatch)}}"
        "@media (prefers-color-scheme:dark){.hist .page{fill:#151515}.hist text{fill:#eeeeee}"
        ".hist .pass,.hist .bridge,.hist .open{stroke:#eeeeee}}"
        "@media print{.hist .page{fill:#ffffff}.hist text{fill:#000000}}</style>\n"
    )
