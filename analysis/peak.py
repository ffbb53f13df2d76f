"""Peak stress at the cross-hole and its screws, on meshes fine there, and how far off it may be.

Where the stress peaks is found on a mesh of even elements; three more are made with short ones
round these spots, each 1.5 times as fine as the one before. Stress at a node of the wall is the
slope of cubics fitted to the displacements of the nodes round about, weighted by nearness (Z.
Zhang & A. Naga, SIAM J. Sci. Comput. 26 (2005) 1192; from memory): those are a power better than
the stress inside elements, and the largest of many nodes is then not the largest of their errors.

How far off: the grid convergence index (P. J. Roache, J. Fluids Eng. 116 (1994) 405; ASME V&V
20; both from memory), 1.25 times what the observed order leaves beyond the finest mesh, the order
held between 1 and 2 and put at 1 where the three do not run one way. Meshes without structure
scatter, so two may agree by luck: a change counts at least as that order makes it of the one
before. The finest answer stays as it is: scatter must not be extrapolated.
The band also reaches as far as a second stress at the same node, averaged over its elements.
`tests/benchmarks/peak_stress.py` holds such bands against exact solutions and far finer meshes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import log, pi

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from .case import Case
from .elastic import lame
from .errors import ModelError, SolveError
from .hole_solid import LENGTH, short_bar_motion, unit_material
from .material import BarMaterial
from .mesh import (
    Hole,
    ScrewHole,
    SolidMesh,
    SolidShape,
    bar_shape,
    round_bar,
    solid_mesh,
    spotted_mesh,
)
from .model import Floats
from .patch import edge_motion, facet_points, facet_points_and_normals, wall_motion
from .stress import largest_principal, nodal_stress
from .submodel import driven, piece_of

Moved = Callable[[SolidMesh], Floats]
"""Motion of a mesh, (n_dof, k), m, under each of some loads."""

RATIO = 1.5
PER_NOTCH = (8.0, 12.0, 18.0)
"""Elements along a notch, at the spots, in each mesh.

A notch is the size of a round hole, a screw's too, or twice the corner radius of a square one.
"""
FINER = 1.15
"""How much finer each mesh is than the one before away from the spots."""
HOT = 0.8
"""Share of the peak from which a wall counts as a spot of it, on the mesh that looks for them."""
DRIVER = 2.0
"""How far off the whole bar's mesh may be, over what one 13 % coarser changes: third order."""
FOLLOWED = 0.05
"""Least corner radius, over the size of the square hole, that the meshes follow."""
AGAIN = 4
"""How often a mesh is tried."""
_CLOSE = 0.93
_MOST = 30
"""Nodes of the wall at which stress is fitted: those with this share of the peak, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """Largest principal stress on walls and rims of the cross-hole and its screws' holes.

    Attributes
    ----------
    value : Pa, on the finest mesh
    error : over the value, how far to either side it may be off
    by_mesh : Pa, from the coarsest mesh to the finest
    order : with which these run together, none where they do not run one way
    off_wall : of the peak, pull that the fitted stress leaves on the wall there, which bears none
    place : (3,) m
    """

    value: float
    error: float
    by_mesh: tuple[float, ...]
    order: float | None
    off_wall: float
    place: tuple[float, float, float]


# --- stress at one node ------------------------------------------------------------------------

_POWERS = np.array(sorted((e for e in product(range(4), repeat=3) if sum(e) <= 3), key=sum))


class StressAtNode:
    """Stress at single nodes of a mesh, fitted to the displacements about them."""

    def __init__(self, solid: SolidMesh, material: BarMaterial) -> None:
        self.nodes, self._moduli = solid.nodes.T, lame(material)
        self._cells = solid.mesh.dofs.element_dofs.T
        n = len(self._cells)
        entries = (np.ones(10 * n), (self._cells.ravel(), np.repeat(np.arange(n), 10)))
        self._elements = csr_array(entries, shape=(len(self.nodes), n))

    def _neighbours(self, node: int) -> NDArray[np.int64]:
        """Nodes of the elements round a node, and of the elements round those."""
        ring = np.unique(self._cells[self._elements[[node]].indices])
        return np.unique(self._cells[self._elements[ring].indices])

    def stress(self, node: int, motion: Floats) -> Floats:
        """Stress tensor at a node, (3, 3), Pa, under a motion (n_dof,)."""
        near = self._neighbours(node)
        away = self.nodes[near] - self.nodes[node]
        distance = np.linalg.norm(away, axis=1)
        reach = distance.max()
        weight = np.exp(-((1.5 * distance / reach) ** 2))[:, None]
        terms = np.prod((away / reach)[:, None, :] ** _POWERS, axis=2)
        found, *_ = np.linalg.lstsq(
            terms * weight, motion.reshape(-1, 3)[near] * weight, rcond=None
        )
        # Rows x, y, z of the linear terms: slopes of the displacement along each.
        linear = [int(np.flatnonzero((axis == _POWERS).all(axis=1))[0]) for axis in np.eye(3)]
        slope = found[linear] / reach
        first, second = self._moduli
        return np.asarray(first * np.trace(slope) * np.eye(3) + second * (slope + slope.T))


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Peak on one mesh, the second stress there, the pull on the wall over it, and its place.

    `notch` is the size, m, of what raises the stress there; see `PER_NOTCH`.
    """

    value: float
    other: float
    off_wall: float
    place: Floats
    notch: float


def _bored(solid: SolidMesh) -> tuple[NDArray[np.int64], Floats]:
    """Nodes on walls and rims of the cross-hole and its screws' holes, and their notches, m."""
    hole, screws = solid.shape.hole, solid.shape.screws
    if hole is None:
        message = "stress at a hole was asked of a bar without one"
        raise AssertionError(message)
    notch = hole.size if hole.shape == "round" else min(hole.size, 2 * hole.corner_radius)
    own = solid.facet_nodes(solid.walls)
    mouths = np.setdiff1d(solid.facet_nodes(solid.screw_walls), own)
    least = min((screw.diameter for screw in screws), default=notch)
    nodes = np.concatenate([own, mouths])
    return nodes, np.repeat([notch, least], [own.size, mouths.size])


def _found(solid: SolidMesh, material: BarMaterial, motion: Floats) -> Found:
    """Peak of one load on one mesh."""
    walls, notches = _bored(solid)
    averaged = largest_principal(nodal_stress(solid, material, motion)[walls])
    order = np.argsort(-averaged)[:_MOST]
    fit = StressAtNode(solid, material)
    best: tuple[float, int, Floats] = (-1.0, 0, np.zeros((3, 3)))
    for number in order[averaged[order] >= _CLOSE * averaged.max()]:
        stress = fit.stress(int(walls[number]), motion)
        size = float(np.abs(np.linalg.eigvalsh(stress)).max())
        if size > best[0]:
            best = (size, int(number), stress)
    size, number, stress = best
    place = solid.nodes[:, walls[number]]
    bores = np.concatenate([solid.walls, solid.screw_walls])
    points, normals = facet_points_and_normals(solid.mesh, bores)
    nearest = int(np.argmin(((points.place - place[:, None]) ** 2).sum(axis=0)))
    pull = float(np.linalg.norm(stress @ normals[:, nearest]))
    return Found(
        value=size,
        other=float(averaged[number]),
        off_wall=pull / size if size else 0.0,
        place=place,
        notch=float(notches[number]),
    )


# --- meshes ------------------------------------------------------------------------------------


def _spots(solid: SolidMesh, material: BarMaterial, motion: Floats) -> Floats:
    """Places on the walls where the stress of any load is near its peak, and notches, (n, 4)."""
    walls, notches = _bored(solid)
    hot = np.zeros(walls.size, dtype=bool)
    for one in motion.T:
        stress = largest_principal(nodal_stress(solid, material, one)[walls])
        hot |= stress > HOT * stress.max()
    return np.column_stack([solid.nodes[:, walls[hot]].T, notches[hot]])


def _mesh(shape: SolidShape, hole: Hole, finer: float, spots: Floats) -> SolidMesh:
    """Mesh with short elements at the spots; a mesh that folds is made again a little finer."""
    even = hole.size / 4
    fillet = min(even, 3.0 * hole.corner_radius) if hole.shape == "square" else even
    failed = SolveError()
    for again in range(AGAIN):
        shorter = finer * 1.07**again
        try:
            return spotted_mesh(
                shape,
                element_length=0.35 * shape.diameter(hole.position) / shorter,
                hole_length=even / shorter,
                fillet_length=fillet / shorter,
                spots=spots,
            )
        except SolveError as error:
            failed = error
    raise failed


def is_followed(hole: Hole) -> bool:
    """Whether the meshes follow the corners of a hole; in a sharp one stress has no limit."""
    return hole.shape == "round" or hole.corner_radius >= FOLLOWED * hole.size * (1 - 1e-9)


def peaks(
    shape: SolidShape,
    material: BarMaterial,
    moved: Moved,
    *,
    spots: Floats | None = None,
    per_notch: tuple[float, ...] = PER_NOTCH,
) -> tuple[Peak, ...]:
    """Peak stress at the cross-hole of a bar under each of some loads.

    Parameters
    ----------
    moved : solves a mesh of the bar
    spots : (n, 4) m, where the stress peaks and the notches there, as far as they are known; left
        out: looked for
    per_notch : elements along the notch in each mesh, three or more, each `RATIO` times as many

    Raises
    ------
    ModelError
        A square hole with sharper corners than the meshes follow.
    """
    hole = shape.hole
    if hole is None or not is_followed(hole):
        raise ModelError(_sharp(hole))
    found = found_by_mesh(shape, hole, material, moved, spots, per_notch)
    return tuple(banded(series) for series in zip(*found, strict=True))


def found_by_mesh(
    shape: SolidShape,
    hole: Hole,
    material: BarMaterial,
    moved: Moved,
    spots: Floats | None,
    per_notch: Sequence[float],
) -> list[list[Found]]:
    """Peak of each load, mesh by mesh; see `peaks`."""
    if spots is None:
        looked = _mesh(shape, hole, 1.0, np.empty((0, 4)))
        spots = _spots(looked, material, moved(looked))
    found: list[list[Found]] = []
    for number, per in enumerate(per_notch):
        solid = _mesh(shape, hole, FINER**number, spots / [1, 1, 1, per])
        motion = moved(solid)
        found.append([_found(solid, material, one) for one in motion.T])
        spots = np.vstack([spots, *([*one.place, one.notch] for one in found[-1])])
    return found


def _sharp(hole: Hole | None) -> str:
    if hole is None:
        return "the bar has no cross-hole; give one to ask for the stress at it"
    return (
        f"the corner radius is {hole.corner_radius / hole.size:.3f} of the square hole; in a "
        "sharp corner stress has no limit. Give a corner_radius of "
        f"{FOLLOWED:g} of the hole or more"
    )


def banded(series: Sequence[Found]) -> Peak:
    """Peak of one load from its meshes, coarsest first."""
    by_mesh = tuple(one.value for one in series)
    last = series[-1]
    coarse, middle, fine = by_mesh[-3:]
    index = convergence_index(coarse, middle, fine)
    return Peak(
        value=last.value,
        error=max(index, abs(last.other - last.value)) / last.value,
        by_mesh=by_mesh,
        order=observed_order(coarse, middle, fine),
        off_wall=last.off_wall,
        place=(float(last.place[0]), float(last.place[1]), float(last.place[2])),
    )


def observed_order(coarse: float, middle: float, fine: float) -> float | None:
    """Power of the element length that three answers run together with, or none."""
    before, after = middle - coarse, fine - middle
    if before * after <= 0 or abs(after) >= abs(before):
        return None
    return log(before / after) / log(RATIO)


def convergence_index(coarse: float, middle: float, fine: float) -> float:
    """How far the finest of three answers may be off, in their own unit; see the module."""
    order = min(max(observed_order(coarse, middle, fine) or 1.0, 1.0), 2.0)
    change = max(abs(fine - middle), abs(middle - coarse) / RATIO**order)
    return float(1.25 * change / (RATIO**order - 1))


# --- a short bar under the loads of a beam -------------------------------------------------------

NOMINAL = {"bend_bit": 32 / pi, "bend_across": 32 / pi, "torsion": 16 / pi, "axial": 4 / pi}
"""Stress of the plain bar of diameter 1 under a unit moment, torque and pull."""


def hole_factors(
    hole: Hole,
    *,
    screws: tuple[ScrewHole, ...] = (),
    poisson: float = 0.29,
    per_notch: tuple[float, ...] = PER_NOTCH,
) -> dict[str, Peak]:
    """Peak at a cross-hole under each load of a beam, over the nominal stress of the plain bar.

    Parameters
    ----------
    hole, screws : lengths over the bar's diameter; their stations are not read

    Raises
    ------
    ModelError
        A square hole with sharper corners than the meshes follow.
    """
    material = unit_material(poisson)
    middle = LENGTH / 2
    shape = round_bar(1.0, LENGTH, hole=replace(hole, position=middle))
    found = peaks(
        replace(shape, screws=tuple(replace(screw, station=middle) for screw in screws)),
        material,
        lambda solid: short_bar_motion(solid, material)[:, : len(NOMINAL)],
        per_notch=per_notch,
    )
    return {
        load: replace(
            peak,
            value=peak.value / nominal,
            by_mesh=tuple(value / nominal for value in peak.by_mesh),
        )
        for (load, nominal), peak in zip(NOMINAL.items(), found, strict=True)
    }


# --- the hole of a case ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleStress:
    """Stress at the cross-hole under the cutting force, by solids.

    Attributes
    ----------
    nominal : Pa, bending stress of the plain bar there, 32 M / pi D^3 on the gross section
    peak : its error holds what the whole bar's own mesh leaves open, too
    corner_taken : m, radius of the solid's corners if the hole's own are sharper than meshes
        follow, else none; the true stress is higher then, without limit in a true point
    """

    nominal: float
    peak: Peak
    corner_taken: float | None


def followed(shape: SolidShape) -> tuple[SolidShape, float | None]:
    """Shape with corners that meshes follow, and their radius if it is not the hole's own."""
    hole = shape.hole
    if hole is None or is_followed(hole):
        return shape, None
    radius = FOLLOWED * hole.size
    return replace(shape, hole=replace(hole, corner_radius=radius)), radius


def hole_stress(
    case: Case,
    moment: float,
    force: Floats,
    motions: Sequence[tuple[float, Floats]],
    per_notch: tuple[float, ...] = PER_NOTCH,
) -> HoleStress:
    """Stress at the cross-hole of a case, on a piece of its bar.

    Parameters
    ----------
    moment : N m, bending moment at the hole, both planes together
    force : (3,) N, on the edge along r, t, x
    motions : refinement of the whole bar's solid and its motion under the force, (n_dof,), m;
        the one to rely on first, then a coarser one

    Raises
    ------
    SolveError
        The mesher fails.
    """
    station = case.cross_hole.position
    contacts = [
        (at + support.contact[0], at + support.contact[1])
        for _, support, at in case.placed_supports
    ]
    first, last = case.ends
    before = max([first, *(end for _, end in contacts if end < station)])
    beyond = min([last, *(start for start, _ in contacts if start > station)])
    shape, corner = followed(piece_of(bar_shape(case), within=(before, beyond)))
    drives = [
        (solid_mesh(bar_shape(case), refinement=refinement), motion)
        for refinement, motion in motions
    ]
    spots = _spots(drives[0][0], case.bar.material, drives[0][1][:, None])

    def moved(solid: SolidMesh) -> Floats:
        walls = wall_motion(facet_points(solid.mesh, solid.walls), station)
        load = edge_motion(walls, case.edge_radius) @ force
        return driven(solid, case.bar.material, load, drives)

    peak, coarser = peaks(shape, case.bar.material, moved, spots=spots, per_notch=per_notch)
    driver = DRIVER * abs(coarser.value / peak.value - 1)
    return HoleStress(
        nominal=32 * moment / (pi * case.bar_diameter(station) ** 3),
        peak=replace(peak, error=peak.error + driver),
        corner_taken=corner,
    )
