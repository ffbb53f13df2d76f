"""What each thing that a shop can try brings in this case: the case is solved again with it.

A remedy against chatter is told by how many times the likely gain margin it makes: ratios of two
set-ups are far better known than either margin. What changes the cut alone (speed, feed, depth,
the form of the edge) is asked of the bar as it is; what changes the bar or what holds it is
solved anew. Other remedies are told by the size they bring.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import sqrt

from .case import Case, conflicts
from .chatter import Corner
from .choice import Choice, SupportName, support_name, varied
from .compare import ratio
from .firmness import Bench, Part, firmer, likely_corner, likely_margin
from .run import Outcome
from .setup_checks import INCH, Round, said, seated
from .speed_choice import at_speed
from .support import Steady
from .units import roughly_between, stock_size

LEAST_GAIN = 1.03
"""Below so many times the margin nothing was gained that anybody would hear."""
FAR = 20.0
"""How many times slower or faster rubbing is looked at."""
STEADY_ROOM = 0.04
"""Least bar that a steady needs between the travel and a support, half of it each way, m."""
SMALL: Round = {"mm": 0.003, "inch": INCH / 8}
LARGE: Round = {"mm": 0.025, "inch": INCH}
"""Steps of a thickness and of a length, m, as round as each system has them."""
STATION: Round = {"mm": 0.001, "inch": INCH / 8}
"""To how much a place along the bar is said, m."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """One thing to try, with this job's number.

    Attributes
    ----------
    do : what, with its setting; empty where the plain words do
    gain : what it brings, in words
    margin : times the likely gain margin; None where it is not about chatter
    vain : whether it is not worth making, whatever it is about
    """

    do: str = ""
    gain: str
    margin: float | None = None
    vain: bool = False

    @property
    def idle(self) -> bool:
        """Whether it buys nothing."""
        return self.vain or (self.margin is not None and self.margin < LEAST_GAIN)


class Workshop:
    """A case as run, on which remedies are tried; each is solved once, when it is asked for."""

    def __init__(self, case: Case, outcome: Outcome) -> None:
        self.case, self.outcome = case, outcome
        self._tried: dict[str, Remedy | None] = {}

    def say(self, value: float, kind: str = "length") -> str:
        """A quantity with two digits, the case's own units first."""
        return said(float(value), kind, self.case.own)

    def between(self, low: float, high: float, kind: str = "length") -> str:
        """Two ends with two digits, the case's own units first."""
        return roughly_between(float(low), float(high), kind, self.case.own)

    def remedy(self, name: str) -> Remedy | None:
        """What a remedy of `REMEDIES` brings; None where the case has no use for it."""
        if name not in self._tried:
            self._tried[name] = REMEDIES[name](self)
        return self._tried[name]

    @cached_property
    def corner(self) -> Corner:
        """The loop of the case at the likely values."""
        return likely_corner(self.case)

    @cached_property
    def finishing(self) -> Workshop:
        """The same with the cut of the last pass, as deep as it likely is."""
        depth = self.outcome.passes.passes[-1].depth.likely
        return Workshop(self.with_cut(depth=depth), self.outcome)

    @cached_property
    def bench(self) -> Bench:
        """The case with springs that may be changed."""
        return Bench(self.case)

    @cached_property
    def margin(self) -> float:
        """Likely gain margin of the case."""
        return likely_margin(self.case, self.corner)

    def with_cut(self, **changes: object) -> Case:
        """The case with another cut."""
        return self.case.model_copy(update={"cut": self.case.cut.model_copy(update=changes)})

    def with_bit(self, **changes: object) -> Case:
        """The case with another edge on the same bit."""
        return self.case.model_copy(update={"bit": self.case.bit.model_copy(update=changes)})

    def recut(self, do: str, case: Case) -> Remedy:
        """A remedy that leaves bar and supports as they are."""
        return self._told(do, likely_margin(case, self.corner))

    def firmed(self, do: str, part: Part) -> Remedy:
        """A remedy that makes one part twice as firm."""
        return self._told(do, self.bench.margin(firmer(self.case, part, 2.0)))

    def rebuilt(self, do: str, case: Case) -> Remedy | None:
        """A remedy that changes bar, supports or work side; None where it cannot be built."""
        return None if conflicts(case) else self._told(do, likely_margin(case))

    def _told(self, do: str, margin: float) -> Remedy:
        gained = ratio(margin, self.margin)
        return Remedy(do=do, gain=self._words(gained, margin), margin=gained)

    def _words(self, gained: float, margin: float) -> str:
        times = "over 100" if gained > 100 else f"{gained:.{2 if gained >= 1.1 else 3}g}"
        if gained < LEAST_GAIN:
            lost = f"loses: {times} times the gain margin" if gained < 1 / LEAST_GAIN else ""
            return lost or "buys nothing here"
        ends = "over 100" if margin > 100 else f"{margin:.2g}"
        quiet = "likely quiet" if margin >= self.case.limits.chatter_margin else "not yet quiet"
        return f"{times} times the gain margin, to {ends}: {quiet}"

    @cached_property
    def rubbing_speed(self) -> float | None:
        """Speed under which rubbing keeps the cut quiet at the likely values, turns per second.

        None where it is quiet without, or at no speed within twenty times either way.
        """
        bare = self.outcome.chatter.bare
        if self.corner.process_damping == 0 or bare >= self.case.limits.chatter_margin:
            return None
        return _last(self._quiet_at, self.case.spindle_speed / FAR, self.case.spindle_speed * FAR)

    def _quiet_at(self, speed: float) -> bool:
        return self.margin_at(speed) >= self.case.limits.chatter_margin

    def margin_at(self, speed: float) -> float:
        """Likely gain margin at another spindle speed, turns per second."""
        return likely_margin(at_speed(self.case, speed), self.corner)


def _last(holds: Callable[[float], bool], low: float, high: float) -> float | None:
    """Largest value up to which something holds, to 5 %; None if at neither end or at both."""
    if not holds(low) or holds(high):
        return None
    while high / low > 1.05:
        middle = sqrt(low * high)
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


# --- against chatter: the cut ----------------------------------------------------------------


def slower(shop: Workshop) -> Remedy | None:
    """The fastest slower speed of the lathe that is quiet, else that of the most margin."""
    now = shop.case.spindle_speed
    ladder = sorted((float(n) for n in shop.case.lathe.speeds if n < 0.99 * now), reverse=True)
    if not ladder and shop.case.lathe.speeds:
        return Remedy(do="go slower", gain="the lathe has no slower speed", margin=1.0)
    margins = {speed: shop.margin_at(speed) for speed in ladder or [now / 2]}
    wanted = shop.case.limits.chatter_margin * LEAST_GAIN
    better = {n: m for n, m in margins.items() if m > shop.margin * LEAST_GAIN}
    quiet = [speed for speed, margin in better.items() if margin >= wanted]
    best = max(quiet) if quiet else max(margins, key=lambda speed: margins[speed])
    found = shop.recut(f"go slower: {best * 60:.0f} rpm", at_speed(shop.case, best))
    if found.idle:
        return found
    return Remedy(do=found.do, gain=f"{found.gain}, by rubbing alone", margin=found.margin)


def smaller_nose(shop: Workshop) -> Remedy | None:
    """Half the nose radius."""
    nose = shop.case.bit.nose_radius
    if nose <= 0:
        return None
    return shop.recut(
        f"stone the nose to {shop.say(nose / 2)}", shop.with_bit(nose_radius=nose / 2)
    )


def more_feed(shop: Workshop) -> Remedy | None:
    """Half as much feed again."""
    feed = 1.5 * shop.case.cut.feed
    most = shop.outcome.chatter.whirl_feed_limit
    if most != "none" and (isinstance(most, str) or feed >= most):
        return None
    do = f"raise the feed to {shop.say(feed, 'feed')}"
    return shop.recut(do, shop.with_cut(feed=feed))


def deeper(shop: Workshop) -> Remedy | None:
    """A cut deeper than the nose radius, or half as deep again."""
    depth = max(1.5 * shop.case.cut.depth, 1.2 * shop.case.bit.nose_radius)
    return shop.recut(f"cut deeper: {shop.say(depth)} a side", shop.with_cut(depth=depth))


def shallower(shop: Workshop) -> Remedy | None:
    """Half the depth."""
    depth = shop.case.cut.depth / 2
    return shop.recut(f"cut less deep: {shop.say(depth)} a side", shop.with_cut(depth=depth))


def square_edge(shop: Workshop) -> Remedy | None:
    """A side edge square to the bar."""
    if shop.case.bit.lead_angle == 0:
        return None
    return shop.recut("grind the side edge square to the bar", shop.with_bit(lead_angle=0.0))


# --- against chatter: bar, supports, work ----------------------------------------------------


def firmer_tail(shop: Workshop) -> Remedy | None:
    """The tail support twice as stiff."""
    if shop.case.supports.tail is None:
        return None
    return shop.firmed("make the tail twice as firm", "tail")


def firmer_drive(shop: Workshop) -> Remedy | None:
    """The drive end twice as stiff."""
    return shop.firmed("make the drive end twice as firm", "drive")


def firmer_work(shop: Workshop) -> Remedy | None:
    """The work side twice as stiff."""
    return shop.firmed("make the work side twice as firm", "work side")


def shorter_span(shop: Workshop) -> Remedy | None:
    """A shorter span, the hole at its share of it."""
    step = LARGE[shop.case.own]
    if shop.case.bar.span <= step:
        return None
    changed = varied(shop.case, Choice(span=shop.case.bar.span - step))
    return shop.rebuilt(f"take {shop.say(step)} out of the span", changed)


def shorter_bit(shop: Workshop) -> Remedy | None:
    """Less bit out of the bar, on a collar."""
    step = SMALL[shop.case.own]
    projection = shop.case.projection - step
    if projection < step / 2:
        return None
    changed = varied(shop.case, Choice(projection=projection))
    return shop.rebuilt(f"let the bit stick out {shop.say(step)} less, from a collar", changed)


def thicker_bar(shop: Workshop) -> Remedy | None:
    """A thicker bar."""
    step = SMALL[shop.case.own]
    changed = varied(shop.case, Choice(diameter=shop.case.bar.diameter + step))
    return shop.rebuilt(f"make the bar {shop.say(step)} thicker", changed)


def other_support(shop: Workshop) -> Remedy | None:
    """A chuck instead of centres, or centres instead of jaws, on the same travel."""
    other: SupportName = "chuck" if support_name(shop.case) == "centres" else "centres"
    words = {"chuck": "drive it from a chuck instead", "centres": "run it between centres instead"}
    return shop.rebuilt(words[other], varied(shop.case, Choice(support=other)))


def steadies(shop: Workshop) -> Remedy | None:
    """A steady on each side of the travel, halfway to the support; where there is room."""
    case, length = shop.case, shop.case.work.length
    if length is None or case.supports.tail is None or case.supports.others:
        return None
    hole = case.cross_hole.position
    step = STATION[case.own]
    middles = ((hole - length) / 2, (hole + length + case.bar.span) / 2)
    stations = tuple(step * round(middle / step) for middle in middles)
    if min(stations[0], case.bar.span - stations[1]) < STEADY_ROOM:
        return None
    others = tuple(
        Steady.model_validate({"kind": "steady", "position": station}) for station in stations
    )
    supports = case.supports.model_copy(update={"others": others})
    at = " and ".join(stock_size(station, case.own) for station in stations)
    changed = case.model_copy(update={"supports": supports})
    do = f"a steady on each side of the travel, its pads snug, at {at} from the drive end"
    return shop.rebuilt(do, changed)


# --- size ------------------------------------------------------------------------------------


def advance(shop: Workshop) -> Remedy | None:
    """Moving the bit by half of what is missing, the last two cuts alike."""
    last = shop.outcome.passes.passes[-1]
    left = shop.between(last.short_fall.low, last.short_fall.high)
    return Remedy(
        gain=f"a cut like the one before leaves the same {left} a side standing, so it cancels"
    )


def spring_pass(shop: Workshop) -> Remedy | None:
    """A pass at the same setting."""
    spring = shop.outcome.passes.spring
    if shop.outcome.statics.diameter_error > 0:
        return None
    low, high = (max(end, 0.0) for end in (spring.first.low, spring.first.high))
    opens = f"opens the bore by {shop.between(low, high)}"
    if spring.worth == 0:
        return Remedy(
            gain=f"not worth making: {opens}, and the edge may only rub",
            vain=True,
        )
    return Remedy(gain=f"{opens}; {spring.worth} are worth making")


def _rounder(part: Part) -> Callable[[Workshop], Remedy | None]:
    """Ovality with one part twice as firm."""

    def remedy(shop: Workshop) -> Remedy | None:
        oval = shop.outcome.statics.ovality
        if oval == 0.0 or (part == "tail" and shop.case.supports.tail is None):
            return None
        _, left = shop.bench.size(firmer(shop.case, part, 2.0))
        words = f"{shop.say(left)} out of round in place of {shop.say(oval)}"
        return Remedy(do=f"make the {part} twice as firm", gain=words)

    return remedy


def screw_torque(shop: Workshop) -> Remedy | None:
    """Seating torque of each kind of set screw."""
    screws = {screw.thread.name: screw for screw in shop.outcome.holding.screws}
    if not screws:
        return None
    torques = [
        f"{name} about {shop.say(seated(one, shop.case.own)[0], 'torque')}"
        for name, one in screws.items()
    ]
    return Remedy(gain="; ".join(torques))


def backing_screw(shop: Workshop) -> Remedy | None:
    """A screw behind the bit, which takes the push by itself."""
    push = shop.outcome.holding.push_back
    pushed = shop.between(push.low, push.high, "force")
    return Remedy(gain=f"takes the {pushed} that push the bit back, whatever the friction")


def other_feed_way(shop: Workshop) -> Remedy | None:
    """The feed turned round; only where it goes towards the tail."""
    if shop.case.cut.feed_towards == "headstock":
        return None
    push = shop.say(shop.outcome.force.axial, "force")
    # The way of the feed is in the loop itself, so the bar is solved anew.
    gained = ratio(likely_margin(shop.with_cut(feed_towards="headstock")), shop.margin)
    level = 1 / LEAST_GAIN < gained < LEAST_GAIN
    margin = "the gain margin stays" if level else f"{gained:.3g} times the gain margin"
    return Remedy(
        do="feed towards the headstock",
        gain=f"its {push} then push the bar into the headstock; {margin}",
    )


def live_centre(shop: Workshop) -> Remedy | None:
    """A live centre; only where the tail runs on a dead one."""
    tail = shop.case.supports.tail
    dead = tail is not None and tail.kind == "dead centre"
    return Remedy(gain="nothing left to run dry") if dead else None


def grease(shop: Workshop) -> Remedy | None:
    """Grease; only where the tail runs on a dead centre."""
    return None if live_centre(shop) is None else Remedy(gain="")


REMEDIES: Mapping[str, Callable[[Workshop], Remedy | None]] = {
    "slower": slower,
    "smaller nose": smaller_nose,
    "more feed": more_feed,
    "deeper": deeper,
    "shallower": shallower,
    "square edge": square_edge,
    "firmer tail": firmer_tail,
    "firmer drive": firmer_drive,
    "firmer work": firmer_work,
    "shorter span": shorter_span,
    "shorter bit": shorter_bit,
    "thicker bar": thicker_bar,
    "other support": other_support,
    "steadies": steadies,
    "advance": advance,
    "spring pass": spring_pass,
    "rounder tail": _rounder("tail"),
    "rounder work": _rounder("work side"),
    "screw torque": screw_torque,
    "backing screw": backing_screw,
    "other feed way": other_feed_way,
    "live centre": live_centre,
    "grease": grease,
}
"""By the name that the table of troubles calls them."""
