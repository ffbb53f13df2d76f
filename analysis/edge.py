"""The engaged edge, element by element: local chip, forces, and how they change with motion.

The edge is the nose arc followed by the side at its lead angle, both taken at the local approach
angle kappa between the edge's normal and the radial direction: 0 at the bottom of the nose, where
the edge lies along the bar, ``pi/2 - lead`` on the side. An element ds of the edge takes a chip
``h = f sin(kappa)`` and pushes the work along its normal ``(cos k, sin k)`` over (r, x) and in
the cutting direction t, by Kienzle,

    dF_n = k_n h^(1 - m_n) ds,    dF_c = k_c h^(1 - m_c) ds

with h in millimetres and k_n, k_c at 1 mm (O. Kienzle, VDI-Z 94 (1952) 299; from memory). The
element sees the tool's motion u and the surface left one turn ago,
``dh = n . (u - u_T)``; that is the regenerative gain. At the end of the engaged edge nothing was
left a turn ago: there a radial motion changes the engaged length itself, at once,
``ds = u_r / sin(kappa_end)``. Both are local slopes at the planned cut.

The chip always thins to nothing at the bottom of the nose. Kienzle's exponent then makes the
local slope infinite but integrable: the quadrature below takes the power out exactly.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import asin, cos, pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import roots_jacobi

Floats = NDArray[np.float64]

MILLIMETRE = 1e-3
NODES = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """Geometry of one cut: lengths in m, angle in rad.

    Attributes
    ----------
    depth, feed : m and m/rev
    nose_radius : m; 0 for a pointed bit
    lead_angle : rad; 0 for a side square to the bar
    """

    depth: float
    feed: float
    nose_radius: float
    lead_angle: float

    @property
    def arc_end(self) -> float:
        """Approach angle where the engaged nose arc ends, rad."""
        side = pi / 2 - self.lead_angle
        if self.nose_radius <= 0.0:
            return side
        # acos(1 - d/r) loses half of its digits where the depth is small beside the nose
        return min(side, 2 * asin(sqrt(min(1.0, self.depth / (2 * self.nose_radius)))))

    @property
    def side_length(self) -> float:
        """Engaged length of the straight side, m."""
        side = pi / 2 - self.lead_angle
        left = self.depth - self.nose_radius * (1.0 - cos(side))
        return max(0.0, left / sin(side))

    @property
    def end_angle(self) -> float:
        """Approach angle at the end of the engaged edge, where the old bore is met, rad."""
        return pi / 2 - self.lead_angle if self.side_length > 0.0 else self.arc_end

    @property
    def length(self) -> float:
        """Engaged length, m."""
        return self.nose_radius * self.arc_end + self.side_length


@dataclass(frozen=True, slots=True, kw_only=True)
class Kienzle:
    """One of the two forces per length of edge, ``k h^(1-m)``: k in Pa at h = 1 mm, m below 1."""

    k: float
    m: float

    def per_length(self, thickness: Floats | float) -> Floats:
        """Force per length of edge, N/m, at a chip thickness in m."""
        h = np.asarray(thickness) / MILLIMETRE
        return np.asarray(self.k * MILLIMETRE * h ** (1.0 - self.m))

    def slope(self, thickness: Floats | float) -> Floats:
        """Change of the force per length with chip thickness, Pa."""
        h = np.asarray(thickness) / MILLIMETRE
        return np.asarray((1.0 - self.m) * self.k * h**-self.m)


@lru_cache(maxsize=64)
def _rule(exponent: float, nodes: int) -> tuple[Floats, Floats]:
    """Gauss and Jacobi's nodes and weights on 0..1 for the weight ``s^-exponent``.

    What is left of the integrand, ``(sin(k)/k)^-m`` and sines and cosines, is smooth over the
    whole arc, so a couple of dozen nodes give every digit.
    """
    x, w = roots_jacobi(nodes, 0.0, -exponent)
    return (x + 1) / 2, w * 0.5 ** (1.0 - exponent)


def _elements(edge: Edge, exponent: float, nodes: int) -> tuple[Floats, Floats]:
    """Approach angles and lengths (m) that integrate ``sin(k)^-exponent`` over the edge.

    The weights hold the power of the arc's angle; the lengths undo it, so that a caller takes
    its force or slope as it comes.
    """
    s, w = _rule(exponent, nodes)
    kappa = edge.arc_end * s
    ds = edge.nose_radius * edge.arc_end * w * s**exponent
    side = pi / 2 - edge.lead_angle
    return np.append(kappa, side), np.append(ds, edge.side_length)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeForce:
    """Force of the edge on the work, and how it changes with the edge's motion.

    Attributes
    ----------
    resultant : (3,) N over r, t, x
    regenerative : (3, 3) N/m, force per motion against the surface left a turn ago
    instant : (3, 3) N/m, force per motion through the engaged length, with no delay
    damping_shape : (3, 3) m, length of edge seen by each motion, for process damping
    """

    resultant: Floats
    regenerative: Floats
    instant: Floats
    damping_shape: Floats

    def scaled(self, factors: Floats) -> EdgeForce:
        """Forces and gains times a factor of each direction; the edge's length stays.

        Parameters
        ----------
        factors : (3,) over r, t, x, of the force in that direction
        """
        rows = np.asarray(factors)[:, None]
        return EdgeForce(
            resultant=self.resultant * factors,
            regenerative=self.regenerative * rows,
            instant=self.instant * rows,
            damping_shape=self.damping_shape,
        )


def edge_force(edge: Edge, cutting: Kienzle, normal: Kienzle, nodes: int = NODES) -> EdgeForce:
    """Integrate forces and slopes over the engaged edge.

    Parameters
    ----------
    nodes : of the quadrature over the nose arc
    """
    kappa, ds = _elements(edge, normal.m, nodes)
    regenerative = _along_normal(normal.slope(edge.feed * np.sin(kappa)) * ds, kappa)
    kappa, ds = _elements(edge, cutting.m, nodes)
    slope = cutting.slope(edge.feed * np.sin(kappa)) * ds
    regenerative[1, [0, 2]] = (slope * np.cos(kappa)).sum(), (slope * np.sin(kappa)).sum()
    kappa, ds = _elements(edge, 0.0, nodes)
    return EdgeForce(
        resultant=_resultant(edge, cutting, normal, nodes),
        regenerative=regenerative,
        instant=_instant(edge, cutting, normal),
        damping_shape=_along_normal(ds, kappa),
    )


def _resultant(edge: Edge, cutting: Kienzle, normal: Kienzle, nodes: int) -> Floats:
    """Sum of the forces over the edge, (3,) N over r, t, x."""
    kappa, ds = _elements(edge, normal.m - 1.0, nodes)
    push = normal.per_length(edge.feed * np.sin(kappa)) * ds
    across, along = (push * np.cos(kappa)).sum(), (push * np.sin(kappa)).sum()
    kappa, ds = _elements(edge, cutting.m - 1.0, nodes)
    drag = (cutting.per_length(edge.feed * np.sin(kappa)) * ds).sum()
    return np.array([across, drag, along])


def _along_normal(weight: Floats, kappa: Floats) -> Floats:
    """Sum of ``weight n n^T`` over the elements, n the normal over (r, x); (3, 3)."""
    c, s = np.cos(kappa), np.sin(kappa)
    found = np.zeros((3, 3))
    found[0, 0] = (weight * c * c).sum()
    found[0, 2] = found[2, 0] = (weight * c * s).sum()
    found[2, 2] = (weight * s * s).sum()
    return found


def _instant(edge: Edge, cutting: Kienzle, normal: Kienzle) -> Floats:
    """Force per radial motion through the engaged length at the edge's end, (3, 3) N/m."""
    end = edge.end_angle
    h = edge.feed * sin(end)
    push, drag = float(normal.per_length(h)), float(cutting.per_length(h))
    found = np.zeros((3, 3))
    found[:, 0] = np.array([push * cos(end), drag, push * sin(end)]) / sin(end)
    return found
