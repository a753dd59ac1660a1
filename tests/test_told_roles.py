"""Roles that a job or an option tells: `# role: 1=power 5, 2=ground`."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from connector_check.board.harm import DAMAGE, SUPPLY_SHORT, grade
from connector_check.board.making import make_board
from connector_check.cli.commands import main
from connector_check.errors import InputError
from connector_check.job import check, load_job
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import Net, PinMap
from connector_check.pinout.pinmap_file import parse_pin_map
from connector_check.pinout.told_roles import Place, read_told, with_roles

ONE_OFF = b"""
format: 1
id: drill
title: seed drill, one of its kind
source: [{document: the drill's own label, known: read}]
nets:
  VBUS_IN: {role: power, volts: 5, contacts: [1, 2], guessed: named VBUS}
  EARTH: {role: ground, contacts: [3], guessed: named as earth}
  TX: {role: data, contacts: [4]}
  AUX: {role: data, contacts: [5], guessed: no rule fits the name}
layouts: [{id: row, source: measured, pads: [{row: [1..5], start: [0, 0], step: [2.5, 0], size: [1, 1]}]}]
"""
ROWS = "pin_a,pin_b,reading,note\n"


def told(text: str, map_id: str = "header-2x5") -> PinMap:
    return with_roles(find_pin_map(map_id), read_told([(Place("j.csv", 2), text)]))


def drill(text: str) -> PinMap:
    return with_roles(parse_pin_map(ONE_OFF, "drill.yaml"), read_told([(Place("j.csv", 2), text)]))


def nets(pin_map: PinMap) -> dict[str, tuple[str, float | None, tuple[str, ...], bool]]:
    return {n.name: (n.role, n.volts, n.contacts, n.must_join) for n in pin_map.nets if n.role != "data"}


def job(tmp_path: Path, header: str, rows: str = "1,2,quiet,\n", name: str = "j.csv") -> str:
    path = tmp_path / name
    path.write_text(header + ROWS + rows, encoding="utf-8")
    return str(path)


# What the words mean


@pytest.mark.parametrize("volts", ["5", "5 V", "5V", "5.0", "+5", "5 VDC", "5V0"])
def test_volts_as_people_write_them(volts):
    assert nets(told(f"1=power {volts}")) == {"P1": ("power", 5.0, ("1",), False)}


def test_all_grounds_without_a_name_are_one_net_that_the_board_joins():
    assert nets(told("1=ground, 2=gnd, 7..9/2=ground")) == {"GND": ("ground", None, ("1", "2", "7", "9"), True)}


def test_supplies_are_one_net_only_under_one_name():
    apart = nets(told("1=power 5, 2=power 5"))
    assert apart == {"P1": ("power", 5.0, ("1",), False), "P2": ("power", 5.0, ("2",), False)}
    assert nets(told("1=power 5 VCC, 2=supply 5V VCC")) == {"VCC": ("power", 5.0, ("1", "2"), True)}
    assert nets(told("1..2=power 5")) == apart
    assert nets(told("1..2=power 5 VCC")) == nets(told("1=power VCC, 2=power 5 VCC"))


def test_grounds_of_their_own_name_stay_apart_and_signals_of_one_name_are_one_net():
    found = told("1=ground AGND, 2=ground, 3=shield, 4=signal SDA, 5=data SDA")
    assert nets(found) == {
        "AGND": ("ground", None, ("1",), False),
        "GND": ("ground", None, ("2",), False),
        "P3": ("shell", None, ("3",), False),
    }
    assert found.net_named["SDA"].contacts == ("4", "5") and not found.net_named["SDA"].must_join
    assert found.names["4"] == "SDA" and found.names["6"] == "P6"


def test_a_supply_of_unknown_volts_is_damage_to_all_but_its_own_kind_of_net():
    found = told("1=power, 2=power 5, 3=ground")
    supply, other = found.net_named["P1"], found.net_named["P2"]
    assert grade(supply, other).harm == DAMAGE and "unknown volts" in grade(supply, other).why
    assert grade(supply, found.net_named["GND"]).harm == SUPPLY_SHORT
    tolerant = Net("D", "data", ("9",), withstands=5.0)
    assert grade(supply, tolerant).harm == DAMAGE and grade(other, tolerant).harm != DAMAGE


def test_a_guess_is_confirmed_by_what_is_told_and_a_net_keeps_its_name():
    found = drill("1=power, 3=ground")
    assert nets(found) == {"VBUS_IN": ("power", 5.0, ("1", "2"), True), "EARTH": ("ground", None, ("3",), False)}
    assert {net.name for net in found.nets if net.guessed} == {"AUX"}
    assert drill("1..2=power 12").net_named["VBUS_IN"].volts == 12.0
    assert drill("5=ground EARTH").net_named["EARTH"].contacts == ("3", "5")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1", "'1' names no role: expected CONTACT=ROLE"),
        ("=power", "names no role"),
        ("1=", "names no role"),
        ("1=power 3,3", "'3' names no role: expected CONTACT=ROLE [VOLTS] [NAME]"),
        ("1=aerial", "unknown role 'aerial' of 1: expected one of ground, power"),
        ("1=ground 5", "'1=ground 5': ground with volts: only a supply (power) has volts"),
        ("1=power 5 VCC now", "'1=power 5 VCC now': expected CONTACT=ROLE"),
        ("1=power 5 @VCC", "expected CONTACT=ROLE"),
        ("1=power 99999", "'99999' of 1 is no voltage: expected a number, say 3.3 or -12"),
        ("1=power 5.5.5", "is no voltage"),
        ("11=ground", "no contact '11' in header-2x5: it has 1..10"),
        ("1..11=ground", "no contact '11'"),
        ("1=power 5, 1=ground", "contact 1 is told two roles: give it one"),
        ("1=power 5 VCC, 2=power 12 VCC", "net VCC (contacts 1, 2) is told to be power 12 V and power 5 V"),
        ("1=power 5 VCC, 2=ground VCC", "net VCC (contacts 1, 2) is told to be ground and power"),
        ("1=ground P2", "net P2 (contacts 1, 2) is told to be data and ground"),
        ("1=data 2", "data with volts"),
    ],
)
def test_what_cannot_be_is_told_with_its_line_and_a_remedy(text, words):
    with pytest.raises(InputError) as caught:
        told(text)
    assert words in str(caught.value)
    assert all((p.file, p.line) == ("j.csv", 2) and p.remedy for p in caught.value.problems)


@pytest.mark.parametrize("text", ["1=power 5", "5=power 5", "9=power 12", "9=ground", "9=power 5 VCC"])
def test_a_published_role_is_not_talked_away(text):
    with pytest.raises(InputError, match=r"in the pin map vga-de15: a job names what a map does not know"):
        told(text, "vga-de15")


def test_a_published_role_may_be_said_again():
    assert told("5..8=gnd, 9=supply 5", "vga-de15").nets == find_pin_map("vga-de15").nets


def test_a_told_map_says_no_more_than_it_was_told():
    with pytest.raises(InputError, match="contact 4 is TX"):
        drill("4=ground")


def test_a_contact_lends_its_name_to_no_net():
    raw = ONE_OFF.replace(b"[5]", b"[A5]").replace(b"[1..5]", b"[1..4, A5]")
    with pytest.raises(InputError, match="'A5' is a contact, no name of a net: give another name"):
        with_roles(parse_pin_map(raw, "drill.yaml"), read_told([(Place("j.csv", 2), "1=power 5 A5")]))


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_with_a_remedy(text):
    try:
        told(text)
        problems = []
    except InputError as error:
        problems = error.problems
    assert all(problem.what and problem.remedy for problem in problems)


# In a job and on the command line


@pytest.mark.parametrize(
    "header",
    [
        "# map: header-1x4\n# role: 1=power 5, 2=ground\n",
        "# map: header-1x4\n# role: 1=power 5\n# role: 2=ground\n",
        "# map: header-1x4,,,\n# role: 1=power 5, 2=ground,,\n",
        '# map: header-1x4\n"# role: 1=power 5, 2=ground",,,\n',
        '# map: header-1x4\n"# role: 1=power 5"," 2=ground",,\n',
        "# Map: header-1x4\n# ROLE: 1=Power 5 V; 2=GND\n",
    ],
)
def test_a_job_tells_roles_as_any_spreadsheet_leaves_them(tmp_path, header):
    found = load_job(job(tmp_path, header, "1,2,beep,\n"))
    assert nets(found.board.pin_map) == {"P1": ("power", 5.0, ("1",), False), "GND": ("ground", None, ("2",), False)}
    result = check(found)
    assert [short.harm for short in result.shorts] == [SUPPLY_SHORT]
    assert "roles as told, not published: 1 power 5 V (P1), 2 ground (GND)" in result.assumptions


def test_a_wrong_role_in_a_job_is_told_with_its_own_line(tmp_path):
    path = job(tmp_path, "# map: header-1x4\n# role: 1=power 5\n# role: 9=ground\n")
    with pytest.raises(InputError, match=r"j\.csv:3: no contact '9' in header-1x4: it has 1\.\.4"):
        load_job(path)


def test_a_role_below_the_readings_is_no_silent_remark(tmp_path):
    path = job(tmp_path, "# map: header-1x4\n", "1,2,quiet,\n# role: 1=power 5\n")
    with pytest.raises(InputError, match=r"j\.csv:4: a role below the heading or a reading: move this line up"):
        load_job(path)


def test_an_option_goes_before_what_the_job_says_of_that_contact(tmp_path):
    path = job(tmp_path, "# map: header-1x4\n# role: 1=power 5, 2=ground\n")
    found = load_job(path, roles=["1=power 12", "3=ground"]).board.pin_map
    assert nets(found) == {"P1": ("power", 12.0, ("1",), False), "GND": ("ground", None, ("2", "3"), True)}
    with pytest.raises(InputError, match=r"--role: unknown role 'earth' of 1"):
        load_job(path, roles=["1=earth"])


def test_the_board_of_a_generic_header_asks_for_the_joins_of_its_grounds():
    roles = read_told([(Place("--role", 0), "1..2=ground, 3=power 3.3")])
    board = make_board(find_pin_map("header-1x4"), "", roles=roles)
    assert [net.name for net in board.nets if net.must_join] == ["GND"]
    assert board.must_be_apart(board.nets[0], board.nets[1])


def run(*args: str, stdin: str = ""):
    return CliRunner().invoke(main, list(args), input=stdin)


def test_check_plan_and_probe_take_the_option(tmp_path):
    path = job(tmp_path, "# map: header-1x4\n", "1,2,beep,\n")
    done = run("check", path, "--role", "1=power 5", "--role", "2=ground")
    assert done.exit_code == 3 and "SUPPLY SHORT: GND + P1" in done.output
    done = run("plan", "--map", "header-1x4", "--role", "1..2=ground")
    assert "@GND" in done.output and done.exit_code == 0
    new = tmp_path / "new.csv"
    done = run("probe", str(new), "--map", "header-1x4", "--role", "1=power 5", "--role", "2=gnd", stdin="quit\n")
    assert "# role: 1=power 5, 2=gnd\n" in new.read_text(encoding="utf-8"), done.output


# Guesses


def test_guesses_are_warned_of_until_their_mark_is_gone(tmp_path):
    (tmp_path / "drill.yaml").write_bytes(ONE_OFF)
    path = job(tmp_path, "# map: drill.yaml\n")
    words = "roles guessed: 3 (VBUS_IN power 5 V, EARTH ground, AUX data): confirm them in the map"
    lint = run("lint", str(tmp_path / "drill.yaml"))
    assert lint.exit_code == 0 and words in lint.output
    for args in (["check", path], ["check", path, "--format", "json"], ["check", path, "--format", "csv"]):
        assert words in run(*args).output
    assert words in run("report", path).output
    assert words in run("show", str(tmp_path / "drill.yaml")).output
    told = run("check", path, "--role", "1=power, 3=ground, 5=signal").output
    assert "roles guessed" not in told
    bare = ONE_OFF.replace(b", guessed: named VBUS", b"").replace(b", guessed: named as earth", b"")
    (tmp_path / "drill.yaml").write_bytes(bare.replace(b", guessed: no rule fits the name", b""))
    assert "roles guessed" not in run("check", path).output + run("lint", str(tmp_path / "drill.yaml")).output
