"""A connector as its standard publishes it: contacts, nets, roles, volts, design paths, layouts.

Pure data. `pinmap_file` reads it from YAML, `board.board` makes points of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

GROUND, POWER, DATA, SHELL, RESERVED = "ground", "power", "data", "shell", "reserved"
ROLES = (GROUND, POWER, DATA, SHELL, RESERVED)
SHELL_CONTACT = "SH"
"""The contact that stands for the shell, however many joints it has."""
MOST_VOLTS = 1000.0
"""The most that any net is believed to carry, in volts."""


class Net(NamedTuple):
    """Contacts meant to be one conductor.

    volts: nominal supply volts (power only); volts_max: the most the port may carry; withstands: what a data net
    survives, volts, where published; must_join: the board must join these contacts; may_be_open: the board may
    leave contacts of this ground or supply open; ground: whether a shell net
    may touch ground (`may`) or must stay apart (`apart`); guessed: the rule that guessed its role or volts from the
    name, empty once a person confirmed them.
    """

    name: str
    role: str
    contacts: tuple[str, ...]
    volts: float | None = None
    volts_max: float | None = None
    withstands: float | None = None
    must_join: bool = False
    may_be_open: bool = False
    ground: str = "may"
    why: str = ""
    guessed: str = ""

    @property
    def most_volts(self) -> float:
        """The largest magnitude this supply may carry, in volts (0 for what is no supply)."""
        return max(abs(self.volts or 0.0), abs(self.volts_max or 0.0))


class Source(NamedTuple):
    """Where an assignment is published and how it is known: `read`, `compared` or `memory`."""

    document: str
    known: str
    note: str = ""


class DesignPath(NamedTuple):
    """A DC path between nets that is there by design: `low` to `high` ohms between any two of them, board unpowered.

    Three nets or more meet at one point, each over half of these ohms.
    """

    nets: tuple[str, ...]
    low: float
    high: float
    why: str
    may_be_absent: bool = True
    source: str = ""


class Joint(NamedTuple):
    """One solder joint: its contacts, the pad centre in mm (x right, y down, component side), pad size and shape.

    shape is `rect`, `oval` or `round`.
    """

    name: str
    contacts: tuple[str, ...]
    x: float
    y: float
    width: float
    height: float
    shape: str = "rect"

    @property
    def is_shell(self) -> bool:
        """Whether this is a joint of the shell and of nothing else."""
        return self.contacts == (SHELL_CONTACT,)


@dataclass(frozen=True)
class Layout:
    """Where the joints of one kind of part sit."""

    id: str
    title: str
    source: str
    joints: tuple[Joint, ...]

    @cached_property
    def joint_of(self) -> dict[str, str]:
        """Joint names by their own name and by each contact they carry (`A1` -> `A1B12`)."""
        names = {contact: j.name for j in self.joints for contact in j.contacts if contact != SHELL_CONTACT}
        names.update({j.name: j.name for j in self.joints})
        return names


class FacePosition(NamedTuple):
    """A contact at the mating face, looking into the mouth: mm, x right, y down."""

    contact: str
    x: float
    y: float


@dataclass(frozen=True)
class Variant:
    """A revision or wiring that changes the nets of some contacts."""

    id: str
    title: str
    why: str
    nets: tuple[Net, ...]
    names: dict[str, str] = field(default_factory=dict, hash=False)


@dataclass(frozen=True)
class PinMap:
    """One connector. `nets` in published order; `names` gives each contact its own published name; `told`: the roles
    that the user told for one job, in words; `told_line`: the same as a job's header line tells it; `file`: the bare
    name of a map that was named as a file.
    """

    id: str
    title: str
    side: str
    sources: tuple[Source, ...]
    nets: tuple[Net, ...]
    names: dict[str, str] = field(hash=False)
    layouts: tuple[Layout, ...]
    paths: tuple[DesignPath, ...] = ()
    face: tuple[FacePosition, ...] = ()
    settled: tuple[str, ...] = ()
    variants: tuple[Variant, ...] = ()
    pitch_mm: float | None = None
    variant: str = ""
    told: str = ""
    told_line: str = ""
    file: str = field(default="", compare=False)

    @property
    def job_name(self) -> str:
        """As a job's header line names it: its id, or the file that lies beside the job."""
        return self.file or self.id

    @cached_property
    def net_of(self) -> dict[str, Net]:
        """Each contact's net."""
        return {contact: net for net in self.nets for contact in net.contacts}

    @cached_property
    def net_named(self) -> dict[str, Net]:
        """Nets by name."""
        return {net.name: net for net in self.nets}

    @property
    def contact_count(self) -> int:
        """How many contacts the connector has, the shell not counted."""
        return sum(1 for contact in self.net_of if contact != SHELL_CONTACT)

    def layout(self, layout_id: str = "") -> Layout | None:
        """The layout of that id (the first one when empty), or None."""
        if not layout_id:
            return self.layouts[0]
        return next((found for found in self.layouts if found.id == layout_id), None)

    def with_variant(self, variant_id: str) -> PinMap | None:
        """This map as that variant wires it, or None when there is no such variant."""
        for variant in self.variants:
            if variant.id == variant_id:
                return replace(self, nets=variant.nets, names=variant.names, variant=variant.id)
        return None
