"""Static deflection at the edge under the cutting force, and what it does to the bore.

The force turns with the bar and, in the bar, is steady. Supports and work stand still, so the
bit meets them at every angle in turn: the mean over a turn sets the size of the bore and the swing
about it makes the bore oval. First order in the radial motion (diameter error 2 u_r), second in
the tangential (u_t^2 / R); S. P. Timoshenko, Strength of Materials, for the beam itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, hypot, inf, pi, sin

import numpy as np

from .case import Case
from .errors import SolveError
from .force import CuttingForce
from .model import Factored, Floats, Held, Hold
from .units import show
from .work import Work

ANGLES: Floats = np.arange(24, dtype=np.float64) * (pi / 12)
HSS_MODULUS = 217e9
HSS_POISSON = 0.28
TOO_SOFT = 1e4
"""A support that a finger moves by a millimetre holds nothing, N/m."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reaction:
    """What the bar puts on one support with the bit straight up, N and N m."""

    support: str
    station: float
    radial: float
    tangential: float
    axial: float
    moment_bit: float
    moment_across: float
    torque: float

    @property
    def moment(self) -> float:
        """Moment that tilts the bar in the support, both planes together, N m."""
        return hypot(self.moment_bit, self.moment_across)


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """How much of the give at the edge, along the bit, is in one part."""

    part: str
    compliance: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Statics:
    """Answer to the cutting force.

    Attributes
    ----------
    compliance : (3, 3) m/N, edge against headstock over r, t, x, mean over a turn
    loop_compliance : (3, 3) m/N, edge against work, mean over a turn: with the bit and work side
    deflection : (3,) m, edge against work; negative r is away from the cut
    diameter_error : m, negative where the bore comes out small
    ovality : m, largest diameter less smallest
    sag : m, drop of the bar at the bit under its own weight
    reactions : with the bit straight up
    give : shares of the radial give, largest first
    along : (6, n_station), motion along the bar with the bit straight up, see `model.MOTIONS`
    motion : (n_dof,), the same, whole
    unbalanced : largest unbalanced load over the largest load of the solve
    """

    compliance: Floats
    loop_compliance: Floats
    deflection: Floats
    diameter_error: float
    ovality: float
    sag: float
    reactions: tuple[Reaction, ...]
    give: tuple[Share, ...]
    along: Floats
    motion: Floats
    unbalanced: float

    @property
    def stiffness_radial(self) -> float:
        """Push along the bit per movement of edge against work, N/m."""
        return float(1.0 / self.loop_compliance[0, 0])

    @property
    def stiffness_tangential(self) -> float:
        """Push across the bit per movement of edge against work, N/m."""
        return float(1.0 / self.loop_compliance[1, 1])


def force_on_bar(case: Case, force: CuttingForce) -> Floats:
    """Force of the work on the edge along r, t, x, N: the cut pushes back on all three."""
    cut = np.array([force.radial, force.tangential, force.axial], dtype=float)
    return np.asarray(push_back(case) * cut)


def push_back(case: Case) -> Floats:
    """Sign with which each part of the cut's force comes back on the bar along r, t, x, (3,)."""
    return np.array([-1.0, -1.0, -1.0 if case.cut.feed_towards == "headstock" else 1.0])


def bit_compliance(size: float, projection: float, *, square: bool) -> tuple[float, float]:
    """Give of a high-speed-steel bit along and across itself, m/N.

    A cantilever built in at the bar's surface: ``p/EA`` along, ``p^3/3EI + 6p/5GA`` across (10/9
    in place of 6/5 for a round bit). The seat's own give is not in it.
    """
    area, second = size**2, size**4 / 12
    if not square:
        area, second = pi * size**2 / 4, pi * size**4 / 64
    G = HSS_MODULUS / (2 * (1 + HSS_POISSON))
    shear = (6 / 5 if square else 10 / 9) * projection / (G * area)
    return projection / (HSS_MODULUS * area), projection**3 / (3 * HSS_MODULUS * second) + shear


def work_compliance(work: Work, angle: float) -> Floats:
    """Give of the work side over r, t, x with the bit `angle` past straight up, (3, 3), m/N.

    The work stands still in the room while the bit turns in it, so what it gives up and down and
    sideways is turned into the bar's axes as the supports are (see `model.springs`).
    """
    up = np.array([cos(angle), -sin(angle), 0.0])
    sideways = np.array([sin(angle), cos(angle), 0.0])
    given = np.outer(up, up) / work.vertical + np.outer(sideways, sideways) / work.horizontal
    return np.asarray(given + np.diag([0.0, 0.0, 1.0 / work.axial_stiffness]))


def bit_compliances(case: Case) -> Floats:
    """Give of the bit over r, t, x, (3, 3), m/N: the feed bends it as the drag does."""
    square = case.cross_hole.shape == "square"
    along, across = bit_compliance(case.bit.size, case.projection, square=square)
    return np.diag([along, across, across])


def edge_compliances(factored: Factored) -> Floats:
    """Edge compliance at each of `ANGLES`, (24, 3, 3), m/N; supports alike all round have one."""
    if all(hold.vertical == hold.horizontal for hold in factored.model.holds):
        return np.tile(Held(factored).edge_compliance, (ANGLES.size, 1, 1))
    return np.array([Held(factored, angle).edge_compliance for angle in ANGLES])


def mean_compliance(factored: Factored) -> Floats:
    """Edge compliance over r, t, x, mean over a turn, (3, 3), m/N."""
    return np.asarray(edge_compliances(factored).mean(axis=0))


def bore_size(compliances: Floats, force: Floats, radius: float) -> tuple[float, float]:
    """Diameter error and ovality of a bore cut by an edge that gives, m.

    Examples
    --------
    Supports twice as stiff one way as the other, the force along the bit only: the compliance
    swings between 1 and 2 um/N, and a push of 10 N bores a hole 30 um small and 20 um oval.

    >>> c = np.zeros((24, 3, 3)); c[:, 0, 0] = 1.5e-6 + 0.5e-6 * np.cos(2 * ANGLES)
    >>> error, oval = bore_size(c, np.array([-10.0, 0.0, 0.0]), 0.02)
    >>> round(error * 1e6, 3), round(oval * 1e6, 3)
    (-30.0, 20.0)
    """
    motion = compliances @ force
    radial = motion[:, 0] + motion[:, 1] ** 2 / (2 * radius)
    swing = np.abs(np.fft.rfft(radial)[2]) * 2 / radial.size
    # A picometre is round-off.
    return float(2 * radial.mean()), float(4 * swing) if swing > 1e-12 else 0.0


def series_compliance(case: Case) -> Floats:
    """Give of bit and work side over r, t, x at each of `ANGLES`, (24, 3, 3), m/N."""
    work = np.array([work_compliance(case.work, angle) for angle in ANGLES])
    return np.asarray(bit_compliances(case) + work)


def size_and_ovality(case: Case, force: CuttingForce, factored: Factored) -> tuple[float, float]:
    """Diameter error (negative: bore small) and ovality of the bore, m."""
    compliances = edge_compliances(factored) + series_compliance(case)
    return bore_size(compliances, force_on_bar(case, force), case.edge_radius)


def solve_statics(
    case: Case, force: CuttingForce, factored: Factored, plain: Factored | None = None
) -> Statics:
    """Answer of the held bar to the cutting force.

    Parameters
    ----------
    factored : the bar of the case
    plain : the same bar without its cross-hole, to tell the hole's share of the give

    Raises
    ------
    SolveError
        Loads and reactions do not balance to 1e-8.
    """
    model, load = factored.model, force_on_bar(case, force)
    bar = edge_compliances(factored)
    whole = bar + series_compliance(case)
    held = Held(factored)
    loads = np.column_stack([model.edge @ load, model.sag_load])
    response = held.solve(loads)
    unbalanced = _check_balance(held, loads, response.motion, response.spring_force)
    loop = whole.mean(axis=0)
    error, ovality = bore_size(whole, load, case.edge_radius)
    return Statics(
        compliance=bar.mean(axis=0),
        loop_compliance=loop,
        deflection=loop @ load,
        diameter_error=error,
        ovality=ovality,
        sag=float(-(model.edge[:, 0] @ response.motion[:, 1])),
        reactions=_reactions(held, response.spring_force[:, 0]),
        give=_give(case, factored, plain),
        along=(model.along @ response.motion[:, 0]).reshape(6, -1),
        motion=response.motion[:, 0],
        unbalanced=unbalanced,
    )


def _check_balance(held: Held, loads: Floats, motion: Floats, force: Floats) -> float:
    """Largest rigid-body load that loads and springs leave over, relative; must be tiny."""
    model = held.factored.model
    left = loads - held.factored.motion @ (held.springs.column @ force)
    size = np.abs(model.rigid).T @ np.abs(loads) + 1e-300
    worst = float(np.max(np.abs(model.rigid.T @ left) / size.max(axis=0)))
    if worst > 1e-8:
        raise SolveError(_unsound(held.factored.model.holds, worst))
    return worst


def _unsound(holds: tuple[Hold, ...], worst: float) -> str:
    """Why a solve cannot be trusted; a support that holds nothing is the usual reason."""
    softest = min(holds, key=lambda hold: min(hold.vertical, hold.horizontal))
    stiffness = min(softest.vertical, softest.horizontal)
    if stiffness < TOO_SOFT:
        return (
            f"the {softest.name} support, at {show(stiffness, 'stiffness')}, is too soft to mean "
            "anything: a finger would move it. Give the stiffness it has (most are over 1 N/um), "
            "or leave the support out"
        )
    return f"loads and reactions differ by {worst:.0e} of the load; the solve is not sound"


def _reactions(held: Held, spring_force: Floats) -> tuple[Reaction, ...]:
    taken = (held.springs.column @ spring_force).reshape(-1, 6)
    return tuple(
        Reaction(
            support=hold.name,
            station=hold.station,
            radial=float(taken[k, 0]),
            tangential=float(taken[k, 1]),
            axial=float(taken[k, 2]),
            moment_bit=float(taken[k, 3]),
            moment_across=float(taken[k, 4]),
            torque=float(taken[k, 5]),
        )
        for k, hold in enumerate(held.factored.model.holds)
    )


def reactions_to(held: Held, force: Floats) -> tuple[Reaction, ...]:
    """What the bar puts on its supports under a force on the edge along r, t, x, N."""
    response = held.solve((held.factored.model.edge @ force)[:, None])
    return _reactions(held, response.spring_force[:, 0])


def bending_moment(reactions: tuple[Reaction, ...], station: float) -> tuple[float, float]:
    """Bending moment in the bit plane and across it, N m, just on the drive side of a station."""
    before = [one for one in reactions if one.station < station]
    bit = sum(one.radial * (station - one.station) - one.moment_bit for one in before)
    across = sum(one.tangential * (station - one.station) - one.moment_across for one in before)
    return bit, across


def _give(case: Case, factored: Factored, plain: Factored | None) -> tuple[Share, ...]:
    """Split the radial compliance at the edge by part, mean of the bit up and the bit level.

    A support's part is the energy its springs hold under a unit push (Clapeyron); the hole's is
    the compliance lost with it; the rest is the bar.
    """
    parts: dict[str, float] = {}
    for angle in (0.0, pi / 2):
        held = Held(factored, angle)
        taken = held.solve(factored.model.edge[:, 0]).spring_force[:, 0]
        energy = taken**2 * held.springs.flexibility
        for name, value in zip(_spring_names(held), energy, strict=True):
            parts[name] = parts.get(name, 0.0) + float(value) / 2
    bar = _mean_radial(factored) - sum(parts.values())
    if plain is not None:
        parts["cross-hole"] = max(0.0, _mean_radial(factored) - _mean_radial(plain))
        bar -= parts["cross-hole"]
    parts["bar"] = bar
    parts["bit"] = float(bit_compliances(case)[0, 0])
    parts["work side"] = case.work.give_across
    total = sum(parts.values())
    shares = (Share(part=name, compliance=c, share=c / total) for name, c in parts.items())
    return tuple(sorted((s for s in shares if s.share > 1e-6), key=lambda s: -s.share))


def _mean_radial(factored: Factored) -> float:
    both = (Held(factored, angle).edge_compliance[0, 0] for angle in (0.0, pi / 2))
    return float(sum(both)) / 2


def _spring_names(held: Held) -> list[str]:
    names = []
    for column, owner in zip(held.springs.column.T, held.springs.hold, strict=True):
        motion = int(np.argmax(np.abs(column[6 * owner : 6 * owner + 6])))
        way = ", tilting" if motion in (3, 4) else ""
        names.append(f"{held.factored.model.holds[owner].name} support{way}")
    return names


@dataclass(frozen=True, slots=True, kw_only=True)
class HandCheck:
    """The same radial give by a formula one can work with a calculator."""

    formula: str
    compliance: float
    difference: float


def hand_check(case: Case, compliance: float) -> HandCheck:
    """Radial compliance of the bar on its supports by the force method, m/N.

    A plain Euler bar of the diameter at the bit on two springs, the drive spring also resisting
    tilt: simply supported on springs, ``a^2 b^2 / 3EIL + (b/L)^2/k1 + (a/L)^2/k2``, less
    ``slope^2 / (1/kt + L/3EI + (1/k1 + 1/k2)/L^2)`` for the moment that the tilt spring takes,
    with ``slope = ab(L + b)/6EIL - b/(k1 L^2) + a/(k2 L^2)`` of the loaded bar at the drive
    support, b = L - a. One support: ``a^3 / 3EI + 1/k + a^2 / kt``. W. C. Young & R. G. Budynas,
    Roark's Formulas, beams, for the parts (from memory). Shear, steps, overhangs, and the
    cross-hole are left out.
    """
    drive, tail = case.supports.drive, case.supports.tail
    start = sum(drive.contact) / 2
    a = case.cross_hole.position - start
    EI = case.bar.material.elastic_modulus * pi * case.bar_diameter(case.cross_hole.position) ** 4
    EI /= 64
    k1, kt = _mean(drive.vertical, drive.horizontal), drive.tilt_stiffness
    if tail is None:
        value = a**3 / (3 * EI) + 1 / k1 + a**2 / kt
        formula = "a^3/3EI + 1/k1 + a^2/kt"
    else:
        k2 = _mean(tail.vertical, tail.horizontal)
        L = case.bar.span + sum(tail.contact) / 2 - start
        value, formula = _two_supports(a, L, EI, k1, kt, k2)
    if case.supports.others:
        formula += "; supports between are left out"
    return HandCheck(formula=formula, compliance=value, difference=value / compliance - 1)


def _mean(one: float, other: float) -> float:
    """Stiffness whose give is the mean of two, N/m."""
    give = (1 / one + 1 / other) / 2
    return 1 / give if give > 0 else inf


def _two_supports(
    a: float, L: float, EI: float, k1: float, kt: float, k2: float
) -> tuple[float, str]:
    b = L - a
    simple = a**2 * b**2 / (3 * EI * L) + (b / L) ** 2 / k1 + (a / L) ** 2 / k2
    if kt == 0:
        return simple, "a^2 b^2/3EIL + (b/L)^2/k1 + (a/L)^2/k2"
    slope = a * b * (L + b) / (6 * EI * L) - (b / L) / (k1 * L) + (a / L) / (k2 * L)
    given = 1 / kt + L / (3 * EI) + (1 / k1 + 1 / k2) / L**2
    formula = (
        "a^2 b^2/3EIL + (b/L)^2/k1 + (a/L)^2/k2 - s^2/(1/kt + L/3EI + (1/k1 + 1/k2)/L^2), "
        "s = ab(L+b)/6EIL - b/(k1 L^2) + a/(k2 L^2)"
    )
    return simple - slope**2 / given, formula
