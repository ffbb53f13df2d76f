"""A solid's matrix taken apart part by part: against dense LAPACK on matrices of the same mesh."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.sparse import csc_array
from skfem import MeshTet, MeshTet2

from barwright.analysis.errors import SolveError
from barwright.analysis.fronts import Fronts, cholesky, fronts_of, inertia


def bar(*counts: int) -> MeshTet2:
    """Return a bar of second-order tetrahedra, longer than it is thick."""
    line = [np.linspace(0.0, length, n) for length, n in zip((4.0, 1.0, 1.1), counts, strict=True)]
    return MeshTet2.from_mesh(MeshTet.init_tensor(*line))


def numbered(mesh: MeshTet2) -> np.ndarray[Any, Any]:
    return np.asarray(mesh.dofs.element_dofs.T, dtype=np.int64)


def coupled(cells: np.ndarray[Any, Any], seed: int) -> np.ndarray[Any, Any]:
    """Return a random symmetric matrix with three unknowns a node, of the mesh's pattern."""
    rng = np.random.default_rng(seed)
    n = 3 * (int(cells.max()) + 1)
    whole = np.zeros((n, n))
    for cell in cells:
        dofs = (3 * cell[:, None] + np.arange(3)).ravel()
        part = rng.standard_normal((dofs.size, dofs.size))
        whole[np.ix_(dofs, dofs)] += part + part.T
    return whole


def parted(part: int, *counts: int) -> tuple[Fronts, np.ndarray[Any, Any]]:
    mesh = bar(*counts)
    cells = numbered(mesh)
    return fronts_of(cells, np.asarray(mesh.doflocs), part=part), coupled(cells, 7)


@pytest.mark.parametrize("part", [1, 5, 64, 10_000])
def test_every_unknown_is_eliminated_once_and_borders_lie_ahead(part: int) -> None:
    fronts, matrix = parted(part, 6, 3, 3)
    assert sorted(fronts.order) == list(range(len(matrix)))
    owned = [range(front.first, front.last) for front in fronts.fronts]
    assert [k for own in owned for k in own] == list(range(len(matrix)))
    assert all((front.border >= front.last).all() for front in fronts.fronts)
    assert fronts.fronts[-1].border.size == 0


@pytest.mark.parametrize("part", [1, 7, 64, 10_000])
@pytest.mark.parametrize("loads", [None, 1, 4])
def test_answer_is_that_of_dense_lapack(part: int, loads: int | None) -> None:
    fronts, matrix = parted(part, 5, 3, 3)
    matrix += 1.1 * abs(np.linalg.eigvalsh(matrix)[0]) * np.eye(len(matrix))
    load = np.random.default_rng(3).standard_normal((len(matrix),) + ((loads,) if loads else ()))
    found = cholesky(fronts, csc_array(matrix)).solve(load)
    np.testing.assert_allclose(found, np.linalg.solve(matrix, load), rtol=1e-8, atol=1e-10)


@pytest.mark.parametrize("part", [1, 7, 64, 10_000])
def test_negative_eigenvalues_are_counted_as_a_dense_eigen_solver_counts_them(part: int) -> None:
    fronts, matrix = parted(part, 5, 2, 3)
    value = np.linalg.eigvalsh(matrix)
    gaps = np.concatenate([[value[0] - 1.0], (value[1:] + value[:-1]) / 2, [value[-1] + 1.0]])
    column = np.random.default_rng(5).standard_normal((len(matrix), 3))
    for count in (0, 1, 2, 10, len(value) // 2, len(value)):
        shifted = matrix - gaps[count] * np.eye(len(matrix))
        negative, gram = inertia(fronts, csc_array(shifted), column)
        assert negative == count
        expected = column.T @ np.linalg.solve(shifted, column)
        np.testing.assert_allclose(gram, expected, rtol=1e-6, atol=1e-6 * abs(expected).max())


def test_matrix_that_is_not_positive_is_refused() -> None:
    fronts, matrix = parted(20, 4, 2, 2)
    with pytest.raises(SolveError, match="did not come out positive"):
        cholesky(fronts, csc_array(matrix))


def test_matrix_of_another_mesh_is_refused() -> None:
    fronts, matrix = parted(8, 6, 2, 2)
    full = np.ones_like(matrix) + len(matrix) * np.eye(len(matrix))
    with pytest.raises(SolveError, match="share no element"):
        cholesky(fronts, csc_array(full))


def test_block_that_is_singular_is_refused() -> None:
    fronts, matrix = parted(10_000, 3, 2, 2)
    with pytest.raises(SolveError, match="singular"):
        inertia(fronts, csc_array(0.0 * matrix), np.zeros((len(matrix), 0)))
