"""Which input drives an answer: shares of its scatter, from designs in which one input is swapped.

Two sets of points A and B are drawn apart; for each input a third, A with that input of B. Then

    first order: mean of f_B (f_AB - f_A) / V,    total: mean of (f_A - f_AB)^2 / 2V

(A. Saltelli et al., Comput. Phys. Commun. 181 (2010) 259, table 2, and M. J. W. Jansen, 1999;
from memory, held against scipy in the tests). The first is what knowing that input alone would
take from the variance V, the second what would be left if everything else were known; with inputs
that are independent the firsts add up to at most one. Intervals by bootstrap over the points.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .model import Floats

RESAMPLES = 200
LEVEL = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """Share of an answer's scatter with its interval, nine in ten."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Influence:
    """What one input does to one answer, alone and with all it acts together with."""

    first: Share
    total: Share


def shares(at_a: Floats, at_b: Floats, at_ab: Floats) -> tuple[Floats, Floats]:
    """First-order and total shares of each input, (..., n_input).

    Parameters
    ----------
    at_a, at_b : (..., n_point) answers
    at_ab : (..., n_input, n_point), with one input at a time taken from B
    """
    middle = np.concatenate([at_a, at_b], axis=-1).mean(axis=-1, keepdims=True)
    a, b, ab = at_a - middle, at_b - middle, at_ab - middle[..., None]
    whole = np.concatenate([a, b], axis=-1).var(axis=-1)[..., None]
    # An answer that does not scatter is driven by nothing.
    whole = np.where(whole > 0.0, whole, np.inf)
    first = (b[..., None, :] * (ab - a[..., None, :])).mean(axis=-1) / whole
    total = ((a[..., None, :] - ab) ** 2).mean(axis=-1) / 2 / whole
    return first, total


def influences(at_a: Floats, at_b: Floats, at_ab: Floats, *, seed: int) -> tuple[Influence, ...]:
    """Shares of each input with intervals by bootstrap over the points.

    Parameters
    ----------
    at_a, at_b : (n_point,)
    at_ab : (n_input, n_point)
    """
    count = at_a.size
    drawn = np.random.default_rng(seed).integers(count, size=(RESAMPLES, count))
    first, total = shares(at_a, at_b, at_ab)
    again = [shares(at_a[rows], at_b[rows], at_ab[:, rows]) for rows in drawn]
    of_first, of_total = (np.array([one[k] for one in again]) for k in (0, 1))
    return tuple(
        Influence(first=_share(first[k], of_first[:, k]), total=_share(total[k], of_total[:, k]))
        for k in range(at_ab.shape[0])
    )


def _share(value: float, again: Floats) -> Share:
    low, high = np.quantile(again, [(1 - LEVEL) / 2, (1 + LEVEL) / 2])
    return Share(value=float(value), low=float(low), high=float(high))
