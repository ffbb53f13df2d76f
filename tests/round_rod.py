"""A round rod that bends, by three-dimensional elasticity: imports nothing of ours.

Every motion that goes as the cosine of the angle round the axis is ``u_x = r a cos``,
``u_r = b cos``, ``u_turn = (r d - b) sin`` with a, b, d smooth functions of radius and station.
They are taken as polynomials, high along both, and the energy is integrated exactly: a spectral
method, its answers converged to a few millionths with the degrees below. The strains are those
of cylindrical coordinates (A. E. H. Love, Mathematical Theory of Elasticity; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import pi

import numpy as np
from numpy.polynomial import legendre
from scipy.linalg import eigh

ACROSS, ALONG = 5, 6
"""Degrees of the polynomials over the radius, and along each length of rod."""


def _over_radius(place: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Legendre's polynomials and their slopes at places 0 to 1."""
    value = legendre.legvander(2 * place - 1, ACROSS)
    slope = [
        2 * legendre.legval(2 * place - 1, legendre.legder(row)) for row in np.eye(ACROSS + 1)
    ]
    return value, np.stack(slope, axis=1)


def _along(place: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Both ends' hat functions, then integrals of Legendre's polynomials; values and slopes."""
    series = np.zeros((ALONG + 1, ALONG + 1))
    series[0, :2], series[1, :2] = (0.5, -0.5), (0.5, 0.5)
    for k in range(2, ALONG + 1):
        series[k, [k, k - 2]] = 1.0, -1.0
    at = 2 * place - 1
    value = np.stack([legendre.legval(at, row) for row in series], axis=1)
    slope = np.stack([2 * legendre.legval(at, legendre.legder(row)) for row in series], axis=1)
    return value, slope


@dataclass(frozen=True, kw_only=True)
class RoundRod:
    """A rod free in space.

    Attributes
    ----------
    cuts : m, stations that bound its lengths; crowd them where loads come in
    diameter, E, density : m, Pa, kg/m3
    """

    cuts: tuple[float, ...]
    diameter: float
    E: float
    nu: float
    density: float

    @cached_property
    def _section(self) -> tuple[np.ndarray, ...]:
        """Energy of the section in motion and its slope along x, mass, and mean motions."""
        point, weight = legendre.leggauss(ACROSS + 4)
        radius = self.diameter / 2
        r = (point + 1)[:, None] / 2 * radius
        share = weight / 2 * radius * r[:, 0]
        value, slope = _over_radius(r[:, 0] / radius)
        slope = slope / radius
        none = np.zeros_like(value)
        moved = [np.hstack(x) for x in ((r * value, none, none), (none, value, none))]
        moved.append(np.hstack((none, value, -r * value)))  # b - r d, against the angle
        still = [np.zeros_like(moved[0])] * 3
        strain = (
            [still[0], moved[0]],  # xx: of the motion, of its slope along x
            [np.hstack((none, slope, none)), still[0]],  # rr
            [np.hstack((none, none, value)), still[0]],  # round
            [np.hstack((value + r * slope, none, none)), moved[1]],  # x r
            [np.hstack((value, none, none)), moved[2]],  # x round
            [np.hstack((none, slope, -r * slope)), still[0]],  # r round
        )
        shear = self.E / (2 * (1 + self.nu))
        hooke = np.diag([2 * shear] * 3 + [shear] * 3)
        hooke[:3, :3] += self.E * self.nu / ((1 + self.nu) * (1 - 2 * self.nu))

        def energy(one: int, other: int) -> np.ndarray:
            pairs = [(i, j) for i in range(6) for j in range(6) if hooke[i, j]]
            parts = (
                pi * hooke[i, j] * (strain[i][one] * share[:, None]).T @ strain[j][other]
                for i, j in pairs
            )
            return np.asarray(sum(parts))

        mass = pi * self.density * sum((part * share[:, None]).T @ part for part in moved)
        area, second = pi * radius**2, pi * radius**4 / 4
        lift = pi * share @ (moved[1] + moved[2]) / area
        turn = -pi * (share * r[:, 0]) @ moved[0] / second
        return energy(0, 0), energy(0, 1), energy(1, 1), mass, lift, turn

    def circular(self, wave: float) -> float:
        """Circular frequency of the slowest bending wave of `wave` radians per metre, 1/s."""
        still, mixed, stretched, mass, _, _ = self._section
        whole = still + 1j * wave * (mixed - mixed.T) + wave**2 * stretched
        return float(np.sqrt(eigh(whole, mass, eigvals_only=True, subset_by_index=[0, 0])[0]))

    @cached_property
    def _whole(self) -> tuple[np.ndarray, np.ndarray]:
        """Stiffness and mass, the section's unknowns within those along the rod."""
        still, mixed, stretched, mass, _, _ = self._section
        point, weight = legendre.leggauss(ALONG + 2)
        value, slope = _along((point + 1) / 2)
        weighted = (value * weight[:, None] / 2).T
        n, size = self._n_along, len(mass)
        stiffness, inertia = np.zeros((n, size, n, size)), np.zeros((n, size, n, size))
        for k, h in enumerate(np.diff(self.cuts)):
            own = np.ix_(self._own(k), range(size), self._own(k), range(size))
            vv, vs = weighted @ value * h, weighted @ slope
            ss = (slope * weight[:, None] / 2).T @ slope / h
            parts = ((vv, still), (vs, mixed), (vs.T, mixed.T), (ss, stretched))
            stiffness[own] += sum(np.einsum("ij,ab->iajb", x, s) for x, s in parts)
            inertia[own] += np.einsum("ij,ab->iajb", vv, mass)
        return stiffness.reshape(n * size, -1), inertia.reshape(n * size, -1)

    @property
    def _n_along(self) -> int:
        return (len(self.cuts) - 1) * ALONG + 1

    def _own(self, length: int) -> list[int]:
        first = len(self.cuts) + length * (ALONG - 1)
        return [length, length + 1, *range(first, first + ALONG - 1)]

    def mean(self, start: float, end: float) -> np.ndarray:
        """Mean deflection and mean rotation between two cuts, or at one, (2, n)."""
        line = np.zeros(self._n_along)
        if start == end:
            line[self.cuts.index(start)] = 1.0
        point, weight = legendre.leggauss(ALONG + 2)
        share = weight / 2 @ _along((point + 1) / 2)[0]
        for k, h in enumerate(np.diff(self.cuts)):
            if start <= self.cuts[k] and self.cuts[k + 1] <= end:
                line[self._own(k)] += share * h / (end - start)
        return np.stack([np.kron(line, motion) for motion in self._section[4:]])

    def _free(self, still: Sequence[np.ndarray]) -> np.ndarray:
        """Motions that leave some means at nothing, one a column."""
        whole, _ = np.linalg.qr(np.array(still).T, mode="complete")
        return np.asarray(whole[:, len(still) :])

    def give(self, still: Sequence[np.ndarray], at: np.ndarray) -> float:
        """Motion of a mean per force on it, others held still, m/N."""
        free = self._free(still)
        load = free.T @ at
        return float(load @ np.linalg.solve(free.T @ self._whole[0] @ free, load))

    def pitches(self, still: Sequence[np.ndarray], count: int) -> np.ndarray:
        """Lowest natural frequencies with some means held still, Hz."""
        free = self._free(still)
        stiffness, mass = (free.T @ part @ free for part in self._whole)
        squared = eigh(stiffness, mass, eigvals_only=True, subset_by_index=[0, count - 1])
        return np.asarray(np.sqrt(squared) / (2 * pi))
