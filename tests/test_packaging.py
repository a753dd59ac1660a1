"""The built wheel and a plain checkout both find the shipped pin maps and the example."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

from connector_check.version import __version__

ROOT = Path(__file__).resolve().parents[1]


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
    assert "connector_check/py.typed" in names
    where = run(["-c", "import connector_check; print(connector_check.__file__)"], tmp_path, site)
    assert where.stdout.startswith(str(site))
    done = run(["-m", "connector_check", "demo"], tmp_path, site)
    assert done.returncode == 0 and "[ok] clear" in done.stdout and done.stderr == ""
    listed = run(["-m", "connector_check", "maps"], tmp_path, site)
    assert listed.returncode == 0 and all(Path(n).stem in listed.stdout for n in shipped)
    told = run(["-m", "connector_check", "--version"], tmp_path, site)
    assert told.stdout.split()[-1] == __version__ and wheel.name.split("-")[1] == __version__


def test_a_plain_checkout_runs(tmp_path):
    done = run(["-m", "connector_check", "show", "usb-c-16"], tmp_path, ROOT)
    assert done.returncode == 0 and "A1B12" in done.stdout
