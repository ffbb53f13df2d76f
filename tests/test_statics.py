"""Statics: size, ovality, give, reactions, the axial motion of the edge, hand formulas."""

from __future__ import annotations

from math import hypot, pi

import numpy as np
import pytest
from conftest import MakeCase

from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case
from barwright.analysis.errors import SolveError
from barwright.analysis.force import cutting_force
from barwright.analysis.model import Factored, Held, factorised
from barwright.analysis.statics import (
    Statics,
    _two_supports,
    bending_moment,
    bit_compliance,
    hand_check,
    size_and_ovality,
    solve_statics,
    work_compliance,
)

E, D, L, R = 205e9, 0.030, 0.400, 0.025
EI = E * pi * D**4 / 64


def plain(case: Case) -> Factored:
    """The bar of a case with no cross-hole weakening, factorised."""
    return factorised(beam_model(case, hole=False))


def solved(case: Case) -> Statics:
    return solve_statics(case, cutting_force(case), factorised(beam_model(case)), plain(case))


def test_hand_formula_agrees_with_the_force_method_worked_by_hand() -> None:
    """Worked by calculator, 25 mm bar: chuck 30 N/um and 20 kN m/rad, tail 20 N/um."""
    for a, expected in ((0.1, 15.56298), (0.2, 28.21278), (0.3, 18.82598)):
        value, _ = _two_supports(a, 0.4, 3930.826, 30e6, 2e4, 20e6)
        assert value * 100e6 == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("position", ["100 mm", "200 mm", "330 mm"])
def test_hand_formula_and_beam_part_only_by_shear(make_case: MakeCase, position: str) -> None:
    case = make_case(cross_hole__position=position)
    compliance = Held(plain(case)).edge_compliance[0, 0]
    a = case.cross_hole.position
    b = L - a
    hutchinson = 6 * 1.29**2 / (7 + 12 * 0.29 + 4 * 0.29**2)
    shear = a * b / L / (hutchinson * E / 2.58 * pi * D**2 / 4)
    check = hand_check(case, compliance)
    assert check.compliance == pytest.approx(compliance - shear, rel=1e-5)


def test_bore_comes_out_small_by_twice_the_radial_motion(make_case: MakeCase) -> None:
    statics = solved(make_case())
    assert statics.deflection[0] < 0
    tangential = statics.deflection[1] ** 2 / R
    expected = 2 * statics.deflection[0] + tangential
    assert statics.diameter_error == pytest.approx(expected, rel=1e-3)


def test_unlike_supports_bore_an_oval_by_the_formula(make_case: MakeCase) -> None:
    """Ovality 2 |c1 - c2| hypot(F_r, F_t): the tangential force counts as much as the radial."""
    light = {"radial": "0.3 N", "tangential": "0.8 N"}  # so that u_t^2/R does not show
    case = make_case(supports__tail__vertical_stiffness="10 N/um", cut__force=light)
    factored = plain(case)
    c_vertical = Held(factored, 0.0).edge_compliance[0, 0]
    c_sideways = Held(factored, pi / 2).edge_compliance[0, 0]
    _, oval = size_and_ovality(case, cutting_force(case), factored)
    assert oval == pytest.approx(2 * abs(c_vertical - c_sideways) * hypot(0.3, 0.8), rel=2e-4)


def test_supports_alike_bore_round(make_case: MakeCase) -> None:
    case = make_case()
    _, oval = size_and_ovality(case, cutting_force(case), factorised(beam_model(case)))
    assert oval < 1e-12


def test_tail_stiffness_difference_halves_at_mid_span(make_case: MakeCase) -> None:
    """Springs alone: c = (a/L)^2 / k at the tail, so mid-span sees a quarter of the difference."""
    case = make_case(supports__tail__vertical_stiffness="10 N/um")
    factored = plain(case)
    up, level = (Held(factored, angle).edge_compliance[0, 0] for angle in (0.0, pi / 2))
    assert up - level == pytest.approx(0.25 * (1 / 10e6 - 1 / 20e6), rel=1e-9)


def test_slope_of_the_bar_moves_the_edge_along_the_bore(make_case: MakeCase) -> None:
    """u_x = -R w' off mid-span; Roark's slope under a load on a simple span, tilted by springs."""
    case = make_case(cross_hole__position="100 mm")
    a, b, F = 0.1, 0.3, -30.0
    compliance = Held(plain(case)).edge_compliance
    slope = F * a * b * (b - a) / (3 * EI * L)
    slope += F * ((a / L) / 20e6 - (b / L) / 60e6) / L
    assert compliance[2, 0] * F == pytest.approx(-R * slope, rel=1e-3)


def test_feed_towards_the_tail_pushes_the_bar_the_other_way(make_case: MakeCase) -> None:
    to_head = solved(make_case(cross_hole__position="100 mm"))
    to_tail = solved(make_case(cross_hole__position="100 mm", cut__feed_towards="tailstock"))
    assert to_head.deflection[2] < to_tail.deflection[2]
    assert to_head.deflection[0] != pytest.approx(to_tail.deflection[0], rel=1e-3)


def test_reactions_hold_the_force(make_case: MakeCase) -> None:
    statics = solved(make_case(cross_hole__position="130 mm"))
    taken = statics.reactions
    assert sum(one.radial for one in taken) == pytest.approx(-30.0, rel=1e-9)
    assert sum(one.tangential for one in taken) == pytest.approx(-80.0, rel=1e-9)
    assert sum(one.axial for one in taken) == pytest.approx(-20.0, rel=1e-9)
    assert sum(one.torque for one in taken) == pytest.approx(-80.0 * R, rel=1e-9)
    # Moments about the drive: the force at 130 mm, and the feed force on its arm.
    assert taken[1].radial * L == pytest.approx(-30.0 * 0.13 + 20.0 * R, rel=1e-9)
    assert taken[1].tangential * L == pytest.approx(-80.0 * 0.13, rel=1e-9)


def test_give_is_shared_out_whole(make_case: MakeCase) -> None:
    case = make_case(work__radial_stiffness="30 N/um")
    statics = solved(case)
    shares = {give.part: give for give in statics.give}
    assert sum(give.share for give in statics.give) == pytest.approx(1.0)
    total = statics.loop_compliance[0, 0]
    assert shares["work side"].compliance == pytest.approx(1 / 30e6)
    assert shares["tail support"].compliance == pytest.approx(0.25 / 20e6, rel=1e-3)
    assert shares["drive support"].compliance == pytest.approx(0.25 / 60e6, rel=1e-3)
    assert shares["bar"].compliance == pytest.approx(L**3 / (48 * EI), rel=0.03)
    assert 0.01 < shares["cross-hole"].share < 0.15
    assert sum(give.compliance for give in statics.give) == pytest.approx(total, rel=1e-9)


def test_sag_is_that_of_a_simple_span_on_springs(make_case: MakeCase) -> None:
    case = make_case(bit__length="18 mm", supports__drive__dog_mass="0 kg")
    density, area = 7850.0, pi * D**2 / 4
    factored = plain(case)
    statics = solve_statics(case, cutting_force(case), factored)
    w = density * area * 9.80665
    expected = 5 * w * L**4 / (384 * EI) + w * L / 2 * (0.5 / 60e6 + 0.5 / 20e6)
    assert statics.sag == pytest.approx(expected, rel=0.015)


def test_square_bit_across_is_a_short_cantilever() -> None:
    along, across = bit_compliance(0.00635, 0.0106, square=True)
    assert along == pytest.approx(0.0106 / (217e9 * 0.00635**2))
    bending = 0.0106**3 / (3 * 217e9 * 0.00635**4 / 12)
    assert bending < across < 1.35 * bending


def test_rigid_work_side_gives_nothing(make_case: MakeCase) -> None:
    work = make_case(work__axial_stiffness="rigid").work
    assert not np.any(work_compliance(work, 0.3))


def test_stiffness_is_edge_against_work(make_case: MakeCase) -> None:
    stiff, soft = solved(make_case()), solved(make_case(work__radial_stiffness="10 N/um"))
    difference = 1 / soft.stiffness_radial - 1 / stiff.stiffness_radial
    assert difference == pytest.approx(1e-7, rel=1e-9)
    difference = 1 / soft.stiffness_tangential - 1 / stiff.stiffness_tangential
    assert difference == pytest.approx(1e-7, rel=1e-9)


def test_work_side_stands_still_while_the_bit_turns_in_it(make_case: MakeCase) -> None:
    """Bit up meets the vertical give; level, the horizontal; at 45 deg half of each."""
    work = make_case(work__vertical_stiffness="40 N/um", work__horizontal_stiffness="10 N/um").work
    up, level, between = (work_compliance(work, angle) for angle in (0.0, pi / 2, pi / 4))
    assert (up[0, 0], up[1, 1]) == pytest.approx((25e-9, 100e-9))
    assert (level[0, 0], level[1, 1]) == pytest.approx((100e-9, 25e-9))
    # A push along the bit moves the edge towards the softer way: half the difference, across.
    assert between[0, 0] == pytest.approx(62.5e-9)
    assert between[1, 0] == pytest.approx(37.5e-9)


@pytest.mark.parametrize("soft", ["vertical", "horizontal"])
def test_unlike_work_side_bores_an_oval_by_the_formula(make_case: MakeCase, soft: str) -> None:
    light = {"radial": "0.3 N", "tangential": "0.8 N"}  # so that u_t^2/R does not show
    case = make_case(
        work__radial_stiffness="40 N/um",
        **{f"work__{soft}_stiffness": "10 N/um"},
        cut__force=light,
    )
    statics = solved(case)
    assert statics.ovality == pytest.approx(2 * 75e-9 * hypot(0.3, 0.8), rel=2e-4)
    shares = {give.part: give for give in statics.give}
    assert shares["work side"].compliance == pytest.approx((25e-9 + 100e-9) / 2)


def test_likeness_of_work_and_supports_can_cancel(make_case: MakeCase) -> None:
    """At mid-span the tail passes on a quarter of its give: 0.25 x 100 nm/N against 25 nm/N."""
    # No feed force: it works through the tail's slope, which the work side does not have.
    case = make_case(
        cut__force={"radial": "30 N", "tangential": "80 N"},
        supports__tail__vertical_stiffness="10 N/um",
        supports__tail__horizontal_stiffness="5 N/um",
        work__vertical_stiffness="20 N/um",
        work__horizontal_stiffness="40 N/um",
    )
    assert solved(case).ovality < 1e-10


def test_axial_motion_has_the_work_side_and_the_bending_of_the_bit_in_it(
    make_case: MakeCase,
) -> None:
    firm = make_case(work__axial_stiffness="rigid")
    soft = make_case(work__axial_stiffness="25 N/um")
    # The feed force is 20 N: 0.8 um on 25 N/um.
    assert solved(soft).deflection[2] - solved(firm).deflection[2] == pytest.approx(-0.8e-6)
    _, across = bit_compliance(0.008, 0.010, square=True)
    statics = solved(firm)
    bit = statics.loop_compliance - statics.compliance
    assert (bit[1, 1], bit[2, 2]) == pytest.approx((across, across))


def test_support_too_soft_to_mean_anything_is_refused_by_name(make_case: MakeCase) -> None:
    case = make_case(supports__tail__radial_stiffness="1e-6 N/um")
    with pytest.raises(SolveError, match=r"the tail support, at .* is too soft to mean anything"):
        solved(case)


def test_edge_that_pulls_itself_in_bores_large(make_case: MakeCase) -> None:
    case = make_case(
        cut__force=None, cut__depth="1 mm", bit__lead_angle="-40 deg", bit__nose_radius="0.1 mm"
    )
    force = cutting_force(case)
    assert force.radial.low < force.radial < force.radial.high < 0
    assert force.at("high").radial == force.radial.low
    assert force.at("low").radial == force.radial.high
    assert solved(case).diameter_error > 0


def test_deflection_along_the_bar_meets_the_edge(make_case: MakeCase) -> None:
    case = make_case()
    factored = factorised(beam_model(case))
    statics = solve_statics(case, cutting_force(case), factored)
    bar_alone = statics.compliance @ np.array([-30.0, -80.0, -20.0])
    at_bit = np.interp(0.2, factored.model.stations, statics.along[0])
    assert at_bit == pytest.approx(bar_alone[0], rel=1e-3)


def test_bending_moment_at_the_bit_is_that_of_a_simple_span(make_case: MakeCase) -> None:
    """P a b / L, and the couple of the feed force shared out by its arm."""
    case = make_case(cross_hole__position="130 mm")
    bit, across = bending_moment(solved(case).reactions, 0.13)
    assert across == pytest.approx(-80.0 * 0.13 * 0.27 / L, rel=1e-9)
    assert bit == pytest.approx(-30.0 * 0.13 * 0.27 / L - 20.0 * R * 0.13 / L, rel=1e-9)


def test_bending_moment_comes_out_alike_from_either_end(make_case: MakeCase) -> None:
    """In a chuck too, the tail's reaction on its arm is all there is beyond the bit."""
    case = make_case(
        supports__drive={"kind": "chuck", "grip": "40 mm"}, cross_hole__position="250 mm"
    )
    reactions = solved(case).reactions
    bit, across = bending_moment(reactions, 0.25)
    tail = reactions[-1]
    assert across == pytest.approx(tail.tangential * 0.15, rel=1e-9)
    assert bit == pytest.approx(tail.radial * 0.15 - 20.0 * R, rel=1e-9)
