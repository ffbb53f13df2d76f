"""What a beam feels of the bar round its cross-hole: extra give, couplings and the bit's seat.

All lengths over the diameter of the bar and stiffness over E: a block is found once for a shape
(see `block_solid`). Its Poisson's ratio is `POISSON`; with that of another steel the give in
twist and shear is taken over G and the rest over E.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import pi
from typing import Literal

import numpy as np

from .model import Floats
from .section import hutchinson_coefficient

POISSON = 0.29
LENGTH = 3.0
AREA, SECOND = pi / 4, pi / 64
POLAR = 2 * SECOND
MODULUS_G = 1 / (2 * (1 + POISSON))
ROUNDED = 1 / 12
"""A corner radius under this share of a square hole is taken as sharp."""

LOADS = ("bend_bit", "bend_across", "torsion", "axial", "shear_bit", "shear_across")
"""The order of the six loads at the middle of the hole.

Moments and torque as the beam has them (`timoshenko`): positive ones raise the slope and the turn
along the bar; a shear force has no moment at the middle of the hole.
"""
BEND_BIT, BEND_ACROSS, TORSION, AXIAL, SHEAR_BIT, SHEAR_ACROSS = range(6)
LIKE_WALLS = (SHEAR_BIT, SHEAR_ACROSS, AXIAL, BEND_BIT, BEND_ACROSS, TORSION)
"""The load that carries off a push on the walls, for each motion of `model.MOTIONS`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockShape:
    """A cross-hole and what is drilled into it, lengths over the bar's diameter.

    Attributes
    ----------
    shape, size : square or round; across the flats, or diameter
    offset : of its middle from the bar's centre line, along t
    corner_radius : of a square hole; under a twelfth of the hole it is taken as sharp
    screws : diameter, side, and shift along the bar of each set-screw hole
    """

    shape: Literal["square", "round"]
    size: float
    offset: float = 0.0
    corner_radius: float = 0.0
    screws: tuple[tuple[float, Literal["leading", "trailing"], float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HoleBlock:
    """What a cross-hole adds to the give of its bar, dimensionless: E = D = 1.

    Attributes
    ----------
    give : (6, 6), extra motion in each of `LOADS` per load, symmetric
    carried : (6, 6), extra motion of the walls (columns, `model.MOTIONS`) per load
    seat : (6, 6), extra motion of the walls per push on them, symmetric
    volume : of what is cut out of the bar
    """

    give: Floats
    carried: Floats
    seat: Floats
    volume: float


# --- the beam that it is held against ----------------------------------------------------------

Internal = Callable[[float], Floats]
"""Internal loads at a station, (6 internal, 6 loads)."""


def _through(x: float) -> Floats:
    """Internal loads when each of `LOADS` goes through the bar: a shear force bends beside it."""
    inside = np.eye(6)
    inside[BEND_BIT, SHEAR_BIT] = inside[BEND_ACROSS, SHEAR_ACROSS] = -x
    return inside


def _from_walls(x: float) -> Floats:
    """Internal loads when each motion of the walls is pushed and half goes off to either side."""
    return np.asarray(-np.sign(x) / 2 * _through(x)[:, LIKE_WALLS])


def plain_give() -> Floats:
    """Give of the plain beam per length in each of `LOADS`, (6,), E = D = 1."""
    shear = 1 / (hutchinson_coefficient(POISSON) * MODULUS_G * AREA)
    return np.array([1 / SECOND, 1 / SECOND, 1 / (MODULUS_G * POLAR), 1 / AREA, shear, shear])


def spread_give(give: Floats, width: float) -> Floats:
    """Give to spread over the hole's width, so that it adds up to a block's, (6, 6).

    Over the width a shear force bends too, and that much is already counted with the bending.
    """
    spread = give.copy()
    bending, shear = [BEND_BIT, BEND_ACROSS], [SHEAR_BIT, SHEAR_ACROSS]
    spread[np.ix_(shear, shear)] -= width**2 / 12 * give[np.ix_(bending, bending)]
    return spread


def beyond_the_beam(
    give: Floats, carried: Floats, seat: Floats, width: float
) -> tuple[Floats, Floats]:
    """What the walls move and give beyond a beam of the block's length with `give` in it."""
    beam = _Softened(give, width)
    carried = carried - beam.work(_through, _from_walls)
    seat = seat - beam.work(_from_walls, _from_walls)
    # A push on the walls also bends the beam under it, which `carried` then counts.
    mean = beam.mean(_from_walls)
    return carried, seat - mean.T @ carried - carried.T @ mean


class _Softened:
    """A beam as long as the block, softened over the hole's width."""

    def __init__(self, give: Floats, width: float) -> None:
        self._plain = np.diag(plain_give())
        self._spread = spread_give(give, width) / width
        self._half = width / 2

    def work(self, one: Internal, other: Internal) -> Floats:
        """Work of each of some loads on the motion of each of others, (6, 6)."""
        total = np.zeros((6, 6))
        point, weight = np.polynomial.legendre.leggauss(4)
        cuts = (-LENGTH / 2, -self._half, 0.0, self._half, LENGTH / 2)
        for start, end in pairwise(cuts):
            inside = abs(start + end) / 2 < self._half
            give = self._plain + self._spread if inside else self._plain
            for p, w in zip(point, weight, strict=True):
                x = (start + end) / 2 + (end - start) / 2 * p
                total += w * (end - start) / 2 * one(x).T @ give @ other(x)
        return total

    def mean(self, one: Internal) -> Floats:
        """Mean of internal loads over the width, (6 internal, 6 loads)."""
        point, weight = np.polynomial.legendre.leggauss(4)
        places = zip(point, weight, strict=True)
        halves = (
            w / 4 * one(self._half * (p + side) / 2) for p, w in places for side in (-1.0, 1.0)
        )
        return np.asarray(sum(halves))
