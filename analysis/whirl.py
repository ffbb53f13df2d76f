"""Whirl: how the spin of the bar splits its modes, and the first critical speed.

In axes fixed in space a bar that is alike all round obeys ``M q'' + 2 pi n G q' + K q = 0``
with n in turns per second; each pair of bending modes splits into a forward and a backward
whirl. A critical speed is one at which a whirl keeps step with the spin.

M. I. Friswell, J. E. T. Penny, S. D. Garvey & A. W. Lees, Dynamics of Rotating Machines,
Cambridge 2010, chapters 5 and 6. The cross-hole makes the bar slightly unlike in its two
planes; the whirl uses their mean (`beam_model(case, averaged=True)`).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, pi

import numpy as np
from scipy.linalg import eigh, eigvals

from .model import Floats, Model
from .modes import Modes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Whirl:
    """Whirl frequencies against spindle speed.

    Attributes
    ----------
    spin : (n_spin,), turns per second
    frequency : (n_spin, n_whirl), Hz, lowest first
    first_critical : turns per second at which the lowest forward whirl keeps step with the spin;
        inf if none does
    """

    spin: Floats
    frequency: Floats
    first_critical: float


def whirl_frequencies(K: Floats, M: Floats, G: Floats, spin: float) -> Floats:
    """Whirl frequencies of a small dense rotor, Hz, lowest first.

    Parameters
    ----------
    K, M, G : (n, n), stiffness, mass, gyroscopic matrix per radian per second
    spin : turns per second
    """
    zero, one = np.zeros_like(K), np.eye(K.shape[0])
    left = np.block([[zero, one], [-K, -2 * pi * spin * G]])
    right = np.block([[one, zero], [zero, M]])
    root = eigvals(left, right)
    return np.sort(np.abs(root.imag)[root.imag > 0]) / (2 * pi)


def critical_speeds(K: Floats, M: Floats, G: Floats) -> Floats:
    """Spins, turns per second, at which a forward whirl keeps step with the bar.

    In step, ``q = a exp(i w t)`` with w the spin: ``K a = w^2 (M - i G) a``, a Hermitian problem.
    Forward whirls are those whose inertia the spin lowers, ``a^H i G a >= 0``; the others are
    backward, which a bar's own unbalance does not drive.
    """
    spun = -1j * G
    inverse, shape = eigh(M + spun, K)
    lowered = np.einsum("ij,ij->j", shape.conj(), spun @ shape).real
    inertia = np.einsum("ij,ij->j", shape.conj(), (M + spun) @ shape).real
    forward = (inverse > 0) & (lowered <= 1e-12 * np.abs(inertia))
    return np.asarray(np.sort(1.0 / np.sqrt(inverse[forward])) / (2 * pi))


def whirl(model: Model, modes: Modes, top_spin: float, *, count: int = 5) -> Whirl:
    """Whirl of a bar up to `top_spin`, turns per second, in the space of its still modes.

    The spin of a line-boring bar moves its modes by parts in ten thousand, so the still bar's
    ten-odd lowest modes carry the whirl to better than that.
    """
    assert model.gyroscopic is not None
    bending = [k for k, plane in enumerate(modes.plane) if plane in ("bit", "across")]
    shape = modes.shape[:, bending]
    K = np.diag((2 * pi * modes.frequency[bending]) ** 2)
    M = np.eye(len(bending))
    G = shape.T @ (model.gyroscopic @ shape)
    spin = np.linspace(0.0, top_spin, count)
    frequency = np.array([whirl_frequencies(K, M, G, n) for n in spin])
    critical = critical_speeds(K, M, G)
    return Whirl(spin=spin, frequency=frequency, first_critical=float(min(critical, default=inf)))
