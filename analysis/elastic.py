"""Linear elasticity on ten-node tetrahedra: element matrices and their sum.

scikit-fem gives mesh, mapping, shape functions and integration points; the element matrices are
then one matrix product for thousands of elements together (the same sums as scikit-fem's own
assembly, many times as fast; a test holds them against each other), and are summed by pairs of
nodes, nine numbers at once. Isotropic, small strains.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import bsr_array, csc_array, csr_array, eye_array, kron
from skfem import Basis, ElementTetP2

from .material import BarMaterial
from .mesh import SolidMesh
from .model import Floats
from .patch import ORDER

TOGETHER = 1024
"""Elements taken in one product: what they need then stays in the processor's cache."""


def lame(material: BarMaterial) -> tuple[float, float]:
    """Lame's two moduli, Pa."""
    E, nu = material.elastic_modulus, material.poisson
    return E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))


def scalar_basis(solid: SolidMesh) -> Basis:
    """One scalar field of ten-node tetrahedra on a mesh."""
    return Basis(solid.mesh, ElementTetP2(), intorder=ORDER)


def element_stiffness(basis: Basis, material: BarMaterial) -> Floats:
    """Stiffness of every element, (n_element, 10, 10, 3, 3), N/m: pair of nodes, then x, y, z."""
    slope = np.array([field[0].grad for field in basis.basis])
    weight = np.asarray(basis.dx)
    whole = np.empty((basis.nelems, 10, 10, 3, 3))
    for first in range(0, basis.nelems, TOGETHER):
        some = slice(first, first + TOGETHER)
        whole[some] = _some_stiffness(slope[:, :, some], weight[some], material)
    return whole


def _some_stiffness(slope: Floats, weight: Floats, material: BarMaterial) -> Floats:
    """Stiffness of elements by slopes (10, 3, n, n_point) and weights (n, n_point) of points."""
    first, second = lame(material)
    slope = slope.transpose(2, 0, 1, 3).reshape(len(weight), 30, -1)
    product = (slope * weight[:, None, :]) @ slope.transpose(0, 2, 1)
    product = product.reshape(-1, 10, 3, 10, 3).transpose(0, 1, 3, 2, 4)
    whole = first * product + second * product.transpose(0, 1, 2, 4, 3)
    whole += second * np.einsum("eabkk->eab", product)[..., None, None] * np.eye(3)
    return np.asarray(whole)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coupling:
    """Which nodes of a mesh share an element, and where each element's numbers go.

    Attributes
    ----------
    start, other : of each node, the nodes it couples with, as a compressed sparse matrix has them
    gather : (n_pair, n_element k^2), ones where an element adds to a pair of nodes
    """

    start: NDArray[np.int32]
    other: NDArray[np.int32]
    gather: csr_array

    def summed(self, local: Floats) -> csc_array:
        """Sum symmetric element matrices.

        Parameters
        ----------
        local : (n_element, k, k), one unknown a node; or (n_element, k, k, 3, 3)
        """
        block = self.gather @ local.reshape(self.gather.shape[1], -1)
        n = self.start.size - 1
        # Symmetric: its columns are its rows.
        if local.ndim == 3:
            return csc_array((block.ravel(), self.other, self.start), shape=(n, n))
        entries = (block.reshape(-1, 3, 3), self.other, self.start)
        rows = bsr_array(entries, shape=(3 * n, 3 * n)).tocsr()
        return csc_array((rows.data, rows.indices, rows.indptr), shape=rows.shape)


def coupling(cells: NDArray[Any], n_node: int) -> Coupling:
    """Coupling of a mesh with nodes (n_element, k)."""
    k, cells = cells.shape[1], cells.astype(np.int64)
    row, column = np.repeat(cells, k, axis=1).ravel(), np.tile(cells, k).ravel()
    key = row * n_node + column
    order = np.argsort(key, kind="stable")
    first = np.flatnonzero(np.diff(key[order], prepend=-1))
    pair = key[order[first]]
    ones = np.ones(key.size)
    gather = csr_array((ones, order, np.append(first, key.size)), shape=(first.size, key.size))
    start = np.searchsorted(pair, np.arange(n_node + 1) * n_node)
    return Coupling(
        start=start.astype(np.int32), other=(pair % n_node).astype(np.int32), gather=gather
    )


def stiffness(basis: Basis, material: BarMaterial) -> csc_array:
    """Stiffness of a body, (n_dof, n_dof), N/m."""
    pairs = coupling(basis.element_dofs.T, basis.N)
    return pairs.summed(element_stiffness(basis, material))


def scalar_mass(basis: Basis, density: Floats) -> csc_array:
    """Mass of one direction of motion, (n_node, n_node), kg; density (n_element,) in kg/m3."""
    shape = np.array(
        [np.asarray(field[0]).reshape(-1)[-basis.dx.shape[1] :] for field in basis.basis]
    )
    weight = np.asarray(basis.dx) * density[:, None]
    pairs = (shape[:, None] * shape).reshape(100, -1)
    return coupling(basis.element_dofs.T, basis.N).summed((weight @ pairs.T).reshape(-1, 10, 10))


def in_three(scalar: Any) -> csc_array:
    """The same matrix for x, y and z."""
    return csc_array(kron(scalar, eye_array(3), format="csc"))
