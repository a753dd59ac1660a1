"""Sweeps in diode mode over simulated boards: what the sweep alone finds, what it names wrongly, what contact costs.

`python -m tests.simulate_sweep --boards 2000 --seed 1` draws maps and layouts over all shipped pin maps with a ground,
boards with no, one or two faults (open joints, lines soldered to ground), chips, terminations and a meter, drives each
sweep to its end through a session, and prints what was found. A failure is printed with the seed that draws it again.
"""

from __future__ import annotations

import argparse
import random
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from math import hypot, inf
from typing import NamedTuple

from connector_check.analysis.result import OUTLIER, Result
from connector_check.board.board import Board
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.pinout.pinmap import DATA, GROUND, POWER
from connector_check.probing.progress import Progress
from connector_check.probing.session import Session
from connector_check.probing.steps import JUNCTION, LEADS
from connector_check.probing.sweep import red_point
from connector_check.simulated.board import Bridge, SimulatedBoard
from connector_check.simulated.faults import bridge_ohms, draw_parts_alike
from connector_check.simulated.junctions import (
    SPREAD_VOLTS,
    DiodeMeter,
    Junction,
    draw_capacitance,
    draw_junctions,
    family_of,
)
from connector_check.simulated.truth import optional_joints
from connector_check.testlog.readings import BEEP, CHIRP, LEADS_GOOD, VOLTS, Entry

OPENS, FELLOW_OPENS, GROUND_OPENS = "opens on other lines", "opens on lines with fellows", "opens on grounds"
SHORTS = "shorts to ground"
FAULTS = (FELLOW_OPENS, GROUND_OPENS, OPENS, SHORTS)
ALARM, NAMED = "sound joints called open or short", "sound joints named as odd"


class Outcome(NamedTuple):
    """One board's sweep.

    drawn, found: faults by kind; counts: boards, joints read, alarms, odd ones; told: failures in words.
    """

    drawn: Counter[str]
    found: Counter[str]
    counts: Counter[str]
    told: tuple[str, ...]


@lru_cache(maxsize=256)
def board_of(map_id: str, layout: int) -> Board:
    pin_map = find_pin_map(map_id)
    return Board(pin_map, pin_map.layouts[layout])


@lru_cache(maxsize=1)
def maps_with_ground() -> tuple[str, ...]:
    return tuple(map_id for map_id in list_ids() if red_point(board_of(map_id, 0)) is not None)


class Drawn(NamedTuple):
    """What one seed draws. opens, shorted: the faulty joints."""

    state: SimulatedBoard
    junctions: Mapping[str, Junction]
    farads: Mapping[str, float]
    meter: DiodeMeter
    opens: frozenset[int]
    shorted: frozenset[int]


class Bench(NamedTuple):
    """What is not a fault: the spread within a family in volts, the odds of a missed touch."""

    spread: float = SPREAD_VOLTS
    miss: float = 0.0


USUAL_BENCH = Bench()


def draw(seed: int, map_id: str = "", faults: int | None = None, bench: Bench = USUAL_BENCH) -> Drawn:
    """A board with so many faults (none, one or two where None), its chips, and a meter."""
    rng = random.Random(seed)
    map_id = map_id or rng.choice(maps_with_ground())
    board = board_of(map_id, rng.randrange(len(find_pin_map(map_id).layouts)))
    red = board.net_of[red_point(board) or 0].name
    lines = [j for j in range(len(board.joints)) if board.net_of[j].role in (DATA, POWER)]
    touched = [*lines, *(j for j in range(len(board.joints)) if board.net_of[j].name == red)]
    opens: set[int] = set()
    shorted: set[int] = set()
    for _ in range(rng.choice((0, 1, 1, 2)) if faults is None else faults):
        if rng.random() < 0.6:
            opens.add(rng.choice(touched))
        elif lines:
            shorted.add(rng.choice(lines))
    shorted -= opens
    bridges = tuple(_to_ground(board, joint, red, rng) for joint in sorted(shorted))
    grounded = {joint for bridge in bridges for joint in (bridge.a, bridge.b)}
    opens -= grounded
    ties = _grounds_tied(board, red)
    state = SimulatedBoard(board, bridges, frozenset(opens), ties, draw_parts_alike(board, rng))
    meter = DiodeMeter(rng, rng.uniform(0.7, 1.2), rng.uniform(1.5, 3.0), miss=bench.miss)
    junctions = draw_junctions(board, rng, spread=bench.spread)
    return Drawn(state, junctions, draw_capacitance(board, rng), meter, frozenset(opens), frozenset(shorted))


def _to_ground(board: Board, joint: int, ground: str, rng: random.Random) -> Bridge:
    """Solder to the nearest ground joint."""
    at = board.joints[joint]
    near = min(board.joints_of[ground], key=lambda g: hypot(board.joints[g].x - at.x, board.joints[g].y - at.y))
    return Bridge(joint, near, bridge_ohms(rng, 1.0))


def _grounds_tied(board: Board, red: str) -> tuple[tuple[str, str], ...]:
    return tuple((red, net.name) for net in board.nets if net.role == GROUND and net.name != red)


def swept(drawn: Drawn) -> Session:
    """The session at the end of its sweep, the leads proven once more."""
    session = Session(drawn.state.board, [])
    for _ in range(2):  # the cautions, the leads
        session.accept(session.entries_of(session.answer(BEEP)))
    session.diode()
    while (step := session.step()).kind == JUNCTION:
        assert step.points is not None
        read = drawn.meter.volts(drawn.state, drawn.junctions, *step.points)
        farads = drawn.farads.get(session.board.net_of[step.points[1]].name, 0.0)
        if drawn.meter.counts_up(read, farads):
            session.accept(session.entries_of(session.answer(CHIRP)))
        session.accept(session.entries_of(session.answer("OL" if read == inf else f"{read:.3f}")))
    if step.kind == LEADS:
        session.accept(session.entries_of(session.answer(BEEP)))
    return session


def kinds_of(drawn: Drawn) -> dict[int, str]:
    """For each faulty joint the kind of its fault. A line has fellows where another joint of its net, or another line
    of its part, conducts and is sound; not where a designer may leave the joint open.
    """
    board = drawn.state.board
    faulty = drawn.opens | drawn.shorted
    found, optional = dict.fromkeys(drawn.shorted, SHORTS), set(optional_joints(board))
    for joint in drawn.opens:
        net = board.net_of[joint]
        if net.role == GROUND:
            found[joint] = GROUND_OPENS
            continue
        family = family_of(net.name)
        fellows = [
            other
            for other in range(len(board.joints))
            if other not in faulty
            and (board.net_of[other] is net or (net.role == DATA and family_of(board.net_of[other].name) == family))
            and board.net_of[other].role == net.role
        ]
        compared = fellows and net.name in drawn.junctions and joint not in optional
        found[joint] = FELLOW_OPENS if compared else OPENS
    return found


def run(seed: int, map_id: str = "", faults: int | None = None, bench: Bench = USUAL_BENCH) -> Outcome:
    """Draw, sweep, compare with the truth."""
    drawn = draw(seed, map_id, faults, bench)
    board, session = drawn.state.board, swept(drawn)
    result = session.examined().result
    opened = {board.number[found.joint] for found in result.opens}
    shorted = _called_short(board, result)
    kinds = kinds_of(drawn)
    right = {j for j, kind in kinds.items() if j in (shorted if kind == SHORTS else opened)}
    touching = {joint for bridge in drawn.state.bridges for joint in (bridge.a, bridge.b)}
    alarms = {j for j in opened if j not in drawn.opens} | (shorted - touching - _tied(drawn))
    odd = {board.number[found.joint] for found in result.diode if found.kind == OUTLIER} - set(kinds)
    told = [f"{board.points[j]}: {kinds[j]} not found" for j in kinds if j not in right and kinds[j] != OPENS]
    told += [f"{board.points[j]}: sound, called open or short" for j in sorted(alarms)]
    told += [f"{board.points[j]}: sound, named as odd" for j in sorted(odd)]
    read = {entry.points[0] for entry in session.entries if entry.kind == VOLTS}
    counts = Counter({"joints read": len(read), "boards": 1, ALARM: len(alarms), NAMED: len(odd)})
    counts["boards with a false alarm"] = bool(alarms)
    where = f"seed {seed}: {board.pin_map.id} {board.layout.id}"
    return Outcome(
        Counter(kinds.values()), Counter(kinds[j] for j in right), counts, tuple(f"{where}: {line}" for line in told)
    )


def _called_short(board: Board, result: Result) -> set[int]:
    """The joints of lines that are said to touch ground, or where ohms are wanted to tell."""
    names = [name for short in result.shorts for name in short.joints]
    names += [name for wanted in result.measure for name in wanted.pair]
    points = (board.number[name] for name in names)
    return {p for p in points if p < len(board.joints) and board.net_of[p].role in (DATA, POWER)}


def _tied(drawn: Drawn) -> set[int]:
    """Joints of lines whose part by design leads to ground over so few ohms that near zero is right, and joints of a
    net that a faulty joint of the same net holds at ground.
    """
    board = drawn.state.board
    red = red_point(board) or 0
    ohms = ((j, drawn.state.ohms(j, red)) for j in range(len(board.joints)))
    return {j for j, read in ohms if read < 110}


# What contact costs on a sound board


class Cost(NamedTuple):
    """Touches on a sound board. shorts: without contact; with_tones: all, contact by tones; with_sweep: all, the sweep
    included.
    """

    shorts: int
    with_tones: int
    with_sweep: int


def cost(map_id: str, seed: int = 0) -> Cost:
    """The planned touches of a sound board whose lines all have chips, with and without the sweep."""
    board = board_of(map_id, 0)
    rng = random.Random(f"{map_id} {seed}")
    junctions = draw_junctions(board, rng, absent=0.0)
    state = SimulatedBoard(board, ties=_grounds_tied(board, board.net_of[red_point(board) or 0].name))
    session = swept(Drawn(state, junctions, {}, DiodeMeter(rng), frozenset(), frozenset()))
    read = sum(entry.kind == VOLTS for entry in session.entries)
    leads = [Entry(0, LEADS_GOOD, ())]
    after = Progress(board, [*session.entries, *leads])
    plain = (len(Progress(board, leads, shorts_only=only).planned.touches) for only in (True, False))
    return Cost(*plain, read + len(after.planned.touches))


# The command


def report(outcomes: Sequence[Outcome]) -> Iterator[str]:
    drawn, found, counts = (
        sum((getattr(o, name) for o in outcomes), Counter()) for name in ("drawn", "found", "counts")
    )
    for kind in FAULTS:
        share = f"{100 * found[kind] / drawn[kind]:.2f} %" if drawn[kind] else "-"
        yield f"{kind}: {found[kind]} of {drawn[kind]} found by the sweep alone, {share}"
    boards, joints = counts["boards"], counts["joints read"]
    false = counts["boards with a false alarm"]
    yield f"boards with a false alarm: {false} of {boards}, {100 * false / boards:.2f} %"
    for name in (ALARM, NAMED):
        yield f"{name}: {counts[name]} of {joints} joints read, {100 * counts[name] / joints:.3f} %"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--boards", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--map", default="", help="only this map")
    parser.add_argument("--replay", type=int, help="the board of one seed, as printed where it failed")
    parser.add_argument("--shown", type=int, default=20, help="failures printed at most")
    parser.add_argument("--spread", type=float, default=SPREAD_VOLTS, help="standard deviation within a family, volts")
    parser.add_argument("--miss", type=float, default=0.0, help="odds that a touch makes no contact")
    options = parser.parse_args()
    bench = Bench(options.spread, options.miss)
    if options.replay is not None:
        outcomes = [run(options.replay, options.map, bench=bench)]
    else:
        outcomes = [run(options.seed * 1_000_000 + n, options.map, bench=bench) for n in range(options.boards)]
    told = [line for outcome in outcomes for line in outcome.told]
    print(*told[: options.shown], *report(outcomes), sep="\n")
    if options.replay is None:
        costs = [cost(map_id) for map_id in ([options.map] if options.map else maps_with_ground())]
        shorts, tones, sweep = (sum(column) for column in zip(*costs, strict=True))
        print(f"touches on sound boards of {len(costs)} maps: {shorts} for shorts alone; contact costs", end=" ")
        print(f"{tones - shorts} more by tones, {sweep - shorts} more by the sweep")


if __name__ == "__main__":
    main()
