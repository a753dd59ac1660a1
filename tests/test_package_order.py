"""A package imports only those above it in this table, and no two modules import each other, not even lazily."""

from __future__ import annotations

import ast
from pathlib import Path

import networkx
import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "connector_check"
ORDER = (
    "version",
    "errors",
    "files",
    "pinout",
    "board",
    "testlog",
    "simulated",
    "kicad",
    "analysis",
    "new_map",
    "drawing",
    "job",
    "reports",
    "probing",
    "renderers",
    "cli",
)
MODULES = {
    ".".join(("connector_check", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__"): path
    for path in sorted(PACKAGE.rglob("*.py"))
}


def imported(path: Path) -> set[str]:
    """The modules of ours that a file imports anywhere, in functions and for types as well."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert not node.level, f"{path} imports relatively"
            inside = {f"{node.module}.{alias.name}" for alias in node.names} & MODULES.keys()
            found |= inside or {node.module}
    return {name for name in found if name.partition(".")[0] == "connector_check"}


IMPORTS = {name: imported(path) for name, path in MODULES.items()}


def part(module: str) -> str:
    """The package of a module, or the module itself where it stands alone."""
    return module.split(".")[1] if "." in module else ""


@pytest.mark.parametrize("module", [name for name in MODULES if part(name) not in ("", "__main__")])
def test_a_package_imports_only_those_above_it(module):
    place = ORDER.index(part(module))
    assert not {name for name in IMPORTS[module] if ORDER.index(part(name)) > place}


def test_no_module_imports_itself_over_others():
    graph = networkx.DiGraph([(a, b) for a, found in IMPORTS.items() for b in found])
    assert graph.number_of_edges() > 200
    assert networkx.is_directed_acyclic_graph(graph), networkx.find_cycle(graph)


def test_every_package_says_what_may_live_in_it():
    for name in ORDER:
        module = ast.parse(MODULES[f"connector_check.{name}"].read_text(encoding="utf-8"))
        assert len((ast.get_docstring(module) or "").splitlines()[0]) > 30, name
