"""Which push test would teach most, worked out before anyone rigs it.

A test is foreseen with every stiffness as it is thought to be: the model says how far each place
would move, the instruments how well that can be read, and the doubt left is what the fit would
leave. A stout short bar tells the radial springs, for they are a large part of its give; a slimmer
one, with 3EI/L near the tilt stiffness, tells the chuck's tilt.

A strap and an indicator need bare bar: places keep clear of jaws, dog, centres and other supports,
and of the work, slid away to one end or the other.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, log, pi

import numpy as np

from .bar import Bar
from .case import Case
from .errors import ModelError
from .fit import TappedPitch, Told, foreseen
from .push import Instruments, PullSeries, PushTest, Way
from .support import DogCentre

STEPS = 6
"""Pulls of a series on the way up; as many on the way back."""
CLEAR = 0.02
"""Nearest that a strap or an indicator comes to what stands on the bar, m (judgement)."""
_INCH_CLEAR = 0.01905
TAP_SCATTER = 0.01
_METRIC, _INCH = (0.001, 0.010), (0.0254 / 16, 0.0127)
"""Steps of stock: diameter and length, m."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestBar:
    """A plain round bar for a test: m."""

    diameter: float
    span: float
    own: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposedTest:
    """A test and what it would tell.

    Attributes
    ----------
    bar : the bar in the lathe, the case's own or a plain one
    places : m from the drive support; pulled and read at each in turn
    pull : N, the largest
    tapped : whether its pitch is taken as well
    told : every unknown, its likely value unmoved and its doubt as it would be left
    learnt : of all unknowns together, mean log of doubt before over doubt after
    least_movement : m, of the stiffest place under the largest pull
    """

    bar: TestBar
    places: tuple[float, ...]
    pull: float
    tapped: bool
    told: tuple[Told, ...]
    learnt: float
    least_movement: float


def propose_tests(
    case: Case,
    instruments: Instruments,
    pull: float,
    bars: Sequence[TestBar] = (),
    ways: Sequence[Way] = ("sideways", "up and down"),
    *,
    inch: bool = False,
) -> tuple[ProposedTest, ...]:
    """Tests of a case's lathe, the one that would tell most first.

    Tests with the bar that is in the lathe come before those with a bar that has to be found.

    Parameters
    ----------
    pull : N, the largest that the balance and the person manage
    bars : plain bars to try besides the case's own; left out, a stout short and a slim one
    inch : whether those come in inch sizes

    Raises
    ------
    ModelError
        No bar has a place that is free.
    """
    tests = [
        _foreseen(case, bar, places, instruments, pull, ways, tapped)
        for bar in (own_bar(case), *(bars or _usual_bars(case, _INCH if inch else _METRIC)))
        for places in _together(free_places(case, bar, inch=inch))
        for tapped in (False, True)
    ]
    if not tests:
        message = (
            "no place along the bar is free to pull at: supports, dog and work leave none of it "
            "bare; try a longer plain bar (--test-bar)"
        )
        raise ModelError(message)
    return tuple(sorted(tests, key=lambda one: (not one.bar.own, -one.learnt)))


@dataclass(frozen=True, slots=True, kw_only=True)
class FreePlaces:
    """Where a bar can be pulled and read, m from the drive support; None where nothing is free.

    Attributes
    ----------
    drive, tail : close to that support
    middle : beside the bit, or in the middle of a plain bar
    held : how far in what stands at the drive and at the tail reaches
    clear : what is kept from everything
    """

    drive: float | None
    middle: float | None
    tail: float | None
    held: tuple[float, float]
    clear: float


def free_places(case: Case, bar: TestBar, *, inch: bool = False) -> FreePlaces:
    """Places of a bar that a strap and an indicator get at.

    What is not beside the bit lies on whole millimetres or sixteenths of an inch.
    """
    clear, step = (_INCH_CLEAR, 0.0254 / 16) if inch else (CLEAR, 0.001)
    taken = _taken(case, bar)
    held = _reach(taken), -_reach([(-last, -first) for first, last in taken])
    drive, tail = _out(held[0] + clear, step), -_out(clear - held[1], step)
    middle, work = bar.span / 2, None
    if bar.own:
        middle, work = case.cross_hole.position, _work_in_the_way(case, taken, clear)
    if work is not None and work[0] < middle < work[1]:
        middle = min(-_out(-work[0], step), _out(work[1], step), key=lambda x: abs(x - middle))

    def free(place: float) -> bool:
        on_support = any(a - clear + SAME < place < b + clear - SAME for a, b in taken)
        in_work = work is not None and work[0] + SAME < place < work[1] - SAME
        return drive - SAME <= place <= tail + SAME and not on_support and not in_work

    beside = middle if free(middle) else None
    return FreePlaces(
        drive=drive if free(drive) and drive + clear <= (beside or tail) + SAME else None,
        middle=beside,
        tail=tail if free(tail) and tail - clear >= (beside or drive) - SAME else None,
        held=held,
        clear=clear,
    )


SAME = 1e-7
"""Places nearer than this are the same place, m."""


def _out(place: float, step: float) -> float:
    """The next whole step from a place on, m."""
    return ceil(place / step - 1e-6) * step


def _taken(case: Case, bar: TestBar) -> list[tuple[float, float]]:
    """First and last station of everything that stands on a bar, in order along it, m."""
    found = []
    for name, support, station in case.placed_supports:
        if not bar.own and name not in ("drive", "tail"):
            continue
        at = bar.span if name == "tail" else station
        first, last = (at + end for end in support.contact)
        if isinstance(support, DogCentre):
            # A dog is clamped at its middle, so it takes twice that of the bar.
            last = 2 * support.dog_position
        # Jaws end at their face, however deep they grip.
        found.append((first, max(last, 0.0)))
    if case.supports.tail is None:
        end = case.ends[1] if bar.own else bar.span
        found.append((end, end))
    return sorted(found)


def _reach(taken: Sequence[tuple[float, float]]) -> float:
    """How far the first thing on a bar reaches."""
    return min(taken)[1]


def _work_in_the_way(
    case: Case, taken: Sequence[tuple[float, float]], clear: float
) -> tuple[float, float] | None:
    """Stretch about the bit, m, that the work covers wherever it is slid; None if it is bare."""
    bit, half, work = case.cross_hole.position, case.bit.size / 2, case.work
    length = work.length or 1.5 * work.bore.nominal
    before = max((last for _, last in taken if last < bit), default=0.0)
    behind = min((first for first, _ in taken if first > bit), default=bit)
    at_head, at_tail = float(work.run_out), float(work.run_in)
    if case.cut.feed_towards == "tailstock":
        at_head, at_tail = at_tail, at_head
    to_tail, to_head = bit + half + at_tail, bit - half - at_head
    to_tail += max(0.0, behind - work.beyond_tail - length - to_tail)
    to_head -= max(0.0, to_head - length - work.beyond_head - before)
    low, high = to_tail - work.beyond_head - clear, to_head + work.beyond_tail + clear
    return (low, high) if low < high else None


def own_bar(case: Case) -> TestBar:
    """The case's own bar as a test bar."""
    diameter = case.bar_diameter(case.cross_hole.position)
    return TestBar(diameter=diameter, span=case.bar.span, own=True)


def _usual_bars(case: Case, steps: tuple[float, float]) -> tuple[TestBar, ...]:
    """A short stout bar for the springs, and a slim one whose bending is like the chuck's tilt."""
    own = own_bar(case)
    stout = _in_steps(1.25 * own.diameter, 0.6 * own.span, steps)
    tilt = case.supports.drive.tilt_stiffness
    if not 0 < tilt < float("inf"):
        return (stout,)
    fourth = tilt * own.span / 3 / case.bar.material.elastic_modulus * 64 / pi
    slim = _in_steps(min(fourth**0.25, own.diameter), own.span, steps)
    return (stout, slim) if slim.diameter < 0.95 * own.diameter else (stout,)


def _in_steps(diameter: float, span: float, steps: tuple[float, float]) -> TestBar:
    """A bar of a size that stock comes in."""
    sizes = (
        max(round(x / step), 1) * step for x, step in zip((diameter, span), steps, strict=True)
    )
    return TestBar(diameter=next(sizes), span=next(sizes))


def _together(free: FreePlaces) -> Iterator[tuple[float, ...]]:
    """Which of the places are pulled at in one test."""
    tried = (
        (free.middle,),
        (free.drive, free.middle),
        (free.middle, free.tail),
        (free.drive, free.middle, free.tail),
    )
    found = (tuple(place for place in places if place is not None) for places in tried)
    yield from dict.fromkeys(places for places in found if places)


def _foreseen(
    case: Case,
    bar: TestBar,
    places: tuple[float, ...],
    instruments: Instruments,
    pull: float,
    ways: Sequence[Way],
    tapped: bool,
) -> ProposedTest:
    shown = case if bar.own else _with_bar(case, bar)
    push = PushTest(
        instruments=instruments,
        series=tuple(_planned(place, way, pull) for place in places for way in ways),
    )
    taps = [TappedPitch(way=way, frequency=1.0, scatter=TAP_SCATTER) for way in ways]
    found = foreseen(shown, push, taps if tapped else (), hole=bar.own)
    return ProposedTest(
        bar=bar,
        places=places,
        pull=pull,
        tapped=tapped,
        told=found.told,
        learnt=float(np.mean([-log(max(1 - one.learnt, 1e-6)) for one in found.told])),
        least_movement=pull * min(found.gives),
    )


def _planned(place: float, way: Way, pull: float) -> PullSeries:
    up = np.linspace(0.0, pull, STEPS)
    pulls = np.concatenate([up, up[-2::-1]])
    return PullSeries(
        pull_at=place,
        read_at=place,
        way=way,
        on="bar",
        pull=pulls,
        reading=np.zeros_like(pulls),
    )


def _with_bar(case: Case, bar: TestBar) -> Case:
    """The case's lathe with a plain bar in it."""
    plain = Bar(
        material=case.bar.material,
        diameter=bar.diameter,
        span=bar.span,
        drive_overhang=case.bar.drive_overhang,
    )
    hole = case.cross_hole.model_copy(update={"position": bar.span / 2, "set_screws": ()})
    held = case.supports.model_copy(update={"others": ()})
    return case.model_copy(update={"bar": plain, "cross_hole": hole, "supports": held})
