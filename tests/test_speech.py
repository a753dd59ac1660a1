"""Speech through a program that may be missing: what it is given, that nothing waits, and names read aloud."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import pytest

from connector_check.board.board import Board
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.probing.speech import PROGRAMS, SPOKEN_CHARACTERS, Speaker, point_words, spell
from tests.strategies import tiny_board

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="the stand-in program is a shell script")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that is the whole PATH; programs put there write what they were told into files beside it."""
    monkeypatch.setenv("PATH", str(tmp_path))
    return tmp_path


def install(folder: Path, name: str, does: str = "") -> None:
    shell = "/bin/sh"
    program = folder / name
    program.write_text(f'#!{shell}\nprintf \'%s\\n\' "$0" "$#" "$@" >> \'{folder}/heard\'\n{does}\n', encoding="utf-8")
    program.chmod(0o755)


def heard(folder: Path, lines: int) -> list[str]:
    """What the program was told, once it is that many lines."""
    until = time.monotonic() + 5
    while time.monotonic() < until:
        text = (folder / "heard").read_text(encoding="utf-8") if (folder / "heard").exists() else ""
        if text.count("\n") >= lines:
            return text.splitlines()
        time.sleep(0.01)
    raise AssertionError(f"the program was told only {text!r}")


def alive(pid: int) -> bool:
    """Whether a process runs; one that has ended and waits to be asked for its status does not."""
    try:
        os.kill(pid, 0)
        return (
            Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
            if Path("/proc").exists()
            else True
        )
    except OSError:
        return False


def gone(pid: int) -> bool:
    until = time.monotonic() + 5
    while time.monotonic() < until and alive(pid):
        time.sleep(0.01)
    return not alive(pid)


def test_no_program_no_speaker(folder):
    assert Speaker.find() is None


@pytest.mark.parametrize("name", PROGRAMS)
def test_each_program_gets_the_text_as_one_argument(folder, name):
    install(folder, name)
    speaker = Speaker.find()
    assert speaker is not None and speaker.program == str(folder / name)
    assert speaker.say("pin 4; $(touch x) 'and' \"board ground\" `ls` *")
    assert heard(folder, 3) == [str(folder / name), "1", "pin 4; $(touch x) 'and' \"board ground\" `ls` *"]
    speaker.close()
    assert sorted(p.name for p in folder.iterdir()) == sorted(["heard", name])


def test_the_programs_are_tried_in_order(folder):
    for name in reversed(PROGRAMS):
        install(folder, name)
        found = Speaker.find()
        assert found is not None and found.program == str(folder / name)


def test_text_is_one_short_line_and_no_option(folder):
    install(folder, "espeak")
    speaker = Speaker.find()
    assert speaker is not None
    speaker.say("-f /etc/hostname")
    assert heard(folder, 3)[2] == " -f /etc/hostname"
    speaker.say("a\nb\x1b[2J\0c " + "x" * 10_000)
    said = heard(folder, 6)[5]
    assert said.startswith("a b [2J c xxx") and len(said) == SPOKEN_CHARACTERS
    assert not speaker.say(" \n\t")
    speaker.close()


def test_new_text_ends_the_old_and_nothing_waits(folder):
    install(folder, "say", f"echo $$ >> '{folder}/pids'; exec /bin/sleep 30")
    speaker = Speaker.find()
    assert speaker is not None
    pids = []
    for number in range(3):
        began = time.monotonic()
        assert speaker.say(f"pin {number}")
        assert time.monotonic() - began < 0.5
        heard(folder, 3 * (number + 1))
        until = time.monotonic() + 5
        while len(pids) <= number and time.monotonic() < until:
            pids = [int(pid) for pid in (folder / "pids").read_text().split()] if (folder / "pids").exists() else []
        assert alive(pids[number])
        assert all(gone(old) for old in pids[:number])
    speaker.stop()
    assert gone(pids[-1])
    speaker.close()


def test_a_program_that_will_not_end_is_killed(folder):
    install(folder, "espeak-ng", f"trap '' TERM; echo $$ >> '{folder}/pids'; while :; do /bin/sleep 0.05; done")
    speaker = Speaker.find()
    assert speaker is not None and speaker.say("pin 1")
    heard(folder, 3)
    until = time.monotonic() + 5
    while not (folder / "pids").exists() and time.monotonic() < until:
        time.sleep(0.01)
    time.sleep(0.05)
    pid = int((folder / "pids").read_text())
    began = time.monotonic()
    speaker.say("pin 2")
    assert time.monotonic() - began < 0.5 and alive(pid)
    speaker.say("pin 3")
    assert gone(pid)
    speaker.close()
    assert all(gone(int(pid)) for pid in (folder / "pids").read_text().split())


@pytest.mark.parametrize("fault", ["removed", "not a program", "exits with an error"])
def test_a_failing_program_is_only_silent(folder, fault):
    install(folder, "espeak-ng", "exit 3")
    speaker = Speaker.find()
    assert speaker is not None
    if fault == "removed":
        (folder / "espeak-ng").unlink()
    elif fault == "not a program":
        (folder / "espeak-ng").write_bytes(b"\x7fELF rubbish")
    assert speaker.say("pin 1") == (fault == "exits with an error")
    speaker.say("pin 2")
    speaker.stop()
    speaker.close()
    speaker.close()


def test_windows_voice_takes_the_text_from_a_variable(folder):
    """The words never become part of a PowerShell command."""
    install(folder, "powershell", f"printf '%s\\n' \"$CONNECTOR_CHECK_SPOKEN\" > '{folder}/spoken'")
    speaker = Speaker([str(folder / "powershell"), "-Command", "fixed"], by_variable=True)
    assert speaker.say("'); Remove-Item x; ('")
    assert heard(folder, 4)[1:] == ["2", "-Command", "fixed"]
    until = time.monotonic() + 5
    while not ((folder / "spoken").exists() and (folder / "spoken").read_text()) and time.monotonic() < until:
        time.sleep(0.01)
    assert (folder / "spoken").read_text() == "'); Remove-Item x; ('\n"
    speaker.close()


@pytest.mark.needs("speech")
def test_the_real_program_starts_and_ends():
    speaker = Speaker.find()
    assert speaker is not None and speaker.say("pin A 1 B 12, and board ground")
    speaker.close()
    assert speaker._ending == [] and speaker._speaking is None


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("A1B12", "A 1 B 12"),
        ("@GND", "board ground"),
        ("D+", "D plus"),
        ("D1-", "D 1 minus"),
        ("7", "7"),
        ("+12V", "plus 12 V"),
        ("VBUS", "V bus"),
        ("@VBUS", "board V bus"),
        ("SH", "shell"),
        ("SH3", "shell 3"),
        ("3.3Vaux", "3 point 3 V aux"),
        ("DET_A", "D E T A"),
        ("PERST#", "P E R S T hash"),
        ("I/O", "I slash O"),
        ("nSTROBE", "n strobe"),
        ("CARD_DETECT", "card detect"),
        ("@-12V", "board minus 12 V"),
        ("", ""),
    ],
)
def test_names_are_read_sensibly(name, said):
    assert spell(name) == said


def test_points_are_told_apart_by_ear():
    board = tiny_board()
    told = {"1": "pin 1", "SH1": "shell 1", "SH": "shell", "@GND": "board ground", "@D+": "board D plus"}
    assert {name: point_words(board, board.number[name]) for name in told} == told


@pytest.mark.parametrize("name", list_ids())
def test_no_two_points_of_a_shipped_layout_sound_the_same(name):
    pin_map = find_pin_map(name)
    for layout in pin_map.layouts:
        board = Board(pin_map, layout)
        said = [point_words(board, point) for point in range(len(board.points))]
        assert len({words.casefold() for words in said}) == len(said)
        assert all(words.isprintable() and "  " not in words for words in said)
