"""The bar as a closed surface: turned, with its cross-holes, tappings, flats and centre holes.

The shape is the one that the solid model is meshed from (`mesh.bar_shape`), cut here out of flat
facets by the manifold library, whose cuts stay watertight. Tapped holes have the major diameter
of their thread. Axes as there: x along the bar, y along the bit, z the way the edge moves.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from math import pi, radians, tan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .case import Case
from .mesh import CentreHole, FlatCut, Hole, ScrewHole, SolidShape, bar_shape

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

FINE = 180
"""Facets round the bar of which parts are made: 2 um off the round on a bar of 28 mm."""
_ALONG_X = ((0.0, 0.0, 1.0, 0.0), (1.0, 0.0, 0.0, 0.0), (0.0, 1.0, 0.0, 0.0))
_CORNER = 8
"""Facets in each rounded corner of a square hole."""
_HALF_CONE = radians(30.0)


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """A closed surface: points (n, 3), m, and faces (m, 3), their outsides by the right hand."""

    points: Floats
    faces: Whole


def bar_surface(case: Case, *, round_by: int = FINE, longest: float | None = None) -> Surface:
    """Outside of the bar of a case.

    Parameters
    ----------
    round_by
        Facets round the bar.
    longest
        Longest edge of a facet, m, so that the surface can bend; left out: as long as the bar.
    """
    shape = bar_shape(case)
    cut = _turned(shape, round_by) - _joined(list(_tools(shape, round_by)))
    if longest is not None:
        cut = cut.refine_to_length(1e3 * longest)
    mesh = cut.to_mesh64()
    return Surface(
        1e-3 * np.asarray(mesh.vert_properties)[:, :3],
        np.asarray(mesh.tri_verts).astype(np.int64),
    )


def _joined(tools: list[Any]) -> Any:
    from manifold3d import Manifold, OpType

    return Manifold.batch_boolean(tools, OpType.Add) if tools else Manifold()


# --- cutting, in mm --------------------------------------------------------------------------


def _turned(shape: SolidShape, round_by: int) -> Any:
    """The bar before anything is cut out of it."""
    from manifold3d import CrossSection

    first, last = shape.ends
    steps = [(r, x) for p in shape.lengths for r, x in _outside(p.diameter, p.start, p.end)]
    outline = 1e3 * np.array([(0.0, first), *steps, (0.0, last)])
    return CrossSection([outline]).revolve(round_by).transform(_ALONG_X)


def _outside(diameter: float, start: float, end: float) -> tuple[tuple[float, float], ...]:
    return (diameter / 2, start), (diameter / 2, end)


def _tools(shape: SolidShape, round_by: int) -> Iterator[Any]:
    """Everything that is cut out of the bar, mm."""
    reach = 1e3 * max(piece.diameter for piece in shape.lengths)
    for hole in (shape.hole, *shape.other_holes):
        if hole is not None:
            yield _hole(hole, reach, round_by)
    if shape.hole is not None:
        for screw in shape.screws:
            yield _tapping(screw, shape.hole, reach, round_by)
    for flat in shape.flats:
        yield _flat(flat, shape, reach)
    for centre in shape.centres:
        yield _centre(centre, shape, round_by)


def _hole(hole: Hole, reach: float, round_by: int) -> Any:
    """A cross-hole along y: drawn in the plane of x and z, which y looks at from behind."""
    from manifold3d import CrossSection, JoinType

    size = 1e3 * hole.size
    if hole.shape == "round":
        outline = CrossSection.circle(size / 2, round_by)
    else:
        corner = 1e3 * min(hole.corner_radius, 0.499 * hole.size)
        outline = CrossSection.square((size - 2 * corner, size - 2 * corner), center=True)
        if corner > 0:
            outline = outline.offset(corner, JoinType.Round, circular_segments=4 * _CORNER)
    body = outline.extrude(2 * reach).translate((0.0, 0.0, -reach)).rotate((-90.0, 0.0, 0.0))
    return body.translate((1e3 * hole.position, 0.0, 1e3 * hole.offset))


def _tapping(screw: ScrewHole, hole: Hole, reach: float, round_by: int) -> Any:
    from manifold3d import Manifold

    body = Manifold.cylinder(2 * reach, 500 * screw.diameter, circular_segments=round_by)
    if screw.side == "trailing":
        body = body.rotate((180.0, 0.0, 0.0))
    return body.translate((1e3 * screw.station, 0.0, 1e3 * hole.offset))


def _flat(flat: FlatCut, shape: SolidShape, reach: float) -> Any:
    from manifold3d import Manifold

    height = 1e3 * (shape.diameter((flat.start + flat.end) / 2) / 2 - flat.depth)
    length = 1e3 * (flat.end - flat.start)
    block = Manifold.cube((length, reach, 4 * reach)).translate((0.0, height, -2 * reach))
    turn = {"bit": 0.0, "leading": 90.0, "back": 180.0, "trailing": 270.0}[flat.side]
    return block.rotate((turn, 0.0, 0.0)).translate((1e3 * flat.start, 0.0, 0.0))


def _centre(centre: CentreHole, shape: SolidShape, round_by: int) -> Any:
    """A 60 degree cone, its mouth a little outside the end so that the cut is clean."""
    from manifold3d import Manifold

    wide, narrow = 500 * centre.mouth, 0.35 * 500 * centre.mouth
    spare = 0.1 * wide
    depth = (wide - narrow) / tan(_HALF_CONE)
    outer = wide + spare * tan(_HALF_CONE)
    cone = Manifold.cylinder(depth + spare, outer, narrow, circular_segments=round_by)
    cone = cone.translate((0.0, 0.0, -spare)).transform(_ALONG_X)
    first, last = (1e3 * end for end in shape.ends)
    if centre.end == "drive":
        return cone.translate((first, 0.0, 0.0))
    return cone.rotate((0.0, 0.0, 180.0)).translate((last, 0.0, 0.0))


# --- lines and files -------------------------------------------------------------------------


def scribed(case: Case, count: int = 12, pieces: int = 80) -> tuple[Floats, Whole]:
    """Lines along the outside of the bar, which show it twist: points and the pairs joined."""
    first, last = case.ends
    x = np.linspace(first, last, pieces + 1)
    radius = np.array([case.bar_diameter(min(max(one, first), last)) / 2 for one in x])
    turn = 2 * pi * (np.arange(count) + 0.5) / count
    points = np.stack(
        [
            np.broadcast_to(x, (count, x.size)),
            np.outer(np.cos(turn), radius * 1.012),
            np.outer(np.sin(turn), radius * 1.012),
        ],
        axis=-1,
    ).reshape(-1, 3)
    start = (np.arange(count)[:, None] * x.size + np.arange(pieces)).ravel()
    return points, np.column_stack([start, start + 1])


def stl(surface: Surface, words: str) -> bytes:
    """A surface as binary STL in millimetres: STL itself knows no unit, so the head says it."""
    corner = (1e3 * surface.points[surface.faces]).astype("<f4")
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    record = np.zeros(
        len(corner), dtype=[("normal", "<f4", 3), ("corner", "<f4", (3, 3)), ("spare", "<u2")]
    )
    size = np.linalg.norm(across, axis=1, keepdims=True)
    record["normal"] = across / np.where(size > 0, size, 1)  # 0 for a sliver without a face
    record["corner"] = corner
    head = words.encode("ascii", "replace")[:80].ljust(80)
    return head + struct.pack("<I", len(corner)) + record.tobytes()
