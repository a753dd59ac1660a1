"""Entries that once slipped past a rule of the verdict, each on a shipped map through `load_job` and `check`, or
through the command.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from math import inf
from pathlib import Path

import pytest
from click.testing import CliRunner

from connector_check import Result, Settings, check, load_job
from connector_check.analysis.replay import replay
from connector_check.board.board import Board
from connector_check.cli.commands import main
from connector_check.errors import InputError
from connector_check.pinout.library import find_pin_map
from connector_check.testlog.readings import OHMS
from tests.strategies import SimulatedBoard, probe_until_settled

LEADS = ",,leads good"


@cache
def sound(map_id: str) -> tuple[str, ...]:
    """The rows of a whole job on a sound board without parts fitted."""
    pin_map = find_pin_map(map_id)
    board = Board(pin_map, pin_map.layouts[0])
    entries, verdict = probe_until_settled(SimulatedBoard(board), shorts_only=False)
    assert verdict == "clear"
    rows = []
    for entry in entries:
        a, b = (board.points[point] for point in entry.points)
        word = ("OL" if entry.ohms == inf else f"{entry.ohms:g} ohm") if entry.kind == OHMS else entry.kind
        rows.append(f"{a},{b},{word}")
    return tuple(rows)


def without(rows: Iterable[str], *pairs: str) -> list[str]:
    """The rows but those of these pairs, written `3-8`."""
    gone = [set(pair.split("-")) for pair in pairs]
    return [row for row in rows if set(row.split(",")[:2]) not in gone]


def write(folder: Path, map_id: str, rows: Iterable[str], name: str = "job.csv") -> str:
    path = folder / name
    path.write_text("\n".join([f"# map: {map_id}", "pin_a,pin_b,reading", *rows, ""]), encoding="utf-8")
    return str(path)


def judged(folder: Path, map_id: str, rows: Iterable[str], like: str = "", leads: bool = True) -> Result:
    """The result of the rows; leads: with a good lead check before and after."""
    around = [LEADS] if leads else []
    return check(load_job(write(folder, map_id, [*around, *rows, *around]), like=like), Settings())


def standing(folder: Path, map_id: str, rows: Iterable[str]):
    job = load_job(write(folder, map_id, rows))
    return replay(job.board, job.entries, job.meter)


@pytest.mark.parametrize("map_id", ["vga-de15", "trs-3.5", "de9-can", "sata-7", "usb-c-16", "usb-a-3"])
def test_a_sound_board_is_clear(tmp_path, map_id):
    assert judged(tmp_path, map_id, sound(map_id)).parts == ("clear", "clear")


# Parts conduct


def test_an_open_ground_bridged_to_a_terminated_line_is_not_clear(tmp_path):
    """8 is open and bridged to 3: what sounds at 8 is the 75 ohm of BLUE."""
    rows = without(sound("vga-de15"), "3-8", "8-@GND", "3-@GND")
    result = judged(tmp_path, "vga-de15", [*rows, "@GND,8,beep", "@GND,3,75 ohm"])
    assert result.verdict == "unproven"
    assert result.doubt is not None and "joint 8 open and bridged to 3" in result.doubt.told
    assert (result.doubt.pair, result.doubt.kind) == (("8", "@GND"), "ohms")
    found = judged(tmp_path, "vga-de15", [*rows, "@GND,8,beep", "@GND,3,75 ohm", "8,@GND,75 ohm"])
    assert found.verdict != "clear"
    earned = judged(tmp_path, "vga-de15", [*rows, "@GND,8,beep", "@GND,3,75 ohm", "8,@GND,0.2 ohm"])
    assert earned.verdict == "clear"


def test_a_tone_that_a_bridged_ground_and_its_termination_carry_names_no_short(tmp_path):
    """8 and 9 are bridged: 9 sounds to 3 over the 75 ohm of BLUE."""
    rows = without(sound("vga-de15"), "3-8", "3-9", "8-9")
    result = judged(tmp_path, "vga-de15", [*rows, "9,3,beep", "@GND,3,75 ohm"])
    assert result.verdict == "unproven" and not result.shorts and not result.rework
    assert [wanted.pair for wanted in result.measure] == [("9", "3")]
    assert ("8", "9") in result.unproven
    assert not any(set(pair) == {"8", "9"} for pair in (wanted.pair for wanted in result.measure))


@pytest.mark.parametrize(
    ("pair", "reading", "said"),
    [("14-15", "beep", ("rework", "unproven")), ("1-@RED", "quiet", ("unproven", "rework"))],
)
def test_a_part_of_the_verdict_is_not_clear_beside_a_finding_by_what_parts_may_have_carried(
    tmp_path, pair, reading, said
):
    """The refuter vouches for the joins of terminated boards only where nothing was found: 0 of 5 are proven here."""
    rows = [*without(sound("vga-de15"), pair), f"{pair.replace('-', ',')},{reading}"]
    result = judged(tmp_path, "vga-de15", rows)
    assert result.parts == said and result.ledger.joins.proven == 0


def test_silence_that_waits_for_the_leads_counts_for_nothing_and_is_no_open(tmp_path):
    """A broken lead is silent as well: no rework on a sound board, nothing proven, no touch but that of the leads."""
    rows = [*without(sound("sata-7"), "S2-@A+"), "S2,@A+,quiet"]
    waiting = judged(tmp_path, "sata-7", rows, leads=False)
    assert waiting.parts == ("unproven", "unproven") and not waiting.opens and not waiting.unproven
    assert (waiting.ledger.contacts.proven, waiting.ledger.contacts.needed) == (3, 4)
    assert judged(tmp_path, "sata-7", rows).parts == ("clear", "rework")
    # the last six of a sound board wait
    waiting = judged(tmp_path, "sata-7", [LEADS, *silent_first("sata-7")[::-1]], leads=False)
    assert waiting.ledger.isolation.proven < waiting.ledger.isolation.needed


def test_ohms_of_a_part_whose_range_starts_at_nothing_prove_nothing(tmp_path):
    result = judged(tmp_path, "trs-3.5", ["R,S,beep", "R,RN,0.05 ohm"])
    assert ("S", "RN") in result.unproven
    assert ("R", "RN") in [wanted.pair for wanted in result.measure]


@pytest.mark.parametrize(
    ("map_id", "row"),
    [
        ("de9-can", "2,7,121 ohm"),
        ("de9-can", "2,7,58 ohm"),
        ("dvi-i", "C1,@AGND,37 ohm"),
        ("vga-de15", "1,@GND,83 ohm"),
        ("rj45-1000", "1,3,165 ohm"),
    ],
)
def test_a_part_within_its_tolerance_is_no_leak(tmp_path, map_id, row):
    assert judged(tmp_path, map_id, [row]).leaks == ()


@pytest.mark.parametrize("ohms", [54, 58, 121, 132])
def test_a_part_within_its_tolerance_is_cleared(tmp_path, ohms):
    """What is taken for the part is taken for it by the search for bad boards too: the map says 60 to 120 ohm."""
    rows = [*without(sound("de9-can"), "2-7"), f"2,7,{ohms} ohm"]
    assert judged(tmp_path, "de9-can", rows).verdict == "clear"


def test_two_terminations_side_by_side_are_the_short_of_their_lines(tmp_path):
    """Each line reads 37.5 ohm to ground because RED and GREEN are joined; no flux is to be cleaned."""
    rows = [*without(sound("vga-de15"), "1-2"), "1,2,beep", "1,2,0.3 ohm", "1,@GND,37.5 ohm", "2,@GND,37.5 ohm"]
    result = judged(tmp_path, "vga-de15", rows)
    assert [short.nets for short in result.shorts] == [("GREEN", "RED")]
    assert result.leaks == () and result.verdict == "rework"


# Leads


def silent_first(map_id: str) -> list[str]:
    return sorted(sound(map_id), key=lambda row: row.endswith("beep"))


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ([], []),
        ([LEADS, ",,leads bad"], [LEADS]),
        ([LEADS, ",,leads silent"], [LEADS]),
    ],
)
def test_silence_needs_the_leads_proven_before_it(tmp_path, before, after):
    result = judged(tmp_path, "vga-de15", [*before, *silent_first("vga-de15"), *after], leads=False)
    assert result.verdict == "unproven"
    said = "before the leads were proven" if after else ",,leads good"
    assert any(said in line for line in result.assumptions) and bool(result.unproven) is bool(after)


def test_silence_needs_the_leads_proven_after_it(tmp_path):
    rows = silent_first("vga-de15")[::-1]
    assert judged(tmp_path, "vga-de15", [LEADS, *rows], leads=False).verdict == "unproven"
    assert judged(tmp_path, "vga-de15", [LEADS, *rows, LEADS], leads=False).verdict == "clear"


def test_a_tone_of_leads_that_touch_proves_no_leads(tmp_path):
    rows = [LEADS, ",,leads bad", *sound("vga-de15"), LEADS]
    assert judged(tmp_path, "vga-de15", rows, leads=False).verdict == "unproven"


def test_each_fault_of_the_leads_voids_what_it_could_have_made(tmp_path):
    rows = [LEADS, "1,2,quiet", "2,3,4.7k", "5,6,beep", "7,8,0.2 ohm"]

    def left(fault: str) -> set[int]:
        return {entry.line for entry in standing(tmp_path, "vga-de15", [*rows, fault]).entries}

    assert left(LEADS) == {4, 5, 6, 7}
    # a beep proves that the leads were whole until then
    assert left(",,leads silent") == {4, 5, 6, 7}
    assert left(",,leads sound") == {4, 5}
    assert left(",,leads bad") == {4, 5}
    late = standing(tmp_path, "vga-de15", [LEADS, "5,6,beep", "1,2,quiet", "2,3,4.7k", ",,leads silent"])
    assert {entry.line for entry in late.entries} == {4}


def test_the_leads_ohms_hold_from_their_check_on(tmp_path):
    rows = [",,leads good 0.1", "2,3,5.4 ohm", ",,leads good 0.5"]
    assert judged(tmp_path, "usb-a-3", rows, leads=False).shorts == ()
    late = [",,leads good 0.5", "2,3,5.4 ohm", ",,leads good 0.5"]
    assert [short.nets for short in judged(tmp_path, "usb-a-3", late, leads=False).shorts] == [("D+", "D-")]


# Rework


@pytest.mark.parametrize(("map_id", "row"), [("usb-a-3", "SH,,reworked"), ("vga-de15", "+5V,,reworked")])
def test_a_board_point_or_net_stands_for_its_joints_at_the_iron(tmp_path, map_id, row):
    result = judged(tmp_path, map_id, [*sound(map_id), row])
    assert result.record.stale > 0 and result.verdict == "unproven"


def test_the_form_on_paper_asks_for_a_floating_shell_as_information_only():
    form = CliRunner().invoke(main, ["plan", "--map", "usb-c-16"], catch_exceptions=False).output
    assert "hold SH, touch, note whether it beeps (either is right here):" in form
    assert "hold SH, touch, each must beep" not in form


def test_a_resistive_join_is_its_own_finding_in_every_list(tmp_path):
    """The iron's, not the solvent's: no list calls it a leak."""
    rows = [*without(sound("usb-a-2"), "4-@GND"), "4,@GND,30 ohm"]
    result = judged(tmp_path, "usb-a-2", rows)
    assert [leak.kind for leak in result.leaks] == ["resistive joint"] and result.verdict == "rework"
    assert [(step.joints, step.harm) for step in result.rework] == [(("4",), "resistive joint")]
    table = CliRunner().invoke(main, ["check", str(tmp_path / "job.csv"), "--format", "csv"], catch_exceptions=False)
    assert "\nresistive joint,," in table.output and "leak" not in table.output


def test_solder_seen_after_the_iron_keeps_its_remark(tmp_path):
    found = standing(tmp_path, "vga-de15", ["4,5,reworked", "4,5,solder seen", "4,5,beep"])
    assert len(found.remarks.solder_seen) == 1


@pytest.mark.parametrize(
    ("map_id", "rows"),
    [
        ("vga-de15", ["@GND,5,quiet", "@GND,10,30 ohm", "1,@GND,30 ohm", "SH,@GND,30 ohm"]),
        ("usb-c-16", ["@VBUS,A4B9,71 ohm", "@GND,@VBUS,30 ohm", "A6,@D+,quiet"]),
    ],
)
def test_steps_never_send_the_iron_to_a_board_point(tmp_path, map_id, rows):
    steps = judged(tmp_path, map_id, rows).rework
    assert steps
    assert not [step for step in steps if any("@" in joint for joint in step.joints)]
    assert not [step.do for step in steps if "reflow" in step.do and "@" in step.do]


# A weaker reading drops no stronger one


def test_a_quiet_does_not_drop_a_leak_at_a_supply(tmp_path):
    result = judged(tmp_path, "usb-a-3", [*sound("usb-a-3"), "1,4,71 ohm", "1,4,quiet"])
    assert result.verdict == "unproven" and [leak.pair for leak in result.leaks] == [("1", "4")]


def test_a_resistive_join_of_a_supply_is_for_rework_although_it_sounds(tmp_path):
    result = judged(tmp_path, "usb-c-16", [*sound("usb-c-16"), "A4B9,@VBUS,beep", "A4B9,@VBUS,71 ohm"])
    assert result.parts.contact == "rework"
    (step,) = result.rework
    assert step.joints == ("A4B9",) and "reflow" in step.do


def test_a_shell_at_some_ohms_to_ground_is_no_leak(tmp_path):
    """The shell may float: what it reads to ground is information, and no step cleans it."""
    result = judged(tmp_path, "vga-de15", [*sound("vga-de15"), "SH,@GND,30 ohm"])
    assert result.verdict == "clear" and result.leaks == () and result.rework == ()


# A reference excuses no damage


def test_a_reference_excuses_no_supply_on_a_signal_and_no_job_is_its_own(tmp_path):
    rows = [LEADS, *without(sound("usb-c-16"), "B4A9-B5"), "B4A9,B5,beep", "B4A9,B5,0.2 ohm", LEADS]
    own = write(tmp_path, "usb-c-16", rows, "own.csv")
    other = str(tmp_path / "other.csv")
    Path(other).write_text("# board: another\n" + Path(own).read_text())
    with pytest.raises(InputError, match="the job's own readings"):
        load_job(own, like=own)
    result = check(load_job(own, like=other))
    assert result.verdict == "rework"
    assert [(short.nets, short.harm) for short in result.shorts] == [(("CC2", "VBUS"), "damage")]
    assert any("which does not excuse it (damage)" in line for line in result.assumptions)


@pytest.mark.parametrize("word", ["quiet", "OL", "4.7k"])
def test_what_sounds_on_the_reference_and_reads_high_here_is_open(tmp_path, word):
    good = write(tmp_path, "usb-a-3", [LEADS, "2,@D-,beep", "5,6,beep", LEADS], "good.csv")
    result = judged(tmp_path, "usb-a-3", [f"5,6,{word}"], like=good)
    assert [found.joint for found in result.opens] == ["5"]


@pytest.mark.parametrize(
    ("here", "there", "lower"), [("75", "37.5", [False]), ("37.5", "75", [True]), ("75", "71", [])]
)
def test_ohms_are_compared_with_the_reference(tmp_path, here, there, lower):
    """37.5 ohm is what RED and GREEN read once joined, 75 each alone."""
    good = write(tmp_path, "vga-de15", [LEADS, f"1,@GND,{there} ohm", LEADS], "good.csv")
    result = judged(tmp_path, "vga-de15", [f"1,@GND,{here} ohm"], like=good)
    assert [found.lower for found in result.differences] == lower
    assert all(
        found.points == ("1", "@GND") and "differs from the good board" in found.why for found in result.differences
    )
    assert any(line.startswith(f"good board {good}, ") and "by its file" in line for line in result.assumptions)


# Diode mode


def test_a_junction_short_decides_the_verdict_everywhere(tmp_path):
    rows = [LEADS, *sound("usb-a-3"), "5,GND,0.01 V", LEADS]
    job = write(tmp_path, "usb-a-3", rows)
    result = check(load_job(job))
    # the sound rows say that 5 is silent to 4, which is ground
    assert [(found.quiet, found.kind) for found in result.conflicts] == [(("4", "5"), "quiet")]
    assert (result.verdict, result.parts.shorts) == ("rework", "rework")
    assert [found.kind for found in result.diode] == ["short"]
    text = CliRunner().invoke(main, ["check", job], catch_exceptions=False)
    assert text.exit_code == 3 and "DEAD SIGNAL: GND + SSRX-" in text.output
    assert "nothing harmful found" not in text.output and "SHORT to ground" in text.output
    table = CliRunner().invoke(main, ["check", job, "--format", "csv"], catch_exceptions=False)
    assert "short,dead-signal,GND SSRX-" in table.output
    history = CliRunner().invoke(main, ["history", str(tmp_path)], catch_exceptions=False)
    assert re.search(r"usb-a-3\s+through-rows\s+1\s+1\s+0\s", history.output)


# Not called open


def test_a_ground_that_the_board_may_leave_alone_is_not_open(tmp_path):
    rows = [*without(sound("de9-can"), "6-@CAN_GND", "3-6"), "6,@CAN_GND,quiet", "6,3,quiet"]
    result = judged(tmp_path, "de9-can", rows)
    assert result.opens == () and result.verdict == "clear"


def test_of_two_silent_net_mates_none_is_named_open(tmp_path):
    result = judged(tmp_path, "sata-7", ["S1,S4,beep", "S7,S1,quiet"])
    assert result.opens == ()
    assert ("S7", "@GND") in result.unproven


# Entries


def test_taking_back_what_does_not_stand_says_so(tmp_path):
    result = judged(tmp_path, "vga-de15", [*sound("vga-de15"), "1,4,taken back beep"])
    assert any("takes back what does not stand" in line for line in result.assumptions)
    done = CliRunner().invoke(main, ["check", str(tmp_path / "job.csv")], catch_exceptions=False)
    assert "takes back what does not stand" in " ".join(done.output.split())


@pytest.mark.parametrize("cell", ['"4,700"', '"4,700 ohm"', '"12,500R"'])
def test_a_comma_that_may_part_thousands_is_refused(tmp_path, cell):
    with pytest.raises(InputError, match="thousands or decimals"):
        judged(tmp_path, "vga-de15", [f"1,2,{cell}"])


@pytest.mark.parametrize("cell", ['"4,7"', '"0,512"', '"4,7001"', "4.700", "4700"])
def test_other_commas_and_points_are_read(tmp_path, cell):
    assert judged(tmp_path, "vga-de15", [f"1,2,{cell}"]).record.standing == 1


@pytest.mark.parametrize(
    "text", ["10:250", "10 250", "10-250", "10;250", "10/250", "30 - 70", "30:70 ohm", "10 ... 250", "x"]
)
def test_the_header_and_the_option_read_the_same_meters(tmp_path, text):
    def read(header: str, option: str) -> object:
        job = tmp_path / "meter.csv"
        job.write_text(f"# map: vga-de15\n{header}1,2,quiet\n", encoding="utf-8")
        try:
            return load_job(str(job), meter=option).meter
        except InputError as error:
            return error.problems[0].what

    assert read(f"# meter: {text}\n", "") == read("", text)


# Residual risk


@pytest.mark.parametrize(
    ("row", "told"),
    [("9,3,quiet", True), ("9,2,beep", False), ("5,@GND,quiet", False)],
    ids=["unproven", "short", "open"],
)
def test_residual_risk_stands_only_beside_a_verdict_without_findings(tmp_path, row, told):
    job = write(tmp_path, "usb-a-3" if row == "9,2,beep" else "vga-de15", [LEADS, row, LEADS])
    done = CliRunner().invoke(main, ["report", job], catch_exceptions=False)
    assert ("that a solder bridge is still there" in done.output) is told
