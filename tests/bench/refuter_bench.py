"""Measures the refuter on complete sound jobs of shipped maps: `python -m tests.bench.refuter_bench [MAP...]`.

Not a test; nothing here passes or fails. Per map: jobs with random parts, ties and meters, the worst and the median
seconds of building the model's index and refuting, fault sets looked at, and how many jobs are refuted. The last line
is a made-up row of 500 joints with 20,000 readings.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from math import inf

from connector_check.analysis.refuter import refutation
from connector_check.analysis.refuter_model import BoardModel, Part, Reading, SolderJoint
from connector_check.analysis.refuting import model_of
from connector_check.testlog.meter import Meter
from tests.refuter_jobs import drawn, empty_model, read, required, shipped_board, wanted_pairs

MAPS = (
    "pcie-x16",
    "usb-c-24",
    "usb-c-16",
    "scart",
    "vga-de15",
    "dvi-i",
    "rj45-1000",
    "sata-22",
    "microsd",
    "hdmi-a",
    "db25-ieee1284",
    "m2-key-m",
    "ieee488-24",
    "usb-a-3",
    "de9-can",
)
METERS = ((10, 250), (20, 60), (5, 40), (30, 30), (50, 75), (10, 35), (100, 150))


def jobs(map_id: str, count: int):
    board, rng = shipped_board(map_id), random.Random(7)
    for _ in range(count):
        meter = Meter(*rng.choice(METERS))
        truth = drawn(empty_model(board, meter), (), rng)
        standing = read(truth, board, wanted_pairs(board), meter, rng)
        yield model_of(board, standing, "near", meter, required(board))


def row_of(count: int, readings: int) -> BoardModel:
    """A made-up part in two rows, every fourth joint ground, 75 ohm from some signals to ground."""
    rng = random.Random(3)
    nets = ["GND", *(f"S{i}" for i in range(count) if i % 4)]
    joints = [SolderJoint(str(i), f"S{i}" if i % 4 else "GND") for i in range(count)]
    scope = [(str(i), str(k)) for i in range(count) for k in (i + 1, i + 2) if k < count]
    beep, quiet = (0.0, 250.0), (10.01, inf)
    found = [Reading(j.name, "@" + j.net, *beep) for j in joints]
    found += [Reading(a, b, *(quiet if joints[int(a)].net != joints[int(b)].net else beep)) for a, b in scope]
    while len(found) < readings:
        a, b = rng.sample(joints, 2)
        found.append(Reading(a.name, b.name, *(quiet if a.net != b.net else beep)))
    parts = [Part(f"S{i}", "GND", 70, 80) for i in range(1, 40, 4)]
    return BoardModel(tuple(nets), tuple(joints), tuple(scope), lambda a, b: a != b, tuple(found), parts=tuple(parts))


def measure(name: str, models) -> None:
    seconds, states, refuted, joints, cut = [], [], 0, 0, 0
    for model in models:
        start = time.perf_counter()
        found = refutation(model)
        seconds.append(time.perf_counter() - start)
        states.append(found.states)
        refuted += bool(found.counterexamples)
        cut += bool(found.undecided or found.left_out)
        joints = len(model.joints)
    print(
        f"{name:16} {joints:6} {max(seconds):9.3f} {statistics.median(seconds):9.3f} {max(states):7} "
        f"{refuted:4} of {len(seconds):3} {cut:4}",
        flush=True,
    )


def main() -> None:
    print(f"{'map':16} {'joints':>6} {'worst s':>9} {'median s':>9} {'sets':>7} {'refuted':>11} {'open':>4}")
    for name in sys.argv[1:] or MAPS:
        measure(name, jobs(name, 20))
    if not sys.argv[1:]:
        measure("row of 500", [row_of(500, 20_000)])


if __name__ == "__main__":
    main()
