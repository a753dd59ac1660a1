"""Whole screens of the live session as files: each scene at 80 and 60 columns, and as the line of plain mode.

`python -m tests.screens` writes them anew, with the functions that show them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from connector_check.board.board import Board
from connector_check.pinout.library import find_pin_map
from connector_check.probing.keys import key_map
from connector_check.probing.probe import Probe
from connector_check.probing.session import Session
from connector_check.probing.steps import ASK_AGAIN, CAUTION, DONE, IRON, LEADS, LOOK, OHMS_WANTED, TOUCH
from connector_check.testlog.readings import Entry
from connector_check.testlog.rows import Row, entry_of
from tests.strategies import SimulatedBoard

FOLDER = Path(__file__).with_name("screens")
SIZES = ((80, 24), (60, 24))
MAPS = ("vga-de15", "usb-c-16", "sim-card", "pcie-x1")
LOOK_MAP = "rj45-10-100"
"""A map with a winding, which ohms cannot tell from solder."""


class _NoFile:
    def record(self, row: Row, board: Board) -> Entry:
        return entry_of(board, row)


def probe_of(map_id: str) -> Probe:
    pin_map = find_pin_map(map_id)
    return Probe(Session(Board(pin_map, pin_map.layouts[0]), []), _NoFile(), "component")


def drive(probe: Probe, sim: SimulatedBoard, until: str, most: int = 2000) -> str:
    """Answer as the simulated board, where a part by design sounds as well, up to a step of that kind; returns what was
    told last.
    """
    told = ""
    session, board = probe.session, probe.session.board
    for _ in range(most):
        step = session.step()
        if step.kind == until:
            return told
        if step.points is None:
            told = probe.do("beep")
            continue
        parts = board.design_ohms(*(board.net_of[point].name for point in step.points))
        joined = sim.beeps(*step.points)
        if step.kind == OHMS_WANTED:
            apart = "OL" if parts is None else f"{(parts.low + parts.high) / 2:g}"
            told = probe.do("ohms", "0.1" if joined else apart)
        else:
            sounds = parts is not None and parts.low <= session.meter.silent_above
            told = probe.do("beep" if joined or sounds else "quiet")
    raise AssertionError(f"never came to {until}")


def good(probe: Probe) -> SimulatedBoard:
    return SimulatedBoard(probe.session.board)


def bridged(probe: Probe) -> SimulatedBoard:
    """Solder over the nearest two joints that must be apart."""
    board = probe.session.board
    pairs = [(board.number[a], board.number[b]) for a, b, _ in sorted(board.near_gaps, key=lambda gap: gap[2])]
    wrong = next(pair for pair in pairs if board.must_be_apart(*(board.net_of[point] for point in pair)))
    return SimulatedBoard(board, [wrong])


def caution(probe: Probe) -> str:
    return drive(probe, good(probe), CAUTION)


def leads(probe: Probe) -> str:
    return drive(probe, good(probe), LEADS)


def touch(probe: Probe) -> str:
    return drive(probe, good(probe), TOUCH)


def touch_with_a_held_lead(probe: Probe) -> str:
    sim = good(probe)
    drive(probe, sim, TOUCH)
    points = probe.session.step().points
    assert points is not None
    probe.do("beep" if sim.beeps(*points) else "quiet")
    return probe.do("chirp")


def refused(probe: Probe) -> str:
    drive(probe, good(probe), TOUCH)
    return probe.do("ohms", "leads good")


def skipped_before(probe: Probe) -> str:
    drive(probe, good(probe), TOUCH)
    probe.do("skip")
    sim = good(probe)
    while not probe.session.step().again:
        drive(probe, sim, TOUCH)
        points = probe.session.step().points
        assert points is not None
        told = probe.do("beep" if sim.beeps(*points) else "quiet")
    return told


def ohms_wanted(probe: Probe) -> str:
    return drive(probe, good(probe), OHMS_WANTED)


def look(probe: Probe) -> str:
    return drive(probe, good(probe), LOOK)


def ask_again(probe: Probe) -> str:
    drive(probe, good(probe), TOUCH)
    points = probe.session.step().points
    assert points is not None
    a, b = (probe.session.board.points[point] for point in points)
    probe.do("beep")
    probe.record([Row(a, b, "quiet")])
    assert probe.session.step().kind == ASK_AGAIN
    return ""


def iron(probe: Probe) -> str:
    return drive(probe, bridged(probe), IRON)


def done(probe: Probe) -> str:
    return drive(probe, good(probe), DONE)


SCENES: dict[str, Callable[[Probe], str]] = {
    "caution": caution,
    "lead-check": leads,
    "touch": touch,
    "touch-held": touch_with_a_held_lead,
    "refused": refused,
    "skipped": skipped_before,
    "ohms-wanted": ohms_wanted,
    "ask-again": ask_again,
    "iron": iron,
    "done": done,
}
ONE_MAP_ONLY = {"caution", "lead-check", "refused", "skipped", "ohms-wanted"}
"""Scenes that look alike on every map, and the one that needs parts by design."""


def scenes() -> Iterator[tuple[str, str]]:
    """(file name, its text) of every scene."""
    for map_id in MAPS:
        for name, come_to in SCENES.items():
            if name not in ONE_MAP_ONLY or map_id == MAPS[0]:
                probe = probe_of(map_id)
                yield f"{map_id}-{name}.txt", scene_text(probe, come_to(probe))
    probe = probe_of(LOOK_MAP)
    yield f"{LOOK_MAP}-look.txt", scene_text(probe, look(probe))


def scene_text(probe: Probe, message: str) -> str:
    parts = []
    for columns, lines in SIZES:
        parts += [f"--- {columns} columns, {lines} lines", *probe.screen(message, key_map(), columns, lines)]
    parts += ["--- plain", *filter(None, (message, probe.line()))]
    return "\n".join(parts) + "\n"


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for old in FOLDER.glob("*.txt"):
        old.unlink()
    for name, text in scenes():
        (FOLDER / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
