"""A program that uses only what `connector_check` promises; mypy reads it with the package and must see every type."""

from __future__ import annotations

from typing import assert_type

from connector_check import (
    GoodBoard,
    InputError,
    Job,
    PinMap,
    Problem,
    Result,
    Settings,
    __version__,
    check,
    find_pin_map,
    load_job,
)


def judge(name: str) -> Result | list[Problem]:
    """The result of a job file, or what is wrong with it."""
    try:
        job = load_job(name)
    except InputError as error:
        return assert_type(error.problems, list[Problem])
    assert_type(job, Job)
    assert_type(load_job(name, like=["good.csv", "scale"]).good_boards, tuple[GoodBoard, ...])
    assert_type(find_pin_map("usb-c-16"), PinMap)
    assert_type(__version__, str)
    return assert_type(check(job, Settings(scope="wide")), Result)
