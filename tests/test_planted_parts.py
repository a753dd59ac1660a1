"""Each rule of parts that conduct and of the refuter switched off is caught by a worked board."""

from __future__ import annotations

import dataclasses

import pytest

from connector_check.analysis import closing, diagnosis, examine, meaning, reach, shorts
from connector_check.analysis.refuter import _Search, refutation
from connector_check.analysis.replay import replay
from connector_check.analysis.result import Result
from connector_check.board.board import Board
from connector_check.board.design import DesignNetwork
from connector_check.pinout.pinmap import DesignPath, Joint, Layout, Net, PinMap
from connector_check.probing import steps
from connector_check.probing.steps import DONE, IRON
from connector_check.testlog.readings import OHMS
from tests.planted import ANALYSIS, VGA, Defect, caught, edit, judged, swap, vga
from tests.strategies import SimulatedBoard, checked, entry, log, tiny_board
from tests.test_closing import with_parts
from tests.test_findings import with_part
from tests.test_refuter_planted import scart_like
from tests.test_refuter_planted import wrong as wrong_vectors
from tests.test_session import start

# 2. Parts conduct


def grounds_that_may_be_one() -> Board:
    """A ground, a signal with 75 ohm to another ground, and that ground: the designer may have joined the two."""
    nets = (Net("GND", "ground", ("1",)), Net("S", "data", ("2",)), Net("AGND", "ground", ("3",)))
    joints = tuple(Joint(str(i), (str(i),), 0.5 * i, 0, 0.3, 1.0) for i in range(1, 4))
    layout = Layout("row", "", "invented", joints)
    path = DesignPath(("S", "AGND"), 75, 75, "made")
    return Board(PinMap("row", "row", "", (), nets, {}, (layout,), paths=(path,)), layout)


def links_without_ties(board: Board, scope: str) -> reach.Links:
    links = reach.possible_links(board, scope)
    joints = len(board.joints)
    return reach.Links(links.bridges, [link for link in links.fixed if min(link) < joints])


def ground_may_sound_over_a_tie() -> bool:
    """1 is open and bridged to 2: what sounds from 1 to its ground runs over 75 ohm and the tie of the grounds. The
    meter may sound there once and be silent another time.
    """
    board = grounds_that_may_be_one()
    standing = replay(board, log(board, "2 @GND quiet\n1 @GND beep"))
    return not standing.knowledge.joined(board.number["1"], board.number["@GND"])


def ohms_on(board: Board, *readings: tuple[str, str, float], text: str = "") -> Result:
    ohms = [entry(board, 90 + i, a, b, OHMS, value) for i, (a, b, value) in enumerate(readings)]
    return checked(board, [*log(board, text), *ohms] if text else ohms)


def a_join_that_rests_on_another_is_proven() -> bool:
    """1 ohm from +5V on 2 to NC on 6. That 1 reaches its ground is proven by its quiets alone; then those quiets hold
    for ground, and 7 cannot have sounded over 6.
    """
    board = with_part("+5V, NC", 1, 1)
    quiets = "\n".join(f"1 {joint} quiet" for joint in "2356")
    standing = replay(board, log(board, f"7 @GND beep\n1 @GND beep\n{quiets}"))
    return standing.knowledge.joined(board.number["7"], board.number["@GND"])


def no_tolerance(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("connector_check.board.design.TOLERANCE", 0.0)
    monkeypatch.setattr("connector_check.board.design.OHMS_ADDED", 0.0)


def winding_is_looked_at() -> bool:
    """0.4 ohm over a winding of 0.2 to 5: joined, apart, or neither until eyes have told."""
    board = with_part("TX, D+", 0.2, 5)
    result = ohms_on(board, ("3", "5", 0.4))
    pair = board.number["3"], board.number["5"]
    standing = replay(board, [entry(board, 1, "3", "5", OHMS, 0.4)])
    return len(result.measure) == 1 and standing.knowledge.status(*pair) == "unknown"


def seen_clear_where_others_join() -> bool:
    board = tiny_board()
    return not checked(board, log(board, "2 5 beep\n5 3 beep\n2 3 seen clear")).conflicts


HALVES = ("1,2,beep", "1,2,0.3 ohm", "1,@GND,37.5 ohm", "2,@GND,37.5 ohm")

PARTS = [
    Defect(
        "a beep proves a join only where no part can have carried it (T8)",
        swap(f"{ANALYSIS}.closing.part_floor", lambda board, reach: lambda a, b: float("inf")),
        lambda: not vga("9,3,beep", "@GND,3,75 ohm", gone=("3-8", "3-9", "8-9")).shorts,
    ),
    Defect(
        "ties that the board may have are within reach (T8)",
        swap(f"{ANALYSIS}.closing.possible_links", links_without_ties),
        ground_may_sound_over_a_tie,
    ),
    Defect(
        "readings are judged again until no further join is proven",
        edit(closing.close, "while len(judged.joins) > proven:", "for _ in range(1):"),
        a_join_that_rests_on_another_is_proven,
    ),
    Defect(
        "a part reads within its tolerance",
        no_tolerance,
        lambda: all(
            not judged(map_id, [row]).leaks
            for map_id, row in [("de9-can", "2,7,121 ohm"), (VGA, "1,@GND,83 ohm"), ("rj45-1000", "1,3,165 ohm")]
        ),
    ),
    Defect(
        "ohms inside a part that may read nothing part nothing",
        swap("connector_check.board.design.DesignOhms.tells_from_solder", property(lambda self: True)),
        lambda: ("R", "RN") in [one.pair for one in judged("trs-3.5", ["R,S,beep", "R,RN,0.05 ohm"]).measure],
    ),
    Defect(
        "ohms of a winding need eyes",
        edit(meaning._judge_ohms, "return PARTS if part.tells_from_solder else PART", "return PARTS"),
        winding_is_looked_at,
    ),
    Defect(
        "fitted and optional parts side by side: the range covers both",
        edit(
            DesignNetwork._lowest,
            "for resistor in self.resistors",
            "for resistor in self.resistors if not (resistor.path and resistor.path.may_be_absent)",
        ),
        lambda: not ohms_on(both_fitted_and_optional(), ("3", "@GND", 50.0)).leaks,
    ),
    Defect(
        "ohms that joined nets read together are no leak",
        swap(f"{ANALYSIS}.closing._Judged._read_over_joined_nets", lambda *_: False),
        lambda: vga(*HALVES, gone=("1-2",)).leaks == (),
    ),
    Defect(
        "a pair seen clear is no contradiction where other pairs join it",
        edit(closing._Judged._seen_apart, "if not elsewhere(pair)", "if pair"),
        seen_clear_where_others_join,
    ),
]


def both_fitted_and_optional() -> Board:
    board = with_parts(("D+, GND", 100, 100), ("D+, GND", 100, 100))
    fitted = board.pin_map.paths[0]._replace(may_be_absent=False)
    pin_map = dataclasses.replace(board.pin_map, paths=(fitted, board.pin_map.paths[1]))
    return Board(pin_map, pin_map.layouts[0])


# 4. The refuter


TERMINATED = ["@GND,8,beep", "@GND,3,75 ohm"]
"""8 is open and bridged to 3, or sound: what sounds at 8 may be the 75 ohm of BLUE."""


def told_by_the_refuter() -> bool:
    return vga(*TERMINATED, gone=("3-8", "8-@GND", "3-@GND")).verdict == "unproven"


def single_faults_only(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_Search, "pairs", lambda self: None)
    monkeypatch.setattr(_Search, "families", lambda self: None)


def undiagnosed(standing, needed, shorts_only, shorts, opens):
    return list(shorts)


def gaps_alone_tell_the_sites(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(examine, "diagnosed", undiagnosed)
    found = "{frozenset(r.entry.points) for r in standing.readings if r.meaning == PARTS} if groups else set()"
    edit(shorts.find_shorts, found, "set()")(monkeypatch)


def session_asks_what_separates() -> bool:
    """4 sounds to ground over the 75 ohm of D+: the session measures there, and is done on the sound board."""
    board = with_part("D+, GND", 75, 75)
    session = start(board)
    sim = SimulatedBoard(board)
    for _ in range(100):
        step = session.step()
        if step.kind in (DONE, IRON):
            break
        if step.points is None:
            answer = "beep"
        elif board.pair(step.points) in (("3", "4"), ("4", "3"), ("@GND", "3"), ("3", "@GND")):
            answer = "75"
        else:
            answer = ("0.1" if step.kind == "ohms wanted" else "beep") if sim.beeps(*step.points) else "quiet"
        session.accept(session.entries_of(session.answer(answer)))
    return session.finished()


def usb_c_sites(*rows: str) -> str:
    return " ".join(short.why for short in judged("usb-c-16", rows).shorts)


REFUTER = [
    Defect(
        "before clear a bad board that reads the same is looked for",
        swap(f"{ANALYSIS}.examine.find_doubt", lambda *_: None),
        told_by_the_refuter,
    ),
    Defect(
        "a doubt keeps the verdict from clear",
        edit(examine.examine, "elif doubt.told or board.resistors:", "elif False:"),
        told_by_the_refuter,
    ),
    Defect(
        "bad is judged on the state that results, not on the fault",
        swap(f"{ANALYSIS}.refuter_state.State.bad", lambda self: (True, True)),
        lambda: not wrong_vectors() & {"06", "07"},
    ),
    Defect(
        "a sound board is not refuted by faults that change nothing",
        swap(f"{ANALYSIS}.refuter_state.State.bad", lambda self: (True, True)),
        lambda: vga().verdict == "clear",
    ),
    Defect(
        "more than one fault at once is looked for",
        single_faults_only,
        lambda: not wrong_vectors(),
    ),
    Defect(
        "an open joint with several bridges is looked for",
        swap(f"{ANALYSIS}.refuter._Search.families", lambda self: None),
        lambda: not refutation(scart_like()).earned,
    ),
    Defect(
        "no impossible place is sent to the iron",
        gaps_alone_tell_the_sites,
        lambda: _sites(vga(*CHAIN, gone=("3-8", "3-9", "4-10"))) == {("3", "9"), ("9", "10")},
    ),
    Defect(
        "a place is one where solder can bridge",
        swap(f"{ANALYSIS}.examine.diagnosed", undiagnosed),
        lambda: _sites(judged("usb-c-16", ["A1B12,B8,beep"])) == {("A1B12", "A4B9"), ("A4B9", "B8")},
    ),
    Defect(
        "a joint between two bridges that was not touched is told first",
        edit(diagnosis._led_over, "if bridges > 1 and name not in short.joints", "if False"),
        lambda: "A4B9 lies between" in usb_c_sites("A1B12,B8,beep"),
    ),
    Defect(
        "the touch that separates a bad board from a sound one is asked",
        swap("connector_check.probing.steps.QUESTIONS", tuple(q for q in steps.QUESTIONS if q is not steps._doubt)),
        session_asks_what_separates,
    ),
]


CHAIN = (
    *("3,9,beep", "9,10,beep", "3,8,0.4k", "3,9,0.2 ohm", "9,10,0.2 ohm"),
    *("8,@GND,0.2 ohm", "10,@GND,0.2 ohm"),
)


def _sites(result: Result) -> set[tuple[str, str]]:
    return {pair for short in result.shorts for site in short.sites for pair in (site.joints, *site.alternatives)}


@pytest.mark.parametrize("defect", [*PARTS, *REFUTER], ids=lambda defect: defect.rule)
def test_a_rule_switched_off_is_caught(defect, monkeypatch):
    assert caught(defect, monkeypatch)
