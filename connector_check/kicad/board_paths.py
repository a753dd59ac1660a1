"""The parts between nets of a connector as design paths: single ones, and two in series. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations

from connector_check.files.text import natural
from connector_check.kicad.board_contacts import BoardContacts, Say
from connector_check.kicad.board_parts import Part
from connector_check.kicad.part_paths import PartPath, paths_of_part
from connector_check.pinout.pinmap import GROUND, POWER, DesignPath

CHAIN_OHMS = 1000.0
"""Two parts in series are told up to this: four times the least sensitive beeper's threshold (250 ohm)."""
LARGEST_OHMS, LARGEST_STAR = 1e6, 64

Edges = dict[tuple[str, str], list[PartPath]]


def find_paths(found: BoardContacts, parts: Iterable[Part], source: str, say: Say) -> tuple[DesignPath, ...]:
    """The design paths; parts: the others on the board; source: what each path names as its source."""
    terminals = found.terminals
    direct = []
    around: dict[str, dict[str, PartPath]] = defaultdict(dict)
    for (a, b), several in _edges(found, parts, say).items():
        whole = _parallel(several)
        if a in terminals and b in terminals:
            direct.append(((terminals[a], terminals[b]), whole.low, whole.high, whole.why))
        elif a in terminals or b in terminals:
            node, terminal = (b, a) if a in terminals else (a, b)
            around[node][terminals[terminal]] = whole
    chains = [chain for node, legs in around.items() if len(legs) > 1 for chain in _chains(node, legs)]
    return tuple(
        DesignPath(nets, round(low, 4), round(min(high, LARGEST_OHMS), 4), why, True, source)
        for nets, low, high, why in [*direct, *chains]
        if low <= LARGEST_OHMS
    )


def _edges(found: BoardContacts, parts: Iterable[Part], say: Say) -> Edges:
    """What conducts between two board nets; parts at the connector that cannot be told are said."""
    terminals, edges = found.terminals, Edges()
    for part in sorted(parts, key=lambda part: natural(part.reference)):
        told, why_not = paths_of_part(part, set(terminals))
        touched = {terminals[pad.net] for pad in part.pads if pad.net in terminals}
        signals = [name for name in touched if found.pin_map.net_named[name].role not in (GROUND, POWER)]
        if why_not and (signals or len(touched) > 1):
            say(f"{part.reference} ({part.value or part.footprint}) at {', '.join(sorted(touched))}: {why_not}")
        for path in told:
            if path.a != path.b:
                edges.setdefault((min(path.a, path.b), max(path.a, path.b)), []).append(path)
    return edges


def _chains(node: str, legs: Mapping[str, PartPath]) -> Iterator[tuple[tuple[str, ...], float, float, str]]:
    """The paths over a net that is not at the connector: a star of equal legs as one, else two legs each."""
    if len(legs) > 2 and len({(leg.low, leg.high) for leg in legs.values()}) == 1 and len(legs) <= LARGEST_STAR:
        low, high = next((leg.low, leg.high) for leg in legs.values())
        if 2 * low <= CHAIN_OHMS:
            yield tuple(legs), 2 * low, 2 * high, f"{', '.join(leg.why for leg in legs.values())} to {node}"
        return
    for (a, one), (b, two) in combinations(legs.items(), 2):
        if one.low + two.low <= CHAIN_OHMS:
            yield (a, b), one.low + two.low, one.high + two.high, f"{one.why} and {two.why} by {node}"


def _parallel(several: list[PartPath]) -> PartPath:
    if len(several) == 1:
        return several[0]

    def together(ohms: list[float]) -> float:
        return 0.0 if 0.0 in ohms else 1 / sum(1 / value for value in ohms)

    low, high = together([path.low for path in several]), together([path.high for path in several])
    return PartPath(several[0].a, several[0].b, low, high, " beside ".join(path.why for path in several))
