"""Between a finding and the iron: what tells most about what is wrong is asked, each pair once a round."""

from __future__ import annotations

from connector_check.analysis.separating import TOUCH
from connector_check.board.board import Board
from connector_check.board.making import make_board
from connector_check.pinout.library import find_pin_map
from connector_check.pinout.pinmap import Net
from connector_check.probing.session import Session
from connector_check.probing.steps import IRON, OHMS_WANTED
from connector_check.probing.steps import TOUCH as TOUCH_STEP
from connector_check.probing.telling import next_to_tell
from connector_check.testlog.readings import BEEP, QUIET, UNSURE, Entry
from tests.strategies import entry, log
from tests.test_rework import placed
from tests.test_session import give, start, take


def shipped(map_id: str) -> Board:
    return make_board(find_pin_map(map_id), "")


def asked(session: Session) -> tuple[str, set[str]]:
    step = session.step()
    return step.kind, set(session.board.names(step.points or ()))


def accept(session: Session, *entries: Entry) -> None:
    session.accept(entries)


def test_a_joint_that_lies_between_is_touched_next():
    session = start(shipped("usb-c-16"))
    accept(session, *log(session.board, "A1B12 B8 beep"))
    assert asked(session) == (TOUCH_STEP, {"A1B12", "A4B9"})
    assert session.step().why == "A4B9 lies between: touch it before the iron comes"
    give(session, BEEP)
    # all three are joined now: the plan goes on
    assert not session.step().tells


def test_the_ohms_of_a_likely_short_are_asked_at_once_and_once():
    session = start(shipped("vga-de15"))
    accept(session, entry(session.board, 2, "1", "@GND", "ohms", 37.5))
    assert asked(session) == (OHMS_WANTED, {"1", "2"})
    assert "37.5 ohm is what GREEN and RED joined would read" in session.step().why
    assert "1 - @GND 37.5 ohm, likely a short at 1 - 2" in session.findings_line()
    give(session, UNSURE)
    assert asked(session) != (OHMS_WANTED, {"1", "2"})
    session = start(shipped("vga-de15"))
    accept(session, entry(session.board, 2, "1", "@GND", "ohms", 37.5))
    give(session, "0.4")
    assert [short.nets for short in session.result().shorts] == [("GREEN", "RED")] and not session.result().leaks


def ring() -> Board:
    """1 and 3 are no neighbours; solder joins them over 2, 3 times as near, or over 4."""
    spots = {"1": (0.0, 0.0), "2": (0.5, 0.0), "3": (1.0, 0.0), "4": (0.5, 0.5)}
    return placed(spots, *(Net(f"N{i}", "data", (str(i),)) for i in range(1, 5)))


def test_the_touch_that_splits_the_odds_comes_next_and_none_comes_twice():
    session = start(ring())
    accept(session, *log(session.board, "1 3 beep"))
    first = next_to_tell(session)
    assert first is not None and (first.kind, set(first.pair)) == (TOUCH, {"1", "2"})
    seen = []
    while session.step().tells:
        step = session.step()
        seen.append((step.kind, frozenset(session.board.names(step.points))))
        give(session, UNSURE)
    assert len(seen) == len(set(seen)) >= 3
    assert any(kind == TOUCH_STEP and pair == {"3", "4"} for kind, pair in seen)


def test_a_silent_touch_leaves_the_other_explanation():
    session = start(ring())
    accept(session, *log(session.board, "1 3 beep"))
    give(session, QUIET)
    (short,) = session.result().shorts
    assert [site.joints for site in short.sites] == [("1", "4"), ("3", "4")] and short.between == ("4",)
    assert asked(session) == (TOUCH_STEP, {"1", "4"})


def test_the_iron_clears_what_was_asked():
    session = start(ring())
    accept(session, *log(session.board, "1 3 beep"))
    give(session, BEEP)
    assert session.told_apart
    while session.step().kind != IRON:
        kind, points = session.step().kind, session.step().points
        joined = points is not None and {session.board.points[p] for p in points} <= {"1", "2", "3"}
        give(session, BEEP if joined or kind == "lead check" or (points and max(points) > 3) else QUIET)
    take(session, session.rework(["all"]))
    assert not session.told_apart and session.told == frozenset()


def test_what_is_known_or_skipped_is_not_asked():
    board = ring()
    session = start(board)
    accept(session, *log(board, "1 3 beep"))
    session.skip()
    assert asked(session) == (TOUCH_STEP, {"2", "3"})
    session.skip()
    step = session.step()
    assert step.tells == TOUCH
    assert (
        step.why
        == "tells joints 1 and 2 bridged, joints 2 and 3 bridged from joints 1 and 4 bridged, joints 3 and 4 bridged"
    )
    sound = start(board)
    accept(sound, *log(board, "1 2 quiet"))
    assert next_to_tell(sound) is None
