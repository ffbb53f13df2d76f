"""The lowest modes of matrices, beside a dense solver that finds them all."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import eigh

from barwright.analysis.lanczos import BLOCK, lowest


def pencil(squares: np.ndarray, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Stiffness and mass, dense, whose modes have the given squares."""
    rng = np.random.default_rng(seed)
    n = squares.size
    shapes = np.linalg.inv(rng.standard_normal((n, n)) + n * np.eye(n))
    return shapes.T @ np.diag(squares) @ shapes, shapes.T @ shapes


def found(stiffness: np.ndarray, mass: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    return lowest(mass, lambda load: np.linalg.solve(stiffness, load), count)


@pytest.mark.parametrize(
    ("n", "count", "power"),
    [(3, 1, 2.0), (5, 2, 1.0), (9, 4, 1.0), (17, 16, 2.0), (40, 3, 0.3), (120, 30, 2.0)],
)
def test_as_a_dense_solver_finds_them(n: int, count: int, power: float) -> None:
    stiffness, mass = pencil(np.arange(1.0, n + 1) ** power, n)
    squares, shapes = found(stiffness, mass, count)
    wanted = eigh(stiffness, mass, eigvals_only=True)[:count]
    assert squares == pytest.approx(wanted, rel=1e-9)
    assert shapes.T @ mass @ shapes == pytest.approx(np.eye(count), abs=1e-9)
    left = shapes - np.linalg.solve(stiffness, mass @ shapes) * squares
    assert np.abs(left).max() < 1e-9 * np.abs(shapes).max()


@pytest.mark.parametrize("alike", range(1, BLOCK + 1))
def test_modes_of_one_pitch_are_all_found(alike: int) -> None:
    squares = np.concatenate([np.full(alike, 2.0), 3.0 + np.arange(60.0)])
    got, _ = found(*pencil(squares, 5), alike + 2)
    assert got == pytest.approx([*[2.0] * alike, 3.0, 4.0], rel=1e-10)


def test_the_same_every_time() -> None:
    matrices = pencil(np.arange(1.0, 50.0) ** 2, 1)
    one, other = found(*matrices, 5), found(*matrices, 5)
    assert all(np.array_equal(a, b) for a, b in zip(one, other, strict=True))
