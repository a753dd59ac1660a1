"""What a rework leaves standing, measured: `python -m tests.bench.stale_kept --boards 2000 --seed 1 [--parts]`.

Boards with faults over all maps and layouts are probed by a whole session (`tests.simulate`), then the joints of the
rework list are reworked, and random joints beside it. The true board changes at those joints alone. Counted are the
readings kept, and those an oracle would keep that knows every link and part before the heat.

By Rayleigh's monotonicity law two states are the extremes of all that the heat can leave: every possible bridge at the
reworked joints made of no ohms with each joint closed, and none made with each joint open. A reading that holds in both
holds in all between, and that is the oracle. So `false` counts kept readings that some state the heat can leave denies,
which no draw could miss; `drawn` counts those that one state drawn at random denies.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from functools import partial
from math import isclose, isinf
from multiprocessing import Pool
from typing import NamedTuple

from connector_check.analysis import stale
from connector_check.analysis.meaning import JOINS
from connector_check.analysis.replay import Reading, Standing, replay
from connector_check.board.board import NEAR, Board
from connector_check.board.ohms import BRIDGE_OHMS
from connector_check.pinout.library import list_ids
from connector_check.simulated.board import Bridge, SimulatedBoard
from connector_check.simulated.meter import SimulatedMeter
from connector_check.testlog.readings import BEEP, OHMS, SEEN_CLEAR, SILENT
from tests.simulate import Drive, Options, told

LISTED, RANDOM, PARTLY = "rework list", "random joints", "half probed"
HEATS = 6


class Count(NamedTuple):
    """One rework. joints: where the iron was, LISTED or RANDOM; false, drawn: kept readings that a state of the heat
    denies, of all states and of one drawn; oracle: what the oracle keeps; told: each false one in words.
    """

    joints: str
    standing: int
    kept: int
    oracle: int
    false: int
    drawn: int
    told: tuple[str, ...]


def changed(state: SimulatedBoard, heated: Collection[int], bridged: Iterable[Bridge], opened: Iterable[int]):
    """The board as the heat left it: at the reworked joints these bridges and open joints, all else as it was."""
    kept = tuple(b for b in state.bridges if b.a not in heated and b.b not in heated)
    return replace(state, bridges=(*kept, *bridged), opens=(state.opens - set(heated)) | set(opened))


def bridges_at(board: Board, heated: Collection[int]) -> list[Bridge]:
    """Every bridge of no ohms that solder can make at the reworked joints."""
    pairs = ((board.number[a], board.number[b]) for a, b, _ in board.gaps(NEAR))
    return [Bridge(a, b) for a, b in pairs if a in heated or b in heated]


def extremes(state: SimulatedBoard, heated: Collection[int]) -> tuple[SimulatedBoard, SimulatedBoard]:
    """The most and the least that can conduct after the heat."""
    most = changed(state, heated, bridges_at(state.board, heated), ())
    return most, changed(state, heated, (), heated)


def drawn_after(state: SimulatedBoard, heated: Collection[int], rng: random.Random) -> SimulatedBoard:
    """One board that the heat may have left."""
    rate = rng.choice((0.1, 0.5))
    bridged = [b for b in bridges_at(state.board, heated) if rng.random() < rate]
    return changed(state, heated, bridged, [joint for joint in heated if rng.random() < rate])


def holds(reading: Reading, before: SimulatedBoard, after: SimulatedBoard, meter: SimulatedMeter) -> bool:
    """Whether a reading that was true before is what the same meter says after. A wavering one has its band's ends."""
    a, b = reading.entry.points
    kind, ohms = reading.entry.kind, after.ohms(a, b)
    if kind == SEEN_CLEAR:
        return not any({bridge.a, bridge.b} == {a, b} for bridge in after.bridges)
    if kind == OHMS:
        was = before.ohms(a, b)
        both_joined = reading.meaning == JOINS and ohms < BRIDGE_OHMS
        return both_joined or (isinf(was) and isinf(ohms)) or isclose(was, ohms, abs_tol=1e-6)
    if kind == BEEP:
        return ohms <= meter.band.silent_above if meter.wavers else meter.sounds(ohms)
    assert kind in SILENT, kind
    return ohms >= meter.band.sounds_below if meter.wavers else not meter.sounds(ohms)


def count(drive: Drive, standing: Standing, joints: str, heated: set[int], rng: random.Random) -> Count:
    """Rework these joints where that stands, and count."""
    state, meter = drive.person.board, drive.person.meter
    readings = standing.readings
    facts = [(r.number, r.entry, r.meaning) for r in readings]
    gone = set(stale.stale_after_rework(drive.board, standing.closed.measured, facts, heated))
    kept = [r for r in readings if r.number not in gone]
    most, least = extremes(state, heated)
    oracle = {r.number for r in readings if holds(r, state, most, meter) and holds(r, state, least, meter)}
    after = drawn_after(state, heated, rng)
    false = [r for r in kept if r.number not in oracle]
    names = drive.board.points
    words = tuple(
        f"seed {drive.seed} {drive.board.pin_map.id} {drive.board.layout.id}, {joints} "
        f"{drive.board.names(heated)}: {' - '.join(names[p] for p in r.entry.points)} {r.entry.kind} ({r.meaning}), "
        f"meter {drive.meter}; {told(state)}"
        for r in false
    )
    denied = sum(not holds(r, state, after, meter) for r in kept)
    return Count(joints, len(readings), len(kept), len(oracle), len(false), denied, words)


def of_board(options: Options, heats: int, seed: int) -> list[Count]:
    """Probe one board to the end of its first round, and rework it."""
    drive = Drive(seed, options)
    drive.probe()
    return reworks(drive, heats)


def reworks(drive: Drive, heats: int = HEATS) -> list[Count]:
    """Rework a probed board: its list, and random joints after the whole plan and after a part of it."""
    rng = random.Random(f"heat {drive.seed}")
    number, joints = drive.board.number, range(len(drive.board.joints))
    listed = {
        number[name]
        for step in drive.session.result().rework
        for pair in (step.joints, *step.alternatives)
        for name in pair
        if number[name] in joints
    }
    found = [count(drive, drive.session.standing, LISTED, listed, rng)] if listed else []
    for number in range(heats):
        heated = set(rng.sample(joints, min(rng.randint(1, 4), len(joints))))
        entries = drive.session.entries
        cut = len(entries) if number < heats // 2 else rng.randint(5, len(entries))
        standing = replay(drive.board, entries[:cut], drive.person.meter.band)
        if standing.live:
            found.append(count(drive, standing, RANDOM if number < heats // 2 else PARTLY, heated, rng))
    return found


def measure(
    boards: int, seed: int, parts: bool, processes: int = 1, maps: Sequence[str] = (), heats: int = HEATS
) -> list[Count]:
    """The reworks of that many boards; parts: fitted, the map's and those of board notes."""
    one = partial(of_board, Options(tuple(maps) or tuple(list_ids()), parts=parts), heats)
    seeds = [seed * 10_000_000 + number for number in range(boards)]
    if processes < 2:
        return [found for each in map(one, seeds) for found in each]
    with Pool(processes) as pool:
        return [found for each in pool.imap(one, seeds, chunksize=20) for found in each]


def table(counts: Sequence[Count]) -> str:
    """Shares kept, as the mean over the reworks and over all readings; readings kept though false."""
    rows = [("reworked", "reworks", "readings", "kept", "of all", "oracle", "of all", "false", "drawn")]
    for word in (LISTED, RANDOM, PARTLY, "all"):
        here = [c for c in counts if word in (c.joints, "all")]
        if not here:
            continue
        readings = sum(c.standing for c in here)
        shares: list[float] = []
        for kept in ([c.kept for c in here], [c.oracle for c in here]):
            shares.append(sum(k / c.standing for k, c in zip(kept, here, strict=True)) / len(here))
            shares.append(sum(kept) / readings)
        told_false = (sum(c.false for c in here), sum(c.drawn for c in here))
        words = (f"{share:.1%}" for share in shares)
        rows.append((word, str(len(here)), str(readings), *words, *map(str, told_false)))
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return "\n".join("  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows)


def main(words: Sequence[str]) -> int:
    """The command; 1 when a reading was kept that the heat may have made false."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.stale_kept", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--boards", type=int, default=1000, help="how many boards")
    parser.add_argument("--seed", type=int, default=1, help="which boards")
    parser.add_argument("--parts", action="store_true", help="parts fitted: the map's, and others by board notes")
    parser.add_argument("--maps", default="", help="pin map ids with commas (default: all that are shipped)")
    parser.add_argument(
        "--heats", type=int, default=HEATS, help="random reworks of each board, half after a part of it"
    )
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--told", type=int, default=5, help="how many false ones to print")
    given = parser.parse_args(words)
    maps = tuple(given.maps.split(",")) if given.maps else ()
    counts = measure(given.boards, given.seed, given.parts, given.processes, maps, given.heats)
    print(table(counts))
    told_false = [line for one in counts for line in one.told]
    print("\n".join(told_false[: given.told]))
    return int(bool(told_false))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
