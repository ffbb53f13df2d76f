"""Cutting force: Kienzle's worked values, the engaged edge, ranges."""

from __future__ import annotations

from math import acos, cos, degrees, pi, radians, sin

import pytest
from conftest import MakeCase

from barwright.analysis.force import cutting_force, engaged_edge, kienzle_force
from barwright.analysis.units import Estimate

# kc1.1 and m of a Koenig-type table (from memory) and of VDI 3323 groups (two tool
# catalogues, 2017 p. 558 and 2022 p. 111); the forces follow from Kienzle's formula by hand.
KIENZLE = [
    ("C45", 2220e6, 0.14, 76.6),
    ("C45, VDI group 2", 1500e6, 0.22, 62.2),
    ("42CrMo4", 2500e6, 0.26, 113.7),
    ("4140 at 275 HB, VDI", 1675e6, 0.24, 72.8),
    ("grey iron", 1160e6, 0.26, 52.8),
    ("grey iron, VDI", 1150e6, 0.20, 45.6),
    ("aluminium, VDI", 700e6, 0.25, 31.1),
    ("brass, VDI", 700e6, 0.27, 32.6),
    ("brass", 780e6, 0.18, 29.5),
]


@pytest.mark.parametrize(("metal", "specific", "exponent", "force"), KIENZLE)
def test_kienzle_force_of_a_quarter_millimetre_at_a_tenth_feed(
    metal: str, specific: float, exponent: float, force: float
) -> None:
    found = kienzle_force(specific, exponent, width=0.25e-3, thickness=0.1e-3)
    assert found == pytest.approx(force, abs=0.05), metal


def test_kienzle_force_of_a_lathe_cut_at_75_degrees() -> None:
    thickness, width = 0.25e-3 * sin(radians(75)), 2e-3 / sin(radians(75))
    assert thickness == pytest.approx(0.241481e-3, rel=1e-5)
    found = kienzle_force(2220e6, 0.14, width, thickness)
    assert found == pytest.approx(1354.3, abs=0.05)
    assert found * 25 / 60 == pytest.approx(564.3, abs=0.05)  # W at 25 m/min


def test_shallow_cut_pushes_along_the_bit() -> None:
    edge = engaged_edge(0.1e-3, 0.4e-3, 0.0)
    assert degrees(edge.approach) == pytest.approx(20.70, abs=0.005)
    assert cos(edge.approach) == pytest.approx(0.9354, abs=5e-5)
    assert edge.length == pytest.approx(0.4e-3 * acos(1 - 0.25), rel=1e-12)


def test_pointed_bit_at_no_lead_pushes_along_the_bar() -> None:
    edge = engaged_edge(1e-3, 0.0, 0.0)
    assert edge.approach == pytest.approx(pi / 2)
    assert edge.length == pytest.approx(1e-3)


@pytest.mark.parametrize("lead", [0.0, 0.3, 0.9])
def test_edge_is_continuous_where_the_arc_meets_the_side(lead: float) -> None:
    nose = 0.8e-3
    meets = nose * (1 - sin(lead))
    below, above = (engaged_edge(meets * (1 + e), nose, lead) for e in (-1e-9, 1e-9))
    assert below.length == pytest.approx(above.length, rel=1e-6)
    assert below.approach == pytest.approx(above.approach, rel=1e-6)


def test_typed_force_is_taken_as_it_stands(make_case: MakeCase) -> None:
    force = cutting_force(make_case())
    assert (force.radial, force.tangential, force.axial) == (30.0, 80.0, 20.0)
    assert force.origin == "typed"
    assert force.torque == pytest.approx(80 * 0.025)
    assert force.power == pytest.approx(80 * pi * 0.050 * 2)


def test_shipped_force_brings_its_range(make_case: MakeCase) -> None:
    force = cutting_force(make_case(cut__force=None))
    for part in (force.radial, force.tangential, force.axial):
        assert isinstance(part, Estimate)
        assert part.low < part < part.high
    assert force.at("low").tangential == force.tangential.low
    assert force.specific_force is not None
    assert force.specific_force > 1000e6
