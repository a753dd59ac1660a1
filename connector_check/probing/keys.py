"""Keys of the live session: bursts split into keys, bounce and repeats dropped, keys mapped to actions. Pure.

Foot pedals are keyboards to us: map the key a pedal sends to an action. No key that is easily hit by accident (space,
enter, arrows) means quiet.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from connector_check.testlog.readings import PRESSED

KEYS_BY_WORD = {word.word: word.key for word in PRESSED}
ACTIONS = KEYS_BY_WORD | {
    "skip": "s",
    "undo": "z",
    "ohms": "o",
    "remark": "m",
    "rework": "r",
    "jump": "j",
    "sweep": "w",
    "diode": "d",
    "volts": "v",
    "over": "l",
    "pause": "p",
    "quit": "q",
    "help": "h",
}
"""Every action and its key by default: n for no tone."""

_TOLD = {word.word: word.told or word.word for word in PRESSED} | {
    "jump": "jump to a pin",
    "sweep": "a whole sweep",
    "diode": "diode mode on or off",
    "volts": "volts in diode mode, of one contact or of a row",
    "over": "OL in diode mode",
}
KEYS_HELP = ", ".join(f"{key} {_TOLD.get(action, action)}" for action, key in ACTIONS.items())

ACCIDENTAL = {" ", "\r", "\n", "\t", "\x1b", "\x7f", "\x08"}
BOUNCE_SECONDS = 0.15
_ESCAPE = re.compile(r"\x1b(?:\[[0-9;?<]*[ -/]*[@-~]|O.|.)?", re.DOTALL)


def split_keys(burst: str) -> Iterator[str]:
    """The single keys of one read; escape sequences (arrows, function keys) are dropped whole, so are line ends that
    a pedal sends after its key.

    >>> list(split_keys("bn\\x1b[Ab\\r"))
    ['b', 'n', 'b']
    """
    for key in _ESCAPE.sub("", burst):
        if key not in "\r\n":
            yield key


class Bounce:
    """Drops a key that comes again within `seconds`: a bouncing pedal, or a key held down.

    >>> bounce = Bounce(0.15); [bounce.passes("b", t) for t in (0.0, 0.05, 0.12, 0.4)]
    [True, False, False, True]
    """

    def __init__(self, seconds: float = BOUNCE_SECONDS) -> None:
        self.seconds = seconds
        self._key, self._time = "", float("-inf")

    def passes(self, key: str, now: float) -> bool:
        """Whether a key at that time (seconds) is an answer of its own."""
        again = key == self._key and now - self._time < self.seconds
        self._key, self._time = key, now
        return not again


def key_map(text: str = "") -> dict[str, str]:
    """Actions by key, from `beep=a,quiet=k` over the defaults. Raises ValueError with a message.

    >>> key_map("quiet=k")["k"], "n" in key_map("quiet=k")
    ('quiet', False)
    """
    keys = dict(ACTIONS)
    for part in filter(None, (p.strip() for p in text.split(","))):
        action, _, key = part.partition("=")
        action, key = action.strip(), key.strip().lower() if len(key) > 1 else key.lower()
        if action not in ACTIONS:
            raise ValueError(f"'{action}' is no action; there are: {', '.join(ACTIONS)}")
        if len(key) != 1 or not key.isprintable() or (action == "quiet" and key in ACCIDENTAL):
            raise ValueError(
                f"'{part}': expected one printable key" + (", not space, for quiet" if action == "quiet" else "")
            )
        keys[action] = key
    by_key: dict[str, str] = {}
    for action, key in keys.items():
        if key in by_key:
            raise ValueError(f"key '{key}' means {by_key[key]} and {action}; give one of them another key")
        by_key[key] = action
    return by_key
