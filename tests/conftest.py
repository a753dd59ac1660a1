"""What all tests share: the groups that need more than Python (`tests/optional.py`), and how long hypothesis looks."""

from __future__ import annotations

from collections.abc import Iterator

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


@pytest.fixture(autouse=True, scope="session")
def empty_user_folders(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test sees the meter or the maps of who runs it, neither here nor in a process that it starts."""
    home = tmp_path_factory.mktemp("user")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CONFIG_HOME", str(home / "config"))
        patch.setenv("XDG_DATA_HOME", str(home / "data"))
        for name in ("CONNECTOR_CHECK_HOME", "CONNECTOR_CHECK_METER", "CONNECTOR_CHECK_MAPS", "CONNECTOR_CHECK_KEYS"):
            patch.delenv(name, raising=False)
        yield
