"""A comparison: every combination of support, steel, diameter, span and bit side by side.

Each variant is solved as `run` solves it on the beam; the band of a result is what 8 draws in 10
of the guesses about supports, work side and force lie between. Ratios between two variants
are worth far more than either number, for most of what is guessed is the same in both.

Three questions are answered outright. *Chuck or centres*: the jaws stop the bar tilting and save
the length of the dog; how much that buys hangs on their tilt stiffness against 3EI/L of the bar,
so the tilt stiffness at which the answer flips is looked for. *4140 or mild steel*: the stiffness
is the same within the scatter of the data books; what the hole and the screws' threads bear is
not. *What buys most*: one change
at a time, of what a shop can change.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise, product
from math import inf, sqrt
from multiprocessing import get_context

from .beam import beam_model
from .case import Case, conflicts
from .chatter import corner_at, edge_of
from .choice import JAWS_WORTH, Choice, SupportName, support_name, varied
from .entry import Entry
from .errors import ModelError
from .firmness import firmer
from .judge import Band, Finding
from .material import BarMaterial, bar_materials
from .model import Factored, factorised
from .odds import Odds, odds
from .units import Estimate, Own, said
from .variant import (
    Variant,
    evaluated_alike,
    floors,
    loop_compliances,
    set_up_name,
)

TIE = 0.03
"""Variants nearer than this in margin, and then in size, are not told apart."""
LIKELY_STEELS = ("mild steel hot rolled", "4140 prehard")
STEELS = (
    "mild steel hot rolled",
    "mild steel cold drawn",
    "4140 annealed",
    "4140 prehard",
    "4140 quenched and tempered",
)
SOFTEST_TILT, FIRMEST_TILT = 10.0, 1e8
"""N m/rad, between which the tilt stiffness of a chuck is looked for."""
TILTS = tuple(SOFTEST_TILT * 10.0 ** (step / 2) for step in range(15))
"""Tilt stiffnesses tried, N m/rad, half a decade apart."""
WORTH_A_PROCESS = 24
"""Variants from which a second process pays for its start."""


@dataclass(frozen=True, slots=True)
class Refused:
    """A combination that cannot be built, and why."""

    name: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SupportAnswer:
    """Chuck or centres, on the same travel.

    Attributes
    ----------
    gripping : chuck, or the collet the case has
    stiffness, margin : chuck over centres, over what was guessed of the jaws' tilt stiffness
    tilt : N m/rad, of the jaws as the case has or guesses it
    even : N m/rad at which both are as stiff; 0 if the chuck is at any, inf if at none
    worth : N m/rad from which the chuck gains 15 % in stiffness or margin and loses in neither:
        here the answer flips; 0 and inf as above
    firmest : stiffness with the firmest jaws over that on centres
    chosen : what to take
    """

    gripping: SupportName
    stiffness: Band
    margin: Band
    tilt: float
    even: float
    worth: float
    firmest: float
    chosen: SupportName


@dataclass(frozen=True, slots=True, kw_only=True)
class SteelRow:
    """One steel against hot rolled mild steel in the case's own set-up, as ratios.

    Attributes
    ----------
    variant : the set-up in this steel, with its margins at the hole and in the threads
    stiffness, first_mode, margin : over those of mild steel
    yield_ratio : yield over that of mild steel: of the bar at its hole, and of the threads of
        its set screws
    """

    variant: Variant
    stiffness: float
    first_mode: float
    margin: float
    yield_ratio: Estimate

    @property
    def material(self) -> BarMaterial:
        """The steel."""
        return self.variant.material


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change to the case as given, and what it buys.

    Attributes
    ----------
    what : in shop words
    margin, stiffness : times those of the case as given
    ok : whether every limit is met after it
    """

    what: str
    margin: float
    stiffness: float
    ok: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """Everything side by side, best first, and the questions answered."""

    case: Case
    rows: tuple[Variant, ...]
    refused: tuple[Refused, ...]
    support: SupportAnswer | None
    steel: tuple[SteelRow, ...]
    changes: tuple[Change, ...]
    barred: tuple[Refused, ...] = ()

    @property
    def any_ok(self) -> bool:
        """Whether some variant meets every limit."""
        return any(row.ok for row in self.rows)


# --- the table -------------------------------------------------------------------------------


def compare(
    case: Case,
    *,
    supports: Sequence[SupportName] = (),
    materials: Sequence[BarMaterial] = (),
    diameters: Sequence[float] = (),
    spans: Sequence[float] = (),
    projections: Sequence[float] = (),
    inch: bool = False,
    processes: int = 1,
) -> Comparison:
    """Every combination of what is given, ranked, and the questions answered.

    Parameters
    ----------
    supports, materials, diameters, spans, projections : what to try, SI; left out: the case's
        own. If all are left out: chuck and centres, in its own steel, mild steel and 4140. A
        span is that on the case's own support
    inch : whether a step up is 1/8 in and 1 in, or 3 mm and 25 mm
    processes : how many to share a long table among
    """
    if not any((supports, materials, diameters, spans, projections)):
        supports, materials = _usual(case)
    kept, refused = _sorted_out(case, _choices(supports, materials, diameters, spans, projections))
    steels = [(one, False) for one in in_every_steel(case)]
    singles, barred = _single_changes(case, inch=inch)
    # All in one batch, so that no core waits and no set-up is solved twice.
    batch = [*kept, (case, True), *steels, *((made, False) for _, made in singles)]
    # The same share of every range in every row: ratios are what a comparison is for.
    at = odds(case)
    found = all_evaluated(batch, processes, at)
    table, (given, *rest) = found[: len(kept)], found[len(kept) :]
    if isinstance(given, Refused):
        raise ModelError(given.why)
    changes, unsolved = _changes([what for what, _ in singles], rest[len(steels) :], given)
    return Comparison(
        case=case,
        rows=ranked(_solved(table)),
        refused=(*refused, *(one for one in table if isinstance(one, Refused))),
        support=support_answer(case),
        steel=steel_answer(_solved(rest[: len(steels)])),
        changes=changes,
        barred=(*barred, *unsolved),
    )


def _solved(found: Iterable[Variant | Refused]) -> list[Variant]:
    return [one for one in found if isinstance(one, Variant)]


def _usual(case: Case) -> tuple[tuple[SupportName, ...], tuple[BarMaterial, ...]]:
    """Both supports, and the case's own steel beside mild steel and 4140."""
    own = support_name(case)
    other: SupportName = "chuck" if own == "centres" else "centres"
    steels = [case.bar.material, *(bar_materials()[name] for name in LIKELY_STEELS)]
    return (own, other), tuple({steel.name: steel for steel in reversed(steels)}.values())


def _choices(
    supports: Sequence[SupportName],
    materials: Sequence[BarMaterial],
    diameters: Sequence[float],
    spans: Sequence[float],
    projections: Sequence[float],
) -> Iterable[Choice]:
    for support, material in product(supports or (None,), materials or (None,)):
        for diameter, span, projection in product(
            diameters or (None,), spans or (None,), projections or (None,)
        ):
            yield Choice(
                support=support,
                material=material,
                diameter=diameter,
                span=span,
                projection=projection,
            )


def _sorted_out(
    case: Case, choices: Iterable[Choice]
) -> tuple[list[tuple[Case, bool]], list[Refused]]:
    """Cases that can be built, each once, with whether it is the one given; and the others."""
    kept: list[tuple[Case, bool]] = []
    refused = []
    for choice in choices:
        made = varied(case, choice)
        wrong = conflicts(made)
        if wrong:
            refused.append(Refused(set_up_name(made), wrong[0].message))
        elif all(made != other for other, _ in kept):
            kept.append((made, made == case))
    return kept, refused


def _tried(alike: list[Case], at: Odds | None) -> tuple[Variant, ...] | str:
    try:
        return evaluated_alike(alike, at)
    except ModelError as error:
        return str(error)


def _as_stiff(case: Case) -> tuple[object, ...]:
    """All that stiffness, pitch and chatter hang on, with the ranges behind the likely values.

    Steels that differ in strength alone share it.
    """
    metal, bar = case.bar.material, case.bar
    sizes = (bar.diameter, bar.span, case.cross_hole.position, case.projection)
    metals = (metal.elastic_modulus, metal.poisson, metal.density)
    ends = (getattr(value, end, value) for value in metals for end in ("low", "high"))
    springs = (*_springs(case.supports.tail), *_springs(case.work))
    return (support_name(case), *sizes, *metals, *ends, *springs)


def _springs(entry: Entry | None) -> tuple[object, ...]:
    """Stiffnesses of a support or of the work side."""
    names = () if entry is None else type(entry).model_fields
    return tuple(getattr(entry, name) for name in names if name.endswith("_stiffness"))


def all_evaluated(
    kept: list[tuple[Case, bool]], processes: int, at: Odds | None = None
) -> list[Variant | Refused]:
    """Answers in the order asked; set-ups that differ in strength alone are solved together.

    Parameters
    ----------
    at : how far out to go for the ends of the bands; left out, found for each
    """
    groups: dict[tuple[object, ...], list[int]] = {}
    for number, (case, _) in enumerate(kept):
        groups.setdefault(_as_stiff(case), []).append(number)
    alike = [[kept[number][0] for number in group] for group in groups.values()]
    if processes < 2 or len(alike) < WORTH_A_PROCESS:
        solved = [_tried(cases, at) for cases in alike]
    else:
        with get_context("spawn").Pool(processes) as pool:
            solved = pool.map(partial(_tried, at=at), alike, chunksize=4)
    found: dict[int, Variant | Refused] = {}
    for group, answer in zip(groups.values(), solved, strict=True):
        for place, number in enumerate(group):
            case, own = kept[number]
            if isinstance(answer, str):
                found[number] = Refused(set_up_name(case), answer)
            else:
                found[number] = replace(answer[place], own=own)
    return [found[number] for number in range(len(kept))]


# --- ranking ---------------------------------------------------------------------------------


def ranked(rows: Iterable[Variant]) -> tuple[Variant, ...]:
    """Best first: within limits, then by likely margin, then size error, then weight.

    Those within 3 % of the best of them in margin are held level, and ranked by size error; those
    level in that too share a rank, the lightest first, and of those as heavy the strongest.
    """
    placed: list[Variant] = []
    every = list(rows)
    for wanted in (True, False):
        alike = [row for row in every if row.ok is wanted]
        for level in _levels(alike, lambda row: 1 / max(row.margin, 1e-300)):
            for tied in _levels(level, lambda row: row.size_error.likely):
                rank = len(placed) + 1
                for alike_heavy in _levels(tied, lambda row: row.weight):
                    for row in sorted(alike_heavy, key=_weakness):
                        placed.append(replace(row, rank=rank, tied=len(tied) > 1))
    return tuple(replace(row, reason=_reason(row, placed)) for row in placed)


def _weakness(row: Variant) -> float:
    """How much of the yield that a peak at the hole may reach is used, at its worst."""
    return 1 / row.yield_margin.low


def _levels(rows: list[Variant], size: Callable[[Variant], float]) -> list[list[Variant]]:
    """Rows in rising order of a size, in groups within 3 % of the first of each."""
    levels: list[list[Variant]] = []
    for row in sorted(rows, key=size):
        if levels and size(row) <= size(levels[-1][0]) * (1 + TIE):
            levels[-1].append(row)
        else:
            levels.append([row])
    return levels


def _reason(row: Variant, placed: list[Variant]) -> str:
    """Why a row stands where it stands, in one sentence."""
    if not row.ok:
        return "; ".join(_missed(finding) for finding in row.findings if not finding.ok)
    best = placed[0]
    leader = next(other for other in placed if other.rank == row.rank)
    if row is not leader:
        return f"not told apart from the one above within 3 %: {_beside(row, leader)}"
    if row is best:
        after = next((other for other in placed if other.ok and other.rank > 1), None)
        if after is None:
            return "within every limit, and nothing here is better"
        times = ratio(row.margin, after.margin)
        if times < 1 + TIE:
            return "within the limits, level with the next in gain margin and nearer to size"
        more = f"{times:.2g} times" if times >= 1.1 else f"{100 * (times - 1):.0f} % above"
        name = set_up_name(after.case, after.case.own)
        which = "next that can be told apart" if row.tied else "next"
        return f"the most gain margin within the limits, {more} that of the {which}: {name}"
    return (
        f"{_share(row.margin, best.margin)} of the gain margin and "
        f"{_share(row.stiffness.likely, best.stiffness.likely)} of the stiffness of the first: "
        f"{_differences(row, best)}"
    )


def _missed(finding: Finding) -> str:
    if finding.value > finding.limit:
        return f"{finding.what} is {finding.value / finding.limit:.2g} times its limit"
    return f"{finding.what} is {finding.value / finding.limit:.0%} of what is wanted"


def _share(value: float, whole: float) -> str:
    return f"{ratio(value, whole):.0%}"


def ratio(one: float, other: float) -> float:
    """One over the other; two that have no limit are alike."""
    return 1.0 if one == other else one / other


def _beside(row: Variant, other: Variant) -> str:
    """What tells two variants apart that stiffness does not."""
    more = row.weight / other.weight - 1
    said = f"it is {more:.0%} heavier" if more >= 0.005 else "it weighs as much"
    if row.material.name == other.material.name:
        return said
    gained = [f"{ratio(row.yield_margin.likely, other.yield_margin.likely):.2g} times on yield"]
    if row.fatigue_margin is not None and other.fatigue_margin is not None:
        times = ratio(row.fatigue_margin.likely, other.fatigue_margin.likely)
        gained.append(f"{times:.2g} times on fatigue")
    return f"{said} and has {' and '.join(gained)} of the margin at the hole"


def _differences(row: Variant, best: Variant) -> str:
    mine, its = row.case, best.case
    said = []
    if row.support != best.support:
        jaws = row.support == "centres"
        said.append("no jaws against the tilt of the bar" if jaws else "in jaws")
    longer = mine.bar.span - its.bar.span
    if abs(longer) > 1e-6:
        said.append(f"{mine.say(abs(longer))} {'more' if longer > 0 else 'less'} span")
    if mine.bar.diameter != its.bar.diameter:
        said.append("a thinner bar" if mine.bar.diameter < its.bar.diameter else "a thicker bar")
    if mine.bar.material.name != its.bar.material.name:
        stiff = mine.bar.material.elastic_modulus / its.bar.material.elastic_modulus
        said.append(f"a metal {stiff:.2g} times as stiff")
    if abs(mine.projection - its.projection) > 1e-6 and mine.bar.diameter == its.bar.diameter:
        more = mine.projection > its.projection
        said.append(f"{'more' if more else 'less'} bit sticking out")
    return ", ".join(said)


# --- chuck or centres ------------------------------------------------------------------------


def support_answer(case: Case) -> SupportAnswer | None:
    """Chuck or centres; None where one of them cannot be built or there is no tail."""
    own = support_name(case)
    gripping: SupportName = "chuck" if own == "centres" else own
    held = varied(case, Choice(support=gripping))
    centred = varied(case, Choice(support="centres"))
    if case.supports.tail is None or conflicts(held) or conflicts(centred):
        return None
    tilt = held.supports.drive.tilt_stiffness
    jaws, base = _Tilted(held), _Tilted(centred)
    stiffness, margin = base.stiffness(), base.margin()

    def gain(at: float) -> float:
        return jaws.stiffness(at) / stiffness

    def worth(at: float) -> bool:
        gains = gain(at), ratio(jaws.margin(at), margin)
        return max(gains) >= JAWS_WORTH and min(gains) >= 1.0

    ends = [float(tilt), getattr(tilt, "low", tilt), getattr(tilt, "high", tilt)]
    return SupportAnswer(
        gripping=gripping,
        stiffness=Band.of(*(gain(at) for at in ends)),
        margin=Band.of(*(ratio(jaws.margin(at), margin) for at in ends)),
        tilt=float(tilt),
        even=flip(lambda at: gain(at) >= 1.0),
        worth=flip(worth),
        firmest=gain(FIRMEST_TILT),
        chosen=gripping if worth(float(tilt)) else "centres",
    )


class _Tilted:
    """A set-up whose drive may be given any tilt stiffness; the bar is factorised once."""

    def __init__(self, case: Case) -> None:
        self.case = case
        longest = (case.ends[1] - case.ends[0]) / 24
        self.fine = factorised(beam_model(case, longest=longest))
        self.averaged = factorised(beam_model(case, averaged=True))

    def _with(self, factored: Factored, tilt: float | None) -> Factored:
        if tilt is None:
            return factored
        holds = factored.model.holds
        return factored.held_by(
            *(replace(hold, tilt=tilt) if hold.name == "drive" else hold for hold in holds)
        )

    def stiffness(self, tilt: float | None = None) -> float:
        """Stiffness at the edge, N/m, at the likely values."""
        given = loop_compliances(self.case, self._with(self.fine, tilt))
        return 1 / float(given[:, 0, 0].mean())

    def margin(self, tilt: float | None = None) -> float:
        """Gain margin at the likely values."""
        corner = corner_at(self.case, self._with(self.averaged, tilt), "likely")
        edges = [edge_of(self.case, "likely")]
        return float(floors(self.case, corner, edges, corner.process_damping)[0])


def flip(reached: Callable[[float], bool]) -> float:
    """Tilt stiffness from which something holds that firmer jaws bring about, N m/rad.

    The first of `TILTS` that has it, and from the one before it halving of the step of its
    logarithm, to one part in a thousand; 0 if it holds for the softest jaws, inf if for none. What
    firmer jaws bring about they may undo again, for a firm support works its damper less.
    """
    if reached(TILTS[0]):
        return 0.0
    found = next(((a, b) for a, b in pairwise(TILTS) if reached(b)), None)
    if found is None:
        return inf
    low, high = found
    while high / low > 1.001:
        middle = sqrt(low * high)
        low, high = (low, middle) if reached(middle) else (middle, high)
    return sqrt(low * high)


# --- 4140 or mild steel ----------------------------------------------------------------------


def in_every_steel(case: Case) -> list[Case]:
    """The case in mild steel and 4140, each in its states."""
    table = bar_materials()
    return [varied(case, Choice(material=table[name])) for name in STEELS]


def steel_answer(rows: Sequence[Variant]) -> tuple[SteelRow, ...]:
    """Set-ups that differ in steel alone, each against the first."""
    return tuple(_steel_row(row, rows[0]) for row in rows)


def _steel_row(row: Variant, mild: Variant) -> SteelRow:
    strength, base = row.material.yield_strength, float(mild.material.yield_strength)
    low, high = (float(getattr(strength, end, strength)) for end in ("low", "high"))
    return SteelRow(
        variant=row,
        stiffness=row.stiffness.likely / mild.stiffness.likely,
        first_mode=row.first_mode.likely / mild.first_mode.likely,
        margin=ratio(row.margin, mild.margin),
        yield_ratio=Estimate(strength / base, low / base, high / base),
    )


# --- what buys most --------------------------------------------------------------------------


def _changes(
    names: Sequence[str], found: Sequence[Variant | Refused], given: Variant
) -> tuple[tuple[Change, ...], tuple[Refused, ...]]:
    """What each single change buys, most margin first; and those that could not be solved."""
    changes = [
        Change(
            what=what,
            margin=ratio(row.margin, given.margin),
            stiffness=row.stiffness.likely / given.stiffness.likely,
            ok=row.ok,
        )
        for what, row in zip(names, found, strict=True)
        if isinstance(row, Variant)
    ]
    changes.sort(key=lambda change: (-change.margin, -change.stiffness))
    unsolved = (
        Refused(what, row.why)
        for what, row in zip(names, found, strict=True)
        if isinstance(row, Refused)
    )
    return tuple(changes), tuple(unsolved)


def _single_changes(
    case: Case, *, inch: bool
) -> tuple[list[tuple[str, Case]], tuple[Refused, ...]]:
    """Single changes to the case that can be made, and those that cannot."""
    made, barred = [], []
    for what, one in _tried_changes(case, inch=inch):
        wrong = conflicts(one)
        if wrong:
            barred.append(Refused(what, wrong[0].message))
        else:
            made.append((what, one))
    return made, tuple(barred)


def _tried_changes(case: Case, *, inch: bool) -> Iterable[tuple[str, Case]]:
    small, large = (0.003175, 0.0254) if inch else (0.003, 0.025)
    step, inches = ("1/8 in", "1 in") if inch else ("3 mm", "25 mm")
    bar = case.bar
    other: SupportName = "chuck" if support_name(case) == "centres" else "centres"
    yield f"bar {step} thicker", varied(case, Choice(diameter=bar.diameter + small))
    yield f"{inches} less span", varied(case, Choice(span=bar.span - large))
    if case.projection > 1.5 * small:
        shorter = varied(case, Choice(projection=case.projection - small))
        yield f"bit {step} shorter, on a collar", shorter
    if case.supports.tail is not None:
        yield "tail support twice as stiff", firmer(case, "tail", 2.0)
    yield "work side twice as stiff", firmer(case, "work side", 2.0)
    yield f"{other} instead", varied(case, Choice(support=other))


# --- the answers in words --------------------------------------------------------------------


def support_said(answer: SupportAnswer, own: Own) -> str:
    """Chuck or centres, with the gain and where it flips."""
    jaws, k, margin = answer.gripping, answer.stiffness, answer.margin
    taken = jaws if answer.chosen != "centres" else "centres"
    gain = (
        f"on the same travel the {jaws} is {_band(k)} times as stiff at the edge as centres, with "
        f"{_band(margin)} times the gain margin, over what is guessed of how firmly the jaws hold "
        f"the bar straight (likely {said(answer.tilt, 'turn stiffness', own)})"
    )
    return f"Take {taken}: {gain}. {_flip_said(answer, own)}"


def _flip_said(answer: SupportAnswer, own: Own) -> str:
    if answer.worth == 0.0:
        return f"The {answer.gripping} gains 15 % or more however soft its jaws."
    if answer.worth == inf:
        why = (
            f"Firm jaws make it up to {answer.firmest:.2g} times as stiff but cost gain margin, "
            "for they work their damper less"
            if answer.firmest >= JAWS_WORTH
            else "No jaws, however firm, make it 15 % stiffer"
        )
        return f"{why}: centres, which repeat and need no dialling (common practice)."
    even = (
        f"even at {said(answer.even, 'turn stiffness', own)}"
        if 0.0 < answer.even < inf
        else "ahead by the length of the dog even where the jaws hold nothing straight"
        if answer.even == 0.0
        else "never as stiff"
    )
    return (
        f"The answer flips at a tilt stiffness of {said(answer.worth, 'turn stiffness', own)}, "
        f"where the {answer.gripping} gains 15 % in stiffness or margin ({even}); under that "
        "centres repeat and need no dialling (common practice)."
    )


def _band(band: Band) -> str:
    low, likely, high = (f"{value:.3g}" for value in (band.low, band.likely, band.high))
    return likely if low == high else f"{low} to {high}, likely {likely},"


def steel_said(rows: Sequence[SteelRow]) -> str:
    """4140 or mild steel, in numbers, each state of either apart."""
    alloy = [row for row in rows if row.material.name.startswith("4140")]
    most = {
        name: max(abs(getattr(row, name) - 1) for row in alloy)
        for name in ("stiffness", "first_mode", "margin")
    }
    return (
        "4140 or mild steel: the same bar within "
        f"{_percent(most['stiffness'])} in stiffness, {_percent(most['first_mode'])} in pitch and "
        f"{_percent(most['margin'])} in gain margin, less than data books differ over one steel. "
        f"What 4140 buys is strength. {_strengths_said(rows)} {_enough_said(rows)}"
    )


def _strengths_said(rows: Sequence[SteelRow]) -> str:
    """Margins of every steel, in one order."""
    yields, fatigue, threads = [], [], []
    for row in rows:
        worn, thread = row.variant.fatigue_margin, row.variant.thread_margin
        yields.append(f"{_at_most_100(row.variant.yield_margin.low)} for {row.material.name}")
        fatigue += [_at_most_100(worn.low)] if worn is not None else []
        threads += [_at_most_100(thread)] if thread is not None else []
    said = f"Yield over the peak stress at the hole, at its worst: {', '.join(yields)}; "
    said += f"margin against fatigue in that order: {', '.join(fatigue)}"
    if threads:
        said += (
            "; pull that strips a set screw's thread over the screw's push at its full torque: "
            f"{', '.join(threads)}"
        )
    return f"{said}."


def _enough_said(rows: Sequence[SteelRow]) -> str:
    """Whether this job needs what the better steel buys."""
    limits = rows[0].variant.case.limits
    asked = (
        f"{float(limits.yield_margin):g} on yield and {float(limits.fatigue_margin):g} on fatigue "
        "are asked"
    )
    weak = [row.material.name for row in rows if not row.variant.strong]
    if not weak:
        said = f"All bear this cut ({asked}): mild steel is strong enough here."
    elif len(weak) == len(rows):
        said = f"None bears this cut ({asked})."
    else:
        said = f"Too weak for this cut ({asked}): {', '.join(weak)}."
    threads = [(row.material.name, row.variant.thread_margin) for row in rows]
    strips = [name for name, margin in threads if margin is not None and margin < 1.0]
    if not strips:
        return said
    return f"{said} A screw at its full torque strips its thread in {' and in '.join(strips)}."


def _at_most_100(value: float) -> str:
    """A margin with two digits; above 100 it says no more."""
    return "over 100" if value > 100 else f"{float(f'{value:.2g}'):g}"


def _percent(change: float) -> str:
    return f"{100 * change:.1f} %" if change < 0.0995 else f"{100 * change:.0f} %"


def changes_said(changes: Sequence[Change]) -> str:
    """What buys most, in one sentence."""
    if not changes or changes[0].margin < 1 + TIE:
        return "What buys most: none of the single changes tried buys gain margin."
    first = changes[0]
    return (
        f"What buys most: {first.what}, {first.margin:.2g} times the gain margin and "
        f"{first.stiffness:.2g} times the stiffness."
    )
