"""Fatigue of steel bars: what a smooth specimen bears, what this bar bears of it, and Goodman.

After J. E. Shigley & C. R. Mischke, Mechanical Engineering Design, and R. E. Peterson, Stress
Concentration Factors; every constant here is from memory. Stresses in Pa, lengths in m. For
steel only: aluminium, cast iron and carbide have no such limit or another one.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from .material import BarMaterial

RELIABILITY = 0.814
"""Of 99 bars in 100 (Shigley's table of reliability factors, 8 % scatter; from memory)."""
_MOST_LIMIT = 700e6
_STEEL = (185e9, 220e9)


@dataclass(frozen=True, slots=True, kw_only=True)
class FatigueStrength:
    """Stress that may reverse without end, and what it was made of.

    Attributes
    ----------
    smooth : Pa, of a polished small specimen
    surface, size, reliability : factors on it
    notch_sensitivity : share of the stress raiser that fatigue feels
    tensile : Pa
    """

    smooth: float
    surface: float
    size: float
    reliability: float
    notch_sensitivity: float
    tensile: float

    @property
    def endurance(self) -> float:
        """Stress that may reverse without end in this bar, Pa."""
        return self.smooth * self.surface * self.size * self.reliability


def is_steel(material: BarMaterial) -> bool:
    """Whether the rules of this page hold for a material; told by its stiffness."""
    low, high = _STEEL
    return material.tensile_strength is not None and low <= material.elastic_modulus <= high


def smooth_limit(tensile: float) -> float:
    """Endurance limit of a polished specimen in rotating bending: half the tensile strength.

    At most 700 MPa, reached at 1400 MPa tensile (Shigley, eq. 6-8; from memory).
    """
    return min(tensile / 2, _MOST_LIMIT)


def surface_factors(tensile: float) -> tuple[float, float]:
    """Surface factor of a machined bar by the newer and the older edition.

    ``3.04 S^-0.217`` (Shigley, 11th ed.) and ``4.51 S^-0.265`` (8th to 10th), S in MPa; from
    memory. They part by 8 % at 655 MPa.
    """
    return 3.04 * (tensile / 1e6) ** -0.217, 4.51 * (tensile / 1e6) ** -0.265


def size_factor(diameter: float) -> float:
    """Size factor in bending: ``1.24 d^-0.107`` to 51 mm, ``1.51 d^-0.157`` to 254 mm, d in mm.

    Shigley, eq. 6-20 (from memory); 1 below 7.6 mm. That of a turning bar, on the safe side.
    """
    d = diameter * 1e3
    return float(min(1.0, 1.24 * d**-0.107 if d <= 51 else 1.51 * d**-0.157))


def peterson_constant(tensile: float) -> float:
    """Peterson's notch constant of steel, m: ``0.0254 mm (2070 MPa / Su)^1.8`` (from memory)."""
    return float(0.0254e-3 * (2070e6 / tensile) ** 1.8)


def peterson_sensitivity(tensile: float, radius: float) -> float:
    """Share of a stress raiser that fatigue feels, ``1 / (1 + a/r)`` (Peterson)."""
    return 1 / (1 + peterson_constant(tensile) / radius)


def neuber_sensitivity(tensile: float, radius: float) -> float:
    """The same in bending by Neuber's constant (Shigley, eq. 6-35; from memory).

    ``sqrt(a) = 0.246 - 3.08e-3 S + 1.51e-5 S^2 - 2.67e-8 S^3`` in sqrt(in), S in ksi; 0.05 to
    0.1 below Peterson's. A second opinion: the larger of the two, Peterson's, is used.
    """
    s = tensile / 6.894757e6
    root = 0.246 - 3.08e-3 * s + 1.51e-5 * s**2 - 2.67e-8 * s**3
    return 1 / (1 + root / sqrt(radius / 0.0254))


def fatigue_strength(tensile: float, diameter: float, corner: float) -> FatigueStrength:
    """Fatigue strength of a steel bar with a notch of radius `corner`, machined.

    Of the two surface factors the lower is taken.
    """
    return FatigueStrength(
        smooth=smooth_limit(tensile),
        surface=min(1.0, *surface_factors(tensile)),
        size=size_factor(diameter),
        reliability=RELIABILITY,
        notch_sensitivity=peterson_sensitivity(tensile, corner),
        tensile=tensile,
    )


def goodman_margin(strength: FatigueStrength, alternating: float, steady: float) -> float:
    """How many times over both parts may grow together: modified Goodman.

    ``1 / n = alternating / Se + steady / Su`` (from memory, any text on machine design).
    """
    used = alternating / strength.endurance + steady / strength.tensile
    return 1 / used if used > 0 else float("inf")
