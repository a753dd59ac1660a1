"""Text as people and programs hand it to us: decoding, harmless characters, spreadsheet cells, natural order. Pure."""

from __future__ import annotations

import re
from bisect import bisect_right

from connector_check.errors import InputError

NO_FILE = "is this the right file?"
DELIMITERS = ",;\t"
UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""First characters that make a spreadsheet read a cell as a formula (OWASP, CSV injection)."""

_PURE_NUMBER = re.compile(r"[+-]?\d*[.,]?\d+\Z")


def decode(raw: bytes, file: str, most: int, too_large: str = NO_FILE) -> str:
    """The text of a file: UTF-8 with or without a mark, or UTF-16 with one, as spreadsheets save it.

    file: its name in messages; most: bytes that it may have; too_large: the remedy when it has more. Raises InputError
    for larger files, other encodings, binary data, and files without any text.
    """
    if len(raw) > most:
        raise InputError.one(file, 0, f"larger than {_bytes(most)}", too_large)
    try:
        text = raw.decode("utf-16" if raw[:2] in UTF16_MARKS else "utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError.one(file, line, "not text in UTF-8", f"save it as UTF-8 text; {NO_FILE}") from None
    if "\0" in text:
        raise InputError.one(file, text[: text.index("\0")].count("\n") + 1, "binary data, not text", NO_FILE)
    if not text.strip():
        raise InputError.one(file, 0, "the file is empty", NO_FILE)
    return text


def _bytes(count: int) -> str:
    return f"{count // 2**20} MiB" if count % 2**20 == 0 else f"{count:,} bytes"


def salvaged(raw: bytes) -> str:
    """What can be read of bytes that may be torn: for a look at them or a message, never to be taken as said."""
    return raw.decode("utf-8", "replace").removeprefix("\ufeff")


def printable(text: str, lines: bool = False, instead: str = "?") -> str:
    """Text without control characters and direction marks, so that no input can steer a terminal or a file.

    lines: line feeds stay; instead: what stands for each character that is left out.

    >>> printable("D+\\x1b[2J")
    'D+?[2J'
    """
    return "".join(c if c.isprintable() or (lines and c == "\n") else instead for c in text)


def one_line(text: str, most: int) -> str:
    """Text with every run of blanks as one, printable, at most that many characters long."""
    return shortened(printable(" ".join(text.split())), most, " ...")


def shortened(text: str, most: int, mark: str = "...") -> str:
    """Text of at most that many characters; where it was cut it ends in the mark."""
    return text if len(text) <= most else text[: most - len(mark)] + mark


def shown(cell: str) -> str:
    """What a user wrote, for a message: printable, at most 40 characters."""
    return shortened(printable(cell.strip()), 40)


def columns(text: str) -> int:
    """How many columns of a terminal a printable text takes: two for a wide character, none for a combining one.

    >>> columns("GND"), columns("\u63a5\u5730"), columns("e\u0301")
    (3, 4, 1)
    """
    if text.isascii():
        return len(text)
    from wcwidth import wcswidth

    # -1, not a width, is what it says of control characters
    return wcswidth(printable(text))


def padded(text: str, width: int) -> str:
    """Text with blanks after it up to that many columns.

    >>> padded("\u63a5\u5730", 6) + "|"
    '\u63a5\u5730  |'
    """
    return text + " " * (width - columns(text))


def beginning(text: str, most: int) -> str:
    """As much of the text, from its start, as at most that many columns hold."""
    return text[: bisect_right(range(1, len(text) + 1), most, key=lambda count: columns(text[:count]))]


def fitted(text: str, most: int, mark: str = "...") -> str:
    """Text of at most that many columns; where it was cut it ends in the mark.

    >>> fitted("\u63a5\u5730\u7aef\u5b50", 7, "~"), fitted("ground", 6)
    ('\u63a5\u5730\u7aef~', 'ground')
    """
    return text if columns(text) <= most else beginning(text, most - columns(mark)) + mark


def neutral(text: str) -> str:
    """A cell that no spreadsheet takes for a formula; a pure number stays as it is.

    >>> neutral("+5V"), neutral("-0.4"), neutral("=1+1"), neutral("GND")
    ("'+5V", '-0.4', "'=1+1", 'GND')
    """
    return "'" + text if text[:1] in FORMULA_STARTS and not _PURE_NUMBER.match(text) else text


def bare(cell: str) -> str:
    """A cell without blanks around it and without the quote mark that keeps a spreadsheet from reading a formula."""
    cell = cell.strip()
    return cell[1:].strip() if cell.startswith("'") else cell


def delimiter_of(text: str) -> str:
    """What parts the cells of a table, by its first line that is neither empty nor a remark: `,`, `;` or a tab."""
    for line in text.splitlines():
        content = line.strip().strip(DELIMITERS)
        if content and not content.lstrip("\"'").startswith("#"):
            return max(DELIMITERS, key=line.count)
    return DELIMITERS[0]


def natural(text: str) -> list[tuple[int, int, str]]:
    """Sort key that compares the numbers inside a text by value: 2 before 10, A2 before B1."""
    parts = re.findall(r"\d+|\D+", text)
    return [(0, int(part), "") if part.isdecimal() and part.isascii() else (1, 0, part) for part in parts]
