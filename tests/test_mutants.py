"""The mutants: each changes what it says and nothing else, and the run tells seen from unseen."""

from __future__ import annotations

import ast

import pytest
import yaml

from tests.bench.mutants import mutants, mutated

pytest.importorskip("resource", reason="the run forks: POSIX")

CODE = '''
"""A docstring with good in it."""
from typing import TYPE_CHECKING
GOOD = "good"
BAD = "bad"
if TYPE_CHECKING:
    LOW = 1

def judge(a: int = 1, *, b: "int" = 2) -> str:
    """Not this one."""
    if a < 3 and not b:
        return GOOD
    total = [x for x in range(a) if x > 1]
    total.append(min(a, b) + 2)
    return BAD if any(total) else "may"
'''
CONSTANTS = {"GOOD": "good", "BAD": "bad"}


def test_every_kind_of_change_is_made():
    assert sorted((m.line, m.what) for m in mutants(CODE, "x.py", CONSTANTS)) == sorted(
        [
            (4, "'good' becomes 'good?'"),
            (5, "'bad' becomes 'bad?'"),
            (9, "1 becomes 2"),
            (9, "1 becomes 0"),
            (9, "2 becomes 3"),
            (9, "2 becomes 1"),
            (11, "a < 3 and (not b) becomes its opposite"),
            (11, "without the statement if a < 3 and (not b):"),
            (11, "becomes or"),
            (11, "without a < 3"),
            (11, "without not b"),
            (11, "< becomes <="),
            (11, "< becomes >="),
            (11, "not b loses its not"),
            (11, "3 becomes 4"),
            (11, "3 becomes 2"),
            (12, "returns None, not GOOD"),
            (12, "GOOD becomes BAD"),
            (13, "without the filter x > 1"),
            (13, "> becomes >="),
            (13, "> becomes <="),
            (13, "1 becomes 2"),
            (13, "1 becomes 0"),
            (14, "without the statement total.append(min(a, b) + 2)"),
            (14, ".append becomes .count"),
            (14, "+ becomes -"),
            (14, "min becomes max"),
            (14, "2 becomes 3"),
            (14, "2 becomes 1"),
            (15, "returns None, not BAD if any(total) else 'may'"),
            (15, "any(total) becomes its opposite"),
            (15, "any becomes all"),
            (15, "BAD becomes GOOD"),
            (15, "'may' becomes 'may?'"),
        ]
    )


def test_each_mutant_differs_from_the_code_in_its_own_way_and_compiles():
    made = [ast.unparse(mutated(CODE, m, CONSTANTS)) for m in mutants(CODE, "x.py", CONSTANTS)]
    assert len(set(made)) == len(made) and ast.unparse(ast.parse(CODE)) not in made
    for text in made:
        compile(text, "x.py", "exec")


def test_a_run_names_what_no_test_sees(capsys):
    from tests.bench.mutate import SURVIVED, core_files, report

    assert {"board/harm.py", "analysis/check.py"} <= set(core_files())
    every = mutants(CODE, "x.py", CONSTANTS)[:3]
    lines = report([(every[0], "killed"), (every[1], SURVIVED), (every[2], "equivalent")])
    assert lines[0] == "connector_check/x.py:5: 'bad' becomes 'bad?'   [BAD = \"bad\"]"
    assert lines[-1].split() == ["all", "3", "1", "0", "1", "1", "50.0", "%"]


def test_a_mutant_of_the_real_code_is_killed_by_the_tests_beside_it(monkeypatch, tmp_path):
    """Two of them, in forked processes: one that a test sees, and the same asked of a test that looks elsewhere."""
    from tests.bench import mutate

    file = "board/network.py"
    source = (mutate.PACKAGE / file).read_text(encoding="utf-8")
    chosen = next(m for m in mutants(source, file, {}) if m.what == "<= becomes <" and "ohms <= 0" in m.code)

    def fate(test: str) -> str:
        covering = mutate.Covering({test: 0.1}, {file: {chosen.line: {test}}})
        monkeypatch.setattr(mutate, "cover", lambda *given: covering)
        monkeypatch.setattr(mutate, "mutants", lambda *given: [chosen])
        return dict(mutate.run([file], 1, None, 0))[chosen]

    assert fate("tests/test_network.py::test_zero_ohm_joins_nodes") == mutate.KILLED
    assert fate("tests/test_keys.py") == mutate.SURVIVED


def test_each_mutant_that_is_said_to_be_the_same_is_one_of_the_code_and_has_a_reason():
    from tests.bench import mutate

    entries = yaml.safe_load(mutate.EQUIVALENT.read_text(encoding="utf-8")) or []
    for entry in entries:
        assert set(entry) == {"file", "code", "what", "why"} and len(entry["why"]) > 20
        code = [line.strip() for line in (mutate.PACKAGE / entry["file"]).read_text(encoding="utf-8").splitlines()]
        assert entry["code"] in code, entry
