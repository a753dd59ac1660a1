"""Measures `check` on a large part with many findings: `python -m tests.bench.many_findings [JOINTS]`. Not a test.

A made-up grid of 2,000 joints (ground, four supplies, single signals), half of what is needed probed, 0.5 % of the
answers wrong in either direction. Prints seconds for `examine`, and its ratio to the same job with no fault in it.
"""

from __future__ import annotations

import random
import sys
import time

from connector_check.analysis.examine import examine
from connector_check.analysis.obligations import obligations
from connector_check.analysis.result import Result
from connector_check.board.board import NEAR, Board
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap, Source
from connector_check.testlog.job import Log
from connector_check.testlog.meter import UNKNOWN_METER
from connector_check.testlog.readings import BEEP, LEADS_GOOD, QUIET, Entry

COLUMNS = 50
VOLTS = (3.3, 5.0, 12.0, 1.8)


def grid(count: int, rng: random.Random) -> Board:
    """A board of that many joints on a 1 mm grid: 30 % ground, 10 % of four supplies, the rest single signals."""
    contacts: dict[str, list[str]] = {}
    for number in range(count):
        share = rng.random()
        name = "GND" if share < 0.3 else f"V{rng.randrange(4)}" if share < 0.4 else f"S{number}"
        contacts.setdefault(name, []).append(str(number))
    nets = tuple(net_of(name, tuple(own)) for name, own in contacts.items())
    joints = tuple(Joint(str(i), (str(i),), i % COLUMNS * 1.0, i // COLUMNS * 1.0, 0.6, 0.6) for i in range(count))
    layout = Layout("grid", "", "made up", joints)
    owner = {contact: net.name for net in nets for contact in net.contacts}
    return Board(PinMap("grid", "grid", "", (Source("made up", "memory"),), nets, owner, (layout,)), layout)


def net_of(name: str, contacts: tuple[str, ...]) -> Net:
    if name == "GND":
        return Net(name, "ground", contacts, must_join=True)
    if name.startswith("V"):
        return Net(name, "power", contacts, volts=VOLTS[int(name[1:])], must_join=len(contacts) > 1)
    return Net(name, "data", contacts)


def half_probed(board: Board, rng: random.Random, wrong: float) -> list[Entry]:
    """Half of what near scope needs, answered as on a good board but for a share of wrong answers."""
    needed = obligations(board, NEAR)
    asked = [(pair, BEEP) for pair in (*needed.joins, *needed.contacts)]
    for obligation in needed.isolation:
        pairs = obligation.pairs if obligation.gap_mm is not None else obligation.pairs[:1]
        asked += [(pair, QUIET) for pair in pairs]
    entries = [Entry(1, LEADS_GOOD, ())]
    for pair, right in asked:
        if rng.random() < 0.5:
            other = QUIET if right == BEEP else BEEP
            entries.append(Entry(len(entries) + 1, other if rng.random() < wrong else right, pair))
    return [*entries, Entry(len(entries) + 1, LEADS_GOOD, ())]


def timed(board: Board, entries: list[Entry]) -> tuple[float, Result]:
    start = time.process_time()
    result = examine(Log(board, entries, UNKNOWN_METER)).result
    return time.process_time() - start, result


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    board = grid(count, random.Random(1))
    plain, _ = timed(board, half_probed(board, random.Random(2), 0.0))
    entries = half_probed(board, random.Random(2), 0.005)
    seconds, result = timed(board, entries)
    print(f"{count} joints, {len(entries)} entries: {seconds:.2f} s CPU, {seconds / plain:.1f} x the job without faults")
    print(f"{result.verdict}: {len(result.shorts)} shorts, {len(result.opens)} opens, {len(result.rework)} steps")


if __name__ == "__main__":
    main()
