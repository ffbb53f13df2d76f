"""Average motion of a patch of the solid bar: a section, a gripped length, the hole's walls.

A patch is a cloud of integration points, each with its weight and the nodes it hangs on; its
motion is the rigid motion that fits the points' displacement best in the least-squares sense.
For a section that is Cowper's mean deflection and rotation (G. R. Cowper, J. Appl. Mech. 33
(1966) 335): ``r`` the mean of u_y, ``slope_r = -integral(y u_x) / I``, ``turn = integral(y u_z -
z u_y) / J``, which are the motions a Timoshenko beam with his shear coefficient speaks of.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array, vstack
from skfem import Basis, ElementTetP2, MeshTet2
from skfem.quadrature import get_quadrature
from skfem.refdom import RefTri

from .model import Floats

ORDER = 5
"""Polynomial degree that the integration points are exact for, on straight elements."""

_LOCAL_FACES = np.array([[0, 1, 2], [0, 1, 3], [0, 2, 3], [1, 2, 3]])
_CORNERS = ElementTetP2.doflocs[:4]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """Integration points of a patch.

    Attributes
    ----------
    place : (3, n_point), m
    weight : (n_point,), m3 or m2
    value : (n_point, n_node), each point's value from the nodes' values
    """

    place: Floats
    weight: Floats
    value: csr_array

    def among(self, chosen: NDArray[np.bool_] | NDArray[np.int64]) -> Points:
        """Return the chosen points only."""
        return Points(
            place=self.place[:, chosen], weight=self.weight[chosen], value=self.value[chosen]
        )


def shape_values(place: Floats) -> Floats:
    """Ten shape functions at reference places (3, n), giving (10, n)."""
    return np.array([ElementTetP2().lbasis(place, i)[0] for i in range(10)])


def shape_slopes(place: Floats) -> Floats:
    """Slopes of the ten shape functions at reference places (3, n), giving (10, 3, n)."""
    return np.array([ElementTetP2().lbasis(place, i)[1] for i in range(10)])


def _hung(shape: Floats, nodes: NDArray[np.int64], n_node: int) -> csr_array:
    """Sparse (n_point, n_node) from shape (10, n_element, n_quad) and nodes (10, n_element)."""
    n_point = shape[0].size
    rows = np.broadcast_to(np.arange(n_point), (10, n_point))
    cols = np.repeat(nodes, shape.shape[2], axis=1)
    entries = (shape.reshape(10, -1).ravel(), (rows.ravel(), cols.ravel()))
    return csr_array(coo_array(entries, shape=(n_point, n_node)))


def volume_points(basis: Basis) -> Points:
    """Integration points of a volume, `basis` being the scalar field of ten-node tetrahedra."""
    place = np.asarray(basis.global_coordinates())
    shape = np.array([np.broadcast_to(np.asarray(f[0]), basis.dx.shape) for f in basis.basis])
    return Points(
        place=place.reshape(3, -1),
        weight=np.asarray(basis.dx).ravel(),
        value=_hung(shape, basis.element_dofs, basis.N),
    )


def facet_points(mesh: MeshTet2, facets: NDArray[np.int64]) -> Points:
    """Integration points of facets, seen from the first of the elements they belong to."""
    return facet_points_and_normals(mesh, facets)[0]


def facet_points_and_normals(mesh: MeshTet2, facets: NDArray[np.int64]) -> tuple[Points, Floats]:
    """Integration points of facets, and the way out of their elements there, (3, n_point)."""
    nodes = mesh.dofs.element_dofs
    element = mesh.f2t[0, facets]
    local = (mesh.t2f[:, element] == facets).argmax(axis=0)
    flat, weight = get_quadrature(RefTri, ORDER)
    sides = [
        _one_side(mesh, nodes[:, element[local == side]], side, flat, weight) for side in range(4)
    ]
    parts = [part for part, _ in sides]
    points = Points(
        place=np.hstack([part.place for part in parts]),
        weight=np.concatenate([part.weight for part in parts]),
        value=csr_array(vstack([part.value for part in parts])),
    )
    return points, np.hstack([normal for _, normal in sides])


def _one_side(
    mesh: MeshTet2, nodes: NDArray[np.int64], side: int, flat: Floats, weight: Floats
) -> tuple[Points, Floats]:
    """Points on the same local face of each of several elements, and the way out there.

    `nodes` (10, n_element).
    """
    a, b, c = _CORNERS[_LOCAL_FACES[side]]
    along = np.array([b - a, c - a])
    reference = a[:, None] + along.T @ flat
    corner = mesh.doflocs[:, nodes]
    shape = shape_values(reference)
    place = np.einsum("dae,aq->deq", corner, shape)
    tangent = np.einsum("dae,akq,tk->dteq", corner, shape_slopes(reference), along)
    across = np.cross(tangent[:, 0], tangent[:, 1], axis=0)
    area = np.linalg.norm(across, axis=0)
    # The corner that is not on the face lies inwards.
    inwards = corner[:, 3 - side, :, None] - place
    way = np.where((across * inwards).sum(axis=0) > 0, -1.0, 1.0)
    whole = np.repeat(shape[:, None, :], nodes.shape[1], axis=1)
    points = Points(
        place=place.reshape(3, -1),
        weight=(area * weight).ravel(),
        value=_hung(whole, nodes, mesh.doflocs.shape[1]),
    )
    return points, (way * across / area).reshape(3, -1)


def rigid_motion(place: Floats, station: float) -> Floats:
    """Displacement of places (3, n) for six unit motions about (station, 0, 0), (n, 3, 6)."""
    x, y, z = place[0] - station, place[1], place[2]
    zero, one = np.zeros_like(x), np.ones_like(x)
    return np.stack(
        [
            np.stack([zero, zero, one, -y, -z, zero], axis=-1),
            np.stack([one, zero, zero, x, zero, -z], axis=-1),
            np.stack([zero, one, zero, zero, x, y], axis=-1),
        ],
        axis=1,
    )


def _spread(points: Points, weights: Floats) -> Floats:
    """Columns (n_dof, k) from weights (n_point, 3, k); dofs x, y, z node after node."""
    n_point, _, k = weights.shape
    by_node = points.value.T @ weights.reshape(n_point, 3 * k)
    return np.asarray(by_node.reshape(-1, k))


def section_motion(points: Points, station: float) -> Floats:
    """Six average motions of a section or a length of bar, (n_dof, 6), see `model.MOTIONS`.

    Slopes come from u_x alone and turn from u_y and u_z alone, as Cowper has it; the weighted
    points must balance about `station`.
    """
    place = points.place.copy()
    place[0] = station
    field = rigid_motion(place, station) * points.weight[:, None, None]
    gram = np.einsum("pci,pcj->ij", rigid_motion(place, station), field)
    return _spread(points, field @ np.linalg.inv(gram))


def wall_motion(points: Points, station: float) -> Floats:
    """Six average motions of a patch with breadth in all directions, (n_dof, 6)."""
    rigid = rigid_motion(points.place, station)
    field = rigid * points.weight[:, None, None]
    gram = np.einsum("pci,pcj->ij", rigid, field)
    return _spread(points, field @ np.linalg.inv(gram))


def edge_motion(carrier: Floats, arm: float) -> Floats:
    """Motion of the cutting edge along r, t, x, (n_dof, 3).

    Parameters
    ----------
    carrier : (n_dof, 6), mean motion of what carries the edge rigidly: the hole's walls, or a
        section of a bar without a hole
    arm : m, radius of the edge
    """
    r, t, x, slope_r, _, turn = carrier.T
    return np.stack([r, t + arm * turn, x - arm * slope_r], axis=1)


def slice_about(points: Points, station: float, reach: float) -> Points:
    """Points within `reach` of a station, weighted so that their mean is the section's value.

    The weights give 1 for 1 and 0 for (x - s) and (x - s)^2, also at the end of the bar, where
    they lie to one side: a parabola along x comes out as it is, to a few parts in a million.
    """
    near = points.among(np.abs(points.place[0] - station) < reach)
    away = (near.place[0] - station) / reach
    weight = near.weight * (1 - np.abs(away))
    powers = away ** np.arange(3)[:, None]
    moments = (powers * weight) @ powers.T
    factor = np.linalg.solve(moments, [1.0, 0.0, 0.0])
    return replace(near, weight=weight * (factor @ powers))
