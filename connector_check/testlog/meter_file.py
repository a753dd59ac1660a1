"""What is known of a meter, as it is written: `10:250`, a small YAML file, or the user's own, told once.

`--meter`, the job line `# meter:` and CONNECTOR_CHECK_METER take the same spellings, through `read_meter`.

A meter file, every key but `format` may be left out:

    format: 1
    name: the handheld in the drawer
    sounds_below: 30
    silent_above: 70
    leads_ohms: 0.2
    latency_ms: 100
    beeps_on_junction: no
    source: its manual, page 19
"""

from __future__ import annotations

import os
import re
from dataclasses import replace
from pathlib import Path

from connector_check.errors import InputError
from connector_check.files.fields import Fields
from connector_check.files.reading import read_capped
from connector_check.files.text import one_line, printable, shown
from connector_check.files.user_folder import config_folder
from connector_check.files.yaml_out import in_quotes
from connector_check.files.yaml_text import Table, read_yaml
from connector_check.testlog.meter import UNKNOWN_METER, Meter

MAX_BYTES = 100_000
MOST_OHMS = 1e6
MOST_LEADS_OHMS = 100.0
MOST_LATENCY_MS = 10_000.0
KEYS = ("format", "name", "sounds_below", "silent_above", "leads_ohms", "latency_ms", "beeps_on_junction", "source")
OWN_METER_VARIABLE = "CONNECTOR_CHECK_METER"
OWN_METER_FILE = "meter.yaml"
_NUMBER = r"([0-9]*\.?[0-9]+)\s*"
_METER = re.compile(
    rf"{_NUMBER}(?:ohms?)?\s*[\s:,/;-]\s*{_NUMBER}(?:ohms?)?"
    rf"(?:\s+leads\s+{_NUMBER})?(?:\s+latency\s+{_NUMBER})?(?:\s+junction\s+(yes|no))?(?:\s+name\s+(.+))?\s*\Z",
    re.IGNORECASE,
)
_ENDINGS = (".yaml", ".yml")
_YES_NO = {"yes": True, "no": False}


def read_meter(text: str, told_by: str, folder: Path | None = None, place: tuple[str, int] | None = None) -> Meter:
    """The meter of `10:250` or of a meter file, however it was told.

    told_by: in words, for results; folder: against which a relative file name is looked up, the current one when None;
    place: file and line that name the meter, where a file does. Raises InputError with every problem.
    """
    file, line = place or (told_by, 0)
    if not text.lower().endswith(_ENDINGS):
        return replace(parse_meter(text, file, line), told_by=told_by)
    path = (folder or Path()) / text
    what = ""
    if place and Path(text).is_absolute():
        what, remedy = f"meter '{shown(text)}' is an absolute path", "a job names a meter file relative to itself"
    elif place and not path.is_file():
        what, remedy = f"meter '{shown(text)}' is not there", f"put it beside the job, or write two ohms: {_example()}"
    if what:
        raise InputError.one(file, line, what, remedy)
    return replace(load_meter(path), told_by=f"{told_by}, {printable(path.name)}")


def _example() -> str:
    return f"{UNKNOWN_METER.sounds_below:g}:{UNKNOWN_METER.silent_above:g}"


def own_meter() -> Meter:
    """The user's own meter: of the environment variable CONNECTOR_CHECK_METER, else of the file in their folder of
    settings, else the unknown one. Raises InputError.
    """
    if told := os.environ.get(OWN_METER_VARIABLE, "").strip():
        return read_meter(told, OWN_METER_VARIABLE)
    path = own_meter_path()
    return replace(load_meter(path), told_by="the user's own settings") if path.is_file() else UNKNOWN_METER


def told_meter(given: str) -> Meter:
    """The meter where no job tells one: the given one, as `--meter` has it, else the user's own. Raises InputError."""
    return read_meter(given, "--meter") if given else own_meter()


def own_meter_path() -> Path:
    """Where the user's own meter file is, or would be."""
    return config_folder() / OWN_METER_FILE


def keep_as_own(meter: Meter) -> Path:
    """Make this the user's own meter from now on; returns its file. Raises InputError."""
    from connector_check.files.writing import write_whole

    path = own_meter_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError.one(str(path.parent), 0, f"cannot be made ({error.strerror})", "check its rights") from None
    write_whole(path, meter_text(meter))
    return path


def parse_meter(text: str, file: str = "--meter", line: int = 0) -> Meter:
    """The meter of `10:250`: sounds below, silent above, in ohms, with what `meter_line` may write behind them.

    file, line: what to name in the message. Raises InputError.

    >>> parse_meter("10:250"), parse_meter("30 70")
    (Meter(sounds_below=10.0, silent_above=250.0), Meter(sounds_below=30.0, silent_above=70.0))
    """
    match = _METER.match(text.strip())
    low, high, leads, latency = (float(number or 0) for number in match.groups()[:4]) if match else (0.0,) * 4
    if not match or not 0 < low <= high <= MOST_OHMS or leads > MOST_LEADS_OHMS or latency > MOST_LATENCY_MS:
        expected = f"expected two ohms, sounds below and silent above, the smaller first: {_example()}"
        raise InputError.one(file, line, f"meter '{shown(text)}'", f"{expected}; or a file that ends in .yaml")
    return Meter(
        low,
        high,
        leads_ohms=leads,
        latency_ms=latency if match[4] else None,
        beeps_on_junction=_YES_NO.get((match[5] or "").lower()),
        name=(match[6] or "").strip(),
    )


def meter_line(meter: Meter) -> str:
    """The meter in one line that `parse_meter` reads back, so that a job carries it with itself.

    >>> meter_line(Meter(30, 70, leads_ohms=0.2, latency_ms=100, beeps_on_junction=False, name="the handheld"))
    '30 70 leads 0.2 latency 100 junction no name the handheld'
    """
    words = [_plain(meter.sounds_below), _plain(meter.silent_above)]
    if meter.leads_ohms:
        words += ["leads", _plain(meter.leads_ohms)]
    if meter.latency_ms is not None:
        words += ["latency", _plain(meter.latency_ms)]
    if meter.beeps_on_junction is not None:
        words += ["junction", "yes" if meter.beeps_on_junction else "no"]
    # a comma or a quote mark in a header line would part it in a spreadsheet, and an ending would make it a file
    name = one_line(re.sub(r"[,;\t\"']", " ", meter.name), 60)
    if name and not name.lower().endswith(_ENDINGS):
        words += ["name", name]
    return " ".join(words)


def _plain(value: float) -> str:
    """A number without exponent, exactly.

    >>> _plain(30.0), _plain(0.1), _plain(1e-05)
    ('30', '0.1', '0.00001')
    """
    from decimal import Decimal

    return f"{Decimal(repr(value)):f}".removesuffix(".0")


def load_meter(path: Path | str) -> Meter:
    """Read and check a meter file. Raises InputError with every problem at once."""
    return parse_meter_file(
        read_capped(path, str(path), MAX_BYTES, "give a meter file, or two ohms: 10:250"), str(path)
    )


def parse_meter_file(raw: bytes, file: str) -> Meter:
    """Check the bytes of a meter file; see `load_meter`."""
    if len(raw) > MAX_BYTES:
        raise InputError.one(file, 0, f"larger than {MAX_BYTES:,} bytes", "a meter file has a dozen lines")
    if not any(line.strip() and not line.lstrip().startswith(b"#") for line in raw.splitlines()):
        raise InputError.one(file, 0, "the file is empty", "a meter file starts with 'format: 1'")
    tree, problems = read_yaml(raw, file)
    reader = Fields(file, problems)
    top = reader.table(tree, "the meter file", set(KEYS))
    found = _described(reader, top) if top else None
    if reader.problems or found is None:
        raise InputError(reader.problems)
    return found


def _described(reader: Fields, top: Table) -> Meter:
    what = "the meter file"

    def ohms(key: str, least: float) -> float | None:
        return reader.number(top.entries.get(key), f"'{key}'", least, MOST_OHMS)

    reader.check_format(top, what)
    low, high = ohms("sounds_below", 0.01), ohms("silent_above", 0.01)
    if low is not None and high is not None and low > high:
        what_is_wrong = f"sounds below {low:g} ohm but is silent above {high:g} ohm"
        reader.say(top.lines["sounds_below"], what_is_wrong, "sounds_below is the smaller of the two")
    # A manual that prints one threshold says nothing of the other: the careful default, moved only where it must.
    sounds = low if low is not None else min(UNKNOWN_METER.sounds_below, high or UNKNOWN_METER.sounds_below)
    silent = high if high is not None else max(UNKNOWN_METER.silent_above, low or UNKNOWN_METER.silent_above)
    junction = reader.word(top, "beeps_on_junction", what, ("yes", "no"), "")
    return Meter(
        sounds,
        silent,
        name=reader.text(top, "name", what, required=False),
        leads_ohms=reader.number(top.entries.get("leads_ohms"), "'leads_ohms'", 0, MOST_LEADS_OHMS) or 0.0,
        latency_ms=reader.number(top.entries.get("latency_ms"), "'latency_ms'", 0, MOST_LATENCY_MS),
        beeps_on_junction=_YES_NO.get(junction),
        source=reader.text(top, "source", what, required=False),
    )


def meter_text(meter: Meter) -> str:
    """A meter file that reads back as this meter."""

    def words(text: str) -> str:
        return in_quotes(printable(text).strip())

    lines = ["format: 1"]
    if meter.name:
        lines.append(f"name: {words(meter.name)}")
    lines.append(f"sounds_below: {_plain(meter.sounds_below)}")
    lines.append(f"silent_above: {_plain(meter.silent_above)}")
    if meter.leads_ohms:
        lines.append(f"leads_ohms: {_plain(meter.leads_ohms)}")
    if meter.latency_ms is not None:
        lines.append(f"latency_ms: {_plain(meter.latency_ms)}")
    if meter.beeps_on_junction is not None:
        lines.append(f"beeps_on_junction: {'yes' if meter.beeps_on_junction else 'no'}")
    if meter.source:
        lines.append(f"source: {words(meter.source)}")
    return "\n".join(lines) + "\n"
