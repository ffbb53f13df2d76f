"""From readings on the lathe to what holds the bar: stiffness of supports and work, damping.

Each stiffness starts as what the case says of it, a guess with a range or a typed value, and the
readings move it: the most probable values given both, and how far they may be off (Bayes' rule,
normal scatter in the logarithms, about the most probable point; A. Gelman et al., Bayesian Data
Analysis, 3rd ed. 2013, section 4.1, from memory). What the instruments do is in the model of the
readings: the zero of each series, slack that shows as a loop between going and coming back, a
balance that reads all loads high or low by one share, and the bar's own modulus.

A reading that cannot tell is not used to pretend: `Told.learnt` says by how much a doubt shrank.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import exp, hypot, inf, log, sqrt

import numpy as np
from scipy.linalg import cholesky, solve_triangular
from scipy.optimize import approx_fprime, least_squares

from .beam import beam_model
from .case import Case
from .errors import ModelError
from .model import Floats, factorised
from .modes import undamped_modes
from .push import DIVISIONS_WANTED, PullSeries, PushTest, Way
from .pushed_bar import PushedBar, SpringName, Springs, pushed_bar
from .support import AnySupport
from .tap import Pitch, Spread, TapTest
from .units import Estimate
from .work import Work

NINETY = 1.6448536269514722
"""Standard deviations on either side that hold nine out of ten."""
TYPED_DOUBT = log(3.0) / NINETY
"""Of a stiffness typed without a range: nine in ten within a factor of three (judgement)."""
MODULUS_DOUBT = 0.015
"""Scatter of a steel's modulus between data books, one standard deviation."""
PITCH_DOUBT = 0.01
"""What the model itself may be off in a pitch: hole, dog, masses (judgement)."""
GRIP_DOUBT = 0.03
"""The same where jaws hold the bar, for nobody knows where along the grip they act (judgement)."""
GIVE_DOUBT = 0.03
"""What the model itself may be off in the give at one place (judgement)."""
DAMPING_DOUBT = 0.25
"""What a bar that is tapped loses over what a turning one does, one standard deviation of the log
(judgement): centres run dry, jaws sit otherwise, a small swing loses less."""
LEAST_LEARNT = 0.1
"""A doubt that shrank by less than this was not told anything."""
_PITCH_REACH = 1.7
"""A first pitch lies within this factor of what guessed supports make of it (judgement)."""
_ZERO_DOUBT = 1e-3
_LOOP_DOUBT = 5e-5
"""Widest loop between going and coming back that is slack and not a fault, m (judgement)."""
_MISFIT = 1.4
"""Scatter about the model that sixty sound readings show once in ten thousand tests."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown:
    """One stiffness that readings may tell.

    Attributes
    ----------
    name : dotted, as the case has it
    kind : kind of quantity
    springs : of the bar's supports that go with it; none for the work's
    way : the way it acts, where up and down and sideways are told apart
    thought : likely value with the range that holds nine in ten, SI
    """

    name: str
    kind: str
    springs: tuple[tuple[str, SpringName], ...]
    way: Way | None
    thought: Estimate

    @property
    def prior(self) -> tuple[float, float]:
        """Log of the likely value, and the standard deviation of that."""
        return log(self.thought), _doubt_of(self.thought)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What the readings say of one unknown.

    Attributes
    ----------
    name, kind : as the case has it
    before, after : likely value and the range that holds nine out of ten, SI
    learnt : by how much its doubt shrank, 0 not at all, 1 to nothing
    """

    name: str
    kind: str
    before: Estimate
    after: Estimate
    learnt: float

    @property
    def tells(self) -> bool:
        """Whether the readings told enough to be worth writing down."""
        return self.learnt >= LEAST_LEARNT

    @property
    def far_off(self) -> bool:
        """Whether it came out beyond the range it was thought to have."""
        return not self.before.low <= self.after <= self.before.high


@dataclass(frozen=True, slots=True, kw_only=True)
class TappedPitch:
    """A pitch heard at a tap: the first of the bar, one way.

    Attributes
    ----------
    way : which way the bar was tapped
    frequency, scatter : Hz, and one standard deviation
    damping : ratio with its range, where the tap tells it
    """

    way: Way
    frequency: float
    scatter: float
    damping: Estimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesCheck:
    """How far one series moved against what its indicator shows, and what would tell more.

    Attributes
    ----------
    pull_at, read_at : m
    movement : m
    divisions : movement over resolution
    most_pull : N, the largest pull of the series
    wanted_pull : N, that would move it `push.DIVISIONS_WANTED` divisions
    """

    pull_at: float
    read_at: float
    way: Way
    movement: float
    divisions: float
    most_pull: float
    wanted_pull: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SupportFit:
    """What a set of readings says, complete.

    Attributes
    ----------
    told : every unknown, in the order of the case
    correlation : (n_told, n_told), of the logs of what they came out as
    misfit : scatter of the readings about the model over what the instruments explain; near 1
    series : each series of pulls
    pitches : Hz, each tapped way as (heard, before, after)
    """

    told: tuple[Told, ...]
    correlation: Floats
    misfit: float
    series: tuple[SeriesCheck, ...]
    pitches: Mapping[Way, tuple[float, float, float]]

    @property
    def any_told(self) -> bool:
        """Whether anything was told at all."""
        return any(one.tells for one in self.told)

    @property
    def disagrees(self) -> bool:
        """Whether the readings scatter about the model by more than the instruments explain."""
        return self.misfit > _MISFIT


def unknowns(case: Case, ways: Sequence[Way], *, work: bool = False) -> tuple[Unknown, ...]:
    """Stiffnesses of a case that pulling these ways can tell.

    One a support where it was pulled one way only, one each way where it was pulled both ways; the
    tilt of what grips; the work's if the work was pulled.
    """
    found: list[Unknown] = []
    for key, name, support in _supports(case):
        found += _radial(key, name, support, ways)
        if 0.0 < support.tilt_stiffness < inf:
            spring: tuple[tuple[str, SpringName], ...] = ((name, "tilt"),)
            found.append(
                Unknown(
                    name=f"{key}.tilt_stiffness",
                    kind="turn stiffness",
                    springs=spring,
                    way=None,
                    thought=_thought(support.tilt_stiffness),
                )
            )
    if work:
        found += _radial("work", "", case.work, ways)
    return tuple(found)


def _supports(case: Case) -> Iterator[tuple[str, str, AnySupport]]:
    others = iter(range(len(case.supports.others)))
    for name, support, _ in case.placed_supports:
        key = name if name in ("drive", "tail") else f"others[{next(others)}]"
        yield f"supports.{key}", name, support


_FIELD: dict[Way, SpringName] = {"up and down": "vertical", "sideways": "horizontal"}


def _radial(
    key: str, name: str, part: AnySupport | Work, ways: Sequence[Way]
) -> Iterator[Unknown]:
    """Unknowns of a radial stiffness: one, or one each way."""
    apart = len(set(ways)) > 1
    for way in dict.fromkeys(ways) if apart else (None,):
        field = f"{_FIELD[way]}_stiffness" if way else "radial_stiffness"
        guess = getattr(part, field) or part.radial_stiffness
        if guess < inf:
            fields: tuple[SpringName, ...] = (_FIELD[way],) if way else ("vertical", "horizontal")
            yield Unknown(
                name=f"{key}.{field}",
                kind="stiffness",
                springs=tuple((name, one) for one in fields) if name else (),
                way=way,
                thought=_thought(guess),
            )


def _thought(guess: float) -> Estimate:
    """A value with its range; one typed without a range is doubted all the same."""
    if isinstance(guess, Estimate) and 0 < guess.low < guess.high:
        return guess
    return _estimate(log(guess), TYPED_DOUBT)


def _doubt_of(value: Estimate) -> float:
    """Standard deviation of the log of a value whose range holds nine in ten."""
    return log(value.high / value.low) / 2 / NINETY


def _estimate(middle: float, scatter: float) -> Estimate:
    reach = exp(NINETY * scatter)
    return Estimate(exp(middle), exp(middle) / reach, exp(middle) * reach)


def pitch_doubt(case: Case) -> float:
    """What the model of a case may be off in a pitch, one standard deviation as a share."""
    return GRIP_DOUBT if hasattr(case.supports.drive, "grip") else PITCH_DOUBT


def fit_supports(
    case: Case, push: PushTest | None, taps: Sequence[TappedPitch] = ()
) -> SupportFit:
    """Stiffnesses of a case from a push test, taps, or both.

    Raises
    ------
    ModelError
        There is no reading, or none of what holds the bar is in doubt.
    """
    return _Fit(case, push, tuple(taps)).result()


@dataclass(frozen=True, slots=True, kw_only=True)
class Foreseen:
    """What a test would tell.

    Attributes
    ----------
    told : every unknown, its likely value unmoved and its doubt as it would be left
    gives : m/N, movement per pull of each series
    """

    told: tuple[Told, ...]
    gives: tuple[float, ...]


def foreseen(
    case: Case, push: PushTest, taps: Sequence[TappedPitch] = (), *, hole: bool = True
) -> Foreseen:
    """What a test would tell before it is made; its readings count for nothing.

    Parameters
    ----------
    hole : whether the bar of the test has the case's cross-hole
    """
    problem = _Fit(case, push, tuple(taps), hole=hole)
    return Foreseen(told=problem.foreseen(), gives=tuple(problem.gives(problem.start)))


class _Fit:
    """One least-squares problem: unknown logs, then modulus and balance, all against readings."""

    def __init__(
        self,
        case: Case,
        push: PushTest | None,
        taps: tuple[TappedPitch, ...],
        *,
        hole: bool = True,
    ) -> None:
        series = push.series if push else ()
        if not series and not taps:
            message = "there is nothing to fit: give a push test, a tap, or both"
            raise ModelError(message)
        self.case, self.push, self.taps, self.series = case, push, taps, series
        self.hole = hole
        self.ways = tuple(dict.fromkeys([*(s.way for s in series), *(t.way for t in taps)]))
        work = any(one.on == "work" for one in series)
        self.unknowns = unknowns(case, self.ways, work=work)
        if not self.unknowns:
            message = "every support is rigid in this case, so there is nothing to tell"
            raise ModelError(message)

    @cached_property
    def places(self) -> tuple[float, ...]:
        return tuple(
            dict.fromkeys(
                x for one in self.series if one.on == "bar" for x in (one.pull_at, one.read_at)
            )
        )

    @cached_property
    def bar(self) -> PushedBar:
        for x in self.places:
            if not self.case.ends[0] <= x <= self.case.ends[1]:
                message = (
                    f"a reading at {1000 * x:.0f} mm lies off the bar, which goes from "
                    f"{1000 * self.case.ends[0]:.0f} to {1000 * self.case.ends[1]:.0f} mm; give "
                    "places from the drive support"
                )
                raise ModelError(message)
        return pushed_bar(self.case, self.places, hole=self.hole)

    @cached_property
    def whitening(self) -> tuple[Floats, ...]:
        """Of each series: Cholesky factor of its scatter, zero and loop included."""
        assert self.push is not None
        resolution = self.push.instruments.resolution
        return tuple(_scatter(one, resolution) for one in self.series)

    def springs(self, theta: Floats) -> Springs:
        return {
            spring: exp(value)
            for unknown, value in zip(self.unknowns, theta, strict=False)
            for spring in unknown.springs
        }

    def gives(self, theta: Floats) -> list[float]:
        """Movement per pull of each series, m/N."""
        modulus = exp(theta[len(self.unknowns)])
        table = self.bar.gives(self.springs(theta), modulus=modulus) if self.places else None
        return [self._give(one, theta, table) for one in self.series]

    def _give(self, series: PullSeries, theta: Floats, table: Floats | None) -> float:
        if series.on == "work" or table is None:
            names = (f"work.{_FIELD[series.way]}_stiffness", "work.radial_stiffness")
            number = next(n for n, u in enumerate(self.unknowns) if u.name in names)
            return exp(-theta[number])
        way = 0 if series.way == "up and down" else 1
        read, pull = self.places.index(series.read_at), self.places.index(series.pull_at)
        return float(table[read, way, pull, way])

    def pitches(self, theta: Floats) -> Mapping[Way, float]:
        modulus = exp(theta[len(self.unknowns)])
        return self.bar.pitches(self.springs(theta), modulus=modulus)

    @property
    def pitch_doubt(self) -> float:
        """What the model may be off in a pitch, one standard deviation as a share."""
        return pitch_doubt(self.case)

    @property
    def start(self) -> Floats:
        return np.array([*(one.prior[0] for one in self.unknowns), 0.0, 0.0])

    @property
    def doubt(self) -> Floats:
        scale = self.push.instruments.scale_error if self.push else 0.02
        return np.array([*(one.prior[1] for one in self.unknowns), MODULUS_DOUBT, scale])

    def from_readings(self, theta: Floats) -> Floats:
        """Each reading less what the model says, in standard deviations."""
        parts: list[Floats] = []
        scale = exp(theta[-1])
        if self.series:
            for one, give, factor in zip(
                self.series, self.gives(theta), self.whitening, strict=True
            ):
                off = one.reading - scale * give * one.pull
                parts.append(solve_triangular(factor, off, lower=True))
        if self.taps:
            said = self.pitches(theta)
            parts.append(
                np.array(
                    [
                        log(tap.frequency / said[tap.way])
                        / sqrt(self.pitch_doubt**2 + (tap.scatter / tap.frequency) ** 2)
                        for tap in self.taps
                    ]
                )
            )
        return np.concatenate(parts)

    def off(self, theta: Floats) -> Floats:
        return np.concatenate([self.from_readings(theta), (theta - self.start) / self.doubt])

    def result(self) -> SupportFit:
        solved = least_squares(self.off, self.start, x_scale=self.doubt, diff_step=1e-5)
        covariance = np.linalg.inv(solved.jac.T @ solved.jac)
        n = len(self.unknowns)
        scatter = np.sqrt(np.diag(covariance))
        correlation = covariance / scatter / scatter[:, None]
        return SupportFit(
            told=self._told(solved.x, scatter),
            correlation=correlation[:n, :n],
            misfit=self._misfit(solved.x),
            series=self._checks(),
            pitches=self._heard(solved.x),
        )

    def _told(self, theta: Floats, scatter: Floats) -> tuple[Told, ...]:
        return tuple(
            Told(
                name=one.name,
                kind=one.kind,
                before=one.thought,
                after=_estimate(float(theta[k]), float(scatter[k])),
                learnt=max(0.0, 1.0 - float(scatter[k]) / one.prior[1]),
            )
            for k, one in enumerate(self.unknowns)
        )

    def foreseen(self) -> tuple[Told, ...]:
        """What readings like these would tell if all is as it is thought to be; none is used."""
        slope = approx_fprime(self.start, self.off, 1e-5 * self.doubt)
        return self._told(self.start, np.sqrt(np.diag(np.linalg.inv(slope.T @ slope))))

    def _misfit(self, theta: Floats) -> float:
        """Root mean square of the readings' deviations, over the readings there are to spare."""
        off = self.from_readings(theta)
        # Zero and loop take one reading each out of every series.
        spent = sum(1 + bool(one.returning.any()) for one in self.series)
        return float(np.sqrt((off**2).sum() / max(off.size - spent, 1)))

    def _checks(self) -> tuple[SeriesCheck, ...]:
        if self.push is None:
            return ()
        resolution = self.push.instruments.resolution
        return tuple(
            SeriesCheck(
                pull_at=one.pull_at,
                read_at=one.read_at,
                way=one.way,
                movement=one.movement,
                divisions=one.movement / resolution,
                most_pull=float(one.pull.max()),
                wanted_pull=float(np.ptp(one.pull))
                * DIVISIONS_WANTED
                * resolution
                / max(one.movement, resolution),
            )
            for one in self.series
        )

    def _heard(self, theta: Floats) -> dict[Way, tuple[float, float, float]]:
        if not self.taps:
            return {}
        before, after = self.pitches(self.start), self.pitches(theta)
        return {tap.way: (tap.frequency, before[tap.way], after[tap.way]) for tap in self.taps}


def first_pitch(case: Case, way: Way, tests: Sequence[TapTest]) -> TappedPitch:
    """The bar's first pitch among what recordings of taps one way brought out.

    The strongest pitch within `_PITCH_REACH` of where the case expects it; several recordings
    are averaged, their doubts kept.

    Raises
    ------
    ModelError
        No recording has a pitch there.
    """
    thought = pushed_bar(case, ()).pitches({})[way]
    near = [_strongest_near(test.pitches, thought) for test in tests]
    heard = [pitch for pitch in near if pitch is not None]
    if not heard:
        low, high = thought / _PITCH_REACH, thought * _PITCH_REACH
        message = (
            f"no pitch from {low:.0f} to {high:.0f} Hz was heard {way}, where this bar should "
            "ring; tap the bar at the bit, that way, with the phone close to it"
        )
        raise ModelError(message)
    middle = exp(float(np.mean([log(one.frequency.likely) for one in heard])))
    damped = [one.damping for one in heard if one.damping is not None]
    return TappedPitch(
        way=way,
        frequency=middle,
        scatter=middle * max(one.frequency.sigma for one in heard),
        damping=_mean_damping(damped),
    )


def _strongest_near(pitches: Sequence[Pitch], thought: float) -> Pitch | None:
    near = [one for one in pitches if abs(log(one.frequency.likely / thought)) < log(_PITCH_REACH)]
    return max(near, key=lambda one: one.level, default=None)


def _mean_damping(heard: Sequence[Spread]) -> Estimate | None:
    if not heard:
        return None
    likely = exp(float(np.mean([log(one.likely) for one in heard])))
    low = min(1.0, *(one.low / one.likely for one in heard))
    high = max(1.0, *(one.high / one.likely for one in heard))
    return Estimate(likely, likely * low, likely * high)


def fit_damping(case: Case, taps: Sequence[TappedPitch]) -> tuple[Told, ...]:
    """Damping of the bar and of its supports, all moved by one factor, from what the taps lost.

    A tap tells the whole loss of one mode and not whose it is, so the shares stay as they were
    thought to be.
    """
    heard = [tap.damping for tap in taps if tap.damping is not None]
    if not heard:
        return ()
    expected = _first_damping(case)
    middle = float(np.mean([log(one) for one in heard]))
    # Two taps of one lathe share its doubts, so their scatter is not shrunk by their number.
    scatter = hypot(max(_doubt_of(one) for one in heard), DAMPING_DOUBT)
    factor = middle - log(expected)
    return tuple(
        Told(
            name=name,
            kind=kind,
            before=thought,
            after=_estimate(log(thought) + factor, scatter),
            learnt=max(0.0, 1.0 - scatter / _doubt_of(thought)),
        )
        for name, kind, guess in _dampers(case)
        for thought in [_thought(guess)]
    )


def _dampers(case: Case) -> Iterator[tuple[str, str, float]]:
    yield "bar.damping_ratio", "share", case.bar.damping_ratio
    for key, _, support in _supports(case):
        yield f"{key}.damping", "damping", support.damping


def _first_damping(case: Case) -> float:
    """Damping ratio of the lowest bending mode as the case has it, bar and dampers together."""
    modes = undamped_modes(factorised(beam_model(case)), count=6, counted=False)
    first = int(np.argmin(np.abs(modes.frequency - modes.first_bending)))
    return float(case.bar.damping_ratio + modes.damping[first])


def _scatter(series: PullSeries, resolution: float) -> Floats:
    """Cholesky factor of the scatter of a series: reading, zero, loop, and model, (n, n), m.

    Zero, loop and what the model is off at this place are unknowns that nobody asks for; widening
    the scatter by them is the same as fitting them and forgetting the answer.
    """
    n = series.reading.size
    loop = series.returning
    scatter = resolution**2 * np.eye(n) + _ZERO_DOUBT**2 * np.ones((n, n))
    along = GIVE_DOUBT * series.movement * series.pull / np.ptp(series.pull)
    scatter += np.outer(along, along)
    scatter += _LOOP_DOUBT**2 * np.outer(loop, loop)
    return np.asarray(cholesky(scatter, lower=True))
