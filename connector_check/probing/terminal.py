"""Single keys from a terminal for a whole session, with nothing typed ahead lost.

The terminal stays in single-key mode between keys (switching it for each key would throw away what was typed
meanwhile). Ctrl-C and suspending work as usual. On Windows click reads the keys.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator

import click


class KeyTerminal:
    """Keys and typed lines from stdin; use it as a context manager."""

    def __init__(self) -> None:
        try:
            import termios
        except ImportError:
            self._termios = None
        else:
            self._termios = termios
            self._fd = sys.stdin.fileno()
            self._saved = termios.tcgetattr(self._fd)

    def __enter__(self) -> KeyTerminal:
        self._single_keys()
        return self

    def __exit__(self, *_: object) -> None:
        self._restore()

    def _single_keys(self) -> None:
        if self._termios is not None:
            mode = self._termios.tcgetattr(self._fd)
            mode[3] &= ~(self._termios.ICANON | self._termios.ECHO)
            mode[6][self._termios.VMIN], mode[6][self._termios.VTIME] = 1, 0
            self._termios.tcsetattr(self._fd, self._termios.TCSADRAIN, mode)

    def _restore(self) -> None:
        if self._termios is not None:
            self._termios.tcsetattr(self._fd, self._termios.TCSADRAIN, self._saved)

    @contextlib.contextmanager
    def _typed_lines(self) -> Iterator[None]:
        self._restore()
        try:
            yield
        finally:
            self._single_keys()

    def read(self) -> str:
        """The next burst of keys; waits for at least one. Raises EOFError when the terminal is gone."""
        if self._termios is None:
            return click.getchar(echo=False)
        # Set again before each read: a suspended session comes back with the shell's mode.
        self._single_keys()
        try:
            data = os.read(self._fd, 1024)
        except OSError:
            data = b""
        if not data:
            raise EOFError
        return data.decode(sys.stdin.encoding or "utf-8", "replace")

    def ask(self, prompt: str) -> str:
        """A typed line after a prompt."""
        sys.stdout.flush()
        os.write(sys.stdout.fileno(), prompt.encode(sys.stdout.encoding or "utf-8", "replace"))
        if self._termios is None:
            return sys.stdin.readline().rstrip("\n")
        with self._typed_lines():
            try:
                data = os.read(self._fd, 4096)
            except OSError:
                data = b""
        return data.decode(sys.stdin.encoding or "utf-8", "replace").rstrip("\r\n")
