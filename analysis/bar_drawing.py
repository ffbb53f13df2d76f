"""The bar on paper for the making of it: `bar.dxf` for a drawing program, `bar.svg` to look at.

Both are drawn from the same views: from the front (the leading side), from above (the bit's
side), and the section at the cross-hole, larger, seen from the tail. Lengths run from the drive
end of the bar, where the maker can measure. The drawing is in millimetres or inches, as the case
is; in the DXF file the views are full size and dimensions measure what they stand on.
"""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator
from dataclasses import dataclass
from io import StringIO
from itertools import pairwise
from math import cos, hypot, pi, sin
from typing import Any, Literal

from .bar import Flat, Side
from .finished import Finished, bar_pieces
from .lettering import clean, printable, text_width
from .mesh import bar_shape
from .sheet_blocks import SMALL, Circle, Drawing, Label, Line, Stroke
from .sheet_content import making
from .sheet_drawing import SCALES, scale_words
from .svg import svg
from .units import show

DXF, SVG = "bar.dxf", "bar.svg"
Layer = Literal["OUTLINE", "HIDDEN", "CENTRE"]
Point = tuple[float, float]

SHEET = (277.0, 190.0)
"""Paper between its margins, mm: A4 lying, and Letter nearly."""
_SECTION = 46.0
"""Diameter that the section is drawn with on the paper, mm, or less."""
_ROW, _TEXT = 8.0, 2.6
"""From one row of dimensions to the next, and height of letters, mm on the paper."""
_WIDER = 1.2
"""So much wider are letters where ours are missing and widths not minded (DejaVu Sans)."""
_CORNERS = 6


# --- what is drawn, in the drawing's own units -----------------------------------------------


@dataclass(frozen=True, slots=True)
class Stretch:
    """A line through points."""

    points: tuple[Point, ...]
    layer: Layer = "OUTLINE"


@dataclass(frozen=True, slots=True)
class Round:
    """A circle."""

    centre: Point
    radius: float
    layer: Layer = "OUTLINE"


@dataclass(frozen=True, slots=True)
class Size:
    """A dimension along x or upright, its line through a place; of a view drawn so much larger."""

    start: Point
    end: Point
    at: float
    upright: bool = False
    larger: float = 1.0


@dataclass(frozen=True, slots=True)
class Note:
    """Words, perhaps with a line to what they are of."""

    at: Point
    text: str
    to: Point | None = None


Mark = Stretch | Round | Size | Note


@dataclass(frozen=True, slots=True, kw_only=True)
class BarDrawing:
    """The views of a bar.

    Attributes
    ----------
    unit : m of one unit of the drawing
    paper : units of the drawing to one mm of paper
    """

    title: str
    inch: bool
    unit: float
    paper: float
    scale: float
    marks: tuple[Mark, ...]


def bar_drawing(finished: Finished) -> BarDrawing:
    """The drawing of the bar of a finished run."""
    case, inch = finished.case, finished.system == "inch"
    unit = 0.0254 if inch else 1e-3
    first, last = case.ends
    largest = max(diameter for _, _, diameter in bar_pieces(case))
    room = min(1e-3 * (SHEET[0] - 20.0) / (last - first), 1e-3 * 24.0 / largest)
    scale = next((one for one in SCALES if one <= room * (1 + 1e-9)), room)
    view = _View(finished, unit, 1e-3 / scale / unit)
    return BarDrawing(
        title=clean(case.title, 120),
        inch=inch,
        unit=unit,
        paper=view.paper,
        scale=scale,
        marks=tuple(view.marks()),
    )


class _View:
    """Turns the case into marks: x from the drive end of the bar, y up from the front view."""

    def __init__(self, finished: Finished, unit: float, paper: float) -> None:
        self.finished, self.case = finished, finished.case
        self.unit, self.paper = unit, paper
        self.radius = max(d for _, _, d in bar_pieces(self.case)) / 2 / unit
        self.above = 2 * self.radius + 20 * paper
        self.start = self.case.ends[0]

    def x(self, station: float) -> float:
        return (station - self.start) / self.unit

    def mm(self, paper: float) -> float:
        """Millimetres of paper in units of the drawing."""
        return paper * self.paper

    def marks(self) -> Iterator[Mark]:
        yield from self._outline(0.0)
        yield from self._outline(self.above)
        yield from self._front()
        yield from self._top()
        yield from self._flats()
        words = ("from the front, leading side towards you", "from above, leading side below")
        for y, text in zip((0.0, self.above), words, strict=True):
            yield Note((0.0, y + self.radius + self.mm(1.6)), text)
        foot = yield from self._lengths()
        yield from self._section(foot)
        yield from self._notes(foot)

    def _outline(self, y: float) -> Iterator[Mark]:
        pieces = bar_pieces(self.case)
        outside = [
            (self.x(x), d / 2 / self.unit) for start, end, d in pieces for x in (start, end)
        ]
        upper = tuple((x, y + r) for x, r in outside)
        lower = tuple((x, y - r) for x, r in reversed(outside))
        yield Stretch((*upper, *lower, upper[0]))
        for (_, _, before), (start, _, after) in pairwise(pieces):
            r = max(before, after) / 2 / self.unit
            yield Stretch(((self.x(start), y - r), (self.x(start), y + r)))
        spare = self.mm(4)
        end = self.x(self.case.ends[1])
        yield Stretch(((-spare, y), (end + spare, y)), "CENTRE")
        yield from self._centres(y)

    def _centres(self, y: float) -> Iterator[Mark]:
        """Centre holes, hidden in the ends."""
        for centre in bar_shape(self.case).centres:
            end = self.x(self.case.ends[0 if centre.end == "drive" else 1])
            way = 1.0 if centre.end == "drive" else -1.0
            mouth = centre.mouth / 2 / self.unit
            tip = end + way * mouth / 0.57735
            yield Stretch(((end, y + mouth), (tip, y), (end, y - mouth)), "HIDDEN")

    def _front(self) -> Iterator[Mark]:
        """Holes hidden in the bar, tappings as circles: seen from the leading side."""
        for hole in (self.case.cross_hole, *self.case.bar.other_holes):
            r = self.case.bar_diameter(hole.position) / 2 / self.unit
            for side in (-1, 1):
                x = self.x(hole.position + side * hole.size / 2)
                yield Stretch(((x, -r), (x, r)), "HIDDEN")
        hole = self.case.cross_hole
        for screw in hole.set_screws:
            layer: Layer = "OUTLINE" if screw.side == "leading" else "HIDDEN"
            centre = (self.x(hole.position + screw.shift), 0.0)
            yield Round(centre, screw.diameter / 2 / self.unit, layer)

    def _top(self) -> Iterator[Mark]:
        """The mouths of the holes seen from the bit's side; the leading side lies below."""
        for hole in (self.case.cross_hole, *self.case.bar.other_holes):
            middle = (self.x(hole.position), self.above - hole.middle / self.unit)
            if hole.shape == "round":
                yield Round(middle, hole.size / 2 / self.unit)
            else:
                corner = hole.corner_radius / self.unit
                yield Stretch(_square(middle, hole.size / self.unit, corner))
        hole = self.case.cross_hole
        for screw in hole.set_screws:
            yield from self._tapping(screw.side, hole.position + screw.shift, screw.diameter)

    def _tapping(self, side: Side, station: float, diameter: float) -> Iterator[Mark]:
        """A tapping from the outside to the cross-hole, hidden in the view from above."""
        hole = self.case.cross_hole
        way = 1.0 if side == "leading" else -1.0
        wall = hole.middle + way * hole.size / 2
        surface = way * self.case.bar_diameter(station) / 2
        for edge in (-1, 1):
            x = self.x(station + edge * diameter / 2)
            ends = tuple((x, self.above - t / self.unit) for t in (wall, surface))
            yield Stretch(ends, "HIDDEN")

    def _flats(self) -> Iterator[Mark]:
        """Each flat as a line in the view that shows its depth."""
        for flat in self.case.bar.flats:
            r = (self.case.bar_diameter((flat.start + flat.end) / 2) / 2 - flat.depth) / self.unit
            y = {
                "bit": r,
                "back": -r,
                "leading": self.above - r,
                "trailing": self.above + r,
            }[flat.side]
            x = (self.x(flat.start), self.x(flat.end))
            yield Stretch(((x[0], y), (x[1], y)))
            words = f"flat {self._say(flat.depth)} deep, {flat.side} side"
            beside = (x[1] + self.mm(4), y + self.mm(4 if flat.side == "bit" else -4))
            yield Note(beside, words, (x[1], y))

    def _lengths(self) -> Generator[Mark, None, float]:
        """Dimensions from the drive end, the short ones nearest; gives back where they end."""
        case = self.case
        ends = {hole.position for hole in (case.cross_hole, *case.bar.other_holes)}
        ends |= {x for step in case.bar.steps for x in (step.start, step.end)}
        ends |= {x for flat in case.bar.flats for x in (flat.start, flat.end)}
        first, last = case.ends
        inner = sorted(x for x in ends if first + 1e-9 < x < last - 1e-9)
        y = -self.radius - self.mm(5)
        for station in (*inner, last):
            y -= self.mm(_ROW)
            edge = -case.bar_diameter(min(max(station, first), last)) / 2 / self.unit
            yield Size((0.0, -self.radius), (self.x(station), edge), y)
        for start, end, diameter in bar_pieces(case):
            r = diameter / 2 / self.unit
            x = self.x((start + end) / 2)
            yield Note(
                (x + self.mm(3), self.radius + self.mm(4)), f"dia {self._say(diameter)}", (x, r)
            )
        return y

    def _section(self, foot: float) -> Iterator[Mark]:
        """The section at the cross-hole, seen from the tail: the leading side on the left."""
        case, hole = self.case, self.case.cross_hole
        radius = case.bar_diameter(hole.position) / 2 / self.unit
        room = self.mm(_SECTION) / (2 * radius)
        larger = next((one for one in SCALES if one <= room * (1 + 1e-9)), 1.0)
        r = radius * larger
        cx, cy = r + self.mm(14), foot - self.mm(20) - r
        size = hole.size / self.unit * larger
        middle = cx - hole.middle / self.unit * larger
        yield from _cut_circle((cx, cy), r, self._flats_at(hole.position, larger))
        for side in (-0.5, 0.5):
            x = middle + side * size
            high = (max(r * r - (x - cx) ** 2, 0.0)) ** 0.5
            yield Stretch(((x, cy - high), (x, cy + high)))
        spare = self.mm(3)
        yield Stretch(((cx - r - spare, cy), (cx + r + spare, cy)), "CENTRE")
        yield Stretch(((cx, cy - r - spare), (cx, cy + r + spare)), "CENTRE")
        for screw in hole.set_screws:
            way = -1.0 if screw.side == "leading" else 1.0
            half = screw.diameter / 2 / self.unit * larger
            inner = middle + way * size / 2
            outer = cx + way * (max(r * r - half * half, 0.0)) ** 0.5
            for y in (cy - half, cy + half):
                yield Stretch(((inner, y), (outer, y)))
        low = cy - r
        if abs(hole.middle) > 1e-9:
            yield Size((cx, cy), (middle, cy), low - self.mm(6), larger=larger)
        yield Size(
            (middle - size / 2, cy), (middle + size / 2, cy), low - self.mm(14), larger=larger
        )
        times = scale_words(larger)
        words = f"Section at the cross-hole, {times} of the views, from the tail"
        yield Note((self.mm(0), cy + r + self.mm(6)), words)
        yield Note((cx - r - self.mm(13), cy + self.mm(3)), "leading")
        yield Note((cx + r + self.mm(4), cy + self.mm(3)), "trailing")

    def _flats_at(self, station: float, larger: float) -> list[tuple[Flat, float]]:
        """Flats at a station, each with its height over the centre line as drawn."""
        radius = self.case.bar_diameter(station) / 2
        return [
            (flat, (radius - flat.depth) / self.unit * larger)
            for flat in self.case.bar.flats
            if flat.start <= station <= flat.end
        ]

    def _notes(self, foot: float) -> Iterator[Mark]:
        """What lines cannot say."""
        x, y = self.mm(112), foot - self.mm(14)
        for text in _words(self.finished):
            for line in _folded(text, (SHEET[0] - 132.0) / _WIDER):
                yield Note((x, y), line)
                y -= self.mm(4.4)
            y -= self.mm(1.4)

    def _say(self, length: float) -> str:
        return show(length, "length", self.finished.system)


def _words(finished: Finished) -> Iterator[str]:
    """Notes of the drawing: the sheet's own words of what is to be made, and how to read it."""
    for fact in making(finished).facts:
        if fact.name not in ("Bit", "Grind"):
            yield f"{fact.name}: {fact.value}."
    for centre in bar_shape(finished.case).centres:
        given = (
            "" if finished.case.bar.centre_hole_diameter else " (a quarter of the end: a guess)"
        )
        yield f"Centre hole, {centre.end} end: mouth {finished.say(centre.mouth)}{given}."
    yield (
        "Lengths are from the drive end. The leading side goes first as the bar turns; the front "
        "view looks at it. Tapped holes are drawn at the thread's major diameter, to the "
        "cross-hole."
    )
    yield "Break sharp edges, those of the cross-hole and tappings above all (common practice)."


def _folded(text: str, width: float) -> Iterator[str]:
    """A text in lines no wider than so many mm of paper."""
    line = ""
    for word in text.split():
        longer = f"{line} {word}".strip()
        if line and text_width(longer, SMALL) > width:
            yield line
            longer = word
        line = longer
    yield line


def _square(middle: Point, size: float, corner: float) -> tuple[Point, ...]:
    """Corners of a square about a point, rounded."""
    x, y = middle
    inner = size / 2 - corner
    if corner <= 0:
        quarters = ((1, 1), (-1, 1), (-1, -1), (1, -1), (1, 1))
        return tuple((x + inner * a, y + inner * b) for a, b in quarters)
    found = []
    for quarter, (a, b) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        for part in range(_CORNERS + 1):
            turn = pi / 2 * (quarter + part / _CORNERS)
            found.append((x + a * inner + corner * cos(turn), y + b * inner + corner * sin(turn)))
    return (*found, found[0])


def _cut_circle(
    centre: Point, radius: float, flats: Iterable[tuple[Flat, float]]
) -> Iterator[Mark]:
    """A section of the bar: a circle, or where it has flats the outline that they leave."""
    cut = {flat.side: height for flat, height in flats}
    if not cut:
        yield Round(centre, radius)
        return
    points = []
    for part in range(361):
        x, y = radius * cos(pi * part / 180), radius * sin(pi * part / 180)
        x = max(min(x, cut.get("trailing", radius)), -cut.get("leading", radius))
        y = max(min(y, cut.get("bit", radius)), -cut.get("back", radius))
        points.append((centre[0] + x, centre[1] + y))
    yield Stretch(tuple(points))


# --- files -----------------------------------------------------------------------------------


def write_bar_drawing(finished: Finished) -> tuple[str, str]:
    """Write `bar.svg` and `bar.dxf` into the finished folder; their names.

    Raises
    ------
    OSError
        One cannot be written.
    """
    drawing = bar_drawing(finished)
    (finished.folder / SVG).write_text(svg(on_paper(drawing), alone=True), encoding="utf-8")
    (finished.folder / DXF).write_text(dxf_text(drawing), encoding="utf-8", newline="\n")
    return SVG, DXF


def _reach(drawing: BarDrawing) -> tuple[float, float, float, float]:
    """Left, right, bottom and top of everything drawn, units of the drawing."""
    xs, ys = [], []
    for mark in drawing.marks:
        if isinstance(mark, Stretch):
            points = list(mark.points)
        elif isinstance(mark, Round):
            (x, y), r = mark.centre, mark.radius
            points = [(x - r, y - r), (x + r, y + r)]
        elif isinstance(mark, Size):
            points = [(mark.start[0], mark.at), (mark.end[0], mark.at)]
        else:
            wide = _WIDER * text_width(mark.text, SMALL) * drawing.paper
            points = [mark.at, (mark.at[0] + wide, mark.at[1] + _TEXT * drawing.paper)]
        xs += [x for x, _ in points]
        ys += [y for _, y in points]
    return min(xs), max(xs), min(ys), max(ys)


def on_paper(drawing: BarDrawing) -> Drawing:
    """The drawing in strokes on a sheet of its own size, mm."""
    left, right, bottom, top = _reach(drawing)
    margin = 6.0

    def place(point: Point) -> Point:
        return (
            margin + (point[0] - left) / drawing.paper,
            margin + 9.0 + (top - point[1]) / drawing.paper,
        )

    strokes: list[Stroke] = [
        Label(
            at=(margin, margin + 3.0),
            text=f"Bar for: {drawing.title}. Drawn {scale_words(drawing.scale)}, sizes in "
            f"{'inches' if drawing.inch else 'millimetres'}",
            points=9.5,
            bold=True,
        )
    ]
    for mark in drawing.marks:
        strokes += _strokes(mark, place, drawing)
    return Drawing(
        width=2 * margin + (right - left) / drawing.paper,
        height=2 * margin + 9.0 + (top - bottom) / drawing.paper,
        strokes=tuple(strokes),
        words=f"Drawing of the bar for {drawing.title}",
    )


_WEIGHTS = {"OUTLINE": 0.45, "HIDDEN": 0.22, "CENTRE": 0.15}
_DASHES = {"OUTLINE": (), "HIDDEN": (1.6, 0.9), "CENTRE": (4.0, 0.8, 0.7, 0.8)}


def _strokes(mark: Mark, place: Any, drawing: BarDrawing) -> list[Stroke]:
    if isinstance(mark, Stretch):
        return [
            Line(
                points=tuple(place(point) for point in mark.points),
                weight=_WEIGHTS[mark.layer],
                dash=_DASHES[mark.layer],
            )
        ]
    if isinstance(mark, Round):
        return [
            Circle(
                centre=place(mark.centre),
                radius=mark.radius / drawing.paper,
                weight=_WEIGHTS[mark.layer],
                dash=_DASHES[mark.layer],
            )
        ]
    if isinstance(mark, Note):
        words: list[Stroke] = [Label(at=place(mark.at), text=mark.text)]
        if mark.to is not None:
            near = (mark.at[0] - 0.6 * drawing.paper, mark.at[1] - 0.4 * drawing.paper)
            words.append(Line(points=(place(near), place(mark.to)), weight=0.15))
        return words
    return _size_strokes(mark, place, drawing)


def _size_strokes(size: Size, place: Any, drawing: BarDrawing) -> list[Stroke]:
    a, b = sorted((size.start, size.end))
    (x1, y), (x2, _) = place((a[0], size.at)), place((b[0], size.at))
    text = size_words((b[0] - a[0]) / size.larger, inch=drawing.inch)
    found: list[Stroke] = [Line(points=((x1, y), (x2, y)), weight=0.15)]
    inside = text_width(text, SMALL) < x2 - x1 - 6.0
    for (x, from_y), way in (((x1, place(a)[1]), 1.0), ((x2, place(b)[1]), -1.0)):
        found.append(Line(points=((x, from_y + 0.8), (x, y + 1.2)), weight=0.12))
        out = way if inside else -way
        tip = ((x, y), (x + out * 2.2, y - 0.5), (x + out * 2.2, y + 0.5))
        found.append(Line(points=tip, closed=True, fill=0.0, weight=0.05))
    at = ((x1 + x2) / 2, y - 0.8) if inside else (x1 - 3.0, y + 1.0)
    found.append(Label(at=at, text=text, anchor="middle" if inside else "end"))
    return found


def size_words(length: float, *, inch: bool) -> str:
    """A length of the drawing as its dimension says it: no false digits, no needless noughts.

    Examples
    --------
    >>> size_words(235.0, inch=False), size_words(0.1875, inch=True)
    ('235', '0.1875')
    """
    text = f"{length:.4f}" if inch else f"{length:.3f}"
    return text.rstrip("0").rstrip(".")


def dxf_text(drawing: BarDrawing) -> str:
    """The drawing as the text of a DXF file (R2010); the same drawing gives the same text."""
    import ezdxf
    from ezdxf import options

    kept = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        document: Any = ezdxf.new("R2010", setup=["linetypes"], units=1 if drawing.inch else 4)
        _styled(document, drawing)
        space = document.modelspace()
        for mark in drawing.marks:
            _put(space, mark, drawing)
        for kind in sorted(document.entitydb.dxf_types_in_use()):  # ezdxf takes them from a set
            document.classes.add_class(kind)
        stream = StringIO()
        document.write(stream)
    finally:
        options.write_fixed_meta_data_for_testing = kept
    return stream.getvalue()


def _styled(document: Any, drawing: BarDrawing) -> None:
    """Layers, line types and the style of the dimensions."""
    document.header["$MEASUREMENT"] = 0 if drawing.inch else 1
    document.header["$LTSCALE"] = drawing.paper * (1.0 if drawing.inch else 0.4)
    kinds = {"OUTLINE": ("Continuous", 50), "HIDDEN": ("DASHED", 25), "CENTRE": ("CENTER", 18)}
    kinds |= {"SIZES": ("Continuous", 18), "WORDS": ("Continuous", 18)}
    for name, (linetype, weight) in kinds.items():
        document.layers.add(name, linetype=linetype, lineweight=weight)
    style = document.dimstyles.duplicate_entry("Standard", "BAR")
    height = _TEXT * drawing.paper
    style.dxf.dimtxt, style.dxf.dimasz = height, height
    style.dxf.dimexo, style.dxf.dimexe, style.dxf.dimgap = (
        0.8 * drawing.paper,
        1.2 * drawing.paper,
        0.6 * drawing.paper,
    )
    style.dxf.dimtad, style.dxf.dimtih, style.dxf.dimtoh = 1, 0, 0
    style.dxf.dimdec, style.dxf.dimzin, style.dxf.dimdsep = (4 if drawing.inch else 3), 8, 46


def _put(space: Any, mark: Mark, drawing: BarDrawing) -> None:
    if isinstance(mark, Stretch):
        space.add_lwpolyline(mark.points, dxfattribs={"layer": mark.layer})
    elif isinstance(mark, Round):
        space.add_circle(mark.centre, mark.radius, dxfattribs={"layer": mark.layer})
    elif isinstance(mark, Note):
        height = _TEXT * drawing.paper
        words = {"layer": "WORDS", "height": height, "insert": mark.at}
        space.add_text(printable(mark.text), dxfattribs=words)
        if mark.to is not None and hypot(mark.at[0] - mark.to[0], mark.at[1] - mark.to[1]) > 0:
            space.add_line(mark.at, mark.to, dxfattribs={"layer": "WORDS"})
    else:
        size = space.add_linear_dim(
            base=(mark.start[0], mark.at),
            p1=mark.start,
            p2=mark.end,
            dimstyle="BAR",
            override={"dimlfac": 1.0 / mark.larger},
            dxfattribs={"layer": "SIZES"},
        )
        size.render()
