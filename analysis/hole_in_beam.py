"""The block of a case's cross-hole in its beam: the give it adds, couplings and seat included.

Over the hole's width the beam takes the block's give spread evenly. What an offset couples, pull
with bending across and shear with torsion, acts on the mean strains of that length; the edge
follows the hole's walls: the beam at the middle of the hole, what the loads through the bar move
the walls besides, and the give of the seat itself. Where a case has no block the table of
`hole_calibration` stands in, without couplings or seat.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt

import numpy as np
from scipy.sparse import coo_array, csc_array

from .block_store import kept_block
from .case import Case
from .errors import SolveError
from .hole_block import MODULUS_G, ROUNDED, BlockShape, HoleBlock, spread_give
from .material import BarMaterial
from .model import Floats, Hold, Model
from .timoshenko import Mount, Segment

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
    diameter = case.bar_diameter(case.cross_hole.position)
    lost = case.bar.material.density * block.volume * diameter**3 / (plain.end - plain.start)
    left = (plain.mass - lost) / plain.mass
    return replace(
        plain,
        **dict(zip(_STIFFNESS, 1 / give, strict=True)),
        mass=left * plain.mass,
        rotary_bit=left * plain.rotary_bit,
        rotary_across=left * plain.rotary_across,
        polar=left * plain.polar,
    )


def probes(plain: Segment) -> tuple[Mount, ...]:
    """Supports that hold nothing, for the motions at both ends of the hole and their mean."""
    places = ((plain.start, plain.start), (plain.end, plain.end), (plain.start, plain.end))
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
    model: Model, case: Case, block: HoleBlock, plain: Segment, *, averaged: bool = False
) -> Model:
    """Take the probes out of a beam and put couplings and seat in.

    Parameters
    ----------
    model : its last three holds are the `probes`
    plain : the bar over the hole as if there were none
    averaged : the bar is alike all round: no couplings, and the seat's mean over a turn
    """
    *holds, first, last, mean = model.holds
    width = plain.end - plain.start
    strain = _mean_strain(first, last, mean, width)
    give = _section_give(block, case, plain)
    carried, seat = _edge_gives(block, case)
    stiffness = model.stiffness
    if averaged:
        give, carried, seat = _all_round(give, carried, seat)
        section = np.asarray(np.diag(1 / np.diag(give)), dtype=np.float64)
    else:
        section = np.asarray(np.linalg.inv(give), dtype=np.float64)
        between = width * (section - np.diag(1 / np.diag(give)))
        stiffness = csc_array(stiffness + _between(strain, between))
    return replace(
        model,
        stiffness=stiffness,
        edge=model.edge + strain @ section @ carried,
        seat=seat - carried.T @ section @ carried / width,
        holds=tuple(holds),
    )


def _between(column: Floats, middle: Floats) -> csc_array:
    """``C B C^T`` of columns (n_dof, k) that touch few unknowns."""
    felt = np.flatnonzero(column.any(axis=1))
    rows, columns = np.repeat(felt, felt.size), np.tile(felt, felt.size)
    entries = (column[felt] @ middle @ column[felt].T).ravel()
    n = len(column)
    return csc_array(coo_array((entries, (rows, columns)), shape=(n, n)))


def _edge_gives(block: HoleBlock, case: Case) -> tuple[Floats, Floats]:
    """What the loads move the edge besides, (6, 3), and what it gives itself, (3, 3)."""
    diameter = case.bar_diameter(case.cross_hole.position)
    loads, walls = _scales(case.bar.material, diameter)
    edge = np.zeros((6, 3))
    edge[[0, 1, 2], [0, 1, 2]] = 1.0
    edge[5, 1], edge[3, 2] = case.edge_radius, -case.edge_radius
    edge = walls[:, None] * edge
    return loads[:, None] * (block.carried @ edge), edge.T @ block.seat @ edge


def _all_round(give: Floats, carried: Floats, seat: Floats) -> tuple[Floats, Floats, Floats]:
    """Means over four quarter turns of the bar under an edge that stays where it is.

    Nothing is left between the two planes, nor between bending, pull and twist.
    """
    mean = np.diag(give).copy()
    for bit, across in ((0, 1), (4, 5)):
        mean[[bit, across]] = (mean[bit] + mean[across]) / 2
    kept = np.zeros_like(carried)
    kept[0, 0] = kept[1, 1] = (carried[0, 0] + carried[1, 1]) / 2
    for load, motion in ((2, 1), (3, 2), (4, 2)):
        kept[load, motion] = carried[load, motion]
    return np.diag(mean), kept, seat * np.eye(3)
