"""The parts between nets of a connector as design paths, however many are in series. Pure.

Links (`part_network.MOST_LINK_OHMS`) are folded into the net of the connector that is nearest; where several parts meet
at a board net that is not at the connector, that net is taken out by the star-mesh transformation, each new leg with
the widest ohms that its parts allow.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from itertools import combinations

from connector_check.kicad.board_contacts import BoardContacts, Say, role_of
from connector_check.kicad.part_network import Leg, PartNetwork, add, in_series, reach
from connector_check.pinout.pinmap import GROUND, POWER, DesignPath

CHAIN_OHMS = 1000.0
"""Resistors in series are told up to this: four times the least sensitive beeper's threshold (250 ohm)."""
LARGEST_OHMS, LARGEST_STAR = 1e6, 64

Found = tuple[tuple[str, ...], float, float, str]
"""Board nets, the least and most ohms between any two of them, and the parts in words."""


def find_paths(found: BoardContacts, network: PartNetwork, source: str, say: Say) -> tuple[DesignPath, ...]:
    """The design paths; network: of the other parts on the board; source: what each path names as its source.

    say: takes a line for each part near the connector that could not be told.
    """
    terminals = found.terminals
    _tell_untold(found, network, say)
    legs = _folded(network, terminals)
    stars = list(_without_inner_nets(legs, terminals, say))
    direct = [
        ((a, b), leg.low, leg.high, leg.why)
        for a, b in combinations(terminals, 2)
        if (leg := legs.get(a, {}).get(b)) is not None
    ]
    return tuple(
        DesignPath(
            tuple(terminals[net] for net in nets), round(low, 4), round(min(high, LARGEST_OHMS), 4), why, True, source
        )
        for nets, low, high, why in [*direct, *stars]
        if low <= LARGEST_OHMS
    )


def _tell_untold(found: BoardContacts, network: PartNetwork, say: Say) -> None:
    """Say which parts at a signal of the connector, or between two of its nets, could not be told, also behind others.

    A rail is not gone through: what hangs on it is not at the signal that a resistor pulls up.
    """
    terminals = found.terminals
    nets = {pad.net for part, _ in network.untold for pad in part.pads} | set(network.legs)
    rails = {net for net in nets if role_of(net) in (GROUND, POWER)}
    near = reach(network.legs, terminals, CHAIN_OHMS, rails)
    near = {net: way for net, way in near.items() if net in terminals or net not in rails}
    for part, why_not in network.untold:
        touched = {near[pad.net][0] for pad in part.pads if pad.net in near}
        names = sorted(terminals[net] for net in touched)
        on_rail = [found.pin_map.net_named[terminals[net]].role in (GROUND, POWER) or net in rails for net in touched]
        if len(names) > 1 or not all(on_rail):
            say(f"{part.reference} ({part.value or part.footprint}) at {', '.join(names)}: {why_not}")


def _folded(network: PartNetwork, terminals: Collection[str]) -> dict[str, dict[str, Leg]]:
    """The legs of the network with every link folded into one net of those that it joins, the connector's first."""
    leads = reach(network.links, terminals)
    for net in sorted(network.legs):
        if net not in leads:
            leads.update(reach(network.links, [net]))
    folded: dict[str, dict[str, Leg]] = {}
    for net, legs in network.legs.items():
        for other, leg in legs.items():
            (a, to_net), (b, to_other) = leads[net], leads[other]
            if net < other and a != b:
                add(folded, a, b, in_series(to_net, leg, to_other)._replace(low=leg.low))
    return folded


def _without_inner_nets(legs: dict[str, dict[str, Leg]], terminals: Collection[str], say: Say) -> Iterator[Found]:
    """Take out every net that is not at the connector, the one with the fewest legs first; yields the stars of equal
    legs, which are told as one path.
    """
    inner = set(legs) - set(terminals)
    while inner:
        node = min(inner, key=lambda net: (len(legs[net]), net))
        inner.remove(node)
        around = legs.pop(node)
        for net in around:
            del legs[net][node]
        star = _star(node, around, terminals)
        if star:
            yield from star
        elif len(around) > LARGEST_STAR:
            say(f"{len(around)} parts meet at {node}: the paths over it are not followed")
        else:
            for a, b in combinations(around, 2):
                leg = _over(around, a, b)
                if leg.low <= CHAIN_OHMS:
                    add(legs, a, b, leg)


def _star(node: str, around: Mapping[str, Leg], terminals: Collection[str]) -> list[Found]:
    """Three or more equal legs to nets of the connector as one path, where they are short enough to tell."""
    alike = {(leg.low, leg.high) for leg in around.values()}
    if not 2 < len(around) <= LARGEST_STAR or len(alike) > 1 or not set(around) <= set(terminals):
        return []
    ((low, high),) = alike
    if 2 * low > CHAIN_OHMS:
        return []
    return [(tuple(around), 2 * low, 2 * high, f"{', '.join(leg.why for leg in around.values())} to {node}")]


def _over(around: Mapping[str, Leg], a: str, b: str) -> Leg:
    """The leg of the mesh between two nets around a node: both their legs, and more for what the others carry off."""
    one, two = around[a], around[b]
    others = [leg for net, leg in around.items() if net not in (a, b)]
    whole = in_series(one, two)
    low = whole.low + one.low * two.low * sum(1 / leg.high for leg in others if leg.high)
    high = whole.high + one.high * two.high * sum(1 / leg.low for leg in others if leg.low)
    return Leg(low, high, whole.parts)
