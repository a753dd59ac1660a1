"""Findings and rework as CSV and Markdown: columns, cells, line ends, and no cell that a spreadsheet would run."""

from __future__ import annotations

import csv
import io

from connector_check.renderers.tables import FINDINGS, STEPS, Table, as_csv, as_markdown, findings_table, rework_table
from tests.strategies import checked, log, tiny_board

READINGS = "2 3 beep\n@GND 1 quiet\nSH1 SH2 beep\n5 6 beep\n1 4 quiet"


def result():
    board = tiny_board()
    return checked(board, log(board, READINGS))


def test_findings_have_a_row_each_in_the_named_columns():
    found = result()
    text = as_csv(findings_table(found))
    assert text.splitlines()[0] == "kind,harm,nets,joints,likely_sites,why,readings" == ",".join(FINDINGS)
    rows = list(csv.DictReader(io.StringIO(text)))
    assert rows[0]["kind"] == "verdict" and rows[0]["harm"] == found.verdict
    shorts = [row for row in rows if row["kind"] == "short"]
    assert [row["harm"] for row in shorts] == [short.harm for short in found.shorts]
    first = found.shorts[0]
    assert shorts[0]["joints"] == "2 3" and shorts[0]["likely_sites"] == "2 - 3" and shorts[0]["readings"] == "1"
    # the guard against formulas stands before a net's plus sign
    assert shorts[0]["nets"] == "'" + " ".join(first.nets) and first.nets[0] == "+5V"
    assert len([row for row in rows if row["kind"] == "unproven"]) == len(found.unproven)


def test_rework_has_a_row_a_step():
    steps = result().rework
    rows = list(csv.reader(io.StringIO(as_csv(rework_table(steps)))))
    assert tuple(rows[0]) == STEPS == ("step", "joints", "nets", "harm", "do", "why", "probe_again")
    assert [row[0] for row in rows[1:]] == [str(step.step) for step in steps] and steps
    assert rows[1][6] == "; ".join(f"{a} - {b}" for a, b in steps[0].probe_again)
    assert as_csv(rework_table([])) == ",".join(STEPS) + "\n"


def test_csv_quotes_what_needs_it_and_ends_lines_alike():
    table = Table(("a", "b"), (('say "x"', "1,2"), ("=1+1", -3), ("two\nlines", "-0.4"), ("", "\u63a5")))
    assert as_csv(table) == 'a,b\n"say ""x""","1,2"\n\'=1+1,-3\n"two\nlines",-0.4\n,\u63a5\n'


def test_markdown_cells_are_harmless_and_columns_line_up():
    table = Table(("step", "why"), ((1, "a|b <i>&"), (12, "two\nlines")))
    assert as_markdown(table).splitlines() == [
        "| step   | why                 |",
        "|:-------|:--------------------|",
        "| 1      | a\\|b &lt;i&gt;&amp; |",
        "| 12     | two lines           |",
    ]
