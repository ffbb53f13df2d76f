"""How much a cross-hole softens a bar: a table found on a solid, and a fit for the beam.

Method. A bar five diameters long with the hole in its middle floats free under a beam's own end
tractions (`hole_solid`); its extra give over the same bar with the hole filled is found in six
loads: bending in the bit plane and across, torsion, pull, and shear in both planes. For square
holes with sharp corners and for round ones, size over diameter a = 0.1, 0.2, 0.3, 0.4 and offset
over size p = 0, 0.25, 0.5. Each give is then a ratio to the local rule, which lets the net section
at the hole's middle act over the hole's width alone::

    give = ratio x size x (1 / X_net - 1 / X),    log ratio = sum c_ij a^i p^j,  i, j = 0, 1, 2

with X the section's EI about its own centroid, kappa GA, EA, or G times the polar second moment
(a scale only). The ratio lies between 1 and 8: material beside a short hole carries nothing.

Range: a from 0.1 to 0.4, p from 0 to 0.5, Poisson's ratio 0.29. Below a = 0.1 the ratio is held,
so the give goes to zero with the local rule's. The fit meets the table within the residuals that
stand beside it in `hole_calibration.yaml`; the table itself is extrapolated from two meshes and
good to about 1 % in the middle of its range and to 2 or 3 % at its smallest holes. Corner radii
to a tenth of the hole lower the give by 2 to 3 % in bending and pull, 7 % in torsion, 4 and 8 % in
shear; they are left out, as are the couplings that an offset makes (pull with bending across,
shear with torsion).

Between its points the fit was held against six holes that it had not seen: within 2 % in bending
in the bit plane, 4 % in the rest.

``python -m barwright.analysis.hole_calibration`` finds table and fit again (about 10 minutes).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import astuple, dataclass
from functools import cache
from math import pi
from pathlib import Path
from typing import Any, Literal

import numpy as np
import yaml

from .errors import ModelError
from .model import Floats
from .section import slotted_section

POISSON = 0.29
SIZES = (0.1, 0.2, 0.3, 0.4)
OFFSETS = (0.0, 0.25, 0.5)

SCREW_SHARES = (1.15, 0.47, 0.76, 0.70, 0.66, 1.0)
FILE = Path(__file__).with_name("hole_calibration.yaml")

Shape = Literal["square", "round"]
SHAPES: tuple[Shape, ...] = ("square", "round")


@dataclass(frozen=True, slots=True)
class ExtraCompliance:
    """What a hole adds to the give of its bar, dimensionless.

    Attributes
    ----------
    bend_bit, bend_across : extra rotation x E D^3 / moment, in the bit plane and across it
    torsion : extra turn x G D^3 / torque
    axial : extra stretch x E D / pull
    shear_bit, shear_across : extra shear deflection x G D / shear force
    """

    bend_bit: float
    bend_across: float
    torsion: float
    axial: float
    shear_bit: float
    shear_across: float

    def with_screw(self, screw: float, diameter: float) -> ExtraCompliance:
        """Return the same hole with a set-screw hole from one side of the bar into it.

        Shares, `SCREW_SHARES`, of what a round hole through the bar along t would add, the planes
        having changed places. A rule found on three combinations (screw 0.2 to 0.25 of the bar
        in holes of 0.25 to 0.3): within 5 % of the give of hole and screw hole together. Two
        screw holes opposite each other in an offset hole give more than their sum.

        Parameters
        ----------
        screw, diameter : m, of the tapped hole and of the bar
        """
        through = astuple(extra_compliance("round", screw, diameter, 0.0))
        turned = [through[k] for k in (1, 0, 2, 3, 5, 4)]
        parts = zip(astuple(self), SCREW_SHARES, turned, strict=True)
        return ExtraCompliance(*(own + share * added for own, share, added in parts))


def local_give(size: float, offset: float) -> Floats:
    """Give by the local rule, (6,), of a hole of `size` and `offset` over the bar's diameter.

    The net section at the hole's middle over the hole's own width; the planes' shear alike.
    """
    net = slotted_section(1.0, size, offset, POISSON)
    second, area = pi / 64, pi / 4
    shear = (1 / net.area - 1 / area) / net.shear_coefficient
    local = [
        1 / net.second_moment_bit - 1 / second,
        1 / net.second_moment_across - 1 / second,
        1 / net.polar_moment - 1 / (2 * second),
        1 / net.area - 1 / area,
        shear,
        shear,
    ]
    return size * np.array(local)


def _terms(size: float, shift: float) -> Floats:
    """Terms a^i p^j of the fit, (9,)."""
    return np.outer(size ** np.arange(3), shift ** np.arange(3)).ravel()


@cache
def _stored() -> dict[str, Any]:
    stored: dict[str, Any] = yaml.load(FILE.read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
    return stored


@cache
def _coefficients(shape: Shape) -> Floats:
    """Coefficients of the fit, (9, 6)."""
    fit = _stored()["fit"][shape]
    return np.array([fit[name]["coefficients"] for name in ExtraCompliance.__slots__]).T


def extra_compliance(shape: Shape, size: float, diameter: float, offset: float) -> ExtraCompliance:
    """Extra give of a bar for a cross-hole through it along r.

    Parameters
    ----------
    size : m, across the flats of a square hole, or diameter of a round one
    diameter : m, of the bar
    offset : m, of the hole's middle from the bar's centre line

    Raises
    ------
    ModelError
        The hole is larger, or further off centre, than the calibration knows.
    """
    a, p = size / diameter, abs(offset) / size
    if a > SIZES[-1] * (1 + 1e-9):
        message = (
            f"the cross-hole is {a:.2f} of the bar's diameter; the beam knows holes to "
            f"{SIZES[-1]}. Give a smaller hole, or use the solid model"
        )
        raise ModelError(message)
    if p > OFFSETS[-1] * (1 + 1e-9):
        message = (
            f"the cross-hole is {p:.2f} of its own size off the centre line; the beam knows "
            f"offsets to {OFFSETS[-1]}. Give a smaller offset, or use the solid model"
        )
        raise ModelError(message)
    ratio = np.exp(_terms(max(a, SIZES[0]), p) @ _coefficients(shape))
    return ExtraCompliance(*(float(g) for g in ratio * local_give(a, p * a)))


# --- finding it ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """One hole of the table: size over diameter, offset over size, six gives."""

    size: float
    offset: float
    give: Floats


def find_table(shape: Shape) -> Iterator[Row]:
    """Find the table of one shape on solids, row by row."""
    from .hole_solid import found_give
    from .mesh import Hole

    for size in SIZES:
        for offset in OFFSETS:
            hole = Hole(shape=shape, size=size, position=0.0, offset=offset * size)
            yield Row(size, offset, found_give(hole, fine=4.5 if size > 0.15 else 3.6))


def fit_table(rows: list[Row]) -> tuple[Floats, Floats]:
    """Coefficients (9, 6) of the log ratio by least squares, and worst residuals (6,)."""
    terms = np.array([_terms(row.size, row.offset) for row in rows])
    ratio = np.array([row.give / local_give(row.size, row.offset * row.size) for row in rows])
    coefficients = np.linalg.lstsq(terms, np.log(ratio), rcond=None)[0]
    residual = np.abs(np.exp(terms @ coefficients) / ratio - 1).max(axis=0)
    return coefficients, residual


def stored_table(shape: Shape) -> list[Row]:
    """The shipped table of one shape."""
    rows = _stored()["table"][shape]
    return [Row(row["size"], row["offset"], np.array(row["give"])) for row in rows]


def stored_residual(shape: Shape, load: str) -> float:
    """Worst distance of the shipped fit from the shipped table, relative."""
    return float(_stored()["fit"][shape][load]["residual"])


def written(tables: dict[Shape, list[Row]]) -> str:
    """Text of `hole_calibration.yaml` for tables of both shapes."""
    names = ExtraCompliance.__slots__
    lines = [
        "# Written by python -m barwright.analysis.hole_calibration; see there for the method.",
        "# size: over the bar's diameter. offset: over the size. give: dimensionless, in order",
        f"# {', '.join(names)}.",
        "table:",
    ]
    for shape, rows in tables.items():
        lines.append(f"  {shape}:")
        for row in rows:
            give = ", ".join(f"{g:.6g}" for g in row.give)
            lines.append(f"    - {{size: {row.size}, offset: {row.offset}, give: [{give}]}}")
    lines += ["# log ratio = sum c_ij a^i p^j; coefficients c00 c01 c02 c10 ... c22", "fit:"]
    for shape, rows in tables.items():
        coefficients, residual = fit_table(rows)
        lines.append(f"  {shape}:")
        for name, column, worst in zip(names, coefficients.T, residual, strict=True):
            numbers = ", ".join(f"{c:.8g}" for c in column)
            lines += [
                f"    {name}:",
                f"      residual: {worst:.4f}",
                f"      coefficients: [{numbers}]",
            ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Find table and fit again and print them as the shipped file has them."""
    import sys

    tables: dict[Shape, list[Row]] = {shape: [] for shape in SHAPES}
    print(__doc__, file=sys.stderr)
    for shape in SHAPES:
        for row in find_table(shape):
            tables[shape].append(row)
            given = extra_compliance(shape, row.size, 1.0, row.offset * row.size)
            apart = np.abs(np.array(astuple(given)) / row.give - 1).max()
            place = f"{shape} size {row.size} offset {row.offset}"
            print(f"{place}: shipped fit within {apart:.1%} of what is found", file=sys.stderr)
    print(written(tables), end="")


if __name__ == "__main__":
    main()
