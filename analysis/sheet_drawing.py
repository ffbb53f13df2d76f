"""The set-up and the end view of a sheet: in line, to scale, dimensioned; no solving, no colour.

Bar, bit, hole, bore and stations are the case's own; supports are drawn simply, in proportion to
the bar (see `parts`). Paper millimetres run to the right and down.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from math import asin, cos, hypot, inf, isfinite, radians, sin, sqrt

from .case import Case
from .finished import Finished, bar_pieces, start_radius
from .label_places import spread, within
from .lettering import POINT, text_width
from .parts import Part, Turned, bit_outline, support_parts, work_outside
from .sheet_blocks import MAIN, SMALL, Anchor, Circle, Drawing, Label, Line, Point, Stroke
from .support import AnySupport, Chuck, Collet, DogCentre
from .units import said, shop_size, show

_LARGER = (10.0, 5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.25, 1.0)
_SMALLER = (1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 6.0, 7.0, 8.0, 10.0, 15.0, 20.0)
SCALES = (*_LARGER, *(1 / s for s in _SMALLER))
"""Scales that a drawing may have; in between is for nobody's rule."""
_THICK, _THIN = 0.45, 0.18
_DASH, _CHAIN = (1.6, 0.9), (3.0, 0.8, 0.6, 0.8)
_ROW = 5.2
"""From one row of dimensions to the next, mm."""
_CAPTION = 4.2
"""Height of a view's caption, mm."""
_CAP = 1.15
"""Chucks and plates are drawn no larger than so many times the work."""


def scale_words(scale: float) -> str:
    """A scale as a drawing has it.

    Examples
    --------
    >>> scale_words(2.0), scale_words(0.4), scale_words(1.0)
    ('2 : 1', '1 : 2.5', '1 : 1')
    """
    return f"{scale:.3g} : 1" if scale >= 1 else f"1 : {1 / scale:.3g}"


def _fitting(largest: float) -> float:
    """Largest of `SCALES` not above a scale; that scale itself below all of them."""
    return next((scale for scale in SCALES if scale <= largest * (1 + 1e-9)), largest)


# --- what is drawn where ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Travel:
    """Where the bore stands before and after a pass, run in and out, m along the bar.

    Attributes
    ----------
    start, end : first and last station of the bore before and after the pass
    past : how far the casting reaches past the bore on the drive side and on the tail side
    room : free bar left between the work and what stands nearest on the drive side and on the
        tail side; less than nothing where they meet
    known : whether the length of the bore is given
    """

    start: tuple[float, float]
    end: tuple[float, float]
    past: tuple[float, float]
    room: tuple[float, float]
    known: bool

    @property
    def length(self) -> float:
        """How far the carriage must go, m."""
        return abs(self.start[0] - self.end[0])


def travel_of(case: Case) -> Travel:
    """Work at both ends of its travel; one and a half bores long where no length is given."""
    length = case.work.length or 1.5 * case.work.bore.nominal
    bit, clear = case.cross_hole.position, case.bit.size / 2
    towards_head = case.cut.feed_towards == "headstock"
    work = case.work
    past = (float(work.beyond_head), float(work.beyond_tail))
    at_head, at_tail = float(work.run_out), float(work.run_in)
    if not towards_head:
        at_head, at_tail = at_tail, at_head
    head = (bit - clear - at_head - length, bit - clear - at_head)
    tail = (bit + clear + at_tail, bit + clear + at_tail + length)
    low, high = _free_bar(case)
    return Travel(
        start=tail if towards_head else head,
        end=head if towards_head else tail,
        past=past,
        room=(head[0] - past[0] - low, high - tail[1] - past[1]),
        known=case.work.length is not None,
    )


def _free_bar(case: Case) -> tuple[float, float]:
    """Stations between which nothing stands round the bar, about the bit, m."""
    bit = case.cross_hole.position
    low, high = case.ends
    for _, support, station in case.placed_supports:
        first, last = (station + end for end in support.contact)
        if isinstance(support, DogCentre):
            # A dog is clamped at its middle, so it takes twice that of the bar.
            last = 2 * support.dog_position
        if station < bit:
            low = max(low, last)
        else:
            high = min(high, first)
    return low, high


# --- the side view ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _View:
    """Turns stations and radii, m, into paper, mm."""

    left: float
    axis: float
    scale: float

    def at(self, x: float, r: float) -> Point:
        return self.left + 1e3 * self.scale * x, self.axis - 1e3 * self.scale * r

    def x(self, station: float) -> float:
        return self.at(station, 0.0)[0]

    def mm(self, length: float) -> float:
        return 1e3 * self.scale * length


def side_view(finished: Finished, width: float, height: float) -> Drawing:
    """Bar, supports, bit and the work at both ends of its travel, dimensioned.

    Parameters
    ----------
    width, height : mm of paper at most; the drawing is no higher than it must be
    """
    case, travel = finished.case, travel_of(finished.case)
    placed = [(one, _capped(parts, case)) for one, parts in support_parts(case)]
    first, last, outside = _extent(case, [part for _, parts in placed for part in parts], travel)
    above, below = _ROW + 4.4, 2 * _ROW + 4.2
    scale = _fitting(
        min(1e-3 * width / (last - first), 1e-3 * (height - above - below) / (2 * outside))
    )
    tall = 2e3 * scale * outside
    left = (width - 1e3 * scale * (last - first)) / 2 - 1e3 * scale * first
    view = _View(left, above + tall / 2, scale)
    strokes: list[Stroke] = []
    for _, parts in placed:
        strokes += [stroke for part in parts for stroke in _part(view, part)]
    strokes += _bar(view, case)
    strokes += _work(view, finished, travel)
    strokes += _bit(view, case)
    strokes += _axis(view, first, last)
    strokes += _travel_row(view, finished, travel, above - 1.2)
    floor = above + tall
    strokes += _stations(view, finished, floor + 3.4 + _ROW)
    strokes += _names(view, placed, travel, floor + 2.9, width)
    strokes.append(
        Label(at=(0.0, 2.6), text=_side_caption(finished, travel, scale, width), bold=True)
    )
    return Drawing(
        width=width, height=floor + below, strokes=tuple(strokes), words=_side_words(finished)
    )


def screw_names(finished: Finished) -> list[str]:
    """Each set screw of the bit by its thread, as the run named it, or by its diameter."""
    held = finished.summary.get("holding", {})
    unknown = held.get("screws_not_in_table_m", ())
    names = iter([one["name"] for one in held.get("screws", ())])
    found = []
    for screw in finished.case.cross_hole.set_screws:
        plain = shop_size(screw.diameter, finished.system)
        strange = any(abs(screw.diameter - other) < 1e-9 for other in unknown)
        found.append(plain if strange else next(names, plain))
    return found


def bore_now(finished: Finished) -> float:
    """Diameter of the bore before the first pass, m: the job's, where the case was planned."""
    planned = finished.plan.get("job", {}).get("start_bore_m")
    return 2 * start_radius(finished.case) if planned is None else float(planned)


def _side_caption(finished: Finished, travel: Travel, scale: float, width: float) -> str:
    """Scale, travel and the room beyond it, as much of it as there is room for."""
    seen = f"Set-up from the front, drawn {scale_words(scale)}"
    if not travel.known:
        return f"{seen}. Length of the bore not given, so the travel is not known"
    head, tail = (_about(finished, room) for room in travel.room)
    travels = f"Carriage travel at least {finished.say(travel.length)}"
    free = f"free at its ends {head} (head), {tail} (tail)"
    clear = "" if finished.case.work.run_out else ", bit just clear"
    texts = (f"{seen}. {travels}{clear}; {free}", f"{seen}. {travels}; {free}", seen)
    return next((t for t in texts if text_width(t, SMALL, bold=True) <= width), seen)


def _about(finished: Finished, length: float) -> str:
    """A length in own units to 0.1 mm or 0.01 in, for room that nobody sets closer."""
    step = 1e-4 if finished.system == "mm" else 0.000254
    return show(round(length / step) * step, "length", finished.system)


def _side_words(finished: Finished) -> str:
    case, say = finished.case, finished.say
    return (
        f"Set-up to scale: bar {say(case.bar.diameter)} on a span of {say(case.bar.span)}, bit at "
        f"{say(case.cross_hole.position)} from the drive support, work at both ends of its travel"
    )


def _capped(parts: Sequence[Part], case: Case) -> list[Part]:
    """Parts of a support, none larger than the paper can spare."""
    most = _CAP * max(work_outside(case), case.edge_radius)
    found: list[Part] = []
    for part in parts:
        if isinstance(part, Turned):
            profile = tuple((x, min(r, most)) for x, r in part.profile)
            found.append(replace(part, profile=profile))
        else:
            low, high = part.r
            found.append(replace(part, r=(min(low, 0.8 * most), min(high, most))))
    return found


def _extent(case: Case, parts: Sequence[Part], travel: Travel) -> tuple[float, float, float]:
    """First and last station and largest radius that are drawn, m."""
    first, last = travel.past
    reach = [(a - first, b + last) for a, b in (travel.start, travel.end)]
    xs = [*case.ends, *reach[0], *reach[1]]
    rs = [case.bar.diameter / 2, work_outside(case), case.edge_radius]
    for part in parts:
        outline = part.profile if isinstance(part, Turned) else ((part.x[0], 0), (part.x[1], 0))
        xs += [x for x, _ in outline]
        rs += [abs(r) for _, r in part.profile] if isinstance(part, Turned) else map(abs, part.r)
    return min(xs), max(xs), max(rs)


def _part(view: _View, part: Part) -> list[Stroke]:
    """A support's part as it is cut through the middle: above and below the axis."""
    if isinstance(part, Turned):
        return [
            _shape([view.at(x, side * r) for x, r in part.profile], fill=0.9) for side in (1, -1)
        ]
    if part.angle not in (0.0, 180.0):
        return []
    # Three jaws or pads are drawn as if there were two, one above and one below.
    sides = (1, -1) if part.angle == 0.0 else (-1,)
    (a, b), (low, high) = part.x, part.r
    corners = ((a, low), (b, low), (b, high), (a, high))
    return [_shape([view.at(x, side * r) for x, r in corners], fill=0.75) for side in sides]


def _shape(points: Iterable[Point], *, fill: float | None = None, weight: float = _THIN) -> Line:
    return Line(points=tuple(points), closed=True, fill=fill, weight=weight)


def _bar(view: _View, case: Case) -> list[Stroke]:
    pieces = bar_pieces(case)
    top = [(x, d / 2) for start, end, d in pieces for x in (start, end)]
    outline = [*top, *((x, -r) for x, r in reversed(top))]
    return [_shape([view.at(x, r) for x, r in outline], fill=1.0, weight=_THICK)]


def _bit(view: _View, case: Case) -> list[Stroke]:
    """The cross-holes dashed, and the bit in the one that cuts."""
    half, hole = case.bit.size / 2, case.cross_hole
    tip, back = case.edge_radius, case.edge_radius - case.bit_length
    x = hole.position
    corners = ((x - half, back), (x + half, back), (x + half, tip), (x - half, tip))
    walls = (
        wall
        for one in (hole, *case.bar.other_holes)
        for wall in _walls(view, case, one.position, one.size)
    )
    return [*walls, _shape([view.at(*corner) for corner in corners], fill=0.25)]


def _walls(view: _View, case: Case, position: float, size: float) -> list[Stroke]:
    radius = case.bar_diameter(position) / 2
    return [
        Line(points=(view.at(wall, radius), view.at(wall, -radius)), weight=_THIN, dash=_DASH)
        for wall in (position - size / 2, position + size / 2)
    ]


def _axis(view: _View, first: float, last: float) -> list[Stroke]:
    ends = (view.at(first, 0.0), view.at(last, 0.0))
    return [Line(points=ends, weight=0.13, dash=_CHAIN)]


def _work(view: _View, finished: Finished, travel: Travel) -> list[Stroke]:
    """The walls of the work cut open: whole lines where it starts, dashed where it ends."""
    case = finished.case
    outside, found = work_outside(case), list[Stroke]()
    old, new = bore_now(finished) / 2, case.work.bore.nominal / 2
    for (first, last), bore, dash in ((travel.start, old, ()), (travel.end, new, _DASH)):
        for side in (1, -1):
            (a, top), (b, bottom) = view.at(first, side * outside), view.at(last, side * bore)
            low, high = min(top, bottom), max(top, bottom)
            found += _hatch(a, low, b, high, 2.4 if dash else 1.5)
            corners = ((a, low), (b, low), (b, high), (a, high))
            found.append(Line(points=corners, closed=True, dash=dash, weight=0.25))
            # What reaches past the bore, of which only the length is known: outline alone.
            for edge, past, way in ((first, travel.past[0], -1), (last, travel.past[1], 1)):
                if past > 0:
                    x, end = view.x(edge), view.x(edge + way * past)
                    box = ((x, low), (end, low), (end, high), (x, high))
                    found.append(Line(points=box, dash=dash or (0.6, 0.5), weight=0.18))
    return found


def _hatch(left: float, top: float, right: float, bottom: float, gap: float) -> list[Stroke]:
    """Lines at 45 degrees across a box, `gap` apart along its edge."""
    found: list[Stroke] = []
    tall = bottom - top
    start = left - tall + gap
    while start < right:
        a, b = max(start, left), min(start + tall, right)
        points = ((a, bottom - (a - start)), (b, bottom - (b - start)))
        found.append(Line(points=points, weight=0.1, grey=0.35))
        start += gap
    return found


def _names(
    view: _View,
    placed: Sequence[tuple[AnySupport, list[Part]]],
    travel: Travel,
    base: float,
    width: float,
) -> list[Stroke]:
    """What each support is, and which work is which, in a row below them."""
    names: list[tuple[float, str]] = []
    for support, parts in placed:
        stations = [x for part in parts for x in _stations_of(part)]
        names.append((view.x((min(stations) + max(stations)) / 2), support.kind))
    for word, (first, last) in (("start", travel.start), ("end", travel.end)):
        names.append((view.x((first + last) / 2), f"{word} of pass"))
    widths = [text_width(text, SMALL) + 3.0 for _, text in names]
    places = within(spread([x for x, _ in names], widths), widths, 0.0, width)
    return [
        stroke
        for x, (_, text) in zip(places, names, strict=True)
        for stroke in _backed(Label(at=(x, base), text=text, points=SMALL, anchor="middle"))
    ]


def _backed(label: Label) -> list[Stroke]:
    """A label on white, so that no line runs through it."""
    (x, y), wide = label.at, text_width(label.text, label.points, bold=label.bold) / 2 + 0.5
    tall = 0.8 * label.points * POINT
    left, right, top, bottom = x - wide, x + wide, y - tall, y + 0.7
    corners = ((left, bottom), (right, bottom), (right, top), (left, top))
    return [Line(points=corners, closed=True, fill=1.0, grey=1.0, weight=0.0), label]


def _stations_of(part: Part) -> list[float]:
    return [x for x, _ in part.profile] if isinstance(part, Turned) else list(part.x)


# --- dimensions ------------------------------------------------------------------------------


def _arrow(tip: Point, way: tuple[float, float]) -> Line:
    """A filled arrow head at `tip`, pointing along the unit vector `way`."""
    (x, y), (dx, dy) = tip, way
    back = (x - 1.9 * dx, y - 1.9 * dy)
    points = (tip, (back[0] - 0.42 * dy, back[1] + 0.42 * dx))
    return Line(
        points=(*points, (back[0] + 0.42 * dy, back[1] - 0.42 * dx)),
        closed=True,
        fill=0.0,
        weight=0.05,
    )


def _dimension(a: float, b: float, y: float, texts: Sequence[str]) -> list[Stroke]:
    """A dimension from `a` to `b` at height `y` with the first of `texts` that has room in it."""
    low, high = min(a, b), max(a, b)
    room = high - low - 5.0
    found: list[Stroke] = []
    fits = next((text for text in texts if text_width(text, MAIN - 0.5) <= room), None)
    if high - low > 5.0:
        found += [
            Line(points=((low, y), (high, y)), weight=0.15),
            _arrow((low, y), (-1.0, 0.0)),
            _arrow((high, y), (1.0, 0.0)),
        ]
    else:
        found += [
            Line(points=((low - 4.0, y), (high + 4.0, y)), weight=0.15),
            _arrow((low, y), (1.0, 0.0)),
            _arrow((high, y), (-1.0, 0.0)),
        ]
    if fits is not None:
        found.append(_on_line(((low + high) / 2, y), fits))
    return found


def _on_line(at: Point, text: str) -> Label:
    """A dimension's words just above its line."""
    return Label(at=(at[0], at[1] - 0.7), text=text, points=MAIN - 0.5, anchor="middle", bold=True)


def _rise(x: float, top: float, bottom: float) -> Line:
    """An extension line from a part to its dimension."""
    return Line(points=((x, top), (x, bottom)), weight=0.13, grey=0.3)


def _texts(finished: Finished, length: float, before: str = "", after: str = "") -> list[str]:
    """A dimension in words, the longest first."""
    own = show(length, "length", finished.system)
    both = finished.say(length)
    lead, tail = f"{before} " if before else "", f" {after}" if after else ""
    return [f"{lead}{both}{tail}", f"{lead}{own}{tail}", f"{lead}{own}", own]


def _stations(view: _View, finished: Finished, y: float) -> list[Stroke]:
    """Where the bit is and how long the span, in two rows below the set-up."""
    case = finished.case
    bit, span = case.cross_hole.position, case.bar.span
    zero = "jaw face" if isinstance(case.supports.drive, (Chuck, Collet)) else "headstock centre"
    a, b, c = view.x(0.0), view.x(bit), view.x(span)
    first, last = case.ends
    found: list[Stroke] = [
        _rise(a, view.axis, y + _ROW + 0.6),
        _rise(b, view.axis, y + 0.6),
        _rise(c, view.axis, y + _ROW + 0.6),
        *_dimension(a, b, y, _texts(finished, bit, "bit", f"from the {zero}")),
        *_dimension(b, c, y, _texts(finished, span - bit)),
    ]
    word = "span" if case.supports.tail is not None else "sticks out"
    found += _dimension(a, c, y + _ROW, _texts(finished, span, word))
    for end, inner in ((first, 0.0), (last, span)):
        if abs(end - inner) > 1e-6:
            found += _overhang(view, finished, end, inner, y + _ROW)
    return found


def _overhang(view: _View, finished: Finished, end: float, inner: float, y: float) -> list[Stroke]:
    """Bar beyond a support, dimensioned in the row of the span; its words outside if too short."""
    a, b = view.x(end), view.x(inner)
    texts = _texts(finished, abs(end - inner))
    found: list[Stroke] = [_rise(a, view.axis, y + 0.6), *_dimension(a, b, y, texts)]
    if text_width(texts[-1], MAIN - 0.5) > abs(a - b) - 5.0:
        anchor: Anchor = "start" if end < inner else "end"
        gap = 5.0 if abs(a - b) <= 5.0 else 1.2
        x = min(a, b) - gap if end < inner else max(a, b) + gap
        wide = text_width(texts[-1], MAIN - 0.5)
        at = x - wide if end < inner else x + wide
        found.append(
            Label(at=(at, y + 0.7), text=texts[-1], points=MAIN - 0.5, anchor=anchor, bold=True)
        )
    return found


def _travel_row(view: _View, finished: Finished, travel: Travel, y: float) -> list[Stroke]:
    """How far the carriage goes, and what room is left at either end, above the set-up."""
    if not travel.known:
        return []
    a, b = view.x(travel.start[0]), view.x(travel.end[0])
    top = view.at(0.0, work_outside(finished.case))[1]
    found: list[Stroke] = [
        _rise(a, top, y - 0.8),
        _rise(b, top, y - 0.8),
        Line(points=((a, y), (b, y)), weight=0.35),
        _arrow((b, y), (1.0 if b > a else -1.0, 0.0)),
        Circle(centre=(a, y), radius=0.5, fill=0.0),
    ]
    texts = _texts(finished, travel.length, "travel")
    # Words stand well within their line; the bare figure, above it, may be as long as the line.
    rooms = [abs(a - b) - (0.8 if text is texts[-1] else 3.0) for text in texts]
    widths = [text_width(text, MAIN - 0.5) for text in texts]
    fits = next((t for t, w, room in zip(texts, widths, rooms, strict=True) if w <= room), None)
    if fits is not None:
        found.append(_on_line(((a + b) / 2, y), fits))
    return [*found, *_rooms(view, finished, travel, y)]


def _rooms(view: _View, finished: Finished, travel: Travel, y: float) -> list[Stroke]:
    """Room between the work and what stands nearest at each end of the travel."""
    low = min(travel.start[0], travel.end[0]) - travel.past[0]
    high = max(travel.start[1], travel.end[1]) + travel.past[1]
    found: list[Stroke] = []
    top = view.at(0.0, work_outside(finished.case))[1]
    for edge, room, way in ((low, travel.room[0], -1.0), (high, travel.room[1], 1.0)):
        a, b = view.x(edge), view.x(edge + way * room)
        if room <= 0:
            anchor: Anchor = "end" if way < 0 else "start"
            text = f"MEETS by {show(-room, 'length', finished.system)}"
            found.append(Label(at=(a, y), text=text, points=MAIN, anchor=anchor, bold=True))
            continue
        texts = [f"{_about(finished, room)} free", _about(finished, room)]
        found += [_rise(a, top, y - 0.8), _rise(b, view.axis, y - 0.8)]
        found += _dimension(a, b, y, texts)
        if text_width(texts[-1], MAIN - 0.5) > abs(a - b) - 5.0:
            side: Anchor = "end" if way < 0 else "start"
            out = b + way * (5.0 if abs(a - b) <= 5.0 else 1.2)
            found.append(
                Label(at=(out, y + 1.0), text=texts[0], points=SMALL, anchor=side, bold=True)
            )
    return found


_Place = Callable[[float, float], Point]
"""Where a point of the end view, m from the centre line, lies on the paper, mm."""


# --- the end view ----------------------------------------------------------------------------


def end_view(finished: Finished, width: float, height: float) -> Drawing:
    """Bar, bit and bore cut across at the bit, seen from the tail end, bit straight up.

    Parameters
    ----------
    width, height : mm of paper
    """
    case = finished.case
    bore = case.work.bore.nominal / 2
    outside = max(bore, case.edge_radius) * 1.16
    notes_width = 2.0 + max(
        text_width(line, SMALL) for _, lines in _notes(finished) for line in lines
    )
    room = min(height - 6.5, width - notes_width - 18.0)
    scale = _fitting(1e-3 * room / (2 * outside))
    paper = 1e3 * scale
    middle = (14.0 + paper * outside, 5.0 + (height - 5.0) / 2)

    def at(x: float, y: float) -> Point:
        return middle[0] + paper * x, middle[1] - paper * y

    strokes: list[Stroke] = [
        *_ring(middle, paper * bore, paper * outside),
        Circle(centre=middle, radius=paper * bore_now(finished) / 2, dash=_DASH, weight=0.2),
        *_cross(middle, paper * outside + 1.5),
        *_section(finished, at, paper),
        *_turning(middle, paper * outside + 1.4),
        *_micrometer(finished, at, 9.5),
        *_callouts(finished, at, outside, (width - notes_width + 1.0, height)),
        Label(
            at=(0.0, 2.6),
            text=f"Seen from the tail end, bit straight up, drawn {scale_words(scale)}",
            bold=True,
        ),
    ]
    return Drawing(width=width, height=height, strokes=tuple(strokes), words=_end_words(finished))


def _end_words(finished: Finished) -> str:
    case, say = finished.case, finished.say
    return (
        f"End view to scale: bar {say(case.bar_diameter(case.cross_hole.position))}, bit "
        f"{say(case.bit.size)} sticking out {say(case.projection)}, "
        f"bore {said(case.work.bore, 'fit', finished.system)}"
    )


def _arc(middle: Point, radius: float, first: float, last: float) -> tuple[Point, ...]:
    """Points of an arc between two angles, degrees against the clock from the right."""
    count = max(8, int(abs(last - first) / 4))
    angles = (radians(first + (last - first) * k / count) for k in range(count + 1))
    return tuple((middle[0] + radius * cos(a), middle[1] - radius * sin(a)) for a in angles)


def _ring(middle: Point, inner: float, outer: float) -> list[Stroke]:
    """The wall of the work, hatched, and the finished bore."""
    found: list[Stroke] = []
    gap = 1.8
    offset = -outer + gap
    while offset < outer:  # lines along (1, 1)/sqrt 2 at `offset` from the middle
        far = sqrt(outer**2 - offset**2)
        near = sqrt(inner**2 - offset**2) if abs(offset) < inner else 0.0
        for a, b in ((-far, -near), (near, far)):
            ends = tuple(
                (
                    middle[0] + (s + offset) / sqrt(2),
                    middle[1] - (s - offset) / sqrt(2),
                )
                for s in (a, b)
            )
            found.append(Line(points=ends, weight=0.1, grey=0.35))
        offset += gap
    return [*found, Circle(centre=middle, radius=inner, weight=_THICK)]


def _cross(middle: Point, reach: float) -> list[Stroke]:
    (x, y) = middle
    ends = (((x - reach, y), (x + reach, y)), ((x, y - reach), (x, y + reach)))
    return [Line(points=pair, weight=0.13, dash=_CHAIN) for pair in ends]


def _section(finished: Finished, at: _Place, paper: float) -> list[Stroke]:
    """The bar cut through the hole, its screws dashed, the bit dark."""
    case = finished.case
    hole, radius = case.cross_hole, case.bar_diameter(case.cross_hole.position) / 2
    middle = at(0.0, 0.0)
    found: list[Stroke] = [
        Circle(centre=middle, radius=paper * radius, weight=_THICK, fill=0.86),
    ]
    left, right = -hole.middle - hole.size / 2, -hole.middle + hole.size / 2
    tops = [sqrt(max(radius**2 - x**2, 0.0)) for x in (left, right)]
    slot = ((left, -tops[0]), (left, tops[0]), (right, tops[1]), (right, -tops[1]))
    found.append(_shape([at(*corner) for corner in slot], fill=1.0))
    for screw in hole.set_screws:
        way = -1.0 if screw.side == "leading" else 1.0
        inner, half = -hole.middle + way * hole.size / 2, screw.diameter / 2
        outer = way * radius * cos(asin(min(1.0, half / radius)))
        box = ((inner, -half), (inner, half), (outer, half), (outer, -half))
        found.append(Line(points=tuple(at(*c) for c in box), closed=True, fill=0.97, dash=_DASH))
    found.append(_shape([at(*corner) for corner in bit_outline(case)], fill=0.25))
    return found


def _turning(middle: Point, radius: float) -> list[Stroke]:
    """Which way the bar turns: against the clock, seen from the tail end."""
    arc = _arc(middle, radius, 110.0, 140.0)
    a, b = arc[-2], arc[-1]
    long = hypot(b[0] - a[0], b[1] - a[1])
    head = _arrow(b, ((b[0] - a[0]) / long, (b[1] - a[1]) / long))
    return [Line(points=arc, weight=0.4), head]


def _micrometer(finished: Finished, at: _Place, x: float) -> list[Stroke]:
    """The micrometer over bit and bar, dimensioned to the left of the work."""
    case = finished.case
    top, bottom = at(0.0, case.edge_radius), at(0.0, -case.surface_radius("back"))
    words, middle = reading_words(finished), (top[1] + bottom[1]) / 2
    return [
        Line(points=((x - 1.0, top[1]), top), weight=0.13, grey=0.3),
        Line(points=((x - 1.0, bottom[1]), bottom), weight=0.13, grey=0.3),
        Line(points=((x, top[1]), (x, bottom[1])), weight=0.25),
        _arrow((x, top[1]), (0.0, -1.0)),
        _arrow((x, bottom[1]), (0.0, 1.0)),
        _upright((x - 0.9, middle), words[0], MAIN, bold=True),
        _upright((x - 4.6, middle), words[1], SMALL, bold=False),
    ]


def _upright(at: Point, text: str, points: float, *, bold: bool) -> Label:
    """Words read from the right."""
    return Label(at=at, text=text, points=points, anchor="middle", bold=bold, angle=90.0)


def last_reading(finished: Finished) -> float:
    """Micrometer over bit and bar for the last planned pass, m; inf if none is planned."""
    planned = finished.summary.get("passes", {}).get("passes", ())
    return float(planned[-1]["micrometer_reading_m"]) if planned else inf


def reading_words(finished: Finished) -> tuple[str, str]:
    """What the micrometer shows over bit and bar, and when."""
    reading = last_reading(finished)
    if isfinite(reading):
        return show(reading, "length", finished.system), "micrometer, last pass"
    size = finished.case.edge_radius + finished.case.surface_radius("back")
    return show(size, "length", finished.system), "micrometer over bit and bar"


def _notes(finished: Finished) -> list[tuple[Point, tuple[str, ...]]]:
    """Point, m, and words of each note of the end view."""
    case = finished.case
    hole, bit = case.cross_hole, case.bit
    radius = case.bar_diameter(hole.position) / 2
    bore, start = case.work.bore.nominal / 2, bore_now(finished) / 2
    gap, right = start - radius, -hole.middle + bit.size / 2

    def own(value: float) -> str:
        return show(value, "length", finished.system)

    def shop(value: float) -> str:
        return shop_size(value, finished.system)

    notes: list[tuple[Point, tuple[str, ...]]] = [
        (_polar(bore, 50), (f"bore {show(case.work.bore, 'fit', finished.system)}",)),
        (_polar(start, 33), (f"bore now {own(2 * start)}",)),
        (_polar((start + radius) / 2, 14), (f"chip gap {_about(finished, gap)}",)),
        (_polar(radius, -24), (f"bar {own(2 * radius)}",)),
        (
            (right - 0.2 * bit.size, radius + 0.55 * max(case.projection, 0.0)),
            (f"bit {shop(bit.size)}, out {own(case.projection)}",),
        ),
        ((-hole.middle + hole.size / 2, -0.66 * radius), _hole_words(finished)),
    ]
    for side, way in (("leading", -1.0), ("trailing", 1.0)):
        screws = zip(hole.set_screws, screw_names(finished), strict=True)
        here = [(screw.diameter, name) for screw, name in screws if screw.side == side]
        if here:
            count = "set screw" if len(here) == 1 else f"{len(here)} screws"
            named = ", ".join(dict.fromkeys(name for _, name in sorted(here)))
            point = (way * 0.72 * radius, -0.3 * here[0][0])
            notes.append((point, (f"{count} {named}, {side} side",)))
    return notes


def _hole_words(finished: Finished) -> tuple[str, ...]:
    hole, system = finished.case.cross_hole, finished.system
    first = f"{hole.shape} hole {shop_size(hole.size, system)}"
    if abs(hole.middle) < 1e-9:
        return (first, "on the centre line")
    side = "leading" if hole.middle > 0 else "trailing"
    return (first, f"{show(abs(hole.middle), 'length', system)} to the {side} side")


def _polar(radius: float, degrees: float) -> Point:
    return radius * cos(radians(degrees)), radius * sin(radians(degrees))


def _callouts(
    finished: Finished, at: _Place, outside: float, corner: tuple[float, float]
) -> list[Stroke]:
    """Notes in a column on the right, each with a leader to what it measures."""
    left, height = corner
    pitch = SMALL * POINT * 1.15
    notes = sorted(
        ((at(*point), lines) for point, lines in _notes(finished)), key=lambda note: note[0][1]
    )
    spare = (height - _CAPTION) / len(notes) - pitch * sum(len(n) for _, n in notes) / len(notes)
    gaps = [pitch * len(lines) + min(1.3, max(0.0, spare)) for _, lines in notes]
    wanted = [point[1] for point, _ in notes]
    # The column may use the whole height: what stands there is only kept apart.
    places = within(spread(wanted, gaps), gaps, _CAPTION, height)
    found: list[Stroke] = []
    for (point, lines), place in zip(notes, places, strict=True):
        found += [
            Line(points=(point, (left - 3.5, place), (left - 1.0, place)), weight=0.13),
            Circle(centre=point, radius=0.45, fill=0.0, weight=0.05),
        ]
        base = place - pitch * (len(lines) - 1) / 2 + 0.34 * SMALL * POINT
        found += [
            Label(at=(left, base + pitch * k), text=text, points=SMALL)
            for k, text in enumerate(lines)
        ]
    return found
