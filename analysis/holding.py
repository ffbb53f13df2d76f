"""What holds the bit in the bar and the bar in the lathe, and when it lets go.

The bit bends over its projection and is pushed back along itself; set screws hold it by friction,
since no screw bites high-speed steel; the tapped hole in the bar may strip; jaws or a dog turn the
bar, the tail centre keeps it seated. Nobody publishes these for small lathes: `Estimate` values
here are guesses with a range unless a source stands beside them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import hypot, pi, radians, sqrt, tan
from pathlib import Path
from typing import Any, NamedTuple

import yaml

from .bar import SetScrew
from .case import Case
from .force import CuttingForce
from .judge import Band, Finding, at_least, at_most
from .material import bar_materials
from .statics import Reaction, Statics, bit_compliance
from .support import Chuck, Collet, DogCentre
from .units import Estimate

FILE = Path(__file__).with_name("set_screws.yaml")
NUT_FACTOR = 0.2
"""Torque over preload and diameter, dry steel (any text on bolts; from memory)."""
SHAKING = Estimate(6.0, 4.0, 8.0)
"""Standing hold over what is left of it while the cut shakes: makers' 4 to 8 for dynamic loads."""
BIT_FRICTION = Estimate(0.15, 0.10, 0.20)
"""Between bit and screw or wall, oiled steel; a guess."""
BIT_STRENGTH = Estimate(3000e6, 2000e6, 4000e6)
"""Bending strength of hardened high-speed steel (transverse rupture; from memory)."""
GRIP = {"chuck": Estimate(12e3, 5e3, 25e3), "collet": Estimate(8e3, 3e3, 20e3)}
"""All jaws' push on the bar together, N, tightened by hand; a guess."""
GRIP_FRICTION = Estimate(0.15, 0.10, 0.20)
"""Between jaws and bar; a guess."""
DOG_RADIUS = Estimate(0.040, 0.025, 0.060)
"""From the centre line to the driving pin, m; a guess."""
DRIVE_EFFICIENCY = Estimate(0.8, 0.7, 0.9)
"""Power at the spindle over that of the motor; a guess."""
CENTRE_ANGLE = radians(60)
CLEARANCE = 0.5e-3
"""Room that a bit drawn back into the bar is given, m; common practice."""
SHEAR_SHARE = 0.577
"""Yield in shear over yield in tension (von Mises)."""


# --- set screws ------------------------------------------------------------------------------


class Thread(NamedTuple):
    """A shipped set screw: m, N m, and N of hold on a soft shaft by a cup point."""

    name: str
    diameter: float
    pitch: float
    torque: Estimate
    hold: float
    printed: str

    @property
    def pitch_diameter(self) -> float:
        """``d - 0.649519 P``, m (ISO 68-1, ASME B1.1)."""
        return self.diameter - 0.649519 * self.pitch

    @property
    def preload(self) -> Estimate:
        """Push of the screw at its seating torque, ``T / (0.2 d)``, N."""
        per_torque = 1 / (NUT_FACTOR * self.diameter)
        torque = self.torque
        return Estimate(torque * per_torque, torque.low * per_torque, torque.high * per_torque)


STRIPPING_SHARE = 0.7
"""Of the torque that strips a tapped hole, the most to put on its screw (judgement)."""


@cache
def threads() -> tuple[Thread, ...]:
    """The shipped set screws."""
    stored: dict[str, Any] = yaml.load(FILE.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
    return tuple(
        Thread(
            name=name,
            diameter=row["diameter"],
            pitch=row["pitch"],
            torque=Estimate(row["torque"], row["torque_low"], row["torque"]),
            hold=row["hold"],
            printed=row["printed"],
        )
        for name, row in stored.items()
    )


def thread_of(diameter: float) -> Thread | None:
    """The shipped screw of a diameter, nearest within 0.5 %; None where there is none."""
    nearest = min(threads(), key=lambda one: abs(one.diameter - diameter))
    return nearest if abs(nearest.diameter / diameter - 1) < 5e-3 else None


def strip_area(pitch_diameter: float, engaged: float) -> float:
    """Shear area of the tapped hole's threads, ``pi d2 L / 2``, m2 (simple; from memory)."""
    return pi * pitch_diameter * engaged / 2


def strip_force(yield_strength: float, pitch_diameter: float, engaged: float) -> float:
    """Pull that strips the tapped hole, ``0.577 Sy`` on its shear area, N."""
    return SHEAR_SHARE * yield_strength * strip_area(pitch_diameter, engaged)


def friction_hold(preload: Estimate) -> Estimate:
    """Push along the bit that slips it: friction at the screw and at the wall behind, N."""
    friction = BIT_FRICTION
    return Estimate(
        2 * friction * preload, 2 * friction.low * preload.low, 2 * friction.high * preload.high
    )


def thread_length(case: Case, screw: SetScrew) -> float:
    """Length of tapped hole that a screw can engage, m; no more than its diameter is counted.

    From the bar's surface to the wall of the cross-hole on the screw's side.
    """
    hole = case.cross_hole
    side = 1.0 if screw.side == "leading" else -1.0
    wall = case.bar_diameter(hole.position) / 2 - hole.size / 2 - side * hole.middle
    return min(wall, screw.diameter)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewHold:
    """One set screw, as tight as its thread in this bar bears.

    Attributes
    ----------
    side : of the bar that it enters from
    torque : N m, of its seating torque what does not strip the hole
    preload, hold : N; hold against a push along the bit, standing still
    soft_shaft_hold : N, what the tables print for a cup point that bites; not for a bit
    engaged : m of thread counted
    strips_at, strips_in_mild_steel : N, the tapped hole of this bar, and of hot rolled mild steel
    """

    thread: Thread
    side: str
    torque: Estimate
    preload: Estimate
    hold: Estimate
    soft_shaft_hold: float
    engaged: float
    strips_at: float
    strips_in_mild_steel: float

    @property
    def strip_margin(self) -> float:
        """Pull that strips the hole over the preload at the seating torque."""
        return self.strips_at / self.thread.preload.high

    @property
    def held_back(self) -> bool:
        """Whether the hole would strip before the seating torque is safe."""
        return self.torque.high < self.thread.torque.high

    @property
    def stripping_torque(self) -> float:
        """Torque that strips the tapped hole, N m."""
        return self.strips_at * NUT_FACTOR * self.thread.diameter


def _screw(case: Case, screw: SetScrew) -> ScrewHold | None:
    thread = thread_of(screw.diameter)
    if thread is None:
        return None
    engaged = thread_length(case, screw)
    mild = bar_materials()["mild steel hot rolled"].yield_strength

    def strips(strength: float) -> float:
        return strip_force(float(strength), thread.pitch_diameter, engaged)

    most = STRIPPING_SHARE * strips(case.bar.material.yield_strength)
    share = min(1.0, most / thread.preload.high)
    preload = _scaled(thread.preload, share)
    return ScrewHold(
        thread=thread,
        side=screw.side,
        torque=_scaled(thread.torque, share),
        preload=preload,
        hold=friction_hold(preload),
        soft_shaft_hold=thread.hold,
        engaged=engaged,
        strips_at=strips(case.bar.material.yield_strength),
        strips_in_mild_steel=strips(mild),
    )


def _scaled(value: Estimate, share: float) -> Estimate:
    return Estimate(share * value, share * value.low, share * value.high)


# --- bit -------------------------------------------------------------------------------------


def overhang_stress(force: float, projection: float, size: float, *, square: bool) -> float:
    """Bending stress of the bit at the bar's surface: ``6 F p / s^3``, or ``32 F p / pi d^3``."""
    moment = force * projection
    return 6 * moment / size**3 if square else 32 * moment / (pi * size**3)


def bit_window(case: Case) -> tuple[float, float]:
    """Shortest and longest bit, m (common practice).

    Long enough to reach past its set screw with the edge at the finished bore (past half its own
    width without one). Short enough that its tail stays inside the bar there, and that it can be
    drawn back until both ends clear the bore as it was before this cut.
    """
    screws = case.cross_hole.set_screws
    past = max((screw.diameter for screw in screws), default=case.bit.size) / 2
    bar = case.bar_diameter(case.cross_hole.position) / 2
    before = case.old_bore or 2 * (case.edge_radius - case.cut.depth)
    square = case.cross_hole.shape == "square"
    drawn_back = longest_drawn_back(before, case.bit.size, square=square)
    return case.edge_radius + past, min(case.edge_radius + bar, drawn_back)


def longest_drawn_back(bore: float, size: float, *, square: bool) -> float:
    """Longest bit, m, whose both ends clear a bore when it is drawn back to the middle.

    The edge lies on a radius. Of a square bit's tail the far corner stands a whole width beside
    that radius, for the face is on the bar's centre line; of a round one half a width.
    """
    free = bore / 2 - CLEARANCE
    beside = size if square else size / 2
    return free + sqrt(max(free**2 - beside**2, 0.0))


def screw_room(case: Case) -> float:
    """How far a set screw's head may stand proud of the bar before it touches the bore, m.

    A head as wide as its screw, ``sqrt((B/2)^2 - (d/2)^2) - D/2`` in the bore before the cut;
    below zero it must be sunk.
    """
    widest = max((s.diameter for s in case.cross_hole.set_screws), default=0.0)
    before = case.old_bore or 2 * (case.edge_radius - case.cut.depth)
    bar = case.bar_diameter(case.cross_hole.position) / 2
    return sqrt(max(before**2 - widest**2, 0.0)) / 2 - bar


# --- bar in the lathe ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """What turns the bar.

    Attributes
    ----------
    kind : jaws, or a dog; empty where nothing of the case does
    asked : N of jaw friction that torque and push along the bar need together, or N on the pin
    grip : N that the jaws' friction bears; None for a dog
    """

    kind: str
    asked: Band
    grip: Band | None

    @property
    def margin(self) -> Band | None:
        """Grip over what is asked; None for a dog."""
        if self.grip is None or not self.asked.high > 0:
            return None
        return Band(
            low=self.grip.low / self.asked.high,
            likely=self.grip.likely / self.asked.likely,
            high=self.grip.high / self.asked.low,
        )


def _drive(case: Case, force: CuttingForce) -> Drive | None:
    drive, radius = case.supports.drive, case.bar.diameter / 2
    torque = Band(
        low=force.tangential.low * case.edge_radius,
        likely=force.torque,
        high=force.tangential.high * case.edge_radius,
    )
    if isinstance(drive, DogCentre):
        pin = Band(
            low=torque.low / DOG_RADIUS.high,
            likely=torque.likely / DOG_RADIUS,
            high=torque.high / DOG_RADIUS.low,
        )
        return Drive(kind="dog", asked=pin, grip=None)
    if not isinstance(drive, Chuck | Collet):
        return None
    push, friction = GRIP[drive.kind], GRIP_FRICTION
    asked = Band(
        low=hypot(torque.low / radius, force.axial.low),
        likely=hypot(torque.likely / radius, force.axial),
        high=hypot(torque.high / radius, force.axial.high),
    )
    held = Band(
        low=push.low * friction.low, likely=push * friction, high=push.high * friction.high
    )
    return Drive(kind=drive.kind, asked=asked, grip=held)


def tail_thrust(reaction: Reaction) -> float:
    """Thrust that keeps a bar on a 60 deg centre, N: what its slope sheds, and the feed's push.

    A radial load R on a cone of half-angle 30 deg pushes the bar off with ``R tan 30`` (friction
    left out, on the safe side).
    """
    radial = hypot(reaction.radial, reaction.tangential)
    return radial * tan(CENTRE_ANGLE / 2) + abs(reaction.axial)


# --- the whole -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """What holds the bit and the bar under the cut.

    Attributes
    ----------
    push_back : N, push of the cut along the bit
    bit_stress, bit_give : Pa and m, over its projection, under the heavy tangential force
    bit_margin : bending strength of the bit over that stress
    screws : those that the table knows; `unknown_screws` m, diameters of the others
    hold_margin : hold of the screws while the cut shakes over the push; None without screws
    room : m, that a screw's head may stand proud
    bit_window : m, shortest and longest bit
    slot_offset_wanted : m, half the bit, towards the trailing side
    drive : what turns the bar
    tail_thrust : N; None without a tail centre
    motor_power : W, the cut's power with the drive's losses
    """

    push_back: Band
    bit_stress: float
    bit_give: float
    bit_margin: Band
    screws: tuple[ScrewHold, ...]
    unknown_screws: tuple[float, ...]
    hold_margin: Band | None
    room: float
    bit_window: tuple[float, float]
    slot_offset_wanted: float
    drive: Drive | None
    tail_thrust: float | None
    motor_power: Band


def solve_holding(case: Case, force: CuttingForce, statics: Statics) -> Holding:
    """What holds the bit and the bar under the case's cut."""
    square, size, heavy = case.cross_hole.shape == "square", case.bit.size, force.tangential.high
    stress = overhang_stress(heavy, case.projection, size, square=square)
    screws = [(screw, _screw(case, screw)) for screw in case.cross_hole.set_screws]
    known = tuple(found for _, found in screws if found is not None)
    push = Band(low=force.radial.low, likely=float(force.radial), high=force.radial.high)
    tail = next((one for one in statics.reactions if one.support == "tail"), None)
    centred = case.supports.tail is not None and "centre" in case.supports.tail.kind
    return Holding(
        push_back=push,
        bit_stress=stress,
        bit_give=bit_compliance(size, case.projection, square=square)[1] * heavy,
        bit_margin=_over(BIT_STRENGTH, Band.of(stress)),
        screws=known,
        unknown_screws=tuple(screw.diameter for screw, found in screws if found is None),
        hold_margin=_hold_margin(known, push),
        room=screw_room(case),
        bit_window=bit_window(case),
        slot_offset_wanted=size / 2,
        drive=_drive(case, force),
        tail_thrust=tail_thrust(tail) if tail is not None and centred else None,
        motor_power=Band(
            low=force.power / DRIVE_EFFICIENCY.high,
            likely=force.power / DRIVE_EFFICIENCY,
            high=force.power / DRIVE_EFFICIENCY.low,
        ),
    )


def _over(capacity: Estimate, asked: Band) -> Band:
    """How many times over a capacity bears what is asked."""
    pairs = (
        (capacity.low, asked.high),
        (float(capacity), asked.likely),
        (capacity.high, asked.low),
    )
    low, likely, high = (have / want if want > 0 else float("inf") for have, want in pairs)
    return Band(low=low, likely=likely, high=high)


def _hold_margin(screws: tuple[ScrewHold, ...], push: Band) -> Band | None:
    """Hold of all screws over the push, with what shaking takes.

    Screws from one side press the bit on the wall together. One from the other side presses on
    the same bit in place of the wall, so it adds nothing: what rubs is the harder pressed side
    and what stands against it.
    """
    if not screws:
        return None
    sides = {screw.side for screw in screws}
    low, likely, high = (
        max(sum(_at(screw.hold, end) for screw in screws if screw.side == side) for side in sides)
        for end in ("low", "likely", "high")
    )
    return _over(Estimate(likely / SHAKING, low / SHAKING.high, high / SHAKING.low), push)


def _at(value: Estimate, end: str) -> float:
    return float(value) if end == "likely" else float(getattr(value, end))


def holding_findings(case: Case, holding: Holding) -> tuple[Finding, ...]:
    """Length of the bit and hold of the set screws, as far as the case gives them."""
    return (*_length_findings(case, holding), *_hold_findings(case, holding))


def _length_findings(case: Case, holding: Holding) -> tuple[Finding, ...]:
    """A typed length against the end of its window that it is nearer to breaking."""
    length, (shortest, longest) = case.bit.length, holding.bit_window
    if length is None:
        return ()
    if length > longest and length - longest >= shortest - length:
        return (
            at_most(
                "length of the bit",
                length,
                longest,
                "length",
                "if longer, its tail stands out of the bar, or it cannot be drawn back to clear "
                "the bore as it was before this cut",
            ),
        )
    return (
        at_least(
            "length of the bit",
            length,
            shortest,
            "length",
            "if shorter, the set screw in the middle of the bar does not stand on all of its width"
            if case.cross_hole.set_screws
            else "if shorter, less than half of the hole holds it",
        ),
    )


def _hold_findings(case: Case, holding: Holding) -> tuple[Finding, ...]:
    margin = holding.hold_margin
    if margin is None:
        return ()
    high = "over 100" if margin.high > 100 else f"{margin.high:.2g}"
    return (
        at_least(
            "hold of the set screws over the push along the bit",
            margin.likely,
            case.limits.screw_margin,
            "ratio",
            f"{margin.low:.2g} to {high} over what was guessed, at "
            f"{_torque_words(holding)}, with what shaking takes from it; a backing screw behind "
            "the bit takes the push by itself",
        ),
    )


def _torque_words(holding: Holding) -> str:
    if any(screw.held_back for screw in holding.screws):
        return "the torque that their threads bear, less than seats them"
    return "the seating torque"
