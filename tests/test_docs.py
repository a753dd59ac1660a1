"""The documents cannot rot: commands are documented, README examples run, the project speaks of the project alone."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from connector_check.cli.commands import main
from connector_check.testlog.readings import EVENTS, READINGS
from tests.module_list import written

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_command_and_its_options_are_in_the_readme():
    for name, command in main.commands.items():
        assert f"connector-check {name}" in README
        for option in command.params:
            if option.param_type_name == "option":
                assert any(o in README for o in option.opts), (name, option.opts)


def test_every_word_of_the_job_file_is_in_the_readme():
    for word in [*READINGS, *EVENTS]:
        assert word in README


def test_every_module_is_in_the_developers_page():
    assert "`replay`" in DEVELOPERS
    assert written(DEVELOPERS) == DEVELOPERS, "run python -m tests.module_list"


def test_the_job_in_the_readme_is_judged_as_told(tmp_path):
    (text,) = re.findall(r"```text\n(.*?)```", README, re.DOTALL)
    job = tmp_path / "job.csv"
    job.write_text("\n".join(line.strip() for line in text.splitlines()) + "\n")
    done = CliRunner().invoke(main, ["check", str(job), "--format", "json"])
    result = json.loads(done.stdout)
    assert done.exit_code == 3
    assert [(s["nets"], s["harm"], s["sites"][0]["joints"]) for s in result["shorts"]] == [
        (["CC2", "VBUS"], "damage", ["B4A9", "B5"])
    ]


def test_the_library_example_runs():
    (code,) = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    expected = re.findall(r"^# (.*)$", code, re.MULTILINE)
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == expected


def test_the_readme_names_the_two_setup_commands_and_ci_uses_the_second():
    blocks = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    assert blocks[0].strip().endswith("connector-check demo") and blocks[1].strip().endswith("-m pytest")
    assert "README.md" in (ROOT / ".ci" / "run").read_text()


def test_the_demo_tells_the_whole_story():
    text = CliRunner().invoke(main, ["demo"], catch_exceptions=False).stdout
    for words in (
        "SUPPLY SHORT",
        "DEAD SIGNAL",
        "OPEN: 10",
        "contradiction: 6 - 8",
        "harmless",
        "REWORK LIST",
        "Round 2",
        "[ok] clear",
    ):
        assert words in text


@pytest.mark.parametrize("word", ["safe to power", "hdmi"])
def test_words_the_demo_and_example_must_not_have(word):
    example = (ROOT / "examples" / "village-workshop-vga.csv").read_text()
    demo = CliRunner().invoke(main, ["demo"], catch_exceptions=False).stdout
    assert word not in (example + demo).lower()


def test_the_picture_in_the_readme_is_what_the_program_draws(tmp_path):
    (picture,) = re.findall(r"\]\((examples/[^)]*\.svg)\)", README)
    lines = (ROOT / "examples" / "village-workshop-vga.csv").read_text().splitlines()
    first = tmp_path / "round1.csv"
    first.write_text("\n".join(lines[: next(i for i, line in enumerate(lines) if "reworked" in line)]) + "\n")
    out = tmp_path / "out.svg"
    CliRunner().invoke(
        main, ["show", "vga-de15", "--solder", "--job", str(first), "-o", str(out)], catch_exceptions=False
    )
    assert out.read_text(encoding="utf-8") == (ROOT / picture).read_text(encoding="utf-8")
