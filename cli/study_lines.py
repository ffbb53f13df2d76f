"""What `study` prints: the chance of chatter and the bands first, then what to measure."""

from __future__ import annotations

from math import isinf
from typing import TYPE_CHECKING

from barwright.analysis.study_words import ANSWERS, KINDS, learnt_by, said
from barwright.analysis.units import rough, show

from .console import heading, plain, say, table, times, wrapped

if TYPE_CHECKING:
    from barwright.analysis.study import Chance, Driver, Spread, Study
    from barwright.analysis.units import Own

WORTH = 0.05
"""Share of a band that has to go for a measurement to be worth a line."""
MOST = 5


def answer(found: Study, own: Own) -> None:
    """Print the chance of chatter, the bands of margin and size, and what to measure first."""
    title = plain(found.case.title)
    say(f"{_verdict(found)}: {title}")
    say(
        wrapped(
            f"Of {found.count} draws of everything guessed or given with a range, "
            f"{_of_100(found.chatter)} in 100 chatter at this cut; "
            f"{_of_100(found.chatter_undamped)} in 100 would if the flank of the bit rubbed "
            "nothing down."
        )
    )
    margin, size = found.spread["gain_margin"], found.spread["size_error"]
    say(
        wrapped(
            f"Gain margin {_range('gain_margin', margin, own)} (1 just sings); the bore is off "
            f"size by {_range('size_error', size, own)}. 8 draws in 10 lie in each range."
        )
    )
    say(wrapped(_first(found)))


def _verdict(found: Study) -> str:
    chance = found.chatter.value
    if chance >= 0.5:
        return "MORE LIKELY TO CHATTER THAN NOT"
    if not found.within_limits:
        return "LIKELY TO MISS A LIMIT"
    return "LIKELY TO STAY QUIET" if chance >= 0.1 else "QUIET IN NEARLY ALL THAT IS LIKELY"


def _of_100(chance: Chance) -> str:
    value, error = 100 * chance.value, 100 * chance.error
    return f"{value:.0f} (give or take {error:.1f})" if value >= 0.5 else "fewer than 1"


def _first(found: Study) -> str:
    worth = [one for one in found.drivers if one.known["gain_margin"].narrowing >= WORTH]
    if not worth:
        return "No single measurement would narrow the gain margin by much."
    best = worth[0]
    gain = best.known["gain_margin"]
    return (
        f"Measure this first: {said(found.case, best.doubt.key)}. Known, it would bring the gain "
        f"margin's range from a factor of {gain.now:.2g} to one of {gain.then:.2g}. How: "
        f"{learnt_by(found.case, best.doubt)}."
    )


def details(found: Study, own: Own) -> None:
    """Print every band, the limits, what drives the answers and what measuring would bring."""
    heading("What comes out (8 draws in 10 lie between low and high)")
    head = ("", "low", "middle", "high", "from half as many draws")
    table([head, *(_band(found, name, own) for name in ANSWERS)])
    heading("Draws that miss a limit, of 100")
    table([(ANSWERS[name], _of_100(chance)) for name, chance in found.misses.items()])
    heading("What drives the answer (share of its scatter, alone / with the others)")
    _drivers(found)
    heading("What measuring would bring (high end of the range over its low end: now -> then)")
    _gains(found)
    say()
    say(
        wrapped(
            "The last column is the same range drawn from half as many: how far it has settled. "
            "What is typed or guessed as a range is read so that one value in twenty lies below "
            "it and one in twenty above. `run` moves all that is guessed to one end together, as "
            "far as 8 draws in 10 go, so its ends lie near these but are not the same figures. "
            f"Seed {found.seed}; the same seed gives the same figures on any machine."
        )
    )


def _band(found: Study, name: str, own: Own) -> tuple[str, ...]:
    spread, half = found.spread[name], found.half[name]
    ends = (spread.low, spread.middle, spread.high)
    return (ANSWERS[name], *(_said(name, end, own) for end in ends), _range(name, half, own))


def _said(name: str, value: float, own: Own) -> str:
    """One answer in two digits, or a word."""
    if name == "depth_limit" and value == 0.0:
        return "no usable depth"
    if isinf(value):
        return "none"
    if KINDS[name] == "ratio":
        return times(value)
    if KINDS[name] == "frequency":
        return show(float(f"{value:.3g}"), "frequency", own)
    return rough(value, KINDS[name], own)


def _range(name: str, spread: Spread, own: Own) -> str:
    low, high = (_said(name, end, own) for end in (spread.low, spread.high))
    if low == high:
        return low
    number, _, unit = low.rpartition(" ")
    return f"{number if number and unit == high.rpartition(' ')[2] else low} to {high}"


def _drivers(found: Study) -> None:
    names = ("gain_margin", "size_error")

    def strongest(one: Driver) -> float:
        return max(one.influence[name].total.value for name in names)

    rows: list[tuple[str, ...]] = [("", "gain margin", "size of the bore")]
    for one in sorted(found.drivers, key=strongest, reverse=True)[: 2 * MOST]:
        if strongest(one) >= 0.01:
            rows.append((said(found.case, one.doubt.key), *(_shares(one, n) for n in names)))
    table(rows)


def _shares(one: Driver, name: str) -> str:
    of = one.influence[name]
    if of.total.value < 0.005:
        return "-"
    total = 100 * min(max(of.total.value, 0.0), 1.0)
    first = min(100 * max(of.first.value, 0.0), total)
    low, high = 100 * of.total.low, 100 * of.total.high
    return f"{first:.0f} / {total:.0f} % ({low:.0f} to {high:.0f})"


def _gains(found: Study) -> None:
    def most(one: Driver) -> float:
        return max(one.known[name].narrowing for name in ("gain_margin", "size_error"))

    worth = [one for one in sorted(found.drivers, key=most, reverse=True) if most(one) >= WORTH]
    if not worth:
        say("  nothing worth a line")
    for one in worth[:MOST]:
        say(f"  {said(found.case, one.doubt.key)}: {_bought(one)}")
        say(wrapped(learnt_by(found.case, one.doubt), indent=" " * 6))


def _bought(one: Driver) -> str:
    words = {"gain_margin": "gain margin", "size_error": "size"}
    return ", ".join(
        f"{words[name]} {one.known[name].now:.2g} -> {one.known[name].then:.2g}"
        for name in words
        if one.known[name].narrowing >= WORTH
    )
