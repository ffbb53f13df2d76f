"""The beam's cross-hole: table, fit, and the solid they came from."""

from __future__ import annotations

from dataclasses import astuple, replace
from itertools import product

import numpy as np
import pytest
import yaml

from barwright.analysis import hole_calibration
from barwright.analysis.errors import ModelError
from barwright.analysis.hole_calibration import (
    OFFSETS,
    SHAPES,
    SIZES,
    Shape,
    extra_compliance,
    fit_table,
    local_give,
    stored_residual,
    stored_table,
    written,
)
from barwright.analysis.hole_solid import LENGTH, LOADS, found_give, meshed_give
from barwright.analysis.mesh import Hole

D = 0.025


def given(shape: Shape, size: float, offset: float) -> np.ndarray:
    return np.array(astuple(extra_compliance(shape, size * D, D, offset * size * D)))


@pytest.mark.parametrize("shape", SHAPES)
def test_fit_meets_the_table_within_its_stated_residual(shape: Shape) -> None:
    residual = np.array([stored_residual(shape, load) for load in LOADS])
    assert residual.max() < 0.03
    for row in stored_table(shape):
        apart = np.abs(given(shape, row.size, row.offset) / row.give - 1)
        assert (apart < residual + 1e-4).all()


def test_table_covers_the_range_that_is_stated() -> None:
    for shape in SHAPES:
        places = [(row.size, row.offset) for row in stored_table(shape)]
        assert places == list(product(SIZES, OFFSETS))


def test_stored_fit_is_the_fit_of_the_stored_table() -> None:
    again = yaml.safe_load(written({shape: stored_table(shape) for shape in SHAPES}))
    stored = yaml.safe_load(hole_calibration.FILE.read_text(encoding="utf-8"))
    for shape, load in product(SHAPES, LOADS):
        one, other = again["fit"][shape][load], stored["fit"][shape][load]
        assert one["coefficients"] == pytest.approx(other["coefficients"], rel=0.01, abs=0.01)
        assert one["residual"] == pytest.approx(other["residual"], abs=2e-4)


def test_fit_of_an_exact_ratio_leaves_nothing() -> None:
    rows = [
        replace(row, give=1.7 * local_give(row.size, row.offset * row.size))
        for row in stored_table("round")
    ]
    coefficients, residual = fit_table(rows)
    np.testing.assert_allclose(coefficients[0], np.log(1.7), rtol=1e-8)
    assert residual.max() < 1e-10


# A point that made the table, and one between its points; a new mesh on each.
@pytest.mark.slow
@pytest.mark.parametrize(
    ("shape", "size", "offset", "tolerance"),
    [("round", 0.3, 0.0, 0.01), ("square", 0.35, 0.375, 0.04), ("round", 0.35, 0.125, 0.03)],
)
def test_fit_meets_the_solid(shape: Shape, size: float, offset: float, tolerance: float) -> None:
    found = found_give(Hole(shape=shape, size=size, position=0.0, offset=offset * size))
    residual = np.array([stored_residual(shape, load) for load in LOADS])
    assert (np.abs(given(shape, size, offset) / found - 1) < np.maximum(tolerance, residual)).all()


def test_solid_on_a_coarse_mesh_comes_within_an_eighth_of_the_table() -> None:
    found = meshed_give(Hole(shape="square", size=0.4, position=0.0), per_hole=3.0)
    np.testing.assert_allclose(found, given("square", 0.4, 0.0), rtol=0.125)
    assert (found < given("square", 0.4, 0.0)).all()


@pytest.mark.slow
def test_screw_hole_rule_is_within_five_hundredths_of_the_solid() -> None:
    hole = Hole(shape="square", size=0.3, position=LENGTH / 2, offset=0.075)
    found = found_give(hole, screw=0.25, fine=3.75)
    rule = extra_compliance("square", 0.3, 1.0, 0.075).with_screw(0.25, 1.0)
    np.testing.assert_allclose(astuple(rule), found, rtol=0.06)


@pytest.mark.parametrize("shape", SHAPES)
def test_larger_hole_gives_more_and_a_vanishing_one_nothing(shape: Shape) -> None:
    gives = np.array([given(shape, size, 0.2) for size in (1e-4, 0.05, 0.1, 0.2, 0.3, 0.4)])
    assert (np.diff(gives, axis=0) > 0).all()
    assert gives[0].max() < 1e-5


@pytest.mark.parametrize("shape", SHAPES)
def test_offset_acts_alike_to_both_sides_and_scale_not_at_all(shape: Shape) -> None:
    one = extra_compliance(shape, 0.2, 1.0, 0.05)
    assert extra_compliance(shape, 0.2, 1.0, -0.05) == one
    assert astuple(extra_compliance(shape, 0.004, 0.02, 0.001)) == pytest.approx(astuple(one))


def test_screw_hole_softens_across_more_than_along_the_bit() -> None:
    hole = extra_compliance("square", 0.25, 1.0, 0.0)
    drilled = hole.with_screw(0.2, 1.0)
    added = np.array(astuple(drilled)) - np.array(astuple(hole))
    assert (added > 0).all()
    assert added[1] > 20 * added[0]


def test_hole_beyond_the_calibration_is_refused_with_its_range() -> None:
    with pytest.raises(ModelError, match=r"is 0\.45 of the bar's diameter; .* to 0\.4"):
        extra_compliance("square", 0.45, 1.0, 0.0)
    with pytest.raises(ModelError, match=r"is 0\.60 of its own size off .* to 0\.5"):
        extra_compliance("square", 0.2, 1.0, 0.12)
