"""Run-out: what an indicator along the bar says of it, bent, cocked or off centre.

A reading is the full swing of the indicator while the bar is turned once by hand, twice the
distance of the bar's middle from the line it turns about. Along the bar that distance is taken as
a sum of shapes: the same everywhere (offset); growing from nothing at the drive end (cocked);
shrinking to nothing at the tail (off at the drive end, the tail held true); and the hump of a bar
bent alike along its length (bent). The fewest shapes that meet every reading to what the indicator
can show are the answer; where two answers do, or none, or no reading is to spare, it says so.

Least squares over the readings as vectors where the high spot is known. Where it is not, the bar
is taken as bent in one plane, and every way of crossing the line at most twice is tried. What no
run-out shows: a tail that stands off line, for it stands still while the bar turns; a bar that is
itself not round reads as run-out that is not there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from math import cos, radians, sin, sqrt
from typing import Literal

import numpy as np

from .bar import RunOut, RunOutReading
from .case import Case
from .judge import Band
from .model import Floats
from .support import Chuck, Collet

ShapeName = Literal["offset", "cocked", "off at the drive end", "bent"]
ANSWERS: tuple[tuple[ShapeName, ...], ...] = (
    ("offset",),
    ("cocked",),
    ("off at the drive end",),
    ("bent",),
    ("offset", "cocked"),
    ("offset", "bent"),
    ("cocked", "bent"),
    ("off at the drive end", "bent"),
    ("offset", "cocked", "bent"),
)
"""What a bar may do, the plainest first; a line of any kind is an offset and a cock."""
HIGH_SPOT = radians(15)
"""How far off a high spot may be called; a guess."""
MOST_CROSSINGS = 2
BESIDE = 1.5
"""A reading this many hole sizes from the middle of the hole stands for the bit."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fault:
    """One shape of the answer.

    Attributes
    ----------
    name : what the bar does
    swing : m, full indicator reading where the shape is largest between the supports
    off : (2,) m along r and t there; along r alone where no high spot was looked for
    """

    name: ShapeName
    swing: float
    off: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pattern:
    """What the readings say of the bar.

    Attributes
    ----------
    faults : the shapes found; none for a bar that runs true, or where the readings cannot tell
    told : whether the readings tell
    rivals : the answers that fit equally well, where that is why they do not tell
    gripped : whether a chuck or collet holds the bar
    angled : whether the high spots are known
    count : how many readings
    division : m, of the indicator
    residual : m, largest part of a reading that the answer leaves; none without an answer
    swing_at_bit : m, full indicator reading at the bit
    along_bit : m, how far towards the bit the bar's middle lies there, negative away from it
    largest : m, largest reading
    shapes : value of each shape at a station
    """

    faults: tuple[Fault, ...]
    told: bool
    rivals: tuple[str, ...]
    gripped: bool
    angled: bool
    count: int
    division: float
    residual: float | None
    swing_at_bit: Band
    along_bit: Band
    largest: float
    shapes: dict[ShapeName, Callable[[float], float]]

    @property
    def name(self) -> str:
        """The answer in a word or two."""
        if not self.told:
            return "cannot tell"
        return " and ".join(fault.name for fault in self.faults) or "true"

    def off(self, station: float) -> Floats:
        """How far the bar's middle lies off its line at a station, along r and t, m, (2,)."""
        parts = [fault.off * self.shapes[fault.name](station) for fault in self.faults]
        return np.sum(parts, axis=0) if parts else np.zeros(2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    """One answer tried: its shapes, their sizes along r and t, and what it leaves."""

    names: tuple[ShapeName, ...]
    size: Floats  # (n_shape, 2)
    left: Floats  # (n_reading, 2), along each reading's own direction and across it
    doubt: float
    at_bit: Floats  # (2,)


def bar_shapes(case: Case) -> dict[ShapeName, Callable[[float], float]]:
    """Shapes that the bar's middle may take along it, 1 where largest between the supports.

    The hump of a bar bent alike along its length is a parabola: between two supports
    ``4 x (L - x) / L^2``, from a drive alone ``(x/L)^2``. Elementary; it leaves out what a chuck
    straightens.
    """
    L = case.bar.span
    if case.supports.tail is None:
        return {"offset": lambda _: 1.0, "cocked": lambda x: x / L, "bent": lambda x: (x / L) ** 2}
    return {
        "offset": lambda _: 1.0,
        "cocked": lambda x: x / L,
        "off at the drive end": lambda x: 1 - x / L,
        "bent": lambda x: 4 * x * (L - x) / L**2,
    }


def run_out_pattern(case: Case) -> Pattern | None:
    """What the readings of a case say; nothing where it has none."""
    found = case.bar.run_out
    if found is None:
        return None
    readings = sorted(found.readings, key=lambda one: one.at)
    shapes, division = bar_shapes(case), found.indicator
    angled = all(one.high_at is not None for one in readings)
    largest = float(max(one.reading for one in readings))
    fits: list[_Fit] = []
    true = largest <= division
    if not true:
        fits = _fits(readings, shapes, case.cross_hole.position, division, angled)
    told = true or len(fits) == 1
    swing, along = _at_bit(case, found, fits, angled, true)
    return Pattern(
        faults=_faults(fits[0]) if len(fits) == 1 else (),
        told=told,
        rivals=tuple(" and ".join(fit.names) for fit in fits) if len(fits) > 1 else (),
        gripped=isinstance(case.supports.drive, (Chuck, Collet)),
        angled=angled,
        count=len(readings),
        division=float(division),
        residual=largest if true else _residual(fits),
        swing_at_bit=swing,
        along_bit=along,
        largest=largest,
        shapes=shapes,
    )


def _residual(fits: list[_Fit]) -> float | None:
    return 2 * float(np.hypot(*fits[0].left.T).max()) if len(fits) == 1 else None


def _faults(fit: _Fit) -> tuple[Fault, ...]:
    return tuple(
        Fault(name=name, swing=2 * float(np.hypot(*size)), off=size)
        for name, size in zip(fit.names, fit.size, strict=True)
    )


# --- least squares ---------------------------------------------------------------------------


def _fits(
    readings: Sequence[RunOutReading],
    shapes: dict[ShapeName, Callable[[float], float]],
    station: float,
    division: float,
    angled: bool,
) -> list[_Fit]:
    """The answers of fewest shapes that meet every reading, with one place to spare."""
    places = len({one.at for one in readings})
    possible = [names for names in ANSWERS if set(names) <= shapes.keys()]
    for count in range(1, min(places - 1, 3) + 1):
        tried = (
            _fitted(names, readings, shapes, station, division, angled)
            for names in possible
            if len(names) == count
        )
        meets = [fit for fit in tried if _meets(fit, readings, division, angled)]
        if meets:
            return meets
    return []


def _meets(fit: _Fit, readings: Sequence[RunOutReading], division: float, angled: bool) -> bool:
    """Whether every reading is met to half a division, and its high spot to how well it is called.

    A swing is read far better than its direction, so what is left is judged along it and across.
    """
    half = np.array([one.reading / 2 for one in readings])
    along, across = (half * (1 - cos(HIGH_SPOT)), half * sin(HIGH_SPOT)) if angled else (0.0, 0.0)
    left = np.abs(fit.left)
    shown = division / 4 * (1 + 1e-9) + 1e-12
    return bool(np.all(left[:, 0] <= shown + along) and np.all(left[:, 1] <= shown + across))


def _coarse(division: float) -> float:
    """A division of the indicator, m, at the coarse end of a guess."""
    return float(getattr(division, "high", division))


def _fitted(
    names: tuple[ShapeName, ...],
    readings: Sequence[RunOutReading],
    shapes: dict[ShapeName, Callable[[float], float]],
    station: float,
    division: float,
    angled: bool,
) -> _Fit:
    """Least squares with these shapes, over the ways of crossing the line where need be."""
    A = np.array([[shapes[name](one.at) for name in names] for one in readings])
    at_bit = np.array([shapes[name](station) for name in names])
    # A place where every reading stands at the shape's nothing tells nothing of its size.
    inverse = np.linalg.pinv(A)
    best: tuple[Floats, Floats] | None = None
    for off in _offs(readings, angled):
        size = inverse @ off
        left = _turned(A @ size - off, off)
        if best is None or np.abs(left).max() < np.abs(best[1]).max() - 1e-12:
            best = size, left
    assert best is not None
    size, left = best
    spare = max(1, len(readings) - len(names))
    scatter = max(_coarse(division) / 4, sqrt(float(np.sum(left**2)) / spare))
    leverage = float(np.linalg.norm(at_bit @ inverse))
    return _Fit(
        names=names, size=size, left=left, doubt=2 * scatter * leverage, at_bit=at_bit @ size
    )


def _turned(vectors: Floats, off: Floats) -> Floats:
    """Vectors, (n, 2), in axes along each `off` and across it; as they are where that is none."""
    size = np.hypot(*off.T)
    along = np.where(size[:, None] > 0, off / np.where(size > 0, size, 1.0)[:, None], (1.0, 0.0))
    across = np.column_stack([-along[:, 1], along[:, 0]])
    return np.column_stack([np.sum(vectors * along, axis=1), np.sum(vectors * across, axis=1)])


def _offs(readings: Sequence[RunOutReading], angled: bool) -> Iterator[Floats]:
    """The readings as distances along r and t, m, (n_reading, 2); each way round in one plane."""
    half = np.array([one.reading / 2 for one in readings])
    if angled:
        angle = np.array([one.high_at for one in readings], dtype=float)
        yield half[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        return
    for crossings in range(min(MOST_CROSSINGS, len(half) - 1) + 1):
        for places in combinations(range(1, len(half)), crossings):
            sign = np.ones(len(half))
            for place in places:
                sign[place:] *= -1
            yield np.column_stack([half * sign, np.zeros(len(half))])


# --- at the bit ------------------------------------------------------------------------------


def _at_bit(
    case: Case, found: RunOut, fits: list[_Fit], angled: bool, true: bool
) -> tuple[Band, Band]:
    """Swing at the bit, and how far the bar's middle lies towards it there."""
    if true or not fits:
        ends = [_between(case, found, angled, true)]
    else:
        ends = [(fit.at_bit, fit.doubt) for fit in fits]
    sizes = [float(np.hypot(*off)) for off, _ in ends]
    middle = sum(sizes) / len(sizes)
    lows = [max(0.0, size - doubt) for size, (_, doubt) in zip(sizes, ends, strict=True)]
    highs = [size + doubt for size, (_, doubt) in zip(sizes, ends, strict=True)]
    swing = Band.of(2 * middle, *(2 * end for end in (*lows, *highs)))
    if not angled:
        return swing, Band.of(0.0, -swing.high / 2, swing.high / 2)
    along = []
    for off, doubt in ends:
        called = abs(float(off[1])) * sin(HIGH_SPOT) + abs(float(off[0])) * (1 - cos(HIGH_SPOT))
        along += [float(off[0]) - doubt - called, float(off[0]) + doubt + called]
    return swing, Band.of(sum(float(off[0]) for off, _ in ends) / len(ends), *along)


def _between(case: Case, found: RunOut, angled: bool, true: bool) -> tuple[Floats, float]:
    """Off at the bit by the readings on either side of it, along r and t, and its doubt, m.

    Without an answer the doubt is half of their difference, beyond the last reading all of it;
    beside the hole, where an indicator can stand, the reading is taken as it is.
    """
    station, readings = case.cross_hole.position, sorted(found.readings, key=lambda one: one.at)
    places = np.array([one.at for one in readings])
    off = next(_offs(readings, angled))
    likely = np.array([np.interp(station, places, column) for column in off.T])
    shown = _coarse(found.indicator) / 4
    if true or np.min(np.abs(places - station)) <= BESIDE * case.cross_hole.size:
        return likely, shown
    near = [
        (a, b) for (x, a), (y, b) in pairwise(zip(places, off, strict=True)) if x <= station <= y
    ]
    if near:
        return likely, shown + max(float(np.hypot(*(b - a))) / 2 for a, b in near)
    return likely, shown + float(np.hypot(*likely))


# --- in words --------------------------------------------------------------------------------

_SHOWS: dict[ShapeName, str] = {
    "offset": "it runs out alike all along",
    "cocked": "true at the drive end and swinging more towards the tail",
    "off at the drive end": "true at the tail and swinging most at the drive end",
    "bent": "a hump between the ends",
}
_IN_JAWS: dict[ShapeName, str] = {
    "offset": "jaws and tail centre hole are both off its middle: turn it true as it stands",
    "cocked": "it sits askew in the jaws: seat it afresh in clean jaws",
    "off at the drive end": "the jaws hold it off centre: use a collet or four jaws",
    "bent": "the bar is bent: straighten it, or turn it true between centres",
}
_ON_CENTRES: dict[ShapeName, str] = {
    **_IN_JAWS,
    "offset": "its centre holes are off its middle: turn it true on them",
    "cocked": "its tail centre hole is off its middle: turn it true, or drill it anew",
    "off at the drive end": "the headstock centre runs out, or the hole for it is off the bar's "
    "middle: turn the centre true in place, then the bar",
}


def meaning(pattern: Pattern) -> str:
    """What the readings mean, and what mends it (common practice)."""
    if not pattern.told:
        return why_not(pattern)
    if not pattern.faults:
        return "it runs true, as far as this indicator can show"
    causes = _IN_JAWS if pattern.gripped else _ON_CENTRES
    return "; ".join(f"{_SHOWS[one.name]}: {causes[one.name]}" for one in pattern.faults)


def why_not(pattern: Pattern) -> str:
    """Why the readings cannot tell, and which would."""
    if pattern.rivals:
        named = ", ".join(pattern.rivals[:-1]) + " or " + pattern.rivals[-1]
        return (
            f"they fit {named} alike. Read five places, close to both supports and in the middle"
            + ("" if pattern.angled else ", and mark where each high spot is")
        )
    if pattern.count < 4:
        readings = "one reading tells" if pattern.count == 1 else f"{pattern.count} readings tell"
        return f"{readings} how much and not why. Read five places along the bar"
    return (
        "no bend, cock or offset meets them all to what the indicator shows: the bar may not be "
        "round, or a reading slipped. Clean the bar and read again"
    )
