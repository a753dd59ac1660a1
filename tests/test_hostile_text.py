"""Hostile text in notes, pin names, titles and file names is shown harmlessly by every renderer."""

from __future__ import annotations

import json
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from connector_check.cli.commands import main
from tests.strategies import TINY_YAML

HOSTILE = {
    "markup": "<script>alert(1)</script>&amp;",
    "formula": "=HYPERLINK(1)",
    "control": "bell\x07 esc\x1b[31m red",
    "direction": "abc\u202edef\u2066ghi",
    "long": "x" * 5000,
    "pipe": "a|b`c*d_e",
    "emoji": "na\u00efve \U0001f525",
}
NAMES = {
    "markup": "<b>&",
    "formula": "=A1",
    "direction": "T\u202eX",
    "pipe": "a|b",
    "emoji": "\U0001f525",
    "control": "TX",
    "long": "X" * 32,
}


@pytest.fixture(params=sorted(HOSTILE))
def folder(request, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    title = HOSTILE[request.param].replace("\x07", "").replace("\x1b", "")
    text = TINY_YAML.replace("title: a connector for the tests", "title: " + json.dumps(title, ensure_ascii=False))
    text = text.replace("  TX:", "  " + json.dumps(NAMES[request.param], ensure_ascii=False) + ":")
    (tmp_path / "tiny.yaml").write_text(text, encoding="utf-8")
    note = HOSTILE[request.param].replace('"', '""')
    (tmp_path / "job.csv").write_text(
        f'# map: tiny.yaml\nGND,1,beep,"{note}"\n4,5,beep,"{note}"\n1,2,beep,"{note}"\n3,,remark,"{note}"\n',
        encoding="utf-8",
    )
    return tmp_path


def run(*args: str) -> str:
    done = CliRunner().invoke(main, args, catch_exceptions=False)
    assert done.exit_code in (0, 3, 4), done.stderr
    return done.stdout


def harmless_on_a_terminal(text: str) -> None:
    assert all(c.isprintable() or c == "\n" for c in text), [c for c in text if not c.isprintable() and c != "\n"]


@pytest.mark.parametrize(
    "args",
    [
        ["check", "job.csv"],
        ["rework", "job.csv"],
        ["show", "tiny.yaml"],
        ["show", "tiny.yaml", "--solder"],
        ["show", "tiny.yaml", "--solder", "--job", "job.csv"],
        ["show", "tiny.yaml", "--pin", "5"],
        ["plan", "job.csv"],
    ],
)
def test_text_cannot_steer_the_terminal(folder, args):
    harmless_on_a_terminal(run(*args))


def test_json_is_exact_and_ascii(folder):
    text = run("check", "job.csv", "--format", "json")
    assert json.loads(text)["shorts"] and text.isascii()
    json.loads(run("show", "tiny.yaml", "--format", "json"))


@pytest.mark.parametrize("command", ["check", "rework"])
def test_csv_has_no_formula(folder, command):
    import csv
    import io

    for row in csv.reader(io.StringIO(run(command, "job.csv", "--format", "csv"))):
        assert not any(cell[:1] in ("=", "+", "-", "@", "\t") for cell in row), row


@pytest.mark.parametrize("command", ["check", "rework"])
def test_markdown_has_no_markup_and_whole_rows(folder, command):
    text = run(command, "job.csv", "--format", "markdown")
    assert "<script" not in text and "<b>" not in text
    bars = {line.replace("\\|", "").count("|") for line in text.splitlines() if line}
    assert len(bars) == 1


def test_svg_is_well_formed_and_without_script(folder):
    run("show", "tiny.yaml", "--solder", "--job", "job.csv", "-o", "x.svg")
    text = (folder / "x.svg").read_text(encoding="utf-8")
    root = ElementTree.fromstring(text)
    assert not [e for e in root.iter() if e.tag.endswith("script")]
    assert "\u202e" not in text and "\x1b" not in text


def test_the_live_session_on_lines(folder):
    done = CliRunner().invoke(main, ["probe", "job.csv"], input="beep\nbeep\nremark " + "y" * 3000 + "\nquit\n")
    assert done.exit_code in (3, 4)
    harmless_on_a_terminal(done.stdout)


def test_hostile_file_names_in_messages(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    name = "a\x1b[31m\u202eb.csv"
    (tmp_path / name).write_bytes(b"\x00\xff")
    done = CliRunner().invoke(main, ["check", name, "--map", "hdmi-a"])
    assert done.exit_code == 1
    harmless_on_a_terminal(done.stderr)


def test_html_has_no_live_markup_of_the_job(folder):
    for command in ("check", "rework"):
        page = run(command, "job.csv", "--format", "html")
        assert "<script" not in page and "<b>&" not in page and "\u202e" not in page and "\x1b" not in page
