"""Board notes files: YAML in, checked `BoardNotes` out, or every problem at once as `file:line`; and the text of one."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path

from connector_check.board.notes import SHELL_RULES, BoardNotes, ShellRule, merged
from connector_check.errors import InputError, Problem
from connector_check.files.reading import read_capped
from connector_check.files.text import printable
from connector_check.files.yaml_out import quoted
from connector_check.files.yaml_text import MAX_BYTES, Text, Tree, read_yaml
from connector_check.pinout.pinmap import GROUND, POWER, SHELL, DesignPath, PinMap
from connector_check.pinout.pinmap_file import NAME, NameFields
from connector_check.pinout.ranges import names_list

MOST_VOLTS = 1000.0
TOP_KEYS = {"format", "map", "board", "ties", "paths", "not_fitted", "left_open", "shell", "volts", "points",
            "withstands"}  # fmt: skip
HEADING = """\
# connector-check board notes, format 1, derived by 'connector-check board-notes'
# Hold every line against the schematic: a wrong tie or path hides a short. What could not be told is listed at the end.
# Only two-pin parts are followed: chips, diodes and transistors are taken as open.
"""


def load_board_notes(path: Path | str, pin_map: PinMap, name: str = "") -> BoardNotes:
    """Read and check one board notes file against its pin map (with the variant chosen).

    name: what to call the file in messages (default: the path as given). Raises InputError with all problems.
    """
    file = name or str(path)
    return parse_board_notes(read_capped(path, file, MAX_BYTES), file, pin_map)


def parse_board_notes(raw: bytes, file: str, pin_map: PinMap) -> BoardNotes:
    """Check the bytes of a board notes file; see `load_board_notes`."""
    tree, problems = read_yaml(raw, file)
    reader = _NotesReader(file, problems, pin_map)
    found = reader.notes(tree)
    if reader.problems or found is None:
        raise InputError(reader.problems)
    return found


class _NotesReader(NameFields):
    def __init__(self, file: str, problems: list[Problem], pin_map: PinMap) -> None:
        super().__init__(file, problems)
        self.of_map = pin_map

    def notes(self, tree: Tree) -> BoardNotes | None:
        what = "the board notes"
        top = self.table(tree, what, TOP_KEYS)
        if top is None:
            return None
        if self.text(top, "format", what) not in ("1", ""):
            self.say(top.lines["format"], "an unknown format", "this version reads 'format: 1'")
        map_id = self.text(top, "map", what)
        if map_id and map_id != self.of_map.id:
            self.say(top.lines["map"], f"notes for the pin map '{map_id}', used with '{self.of_map.id}'",
                     "give the notes of this connector")  # fmt: skip
            return None
        known = set(self.of_map.net_named)
        not_fitted = self.contacts(top.entries.get("not_fitted"), "'not_fitted'")
        left_open = self.contacts(top.entries.get("left_open"), "'left_open'")
        for contact in left_open:
            if contact in not_fitted:
                self.say(top.lines["left_open"], f"contact '{contact}' is left open and not fitted", "keep one")
            if contact == "SH":
                self.say(top.lines["left_open"], "the shell is listed as left open", "write 'shell: {ground: may}'")
        if not_fitted and not set(self.of_map.net_of) - {*not_fitted, "SH"}:
            self.say(top.lines["not_fitted"], "no contact is left", "name only those that the part lacks")
        return BoardNotes(
            map=map_id,
            board=self.text(top, "board", what, required=False),
            ties=self.ties(top.entries.get("ties")),
            paths=self.paths(top.entries.get("paths"), known),
            not_fitted=not_fitted,
            left_open=left_open,
            shell=self.shell(top.entries.get("shell")),
            volts=self.volts(top.entries.get("volts"), "'volts'", -MOST_VOLTS),
            points=self.points(top.entries.get("points")),
            withstands=self.volts(top.entries.get("withstands"), "'withstands'", 0),
        )

    def contacts(self, tree: Tree | None, what: str) -> tuple[str, ...]:
        found: dict[str, int] = {}
        for contact, line in self.names(tree, what):
            if contact not in self.of_map.net_of:
                self.say(line, f"{what} names unknown contact '{contact}'", f"use contacts of {self.of_map.id}")
            elif contact in found:
                self.say(line, f"{what} names contact '{contact}' twice", "once is enough")
            else:
                found[contact] = line
        return tuple(found)

    def known_net(self, name: str, line: int, what: str) -> bool:
        if name in self.of_map.net_named:
            return True
        some = ", ".join(list(self.of_map.net_named)[:8])
        self.say(line, f"{what} names unknown net '{name}'", f"use nets of {self.of_map.id}: {some}")
        return False

    def ties(self, tree: Tree | None) -> tuple[frozenset[str], ...]:
        found = []
        for item in self.items(tree, "'ties'"):
            names = [name for name, line in self.names(item, "a tie") if self.known_net(name, line, "a tie")]
            if len(set(names)) < 2 or len(set(names)) < len(names):
                if not any(problem.line == item.line for problem in self.problems):
                    self.say(item, "a tie needs two different nets or more", "write - [NET, NET]")
                continue
            found.append((frozenset(names), item.line))
        whole = merged(tie for tie, _ in found)
        for tie in whole:
            line = next(line for part, line in found if part <= tie)
            nets = [self.of_map.net_named[name] for name in sorted(tie)]
            supplies = [net for net in nets if net.role == POWER]
            for role in (GROUND, SHELL):
                if supplies and any(net.role == role for net in nets):
                    self.say(line, f"a tie of supply {supplies[0].name} and {role}",
                             "that is a short, never a design; check the names")  # fmt: skip
            if len({net.volts for net in supplies}) > 1:
                self.say(line, f"a tie of supplies of different volts ({', '.join(n.name for n in supplies)})",
                         "check the names")  # fmt: skip
        return whole

    def shell(self, tree: Tree | None) -> ShellRule | None:
        table = self.table(tree, "'shell'", {"ground", "why"})
        if table is None:
            return None
        if not any(net.role == SHELL for net in self.of_map.nets):
            self.say(table, f"{self.of_map.id} has no shell", "remove 'shell'")
        if "ground" not in table.entries:
            self.say(table, "'shell' has no 'ground'", f"add one of {', '.join(SHELL_RULES)}")
        return ShellRule(self.word(table, "ground", "'shell'", SHELL_RULES, "may"),
                         self.text(table, "why", "'shell'", required=False))  # fmt: skip

    def volts(self, tree: Tree | None, what: str, least: float) -> dict[str, float]:
        table = self.table(tree, what)
        found: dict[str, float] = {}
        for name, entry in (table.entries if table else {}).items():
            assert table is not None
            value = self.number(entry, f"{what} of '{name}'", least, MOST_VOLTS)
            if not self.known_net(name, table.lines[name], what) or value is None:
                continue
            if what == "'volts'" and self.of_map.net_named[name].role in (GROUND, SHELL):
                self.say(table.lines[name], f"'volts' on {name}, which is {self.of_map.net_named[name].role}",
                         "only supplies and signals carry volts")  # fmt: skip
            found[name] = value
        return found

    def points(self, tree: Tree | None) -> dict[str, str]:
        table = self.table(tree, "'points'")
        taken = {name.casefold() for name in (*self.of_map.net_of, *self.of_map.net_named)}
        taken |= {joint.name.casefold() for layout in self.of_map.layouts for joint in layout.joints}
        found: dict[str, str] = {}
        for name, entry in (table.entries if table else {}).items():
            assert table is not None
            line = table.lines[name]
            if not NAME.match(name):
                self.say(line, f"board point '{name}' cannot be a name", "no spaces, commas, quotes or @")
            elif name.casefold() in taken:
                self.say(line, f"board point '{name}' is already a name of {self.of_map.id} or in these notes",
                         "choose another, say TP4 or C12")  # fmt: skip
            elif not isinstance(entry, Text):
                self.say(entry, f"the net of board point '{name}' is not a name", "write POINT: NET")
            elif self.known_net(entry.value, entry.line, f"board point '{name}'"):
                found[name] = entry.value
                taken.add(name.casefold())
        return found


def notes_text(notes: BoardNotes, listed: Iterable[str], comments: Mapping[str, str] | None = None) -> str:
    """The board notes file. listed: what could not be told, as comments; comments: by key, put above it."""
    parts: list[tuple[str, list[str]]] = [
        ("ties", [f"  - {_flow(sorted(tie))}" for tie in notes.ties]),
        ("paths", [_path_line(path) for path in notes.paths]),
        ("not_fitted", [f"  {names_list(notes.not_fitted)}"] if notes.not_fitted else []),
        ("left_open", [f"  {names_list(notes.left_open)}"] if notes.left_open else []),
        ("shell", _shell_lines(notes.shell)),
        ("volts", [f"  {quoted(name)}: {value:g}" for name, value in notes.volts.items()]),
        ("points", [f"  {quoted(name)}: {quoted(net)}" for name, net in notes.points.items()]),
        ("withstands", [f"  {quoted(name)}: {value:g}" for name, value in notes.withstands.items()]),
    ]
    lines = [HEADING + "format: 1", f"map: {quoted(notes.map)}", f"board: {_sentence(notes.board)}"]
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
    source = f", source: {_sentence(path.source)}" if path.source else ""
    return f"  - {{{key}: {_flow(path.nets)}, ohms: {ohms}, absent: {absent}, why: {_sentence(path.why)}{source}}}"


def _plain(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _shell_lines(shell: ShellRule | None) -> list[str]:
    if shell is None:
        return []
    return [f"  ground: {shell.ground}", *([f"  why: {_sentence(shell.why)}"] if shell.why else [])]


def _flow(names: Iterable[str]) -> str:
    return f"[{', '.join(quoted(name) for name in names)}]"


def _sentence(text: str) -> str:
    return json.dumps(printable(text), ensure_ascii=False)
