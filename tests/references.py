"""Answers that owe nothing to the program: closed forms and characteristic equations.

Each function names its source. Nothing of ours is imported here. SI units, Hz.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import cos, cosh, inf, pi, sin, sinh, sqrt, tan, tanh

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import expm
from scipy.optimize import brentq

# --- sections -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionSums:
    """Area, centroid along r and t, and second moments about the centroid, by integration."""

    area: float
    centre_r: float
    centre_t: float
    r_squared: float
    t_squared: float


def integrated_section(
    radius: float, strip: Callable[[float], tuple[float, float]], edges: tuple[float, ...]
) -> SectionSums:
    """Integrate over a part of a circle, strip by strip along r.

    ``strip(t)`` gives the lower and upper r of the part at t. Gauss-Legendre over the angle
    whose sine is t/R, between the `edges` in t where the shape changes; ``strip`` is not asked
    about a pair of equal edges, nor is a gap: give a strip of no length there.
    """
    point, weight = np.polynomial.legendre.leggauss(80)
    angles = np.arcsin(np.clip(np.array(edges) / radius, -1.0, 1.0))
    sums = np.zeros(5)
    for start, end in pairwise(angles):
        half = (end - start) / 2
        for angle, w in zip((start + end) / 2 + half * point, weight, strict=True):
            t = radius * float(np.sin(angle))
            low, high = strip(t)
            length, square, cube = high - low, (high**2 - low**2) / 2, (high**3 - low**3) / 3
            dt = w * half * radius * np.cos(angle)
            sums += dt * np.array([length, square, t * length, cube, t**2 * length])
    area, r, t, r_squared, t_squared = (float(x) for x in sums)
    return SectionSums(
        area=area,
        centre_r=r / area,
        centre_t=t / area,
        r_squared=r_squared - r**2 / area,
        t_squared=t_squared - t**2 / area,
    )


# --- statics of an Euler bar ----------------------------------------------------------------


def pinned_deflection(P: float, a: float, L: float, EI: float) -> float:
    """Under the load, both ends pinned: P a^2 b^2 / 3EIL (Roark, table 8.1, case 1e; memory)."""
    return P * a**2 * (L - a) ** 2 / (3 * EI * L)


def clamped_pinned_deflection(P: float, x: float, L: float, EI: float) -> float:
    """Under the load, x from the clamp: P x^3 b^2 (3L + b) / 12EIL^3 (Roark, 1c; memory)."""
    b = L - x
    return P * x**3 * b**2 * (3 * L + b) / (12 * EI * L**3)


def clamped_deflection(P: float, a: float, L: float, EI: float) -> float:
    """Under the load, both ends clamped: P a^3 b^3 / 3EIL^3 (Roark, case 1d; memory)."""
    return P * a**3 * (L - a) ** 3 / (3 * EI * L**3)


def cantilever_deflection(P: float, a: float, EI: float) -> float:
    """Under the load, P a^3 / 3EI (Roark, case 1a; memory)."""
    return P * a**3 / (3 * EI)


def sprung_deflection(
    P: float,
    a: float,
    L: float,
    EI: float,
    *,
    k1: float,
    k2: float,
    kt: float = 0.0,
    kGA: float = inf,
) -> float:
    """Under the load, on springs k1 (also resisting tilt, kt) and k2, shear included.

    Force method: the bar on k1 and k2 is determinate; the tilt spring's moment m closes the
    gap ``s = m (1/kt + e)``, s the slope at k1 by the load and e the slope there per moment.
    Castigliano's theorem, with the shear force squared over 2 kGA in the energy.
    """
    b = L - a
    own = P * a**2 * b**2 / (3 * EI * L) + P * a * b / (L * kGA)
    settling = P * ((b / L) ** 2 / k1 + (a / L) ** 2 / k2)
    if kt == 0.0:
        return own + settling
    slope = P * a * b * (L + b) / (6 * EI * L) - P * (b / L) / (k1 * L) + P * (a / L) / (k2 * L)
    given = L / (3 * EI) + 1 / (L * kGA) + (1 / k1 + 1 / k2) / L**2
    return own + settling - slope**2 / P / (1 / kt + given)


def uniform_sag_clamped_pinned(w: float, L: float, EI: float) -> float:
    """Largest sag of a clamped and pinned bar under its weight w per length.

    From w x^2 (3L^2 - 5Lx + 2x^2) / 48EI, x from the clamp (any table of beams), at the root of
    its slope, 6 - 15z + 8z^2 = 0 with z = x/L.
    """
    z = (15 - sqrt(33)) / 16
    return w * L**4 * z**2 * (3 - 5 * z + 2 * z**2) / (48 * EI)


def worst_clamped_pinned() -> float:
    """Largest coefficient of a clamped and pinned bar over the load's place, by its formula."""
    b = sqrt(2) - 1
    return clamped_pinned_deflection(1.0, 1 - b, 1.0, 1.0)


def stepped_tip(P: float, E: float, L1: float, I1: float, L2: float, I2: float) -> float:
    """Tip deflection of a stepped cantilever, root first (Castigliano)."""
    L = L1 + L2
    return P / (3 * E) * ((L**3 - L2**3) / I1 + L2**3 / I2)


# --- frequencies of an Euler bar ------------------------------------------------------------


def frequency(number: float, L: float, EI: float, mass: float) -> float:
    """Hz of a frequency number, number^2 / (2 pi L^2) sqrt(EI / mass per length)."""
    return number**2 / (2 * pi * L**2) * sqrt(EI / mass)


def _root(equation: Callable[[float], float], low: float, high: float) -> float:
    return float(brentq(equation, low, high, xtol=1e-13))


def clamped_pinned_root(n: int) -> float:
    """n-th root of tan l = tanh l (Blevins, table 8-1; from memory)."""
    return _root(lambda l: sin(l) * cosh(l) - cos(l) * sinh(l), n * pi, n * pi + pi / 2)


def clamped_root(n: int) -> float:
    """n-th root of cos l cosh l = 1 (Blevins, table 8-1; from memory)."""
    middle = (2 * n + 1) * pi / 2
    return _root(lambda l: cos(l) - 1 / cosh(l), middle - 0.5, middle + 0.5)


def clamped_free_root(n: int) -> float:
    """n-th root of cos l cosh l = -1 (Blevins, table 8-1; from memory)."""
    middle = (2 * n - 1) * pi / 2
    return _root(lambda l: cos(l) + 1 / cosh(l), middle - 0.5, middle + 0.5)


def clamped_guided_root(n: int) -> float:
    """n-th root of tan l = -tanh l (Blevins, table 8-1; from memory)."""
    middle = (4 * n - 1) * pi / 4
    return _root(lambda l: tan(l) + tanh(l), middle - 0.2, middle + 0.2)


def clamped_spring_root(K: float, low: float, high: float) -> float:
    """Root of l^3 (1 + cos cosh) + K (cosh sin - sinh cos) = 0: clamp, tail spring k L^3/EI."""
    return _root(
        lambda l: l**3 * (1 + cos(l) * cosh(l)) + K * (cosh(l) * sin(l) - sinh(l) * cos(l)),
        low,
        high,
    )


def tilt_spring_root(R: float, low: float, high: float) -> float:
    """Root of 2 l sin sinh + R (sin cosh - cos sinh) = 0: pinned, tilt spring kt L/EI."""
    return _root(
        lambda l: 2 * l * sin(l) * sinh(l) + R * (sin(l) * cosh(l) - cos(l) * sinh(l)), low, high
    )


def middle_mass_root(ratio: float) -> float:
    """First root of (tan l/2 - tanh l/2) ratio l/4 = 1: pinned, mass at mid-span."""
    return _root(lambda l: (tan(l / 2) - tanh(l / 2)) * ratio * l / 4 - 1, 0.5, pi - 1e-6)


# --- Timoshenko's bar -----------------------------------------------------------------------


def timoshenko_pinned(
    n: int, L: float, *, E: float, G: float, rho: float, A: float, I: float, kappa: float
) -> float:
    """n-th frequency, Hz, of a pinned Timoshenko bar, lower branch.

    EI b^4 - w^2 [rho A + rho I b^2 (1 + E/kG)] + w^4 rho^2 I/kG = 0 with b = n pi/L: S. P.
    Timoshenko, Vibration Problems in Engineering (from memory).
    """
    b = n * pi / L
    second = rho**2 * I / (kappa * G)
    first = rho * A + rho * I * b**2 * (1 + E / (kappa * G))
    squared = (first - sqrt(first**2 - 4 * second * E * I * b**4)) / (2 * second)
    return sqrt(squared) / (2 * pi)


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """Springs of one end of a bar: radial N/m, tilt N m/rad; inf is rigid."""

    radial: float
    tilt: float


def timoshenko_frequencies(
    drive: End,
    tail: End,
    L: float,
    *,
    EI: float,
    kGA: float,
    mass: float,
    rotary: float,
    guesses: tuple[float, ...],
) -> tuple[float, ...]:
    """Exact frequencies, Hz, of a uniform Timoshenko bar on end springs, near the guesses.

    State (w, slope, moment M, shear V) along the bar: w' = slope + V/kGA, slope' = M/EI,
    M' = -V - rotary W^2 slope, V' = -mass W^2 w (W in rad/s), carried over the length by the
    matrix exponential; V = k w and M = kt slope at the drive end, V = -k w and M = -kt slope at
    the tail. E. C. Pestel & F. A. Leckie, Matrix Methods in Elastomechanics (from memory).
    """
    unit = np.array([1.0, 1 / L, EI / L**2, EI / L**3])

    def row(spring: float, motion: int, force: int, sign: float) -> NDArray[np.float64]:
        given = np.zeros(4)
        soft = spring * unit[motion] / unit[force]
        given[motion] = 1.0 if spring == inf else soft / (1 + soft)
        given[force] = 0.0 if spring == inf else -sign / (1 + soft)
        return given

    def determinant(hz: float) -> float:
        W2 = (2 * pi * hz) ** 2
        along = np.array(
            [
                [0, 1, 0, 1 / kGA],
                [0, 0, 1 / EI, 0],
                [0, -rotary * W2, 0, -1],
                [-mass * W2, 0, 0, 0],
            ]
        )
        carried = expm(along * L * unit / unit[:, None])
        start = np.array([row(drive.radial, 0, 3, 1.0), row(drive.tilt, 1, 2, 1.0)])
        finish = np.array([row(tail.radial, 0, 3, -1.0), row(tail.tilt, 1, 2, -1.0)]) @ carried
        return float(np.linalg.det(np.vstack([start, finish])))

    return tuple(float(brentq(determinant, 0.995 * f, 1.005 * f, xtol=1e-10)) for f in guesses)


# --- rotors ---------------------------------------------------------------------------------


def rayleigh_shaft_whirl(
    n: int, spin: float, L: float, *, E: float, rho: float, A: float, I: float
) -> tuple[float, float]:
    """Backward and forward whirl, Hz, of a pinned spinning shaft with rotary inertia, no shear.

    (rho A + rho I b^2) w^2 -+ 2 rho I b^2 W w - E I b^4 = 0, b = n pi/L (G. Genta, Dynamics of
    Rotating Systems; from memory). `spin` in turns per second.
    """
    b, W = n * pi / L, 2 * pi * spin
    inertia, gyroscopic = rho * A + rho * I * b**2, rho * I * b**2 * W
    root = sqrt(gyroscopic**2 + inertia * E * I * b**4)
    return (root - gyroscopic) / inertia / (2 * pi), (root + gyroscopic) / inertia / (2 * pi)


def rigid_rotor_whirl(
    polar: float, diametral: float, tilt_stiffness: float, spin: float
) -> tuple[float, float]:
    """Backward and forward conical whirl, Hz, of a rigid rotor on a tilt spring.

    diametral w^2 -+ polar W w - tilt_stiffness = 0 (any text on rotors). `spin` in turns/s.
    """
    W = 2 * pi * spin
    root = sqrt((polar * W) ** 2 + 4 * diametral * tilt_stiffness)
    return (
        (root - polar * W) / (2 * diametral) / (2 * pi),
        (root + polar * W) / (2 * diametral) / (2 * pi),
    )


def jeffcott(ratio: float, damping: float) -> float:
    """Whirl over eccentricity, r^2/sqrt((1 - r^2)^2 + (2 zeta r)^2) (H. H. Jeffcott, 1919)."""
    return ratio**2 / sqrt((1 - ratio**2) ** 2 + (2 * damping * ratio) ** 2)
