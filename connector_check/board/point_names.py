"""Which point of a board a typed name means. Pure."""

from __future__ import annotations

from collections.abc import Mapping

from connector_check.board.points import Points


class PointNames:
    """Every name of a board's points.

    points: the board's; joint_of: joint names by contact (see `pinmap.Layout`); noted: the board points that board
    notes name (`TP4`), each with its net.
    """

    def __init__(self, points: Points, joint_of: Mapping[str, str], noted: Mapping[str, str]) -> None:
        exact: dict[str, int] = {}
        for net in points.nets:
            exact[net.name] = exact["@" + net.name] = points.board_point[net.name]
        for name, net_name in noted.items():
            if net_name in points.board_point:
                exact["@" + name] = points.board_point[net_name]
        for contact, joint in joint_of.items():
            exact[contact] = points.number[joint]
        exact.update(points.number)
        self._exact = exact
        self._folded: dict[str, list[int]] = {}
        for name, point in exact.items():
            same = self._folded.setdefault(name.casefold(), [])
            if point not in same:
                same.append(point)
        self.known: list[str] = list(dict.fromkeys([*points.names, *exact]))
        """Every name that `resolve` knows, joints first."""

    def resolve(self, name: str) -> int | None:
        """The point that a typed name means, or None.

        A joint or contact comes before a net of the same name; a net's name means its board point; case is ignored
        where that leaves one choice.
        """
        found = self._exact.get(name)
        if found is None:
            candidates = self._folded.get(name.casefold(), [])
            return candidates[0] if len(candidates) == 1 else None
        return found
