"""Scenes of a finished run: the set-up to scale, the bent bar, each mode.

pyvista draws the bodies, seen square on, and the sheet's lines and words are laid over them in
the same coordinates. The first plotter that is made on a machine without graphics libraries
ends the process, so this is only ever called from the child of `pictures`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pyvista
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from .case import Case
from .finished import Finished, ModeLine, bar_pieces, plane_words
from .label_places import spread, within
from .paper import (
    FAINT,
    HEAT,
    INK,
    QUIET,
    dimension,
    fits_between,
    nice_step,
    picture,
    pitch_words,
    rpm_words,
    short,
    text_width,
    whole_sheet,
)
from .parts import CAST, Block, Part, Turned, parts_of, reach, work_ends, work_outside
from .sheet_drawing import travel_of
from .units import show

Floats = NDArray[np.float64]
View = Literal["side", "above"]
WIDTH = 1600
_SIX_FACES = np.array(
    [(0, 1, 3, 2), (4, 5, 7, 6), (0, 1, 5, 4), (2, 3, 7, 6), (0, 2, 6, 4), (1, 3, 7, 5)]
)
_PATCH: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}
MARGIN = 60
SWING = 80
FEED_BAND = 34
"""Room for the arrow of the feed between the set-up and its lengths, dots."""
MOST_MODES = 6
_SEGMENTS = 72
_MAGNIFIED = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0)
_AWAY = {"side": (0.0, 0.0, 1.0), "above": (0.0, 1.0, 0.0)}
_UP = {"side": (0.0, 1.0, 0.0), "above": (0.0, 0.0, -1.0)}
# Direction of the picture's own up in x, r, t: across the bar, from above, is turned over.
_SEEN = {"side": (1, 1.0), "above": (2, -1.0)}
_VIEW_WORDS = {
    "side": "seen from the side, bit straight up",
    "above": "seen from above, bit towards you, leading side of the bar below",
}


def draw_scenes(finished: Finished) -> Iterator[str]:
    """Draw every scene into the folder, yielding the name of each once it is complete."""
    stage = Stage()
    draw_setup(stage, finished, finished.folder / "setup.png")
    yield "setup.png"
    fields = finished.folder / "fields.vtu"
    if not fields.exists():
        return
    surface = body_surface(fields)
    draw_deflected(stage, finished, surface, finished.folder / "deflected.png")
    yield "deflected.png"
    for mode in finished.modes[:MOST_MODES]:
        if f"mode_{mode.number}" in surface.point_data:
            name = f"mode_{mode.number}.png"
            draw_mode(stage, finished, surface, mode, finished.folder / name)
            yield name


@dataclass(frozen=True, slots=True)
class Frame:
    """What a picture shows: a place on the sheet in dots, and the metres behind it.

    Attributes
    ----------
    left, middle : m, station at the left edge and height at the middle
    metre : m, one dot
    height : dots
    """

    left: float
    metre: float
    height: int
    middle: float = 0.0

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """Left, right, bottom and top, m."""
        half = self.height * self.metre / 2
        return (
            self.left,
            self.left + WIDTH * self.metre,
            self.middle - half,
            self.middle + half,
        )


class Stage:
    """One off-screen plotter, cleared and used again for every picture."""

    def __init__(self) -> None:
        self.plotter = pyvista.Plotter(off_screen=True, window_size=[WIDTH, 600])
        self.plotter.renderer.set_background("white")
        self.plotter.enable_anti_aliasing("msaa", multi_samples=4)
        self.plotter.show(auto_close=False)
        # Once shown it would draw anew at every change; `shoot` draws once, when all is set.
        self.plotter.suppress_rendering = True

    def cleared(self) -> Any:
        """The plotter with nothing on it."""
        self.plotter.clear_actors()
        return self.plotter

    def shoot(self, frame: Frame, view: View) -> NDArray[np.uint8]:
        """Take the picture, square on, (height, width, 3)."""
        left, right, bottom, top = frame.extent
        plotter: Any = self.plotter
        plotter.render_window.SetSize(WIDTH, frame.height)
        middle = np.array([(left + right) / 2, 0.0, 0.0])
        place, sign = _SEEN[view]
        middle[place] = sign * frame.middle
        away = np.array(_AWAY[view]) * (right - left)
        plotter.camera.position = tuple(middle + away)
        plotter.camera.focal_point = tuple(middle)
        plotter.camera.up = _UP[view]
        plotter.camera.parallel_projection = True
        plotter.camera.parallel_scale = (top - bottom) / 2
        plotter.renderer.ResetCameraClippingRange()
        plotter.render_window.Render()
        return np.asarray(plotter.image)


# --- the set-up ------------------------------------------------------------------------------


def draw_setup(stage: Stage, finished: Finished, path: Path) -> None:
    """Side view of the set-up to scale, with the lengths that were given."""
    parts = parts_of(finished.case)
    first, last, radius = reach(parts)
    metre = max((last - first) / (WIDTH - 2 * MARGIN), 2 * radius / 560)
    band = int(2 * radius / metre) + 24
    rows = _length_rows(finished, metre)
    below, above = 64 + FEED_BAND + 40 * len(rows), 156
    height = below + band + above
    frame = Frame(
        left=(first + last) / 2 - WIDTH * metre / 2,
        metre=metre,
        height=height,
        middle=(height / 2 - below - band / 2) * metre,
    )
    image = _shot_of_parts(stage, parts, frame)
    with picture(path, WIDTH, height) as figure:
        axes = _sheet_over(figure, image, frame)
        low = -radius - 12 * metre
        _section_of_work(axes, parts)
        _hidden_lines(axes, finished.case)
        axes.axhline(0.0, color=QUIET, lw=0.8, ls=(0, (16, 3, 3, 3)))
        _work_at_both_ends(axes, finished.case)
        _feed_arrow(axes, finished.case, low - 12 * metre, metre)
        _lengths(axes, rows, low - FEED_BAND * metre, metre)
        _callouts(axes, finished, radius + 12 * metre, frame)
        figure.text(
            0.02,
            1 - 44 / height,
            short(finished.case.title, 90),
            fontsize=18,
            weight="bold",
        )
        _end_names(figure, finished.case, height)


def _shot_of_parts(stage: Stage, parts: Sequence[Part], frame: Frame) -> NDArray[np.uint8]:
    plotter = stage.cleared()
    for colour in dict.fromkeys(part.colour for part in parts):
        bodies = [_body(part) for part in parts if part.colour == colour]
        actor = plotter.add_mesh(
            pyvista.merge(bodies, merge_points=False) if len(bodies) > 1 else bodies[0],
            color=colour,
            ambient=0.25,
            diffuse=0.8,
            specular=0.0,
        )
        actor.mapper.resolve = "polygon_offset"
    edges = pyvista.merge([_edges(part) for part in parts], merge_points=False)
    plotter.add_mesh(edges, color=INK, line_width=2.0, lighting=False)
    return stage.shoot(frame, "side")


def _body(part: Part) -> Any:
    """Surface of a part."""
    if isinstance(part, Block):
        corner = _corners(part)
        return pyvista.PolyData.from_regular_faces(corner, _SIX_FACES)
    points, count = _turned_points(part)
    rows, columns = np.meshgrid(np.arange(len(part.profile) - 1), np.arange(count - 1))
    start = (rows * count + columns).ravel()
    faces = np.column_stack([start, start + 1, start + count + 1, start + count])
    return pyvista.PolyData.from_regular_faces(points, faces)


def _turned_points(part: Turned) -> tuple[Floats, int]:
    """Points of a turned body, corner by corner round the centre line, and how many round."""
    turn = np.linspace(np.pi if part.half else 0.0, 2 * np.pi, _SEGMENTS + 1)
    x, r = np.array(part.profile).T
    points = np.stack(
        [
            np.broadcast_to(x[:, None], (x.size, turn.size)),
            np.outer(r, np.cos(turn)),
            np.outer(r, np.sin(turn)),
        ],
        axis=-1,
    )
    return points.reshape(-1, 3), turn.size


def _corners(block: Block) -> Floats:
    """Eight corners of a block, x changing slowest."""
    turn = np.radians(block.angle)
    return np.array(
        [
            (x, r * np.cos(turn) - t * np.sin(turn), r * np.sin(turn) + t * np.cos(turn))
            for x in block.x
            for r in block.r
            for t in block.t
        ]
    )


def _edges(part: Part) -> Any:
    """Lines of a part as a draughtsman would draw them: edges and outlines."""
    if isinstance(part, Block):
        points = _corners(part)
        pairs = [(a, a ^ bit) for a in range(8) for bit in (1, 2, 4) if not a & bit]
        return pyvista.PolyData(points, lines=np.array([(2, *pair) for pair in pairs]))
    points, count = _turned_points(part)
    rounds = [
        (count, *range(place * count, (place + 1) * count))
        for place, (_, r) in enumerate(part.profile)
        if r > 0
    ]
    outlines = [
        (2, place * count + column, (place + 1) * count + column)
        for place in range(len(part.profile) - 1)
        for column in (0, _SEGMENTS // 2, _SEGMENTS)
        if not (part.half and column == _SEGMENTS // 2)
    ]
    lines = np.concatenate([np.array(line) for line in [*rounds, *outlines]])
    return pyvista.PolyData(points, lines=lines)


def _sheet_over(figure: Figure, image: NDArray[np.uint8], frame: Frame) -> Axes:
    left, right, bottom, top = frame.extent
    axes = whole_sheet(figure, left=left, right=right, bottom=bottom, top=top)
    axes.imshow(image, extent=frame.extent, aspect="auto", interpolation="nearest", zorder=0)
    return axes


def _section_of_work(axes: Axes, parts: Sequence[Part]) -> None:
    """Hatch the faces where the work is cut open."""
    for part in parts:
        if isinstance(part, Turned) and part.half:
            for side in (1.0, -1.0):
                outline = [(x, side * r) for x, r in part.profile]
                axes.fill(
                    *zip(*outline, strict=True),
                    facecolor=CAST,
                    edgecolor=INK,
                    hatch="//",
                    lw=1.4,
                    zorder=1,
                )


def _hidden_lines(axes: Axes, case: Case) -> None:
    """The holes, the bit in its own and the screws, dashed where the bar hides them."""
    hole = case.cross_hole
    dash: dict[str, Any] = {"color": INK, "lw": 1.2, "ls": (0, (4, 2.5)), "zorder": 2}
    for one in (*case.bar.other_holes, hole):
        radius = case.bar_diameter(one.position) / 2
        for x in (one.position - one.size / 2, one.position + one.size / 2):
            axes.plot([x, x], [-radius, radius], **dash)
    back = case.edge_radius - case.bit_length
    if back > -radius:
        half = case.bit.size / 2
        axes.plot([hole.position - half, hole.position + half], [back, back], **dash)
    turn = np.linspace(0.0, 2 * np.pi, 61)
    for screw in hole.set_screws:
        seen = {**dash, "ls": "-"} if screw.side == "leading" else dash
        radius = screw.diameter / 2
        middle = hole.position + screw.shift
        axes.plot(middle + radius * np.cos(turn), radius * np.sin(turn), **seen)


Row = tuple[tuple[float, float, str], ...]


def _length_rows(finished: Finished, metre: float) -> list[Row]:
    """Rows of dimensions, the short ones first: start, end and words of each."""
    case, say = finished.case, finished.say
    bit, span = case.cross_hole.position, case.bar.span
    to_bit = (0.0, bit, f"bit at {say(bit)}")
    rows: list[Row] = []
    if case.work.length:
        rows.append(((*work_ends(case), f"bore length {say(case.work.length)}"),))
    if case.supports.tail is None:
        rows += [(to_bit,), ((0.0, span, f"overhang {say(span)}"),)]
    else:
        onward = (bit, span, f"bit to tail {say(span - bit)}")
        fits = all(fits_between(*each, dot=metre) for each in (to_bit, onward))
        rows += [(to_bit, onward)] if fits else [(to_bit,), (onward,)]
        rows.append(((0.0, span, f"span {say(span)}"),))
    if case.work.length:
        travel = travel_of(case)
        first, last = min(travel.start[0], travel.end[0]), max(travel.start[1], travel.end[1])
        words = f"room the bore sweeps {say(last - first)}\ncarriage travels {say(travel.length)}"
        rows.append(((first, last, words),))
    else:
        first, last = case.ends
        rows.append(((first, last, f"bar overall {say(last - first)}"),))
    return rows


def _lengths(axes: Axes, rows: Sequence[Row], low: float, metre: float) -> None:
    """Draw the rows of dimensions under the set-up."""
    for number, row in enumerate(rows):
        y = low - (20 + 40 * number) * metre
        for start, end, text in row:
            for x in (start, end):
                top = low + 6 * metre
                axes.plot([x, x], [top, y - 8 * metre], color=QUIET, lw=0.7, zorder=0.5)
            dimension(axes, start, end, y, text, dot=metre)


def _work_at_both_ends(axes: Axes, case: Case) -> None:
    """Dashed outline of where the work lies with the bit before it, and with it bored."""
    if case.work.length:
        outside, travel = work_outside(case), travel_of(case)
        first, last = min(travel.start[0], travel.end[0]), max(travel.start[1], travel.end[1])
        x, y = [first, last, last, first, first], [outside, outside, -outside, -outside, outside]
        axes.plot(x, y, color=INK, lw=1.1, ls=(0, (8, 4)), zorder=2)


def _feed_arrow(axes: Axes, case: Case, y: float, metre: float) -> None:
    """Which way the work is fed, under the end of it that leads."""
    first, last = work_ends(case)
    way = 1.0 if case.cut.feed_towards == "tailstock" else -1.0
    start = (last if way > 0 else first) + 10 * way * metre
    end = start + 70 * way * metre
    arrow = {"arrowstyle": "-|>", "color": INK, "lw": 2.4, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", (end, y), (start, y), arrowprops=arrow | {"mutation_scale": 20})
    align = "left" if way > 0 else "right"
    axes.text(end + 6 * way * metre, y, "feed", ha=align, va="center", fontsize=12, bbox=_PATCH)


def _callouts(axes: Axes, finished: Finished, high: float, frame: Frame) -> None:
    """Diameters, projection and the supports between the ends, in a row above."""
    notes = _notes(finished)
    left, right, _, _ = frame.extent
    widths = [text_width(text, 12) * frame.metre for _, _, text in notes]
    inset = 24 * frame.metre
    places = within(spread([x for x, _, _ in notes], widths), widths, left + inset, right - inset)
    y = high + 34 * frame.metre
    for (x, r, text), place in zip(notes, places, strict=True):
        axes.plot([place, x], [y - 12 * frame.metre, r], color=INK, lw=0.9, zorder=3)
        axes.plot([x], [r], "o", ms=5, color=INK, mec="white", mew=0.8, zorder=4)
        axes.text(place, y, text, ha="center", va="center", fontsize=12)


def _notes(finished: Finished) -> list[tuple[float, float, str]]:
    """Station, radius and words of each callout."""
    case, say = finished.case, finished.say
    first, last = work_ends(case)
    notes = []
    for start, end, diameter in bar_pieces(case):
        spans = [(max(start, 0.0), min(end, first)), (max(start, last), min(end, case.bar.span))]
        clear = max(spans, key=lambda span: span[1] - span[0])
        x = (clear[0] + clear[1]) / 2 if clear[1] > clear[0] else (start + end) / 2
        notes.append((x, 0.5 * diameter, f"bar dia {say(diameter)}"))
    bored = (first + case.cross_hole.position) / 2
    if case.cut.feed_towards == "tailstock":
        bored = (last + case.cross_hole.position) / 2
    bore = case.work.bore.nominal
    notes.append((bored, bore / 2, f"bore dia {say(bore)}"))
    tip = case.edge_radius - 0.3 * max(case.projection, 0.0)
    bit = case.cross_hole.position
    notes.append((bit, tip, f"bit sticks out {say(case.projection)}"))
    for name, support, station in case.placed_supports:
        if name not in ("drive", "tail"):
            radius = case.bar_diameter(station) / 2
            notes.append((station, 2.2 * radius, f"{support.kind} at {say(station)}"))
    return sorted(notes)


def _end_names(figure: Figure, case: Case, height: int) -> None:
    """Name the ends of the lathe and what holds the bar there."""
    y = 1 - 84 / height
    figure.text(0.02, y, f"HEADSTOCK END: {case.supports.drive.kind}", fontsize=13, weight="bold")
    tail = case.supports.tail
    words = "nothing" if tail is None else tail.kind
    figure.text(0.98, y, f"TAIL END: {words}", fontsize=13, weight="bold", ha="right")
    shape = "Chuck, centres and the outside of the work are drawn for show; lengths are to scale."
    if case.work.length is None:
        shape = "The length of the bore is not given. " + shape
    figure.text(0.02, 16 / height, shape, fontsize=11, color=QUIET)


# --- the bent bar ----------------------------------------------------------------------------


def body_surface(path: Path) -> Any:
    """Outside of the bar with every field on its points."""
    grid = pyvista.read(path)
    return grid.extract_surface(algorithm=None, nonlinear_subdivision=1)


def draw_deflected(stage: Stage, finished: Finished, surface: Any, path: Path) -> None:
    """The bar bent by the cut, seen from the side and from above, movement magnified."""
    table = finished.deflection
    centre = np.hypot(table["radial"], table["tangential"]) * 1e-6
    moved, amount = bending(surface.points, table)
    largest = float(centre.max())
    frame = _bar_frame(finished.case, 2 * SWING + 96)
    factor = nice_step(SWING * frame.metre / largest, _MAGNIFIED) if largest > 0 else 1.0
    views: tuple[View, View] = ("side", "above")
    shots = [_shot_of_bar(stage, surface, moved * factor, amount, frame, view) for view in views]
    height = 130 + 2 * frame.height + 130
    with picture(path, WIDTH, height) as figure:
        for number, (view, image) in enumerate(zip(views, shots, strict=True)):
            bottom = 130 + (1 - number) * frame.height
            axes = _band(figure, image, frame, bottom, height)
            _bar_at_rest(axes, finished.case, frame)
            _supports_and_bit(axes, finished, frame, surface, moved * factor, view)
            figure.text(
                0.02, (bottom + frame.height - 22) / height, _VIEW_WORDS[view], fontsize=12
            )
        _heading(
            figure, height, "The bar bent by the cut", _largest_words(finished, centre, factor)
        )
        _movement_key(figure, finished, largest, height)


def bending(points: Any, table: Mapping[str, Floats]) -> tuple[Floats, Floats]:
    """Movement of points of the bar as it bends, (n, 3) m, and of its centre line there, (n,) m.

    The turning of the whole bar in its drive is left out: it moves the surface more than the
    bending does and changes no bore.
    """
    x, r, t = np.asarray(points, dtype=float).T
    radial, tangential, slope, across = (
        np.interp(x, table["station"] * 1e-3, table[name] * 1e-6)
        for name in ("radial", "tangential", "slope_bit", "slope_across")
    )
    moved = np.stack([-r * slope - t * across, radial, tangential], axis=1)
    return moved, np.hypot(radial, tangential)


def _largest_words(finished: Finished, centre: Floats, factor: float) -> str:
    """Largest movement, where it is, and how much it is magnified."""
    place = int(np.argmax(centre))
    step = 0.001 if finished.system == "mm" else 0.1 * 0.0254
    station = round(float(finished.deflection["station"][place]) * 1e-3 / step) * step
    return (
        f"The centre line moves {finished.movement(float(centre[place]) * 1e6)} at most, "
        f"{show(station, 'length', finished.system)} from the drive support. Movement drawn "
        f"{factor:.6g} times too large; twist of the bar left out."
    )


def _bar_frame(case: Case, room: int) -> Frame:
    """Frame that takes the whole bar in, with `room` dots beside its thickness."""
    first, last = case.ends
    metre = (last - first) / (WIDTH - 2 * MARGIN - 40)
    largest = max(diameter for _, _, diameter in bar_pieces(case))
    metre = max(metre, largest / 300)
    return Frame(
        left=(first + last) / 2 - WIDTH * metre / 2,
        metre=metre,
        height=int(largest / metre) + room,
    )


def _shot_of_bar(
    stage: Stage, surface: Any, shift: Floats, amount: Floats, frame: Frame, view: View
) -> NDArray[np.uint8]:
    """Picture of the bar with its points shifted, shaded by how far each moves."""
    bent = surface.copy()
    bent.points = np.asarray(surface.points, dtype=float) + shift
    stage.cleared().add_mesh(
        bent,
        scalars=amount,
        cmap=HEAT,
        clim=(0.0, max(float(amount.max()), 1e-30)),
        show_scalar_bar=False,
        ambient=0.7,
        diffuse=0.35,
        specular=0.0,
    )
    return stage.shoot(frame, view)


def _band(
    figure: Figure, image: NDArray[np.uint8], frame: Frame, bottom: int, height: int
) -> Axes:
    """Axes across the sheet from `bottom`, dots, that hold a picture in its own metres."""
    left, right, low, high = frame.extent
    axes = figure.add_axes((0.0, bottom / height, 1.0, frame.height / height))
    axes.set_xlim(left, right)
    axes.set_ylim(low, high)
    axes.axis("off")
    axes.imshow(image, extent=frame.extent, aspect="auto", interpolation="nearest", zorder=0)
    return axes


def _bar_at_rest(axes: Axes, case: Case, frame: Frame) -> None:
    """Dashed outline of the bar where it lies when nothing pushes it."""
    pieces = bar_pieces(case)
    upper = [(x, d / 2) for start, end, d in pieces for x in (start, end)]
    lower = [(x, -r) for x, r in reversed(upper)]
    x, y = zip(*upper, *lower, upper[0], strict=True)
    axes.plot(x, y, color=INK, lw=1.1, ls=(0, (6, 4)), zorder=3)


def _supports_and_bit(
    axes: Axes, finished: Finished, frame: Frame, surface: Any, shift: Floats, view: View
) -> None:
    """Marks under the bar where it is held, each named below it, and at the bit where it moved."""
    case, dot = finished.case, frame.metre
    under = -max(diameter for _, _, diameter in bar_pieces(case)) / 2 - 12 * dot
    places, names = [], []
    for name, support, station in case.placed_supports:
        axes.plot([station], [under], "^", ms=13, mfc="white", mec=INK, mew=1.5, zorder=4)
        places.append(station)
        names.append(support.kind if name not in ("drive", "tail") else f"{name}: {support.kind}")
    left, right, _, _ = frame.extent
    widths = [text_width(name, 12) * dot for name in names]
    spots = within(spread(places, widths), widths, left + 16 * dot, right - 16 * dot)
    place, sign = _SEEN[view]
    points = np.asarray(surface.points, dtype=float) + shift
    x, y = points[:, 0], sign * points[:, place]
    for station, spot, width, name in zip(places, spots, widths, names, strict=True):
        low = y[np.abs(x - spot) < width / 2]
        clear = min(under - 26 * dot, float(low.min()) - 20 * dot if low.size else under)
        if clear < under - 26 * dot:
            # The bar has swung over its place: the name stands below the bar, led to its mark.
            for colour, weight in (("white", 2.6), (INK, 1.0)):
                ends = [under - 8 * dot, clear + 10 * dot]
                axes.plot([station, spot], ends, color=colour, lw=weight, zorder=3.5)
        axes.text(spot, clear, name, ha="center", va="center", fontsize=12, zorder=5, bbox=_PATCH)
    _bit_mark(axes, case, frame, section_motion(surface, shift), view)


def _bit_mark(
    axes: Axes, case: Case, frame: Frame, moved: tuple[Floats, Floats, Floats], view: View
) -> None:
    """Where the bit is once the bar has moved; seen from above it points at the reader."""
    station, motion, _ = moved
    bit, dot = case.cross_hole.position, frame.metre
    place, sign = _SEEN[view]
    x = bit + float(np.interp(bit, station, motion[:, 0]))
    y = sign * float(np.interp(bit, station, motion[:, place]))
    if view == "side":
        y += case.bar_diameter(bit) / 2
        axes.plot([x], [y + 10 * dot], "v", ms=13, color=INK, mec="white", zorder=4)
        axes.text(x, y + 30 * dot, "bit", fontsize=12, ha="center", va="center", zorder=5)
        return
    axes.plot([x], [y], "s", ms=8, mfc="white", mec=INK, mew=1.5, zorder=4)
    axes.text(x + 14 * dot, y, "bit", fontsize=12, va="center", zorder=5, bbox=_PATCH)


def _heading(figure: Figure, height: int, title: str, words: str) -> None:
    figure.text(0.02, 1 - 46 / height, title, fontsize=18, weight="bold")
    figure.text(0.02, 1 - 84 / height, words, fontsize=13)


def _movement_key(figure: Figure, finished: Finished, largest: float, height: int) -> None:
    """Shade against movement, in both systems."""
    axes = figure.add_axes((0.30, 58 / height, 0.40, 20 / height))
    metric = largest * 1e6
    axes.imshow(
        np.linspace(0, 1, 256)[None, :], cmap=HEAT, aspect="auto", extent=(0.0, metric, 0.0, 1.0)
    )
    axes.set_yticks([])
    units = (("um", 1.0), ("thou", 25.4))
    own, other = units if finished.system == "mm" else units[::-1]
    _key_ticks(axes, metric, own, bottom=True)
    _key_ticks(axes.twiny(), metric, other, bottom=False)
    figure.text(0.285, 68 / height, "movement", ha="right", va="center", fontsize=12)


def _key_ticks(axes: Axes, metric: float, unit: tuple[str, float], *, bottom: bool) -> None:
    """Ticks of a key in one unit."""
    name, worth = unit
    axes.set_xlim(0.0, metric)
    step = nice_step(metric / worth / 4)
    ticks = np.arange(0.0, metric / worth + step * 1e-9, step)
    axes.set_xticks(ticks * worth, [f"{tick:.6g}" for tick in ticks])
    side = 1.03, (-0.75 if bottom else 1.75)
    axes.text(*side, name, transform=axes.transAxes, va="center", fontsize=12)


# --- modes -----------------------------------------------------------------------------------


def draw_mode(stage: Stage, finished: Finished, surface: Any, mode: ModeLine, path: Path) -> None:
    """One mode, seen from where it shows, swung to one side."""
    shape = np.asarray(surface.point_data[f"mode_{mode.number}"], dtype=float)
    amount = np.linalg.norm(shape, axis=1)
    view: View = "above" if mode.plane == "across" else "side"
    frame = _bar_frame(finished.case, 2 * SWING + 96)
    twists = mode.plane == "torsion"
    swing = {"torsion": 0.0, "axial": 0.6 * SWING}.get(mode.plane, SWING)
    shift = shape * (swing * frame.metre / max(float(amount.max()), 1e-30))
    image = _shot_of_bar(stage, surface, shift, amount, frame, view)
    height = 110 + frame.height + 96
    with picture(path, WIDTH, height) as figure:
        axes = _band(figure, image, frame, 96, height)
        _bar_at_rest(axes, finished.case, frame)
        _supports_and_bit(axes, finished, frame, surface, shift, view)
        if twists:
            _twist_lines(axes, finished.case, surface, shape)
        elif mode.plane != "axial":
            _other_swing(axes, surface, shift, view)
        title = f"Mode {mode.number}: {pitch_words(mode.frequency)}, {plane_words(mode.plane)}"
        _heading(figure, height, title, _mode_words(finished, mode, view))
        _shape_key(figure, height)


def _mode_words(finished: Finished, mode: ModeLine, view: View) -> str:
    """Waves per turn, and how to read the picture."""
    waves = mode.frequency / finished.case.spindle_speed
    speed = rpm_words(finished.case.spindle_speed)
    how = {
        "torsion": "lines along the bar drawn turned, dashed where they lie at rest",
        "axial": "drawn far too large, dashed where the bar lies at rest",
    }.get(mode.plane, "drawn far too large; dotted, the other end of its swing")
    return f"Shakes {waves:.0f} times a turn at {speed}. {_VIEW_WORDS[view].capitalize()}; {how}."


def section_motion(surface: Any, field: Floats) -> tuple[Floats, Floats, Floats]:
    """Stations, mean motion (n, 3) and turn about the centre line, per slice of the bar."""
    points = np.asarray(surface.points, dtype=float)
    edges = np.linspace(points[:, 0].min(), points[:, 0].max(), 61)
    owner = np.clip(np.digitize(points[:, 0], edges) - 1, 0, 59)
    count = np.bincount(owner, minlength=60)
    used = count > 0
    station = np.bincount(owner, points[:, 0], 60)[used] / count[used]
    motion = np.stack([np.bincount(owner, part, 60)[used] for part in field.T], axis=1)
    _, r, t = points.T
    twist = np.bincount(owner, r * field[:, 2] - t * field[:, 1], 60)[used]
    arm = np.bincount(owner, r**2 + t**2, 60)[used]
    return station, motion / count[used][:, None], twist / np.maximum(arm, 1e-30)


def _other_swing(axes: Axes, surface: Any, shift: Floats, view: View) -> None:
    """Centre line of the bar at the other end of its swing, dotted."""
    station, motion, _ = section_motion(surface, shift)
    place, sign = _SEEN[view]
    axes.plot(station - motion[:, 0], -sign * motion[:, place], ":", color=INK, lw=1.8, zorder=3)


def _twist_lines(axes: Axes, case: Case, surface: Any, shape: Floats) -> None:
    """Lines scribed along the bar, as they lie when it is twisted."""
    station, _, turn = section_motion(surface, shape)
    turn = turn * np.radians(70.0) / max(float(np.abs(turn).max()), 1e-30)
    radius = np.array([case.bar_diameter(x) / 2 for x in station])
    for degrees in range(20, 180, 20):
        rest = np.radians(degrees)
        axes.plot(
            station,
            radius * np.cos(np.full_like(turn, rest)),
            color=QUIET,
            lw=0.8,
            ls=(0, (6, 4)),
            zorder=3,
        )
        angle = rest + turn
        seen = np.where(np.sin(angle) >= 0, radius * np.cos(angle), np.nan)
        axes.plot(station, seen, color=INK, lw=3.4, zorder=3)
        axes.plot(station, seen, color="white", lw=1.6, zorder=3)


def _shape_key(figure: Figure, height: int) -> None:
    """Shade against movement, without a unit: a mode has none."""
    axes = figure.add_axes((0.35, 34 / height, 0.30, 20 / height))
    axes.imshow(np.linspace(0, 1, 256)[None, :], cmap=HEAT, aspect="auto")
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_edgecolor(FAINT)
    figure.text(0.34, 44 / height, "still", ha="right", va="center", fontsize=12)
    figure.text(0.66, 44 / height, "moves most", ha="left", va="center", fontsize=12)
