"""Stress in the solid bar, and how much a cross-hole raises it above the nominal.

Second-order tetrahedra have their best stress at four points inside (O. C. Zienkiewicz & J. Z.
Zhu, Int. J. Numer. Methods Eng. 33 (1992) 1331; from memory); it is carried linearly to the ten
nodes and averaged over the elements that share a node. At a re-entrant edge without a radius the
true stress has no limit: the number there says only how fine the mesh is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi

import numpy as np
from numpy.typing import NDArray
from skfem.quadrature import get_quadrature
from skfem.refdom import RefTet

from .case import Case
from .elastic import lame
from .errors import ModelError
from .hole_solid import LENGTH, short_bar_motion, unit_material
from .material import BarMaterial
from .mesh import Hole, SolidMesh, bar_shape, round_bar, solid_mesh
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


def wall_nodes(solid: SolidMesh) -> NDArray[np.int64]:
    """Nodes on the walls of the cross-hole, the rims of its mouths among them."""
    corners = solid.mesh.facets[:, solid.walls]
    edges = solid.mesh.f2e[:, solid.walls]
    return np.unique(np.concatenate([corners.ravel(), solid.mesh.nvertices + edges.ravel()]))


@dataclass(frozen=True, slots=True, kw_only=True)
class StressFactors:
    """Largest principal stress at the hole over the *gross* nominal stress of the plain bar.

    Attributes
    ----------
    bend_bit : bending in the plane of the hole, over 32 M / pi D^3
    bend_across : bending across it, over the same
    torsion : over 16 T / pi D^3
    axial : over 4 F / pi D^2
    """

    bend_bit: float
    bend_across: float
    torsion: float
    axial: float


def stress_factors(
    hole: Hole, *, poisson: float = 0.29, per_hole: float = 4.0, per_rim: float = 20.0
) -> StressFactors:
    """Stress raised by a cross-hole, on a solid; about 10 s.

    Parameters
    ----------
    hole : lengths over the bar's diameter; its position is not read
    per_hole, per_rim : elements across the hole on its walls, and along the rims of its mouths

    Raises
    ------
    ModelError
        A square hole with a corner radius below a tenth of its size.
    """
    if hole.shape == "square" and hole.corner_radius < 0.099 * hole.size:
        message = (
            f"the corner radius is {hole.corner_radius / hole.size:.3f} of the square hole; in a "
            "sharp corner stress has no limit, and the solid follows radii from a tenth of the "
            "hole. Give a corner_radius of a tenth of the hole or more"
        )
        raise ModelError(message)
    solid = _stress_mesh(hole, per_hole, per_rim)
    material = unit_material(poisson)
    motion = short_bar_motion(solid, material)
    walls = wall_nodes(solid)
    bit, across, turn, pull = (
        float(largest_principal(nodal_stress(solid, material, motion[:, load])[walls]).max())
        for load in range(4)
    )
    return StressFactors(
        bend_bit=bit * pi / 32,
        bend_across=across * pi / 32,
        torsion=turn * pi / 16,
        axial=pull * pi / 4,
    )


def _stress_mesh(hole: Hole, per_hole: float, per_rim: float) -> SolidMesh:
    """Short bar, fine where the stress is: at the rims, and at rounded corners."""
    shape = round_bar(1.0, LENGTH, hole=replace(hole, position=LENGTH / 2))
    rim = hole.size / per_rim
    if hole.shape == "square":
        rim = min(rim, hole.corner_radius / 2)
    walls = min(hole.size / per_hole, 2.2 * hole.corner_radius or hole.size)
    return solid_mesh(shape, element_length=0.25, hole_length=walls, mouth_length=rim, grading=0.4)


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleStress:
    """Stress at the cross-hole under the cutting force.

    Attributes
    ----------
    nominal : Pa, bending stress of the plain bar there, 32 M / pi D^3 on the gross section
    peak : Pa, largest principal stress on the walls and rims of the hole, solid model
    refinement_change : of the peak, from the coarser mesh to the finer, over the finer; no bound
        on its error. With the meshes of a run it was 2 % and 1 % (a round hole of a quarter of
        the bar; a square one with corners of a seventh of it) where elements half as long
        found 9 and 15 % more: the margins stand on `stress_raiser`, whose tables are finer.
    """

    nominal: float
    peak: float
    refinement_change: float


def hole_peak(case: Case, motion: Floats, refinement: float) -> float:
    """Largest principal stress on the walls of the cross-hole, Pa.

    Parameters
    ----------
    motion : (n_dof,) m, of the solid model of the case at that refinement
    """
    mesh = solid_mesh(bar_shape(case), refinement=refinement)
    stress = nodal_stress(mesh, case.bar.material, motion)
    return float(np.abs(largest_principal(stress[wall_nodes(mesh)])).max())
