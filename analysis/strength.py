"""Strength of the bar at its cross-hole: stress, margin on yield, margin on fatigue.

Moments come from statics, just on either side of the hole; stress is the nominal one times the
hole's factor (`stress_raiser`), each kind of load with its own. The radial and the feed force
bend the bar in the bit plane, where the mouths of the hole lie at the outer fibre; the tangential
force twists it and bends it across, where a hole on the centre line barely matters (one half the
bit off it does: its outer wall comes near the outer fibre). The peaks of the four loads
are added up although they lie at different places of the rim: an upper bound, 1.5 and 2 times the
true peak of a round and a square hole that were solved as solids. The mouth of a set screw's hole
lies where bending across pulls most: it is judged beside the cross-hole, and the worse decides.

The cutting force turns *with* the bar, so in the bar it stands still: nothing once per pass and
full again, and as often per turn as an interrupted cut leaves the metal. Only what stands still in
the room reverses each turn: sag, and a tail out of line with a chuck. `Cycle` keeps the steady and
the alternating part of each apart. Left out: thrust of the tail centre, unlike supports, steadies
out of line.
"""

from __future__ import annotations

from dataclasses import astuple, dataclass, replace
from math import hypot, inf, pi, sqrt
from typing import Literal

from .beam import held_at
from .case import Case
from .fatigue import FatigueStrength, fatigue_strength, goodman_margin, is_steel
from .force import CuttingForce
from .judge import Band, Finding, at_least
from .model import Factored, Held
from .section import circle_area, circle_second_moment, slotted_section
from .square_hole_stress import GrossFactors
from .statics import Reaction, bending_moment, force_on_bar, reactions_to
from .stress_raiser import StressRaiser, stress_raisers
from .units import Estimate

GRAVITY = 9.80665
ENTRY = Estimate(1.5, 1.2, 2.0)
"""Force when the edge meets metal again over the force in it; a guess."""
End = Literal["low", "likely", "high"]
ENDS: tuple[End, ...] = ("low", "likely", "high")
PLAIN = GrossFactors(1.0, 1.0, 1.0, 1.0)
_OTHER_END: dict[End, End] = {"low": "high", "likely": "likely", "high": "low"}


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleLoad:
    """What the bar carries at the cross-hole, by size: N m and N.

    Attributes
    ----------
    bend_bit, bend_across : moment in the bit plane and across it
    torque, axial
    """

    bend_bit: float
    bend_across: float
    torque: float = 0.0
    axial: float = 0.0

    @property
    def moment(self) -> float:
        """Both planes together, N m."""
        return hypot(self.bend_bit, self.bend_across)


def loads_at(reactions: tuple[Reaction, ...], station: float) -> tuple[HoleLoad, HoleLoad]:
    """Load of the bar just before a station and just after it.

    They differ by what acts there: at the edge, the torque, the feed force, and its moment.
    """
    before = [one for one in reactions if one.station < station]
    after = [one for one in reactions if one.station >= station]
    bit, across = bending_moment(reactions, station)
    near = HoleLoad(
        bend_bit=abs(bit),
        bend_across=abs(across),
        torque=abs(sum(one.torque for one in before)),
        axial=abs(sum(one.axial for one in before)),
    )
    far = HoleLoad(
        bend_bit=abs(sum(one.radial * (one.station - station) + one.moment_bit for one in after)),
        bend_across=abs(
            sum(one.tangential * (one.station - station) + one.moment_across for one in after)
        ),
        torque=abs(sum(one.torque for one in after)),
        axial=abs(sum(one.axial for one in after)),
    )
    return near, far


def bending_stress(moment: float, diameter: float) -> float:
    """Stress of the plain bar at its outer fibre, ``32 M / pi D^3``, Pa."""
    return 32 * moment / (pi * diameter**3)


def peak_stress(load: HoleLoad, factors: GrossFactors, diameter: float) -> float:
    """Largest stress at the hole, all four peaks added, Pa: an upper bound."""
    return (
        factors.bend_bit * bending_stress(load.bend_bit, diameter)
        + factors.bend_across * bending_stress(load.bend_across, diameter)
        + factors.torsion * 16 * load.torque / (pi * diameter**3)
        + factors.axial * load.axial / circle_area(diameter)
    )


def net_stress(load: HoleLoad, case: Case) -> float:
    """Nominal stress at the mouths on the exact net section, bit plane and pull, Pa."""
    hole = case.cross_hole
    diameter = case.bar_diameter(hole.position)
    net = slotted_section(diameter, hole.size, hole.middle, case.bar.material.poisson)
    # The mouths reach highest where their edge is nearest to the middle of the bar.
    nearest = abs(abs(hole.middle) - hole.size / 2)
    fibre = sqrt(diameter**2 / 4 - nearest**2)
    return load.bend_bit * fibre / net.second_moment_bit + load.axial / net.area


def sag_moment(case: Case) -> float:
    """Moment of the bar's own weight at the hole, N m; reverses each turn.

    Simply supported between its supports, ``w a (L - a) / 2``; in a chuck or collet what a clamped
    end makes of it, ``w (L^2 - 5 L a + 4 a^2) / 8``, where that is more: within L/8 of the grip.
    With one support ``w (L - a)^2 / 2`` of the bar beyond the hole.
    """
    a, L, drive = case.cross_hole.position, case.bar.span, case.supports.drive
    weight = GRAVITY * case.bar.material.density * circle_area(case.bar.diameter)
    if case.supports.tail is None:
        return float(weight * (case.ends[1] - a) ** 2 / 2)
    simple = weight * a * (L - a) / 2
    if drive.tilt_stiffness == 0:
        return float(simple)
    return float(max(simple, weight * (L**2 - 5 * L * a + 4 * a**2) / 8))


def tail_offset(case: Case) -> float:
    """How far the tail stands off the grip's own line, m, with its range; 0 between centres."""
    return getattr(case.supports.drive, "tail_offset", 0.0)


def misalignment_moment(case: Case, offset: float) -> float:
    """Moment at the hole from a tail that stands `offset` m off the drive's line; reverses.

    A plain bar held by the drive's tilt spring and propped at the tail: the prop's push is
    ``offset / (L^3/3EI + L^2/kt + 1/k1 + 1/k2)`` and bends the hole at its distance from the tail.
    Nothing between centres, which let the bar tilt.
    """
    drive, tail = case.supports.drive, case.supports.tail
    if tail is None or drive.tilt_stiffness == 0:
        return 0.0
    start = sum(drive.contact) / 2
    L = case.bar.span - start
    EI = float(case.bar.material.elastic_modulus) * circle_second_moment(case.bar.diameter)
    give = L**3 / (3 * EI) + L**2 / drive.tilt_stiffness
    give += 1 / drive.vertical + 1 / tail.vertical
    return float(offset / give * (case.bar.span - case.cross_hole.position))


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """One way the stress at the hole comes and goes, notch sensitivity in it.

    Attributes
    ----------
    name : each pass, or each turn
    steady, alternating : Pa, mean and half the swing
    margin : by Goodman
    """

    name: str
    steady: float
    alternating: float
    margin: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fatigue:
    """Fatigue at the hole of a steel bar, likely cycles and the band of the lesser margin.

    `place` is where, in shop words.
    """

    place: str
    strength: FatigueStrength
    cycles: tuple[Cycle, ...]
    margin: Band

    @property
    def worst(self) -> Cycle:
        """The cycle that decides."""
        return min(self.cycles, key=lambda cycle: cycle.margin)


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """Strength of the bar at the cross-hole.

    Attributes
    ----------
    load : the heavier side of the hole, likely
    nominal : Pa, bending of the plain bar there, both planes, on the gross section
    net : Pa, nominal at the mouths on the exact net section
    raiser : factors where the peak is largest
    peak : Pa, there, over forces, supports and factors
    yield_strength : Pa
    yield_margin : yield over peak
    sag_moment, misalignment_moment : N m at the hole, reversed each turn
    fatigue : None for a bar that is not of steel
    """

    load: HoleLoad
    nominal: float
    net: float
    raiser: StressRaiser
    peak: Band
    yield_strength: float
    yield_margin: Band
    sag_moment: float
    misalignment_moment: Band
    fatigue: Fatigue | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Corner:
    """One end of everything guessed: loads, reversed moment, and the bar's strengths.

    `factors` are the plain bar's until one of its holes is looked at.
    """

    loads: tuple[HoleLoad, HoleLoad]
    reversed: HoleLoad
    entry: float
    diameter: float
    yield_strength: float
    tensile: float
    factors: GrossFactors = PLAIN

    def peak(self, factors: GrossFactors | None = None) -> float:
        """Peak under the cut, the heavier side of the hole, Pa."""
        chosen = factors or self.factors
        return max(peak_stress(load, chosen, self.diameter) for load in self.loads)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """What the bar bears at one of its holes; see `Strength`."""

    raiser: StressRaiser
    load: HoleLoad
    peak: Band
    yield_margin: Band
    fatigue: Fatigue | None


def solve_strength(case: Case, force: CuttingForce, factored: Factored) -> Strength:
    """Strength at the cross-hole under the case's force, over everything that was guessed.

    Parameters
    ----------
    factored : the bar of the case, beam or solid
    """
    hole = case.cross_hole
    diameter = case.bar_diameter(hole.position)
    corners = {end: _corners(case, force, factored, end) for end in ENDS}
    places = [_place(case, raiser, corners) for raiser in stress_raisers(hole, diameter)]
    worst = min(places, key=lambda place: place.yield_margin.low)
    fatigues = [place.fatigue for place in places if place.fatigue]
    return Strength(
        load=worst.load,
        nominal=bending_stress(worst.load.moment, diameter),
        net=net_stress(worst.load, case),
        raiser=worst.raiser,
        peak=worst.peak,
        yield_strength=corners["likely"][0].yield_strength,
        yield_margin=worst.yield_margin,
        sag_moment=sag_moment(case),
        misalignment_moment=Band.of(
            misalignment_moment(case, tail_offset(case)),
            misalignment_moment(case.at("low"), _at(tail_offset(case), "low")),
            misalignment_moment(case.at("high"), _at(tail_offset(case), "high")),
        ),
        fatigue=min(fatigues, key=lambda fatigue: fatigue.margin.low, default=None),
    )


def _place(case: Case, raiser: StressRaiser, corners: dict[End, list[_Corner]]) -> _Place:
    """What the bar bears at one of its holes."""
    every = [
        replace(corner, factors=getattr(raiser, end))
        for end, found in corners.items()
        for corner in found
    ]
    likely = replace(corners["likely"][0], factors=raiser.likely)
    return _Place(
        raiser=raiser,
        load=max(likely.loads, key=lambda load: peak_stress(load, raiser.likely, likely.diameter)),
        peak=Band.of(likely.peak(), *(corner.peak() for corner in every)),
        yield_margin=Band.of(_yield(likely), *map(_yield, every)),
        fatigue=_fatigue(likely, every, case.work.cuts_per_turn > 0, raiser)
        if is_steel(case.bar.material)
        else None,
    )


def _yield(corner: _Corner) -> float:
    peak = corner.peak()
    return corner.yield_strength / peak if peak > 0 else inf


def _corners(case: Case, force: CuttingForce, factored: Factored, end: End) -> list[_Corner]:
    """The likely case; or one end of what loads and bears it, the supports soft and stiff."""
    if end == "likely":
        return [_corner(case, factored, force, end)]
    stiffness: tuple[Literal["low", "high"], ...] = ("low", "high")
    return [_corner(*held_at(case, factored, stiff), force.at(end), end) for stiff in stiffness]


def _corner(case: Case, factored: Factored, force: CuttingForce, end: End) -> _Corner:
    """Everything at one end; `high` is the heavy force with the weak steel."""
    metal, station = case.bar.material, case.cross_hole.position
    weak = _OTHER_END[end]
    bent = sag_moment(case) + misalignment_moment(case, _at(tail_offset(case), end))
    return _Corner(
        loads=loads_at(reactions_to(Held(factored), force_on_bar(case, force)), station),
        reversed=HoleLoad(bend_bit=bent, bend_across=0.0),
        entry=_at(ENTRY, end) if case.work.cuts_per_turn else 1.0,
        diameter=case.bar_diameter(station),
        yield_strength=_at(metal.yield_strength, weak),
        tensile=_at(metal.tensile_strength or inf, weak),
    )


def _at(value: float, end: End) -> float:
    """One end of a value that may have a range."""
    if end == "likely" or not isinstance(value, Estimate):
        return float(value)
    return value.low if end == "low" else value.high


# --- fatigue ---------------------------------------------------------------------------------


def felt(factors: GrossFactors, sensitivity: float) -> GrossFactors:
    """Factors that fatigue feels, ``1 + q (K - 1)``; one below 1 is no notch and stays."""
    return GrossFactors(*(1 + sensitivity * (K - 1) if K > 1 else K for K in astuple(factors)))


def _fatigue(
    likely: _Corner, every: list[_Corner], interrupted: bool, raiser: StressRaiser
) -> Fatigue:
    """Cycles at the likely values, and the band of the lesser margin over every corner."""

    def strength(corner: _Corner) -> FatigueStrength:
        return fatigue_strength(corner.tensile, corner.diameter, raiser.corner)

    def least(corner: _Corner) -> float:
        return min(one.margin for one in _cycles(corner, strength(corner), interrupted))

    return Fatigue(
        place=raiser.place,
        strength=strength(likely),
        cycles=_cycles(likely, strength(likely), interrupted),
        margin=Band.of(least(likely), *map(least, every)),
    )


def _cycles(corner: _Corner, strength: FatigueStrength, interrupted: bool) -> tuple[Cycle, ...]:
    """Each pass: the cut comes and goes, counted as if without end. Each turn: what reverses.

    An interrupted cut also comes and goes within the turn, harder by the blow of its entry. The
    notch is felt by the steady part too, on the safe side.
    """
    raised = felt(corner.factors, strength.notch_sensitivity)
    cut = corner.peak(raised)
    back = peak_stress(corner.reversed, raised, corner.diameter)
    blow = cut * corner.entry
    turn = (blow / 2, blow / 2 + back) if interrupted else (cut, back)
    parts = {"each pass": (cut / 2, cut / 2 + back), "each turn": turn}
    return tuple(
        Cycle(
            name=name,
            steady=steady,
            alternating=alternating,
            margin=goodman_margin(strength, alternating, steady),
        )
        for name, (steady, alternating) in parts.items()
    )


# --- findings --------------------------------------------------------------------------------


def strength_findings(case: Case, strength: Strength) -> tuple[Finding, ...]:
    """Yield and fatigue at the hole against their limits, both at their worst."""
    margin = strength.yield_margin
    found = [
        at_least(
            "yield strength over the peak stress at the hole",
            margin.low,
            case.limits.yield_margin,
            "ratio",
            f"{_span(margin)} over what was guessed; judged at the worst. Stiffness and chatter "
            "run out long before strength in a light cut; a dig-in is what the margin is for",
        )
    ]
    if strength.fatigue is not None:
        fatigue = strength.fatigue
        tail = " and a tail out of line" if strength.misalignment_moment.high > 0 else ""
        found.append(
            at_least(
                "margin against fatigue at the hole",
                fatigue.margin.low,
                case.limits.fatigue_margin,
                "ratio",
                f"{_span(fatigue.margin)} over what was guessed; {fatigue.worst.name} decides. "
                "The cut turns with the bar and only comes and goes; what reverses each turn is "
                f"sag{tail}",
            )
        )
    return tuple(found)


def _span(band: Band) -> str:
    """Margins as a range with the likely one behind, two digits, none above 100."""
    low, likely, high = (
        "over 100" if end > 100 else f"{end:.2g}" for end in (band.low, band.likely, band.high)
    )
    return low if low == high else f"{low} to {high}, likely {likely}"
