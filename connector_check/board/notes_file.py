"""Board notes files: YAML in, checked `BoardNotes` out, or every problem at once as `file:line`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from connector_check.board.notes import SHELL_RULES, BoardNotes, ShellRule
from connector_check.board.ties import merged
from connector_check.errors import InputError, Problem
from connector_check.files.fields import Fields
from connector_check.files.reading import read_capped
from connector_check.files.yaml_text import MAX_BYTES, Table, Text, Tree, read_yaml
from connector_check.pinout.names import NAME, read_names
from connector_check.pinout.path_fields import read_paths
from connector_check.pinout.pinmap import GROUND, MOST_VOLTS, POWER, SHELL, SHELL_CONTACT, PinMap

WHAT = "the board notes"
TOP_KEYS = {
    "format",
    "map",
    "board",
    "ties",
    "paths",
    "not_fitted",
    "left_open",
    "shell",
    "volts",
    "points",
    "withstands",
}


def load_board_notes(path: Path | str, pin_map: PinMap, name: str = "") -> BoardNotes:
    """Read and check one board notes file against its pin map (with the variant chosen).

    name: what to call the file in messages (default: the path as given). Raises InputError with all problems.
    """
    file = name or str(path)
    return parse_board_notes(read_capped(path, file, MAX_BYTES), file, pin_map)


def parse_board_notes(raw: bytes, file: str, pin_map: PinMap) -> BoardNotes:
    """Check the bytes of a board notes file; see `load_board_notes`."""
    tree, problems = read_yaml(raw, file)
    reader = _NotesFields(file, problems, pin_map)
    found = reader.notes(tree)
    if reader.problems or found is None:
        raise InputError(reader.problems)
    return found


class _NotesFields(Fields):
    """The parts of board notes, each held against the pin map."""

    def __init__(self, file: str, problems: list[Problem], pin_map: PinMap) -> None:
        super().__init__(file, problems)
        self.of_map = pin_map

    def notes(self, tree: Tree) -> BoardNotes | None:
        top = self.table(tree, WHAT, TOP_KEYS)
        if top is None:
            return None
        self.check_format(top, WHAT)
        map_id = self.text(top, "map", WHAT)
        if map_id and map_id != self.of_map.id:
            other = f"notes for the pin map '{map_id}', used with '{self.of_map.id}'"
            self.say(top.lines["map"], other, "give the notes of this connector")
            return None
        not_fitted = self.contacts(top.entries.get("not_fitted"), "'not_fitted'")
        left_open = self.contacts(top.entries.get("left_open"), "'left_open'")
        self.check_contacts(top, not_fitted, left_open)
        return BoardNotes(
            map=map_id,
            board=self.text(top, "board", WHAT, required=False),
            ties=self.ties(top.entries.get("ties")),
            paths=read_paths(self, top.entries.get("paths"), self.of_map.net_named),
            not_fitted=not_fitted,
            left_open=left_open,
            shell=self.shell(top.entries.get("shell")),
            volts=self.volts(top.entries.get("volts"), "'volts'", -MOST_VOLTS),
            points=self.points(top.entries.get("points")),
            withstands=self.volts(top.entries.get("withstands"), "'withstands'", 0),
        )

    def contacts(self, tree: Tree | None, what: str) -> tuple[str, ...]:
        found: dict[str, int] = {}
        for contact, line in read_names(self, tree, what):
            if contact not in self.of_map.net_of:
                self.say(line, f"{what} names unknown contact '{contact}'", f"use contacts of {self.of_map.id}")
            elif contact in found:
                self.say(line, f"{what} names contact '{contact}' twice", "once is enough")
            else:
                found[contact] = line
        return tuple(found)

    def check_contacts(self, top: Table, not_fitted: Sequence[str], left_open: Sequence[str]) -> None:
        for contact in left_open:
            if contact in not_fitted:
                self.say(top.lines["left_open"], f"contact '{contact}' is left open and not fitted", "keep one")
            if contact == SHELL_CONTACT:
                self.say(top.lines["left_open"], "the shell is listed as left open", "write 'shell: {ground: may}'")
        if not_fitted and not set(self.of_map.net_of) - {*not_fitted, SHELL_CONTACT}:
            self.say(top.lines["not_fitted"], "no contact is left", "name only those that the part lacks")

    def known_net(self, name: str, line: int, what: str) -> bool:
        if name in self.of_map.net_named:
            return True
        some = ", ".join(list(self.of_map.net_named)[:8])
        self.say(line, f"{what} names unknown net '{name}'", f"use nets of {self.of_map.id}: {some}")
        return False

    def ties(self, tree: Tree | None) -> tuple[frozenset[str], ...]:
        found = []
        for item in self.items(tree, "'ties'"):
            names = [name for name, line in read_names(self, item, "a tie") if self.known_net(name, line, "a tie")]
            if len(set(names)) < 2 or len(set(names)) < len(names):
                if not any(problem.line == item.line for problem in self.problems):
                    self.say(item, "a tie needs two different nets or more", "write - [NET, NET]")
                continue
            found.append((frozenset(names), item.line))
        whole = merged(tie for tie, _ in found)
        for tie in whole:
            self.check_tie(tie, next(line for part, line in found if part <= tie))
        return whole

    def check_tie(self, tie: frozenset[str], line: int) -> None:
        nets = [self.of_map.net_named[name] for name in sorted(tie)]
        supplies = [net for net in nets if net.role == POWER]
        for role in (GROUND, SHELL):
            if supplies and any(net.role == role for net in nets):
                remedy = "that is a short, never a design; check the names"
                self.say(line, f"a tie of supply {supplies[0].name} and {role}", remedy)
        if len({net.volts for net in supplies}) > 1:
            named = ", ".join(net.name for net in supplies)
            self.say(line, f"a tie of supplies of different volts ({named})", "check the names")

    def shell(self, tree: Tree | None) -> ShellRule | None:
        table = self.table(tree, "'shell'", {"ground", "why"})
        if table is None:
            return None
        if not any(net.role == SHELL for net in self.of_map.nets):
            self.say(table, f"{self.of_map.id} has no shell", "remove 'shell'")
        if "ground" not in table.entries:
            self.say(table, "'shell' has no 'ground'", f"add one of {', '.join(SHELL_RULES)}")
        ground = self.word(table, "ground", "'shell'", SHELL_RULES, "may")
        return ShellRule(ground, self.text(table, "why", "'shell'", required=False))

    def volts(self, tree: Tree | None, what: str, least: float) -> dict[str, float]:
        found: dict[str, float] = {}
        for name, entry, line in self.entries(tree, what):
            value = self.number(entry, f"{what} of '{name}'", least, MOST_VOLTS)
            if not self.known_net(name, line, what) or value is None:
                continue
            role = self.of_map.net_named[name].role
            if what == "'volts'" and role in (GROUND, SHELL):
                self.say(line, f"'volts' on {name}, which is {role}", "only supplies and signals carry volts")
            found[name] = value
        return found

    def points(self, tree: Tree | None) -> dict[str, str]:
        taken = {name.casefold() for name in (*self.of_map.net_of, *self.of_map.net_named)}
        taken |= {joint.name.casefold() for layout in self.of_map.layouts for joint in layout.joints}
        found: dict[str, str] = {}
        for name, entry, line in self.entries(tree, "'points'"):
            if not NAME.match(name):
                self.say(line, f"board point '{name}' cannot be a name", "no spaces, commas, quotes or @")
            elif name.casefold() in taken:
                already = f"board point '{name}' is already a name of {self.of_map.id} or in these notes"
                self.say(line, already, "choose another, say TP4 or C12")
            elif not isinstance(entry, Text):
                self.say(entry, f"the net of board point '{name}' is not a name", "write POINT: NET")
            elif self.known_net(entry.value, entry.line, f"board point '{name}'"):
                found[name] = entry.value
                taken.add(name.casefold())
        return found
