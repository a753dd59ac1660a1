"""The job writer: whole synced lines, rollback, one writer, torn tails, and a real process killed at random."""

from __future__ import annotations

import csv
import errno
import io
import os
import random
import select
import signal
import subprocess
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from connector_check.errors import InputError
from connector_check.testlog.jobfile import decode, parse
from connector_check.testlog.jobwriter import JobWriter
from connector_check.testlog.readings import Entry
from connector_check.testlog.rows import CELL_CHARACTERS, Row
from tests.strategies import tiny_board

resource = pytest.importorskip("resource", reason="signals and limits of POSIX")

BOARD = tiny_board()
HEADER = {"map": "tiny", "layout": "row", "scope": "near"}
START = b"# map: tiny\n# layout: row\n# scope: near\npin_a,pin_b,reading,note\n"
KILLS = 300


def read(path: Path) -> list[Entry]:
    return parse(decode(path.read_bytes(), path.name), BOARD)


def refusal(path: Path, header: dict[str, str] = HEADER) -> str:
    with pytest.raises(InputError) as caught:
        JobWriter.open(path, header).close()
    assert len(caught.value.problems) == 1 and caught.value.problems[0].remedy
    return str(caught.value)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "job.csv"


# --- what is written


def test_a_new_job(path):
    with JobWriter.open(path, HEADER) as writer:
        writer.append("1", "4", "beep")
        writer.append("", "", "leads good 0.3", "together, apart")
        writer.append("@GND", "+5V", "quiet", "=1+1")
        assert writer.told == []
    assert path.read_bytes() == START + (
        b'1,4,beep,\n,,leads good 0.3,"together, apart"\n' + b"'@GND,'+5V,quiet,'=1+1\n"
    )
    assert [(e.kind, [BOARD.points[p] for p in e.points]) for e in read(path)] == [
        ("beep", ["1", "4"]),
        ("leads good", []),
        ("quiet", ["@GND", "@+5V"]),
    ]


def test_only_given_keys_become_header_lines(path):
    JobWriter.open(path, {"map": "tiny"}).close()
    assert path.read_bytes() == b"# map: tiny\npin_a,pin_b,reading,note\n"


def test_a_job_is_continued_and_keeps_its_own_header(path):
    JobWriter.open(path, HEADER).close()
    with JobWriter.open(path, {"map": "other"}) as writer:
        writer.append("1", "4", "beep")
    assert path.read_bytes() == START + b"1,4,beep,\n"


@pytest.mark.parametrize(
    "note", ["a\nb", "a\r\nb", "a\x1b[2Jb", "a\u2028b", "a\0b", "a\u202eb", "\ud800", "\t=1", "x" * 200_000]
)
def test_a_note_is_one_harmless_line(path, note):
    with JobWriter.open(path, HEADER) as writer:
        writer.append("1", "4", "quiet", note)
        writer.append("1", "2", "quiet")
    entries = read(path)
    assert [e.points for e in entries] == [(0, 3), (0, 1)]
    assert entries[0].note and entries[0].note.isprintable() and len(entries[0].note) <= CELL_CHARACTERS + 1
    assert entries[0].note[0] not in "=+-@\t"
    assert path.read_bytes().count(b"\n") == START.count(b"\n") + 2


NOTED = st.tuples(st.sampled_from(["1", "@GND", "+5V", "SH1"]), st.text(max_size=40))


@given(st.lists(NOTED, max_size=8), st.sampled_from([",", ";", "\t"]))
def test_any_note_leaves_every_line_readable(tmp_path_factory, lines, delimiter):
    path = tmp_path_factory.mktemp("notes") / "job.csv"
    path.write_text(delimiter.join(["pin_a", "pin_b", "reading", "note"]) + "\n")
    for half in (lines[: len(lines) // 2], lines[len(lines) // 2 :]):
        with JobWriter.open(path, HEADER) as writer:
            assert writer.told == []
            for point, note in half:
                writer.append(point, "4", "quiet", note)
    rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline=""), delimiter=delimiter))
    assert len(rows) == len(lines) + 1 == path.read_bytes().count(b"\n")
    if lines:
        assert [BOARD.points[e.points[0]] for e in read(path)] == [p if p != "+5V" else "@+5V" for p, _ in lines]


@pytest.mark.parametrize(
    ("before", "added"),
    [
        (b"1,4,beep\n", b"3,5,0.4,hm\n"),
        (b"\xef\xbb\xbf# map: tiny;;;\r\npin_a;pin_b;reading;note\r\n1;4;Beep;\r\n", b"3;5;0.4;hm\r\n"),
        (b"1\t4\tbeep\n", b"3\t5\t0.4\thm\n"),
        (b"note,reading,pin_b,pin_a\nx,beep,4,1\n", b"hm,0.4,5,3\n"),
        (b"pin_a,pin_b,reading,note,operator\n1,4,beep,,jo\n", b"3,5,0.4,hm,\n"),
        (b"pin_a,reading,pin_b,operator\n1,beep,4,jo\n", b"3,0.4,5,,hm\n"),
        (b'1,4,beep,"two\nlines, ""quoted"""\n', b"3,5,0.4,hm\n"),
        (b'1,4,beep,3" gap\n', b"3,5,0.4,hm\n"),
    ],
)
def test_the_form_of_an_existing_file_is_kept(path, before, added):
    path.write_bytes(before)
    with JobWriter.open(path, HEADER) as writer:
        writer.append("3", "5", "0.4", "hm")
        assert bool(writer.told) == (b"operator" in before and b"note" not in before)
    assert path.read_bytes() == before + added
    assert [(e.kind, e.points) for e in read(path)] == [("beep", (0, 3)), ("ohms", (2, 4))]


def test_a_note_in_the_first_column_is_no_comment(path):
    path.write_bytes(b"note,reading,pin_b,pin_a\n")
    with JobWriter.open(path, {}) as writer:
        writer.append("1", "4", "beep", "# 3")
    assert read(path)[0].note == "note: # 3"


@pytest.mark.parametrize("empty", [b"", b"\n", b"\xef\xbb\xbf", b"\xef\xbb\xbf\r\n", b"  ", b"\0" * 512])
def test_an_empty_file_gets_its_header(path, empty):
    path.write_bytes(empty)
    with JobWriter.open(path, HEADER) as writer:
        writer.append("1", "4", "beep")
        assert writer.told == []
    assert path.read_bytes().endswith(START + b"1,4,beep,\n")
    assert len(read(path)) == 1


def test_header_lines_that_are_missing_are_added_once(path):
    path.write_bytes(b"# a job of the village workshop\n# Map: tiny,,,\n")
    JobWriter.open(path, HEADER).close()
    JobWriter.open(path, HEADER).close()
    assert path.read_bytes() == (
        b"# a job of the village workshop\n# Map: tiny,,,\n# layout: row\n# scope: near\npin_a,pin_b,reading,note\n"
    )


# --- read back before it is written


@pytest.mark.parametrize(
    "before",
    [
        b"",
        b"1,4,beep\n",
        b"\xef\xbb\xbfpin_a;pin_b;reading;note\r\n",
        b"note,reading,pin_b,pin_a\n",
        b"pin_a,reading,pin_b,operator\n",
        b'1,4,beep,"two\nlines"\n',
    ],
)
def test_the_entry_of_a_recorded_row_is_the_one_that_the_file_holds(path, before):
    path.write_bytes(before)
    with JobWriter.open(path, HEADER) as writer:
        entries = [
            writer.record(Row("1", "@GND", "0.4 ohm", "# a note"), BOARD),
            writer.record(Row("", "", "leads good 0.3", "=1+1"), BOARD),
            writer.record(Row("+5V", "3", "quiet"), BOARD),
        ]
    assert entries == read(path)[-3:]
    assert [entry.kind for entry in entries] == ["ohms", "leads good", "quiet"]
    assert entries[0].note.endswith("# a note")


@pytest.mark.parametrize("row", [Row("1", "4", "hum"), Row("1", "99", "beep"), Row("1", "4", "leads good")])
def test_a_row_that_would_not_be_read_is_not_written(path, row):
    with JobWriter.open(path, HEADER) as writer:
        with pytest.raises(InputError, match=r"job.csv:5: "):
            writer.record(row, BOARD)
        assert path.read_bytes() == START
        assert writer.record(Row("1", "4", "beep"), BOARD).line == 5


# --- torn tails


def test_a_line_torn_at_every_byte(path):
    line = '4,5,quiet,"a note, with \u00b5 and a quote """\n'.encode()
    whole = START + b"1,4,beep,\n"
    for cut in range(len(line) + 1):
        path.write_bytes(whole + line[:cut])
        aside = path.with_name("job.csv.torn")
        aside.unlink(missing_ok=True)
        with JobWriter.open(path, HEADER) as writer:
            writer.append("2", "3", "quiet")
            told = writer.told
        kept = whole + (line if cut == len(line) else b"")
        assert path.read_bytes() == kept + b"2,3,quiet,\n"
        assert len(read(path)) == (3 if cut == len(line) else 2)
        if 0 < cut < len(line):
            assert aside.read_bytes() == line[:cut] + b"\n"
            assert len(told) == 1 and told[0].startswith(f"{path}:6: ") and "job.csv.torn" in told[0]
            assert told[0].isprintable()
        else:
            assert told == [] and not aside.exists()


def test_a_header_torn_at_every_byte(path):
    for cut in range(len(START)):
        path.write_bytes(START[:cut])
        with JobWriter.open(path, HEADER) as writer:
            writer.append("1", "4", "beep")
            assert len(writer.told) == (0 if cut == 0 or START[cut - 1 : cut] == b"\n" else 1)
        assert path.read_bytes() == START + b"1,4,beep,\n", cut


def test_torn_tails_gather(path):
    for tail in (b"1,2,qu", b"3,", b"4,5,quiet,\r"):
        path.write_bytes(START.replace(b"\n", b"\r\n") + tail)
        JobWriter.open(path, HEADER).close()
    assert path.with_name("job.csv.torn").read_bytes() == b"1,2,qu\n3,\n4,5,quiet,\n"


def test_a_torn_tail_that_cannot_be_kept_is_not_cut_off(path):
    path.write_bytes(START + b"1,2,qu")
    path.with_name("job.csv.torn").mkdir()
    assert "job.csv.torn: the torn last line of job.csv cannot be kept here" in refusal(path)
    assert path.read_bytes() == START + b"1,2,qu"


# --- what is refused


@pytest.mark.parametrize(
    ("content", "what"),
    [
        ("1,4,beep\n".encode("utf-16"), "UTF-16"),
        (b"1,4,beep\r2,3,quiet\r", "carriage return"),
        (b"1,4,beep\n\0\0\n", "binary"),
        (b"1,4,beep\n\xff\xfe\n", "UTF-8"),
        (b'1,4,beep,\n2,3,quiet,"open\n4,5,quiet\n', "job.csv:2: a quote is opened here"),
        (b"1,4,beep,\n2,3,quiet," + b"x" * 140_000 + b"\n", "not readable as CSV"),
        (b"Dear neighbour,\nthe kettle is\nback", "not a job file"),
        (b"# Read me\n\nA text, with commas, here\nand no end", "not a job file"),
        (b"one line", "not a job file"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\1IHDR", "not text in UTF-8"),
    ],
)
def test_other_files_are_left_alone(path, content, what):
    path.write_bytes(content)
    assert what in refusal(path)
    assert path.read_bytes() == content and [p.name for p in path.parent.iterdir()] == ["job.csv"]


def test_folders_loops_and_pipes(tmp_path):
    (tmp_path / "loop").symlink_to("loop")
    (tmp_path / "file").write_bytes(b"")
    os.mkfifo(tmp_path / "pipe")
    for name, what in [
        (".", "folder"),
        ("loop", "circle"),
        ("no/job.csv", "make the folder"),
        ("file/job.csv", "not a folder"),
        ("pipe", "plain file"),
        ("x" * 300 + ".csv", "shorter name"),
    ]:
        assert what in refusal(tmp_path / name)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "loop", "pipe"]


def test_a_link_to_a_job(tmp_path, path):
    (tmp_path / "link.csv").symlink_to("job.csv")
    for _ in range(2):
        with JobWriter.open(tmp_path / "link.csv", HEADER) as writer:
            writer.append("1", "4", "beep")
    assert path.read_bytes() == START + b"1,4,beep,\n" * 2


def test_read_only_folder_and_file(tmp_path):
    folder, locked = tmp_path / "ro", tmp_path / "locked.csv"
    folder.mkdir(mode=0o555)
    locked.write_bytes(START)
    locked.chmod(0o444)

    tmp_path.chmod(0o755)

    def attempt() -> None:
        os.chdir(tmp_path)
        if os.geteuid() == 0:
            os.setegid(65534)
            os.seteuid(65534)
        assert "may not write there" in refusal(Path("ro/job.csv"))
        assert "may not write there" in refusal(Path("locked.csv"))

    assert in_child(attempt) == 0
    assert locked.read_bytes() == START and list(folder.iterdir()) == []


def test_a_closed_writer_and_a_second_close(path):
    writer = JobWriter.open(path, HEADER)
    writer.close()
    writer.close()
    with pytest.raises(ValueError, match="closed"):
        writer.append("1", "4", "beep")


# --- one writer at a time


def test_two_writers(path):
    first = JobWriter.open(path, HEADER)
    assert "another session writes this job" in refusal(path)
    assert in_child(lambda: "another session" in refusal(path) or os._exit(3)) == 0
    first.append("1", "4", "beep")
    first.close()
    JobWriter.open(path, HEADER).close()
    assert path.read_bytes() == START + b"1,4,beep,\n"


def test_the_lock_ends_with_its_process_and_is_not_inherited_by_programs(path):
    def hold_and_die() -> None:
        JobWriter.open(path, HEADER)
        subprocess.Popen(["sleep", "5"])
        os.kill(os.getpid(), signal.SIGKILL)

    assert in_child(hold_and_die) == -signal.SIGKILL
    JobWriter.open(path, HEADER).close()
    assert path.read_bytes() == START


def test_many_processes_at_once_make_one_job(path):
    def one() -> None:
        done = 0
        while done < 5:
            try:
                writer = JobWriter.open(path, HEADER)
            except InputError as error:
                if "another session" not in str(error):
                    raise
                time.sleep(0.001)
                continue
            with writer:
                writer.append("1", "4", "quiet", f"{os.getpid()} {done}")
                done += 1

    children = [fork(one) for _ in range(6)]
    assert [os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in children] == [0] * 6
    assert path.read_bytes().startswith(START)
    notes = [e.note for e in read(path)]
    assert sorted(notes) == sorted(f"{pid} {n}" for pid in children for n in range(5))


@pytest.mark.parametrize("harm", ["replace", "remove", "grow", "shrink"])
def test_a_file_changed_by_another_program_is_noticed(path, harm):
    with JobWriter.open(path, HEADER) as writer:
        writer.append("1", "4", "beep")
        before = path.read_bytes()
        if harm == "replace":
            path.with_name("new").write_bytes(before)
            os.replace(path.with_name("new"), path)
        elif harm == "remove":
            path.unlink()
        else:
            path.write_bytes(before + b"2,3,quiet" if harm == "grow" else before[:-3])
        after = path.read_bytes() if path.exists() else None
        with pytest.raises(InputError, match="changed or removed by another program"):
            writer.append("1", "2", "quiet")
        assert (path.read_bytes() if path.exists() else None) == after


# --- writes that fail


@pytest.mark.skipif(os.geteuid() != 0, reason="mounting a small disk needs root")
def test_a_full_disk(tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=16k", "tmpfs", str(disk)], capture_output=True).returncode:
        pytest.skip("no tmpfs here")
    try:
        path = disk / "job.csv"
        with JobWriter.open(path, HEADER) as writer:
            (disk / "other").write_bytes(b"x" * 4096)
            done = 0
            with pytest.raises(InputError, match="the disk is full: make room") as caught:  # noqa: PT012
                while True:
                    writer.append("1", "4", "quiet", f"number {done}")
                    done += 1
            assert str(caught.value).startswith(f"{path}: not written (No space left")
            assert done > 100 and [e.note for e in read(path)] == [f"number {n}" for n in range(done)]
            assert path.read_bytes().endswith(b"\n")
            assert "disk is full" in refusal(disk / "second.csv") and not (disk / "second.csv").exists()
            (disk / "other").unlink()
            writer.append("1", "4", "quiet", f"number {done}")
        with JobWriter.open(path, HEADER) as writer:
            assert writer.told == []
        assert [e.note for e in read(path)] == [f"number {n}" for n in range(done + 1)]
        remount = subprocess.run(["mount", "-o", "remount,ro", str(disk)], capture_output=True)
        if remount.returncode == 0:
            assert "the disk is read-only" in refusal(path)
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_a_file_that_may_not_grow_takes_no_half_line(path):
    def limited() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        with JobWriter.open(path, HEADER) as writer:
            size = len(START)
            for room in range(1, 25):
                resource.setrlimit(resource.RLIMIT_FSIZE, (size + room, resource.RLIM_INFINITY))
                with pytest.raises(InputError, match=r"full|may not grow"):
                    writer.append("1", "4", "quiet", "x" * 30)
                assert path.stat().st_size == size
            resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
            writer.append("1", "4", "beep")

    assert in_child(limited) == 0
    assert path.read_bytes() == START + b"1,4,beep,\n"


def test_a_sync_that_fails_takes_the_line_back(path, monkeypatch):
    with JobWriter.open(path, HEADER) as writer:
        with monkeypatch.context() as patch:
            patch.setattr(os, "fsync", lambda fd: (_ for _ in ()).throw(OSError(errno.EIO, "Input/output error")))
            with pytest.raises(InputError, match=r"not written .Input/output error."):
                writer.append("1", "4", "quiet")
        assert path.read_bytes() == START
        writer.append("1", "4", "beep")
    assert path.read_bytes() == START + b"1,4,beep,\n"


def test_half_a_line_that_cannot_be_taken_off_is_taken_off_later(path, monkeypatch):
    write = os.write

    def fail(*_: object) -> None:
        raise OSError(errno.EIO, "Input/output error")

    with JobWriter.open(path, HEADER) as writer:
        with monkeypatch.context() as patch:
            patch.setattr(os, "write", lambda fd, data: write(fd, data[:5]))
            patch.setattr(os, "ftruncate", fail)
            with pytest.raises(InputError, match="not written"):
                writer.append("1", "4", "quiet")
            with pytest.raises(InputError, match="half a line"):
                writer.append("1", "4", "quiet")
        assert path.read_bytes() == START + b"1,4,q"
        writer.append("1", "4", "beep")
    assert path.read_bytes() == START + b"1,4,beep,\n"


def test_ctrl_c_before_the_sync_leaves_no_line(path, monkeypatch):
    def interrupt(_: int) -> None:
        raise KeyboardInterrupt

    with JobWriter.open(path, HEADER) as writer:
        with monkeypatch.context() as patch:
            patch.setattr(os, "fsync", interrupt)
            with pytest.raises(KeyboardInterrupt):
                writer.append("1", "4", "quiet")
        assert path.read_bytes() == START
        writer.append("1", "4", "beep")
    assert path.read_bytes() == START + b"1,4,beep,\n"


def test_each_line_is_one_write_and_synced_before_append_returns(path, monkeypatch):
    calls = []
    write, fsync = os.write, os.fsync
    with JobWriter.open(path, HEADER) as writer:
        monkeypatch.setattr(os, "write", lambda fd, data: calls.append(("write", bytes(data))) or write(fd, data))
        monkeypatch.setattr(os, "fsync", lambda fd: calls.append(("sync", path.read_bytes())) or fsync(fd))
        writer.append("1", "4", "beep", "n")
    assert calls == [("write", b"1,4,beep,n\n"), ("sync", START + b"1,4,beep,n\n")]


# --- killed at any moment


def fork(work) -> int:
    pid = os.fork()
    if pid:
        return pid
    code = 1
    try:
        work()
        code = 0
    except BaseException as error:  # noqa: BLE001 - a child of fork tells what went wrong and ends, whatever it was
        os.write(2, f"{error!r}\n".encode())
    finally:
        os._exit(code)


def in_child(work) -> int:
    return os.waitstatus_to_exitcode(os.waitpid(fork(work), 0)[1])


def probing_child(path: Path, acknowledged: int, slow: bool, hasty: bool) -> None:
    """Append numbered readings for ever; a number goes down the pipe once its line is on the disk (hasty: before)."""
    write = os.write

    def in_pieces(descriptor: int, data: bytes) -> int:
        """The same bytes in pieces with time between, so that a kill finds lines half written."""
        for at in range(0, len(data), 3):
            write(descriptor, data[at : at + 3])
            time.sleep(0.0001)
        return len(data)

    if slow:
        os.write = in_pieces
    with JobWriter.open(path, HEADER) as writer:
        number = len(numbers_in(path))
        while True:
            if hasty:
                write(acknowledged, b"%d\n" % number)
            writer.append("1", "4", "quiet", f"number {number}")
            if not hasty:
                write(acknowledged, b"%d\n" % number)
            number += 1


def numbers_in(path: Path) -> list[str]:
    return [row[3] for row in csv.reader(io.StringIO(path.read_text())) if row[2:3] == ["quiet"]]


def kill_once(path: Path, rng: random.Random, slow: bool, hasty: bool) -> list[int]:
    """Start a child on the job, kill it at a random moment, return the numbers it acknowledged."""
    reader, acknowledged = os.pipe()
    pid = fork(lambda: probing_child(path, acknowledged, slow, hasty))
    os.close(acknowledged)
    if rng.random() < 0.7:  # else the kill may well fall into the opening
        select.select([reader], [], [], 5)
    time.sleep(rng.uniform(0, 0.008))
    os.kill(pid, signal.SIGKILL)
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == -signal.SIGKILL
    with os.fdopen(reader, "rb") as pipe:
        return [int(line) for line in pipe.read().splitlines()]


def kill_often(folder: Path, kills: int, hasty: bool = False) -> tuple[int, int]:
    """Kill, reopen, compare, go on in the same job; (torn lines set aside, kills before the first acknowledgement)."""
    rng = random.Random(5)
    torn = early = expected = 0
    path = folder / "job.csv"
    for kill in range(kills):
        if kill % 15 == 0:
            path, expected = folder / f"job{kill}.csv", 0
        numbers = kill_once(path, rng, slow=kill % 2 == 0, hasty=hasty)
        early += not numbers
        assert numbers == list(range(expected, expected + len(numbers)))
        expected += len(numbers)
        with JobWriter.open(path, HEADER) as writer:
            torn += len(writer.told)
            assert path.read_bytes().startswith(START)
            found = numbers_in(path)
            # one more may be on the disk than was acknowledged: the kill came between the sync and the word of it
            assert len(found) in (expected, expected + 1)
            assert found == [f"number {n}" for n in range(len(found))]
            expected = len(found)
            writer.append("2", "3", "beep", "after the kill")
        entries = read(path)
        assert [e.note for e in entries if e.kind == "quiet"] == found
        assert entries[-1].kind == "beep"
    for aside in folder.glob("*.torn"):
        for line in aside.read_text().splitlines():
            whole = f"1,4,quiet,number {line.rpartition(' ')[2]}"
            assert line in START.decode() or whole.startswith(line)
    return torn, early


def test_killed_at_random_points_nothing_acknowledged_is_lost(tmp_path):
    began = time.monotonic()
    torn, early = kill_often(tmp_path, KILLS)
    assert torn > 20 and early > 5
    assert time.monotonic() - began < 60


def test_the_kill_test_sees_a_writer_that_speaks_too_soon(tmp_path):
    with pytest.raises(AssertionError):
        kill_often(tmp_path, 60, hasty=True)
