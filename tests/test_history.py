"""History over folders of jobs: counts against an independent count, rework, broken files, hostile text, command."""

from __future__ import annotations

import csv
import io
import json
import os
import random
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections import Counter
from pathlib import Path

import pytest
from click.testing import CliRunner

from connector_check.board.board import Board
from connector_check.cli.history import history as command
from connector_check.errors import InputError
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import RESERVED, SHELL
from connector_check.renderers.history import history_csv, history_json, history_lines, history_svg
from connector_check.reports.history import JOB_COLUMNS, read_history
from connector_check.reports.summary import summarise
from connector_check.testlog.readings import OHMS, Entry
from tests.strategies import TINY_YAML, SimulatedBoard, probe_until_settled, random_faults

CLEAR_TINY = (
    ",,leads good\n@GND,1,beep\n@GND,4,beep\n@GND,7,beep\n@+5V,2,beep\n@D+,3,beep\n@TX,5,beep\n"
    "1,2,quiet\n2,3,quiet\n3,4,quiet\n4,5,quiet\n5,6,quiet\n6,7,quiet\n,,leads good\n"
)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "tiny.yaml").write_text(TINY_YAML)
    return tmp_path


def write(folder: Path, name: str, body: str, head: str = "# map: tiny.yaml\npin_a,pin_b,reading,note\n") -> None:
    (folder / name).write_text(head + body, encoding="utf-8")


def only(folder: Path) -> dict:
    return read_history(folder).jobs.iloc[0].to_dict()


def rows_of(board: Board, entries: list[Entry]) -> list[str]:
    def word(e: Entry) -> str:
        return e.kind if e.kind != OHMS else "OL" if e.ohms == float("inf") else f"{e.ohms:g}"

    return [f"{board.points[e.points[0]]},{board.points[e.points[1]]},{word(e)}," for e in entries]


def test_counts_of_simulated_boards_against_the_boards_themselves(tmp_path):
    """Truth comes from the simulated boards: harmful or open means the first round cannot be clear."""
    rng = random.Random(11)
    boards = [Board(find_pin_map(m), find_pin_map(m).layouts[0]) for m in ("usb-c-16", "vga-de15", "usb-a-3")]
    jobs, decided, passed, touches, rounds = Counter(), Counter(), Counter(), Counter(), Counter()
    opened: dict[tuple[str, str], set[str]] = {}
    for number in range(90):
        board = boards[number % 3]
        sim = random_faults(board, rng, rng.choice([0.0, 0.2]), rng.choice([0.0, 0.05]))
        spares = {j for j in sim.opens if board.net_of[j].role in (RESERVED, SHELL)}
        silent = {j for j in sim.opens if not sim.beeps(j, board.board_point[board.net_of[j].name])}
        cut_off = silent - spares
        entries, _ = probe_until_settled(sim, shorts_only=False)
        rows = [",,leads good,", *rows_of(board, entries), ",,leads good,"]
        key = (board.pin_map.id, board.layout.id)
        jobs[key] += 1
        decided[key] += 1
        bad = sim.harmful() or bool(cut_off)
        passed[key] += not bad
        touches[key] += len(entries)
        rounds[key] += 1
        for joint in cut_off:
            opened.setdefault((*key, board.points[joint]), set()).add(f"{number}.csv")
        if bad:
            joints = [board.points[j] for j in range(len(board.joints))]
            rows += [f"{joint},,reworked," for joint in joints]
            clean, verdict = probe_until_settled(SimulatedBoard(board), shorts_only=False)
            assert verdict == "clear"
            rows += [*rows_of(board, clean), ",,leads good,"]
            touches[key] += len(clean)
            rounds[key] += 1
        head = f"# map: {key[0]}\n# layout: {key[1]}\npin_a,pin_b,reading,note\n"
        write(tmp_path, f"{number}.csv", "\n".join(rows) + "\n", head)
    found = read_history(tmp_path)
    summary = summarise(found)
    assert not found.broken and not found.remarks
    assert 0 < sum(passed.values()) < 90 and opened
    table = {(r.map, r.layout): r for r in summary.first_pass.itertuples()}
    assert {k: (r.jobs, r.decided, r.passed) for k, r in table.items()} == {
        k: (jobs[k], decided[k], passed[k]) for k in jobs
    }
    for key, row in table.items():
        assert row.yield_percent == pytest.approx(100 * passed[key] / decided[key], abs=0.051)
    effort = {(r.map, r.layout): r for r in summary.effort.itertuples()}
    for key in jobs:
        assert effort[key].touches_mean == pytest.approx(touches[key] / jobs[key], abs=0.0051)
        assert effort[key].rounds_mean == pytest.approx(rounds[key] / jobs[key], abs=0.0051)
    assert set(found.jobs["verdict"]) == {"clear"}
    assert not len(found.again), "every rework of this folder cured everything"
    opens = found.faults[found.faults["kind"] == "open"]
    told = {(r.map, r.layout, r.joint, r.file) for r in opens.itertuples()}
    assert told == {(*key, file) for key, files in opened.items() for file in files}
    for row in summary.joints[summary.joints["kind"] == "open"].itertuples():
        assert row.jobs == len(opened[row.map, row.layout, row.joint]) and row.of_jobs == jobs[row.map, row.layout]
    again = read_history(tmp_path, workers=2)
    assert again.jobs.equals(found.jobs) and again.faults.equals(found.faults)


def test_a_bridge_is_told_at_its_site_with_harm_and_round(folder):
    body = CLEAR_TINY.replace("2,3,quiet", "2,3,beep") + "2,3,reworked\n2,3,quiet\n3,4,quiet\n1,2,quiet\n"
    write(folder, "a.csv", body)
    job = only(folder)
    assert (job["first_verdict"], job["first_pass"], job["rounds"]) == ("rework", "no", 2)
    assert (job["shorts_damage"] + job["shorts_supply"] + job["shorts_dead_signal"], job["bridged"]) == (1, "2 3")
    assert job["touches"] == 15 and job["found_again"] == "" and job["opens"] == 0
    faults = read_history(folder).faults
    assert [(r.kind, r.joint, r.round, r.share) for r in faults.itertuples()] == [
        ("bridge", "2", 1, 1.0),
        ("bridge", "3", 1, 1.0),
    ]


def test_equally_likely_pairs_share_the_weight(folder):
    """In the tiny map supply 2 has one ground beside it (1), and TX 5 has one (4); in the map `between` supply 2 lies
    in the middle of the grounds 1 and 4, so that each of the two pairs weighs one half."""
    write(folder, "a.csv", "2,@GND,beep\n")
    write(folder, "b.csv", "5,@GND,beep\n")
    pads = "{at: {1: [0, 0], 2: [0.5, 0], 4: [1, 0], 3: [8, 0], 5: [10, 0], 6: [12, 0], 7: [14, 0]}, size: [0.3, 1.0]}"
    between = TINY_YAML.replace("id: tiny", "id: between").replace(
        "{row: [1..7], start: [0, 0], step: [0.5, 0], size: [0.3, 1.0]}", pads
    )
    (folder / "between.yaml").write_text(between)
    write(folder, "c.csv", "2,@GND,beep\n", "# map: between.yaml\n")
    told = {(r.file, r.joint): r.share for r in read_history(folder).faults.itertuples()}
    assert told == {
        ("a.csv", "1"): 1,
        ("a.csv", "2"): 1,
        ("b.csv", "4"): 1,
        ("b.csv", "5"): 1,
        ("c.csv", "1"): 0.5,
        ("c.csv", "2"): 1,
        ("c.csv", "4"): 0.5,
    }


@pytest.mark.parametrize(
    ("after", "times"),
    [
        ("2,3,beep\n", 1),
        ("2,3,quiet\n", 0),
        ("2,3,beep\n2,3,reworked\n2,3,beep\n", 2),
        ("2,3,quiet\n3,,reworked\n2,3,beep\n", 1),
        ("", 0),
    ],
)
def test_a_short_found_again_after_the_iron(folder, after, times):
    write(folder, "a.csv", "2,3,beep\n2,3,reworked\n" + after)
    found = read_history(folder)
    assert [(r.finding, r.times) for r in found.again.itertuples()] == ([("bridge +5V + D+", times)] if times else [])


@pytest.mark.parametrize(("after", "times"), [("", 0), ("1,3,quiet\n", 0), ("@+5V,@TX,beep\n", 1)])
def test_an_old_reading_that_the_iron_left_standing_is_not_a_finding_again(folder, after, times):
    """2 is known apart from both its neighbours, so its rework leaves the beep between the board points standing."""
    write(folder, "a.csv", "1,2,quiet\n2,3,quiet\n2,@+5V,beep\n@+5V,@TX,beep\n2,,reworked\n" + after)
    job = only(folder)
    assert (job["rounds"], job["verdict"]) == (2, "rework")
    assert list(read_history(folder).again["times"]) == ([times] if times else [])


def test_a_finding_counts_once_for_each_time_the_iron_was_at_it(folder):
    write(
        folder,
        "a.csv",
        "1,2,quiet\n3,4,quiet\n2,3,beep\n2,3,reworked\n1,2,quiet\n3,4,quiet\n2,3,beep\n6,7,reworked\n6,7,quiet\n",
    )
    job = only(folder)
    assert (job["rounds"], job["verdict"]) == (3, "rework")
    assert list(read_history(folder).again["times"]) == [1]


def test_only_the_nets_that_came_back_are_named(folder):
    write(folder, "a.csv", "2,3,beep\n3,4,beep\n2,3,reworked\n2,3,quiet\n3,4,beep\n")
    assert [(r.finding, r.times) for r in read_history(folder).again.itertuples()] == [("bridge D+ + GND", 1)]


def test_a_short_the_iron_never_touched_is_not_found_again(folder):
    write(folder, "a.csv", "2,3,beep\n5,6,beep\n6,7,reworked\n2,3,beep\n")
    assert not len(read_history(folder).again)


def test_an_open_found_again(folder):
    write(folder, "a.csv", "1,@GND,beep\n4,@GND,quiet\n4,,reworked\n4,@GND,quiet\n")
    found = read_history(folder)
    assert [(r.finding, r.times) for r in found.again.itertuples()] == [("open 4", 1)]
    assert only(folder)["opened"] == "4" and only(folder)["opens"] == 1


def test_a_note_is_no_fault_but_is_counted(folder):
    write(folder, "a.csv", CLEAR_TINY.replace("5,6,quiet", "5,6,beep"))
    job = only(folder)
    assert (job["verdict"], job["first_pass"], job["shorts_note"], job["bridged"]) == ("clear", "yes", 1, "")


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        (CLEAR_TINY, "yes"),
        ("1,2,quiet\n", "undecided"),
        ("1,2,quiet\n2,,reworked\n", "no"),
        ("1,2,beep\n", "no"),
        (CLEAR_TINY + "2,,reworked\n", "yes"),
    ],
)
def test_first_pass(folder, body, expected):
    write(folder, "a.csv", body)
    assert only(folder)["first_pass"] == expected
    row = summarise(read_history(folder)).first_pass.iloc[0]
    assert (row["jobs"], row["decided"], row["passed"]) == (1, expected != "undecided", expected == "yes")


@pytest.mark.parametrize(
    ("times", "expected", "remarks"),
    [
        (["2031-05-04T10:00:00", "2031-05-04T10:01:30", ""], 1.5, 0),
        (["2031-05-04T10:00", "2031-05-04T10:10", "2031-05-05T09:00"], 10.0, 0),
        (["2031-05-04T10:00Z", "2031-05-04T13:05+03:00", "2031-05-04T10:00Z"], 5.0, 0),
        (["2031-05-04T10:00", "soon", "2031-05-04T10:02"], 2.0, 1),
        (["2031-05-04T10:00", "2031-05-04T10:00Z", "2031-05-04T10:02"], 2.0, 1),
        (["2031-05-04T10:00", "", ""], None, 0),
        (["", "", ""], None, 0),
    ],
)
def test_time_of_a_job(folder, times, expected, remarks):
    body = "".join(f"{a},{a + 1},quiet,{when}\n" for a, when in enumerate(times, 1))
    write(folder, "a.csv", body, "# map: tiny.yaml\npin_a,pin_b,reading,time\n")
    found = read_history(folder)
    minutes = found.jobs["minutes"].iloc[0]
    assert minutes == expected or (expected is None and minutes != minutes)
    assert len(found.remarks) == remarks
    assert len(summarise(found).time) == (expected is not None)


def broken_folder(folder: Path) -> dict[str, str]:
    """Broken files of many kinds, and a word that each one's message must hold."""
    write(folder, "pin.csv", "1,99,beep\n")
    write(folder, "word.csv", "1,2,bzzt\n")
    write(folder, "nomap.csv", "1,2,beep\n", "")
    write(folder, "path.csv", "1,2,beep\n", "# map: ../x.yaml\n")
    for name in ("unknown.csv", "unknown2.csv"):
        write(folder, name, "1,2,beep\n", "# meter: 10 250\n# map: no-such-map\n")
    write(folder, "meter.csv", "1,2,beep\n", "# map: tiny.yaml\n# meter: loud\n")
    write(folder, "layout.csv", "1,2,beep\n", "# map: tiny.yaml\n# layout: moon\n")
    write(folder, "empty.csv", "", "")
    (folder / "binary.csv").write_bytes(bytes(range(256)))
    (folder / "dangling.csv").symlink_to(folder / "nowhere")
    (folder / "folder.csv").mkdir()
    os.mkfifo(folder / "pipe.csv")
    return {
        "pin.csv": "unknown pin",
        "word.csv": "unknown reading",
        "nomap.csv": "no pin map",
        "path.csv": "path",
        "unknown.csv": "no pin map of that id",
        "unknown2.csv": "no pin map of that id",
        "meter.csv": "meter",
        "layout.csv": "no layout",
        "empty.csv": "empty",
        "binary.csv": "UTF-8",
        "dangling.csv": "not a file",
        "pipe.csv": "not a file",
    }


def test_broken_files_are_listed_and_the_rest_is_counted(folder):
    write(folder, "good.csv", CLEAR_TINY)
    (folder / "notes.txt").write_text("not a job")
    (folder / "sub").mkdir()
    (folder / "sub" / "tiny.yaml").write_text(TINY_YAML)
    write(folder / "sub", "good.CSV", CLEAR_TINY)
    expected = broken_folder(folder)
    found = read_history(folder)
    assert list(found.jobs["file"]) == ["good.csv", os.path.join("sub", "good.CSV")]
    told = {b.file: str(b.problems[0]) for b in found.broken}
    assert told.keys() == expected.keys()
    for name, word in expected.items():
        assert word in told[name] and told[name].startswith(name) and str(folder) not in told[name]
    assert told["unknown2.csv"].replace("unknown2", "unknown") == told["unknown.csv"]
    assert told["unknown.csv"].startswith("unknown.csv:2:")
    assert summarise(found).files == 2 + len(expected)


def test_maps_beside_jobs_are_not_mixed_up_between_folders(folder):
    write(folder, "a.csv", CLEAR_TINY)
    (folder / "sub").mkdir()
    (folder / "sub" / "tiny.yaml").write_text(TINY_YAML.replace("id: tiny", "id: other"))
    write(folder / "sub", "a.csv", CLEAR_TINY)
    assert list(read_history(folder).jobs["map"]) == ["tiny", "other"]


def test_a_folder_that_is_none_or_holds_nothing(folder):
    for name, word in (("nowhere", "no such folder"), ("tiny.yaml", "is a file"), (".", "no job files")):
        with pytest.raises(InputError, match=word):
            read_history(folder / name)


HOSTILE = "=cmd|x\x1b[2J\u202e<script>alert(1)</script>&.csv"


def test_hostile_names_and_notes_are_harmless_everywhere(folder):
    (folder / "evil.yaml").write_text(
        TINY_YAML.replace("id: tiny", "id: evil")
        .replace("[2]", '["<b>&"]')
        .replace("[1..7]", '["1", "<b>&", 3, 4, 5, 6, 7]')
    )
    name = HOSTILE.replace("/", "_")
    write(folder, name, '1,<b>&,beep,"=1+1 <script>\x1b[2J"\n', "# map: evil.yaml\npin_a,pin_b,reading,note\n")
    write(folder, "+broken\x1b]0;x\x07\n.csv", "1,<script>\x1b[2J\u202e" + "x" * 5000 + ",beep\n")
    (folder / os.fsdecode(b"\xff.csv")).write_text("# map: tiny.yaml\n" + CLEAR_TINY)
    found = read_history(folder)
    summary = summarise(found)
    assert len(found.jobs) == 2 and len(found.broken) == 1, found.broken
    text = "\n".join(history_lines(found, summary))
    assert all(line.isprintable() for line in text.split("\n")) and max(map(len, text.split("\n"))) < 300
    table = history_csv(found)
    cells = [cell for row in csv.reader(io.StringIO(table)) for cell in row]
    assert all(cell.isprintable() and cell[:1] not in tuple("=+-@\t\r") for cell in cells)
    assert any(cell.startswith("'=cmd") for cell in cells)
    svg = history_svg(found, summary)
    svg.encode("utf-8")
    root = ET.fromstring(svg)
    assert {element.tag.split("}")[1] for element in root.iter()} <= {
        "svg",
        "title",
        "desc",
        "style",
        "defs",
        "pattern",
        "rect",
        "text",
        "g",
    }
    assert "<b>& in evil" in "".join(root.itertext())
    data = json.loads(json.dumps(history_json(found, summary)))
    assert {job["file"] for job in data["jobs"]} >= {name}


def test_chart_has_every_bar_in_words(folder):
    write(folder, "a.csv", CLEAR_TINY)
    write(folder, "b.csv", CLEAR_TINY.replace("2,3,quiet", "2,3,beep").replace("@GND,7,beep", "@GND,7,quiet"))
    found = read_history(folder)
    root = ET.fromstring(history_svg(found, summarise(found)))
    space = "{http://www.w3.org/2000/svg}"
    assert root.get("role") == "img"
    ids = {root.find(space + "title").get("id"), root.find(space + "desc").get("id")}  # type: ignore[union-attr]
    assert set(root.get("aria-labelledby", "").split()) == ids
    texts = [t.text for t in root.iter(space + "text")]
    assert "tiny, row" in texts and "1 of 2 (50 %)" in texts
    assert {"2 in tiny, row", "3 in tiny, row", "7 in tiny, row", "open: 1 of 2 jobs"} <= set(texts)
    assert texts.count("bridge: 1 of 2 jobs") == 2
    half = next(r for r in root.iter(space + "rect") if r.get("class") == "pass")
    frame = next(r for r in root.iter(space + "rect") if r.get("class") == "frame")
    assert float(half.get("width", 0)) == pytest.approx(float(frame.get("width", 0)) / 2)


def run(*args: str):
    return CliRunner().invoke(command, args, catch_exceptions=False)


def test_the_command(folder):
    write(folder, "a.csv", CLEAR_TINY)
    write(folder, "b.csv", CLEAR_TINY.replace("2,3,quiet", "2,3,beep"))
    write(folder, "c.csv", "1,99,beep\n")
    done = run(str(folder))
    assert done.exit_code == 0 and "50" in done.stdout and "NOT READ\nc.csv:3: unknown pin '99'" in done.stdout
    done = run(str(folder), "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert [row["file"] for row in rows] == ["a.csv", "b.csv"] and tuple(rows[0]) == JOB_COLUMNS
    assert "not read: c.csv:3" in done.stderr
    done = run(str(folder), "--format", "json", "-o", str(folder / "chart.svg"))
    data = json.loads(done.stdout)
    assert data["first_pass"] == [
        {"map": "tiny", "layout": "row", "jobs": 2, "decided": 2, "passed": 1, "yield_percent": 50.0}
    ]
    assert data["jobs"][0]["minutes"] is None and data["broken"][0]["file"] == "c.csv"
    ET.parse(folder / "chart.svg")
    assert run(str(folder), "-o", str(folder / "chart.png")).exit_code == 2


def test_only_broken_files_is_exit_1_with_the_list(folder):
    write(folder, "c.csv", "1,99,beep\n")
    for form in ("text", "csv", "json"):
        done = run(str(folder), "--format", form, "-o", str(folder / "chart.svg"))
        assert done.exit_code == 1 and "unknown pin" in done.output
    ET.parse(folder / "chart.svg")


def test_importing_the_command_and_the_module_loads_nothing_heavy():
    code = (
        "import sys, connector_check.reports.history, connector_check.cli.history;"
        "print([m for m in ('pandas', 'numpy', 'tabulate') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stderr
