"""The command line: contracts of text, JSON, CSV, Markdown, exit codes, and that bad input never shows a traceback."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys

import pytest
from click.testing import CliRunner

from connector_check.cli.commands import main
from tests.strategies import TINY_YAML

GOOD = (
    ",,leads good\nGND,1,beep\nGND,4,beep\nGND,7,beep\n2,+5V,beep\n3,D+,beep\n5,TX,beep\n"
    "1,2,quiet\n2,3,quiet\n3,4,quiet\n4,5,quiet\n5,6,quiet\n6,7,quiet\n,,leads good\n"
)
BAD = GOOD.replace("1,2,quiet", "1,2,beep").replace("GND,7,beep", "GND,7,quiet")


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "tiny.yaml").write_text(TINY_YAML)
    (tmp_path / "good.csv").write_text("# map: tiny.yaml\n" + GOOD)
    (tmp_path / "bad.csv").write_text("# map: tiny.yaml\n" + BAD)
    (tmp_path / "part.csv").write_text("# map: tiny.yaml\n1,2,quiet\n")
    return tmp_path


def run(*args: str, stdin: str | bytes | None = None):
    return CliRunner().invoke(main, args, input=stdin, catch_exceptions=False)


@pytest.mark.parametrize(
    ("job", "code", "verdict"), [("good.csv", 0, "clear"), ("bad.csv", 3, "rework"), ("part.csv", 4, "unproven")]
)
def test_exit_codes_and_the_json_contract(folder, job, code, verdict):
    done = run("check", job, "--format", "json")
    assert done.exit_code == code
    result = json.loads(done.stdout)
    assert done.stderr == ""
    assert (result["schema"], result["map"], result["layout"], result["scope"]) == (1, "tiny", "row", "near")
    assert result["verdict"] == verdict
    assert set(result) >= {
        "shorts",
        "harmless",
        "opens",
        "measure",
        "leaks",
        "conflicts",
        "unproven",
        "ledger",
        "rework",
        "parts",
        "shorts_only",
        "doubt",
    }
    assert set(result["ledger"]) == {"joins", "isolation", "contacts", "by_eye", "not_in_scope"}
    assert all(
        0 <= result["ledger"][k]["proven"] <= result["ledger"][k]["needed"] for k in ("joins", "isolation", "contacts")
    )


def test_the_findings_of_a_bad_job_in_json(folder):
    result = json.loads(run("check", "bad.csv", "--format", "json").stdout)
    (short,) = result["shorts"]
    assert short["nets"] == ["+5V", "GND"] and short["harm"] == "supply-short" and short["readings"] == [3, 4, 6, 9]
    assert short["sites"] == [{"joints": ["1", "2"], "or": [], "less_likely": [], "gap_mm": 0.2}]
    assert [(o["net"], o["joint"]) for o in result["opens"]] == [("GND", "7")]
    assert [s["joints"] for s in result["rework"]] == [["1", "2"], ["7"]]
    assert set(result["rework"][0]) >= {"step", "joints", "do", "harm", "probe_again"}


def test_standard_input_and_map_option(folder):
    done = run("check", "-", "--map", "tiny.yaml", "--format", "json", stdin=GOOD)
    assert (done.exit_code, json.loads(done.stdout)["verdict"]) == (0, "clear")


def test_a_job_that_names_another_map_is_told(folder):
    (folder / "other.csv").write_text("# map: hdmi-a\n" + GOOD)
    done = run("check", "other.csv", "--map", "tiny.yaml")
    assert done.exit_code == 0 and "checked as tiny" in done.stderr


def test_text_says_the_states_in_words(folder):
    text = run("check", "bad.csv").stdout
    for words in (
        "[x] rework",
        "SUPPLY SHORT",
        "most likely between 1 and 2",
        "OPEN: 7",
        "REWORK LIST",
        "probe again",
        "harmless",
        "not in scope",
        "fume extraction",
        "unplugged",
    ):
        assert words in text
    assert "safe to power" not in text.lower()
    text.encode("ascii")


@pytest.mark.parametrize("form", ["csv", "markdown"])
def test_tables_hold_every_finding(folder, form):
    text = run("check", "bad.csv", "--format", form).stdout
    for words in ("supply-short", "open", "harmless", "rework"):
        assert words in text
    if form == "csv":
        rows = list(csv.DictReader(io.StringIO(text)))
        assert [r["kind"] for r in rows] == ["verdict", "short", "open", "harmless", "unproven", "assumed", "assumed"]
        assert rows[1]["nets"] == "'+5V GND"


@pytest.mark.parametrize(
    ("name", "start"),
    [
        ("list.csv", "step,joints"),
        ("list.md", "| step"),
        ("list.json", "{"),
        ("list.txt", "REWORK LIST"),
        ("list.html", "<!doctype html>"),
    ],
)
def test_rework_writes_by_ending(folder, name, start):
    done = run("rework", "bad.csv", "-o", name)
    assert done.exit_code == 3 and done.stdout == ""
    assert (folder / name).read_text().startswith(start)
    assert sorted(p.name for p in folder.iterdir() if p.name.startswith(name)) == [name]


def test_rework_order_and_nothing_to_do(folder):
    steps = json.loads(run("rework", "bad.csv", "--order", "harm", "--format", "json").stdout)["rework"]
    assert [s["harm"] for s in steps] == ["supply-short", "open"]
    assert run("rework", "good.csv").stdout == "nothing to rework\n"


def test_rework_to_a_folder_that_is_not_there(folder):
    done = run("rework", "bad.csv", "-o", "none/list.csv")
    assert done.exit_code == 1 and "cannot be written" in done.stderr


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "empty"),
        (b"\x89PNG\r\n\x1a\n\x00\xff", "not text"),
        (b"1,99,beep\n", "unknown pin '99'"),
        (b"1,1,beep\n", "touches itself"),
        (b"1,2,loud\n", "unknown reading"),
        (b"D1+,+5V,beep\n", "unknown pin 'D1+'"),
    ],
)
def test_bad_jobs_are_messages_with_place_and_exit_1(folder, content, what):
    (folder / "x.csv").write_bytes(content)
    done = run("check", "x.csv", "--map", "tiny.yaml")
    assert done.exit_code == 1 and done.stdout == ""
    assert what in done.stderr and "x.csv" in done.stderr and "Traceback" not in done.stderr


def test_other_bad_input(folder):
    for args, what in [
        (["check", "none.csv", "--map", "tiny.yaml"], "none.csv: cannot be read"),
        (["check", str(folder), "--map", "tiny.yaml"], "cannot be read"),
        (["check", "good.csv", "--map", "nope"], "no pin map of that id"),
        (["check", "good.csv", "--layout", "nope"], "it has: row"),
        (["check", "good.csv", "--variant", "nope"], "it has: none"),
        (["show", "none.yaml"], "cannot be read"),
        (["show", "usb-c"], "did you mean"),
    ]:
        done = run(*args)
        assert done.exit_code == 1 and what in done.stderr, args
    (folder / "nomap.csv").write_text(GOOD)
    assert "no pin map named" in run("check", "nomap.csv").stderr
    (folder / "path.csv").write_text("# map: ../x.yaml\n" + GOOD)
    assert "is a path" in run("check", "path.csv").stderr
    (folder / "wrong.csv").write_text("# map: nope\n" + GOOD)
    assert "wrong.csv:1: map 'nope'" in run("check", "wrong.csv").stderr


def test_usage_errors_exit_2(folder):
    assert run("check", "good.csv", "--scope", "far").exit_code == 2
    assert run("check").exit_code == 2
    assert run("nothing").exit_code == 2


def test_terminal_control_in_a_job_is_shown_harmlessly(folder):
    (folder / "x.csv").write_text("1,\x1b[31m2,beep\n")
    assert "\x1b" not in run("check", "x.csv", "--map", "tiny.yaml").stderr


def test_maps_and_show_follow_their_json_contract():
    listed = json.loads(run("maps", "--format", "json").stdout)
    assert {
        "hdmi-a",
        "usb-c-16",
        "usb-c-24",
        "usb-micro-b",
        "usb-a-2",
        "usb-a-3",
        "displayport",
        "rj45-1000",
        "vga-de15",
        "de9-rs232-dte",
        "microsd",
        "sata-7",
    } <= {m["id"] for m in listed}
    assert "hdmi-a" in run("maps").stdout
    for entry in listed:
        shown = json.loads(run("show", entry["id"], "--format", "json").stdout)
        assert set(shown) >= {"id", "title", "source", "contacts", "layouts"} and shown["source"]
        contacts = {c["contact"]: c for c in shown["contacts"]}
        for contact in contacts.values():
            assert set(contact) == {"contact", "name", "net", "role", "volts"}
            assert (contact["volts"] is not None) == (contact["role"] == "power")
        for layout in shown["layouts"]:
            for joint in layout["joints"]:
                assert set(joint) >= {"joint", "contacts", "x_mm", "y_mm"} and set(joint["contacts"]) <= set(contacts)
        text = run("show", entry["id"]).stdout
        assert entry["title"] in text and "source:" in text


def test_every_command_and_option_has_help():
    for name, command in main.commands.items():
        text = run(name, "--help").stdout
        assert len(text.splitlines()) > 3
        for option in command.params:
            assert option.opts[0] in text or option.param_type_name == "argument"
    assert "GND = @GND" in run("check", "--help").stdout


def test_no_color_and_narrow_encodings(folder):
    env = {**os.environ, "PYTHONIOENCODING": "ascii", "NO_COLOR": "1"}
    done = subprocess.run(
        [sys.executable, "-m", "connector_check", "check", "bad.csv"],
        capture_output=True,
        env={**env, "PYTHONPATH": os.pathsep.join(sys.path)},
        cwd=folder,
    )
    assert done.returncode == 3 and b"\x1b" not in done.stdout and done.stderr == b""
    assert b"?" not in done.stdout.replace(b"[?]", b"")
