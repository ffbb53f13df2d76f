"""Which cut: depth, feed and speed of the roughing passes and of the last two.

Cuts are tried on a small grid of what the lathe has and a shop would set. A cut is *good* where
every limit that depends on it holds: gain margin against chatter, size error of the last cuts,
distance of what shakes from the modes, power. Among good ones those come first that stay quiet
without the rubbing of the edge, and at the pessimistic end of the guesses; then those with twice
the margin asked; then the quickest. Where none is good, the one with the most margin is named,
with what it misses. A roughing cut
that bends the bar farther than 1.4 thou is taken only if no lighter one is good.

The first cut goes under the skin of a casting, and all roughing passes are alike; the last two
are alike too, so that spring cancels (see `passes`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, hypot, inf, log, pi

from .beam import beam_model
from .case import Case
from .chatter import ENDS, Corner, End, corners, edge_of, in_order
from .cut import Cut
from .force import cutting_force
from .job import BoringJob
from .length_budget import SAME
from .material import WorkMaterial
from .model import Factored, Floats, factorised
from .modes import Modes, undamped_modes
from .passes import LEAST_CUT
from .speeds import check_speed
from .statics import bore_size, force_on_bar
from .units import Own
from .variant import floors, loop_compliances

FINISH_DEPTHS = {
    "mm": (0.2e-3, 0.25e-3, 0.15e-3, 0.1e-3, 0.075e-3, 0.05e-3),
    "inch": (203.2e-6, 254e-6, 152.4e-6, 101.6e-6, 76.2e-6, 50.8e-6),
}
"""Depths of a last cut, m on the radius, the one to begin with first (common practice: 2 to 10
thou)."""
FEEDS = {
    "mm": (0.05e-3, 0.08e-3, 0.1e-3, 0.15e-3, 0.2e-3),
    "inch": (50.8e-6, 76.2e-6, 101.6e-6, 152.4e-6, 203.2e-6),
}
"""Feeds of a lathe that does not say, m (common on small lathes)."""
FINISH_FEED, ROUGH_FEED, MOST_FEED = 0.10e-3, 0.15e-3, 0.26e-3
"""Feeds that a boring cut is begun with, and the largest tried, m per turn (common practice: 3 to
10 thou)."""
ROUGH_MOST = 1.6e-3
"""Deepest roughing cut on the radius, m (common practice: 1/16 in)."""
MOST_BEND = 36e-6
"""Farthest that a roughing cut should bend bar and work apart, m: 1.4 thou (judgement).

The margin against chatter hardly falls with depth above the nose radius, so it alone would let a
softer bar be cut as deep as a stiff one."""
SLOW = 0.2
"""Speed of an edge in a metal of which no usual speed is known, m/s; a guess."""
TRIED = 3
"""Speeds, and feeds, of the lathe that are tried for one cut."""
EASY_SPEED = 1.5
"""Over the slowest usual speed of the edge: no long bar is begun faster (common practice: iron at
40 to 60 sfm)."""
EASE = 2.0
"""So many times the margin that is asked is margin enough to go by the clock."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bench:
    """What stays the same while cuts are tried on one set-up.

    Attributes
    ----------
    case : with any cut
    given : (24, 3, 3) m/N, give of edge against work at each angle of a turn
    """

    case: Case
    found: Mapping[End, Corner]
    modes: Modes
    given: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """One cut tried.

    Attributes
    ----------
    count : passes alike
    margin : gain margin at each end of what was guessed
    bare : likely gain margin without the rubbing of the edge
    size_error : m, of the bore by spring, likely
    bend : m, how far the cut bends bar and work apart, twist of the bar left out
    minutes : of all its passes
    misses : what does not hold, each in a few words
    shortfall : how many times over the worst of it is missed; 1 and less where all holds
    """

    cut: Cut
    count: int
    margin: Mapping[End, float]
    bare: float
    size_error: float
    bend: float
    minutes: float
    misses: tuple[str, ...]
    shortfall: float

    @property
    def good(self) -> bool:
        """Whether every limit that depends on the cut holds."""
        return not self.misses


def bench(case: Case) -> Bench:
    """Prepare a set-up for trying cuts on it."""
    factored: Factored = factorised(beam_model(case))
    return Bench(
        case=case,
        found=corners(case),
        modes=undamped_modes(factored, count=8, counted=False),
        given=loop_compliances(case, factored),
    )


def with_cut(case: Case, cut: Cut) -> Case:
    """The case with another cut."""
    return case.model_copy(update={"cut": cut})


# --- what may be set -------------------------------------------------------------------------


def usable_speeds(
    metal: WorkMaterial, speeds: Iterable[float], radius: float
) -> tuple[float, ...]:
    """Speeds worth trying, turns per second: near the slowest usual for the edge, and slower."""
    wanted = (metal.hss_speed_least or SLOW) / (2 * pi * radius)
    slow = [float(speed) for speed in speeds if speed <= EASY_SPEED * wanted]
    near = sorted(slow or [float(min(speeds))], key=lambda speed: abs(log(speed / wanted)))
    return tuple(sorted(near[:TRIED], reverse=True))


def usable_feeds(job: BoringJob, wanted: float, system: Own) -> tuple[float, ...]:
    """Feeds worth trying, m per turn: those next to the one a cut is begun with."""
    metal = job.work.material
    listed = job.lathe.feeds or FEEDS["inch" if system == "inch" else "mm"]
    known = [float(f) for f in listed if metal.feed_least <= f <= metal.feed_most]
    fine = [feed for feed in known if feed <= MOST_FEED] or [min(known, default=metal.feed_least)]
    return tuple(sorted(fine, key=lambda feed: abs(log(feed / wanted)))[:TRIED])


def finish_depths(job: BoringJob, stock: float, system: Own) -> tuple[float, ...]:
    """Depths worth trying for the last two cuts, m on the radius, no more than the stock has.

    They leave the skin to a first cut if they can. One stands above the nose radius, where a cut
    chatters less.
    """
    nose, depths = job.stock.nose_radius, FINISH_DEPTHS["inch" if system == "inch" else "mm"]
    above = [1.25 * nose] if max(depths) < 1.25 * nose <= 2 * max(depths) else []
    tried = (*depths, *above)
    for most in ((stock - skin_of(job)) / 2, stock / 2):
        fit = tuple(depth for depth in tried if depth <= most + SAME)
        if fit:
            return fit
    return (stock if stock < 2 * LEAST_CUT else stock / 2,)


def skin_of(job: BoringJob) -> float:
    """Depth of the skin that the first cut must get under, m; 0 where there is none."""
    return float(job.work.skin_depth) if job.work.skin == "yes" else 0.0


def rough_counts(stock: float, least: float, bit_size: float) -> tuple[int, ...]:
    """Numbers of equal roughing passes worth trying: few and deep first.

    Those thinner than the skin come last, for a cut that cannot go under it.

    Parameters
    ----------
    stock, least : m on the radius; none is to be thinner than `least`
    """
    fewest = max(1, ceil(stock / min(ROUGH_MOST, bit_size / 3) - 1e-6))
    most = max(fewest, int(stock / max(least, LEAST_CUT)))
    return tuple(fewest + k for k in (0, 1, 2, 4, 7, 12) if fewest + k <= most)


# --- trying ----------------------------------------------------------------------------------


def finishing(
    job: BoringJob, on: Bench, stock: float, bored: float, system: Own
) -> tuple[Trial, ...]:
    """The last two cuts, the best first.

    Parameters
    ----------
    stock : m on the radius, of the whole job
    bored : m of land that the bit goes through
    """
    feeds = usable_feeds(job, FINISH_FEED, system)
    grid = [(depth, 2) for depth in finish_depths(job, stock, system)]
    return ranked(_tried(job, on, grid, feeds, bored, on.case.allowed_size_error))


def roughing(
    job: BoringJob, on: Bench, stock: float, least: float, bored: float, system: Own
) -> tuple[Trial, ...]:
    """The roughing passes that take `stock`, all alike; the best first.

    Parameters
    ----------
    stock, least : m on the radius, of all passes, and of each at least: the last two cuts' depth
    bored : m of land that the bit goes through
    """
    feeds = usable_feeds(job, ROUGH_FEED, system)
    grid = [(stock / count, count) for count in rough_counts(stock, least, on.case.bit.size)]
    # What spring leaves of the last of them must be less than the next cut is deep.
    found = ranked(_tried(job, on, grid, feeds, bored, least))
    skin = skin_of(job) - LEAST_CUT

    def worse(one: Trial) -> tuple[bool, bool, bool]:
        """Sorted by: a limit missed, a bar bent too far, a first cut above the skin."""
        return not one.good, one.good and one.bend > MOST_BEND, one.good and one.cut.depth < skin

    return tuple(sorted(found, key=worse))


def _tried(
    job: BoringJob,
    on: Bench,
    grid: Sequence[tuple[float, int]],
    feeds: Sequence[float],
    bored: float,
    error: float,
) -> Iterator[Trial]:
    """Every cut of the grid; those at one speed have their margins found together."""
    case = on.case
    for speed in usable_speeds(job.work.material, job.lathe.speeds, case.edge_radius):
        cuts = [
            (Cut(depth=depth, feed=feed, speed=speed), count)
            for feed in feeds
            for depth, count in grid
        ]
        margins = _margins(on, [with_cut(case, cut) for cut, _ in cuts])
        for (cut, count), (margin, bare) in zip(cuts, margins, strict=True):
            minutes = count * bored / (cut.feed * speed) / 60
            yield _trial(on, cut, count, margin, bare, minutes, error)


def _margins(on: Bench, cases: Sequence[Case]) -> list[tuple[dict[End, float], float]]:
    """Gain margins of several cuts at one speed, and the likely ones without rubbing."""
    whole = {
        end: floors(
            cases[0],
            on.found[end],
            [edge_of(case, end) for case in cases],
            on.found[end].process_damping,
        )
        for end in ENDS
    }
    bare = floors(cases[0], on.found["likely"], [edge_of(case, "likely") for case in cases], 0.0)
    return [
        (in_order({end: float(whole[end][k]) for end in ENDS}), float(bare[k]))
        for k in range(len(cases))
    ]


def _trial(
    on: Bench,
    cut: Cut,
    count: int,
    margin: Mapping[End, float],
    bare: float,
    minutes: float,
    allowed: float,
) -> Trial:
    case = with_cut(on.case, cut)
    force = cutting_force(case)
    error = abs(bore_size(on.given, force_on_bar(case, force), case.edge_radius)[0])
    bend = float(on.given[:, 0, 0].mean() * hypot(force.radial, force.tangential))
    limits, power = case.limits, case.lathe.power
    apart = check_speed(case, on.modes).nearest.separation
    asked = [
        ("the gain margin against chatter", limits.chatter_margin, margin["likely"]),
        ("the distance of what shakes from a mode", limits.separation, apart),
        ("the size error of the bore", error, allowed),
    ]
    if power is not None:
        asked.append(("the power at the edge", force.power, power))
    over = [(what, want / have if have > 0 else inf) for what, want, have in asked]
    return Trial(
        cut=cut,
        count=count,
        margin=margin,
        bare=bare,
        size_error=error,
        bend=bend,
        minutes=minutes,
        misses=tuple(what for what, times in over if times > 1),
        shortfall=max(times for _, times in over),
    )


def ranked(trials: Iterable[Trial]) -> tuple[Trial, ...]:
    """Trials, the one to take first; see the head of this module."""
    return tuple(sorted(trials, key=_rank))


def _rank(trial: Trial) -> tuple[float, ...]:
    if not trial.good:
        return (1.0, trial.shortfall)
    quiet = 0.0 if trial.margin["low"] >= 1 else 1.0 if trial.bare >= 1 else 2.0
    enough = max(0.0, EASE - min(trial.margin["likely"], trial.bare if quiet < 2 else inf))
    return (0.0, quiet, round(enough, 2), trial.minutes)
