"""Speech through a program that may be missing: what it is given, that nothing waits, and names read aloud."""

from __future__ import annotations

import os
import subprocess
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
    until = time.monotonic() + 20
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


def written_pids(folder: Path, count: int) -> list[int]:
    """The process ids that the program wrote, once it is that many."""
    until = time.monotonic() + 20
    pids: list[int] = []
    while len(pids) < count and time.monotonic() < until:
        pids = [int(pid) for pid in (folder / "pids").read_text().split()] if (folder / "pids").exists() else []
        time.sleep(0.01)
    assert len(pids) == count
    return pids


def test_a_program_that_will_not_end_is_killed_at_once_with_what_it_started(folder):
    """The old voice spoke on until the word after the next one."""
    install(
        folder,
        "espeak-ng",
        f"trap '' TERM; /bin/sleep 30 & echo $! >> '{folder}/pids'; echo $$ >> '{folder}/pids'; wait; wait",
    )
    speaker = Speaker.find()
    assert speaker is not None and speaker.say("pin 1")
    first = written_pids(folder, 2)
    assert all(map(alive, first))
    began = time.monotonic()
    speaker.say("pin 2")
    assert time.monotonic() - began < 0.5
    assert all(map(gone, first))
    second = written_pids(folder, 4)[2:]
    speaker.stop()
    assert all(map(gone, second))
    speaker.close()
    assert [line for line in heard(folder, 6) if line.startswith("pin")] == ["pin 1", "pin 2"]


def test_a_session_speaks_and_each_word_and_the_end_kill_the_voice_before(folder, monkeypatch):
    install(folder, "espeak-ng", f"echo $$ >> '{folder}/pids'; exec /bin/sleep 60")
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(p for p in sys.path if p))
    command = [sys.executable, "-m", "connector_check", "probe", "job.csv", "--map", "usb-c-16", "--speak"]
    with subprocess.Popen(command, cwd=folder, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True) as process:
        assert process.stdin is not None
        words = ["read the cautions", "lead check", "leads good. hold board V bus; touch pin A, 4, B, 9"]
        for number, told in enumerate(words, 1):
            assert heard(folder, 3 * number)[-1] == told
            speaking = written_pids(folder, number)
            assert alive(speaking[-1]) and all(map(gone, speaking[:-1]))
            process.stdin.write("beep\n")
            process.stdin.flush()
        assert heard(folder, 12)[-1].startswith("beep. pin ")
        speaking = written_pids(folder, 4)
        process.stdin.close()
        assert process.wait(20) == 4
    assert all(map(gone, speaking))


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
    assert speaker is not None and speaker.say("pin A, 1, B, 12; and board ground")
    speaker.close()
    assert speaker._ending == [] and speaker._speaking is None


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("A5", "A, 5"),
        ("A1B12", "A, 1, B, 12"),
        ("@GND", "board ground"),
        ("D+", "D plus"),
        ("D1-", "D, 1 minus"),
        ("A+", "A, plus"),
        ("7", "7"),
        ("+12V", "plus 12, V"),
        ("VBUS", "V bus"),
        ("@VBUS", "board V bus"),
        ("CC2", "C, C, 2"),
        ("SH", "shell"),
        ("SH3", "shell 3"),
        ("3.3Vaux", "3 point 3, V aux"),
        ("DET_A", "D, E, T, A"),
        ("PERST#", "P, E, R, S, T hash"),
        ("I/O", "I slash O"),
        ("nSTROBE", "n strobe"),
        ("CARD_DETECT", "card detect"),
        ("@-12V", "board minus 12, V"),
        ("", ""),
    ],
)
def test_names_are_read_sensibly(name, said):
    assert spell(name) == said


@pytest.mark.needs("speech")
@pytest.mark.parametrize("name", ["A5", "A1B12", "A+", "DET_A1", "USB_A"])
def test_a_real_voice_reads_letters_and_no_article(name):
    """In espeak-ng's phonemes (`-x`) the letter A is `eI` and the article `a#`, as in `a five`."""

    def phonemes(text: str) -> str:
        done = subprocess.run(["espeak-ng", "-q", "-v", "en", "-x", text], capture_output=True, text=True, check=True)
        return done.stdout

    assert "a#" in phonemes("pin A 5")
    said = phonemes(f"hold pin {spell(name)}; touch pin {spell('A5')}")
    assert "a#" not in said and "eI" in said


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
