"""What to check on the set-up before metal is cut, each with a limit for this very job.

Where a number of the job can set the limit it is computed: a quarter of the width between the
bore's limits may go to any one fault (judgement: four such faults at once are as much as the job
stands). What no number of the job decides is common practice and says so. How to look: an
indicator, the spindle turned by hand, the power isolated.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import pi, radians, sin
from typing import Literal

from .case import Case
from .fatigue import is_steel
from .firmness import Bench, Least, Part
from .holding import ScrewHold
from .inputs import SI_UNIT
from .model import factorised
from .passes import LEAST_CUT
from .run import Outcome
from .strength import solve_strength
from .support import Bushing, Steady
from .units import Own, roughly

Origin = Literal["computed", "common practice", "from memory"]
Sense = Literal["at most", "at least", "about"]
Round = Mapping[Own, float]
"""A length of common practice, m, as round as each system has it."""
SHARE = 0.25
"""Of the width between the bore's limits, for any one fault (judgement)."""
SEEN = 2.5e-6
"""Least movement that a tenths indicator shows, m."""
INCH = 0.0254
THOU = INCH / 1000
QUILL_OUT: Round = {"mm": 0.032, "inch": 1.25 * INCH}
"""Longest that the quill may stand out, m (one maker's manual; common practice)."""
TAIL_OUT_OF_LINE: Round = {"mm": 0.1e-3, "inch": 4 * THOU}
"""Farthest that a tail may stand off the line of the jaws, m (common practice)."""
FACE_OFF_CENTRE: Round = {"mm": 0.4e-3, "inch": INCH / 64}
"""Farthest that the bit's face may lie off the bar's centre line, m (common practice)."""
END_SHAKE: Round = {"mm": 10e-6, "inch": 0.4 * THOU}
"""Most that the bar may move along between its supports, m (common practice)."""
ROOM: Round = {"mm": 6e-3, "inch": INCH / 4}
"""Least room between the work and whatever it comes near at the ends of the travel, m (common
practice)."""
WARM = 15.0
"""How much a bar warms within its first minutes, K; a guess, 5 to 30."""
GAUGE_SHARE = 0.1
"""Of the width between the bore's limits, for the bore being warmer than its gauge (judgement)."""
STEEL_EXPANSION = 11.7e-6
EXPANSION = {
    "iron": 10.8e-6,
    "steel": STEEL_EXPANSION,
    "stainless": 16e-6,
    "brass": 19e-6,
    "bronze": 18e-6,
    "babbitt": 24e-6,
    "alumin": 23e-6,
}
"""Growth per length and kelvin by a word in the name of the metal (from memory)."""
UNKNOWN_EXPANSION = 24e-6
"""Of a metal that is not known: as much as any that is bored (from memory)."""
UNITS = SI_UNIT | {"temperature": "K", "torque": "N.m"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupCheck:
    """One thing to check before cutting.

    Attributes
    ----------
    what : what is checked
    by : with what, in a few words
    how : where the indicator, the spring balance or the eye goes
    limit : SI, of `kind`
    kind : of quantity, a key of `UNITS`
    sense : whether the limit is the most, the least, or what to aim at
    why : what goes wrong beyond it
    origin : whether the job's numbers set the limit, or practice does
    """

    what: str
    by: str
    how: str
    limit: float
    kind: str
    sense: Sense
    why: str
    origin: Origin

    @property
    def unit(self) -> str:
        """SI unit of the limit."""
        return UNITS[self.kind]

    def limit_text(self, own: Own) -> str:
        """The limit with two digits, its `own` units first: `at most 6.2 um (0.24 thou)`."""
        return f"{self.sense} {said(self.limit, self.kind, own)}"


def said(value: float, kind: str, own: Own) -> str:
    """A quantity with two digits, its `own` units first, the other system's in brackets."""
    if kind != "temperature":
        return roughly(value, kind, own)
    celsius, fahrenheit = (f"{float(f'{one:.2g}'):g}" for one in (value, 1.8 * value))
    first, second = f"{celsius} C", f"{fahrenheit} F"
    return f"{first} ({second})" if own == "mm" else f"{second} ({first})"


def tolerance(case: Case) -> float:
    """Width between the bore's limits, m; twice the size error allowed where it has none."""
    width = case.work.bore.upper - case.work.bore.lower
    return float(width) if width > 0 else 2 * case.allowed_size_error


def expansion(metal: str) -> float:
    """Growth of a metal per length and kelvin, by its name (from memory)."""
    words = metal.lower()
    found = (value for word, value in reversed(EXPANSION.items()) if word in words)
    return next(found, UNKNOWN_EXPANSION)


def setup_checks(case: Case, outcome: Outcome) -> tuple[SetupCheck, ...]:
    """Everything to check before cutting, in the order in which it is set up.

    Parameters
    ----------
    outcome : of a run of the case
    """
    groups = (
        _run_out(case),
        _tail_in_line(case, outcome),
        _quill(case),
        _slide(case),
        _push(case, outcome),
        _work_in_line(case, outcome),
        _clamping(case),
        _bit(case),
        _screws(outcome),
        _travel(case),
        _tail_tight(case, outcome),
        _temperature(case),
    )
    return tuple(check for group in groups for check in group)


def _length(case: Case, value: float) -> str:
    return said(value, "length", case.own)


# --- bar and lathe ---------------------------------------------------------------------------


def _run_out(case: Case) -> Iterator[SetupCheck]:
    """Run-out at the bit, and the bow that gives it."""
    most = max(SHARE * tolerance(case), SEEN)
    hole = case.cross_hole.position
    fine = "; it is at what a tenths indicator shows" if most == SEEN else ""
    yield SetupCheck(
        what="run-out of the bar beside the bit",
        by="indicator beside the hole, turned by hand",
        how="tenths indicator on the bar beside the cross-hole, bar turned by hand, full swing",
        limit=most,
        kind="length",
        sense="at most",
        why="up to the whole swing lands on a bore that is set by micrometer over bar and bit; a "
        f"quarter of the {case.say(tolerance(case))} between the limits{fine}. The last pass, set "
        "from the measured bore, takes it out",
        origin="computed",
    )
    if case.supports.tail is None or not 0 < hole < case.bar.span:
        return
    yield SetupCheck(
        what="bow of the bar",
        by="indicator along it, turned by hand",
        how="indicator along the bar, turned by hand: swing at the middle less that at the ends",
        limit=most / sin(pi * hole / case.bar.span),
        kind="length",
        sense="at most",
        why="a bar bent in a single arc runs out beside the bit by what its station has of this "
        "swing; a new bar moves when it is slotted",
        origin="computed",
    )


FAR_OFF_LINE = 0.010
"""No tail stands further off the line of the jaws than this, m."""
_CLOSE, _MOST_SECANTS = 1e-6, 30


def _tail_in_line(case: Case, outcome: Outcome) -> Iterator[SetupCheck]:
    """How far the tail may stand off the line of the jaws; nothing between centres."""
    if case.supports.tail is None or case.supports.drive.tilt_stiffness == 0:
        return
    tired = fatigue_offset(case, outcome)
    most, origin = TAIL_OUT_OF_LINE[case.own], "common practice"
    moved = _length(case, most * case.cross_hole.position / case.bar.span)
    why = f"the bar bends every turn, walks in its jaws, and carries the bore off by {moved}"
    if tired is not None and tired < most:
        most, origin = max(tired, SEEN), "computed"
        why = (
            "the bar bends every turn; beyond this its margin against fatigue at the cross-hole "
            f"falls under {case.limits.fatigue_margin:g}"
        )
    elif tired is not None:
        why += f"; fatigue at the cross-hole would stand {_length(case, tired)}"
    yield SetupCheck(
        what="tail out of line with the jaws",
        by="indicator on the bar's end as the tail comes up",
        how="indicator on the end of the bar, its base on the bed: how far the bar moves as the "
        "tail is brought up, up and down and sideways",
        limit=most,
        kind="length",
        sense="at most",
        why=why,
        origin="computed" if origin == "computed" else "common practice",
    )


def fatigue_offset(case: Case, outcome: Outcome) -> float | None:
    """Tail offset at which the bar just has its margin against fatigue, m.

    Where the run judges it: at the heavy end of what was guessed. None where no tail offset comes
    near it, or the bar is not of steel.
    """
    if outcome.strength.fatigue is None or not is_steel(case.bar.material):
        return None
    factored, wanted = factorised(outcome.model), case.limits.fatigue_margin

    def over(offset: float) -> float:
        """How far the bar is over what it bears there, as a share of it."""
        drive = case.supports.drive.model_copy(update={"tail_offset": offset})
        held = case.supports.model_copy(update={"drive": drive})
        moved = case.model_copy(update={"supports": held})
        fatigue = solve_strength(moved, outcome.force, factored).fatigue
        assert fatigue is not None
        return wanted / fatigue.margin.low - 1.0

    before, after = ((offset, over(offset)) for offset in (0.0, FAR_OFF_LINE))
    if before[1] >= 0.0:
        return 0.0
    if after[1] <= 0.0:
        return None
    # Stress grows with the offset in straight pieces, ever steeper: a few secants find the place.
    for _ in range(_MOST_SECANTS):
        if abs(after[1]) < _CLOSE:
            break
        slope = (after[1] - before[1]) / (after[0] - before[0])
        place = after[0] - after[1] / slope
        before, after = after, (place, over(place))
    return after[0]


def _quill(case: Case) -> Iterator[SetupCheck]:
    tail = case.supports.tail
    if tail is None or isinstance(tail, Steady | Bushing):
        return
    yield SetupCheck(
        what="quill out of the tailstock",
        by="rule, then lock it",
        how="rule; then lock quill and tailstock",
        limit=QUILL_OUT[case.own],
        kind="length",
        sense="at most",
        why="a quill far out is the softest part of many tailstocks; as little as the job allows",
        origin="common practice",
    )


def _slide(case: Case) -> Iterator[SetupCheck]:
    most = max(SHARE * tolerance(case) / 2, SEEN)
    yield SetupCheck(
        what="rock of carriage and cross slide",
        by="push and pull the work, indicator from the bed",
        how="indicator from the bed to the work at bore height; push and pull by hand up, down "
        "and sideways, at both ends of the travel; slide locked",
        limit=most,
        kind="length",
        sense="at most",
        why="slack that stays when the hand is gone opens or shuts the bore by twice as much and "
        "makes a bell mouth where the edge runs in and out; snug the gibs",
        origin="computed",
    )


# --- spring ----------------------------------------------------------------------------------


def _push(case: Case, outcome: Outcome) -> Iterator[SetupCheck]:
    """Least stiffness of the whole loop, and of each support, that keeps the limits."""
    error = outcome.size_error.likely
    if error > 0:
        least = outcome.statics.stiffness_radial * error / case.allowed_size_error
        yield SetupCheck(
            what="spring at the bit, bar against work",
            by="spring balance at the bit, indicator on the work",
            how="spring balance round the bar beside the bit, indicator on the work; spindle "
            "blocked; slope over five pulls, up and down and sideways",
            limit=least,
            kind="stiffness",
            sense="at least",
            why="softer than this the bore is off by more than "
            f"{case.say(case.allowed_size_error)} from spring alone; the case has "
            f"{said(outcome.statics.stiffness_radial, 'stiffness', case.own)}",
            origin="computed",
        )
    for least_of in _least(case, outcome):
        yield _push_check(case, least_of)


def _least(case: Case, outcome: Outcome) -> Iterable[Least]:
    """Least stiffness of tail and work side; of the drive too where a limit is not kept."""
    bench = Bench(case)
    parts: list[Part] = ["work side"] if case.supports.tail is None else ["tail", "work side"]
    if not outcome.within_limits:
        parts.append("drive")
    return (found for part in parts if (found := bench.least(part)) is not None)


_WHERE: dict[Part, tuple[str, str]] = {
    "tail": ("spring of the tail support", "the bar at the tail, indicator from the bed"),
    "work side": (
        "spring of the work side",
        "the work at bore height, indicator from the bed",
    ),
    "drive": ("spring of the drive end", "the bar at the spindle nose, indicator from the bed"),
}
_DECIDES = {
    "size": "bar spring takes the bore off size",
    "roundness": "the bore comes out oval",
    "chatter": "the cut chatters",
}


def _push_check(case: Case, found: Least) -> SetupCheck:
    what, where = _WHERE[found.part]
    short = "" if found.holds else ", which is not enough"
    return SetupCheck(
        what=what,
        by=f"spring balance on {where.partition(',')[0]}",
        how=f"spring balance on {where}; slope over five pulls, up and down and sideways",
        limit=found.least,
        kind="stiffness",
        sense="at least",
        why=f"softer than this {_DECIDES[found.decides]}, with all else as the case has it; the "
        f"case has {said(found.likely, 'stiffness', case.own)}{short}",
        origin="computed",
    )


# --- work ------------------------------------------------------------------------------------


def _work_in_line(case: Case, outcome: Outcome) -> Iterator[SetupCheck]:
    """Sweep of the old bore: the first cut must clean up all round."""
    first = outcome.passes.every[0].depth.low
    off = max(first - LEAST_CUT, first / 2)
    yield SetupCheck(
        what="old bore in line with the bar",
        by="indicator swept round it, both ends",
        how="indicator on the bar, swept round the bore by hand at both ends of it: full swing; "
        "then lock the slide",
        limit=2 * off,
        kind="length",
        sense="at most",
        why=f"the first cut takes {_length(case, first)} a side; off by more than half of this "
        "it does not clean up all round, and an edge that skates on skin is soon dull. In a "
        "cored hole look for an even skin as well",
        origin="computed",
    )


PINCHED = 2 * ((pi / 4 - 2 / pi) + (2 / pi - 1 / 2)) / (pi / 4 - 2 / pi)
"""Difference of the diameters of a ring pinched at two opposite places over the movement of its
wall at one of them, 3.84 (thin ring; W. C. Young & R. G. Budynas, Roark's Formulas, circular
rings, from memory); a thicker wall goes less out of round for the same movement."""


def _clamping(case: Case) -> Iterator[SetupCheck]:
    oval = _length(case, case.allowed_ovality)
    yield SetupCheck(
        what="spring of the bore's wall while clamping",
        by="indicator on the wall as the nuts go up",
        how="indicator on the wall of the bore beside each clamp while its nut is drawn up",
        limit=max(case.allowed_ovality / PINCHED, SEEN),
        kind="length",
        sense="at most",
        why="what the clamps push in springs out again on release, and a thin wall bulges the "
        f"other way as far: the bore may be {oval} out of round. Ease and nip up again before the "
        "last cut",
        origin="computed",
    )


# --- bit -------------------------------------------------------------------------------------


def _bit(case: Case) -> Iterator[SetupCheck]:
    off = FACE_OFF_CENTRE[case.own]
    turned = f"{off / case.edge_radius / radians(1):.1f}"
    yield SetupCheck(
        what="face of the bit to the bar's centre line",
        by="rule from the bar's surface",
        how="rule or depth gauge from the bar's surface to the face of the bit",
        limit=off,
        kind="length",
        sense="at most",
        why=f"that much off tips rake and clearance by {turned} degrees in this bore",
        origin="common practice",
    )
    yield SetupCheck(
        what="bit set again to the same size",
        by="micrometer, three times",
        how="micrometer over bar and bit, read again after the screw is tight, three times",
        limit=max(SHARE * tolerance(case) / 2, SEEN),
        kind="length",
        sense="at most",
        why="the bore moves by twice what the reading moves; the screw pushes the bit as it bites",
        origin="computed",
    )


def _screws(outcome: Outcome) -> Iterator[SetupCheck]:
    margin = outcome.holding.hold_margin
    slips = margin is not None and margin.likely < outcome.case.limits.screw_margin
    for screw in {screw.thread.name: screw for screw in outcome.holding.screws}.values():
        torque, why = seated(screw, outcome.case.own)
        if slips:
            why += ". It does not hold by itself here: add a screw behind the bit"
        yield SetupCheck(
            what=f"torque of the {screw.thread.name} set screw",
            by="torque wrench, or a key of known length",
            how="torque wrench, or a key of known length; then the micrometer again",
            limit=torque,
            kind="torque",
            sense="about",
            why=why,
            origin="computed",
        )


def seated(screw: ScrewHold, own: Own) -> tuple[float, str]:
    """Torque to seat a screw at, N m, and why: its own, or what the bar's thread bears."""
    stripping = said(screw.stripping_torque, "torque", own)
    strips = f"the thread in this bar strips at about {stripping}"
    if not screw.held_back:
        return float(screw.torque), f"looser and the bit slips; {strips}"
    seating = float(screw.thread.torque)
    return float(screw.torque), (
        f"{strips}, too near the {said(seating, 'torque', own)} that seat such a screw: it holds "
        f"{screw.torque / seating:.0%} of what it could"
    )


# --- travel and warmth -----------------------------------------------------------------------


def _travel(case: Case) -> Iterator[SetupCheck]:
    yield SetupCheck(
        what="room at both ends of the travel",
        by="walk it through by hand",
        how="walk the work from end to end by hand, power off, and turn the bar once at each end; "
        "look at jaws or dog, tailstock, clamps and bit",
        limit=ROOM[case.own],
        kind="length",
        sense="at least",
        why=_room(case),
        origin="common practice",
    )


def _room(case: Case) -> str:
    """What the case says of the room; clamps and packing it does not know."""
    length, hole = case.work.length, case.cross_hole.position
    why = "what touches first is bent or thrown"
    if length is None:
        return why
    ends = [("drive end", hole)]
    if case.supports.tail is not None:
        ends.append(("tail", case.bar.span - hole))
    half = case.bit.size / 2
    rooms = " and ".join(
        f"{_length(case, max(room - length - half, 0.0))} at the {end}" for end, room in ends
    )
    return (
        f"{why}; with the edge clear of a bore of {case.say(length)} there is {rooms}, for jaws "
        "or dog, clamps, and reaching the bit"
    )


def _tail_tight(case: Case, outcome: Outcome) -> Iterator[SetupCheck]:
    if outcome.holding.tail_thrust is None:
        return
    grown = STEEL_EXPANSION * case.bar.span * WARM
    yield SetupCheck(
        what="tail centre tight",
        by="push and pull the bar's end",
        how="indicator on the end of the bar, pushed and pulled along; again after five minutes' "
        "running and after the first pass",
        limit=END_SHAKE[case.own],
        kind="length",
        sense="at most",
        why=f"the cut needs {said(outcome.holding.tail_thrust, 'force', case.own)} of thrust to "
        f"keep the bar seated; a bar {said(WARM, 'temperature', case.own)} warmer is "
        f"{_length(case, grown)} longer, so ease a dead centre before it burns",
        origin="common practice",
    )


def _temperature(case: Case) -> Iterator[SetupCheck]:
    metal = case.work.material.name
    growth = expansion(metal) * case.work.bore.nominal
    degree, name = (1.0, "C") if case.own == "mm" else (1 / 1.8, "F")
    yield SetupCheck(
        what="bore no warmer than its gauge",
        by="hand on both, or a thermometer",
        how="hand on both, then wait; a cheap contact thermometer on work and gauge",
        limit=GAUGE_SHARE * tolerance(case) / growth,
        kind="temperature",
        sense="at most",
        why=f"a bore of {case.say(case.work.bore.nominal)} grows "
        f"{_length(case, growth * degree)} a degree {name} "
        f"({expansion(metal) * degree * 1e6:.3g} parts in a million, from memory); a tenth of "
        "the width between the limits",
        origin="from memory",
    )
