"""What a fault report needs to know of this installation: versions, packages, terminal, maps. Nothing here raises."""

from __future__ import annotations

import os
import platform
import re
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from connector_check.errors import InputError
from connector_check.pinout.library import own_folders, shipped_folder
from connector_check.version import __version__

DISTRIBUTION = "connector-check"
OUR_VARIABLES = "CONNECTOR_CHECK_"
FOR_DEVELOPERS = "test"
"""The extra that a user never needs."""


class Terminal(NamedTuple):
    """columns, lines: the size in characters, None without a terminal; encoding: of what is printed; kind: the variable
    TERM; keyboard, screen: whether stdin and stdout are a terminal; colour, line_drawing: whether they are used.
    """

    columns: int | None
    lines: int | None
    encoding: str
    kind: str
    keyboard: bool
    screen: bool
    colour: bool
    line_drawing: bool


class Package(NamedTuple):
    """version: "" when it is missing; extra: the extra that asks for it, or "" when it is always needed; remedy: the
    sentence to get it, or "".
    """

    name: str
    version: str
    extra: str
    remedy: str


class MapFolder(NamedTuple):
    """Where pin maps are looked up: whose (`own` or `shipped`), how many map files; trouble: what is wrong, or ""."""

    whose: str
    folder: str
    maps: int
    trouble: str


class Setup(NamedTuple):
    """speech: the program that `probe --speak` uses, or ""; variables: those of ours that are set, by name."""

    version: str
    python: str
    system: str
    terminal: Terminal
    packages: tuple[Package, ...]
    speech: str
    maps: tuple[MapFolder, ...]
    variables: Mapping[str, str]


def gather_setup(terminal: Terminal, speech: str) -> Setup:
    """Look at this machine; terminal and speech are told by who owns them. The home folder is written `~`."""
    own = sys.prefix != sys.base_prefix
    return Setup(
        version=__version__,
        python=f"{platform.python_version()} {platform.python_implementation()}, "
        + ("in a virtual environment" if own else "no virtual environment"),
        system=platform.platform(),
        terminal=terminal,
        packages=tuple(_package(name, extra) for name, extra in sorted(_requirements())),
        speech=_without_home(speech),
        maps=tuple(_map_folders()),
        variables={k: _without_home(v) for k, v in sorted(os.environ.items()) if k.startswith(OUR_VARIABLES)},
    )


def _requirements() -> set[tuple[str, str]]:
    """Name and extra of each package that this one asks for; by its own file in a checkout that is not installed."""
    from importlib.metadata import PackageNotFoundError, requires

    try:
        lines = requires(DISTRIBUTION) or []
    except PackageNotFoundError:
        lines = _asked_by_checkout()
    found = set()
    for line in lines:
        name = re.match(r"[\w.-]+", line)
        extra = re.search(r"extra\s*==\s*['\"]([\w-]+)['\"]", line)
        if name and not (extra and extra[1] == FOR_DEVELOPERS):
            found.add((name[0], extra[1] if extra else ""))
    return found


def _asked_by_checkout() -> list[str]:
    from tomllib import TOMLDecodeError, loads

    try:
        project = loads((Path(__file__).resolve().parents[2] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    except (OSError, UnicodeDecodeError, TOMLDecodeError, KeyError):
        return []
    extras = project.get("optional-dependencies", {})
    return [
        *project.get("dependencies", []),
        *(f"{line}; extra == '{name}'" for name in extras for line in extras[name]),
    ]


def _package(name: str, extra: str) -> Package:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return Package(name, version(name), extra, "")
    except PackageNotFoundError:
        wanted = f"'{DISTRIBUTION}[{extra}]'" if extra else name
        return Package(name, "", extra, f"pip install {wanted}")


def _map_folders() -> list[MapFolder]:
    found = [_map_folder("own", folder) for folder in own_folders()]
    try:
        found.append(_map_folder("shipped", shipped_folder()))
    except InputError as error:
        found.append(MapFolder("shipped", "", 0, str(error)))
    return found


def _map_folder(whose: str, folder: Path) -> MapFolder:
    try:
        count = sum(1 for path in folder.iterdir() if path.suffix == ".yaml")
    except OSError as error:
        return MapFolder(whose, _without_home(str(folder)), 0, f"cannot be read: {error.strerror}")
    return MapFolder(whose, _without_home(str(folder)), count, "" if count else "no .yaml files in it")


def _without_home(text: str) -> str:
    home = os.path.expanduser("~")
    return text.replace(home, "~") if len(home) > 1 else text
