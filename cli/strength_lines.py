"""What `run` prints of strength and holding: whether it will bend, break, slip or strip."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

from barwright.analysis.holding import DOG_RADIUS
from barwright.analysis.support import Chuck, Collet
from barwright.analysis.units import (
    Own,
    rough,
    roughly,
    roughly_between,
    said,
    shop_size,
    stock_size,
)

from .console import band, heading, margins, say, table, times, wrapped

if TYPE_CHECKING:
    from barwright.analysis.case import Case
    from barwright.analysis.fatigue import FatigueStrength
    from barwright.analysis.holding import Holding, ScrewHold
    from barwright.analysis.run import Outcome
    from barwright.analysis.strength import Strength


def details(outcome: Outcome, own: Own) -> None:
    """Print strength at the hole, then what holds the bit and the bar."""
    _strength(outcome.case, outcome.strength, own)
    _bit(outcome.case, outcome.holding, own)
    _bar(outcome.holding, own)


# --- strength --------------------------------------------------------------------------------


def _strength(case: Case, strength: Strength, own: Own) -> None:
    load, likely = strength.load, strength.raiser.likely
    heading("Strength of the bar at the cross-hole")
    table(
        [
            ("stress of the plain bar there", roughly(strength.nominal, "stress", own)),
            (
                "  plane of the bit alone, on what the hole leaves",
                roughly(strength.net, "stress", own),
            ),
            (f"peak, at {strength.raiser.place}", band(strength.peak, "stress", own)),
            ("yield strength over the peak", margins(strength.yield_margin)),
        ]
    )
    say(
        wrapped(
            f"Bending {roughly(load.bend_bit, 'torque', own)} in the plane of the bit, raised "
            f"{likely.bend_bit:.2g} times there; {roughly(load.bend_across, 'torque', own)} "
            f"across it, raised {likely.bend_across:.2g} times; torque "
            f"{roughly(load.torque, 'torque', own)}, raised {likely.torsion:.2g} times. "
            "The peaks are added, which is an upper bound."
        )
    )
    say(wrapped(f"{strength.raiser.source[0].upper()}{strength.raiser.source[1:]}."))
    _fatigue(case, strength, own)


def _fatigue(case: Case, strength: Strength, own: Own) -> None:
    fatigue = strength.fatigue
    if fatigue is None:
        say(
            wrapped(
                "Fatigue is not judged: the rules hold for steel with a known breaking stress."
            )
        )
        return
    say(wrapped(f"Margin against fatigue {margins(fatigue.margin)}, at {fatigue.place}."))
    rows = [("", "steady", "swings by", "margin")]
    rows += [
        (
            cycle.name,
            roughly(cycle.steady, "stress", own),
            "+-" + roughly(cycle.alternating, "stress", own),
            times(cycle.margin),
        )
        for cycle in fatigue.cycles
    ]
    table(rows)
    say(
        wrapped(
            "The cut turns with the bar, so it only comes and goes. What reverses each turn is "
            f"sag, {roughly(strength.sag_moment, 'torque', own)}, and "
            f"{_out_of_line(case, strength, own)}."
        )
    )
    say(wrapped(_made_of(fatigue.strength, own)))


def _out_of_line(case: Case, strength: Strength, own: Own) -> str:
    """What a tail that stands off the drive's own line adds; none where nothing resists tilt."""
    drive, bent = case.supports.drive, strength.misalignment_moment
    if case.supports.tail is None or not isinstance(drive, (Chuck, Collet)):
        held = "with no tail" if case.supports.tail is None else "between centres"
        return f"nothing else: {held} nothing can be out of line"
    if bent.high == 0:
        return "nothing else: the tail stands in line"
    return (
        f"a tail off the {drive.kind}'s line, {band(bent, 'torque', own)}, for "
        f"{said(drive.tail_offset, 'length', own)}"
    )


def _made_of(strength: FatigueStrength, own: Own) -> str:
    return (
        f"It bears a swing of {roughly(strength.endurance, 'stress', own)}: half its breaking "
        f"stress times {strength.surface:.2f} machined, {strength.size:.2f} for its size, "
        f"{strength.reliability:.2f} for 99 bars in 100; {strength.notch_sensitivity:.0%} of the "
        "hole's factor is felt (Shigley, Peterson, Goodman; from memory)."
    )


# --- holding ---------------------------------------------------------------------------------


def _bit(case: Case, holding: Holding, own: Own) -> None:
    heading("What holds the bit")
    shortest, longest = holding.bit_window
    rows = [
        ("push of the cut along the bit", band(holding.push_back, "force", own)),
        ("bending stress of the bit, heavy cut", roughly(holding.bit_stress, "stress", own)),
        ("  hardened high-speed steel over it", margins(holding.bit_margin)),
        ("give of the bit sideways, heavy cut", roughly(holding.bit_give, "length", own)),
    ]
    if shortest < longest:
        rows.append(
            (
                "length of the bit",
                f"{stock_size(shortest, own)} to {stock_size(longest, own)}",
            )
        )
    table(rows)
    if shortest >= longest:
        say(wrapped("No bit is long enough to be held here and short enough to be drawn back."))
    for screw in holding.screws:
        _screw(screw, own)
    _screws(case, holding, own)
    _slot(case, holding, own)


def _screw(screw: ScrewHold, own: Own) -> None:
    seats = roughly(screw.thread.torque, "torque", own)
    less = f", less than the {seats} that seat it" if screw.held_back else ""
    hold = roughly_between(screw.hold.low, screw.hold.high, "force", own)
    say(
        wrapped(
            f"{screw.thread.name} set screw at {roughly(screw.torque, 'torque', own)}{less}: "
            f"pushes {roughly(float(screw.preload), 'force', own)}, holds the bit against "
            f"{hold} standing still, by friction: no screw bites high-speed steel. Its thread "
            f"in this bar strips at {roughly(screw.strips_at, 'force', own)} at a torque of "
            f"{roughly(screw.stripping_torque, 'torque', own)}, "
            f"{times(screw.stripping_torque / float(screw.torque))} times that of the screw; "
            f"hot rolled mild steel would at {roughly(screw.strips_in_mild_steel, 'force', own)}."
        )
    )


def _screws(case: Case, holding: Holding, own: Own) -> None:
    for diameter in holding.unknown_screws:
        say(wrapped(f"No seating torque is known for a {shop_size(diameter, own)} screw."))
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
    head = f"may stand {roughly(room, 'length', own)} proud" if room > 0 else "must be sunk"
    say(wrapped(f"A screw's head {head} before it touches the bore as it was before this cut."))


def _slot(case: Case, holding: Holding, own: Own) -> None:
    """Where the hole should lie, and how it is made; common practice."""
    hole, wanted = case.cross_hole, holding.slot_offset_wanted
    offset = -hole.middle
    if hole.shape == "square" and abs(offset - wanted) > 0.05 * case.bit.size:
        say(
            wrapped(
                f"The hole's middle wants to be {said(wanted, 'length', own)} off the bar's "
                "centre line, half the bit, towards the trailing side, so that the cutting face "
                f"lies on it; here it is {said(offset, 'length', own)}."
            )
        )
    if hole.shape == "square":
        pilot = (1.01 * hole.size, 1.03 * hole.size)
        say(
            wrapped(
                f"Common practice: pilot drill {said(pilot[0], 'length', own)} to "
                f"{said(pilot[1], 'length', own)} for a square broach; the corners are "
                f"{said(hypot(hole.size, hole.size), 'length', own)} apart; leave them round, a "
                "tenth of the hole or more."
            )
        )


def _reach(own: Own) -> str:
    """How far out of the centre line the dog's pin is taken to be."""
    low, high = (rough(end, "length", own) for end in (DOG_RADIUS.low, DOG_RADIUS.high))
    return f"{low.split()[0]} to {high}"


def _bar(holding: Holding, own: Own) -> None:
    heading("What turns and holds the bar")
    rows = []
    drive = holding.drive
    if drive is not None and drive.grip is None:
        rows.append(
            (
                f"load on the dog's pin ({_reach(own)} out, a guess)",
                band(drive.asked, "force", own),
            )
        )
    elif drive is not None and drive.grip is not None:
        rows.append((f"friction asked of the {drive.kind}", band(drive.asked, "force", own)))
        rows.append(("  borne, tightened by hand (a guess)", band(drive.grip, "force", own)))
        if drive.margin is not None:
            rows.append(("  margin against slipping", margins(drive.margin)))
    if holding.tail_thrust is not None:
        rows.append(("thrust the tail centre needs", roughly(holding.tail_thrust, "force", own)))
    rows.append(("motor power with losses", band(holding.motor_power, "power", own)))
    table(rows)
