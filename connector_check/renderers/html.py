"""A report, and the rework card, as one HTML file each: no requests, no scripts, text escaped, drawings inline.

The pages are Jinja2 templates in `templates/`. What links a finding to its joints is CSS alone: classes `j0`, `j1`, ...
stand for joints, in every drawing and table.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from connector_check.analysis.replay import STANDS
from connector_check.analysis.result import CLEAR, REWORK, UNPROVEN, Result, ReworkStep
from connector_check.analysis.states import APART, State
from connector_check.drawing.look import drawing_style
from connector_check.drawing.strip import StripWords, strip_words
from connector_check.files.text import printable
from connector_check.renderers.pads import KeyEntry, Pads, key_entries, swatch_svg
from connector_check.renderers.residual import residual_lines
from connector_check.renderers.text import CAUTIONS, HARM_WORDS, doubt_words, parts_words, search_words, verdict_words
from connector_check.reports.report import CLEARED, OPEN_NOW, Drawn, Finding, Report, is_fault

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

LOCAL_RULES = "Where licensed practice is required, follow it."
VERDICT_SHAPES = {CLEAR: "\N{CHECK MARK}", REWORK: "\N{MULTIPLICATION SIGN}", UNPROVEN: "?"}
SCOPE_WORDS = {
    "near": "every joint against ground, supplies against each other, and neighbours in line of sight up to 1.27 mm or "
    "1.6 times the larger of the two joints' own nearest gaps (the nearest always); not asked: joints further apart, "
    "or with another joint between them",
    "wide": "every joint against ground, supplies against each other, and all joints up to 1.27 mm or 1.6 times the "
    "larger of the two joints' own nearest gaps; not asked: joints further apart",
    "all": "every pair of conductors that must be apart",
}
GLOBALS = {"APART": APART, "CLEARED": CLEARED, "OPEN_NOW": OPEN_NOW, "STANDS": STANDS}
"""Names that every template may use beside its context."""


class Figure(NamedTuple):
    """A drawing on a page: what it is called, how wide it is drawn in pixels, its SVG, and the line under it."""

    heading: str
    width: int
    svg: Markup
    caption: str


class Verdict(NamedTuple):
    """A verdict: `good`, `bad` or ``, its shape, its words, and its two parts."""

    tone: str
    shape: str
    words: str
    parts: str


@dataclass(frozen=True)
class ReportPage:
    """The context of `report.html` and of the sections that it includes.

    title: of the page; drawing_style: the style sheet of its drawings; found: the record itself; verdict; scope_words:
    what the scope asks; figures: of the final state; key: of the side the iron works on; round_figures: by number of
    the round; findings: of all rounds, by id; joint_names: by number of the joint; doubt: a bad board
    that would read the same; search: within which faults none would; risks: the residual risks, each as the start of
    a sentence, none beside findings; assumed: what that and the result assume; cautions: as one paragraph; strip: of
    the sweep in diode mode, empty where there was none.
    """

    title: str
    drawing_style: Markup
    found: Report
    verdict: Verdict
    scope_words: str
    figures: Sequence[Figure]
    key: Sequence[KeyEntry]
    round_figures: Mapping[int, Figure]
    findings: Mapping[str, Finding]
    joint_names: Mapping[int, str]
    doubt: str
    search: str
    risks: Sequence[str]
    assumed: Sequence[str]
    cautions: str
    strip: Sequence[StripWords]


@dataclass(frozen=True)
class CardPage:
    """The context of `card.html`: as of a report, and the drawing with the numbers of the steps."""

    title: str
    drawing_style: Markup
    found: Report
    verdict: Verdict
    bench: Figure
    cautions: str


def report_html(found: Report) -> str:
    """The whole page of a job."""
    return _page("report.html", report_page(found))


def card_html(found: Report) -> str:
    """The rework card: the drawing with numbered sites, the steps, what to probe again, boxes to tick."""
    return _page("card.html", card_page(found))


def report_page(found: Report) -> ReportPage:
    """What the page of a job shows."""
    result = found.result
    bridge, contact, *assumed = residual_lines(found.residual) if found.residual else ("", "")
    return ReportPage(
        title=f"Connector check: {result.title}",
        drawing_style=_markup(drawing_style()),
        found=found,
        verdict=_verdict(result),
        scope_words=SCOPE_WORDS[result.scope],
        figures=[_figure(drawn) for drawn in found.drawings],
        key=key_entries(found.work),
        round_figures={r.number: _figure(r.drawn, caption=r.drawn.heading) for r in found.rounds if r.drawn},
        findings={finding.id: finding for r in found.rounds for finding in r.findings},
        joint_names={joint.number: joint.name for joint in found.joints},
        doubt=doubt_words(result.doubt) if result.doubt else "",
        search=search_words(result),
        risks=[line[:1].upper() + line[1:] for line in (bridge, contact) if line],
        assumed=[*assumed, *(f"assumed: {line}" for line in result.assumptions)],
        cautions=_cautions(),
        strip=[strip_words(line) for line in result.strip],
    )


def card_page(found: Report) -> CardPage:
    """What the rework card of a job shows."""
    result = found.result
    return CardPage(
        title=f"Rework card: {result.title}",
        drawing_style=_markup(drawing_style()),
        found=found,
        verdict=_verdict(result),
        bench=_figure(found.bench, result.rework),
        cautions=_cautions(),
    )


def _verdict(result: Result) -> Verdict:
    tone = {CLEAR: "good", REWORK: "bad"}.get(result.verdict, "")
    return Verdict(tone, VERDICT_SHAPES[result.verdict], verdict_words(result), parts_words(result))


def _figure(drawn: Drawn, steps: Sequence[ReworkStep] = (), caption: str = "") -> Figure:
    pads = Pads(drawn, steps)
    return Figure(drawn.heading, pads.width, _markup(pads.document()), caption or drawn.view.caption)


def _cautions() -> str:
    return " ".join((*CAUTIONS, LOCAL_RULES))


def _page(template: str, context: ReportPage | CardPage) -> str:
    return environment().get_template(template).render(vars(context))


@cache
def environment() -> Environment:
    """What turns templates into pages: all text is made printable, then escaped; a missing name is an error."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("connector_check.renderers"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_shown,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.globals = dict(GLOBALS)
    made.filters["harm"] = lambda harm: HARM_WORDS.get(harm, harm)
    made.filters["swatch"] = _swatch
    made.tests["fault"] = is_fault
    return made


def _shown(value: Any) -> Any:
    """A value for the page: control characters and direction marks shown as `?`; what is markup already stays."""
    return value if hasattr(value, "__html__") else printable(str(value))


def _swatch(state: State) -> Markup:
    return _markup(swatch_svg(state))


def _markup(ours: str) -> Markup:
    """What our own writer of drawings made, put on the page as it is; never anything a user wrote."""
    from markupsafe import Markup

    return Markup(ours)
