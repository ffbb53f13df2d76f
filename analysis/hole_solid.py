"""What a cross-hole adds to the give of a short bar, found on a solid under a beam's own loads.

A bar five diameters long, the hole in its middle, floats free under self-balanced tractions on
its ends: those that Saint-Venant's solutions have on any section (pull, torsion, bending, and
bending by a shear force that leaves no moment at the hole; S. P. Timoshenko & J. N. Goodier,
Theory of Elasticity, bending of a bar of circular section; from memory). The work that the
tractions do is the give in that load. The same mesh with its hole filled gives the plain bar's,
so that the error of mesh and ends drops out of the difference.

All lengths over the diameter of the bar, stiffness over E: E = D = 1.
"""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array, diags_array

from .elastic import coupling, element_stiffness, scalar_basis, stiffness
from .fronts import cholesky, fronts_of
from .material import BarMaterial
from .mesh import Hole, ScrewHole, SolidMesh, round_bar, solid_mesh
from .model import Floats, symmetric_lu
from .patch import Points, facet_points, rigid_motion

LENGTH = 5.0
POISSON = 0.29
AREA, SECOND = pi / 4, pi / 64


LOADS = ("bend_bit", "bend_across", "torsion", "axial", "shear_bit", "shear_across")
"""The order of the six gives, dimensionless.

Extra rotation x E D^3 / moment in the bit plane and across it; extra turn x G D^3 / torque; extra
stretch x E D / pull; extra shear deflection x G D / shear force in each plane. What the moment of
the shear force bends over the width of the hole is counted with the bending.
"""


def unit_material(poisson: float) -> BarMaterial:
    """Material of Young's modulus 1."""
    return BarMaterial(elastic_modulus=1.0, poisson=poisson, density=1.0, yield_strength=1.0)


def _tractions(points: Points, sign: float) -> Floats:
    """Six tractions on an end, (n_point, 3, 6), and two end moments; sign 1 at the far end."""
    _, y, z = points.place
    zero, nu = np.zeros_like(y), POISSON
    first = (3 + 2 * nu) / (8 * (1 + nu)) / SECOND
    fall = (1 - 2 * nu) / (3 + 2 * nu)
    cross = -(1 + 2 * nu) / (4 * (1 + nu)) / SECOND * y * z
    along_y = first * (0.25 - y**2 - fall * z**2)
    along_z = first * (0.25 - z**2 - fall * y**2)
    polar = 2 * SECOND
    loads = [
        (sign * y / SECOND, zero, zero),
        (sign * z / SECOND, zero, zero),
        (zero, -sign * z / polar, sign * y / polar),
        (sign / AREA + zero, zero, zero),
        (LENGTH / 2 * y / SECOND, sign * along_y, sign * cross),
        (LENGTH / 2 * z / SECOND, sign * cross, sign * along_z),
    ]
    return np.array(loads).transpose(2, 1, 0)


def _loads(solid: SolidMesh) -> Floats:
    """Six self-balanced loads, (n_dof, 6)."""
    total = np.zeros((3 * solid.nodes.shape[1], 6))
    for station, sign in ((0.0, -1.0), (LENGTH, 1.0)):
        points = facet_points(solid.mesh, solid.plane_facets(station))
        traction = _tractions(points, sign) * points.weight[:, None, None]
        total += (points.value.T @ traction.reshape(-1, 18)).reshape(-1, 6)
    rigid = rigid_motion(solid.nodes, LENGTH / 2).reshape(-1, 6)
    amiss = rigid.T @ total
    if np.abs(amiss).max() > 0.02:
        message = "the end tractions do not balance"
        raise AssertionError(message)
    return np.asarray(total - rigid @ np.linalg.solve(rigid.T @ rigid, amiss))


def _pins(solid: SolidMesh) -> NDArray[np.int64]:
    """Six dofs that just hold the bar: nothing acts on them when the loads balance."""
    x, y, z = solid.nodes
    axis = np.hypot(y, z)
    one = int(np.argmin(x + axis))
    other = int(np.argmin(LENGTH - x + axis))
    side = int(np.argmin(x + np.hypot(y - 0.5, z)))
    return np.array(
        [3 * one, 3 * one + 1, 3 * one + 2, 3 * other + 1, 3 * other + 2, 3 * side + 2]
    )


def _solved(matrix: csc_array, loads: Floats, pins: NDArray[np.int64]) -> Floats:
    """Motion under each load, (n_dof, 6)."""
    diagonal = matrix.diagonal()
    tie = np.where(diagonal == 0, 1.0, 0.0)
    tie[pins] = diagonal[pins]
    return np.asarray(symmetric_lu(matrix + diags_array(tie)).solve(loads))


def short_bar_motion(solid: SolidMesh, material: BarMaterial) -> Floats:
    """Motion of a free bar of diameter 1 and length `LENGTH` under the six loads, (n_dof, 6)."""
    matrix = stiffness(scalar_basis(solid), material)
    tie, pins = np.zeros(solid.nodes.size), _pins(solid)
    tie[pins] = matrix.diagonal()[pins]
    fronts = fronts_of(solid.mesh.dofs.element_dofs.T.astype(np.int64), solid.nodes)
    return cholesky(fronts, matrix + diags_array(tie)).solve(_loads(solid))


def found_give(hole: Hole, *, screw: float = 0.0, fine: float = 4.5) -> Floats:
    """Extra give of a bar of diameter 1 for a hole at mid-length, (6,), see `LOADS`.

    Extrapolated from two meshes, `fine` and two thirds of it elements across the hole, with the
    order that a third mesh showed: 2 for the sharp corners of a square hole, 2.5 for a round one.

    Parameters
    ----------
    hole : lengths over the bar's diameter; its position is not read
    screw : diameter of a set-screw hole from the trailing side, over the diameter; 0: none
    """
    order = 2.0 if hole.shape == "square" else 2.5
    coarse = meshed_give(hole, screw=screw, per_hole=fine / 1.5)
    finer = meshed_give(hole, screw=screw, per_hole=fine)
    return np.asarray(finer + (finer - coarse) / (1.5**order - 1))


def meshed_give(hole: Hole, *, per_hole: float, screw: float = 0.0) -> Floats:
    """Extra give, (6,), by one mesh with `per_hole` elements across the hole."""
    solid = _mesh(hole, per_hole, screw)
    basis = scalar_basis(solid)
    local = element_stiffness(basis, unit_material(POISSON))
    cells = basis.element_dofs.T
    kept = np.setdiff1d(np.arange(basis.nelems), solid.plug)
    loads, pins = _loads(solid), _pins(solid)
    whole = _solved(coupling(cells, basis.N).summed(local), loads, pins)
    holed = _solved(coupling(cells[kept], basis.N).summed(local[kept]), loads, pins)
    extra = np.einsum("ij,ij->j", loads, holed - whole)
    return _dimensionless(extra, hole.size)


def _mesh(hole: Hole, per_hole: float, screw: float) -> SolidMesh:
    middle = LENGTH / 2
    shape = round_bar(1.0, LENGTH, hole=replace(hole, position=middle))
    if screw:
        drilled = ScrewHole(diameter=screw, side="trailing", station=middle)
        shape = replace(shape, screws=(drilled,))
    across = hole.size / per_hole
    return solid_mesh(shape, element_length=0.23, hole_length=across, grading=0.5, filled=True)


def _dimensionless(extra: Floats, size: float) -> Floats:
    """Give from extra work at unit loads with E = D = 1."""
    G = 1 / (2 * (1 + POISSON))
    give = np.array(extra)
    give[4:] -= extra[:2] * size**2 / 12
    give[[2, 4, 5]] *= G
    return give
