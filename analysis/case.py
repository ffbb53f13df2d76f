"""One case: a bar, what holds it, the bit, the work, the cut and the lathe, and what they ask.

`conflicts` is where the nouns of a case are held against one another: a hole wider than its
bar, a bit longer than the bore allows, a support off the bar.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Literal

from .bar import Bar, Bit, CrossHole, Flat, Side, Step
from .cut import Cut, Roughing
from .entry import Entry
from .lathe import Lathe
from .limits import Limits
from .notebook import table
from .support import AnySupport, Bushing, Chuck, Collet, DogCentre, Steady, Supports
from .units import Own, quoted, said, show, written_in
from .work import Work

_SLACK = 1e-9
"""Lengths nearer than this are the same length, m."""
LARGEST_HOLE = 0.4
"""Of the bar's diameter: what the hole costs is known up to here, and no bar should have more."""

MOST_READINGS = 40
"""Readings of run-out along one bar; nobody takes as many."""

_SETTABLE = 3e-6
"""Nobody sets a tool nearer than this, m; above the rounding of the sizes shown in a message."""


_STEEPEST = math.radians(75)
"""A side that leans nearer to the wall of the bore than this rubs more than it cuts, rad."""
_RAKE_REACH = math.radians(30)
"""The rake correction is a straight line; it is not drawn further than this, rad."""


class Job(Entry):
    """What the paper says: free text, carried into every output."""

    part: str = ""
    """The part the bore is in."""
    drawing: str = ""
    """Drawing and issue."""
    note: str = ""
    """Anything else worth keeping with the results."""


class Measured(Entry):
    """A value measured on the lathe, which takes the place of the one it names."""

    what: str
    """Dotted name of the value, such as `supports.drive.tilt_stiffness`."""
    value: str
    """What was measured, with its unit and, best, its range."""
    date: str = ""
    """When."""
    how: str = ""
    """How, such as `spring balance and indicator`."""


class Case(Entry):
    """Everything a run needs to know, in SI units."""

    title: str
    """One line that names the set-up."""
    job: Job = Job()
    """The paper behind it."""
    bar: Bar
    """The bar."""
    cross_hole: CrossHole
    """The hole across the bar that holds the bit."""
    bit: Bit
    """The bit."""
    supports: Supports
    """What holds the bar."""
    work: Work
    """What is bored."""
    cut: Cut
    """The cut to be judged."""
    roughing: Roughing | None = None
    """Passes that come before the cut, if there are any; carried along, not judged."""
    lathe: Lathe = Lathe()
    """The lathe."""
    limits: Limits = Limits()
    """What the job asks."""
    measured: tuple[Measured, ...] = ()
    """Which values were measured; a case file puts them in place of what it says elsewhere."""

    @property
    def own(self) -> Own:
        """Units that everything said of the case has first: those of its bore."""
        return written_in(self.work.bore.text)

    def say(self, value: float, kind: str = "length") -> str:
        """A quantity in the case's own units, the other system's in brackets."""
        return said(float(value), kind, self.own)

    def at(self, end: Literal["low", "high"]) -> Case:
        """Return the case, supports and work side at the soft or stiff end of their ranges."""
        supports = self.supports
        held = supports.model_copy(
            update={
                "drive": supports.drive.at(end),
                "tail": supports.tail.at(end) if supports.tail else None,
                "others": tuple(support.at(end) for support in supports.others),
            }
        )
        return self.model_copy(update={"supports": held, "work": self.work.at(end)})

    def _repr_html_(self) -> str:
        """Say in a notebook what is set up."""
        held = ", ".join(support.kind for _, support, _ in self.placed_supports)
        bit, cut = self.cross_hole.position, self.cut
        rows = [
            ("bar", self.bar.material.name, self.say(self.bar.diameter)),
            ("held by", held, f"span {self.say(self.bar.span)}"),
            ("bit", f"at {self.say(bit)}", f"out {self.say(self.projection)}"),
            ("bore", self.work.material.name, self.say(self.work.bore.nominal)),
            (
                "cut",
                f"{self.say(cut.depth)} deep, {self.say(cut.feed, 'feed')}",
                self.say(self.spindle_speed, "spindle speed"),
            ),
        ]
        return table(self.title, rows)

    @property
    def ends(self) -> tuple[float, float]:
        """First and last station of the bar, m from the drive support."""
        behind = self.bar.drive_overhang
        if behind is None:
            behind = getattr(self.supports.drive, "grip", 0.0)
        return -behind, self.bar.span + self.bar.tail_overhang

    @property
    def centre_holes(self) -> tuple[tuple[Literal["drive", "tail"], float], ...]:
        """Ends with a centre hole and its mouth, m: those named, and those that centres need."""
        named: set[Literal["drive", "tail"]] = set(self.bar.centre_holes)
        if self.supports.drive.kind.startswith(("dead centre", "live centre")):
            named.add("drive")
        if self.supports.tail and self.supports.tail.kind in ("dead centre", "live centre"):
            named.add("tail")
        first, last = self.ends
        return tuple(
            (
                end,
                self.bar.centre_hole_diameter
                or self.bar_diameter(first if end == "drive" else last) / 4,
            )
            for end in sorted(named)
        )

    @property
    def placed_supports(self) -> tuple[tuple[str, AnySupport, float], ...]:
        """Name, support and its station, m from the drive support, in order along the bar."""
        placed: list[tuple[str, AnySupport, float]] = [("drive", self.supports.drive, 0.0)]
        for number, support in enumerate(self.supports.others, start=1):
            name = support.kind if len(self.supports.others) == 1 else f"{support.kind} {number}"
            placed.append((name, support, getattr(support, "position", None) or 0.0))
        if self.supports.tail is not None:
            placed.append(("tail", self.supports.tail, self.bar.span))
        return tuple(placed)

    def bar_diameter(self, station: float) -> float:
        """Diameter of the bar at a station, m."""
        for step in self.bar.steps:
            if step.start <= station <= step.end:
                return step.diameter
        return self.bar.diameter

    def surface_radius(self, side: Side) -> float:
        """From the centre line to the surface of the bar at the hole, m: less a flat there."""
        hole = self.cross_hole.position
        depths = (
            flat.depth
            for flat in self.bar.flats
            if flat.side == side and flat.start <= hole <= flat.end
        )
        return self.bar_diameter(hole) / 2 - max(depths, default=0.0)

    @property
    def edge_radius(self) -> float:
        """From the bar's centre line to the cutting edge, m."""
        if self.bit.projection is None:
            return self.work.bore.nominal / 2
        return self.surface_radius("bit") + self.bit.projection

    @property
    def projection(self) -> float:
        """From the surface of the bar, or the flat that the bit comes out of, to the edge, m."""
        return self.edge_radius - self.surface_radius("bit")

    @property
    def bit_length(self) -> float:
        """Overall length of the bit, m; reaching the far side of the bar if the case is silent."""
        if self.bit.length is not None:
            return self.bit.length
        return self.edge_radius + self.surface_radius("back")

    @property
    def spindle_speed(self) -> float:
        """Turns of the spindle per second, Hz."""
        if self.cut.speed is not None:
            return self.cut.speed
        assert self.cut.surface_speed is not None
        return self.cut.surface_speed / (2 * math.pi * self.edge_radius)

    @property
    def surface_speed(self) -> float:
        """Speed of the edge along the bore, m/s."""
        return 2 * math.pi * self.edge_radius * self.spindle_speed

    @property
    def old_bore(self) -> float | None:
        """Diameter of the bore before the very first pass, m; None where it is not given."""
        return self.work.start_bore if self.roughing is None else self.roughing.start_bore

    @property
    def allowed_size_error(self) -> float:
        """Largest bore-diameter error from bar spring, m."""
        if self.limits.size_error is not None:
            return self.limits.size_error
        width = self.work.bore.upper - self.work.bore.lower
        return width / 2 if width > 0 else 0.00005

    @property
    def allowed_ovality(self) -> float:
        """Largest difference of the bore's diameters, m."""
        if self.limits.ovality is not None:
            return self.limits.ovality
        return self.allowed_size_error / 2


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two parts of a case that cannot both be right: the key to mend and what is wrong."""

    key: tuple[str | int, ...]
    message: str


def conflicts(case: Case) -> tuple[Conflict, ...]:
    """Everything in a case that cannot be so, each part held against the others."""
    checks = (
        _holes_in_bar,
        _holes_along_bar,
        _screws,
        _bit_in_hole,
        _bit_in_bore,
        _bar_through_bore,
        _depth_in_bore,
        _roughing,
        _work_along_bar,
        _stretches,
        _carried,
        _run_out,
        _tail_offset,
        _drive_and_tail,
        _between,
        _grips,
        _held,
        _speed,
        _lead,
        _force_holds,
        _lathe,
    )
    return tuple(found for check in checks for found in check(case))


Found = Iterator[Conflict]


def _holes(case: Case) -> Iterator[tuple[tuple[str | int, ...], CrossHole]]:
    """Every cross-hole with its key, the one that holds the bit first."""
    yield ("cross_hole",), case.cross_hole
    for number, hole in enumerate(case.bar.other_holes):
        yield ("bar", "other_holes", number), hole


def _holes_in_bar(case: Case) -> Found:
    for key, hole in _holes(case):
        yield from _hole_in_bar(case, key, hole)


def _hole_in_bar(case: Case, key: tuple[str | int, ...], hole: CrossHole) -> Found:
    diameter = case.bar_diameter(hole.position)
    if hole.size > LARGEST_HOLE * diameter + _SETTABLE:
        yield Conflict(
            (*key, "size"),
            f"a {case.say(hole.size)} hole takes {hole.size / diameter:.0%} of the "
            f"{case.say(diameter)} bar. Give at most {LARGEST_HOLE:.0%}, "
            f"{case.say(LARGEST_HOLE * diameter)}; a quarter of the bar is better",
        )
    elif abs(hole.middle) > hole.size / 2 + _SETTABLE:
        yield Conflict(
            (*key, "offset"),
            f"{case.say(abs(hole.middle))} off centre is more than half of the "
            f"{case.say(hole.size)} hole. Give at most {case.say(hole.size / 2)}, which puts the "
            "bit's face on the centre line",
        )
    if hole.shape == "square" and hole.corner_radius > hole.size / 2:
        yield Conflict(
            (*key, "corner_radius"),
            f"{case.say(hole.corner_radius)} is more than half of the {case.say(hole.size)} hole. "
            "Give a smaller radius, or shape: round",
        )


def _holes_along_bar(case: Case) -> Found:
    for key, hole in _holes(case):
        yield from _hole_along_bar(case, key, hole)
    for (_, before), (key, after) in combinations(_holes(case), 2):
        if abs(after.position - before.position) < (after.size + before.size) / 2:
            yield Conflict(
                (*key, "position"),
                f"at {case.say(after.position)} this hole runs into the one at "
                f"{case.say(before.position)}. Leave solid bar between them",
            )


def _hole_along_bar(case: Case, key: tuple[str | int, ...], hole: CrossHole) -> Found:
    tail = case.supports.tail
    last = case.ends[1] if tail is None or isinstance(tail, Bushing) else case.bar.span
    if hole.position - hole.size / 2 <= 0 or hole.position + hole.size / 2 >= last:
        yield Conflict(
            (*key, "position"),
            f"{case.say(hole.position)} is not on the free length of the bar, which runs from the "
            f"drive support to {case.say(last)}. Give a position between, and leave room for the "
            "hole",
        )
        return
    for name, support, station in case.placed_supports:
        first, last = (station + end for end in support.contact)
        if first < hole.position + hole.size / 2 and hole.position - hole.size / 2 < last:
            yield Conflict(
                (*key, "position"),
                f"at {case.say(hole.position)} the hole lies inside the {name} support, which "
                f"holds the bar from {case.say(first)} to {case.say(last)}. Move one of them",
            )


def _screws(case: Case) -> Found:
    hole = case.cross_hole
    for number, screw in enumerate(hole.set_screws):
        key = ("cross_hole", "set_screws", number)
        if screw.diameter > hole.size + _SETTABLE:
            yield Conflict(
                (*key, "diameter"),
                f"a {case.say(screw.diameter)} set screw is wider than the {case.say(hole.size)} "
                f"hole it comes into. Give at most {case.say(hole.size)}",
            )
        elif abs(screw.shift) >= hole.size / 2:
            yield Conflict(
                (*key, "shift"),
                f"{case.say(screw.shift)} along the bar, the set screw misses the "
                f"{case.say(hole.size)} hole. Give less than {case.say(hole.size / 2)}",
            )


def _bit_in_hole(case: Case) -> Found:
    bit, hole = case.bit, case.cross_hole
    if bit.size > hole.size + _SETTABLE:
        yield Conflict(
            ("bit", "size"),
            f"a {case.say(bit.size)} bit does not go into the {case.say(hole.size)} hole. "
            f"Give a bit of at most {case.say(hole.size)}, or a larger hole",
        )
    if bit.nose_radius > bit.size:
        yield Conflict(
            ("bit", "nose_radius"),
            f"{case.say(bit.nose_radius)} is more than the {case.say(bit.size)} bit has room for. "
            "Give the radius of the point",
        )


def _bit_in_bore(case: Case) -> Found:
    bit, bore = case.bit, case.work.bore
    diameter = case.bar_diameter(case.cross_hole.position)
    room = bore.nominal / 2 + diameter / 2
    if bit.projection is None and bore.nominal <= diameter:
        return  # said by the bar that does not pass its bore
    if 2 * case.edge_radius > bore.upper + 2 * _SETTABLE:
        yield Conflict(
            ("bit", "projection"),
            f"sticking out {case.say(case.projection)} from a {case.say(diameter)} bar, the bit "
            f"cuts {case.say(2 * case.edge_radius)}, more than the bore's "
            f"{case.say(bore.upper)}. Give at most {case.say((bore.upper - diameter) / 2)}",
        )
    if bit.length is not None and bit.length >= room:
        yield Conflict(
            ("bit", "length"),
            f"a {case.say(bit.length)} bit rubs the far wall of the bore with its tail. Give less "
            f"than half the bore and half the bar, {case.say(room)}",
        )
    if bit.length is not None and bit.length <= case.projection:
        yield Conflict(
            ("bit", "length"),
            f"a {case.say(bit.length)} bit that sticks out {case.say(case.projection)} is not "
            "held by the bar at all. Give a longer bit",
        )
    elif bit.length is not None:
        yield from _screw_on_bit(case, bit.length)


def _screw_on_bit(case: Case, length: float) -> Found:
    """Set screws stand on the middle of the bar; a bit whose tail ends before them is loose."""
    narrowest = min((screw.diameter for screw in case.cross_hole.set_screws), default=None)
    if narrowest is None or case.edge_radius - length < narrowest / 2:
        return
    yield Conflict(
        ("bit", "length"),
        f"with {case.say(case.projection)} sticking out, a {case.say(length)} bit ends before "
        "the set screw in the middle of the bar and nothing holds it. Give at least "
        f"{case.say(case.edge_radius + narrowest / 2)}, which puts the whole screw on it",
    )


def _bar_through_bore(case: Case) -> Found:
    bore, start = case.work.bore, case.old_bore
    key = ("work", "start_bore") if case.roughing is None else ("roughing", "start_bore")
    position, reach = case.cross_hole.position, case.work.length or 0.0
    passing = [
        step.diameter
        for step in case.bar.steps
        if step.start < position + reach and position - reach < step.end
    ]
    largest = max([case.bar_diameter(position), *passing])
    if start is None and largest >= bore.nominal:
        yield Conflict(
            ("work", "bore"),
            f"the {case.say(largest)} bar does not pass through the {case.say(bore.nominal)} "
            "bore. Give a larger bore or a thinner bar",
        )
    if start is not None and largest >= start:
        yield Conflict(
            key,
            f"the {case.say(largest)} bar does not pass through the bore of {case.say(start)} "
            "before the cut. Give a thinner bar, or open the bore first",
        )


def _depth_in_bore(case: Case) -> Found:
    bore, start, depth = case.work.bore, case.work.start_bore, case.cut.depth
    if start is None:
        return
    if start >= bore.upper:
        yield Conflict(
            ("work", "start_bore"),
            f"the bore is {case.say(start)} before the cut and {case.say(bore.upper)} after it: "
            "nothing is left to cut. Give the smaller size it has now",
        )
    elif start + 2 * depth > bore.upper + 2 * _SETTABLE:
        yield Conflict(
            ("cut", "depth"),
            f"{case.say(depth)} deep all round, a {case.say(start)} bore becomes "
            f"{case.say(start + 2 * depth)}, more than its {case.say(bore.upper)}. Give at most "
            f"{case.say((bore.upper - start) / 2)} (the depth is on the radius)",
        )


def _roughing(case: Case) -> Found:
    """Passes before the cut: from a smaller bore to the one that the cut begins with."""
    rough, start, metal = case.roughing, case.work.start_bore, case.work.material
    if rough is None:
        return
    if start is None:
        yield Conflict(
            ("work", "start_bore"),
            "there is roughing, but not the bore that it leaves. Give the diameter before the cut",
        )
    elif rough.start_bore >= start:
        yield Conflict(
            ("roughing", "start_bore"),
            f"the bore is {case.say(rough.start_bore)} before roughing and {case.say(start)} "
            "after it: nothing is left to rough. Give the smaller size it has now, or leave "
            "roughing out",
        )
    if not metal.feed_least - _SLACK <= rough.feed <= metal.feed_most + _SLACK:
        yield Conflict(
            ("roughing", "feed"),
            f"{case.say(rough.feed, 'feed')} is outside the "
            f"{case.say(metal.feed_least, 'feed')} to {case.say(metal.feed_most, 'feed')} "
            f"that the force of {quoted(metal.name)} is known for. Give a feed between",
        )


def _work_along_bar(case: Case) -> Found:
    length, position = case.work.length, case.cross_hole.position
    if length is None:
        return
    room = position if case.supports.tail is None else min(position, case.bar.span - position)
    if 0 < room < length:
        yield Conflict(
            ("work", "length"),
            f"a {case.say(length)} bore cannot pass the bit: only {case.say(room)} of bar is "
            "free on one side of it. Give a longer span, or move the cross-hole",
        )
    travel = case.lathe.carriage_travel
    if travel is not None and travel < length:
        yield Conflict(
            ("work", "length"),
            f"a {case.say(length)} bore is longer than the carriage travel of {case.say(travel)}",
        )


def _stretches(case: Case) -> Found:
    kinds: dict[str, tuple[Step | Flat, ...]]
    kinds = {"steps": case.bar.steps, "flats": case.bar.flats}
    for kind, stretches in kinds.items():
        for number, stretch in enumerate(stretches):
            yield from _stretch(case, ("bar", kind, number), stretch)
    steps = sorted(enumerate(case.bar.steps), key=lambda numbered: numbered[1].start)
    for (_, before), (number, after) in pairwise(steps):
        if after.start < before.end - _SLACK:
            yield Conflict(
                ("bar", "steps", number, "start"),
                f"this step starts at {case.say(after.start)}, inside the one that ends at "
                f"{case.say(before.end)}. Give each length of bar one diameter",
            )
    for number, flat in enumerate(case.bar.flats):
        if flat.depth >= case.bar_diameter((flat.start + flat.end) / 2) / 2:
            yield Conflict(
                ("bar", "flats", number, "depth"),
                f"a flat {case.say(flat.depth)} deep takes half of the bar or more. Give the "
                "depth below the round surface",
            )


def _stretch(case: Case, key: tuple[str | int, ...], stretch: Step | Flat) -> Found:
    first, last = case.ends
    if stretch.end <= stretch.start:
        yield Conflict(
            (*key, "end"),
            f"{case.say(stretch.end)} is not beyond the start at {case.say(stretch.start)}. "
            "Give the start nearer the drive end than the end",
        )
    elif stretch.start < first - _SLACK or stretch.end > last + _SLACK:
        side = "start" if stretch.start < first - _SLACK else "end"
        yield Conflict(
            (*key, side),
            f"{case.say(getattr(stretch, side))} lies off the bar, which runs from "
            f"{case.say(first)} to {case.say(last)}. Give a place on it",
        )


def _carried(case: Case) -> Found:
    for number, mass in enumerate(case.bar.carries):
        yield from _on_bar(case, ("bar", "carries", number, "position"), mass.position)
    drive = case.supports.drive
    if isinstance(drive, DogCentre):
        yield from _on_bar(case, ("supports", "drive", "dog_position"), drive.dog_position)


def _run_out(case: Case) -> Found:
    found, key = case.bar.run_out, ("bar", "run_out", "readings")
    if found is None:
        return
    if not found.readings:
        message = "there is no reading: write one, such as - {at: 200 mm, reading: 1 thou}"
        yield Conflict(key, message)
    elif len(found.readings) > MOST_READINGS:
        yield Conflict(
            key,
            f"{len(found.readings)} readings are more than tell a pattern. Give at most "
            f"{MOST_READINGS}; five along the bar do",
        )
    angled = [one.high_at is not None for one in found.readings]
    for number, one in enumerate(found.readings):
        yield from _on_bar(case, (*key, number, "at"), one.at)
        most = case.bar_diameter(one.at) / 10
        if one.reading > most:
            yield Conflict(
                (*key, number, "reading"),
                f"{case.say(one.reading)} is more than a tenth of the {case.say(10 * most)} bar, "
                "and no bar runs out so far. Check the unit",
            )
        if any(angled) and not angled[number]:
            yield Conflict(
                (*key, number),
                "this reading has no high_at and others have one. Say where the high spot is at "
                "every place, or at none",
            )


def _tail_offset(case: Case) -> Found:
    if case.supports.tail is None and "tail_offset" in case.supports.drive.model_fields_set:
        message = "there is no tail support to stand off line: take tail_offset out, or add a tail"
        yield Conflict(("supports", "drive", "tail_offset"), message)


def _on_bar(case: Case, key: tuple[str | int, ...], station: float) -> Found:
    first, last = case.ends
    if not first - _SLACK <= station <= last + _SLACK:
        yield Conflict(
            key,
            f"{case.say(station)} lies off the bar, which runs from {case.say(first)} to "
            f"{case.say(last)}. Give a place on it",
        )


def _drive_and_tail(case: Case) -> Found:
    drive, tail = case.supports.drive, case.supports.tail
    if isinstance(drive, (Steady, Bushing)):
        yield Conflict(
            ("supports", "drive", "kind"),
            f"a {drive.kind} guides a bar but does not drive it. Give chuck, collet or "
            f"dead centre with dog here, and the {drive.kind} under others",
        )
    if isinstance(tail, (Chuck, Collet, DogCentre)):
        yield Conflict(
            ("supports", "tail", "kind"),
            f"a {tail.kind} at the tail would not let the bar turn. Give live centre, "
            "dead centre, steady or bushing",
        )
    stands = getattr(tail, "position", None)
    if stands is not None and abs(stands - case.bar.span) > _SLACK:
        yield Conflict(
            ("supports", "tail", "position"),
            f"{case.say(stands)} is not the end of the span at {case.say(case.bar.span)}, "
            "where the tail support stands. Leave the position out",
        )


def _between(case: Case) -> Found:
    first, last = case.ends
    for number, support in enumerate(case.supports.others):
        key = ("supports", "others", number)
        if not isinstance(support, (Steady, Bushing)):
            yield Conflict(
                (*key, "kind"),
                f"a {support.kind} holds an end of the bar. Between the ends give steady or "
                "bushing, each with its position",
            )
        elif support.position is None:
            yield Conflict(
                key,
                f"this {support.kind} has no position. Write where it stands along the bar, "
                "measured from the drive support",
            )
        elif not first <= support.position <= last:
            yield Conflict(
                (*key, "position"),
                f"{case.say(support.position)} lies off the bar, which runs from "
                f"{case.say(first)} to {case.say(last)}. Give a place on it",
            )


def _grips(case: Case) -> Found:
    drive, behind = case.supports.drive, case.bar.drive_overhang
    if not isinstance(drive, (Chuck, Collet)):
        return
    if drive.acts_at is not None and drive.acts_at > drive.grip:
        yield Conflict(
            ("supports", "drive", "acts_at"),
            f"{case.say(drive.acts_at)} behind the jaw face is beyond the {case.say(drive.grip)} "
            "that the jaws grip. Give at most the grip",
        )
    elif behind is not None and behind < drive.grip - _SLACK:
        yield Conflict(
            ("bar", "drive_overhang"),
            f"only {case.say(behind)} of bar stands in a {drive.kind} that grips "
            f"{case.say(drive.grip)}. Give a longer drive_overhang, or the shorter grip that it "
            "has",
        )


def _held(case: Case) -> Found:
    supports = [support for _, support, _ in case.placed_supports]
    if not any(support.turning_stiffness > 0 for support in supports):
        message = "nothing stops the bar turning: add a dog or a chuck"
        yield Conflict(("supports",), message)
    if not any(support.axial_stiffness > 0 for support in supports):
        message = (
            "nothing holds the bar along its length: add a centre or a chuck, or give "
            "axial_stiffness"
        )
        yield Conflict(("supports",), message)
    if len(supports) == 1 and supports[0].tilt_stiffness == 0:
        message = (
            f"nothing holds up the tail: a {supports[0].kind} does not keep the bar from "
            "tilting. Add a tail centre, or grip the bar in a chuck"
        )
        yield Conflict(("supports",), message)


def _speed(case: Case) -> Found:
    cut = case.cut
    if cut.speed is None and cut.surface_speed is None:
        message = "there is no speed: write one, such as speed: 120 rpm or surface_speed: 18 m/min"
        yield Conflict(("cut",), message)
    if cut.speed is not None and cut.surface_speed is not None:
        message = "speed and surface_speed are both given, and one makes the other: keep one"
        yield Conflict(("cut", "surface_speed"), message)


def _lead(case: Case) -> Found:
    if abs(case.bit.lead_angle) > _STEEPEST + _SLACK:
        yield Conflict(
            ("bit", "lead_angle"),
            f"{_degrees(case.bit.lead_angle)} lays the side of the edge along the bore. Give at "
            f"most {_degrees(_STEEPEST)} either way",
        )


def _force_holds(case: Case) -> Found:
    """What a force from the table asks; a typed one asks nothing."""
    metal, cut = case.work.material, case.cut
    if cut.force is not None:
        return
    least, most = metal.feed_least, metal.feed_most
    if not least - _SLACK <= cut.feed <= most + _SLACK:
        yield Conflict(
            ("cut", "feed"),
            f"{case.say(cut.feed, 'feed')} is outside the {case.say(least, 'feed')} to "
            f"{case.say(most, 'feed')} that the force of {quoted(metal.name)} is known for. "
            "Give a feed between, or the force itself as cut.force",
        )
    off = case.bit.rake - metal.reference_rake
    if abs(off) > _RAKE_REACH + _SLACK:
        yield Conflict(
            ("bit", "rake"),
            f"{_degrees(case.bit.rake)} is more than {_degrees(_RAKE_REACH)} from the "
            f"{_degrees(metal.reference_rake)} that the force of {quoted(metal.name)} was "
            "measured with. Give a rake nearer to it, or the force itself as cut.force",
        )
    if cut.method == "power constant" and metal.power_constant is None:
        yield Conflict(
            ("cut", "method"),
            f"there is no power constant for {quoted(metal.name)}. Give kienzle, or a "
            "power_constant with a material of your own",
        )


def _degrees(angle: float) -> str:
    return show(float(angle), "angle")


def _lathe(case: Case) -> Found:
    room = case.lathe.between_centres
    if room is not None and case.bar.span > room:
        yield Conflict(
            ("bar", "span"),
            f"{case.say(case.bar.span)} is longer than the {case.say(room)} the lathe takes "
            "between centres",
        )
    for number, line in enumerate(case.lathe.lines):
        if (line.per_turn is None) == (line.frequency is None):
            has = "neither per_turn nor" if line.per_turn is None else "both per_turn and"
            yield Conflict(
                ("lathe", "lines", number),
                f"{quoted(line.name)} has {has} frequency: give one, per_turn if the spindle "
                "drives it, else frequency",
            )
