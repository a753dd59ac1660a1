"""--meter, --like, --notes and diode-mode readings at the command line."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from connector_check.cli.commands import main
from tests.strategies import TINY_YAML

GOOD = """\
,,leads good
GND,1,beep
GND,4,beep
GND,7,beep
1,2,quiet
2,3,quiet
3,4,quiet
4,5,quiet
5,6,quiet
6,7,quiet
"""
LEADS = ",,leads good\n"
"""After the last quiet, so that it counts."""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = TINY_YAML.replace("layouts:", "paths:\n  - {between: [D+, GND], ohms: [70, 80], why: termination}\nlayouts:")
    (tmp_path / "tiny.yaml").write_text(text)
    return tmp_path


def result(*args: str, job: str):
    done = CliRunner().invoke(
        main, ["check", "-", "--map", "tiny.yaml", "--format", "json", *args], input=job + LEADS, catch_exceptions=False
    )
    return json.loads(done.stdout)


@pytest.mark.parametrize(
    ("meter", "verdict", "asked"),
    [("", "unproven", 1), ("10:250", "unproven", 1), ("10:50", "rework", 0), ("meter.yaml", "rework", 0)],
)
def test_a_beep_over_a_75_ohm_termination_by_meter(folder, meter, verdict, asked):
    """ADV7123 data sheet p.18: 75 ohm; a meter that is silent above 50 ohm cannot sound on it, so it is solder."""
    (folder / "meter.yaml").write_text(
        "format: 1\nname: our bench meter\nsounds_below: 20\nsilent_above: 60\nleads_ohms: 0.3\n"
    )
    found = result(*(["--meter", meter] if meter else []), job=GOOD.replace("3,4,quiet", "3,4,beep"))
    assert (found["verdict"], len(found["measure"])) == (verdict, asked)


def test_a_sound_boards_job_explains_a_join_and_shows_what_is_missing(folder):
    (folder / "good.csv").write_text("# meter: 10:50\n" + GOOD.replace("4,5,quiet", "4,5,beep") + "3,@D+,beep\n")
    job = GOOD.replace("4,5,quiet", "4,5,beep")
    # silent above 50 ohm: 5 bridged to 3 could not sound over the 75 ohm of D+
    meter = ("--meter", "10:50")
    assert result(*meter, job=job)["verdict"] == "rework"
    found = result(*meter, "--shorts-only", "--like", "good.csv", job=job)
    assert found["verdict"] == "clear" and not found["shorts"]
    missing = result(*meter, "--like", "good.csv", job=job + "3,@D+,quiet\n")
    assert missing["verdict"] == "rework" and [o["joint"] for o in missing["opens"]] == ["3"]


def test_board_notes_tie_nets_and_name_points(folder):
    (folder / "notes.yaml").write_text(
        "format: 1\nmap: tiny\nboard: the workshop's scale\nties: [[TX, GND]]\npoints: {TP4: +5V}\n"
    )
    found = result(
        "--notes",
        "notes.yaml",
        job=GOOD.replace("4,5,quiet", "4,5,beep") + "2,@TP4,beep\n3,@D+,beep\n5,@TX,beep\n",
    )
    assert found["verdict"] == "clear", found
    (folder / "bad.yaml").write_text("format: 1\nmap: tiny\nties: [[TX, GRD]]\n")
    done = CliRunner().invoke(main, ["check", "-", "--map", "tiny.yaml", "--notes", "bad.yaml"], input=GOOD)
    assert done.exit_code == 1 and "bad.yaml:3" in done.stderr


def test_diode_mode_readings_stand_beside_the_beeps(folder):
    found = result(job=GOOD + "2,GND,0.001 V\n3,GND,0.002 V\n5,GND,0.512 V\n")
    # 75 ohm to ground drops less than the limit at the meter's current, so only pin 2 is called short
    assert {d["joint"]: d["kind"] for d in found["diode"]} == {"2": "short", "3": "listed", "5": "listed"}
    assert found["verdict"] == "rework" and [short["nets"] for short in found["shorts"]] == [["+5V", "GND"]]
    text = CliRunner().invoke(main, ["check", "-", "--map", "tiny.yaml"], input=GOOD + "2,GND,0.001 V\n").stdout
    assert "Two signals bridged together still pass" in text
    done = CliRunner().invoke(main, ["check", "-", "--map", "tiny.yaml"], input="3,5,0.5 V\n")
    assert done.exit_code == 1 and "red lead sits on ground" in done.stderr


def test_contact_is_asked_for_at_the_points_that_the_notes_name(folder):
    (folder / "notes.yaml").write_text("format: 1\nmap: tiny\npoints: {TP4: +5V, R7: D+}\n")
    done = CliRunner().invoke(
        main,
        ["probe", "job.csv", "--map", "tiny.yaml", "--notes", "notes.yaml"],
        input="beep\nbeep\njump @TP4\nquit\n",
        catch_exceptions=False,
    )
    assert "the board's +5V: TP4" in done.stdout and "never the pad" in done.stdout
