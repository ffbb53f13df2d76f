"""The length budget: what the bar between its supports is used up by, part by part.

The bit stays where it is and the work runs past it, so the free bar must hold the work on either
side of the bit. With T all lands and gaps, G the longest group of lands that one bit bores, s the
bit, and everything measured along the bar,

    span = drive end + T + G + run-in + bit + run-out + what reaches past the bore + tail end

which is twice the bore and more with one bit (G = T), the rule every text on the craft gives.
Lands far apart may have a bit station each: then the carriage only moves by one land.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from math import ceil, fsum

from .choice import SupportName
from .job import BoringJob
from .units import Own, shop_size

SAME = 1e-7
"""Lengths nearer than this are the same length, m."""
ROUND_SPAN = {"mm": 0.005, "inch": 0.003175}
"""A span is rounded up to so much, m: 5 mm or 1/8 in."""
ROUND_STATION = {"mm": 0.0005, "inch": 0.0015875}
"""The first cross-hole is put on a multiple of so much, m: half a millimetre or 1/16 in."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the span, in words, and its length, m."""

    name: str
    length: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One place of the bit, and the lands that it bores.

    Attributes
    ----------
    first, last : numbers of its first and last land, from 0
    start, end : m, of that stretch, from the first face of the first land
    position : m, of the middle of its hole from the drive support
    bored : m of land, without the gaps
    """

    first: int
    last: int
    start: float
    end: float
    position: float
    bored: float

    @property
    def lands(self) -> str:
        """Its lands by number, from 1 at the headstock end."""
        if self.first == self.last:
            return f"land {self.first + 1}"
        return f"lands {self.first + 1} to {self.last + 1}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """Room left between two things at one end of the travel.

    Attributes
    ----------
    end : `headstock` or `tailstock`
    what : the two things
    room : m; below nothing they hit
    """

    end: str
    what: str
    room: float

    @property
    def ok(self) -> bool:
        """Whether they clear."""
        return self.room >= -SAME


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthBudget:
    """The span of one way of driving the bar with one set of bit stations.

    Attributes
    ----------
    drive : how the bar is driven
    parts : from the drive end to the tail end; their sum is the span
    stations : of the bit, from the headstock end
    travel : m, of the carriage
    clearances : at both ends of the travel
    stock : m of bar needed, what the jaws grip included
    room : m between the centres of the lathe needed, quill out and jaws in front included
    """

    drive: SupportName
    parts: tuple[Part, ...]
    stations: tuple[Station, ...]
    travel: float
    clearances: tuple[Clearance, ...]
    stock: float
    room: float

    @property
    def span(self) -> float:
        """From the drive support to the tail support, m."""
        return round(fsum(part.length for part in self.parts), 9)


SET_ROOM = 0.00635
"""Bar that must stand clear of the casting beside the bit for a micrometer's spindle, m: 1/4 in
(common size)."""


def run_in(job: BoringJob) -> float:
    """Room between edge and bore before the cut, m, so much that a hand gets at the bit.

    The bit is set on the headstock side of the bore, where it stands before the cut. If nobody
    reaches it inside the casting, it must come out of it.
    """
    plain = float(job.travel.run_in)
    if job.work.bit_reached == "yes":
        return plain
    return max(plain, float(job.work.beyond_head) + SET_ROOM)


Groups = tuple[tuple[int, int], ...]
"""First and last land of each station."""


def groupings(job: BoringJob, bit_size: float) -> tuple[Groups, ...]:
    """The best way of sharing the lands out among one station, two, and so on.

    More stations are worth their holes only where the longest group gets shorter, and a bit must
    stand clear in the gap beside its group to be set.
    """
    work, lands = job.work, len(job.work.lands)
    least = bit_size + job.travel.run_in + job.travel.run_out
    splits = [k for k, gap in enumerate(work.gaps, start=1) if gap >= least - SAME]
    if work.gaps_reached == "no":
        splits = []
    found: list[Groups] = [((0, lands - 1),)]
    for count in range(1, len(splits) + 1):
        shared = (_groups(chosen, lands) for chosen in combinations(splits, count))
        best = min(shared, key=lambda groups: _longest(job, groups))
        if _longest(job, best) < _longest(job, found[-1]) - SAME:
            found.append(best)
    return tuple(found)


def _groups(splits: Sequence[int], lands: int) -> Groups:
    edges = (0, *splits, lands)
    return tuple((first, after - 1) for first, after in pairwise(edges))


def _stretch(job: BoringJob, group: tuple[int, int]) -> tuple[float, float]:
    """Start and end of a group of lands, m from the first face of the first land."""
    lands, gaps = job.work.lands, job.work.gaps
    start = fsum(lands[: group[0]]) + fsum(gaps[: group[0]])
    return start, fsum((start, *lands[group[0] : group[1] + 1], *gaps[group[0] : group[1]]))


def _longest(job: BoringJob, groups: Groups) -> float:
    return max(end - start for start, end in (_stretch(job, group) for group in groups))


def length_budget(
    job: BoringJob, drive: SupportName, groups: Groups, bit_size: float, system: Own
) -> LengthBudget:
    """Span, bit stations, travel and clearances of one way of driving the bar.

    Parameters
    ----------
    groups : as `groupings` gives them
    bit_size : m
    system : units that the span is made round in
    """
    work, past = job.work, job.travel
    longest, travelled = _longest(job, groups), _travel(job, groups, bit_size)
    before = [
        *_drive_end(job, drive),
        Part("casting past the bore, headstock end", work.beyond_head),
    ]
    crowded = _short_of_headstock(job, fsum(part.length for part in before))
    before.insert(-1, Part("room for the carriage at the headstock", crowded))
    off = _off_the_rule(job, groups, fsum(part.length for part in before) + travelled / 2, system)
    before.insert(-1, Part("to a round place for the cross-hole", off))
    run = "the bore" if len(groups) == 1 else "the longest stretch that one bit bores"
    middle = [
        Part(f"{run}, run past the bit", longest),
        Part("run-out", past.run_out),
        Part("bit", bit_size),
        Part(_run_in_words(job), run_in(job)),
        Part("the bore" if len(work.lands) == 1 else "all lands and gaps", work.length),
    ]
    after = [
        Part("casting past the bore, tailstock end", work.beyond_tail),
        Part("clear of the tail centre", job.lathe.tail_clear),
        Part("room for the carriage at the tailstock", _short_of_tailstock(job)),
    ]
    parts = [*before, *middle, *after]
    whole, step = (
        fsum(part.length for part in parts),
        ROUND_SPAN["inch" if system == "inch" else "mm"],
    )
    parts.append(Part("to a round length", ceil(whole / step - 1e-6) * step - whole))
    kept = tuple(part for part in parts if part.length > SAME)
    span = fsum(part.length for part in kept)
    least = fsum(part.length for part in before)
    return LengthBudget(
        drive=drive,
        parts=kept,
        stations=_stations(job, groups, least + travelled / 2),
        travel=travelled,
        clearances=_clearances(job, drive, least, travelled, span),
        stock=span + (job.lathe.chuck.grip if drive == "chuck" and job.lathe.chuck else 0.0),
        room=span + job.lathe.quill + _in_front(job, drive),
    )


def _run_in_words(job: BoringJob) -> str:
    return (
        "run-in" if run_in(job) == job.travel.run_in else "run-in, till the bit is out to be set"
    )


def _off_the_rule(job: BoringJob, groups: Groups, middle: float, system: Own) -> float:
    """Bar to add so that the first cross-hole falls on a mark of the rule, m."""
    step = ROUND_STATION["inch" if system == "inch" else "mm"]
    place = _stations(job, groups, middle)[0].position
    return ceil(place / step - 1e-6) * step - place


def _travel(job: BoringJob, groups: Groups, bit_size: float) -> float:
    return fsum((_longest(job, groups), bit_size, run_in(job), job.travel.run_out))


def _drive_end(job: BoringJob, drive: SupportName) -> list[Part]:
    chuck, dog = job.lathe.chuck, job.lathe.dog
    if drive == "centres" and dog is not None:
        return [Part("dog", dog.length), Part("clear of the dog", dog.clear)]
    assert chuck is not None
    return [Part("clear of the jaws", chuck.clear)]


def _in_front(job: BoringJob, drive: SupportName) -> float:
    """How far the drive support stands in front of the headstock centre's point, m."""
    return job.lathe.chuck.reach if drive == "chuck" and job.lathe.chuck else 0.0


def _past_work(job: BoringJob) -> float:
    """How far the carriage reaches past the bore at either end, m; it stands under its middle."""
    length = job.lathe.carriage_length
    return 0.0 if length is None else (length - job.work.length) / 2


def _short_of_headstock(job: BoringJob, nearest: float) -> float:
    """Bar to add so that the carriage clears the headstock, m, with the bore's face `nearest`."""
    return max(0.0, _past_work(job) - nearest - job.lathe.headstock_room)


def _short_of_tailstock(job: BoringJob) -> float:
    lathe, work = job.lathe, job.work
    room = work.beyond_tail + lathe.tail_clear + lathe.tailstock_room + lathe.quill
    return max(0.0, _past_work(job) - room)


def _stations(job: BoringJob, groups: Groups, middle: float) -> tuple[Station, ...]:
    """Each bit where its group passes it in the middle of the travel.

    Parameters
    ----------
    middle : m from the drive support, of the bore's first face when the carriage is half way
    """
    lean = (run_in(job) - job.travel.run_out) / 2
    found = []
    for group in groups:
        start, end = _stretch(job, group)
        found.append(
            Station(
                first=group[0],
                last=group[1],
                start=start,
                end=end,
                position=round(middle + (start + end) / 2 - lean, 9),
                bored=fsum(job.work.lands[group[0] : group[1] + 1]),
            )
        )
    return tuple(found)


def _clearances(
    job: BoringJob, drive: SupportName, nearest: float, travel: float, span: float
) -> tuple[Clearance, ...]:
    """Room at both ends of the travel.

    Parameters
    ----------
    nearest : m, of the bore's first face from the drive support at the headstock end of the travel
    """
    work, lathe, past = job.work, job.lathe, _past_work(job)
    dog = lathe.dog.length if drive == "centres" and lathe.dog else 0.0
    at_head = nearest - work.beyond_head - dog
    farthest = nearest + travel + work.length
    what = "dog" if drive == "centres" else "jaws"
    found = [
        Clearance(end="headstock", what=f"casting and {what}", room=at_head),
        Clearance(
            end="tailstock",
            what="casting and tail centre",
            room=span - farthest - work.beyond_tail,
        ),
    ]
    if lathe.carriage_length is not None:
        behind = nearest - past + lathe.headstock_room
        ahead = span + lathe.tailstock_room + lathe.quill - farthest - past
        found.insert(1, Clearance(end="headstock", what="carriage and headstock", room=behind))
        found.append(Clearance(end="tailstock", what="carriage and tailstock", room=ahead))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Overrun:
    """A bit that runs into a land of another station if the carriage goes its whole travel.

    Attributes
    ----------
    station : of the bit
    land : number of the land that it runs into, from 0
    by : how far, m
    """

    station: Station
    land: int
    by: float


def overruns(job: BoringJob, budget: LengthBudget, bit_size: float) -> Iterator[Overrun]:
    """Bits whose stretch is shorter than the longest, so that the whole travel is not theirs."""
    gaps, past = job.work.gaps, job.travel
    longest = max(one.end - one.start for one in budget.stations)
    for one in budget.stations:
        spare = (longest - (one.end - one.start)) / 2
        if spare < SAME:
            continue
        before, after = (spare + bit_size + run for run in (run_in(job), float(past.run_out)))
        if one.first > 0 and before > gaps[one.first - 1] + SAME:
            yield Overrun(station=one, land=one.first - 1, by=before - gaps[one.first - 1])
        if one.last < len(gaps) and after > gaps[one.last] + SAME:
            yield Overrun(station=one, land=one.last + 1, by=after - gaps[one.last])


def shortages(job: BoringJob, budget: LengthBudget, system: Own) -> Iterator[str]:
    """What the lathe is too short for, each in a sentence."""
    lathe, travel = job.lathe, job.lathe.carriage_travel

    def said(length: float) -> str:
        return shop_size(float(length), system)

    if budget.room > lathe.between_centres + SAME:
        yield (
            f"its span of {said(budget.span)} takes {said(budget.room)} of the lathe, which has "
            f"{said(lathe.between_centres)}"
        )
    if travel is not None and budget.travel > travel + SAME:
        yield (f"the carriage must move {said(budget.travel)} and can move {said(travel)}")
    for one in budget.clearances:
        if not one.ok:
            yield f"{one.what} hit by {said(-one.room)} at the {one.end} end"
