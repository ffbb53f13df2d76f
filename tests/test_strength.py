"""Strength at the cross-hole: hand statics, what reverses and what does not, and the verdicts."""

from __future__ import annotations

from math import pi

import pytest
from conftest import MakeCase

from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case
from barwright.analysis.force import cutting_force
from barwright.analysis.model import Held, factorised
from barwright.analysis.statics import force_on_bar, reactions_to
from barwright.analysis.strength import (
    Strength,
    loads_at,
    misalignment_moment,
    sag_moment,
    solve_strength,
    strength_findings,
)


def strength_of(case: Case) -> Strength:
    return solve_strength(case, cutting_force(case), factorised(beam_model(case)))


def test_loads_at_the_hole_by_hand(make_case: MakeCase) -> None:
    # On centres 400 mm apart, bit in the middle: 30 N along it, 80 N across, 20 N of feed 25 mm
    # out.
    case = make_case()
    held = Held(factorised(beam_model(case)))
    near, far = loads_at(reactions_to(held, force_on_bar(case, cutting_force(case))), 0.2)
    assert near.bend_across == pytest.approx(80 * 0.4 / 4, rel=1e-6)
    assert far.bend_across == pytest.approx(80 * 0.4 / 4, rel=1e-6)
    sides = sorted((near.bend_bit, far.bend_bit))
    assert sides == pytest.approx([3 - 20 * 0.025 / 2, 3 + 20 * 0.025 / 2], rel=1e-6)
    assert near.torque == pytest.approx(80 * 0.025, rel=1e-6)
    assert far.torque == pytest.approx(0.0, abs=1e-9)
    assert near.axial + far.axial == pytest.approx(20, rel=1e-6)


def test_light_line_boring_hardly_stresses_the_bar(make_case: MakeCase) -> None:
    # 100 N at mid-span of 400 mm on a 25.4 mm bar: 6.216 MPa, raised about 3 times by a hole of a
    # fifth of it: a tenth of mild steel's yield.
    case = make_case(
        bar={"material": "1018 hot rolled", "diameter": "25.4 mm", "span": "400 mm"},
        cross_hole={"shape": "round", "size": "5.08 mm", "position": "200 mm"},
        bit={"size": "5 mm"},
        cut__force={"radial": "100 N", "tangential": "0 N", "axial": "0 N"},
    )
    found = strength_of(case)
    assert found.nominal == pytest.approx(6.216e6, rel=1e-3)
    assert found.peak.likely == pytest.approx(3.0251 * 6.216e6, rel=1e-3)
    assert found.net == pytest.approx(6.216e6 / 0.6810, rel=1e-3)
    assert found.yield_margin.low > 10


def test_stress_goes_with_the_force(make_case: MakeCase) -> None:
    twice = {"radial": "60 N", "tangential": "160 N", "axial": "40 N"}
    one, two = strength_of(make_case()), strength_of(make_case(cut__force=twice))
    assert two.peak.high == pytest.approx(2 * one.peak.high, rel=1e-9)
    assert two.yield_margin.low == pytest.approx(one.yield_margin.low / 2, rel=1e-9)


@pytest.mark.parametrize("size", ["3 mm", "4.5 mm", "6 mm", "7.5 mm"])
def test_larger_hole_never_makes_a_stronger_bar(make_case: MakeCase, size: str) -> None:
    smaller, larger = (
        strength_of(make_case(cross_hole__size=each, bit__size="2 mm")) for each in (size, "10 mm")
    )
    assert larger.peak.likely > smaller.peak.likely


def test_steel_buys_yield_and_not_stress(make_case: MakeCase) -> None:
    good, mild = (
        strength_of(make_case(bar__material=name)) for name in ("4140 prehard", "1018 hot rolled")
    )
    assert good.peak.likely == pytest.approx(mild.peak.likely, rel=5e-3)
    gained = good.yield_margin.likely / mild.yield_margin.likely
    assert gained == pytest.approx(good.yield_strength / mild.yield_strength, rel=5e-3)
    assert gained > 3


def test_sag_by_hand(make_case: MakeCase) -> None:
    case = make_case()
    weight = 9.80665 * 7850 * pi * 0.03**2 / 4 * 0.4
    assert sag_moment(case) == pytest.approx(weight * 0.4 / 8, rel=1e-3)


def test_sag_close_to_a_chuck_is_a_clamped_bars(make_case: MakeCase) -> None:
    """Clamped and propped, w L^2 / 8 at the wall and a quarter of the span on nothing.

    Roark's case; from memory. In the middle the bar counts as if nothing held it upright.
    """
    case = make_case(
        supports__drive={"kind": "chuck", "grip": "30 mm"}, cross_hole__position="31 mm"
    )
    weight = 9.80665 * case.bar.material.density * pi / 4 * 0.03**2
    a, L = 0.031, 0.4
    propped = 3 * weight * L / 8  # the tail's push
    assert sag_moment(case) == pytest.approx(abs(propped * (L - a) - weight * (L - a) ** 2 / 2))
    middle = make_case(supports__drive={"kind": "chuck", "grip": "30 mm"})
    assert sag_moment(middle) == pytest.approx(weight * L**2 / 8)


def test_nothing_between_centres_is_bent_by_a_tail_out_of_line(make_case: MakeCase) -> None:
    assert misalignment_moment(make_case(), 0.3e-3) == 0.0


def test_stiff_jaws_bend_a_bar_out_of_line_as_a_propped_cantilever(make_case: MakeCase) -> None:
    # 3 E I offset / L^2 at the jaws, falling straight to the tail.
    drive = {"kind": "chuck", "grip": "0.002 mm", "radial_stiffness": "rigid"}
    case = make_case(
        supports__drive={**drive, "tilt_stiffness": "rigid"},
        supports__tail={"kind": "live centre", "radial_stiffness": "rigid"},
    )
    E = float(case.bar.material.elastic_modulus)
    at_jaws = 3 * E * pi * 0.03**4 / 64 * 1e-4 / 0.4**2
    assert misalignment_moment(case, 1e-4) == pytest.approx(at_jaws / 2, rel=1e-4)


def test_cut_that_turns_with_the_bar_does_not_reverse_in_it(make_case: MakeCase) -> None:
    fatigue = strength_of(make_case()).fatigue
    assert fatigue is not None
    each_pass, each_turn = fatigue.cycles
    assert each_turn.alternating < 0.2 * each_turn.steady
    assert each_pass.steady == pytest.approx(each_turn.steady / 2)
    assert each_pass.alternating == pytest.approx(each_pass.steady + each_turn.alternating)


def test_interrupted_cut_pulses_within_the_turn_and_lasts_less(make_case: MakeCase) -> None:
    whole = strength_of(make_case()).fatigue
    broken = strength_of(make_case(work__cuts_per_turn=2)).fatigue
    assert whole is not None
    assert broken is not None
    assert broken.cycles[1].alternating > 0.7 * whole.cycles[1].steady
    assert broken.margin.low < whole.margin.low
    assert broken.worst.name == "each turn"


def test_fatigue_is_not_judged_where_its_rules_do_not_hold(make_case: MakeCase) -> None:
    case = make_case(bar__material="ductile iron")
    found = strength_of(case)
    assert found.fatigue is None
    assert len(strength_findings(case, found)) == 1


def test_both_margins_are_judged_at_their_worst(make_case: MakeCase) -> None:
    case = make_case(limits={"yield_margin": 1e4, "fatigue_margin": 1e4})
    found = strength_of(case)
    findings = strength_findings(case, found)
    assert found.fatigue is not None
    assert [one.value for one in findings] == [found.yield_margin.low, found.fatigue.margin.low]
    assert not any(one.ok for one in findings)
    assert "run out long before strength" in findings[0].why


def test_no_force_has_no_limit(make_case: MakeCase) -> None:
    none = {"radial": "0.000001 N", "tangential": "0.000001 N"}
    assert strength_of(make_case(cut__force=none)).yield_margin.likely > 1e6


def test_mouth_of_a_set_screw_sees_what_bends_across(make_case: MakeCase) -> None:
    """A round hole in the plane that the tangential force bends: Roark's factor by hand.

    Before, a screw weakened nothing: a hole on the centre line hardly feels bending across.
    """
    on_line = {"shape": "round", "size": "8 mm", "position": "200 mm"}
    bare = strength_of(make_case(cross_hole=on_line))
    screwed = on_line | {"set_screws": [{"diameter": "6 mm"}]}
    with_screw = strength_of(make_case(cross_hole=screwed))
    assert bare.raiser.place == "the cross-hole"
    assert with_screw.raiser.place == "the mouth of a set screw's hole"
    load, D, a = with_screw.load, 0.03, 6 / 30
    raised = 3 - 6.690 * a + 44.739 * a**2 - 53.307 * a**3
    least = raised * 32 * load.bend_across / (pi * D**3)
    assert load.bend_across > 2 * load.bend_bit
    assert least < with_screw.peak.likely < 2 * least
    assert with_screw.peak.likely > 1.1 * bare.peak.likely
    assert with_screw.fatigue is not None
    assert with_screw.fatigue.place == with_screw.raiser.place


def test_worse_of_two_places_decides(make_case: MakeCase) -> None:
    small = {"size": "8 mm", "position": "200 mm", "set_screws": [{"diameter": "2 mm"}]}
    alone = strength_of(make_case(cross_hole=small | {"set_screws": []}))
    found = strength_of(make_case(cross_hole=small))
    assert found.raiser.place == "the cross-hole"
    assert found.yield_margin.low == pytest.approx(alone.yield_margin.low, rel=1e-4)
