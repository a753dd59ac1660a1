"""Residual risk against worked values, and how it follows the readings of a board.

The worked values were computed apart from the program, by hand formulas, enumeration and Monte Carlo.
"""

from __future__ import annotations

import random
from itertools import combinations, product
from math import e, prod

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connector_check.analysis.obligations import conductor, obligations
from connector_check.analysis.replay import replay
from connector_check.analysis.residual import (
    Assumptions,
    assumptions_from,
    board_risk,
    open_posterior,
    pair_prior,
    posterior,
    posterior_with_beeps,
    residual,
    residual_risk,
)
from connector_check.board.board import ALL, NEAR, WIDE, Board
from connector_check.errors import InputError
from connector_check.pinout.geometry import gap
from connector_check.pinout.pinmap import Joint, Layout, Net, PinMap
from connector_check.testlog.readings import Entry
from tests.bench.residual_observed import observe, predicted
from tests.bench.residual_observed import row as observed_row
from tests.strategies import boards, entry, examined, log, tiny_board
from tests.test_obligations import against_a_bare_shell

PLAIN = Assumptions(persistent_miss=0, false_beep=0)


def plain(**changes: float) -> Assumptions:
    return Assumptions(**{"persistent_miss": 0, "false_beep": 0, **changes})


@pytest.mark.parametrize(
    ("p", "miss", "quiets", "persistent", "expected"),
    [
        (0.01, 0.01, 1, 0, "1.009999e-04"),
        (0.01, 0.01, 2, 0, "1.010100e-06"),
        (0.01, 0.1, 1, 0, "1.009082e-03"),
        (0.01, 0.1, 2, 0, "1.009999e-04"),
        (0.05, 0.02, 1, 0, "1.051525e-03"),
        (0.2, 0.02, 1, 0, "4.975124e-03"),
        (0.01, 0.01, 1, 0.005, "1.509873e-04"),
        (0.01, 0.01, 2, 0.005, "5.150745e-05"),
        (0.01, 0.01, 1000, 0.005, "5.050250e-05"),
    ],
)
def test_the_table(p, miss, quiets, persistent, expected):
    assert f"{posterior(p, quiets, plain(miss=miss, persistent_miss=persistent)):.6e}" == expected


@pytest.mark.parametrize(
    ("beeps", "quiets", "expected"),
    [(1, 0, "0.827526"), (1, 1, "0.193795"), (2, 1, "0.991318"), (1, 2, "0.011900")],
)
def test_beep_evidence(beeps, quiets, expected):
    found = posterior_with_beeps(0.01, beeps, quiets, plain(miss=0.05, false_beep=0.002))
    assert f"{found:.6f}" == expected


def test_priors_by_gap():
    found = [pair_prior(mm, 0.2) for mm in (0.2, 0.7, 1.2)]
    assert [f"{p:.3e}" for p in found] == ["1.000e-02", "3.567e-04", "1.273e-05"]
    assert pair_prior(0.1, 0.2) == pair_prior(0.2, 0.2)


@pytest.mark.parametrize(
    ("quiets", "expected"),
    [
        ((0, 0, 0), "0.170702"),
        ((1, 0, 0), "8.054759e-03"),
        ((2, 0, 0), "6.267741e-03"),
        ((1, 1, 0), "2.080213e-03"),
        ((2, 1, 0), "2.824319e-04"),
    ],
)
def test_row_of_19_distinct_nets(quiets, expected):
    posts = [
        posterior(pair_prior(mm, 0.2), count, PLAIN)
        for mm, pairs, count in zip((0.2, 0.7, 1.2), (18, 17, 16), quiets, strict=True)
        for _ in range(pairs)
    ]
    found = board_risk(posts)
    assert (f"{found:.6e}" if "e" in expected else f"{found:.6f}") == expected


def test_parts_of_the_row_of_19():
    near = board_risk([posterior(pair_prior(0.2, 0.2), 1, PLAIN)] * 18)
    far = board_risk([pair_prior(0.7, 0.2)] * 17 + [pair_prior(1.2, 0.2)] * 16)
    assert f"{near:.3e}" == "1.816e-03" and f"{far:.3e}" == "6.250e-03"


def row(count: int) -> Board:
    """Pads of 0.3 mm at 0.5 mm, each its own data net, so gaps of 0.2, 0.7, 1.2 mm."""
    joints = tuple(Joint(str(i), (str(i),), 0.5 * i, 0, 0.3, 1.0) for i in range(1, count + 1))
    nets = tuple(Net(f"S{i}", "data", (str(i),)) for i in range(1, count + 1))
    layout = Layout("row", "", "invented", joints)
    return Board(PinMap("row", "row", "", (), nets, {}, (layout,)), layout)


def quiet(board: Board, *pairs: tuple[int, int]) -> list[Entry]:
    return [Entry(line, "quiet", pair) for line, pair in enumerate(pairs, 1)]


def neighbours(count: int, apart: int = 1) -> list[tuple[int, int]]:
    return [(i, i + apart) for i in range(count - apart)]


@pytest.mark.parametrize(
    ("pairs", "expected"),
    [
        ([], 0.170702),
        (neighbours(19), 8.054759e-3),
        (neighbours(19) * 2, 6.267741e-3),
        (neighbours(19) + neighbours(19, 2), 2.080213e-3),
        (neighbours(19) * 2 + neighbours(19, 2), 2.824319e-4),
    ],
)
def test_the_same_row_as_a_board(pairs, expected):
    """The board weighs pairs past 1.2 mm as well: 15 of 4.5e-7, 14 of 1.6e-8 and so on, 7.1e-6 in all."""
    board = row(19)
    found = residual(board, replay(board, quiet(board, *pairs)), NEAR, PLAIN)
    assert found.risk == pytest.approx(expected + (1 - expected) * 7.1e-6, rel=1e-3, abs=1e-7)
    assert found.pairs_in_scope == 18 and found.unprobed_in_scope == (0 if pairs else 18)
    assert found.risk == pytest.approx(1 - (1 - found.in_scope) * (1 - found.beyond_scope), rel=1e-9)


def exact(count: int, probed: dict[tuple[int, int], int], miss: float, p0: float = 0.01) -> float:
    """Enumeration of all bridge sets on a row: a quiet is silent by chance wherever bridges join its ends."""
    edges = {(i, i + d): p0 * e ** (-(0.5 * (d - 1)) / 0.15) for d in (1, 2) for i in range(count - d)}
    bad = good = 0.0
    for chosen in product((0, 1), repeat=len(edges)):
        weight = prod(p if on else 1 - p for on, p in zip(chosen, edges.values(), strict=True))
        label = list(range(count))
        for on, (a, b) in zip(chosen, edges, strict=True):
            if on:
                label = [label[a] if x == label[b] else x for x in label]
        weight *= prod(miss**n for (a, b), n in probed.items() if label[a] == label[b])
        if any(chosen):
            bad += weight
        else:
            good += weight
    return bad / (bad + good)


@pytest.mark.parametrize(
    ("second", "product_form", "enumerated"),
    [(0, "2.387194e-03", "2.386838e-03"), (1, "6.236788e-04", "6.236247e-04")],
)
def test_the_product_is_close_to_enumeration_on_seven_pins(second, product_form, enumerated):
    posts = [posterior(pair_prior(0.2, 0.2), 1, PLAIN)] * 6 + [posterior(pair_prior(0.7, 0.2), second, PLAIN)] * 5
    assert f"{board_risk(posts):.6e}" == product_form
    probed = dict.fromkeys(neighbours(7) + (neighbours(7, 2) if second else []), 1)
    assert f"{exact(7, probed, 0.01):.6e}" == enumerated


def test_the_value_compared_with_monte_carlo():
    """7 pins, p0 .05, miss .1, neighbours probed once: simulation .03931 +- .00036, enumeration .03954."""
    a = plain(prior_at_least_gap=0.05, miss=0.1)
    posts = [posterior(pair_prior(0.2, 0.2, a), 1, a)] * 6 + [pair_prior(0.7, 0.2, a)] * 5
    assert f"{exact(7, dict.fromkeys(neighbours(7), 1), 0.1, 0.05):.5f}" == "0.03954"
    assert board_risk(posts) == pytest.approx(0.03954, rel=0.003)


@given(st.floats(1e-6, 0.4), st.integers(0, 30), st.floats(0, 0.9), st.floats(0, 0.5), st.floats(0, 0.3))
def test_posterior_against_counting_by_hand(p, quiets, miss, persistent, false_beep):
    bridged = p * (persistent + (1 - persistent) * prod([miss] * quiets))
    clean = (1 - p) * prod([1 - false_beep] * quiets)
    a = Assumptions(miss=miss, persistent_miss=persistent, false_beep=false_beep)
    assert posterior(p, quiets, a) == pytest.approx(bridged / (bridged + clean), rel=1e-9)
    assert posterior_with_beeps(p, 0, quiets, a) == posterior(p, quiets, a)


def by_hand(board: Board, entries: list[Entry], scope: str, a: Assumptions) -> dict[str, object]:
    """The residual of beeps and quiets pair by pair, with networkx for what is joined."""
    joined = nx.Graph(touch.points for touch in entries if touch.kind == "beep")
    joined.add_nodes_from(range(len(board.points)))
    label = {p: i for i, part in enumerate(nx.connected_components(joined)) for p in part}
    metal = (
        {board.shell_point: {label[p] for p in (*board.shell_joints, board.shell_point)}} if board.shell_point else {}
    )
    silent = []
    for kind, (u, v) in ((touch.kind, touch.points) for touch in entries):
        if kind == "quiet":
            ends = [metal.get(p, {label[p]}) for p in (u, v)]
            silent += {frozenset((x, y)) for x in ends[0] for y in ends[1] if x != y}
    near = {frozenset((x, y)) for x, y, _ in board.gaps(scope)}
    least = min(mm for _, _, mm in board.near_gaps)
    inside, beyond, unprobed = [], [], 0
    bare = against_a_bare_shell(board, scope)
    for i, k in combinations(range(len(board.joints)), 2):
        net, other = board.net_of[i], board.net_of[k]
        mm = gap(board.joints[i], board.joints[k])
        prior = a.prior_at_least_gap * e ** (-(mm - least) / a.decay_mm)
        if not board.must_be_apart(net, other) or label[i] == label[k] or prior < 1e-12:
            continue
        quiets = silent.count(frozenset((label[i], label[k])))
        bridged = prior * (a.persistent_miss + (1 - a.persistent_miss) * a.miss**quiets)
        risk = bridged / (bridged + (1 - prior) * (1 - a.false_beep) ** quiets)
        roles = sorted((net.role, other.role))
        whole = scope == ALL or "ground" in roles or roles == ["power", "power"]
        whole = whole or frozenset((conductor(board, i), conductor(board, k))) in bare
        if whole or frozenset(board.pair((i, k))) in near:
            inside.append(risk)
            unprobed += quiets == 0
        else:
            beyond.append(risk)
    clean = [prod(1 - risk for risk in part) for part in (inside, beyond)]
    return {
        "risk": pytest.approx(1 - clean[0] * clean[1], abs=1e-9),
        "in_scope": pytest.approx(1 - clean[0], abs=1e-9),
        "beyond_scope": pytest.approx(1 - clean[1], abs=1e-9),
        "pairs_in_scope": len(inside),
        "unprobed_in_scope": unprobed,
        "pairs_beyond": len(beyond),
    }


@settings(max_examples=60, deadline=None)
@given(boards(most=8), st.data(), st.sampled_from([NEAR, WIDE, ALL]))
def test_the_residual_of_a_board_is_that_of_its_pairs(board, data, scope):
    points = st.integers(0, len(board.points) - 1)
    pairs = st.tuples(points, points).filter(lambda pair: pair[0] != pair[1])
    touches = data.draw(st.lists(st.tuples(pairs, st.sampled_from(["beep", "quiet", "quiet", "quiet"])), max_size=20))
    entries = [Entry(line, kind, pair) for line, (pair, kind) in enumerate(touches, 1)]
    assumed = Assumptions(decay_mm=data.draw(st.sampled_from([0.15, 2.0])))
    found = residual(board, replay(board, entries), scope, assumed)
    told = by_hand(board, entries, scope, assumed)
    assert {name: getattr(found, name) for name in told} == told
    assert found.assumptions is assumed


def test_pairs_whose_prior_is_next_to_nothing_are_left_out():
    """0.01 falls to 1e-12 over 0.15 ln 1e10 = 3.454 mm: the 7 nearest of a row at 0.5 mm, 18 + 17 ... + 12 pairs."""
    board = row(19)
    found = residual(board, replay(board, []), NEAR)
    assert found.pairs_in_scope + found.pairs_beyond == 105
    faint = residual(board, replay(board, []), NEAR, Assumptions(prior_at_least_gap=1e-12))
    assert (faint.pairs_in_scope, faint.pairs_beyond) == (18, 0)
    none = residual(board, replay(board, []), NEAR, Assumptions(prior_at_least_gap=0.0))
    assert (none.pairs_in_scope, none.risk) == (18, 0.0)


def test_seen_solder_is_a_site_and_no_odds_of_the_residual_risk():
    board = row(2)
    assert residual(board, replay(board, log(board, "1 2 solder seen")), NEAR, PLAIN).risk == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("", {}),
        (" miss = 0.05 , false_beep=0.1,", {"miss": 0.05, "false_beep": 0.1}),
        ("decay_mm=0.001", {"decay_mm": 0.001}),
        ("decay_mm=10", {"decay_mm": 10.0}),
        ("prior_at_least_gap=0.5", {"prior_at_least_gap": 0.5}),
        ("miss=1,persistent_miss=1,false_beep=0.99", {"miss": 1.0, "persistent_miss": 1.0, "false_beep": 0.99}),
        ("mask_factor=1e6,rework_factor=0.001", {"mask_factor": 1e6, "rework_factor": 0.001}),
        ("miss=0,prior_at_least_gap=0", {"miss": 0.0, "prior_at_least_gap": 0.0}),
    ],
)
def test_assumptions_as_text(text, values):
    assert assumptions_from(text) == Assumptions(**values)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("miss", "assumptions: 'miss': expected NAME=NUMBER"),
        ("miss=much", "assumptions: 'miss=much': expected NAME=NUMBER"),
        ("luck=1", "assumptions: unknown 'luck': there are prior_at_least_gap, decay_mm, miss"),
        ("miss=2", "assumptions: miss is 2: expected a probability"),
        ("false_beep=0.995", "assumptions: false_beep is 0.995: expected a probability under 0.99"),
        ("prior_at_least_gap=0.51", "assumptions: prior_at_least_gap is 0.51: expected a probability under 0.5"),
        ("decay_mm=10.1", "assumptions: decay_mm is 10.1: expected a length from 0.001 to 10 mm"),
        ("mask_factor=2e6", "assumptions: mask_factor is 2e+06: expected an odds factor, 1 for no effect"),
        ("rework_factor=2e6", "assumptions: rework_factor is 2e+06: expected an odds factor, 1 for no effect"),
    ],
)
def test_assumptions_that_are_not_understood_are_told(text, told):
    with pytest.raises(InputError) as caught:
        assumptions_from(text)
    assert str(caught.value).startswith(told)


def test_a_certain_bridge_and_what_cannot_be():
    assert posterior(1.0, 3) == 1.0 and posterior(0.0, 3) == 0.0
    never = Assumptions(miss=0.0, persistent_miss=0.0, false_beep=0.0)
    assert posterior(0.2, 1, never) == 0.0
    # a touch that beeps over a bridge alone, and never without one
    assert posterior_with_beeps(0.2, 1, 0, never) == 1.0
    # one in four bridges is silent always: 0.2 * 0.75 * 0.9 against 0.8 * 0.1
    some = Assumptions(miss=0.1, persistent_miss=0.25, false_beep=0.1)
    assert posterior_with_beeps(0.2, 1, 0, some) == pytest.approx(0.135 / 0.215)
    # both a beep and a quiet cannot be, so the prior is what is left
    assert posterior_with_beeps(0.2, 1, 1, never) == 0.2
    assert board_risk([0.5, 1.0]) == 1.0 and board_risk([0.5, 0.5]) == pytest.approx(0.75)


def test_quiets_count_for_whole_groups_and_beeps_leave_the_risk():
    board = tiny_board()
    one = residual(board, replay(board, log(board, "2 1 quiet")), NEAR, PLAIN)
    grouped = residual(
        board, replay(board, log(board, "2 1 quiet\n1 @GND beep\n4 @GND beep\n7 @GND beep")), NEAR, PLAIN
    )
    assert grouped.unprobed_in_scope < one.unprobed_in_scope
    assert grouped.risk < one.risk
    shorted = residual(board, replay(board, log(board, "2 1 beep")), NEAR, PLAIN)
    assert shorted.pairs_in_scope == one.pairs_in_scope - 1


def test_a_quiet_on_the_shell_is_one_on_each_of_its_joints():
    joints = (
        *(Joint(str(i), (str(i),), 0.5 * i, 0, 0.3, 1) for i in (1, 2)),
        Joint("SH1", ("SH",), 0, 0, 0.3, 1),
        Joint("SH2", ("SH",), 1.5, 0, 0.3, 1),
    )
    nets = (Net("A", "data", ("1",)), Net("B", "data", ("2",)), Net("SHELL", "shell", ("SH",)))
    layout = Layout("row", "", "invented", joints)
    board = Board(PinMap("s", "s", "", (), nets, {}, (layout,)), layout)
    assert residual(board, replay(board, []), NEAR, PLAIN).unprobed_in_scope == 3
    assert residual(board, replay(board, log(board, "SH 1 quiet\nSH 2 quiet")), NEAR, PLAIN).unprobed_in_scope == 1


def test_wider_scopes_move_pairs_inside_and_leave_the_whole_as_it_was():
    board = row(9)
    near, wide, everything = (residual(board, replay(board, []), scope, PLAIN) for scope in (NEAR, WIDE, ALL))
    assert near.pairs_in_scope < wide.pairs_in_scope < everything.pairs_in_scope
    assert near.risk == pytest.approx(wide.risk) and near.risk == pytest.approx(everything.risk)
    assert everything.beyond_scope == 0 and everything.pairs_beyond == 0
    assert near.beyond_scope > wide.beyond_scope > 0


def test_ohms_that_part_count_and_unsure_and_doubtful_do_not():
    board = row(2)
    none = residual(board, replay(board, []), NEAR, PLAIN).risk
    for kind, ohms, lower in (("ohms", 1e6, True), ("chirp", None, True), ("unsure", None, False)):
        found = residual(board, replay(board, [Entry(1, kind, (0, 1), ohms)]), NEAR, PLAIN)
        assert (found.risk < none) == lower and found.unprobed_in_scope == (0 if lower else 1)


def test_lost_mask_and_rework_raise_the_odds():
    board = row(2)
    mask = residual(board, replay(board, log(board, "1 2 mask lost")), NEAR, PLAIN)
    rework = residual(board, replay(board, [Entry(1, "reworked", (0,))]), NEAR, PLAIN)
    assert mask.risk == pytest.approx(4 * 0.01 / (4 * 0.01 + 0.99))
    assert rework.risk == pytest.approx(2 * 0.01 / (2 * 0.01 + 0.99))
    flat = residual(board, replay(board, log(board, "1 2 mask lost")), NEAR, plain(mask_factor=1))
    assert flat.risk == pytest.approx(0.01)


def test_a_board_without_pairs_has_no_risk():
    layout = Layout("one", "", "invented", (Joint("1", ("1",), 0, 0, 1, 1),))
    board = Board(PinMap("one", "one", "", (), (Net("A", "data", ("1",)),), {}, (layout,)), layout)
    found = residual(board, replay(board, []), NEAR)
    assert (found.risk, found.pairs_in_scope, found.pairs_beyond) == (0.0, 0, 0)
    assert board_risk([]) == 0 and board_risk([0.1, 1.0]) == 1


def test_the_pairs_in_scope_are_those_the_obligations_name():
    board = tiny_board()
    for scope in (NEAR, WIDE, ALL):
        found = residual(board, replay(board, []), scope, plain(decay_mm=5))
        wanted = {frozenset(pair) for wall in obligations(board, scope).isolation for pair in wall.pairs}
        assert found.pairs_in_scope >= len({p for p in wanted if max(p) < len(board.joints)})


@pytest.mark.parametrize(
    "changes",
    [
        {"miss": 1.5},
        {"miss": -0.1},
        {"prior_at_least_gap": -0.1},
        {"persistent_miss": -0.1},
        {"false_beep": -0.1},
        {"mask_factor": 1000000.5},
        {"rework_factor": 1000000.5},
        {"prior_at_least_gap": 0.9},
        {"decay_mm": 0},
        {"false_beep": 1},
        {"mask_factor": 0},
        {"rework_factor": float("nan")},
        {"persistent_miss": float("inf")},
    ],
)
def test_assumptions_out_of_range_are_refused(changes):
    with pytest.raises(InputError, match=f"assumptions: {next(iter(changes))} is .*: expected"):
        Assumptions(**changes)


def test_every_assumption_is_printed_with_its_name_and_value():
    a = Assumptions(0.011, 0.16, 0.012, 0.0051, 0.0021, 4.5, 2.5, 0.013)
    text = " ".join(a.lines())
    for name, value in a.__dict__.items():
        assert name in text and f"{value:g}" in text


def test_the_chance_that_a_joint_makes_no_contact():
    """One tone: p f / (p f + (1 - p)(1 - m)), 2e-5 / (2e-5 + .9801) by hand."""
    assert f"{open_posterior(0.01, 1):.4e}" == "2.0406e-05" and open_posterior(0.01, 0) == 0.01
    board = row(3)
    none = residual(board, replay(board, []), NEAR)
    assert (none.joints, none.untested) == (3, 3) and none.no_contact == pytest.approx(1 - 0.99**3)
    once = residual(board, replay(board, log(board, "1 @S1 beep")), NEAR)
    assert once.untested == 2 and once.no_contact == pytest.approx(1 - 0.99**2 * (1 - 2.0406e-5), rel=1e-6)
    twice = residual(board, replay(board, log(board, "1 @S1 beep\n1 @S1 beep")), NEAR)
    assert twice.no_contact < once.no_contact
    # silent joints are findings, not risk
    assert residual(board, replay(board, log(board, "1 @S1 quiet")), NEAR).joints == 2
    # joints joined to their fellows only are assumed, and counted as not tested
    tiny = tiny_board()
    assumed = residual(tiny, replay(tiny, log(tiny, "1 4 beep\n4 7 beep")), NEAR)
    assert (
        assumed.untested == assumed.joints == len((*obligations(tiny, NEAR).joins, *obligations(tiny, NEAR).contacts))
    )


def test_the_residual_risk_comes_true_as_often_as_it_says():
    """The long run is `python -m tests.bench.residual_observed`; four standard errors, 60,000 boards."""
    told, seen = predicted(observed_row()), observe(60_000, random.Random(3))
    assert seen.kept > 3000
    for chance, count in ((told.risk, seen.bridged), (told.no_contact, seen.open)):
        assert count / seen.kept == pytest.approx(chance, abs=4 * (chance * (1 - chance) / seen.kept) ** 0.5)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("1 @GND beep\n2 3 quiet", True),  # unproven, nothing found
        ("2 3 beep", False),  # rework
        ("3 5 40 ohm", False),  # unproven, a leak found
    ],
)
def test_the_residual_risk_stands_beside_a_result_without_findings_alone(text, told):
    board = tiny_board()
    *rest, last = text.split("\n")
    a, b, kind = last.split(maxsplit=2)
    ohms = float(kind.split()[0]) if "ohm" in kind else None
    entries = [*(log(board, "\n".join(rest)) if rest else ()), entry(board, 9, a, b, "ohms" if ohms else kind, ohms)]
    found = examined(board, entries)
    assert (residual_risk(found.result, found.standing) is not None) is told


@pytest.mark.parametrize("name", ["miss", "persistent_miss"])
def test_a_probability_is_at_most_one(name):
    assert getattr(Assumptions(**{name: 1.0}), name) == 1.0
    for value in (-0.01, 1.01):
        with pytest.raises(InputError, match="expected a probability"):
            Assumptions(**{name: value})


@pytest.mark.parametrize("name", ["mask_factor", "rework_factor"])
def test_an_odds_factor_is_above_zero(name):
    for value in (0.0, -0.5, 2e6):
        with pytest.raises(InputError, match="expected an odds factor"):
            Assumptions(**{name: value})
    assert getattr(Assumptions(**{name: 0.001}), name) == 0.001
