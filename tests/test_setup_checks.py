"""Checks before cutting: limits that follow the job, and practice where no number decides."""

from __future__ import annotations

from dataclasses import replace
from math import inf, pi, sin

import numpy as np
import pytest
from conftest import MakeCase
from late_runs import late_run

from barwright.analysis.case import Case
from barwright.analysis.firmness import Bench, firmer, likely_margin, stiffness_of
from barwright.analysis.run import Outcome
from barwright.analysis.setup_checks import (
    SetupCheck,
    expansion,
    fatigue_offset,
    said,
    setup_checks,
    tolerance,
)

CHUCK = {"kind": "chuck", "grip": "40 mm", "radial_stiffness": "60 N/um"}
SCREW = [{"diameter": "6 mm"}]


def kept(case: Case) -> Outcome:
    """A run of the case, its limits taken as kept: only the check of the drive asks for them."""
    return replace(late_run(case), findings=())


def checked(case: Case) -> dict[str, SetupCheck]:
    return {check.what: check for check in setup_checks(case, kept(case))}


@pytest.fixture(scope="module")
def plain(make_case: MakeCase) -> dict[str, SetupCheck]:
    return checked(make_case())


@pytest.fixture(scope="module")
def tight(make_case: MakeCase) -> dict[str, SetupCheck]:
    return checked(make_case(work__bore="50 +0.02 -0 mm"))


def test_run_out_may_take_a_quarter_of_the_width_between_the_limits(
    plain: dict[str, SetupCheck],
) -> None:
    assert plain["run-out of the bar beside the bit"].limit == pytest.approx(0.04e-3 / 4)


def test_limits_that_follow_the_tolerance_halve_with_it(
    plain: dict[str, SetupCheck], tight: dict[str, SetupCheck]
) -> None:
    for what in (
        "run-out of the bar beside the bit",
        "bow of the bar",
        "rock of carriage and cross slide",
        "bit set again to the same size",
        "bore no warmer than its gauge",
    ):
        assert tight[what].limit == pytest.approx(plain[what].limit / 2), what


def test_spring_at_the_bit_must_double_when_the_tolerance_halves(
    plain: dict[str, SetupCheck], tight: dict[str, SetupCheck]
) -> None:
    what = "spring at the bit, bar against work"
    assert tight[what].limit == pytest.approx(2 * plain[what].limit)


def test_practice_does_not_follow_the_tolerance(
    plain: dict[str, SetupCheck], tight: dict[str, SetupCheck]
) -> None:
    practice = [what for what, check in plain.items() if check.origin == "common practice"]
    assert practice
    for what in practice:
        assert tight[what].limit == plain[what].limit


def test_no_limit_is_finer_than_an_indicator_shows(make_case: MakeCase) -> None:
    fine = checked(make_case(work__bore="50 +0.004 -0 mm"))
    check = fine["run-out of the bar beside the bit"]
    assert check.limit == pytest.approx(2.5e-6)
    assert "what a tenths indicator shows" in check.why


def test_a_bore_without_limits_takes_the_size_error_both_ways(make_case: MakeCase) -> None:
    case = make_case(work__bore="50 mm", limits__size_error="0.03 mm")
    assert tolerance(case) == pytest.approx(0.06e-3)


def test_bow_off_mid_span_shows_less_at_the_bit_and_may_be_more(make_case: MakeCase) -> None:
    aside = checked(make_case(cross_hole__position="100 mm"))
    quarter = 0.04e-3 / 4
    assert aside["bow of the bar"].limit == pytest.approx(quarter / sin(pi * 100 / 400))


def test_old_bore_must_lie_so_that_the_first_cut_cleans_up(make_case: MakeCase) -> None:
    case = make_case(work__start_bore="49.2 mm", cut__depth="0.2 mm")
    outcome = kept(case)
    check = next(one for one in setup_checks(case, outcome) if one.what.startswith("old bore"))
    depth = outcome.passes.passes[0].depth.low
    assert check.limit == pytest.approx(2 * (depth - 25e-6))
    assert check.limit < 2 * depth


def test_a_warm_bore_of_bronze_has_less_leave_than_one_of_iron(
    make_case: MakeCase, plain: dict[str, SetupCheck]
) -> None:
    what = "bore no warmer than its gauge"
    iron = plain[what]
    bronze = checked(make_case(work__material="leaded bronze"))[what]
    assert iron.limit == pytest.approx(0.1 * 0.04e-3 / (10.8e-6 * 50e-3))
    assert bronze.limit < iron.limit
    assert iron.origin == "from memory"
    assert iron.unit == "K"


@pytest.mark.parametrize(
    ("metal", "least", "most"),
    [
        ("grey iron", 9e-6, 12e-6),
        ("ductile iron", 10e-6, 13e-6),
        ("low-carbon steel", 11e-6, 13e-6),
        ("stainless 304", 15e-6, 18e-6),
        ("brass", 18e-6, 21e-6),
        ("phosphor bronze", 17e-6, 19e-6),
        ("something of our own", 20e-6, 30e-6),
    ],
)
def test_metals_grow_as_handbooks_have_it(metal: str, least: float, most: float) -> None:
    # Ranges of any handbook, from memory; an unknown metal is taken at its worst.
    assert least <= expansion(metal) <= most


# --- tail out of line ------------------------------------------------------------------------


def test_a_tail_out_of_line_is_checked_in_jaws_and_not_between_centres(
    make_case: MakeCase, plain: dict[str, SetupCheck]
) -> None:
    what = "tail out of line with the jaws"
    assert what not in plain
    assert checked(make_case(supports__drive=CHUCK))[what].limit <= 0.1e-3


def test_at_the_tail_offset_of_fatigue_the_margin_is_just_the_wanted_one(
    make_case: MakeCase,
) -> None:
    case = make_case(supports__drive=CHUCK | {"tail_offset": "0.1 mm"})
    offset = fatigue_offset(case, late_run(case))
    assert offset is not None
    there = make_case(supports__drive=CHUCK | {"tail_offset": f"{offset * 1e3:.6f} mm"})
    fatigue = late_run(there).strength.fatigue
    assert fatigue is not None
    # Where the run judges it: at the heavy end of what was guessed.
    assert fatigue.margin.low == pytest.approx(case.limits.fatigue_margin, rel=1e-3)


def test_a_bar_near_its_fatigue_limit_sets_the_tail_offset(make_case: MakeCase) -> None:
    what = "tail out of line with the jaws"
    stout = checked(make_case(supports__drive=CHUCK))[what]
    tired = checked(make_case(supports__drive=CHUCK, limits__fatigue_margin="60"))[what]
    assert (stout.origin, tired.origin) == ("common practice", "computed")
    assert tired.limit < stout.limit


def test_no_tail_no_check_of_the_tail(make_case: MakeCase) -> None:
    overhung = make_case(
        bar__span="150 mm",
        cross_hole__position="120 mm",
        supports__drive=CHUCK,
        supports__tail=None,
    )
    assert not [what for what in checked(overhung) if "tail" in what or "quill" in what]


# --- push tests ------------------------------------------------------------------------------


def guessed(make_case: MakeCase) -> Case:
    """A case that chatters or not by its springs: force from the table, a work side that gives."""
    return make_case(
        work__radial_stiffness="30 N/um",
        cut__force=None,
        cut__speed="60 rpm",
        limits__size_error="0.05 mm",
    )


def test_at_the_least_stiffness_the_limit_that_decides_is_just_kept(make_case: MakeCase) -> None:
    case = guessed(make_case)
    found = Bench(case).least("work side")
    assert found is not None
    assert found.decides == "chatter"
    assert found.holds
    kept = firmer(case, "work side", found.least / found.likely)
    lost = firmer(case, "work side", 0.9 * found.least / found.likely)
    assert likely_margin(kept) >= 1.0 > likely_margin(lost)


def test_where_a_limit_fails_the_check_says_how_firm_the_part_must_be(
    make_case: MakeCase,
) -> None:
    case = make_case(supports__tail__radial_stiffness="0.9 N/um", limits__size_error="0.02 mm")
    found = Bench(case).least("tail")
    assert found is not None
    assert found.decides == "size"
    assert found.least > found.likely == 0.9e6
    check = checked(case)["spring of the tail support"]
    assert check.limit == pytest.approx(found.least)
    assert "not enough" in check.why


def test_a_softer_tail_costs_size_as_by_hand(make_case: MakeCase) -> None:
    # Bit at mid-span: half of the push on the tail, half of its give at the bit, and twice the
    # movement on the diameter. No feed force, whose arm would lean the bar on one support.
    pushed = {"radial": "30 N", "tangential": "80 N", "axial": "0 N"}
    soft, firm = (
        make_case(supports__tail__radial_stiffness=stiffness, cut__force=pushed)
        for stiffness in ("1 N/um", "2 N/um")
    )
    more = Bench(soft).size(soft)[0] - Bench(firm).size(firm)[0]
    assert more == pytest.approx(2 * 30 * (1 / 1e6 - 1 / 2e6) / 4, rel=0.01)


def test_a_rigid_part_needs_no_push(make_case: MakeCase) -> None:
    case = make_case()
    assert stiffness_of(case, "work side") == inf
    assert Bench(case).least("work side") is None


# --- screws and words ------------------------------------------------------------------------


def test_a_thread_that_strips_early_lowers_the_torque(make_case: MakeCase) -> None:
    quarter = [{"diameter": "1/4 in"}]
    hard = make_case(cross_hole__set_screws=quarter)
    soft = make_case(bar__material="6061", cross_hole__set_screws=quarter)
    what = "torque of the 1/4-20 set screw"
    torques = [checked(case)[what].limit for case in (hard, soft)]
    assert torques[0] > torques[1]
    screw = late_run(soft).holding.screws[0]
    assert torques[1] == pytest.approx(0.7 * screw.stripping_torque)


def test_a_bar_without_known_screws_has_no_torque_to_check(plain: dict[str, SetupCheck]) -> None:
    assert not [what for what in plain if "torque" in what]


@pytest.mark.parametrize(
    ("value", "kind", "text"),
    [
        (6.2e-6, "length", "6.2 um (0.24 thou)"),
        (0.1e-3, "length", "0.1 mm (3.9 thou)"),
        (32e-3, "length", "32 mm (1.3 in)"),
        (10.5e6, "stiffness", "10 N/um (60 lbf/thou)"),
        (5.0, "temperature", "5 C (9 F)"),
        (30.0, "torque", "30 N.m (270 lbf.in)"),
    ],
)
def test_limits_are_said_in_both_unit_systems(value: float, kind: str, text: str) -> None:
    assert said(value, kind, "mm") == text


def test_inch_first_for_a_job_in_inches() -> None:
    assert said(25.4e-6, "length", "inch") == "1 thou (25 um)"
    assert said(5.0, "temperature", "inch") == "9 F (5 C)"
    assert said(0.25 * 0.0254, "length", "inch") == "1/4 in (6.3 mm)"


def test_every_check_says_what_how_and_why_in_plain_ascii(make_case: MakeCase) -> None:
    case = make_case(supports__drive=CHUCK, cross_hole__set_screws=SCREW, work__length="80 mm")
    found = setup_checks(case, kept(case))
    assert len(found) >= 14
    for check in found:
        assert check.limit_text("mm").startswith(("at most ", "at least ", "about "))
        for text in (check.what, check.by, check.how, check.why):
            assert text
            assert text.isascii()


def test_the_run_of_a_case_that_fails_still_says_what_to_check(make_case: MakeCase) -> None:
    case = make_case(limits__size_error="0.0001 mm")
    outcome = late_run(case)
    assert not outcome.within_limits
    assert setup_checks(case, outcome)


def test_a_pinched_ring_goes_nearly_four_times_out_of_round_what_its_wall_moves(
    make_case: MakeCase, plain: dict[str, SetupCheck]
) -> None:
    """Castigliano on a quarter of a thin ring of radius 1 and stiffness 1, pinched by W = 1.

    Moment M(a) = M0 + cos(a)/2 from the plane square to the load, M0 so that nothing turns there;
    the loaded diameter closes by the energy's derivative, the other opens by a dummy load's.
    """
    a = np.linspace(0.0, np.pi / 2, 20_001)
    shape = (1 - np.cos(a)) / 2
    moment = shape - np.trapezoid(shape, a) / (np.pi / 2)
    closed = 4 * np.trapezoid(moment * shape, a)
    dummy = np.sin(a) / 2
    opened = 4 * np.trapezoid(moment * dummy, a)
    ratio = (closed + opened) / (closed / 2)
    found = plain["spring of the bore's wall while clamping"]
    assert found.limit == pytest.approx(make_case().allowed_ovality / ratio, rel=1e-3)
