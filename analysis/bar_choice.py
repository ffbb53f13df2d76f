"""Which bar of the stock: what goes through the bore, what is long enough, what is stiffest.

A bar must leave room for chips all round it, carry a bit on hand in a cross-hole that is no more
than a third of it, and be long enough for its length budget, which the lathe must have room for.
Of those that are left, each driven every way the lathe has and with every set of bit stations,
the stiffest at its softest bit comes first: diameter to the fourth power against span cubed, with
supports, cross-holes and bit in the sum. Steels of one size are told apart by their strength.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from .bar import Bar, Bit, CrossHole, SetScrew
from .beam import beam_model
from .case import Case
from .choice import SupportName
from .cut import Cut
from .entry import Entry
from .holding import longest_drawn_back, threads
from .job import BoringJob, StockBar
from .lathe import Lathe
from .length_budget import (
    SAME,
    LengthBudget,
    Station,
    groupings,
    length_budget,
    run_in,
    shortages,
)
from .material import WorkMaterial
from .model import factorised
from .support import AnySupport, Chuck, DogCentre, Supports
from .units import Estimate, Own, shop_size
from .variant import loop_compliances
from .work import Work

CHIP_GAP = 0.1
"""Room for chips over the diameter of the bore, where they break short (common practice)."""
CHIP_GAP_LEAST, CHIP_GAP_MOST = 0.002, {"mm": 0.0032, "inch": 0.003175}
"""Of it, m: 2 mm in a small bore, 1/8 in in any other (common practice)."""
LONG_CHIPS = 1.5
"""Room for chips that curl over that for chips that break (common practice)."""
SHORT_CHIPS = ("iron", "brass", "bronze", "babbitt")
"""Metals whose chips break short, by a word of their names."""
GOOD_HOLE = 0.3
"""Of the bar's diameter: the largest bit that is taken without need (common practice: a quarter
is good, 0.3 tolerable, a third weak)."""
ALIKE = 0.03
"""Stiffnesses nearer than this, as a share, are alike; data books differ by as much."""
SCREW_SHARE = 0.8
"""Of the bit: the widest set screw that is taken (common practice)."""
SLIDE_MASS = Estimate(30.0, 12.0, 90.0)
"""Carriage, slide and packing of a small lathe without the casting, kg; a guess."""
_E = TypeVar("_E", bound=Entry)
BIT_STEP = {"mm": 0.0005, "inch": 0.00079375}
"""A bit's length is given in steps of so much, m: half a millimetre or 1/32 in."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetUp:
    """One bar, driven one way, with one set of bit stations.

    Attributes
    ----------
    budget : span, stations and room
    bit_size : m
    bit_length : m
    screw : m, set screw; None where the table has none that is thin enough
    stiffness : N/m, along the bit, edge against work, at each station
    """

    bar: StockBar
    budget: LengthBudget
    bit_size: float
    bit_length: float
    screw: float | None
    stiffness: tuple[float, ...] = ()

    @property
    def drive(self) -> SupportName:
        """How the bar is driven."""
        return self.budget.drive

    @property
    def softest(self) -> int:
        """Number of the station where the bar gives most."""
        return min(range(len(self.stiffness)), key=self.stiffness.__getitem__)

    @property
    def least_stiffness(self) -> float:
        """Stiffness at that station, N/m."""
        return min(self.stiffness)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JudgedBar:
    """One bar of the stock: its best set-ups first, or what keeps it out.

    Attributes
    ----------
    name : what it is called
    set_ups : every one that is possible, the stiffest first
    conflicts : each in a sentence; none where a set-up is possible
    """

    bar: StockBar
    name: str
    set_ups: tuple[SetUp, ...]
    conflicts: tuple[str, ...]

    @property
    def ok(self) -> bool:
        """Whether the job can be set up with it."""
        return bool(self.set_ups)


def bar_name(bar: StockBar, system: Own) -> str:
    """What a bar is called: its name, or size and steel."""
    return bar.name or f"{shop_size(float(bar.diameter), system)} {bar.material.name}"


def chip_gap(job: BoringJob) -> float:
    """Least room round the bar for chips, m."""
    if job.work.chip_gap is not None:
        return job.work.chip_gap
    least = CHIP_GAP * job.work.start_bore
    room = min(max(least, CHIP_GAP_LEAST), CHIP_GAP_MOST[job.own])
    return room if breaks_short(job.work.material) else LONG_CHIPS * room


def breaks_short(metal: WorkMaterial) -> bool:
    """Whether its chips break short; a metal of one's own is taken to curl."""
    return any(word in metal.name for word in SHORT_CHIPS)


def judged_bars(job: BoringJob, system: Own) -> tuple[JudgedBar, ...]:
    """Every bar of the stock, those that can do the job first, the stiffest of them first."""
    found = [_judged(job, bar, system) for bar in job.stock.bars]
    able = sorted((one for one in found if one.ok), key=_stiffest)
    return (*_strongest_first(able), *(one for one in found if not one.ok))


def _stiffest(one: JudgedBar) -> float:
    return -one.set_ups[0].least_stiffness


def _strongest_first(able: Sequence[JudgedBar]) -> tuple[JudgedBar, ...]:
    """Among those as stiff as the stiffest, the strongest steel first."""
    if not able:
        return ()
    least = able[0].set_ups[0].least_stiffness * (1 - ALIKE)
    alike = [one for one in able if one.set_ups[0].least_stiffness >= least]
    alike.sort(key=lambda one: -one.bar.material.yield_strength)
    return (*alike, *able[len(alike) :])


def _judged(job: BoringJob, bar: StockBar, system: Own) -> JudgedBar:
    why = tuple(_too_thick(job, bar, system))
    size = None if why else bit_for(job, bar)
    if not why and size is None:
        why = (_no_bit(job, bar, system),)
    length = None if size is None else bit_length(job, bar, size, system)
    if size is not None and length is None:
        why = (_no_length(job, bar, size, system),)
    set_ups: list[SetUp] = []
    if size is not None and length is not None:
        budgets = tuple(_budgets(job, size, system))
        why = tuple(_too_short(job, bar, budgets, system))
        plain = [
            SetUp(
                bar=bar,
                budget=budget,
                bit_size=size,
                bit_length=length,
                screw=_screw(size, system),
            )
            for budget in budgets
            if not tuple(_short(job, bar, budget, system))
        ]
        set_ups = sorted(
            (replace(one, stiffness=_stiffness(job, one)) for one in plain),
            key=lambda one: -one.least_stiffness,
        )
    name = bar_name(bar, system)
    return JudgedBar(bar=bar, name=name, set_ups=tuple(set_ups), conflicts=() if set_ups else why)


def bar_wanted(job: BoringJob, system: Own) -> str | None:
    """What bar would do, in a sentence; None where the lathe has no room for any."""
    thickest = job.work.passes_through - 2 * chip_gap(job)
    bit = float(min(job.stock.bits))
    lengths = [
        f"{_said(budget.stock, system)} long {_way(budget.drive)}"
        for budget in _shortest(job, tuple(_budgets(job, bit, system)))
        if not tuple(shortages(job, budget, system))
    ]
    if not lengths or thickest <= 0:
        return None
    largest = min(job.limits.hole_share, 1 / 3) * thickest
    bits = "" if bit <= largest + SAME else f", with a bit of {_said(largest, system)} at most"
    return (
        f"a bar of up to {_said(thickest, system)} would go in{bits}, at least "
        f"{' or '.join(lengths)}"
    )


def _way(drive: SupportName) -> str:
    return "in the chuck" if drive == "chuck" else "between centres"


def _shortest(job: BoringJob, budgets: Sequence[LengthBudget]) -> Iterator[LengthBudget]:
    """The shortest span of each way of driving the bar."""
    for drive in _drives(job):
        yield min((one for one in budgets if one.drive == drive), key=lambda one: one.span)


# --- what keeps a bar out --------------------------------------------------------------------


def _too_thick(job: BoringJob, bar: StockBar, system: Own) -> Iterator[str]:
    gap, hole = chip_gap(job), job.work.passes_through
    needs = bar.diameter + 2 * gap
    if needs > hole + SAME:
        what = "the bore now" if hole == job.work.start_bore else "access"
        yield (
            f"bar {_said(bar.diameter, system)} needs {_said(needs, system)} bore "
            f"({_said(gap, system)} all round for chips); {what} is {_said(hole, system)}"
        )


def _said(length: float, system: Own) -> str:
    return shop_size(float(length), system)


def bit_for(job: BoringJob, bar: StockBar) -> float | None:
    """Size of the bit on hand for a bar, m: the largest that is good for it, or the least bad."""
    most = min(job.limits.hole_share, 1 / 3) * bar.diameter
    usable = sorted(float(size) for size in job.stock.bits if size <= most + SAME)
    good = [size for size in usable if size <= GOOD_HOLE * bar.diameter + SAME]
    if good:
        return good[-1]
    return usable[0] if usable else None


def _no_bit(job: BoringJob, bar: StockBar, system: Own) -> str:
    most = min(job.limits.hole_share, 1 / 3)
    return (
        f"bar {_said(bar.diameter, system)} takes a bit of {_said(most * bar.diameter, system)} "
        f"at most, {most:.0%} of it; the smallest on hand is {_said(min(job.stock.bits), system)}"
    )


def _window(job: BoringJob, bar: StockBar, size: float, system: Own) -> tuple[float, float]:
    """Shortest and longest bit, m, as `holding.bit_window` has them, for the whole job."""
    edge = job.work.bore.upper / 2
    drawn_back = longest_drawn_back(float(job.work.start_bore), size, square=True)
    longest = min(job.work.bore.lower / 2 + bar.diameter / 2, drawn_back)
    return edge + (_screw(size, system) or size) / 2, longest


def bit_length(job: BoringJob, bar: StockBar, size: float, system: Own) -> float | None:
    """Length of the bit, m: two thirds up its window; None where no length will do."""
    shortest, longest = _window(job, bar, size, system)
    step = BIT_STEP["inch" if system == "inch" else "mm"]
    steps = int((shortest + 2 * (longest - shortest) / 3) / step + 1e-6)
    length = steps * step
    return round(length, 9) if shortest <= length < longest else None


def _no_length(job: BoringJob, bar: StockBar, size: float, system: Own) -> str:
    shortest, longest = _window(job, bar, size, system)
    return (
        f"bar {_said(bar.diameter, system)}: a bit must be {_said(shortest, system)} long to be "
        f"held at the finished bore, and under {_said(longest, system)} to clear the bore as it "
        "is when drawn back; open the bore in two steps, with a bit for each"
    )


def _screw(size: float, system: Own) -> float | None:
    """The widest shipped set screw that is good for a bit, m, of the shop's own system."""
    metric = system != "inch"
    fits = sorted(
        thread.diameter
        for thread in threads()
        if thread.name.startswith("M") == metric and thread.diameter <= size + SAME
    )
    good = [diameter for diameter in fits if diameter <= SCREW_SHARE * size + SAME]
    return good[-1] if good else next(iter(fits), None)


def _drives(job: BoringJob) -> Iterator[SupportName]:
    if job.lathe.chuck is not None:
        yield "chuck"
    if job.lathe.dog is not None:
        yield "centres"


def _budgets(job: BoringJob, size: float, system: Own) -> Iterator[LengthBudget]:
    for drive in _drives(job):
        for groups in groupings(job, size):
            yield length_budget(job, drive, groups, size, system)


def _short(job: BoringJob, bar: StockBar, budget: LengthBudget, system: Own) -> Iterator[str]:
    if bar.length < budget.stock - SAME:
        yield f"it must be {_said(budget.stock, system)} long and is {_said(bar.length, system)}"
    yield from shortages(job, budget, system)


def _too_short(
    job: BoringJob, bar: StockBar, budgets: Sequence[LengthBudget], system: Own
) -> Iterator[str]:
    """What is in the way of each way of driving it, with as many bit stations as help."""
    for shortest in _shortest(job, budgets):
        found = list(_short(job, bar, shortest, system))
        if found:
            yield f"{_way(shortest.drive)} {', and '.join(found)}"


# --- the case that a set-up makes ------------------------------------------------------------


def _stiffness(job: BoringJob, set_up: SetUp) -> tuple[float, ...]:
    """Stiffness along the bit at each station, N/m, edge against work, at the likely guesses."""
    found = []
    for number in range(len(set_up.budget.stations)):
        case = station_case(job, set_up, number)
        given = loop_compliances(case, factorised(beam_model(case)))
        found.append(1 / float(given[:, 0, 0].mean()))
    return tuple(found)


def station_case(
    job: BoringJob, set_up: SetUp, number: int, cut: Cut | None = None, **work: object
) -> Case:
    """The case of one bit station, its other holes empty.

    Parameters
    ----------
    number : of the station, from 0
    cut : left out: a light one, for a bar that is only to be pushed
    work : what this cut changes of the work: its `bore` and its `start_bore`
    """
    budget = set_up.budget
    station = budget.stations[number]
    holes = [_hole(set_up, one) for one in budget.stations]
    others = tuple(holes[:number] + holes[number + 1 :])
    bar = {"material": set_up.bar.material, "diameter": set_up.bar.diameter, "span": budget.span}
    said = {"job": job.job, "limits": job.limits}
    return Case.model_validate(
        {
            "title": _title(job, budget, station),
            "bar": Bar.model_validate(bar | ({"other_holes": others} if others else {})),
            "cross_hole": holes[number],
            "bit": _bit(job, set_up),
            "supports": Supports(drive=_drive(job, set_up.drive), tail=job.lathe.tail),
            "work": _work(job, station, **work),
            "cut": cut or Cut(depth=1e-4, feed=job.work.material.feed_least, speed=1.0),
            "lathe": _plainer(job.lathe, Lathe),
        }
        | {name: entry for name, entry in said.items() if entry.model_fields_set}
    )


def _bit(job: BoringJob, set_up: SetUp) -> Bit:
    """The bit; what the job does not say of its point is left to the case's own default."""
    said = {"nose_radius"} & job.stock.model_fields_set
    point = {name: getattr(job.stock, name) for name in said}
    return Bit.model_validate({"size": set_up.bit_size, "length": set_up.bit_length} | point)


def _title(job: BoringJob, budget: LengthBudget, station: Station) -> str:
    return job.title if len(budget.stations) == 1 else f"{job.title}: {station.lands}"


def _hole(set_up: SetUp, station: Station) -> CrossHole:
    screws = () if set_up.screw is None else (SetScrew(diameter=set_up.screw),)
    return CrossHole(size=set_up.bit_size, position=station.position, set_screws=screws)


def _drive(job: BoringJob, drive: SupportName) -> AnySupport:
    """The drive support with what the job says of it."""
    if drive == "chuck":
        assert job.lathe.chuck is not None
        return _plainer(job.lathe.chuck, Chuck, kind="chuck")
    dog = job.lathe.dog
    assert dog is not None
    where = {} if "dog_position" in dog.model_fields_set else {"dog_position": dog.length / 2}
    return _plainer(dog, DogCentre, kind="dead centre with dog", **where)


def _plainer(entry: Entry, plain: type[_E], **more: object) -> _E:
    """What was given of an entry as one of a kind that knows fewer of its values."""
    given = sorted(entry.model_fields_set & plain.model_fields.keys())
    values = {name: getattr(entry, name) for name in given}
    return plain.model_validate({k: v for k, v in values.items() if v is not None} | more)


def _work(job: BoringJob, station: Station, **changes: object) -> Work:
    length = round(station.end - station.start, 9)
    past = {
        "beyond_head": job.work.beyond_head,
        "beyond_tail": job.work.beyond_tail,
        "run_in": round(run_in(job), 9),
        "run_out": job.travel.run_out,
    }
    changes = {"bore": job.work.bore, "length": length} | past | moving_mass(job) | changes
    return _plainer(job.work, Work, **changes)


def moving_mass(job: BoringJob) -> dict[str, Estimate]:
    """Carriage, slide and packing with the casting that the job weighs, kg.

    Empty where the job gives no casting, or the mass of all together.
    """
    casting = job.work.casting_mass
    if casting is None or job.work.mass is not None:
        return {}
    low, high = getattr(casting, "low", casting), getattr(casting, "high", casting)
    slide = SLIDE_MASS
    return {"mass": Estimate(casting + slide, low + slide.low, high + slide.high)}
