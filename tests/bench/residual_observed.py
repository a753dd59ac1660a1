"""Residual risk against how often it comes true: boards drawn and touched by the model's own assumptions.

`python -m tests.bench.residual_observed --boards 200000` draws that many rows of data joints, touches every contact and
every neighbour once, keeps the boards that read sound, and prints the predicted and the observed share of them with a
bridge left and with a joint without contact.
"""

from __future__ import annotations

import argparse
import random
from typing import NamedTuple

from connector_check.analysis.replay import replay
from connector_check.analysis.residual import Assumptions, Residual, pair_prior, residual
from connector_check.board.board import NEAR, Board
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap
from connector_check.testlog.readings import BEEP, QUIET, Entry

ASSUMED = Assumptions(
    prior_at_least_gap=0.1, decay_mm=0.05, miss=0.2, persistent_miss=0.05, false_beep=0.05, prior_open=0.2
)
"""Far worse than a bench is, so that few boards show much."""

JOINTS = 5


class Observed(NamedTuple):
    """Of the boards that read sound: how many, and how many of them have a bridge left, and a joint without contact."""

    kept: int
    bridged: int
    open: int


def row() -> Board:
    joints = tuple(Joint(str(i), (str(i),), 0.5 * i, 0, 0.3, 1.0) for i in range(1, JOINTS + 1))
    nets = tuple(Net(f"S{i}", "data", (str(i),)) for i in range(1, JOINTS + 1))
    layout = Layout("row", "", "invented", joints)
    return Board(PinMap("row", "row", "", (), nets, {}, (layout,)), layout)


def predicted(board: Board) -> Residual:
    """The residual risk of a board that reads sound."""
    contacts = [(joint, board.board_point[board.net_of[joint].name]) for joint in range(JOINTS)]
    entries = [Entry(line, BEEP, pair) for line, pair in enumerate(contacts, 1)]
    entries += [Entry(line, QUIET, (joint, joint + 1)) for line, joint in enumerate(range(JOINTS - 1), 50)]
    return residual(board, replay(board, entries), NEAR, ASSUMED)


def observe(boards: int, rng: random.Random) -> Observed:
    """Draw boards with bridges between neighbours and open joints, and keep those whose touches all read sound."""
    a, p = ASSUMED, pair_prior(0.2, 0.2, ASSUMED)
    kept = bridged = opened = 0
    for _ in range(boards):
        opens = sum(rng.random() < a.prior_open for _ in range(JOINTS))
        bridges = sum(rng.random() < p for _ in range(JOINTS - 1))
        sound = all(rng.random() < a.false_beep for _ in range(opens))
        sound = sound and all(rng.random() >= a.miss for _ in range(JOINTS - opens))
        sound = sound and all(rng.random() < a.persistent_miss or rng.random() < a.miss for _ in range(bridges))
        sound = sound and all(rng.random() >= a.false_beep for _ in range(JOINTS - 1 - bridges))
        if sound:
            kept, bridged, opened = kept + 1, bridged + (bridges > 0), opened + (opens > 0)
    return Observed(kept, bridged, opened)


def main() -> None:
    words = argparse.ArgumentParser(prog="python -m tests.bench.residual_observed")
    words.add_argument("--boards", type=int, default=200_000)
    words.add_argument("--seed", type=int, default=1)
    given = words.parse_args()
    told, seen = predicted(row()), observe(given.boards, random.Random(given.seed))
    print(f"{seen.kept} of {given.boards} boards read sound")
    print(f"solder bridge left: predicted {told.risk:.4f}, observed {seen.bridged / seen.kept:.4f}")
    print(f"joint without contact: predicted {told.no_contact:.4f}, observed {seen.open / seen.kept:.4f}")


if __name__ == "__main__":
    main()
