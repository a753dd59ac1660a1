"""The whole session killed at random: each answer that the screen acknowledged is on disk, and the session goes on."""

from __future__ import annotations

import os
import random
import select
import signal
import sys
import time
from itertools import cycle
from pathlib import Path

import pytest

from connector_check.probing.probe import Probe, run_lines
from connector_check.probing.session import Session
from connector_check.testlog.jobfile import decode, parse
from connector_check.testlog.jobwriter import JobWriter
from tests.strategies import tiny_board

KILLS = 300
BOARD = tiny_board()
ANSWERS = [
    "beep",
    "quiet",
    "unsure",
    "chirp",
    "undo",
    "beep",
    "skip",
    "remark what, a note",
    "quiet",
    "reworked 2 3",
    "0.4",
]


def entries_of(path: Path):
    return parse(decode(path.read_bytes(), path.name), BOARD) if path.exists() else []


def session_until_killed(path: Path, pipe: int) -> None:
    """What the child runs: a session on endless answers; after each step shown, the number of lines it knows."""
    writer = JobWriter.open(path, {"map": "tiny"})
    probe = Probe(Session(BOARD, entries_of(path)), writer, "component")

    def shown(text: str) -> None:
        os.write(pipe, f"{len(probe.session.entries)}\n".encode())

    run_lines(probe, cycle(ANSWERS), shown)
    os._exit(0)


def read_lines(pipe: int, count: int) -> str:
    """What comes down a pipe until there are that many lines of it."""
    heard = b""
    while heard.count(b"\n") < count:
        assert select.select([pipe], [], [], 20)[0], "the child stands still"
        heard += os.read(pipe, 4096)
    return heard.decode()


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_a_session_killed_300_times_loses_nothing_that_it_had_shown(tmp_path):
    rng = random.Random(20)
    path = tmp_path / "job.csv"
    acknowledged_in_all = 0
    for kill in range(KILLS):
        if kill % 25 == 0:
            path.unlink(missing_ok=True)
        before = len(entries_of(path))
        read_end, write_end = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                os.close(read_end)
                session_until_killed(path, write_end)
            finally:
                sys.stdout = sys.stderr = None  # type: ignore[assignment]
                os._exit(1)
        os.close(write_end)
        # none: the kill falls into the opening; a machine with much else to do takes its time for the others
        heard = read_lines(read_end, rng.randrange(7))
        time.sleep(rng.random() * 0.01)
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        assert os.WIFSIGNALED(status), "the child ended by itself"
        with os.fdopen(read_end) as pipe:
            lines = [line for line in (heard + pipe.read()).split("\n")[:-1] if line]
        acknowledged = int(lines[-1]) if lines else before
        raw = path.read_bytes() if path.exists() else b""
        whole = raw[: raw.rfind(b"\n") + 1]
        found = parse(decode(whole, "job.csv"), BOARD) if whole.count(b"\n") > 1 else []
        assert len(found) >= acknowledged >= before, (kill, len(found), acknowledged)
        with JobWriter.open(path, {"map": "tiny"}):
            pass
        assert len(entries_of(path)) == len(found)
        acknowledged_in_all += acknowledged - before
    assert acknowledged_in_all > KILLS
