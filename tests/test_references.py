"""Which job may be a reference: refused are the job's own readings, an empty one, and one of another connector."""

from __future__ import annotations

from pathlib import Path

import pytest

from connector_check import check, load_job
from connector_check.errors import InputError
from connector_check.testlog.readings import Entry
from connector_check.testlog.references import same_readings
from tests.strategies import TINY_YAML

ROWS = ",,leads good\nGND,1,beep\n1,2,quiet\n2,3,quiet\n4,5,beep\n3,@D+,75 ohm\n,,leads good\n"
TWO_LAYOUTS = (
    TINY_YAML
    + """\
  - id: other
    source: invented
    pads:
      - {row: [1..7], start: [0, 0], step: [1, 0], size: [0.3, 1.0]}
"""
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CONNECTOR_CHECK_HOME", str(tmp_path / "home"))
    (tmp_path / "tiny.yaml").write_text(TWO_LAYOUTS)
    write(tmp_path / "job.csv", ROWS)
    return tmp_path


def write(path: Path, rows: str, head: str = "# map: tiny.yaml\n") -> str:
    path.write_text(head + rows)
    return str(path)


def refused(like: str | list[str], **given: str) -> str:
    with pytest.raises(InputError) as error:
        load_job("job.csv", like=like, **given)
    return str(error.value)


@pytest.mark.parametrize(
    ("name", "rows", "head"),
    [
        ("job.csv", ROWS, "# map: tiny.yaml\n"),
        ("copy.csv", ROWS, "# map: tiny.yaml\n"),
        ("spaced.csv", "\n".join(reversed(ROWS.splitlines())), "# map: tiny\n# date: 2026-11-02\n# layout: row\n"),
        ("turned.csv", ROWS.replace("4,5", "5,4").replace("beep", "BEEP,a note"), "# map: tiny.yaml\n"),
    ],
)
def test_the_jobs_own_readings_are_refused_under_any_name(folder, name, rows, head):
    assert f"{name}: holds the job's own readings" in refused(write(folder / name, rows, head).replace("./", ""))
    assert "# board: NAME" in refused(name)


def test_a_link_to_the_job_is_the_job(folder):
    (folder / "link.csv").symlink_to("job.csv")
    assert "the job's own readings" in refused("link.csv")


def test_a_board_of_another_name_that_reads_the_same_is_another_board(folder):
    write(folder / "twin.csv", ROWS, "# map: tiny\n# board: number 2\n# date: 2026-11-02\n")
    result = check(load_job("job.csv", like="twin.csv"))
    assert any("good board twin.csv (number 2), 2026-11-02: it read" in line for line in result.assumptions)


def test_a_piece_of_the_job_is_told_by_its_measured_values():
    def volts(*values: float) -> list[Entry]:
        return [Entry(i, "volts", (i, 9), value) for i, value in enumerate(values)]

    job = volts(0.512, 0.498, 0.505, 0.611)
    assert same_readings(job, volts(0.512, 0.498, 0.505))
    assert not same_readings(job, volts(0.512, 0.498))
    assert not same_readings(job, volts(0.512, 0.498, 0.506))
    assert not same_readings([], []) and not same_readings(job, [Entry(1, "beep", (1, 2))])
    assert not same_readings([*job, Entry(5, "beep", (1, 2))], [Entry(5, "beep", (1, 2))])
    twelve = [0.512 + i / 100 for i in range(12)]
    assert same_readings(volts(*twelve), volts(*twelve[:11], 0.9)), "one value changed is a copy still"
    assert not same_readings(volts(*twelve), volts(*twelve[:10], 0.9, 0.91))
    assert not same_readings(volts(0.5, 0.5, 0.5, 0.6), volts(0.5, 0.5, 0.5)), "one value thrice tells nothing"


def test_what_cannot_be_compared_is_refused_with_place_and_remedy(folder):
    empty = write(folder / "empty.csv", ",,leads good\n1,2,unsure\n,,remark,nothing yet\n")
    assert refused(empty) == f"{empty}: the good board's job holds no reading: give a job that was probed"
    (folder / "blank.csv").write_text("")
    assert "the file is empty" in refused("blank.csv")
    other = write(folder / "usb.csv", "1,2,quiet\n", "# map: usb-a-3\n")
    assert refused(other) == f"{other}:1: the good board's job is of map 'usb-a-3': compare with a job of map tiny"
    layout = write(folder / "layout.csv", "1,2,quiet\n", "# map: tiny.yaml\n# layout: other\n")
    assert f"{layout}:2: the good board's job is of layout 'other'" in refused(layout)
    assert "job names no pin map" in refused(write(folder / "none.csv", "1,2,quiet\n", ""))
    assert "cannot be read" in refused("missing.csv")
    silent = write(folder / "silent.csv", "1,2,quiet\n2,3,OL\n")
    assert f"{silent}: no reading of the good board stands: silence counts between two proofs" in refused(silent)
    assert "no job file, and no good boards are kept under that name: there are: none yet" in refused("scale")


def test_another_layout_or_variant_than_the_one_asked_for_is_refused(folder):
    write(folder / "job.csv", "1,GND,beep\n", "# map: tiny.yaml\n# layout: other\n")
    plain = write(folder / "plain.csv", "4,GND,beep\n")
    assert "is of layout 'none, which means the map's first': compare with a job of layout other" in refused(plain)
    write(folder / "job.csv", "1,GND,beep\n")
    load_job("job.csv", layout="other", like=plain)
    can = write(folder / "can.csv", "3,4,quiet\n", "# map: de9-can\n# variant: somewhere\n")
    write(folder / "job.csv", "3,2,quiet\n", "# map: de9-can\n")
    assert "is of variant 'somewhere': compare with a job of variant none" in refused(can)


def test_a_map_file_of_the_same_id_is_the_same_map_and_one_board_counts_once(folder):
    good = write(folder / "good.csv", "1,GND,beep\n4,GND,beep\n", "# map: tiny\n# board: A\n")
    again = write(folder / "again.csv", "1,GND,beep\n", "# map: tiny.yaml\n# board: A\n")
    copy = write(folder / "copy.csv", "4,GND,beep\n1,GND,beep\n", "# map: tiny\n# board: A\n")
    job = load_job("job.csv", like=[good, good, again, copy])
    assert [one.name for one in job.good_boards] == [good]
    assert sum("counts once" in line for line in job.as_good) == 3


def test_the_date_is_the_files_own_where_the_job_has_none(folder):
    import os

    good = write(folder / "good.csv", "1,GND,beep\n")
    os.utime(good, (1_700_000_000, 1_700_000_000))
    assert load_job("job.csv", like=good).good_boards[0].date == "2023-11-14 by its file"
