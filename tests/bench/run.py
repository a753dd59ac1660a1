"""Measures speed and prints ratios from one run: `python -m tests.bench.run`. Not a test; nothing here passes or fails.

Start-up and check are whole processes of the installed command (median of several runs); the closure is compared with
scipy's connected components on the same readings, both with and without reading the job file.
"""

from __future__ import annotations

import random
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from connector_check.analysis.knowledge import closure
from connector_check.analysis.replay import replay
from connector_check.board.board import Board
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap, Source
from connector_check.testlog.jobfile import parse, read_text
from connector_check.testlog.readings import BEEP

RUNS = 15


def whole_process(*args: str) -> float:
    """Median seconds of one run of the installed command."""
    command = [str(Path(sys.executable).parent / "connector-check"), *args]
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        subprocess.run(command, capture_output=True, check=False)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def bare_python() -> float:
    """Median seconds of an interpreter that does nothing."""
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", "pass"], check=True)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def first_prompt_and_answer(folder: Path) -> tuple[float, float]:
    """Median seconds from start to the first prompt of a probing session, and from an answer to the next prompt."""
    starts, answers = [], []
    command = [str(Path(sys.executable).parent / "connector-check"), "probe", "new.csv", "--map", "hdmi-a"]
    for _ in range(RUNS):
        (folder / "new.csv").unlink(missing_ok=True)
        start = time.perf_counter()
        with subprocess.Popen(command, cwd=folder, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
            assert process.stdin and process.stdout
            process.stdout.readline()
            starts.append(time.perf_counter() - start)
            for _ in range(20):
                start = time.perf_counter()
                process.stdin.write(b"beep\n")
                process.stdin.flush()
                process.stdout.readline()
                answers.append(time.perf_counter() - start)
            process.kill()
    return statistics.median(starts), statistics.median(answers)


def good_job(map_id: str) -> str:
    """A job of a good board in that map: every near obligation answered as a good board answers."""
    from tests.strategies import SimulatedBoard, probe_until_settled

    board = Board(find_pin_map(map_id), find_pin_map(map_id).layouts[0])
    entries, _ = probe_until_settled(SimulatedBoard(board))
    rows = [
        f"{board.points[e.points[0]]},{board.points[e.points[1]]},{e.kind if e.ohms is None else 'OL'}" for e in entries
    ]
    return f"# map: {map_id}\n" + "\n".join(rows) + "\n"


def grid_board(count: int) -> Board:
    """A made-up connector of `count` joints on a grid, a net for each five joints in a row."""
    names = [f"J{i}" for i in range(count)]
    nets = tuple(Net(f"N{i}", "data", tuple(names[i : i + 5])) for i in range(0, count, 5))
    joints = tuple(Joint(n, (n,), i % 100 * 1.0, i // 100 * 1.0, 0.5, 0.5) for i, n in enumerate(names))
    layout = Layout("grid", "", "made up", joints)
    owner = {c: net.name for net in nets for c in net.contacts}
    return Board(PinMap("grid", "grid", "", (Source("made up", "memory"),), nets, owner, (layout,)), layout)


def big_job(board: Board, readings: int, seed: int) -> str:
    """Random true readings: beeps inside nets, quiets between."""
    rng = random.Random(seed)
    count = len(board.joints)
    rows = []
    for _ in range(readings):
        a, b = rng.sample(range(count), 2)
        if rng.random() < 0.3:
            b = a // 5 * 5 + (a + rng.randint(1, 4)) % 5
        rows.append(f"J{a},J{b},{'beep' if a // 5 == b // 5 else 'quiet'}")
    return "\n".join(rows) + "\n"


def closure_against_scipy(joints: int, readings: int, folder: Path) -> tuple[float, float, float, float]:
    """Seconds: reading the file; our replay with its closure; the closure alone; scipy's components with its arrays."""
    board = grid_board(joints)
    path = folder / "big.csv"
    path.write_text(big_job(board, readings, 1))
    start = time.perf_counter()
    entries = parse(read_text(str(path)), board)
    reading = time.perf_counter() - start
    start = time.perf_counter()
    standing = replay(board, entries)
    replaying = time.perf_counter() - start
    beeps = [e.points for e in entries if e.kind == BEEP]
    quiets = [e.points for e in entries if e.kind != BEEP]
    start = time.perf_counter()
    closure(len(board.points), beeps, quiets)
    closing = time.perf_counter() - start
    start = time.perf_counter()
    pairs = np.array(beeps)
    graph = coo_array((np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])), shape=(joints, joints))
    groups, _ = connected_components(graph, directed=False)
    scipy = time.perf_counter() - start
    ours = sum(1 for group in standing.knowledge.classes() if group[0] < joints)
    assert ours == groups, (ours, groups)
    return reading, replaying, closing, scipy


def main() -> None:
    python = bare_python()
    print(f"bare python            {python * 1000:7.1f} ms")
    help_time = whole_process("--help")
    print(f"connector-check --help {help_time * 1000:7.1f} ms   {help_time / python:.1f} x bare python")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        job = folder / "job.csv"
        job.write_text(good_job("hdmi-a"))
        for form in ("text", "json"):
            check_time = whole_process("check", str(job), "--format", form)
            print(f"check, 19 pins, {form:6} {check_time * 1000:7.1f} ms   {check_time / python:.1f} x bare python")
        prompt, answer = first_prompt_and_answer(folder)
        print(f"probe, first prompt    {prompt * 1000:7.1f} ms   {prompt / python:.1f} x bare python")
        print(f"answer to next prompt  {answer * 1000:7.1f} ms   on disk and synced")
        print(
            "joints  readings   reading  replay  closure alone  scipy   (reading+replay)/(reading+scipy)  closure/scipy"
        )
        for joints, readings in ((500, 100_000), (1_000, 200_000), (2_500, 500_000), (5_000, 1_000_000)):
            reading, replaying, closing, scipy = closure_against_scipy(joints, readings, folder)
            ratio = (reading + replaying) / (reading + scipy)
            print(
                f"{joints:6} {readings:9,}   {reading:6.2f} s {replaying:6.2f} s {closing:8.2f} s    {scipy:6.2f} s"
                f"   {ratio:20.2f} {closing / scipy:20.2f}"
            )


if __name__ == "__main__":
    main()
