"""The built wheel and a plain checkout both find the shipped pin maps and the example."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

from connector_check.version import __version__

ROOT = Path(__file__).resolve().parents[1]
EXAMPLE = "village-workshop-vga.csv"


def run(args: list[str], cwd: Path, path: Path) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "PYTHONPATH": str(path)}
    return subprocess.run([sys.executable, *args], cwd=cwd, env=env, capture_output=True, text=True)


def test_the_built_wheel_runs_the_demo_and_lists_every_map(tmp_path):
    build = [
        sys.executable,
        "-m",
        "pip",
        "wheel",
        "--quiet",
        "--no-deps",
        "--no-build-isolation",
        "-w",
        str(tmp_path),
        str(ROOT),
    ]
    subprocess.run(build, check=True, capture_output=True)
    (wheel,) = tmp_path.glob("*.whl")
    site = tmp_path / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
        names = archive.namelist()
    assert not [n for n in names if n.startswith(("tests/", "pinmaps/", "examples/"))]
    shipped = {n.split("/")[-1] for n in names if n.startswith("connector_check/pinmaps/")}
    assert shipped == {p.name for p in (ROOT / "pinmaps").glob("*.yaml")}
    templates = {n for n in names if n.startswith("connector_check/renderers/templates/")}
    folder = ROOT / "connector_check" / "renderers" / "templates"
    assert templates == {p.relative_to(ROOT).as_posix() for p in folder.rglob("*") if p.is_file()}
    assert "connector_check/py.typed" in names
    where = run(["-c", "import connector_check; print(connector_check.__file__)"], tmp_path, site)
    assert where.stdout.startswith(str(site))
    done = run(["-m", "connector_check", "demo"], tmp_path, site)
    assert done.returncode == 0 and "[ok] clear" in done.stdout and done.stderr == ""
    page = run(["-m", "connector_check", "report", str(site / "connector_check/examples" / EXAMPLE)], tmp_path, site)
    assert page.returncode == 0 and page.stdout.startswith("<!doctype html>") and page.stderr == ""
    listed = run(["-m", "connector_check", "maps"], tmp_path, site)
    assert listed.returncode == 0 and all(Path(n).stem in listed.stdout for n in shipped)
    told = run(["-m", "connector_check", "--version"], tmp_path, site)
    assert told.stdout.split()[-1] == __version__ and wheel.name.split("-")[1] == __version__


def test_the_tests_in_the_source_archive_pass_unpacked(tmp_path):
    """A part of them: that each can be collected, and those that read the documents and files beside the package."""
    build = [sys.executable, "-m", "hatchling", "build", "-t", "sdist", "-d", str(tmp_path)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (archive,) = tmp_path.glob("*.tar.gz")
    with tarfile.open(archive) as packed:
        packed.extractall(tmp_path, filter="data")
    unpacked = tmp_path / archive.name.removesuffix(".tar.gz")
    for name in ("CHANGELOG.md", "LICENSE", ".ci/run", "tests/lowest.txt", "connector_check/py.typed"):
        assert (unpacked / name).is_file(), name
    collected = run(["-m", "pytest", "--co", "-q"], unpacked, unpacked)
    assert collected.returncode == 0, collected.stdout[-2000:]
    part = [f"tests/test_{name}.py" for name in ("docs", "harm", "optional", "package_order", "public_names", "schema")]
    done = run(["-m", "pytest", "-p", "no:cacheprovider", *part], unpacked, unpacked)
    assert done.returncode == 0, done.stdout[-2000:]


def test_the_lowest_versions_are_those_that_are_declared():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    declared = {*project["dependencies"], *project["optional-dependencies"]["test"]}
    lines = (ROOT / "tests" / "lowest.txt").read_text(encoding="utf-8").splitlines()
    pinned = {line.replace("==", ">=") for line in lines if not line.startswith("#")}
    by_hand = {"ruff>=0.5", "mypy>=1.10"}  # their findings change with the version; the newest is what counts
    assert declared - by_hand <= pinned
    assert {line.partition(">=")[0] for line in pinned - declared} == {"numpy"}  # comes with pandas and scipy


def test_a_plain_checkout_runs(tmp_path):
    done = run(["-m", "connector_check", "show", "usb-c-16"], tmp_path, ROOT)
    assert done.returncode == 0 and "A1B12" in done.stdout
