"""One set of faults on the board: whether it is bad, and whether the readings fit it. Pure.

A fault is a number here: `~body` for a body made loose (all its joints open), else the number of a solder place.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import inf
from typing import NamedTuple

from connector_check.analysis.refuter_index import Index, Joined, Key, split
from connector_check.analysis.refuter_model import SupposedBoard
from connector_check.analysis.refuter_network import (
    Bound,
    Conflict,
    Fit,
    Goal,
    Matrix,
    Range,
    add,
    fit,
    matrix_of,
    ruled_out,
    unjoined,
)


class Outcome(NamedTuple):
    """What the readings say to a set of faults. fits: a board that reads so; conflicts: else, sets of readings of which
    each rules it out; undecided: neither could be shown.
    """

    fits: SupposedBoard | None
    conflicts: tuple[Conflict, ...] = ()
    undecided: bool = False


@dataclass
class Group:
    """Regions and loose spots that bridges connect, and the readings at loose bodies within."""

    regions: list[int] = field(default_factory=list)
    loose: list[int] = field(default_factory=list)
    links: list[tuple[int, int, int]] = field(default_factory=list)
    touches: list[int] = field(default_factory=list)


class State:
    """A set of faults, as conductors: spots joined by bridges, loose bodies."""

    def __init__(self, index: Index, faults: frozenset[int]) -> None:
        self.index, self.faults = index, faults
        self.loose, self.bridges = split(faults)
        self.nodes = len(index.names)
        self.joined, self.near = Joined(), Joined()
        self.links: list[tuple[int, int, int]] = []
        for number in self.bridges:
            solder = index.solder[number]
            a, b = self.spot(~solder.a), self.spot(~solder.b)
            if a != b:
                self.links.append((a, b, number))
                self.joined.join(a, b)
                self.near.join(self.place(a), self.place(b))

    def spot(self, end: int) -> int:
        """Where an end of a touch is: a node, or past the nodes the loose body."""
        if end >= 0:
            return end
        return self.nodes + ~end if ~end in self.loose else self.index.bodies[~end].node

    def place(self, spot: int) -> int:
        """The region of a spot; a loose body is a place of its own, numbered after the regions."""
        return self.index.region_of[spot] if spot < self.nodes else len(self.index.regions) + spot - self.nodes

    def group(self, end: int) -> int:
        """The group that an end of a touch is in: places that bridges connect have the same."""
        return self.near.find(self.place(self.spot(end)))

    def label(self, spot: int) -> int:
        """The node whose net a spot belongs to, loose or not."""
        return spot if spot < self.nodes else self.index.bodies[spot - self.nodes].node

    def shorted(self, ties: Iterable[Key] = (), group: int | None = None) -> list[Key]:
        """Nodes whose nets must be apart and are joined when these ties are there (only in one group, where given)."""
        joined, spots = Joined(), set()
        for a, b, _ in self.links:
            if group is None or self.near.find(self.place(a)) == group:
                joined.join(a, b)
                spots |= {a, b}
        for a, b in ties:
            joined.join(a, b)
            spots |= {a, b}
        classes: dict[int, list[int]] = {}
        for spot in sorted(spots):
            label = self.label(spot)
            members = classes.setdefault(joined.find(spot), [])
            if label not in members:
                members.append(label)
        apart = self.index.apart
        return [
            (a, b)
            for members in classes.values()
            for i, a in enumerate(members)
            for b in members[i + 1 :]
            if apart(a, b)
        ]

    def cut_off(self, ties: Iterable[Key] = (), group: int | None = None) -> list[int]:
        """Loose bodies that need contact and have none when these ties are there."""
        loose = [body for body in self.loose if self.index.bodies[body].required]
        if not loose:
            return []
        joined = Joined()
        for a, b, _ in self.links:
            joined.join(a, b)
        for a, b in ties:
            joined.join(a, b)
        return [
            body
            for body in loose
            if joined.find(self.nodes + body) != joined.find(self.index.bodies[body].node)
            and (group is None or self.group(~body) == group)
        ]

    def ties_near(self) -> list[Key]:
        """The optional ties that can matter to what the bridges join."""
        tie_nodes = self.index.tie_nodes
        if not any(spot in tie_nodes for a, b, _ in self.links for spot in (a, b)):
            return []
        regions = {self.index.region_of[spot] for a, b, _ in self.links for spot in (a, b) if spot < self.nodes}
        ties = (self.index.elements[i] for i in self.index.ties)
        return [(tie.a, tie.b) for tie in ties if self.index.region_of[tie.a] in regions]

    def bad(self) -> tuple[bool, bool]:
        """Whether the state can be bad, and whether it is bad with any ties."""
        short, cut, ties = bool(self.shorted()), bool(self.cut_off()), self.ties_near()
        if not ties:
            return short or cut, short or cut
        still_cut = cut and bool(self.cut_off(ties))
        return short or cut or bool(self.shorted(ties)), short or still_cut

    def judge(self, must_be_bad: bool) -> Outcome:
        """Whether some choice of parts and ties meets all readings at once (and leaves the board bad, where asked)."""
        groups, conflicts = self._groups()
        fits: dict[int, Fit] = {}
        by_ties = (
            [number for number, group in groups.items() if group.links] if must_be_bad and not self.bad()[1] else []
        )
        for number, group in groups.items():
            fits[number] = self._fit(group, None, corners_only=bool(conflicts) or by_ties == [number])
            if fits[number].values is None:
                conflicts[:0] = fits[number].conflicts
        undecided = any(found.undecided for found in fits.values()) or self._untouched_undecided(groups)
        if conflicts or undecided:
            return Outcome(None, tuple(conflicts), undecided and not conflicts)
        if must_be_bad and not self.bad()[1]:
            return self._judge_by_ties(groups, fits, by_ties)
        return Outcome(self._supposed(groups, fits))

    def _judge_by_ties(self, groups: dict[int, Group], fits: dict[int, Fit], linked: list[int]) -> Outcome:
        """The state is bad with some ties only: look for them in one group after the other."""
        blame: frozenset[tuple[int, bool]] = frozenset()
        for number in linked:
            found = self._fit(groups[number], number)
            if found.values is not None:
                return Outcome(self._supposed(groups, {**fits, number: found}))
            if found.undecided:
                return Outcome(None, (), True)
            blame |= min(found.conflicts, key=len, default=frozenset())
        return Outcome(None, (blame,))

    def _groups(self) -> tuple[dict[int, Group], list[Conflict]]:
        """What has to be looked at again, and the readings that no choice of parts can meet."""
        index, groups = self.index, dict[int, Group]()
        for a, b, number in self.links:
            group = groups.setdefault(self.near.find(self.place(a)), Group())
            group.links.append((a, b, number))
            for spot in (a, b):
                members, member = (group.regions, self.place(spot)) if spot < self.nodes else (group.loose, spot)
                if member not in members:
                    members.append(member)
        conflicts = self._torn()
        for number in dict.fromkeys(number for body in self.loose for number in index.sounding_at[body]):
            touch = index.touches[number]
            if self.group(touch.a) != self.group(touch.b):
                conflicts.append(Conflict([(number, False)]))
        for body in self.loose:
            root = self.group(~body)
            group = groups.setdefault(root, Group(loose=[self.nodes + body]))
            self._take_touches(body, root, group)
        for region in index.broken:
            root = self.near.find(region)
            if root in groups:
                continue
            if any(index.region_of[index.bodies[body].node] == region for body in self.loose):
                groups[root] = Group([region])
            else:
                conflicts += index.regions[region].sound.conflicts
        return groups, conflicts

    def _take_touches(self, body: int, root: int, group: Group) -> None:
        """The readings between a loose body and its group."""
        index = self.index
        others = (index.bodies[spot - self.nodes].node for spot in group.loose)
        for region in dict.fromkeys([*group.regions, *(index.region_of[node] for node in others)]):
            for number in index.touches_toward[body].get(region, ()):
                touch = index.touches[number]
                if self.group(touch.a) == self.group(touch.b) == root and number not in group.touches:
                    group.touches.append(number)

    def _torn(self) -> list[Conflict]:
        """Readings that want two regions joined which are not."""
        index, found = self.index, []
        for number in index.torn:
            touch = index.touches[number]
            loose = any(end < 0 and ~end in self.loose for end in (touch.a, touch.b))
            if not loose and self.group(touch.a) != self.group(touch.b):
                found.append(Conflict([(number, False)]))
        return found

    def _untouched_undecided(self, groups: dict[int, Group]) -> bool:
        regions = self.index.regions
        return any(
            regions[region].sound.undecided and self.near.find(region) not in groups for region in self.index.broken
        )

    def _bounds(self, group: Group, row: dict[int, int]) -> list[Bound]:
        index = self.index
        disturbed = frozenset[Key]().union(*(index.keys_at[body] for body in self.loose))
        bounds = []
        regions = sorted(group.regions)
        for i, first in enumerate(regions):
            for second in regions[i:]:
                for key in index.keys_in.get((first, second), ()):
                    tight = index.tight[key] if key not in disturbed else self._undisturbed(key)
                    bounds.append(Bound(row[key[0]], row[key[1]], *tight))
        for number in group.touches:
            touch = index.touches[number]
            ends = row[self.spot(touch.a)], row[self.spot(touch.b)]
            bounds.append(Bound(*ends, touch.least, number, touch.most, number))
        return bounds

    def _undisturbed(self, key: Key) -> tuple[float, int, float, int]:
        index, loose = self.index, {~body for body in self.loose}
        touches = ((number, index.touches[number]) for number in index.touches_of[key])
        return index.tightest(number for number, touch in touches if touch.a not in loose and touch.b not in loose)

    def _fit(self, group: Group, goal: int | None, corners_only: bool = False) -> Fit:
        """One group; goal: its number, when the choice must leave something bad in it; corners_only: when another group
        is ruled out already, no choice of values is looked for.
        """
        rows, row, least, most, solder = self._matrices(group)
        bounds = self._bounds(group, row)
        out = ruled_out(bounds, least, most)
        if out:
            return Fit(None, tuple(out))
        elements = self._elements(group)
        if corners_only or (not elements and not solder and goal is None):
            return Fit(())
        ranges, zero = self._ranges(group, row, solder)
        hint = [*(self.index.values[i] for i in elements), *(0.0 for _ in (*solder, *zero))]
        wanted = None if goal is None else self._goal(elements, goal)
        found = fit(rows, [*ranges, *solder, *zero], bounds, hint, wanted)
        if found.values is None:
            return found
        return found._replace(values=found.values[: len(elements) + len(solder)])

    def _elements(self, group: Group) -> list[int]:
        return [i for region in sorted(group.regions) for i in self.index.regions[region].elements]

    def _goal(self, elements: Sequence[int], group: int) -> Goal:
        ends = {i: (self.index.elements[i].a, self.index.elements[i].b) for i in elements if i in self.index.ties}

        def goal(sure: Sequence[bool], possible: Sequence[bool]) -> tuple[bool, bool]:
            fewest = [ends[i] for i, there in zip(elements, sure, strict=False) if there and i in ends]
            most = [ends[i] for i, there in zip(elements, possible, strict=False) if there and i in ends]
            return (
                bool(self.shorted(most, group) or self.cut_off(fewest, group)),
                bool(self.shorted(fewest, group) or self.cut_off(most, group)),
            )

        return goal

    def _joins(self, group: Group) -> list[Key]:
        """Nodes that the group's bridges make one, where solder has no ohms."""
        classes: dict[int, set[int]] = {}
        for a, b, _ in group.links:
            classes.setdefault(self.joined.find(a), set()).update(spot for spot in (a, b) if spot < self.nodes)
        return [pair for members in classes.values() for pair in pairwise(sorted(members))]

    def _matrices(self, group: Group) -> tuple[int, dict[int, int], Matrix, Matrix, list[Range]]:
        """Rows, the row of each spot, the resistances at both ends of all ranges, and bridges with ohms as resistors.

        A loose body bridged by solder without ohms shares the row of what it is bridged to.
        """
        index, (rows, row) = self.index, self._rows(group)
        least, most = unjoined(rows), unjoined(rows)
        first = 0
        for region in sorted(group.regions):
            known = index.regions[region]
            for matrix, part in ((least, known.least), (most, known.most)):
                for i, line in enumerate(part):
                    matrix[first + i][first : first + len(line)] = line
            first += len(known.nodes)
        if not index.model.bridge_ohms_most:
            for a, b in self._joins(group):
                add(least, row[a], row[b], 0.0)
                add(most, row[a], row[b], 0.0)
            return rows, row, least, most, []
        solder = [Range(row[a], row[b], 0.0, index.model.bridge_ohms_most, False) for a, b, _ in group.links]
        for link in solder:
            add(least, link.a, link.b, link.low)
            add(most, link.a, link.b, link.high)
        return rows, row, least, most, solder

    def _rows(self, group: Group) -> tuple[int, dict[int, int]]:
        """How many rows a group has, and the row of each spot."""
        row: dict[int, int] = {}
        for region in sorted(group.regions):
            for node in self.index.regions[region].nodes:
                row[node] = len(row)
        rows = len(row)
        for spot in group.loose:
            root = spot if self.index.model.bridge_ohms_most else self.joined.find(spot)
            if root not in row:
                row[root] = rows
                rows += 1
            row[spot] = row[root]
        return rows, row

    def _supposed(self, groups: dict[int, Group], fits: dict[int, Fit]) -> SupposedBoard:
        values: dict[int, float] = {}
        solder: dict[int, float] = {}
        for number, group in groups.items():
            found = fits[number].values or ()
            elements = self._elements(group)
            values.update(zip(elements, found, strict=False))
            solder.update(zip((link[2] for link in group.links), found[len(elements) :], strict=False))
        return self.index.supposed(self.faults, values, solder)

    def range_between(self, a: int, b: int, there: Sequence[bool] | None = None) -> tuple[float, float]:
        """Least and most ohms between two ends of a touch, with every part and tie anywhere in its range.

        there: which parts and ties, by number, are there (in their ranges) and which are absent.
        """
        root, spots = self.group(a), (self.spot(a), self.spot(b))
        if root != self.group(b):
            return inf, inf
        group = Group(links=[link for link in self.links if self.near.find(self.place(link[0])) == root])
        for spot in (*spots, *(spot for link in group.links for spot in link[:2])):
            members, member = (group.regions, self.place(spot)) if spot < self.nodes else (group.loose, spot)
            if member not in members:
                members.append(member)
        rows, row, least, most, solder = self._matrices(group)
        if there is not None:
            ranges, zero = self._ranges(group, row, solder)
            elements = self._elements(group)
            low, high = ([r[k] if there[i] else inf for i, r in zip(elements, ranges, strict=True)] for k in (2, 3))
            links = [*solder, *zero]
            least = matrix_of(rows, [*ranges, *links], [*low, *(link.low for link in links)])
            most = matrix_of(rows, [*ranges, *links], [*high, *(link.high for link in links)])
        first, second = (row[spot] for spot in spots)
        return least[first][second], most[first][second]

    def _ranges(self, group: Group, row: dict[int, int], solder: list[Range]) -> tuple[list[Range], list[Range]]:
        """The group's parts and ties by rows, and joins of 0 ohm where its bridges have none."""
        parts = (self.index.elements[i] for i in self._elements(group))
        ranges = [part._replace(a=row[part.a], b=row[part.b]) for part in parts]
        return ranges, [Range(row[a], row[b], 0.0, 0.0, False) for a, b in self._joins(group)] if not solder else []
