"""Ideal finish against the printed values, and against the scallop itself."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from barwright.analysis.finish import Roughness, ideal_roughness

INCH = 0.0254


def finish(feed: float, nose: float) -> Roughness:
    found = ideal_roughness(feed, nose)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("feed", "nose", "parabola", "exact"),
    [  # R_z = f^2/8r of a cutting-tool maker's data sheet; exact by geometry, by hand; um
        (0.1e-3, 0.4e-3, 3.1250, 3.1373),
        (0.2e-3, 0.8e-3, 6.2500, 6.2746),
        (0.25e-3, 0.8e-3, 9.7656, 9.8260),
        (0.05e-3, 0.2e-3, 1.5625, 1.5687),
        (0.002 * INCH, INCH / 64, 0.8128, 0.8136),
    ],
)
def test_height_of_the_cusps(feed: float, nose: float, parabola: float, exact: float) -> None:
    found = finish(feed, nose)
    assert found.parabola * 1e6 == pytest.approx(parabola, abs=5e-5)
    assert found.peak_to_valley * 1e6 == pytest.approx(exact, abs=5e-5)


def test_mean_deviation_is_a_little_over_a_quarter_of_the_height() -> None:
    found = finish(0.1e-3, 0.4e-3)
    assert found.mean * 1e6 == pytest.approx(0.802, abs=5e-4)
    assert found.mean / found.parabola == pytest.approx(0.2566, abs=5e-5)
    assert found.parabola / 4 * 1e6 == pytest.approx(0.781, abs=5e-4)  # the R_z/4 rule


def test_mean_deviation_agrees_with_the_scallop_point_by_point() -> None:
    feed, nose = 0.1e-3, 0.4e-3
    x = (np.arange(100_000) + 0.5) / 100_000 * feed - feed / 2
    y = nose - np.sqrt(nose**2 - x**2)
    assert finish(feed, nose).mean == pytest.approx(np.abs(y - y.mean()).mean(), rel=0.005)


def test_high_speed_steel_at_low_speed_is_two_to_five_times_rougher() -> None:
    found = finish(0.1e-3, 0.4e-3)
    assert found.expected.low == pytest.approx(2 * found.mean)  # common practice, no source
    assert found.expected.high == pytest.approx(5 * found.mean)
    assert found.expected.low < found.expected < found.expected.high


@given(feed=st.floats(1e-6, 1e-3), share=st.floats(0.51, 1e4))
def test_cusps_are_at_least_the_parabola_and_within_the_nose(feed: float, share: float) -> None:
    found = finish(feed, feed * share)
    assert found.parabola * (1 - 1e-12) <= found.peak_to_valley <= feed * share
    assert found.peak_to_valley == pytest.approx(
        found.parabola * 2 / (1 + sqrt(1 - 1 / (4 * share**2))), rel=1e-9
    )


@pytest.mark.parametrize("nose", [0.0, 0.05e-3])
def test_pointed_bit_has_no_scallop_of_its_nose(nose: float) -> None:
    assert ideal_roughness(0.1e-3, nose) is None
