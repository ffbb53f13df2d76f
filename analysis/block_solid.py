"""The bar round its cross-hole as a solid, boiled down to what a beam feels of it.

Method. The plain bar under a pull, a twist, two bendings and two shears has Saint-Venant's exact
stresses and motions (S. P. Timoshenko & J. N. Goodier, Theory of Elasticity, bending of a bar of
circular section; from memory). Cutting the hole out of it lays bare those stresses on the hole's
walls; pulling them off again is a self-balanced load that only the neighbourhood feels. With
`v_i` the motion that this load `f_i` makes in the drilled bar, and `W` the energy that the plain
stresses had in the piece cut out, the hole adds to the bar's give ::

    give_ij = W_ij + f_i . v_j

which is an identity, with no difference of nearly equal numbers in it: a short bar and a mesh
that is fine at the hole alone are enough. All twenty-one numbers of the six loads come out, those
that an offset couples among them.

The *seat* is the hole's walls as the bit pushes them: six loads that move them as the solid model
of a case does (`patch.wall_motion`), half of each carried off to either side. What they give over
the same push on the middle of the beam, and what the six plain loads move the walls besides, is
kept too, so that the edge of a beam moves as the edge of a solid. Likewise the *drift*: how far
the metal left over the hole moves, on the whole, beyond the beam's sections as loads go through.

All lengths over the diameter of the bar, stiffness over E: E = D = 1.
"""

from __future__ import annotations

from collections.abc import Callable
from math import inf
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import diags_array

from .elastic import scalar_basis, stiffness
from .fronts import cholesky, fronts_of
from .hole_block import (
    AREA,
    LENGTH,
    LIKE_WALLS,
    MODULUS_G,
    POISSON,
    POLAR,
    ROUNDED,
    SECOND,
    BlockShape,
    HoleBlock,
    beyond_the_beam,
    beyond_the_sections,
)
from .hole_solid import unit_material
from .mesh import Cylinder, Hole, ScrewHole, SolidMesh, SolidShape, solid_mesh
from .model import Floats
from .patch import (
    Points,
    facet_points,
    facet_points_and_normals,
    rigid_motion,
    section_motion,
    volume_points,
    wall_motion,
)

CORNERS = (0.045, 0.026)
"""Length of the elements along sharp corners in the two meshes."""
SHARP_ORDER = 1.089


# --- Saint-Venant's bar ------------------------------------------------------------------------


def plain_stress(place: Floats) -> Floats:
    """Stresses xx, xy, xz of the plain bar at places (3, n) under each load, (6, 3, n).

    x from the middle of the hole; the other three stresses are nought.
    """
    x, y, z = place
    nu, zero = POISSON, np.zeros_like(y)
    first = (3 + 2 * nu) / (8 * (1 + nu)) / SECOND
    fall = (1 - 2 * nu) / (3 + 2 * nu)
    cross = -(1 + 2 * nu) / (4 * (1 + nu)) / SECOND * y * z
    return np.array(
        [
            (-y / SECOND, zero, zero),
            (-z / SECOND, zero, zero),
            (zero, -z / POLAR, y / POLAR),
            (1 / AREA + zero, zero, zero),
            (x * y / SECOND, first * (0.25 - y**2 - fall * z**2), cross),
            (x * z / SECOND, cross, first * (0.25 - z**2 - fall * y**2)),
        ]
    )


def plain_motion(place: Floats) -> Floats:
    """Displacement of the plain bar at places (3, n) under each load, (6, 3, n)."""
    x, y, z = place
    nu, k, zero = POISSON, 1 / SECOND, np.zeros_like(y)
    twist = 1 / (MODULUS_G * POLAR)
    round_about = (3 + 2 * nu) / 16 - (y**2 + z**2) / 4
    apart = nu / 2 * (y**2 - z**2)
    return np.array(
        [
            (-k * x * y, k * (x**2 / 2 + apart), k * nu * y * z),
            (-k * x * z, k * nu * y * z, k * (x**2 / 2 - apart)),
            (zero, -twist * x * z, twist * x * y),
            (x / AREA, -nu * y / AREA, -nu * z / AREA),
            (
                k * y * (x**2 / 2 + round_about),
                -k * (x**3 / 6 + x * apart),
                -k * nu * x * y * z,
            ),
            (
                k * z * (x**2 / 2 + round_about),
                -k * nu * x * y * z,
                -k * (x**3 / 6 - x * apart),
            ),
        ]
    )


def _traction(place: Floats, normal: Floats) -> Floats:
    """Plain bar's pull on a surface with outward normals (3, n), (n, 3, 6)."""
    xx, xy, xz = plain_stress(place).transpose(1, 0, 2)
    nx, ny, nz = normal
    pull = np.array([xx * nx + xy * ny + xz * nz, xy * nx, xz * nx])
    return np.asarray(pull.transpose(2, 0, 1))


# --- the solid ---------------------------------------------------------------------------------


class _Solid:
    """The drilled bar, its middle at x = 0, solved for any balanced load."""

    def __init__(self, solid: SolidMesh) -> None:
        self.solid, self.nodes, self.basis = solid, solid.nodes, scalar_basis(solid)
        self.rigid = rigid_motion(self.nodes, 0.0).reshape(-1, 6)
        matrix = stiffness(self.basis, unit_material(POISSON))
        cells = solid.mesh.dofs.element_dofs.T.astype(np.int64)
        tie = np.zeros(self.nodes.size)
        pins = _pins(self.nodes)
        tie[pins] = matrix.diagonal()[pins]
        self._factors = cholesky(fronts_of(cells, self.nodes), matrix + diags_array(tie))

    def balanced(self, load: Floats) -> Floats:
        """Take the little that a load leaves over out of it, as a rigid field."""
        amiss = self.rigid.T @ load
        return np.asarray(load - self.rigid @ np.linalg.solve(self.rigid.T @ self.rigid, amiss))

    def moved(self, load: Floats) -> Floats:
        """Motion under balanced loads (n_dof, n_load)."""
        return self._factors.solve(load)

    def end(self, station: float, way: float) -> Floats:
        """Plain bar's pull on one end, (n_dof, 6)."""
        points = facet_points(self.solid.mesh, self.solid.plane_facets(station))
        normal = np.zeros_like(points.place)
        normal[0] = way
        return _spread(points, _traction(points.place, normal))

    def mean_ends(self, motion: Floats) -> list[Floats]:
        """Mean motions of both ends, (6, n_load) each."""
        return [
            section_motion(facet_points(self.solid.mesh, self.solid.plane_facets(x)), x).T @ motion
            for x in (-LENGTH / 2, LENGTH / 2)
        ]

    def integral(self, motion: Floats) -> Floats:
        """Integral of the motion along r, t, x over the metal, (n_load, 3)."""
        points = volume_points(self.basis)
        share = points.value.T @ points.weight
        along = motion.reshape(share.size, 3, -1)[:, [1, 2, 0]]
        return np.asarray(np.einsum("n,nki->ik", share, along))


def _cut_out(points: Points, normal: Floats, field: Callable[[Floats], Floats]) -> Floats:
    """Integral of a field, (..., n_point) at places, over what is cut out of the bar.

    Gauss's theorem on its sum along x, a polynomial: of the surface only the walls count, for
    along the bar the round outside has no normal. `normal` points out of the metal.
    """
    place, share = points.place, -points.weight * normal[0] * points.place[0]
    total = 0.0
    for at, weight in zip(*np.polynomial.legendre.leggauss(3), strict=True):
        between = np.vstack([(at + 1) / 2 * place[:1], place[1:]])
        total = total + weight / 2 * field(between) @ share
    return np.asarray(total)


def _spread(points: Points, traction: Floats) -> Floats:
    """Loads (n_dof, k) of tractions (n_point, 3, k)."""
    weighted = traction * points.weight[:, None, None]
    by_node = points.value.T @ weighted.reshape(points.weight.size, -1)
    return np.asarray(by_node.reshape(-1, traction.shape[2]))


def _pins(nodes: Floats) -> NDArray[np.int64]:
    """Six dofs that just hold the bar: nothing acts on them when the loads balance."""
    x, y, z = nodes
    axis = np.hypot(y, z)
    one, other = int(np.argmin(x + axis)), int(np.argmin(axis - x))
    side = int(np.argmin(x + np.hypot(y - 0.5, z)))
    return np.array(
        [3 * one, 3 * one + 1, 3 * one + 2, 3 * other + 1, 3 * other + 2, 3 * side + 2]
    )


def meshed_block(shape: BlockShape, *, wall: float, corner: float) -> HoleBlock:
    """Block by one mesh, its elements `wall` long on the hole's walls, `corner` at its corners."""
    # Sharp corners are so fine that what grows from them is fine enough round the hole; smooth
    # walls are not, and left 1 % of the give to the elements beside them.
    solid = solid_mesh(
        _short_bar(shape),
        element_length=0.35,
        hole_length=wall,
        corner_length=corner,
        grading=0.6 if _sharp(shape) else 0.4,
        polish=1,
    )
    bar = _Solid(solid)
    points, normal = facet_points_and_normals(solid.mesh, solid.cuts)
    pull = _traction(points.place, normal)
    plain = plain_motion(points.place).transpose(2, 1, 0)
    energy = -np.einsum("pci,pcj,p->ij", pull, plain, points.weight)
    freed = bar.balanced(-_spread(points, pull))
    walls = wall_motion(facet_points(solid.mesh, solid.walls), 0.0)
    ends = bar.end(-LENGTH / 2, -1.0) - bar.end(LENGTH / 2, 1.0)
    pushed = bar.balanced(walls + ends[:, LIKE_WALLS] / 2)
    moved = bar.moved(np.hstack([freed, pushed]))
    give = _symmetric(energy + freed.T @ moved[:, :6])
    whole = plain_motion(bar.nodes).transpose(2, 1, 0).reshape(-1, 6) + moved[:, :6]
    carried, seat = beyond_the_beam(
        give, whole.T @ pushed, _symmetric(pushed.T @ moved[:, 6:]), shape.size
    )
    cut_out = _cut_out(points, normal, _moments)
    freely = moved[:, :6]
    left = bar.integral(freely) - _cut_out(points, normal, plain_motion)[:, [1, 2, 0]]
    return HoleBlock(
        give=give,
        carried=carried,
        seat=seat,
        drift=beyond_the_sections(left, bar.mean_ends(freely), give, shape.size, cut_out),
        cut_out=cut_out,
    )


def _moments(place: Floats) -> Floats:
    """What `HoleBlock.cut_out` is the integral of, at places (3, n)."""
    _, y, z = place
    return np.array([np.ones_like(y), z, y**2, z**2])


def _sharp(shape: BlockShape) -> bool:
    return shape.shape == "square" and shape.corner_radius < ROUNDED * shape.size


def _short_bar(shape: BlockShape) -> SolidShape:
    hole = Hole(
        shape=shape.shape,
        size=shape.size,
        position=0.0,
        offset=shape.offset,
        corner_radius=0.0 if _sharp(shape) else shape.corner_radius,
    )
    return SolidShape(
        lengths=(Cylinder(start=-LENGTH / 2, end=LENGTH / 2, diameter=1.0),),
        hole=hole,
        screws=tuple(
            ScrewHole(diameter=diameter, side=side, station=shift)
            for diameter, side, shift in shape.screws
        ),
    )


def hole_block(shape: BlockShape) -> HoleBlock:
    """Block of a hole, extrapolated from two meshes; two to four seconds.

    Sharp re-entrant corners of a right angle have the energy wanting by the power 1.09 of the
    elements along them (M. L. Williams, J. Appl. Mech. 19 (1952) 526: the stress grows as r to
    the power -0.456; from memory), smooth walls by about 2.5, as three meshes showed.

    Raises
    ------
    SolveError
        The mesher fails.
    """
    sharp = _sharp(shape)
    if sharp:
        wall, order = shape.size / 2, SHARP_ORDER
        corners = CORNERS
    else:
        radius = shape.corner_radius if shape.shape == "square" else inf
        wall = max(min(shape.size / 4, 2.2 * radius), 0.035)
        order, corners = 2.5, (wall, wall / 1.5)
    coarse, fine = (
        meshed_block(shape, wall=min(wall, 2 * corner) if sharp else corner, corner=corner)
        for corner in corners
    )
    beyond = 1 / ((corners[0] / corners[1]) ** order - 1)

    def extrapolated(name: str) -> Any:
        return getattr(fine, name) + beyond * (getattr(fine, name) - getattr(coarse, name))

    return HoleBlock(
        give=extrapolated("give"),
        carried=extrapolated("carried"),
        seat=extrapolated("seat"),
        drift=extrapolated("drift"),
        cut_out=fine.cut_out,
    )


def _symmetric(matrix: Floats) -> Floats:
    return np.asarray((matrix + matrix.T) / 2)
