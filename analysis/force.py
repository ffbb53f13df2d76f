"""The cutting force of one cut, from a published specific force or as the case gives it.

The cutting-direction force is Kienzle's, ``F_c = k_c1.1 b h^(1-m)``, with the engaged edge (nose
arc, then the side at its lead angle) taken as one: ``b`` its length, ``h`` the chip section over
``b``. The push square to the cutting direction is a share of ``F_c`` and points square to the
chord of the engaged edge (L. V. Colwell, Trans. ASME 76 (1954) 199; from memory): nearly all
radial when the depth is well below the nose radius, nearly all axial when it is well above.

O. Kienzle, VDI-Z 94 (1952) 299 (from memory). Whole-edge values; the local slopes that decide
chatter need the edge in elements.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import acos, atan2, cos, pi, sin, tan
from typing import Literal

from .case import Case
from .units import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingForce:
    """Force of the bit on the work, N, with the power and torque it takes.

    Attributes
    ----------
    radial, tangential, axial : N, likely value with its range; positive in normal cutting
    specific_force : Pa, cutting-direction force over chip section; None if the force was typed
    power : W, at the edge
    torque : N m, on the bar
    origin : typed, or shipped table
    """

    radial: Estimate
    tangential: Estimate
    axial: Estimate
    specific_force: float | None
    power: float
    torque: float
    origin: str

    def at(self, end: Literal["low", "high"]) -> CuttingForce:
        """Return the same force at the light or the heavy end of its range, every part alike."""
        parts = (getattr(part, end) for part in (self.radial, self.tangential, self.axial))
        radial, tangential, axial = (Estimate(part, part, part) for part in parts)
        return replace(self, radial=radial, tangential=tangential, axial=axial)


@dataclass(frozen=True, slots=True, kw_only=True)
class EngagedEdge:
    """The part of the edge in the cut.

    Attributes
    ----------
    length : m, along the edge
    approach : rad, of the chord from the axis of the bar: 0 lies along it
    """

    length: float
    approach: float


def engaged_edge(depth: float, nose_radius: float, lead_angle: float) -> EngagedEdge:
    """Nose arc up to the side of the edge, then the side up to `depth`; m and rad.

    With the depth inside the arc the chord rises at half of ``acos(1 - depth/r)``.
    """
    arc = pi / 2 - lead_angle
    within = nose_radius * (1 - sin(lead_angle))
    if depth <= within:
        angle = acos(1 - depth / nose_radius)
        return EngagedEdge(length=nose_radius * angle, approach=angle / 2)
    side = depth - within
    along = nose_radius * cos(lead_angle) + side * tan(lead_angle)
    length = nose_radius * arc + side / cos(lead_angle)
    return EngagedEdge(length=length, approach=atan2(depth, along))


def kienzle_force(specific: float, exponent: float, width: float, thickness: float) -> float:
    """Cutting-direction force, N, of a chip `width` by `thickness` m; `specific` kc1.1 in Pa.

    The exponent works on the thickness in millimetres, as kc1.1 is defined at 1 mm by 1 mm.
    """
    return specific * width * thickness * (thickness * 1e3) ** -exponent


def cutting_force(case: Case) -> CuttingForce:
    """Cutting force of the case: typed, or from its work material's specific force."""
    if case.cut.force is not None:
        typed = case.cut.force
        parts = [_as_estimate(part) for part in (typed.radial, typed.tangential, typed.axial)]
        return _with_power(case, parts, None, "typed")
    metal, cut = case.work.material, case.cut
    edge = engaged_edge(cut.depth, case.bit.nose_radius, case.bit.lead_angle)
    thickness = cut.depth * cut.feed / edge.length
    sharp = kienzle_force(metal.specific_force, metal.force_exponent, edge.length, thickness)
    blunt, ratio = _as_estimate(cut.sharpness), _as_estimate(metal.thrust_ratio)
    spread = _as_estimate(metal.specific_force)
    low, high = spread.low / spread, spread.high / spread
    tangential = Estimate(sharp * blunt, sharp * blunt.low * low, sharp * blunt.high * high)
    push = Estimate(tangential * ratio, tangential.low * ratio.low, tangential.high * ratio.high)
    radial, axial = (_scaled(push, share(edge.approach)) for share in (cos, sin))
    return _with_power(case, [radial, tangential, axial], sharp, "shipped table")


def _as_estimate(value: float) -> Estimate:
    return value if isinstance(value, Estimate) else Estimate(value, value, value)


def _scaled(value: Estimate, factor: float) -> Estimate:
    return Estimate(value * factor, value.low * factor, value.high * factor)


def _with_power(
    case: Case, parts: list[Estimate], sharp: float | None, origin: str
) -> CuttingForce:
    radial, tangential, axial = parts
    section = case.cut.depth * case.cut.feed
    return CuttingForce(
        radial=radial,
        tangential=tangential,
        axial=axial,
        specific_force=None if sharp is None else sharp / section,
        power=float(tangential) * case.surface_speed,
        torque=float(tangential) * case.edge_radius,
        origin=origin,
    )
