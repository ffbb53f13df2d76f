"""A case for each draw, and what the full model says of it, one at a time."""

from __future__ import annotations

from math import inf

import numpy as np

from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case
from barwright.analysis.chatter import Setting, corner_at, depth_limit
from barwright.analysis.doubt import FACTOR, Draws, doubts, drawn, is_size, with_values
from barwright.analysis.force import cutting_force
from barwright.analysis.model import factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.speeds import check_speed
from barwright.analysis.statics import solve_statics


def random_draws(case: Case, count: int, seed: int) -> Draws:
    """Draws of all that leaves the sizes of a case as they are."""
    known = [one for one in doubts(case) if not is_size(one.key)]
    shares = np.random.default_rng(seed).random((count, len(known)))
    return drawn(case, known, shares)


def case_of(draws: Draws, number: int) -> Case:
    """The case with one draw typed in; factors on the force go into the wear of the edge."""
    values = {key: float(value[number]) for key, value in draws.values.items() if key[0] != FACTOR}
    if draws.case.cut.force is None:
        wear = ("cut", "edge_wear")
        table = float(draws.factor("rake")[number] * draws.factor("low speed")[number])
        values[wear] = values.get(wear, float(draws.case.cut.edge_wear)) * table
    return with_values(draws.case, values)


def full_answers(case: Case) -> dict[str, float]:
    """Deflection, size, first mode, margins, depth and separation by the stages of `run`."""
    factored = factorised(beam_model(case))
    statics = solve_statics(case, cutting_force(case), factored)
    modes = undamped_modes(factored, count=8, counted=False)
    corner = corner_at(case, factorised(beam_model(case, averaged=True)), "likely")
    setting, bare = (Setting(case=case, corner=corner, damped=damped) for damped in (True, False))
    depth = np.array([float(case.cut.depth)])
    margin = float(setting.margins("depth", depth)[0])
    limit = depth_limit(setting, margin >= 1.0)
    if isinstance(limit, str):
        limit = inf if limit == "none" else 0.0
    return {
        "deflection": abs(float(statics.deflection[0])),
        "size_error": abs(statics.diameter_error),
        "first_mode": modes.first_bending,
        "gain_margin": margin,
        "undamped_margin": float(bare.margins("depth", depth)[0]),
        "depth_limit": limit,
        "separation": check_speed(case, modes).nearest.separation,
    }
