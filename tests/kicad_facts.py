"""Facts about KiCad symbols and footprints, taken from the installed Debian packages.

    python tests/kicad_facts.py [MAP-ID ...]

writes tests/data/kicad_facts/<map-id>.json for each comparison file named (all when none is).
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import Any

import yaml

DATA = Path(__file__).resolve().parent / "data"
COMPARISONS = DATA / "comparisons"
FACTS = DATA / "kicad_facts"
SHARE = Path("/usr/share/kicad")
VERSIONS = {"kicad-symbols": "6.0.10", "kicad-footprints": "6.0.11"}
ORIGIN = (
    "Pin numbers and names of the symbols, and copper pads of the footprints, as read from KiCad's libraries in "
    "Debian's "
    + " and ".join(f"{package} {version}" for package, version in VERSIONS.items())
    + " (kicad.org). Lengths in mm, x right, y down. Written by tests/kicad_facts.py; do not edit."
)


@cache
def installed_version(package: str) -> str:
    """The version of a Debian package that is installed, without Debian's own part, or ""."""
    ask = ["dpkg-query", "--show", "--showformat", "${Version}", package]
    try:
        return subprocess.run(ask, capture_output=True, text=True).stdout.partition("-")[0]
    except OSError:
        return ""


def packages_installed() -> bool:
    """Whether both libraries are here in the very versions that the facts were taken from."""
    return SHARE.is_dir() and all(installed_version(package) == version for package, version in VERSIONS.items())


def read_comparison(map_id: str) -> dict[str, Any]:
    """The comparison file of that map, every scalar as text."""
    text = (COMPARISONS / f"{map_id}.yaml").read_text(encoding="utf-8")
    found: dict[str, Any] = yaml.load(text, Loader=yaml.BaseLoader)
    return found


@cache
def _library(name: str) -> Any:
    from connector_check.files.sexpr import read_sexpr

    return read_sexpr((SHARE / "symbols" / f"{name}.kicad_sym").read_text(encoding="utf-8"))


@cache
def _pins(symbol: str) -> tuple[tuple[str, str], ...]:
    from connector_check.kicad.symbols import library_pins

    library, _, name = symbol.partition(":")
    return tuple((number, pin_name) for number, pin_name, _ in library_pins(_library(library), name))


def _pads(footprint: str) -> list[dict[str, Any]]:
    from connector_check.kicad.footprints import footprint_pads

    library, _, name = footprint.partition(":")
    text = (SHARE / "footprints" / f"{library}.pretty" / f"{name}.kicad_mod").read_text(encoding="utf-8")
    return [asdict(pad) for pad in footprint_pads(text) if pad.has_copper]


def facts_of(map_id: str) -> dict[str, Any]:
    """What the installed packages say about the parts that this map is compared with."""
    comparison = read_comparison(map_id)
    symbols = {
        entry["symbol"]: [list(pin) for pin in _pins(entry["symbol"])] for entry in comparison.get("symbols", [])
    }
    footprints = {e["footprint"]: _pads(e["footprint"]) for e in comparison.get("footprints", {}).values()}
    return {"origin": ORIGIN, "symbols": symbols, "footprints": footprints}


def as_text(facts: dict[str, Any]) -> str:
    """JSON with one pin or pad a line."""
    parts = [f' "origin": {json.dumps(facts["origin"])}']
    for kind in ("symbols", "footprints"):
        tables = [
            f"  {json.dumps(name)}: [\n" + ",\n".join(f"   {json.dumps(row)}" for row in rows) + "\n  ]"
            for name, rows in facts[kind].items()
        ]
        parts.append(f' "{kind}": {{\n' + ",\n".join(tables) + "\n }" if tables else f' "{kind}": {{}}')
    return "{\n" + ",\n".join(parts) + "\n}\n"


def main(map_ids: list[str]) -> int:
    if not packages_installed():
        print(f"needs the Debian packages {', '.join(f'{p} {v}' for p, v in VERSIONS.items())}", file=sys.stderr)
        return 1
    FACTS.mkdir(exist_ok=True)
    for map_id in map_ids or sorted(path.stem for path in COMPARISONS.glob("*.yaml")):
        if not (COMPARISONS / f"{map_id}.yaml").is_file():
            print(f"{map_id}: no comparison file {COMPARISONS.name}/{map_id}.yaml", file=sys.stderr)
            return 1
        (FACTS / f"{map_id}.json").write_text(as_text(facts_of(map_id)), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
    sys.exit(main(sys.argv[1:]))
