"""What all tests share: the groups that need more than Python (`tests/optional.py`), and how long hypothesis looks."""

from __future__ import annotations

import pytest
from hypothesis import settings

from tests.optional import demand, in_ci

settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
settings.register_profile("home", deadline=None)
settings.load_profile("ci" if in_ci() else "home")


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    for mark in item.iter_markers("needs"):
        for name in mark.args:
            demand(name)
