"""Loops worked by hand for the tests of chatter: one mode, one plunging edge, and formulas."""

from __future__ import annotations

from math import atan, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from barwright.analysis.chatter import Loop
from barwright.analysis.compliance import Compliance, ModeSet, one_mode
from barwright.analysis.edge import EdgeForce

Floats = NDArray[np.float64]


def still_modes(n_point: int) -> ModeSet:
    """Modes of something rigid."""
    return ModeSet(
        frequency=np.zeros(0),
        damping=np.zeros((0, 0)),
        reach=np.zeros((n_point, 0)),
        rest=np.zeros((n_point, n_point)),
    )


def one_planar_mode(stiffness: float, damping: float, frequency: float) -> Compliance:
    """A bar of one mode in either plane, everything else rigid."""
    mass = stiffness / (2 * pi * frequency) ** 2
    one = one_mode(stiffness, mass, damping)
    planar = ModeSet(
        frequency=one.frequency,
        damping=one.damping,
        reach=np.vstack([one.reach, np.zeros((1, 1))]),
        rest=np.zeros((2, 2)),
    )
    rigid = still_modes(1)
    return Compliance(
        planar=planar,
        twist=rigid,
        stretch=rigid,
        bit_along=rigid,
        bit_across=rigid,
        work_across=rigid,
        work_axial=rigid,
    )


def plunge(
    stiffness: float, depth: float, *, tangential: float = 0.0, instant: float = 0.0
) -> EdgeForce:
    """An edge of width `depth` along the bar whose push grows by `stiffness` Pa with the chip.

    `tangential` does the same to the force across; `instant` (N/m) has no delay.
    """
    regenerative, at_once, shape = np.zeros((3, 3)), np.zeros((3, 3)), np.zeros((3, 3))
    regenerative[0, 0], regenerative[1, 0] = stiffness * depth, tangential * depth
    at_once[1, 0] = instant
    shape[0, 0] = depth
    return EdgeForce(
        resultant=np.zeros(3),
        regenerative=regenerative,
        instant=at_once,
        damping_shape=shape,
    )


def near_mode(frequency: float, reach: float = 0.3, count: int = 60001) -> Floats:
    """Frequencies close together about a mode, Hz."""
    return np.linspace(frequency * (1 - reach), frequency * (1 + reach), count)


def plunging_loop(
    compliance: Compliance,
    edge: EdgeForce,
    frequency: Floats,
    spin: float = 0.0,
    damping: float = 0.0,
) -> Loop:
    """Loop of a compliance and an edge at given frequencies."""
    return Loop(
        receptance=compliance.at(frequency, spin),
        frequency=frequency,
        force=edge,
        damping=damping,
    )


# --- formulas that owe the program nothing -----------------------------------------------------


def floor_of_one_mode(stiffness: float, damping: float) -> float:
    """Gain, N/m, that just sings: 2 k z (1 + z) (J. Tlusty; Y. Altintas, ch. 4; from memory)."""
    return 2 * stiffness * damping * (1 + damping)


def pitch_of_one_mode(frequency: float, damping: float) -> float:
    """Hz of that singing: f sqrt(1 + 2 z)."""
    return frequency * sqrt(1 + 2 * damping)


def one_mode_receptance(
    stiffness: float, damping: float, mode: float, frequency: Floats
) -> NDArray[np.complex128]:
    """1 / (k (1 - r^2 + 2 i z r)), m/N."""
    r = np.asarray(frequency) / mode
    return np.asarray(1 / (stiffness * (1 - r**2 + 2j * damping * r)))


def lobe_limit(stiffness: float, damping: float, mode: float, speed: float) -> tuple[float, float]:
    """Gain, N/m, and Hz that sing at one speed: a brute search along the closed form.

    A gain of -1/2Re(G) sings at f at the speeds f / (j + e/2pi), e = 2 pi - 2 atan(Re G/Im G)
    (Y. Altintas, ch. 4; from memory). For each whole number of waves the frequency is found at
    which the speed comes out.
    """
    f = mode * np.linspace(1 + 1e-7, 6.0, 400001)
    receptance = one_mode_receptance(stiffness, damping, mode, f)
    phase = 1 - np.arctan(receptance.real / receptance.imag) / pi
    right = receptance.real < 0
    f, phase, gain = f[right], phase[right], -1 / (2 * receptance.real[right])
    best = (np.inf, np.nan)
    for waves in range(round(mode / speed) * 2 + 3):
        miss = f / (waves + phase) - speed
        for k in np.flatnonzero(miss[:-1] * miss[1:] <= 0):
            share = miss[k] / (miss[k] - miss[k + 1])
            found = float(gain[k] + share * (gain[k + 1] - gain[k]))
            best = min(best, (found, float(f[k] + share * (f[k + 1] - f[k]))))
    return best


def best_over_floor(merging: float) -> float:
    """Best speed over floor at so many waves per turn times damping, light damping.

    Near the mode G goes like 1/(-x + i) with x = (f/f_n - 1)/z, so that a gain over the floor is
    (1 + x^2)/2x, alike at x and 1/x: there two lobes meet. The delay holds one wave more at the
    upper: waves z (x - 1/x) = 1 - (atan x - atan 1/x)/pi. Derived here.
    """

    def miss(x: float) -> float:
        return merging * (x - 1 / x) - 1 + (atan(x) - atan(1 / x)) / pi

    x = float(brentq(miss, 1.0, 100.0))
    return (1 + x**2) / (2 * x)
