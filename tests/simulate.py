"""Whole sessions over simulated boards, driven to their end, and what the program said against the truth.

`python -m tests.simulate --boards 5000 --seed 1 --parts` draws maps and layouts over all shipped pin maps, boards with
faults and parts, and prints a table by meter. A board's own seed, printed where it failed, draws it again:
`--replay SEED` with the same options.
"""

from __future__ import annotations

import argparse
import dataclasses
import random
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import pairwise
from multiprocessing import Pool
from typing import NamedTuple

from connector_check.analysis.result import CLEAR, REWORK, Result, ReworkStep
from connector_check.board.board import Board
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.pinout.pinmap import RESERVED, SHELL, DesignPath
from connector_check.probing.session import Session
from connector_check.probing.steps import CAUTION, DONE, IRON, LEADS, LOOK, OHMS_WANTED, Step
from connector_check.simulated.board import SimulatedBoard
from connector_check.simulated.faults import Rates, draw_board, draw_left_open, gap_weights
from connector_check.simulated.meter import SILENT, SOUND, Hands, LeadFault, SimulatedMeter
from connector_check.simulated.person import Repair, SimulatedPerson
from connector_check.simulated.resistance import components
from connector_check.simulated.truth import Truth, contact_required, judge, optional_joints
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import BEEP, LEADS_GOOD
from connector_check.testlog.rows import Row

METERS = ("10:10", "10:35", "10:70", "10:250", "20:80", "50:75", "100:150", "150:249")
"""Bands of the meters that makers print (A1 of the trade's facts): low, doubtful and high thresholds, unknown meter."""

VALUES = (0.5, 1.0, 10.0, 37.5, 49.9, 56.0, 75.0, 100.0, 120.0, 150.0, 1000.0)
"""Ohms of parts that board notes name: ferrites, line terminations, pull-ups."""

NOTED = 4
"""Sets of board notes with parts of their own, beside the map alone, for each layout."""

TIMES_PLANNED = 3
ROUNDS = 8


class Options(NamedTuple):
    """What the boards are drawn from; see the command's help."""

    maps: tuple[str, ...]
    meters: tuple[str, ...] = METERS
    parts: bool = False
    miss: float = 0.0
    stray: float = 0.0
    lead_faults: float = 0.0
    slip: float = 0.05
    bridge_ohms: float = 1.0
    left_open: float = 0.0
    lead_rate: float = 1.0
    passes: int = 1


class Outcome(NamedTuple):
    """One board's session. counts: what happened, by the columns of the table; told: each failure in words."""

    seed: int
    meter: str
    counts: Counter[str]
    told: tuple[str, ...]


CLEAR_ON_BAD, REWORK_ON_SOUND, WRONG_JOIN = "clear on bad", "rework on sound", "wrong join"
MISSED, LONG, STUCK, GAVE_UP, RAISED = "named later", "over 3x", "unproven end", "8 reworks", "raised"
MUST_NOT = (CLEAR_ON_BAD, REWORK_ON_SOUND, WRONG_JOIN, LONG, RAISED)
"""What no board may show while touches are true; the others say how sessions went: a short that a finding of a later
round named, an end with nothing to touch and no verdict, a place that eight reworks did not meet.
"""
FAILURES = (CLEAR_ON_BAD, REWORK_ON_SOUND, WRONG_JOIN, MISSED, LONG, STUCK, GAVE_UP, RAISED)


# Drawing


@lru_cache(maxsize=512)
def wired(map_id: str, layout: int, noted: int) -> Board:
    """A board of that map and layout; `noted` above 0 adds parts of its own to the map, as board notes would."""
    pin_map = find_pin_map(map_id)
    if noted:
        rng = random.Random(f"{map_id} {layout} {noted}")
        nets = [net.name for net in pin_map.nets if net.role not in (RESERVED, SHELL)]
        pairs = {tuple(sorted(rng.sample(nets, 2))) for _ in range(rng.randint(1, 3))} if len(nets) > 1 else set()
        paths = [_noted_part(pair, rng) for pair in sorted(pairs)]
        pin_map = dataclasses.replace(pin_map, paths=(*pin_map.paths, *paths))
    return Board(pin_map, pin_map.layouts[layout])


def _noted_part(nets: tuple[str, ...], rng: random.Random) -> DesignPath:
    value = rng.choice(VALUES)
    return DesignPath(nets, value * 0.9, value * 1.1, f"{value:g} ohm by the notes", rng.random() < 0.5)


@lru_cache(maxsize=512)
def required(board: Board) -> tuple[int, ...]:
    return contact_required(board)


def draw(seed: int, options: Options) -> tuple[str, SimulatedPerson]:
    """The meter's band and the person with the board that this seed draws."""
    rng = random.Random(seed)
    map_id = rng.choice(options.maps)
    layout = rng.randrange(len(find_layouts(map_id)))
    board = wired(map_id, layout, rng.randint(1, NOTED) if options.parts and rng.random() < 0.3 else 0)
    state = draw_board(board, rng, draw_rates(board, rng, options.bridge_ohms), options.parts)
    state = without_optional_opens(state)
    if options.left_open:
        state = dataclasses.replace(state, opens=state.opens | draw_left_open(board, rng, options.left_open))
    name = rng.choice(options.meters)
    low, high = map(float, name.split(":"))
    lead_fault = None
    if rng.random() < options.lead_faults:
        after = rng.randint(1, 3 * len(board.joints))
        lead_fault = LeadFault(rng.choice((SILENT, SOUND)), after, options.lead_rate)
    meter = SimulatedMeter(
        rng, Meter(low, high), rng.random() < 0.3, hands=Hands(options.miss, options.stray), lead_fault=lead_fault
    )
    return name, SimulatedPerson(state, meter, rng, tells_leads_ohms=rng.random() < 0.5, slip=options.slip)


def without_optional_opens(state: SimulatedBoard) -> SimulatedBoard:
    """Whether an optional joint that does not reach its net is a fault or the designer's choice, nobody can tell."""
    return dataclasses.replace(state, opens=state.opens - set(optional_joints(state.board)))


def draw_rates(board: Board, rng: random.Random, most_ohms: float) -> Rates:
    """No faults, or a mean of half a fault or of two, whatever the size of the connector."""
    faults, uniform = rng.choice((0.0, 0.5, 2.0)), rng.random() < 0.3
    if not faults:
        return Rates(0.0, 0.0)
    bridge = min(faults / 2 / bridge_weight(board, uniform), 0.9)
    return Rates(bridge, faults / 2 / len(board.joints), rng.choice((0.0, 0.3)), uniform, most_ohms)


@lru_cache(maxsize=512)
def bridge_weight(board: Board, uniform: bool) -> float:
    """The mean number of bridges at a rate of 1."""
    return max(sum(gap_weights(board.near_gaps, uniform)), 1.0)


@lru_cache(maxsize=128)
def find_layouts(map_id: str) -> tuple[str, ...]:
    return tuple(layout.id for layout in find_pin_map(map_id).layouts)


# One session


class Drive:
    """One session driven by one person to its end, judged at the end of each round.

    trace: whether each answer is kept in `lines`, for a replay.
    """

    def __init__(self, seed: int, options: Options, trace: bool = False) -> None:
        self.seed, self.trace = seed, trace
        self.meter, self.person = draw(seed, options)
        board = self.person.board.board
        self.session = Session(board, [], passes=options.passes, meter=self.person.meter.band)
        self.board, self.required = board, required(board)
        self.planned = 0
        self.counts: Counter[str] = Counter()
        self.told: list[str] = []
        self.lines: list[str] = []

    def run(self) -> Outcome:
        """Rounds of probing and rework until the session is done or gives up."""
        self.counts["boards"] = 1
        self.counts["bad at first"] = self.truth().bad
        for number in range(1, ROUNDS + 1):
            self.counts["rounds"] = number
            last = self.probe()
            if last.kind != IRON or not self.judge_round(last):
                break
            if number < ROUNDS:
                self.rework()
        else:
            self.fail(GAVE_UP, f"never clear; now {told(self.person.board)}")
        return Outcome(self.seed, self.meter, self.counts, tuple(self.told))

    def probe(self) -> Step:
        """Answer until the iron or the end is next; the last step. A round of too many touches is cut short."""
        touches = 0
        while (step := self.session.step()).kind not in (DONE, IRON):
            if step.points is not None:
                if not self.planned:
                    self.planned = max(step.left, 1)
                touches += 1
                if touches > TIMES_PLANNED * self.planned:
                    self.fail(LONG, f"over {touches - 1} touches of {self.planned} planned, next {self.asked(step)}")
                    break
            self.answer(step)
        self.counts["touches"] += touches
        if self.counts["rounds"] == 1:
            self.counts["planned"] = self.planned
            self.counts["touches of round 1"] = touches
        if step.kind == DONE:
            self.judge_round(step)
        return step

    def asked(self, step: Step) -> str:
        return f"{step.kind} {' - '.join(self.board.points[p] for p in step.points or ())}"

    def answer(self, step: Step) -> None:
        words = self.words(step)
        if self.trace:
            self.lines.append(f"{self.asked(step)}: {words}")
        self.take(self.session.answer(words))

    def take(self, rows: Sequence[Row]) -> None:
        self.session.accept(self.session.entries_of(rows))

    def words(self, step: Step) -> str:
        """The person's answer as the session takes it."""
        if step.kind == CAUTION:
            return BEEP
        if step.kind == LEADS:
            said = self.person.leads()
            if not said.startswith(LEADS_GOOD):
                return said
            return said.removeprefix(LEADS_GOOD).strip() or BEEP
        assert step.points is not None, step
        a, b = (self.board.points[p] for p in step.points)
        if step.kind == LOOK:
            return self.person.look(a, b)
        return self.person.ohms(a, b) if step.kind == OHMS_WANTED else self.person.touch(a, b)

    def truth(self) -> Truth:
        return judge(self.person.board, self.required)

    def fail(self, kind: str, why: str) -> None:
        self.counts[kind] += 1
        self.told.append(f"{kind}: {why}")

    def judge_round(self, step: Step) -> bool:
        """Hold what the program says at the end of a round to the truth; whether rework is said with reason."""
        result, truth = self.session.result(), self.truth()
        opens = self.board.names(truth.opens)
        state = f"shorts {[s.pairs for s in truth.shorts]}, open {opens}"
        verdict = CLEAR if self.session.finished() else result.verdict
        if self.trace:
            self.lines.append(f"-- round ends: {step.kind}, {result.verdict}; truth: {state}")
        for points in wrong_joins(result, self.person.board):
            self.fail(WRONG_JOIN, f"{points} named as joined; {state}")
        if CLEAR in (verdict, result.verdict) and truth.bad:
            self.fail(CLEAR_ON_BAD, state)
        elif result.verdict == REWORK and not truth.bad:
            said = [s.joints for s in result.shorts], [o.joint for o in result.opens]
            self.fail(REWORK_ON_SOUND, f"shorts {said[0]}, open {said[1]}")
            return False
        elif step.kind == DONE and verdict != CLEAR:
            self.fail(STUCK, f"{result.verdict} with nothing left to touch; {state}")
        if step.kind == IRON:
            for pair in missed_shorts(result, truth, self.person.board):
                self.fail(MISSED, f"{pair} not among the findings")
        return True

    def rework(self) -> None:
        left_open = self.person.board.opens & set(optional_joints(self.board))
        heated = self.person.rework(repairs(self.session.result().rework))
        after = without_optional_opens(self.person.board)
        self.person.board = dataclasses.replace(after, opens=after.opens | left_open)
        if self.trace:
            self.lines.append(f"-- reworked {heated}; now {told(self.person.board)}")
        if heated:
            self.take(self.session.rework(heated))


def repairs(steps: Iterable[ReworkStep]) -> Iterator[Repair]:
    """A rework list as the person works through it: a leak is cleaned with a cold iron, a resistive joint reflowed."""
    for step in steps:
        if step.harm == "leak":
            continue
        reflow = step.harm in ("resistive joint", "open")
        yield Repair(step.joints, () if reflow else step.elsewhere, reflow)


def wrong_joins(result: Result, state: SimulatedBoard) -> list[tuple[str, ...]]:
    """Groups that the result names as joined and that no metal joins."""
    number = state.board.number
    groups = [short.joints for short in result.shorts] + [group.joints for group in result.harmless]
    return [names for names in groups if any(not state.linked(number[names[0]], number[name]) for name in names)]


def missed_shorts(result: Result, truth: Truth, state: SimulatedBoard) -> list[tuple[str, str]]:
    """Harmful pairs of nets that neither a finding joins nor several that share a net, the designer's ties included."""
    point = state.board.board_point
    said = [*(short.nets for short in result.shorts), *state.ties, *(tuple(group) for group in state.board.ties)]
    links = [(point[a], point[b]) for nets in said for a, b in pairwise(n for n in nets if n in point)]
    group = components(len(state.board.points), links)
    return [pair for short in truth.shorts for pair in short.pairs if group[point[pair[0]]] != group[point[pair[1]]]]


def told(state: SimulatedBoard) -> str:
    """A true board in words."""
    names = state.board.points
    bridges = [f"{names[b.a]}-{names[b.b]} {b.ohms:.2f}" for b in state.bridges]
    parts = [f"{'-'.join(p.nets[:3])} {p.ohms[0]:.3g}" for p in state.parts]
    opens = state.board.names(state.opens)
    return f"bridges {bridges}, open {opens}, ties {list(state.ties)}, parts {parts}"


# Many sessions


def one(task: tuple[int, Options]) -> Outcome:
    """The outcome of one board; an exception is an outcome as well."""
    seed, options = task
    drive = Drive(seed, options)
    try:
        return drive.run()
    except Exception as error:  # noqa: BLE001 a crash is counted and told with its seed, the other boards go on
        drive.fail(RAISED, f"{type(error).__name__}: {error}")
        return Outcome(seed, drive.meter, drive.counts, tuple(drive.told))


def simulate(boards: int, seed: int, options: Options, processes: int = 2) -> list[Outcome]:
    """The outcomes of that many boards, in the order of their seeds."""
    tasks = [(seed * 10_000_000 + number, options) for number in range(boards)]
    if processes < 2:
        return [one(task) for task in tasks]
    with Pool(processes) as pool:
        return sorted(pool.imap_unordered(one, tasks, chunksize=20))


def table(outcomes: Sequence[Outcome]) -> str:
    """Counts of boards by meter: a failure counts a board once, however often it came."""
    rows = [("meter", "boards", "bad", *FAILURES, "touches", "planned")]
    meters = sorted({o.meter for o in outcomes}, key=lambda m: [float(x) for x in m.split(":")])
    for meter in [*meters, "all"]:
        here = [o for o in outcomes if meter in (o.meter, "all")]
        bad = sum(o.counts["bad at first"] for o in here)
        failed = [sum(o.counts[kind] > 0 for o in here) for kind in FAILURES]
        means = [sum(o.counts[word] for o in here) / len(here) for word in ("touches of round 1", "planned")]
        rows.append((meter, *map(str, (len(here), bad, *failed)), *(f"{mean:.1f}" for mean in means)))
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return "\n".join("  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows)


def failing(outcomes: Sequence[Outcome], most: int) -> str:
    """The first seeds of each kind of failure, with one told in full."""
    lines = []
    for kind in FAILURES:
        found = [o for o in outcomes if o.counts[kind]]
        if found:
            seeds = " ".join(str(o.seed) for o in found[:most])
            lines += [f"{kind}: {seeds}", f"  {next(t for t in found[0].told if t.startswith(kind))[:200]}"]
    return "\n".join(lines)


def replay(seed: int, options: Options) -> str:
    """One board's session, answer by answer."""
    drive = Drive(seed, options, trace=True)
    board = drive.board
    head = f"{board.pin_map.id} {board.layout.id}, meter {drive.meter}: {told(drive.person.board)}"
    outcome = drive.run()
    return "\n".join([head, *drive.lines, *outcome.told])


def parser() -> argparse.ArgumentParser:
    words = argparse.ArgumentParser(prog="python -m tests.simulate", description=(__doc__ or "").split("\n\n")[0])
    words.add_argument("--boards", type=int, default=1000, help="how many boards")
    words.add_argument("--seed", type=int, default=1, help="which boards")
    words.add_argument("--maps", help="pin map ids with commas (default: all that are shipped)")
    words.add_argument("--meter", help="bands with commas, such as 10:250,10:35 (default: eight classes)")
    words.add_argument("--parts", action="store_true", help="parts fitted: the map's, and others by board notes")
    words.add_argument("--miss", type=float, default=0.0, help="touches without contact, as a rate")
    words.add_argument("--stray", type=float, default=0.0, help="touches on a neighbour, as a rate")
    words.add_argument("--lead-faults", type=float, default=0.0, help="boards whose leads fail midway, as a rate")
    words.add_argument("--lead-rate", type=float, default=1.0, help="share of touches that failing leads spoil")
    words.add_argument("--slip", type=float, default=0.05, help="new faults at each reworked joint, as a rate")
    words.add_argument("--bridge-ohms", type=float, default=1.0, help="the most that a bridge reads (0 to 5)")
    words.add_argument("--left-open", type=float, default=0.0, help="optional ground and supply joints left open")
    words.add_argument("--passes", type=int, default=1, help="how often each silence is asked for")
    words.add_argument("--processes", type=int, default=2)
    words.add_argument("--seeds", type=int, default=8, help="how many seeds of each failure to print")
    words.add_argument("--replay", type=int, metavar="SEED", help="drive that one board and print every answer")
    return words


def options_of(given: argparse.Namespace) -> Options:
    """The drawing options that a command line asks for."""
    maps = tuple(given.maps.split(",") if given.maps else list_ids())
    meters = tuple(given.meter.split(",")) if given.meter else METERS
    hands = (given.miss, given.stray, given.lead_faults, given.slip)
    return Options(maps, meters, given.parts, *hands, given.bridge_ohms, given.left_open, given.lead_rate, given.passes)


def main(words: Sequence[str]) -> int:
    """The command; 1 when a board failed that must not."""
    given = parser().parse_args(words)
    options = options_of(given)
    if given.replay is not None:
        print(replay(given.replay, options))
        return 0
    outcomes = simulate(given.boards, given.seed, options, given.processes)
    print(table(outcomes))
    print(failing(outcomes, given.seeds))
    return int(any(o.counts[kind] for o in outcomes for kind in MUST_NOT))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
