"""The text of a board notes file that a person is to confirm. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from connector_check.board.notes import BoardNotes, ShellRule
from connector_check.files.text import printable
from connector_check.files.yaml_out import flow_list, in_quotes, quoted
from connector_check.pinout.pinmap import DesignPath
from connector_check.pinout.ranges import names_list

HEADING = """\
# connector-check board notes, format 1, derived by 'connector-check board-notes'
# Hold every line against the schematic: a wrong tie or path hides a short. What could not be told is listed at the end.
# Only two-pin parts are followed: chips, diodes and transistors are taken as open.
"""


def notes_text(notes: BoardNotes, listed: Iterable[str], comments: Mapping[str, str] | None = None) -> str:
    """The board notes file. listed: what could not be told, as comments; comments: by key, put above it."""
    parts: list[tuple[str, list[str]]] = [
        ("ties", [f"  - {flow_list(sorted(tie))}" for tie in notes.ties]),
        ("paths", [_path_line(path) for path in notes.paths]),
        ("not_fitted", [f"  {names_list(notes.not_fitted)}"] if notes.not_fitted else []),
        ("left_open", [f"  {names_list(notes.left_open)}"] if notes.left_open else []),
        ("shell", _shell_lines(notes.shell)),
        ("volts", [f"  {quoted(name)}: {value:g}" for name, value in notes.volts.items()]),
        ("points", [f"  {quoted(name)}: {quoted(net)}" for name, net in notes.points.items()]),
        ("withstands", [f"  {quoted(name)}: {value:g}" for name, value in notes.withstands.items()]),
    ]
    lines = [HEADING + "format: 1", f"map: {quoted(notes.map)}", f"board: {in_quotes(notes.board)}"]
    for key, entries in parts:
        if entries:
            lines += [f"# {printable((comments or {})[key])}"] if comments and key in comments else []
            lines += [f"{key}:", *entries]
    told = [f"# - {printable(line)}" for line in listed]
    return "\n".join([*lines, *(["# Not told, to be looked at by a person:", *told] if told else [])]) + "\n"


def _path_line(path: DesignPath) -> str:
    key = "between" if len(path.nets) == 2 else "among"
    absent = "may" if path.may_be_absent else "no"
    ohms = f"[{_plain(path.low)}, {_plain(path.high)}]"
    source = f", source: {in_quotes(path.source)}" if path.source else ""
    return f"  - {{{key}: {flow_list(path.nets)}, ohms: {ohms}, absent: {absent}, why: {in_quotes(path.why)}{source}}}"


def _plain(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _shell_lines(shell: ShellRule | None) -> list[str]:
    if shell is None:
        return []
    return [f"  ground: {shell.ground}", *([f"  why: {in_quotes(shell.why)}"] if shell.why else [])]
