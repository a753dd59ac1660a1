"""Ohms that no part explains, compared with what two nets would read once solder joins them: the likely short. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from math import log
from typing import NamedTuple

from connector_check.analysis.knowledge import UNKNOWN
from connector_check.analysis.odds import DECAY_MM, remark_odds
from connector_check.analysis.replay import Reading, Standing
from connector_check.board.design import DesignOhms

Pair = tuple[int, int]


class LikelyJoin(NamedTuple):
    """A pair of joints where solder would make the ohms what they are.

    weight: the gap in mm less what remarks take off it; reads: what the two nets joined would read.
    """

    weight: float
    pair: Pair
    reads: DesignOhms


def likely_joins(standing: Standing, reading: Reading) -> list[LikelyJoin]:
    """Where one bridge would explain an ohms reading with every part fitted, the nearest gap first.

    Joined are the net of one of the two points (with all it is known to be joined to) and a net that is not known
    apart from it: 37.5 ohm to ground is two signals of 75 ohm each.
    """
    if not standing.board.resistors or reading.ohms is None:
        return []
    found = []
    for pair, mm, reads in _bridged(standing, reading):
        if reads.reads_as(reading.ohms):
            weight = round(mm - DECAY_MM * log(remark_odds(standing.remarks, *pair)), 6)
            found.append(LikelyJoin(weight, pair, reads))
    return sorted(found)


def _bridged(standing: Standing, reading: Reading) -> Iterator[tuple[Pair, float, DesignOhms]]:
    """Each gap at one of the two nets where solder may be, its mm, and what the reading would then be."""
    board, knowledge = standing.board, standing.knowledge
    groups = ({board.net_of[p].name for p in group} for group in knowledge.classes())
    ties = [group for group in groups if len(group) > 1]
    ends = {board.net_of[p].name for p in reading.entry.points}
    around = ends.union(*(tie for tie in ties if tie & ends))
    read = tuple(board.net_of[p].name for p in reading.entry.points)
    conducting = around.union(*(resistor[:2] for resistor in board.resistors))
    known: dict[frozenset[str], DesignOhms | None] = {}
    for a_name, b_name, mm in board.gaps(standing.scope):
        a, b = board.number[a_name], board.number[b_name]
        nets = board.net_of[a], board.net_of[b]
        names = frozenset(net.name for net in nets)
        if names == ends or not names & around or not names <= conducting:
            continue
        if not board.must_be_apart(*nets) or knowledge.status(a, b) != UNKNOWN:
            continue
        if names not in known:
            known[names] = board.design_with([*ties, names]).fitted(*read)
        if (reads := known[names]) is not None:
            yield (a, b), mm, reads
