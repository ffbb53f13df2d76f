"""Ends of bands: 8 draws in 10 between them, the same in every command, narrower when measured."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import MakeCase
from remembered import late
from scipy.stats import norm

from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case
from barwright.analysis.casefile import read_case
from barwright.analysis.chatter import End, corners, loop_of, onset
from barwright.analysis.model import factorised
from barwright.analysis.odds import (
    WHOLE,
    FewDraws,
    Reach,
    margin_reach,
    narrowed,
    odds,
    size_errors,
)
from barwright.analysis.speed_choice import choose_speed
from barwright.analysis.units import Estimate
from barwright.analysis.variant import evaluated

CASES = Path(__file__).parents[1] / "cases"


def margins(case: Case, at: Reach) -> dict[End, float]:
    """Gain margin at the corners of the narrowed case, each found as a run finds it."""
    narrow = narrowed(case, at)
    return {
        end: onset(loop_of(narrow, corner)).gain_margin for end, corner in corners(narrow).items()
    }


@pytest.mark.parametrize("name", ["pump_bracket", "mill_gearcase", "valve_block"])
def test_ends_are_those_that_8_draws_in_10_lie_between(name: str) -> None:
    case = read_case(CASES / f"{name}.yaml")
    factored, draws = factorised(beam_model(case)), FewDraws(case).answers
    at = odds(case)
    for found, values, tolerance in (
        (margins(case, at.margin), draws.gain_margin, 0.04),
        (size_errors(case, factored, at.size), draws.size_error, 0.01),
    ):
        ends = np.quantile(values, [0.1, 0.9], method="inverted_cdf")
        wanted = sorted((found["low"], found["high"]))
        np.testing.assert_allclose(wanted, ends, rtol=tolerance)


CERTAIN: dict[str, Any] = {
    "bar__material": {
        "elastic_modulus": "205 GPa",
        "density": "7850 kg/m3",
        "yield_strength": "600 MPa",
    },
    "bar__damping_ratio": "0.01",
    "supports__drive__damping": "3000 N.s/m",
    "supports__tail__damping": "1000 N.s/m",
    "work__axial_stiffness": "30 N/um",
    "work__mass": "40 kg",
    "work__damping_ratio": "0.04",
}


def test_a_doubtful_steel_alone_opens_the_band_of_the_first_mode(make_case: MakeCase) -> None:
    """A bar on springs rings with the root of what it weighs, the bit's few grams apart."""
    steel = {**CERTAIN["bar__material"], "density": "7850 kg/m3 (6000 to 9000)"}
    case = make_case(**(CERTAIN | {"bar__material": steel}))
    low, high = odds(case).pitch
    share = norm.ppf(0.9) / norm.ppf(0.95)
    assert low == pytest.approx((7850 / 9000) ** (share / 2), rel=0.005)
    assert high == pytest.approx((7850 / 6000) ** (share / 2), rel=0.01)


def test_one_range_alone_is_taken_out_to_its_own_tenth(make_case: MakeCase) -> None:
    """A deflection falls with the one stiffness in doubt, so its tenths are that stiffness's."""
    case = make_case(**CERTAIN, work__radial_stiffness="30 N/um (10 to 90)")
    at = odds(case)
    wanted = norm.ppf(0.9) / norm.ppf(0.95)
    assert at.size.low == pytest.approx(wanted, abs=0.03)
    assert at.size.high == pytest.approx(wanted, abs=0.03)


def test_many_ranges_are_each_taken_out_less(make_case: MakeCase) -> None:
    case = make_case(work__radial_stiffness="30 N/um (10 to 90)", cut__force=None)
    at = odds(case)
    assert max(at.size.low, at.size.high) < 0.7


def test_a_band_is_narrower_than_everything_at_its_worst_at_once() -> None:
    case = read_case(CASES / "pump_bracket.yaml")
    likely, worst = margins(case, margin_reach(case)), margins(case, WHOLE)
    assert worst["low"] < likely["low"] < likely["likely"] < likely["high"] < worst["high"]


def test_a_share_of_a_range_goes_by_factors_or_even_steps(make_case: MakeCase) -> None:
    case = make_case(
        work__radial_stiffness="40 N/um (10 to 90)",
        work__material={
            "specific_force": "1160 MPa",
            "force_exponent": "0.26",
            "normal_force": "340 MPa",
            "normal_exponent": "0.45",
            "process_damping": "0.2 N/um (0 to 0.5)",
        },
    )
    found = narrowed(case, Reach(low=0.5, high=0.25, either=0.5)).work
    stiffness, rubbing = found.radial_stiffness, found.material.process_damping
    assert isinstance(stiffness, Estimate)
    assert isinstance(rubbing, Estimate)
    assert (stiffness.low, stiffness.high) == pytest.approx((20e6, 60e6))
    assert (rubbing.low, rubbing.high) == pytest.approx((0.1e6, 0.275e6))
    assert stiffness == 40e6


def test_nothing_in_doubt_leaves_nothing_to_narrow(make_case: MakeCase) -> None:
    case = make_case(
        **CERTAIN,
        work__material={
            "specific_force": "1160 MPa",
            "force_exponent": "0.26",
            "normal_force": "340 MPa",
            "normal_exponent": "0.45",
        },
        cut__edge_wear="1.15",
    )
    found = margins(case, margin_reach(case))
    assert found["low"] == found["likely"] == found["high"]


def test_run_speeds_and_compare_say_the_same_band() -> None:
    outcome = late("pump_bracket")
    case = outcome.case
    row = evaluated(case)
    asked = choose_speed(case).asked
    for end in ("low", "likely", "high"):
        said = outcome.chatter.margin[end]
        assert row.chatter.margin[end] == pytest.approx(said, rel=0.01)
        assert asked.margins.whole[end] == pytest.approx(said, rel=0.01)
        assert getattr(row.size_error, end) == pytest.approx(getattr(outcome.size_error, end))
        assert getattr(row.first_mode, end) == pytest.approx(
            getattr(outcome.first_mode, end), rel=1e-6
        )


def test_a_measurement_narrows_the_band(make_case: MakeCase) -> None:
    def width(text: str) -> float:
        case = make_case(work__radial_stiffness=text)
        size = size_errors(case, factorised(beam_model(case)), odds(case).size)
        return size["low"] / size["high"]

    assert width("30 N/um (10 to 90)") > 1.2 * width("30 N/um (28 to 32)")
