"""How much a square cross-hole with rounded corners raises stress: a table found on a solid.

No published factor is known for a square hole across a round bar, and a round hole's must not
stand in for it: the corner decides, and so does how far the hole lies off the centre line. Half
the bit off, as the shop puts it, bending across and torsion find the hole's outer wall near the
surface: their factors rise by half in small holes and several times in large ones.

`peak.hole_factors` was run over sizes and corner radii, on the centre line and half the size off
it. Each factor, over the *gross* nominal stress of the plain bar, is fitted at both by::

    log K = sum c_k t_k,  t = 1, a, a^2, l, l^2, a l,  l = log(corner radius / size)

with `a` the size over the bar's diameter. Between the two, ``q = 2 offset / size``, log K moves by
``b q + (1 - b) q^2`` of the way, b found on holes a quarter of their size off. Range: a from 0.15
to 0.4, corner radius from 0.1 to 0.3 of the size, Poisson's ratio 0.29; outside them the nearest
end is taken, and below a tenth that is *not* safe (`is_sharp`): a sharper corner has more stress,
without limit for a true point. The residuals of the fit stand beside the table in
`square_hole_stress.yaml`.

The table there was found before `peak`, on one mesh a hole with elements of half the corner
radius, and is low by up to a fifth: `stress_raiser.SQUARE_SPREAD` allows for that. Made again, it
carries how far off each load's peaks may be, and the spread may shrink to that and the fit's.

``python -m barwright.analysis.square_hole_stress`` finds table and fit again (half an hour).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import product
from math import log
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from .model import Floats

POISSON = 0.29
SIZES = (0.15, 0.25, 0.4)
CORNERS = (0.1, 0.15, 0.2, 0.3)
LOADS = ("bend_bit", "bend_across", "torsion", "axial")
FITS = ("fit_on_centre", "fit_half_off")
QUARTER_CORNER = 0.15
FILE = Path(__file__).with_name("square_hole_stress.yaml")


@dataclass(frozen=True, slots=True)
class GrossFactors:
    """Largest principal stress at the hole over the gross nominal stress of the plain bar.

    Attributes
    ----------
    bend_bit, bend_across : over 32 M / pi D^3; across the hole's own stress, not the bar's
    torsion : over 16 T / pi D^3
    axial : over 4 F / pi D^2
    """

    bend_bit: float
    bend_across: float
    torsion: float
    axial: float


def is_sharp(corner: float) -> bool:
    """Whether a corner radius, over the hole's size, is below what the table holds."""
    return corner < CORNERS[0] - 1e-9


def square_hole_factors(size: float, corner: float, offset: float = 0.0) -> GrossFactors:
    """Stress factors of a square hole; a sharper corner than a tenth is taken as a tenth.

    Parameters
    ----------
    size : over the bar's diameter
    corner, offset : over the size
    """
    central, half = (np.array(_stored()[fit]) @ _terms(size, corner) for fit in FITS)
    q = min(2 * abs(offset), 1.0)
    bend = np.array(_stored()["between"])
    found = np.exp(central + (half - central) * (bend * q + (1 - bend) * q**2))
    return GrossFactors(*(float(factor) for factor in found))


def _terms(size: float, corner: float) -> Floats:
    """Terms of the fit, (6,), of a hole brought into the range of the table."""
    a = min(max(size, SIZES[0]), SIZES[-1])
    ell = log(min(max(corner, CORNERS[0]), CORNERS[-1]))
    return np.array([1.0, a, a**2, ell, ell**2, a * ell])


@cache
def _stored() -> dict[str, Any]:
    stored: dict[str, Any] = yaml.load(FILE.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
    return stored


def _found(size: float, corner: float, offset: float = 0.0) -> tuple[Floats, Floats]:
    """Factors of one hole on a solid, (4,), and how far off each may be; about a minute."""
    from .mesh import Hole
    from .peak import hole_factors

    hole = Hole(
        shape="square",
        size=size,
        position=0.0,
        offset=offset * size,
        corner_radius=corner * size,
    )
    found = hole_factors(hole, poisson=POISSON)
    peaks = [found[load] for load in LOADS]
    return np.array([peak.value for peak in peaks]), np.array([peak.error for peak in peaks])


def make_table() -> dict[str, Any]:
    """Run the solids and fit what they give; half an hour."""
    holes = list(product(SIZES, CORNERS))
    found = [[_found(*hole, offset) for hole in holes] for offset in (0.0, 0.5)]
    quarter = [_found(size, QUARTER_CORNER, 0.25) for size in SIZES]
    return fitted(found[0], found[1], quarter)


Rows = list[tuple[Floats, Floats]]


def fitted(on_centre: Rows, half_off: Rows, quarter_off: Rows) -> dict[str, Any]:
    """Fit factors and their errors, found for all sizes and corners in order of the table."""
    holes = list(product(SIZES, CORNERS))
    terms = np.array([_terms(*hole) for hole in holes])
    tables = [np.array([factors for factors, _ in rows]) for rows in (on_centre, half_off)]
    fits = [np.linalg.lstsq(terms, np.log(table), rcond=None)[0].T for table in tables]
    residuals = [
        np.abs(np.exp(terms @ fit.T) / table - 1).max(axis=0)
        for fit, table in zip(fits, tables, strict=True)
    ]
    quarter = np.array([factors for factors, _ in quarter_off])
    at_quarter = np.array([_terms(size, QUARTER_CORNER) for size in SIZES])
    central, half = (at_quarter @ fit.T for fit in fits)
    between = _between(np.log(quarter) - central, half - central)
    way = between / 2 + (1 - between) / 4
    missed = np.exp(central + (half - central) * way) / quarter - 1
    errors = np.array([error for rows in (on_centre, half_off, quarter_off) for _, error in rows])
    return {
        "loads": list(LOADS),
        "on_centre": _rows(holes, tables[0]),
        "half_off": _rows(holes, tables[1]),
        "quarter_off": _rows([(size, QUARTER_CORNER) for size in SIZES], quarter),
        **{name: [_rounded(r, 6) for r in fit] for name, fit in zip(FITS, fits, strict=True)},
        "between": _rounded(between, 4),
        "residual": _rounded(np.max(residuals, axis=0), 4),
        "quarter_residual": _rounded(np.abs(missed).max(axis=0), 4),
        "solid_error_largest": _rounded(errors.max(axis=0), 4),
        "solid_error_median": _rounded(np.median(errors, axis=0), 4),
    }


def _between(moved: Floats, whole: Floats) -> Floats:
    """Share b of each load, (4,), that brings b/2 + (1 - b)/4 of `whole` nearest to `moved`."""
    way = (moved * whole).sum(axis=0) / (whole**2).sum(axis=0)
    return np.asarray(4 * way - 1)


def _rows(holes: list[tuple[float, float]], table: Floats) -> list[dict[str, Any]]:
    return [
        {"size": size, "corner": corner, "factors": _rounded(row, 3)}
        for (size, corner), row in zip(holes, table, strict=True)
    ]


def _rounded(values: Floats, digits: int) -> list[float]:
    return [round(float(value), digits) for value in values]


HEAD = """\
# Stress at a square cross-hole in a round bar over the gross nominal stress of the plain bar:
# made by `python -m barwright.analysis.square_hole_stress` on curved second-order tetrahedra
# (`peak.hole_factors`), Poisson's ratio 0.29. Sizes are over the bar's diameter, corner radii
# and offsets over the size. `residual`: largest miss of the fits in their tables;
# `quarter_residual`: of the way between them; `solid_error`: how far off the solids may be.
"""


def main() -> None:
    """Find the table again and write it in its place."""
    text = yaml.safe_dump(make_table(), sort_keys=False, default_flow_style=None, width=98)
    FILE.write_text(HEAD + text, encoding="utf-8")


if __name__ == "__main__":
    main()
