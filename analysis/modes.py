"""Undamped modes of the held bar, named by the plane they move in.

Shift and invert about zero on ``K x = w^2 M x``, the held bar solved through `model.Held`; the
start vector is fixed, so the same case gives the same modes. Bars alike in both planes have
pairs of equal pitch, in which any mixture is a mode: such pairs are turned until one moves in
the bit plane and the other across.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import Literal

import numpy as np
from scipy.sparse.linalg import LinearOperator, eigsh

from .errors import SolveError
from .model import Factored, Floats, Held, Model, count_below

Plane = Literal["bit", "across", "torsion", "axial"]
COUNTABLE_GAP = 1e-3
PLANES: tuple[Plane, ...] = ("bit", "across", "axial", "torsion")
_MOVES = {"bit": 0, "across": 1, "axial": 2, "torsion": 5}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Modes:
    """Undamped modes, lowest first.

    Attributes
    ----------
    frequency : (n_mode,), Hz
    shape : (n_dof, n_mode), scaled to unit modal mass, kg^-1/2; from the drive on, the first
        motion in its plane that is half of the largest is positive
    plane : (n_mode,), where each mode moves most
    purity : (n_mode,), share of its motion that is in that plane
    residual : (n_mode,), of ``x = w^2 K^-1 M x``, relative
    damping : (n_mode,), damping ratio that the supports' dampers alone give each mode
    along : (n_mode, 6, n_station), motion along the bar, in the order of `model.MOTIONS`
    angle : rad, of the bit past straight up, at which the supports were taken
    """

    frequency: Floats
    shape: Floats
    plane: tuple[Plane, ...]
    purity: Floats
    residual: Floats
    damping: Floats
    along: Floats
    angle: float

    def first(self, plane: Plane) -> float:
        """Frequency of the lowest mode that moves in a plane, Hz; inf if none was found."""
        found = (f for f, p in zip(self.frequency, self.plane, strict=True) if p == plane)
        return min(found, default=float("inf"))

    @property
    def first_bending(self) -> float:
        """Frequency of the lowest bending mode in either plane, Hz."""
        return min(self.first("bit"), self.first("across"))


def undamped_modes(
    factored: Factored,
    *,
    count: int = 10,
    angle: float = 0.0,
    counted: bool = True,
    worst_residual: float = 1e-8,
) -> Modes:
    """Lowest modes of the held bar.

    Parameters
    ----------
    factored : the bar
    count : how many modes
    angle : radians of the bit past straight up
    counted : also check by inertia that no mode below the last one was missed
    worst_residual : largest residual to accept

    Raises
    ------
    SolveError
        A residual is above `worst_residual`, or the inertia count finds another number of modes.
    """
    model, held = factored.model, Held(factored, angle)
    n = model.n_dof

    def flexed(load: Floats) -> Floats:
        return held.solve(load, refined=False).motion[:, 0]

    inverse = LinearOperator((n, n), matvec=flexed, dtype=float)
    start = np.random.default_rng(20).standard_normal(n)
    # One more than asked for, so that a pair of equal pitch is not cut in two and left mixed.
    squared, shape = eigsh(
        model.stiffness, k=count + 1, M=model.mass, sigma=0.0, OPinv=inverse, v0=start, tol=1e-13
    )
    order = np.argsort(squared)
    squared, shape = squared[order], _normalised(model, shape[:, order])
    shape = _unmixed(model, squared, shape)[:, :count]
    squared = squared[:count]
    residual = _residuals(model, held, squared, shape)
    frequency = np.sqrt(squared) / (2 * pi)
    if residual.max() > worst_residual:
        message = (
            f"a mode came out with a residual of {residual.max():.0e}; "
            f"{worst_residual:.0e} is the most"
        )
        raise SolveError(message)
    if counted:
        _check_none_missed(factored, frequency, angle)
    along = _along(model, shape)
    plane, purity = _planes(model, along)
    sign = _signs(plane, along)
    shape, along = shape * sign, along * sign[:, None, None]
    return Modes(
        frequency=frequency,
        shape=shape,
        plane=plane,
        purity=purity,
        residual=residual,
        damping=_damping(model, frequency, shape),
        along=along,
        angle=angle,
    )


def _check_none_missed(factored: Factored, frequency: Floats, angle: float) -> None:
    """Count modes by inertia in the highest gap that is wide enough to count in."""
    gaps = np.flatnonzero(frequency[1:] > frequency[:-1] * (1 + COUNTABLE_GAP))
    if gaps.size == 0:
        return
    below = int(gaps[-1]) + 1
    edge = float(np.sqrt(frequency[below - 1] * frequency[below]))
    counted = count_below(factored, edge, angle)
    if counted != below:
        message = (
            f"the eigen-solver found {below} modes below {edge:.0f} Hz where an inertia count "
            f"finds {counted}; refine the mesh"
        )
        raise SolveError(message)


def _normalised(model: Model, shape: Floats) -> Floats:
    mass = np.einsum("ij,ij->j", shape, model.mass @ shape)
    return np.asarray(shape / np.sqrt(mass))


def _along(model: Model, shape: Floats) -> Floats:
    sampled = (model.along @ shape).reshape(6, model.stations.size, -1)
    return np.asarray(sampled.transpose(2, 0, 1))


def _unmixed(model: Model, squared: Floats, shape: Floats) -> Floats:
    """Turn each cluster of equal pitch (5e-10) until its members part into r and t motion."""
    first = 0
    shape = shape.copy()
    for last in range(1, squared.size + 1):
        if last < squared.size and squared[last] < squared[first] * (1 + 1e-9):
            continue
        if last - first > 1:
            sampled = _along(model, shape[:, first:last])
            r = sampled[:, 0, :] * np.sqrt(model.station_mass)
            _, turn = np.linalg.eigh(r @ r.T)
            shape[:, first:last] = shape[:, first:last] @ turn[:, ::-1]
        first = last
    return shape


def _residuals(model: Model, held: Held, squared: Floats, shape: Floats) -> Floats:
    difference = shape - held.solve(model.mass @ shape).motion * squared
    size = np.einsum("ij,ij->j", difference, model.mass @ difference)
    return np.asarray(np.sqrt(np.abs(size)))


def _damping(model: Model, frequency: Floats, shape: Floats) -> Floats:
    """Damping ratio ``phi^T C phi / 2w`` of each mode from the radial dampers of the supports.

    First order in the damping (Rayleigh): right while the ratio stays below about 0.1.
    """
    lost = np.zeros(frequency.size)
    for hold in model.holds:
        moved = hold.motion[:, :2].T @ shape
        lost += hold.damping * (moved**2).sum(axis=0)
    return np.asarray(lost / (4 * pi * frequency))


def _planes(model: Model, along: Floats) -> tuple[tuple[Plane, ...], Floats]:
    """Plane of each mode by the kinetic energy of the sections' average motion."""
    mass, polar = model.station_mass, model.station_polar
    energy = np.stack(
        [
            (along[:, 0] ** 2 * mass).sum(axis=1),
            (along[:, 1] ** 2 * mass).sum(axis=1),
            (along[:, 2] ** 2 * mass).sum(axis=1),
            (along[:, 5] ** 2 * polar).sum(axis=1),
        ],
        axis=1,
    )
    share = energy / energy.sum(axis=1, keepdims=True)
    most = share.argmax(axis=1)
    return tuple(PLANES[k] for k in most), share[np.arange(most.size), most]


def _signs(plane: tuple[Plane, ...], along: Floats) -> Floats:
    """What each shape is to be multiplied by, 1 or -1, for the sign that `Modes` tells."""
    motion = np.array([one[_MOVES[name]] for one, name in zip(along, plane, strict=True)])
    large = np.abs(motion) >= np.abs(motion).max(axis=1, keepdims=True) / 2
    first = large.argmax(axis=1)
    return np.asarray(np.sign(motion[np.arange(len(motion)), first]))
