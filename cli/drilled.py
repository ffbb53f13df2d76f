"""The case with its cross-hole solved: what every command that solves a case begins with."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from . import console
from .progress import working

if TYPE_CHECKING:
    from barwright.analysis.casefile import CaseFile


class HoleWay(StrEnum):
    """Where the hole's weakening of the bar comes from."""

    SOLVED = "solved"
    TABLE = "table"


HoleOption = Annotated[
    HoleWay,
    typer.Option(
        help="How the hole weakens the bar: solved for this very hole (seconds, once for its "
        "shape), or read from a table of plain holes."
    ),
]


def drilled(case_file: CaseFile, way: HoleWay = HoleWay.SOLVED) -> CaseFile:
    """Return the case with what its own cross-hole gives, unless the table is wanted."""
    if way is HoleWay.TABLE:
        return case_file
    from barwright.analysis.hole_in_beam import block_of, with_block

    with working("solving the hole, once for its shape"):
        case = with_block(case_file.case)
    if block_of(case) is None:
        console.note("the hole itself could not be meshed; its weakening is from the table")
    return replace(case_file, case=case)
