"""Passes against hand-worked numbers: settings, spring carried over, spring passes, copying."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from conftest import MakeCase
from hypothesis import given
from hypothesis import strategies as st

from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case, conflicts
from barwright.analysis.cut import Roughing
from barwright.analysis.force import cutting_force
from barwright.analysis.judge import Band
from barwright.analysis.model import factorised
from barwright.analysis.passes import (
    PassPlan,
    bore_by_micrometer,
    equal_advance,
    micrometer_reading,
    pass_count,
    plan_passes,
    roughing_passes,
    short_fall_at,
    short_falls,
)
from barwright.analysis.statics import Statics, solve_statics

ratios = st.floats(0.0, 3.0)


def sprung(compliance: float) -> Statics:
    """Statics that only carry a give along the bit, m/N."""
    nothing = np.zeros(3)
    give = np.diag([compliance, 0.0, 0.0])
    return Statics(
        compliance=give,
        loop_compliance=give,
        deflection=nothing,
        diameter_error=0.0,
        ovality=0.0,
        sag=0.0,
        reactions=(),
        give=(),
        along=np.zeros((6, 1)),
        motion=nothing,
        unbalanced=0.0,
    )


def planned(case: Case, compliance: float = 1e-7, low: float = 1.0, high: float = 1.0) -> PassPlan:
    """Plan on a bar with this give, the ends of the size error in shares of the likely one."""
    band = Band(low=low, likely=1.0, high=high)
    return plan_passes(case, sprung(compliance), cutting_force(case), band)


# --- the micrometer --------------------------------------------------------------------------


def test_reading_of_the_worked_thread() -> None:
    """Common practice: 2.000 in over bit and a 1.500 in bar bores 2.500 in."""
    assert bore_by_micrometer(2.0, 1.5) == 2.5
    assert micrometer_reading(2.5, 1.5) == 2.0


def test_run_out_at_the_bit_adds_all_of_its_swing() -> None:
    """Bar axis off by half the swing, towards the bit: the radius grows by that half."""
    radius = 2.0 - 1.5 / 2 + 0.003 / 2
    assert bore_by_micrometer(2.0, 1.5, run_out=0.003) == pytest.approx(2 * radius, rel=1e-12)


def flat(side: str) -> list[dict[str, str]]:
    return [{"start": "180 mm", "end": "220 mm", "depth": "2 mm", "side": side}]


def test_flat_behind_the_bit_lets_the_anvil_in(make_case: MakeCase) -> None:
    """30 mm bar, edge at 25: 25 + 15 = 40 mm over round; 2 mm less over the flat, on any bore."""
    changes = {"work__start_bore": "49.22 mm"}
    round_, flatted = (
        planned(make_case(**changes, bar__flats=flats), compliance=0.0)
        for flats in ([], flat("back"))
    )
    assert round_.passes[-1].reading == pytest.approx(40.01e-3)
    assert flatted.passes[-1].reading == pytest.approx(38.01e-3)
    # bore = 2 x 38.01 - (30 - 2 x 2) = 50.02
    assert bore_by_micrometer(flatted.passes[-1].reading, flatted.bar_diameter) == pytest.approx(
        50.02e-3
    )


def test_flat_that_the_bit_comes_out_of_adds_to_what_sticks_out(make_case: MakeCase) -> None:
    """50 bore, 30 bar: 10 mm from round, 12 from a flat 2 deep; the reading is as on round."""
    plain, flatted = make_case(), make_case(bar__flats=flat("bit"))
    assert (plain.projection, flatted.projection) == pytest.approx((10e-3, 12e-3))
    typed = make_case(bar__flats=flat("bit"), bit__projection="12 mm")
    assert typed.edge_radius == pytest.approx(25e-3)
    assert (plain.bit_length, flatted.bit_length) == pytest.approx((40e-3, 40e-3))
    assert make_case(bar__flats=flat("back")).bit_length == pytest.approx(38e-3)
    assert planned(flatted).bar_diameter == pytest.approx(30e-3)


@pytest.mark.parametrize("side", ["leading", "trailing"])
def test_flat_beside_the_bit_changes_no_setting(make_case: MakeCase, side: str) -> None:
    case = make_case(bar__flats=flat(side))
    assert case.projection == pytest.approx(10e-3)
    assert planned(case).bar_diameter == pytest.approx(30e-3)


@given(bore=st.floats(0.01, 0.3), bar=st.floats(0.005, 0.1))
def test_reading_and_bore_undo_one_another(bore: float, bar: float) -> None:
    assert bore_by_micrometer(micrometer_reading(bore, bar), bar) == pytest.approx(bore)


# --- what spring leaves ----------------------------------------------------------------------


@given(ratio=ratios, count=st.integers(1, 8))
def test_spring_passes_are_the_geometric_series_of_the_fixed_point(
    ratio: float, count: int
) -> None:
    """One pass leaves a k_c/(k + k_c); each spring pass that share again."""
    k, k_c = 1.0, ratio
    left = short_falls([1e-4] + [0.0] * count, ratio)
    assert left[-1] == pytest.approx(1e-4 * (k_c / (k + k_c)) ** (count + 1), abs=1e-18)


@given(ratio=ratios)
def test_equal_advances_settle_at_the_whole_force_over_the_stiffness(ratio: float) -> None:
    """In the end each pass cuts what it advances, so it is pushed off by F_r(advance)/k."""
    assert short_falls([1e-4] * 200, ratio)[-1] == pytest.approx(1e-4 * ratio, abs=1e-15)


def test_balance_of_force_and_spring_in_a_pass() -> None:
    """Edge set 100 um out after 20 um were left: depth 96, spring 24, by hand at k_c = k/4."""
    first, second = short_falls([100e-6, 100e-6], 0.25)
    depth = 100e-6 + first - second
    assert (first, second, depth) == pytest.approx((20e-6, 24e-6, 96e-6))
    assert second == pytest.approx(0.25 * depth)


@given(count=st.integers(2, 6), ratio=ratios)
def test_with_the_planned_advance_the_last_setting_from_the_measured_bore_is_alike(
    count: int, ratio: float
) -> None:
    stock = 1e-3
    advance = equal_advance(stock, count, ratio)
    standing = short_falls([advance] * (count - 1), ratio)[-1]
    cut_so_far = (count - 1) * advance - standing
    assert stock - cut_so_far == pytest.approx(advance)


@pytest.mark.parametrize(
    ("stock_um", "depth_um", "count"),
    [(1000, 200, 5), (1000, 190, 5), (1000, 150, 7), (200, 200, 2), (210, 200, 2), (40, 200, 1)],
)
def test_number_of_passes(stock_um: float, depth_um: float, count: int) -> None:
    """Counted by hand: depth up to a tenth over, at least two, one where two would rub."""
    assert pass_count(stock_um * 1e-6, depth_um * 1e-6) == count


# --- a plan ----------------------------------------------------------------------------------


@pytest.fixture
def job(make_case: MakeCase) -> Case:
    """50 +0.04 bore from 49.22: 0.4 mm of stock on the radius, 0.2 mm deep, force typed."""
    return make_case(work__start_bore="49.22 mm", work__length="90 mm")


def test_rigid_bar_has_no_short_fall_and_reads_straight_to_size(job: Case) -> None:
    plan = planned(job, compliance=0.0)
    assert [one.short_fall.likely for one in plan.passes] == [0.0, 0.0]
    assert [one.bore.likely for one in plan.passes] == pytest.approx([49.62e-3, 50.02e-3])
    assert [one.reading for one in plan.passes] == pytest.approx([39.81e-3, 40.01e-3])
    assert [one.advance for one in plan.passes] == pytest.approx([0.2e-3, 0.2e-3])
    assert (plan.spring.worth, plan.spring.first.high, plan.copied.high) == (0, 0.0, 0.0)


def test_two_passes_on_a_springy_bar_by_hand(job: Case) -> None:
    """30 N at 0.2 mm on 0.1 um/N: k_c/k = 3 um / 200 um = 0.015, q = 0.015/1.015."""
    q = 0.015 / 1.015
    plan = planned(job)
    first, last = plan.passes
    assert plan.spring_ratio.likely == pytest.approx(0.015)
    a = 0.4e-3 / (2 - q)
    assert first.advance == pytest.approx(a)
    assert first.short_fall.likely == pytest.approx(q * a)
    assert first.bore.likely == pytest.approx(49.22e-3 + 2 * a * (1 - q))
    assert last.advance == first.advance
    assert last.bore_before == first.bore
    # final = measured + 2 x advance, short of it by the spring the second pass has more
    assert last.bore.likely == pytest.approx(first.bore.likely + 2 * a - 2 * q**2 * a)
    assert plan.aim - last.bore.likely == pytest.approx(2 * q**2 * a)


def test_measuring_before_the_last_pass_narrows_its_band(job: Case) -> None:
    plan = planned(job, low=0.5, high=3.0)
    first, last = (one.bore.high - one.bore.low for one in plan.passes)
    assert first == pytest.approx(2 * 0.2e-3 * (0.045 / 1.045 - 0.0075 / 1.0075), rel=0.02)
    assert last < first / 10


def test_bore_before_the_cut_not_given_plans_the_last_two(make_case: MakeCase) -> None:
    plan = planned(make_case(), compliance=0.0)
    assert not plan.start_known
    assert plan.passes[0].bore_before.likely == pytest.approx(50.02e-3 - 4 * 0.2e-3)
    assert [one.minutes for one in plan.passes] == [None, None]


def test_bore_past_the_middle_of_its_limits_is_steered_to_the_upper(
    make_case: MakeCase,
) -> None:
    case = make_case(work__start_bore="50.03 mm", cut__depth="0.005 mm")
    plan = planned(case)
    assert plan.aim == pytest.approx(50.04e-3)
    assert len(plan.passes) == 1
    assert not plan.last_is_measured


def test_minutes_are_length_over_feed_and_speed(job: Case) -> None:
    """90 mm at 0.1 mm/rev and 120 rpm: 900 turns, 7.5 minutes."""
    assert [one.minutes for one in planned(job).passes] == pytest.approx([7.5, 7.5])


def test_spring_passes_worth_making_by_hand(job: Case) -> None:
    """k_c = k: the last pass leaves 3/4 a; spring passes take off 3/8 a, 3/16 a, 3/32 a ..."""
    plan = planned(job, compliance=0.2e-3 / 30)
    assert plan.spring_ratio.likely == pytest.approx(1.0)
    a = 0.4e-3 / 1.5
    assert plan.passes[-1].short_fall.likely == pytest.approx(0.75 * a)
    assert plan.spring.recovered == pytest.approx([0.75 * a / 2**n for n in (1, 2, 3, 4)])
    assert plan.spring.first.likely == pytest.approx(0.75 * a)
    assert plan.spring.worth == 4
    assert planned(job).spring.worth == 0  # 3 um of spring: the edge would rub


# --- copying ---------------------------------------------------------------------------------


def test_nothing_is_copied_at_zero_lead_above_the_nose_by_radial_give_alone(
    make_case: MakeCase,
) -> None:
    case = make_case(cut__force=None, cut__depth="0.6 mm", bit__nose_radius="0.4 mm")
    assert planned(case).copied == Band(low=0.0, likely=0.0, high=0.0)


def test_lead_copies_by_the_slope_of_the_radial_force(make_case: MakeCase) -> None:
    """Above the nose the force grows along a straight side, so a difference is the slope."""
    case = make_case(cut__force=None, cut__depth="0.6 mm", bit__lead_angle="20 deg")

    def radial(depth: float) -> float:
        cut = case.cut.model_copy(update={"depth": depth})
        return float(cutting_force(case.model_copy(update={"cut": cut})).radial)

    slope = (radial(0.61e-3) - radial(0.59e-3)) / 0.02e-3
    k = 1e7
    assert planned(case).copied.likely == pytest.approx(slope / (k + slope), rel=1e-6)


@pytest.mark.parametrize("towards", ["headstock", "tailstock"])
@pytest.mark.parametrize("lead", ["0 deg", "20 deg"])
def test_copy_is_the_slope_of_the_radial_motion_of_two_whole_cuts(
    make_case: MakeCase, towards: str, lead: str
) -> None:
    """Forces at two depths, each on the bar; the bar's slope brings in the feed force."""
    case = make_case(
        cross_hole__position="110 mm",
        cut__force=None,
        cut__depth="0.6 mm",
        cut__feed_towards=towards,
        bit__lead_angle=lead,
    )
    statics = solve_statics(case, cutting_force(case), factorised(beam_model(case)))

    def radial_motion(depth: float) -> float:
        cut = case.cut.model_copy(update={"depth": depth})
        force = cutting_force(case.model_copy(update={"cut": cut}))
        along = -float(force.axial) if towards == "headstock" else float(force.axial)
        back = [-float(force.radial), -float(force.tangential), along]
        return float(statics.loop_compliance[0] @ back)

    g = -(radial_motion(0.61e-3) - radial_motion(0.59e-3)) / 0.02e-3
    plan = plan_passes(case, statics, cutting_force(case), Band.of(1.0))
    assert plan.copied.likely == pytest.approx(g / (1 + g), rel=1e-6)
    assert abs(g) > 1e-4  # at zero lead too
    if lead == "0 deg":
        assert (g < 0) == (towards == "headstock")


def test_copy_under_a_typed_force_is_at_the_depth_of_the_pass(make_case: MakeCase) -> None:
    """Twice as deep a pass as the case's takes the table's gains there, in proportion."""
    changes = {"bit__nose_radius": "0.8 mm", "work__start_bore": "49.62 mm"}
    typed = {"radial": "30 N", "tangential": "80 N", "axial": "20 N"}
    case = make_case(**changes, cut__depth="0.1 mm", cut__force=typed)
    plan = planned(case)
    assert len(plan.passes) == 2
    depth = (plan.aim - 49.62e-3) / 4
    table = cutting_force(make_case(**changes, cut__depth=f"{depth * 1e3} mm", cut__force=None))
    slope = table.edge.instant[0, 0] * 30 / float(table.radial) * depth / 0.1e-3
    assert plan.copied.likely == pytest.approx(1e-7 * slope / (1 + 1e-7 * slope), rel=1e-9)


def test_error_of_the_old_bore_is_copied_more_by_a_softer_bar(make_case: MakeCase) -> None:
    case = make_case(cut__force=None, bit__nose_radius="0.8 mm")
    stiff, soft = (planned(case, compliance=c).copied.likely for c in (1e-8, 1e-7))
    assert 0 < stiff < soft < 1


def test_typed_force_goes_with_the_depth_of_the_pass(job: Case) -> None:
    band = Band(low=1.0, likely=1.0, high=1.0)
    half = job.model_copy(update={"cut": job.cut.model_copy(update={"depth": 0.4e-3})})
    plan = plan_passes(half, sprung(1e-7), cutting_force(half), band)
    assert plan.spring_ratio.likely == pytest.approx(30 * 1e-7 / 0.4e-3)


# --- passes before the case's own ------------------------------------------------------------


def roughed(make_case: MakeCase) -> Case:
    case = make_case(work__start_bore="49.22 mm")
    rough = Roughing.model_validate(
        {"start_bore": "46.5 mm", "passes": 3, "feed": "0.1 mm/rev", "speed": "60 rpm"}
    )
    return case.model_copy(update={"roughing": rough})


def test_roughing_comes_first_and_passes_are_numbered_through(make_case: MakeCase) -> None:
    plan = planned(roughed(make_case))
    assert [one.number for one in plan.every] == list(range(1, len(plan.every) + 1))
    assert plan.every[0].bore_before.likely == pytest.approx(0.0465, abs=1e-12)
    assert plan.roughing[-1].bore.likely == pytest.approx(0.04922, abs=1e-9)
    for one, after in pairwise(plan.every):
        assert after.bore_before.likely == pytest.approx(one.bore.likely, abs=1e-9)


def test_roughing_passes_are_advanced_alike_and_the_first_is_the_deepest_cut(
    make_case: MakeCase,
) -> None:
    plan = planned(roughed(make_case))
    assert len({round(one.advance, 12) for one in plan.roughing}) == 1
    assert sum(one.depth.likely for one in plan.roughing) == pytest.approx((0.04922 - 0.0465) / 2)


def test_roughing_from_a_larger_bore_is_refused(make_case: MakeCase) -> None:
    case = roughed(make_case)
    assert not [one for one in conflicts(case) if one.key[0] == "roughing"]
    assert case.roughing is not None
    wrong = case.roughing.model_copy(update={"start_bore": 0.0495})
    found = conflicts(case.model_copy(update={"roughing": wrong}))
    assert any("nothing is left to rough" in one.message for one in found)


def test_roughing_readings_allow_for_run_out_as_the_last_ones_do() -> None:
    """By geometry: an edge that stands 25 um out with the bar bores 50 um large."""
    true, out = Band.of(0.0), Band(low=20e-6, likely=25e-6, high=30e-6)
    plain, bent = (
        roughing_passes(0.040, 0.001, 2, Band.of(0.05), 0.030, None, one) for one in (true, out)
    )
    for one, other in zip(plain, bent, strict=True):
        assert other.reading == pytest.approx(one.reading - 25e-6)
        assert other.bore.likely == pytest.approx(one.bore.likely)
        assert other.bore.high == pytest.approx(one.bore.high + 10e-6)
        assert other.bore.low == pytest.approx(one.bore.low - 10e-6)


# --- a pass of any depth ---------------------------------------------------------------------


def _pushed(depth: float, nose: float, exponent: float) -> float:
    """Push along the bit of a cut within the nose, over what the metal and the feed make of it.

    Kienzle's ``h^(1-m)`` on the chip ``h = f sin t`` of each piece of the nose, taken along the
    bit (``cos t``), from the bottom of the cut to its surface.
    """
    end = np.arccos(1 - depth / nose)
    middle = (np.arange(20_000) + 0.5) * end / 20_000
    return float(np.sum(np.sin(middle) ** (1 - exponent) * np.cos(middle)) * nose * end / 20_000)


def test_a_thinner_cut_is_pushed_off_by_more_of_its_depth(make_case: MakeCase) -> None:
    case = make_case(cut__force=None, bit__nose_radius="0.8 mm")
    found = [
        short_fall_at(case, sprung(1e-7), cutting_force(case), Band.of(1.0), 0.049, depth)
        for depth in (0.1e-3, 0.3e-3)
    ]
    exponent = float(case.work.material.normal_exponent)
    thin, thick = (_pushed(depth, 0.8e-3, exponent) / depth for depth in (0.1e-3, 0.3e-3))
    assert found[0] / found[1] == pytest.approx(thin / thick, rel=0.02)
    assert thin > 1.4 * thick


def test_a_roughing_pass_is_pushed_off_as_its_own_feed_says(make_case: MakeCase) -> None:
    """Kienzle: twice the feed pushes ``2^(1-m)`` times as hard, at the same depth."""
    case = make_case(
        cut__force=None,
        work__start_bore="49.6 mm",
        roughing={"start_bore": "47 mm", "passes": "3", "feed": "0.2 mm/rev", "speed": "120 rpm"},
    )
    assert not conflicts(case)

    def fall(before: float) -> float:
        return short_fall_at(case, sprung(1e-7), cutting_force(case), Band.of(1.0), before, 0.2e-3)

    exponent = float(case.work.material.normal_exponent)
    assert fall(0.047) / fall(0.0496) == pytest.approx(2 ** (1 - exponent), rel=1e-6)
