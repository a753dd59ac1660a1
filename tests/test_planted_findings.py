"""Each rule of opens, leaks, references, conflicts, passes and residual risk switched off is caught by a worked job."""

from __future__ import annotations

import re
from functools import partial
from pathlib import Path

import pytest

from connector_check import Result, Settings, check, load_job
from connector_check.analysis import (
    closing,
    good_board,
    meaning,
    opens,
    replay,
    residual,
    rework,
    verdict,
)
from connector_check.board.board import Board
from connector_check.board.notes import BoardNotes, apply, ties_of
from connector_check.errors import InputError
from connector_check.probing import answers, steps
from connector_check.probing.steps import DONE, IRON
from connector_check.testlog.readings import SILENT, parse_ohms
from connector_check.testlog.rows import Row
from tests.planted import ANALYSIS, Defect, caught, edit, judged, swap, told
from tests.strategies import SimulatedBoard, checked, entry, examined, log, tiny_board
from tests.test_opens import with_choke
from tests.test_replay import GOOD
from tests.test_session import drive, give, start, take
from tests.test_verdict_holes import LEADS, sound, without, write

# 5. Opens, leaks and resistive joints


def open_by(word: str, ohms: float | None = None) -> bool:
    board = with_choke(0.2, 5)
    return [found.joint for found in checked(board, [entry(board, 1, "3", "5", word, ohms)]).opens] == ["3"]


def silent_alone(standing: replay.Standing, reading: replay.Reading):
    return OPEN_PART(standing, reading) if reading.entry.kind in SILENT else None


OPEN_PART = opens.open_part


def open_against_the_good_board(here: str, ohms: float | None = None) -> bool:
    board = tiny_board()
    good = replay.replay(board, log(board, "5 6 beep"))
    found = good_board.opens_against(replay.replay(board, [entry(board, 1, "5", "6", here, ohms)]), [good])
    return [one.joint for one in found] == ["5"]


def ground_with(*ohms: tuple[str, str, float]) -> Result:
    board = tiny_board()
    return told(board, GOOD, *(entry(board, 50, a, b, "ohms", value) for a, b, value in ohms))


def left_open_is_no_open() -> bool:
    """D+ on 3 is left open by the notes: its silence to what its track would reach is no open."""
    board = tiny_board()
    notes = BoardNotes("tiny", left_open=("3",))
    noted = Board(apply(board.pin_map, notes), board.layout, ties_of(board.pin_map, notes))
    return not told(noted, "3 @D+ quiet").opens


def reserved_tied_to_data() -> bool:
    """NC on 6 is tied to TX by the notes: a short of 6 with D+ is one of two signals."""
    tiny = tiny_board()
    notes = BoardNotes("tiny", ties=(frozenset(("TX", "NC")),))
    board = Board(apply(tiny.pin_map, notes), tiny.layout, ties_of(tiny.pin_map, notes))
    return [short.harm for short in told(board, "3 6 beep").shorts] == ["dead-signal"]


OPENS = [
    Defect(
        "OL over a part that must sound is an open",
        swap(f"{ANALYSIS}.opens.open_part", silent_alone),
        lambda: open_by("ohms", float("inf")),
    ),
    Defect(
        "4.7k over a part that must sound is an open",
        swap(f"{ANALYSIS}.opens.open_part", silent_alone),
        lambda: open_by("ohms", 4700.0),
    ),
    Defect(
        "the comparison with a good board takes ohms too",
        edit(
            good_board.opens_against, "reading.entry.kind == SEEN_CLEAR", "reading.entry.kind not in ('quiet', 'chirp')"
        ),
        lambda: open_against_the_good_board("ohms", 4700.0),
    ),
    Defect(
        "a joint that is shown apart from its fellows alone is not named open",
        edit(
            opens._joined_net_opens,
            "if knowledge.apart(joint, point) and",
            "if any(knowledge.apart(joint, o) for o in board.joints_of[net.name]) and",
        ),
        lambda: not judged("sata-7", ["S1,S4,beep", "S7,S1,quiet"]).opens,
    ),
    Defect(
        "a ground that the board may leave alone is not open",
        edit(Board.must_reach, " or net.may_be_open", ""),
        lambda: not judged("de9-can", ["6,@CAN_GND,quiet"]).opens,
    ),
    Defect(
        "a contact left open by the notes is not open",
        swap(
            "connector_check.board.notes._open_net",
            lambda net, contact, name: net._replace(name=name, contacts=(contact,), must_join=False),
        ),
        left_open_is_no_open,
    ),
    Defect(
        "a reserved contact takes the role of what it is tied to",
        swap("connector_check.board.board.Board._as_tied", lambda self, net: net),
        reserved_tied_to_data,
    ),
    Defect(
        "a quiet drops no leak",
        edit(
            closing._Judged._is_unsettled,
            "if meaning == LEAK:\n        return",
            "if meaning == LEAK:\n        return not also and",
        ),
        lambda: judged("usb-a-3", [*sound("usb-a-3"), "1,4,71 ohm", "1,4,quiet"]).leaks != (),
    ),
    Defect(
        "a tone drops no resistive join",
        edit(
            closing._Judged._is_unsettled,
            "if meaning == RESISTIVE:\n        return True",
            "if meaning == RESISTIVE:\n        return not knowledge.joined(a, b)",
        ),
        lambda: (
            judged("usb-c-16", [*sound("usb-c-16"), "A4B9,@VBUS,beep", "A4B9,@VBUS,71 ohm"]).parts.contact == "rework"
        ),
    ),
    Defect(
        "ohms of a joint to its own net are for reflow, not a leak to clean",
        edit(meaning._judge_ohms, "return RESISTIVE if", "return LEAK if"),
        lambda: (
            [step.do for step in ground_with(("4", "@GND", 30.0)).rework] == ["flux and reflow 4, measure ohms again"]
        ),
    ),
    Defect(
        "the shell at some ohms to ground is neither cleaned nor reflowed",
        edit(meaning._judge_ohms, "else NOTHING", "else LEAK"),
        lambda: not ground_with(("SH", "@GND", 30.0)).rework,
    ),
    Defect(
        "no step sends the iron to a board point",
        edit(
            rework.rework_list,
            "tuple(name for name in leak.pair if board.number[name] < len(board.joints))",
            "leak.pair",
        ),
        lambda: [step.joints for step in ground_with(("4", "@GND", 30.0)).rework] == [("4",)],
    ),
]


# 5. References, junctions, conflicts, passes, residual risk


def bad_reference(folder: Path) -> bool:
    """VBUS on CC2, with one other board that reads so as the good board."""
    rows = [LEADS, *without(sound("usb-c-16"), "B4A9-B5"), "B4A9,B5,beep", "B4A9,B5,0.2 ohm", LEADS]
    own = write(folder, "usb-c-16", rows, "own.csv")
    other = write(folder, "usb-c-16", ["# board: shelf", *rows[:-2], "B4A9,B5,0.4 ohm", LEADS], "other.csv")
    return check(load_job(own, like=other), Settings()).verdict == "rework"


def refused(cell: str) -> bool:
    try:
        return parse_ohms(cell) is None
    except InputError:
        return True


def settled_by(answer: str) -> list[str]:
    """A quiet of 1 and 4 contradicts the beeps of a sound board; what was taken back once it is asked again."""
    board = tiny_board()
    session = start(board)
    drive(session, SimulatedBoard(board))
    take(session, [Row("1", "4", "quiet")])
    give(session, answer)
    for _ in range(2):
        if session.step().kind == steps.ASK_AGAIN:
            give(session, "quiet")
    return [session.entries[n].kind for n, (fate, _) in session.standing.ended.items() if fate == "taken back"]


def one_missed_touch() -> str:
    """How a session on a sound board ends where the first touch of joint 4's join was missed."""
    board = tiny_board()
    session, sim, missed = start(board), SimulatedBoard(board), False
    join = {board.number["4"], board.number["@GND"]}
    while (step := session.step()).kind not in (DONE, IRON):
        here = step.points is not None and set(step.points) == join and not missed
        missed = missed or here
        give(session, "quiet" if here or not (step.points is None or sim.beeps(*step.points)) else "beep")
    return session.step().kind


def touches_in_two_passes() -> int:
    board = tiny_board()
    session = start(board, passes=2, shorts_only=True)
    drive(session, SimulatedBoard(board))
    return sum(e.kind in ("beep", "quiet") for e in session.entries)


def risk_beside(text: str) -> bool:
    board = tiny_board()
    found = examined(board, log(board, text))
    return residual.residual_risk(found.result, found.standing) is not None


def junction_short() -> Result:
    return judged("usb-a-3", [*sound("usb-a-3"), "5,GND,0.01 V"])


OTHERS = [
    Defect(
        "a junction short decides the verdict",
        swap("connector_check.analysis.meaning.is_near_zero", lambda entry: False),
        lambda: junction_short().parts.shorts == "rework",
    ),
    Defect(
        "a conflict keeps the verdict from clear",
        edit(verdict.parts_of, "conflict = bool(standing.knowledge.conflicts())", "conflict = False"),
        lambda: told(tiny_board(), GOOD + "1 4 quiet").verdict == "unproven",
    ),
    Defect(
        "asked again and sounding, the quiet is taken back, not the beeps",
        edit(answers._found_wrong, "if r.meaning == PARTS and r.entry.kind != SEEN_CLEAR", "if False"),
        lambda: settled_by("beep") == ["quiet"],
    ),
    Defect(
        "asked again and silent, the wrong beep is taken back",
        edit(answers._found_wrong, "if r.meaning in (JOINS, DOUBTFUL)", "if False"),
        lambda: settled_by("quiet") == ["beep"],
    ),
    Defect(
        "a beep is never outvoted into apart",
        edit(
            closing._Judged.closure,
            "[*self.joins.values(),",
            "[*(j for j in self.joins.values() if j not in self.parts),",
        ),
        lambda: bool(told(tiny_board(), "1 4 beep\n1 4 quiet").conflicts),
    ),
    Defect(
        "taking back what does not stand is told",
        edit(replay._Walk.take_back, "self.standing.nothing_taken.append(entry.line)", "pass"),
        lambda: any(
            "takes back what does not stand" in line for line in told(tiny_board(), "1 4 taken back").assumptions
        ),
    ),
    Defect(
        "a comma that may part thousands is refused",
        swap("connector_check.testlog.readings._THOUSANDS", re.compile("(?!)")),
        lambda: refused("4,700"),
    ),
    Defect(
        "a single silent join is asked again before it is open",
        swap(
            "connector_check.probing.steps.QUESTIONS",
            tuple(q for q in steps.QUESTIONS if q is not steps._silent_contact),
        ),
        lambda: one_missed_touch() == DONE,
    ),
    Defect(
        "a further pass repeats every quiet",
        edit(steps._further_pass, "] < progress.passes", "] < 1"),
        lambda: touches_in_two_passes() == 3 + 2 * 6,
    ),
    Defect(
        "no residual risk stands beside a finding",
        edit(
            residual.residual_risk,
            "if result.verdict == REWORK or (result.verdict == UNPROVEN and result.has_findings):",
            "if False:",
        ),
        lambda: not risk_beside(GOOD.replace("2 3 quiet", "2 3 beep")) and risk_beside(GOOD),
    ),
]


@pytest.mark.parametrize("defect", [*OPENS, *OTHERS], ids=lambda defect: defect.rule)
def test_a_rule_switched_off_is_caught(defect, monkeypatch):
    assert caught(defect, monkeypatch)


def test_a_reference_that_excuses_damage_is_caught(tmp_path, monkeypatch):
    excuses = swap(f"{ANALYSIS}.good_design._is_destructive", lambda board, nets: False)
    assert caught(Defect("a good board excuses no damage", excuses, partial(bad_reference, tmp_path)), monkeypatch)
