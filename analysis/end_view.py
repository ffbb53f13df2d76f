"""The end view: bar, hole, bit and bore cut across at the bit, with their sizes."""

from __future__ import annotations

from math import asin, cos, inf, isfinite, radians, sin
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.patches import Arc, Circle, Polygon, Rectangle, Wedge

from .finished import Finished, start_radius
from .label_places import spread, within
from .paper import INK, QUIET, picture, short
from .parts import bit_outline
from .wording import set_by_both


def draw_end_view(finished: Finished, path: Path) -> None:
    """Section through bar and bit, seen from the tail end, with the sizes that set the bore."""
    case = finished.case
    bore = case.work.bore.nominal / 2
    outside = max(bore, case.edge_radius) * 1.22
    height = outside * 2.6
    with picture(path, 1600, 900) as figure:
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_ylim(-outside * 1.14, height - outside * 1.14)
        left = -height * 0.62
        axes.set_xlim(left, left + height * 1600 / 900)
        axes.axis("off")
        dot = height / 900
        _ring(axes, finished, bore, outside)
        _section_of_bar(axes, finished)
        _turning_arrow(axes, outside * 1.12)
        _upright_dimensions(axes, finished, outside, dot)
        _callouts(axes, finished, outside, dot)
        figure.text(0.02, 0.945, "The bit, looking along the bar", fontsize=18, weight="bold")
        figure.text(
            0.02,
            0.91,
            "seen from the tail end towards the headstock, bit straight up",
            fontsize=12.5,
        )


def _ring(axes: Axes, finished: Finished, bore: float, outside: float) -> None:
    """The work round the bore, cut across."""
    axes.add_patch(
        Wedge(
            (0, 0),
            outside,
            0,
            360,
            width=outside - bore,
            facecolor="white",
            edgecolor=QUIET,
            hatch="//",
            lw=0.0,
        )
    )
    axes.add_patch(Circle((0, 0), bore, facecolor="white", edgecolor=INK, lw=2.0))
    start = start_radius(finished.case)
    axes.add_patch(Circle((0, 0), start, fill=False, edgecolor=INK, lw=1.1, ls=(0, (5, 3))))
    for angle in (0, 90):
        a = radians(angle)
        reach = outside * 1.06
        axes.plot(
            [-reach * cos(a), reach * cos(a)],
            [-reach * sin(a), reach * sin(a)],
            color=QUIET,
            lw=0.8,
            ls=(0, (14, 3, 3, 3)),
            zorder=1.5,
        )


def _section_of_bar(axes: Axes, finished: Finished) -> None:
    """The bar cut through the middle of the hole, the bit in it, the screws dashed."""
    case = finished.case
    radius = case.bar_diameter(case.cross_hole.position) / 2
    hole = case.cross_hole
    bar = Circle((0, 0), radius, facecolor="#dedede", edgecolor=INK, lw=2.0, hatch="\\\\")
    axes.add_patch(bar)
    # Looking from the tail end, the leading side (+t) is on the left.
    slot = Rectangle(
        (-hole.middle - hole.size / 2, -radius),
        hole.size,
        2 * radius,
        facecolor="white",
        edgecolor=INK,
        lw=1.2,
    )
    axes.add_patch(slot)
    slot.set_clip_path(bar)
    for screw in hole.set_screws:
        _screw(axes, screw.side, screw.diameter, hole.size, hole.middle, radius)
    axes.add_patch(Circle((0, 0), radius, fill=False, edgecolor=INK, lw=2.0))
    axes.add_patch(Polygon(bit_outline(finished.case), facecolor="#4a4a4a", edgecolor=INK, lw=1.4))


def _screw(axes: Axes, side: str, width: float, hole: float, middle: float, radius: float) -> None:
    """A set screw from the surface of the bar to the hole."""
    way = -1.0 if side == "leading" else 1.0
    inner = -middle + way * hole / 2
    outer = way * radius * cos(asin(min(1.0, width / 2 / radius)))
    axes.add_patch(
        Rectangle(
            (min(inner, outer), -width / 2),
            abs(outer - inner),
            width,
            facecolor="#f4f4f4",
            edgecolor=INK,
            lw=1.0,
            ls=(0, (4, 2)),
        )
    )
    axes.plot([inner, outer], [0, 0], color=QUIET, lw=0.8, ls=(0, (10, 3, 2, 3)))


def _turning_arrow(axes: Axes, radius: float) -> None:
    """Which way the bar turns: against the clock, seen from the tail end."""
    axes.add_patch(Arc((0, 0), 2 * radius, 2 * radius, theta1=104, theta2=150, color=INK, lw=2.4))
    end = radians(150)
    tip = (radius * cos(end), radius * sin(end))
    before = radians(147)
    axes.annotate(
        "",
        (tip[0] - 0.03 * radius * sin(end), tip[1] + 0.03 * radius * cos(end)),
        (radius * cos(before), radius * sin(before)),
        arrowprops={"arrowstyle": "-|>", "lw": 2.4, "color": INK, "mutation_scale": 24},
    )
    middle = radians(136)
    axes.text(
        1.05 * radius * cos(middle),
        1.05 * radius * sin(middle),
        "the bar turns\nthis way",
        ha="right",
        va="bottom",
        fontsize=12.5,
    )


def _upright_dimensions(axes: Axes, finished: Finished, outside: float, dot: float) -> None:
    """Micrometer reading and projection, dimensioned to the left of the work."""
    case = finished.case
    rows = ((-case.surface_radius("back"), case.edge_radius, _reading_words(finished)),)
    x = -outside - 60 * dot
    for low, high, text in rows:
        for y, start in ((low, 0.0), (high, 0.0)):
            axes.plot([x - 8 * dot, start], [y, y], color=QUIET, lw=0.7)
        arrow = {"arrowstyle": "<|-|>", "color": INK, "lw": 1.0, "shrinkA": 0, "shrinkB": 0}
        axes.annotate("", (x, low), (x, high), arrowprops=arrow)
        axes.text(
            x - 10 * dot,
            (low + high) / 2,
            text,
            rotation=90,
            ha="right",
            va="center",
            fontsize=13,
            linespacing=1.3,
        )


def _reading_words(finished: Finished) -> str:
    """What to set the micrometer to for the last pass; without passes, what the drawing shows.

    The edge is set beyond the bore by what the bar will spring away, so the two differ.
    """
    reading = finished.last_pass.get("micrometer_reading", inf)
    if isfinite(reading):
        size = finished.measured(reading * 1e-3)
        return f"last pass: micrometer over bit and bar\n{size}, see Passes"
    case = finished.case
    where = "edge at the nominal bore"
    if abs(case.edge_radius - case.work.bore.nominal / 2) > 1e-6:
        where = "edge as far out as the case says"
    size = finished.measured(case.edge_radius + case.surface_radius("back"))
    return f"{where}: micrometer over bit and bar\n{size}"


def _callouts(axes: Axes, finished: Finished, outside: float, dot: float) -> None:
    """Sizes in a column on the right, each with a leader to what it measures."""
    notes = sorted(_notes(finished), key=lambda note: note[1])
    column = outside * 1.0 + 150 * dot
    wanted = [y * 1.15 for _, y, _ in notes]
    gaps = [dot * (34 + 22 * text.count("\n")) for _, _, text in notes]
    places = within(spread(wanted, gaps), gaps, -outside * 1.1, outside * 1.4)
    for (x, y, text), place in zip(notes, places, strict=True):
        axes.plot(
            [x, column - 40 * dot, column - 10 * dot],
            [y, place, place],
            color=INK,
            lw=0.8,
            zorder=4,
        )
        axes.plot([x], [y], "o", ms=4.5, color=INK, mec="white", mew=0.8, zorder=5)
        axes.text(column, place, text, va="center", fontsize=13, linespacing=1.25)
    if any(screw.side == "leading" for screw in finished.case.cross_hole.set_screws):
        radius = finished.case.bar_diameter(finished.case.cross_hole.position) / 2
        corner = (-outside * 0.86, -outside * 0.98)
        axes.plot([-0.85 * radius, corner[0]], [0.0, corner[1]], color=INK, lw=0.8, zorder=4)
        axes.plot([-0.85 * radius], [0.0], "o", ms=4.5, color=INK, mec="white", mew=0.8, zorder=5)
        words = _screw_words(finished, "leading").replace(" (", "\n(")
        axes.text(*corner, words + " ", ha="right", va="center", fontsize=13)


def _notes(finished: Finished) -> list[tuple[float, float, str]]:
    """Point and words of each note of the end view."""
    case, say = finished.case, finished.say
    hole, bit = case.cross_hole, case.bit
    radius = case.bar_diameter(hole.position) / 2
    bore, start = case.work.bore.nominal / 2, start_radius(finished.case)
    right = -hole.middle + bit.size / 2
    gap = start - radius
    middle = (start + radius) / 2
    notes = [
        (*_at(bore, 48), f"bore {_bore_words(finished)}"),
        (
            *_at(start, 30),
            f"bore before the first pass {say(2 * start)}\n{_depth_words(finished)}",
        ),
        (*_at(middle, 10), f"chip gap {say(gap)} all round" if gap > 0 else "no room for chips"),
        (*_at(radius, -22), f"bar {say(2 * radius)}"),
        (
            right - 0.2 * bit.size,
            radius + 0.62 * max(case.projection, 0.0),
            f"bit {say(bit.size)} {'round' if hole.shape == 'round' else 'square'}\n"
            f"sticks out {say(case.projection)} from the bar"
            + ("" if bit.length is None else f"\nlength {say(case.bit_length)}"),
        ),
        (-hole.middle + hole.size / 2, -0.62 * radius, _hole_words(finished)),
    ]
    trailing = [screw for screw in hole.set_screws if screw.side == "trailing"]
    if trailing:
        notes.append(
            (0.85 * radius, -0.1 * trailing[0].diameter, _screw_words(finished, "trailing"))
        )
    return notes


def _depth_words(finished: Finished) -> str:
    """How deep the last planned pass cuts; without passes, the cut's own depth."""
    depth = finished.last_pass.get("depth", inf)
    if isfinite(depth):
        return f"the last pass cuts {set_by_both(depth * 1e-3, finished.system)} deep"
    return f"depth of cut {set_by_both(finished.case.cut.depth, finished.system)}"


def _screw_words(finished: Finished, side: str) -> str:
    """How many screws of what size come in from a side."""
    sizes = [s.diameter for s in finished.case.cross_hole.set_screws if s.side == side]
    many = "set screw" if len(sizes) == 1 else f"{len(sizes)} set screws"
    return f"{many} {finished.say(sizes[0])}, {side} side"


def _at(radius: float, degrees: float) -> tuple[float, float]:
    return radius * cos(radians(degrees)), radius * sin(radians(degrees))


def _bore_words(finished: Finished) -> str:
    """The bore with its limits, in the case's own units first."""
    bore = finished.case.work.bore
    if bore.lower == bore.upper:
        return finished.measured(bore.nominal)
    typed = f"{short(bore.text, 36)}\n" if bore.text else ""
    return f"{typed}{finished.measured(bore.lower)} to\n{finished.measured(bore.upper)}"


def _hole_words(finished: Finished) -> str:
    """Size of the cross-hole and where its middle is."""
    hole = finished.case.cross_hole
    words = f"{hole.shape} hole {finished.say(hole.size)}"
    if abs(hole.middle) < 1e-9:
        return f"{words},\nits middle on the centre line"
    side = "leading" if hole.middle > 0 else "trailing"
    return f"{words}, its middle\n{finished.say(abs(hole.middle))} to the {side} side"
