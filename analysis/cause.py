"""What this job's numbers say of each thing that may be behind a bad cut.

Each verdict is a standing and the number behind it. *Likely* moves a cause to the front,
*unlikely* behind those that no number decides, and *ruled out* to the end, where it stays to be
read: the wrong cause is what most time is lost on. The bit stays at one station of the bar and
the work moves past it, so that nothing of bar and supports can change along the bore.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import inf, isfinite, pi
from typing import Literal, get_args

from .case import Case
from .chatter import Limit
from .judge import Band
from .lobes import speed_can_be_aimed
from .remedy import Workshop
from .setup_checks import INCH, THOU, Round, expansion, tolerance
from .speed_choice import FAST, LEAST_DOUBT
from .statics import bit_compliances

Standing = Literal["likely", "open", "unlikely", "ruled out"]
STANDINGS: tuple[Standing, ...] = get_args(Standing)
HALF, HARDLY = 0.5, 0.1
"""Shares of the give from which a part is the one to look at, and under which it is not."""
MUCH, LITTLE = 0.25, 0.05
"""Shares of the width between the limits from which an error counts, and under which it does
not (judgement)."""
FINE_FEED: Round = {"mm": 0.05e-3, "inch": 2 * THOU}
"""Under this feed a high-speed-steel edge rubs as much as it cuts, m (common practice)."""
CHIP_ROOM: Mapping[str, Round] = {
    "short": {"mm": 3e-3, "inch": INCH / 8},
    "long": {"mm": 6e-3, "inch": INCH / 4},
}
"""Least gap between bar and bore for chips that crumble and for chips that curl, m (common
practice)."""
CRUMBLES = ("iron", "brass", "bronze", "babbitt")
"""Words in the names of metals whose chips crumble."""
NEAR_CRITICAL, FAR_FROM_CRITICAL = 0.7, 0.33
"""Shares of the first critical speed from which the bar whips, and under which it cannot."""
WARM = 10.0
"""By how much a bore is often warmer than its gauge just after the cut, K; a guess."""
LONG_WAY = 400.0
"""Length of cut after which a stoned high-speed-steel edge has lost its first sharpness, m
(judgement)."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a number says of a cause: how it stands, and why."""

    standing: Standing
    why: str


def bound(limit: Limit) -> float:
    """A limit as a number: inf where there is none, 0 where nothing usable is left."""
    if isinstance(limit, str):
        return inf if limit == "none" else 0.0
    return limit


def _by_size(value: float, likely: float, unlikely: float) -> Standing:
    """Likely from one value upwards, unlikely up to another, open between."""
    return "likely" if value >= likely else "unlikely" if value <= unlikely else "open"


def _small(shop: Workshop, value: float) -> str:
    """A length of one molecule is no length."""
    return "nothing" if abs(value) < 1e-8 else shop.say(value)


def _percent(share: float) -> str:
    return f"{share:.0%}" if share >= 0.01 else "under 1%"


def _times(band: Band) -> str:
    """A band of margins, none above 100."""
    low, high = ("over 100" if end > 100 else f"{end:.2g}" for end in (band.low, band.high))
    return low if low == high else f"{low} to {high}"


# --- chatter ---------------------------------------------------------------------------------


def past_margin(shop: Workshop) -> Verdict:
    """Whether the cut asks more than bar and supports stand."""
    margin = shop.outcome.chatter.margin
    low, likely, high = (f"{min(margin[end], 100):.2g}" for end in ("low", "likely", "high"))
    singer = f", the {shop.outcome.sung_by.part}" if shop.outcome.sung_by else ""
    why = f"gain margin {low} to {high}, likely {likely}; under 1 it sings{singer}"
    if margin["likely"] < 1:
        return Verdict("likely", why)
    return Verdict("open" if margin["low"] < 1 else "unlikely", why)


def lost_rubbing(shop: Workshop) -> Verdict:
    """Whether the cut is quiet only because a slow edge rubs, or would be if it were slower."""
    chatter, wanted = shop.outcome.chatter, shop.case.limits.chatter_margin
    bare, whole = (f"{min(value, 100):.2g}" for value in (chatter.bare, chatter.margin["likely"]))
    if chatter.bare >= wanted:
        return Verdict("ruled out", f"the cut is likely quiet without it, margin {bare}")
    why = f"margin {bare} without the rubbing of a slow edge, {whole} with it"
    limit, now = shop.rubbing_speed, shop.case.spindle_speed
    if limit is None:
        return Verdict("open", f"{why}; at no speed near this one is it enough")
    why += f"; rubbing likely keeps it quiet below {_rpm(limit)} rpm (good to a factor of four), "
    return Verdict("likely", f"{why}and this cut is at {_rpm(now)}")


def _rpm(speed: float) -> str:
    return f"{float(f'{60 * speed:.2g}'):g}"


def unlucky_speed(shop: Workshop) -> Verdict:
    """Whether another speed could fall between lobes."""
    waves = shop.outcome.chatter.marks_per_turn
    if not isfinite(waves):
        return Verdict("ruled out", "the likely loop sings at no speed")
    if speed_can_be_aimed(waves, LEAST_DOUBT):
        return Verdict("open", f"{waves:.0f} waves round the bore: a few per cent of speed may do")
    return Verdict(
        "ruled out",
        f"{waves:.0f} waves round the bore: a small change of speed will not tune it out; only a "
        "much slower one helps, by rubbing",
    )


def _share(shop: Workshop, *parts: str) -> float:
    return sum(one.share for one in shop.outcome.statics.give if one.part.startswith(parts))


def _give(part: str, *names: str) -> Callable[[Workshop], Verdict]:
    """Verdict on the part of the give that lies in some place."""

    def verdict(shop: Workshop) -> Verdict:
        share = _share(shop, *names)
        first = "look there first" if share >= HALF else ""
        why = f"{_percent(share)} of the give at the edge is in {part}"
        return Verdict(_by_size(share, HALF, HARDLY), f"{why}: {first}" if first else why)

    return verdict


def bit_sticks_out(shop: Workshop) -> Verdict:
    """How much of the give across the bit is the bit's own."""
    given = float(bit_compliances(shop.case)[1, 1])
    share = given / float(shop.outcome.statics.loop_compliance[1, 1])
    why = f"the bit sticks out {shop.say(shop.case.projection)} and has {_percent(share)} of the "
    return Verdict(_by_size(share, HALF, HARDLY), f"{why}give the way it cuts")


def round_nose(shop: Workshop) -> Verdict:
    """Nose against depth, and against the largest nose that is quiet."""
    nose, depth = shop.case.bit.nose_radius, shop.case.cut.depth
    limit = bound(shop.outcome.chatter.nose_radius_limit)
    gained = shop.remedy("smaller nose")
    if gained is None or gained.idle:
        return Verdict("unlikely", "by the numbers a smaller nose is no quieter here")
    why = f"depth {shop.say(depth)}, nose {shop.say(nose)}; half that nose brings {gained.gain}"
    if limit == 0.0:
        return Verdict("open", f"{why}; no nose is small enough to be quiet by itself")
    if nose > limit:
        return Verdict("likely", f"{why}; up to {shop.say(limit)} is likely quiet")
    return Verdict("open" if depth < nose else "unlikely", f"{why}; this one is likely quiet too")


def thin_finish(shop: Workshop) -> Verdict:
    """Depth of the last pass against the nose, and whether a deeper one has more margin."""
    depth, nose = shop.finishing.case.cut.depth, shop.case.bit.nose_radius
    if depth >= nose:
        return Verdict(
            "unlikely", f"the last pass, {shop.say(depth)} deep, is no less than the nose"
        )
    gained = shop.finishing.remedy("deeper")
    assert gained is not None
    why = (
        f"{shop.say(depth)} deep under a nose of {shop.say(nose)}: the whole push is along the bit"
    )
    if gained.idle:
        return Verdict("open", f"{why}; but by the numbers a deeper cut is no quieter here")
    quiet = nose <= bound(shop.outcome.chatter.nose_radius_limit)
    return Verdict("open" if quiet else "likely", f"{why}; deeper brings {gained.gain}")


def fine_feed(shop: Workshop) -> Verdict:
    """Feed against rubbing, and against the feed at which the bar whirls."""
    feed, whirl = shop.case.cut.feed, bound(shop.outcome.chatter.whirl_feed_limit)
    fine = FINE_FEED[shop.case.own]
    if feed > whirl:
        why = f"{shop.case.say(feed, 'feed')} is coarse: the bar whirls under it"
        return Verdict("ruled out", why)
    return Verdict(
        "likely" if feed < fine else "unlikely",
        f"{shop.case.say(feed, 'feed')}; under {shop.case.say(fine, 'feed')} the edge rubs as "
        "much as it cuts",
    )


def whirls(shop: Workshop) -> Verdict:
    """Feed against the one at which the turning bar whirls without any marks to feed it."""
    feed, whirl = shop.case.cut.feed, bound(shop.outcome.chatter.whirl_feed_limit)
    if whirl == inf:
        return Verdict("ruled out", "this bar whirls at no feed")
    if whirl == 0.0:
        return Verdict("likely", "the bar likely whirls at any feed worth setting")
    why = f"{shop.case.say(feed, 'feed')}; the bar likely whirls from {shop.say(whirl, 'feed')}"
    return Verdict(_by_size(feed / whirl, 1.0, HALF), why)


def too_fast(shop: Workshop) -> Verdict:
    """Surface speed against what high-speed steel stands."""
    most, now = shop.case.work.material.hss_speed_most, shop.case.surface_speed
    if most is None:
        why = f"{shop.case.say(now, 'surface speed')}; no usual speed is known here"
        return Verdict("open", why)
    why = (
        f"{shop.case.say(now, 'surface speed')}; usual is at most "
        f"{shop.case.say(most, 'surface speed')}, a tenth over it let pass"
    )
    return Verdict("likely" if now > FAST * most else "unlikely", why)


def shaken(shop: Workshop) -> Verdict:
    """Whether gaps of the cut or the lathe shake a mode."""
    speed, case = shop.outcome.speed, shop.case
    if speed.verdict != "clear":
        return Verdict("likely", speed.reason.rstrip("."))
    if not case.work.cuts_per_turn and not case.lathe.lines:
        return Verdict("unlikely", "the case names no gaps in the bore and no gear or motor")
    return Verdict("unlikely", speed.reason.rstrip("."))


def same_bar(shop: Workshop) -> Verdict:
    """Bar and supports cannot change along the bore."""
    return Verdict(
        "ruled out",
        "the bit stays at one station of the bar, so bar and supports are as firm at both ends of "
        "the bore",
    )


# --- size and form ---------------------------------------------------------------------------


def _spring(shop: Workshop) -> tuple[float, str]:
    """Likely size error over the width between the limits, and both in words."""
    error, width = shop.outcome.size_error.likely, tolerance(shop.case)
    return error / width, f"{_small(shop, error)}, with {shop.say(width)} between the limits"


def springs_off(shop: Workshop) -> Verdict:
    """Bar spring that leaves the bore small."""
    if shop.outcome.statics.diameter_error > 0:
        return Verdict("ruled out", "here the cut pulls the bit into the wall, not off it")
    share, words = _spring(shop)
    why = f"the same all along the bore, likely {words}"
    return Verdict(_by_size(share, MUCH, LITTLE), why)


def pulled_in(shop: Workshop) -> Verdict:
    """Bar spring that opens the bore."""
    if shop.outcome.statics.diameter_error <= 0:
        return Verdict("ruled out", "spring makes this bore smaller, not larger")
    share, words = _spring(shop)
    why = f"the cut pulls the bit into the wall, likely by {words}"
    return Verdict(_by_size(share, MUCH, LITTLE), why)


def springs_no_taper(shop: Workshop) -> Verdict:
    """Bar spring is the same all along the bore."""
    spring = _small(shop, shop.outcome.size_error.likely)
    return Verdict(
        "ruled out",
        f"it changes the diameter by {spring}, the same all along: the bit stays at one station "
        "of the bar and the work moves past it",
    )


def set_over(shop: Workshop) -> Verdict:
    """A bar that lies askew to the travel."""
    askew = 1e-3
    tilt = shop.case.edge_radius * 2 * (askew**2 / 2)
    return Verdict(
        "ruled out",
        "the bit sweeps the same circle all along; askew by 1 in 1000 that circle is "
        f"{_small(shop, tilt)} oval",
    )


def run_out(shop: Workshop) -> Verdict:
    """Run-out at the bit, which a micrometer does not see."""
    width, pattern = tolerance(shop.case), shop.outcome.run_out
    lands = "as much as the whole swing of an indicator beside the bit lands on the bore"
    if pattern is None:
        return Verdict("open", f"{lands}; {shop.say(width)} of swing may use up the limits")
    swing = pattern.swing_at_bit
    read = shop.between(swing.low, swing.high)
    why = f"{lands}: the readings give {read}, with {shop.say(width)} between the limits"
    return Verdict(_by_size(swing.high / width, MUCH, LITTLE), why)


def bent(shop: Workshop) -> Verdict:
    """A bent bar, by the readings along it."""
    pattern = shop.outcome.run_out
    if pattern is None or not pattern.told:
        return Verdict("open", "a bend swings once a turn at any speed; no readings tell yet")
    if not any(fault.name == "bent" for fault in pattern.faults):
        return Verdict("unlikely", f"by its run-out the bar is {pattern.name}")
    swing = max(fault.swing for fault in pattern.faults if fault.name == "bent")
    why = f"by its run-out the bar is {pattern.name}, a swing of {shop.say(swing)}"
    return Verdict("likely", why)


def warm(shop: Workshop) -> Verdict:
    """A bore that was measured warm."""
    metal, bore = shop.case.work.material.name, shop.case.work.bore.nominal
    grown = expansion(metal) * bore * WARM
    share = grown / tolerance(shop.case)
    warmer = shop.say(WARM, "temperature")
    why = f"{warmer} warmer than its gauge this bore measures {shop.say(grown)} too large"
    # How warm it was no number of the case says.
    return Verdict("unlikely" if share < LITTLE else "open", why)


def way_of_the_edge(case: Case) -> float | None:
    """Length of metal that the edge runs through in one pass, m: ``pi D L / f``."""
    if case.work.length is None:
        return None
    return float(2 * pi * case.edge_radius * case.work.length / case.cut.feed)


def worn_along(shop: Workshop) -> Verdict:
    """Wear of the edge between the start and the end of one cut."""
    way, fast = way_of_the_edge(shop.case), too_fast(shop)
    if way is None:
        return Verdict(fast.standing if fast.standing == "likely" else "open", fast.why)
    why = f"the edge runs through {float(f'{way:.2g}'):g} m of metal in one pass, at {fast.why}"
    worn = fast.standing == "likely" or way > LONG_WAY
    return Verdict("likely" if worn else "open", why)


def partly_engaged(shop: Workshop) -> Verdict:
    """Spring that comes back as the edge runs in and out."""
    share, words = _spring(shop)
    why = f"where the edge is only partly in, spring comes back, and no more: {words}"
    return Verdict("open" if share > MUCH else "unlikely", why)


def unlike_supports(shop: Workshop) -> Verdict:
    """Supports or work side that are softer one way than the other."""
    oval, allowed = shop.outcome.statics.ovality, shop.case.allowed_ovality
    if oval == 0.0:
        return Verdict("open", "the case takes all as alike up-and-down and sideways: push both")
    why = f"as the case has them they bore {shop.say(oval)} out of round; {shop.say(allowed)} is "
    return Verdict(_by_size(oval / allowed, HALF, HARDLY), f"{why}allowed")


def turns_with_bit(shop: Workshop) -> Verdict:
    """What turns with the bit meets it alike at every angle."""
    return Verdict("ruled out", "they turn with the bit: they change the size, not the form")


def two_lobes_only(shop: Workshop) -> Verdict:
    """Springs that differ two ways make an oval and nothing else."""
    return Verdict("ruled out", "a spring that differs up-and-down and sideways makes two lobes")


def old_error(shop: Workshop) -> Verdict:
    """What a pass hands on of the old bore's error."""
    copied = shop.outcome.passes.copied
    most = max(abs(copied.low), abs(copied.high))
    why = f"one pass hands on {_percent(abs(copied.likely))} of the old bore's error, at most "
    return Verdict(_by_size(most, HALF, HARDLY), f"{why}{_percent(most)}")


def sag(shop: Workshop) -> Verdict:
    """Sag moves the line of the bore, not its form."""
    low = _small(shop, shop.outcome.statics.sag)
    why = f"the bar sags {low} at the bit wherever the work stands"
    return Verdict("ruled out", f"{why}: it turns under its sag")


def gaps(shop: Workshop) -> Verdict:
    """Ports and keyways that the edge meets."""
    count = shop.case.work.cuts_per_turn
    if not count:
        return Verdict("unlikely", "the case names no ports or keyways (work, cuts_per_turn)")
    often = "once" if count == 1 else f"{count} times"
    return Verdict("likely", f"the edge meets the metal anew {often} a turn")


def gaps_in(lobes: int) -> Callable[[Workshop], Verdict]:
    """Gaps that come as often per turn as the bore has lobes."""

    def verdict(shop: Workshop) -> Verdict:
        count = shop.case.work.cuts_per_turn
        if count == lobes:
            return gaps(shop)
        if count == 0:
            return Verdict("ruled out", "the case names no ports or keyways")
        return Verdict("unlikely", f"the cut is broken {count} times a turn, not {lobes}")

    return verdict


def dwell(shop: Workshop) -> Verdict:
    """What comes off where the feed stands still."""
    if shop.outcome.statics.diameter_error > 0:
        return Verdict("open", "a bit that is pulled in digs where the feed stands still")
    first = shop.outcome.passes.spring.first
    ring = shop.between(max(first.low, 0.0), first.high)
    why = f"where the feed stops, the spring comes back: a ring {ring} larger"
    return Verdict(_by_size(first.likely / tolerance(shop.case), MUCH, LITTLE), why)


# --- holding ---------------------------------------------------------------------------------


def weak_hold(shop: Workshop) -> Verdict:
    """Hold of the set screws against the push along the bit."""
    margin = shop.outcome.holding.hold_margin
    if margin is None:
        return Verdict("open", "the case names no set screw that the table knows")
    why = f"the screws hold {_times(margin)} times the push while it shakes"
    if margin.likely < shop.case.limits.screw_margin:
        return Verdict("likely", why)
    return Verdict("open" if margin.low < 1 else "unlikely", why)


def strips(shop: Workshop) -> Verdict:
    """Threads in the bar against the screws' seating torque."""
    screws = shop.outcome.holding.screws
    if not screws:
        return Verdict("open", "the case names no set screw that the table knows")
    margin = min(screw.strip_margin for screw in screws)
    why = f"the threads in this bar bear {margin:.2g} times the pull of a seated screw"
    return Verdict(_by_size(1 / margin, 1 / 1.5, 1 / 3), why)


def jaws(shop: Workshop) -> Verdict:
    """Friction of the jaws against torque and push of the cut."""
    drive = shop.outcome.holding.drive
    margin = None if drive is None else drive.margin
    if margin is None:
        return Verdict("ruled out", "no jaws turn this bar")
    why = f"tightened by hand they hold {_times(margin)} times what the cut asks"
    return Verdict(_by_size(1 / margin.low, 1.0, 1 / 3), why)


def bent_in_jaws(shop: Workshop) -> Verdict:
    """A tail out of line, which bends the bar in its jaws each turn."""
    moment = shop.outcome.strength.misalignment_moment.likely
    if moment <= 0:
        return Verdict("ruled out", "nothing bends this bar in its drive each turn")
    return Verdict(
        "open", "a tail out of line bends the bar each turn and walks it out of the jaws"
    )


def pin(shop: Workshop) -> Verdict:
    """What the cut puts on the pin of the dog."""
    drive = shop.outcome.holding.drive
    if drive is None or drive.grip is not None:
        return Verdict("ruled out", "no dog turns this bar")
    load = shop.between(drive.asked.low, drive.asked.high, "force")
    return Verdict("open", f"the cut keeps {load} on the pin; a gap lets it go")


# --- chips, whip, tail -----------------------------------------------------------------------


def small_gap(shop: Workshop) -> Verdict:
    """Room for chips between the bar and the bore before the cut."""
    case = shop.case
    before = case.old_bore or 2 * (case.edge_radius - case.cut.depth)
    gap = (before - case.bar_diameter(case.cross_hole.position)) / 2
    wanted = CHIP_ROOM["short" if _crumbles(case) else "long"][case.own]
    room = f"{shop.say(gap)} between bar and bore"
    why = f"{room}; {shop.say(wanted)} or more is wanted in this metal"
    return Verdict(_by_size(wanted / gap, 1.0, 0.5), why)


def _crumbles(case: Case) -> bool:
    return any(word in case.work.material.name.lower() for word in CRUMBLES)


def long_chips(shop: Workshop) -> Verdict:
    """Whether chips curl or crumble."""
    name = show_name(shop.case)
    if _crumbles(shop.case):
        return Verdict("unlikely", f"{name} comes off in crumbs")
    return Verdict("likely", f"chips of {name} curl and wind round the bar")


def show_name(case: Case) -> str:
    """Name of the work's metal, plain."""
    return "".join(c for c in case.work.material.name if " " <= c <= "~") or "this metal"


def proud_screw(shop: Workshop) -> Verdict:
    """Room for the heads of the set screws."""
    room = shop.outcome.holding.room
    if not shop.case.cross_hole.set_screws:
        return Verdict("ruled out", "the case has no set screw")
    if room <= 0:
        return Verdict("likely", "a screw's head must be sunk below the bar: it touches the bore")
    why = f"a screw's head may stand {shop.say(room)} proud before it touches the bore"
    return Verdict("unlikely" if room > CHIP_ROOM["short"][shop.case.own] else "open", why)


def critical(shop: Workshop) -> Verdict:
    """Spindle speed against the first critical speed."""
    first = shop.outcome.whirl.first_critical
    if not isfinite(first):
        return Verdict("ruled out", "the bar has no critical speed within reach of this lathe")
    share = shop.case.spindle_speed / first
    why = f"{_rpm(shop.case.spindle_speed)} rpm; the first critical speed is {_rpm(first)} rpm"
    if share < FAR_FROM_CRITICAL:
        return Verdict("ruled out", why)
    return Verdict("likely" if share >= NEAR_CRITICAL else "open", why)


def unbalanced(shop: Workshop) -> Verdict:
    """Pull of what is off balance as the bar turns."""
    now = shop.outcome.balance.turning[0]
    moved, pull = now.movement.high, shop.say(now.pull.high, "force")
    why = f"bar, bit and hole pull with {pull} at most and move the bit by {_small(shop, moved)}"
    return Verdict(_by_size(moved / tolerance(shop.case), MUCH, LITTLE), why)


def feeds_at_tail(shop: Workshop) -> Verdict:
    """Way of the feed."""
    push = shop.say(shop.outcome.force.axial, "force")
    if shop.case.cut.feed_towards == "tailstock":
        return Verdict("likely", f"the feed pushes the bar at the tailstock with {push}")
    return Verdict("unlikely", f"the feed pushes the bar at the headstock with {push}")


def dead_tail(shop: Workshop) -> Verdict:
    """Whether the tail runs on a dead centre."""
    tail = shop.case.supports.tail
    if tail is not None and tail.kind == "dead centre":
        return Verdict("likely", "the tail runs on a dead centre: dry, it wears and burns")
    return Verdict("unlikely", "the tail does not run on a dead centre")


def thrust(shop: Workshop) -> Verdict:
    """Thrust that keeps the bar on its centre."""
    needed = shop.outcome.holding.tail_thrust
    if needed is None:
        return Verdict("ruled out", "no centre holds the tail")
    why = f"the cut needs {shop.say(needed, 'force')} of thrust to keep it seated"
    return Verdict("open", why)


VERDICTS: Mapping[str, Callable[[Workshop], Verdict]] = {
    "past margin": past_margin,
    "lost rubbing": lost_rubbing,
    "unlucky speed": unlucky_speed,
    "give of work side": _give("the work side: carriage, slide, packing, casting", "work side"),
    "give of tail": _give("the tail support", "tail"),
    "give of drive": _give("the drive end", "drive"),
    "give of bar": _give("the bar itself", "bar", "cross-hole"),
    "bit sticks out": bit_sticks_out,
    "round nose": round_nose,
    "thin finish": thin_finish,
    "fine feed": fine_feed,
    "whirls": whirls,
    "too fast": too_fast,
    "shaken": shaken,
    "same bar": same_bar,
    "springs off": springs_off,
    "pulled in": pulled_in,
    "springs no taper": springs_no_taper,
    "set over": set_over,
    "run-out": run_out,
    "bent": bent,
    "warm": warm,
    "worn along": worn_along,
    "partly engaged": partly_engaged,
    "unlike supports": unlike_supports,
    "turns with bit": turns_with_bit,
    "two lobes only": two_lobes_only,
    "old error": old_error,
    "sag": sag,
    "gaps": gaps,
    "two gaps": gaps_in(2),
    "three gaps": gaps_in(3),
    "dwell": dwell,
    "weak hold": weak_hold,
    "strips": strips,
    "jaws": jaws,
    "bent in jaws": bent_in_jaws,
    "pin": pin,
    "small gap": small_gap,
    "long chips": long_chips,
    "proud screw": proud_screw,
    "critical": critical,
    "unbalanced": unbalanced,
    "feeds at tail": feeds_at_tail,
    "dead tail": dead_tail,
    "thrust": thrust,
}
"""By the name that the table of troubles calls them."""
