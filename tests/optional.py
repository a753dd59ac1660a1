"""Tests that need a program or data that not every machine has: `@pytest.mark.needs("browser")`.

At home such a test is skipped and says why. Where the environment variable CI is set (to anything but `0`, `false` or
nothing) it fails instead, so that no group is ever lost without a word. `.ci/run` installs what they need.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.kicad_facts import SHARE, VERSIONS, installed_version

BROWSERS = ("chromium", "chromium-browser", "google-chrome")


class Group(NamedTuple):
    """missing: what is not there, or ""; remedy: how to get it; only_here: it cannot be had on every machine."""

    missing: Callable[[], str]
    remedy: str
    only_here: bool = False


def browser() -> str:
    """The path of a Chromium, or ""."""
    return next((found for name in BROWSERS if (found := shutil.which(name))), "")


def _folder(path: Path) -> Callable[[], str]:
    return lambda: "" if path.is_dir() else f"no folder {path}"


def _other_versions() -> str:
    found = {package: installed_version(package) for package in VERSIONS}
    other = [
        f"{package} {found[package] or 'not at all'}, not {VERSIONS[package]}"
        for package in VERSIONS
        if found[package] != VERSIONS[package]
    ]
    return "installed: " + "; ".join(other) if other else ""


GROUPS = {
    "browser": Group(lambda: "" if browser() else "no Chromium on the path", "apt-get install chromium"),
    "speech": Group(
        lambda: "" if shutil.which("espeak-ng") else "no espeak-ng on the path", "apt-get install espeak-ng"
    ),
    "kicad": Group(
        lambda: _folder(SHARE / "symbols")() or _folder(SHARE / "footprints" / "Connector_USB.pretty")(),
        "apt-get install kicad-symbols kicad-footprints",
    ),
    "kicad-boards": Group(_folder(SHARE / "demos"), "apt-get install kicad-demos"),
    "kicad-of-the-facts": Group(_other_versions, "Debian 12 has these versions", only_here=True),
}


def in_ci() -> bool:
    """Whether a missing group is a failure."""
    return os.environ.get("CI", "").strip().lower() not in ("", "0", "false", "no")


def demand(name: str) -> None:
    """Skip the running test where its group is missing; in CI fail it, unless it cannot be had on every machine."""
    group = GROUPS[name]
    if missing := group.missing():
        reason = f"{missing}: {group.remedy}"
        if in_ci() and not group.only_here:
            pytest.fail(f"{reason} (CI is set: optional tests must run)", pytrace=False)
        pytest.skip(reason)
