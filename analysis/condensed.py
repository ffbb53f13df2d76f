"""A bar condensed to a few shapes, so that many supports and steels are solved at once.

While the sizes of a set-up stand, what varies is what holds the bar, how stiff and heavy its
steel is and how it is damped. The free bar is written once over few shapes: the modes it has on
its likely supports, and its answers to a unit push at each support and at the edge (R. R. Craig
& M. C. C. Bampton, AIAA J. 6 (1968) 1313, and the many kin of it; from memory). Any supports are
then a small dense problem, and hundreds of them go through the linear algebra in one call.

Statics need no shapes: the motions of supports and edge under loads on each are a small matrix
(`Factored.gram`), from which the Sherman-Morrison-Woodbury identity gives the held bar exactly.

The bit plane's motions (r, slope, x) and those across it (t, slope, turn) are apart as long as
the bit stands straight up and its hole couples nothing; where an off-centre hole does, both are
taken together. A bar of one modulus scales in stiffness as a whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .beam import beam_model
from .case import Case
from .doubt import DENSITY, DOG, Draws, value_at, with_values
from .keys import Key
from .model import Floats, Hold, Model, factorised
from .modes import undamped_modes

MODE_COUNT = 16
"""Modes of the full model from which the loop is built (see `chatter`), and these shapes."""
SMALLEST = 1e-11
"""Share of the largest below which a shape adds nothing new."""
SOFTEST = 1e-3
"""A spring that a draw leaves at nothing, N/m or N m/rad."""
BIT_PLANE, ACROSS, EVERY = (0, 3, 2), (1, 4, 5), (0, 1, 2, 3, 4, 5)
"""Of `model.MOTIONS`: straight, slope, and what goes with them; and all."""
STIFFNESSES = ("vertical", "horizontal", "axial", "tilt", "tilt", "turning")
"""Springs of a support on each of its motions, in the order of `model.MOTIONS` r, t, x, ..."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Springs:
    """Springs and dampers of every support, many draws of them.

    Attributes
    ----------
    vertical, horizontal, axial, tilt, turning : (n_sample, n_hold) N/m, N m/rad; inf is rigid
    damping : (n_sample, n_hold) N s/m, radial
    """

    vertical: Floats
    horizontal: Floats
    axial: Floats
    tilt: Floats
    turning: Floats
    damping: Floats

    def alike(self) -> Springs:
        """Return the springs with the mean give of up and sideways both ways."""
        with np.errstate(divide="ignore"):  # rigid both ways is rigid
            give = (1.0 / self.vertical + 1.0 / self.horizontal) / 2
        mean = np.divide(1.0, give, out=np.full_like(give, np.inf), where=give > 0.0)
        return Springs(
            vertical=mean,
            horizontal=mean,
            axial=self.axial,
            tilt=self.tilt,
            turning=self.turning,
            damping=self.damping,
        )

    def on_motions(self) -> Floats:
        """Stiffness on each motion of each support, (n_sample, n_hold, 6)."""
        return np.stack([getattr(self, name) for name in STIFFNESSES], axis=2)


def support_keys(case: Case) -> tuple[Key, ...]:
    """Keys of the supports, in the order of `Case.placed_supports`."""
    others = tuple(("supports", "others", k) for k in range(len(case.supports.others)))
    tail: tuple[Key, ...] = (("supports", "tail"),) if case.supports.tail is not None else ()
    return (("supports", "drive"), *others, *tail)


def springs_of(draws: Draws) -> Springs:
    """Springs of the supports of a case, drawn."""
    keys = support_keys(draws.case)

    def column(*names: str) -> Floats:
        every = [draws.of(*((*key, name) for name in names)) for key in keys]
        return np.maximum(np.stack(every, axis=1), 0.0)

    return Springs(
        vertical=np.maximum(column("vertical_stiffness", "radial_stiffness"), SOFTEST),
        horizontal=np.maximum(column("horizontal_stiffness", "radial_stiffness"), SOFTEST),
        axial=column("axial_stiffness"),
        tilt=column("tilt_stiffness"),
        turning=column("turning_stiffness"),
        damping=column("damping"),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plane:
    """Half of a free bar over few shapes of unit mass, or the whole of it.

    Attributes
    ----------
    stiffness : (n_shape,) 1/s2, at the likely modulus
    bar_mass, dog_mass : (n_shape, n_shape), what of the mass goes with density, at the likely
        one, and what 1 kg of dog adds; None where neither is in doubt
    hold : (n_hold, n_motion, n_shape) kg^-1/2, motions of each support
    edge : (2, n_shape) kg^-1/2, r and x of the edge
    swings : (4, n_shape, n_shape), swing along r, t, x and about x
    """

    stiffness: Floats
    bar_mass: Floats | None
    dog_mass: Floats | None
    hold: Floats
    edge: Floats
    swings: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaneModes:
    """Modes of one plane of many held bars.

    Attributes
    ----------
    squared : (n_sample, n_mode) 1/s2, lowest first
    shape : (n_sample, n_shape, n_mode), unit modal mass
    bending, endways : (n_sample, n_mode), whether it mostly bends, or moves along the bar
    """

    squared: Floats
    shape: Floats
    bending: NDArray[np.bool_]
    endways: NDArray[np.bool_]

    @property
    def frequency(self) -> Floats:
        """Frequencies, (n_sample, n_mode) Hz."""
        return np.asarray(np.sqrt(np.maximum(self.squared, 0.0)) / (2 * pi))

    def lowest(self, count: int, *, bending: bool) -> tuple[Floats, Floats]:
        """Squares (n_sample, count) and shapes of the lowest modes of one nature."""
        order = np.argsort(self.bending != bending, axis=1, kind="stable")[:, :count]
        squared = np.take_along_axis(self.squared, order, axis=1)
        return squared, np.take_along_axis(self.shape, order[:, None, :], axis=2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Condensed:
    """A bar free in space, over few shapes, with what statics needs of it.

    Attributes
    ----------
    bit, across : its two planes
    whole : both together, where the hole couples them
    gram, tie : of the factorised bar, see `model.Factored`
    planar_count, axial_count : modes of the bit plane among the lowest `MODE_COUNT`, likely
    sprung : (n_hold, 6), which motions of the supports have a spring at all
    """

    bit: Plane
    across: Plane
    whole: Plane | None
    gram: Floats
    tie: Floats
    planar_count: int
    axial_count: int
    sprung: NDArray[np.bool_]

    def modes(self, plane: Plane, stiffness: Floats, modulus: Floats, mass: Masses) -> PlaneModes:
        """Modes of one plane.

        Parameters
        ----------
        stiffness : (n_sample, n_hold, n_motion), on the plane's motions; inf is rigid
        modulus : (n_sample,), over the likely one
        """
        column, spring = _columns(plane, stiffness)
        rigid = np.isinf(spring).all(axis=0)
        free = _free_of(column[rigid], plane.stiffness.size)
        column, spring = column[~rigid] @ free, spring[:, ~rigid]
        own = free.T * plane.stiffness @ free
        whole = modulus[:, None, None] * own
        whole = whole + (column.T * spring[:, None, :]) @ column
        squared, shape = _eigen(whole, mass.over(plane, free))
        shape = free @ shape
        most = np.stack([_swing(part, shape) for part in plane.swings]).argmax(axis=0)
        return PlaneModes(squared=squared, shape=shape, bending=most < 2, endways=most == 2)

    def edge_give(self, springs: Springs, modulus: Floats, angles: Floats) -> Floats:
        """Motion of the edge per force on it over r, t, x, (n_sample, n_angle, 3, 3) m/N."""
        return _edge_give(self, springs, modulus, angles)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Masses:
    """What the draws change of the mass: density over the likely one, dog less the likely, kg."""

    density: Floats
    dog: Floats

    def over(self, plane: Plane, free: Floats) -> Floats | None:
        """Mass over the shapes that are left free, (n_sample, n, n); None where it is one."""
        if plane.bar_mass is None or plane.dog_mass is None:
            return None
        added = (self.density - 1.0)[:, None, None] * (free.T @ plane.bar_mass @ free)
        added = added + self.dog[:, None, None] * (free.T @ plane.dog_mass @ free)
        return np.asarray(np.eye(free.shape[1]) + added)


def masses_of(draws: Draws) -> Masses:
    """What the draws change of the bar's and the dog's mass."""
    density = draws.of(DENSITY) / float(draws.case.bar.material.density)
    if DOG not in draws.values:
        return Masses(density=density, dog=np.zeros(draws.count))
    return Masses(density=density, dog=draws.values[DOG] - float(value_at(draws.case, DOG)))


def _columns(plane: Plane, stiffness: Floats) -> tuple[Floats, Floats]:
    """Motions that springs resist (n_spring, n_shape), and the springs (n_sample, n_spring)."""
    count = plane.hold.shape[0] * plane.hold.shape[1]
    column = plane.hold.reshape(count, -1)
    spring = stiffness.reshape(stiffness.shape[0], count)
    sprung = (spring > 0.0).any(axis=0)
    return column[sprung], spring[:, sprung]


def _free_of(column: Floats, n_shape: int) -> Floats:
    """Orthonormal combinations of shapes that leave some motions at nothing, (n_shape, n)."""
    if not column.size:
        return np.eye(n_shape)
    _, size, right = np.linalg.svd(column, full_matrices=True)
    rank = int((size > 1e-10 * size[0]).sum())
    return np.asarray(right[rank:].T)


def _eigen(stiffness: Floats, mass: Floats | None) -> tuple[Floats, Floats]:
    """Squares and unit-mass shapes of many small problems, lowest first."""
    if mass is None:
        return np.linalg.eigh(stiffness)
    back = np.linalg.inv(np.linalg.cholesky(mass))
    squared, shape = np.linalg.eigh(back @ stiffness @ back.transpose(0, 2, 1))
    return squared, back.transpose(0, 2, 1) @ shape


def _swing(part: Floats, shape: Floats) -> Floats:
    """Size ``q^T part q`` of each mode, (n_sample, n_mode)."""
    return np.asarray((shape * (part @ shape)).sum(axis=1))


# --- statics ---------------------------------------------------------------------------------


def _edge_give(bar: Condensed, springs: Springs, modulus: Floats, angles: Floats) -> Floats:
    """Put on all but the radial springs once, then these at each angle as the ties are cut."""
    n_hold, tie = springs.vertical.shape[1], bar.tie
    at = 3 + np.arange(6 * n_hold).reshape(n_hold, 6)
    ties = np.arange(3 + 6 * n_hold, bar.gram.shape[0])
    still = at[:, 2:][bar.sprung[:, 2:]]
    kept = np.concatenate([np.arange(3), at[:, :2].ravel(), ties])
    stiffness = springs.on_motions()[:, :, 2:][:, bar.sprung[:, 2:]]
    # Times the modulus, so that the gram stays that of the likely steel.
    give = modulus[:, None] / np.maximum(stiffness, SOFTEST)
    between, gone = bar.gram[np.ix_(still, kept)], bar.gram[np.ix_(still, still)]
    left = _held(bar.gram[np.ix_(kept, kept)], between, gone, give)
    radial = np.stack([springs.vertical, springs.horizontal], axis=2).reshape(-1, 2 * n_hold)
    cut = np.broadcast_to(-1.0 / tie, (give.shape[0], tie.size))
    give = np.hstack([modulus[:, None] / radial, cut])
    found = [_at_angle(left, give, n_hold, angle) for angle in angles]
    return np.asarray(np.stack(found, axis=1) / modulus[:, None, None, None])


def _held(kept: Floats, between: Floats, gone: Floats, give: Floats) -> Floats:
    """Flexibility (n_sample, n, n) of what is kept once springs of some give hold the rest."""
    scale = 1.0 / np.sqrt(np.abs(np.diag(gone)) + np.abs(give[0]))
    scaled = gone * scale * scale[:, None] + _diagonal(give * scale**2)
    right = np.broadcast_to(between * scale[:, None], (give.shape[0], *between.shape))
    return np.asarray(kept - right.transpose(0, 2, 1) @ np.linalg.solve(scaled, right))


def _diagonal(values: Floats) -> Floats:
    """Diagonal matrices (n_sample, n, n) of values (n_sample, n)."""
    return np.asarray(values[:, :, None] * np.eye(values.shape[1]))


def _at_angle(left: Floats, give: Floats, n_hold: int, angle: float) -> Floats:
    """Edge's flexibility (n_sample, 3, 3), radial springs holding the bar at an angle."""
    cos, sin = np.cos(angle), np.sin(angle)
    turn = np.eye(give.shape[1])
    for k in range(n_hold):
        turn[2 * k : 2 * k + 2, 2 * k : 2 * k + 2] = [[cos, sin], [-sin, cos]]
    right = turn.T @ left[:, 3:, :3]
    held = turn.T @ left[:, 3:, 3:] @ turn
    scale = 1.0 / np.sqrt(np.abs(np.einsum("skk->sk", held)) + np.abs(give))
    held = held + _diagonal(give)
    scaled, right = held * scale[:, :, None] * scale[:, None, :], right * scale[:, :, None]
    return np.asarray(left[:, :3, :3] - right.transpose(0, 2, 1) @ np.linalg.solve(scaled, right))


# --- condensing ------------------------------------------------------------------------------


def condensed(case: Case, *, averaged: bool = False, masses: bool = False) -> Condensed:
    """Bar of a case over few shapes, its supports at their likely values.

    Parameters
    ----------
    averaged : whether both planes are given their mean, and each support both its ways, as
        for the loop
    masses : whether density or the dog's mass will vary
    """
    factored = factorised(beam_model(case, averaged=averaged))
    likely = factored.held_by(*(hold.alike() for hold in factored.model.holds))
    modes = undamped_modes(likely, count=MODE_COUNT, counted=False)
    model = factored.model
    pushed = factored.lu.solve(model.edge)
    given = np.hstack([pushed, factored.solved_motion, factored.solved_tie])
    added = _added_masses(case, averaged=averaged) if masses else None
    if added:
        given = np.hstack([given, factored.lu.solve(_columns_of(added[1]))])
    planes = modes.plane[:MODE_COUNT]
    return Condensed(
        bit=_plane(model, modes.shape, given, BIT_PLANE, added),
        across=_plane(model, modes.shape, given, ACROSS, added),
        whole=_plane(model, modes.shape, given, EVERY, added) if _coupled(model) else None,
        gram=factored.gram,
        tie=factored.tie,
        planar_count=planes.count("bit"),
        axial_count=planes.count("axial"),
        sprung=_sprung(model.holds),
    )


def _sprung(holds: tuple[Hold, ...]) -> NDArray[np.bool_]:
    stiffness = [[getattr(hold, name) for name in STIFFNESSES] for hold in holds]
    return np.array([[getattr(one, "high", one) > 0.0 for one in row] for row in stiffness])


def _added_masses(case: Case, *, averaged: bool) -> tuple[Any, Any]:
    """What the steel adds to the mass at its likely density, and 1 kg of dog; (n_dof, n_dof)."""
    base = beam_model(case, averaged=averaged).mass
    twice = {DENSITY: 2 * float(case.bar.material.density)}
    steel = beam_model(with_values(case, twice), averaged=averaged).mass - base
    likely = value_at(case, DOG)
    if likely is None:
        return steel, 0 * base
    heavier = with_values(case, {DOG: float(likely) + 1.0})
    return steel, beam_model(heavier, averaged=averaged).mass - base


def _columns_of(mass: Any) -> Floats:
    """What of a mass matrix is not nothing, (n_dof, n), each a load on the bar as it swings."""
    felt = np.flatnonzero(mass.diagonal())
    return np.asarray(mass[:, felt].toarray())


def _coupled(model: Model) -> bool:
    """Whether what happens in the bit plane stirs the other one."""
    field = np.arange(model.n_dof) // (model.n_dof // 6)
    one, other = (np.flatnonzero(np.isin(field, _FIELDS_OF[p])) for p in (BIT_PLANE, ACROSS))
    parts = (model.stiffness, model.mass)
    return any(bool(np.abs(part[one][:, other]).sum() > 0.0) for part in parts)


_FIELDS_OF: dict[tuple[int, ...], tuple[int, ...]] = {
    BIT_PLANE: (0, 1, 5),
    ACROSS: (2, 3, 4),
    EVERY: (0, 1, 2, 3, 4, 5),
}
"""Fields of the beam that move in each plane, see `timoshenko.FIELDS`."""


def _plane(
    model: Model,
    modes: Floats,
    given: Floats,
    motions: tuple[int, ...],
    added: tuple[Any, Any] | None,
) -> Plane:
    """One plane of the bar over its modes, and what its answers to loads add to them."""
    field = np.arange(model.n_dof) // (model.n_dof // 6)
    inside = np.isin(field, _FIELDS_OF[motions])[:, None]
    basis = _orthonormal(np.where(inside, modes, 0.0), model.mass)
    rest = np.where(inside, given, 0.0)
    for _ in range(2):
        rest = rest - basis @ (basis.T @ (model.mass @ rest))
    basis = np.hstack([basis, _orthonormal(rest, model.mass)])
    squared, turn = np.linalg.eigh(basis.T @ (model.stiffness @ basis))
    basis = basis @ turn
    along = np.asarray(model.along @ basis).reshape(6, model.stations.size, -1)
    weights = (*[model.station_mass] * 3, model.station_polar)
    ways = zip(along[[0, 1, 2, 5]], weights, strict=True)
    steel, dog = (basis.T @ (part @ basis) for part in added) if added else (None, None)
    return Plane(
        stiffness=np.maximum(squared, 0.0),
        bar_mass=steel,
        dog_mass=dog,
        hold=np.array([hold.motion[:, list(motions)].T @ basis for hold in model.holds]),
        edge=model.edge[:, [0, 2]].T @ basis,
        swings=np.stack([_weighted(*way) for way in ways]),
    )


def _weighted(along: Floats, weight: Floats) -> Floats:
    return np.asarray((along.T * weight) @ along)


def _orthonormal(shapes: Floats, mass: Any) -> Floats:
    """Combinations of shapes with unit mass matrix, what adds nothing new left out."""
    found = shapes
    for _ in range(2):
        length = np.sqrt(np.einsum("ij,ij->j", found, mass @ found))
        scaled = found[:, length > 0.0] / length[length > 0.0]
        size, turn = np.linalg.eigh(scaled.T @ (mass @ scaled))
        kept = size > SMALLEST * size[-1]
        found = scaled @ (turn[:, kept] / np.sqrt(size[kept]))
    return np.asarray(found)
