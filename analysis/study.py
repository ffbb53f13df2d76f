"""A study: everything in doubt drawn together, what comes out of it, and what drives it.

Draws are points of a scrambled Sobol sequence (I. M. Sobol; A. B. Owen; from memory, by scipy),
cut into blocks that do not depend on how many processes share them, so a seed gives the same
answers on any machine. Quantiles and chances come from all draws; what drives an answer from a
second design on the first of them (see `sensitivity`); what measuring a value would bring from
the draws themselves: sorted by that value into slices, the band left within a slice is the band
that would be left if the value were known.

Sizes in doubt (a grip, where a dog sits) change the bar itself. They are taken at a few equally
likely values each, so that one bar serves many draws.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from math import ceil, log2
from multiprocessing import get_context

import numpy as np
from numpy.typing import NDArray

from .case import Case
from .doubt import Doubt, doubts, drawn, is_size, with_values
from .keys import Key
from .model import Floats
from .sensitivity import Influence, influences
from .trial import NAMES, Answers, Bench, answers, bench, joined, moves_mass

BLOCK = 64
MOST_BARS, MOST_LEVELS = 128, 16
"""Bars that are made for sizes in doubt, and values that one size is taken at, at most."""
SLICES = 16
WORTH_A_PROCESS = 1024
"""Draws from which a second process pays for its start."""
DRIVEN = ("size_error", "first_mode", "gain_margin")
"""Answers whose drivers are looked for, over their logarithm."""
TOP_MARGIN, LEAST = 100.0, 1e-12
"""What a margin counts at most where its scatter is weighed, and any answer at least."""
QUANTILES = (0.1, 0.5, 0.9)
SEED = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """What an answer is in 10, 50 and 90 of 100 draws at most; inf where there is no limit."""

    low: float
    middle: float
    high: float

    @property
    def factor(self) -> float:
        """High end over low end."""
        return self.high / self.low if self.low > 0 else float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """Share of draws with something wrong, and how far it may be off for the number of draws."""

    value: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """What knowing one value would bring: high end over low end of an answer, now and then."""

    now: float
    then: float

    @property
    def narrowing(self) -> float:
        """Share of the band, over its logarithm, that would go."""
        return 1.0 - float(np.log(self.then) / np.log(self.now)) if self.now > 1 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """One value in doubt: what it does to each answer of `DRIVEN`, and what knowing it brings."""

    doubt: Doubt
    influence: Mapping[str, Influence]
    known: Mapping[str, Gain]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Study:
    """Everything that a study found.

    Attributes
    ----------
    case, seed : what was asked
    known : what was in doubt
    points : (n_sample, n_doubt) shares at which the doubts were drawn
    answers : of every draw
    spread, half : of each answer, from all draws and from the first half of them
    chatter, chatter_undamped : draws that sing at the planned cut
    misses : by limit, draws that miss it
    drivers : the most to be gained for the gain margin first
    design : points of the design that the drivers come from
    """

    case: Case
    seed: int
    known: tuple[Doubt, ...]
    points: Floats
    answers: Answers
    spread: Mapping[str, Spread]
    half: Mapping[str, Spread]
    chatter: Chance
    chatter_undamped: Chance
    misses: Mapping[str, Chance]
    drivers: tuple[Driver, ...]
    design: int

    @property
    def count(self) -> int:
        """How many draws."""
        return int(self.points.shape[0])

    @property
    def within_limits(self) -> bool:
        """Whether the middle draw meets each limit."""
        return all(chance.value < 0.5 for chance in self.misses.values())


def study(case: Case, *, samples: int = 4096, seed: int = SEED, processes: int = 1) -> Study:
    """Draw everything in doubt and say what comes out and what drives it.

    Parameters
    ----------
    samples : draws for the quantiles; the design for the drivers takes as many again, about
    processes : how many to share the draws among; the answers do not depend on it

    Raises
    ------
    ModelError
        The supports leave the bar free to move.
    """
    known = doubts(case)
    whole = _points(samples, 2 * max(len(known), 1), seed)
    points, other = whole[:, : len(known)], whole[:, len(known) : 2 * len(known)]
    design = _design_size(samples, len(known))
    a, b = points[:design], other[:design]
    swapped = [_swapped(a, b, k) for k in range(len(known))]
    with _trials(case, known, processes) as trials:
        found = trials(points, True)
        at_b, *at_ab = _split(trials(np.vstack([b, *swapped]), False), design)
    at_a = {name: getattr(found, name)[:design] for name in NAMES}
    influence = {name: _influences(name, at_a, at_b, at_ab, seed) for name in DRIVEN}
    spread = {name: spread_of(getattr(found, name)) for name in NAMES}
    drivers = [
        Driver(
            doubt=doubt,
            influence={name: influence[name][k] for name in DRIVEN},
            known={name: _gain(weighed(name, found), points[:, k]) for name in DRIVEN},
        )
        for k, doubt in enumerate(known)
    ]
    drivers.sort(key=lambda one: -one.known["gain_margin"].narrowing)
    return Study(
        case=case,
        seed=seed,
        known=known,
        points=points,
        answers=found,
        spread=spread,
        half={name: spread_of(getattr(found, name)[: samples // 2]) for name in NAMES},
        chatter=chance(found.gain_margin < 1.0),
        chatter_undamped=chance(found.undamped_margin < 1.0),
        misses=_misses(case, found),
        drivers=tuple(drivers),
        design=design,
    )


def _points(count: int, width: int, seed: int) -> Floats:
    """Points of a scrambled Sobol sequence, (count, width)."""
    # Only here: it takes half a second to load.
    from scipy.stats.qmc import Sobol

    power = ceil(log2(max(count, 2)))
    made = Sobol(width, scramble=True, rng=np.random.default_rng(seed)).random_base2(power)
    return np.asarray(made[:count])


def _design_size(samples: int, n_doubt: int) -> int:
    """Points of the design for the drivers: a power of two that keeps it near the draws."""
    most = max(2.0, 2 * samples / (n_doubt + 1))
    return min(samples, int(2 ** int(log2(most))))


def _swapped(a: Floats, b: Floats, column: int) -> Floats:
    mixed = a.copy()
    mixed[:, column] = b[:, column]
    return mixed


def _split(found: Answers, size: int) -> list[dict[str, Floats]]:
    """Answers of each design in turn."""
    count = found.gain_margin.size // size
    return [
        {name: getattr(found, name)[k * size : (k + 1) * size] for name in NAMES}
        for k in range(count)
    ]


def _influences(
    name: str,
    at_a: Mapping[str, Floats],
    at_b: Mapping[str, Floats],
    at_ab: Sequence[Mapping[str, Floats]],
    seed: int,
) -> tuple[Influence, ...]:
    if not at_ab:
        return ()
    every = [weighed_values(name, one[name]) for one in (at_a, at_b, *at_ab)]
    return influences(every[0], every[1], np.stack(every[2:]), seed=seed)


def weighed(name: str, found: Answers) -> Floats:
    """Logarithm of an answer of every draw, as its scatter is weighed."""
    return weighed_values(name, getattr(found, name))


def weighed_values(name: str, values: Floats) -> Floats:
    """Logarithm of an answer; a margin counts 100 at most."""
    held = np.minimum(values, TOP_MARGIN) if name == "gain_margin" else values
    return np.asarray(np.log(np.maximum(held, LEAST)))


def spread_of(values: Floats) -> Spread:
    """10, 50 and 90 of 100 of some values, each one of them, so that none is a possible answer."""
    low, middle, high = np.quantile(values, QUANTILES, method="inverted_cdf")
    return Spread(low=float(low), middle=float(middle), high=float(high))


def chance(wrong: NDArray[np.bool_]) -> Chance:
    """Share of draws, with half the width of Wilson's interval, nine in ten.

    E. B. Wilson, JASA 22 (1927) 209 (from memory); for independent draws, so a little wide here.
    """
    n, z = wrong.size, 1.6448536269514722
    p = float(wrong.mean())
    return Chance(value=p, error=z / (1 + z**2 / n) * (p * (1 - p) / n + z**2 / (4 * n**2)) ** 0.5)


def _misses(case: Case, found: Answers) -> dict[str, Chance]:
    """Share of draws that miss each limit that this can tell."""
    return {
        "size_error": chance(found.size_error > case.allowed_size_error),
        "gain_margin": chance(found.gain_margin < case.limits.chatter_margin),
        "separation": chance(found.separation < case.limits.separation),
    }


def _gain(values: Floats, share: Floats) -> Gain:
    """Band of an answer now, and on average within slices of one value in doubt."""
    ends = [QUANTILES[0], QUANTILES[-1]]
    order = np.argsort(share, kind="stable")
    slices = np.array_split(values[order], min(SLICES, max(1, values.size // 16)))
    within = [float(np.diff(np.quantile(part, ends))[0]) for part in slices]
    now = float(np.diff(np.quantile(values, ends))[0])
    return Gain(now=float(np.exp(now)), then=float(np.exp(min(now, float(np.mean(within))))))


def swept(found: Study) -> dict[Doubt, Floats]:
    """Every value that was drawn, (n_sample,), sizes at the few values they were taken at."""
    return Trials(found.case, found.known).values(found.points)


# --- many draws ------------------------------------------------------------------------------


class Trials:
    """Draws on a case carried out, a bench kept for each set of sizes.

    Parameters
    ----------
    case : with its likely values
    known : what is in doubt, a column of the points each
    """

    def __init__(self, case: Case, known: Sequence[Doubt]) -> None:
        self.case, self.known = case, known
        self._served = [k for k, doubt in enumerate(known) if not is_size(doubt.key)]
        self._sizes = [k for k in range(len(known)) if k not in self._served]
        self._masses = any(moves_mass(doubt.key) for doubt in known)
        self._benches: dict[tuple[int, ...], Bench] = {}

    @property
    def levels(self) -> int:
        """Values that each size in doubt is taken at."""
        if not self._sizes:
            return 1
        return min(MOST_LEVELS, max(2, int(MOST_BARS ** (1 / len(self._sizes)) + 1e-9)))

    def _level(self, points: Floats) -> NDArray[np.int64]:
        """Which of its values each size in doubt takes, (n_sample, n_size)."""
        level = (points[:, self._sizes] * self.levels).astype(np.int64)
        return np.minimum(level, self.levels - 1)

    def values(self, points: Floats) -> dict[Doubt, Floats]:
        """Values drawn at points, (n_sample,) by what is in doubt."""
        taken = points.copy()
        taken[:, self._sizes] = (self._level(points) + 0.5) / self.levels
        values = drawn(self.case, self.known, taken).values
        return {doubt: values[doubt.key] for doubt in self.known}

    def blocks(self, points: Floats) -> list[tuple[tuple[int, ...], NDArray[np.int64]]]:
        """Which draws go together: those on one bench, some dozens at a time."""
        level = self._level(points)
        each, place = np.unique(level, axis=0, return_inverse=True)
        found = []
        for number, one in enumerate(each):
            rows = np.flatnonzero(place.ravel() == number)
            named = tuple(int(k) for k in one)
            found += [(named, rows[k : k + BLOCK]) for k in range(0, rows.size, BLOCK)]
        return found

    def answers(self, level: tuple[int, ...], points: Floats, *, depth: bool) -> Answers:
        """Answers of draws that share their sizes."""
        ready = self._bench(level)
        known = [self.known[k] for k in self._served]
        return answers(ready, drawn(ready.case, known, points[:, self._served]), depth=depth)

    def _bench(self, level: tuple[int, ...]) -> Bench:
        if level not in self._benches:
            sized = with_values(self.case, self._sizes_at(level))
            self._benches[level] = bench(sized, masses=self._masses)
        return self._benches[level]

    def _sizes_at(self, level: tuple[int, ...]) -> dict[Key, float]:
        """Middle of each equally likely stretch."""
        share = (np.array(level, dtype=float) + 0.5) / self.levels
        return {
            self.known[k].key: float(self.known[k].at(share[i : i + 1])[0])
            for i, k in enumerate(self._sizes)
        }


Task = tuple[tuple[int, ...], Floats, bool]
_own: list[Trials] = []
"""Of a worker process, made once as it starts."""


def _start(case: Case, known: Sequence[Doubt]) -> None:
    _own[:] = [Trials(case, known)]


def _carried_out(task: Task) -> Answers:
    level, points, depth = task
    return _own[0].answers(level, points, depth=depth)


@contextmanager
def _trials(
    case: Case, known: Sequence[Doubt], processes: int
) -> Iterator[Callable[[Floats, bool], Answers]]:
    """Something that carries out draws at points, (n_sample, n_doubt), here or in processes."""
    own = Trials(case, known)

    def here(tasks: list[Task]) -> list[Answers]:
        return [own.answers(level, points, depth=depth) for level, points, depth in tasks]

    def through(run: Callable[[list[Task]], list[Answers]]) -> Callable[[Floats, bool], Answers]:
        def carry(points: Floats, depth: bool) -> Answers:
            blocks = own.blocks(points)
            found = run([(level, points[rows], depth) for level, rows in blocks])
            order = np.argsort(np.concatenate([rows for _, rows in blocks]))
            whole = joined(found)
            return Answers(**{name: getattr(whole, name)[order] for name in NAMES})

        return carry

    if processes < 2:
        yield through(here)
        return
    with get_context("spawn").Pool(processes, _start, (case, known)) as pool:
        yield through(lambda tasks: pool.map(_carried_out, tasks, chunksize=4))
