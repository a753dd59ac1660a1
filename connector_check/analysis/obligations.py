"""What must be proven before the connector is clear: joins, isolation in a scope, contacts. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection
from dataclasses import dataclass
from functools import lru_cache

from connector_check.analysis.knowledge import UNKNOWN, Knowledge
from connector_check.board.board import ALL, Board
from connector_check.pinout.geometry import gap
from connector_check.pinout.pinmap import GROUND, POWER, RESERVED, SHELL, Net

Pair = tuple[int, int]
Key = tuple[str, str]
"""Two conductors, in the order of their names."""


@dataclass(frozen=True)
class Isolation:
    """Two conductors that must be apart: nets that the board must join, or single joints.

    pairs: the joint pairs that all must be apart, nearest first; body: whether a pair against the net's main group is
    wanted as well (joint, net name), for a joint against ground or a supply net against another;
    gap_mm: the smallest gap of the pairs, or None when they are no neighbours.
    """

    key: tuple[str, str]
    pairs: tuple[Pair, ...]
    gap_mm: float | None
    whole: bool


@dataclass(frozen=True)
class Obligations:
    """All that a scope asks of a board.

    joins: (joint, board point) of every joint that the board must join; contacts: the same for every other joint that
    must reach its board point, without those that good boards show open; information: asked once, and nothing hangs on
    it: the shell's metal, and joints that the board may leave open; isolation: nearest first; not_in_scope: pairs of
    conductors that must be apart but are not asked for.
    """

    joins: tuple[Pair, ...]
    contacts: tuple[Pair, ...]
    information: tuple[Pair, ...]
    isolation: tuple[Isolation, ...]
    not_in_scope: int


def conductor(board: Board, joint: int) -> str:
    """What a joint stands for: its net where the board must join it, else itself."""
    net = board.net_of[joint]
    return "@" + net.name if net.must_join else board.points[joint]


@lru_cache(maxsize=64)
def obligations(board: Board, scope: str) -> Obligations:
    """The obligations of one of the scopes `near`, `wide`, `all`.

    near: each non-ground joint against each ground net, each supply net against every other, every two neighbours, and
    each joint against a shell that no ground stands for (see `bare_shell`).
    wide: neighbours need no line of sight. all: every pair of conductors that must be apart.
    """
    joins, contacts, information = [], [], []
    for joint in range(len(board.joints)):
        net = board.net_of[joint]
        pair = (joint, board.board_point[net.name])
        if board.points[joint] in board.unreached:
            continue
        if net.must_join:
            joins.append(pair)
        elif board.must_reach(net):
            contacts.append(pair)
        elif net.role not in (SHELL, RESERVED):
            information.append(pair)
    if board.shell_point is not None and board.shell_joints:
        information.append((board.shell_point, board.board_point[board.net_of[board.shell_point].name]))
    near = _near_pairs(board, scope)
    whole = _whole_pairs(board, scope) | _shell_pairs(board, near)
    representative = _representatives(board)
    isolation = []
    for key in dict.fromkeys([*near, *whole]):
        found = sorted(near.get(key, []))
        known = tuple(pair for _, pair in found) or (_closest(board, *(representative[name] for name in key)),)
        isolation.append(Isolation(key, known, found[0][0] if found else None, key in whole))
    isolation.sort(key=lambda o: (o.gap_mm is None, o.gap_mm or 0.0))
    out = _forbidden_pairs(board) - len(isolation)
    return Obligations(tuple(joins), tuple(contacts), tuple(information), tuple(isolation), out)


def _near_pairs(board: Board, scope: str) -> dict[Key, list[tuple[float, Pair]]]:
    """The neighbouring joints that must be apart, with their gaps, by conductors."""
    found: dict[Key, list[tuple[float, Pair]]] = {}
    for a_name, b_name, mm in board.gaps(scope):
        a, b = board.number[a_name], board.number[b_name]
        if board.must_be_apart(board.net_of[a], board.net_of[b]):
            found.setdefault(_key(conductor(board, a), conductor(board, b)), []).append((mm, (a, b)))
    return found


def _whole_pairs(board: Board, scope: str) -> dict[Key, None]:
    """The conductors that must be apart wherever they lie, in the order of the joints."""
    found: dict[Key, None] = {}
    others = [net for net in board.nets if scope == ALL or net.role in (GROUND, POWER)]
    for joint in range(len(board.joints)):
        net = board.net_of[joint]
        for other in others:
            if _asked_whole(net, other, scope) and board.must_be_apart(net, other):
                members = board.joints_of[other.name]
                for member in members[:1] if other.must_join else members:
                    found[_key(conductor(board, joint), conductor(board, member))] = None
    return found


def bare_shell(board: Board) -> tuple[int, ...]:
    """The joints of a shell that no ground stands for: the map keeps it apart from ground, so it floats, or no joint of
    this layout is ground, so it is the only one. Of a shell that may touch ground it is not known whether it floats;
    there the neighbours and the ground's own pairs are asked.
    """
    if not board.shell_joints:
        return ()
    shell = board.net_of[board.shell_joints[0]]
    grounds = any(net.role == GROUND and board.joints_of[net.name] for net in board.nets)
    return board.shell_joints if not grounds or (shell.ground != "may" and not _is_tied(board, shell)) else ()


def _is_tied(board: Board, shell: Net) -> bool:
    return any(net.role == GROUND and board.tied(net, shell) for net in board.nets)


def _shell_pairs(board: Board, near: Collection[Key]) -> dict[Key, None]:
    """Each conductor against a bare shell, at its first joint, where none of the shell's joints is a neighbour: the
    shell is one piece of metal.
    """
    metal = bare_shell(board)
    if not metal:
        return {}
    names = {board.points[joint] for joint in metal}
    beside = {name for key in near for name in key if names.intersection(key)}
    against, first = board.net_of[metal[0]], board.points[metal[0]]
    return {
        _key(conductor(board, joint), first): None
        for joint in range(len(board.joints))
        if board.must_be_apart(board.net_of[joint], against) and conductor(board, joint) not in beside
    }


def _asked_whole(net: Net, other: Net, scope: str) -> bool:
    if scope == ALL:
        return True
    return (other.role == GROUND and net.role != GROUND) or (other.role == POWER and net.role == POWER)


def _key(a: str, b: str) -> Key:
    return (a, b) if a <= b else (b, a)


def _representatives(board: Board) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for joint in range(len(board.joints)):
        found.setdefault(conductor(board, joint), []).append(joint)
    return found


def _closest(board: Board, a: list[int], b: list[int]) -> Pair:
    return min(((i, k) for i in a for k in b), key=lambda pair: gap(board.joints[pair[0]], board.joints[pair[1]]))


def _forbidden_pairs(board: Board) -> int:
    """How many pairs of conductors must be apart, counted without listing them."""
    per_net = Counter(
        {
            net.name: (1 if net.must_join else len(board.joints_of[net.name]))
            for net in board.nets
            if board.joints_of[net.name]
        }
    )
    kinds: dict[tuple[object, ...], list[str]] = {}
    by_name = {net.name: net for net in board.nets}
    for name in per_net:
        kinds.setdefault(board.kind_of(by_name[name]), []).append(name)
    groups = list(kinds.values())
    total = 0
    for i, group in enumerate(groups):
        counts = [per_net[name] for name in group]
        if len(group) > 1 and board.must_be_apart(by_name[group[0]], by_name[group[1]]):
            total += (sum(counts) ** 2 - sum(c * c for c in counts)) // 2
        for other in groups[i + 1 :]:
            if board.must_be_apart(by_name[group[0]], by_name[other[0]]):
                total += sum(counts) * sum(per_net[name] for name in other)
    return total


def body(board: Board, knowledge: Knowledge, net_name: str) -> int:
    """The point that stands for a net's main group: its board point when a joint is joined to it, else a joint of the
    largest joined group of its joints.
    """
    found = knowledge.bodies.get(net_name)
    if found is None:
        found = knowledge.bodies[net_name] = _body(board, knowledge, net_name)
    return found


def _body(board: Board, knowledge: Knowledge, net_name: str) -> int:
    joints = board.joints_of[net_name]
    point = board.board_point[net_name]
    if any(knowledge.joined(point, joint) for joint in joints) or not joints:
        return point
    sizes = Counter(knowledge.find(joint) for joint in joints)
    best = max(sizes.values())
    return next(joint for joint in joints if sizes[knowledge.find(joint)] == best)


def missing(
    board: Board, knowledge: Knowledge, obligation: Isolation, apart: Callable[[int, int], bool] | None = None
) -> Pair | None:
    """The next pair to touch for this obligation, or None when it is proven.

    Nearest neighbours come pin by pin until the joins of their net are proven; then one quiet speaks for all.
    apart: what counts as known apart (default: what the readings prove).
    """
    apart = apart or knowledge.apart
    for pair in obligation.pairs if obligation.gap_mm is not None else ():
        if not apart(*pair):
            return pair
    if not obligation.whole:
        return None
    whole = _whole_pair(board, knowledge, obligation)
    if apart(*whole):
        return None
    return obligation.pairs[0] if knowledge.status(*obligation.pairs[0]) == UNKNOWN else whole


def apart_once_joined(knowledge: Knowledge, needed: Obligations) -> Callable[[int, int], bool]:
    """Known apart, were every join that is still unknown to beep: what the list of wanted touches may leave out,
    because the join is on that list itself.
    """
    cluster: dict[int, set[int]] = {}
    for joint, point in needed.joins:
        if knowledge.status(joint, point) == UNKNOWN:
            root, hub = knowledge.find(joint), knowledge.find(point)
            together = cluster.get(root, {root}) | cluster.get(hub, {hub})
            for member in together:
                cluster[member] = together

    def apart(a: int, b: int) -> bool:
        ra, rb = knowledge.find(a), knowledge.find(b)
        return any(knowledge.apart(x, y) for x in cluster.get(ra, (ra,)) for y in cluster.get(rb, (rb,)))

    return apart


def _whole_pair(board: Board, knowledge: Knowledge, obligation: Isolation) -> Pair:
    ends = []
    for joint in obligation.pairs[0]:
        net = board.net_of[joint]
        ends.append(body(board, knowledge, net.name) if net.must_join else joint)
    return ends[0], ends[1]
