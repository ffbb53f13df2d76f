"""What the commands print: the answer first, plain ASCII, the same on a screen and in a pipe."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from barwright.analysis.units import Estimate, System, show

if TYPE_CHECKING:
    from barwright.analysis.casefile import CaseFile, Input
    from barwright.analysis.chatter import Chatter
    from barwright.analysis.judge import Band, Finding
    from barwright.analysis.run import Outcome
    from barwright.analysis.verification import Result

WIDTH = 100

CAUTIONS = (
    "A long bar turning with a bit and screw heads: guard it; no hands, gloves or brushes near.",
    "Chuck key out. Power off, turn the bar one full turn by hand at both ends of the travel.",
    "Deep, clean centres; quill and tailstock locked, checked again once warm.",
    "Power isolated to set or measure the bit, and the spindle blocked for push and tap tests.",
    "Know the weight of the casting and how it is held; nothing strapped to a turning bar.",
    "This is an aid: it certifies nothing. Local codes, the machine's manual and qualified",
    "practice come first.",
)


def plain(text: str) -> str:
    """Text of the user with everything a terminal might obey or choke on shown as escapes."""
    return "".join(c if " " <= c <= "~" else f"\\x{ord(c):02x}" for c in text)


def say(text: str = "") -> None:
    """Print to standard output."""
    sys.stdout.write(text + "\n")


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


def band(value: Band, kind: str) -> str:
    """Range before number, two digits: `12 to 55 um, likely 24 um (0.94 thou)`."""
    low, likely, high = (rough(v, kind, "mm") for v in (value.low, value.likely, value.high))
    number, _, unit = low.rpartition(" ")
    first = number if unit == high.rpartition(" ")[2] else low
    inch = rough(value.likely, kind, "inch")
    both = likely if inch == likely else f"{likely} ({inch})"
    return f"{first} to {high}, likely {both}"


def rough(value: float, kind: str, system: System) -> str:
    """A quantity in one unit system with the two digits that a guess can carry."""
    number, _, unit = show(value, kind, system).rpartition(" ")
    return f"{two_digits(float(number)):g} {unit}"


def two_digits(value: float) -> float:
    """A value rounded to the two digits that a guess can carry."""
    return float(f"{value:.2g}")


def verdict(outcome: Outcome) -> str:
    """The answer in two words or six."""
    if not outcome.within_limits:
        return "OUTSIDE LIMITS"
    return "WITHIN LIMITS, IF THE GUESSES HOLD" if doubts(outcome) else "WITHIN LIMITS"


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


def answer(outcome: Outcome) -> None:
    """Print the answer: verdict, size, pitch, speed."""
    case, statics = outcome.case, outcome.statics
    say(f"{verdict(outcome)}: {plain(case.title)}")
    way = "small" if statics.diameter_error < 0 else "large"
    allowed = show(case.allowed_size_error, "length")
    say(
        wrapped(
            f"Bar spring cuts the bore {way} by {band(outcome.size_error, 'length')}, on the "
            f"diameter, the same all along the bore; the limit is {allowed}."
        )
    )
    pitch = outcome.first_mode
    say(
        wrapped(
            f"First bending mode {_pitches(pitch)}: {outcome.speed.waves_per_turn:.0f} waves per "
            f"turn at "
            f"{outcome.speed.spindle_speed * 60:.0f} rpm."
        )
    )
    say(wrapped(f"Speed: {outcome.speed.verdict}; {outcome.speed.reason}"))
    say(wrapped(f"Chatter: {_margins(outcome.chatter)}; {outcome.chatter.reason}."))
    if outcome.within_limits and doubts(outcome):
        say(
            wrapped(
                f"At the pessimistic end of what was guessed {' and '.join(doubts(outcome))}: "
                "measure the supports with a push test before the finishing cut."
            )
        )


def _margins(chatter: Chatter) -> str:
    """Gain margins, the band first."""
    low, likely, high = (_times(chatter.margin[end]) for end in ("low", "likely", "high"))
    return f"gain margin {low} to {high}, likely {likely} (1 just sings)"


def _times(value: float) -> str:
    return "over 100" if value > 100 else f"{value:.2g}"


def _chatter(outcome: Outcome) -> None:
    chatter = outcome.chatter
    heading("Chatter")
    depth = [_length_or_word(chatter.depth_limit[end]) for end in ("low", "likely", "high")]
    table(
        [
            (
                "gain margin, low / likely / high",
                " / ".join(_times(chatter.margin[end]) for end in ("low", "likely", "high")),
            ),
            ("  were the bar not turning", _times(chatter.still)),
            ("  without process damping", _times(chatter.bare)),
            ("depth limit, low / likely / high", " / ".join(depth)),
            (
                f"largest nose radius ({chatter.nose_limit_holds_for})",
                _length_or_word(chatter.nose_radius_limit),
            ),
            ("feed at which the bar whirls", _length_or_word(chatter.whirl_feed_limit)),
            (
                "it would sing at",
                f"{chatter.frequency:.0f} Hz, {chatter.marks_per_turn:.0f} marks round the bore",
            ),
        ]
    )
    say(
        wrapped(
            "An untested chatter depth is a factor-of-four number; the margin, and the ratio of "
            "two set-ups' margins, are far better."
        )
    )


def _length_or_word(value: float | str) -> str:
    return value if isinstance(value, str) else show(two_digits(value), "length")


def findings(found: Sequence[Finding]) -> None:
    """Print each limit, its value, its margin and its reason."""
    heading("Limits (margin 1.0 is just met)")
    for one in found:
        mark = "ok  " if one.ok else "MISS"
        margin = "over 100" if one.margin > 100 else f"{one.margin:.2g}"
        value, limit = show(one.value, one.kind), show(one.limit, one.kind)
        say(f"  {mark}  {one.what}: {value}; limit {limit}; margin {margin}")
        say(wrapped(one.why, indent="        "))


def details(outcome: Outcome) -> None:
    """Print forces, stiffness, give, hand check, reactions and modes."""
    _force(outcome)
    _stiffness(outcome)
    _reactions(outcome)
    _hole_stress(outcome)
    _chatter(outcome)
    _modes(outcome)


def _force(outcome: Outcome) -> None:
    force = outcome.force
    heading(f"Cutting force, bit on work ({force.origin})")
    rows = [
        (name, show(getattr(force, name), "force")) for name in ("radial", "tangential", "axial")
    ]
    table(rows)
    say(f"  power at the edge {force.power:.0f} W, torque on the bar {force.torque:.2f} N m")
    if force.factors:
        times = ", ".join(f"{factor.name} {factor.value:.2f}" for factor in force.factors)
        say(f"  a sharp edge's force by {force.method}, times {times}")
    for other in force.other_methods:
        say(f"  tangential by {other.name}: {show(other.tangential, 'force')}")


def _stiffness(outcome: Outcome) -> None:
    statics, hand = outcome.statics, outcome.hand
    heading("Stiffness at the edge, edge against work")
    table(
        [
            ("along the bit", show(statics.stiffness_radial, "stiffness")),
            ("across the bit", show(statics.stiffness_tangential, "stiffness")),
            (
                "bar on its supports alone, along the bit",
                show(float(1 / statics.compliance[0, 0]), "stiffness"),
            ),
        ]
    )
    say(wrapped(f"by hand: {hand.difference:+.1%} in give against the {outcome.model.kind}"))
    say(wrapped(f"1/k = {hand.formula}", indent="    "))
    heading("Where the give is, along the bit")
    table((f"{give.share:6.1%}", give.part) for give in statics.give)


def _reactions(outcome: Outcome) -> None:
    heading("What the bar puts on its supports, bit straight up (N, N m)")
    rows = [("support", "along bit", "across", "along bar", "moment", "torque")]
    rows += [
        (
            one.support,
            f"{one.radial:.1f}",
            f"{one.tangential:.1f}",
            f"{one.axial:.1f}",
            f"{one.moment:.2f}",
            f"{one.torque:.2f}",
        )
        for one in outcome.statics.reactions
    ]
    table(rows)


def _hole_stress(outcome: Outcome) -> None:
    stress = outcome.hole_stress
    if stress is None:
        return
    heading("Stress at the cross-hole")
    say(
        wrapped(
            f"peak {show(stress.peak, 'stress')} at its walls, {stress.peak / stress.nominal:.1f} "
            f"times the {show(stress.nominal, 'stress')} of the plain bar; from the coarser mesh "
            f"it changed by {stress.refinement_change:.0%}. A sharp inside corner has no true "
            "peak: there the number only says how fine the mesh is."
        )
    )


def _modes(outcome: Outcome) -> None:
    modes, change = outcome.modes, outcome.refinement
    heading("Modes")
    rows = [("Hz", "plane", "waves per turn", "damping from supports", "residual")]
    for frequency, plane, damping, residual in zip(
        modes.frequency, modes.plane, modes.damping, modes.residual, strict=True
    ):
        waves = frequency / outcome.speed.spindle_speed
        row = (f"{frequency:.1f}", plane, f"{waves:.0f}", f"{damping:.2%}", f"{residual:.0e}")
        rows.append(row)
    table(rows)
    say(
        wrapped(
            f"{outcome.model.kind} model, {outcome.model.n_dof} unknowns; from the coarser mesh "
            f"({change.coarse_n_dof}) the give changed by {change.deflection:.1e} and the first "
            f"mode by {change.first_mode:.1e} of itself. First critical speed "
            f"{outcome.whirl.first_critical * 60:.0f} rpm."
        )
    )


def origins(case_file: CaseFile, *, only_guesses: bool) -> None:
    """Print every input with where it came from."""
    heading("Guessed; a wrong guess moves the answer" if only_guesses else "What I read")
    rows = []
    for entry in case_file.inputs:
        if only_guesses and (entry.origin != "default guess" or entry.range is None):
            continue
        rows.append((entry.name, _shown(entry), entry.origin))
    table([row[:2] for row in rows] if only_guesses else rows)
    if only_guesses:
        say("  `barwright check` lists every value with where it came from.")


def _shown(entry: Input) -> str:
    """Value of an input in both unit systems with its range; the text as typed for a fit."""
    if isinstance(entry.value, str) or entry.kind in ("", "fit"):
        return plain(str(entry.text or entry.value))
    value = Estimate(entry.value, *entry.range) if entry.range else entry.value
    return show(value, entry.kind)


def cautions() -> None:
    """Print the usual cautions."""
    heading("Before the spindle turns")
    for line in CAUTIONS:
        say(f"  {line}")


def materials(tables: Mapping[str, Mapping[str, Any]]) -> None:
    """Print the shipped tables, each value with its range and source."""
    for name, shipped in tables.items():
        heading(f"{name.capitalize()} materials")
        for metal in shipped.values():
            say(f"  {metal.name}")
            for field, kind in _KINDS.items():
                value = getattr(metal, field, None)
                if value is not None:
                    source = metal.sources.get(field, "")
                    say(f"      {field.replace('_', ' '):18} {show(value, kind)}  [{source}]")


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


def checks(results: Sequence[Result]) -> None:
    """Print every published check: source, expected, got, difference."""
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
    missed = sum(not result.ok for result in results)
    say(f"{len(results) - missed} of {len(results)} checks agree within their tolerance.")
