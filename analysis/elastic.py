"""Linear elasticity on ten-node tetrahedra: element matrices and their sum.

scikit-fem gives mesh, mapping, shape functions and integration points; the element matrices are
then one matrix product for all elements together (the same sums as scikit-fem's own assembly,
thirty times as fast; a test holds them against each other). Isotropic, small strains.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array, eye_array, kron
from skfem import Basis, ElementTetP2

from .material import BarMaterial
from .mesh import SolidMesh
from .model import Floats
from .patch import ORDER


def lame(material: BarMaterial) -> tuple[float, float]:
    """Lame's two moduli, Pa."""
    E, nu = material.elastic_modulus, material.poisson
    return E * nu / ((1 + nu) * (1 - 2 * nu)), E / (2 * (1 + nu))


def scalar_basis(solid: SolidMesh) -> Basis:
    """One scalar field of ten-node tetrahedra on a mesh."""
    return Basis(solid.mesh, ElementTetP2(), intorder=ORDER)


def element_stiffness(basis: Basis, material: BarMaterial) -> Floats:
    """Stiffness of every element, (n_element, 30, 30), N/m, dofs x, y, z node after node."""
    first, second = lame(material)
    slope = np.array([field[0].grad for field in basis.basis])
    slope = np.ascontiguousarray(slope.transpose(2, 0, 1, 3)).reshape(basis.nelems, 30, -1)
    product = (slope * np.asarray(basis.dx)[:, None, :]) @ slope.transpose(0, 2, 1)
    product = product.reshape(-1, 10, 3, 10, 3)
    trace = np.einsum("eakbk->eab", product)
    whole = first * product + second * product.transpose(0, 1, 4, 3, 2)
    for i in range(3):
        whole[:, :, i, :, i] += second * trace
    return np.asarray(whole.reshape(-1, 30, 30))


def summed(local: Floats, dofs: NDArray[np.int64], n_dof: int) -> csc_array:
    """Sum element matrices (n_element, k, k) on dofs (n_element, k)."""
    dofs = dofs.astype(np.int32)
    rows = np.repeat(dofs, dofs.shape[1], axis=1).ravel()
    cols = np.tile(dofs, dofs.shape[1]).ravel()
    return csc_array(coo_array((local.ravel(), (rows, cols)), shape=(n_dof, n_dof)))


def stiffness(basis: Basis, material: BarMaterial) -> csc_array:
    """Stiffness of a body, (n_dof, n_dof), N/m."""
    dofs = 3 * basis.element_dofs.T[:, :, None] + np.arange(3)
    local = element_stiffness(basis, material)
    return summed(local, dofs.reshape(basis.nelems, 30), 3 * basis.N)


def scalar_mass(basis: Basis, density: Floats) -> csc_array:
    """Mass of one direction of motion, (n_node, n_node), kg; density (n_element,) in kg/m3."""
    shape = np.array(
        [np.asarray(field[0]).reshape(-1)[-basis.dx.shape[1] :] for field in basis.basis]
    )
    weight = np.asarray(basis.dx) * density[:, None]
    local = (shape[None] * weight[:, None, :]) @ shape.T
    return summed(local, basis.element_dofs.T, basis.N)


def in_three(scalar: Any) -> csc_array:
    """The same matrix for x, y and z."""
    return csc_array(kron(scalar, eye_array(3), format="csc"))
