"""Shapes of what stands on the lathe, for drawing the set-up: bar, supports, work, bit.

Only the bar, the bit, the hole, the bore and the stations are the case's own. Chucks, centres,
steadies and the outside of the work are drawn simply, in proportion to the bar.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import radians, sqrt, tan

from .case import Case
from .finished import bar_pieces, start_radius
from .support import AnySupport, Chuck, Collet, DogCentre

Profile = tuple[tuple[float, float], ...]

STEEL, IRON, DARK, CAST, BIT = "#cfd3d4", "#9a9fa1", "#7c8184", "#e2d6bb", "#3c3c3c"
_SLOPE = tan(radians(30.0))  # a 60 degree centre


@dataclass(frozen=True, slots=True)
class Turned:
    """A body turned about the bar's centre line.

    Attributes
    ----------
    profile : station and radius of each corner, m, on the outside and, coming back, the inside
    half : only the half behind the bit plane is drawn, as if cut open
    """

    profile: Profile
    colour: str
    half: bool = False


@dataclass(frozen=True, slots=True)
class Block:
    """A straight-sided body: x, r and t limits, m, turned about the centre line by an angle."""

    x: tuple[float, float]
    r: tuple[float, float]
    t: tuple[float, float]
    colour: str
    angle: float = 0.0


Part = Turned | Block


def parts_of(case: Case) -> list[Part]:
    """Everything that is drawn of a set-up."""
    supports = (part for _, parts in support_parts(case) for part in parts)
    return [_bar(case), *_bit(case), *_work(case), *supports]


def support_parts(case: Case) -> list[tuple[AnySupport, list[Part]]]:
    """Each support with its parts, in order along the bar."""
    found = []
    for name, support, station in case.placed_supports:
        towards = -1.0 if name == "drive" else 1.0
        if "centre" in support.kind:
            station = case.ends[0 if name == "drive" else 1]
        radius = case.bar_diameter(min(max(station, case.ends[0]), case.ends[1])) / 2
        parts = [_placed(part, station, towards) for part in _support(case, support, radius)]
        found.append((support, parts))
    return found


def reach(parts: list[Part]) -> tuple[float, float, float]:
    """First and last station and largest radius that the parts take, m."""
    stations, radii = [], []
    for part in parts:
        if isinstance(part, Turned):
            stations += [x for x, _ in part.profile]
            radii += [r for _, r in part.profile]
        else:
            stations += part.x
            radii += [abs(r) for r in part.r]
    return min(stations), max(stations), max(radii)


def work_ends(case: Case) -> tuple[float, float]:
    """Stations of the ends of the work with the bit half-way through it, m."""
    length = case.work.length or 1.5 * case.work.bore.nominal
    return case.cross_hole.position - length / 2, case.cross_hole.position + length / 2


def work_outside(case: Case) -> float:
    """Outer radius that the work is drawn with, m."""
    return 0.5 * case.work.bore.nominal * 1.4


def bit_outline(case: Case) -> tuple[tuple[float, float], ...]:
    """Corners of the bit seen from the tail end, bit straight up, m; leading side on the left.

    Its cutting face is on the left, the back of the tip is ground away.
    """
    tip, back = case.edge_radius, case.edge_radius - case.bit_length
    face = -case.cross_hole.middle - case.bit.size / 2
    heel = face + case.bit.size
    relief = min(0.2 * case.bit.size, 0.6 * max(case.projection, 0.0))
    edge = sqrt(max(tip**2 - face**2, 0.0)) if abs(face) < tip else tip
    return ((face, edge), (heel, edge - relief), (heel, back), (face, back))


def _placed(part: Part, station: float, towards: float) -> Part:
    """A part drawn outward from zero, put at its station, outward along x or against it."""
    if isinstance(part, Turned):
        profile = tuple((station + towards * x, r) for x, r in part.profile)
        return Turned(profile, part.colour, part.half)
    ends = sorted(station + towards * x for x in part.x)
    return Block((ends[0], ends[1]), part.r, part.t, part.colour, part.angle)


def _bar(case: Case) -> Turned:
    pieces = bar_pieces(case)
    outline = [(x, d / 2) for start, end, d in pieces for x in (start, end)]
    return Turned(((pieces[0][0], 0.0), *outline, (pieces[-1][1], 0.0)), STEEL)


def _bit(case: Case) -> list[Part]:
    half = case.bit.size / 2
    middle, across = case.cross_hole.position, case.cross_hole.middle
    tip, back = case.edge_radius, case.edge_radius - case.bit_length
    return [
        Block((middle - half, middle + half), (back, tip), (across - half, across + half), BIT)
    ]


def _work(case: Case) -> list[Part]:
    """The work cut open: bored where the bit has been, at its first size where it has not."""
    first, last = work_ends(case)
    middle, outside = case.cross_hole.position, work_outside(case)
    bored, rough = case.work.bore.nominal / 2, start_radius(case)
    if case.cut.feed_towards == "tailstock":
        bored, rough = rough, bored
    profile = (
        (first, bored),
        (first, outside),
        (last, outside),
        (last, rough),
        (middle, rough),
        (middle, bored),
        (first, bored),
    )
    return [Turned(profile, CAST, half=True)]


def _ring(start: float, end: float, inner: float, outer: float, colour: str) -> Turned:
    corners = ((start, inner), (start, outer), (end, outer), (end, inner), (start, inner))
    return Turned(corners, colour)


def _rod(start: float, end: float, radius: float, colour: str) -> Turned:
    return Turned(((start, 0.0), (start, radius), (end, radius), (end, 0.0)), colour)


def _support(case: Case, support: AnySupport, radius: float) -> list[Part]:
    """Parts of a support with the bar's end, or its land, at zero and outward positive."""
    if isinstance(support, Chuck):
        return _chuck(support, radius)
    if isinstance(support, Collet):
        return _collet(support, radius)
    if support.kind in ("steady", "bushing"):
        return _land(support.kind, max(getattr(support, "grip", 0.0), 0.3 * radius), radius)
    mouth = case.bar.centre_hole_diameter
    parts = _centre(support.kind, radius, mouth / 2 if mouth else radius / 4)
    if isinstance(support, DogCentre):
        parts += _dog(support.dog_position - case.ends[0], radius)
    return parts


def _chuck(support: Chuck, radius: float) -> list[Part]:
    grip, body = float(support.grip), 3.4 * radius
    behind = grip + 2.2 * radius
    jaws: list[Part] = [
        Block((0.0, grip), (radius, 2.8 * radius), (-0.55 * radius, 0.55 * radius), DARK, angle)
        for angle in (0.0, 120.0, 240.0)
    ]
    return [
        *jaws,
        _ring(grip, behind, radius, body, IRON),
        _rod(behind, behind + 1.6 * radius, 2.0 * radius, IRON),
    ]


def _collet(support: Collet, radius: float) -> list[Part]:
    grip = float(support.grip)
    nose = ((0.0, radius), (0.0, 1.6 * radius), (grip, 2.0 * radius), (grip, radius))
    return [
        Turned((*nose, (0.0, radius)), DARK),
        _rod(grip, grip + 3.0 * radius, 2.4 * radius, IRON),
    ]


def _centre(kind: str, radius: float, mouth: float) -> list[Part]:
    """A centre whose cone meets the bar's centre hole at zero."""
    shank = 1.0 * radius
    shoulder = (shank - mouth) / _SLOPE
    tip = -mouth / _SLOPE
    end = shoulder + 1.2 * radius
    cone = Turned(((tip, 0.0), (shoulder, shank), (end, shank), (end, 0.0)), STEEL)
    body = 1.7 * radius if kind == "live centre" else 1.25 * radius
    length = 2.6 * radius if kind == "live centre" else 0.6 * radius
    quill = end + length
    return [
        cone,
        _rod(end, quill, body, DARK),
        _rod(quill, quill + 2.6 * radius, 1.45 * radius, IRON),
    ]


def _dog(inward: float, radius: float) -> list[Part]:
    """A dog on the bar, `inward` of its end, its tail in a driving plate behind the centre."""
    at, half = -inward, 0.35 * radius
    plate = (radius - radius / 4) / _SLOPE + 1.2 * radius
    arm = (1.9 * radius, 2.5 * radius)
    wide = (-0.3 * radius, 0.3 * radius)
    return [
        _ring(at - half, at + half, radius, 1.75 * radius, DARK),
        Block((at - half, at + half), (1.6 * radius, 2.5 * radius), wide, DARK, 180.0),
        Block((at - half, plate + 0.3 * radius), arm, wide, DARK, 180.0),
        _ring(plate, plate + 0.7 * radius, 1.0 * radius, 3.2 * radius, IRON),
    ]


def _land(kind: str, length: float, radius: float) -> list[Part]:
    """A steady with its three pads, or a bushing in its housing."""
    half = length / 2
    if kind == "bushing":
        return [
            _ring(-half, half, radius, 1.35 * radius, DARK),
            _ring(-0.7 * half, 0.7 * half, 1.35 * radius, 2.2 * radius, IRON),
        ]
    pads: list[Part] = [
        Block((-half, half), (radius, 2.2 * radius), (-0.3 * radius, 0.3 * radius), DARK, angle)
        for angle in (0.0, 120.0, 240.0)
    ]
    return [*pads, _ring(-0.8 * half, 0.8 * half, 2.2 * radius, 2.9 * radius, IRON)]
