"""Run-out: patterns made by formula come back, doubt is said, and size follows the geometry."""

from __future__ import annotations

import time
from math import cos, radians, sin
from typing import Any

import numpy as np
import pytest
from conftest import MakeCase
from hypothesis import assume, given
from hypothesis import strategies as st
from test_passes import planned

from barwright.analysis.case import Case, conflicts
from barwright.analysis.choice import on_support, with_span
from barwright.analysis.passes import PassPlan, micrometer_reading, run_out_findings
from barwright.analysis.run_out import Pattern, meaning, run_out_pattern
from barwright.analysis.strength import misalignment_moment, tail_offset
from barwright.analysis.units import Estimate

SPAN, BIT = 0.4, 0.2
PLACES = (0.02, 0.1, 0.18, 0.3, 0.38)


def line(offset: complex, cock: complex, bow: complex, station: float) -> complex:
    """Off the line of turning, r + i t, m: worked here by itself."""
    z = station / SPAN
    return offset + cock * z + bow * 4 * z * (1 - z)


def readings(
    offset: complex = 0,
    cock: complex = 0,
    bow: complex = 0,
    *,
    angled: bool = True,
    division: float = 0.0,
    places: tuple[float, ...] = PLACES,
) -> list[dict[str, Any]]:
    """What an indicator of this division shows of it."""
    found = []
    for at in places:
        off = line(offset, cock, bow, at)
        swing = 2 * abs(off)
        if division:
            swing = round(swing / division) * division
        angle = {"high_at": float(np.angle(off))} if angled else {}
        found.append({"at": at, "reading": swing, **angle})
    return found


def read(make_case: MakeCase, rows: list[dict[str, Any]], division: float = 1e-6) -> Pattern:
    case = make_case(bar__run_out={"readings": rows, "indicator": division})
    found = run_out_pattern(case)
    assert found is not None
    return found


def test_without_readings_there_is_no_pattern(make_case: MakeCase) -> None:
    assert run_out_pattern(make_case()) is None


# --- patterns come back ----------------------------------------------------------------------


@pytest.mark.parametrize("angled", [True, False])
@pytest.mark.parametrize(
    ("offset", "cock", "bow", "name"),
    [
        (20e-6, 0, 0, "offset"),
        (0, 20e-6, 0, "cocked"),
        (20e-6, -20e-6, 0, "off at the drive end"),
        (0, 0, 20e-6, "bent"),
        (0, 0, 20e-6j, "bent"),
    ],
)
def test_one_fault_comes_back_with_its_swing(
    make_case: MakeCase, offset: complex, cock: complex, bow: complex, name: str, angled: bool
) -> None:
    found = read(make_case, readings(offset, cock, bow, angled=angled))
    assert found.name == name
    assert found.faults[0].swing == pytest.approx(40e-6, rel=1e-9)
    assert found.residual == pytest.approx(0.0, abs=1e-12)
    expected = 2 * abs(line(offset, cock, bow, BIT))
    assert found.swing_at_bit.likely == pytest.approx(expected)


def test_overhung_bar_has_no_tail_to_be_true_at(make_case: MakeCase) -> None:
    """Bent from the jaws outwards, the end goes off with the square of the distance."""
    rows = [{"at": x, "reading": 80e-6 * (x / SPAN) ** 2} for x in PLACES]
    case = make_case(
        supports={"drive": {"kind": "chuck"}},
        bar__run_out={"readings": rows, "indicator": 1e-6},
    )
    found = run_out_pattern(case)
    assert found is not None
    assert found.name == "bent"
    assert found.faults[0].swing == pytest.approx(80e-6)


@given(
    drive=st.complex_numbers(min_magnitude=2e-5, max_magnitude=1e-4),
    tail=st.complex_numbers(min_magnitude=2e-5, max_magnitude=1e-4),
    bow=st.complex_numbers(min_magnitude=2e-5, max_magnitude=1e-4),
)
def test_any_mixture_is_met_where_the_bit_stands(
    make_case: MakeCase, drive: complex, tail: complex, bow: complex
) -> None:
    truth = line(drive, tail - drive, bow, BIT)
    found = read(make_case, readings(drive, tail - drive, bow))
    assert found.along_bit.low - 1e-9 <= truth.real <= found.along_bit.high + 1e-9
    assert found.swing_at_bit.low - 1e-9 <= 2 * abs(truth) <= found.swing_at_bit.high + 1e-9


@given(
    cock=st.floats(-1e-4, 1e-4), bow=st.floats(-1e-4, 1e-4), division=st.sampled_from([5e-6, 1e-5])
)
def test_what_a_coarse_indicator_cannot_show_stays_in_the_band(
    make_case: MakeCase, cock: float, bow: float, division: float
) -> None:
    """Readings rounded to whole divisions, high spots not looked for, in one plane."""
    assume(abs(cock) + abs(bow) > 3 * division)
    rows = readings(cock=cock, bow=bow, angled=False, division=division)
    found = read(make_case, rows, division)
    truth = line(0, cock, bow, BIT).real
    assert found.swing_at_bit.low <= 2 * abs(truth) + 1e-12
    assert 2 * abs(truth) <= found.swing_at_bit.high + 1e-12
    assert found.along_bit.low <= truth <= found.along_bit.high


def test_bar_that_crosses_its_line_is_seen_through(make_case: MakeCase) -> None:
    """Readings have no sign: 40 um at one end down to nothing and up again is a straight bar."""
    rows = [{"at": x, "reading": abs(80e-6 * (x / SPAN - 0.45))} for x in PLACES]
    found = read(make_case, rows)
    assert found.name == "offset and cocked"
    assert found.residual == pytest.approx(0.0, abs=1e-12)
    assert found.swing_at_bit.likely == pytest.approx(80e-6 * 0.05)


def test_order_of_the_readings_does_not_matter(make_case: MakeCase) -> None:
    rows = readings(cock=3e-5, bow=5e-5)
    one, other = read(make_case, rows), read(make_case, rows[::-1])
    assert one.name == other.name
    assert one.along_bit == other.along_bit


@pytest.mark.parametrize("factor", [0.1, 7.0])
def test_pattern_scales_with_readings_and_indicator(make_case: MakeCase, factor: float) -> None:
    rows = readings(offset=2e-5, bow=3e-5, angled=False)
    grown = [{**row, "reading": factor * row["reading"]} for row in rows]
    one, other = read(make_case, rows, 1e-6), read(make_case, grown, factor * 1e-6)
    assert one.name == other.name
    assert other.swing_at_bit.high == pytest.approx(factor * one.swing_at_bit.high)


# --- what cannot be told ---------------------------------------------------------------------


def test_nothing_above_a_division_is_true_as_far_as_shown(make_case: MakeCase) -> None:
    rows = [{"at": x, "reading": 1e-5} for x in PLACES]
    found = read(make_case, rows, 1e-5)
    assert found.name == "true"
    assert "as far as this indicator can show" in meaning(found)
    assert found.swing_at_bit.high >= 1e-5


def test_one_reading_tells_how_much_and_not_why(make_case: MakeCase) -> None:
    found = read(make_case, [{"at": BIT, "reading": 5e-5}])
    assert (found.told, found.name) == (False, "cannot tell")
    assert meaning(found).startswith("one reading tells how much and not why")
    assert found.swing_at_bit.likely == pytest.approx(5e-5)


@pytest.mark.parametrize(("at", "doubt"), [(0.211, 5e-7), (0.25, 5e-5 + 5e-7)])
def test_reading_beside_the_hole_stands_for_the_bit_and_one_farther_off_does_not(
    make_case: MakeCase, at: float, doubt: float
) -> None:
    """Half a division either way beside the hole, 8 mm wide; all of the reading farther off."""
    swing = read(make_case, [{"at": at, "reading": 5e-5}]).swing_at_bit
    assert (swing.low, swing.high) == pytest.approx((max(0.0, 5e-5 - doubt), 5e-5 + doubt))


def test_same_place_read_twice_is_still_one_place(make_case: MakeCase) -> None:
    found = read(make_case, [{"at": BIT, "reading": 5e-5}] * 2)
    assert not found.told
    assert "2 readings tell how much" in meaning(found)


def test_readings_in_the_middle_alone_do_not_tell_bent_from_offset(make_case: MakeCase) -> None:
    rows = readings(bow=2e-5, places=(0.18, 0.2, 0.22), angled=False)
    found = read(make_case, rows, 1e-5)
    assert not found.told
    assert {"offset", "bent"} <= set(found.rivals)
    assert "alike. Read five places, close to both supports" in meaning(found)
    assert found.swing_at_bit.low <= 4e-5 <= found.swing_at_bit.high


def test_readings_that_follow_nothing_are_not_explained(make_case: MakeCase) -> None:
    swings = (5e-5, 0.0, 9e-5, 1e-5, 6e-5)
    rows = [
        {"at": x, "reading": y, "high_at": z}
        for x, y, z in zip(PLACES, swings, (0, 2, 4, 1, 3), strict=True)
    ]
    found = read(make_case, rows)
    assert not found.told
    assert found.residual is None
    assert "not be round" in meaning(found)
    assert found.swing_at_bit.high > 5e-5


def test_meaning_says_what_mends_it(make_case: MakeCase) -> None:
    assert "straighten it" in meaning(read(make_case, readings(bow=2e-5)))


def test_indicator_that_nobody_named_may_be_a_coarse_one(make_case: MakeCase) -> None:
    """Left out, a division is 0.01 mm and may be a thou: half of it either way, at the least."""
    rows = readings(offset=5e-5, angled=False)
    guessed = run_out_pattern(make_case(bar__run_out={"readings": rows}))
    typed = read(make_case, rows, 1e-5)
    assert guessed is not None
    assert guessed.name == typed.name == "offset"
    widths = [one.swing_at_bit.high - one.swing_at_bit.low for one in (guessed, typed)]
    assert widths[0] == pytest.approx(2.54 * widths[1])


def test_forty_readings_are_sorted_out_in_good_time(make_case: MakeCase) -> None:
    places = tuple(np.linspace(0.01, 0.39, 40))
    rows = readings(offset=5e-5, cock=-9e-5, bow=3e-5, angled=False, places=places)
    began = time.perf_counter()
    found = read(make_case, rows)
    assert time.perf_counter() - began < 2
    assert found.swing_at_bit.likely == pytest.approx(
        2 * abs(line(5e-5, -9e-5, 3e-5, BIT)), rel=0.02
    )


# --- what it does to size --------------------------------------------------------------------


def one_pass(make_case: MakeCase, rows: list[dict[str, Any]], division: float = 1e-6) -> Case:
    """One cut of 0.04 mm on the radius, too thin to be two, to the middle of the limits."""
    run_out = {"readings": rows, "indicator": division}
    return make_case(work__start_bore="49.94 mm", bar__run_out=run_out)


def bore_made(case: Case, plan: PassPlan, off: complex) -> float:
    """Edge at its place on the bar, the bar's middle off the line of turning: twice its reach."""
    edge = plan.passes[-1].reading - case.bar.diameter / 2
    return 2 * abs(complex(edge, 0) + off)


@given(size=st.floats(5e-6, 1e-4), angle=st.floats(-180, 180))
def test_settings_allow_for_run_out_that_is_known(
    make_case: MakeCase, size: float, angle: float
) -> None:
    off = size * complex(cos(radians(angle)), sin(radians(angle)))
    case = one_pass(make_case, readings(offset=off))
    plan = planned(case, compliance=0.0)
    # Across the bit it only counts by its square over the radius.
    second = off.imag**2 / 0.0245 + 1e-9
    assert bore_made(case, plan, off) == pytest.approx(plan.aim, abs=second)
    # Bore = 2 x reading - bar diameter + twice the part along the bit.
    assert plan.passes[-1].reading == pytest.approx(
        micrometer_reading(plan.aim, case.bar.diameter) - off.real, abs=1e-12
    )


def test_run_out_of_unknown_direction_opens_or_closes_the_bore_by_its_swing(
    make_case: MakeCase,
) -> None:
    """3 thou TIR: up to 3 thou on the bore (common practice), either way."""
    tir = 3 * 25.4e-6
    case = one_pass(make_case, readings(offset=tir / 2, angled=False), 1e-9)
    plan = planned(case, compliance=0.0)
    last = plan.passes[-1].bore
    assert last.likely == pytest.approx(plan.aim)
    assert last.high == pytest.approx(plan.aim + tir, abs=1e-8)
    assert last.low == pytest.approx(plan.aim - tir, abs=1e-8)


def test_measured_bore_before_the_last_pass_takes_run_out_out(make_case: MakeCase) -> None:
    run_out = {"readings": readings(offset=1e-5, angled=False), "indicator": 1e-6}
    case = make_case(work__start_bore="49.3 mm", bar__run_out=run_out)
    plan = planned(case, compliance=0.0)
    assert plan.last_is_measured
    assert plan.passes[-1].bore.high - plan.passes[-1].bore.low < 1e-12
    assert plan.passes[0].bore.high - plan.passes[0].bore.low == pytest.approx(4e-5, rel=0.1)


def test_edge_set_short_of_the_wall_cuts_nothing(make_case: MakeCase) -> None:
    run_out = {"readings": readings(offset=5e-4, angled=False), "indicator": 1e-6}
    case = make_case(work__start_bore="49.3 mm", bar__run_out=run_out)
    first = planned(case).passes[0]
    assert first.depth.low == 0.0
    assert first.bore.low == pytest.approx(0.0493)


def test_no_readings_leave_the_plan_as_it_was(make_case: MakeCase) -> None:
    true = [{"at": x, "reading": 0.0, "high_at": 0.0} for x in PLACES]
    plain, read_true = make_case(), one_pass(make_case, true, 1e-12)
    assert planned(plain).run_out is None
    ends = planned(read_true).run_out
    assert ends is not None
    assert ends.high == pytest.approx(0.0, abs=1e-11)


def test_size_that_run_out_leaves_open_is_judged_where_nothing_takes_it_out(
    make_case: MakeCase,
) -> None:
    unknown = one_pass(make_case, readings(offset=2e-5, angled=False))
    found = run_out_findings(unknown, planned(unknown))
    assert [(one.what, one.ok) for one in found] == [("size that run-out leaves open", False)]
    assert found[0].value == pytest.approx(4e-5, rel=0.05)
    known = one_pass(make_case, readings(offset=2e-5))
    assert [one.ok for one in run_out_findings(known, planned(known))] == [True]
    two = make_case(bar__run_out={"readings": readings(offset=2e-5)}, work__start_bore="49.3 mm")
    assert run_out_findings(two, planned(two)) == ()
    assert run_out_findings(make_case(), planned(make_case())) == ()


# --- the tail off line -----------------------------------------------------------------------


def test_tail_off_line_is_a_guess_until_it_is_typed(make_case: MakeCase) -> None:
    guessed = make_case(supports__drive={"kind": "chuck"})
    guess = tail_offset(guessed)
    assert isinstance(guess, Estimate)
    assert (guess.low, guess.high) == (5e-5, 3e-4)
    typed = make_case(supports__drive={"kind": "chuck", "tail_offset": "0.02 mm"})
    assert tail_offset(typed) == pytest.approx(2e-5)
    assert tail_offset(make_case()) == 0.0
    ratio = misalignment_moment(typed, tail_offset(typed)) / misalignment_moment(
        guessed, tail_offset(guessed)
    )
    assert ratio == pytest.approx(0.2)


def test_readings_do_not_follow_the_bar_to_another_set_up(make_case: MakeCase) -> None:
    case = make_case(bar__run_out={"readings": readings(bow=2e-5)})
    assert with_span(case, 0.3).bar.run_out is None
    assert on_support(case, "chuck").bar.run_out is None
    assert conflicts(with_span(case, 0.3)) == ()
