"""Which part of a set-up sings when the cut chatters, and how sure that is.

At the pitch at which the likely loop just sings each part in turn is held still: it keeps its
static give and loses its swing. The part without whose swing least of the loop is left is the one
that sings. Where it is the bar in bending, the swing's energy says where: in the bar itself or in
the springs of a support (Rayleigh's quotient, whose terms are the strain energy of each part; any
textbook of vibration).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isfinite, pi

import numpy as np

from .beam import beam_model
from .case import Case
from .chatter import Chatter, Corner, Loop, edge_of, worst_eigenvalues
from .compliance import Compliance, ModeSet
from .model import Floats, Model, factorised, springs
from .modes import Modes, undamped_modes

PARTS: Mapping[str, tuple[str, ...]] = {
    "bar, bending": ("planar",),
    "bar, twisting": ("twist",),
    "bar, endways": ("stretch",),
    "bit": ("bit_along", "bit_across"),
    "work side": ("work_across", "work_axial"),
}
"""Parts of the edge's compliance by what they are called."""
CLEAR = 0.5
"""Share of the loop that the next part may have at most for the first to be certain
(judgement)."""
SOME = 0.1
"""Share of the swing's energy from which a place is named."""
MODE_COUNT = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class SungBy:
    """The part that sings.

    Attributes
    ----------
    shares : of each part of `PARTS`, how much of the loop at the singing pitch goes with its
        swing, the largest first; below 0 where it quietens the others
    energy : share of the swing's energy by place, the largest first; empty but for bending
    """

    shares: Mapping[str, float]
    energy: Mapping[str, float]

    @property
    def part(self) -> str:
        """The part that sings."""
        return next(iter(self.shares))

    @property
    def others(self) -> tuple[str, ...]:
        """Further parts that it could be."""
        first, *rest = self.shares.items()
        return tuple(name for name, share in rest if share > CLEAR * first[1])


def sung_by(case: Case, corner: Corner, chatter: Chatter) -> SungBy | None:
    """The part that sings at the likely values; None where nothing does at any gain.

    Parameters
    ----------
    corner, chatter : the likely loop of the case, and what was found of it
    """
    if not isfinite(chatter.frequency):
        return None
    damped = isfinite(chatter.margin["likely"])
    gain = chatter.margin["likely"] if damped else chatter.bare
    loop = Loop(
        receptance=np.zeros((1, 3, 3), dtype=complex),
        frequency=np.array([chatter.frequency]),
        force=edge_of(case, corner.end),
        damping=corner.process_damping / case.surface_speed if damped else 0.0,
    )

    def depth(compliance: Compliance) -> float:
        met = compliance.at(loop.frequency, case.spindle_speed)
        return float(worst_eigenvalues(replace(loop, receptance=met), gain)[0])

    whole = depth(corner.compliance)
    left = {name: depth(_stilled(corner.compliance, part)) for name, part in PARTS.items()}
    shares = {name: 1 - one / whole for name, one in left.items()}
    ranked = dict(sorted(shares.items(), key=lambda one: -one[1]))
    bends = "planar" in PARTS[next(iter(ranked))]
    return SungBy(shares=ranked, energy=_energy(case, chatter.frequency) if bends else {})


def _stilled(found: Compliance, fields: tuple[str, ...]) -> Compliance:
    """The same with the static give of some parts in place of their swing."""
    return replace(found, **{field: _still(getattr(found, field)) for field in fields})


def _still(modes: ModeSet) -> ModeSet:
    """The same static give, without modes."""
    static = modes.reach / (2 * pi * modes.frequency) ** 2 @ modes.reach.T
    return ModeSet(
        frequency=np.zeros(0),
        damping=np.zeros((0, 0)),
        reach=np.zeros((modes.rest.shape[0], 0)),
        rest=modes.rest + static,
    )


# --- where the bar's swing is ----------------------------------------------------------------


def _energy(case: Case, pitch: float) -> Mapping[str, float]:
    """Share of the strain energy by place in the bending mode next to a pitch, Hz."""
    held = factorised(beam_model(case, averaged=True))
    held = held.held_by(*(hold.alike() for hold in held.model.holds))
    modes = undamped_modes(held, count=MODE_COUNT, counted=False)
    bending = [k for k, plane in enumerate(modes.plane) if plane in ("bit", "across")]
    nearest = min(bending, key=lambda k: abs(np.log(modes.frequency[k] / pitch)))
    return energy_shares(held.model, modes, nearest)


def energy_shares(model: Model, modes: Modes, number: int) -> Mapping[str, float]:
    """Share of a mode's strain energy in the bar and in each support, the largest first."""
    shape: Floats = modes.shape[:, number]
    squared = (2 * pi * modes.frequency[number]) ** 2
    given = springs(model)
    motion = np.concatenate([hold.motion.T @ shape for hold in model.holds])
    moved = given.column.T @ motion
    sprung = np.divide(
        moved**2, given.flexibility, out=np.zeros_like(moved), where=given.flexibility > 0
    )
    shares = {"bar itself": float(shape @ (model.stiffness @ shape) / squared)}
    for owner, hold in enumerate(model.holds):
        shares[f"{hold.name} support"] = float(sprung[given.hold == owner].sum() / squared)
    return dict(sorted(shares.items(), key=lambda one: -one[1]))


# --- in words --------------------------------------------------------------------------------


def sung_by_words(found: SungBy) -> str:
    """Which part sings, where its swing is, and how sure that is."""
    where = [f"{part:.0%} in the {name}" for name, part in found.energy.items() if part >= SOME]
    swing = f" ({', '.join(where)})" if where else ""
    doubt = f"it could be the {' or the '.join(found.others)}" if found.others else ""
    return f"the {found.part}{swing}; {doubt or 'nothing else comes near'}"
