"""The planner against certificate sizes worked out with networkx, and against the simulated meter.

The five table layouts (a row of 19, two rows of 12, a 164-contact edge, 9 and 15 in staggered rows) are nominal: nets
and pitches as their tables of touches were derived with; neighbours are the pins within `reach` pitches.
"""

from __future__ import annotations

import random
import time
from collections.abc import Collection
from dataclasses import dataclass
from itertools import combinations, pairwise
from math import dist

import networkx as nx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from connector_check.analysis.knowledge import APART, JOINED, UNKNOWN, Knowledge
from connector_check.analysis.obligations import (
    Isolation,
    Obligations,
    Pair,
    apart_once_joined,
    missing,
    obligations,
)
from connector_check.board.board import Board
from connector_check.pinout.library import find_pin_map, list_ids
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap
from connector_check.probing.planner import Plan, expects_beep, next_touch, plan, plan_json
from connector_check.renderers.plan import LEAD_CHECK, TOUCHES_PER_LEAD_CHECK, plan_lines
from tests.strategies import SimulatedBoard, boards, checked, random_faults, tiny_board

EDGE_GROUNDS = (
    "A4 A12 A15 A18 A20 A23 A24 A27 A28 A31 A34 A37 A38 A41 A42 A45 A46 A49 A51 A54 A55 A58 A59 A62 A63 A66 A67 A70 "
    "A71 A74 A75 A78 A79 A82 B4 B7 B13 B16 B18 B21 B22 B25 B26 B29 B32 B35 B36 B39 B40 B43 B44 B47 B49 B52 B53 B56 "
    "B57 B60 B61 B64 B65 B68 B69 B72 B73 B76 B77 B80"
)


@dataclass
class Table:
    """Places of the pins, the nets of more than one pin, the pitch, and the pins next to each tab of the shell."""

    at: dict[str, tuple[float, float]]
    nets: dict[str, str]
    pitch: float
    tabs: tuple[tuple[str, ...], ...] = ()


def row(
    first: int, last: int, pitch: float, x: float = 0.0, y: float = 0.0, side: str = ""
) -> dict[str, tuple[float, float]]:
    return {f"{side}{n}": (x + (n - first) * pitch, y) for n in range(first, last + 1)}


TABLES = {
    "row19": Table(row(1, 19, 0.5), {"GND": "2 5 8 11 17"}, 0.5, (("1",), ("19",))),
    "c24": Table(
        row(1, 12, 0.5, side="A") | row(1, 12, -0.5, 5.5, 1.0, "B"),
        {"GND": "A1 A12 B1 B12", "VBUS": "A4 A9 B4 B9", "D+": "A6 B6", "D-": "A7 B7"},
        0.5,
        (("A1", "B12"), ("A12", "B1")),
    ),
    "edge164": Table(
        row(1, 82, 1.0, side="A") | row(1, 82, 1.0, 0.0, 2.0, "B"),
        {"GND": EDGE_GROUNDS, "+12V": "A2 A3 B1 B2 B3", "+3.3V": "A9 A10 B8"},
        1.0,
    ),
    "dsub9": Table(row(1, 5, 2.77) | row(6, 9, 2.77, 1.385, 2.84), {"GND": "5"}, 2.77, (("1",), ("5",))),
    "dsub15": Table(
        row(1, 5, 2.29) | row(6, 10, 2.29, -1.145, 1.98) | row(11, 15, 2.29, 0.0, 3.96),
        {"GND": "5 6 7 8 10"},
        2.29,
        (("1",), ("5",)),
    ),
}


def table_board(table: Table) -> Board:
    """The shell, where there is one, is one more pin of ground."""
    net_of = {pin: net for net, pins in table.nets.items() for pin in pins.split()}
    places = dict(table.at) | ({"S": (-9.0, -9.0)} if table.tabs else {})
    if table.tabs:
        net_of["S"] = "GND"
    pins_of: dict[str, list[str]] = {}
    for pin in places:
        pins_of.setdefault(net_of.get(pin, "S" + pin), []).append(pin)
    role = {"GND": "ground", "VBUS": "power", "+12V": "power", "+3.3V": "power"}
    nets = tuple(Net(n, role.get(n, "data"), tuple(pins), must_join=len(pins) > 1) for n, pins in pins_of.items())
    joints = tuple(Joint(pin, (pin,), x, y, 0.1, 0.1) for pin, (x, y) in places.items())
    layout = Layout("table", "", "", joints)
    return Board(PinMap("table", "", "", (), nets, {}, (layout,)), layout)


def bridge_places(table: Table, board: Board, reach: float) -> list[tuple[float, int, int]]:
    """Pin pairs of different nets within `reach` pitches, and each tab's nearest pins."""
    names = list(table.at)
    number = board.number
    near = [(dist(table.at[a], table.at[b]), number[a], number[b]) for i, a in enumerate(names) for b in names[i + 1 :]]
    found = [gap for gap in near if gap[0] <= reach * table.pitch + 1e-9]
    found += [(table.pitch, number["S"], number[pin]) for tab in table.tabs for pin in tab]
    return sorted(gap for gap in found if board.net_of[gap[1]] is not board.net_of[gap[2]])


def table_needs(table: Table, board: Board, reach: float, all_pairs: bool) -> Obligations:
    """Joins as stars on the first pin of each net; one isolation for each two nets with a place for a bridge, or for
    each two nets at all."""
    joins = [(joint, joints[0]) for joints in board.joints_of.values() for joint in joints[1:]]
    found: dict[tuple[str, str], list[tuple[float, int, int]]] = {}
    for mm, a, b in bridge_places(table, board, reach):
        key = tuple(sorted((board.net_of[a].name, board.net_of[b].name)))
        found.setdefault(key, []).append((mm, a, b))  # type: ignore[arg-type]
    isolation = [
        Isolation(key, tuple((a, b) for _, a, b in gaps), gaps[0][0], whole=False) for key, gaps in found.items()
    ]
    if all_pairs:
        names = [net.name for net in board.nets]
        isolation += [
            Isolation((a, b), ((board.joints_of[a][0], board.joints_of[b][0]),), None, whole=True)
            for a, b in combinations(names, 2)
            if tuple(sorted((a, b))) not in found
        ]
    return Obligations(tuple(joins), (), (), tuple(isolation), 0)


def certificate(board: Board, needed: Obligations) -> int:
    """Touches that certify a good board: (n - d) beeps and one quiet for each two nets in scope (T4)."""
    design = nx.Graph()
    design.add_nodes_from(range(len(board.points)))
    design.add_edges_from(needed.joins)
    parts = list(nx.connected_components(design))
    part_of = {point: i for i, part in enumerate(parts) for point in part}
    quotient = nx.Graph((part_of[a], part_of[b]) for found in needed.isolation for a, b in found.pairs)
    return len(board.points) - len(parts) + int(quotient.number_of_edges())


def bound(found: Plan) -> int:
    graph = nx.Graph((t.a, t.b) for t in found.touches)
    return int(graph.number_of_edges()) + int(nx.number_connected_components(graph))


def lead_moves(touches: list[tuple[int, int]]) -> int:
    """Lead placements of touches in this order, counted lead by lead."""
    down: set[int] = set()
    moves = 0
    for pair in touches:
        moves += min(2, len(set(pair) - down)) if down & set(pair) else 2
        down = set(pair)
    return moves


def learn(knowledge: Knowledge, a: int, b: int, beep: bool) -> None:
    (knowledge.join if beep else knowledge.part)(a, b)


def fresh(board: Board) -> Knowledge:
    return Knowledge(len(board.points))


def shipped() -> list[tuple[str, Board]]:
    maps = [find_pin_map(name) for name in list_ids()]
    return [(f"{m.id}/{layout.id}", Board(m, layout)) for m in maps for layout in m.layouts]


CERTIFICATES = {"row19": (24, 34, 110), "c24": (30, 58, 129), "edge164": (202, 293, 4168)}
CERTIFICATES |= {"dsub9": (17, 28, 37), "dsub15": (26, 45, 60)}
"""Touches with neighbours within 1.5 pitches, within 2.5, and within 1.5 with every pair of nets."""


@pytest.mark.parametrize("name", CERTIFICATES)
@pytest.mark.parametrize(("column", "reach", "all_pairs"), [(0, 1.5, False), (1, 2.5, False), (2, 1.5, True)])
def test_certificate_and_placements_of_the_tables(name: str, column: int, reach: float, all_pairs: bool) -> None:
    touches = CERTIFICATES[name][column]
    board = table_board(TABLES[name])
    needed = table_needs(TABLES[name], board, reach, all_pairs)
    found = plan(board, fresh(board), needed)
    assert len(found.touches) == touches == certificate(board, needed)
    assert found.bound == bound(found) == touches + 1
    assert found.placements == lead_moves([(t.a, t.b) for t in found.touches])
    assert found.placements <= 1.02 * found.bound


@pytest.mark.parametrize("scope", ["near", "wide", "all"])
def test_every_shipped_layout_meets_certificate_and_placements(scope: str) -> None:
    for name, board in shipped():
        needed = obligations(board, scope)
        found = plan(board, fresh(board), needed)
        assert len(found.touches) == certificate(board, needed), name
        assert found.bound == bound(found), name
        assert found.placements == lead_moves([(t.a, t.b) for t in found.touches]), name
        assert found.placements <= 1.02 * found.bound, name


def test_contacts_cost_at_most_one_placement_more() -> None:
    """A signal with nothing but its ground touch and its contact makes a dead end of its own: three of them cannot be
    walked at the bound."""
    for name, board in shipped():
        needed = obligations(board, "near")
        found = plan(board, fresh(board), needed, needed.contacts)
        assert len(found.touches) == certificate(board, needed) + len(needed.contacts), name
        assert found.placements <= 1.02 * found.bound + 1, name


@pytest.mark.parametrize("scope", ["near", "all"])
def test_joins_come_first(scope: str) -> None:
    """Before the last join stand only the quiets over which the lead goes from star to star (board point to board
    point); where the bound leaves no other order (a dead end at both ends of the row), the touches of one pin more: its
    ground and the shell joints on either side of it."""
    excused = 0
    for name, board in shipped():
        touches = plan(board, fresh(board), obligations(board, scope)).touches
        joins = [i for i, t in enumerate(touches) if expects_beep(board, t)]
        hubs = set(board.board_point.values())
        early = [t for t in touches[: joins[-1] if joins else 0] if not expects_beep(board, t)]
        quiets = [t for t in early if not {t.a, t.b} <= hubs]
        assert len(early) - len(quiets) < max(1, len({touches[i].a for i in joins})), name
        assert len(quiets) <= 3 and len({t.a for t in quiets}) <= 1, name
        assert not quiets or touches[0] == quiets[0], name
        excused += bool(quiets)
        assert all(touches[i].a in hubs for i in joins[: len(joins) if not quiets else 0]), name
    assert excused <= len(shipped()) // 10


def test_a_is_the_point_where_a_lead_stays() -> None:
    """Shared with the touch before or after wherever either shares a point. The row of 19 takes ten held stretches
    for its 24 touches; fewer than seven cannot be, for the held points must meet every touch."""
    for name, board in shipped():
        touches = plan(board, fresh(board), obligations(board, "near")).touches
        ends = [{t.a, t.b} for t in touches]
        for i, touch in enumerate(touches):
            beside = ends[i - 1 : i] + ends[i + 1 : i + 2]
            if any(ends[i] & other for other in beside):
                assert any(touch.a in other for other in beside), name
    board = table_board(TABLES["row19"])
    touches = plan(board, fresh(board), table_needs(TABLES["row19"], board, 1.5, all_pairs=False)).touches
    assert 7 <= 1 + sum(x.a != y.a for x, y in pairwise(touches)) <= 10


def test_ground_sweep_then_the_rest() -> None:
    """In scope all, far pairs of signals come after everything against ground and every neighbour: of the 91 pairs of
    14 signals, 8 are neighbours."""
    board = table_board(TABLES["row19"])
    touches = plan(board, fresh(board), table_needs(TABLES["row19"], board, 1.5, all_pairs=True)).touches
    rest = [" against S" in t.why and "ground" not in t.why for t in touches]
    assert sum(rest) == 91 - 8
    first = rest.index(True)
    assert all(rest[first:])


Session = tuple[list[tuple[int, int, bool]], Knowledge, Plan]


def run_session(board: Board, needed: Obligations, sim: SimulatedBoard, contacts: Collection[Pair] = ()) -> Session:
    """Touch what the planner says until nothing is left; no pair may be known already."""
    knowledge = fresh(board)
    current, held = plan(board, knowledge, needed, contacts), None
    first = current
    asked: list[tuple[int, int, bool]] = []
    while True:
        current, touch = next_touch(current, board, knowledge, needed, contacts, held)
        if touch is None:
            return asked, knowledge, first
        assert knowledge.status(touch.a, touch.b) == UNKNOWN
        beep = sim.beeps(touch.a, touch.b)
        learn(knowledge, touch.a, touch.b, beep)
        asked.append((touch.a, touch.b, beep))
        held = touch.a


def left(board: Board, knowledge: Knowledge, needed: Obligations, contacts: Collection[Pair] = ()) -> list[Pair]:
    """What the ledger still wants: joins and contacts that are unknown, isolation that is neither shown nor joined."""
    unknown = [pair for pair in (*needed.joins, *contacts) if knowledge.status(*pair) == UNKNOWN]
    apart = apart_once_joined(knowledge, needed)
    wanted = (missing(board, knowledge, obligation, apart) for obligation in needed.isolation)
    return unknown + [pair for pair in wanted if pair is not None and not knowledge.joined(*pair)]


def wasted(asked: list[tuple[int, int, bool]], knowledge: Knowledge) -> int:
    """Quiets beyond one for each two groups that they part in the end."""
    quiets = [frozenset((knowledge.find(a), knowledge.find(b))) for a, b, beep in asked if not beep]
    return len(quiets) - len(set(quiets))


def test_good_board_follows_the_plan_to_the_end() -> None:
    for name, board in [("tiny", tiny_board()), *shipped()[::7]]:
        needed = obligations(board, "near")
        asked, knowledge, first = run_session(board, needed, SimulatedBoard(board))
        assert [(a, b) for a, b, _ in asked] == [(t.a, t.b) for t in first.touches], name
        assert left(board, knowledge, needed) == [], name
        assert wasted(asked, knowledge) == 0, name


@pytest.mark.parametrize("name", ["row19", "c24", "dsub9", "dsub15"])
@pytest.mark.parametrize("all_pairs", [False, True])
def test_one_bridge_wastes_few_quiets(name: str, all_pairs: bool) -> None:
    table = TABLES[name]
    board = table_board(table)
    needed = table_needs(table, board, 1.5, all_pairs)
    places = bridge_places(table, board, 1.5)
    rng = random.Random(7)
    waste = moves = touches = 0
    for _ in range(400):
        _, a, b = rng.choice(places)
        asked, knowledge, _ = run_session(board, needed, SimulatedBoard(board, [(a, b)]))
        assert knowledge.joined(a, b)
        waste += wasted(asked, knowledge)
        moves += lead_moves([(a, b) for a, b, _ in asked])
        touches += len(asked)
    assert waste / 400 <= 1.5
    assert moves <= 1.02 * touches + 2 * 400


def test_one_bridge_in_the_near_scope_of_the_program_wastes_few_quiets() -> None:
    names = [str(n) for n in range(1, 20)]
    grounds = ("2", "5", "8", "11", "17")
    signals = [Net("S" + n, "data", (n,)) for n in names if n not in (*grounds, "18")]
    nets = (Net("GND", "ground", grounds, must_join=True), Net("+5V", "power", ("18",), volts=5.0), *signals)
    layout = Layout("row", "", "", tuple(Joint(n, (n,), 0.5 * i, 0.0, 0.3, 1.0) for i, n in enumerate(names)))
    board = Board(PinMap("row", "", "", (), nets, {}, (layout,)), layout)
    needed = obligations(board, "near")
    rng = random.Random(11)
    gaps = [(board.number[a], board.number[b]) for a, b, _ in board.near_gaps]
    waste = 0
    for _ in range(400):
        asked, knowledge, first = run_session(board, needed, SimulatedBoard(board, [rng.choice(gaps)]))
        assert len(asked) <= len(first.touches)
        waste += wasted(asked, knowledge)
    assert waste / 400 <= 1.5


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(boards(), st.randoms(use_true_random=False), st.sampled_from(["near", "wide", "all"]), st.booleans())
def test_never_asks_what_is_known_and_leaves_nothing(
    board: Board, rng: random.Random, scope: str, with_contacts: bool
) -> None:
    """`run_session` asserts that each pair is unknown when asked; at the end the ledger wants nothing more."""
    needed = obligations(board, scope)
    sim = random_faults(board, rng, 0.3, 0.15, scope)
    contacts = needed.contacts if with_contacts else ()
    asked, knowledge, _ = run_session(board, needed, sim, contacts)
    assert left(board, knowledge, needed, contacts) == []
    pairs = [frozenset((a, b)) for a, b, _ in asked]
    assert len(pairs) == len(set(pairs))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(boards(), st.randoms(use_true_random=False), st.integers(0, 40))
def test_plan_after_any_readings_asks_nothing_that_its_own_touches_imply(
    board: Board, rng: random.Random, readings: int
) -> None:
    needed = obligations(board, "near")
    sim = random_faults(board, rng, 0.3, 0.15)
    knowledge = fresh(board)
    for _ in range(readings):
        a, b = rng.sample(range(len(board.points)), 2)
        learn(knowledge, a, b, sim.beeps(a, b))
    held = rng.randrange(len(board.points))
    found = plan(board, knowledge, needed, held=held)
    assert bool(found.touches) == bool(left(board, knowledge, needed))
    for touch in found.touches:
        assert knowledge.status(touch.a, touch.b) == UNKNOWN
        learn(knowledge, touch.a, touch.b, expects_beep(board, touch))
    assert left(board, knowledge, needed) == []


def test_an_open_ground_joint_is_asked_by_itself() -> None:
    """Ground 4 open and bridged to its neighbour 3: the quiet of 3 against the board's ground must not settle it."""
    board = tiny_board()
    needed = obligations(board, "near")
    four, three = board.number["4"], board.number["3"]
    _, knowledge, _ = run_session(board, needed, SimulatedBoard(board, [(three, four)], {four}))
    assert knowledge.status(three, four) == JOINED
    assert knowledge.status(four, board.number["@GND"]) == APART
    assert left(board, knowledge, needed) == []


def test_the_lead_that_sits_stays_when_the_plan_is_made_again() -> None:
    board = tiny_board()
    needed = obligations(board, "near")
    found = plan(board, fresh(board), needed)
    hub = board.number["@GND"]
    assert found.touches[0].a == hub and found.placements == found.bound
    again = plan(board, fresh(board), needed, held=hub)
    assert hub in (again.touches[0].a, again.touches[0].b)
    assert again.placements == again.bound - 1
    knowledge = fresh(board)
    for touch in found.touches:
        if expects_beep(board, touch):
            learn(knowledge, touch.a, touch.b, True)
    for point in ("3", "5"):
        later = plan(board, knowledge, needed, held=board.number[point])
        assert later.touches[0].a == board.number[point]
        assert later.placements <= later.bound


def test_any_board_point_with_joins_left_can_stay_held() -> None:
    for name, board in shipped():
        needed = obligations(board, "near")
        for hub in {point for _, point in needed.joins}:
            found = plan(board, fresh(board), needed, held=hub)
            assert hub in (found.touches[0].a, found.touches[0].b), name
            assert found.placements <= 1.02 * found.bound, name


def test_an_unexpected_answer_makes_a_new_plan_and_an_expected_one_does_not() -> None:
    board = tiny_board()
    needed = obligations(board, "near")
    knowledge = fresh(board)
    old = plan(board, knowledge, needed)
    quiet = next(i for i, t in enumerate(old.touches) if not expects_beep(board, t))
    for i, touch in enumerate(old.touches[:quiet]):
        assert next_touch(old, board, knowledge, needed, held=touch.a) == (old, old.touches[i])
        learn(knowledge, touch.a, touch.b, True)
    shorted = old.touches[quiet]
    learn(knowledge, shorted.a, shorted.b, True)
    new, following = next_touch(old, board, knowledge, needed, held=shorted.a)
    assert new == plan(board, knowledge, needed, held=shorted.a) != old
    assert following == new.touches[0] and shorted.a in (following.a, following.b)


def test_put_off_touches_wait_and_come_back() -> None:
    board = tiny_board()
    needed = obligations(board, "near")
    knowledge = fresh(board)
    current = plan(board, knowledge, needed)
    first, second = current.touches[:2]
    off = [(first.b, first.a)]
    assert next_touch(current, board, knowledge, needed, put_off=off)[1] == second
    for touch in current.touches[1:]:
        learn(knowledge, touch.a, touch.b, expects_beep(board, touch))
    assert next_touch(current, board, knowledge, needed, put_off=off)[1] is None
    _, back = next_touch(current, board, knowledge, needed)
    assert back is not None and {back.a, back.b} == {first.a, first.b}


def test_a_plan_made_with_more_knowledge_is_not_the_last_word() -> None:
    """Readings lost after the plan was made (rework, taken back) are asked again before the planner says none left."""
    board = tiny_board()
    needed = obligations(board, "near")
    _, knowledge, _ = run_session(board, needed, SimulatedBoard(board))
    done = plan(board, knowledge, needed)
    assert done == Plan((), 0, 0)
    current, touch = next_touch(done, board, fresh(board), needed)
    assert touch == plan(board, fresh(board), needed).touches[0] == current.touches[0]


def test_plan_json_names_points() -> None:
    board = tiny_board()
    found = plan(board, fresh(board), obligations(board, "near"))
    shown = plan_json(found, board)
    assert list(shown) == ["touches", "placements", "bound"]
    assert shown["touches"][0] == {"a": "@GND", "b": "1", "why": "1 must reach GND"}
    assert len(shown["touches"]) == len(found.touches) and shown["placements"] == found.placements
    assert all(t["why"] and {t["a"], t["b"]} <= set(board.points) for t in shown["touches"])


def test_paper_form_of_every_shipped_layout() -> None:
    for name, board in shipped():
        found = plan(board, fresh(board), obligations(board, "near"))
        lines = list(plan_lines(found, checked(board, []), board))
        assert all(len(line) <= 80 and line.isascii() for line in lines), name
        assert sum(line.count(". [ ] ") for line in lines) == len(found.touches), name
        checks = [i for i, line in enumerate(lines) if line == LEAD_CHECK]
        assert lines[-1] == LEAD_CHECK and len(checks) >= 2, name
        for start, end in pairwise(checks):
            between = sum(line.count(". [ ] ") for line in lines[start:end])
            assert 0 < between <= TOUCHES_PER_LEAD_CHECK, name


def test_paper_form_reads_as_held_point_and_touches() -> None:
    board = tiny_board()
    lines = list(plan_lines(plan(board, fresh(board), obligations(board, "near")), checked(board, []), board))
    at = lines.index("hold @GND, touch, each must beep:")
    assert lines[at + 1].split() == ["1.", "[", "]", "1", "2.", "[", "]", "4", "3.", "[", "]", "7"]
    assert lines[at + 2] == "hold @GND, touch, each must be silent:"
    assert list(plan_lines(Plan((), 0, 0), checked(board, []), board))[-1].startswith(
        "nothing left to touch in this scope"
    )


def test_a_board_of_5000_joints_is_planned_without_a_felt_pause() -> None:
    """Measured 0.1 s on an idle core; the limit leaves room for a busy one."""
    count = 5000
    names = [str(n) for n in range(count)]
    signals = [Net("S" + n, "data", (n,)) for i, n in enumerate(names) if i % 3]
    nets = (Net("GND", "ground", tuple(names[::3]), must_join=True), *signals)
    layout = Layout("row", "", "", tuple(Joint(n, (n,), float(i), 0.0, 0.5, 1.0) for i, n in enumerate(names)))
    board = Board(PinMap("row", "", "", (), nets, {}, (layout,)), layout)
    hub = board.number["@GND"]
    apart = [Isolation((names[i], names[i + 1]), ((i, i + 1),), 0.5, False) for i in range(1, count - 1, 3)]
    apart += [Isolation(("@GND", names[i]), ((i - i % 3, i),), 0.5, True) for i in range(count) if i % 3]
    needed = Obligations(tuple((i, hub) for i in range(0, count, 3)), (), (), tuple(apart), 0)
    start = time.perf_counter()
    found = plan(board, fresh(board), needed)
    took = time.perf_counter() - start
    assert len(found.touches) == certificate(board, needed)
    assert found.placements <= 1.02 * found.bound
    assert took < 2.0


def test_a_connector_of_20_pins_is_planned_in_milliseconds() -> None:
    board = table_board(TABLES["row19"])
    needed = table_needs(TABLES["row19"], board, 1.5, all_pairs=False)
    knowledge = fresh(board)
    took = []
    for _ in range(10):
        start = time.perf_counter()
        plan(board, knowledge, needed)
        took.append(time.perf_counter() - start)
    assert min(took) < 0.002
