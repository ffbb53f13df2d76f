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
kept too, so that the edge of a beam moves as the edge of a solid.

All lengths over the diameter of the bar and stiffness over E: a block is computed once for a
shape. Its Poisson's ratio is `POISSON`; with that of another steel the give in twist and shear
is taken over G and the rest over E.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import inf, pi
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import diags_array

from .elastic import scalar_basis, stiffness
from .fronts import cholesky, fronts_of
from .hole_solid import unit_material
from .mesh import Cylinder, Hole, ScrewHole, SolidMesh, SolidShape, solid_mesh
from .model import Floats
from .patch import (
    Points,
    facet_points,
    facet_points_and_normals,
    rigid_motion,
    wall_motion,
)
from .section import hutchinson_coefficient

POISSON = 0.29
LENGTH = 3.0
AREA, SECOND = pi / 4, pi / 64
POLAR = 2 * SECOND
MODULUS_G = 1 / (2 * (1 + POISSON))

ROUNDED = 1 / 12
"""A corner radius under this share of the hole is meshed sharp."""
CORNERS = (0.04, 0.025)
"""Length of the elements along sharp corners in the two meshes."""
SHARP_ORDER = 1.089

LOADS = ("bend_bit", "bend_across", "torsion", "axial", "shear_bit", "shear_across")
"""The order of the six loads at the middle of the hole.

Moments and torque as the beam has them (`timoshenko`): positive ones raise the slope and the turn
along the bar; a shear force has no moment at the middle of the hole.
"""
BEND_BIT, BEND_ACROSS, TORSION, AXIAL, SHEAR_BIT, SHEAR_ACROSS = range(6)
LIKE_WALLS = (SHEAR_BIT, SHEAR_ACROSS, AXIAL, BEND_BIT, BEND_ACROSS, TORSION)
"""The load that carries off a push on the walls, for each motion of `model.MOTIONS`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockShape:
    """A cross-hole and what is drilled into it, lengths over the bar's diameter.

    Attributes
    ----------
    shape, size : square or round; across the flats, or diameter
    offset : of its middle from the bar's centre line, along t
    corner_radius : of a square hole; under a twelfth of the hole it is taken as sharp
    screws : diameter, side, and shift along the bar of each set-screw hole
    """

    shape: Literal["square", "round"]
    size: float
    offset: float = 0.0
    corner_radius: float = 0.0
    screws: tuple[tuple[float, Literal["leading", "trailing"], float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HoleBlock:
    """What a cross-hole adds to the give of its bar, dimensionless: E = D = 1.

    Attributes
    ----------
    give : (6, 6), extra motion in each of `LOADS` per load, symmetric
    carried : (6, 6), extra motion of the walls (columns, `model.MOTIONS`) per load
    seat : (6, 6), extra motion of the walls per push on them, symmetric
    volume : of what is cut out of the bar
    """

    give: Floats
    carried: Floats
    seat: Floats
    volume: float


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
        self.solid, self.nodes = solid, solid.nodes
        self.rigid = rigid_motion(self.nodes, 0.0).reshape(-1, 6)
        basis = scalar_basis(solid)
        matrix = stiffness(basis, unit_material(POISSON))
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
    solid = solid_mesh(
        _short_bar(shape),
        element_length=0.35,
        hole_length=wall,
        corner_length=corner,
        grading=0.6,
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
    carried, seat = _beyond_the_beam(
        give, whole.T @ pushed, _symmetric(pushed.T @ moved[:, 6:]), shape.size
    )
    # Along the bar the round surface has no normal, so this counts the walls' side alone.
    volume = -float(points.weight @ (points.place[0] * normal[0]))
    return HoleBlock(give=give, carried=carried, seat=seat, volume=volume)


def _short_bar(shape: BlockShape) -> SolidShape:
    sharp = shape.corner_radius < ROUNDED * shape.size
    hole = Hole(
        shape=shape.shape,
        size=shape.size,
        position=0.0,
        offset=shape.offset,
        corner_radius=0.0 if sharp else shape.corner_radius,
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
    sharp = shape.shape == "square" and shape.corner_radius < ROUNDED * shape.size
    if sharp:
        wall, order = shape.size / 2, SHARP_ORDER
        corners = CORNERS
    else:
        radius = shape.corner_radius if shape.shape == "square" else inf
        wall = max(min(shape.size / 5, 2.2 * radius), 0.035)
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
        volume=fine.volume,
    )


def _symmetric(matrix: Floats) -> Floats:
    return np.asarray((matrix + matrix.T) / 2)


# --- the beam that it is held against ----------------------------------------------------------

Internal = Callable[[float], Floats]
"""Internal loads at a station, (6 internal, 6 loads)."""


def _through(x: float) -> Floats:
    """Internal loads when each of `LOADS` goes through the bar: a shear force bends beside it."""
    inside = np.eye(6)
    inside[BEND_BIT, SHEAR_BIT] = inside[BEND_ACROSS, SHEAR_ACROSS] = -x
    return inside


def _from_walls(x: float) -> Floats:
    """Internal loads when each motion of the walls is pushed and half goes off to either side."""
    return np.asarray(-np.sign(x) / 2 * _through(x)[:, LIKE_WALLS])


def plain_give() -> Floats:
    """Give of the plain beam per length in each of `LOADS`, (6,), E = D = 1."""
    shear = 1 / (hutchinson_coefficient(POISSON) * MODULUS_G * AREA)
    return np.array([1 / SECOND, 1 / SECOND, 1 / (MODULUS_G * POLAR), 1 / AREA, shear, shear])


def spread_give(give: Floats, width: float) -> Floats:
    """Give to spread over the hole's width, so that it adds up to a block's, (6, 6).

    Over the width a shear force bends too, and that much is already counted with the bending.
    """
    spread = give.copy()
    bending, shear = [BEND_BIT, BEND_ACROSS], [SHEAR_BIT, SHEAR_ACROSS]
    spread[np.ix_(shear, shear)] -= width**2 / 12 * give[np.ix_(bending, bending)]
    return spread


def _beyond_the_beam(
    give: Floats, carried: Floats, seat: Floats, width: float
) -> tuple[Floats, Floats]:
    """What the walls move and give beyond a beam of the block's length with `give` in it."""
    beam = _Softened(give, width)
    carried = carried - beam.work(_through, _from_walls)
    seat = seat - beam.work(_from_walls, _from_walls)
    # A push on the walls also bends the beam under it, which `carried` then counts.
    mean = beam.mean(_from_walls)
    return carried, seat - mean.T @ carried - carried.T @ mean


class _Softened:
    """A beam as long as the block, softened over the hole's width."""

    def __init__(self, give: Floats, width: float) -> None:
        self._plain = np.diag(plain_give())
        self._spread = spread_give(give, width) / width
        self._half = width / 2

    def work(self, one: Internal, other: Internal) -> Floats:
        """Work of each of some loads on the motion of each of others, (6, 6)."""
        total = np.zeros((6, 6))
        point, weight = np.polynomial.legendre.leggauss(4)
        cuts = (-LENGTH / 2, -self._half, 0.0, self._half, LENGTH / 2)
        for start, end in pairwise(cuts):
            inside = abs(start + end) / 2 < self._half
            give = self._plain + self._spread if inside else self._plain
            for p, w in zip(point, weight, strict=True):
                x = (start + end) / 2 + (end - start) / 2 * p
                total += w * (end - start) / 2 * one(x).T @ give @ other(x)
        return total

    def mean(self, one: Internal) -> Floats:
        """Mean of internal loads over the width, (6 internal, 6 loads)."""
        point, weight = np.polynomial.legendre.leggauss(4)
        places = zip(point, weight, strict=True)
        halves = (
            w / 4 * one(self._half * (p + side) / 2) for p, w in places for side in (-1.0, 1.0)
        )
        return np.asarray(sum(halves))
