"""What a new map is made of: contacts and pads as any source gives them, the nets and the layout made of them. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from connector_check.files.text import natural
from connector_check.kicad.footprints import Pad
from connector_check.pinout.headers import COUNTED
from connector_check.pinout.pinmap import SHELL, Joint
from connector_check.pinout.roles import guess

SHELL_NET = "SHELL"
"""The net of the shell in a new map."""


@dataclass(frozen=True)
class Pin:
    """A contact as the source names it.

    role: as told or, when `rule` is given, as guessed by that rule; empty: to be guessed from the name.
    line: where it stands in the source, 0 when that has no lines.
    """

    number: str
    name: str
    role: str = ""
    rule: str = ""
    line: int = 0


@dataclass(frozen=True)
class Names:
    """The contacts of a connector, and where their assignment stands; known: as in `pinmap.Source`."""

    file: str
    pins: tuple[Pin, ...]
    document: str
    known: str = "read"

    def named(self, names: list[str], document: str) -> Names:
        """The same contacts with those names in order, from memory; as they are when there are none."""
        pins = (
            tuple(replace(pin, name=name) for pin, name in zip(self.pins, names, strict=True)) if names else self.pins
        )
        return replace(self, pins=pins, document=document, known="memory")


@dataclass(frozen=True)
class Places:
    """Pads in mm, x right, y down, component side; `number` is the contact each belongs to."""

    file: str
    pads: tuple[Pad, ...]
    layout: str
    source: str


@dataclass(frozen=True)
class Sources:
    """All that a new map is made of; board_nets: the board net of each contact that has one."""

    names: Names
    places: Places
    board_nets: dict[str, str]


@dataclass(frozen=True)
class NewNet:
    """A net of a new map; rule: what guessed its role or volts, empty when a person told both."""

    name: str
    role: str
    volts: float | None
    contacts: tuple[str, ...]
    rule: str


@dataclass(frozen=True)
class NewLayout:
    """Where the joints of a new map sit; without: contacts that the part lacks."""

    id: str
    source: str
    joints: tuple[Joint, ...]
    without: tuple[str, ...]


def is_shell(pin: Pin) -> bool:
    """Whether the pin is the shell, as told or by its name or number."""
    return (pin.role or guess(pin.name).role) == SHELL


def in_order(numbers: Iterable[str]) -> list[str]:
    """Contact numbers as people count: 2 before 10, A2 before B1."""
    return sorted(numbers, key=natural)


def counted_names(file: str, numbers: Iterable[str]) -> Names:
    """Contacts that nothing is known of: P1, P2 and so on."""
    return Names(file, tuple(Pin(n, f"P{n}") for n in numbers), COUNTED, "memory")
