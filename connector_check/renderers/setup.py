"""What a fault report needs to know of an installation, as text and as JSON."""

from __future__ import annotations

from typing import Any

from connector_check.reports.setup import MapFolder, Package, Setup, Terminal


def setup_json(setup: Setup) -> dict[str, Any]:
    """Schema 1: the record as it is, each missing package with its remedy."""
    return {
        "schema": 1,
        **setup._asdict(),
        "terminal": setup.terminal._asdict(),
        "packages": [package._asdict() for package in setup.packages],
        "maps": [folder._asdict() for folder in setup.maps],
        "variables": dict(setup.variables),
    }


def setup_lines(setup: Setup, speech_remedy: str) -> list[str]:
    """One fact a line; what is missing says how to get it."""
    lines = [
        f"connector-check {setup.version}",
        f"Python {setup.python}",
        f"system {setup.system}",
        _terminal(setup.terminal),
        *(_package(package) for package in setup.packages),
        f"speech program {setup.speech}" if setup.speech else f"speech program missing: {speech_remedy}",
        *(_folder(folder) for folder in setup.maps),
        *(f"variable {name}={value}" for name, value in setup.variables.items()),
    ]
    return lines if setup.variables else [*lines, "no environment variable of connector-check is set"]


def _terminal(terminal: Terminal) -> str:
    size = f"{terminal.columns} columns, {terminal.lines} lines" if terminal.columns else "no size"
    told = {
        "keyboard": terminal.keyboard,
        "screen": terminal.screen,
        "colour": terminal.colour,
        "line drawing": terminal.line_drawing,
    }
    yes_no = ", ".join(f"{name} {'yes' if value else 'no'}" for name, value in told.items())
    return f"terminal {terminal.kind or 'of no known kind'}: {size}, encoding {terminal.encoding}, {yes_no}"


def _package(package: Package) -> str:
    name = f"package {package.name}" + (f" (optional, for {package.extra})" if package.extra else "")
    return f"{name} {package.version}" if package.version else f"{name} missing: {package.remedy}"


def _folder(folder: MapFolder) -> str:
    where = f"{folder.whose} maps: {folder.maps} in {folder.folder or 'no folder'}"
    return f"{where}: {folder.trouble}" if folder.trouble else where
