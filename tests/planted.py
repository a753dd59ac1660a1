"""Planting a defect in a function of the core: one piece of its code is written otherwise, whoever imported it.

A planted defect is caught by a check that holds with the rule in place and fails without it; `caught` shows both.
"""

from __future__ import annotations
import __future__

import ast
import inspect
import sys
import textwrap
from collections.abc import Callable, Sequence
from functools import cached_property
from types import CodeType, FunctionType
from typing import Any, NamedTuple

import pytest

from connector_check.analysis.obligations import obligations
from connector_check.analysis.result import Result
from connector_check.board.board import Board
from connector_check.pinout.library import find_pin_map
from connector_check.testlog.readings import Entry
from connector_check.testlog.rows import Row, entry_of
from tests.strategies import checked, log
from tests.test_verdict_holes import sound, without

ANALYSIS = "connector_check.analysis"
VGA = "vga-de15"
Check = Callable[[], bool]


class Defect(NamedTuple):
    """A rule switched off: which, how, and the check that must see it.

    plant: takes the rule away; holds: whether the job's answer is right, never by an exception.
    """

    rule: str
    plant: Callable[[pytest.MonkeyPatch], None]
    holds: Check


def caught(defect: Defect, monkeypatch: pytest.MonkeyPatch) -> bool:
    """Whether the check holds with the rule in place and fails once it is switched off."""
    right = defect.holds()
    defect.plant(monkeypatch)
    obligations.cache_clear()
    try:
        wrong = defect.holds()
    finally:
        monkeypatch.undo()
        obligations.cache_clear()
    return right and not wrong


def edit(function: Any, old: str, new: str) -> Callable[[pytest.MonkeyPatch], None]:
    """A plant: the function, method or property with `old`, which its code holds once, written as `new`."""
    plain = _plain(function)

    def plant(monkeypatch: pytest.MonkeyPatch) -> None:
        source = textwrap.dedent(inspect.getsource(plain))
        assert source.count(old) == 1, f"{plain.__qualname__} holds {old!r} {source.count(old)} times"
        monkeypatch.setattr(plain, "__code__", _code(plain, source.replace(old, new)))

    return plant


def swap(target: str, value: object) -> Callable[[pytest.MonkeyPatch], None]:
    """A plant: the name (`package.module.name`) stands for another value."""
    return lambda monkeypatch: monkeypatch.setattr(target, value)


def _plain(function: Any) -> FunctionType:
    if isinstance(function, property):
        function = function.fget
    elif isinstance(function, cached_property):
        function = function.func
    found = inspect.unwrap(function)
    assert isinstance(found, FunctionType)
    return found


def _code(function: FunctionType, source: str) -> CodeType:
    tree = ast.parse(source)
    (definition,) = tree.body
    assert isinstance(definition, ast.FunctionDef)
    definition.decorator_list = []
    names = dict(vars(sys.modules[function.__module__]))
    exec(compile(tree, function.__code__.co_filename, "exec", __future__.annotations.compiler_flag), names)
    made = names[definition.name]
    assert isinstance(made, FunctionType)
    return made.__code__


def judged(map_id: str, rows: Sequence[str], **settings: Any) -> Result:
    """The result of rows on a shipped map, everything asked for."""
    pin_map = find_pin_map(map_id)
    board = Board(pin_map, pin_map.layouts[0])
    entries = [entry_of(board, Row(*row.split(",")), line) for line, row in enumerate(rows, 2)]
    return checked(board, entries, **{"shorts_only": False, **settings})


def vga(*rows: str, gone: Sequence[str] = ()) -> Result:
    """The result of a sound VGA socket with these rows added and those of some pairs (`3-8`) gone."""
    return judged(VGA, [*without(sound(VGA), *gone), *rows])


def told(board: Board, text: str, *more: Entry, **settings: Any) -> Result:
    """The result of lines such as `1 2 beep` and further entries."""
    return checked(board, [*log(board, text), *more], **settings)
