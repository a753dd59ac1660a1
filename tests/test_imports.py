"""The start-up path stays light: what makes tables and pages is loaded when one is wanted."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.strategies import TINY_YAML

HEAVY_AT_START = ("yaml", "platformdirs", "connector_check.pinout.pinmap_file", "connector_check.analysis.check", "csv")
PAGES = ("jinja2", "markupsafe", "xml.etree.ElementTree")
HEAVY = ("pandas", "numpy", "tabulate", "wcwidth", "importlib.metadata", "connector_check.renderers.tables", *PAGES)
PROBE = """
import sys
from connector_check.cli.commands import main
try:
    main({args!r}, standalone_mode=False)
except SystemExit:
    pass
print(sorted(m for m in {heavy!r} if m in sys.modules), file=sys.stderr)
"""


@pytest.mark.parametrize(
    "args", [["--help"], ["check", "--help"], ["check", "job.csv"], ["check", "job.csv", "--format", "json"]]
)
def test_light_commands_import_nothing_heavy(args, tmp_path):
    (tmp_path / "tiny.yaml").write_text(TINY_YAML)
    (tmp_path / "job.csv").write_text("# map: tiny.yaml\n1,2,beep\n")
    code = PROBE.format(args=args, heavy=HEAVY)
    path = f"import sys; sys.path[:0] = {[p for p in sys.path if p]!r}\n"
    done = subprocess.run([sys.executable, "-c", path + code], capture_output=True, text=True, cwd=tmp_path)
    assert done.stdout
    assert done.stderr.strip().splitlines()[-1] == "[]"


def test_help_loads_nothing_but_the_commands():
    code = PROBE.format(args=["--help"], heavy=(*HEAVY, *HEAVY_AT_START))
    path = f"import sys; sys.path[:0] = {[p for p in sys.path if p]!r}\n"
    done = subprocess.run([sys.executable, "-c", path + code], capture_output=True, text=True)
    assert done.stderr.strip().splitlines()[-1] == "[]"


def test_a_probing_step_imports_nothing_heavy(tmp_path):
    (tmp_path / "tiny.yaml").write_text(TINY_YAML)
    code = PROBE.format(
        args=["probe", "job.csv", "--map", "tiny.yaml"], heavy=("pandas", "numpy", "tabulate", "wcwidth", *PAGES)
    )
    path = f"import sys; sys.path[:0] = {[p for p in sys.path if p]!r}\n"
    done = subprocess.run(
        [sys.executable, "-c", path + code], capture_output=True, text=True, cwd=tmp_path, input="beep\nbeep\nquit\n"
    )
    assert "residual risk" in done.stdout
    assert done.stderr.strip().splitlines()[-1] == "[]"


@pytest.mark.parametrize("command", ["check", "rework"])
@pytest.mark.parametrize(
    ("form", "heavy"),
    [
        ("csv", ("pandas", "numpy", "tabulate", *PAGES)),
        ("markdown", ("pandas", "numpy", *PAGES)),
        ("html", ("pandas", "numpy", "tabulate")),
    ],
)
def test_a_table_or_a_page_imports_only_what_makes_it(command, form, heavy, tmp_path):
    (tmp_path / "tiny.yaml").write_text(TINY_YAML)
    (tmp_path / "job.csv").write_text("# map: tiny.yaml\n1,2,beep\n")
    code = PROBE.format(args=[command, "job.csv", "--format", form], heavy=heavy)
    path = f"import sys; sys.path[:0] = {[p for p in sys.path if p]!r}\n"
    done = subprocess.run([sys.executable, "-c", path + code], capture_output=True, text=True, cwd=tmp_path)
    assert done.stdout
    assert done.stderr.strip().splitlines()[-1] == "[]"
