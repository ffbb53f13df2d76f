"""A table of variants: each row is the case with some of its values changed.

The columns are keys of a case, ``bar.diameter`` or ``passes[0].depth``, with the unit in the
heading, ``cut.depth (mm)``, or in the cell; ``name`` may say what a row is. A cell left empty
leaves the case as it is. A value that the case has as measured gives way to the row's.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from .casefile import WORDS, CaseFile, Source, parse_case
from .errors import CaseError, Problem
from .keys import field_at, kind_of, undotted, value_names
from .shop_table import Column, read_shop_table

NAME = "name"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One variant.

    Attributes
    ----------
    file, line : where it stands
    name : what the table calls it, or its number
    changed : texts by dotted key of the case
    """

    file: str
    line: int
    name: str
    changed: Mapping[str, str]

    @property
    def place(self) -> str:
        """Where it stands, as messages say it."""
        return f"{self.file}:{self.line}"


@dataclass(frozen=True, slots=True, kw_only=True)
class VariantTable:
    """What a file of variants says.

    Attributes
    ----------
    keys : that some row changes, in the order of a case
    """

    source: Source
    keys: tuple[str, ...]
    rows: tuple[Row, ...]


def read_variants(path: str | Path, of: CaseFile) -> VariantTable:
    """Variants of a case in a file.

    Raises
    ------
    CaseError
        With every column that the case does not have.
    """
    columns = tuple(_columns(of))
    table = read_shop_table(path, columns)
    rows = []
    for number, (line, cells) in enumerate(zip(table.lines, table.rows, strict=True), start=1):
        texts = {key: str(cell) for key, cell in cells.items()}
        name = texts.pop(NAME, str(number))
        rows.append(Row(file=table.source.file, line=line, name=name, changed=texts))
    changed = {key for row in rows for key in row.changed}
    keys = tuple(column.name for column in columns if column.name in changed)
    return VariantTable(source=table.source, keys=keys, rows=tuple(rows))


def varied(of: CaseFile, row: Row) -> CaseFile:
    """The case with a row's values in place.

    Raises
    ------
    CaseError
        With every problem of it, at the row's place.
    """
    try:
        return parse_case(of.source, row.changed)
    except CaseError as error:
        at_row = (Problem(row.file, row.line, one.key, one.message) for one in error.problems)
        raise CaseError(tuple(at_row)) from None


def kind_at(key: str) -> str:
    """Kind of quantity that a column holds; empty for a word."""
    field = field_at(undotted(key))
    return kind_of(field) if field else ""


def _columns(of: CaseFile) -> Iterator[Column]:
    """Every key that a row may change: those of any case, and those in this case's lists."""
    yield _column(NAME, "variant")
    in_lists = (one.name for one in of.inputs if "[" in one.name and one.kind)
    for key in dict.fromkeys((*WORDS, *value_names(), *in_lists)):
        yield _column(key, key.replace("_", " "))


def _column(name: str, spaced: str) -> Column:
    return Column(name, also=(spaced,), as_text=True)
