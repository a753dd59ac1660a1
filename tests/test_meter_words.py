"""What the session makes of the meter: the offer to test it, how long to hold, and the line that a job carries."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from connector_check.board.board import Board
from connector_check.cli.commands import main
from connector_check.pinout.library import find_pin_map
from connector_check.probing.meter_words import KNOWN_METER, ohms_asked, saving_words
from connector_check.probing.probe import Probe
from connector_check.probing.session import Session
from connector_check.probing.steps import ASK_AGAIN, DONE, IRON, OHMS_FOR_A_PART, OHMS_WANTED
from connector_check.testlog.meter import UNKNOWN_METER, Meter
from connector_check.testlog.meter_file import keep_as_own, meter_text
from tests.screens import _NoFile, good


def board_of(map_id: str) -> Board:
    pin_map = find_pin_map(map_id)
    return Board(pin_map, pin_map.layouts[0])


def asked_in_a_session(board: Board, meter: Meter) -> int:
    """The ohms steps of a whole session on a sound board, where the meter sounds on every part it may sound on."""
    probe = Probe(Session(board, [], meter=meter), _NoFile(), "component")
    sound, count = good(probe), 0
    for _ in range(300):
        step = probe.session.step()
        if step.kind == DONE:
            return count
        if step.points is None:
            assert step.kind != IRON
            probe.do("beep")
            continue
        part = board.design_ohms(*(board.net_of[point].name for point in step.points))
        joined = sound.beeps(*step.points)
        if step.kind == OHMS_WANTED:
            count += step.why == OHMS_FOR_A_PART
            probe.do("ohms", "0.1" if joined else "OL" if part is None else f"{(part.low + part.high) / 2:g}")
        else:
            probe.do("beep" if joined or (part is not None and part.low <= meter.silent_above) else "quiet")
    raise AssertionError("never done")


@pytest.mark.parametrize("map_id", ["vga-de15", "mini-din-4-svideo", "ieee1394-6", "usb-c-16"])
@pytest.mark.parametrize("meter", [UNKNOWN_METER, KNOWN_METER], ids=["unknown", "known"])
def test_the_ohms_told_are_those_that_a_session_asks_for(map_id, meter):
    board = board_of(map_id)
    assert ohms_asked(board, meter) == asked_in_a_session(board, meter)


def test_what_a_known_meter_saves_is_counted_not_a_constant():
    words = saving_words(board_of("vga-de15"), UNKNOWN_METER)
    now, then = (ohms_asked(board_of("vga-de15"), meter) for meter in (UNKNOWN_METER, KNOWN_METER))
    assert now > then and f"needs ohms {now} times with an unknown one, {then} times with one that is silent" in words
    other = saving_words(board_of("scart"), UNKNOWN_METER)
    assert other and other != words


@pytest.mark.parametrize(
    ("map_id", "meter"),
    [("vga-de15", Meter(10, 250, told_by="--meter")), ("vga-de15", Meter(30, 70)), ("pcie-x1", UNKNOWN_METER)],
)
def test_nothing_is_offered_for_a_known_meter_or_without_parts(map_id, meter):
    assert saving_words(board_of(map_id), meter) == ""


def test_nothing_is_offered_where_it_would_save_nothing():
    board = board_of("usb-c-16")
    assert board.resistors and saving_words(board, UNKNOWN_METER) == ""


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def probed(*args: str, stdin: str = "quit\n"):
    return CliRunner().invoke(main, ["probe", "job.csv", *args], input=stdin, catch_exceptions=False)


def test_a_new_job_carries_the_meter_it_was_taken_with(bench):
    (bench / "m.yaml").write_text(
        meter_text(Meter(30, 70, leads_ohms=0.2, name="drawer", latency_ms=250, beeps_on_junction=True))
    )
    first = probed("--map", "vga-de15", "--meter", "m.yaml")
    line = "# meter: 30 70 leads 0.2 latency 250 junction yes name drawer"
    assert line in (bench / "job.csv").read_text().splitlines()
    (bench / "m.yaml").unlink()
    told = "hold each touch for 0.5 s: this meter needs 250 ms to sound"
    for shown in (first, probed()):
        assert told in shown.stderr and "use the continuity range" in shown.stderr
        assert "assumed: meter: sounds below 30 ohm, silent above 70 ohm (drawer, from" in shown.stdout


def test_the_users_own_meter_goes_into_a_new_job_and_nothing_of_an_unknown_one(bench):
    probed("--map", "vga-de15")
    assert "meter" not in (bench / "job.csv").read_text()
    (bench / "job.csv").unlink()
    keep_as_own(Meter(25, 65, name="own"))
    probed("--map", "vga-de15")
    assert "# meter: 25 65 name own" in (bench / "job.csv").read_text().splitlines()


def test_the_offer_says_what_it_saves_where_nobody_can_be_asked(bench):
    shown = probed("--map", "vga-de15")
    assert saving_words(board_of("vga-de15"), UNKNOWN_METER) in " ".join(shown.stderr.split())
    assert "the plan needs ohms" in probed().stderr
    (bench / "job.csv").unlink()
    assert "the plan needs ohms" not in probed("--map", "vga-de15", "--meter", "10:250").stderr


def test_paper_and_the_touch_again_say_how_long_to_hold(bench):
    (bench / "m.yaml").write_text(meter_text(Meter(30, 70, latency_ms=250, beeps_on_junction=True)))
    paper = CliRunner().invoke(main, ["plan", "--map", "vga-de15", "--meter", "m.yaml"], catch_exceptions=False).stdout
    assert "hold each touch for 0.5 s" in paper and all(len(line) <= 80 for line in paper.splitlines())
    probe = Probe(Session(board_of("vga-de15"), [], meter=Meter(30, 70, latency_ms=250)), _NoFile(), "component")
    for action in ("beep", "beep", "quiet"):
        probe.do(action)
    assert probe.session.step().kind == ASK_AGAIN and probe.session.step().why.endswith("and hold it for 0.5 s")
