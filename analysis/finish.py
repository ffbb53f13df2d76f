"""The finish a round nose leaves: the scallops of the feed, and how far a shop is from them.

A nose of radius r fed by f per turn leaves arcs whose cusps stand ``r - sqrt(r^2 - f^2/4)`` above
their valleys, nearly ``f^2/8r``. That is the best there is: high-speed steel at line-boring speed
grows a built-up edge and comes out two to five times rougher (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from .units import Estimate

ROUGHER = Estimate(3.0, 2.0, 5.0)
"""Real finish of high-speed steel at low speed over the ideal one; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Roughness:
    """Finish of one nose and feed, m.

    Attributes
    ----------
    peak_to_valley : exact height of the ideal cusps (R_z)
    parabola : the same by ``f^2/8r``, as tool makers print it
    mean : mean deviation of the ideal scallop (R_a), by ``f^2/(18 sqrt(3) r)``
    expected : R_a to expect of high-speed steel at low speed
    """

    peak_to_valley: float
    parabola: float
    mean: float
    expected: Estimate


def ideal_roughness(feed: float, nose_radius: float) -> Roughness | None:
    """Finish that the nose alone would leave; None where the nose does not make all of it.

    The scallop is the nose's own while the feed is under its diameter. `mean` takes the arc as a
    parabola, whose mean deviation is ``4/(9 sqrt 3)`` of its height: good to the square of
    ``f/2r``.

    Parameters
    ----------
    feed : m/rev
    nose_radius : m

    Examples
    --------
    >>> found = ideal_roughness(0.1e-3, 0.4e-3)
    >>> round(found.parabola * 1e6, 3), round(found.mean * 1e6, 3)
    (3.125, 0.802)
    """
    if feed >= 2 * nose_radius:
        return None
    half = feed / 2
    # r - sqrt(r^2 - h^2) without taking two nearly equal lengths from one another
    exact = half**2 / (nose_radius + sqrt(nose_radius**2 - half**2))
    mean = feed**2 / (18 * sqrt(3) * nose_radius)
    return Roughness(
        peak_to_valley=exact,
        parabola=feed**2 / (8 * nose_radius),
        mean=mean,
        expected=Estimate(mean * ROUGHER, mean * ROUGHER.low, mean * ROUGHER.high),
    )
