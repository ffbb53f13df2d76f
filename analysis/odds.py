"""How far out of its likely value each range is taken, so that a band holds 8 times in 10.

With every guess at its worst end at once a set-up is met that hardly ever is. Draws (see `trial`)
tell the band that 8 in 10 lie in; what needs a whole bar at each end of that band, and not a
number alone, takes every range a share of the way out, the same share for all, such that the
gain margin of the case's own cut comes out at the band's ends. Other depths, speeds and set-ups
go the same share out: their ends are then close to 1 in 10, not exactly there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product
from math import inf, log
from typing import Literal, NamedTuple

import numpy as np

from .beam import held_at
from .case import Case
from .doubt import FACTOR, Doubt, Draws, doubts, drawn, is_size, value_at, with_values
from .force import cutting_force
from .keys import Key
from .model import Factored, Floats
from .statics import size_and_ovality
from .trial import Answers, answers, bench, moves_mass
from .units import Estimate

DRAWS = 128
SHARE_OUT = 0.1
"""Of the draws, below and above a band."""
START = 0.35
ROUNDS, FARTHEST = 3, 3.0
SEED = 20
_FORCE = ("specific_force", "normal_force", "power_constant", "edge_wear")
_DAMPS = ("damping", "damping_ratio", "process_damping")
Side = Literal["low", "high"]
SIDES: tuple[Side, Side] = ("low", "high")
Ends = Callable[[float, float], tuple[float, float]]
"""An answer at the low and at the high side, each a share of the way out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Shares of the way from the likely value to the end of each range.

    Attributes
    ----------
    low, high : towards soft, lightly damped and pushed hard, and the other way
    either : of stiffness and mass where soft may be better or worse, so that both ends are tried
        both ways; None where soft is always the low side
    """

    low: float
    high: float
    either: float | None = None


WHOLE = Reach(low=1.0, high=1.0, either=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """How far out to go for the ends of the bands.

    Attributes
    ----------
    margin, size : for the gain margin, and for the size error
    pitch : first mode at the low and at the high end of its band, over the likely one
    """

    margin: Reach
    size: Reach
    pitch: tuple[float, float]


def odds(case: Case) -> Odds:
    """How far out to go so that 8 draws in 10 lie between the ends."""
    few = FewDraws(case)
    return Odds(margin=few.margin_reach(), size=few.size_reach(), pitch=few.pitch_ends())


def margin_reach(case: Case) -> Reach:
    """How far out to go for the ends of the gain margin's band alone."""
    return FewDraws(case).margin_reach()


class _Way(NamedTuple):
    """Which side of its range each part is taken at."""

    supports: Side
    work: Side
    push: Side
    damping: Side


_BAD = [_Way(supports, work, "high", "low") for supports, work in product(SIDES, SIDES)]
_GOOD = [_Way(supports, work, "low", "high") for supports, work in product(SIDES, SIDES)]
"""What lowers and what raises the gain margin, as the corners of `chatter` are chosen from."""
_SOFT, _STIFF = _Way("low", "low", "high", "low"), _Way("high", "high", "low", "high")


class FewDraws:
    """A small, fixed Latin hypercube of draws on a case; sizes stay at their likely values."""

    def __init__(self, case: Case) -> None:
        self._known = [doubt for doubt in doubts(case) if not is_size(doubt.key)]
        masses = any(moves_mass(doubt.key) for doubt in self._known)
        self._ready = bench(case, masses=masses, depth=False)
        shares = _hypercube(DRAWS, len(self._known))
        self.answers = answers(self._ready, drawn(case, self._known, shares), depth=False)
        likely = Draws(case=case, values={}, count=1)
        self._likely = answers(self._ready, likely, depth=False)

    def margin_reach(self) -> Reach:
        """For the gain margin, whichever of soft and stiff is worse."""

        def ends(low: float, high: float) -> tuple[float, float]:
            reach = Reach(low=low, high=high, either=(low + high) / 2)
            found = self._at(reach, [*_BAD, *_GOOD]).gain_margin
            return float(found[:4].min()), float(found[4:].max())

        low, high = self._shares("gain_margin", ends)
        return Reach(low=low, high=high, either=(low + high) / 2)

    def size_reach(self) -> Reach:
        """For the size error: soft and pushed hard, and stiff and pushed lightly."""
        low, high = self._shares("size_error", self._sprung("size_error"))
        return Reach(low=low, high=high)

    def pitch_ends(self) -> tuple[float, float]:
        """First mode that a tenth of the draws lie below and above, over the likely one.

        Straight from the draws: it hangs on the steel as well, which no corner moves.
        """
        low, high = self._tenths("first_mode") / float(self._likely.first_mode[0])
        return float(low), float(high)

    def _tenths(self, name: str) -> Floats:
        drawn_ones = getattr(self.answers, name)
        shares = [SHARE_OUT, 1 - SHARE_OUT]
        return np.asarray(np.quantile(drawn_ones, shares, method="inverted_cdf"))

    def _sprung(self, name: str) -> Ends:
        def ends(low: float, high: float) -> tuple[float, float]:
            found = getattr(self._at(Reach(low=low, high=high), [_SOFT, _STIFF]), name)
            return float(found[0]), float(found[1])

        return ends

    def _shares(self, name: str, ends: Ends) -> tuple[float, float]:
        """Shares out at which an answer comes to the tenths of its draws."""
        likely, tenths = float(getattr(self._likely, name)[0]), self._tenths(name)
        # A soft set-up is off size by more, so its end of that band is the upper one.
        low_goal, high_goal = tenths[::-1] if name == "size_error" else tenths
        low = high = START
        for _ in range(ROUNDS):
            at_low, at_high = ends(low, high)
            low = _nearer(low, likely, at_low, float(low_goal))
            high = _nearer(high, likely, at_high, float(high_goal))
        return low, high

    def _at(self, reach: Reach, ways: Sequence[_Way]) -> Answers:
        """Answers with everything at one side or the other of its range, as far out as said."""
        values = {
            doubt.key: np.array([_at_side(doubt, reach, way) for way in ways])
            for doubt in self._known
        }
        draws = Draws(case=self._ready.case, values=values, count=len(ways))
        return answers(self._ready, draws, depth=False)


def _at_side(doubt: Doubt, reach: Reach, way: _Way) -> float:
    """Value of one thing in doubt; what no corner moves stays likely."""
    key, last = doubt.key, str(doubt.key[-1])
    if key[0] == FACTOR:
        return float(getattr(doubt, way.push))
    side = None
    if last in _FORCE or key[:2] == ("cut", "force"):
        side = way.push
    elif last in _DAMPS:
        side = way.damping
    elif last.endswith("_stiffness") or key == ("work", "mass"):
        side = way.work if key[0] == "work" else way.supports
    return doubt.likely if side is None else float(getattr(_part_of(doubt, reach), side))


def _hypercube(count: int, width: int) -> Floats:
    """One point in each of `count` equal stretches of every input, (count, width).

    M. D. McKay, R. J. Beckman & W. J. Conover, Technometrics 21 (1979) 239 (from memory). The
    sequence of `study` would cost a run half a second to load.
    """
    rng = np.random.default_rng(SEED)
    rows = np.argsort(rng.random((count, width)), axis=0)
    return np.asarray((rows + rng.random((count, width))) / count)


def _nearer(share: float, likely: float, got: float, wanted: float) -> float:
    """Share that brings an answer from `got` to `wanted`, its logarithm going by the share."""
    if inf in (likely, got, wanted) or min(likely, got, wanted) <= 0.0 or got == likely:
        return share
    return min(FARTHEST, max(0.0, share * log(wanted / likely) / log(got / likely)))


# --- what comes out at the ends --------------------------------------------------------------


def size_errors(case: Case, factored: Factored, at: Reach) -> dict[Side, float]:
    """Size of the diameter error, m: soft and pushed hard, stiff and pushed lightly."""
    narrow = narrowed(case, at)
    force = cutting_force(narrow)
    found: dict[Side, float] = {}
    for side, push in zip(SIDES, reversed(SIDES), strict=True):
        moved, held = held_at(narrow, factored, side)
        found[side] = abs(size_and_ovality(moved, force.at(push), held)[0])
    return found


# --- ranges taken a share of the way out -----------------------------------------------------


def narrowed(case: Case, at: Reach) -> Case:
    """The case with each of its ranges taken a share of the way out."""
    ranges = [one for one in doubts(case) if isinstance(value_at(case, one.key), Estimate)]
    return with_values(
        case, {one.key: _part_of(one, at) for one in ranges if not is_size(one.key)}
    )


def _part_of(doubt: Doubt, at: Reach) -> Estimate:
    down, up = _shares(doubt.key, at)
    likely = doubt.likely
    if doubt.low > 0.0:
        low = likely * (doubt.low / likely) ** down
        return Estimate(likely, low, likely * (doubt.high / likely) ** up)
    low = likely + down * (doubt.low - likely)
    low = max(low, 0.0) if doubt.low >= 0.0 else low
    return Estimate(likely, low, likely + up * (doubt.high - likely))


def _shares(key: Key, at: Reach) -> tuple[float, float]:
    """Shares of the low and of the high side of a range."""
    if key[-1] in _FORCE or key[:2] == ("cut", "force"):
        return at.high, at.low
    if key[-1] in _DAMPS or at.either is None:
        return at.low, at.high
    return at.either, at.either
