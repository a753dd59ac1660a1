"""Diode-mode readings: red lead on ground, black lead on a joint, board without power. Pure.

The meter drives a small current through the protection diode of the chip behind the joint and shows its volts. A joint
that reaches no chip shows OL, a joint on ground shows almost nothing. Fellows (`fellows`) are compared with each other;
no sound board is needed. The practice is printed in the GIGABYTE Service Manual v3.0, s.11.2.3, with a sound board as
the measure: higher means open, lower means short.

What one reading means between its two points, near zero or not, is in `meaning`: shorts to ground, grounds without
contact and contradictions follow from there. Here is what only the comparison tells: joints that show no junction where
their fellows do, and odd values. From one odd value alone nothing harmful follows.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from math import inf
from statistics import median
from typing import NamedTuple

from connector_check.analysis.fellows import OTHER_DATA, TWIN_SPREAD_VOLTS, band, fewest_of, groups_of
from connector_check.analysis.result import JUNCTION_OPEN, JUNCTION_SHORT, ODD_JUNCTIONS, OUTLIER, DiodeFinding
from connector_check.board.board import Board
from connector_check.board.ohms import NEAR_ZERO_OHMS, NEAR_ZERO_VOLTS
from connector_check.pinout.pinmap import DATA, GROUND, POWER, Net
from connector_check.testlog.readings import VOLTS, Entry

NO_JUNCTION, LISTED = "no junction expected", "listed"
TOLD_ELSEWHERE = (JUNCTION_SHORT, JUNCTION_OPEN)
"""What stands among the shorts and opens of a result (or among the ohms wanted) as well."""
KINDS = (*ODD_JUNCTIONS, NO_JUNCTION, LISTED)
"""What a finding can be, worst first."""

LIMITS = (
    (
        "Two signals bridged together still pass in diode mode: the pair reads only 18 to 36 mV lower, "
        "less than sound lines differ. Only beeps or ohms between the two show it."
    ),
    (
        "A line behind a series capacitor reads OL whether its joint is good or open, and so does one whose only part "
        "is a bidirectional protection diode."
    ),
    "A diode-mode reading tells nothing of two signals; a fault that all lines of a group share is not seen.",
)
"""What these readings cannot see, for every report that shows them."""


class DiodeReading(NamedTuple):
    """One reading: the joint's point number, volts as read (infinite for OL), its line in the job, and the point where
    the red lead sat (-1 where that is not known).
    """

    point: int
    volts: float
    line: int
    red: int = -1

    @property
    def has_junction(self) -> bool:
        """Whether it shows a junction: neither near zero nor OL."""
        return NEAR_ZERO_VOLTS <= self.volts < inf


def black_first(board: Board, points: tuple[int, ...]) -> tuple[int, int]:
    """The two points of a diode-mode reading, where the black lead is first: on what is no ground; of two grounds, on
    the joint, and of two joints on the first.
    """

    def is_red(point: int) -> tuple[bool, bool]:
        return board.net_of[point].role == GROUND, point >= len(board.joints)

    black, red = sorted(points, key=is_red)
    return black, red


def diode_readings(board: Board, entries: Iterable[Entry]) -> list[DiodeReading]:
    """The diode-mode readings among the entries of a job, in time order."""
    found = []
    for entry in entries:
        if entry.kind == VOLTS:
            black, red = black_first(board, entry.points)
            found.append(DiodeReading(black, entry.ohms or 0.0, entry.line, red))
    return found


def joints_with_junction(board: Board, entries: Iterable[Entry]) -> frozenset[int]:
    """The joints that show a junction like their fellows': they reach the chip behind them."""
    readings = diode_readings(board, entries)
    if not readings:
        return frozenset()
    odd = {board.number[finding.joint] for finding in judge_diode(board, readings)}
    last = {reading.point: reading for reading in readings}
    return frozenset(p for p, r in last.items() if p < len(board.joints) and p not in odd and r.has_junction)


def judge_diode(board: Board, readings: Iterable[DiodeReading], resolution: float = 0.001) -> list[DiodeFinding]:
    """Shorts, opens and outliers among joints read in diode mode, and what was only listed; worst first.

    readings: in time order; the last one of a joint counts. resolution: the meter's last digit in volts. Joints that
    agree with a fellow get no finding.
    """
    return _Judge(board, {reading.point: reading for reading in readings}, resolution).findings()


class _Judge:
    """The last reading of each joint, compared. found: by point; agree: points that agree with another of their net;
    loaded: data nets that read near zero over a part by design.
    """

    def __init__(self, board: Board, last: dict[int, DiodeReading], resolution: float) -> None:
        self.board, self.last, self.resolution = board, last, resolution
        self.found: dict[int, DiodeFinding] = {}
        self.agree: set[int] = set()
        self.loaded: set[str] = set()

    def findings(self) -> list[DiodeFinding]:
        for point in sorted(self.last):
            self._alone(self.last[point])
        for joints in self.board.joints_of.values():
            self._one_net([self.last[j] for j in joints if j in self.last])
        groups = groups_of(self.board)
        lines = sorted(
            (groups[self._net(reading).name], point)
            for point, reading in self.last.items()
            if self._is_line(point) and self._net(reading).role == DATA
        )
        for group, members in groupby(lines, lambda line: line[0]):
            loaded = sum(groups[name] == group for name in self.loaded)
            self._compare(group, [self.last[point] for _, point in members], loaded)
        for point, reading in self.last.items():
            if self._is_line(point) and self._net(reading).role == POWER:
                self._list([reading], self._not_compared(reading))
        found = map(self._as_on_good_boards, self.found.values())
        return sorted(found, key=lambda f: (KINDS.index(f.kind), self.board.number[f.joint]))

    def _not_compared(self, supply: DiodeReading) -> str:
        net = self._net(supply).name
        odd = next((found for found in self.found.values() if found.net == net and found.kind in ODD_JUNCTIONS), None)
        return f"unlike {odd.joint} of the same net, see there" if odd else "a supply has no peers: not compared"

    def _as_on_good_boards(self, found: DiodeFinding) -> DiodeFinding:
        """A joint that reads over the range on boards known to be good as well is no open."""
        if found.kind != JUNCTION_OPEN or found.volts is not None or found.joint not in self.board.no_junction:
            return found
        return found._replace(kind=LISTED, why=f"{found.why}; the good board reads the same")

    def _net(self, reading: DiodeReading) -> Net:
        return self.board.net_of[reading.point]

    def _is_line(self, point: int) -> bool:
        """Whether a joint is still to be compared."""
        is_joint = point < len(self.board.joints)
        return is_joint and point not in self.found and self.board.net_of[point].role in (DATA, POWER)

    def _say(
        self,
        reading: DiodeReading,
        kind: str,
        why: str,
        group: str = "",
        expected: tuple[float, float] | None = None,
        fellow: DiodeReading | None = None,
    ) -> None:
        volts = None if reading.volts == inf else reading.volts
        if expected is not None:
            expected = (round(max(expected[0], 0.0), 4), round(expected[1], 4))
        lines = tuple(sorted({reading.line, *((fellow.line,) if fellow else ())}))
        name, net = self.board.points[reading.point], self._net(reading).name
        self.found[reading.point] = DiodeFinding(kind, name, net, volts, group, expected, why, lines)

    def _list(self, readings: Iterable[DiodeReading], why: str, group: str = "", kind: str = LISTED) -> None:
        """Say it of those that agree with no other joint of their net."""
        for reading in readings:
            if reading.point not in self.agree:
                self._say(reading, kind, why, group)

    # One joint by itself

    def _alone(self, reading: DiodeReading) -> None:
        role = self._net(reading).role
        if reading.point >= len(self.board.joints):
            self._say(reading, LISTED, "a board point: not compared")
        elif role == GROUND:
            self._ground(reading)
        elif role not in (DATA, POWER):
            self._say(reading, LISTED, f"{role}: not compared")
        elif reading.volts < NEAR_ZERO_VOLTS:
            self._near_zero(reading)

    def _ground(self, reading: DiodeReading) -> None:
        if reading.volts < NEAR_ZERO_VOLTS:
            return
        net = self._net(reading)
        red = net if reading.red < 0 else self.board.net_of[reading.red]
        if red is net or self.board.tied(red, net):
            self._say(reading, JUNCTION_OPEN, f"a ground contact that reads {_shown(reading)}, not near 0: no contact")
        else:
            self._say(reading, LISTED, f"{net.name} may be apart from {red.name} by design")

    def _near_zero(self, reading: DiodeReading) -> None:
        """A short to ground, unless a part by design carries so much current that it reads the same."""
        board, net = self.board, self._net(reading)
        for ground in (other for other in board.nets if other.role == GROUND):
            if not board.must_be_apart(net, ground):
                self._say(reading, LISTED, f"near 0, and joined to {ground.name} by design")
                return
            part = board.design_ohms(net.name, ground.name)
            if part and part.low <= NEAR_ZERO_OHMS:
                why = f"near 0, and {', then '.join(part.why)} may read so by design: measure ohms to ground"
                self._say(reading, LISTED, why)
                if net.role == DATA:
                    self.loaded.add(net.name)
                return
        supply = ", or a supply with low-ohm chips: measure ohms to ground" if net.role == POWER else ""
        self._say(reading, JUNCTION_SHORT, f"near 0: short to ground{supply}")

    # Joints of one net

    def _one_net(self, readings: Sequence[DiodeReading]) -> None:
        """Joints of one net are one conductor: where one shows a junction, or ground, the others show the same."""
        reached = [reading for reading in readings if reading.volts != inf]
        for reading in readings if reached else ():
            if reading.volts == inf and self._is_line(reading.point):
                shown = f"{self.board.points[reached[0].point]} of the same net shows {_shown(reached[0])}"
                why = f"OL, while {shown}: open joint, unless the board leaves this contact out"
                self._open(reading, why, fellow=reached[0])
        conducting = [reading for reading in reached if self._is_line(reading.point)]
        if len(conducting) > 1:
            self._one_conductor(conducting)

    def _one_conductor(self, conducting: Sequence[DiodeReading]) -> None:
        typical = min(conducting, key=lambda reading: reading.volts)
        if len(conducting) > 2:
            typical = sorted(conducting, key=lambda reading: reading.volts)[len(conducting) // 2]
        like = [r for r in conducting if abs(r.volts - typical.volts) <= TWIN_SPREAD_VOLTS]
        for reading in conducting:
            if reading not in like:
                self._unlike_its_net(reading, typical)
        if len(like) > 1:
            self.agree.update(reading.point for reading in like)

    def _unlike_its_net(self, reading: DiodeReading, typical: DiodeReading) -> None:
        other = f"{self.board.points[typical.point]} of the same net, {_shown(typical)}"
        if self._net(reading).must_join:
            why = f"{_shown(reading)}, unlike {other}: one conductor, so an open or bad joint at one of the two"
            self._open(reading, why, fellow=typical)
        else:
            why = f"differs from its twin {other}: a bad joint, or two lines on this board"
            self._say(reading, OUTLIER, why, fellow=typical)

    def _open(self, reading: DiodeReading, why: str, group: str = "", fellow: DiodeReading | None = None) -> None:
        """A joint without contact, where the board must not leave it open."""
        kind = JUNCTION_OPEN if self.board.must_reach(self._net(reading)) else LISTED
        self._say(reading, kind, why, group, fellow=fellow)

    # Lines of one kind

    def _compare(self, group: str, members: Sequence[DiodeReading], loaded: int) -> None:
        """members: joints of data nets that have a junction or read OL; loaded: how many further nets of the group
        reach a part that reads near zero by design.
        """
        read = len(self._by_net(members)) + loaded
        fewest = fewest_of(group)
        if not group or read < fewest:
            few = f"{read} of {group} read, {fewest} needed to compare" if group else "no peers by its name"
            self._list(members, f"not compared: {few}", group)
            return
        silent = [reading for reading in members if reading.volts == inf]
        junction = [reading for reading in members if reading.volts != inf]
        by_net = self._by_net(junction)
        if not junction and not loaded:
            by_design = "series capacitors or no junction by design; a joint open here is not seen"
            self._list(silent, f"OL on all {read} of {group}: {by_design}", group, NO_JUNCTION)
            return
        reached = len(by_net) + loaded
        shows = "a junction or a part" if loaded else "a junction"
        self._silent(group, silent, f"{reached} of {read} of {group} show {shows}", 2 * reached >= read)
        if len(by_net) < fewest:
            few = f"not compared in volts: only {len(by_net)} of {read} of {group} show a junction, {fewest} needed"
            self._list(junction, few, group)
            return
        expected = band([median(volts) for volts in by_net.values()], self.resolution)
        for reading in junction:
            if not expected[0] <= reading.volts <= expected[1]:
                self._unlike(group, reading, expected, junction)

    def _by_net(self, members: Iterable[DiodeReading]) -> dict[str, list[float]]:
        found: dict[str, list[float]] = {}
        for reading in members:
            found.setdefault(self._net(reading).name, []).append(reading.volts)
        return found

    def _silent(self, group: str, silent: Sequence[DiodeReading], shown: str, most_conduct: bool) -> None:
        if group == OTHER_DATA:
            self._list(silent, "OL: open, or no junction by design; its peers share the role only", group)
        elif not most_conduct:
            self._list(silent, f"OL, and only {shown}: open, or lines the board does not use", group)
        else:
            why = f"OL, while {shown}: open joint or broken track, unless the board leaves this line out"
            for reading in silent:
                self._open(reading, why, group)

    def _unlike(
        self, group: str, reading: DiodeReading, expected: tuple[float, float], junction: Sequence[DiodeReading]
    ) -> None:
        lower = reading.volts < expected[0]
        side = "lower" if lower else "higher"
        causes = {
            True: "a short or leak to another net, or a damaged part",
            False: "a joint or part with ohms in it, or a damaged part",
        }
        if group == OTHER_DATA:
            why = f"{side} than the others, which share the role only, so it may be by design"
            self._say(reading, LISTED, why, group, expected)
            return
        nets = self._by_net(junction)
        if len(nets) == 2:
            twin = next(r for r in junction if self._net(r) is not self._net(reading))
            named = f"{self.board.points[twin.point]} ({self._net(twin).name}), {_shown(twin)}"
            why = f"differs from its twin {named}, and is the {side} one: {causes[lower]}, here or there"
            self._say(reading, OUTLIER, why, group, expected, twin)
            return
        than = f"{side} than its peers of {group}, {max(expected[0], 0.0):.3f} to {expected[1]:.3f} V"
        self._say(reading, OUTLIER, f"{than}: {causes[lower]}", group, expected)


def _shown(reading: DiodeReading) -> str:
    return "OL" if reading.volts == inf else f"{reading.volts:g} V"
