"""No output says more than was proven: contact left out, a doubt, ohms without a part, risk beside findings."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner

from connector_check.analysis.examine import Settings, examine
from connector_check.analysis.states import APART, KINDS, MARKS, PROVEN, SITE_MARK, UNPROVEN, joint_states
from connector_check.cli.commands import main
from connector_check.drawing.look import FILLS, GLYPHS, class_of, drawing_style
from connector_check.job import load_job
from connector_check.reports.report import report
from tests.strategies import TINY_YAML

EXAMPLE = Path(__file__).resolve().parents[1] / "examples" / "village-workshop-vga.csv"
SHORTS = (
    ",,leads good\nGND,1,beep\nGND,4,beep\nGND,7,beep\n2,+5V,beep\n"
    "1,2,quiet\n2,3,quiet\n3,4,quiet\n4,5,quiet\n5,6,quiet\n6,7,quiet\n,,leads good\n"
)
LEFT_OUT = "clear of shorts; contact of 2 joints not tested"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "tiny.yaml").write_text(TINY_YAML)
    (tmp_path / "job.csv").write_text("# map: tiny.yaml\n" + SHORTS)
    # the example without the ohms at 6 and 7 that the doubt asked for in its second round
    lines = [line for line in EXAMPLE.read_text().splitlines() if not line.startswith(("6,@GND,0.4,", "7,@GND,0.4,"))]
    (tmp_path / "doubt.csv").write_text("\n".join([*lines[:5], "6,@GND,0.4,", "7,@GND,0.4,", *lines[5:]]) + "\n")
    return tmp_path


def run(*args: str):
    return CliRunner().invoke(main, args, catch_exceptions=False)


@pytest.mark.parametrize("form", ["text", "csv", "markdown", "html"])
def test_contact_that_was_left_out_is_said_in_every_format(folder, form):
    done = run("check", "job.csv", "--shorts-only", "--format", form)
    assert done.exit_code == 0 and LEFT_OUT in done.stdout and "everything in scope was proven" not in done.stdout
    assert run("check", "job.csv", "--format", form).exit_code == 4


def test_contact_that_was_left_out_in_json_card_plan_and_rounds(folder):
    said = json.loads(run("check", "job.csv", "--shorts-only", "--format", "json").stdout)
    assert said["shorts_only"] is True and said["ledger"]["contacts"] == {"needed": 3, "proven": 1}
    assert said["parts"] == {"shorts": "clear", "contact": "not tested"}
    assert LEFT_OUT in run("rework", "job.csv", "--shorts-only", "--format", "html").stdout
    plan = run("plan", "job.csv", "--shorts-only").stdout
    assert LEFT_OUT in plan and "contact of 2 joints is not asked for" in plan
    found = report(load_job("job.csv"), Settings(shorts_only=True))
    assert [one.verdict for one in found.rounds] == ["clear of shorts"]


def test_the_rounds_of_a_report_count_contact_too(folder):
    for words, told in (((), "contact of other joints 1 of 3</p>"), (("--shorts-only",), "1 of 3 (left out)</p>")):
        page = " ".join(run("report", "job.csv", *words).stdout.split())
        card = page[page.index("proven then:") :]
        assert told in card[: card.index("</p>") + 4]


def test_a_joint_whose_contact_was_not_asked_is_apart(folder):
    states = joint_states(examine(load_job("job.csv"), Settings(shorts_only=True)))
    assert {name: states[name].kind for name in "1356"} == {"1": PROVEN, "3": APART, "5": APART, "6": APART}
    assert states["3"].detail == "contact not tested"
    states = joint_states(examine(load_job("job.csv"), Settings()))
    # the contact of 3 and 5 is asked and missing; 6 is reserved, nobody asks
    assert {name: states[name].kind for name in "356"} == {"3": UNPROVEN, "5": UNPROVEN, "6": APART}


def test_each_state_has_a_mark_a_glyph_and_a_fill_of_its_own():
    assert set(MARKS) == set(KINDS) and len({*MARKS.values(), SITE_MARK}) == len(KINDS) + 1
    assert set(KINDS) <= set(GLYPHS) and set(KINDS) <= set(FILLS)
    assert len({GLYPHS[kind] for kind in KINDS}) == len(KINDS)
    assert f".cc .{class_of(APART)} .pad{{" in drawing_style()


@pytest.mark.parametrize("form", ["text", "csv", "markdown", "html"])
def test_a_doubt_is_told_with_what_settles_it(folder, form):
    done = run("check", "doubt.csv", "--format", form)
    doubt = json.loads(run("check", "doubt.csv", "--format", "json").stdout)["doubt"]
    assert set(doubt) == {"told", "pair", "kind", "bound", "left_out"} and doubt["kind"] == "ohms"
    wanted = f"{doubt['told']}: measure ohms {doubt['pair'][0]} - {doubt['pair'][1]}"
    assert done.exit_code == 4 and wanted in " ".join(done.stdout.split())
    if form == "csv":
        (row,) = [r for r in csv.DictReader(io.StringIO(done.stdout)) if r["kind"] == "doubt"]
        assert row["joints"].split() == doubt["pair"]


def test_joints_in_doubt_are_not_drawn_as_proven(folder):
    states = joint_states(examine(load_job("doubt.csv")))
    assert states["8"].kind == UNPROVEN
    assert joint_states(examine(load_job(str(EXAMPLE))))["1"].kind == PROVEN


def test_clear_names_within_which_faults_it_was_searched():
    assert "no bad board within up to two faults" in run("check", str(EXAMPLE)).stdout
    assert json.loads(run("check", str(EXAMPLE), "--format", "json").stdout)["doubt"] is None


def test_ohms_wanted_without_a_part_expect_nothing(folder):
    text = "# map: vga-de15\n,,leads good\n9,10,beep\n9,@GND,quiet\n,,leads good\n"
    (folder / "ohms.csv").write_text(text)
    measures = json.loads(run("check", "ohms.csv", "--format", "json").stdout)["measure"]
    assert [m["expected_ohms"] for m in measures if set(m["pair"]) == {"9", "10"}] == [None]


CHANCE = {"type": "number", "minimum": 0, "maximum": 1}
COUNT = {"type": "integer", "minimum": 0}
RESIDUAL = {
    "type": ["object", "null"],
    "properties": {
        "solder_bridge_left": CHANCE,
        "in_scope": CHANCE,
        "beyond_scope": CHANCE,
        "pairs_in_scope": COUNT,
        "unprobed_in_scope": COUNT,
        "pairs_beyond": COUNT,
        "joint_without_contact": CHANCE,
        "joints": COUNT,
        "joints_not_tested": COUNT,
        "assumptions": {"type": "object", "additionalProperties": {"type": "number"}, "required": ["prior_open"]},
    },
    "additionalProperties": False,
    "minProperties": 10,
}


def test_both_residual_risks_are_told_in_json_report_and_session(folder):
    said = json.loads(run("check", "job.csv", "--shorts-only", "--format", "json").stdout)["residual"]
    jsonschema.Draft7Validator(RESIDUAL).validate(said)
    # of six joints that must make contact two were not tested: their prior counts
    assert (said["joints"], said["joints_not_tested"]) == (6, 2)
    assert said["joint_without_contact"] == pytest.approx(1 - 0.99**2, rel=0.01)
    page = " ".join(run("report", "job.csv", "--shorts-only").stdout.split())
    for words in (
        "that a solder bridge is still there",
        "that a joint makes no contact (6 joints, 2 of them not tested)",
    ):
        assert words in page
    (folder / "bad.csv").write_text("# map: tiny.yaml\n" + SHORTS.replace("1,2,quiet", "1,2,beep"))
    assert json.loads(run("check", "bad.csv", "--format", "json").stdout)["residual"] is None


@pytest.mark.parametrize(
    "words", ["check", "check --format json", "check --format csv", "check --format html", "report", "plan"]
)
def test_no_command_says_more_than_clear_of_shorts(folder, words):
    command, *more = words.split()
    done = run(command, "job.csv", *more, "--shorts-only")
    assert done.exit_code == 0 and "everything in scope was proven" not in done.output
    if "json" not in words:
        assert LEFT_OUT in " ".join(done.output.split())


def test_the_end_of_a_session_says_no_more_than_clear_of_shorts(folder):
    answers = "beep\nbeep\n" + "quiet\n" * 3 + "beep\n"
    done = CliRunner().invoke(main, ["probe", "job.csv", "--shorts-only"], input=answers, catch_exceptions=False)
    assert done.exit_code == 0 and LEFT_OUT in done.output and "everything in scope was proven" not in done.output
    assert "done: nothing left to touch for shorts; contact was left out" in done.output


def test_residual_risk_only_where_nothing_was_found(folder):
    assert report(load_job("job.csv")).residual is not None
    (folder / "bad.csv").write_text("# map: tiny.yaml\n" + SHORTS.replace("1,2,quiet", "1,2,beep"))
    assert report(load_job("bad.csv")).residual is None
    assert "residual risk:" not in run("report", "bad.csv").stdout.lower()
    (folder / "leak.csv").write_text("# map: tiny.yaml\n" + SHORTS.replace("3,4,quiet", "3,4,100"))
    found = report(load_job("leak.csv"))
    assert found.result.verdict == UNPROVEN and found.residual is None
