"""An unknown port is found by what can be seen and measured."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from connector_check.cli.commands import main
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.pinout.search import search

MAPS = [find_pin_map(map_id) for map_id in list_ids()]


def ids(**wanted):
    return {m.id for m in search(MAPS, **wanted)}


@pytest.mark.parametrize(
    ("wanted", "found", "not_found"),
    [
        ({"words": "hdmi"}, {"hdmi-a", "hdmi-c", "hdmi-d"}, {"displayport", "usb-c-16"}),
        ({"words": "usb Micro"}, {"usb-micro-b"}, {"usb-c-16", "usb-a-2"}),
        ({"pins": 19, "pitch_mm": 0.5}, {"hdmi-a"}, {"displayport", "hdmi-c"}),
        ({"pins": 12, "pitch_mm": 0.5}, {"usb-c-16"}, {"usb-c-24"}),
        ({"words": "txd rxd", "pins": 9}, {"de9-rs232-dte"}, {"de9-can"}),
        ({"pitch_mm": 2.77}, {"de9-rs232-dte", "de9-can"}, {"vga-de15"}),
    ],
)
def test_search(wanted, found, not_found):
    got = ids(**wanted)
    assert found <= got and not got & not_found


def test_the_command_and_its_report_of_sources():
    run = CliRunner().invoke
    assert "hdmi-a" in run(main, ["maps", "--pins", "19", "--pitch", "0.5"]).stdout
    assert "no pin map fits" in run(main, ["maps", "--find", "zzz"]).stdout
    text = run(main, ["maps", "--sources"]).stdout
    for pin_map in MAPS:
        block = text.split(f"{pin_map.id}: {pin_map.title}\n")[1].split("\n\n")[0]
        for source in pin_map.sources:
            assert source.document in block
        for layout in pin_map.layouts:
            assert layout.source in block


def test_lint_reports_all_files_at_once(tmp_path):
    from tests.strategies import TINY_YAML

    (tmp_path / "good.yaml").write_text(TINY_YAML)
    (tmp_path / "bad.yaml").write_text(TINY_YAML.replace("role: data", "role: date"))
    (tmp_path / "worse.yaml").write_text("id: &x 1")
    names = [str(tmp_path / n) for n in ("good.yaml", "bad.yaml", "worse.yaml")]
    done = CliRunner().invoke(main, ["lint", *names])
    assert done.exit_code == 1
    assert "good.yaml: good, tiny, 8 contacts" in done.stdout
    assert "bad.yaml:8: 'role: date'" in done.stderr and "worse.yaml:1: a YAML anchor" in done.stderr
    assert CliRunner().invoke(main, ["lint", names[0]]).exit_code == 0
