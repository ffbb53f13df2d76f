"""The bar as curved second-order tetrahedra: its solid shape, and netgen's mesh of it.

The shape is put together from cylinders, boxes and cones by netgen's solid geometry (on the Open
Cascade kernel, which takes the rounded corners of a square hole as they are). Midside nodes lie
on the true surface: straight-sided tetrahedra of 8 mm on a 25 mm bar put the first mode 2.7 %
low, curved ones 0.03 %.

Axes: x along the bar from the drive support, y along r (the bit), z along t; right-handed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import pi, radians, tan
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from skfem import Basis, ElementTetP2, MeshTet2

from .bar import CrossHole, Side
from .case import Case
from .errors import SolveError
from .model import Floats

_NEAR = 1e-9
"""Lengths nearer than this are the same length, m."""

_HALF_CONE = radians(30.0)
"""Half the angle of a centre hole."""

_COARSENESS = 0.23
"""Length of an element over the bar's diameter, away from the hole, at refinement 0."""

_STEP = 1.15
"""How much shorter the elements get with each refinement."""

_PER_HOLE = 3.0
"""Elements across the cross-hole at refinement 0."""

_PER_CUBE = 22.0
"""Unknowns in a cube of an element's length of a plain bar, counted in meshes of 8 and 20
diameters; a cross-hole, whose elements are smaller, adds up to as many again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cylinder:
    """A length of round bar, m."""

    start: float
    end: float
    diameter: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """The cross-hole, along r, m; `offset` along t, `corner_radius` of a square one."""

    shape: Literal["square", "round"]
    size: float
    position: float
    offset: float = 0.0
    corner_radius: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrewHole:
    """A set-screw hole along t, from one side of the bar into the cross-hole, m."""

    diameter: float
    side: Literal["leading", "trailing"]
    station: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatCut:
    """A flat along the bar, `depth` below the round surface, m."""

    start: float
    end: float
    depth: float
    side: Side


@dataclass(frozen=True, slots=True, kw_only=True)
class CentreHole:
    """A 60 degree centre hole in one end of the bar, m.

    The pilot drill is left out: the cone stops at 0.35 of its mouth.
    """

    end: Literal["drive", "tail"]
    mouth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SolidShape:
    """The bar as a solid.

    Attributes
    ----------
    lengths : lengths of one diameter, in order and touching
    hole, other_holes, screws, flats, centres : what is cut out of it
    planes : m, stations at which no element may straddle the section
    """

    lengths: tuple[Cylinder, ...]
    hole: Hole | None = None
    other_holes: tuple[Hole, ...] = ()
    screws: tuple[ScrewHole, ...] = ()
    flats: tuple[FlatCut, ...] = ()
    centres: tuple[CentreHole, ...] = ()
    planes: tuple[float, ...] = ()

    @property
    def ends(self) -> tuple[float, float]:
        """First and last station of the bar, m."""
        return self.lengths[0].start, self.lengths[-1].end

    def diameter(self, station: float) -> float:
        """Diameter of the bar at a station, m."""
        inside = (piece for piece in self.lengths if piece.start <= station <= piece.end)
        return next(inside, self.lengths[-1]).diameter


def round_bar(
    diameter: float, length: float, *, hole: Hole | None = None, planes: tuple[float, ...] = ()
) -> SolidShape:
    """Bar of one diameter from x = 0 to `length`, m."""
    whole = Cylinder(start=0.0, end=length, diameter=diameter)
    return SolidShape(lengths=(whole,), hole=hole, planes=planes)


def expected_unknowns(shape: SolidShape, refinement: float = 0.0) -> int:
    """Unknowns that the mesh of a bar will have at the least, told without making it."""
    smallest = min(piece.diameter for piece in shape.lengths)
    volume = sum(pi / 4 * one.diameter**2 * (one.end - one.start) for one in shape.lengths)
    return int(_PER_CUBE * volume / (_COARSENESS * smallest / _STEP**refinement) ** 3)


def bar_shape(case: Case) -> SolidShape:
    """Solid shape of the bar of a case."""
    return SolidShape(
        lengths=_lengths(case),
        hole=_hole(case.cross_hole),
        other_holes=tuple(_hole(hole) for hole in case.bar.other_holes),
        screws=tuple(
            ScrewHole(
                diameter=screw.diameter,
                side=screw.side,
                station=case.cross_hole.position + screw.shift,
            )
            for screw in case.cross_hole.set_screws
        ),
        flats=tuple(
            FlatCut(start=flat.start, end=flat.end, depth=flat.depth, side=flat.side)
            for flat in case.bar.flats
        ),
        centres=tuple(CentreHole(end=end, mouth=mouth) for end, mouth in case.centre_holes),
        planes=_planes(case),
    )


def _lengths(case: Case) -> tuple[Cylinder, ...]:
    first, last = case.ends
    cuts = {first, last}
    for step in case.bar.steps:
        cuts |= {max(first, step.start), min(last, step.end)}
    return tuple(
        Cylinder(start=start, end=end, diameter=case.bar_diameter((start + end) / 2))
        for start, end in pairwise(sorted(cuts))
        if end - start > _NEAR
    )


def _hole(hole: CrossHole) -> Hole:
    return Hole(
        shape=hole.shape,
        size=hole.size,
        position=hole.position,
        offset=hole.middle,
        corner_radius=hole.corner_radius if hole.shape == "square" else 0.0,
    )


def _planes(case: Case) -> tuple[float, ...]:
    stations = {station + end for _, s, station in case.placed_supports for end in s.contact}
    first, last = case.ends
    return tuple(sorted(x for x in stations if first + _NEAR < x < last - _NEAR))


# --- the shape in netgen's words ---------------------------------------------------------------


def _tool(hole: Hole, reach: float) -> Any:
    from netgen import occ

    low = occ.Pnt(hole.position, -reach, hole.offset)
    if hole.shape == "round":
        return occ.Cylinder(low, occ.Y, hole.size / 2, 2 * reach)
    plane = occ.WorkPlane(occ.Axes(low, n=occ.Y, h=occ.X))
    tool = plane.RectangleC(hole.size, hole.size).Face().Extrude(2 * reach * occ.Y)
    if hole.corner_radius > 0:
        upright = [edge for edge in tool.edges if abs(edge.start.y - edge.end.y) > reach]
        # A radius of the whole half-width would leave faces without width.
        tool = tool.MakeFillet(upright, min(hole.corner_radius, 0.499 * hole.size))
    return tool


def _screw_tool(screw: ScrewHole, hole: Hole, reach: float) -> Any:
    from netgen import occ

    middle = occ.Pnt(screw.station, 0.0, hole.offset)
    way = occ.Z if screw.side == "leading" else -occ.Z
    return occ.Cylinder(middle, way, screw.diameter / 2, 2 * reach)


def _flat_tool(flat: FlatCut, shape: SolidShape) -> Any:
    from netgen import occ

    radius = shape.diameter((flat.start + flat.end) / 2) / 2
    low, high = radius - flat.depth, 3 * radius
    across = {"bit": (1, 1), "back": (1, -1), "leading": (2, 1), "trailing": (2, -1)}
    axis, sign = across[flat.side]
    corners = np.array([[flat.start, -high, -high], [flat.end, high, high]])
    corners[0 if sign > 0 else 1, axis] = sign * low
    return occ.Box(occ.Pnt(*corners[0]), occ.Pnt(*corners[1]))


def _centre_tool(centre: CentreHole, shape: SolidShape) -> Any:
    from netgen import occ

    start, end = shape.ends
    at, way = (start, occ.X) if centre.end == "drive" else (end, -occ.X)
    wide, narrow = centre.mouth / 2, 0.35 * centre.mouth / 2
    axis = occ.gp_Ax2(occ.Pnt(at, 0, 0), occ.gp_Dir(way.x, way.y, way.z))
    return occ.Cone(axis, wide, narrow, (wide - narrow) / tan(_HALF_CONE), 2 * pi)


def _refine_fillets(tool: Any, radius: float, length: float) -> None:
    """Ask for short elements on the rounded corners of a square hole."""
    for face in tool.faces:
        low, high = face.bounding_box
        if min(high.x - low.x, high.y - low.y, high.z - low.z) > radius / 2:
            face.maxh = length


def _tools(
    shape: SolidShape, hole_length: float, fillet_length: float | None = None
) -> Iterator[Any]:
    """Everything that is cut out of the bar, its faces named and given their element length."""
    reach = max(piece.diameter for piece in shape.lengths)
    hole = shape.hole
    if hole is not None:
        tool = _tool(hole, reach)
        tool.faces.name = "hole"
        tool.faces.maxh = hole_length
        if fillet_length and hole.corner_radius:
            _refine_fillets(tool, hole.corner_radius, fillet_length)
        yield tool
        for screw in shape.screws:
            drilled = _screw_tool(screw, hole, reach)
            drilled.faces.name = "screw"
            drilled.faces.maxh = max(screw.diameter / (4 if fillet_length else 2), hole_length)
            yield drilled
    for other in shape.other_holes:
        tool = _tool(other, reach)
        tool.faces.name = "other hole"
        tool.faces.maxh = hole_length
        yield tool
    for flat in shape.flats:
        planed = _flat_tool(flat, shape)
        planed.faces.name = "flat"
        yield planed
    for centre in shape.centres:
        cone = _centre_tool(centre, shape)
        cone.faces.name = f"{centre.end} centre"
        cone.faces.maxh = centre.mouth
        yield cone


def _pieces(shape: SolidShape) -> Iterator[Any]:
    """Cylinders between all the planes that elements must respect."""
    from netgen import occ

    cuts = {x for piece in shape.lengths for x in (piece.start, piece.end)} | set(shape.planes)
    for start, end in pairwise(sorted(cuts)):
        if end - start > _NEAR:
            radius = shape.diameter((start + end) / 2) / 2
            yield occ.Cylinder(occ.Pnt(start, 0, 0), occ.X, radius, end - start)


def _body(
    shape: SolidShape,
    hole_length: float,
    *,
    filled: bool = False,
    fillet_length: float | None = None,
) -> Any:
    """The bar, and if `filled` what was cut out of it as a body of its own."""
    from netgen import occ

    tools = list(_tools(shape, hole_length, fillet_length))
    whole = list(_pieces(shape))
    pieces = []
    for piece in whole:
        for tool in tools:
            piece = piece - tool
        piece.solids.name = "bar"
        pieces.append(piece)
    if filled:
        for piece in whole:
            plug = piece * occ.Fuse(tools)
            plug.solids.name = "plug"
            pieces.append(plug)
    return occ.Glue(pieces) if len(pieces) > 1 else pieces[0]


# --- the mesh ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SolidMesh:
    """Curved tetrahedra of a bar.

    Attributes
    ----------
    shape : what was meshed
    mesh : scikit-fem's mesh, ten nodes a tetrahedron
    element_length, hole_length : m, longest element asked for, in the bar and at the hole
    walls : facets of the cross-hole's walls
    screw_walls : facets of the walls of its set-screw holes
    cuts : facets of everything cut out of the bar between its ends: holes, screw holes, flats
    plug : elements inside the holes of a bar meshed with its holes filled, else none
    """

    shape: SolidShape
    mesh: MeshTet2
    element_length: float
    hole_length: float
    walls: NDArray[np.int64]
    screw_walls: NDArray[np.int64]
    cuts: NDArray[np.int64]
    plug: NDArray[np.int64]

    @property
    def nodes(self) -> Floats:
        """Where the nodes are, (3, n_node), m, vertices first."""
        return np.asarray(self.mesh.doflocs)

    def plane_facets(self, station: float) -> NDArray[np.int64]:
        """Facets that lie in the section at a station, empty if no section was kept there."""
        corner = self.mesh.p[0][self.mesh.facets]
        close = 1e-6 * self.element_length
        return np.flatnonzero(np.all(np.abs(corner - station) < close, axis=0))

    def facet_nodes(self, facets: NDArray[np.int64]) -> NDArray[np.int64]:
        """Nodes on some facets, in rising order."""
        corners, edges = self.mesh.facets[:, facets], self.mesh.f2e[:, facets]
        return np.unique(np.concatenate([corners.ravel(), self.mesh.nvertices + edges.ravel()]))

    def elements_between(self, start: float, end: float) -> NDArray[np.int64]:
        """Elements whose middle lies between two stations."""
        middle = self.mesh.p[0][self.mesh.t].mean(axis=0)
        return np.flatnonzero((middle > start) & (middle < end))


@lru_cache(maxsize=2)
def solid_mesh(
    shape: SolidShape,
    *,
    refinement: float = 0.0,
    element_length: float | None = None,
    hole_length: float | None = None,
    corner_length: float | None = None,
    grading: float = 0.3,
    polish: int = 3,
    filled: bool = False,
) -> SolidMesh:
    """Mesh a bar, fine at its cross-hole; the same shape always gives the same mesh.

    Parameters
    ----------
    refinement : each step makes the elements 13 % shorter
    element_length, hole_length : m, longest element in the bar and at the hole's walls, at
        refinement 0; left out, 0.23 of the smallest diameter, and a third of the hole
        but no less than a twentieth of the bar
    corner_length : m, longest element along the sharp corners of a square hole; left out, as at
        its walls
    grading : how fast elements grow away from the hole, netgen's own measure
    polish : how often netgen betters its tetrahedra, which takes it most of its time
    filled : keep what was cut out as elements of their own, named by `plug`

    A corner radius below 0.45 of the element length at the hole is meshed sharp.

    Raises
    ------
    SolveError
        The mesher fails, or leaves an element that is turned inside out.
    """
    finer = _STEP**refinement
    smallest = min(piece.diameter for piece in shape.lengths)
    length = (element_length or _COARSENESS * smallest) / finer
    size = shape.hole.size if shape.hole else smallest
    at_hole = min(length, (hole_length or max(size / _PER_HOLE, smallest / 20)) / finer)
    body = _body(_plainer(shape, at_hole), at_hole, filled=filled)
    if corner_length and shape.hole and shape.hole.shape == "square":
        _refine_corners(body, shape.hole, corner_length)
    tetrahedra = _meshed(body, length, grading, polish)
    mesh, walls, screw_walls, cuts = _to_skfem(tetrahedra)
    return SolidMesh(
        shape=shape,
        mesh=unfolded(mesh),
        element_length=length,
        hole_length=at_hole,
        walls=walls,
        screw_walls=screw_walls,
        cuts=cuts,
        plug=_inside(tetrahedra, "plug"),
    )


def spotted_mesh(
    shape: SolidShape,
    *,
    element_length: float,
    hole_length: float,
    fillet_length: float,
    spots: Floats,
) -> SolidMesh:
    """Mesh a bar, fine at the spots where stress peaks; every corner radius as it is.

    Parameters
    ----------
    element_length, hole_length, fillet_length : m, longest element in the bar, on the walls of
        the cross-hole, and on its rounded corners
    spots : (n, 4) m, places, and how long the elements about each may be

    Raises
    ------
    SolveError
        The mesher fails, or leaves an element that is turned inside out.
    """
    body = _body(shape, hole_length, fillet_length=fillet_length)
    tetrahedra = _meshed(body, element_length, 0.5, 2, curvature=0.2, spots=spots)
    mesh, walls, screw_walls, cuts = _to_skfem(tetrahedra)
    return SolidMesh(
        shape=shape,
        mesh=unfolded(mesh),
        element_length=element_length,
        hole_length=hole_length,
        walls=walls,
        screw_walls=screw_walls,
        cuts=cuts,
        plug=np.empty(0, dtype=np.int64),
    )


def _plainer(shape: SolidShape, at_hole: float) -> SolidShape:
    """Leave out a corner radius too small for the elements: stiffness hardly feels it."""
    hole = shape.hole
    if hole is None or hole.corner_radius == 0 or hole.corner_radius >= 0.45 * at_hole:
        return shape
    return replace(shape, hole=replace(hole, corner_radius=0.0))


def _refine_corners(body: Any, hole: Hole, length: float) -> None:
    """Ask for short elements along the straight edges of a square hole, within the bar."""
    half = 0.51 * hole.size
    for edge in body.edges:
        a, z = edge.start, edge.end
        upright = abs(a.x - z.x) + abs(a.z - z.z) < 1e-3 * hole.size
        if upright and abs(a.x - hole.position) < half and abs(a.z - hole.offset) < half:
            edge.maxh = length


def _meshed(
    body: Any,
    length: float,
    grading: float,
    polish: int,
    *,
    curvature: float = 0.6,
    spots: Floats | None = None,
) -> Any:
    """Second-order netgen mesh, with short elements round the spots (n, 4); see `spotted_mesh`."""
    from netgen import meshing, occ

    wanted = meshing.MeshingParameters()
    for spot in () if spots is None else spots:
        wanted.RestrictH(*(float(part) for part in spot))
    try:
        # Curvature is followed by curved elements, so it need not shorten them: the default
        # puts 30 000 elements on the rounded corners of a square hole.
        mesh = occ.OCCGeometry(body).GenerateMesh(
            mp=wanted,
            maxh=length,
            curvaturesafety=curvature,
            segmentsperedge=1.0,
            grading=grading,
            optsteps3d=polish,
        )
        mesh.SecondOrder()
    except Exception as error:
        message = f"the mesher could not fill the bar ({error}); try the beam model"
        raise SolveError(message) from error
    return mesh


# netgen turns its tetrahedra the other way round from scikit-fem and numbers their midside nodes
# 01 02 03 12 13 23, not 01 12 02 03 13 23: swap the first two corners and their edges.
_FROM_NETGEN = [1, 0, 2, 3, 4, 5, 7, 8, 6, 9]


def _to_skfem(
    netgen: Any,
) -> tuple[MeshTet2, NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Mesh as scikit-fem has it, facets of hole's and screws' walls, and of all cut out."""
    point = netgen.Coordinates()
    tetra = netgen.Elements3D().NumPy()["nodes"][:, :10].astype(np.int64) - 1
    tetra = tetra[:, _FROM_NETGEN]
    corners = np.unique(tetra[:, :4])
    order = np.concatenate([corners, np.setdiff1d(np.unique(tetra), corners)])
    number = np.zeros(len(point), dtype=np.int64)
    number[order] = np.arange(order.size)
    mesh = MeshTet2(np.ascontiguousarray(point[order].T), np.ascontiguousarray(number[tetra].T))

    def named(*names: str) -> NDArray[np.int64]:
        found = [number[_corners(face)] for name in names for face in _named(netgen, name)]
        return _facets(mesh, np.array(found, dtype=np.int64).reshape(-1, 3))

    walls, screw_walls = named("hole"), named("screw")
    return mesh, walls, screw_walls, np.concatenate([walls, screw_walls, named("flat")])


def _inside(netgen: Any, name: str) -> NDArray[np.int64]:
    """Elements of the bodies of a name."""
    number = netgen.Elements3D().NumPy()["index"]
    wanted = [i for i in np.unique(number) if netgen.GetMaterial(int(i)) == name]
    return np.flatnonzero(np.isin(number, wanted))


def _corners(face: Any) -> list[int]:
    return [vertex.nr - 1 for vertex in face.vertices[:3]]


def _named(netgen: Any, name: str) -> Iterator[Any]:
    faces = netgen.Elements2D()
    wanted = {i for i in {face.index for face in faces} if netgen.GetBCName(i - 1) == name}
    return (face for face in faces if face.index in wanted)


def _facets(mesh: MeshTet2, corners: NDArray[np.int64]) -> NDArray[np.int64]:
    """Numbers of the facets with the given corners, (n, 3)."""

    def key(vertices: NDArray[np.int64]) -> NDArray[np.int64]:
        a, b, c = np.sort(vertices, axis=0)
        return np.asarray((a * mesh.nvertices + b) * mesh.nvertices + c)

    known = key(mesh.facets.astype(np.int64))
    order = np.argsort(known)
    return np.asarray(order[np.searchsorted(known, key(corners.T), sorter=order)])


_CORNERS_AND_MIDDLES = np.vstack([ElementTetP2.doflocs, [[0.25, 0.25, 0.25]]]).T


def _flatness(mesh: MeshTet2) -> Floats:
    """Least over largest volume scale of each element; 1 if straight, 0 or less if folded."""
    size = mesh.mapping().detDF(_CORNERS_AND_MIDDLES)
    return np.asarray(size.min(axis=1) / np.abs(size).max(axis=1))


def unfolded(mesh: MeshTet2) -> MeshTet2:
    """Straighten the edges of elements that curving has folded or nearly folded.

    Curving pulls the midside nodes of an edge to the surface; a flat element with several such
    edges may turn inside out. A handful of elements a mesh at most, at the sharp edges of holes;
    the volume lost with them is under a hundred-thousandth.

    Raises
    ------
    SolveError
        An element is inside out although its edges are straight.
    """
    for pull in (0.2, 0.2, 0.2, 0.3, 0.5, 1.0):
        bad = np.flatnonzero(_flatness(mesh) < 0.02)
        if not bad.size:
            return mesh
        mesh = _straightened(mesh, bad, pull)
    # An edge made straight may fold the element beside it.
    for _ in range(6):
        folded = np.flatnonzero(_flatness(mesh) <= 0)
        if not folded.size:
            return mesh
        mesh = _straightened(mesh, folded, 1.0)
    message = f"{folded.size} elements of the bar came out folded; ask for another refinement"
    raise SolveError(message)


def _straightened(mesh: MeshTet2, elements: NDArray[np.int64], pull: float) -> MeshTet2:
    """Midside nodes of some elements pulled part of the way onto their straight edges."""
    edges = np.unique(mesh.t2e[:, elements])
    place = mesh.doflocs.copy()
    middle = mesh.nvertices + edges
    straight = place[:, mesh.edges[:, edges]].mean(axis=1)
    place[:, middle] += pull * (straight - place[:, middle])
    return replace(mesh, doflocs=place)


def volume(solid: SolidMesh) -> float:
    """Volume of the mesh, m3."""
    return float(Basis(solid.mesh, ElementTetP2(), intorder=6).dx.sum())
