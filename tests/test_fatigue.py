"""Fatigue of steel: limits of each rule, and Goodman's line. Its numbers are in `verify`."""

from __future__ import annotations

from math import inf

import pytest

from barwright.analysis.fatigue import (
    fatigue_strength,
    goodman_margin,
    is_steel,
    neuber_sensitivity,
    peterson_sensitivity,
    size_factor,
    smooth_limit,
)
from barwright.analysis.material import bar_materials

STRENGTH = fatigue_strength(655e6, 0.025, 0.001)


def test_endurance_by_a_calculator() -> None:
    # 655/2 x 0.744 x 0.879 x 0.814, from check of each factor in `verify`.
    assert STRENGTH.endurance == pytest.approx(655e6 / 2 * 0.744 * 0.879 * 0.814, rel=2e-3)


def test_hard_steel_gains_nothing_above_1400_mpa() -> None:
    assert smooth_limit(1400e6) == smooth_limit(2000e6) == 700e6


@pytest.mark.parametrize("diameter", [0.0029, 0.0076, 0.025, 0.051, 0.0511, 0.2])
def test_size_never_helps(diameter: float) -> None:
    assert size_factor(0.001) == 1.0
    assert 0.6 < size_factor(diameter) <= 1.0


def test_two_size_formulas_meet_at_51_mm() -> None:
    assert size_factor(0.051) == pytest.approx(size_factor(0.05101), rel=0.01)


@pytest.mark.parametrize("sensitivity", [peterson_sensitivity, neuber_sensitivity])
def test_fatigue_feels_a_large_notch_whole_and_a_scratch_not_at_all(sensitivity: object) -> None:
    assert callable(sensitivity)
    assert sensitivity(655e6, 1.0) == pytest.approx(1.0, abs=0.02)
    assert sensitivity(655e6, 1e-9) < 0.01


def test_peterson_is_the_larger_and_so_the_safer() -> None:
    assert peterson_sensitivity(655e6, 1e-3) > neuber_sensitivity(655e6, 1e-3)


def test_goodman_ends_at_the_two_strengths() -> None:
    assert goodman_margin(STRENGTH, STRENGTH.endurance, 0.0) == pytest.approx(1.0)
    assert goodman_margin(STRENGTH, 0.0, STRENGTH.tensile) == pytest.approx(1.0)
    half = goodman_margin(STRENGTH, STRENGTH.endurance / 2, STRENGTH.tensile / 2)
    assert half == pytest.approx(1.0)
    assert goodman_margin(STRENGTH, 0.0, 0.0) == inf


def test_rules_are_kept_for_steels() -> None:
    steels = {name for name, metal in bar_materials().items() if is_steel(metal)}
    assert {"mild steel hot rolled", "4140 prehard", "1144"} <= steels
    assert not {"ductile iron", "cemented carbide", "tungsten alloy"} & steels
