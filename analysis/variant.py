"""A variant: one set-up of a comparison, and what it is good for.

It is solved as `run` solves it on the beam: the band of a result is what 8 draws in 10 of the
guesses about supports, work side and force lie between (see `odds`). Gain margins are taken at the
worst phase; depth and nose radius have the limits of `chatter`; stress, yield and fatigue at the
hole are those of `strength`, screws and their threads those of `holding`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import inf

from .beam import bar_segments, beam_model, held_at
from .case import Case
from .chatter import (
    ENDS,
    Corner,
    End,
    Limit,
    Setting,
    corners,
    depth_limit,
    edge_of,
    frequencies_for,
    in_order,
    margin_verdict,
    nose_radius_limit,
)
from .choice import SupportName, support_name
from .edge import EdgeForce
from .force import cutting_force
from .holding import Holding, holding_findings, solve_holding
from .judge import Band, Finding, judge
from .lobes import edge_floors
from .material import BarMaterial
from .model import Factored, Floats, factorised
from .modes import undamped_modes
from .odds import Odds, narrowed, odds
from .speeds import check_speed
from .statics import (
    bore_size,
    edge_compliances,
    force_on_bar,
    series_compliance,
    solve_statics,
)
from .strength import Strength, solve_strength, strength_findings
from .units import System, shop_size

MODE_COUNT = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Margins:
    """Gain margins of a cut, and what they mean.

    Attributes
    ----------
    margin : at each end of what was guessed; 1 just sings, inf never does
    reason : in a sentence
    """

    margin: Mapping[End, float]
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Variant:
    """One set-up and what it is good for.

    Attributes
    ----------
    case : the case as varied
    own : whether it is the case as it was given
    stiffness : N/m, push along the bit per movement of edge against work
    size_error : m, size of the diameter error
    first_mode : Hz
    allowed_gain : N/m, -1/(2 min Re G_rr): the radial loop gain that just sings at any phase,
        seen from the turning bar, with nothing but the radial motion in the loop
    chatter : gain margins
    depth_limit, nose_radius_limit : m, or a word, at the likely values
    strength : stress at the hole, margins on yield and on fatigue
    holding : what holds the bit and the bar
    weight : kg, of the bar with its hole, without bit and dog
    findings : every limit of the case
    rank : 1 is best; those that are not told apart share one
    tied : whether another shares its rank
    reason : why it stands where it stands
    """

    case: Case
    own: bool
    stiffness: Band
    size_error: Band
    first_mode: Band
    allowed_gain: float
    chatter: Margins
    depth_limit: Limit
    nose_radius_limit: Limit
    strength: Strength
    holding: Holding
    weight: float
    findings: tuple[Finding, ...]
    rank: int = 0
    tied: bool = False
    reason: str = ""

    @property
    def support(self) -> SupportName:
        """How the bar is driven."""
        return support_name(self.case)

    @property
    def material(self) -> BarMaterial:
        """What the bar is made of."""
        return self.case.bar.material

    @property
    def margin(self) -> float:
        """Likely gain margin."""
        return self.chatter.margin["likely"]

    @property
    def yield_margin(self) -> Band:
        """Yield strength over the peak stress at the hole."""
        return self.strength.yield_margin

    @property
    def fatigue_margin(self) -> Band | None:
        """Margin against fatigue at the hole; None for a bar that is not of steel."""
        fatigue = self.strength.fatigue
        return None if fatigue is None else fatigue.margin

    @property
    def thread_margin(self) -> float | None:
        """Pull that strips the weakest set screw's thread over its push; None without screws."""
        return min((screw.strip_margin for screw in self.holding.screws), default=None)

    @property
    def strong(self) -> bool:
        """Whether yield and fatigue at the hole meet the limits of the case."""
        return all(finding.ok for finding in strength_findings(self.case, self.strength))

    @property
    def ok(self) -> bool:
        """Whether every limit of the case is met."""
        return all(finding.ok for finding in self.findings)


def set_up_name(case: Case, system: System = "both") -> str:
    """Support, steel, diameter and span in one line."""
    bar = case.bar
    sizes = " x ".join(shop_size(float(size), system) for size in (bar.diameter, bar.span))
    return f"{support_name(case)}, {bar.material.name}, {sizes}"


def evaluated(case: Case, *, own: bool = False) -> Variant:
    """What a set-up is good for.

    Raises
    ------
    ModelError
        The supports leave the bar free to move.
    """
    return replace(evaluated_alike([case])[0], own=own)


def evaluated_alike(cases: Sequence[Case], at: Odds | None = None) -> tuple[Variant, ...]:
    """What set-ups are good for that differ in the strength of their steel alone.

    They are solved once, on the first; what steel bears is judged for each.

    Parameters
    ----------
    at : how far out to go for the ends of the bands; left out, found for the first of them

    Raises
    ------
    ModelError
        The supports leave the bar free to move.
    """
    case = cases[0]
    force = cutting_force(case)
    longest = (case.ends[1] - case.ends[0]) / 24
    factored = factorised(beam_model(case, longest=longest))
    statics = solve_statics(case, force, factored)
    modes = undamped_modes(factored, count=MODE_COUNT, counted=False)
    at = at or odds(case)
    likely = narrowed(case, at.margin)
    found = corners(likely)
    stiffness, size = _spring(narrowed(case, at.size), factored)
    chatter = gain_margins(likely, found)
    first, (slow, fast) = modes.first_bending, at.pitch
    setting = Setting(case=case, corner=found["likely"])
    quiet = chatter.margin["likely"] >= 1.0
    judged = judge(case, force, statics, check_speed(case, modes), chatter, size)
    made = partial(
        Variant,
        own=False,
        stiffness=stiffness,
        size_error=size,
        first_mode=Band.of(first, first * slow, first * fast),
        allowed_gain=allowed_gain(case, found["likely"]),
        chatter=chatter,
        depth_limit=depth_limit(setting, quiet),
        nose_radius_limit=nose_radius_limit(setting, quiet)[0],
        weight=sum(piece.mass * (piece.end - piece.start) for piece in bar_segments(case)),
    )

    def in_its_steel(one: Case) -> Variant:
        strength = solve_strength(one, force, factored)
        holding = solve_holding(one, force, statics)
        borne = (*strength_findings(one, strength), *holding_findings(one, holding))
        return made(case=one, strength=strength, holding=holding, findings=(*judged, *borne))

    return tuple(map(in_its_steel, cases))


def loop_compliances(case: Case, factored: Factored) -> Floats:
    """Give of edge against work at each angle of a turn, (24, 3, 3), m/N."""
    return edge_compliances(factored) + series_compliance(case)


def _spring(case: Case, factored: Factored) -> tuple[Band, Band]:
    """Stiffness, N/m, and size of the diameter error, m, over what was guessed."""
    force = cutting_force(case)
    soft, stiff = held_at(case, factored, "low"), held_at(case, factored, "high")
    sides = ((case, factored, force), (*soft, force.at("high")), (*stiff, force.at("low")))
    stiffness, error = [], []
    for moved, held, push in sides:
        given = loop_compliances(moved, held)
        stiffness.append(1 / float(given[:, 0, 0].mean()))
        error.append(abs(bore_size(given, force_on_bar(moved, push), moved.edge_radius)[0]))
    return Band.of(*stiffness), Band.of(*error)


def floors(case: Case, corner: Corner, edges: Sequence[EdgeForce], damping: float) -> Floats:
    """Gain margin of each of several edges at the case's speed, at the worst phase."""
    return edge_floors(corner.compliance, edges, damping, case.edge_radius, case.spindle_speed)


def gain_margins(case: Case, found: Mapping[End, Corner]) -> Margins:
    """Gain margins of the case's cut at its speed, at the worst phase."""
    margin = {
        end: float(floors(case, found[end], [edge_of(case, end)], found[end].process_damping)[0])
        for end in ENDS
    }
    margin = in_order(margin)
    bare = float(floors(case, found["likely"], [edge_of(case, "likely")], 0.0)[0])
    return Margins(margin=margin, reason=margin_verdict(margin, bare)[1])


def allowed_gain(case: Case, corner: Corner) -> float:
    """Radial loop gain that just sings, ``-1/(2 min Re G_rr)``, N/m; inf if none does.

    J. Tlusty & M. Polacek (1963), from memory; `G_rr` seen from the bar at the case's speed.
    """
    spin = case.spindle_speed
    radial = corner.compliance.at(frequencies_for(corner.compliance, spin), spin)[:, 0, 0]
    least = float(radial.real.min())
    return -0.5 / least if least < 0 else inf
