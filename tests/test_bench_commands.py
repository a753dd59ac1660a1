"""`plan` and the line mode of `probe` at the command line."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from connector_check.analysis.obligations import obligations
from connector_check.board.board import Board
from connector_check.cli.commands import main
from connector_check.pinout.library import find_pin_map, list_ids
from tests.strategies import TINY_YAML, SimulatedBoard, tiny_board


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "tiny.yaml").write_text(TINY_YAML)
    return tmp_path


def run(*args: str, stdin: str | None = None):
    return CliRunner().invoke(main, args, input=stdin, catch_exceptions=False)


@pytest.mark.parametrize("map_id", ["hdmi-a", "usb-c-16", "vga-de15", "pcie-x16"])
def test_the_plan_of_a_new_board_is_the_certificate(map_id):
    done = run("plan", "--map", map_id, "--format", "json")
    found = json.loads(done.stdout)
    board = Board(find_pin_map(map_id), find_pin_map(map_id).layouts[0])
    needed = obligations(board, "near")
    assert done.exit_code == 0 and set(found) == {"touches", "placements", "bound"}
    wanted = (needed.joins, needed.contacts, needed.information, needed.isolation)
    assert len(found["touches"]) == sum(map(len, wanted))
    assert all(set(t) == {"a", "b", "why"} and t["why"] for t in found["touches"])
    assert found["placements"] <= 1.02 * found["bound"]


def test_the_plan_of_a_job_leaves_out_what_is_known(folder):
    (folder / "job.csv").write_text("# map: tiny.yaml\nGND,1,beep\nGND,4,beep\nGND,7,beep\n1,2,quiet\n")
    found = json.loads(run("plan", "job.csv", "--format", "json").stdout)
    # five quiets, the contact of 2, 3 and 5, and the metal of the shell, asked once
    assert len(found["touches"]) == 5 + 3 + 1
    text = run("plan", "job.csv").stdout
    assert "[ ]" in text and all(len(line) <= 80 for line in text.splitlines())
    assert run("plan").exit_code == 1


@pytest.mark.parametrize("map_id", list_ids())
def test_every_map_has_a_plan_on_paper(map_id):
    text = run("plan", "--map", map_id).stdout
    assert "unplugged" in text and all(len(line) <= 80 for line in text.splitlines())


def test_a_whole_job_on_lines_with_a_rework_round(folder):
    board = tiny_board()
    sim = SimulatedBoard(board, [(1, 2)])
    answers = ["beep", "beep"]
    # the program is asked what it wants, step by step, exactly as a person would be
    for _ in range(80):
        (folder / "job.csv").unlink(missing_ok=True)
        done = run("probe", "job.csv", "--map", "tiny.yaml", stdin="\n".join(answers) + "\n")
        last = done.stdout.split("USB")[0].split("a connector for the tests")[0].strip().splitlines()[-1]
        if last.startswith("done:"):
            break
        if last.startswith("rework:"):
            assert "between 2 and 3" in last
            answers.append("reworked all")
            sim = SimulatedBoard(board)
        elif last.startswith("lead check"):
            answers.append("beep")
        else:
            first = last.removeprefix("touch ").split(" ")[0].strip(":;,")
            other = (
                last.split("other lead ")[1]
                .removeprefix("stays on ")
                .removeprefix("on ")
                .split(" ")[0]
                .strip(":;,()[]")
            )
            pair = board.resolve(first), board.resolve(other)
            answers.append("beep" if sim.beeps(*pair) else "quiet")
    assert done.exit_code == 0 and "[ok] clear" in done.stdout
    assert "round 2" in done.stdout and "residual risk" in done.stdout
    again = run("check", "job.csv", "--format", "json")
    assert json.loads(again.stdout)["verdict"] == "clear"


def test_a_new_job_needs_a_map_and_a_bad_assumption_is_named(folder):
    done = run("probe", "new.csv", stdin="quit\n")
    assert done.exit_code == 1 and "give --map" in done.stderr and not (folder / "new.csv").exists()
    done = run("probe", "new.csv", "--map", "tiny.yaml", "--assume", "mis=1", stdin="quit\n")
    assert done.exit_code == 1 and "unknown 'mis'" in done.stderr
    assert run("probe", "new.csv", "--map", "tiny.yaml", "--keys", "beep=n", stdin="quit\n").exit_code == 2
