"""connector-check: continuity checks of a freshly soldered connector, from pin map and meter readings.

What a program needs is named in `__all__` and imported from here; everything deeper may move. Names load at their first
use, so that `import connector_check` alone costs nothing.

>>> from connector_check import check, load_job
>>> check(load_job("examples/village-workshop-vga.csv")).verdict
'clear'
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from connector_check.analysis.check import Settings, check
    from connector_check.analysis.result import (
        BridgeSite,
        ConflictSet,
        Count,
        Difference,
        DiodeFinding,
        Doubt,
        Harmless,
        Leak,
        Ledger,
        Measure,
        Open,
        Parts,
        Record,
        Result,
        ReworkStep,
        Short,
        StripLine,
    )
    from connector_check.errors import InputError, Problem
    from connector_check.job import load_job
    from connector_check.pinout.library import find_pin_map, list_ids
    from connector_check.pinout.pinmap import PinMap
    from connector_check.testlog.job import GoodBoard, Job
    from connector_check.version import __version__

__all__ = [
    "BridgeSite",
    "ConflictSet",
    "Count",
    "Difference",
    "DiodeFinding",
    "Doubt",
    "GoodBoard",
    "Harmless",
    "InputError",
    "Job",
    "Leak",
    "Ledger",
    "Measure",
    "Open",
    "Parts",
    "PinMap",
    "Problem",
    "Record",
    "Result",
    "ReworkStep",
    "Settings",
    "Short",
    "StripLine",
    "__version__",
    "check",
    "find_pin_map",
    "list_ids",
    "load_job",
]

_HOMES = {
    "GoodBoard": "testlog.job",
    "InputError": "errors",
    "Job": "testlog.job",
    "PinMap": "pinout.pinmap",
    "Problem": "errors",
    "Settings": "analysis.check",
    "__version__": "version",
    "check": "analysis.check",
    "find_pin_map": "pinout.library",
    "list_ids": "pinout.library",
    "load_job": "job",
}
"""Where a promised name lives; those not listed are records of the result."""


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES.get(name, 'analysis.result')}"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
