"""The live session in a real pseudo-terminal: keys, screen sizes, Ctrl-C, a terminal that closes, plain lines."""

from __future__ import annotations

import os
import select
import signal
import struct
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.strategies import TINY_YAML

termios = pytest.importorskip("termios", reason="a terminal of POSIX")
import fcntl  # noqa: E402
import pty  # noqa: E402


class Terminal:
    """The command in a pseudo-terminal of a given size."""

    def __init__(
        self, folder: Path, *args: str, columns: int = 80, rows: int = 24, map_name: str = "tiny.yaml"
    ) -> None:
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        (folder / "tiny.yaml").write_text(TINY_YAML)
        env = {**os.environ, "TERM": "xterm", "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
        env.pop("COLUMNS", None)
        env.pop("LINES", None)
        command = [sys.executable, "-m", "connector_check", "probe", "job.csv", "--map", map_name, *args]

        def controlling() -> None:
            os.setsid()
            fcntl.ioctl(0, termios.TIOCSCTTY, 0)

        # the tests have one thread only, and Python knows no other way to a controlling terminal
        self.process = subprocess.Popen(
            command,
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=folder,
            env=env,
            preexec_fn=controlling,  # noqa: PLW1509
        )
        os.close(slave)
        self.seen = ""

    def wait_for(self, words: str, seconds: float = 10.0) -> str:
        """Read until the words appear after what was already used up; returns what was read."""
        end = time.monotonic() + seconds
        while words not in self.seen:
            ready, _, _ = select.select([self.master], [], [], max(end - time.monotonic(), 0))
            if not ready:
                raise AssertionError(f"'{words}' never appeared in: {self.seen[-2000:]!r}")
            try:
                data = os.read(self.master, 65536)
            except OSError:
                data = b""
            if not data:
                raise AssertionError(f"ended before '{words}': {self.seen[-2000:]!r}")
            self.seen += data.decode("utf-8", "replace")
        used, self.seen = self.seen.split(words, 1)
        return used + words

    def press(self, keys: str) -> None:
        os.write(self.master, keys.encode())

    def end(self) -> int:
        try:
            while os.read(self.master, 65536):
                pass
        except OSError:
            pass
        code = self.process.wait(10)
        os.close(self.master)
        return code


def rows(folder: Path) -> list[str]:
    return (folder / "job.csv").read_text().splitlines()[3:]


def test_keys_answers_on_disk_and_the_screen_given_back(tmp_path):
    terminal = Terminal(tmp_path, "--bounce", "0")
    first = terminal.wait_for("press b when this is done")
    assert "\x1b[?1049h" in first
    terminal.press("b")
    terminal.wait_for("LEAD CHECK")
    terminal.press("b")
    terminal.wait_for("TOUCH   [ 1 ]   with   [ @GND ]")
    terminal.press("\x1b[A")
    terminal.press("b")
    shown = terminal.wait_for("noted: @GND - 1 beep")
    assert rows(tmp_path)[-1] == "'@GND,1,beep,"
    assert shown.count("\x1b[H") == 1, "one write a step, from the top"
    terminal.press("z")
    terminal.wait_for("taken back beep (undo)")
    terminal.press("m")
    terminal.wait_for("remark: ")
    terminal.press("bent pin\r")
    terminal.wait_for("remark (bent pin)")
    terminal.press("q")
    terminal.wait_for("\x1b[?1049l")
    terminal.wait_for("residual risk")
    assert terminal.end() == 4


@pytest.mark.parametrize(("columns", "height"), [(80, 24), (40, 16), (30, 12), (120, 40)])
def test_every_line_fits_any_screen(tmp_path, columns, height):
    terminal = Terminal(tmp_path, "--bounce", "0", columns=columns, rows=height)
    terminal.press("bb")
    screen = terminal.wait_for("[ 1 ]") + terminal.wait_for("\x1b[J")
    body = screen.rsplit("\x1b[H", 1)[-1].split("\x1b[J")[0]
    lines = body.replace("\x1b[K", "").replace("\r\r\n", "\n").split("\n")
    assert len(lines) <= height and all(len(line) <= columns for line in lines)
    terminal.press("q")
    assert terminal.end() == 4


def test_ctrl_c_keeps_every_answer(tmp_path):
    terminal = Terminal(tmp_path, "--bounce", "0")
    terminal.press("bbb")
    terminal.wait_for("noted: @GND - 1 beep")
    terminal.press("\x03")
    terminal.wait_for("every answer so far is on disk")
    terminal.end()
    assert rows(tmp_path)[-1] == "'@GND,1,beep,"


def test_a_terminal_that_closes_and_a_second_session(tmp_path):
    terminal = Terminal(tmp_path, "--bounce", "0")
    terminal.press("bbb")
    terminal.wait_for("noted: @GND - 1 beep")
    second = Terminal(tmp_path)
    second.wait_for("another session")
    assert second.end() == 1
    os.close(terminal.master)
    assert terminal.process.wait(10) == -signal.SIGHUP
    again = Terminal(tmp_path, "--bounce", "0")
    again.wait_for("LEAD CHECK")
    assert rows(tmp_path)[-1] == "'@GND,1,beep,"
    again.press("bq")
    again.wait_for("joins 1 of 3")
    assert again.end() == 4


def test_plain_lines_without_cursor_moves_and_other_keys(tmp_path):
    terminal = Terminal(tmp_path, "--plain", "--bounce", "0", "--keys", "beep=a,quiet=k,skip=f,quit=x")
    terminal.press("aaa")
    text = terminal.wait_for("noted: @GND - 1 beep")
    terminal.press("x")
    text += terminal.wait_for("residual risk")
    assert "\x1b[" not in text
    assert "touch 1 (GND)" in text
    assert terminal.end() == 4
    command = [sys.executable, "-m", "connector_check", "probe", "j.csv", "--keys", "beep=n"]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    assert subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True).returncode == 2


def test_a_suspended_session_goes_on_and_a_torn_line_is_told_on_the_screen(tmp_path):
    terminal = Terminal(tmp_path, "--bounce", "0")
    terminal.press("bbb")
    terminal.wait_for("noted: @GND - 1 beep")
    os.kill(terminal.process.pid, signal.SIGSTOP)
    terminal.press("b")
    time.sleep(0.2)
    os.kill(terminal.process.pid, signal.SIGCONT)
    terminal.wait_for("noted: @GND - 4 beep")
    os.kill(terminal.process.pid, signal.SIGKILL)
    terminal.process.wait(10)
    os.close(terminal.master)
    with open(tmp_path / "job.csv", "a") as job:
        job.write("'@GND,7,be")
    again = Terminal(tmp_path, "--bounce", "0")
    text = again.wait_for("going on from there")
    assert "job.csv.torn" in text
    assert rows(tmp_path)[-1] == "'@GND,4,beep,"
    again.press("bw")
    again.wait_for("ground: 7 12")
    again.press("ground: 7\r")
    again.wait_for("sweep")
    assert "'@GND,7,beep,sweep" in rows(tmp_path)
    again.press("q")
    assert again.end() == 4


def test_a_meter_tested_before_a_new_job_is_the_jobs_own(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    terminal = Terminal(tmp_path, "--plain", "--bounce", "0", map_name="vga-de15")
    told = terminal.wait_for("test it now: yes, no (empty: no)")
    assert "the plan needs ohms" in told
    terminal.press("y\rdrawer\r22 47\r" + "b\rn\r" * 3 + "\r\r")
    terminal.wait_for("keep it as your own meter, used where no other is named")
    terminal.press("y\r")
    terminal.wait_for("Confirm with beep")
    terminal.press("q")
    terminal.wait_for(
        "assumed: meter: sounds below 22 ohm, silent above 47 ohm (drawer, from the job's '# meter:' line)"
    )
    terminal.end()
    assert "# meter: 22 47 name drawer" in (tmp_path / "job.csv").read_text().splitlines()
    assert "silent_above: 47" in (tmp_path / "config" / "connector-check" / "meter.yaml").read_text()


@pytest.mark.parametrize("answer", ["\r", "n\r", "q\r", "y\rq\r", "y\r\r4.7 22\r" + "n\r" * 6])
def test_the_offer_can_be_left(tmp_path, monkeypatch, answer):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    terminal = Terminal(tmp_path, "--plain", "--bounce", "0", map_name="vga-de15")
    terminal.wait_for("test it now: yes, no (empty: no)")
    terminal.press(answer)
    terminal.wait_for("Confirm with beep")
    terminal.press("q")
    terminal.wait_for("(unknown meter, the careful default)")
    terminal.end()
    assert "meter" not in (tmp_path / "job.csv").read_text() and not (tmp_path / "config").exists()
