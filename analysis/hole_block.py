"""What a beam feels of the bar round its cross-hole: extra give, couplings and the bit's seat.

All lengths over the diameter of the bar and stiffness over E: a block is found once for a shape
(see `block_solid`). Its Poisson's ratio is `POISSON`; with that of another steel the give in
twist and shear is taken over G and the rest over E.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import pi
from typing import Literal

import numpy as np

from .model import Floats
from .section import energy_coefficient, hutchinson_coefficient, shear_coefficient

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
    drift : (6, 3), extra motion of the metal left in the block along r, t, x, times its volume,
        per load
    cut_out : (4,), integrals of 1, t, r^2 and t^2 over what is cut out of the bar
    """

    give: Floats
    carried: Floats
    seat: Floats
    drift: Floats
    cut_out: Floats


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
    """Give of the plain bar per length in each of `LOADS`, (6,), E = D = 1.

    In shear by the energy of the stresses, for the block's ends are pulled by those.
    """
    shear = 1 / (energy_coefficient(POISSON) * MODULUS_G * AREA)
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
    carried = carried - beam.work(_through, _from_walls) - _lag()
    seat = seat - beam.work(_from_walls, _from_walls)
    # A push on the walls also bends the beam under it, which `carried` then counts.
    mean = beam.mean(_from_walls)
    return carried, seat - mean.T @ carried - carried.T @ mean


def _lag() -> Floats:
    """How far a beam's slope is ahead of the mean rotation, per load, by motion of the walls.

    Each of a pair needs it once (`section.rotation_lag`): as the slope that a shear force leaves
    the walls behind, and as the deflection that a moment lifts an evenly loaded section over
    what Saint-Venant's shear stresses at the block's ends feel.
    """
    cowper, hutchinson = shear_coefficient(POISSON), hutchinson_coefficient(POISSON)
    lag = np.zeros((6, 6))
    for motion, load in ((0, BEND_BIT), (1, BEND_ACROSS), (3, SHEAR_BIT), (4, SHEAR_ACROSS)):
        lag[load, motion] = (1 / cowper - 1 / hutchinson) / (MODULUS_G * AREA)
    return lag


def beyond_the_sections(
    moved: Floats, ends: Sequence[Floats], give: Floats, width: float, cut_out: Floats
) -> Floats:
    """How far the metal left in the block moves beyond a beam's sections: `HoleBlock.drift`.

    Parameters
    ----------
    moved : (6, 3), integral of the motion along r, t, x over the metal, per load, less the same
        of the plain bar with nothing cut out
    ends : both ends' mean motions beyond the plain bar's, (6 motions, 6 loads) each
    cut_out : as in `HoleBlock`
    """
    beam = _Softened(give, width)
    tilted = np.zeros((6, 6))  # as Saint-Venant's bar lies whose middle has no slope
    tilted[3, SHEAR_BIT] = tilted[4, SHEAR_ACROSS] = -_plain_shear()
    rigid = np.vstack([_rigid(x) for x in (-LENGTH / 2, LENGTH / 2)])
    amiss = np.vstack(ends) - np.vstack([beam.added(x) for x in (-LENGTH / 2, LENGTH / 2)])
    placed = np.linalg.lstsq(rigid, amiss, rcond=None)[0]
    total = np.zeros((3, 6))
    for x, w, inside in beam.places():
        lost = _momenta(cut_out) / width if inside else np.zeros((3, 6))
        whole = AREA * np.eye(3, 6)
        total += w * (whole - lost) @ (beam.added(x) + _rigid(x) @ placed)
        total -= w * lost @ (_summed(np.diag(plain_give()), x) + _rigid(x) @ tilted)
    return np.asarray(moved - total.T)


def _plain_shear() -> float:
    """Shear strain of the plain beam per shear force."""
    return 1 / (hutchinson_coefficient(POISSON) * MODULUS_G * AREA)


def _rigid(x: float) -> Floats:
    """Motions of a section for each rigid motion about the middle, (6, 6)."""
    rigid = np.eye(6)
    rigid[0, 3] = rigid[1, 4] = x
    return rigid


def _momenta(cut_out: Floats) -> Floats:
    """Integrals of r, t, x motion over what is cut out, per motion of its section, (3, 6)."""
    volume, aside = cut_out[:2]
    momenta = volume * np.eye(3, 6)[[0, 1, 2]]
    momenta[0, 5] = momenta[2, 4] = -aside
    return np.asarray(momenta)


def _summed(give: Floats, x: float) -> Floats:
    """Motions (6 motions, 6 loads) at x of a beam of some give per length that is held at 0."""
    along = np.zeros((6, 6))
    along[BEND_BIT, SHEAR_BIT] = along[BEND_ACROSS, SHEAR_ACROSS] = -1.0
    once = give @ (x * np.eye(6) + x**2 / 2 * along)
    twice = give @ (x**2 / 2 * np.eye(6) + x**3 / 6 * along)
    bent = twice[[BEND_BIT, BEND_ACROSS]] + once[[SHEAR_BIT, SHEAR_ACROSS]]
    return np.vstack([bent, once[[AXIAL, BEND_BIT, BEND_ACROSS, TORSION]]])


class _Softened:
    """A beam as long as the block, softened over the hole's width."""

    def __init__(self, give: Floats, width: float) -> None:
        self._plain = np.diag(plain_give())
        self._spread = spread_give(give, width) / width
        self._half = width / 2

    def places(self) -> Iterator[tuple[float, float, bool]]:
        """Gauss's stations along the block, their weights, and whether they lie in the hole."""
        point, weight = np.polynomial.legendre.leggauss(4)
        cuts = (-LENGTH / 2, -self._half, 0.0, self._half, LENGTH / 2)
        for start, end in pairwise(cuts):
            for p, w in zip(point, weight, strict=True):
                x = (start + end) / 2 + (end - start) / 2 * p
                yield float(x), float((end - start) / 2 * w), bool(abs(x) < self._half)

    def added(self, x: float) -> Floats:
        """Motions at x that the softening adds, (6 motions, 6 loads), none at the middle."""
        edge = float(np.clip(x, -self._half, self._half))
        return np.asarray(_rigid(x - edge) @ _summed(self._spread, edge))

    def work(self, one: Internal, other: Internal) -> Floats:
        """Work of each of some loads on the motion of each of others, (6, 6).

        Couplings work on the mean loads over the hole, as `hole_in_beam.joined` puts them in.
        """
        apart = np.diag(np.diag(self._spread))
        total = 2 * self._half * self.mean(one).T @ (self._spread - apart) @ self.mean(other)
        for x, w, inside in self.places():
            give = self._plain + apart if inside else self._plain
            total += w * one(x).T @ give @ other(x)
        return total

    def mean(self, one: Internal) -> Floats:
        """Mean of internal loads over the width, (6 internal, 6 loads)."""
        point, weight = np.polynomial.legendre.leggauss(4)
        places = zip(point, weight, strict=True)
        halves = (
            w / 4 * one(self._half * (p + side) / 2) for p, w in places for side in (-1.0, 1.0)
        )
        return np.asarray(sum(halves))
