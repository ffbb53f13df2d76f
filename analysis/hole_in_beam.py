"""The block of a case's cross-hole in its beam: the give it adds, couplings and seat included.

Over the hole's width the beam takes the block's give spread evenly. What an offset couples, pull
with bending across and shear with torsion, acts on the mean strains of that length; the edge
follows the hole's walls: the beam at the middle of the hole, what the loads through the bar move
the walls besides, and the give of the seat itself. What sits in the hole moves with its walls, and
the metal left over the hole as the block says. Held against solids of eight diameters and more
with holes of a tenth to 0.4 of the bar: stiffness within 0.3 %, the first three pitches of either
plane within 0.1 %, or 0.2 % where one lies beside the pull's (DEVELOPERS.md).

Where a case has no block the table of `hole_calibration` stands in, without couplings or seat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np
from scipy.linalg import block_diag
from scipy.sparse import coo_array, csc_array

from .block_store import kept_block
from .case import Case
from .errors import SolveError
from .hole_block import AREA, MODULUS_G, ROUNDED, BlockShape, HoleBlock, spread_give
from .material import BarMaterial
from .model import Floats, Hold, Model
from .timoshenko import GRAVITY, Lump, Mount, Segment

_STIFFNESS = (
    "bending_bit",
    "bending_across",
    "torsion",
    "stretch",
    "shear_bit",
    "shear_across",
)
"""Where a segment keeps the stiffness against each of `hole_block.LOADS`."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Found:
    """A block, and the shape that it is of."""

    shape: BlockShape
    block: HoleBlock


def block_shape(case: Case) -> BlockShape:
    """Shape of the cross-hole of a case, over the bar's diameter there."""
    hole = case.cross_hole
    diameter = case.bar_diameter(hole.position)

    def over(length: float) -> float:
        return round(float(length) / diameter, 5)

    rounded = hole.shape == "square" and hole.corner_radius >= ROUNDED * hole.size
    return BlockShape(
        shape=hole.shape,
        size=over(hole.size),
        offset=over(hole.middle),
        corner_radius=over(hole.corner_radius) if rounded else 0.0,
        screws=tuple(
            (over(screw.diameter), screw.side, over(screw.shift)) for screw in hole.set_screws
        ),
    )


def with_block(case: Case) -> Case:
    """Return the case with its cross-hole's block, or as it is where no mesh can be made.

    Up to four seconds for a shape never met on this machine, afterwards a file is read.
    """
    shape = block_shape(case)
    try:
        found = _Found(shape=shape, block=kept_block(shape))
    except SolveError:
        return case
    return case.model_copy(update={"cross_hole": case.cross_hole.with_found(found)})


def with_block_of(case: Case, other: Case) -> Case:
    """Return the case with what was found of another's cross-hole; used if it is the same."""
    hole = case.cross_hole.with_found(other.cross_hole.found)
    return case.model_copy(update={"cross_hole": hole})


def block_of(case: Case) -> HoleBlock | None:
    """Block of the case's cross-hole, if one was found for the shape it now has."""
    found = case.cross_hole.found
    if isinstance(found, _Found) and found.shape == block_shape(case):
        return found.block
    return None


def _scales(material: BarMaterial, diameter: float) -> tuple[Floats, Floats]:
    """What each of the loads, and each motion of the walls, is multiplied by; with 1 / E D.

    The give in twist and shear goes with 1 / G, which Poisson's ratio parts from 1 / E.
    """
    softer = sqrt(MODULUS_G * material.elastic_modulus / material.shear_modulus)
    one = 1 / sqrt(material.elastic_modulus * diameter)
    moment, force = one / diameter, one
    loads = [moment, moment, moment * softer, force, force * softer, force * softer]
    return np.array(loads), np.array([force, force, force, moment, moment, moment])


def _section_give(block: HoleBlock, case: Case, plain: Segment) -> Floats:
    """Give per length over the hole, (6, 6): the plain bar's and the block's."""
    diameter, width = case.bar_diameter(case.cross_hole.position), plain.end - plain.start
    loads, _ = _scales(case.bar.material, diameter)
    spread = spread_give(block.give, width / diameter) * np.outer(loads, loads) / width
    return np.asarray(spread + np.diag([1 / getattr(plain, name) for name in _STIFFNESS]))


def blocked(plain: Segment, case: Case, block: HoleBlock) -> Segment:
    """Length of bar over the hole, softened by the block and lighter by what is cut out."""
    give = np.diag(_section_give(block, case, plain))
    diameter, width = case.bar_diameter(case.cross_hole.position), plain.end - plain.start
    volume, aside, square_bit, square_across = block.cut_out * case.bar.material.density / width
    return replace(
        plain,
        **dict(zip(_STIFFNESS, 1 / give, strict=True)),
        mass=plain.mass - volume * diameter**3,
        aside=-aside * diameter**4,
        rotary_bit=plain.rotary_bit - square_bit * diameter**5,
        rotary_across=plain.rotary_across - square_across * diameter**5,
        polar=plain.polar - (square_bit + square_across) * diameter**5,
        lag=0.0,
    )


def probes(plain: Segment) -> tuple[Mount, ...]:
    """Supports that hold nothing: motions at both ends and middle of the hole, and their mean."""
    middle = (plain.start + plain.end) / 2
    places = (
        (plain.start, plain.start),
        (plain.end, plain.end),
        (middle, middle),
        (plain.start, plain.end),
    )
    return tuple(
        Mount(name="hole", start=start, end=end, vertical=0.0, horizontal=0.0)
        for start, end in places
    )


def _mean_strain(first: Hold, last: Hold, mean: Hold, width: float) -> Floats:
    """Mean strain over the hole in each of the loads, (n_dof, 6)."""
    r, t, x, slope_r, slope_t, turn = ((last.motion - first.motion) / width).T
    return np.stack(
        [slope_r, slope_t, turn, x, r - mean.motion[:, 3], t - mean.motion[:, 4]], axis=1
    )


def joined(
    model: Model,
    case: Case,
    block: HoleBlock,
    plain: Segment,
    *,
    lumps: Sequence[Lump] = (),
    averaged: bool = False,
) -> Model:
    """Take the probes out of a beam and put couplings, seat and what sits in the hole in.

    Parameters
    ----------
    model : its last four holds are the `probes`
    plain : the bar over the hole as if there were none
    lumps : masses that move with the hole's walls
    averaged : the bar is alike all round, its lumps too: no couplings, and what the walls do is
        taken by its mean over a turn
    """
    *holds, first, last, middle, mean = model.holds
    width = plain.end - plain.start
    strain = _mean_strain(first, last, mean, width)
    give = _section_give(block, case, plain)
    parts = _at_walls(block, case)
    inertia = sum((lump.inertia for lump in lumps), np.zeros((6, 6)))
    stiffness = model.stiffness
    if averaged:
        give, parts = np.diag(_both_ways(np.diag(give))), parts.all_round()
        section = np.asarray(np.diag(1 / np.diag(give)), dtype=np.float64)
    else:
        section = np.asarray(np.linalg.inv(give), dtype=np.float64)
        between = width * (section - np.diag(1 / np.diag(give)))
        stiffness = stiffness + _between(strain, between)
    load = strain @ section
    walls = middle.motion + load @ parts.carried
    arm = np.eye(6, 3)
    arm[5, 1], arm[3, 2] = model.edge_arm, -model.edge_arm
    over = blocked(plain, case, block)
    over = over.averaged() if averaged else over
    drifting, moved = _drifting(load @ parts.drift, mean, over.mass * width, over.aside * width)
    mass = model.mass + _between(np.hstack([walls, drifting]), block_diag(inertia, moved))
    reached = parts.carried @ arm
    return replace(
        model,
        stiffness=stiffness,
        mass=mass,
        edge=walls @ arm,
        seat=arm.T @ parts.seat @ arm - reached.T @ section @ reached / width,
        holds=tuple(holds),
        sag_load=-GRAVITY * (mass @ model.rigid[:, 0]),
    )


def _drifting(drift: Floats, mean: Hold, mass: float, aside: float) -> tuple[Floats, Floats]:
    """Inertia to add for metal over the hole, `mass` in kg, that moves by `drift` (n_dof, 3) more.

    As if that length of beam were shifted as a whole, so that no motion has less than no inertia.

    Returns
    -------
    Columns C (n_dof, 6) and their product's middle B (6, 6) in ``C B C^T``.
    """
    momentum = mass * mean.motion[:, :3]
    momentum[:, [0, 2]] -= aside * mean.motion[:, [5, 4]]
    cross = np.asarray(np.kron([[mass, 1.0], [1.0, 0.0]], np.eye(3)), dtype=np.float64)
    return np.hstack([drift, momentum]), cross


def _between(column: Floats, middle: Floats) -> csc_array:
    """``C B C^T`` of columns (n_dof, k) that touch few unknowns."""
    felt = np.flatnonzero(column.any(axis=1))
    rows, columns = np.repeat(felt, felt.size), np.tile(felt, felt.size)
    entries = (column[felt] @ middle @ column[felt].T).ravel()
    n = len(column)
    return coo_array((entries, (rows, columns)), shape=(n, n)).tocsc()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Walls:
    """What the hole's walls do beyond the beam, in SI: see `hole_block.HoleBlock`.

    Attributes
    ----------
    carried, seat : (6, 6), per load; per push
    drift : (6, 3), mean motion of the metal over the hole per load
    """

    carried: Floats
    seat: Floats
    drift: Floats

    def all_round(self) -> _Walls:
        """Means over four quarter turns of the bar under walls that stay where they are.

        Nothing is left between the two planes, nor between bending, pull and twist.
        """
        return _Walls(
            carried=_alike(self.carried), seat=_turned(self.seat), drift=_alike(self.drift)
        )


def _at_walls(block: HoleBlock, case: Case) -> _Walls:
    diameter = case.bar_diameter(case.cross_hole.position)
    loads, walls = _scales(case.bar.material, diameter)
    left = AREA * case.cross_hole.size / diameter - block.cut_out[0]
    return _Walls(
        carried=np.outer(loads, walls) * block.carried,
        seat=np.outer(walls, walls) * block.seat,
        drift=np.outer(loads, walls[:3]) * block.drift / left,
    )


def _both_ways(give: Floats) -> Floats:
    """Gives (6,) with their mean in both planes."""
    mean = give.copy()
    for bit, across in ((0, 1), (4, 5)):
        mean[[bit, across]] = (give[bit] + give[across]) / 2
    return mean


def _alike(carried: Floats) -> Floats:
    """What each load carries, (6, k), with its mean in both planes and no coupling."""
    kept = np.zeros_like(carried)
    for load, motion in ((0, 0), (4, 3)):
        if motion < carried.shape[1]:
            both = (carried[load, motion] + carried[load + 1, motion + 1]) / 2
            kept[load, motion] = kept[load + 1, motion + 1] = both
    for load, motion in ((2, 5), (3, 2)):
        if motion < carried.shape[1]:
            kept[load, motion] = carried[load, motion]
    return kept


def _turned(matrix: Floats) -> Floats:
    """Mean over four quarter turns of a matrix (6, 6) over `model.MOTIONS`."""
    turn = np.zeros((6, 6))
    for first in (0, 3):
        turn[first, first + 1], turn[first + 1, first] = -1.0, 1.0
    turn[2, 2] = turn[5, 5] = 1.0
    total = matrix
    for _ in range(3):
        matrix = turn @ matrix @ turn.T
        total = total + matrix
    return np.asarray(total / 4)
