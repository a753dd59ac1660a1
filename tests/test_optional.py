"""An optional group that is missing is skipped with its reason at home, and is a failure in CI."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from tests import optional

GONE = optional.Group(lambda: "no such thing", "apt-get install it")
LOCAL = GONE._replace(only_here=True)
HERE = Path(__file__).parent


@pytest.mark.parametrize(
    ("value", "strict"), [("true", True), ("1", True), ("false", False), ("0", False), ("", False)]
)
def test_what_ci_means(value, strict, monkeypatch):
    monkeypatch.setenv("CI", value)
    assert optional.in_ci() is strict


@pytest.mark.parametrize(
    ("value", "group", "outcome"),
    [("true", GONE, pytest.fail.Exception), ("", GONE, pytest.skip.Exception), ("true", LOCAL, pytest.skip.Exception)],
)
def test_a_missing_group(value, group, outcome, monkeypatch):
    monkeypatch.setenv("CI", value)
    monkeypatch.setitem(optional.GROUPS, "gone", group)
    with pytest.raises(outcome, match="no such thing: apt-get install it"):
        optional.demand("gone")


def test_programs_hidden_from_the_path_are_missing(monkeypatch, tmp_path):
    monkeypatch.setenv("PATH", str(tmp_path))
    assert optional.GROUPS["browser"].missing() and optional.GROUPS["speech"].missing()


def test_a_group_that_is_here_lets_the_test_run(monkeypatch):
    monkeypatch.setitem(optional.GROUPS, "here", optional.Group(lambda: "", ""))
    assert optional.demand("here") is None


def test_no_test_skips_for_a_program_by_itself():
    """Skips besides the helper are for what the system itself lacks: each is listed here."""
    found = set()
    for path in set(HERE.glob("test_*.py")) - {HERE / "test_optional.py"}:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            named = ast.unparse(node) if isinstance(node, ast.Attribute) else ""
            if re.fullmatch(r"pytest\.(mark\.)?(skip|skipif|importorskip)", named):
                found.add((path.name, named.rpartition(".")[2]))
    assert found == {
        ("test_jobwriter.py", "importorskip"),  # POSIX
        ("test_jobwriter.py", "skip"),  # no tmpfs
        ("test_jobwriter.py", "skipif"),  # mounting needs root
        ("test_mutants.py", "importorskip"),  # POSIX
        ("test_probe_killed.py", "skipif"),  # fork
        ("test_probe_terminal.py", "importorskip"),  # POSIX
        ("test_speech.py", "skipif"),  # a shell script as stand-in
    }


def test_every_group_that_can_be_had_is_installed_by_ci():
    script = (HERE.parent / ".ci" / "run").read_text(encoding="utf-8")
    packages = {
        word
        for g in optional.GROUPS.values()
        if "apt-get install " in g.remedy
        for word in g.remedy.partition("apt-get install ")[2].split()
    }
    assert packages >= {"chromium", "espeak-ng"} and all(package in script for package in packages)
