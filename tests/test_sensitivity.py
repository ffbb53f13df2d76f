"""Shares of the scatter: closed forms, scipy, and how often the intervals are right."""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.stats import sobol_indices, uniform
from scipy.stats.qmc import Sobol

from barwright.analysis.sensitivity import influences, shares

Floats = NDArray[np.float64]
A, B = 7.0, 0.1


def ishigami(x: Floats) -> Floats:
    """T. Ishigami & T. Homma, 1990, over (3, ...) in -pi to pi."""
    return np.asarray(np.sin(x[0]) + A * np.sin(x[1]) ** 2 + B * x[2] ** 4 * np.sin(x[0]))


def exact() -> tuple[list[float], list[float]]:
    """First-order and total shares, integrated by hand (Ishigami & Homma; from memory)."""
    one, two = 0.5 * (1 + B * pi**4 / 5) ** 2, A**2 / 8
    both = B**2 * pi**8 * (1 / 18 - 1 / 50)
    whole = one + two + both
    return [one / whole, two / whole, 0.0], [(one + both) / whole, two / whole, both / whole]


def design(points: Floats) -> tuple[Floats, Floats, Floats]:
    """Sets A, B and A with one row of B at a time, (n_input, n) and (n_input, n_input, n)."""
    n = points.shape[1] // 2
    a, b = points[:, :n].T, points[:, n:].T
    mixed = np.repeat(a[:, None], n, axis=1)
    mixed[np.arange(n), np.arange(n)] = b
    return a, b, mixed


def test_shares_of_ishigami_are_the_closed_form() -> None:
    points = Sobol(6, rng=np.random.default_rng(3)).random_base2(13)
    a, b, mixed = (2 * pi * x - pi for x in design(points))
    first, total = shares(ishigami(a), ishigami(b), ishigami(mixed))
    np.testing.assert_allclose(first, exact()[0], atol=0.01)
    np.testing.assert_allclose(total, exact()[1], atol=0.01)


def test_shares_are_those_of_scipy() -> None:
    found = sobol_indices(
        func=ishigami, n=256, dists=[uniform(-pi, 2 * pi)] * 3, rng=np.random.default_rng(4)
    )
    points = Sobol(6, rng=np.random.default_rng(4)).random_base2(8)
    a, b, mixed = (2 * pi * x - pi for x in design(points))
    first, total = shares(ishigami(a), ishigami(b), ishigami(mixed))
    np.testing.assert_allclose(first, found.first_order, atol=0.08)
    np.testing.assert_allclose(total, found.total_order, atol=0.08)
    given = {"f_A": ishigami(a)[None], "f_B": ishigami(b)[None], "f_AB": ishigami(mixed)[:, None]}
    same = sobol_indices(func=given, n=256)
    np.testing.assert_allclose(first, same.first_order.ravel(), rtol=1e-10, atol=1e-12)
    np.testing.assert_allclose(total, same.total_order.ravel(), rtol=1e-10, atol=1e-12)


def test_what_does_not_scatter_is_driven_by_nothing() -> None:
    one = np.ones(8)
    first, total = shares(one, one, np.ones((2, 8)))
    np.testing.assert_array_equal([first, total], 0.0)


def test_intervals_hold_the_truth_about_nine_times_in_ten() -> None:
    weight = np.array([3.0, 2.0, 1.0])
    truth = weight**2 / (weight**2).sum()
    held = []
    for seed in range(60):
        a, b, mixed = design(np.random.default_rng(seed).random((256, 6)))
        values = [np.tensordot(weight, x, axes=1) for x in (a, b, mixed)]
        found = influences(*values, seed=seed)
        held += [
            of.low <= exact_share <= of.high
            for one, exact_share in zip(found, truth, strict=True)
            for of in (one.first, one.total)
        ]
    assert 0.82 <= np.mean(held) <= 0.96


def test_the_same_seed_gives_the_same_interval() -> None:
    rng = np.random.default_rng(1)
    a, b, mixed = rng.random(64), rng.random(64), rng.random((1, 64))
    assert influences(a, b, mixed, seed=5) == influences(a, b, mixed, seed=5)
    assert influences(a, b, mixed, seed=5) != influences(a, b, mixed, seed=6)
