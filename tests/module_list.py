"""The list of packages and modules in DEVELOPERS.md, out of their own docstrings.

`python -m tests.module_list` writes it anew.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

from tests.test_package_order import MODULES, ORDER, part

PAGE = Path(__file__).resolve().parents[1] / "DEVELOPERS.md"
SECTION = re.compile(r"(?s)(<!-- modules: written by python -m tests.module_list -->\n).*?(<!-- end of modules -->)")


def told(path: Path) -> str:
    """The first sentence of a module's docstring, or its first line where that has no full stop."""
    text = " ".join((ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "").split("\n\n")[0].split())
    return text.removesuffix(".")


def module_list() -> str:
    """One table, packages in the order of the flow, each followed by its modules."""
    lines = ["| package, module | holds |", "|---|---|"]
    for package in ORDER:
        for name, path in MODULES.items():
            if part(name) == package and path.stem != "py":
                label = f"**`{package}`**" if path.stem == "__init__" or name.count(".") == 1 else f"`{path.stem}`"
                lines.append(f"| {label} | {told(path)} |")
    return "\n".join(lines) + "\n"


def written(page: str) -> str:
    """The page with the list as it is now."""
    return SECTION.sub(lambda found: found[1] + module_list() + found[2], page)


if __name__ == "__main__":
    PAGE.write_text(written(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
