"""How many planted bugs the tests see: one change at a time in the modules of the core, and the tests that cover it.

    python -m tests.bench.mutate [--files board/harm.py ...] [--seconds N] [--jobs 2] [--seed S]

A first run of the tests traces which of them walk over which line, and how long each takes; it is kept in `.mutation/`
until a file changes. Then each mutant runs in a forked process that loads the changed module in place of the real one,
against the tests that cover its line: those named after the module first, then quick ones, up to a few seconds. A test
that takes too long counts as having seen it. With --seconds a sample is taken, by seed. Mutants that mean the same as
the code are named with the reason in `equivalent.yaml`. POSIX only.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib
import importlib.abc
import importlib.util
import inspect
import json
import os
import random
import resource
import signal
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from importlib.machinery import ModuleSpec
from math import ceil
from pathlib import Path
from types import CodeType, FrameType, ModuleType
from typing import Any, NamedTuple

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import hypothesis
import numpy as np  # noqa: F401  (loaded once here, so that no forked process has to)
import pytest
import yaml

from tests.bench.mutants import Mutant, mutants, mutated

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "connector_check"
CORE = ("analysis", "board")
KEPT = ROOT / ".mutation"
EQUIVALENT = Path(__file__).with_name("equivalent.yaml")
LEFT_OUT = (
    "test_about_setup",
    "test_code_style",
    "test_completion",
    "test_hostile_text",
    "test_imports",
    "test_jobwriter",
    "test_map_roles",
    "test_maps_against",
    "test_mutants",
    "test_optional",
    "test_packaging",
    "test_probe_killed",
    "test_probe_terminal",
    "test_public_names",
    "test_report_browser",
    "test_speech",
    "test_docs",
    "test_new_map",
    "test_kicad",
    "test_map_search",
    "test_package_order",
    "test_keys",
    "test_simulated",
    "test_planted",
    "test_populated",
    "test_roles",
    "test_pinmap",
)
"""Test files that look at other things than the core, look at it through other processes, or simulate at length."""

TEST_SECONDS = 4.0
"""A test that computes longer, while it is traced, is only asked where no other covers the line."""
MUTANT_SECONDS = 12.0
"""The tests asked about one mutant computed this long together, at most, while they were traced."""
WAITING = 20
"""A test may wait so many times as long as it may compute."""
BROKEN = 70
"""The exit code of a process that could not even ask the tests."""
KILLED, TIMEOUT, SURVIVED, UNCOVERED, SAME = "killed", "timeout", "survived", "uncovered", "equivalent"


class Covering(NamedTuple):
    """seconds: of each test; lines: the tests that walk over a line, by file and line."""

    seconds: dict[str, float]
    lines: dict[str, dict[int, set[str]]]

    def tests(self, mutant: Mutant) -> list[str]:
        """The tests to ask about a mutant; those that cover its module where its line runs at import alone."""
        lines = self.lines.get(mutant.file, {})
        found = lines.get(mutant.line) or {test for tests in lines.values() for test in tests}
        stem = f"test_{Path(mutant.file).stem}"
        order = sorted(found, key=lambda test: (stem not in test, self.seconds[test], test))
        quick = [test for test in order if self.seconds[test] <= TEST_SECONDS] or order[:1]
        chosen, spent = [], 0.0
        for test in quick:
            spent += self.seconds[test]
            if chosen and spent > MUTANT_SECONDS:
                break
            chosen.append(test)
        return sorted(chosen, key=lambda test: stem not in test)


class Tracer:
    """A pytest plugin that notes which tests walk over which lines of the files, and how long each takes."""

    def __init__(self, files: Sequence[str]) -> None:
        self.file_of = {str(PACKAGE / file): file for file in files}
        self.seconds: dict[str, float] = {}
        self.lines: dict[str, dict[int, set[str]]] = {file: defaultdict(set) for file in files}
        self._known: dict[CodeType, str | None] = {}
        self._seen: set[tuple[str, int]] = set()

    def _enter(self, frame: FrameType, event: str, arg: object) -> Callable[..., Any] | None:
        code = frame.f_code
        if code not in self._known:
            # what runs at import runs within whichever test imports it first, and concerns all that use the module
            at_import = not code.co_flags & inspect.CO_OPTIMIZED
            self._known[code] = None if at_import else self.file_of.get(code.co_filename)
        file = self._known[code]
        if file is None:
            return None

        def line(inner: FrameType, event: str, arg: object) -> Callable[..., Any]:
            self._seen.add((file, inner.f_lineno))
            return line

        self._seen.add((file, frame.f_lineno))
        return line

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_call(self, item: pytest.Item) -> Iterator[None]:
        self._seen = set()
        sys.settrace(self._enter)
        start = time.process_time()
        yield
        sys.settrace(None)
        self.seconds[item.nodeid] = time.process_time() - start
        for file, line in self._seen:
            self.lines[file][line].add(item.nodeid)


class Profile:
    """A pytest plugin: hypothesis looks at the same examples each time, and does not shrink what it finds."""

    @pytest.hookimpl(trylast=True)
    def pytest_configure(self, config: pytest.Config) -> None:
        phases = (hypothesis.Phase.explicit, hypothesis.Phase.generate)
        hypothesis.settings.register_profile(
            "mutation", deadline=None, derandomize=True, database=None, phases=phases, max_examples=50
        )
        hypothesis.settings.load_profile("mutation")


class Planted(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Loads one module with the mutant in it."""

    def __init__(self, name: str, path: Path, code: CodeType) -> None:
        self.name, self.path, self.code = name, path, code

    def find_spec(self, name: str, path: object, target: ModuleType | None = None) -> ModuleSpec | None:
        """The module itself, and nothing else."""
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def exec_module(self, module: ModuleType) -> None:
        """Run the changed code as the module."""
        exec(self.code, module.__dict__)


def _pytest(arguments: Sequence[str], *plugins: object) -> int:
    base = [
        "-x",
        "-q",
        "-p",
        "no:cacheprovider",
        "-p",
        "no:xdist",
        "-p",
        "no:faulthandler",
        "--no-header",
        "-W",
        "ignore",
    ]
    return int(pytest.main([*base, *arguments], plugins=[Profile(), *plugins]))


def _forked(work: Callable[[], int], seconds: float = 60.0) -> int:
    """The id of a process of its own group that does the work, silently, and exits with its result; it dies after so
    many seconds of computing.
    """
    child = os.fork()
    if child:
        return child
    code = BROKEN
    try:
        os.setpgid(0, 0)
        resource.setrlimit(resource.RLIMIT_CPU, (ceil(seconds), ceil(seconds) + 1))
        null = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(null, stream)
        code = work()
    finally:
        os._exit(code)


def _run_all(jobs: int, works: Iterator[tuple[Any, Callable[[], int], float]]) -> Iterator[tuple[Any, int | None]]:
    """Do works in that many processes; gives each key with its exit code, or None where it took too long. Each work
    comes with the seconds of computing that it may take; on a busy machine it may wait for them a good while.
    """
    running: dict[int, tuple[Any, float]] = {}
    waiting = iter(works)
    more = True
    while more or running:
        while more and len(running) < jobs:
            try:
                key, work, seconds = next(waiting)
            except StopIteration:
                more = False
                break
            running[_forked(work, seconds)] = key, time.monotonic() + WAITING * seconds
        for child, (key, until) in list(running.items()):
            done, status = os.waitpid(child, os.WNOHANG)
            if done:
                del running[child]
                code = os.waitstatus_to_exitcode(status)
                yield key, None if code == -signal.SIGXCPU else code
            elif time.monotonic() > until:
                os.killpg(child, signal.SIGKILL)
                os.waitpid(child, 0)
                del running[child]
                yield key, None
        time.sleep(0.005)


def cover(files: Sequence[str], jobs: int, names: Sequence[str] = ()) -> Covering:
    """Which tests cover which lines of the files: traced anew where a source or a test has changed.

    names: the test files to ask, such as `test_harm`; without any, all but those left out.
    """
    test_files = [
        path
        for path in sorted((ROOT / "tests").glob("test_*.py"))
        if (path.stem in names if names else not path.stem.startswith(LEFT_OUT))
    ]
    read = [*sorted(PACKAGE.rglob("*.py")), *sorted((ROOT / "tests").glob("*.py"))]
    state = hashlib.sha256(b"".join(path.read_bytes() for path in read) + repr((files, names)).encode()).hexdigest()
    KEPT.mkdir(exist_ok=True)
    kept = KEPT / "covering.json"
    if kept.is_file() and (old := json.loads(kept.read_text()))["state"] == state:
        told = old["covering"]
    else:
        told = _traced(files, test_files, jobs)
        kept.write_text(json.dumps({"state": state, "covering": told}))
    lines = {
        file: {int(line): set(tests) for line, tests in by_line.items()} for file, by_line in told["lines"].items()
    }
    return Covering(told["seconds"], lines)


def _traced(files: Sequence[str], test_files: Sequence[Path], jobs: int) -> dict[str, Any]:
    def trace(path: Path) -> int:
        tracer = Tracer(files)
        code = _pytest([str(path)], tracer)
        lines = {
            file: {line: sorted(tests) for line, tests in by_line.items()} for file, by_line in tracer.lines.items()
        }
        (KEPT / f"{path.stem}.json").write_text(json.dumps({"seconds": tracer.seconds, "lines": lines}))
        return code

    print(f"tracing {len(test_files)} test files", flush=True)
    works = ((path, lambda path=path: trace(path), 600.0) for path in test_files)
    for path, code in _run_all(jobs, works):
        if code:
            sys.exit(f"{path.name} does not pass without a mutant (exit code {code})")
    found: dict[str, Any] = {"seconds": {}, "lines": {file: defaultdict(list) for file in files}}
    for path in test_files:
        part = json.loads((KEPT / f"{path.stem}.json").read_text())
        (KEPT / f"{path.stem}.json").unlink()
        found["seconds"] |= part["seconds"]
        for file, by_line in part["lines"].items():
            for line, tests in by_line.items():
                found["lines"][file][line] += tests
    return found


def _unload() -> None:
    """Forget the package and its tests, so that a process which had them loaded loads them with the mutant."""
    for name in list(sys.modules):
        if name.partition(".")[0] in ("connector_check", "tests") and not name.startswith("tests.bench"):
            del sys.modules[name]


def _module(file: str) -> str:
    return "connector_check." + file.removesuffix(".py").replace("/", ".")


def _constants(file: str) -> dict[str, object]:
    """The names of a module with their values, found in a process of its own, so that this one never loads it."""
    reading, writing = os.pipe()

    def tell() -> int:
        known = vars(importlib.import_module(_module(file)))
        told = {name: value for name, value in known.items() if isinstance(value, str) and name.isupper()}
        with os.fdopen(writing, "w") as pipe:
            json.dump(told, pipe)
        return 0

    child = _forked(tell)
    os.close(writing)
    with os.fdopen(reading) as pipe:
        found: dict[str, object] = json.load(pipe)
    os.waitpid(child, 0)
    return found


def known_same() -> set[tuple[str, str, str]]:
    """File, code and change of the mutants that mean the same as the code."""
    entries = yaml.safe_load(EQUIVALENT.read_text(encoding="utf-8")) or []
    return {(entry["file"], entry["code"], entry["what"]) for entry in entries if entry["why"]}


def run(
    files: Sequence[str], jobs: int, seconds: float | None, seed: int, names: Sequence[str] = ()
) -> list[tuple[Mutant, str]]:
    """Each mutant of the files with its fate; a sample where the seconds do not suffice for all."""
    constants = {file: _constants(file) for file in files}
    sources = {file: (PACKAGE / file).read_text(encoding="utf-8") for file in files}
    covering = cover(files, jobs, names)
    same = known_same()
    every = [mutant for file in files for mutant in mutants(sources[file], file, constants[file])]
    if seconds is not None:
        random.Random(seed).shuffle(every)
    fates = {m: SAME for m in every if (m.file, m.code, m.what) in same}
    until = time.monotonic() + seconds if seconds is not None else float("inf")

    def plant(mutant: Mutant, tests: Sequence[str]) -> int:
        tree = mutated(sources[mutant.file], mutant, constants[mutant.file])
        code = compile(tree, str(PACKAGE / mutant.file), "exec")
        _unload()
        sys.meta_path.insert(0, Planted(_module(mutant.file), PACKAGE / mutant.file, code))
        return _pytest(tests)

    def works() -> Iterator[tuple[Mutant, Callable[[], int], float]]:
        for mutant in every:
            tests = covering.tests(mutant)
            if time.monotonic() > until:
                return
            if mutant in fates:
                continue
            if not tests:
                fates[mutant] = UNCOVERED
                continue
            most = 8.0 + 4 * sum(covering.seconds[test] for test in tests)
            yield mutant, lambda mutant=mutant, tests=tests: plant(mutant, tests), most

    for mutant, code in _run_all(jobs, works()):
        if code == BROKEN:
            raise RuntimeError(f"no mutant could be made: {mutant}")
        fates[mutant] = TIMEOUT if code is None else SURVIVED if code == 0 else KILLED
    return [(mutant, fates[mutant]) for mutant in every if mutant in fates]


def report(found: Sequence[tuple[Mutant, str]]) -> list[str]:
    """The survivors, and for each file and all together how many of the mutants that matter were seen."""
    lines = [
        f"connector_check/{m.file}:{m.line}: {m.what}   [{m.code}]"
        + (" (no test walks here)" if fate == UNCOVERED else "")
        for m, fate in sorted(found)
        if fate in (SURVIVED, UNCOVERED)
    ]
    lines.append(
        f"{'file':32} {'mutants':>8} {'killed':>7} {'timeout':>8} {'survived':>9} {'equivalent':>11} {'rate':>7}"
    )
    files = sorted({mutant.file for mutant, _ in found})
    for name, chosen in [(file, {file}) for file in files] + [("all", set(files))]:
        count = Counter(fate for mutant, fate in found if mutant.file in chosen)
        alive, seen = count[SURVIVED] + count[UNCOVERED], count[KILLED] + count[TIMEOUT]
        rate = f"{100 * seen / (seen + alive):.1f} %" if seen + alive else "-"
        killed, late = seen - count[TIMEOUT], count[TIMEOUT]
        lines.append(f"{name:32} {count.total():8} {killed:7} {late:8} {alive:9} {count[SAME]:11} {rate:>7}")
    return lines


def core_files() -> list[str]:
    """The modules that are mutated when none is named."""
    return sorted(
        path.relative_to(PACKAGE).as_posix()
        for package in CORE
        for path in (PACKAGE / package).glob("*.py")
        if path.stem != "__init__"
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """0 where every mutant was seen or is known to be the same."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.mutate", description="The kill rate of the tests.")
    parser.add_argument("--files", nargs="+", metavar="board/harm.py", help="modules, within connector_check/")
    parser.add_argument("--seconds", type=float, help="take a sample that needs about this long")
    parser.add_argument("--tests", nargs="+", default=(), metavar="test_harm", help="ask these test files only")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args(arguments)
    files = asked.files or core_files()
    for file in files:
        if not (PACKAGE / file).is_file():
            parser.error(f"no module connector_check/{file}")
    os.chdir(ROOT)
    start = time.monotonic()
    found = run(files, asked.jobs, asked.seconds, asked.seed, asked.tests)
    print("\n".join(report(found)))
    print(f"{time.monotonic() - start:.0f} s, {asked.jobs} jobs, seed {asked.seed}")
    return int(any(fate in (SURVIVED, UNCOVERED) for _, fate in found))


if __name__ == "__main__":
    sys.exit(main())
