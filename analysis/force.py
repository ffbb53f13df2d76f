"""The cutting force of one cut, from published constants or as the case gives it.

Forces are summed over the engaged edge by Kienzle (see `edge`): along the edge's motion from
``k_c1.1, m_c``, along its normal from ``k_n1.1, m_n``. A depth below the nose radius so pushes
along the bit, a deep cut with a small nose along the bar. The constants are those of a sharp edge
at a table's rake and speed; what this edge differs by comes as factors, each kept apart with its
source. A handbook's power constant may take the place of ``k_c1.1``; the two are always shown
side by side where both are known, because they differ.

The ranges of ``k_c1.1`` and ``k_n1.1`` already span what the sources differ by over ordinary
feeds; the ranges of the exponents are not stacked on them.

O. Kienzle, VDI-Z 94 (1952) 299 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import degrees, hypot, prod
from typing import Literal

import numpy as np

from .case import Case
from .cut import TypedForce
from .edge import Edge, EdgeForce, Floats, Kienzle, edge_force
from .material import is_shipped
from .units import Estimate

End = Literal["low", "high"]
Parts = Literal["every part", "tangential", "radial and axial"]

RAKE_PER_DEGREE = Estimate(0.015, 0.01, 0.02)
"""Fall of the force per degree of rake; German texts give 1.5 %, the range is a guess."""
HSS_LOW_SPEED = Estimate(1.15, 1.1, 1.25)
"""Force of high-speed steel at low speed over that of tables near 100 m/min; from memory."""
SLOW, TABLE_SPEED = 50 / 60, 100 / 60
"""Below the first the low-speed factor is whole, above the second it is nothing, m/s."""
# Feed against factor, Machinery's Handbook table of feed factors for power constants, metric
# (from memory).
FEED_FACTORS = (
    (0.02, 1.70),
    (0.05, 1.40),
    (0.10, 1.25),
    (0.15, 1.15),
    (0.20, 1.08),
    (0.25, 1.04),
    (0.30, 1.00),
    (0.40, 0.94),
    (0.50, 0.90),
    (0.60, 0.87),
    (0.80, 0.82),
    (1.00, 0.78),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """One reason why this edge takes another force than the table's.

    Attributes
    ----------
    value : what it multiplies the force by
    parts : which parts of the force it multiplies
    """

    name: str
    value: Estimate
    source: str
    parts: Parts = "every part"


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherMethod:
    """What another way to the force along the edge's motion would have given, N."""

    name: str
    tangential: Estimate
    source: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CuttingForce:
    """Force of the bit on the work, N, with the power and torque it takes.

    Attributes
    ----------
    radial, tangential, axial : N, likely value with its range; radial is negative where the
        edge pulls itself into the work
    specific_force : Pa, cutting-direction force over chip section before any factor; None if
        the force was typed
    power : W, at the edge
    torque : N m, on the bar
    origin : typed, shipped table, or own values
    method : typed, kienzle, or power constant
    factors : what the table's force was multiplied by; none if it was typed
    other_methods : the tangential force by the methods not used
    edges : force and gains of the edge, likely, low and high; under a typed force the table's
        gains, each direction in the proportion of the typed force to the table's
    """

    radial: Estimate
    tangential: Estimate
    axial: Estimate
    specific_force: float | None
    power: float
    torque: float
    origin: str
    method: str
    factors: tuple[Factor, ...]
    other_methods: tuple[OtherMethod, ...]
    edges: tuple[EdgeForce, EdgeForce, EdgeForce]

    @property
    def edge(self) -> EdgeForce:
        """Likely force and gains of the edge."""
        return self.edges[0]

    def edge_at(self, end: End) -> EdgeForce:
        """Force and gains of the edge at the light or the heavy end of the range."""
        return self.edges[1 if end == "low" else 2]

    def at(self, end: End) -> CuttingForce:
        """Return the same force at the light or the heavy end of its range, every part alike."""
        edge = self.edge_at(end)
        parts = (float(part) for part in edge.resultant)
        radial, tangential, axial = (Estimate(part, part, part) for part in parts)
        return replace(
            self, radial=radial, tangential=tangential, axial=axial, edges=(edge, edge, edge)
        )


def rake_factor(rake: float, reference: float) -> Estimate:
    """Force at a rake over the force at the table's rake; both rad.

    ``1 - 0.015 (rake - reference)`` in degrees (Dietrich and Tschaetsch, Praxis der
    Zerspanungstechnik, 2014; the 1.5 % from memory). Good for some tens of degrees. Texts give
    the two smaller forces three times this slope (from memory), which is left to their range.
    """
    off = degrees(rake - reference)
    ends = sorted((1 - RAKE_PER_DEGREE.low * off, 1 - RAKE_PER_DEGREE.high * off))
    return Estimate(1 - RAKE_PER_DEGREE * off, *ends)


def low_speed_factor(speed: float) -> Estimate:
    """Force of high-speed steel at `speed` m/s over that at the tables' speed.

    1.1 to 1.25 below about 50 m/min against tables taken near 100 m/min (German texts, from
    memory); a straight line between, so that no speed makes the force jump.
    """
    share = min(1.0, max(0.0, (TABLE_SPEED - speed) / (TABLE_SPEED - SLOW)))
    ends = (HSS_LOW_SPEED, HSS_LOW_SPEED.low, HSS_LOW_SPEED.high)
    likely, low, high = (1 + share * (end - 1) for end in ends)
    return Estimate(likely, low, high)


def feed_factor(feed: float) -> float:
    """Power per volume at a feed in m/rev over that at 0.3 mm/rev; held at the table's ends."""
    feeds, factors = zip(*FEED_FACTORS, strict=True)
    return float(np.interp(np.log(feed * 1e3), np.log(feeds), factors))


def energy_force(energy: float, depth: float, feed: float) -> float:
    """Force along the edge's motion, N, of a cut that takes `energy` J per m3 (that is, Pa).

    Power over cutting speed, with the volume cut per time ``speed x depth x feed``.
    """
    return energy * depth * feed


def cutting_force(case: Case) -> CuttingForce:
    """Cutting force of the case: typed, or from its work material by the case's method."""
    sharp = _sharp_edge(case)
    if case.cut.force is not None:
        return _typed(case, sharp)
    metal = case.work.material
    factors = _factors(case)
    push = _product(_relative(metal.normal_force), *_values(factors, "radial and axial"))
    tangential = _tangential(case, sharp, factors, case.cut.method)
    drag = [end / float(sharp.resultant[1]) for end in _ends(tangential)]
    likely, low, high = (
        sharp.scaled(np.array([out, along, out]))
        for out, along in zip(_ends(push), drag, strict=True)
    )
    sharp_force = float(sharp.resultant[1])
    if case.cut.method == "power constant":
        sharp_force = _energy_force(case)
    return _whole(
        case,
        sharp,
        (likely, low, high),
        specific=sharp_force / (case.cut.depth * case.cut.feed),
        origin="shipped table" if is_shipped(metal) else "own values",
        method=case.cut.method,
        factors=factors,
    )


def _sharp_edge(case: Case) -> EdgeForce:
    """Likely force and gains of a sharp edge at the table's rake and speed."""
    metal, cut, bit = case.work.material, case.cut, case.bit
    edge = Edge(
        depth=cut.depth, feed=cut.feed, nose_radius=bit.nose_radius, lead_angle=bit.lead_angle
    )
    cutting = Kienzle(k=float(metal.specific_force), m=float(metal.force_exponent))
    normal = Kienzle(k=float(metal.normal_force), m=float(metal.normal_exponent))
    return edge_force(edge, cutting, normal)


def _factors(case: Case) -> tuple[Factor, ...]:
    """What this edge and speed multiply the table's force by, under the case's method."""
    metal, cut = case.work.material, case.cut
    energy = cut.method == "power constant"
    kienzle: Parts = "radial and axial" if energy else "every part"
    found = [
        Factor(
            name="rake",
            value=rake_factor(case.bit.rake, metal.reference_rake),
            source="1.5 % per degree, Dietrich/Tschaetsch 2014 (from memory)",
            parts=kienzle,
        ),
        Factor(
            name="wear of the edge",
            value=_as_estimate(cut.edge_wear),
            source="1.1 finishing to 1.3 and more worn: German texts, Machinery's Handbook "
            "tool-wear factors (from memory)",
        ),
        Factor(
            name="low speed",
            value=low_speed_factor(case.surface_speed),
            source="1.1 to 1.25 below 50 m/min, German texts (from memory)",
            parts=kienzle,
        ),
    ]
    if energy:
        factor = feed_factor(cut.feed)
        source = "Machinery's Handbook feed factors (from memory)"
        value = Estimate(factor, factor, factor)
        found.append(Factor(name="feed", value=value, source=source, parts="tangential"))
    return tuple(found)


def _values(factors: tuple[Factor, ...], parts: Parts) -> list[Estimate]:
    return [factor.value for factor in factors if factor.parts in ("every part", parts)]


def _tangential(
    case: Case, sharp: EdgeForce, factors: tuple[Factor, ...], method: str
) -> Estimate:
    """Force along the edge's motion by one method, N; `factors` are that method's."""
    metal, cut = case.work.material, case.cut
    values = _values(factors, "tangential")
    if method == "kienzle":
        return _product(float(sharp.resultant[1]), _relative(metal.specific_force), *values)
    assert metal.power_constant is not None
    force = energy_force(float(metal.power_constant), cut.depth, cut.feed)
    return _product(force, _relative(metal.power_constant), *values)


def _energy_force(case: Case) -> float:
    """Force by the power constant at this feed, of a sharp edge, N."""
    metal, cut = case.work.material, case.cut
    assert metal.power_constant is not None
    return energy_force(float(metal.power_constant) * feed_factor(cut.feed), cut.depth, cut.feed)


def _others(case: Case, sharp: EdgeForce) -> tuple[OtherMethod, ...]:
    """Tangential force by every method that the case did not take, within the table's feeds."""
    metal, cut = case.work.material, case.cut
    taken = "typed" if cut.force is not None else cut.method
    if not metal.feed_least <= cut.feed <= metal.feed_most:
        return ()
    found = []
    for method, field in (("kienzle", "specific_force"), ("power constant", "power_constant")):
        if method != taken and getattr(metal, field) is not None:
            asked = cut.model_copy(update={"method": method})
            factors = _factors(case.model_copy(update={"cut": asked}))
            tangential = _tangential(case, sharp, factors, method)
            source = metal.sources.get(field, "own value")
            found.append(OtherMethod(name=method, tangential=tangential, source=source))
    return tuple(found)


def _typed(case: Case, sharp: EdgeForce) -> CuttingForce:
    """Force as it was typed, with the table's gains in its proportion."""
    typed = case.cut.force
    assert typed is not None
    parts = [_ends(_as_estimate(part)) for part in _parts_of(typed)]
    likely, low, high = (_fitted(sharp, np.array(end)) for end in zip(*parts, strict=True))
    return _whole(
        case,
        sharp,
        (likely, low, high),
        specific=None,
        origin="typed",
        method="typed",
        factors=(),
    )


def _fitted(sharp: EdgeForce, parts: Floats) -> EdgeForce:
    """Edge whose resultant is `parts`, (3,) N, its gains in the same proportion.

    Where the typed force or the table's has no part along r or x (the axial force is often left
    out), that row of the gains follows the other one's proportion.
    """
    return replace(sharp.scaled(_proportion(sharp, parts)), resultant=parts)


def _proportion(sharp: EdgeForce, parts: Floats) -> Floats:
    """Typed force over the table's in each direction, (3,) over r, t, x."""
    table = sharp.resultant
    share = {
        row: parts[row] / table[row]
        for row in (0, 2)
        if parts[row] > 0 and table[row] > 1e-9 * table[1]
    }
    whole = hypot(parts[0], parts[2]) / hypot(table[0], table[2])
    spare = next(iter(share.values()), whole)
    return np.array([share.get(0, spare), parts[1] / table[1], share.get(2, spare)])


def force_carried_over(planned: Case, other: Case) -> TypedForce:
    """What the typed force of the planned cut becomes at another depth, feed or bit.

    A typed force holds for the cut it was typed with. Each direction of another cut takes the
    proportion to the table's force that it has there, so the gains change with the edge and not
    the proportion. A direction that was left out stays out.
    """
    typed = planned.cut.force
    assert typed is not None
    at_plan, there = _sharp_edge(planned), _sharp_edge(other)
    parts = zip(*(_ends(_as_estimate(part)) for part in _parts_of(typed)), strict=True)
    ends = [
        np.where(np.array(end) > 0, _proportion(at_plan, np.array(end)) * there.resultant, 0.0)
        for end in parts
    ]
    radial, tangential, axial = (Estimate(*(float(end[row]) for end in ends)) for row in range(3))
    return TypedForce(radial=radial, tangential=tangential, axial=axial)


def _parts_of(typed: TypedForce) -> tuple[float, float, float]:
    return typed.radial, typed.tangential, typed.axial


def _whole(
    case: Case,
    sharp: EdgeForce,
    edges: tuple[EdgeForce, EdgeForce, EdgeForce],
    *,
    specific: float | None,
    origin: str,
    method: str,
    factors: tuple[Factor, ...],
) -> CuttingForce:
    """Put the force together from its edge at the likely value and both ends."""
    radial, tangential, axial = (
        _spread(*(float(edge.resultant[row]) for edge in edges)) for row in range(3)
    )
    return CuttingForce(
        radial=radial,
        tangential=tangential,
        axial=axial,
        specific_force=specific,
        power=float(tangential) * case.surface_speed,
        torque=float(tangential) * case.edge_radius,
        origin=origin,
        method=method,
        factors=factors,
        other_methods=_others(case, sharp),
        edges=edges,
    )


def _spread(likely: float, light: float, heavy: float) -> Estimate:
    """Range of a part of the force; an edge that pulls itself in has its heavy end below."""
    return Estimate(likely, min(light, heavy), max(light, heavy))


def _as_estimate(value: float) -> Estimate:
    return value if isinstance(value, Estimate) else Estimate(value, value, value)


def _ends(value: Estimate) -> tuple[float, float, float]:
    """Likely value, low and high end."""
    return float(value), value.low, value.high


def _relative(value: float) -> Estimate:
    """Range of a value as a share of its likely value."""
    likely, low, high = _ends(_as_estimate(value))
    return Estimate(1.0, low / likely, high / likely)


def _product(*values: float) -> Estimate:
    """Product of positive values, low ends with low ends and high with high."""
    likely, low, high = (
        prod(end) for end in zip(*map(_ends, map(_as_estimate, values)), strict=True)
    )
    return Estimate(likely, low, high)
