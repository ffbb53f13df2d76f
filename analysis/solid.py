"""The bar of a case as a solid: curved tetrahedra, its supports and edge as average motions.

Second-order isoparametric tetrahedra (see `elastic`); the unknowns are the displacements along
x, r, t node after node. Small motions; the bit's and screws' own stiffness is left out.

Supports act as in the beam, on averages: of the volume between the planes of a contact, or of
the section where the contact has no length. A centre thus pushes on the whole end section; the
give of the cone's own rim is part of the support's stiffness, as it is in a push test.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array, csr_array, vstack
from skfem import Basis

from .beam import carried_lumps, mount
from .case import Case
from .elastic import in_three, scalar_basis, scalar_mass, stiffness
from .errors import ModelError
from .fronts import fronts_of
from .material import BarMaterial
from .mesh import SolidMesh, bar_shape, expected_unknowns, solid_mesh
from .model import Floats, Hold, Model
from .patch import (
    Points,
    edge_motion,
    facet_points,
    rigid_motion,
    section_motion,
    slice_about,
    volume_points,
    wall_motion,
)
from .stress import COMPONENTS, nodal_stress, von_mises
from .timoshenko import GRAVITY, Lump, Mount

STATIONS = 41
MOST_UNKNOWNS = 400_000
"""More are not solved: 180 000 took 2.9 GB, and the need grows as their number to the 1.4."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Body:
    """A meshed bar with its integration points."""

    solid: SolidMesh
    material: BarMaterial
    basis: Basis
    points: Points

    def patch(self, start: float, end: float) -> Points:
        """Points of the bar between two stations, or of the section where they are one."""
        if end - start > 1e-9:
            inside = (self.points.place[0] > start) & (self.points.place[0] < end)
            return self.points.among(inside)
        facets = self.solid.plane_facets(start)
        if facets.size:
            return facet_points(self.solid.mesh, facets)
        return slice_about(self.points, start, 2 * self.solid.element_length)


def _body(solid: SolidMesh, material: BarMaterial) -> _Body:
    basis = scalar_basis(solid)
    return _Body(solid=solid, material=material, basis=basis, points=volume_points(basis))


def _hold(body: _Body, hold: Mount) -> Hold:
    first, last = body.solid.shape.ends
    start, end = max(hold.start, first), min(hold.end, last)
    station = (start + end) / 2
    return Hold(
        name=hold.name,
        station=station,
        motion=section_motion(body.patch(start, end), station),
        vertical=hold.vertical,
        horizontal=hold.horizontal,
        tilt=hold.tilt,
        axial=hold.axial,
        turning=hold.turning,
        damping=hold.damping,
    )


def _edge(body: _Body, station: float, arm: float) -> Floats:
    """Motion of the cutting edge, (n_dof, 3): the hole's walls carried rigidly to its radius."""
    if body.solid.walls.size:
        carrier = wall_motion(facet_points(body.solid.mesh, body.solid.walls), station)
    else:
        carrier = section_motion(body.patch(station, station), station)
    return edge_motion(carrier, arm)


def _mass(body: _Body, lumps: Sequence[Lump], hole: float | None) -> csc_array:
    """Mass of the bar and what it carries, kg.

    What sits at the hole is spread over its walls with the arm and the extent along r that it
    has, as far as the walls reach; what sits elsewhere over the core of the bar, a radius to
    either side of its station.
    """
    density = np.full(body.basis.nelems, float(body.material.density))
    scalar = scalar_mass(body.basis, density)
    for lump in lumps:
        at_hole = hole is not None and abs(lump.station - hole) < 1e-9
        scalar = scalar + (_on_walls(body, lump) if at_hole else _on_axis(body, lump))
    return in_three(scalar)


def _on_walls(body: _Body, lump: Lump) -> csc_array:
    walls = facet_points(body.solid.mesh, body.solid.walls)
    half = float(np.abs(walls.place[1]).max())
    arm = float(np.clip(lump.arm / half, -0.7, 0.7))
    square = float(np.clip((lump.arm**2 + lump.spread[1]) / half**2, arm**2 + 0.1, 0.85))
    share = _leaning(walls.place[1] / half, walls.weight, arm, square)
    return csc_array(walls.value.T @ walls.value.multiply(lump.mass * share[:, None]))


def _leaning(place: Floats, area: Floats, mean: float, square: float) -> Floats:
    """Shares of points, of sum one, that give their places a mean and a mean square.

    Areas times ``exp(a place + b place^2)``: the evenest shares there are, and none negative.
    Newton's method on a convex function, which a bounded step always brings home.
    """
    powers, wanted, factor = np.stack([place, place**2]), np.array([mean, square]), np.zeros(2)
    for _ in range(60):
        share = area * np.exp(factor @ powers - (factor @ powers).max())
        share = share / share.sum()
        amiss = wanted - powers @ share
        if np.abs(amiss).max() < 1e-12:
            break
        about = powers - (powers @ share)[:, None]
        step = np.linalg.solve((about * share) @ about.T, amiss)
        factor = factor + step * min(1.0, 3.0 / np.linalg.norm(step))
    return np.asarray(share)


def _on_axis(body: _Body, lump: Lump) -> csc_array:
    """Mass spread over the core of the bar, bringing no polar inertia, as in the beam."""
    radius = body.solid.shape.diameter(lump.station) / 2
    first, last = body.solid.shape.ends
    middle = float(np.clip(lump.station, first + radius, last - radius))
    x, y, z = body.points.place
    core = body.points.among((np.abs(x - middle) < radius) & (np.hypot(y, z) < radius / 3))
    weight = lump.mass * core.weight / core.weight.sum()
    return csc_array(core.value.T @ core.value.multiply(weight[:, None]))


def _along(body: _Body) -> tuple[csr_array, Floats]:
    """Sampling matrix (6 n_station, n_dof), MOTIONS by station, and the stations, m."""
    stations = np.linspace(*body.solid.shape.ends, STATIONS)
    step = stations[1] - stations[0]
    reach = max(1.2 * step, 0.75 * body.solid.element_length)
    samples = [section_motion(slice_about(body.points, x, reach), x) for x in stations]
    rows = [csr_array(np.stack([s[:, motion] for s in samples])) for motion in range(6)]
    return csr_array(vstack(rows)), stations


def _shared(body: _Body, stations: Floats, per_volume: Floats) -> Floats:
    """Share of a quantity per volume, (n_point,), that falls to each station."""
    step = stations[1] - stations[0]
    nearest = np.rint((body.points.place[0] - stations[0]) / step).astype(int)
    amount = body.points.weight * per_volume
    shared = np.bincount(nearest.clip(0, stations.size - 1), amount, stations.size)
    return np.asarray(shared, dtype=np.float64)


def _anchor(nodes: Floats) -> NDArray[np.int64]:
    """Nine dofs of three nodes well apart."""
    x, y, z = nodes
    middle = np.abs(x - x.mean())
    chosen = np.array([np.argmin(x - y), np.argmax(x + z), np.argmin(middle + 2 * y)])
    return np.asarray((3 * chosen[:, None] + np.arange(3)).ravel(), dtype=np.int64)


def solid(
    mesh: SolidMesh,
    material: BarMaterial,
    holds: Sequence[Mount],
    *,
    edge: float,
    arm: float = 0.0,
    lumps: Sequence[Lump] = (),
) -> Model:
    """Solid model of a meshed bar.

    Parameters
    ----------
    holds : supports, each conforming to planes of the mesh
    edge, arm : m, station of the bit and radius of its edge
    lumps : masses carried
    """
    body = _body(mesh, material)
    first, last = mesh.shape.ends
    hole = mesh.shape.hole.position if mesh.shape.hole else None
    mass = _mass(body, lumps, hole)
    rigid = rigid_motion(mesh.nodes, (first + last) / 2).reshape(-1, 6)
    along, stations = _along(body)
    y, z = body.points.place[1:]
    density = np.full(y.size, float(material.density))
    return Model(
        kind="solid",
        stiffness=stiffness(body.basis, material),
        mass=mass,
        gyroscopic=None,
        rigid=rigid,
        anchor=_anchor(mesh.nodes),
        edge=_edge(body, edge, arm),
        edge_arm=arm,
        holds=tuple(_hold(body, hold) for hold in holds),
        stations=stations,
        along=along,
        station_mass=_shared(body, stations, density),
        station_polar=_shared(body, stations, density * (y**2 + z**2)),
        sag_load=-GRAVITY * (mass @ rigid[:, 0]),
        length=last - first,
        fronts=fronts_of(mesh.mesh.dofs.element_dofs.T.astype(np.int64), mesh.nodes),
    )


def solid_model(case: Case, *, refinement: float = 0.0) -> Model:
    """Solid model of the bar of a case.

    Parameters
    ----------
    refinement : each step makes the elements 13 % shorter

    Raises
    ------
    ModelError
        It would have more than `MOST_UNKNOWNS`.
    """
    shape = bar_shape(case)
    _check_size(expected_unknowns(shape, refinement), "some ")
    mesh = solid_mesh(shape, refinement=refinement)
    _check_size(mesh.nodes.size)
    return solid(
        mesh,
        case.bar.material,
        tuple(mount(*placed) for placed in case.placed_supports),
        edge=case.cross_hole.position,
        arm=case.edge_radius,
        lumps=carried_lumps(case),
    )


def _check_size(unknowns: int, about: str = "") -> None:
    """Refuse a solid that would take more memory than a shop's machine has."""
    if unknowns > MOST_UNKNOWNS:
        message = (
            f"as a solid this bar has {about}{unknowns} unknowns, and more than {MOST_UNKNOWNS} "
            "(about 9 GB) are not solved. Its thinnest length sets the size of every element; "
            "leave --model solid out, which solves it as a beam"
        )
        raise ModelError(message)


class _Moved(Protocol):
    @property
    def motion(self) -> Floats: ...


class _Shaped(Protocol):
    @property
    def shape(self) -> Floats: ...


def solid_body(
    case: Case, statics: _Moved, modes: _Shaped, *, refinement: float = 0.0
) -> tuple[Floats, list[tuple[str, NDArray[np.int64]]], dict[str, Floats]]:
    """Fields of a solved solid model on its tetrahedra, for a VTU file.

    The mesh is made again and comes out the same. Stress is that under the cutting force.

    Parameters
    ----------
    statics : its `motion` (n_dof,), m
    modes : its `shape` (n_dof, n_mode); written scaled to a largest motion of 1
    refinement : as the model was made with

    Returns
    -------
    points : (n_node, 3) m over x, r, t
    cells : one block of quadratic tetrahedra, numbered as VTK and meshio do
    fields : name with unit to (n_node, 3) or (n_node,)

    Raises
    ------
    ModelError
        The motion is not that of this mesh.
    """
    mesh = solid_mesh(bar_shape(case), refinement=refinement)
    if statics.motion.size != mesh.nodes.size:
        message = f"{statics.motion.size} unknowns do not belong to a mesh with {mesh.nodes.size}"
        raise ModelError(message)
    stress = nodal_stress(mesh, case.bar.material, statics.motion)
    fields = {"deflection_m": statics.motion.reshape(-1, 3)}
    fields["stress_von_mises_Pa"] = von_mises(stress)
    fields |= {f"stress_{name}_Pa": part for name, part in zip(COMPONENTS, stress.T, strict=True)}
    for number, shape in enumerate(modes.shape.T, start=1):
        moved = shape.reshape(-1, 3)
        fields[f"mode_{number}"] = moved / np.linalg.norm(moved, axis=1).max()
    tetrahedra = mesh.mesh.dofs.element_dofs.T.astype(np.int64)
    return np.ascontiguousarray(mesh.nodes.T), [("tetra10", tetrahedra)], fields
