"""From a board of the program and its standing readings to the model that the refuter judges. Pure."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from itertools import combinations, product

from connector_check.analysis.refuter_model import BoardModel, Metal, Part, Reading, SolderJoint
from connector_check.board.board import Board
from connector_check.board.design import TOLERANCE
from connector_check.board.harm import HARMFUL, HARMLESS
from connector_check.board.notes import LEFT_OPEN
from connector_check.pinout.pinmap import GROUND, SHELL, Net
from connector_check.testlog.meter import Meter

StandingOhms = tuple[int, int, float, float, bool]
"""Two points by number, the least and most true ohms between them, and whether they were looked at (`seen clear`)."""


def model_of(
    board: Board,
    standing: Iterable[StandingOhms],
    scope: str,
    meter: Meter,
    contact_required: Collection[int],
    bridge_ohms_most: float = 0.0,
) -> BoardModel:
    """The board with what was read on it, for the refuter.

    standing: every standing reading; ohms under the bridge limit mean solder, so their least is to be 0. scope: which
    gaps solder may bridge; contact_required: numbers of the joints whose contact the verdict vouches for.

    Grounds may be tied to each other, and a shell that may touch ground to them; nets tied by design are one conductor;
    only shorts of a harmful grade are bad. Without a joint of the shell, readings at `SH` say nothing of the board.
    """
    nets = {net.name: net for net in board.nets}
    joints = tuple(
        SolderJoint(joint.name, board.net_of[i].name, i in contact_required) for i, joint in enumerate(board.joints)
    )
    shell = tuple(board.points[i] for i in board.shell_joints)
    bodiless = None if shell else board.shell_point
    return BoardModel(
        nets=tuple(nets),
        joints=joints,
        bridge_scope=tuple((a, b) for a, b, _ in board.gaps(scope)),
        must_be_apart=_must_be_apart(board, nets),
        readings=tuple(
            Reading(board.points[a], board.points[b], least, most, by_eye)
            for a, b, least, most, by_eye in standing
            if bodiless is None or bodiless not in (a, b)
        ),
        metals=(Metal("SH", shell),) if shell else (),
        parts=_parts(board),
        fixed_ties=_fixed_ties(board),
        optional_ties=_optional_ties(board),
        bridge_ohms_most=bridge_ohms_most,
        sounds_below=meter.sounds_below,
        silent_above=meter.silent_above,
    )


def _must_be_apart(board: Board, nets: Mapping[str, Net]) -> Callable[[str, str], bool]:
    """Whether joining two nets harms; nets tied by design stand for each other: what one may touch, the others may."""
    together = {name: tie for tie in _fixed_ties(board) for name in tie}

    def apart(a: str, b: str) -> bool:
        pairs = product(together.get(a, (a,)), together.get(b, (b,)))
        return a != b and all(board.grade(nets[x], nets[y]).harm in HARMFUL for x, y in pairs)

    return apart


def _parts(board: Board) -> tuple[Part, ...]:
    """The design paths, as far beside their range as a part is still taken for one; three nets or more as a star."""
    parts: list[Part] = []
    for number, path in enumerate(board.pin_map.paths):
        low, high = path.low * (1 - TOLERANCE), path.high * (1 + TOLERANCE)
        if len(path.nets) == 2:
            parts.append(Part(*path.nets, low, high, path.may_be_absent))
        else:
            parts.extend(Part(net, f"*{number}", low / 2, high / 2, path.may_be_absent) for net in path.nets)
    return tuple(parts)


def _fixed_ties(board: Board) -> tuple[tuple[str, ...], ...]:
    """Nets that are one conductor here. A contact left open only meets its fellows in the plug."""
    fitted = {net.name for net in board.nets if net.why != LEFT_OPEN}
    groups = (tuple(sorted(fitted.intersection(tie))) for tie in board.ties)
    return tuple(group for group in groups if len(group) > 1)


def _optional_ties(board: Board) -> tuple[tuple[str, str], ...]:
    earth = [net for net in board.nets if net.role in (GROUND, SHELL) and net.why != LEFT_OPEN]
    return tuple(
        (a.name, b.name)
        for a, b in combinations(earth, 2)
        if board.grade(a, b).harm == HARMLESS and not board.tied(a, b)
    )
