"""Good boards that are kept in the user's folder: added, listed, shown, removed, and used by --like."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from connector_check import load_job
from connector_check.cli.commands import main
from connector_check.files.user_folder import config_folder, data_folder
from connector_check.probing.session import Session
from connector_check.testlog.meter import Meter
from tests.strategies import TINY_YAML

HEAD = "# map: tiny\n# date: 2026-11-02\n"
GOOD = """\
,,leads good 0.2
GND,1,beep
GND,4,beep
GND,7,beep
1,2,quiet
2,3,quiet
3,4,5.2k
5,GND,0.512 V
,,leads good
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CONNECTOR_CHECK_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("CONNECTOR_CHECK_MAPS", str(tmp_path / "maps"))
    (tmp_path / "maps").mkdir()
    (tmp_path / "maps" / "tiny.yaml").write_text(TINY_YAML)
    (tmp_path / "good.csv").write_text(HEAD + GOOD)
    second = GOOD.replace("5.2k", "4.9k").replace("0.512", "0.498")
    (tmp_path / "second.csv").write_text("# map: tiny\n# board: number 2\n" + second)
    return tmp_path


def run(*args: str, text: str = "") -> Result:
    return CliRunner().invoke(main, list(args), input=text, catch_exceptions=False)


def add(*args: str) -> Result:
    return run("good-board", "add", *args)


def test_the_users_folder_is_named_by_the_environment_or_by_the_system(monkeypatch, tmp_path):
    monkeypatch.setenv("CONNECTOR_CHECK_HOME", str(tmp_path))
    assert config_folder() == data_folder() == tmp_path
    monkeypatch.delenv("CONNECTOR_CHECK_HOME")
    assert config_folder().name == data_folder().name == "connector-check"


def test_a_set_is_added_to_listed_shown_and_removed_from(folder):
    assert run("good-board", "list").stdout.startswith("no good boards are kept yet")
    assert "compare with --like scale" in add("scale", "good.csv").stdout
    assert add("scale", "second.csv").exit_code == 0
    listed = run("good-board", "list").stdout.splitlines()
    assert listed[0] == "scale: tiny, row, 2 boards" and listed[1] == "    good, 2026-11-02"
    assert listed[2].startswith("    second, ") and listed[2].endswith("by its file (number 2)")
    shown = run("good-board", "show", "scale").stdout
    assert "5: median 0.505 V (2 boards, 0.498 V to 0.512 V)" in shown
    assert "3 - 4: median 5050 ohm (2 boards, 4900 ohm to 5200 ohm)" in shown
    assert "good, 2026-11-02: 7 readings" in shown
    assert run("good-board", "remove", "scale", "good").stdout == "removed good from scale\n"
    assert run("good-board", "list").stdout.startswith("scale: tiny, row, 1 board\n")
    assert run("good-board", "remove", "scale", "second.csv").exit_code == 0
    assert run("good-board", "show", "scale").exit_code == 1
    assert list((folder / "home" / "good-boards").iterdir()) == []


def test_disagreement_within_a_set_is_shown(folder):
    (folder / "odd.csv").write_text(HEAD + GOOD.replace("0.512", "0.9").replace("1,2,quiet", "6,7,quiet"))
    (folder / "note.csv").write_text(HEAD + GOOD.replace("1,2,quiet", "6,7,beep"))
    for job in ("good.csv", "odd.csv", "note.csv"):
        assert add("scale", job).exit_code == 0, job
    shown = run("good-board", "show", "scale").stdout
    assert "5: [?] they disagree, not used (3 boards, 0.512 V to 0.9 V)" in shown
    assert "tone 6 - 7: [?] they disagree, not used" in shown


def test_like_takes_a_kept_name_and_files_and_leaves_the_job_itself_out(folder):
    add("scale", "good.csv")
    add("scale", "second.csv")
    (folder / "job.csv").write_text("# map: tiny\n" + GOOD.replace("0.512", "0.9"))
    result = json.loads(run("check", "job.csv", "--like", "scale", "--format", "json").stdout)
    assert [found["points"] for found in result["differences"]] == [["5"]]
    assert result["differences"][0]["good"] == 0.505
    assert "0.9 V here, 0.505 V (median of 2) there" in result["differences"][0]["why"]
    told = [line for line in result["assumptions"] if line.startswith("good board ")]
    assert [line.split(",")[0] for line in told] == ["good board scale/good", "good board scale/second (number 2)"]
    own = load_job("good.csv", like="scale")
    assert [good.name for good in own.good_boards] == ["scale/second"]
    assert "good board scale/good holds the job's own readings and is left out" in own.as_good[0]
    run("good-board", "remove", "scale", "second")
    alone = run("check", "good.csv", "--like", "scale")
    assert alone.exit_code == 1 and "only the job's own readings are kept there" in alone.stderr
    both = load_job("job.csv", like=["scale", "second.csv"])
    assert [good.name for good in both.good_boards] == ["scale/good", "second.csv"]


def test_every_output_names_the_reference_and_the_difference(folder):
    (folder / "job.csv").write_text("# map: tiny\n" + GOOD.replace("0.512", "0.9"))
    for command in (["check"], ["check", "--format", "csv"], ["check", "--format", "markdown"], ["report"]):
        text = run(command[0], "job.csv", *command[1:], "--like", "good.csv").stdout
        assert "good board good.csv, 2026-11-02: it read" in text, command
        assert "5 to ground differs from the good board: 0.9 V here, 0.512 V there" in text, command


def test_a_live_session_compares_as_it_goes(folder):
    done = run("probe", "live.csv", "--map", "tiny", "--like", "second.csv", text="beep\nbeep\nquit\n")
    assert "good board second.csv (number 2)" in done.stdout and "differs" not in done.stdout
    (folder / "live.csv").write_text("# map: tiny\n,,leads good\n3,4,9.9k\n5,GND,0.9 V\n1,GND,quiet\n")
    job = load_job("live.csv", like="second.csv")
    session = Session(job.board, job.entries, meter=job.meter, good_boards=job.good_boards, as_good=job.as_good)
    assert session.findings_line().endswith(
        "1 silent, not so on the good board; 3 - 4 ohms differs from the good board; "
        "5 volts differs from the good board"
    )
    done = run("probe", "live.csv", "--like", "second.csv", text="beep\nquit\n")
    assert "3 to 4 differs from the good board: 9900 ohm here, 4900 ohm there (4008 to 5990 ohm" in done.stdout


def test_a_plan_leaves_out_what_the_good_board_shows_open(folder):
    (folder / "open.csv").write_text(HEAD + GOOD.replace("5,GND,0.512 V", "5,@TX,quiet"))
    plain = run("plan", "--map", "tiny", "--format", "json").stdout
    like = run("plan", "--map", "tiny", "--format", "json", "--like", "open.csv").stdout
    touches, fewer = (
        {frozenset((touch["a"], touch["b"])) for touch in json.loads(text)["touches"]} for text in (plain, like)
    )
    assert touches - fewer == {frozenset(("5", "@TX"))} and fewer < touches
    assert "contact of 5 is not required" in load_job("second.csv", like="open.csv").as_good[0]
    assert run("plan", "good.csv", "--like", "second.csv").exit_code == 0


def test_silence_that_will_not_count_is_told_when_a_job_is_kept(folder):
    (folder / "open.csv").write_text(HEAD + "GND,1,beep\n1,2,quiet\n2,3,quiet\n3,4,5.2k\n")
    assert "silent reading" not in add("scale", "good.csv").stderr
    assert "connector-check: 3 silent readings do not lie between" in add("other", "open.csv", "--by-design").stderr


# What may not be kept


def refused(*args: str) -> str:
    done = add(*args)
    assert done.exit_code == 1 and not list((args and Path("home").rglob("*.csv")) or ())
    return done.stderr


def test_a_board_with_findings_is_refused_with_its_reason_unless_they_are_the_designers(folder):
    (folder / "bad.csv").write_text(HEAD + GOOD.replace("2,3,quiet", "2,3,beep").replace("GND,4,beep", "GND,4,quiet"))
    assert refused("scale", "bad.csv") == (
        "connector-check: bad.csv: is no good board: +5V + D+ dead-signal; 4 open: "
        "mend it first; if the designer did it, say so in board notes, or give --by-design\n"
    )
    assert add("scale", "bad.csv", "--by-design").exit_code == 0


def test_board_notes_say_what_the_designer_did(folder):
    (folder / "tied.csv").write_text(HEAD + GOOD.replace("5,GND,0.512 V", "4,5,beep"))
    (folder / "notes.yaml").write_text("format: 1\nmap: tiny\nties: [[TX, GND]]\n")
    assert "GND + TX dead-signal" in refused("scale", "tied.csv")
    assert add("scale", "tied.csv", "--notes", "notes.yaml").exit_code == 0


def test_a_job_that_contradicts_itself_is_refused_even_by_design(folder):
    (folder / "torn.csv").write_text(HEAD + GOOD + "1,4,quiet\n")
    assert "contradicts itself: 1 - 4 was quiet" in refused("scale", "torn.csv", "--by-design")


def test_near_zero_in_diode_mode_is_refused(folder):
    (folder / "zero.csv").write_text(HEAD + "5,GND,0.01 V\n")
    assert "5 near zero in diode mode" in refused("scale", "zero.csv")


def test_a_partial_job_is_welcome_and_keeps_what_it_is_of(folder):
    (folder / "sweep.csv").write_text("3,GND,0.5 V\n5,GND,0.512 V\n")
    assert add("scale", "sweep.csv", "--map", "tiny", "--layout", "row").exit_code == 0
    kept = (folder / "home" / "good-boards" / "scale" / "sweep.csv").read_text()
    assert kept.startswith("# map: tiny\n# layout: row\n# date: ") and kept.endswith("5,GND,0.512 V\n")
    assert load_job("good.csv", like="scale").good_boards[0].name == "scale/sweep"


def test_a_kept_job_says_with_which_meter_it_was_read(folder):
    (folder / "metered.csv").write_text("# meter: 30 70\n" + HEAD + GOOD)
    add("scale", "metered.csv")
    assert load_job("second.csv", like="scale").good_boards[0].meter == Meter(30, 70)
    assert "# meter: 30 70" in (folder / "home" / "good-boards" / "scale" / "metered.csv").read_text()[:80]


@pytest.mark.parametrize("name", ["../scale", "Scale", "scale.csv", "a..b", "", "a/b"])
def test_a_name_never_becomes_a_path(folder, name):
    assert "no name for a kind of board" in refused(name, "good.csv")


def test_a_board_of_another_connector_or_one_that_is_kept_already_is_refused(folder):
    add("scale", "good.csv")
    (folder / "other.csv").write_text("# map: usb-a-3\n1,2,quiet\n")
    other = add("scale", "other.csv")
    assert other.exit_code == 1
    assert "is of usb-a-3, layout tht-vertical, while scale holds boards of tiny, layout row" in other.stderr.replace(
        load_job("other.csv").board.layout.id, "tht-vertical"
    )
    again = add("scale", "good.csv")
    assert "holds the same readings as good, which is kept already: each board counts once" in again.stderr
    (folder / "third.csv").write_text("# map: tiny\n# board: number 2\n" + GOOD.replace("5.2k", "5k"))
    add("scale", "second.csv")
    assert "is the same board or holds the same readings as second" in add("scale", "third.csv").stderr


def test_two_jobs_of_one_name_are_both_kept(folder):
    (folder / "more").mkdir()
    (folder / "more" / "good.csv").write_text("# map: tiny\n" + GOOD.replace("5.2k", "5.1k"))
    add("scale", "good.csv")
    assert add("scale", "more/good.csv").stdout.startswith("kept as good-2 of scale")


def test_a_home_that_cannot_be_written_is_told(folder):
    (folder / "home").write_text("a file where the folder should be")
    done = add("scale", "good.csv")
    assert done.exit_code == 1 and "cannot be made" in done.stderr


def test_kept_names_complete_after_like(folder):
    from connector_check.cli.good_board import complete_name
    from connector_check.cli.options import complete_like

    add("scale", "good.csv")
    assert [item.value for item in complete_like(None, None, "sc")] == ["scale", "sc"]  # type: ignore[arg-type]
    assert [item.value for item in complete_name(None, None, "")] == ["scale"]  # type: ignore[arg-type]


HEADER_JOB = """\
# map: header-1x4
# role: 1=power 5, 2=ground, 3..4=data
# board: one
pin_a,pin_b,reading,note
,,leads good,
2,GND,beep,
3,GND,0.50 V,
4,GND,0.52 V,
,,leads good,
"""


def test_a_job_that_tells_roles_is_kept_and_shown_and_compared_with_boards_wired_alike(folder):
    (folder / "one.csv").write_text(HEADER_JOB)
    assert add("header", "one.csv").exit_code == 0
    shown = run("good-board", "show", "header")
    assert shown.exit_code == 0 and "3: median 0.5 V" in shown.stdout
    mine = HEADER_JOB.replace("board: one", "board: two").replace("0.52", "0.90")
    (folder / "two.csv").write_text(mine)
    assert "differs from the good board: 4" in run("check", "two.csv", "--like", "header").stdout
    (folder / "other.csv").write_text(mine.replace("3..4=data", "3=data, 4=reserved"))
    refused = run("check", "other.csv", "--like", "header")
    assert (
        refused.exit_code == 1
        and ":5: in the good board's job contact 4 is data, in the job reserved" in refused.stderr
    )


def test_a_kept_job_keeps_all_that_its_meter_file_tells(folder):
    (folder / "mine.yaml").write_text(
        "format: 1\nname: the handheld\nsounds_below: 30\nsilent_above: 70\nleads_ohms: 0.2\n"
    )
    (folder / "filed.csv").write_text("# meter: mine.yaml\n" + HEAD + GOOD.replace("good 0.2", "good"))
    assert add("scale", "filed.csv").exit_code == 0
    [kept] = (folder / "home" / "good-boards" / "scale").iterdir()
    assert load_job(str(kept)).meter == load_job("filed.csv").meter
    assert load_job(str(kept)).meter.leads_ohms == 0.2
