"""`show --face` and `--solder` at the command line: terminal, SVG, states of a job."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from connector_check.cli.commands import main
from connector_check.pinout.library import find_pin_map, list_ids

EXAMPLE = str(Path(__file__).resolve().parents[1] / "examples" / "village-workshop-vga.csv")


def run(*args: str):
    return CliRunner().invoke(main, ["show", *args], catch_exceptions=False)


@pytest.mark.parametrize("map_id", list_ids())
def test_every_map_draws_its_joints_in_80_plain_columns(map_id):
    done = run(map_id, "--solder", "--ascii")
    assert done.exit_code == 0
    assert all(len(line) <= 80 for line in done.stdout.splitlines())
    done.stdout.encode("ascii")
    assert "Component side" in done.stdout
    for joint in find_pin_map(map_id).layouts[0].joints:
        assert joint.name in done.stdout


def test_face_and_solder_side_together_and_apart():
    both = run("usb-c-16", "--face", "--solder", "--side", "solder").stdout
    assert "looking into the mouth" in both and "Solder side" in both
    assert run("trs-3.5", "--face").exit_code == 1


def test_svg_of_a_job_shows_states(tmp_path):
    out = tmp_path / "x.svg"
    first = tmp_path / "round1.csv"
    first.write_text("\n".join(Path(EXAMPLE).read_text().splitlines()[:38]) + "\n")
    done = run("vga-de15", "--solder", "--job", str(first), "-o", str(out))
    assert done.exit_code == 0 and done.stdout == ""
    text = out.read_text(encoding="utf-8")
    ElementTree.fromstring(text)
    assert "shorted" in text and "9 - 10" in text and "proven" in text
    assert "[x]" not in run("vga-de15", "--face", "--job", EXAMPLE).stdout


def test_usage():
    assert run("vga-de15", "-o", "x.svg").exit_code == 2
    assert run("vga-de15", "--face", "--solder", "-o", "x.svg").exit_code == 2
    assert run("vga-de15", "--solder", "--layout", "none").exit_code == 1
