"""A Timoshenko beam given piece by piece: two bending planes, torsion and stretch on one line.

High-order line elements (scikit-fem's hierarchical polynomials, degree 4 in every field) hold
the exact static answer of a stepped bar under end and point loads, so there is no shear locking
and statics carry no mesh error; frequencies converge with the eighth power of element length.

S. P. Timoshenko, Phil. Mag. 41 (1921) 744; shear coefficient G. R. Cowper (1966); gyroscopic
terms as in M. I. Friswell, J. E. T. Penny, S. D. Garvey & A. W. Lees, Dynamics of Rotating
Machines (2010), chapter 5. Small motions, linear springs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array
from skfem import Basis, BilinearForm, ElementLinePp, LinearForm, MeshLine

from .model import Floats, Hold, Model
from .section import Section

DEGREE = 4
SAME_STATION = 1e-5
"""Stations nearer than this, m, are one: an element of a micron costs the solve its digits."""
GRAVITY = 9.80665
FIELDS = ("w_r", "slope_r", "w_t", "slope_t", "turn", "u")


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A length of beam with constant properties; stations in m.

    Attributes
    ----------
    bending_bit, bending_across : N m2, EI in each plane
    shear_bit, shear_across : N, shear coefficient times GA in each plane
    torsion : N m2, GJ
    stretch : N, EA
    mass : kg/m
    rotary_bit, rotary_across, polar : kg m, rotary inertia per length
    aside : kg, first moment of mass per length, along t from the centre line
    lag : how far a section's mean rotation lies behind the beam's slope, over the shear strain
        (`section.rotation_lag`); 0 for a book's beam
    """

    start: float
    end: float
    bending_bit: float
    bending_across: float
    shear_bit: float
    shear_across: float
    torsion: float
    stretch: float
    mass: float
    rotary_bit: float
    rotary_across: float
    polar: float
    aside: float = 0.0
    lag: float = 0.0

    def averaged(self) -> Segment:
        """Return the same length with both planes given their mean: a bar alike all round."""
        bending = 2 / (1 / self.bending_bit + 1 / self.bending_across)
        shear = 2 / (1 / self.shear_bit + 1 / self.shear_across)
        rotary = (self.rotary_bit + self.rotary_across) / 2
        return replace(
            self,
            bending_bit=bending,
            bending_across=bending,
            shear_bit=shear,
            shear_across=shear,
            rotary_bit=rotary,
            rotary_across=rotary,
            aside=0.0,
        )


def segment(
    start: float, end: float, section: Section, *, E: float, G: float, density: float
) -> Segment:
    """Length of beam from `start` to `end` (m) of one section; E, G in Pa, density in kg/m3."""
    shear = section.shear_coefficient * G * section.area
    return Segment(
        start=start,
        end=end,
        bending_bit=E * section.second_moment_bit,
        bending_across=E * section.second_moment_across,
        shear_bit=shear,
        shear_across=shear,
        torsion=G * section.torsion_constant,
        stretch=E * section.area,
        mass=density * section.area,
        rotary_bit=density * section.second_moment_bit,
        rotary_across=density * section.second_moment_across,
        polar=density * section.polar_moment,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Lump:
    """A mass on the beam.

    Attributes
    ----------
    station, mass : m, kg
    arm, aside : m, of its middle from the centre line, along r and t
    spread : m2, mean squares of its extent along x, r, t about its middle
    diametral, polar : kg m2, moments of inertia of a disc that turns with the bar
    """

    station: float
    mass: float
    arm: float = 0.0
    aside: float = 0.0
    spread: tuple[float, float, float] = (0.0, 0.0, 0.0)
    diametral: float = 0.0
    polar: float = 0.0

    def abreast(self) -> Lump:
        """Return the lump with its middle not aside but its inertia kept: no plane is coupled."""
        along, out, across = self.spread
        return replace(self, aside=0.0, spread=(along, out, across + self.aside**2))

    def averaged(self) -> Lump:
        """Return the lump spread alike all round the centre line."""
        along, out, across = self.spread
        mean = (self.arm**2 + out + self.aside**2 + across) / 2
        return replace(self, arm=0.0, aside=0.0, spread=(along, mean, mean))

    @property
    def inertia(self) -> Floats:
        """Inertia against the six motions of its section, (6, 6), as in `model.MOTIONS`."""
        middle = np.array([0.0, self.arm, self.aside])
        about = np.zeros((4, 4))
        about[0, 0], about[0, 1:], about[1:, 0] = 1.0, middle, middle
        about[1:, 1:] = np.outer(middle, middle) + np.diag(self.spread)
        x, r, t = np.zeros((3, 4, 6))  # motion of a point: 1, x, r, t times the six
        x[0, 2] = r[0, 0] = t[0, 1] = r[1, 3] = t[1, 4] = t[2, 5] = 1.0
        x[2, 3] = x[3, 4] = r[3, 5] = -1.0
        whole = self.mass * sum(way.T @ about @ way for way in (x, r, t))
        own = np.diag([0.0, 0.0, 0.0, self.diametral, self.diametral, self.polar])
        return np.asarray(whole + own)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mount:
    """A support to put on a beam: where it acts and how stiff it is (see `model.Hold`)."""

    name: str
    start: float
    end: float
    vertical: float
    horizontal: float
    tilt: float = 0.0
    axial: float = 0.0
    turning: float = 0.0
    damping: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Reference:
    """The shape functions over an element of unit length: their integrals and themselves.

    Attributes
    ----------
    value_value, slope_slope, value_slope : (5, 5), rows the test function
    value : (5,)
    power : (5, 5), coefficient of each rising power of the place on the element, by function
    """

    value_value: Floats
    slope_slope: Floats
    value_slope: Floats
    value: Floats
    power: Floats

    def at(self, place: Floats) -> Floats:
        """Values of the functions at places 0 to 1 on the element, (n_place, 5)."""
        return np.asarray(np.vander(place, DEGREE + 1, increasing=True) @ self.power)


@cache
def _reference() -> _Reference:
    """Element integrals and shape functions by scikit-fem."""
    basis = Basis(MeshLine(np.array([0.0, 1.0])), ElementLinePp(DEGREE), intorder=2 * DEGREE)
    slope_slope = BilinearForm(lambda u, v, w: u.grad[0] * v.grad[0])
    value_slope = BilinearForm(lambda u, v, w: v * u.grad[0])
    value_value = BilinearForm(lambda u, v, w: u * v)
    value = LinearForm(lambda v, w: 1.0 * v)
    order = basis.element_dofs[:, 0]

    def local(form: Any) -> Floats:
        whole = form.assemble(basis)
        return np.asarray(
            whole[order] if whole.ndim == 1 else whole.toarray()[np.ix_(order, order)]
        )

    place = np.linspace(0.0, 1.0, DEGREE + 1)
    # An element keeps its values by how many points it was asked for, so this needs its own.
    fresh = ElementLinePp(DEGREE)
    values = np.stack([fresh.lbasis(place[None, :], k)[0] for k in range(DEGREE + 1)], axis=1)
    return _Reference(
        value_value=local(value_value),
        slope_slope=local(slope_slope),
        value_slope=local(value_slope),
        value=local(value),
        power=np.linalg.solve(np.vander(place, DEGREE + 1, increasing=True), values),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Mesh:
    """Line mesh with one scalar polynomial field; the six fields share it, field after field.

    Numbered as scikit-fem numbers `ElementLinePp`: the nodes first, then each element's own. The
    rest of its machinery is left out, because a beam is made anew for every bar of a comparison.

    Attributes
    ----------
    node : (n_element + 1,) m
    length : (n_element,) m
    dofs : (n_element, 5), scalar unknowns of each element
    """

    node: Floats
    length: Floats
    dofs: NDArray[np.int64]

    @property
    def n_scalar(self) -> int:
        return self.node.size + (DEGREE - 1) * self.length.size

    def dofs_at(self, station: float) -> np.int64:
        """Scalar dof of the node nearest to a station."""
        return np.int64(np.argmin(np.abs(self.node - station)))

    def column(self, field: str, scalar: Floats) -> Floats:
        """Widen a scalar-field vector to all six fields."""
        column = np.zeros(6 * self.n_scalar)
        first = FIELDS.index(field) * self.n_scalar
        column[first : first + self.n_scalar] = scalar
        return column


def _mesh(stations: Sequence[float], longest: float) -> _Mesh:
    """Mesh with a node at every station and no element longer than `longest`, m."""
    node = [min(stations)]
    for station in sorted(stations):
        gap = station - node[-1]
        if gap > SAME_STATION:
            pieces = int(np.ceil(gap / longest - 1e-9))
            node.extend(node[-1] + gap * np.arange(1, pieces + 1) / pieces)
    nodes = np.array(node)
    element, inner = np.arange(nodes.size - 1), DEGREE - 1
    own = nodes.size + inner * element[:, None] + np.arange(inner)
    return _Mesh(nodes, np.diff(nodes), np.column_stack([element, element + 1, own]))


class _Entries:
    """Entries of a matrix over all six fields, gathered and then put together in one go."""

    def __init__(self, mesh: _Mesh) -> None:
        self._mesh = mesh
        self._rows: list[NDArray[np.int64]] = []
        self._columns: list[NDArray[np.int64]] = []
        self._values: list[Floats] = []

    def elements(self, row: str, column: str, local: Floats) -> None:
        """Add element matrices (n_element, 5, 5) between two fields."""
        dofs, shape = self._mesh.dofs, local.shape
        down, across = (FIELDS.index(name) * self._mesh.n_scalar for name in (row, column))
        self._rows.append(np.broadcast_to(dofs[:, :, None] + down, shape).ravel())
        self._columns.append(np.broadcast_to(dofs[:, None, :] + across, shape).ravel())
        self._values.append(local.ravel())

    def outer(self, one: Floats, other: Floats, factor: float) -> None:
        """Add a factor times the product of two columns (n_dof,) that are mostly nothing."""
        down, across = np.flatnonzero(one), np.flatnonzero(other)
        self._rows.append(np.repeat(down, across.size))
        self._columns.append(np.tile(across, down.size))
        self._values.append(factor * np.outer(one[down], other[across]).ravel())

    def matrix(self) -> csc_array:
        """The whole, (n_dof, n_dof)."""
        n = 6 * self._mesh.n_scalar
        places = (np.concatenate(self._rows), np.concatenate(self._columns))
        return coo_array((np.concatenate(self._values), places), shape=(n, n)).tocsc()


def _on_elements(mesh: _Mesh, segments: Sequence[Segment], name: str) -> Floats:
    """Value of a segment's property on every element, (n_element, 1, 1)."""
    middle = (mesh.node[1:] + mesh.node[:-1]) / 2
    start = np.array([piece.start for piece in segments])
    value = np.array([getattr(piece, name) for piece in segments])
    return np.asarray(value[np.searchsorted(start, middle) - 1][:, None, None])


def _stiffness(mesh: _Mesh, segments: Sequence[Segment]) -> csc_array:
    ref, h, found = _reference(), mesh.length[:, None, None], _Entries(mesh)

    def of(name: str) -> Floats:
        return _on_elements(mesh, segments, name)

    for plane, w, slope in (("bit", "w_r", "slope_r"), ("across", "w_t", "slope_t")):
        shear = of(f"shear_{plane}")
        coupling = shear * -ref.value_slope
        found.elements(w, w, shear * ref.slope_slope / h)
        found.elements(slope, w, coupling)
        found.elements(w, slope, coupling.transpose(0, 2, 1))
        bending = of(f"bending_{plane}") * ref.slope_slope / h
        found.elements(slope, slope, bending + shear * ref.value_value * h)
    found.elements("turn", "turn", of("torsion") * ref.slope_slope / h)
    found.elements("u", "u", of("stretch") * ref.slope_slope / h)
    return found.matrix()


_INERTIA = {
    "w_r": "mass",
    "slope_r": "rotary_bit",
    "w_t": "mass",
    "slope_t": "rotary_across",
    "turn": "polar",
    "u": "mass",
}
"""What of a segment resists each field."""


def _inertia(
    mesh: _Mesh, segments: Sequence[Segment], lumps: Sequence[Lump]
) -> tuple[csc_array, csc_array]:
    """Mass, and gyroscopic matrix per radian per second of spin."""
    mass, spin = _Entries(mesh), _Entries(mesh)
    ref, h = _reference(), mesh.length[:, None, None]
    local = {
        name: _on_elements(mesh, segments, name) * ref.value_value * h
        for name in set(_INERTIA.values())
    }
    for field, name in _INERTIA.items():
        mass.elements(field, field, local[name])
    if any(piece.aside for piece in segments):
        aside = -_on_elements(mesh, segments, "aside") * ref.value_value * h
        for moved, turned in (("w_r", "turn"), ("u", "slope_t")):
            mass.elements(moved, turned, aside)
            mass.elements(turned, moved, aside)
    spin.elements("slope_r", "slope_t", local["polar"])
    spin.elements("slope_t", "slope_r", -local["polar"])
    for lump in lumps:
        motion, inertia = _motion(mesh, lump.station, lump.station).T, lump.inertia
        for one, other in np.argwhere(inertia):
            mass.outer(motion[one], motion[other], inertia[one, other])
        spin.outer(motion[3], motion[4], lump.polar)
        spin.outer(motion[4], motion[3], -lump.polar)
    return mass.matrix(), spin.matrix()


def _at(mesh: _Mesh, start: float, end: float) -> Floats:
    """Scalar functional: a field's mean over a contact, or its value at a station."""
    scalar = np.zeros(mesh.n_scalar)
    middle = (mesh.node[1:] + mesh.node[:-1]) / 2
    inside = np.flatnonzero((middle > start) & (middle < end))
    if end - start < 2 * SAME_STATION or inside.size == 0:
        scalar[mesh.dofs_at((start + end) / 2)] = 1.0
        return scalar
    share = mesh.length[inside] / mesh.length[inside].sum()
    np.add.at(scalar, mesh.dofs[inside], np.outer(share, _reference().value))
    return scalar


def _lagging(mesh: _Mesh, segments: Sequence[Segment], start: float, end: float) -> Floats:
    """How far the mean rotation over a contact lies behind the slopes, (n_dof, 2).

    Nothing at a contact without length: the shear force jumps there.
    """
    felt = np.flatnonzero((mesh.node[:-1] > start - 1e-9) & (mesh.node[1:] < end + 1e-9))
    w, slope = np.zeros(mesh.n_scalar), np.zeros(mesh.n_scalar)
    share = _on_elements(mesh, segments, "lag")[felt, 0, 0] / max(end - start, SAME_STATION)
    np.add.at(w, mesh.dofs[felt, 1], share)
    np.add.at(w, mesh.dofs[felt, 0], -share)
    np.add.at(slope, mesh.dofs[felt], np.outer(share * mesh.length[felt], _reference().value))
    return np.stack(
        [mesh.column(f"w_{way}", w) - mesh.column(f"slope_{way}", slope) for way in ("r", "t")],
        axis=1,
    )


def _motion(mesh: _Mesh, start: float, end: float, arm: float = 0.0) -> Floats:
    """Six motions (see `model.MOTIONS`) of a point on the bit `arm` from the centre line."""
    scalar = _at(mesh, start, end)
    w_r, slope_r, w_t, slope_t, turn, u = (mesh.column(field, scalar) for field in FIELDS)
    return np.stack([w_r, w_t + arm * turn, u - arm * slope_r, slope_r, slope_t, turn], axis=1)


def beam(
    segments: Sequence[Segment],
    holds: Sequence[Mount],
    *,
    edge: float,
    arm: float = 0.0,
    lumps: Sequence[Lump] = (),
    longest: float | None = None,
) -> Model:
    """Beam model of a bar given piece by piece.

    Parameters
    ----------
    segments : lengths of bar, in order and touching
    holds : supports
    edge, arm : m, station of the bit and radius of its edge
    lumps : masses carried
    longest : m, longest element; left out, a twelfth of the bar
    """
    ends = segments[0].start, segments[-1].end
    stations = [*ends, edge, *(piece.start for piece in segments), *(x.station for x in lumps)]
    stations += [x for hold in holds for x in (hold.start, hold.end)]
    mesh = _mesh(stations, longest or (ends[1] - ends[0]) / 12)
    mass, spin = _inertia(mesh, segments, lumps)
    along, sampled = _along(mesh)
    n, up = 6 * mesh.n_scalar, mesh.column("w_r", _shape(mesh, np.ones_like(mesh.node)))
    return Model(
        kind="beam",
        stiffness=_stiffness(mesh, segments),
        mass=mass,
        gyroscopic=spin,
        rigid=_rigid(mesh),
        anchor=np.arange(6, dtype=np.int64) * mesh.n_scalar,
        edge=_motion(mesh, edge, edge, arm)[:, :3],
        edge_arm=arm,
        holds=tuple(_hold(mesh, segments, hold) for hold in holds),
        stations=sampled,
        along=along,
        station_mass=_shared(sampled, segments, "mass"),
        station_polar=_shared(sampled, segments, "polar"),
        sag_load=-GRAVITY * (mass @ up).reshape(n),
        length=ends[1] - ends[0],
    )


def _hold(mesh: _Mesh, segments: Sequence[Segment], hold: Mount) -> Hold:
    motion = _motion(mesh, hold.start, hold.end)
    motion[:, 3:5] -= _lagging(mesh, segments, hold.start, hold.end)
    return Hold(
        name=hold.name,
        station=(hold.start + hold.end) / 2,
        motion=motion,
        vertical=hold.vertical,
        horizontal=hold.horizontal,
        tilt=hold.tilt,
        axial=hold.axial,
        turning=hold.turning,
        damping=hold.damping,
    )


def _shape(mesh: _Mesh, at_nodes: Floats) -> Floats:
    """Piecewise linear scalar field with the given node values; the rest is zero."""
    scalar = np.zeros(mesh.n_scalar)
    scalar[: mesh.node.size] = at_nodes
    return scalar


def _rigid(mesh: _Mesh) -> Floats:
    """Six rigid motions of the bar about its middle, (n_dof, 6), in the order of MOTIONS."""
    one = _shape(mesh, np.ones_like(mesh.node))
    swing = _shape(mesh, mesh.node - (mesh.node[0] + mesh.node[-1]) / 2)
    return np.stack(
        [
            mesh.column("w_r", one),
            mesh.column("w_t", one),
            mesh.column("u", one),
            mesh.column("w_r", swing) + mesh.column("slope_r", one),
            mesh.column("w_t", swing) + mesh.column("slope_t", one),
            mesh.column("turn", one),
        ],
        axis=1,
    )


def _along(mesh: _Mesh, count: int = 81) -> tuple[csc_array, Floats]:
    """Sampling matrix (6 n_station, n_dof), MOTIONS by station, and the stations, m."""
    stations = np.linspace(mesh.node[0], mesh.node[-1], count)
    element = np.searchsorted(mesh.node, stations, side="right") - 1
    element = np.minimum(element, mesh.length.size - 1)
    values = _reference().at((stations - mesh.node[element]) / mesh.length[element])
    order = [FIELDS.index(name) for name in ("w_r", "w_t", "u", "slope_r", "slope_t", "turn")]
    columns = [mesh.dofs[element] + field * mesh.n_scalar for field in order]
    rows = np.repeat(np.arange(6 * count), DEGREE + 1)
    places = (rows, np.concatenate(columns).ravel())
    shape = (6 * count, 6 * mesh.n_scalar)
    return coo_array((np.tile(values.ravel(), 6), places), shape=shape).tocsc(), stations


def _shared(stations: Floats, segments: Sequence[Segment], name: str) -> Floats:
    """Share of a per-length property that falls to each sampling station (trapezoid rule)."""
    step = stations[1] - stations[0]
    start = np.array([piece.start for piece in segments])
    value = np.array([getattr(piece, name) for piece in segments])
    weight = np.full(stations.size, step)
    weight[[0, -1]] /= 2
    found = np.clip(np.searchsorted(start, stations, side="right") - 1, 0, len(start) - 1)
    return np.asarray(value[found] * weight)
