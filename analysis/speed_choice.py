"""Choice of speed: each speed of the lathe good, caution or avoid, and why.

Four things speak for or against a speed. Its surface speed against what high-speed steel stands
in this metal; what shakes the bar against its modes (see `speeds`); the gain margin against
chatter at that speed, with and without the rubbing of a slow edge (see `chatter`); and the
unbalance of bit and hole, which is hardly ever anything. The worst of them is the verdict.

A lobe, a speed at which the marks of the last turn happen to fall in step, can be aimed at only
if pitch and speed together are known to a quarter of a wave (see `lobes`). Else the margin at the
worst phase is the margin at every speed, and only the rubbing of the edge makes one speed quieter
than another. Gaps of an interrupted cut get no credit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import hypot, isfinite, pi

import numpy as np

from .beam import HSS_DENSITY, beam_model
from .case import Case
from .chatter import ENDS, Corner, End, Verdict, corners, edge_of, in_order
from .force import low_speed_factor
from .lobes import gain_floors, gain_limits, speed_can_be_aimed
from .material import WorkMaterial
from .model import Floats, factorised
from .modes import Modes, undamped_modes
from .odds import margin_reach, narrowed
from .speeds import SpeedCheck, check_speed
from .units import Own, quoted, said

SEVERITY: dict[Verdict, int] = {"good": 0, "caution": 1, "avoid": 2}
FAST, TOO_FAST = 1.1, 1.3
"""Above so many times the usual top speed a high-speed-steel edge wears fast, or does not last the
bore; a usual speed is no sharp limit, so a tenth over it is let pass (judgement)."""
TOO_SLOW = 0.5
"""Below this share of the slowest usual speed a built-up edge tears the finish (judgement)."""
LEAST_DOUBT = 0.02
"""Of pitch and speed together, while nobody has tapped the bar in its lathe; a guess."""
JUST_OVER = "just over the usual speed"
WORTH_SAYING = 1e-6
"""A movement by unbalance below this is not worth a word, m."""
SAME_SPEED = 0.005
"""Speeds nearer than this are one speed."""
MODE_COUNT = 8


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that speaks for (good) or against a speed, in a few words and in full."""

    verdict: Verdict
    short: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Margins:
    """Gain margins against chatter at one speed; 1 just sings.

    Attributes
    ----------
    whole : low, likely and high end of what was guessed, worst phase
    bare : the same without process damping; their low ends are alike
    frequency : Hz, of the singing at the likely end; nan if nothing sings
    lobe : least likely margin over the doubt of pitch and speed, at the speed's own phase; None
        where a lobe cannot be aimed at
    """

    whole: Mapping[End, float]
    bare: Mapping[End, float]
    frequency: float
    lobe: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedSpeed:
    """One spindle speed and what is said of it.

    Attributes
    ----------
    speed : turns per second
    surface_speed : m/s
    on_lathe : whether the lathe has it
    asked : whether the case's cut runs at it
    verdict : good, caution or avoid
    reasons : the worst first; never empty
    margins : against chatter
    waves_per_turn : marks round the bore at that pitch; nan if nothing sings
    check : of what shakes the bar
    unbalance : N, of bit and hole
    """

    speed: float
    surface_speed: float
    on_lathe: bool
    asked: bool
    verdict: Verdict
    reasons: tuple[Reason, ...]
    margins: Margins
    waves_per_turn: float
    check: SpeedCheck
    unbalance: float

    @property
    def against(self) -> tuple[Reason, ...]:
        """What speaks against it, the worst first."""
        return tuple(reason for reason in self.reasons if reason.verdict != "good")


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedChoice:
    """Every speed judged, and which to take.

    Attributes
    ----------
    speeds : rising
    pick, runner_up : of those the lathe has; the runner-up is None where there is one speed
    why : of the pick, in a line
    notes : what holds for all of them
    """

    speeds: tuple[JudgedSpeed, ...]
    pick: JudgedSpeed
    runner_up: JudgedSpeed | None
    why: str
    notes: tuple[str, ...]

    @property
    def asked(self) -> JudgedSpeed:
        """The speed of the case's cut."""
        return next(one for one in self.speeds if one.asked)


def choose_speed(case: Case, found: Mapping[End, Corner] | None = None) -> SpeedChoice:
    """Judge every speed that the lathe has, and the case's own.

    Parameters
    ----------
    found : ends of what was guessed, where they are known already, of this very case
    """
    if found is None:
        case = narrowed(case, margin_reach(case))
        found = corners(case)
    turns = _speeds(case)
    modes = undamped_modes(factorised(beam_model(case)), count=MODE_COUNT, counted=False)
    doubt = pitch_doubt(found)
    margins = _margins(case, found, turns, doubt)
    give = float(found["likely"].compliance.at(np.array([0.0]))[0, 0, 0].real)
    rows = tuple(
        judged_speed(case, modes, speed, margin, give)
        for speed, margin in zip(turns.tolist(), margins, strict=True)
    )
    pick, runner_up, why = picked(rows)
    return SpeedChoice(
        speeds=rows,
        pick=pick,
        runner_up=runner_up,
        why=why,
        notes=_notes(case, rows, doubt),
    )


def _speeds(case: Case) -> Floats:
    """The lathe's speeds and the case's own, rising, each once; turns per second."""
    own = case.spindle_speed
    others = [speed for speed in case.lathe.speeds if not _same(speed, own)]
    return np.unique(np.array([own, *map(float, others)]))


def _same(one: float, other: float) -> bool:
    return abs(one / other - 1) < SAME_SPEED


def at_speed(case: Case, speed: float) -> Case:
    """The case with its cut at another spindle speed, turns per second."""
    cut = case.cut.model_copy(update={"speed": speed, "surface_speed": None})
    return case.model_copy(update={"cut": cut})


# --- chatter at each speed -------------------------------------------------------------------


def pitch_doubt(found: Mapping[End, Corner]) -> float:
    """Doubt of the first pitch, as a share of it: half of what the guesses leave open, or more.

    Never under `LEAST_DOUBT`, which the speed of a belt under load alone may take.
    """
    pitches = [pitch for corner in found.values() for pitch in corner.pitches]
    spread = (max(pitches) - min(pitches)) / (max(pitches) + min(pitches))
    return max(LEAST_DOUBT, spread)


def _margins(
    case: Case, found: Mapping[End, Corner], turns: Floats, doubt: float
) -> list[Margins]:
    """Margins at each speed; speeds at which the edge takes the same force go together."""
    groups = defaultdict(list)
    for place, speed in enumerate(turns):
        surface = 2 * pi * case.edge_radius * speed
        groups[float(low_speed_factor(surface))].append(place)
    rows: dict[int, Margins] = {}
    for places in groups.values():
        moved = at_speed(case, float(turns[places[0]]))
        rows |= zip(places, _grouped(moved, found, turns[places], doubt), strict=True)
    return [rows[place] for place in range(turns.size)]


def _grouped(
    case: Case, found: Mapping[End, Corner], turns: Floats, doubt: float
) -> list[Margins]:
    """Margins at speeds at which the edge of this case takes the same force."""
    radius = case.edge_radius
    whole, bare = {}, {}
    for end, corner in found.items():
        held, edge = corner.compliance, edge_of(case, end)
        bare[end] = gain_floors(held, edge, 0.0, radius, turns)
        whole[end] = bare[end]
        if corner.process_damping:
            whole[end] = gain_floors(held, edge, corner.process_damping, radius, turns)
    likely = found["likely"]
    pitch = gain_limits(
        likely.compliance, edge_of(case, "likely"), likely.process_damping, radius, turns
    ).frequency
    return [
        Margins(
            whole=in_order({end: float(whole[end][k]) for end in ENDS}),
            bare=in_order({end: float(bare[end][k]) for end in ENDS}),
            frequency=float(pitch[k]),
            lobe=_lobe(case, likely, float(turns[k]), float(pitch[k]), doubt),
        )
        for k in range(turns.size)
    ]


def _lobe(case: Case, corner: Corner, speed: float, pitch: float, doubt: float) -> float | None:
    """Least margin about a speed, each at its own phase, if a lobe can be aimed at there."""
    if not (isfinite(pitch) and speed_can_be_aimed(pitch / speed, doubt)):
        return None
    about = speed * (1 + doubt * np.linspace(-1, 1, 9))
    edge = edge_of(case, "likely")
    damping, radius = corner.process_damping, case.edge_radius
    return float(gain_limits(corner.compliance, edge, damping, radius, about).limit.min())


# --- what is said of one speed ---------------------------------------------------------------


def judged_speed(
    case: Case, modes: Modes, speed: float, margins: Margins, give: float
) -> JudgedSpeed:
    """Everything that is said of one speed.

    Parameters
    ----------
    speed : turns per second
    give : m/N, of the edge along the bit
    """
    surface = 2 * pi * case.edge_radius * speed
    check = check_speed(case, modes, speed)
    unbalance = unbalance_force(case, speed)
    reasons = sorted(
        (
            *surface_reasons(case.work.material, surface, case.own),
            *shake_reasons(check),
            *chatter_reasons(margins, float(case.limits.chatter_margin)),
            *unbalance_reasons(unbalance, unbalance * give, case.own),
        ),
        key=lambda reason: -SEVERITY[reason.verdict],
    )
    return JudgedSpeed(
        speed=speed,
        surface_speed=surface,
        on_lathe=any(_same(speed, float(one)) for one in case.lathe.speeds),
        asked=_same(speed, case.spindle_speed),
        verdict=reasons[0].verdict,
        reasons=tuple(reasons),
        margins=margins,
        waves_per_turn=margins.frequency / speed,
        check=check,
        unbalance=unbalance,
    )


def surface_reasons(metal: WorkMaterial, surface: float, own: Own) -> Iterable[Reason]:
    """What the edge's speed along the bore, m/s, says."""
    least, most = metal.hss_speed_least, metal.hss_speed_most
    shown = said(surface, "surface speed", own)
    if least is not None and surface < TOO_SLOW * least:
        yield Reason(
            "caution",
            "slow for the bit",
            f"{shown} is under half of the slowest usual for high-speed steel, "
            f"{said(least, 'surface speed', own)}: slow work, and a built-up edge tears the "
            "finish",
        )
    if most is not None and most < surface <= FAST * most:
        yield Reason(
            "good",
            JUST_OVER,
            f"{shown} is over the {said(most, 'surface speed', own)} usual for high-speed steel "
            f"in {quoted(metal.name)[1:-1]}, but by less than a tenth, which is let pass",
        )
    if most is not None and surface > FAST * most:
        over = surface > TOO_FAST * most
        yield Reason(
            "avoid" if over else "caution",
            "too fast for the bit" if over else "fast for the bit",
            f"{shown} is faster than usual for high-speed steel in {quoted(metal.name)[1:-1]}, "
            f"{said(most, 'surface speed', own)} and a tenth over it at most: the edge "
            + ("will not last the bore" if over else "wears fast"),
        )


def shake_reasons(check: SpeedCheck) -> Iterable[Reason]:
    """What shakes the bar near one of its modes."""
    if check.verdict != "clear":
        near = check.nearest.source.split(":")[0]
        text = f"shakes: {check.reason.rstrip('.')}"
        yield Reason(check.verdict, f"{near} near a mode", text)


def chatter_reasons(margins: Margins, wanted: float) -> Iterable[Reason]:
    """What the gain margins say.

    Parameters
    ----------
    wanted : least likely margin that the job asks
    """
    whole, bare = margins.whole, margins.bare
    margin = f"chatter margin {margin_words(whole)}"
    if whole["likely"] < wanted:
        yield from _singing(margins, wanted, margin)
    elif whole["low"] >= 1.0:
        text = (
            f"{margin}: quiet even at the pessimistic end of that range; one guess in ten is worse"
        )
        yield Reason("good", "quiet at the low end", text)
    elif bare["likely"] < wanted:
        yield Reason(
            "caution",
            "quiet by rubbing alone",
            f"{margin}: quiet only because a slow edge rubs the chatter down; without that the "
            f"margin is {margin_words(bare)}, so a fresh, well relieved edge may sing",
        )
    else:
        yield Reason(
            "caution",
            "quiet if the guesses hold",
            f"{margin}: likely quiet, but not at the pessimistic end of that range",
        )


def _singing(margins: Margins, wanted: float, margin: str) -> Iterable[Reason]:
    """A margin below what is wanted, with the lobe that may save it."""
    if margins.lobe is not None and margins.lobe >= wanted:
        yield Reason(
            "caution",
            "in a gap between lobes",
            f"{margin} at the worst phase, but this speed stands in a gap between the lobes: "
            f"{_times(margins.lobe)} or more at the likely values while it holds; it sings if the "
            "speed wanders",
        )
        return
    sings = margins.whole["likely"] < 1
    short = "likely to chatter" if sings else "less margin than wanted"
    text = "it is likely to sing" if sings else "not enough"
    yield Reason("avoid", short, f"{margin}, wanted {_times(wanted)}: {text}")


def margin_words(margin: Mapping[End, float]) -> str:
    """The band first, two digits.

    Examples
    --------
    >>> margin_words({"low": 0.1234, "likely": 0.918, "high": 820.0})
    '0.12 to over 100, likely 0.92'
    """
    low, likely, high = (_times(margin[end]) for end in ENDS)
    return f"{low} to {high}, likely {likely}"


def _times(value: float) -> str:
    return "over 100" if value > 100 else f"{value:.2g}"


def unbalance_of(case: Case) -> float:
    """Mass times radius of bit and cross-hole, kg m.

    The bit's own mass at its middle, and the metal of the hole that is off the bar's centre line
    and away; screws are left out.
    """
    hole, bit = case.cross_hole, case.bit
    square = hole.shape == "square"
    share = 1.0 if square else pi / 4
    mass = HSS_DENSITY * share * bit.size**2 * case.bit_length
    diameter = case.bar_diameter(hole.position)
    away = float(case.bar.material.density) * share * hole.size**2 * diameter
    along = mass * (case.edge_radius - case.bit_length / 2)
    return hypot(along, (mass - away) * hole.middle)


def unbalance_force(case: Case, speed: float) -> float:
    """``m e (2 pi n)^2``, N, at n turns per second."""
    return unbalance_of(case) * (2 * pi * speed) ** 2


def unbalance_reasons(force: float, moved: float, own: Own) -> Iterable[Reason]:
    """What the unbalance says, if it moves the edge by anything.

    Parameters
    ----------
    force, moved : N, and what it moves the edge by, m
    """
    if moved >= WORTH_SAYING:
        yield Reason(
            "caution",
            "unbalance moves the edge",
            f"unbalance of bit and hole pulls with {said(force, 'force', own)} and moves the "
            f"edge by {said(moved, 'length', own)}: the bore comes out that much off on the "
            "radius",
        )


# --- which one to take -----------------------------------------------------------------------


def picked(rows: Sequence[JudgedSpeed]) -> tuple[JudgedSpeed, JudgedSpeed | None, str]:
    """The pick, the runner-up and why, of the speeds that the lathe has (or of all)."""
    ranked = sorted([row for row in rows if row.on_lathe] or rows, key=_rank)
    first, second = ranked[0], ranked[1] if len(ranked) > 1 else None
    return first, second, _why(first, len(ranked))


def _rank(row: JudgedSpeed) -> tuple[float, ...]:
    """Best first: the verdict, how much speaks against it, then time saved or margin."""
    worst = sum(reason.verdict == row.verdict for reason in row.against)
    margin = min(row.margins.whole["likely"], 1e3)
    last = (-row.speed,) if row.verdict == "good" else (-margin, -row.speed)
    return (SEVERITY[row.verdict], worst, *last)


def _why(first: JudgedSpeed, count: int) -> str:
    if count == 1:
        return "the only speed there is to judge"
    if first.verdict == "good":
        over = any(reason.short == JUST_OVER for reason in first.reasons)
        but = " but a surface speed just over the usual" if over else ""
        return f"the fastest with nothing against it{but}"
    if first.verdict == "caution":
        return (
            "none is free of doubt; of those with the least against them this has the largest "
            "margin"
        )
    return (
        "every speed is one to avoid; change the cut, the nose, the span or the bar before the "
        "speed"
    )


def _notes(case: Case, rows: Sequence[JudgedSpeed], doubt: float) -> tuple[str, ...]:
    """What holds for all speeds."""
    notes = []
    if not case.lathe.speeds:
        notes.append(
            "the case lists no speeds of the lathe, so only its own is judged: write them under "
            "lathe, such as speeds: [60 rpm, 90 rpm, 135 rpm]"
        )
    elif not any(row.asked and row.on_lathe for row in rows):
        notes.append("the cut's own speed is not one of the lathe's; it is judged with them")
    notes += _lobe_note(rows, doubt)
    if case.work.cuts_per_turn:
        notes.append(
            f"the cut is broken {case.work.cuts_per_turn} times a turn: its beats are held "
            "against the modes, and chatter gets no credit for the gaps"
        )
    metal = case.work.material
    if metal.hss_speed_most is None:
        notes.append(
            f"no usual speed of high-speed steel is known for {quoted(metal.name)[1:-1]}: the "
            "surface speed is not judged"
        )
    return tuple(notes)


def _lobe_note(rows: Sequence[JudgedSpeed], doubt: float) -> Iterable[str]:
    """Say that speed will not tune chatter out, where that is so of every speed."""
    waves = [row.waves_per_turn for row in rows if isfinite(row.waves_per_turn)]
    if waves and all(row.margins.lobe is None for row in rows):
        count = f"{min(waves):.0f} to {max(waves):.0f}"
        if len(waves) == 1:
            count = f"{waves[0]:.0f}"
        yield (
            f"with {count} waves round the bore the speed will not tune chatter out: that needs "
            f"pitch and speed known within {100 / (4 * min(waves)):.2g} % and they are known "
            f"within {100 * doubt:.2g} %. A slower speed helps by the rubbing of the edge alone"
        )
