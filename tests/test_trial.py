"""Draws carried out together against the full model, one case at a time."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from conftest import MakeCase
from drawn_cases import case_of, full_answers, random_draws

from barwright.analysis.beam import beam_model
from barwright.analysis.casefile import read_case
from barwright.analysis.condensed import ACROSS, BIT_PLANE, condensed, masses_of, springs_of
from barwright.analysis.doubt import MODULUS, drawn
from barwright.analysis.hole_in_beam import with_block
from barwright.analysis.model import factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.statics import ANGLES, edge_compliances
from barwright.analysis.trial import NAMES, answers, bench, force_factors, joined

CASES = Path(__file__).parents[1] / "cases"
TIGHT = {"deflection": 1e-9, "size_error": 1e-9, "first_mode": 1e-5, "separation": 1e-5}


@pytest.mark.parametrize(
    ("name", "count"),
    [("pump_bracket", 8), ("mill_gearcase", 3), ("hinge_knuckle", 3), ("stern_tube", 3)],
)
def test_draws_answer_as_the_full_model_does(name: str, count: int) -> None:
    case = read_case(CASES / f"{name}.yaml")
    draws = random_draws(case, count, seed=7)
    found = answers(bench(case), draws)
    full = [full_answers(case_of(draws, k)) for k in range(count)]
    for answer, tolerance in TIGHT.items():
        wanted = [one[answer] for one in full]
        np.testing.assert_allclose(getattr(found, answer), wanted, rtol=tolerance)
    for answer in ("gain_margin", "undamped_margin"):
        wanted = [one[answer] for one in full]
        np.testing.assert_allclose(getattr(found, answer), wanted, rtol=1e-3)
    # A narrow window of singing may be seen by one of the two and not by the other.
    depths = [one["depth_limit"] for one in full]
    alike = np.isclose(found.depth_limit, depths, rtol=0.01)
    assert alike.sum() >= count - max(1, count // 10)


def test_a_hole_that_couples_the_planes_is_taken_whole() -> None:
    case = with_block(read_case(CASES / "hinge_knuckle.yaml"))
    draws = random_draws(case, 2, seed=7)
    found = answers(bench(case), draws)
    for k in range(2):
        full = full_answers(case_of(draws, k))
        for answer, tolerance in (TIGHT | {"gain_margin": 1e-3}).items():
            assert getattr(found, answer)[k] == pytest.approx(full[answer], rel=tolerance)


def test_a_block_answers_as_its_draws_do_apart() -> None:
    case = read_case(CASES / "pump_bracket.yaml")
    draws, ready = random_draws(case, 5, seed=2), bench(case)
    whole = answers(ready, draws)
    apart = joined([answers(ready, draws.part(slice(k, k + 1))) for k in range(5)])
    for name in NAMES:
        np.testing.assert_allclose(getattr(whole, name), getattr(apart, name), rtol=1e-9)


def test_no_draw_answers_nothing() -> None:
    case = read_case(CASES / "pump_bracket.yaml")
    found = answers(bench(case), random_draws(case, 0, seed=1))
    assert all(getattr(found, name).shape == (0,) for name in NAMES)


def test_likely_values_of_a_typed_force_answer_as_the_full_model_does(
    make_case: MakeCase,
) -> None:
    case = make_case(
        cut__force={
            "radial": "30 N (20 to 45)",
            "tangential": "80 N (70 to 90)",
            "axial": "0 N",
        },
        cut__feed_towards="tailstock",
    )
    draws = random_draws(case, 3, seed=3)
    found = answers(bench(case), draws)
    for k in range(3):
        full = full_answers(case_of(draws, k))
        for name in ("size_error", "gain_margin", "undamped_margin"):
            assert getattr(found, name)[k] == pytest.approx(full[name], rel=1e-3)


def test_left_out_directions_of_a_typed_force_follow_the_other(make_case: MakeCase) -> None:
    typed = {"radial": "30 N (20 to 45)", "tangential": "80 N (70 to 90)", "axial": "0 N"}
    draws = random_draws(make_case(cut__force=typed), 4, seed=3)
    factors = force_factors(draws)
    np.testing.assert_allclose(factors[:, 0], draws.values["cut", "force", "radial"] / 30.0)
    np.testing.assert_allclose(factors[:, 1], draws.values["cut", "force", "tangential"] / 80.0)
    np.testing.assert_array_equal(factors[:, 2], factors[:, 0])


def test_a_power_constant_moves_the_drag_alone(make_case: MakeCase) -> None:
    case = make_case(
        cut__method="power constant", cut__force=None, work__material="low-carbon steel"
    )
    draws = random_draws(case, 4, seed=3)
    assert ("work", "material", "specific_force") not in draws.values
    factors = force_factors(draws)
    energy = draws.values["work", "material", "power_constant"]
    wear = draws.values["cut", "edge_wear"] / float(case.cut.edge_wear)
    likely = float(case.work.material.power_constant or 0.0)
    np.testing.assert_allclose(factors[:, 1], energy / likely * wear)


@pytest.mark.parametrize("name", ["pump_bracket", "mill_gearcase", "stern_tube"])
def test_a_condensed_bar_has_the_full_bars_modes_and_give(name: str) -> None:
    case = read_case(CASES / f"{name}.yaml")
    draws = random_draws(case, 6, seed=11)
    bar, springs, masses = condensed(case, masses=True), springs_of(draws), masses_of(draws)
    modulus = draws.of(MODULUS) / float(case.bar.material.elastic_modulus)
    stiffness = springs.on_motions()
    bit = bar.modes(bar.bit, stiffness[:, :, BIT_PLANE], modulus, masses)
    across = bar.modes(bar.across, stiffness[:, :, ACROSS], modulus, masses)
    give = bar.edge_give(springs, modulus, ANGLES)
    for k in range(6):
        full = factorised(beam_model(case_of(draws, k)))
        pitches = np.sort(np.concatenate([bit.frequency[k], across.frequency[k]]))[:6]
        wanted = undamped_modes(full, count=6, counted=False).frequency
        np.testing.assert_allclose(pitches, wanted, rtol=2e-5)
        compliance = edge_compliances(full)
        np.testing.assert_allclose(give[k], compliance, atol=1e-9 * np.abs(compliance).max())


def test_a_rigid_support_is_exact(make_case: MakeCase) -> None:
    case = make_case(supports__tail__radial_stiffness="rigid")
    draws = drawn(case, [], np.zeros((1, 0)))
    bar, springs = condensed(case), springs_of(draws)
    modes = bar.modes(bar.bit, springs.on_motions()[:, :, BIT_PLANE], np.ones(1), masses_of(draws))
    full = factorised(beam_model(case))
    first = undamped_modes(full, count=4, counted=False).first("bit")
    assert modes.frequency[0, modes.bending[0]].min() == pytest.approx(first, rel=1e-8)
    give = bar.edge_give(springs, np.ones(1), ANGLES[:1])[0, 0]
    np.testing.assert_allclose(give, edge_compliances(full)[0], atol=1e-15)


def test_stiffness_of_the_steel_scales_the_give_of_a_bar_on_rigid_supports(
    make_case: MakeCase,
) -> None:
    rigid = {"radial_stiffness": "rigid", "axial_stiffness": "rigid"}
    case = make_case(
        supports__drive={
            "kind": "dead centre with dog",
            **rigid,
            "turning_stiffness": "rigid",
            "dog_position": "15 mm",
            "dog_mass": "0.3 kg",
        },
        supports__tail={"kind": "dead centre", **rigid},
    )
    bar, springs = condensed(case), springs_of(drawn(case, [], np.zeros((2, 0))))
    give = bar.edge_give(springs, np.array([1.0, 2.0]), ANGLES[:1])
    np.testing.assert_allclose(give[1], give[0] / 2, rtol=1e-9, atol=1e-20)


def test_a_denser_bar_sings_lower_by_the_root_of_its_mass(make_case: MakeCase) -> None:
    metal = {"elastic_modulus": "205 GPa", "density": "7850 kg/m3 (7000 to 9000)"}
    case = make_case(bar__material={**metal, "yield_strength": "600 MPa"})
    draws = random_draws(case, 2, seed=5)
    one = replace(draws, values={**draws.values, ("supports", "drive", "dog_mass"): np.zeros(2)})
    found = answers(bench(case), one, depth=False).first_mode
    dense = one.values["bar", "material", "density"]
    light, heavy = (full_answers(case_of(one, k))["first_mode"] for k in np.argsort(dense))
    assert heavy < light
    np.testing.assert_allclose(np.sort(found), [heavy, light], rtol=1e-6)
