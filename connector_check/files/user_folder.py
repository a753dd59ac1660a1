"""The user's own folders: what they configured, and what the program keeps for them.

`CONNECTOR_CHECK_HOME` names one folder for both, so that a workshop can share it and a test has its own.
"""

from __future__ import annotations

import os
from pathlib import Path

HOME_VARIABLE = "CONNECTOR_CHECK_HOME"
NAME = "connector-check"


def config_folder() -> Path:
    """Where the user's configuration lies, by the custom of the system; it need not exist."""
    from platformdirs import user_config_path

    return _home() or user_config_path(NAME, appauthor=False)


def data_folder() -> Path:
    """Where data is kept for the user, by the custom of the system; it need not exist."""
    from platformdirs import user_data_path

    return _home() or user_data_path(NAME, appauthor=False)


def _home() -> Path | None:
    named = os.environ.get(HOME_VARIABLE)
    return Path(named).expanduser() if named else None
