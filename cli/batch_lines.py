"""What came of many cases or variants, and what is printed of them: counts first, then rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from barwright.analysis.errors import BarwrightError, CaseError

from . import console
from .options import BUG, CANNOT_WRITE, OK, OUTSIDE, fault, status_of

if TYPE_CHECKING:
    from barwright.analysis.casefile import CaseFile
    from barwright.analysis.crew import Died
    from barwright.analysis.run import Outcome

_HEADING = ("", "bore off by spring", "first mode", "gain margin (1 just sings)", "verdict")
MOST_PLACES = 8
"""Places named of one cause; the rest are counted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """A case that was analysed.

    Attributes
    ----------
    cells : what its row of the table says
    missing : a line on each thing that could not be drawn or printed
    """

    name: str
    status: int
    summary: dict[str, Any]
    cells: tuple[str, ...]
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Failed:
    """A case that was not.

    Attributes
    ----------
    causes : place and cause of everything that was wrong
    """

    name: str
    status: int
    causes: tuple[tuple[str, str], ...]
    missing: tuple[str, ...] = ()

    @property
    def said(self) -> list[str]:
        """What was wrong, without the places."""
        return [cause for _, cause in self.causes]

    @property
    def summary(self) -> dict[str, Any]:
        """What `--json` says of it."""
        problems = [f"{place}: {cause}" for place, cause in self.causes]
        return {"case": {"file": self.name}, "problems": problems, "status": self.status}


def answered(
    name: str,
    case_file: CaseFile,
    outcome: Outcome,
    summary: dict[str, Any],
    missing: tuple[str, ...] = (),
) -> Answered:
    """What is said of an analysed case."""
    from barwright.analysis.judge import Band

    from .run_lines import verdict

    own = case_file.case.own
    margin = outcome.chatter.margin
    return Answered(
        name=name,
        status=OK if outcome.within_limits else OUTSIDE,
        summary=summary,
        cells=(
            console.band(outcome.size_error, "length", own),
            f"{outcome.first_mode.likely:.0f} Hz",
            console.margins(Band(low=margin["low"], likely=margin["likely"], high=margin["high"])),
            verdict(outcome).lower(),
        ),
        missing=missing,
    )


def failed(name: str, error: Exception) -> Failed:
    """What is said of a case that an error ended."""
    if isinstance(error, CaseError):
        causes = tuple((one.place, one.said) for one in error.problems)
        return Failed(name=name, status=status_of(error), causes=causes)
    if isinstance(error, BarwrightError):
        return Failed(name=name, status=status_of(error), causes=((name, str(error)),))
    if isinstance(error, OSError):
        cause = f"cannot write: {error.strerror or error}"
        return Failed(name=name, status=CANNOT_WRITE, causes=((name, cause),))
    return Failed(name=name, status=BUG, causes=((name, fault(error)),))


def dead(name: str, death: Died) -> Failed:
    """What is said of a case whose process died."""
    cause = f"the process that worked on it died ({death.how}); run it again by itself"
    return Failed(name=name, status=BUG, causes=((name, cause),))


def answer(rows: Sequence[Answered | Failed], noun: str) -> None:
    """Print how many there are of each outcome."""
    within = sum(row.status == OK for row in rows)
    outside = sum(row.status == OUTSIDE for row in rows)
    lost = len(rows) - within - outside
    parts = [f"{within} within limits", f"{outside} outside", f"{lost} without an answer"]
    console.say(f"{len(rows)} {noun}s: {', '.join(parts if lost else parts[:2])}.")


def details(rows: Sequence[Answered | Failed]) -> None:
    """Print a row for each that has an answer."""
    shown = [(console.plain(row.name), *row.cells) for row in rows if isinstance(row, Answered)]
    if shown:
        console.say()
        console.table([_HEADING, *shown])


def failures(rows: Sequence[Answered | Failed]) -> None:
    """Say what went wrong, each cause once with the places it was found at."""
    places: dict[str, list[str]] = {}
    for row in rows:
        for place, cause in row.causes if isinstance(row, Failed) else ():
            places.setdefault(cause, []).append(place)
    for cause, found in places.items():
        console.note(cause)
        for place in found[:MOST_PLACES]:
            console.note(f"  {place}")
        if len(found) > MOST_PLACES:
            console.note(f"  and {len(found) - MOST_PLACES} more")
