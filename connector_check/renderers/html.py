"""A report, and the rework card, as one HTML file each: no requests, no scripts, text escaped, drawings inline.

What links a finding to its joints is CSS alone: classes `j0`, `j1`, ... stand for joints, in every drawing and table.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from xml.sax.saxutils import escape

from connector_check.analysis.replay import STANDS
from connector_check.analysis.result import CLEAR, REWORK, UNPROVEN, Count, PointPair, ReworkStep
from connector_check.analysis.states import KINDS, State
from connector_check.drawing.svg import Sheet, drawing_style, state_kind
from connector_check.drawing.views import Mark, state_lines
from connector_check.files.text import printable
from connector_check.renderers.residual import residual_lines
from connector_check.renderers.text import CAUTIONS, HARM_WORDS, VERDICT_WORDS
from connector_check.reports.report import CLEARED, OPEN_NOW, Drawn, Finding, Reading, Report, Round, is_fault

LOCAL_RULES = "Where licensed practice is required, follow it."
PROVES_NOT = "that the board works, or what happens under power."
SPEAKS_OF = (
    "It speaks of solder between joints and of joints to their nets, within the scope and assumptions on this page."
)
VERDICT_SHAPES = {CLEAR: "\N{CHECK MARK}", REWORK: "\N{MULTIPLICATION SIGN}", UNPROVEN: "?"}
SCOPE_WORDS = {
    "near": "every joint against ground, supplies against each other, and neighbours in line of sight within 1.27 mm "
    "(the nearest always); not asked: joints further apart, or with another joint between them",
    "wide": "every joint against ground, supplies against each other, and all joints within 1.27 mm; not asked: joints "
    "further apart",
    "all": "every pair of conductors that must be apart",
}
BADGE = 9.0

BASE = """
:root{color-scheme:light dark;--page:#fff;--ink:#1a1a1a;--soft:#555;--line:#b5b5b5;--band:#f2f2f2;--good:#0072B2;--bad:#B04A00;--mark:#000}
@media screen and (prefers-color-scheme:dark){:root{--page:#151515;--ink:#eee;--soft:#b8b8b8;--line:#555;--band:#232323;--good:#56B4E9;--bad:#F0914D;--mark:#fff}}
*{box-sizing:border-box}
html{background:var(--page);color:var(--ink);font:16px/1.45 system-ui,"DejaVu Sans","Liberation Sans",Arial,sans-serif;-webkit-text-size-adjust:100%}
body{margin:0 auto;padding:1rem;max-width:100rem;overflow-wrap:anywhere}
h1{font-size:1.45rem;line-height:1.2;margin:0 0 .3rem}h2{font-size:1.15rem;margin:1.6rem 0 .5rem;border-bottom:2px solid var(--line)}
h3{font-size:1rem;margin:.2rem 0 .3rem}p,ul,ol,dl{margin:.3rem 0}ul,ol{padding-left:1.3rem}dt{font-weight:bold}dd{margin:0 0 .4rem}
a{color:inherit;text-decoration:underline dotted}a:focus-visible{outline:3px solid var(--good);outline-offset:2px}
table{border-collapse:collapse;width:100%;font-size:.9rem}caption{text-align:left;font-weight:bold;padding:.2rem 0}
th,td{border:1px solid var(--line);padding:.2rem .4rem;text-align:left;vertical-align:top}thead th{background:var(--band);overflow-wrap:normal}
td.num{text-align:right}.soft{color:var(--soft)}.good{color:var(--good)}.bad{color:var(--bad)}
.verdict{border:3px solid;padding:.5rem .8rem;font-size:1.15rem;font-weight:bold}.verdict b{font-size:1.4rem}
figure{margin:0 0 1rem;min-width:0}figcaption{font-size:.9rem}.roll{overflow-x:auto}
.roll svg{display:block;width:100%;height:auto}
.swatch{width:1.1em;height:1.1em;vertical-align:-.2em}.cards{display:grid;gap:.8rem;grid-template-columns:repeat(auto-fit,minmax(min(100%,19rem),1fr))}
.card{border:1px solid var(--line);border-left-width:5px;padding:.5rem .7rem;min-width:0}.card.fault{border-left-color:var(--bad)}.card.gone{border-left-color:var(--good)}
.key{list-style:none;padding:0;font-size:.9rem}.gone-row{color:var(--soft)}
.pairs section:not(.long){break-inside:avoid}.word{overflow-wrap:normal}.joint{transition:opacity .1s}
"""
PAGE = """
.views{min-width:0}@media screen and (min-width:75rem){.split{display:grid;gap:2rem;grid-template-columns:minmax(0,5fr) minmax(0,7fr)}
.views .hold{position:sticky;top:0;max-height:100vh;overflow-y:auto}.pairs{display:grid;gap:2rem;grid-template-columns:minmax(0,1fr) minmax(0,1fr)}}
@media screen and (max-width:40rem){table{font-size:.8rem}th,td{padding:.15rem .2rem}.points{min-width:4.2rem}.note{min-width:5.5rem}}
@media print{@page{size:A4;margin:9mm}html{font-size:7.5pt;line-height:1.2}body{padding:0;max-width:none}h1{font-size:13pt}h2{font-size:10pt;margin:2mm 0 1mm;break-after:avoid;border-bottom-width:1px}
h3{font-size:8.5pt;margin:0 0 .5mm}p,ul,ol,dl{margin:.4mm 0}dd{margin:0 0 .5mm}table{width:calc(100% - .3mm);font-size:7pt;line-height:1.12}th,td{padding:.25mm 1mm}tr,.card,figure{break-inside:avoid}
.verdict{font-size:10pt;padding:1mm 2mm;border-width:2px}.verdict b{font-size:12pt}.figures{display:flex;gap:5mm}.figures figure{flex:var(--wide) 1 0;margin:0 0 1mm}.figures figcaption,.key{font-size:7.4pt}
.roll svg{min-width:0!important}.cards{gap:2mm;grid-template-columns:repeat(auto-fit,minmax(44mm,1fr))}.state{min-width:23mm}.note{min-width:20mm}.card{padding:1mm 2mm}.round figure svg{max-width:64mm!important}.columns{columns:2;column-gap:4mm}.pairs{columns:2;column-gap:4mm}.pairs>div{display:contents}.pairs h2{margin-top:1mm}.points{min-width:17mm}.joint-state{min-width:20mm}
.key li{display:inline;margin-right:3mm}.roll{overflow:visible}a{text-decoration:none}}
"""
CARD = """
main{max-width:60rem}.sheet{display:grid;gap:.8rem;grid-template-columns:minmax(0,1fr)}label{white-space:nowrap}label input{margin:0 .25rem 0 0;vertical-align:-.1em}
.again{list-style:none;padding:0;display:flex;flex-wrap:wrap;gap:.1rem .9rem}.foot{font-size:.85rem;border-top:1px dashed var(--line);padding-top:.3rem}h2{margin:0}
@media screen and (min-width:48rem){.sheet{grid-template-columns:minmax(0,3fr) minmax(0,2fr)}}
@media print{@page{size:A4;margin:8mm}html{font-size:8.5pt;line-height:1.2}body{padding:0;max-width:none;border-bottom:1px dashed #777}main{max-width:none}h1{font-size:12pt;margin:0}
h2{font-size:8.5pt;margin:0 0 1mm;border:0}p,ul{margin:.5mm 0}.sheet{gap:4mm;grid-template-columns:minmax(0,3fr) minmax(0,2fr)}table{font-size:8pt}th,td{padding:.4mm 1mm}figure{margin:0 0 1mm}figcaption{font-size:7.5pt}
tr{break-inside:avoid}.foot{font-size:7.3pt}.roll{overflow:visible}.roll svg{min-width:0!important;max-height:42mm}label input{width:3.2mm;height:3.2mm}}
"""
_HEAD = (
    '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">\n'
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
    '<meta name="viewport" content="width=device-width,initial-scale=1"><meta name="referrer" content="no-referrer">\n'
)


def text(raw: object) -> str:
    """Text for the page: control characters and direction marks shown as `?`, markup escaped.

    >>> text('<b>"\\u202e')
    '&lt;b&gt;&quot;?'
    """
    return escape(printable(str(raw)), {'"': "&quot;", "'": "&#39;"})


def said(raw: object) -> str:
    """A user's own words, kept from turning the line around them."""
    return f"<bdi>{text(raw)}</bdi>" if raw else ""


def report_html(found: Report) -> str:
    """The whole page."""
    result = found.result
    title = f"Connector check: {result.title}"
    body = [
        f"<header><h1>{text(title)}</h1><p>{_job_line(found)}</p></header><main>",
        _verdict(found),
        '<div class="split">',
        _drawings(found),
        f"<div>{_rounds(found)}{_finding_list(found)}{_rework(found)}</div></div>",
        f'<div class="pairs"><div>{_ledger(found)}{_joints(found)}</div><div>{_risk(found)}{_meter(found)}{_cautions()}</div></div>',
        _readings(found),
        "</main>",
    ]
    return _document(title, BASE + PAGE + _links(found), body)


def card_html(found: Report) -> str:
    """The rework card: the drawing with numbered sites, the steps, what to probe again, boxes to tick."""
    result = found.result
    title = f"Rework card: {result.title}"
    body = [f"<main><h1>{text(title)}</h1><p>{_job_line(found)}</p>"]
    if not result.rework:
        body.append(f"<p class='verdict'>nothing to rework; {text(VERDICT_WORDS[result.verdict])}</p>")
    else:
        rows = "".join(
            f'<tr><th scope="row">{s.step}</th><td>{_names(s.joints)}<br><b>{_harm(s.harm)}</b>, {_names(s.nets, " + ")}</td>'
            f'<td>{text(s.do)}</td><td><label><input type="checkbox">done</label></td></tr>'
            for s in result.rework
        )
        again = "".join(f'<li><label><input type="checkbox">{_pair(p)}</label></li>' for p in found.probe_again)
        body += [
            _figure(found.bench, result.rework),
            '<div class="sheet"><div><table>',
            "<caption>Steps, by the number at the site</caption><thead><tr><th scope='col'>no.</th><th scope='col'>joints</th>"
            f"<th scope='col'>do</th><th scope='col'>tick</th></tr></thead><tbody>{rows}</tbody></table></div>",
            f"<div><h2>Probe again when cold ({len(found.probe_again)})</h2><ul class='again'>{again}</ul></div></div>",
        ]
    body.append(f"<p class='foot'>{text(' '.join([*CAUTIONS, LOCAL_RULES]))}</p></main>")
    return _document(title, BASE + CARD, body)


def _document(title: str, style: str, body: Iterable[str]) -> str:
    head = f"<title>{text(title)}</title><style>{style}{drawing_style()}</style></head><body>"
    return _HEAD + head + "\n".join(body) + "</body></html>\n"


def _job_line(found: Report) -> str:
    result = found.result
    variant = f", {text(result.variant)}" if result.variant else ""
    return (
        f"Job {said(found.file)}: pin map {text(result.map)}{variant}, layout {text(result.layout)}, scope {text(result.scope)}; "
        f"{_plural(result.record.rounds, 'round')}; standing: {_plural(result.record.standing, 'reading')}; "
        f"{result.record.stale} went stale, {result.record.taken_back} taken back, {result.record.unsure} unsure."
    )


def _plural(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def _names(names: Iterable[str], between: str = " ") -> str:
    return between.join(said(name) for name in names)


def _pair(pair: PointPair | Sequence[str]) -> str:
    return " - ".join(said(name) for name in pair)


def _harm(harm: str) -> str:
    return text(HARM_WORDS.get(harm, harm))


def _verdict(found: Report) -> str:
    result, ledger = found.result, found.result.ledger
    tone = {CLEAR: "good", REWORK: "bad"}.get(result.verdict, "")
    left = _plural(len(result.unproven), "pair") + " still to be touched. " if result.unproven else ""
    landings = "" if result.landings_required else (
        f" Whether single signals reach their tracks was not required: {ledger.landings_reached} of {ledger.landings_listed} were shown to."
    )  # fmt: skip
    return (
        f'<section aria-labelledby="verdict"><h2 id="verdict">Verdict</h2><p class="verdict {tone}">'
        f"<b aria-hidden='true'>{VERDICT_SHAPES[result.verdict]}</b> {text(VERDICT_WORDS[result.verdict])}</p>"
        f"<p><b>It proves:</b> {_count(ledger.joins)} joins of joints to their nets, {_count(ledger.isolation)} isolations. {left}"
        f"{SPEAKS_OF}</p><p><b>It does not prove:</b> {PROVES_NOT}{landings} "
        f"{ledger.not_in_scope} pairs that must be apart were never in scope.</p></section>"
    )


def _count(count: Count) -> str:
    return f"{count.proven} of {count.needed}"


class _Pads(Sheet):
    """A drawing of the pads alone, each with the class of its joint; the page says the rest in words."""

    def __init__(self, drawn: Drawn, steps: Sequence[ReworkStep] = ()) -> None:
        super().__init__(drawn.view, drawn.states)
        self.drawn, self.steps, self.y = drawn, steps, 4.0 if steps else 0.0
        self.at: dict[str, tuple[float, float]] = {}
        widest = max(self.extent(part) for part in self.parts) * self.scale
        self.width = round(widest + 40)

    def document(self) -> str:
        for number, part in enumerate(self.parts, 1):
            self.part(part, number)
        self.badges()
        height, name = round(self.y + 10), f"drawing-{self.drawn.id}"
        told = " ".join(f"{line[:1].upper()}{line[1:]}." for _, line in state_lines(self.view, self.states))
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="cc" role="img" aria-labelledby="{name}-title {name}-desc" '
            f'viewBox="0 0 {self.width} {height}" style="min-width:{min(self.width * 0.8, 280) if self.width < 450 else self.width * 0.6:.0f}px;'
            f'max-width:{self.width * 1.3:.0f}px"><title id="{name}-title">{text(self.drawn.heading)}: {text(self.view.title)}</title>'
            f'<desc id="{name}-desc">{text(self.view.caption)} {text(told)}</desc>{"".join(self.body)}</svg>'
        )

    def pad(self, mark: Mark, x: float, y: float) -> str:
        drawn = super().pad(mark, x, y)
        joint = self.drawn.joint_of.get(mark.name)
        return drawn if joint is None else drawn.replace('class="joint', f'class="j{joint} joint', 1)

    def solder(self, marks, at, edges):  # type: ignore[no-untyped-def]
        self.at.update(at)
        return super().solder(marks, at, edges)

    def badges(self) -> None:
        """The number of each step at its site: above a pad or between two."""
        marks = {m.name: m for m in self.view.marks}
        taken: list[tuple[float, float]] = []
        for step in self.steps:
            names = [name for name in step.joints if name in self.at][:2]
            if not names:
                continue
            spots = [self.at[name] for name in names]
            x, y = sum(s[0] for s in spots) / len(spots), sum(s[1] for s in spots) / len(spots)
            if len(spots) == 1 or abs(spots[0][0] - spots[1][0]) >= abs(spots[0][1] - spots[1][1]):
                y = min(self.at[n][1] - marks[n].height * self.scale / 2 for n in names) + 1
            if len(spots) == 1:
                x += marks[names[0]].width * self.scale / 2
            while any(abs(x - a) < 2 * BADGE and abs(y - b) < 2 * BADGE for a, b in taken):
                x += 2 * BADGE
            x = min(max(x, BADGE + 1), self.width - BADGE - 1)
            taken.append((x, y))
            self.body.append(
                f'<g class="badge"><circle cx="{x:.1f}" cy="{max(y, BADGE + 1):.1f}" r="{BADGE:g}" fill="#ffffff" stroke="#000000" '
                f'stroke-width="2"/><text x="{x:.1f}" y="{max(y, BADGE + 1) + 4:.1f}" text-anchor="middle" '
                f'style="fill:#000000;font-weight:bold">{step.step}</text></g>'
            )


def _swatch(drawn: Drawn, state: State) -> str:
    kind = state_kind(state)
    mark = Sheet(drawn.view, drawn.states).swatch(kind, 10, 10)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="cc swatch" viewBox="0 0 20 20" aria-hidden="true">{mark}</svg>'
    )


def _figure(drawn: Drawn, steps: Sequence[ReworkStep] = (), caption: str = "") -> str:
    pads = _Pads(drawn, steps)
    return (
        f'<figure style="--wide:{pads.width}"><div class="roll" tabindex="0" role="group" aria-label="{text(drawn.heading)}, drawing">'
        f"{pads.document()}</div><figcaption>{text(caption or drawn.view.caption)}</figcaption></figure>"
    )


def _key(drawn: Drawn) -> str:
    first: dict[str, State] = {}
    names: dict[str, list[str]] = {}
    for mark in drawn.view.marks:
        state = drawn.states.get(mark.name)
        if state is not None:
            kind = state_kind(state)
            first.setdefault(kind, state)
            names.setdefault(kind, []).append(mark.name)
    order = sorted(first, key=lambda kind: KINDS.index(first[kind].kind))
    return "<ul class='key'>" + "".join(
        f"<li>{_swatch(drawn, first[kind])} {text(first[kind].kind)}{', likeliest place of the solder' if first[kind].sites else ''} "
        f"({len(names[kind])}): {_names(names[kind])}</li>" for kind in order
    ) + "</ul>"  # fmt: skip


def _drawings(found: Report) -> str:
    figures = "".join(_figure(drawn) for drawn in found.drawings)
    return (
        '<section class="views" aria-labelledby="drawn"><div class="hold"><h2 id="drawn">The connector now</h2>'
        f'<div class="figures">{figures}</div>{_key(found.work)}</div></section>'
    )


def _joints(found: Report) -> str:
    titles = {f.id: f for r in found.rounds for f in r.findings}
    rows = []
    for joint in found.joints:
        links = ", ".join(f'<a href="#{i}">{titles[i].round}: {_harm(titles[i].harm)}</a>' for i in joint.findings)
        rows.append(
            f'<tr id="joint-{joint.number}" class="j{joint.number}"><th scope="row">{said(joint.name)}</th><td>{said(joint.label)}</td>'
            f'<td class="word">{text(joint.role)}</td><td class="joint-state">{_swatch(found.work, joint.state)} {text(joint.state.word)}</td><td>{links}</td></tr>'
        )
    return (
        '<section class="long" aria-labelledby="joints"><h2 id="joints">Every joint</h2><table><caption>State of each joint at the '
        'end of the job</caption><thead><tr><th scope="col">joint</th><th scope="col">signal</th><th scope="col">role</th>'
        f'<th scope="col">state</th><th scope="col">findings by round</th></tr></thead><tbody>{"".join(rows)}</tbody></table></section>'
    )


def _fate(finding: Finding) -> str:
    if finding.fate == OPEN_NOW:
        return "stands now"
    if finding.fate == CLEARED and finding.cleared_by:
        shown = ", ".join(_evidence(r) for r in finding.cleared_by[:4])
        return f"cleared in round {finding.round + 1}: {shown}"
    if finding.fate == CLEARED:
        return f"no longer found in round {finding.round + 1}"
    return f"{text(finding.fate)} in round {finding.round + 1}"


def _evidence(reading: Reading) -> str:
    return f"{_pair(reading.points)} {text(reading.said)} ({_line(reading.line)})"


def _line(number: int) -> str:
    return f'<a href="#line-{number}">line {number}</a>'


def _headline(finding: Finding) -> str:
    nets = _names(finding.nets, " + ") or _pair(finding.points[:2])
    return f'<a href="#{finding.id}">{_harm(finding.harm)}: {nets}</a>'


def _rounds(found: Report) -> str:
    return (
        '<section aria-labelledby="rounds"><h2 id="rounds">Rounds side by side</h2><div class="cards">'
        + "".join(_round(r) for r in found.rounds)
        + "</div></section>"
    )


def _round(one: Round) -> str:
    wrong = "".join(f"<li>{_headline(f)}: {text(f.why)}</li>" for f in one.findings)
    parts = [
        f'<section class="card round"><h3>Round {one.number}: {text(one.verdict)}</h3><p class="soft">'
        f"{_plural(one.readings, 'reading')} stood at its end; proven then: joins {_count(one.ledger.joins)}, isolation {_count(one.ledger.isolation)}</p>"
    ]
    parts.append(f"<dl><dt>What was wrong</dt><dd>{f'<ul>{wrong}</ul>' if wrong else 'nothing found'}</dd>")
    if one.done:
        done = "".join(
            f"<li>{text(r.said)} {_names(r.points)}{': ' + said(r.note) if r.note else ''} ({_line(r.line)})</li>"
            for r in one.done
        )
        parts.append(f"<dt>What was done</dt><dd><ul>{done}</ul></dd>")
        cleared = "".join(f"<li>{_headline(f)}: {_fate(f)}</li>" for f in one.findings)
        parts.append(f"<dt>What cleared it</dt><dd><ul>{cleared}</ul></dd>" if cleared else "")
    parts.append("</dl>")
    parts.append(_figure(one.drawn, caption=one.drawn.heading) if one.drawn else "")
    parts.append("</section>")
    return "".join(parts)


def _finding_list(found: Report) -> str:
    listed = [f for r in reversed(found.rounds) for f in r.findings]
    labels = {j.number: j.name for j in found.joints}
    cards = "".join(_finding(f, labels) for f in listed) or "<p>No fault was found in any round.</p>"
    harmless = "".join(f"<li>{_names(h.joints)}: {text(h.why)}</li>" for h in found.result.harmless)
    told = f"<h3>Harmless, not to be reworked</h3><ul>{harmless}</ul>" if harmless else ""
    return f'<section aria-labelledby="findings"><h2 id="findings">Findings</h2><div class="cards">{cards}</div>{told}</section>'


def _finding(f: Finding, labels: Mapping[int, str]) -> str:
    gone = f.fate == CLEARED
    volts = f"<p><b>At stake:</b> {f.volts:g} V</p>" if f.volts is not None else ""
    sites = "".join(f"<li>{text(s)}</li>" for s in f.sites)
    joints = " ".join(f'<a href="#joint-{j}" class="j{j}">{said(labels[j])}</a>' for j in f.joints)
    lines = ", ".join(_line(n) for n in f.lines)
    return (
        f'<article id="{f.id}" class="card {"gone" if gone else "fault" if is_fault(f) else ""}"><h3>{_headline(f)}</h3>'
        f"<p>Round {f.round}; {_fate(f)}.</p><p><b>{'Harm' if is_fault(f) else 'Why'}:</b> {text(f.why)}</p>{volts}"
        f"<p><b>Joints:</b> {joints or 'none drawn'}</p>"
        + (f"<p><b>Solder most likely:</b></p><ul>{sites}</ul>" if sites else "")
        + (f"<p><b>Readings:</b> {lines}</p>" if lines else "")
        + "</article>"
    )


def _rework(found: Report) -> str:
    steps = found.result.rework
    rows = "".join(
        f'<tr><th scope="row">{s.step}</th><td>{_names(s.joints)}</td><td>{_harm(s.harm)}: {_names(s.nets, " + ")}</td><td>{text(s.do)}'
        f"<br><span class='soft'>probe again: {', '.join(_pair(p) for p in s.probe_again) or 'nothing'}</span></td></tr>"
        for s in steps
    )
    table = (
        '<table><caption>Steps, and the pairs to probe again when cold</caption><thead><tr><th scope="col">step</th><th scope="col">joints</th>'
        f'<th scope="col">harm</th><th scope="col">do</th></tr></thead><tbody>{rows}</tbody></table>'
    )
    return (
        f'<section aria-labelledby="rework"><h2 id="rework">Rework list</h2>{table if rows else "<p>Nothing to rework now.</p>"}</section>'
    )  # fmt: skip


def _ledger(found: Report) -> str:
    ledger, result = found.result.ledger, found.result
    rows = [
        ("joins: joints to the board points of their nets", ledger.joins,
         f"{ledger.joins.assumed} joined to their fellows only" if ledger.joins.assumed else ""),
        ("isolation: what must be apart", ledger.isolation, ""),
        ("landings: single signals to their tracks",
         ledger.landings if result.landings_required else Count(ledger.landings_listed, ledger.landings_reached),
         "" if result.landings_required else "listed, not required"),
    ]  # fmt: skip
    cells = "".join(
        f'<tr><th scope="row">{text(name)}</th><td class="num">{count.needed}</td><td class="num">{count.proven}</td><td>{text(note)}</td></tr>'
        for name, count, note in rows
    )
    missing = ", ".join(_pair(p) for p in result.unproven)
    tied = "".join(f"<li>One conductor on this board by design: {_names(group, ' + ')}.</li>" for group in found.ties)
    unreached = (
        f"<li>Not shown to reach their tracks: {_names(found.landings_open)}.</li>" if found.landings_open else ""
    )
    return (
        '<section aria-labelledby="ledger"><h2 id="ledger">Ledger</h2><table><caption>What was to be proven, and what was</caption>'
        '<thead><tr><th scope="col">kind</th><th scope="col">needed</th><th scope="col">proven</th><th scope="col">remark</th></tr></thead>'
        f"<tbody>{cells}</tbody></table>"
        + (f"<p><b>Still to be touched ({len(result.unproven)}):</b> {missing}</p>" if missing else "")
        + f"<h3>Never in scope</h3><ul><li>{ledger.not_in_scope} pairs that must be apart were not asked for. "
        f"Scope {text(result.scope)}: {text(SCOPE_WORDS[result.scope])}.</li>{unreached}{tied}</ul></section>"
    )


def _risk(found: Report) -> str:
    first, *rest = residual_lines(found.residual)
    assumed = "".join(
        f"<li>{text(line)}</li>" for line in [*rest, *(f"assumed: {a}" for a in found.result.assumptions)]
    )
    return (
        f'<section aria-labelledby="risk"><h2 id="risk">Residual risk</h2><p>{text(first[:1].upper() + first[1:])}. Not measured: it follows from '
        f"the assumptions below, none of which rests on published figures.</p><ul>{assumed}</ul></section>"
    )


def _meter(found: Report) -> str:
    low, high = found.result.meter
    known = "as the job says" if found.meter_told else "unknown meter, careful default"
    checks = "".join(
        f"<li>{text(r.said)} ({_line(r.line)}){': ' + said(r.note) if r.note else ''}</li>" for r in found.leads
    )
    return (
        '<section aria-labelledby="meter"><h2 id="meter">Meter and lead checks</h2>'
        f"<p>Sounds below {low:g} ohm, silent above {high:g} ohm ({known}). Leads: {found.leads_ohms:g} ohm, taken off every ohms reading.</p>"
        + (f"<ul>{checks}</ul>" if checks else "<p>No lead check in the job.</p>")
        + "</section>"
    )


def _cautions() -> str:
    lines = text(" ".join((*CAUTIONS, LOCAL_RULES)))
    return f'<section aria-labelledby="cautions"><h2 id="cautions">Cautions</h2><p>{lines}</p></section>'


def _readings(found: Report) -> str:
    rows = "".join(_reading(r) for r in found.readings)
    return (
        f'<section aria-labelledby="readings"><h2 id="readings">All readings</h2><div class="columns"><table><caption>{len(found.readings)} lines in '
        'time order; nothing is erased</caption><thead><tr><th scope="col">line</th><th scope="col">points</th><th scope="col">meter</th>'
        '<th scope="col">state</th><th scope="col">note</th></tr></thead>'
        f"<tbody>{rows}</tbody></table></div></section>"
    )


def _reading(r: Reading) -> str:
    state = text(r.state)
    if r.state == STANDS:
        state += f": {text(r.proves)}"
    elif r.ended_by:
        state += f" by {_line(r.ended_by)}"
    tone = "" if r.state == STANDS else ' class="gone-row"'
    return (
        f'<tr id="line-{r.line}"{tone}><th scope="row">{r.line}</th><td class="points">{_pair(r.points)}</td><td class="word">{text(r.said)}</td><td class="state">{state}</td>'
        f'<td class="note">{said(r.note)}</td></tr>'
    )


def _links(found: Report) -> str:
    """Rules that show a finding's joints when it is hovered or focused, and a joint's findings."""
    on = ":is(:hover,:focus-within,:target)"
    rules = [
        "@media screen{tr:target,tr:target td,article:target{background:var(--band)}",
    ]
    for f in (f for r in found.rounds for f in r.findings):
        if not f.joints:
            continue
        its = ",".join(f".j{j}" for j in f.joints)
        rules.append(
            f"body:has(#{f.id}:is(:hover,:focus-within)) .joint:not({its}){{opacity:.25}}"
            f"body:has(#{f.id}{on}) :is({its}) .pad{{stroke:var(--mark);stroke-width:4}}"
        )
    for joint in found.joints:
        name = f".j{joint.number}"
        rules.append(f"body:has(:is(g,tr){name}{on}) :is({name}.joint) .pad{{stroke:var(--mark);stroke-width:4}}")
        if joint.findings:
            its = ",".join(f"#{i}" for i in joint.findings)
            rules.append(f"body:has(:is(g,tr){name}{on}) :is({its}){{outline:3px solid var(--mark)}}")
    return "".join(rules) + "}"
