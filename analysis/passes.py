"""The passes that take a bore to size: what to set, what to expect, and what spring leaves.

The edge is set by a micrometer over bit and bar. A bar that gives cuts less than it was set to:
an edge advanced by a after a pass that left s standing takes a depth e with

    e + s' = a + s,    s' = g e,    g = k_c/k,

k the stiffness at the edge and ``k_c = F_r/depth`` the secant stiffness of the cut. So what is
left follows ``s' = q (a + s)`` with ``q = k_c/(k + k_c)``; a spring pass, a = 0, leaves q of it.
Equal advances settle at ``s = g a``, the same every pass, which is why the last two cuts are made
alike: the bore then grows by twice the advance. A thin cut resists more per depth than the
secant says and may rub, so a spring pass brings at most what is printed here.

An error of the old bore, off centre or oval, is copied by the local slope of the edge's radial
motion with depth instead, g = -d(u_r)/d(depth) = -(G dF/d(depth))_r, as ``g/(1 + g)`` a pass. With
a square side and a depth above the nose radius the radial force does not change with depth; but
the feed force does, and off mid-span it bends the bar in the bit plane by its arm, so that even
then an error is copied, the right way round or turned over (g below nothing). The balance of cut
and spring is elementary (W. R. Moore, Foundations of Mechanical Accuracy, 1970, on repeated cuts;
from memory); re-derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from .case import Case
from .cut import Cut
from .edge import EdgeForce
from .finish import Roughness, ideal_roughness
from .force import CuttingForce, cutting_force
from .judge import Band, Finding, at_most
from .model import Floats
from .run_out import run_out_pattern
from .statics import Statics, push_back

SAME_CUT = 1.1
"""A depth up to this many times the case's is still the same cut: the depth is a round number."""
LEAST_CUT = 25e-6
"""Thinnest cut worth planning with high-speed steel, on the radius, m (common practice)."""
LEAST_RECOVERED = 5e-6
"""A stoned high-speed-steel edge rubs below a few tenths of a thou, m (common practice)."""
MOST_SPRING_PASSES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass:
    """One pass; the last of two or more is set from the bore as measured before it.

    Attributes
    ----------
    number : from 1
    bore_before : m, what the pass finds
    advance : m on the radius, how far the bit is moved out
    reading : m, of a micrometer over bit and bar
    depth : m on the radius, what is cut
    short_fall : m on the radius, what spring leaves standing
    bore : m, after the pass
    minutes : of cutting; None where the length of the bore is not given
    """

    number: int
    bore_before: Band
    advance: float
    reading: float
    depth: Band
    short_fall: Band
    bore: Band
    minutes: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringPasses:
    """Passes at the same setting once the edge stands at size.

    Attributes
    ----------
    worth : how many take off more than the edge can cut; none on a stiff bar
    recovered : m on the radius, by each of the first few, at the likely end
    first : m on the diameter, by which the first of them opens the bore
    """

    worth: int
    recovered: tuple[float, ...]
    first: Band


@dataclass(frozen=True, slots=True, kw_only=True)
class PassPlan:
    """The passes from the old bore to the new one.

    Attributes
    ----------
    passes : the case's own, in their order, numbered on from the roughing
    roughing : those before them, if the case has any
    aim : m, the size steered for, middle of the limits
    bar_diameter : m, at the bit: what is taken from twice a reading, so less twice a flat behind
    run_out : m on the radius, how far the bar's middle lies towards the bit; the readings allow
        for the likely one; None where no run-out was read
    start_known : whether the case gives the bore before the cut
    spring_ratio : short-fall per depth of cut, k_c/k
    spring : spring passes, after a cut at the same setting
    copied : share of an error of the old bore that one pass hands on; turned over below nothing
    roughness : of the nose; None where the nose does not make it
    """

    passes: tuple[Pass, ...]
    roughing: tuple[Pass, ...] = ()
    aim: float
    bar_diameter: float
    run_out: Band | None
    start_known: bool
    spring_ratio: Band
    spring: SpringPasses
    copied: Band
    roughness: Roughness | None

    @property
    def every(self) -> tuple[Pass, ...]:
        """Roughing and the case's own passes."""
        return (*self.roughing, *self.passes)

    @property
    def last_is_measured(self) -> bool:
        """Whether a pass comes before the last, so that its bore can set the last."""
        return len(self.passes) > 1


def micrometer_reading(bore: float, bar_diameter: float, run_out: float = 0.0) -> float:
    """Reading over bit and bar that sets the edge to a bore, m.

    ``bore = 2 reading - bar diameter + run-out``, by geometry, for a bar that is round behind the
    bit; over a flat behind the bit a diameter less twice the flat's depth.

    Parameters
    ----------
    run_out : m, twice what the bar's middle lies towards the bit: the full indicator reading with
        the bit on the high side, as much the other way with it on the low side

    Examples
    --------
    >>> micrometer_reading(2.5, 1.5)  # inches do as well
    2.0
    """
    return (bore + bar_diameter - run_out) / 2


def bore_by_micrometer(reading: float, bar_diameter: float, run_out: float = 0.0) -> float:
    """Largest bore that a reading over bit and bar sets, m.

    Parameters
    ----------
    run_out : m, full indicator reading at the bit; with the bit on the high side all of it adds
    """
    return 2 * reading - bar_diameter + run_out


def left_by_spring(ratio: float) -> float:
    """Share of a short-fall that a spring pass leaves, ``k_c/(k + k_c)``.

    Parameters
    ----------
    ratio : k_c/k
    """
    return ratio / (1 + ratio)


def short_falls(advances: Sequence[float], ratio: float) -> tuple[float, ...]:
    """What each pass leaves standing, m on the radius, from advances in m and k_c/k.

    Examples
    --------
    Three equal advances of 100 um and then two spring passes, with k_c a quarter of k:

    >>> [round(s * 1e6, 2) for s in short_falls([1e-4] * 3 + [0.0] * 2, 0.25)]
    [20.0, 24.0, 24.8, 4.96, 0.99]
    """
    share, left = left_by_spring(ratio), 0.0
    found = []
    for advance in advances:
        left = share * (advance + left)
        found.append(left)
    return tuple(found)


def pass_count(stock: float, depth: float) -> int:
    """How many equal passes: at least two, so that the last can repeat the one before.

    One alone where two would each be too thin to cut.
    """
    needed = ceil(stock / (SAME_CUT * depth))
    return needed if stock < 2 * LEAST_CUT else max(2, needed)


def equal_advance(stock: float, count: int, ratio: float) -> float:
    """Advance, m, of every pass with which the last one, set from the measured bore, is alike.

    The stock on the radius is ``count`` advances less what stands before the last pass:
    ``stock = n a - s(n-1)``.
    """
    standing = short_falls([1.0] * (count - 1), ratio)[-1] if count > 1 else 0.0
    return stock / (count - standing)


def roughing_passes(
    start: float,
    stock: float,
    count: int,
    ratio: Band,
    bar_diameter: float,
    minutes: float | None,
    run_out: Band | None = None,
) -> tuple[Pass, ...]:
    """Equal passes that open a bore by `stock` on the radius, none of them measured between.

    Parameters
    ----------
    start : m, the bore before
    ratio : short-fall per depth of cut, k_c/k
    minutes : of cutting, of each
    run_out : m on the radius, how far the bar's middle lies towards the bit
    """
    out = run_out or Band.of(0.0)
    standing = short_falls([1.0] * count, ratio.likely)[-1]
    advance = stock / (count - standing)
    ends = [short_falls([advance] * count, end) for end in (ratio.likely, ratio.low, ratio.high)]
    left = [Band.of(0.0), *(Band.of(*each) for each in zip(*ends, strict=True))]
    found = []
    for number in range(1, count + 1):
        before, after = (
            _opened(start + 2 * advance * k, left[k], out if k else Band.of(0.0))
            for k in (number - 1, number)
        )
        deepest = [advance + was[number - 2] * (number > 1) - was[number - 1] for was in ends]
        found.append(
            Pass(
                number=number,
                bore_before=before,
                advance=advance,
                reading=micrometer_reading(
                    start + 2 * advance * number, bar_diameter, 2 * out.likely
                ),
                depth=Band.of(*deepest),
                short_fall=left[number],
                bore=after,
                minutes=minutes,
            )
        )
    return tuple(found)


def _opened(set_to: float, left: Band, run_out: Band) -> Band:
    """Bore that is cut with the edge set to a bore, m, so much left standing.

    The setting allows for the likely run-out; what it may be besides opens or closes the bore.
    """
    return Band(
        low=set_to - 2 * left.high + 2 * (run_out.low - run_out.likely),
        likely=set_to - 2 * left.likely,
        high=set_to - 2 * left.low + 2 * (run_out.high - run_out.likely),
    )


def plan_passes(case: Case, statics: Statics, force: CuttingForce, size_error: Band) -> PassPlan:
    """Passes of the case, each no deeper than its cut.

    Parameters
    ----------
    size_error : m, size of the diameter error over what was guessed, for the spring's band
    """
    aim, start = _aim(case), case.work.start_bore
    stock = 2 * case.cut.depth if start is None else (aim - start) / 2
    count = pass_count(stock, case.cut.depth)
    edge = _edge_at(case, force, stock / count)
    ratio = _spring_ratio(case, statics, edge, stock / count, size_error)
    pattern = run_out_pattern(case)
    run_out = None if pattern is None else pattern.along_bit
    rough = _roughing(case, statics, size_error, run_out)
    passes = tuple(
        replace(one, number=one.number + len(rough))
        for one in _passes(case, aim, stock, count, ratio, run_out or Band.of(0.0))
    )
    return PassPlan(
        passes=passes,
        roughing=rough,
        aim=aim,
        bar_diameter=_bar_diameter(case),
        run_out=run_out,
        start_known=start is not None,
        spring_ratio=ratio,
        spring=_spring_passes(ratio, passes[-1]),
        copied=_copied(case, statics, edge, ratio),
        roughness=ideal_roughness(case.cut.feed, case.bit.nose_radius),
    )


def short_fall_at(
    case: Case,
    statics: Statics,
    force: CuttingForce,
    size_error: Band,
    before: float,
    depth: float,
) -> float:
    """Likely short-fall per depth of a pass of its own depth, m on the radius.

    Parameters
    ----------
    before : m, the bore it finds; one short of the start of the cut is roughing, with its feed
    depth : m; a thinner one than is worth planning is taken as that
    """
    depth, rough, to = max(depth, LEAST_CUT), case.roughing, case.work.start_bore
    if rough is None or to is None or before > to - 2 * LEAST_CUT:
        edge = _edge_at(case, force, depth)
    else:
        cut = Cut(depth=depth, feed=rough.feed, speed=rough.speed, edge_wear=case.cut.edge_wear)
        edge = cutting_force(case.model_copy(update={"cut": cut})).edge
    return _spring_ratio(case, statics, edge, depth, size_error).likely


def _roughing(
    case: Case, statics: Statics, size_error: Band, run_out: Band | None
) -> tuple[Pass, ...]:
    """The passes before the cut; their edge is taken to stand where the last one stands."""
    rough, to = case.roughing, case.work.start_bore
    if rough is None or to is None:
        return ()
    depth = (to - rough.start_bore) / 2 / rough.passes
    cut = Cut(depth=depth, feed=rough.feed, speed=rough.speed, edge_wear=case.cut.edge_wear)
    edge = cutting_force(case.model_copy(update={"cut": cut})).edge
    minutes = None
    if case.work.length is not None:
        minutes = case.work.length / (rough.feed * rough.speed) / 60
    return roughing_passes(
        rough.start_bore,
        depth * rough.passes,
        rough.passes,
        _spring_ratio(case, statics, edge, depth, size_error),
        _bar_diameter(case),
        minutes,
        run_out,
    )


def _aim(case: Case) -> float:
    """Middle of the bore's limits; the upper one for a bore that is already past it."""
    bore, start = case.work.bore, case.work.start_bore
    middle = (bore.lower + bore.upper) / 2
    return middle if start is None or start < middle else bore.upper


def _bar_diameter(case: Case) -> float:
    """Twice from the centre line to where the anvil rests behind the bit, m."""
    return 2 * case.surface_radius("back")


def _edge_at(case: Case, force: CuttingForce, depth: float) -> EdgeForce:
    """Force and gains at another depth; a typed force goes with the depth, its gains with both."""
    edge = cutting_force(_at_depth(case, depth)).edge
    if case.cut.force is None:
        return edge
    share = depth / case.cut.depth
    return replace(edge.scaled(np.full(3, share)), resultant=share * force.edge.resultant)


def _at_depth(case: Case, depth: float) -> Case:
    return case.model_copy(update={"cut": case.cut.model_copy(update={"depth": depth})})


def _spring_ratio(
    case: Case, statics: Statics, edge: EdgeForce, depth: float, size_error: Band
) -> Band:
    """Short-fall per depth of cut over the range of what was guessed.

    Everything that moves the edge off the cut counts: the feed force by the bar's slope, and the
    tangential motion by its second order, as in the size error.
    """
    motion = _motion(case, statics, edge.resultant)
    likely = -float(motion[0] + motion[1] ** 2 / (2 * case.edge_radius)) / depth
    if size_error.likely == 0.0:
        return Band.of(likely)
    ends = (end / size_error.likely for end in (size_error.low, size_error.high))
    return Band.of(likely, *(likely * end for end in ends))


def _passes(
    case: Case, aim: float, stock: float, count: int, ratio: Band, run_out: Band
) -> tuple[Pass, ...]:
    """Every pass, each end of the spring and of the run-out followed through on its own."""
    start, advance = aim - 2 * stock, equal_advance(stock, count, ratio.likely)
    strays = (0.0, run_out.low - run_out.likely, run_out.high - run_out.likely)
    ends = [
        _followed(start, aim, advance, count, end, stray)
        for end in (ratio.likely, ratio.low, ratio.high)
        for stray in strays
    ]
    bar, minutes = _bar_diameter(case), None
    if case.work.length is not None:
        minutes = case.work.length / (case.cut.feed * case.spindle_speed) / 60
    return tuple(
        Pass(
            number=number,
            bore_before=Band.of(*before),
            advance=advance,
            reading=micrometer_reading(start + 2 * advance * number, bar, 2 * run_out.likely),
            depth=Band.of(*depth),
            short_fall=Band.of(*left),
            bore=Band.of(*bore),
            minutes=minutes,
        )
        for number, step in enumerate(zip(*ends, strict=True), start=1)
        for before, depth, left, bore in [zip(*step, strict=True)]
    )


def _followed(
    start: float, aim: float, advance: float, count: int, ratio: float, stray: float = 0.0
) -> list[tuple[float, float, float, float]]:
    """Bore before, depth, short-fall and bore after each pass, m; the last set from its bore.

    Parameters
    ----------
    stray : m on the radius, how much farther out the first setting puts the edge than it says
    """
    share, before, left, found = left_by_spring(ratio), start, stray, []
    for number in range(count):
        measured = count > 1 and number == count - 1
        moved = (aim - before) / 2 if measured else advance
        asked = moved + left
        # An edge set short of the wall meets nothing, and is as far short after the pass.
        standing = share * asked if asked > 0 else asked
        depth = asked - standing
        found.append((before, depth, standing, before + 2 * depth))
        before, left = before + 2 * depth, standing
    return found


def _spring_passes(ratio: Band, last: Pass) -> SpringPasses:
    """What passes at the same setting take off after the last one."""
    share, left = left_by_spring(ratio.likely), last.short_fall.likely
    recovered = tuple(left * share**n * (1 - share) for n in range(MOST_SPRING_PASSES))
    ends = zip(
        (last.short_fall.likely, last.short_fall.low, last.short_fall.high),
        (ratio.likely, ratio.low, ratio.high),
        strict=True,
    )
    return SpringPasses(
        worth=sum(taken > LEAST_RECOVERED for taken in recovered),
        recovered=recovered,
        first=Band.of(*(2 * standing * (1 - left_by_spring(end)) for standing, end in ends)),
    )


def run_out_findings(case: Case, plan: PassPlan) -> tuple[Finding, ...]:
    """What run-out leaves open of the size, where no measured bore sets the last pass."""
    if plan.run_out is None or plan.last_is_measured:
        return ()
    return (
        at_most(
            "size that run-out leaves open",
            plan.run_out.high - plan.run_out.low,
            case.allowed_size_error,
            "length",
            "either way, on the diameter, for one pass set by micrometer over bit and bar; two "
            "passes with the bore measured between take it out",
        ),
    )


def _motion(case: Case, statics: Statics, cut: Floats) -> Floats:
    """Motion of the edge against the work along r, t, x for a force of the cut, N, (3,), m."""
    return np.asarray(statics.loop_compliance @ (push_back(case) * cut))


def _copied(case: Case, statics: Statics, edge: EdgeForce, ratio: Band) -> Band:
    """Share of an old error that one pass copies, over the range of the spring."""
    slope = -float(_motion(case, statics, edge.instant[:, 0])[0])
    # A lead of exactly zero leaves the cosine of a right angle, which is round-off.
    slope = slope if abs(slope) > 1e-9 else 0.0
    ends = (end / ratio.likely if ratio.likely else 1.0 for end in (ratio.low, ratio.high))
    return Band.of(left_by_spring(slope), *(left_by_spring(slope * end) for end in ends))
