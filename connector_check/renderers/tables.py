"""Findings and rework as tables, in CSV and Markdown. Text cells are kept from being read as spreadsheet formulas."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from connector_check.analysis.result import OUTLIER, BridgeSite, PointPair, Result, ReworkStep
from connector_check.files.text import neutral
from connector_check.renderers.text import doubt_words, parts_words, search_words, verdict_words

FINDINGS = ("kind", "harm", "nets", "joints", "likely_sites", "why", "readings")
STEPS = ("step", "joints", "nets", "harm", "do", "why", "probe_again")


class Table(NamedTuple):
    """The names of the columns, and a cell for each of them in every row."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str | int, ...], ...]


def findings_table(result: Result) -> Table:
    """One row a finding, in FINDINGS; the verdict is the first row."""
    return Table(FINDINGS, tuple(_findings(result)))


def rework_table(steps: Iterable[ReworkStep]) -> Table:
    """One row a step, in STEPS."""
    rows = ((s.step, _words(s.joints), _words(s.nets), s.harm, s.do, s.why, _pairs(s.probe_again)) for s in steps)
    return Table(STEPS, tuple(rows))


def _findings(result: Result) -> Iterator[tuple[str, ...]]:
    where = f"{result.title}, layout {result.layout}, scope {result.scope}"
    said = [verdict_words(result), parts_words(result), search_words(result), where]
    yield _row("verdict", result.word, why="; ".join(filter(None, said)))
    for short in result.shorts:
        yield _row("short", short.harm, short.nets, short.joints, short.why, short.sites, short.readings)
    for found in result.opens:
        yield _row("open", "open", (found.net,), (found.joint,), found.why, readings=found.readings)
    for conflict in result.conflicts:
        why = f"quiet {_pairs([conflict.quiet])} against beeps {_pairs(conflict.beeps)}"
        yield _row("contradiction", joints=conflict.quiet, why=why, readings=conflict.readings)
    for wanted in result.measure:
        yield _row("ohms wanted", "", wanted.nets, wanted.pair, wanted.why)
    for leak in result.leaks:
        yield _row(leak.kind, "", leak.nets, leak.pair, leak.why)
    for differs in result.differences:
        yield _row("differs", "", differs.nets, differs.points, differs.why, readings=differs.readings)
    for odd in result.diode:
        if odd.kind == OUTLIER:
            yield _row(f"diode {odd.kind}", "", (odd.net,), (odd.joint,), odd.why, readings=odd.readings)
    yield from _no_faults(result)


def _no_faults(result: Result) -> Iterator[tuple[str, ...]]:
    """What is harmless, what is not known yet, and what was assumed."""
    for join in result.harmless:
        yield _row("harmless", "harmless", join.nets, join.joints, join.why)
    if result.doubt:
        if doubt_words(result.doubt):
            yield _row("doubt", joints=result.doubt.pair or (), why=doubt_words(result.doubt))
        yield from (_row("not searched", why=left) for left in result.doubt.left_out)
    for pair in result.unproven:
        yield _row("unproven", joints=pair, why="not proven yet")
    yield from (_row("assumed", why=line) for line in result.assumptions)


def _row(
    kind: str,
    harm: str = "",
    nets: Iterable[str] = (),
    joints: Iterable[str] = (),
    why: str = "",
    sites: Iterable[BridgeSite] = (),
    readings: Iterable[int] = (),
) -> tuple[str, ...]:
    places = "; ".join(site.told() for site in sites)
    return kind, harm, _words(nets), _words(joints), places, why, _words(map(str, readings))


def _words(names: Iterable[str]) -> str:
    return " ".join(names)


def _pairs(pairs: Iterable[PointPair]) -> str:
    return "; ".join(f"{a} - {b}" for a, b in pairs)


def as_csv(table: Table) -> str:
    """The table as CSV for spreadsheets."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(table.columns)
    writer.writerows([neutral(cell) if isinstance(cell, str) else cell for cell in row] for row in table.rows)
    return out.getvalue()


def as_markdown(table: Table) -> str:
    """The table as Markdown; pipes, angle brackets and line breaks in cells are made harmless."""
    from tabulate import tabulate

    rows = [[_harmless(cell) if isinstance(cell, str) else cell for cell in row] for row in table.rows]
    return str(tabulate(rows, table.columns, tablefmt="pipe", disable_numparse=True)) + "\n"


def _harmless(cell: str) -> str:
    text = cell.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace("|", "\\|")
    return " ".join(text.split())
