"""A table of readings as the shop writes it down: separated by comma, semicolon or tab.

Above the heading may stand settings, one a line (``resolution: 0.25 thou``). What follows a ``#``
is a remark. Units stand in the heading, ``pull (lbf)``, or in the cell itself.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import NamedTuple

from .casefile import Source, printable, read_source
from .errors import CaseError, Problem
from .units import EXAMPLES, UnitError, parse_quantity, quoted

MOST_ROWS = 10_000
_UNIT_BEHIND = re.compile(r"(.*?)[\[(]([^)\]]*)[)\]]\s*")


class Column(NamedTuple):
    """One column of a table, or one setting above it.

    Attributes
    ----------
    name : what messages call it
    kind : kind of quantity, see `units.EXAMPLES`; empty for a word
    also : other names it goes by
    needed : whether the table is of no use without it
    words : what a word may be, each with its meaning
    as_text : whether a cell stays as it was typed, the heading's unit behind a bare number
    """

    name: str
    kind: str = ""
    also: tuple[str, ...] = ()
    needed: bool = False
    words: Mapping[str, str] = {}
    as_text: bool = False


Cell = float | str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopTable:
    """What a file of readings says.

    Attributes
    ----------
    source : the file
    settings : by name, in SI
    rows : each by column, in SI; what is left empty is left out
    lines : line of each row in the file
    """

    source: Source
    settings: Mapping[str, Cell]
    rows: tuple[Mapping[str, Cell], ...]
    lines: tuple[int, ...]

    def refused(self, row: int, column: str, message: str) -> CaseError:
        """Error at a row of the table, to be raised."""
        return CaseError((Problem(self.source.file, self.lines[row], column, message),))


def read_shop_table(
    path: str | Path, columns: Sequence[Column], settings: Sequence[Column] = ()
) -> ShopTable:
    """Readings in a file.

    Raises
    ------
    CaseError
        With every problem of the file: its line, its column, and what would be right.
    """
    source = read_source(path)
    return _Reader(source, columns, settings).table()


@dataclass(slots=True)
class _Reader:
    source: Source
    columns: Sequence[Column]
    settings: Sequence[Column]
    problems: list[Problem] = field(default_factory=list)

    def table(self) -> ShopTable:
        lines = self._lines()
        top = next((n for n, (_, cells) in enumerate(lines) if self._is_heading(cells)), None)
        if top is None:
            self._refuse(0, "", f"no heading was found; write one such as {self._heading()}")
        said = {} if top is None else self._settings(lines[:top])
        heading = [] if top is None else self._columns(*lines[top])
        below = [] if top is None else lines[top + 1 :]
        rows = [(line, self._row(line, cells, heading)) for line, cells in below]
        if not rows and not self.problems:
            self._refuse(0, "", "there is no reading below the heading; write one a line")
        if self.problems:
            raise CaseError(tuple(self.problems[:20]))
        return ShopTable(
            source=self.source,
            settings=said,
            rows=tuple(row for _, row in rows),
            lines=tuple(line for line, _ in rows),
        )

    def _lines(self) -> list[tuple[int, list[str]]]:
        """Line number and cells of every line that says something."""
        texts = [text.partition("#")[0] for text in self.source.text.splitlines()]
        if len(texts) > MOST_ROWS:
            self._refuse(0, "", f"more than {MOST_ROWS} lines; give one test a file")
        said = [
            (n, text) for n, text in enumerate(texts[:MOST_ROWS], start=1) if text.strip(" \t,;")
        ]
        mark = max(";\t,", key=lambda m: sum(text.count(m) for _, text in said))
        return [
            (n, [cell.strip() for cell in next(csv.reader([text], delimiter=mark), [])])
            for n, text in said
        ]

    def _is_heading(self, cells: Sequence[str]) -> bool:
        """Whether a line has a column's name among its cells, and no number."""
        named = any(self._named(_split(cell)[0], self.columns) for cell in cells)
        return named and len(cells) > 1 and not any(re.match(r"[-+.]?[0-9]", c) for c in cells)

    def _named(self, name: str, among: Sequence[Column]) -> Column | None:
        return next((one for one in among if name in (one.name, *one.also)), None)

    def _settings(self, lines: Sequence[tuple[int, list[str]]]) -> dict[str, Cell]:
        said: dict[str, Cell] = {}
        for line, cells in lines:
            name, _, value = ",".join(cell for cell in cells if cell).partition(":")
            if not value:
                name, _, value = name.partition(",")
            known = self._named(_split(name)[0], self.settings)
            if known is None:
                self._refuse(line, printable(name), self._unknown(_split(name)[0], self.settings))
            else:
                found = self._cell(line, known, value.strip(), _split(name)[1])
                if found is not None:
                    said[known.name] = found
        return said

    def _columns(self, line: int, cells: Sequence[str]) -> list[tuple[Column, str] | None]:
        found: list[tuple[Column, str] | None] = []
        for cell in cells:
            name, unit = _split(cell)
            column = self._named(name, self.columns)
            if column is None and cell:
                self._refuse(line, printable(cell), self._unknown(name, self.columns))
            elif column is not None and any(one and one[0] is column for one in found):
                self._refuse(line, column.name, "this column is there twice; keep one")
            found.append((column, unit) if column else None)
        for column in self.columns:
            if column.needed and not any(one and one[0] is column for one in found):
                such = f" such as {_example(column)}"
                self._refuse(line, column.name, f"this column is missing; add one{such}")
        return found

    def _row(
        self, line: int, cells: Sequence[str], heading: Sequence[tuple[Column, str] | None]
    ) -> dict[str, Cell]:
        if len(cells) > len(heading) and any(cells[len(heading) :]):
            message = (
                f"this row has {len(cells)} cells where the heading has {len(heading)}; with "
                "decimal commas separate the columns by semicolons"
            )
            self._refuse(line, "", message)
            return {}
        row: dict[str, Cell] = {}
        for place, cell in zip(heading, cells, strict=False):
            if place is None or not cell:
                continue
            found = self._cell(line, place[0], cell, place[1])
            if found is not None:
                row[place[0].name] = found
        for one in heading:
            if one and one[0].needed and one[0].name not in row and not self._told(line):
                message = f"nothing is written here; write one such as {_example(one[0])}"
                self._refuse(line, one[0].name, message)
        return row

    def _told(self, line: int) -> bool:
        return any(problem.line == line for problem in self.problems)

    def _cell(self, line: int, column: Column, text: str, unit: str) -> Cell | None:
        """Value of one cell in SI; a problem is noted and nothing given."""
        typed = text if re.search(r"[a-zA-Z%\"]", text) else f"{text} {unit}".strip()
        if column.as_text:
            return typed
        if not column.kind:
            return self._word(line, column, text)
        try:
            return float(parse_quantity(typed, column.kind))
        except UnitError as error:
            hint = "" if unit or typed != text else f" (or in the heading: {_example(column)})"
            self._refuse(line, column.name, f"{error}{hint}")
            return None

    def _word(self, line: int, column: Column, text: str) -> str | None:
        found = column.words.get(text.lower().strip())
        if found is None and column.words:
            known = ", ".join(dict.fromkeys(column.words))
            self._refuse(
                line, column.name, f"{quoted(text)} is none of {known}; write one of them"
            )
        return found

    def _unknown(self, name: str, among: Sequence[Column]) -> str:
        names = [name for one in among for name in (one.name, *one.also)]
        close = get_close_matches(name[:60], names, n=1, cutoff=0.7)
        what = "column" if among is self.columns else "setting"
        hint = (
            f"did you mean {close[0]}?" if close else f"known: {', '.join(c.name for c in among)}"
        )
        return f"this {what} is not known; {hint}"

    def _heading(self) -> str:
        return ", ".join(_example(column) for column in self.columns if column.needed)

    def _refuse(self, line: int, column: str, message: str) -> None:
        self.problems.append(Problem(self.source.file, line, column, printable_message(message)))


def printable_message(text: str) -> str:
    """Message safe on any console, however long."""
    return quoted(text, 400)[1:-1]


def _split(cell: str) -> tuple[str, str]:
    """Name and unit of a heading: ``Pull (lbf)`` is ``pull`` and ``lbf``."""
    behind = _UNIT_BEHIND.fullmatch(cell)
    name, unit = (behind[1], behind[2]) if behind else (cell, "")
    return " ".join(re.sub(r"[_-]", " ", name).lower().split()), unit.strip()


def _example(column: Column) -> str:
    """How a heading would name a column with its unit."""
    if not column.kind:
        return column.name
    unit = EXAMPLES[column.kind].split(", ")[0].lstrip("0123456789-/. ")
    return f"{column.name} ({unit})"
