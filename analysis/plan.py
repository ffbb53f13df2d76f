"""From the bore to the bar: a job planned, or the exact reason why it cannot be.

job -> is it one for a bar -> bars, each with its length budget -> set-up -> cuts -> the case

The set-up is the stiffest that the lathe and the stock allow; one with fewer holes, or between
centres, is taken where it is nearly as stiff, for it is less work and repeats when taken out. The
cut is tried on the bar's softest bit station and serves for all. What comes out is a case like
any other, and it is the case, read back from its own text, that is analysed: the plan judges
nothing by itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Literal

from .bar_choice import (
    ALIKE,
    JudgedBar,
    SetUp,
    bar_wanted,
    breaks_short,
    chip_gap,
    judged_bars,
    station_case,
)
from .beam import beam_model
from .case import Case
from .casefile import CHOSEN as MARK
from .casefile import CaseFile, Source, parse_case, write_case
from .choice import JAWS_WORTH
from .cut import Cut, Roughing
from .cut_choice import Trial, bench, finishing, roughing, skin_of
from .force import cutting_force
from .holding import holding_findings, solve_holding
from .job import BoringJob
from .judge import Finding
from .length_budget import overruns, run_in
from .model import factorised
from .passes import LEAST_CUT, Pass
from .run import Outcome, analyse
from .statics import solve_statics
from .strength import solve_strength, strength_findings
from .units import Estimate, Fit, Own, parse_quantity, shop_size, show
from .variant import evaluated

FEWER_HOLES, ON_CENTRES = 0.9, 1 / JAWS_WORTH
"""Of the stiffest set-up: as stiff as this, one with fewer holes or between centres is taken."""
SHORT_BORE, NEAR_PLATE, LIGHT = 3.0, 0.2, 15.0
"""Bores up to so many diameters and m long, in castings up to so many kg, may be bored more easily
on the faceplate with an ordinary boring tool (common practice: 6 to 8 in off the plate)."""
BORE_STEP = {"mm": 0.01e-3, "inch": 0.0254e-3}
"""The bore before the last two cuts is made round to so much, m: 0.01 mm or a thou."""
LIGHTER, NEARLY = 0.7, 0.9
"""Of the chip: a lighter cut worth looking at; of a margin: as good as the best."""
SET_UPS_TRIED = 3
"""Set-ups on which cuts are tried before the least bad is taken."""
Fitness = Literal["for a line-boring bar", "perhaps easier on the faceplate", "not for a bar"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether the job is one for a line-boring bar at all, and why."""

    fitness: Fitness
    why: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlannedCut:
    """Passes that are alike.

    Attributes
    ----------
    stage : `roughing`, or `last two` (of the whole bore: `all`)
    cut : depth, feed and speed
    case : what was judged
    passes : numbered through the job
    findings : of every limit, with this cut
    """

    stage: str
    cut: Cut
    case: Case
    passes: tuple[Pass, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Alternative:
    """Another set-up and how it stands against the one taken.

    Attributes
    ----------
    ratio : its stiffness over that of the one taken
    """

    bar: str
    set_up: SetUp
    ratio: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chosen:
    """The set-up taken, its cuts and what a run says of it.

    Attributes
    ----------
    bar : its name
    cases : written out, one for each bit station, the softest first; the first is analysed
    numbers : of their stations, from 0
    cuts : in the order they are made
    """

    bar: str
    set_up: SetUp
    cases: tuple[CaseFile, ...]
    numbers: tuple[int, ...]
    outcome: Outcome
    cuts: tuple[PlannedCut, ...]
    alternatives: tuple[Alternative, ...]

    @property
    def misses(self) -> tuple[tuple[str, Finding], ...]:
        """Every limit that is not met, with the stage that misses it."""
        found = [(cut.stage, one) for cut in self.cuts for one in cut.findings if not one.ok]
        return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """A job planned.

    Attributes
    ----------
    system : units that sizes are made round in
    verdict : whether it is a job for a bar at all
    obstacles : what is in the way whatever the bar, each in a sentence
    bars : of the stock, those that can do it first
    chosen : None where no set-up is possible
    notes : what else to know, each in a sentence
    """

    job: BoringJob
    system: Own
    verdict: Verdict
    obstacles: tuple[str, ...]
    bars: tuple[JudgedBar, ...]
    chosen: Chosen | None
    notes: tuple[str, ...]

    @property
    def ok(self) -> bool:
        """Whether the job can be done with every limit met."""
        return self.chosen is not None and not self.chosen.misses


def make_plan(job: BoringJob, system: Own, name: str = "a job file") -> Plan:
    """Plan a job.

    Parameters
    ----------
    system : `mm` or `inch`, in which sizes are made round
    name : of the job's file, for the head of the case

    Raises
    ------
    SolveError
        A solve could not be trusted.
    """
    verdict, obstacles = fitness(job, system), tuple(_obstacles(job, system))
    bars = () if verdict.fitness == "not for a bar" else judged_bars(job, system)
    wanted = bar_wanted(job, system) if bars and not any(one.ok for one in bars) else None
    chosen = None
    if not obstacles and any(one.ok for one in bars):
        chosen = _chosen(job, system, bars, name)
    return Plan(
        job=job,
        system=system,
        verdict=verdict,
        obstacles=obstacles,
        bars=bars,
        chosen=chosen,
        notes=tuple(_notes(job, system, chosen, wanted)),
    )


# --- whether it is a job for a bar -----------------------------------------------------------


def fitness(job: BoringJob, system: Own) -> Verdict:
    """Whether the job is one for a line-boring bar, and why."""
    work = job.work
    if work.blind == "yes":
        return Verdict(
            "not for a bar",
            "the bore is closed at one end, and a bar held at both ends must pass right through",
        )
    lands, slender = len(work.lands), work.length / work.bore.nominal
    if lands > 1:
        return Verdict(
            "for a line-boring bar", f"{lands} bores must stand in one line, and the bar is it"
        )
    easier = _on_faceplate(job, system)
    if easier and slender <= SHORT_BORE and work.length <= NEAR_PLATE:
        return Verdict("perhaps easier on the faceplate", easier)
    return Verdict(
        "for a line-boring bar",
        f"a through bore {slender:.2g} times as long as it is wide",
    )


def _on_faceplate(job: BoringJob, system: Own) -> str:
    """Why an ordinary boring tool may do, as far as the job tells; empty if it may not."""
    work, swing = job.work, job.lathe.swing
    if work.farthest is None or work.casting_mass is None or swing is None:
        return ""
    if 2 * work.farthest > swing or work.casting_mass > LIGHT:
        return ""
    return (
        f"the casting is light ({show(float(work.casting_mass), 'mass', system)}), swings "
        f"{show(2 * float(work.farthest), 'length', system)} where the lathe takes "
        f"{show(float(swing), 'length', system)}, and its bore is short: on the faceplate an "
        "ordinary boring tool may do it with less work (common practice)"
    )


def _obstacles(job: BoringJob, system: Own) -> Iterator[str]:
    axis, lathe, swing = job.work.axis_height, job.lathe.height_over_slide, job.lathe.swing
    if axis is not None and lathe is None and swing is not None and axis >= swing / 2:
        stands, half = (show(float(h), "length", system) for h in (axis, swing / 2))
        yield (
            f"the bore stands {stands} above the foot of the casting and the lathe swings only "
            f"{half} above its bed, less over the cross slide: bore it on a larger machine, or "
            "turn the casting so that the bore stands lower"
        )
    yield from _end_hole(job, system)
    if axis is not None and lathe is not None and axis > lathe:
        stands, has, over = (show(float(h), "length", system) for h in (axis, lathe, axis - lathe))
        yield (
            f"the bore stands {stands} above the foot of the casting and the lathe's axis only "
            f"{has} above the slide: {over} too high; take the top of the slide off, or bore it "
            "on a larger machine"
        )


def _blocking(job: BoringJob) -> bool:
    """Whether the smallest hole is one that the edge at size cannot pass."""
    return job.work.access is not None and job.work.access < job.work.bore.upper


def _end_hole(job: BoringJob, system: Own) -> Iterator[str]:
    """A hole too small for the edge, nearer to the bore than the bit runs out."""
    work = job.work
    if not _blocking(job) or work.access_at is None or work.access_room is None:
        return
    bit = float(min(job.stock.bits))
    ends = {"head": ("run-in", run_in(job)), "tail": ("run-out", float(job.travel.run_out))}
    for end, (word, past) in ends.items():
        if work.access_at not in (end, "both") or work.access_room >= past + bit:
            continue
        room, needs, hole, bore = (
            show(float(x), "length", system)
            for x in (work.access_room, past + bit, work.access or 0.0, work.bore.upper)
        )
        yield (
            f"at the {end} end the {hole} hole stands {room} from the bore, and the bit with its "
            f"{word} takes {needs}: an edge that bores {bore} would cut that hole. Bore it larger "
            "first, or shorten the run past the bore under travel"
        )


def _end_hole_note(job: BoringJob, system: Own, chosen: Chosen) -> Iterator[str]:
    """What nobody knows of a hole that is smaller than the bore."""
    work, past = job.work, job.travel
    if not _blocking(job) or (work.access_at is not None and work.access_room is not None):
        return
    hole, head, tail = (
        show(float(x), "length", system)
        for x in (
            work.access or 0.0,
            run_in(job) + chosen.set_up.bit_size,
            float(past.run_out) + chosen.set_up.bit_size,
        )
    )
    yield (
        f"CAUTION: the smallest hole is {hole} and the edge bores "
        f"{show(float(work.bore.upper), 'length', system)}, but access_at and access_room do not "
        f"say where it lies: within {head} of the bore at the headstock end, or {tail} at the "
        "tailstock end, the bit would cut it. Measure before the bar is made"
    )


def packing_height(job: BoringJob) -> float | None:
    """What must be packed under the casting, m; None where the heights are not given."""
    axis, lathe = job.work.axis_height, job.lathe.height_over_slide
    return None if axis is None or lathe is None else float(lathe - axis)


# --- the set-up ------------------------------------------------------------------------------


def preferred(set_ups: Sequence[SetUp]) -> SetUp:
    """The set-up to take of one bar's, see the head of this module."""
    stiffest = max(one.least_stiffness for one in set_ups)
    near = [one for one in set_ups if one.least_stiffness >= FEWER_HOLES * stiffest]
    fewest = min(len(one.budget.stations) for one in near)
    kept = [one for one in near if len(one.budget.stations) == fewest]
    best = max(kept, key=lambda one: one.least_stiffness)
    alike = (
        one
        for one in kept
        if one.drive == "centres" and one.least_stiffness >= ON_CENTRES * best.least_stiffness
    )
    return next(alike, best)


def _candidates(bars: Sequence[JudgedBar]) -> list[tuple[JudgedBar, SetUp]]:
    """Set-ups in the order they are tried: the one to take of the best bar, its others, and on."""
    found = []
    for bar in (one for one in bars if one.ok):
        first = preferred(bar.set_ups)
        found += [(bar, first), *((bar, one) for one in bar.set_ups if one is not first)]
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cuts:
    """Cuts found for one set-up: the last two, roughing if there is any, where they begin."""

    finish: Trial
    rough: Trial | None
    finish_start: float

    @property
    def good(self) -> bool:
        return self.finish.good and (self.rough is None or self.rough.good)

    @property
    def shortfall(self) -> float:
        return max(self.finish.shortfall, self.rough.shortfall if self.rough else 0.0)


def _chosen(job: BoringJob, system: Own, bars: Sequence[JudgedBar], name: str) -> Chosen:
    tried = []
    for bar, set_up in _candidates(bars)[:SET_UPS_TRIED]:
        tried.append((bar, set_up, _cuts(job, set_up, system)))
        if tried[-1][2].good:
            break
    bar, set_up, cuts = min(tried, key=lambda one: (not one[2].good, one[2].shortfall))
    order = sorted(range(len(set_up.stiffness)), key=set_up.stiffness.__getitem__)
    begin, cut = cuts.finish_start, cuts.finish.cut
    cases = tuple(
        _written(
            _with_roughing(station_case(job, set_up, number, cut, start_bore=begin), job, cuts),
            job,
            name,
            system,
        )
        for number in order
    )
    outcome = analyse(cases[0].case)
    return Chosen(
        bar=bar.name,
        set_up=set_up,
        cases=cases,
        numbers=tuple(order),
        outcome=outcome,
        cuts=_planned(job, set_up, cuts, outcome),
        alternatives=_alternatives(bars, bar, set_up),
    )


def _with_roughing(case: Case, job: BoringJob, cuts: _Cuts) -> Case:
    """The case of the last two cuts with what comes before them."""
    if cuts.rough is None:
        return case
    cut = cuts.rough.cut
    assert cut.speed is not None
    rough = Roughing(
        start_bore=job.work.start_bore, passes=cuts.rough.count, feed=cut.feed, speed=cut.speed
    )
    return case.model_copy(update={"roughing": rough})


def _alternatives(
    bars: Sequence[JudgedBar], bar: JudgedBar, taken: SetUp
) -> tuple[Alternative, ...]:
    """Every other set-up of the bar taken, and the best one of each other bar."""
    others = [(bar, one) for one in bar.set_ups if one is not taken]
    others += [(one, preferred(one.set_ups)) for one in bars if one.ok and one is not bar]
    found = (
        Alternative(bar=one.name, set_up=each, ratio=each.least_stiffness / taken.least_stiffness)
        for one, each in others
    )
    return tuple(sorted(found, key=lambda one: -one.ratio))


def why_bar(plan: Plan, one: JudgedBar) -> str:
    """Why a bar stands where it stands, in a sentence."""
    if not one.ok:
        return "; ".join(one.conflicts)
    taken = plan.chosen
    if taken is None:
        return f"it would go in, at {_stiff(one.set_ups[0], plan.system)} at the bit"
    if taken.set_up.bar is one.bar:
        return f"taken: {_stiff(taken.set_up, plan.system)} at the bit, the stiffest that goes in"
    own = preferred(one.set_ups)
    ratio, system = own.least_stiffness / taken.set_up.least_stiffness, plan.system
    yields = [
        show(float(bar.material.yield_strength), "stress", system)
        for bar in (one.bar, taken.set_up.bar)
    ]
    if abs(ratio - 1) <= ALIKE:
        return (
            f"as stiff, for steel decides nothing there; it yields at {yields[0]}, the one taken "
            f"at {yields[1]}"
        )
    stiff = _stiff(own, system)
    return f"{ratio:.2g} of the stiffness of the one taken, {stiff} at the bit, {drive_words(own)}"


def _stiff(set_up: SetUp, system: Own) -> str:
    return show(float(f"{set_up.least_stiffness:.3g}"), "stiffness", system)


def drive_words(set_up: SetUp) -> str:
    """How a bar is driven and with how many bit stations, in words."""
    way = "in the chuck" if set_up.drive == "chuck" else "between centres"
    count = len(set_up.budget.stations)
    return f"{way} with {count} bit station{'' if count == 1 else 's'}"


# --- the cuts --------------------------------------------------------------------------------


def aim(job: BoringJob) -> float:
    """Size that is steered for, m: the middle of the limits."""
    return (job.work.bore.lower + job.work.bore.upper) / 2


def _cuts(job: BoringJob, set_up: SetUp, system: Own) -> _Cuts:
    """The last two cuts of the softest station, and the roughing before them."""
    start, number = float(job.work.start_bore), set_up.softest
    bored, stock = set_up.budget.stations[number].bored, (aim(job) - start) / 2
    on = bench(station_case(job, set_up, number))
    finish = _first_that_holds(on.case, finishing(job, on, stock, bored, system))
    if stock - 2 * finish.cut.depth < max(finish.cut.depth / 2, LEAST_CUT):
        return _Cuts(finish=_all_the_stock(finish, stock), rough=None, finish_start=start)
    step = BORE_STEP["inch" if system == "inch" else "mm"]
    begin = round(round((aim(job) - 4 * finish.cut.depth) / step) * step, 9)
    rough = roughing(job, on, (begin - start) / 2, finish.cut.depth, bored, system)
    return _Cuts(finish=finish, rough=_first_that_holds(on.case, rough), finish_start=begin)


def _first_that_holds(case: Case, trials: Sequence[Trial]) -> Trial:
    """The first trial under which bar, bit and screws hold, or of all the one that asks least.

    Each that is looked at asks clearly less than the one before it.
    """
    looked: list[tuple[float, Trial]] = []
    for one in [trial for trial in trials if trial.good] or trials[:1]:
        if looked and _load(one) > LIGHTER * min(_load(other) for _, other in looked):
            continue
        held = _held(case.model_copy(update={"cut": one.cut}))
        if all(finding.ok for finding in held):
            return one
        looked.append((min(finding.margin for finding in held), one))
    # What hardly gets better with a lighter cut is not the cut's doing.
    best = max(margin for margin, _ in looked)
    return next(trial for margin, trial in looked if margin >= NEARLY * best)


def _load(trial: Trial) -> float:
    """How much a cut asks, m2 of chip."""
    return float(trial.cut.depth * trial.cut.feed)


def _held(case: Case) -> tuple[Finding, ...]:
    """Strength and holding of a case."""
    force, factored = cutting_force(case), factorised(beam_model(case))
    statics = solve_statics(case, force, factored)
    return (
        *strength_findings(case, solve_strength(case, force, factored)),
        *holding_findings(case, solve_holding(case, force, statics)),
    )


def _all_the_stock(finish: Trial, stock: float) -> Trial:
    """The same cut, two of which take all there is."""
    count = 1 if stock < 2 * LEAST_CUT else 2
    cut = finish.cut.model_copy(update={"depth": stock / count})
    return replace(finish, cut=cut, count=count)


def _planned(
    job: BoringJob, set_up: SetUp, cuts: _Cuts, outcome: Outcome
) -> tuple[PlannedCut, ...]:
    """Roughing if there is any, and the last two cuts as the run has them."""
    rough = () if cuts.rough is None else (_roughed(job, set_up, cuts, cuts.rough, outcome),)
    length = set_up.budget.stations[set_up.softest].bored
    minutes = length / (outcome.case.cut.feed * outcome.case.spindle_speed) / 60
    last = tuple(replace(one, minutes=minutes) for one in outcome.passes.passes)
    return (
        *rough,
        PlannedCut(
            stage="last two" if len(last) == 2 else "all",
            cut=outcome.case.cut,
            case=outcome.case,
            passes=last,
            findings=outcome.findings,
        ),
    )


def _roughed(
    job: BoringJob, set_up: SetUp, cuts: _Cuts, trial: Trial, outcome: Outcome
) -> PlannedCut:
    """The roughing passes; a size error as large as the next cut is deep is all they may leave."""
    start = float(job.work.start_bore)
    bore = Fit(nominal=cuts.finish_start, lower=cuts.finish_start, upper=cuts.finish_start)
    plain = station_case(job, set_up, set_up.softest, trial.cut, bore=bore, start_bore=start)
    limits = plain.limits.model_copy(update={"size_error": cuts.finish.cut.depth})
    case = plain.model_copy(update={"limits": limits})
    found = evaluated(case)
    minutes = trial.minutes / trial.count
    return PlannedCut(
        stage="roughing",
        cut=trial.cut,
        case=case,
        passes=tuple(replace(one, minutes=minutes) for one in outcome.passes.roughing),
        findings=found.findings,
    )


# --- the case --------------------------------------------------------------------------------


CHOSEN = (
    "bar.material",
    "bar.diameter",
    "bar.span",
    "cross_hole",
    "bit.size",
    "bit.length",
    "supports.drive",
    "cut",
    "roughing",
)
"""Keys of a case, with what is under them, that a plan chooses; the rest is the job's."""


def _written(case: Case, job: BoringJob, name: str, system: Own) -> CaseFile:
    """The case as text, and what that text reads back as."""
    plain = write_case(_in_round_figures(case, system), "inch" if system == "inch" else "mm")
    weighed = job.work.casting_mass is not None and job.work.mass is None
    text = (
        f"# Made by barwright plan from the job {name}; a case like any other: change it, and\n"
        "# run it again with barwright run. The cut is that of the last two passes; roughing, if\n"
        "# there is any, comes before it. What the plan chose is marked so; the rest is as the\n"
        "# job says, and what is left out is a guess with a range (see barwright check).\n"
        + (_CASTING if weighed else "")
        + "\n".join(_marked(plain.splitlines()))
        + "\n"
    )
    source = Source(
        file="case.yaml", name="case.yaml", text=text, sha256=sha256(text.encode()).hexdigest()
    )
    return parse_case(source)


_CASTING = (
    "# work.mass is the casting of the job and a guess of carriage, slide and packing under it.\n"
)


def _marked(lines: Sequence[str]) -> Iterator[str]:
    """Lines of a case with a mark behind those values that a plan chooses."""
    above: list[str] = []
    for line in lines:
        key, _, value = line.lstrip(" -").partition(":")
        deep = (len(line) - len(line.lstrip(" "))) // 2
        above = [*above[:deep], key]
        here = ".".join(above)
        chosen = any(here == one or here.startswith(f"{one}.") for one in CHOSEN)
        yield f"{line}  {MARK}" if value and chosen else line


def _in_round_figures(case: Case, system: Own) -> Case:
    """The case with its mass in whole kilograms or pounds, if it is a sum with a guess."""
    mass, unit = case.work.mass, "lb" if system == "inch" else "kg"
    if "mass" not in case.work.model_fields_set or not isinstance(mass, Estimate):
        return case
    one = parse_quantity(f"1 {unit}", "mass")
    likely, low, high = (
        float(parse_quantity(f"{round(end / one)} {unit}", "mass"))
        for end in (float(mass), mass.low, mass.high)
    )
    work = case.work.model_copy(update={"mass": Estimate(likely, low, high)})
    return case.model_copy(update={"work": work})


# --- what else to know -----------------------------------------------------------------------


def _notes(
    job: BoringJob, system: Own, chosen: Chosen | None, wanted: str | None
) -> Iterator[str]:
    if chosen is None:
        if wanted is not None:
            yield wanted
        return
    packing = packing_height(job)
    if packing is not None:
        yield f"pack the casting up by {shop_size(packing, system)}, on solid parallels"
    elif job.work.axis_height is None or job.lathe.height_over_slide is None:
        lacks = [
            name
            for name, height in (
                ("work.axis_height", job.work.axis_height),
                ("lathe.height_over_slide", job.lathe.height_over_slide),
            )
            if height is None
        ]
        yield (
            f"{' and '.join(lacks)} {'is' if len(lacks) == 1 else 'are'} not given, so nobody "
            "knows whether the bore comes up to the lathe's axis or stands above it: measure both "
            "before anything is made"
        )
    yield from _end_hole_note(job, system, chosen)
    if run_in(job) > job.travel.run_in:
        yield (
            f"the casting reaches {shop_size(float(job.work.beyond_head), system)} past the "
            "bore, so the span has room to bring the bit out of it to be set and measured; write "
            "bit_reached: yes if a hand gets at the bit inside"
        )
    yield _speed_note(system, chosen)
    yield from _support_note(system, chosen)
    yield from _station_notes(job, system, chosen)
    if job.lathe.carriage_length is None:
        yield (
            "the length of the carriage is not given, so nobody knows whether it hits headstock "
            "or tailstock: walk it through both ends of the travel by hand"
        )
    yield from _skin_note(job, system, chosen)
    yield _chip_note(job, system, chosen)
    if not job.lathe.feeds:
        yield "the job lists no feeds of the lathe; common ones are taken: use the nearest"


def _speed_note(system: Own, chosen: Chosen) -> str:
    """Why the cut turns no faster, and what the next speed of the lathe would save."""
    cut = chosen.cuts[-1].cut
    assert cut.speed is not None
    metal, now = chosen.outcome.case.work.material, float(cut.speed)
    minutes = sum(one.minutes or 0.0 for each in chosen.cuts for one in each.passes)
    slow = metal.hss_speed_least
    why = (
        "the slow end of what a high-speed-steel edge is run at"
        + ("" if slow is None else f" in {metal.name}, {show(slow, 'surface speed', system)}")
        + ": a slow edge rubs, which steadies a long bar, and it lasts to the end of the bore "
        "(common practice)"
    )
    said = f"{60 * now:.0f} rpm because it is near {why}"
    judged = (
        one for one in chosen.outcome.speeds.speeds if one.on_lathe and one.verdict == "good"
    )
    faster = min((one.speed for one in judged if one.speed > 1.01 * now), default=None)
    if faster is None:
        return f"{said}; every faster speed of the lathe has something against it"
    return (
        f"{said}; {60 * faster:.0f} rpm has nothing against it either and would save some "
        f"{minutes * (1 - now / faster):.0f} of the {minutes:.0f} minutes: try it once this one "
        "cuts quietly"
    )


def _chip_note(job: BoringJob, system: Own, chosen: Chosen) -> str:
    room = (job.work.passes_through - chosen.set_up.bar.diameter) / 2
    there, least = (shop_size(float(gap), system) for gap in (room, chip_gap(job)))
    kind = "break short" if breaks_short(job.work.material) else "curl"
    return (
        f"room for chips {there} all round; {least} is the least for chips that {kind} (common "
        "practice)"
    )


def _support_note(system: Own, chosen: Chosen) -> Iterator[str]:
    """Chuck or centres, with the same bar and as many stations."""
    taken = chosen.set_up
    other = next(
        (
            one
            for one in chosen.alternatives
            if one.set_up.bar is taken.bar
            and one.set_up.drive != taken.drive
            and len(one.set_up.budget.stations) == len(taken.budget.stations)
        ),
        None,
    )
    if other is None:
        return
    spans = [shop_size(one.budget.span, system) for one in (taken, other.set_up)]
    gain = (other.ratio if taken.drive == "centres" else 1 / other.ratio) - 1
    more = f"{100 * gain:.0f} % stiffer" if gain >= 0.005 else "no stiffer"
    if taken.drive == "centres" and gain < JAWS_WORTH - 1:
        yield (
            f"between centres: in the chuck the bar would be {more} at the bit (span {spans[1]} "
            f"against {spans[0]}), and under {100 * (JAWS_WORTH - 1):.0f} % centres are better, "
            "for a bar on centres runs true when it is put back"
        )
    elif taken.drive == "centres":
        yield (
            f"between centres, although the bar would be {more} in the chuck: the cuts tried "
            "there met the limits no better"
        )
    elif gain >= JAWS_WORTH - 1:
        yield (
            f"in the chuck: the bar is {more} at the bit than between centres (span {spans[0]} "
            f"against {spans[1]}), which is worth clocking it true by the jaws"
        )
    else:
        yield (
            f"in the chuck: the bar is only {more} at the bit than between centres, but there the "
            "cuts tried missed a limit; clock it true by the jaws"
        )


def _station_notes(job: BoringJob, system: Own, chosen: Chosen) -> Iterator[str]:
    stations = chosen.set_up.budget.stations
    if len(stations) < 2:
        return
    one = next(
        (
            other
            for other in chosen.alternatives
            if other.bar == chosen.bar
            and other.set_up.drive == chosen.set_up.drive
            and len(other.set_up.budget.stations) == 1
        ),
        None,
    )
    if one is not None:
        yield (
            f"{len(stations)} bit stations instead of one make the span "
            f"{shop_size(chosen.set_up.budget.span, system)} instead of "
            f"{shop_size(one.set_up.budget.span, system)}, and the bar {1 / one.ratio:.2g} "
            "times as stiff at the bit"
        )
    yield (
        "one bit at a time, the other holes empty: bore one station's lands to size, then move "
        "the bit; two bits at once double the load"
    )
    for run in overruns(job, chosen.set_up.budget, chosen.set_up.bit_size):
        yield (
            f"the whole travel is not for the bit of {run.station.lands}: it would run "
            f"{shop_size(round(run.by, 4), system)} into land {run.land + 1}; set a stop for "
            "its own stretch"
        )
    guess = "gaps_reached" not in job.work.model_fields_set
    yield "the bit is set and measured in the gaps" + (
        ": that a hand gets in there is a guess; write gaps_reached: no if it does not"
        if guess
        else ""
    )


def _skin_note(job: BoringJob, system: Own, chosen: Chosen) -> Iterator[str]:
    first, skin = chosen.cuts[0], skin_of(job)
    depth = first.passes[0].depth.likely
    if skin and depth < skin - LEAST_CUT:
        enough = first.stage == "roughing" and depth * len(first.passes) >= skin
        why = "a deeper one would miss a limit" if enough else "there is no more stock"
        yield (
            f"the first cut of {show(depth, 'length', system)} may not get under the skin "
            f"({show(skin, 'length', system)} all round is common practice), and {why}: grind or "
            "file the worst of the scale off first"
        )
