"""The record of a job as a page: what it gathers, what the page holds, and that hostile text stays text."""

from __future__ import annotations

import re
from collections import Counter
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from connector_check.analysis.examine import Settings
from connector_check.analysis.replay import STALE, STANDS, TAKEN
from connector_check.cli.commands import main
from connector_check.cli.report import job_html, rework_html
from connector_check.cli.report import report as report_command
from connector_check.job import load_job
from connector_check.pinout.library import list_ids
from connector_check.renderers.html import card_html, environment, report_html
from connector_check.reports.report import CLEARED, OPEN_NOW, STAYS, UNSURE_YET, report
from tests.strategies import TINY_YAML, checked

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "village-workshop-vga.csv"
XMLNS = "http://www.w3.org/2000/svg"

HEADINGS = (
    "Verdict",
    "The connector now",
    "Rounds side by side",
    "Findings",
    "Rework list",
    "Ledger",
    "Never in scope",
    "Residual risk",
    "Meter and lead checks",
    "Cautions",
    "Every joint",
    "All readings",
)
HOSTILE_NAMES = ["<script>alert(1)</script>", "=1+1|x!A0", "A\u202eB\u2066", "W" * 32, "\u05d0\u05d1&lt"]
HOSTILE_NOTES = [
    "</style></title></svg><script>alert('x')</script>",
    '"><img src=x onerror=alert(1)>',
    '=HYPERLINK("http://sentinel.invalid/a")',
    "\x1b[2J\x07\x9b31m",
    "\u202egnp.exe\u2069\u200f",
    "x" * 6000,
    "]]><!-- -->",
    "javascript:alert(1)",
]


def hostile_map() -> str:
    pins = "".join(f"  'N{i}<b>&': {{role: data, contacts: ['{name}']}}\n" for i, name in enumerate(HOSTILE_NAMES))
    row = ", ".join(f"'{name}'" for name in HOSTILE_NAMES)
    return (
        "format: 1\nid: hostile\ntitle: '</title><script>alert(2)</script> \u202e https://sentinel.invalid/t'\n"
        "source: [{document: '<img src=x>', known: memory}]\nnets:\n"
        "  GND: {role: ground, contacts: [G]}\n  '+5V<i>': {role: power, volts: 5, contacts: [P]}\n"
        + pins
        + "layouts:\n  - id: row\n    source: '<svg onload=alert(3)>'\n    pads:\n"
        + f"      - {{row: [G, P, {row}], start: [0, 0], step: [0.5, 0], size: [0.3, 1.0]}}\n"
    )


def write_job(folder: Path, rows: str, map_text: str = TINY_YAML, name: str = "job.csv") -> Path:
    (folder / "own.yaml").write_text(map_text.replace("id: tiny", "id: own").replace("id: hostile", "id: own"))
    path = folder / name
    path.write_text("# map: own.yaml\n" + rows, encoding="utf-8")
    return path


def hostile_job(folder: Path) -> Path:
    def cell(raw: str) -> str:
        return '"' + raw.replace('"', '""') + '"'

    pins = ["G", "P", *HOSTILE_NAMES]
    touched = zip(pairwise(pins), HOSTILE_NOTES, strict=False)
    rows = [f"{cell(a)},{cell(b)},beep,{cell(note)}" for (a, b), note in touched]
    rows += [f",,remark,{cell(note)}" for note in HOSTILE_NOTES]
    rows.append(f",,leads good,{cell(HOSTILE_NOTES[0])}")
    rows.append(f"G,P,reworked,{cell(HOSTILE_NOTES[1])}")
    rows.append(f"G,P,beep,{cell(HOSTILE_NOTES[4])}")
    return write_job(folder, "\n".join(rows) + "\n", hostile_map(), "<b>x'&y\u202e.csv")


class Page(HTMLParser):
    """The page's elements, ids, links and text, read as a browser would."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.seen: list[str] = []
        self.depth: list[str] = []
        self.bad_nesting: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, key, value or "") for key, value in attrs]
        if tag not in ("meta", "br", "input"):
            self.depth.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, key, value or "") for key, value in attrs]

    def handle_endtag(self, tag):
        if not self.depth or self.depth.pop() != tag:
            self.bad_nesting.append(tag)

    def handle_data(self, data):
        self.seen.append(data)

    def values(self, key: str) -> list[str]:
        return [value for _, name, value in self.attributes if name == key]

    @property
    def words(self) -> str:
        """As a browser shows them: any white space is one blank."""
        return " ".join("".join(self.seen).split())


def pages(path: Path) -> list[str]:
    found = report(load_job(str(path)))
    return [report_html(found), card_html(found)]


def assert_sound(html: str) -> Page:
    """What holds of every page: one file that asks for nothing and runs nothing, unique ids, sound drawings."""
    page = Page(html)
    assert not page.bad_nesting and not page.depth
    assert not {"script", "iframe", "img", "link", "object", "embed", "base", "form", "use", "image"} & set(page.tags)
    assert not [key for _, key, _ in page.attributes if key.startswith("on")]
    ids = page.values("id")
    assert [i for i, n in Counter(ids).items() if n > 1] == []
    assert page.values("src") == [] and page.values("action") == []
    links = page.values("href")
    assert all(link.startswith("#") and link[1:] in ids for link in links)
    for key in ("aria-labelledby", "aria-describedby"):
        assert all(name in ids for value in page.values(key) for name in value.split())
    assert all(value == XMLNS for _, key, value in page.attributes if "://" in value and key != "content")
    assert "url(" not in html and "@import" not in html
    policy = "default-src 'none'; style-src 'unsafe-inline'"
    assert ("meta", "content", policy) in page.attributes
    assert page.tags.count("h1") == 1 and page.tags.count("main") == 1
    assert page.tags.count("table") == page.tags.count("caption")
    assert page.tags.count("th") == len([1 for tag, key, _ in page.attributes if tag == "th" and key == "scope"])
    drawings = re.findall(r"<svg.*?</svg>", html, re.DOTALL)
    for drawing in drawings:
        root = ElementTree.fromstring(drawing)
        told = [root.find(f"{{{XMLNS}}}{tag}") for tag in ("title", "desc")]
        assert root.get("aria-hidden") or None not in told
    assert "safe to power" not in html.lower()
    assert all(c.isprintable() or c == "\n" for c in html)
    return page


def test_the_page_tells_the_two_parts_of_the_verdict(tmp_path):
    job = tmp_path / "job.csv"
    job.write_text("# map: sata-7\npin_a,pin_b,reading\n,,leads good\nS2,S3,beep\n,,leads good\n", encoding="utf-8")
    for command in (["report", str(job)], ["check", str(job), "--format", "html"]):
        page = CliRunner().invoke(main, command, catch_exceptions=False).output
        assert "Shorts: rework; contact: unproven." in page


def test_the_example_as_a_page():
    html, card = pages(EXAMPLE)
    page = assert_sound(html)
    assert html.count("://") == html.count(XMLNS)
    for heading in HEADINGS:
        assert heading in page.words
    assert [t for t in page.tags if re.fullmatch(r"h[1-6]", t)][:2] == ["h1", "h2"]
    assert "clear: everything in scope was proven" in page.words
    assert "At stake: 5 V" in page.words
    assert "cleared in round 2" in page.words
    assert "51 pairs that must be apart were not asked for" in page.words
    assert "looking into the mouth" in page.words and "Solder side" in page.words and "Component side" in page.words
    assert "prior_at_least_gap" in page.words
    assert "prefers-color-scheme:dark" in html and "@page{size:A4" in html
    assert "nothing to rework" in assert_sound(card).words


def test_the_record_agrees_with_check():
    job = load_job(str(EXAMPLE))
    found = report(job)
    assert found.result == checked(job.board, job.entries, meter=job.meter, shorts_only=False, leads=False)
    states = Counter(r.state for r in found.readings)
    record = found.result.record
    assert (states[STANDS], states[STALE], states[TAKEN]) == (record.standing, record.stale, record.taken_back)
    assert len(found.readings) == len(job.entries) and record.rounds == len(found.rounds)
    assert all((r.ended_by > r.line) == (r.state in (STALE, TAKEN)) for r in found.readings)
    # lines 50 and 51 are one visit of the iron; what it made stale names its last line
    assert {r.ended_by for r in found.readings if r.state == STALE} == {51}
    assert [f.fate for f in found.rounds[0].findings] == [CLEARED] * 4
    assert [r.said for r in found.rounds[0].done] == ["reworked", "reworked"]


def test_what_became_of_each_finding(tmp_path):
    path = write_job(
        tmp_path,
        "2,3,beep,\n4,5,beep,\n1,2,beep,\n6,7,quiet,\n6,7,taken back,\n"
        "2,3,reworked,\n,,remark,still hot\n4,5,reworked,\n2,3,quiet,\n1,2,beep,\n",
    )
    found = report(load_job(str(path)))
    first, second = found.rounds
    fates = {f.nets: f for f in first.findings}
    assert [r.said for r in first.done] == ["reworked", "remark", "reworked"]
    assert fates["+5V", "D+", "GND"].fate == STAYS
    assert fates["GND", "TX"].fate == UNSURE_YET and not fates["GND", "TX"].cleared_by
    assert {f.fate for f in second.findings} == {OPEN_NOW}
    states = {r.line: (r.state, r.ended_by) for r in found.readings}
    assert states[5] == (TAKEN, 6) and states[2][0] == STALE


def test_diode_mode_is_shown_as_such(tmp_path):
    path = write_job(tmp_path, "3,@GND,0.001 V,\n5,@GND,OL V,\n")
    found = report(load_job(str(path)))
    assert {f.harm for f in found.rounds[0].findings} == {"dead-signal"}
    assert [r.said for r in found.readings] == ["0.001 V in diode mode", "OL (V in diode mode: over the range)"]
    assert [r.proves for r in found.readings] == ["joined", "apart"]
    words = assert_sound(report_html(found)).words
    assert "Sweep in diode mode" in words and "SHORT to ground" in words


def test_leads_bad_ends_quiets(tmp_path):
    found = report(load_job(str(write_job(tmp_path, "1,2,quiet,\n2,3,quiet,\n,,leads bad,\n1,4,beep,\n"))))
    assert [(r.state, r.ended_by) for r in found.readings] == [(STALE, 4), (STALE, 4), ("event", 0), (STANDS, 0)]


@pytest.mark.parametrize("make", [lambda folder: EXAMPLE, hostile_job])
def test_every_finding_is_linked_to_its_joints(make, tmp_path):
    found = report(load_job(str(make(tmp_path))))
    html = report_html(found)
    style = html[html.index("<style>") : html.index("</style>")]
    findings = [f for r in found.rounds for f in r.findings]
    assert findings and all(f.joints for f in findings)
    drawn = [set(d.joint_of.values()) for d in found.drawings]
    for finding in findings:
        article = html[html.index(f'<article id="{finding.id}"') :]
        article = article[: article.index("</article>")]
        assert set(re.findall(r'href="#joint-(\d+)"', article)) == {str(j) for j in finding.joints}
        its = ",".join(f".j{j}" for j in finding.joints)
        assert f"body:has(#{finding.id}:is(:hover,:focus-within,:target)) :is({its}) .pad" in style
        for joint in finding.joints:
            row = html[html.index(f'<tr id="joint-{joint}" class="j{joint}"') :]
            assert f'href="#{finding.id}"' in row[: row.index("</tr>")]
            count = html.count(f'<g class="j{joint} joint')
            assert count == sum(joint in d for d in drawn) + (len(found.rounds) if len(found.rounds) > 1 else 0)
        for line in finding.lines:
            assert f'href="#line-{line}"' in article


def test_hostile_text_stays_text(tmp_path):
    path = hostile_job(tmp_path)
    for html in pages(path):
        page = assert_sound(html)
        assert "<script" not in html and "<img" not in html and "<i>" not in html
        assert "</title><script>alert(2)</script> ? https://sentinel.invalid/t" in page.words
        assert "\u202e" not in html and "\x1b" not in html
        assert "<script>alert(1)</script>" in page.words
    html = report_html(report(load_job(str(path))))
    words = Page(html).words
    for note in HOSTILE_NOTES:
        shown = "".join(c if c.isprintable() else "?" for c in note)
        assert shown in words, note
    assert "<b>x'&y?.csv" in words and str(tmp_path) not in html


def test_every_value_is_made_printable_and_escaped():
    page = environment().from_string("{{ raw }}{{ 2 }}{{ '<' }}")
    assert page.render(raw="a<b>&\"'\x00\u202e\n") == "a&lt;b&gt;&amp;&#34;&#39;???2&lt;"


def test_the_card(tmp_path):
    path = tmp_path / "round1.csv"
    path.write_text("\n".join(EXAMPLE.read_text(encoding="utf-8").splitlines()[:49]) + "\n")
    found = report(load_job(str(path)))
    html = card_html(found)
    page = assert_sound(html)
    steps, pairs = len(found.result.rework), {frozenset(p) for s in found.result.rework for p in s.probe_again}
    assert html.count('class="badge"') == steps == 3
    assert len(found.probe_again) == len(pairs) and {frozenset(p) for p in found.probe_again} == pairs
    assert page.tags.count("input") == steps + len(pairs)
    assert "Solder side" in page.words and "fume extraction" in page.words and "Local codes" in page.words
    for step in found.result.rework:
        assert step.do in page.words


@pytest.mark.parametrize("map_id", list_ids())
def test_every_shipped_map_has_a_page(map_id, tmp_path):
    path = tmp_path / "job.csv"
    path.write_text(f"# map: {map_id}\n,,leads good,\n,,remark,nothing probed yet\n")
    html, card = pages(path)
    assert "unproven" in assert_sound(html).words
    assert_sound(card)


def test_the_command_writes_the_page(tmp_path):
    out = tmp_path / "report.html"
    done = CliRunner().invoke(report_command, [str(EXAMPLE), "-o", str(out)], catch_exceptions=False)
    assert done.exit_code == 0 and done.output == ""
    job = load_job(str(EXAMPLE))
    assert out.read_text(encoding="utf-8") == job_html(job, Settings())[1]
    first = tmp_path / "round1.csv"
    first.write_text("\n".join(EXAMPLE.read_text(encoding="utf-8").splitlines()[:49]) + "\n")
    done = CliRunner().invoke(report_command, [str(first)], catch_exceptions=False)
    assert done.exit_code == 3 and done.output.startswith("<!doctype html>")
    assert (
        rework_html(job, Settings())[0] == "clear"
        and rework_html(load_job(str(first)), Settings(order="harm"))[0] == "rework"
    )
