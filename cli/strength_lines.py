"""What `run` prints of strength and holding: whether it will bend, break, slip or strip."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

from barwright.analysis.support import Chuck, Collet
from barwright.analysis.units import show

from .console import at_most_100, band, heading, margins, say, table, two_digits, wrapped

if TYPE_CHECKING:
    from barwright.analysis.case import Case
    from barwright.analysis.fatigue import FatigueStrength
    from barwright.analysis.holding import Holding, ScrewHold
    from barwright.analysis.run import Outcome
    from barwright.analysis.strength import Strength


def details(outcome: Outcome) -> None:
    """Print strength at the hole, then what holds the bit and the bar."""
    _strength(outcome.case, outcome.strength)
    _bit(outcome.case, outcome.holding)
    _bar(outcome.holding)


def _rough(value: float, kind: str) -> str:
    return show(float(f"{value:.2g}"), kind)


def _torque(value: float) -> str:
    return f"{value:.2g} N m ({value * 8.850746:.3g} in.lbf)"


# --- strength --------------------------------------------------------------------------------


def _strength(case: Case, strength: Strength) -> None:
    load, likely = strength.load, strength.raiser.likely
    heading("Strength of the bar at the cross-hole")
    table(
        [
            ("stress of the plain bar there", _rough(strength.nominal, "stress")),
            ("  plane of the bit alone, on what the hole leaves", _rough(strength.net, "stress")),
            ("peak at the hole", band(strength.peak, "stress")),
            ("yield strength over the peak", margins(strength.yield_margin)),
        ]
    )
    say(
        wrapped(
            f"Bending {load.bend_bit:.2g} N m in the plane of the bit (raised "
            f"{likely.bend_bit:.2g} times at the hole), {load.bend_across:.2g} N m across it "
            f"({likely.bend_across:.2g}), torque {load.torque:.2g} N m ({likely.torsion:.2g}). "
            "The peaks are added, which is an upper bound."
        )
    )
    say(wrapped(f"{strength.raiser.source[0].upper()}{strength.raiser.source[1:]}."))
    _fatigue(case, strength)


def _fatigue(case: Case, strength: Strength) -> None:
    fatigue = strength.fatigue
    if fatigue is None:
        say(
            wrapped(
                "Fatigue is not judged: the rules hold for steel with a known breaking stress."
            )
        )
        return
    say(wrapped(f"Margin against fatigue {margins(fatigue.margin)}."))
    rows = [("", "steady", "swings by", "margin")]
    rows += [
        (
            cycle.name,
            _rough(cycle.steady, "stress"),
            "+-" + _rough(cycle.alternating, "stress"),
            at_most_100(cycle.margin),
        )
        for cycle in fatigue.cycles
    ]
    table(rows)
    say(
        wrapped(
            "The cut turns with the bar, so it only comes and goes. What reverses each turn is "
            f"sag ({strength.sag_moment:.2g} N m) and {_out_of_line(case, strength)}."
        )
    )
    say(wrapped(_made_of(fatigue.strength)))


def _out_of_line(case: Case, strength: Strength) -> str:
    """What a tail that stands off the drive's own line adds; none where nothing resists tilt."""
    drive, bent = case.supports.drive, strength.misalignment_moment
    if case.supports.tail is None or not isinstance(drive, (Chuck, Collet)):
        return "nothing else: between centres, or with no tail, nothing can be out of line"
    moment = f"{bent.low:.2g} to {bent.high:.2g}" if bent.high > bent.low else f"{bent.likely:.2g}"
    return (
        f"a tail off the {drive.kind}'s line ({moment} N m for "
        f"{show(drive.tail_offset, 'length')})"
    )


def _made_of(strength: FatigueStrength) -> str:
    return (
        f"It bears a swing of {_rough(strength.endurance, 'stress')}: half its breaking stress "
        f"times {strength.surface:.2f} machined, {strength.size:.2f} for its size, "
        f"{strength.reliability:.2f} for 99 bars in 100; {strength.notch_sensitivity:.0%} of the "
        "hole's factor is felt (Shigley, Peterson, Goodman; from memory)."
    )


# --- holding ---------------------------------------------------------------------------------


def _bit(case: Case, holding: Holding) -> None:
    heading("What holds the bit")
    shortest, longest = holding.bit_window
    rows = [
        ("push of the cut along the bit", band(holding.push_back, "force")),
        ("bending stress of the bit, heavy cut", _rough(holding.bit_stress, "stress")),
        ("  hardened high-speed steel over it", margins(holding.bit_margin)),
        ("give of the bit sideways, heavy cut", _rough(holding.bit_give, "length")),
    ]
    if shortest < longest:
        rows.append(
            ("length of the bit", f"{show(shortest, 'length')} to {show(longest, 'length')}")
        )
    table(rows)
    if shortest >= longest:
        say(wrapped("No bit is long enough to be held here and short enough to be drawn back."))
    for screw in holding.screws:
        _screw(screw)
    _screws(case, holding)
    _slot(case, holding)


def _screw(screw: ScrewHold) -> None:
    less = (
        f", less than the {_torque(screw.thread.torque)} that seat it" if screw.held_back else ""
    )
    say(
        wrapped(
            f"{screw.thread.name} set screw at {_torque(screw.torque)}{less}: pushes "
            f"{_rough(float(screw.preload), 'force')}, holds the bit against "
            f"{two_digits(screw.hold.low):g} to {two_digits(screw.hold.high):g} N standing still, "
            f"by friction: no screw bites high-speed steel. Its thread in this bar strips at "
            f"{_rough(screw.strips_at, 'force')} ({_torque(screw.stripping_torque)}); hot rolled "
            f"mild steel would at {_rough(screw.strips_in_mild_steel, 'force')}."
        )
    )


def _screws(case: Case, holding: Holding) -> None:
    for diameter in holding.unknown_screws:
        say(wrapped(f"No seating torque is known for a {show(diameter, 'length')} screw."))
    if holding.hold_margin is not None:
        say(
            wrapped(
                f"Hold over push, shaking in it (a quarter to an eighth is left): "
                f"{margins(holding.hold_margin)}."
            )
        )
    elif not case.cross_hole.set_screws:
        say(wrapped("No set screw is given, so what holds the bit is not judged."))
    room = holding.room
    head = f"may stand {show(room, 'length')} proud" if room > 0 else "must be sunk"
    say(wrapped(f"A screw's head {head} before it touches the bore as it was before this cut."))


def _slot(case: Case, holding: Holding) -> None:
    """Where the hole should lie, and how it is made; common practice."""
    hole, wanted = case.cross_hole, holding.slot_offset_wanted
    offset = -hole.middle
    if hole.shape == "square" and abs(offset - wanted) > 0.05 * case.bit.size:
        say(
            wrapped(
                f"The hole's middle wants to be {show(wanted, 'length')} off the bar's centre "
                "line, half the bit, towards the trailing side, so that the cutting face lies on "
                "it; "
                f"here it is {show(offset, 'length')}."
            )
        )
    if hole.shape == "square":
        pilot = (1.01 * hole.size, 1.03 * hole.size)
        say(
            wrapped(
                f"Common practice: pilot drill {show(pilot[0], 'length')} to "
                f"{show(pilot[1], 'length')} for a square broach; the corners are "
                f"{show(hypot(hole.size, hole.size), 'length')} apart; leave them round, a tenth "
                "of the hole or more."
            )
        )


def _bar(holding: Holding) -> None:
    heading("What turns and holds the bar")
    rows = []
    drive = holding.drive
    if drive is not None and drive.grip is None:
        rows.append(
            ("load on the dog's pin (25 to 60 mm out, a guess)", band(drive.asked, "force"))
        )
    elif drive is not None and drive.grip is not None:
        rows.append((f"friction asked of the {drive.kind}", band(drive.asked, "force")))
        rows.append(("  borne, tightened by hand (a guess)", band(drive.grip, "force")))
        if drive.margin is not None:
            rows.append(("  margin against slipping", margins(drive.margin)))
    if holding.tail_thrust is not None:
        rows.append(("thrust the tail centre needs", _rough(holding.tail_thrust, "force")))
    rows.append(("motor power with losses", band(holding.motor_power, "power")))
    table(rows)
