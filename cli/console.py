"""What the commands print: the answer first, plain ASCII, the same on a screen and in a pipe."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from barwright.analysis.cautions import CAUTIONS
from barwright.analysis.errors import WriteError
from barwright.analysis.units import Estimate, Own, between, rough, roughly, said

if TYPE_CHECKING:
    from barwright.analysis.casefile import CaseFile, Input
    from barwright.analysis.judge import Band
    from barwright.analysis.verification import Result

WIDTH = 100


def plain(text: str) -> str:
    """Text of the user with everything a terminal might obey or choke on shown as escapes."""
    return "".join(c if " " <= c <= "~" else f"\\x{ord(c):02x}" for c in text)


def say(text: str = "") -> None:
    """Print to standard output.

    Raises
    ------
    ClosedPipeError
        Nobody reads any more.
    """
    try:
        sys.stdout.write(text + "\n")
        sys.stdout.flush()
    except BrokenPipeError:
        raise ClosedPipeError from None


class ClosedPipeError(WriteError):
    """The reader of our output has left; nothing more can be said to it."""


def note(text: str) -> None:
    """Print to standard error: progress, problems, advice."""
    sys.stderr.write(text + "\n")


def wrapped(text: str, indent: str = "  ", width: int = WIDTH) -> str:
    """Text folded at `width`, every line behind `indent`."""
    import textwrap

    return textwrap.fill(text, width, initial_indent=indent, subsequent_indent=indent)


def table(rows: Iterable[Sequence[str]], indent: str = "  ") -> None:
    """Print rows in columns, each as wide as its widest cell; the last one is not padded."""
    lines = [tuple(row) for row in rows]
    if not lines:
        return
    widths = [max(len(row[k]) for row in lines) for k in range(len(lines[0]) - 1)]
    for row in lines:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
        say(indent + "  ".join([*cells, row[-1]]).rstrip())


def heading(text: str) -> None:
    """Print a heading with a blank line before it."""
    say()
    say(text)


def band(value: Band, kind: str, own: Own) -> str:
    """Range before number, own units first: `12 to 55 um, likely 24 um (0.94 thou)`."""
    likely = roughly(value.likely, kind, own)
    if rough(value.low, kind, own) == rough(value.high, kind, own):
        return likely
    return f"{between(value.low, value.high, kind, own)}, likely {likely}"


def times(value: float) -> str:
    """A margin with two digits; above 100 more says nothing."""
    return "over 100" if value > 100 else f"{float(f'{value:.2g}'):g}"


def margins(value: Band) -> str:
    """Range of a margin, the likely one behind it where it is not an end."""
    low, likely, high = (times(end) for end in (value.low, value.likely, value.high))
    if likely in {low, high}:
        return low if low == high else f"{low} to {high}"
    return f"{low} to {high}, likely {likely}"


def two_digits(value: float) -> float:
    """A value rounded to the two digits that a guess can carry."""
    return float(f"{value:.2g}")


def origins(case_file: CaseFile, *, only_guesses: bool) -> None:
    """Print every input with where it came from."""
    heading("Guessed; a wrong guess moves the answer" if only_guesses else "What I read")
    rows = []
    for entry in case_file.inputs:
        if only_guesses and (entry.origin != "default guess" or entry.range is None):
            continue
        rows.append((entry.name, _shown(entry, case_file.case.own), entry.origin))
    table([row[:2] for row in rows] if only_guesses else rows)
    if only_guesses:
        say("  `barwright check` lists every value with where it came from.")


def _shown(entry: Input, own: Own) -> str:
    """Value of an input in both unit systems with its range; the text as typed for a fit."""
    if isinstance(entry.value, str) or entry.kind in ("", "fit"):
        return plain(str(entry.text or entry.value))
    value = Estimate(entry.value, *entry.range) if entry.range else entry.value
    return said(value, entry.kind, own)


def cautions() -> None:
    """Print the usual cautions."""
    heading("Before the spindle turns")
    for line in CAUTIONS:
        say(wrapped(line))


def materials(tables: Mapping[str, Mapping[str, Any]], *, names_only: bool = False) -> None:
    """Print the shipped tables, each value with its range and source."""
    for name, shipped in tables.items():
        heading(f"{name.capitalize()} materials")
        for metal in shipped.values():
            say(f"  {metal.name}")
            for field, kind in () if names_only else _KINDS.items():
                value = getattr(metal, field, None)
                if value is not None:
                    source = metal.sources.get(field, "")
                    shown = said(value, kind, "mm")
                    say(f"      {field.replace('_', ' '):18} {shown}  [{source}]")


_KINDS = {
    "elastic_modulus": "stress",
    "poisson": "ratio",
    "density": "density",
    "yield_strength": "stress",
    "tensile_strength": "stress",
    "specific_force": "stress",
    "force_exponent": "ratio",
    "normal_force": "stress",
    "normal_exponent": "ratio",
    "process_damping": "stiffness",
    "power_constant": "stress",
    "hss_speed_least": "surface speed",
    "hss_speed_most": "surface speed",
}


def check_row(result: Result) -> dict[str, Any]:
    """One check of `verify` as plain data."""
    check = result.check
    return {
        "id": check.id,
        "what": check.what,
        "kind": check.kind,
        "source": check.source,
        "expected": check.expected,
        "got": result.got,
        "unit": check.unit,
        "difference": result.difference,
        "tolerance": check.tolerance,
        "ok": result.ok,
    }


def checks(results: Sequence[Result], *, count_only: bool = False) -> None:
    """Print every published check: source, expected, got, difference."""
    if not count_only:
        _rows_of_checks(results)
    missed = sum(not result.ok for result in results)
    say(f"{len(results) - missed} of {len(results)} checks agree within their tolerance.")


def _rows_of_checks(results: Sequence[Result]) -> None:
    rows = [("", "id", "kind", "expected", "got", "difference", "allowed", "what; source")]
    for result in results:
        check = result.check
        rows.append(
            (
                "ok" if result.ok else "MISS",
                check.id,
                check.kind,
                f"{check.expected:.8g} {check.unit}",
                f"{result.got:.8g}",
                f"{result.difference:.1e}",
                f"{check.tolerance:.0e}",
                f"{check.what}; {check.source}",
            )
        )
    table(rows)
