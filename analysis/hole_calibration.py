"""Provisional until the calibration on the solid has run: ratio two on the local section."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from .section import slotted_section


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraCompliance:
    """What a cross-hole adds to the give of a bar, dimensionless."""

    bend_bit: float
    bend_across: float
    torsion: float
    axial: float
    shear_bit: float
    shear_across: float

    def with_screw(self, screw: float, diameter: float) -> ExtraCompliance:
        """Return the same hole with a set-screw hole."""
        half = extra_compliance("round", screw, diameter, 0.0)
        return ExtraCompliance(
            bend_bit=self.bend_bit + half.bend_across / 2,
            bend_across=self.bend_across + half.bend_bit / 2,
            torsion=self.torsion + half.torsion / 2,
            axial=self.axial + half.axial / 2,
            shear_bit=self.shear_bit + half.shear_across / 2,
            shear_across=self.shear_across + half.shear_bit / 2,
        )


def extra_compliance(shape: str, size: float, diameter: float, offset: float) -> ExtraCompliance:
    """Extra give of the bar for a cross-hole."""
    net = slotted_section(1.0, size / diameter, abs(offset) / diameter, 0.29)
    width = 2 * size / diameter
    I, A, J, k = pi / 64, pi / 4, pi / 32, net.shear_coefficient

    def extra(local: float, plain: float) -> float:
        return width * (1 / local - 1 / plain)

    shear = extra(k * net.area, k * A)
    return ExtraCompliance(
        bend_bit=extra(net.second_moment_bit, I),
        bend_across=extra(net.second_moment_across, I),
        torsion=extra(net.polar_moment, J),
        axial=extra(net.area, A),
        shear_bit=shear,
        shear_across=shear,
    )
