"""Sections of a round bar: whole, with a flat, and cut by a cross-hole; one formula each.

Lengths in metres. ``r`` runs along the bit, ``t`` across it; bending *in the bit plane* is
resisted by the second moment about the t axis (the integral of r squared), bending *across* by
the integral of t squared. Second moments are about the section's own centroid.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import acos, asin, cos, pi, sin, sqrt


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """What a beam needs of a section.

    Attributes
    ----------
    area : m2
    second_moment_bit, second_moment_across : m4, integrals of r^2 and t^2 about the centroid
    torsion_constant : m4
    shear_coefficient : area that carries shear over area
    """

    area: float
    second_moment_bit: float
    second_moment_across: float
    torsion_constant: float
    shear_coefficient: float

    @property
    def polar_moment(self) -> float:
        """Polar second moment about the centroid, m4."""
        return self.second_moment_bit + self.second_moment_across


def circle_area(diameter: float) -> float:
    """Area of a circle, m2."""
    return pi * diameter**2 / 4


def circle_second_moment(diameter: float) -> float:
    """Second moment of a circle about a diameter, m4."""
    return pi * diameter**4 / 64


def shear_coefficient(poisson: float) -> float:
    """Shear coefficient of a solid circle, 6(1+nu)/(7+6nu).

    G. R. Cowper, J. Appl. Mech. 33 (1966) 335 (from memory). For sections whose displacement
    and rotation are taken as averages over the section, as they are in this program.
    """
    return 6 * (1 + poisson) / (7 + 6 * poisson)


def hutchinson_coefficient(poisson: float) -> float:
    """Shear coefficient of a solid circle, 6(1+nu)^2/(7+12nu+4nu^2).

    J. R. Hutchinson, J. Appl. Mech. 68 (2001) 87 (from memory): the value that three-dimensional
    theory gives a vibrating rod. On a bar of sixteen diameters the solid model's first three
    pitches meet it within 0.005 %, where Cowper's lies up to 0.17 % low in the third.
    """
    return 6 * (1 + poisson) ** 2 / (7 + 12 * poisson + 4 * poisson**2)


def rotation_lag(poisson: float) -> float:
    """How far a section's mean rotation lies behind the beam's slope, over the shear strain.

    A beam with Hutchinson's coefficient has the mean deflection of Saint-Venant's bar under any
    load spread evenly over sections, its own inertia included, if its slope is not the section's
    mean rotation but that plus ``(1 / k_Cowper - 1 / k_Hutchinson) V / G A``: with q per length,
    Betti's theorem gives bending ``M / E I`` an addition that goes with q and that the slope takes
    up. A shear force bends no further then, and Cowper's relation between mean deflection and
    mean rotation is met as well. A support that resists tilting resists the mean rotation.
    """
    return hutchinson_coefficient(poisson) / shear_coefficient(poisson) - 1


def energy_coefficient(poisson: float) -> float:
    """Shear coefficient of a solid circle by the energy of Saint-Venant's shear stresses.

    As far below Cowper's, in its reciprocal, as Hutchinson's is above: 6(1+nu)^2/(7+14nu+8nu^2)
    (J. D. Renton, Int. J. Solids Structures 27 (1991) 1771; from memory). For ends on which the
    shear stresses are Saint-Venant's own.
    """
    return 6 * (1 + poisson) ** 2 / (7 + 14 * poisson + 8 * poisson**2)


def round_section(diameter: float, poisson: float) -> Section:
    """Solid round section, with Cowper's shear coefficient."""
    second = circle_second_moment(diameter)
    return Section(
        area=circle_area(diameter),
        second_moment_bit=second,
        second_moment_across=second,
        torsion_constant=2 * second,
        shear_coefficient=shear_coefficient(poisson),
    )


def torsion_constant(area: float, polar_moment: float) -> float:
    """Torsion constant of a compact section, A^4/(4 pi^2 Ip), m4.

    Saint-Venant's approximation, scaled to be exact for a circle; within a few per cent for a
    circle with a shallow flat (S. Timoshenko & J. N. Goodier, Theory of Elasticity; from memory).
    """
    return area**4 / (4 * pi**2 * polar_moment)


def flatted_section(diameter: float, depth: float, poisson: float, *, across: bool) -> Section:
    """Round section with one flat of `depth`; `across` if the flat faces the t direction.

    The segment of half-angle a removed from a circle of radius R has area R^2 (a - sin a cos a)
    and second moments R^4/4 (a - sin a cos a + 2 sin^3 a cos a) and
    R^4/12 (3a - 3 sin a cos a - 2 sin^3 a cos a) about the circle's centre.
    """
    radius = diameter / 2
    half = acos(1 - depth / radius)
    s, c = sin(half), cos(half)
    lost = radius**2 * (half - s * c)
    lost_normal = radius**4 / 4 * (half - s * c + 2 * s**3 * c)
    lost_along = radius**4 / 12 * (3 * half - 3 * s * c - 2 * s**3 * c)
    area = circle_area(diameter) - lost
    first_moment = 2 / 3 * (radius * s) ** 3
    whole = circle_second_moment(diameter)
    normal = whole - lost_normal - first_moment**2 / area
    along = whole - lost_along
    return Section(
        area=area,
        second_moment_bit=along if across else normal,
        second_moment_across=normal if across else along,
        torsion_constant=torsion_constant(area, normal + along),
        shear_coefficient=shear_coefficient(poisson),
    )


def _strip(radius: float, position: float) -> tuple[float, float, float, float]:
    """Integrals from t = 0 to `position` over a circle: area, first, r-squared, t-squared."""
    t = max(-radius, min(radius, position))
    root = sqrt(radius**2 - t**2)
    angle = asin(t / radius)
    area = t * root + radius**2 * angle
    first = 2 / 3 * (radius**3 - root**3)
    r_squared = (t * root**3 + 1.5 * radius**2 * t * root + 1.5 * radius**4 * angle) / 6
    t_squared = (radius**4 * angle - t * root * (radius**2 - 2 * t**2)) / 4
    return area, first, r_squared, t_squared


def slotted_section(diameter: float, width: float, offset: float, poisson: float) -> Section:
    """Section at the middle of a cross-hole: the circle less a strip along r.

    The strip of `width` runs through the whole bar, its middle at t = `offset`. The torsion
    constant given is the polar second moment: a scale only, for the true one the two remaining
    segments would have to act alone, and over a short hole they do not.
    """
    radius = diameter / 2
    upper = _strip(radius, offset + width / 2)
    lower = _strip(radius, offset - width / 2)
    area, first, r_squared, t_squared = (u - v for u, v in zip(upper, lower, strict=True))
    net = circle_area(diameter) - area
    whole = circle_second_moment(diameter)
    bit = whole - r_squared
    across = whole - t_squared - first**2 / net
    return Section(
        area=net,
        second_moment_bit=bit,
        second_moment_across=across,
        torsion_constant=bit + across,
        shear_coefficient=shear_coefficient(poisson),
    )
