"""Which further faults could make the readings fit a set of faults that they rule out. Pure."""

from __future__ import annotations

from collections.abc import Collection

from connector_check.analysis.refuter_network import Conflict
from connector_check.analysis.refuter_state import State


def repairs(state: State, conflict: Conflict, last: bool, among: Collection[int] | None = None) -> set[int]:
    """Faults of which at least one is in every larger set that this conflict does not rule out.

    last: only one more fault is allowed; among: only these may be added. Proof: more resistance needs an open at an
    end of the reading or of a bridge that is there (any other body hangs on its node alone); less needs a bridge
    out of the reading's group, or with an end in it, and when it is the only one, one between both ends' groups.
    """
    found: set[int] = set()
    for number, too_low in conflict:
        touch = state.index.touches[number]
        if too_low:
            ends = [end for end in (touch.a, touch.b) if end < 0]
            ends += [~body for i in state.bridges for body in (state.index.solder[i].a, state.index.solder[i].b)]
            found.update(end for end in ends if ~end not in state.loose and (among is None or end in among))
        else:
            found |= _bridging(state, touch.a, touch.b, last, among)
    return found


def _bridging(state: State, a: int, b: int, last: bool, among: Collection[int] | None) -> set[int]:
    first, second = state.group(a), state.group(b)
    if among is not None:
        places = [{fault for fault in among if fault >= 0}] * 2
    else:
        places = [_solder_at(state, group) for group in (first, second)]
    chosen, candidates = (first, places[0]) if len(places[0]) <= len(places[1]) else (second, places[1])
    found = set()
    for i in candidates - state.faults:
        ends = ~state.index.solder[i].a, ~state.index.solder[i].b
        groups = state.group(ends[0]), state.group(ends[1])
        if chosen not in groups:
            continue
        if first != second:
            fits = groups[0] != groups[1] and (not last or {first, second} == set(groups))
        else:
            fits = not last or (groups[0] == groups[1] and state.spot(ends[0]) != state.spot(ends[1]))
        if fits:
            found.add(i)
    return found


def _solder_at(state: State, group: int) -> set[int]:
    """Solder places with an end in a group."""
    index, found = state.index, set[int]()
    for place in {group} | {state.place(s) for a, b, _ in state.links for s in (a, b)}:
        if state.near.find(place) == group:
            regions = len(index.regions)
            found.update(index.solder_in[place] if place < regions else index.solder_at[place - regions])
    return found
