"""The templates of the pages: each uses the context that it is said to get, and text of a job is never markup."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from jinja2 import UndefinedError, meta

from connector_check.job import load_job
from connector_check.renderers import html
from connector_check.renderers.html import (
    GLOBALS,
    CardPage,
    ReportPage,
    card_page,
    environment,
    report_page,
)
from connector_check.reports.report import Report, report
from tests.test_report import EXAMPLE, Page, hostile_job, write_job

TEMPLATES = Path(html.__file__).with_name("templates")
NAMES = sorted(path.relative_to(TEMPLATES).as_posix() for path in TEMPLATES.rglob("*") if path.is_file())
PAGES = {"report.html": (ReportPage, report_page), "card.html": (CardPage, card_page)}
MACROS = ("words.html", "findings.html")
"""Templates of macros alone, which see nothing but their arguments."""

HOSTILE = "</style></title><b class=\"hostile\" onclick='x'>&amp;\x1b\u202e"
KEPT = {"id", "findings", "verdict", "harm", "scope", "kind", "role", "shape", "fate", "state"}
"""Fields that hold one of our own words or ids, by which pages choose what to show."""


def parsed(name: str):
    environment_ = environment()
    assert environment_.loader
    return environment_.parse(environment_.loader.get_source(environment_, name)[0])


def used(name: str) -> set[str]:
    """The names that a template takes from its context, with those of the templates that it includes or extends."""
    tree = parsed(name)
    found = meta.find_undeclared_variables(tree) - GLOBALS.keys()
    for other in meta.find_referenced_templates(tree):
        assert other is not None
        if other not in MACROS:
            found |= used(other)
    return found


def reached(name: str) -> set[str]:
    return {name}.union(*(reached(other) for other in meta.find_referenced_templates(parsed(name)) if other))


@pytest.mark.parametrize("name", PAGES)
def test_a_page_uses_what_it_is_given_and_no_more(name):
    record, gather = PAGES[name]
    assert used(name) == {field.name for field in fields(record)}
    assert vars(gather(report(load_job(str(EXAMPLE))))).keys() == used(name)


def test_every_template_belongs_to_a_page():
    assert set(NAMES) == reached("report.html") | reached("card.html")


@pytest.mark.parametrize("name", MACROS)
def test_macros_see_their_arguments_only(name):
    assert meta.find_undeclared_variables(parsed(name)) <= GLOBALS.keys()


@pytest.mark.parametrize("name", PAGES)
def test_a_missing_name_is_an_error(name):
    context = vars(PAGES[name][1](report(load_job(str(EXAMPLE)))))
    for missing in ("title", "cautions", "drawing_style"):
        with pytest.raises(UndefinedError, match=missing):
            environment().get_template(name).render({key: context[key] for key in context if key != missing})


def hostile(value: Any, key: str = "") -> Any:
    """The value with hostile text before each text in it, but for our own words."""
    if isinstance(value, str):
        return value if key in KEPT else HOSTILE + value
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{f.name: hostile(getattr(value, f.name), f.name) for f in fields(value)})
    if hasattr(value, "_fields"):
        return value._replace(**{name: hostile(getattr(value, name), name) for name in value._fields})
    if isinstance(value, tuple):
        return tuple(hostile(part, key) for part in value)
    if isinstance(value, dict):
        return {hostile(name): hostile(part) for name, part in value.items()}
    return value


def jobs(folder: Path) -> list[Path]:
    first = folder / "round1.csv"
    first.write_text("\n".join(EXAMPLE.read_text(encoding="utf-8").splitlines()[:38]) + "\n", encoding="utf-8")
    own = folder / "own"
    own.mkdir()
    odd = ",,leads good,\n1,2,quiet,\n2,3,40,\n5,6,beep,\n1,4,quiet,\n1,4,beep,\nSH1,SH2,beep,\n3,@GND,0.001 V,\n"
    return [EXAMPLE, first, hostile_job(folder), write_job(own, odd)]


def live(page: str) -> list[str]:
    """What of the hostile text became markup."""
    return [value for _, key, value in Page(page).attributes if value == "hostile" or key == "onclick"]


def found_hostile(folder: Path) -> list[Report]:
    return [hostile(report(load_job(str(job)))) for job in jobs(folder)]


@pytest.mark.parametrize("name", PAGES)
def test_no_text_of_a_record_becomes_markup(name, tmp_path):
    for found in found_hostile(tmp_path):
        page = environment().get_template(name).render(vars(PAGES[name][1](found)))
        assert live(page) == []
        assert page.count("</style>") == 1
        assert Page(page).words.count('<b class="hostile"') > 5
        assert "\u202e" not in page and "\x1b" not in page


@pytest.mark.parametrize("name", PAGES)
def test_without_autoescape_it_would(name, tmp_path):
    loose = environment().overlay(autoescape=False)
    for found in found_hostile(tmp_path):
        assert "hostile" in live(loose.get_template(name).render(vars(PAGES[name][1](found))))
