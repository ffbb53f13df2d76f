"""What can go wrong, in the words of the shop.

::

    BarwrightError
    ├── CaseError      the case file is wrong: exit 2, every problem of the file at once
    ├── ModelError     the bar cannot be analysed as described (free to move): exit 2
    ├── SolveError     the numbers did not come out, or cannot be trusted: exit 3
    ├── CreateError    a results folder cannot be made: exit 73
    └── WriteError     a result cannot be written (disk full, read-only): exit 74

An error hands all its parts to ``super().__init__``, so that it comes back whole from a
worker process.
"""

from __future__ import annotations

from dataclasses import dataclass


class BarwrightError(Exception):
    """Anything that barwright can put into a sentence."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a case file: place, what is there, what would be right.

    Attributes
    ----------
    text : the line of the file, safe to print; empty where there is none to show
    column, width : letters of it that are wrong
    """

    file: str
    line: int
    key: str
    message: str
    text: str = ""
    column: int = 0
    width: int = 0

    def __str__(self) -> str:
        return f"{self.place}: {self.said}"

    @property
    def place(self) -> str:
        """File and line."""
        return f"{self.file}:{self.line}" if self.line else self.file

    @property
    def shown(self) -> str:
        """The line of the file with carets under what is wrong in it; empty without a line."""
        if not self.text:
            return ""
        before = f"{self.line:>6} | "
        carets = " " * (len(before) + self.column) + "^" * self.width
        return f"{before}{self.text}\n{carets}"

    @property
    def said(self) -> str:
        """What is wrong, without the place."""
        return f"{self.key}: {self.message}" if self.key else self.message


class CaseError(BarwrightError):
    """The case file is wrong; carries every problem found in it."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__(problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)

    def with_lines(self) -> str:
        """Every problem, with the line of the file it is in and what is wrong there marked."""
        every = ((str(problem), problem.shown) for problem in self.problems)
        return "\n".join("\n".join(filter(None, one)) for one in every)


class ModelError(BarwrightError):
    """The bar cannot be analysed as it is described."""


class SolveError(BarwrightError):
    """The numbers did not come out, or cannot be trusted."""


class CreateError(BarwrightError):
    """A folder or file cannot be made where it was asked for."""


class WriteError(BarwrightError):
    """A result cannot be written."""
