"""The diagnosis that a fault report asks for: whole, and never a traceback when something is missing."""

from __future__ import annotations

import importlib.metadata
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from connector_check.cli.commands import main
from connector_check.renderers.setup import setup_json, setup_lines
from connector_check.reports import setup
from connector_check.version import __version__

ROOT = Path(__file__).resolve().parents[1]
TERMINAL = setup.Terminal(80, 24, "utf-8", "xterm", True, True, True, False)
REQUIRES = ["click>=8.2", "Jinja2>=3", "lacking-one>=1", 'lacking-two; extra == "hear"', "pytest>=8; extra == 'test'"]


@pytest.fixture(autouse=True)
def bare(monkeypatch):
    for name in [name for name in os.environ if name.startswith(setup.OUR_VARIABLES)]:
        monkeypatch.delenv(name)


def found(speech: str = "") -> list[str]:
    return setup_lines(setup.gather_setup(TERMINAL, speech), "get one")


def test_the_command_tells_each_fact_in_a_line():
    done = CliRunner().invoke(main, ["about-setup"], catch_exceptions=False)
    lines = done.stdout.splitlines()
    maps = len(list((ROOT / "pinmaps").glob("*.yaml")))
    assert done.exit_code == 0 and done.stderr == ""
    assert lines[0] == f"connector-check {__version__}"
    assert lines[1].startswith("Python {}.{}.{} ".format(*sys.version_info[:3])) and lines[2].startswith("system ")
    assert f"package click {importlib.metadata.version('click')}" in lines
    assert any(line.startswith(f"shipped maps: {maps} in ") for line in lines)
    assert lines[-1] == "no environment variable of connector-check is set"


def test_json_holds_the_same(monkeypatch, tmp_path):
    monkeypatch.setenv("CONNECTOR_CHECK_MAPS", str(tmp_path))
    done = CliRunner().invoke(main, ["about-setup", "--format", "json"], catch_exceptions=False)
    told = json.loads(done.stdout)
    assert set(told) == {"schema", *setup.Setup._fields} and told["schema"] == 1 and told["version"] == __version__
    assert set(told["terminal"]) == set(setup.Terminal._fields) and told["terminal"]["screen"] is False
    assert [(m["whose"], m["maps"] > 0, m["trouble"]) for m in told["maps"]] == [
        ("own", False, "no .yaml files in it"),
        ("shipped", True, ""),
    ]
    assert told["variables"] == {"CONNECTOR_CHECK_MAPS": str(tmp_path)}


def test_a_missing_package_has_the_sentence_to_get_it(monkeypatch):
    monkeypatch.setattr(importlib.metadata, "requires", lambda name: REQUIRES)
    lines = found()
    assert "package lacking-one missing: pip install lacking-one" in lines
    assert "package lacking-two (optional, for hear) missing: pip install 'connector-check[hear]'" in lines
    assert not any("pytest" in line for line in lines)


def test_a_checkout_that_is_not_installed_asks_its_own_file(monkeypatch):
    def missing(name: str) -> list[str]:
        raise importlib.metadata.PackageNotFoundError(name)

    monkeypatch.setattr(importlib.metadata, "requires", missing)
    names = {package.name.lower() for package in setup.gather_setup(TERMINAL, "").packages}
    assert names == {"click", "jinja2", "pandas", "platformdirs", "pyyaml", "tabulate", "wcwidth"}
    monkeypatch.setattr(setup, "__file__", "/nowhere/at/all/setup.py")
    assert setup.gather_setup(TERMINAL, "").packages == ()


def test_no_speech_program_no_terminal_no_maps(monkeypatch, tmp_path):
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("CONNECTOR_CHECK_MAPS", str(tmp_path / "gone"))
    monkeypatch.setattr("connector_check.pinout.library.__file__", str(tmp_path / "a" / "b" / "library.py"))
    done = CliRunner().invoke(main, ["about-setup"], catch_exceptions=False)
    assert done.exit_code == 0
    assert (
        "speech program missing: --speak needs one of espeak-ng, espeak, say; on Debian: apt-get install" in done.stdout
    )
    assert (
        "no size" in done.stdout and "own maps: 0 in" in done.stdout and "cannot be read: No such file" in done.stdout
    )
    assert "shipped maps: 0 in no folder" in done.stdout and "install connector-check again" in done.stdout


def test_the_home_folder_is_not_told(monkeypatch, tmp_path):
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("CONNECTOR_CHECK_MAPS", str(tmp_path / "maps"))
    lines = found(str(tmp_path / "bin" / "espeak-ng"))
    assert "speech program ~/bin/espeak-ng" in lines and "variable CONNECTOR_CHECK_MAPS=~/maps" in lines
    assert not any(str(tmp_path) in line for line in lines)


def test_the_terminal_in_words():
    assert (
        "terminal xterm: 80 columns, 24 lines, encoding utf-8, keyboard yes, screen yes, colour yes, line drawing no"
        in found()
    )
    bare = setup.gather_setup(TERMINAL._replace(columns=None, lines=None, kind=""), "")
    assert setup_lines(bare, "")[3].startswith("terminal of no known kind: no size, encoding utf-8")
    assert setup_json(bare)["terminal"]["columns"] is None


def test_closed_output_and_hostile_variables_do_no_harm():
    env = {**os.environ, "PYTHONPATH": str(ROOT), "CONNECTOR_CHECK_KEYS": "a\x1b[2J", "PYTHONIOENCODING": "ascii"}
    command = [sys.executable, "-m", "connector_check", "about-setup"]
    done = subprocess.run(command, env=env, capture_output=True, stdin=subprocess.DEVNULL)
    assert done.returncode == 0 and b"\x1b" not in done.stdout and b"encoding ascii" in done.stdout
    assert b"line drawing no" in done.stdout and b"variable CONNECTOR_CHECK_KEYS=a?[2J" in done.stdout
