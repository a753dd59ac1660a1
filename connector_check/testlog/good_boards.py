"""Jobs of boards known to be good, kept under a name in a folder of the user's: one folder a kind of board.

A set holds copies, so that the job may move; each says in its header lines what it is of.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from connector_check.errors import InputError
from connector_check.files.reading import read_capped
from connector_check.files.text import decode, shown
from connector_check.files.user_folder import data_folder
from connector_check.files.writing import write_whole
from connector_check.pinout.names import ID
from connector_check.testlog.jobfile import MAX_BYTES, read_text

FOLDER = "good-boards"
ENDING = ".csv"


def folder() -> Path:
    """The folder of all sets; it need not exist."""
    return data_folder() / FOLDER


def is_set_name(name: str) -> bool:
    """Whether a set can be called so: like an id, and not like a job file, so that it never means a path."""
    return bool(ID.match(name)) and not name.endswith(ENDING) and ".." not in name


def check_name(name: str) -> None:
    """Raises InputError for a name that no set can have."""
    if not is_set_name(name):
        raise InputError.one(
            shown(name) or "''", 0, "no name for a kind of board", "small letters, digits, dots and hyphens: scale-rev2"
        )


def names() -> list[str]:
    """The names of the sets that hold a job, sorted. Raises InputError where the folder cannot be read."""
    place = folder()
    try:
        found = list(place.iterdir()) if place.is_dir() else []
    except OSError as error:
        raise InputError.one(str(place), 0, f"cannot be read ({error.strerror})", "check its rights") from None
    return sorted(entry.name for entry in found if is_set_name(entry.name) and _jobs(entry))


def _jobs(place: Path) -> list[Path]:
    return sorted(path for path in place.glob("*" + ENDING) if path.is_file())


class KeptJob(NamedTuple):
    """A job of a set: its name there, when it was read, what it calls its board, or ""."""

    name: str
    date: str
    called: str


class Kept(NamedTuple):
    """A set; kind: map, layout and variant of its boards."""

    name: str
    kind: str
    jobs: tuple[KeptJob, ...]


def kept() -> list[Kept]:
    """All sets with their jobs. Raises InputError for a job that cannot be read."""
    found = []
    for name in names():
        texts = [(path.stem, read_text(str(path)).header) for path in jobs(name)]
        kind = ", ".join(texts[0][1][key] for key in ("map", "layout", "variant") if key in texts[0][1])
        told = (KeptJob(stem, shown(h.get("date", "")), shown(h.get("board", ""))) for stem, h in texts)
        found.append(Kept(name, kind, tuple(told)))
    return found


def jobs(name: str) -> list[Path]:
    """The jobs of a set, by name; none where there is no such set."""
    return _jobs(folder() / name) if is_set_name(name) else []


def files_of(name: str) -> list[str]:
    """The job files that a name means: those of a set, else the file of that name itself. Raises InputError for a name
    that is neither.
    """
    if kept := jobs(name):
        return [str(path) for path in kept]
    if is_set_name(name) and not Path(name).exists():
        raise no_set(name)
    return [name]


def no_set(name: str) -> InputError:
    """What is said of a name under which nothing is kept."""
    known = ", ".join(names()) or "none yet"
    return InputError.one(
        shown(name), 0, "no job file, and no good boards are kept under that name", f"there are: {known}"
    )


def keep(name: str, job: str, header: dict[str, str]) -> Path:
    """Copy a job into a set and return the copy; header: lines that it gets where the job lacks them. Raises
    InputError.
    """
    check_name(name)
    text = decode(read_capped(job, job, MAX_BYTES), job, MAX_BYTES)
    place = folder() / name
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError.one(str(place), 0, f"cannot be made ({error.strerror})", "choose another home") from None
    stem = "".join(c if c.isalnum() or c in "-_" else "-" for c in Path(job).stem).strip("-") or "job"
    number, path = 1, place / (stem + ENDING)
    while path.exists():
        number += 1
        path = place / f"{stem}-{number}{ENDING}"
    write_whole(path, "".join(f"# {key}: {value}\n" for key, value in header.items()) + text)
    return path


def remove(name: str, job: str) -> Path:
    """Take a job out of a set by the name it has there, and return where it lay. Raises InputError."""
    found = jobs(name)
    if not found:
        raise no_set(name)
    for path in found:
        if job in (path.name, path.stem):
            try:
                path.unlink()
                if not any(path.parent.iterdir()):
                    path.parent.rmdir()
            except OSError as error:
                raise InputError.one(
                    str(path), 0, f"cannot be removed ({error.strerror})", "check its rights"
                ) from None
            return path
    known = ", ".join(path.stem for path in found)
    raise InputError.one(shown(job), 0, f"no such job among the good boards of {name}", f"there are: {known}")
