"""The main job, stage by stage: the only file that knows their order.

case -> model -> statics, modes, whirl -> speed -> findings -> outcome
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING, Literal

from .balance import Balance, solve_balance
from .beam import beam_model
from .case import Case
from .chatter import Chatter, Corner, corners, solve_chatter
from .errors import SolveError
from .force import CuttingForce, cutting_force
from .holding import Holding, holding_findings, solve_holding
from .judge import Band, Finding, judge
from .loop_curves import LoopCurves, loop_curves
from .model import Factored, Held, Model, factorised
from .modes import Modes, undamped_modes
from .notebook import table
from .odds import Odds, narrowed, odds, size_errors
from .passes import PassPlan, plan_passes, run_out_findings
from .run_out import Pattern, run_out_pattern
from .speed_choice import SpeedChoice, choose_speed
from .speeds import SpeedCheck, check_speed
from .statics import (
    HandCheck,
    Statics,
    bending_moment,
    force_on_bar,
    hand_check,
    mean_compliance,
    solve_statics,
)
from .strength import Strength, solve_strength, strength_findings
from .sung_by import SungBy, sung_by
from .whirl import Whirl, whirl

if TYPE_CHECKING:
    from .peak import HoleStress
    from .witness import Witness

ModelKind = Literal["beam", "solid"]
MODE_COUNT = 8
FINE, COARSE = 0.0, -1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Refinement:
    """Relative change of a result when the mesh was made finer.

    Attributes
    ----------
    deflection, first_mode : change from the coarser mesh to the finer, over the finer
    coarse_n_dof : unknowns of the coarser mesh
    """

    deflection: float
    first_mode: float
    coarse_n_dof: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """Everything one run found; exists only when it is complete."""

    case: Case
    model: Model
    force: CuttingForce
    statics: Statics
    hand: HandCheck
    modes: Modes
    whirl: Whirl
    speed: SpeedCheck
    speeds: SpeedChoice
    chatter: Chatter
    sung_by: SungBy | None
    curves: LoopCurves
    size_error: Band
    first_mode: Band
    refinement: Refinement
    passes: PassPlan
    hole_stress: HoleStress | None
    strength: Strength
    holding: Holding
    balance: Balance
    run_out: Pattern | None
    findings: tuple[Finding, ...]
    history: Witness | None = None

    @property
    def within_limits(self) -> bool:
        """Whether every finding is met."""
        return all(finding.ok for finding in self.findings)

    def _repr_html_(self) -> str:
        """Say in a notebook how each limit is met."""
        rows = [("limit on", "", "found", "limit", "why")]
        rows += [
            (
                one.what,
                "ok" if one.ok else "MISS",
                self.case.say(one.value, one.kind),
                self.case.say(one.limit, one.kind),
                one.why,
            )
            for one in self.findings
        ]
        answer = "WITHIN LIMITS" if self.within_limits else "OUTSIDE LIMITS"
        return table(f"{answer}: {self.case.title}", rows)


def _model(case: Case, kind: ModelKind, *, finer: bool) -> Model:
    if kind == "beam":
        longest = (case.ends[1] - case.ends[0]) / (24 if finer else 12)
        return beam_model(case, longest=longest)
    from .solid import solid_model

    return solid_model(case, refinement=FINE if finer else COARSE)


def _refinement(coarse: Factored, statics: Statics, modes: Modes) -> Refinement:
    """Compare with the same case on a coarser mesh."""
    compliance = mean_compliance(coarse)[0, 0]
    first = undamped_modes(coarse, count=4, counted=False).first_bending
    return Refinement(
        deflection=abs(compliance / statics.compliance[0, 0] - 1),
        first_mode=abs(first / modes.first_bending - 1),
        coarse_n_dof=coarse.model.n_dof,
    )


def _hole_stress(
    case: Case, force: CuttingForce, statics: Statics, coarse: Factored
) -> HoleStress | None:
    """Peak stress at the hole; a solid's answer only, and none where no mesh can be made of it."""
    if coarse.model.kind == "beam":
        return None
    from .peak import hole_stress

    on_edge = force_on_bar(case, force)
    coarse_motion = Held(coarse).solve(coarse.model.edge @ on_edge).motion[:, 0]
    moment = hypot(*bending_moment(statics.reactions, case.cross_hole.position))
    try:
        return hole_stress(
            case, moment, on_edge, ((FINE, statics.motion), (COARSE, coarse_motion))
        )
    except SolveError:
        return None


def _bands(
    case: Case, factored: Factored, statics: Statics, modes: Modes, at: Odds
) -> tuple[Band, Band]:
    """Size error and first mode, soft and pushed hard, and stiff, as far out as `at` says."""
    errors, first = size_errors(case, factored, at.size), modes.first_bending
    size = Band.of(abs(statics.diameter_error), errors["low"], errors["high"])
    return size, Band.of(first, *(first * end for end in at.pitch))


def analyse(case: Case, kind: ModelKind = "beam", *, history: bool = False) -> Outcome:
    """Analyse a case: deflection, modes, whirl, speed, findings.

    Parameters
    ----------
    kind : `beam`, or `solid` for curved tetrahedra; whirl and chatter come from the beam, alike
        in its two planes
    history : whether to cut the bore turn by turn as well

    Raises
    ------
    ModelError
        The supports leave the bar free to move.
    SolveError
        A solve could not be trusted.
    """
    force = cutting_force(case)
    model = _model(case, kind, finer=True)
    factored = factorised(model)
    coarse = factorised(_model(case, kind, finer=False))
    plain = factorised(beam_model(case, hole=False)) if kind == "beam" else None
    statics = solve_statics(case, force, factored, plain)
    modes = undamped_modes(factored, count=MODE_COUNT)
    speed = check_speed(case, modes)
    at = odds(case)
    # The same case, its ranges taken no farther out than 8 draws in 10 go.
    likely = narrowed(case, at.margin)
    ends = corners(likely)
    chatter = solve_chatter(likely, ends)
    size_error, first_mode = _bands(case, factored, statics, modes, at)
    passes = plan_passes(case, statics, force, size_error)
    strength = solve_strength(case, force, factored)
    holding = solve_holding(case, force, statics)
    pattern = run_out_pattern(case)
    return Outcome(
        case=case,
        model=model,
        force=force,
        statics=statics,
        hand=hand_check(case, float(statics.compliance[0, 0])),
        modes=modes,
        whirl=_whirl(case),
        speed=speed,
        speeds=choose_speed(likely, ends),
        chatter=chatter,
        sung_by=sung_by(likely, ends["likely"], chatter),
        curves=loop_curves(likely, ends),
        size_error=size_error,
        first_mode=first_mode,
        refinement=_refinement(coarse, statics, modes),
        hole_stress=_hole_stress(case, force, statics, coarse),
        passes=passes,
        strength=strength,
        holding=holding,
        balance=solve_balance(case, force, factored, modes.first_bending, pattern),
        run_out=pattern,
        findings=(
            *judge(case, force, statics, speed, chatter, size_error),
            *strength_findings(case, strength),
            *holding_findings(case, holding),
            *run_out_findings(case, passes),
        ),
        history=_history(case, ends["likely"], passes) if history else None,
    )


def _history(case: Case, likely: Corner, passes: PassPlan) -> Witness:
    # Only here: the compiler behind it takes half a second to load.
    from .witness import witness

    return witness(case, likely, passes)


def _whirl(case: Case) -> Whirl:
    """Whirl up to the lathe's top speed, or three times the cut's."""
    top = max((*case.lathe.speeds, 3 * case.spindle_speed))
    model = beam_model(case, averaged=True)
    modes = undamped_modes(factorised(model), count=14, counted=False)
    return whirl(model, modes, top)
