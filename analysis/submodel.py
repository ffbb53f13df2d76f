"""A piece of the bar round its cross-hole, meshed anew and solved as the whole bar drives it.

The cut faces of the piece follow the motion of the whole bar's solid, the walls of the hole carry
the same push of the bit, and no support acts inside. What is wrong with the whole bar's mesh at
the hole reaches the piece only through the motion a diameter away, where it has died down
(Saint-Venant): the piece may be as fine at the hole as its stress needs, the whole bar need not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array, diags_array
from scipy.spatial import KDTree

from .elastic import scalar_basis, stiffness
from .errors import SolveError
from .fronts import cholesky, fronts_of
from .material import BarMaterial
from .mesh import SolidMesh, SolidShape
from .model import Floats
from .patch import shape_slopes, shape_values

REACH = 1.0
"""Of the bar's diameter: from the middle of the hole to a cut face."""
NEAREST = 24
"""Elements in which a place is looked for."""


def piece_of(shape: SolidShape, *, within: tuple[float, float]) -> SolidShape:
    """Piece of a bar round its cross-hole, `REACH` diameters to either side.

    Parameters
    ----------
    within : m, stations it must not go beyond: the supports' own nearest planes

    Returns
    -------
    Its first and last section are cut faces, also where the bar ends there.
    """
    hole = shape.hole
    if hole is None:
        message = "a piece round the cross-hole was asked of a bar without one"
        raise AssertionError(message)
    reach = REACH * shape.diameter(hole.position)
    start, end = max(hole.position - reach, within[0]), min(hole.position + reach, within[1])
    lengths = tuple(
        replace(length, start=max(length.start, start), end=min(length.end, end))
        for length in shape.lengths
        if length.start < end and length.end > start
    )
    near = tuple(
        other
        for other in shape.other_holes
        if start - other.size < other.position < end + other.size
    )
    first, last = shape.ends
    kept = {"drive"} if start <= first else set()
    kept |= {"tail"} if end >= last else set()
    centres = tuple(centre for centre in shape.centres if centre.end in kept)
    return replace(shape, lengths=lengths, other_holes=near, centres=centres, planes=())


def sampling(solid: SolidMesh, places: Floats) -> csr_array:
    """Value at each of some places (3, n) from the nodes' values, (n, n_node).

    A place a hair outside of the mesh, as on another mesh of the same round surface, is taken to
    belong to the element it is nearest to.

    Raises
    ------
    SolveError
        A place lies outside of the mesh.
    """
    cells = solid.mesh.dofs.element_dofs.T
    middle = solid.mesh.p[:, solid.mesh.t].mean(axis=1).T
    count = min(NEAREST, len(middle))
    _, nearest = KDTree(middle).query(places.T, count)
    n = places.shape[1]
    inside = np.full(n, -np.inf)
    owner, value = np.zeros(n, dtype=np.int64), np.zeros((10, n))
    for rank in range(count):
        open_ = np.flatnonzero(inside < -1e-9)
        element = nearest[open_, rank]
        reference, found = _reference_places(solid.nodes[:, cells[element]], places[:, open_])
        least = np.minimum(reference.min(axis=0), 1 - reference.sum(axis=0))
        least[~found] = -np.inf
        better = least > inside[open_]
        chosen = open_[better]
        inside[chosen], owner[chosen] = least[better], element[better]
        value[:, chosen] = shape_values(reference[:, better])
    if inside.min() < -0.1:
        message = "a cut face of the piece round the hole does not lie in the bar"
        raise SolveError(message)
    rows = np.repeat(np.arange(n), 10)
    entries = (value.T.ravel(), (rows, cells[owner].ravel()))
    return csr_array(coo_array(entries, shape=(n, solid.nodes.shape[1])))


def _reference_places(corner: Floats, places: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Reference places (3, n) of places in elements with nodes (3, n, 10), by Newton's method.

    Far outside of a curved element there may be none: the second answer says where one was found.
    """
    reference = np.full(places.shape, 0.25)
    for _ in range(8):
        amiss = places - np.einsum("ine,en->in", corner, shape_values(reference))
        jacobian = np.einsum("ine,ekn->nik", corner, shape_slopes(reference))
        step = np.linalg.solve(jacobian, amiss.T[:, :, None])[:, :, 0].T
        reference = (reference + step).clip(-2.0, 3.0)
    return reference, np.abs(step).max(axis=0) < 1e-9


def cut_nodes(solid: SolidMesh) -> NDArray[np.int64]:
    """Nodes on the first and last section of a piece."""
    return solid.facet_nodes(np.concatenate([solid.plane_facets(end) for end in solid.shape.ends]))


def solved(
    solid: SolidMesh,
    material: BarMaterial,
    load: Floats,
    fixed: NDArray[np.int64],
    known: Floats,
) -> Floats:
    """Motion (n_dof, k) under loads (n_dof, k), N, some unknowns being known.

    Parameters
    ----------
    fixed, known : the unknowns that are known, and their motion, (n_fixed, k), m
    """
    matrix = stiffness(scalar_basis(solid), material)
    moved = np.zeros(load.shape)
    moved[fixed] = known
    free = np.ones(len(load))
    free[fixed] = 0.0
    held = diags_array(free)
    tie = np.where(free == 0, matrix.diagonal(), 0.0)
    loose = held @ (load - matrix @ moved)
    cells = solid.mesh.dofs.element_dofs.T.astype(np.int64)
    factors = cholesky(
        fronts_of(cells, solid.nodes), (held @ matrix @ held + diags_array(tie)).tocsc()
    )
    return np.asarray(moved + factors.solve(loose))


def driven(
    solid: SolidMesh,
    material: BarMaterial,
    load: Floats,
    drives: Sequence[tuple[SolidMesh, Floats]],
) -> Floats:
    """Motion (n_dof, k) of a piece whose cut faces follow each of some solids of the whole bar.

    Parameters
    ----------
    load : (n_dof,) N, what the bit puts on the walls of the piece's hole
    drives : mesh of the whole bar and its motion, (n_whole_dof,), m
    """
    nodes = cut_nodes(solid)
    places = solid.nodes[:, nodes]
    known = [(sampling(whole, places) @ motion.reshape(-1, 3)).ravel() for whole, motion in drives]
    return solved(
        solid,
        material,
        np.repeat(load[:, None], len(drives), axis=1),
        (3 * nodes[:, None] + np.arange(3)).ravel(),
        np.stack(known, axis=1),
    )
