"""Run-out readings as the shop writes them down, and as a case has them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from pydantic import ValidationError

from .bar import RunOut, RunOutReading
from .case import Case, conflicts
from .errors import CaseError, Problem
from .shop_table import Column, ShopTable, read_shop_table
from .units import Own, show

COLUMNS = (
    Column("at", "length", ("place", "station", "read at"), needed=True),
    Column("reading", "length", ("run out", "tir", "swing"), needed=True),
    Column("high at", "angle", ("high spot",)),
)
SETTINGS = (Column("indicator", "length", ("resolution", "division")),)


def read_run_out(path: str | Path) -> RunOut:
    """Indicator readings along the bar, in a file.

    Raises
    ------
    CaseError
        A column, a unit or a value is wrong.
    """
    table = read_shop_table(path, COLUMNS, SETTINGS)
    readings = tuple(_reading(table, number) for number in range(len(table.rows)))
    if "indicator" not in table.settings:
        return RunOut(readings=readings)
    try:
        return RunOut(readings=readings, indicator=float(table.settings["indicator"]))
    except ValidationError as error:
        message = error.errors()[0]["msg"]
        raise CaseError((Problem(table.source.file, 1, "indicator", message),)) from None


def _reading(table: ShopTable, number: int) -> RunOutReading:
    """One reading, held within what a case takes."""
    row = table.rows[number]
    if float(row["reading"]) < 0:
        message = "the full swing of an indicator is not below 0; write high less low"
        raise table.refused(number, "reading", message)
    try:
        return RunOutReading(
            at=float(row["at"]),
            reading=float(row["reading"]),
            high_at=float(row["high at"]) if "high at" in row else None,
        )
    except ValidationError as error:
        fault = error.errors()[0]
        column = str(fault["loc"][0]).replace("_", " ")
        raise table.refused(number, column, fault["msg"]) from None


def with_readings(case: Case, found: RunOut, path: str | Path) -> Case:
    """The case with these readings of its bar.

    Raises
    ------
    CaseError
        They do not go with the bar, or with one another.
    """
    bar = case.bar.model_copy(update={"run_out": found})
    read = case.model_copy(update={"bar": bar})
    wrong = tuple(
        Problem(str(path), 0, _place(one.key[3:]), one.message)
        for one in conflicts(read)
        if one.key[:2] == ("bar", "run_out")
    )
    if wrong:
        raise CaseError(wrong)
    return read


def _place(key: tuple[str | int, ...]) -> str:
    """Which reading, counted as in its file, and what of it."""
    return ": ".join(f"reading {part + 1}" if isinstance(part, int) else part for part in key)


def run_out_lines(found: RunOut, system: Own) -> Iterator[str]:
    """The readings as lines of a case file, to stand under ``bar:``.

    A division that nobody gave stays the guess that it is.
    """
    yield "run_out:"
    if "indicator" in found.model_fields_set:
        yield f"  indicator: {show(float(found.indicator), 'length', system)}"
    yield "  readings:"
    for one in found.readings:
        at, reading = show(one.at, "length", system), show(one.reading, "length", system)
        spot = "" if one.high_at is None else f", high_at: {show(one.high_at, 'angle', system)}"
        yield f"    - {{at: {at}, reading: {reading}{spot}}}"
