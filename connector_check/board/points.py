"""The points of a board that a lead can touch, by number. Pure.

The joints come first, then the shell as a whole (`SH`), then one board point per net (`@NET`).
"""

from __future__ import annotations

from connector_check.pinout.pinmap import SHELL, SHELL_CONTACT, Layout, Net, PinMap


class Points:
    """The points of a pin map in one layout. Treat it as frozen.

    nets: those with a joint in the layout, and the shell; names and net_of: each point's name and net, by its number;
    number: point numbers by name; joints_of: joint numbers by net, in layout order; shell_joints: the joints of the
    shell alone; shell_point: the shell as a whole, or None where a joint has its name or there is none; board_point: by
    net.
    """

    def __init__(self, pin_map: PinMap, layout: Layout) -> None:
        placed = {contact for joint in layout.joints for contact in joint.contacts}
        self.nets: tuple[Net, ...] = tuple(
            n for n in pin_map.nets if placed.intersection(n.contacts) or n.role == SHELL
        )
        self.names: list[str] = [joint.name for joint in layout.joints]
        self.net_of: list[Net] = [pin_map.net_of[joint.contacts[0]] for joint in layout.joints]
        self.joints_of: dict[str, list[int]] = {net.name: [] for net in self.nets}
        for number, net in enumerate(self.net_of):
            self.joints_of[net.name].append(number)
        self.shell_joints: tuple[int, ...] = tuple(i for i, joint in enumerate(layout.joints) if joint.is_shell)
        self.shell_point: int | None = None
        if SHELL_CONTACT in pin_map.net_of and SHELL_CONTACT not in self.names:
            self.shell_point = self._add(SHELL_CONTACT, pin_map.net_of[SHELL_CONTACT])
        self.board_point: dict[str, int] = {net.name: self._add("@" + net.name, net) for net in self.nets}
        self.number: dict[str, int] = {name: i for i, name in enumerate(self.names)}

    def _add(self, name: str, net: Net) -> int:
        self.names.append(name)
        self.net_of.append(net)
        return len(self.names) - 1
