"""A finished results folder read back, with nothing solved again: what pictures are drawn from."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import floor, inf, log10, nan
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from .case import Case
from .casefile import printable, read_case_file
from .errors import CaseError, Problem
from .units import Own, show, stock_size

THOU = 25.4
"""One thousandth of an inch, um."""
CURVES = (
    "loop.csv",
    "lobes.csv",
    "nose.csv",
    "lead.csv",
    "passes.csv",
    "history.csv",
    "bore.csv",
)


@dataclass(frozen=True, slots=True)
class ModeLine:
    """One line of `modes.csv`: number, frequency in Hz, plane."""

    number: int
    frequency: float
    plane: str


@dataclass(frozen=True, slots=True)
class ShakeLine:
    """One line of `shakes.csv`: what shakes, how often per turn (None: its own pitch), Hz."""

    source: str
    order: float | None
    frequency: float
    mode: float
    separation: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Finished:
    """What a run left behind.

    Attributes
    ----------
    folder : where it is
    case : the case that was run
    system : the units it was written in
    summary : `summary.json`
    deflection : columns of `deflection.csv` by name, in the units of the file (mm, um, urad)
    curves : columns of each of `CURVES` that is there, by file and name; `none` is inf
    modes, shakes : lines of `modes.csv` and `shakes.csv`
    plan : `plan.json`; empty where the case was not planned from a job
    """

    folder: Path
    case: Case
    system: Own
    summary: Mapping[str, Any]
    deflection: Mapping[str, NDArray[np.float64]]
    curves: Mapping[str, Mapping[str, NDArray[np.float64]]]
    modes: tuple[ModeLine, ...]
    shakes: tuple[ShakeLine, ...]
    plan: Mapping[str, Any]

    def say(self, value: float, kind: str = "length") -> str:
        """A quantity in the case's own units, the other system in brackets."""
        return said(value, self.system, kind)

    def stock(self, value: float) -> str:
        """A length as steel is bought and set out, in the case's own units first."""
        return stock_size(value, self.system)

    def measured(self, value: float) -> str:
        """A size to be measured, in both systems to the last digit that a micrometer shows."""
        metric, inch = show(value, "length", "mm"), show(value, "length", "inch")
        return f"{metric} ({inch})" if self.system == "mm" else f"{inch} ({metric})"

    @property
    def last_pass(self) -> Mapping[str, float]:
        """The last planned pass by column of `passes.csv`, in its units; empty if none is."""
        table = self.curves.get("passes.csv", {})
        return {name: float(column[-1]) for name, column in table.items()}

    def movement(self, value: float) -> str:
        """A movement in um, said in um and thou, the case's own first."""
        metric, inch = f"{three_digits(value)} um", f"{three_digits(value / THOU)} thou"
        return f"{metric} ({inch})" if self.system == "mm" else f"{inch} ({metric})"


def three_digits(value: float) -> str:
    """Three significant digits, never as a power of ten.

    Examples
    --------
    >>> three_digits(-12.345), three_digits(0.04567), three_digits(1234.0)
    ('-12.3', '0.0457', '1234')
    """
    if abs(value) < 1e-6:
        return "0"
    return f"{value:.{max(0, 2 - floor(log10(abs(value))))}f}"


def said(value: float, system: Own, kind: str = "length") -> str:
    """A quantity in one system of units, the other in brackets where it differs.

    Inches that come of millimetres have three decimals, and below a tenth are thou.

    Examples
    --------
    >>> said(0.03175, "inch"), said(0.38, "mm"), said(2.0, "mm", "spindle speed")
    ('1.250 in (31.75 mm)', '380 mm (14.961 in)', '120 rpm')
    >>> said(0.0002, "mm")
    '0.2 mm (7.87 thou)'
    """
    own = show(value, kind, system)
    other = show(value, kind, "inch" if system == "mm" else "mm")
    if kind == "length" and system == "mm":
        inches = value / 0.0254
        short_of = abs(inches) < 0.1
        other = f"{three_digits(1e3 * inches)} thou" if short_of else f"{inches:.3f} in"
    return own if own == other else f"{own} ({other})"


def bar_pieces(case: Case) -> list[tuple[float, float, float]]:
    """Start, end and diameter, m, of each length of the bar between its steps."""
    first, last = case.ends
    cuts = {first, last}
    for step in case.bar.steps:
        cuts |= {min(max(step.start, first), last), min(max(step.end, first), last)}
    return [
        (start, end, case.bar_diameter((start + end) / 2)) for start, end in pairwise(sorted(cuts))
    ]


def start_radius(case: Case) -> float:
    """Radius of the bore before any pass, m; the finished one less the depth if not given."""
    if case.old_bore is not None:
        return case.old_bore / 2
    return max(case.work.bore.nominal / 2 - case.cut.depth, 0.0)


def plane_words(plane: str) -> str:
    """Say how a mode moves.

    Examples
    --------
    >>> plane_words("bit")
    'bends in the bit plane'
    """
    return {
        "bit": "bends in the bit plane",
        "across": "bends across the bit",
        "torsion": "turns and twists",
        "axial": "moves endways",
    }.get(plane, plane)


def read_finished(folder: Path) -> Finished:
    """Read what a run left in `folder`; a table that is not there is empty.

    Raises
    ------
    CaseError
        A file is not as a run leaves it.
    """
    case_file = read_case_file(folder / "case.yaml")
    return Finished(
        folder=folder,
        case=case_file.case,
        system=case_file.case.own,
        summary=_whole(_json, folder / "summary.json"),
        deflection=_whole(_columns, folder / "deflection.csv"),
        curves={n: _whole(_curve, folder / n) for n in CURVES if (folder / n).exists()},
        modes=_whole(_modes, folder / "modes.csv"),
        shakes=_whole(_shakes, folder / "shakes.csv"),
        plan=_whole(_json, folder / "plan.json") if (folder / "plan.json").exists() else {},
    )


_Read = TypeVar("_Read")


def _whole(read: Callable[[Path], _Read], path: Path) -> _Read:
    """What a file of the folder says, refused with its name where a run did not leave it so."""
    try:
        return read(path)
    except (
        OSError,
        ValueError,
        LookupError,
        TypeError,
        ArithmeticError,
        RecursionError,
        csv.Error,
    ) as error:
        why = f"{type(error).__name__}: {error}"[:100]
        message = f"this is not as a run leaves it ({printable(why)}); run the case again"
        raise CaseError((Problem(printable(str(path)), 0, "", message),)) from None


def _json(path: Path) -> Mapping[str, Any]:
    """What a file of JSON holds."""
    found = json.loads(path.read_text(encoding="utf-8"))
    if not isinstance(found, dict):
        message = "no keys"
        raise TypeError(message)
    return found


def _rows(path: Path) -> list[dict[str, str]]:
    """Rows of a table by column, without its row of units."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file, strict=True))[1:]
    if any(None in row or None in row.values() for row in found):
        message = "a row has more or fewer cells than the heading"
        raise ValueError(message)
    return found


def _modes(path: Path) -> tuple[ModeLine, ...]:
    return tuple(
        ModeLine(int(float(row["number"])), float(row["frequency"]), row["plane"])
        for row in _rows(path)
    )


def _shakes(path: Path) -> tuple[ShakeLine, ...]:
    return tuple(
        ShakeLine(
            row["source"],
            _number(row["order"]),
            float(row["frequency"]),
            float(row["mode"]),
            float(row["separation"]),
        )
        for row in _rows(path)
    )


def _columns(path: Path) -> dict[str, NDArray[np.float64]]:
    """Columns of a table of numbers; a column with a gap in it is left out."""
    rows = _rows(path)
    names = rows[0] if rows else {}
    return {
        name: np.array([float(row[name]) for row in rows])
        for name in names
        if all(_number(row[name]) is not None for row in rows)
    }


def _curve(path: Path) -> dict[str, NDArray[np.float64]]:
    """Columns of a table of numbers, in which `none` stands for no limit, a gap for not known."""
    rows = _rows(path)
    names = rows[0] if rows else {}
    return {name: np.array([_limit(row[name]) for row in rows]) for name in names}


def _limit(text: str) -> float:
    """A number, `none` being no limit and a gap being not known."""
    return inf if text == "none" else float(text or nan)


def _number(text: str | None) -> float | None:
    """A number, or None where there is none."""
    try:
        return float(text or "")
    except ValueError:
        return None
