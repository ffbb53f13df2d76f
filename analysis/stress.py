"""Stress in the solid bar, node by node.

Second-order tetrahedra have their best stress at four points inside (O. C. Zienkiewicz & J. Z.
Zhu, Int. J. Numer. Methods Eng. 33 (1992) 1331; from memory); it is carried linearly to the ten
nodes and averaged over the elements that share a node. At a re-entrant edge without a radius the
true stress has no limit: the number there says only how fine the mesh is. The largest of these is
no peak to rely on, for it is the largest of their errors too: `peak` is for that.
"""

from __future__ import annotations

import numpy as np
from skfem.quadrature import get_quadrature
from skfem.refdom import RefTet

from .elastic import lame
from .material import BarMaterial
from .mesh import SolidMesh
from .model import Floats
from .patch import shape_slopes

COMPONENTS = ("xx", "rr", "tt", "xr", "rt", "xt")
_PAIRS = ((0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (0, 2))


def _best_points() -> tuple[Floats, Floats]:
    """Four points inside the reference tetrahedron, and the carrying of their values to nodes."""
    from skfem import ElementTetP2

    place, _ = get_quadrature(RefTet, 2)
    known = np.vstack([np.ones(place.shape[1]), place]).T
    wanted = np.column_stack([np.ones(10), ElementTetP2.doflocs])
    return np.asarray(place), np.asarray(wanted @ np.linalg.inv(known))


def element_stress(
    solid: SolidMesh, material: BarMaterial, motion: Floats, place: Floats
) -> Floats:
    """Stress at reference places (3, n) of every element, (n_element, n, 6), Pa."""
    nodes = solid.mesh.dofs.element_dofs
    slopes = shape_slopes(place)
    jacobian = np.einsum("iae,akq->eqik", solid.nodes[:, nodes], slopes)
    moved = motion.reshape(-1, 3)[nodes]
    strain = np.einsum("aei,akq->eqik", moved, slopes) @ np.linalg.inv(jacobian)
    first, second = lame(material)
    trace = np.einsum("eqii->eq", strain)
    stress = second * (strain + strain.transpose(0, 1, 3, 2))
    stress[..., range(3), range(3)] += first * trace[..., None]
    return np.asarray(np.stack([stress[..., i, j] for i, j in _PAIRS], axis=-1))


def nodal_stress(solid: SolidMesh, material: BarMaterial, motion: Floats) -> Floats:
    """Smoothed stress at the nodes, (n_node, 6), Pa, in the order of `COMPONENTS`."""
    place, carried = _best_points()
    inside = element_stress(solid, material, motion, place)
    at_nodes = np.einsum("aq,eqc->aec", carried, inside).reshape(-1, 6)
    nodes = solid.mesh.dofs.element_dofs.ravel()
    n_node = solid.nodes.shape[1]
    total = np.stack([np.bincount(nodes, column, n_node) for column in at_nodes.T], axis=1)
    return np.asarray(total / np.bincount(nodes, minlength=n_node)[:, None])


def _tensors(stress: Floats) -> Floats:
    tensor = np.empty((len(stress), 3, 3))
    for column, (i, j) in enumerate(_PAIRS):
        tensor[:, i, j] = tensor[:, j, i] = stress[:, column]
    return tensor


def largest_principal(stress: Floats) -> Floats:
    """Largest principal stress by size, (n,), Pa, of stresses (n, 6)."""
    values = np.linalg.eigvalsh(_tensors(stress))
    return np.asarray(np.abs(values[:, [0, 2]]).max(axis=1))


def von_mises(stress: Floats) -> Floats:
    """Von Mises stress, (n,), Pa, of stresses (n, 6)."""
    xx, rr, tt, xr, rt, xt = stress.T
    direct = (xx - rr) ** 2 + (rr - tt) ** 2 + (tt - xx) ** 2
    return np.asarray(np.sqrt(direct / 2 + 3 * (xr**2 + rt**2 + xt**2)))
