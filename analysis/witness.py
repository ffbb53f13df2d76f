"""The witness called for a case: its own passes cut turn by turn, as a second opinion.

`chatter` judges a case from frequencies; this asks `cutting_history` the same question at the
likely end of what was guessed, with the real force of the edge, loss of contact, unlike supports
and the passes that were planned. The bore is cut twice, with and without process damping. What a
case does not say is assumed and said: the old bore is off centre, and a port has a width. The
work side is taken as alike up and down and sideways, at the mean of the two.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi, radians
from typing import Literal

import numpy as np

from .beam import beam_model
from .case import Case
from .chatter import BIT_DAMPING, MODE_COUNT, Corner
from .compliance import Compliance, DampingRatios, edge_compliance
from .cutting_history import (
    KNOCK,
    Cutting,
    Floats,
    Gap,
    History,
    Pass,
    StartingBore,
    cutting_history,
    cutting_of,
)
from .model import Factored, factorised
from .modes import undamped_modes
from .passes import PassPlan

TURNS = 60
ECCENTRICITY = 50e-6
"""How far off centre an old bore is taken to be, m: a casting clamped by eye and bumped true."""
PORT = radians(20.0)
"""Width taken for a port, where there is room for it."""
HEARD = 0.3e-6
"""Vibration above this marks the bore, m rms from turn to turn: a tenth of a fair finish."""
GROWS = 1.002
KEEPS = 0.98

Sound = Literal["quiet", "sings", "runs away"]
_LOUDER: tuple[Sound, ...] = ("quiet", "sings", "runs away")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Witness:
    """What was cut, what was assumed for it, and what came of it.

    Attributes
    ----------
    rubbing : with the likely process damping
    sharp : without any
    planned : (n_pass,) m, diameter that each pass is set to cut, were nothing to give
    limits : m, lower and upper limit of the finished bore
    eccentricity : m, of the old bore, assumed
    ports : how many gaps a turn, each `port_width` rad wide, assumed
    knock : N s, blow on the bar at the start of each pass, assumed
    feed : m per turn
    turns : of each pass, unless it ran away before
    start_known : whether the case gives the bore before the cut
    """

    rubbing: History
    sharp: History
    planned: Floats
    limits: tuple[float, float]
    eccentricity: float
    ports: int
    port_width: float
    knock: float
    feed: float
    turns: int
    start_known: bool

    @property
    def histories(self) -> dict[str, History]:
        """Both by name; the first alone where there is no process damping to leave out."""
        if self.sharp is self.rubbing:
            return {"rubbing": self.rubbing}
        return {"rubbing": self.rubbing, "sharp": self.sharp}


def witness(case: Case, corner: Corner, plan: PassPlan, *, turns: int = TURNS) -> Witness:
    """Cut the planned passes turn by turn; one of the case's depth if the old bore is not known.

    Parameters
    ----------
    corner : the likely one
    turns : of each pass

    Raises
    ------
    SolveError
        A step did not come out.
    """
    advances = [one.advance for one in plan.passes] if plan.start_known else [case.cut.depth]
    bore = _old_bore(case, advances[0])
    cut = _cut(case, corner, advances[0], bore)
    compliance, sideways = _both_ways(case, corner)
    later = tuple(advances[1:])

    def history(cut: Cutting) -> History:
        return cutting_history(compliance, cut, turns=turns, advances=later, sideways=sideways)

    rubbing = history(cut)
    sharp = history(replace(cut, damping=0.0)) if cut.damping else rubbing
    start = case.work.start_bore if plan.start_known else plan.aim - 2 * case.cut.depth
    assert start is not None
    return Witness(
        rubbing=rubbing,
        sharp=sharp,
        planned=start + 2 * np.cumsum(advances),
        limits=(case.work.bore.lower, case.work.bore.upper),
        eccentricity=bore.eccentricity,
        ports=len(bore.gaps),
        port_width=bore.gaps[0].width if bore.gaps else 0.0,
        knock=KNOCK,
        feed=case.cut.feed,
        turns=turns,
        start_known=plan.start_known,
    )


def _old_bore(case: Case, advance: float) -> StartingBore:
    """Off centre by no more than half of the first advance, so that the edge meets metal."""
    ports = case.work.cuts_per_turn
    width = min(PORT, 0.2 * 2 * pi / ports) if ports else 0.0
    gaps = tuple(Gap(start=2 * pi * (k + 0.5) / ports, width=width) for k in range(ports))
    return StartingBore(eccentricity=min(ECCENTRICITY, advance / 2), gaps=gaps)


def _cut(case: Case, corner: Corner, advance: float, bore: StartingBore) -> Cutting:
    """The cut at the depth of the first pass; what multiplies a force goes with the force."""
    cut = cutting_of(case, corner)
    return replace(cut, edge=replace(cut.edge, depth=advance), bore=bore)


def _both_ways(case: Case, corner: Corner) -> tuple[Compliance, Compliance | None]:
    """What the edge meets, and that sideways where a support or the work side is unlike."""
    factored = factorised(beam_model(case, averaged=True))
    work_alike = case.work.vertical == case.work.horizontal
    if work_alike and all(hold.vertical == hold.horizontal for hold in factored.model.holds):
        return corner.compliance, None
    return _one_way(case, factored, "vertical"), _one_way(case, factored, "horizontal")


def _one_way(case: Case, factored: Factored, way: Literal["vertical", "horizontal"]) -> Compliance:
    """What the edge meets were supports and work side as stiff all round as they are one way."""
    stiffness = [getattr(hold, way) for hold in factored.model.holds]
    held = factored.held_by(
        *(
            replace(hold, vertical=k, horizontal=k)
            for hold, k in zip(factored.model.holds, stiffness, strict=True)
        )
    )
    ratios = DampingRatios(
        bar=float(case.bar.damping_ratio),
        bit=BIT_DAMPING,
        work=float(case.work.damping_ratio),
    )
    modes = undamped_modes(held, count=MODE_COUNT, counted=False)
    names = ("vertical_stiffness", "horizontal_stiffness")
    work = case.work.model_copy(update=dict.fromkeys(names, getattr(case.work, way)))
    return edge_compliance(case.model_copy(update={"work": work}), held, modes, ratios)


# --- what came of it -------------------------------------------------------------------------


def late_vibration(one: Pass) -> float:
    """Change of the motion from turn to turn, rms over the last quarter of a pass, m.

    What repeats each turn, as the swing of an old bore off centre does, is no vibration.
    """
    late = one.vibration[-max(1, one.vibration.size // 4) :]
    return float(np.sqrt(np.mean(late**2))) if late.size else 0.0


def sound_of(one: Pass) -> Sound:
    """Whether a pass is quiet, sings or runs away.

    It sings where the vibration grows, however small it still is, or stays and can be seen.
    """
    if one.ran_away:
        return "runs away"
    late = late_vibration(one)
    grows = one.growth > GROWS and late > 1e-12
    stays = one.growth > KEEPS and late > HEARD
    return "sings" if grows or stays else "quiet"


def worst_sound(history: History) -> Sound:
    """The loudest of the passes."""
    return max((sound_of(one) for one in history.passes), key=_LOUDER.index)


def whole_passes(history: History) -> tuple[Pass, ...]:
    """The passes that were cut to their end: one that ran away leaves no bore to speak of."""
    return tuple(one for one in history.passes if not one.ran_away)
