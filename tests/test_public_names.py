"""What `connector_check` promises exists, is documented, loads lazily, and is enough for the program in the README."""

from __future__ import annotations

import ast
import inspect
import re
import subprocess
import sys
from pathlib import Path

import pytest

import connector_check
from connector_check.analysis import result

ROOT = Path(__file__).resolve().parents[1]
CLASSES_AND_FUNCTIONS = [name for name in connector_check.__all__ if name != "__version__"]
FUNCTIONS = ["check", "find_pin_map", "list_ids", "load_job"]


def test_every_promised_name_exists_and_no_other_is_had_by_it():
    assert len(set(connector_check.__all__)) == len(connector_check.__all__)
    assert all(getattr(connector_check, name) is not None for name in connector_check.__all__)
    assert set(connector_check.__all__) <= set(dir(connector_check))
    with pytest.raises(AttributeError, match="no attribute 'replay'"):
        connector_check.replay  # noqa: B018


def test_type_checkers_see_the_same_names():
    (block,) = [node for node in ast.parse(inspect.getsource(connector_check)).body if isinstance(node, ast.If)]
    seen = {
        alias.asname or alias.name
        for node in ast.walk(block)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert seen == set(connector_check.__all__)


@pytest.mark.parametrize("name", CLASSES_AND_FUNCTIONS)
def test_each_is_documented(name):
    text = getattr(connector_check, name).__doc__
    assert text and not text.startswith(f"{name}("), "a docstring of its own, not one that the interpreter makes"


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_function_says_what_its_arguments_are_and_what_it_raises(name):
    function = getattr(connector_check, name)
    text = inspect.getdoc(function) or ""
    words = set(re.findall(r"\w+", text))
    assert set(inspect.signature(function).parameters) <= words
    assert name == "list_ids" or "Raises" in text


def test_every_record_of_the_result_is_promised():
    records = {name for name, kind in vars(result).items() if inspect.isclass(kind) and hasattr(kind, "_fields")}
    assert records <= set(connector_check.__all__) and len(records) > 10


def test_the_program_in_the_readme_needs_no_other_name():
    (code,) = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    imports = [node for node in ast.walk(ast.parse(code)) if isinstance(node, ast.Import | ast.ImportFrom)]
    assert [(node.module, {a.name for a in node.names}) for node in imports] == [
        ("connector_check", {"check", "load_job"})
    ]


def test_importing_the_package_loads_nothing_else():
    code = "import sys, connector_check; print(sorted(m for m in sys.modules if m.startswith('connector_check.')))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
