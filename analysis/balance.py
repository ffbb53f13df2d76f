"""Balance: what of the bar lies off its middle, and what that does when it turns.

Unbalance is mass times its distance from the line the bar turns about, summed as vectors over
what is missing (cross-hole, screw holes, flats) and what is added (bit, screws, a dog, whatever
the bar carries off centre, the bar itself where it runs out). Turning n times a second it pulls
with ``U (2 pi n)^2``. Held against ISO 21940-11:2016 (before it ISO 1940-1), whose grade G is the
speed at which the middle of mass goes round; the standard's own text was not open here, its
definition and grades are from memory and secondary sources. A grade of a bar that is bent, or of
a chuck that is unbalanced by itself, is not in it.

The pull turns with the bar and the bit, so on supports alike all round it holds the edge off by
the same amount all the turn: it changes size, not shape.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from math import acos, hypot, pi, sin, sqrt

import numpy as np

from .bar import CrossHole, SetScrew, Side
from .beam import HSS_DENSITY, SCREW_DENSITY
from .case import Case
from .force import CuttingForce
from .judge import Band
from .model import Factored, Floats, Held
from .run_out import Pattern
from .section import circle_area
from .support import DogCentre

GRADES = (0.4, 1.0, 2.5, 6.3, 16.0, 40.0, 100.0, 250.0, 630.0, 1600.0, 4000.0)
"""Grades of ISO 21940-11:2016, table 1, mm/s (from memory)."""
USUAL = {2.5: "machine-tool drives", 6.3: "machines in general"}
"""What the same table asks these grades of (from memory)."""
_TOWARDS: dict[Side, tuple[float, float]] = {
    "bit": (1.0, 0.0),
    "back": (-1.0, 0.0),
    "leading": (0.0, 1.0),
    "trailing": (0.0, -1.0),
}
_SCREWS = "set screws less their holes"
_POINT, _WEIGHT = np.polynomial.legendre.leggauss(24)
_SLICES = tuple(zip(*np.polynomial.legendre.leggauss(8), strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Heavy:
    """Something whose middle lies off the bar's.

    Attributes
    ----------
    name : what it is
    station : m
    radial, tangential : kg m, along the bit and across it; negative for what is missing there
    """

    name: str
    station: float
    radial: float
    tangential: float

    @property
    def size(self) -> float:
        """Unbalance, whichever way, kg m."""
        return hypot(self.radial, self.tangential)


@dataclass(frozen=True, slots=True, kw_only=True)
class Anyway:
    """Something off the bar's middle which way nobody knows: its size alone, kg m."""

    name: str
    station: float
    size: Band


@dataclass(frozen=True, slots=True, kw_only=True)
class Turning:
    """The bar at one speed.

    Attributes
    ----------
    spindle_speed : Hz
    pull : N, of the unbalance, whichever way
    movement : m, of the bar at the bit under it
    grade : m/s, that the bar reaches: speed of the middle of mass
    allowed : kg m, unbalance that each usual grade allows, by its mm/s
    """

    spindle_speed: float
    pull: Band
    movement: Band
    grade: Band
    allowed: dict[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """Balance of the bar.

    Attributes
    ----------
    mass : kg, bar and all it carries
    parts : what lies off the middle a known way, summed by name
    anyway : what does an unknown way
    unbalance : kg m, all together
    push : N, of the cut across the bar, for scale
    turning : at the cut's speed, then at the lathe's fastest where that is given
    """

    mass: float
    parts: tuple[Heavy, ...]
    anyway: tuple[Anyway, ...]
    unbalance: Band
    push: float
    turning: tuple[Turning, ...]


# --- ISO 21940-11 ----------------------------------------------------------------------------


def balance_grade(unbalance: float, mass: float, spindle_speed: float) -> float:
    """Speed of the middle of mass, ``G = (U/m) 2 pi n``, m/s: ISO 21940-11, definition of G."""
    return unbalance / mass * 2 * pi * spindle_speed


def allowed_offset(grade: float, spindle_speed: float) -> float:
    """Distance of the middle of mass that a grade allows, ``e_per = G/(2 pi n)``, m.

    Parameters
    ----------
    grade : m/s; the standard's mm/s over 1000
    """
    return grade / (2 * pi * spindle_speed)


def allowed_unbalance(grade: float, mass: float, spindle_speed: float) -> float:
    """Unbalance that a grade allows, ``U_per = G m/(2 pi n)``, kg m; the rotor taken as rigid."""
    return mass * allowed_offset(grade, spindle_speed)


def reached(grade: float) -> float | None:
    """Finest standard grade, mm/s, that a speed of the middle of mass in m/s keeps within."""
    return next((one for one in GRADES if grade * 1e3 <= one * (1 + 1e-9)), None)


# --- turning ---------------------------------------------------------------------------------


def unbalance_pull(unbalance: float, spindle_speed: float) -> float:
    """Pull of an unbalance, ``U (2 pi n)^2``, N."""
    return unbalance * (2 * pi * spindle_speed) ** 2


def amplification(ratio: float, damping: float) -> float:
    """Movement under a turning pull over that under the same pull at rest.

    ``1/sqrt((1 - r^2)^2 + (2 zeta r)^2)``, H. H. Jeffcott, Phil. Mag. 37 (1919) 304 (from
    memory); times r^2, the whirl of an unbalanced disc over its eccentricity. One mode.

    Parameters
    ----------
    ratio : spin over the pitch of the first mode
    """
    return 1 / hypot(1 - ratio**2, 2 * damping * ratio)


def solve_balance(
    case: Case, force: CuttingForce, factored: Factored, pitch: float, pattern: Pattern | None
) -> Balance:
    """Balance of the bar of a case, and how far it moves the bit.

    Parameters
    ----------
    factored : the bar, beam or solid, with its supports
    pitch : Hz, first bending mode
    pattern : of the run-out, where it was read
    """
    model = factored.model
    mass = float(model.rigid[:, 0] @ (model.mass @ model.rigid[:, 0]))
    variants = [tuple(_known(case, pattern, full)) for full in (True, False)]
    anyway = tuple(_anyway(case, mass, pattern))
    unbalance = _together(variants, anyway, lambda _: 1.0)
    moves = _movement_per_pull(factored)
    speeds = {case.spindle_speed, max((case.spindle_speed, *case.lathe.speeds))}
    damping = float(case.bar.damping_ratio)
    at_rest = _together(variants, anyway, moves)
    return Balance(
        mass=mass,
        parts=_by_name(variants[0]),
        anyway=anyway,
        unbalance=unbalance,
        push=hypot(float(force.radial), float(force.tangential)),
        turning=tuple(
            Turning(
                spindle_speed=n,
                pull=_scaled(unbalance, unbalance_pull(1.0, n)),
                movement=_scaled(
                    at_rest, unbalance_pull(1.0, n) * amplification(n / pitch, damping)
                ),
                grade=_scaled(unbalance, balance_grade(1.0, mass, n)),
                allowed={grade: allowed_unbalance(grade / 1e3, mass, n) for grade in USUAL},
            )
            for n in sorted(speeds)
        ),
    )


def _scaled(band: Band, factor: float) -> Band:
    return Band(low=band.low * factor, likely=band.likely * factor, high=band.high * factor)


def _movement_per_pull(factored: Factored) -> Callable[[float], float]:
    """How far the bar moves at the bit per pull at a station, m/N.

    By Maxwell and Betti the movement at the station per push at the bit, which is one solve.
    """
    model = factored.model
    motion = Held(factored).solve(model.edge[:, 0]).motion[:, 0]
    along = (model.along @ motion).reshape(6, -1)[0]
    order = np.argsort(model.stations)
    stations, values = model.stations[order], along[order]
    return lambda x: abs(float(np.interp(x, stations, values)))


def _together(
    variants: Sequence[Sequence[Heavy]],
    anyway: Sequence[Anyway],
    weight: Callable[[float], float],
) -> Band:
    """All of it as vectors, each part times a weight; what lies any way added at best and worst.

    The likely size of parts that lie any way is the root of the sum of squares, the mean square
    over their directions.
    """
    known = [
        hypot(
            sum(one.radial * weight(one.station) for one in parts),
            sum(one.tangential * weight(one.station) for one in parts),
        )
        for parts in variants
    ]
    loose = [_scaled(one.size, weight(one.station)) for one in anyway]
    most = sum(one.high for one in loose)
    least = max(0.0, min(known) - most, *(one.low - max(known) - most + one.high for one in loose))
    likely = sqrt(known[0] ** 2 + sum(one.likely**2 for one in loose))
    return Band.of(likely, least, max(known) + most)


def _by_name(parts: Sequence[Heavy]) -> tuple[Heavy, ...]:
    """Parts of one name as one, at the first one's station."""
    return tuple(
        Heavy(
            name=name,
            station=next(one.station for one in parts if one.name == name),
            radial=sum(one.radial for one in parts if one.name == name),
            tangential=sum(one.tangential for one in parts if one.name == name),
        )
        for name in dict.fromkeys(one.name for one in parts)
    )


# --- what lies off the middle ----------------------------------------------------------------


def _known(case: Case, pattern: Pattern | None, full: bool) -> Iterator[Heavy]:
    """Everything that lies off the middle a known way; `full` if the screws fill their holes."""
    density = case.bar.material.density
    yield _missing(case, case.cross_hole, "cross-hole")
    for hole in case.bar.other_holes:
        yield _missing(case, hole, "other cross-holes")
    yield _bit(case)
    for screw in case.cross_hole.set_screws:
        yield from _screw(case, screw, full)
    for flat in case.bar.flats:
        towards = _TOWARDS[flat.side]
        for start, end in _pieces(case, flat.start, flat.end):
            moment = flat_moment(case.bar_diameter((start + end) / 2), flat.depth) * (end - start)
            yield Heavy(
                name="flats",
                station=(start + end) / 2,
                radial=-density * moment * towards[0],
                tangential=-density * moment * towards[1],
            )
    for held in case.bar.carries:
        towards = _TOWARDS[held.side]
        if held.off_centre > 0:
            arm = held.mass * held.off_centre
            yield Heavy(
                name=held.name,
                station=held.position,
                radial=arm * towards[0],
                tangential=arm * towards[1],
            )
    if pattern is not None and pattern.told and pattern.angled:
        yield from _bar_off_line(case, pattern)


def _missing(case: Case, hole: CrossHole, name: str) -> Heavy:
    """The metal that a hole takes."""
    density = case.bar.material.density
    _, radial, tangential = removed_by_hole(case, hole)
    return Heavy(
        name=name,
        station=hole.position,
        radial=-density * radial,
        tangential=-density * tangential,
    )


def _bit(case: Case) -> Heavy:
    """The bit, high-speed steel, its middle half its length behind the edge."""
    square = case.bit.size**2 * (1.0 if case.cross_hole.shape == "square" else pi / 4)
    mass = HSS_DENSITY * square * case.bit_length
    return Heavy(
        name="bit",
        station=case.cross_hole.position,
        radial=mass * (case.edge_radius - case.bit_length / 2),
        tangential=mass * case.cross_hole.middle,
    )


def _screw(case: Case, screw: SetScrew, full: bool) -> Iterator[Heavy]:
    """The tapped hole that is missing, and the screw in it from the bit outwards.

    A screw fills its hole, or is as long as it is thick: nobody gives its length.
    """
    hole, towards = case.cross_hole, _TOWARDS[screw.side][1]
    radius, station = case.bar_diameter(hole.position) / 2, hole.position + screw.shift
    wall = hole.size / 2 + towards * hole.middle
    volume, moment = tapped_hole(radius, screw.diameter, wall)
    yield Heavy(
        name=_SCREWS,
        station=station,
        radial=0.0,
        tangential=-case.bar.material.density * moment * towards,
    )
    if not full:
        length = min(screw.diameter, radius - wall)
        volume = circle_area(screw.diameter) * length
        moment = volume * (wall + length / 2)
    yield Heavy(
        name=_SCREWS,
        station=station,
        radial=0.0,
        tangential=SCREW_DENSITY * moment * towards,
    )


def _bar_off_line(case: Case, pattern: Pattern) -> Iterator[Heavy]:
    """The bar itself where it runs out, slice by slice."""
    for start, end in _pieces(case, *case.ends):
        half = (end - start) / 2
        area = circle_area(case.bar_diameter((start + end) / 2))
        for point, weight in _SLICES:
            x = (start + end) / 2 + half * float(point)
            off = pattern.off(x)
            mass = case.bar.material.density * area * half * float(weight)
            yield Heavy(
                name="bar off line",
                station=x,
                radial=mass * float(off[0]),
                tangential=mass * float(off[1]),
            )


def _anyway(case: Case, mass: float, pattern: Pattern | None) -> Iterator[Anyway]:
    """What lies off the middle and nobody knows which way: the dog, run-out without its angles."""
    drive = case.supports.drive
    if isinstance(drive, DogCentre):
        ends = [
            _end(drive.dog_mass, end) * _end(drive.dog_off_centre, end)
            for end in ("likely", "low", "high")
        ]
        yield Anyway(name="dog", station=float(drive.dog_position), size=Band.of(*ends))
    if pattern is None or (pattern.told and pattern.angled and pattern.faults):
        return
    station, most = case.cross_hole.position, mass * pattern.largest / 2
    if pattern.told and pattern.faults:
        slices = list(_bar_off_line(case, pattern))
        size = Band.of(abs(sum(one.radial for one in slices)))
    else:
        likely = 0.0 if pattern.told else mass * pattern.swing_at_bit.likely / 2
        size = Band.of(likely, 0.0, most)
    yield Anyway(name="bar off line", station=station, size=size)


def _end(value: float, end: str) -> float:
    """One end of a value that may have a range."""
    return float(value) if end == "likely" else float(getattr(value, end, value))


def _pieces(case: Case, first: float, last: float) -> Iterator[tuple[float, float]]:
    """A length of bar cut where its diameter changes."""
    edges = {x for step in case.bar.steps for x in (step.start, step.end) if first < x < last}
    yield from pairwise(sorted({first, last, *edges}))


# --- volumes and their moments ---------------------------------------------------------------


def flat_moment(diameter: float, depth: float) -> float:
    """Area under a flat times its distance from the centre line, ``2/3 (R sin a)^3``, m3.

    The segment of a circle of half-angle a, ``cos a = 1 - depth/R``; elementary.
    """
    radius = diameter / 2
    return 2 / 3 * (radius * sin(acos(1 - depth / radius))) ** 3


def removed_by_hole(case: Case, hole: CrossHole) -> tuple[float, float, float]:
    """Metal that a cross-hole takes: its volume, m3, and its moments along r and t, m4.

    Strip by strip across the hole, each from one surface of the bar to the other; a flat at the
    hole has taken its part before.
    """
    radius, surface = case.bar_diameter(hole.position) / 2, partial(_surface, case, hole)
    left, right = hole.middle - hole.size / 2, hole.middle + hole.size / 2
    left, right = max(left, -surface("trailing")), min(right, surface("leading"))
    surfaces = surface("bit"), surface("back")
    kinks = {k for s in surfaces for k in _flat_edges(radius, s) if left < k < right}
    sums = np.zeros(3)
    for start, end in pairwise(sorted({left, right, *kinks})):
        t, weight = _strips(start, end)
        width = _widths(hole.shape == "square", hole.size, t - hole.middle)
        chord = np.sqrt(np.maximum(radius**2 - t**2, 0.0))
        top, bottom = np.minimum(chord, surfaces[0]), -np.minimum(chord, surfaces[1])
        strip = weight * width
        sums += [
            float(strip @ (top - bottom)),
            float(strip @ (top**2 - bottom**2)) / 2,
            float((strip * t) @ (top - bottom)),
        ]
    return float(sums[0]), float(sums[1]), float(sums[2])


def _surface(case: Case, hole: CrossHole, side: Side) -> float:
    """From the centre line to the surface of the bar at a hole, m: less a flat there."""
    flats = (flat for flat in case.bar.flats if flat.side == side)
    depths = (flat.depth for flat in flats if flat.start <= hole.position <= flat.end)
    return case.bar_diameter(hole.position) / 2 - max(depths, default=0.0)


def _strips(start: float, end: float) -> tuple[Floats, Floats]:
    """Places across and their widths, m, closer together at both ends where a round hole ends."""
    angle, half = pi / 2 * _POINT, (end - start) / 2
    place = (start + end) / 2 + half * np.sin(angle)
    return place, pi / 2 * half * _WEIGHT * np.cos(angle)


def _widths(square: bool, size: float, from_middle: Floats) -> Floats:
    """How much of the bar's length the hole takes, m, at a distance across from its middle."""
    if square:
        return np.full_like(from_middle, size)
    return 2 * np.sqrt(np.maximum(size**2 / 4 - from_middle**2, 0.0))


def _flat_edges(radius: float, surface: float) -> tuple[float, ...]:
    """Where along t a flat at `surface` from the middle meets the round of the bar."""
    edge = sqrt(max(radius**2 - surface**2, 0.0))
    return (-edge, edge) if edge > 0 else ()


def tapped_hole(radius: float, diameter: float, wall: float) -> tuple[float, float]:
    """Volume of a screw's hole, m3, and its moment along the screw, m4.

    From a flat wall of the cross-hole, `wall` from the middle of the bar, to the round surface,
    ``sqrt(R^2 - r^2)``, over the round of the hole.
    """
    r, weight = _strips(-diameter / 2, diameter / 2)
    width = 2 * np.sqrt(np.maximum(diameter**2 / 4 - r**2, 0.0))
    outer = np.sqrt(radius**2 - r**2)
    volume = float((weight * width) @ (outer - wall))
    return volume, float((weight * width) @ (outer**2 - wall**2)) / 2
