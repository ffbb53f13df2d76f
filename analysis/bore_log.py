"""Bores as they were measured, pass after pass: what the cut really does, and the next pass.

An edge set to a diameter X finds a bore D and leaves one of

    D' = X - q (X - D),    q = g/(1 + g),    X = 2 reading - bar diameter + z,

with g the short-fall per depth of cut (see `passes`) and z what every setting is off by: the zero
of the micrometer, run-out at the bit. Each setting scatters besides, by the reading and by the
bit that moves as its screw is nipped. Each pass measured tells of g and z together; a pass at the
same setting tells of g alone. Both start as what is thought of them, g within the range of the
run, and come out as most probable (Bayes' rule, see `fit`). What g tells of the force it tells of
the stiffness as well: only where the stiffness was measured is the difference the edge's.

Each bore is held to what its setting, the spring and the other passes make of it. One that is off
by several times what is likely was measured, set or written down wrong: no setting is given from
it. One that is off by less widens every range by as much as it is off.

The next pass keeps the rule of the passes: of what is left it takes as large a share as every cut
after it, none deeper than the case has them, so that the last two are alike and spring cancels.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil, exp, log, sqrt
from pathlib import Path
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from .case import Case
from .errors import ModelError
from .fit import LEAST_LEARNT, NINETY
from .judge import Band
from .model import Floats
from .passes import LEAST_CUT, SAME_CUT, micrometer_reading, pass_count
from .shop_table import Column, read_shop_table
from .units import Estimate, rough, show

COLUMNS = (
    Column("setting", "length", ("micrometer", "reading", "mic")),
    Column("bore", "length", ("measured", "bore measured"), needed=True),
)
SETTINGS = (Column("gauge", "length", ("gauge reads", "resolution")),)
GAUGE = 2.5e-6
"""Scatter of a bore gauge set from a ring, one standard deviation, m (judgement)."""
SET_SCATTER = 5e-6
"""Scatter of one setting on the diameter, one standard deviation, m: half a division of a
micrometer that reads to 0.01 mm, and the nip of the screw (judgement)."""
ZERO_DOUBT = 10e-6
"""Of a setting on the diameter, one standard deviation, m: micrometer, bit and run-out
(judgement)."""
AS_DEEP = 1.25
"""A cut up to this many times another still repeats it (judgement)."""
FAR = 3.0
"""A bore off by more than so many times what is likely is a slip and no scatter (judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoreLog:
    """Bores of a job as measured.

    Attributes
    ----------
    start : m, the bore before the first pass
    setting : (n_pass,) m, micrometer over bit and bar
    bore : (n_pass,) m, measured after each pass
    gauge : m, scatter of one measured bore
    """

    start: float
    setting: Floats
    bore: Floats
    gauge: float = GAUGE


@dataclass(frozen=True, slots=True, kw_only=True)
class NextPass:
    """What to set next and what to expect.

    Attributes
    ----------
    reading : m, micrometer over bit and bar that is expected to bring the bore to its aim
    bore : m, expected after it
    same_again : m, expected after one more pass at the last setting
    depth : m on the radius, what it is to take
    cuts : how many as deep as one another are left, this one among them
    ends_at : m, the bore that those end at where they are roughing; None at size
    """

    reading: float
    bore: Band
    same_again: Band
    depth: float
    cuts: int
    ends_at: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stray:
    """How far one bore lies off what its setting, the spring and the other passes make of it.

    Attributes
    ----------
    number : of the pass, from 1
    off : m, measured less expected
    likely : m, what it may be off that way; in nine logs out of ten no pass is farther off
    """

    number: int
    off: float
    likely: float

    @property
    def times_likely(self) -> float:
        """How many times as far off as is likely."""
        return abs(self.off) / self.likely

    @property
    def widens(self) -> float:
        """By what every range is widened for it; 1 where it fits."""
        return max(1.0, self.times_likely)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Learnt:
    """What a bore log tells.

    Attributes
    ----------
    ratio_before, ratio : short-fall per depth of cut, thought and learnt, nine in ten
    zero : m on the diameter, by which settings cut large, with its range
    force_factor : force over what was thought, if the stiffness is as the case says
    left : (n_pass,) m, measured less what the model says after learning
    expected_before : (n_pass,) m, what the run would have expected of each pass
    stray : the pass that lies farthest off what the others make of it
    next_pass : None where the bore is already past its aim
    """

    ratio_before: Estimate
    ratio: Estimate
    zero: Estimate
    force_factor: Estimate
    left: Floats
    expected_before: Floats
    stray: Stray
    next_pass: NextPass | None

    @property
    def tells(self) -> bool:
        """Whether the bores told enough of the short-fall to be worth writing down."""
        before, after = self.ratio_before, self.ratio
        return log(after.high / after.low) < (1 - LEAST_LEARNT) * log(before.high / before.low)


def read_bore_log(path: str | Path) -> BoreLog:
    """Bores measured, in a file: the first row the bore as found, then a row a pass.

    Raises
    ------
    CaseError
        A column, a unit or a value is wrong, or there is no pass.
    """
    table = read_shop_table(path, COLUMNS, SETTINGS)
    first, *passes = table.rows
    if "setting" in first:
        message = "the first row is the bore before any pass; leave its setting empty"
        raise table.refused(0, "setting", message)
    if not passes:
        raise table.refused(0, "bore", "there is no pass below it; add one a line")
    for number, row in enumerate(passes, start=1):
        if "setting" not in row:
            message = "a pass needs what the micrometer over bit and bar was set to"
            raise table.refused(number, "setting", message)
    gauge = float(table.settings.get("gauge", GAUGE))
    if not gauge > 0:
        raise table.refused(0, "gauge", "this must be more than 0; write what it can tell apart")
    return BoreLog(
        start=float(first["bore"]),
        setting=np.array([float(row["setting"]) for row in passes]),
        bore=np.array([float(row["bore"]) for row in passes]),
        gauge=gauge,
    )


Share = Callable[[float, float], float]
"""Likely short-fall per depth of a pass, from the bore it finds and its depth, m."""


def learn(case: Case, found: BoreLog, ratio: Band, share: Share | None = None) -> Learnt:
    """What measured bores tell of the cut, and the pass to make next.

    Parameters
    ----------
    ratio : short-fall per depth as a run thinks of it for the last cut, likely with its range
    share : the same for a pass of any depth, since a thin cut pushes off more per depth than a
        deep one; left out, all are alike. What the bores tell scales all of them.

    Raises
    ------
    ModelError
        The bar is expected to pull itself into the cut, a setting is far from its bore, or a bore
        is off by several times what is likely.
    """
    if not 0 < ratio.low <= ratio.likely <= ratio.high:
        message = (
            "this edge is expected to pull itself into the cut, so its short-fall is not one to "
            "learn; give it the rake and lead that push it off"
        )
        raise ModelError(message)
    bar = 2 * case.surface_radius("back")
    _refuse_far(case, found, bar)
    before = np.concatenate([[found.start], found.bore[:-1]])

    def times(bore: float, depth: float) -> float:
        return 1.0 if share is None else share(bore, depth) / ratio.likely

    passes = _Passes(
        found=found,
        bar=bar,
        before=before,
        own=np.array([times(b, (a - b) / 2) for b, a in zip(before, found.bore, strict=True)]),
        thought=np.array([log(ratio.likely), 0.0]),
        doubt=np.array([max(log(ratio.high / ratio.low) / 2 / NINETY, 1e-3), ZERO_DOUBT]),
    )
    stray = _stray(passes)
    if stray.times_likely > FAR:
        raise ModelError(_slip(case, passes, stray))
    known = passes.known(np.full(found.bore.size, True)).widened(stray.widens)
    scatter = np.sqrt(np.diag(known.covariance))
    after = _estimate(float(known.theta[0]), float(scatter[0]))
    zero = float(known.theta[1])
    reach = NINETY * float(scatter[1])
    return Learnt(
        ratio_before=_estimate(float(passes.thought[0]), float(passes.doubt[0])),
        ratio=after,
        zero=Estimate(zero, zero - reach, zero + reach),
        force_factor=Estimate(*(end / ratio.likely for end in (after, after.low, after.high))),
        left=found.bore - passes.expected(known.theta),
        expected_before=passes.expected(passes.thought),
        stray=stray,
        next_pass=_next_pass(case, found, bar, times, known, stray.widens),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Known:
    """What is known of the log of the short-fall's factor and of the zero, m.

    Attributes
    ----------
    theta : (2,), most probable
    covariance : (2, 2)
    misfit : sum of squares that is left
    """

    theta: Floats
    covariance: Floats
    misfit: float

    def widened(self, factor: float) -> _Known:
        return replace(self, covariance=factor**2 * self.covariance)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Passes:
    """The passes of a log, and what is thought of them beforehand.

    Attributes
    ----------
    before : (n_pass,) m, the bore that each finds
    own : (n_pass,) short-fall per depth of each over that of the last cut
    thought, doubt : (2,), as in `_Known.theta`, and one standard deviation
    """

    found: BoreLog
    bar: float
    before: Floats
    own: Floats
    thought: Floats
    doubt: Floats

    def expected(self, theta: Floats) -> Floats:
        """Bore after each pass, (n_pass,) m."""
        ratio = self.own * exp(theta[0])
        return after_pass(self.found.setting, self.bar, self.before, ratio, float(theta[1]))

    def scatter(self, theta: Floats) -> Floats:
        """One standard deviation of each bore about that, (n_pass,) m."""
        return _scatter(_kept(self.own * exp(theta[0])), self.found.gauge)

    def known(self, taken: NDArray[np.bool_]) -> _Known:
        """What the passes that are taken tell, with what was thought of them."""

        def off(theta: Floats) -> Floats:
            bores = (self.found.bore - self.expected(theta)) / self.scatter(theta)
            return np.concatenate([bores[taken], (theta - self.thought) / self.doubt])

        solved = least_squares(off, self.thought, x_scale=self.doubt)
        covariance = np.linalg.inv(solved.jac.T @ solved.jac)
        return _Known(theta=solved.x, covariance=covariance, misfit=2 * float(solved.cost))

    def reach(self, number: int, known: _Known, sigmas: float, way: float) -> float:
        """How far one bore may lie to one side of what is expected, m.

        The short-fall is followed as far as it goes: its range is wide, and of a bore that is
        cut short it can make much more than of one that is cut large.
        """
        middle = self.expected(known.theta)[number]
        squares, axes = np.linalg.eigh(known.covariance / np.outer(self.doubt, self.doubt))
        total = float(self.scatter(known.theta)[number]) ** 2 * sigmas**2
        for square, axis in zip(squares, axes.T, strict=True):
            step = sigmas * sqrt(max(square, 0.0)) * axis * self.doubt
            ends = (self.expected(known.theta + one)[number] for one in (step, -step))
            total += max(0.0, *(way * (end - middle) for end in ends)) ** 2
        return sqrt(total)


def _stray(passes: _Passes) -> Stray:
    """The pass that is farthest off what the others make of it.

    Where a slip of one throws the others off as well, it is the one without which they agree best.
    """
    count = passes.found.bore.size
    sigmas = NormalDist().inv_cdf(1 - 0.05 / count)
    every = []
    for k in range(count):
        known = passes.known(np.arange(count) != k)
        off = float(passes.found.bore[k] - passes.expected(known.theta)[k])
        likely = passes.reach(k, known, sigmas, 1.0 if off > 0 else -1.0)
        every.append((Stray(number=k + 1, off=off, likely=likely), known.misfit))
    slips = [one for one in every if one[0].times_likely > FAR]
    if slips:
        return min(slips, key=lambda one: one[1])[0]
    return max((one for one, _ in every), key=lambda one: one.times_likely)


def _slip(case: Case, passes: _Passes, stray: Stray) -> str:
    """Why no setting is given: which pass, how far off, how much is likely, what to do."""
    found, k = passes.found, stray.number - 1
    setting, bore = float(found.setting[k]), float(found.bore[k])
    row = f"setting {show(setting, 'length', case.own)}, bore {show(bore, 'length', case.own)}"
    off, likely = (rough(abs(size), "length", case.own) for size in (stray.off, stray.likely))
    side, most = "large" if stray.off > 0 else "small", ""
    if bore > 2 * setting - passes.bar:
        most = f"; that setting cuts no more than {case.say(2 * setting - passes.bar)}"
    others = "setting and spring" + (", and the other passes," if found.bore.size > 1 else "")
    return (
        f"pass {stray.number} ({row}): the bore is {off} too {side} for what {others} "
        f"make of it, where {likely} is likely{most}. No next setting can be given from "
        "that: measure again, or correct the row"
    )


def after_pass(
    setting: Floats | float,
    bar: float,
    before: Floats | float,
    ratio: Floats | float,
    zero: float,
) -> Floats:
    """Bore after a pass, m, from micrometer settings and the bores found, m.

    Parameters
    ----------
    bar : m, bar diameter under the micrometer
    ratio : short-fall per depth of cut
    zero : m on the diameter, by which the settings cut large

    Examples
    --------
    A setting 0.1 mm over the bore it finds, a quarter of each depth left standing: 0.08 mm taken.

    >>> round(float(after_pass(0.03505, 0.030, 0.0400, 0.25, 0.0)), 6)
    0.04008
    """
    aimed = 2 * np.asarray(setting) - bar + zero
    return np.asarray(aimed - _kept(ratio) * (aimed - before))


def _scatter(kept: Floats | float, gauge: float) -> Floats:
    """Scatter of a bore about what its setting and the bore before make of it, m.

    Both bores are read with the gauge, and the setting scatters.
    """
    square = gauge**2 * (1 + np.square(kept)) + SET_SCATTER**2 * np.square(1 - kept)
    return np.asarray(np.sqrt(square))


def _kept(ratio: Floats | float) -> Floats:
    """Share of a setting that is left standing."""
    share: Floats = np.asarray(ratio, dtype=np.float64)
    return share / (1 + share)


def _next_pass(
    case: Case,
    found: BoreLog,
    bar: float,
    times: Share,
    known: _Known,
    widens: float,
) -> NextPass | None:
    theta, covariance = known.theta, known.covariance
    size = case.work.bore
    aim, now = (size.lower + size.upper) / 2, float(found.bore[-1])
    if now >= aim:
        return None
    end, cuts = _left(case, found, aim)
    depth = (end - now) / 2 / cuts
    own = times(now, depth)
    kept, zero = float(_kept(own * exp(theta[0]))), float(theta[1])
    aimed = now + 2 * depth / (1 - kept)
    reading = micrometer_reading(aimed - zero, bar)

    def band(setting: float) -> Band:
        def bore(moved: Floats) -> float:
            return float(after_pass(setting, bar, now, own * exp(moved[0]), float(moved[1])))

        slope = np.array([(bore(theta + step) - bore(theta - step)) for step in _STEPS]) / 2
        slope = slope / np.diag(_STEPS)
        reach = NINETY * sqrt(
            float(slope @ covariance @ slope) + (widens * float(_scatter(kept, found.gauge))) ** 2
        )
        middle = bore(theta)
        return Band.of(middle, middle - reach, middle + reach)

    return NextPass(
        reading=reading,
        bore=band(reading),
        same_again=band(float(found.setting[-1])),
        depth=depth,
        cuts=cuts,
        ends_at=None if end == aim else end,
    )


def _left(case: Case, found: BoreLog, aim: float) -> tuple[float, int]:
    """Bore at which the cuts of this kind end, m, and how many equal ones lead there.

    What is not yet opened to the start of the cut is roughing, if the case has any. A cut that has
    been made alike already is not halved again.
    """
    now, begin, rough = float(found.bore[-1]), case.work.start_bore, case.roughing
    if rough is not None and begin is not None and now < begin - 2 * LEAST_CUT:
        depth = (begin - rough.start_bore) / 2 / rough.passes
        return begin, max(1, ceil((begin - now) / 2 / (SAME_CUT * depth)))
    left, depth = (aim - now) / 2, float(case.cut.depth)
    if begin is not None and begin < aim:
        depth = (aim - begin) / 2 / pass_count((aim - begin) / 2, depth)
    before = (now - float([found.start, *found.bore][-2])) / 2
    repeats = left / AS_DEEP <= before <= SAME_CUT * depth
    if repeats or left < 2 * LEAST_CUT or left <= SAME_CUT * depth:
        return aim, 1
    return aim, max(2, ceil(left / (AS_DEEP * depth)))


_STEPS = np.diag([1e-4, 1e-8])


def _estimate(middle: float, scatter: float) -> Estimate:
    reach = exp(NINETY * scatter)
    return Estimate(exp(middle), exp(middle) / reach, exp(middle) * reach)


def _refuse_far(case: Case, found: BoreLog, bar: float) -> None:
    """Refuse settings that are no settings of these bores: another bar, another unit."""
    for setting, bore in zip(found.setting, found.bore, strict=True):
        if abs(2 * setting - bar - bore) > 0.002:
            sizes = (setting, bar, 2 * setting - bar, bore)
            over, across, sets, measured = (case.say(float(size)) for size in sizes)
            message = (
                f"a micrometer at {over} over a bar of {across} sets {sets}, far from the bore of "
                f"{measured} measured; is the bar's diameter or the unit another, or a digit of "
                "this row wrong?"
            )
            raise ModelError(message)
