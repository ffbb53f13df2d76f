"""Ranges as bell curves, what is in doubt in a case, and a case with values put in."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from conftest import MakeCase
from scipy.stats import norm

from barwright.analysis.casefile import read_case
from barwright.analysis.doubt import (
    FACTOR,
    Doubt,
    doubts,
    drawn,
    is_size,
    value_at,
    with_values,
)
from barwright.analysis.units import Estimate

CASES = Path(__file__).parents[1] / "cases"


def doubt(low: float, likely: float, high: float, kind: str = "stiffness") -> Doubt:
    return Doubt(
        key=("work", "mass"), kind=kind, origin="typed", low=low, likely=likely, high=high
    )


@pytest.mark.parametrize(
    ("given", "kind"),
    [
        ((30e6, 60e6, 150e6), "stiffness"),
        ((0.005, 0.015, 0.030), "length"),
        ((0.0, 0.3, 0.9), "damping"),
        ((-0.2, 0.1, 0.3), "angle"),
    ],
)
def test_one_value_in_twenty_lies_beyond_each_end(
    given: tuple[float, float, float], kind: str
) -> None:
    found = doubt(*given, kind).at(np.array([0.05, 0.5, 0.95]))
    np.testing.assert_allclose(found, given, rtol=1e-12, atol=1e-15)


def test_a_range_alike_in_factors_is_log_normal() -> None:
    share = np.array([0.01, 0.3, 0.77, 0.999])
    spread = np.log(3.0) / norm.ppf(0.95)
    np.testing.assert_allclose(
        doubt(20.0, 60.0, 180.0).at(share), 60.0 * np.exp(spread * norm.ppf(share)), rtol=1e-12
    )


def test_a_length_goes_by_even_steps() -> None:
    share = np.array([0.2, 0.8])
    spread = 0.002 / norm.ppf(0.95)
    np.testing.assert_allclose(
        doubt(0.038, 0.040, 0.042, "length").at(share), 0.040 + spread * norm.ppf(share)
    )


def test_nothing_falls_below_zero_that_may_not() -> None:
    drawn_low = doubt(0.0, 1.0, 2.0, "damping").at(np.array([1e-6, 0.01]))
    np.testing.assert_array_equal(drawn_low, 0.0)


def test_a_range_with_its_likely_value_at_an_end_keeps_half_of_it_there() -> None:
    found = doubt(1.0, 2.0, 2.0).at(np.array([0.3, 0.6, 0.99]))
    assert found[0] < 2.0
    np.testing.assert_array_equal(found[1:], 2.0)


def names(found: tuple[Doubt, ...]) -> set[str]:
    return {one.name for one in found}


def test_every_range_that_moves_an_answer_is_in_doubt() -> None:
    found = names(doubts(read_case(CASES / "pump_bracket.yaml")))
    assert {
        "supports.drive.tilt_stiffness",
        "supports.tail.radial_stiffness",
        "work.material.normal_force",
        "work.material.process_damping",
        "bar.damping_ratio",
        "bar.material.elastic_modulus",
        "cut.edge_wear",
        f"{FACTOR}.low speed",
    } <= found


def test_what_moves_no_answer_is_not_drawn() -> None:
    found = names(doubts(read_case(CASES / "mill_gearcase.yaml")))
    assert "supports.tail.vertical_stiffness" in found
    for name in (
        "supports.tail.radial_stiffness",
        "work.radial_stiffness",
        "work.material.power_constant",
        "work.material.force_exponent",
        "bar.material.yield_strength",
        "work.bore",
    ):
        assert name not in found


def test_a_typed_force_takes_the_place_of_the_table(make_case: MakeCase) -> None:
    case = make_case(cut__force={"radial": "30 N (20 to 45)", "tangential": "80 N"})
    found = names(doubts(case))
    assert "cut.force.radial" in found
    assert not {"work.material.normal_force", "work.material.specific_force", "cut.edge_wear"} & (
        found
    )


def test_a_size_that_changes_nothing_is_not_drawn(make_case: MakeCase) -> None:
    given = {"shape": "square", "size": "8 mm", "position": "200 mm (199 to 201)"}
    case = make_case(cross_hole={**given, "corner_radius": "0.2 mm (0 to 0.4)"})
    found = [one for one in doubts(case) if is_size(one.key)]
    assert names(tuple(found)) == {"cross_hole.position"}


def test_a_case_with_a_value_put_in_holds_it_and_nothing_else(make_case: MakeCase) -> None:
    case = make_case(
        supports__others=[{"kind": "steady", "position": "100 mm"}],
    )
    key = ("supports", "others", 0, "grip")
    assert isinstance(value_at(case, key), Estimate)
    changed = with_values(case, {key: 0.02})
    assert value_at(changed, key) == 0.02
    assert changed.supports.tail is case.supports.tail
    assert value_at(case, ("supports", "others", 0, "nothing")) is None


def test_draws_come_from_the_case_where_nothing_is_in_doubt(make_case: MakeCase) -> None:
    case = make_case()
    draws = drawn(case, [], np.zeros((3, 0)))
    key = ("supports", "tail")
    found = draws.of((*key, "vertical_stiffness"), (*key, "radial_stiffness"))
    np.testing.assert_array_equal(found, [20e6] * 3)
    np.testing.assert_array_equal(draws.factor("rake"), 1.0)
    with pytest.raises(KeyError, match=r"nothing at work\.vertical_stiffness"):
        draws.of(("work", "vertical_stiffness"))
