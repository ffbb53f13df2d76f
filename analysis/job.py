"""A job: the bore to be cut, the lathe it is to be cut on, and the steel on hand.

What `plan` starts from, before there is a bar. The words are those of a case wherever a case has
them; what is left out is a guess with a range, or common practice where a docstring says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from .case import Conflict, Job
from .entry import (
    BoreSize,
    Entry,
    Feed,
    Length,
    LengthOrZero,
    MassAboveZero,
    Share,
    Stiffness,
)
from .lathe import Lathe
from .limits import Limits
from .material import BarMaterialChoice, WorkMaterialChoice
from .support import Chuck, DeadCentre, DogCentre, LiveCentre
from .units import Estimate, Own, quoted, said, show, written_in

YesNo = Literal["yes", "no"]
MOST_LANDS = 8
"""More lands than this are no job for one bar."""
MOST_ON_HAND = 40
"""Bars, or bits, of one list; nobody wants to read about more."""


class JobWork(Entry):
    """The bore: its sizes, what stands along its axis, and the casting round it."""

    material: WorkMaterialChoice
    """Name of a shipped work material (see `barwright materials`), or one of your own."""
    bore: BoreSize
    """Finished size of the bore, with its limits or fit."""
    start_bore: Length
    """Diameter of the bore as it is now, at its smallest."""
    lands: tuple[Length, ...]
    """Length of each land to be bored, in order from the headstock end."""
    gaps: tuple[LengthOrZero, ...] = ()
    """Length of each gap between two lands, in the same order."""
    gaps_reached: YesNo = "yes"
    """Whether a hand with a micrometer gets at the bar in the gaps, so that a bit can be set
    there."""
    access: Length | None = None
    """Smallest hole that the bar must pass, such as a far wall; left out: the bore as it is."""
    access_at: Literal["head", "tail", "both"] | None = None
    """At which end of the bore the smallest hole lies, where the edge cannot pass it; left out:
    nobody knows."""
    access_room: LengthOrZero | None = None
    """Room along the bar between the bore and the smallest hole, for the bit to run out into."""
    bit_reached: YesNo = "no"
    """Whether a hand with a micrometer gets at the bit where it stands inside the casting past the
    headstock end of the bore; if not, the bit comes out of the casting to be set."""
    blind: YesNo = "no"
    """Whether the bore has a closed end."""
    skin: YesNo = "yes"
    """Whether the bore is still as cast, with sand and a hard skin."""
    skin_depth: LengthOrZero = Estimate(0.0008, 0.0005, 0.0016)
    """Least first cut on the radius that gets under the skin everywhere (common practice)."""
    cuts_per_turn: int = Field(default=0, ge=0, le=64)
    """How often per turn the edge leaves and meets the metal again (ports, keyways); 0: never."""
    chip_gap: Length | None = None
    """Least room round the bar for chips; left out: by the bore and how its chips break."""
    beyond_head: LengthOrZero = Estimate(0.006, 0.0, 0.025)
    """How far casting, clamps or slide reach past the bore towards the headstock."""
    beyond_tail: LengthOrZero = Estimate(0.006, 0.0, 0.025)
    """How far casting, clamps or slide reach past the bore towards the tailstock."""
    casting_mass: MassAboveZero | None = None
    """How heavy the casting is."""
    farthest: Length | None = None
    """From the bore's axis to the farthest corner of the casting."""
    axis_height: Length | None = None
    """From the face that the casting stands on to the axis of the bore."""
    radial_stiffness: Stiffness | None = None
    """Carriage, slide, packing and work together, up and down and sideways alike."""
    vertical_stiffness: Stiffness | None = None
    """Push per movement up and down, where it differs from `radial_stiffness`."""
    horizontal_stiffness: Stiffness | None = None
    """Push per movement sideways, where it differs from `radial_stiffness`."""
    axial_stiffness: Stiffness | None = None
    """Carriage, feed gear and work together, along the bar."""
    mass: MassAboveZero | None = None
    """Carriage, slide, packing and work together."""
    damping_ratio: Share | None = None
    """Damping of the work side's own swing."""

    @property
    def length(self) -> float:
        """From the first face of the first land to the last face of the last, m."""
        return sum(self.lands) + sum(self.gaps)

    @property
    def passes_through(self) -> float:
        """Smallest hole that the bar goes through, m."""
        return min(self.start_bore, self.access or self.start_bore)


class ChuckOnHand(Chuck):
    """The chuck of the lathe; the keys of a chuck in a case, and what room it takes."""

    kind: Literal["chuck"] = "chuck"
    """Left out: it is one."""
    reach: LengthOrZero = Estimate(0.060, 0.030, 0.100)
    """How far its jaw faces stand in front of the headstock centre's point."""
    clear: LengthOrZero = 0.0127
    """Least room between jaws and work (common practice)."""


class DogOnHand(DogCentre):
    """The dog of the lathe, for a bar between centres, and what room it takes."""

    kind: Literal["dead centre with dog"] = "dead centre with dog"
    """Left out: it is one."""
    length: Length = Estimate(0.0254, 0.015, 0.040)
    """How much of the bar it takes, from the headstock centre's point."""
    clear: LengthOrZero = 0.0127
    """Least room between dog and work (common practice)."""


class JobLathe(Lathe):
    """The lathe: what a case says of it, and what room and which supports it has."""

    between_centres: Length
    """Longest bar it takes between centres, quill in."""
    feeds: tuple[Feed, ...] = ()
    """Every feed per turn that the lathe has; left out: common ones."""
    height_over_slide: Length | None = None
    """From the top of the cross slide, or its table, to the axis of the lathe."""
    swing: Length | None = None
    """Largest diameter that turns on the faceplate."""
    carriage_length: Length | None = None
    """Length of the carriage along the bed; left out: nobody knows whether it hits."""
    headstock_room: LengthOrZero = Estimate(0.120, 0.060, 0.200)
    """From the jaw faces, or the headstock centre's point, back to where the carriage stops."""
    tailstock_room: LengthOrZero = Estimate(0.060, 0.030, 0.100)
    """From the tail centre's point to where the carriage meets the tailstock, quill in."""
    quill: LengthOrZero = Estimate(0.020, 0.012, 0.032)
    """How far the quill stands out: as little as it can (common practice)."""
    chuck: ChuckOnHand | None = None
    """The chuck, if there is one for the bar."""
    dog: DogOnHand | None = None
    """The dog, if a bar may run between centres."""
    tail: Annotated[LiveCentre | DeadCentre, Field(discriminator="kind")] = Field(
        default_factory=lambda: LiveCentre(kind="live centre")
    )
    """What holds the tail end."""
    tail_clear: LengthOrZero = 0.0127
    """Least room between work and tail centre (common practice)."""


class StockBar(Entry):
    """A piece of bar on hand."""

    name: str = ""
    """What you call it; left out: its size and steel."""
    material: BarMaterialChoice
    """Name of a shipped steel (see `barwright materials`), or a material of your own."""
    diameter: Length
    """Diameter."""
    length: Length
    """Length of the piece."""


class Stock(Entry):
    """The steel on hand."""

    bars: tuple[StockBar, ...]
    """Pieces that may become the bar."""
    bits: tuple[Length, ...]
    """Square tool bits, each by its size across the flats."""
    nose_radius: LengthOrZero = 0.0004
    """Radius that the point is stoned to."""


class RunPast(Entry):
    """How far the work runs past the bit at the ends of the travel."""

    run_in: Length = 0.0127
    """Room between edge and bore before the cut, for setting and measuring the bit (common
    practice)."""
    run_out: Length = 0.00635
    """How far the edge runs clear of the bore after the cut (common practice)."""


class BoringJob(Entry):
    """Everything a plan needs to know, in SI units."""

    title: str
    """One line that names the job."""
    job: Job = Job()
    """The paper behind it."""
    work: JobWork
    """The bore and what is round it."""
    lathe: JobLathe
    """The lathe."""
    stock: Stock
    """The steel on hand."""
    travel: RunPast = RunPast()
    """How far the work runs past the bit."""
    limits: Limits = Limits()
    """What the job asks."""

    @property
    def own(self) -> Own:
        """Units that everything said of the job has first: those of its bore."""
        return written_in(self.work.bore.text)

    def say(self, value: float, kind: str = "length") -> str:
        """A quantity in the job's own units, the other system's in brackets."""
        return said(float(value), kind, self.own)


# --- what cannot be so -----------------------------------------------------------------------


Found = Iterator[Conflict]


def job_conflicts(job: BoringJob) -> tuple[Conflict, ...]:
    """Everything in a job that cannot be so; whether it can be done is for the plan."""
    checks = (_units, _sizes, _along, _drives, _speeds, _feeds, _on_hand)
    return tuple(found for check in checks for found in check(job))


SLIP = 25.4
"""What a size is off by where mm was written for in, or in for mm."""


def _units(job: BoringJob) -> Found:
    """Sizes that are absurd beside the others, and would not be in the other unit."""
    bore, longest = job.work.bore.nominal, job.lathe.between_centres
    shortest = min([*job.work.lands, bore]) if job.work.lands else bore
    beside: list[tuple[tuple[str | int, ...], float, float, float]] = [
        (("work", "start_bore"), job.work.start_bore, bore / 8, bore),
        (("lathe", "between_centres"), longest, 2 * shortest, 10.0),
    ]
    if job.work.access is not None:
        beside.append((("work", "access"), job.work.access, bore / 4, 4 * bore))
    beside += [
        (("work", "lands", k), one, bore / 60, longest) for k, one in enumerate(job.work.lands)
    ]
    for k, bar in enumerate(job.stock.bars):
        beside += [
            (("stock", "bars", k, "diameter"), bar.diameter, bore / 6, 2 * bore),
            (("stock", "bars", k, "length"), bar.length, 1.2 * bar.diameter, 5 * longest),
        ]
    beside += [
        (("stock", "bits", k), one, bore / 40, bore) for k, one in enumerate(job.stock.bits)
    ]
    for key, size, low, high in beside:
        yield from _slip(job, key, float(size), float(low), float(high))


def _slip(
    job: BoringJob, key: tuple[str | int, ...], size: float, low: float, high: float
) -> Found:
    """A size outside `low` to `high`, m, that would lie inside in the other unit."""
    small = size < low and low <= size * SLIP <= high
    large = size > high and low <= size / SLIP <= high
    if small or large:
        meant = size * SLIP if small else size / SLIP
        text = show(meant, "length", "inch" if small else "mm")
        yield Conflict(
            key,
            f"{job.say(size)} is absurd beside the bore and the other sizes: did you mean {text}? "
            "Write the unit that is meant",
        )


def _sizes(job: BoringJob) -> Found:
    start, bore = job.work.start_bore, job.work.bore
    if start >= bore.lower:
        yield Conflict(
            ("work", "start_bore"),
            f"the bore is {job.say(start)} now and may be as small as {job.say(bore.lower)} when "
            "finished: nothing is left to cut. Give the smaller size it has now",
        )


def _along(job: BoringJob) -> Found:
    lands, gaps = len(job.work.lands), len(job.work.gaps)
    if not lands or lands > MOST_LANDS:
        yield Conflict(
            ("work", "lands"),
            f"{lands} lands are listed. Give the length of each land, 1 to {MOST_LANDS} of them, "
            "such as lands: [60 mm]",
        )
    elif gaps != lands - 1:
        yield Conflict(
            ("work", "gaps") if gaps else ("work", "lands"),
            f"{_count(lands, 'land')} and {_count(gaps, 'gap')} do not go together. Give "
            f"{_count(lands - 1, 'gap')}, one between each two lands",
        )


def _count(number: int, what: str) -> str:
    return f"{number or 'no'} {what}{'' if number == 1 else 's'}"


def _drives(job: BoringJob) -> Found:
    if job.lathe.chuck is None and job.lathe.dog is None:
        yield Conflict(
            ("lathe",),
            "nothing turns the bar. Give chuck or dog, or both, with what you know of them, such "
            "as chuck: {grip: 40 mm}",
        )


def _speeds(job: BoringJob) -> Found:
    if not job.lathe.speeds:
        yield Conflict(
            ("lathe",),
            "there are no speeds to choose from. Write every speed the lathe has, such as "
            "speeds: [60 rpm, 90 rpm, 135 rpm]",
        )
    for number, line in enumerate(job.lathe.lines):
        if (line.per_turn is None) == (line.frequency is None):
            has = "neither per_turn nor" if line.per_turn is None else "both per_turn and"
            yield Conflict(
                ("lathe", "lines", number),
                f"{quoted(line.name)} has {has} frequency: give one, per_turn if the spindle "
                "drives it, else frequency",
            )


def _feeds(job: BoringJob) -> Found:
    metal, feeds = job.work.material, job.lathe.feeds
    least, most = metal.feed_least, metal.feed_most
    if feeds and not any(least <= feed <= most for feed in feeds):
        yield Conflict(
            ("lathe", "feeds"),
            f"none of them is within {job.say(least, 'feed')} to {job.say(most, 'feed')}, "
            f"for which the force of {quoted(metal.name)} is known. Give the lathe's other feeds "
            "too",
        )


def _on_hand(job: BoringJob) -> Found:
    for name, such_as in (
        ("bars", "- {material: 1018, diameter: 25 mm, length: 500 mm}"),
        ("bits", "bits: [6 mm, 8 mm]"),
    ):
        count = len(getattr(job.stock, name))
        if not 0 < count <= MOST_ON_HAND:
            yield Conflict(
                ("stock", name),
                f"{count} {name} are listed. Give 1 to {MOST_ON_HAND}, such as {such_as}",
            )
