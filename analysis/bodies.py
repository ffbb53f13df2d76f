"""Files of the set-up for other programs: `set_up.glb`, `bent_bar.glb`, `bar.stl`.

Made from a finished folder, with no graphics library and nothing solved. The bar, its holes, the
bit and the bore are the case's own; supports and the outside of the work are drawn for show.
The bent bar carries its deflection and its first modes as movements, far too large, and each
movement says how much too large in its name.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import pi

import numpy as np

from .bar_body import Surface, bar_surface, scribed, stl
from .bar_moves import Move, carried, movements
from .case import Case
from .finished import Finished, bar_pieces
from .glb import BENT, SET_UP, Body, Floats, Whole, edges, glb, shaded
from .parts import BIT as TOOL
from .parts import (
    STEEL,
    Block,
    Part,
    Turned,
    bit_outline,
    parts_of,
    support_parts,
)

STL = "bar.stl"
INK = "#1b1b1b"
_ROUND, _PIECES = 32, 28
_SIX_FACES = np.array(
    [(0, 1, 3, 2), (5, 4, 6, 7), (1, 0, 4, 5), (2, 3, 7, 6), (0, 2, 6, 4), (3, 1, 5, 7)]
)
_GHOST, _GHOSTLY = 0.4, "#c29a52"


def write_bodies(finished: Finished) -> tuple[str, ...]:
    """Write the files into the finished folder; their names.

    Raises
    ------
    OSError
        One cannot be written.
    """
    case = finished.case
    files = {
        SET_UP: glb(set_up_bodies(case)),
        STL: stl(bar_surface(case), "barwright: the bar, in millimetres, from the drive support"),
    }
    moves = movements(finished)
    if moves:
        files[BENT] = glb(bent_bodies(case, moves), [move.movement for move in moves])
    for name, data in files.items():
        (finished.folder / name).write_bytes(data)
    return tuple(files)


# --- the set-up ------------------------------------------------------------------------------


def set_up_bodies(case: Case) -> list[Body]:
    """Bar, bit, supports, and the work that one can see through."""
    bodies = [*_outlined(_bar(case, None)), *_outlined(_bit(case))]
    for support, parts in support_parts(case):
        for part in parts:
            bodies += _outlined(_body(support.kind, part))
    return [*bodies, *_outlined(_work(case))]


def _outlined(body: Body) -> tuple[Body, Body]:
    """A body as it is lit, and its edges."""
    return shaded(body), edges(body, INK)


def _bar(case: Case, longest: float | None) -> Body:
    surface = bar_surface(case, round_by=72 if longest is None else _ROUND, longest=longest)
    return Body(name="bar", points=surface.points, joined=surface.faces, colour=STEEL)


def _bit(case: Case) -> Body:
    """The bit with its tip ground back behind the edge."""
    half, middle = case.bit.size / 2, case.cross_hole.position
    # The outline is seen from the tail, with the leading side, where t is positive, on the left.
    outline = np.array([(r, -across) for across, r in bit_outline(case)])
    ends = [np.column_stack([np.full(4, x), outline]) for x in (middle - half, middle + half)]
    sides = [(a, (a + 1) % 4, 4 + (a + 1) % 4, 4 + a) for a in range(4)]
    quads = np.array([(0, 3, 2, 1), (4, 5, 6, 7), *sides])
    surface = _outward(np.concatenate(ends), _triangles(quads))
    return Body(name="bit", points=surface.points, joined=surface.faces, colour=TOOL)


def _work(case: Case) -> Body:
    """The work half bored, whole round the bar."""
    part = next(part for part in parts_of(case) if isinstance(part, Turned) and part.half)
    surface = _round(part)
    return Body(
        name="work",
        points=surface.points,
        joined=surface.faces,
        colour=_GHOSTLY,
        opacity=_GHOST,
    )


def _body(name: str, part: Part) -> Body:
    surface = _box(part) if isinstance(part, Block) else _round(part)
    return Body(name=name, points=surface.points, joined=surface.faces, colour=part.colour)


def _box(block: Block) -> Surface:
    turn = np.radians(block.angle)
    corners = np.array(
        [
            (x, r * np.cos(turn) - t * np.sin(turn), r * np.sin(turn) + t * np.cos(turn))
            for x in block.x
            for r in block.r
            for t in block.t
        ]
    )
    return _outward(corners, _triangles(_SIX_FACES))


def _round(part: Turned) -> Surface:
    """A closed body turned about the bar's centre line; corners on the line are one point."""
    profile = part.profile if part.profile[0] != part.profile[-1] else part.profile[:-1]
    x, r = np.array(profile).T
    turn = 2 * pi * np.arange(_ROUND) / _ROUND
    points = np.stack(
        [
            np.broadcast_to(x[:, None], (x.size, _ROUND)),
            np.outer(r, np.cos(turn)),
            np.outer(r, np.sin(turn)),
        ],
        axis=-1,
    ).reshape(-1, 3)
    row, column = (grid.ravel() for grid in np.mgrid[: x.size, :_ROUND])
    after_row, after = (row + 1) % x.size, (column + 1) % _ROUND
    corner = (row * _ROUND + column, row * _ROUND + after)
    beyond = (after_row * _ROUND + after, after_row * _ROUND + column)
    merged = np.where(r[:, None] > 0, np.arange(points.shape[0]).reshape(x.size, -1), 0)
    merged[r <= 0] = (np.flatnonzero(r <= 0) * _ROUND)[:, None]
    faces = merged.ravel()[_triangles(np.stack([*corner, *beyond], axis=1))]
    whole = np.all(faces != np.roll(faces, 1, axis=1), axis=1)
    return _outward(points, faces[whole])


def _triangles(quads: Whole) -> Whole:
    return np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])


def _outward(points: Floats, faces: Whole) -> Surface:
    """The closed surface with its outsides outward: turned over where its volume is negative."""
    a, b, c = (points[faces[:, corner]] for corner in range(3))
    volume = np.einsum("ij,ij->", a, np.cross(b, c))
    used, faces = np.unique(faces, return_inverse=True)
    faces = faces.reshape(-1, 3)
    return Surface(points[used], faces if volume > 0 else faces[:, ::-1])


# --- the bent bar ----------------------------------------------------------------------------


def bent_bodies(case: Case, moves: list[Move]) -> list[Body]:
    """Bar, bit and lines scribed along the bar, all moving, and where the bar lies at rest."""
    first, last = case.ends
    bar = _bar(case, (last - first) / _PIECES)
    bit = _bit(case)
    points, joined = scribed(case)
    lines = Body(name="lines scribed along the bar", points=points, joined=joined, colour=INK)
    moving = [
        *_outlined(_moved(bar, moves, None)),
        _moved(lines, moves, None),
        *_outlined(_moved(bit, moves, case.cross_hole.position)),
    ]
    return [*moving, _at_rest(case), *_held(case)]


def _moved(body: Body, moves: list[Move], rigid: float | None) -> Body:
    """The body with its movements; one fixed to the bar goes with the section at `rigid`, m."""
    found = []
    for move in moves:
        if rigid is None:
            found.append(carried(body.points, move.station, move.motion))
            continue
        at = {
            name: np.interp([rigid], move.station, values) for name, values in move.motion.items()
        }
        moved = carried(body.points, np.array([rigid]), at)
        along = body.points[:, 0] - rigid
        for row, slope in ((1, "slope_bit"), (2, "slope_across")):
            moved[:, row] += along * at.get(slope, np.zeros(1))[0]
        found.append(moved)
    return Body(
        name=body.name,
        points=body.points,
        joined=body.joined,
        colour=body.colour,
        moves=tuple(found),
    )


def _at_rest(case: Case) -> Body:
    """Outline of the bar at rest: rings where its diameter changes, lines between them."""
    points: list[Floats] = []
    joined: list[tuple[int, int]] = []
    turn = 2 * pi * np.arange(_ROUND) / _ROUND
    for start, end, diameter in bar_pieces(case):
        for x in (start, end):
            ring = np.column_stack(
                [np.full(_ROUND, x), diameter / 2 * np.cos(turn), diameter / 2 * np.sin(turn)]
            )
            base = _ROUND * len(points)
            points.append(ring)
            joined += [(base + one, base + (one + 1) % _ROUND) for one in range(_ROUND)]
        base = _ROUND * (len(points) - 2)
        joined += [(base + one, base + _ROUND + one) for one in range(0, _ROUND, _ROUND // 4)]
    return Body(
        name="bar at rest",
        points=np.concatenate(points),
        joined=np.array(joined),
        colour="#8a8a8a",
    )


def _held(case: Case) -> Iterator[Body]:
    """A wedge under the bar where it is held."""
    for name, support, station in case.placed_supports:
        radius = case.bar_diameter(min(max(station, case.ends[0]), case.ends[1])) / 2
        top, foot, half = -1.06 * radius, -2.2 * radius, 0.7 * radius
        corners = [
            (station, top, -half),
            (station, top, half),
            (station - half, foot, -half),
            (station - half, foot, half),
            (station + half, foot, -half),
            (station + half, foot, half),
        ]
        quads = np.array([(0, 1, 3, 2), (0, 4, 5, 1), (2, 3, 5, 4)])
        faces = np.concatenate([_triangles(quads), [(0, 2, 4), (1, 5, 3)]])
        surface = _outward(np.array(corners), faces)
        label = f"{name}: {support.kind}" if name in ("drive", "tail") else support.kind
        body = Body(name=label, points=surface.points, joined=surface.faces, colour="#9a9fa1")
        yield from _outlined(body)
