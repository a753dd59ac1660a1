"""Joints that do not reach their net on the board, and parts that should sound and are silent. Pure."""

from __future__ import annotations

from collections.abc import Container, Iterator

from connector_check.analysis.contact import reaches
from connector_check.analysis.meaning import PARTS
from connector_check.analysis.replay import Reading, Standing
from connector_check.analysis.result import INFERRED, JUNCTION_OPEN, MEASURED, Open, PointPair
from connector_check.pinout.pinmap import Net
from connector_check.testlog.readings import SILENT, VOLTS


def find_opens(standing: Standing) -> list[Open]:
    """Joints of a must-join net that are apart from its main group, contacts that are silent, and silent parts."""
    found: list[Open] = []
    for net in standing.board.nets:
        found += _joined_net_opens(standing, net) if net.must_join else _lone_opens(standing, net)
    return found + _opens_by_junction(standing, {one.joint for one in found}) + find_open_parts(standing)


def _opens_by_junction(standing: Standing, told: Container[str]) -> list[Open]:
    """Joints that show no junction in diode mode where their fellows do."""
    if not any(entry.kind == VOLTS for entry in standing.entries):
        return []
    from connector_check.analysis.diode import diode_readings, judge_diode

    board, knowledge = standing.board, standing.knowledge
    return [
        Open(odd.net, odd.joint, odd.why, odd.readings)
        for odd in judge_diode(board, diode_readings(board, standing.entries))
        if odd.kind == JUNCTION_OPEN
        and odd.joint not in told
        and not reaches(board, knowledge, board.number[odd.joint])
    ]


def _joined_net_opens(standing: Standing, net: Net) -> Iterator[Open]:
    """The joints that are shown apart from their board point, themselves or from what is joined to it.

    Joints that are silent to each other, with none touched to the board, leave open which of them it is: that is asked
    for, not found.
    """
    board, knowledge = standing.board, standing.knowledge
    point = board.board_point[net.name]
    for joint in board.joints_of[net.name]:
        if knowledge.apart(joint, point) and board.points[joint] not in board.unreached:
            why = f"{board.points[joint]} does not reach {net.name} on the board: open joint or broken track"
            yield _open(standing, net.name, joint, why)


def _lone_opens(standing: Standing, net: Net) -> Iterator[Open]:
    board = standing.board
    point = board.board_point[net.name]
    for joint in board.joints_of[net.name] if board.must_reach(net) else ():
        if standing.knowledge.apart(joint, point) and board.points[joint] not in board.unreached:
            why = f"{board.points[joint]} does not reach its board point @{net.name}: open joint or broken track"
            yield _open(standing, net.name, joint, why)


def _open(standing: Standing, net: str, joint: int, why: str) -> Open:
    board = standing.board
    silent = standing.parting_at_class(joint)
    lines = tuple(r.entry.line for r in silent if all(board.net_of[p].name == net for p in r.entry.points))
    measured = any(joint in r.entry.points for r in silent)
    return Open(net, board.points[joint], why, lines, MEASURED if measured else INFERRED)


def find_open_parts(standing: Standing) -> list[Open]:
    """Silence over a part that must sound on this meter: an open winding, choke or fuse, or an open joint at it."""
    if not standing.board.pin_map.paths:
        return []
    found: dict[PointPair, Open] = {}
    for reading in standing.readings:
        if reading.meaning == PARTS and (opened := open_part(standing, reading)):
            a, b = reading.entry.points
            found[standing.board.pair((a, b))] = opened
    return list(found.values())


def open_part(standing: Standing, reading: Reading) -> Open | None:
    """The open that a reading over a part that must sound on this meter shows, if it does."""
    board = standing.board
    a, b = reading.entry.points
    net, other = board.net_of[a], board.net_of[b]
    part = board.design_ohms(net.name, other.name) if net is not other else None
    if not (part and part.sure):
        return None
    silent = reading.entry.kind in SILENT and part.most < standing.meter.sounds_below
    if not silent and (reading.ohms is None or reading.ohms <= part.most):
        return None
    names = board.pair((a, b))
    what = ", then ".join(part.why)
    why = (
        f"{names[0]} does not conduct to {names[1]} over {what} ({part.low:g} to {part.high:g} ohm): "
        "open part, or an open joint at either end"
    )
    return Open(net.name, names[0], why, (reading.entry.line,))
