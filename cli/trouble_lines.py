"""What `trouble` prints, and the checks before cutting that `run` prints."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from barwright.analysis.setup_checks import said
from barwright.analysis.units import Own

from .console import heading, plain, say, table, wrapped

if TYPE_CHECKING:
    from barwright.analysis.marks import Marks, Singer
    from barwright.analysis.trouble import Cause, Trouble

STANDING = {
    "likely": "look here first",
    "open": "no number decides",
    "unlikely": "not likely here",
    "ruled out": "not this",
}


def checks(rows: Sequence[Mapping[str, Any]], own: Own) -> None:
    """Print what to check before cutting, the limits first, from the record of a run."""
    heading("Check before cutting")
    table((f"{row['sense']} {said(row['limit'], row['kind'], own)}", row["what"]) for row in rows)
    say("  How to look, and why each limit: `setup_checks` in summary.json.")


def listed(troubles: Sequence[Trouble], case: str) -> None:
    """Print every symptom with where to look and what to try first."""
    say("What goes wrong, where to look first, and what to try first, in this set-up:")
    for one in troubles:
        say()
        say(f"  {one.symptom}")
        say(wrapped(f"look: {one.causes[0].cause}", "      "))
        say(wrapped(f"try: {_try(one.tries[0].do, one.tries[0].gain)}", "      "))
    say()
    say(wrapped(f'One of them in full: barwright trouble {plain(case)} "{troubles[0].symptom}"'))


def one(trouble: Trouble, *, quiet: bool = False) -> None:
    """Print one symptom: its causes, how to prove each, and the tries, both in order."""
    say(f"{trouble.symptom[0].upper()}{trouble.symptom[1:]}: look at these, in this order")
    for number, cause in enumerate(trouble.causes, start=1):
        _cause(number, cause, quiet=quiet)
    heading("Try these, in this order")
    for number, tried in enumerate(trouble.tries, start=1):
        say(wrapped_after(f"  {number:2}. ", _try(tried.do, tried.gain)))
    if quiet:
        return
    say()
    say(
        wrapped(
            "Gains are over this set-up at the likely values; a gain is far better known than a "
            "margin. The causes and tries without a number, and their order, are common practice."
        )
    )


def _cause(number: int, cause: Cause, *, quiet: bool) -> None:
    mark = f" [{STANDING[cause.standing]}]" if cause.standing != "open" else ""
    say(wrapped_after(f"  {number:2}. ", f"{cause.cause}{mark}"))
    if quiet:
        return
    say(wrapped(f"{plain(cause.why[0].upper() + cause.why[1:])}.", "      "))
    if cause.standing != "ruled out":
        say(wrapped(f"To prove it: {cause.prove}.", "      "))


def _try(do: str, gain: str) -> str:
    return f"{do}; {gain}" if gain else do


def wrapped_after(first: str, text: str) -> str:
    """Text folded behind a number, its later lines under its first word."""
    folded = wrapped(text, " " * len(first))
    return first + folded[len(first) :]


def marks(found: Marks, *, quiet: bool = False) -> None:
    """Print the pitch of the marks and which part lies nearest."""
    fitting = found.fitting
    say(
        f"{found.count:.0f} marks round the bore at {found.speed * 60:.4g} rpm: "
        f"{found.low:.0f} to {found.high:.0f} Hz, likely {found.frequency:.0f} Hz"
    )
    if not fitting:
        near = found.singers[0]
        say(
            wrapped(
                f"Nothing in the case sings there; the nearest is {plain(near.name)} at "
                f"{near.frequency:.0f} Hz. Count the marks again, and the turns with a watch "
                "(--rpm); or something that the case does not know sings: casting, compound, dog."
            )
        )
    elif len(fitting) == 1:
        say(wrapped(f"That is {plain(fitting[0].name)}: nothing else in the case sings there."))
    else:
        names = ", ".join(plain(one.name) for one in fitting[1:])
        say(wrapped(f"Nearest is {plain(fitting[0].name)}; it could also be {names}."))
    if quiet:
        return
    heading("Parts that could sing, as the bit would feel them (Hz)")
    rows = [("", "likely", "over what was guessed", "part")]
    table([*rows, *(_singer(one) for one in found.singers)])
    say(
        wrapped(
            "A tap on each part, spindle stopped, tells two that both fit apart: hold a hand on "
            "it and the one that sang goes dead."
        )
    )


def _singer(one: Singer) -> tuple[str, str, str, str]:
    ends = f"{max(one.low, 0):.0f} to {one.high:.0f}"
    return ("fits" if one.fits else "", f"{one.frequency:.0f}", ends, plain(one.name))
