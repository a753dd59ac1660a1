"""The start-up path stays light: no pandas, numpy or tabulate before a table is wanted."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.strategies import TINY_YAML

HEAVY = ("pandas", "numpy", "tabulate", "importlib.metadata", "connector_check.renderers.tables")
PROBE = """
import sys
from connector_check.commands import main
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
