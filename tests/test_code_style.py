"""Lint and types are part of the one test command."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.mark.parametrize(
    "args", [["ruff", "check", "."], ["ruff", "format", "--check", "."], ["mypy", "--no-incremental"]]
)
def test_clean(args):
    done = subprocess.run([sys.executable, "-m", *args], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


def test_modules_stay_under_600_lines():
    for path in (ROOT / "connector_check").rglob("*.py"):
        assert len(path.read_text(encoding="utf-8").splitlines()) < 600, path
