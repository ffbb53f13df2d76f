"""What `run` prints: the answer, the limits, then the reasons."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from typing import TYPE_CHECKING

from barwright.analysis.limits import verdict_words
from barwright.analysis.sung_by import sung_by_words
from barwright.analysis.units import Own, roughly, said, show

from .console import band, heading, plain, say, table, times, two_digits, wrapped

if TYPE_CHECKING:
    from barwright.analysis.case import Case
    from barwright.analysis.chatter import Chatter
    from barwright.analysis.judge import Band, Finding
    from barwright.analysis.run import Outcome


def verdict(outcome: Outcome) -> str:
    """The answer in a few words."""
    return verdict_words(
        within_limits=outcome.within_limits,
        quiet_unrubbed=outcome.chatter.bare >= outcome.case.limits.chatter_margin,
        doubtful=bool(doubts(outcome)),
    )


def _pitches(pitch: Band) -> str:
    if f"{pitch.low:.0f}" == f"{pitch.high:.0f}":
        return f"{pitch.likely:.0f} Hz"
    return f"{pitch.low:.0f} to {pitch.high:.0f} Hz, likely {pitch.likely:.0f} Hz"


def doubts(outcome: Outcome) -> list[str]:
    """What would go wrong at the pessimistic end of what was guessed."""
    found = []
    if outcome.size_error.high > outcome.case.allowed_size_error:
        found.append("the bore would miss its limit")
    if outcome.chatter.margin["low"] < outcome.case.limits.chatter_margin:
        found.append("it would chatter")
    return found


def answer(outcome: Outcome, own: Own) -> None:
    """Print the answer, its lengths in the case's `own` units first."""
    say(f"{verdict(outcome)}: {plain(outcome.case.title)}")
    for line in (_size(outcome, own), _pitch(outcome), _shakes(outcome)):
        say(wrapped(line))
    say(wrapped(f"Chatter: {_margins(outcome.chatter)}; {outcome.chatter.reason}."))
    say(
        wrapped(
            "Each range holds 8 times in 10 as the guesses go; `barwright study` tells what "
            "drives it and what to measure first."
        )
    )
    if outcome.within_limits and doubts(outcome):
        say(
            wrapped(
                f"At the pessimistic end of these ranges {' and '.join(doubts(outcome))}: "
                f"{measure_first(outcome.case)}."
            )
        )


def measure_first(case: Case) -> str:
    """What to do about a verdict that rests on guesses."""
    if any(row.what.startswith("supports.") for row in case.measured):
        return "the supports were measured; `barwright study` tells what else is worth it"
    return "measure the supports with a push test first (see README)"


def _size(outcome: Outcome, own: Own) -> str:
    case, last = outcome.case, outcome.passes.passes[-1]
    way = "small" if outcome.statics.diameter_error < 0 else "large"
    source = "as the case says" if case.limits.size_error else "half the width of its limits"
    if case.limits.size_error is None and case.work.bore.upper <= case.work.bore.lower:
        source = "for want of limits on the bore"
    line = (
        f"Bar spring cuts the bore {way} by {band(outcome.size_error, 'length', own)}, on the "
        f"diameter, the same all along the bore; the limit is "
        f"{said(case.allowed_size_error, 'length', own)}, {source}."
    )
    if not outcome.passes.last_is_measured:
        return line
    low, high = (show(size, "length", own) for size in (last.bore.low, last.bore.high))
    size = low if low == high else f"{low} to {high}"
    return f"{line} In the passes below, the last one set from the measured bore, {size}."


def _pitch(outcome: Outcome) -> str:
    line = (
        f"First bending mode {_pitches(outcome.first_mode)}: it shakes "
        f"{outcome.speed.waves_per_turn:.0f} times in a turn at "
        f"{outcome.speed.spindle_speed * 60:.0f} rpm."
    )
    speeds = outcome.case.lathe.speeds
    if not speeds or any(abs(n / outcome.speed.spindle_speed - 1) < 0.01 for n in speeds):
        return line
    nearest = min(speeds, key=lambda n: abs(n - outcome.speed.spindle_speed))
    return f"{line} That is not a speed of the lathe; {nearest * 60:.0f} rpm is the nearest."


def _shakes(outcome: Outcome) -> str:
    reason = outcome.speed.reason
    if outcome.speed.verdict == "clear":
        return f"Nothing in the lathe shakes the bar at this speed: {reason}"
    return f"Speed: {outcome.speed.verdict}; {reason}"


def _margins(chatter: Chatter) -> str:
    """Gain margins, the band first."""
    low, likely, high = (times(chatter.margin[end]) for end in ("low", "likely", "high"))
    return (
        f"gain margin {low} to {high}, likely {likely} (how many times harder this "
        "cut could push before it sings)"
    )


def _chatter(outcome: Outcome, own: Own) -> None:
    chatter = outcome.chatter
    heading("Chatter")
    depth = [
        _limit(chatter.depth_limit[end], "any depth", own) for end in ("low", "likely", "high")
    ]
    table(
        [
            (
                "gain margin, low / likely / high",
                " / ".join(times(chatter.margin[end]) for end in ("low", "likely", "high")),
            ),
            ("  were the bar not turning", times(chatter.still)),
            ("  with a fresh edge, that does not rub", times(chatter.bare)),
            ("depth it may go to, low / likely / high", " / ".join(depth)),
            (
                f"largest nose radius ({chatter.nose_limit_holds_for})",
                _limit(chatter.nose_radius_limit, "no limit", own),
            ),
            (
                "feed at which the bar whirls",
                _limit(chatter.whirl_feed_limit, "at no feed", own, "feed"),
            ),
            (
                "it would sing at",
                f"{chatter.frequency:.0f} Hz, {chatter.marks_per_turn:.0f} marks round the bore"
                if isfinite(chatter.frequency)
                else "no pitch",
            ),
        ]
    )
    if outcome.sung_by is not None:
        say(wrapped(f"What sings there at the likely values: {sung_by_words(outcome.sung_by)}."))
    say(
        wrapped(
            "An untested chatter depth is a factor-of-four number; the margin, and the ratio of "
            "two set-ups' margins, are far better. Low and high move all that is guessed "
            "together; `barwright study` draws each guess by itself, so its ends differ a little."
        )
    )


def _limit(value: float | str, endless: str, own: Own, kind: str = "length") -> str:
    """A limit as a length or a feed, or in words where there is none."""
    if isinstance(value, str):
        return endless if value == "none" else value
    return roughly(value, kind, own)


def findings(found: Sequence[Finding], own: Own) -> None:
    """Print each limit, its value, its margin and its reason."""
    heading("Limits (margin 1.0 is just met)")
    for one in found:
        mark = "ok  " if one.ok else "MISS"
        value, limit = _held(one.value, one.kind, own), _held(one.limit, one.kind, own)
        value += f" of {one.of}" if one.of else ""
        say(f"  {mark}  {one.what}: {value}; limit {limit}; margin {times(one.margin)}")
        say(wrapped(one.why, indent="        "))


def _held(value: float, kind: str, own: Own) -> str:
    """A value or limit; a margin or share with the digits that it is worth."""
    if kind == "ratio":
        return times(value)
    return said(value, kind, own)


def details(outcome: Outcome, own: Own) -> None:
    """Print forces, stiffness, give, hand check, reactions and modes."""
    _force(outcome, own)
    _stiffness(outcome, own)
    _reactions(outcome, own)
    _hole_stress(outcome, own)
    _chatter(outcome, own)
    _modes(outcome)


def _force(outcome: Outcome, own: Own) -> None:
    force = outcome.force
    heading(f"Cutting force, bit on work ({force.origin})")
    rows = [
        (name, said(getattr(force, name), "force", own))
        for name in ("radial", "tangential", "axial")
    ]
    table(rows)
    power, torque = said(force.power, "power", own), said(force.torque, "torque", own)
    say(f"  power at the edge {power}, torque on the bar {torque}")
    if force.factors:
        times = ", ".join(f"{factor.name} {factor.value:.2f}" for factor in force.factors)
        say(f"  a sharp edge's force by {force.method}, times {times}")
    for other in force.other_methods:
        say(f"  tangential by {other.name}: {said(other.tangential, 'force', own)}")


def _stiffness(outcome: Outcome, own: Own) -> None:
    statics, hand = outcome.statics, outcome.hand
    heading("Stiffness at the edge, edge against work")
    table(
        [
            ("along the bit", said(statics.stiffness_radial, "stiffness", own)),
            ("across the bit", said(statics.stiffness_tangential, "stiffness", own)),
            (
                "bar on its supports alone, along the bit",
                said(float(1 / statics.compliance[0, 0]), "stiffness", own),
            ),
        ]
    )
    if not outcome.case.supports.others:
        by_hand = said(1 / hand.compliance, "stiffness", own)
        say(
            wrapped(
                f"By hand, a plain bar on the same springs: {by_hand}. What it leaves out (shear, "
                f"cross-hole, steps) is {abs(hand.difference):.1%} of the give. The formula is in "
                "summary.json."
            )
        )
    heading("Where the give is, along the bit")
    table((f"{give.share:6.1%}", give.part) for give in statics.give)


def _reactions(outcome: Outcome, own: Own) -> None:
    units = "N, N.m" if own == "mm" else "lbf, lbf.in"
    heading(f"What the bar puts on its supports, bit straight up ({units})")
    rows: list[tuple[str, ...]] = [
        ("support", "along bit", "across", "along bar", "moment", "torque")
    ]
    rows += [
        (
            one.support,
            *(_number(push, "force", own) for push in (one.radial, one.tangential, one.axial)),
            *(_number(turn, "torque", own) for turn in (one.moment, one.torque)),
        )
        for one in outcome.statics.reactions
    ]
    table(rows)


def _number(value: float, kind: str, own: Own) -> str:
    """A quantity whose unit stands above it."""
    return show(value, kind, own).rpartition(" ")[0]


def _hole_stress(outcome: Outcome, own: Own) -> None:
    if outcome.model.kind == "beam":
        return
    heading("Stress at the cross-hole")
    stress = outcome.hole_stress
    if stress is None:
        say(
            wrapped(
                "No mesh fine enough could be made of this hole, so the solid says nothing of the "
                "stress there. The strength above does not rest on it."
            )
        )
        return
    peak = stress.peak
    low, high = (peak.value * (1 + side * peak.error) for side in (-1, 1))
    text = (
        f"Peak {said(peak.value, 'stress', own)} at its walls, {peak.value / stress.nominal:.1f} "
        f"times the {said(stress.nominal, 'stress', own)} of the plain bar; "
        f"{show(low, 'stress', own)} to {show(high, 'stress', own)} by how it changed over three "
        "meshes, ever finer where it peaks. "
        "That range is the meshes' alone, the force's is not in it."
    )
    if stress.corner_taken is not None:
        text += (
            " The hole's corners are taken with a radius of "
            f"{said(stress.corner_taken, 'length', own)}: in a sharper one the stress is higher, "
            "in a true point without limit."
        )
    say(wrapped(text))


def _modes(outcome: Outcome) -> None:
    modes, change = outcome.modes, outcome.refinement
    heading("Modes")
    rows = [("Hz", "plane", "shakes a turn", "damping from supports")]
    for frequency, plane, damping in zip(modes.frequency, modes.plane, modes.damping, strict=True):
        waves = frequency / outcome.speed.spindle_speed
        row = (f"{frequency:.1f}", plane, f"{waves:.0f}", f"{damping:.2%}")
        rows.append(row)
    table(rows)
    say(
        wrapped(
            f"Bar solved as a {outcome.model.kind}{_hole_from(outcome)}; in coarser "
            f"pieces it gives {_share_words(change.deflection)} otherwise and its first mode is "
            f"{_share_words(change.first_mode)} off. It would whip of itself only near "
            f"{two_digits(outcome.whirl.first_critical * 60):.0f} rpm."
        )
    )


def _share_words(share: float) -> str:
    """A change that nobody would feel is under a hundredth of a per cent."""
    return "under 0.01%" if share < 1e-4 else f"{share:.2%}"


def _hole_from(outcome: Outcome) -> str:
    """Where the hole's weakening comes from; a solid has it in its mesh."""
    from barwright.analysis.hole_in_beam import block_of

    if outcome.model.kind == "solid":
        return ""
    if block_of(outcome.case):
        return ", the cross-hole's give from a solid of its own"
    return ", the cross-hole's give from the table"
