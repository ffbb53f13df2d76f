"""What `run` prints of the bar by itself: its sag, its balance, its run-out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from barwright.analysis.balance import USUAL, reached
from barwright.analysis.judge import Band
from barwright.analysis.run_out import meaning
from barwright.analysis.units import Own, rough, roughly, said

from .console import band, heading, say, table, two_digits, wrapped

if TYPE_CHECKING:
    from barwright.analysis.balance import Balance, Turning
    from barwright.analysis.case import Case
    from barwright.analysis.passes import PassPlan
    from barwright.analysis.run import Outcome
    from barwright.analysis.run_out import Pattern


def details(outcome: Outcome, own: Own) -> None:
    """Print sag, balance and run-out."""
    heading("Bar behaviour")
    sag = roughly(outcome.statics.sag, "length", own)
    say(wrapped(f"Sag at the bit {sag}: it moves the line of the bore, not its size."))
    _balance(outcome.balance, own)
    _run_out(outcome.case, outcome.run_out, outcome.passes, own)


# --- balance ---------------------------------------------------------------------------------


def _balance(balance: Balance, own: Own) -> None:
    say(wrapped(f"Off balance by {_moment(balance.unbalance, own)}: {_made_of(balance, own)}."))
    rows = [("at", "it pulls with", "and moves the bit by", "ISO 21940-11 grade")]
    rows += [_row(one, own) for one in balance.turning]
    table(rows)
    say(wrapped(_meaning(balance)))


def _moment(unbalance: Band, own: Own) -> str:
    """Unbalance, the band first."""
    low, likely, high = (
        rough(one, "unbalance", own) for one in (unbalance.low, unbalance.likely, unbalance.high)
    )
    return low if low == high else f"{low.split()[0]} to {high}, likely {likely.split()[0]}"


def _made_of(balance: Balance, own: Own) -> str:
    found = [(one.name, one.size, rough(one.size, "unbalance", own)) for one in balance.parts]
    found += [(one.name, one.size.high, _moment(one.size, own)) for one in balance.anyway]
    least = 0.01 * max((size for _, size, _ in found), default=0.0)
    kept = sorted((one for one in found if one[1] > least), key=lambda one: -one[1])
    named = ", ".join(f"{name} {text}" for name, _, text in kept)
    return named + " (the dog any way round)" if any(n == "dog" for n, *_ in kept) else named


def _row(turning: Turning, own: Own) -> tuple[str, str, str, str]:
    grade = reached(turning.grade.high)
    return (
        f"{turning.spindle_speed * 60:.0f} rpm",
        rough(turning.pull.high, "force", own) + " at most",
        rough(turning.movement.high, "length", own) + " at most",
        "coarser than G4000" if grade is None else f"within G{grade:g}",
    )


def _meaning(balance: Balance) -> str:
    slow = balance.turning[0]
    share = slow.pull.high / balance.push if balance.push > 0 else 0.0
    usual = " and ".join(f"G{grade:g} {words}" for grade, words in USUAL.items())
    scale = (
        f"At the cut's speed the pull is at most {two_digits(100 * share):g} % of the cut's push "
        "across the bar"
    )
    if share < 0.1:
        scale += ", so balance does not matter here"
    return (
        f"{scale}; it turns with the bit, so it changes size and never shape. For comparison: "
        f"{usual} (from memory). The chuck's own unbalance is not in it."
    )


# --- run-out ---------------------------------------------------------------------------------


def _run_out(case: Case, pattern: Pattern | None, plan: PassPlan, own: Own) -> None:
    if pattern is None:
        say(
            wrapped(
                "Run-out: none was read, so the bar is taken to run true. Five indicator readings "
                "along the bar, under bar: run_out, tell bent from cocked and correct the size."
            )
        )
        return
    found = [f"{one.name} {said(one.swing, 'length', own)}" for one in pattern.faults]
    found += [] if pattern.told else [pattern.name]
    line = "; ".join([*([", ".join(found)] if found else []), meaning(pattern)])
    say(wrapped(f"Run-out (full swing of the indicator): {line}."))
    swing = band(pattern.swing_at_bit, "length", own)
    say(wrapped(f"At the bit {swing}. {_on_size(pattern, plan, own)}"))
    if case.supports.tail is not None and pattern.gripped:
        say(
            wrapped(
                "Run-out turns with the bar, so it does not tire it. A tail off the "
                f"{case.supports.drive.kind}'s line does, and no indicator on a turning bar shows "
                "it: watch the bar's end move as the tail is brought up, and write that as "
                "tail_offset."
            )
        )


def _on_size(pattern: Pattern, plan: PassPlan, own: Own) -> str:
    along = pattern.along_bit
    last = (
        " The last pass, set from the measured bore, takes it out."
        if plan.last_is_measured
        else ""
    )
    if not pattern.angled:
        most = rough(2 * along.high, "length", own)
        return (
            f"Where the high spot lies is not known, so a bore set by micrometer comes out up to "
            f"{most} large or small; give high_at to correct it.{last}"
        )
    along = Band.of(*(2 * end for end in (along.likely, along.low, along.high)))
    return (
        f"On a bore set by micrometer that is {band(along, 'length', own)}, negative for smaller; "
        f"the settings over bit and bar allow for the likely part.{last}"
    )
