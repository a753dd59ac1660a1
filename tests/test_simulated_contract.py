"""Our own sources of answers are held to the contract, and liars are caught by it."""

from __future__ import annotations

import dataclasses
import random
from collections import Counter
from math import inf

import pytest

from connector_check.board.board import Board
from connector_check.pinout.pinmap import DesignPath
from connector_check.simulated.board import Bridge, Part, SimulatedBoard
from connector_check.simulated.contract import Known, broken, one_sided, wrong_leads, wrong_looks, wrong_ohms
from connector_check.simulated.meter import GOOD, SILENT, SOUND, Hands, LeadFault, SimulatedMeter
from connector_check.simulated.person import Repair, SimulatedPerson, Source
from connector_check.simulated.truth import contact_required, judge
from connector_check.testlog.meter import Meter
from connector_check.testlog.readings import parse_reading
from tests.strategies import tiny_board

BANDS = [Meter(10, 250), Meter(10, 35), Meter(20, 80), Meter(30, 30), Meter(100, 150)]


def bench_board() -> SimulatedBoard:
    """The tiny connector: 2 and 3 bridged by 0.4 ohm, 5 open, 75 ohm from TX to ground, a supply capacitor."""
    tiny = tiny_board().pin_map
    pin_map = dataclasses.replace(tiny, paths=(DesignPath(("TX", "GND"), 70, 80, "75 ohm"),))
    board = Board(pin_map, pin_map.layouts[0])
    two, three, five = (board.number[name] for name in "235")
    return SimulatedBoard(
        board,
        (Bridge(two, three, 0.4),),
        frozenset({five}),
        parts=(Part(("TX", "GND"), (75.0,)),),
        capacitors=(("+5V", "GND"),),
    )


KNOWN = [
    Known("1", "4", 0.0),
    Known("1", "@GND", 0.0),
    Known("2", "3", 0.4),
    Known("@TX", "7", 75.0),
    Known("5", "@TX", inf),
    Known("3", "4", inf),
    Known("SH1", "SH", 0.0),
]


def person(seed: int = 1, band: Meter = BANDS[0], **meter) -> SimulatedPerson:
    rng = random.Random(seed)
    return SimulatedPerson(bench_board(), SimulatedMeter(rng, band, **meter), rng)


@pytest.mark.parametrize("band", BANDS, ids=lambda band: f"{band.sounds_below:g}:{band.silent_above:g}")
@pytest.mark.parametrize("wavers", [False, True])
@pytest.mark.parametrize("chirps", [False, True])
def test_our_person_keeps_the_contract(band, wavers, chirps):
    for seed in range(20):
        source = person(seed, band, wavers=wavers, chirps=chirps)
        assert isinstance(source, Source)
        assert broken(source, KNOWN, band) == []
        source.tells_leads_ohms = True
        assert wrong_leads(source) == [] and source.leads() in ("leads good 0.2", "leads good 0.2")


def test_looks_tell_where_solder_is():
    assert wrong_looks(person(), [("3", "4"), ("5", "6")], [("3", "2")]) == []
    assert len(wrong_looks(person(), [("2", "3")], [("3", "4")])) == 2


class Liar:
    """A sound source in all but one thing."""

    def __init__(self, **lies) -> None:
        self.true, self.lies, self.asked = person(), lies, 0

    def __getattr__(self, name):
        return self.lies.get(name) or getattr(self.true, name)


LIARS = {
    "always sounds": ({"touch": lambda a, b: "beep"}, "must be silent"),
    "never sounds": ({"touch": lambda a, b: "quiet"}, "must sound"),
    "other words": ({"touch": lambda a, b: "yes"}, "none of beep"),
    "ohms without a number": ({"ohms": lambda a, b: "some"}, "no ohms reading"),
    "ohms out by a decimal": ({"ohms": lambda a, b: "7.5"}, "for 75 ohm"),
    "never OL": ({"ohms": lambda a, b: "0.2"}, "for inf ohm"),
    "bad leads always": ({"leads": lambda: "leads silent"}, "with sound leads"),
    "other lead words": ({"leads": lambda: "fine"}, "with sound leads"),
    "leads of 12 ohm": ({"leads": lambda: "leads good 12"}, "leads of 12 ohm"),
}


@pytest.mark.parametrize("name", LIARS)
def test_a_liar_is_caught(name):
    lies, told = LIARS[name]
    assert any(told in line for line in broken(Liar(**lies), KNOWN, BANDS[0]))


def test_one_sided_answers_and_unknown_points_are_caught():
    class Diode(SimulatedPerson):
        def touch(self, a: str, b: str) -> str:
            return "quiet" if a > b else super().touch(a, b)

    class Careless(SimulatedPerson):
        def _point(self, name: str) -> int:
            return self.board.board.resolve(name) or 0

    rng = random.Random(1)
    meter = SimulatedMeter(rng)
    assert len(one_sided(Diode(bench_board(), meter, rng), KNOWN)) == 4
    told = broken(Careless(bench_board(), meter, rng), KNOWN, BANDS[0])
    assert len([line for line in told if "not there" in line]) == 4


def test_the_contract_wants_a_joined_and_an_open_pair():
    for pairs in (KNOWN[:3], KNOWN[3:6]):
        with pytest.raises(ValueError, match="needs a pair"):
            broken(person(), pairs, BANDS[0])


# The meter


def test_a_threshold_lies_anywhere_in_the_band_and_holds_for_a_meter_unless_it_wavers():
    band = Meter(10, 250)
    rng = random.Random(2)
    share = Counter(SimulatedMeter(rng, band).sounds(75.0) for _ in range(2_000))
    assert 0.3 < share[True] / 2_000 < 0.7
    steady = SimulatedMeter(rng, band)
    assert len({steady.sounds(75.0) for _ in range(200)}) == 1
    wavering = SimulatedMeter(rng, band, wavers=True)
    assert len({wavering.sounds(75.0) for _ in range(200)}) == 2
    for meter in (steady, wavering):
        assert all(meter.sounds(10.0) and not meter.sounds(250.1) for _ in range(200))


def test_ohms_are_off_by_the_error_the_leads_and_the_steps_shown():
    source = person(leads_ohms=0.3, error=0.02)
    shown = {parse_reading(source.ohms("@TX", "7"))[1] for _ in range(300)}
    assert 73.7 <= min(shown) < 74.5 and 76 < max(shown) <= 76.9 and len(shown) > 20
    assert all(round(value * 10) == pytest.approx(value * 10) for value in shown)
    assert source.ohms("5", "@TX") == "OL"
    assert wrong_ohms(source, KNOWN) == []
    assert person(over=50.0).ohms("@TX", "7") == "OL"


def test_misses_are_silent_at_their_rate():
    source = person(3, hands=Hands(miss=0.1))
    heard = Counter(source.touch("1", "4") for _ in range(4_000))
    assert heard["quiet"] / 4_000 == pytest.approx(0.1, abs=0.02) and set(heard) == {"beep", "quiet"}
    assert Counter(source.ohms("1", "4") for _ in range(4_000))["OL"] / 4_000 == pytest.approx(0.1, abs=0.02)


def test_strays_land_on_a_neighbour_at_their_rate():
    """From 3 to 4 a stray of the first tip lands on 2 (silent too) or on 4 itself, of the second on 3 or 5."""
    source = person(4, hands=Hands(stray=0.2))
    heard = Counter(source.touch("3", "4") for _ in range(8_000))
    # either tip strays in a tenth of the touches, half of them onto the other's joint
    assert heard["beep"] / 8_000 == pytest.approx(0.1 * 0.5 * 2 * 0.9, abs=0.02)
    assert person(4, hands=Hands(stray=1.0)).touch("@GND", "@TX") in ("beep", "quiet")


def test_a_capacitor_chirps_instead_of_silence_only():
    source = person(5, chirps=True)
    assert source.touch("2", "@GND") == "chirp" and source.touch("1", "4") == "beep"
    assert source.touch("5", "6") == "quiet"
    assert person(5).touch("2", "@GND") == "quiet"


@pytest.mark.parametrize(("kind", "pair", "spoilt"), [(SILENT, ("1", "4"), "quiet"), (SOUND, ("3", "4"), "beep")])
def test_leads_that_fail_midway(kind, pair, spoilt):
    source = person(6, lead_fault=LeadFault(kind, 4))
    source.mends = False
    right = source.touch(*pair)
    assert right != spoilt and source.meter.lead_check() == GOOD
    assert [source.touch(*pair) for _ in range(4)] == [right, right, spoilt, spoilt]
    assert wrong_leads(source, kind) == [] and wrong_leads(source) != []
    assert source.ohms(*pair) == ("OL" if kind == SILENT else "0.2")
    source.mends = True
    assert source.leads() == f"leads {kind}" and source.leads() == "leads good"
    assert source.touch(*pair) == right


def test_intermittent_leads_fail_at_their_rate():
    source = person(7, lead_fault=LeadFault(SILENT, 1, 0.3))
    heard = Counter(source.touch("1", "4") for _ in range(4_000))
    assert heard["quiet"] / 4_000 == pytest.approx(0.3, abs=0.03)


# Rework


def test_rework_clears_what_is_named_and_there():
    board = tiny_board()
    one, two, three, four, five = range(5)
    rng = random.Random(8)
    state = SimulatedBoard(board, (Bridge(one, two), Bridge(three, four)), frozenset({five}))
    source = SimulatedPerson(state, SimulatedMeter(rng), rng)
    assert source.rework([Repair(("4", "5"), (("5", "6"),))]) == ["4", "5"]
    assert source.board == state, "nothing was there"
    assert source.rework([Repair(("2", "3"), (("1", "2"),))]) == ["1", "2", "3"]
    assert source.board.bridges == (Bridge(three, four),) and source.board.opens == {five}
    assert source.rework([Repair(("@TX", "5"), reflow=True), Repair(("3", "4", "5"))]) == ["3", "4", "5"]
    assert not source.board.bridges and not source.board.opens
    assert state.bridges, "the board before is left as it was"


def test_a_slipping_iron_makes_new_faults_at_the_joints_it_touched():
    board = tiny_board()
    rng = random.Random(10)
    kinds: Counter[str] = Counter()
    for _ in range(200):
        source = SimulatedPerson(SimulatedBoard(board), SimulatedMeter(rng), rng, slip=0.5)
        source.rework([Repair(("4", "5"))])
        kinds["bridge"] += len(source.board.bridges)
        kinds["open"] += len(source.board.opens)
        assert all(b.at(3) or b.at(4) for b in source.board.bridges) and source.board.opens <= {3, 4}
    assert kinds["bridge"] == pytest.approx(140, abs=35) and kinds["open"] == pytest.approx(60, abs=25)
    assert judge(SimulatedBoard(board), contact_required(board)).bad is False
