"""What `run` prints of the passes: what to set, what to expect, what spring leaves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from barwright.analysis.judge import Band
from barwright.analysis.units import Own, roughness, said
from barwright.analysis.wording import set_by_both

from .console import band, heading, say, table, two_digits, wrapped

if TYPE_CHECKING:
    from barwright.analysis.passes import Pass, PassPlan


def passes(plan: PassPlan, own: Own) -> None:
    """Print the passes, each in its `own` units and the other, then how the last hits size."""
    heading(f"Passes to {said(plan.aim, 'length', own)}")
    if not plan.start_known:
        say(wrapped("The bore before the cut is not given: these are the last cuts, two alike."))
    rows: list[tuple[str, ...]] = [
        ("", "bore before", "bit out by", "over bit and bar", "bore after", "minutes in cut")
    ]
    if plan.roughing:
        say(wrapped(_before(plan, own)))
    for one in plan.every:
        other: Own = "inch" if own == "mm" else "mm"
        rows += [row(one, own), row(one, other, again=True)]
    table(rows)
    say(
        wrapped(
            "Over bit and bar by micrometer: bore = 2 x reading - bar diameter (less twice the "
            f"depth of a flat behind the bit), {said(plan.bar_diameter, 'length', own)} here, "
            f"{_run_out(plan, own)}. Measure to solid bar beside the hole, not into it; swing for "
            "the largest reading."
        )
    )
    for line in (_last(plan, own), _spring(plan, own), _copying(plan), _finish(plan, own)):
        say(wrapped(line))


def _before(plan: PassPlan, own: Own) -> str:
    """That the case's own passes are not all there is to do."""
    first, last = plan.roughing[0], plan.roughing[-1]
    count = len(plan.roughing)
    start, to = (
        said(size, "length", own) for size in (first.bore_before.likely, last.bore.likely)
    )
    return (
        f"Before the cut judged here: {count} roughing pass{'' if count == 1 else 'es'} from "
        f"{start} to {to}, with the same bit and their own feed and speed as the case says. They "
        "are carried along, not judged."
    )


def _run_out(plan: PassPlan, own: Own) -> str:
    """What run-out does to the settings."""
    out = plan.run_out
    if out is None:
        return (
            "if the bar runs true at the bit; up to all of an indicator's swing there adds to the "
            "bore"
        )
    if out.likely == 0.0:
        return (
            f"and up to {said(2 * out.high, 'length', own)} more or less, for the bar runs out at "
            "the bit and where its high spot lies is not known"
        )
    way = "towards" if out.likely > 0 else "away from"
    sign = "and" if out.likely > 0 else "less"
    return (
        f"{sign} the {said(2 * abs(out.likely), 'length', own)} by which the bar runs out {way} "
        "the bit; the readings above have it in them"
    )


def row(one: Pass, system: Own, *, again: bool = False) -> tuple[str, ...]:
    """One pass in one unit system; its number and minutes are not said again."""
    first = not again
    minutes = "" if one.minutes is None or not first else f"{one.minutes:.1f}"
    return (
        f"pass {one.number}" if first else "",
        _size(one.bore_before.likely, system),
        _size(one.advance, system),
        _size(one.reading, system),
        _sizes(one.bore, system),
        minutes,
    )


def _size(value: float, system: Own) -> str:
    """A size as a micrometer shows it: 0.001 mm or 0.0001 in."""
    return f"{value * 1e3:.3f} mm" if system == "mm" else f"{value / 0.0254:.4f} in"


def _sizes(bore: Band, system: Own) -> str:
    """Sizes from small to large, then the likely one; alike ones once."""
    low, likely, high = (_size(x, system) for x in (bore.low, bore.likely, bore.high))
    return likely if low == high else f"{low.split()[0]} to {high}, likely {likely.split()[0]}"


def _last(plan: PassPlan, own: Own) -> str:
    if not plan.last_is_measured:
        return (
            "One pass is all the stock there is, so nothing cancels the spring: the bore comes "
            "out as the table says."
        )
    last = plan.passes[-1]
    return (
        "Before the last pass measure the bore, cool: move the bit out by half of what is "
        f"missing, about {set_by_both(last.advance, own)}. The pass before had the same "
        "advance, so much the same spring: final bore = measured bore + 2 x advance"
        f"{_still_short(plan, own)}. The reading shown for it is the likely one."
    )


def _still_short(plan: PassPlan, own: Own) -> str:
    """What the last of two passes alike still lacks, where it can be measured."""
    last = plan.passes[-1].bore
    short = Band.of(*(max(0.0, plan.aim - end) for end in (last.likely, last.low, last.high)))
    if short.high < 2e-6:
        return ""
    return f", less {band(short, 'length', own)}; one more pass alike lessens that"


def _spring(plan: PassPlan, own: Own) -> str:
    spring, opened = plan.spring, band(plan.spring.first, "length", own)
    if plan.spring_ratio.likely < 0:
        return "Spring pass: finds nothing to cut, for this edge pulls itself into the work."
    if spring.worth == 0:
        return (
            f"Spring pass: not worth making; it would open the bore by {opened}, and an edge of "
            "high-speed steel rubs at that."
        )
    count = "one is" if spring.worth == 1 else f"up to {spring.worth} are"
    return (
        f"Spring passes: {count} worth making where the edge stands at size; the first opens the "
        f"bore by {opened}. Never after a last pass set from the measured bore, which it would "
        "bore too large."
    )


def _copying(plan: PassPlan) -> str:
    copied = plan.copied
    if max(abs(copied.low), abs(copied.high)) < 0.0005:
        return (
            "An old bore that is off centre or oval is not copied into the new one: with this "
            "lead and nose the depth does not move the edge along the bit."
        )
    if copied.high < 0:
        return (
            "Of an old bore's error, off centre or oval, each pass leaves "
            f"{_percent(-copied.high)} to {_percent(-copied.low)}, likely "
            f"{_percent(-copied.likely)}, turned over: high where the old bore was low."
        )
    return (
        f"Of an old bore's error, off centre or oval, each pass copies {_percent(copied.low)} to "
        f"{_percent(copied.high)}, likely {_percent(copied.likely)}."
    )


def _percent(share: float) -> str:
    return f"{100 * two_digits(share):.2g} %"


def _finish(plan: PassPlan, own: Own) -> str:
    rough = plan.roughness
    if rough is None:
        return "Finish: the feed is too coarse for this nose to leave a clean wave of marks."
    return (
        f"Finish: Ra {roughness(rough.expected.low, rough.expected.high, own)}; the nose and feed "
        f"alone would leave {roughness(rough.mean, rough.mean, own)}, "
        "and high-speed steel at low speed comes out two to five times rougher."
    )
