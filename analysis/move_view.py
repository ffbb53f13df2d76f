"""A movement of the bar drawn in line, from the side where it shows: a still that needs no 3-D."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from .bar_moves import Move, carried
from .case import Case
from .finished import bar_pieces
from .glb import Floats
from .sheet_blocks import Drawing, Label, Line, Point, Stroke

_LINES, _STATIONS = 8, 80
_THICK, _THIN = 0.45, 0.15
_MARGIN, _TEXT_ROOM = 4.0, 6.0


def move_view(case: Case, move: Move, width: float) -> Drawing:
    """The bar moved, the bar at rest dashed, its supports and its bit.

    Parameters
    ----------
    width : mm of paper
    """
    above = _from_above(move)
    first, last = case.ends
    along = float(np.abs(move.motion["along"]).max()) if "along" in move.motion else 0.0
    scale = (width - 4 * _MARGIN) / (last - first + 2 * along)
    reach = max(diameter for _, _, diameter in bar_pieces(case)) / 2
    swing = max(float(np.abs(move.motion[part]).max()) for part in ("radial", "tangential"))
    half = scale * (reach + swing) + 6.0
    middle = _TEXT_ROOM + half

    def place(points: Floats) -> tuple[Point, ...]:
        up = -points[:, 2] if above else points[:, 1]
        x = 2 * _MARGIN + scale * (points[:, 0] - first + along)
        return tuple(zip(x.tolist(), (middle - scale * up).tolist(), strict=True))

    def moved(points: Floats) -> tuple[Point, ...]:
        return place(points + carried(points, move.station, move.motion))

    strokes: list[Stroke] = [
        Line(points=moved(line), weight=weight) for line, weight in _lines(case, above)
    ]
    strokes += [Line(points=place(line), dash=(1.6, 0.9), weight=0.2) for line in _rest(case)]
    strokes.append(Line(points=moved(_bit(case)), closed=True, fill=0.2, weight=0.2))
    strokes += list(_supports(case, place))
    view = "from above, leading side below" if above else "from the side, bit up"
    name = f"{move.movement.name[:1].upper()}{move.movement.name[1:]}. Seen {view}"
    strokes.append(Label(at=(0.0, 3.2), text=name))
    return Drawing(
        width=width,
        height=2 * half + _TEXT_ROOM,
        strokes=tuple(strokes),
        words=f"{move.movement.name}; seen {view}",
    )


def _from_above(move: Move) -> bool:
    """Whether it moves more the way the edge goes than along the bit."""
    radial, tangential = (
        float(np.abs(move.motion[part]).max()) for part in ("radial", "tangential")
    )
    return tangential > radial


def _ring(station: float, radius: float, turns: Floats) -> Floats:
    return np.column_stack(
        [np.full_like(turns, station), radius * np.cos(turns), radius * np.sin(turns)]
    )


def _lines(case: Case, above: bool) -> Iterator[tuple[Floats, float]]:
    """Lines along the half of the bar that is seen, its outline thick, and rings at its steps."""
    # From the side the leading half is seen, from above the bit's.
    start = -np.pi / 2 if above else 0.0
    turns = start + np.pi * np.arange(_LINES + 1) / _LINES
    for first, last, diameter in bar_pieces(case):
        x = np.linspace(first, last, _STATIONS)
        for number, turn in enumerate(turns):
            outline = number in (0, _LINES)
            ring = np.array([np.cos(turn), np.sin(turn)]) * diameter / 2
            line = np.column_stack([x, np.full_like(x, ring[0]), np.full_like(x, ring[1])])
            yield line, _THICK if outline else _THIN
        for station in (first, last):
            yield _ring(station, diameter / 2, turns), _THICK


def _rest(case: Case) -> Iterator[Floats]:
    """Outline of the bar at rest, in both planes at once."""
    for first, last, diameter in bar_pieces(case):
        for way in (-0.5, 0.5):
            r = way * diameter
            yield np.array([(first, r, r), (last, r, r)])


def _bit(case: Case) -> Floats:
    """Corners of the bit where it stands out of the bar; its end as a square from above."""
    half, x = case.bit.size / 2, case.cross_hole.position
    t = case.cross_hole.middle
    low, high = case.surface_radius("bit"), case.edge_radius
    corners = [(x - half, low, t - half), (x - half, high, t + half)]
    corners += [(x + half, high, t + half), (x + half, low, t - half)]
    return np.array(corners)


def _supports(case: Case, place: Callable[[Floats], tuple[Point, ...]]) -> Iterator[Stroke]:
    """A triangle under the bar where it is held."""
    for _, _, station in case.placed_supports:
        radius = case.bar_diameter(min(max(station, case.ends[0]), case.ends[1])) / 2
        # The lower edge of the bar as seen from the side, and from above: the same place on paper.
        (x, y), *_ = place(np.array([(station, -radius, radius)]))
        top = y + 0.6
        corners = ((x, top), (x - 2.0, top + 3.6), (x + 2.0, top + 3.6))
        yield Line(points=corners, closed=True, fill=1.0, weight=0.3)
