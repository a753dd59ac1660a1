"""Finding pin maps: the shipped ones, the user's own folder, or a named file.

An id never becomes a path: it must be spelled like an id and is looked up as `<id>.yaml` in the known folders.
"""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from connector_check.errors import InputError
from connector_check.files.user_folder import data_folder
from connector_check.pinout.names import ID
from connector_check.pinout.pinmap import PinMap
from connector_check.pinout.pinmap_file import load_pin_map

USER_FOLDER_VARIABLE = "CONNECTOR_CHECK_MAPS"


def shipped_folder(name: str = "pinmaps") -> Path:
    """The folder of shipped data (`pinmaps` or `examples`), in an installed package or beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    inside = package / name
    if inside.is_dir():
        return inside
    beside = package.parent / name
    if beside.is_dir() and (package.parent / "pyproject.toml").is_file():
        return beside
    raise InputError.one(str(inside), 0, "the shipped folder is missing", "install connector-check again")


def own_folders() -> list[Path]:
    """The folders of the user's own maps: that of the environment variable CONNECTOR_CHECK_MAPS, then `pinmaps` in
    their data folder where there is one.
    """
    named = os.environ.get(USER_FOLDER_VARIABLE)
    kept = data_folder() / "pinmaps"
    return ([Path(named)] if named else []) + ([kept] if kept.is_dir() else [])


def map_folders() -> list[Path]:
    """The user's own folders first, then the shipped one."""
    return [*own_folders(), shipped_folder()]


def list_ids() -> list[str]:
    """All pin map ids that can be found, sorted: the user's own (see `own_folders`) and the shipped ones. Each is a
    `name` for `find_pin_map`; generic headers are not listed.
    """
    return sorted({path.stem for folder in map_folders() if folder.is_dir() for path in folder.glob("*.yaml")})


def find_pin_map(name: str, beside: Path | None = None) -> PinMap:
    """The pin map of that name: an id, or a file when it ends in .yaml or .yml. Lengths in mm, volts in V.

    `header-2x20`, `header-1x8-2.0` and the like are generic headers: rows, columns, pitch in mm (2.54 when left out).

    beside: folder against which a bare file name is looked up first (a job file's own folder). Raises InputError.
    """
    if name.endswith((".yaml", ".yml")):
        path = Path(name)
        if beside is not None and path.name == name and (beside / name).is_file():
            path = beside / name
        return replace(load_pin_map(path, name), file=path.name)
    if ID.match(name):
        for folder in map_folders():
            path = folder / f"{name}.yaml"
            if path.is_file():
                found = load_pin_map(path)
                if found.id != name:
                    raise InputError.one(
                        str(path), 1, f"the file holds the pin map '{found.id}'", f"rename it to {found.id}.yaml"
                    )
                return found
        from connector_check.pinout.headers import header_map

        header = header_map(name)
        if header is not None:
            return header
    raise InputError.one(name or "''", 0, "no pin map of that id", _suggestion(name))


def _suggestion(name: str) -> str:
    from difflib import get_close_matches

    near = get_close_matches(name.lower(), list_ids(), n=3, cutoff=0.5)
    hint = f"did you mean {', '.join(near)}? " if near else ""
    return hint + "'connector-check maps' lists them; a file of your own is named with its .yaml ending"
