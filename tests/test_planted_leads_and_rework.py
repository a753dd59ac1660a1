"""Each rule of the leads, of rework and of what to touch again switched off is caught by a worked job."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from connector_check import Result
from connector_check.analysis import (
    replay,
    rework,
    stale,
)
from connector_check.board.board import Board
from connector_check.probing.session import Session
from connector_check.probing.steps import IRON
from connector_check.testlog.readings import LEADS_GOOD, SEEN_CLEAR, SILENT, Entry
from tests.planted import ANALYSIS, Defect, caught, edit, judged, swap, told
from tests.strategies import SimulatedBoard, checked, entry, log, tiny_board
from tests.test_bridges import row_of_nets
from tests.test_opens import with_choke
from tests.test_replay import GOOD
from tests.test_session import drive, start
from tests.test_verdict_holes import LEADS, silent_first, sound

# 5. Leads


def bare(*rows: str) -> Result:
    """The rows on the sound VGA socket, without lead checks around them."""
    return judged("vga-de15", rows, leads=False)


def one_kind_only(self, entry: Entry, silent: bool = False, sound: bool = False) -> None:
    LEADS_BAD(self, entry, silent=silent, sound=False)


LEADS_BAD = replay._Walk.leads_bad


def lines_left(*rows: str) -> list[int]:
    """The lines of the readings that still stand; the first row is line 1."""
    board = tiny_board()
    entries = []
    for line, row in enumerate(rows, 1):
        first = row.split()[0]
        entries.append(Entry(line, row, ()) if first == "leads" else log(board, row)[0]._replace(line=line))
    return [found.line for found in replay.replay(board, entries).entries]


def backwards(board: Board, entries: Sequence[Entry], *args) -> replay.Standing:
    """The ohms of the leads as last measured, taken for the whole job."""
    measured = [e.ohms for e in entries if e.kind == LEADS_GOOD and e.ohms is not None]
    return REPLAY(board, [e._replace(ohms=measured[-1]) if e.kind == LEADS_GOOD else e for e in entries], *args)


REPLAY = replay.replay


def leads_hold_from_their_check_on() -> bool:
    board = tiny_board()
    read = entry(board, 2, "2", "3", "ohms", 5.4)
    job = [Entry(1, LEADS_GOOD, (), 0.1), read, Entry(3, LEADS_GOOD, (), 0.5)]
    return not checked(board, job, leads=False).shorts


def leads_that_touch_void_ohms() -> bool:
    board = tiny_board()
    entries = [entry(board, 1, "2", "3", "ohms", 0.2), Entry(2, "leads sound", ())]
    return replay.replay(board, entries).entries == []


LEAD_CHECKS = [
    Defect(
        "silence counts only with the leads proven before it",
        edit(replay._Walk.run, "if not self.proven:", "if False:"),
        lambda: bare(LEADS, ",,leads bad", *silent_first("vga-de15"), LEADS).verdict == "unproven",
    ),
    Defect(
        "silence counts only with the leads proven after it",
        edit(replay._Walk.run, "{*self.early, *self.waiting}", "self.early"),
        lambda: bare(LEADS, *silent_first("vga-de15")[::-1]).verdict == "unproven",
    ),
    Defect(
        "a bad check voids what was silent before it, and what is silent after it waits for a good one",
        edit(replay._Walk.leads_bad, "self.proven = False", "pass"),
        lambda: bare(LEADS, ",,leads bad", *silent_first("vga-de15"), LEADS).verdict == "unproven",
    ),
    Defect(
        "leads bad is both faults",
        swap(f"{ANALYSIS}.replay._Walk.leads_bad", one_kind_only),
        lambda: lines_left("leads good", "1 4 beep", "1 2 quiet", "leads bad") == [],
    ),
    Defect(
        "leads that touch give low ohms too",
        edit(replay._is_sound, "(entry.kind == OHMS and", "(False and"),
        leads_that_touch_void_ohms,
    ),
    Defect(
        "a tone of leads that touch proves nothing",
        edit(replay._Walk.run, "if not self.leads_touch:", "if True:"),
        lambda: bare(LEADS, ",,leads bad", *sound("vga-de15"), LEADS).verdict == "unproven",
    ),
    Defect(
        "the leads' ohms hold from their check on",
        swap(f"{ANALYSIS}.examine.replay", backwards),
        leads_hold_from_their_check_on,
    ),
]


# 5. Rework


def stale_after(text: str, heated: str) -> int:
    board = tiny_board()
    return replay.replay(board, [*log(board, text), entry(board, 9, heated, "", "reworked")]).count("stale")


def seen_after_the_iron() -> bool:
    return (
        len(
            replay.replay(
                tiny_board(), log(tiny_board(), "4 5 reworked\n4 5 solder seen\n4 5 beep")
            ).remarks.solder_seen
        )
        == 1
    )


def forgets_what_was_seen(self, stop: int) -> None:
    END_REWORK(self, stop)
    self.solder_seen = set()


END_REWORK = replay._Walk.end_rework


def silence_over_parts_is_kept(board: Board, knowledge, readings, heated, scope) -> list[int]:
    readings = list(readings)
    silent = {number for number, entry, _ in readings if entry.kind in SILENT}
    return [n for n in stale.stale_after_rework(board, knowledge, readings, heated, scope) if n not in silent]


def looks_are_kept(board: Board, knowledge, readings, heated, scope) -> list[int]:
    readings = list(readings)
    looked = {number for number, entry, _ in readings if entry.kind == SEEN_CLEAR}
    return [n for n in stale.stale_after_rework(board, knowledge, readings, heated, scope) if n not in looked]


def silent_part_is_asked_again() -> bool:
    """3 and 5 were silent over a choke that must sound: open. The iron was at 3, and they are asked again."""
    board = with_choke(0.2, 5)
    ironed = entry(board, 2, "3", "", "reworked")
    return bool(told(board, "3 5 quiet").opens) and not told(board, "3 5 quiet", ironed).opens


def rework_all() -> set[str]:
    """The joints that `rework all` marks; 5 lies between the grounds 4 and 6 at equal gaps."""
    board = row_of_nets("S", "G", "T", "G")
    session = start(board, shorts_only=True)
    assert drive(session, SimulatedBoard(board, [(1, 2)])) == IRON
    return {row.pin_a for row in session.rework(["all"])}


AFTER_REWORK = [
    Defect(
        "a board point stands for its joints at the iron",
        edit(Board.joints_at, "tuple(self.joints_of[self.net_of[point].name])", "()"),
        lambda: stale_after("2 3 quiet", "@+5V") == 1,
    ),
    Defect(
        "the shell stands for its joints at the iron",
        edit(
            Board.joints_at,
            "self.shell_joints if point == self.shell_point else",
            "() if point == self.shell_point else",
        ),
        lambda: stale_after("SH1 @SHELL beep", "SH") == 1,
    ),
    Defect(
        "solder seen after the iron stays",
        swap(f"{ANALYSIS}.replay._Walk.end_rework", forgets_what_was_seen),
        seen_after_the_iron,
    ),
    Defect(
        "solder seen before the iron came is forgotten there",
        edit(replay._Walk.iron, "if not pair & here", "if pair"),
        lambda: (
            not replay.replay(
                tiny_board(), log(tiny_board(), "4 5 solder seen\n4 5 reworked\n4 5 beep")
            ).remarks.solder_seen
        ),
    ),
    Defect(
        "a pair seen clear is looked at again after the iron",
        swap(f"{ANALYSIS}.replay.stale_after_rework", looks_are_kept),
        lambda: stale_after("2 3 seen clear", "2") == 1,
    ),
    Defect(
        "a reworked joint at a part that must sound is asked again",
        swap(f"{ANALYSIS}.replay.stale_after_rework", silence_over_parts_is_kept),
        silent_part_is_asked_again,
    ),
    Defect(
        "rework all names the equally likely joints too",
        edit(Session.rework, "(step.joints, *step.elsewhere)", "(step.joints,)"),
        lambda: rework_all() == {"2", "3", "4"},
    ),
]


# 6. What to touch again


def again(text: str) -> list[tuple[frozenset[str], str]]:
    found = told(tiny_board(), text).rework
    return [
        (frozenset(pair), said) for step in found for pair, said in zip(step.probe_again, step.expected, strict=True)
    ]


TWO_AT_4 = GOOD.replace("3 4 quiet", "3 4 beep").replace("4 5 quiet", "4 5 beep")


def each_pair_once() -> bool:
    pairs = [pair for pair, _ in again(TWO_AT_4)]
    return len(pairs) == len(set(pairs)) > 2


AGAIN = [
    Defect(
        "what to touch again names a pair once",
        edit(rework._probe_again, "if frozenset(pair) not in told:", "if True:"),
        each_pair_once,
    ),
    Defect(
        "what to touch again holds what the heat made unknown",
        edit(rework._probe_again, "if frozenset(points) not in before:", "if False:"),
        lambda: (frozenset(("4", "@GND")), "sounds") in again(TWO_AT_4),
    ),
    Defect(
        "what is expected is told by the nets",
        swap(f"{ANALYSIS}.rework._expected", lambda board, pair: "silent"),
        lambda: {said for _, said in again(TWO_AT_4)} == {"sounds", "silent"},
    ),
]


@pytest.mark.parametrize("defect", [*LEAD_CHECKS, *AFTER_REWORK, *AGAIN], ids=lambda defect: defect.rule)
def test_a_rule_switched_off_is_caught(defect, monkeypatch):
    assert caught(defect, monkeypatch)
