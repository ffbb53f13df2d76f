"""Which push test would teach most, worked out before anyone rigs it.

A test is foreseen with every stiffness as it is thought to be: the model says how far each place
would move, the instruments how well that can be read, and the doubt left is what the fit would
leave. A stout short bar tells the radial springs, for they are a large part of its give; a slimmer
one, with 3EI/L near the tilt stiffness, tells the chuck's tilt.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import log, pi

import numpy as np

from .bar import Bar
from .case import Case
from .fit import TappedPitch, Told, foreseen
from .push import Instruments, PullSeries, PushTest, Way

STEPS = 6
"""Pulls of a series on the way up; as many on the way back."""
CLEAR = 0.02
"""Nearest that a strap or an indicator comes to a support, m (judgement)."""
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
    """
    tests = [
        _foreseen(case, bar, places, instruments, pull, ways, tapped)
        for bar in (own_bar(case), *(bars or _usual_bars(case, _INCH if inch else _METRIC)))
        for places in _places(case, bar, _INCH_CLEAR if inch else CLEAR)
        for tapped in (False, True)
    ]
    return tuple(sorted(tests, key=lambda one: (not one.bar.own, -one.learnt)))


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


def _places(case: Case, bar: TestBar, clear: float) -> Iterator[tuple[float, ...]]:
    middle = case.cross_hole.position if bar.own else bar.span / 2
    yield (middle,)
    yield (clear, middle)
    yield (middle, bar.span - clear)
    yield (clear, middle, bar.span - clear)


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
