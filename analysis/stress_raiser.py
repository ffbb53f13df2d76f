"""How much the cross-hole and its screws' holes raise stress, over the plain bar's gross nominal.

A round hole: published fits, each *made gross with the nominal it was fitted with*, because a
factor of 3 on the gross section and one of 2 on the net say the same thing. They part by up to a
tenth, so they come as a band. A square hole: solids of ours (`square_hole_stress`), because no
fit is published and the corner decides. Bending across the hole has its own factor, below 1 for
a hole on the centre line, whose mouths lie on the neutral axis then; half the bit off the line it
is no longer small. ``a`` is hole over bar diameter throughout, up to 0.4.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import astuple, dataclass, replace
from math import log10, pi, sqrt

import numpy as np

from .bar import CrossHole, SetScrew
from .section import slotted_section
from .square_hole_stress import CORNERS, GrossFactors, is_sharp, square_hole_factors

Fit = Callable[[float], float]

ROARK = (
    "W. C. Young & R. G. Budynas, Roark's Formulas for Stress and Strain, 7th ed., table 17.1, "
    "radial hole in a shaft (torsion terms seen, the others from memory)"
)
PETERSON = "R. L. Norton, Machine Design, fit of Peterson's chart (from memory)"
DIN = "DIN 743-2, cross-hole (from memory)"
SOLIDS = "independent solid models of a round hole, second-order tetrahedra"

SQUARE_SPREAD = (-0.08, 0.25)
"""Of a square hole's factor. The table's meshes were too coarse at the corners: `peak`, on meshes
of a ninth of the corner radius and finer, found up to 18 % more (half the bit off, corners of a
tenth), never less; the fit misses by up to 8 %."""
_TOLD_FROM = 1.2
"""Bending across raised this much more than on the centre line is told."""
_DIN_END = 0.3

# Hole over bar diameter; largest principal stress over the gross nominal. At zero: G. Kirsch's
# small hole in a plate (1898), 3 in tension and 4 in shear.
_SOLID_SIZES = (0.0, 0.1, 0.2, 0.25, 0.3, 0.4)
_SOLID_BENDING = (3.0, 2.96, 3.14, 3.32, 3.57, 4.34)
_SOLID_TORSION = (4.0, 3.88, 3.94, 4.00, 4.11, 4.51)
_SOLID_ACROSS = (0.0, 0.24, 0.49, 0.61, 0.73, 1.02)


def roark_tension(a: float) -> float:
    """Tension over the gross section of a solid bar."""
    return 3.0 + 2.773 * a - 0.421 * a**2 + 16.841 * a**3


def roark_bending(a: float, bore: float = 0.0) -> float:
    """Bending, mouths at the outer fibre, over the gross section; `bore` over D up to 0.9."""
    second = -6.690 - 1.620 * bore + 4.432 * bore**2
    third = 44.739 + 10.724 * bore - 19.927 * bore**2
    fourth = -53.307 - 25.998 * bore + 43.258 * bore**2
    return 3.0 + second * a + third * a**2 + fourth * a**3


def roark_torsion(a: float, bore: float = 0.0) -> float:
    """Torsion, largest principal over the gross shear stress; `bore` over D up to 0.9."""
    second = -6.793 + 1.133 * bore - 0.126 * bore**2
    third = 38.382 - 7.242 * bore + 6.495 * bore**2
    fourth = -44.576 - 7.428 * bore + 58.656 * bore**2
    return 4.0 + second * a + third * a**2 + fourth * a**3


def net_modulus(a: float) -> float:
    """Exact section modulus in the bit plane at the hole's middle over that of the plain bar."""
    net = slotted_section(1.0, a, 0.0, 0.29)
    return net.second_moment_bit / (sqrt(1 - a**2) / 2) * 32 / pi


def usual_net_modulus(a: float) -> float:
    """The handbooks' ``pi D^3/32 - d D^2/6`` over ``pi D^3/32``; 3 % low at 0.2, 9 % at 0.3."""
    return 1 - 16 * a / (3 * pi)


def usual_net_torsion(a: float) -> float:
    """The handbooks' ``pi D^3/16 - d D^2/6`` over ``pi D^3/16``."""
    return 1 - 8 * a / (3 * pi)


def peterson_bending_net(a: float) -> float:
    """Bending over the *exact* net section (`PETERSON`); good to 0.3."""
    return 1.58990 - 0.63550 * log10(a)


def din_bending_net(a: float) -> float:
    """Bending over the handbooks' net section (`DIN`)."""
    return 3 + 1.4 * a - 2.8 * sqrt(a)


def din_torsion_net(a: float) -> float:
    """Torsion, largest shear over the handbooks' net shear stress (`DIN`)."""
    return 2.023 - 1.125 * sqrt(a)


def peterson_bending(a: float) -> float:
    """Bending over the gross section, by Peterson's chart; held below 0.05."""
    return peterson_bending_net(max(a, 0.05)) / net_modulus(max(a, 0.05))


def din_bending(a: float) -> float:
    """Bending over the gross section, by DIN 743; held above 0.3, where its net runs out."""
    a = min(a, _DIN_END)
    return din_bending_net(a) / usual_net_modulus(a)


def din_torsion(a: float) -> float:
    """Torsion, largest principal over the gross shear stress, by DIN 743; held above 0.3.

    In torsion the wall of a hole is pulled one way only: its principal stress is twice its shear.
    """
    a = min(a, _DIN_END)
    return 2 * din_torsion_net(a) / usual_net_torsion(a)


def din_tension(a: float) -> float:
    """Tension over the gross section, by DIN 743's ``3 - a`` on ``A - d D``; held above 0.3."""
    a = min(a, _DIN_END)
    return (3 - a) / (1 - 4 * a / pi)


def solid_bending(a: float) -> float:
    """Bending over the gross section (`SOLIDS`); the peak lies just below the surface."""
    return float(np.interp(a, _SOLID_SIZES, _SOLID_BENDING))


def solid_torsion(a: float) -> float:
    """Torsion, largest principal over the gross shear stress (`SOLIDS`)."""
    return float(np.interp(a, _SOLID_SIZES, _SOLID_TORSION))


def solid_across(a: float) -> float:
    """Stress at the hole over the bar's outer fibre, bending across the hole (`SOLIDS`)."""
    return float(np.interp(a, _SOLID_SIZES, _SOLID_ACROSS))


BENDING: dict[str, Fit] = {
    ROARK: roark_bending,
    PETERSON: peterson_bending,
    DIN: din_bending,
    SOLIDS: solid_bending,
}
TORSION: dict[str, Fit] = {ROARK: roark_torsion, DIN: din_torsion, SOLIDS: solid_torsion}
TENSION: dict[str, Fit] = {ROARK: roark_tension, DIN: din_tension}


@dataclass(frozen=True, slots=True, kw_only=True)
class StressRaiser:
    """Factors of a hole over the gross nominal stress, as a band.

    Attributes
    ----------
    place : where the stress peaks, in shop words
    source : in shop words
    sharp : whether the corners were sharper than the table and taken as a tenth of the hole
    corner : m, radius that decides the notch sensitivity: of the round hole, or of the corner
    """

    place: str
    low: GrossFactors
    likely: GrossFactors
    high: GrossFactors
    source: str
    sharp: bool
    corner: float


def stress_raisers(hole: CrossHole, diameter: float) -> tuple[StressRaiser, ...]:
    """Factors of a cross-hole in a bar of `diameter`, m, then of its screws' holes by size."""
    screws = {screw.diameter: screw for screw in hole.set_screws}
    return (stress_raiser(hole, diameter), *(screw_raiser(s, diameter) for s in screws.values()))


def screw_raiser(screw: SetScrew, diameter: float) -> StressRaiser:
    """Factors at the mouth of a set screw's hole, as if it were round and went right through.

    What the thread itself cuts is not in them.
    """
    found = _round(screw.diameter, 0.0, diameter)
    return replace(
        found,
        place="the mouth of a set screw's hole",
        low=_turned(found.low),
        likely=_turned(found.likely),
        high=_turned(found.high),
        source=found.source + "; a quarter turn from the bit; its thread is not in it",
    )


def _turned(factors: GrossFactors) -> GrossFactors:
    """The same of a hole a quarter turn round the bar."""
    return replace(factors, bend_bit=factors.bend_across, bend_across=factors.bend_bit)


def stress_raiser(hole: CrossHole, diameter: float) -> StressRaiser:
    """Factors of a cross-hole in a bar of `diameter`, m."""

    def made(offset: float) -> StressRaiser:
        if hole.shape == "round":
            return _round(hole.size, offset, diameter)
        return _square(hole, offset, diameter)

    found, centred = made(abs(hole.middle)), made(0.0)
    across, on_line = found.likely.bend_across, centred.likely.bend_across
    if across < _TOLD_FROM * on_line:
        return found
    seen = (
        "; off the centre line it sees the tangential force too: bending across is raised "
        f"{across:.2g} times, on the line {on_line:.2g}"
    )
    return replace(found, source=found.source + seen)


def _round(size: float, offset: float, diameter: float) -> StressRaiser:
    """Factors of a round hole whose middle lies `offset`, m, off the centre line."""
    a = size / diameter
    across = solid_across(a)
    columns = [[fit(a) for fit in fits.values()] for fits in (BENDING, TORSION, TENSION)]

    def picked(pick: Callable[[list[float]], float]) -> GrossFactors:
        bend, turn, pull = map(pick, columns)
        return GrossFactors(bend_bit=bend, bend_across=across, torsion=turn, axial=pull)

    source = "round hole: Roark; the band holds Peterson's chart, DIN 743 and solids"
    moved = _off_centre(a, offset / size)
    if offset:
        source += "; off the centre line as much more as a square hole's"
    return StressRaiser(
        place="the cross-hole",
        low=_times(picked(min), moved),
        likely=_times(picked(lambda column: column[0]), moved),
        high=_times(picked(max), moved),
        source=source,
        sharp=False,
        corner=size / 2,
    )


def _off_centre(a: float, offset: float) -> GrossFactors:
    """What an offset, over the size, does to a hole's factors: taken from the roundest square."""
    there, centred = (
        np.array(astuple(square_hole_factors(a, CORNERS[-1], p))) for p in (offset, 0.0)
    )
    return GrossFactors(*(float(ratio) for ratio in there / centred))


def _square(hole: CrossHole, offset: float, diameter: float) -> StressRaiser:
    corner, sharp = hole.corner_radius / hole.size, is_sharp(hole.corner_radius / hole.size)
    likely = square_hole_factors(hole.size / diameter, corner, offset / hole.size)
    source = (
        f"square hole with corners of {max(corner, 0.1):.2g} of it: found on our own solid models"
    )
    if sharp:
        source += "; sharper than they follow: taken as a radius of a tenth, true stress is higher"
    less, more = (GrossFactors(*4 * (1 + spread,)) for spread in SQUARE_SPREAD)
    return StressRaiser(
        place="the cross-hole",
        low=_times(likely, less),
        likely=likely,
        high=_times(likely, more),
        source=source,
        sharp=sharp,
        corner=max(corner, CORNERS[0]) * hole.size,
    )


def _times(factors: GrossFactors, by: GrossFactors) -> GrossFactors:
    pairs = zip(astuple(factors), astuple(by), strict=True)
    return GrossFactors(*(one * other for one, other in pairs))
