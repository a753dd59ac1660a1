"""Problems with what the user gave us. Only these become one-line messages; a bug keeps its traceback."""

from __future__ import annotations

from dataclasses import dataclass

SHOWN = 20


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong with an input.

    file: name as the user gave it; line: 1-based, 0 when the whole file is meant;
    what: what is wrong and where; remedy: what was expected or the likely fix.

    >>> print(Problem("job.csv", 3, "unknown pin '99'", "hdmi-a has 1..19 and SH"))
    job.csv:3: unknown pin '99': hdmi-a has 1..19 and SH
    """

    file: str
    line: int
    what: str
    remedy: str = ""

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        return f"{place}: {self.what}" + (f": {self.remedy}" if self.remedy else "")


class InputError(Exception):
    """Bad input: every problem found, in the order of the lines."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = sorted(problems, key=lambda p: (p.file, p.line))
        super().__init__("\n".join(self.lines()))

    @classmethod
    def one(cls, file: str, line: int, what: str, remedy: str = "") -> InputError:
        """An error of a single problem."""
        return cls([Problem(file, line, what, remedy)])

    def lines(self) -> list[str]:
        """The messages to show: the first 20 problems, then how many more there are."""
        shown = [str(p) for p in self.problems[:SHOWN]]
        if len(self.problems) > SHOWN:
            shown.append(f"... and {len(self.problems) - SHOWN} more problems")
        return shown
