"""The user's own folders, where their system keeps such things: settings in one, data in the other.

They are named here and made only by what writes into them.
"""

from __future__ import annotations

from pathlib import Path

NAME = "connector-check"


def config_folder() -> Path:
    """The folder of the user's settings, `~/.config/connector-check` on most Linux systems; it may not be there."""
    from platformdirs import user_config_path

    return user_config_path(NAME, appauthor=False)


def data_folder() -> Path:
    """The folder of the user's own data, `~/.local/share/connector-check` on most Linux systems; it may not be
    there.
    """
    from platformdirs import user_data_path

    return user_data_path(NAME, appauthor=False)
