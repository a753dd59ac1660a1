"""The probing screen as lines: the pair in large plain words, where each pin sits, why, what is left, what was
noted.
"""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

from connector_check.analysis.obligations import Pair
from connector_check.board.board import Board
from connector_check.probing.session import Session
from connector_check.probing.steps import CAUTION, DONE, IRON, JUNCTION, LEADS, LOOK, OHMS_WANTED, Step

CAUTION_LINES = (
    "Before you probe: the board is unplugged, batteries and coin cell are out,",
    "capacitors are discharged and measured. Never beep on a live board.",
    "Mains and high-voltage parts only by a competent person under local rules.",
)


def point_words(board: Board, point: int, side: str) -> str:
    """A point's name, its net, and where it sits."""
    from connector_check.drawing.places import place_words

    name, net = board.points[point], board.net_of[point].name
    where = place_words(board, point, side)
    return f"{name}: {where}" if name.startswith("@") or name == net else f"{name} ({net}): {where}"


def plain_line(session: Session, step: Step, side: str) -> str:
    """The step in one line, for speech, screen readers and scripts."""
    board = session.board
    if step.points is not None:
        a, b = step.points
        names = [point_words(board, p, side) for p in (b, a)]
        held = a == session.held
        if step.kind == OHMS_WANTED:
            return f"measure ohms: {board.points[a]} to {board.points[b]} ({step.why})"
        if step.kind == LOOK:
            return f"look at {board.points[a]} and {board.points[b]} under magnification: seen clear? ({step.why})"
        if step.kind == JUNCTION:
            red = "" if held else f", red lead on {board.points[a]}"
            return f"diode mode{red}, black on {names[0]} [{step.why}; {step.left} left]: volts?"
        lead = f"touch {names[0]}" + (
            f" (other lead stays on {board.points[a]})" if held else f"; other lead on {names[1]}"
        )
        again = ", skipped before" if step.again else ""
        return f"{lead} [{step.why}{again}; {step.left} left]"
    return {
        CAUTION: " ".join(CAUTION_LINES) + " Confirm with beep.",
        LEADS: f"lead check: {step.why} (beep = good, quiet = failed)",
        IRON: "rework: " + "; ".join(f"{s.step}. {s.do}" for s in session.result().rework),
        DONE: f"done: {_nothing_left(session)}",
    }[step.kind]


def spoken(session: Session, step: Step) -> str:
    """What is said aloud: pin after pin while the other lead stays put."""
    from connector_check.probing.speech import point_words as said_words

    if step.points is None:
        return {CAUTION: "read the cautions", LEADS: "lead check", IRON: "rework", DONE: "done"}[step.kind]
    a, b = (said_words(session.board, p) for p in step.points)
    if step.kind == OHMS_WANTED:
        return f"measure ohms; {a}; and {b}"
    if step.kind == LOOK:
        return f"look at {a}; and {b}"
    if step.kind == JUNCTION and step.points[0] != session.held:
        return f"diode mode; red on {a}; black on {b}"
    return b if step.points[0] == session.held else f"hold {a}; touch {b}"


def mini_map(board: Board, points: Sequence[int], side: str, width: int) -> list[str]:
    """The joints as dots in their true arrangement, the two points to touch as A (stays put) and B.

    A board point or the shell as a whole marks the joints of its net in small letters.
    """
    from connector_check.drawing.views import rows_of, solder_view

    letters: dict[str, str] = {}
    for point, letter in zip(points, "AB", strict=False):
        if point < len(board.joints):
            letters[board.points[point]] = letter
        else:
            for joint in board.joints_of[board.net_of[point].name]:
                letters.setdefault(board.points[joint], letter.lower())
    view = solder_view(board, side)
    left = min(m.x for m in view.marks)
    span = max(max(m.x for m in view.marks) - left, 1e-9)
    lines = []
    for row in rows_of(view.marks):
        cells = [" "] * width
        for mark in row:
            cells[_free(cells, round((mark.x - left) / span * (width - 1)))] = letters.get(mark.name, _dot(mark.role))
        lines.append("".join(cells).rstrip())
    return lines


def _dot(role: str) -> str:
    return {"shell": "#", "ground": "-", "power": "+"}.get(role, ".")


def _free(cells: list[str], at: int) -> int:
    for distance in range(len(cells)):
        for place in (at + distance, at - distance):
            if 0 <= place < len(cells) and cells[place] == " ":
                return place
    return at


def screen_lines(
    session: Session, step: Step, noted: str, message: str, keys: dict[str, str], side: str, width: int, height: int
) -> list[str]:
    """The whole screen, at most `height` lines of at most `width` columns."""
    board = session.board
    head = f"{board.pin_map.id}, layout {board.layout.id}, scope {session.scope}, round {session.standing.rounds}"
    so_far = _indented(f"so far: {session.findings_line()}", width)
    listed = wrap("  ".join(f"{key} {action}" for key, action in keys.items()), max(width, 20))[: max(height - 8, 1)]
    # on a small screen the pair to touch goes before the findings so far, the message and the keys
    free = height - len(listed) - 5
    foot = [f"  noted: {noted}" if noted else "", *so_far[: min(max(free, 0), 2)]]
    room = min(max(height - len(foot) - len(listed) - 3, 1), 4)
    foot += _indented(message, width)[:room] or [""]
    foot += listed
    if step.points is not None:
        body = _touch_lines(session, step, step.points, keys, side, width, height)
    else:
        body = _other_lines(session, step, keys, height)
    lines = [head, "", *(part for line in body for part in _folded(line, width))][: height - len(foot)]
    lines += [""] * (height - len(foot) - len(lines))
    return [line[:width] for line in lines + foot]


def _folded(line: str, width: int) -> list[str]:
    """A line as it fits, its further parts indented below it."""
    return [line] if len(line) <= width else wrap(line, max(width, 20), subsequent_indent="     ")


def _indented(text: str, width: int) -> list[str]:
    return wrap(text, max(width - 2, 20), initial_indent="  ", subsequent_indent="  ")


def _touch_lines(
    session: Session, step: Step, points: Pair, keys: dict[str, str], side: str, width: int, height: int
) -> list[str]:
    board = session.board
    a, b = points
    verb = {OHMS_WANTED: "MEASURE OHMS", LOOK: "LOOK AT", JUNCTION: "DIODE MODE, black on"}.get(step.kind, "TOUCH")
    stays = "stays on" if a == session.held else "put on"
    lines = [f"  {verb}   {_large(board.points[b])}   with   {_large(board.points[a])}", ""]
    lines += [f"  B  {point_words(board, b, side)}", f"  A  {stays}  {point_words(board, a, side)}", ""]
    again = "; skipped before" if step.again else ""
    why = f"why: {step.why}{again}; {step.left} left"
    if step.kind == JUNCTION:
        # first, since many values read leave no room below
        lines += _indented(why, width)[:2]
        lines += [_typed_line(keys), "", *_sweep_lines(session, max(height - 18, 3))]
    drawn = mini_map(board, points, side, min(max(width - 6, 10), 72))
    room = height - 8 - len(lines)
    lines += ["  " + line for line in drawn[: max(room, 0)]]
    if drawn and room > 0:
        lines += [f"  seen from the {side} side; - ground, + supply, . data, # shell", ""]
    return lines if step.kind == JUNCTION else [*lines, "  " + why]


def _sweep_lines(session: Session, most: int) -> list[str]:
    """The contacts read last, against their fellows."""
    from connector_check.analysis.diode import diode_readings
    from connector_check.drawing.strip import strip_lines
    from connector_check.probing.sweep import strip_at

    readings = diode_readings(session.board, session.standing.entries)
    last = [*dict.fromkeys(reading.point for reading in reversed(readings))][:most]
    shown = strip_lines(strip_at(session.board, readings, last, session.good_volts)) if last else []
    return [*("  " + line for line in shown), *([""] if shown else [])]


def _typed_line(keys: dict[str, str]) -> str:
    key_of = {action: key for key, action in keys.items()}
    told = {"over": "OL", "chirp": "counts up", "skip": "skip", "diode": "leave diode mode"}
    return "  type the volts, or " + ", ".join(f"{key_of[action]} {words}" for action, words in told.items())


def _other_lines(session: Session, step: Step, keys: dict[str, str], height: int) -> list[str]:
    """The steps without a pair: cautions, lead check, iron, done."""
    key_of = {action: key for key, action in keys.items()}
    if step.kind == CAUTION:
        return [*("  " + line for line in CAUTION_LINES), "", f"  press {key_of['beep']} when this is done"]
    if step.kind == LEADS:
        answers = f"{key_of['beep']} good   {key_of['quiet']} failed   {key_of['ohms']} type the leads' ohms"
        return ["  LEAD CHECK", f"  {step.why}", "  " + answers]
    if step.kind == IRON:
        listed = [f"  {found.step}. {found.do}" for found in session.result().rework][: height - 10]
        then = f"  then press {key_of['rework']} and name the joints (or: all)"
        return ["  REWORK: nothing left to touch, these joints need the iron", *listed, then]
    return [f"  DONE: {_nothing_left(session)}. {key_of['quit']} prints the verdict and the record."]


def _nothing_left(session: Session) -> str:
    return "nothing left to touch" + (" for shorts; contact was left out" if session.shorts_only else "")


def _large(name: str) -> str:
    return f"[ {name} ]"
