"""The table of reading words: what is derived from it, and that a row more is enough for reader, keys and help."""

from __future__ import annotations

import subprocess
import sys

import pytest
from click.testing import CliRunner

from connector_check.cli.commands import main
from connector_check.errors import InputError
from connector_check.probing.keys import ACTIONS, key_map
from connector_check.probing.probe import LINE_HELP, line_action
from connector_check.testlog import readings
from connector_check.testlog.readings import EVENTS, PRESSED, READINGS, WORDS, WORDS_HELP, parse_reading
from connector_check.testlog.rows import Row, entry_of
from tests.strategies import tiny_board

BOARD = tiny_board()
TAKEN = {
    readings.PAIR: [("1", "2")],
    readings.GROUND_PAIR: [("1", "2")],
    readings.JOINT_PAIR: [("1", "2")],
    readings.NO_PINS: [("", "")],
    readings.JOINTS: [("1", ""), ("1 2", "3"), ("1", "2")],
    readings.PAIR_OR_NONE: [("1", "2"), ("", "")],
    readings.ANY_PINS: [("1", "2"), ("1", ""), ("", "")],
}
ALL_PINS = [("1", "2"), ("1", "1"), ("2", "3"), ("1", ""), ("", "2"), ("", ""), ("1 2", "3")]


def written(word: readings.Word) -> str:
    return {readings.OHMS: "0.4", readings.VOLTS: "0.512 V"}.get(word.word, word.word)


@pytest.mark.parametrize("word", WORDS, ids=lambda word: word.word)
def test_a_word_takes_the_pins_that_its_row_says(word):
    assert parse_reading(written(word))[0] == word.word
    for pins in TAKEN[word.pins]:
        assert entry_of(BOARD, Row(*pins, written(word))).kind == word.word


@pytest.mark.parametrize("pins", ALL_PINS)
@pytest.mark.parametrize("word", WORDS, ids=lambda word: word.word)
def test_a_word_refuses_other_pins(word, pins):
    allowed = {
        readings.PAIR: [("1", "2"), ("2", "3")],
        readings.GROUND_PAIR: [("1", "2")],
        readings.JOINT_PAIR: [("1", "2"), ("2", "3")],
        readings.NO_PINS: [("", "")],
        readings.JOINTS: [pins for pins in ALL_PINS if pins != ("", "")],
        readings.PAIR_OR_NONE: [pins for pins in ALL_PINS if pins not in [("1", ""), ("", "2")]],
        readings.ANY_PINS: ALL_PINS,
    }[word.pins]
    try:
        entry_of(BOARD, Row(*pins, written(word)))
    except InputError:
        assert pins not in allowed
    else:
        assert pins in allowed


def test_readings_and_events_are_the_whole_table():
    assert sorted((*READINGS, *EVENTS)) == sorted(word.word for word in WORDS)
    assert all(word.word in WORDS_HELP for word in WORDS)
    assert all(parse_reading(f"taken back {word}") == ("taken back", None, word) for word in READINGS)
    assert not any(parse_reading(f"taken back {word}") for word in EVENTS)


def test_keys_lines_and_help_know_every_word_of_one_keystroke():
    done = CliRunner().invoke(main, ["probe", "--help"])
    shown = " ".join(done.stdout.split())
    for word in PRESSED:
        assert key_map()[word.key] == word.word and ACTIONS[word.word] == word.key
        assert line_action(word.word) == line_action(word.key) == (word.word, "")
        assert word.word in LINE_HELP and f"{word.key} {word.word}" in shown
    assert (
        "b beep, n quiet (no tone), c chirp, u unsure, e seen clear (looked at under magnification), s skip" in shown
        and "j jump to a pin" in shown
    )


ADDED = """
import sys, types
from pathlib import Path
import connector_check.testlog
name = "connector_check.testlog.readings"
path = Path(connector_check.testlog.__file__).with_name("readings.py")
row = '    Word(UNSURE, PAIR, key="u"),\\n'
source = path.read_text()
assert source.count(row) == 1
module = types.ModuleType(name)
sys.modules[name] = module
exec(source.replace(row, row + '    Word("faint", PAIR, key="f", first="as it were"),\\n'), module.__dict__)

from click.testing import CliRunner
from connector_check.cli.commands import main
from connector_check.probing.keys import key_map
from connector_check.probing.probe import LINE_HELP, line_action
from connector_check.probing.session import Session
from connector_check.testlog.jobfile import decode, parse
from tests.strategies import tiny_board

board = tiny_board()
read = parse(decode(b"1,4,faint\\n1,4,taken back faint\\n", ""), board)
assert [entry.kind for entry in read] == ["faint", "taken back"]
assert key_map()["f"] == "faint" and line_action("f") == line_action("faint") == ("faint", "")
assert "faint" in LINE_HELP and "f faint" in CliRunner().invoke(main, ["probe", "--help"]).stdout
session = Session(board, [])
session.accept(session.entries_of(session.answer("beep")))
session.accept(session.entries_of(session.answer("beep")))
assert [entry.kind for entry in session.entries_of(session.answer("faint"))] == ["faint"]
print("enough")
"""


def test_a_row_more_in_the_table_is_enough_for_reader_session_keys_and_help():
    """What it means, whether it joins or parts, is then the second and last place: the analysis."""
    path = f"import sys; sys.path[:0] = {[p for p in sys.path if p]!r}\n"
    done = subprocess.run([sys.executable, "-c", path + ADDED], capture_output=True, text=True)
    assert done.stdout.strip() == "enough", done.stderr
