"""Shell completion of map ids, layouts, variants and pins; and one pin told in full."""

from __future__ import annotations

import pytest
from click.shell_completion import BashComplete
from click.testing import CliRunner

from connector_check.cli.commands import main


def completions(*args: str) -> list[str]:
    *before, last = args
    return [item.value for item in BashComplete(main, {}, "connector-check", "_X").get_completions(before, last)]


@pytest.mark.parametrize(
    ("args", "some"),
    [
        (["show", "usb-c"], ["usb-c-16", "usb-c-24", "usb-c-6p"]),
        (["check", "job.csv", "--map", "hdmi"], ["hdmi-a", "hdmi-c", "hdmi-d"]),
        (["check", "job.csv", "--map", "usb-c-16", "--layout", ""], ["smt-row", "through-rows"]),
        (["show", "hdmi-a", "--variant", "h"], ["hdmi-1.3", "heac"]),
        (["show", "usb-c-16", "--pin", "A1"], ["A1", "A12", "A1B12"]),
        (["show", "nothing-here", "--pin", "A"], []),
    ],
)
def test_completion(args, some):
    assert completions(*args) == some


def test_one_pin_in_full():
    text = CliRunner().invoke(main, ["show", "usb-c-16", "--pin", "B5"], catch_exceptions=False).stdout
    assert "net CC2, data, 3rd from the right" in text
    assert "0.25 mm to B4A9 (VBUS): a bridge is damage" in text
    done = CliRunner().invoke(main, ["show", "usb-c-16", "--pin", "C5"])
    assert done.exit_code == 1 and "unknown pin 'C5'" in done.stderr
