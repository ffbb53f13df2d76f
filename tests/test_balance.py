"""Balance against integrals, the standard's definition and a pull solved by itself."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import pytest
from conftest import MakeCase
from hypothesis import given
from hypothesis import strategies as st
from references import integrated_section
from scipy.integrate import dblquad, solve_ivp

from barwright.analysis.balance import (
    Balance,
    Heavy,
    allowed_offset,
    allowed_unbalance,
    amplification,
    balance_grade,
    flat_moment,
    reached,
    removed_by_hole,
    solve_balance,
    tapped_hole,
    unbalance_pull,
)
from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case
from barwright.analysis.force import cutting_force
from barwright.analysis.model import factorised
from barwright.analysis.run_out import run_out_pattern
from barwright.analysis.statics import mean_compliance

speeds = st.floats(0.5, 60.0)
STEEL = 7850.0
"""Density of 4140 in the shipped table, kg/m3."""


def balance_of(case: Case, pitch: float = 400.0) -> Balance:
    factored = factorised(beam_model(case))
    return solve_balance(case, cutting_force(case), factored, pitch, run_out_pattern(case))


def part(found: Balance, name: str) -> Heavy:
    return next(one for one in found.parts if one.name == name)


# --- the standard ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("grade", "rpm", "offset", "allowed"),
    [
        (6.3, 500, 120.32, 185.45),
        (6.3, 1000, 60.16, 92.73),
        (6.3, 3000, 20.05, 30.91),
        (16.0, 500, 305.58, 470.99),
        (2.5, 3000, 7.958, 12.27),
    ],
)
def test_grade_allows_what_its_definition_says(
    grade: float, rpm: float, offset: float, allowed: float
) -> None:
    """G/Omega worked by hand: um, and g mm for a bar of 1.5413 kg."""
    assert allowed_offset(grade / 1e3, rpm / 60) * 1e6 == pytest.approx(offset, rel=3e-4)
    found = allowed_unbalance(grade / 1e3, 1.5413, rpm / 60) * 1e6
    assert found == pytest.approx(allowed, rel=4e-4)


@given(unbalance=st.floats(1e-9, 1e-1), mass=st.floats(0.1, 100.0), spin=speeds)
def test_unbalance_that_a_grade_allows_has_that_grade(
    unbalance: float, mass: float, spin: float
) -> None:
    grade = balance_grade(unbalance, mass, spin)
    assert allowed_unbalance(grade, mass, spin) == pytest.approx(unbalance)


@pytest.mark.parametrize(
    ("grade", "kept"), [(0.0, 0.4), (2.5e-3, 2.5), (2.6e-3, 6.3), (4.0, 4000.0), (4.1, None)]
)
def test_grade_reached_is_the_finest_that_holds(grade: float, kept: float | None) -> None:
    assert reached(grade) == kept


# --- turning ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ratio", "whirl"),
    [(0.1, 0.01010), (0.5, 0.33321), (0.9, 4.18863), (1.0, 25.0), (2.0, 1.33286)],
)
def test_whirl_over_eccentricity_is_the_tabled_one(ratio: float, whirl: float) -> None:
    """Jeffcott's disc, damping 2 %; the figures are in any rotor text."""
    assert ratio**2 * amplification(ratio, 0.02) == pytest.approx(whirl, rel=6e-4)


@pytest.mark.parametrize("ratio", [0.3, 0.9, 1.0, 1.7])
def test_amplification_is_what_a_mass_on_a_spring_settles_to(ratio: float) -> None:
    """Stepped, x'' + 2 z x' + x = cos(r t), until what it started with has died."""
    damping = 0.1

    def motion(t: float, state: np.ndarray) -> list[float]:
        x, v = state
        return [v, float(np.cos(ratio * t)) - 2 * damping * v - x]

    turn = 2 * pi / ratio
    times = 150.0 + np.linspace(0.0, turn, 400)
    solved = solve_ivp(motion, (0.0, times[-1]), [0.0, 0.0], t_eval=times, rtol=1e-9, atol=1e-10)
    assert np.abs(solved.y[0]).max() == pytest.approx(amplification(ratio, damping), rel=1e-4)


@given(unbalance=st.floats(1e-9, 1e-1), spin=speeds, faster=st.floats(1.1, 10.0))
def test_pull_goes_with_the_square_of_speed(unbalance: float, spin: float, faster: float) -> None:
    slow, fast = (unbalance_pull(unbalance, n) for n in (spin, faster * spin))
    assert fast == pytest.approx(faster**2 * slow)


# --- volumes ---------------------------------------------------------------------------------


def test_square_hole_takes_what_its_section_says(make_case: MakeCase) -> None:
    case = make_case(cross_hole__offset="3 mm")
    sums = integrated_section(
        0.015, lambda t: (-sqrt(0.015**2 - t**2), sqrt(0.015**2 - t**2)), (-0.007, 0.001)
    )
    volume, radial, tangential = removed_by_hole(case, case.cross_hole)
    assert volume == pytest.approx(0.008 * sums.area, rel=1e-10)
    assert tangential == pytest.approx(0.008 * sums.area * sums.centre_t, rel=1e-10)
    assert radial == pytest.approx(0.0, abs=1e-20)


def test_round_hole_as_wide_as_the_bar_takes_the_solid_of_two_cylinders(
    make_case: MakeCase,
) -> None:
    """16 R^3/3, which Archimedes knew."""
    case = make_case(cross_hole={"shape": "round", "size": "30 mm", "position": "200 mm"})
    volume, radial, tangential = removed_by_hole(case, case.cross_hole)
    assert volume == pytest.approx(16 * 0.015**3 / 3, rel=1e-9)
    assert (radial, tangential) == pytest.approx((0.0, 0.0), abs=1e-18)


@given(
    size=st.floats(0.003, 0.011),
    share=st.floats(-0.5, 0.5),
    depth=st.floats(0.0005, 0.004),
    side=st.sampled_from(["bit", "back"]),
)
def test_round_hole_under_a_flat_against_a_sum_over_its_disc(
    make_case: MakeCase, size: float, share: float, depth: float, side: str
) -> None:
    case = make_case(
        cross_hole={"shape": "round", "size": size, "position": 0.2, "offset": share * size},
        bar__flats=[{"start": 0.18, "end": 0.22, "depth": depth, "side": side}],
    )
    middle, cut = -share * size, 0.015 - depth
    towards = 1.0 if side == "bit" else -1.0

    # The disc of the hole in small pieces, round and round: midpoints, no strips.
    q = (np.arange(600) + 0.5)[:, None] * size / 1200
    angle = (np.arange(600) + 0.5)[None, :] * 2 * pi / 600
    t, piece = middle + q * np.sin(angle), q * (size / 1200) * (2 * pi / 600)
    round_ = np.sqrt(0.015**2 - t**2)
    flat = np.minimum(round_, cut)
    volume, radial, tangential = removed_by_hole(case, case.cross_hole)
    assert volume == pytest.approx(np.sum(piece * (round_ + flat)), rel=1e-4)
    expected = np.sum(piece * (flat**2 - round_**2)) / 2
    assert radial == pytest.approx(towards * expected, rel=1e-3, abs=1e-13)
    expected = np.sum(piece * t * (round_ + flat))
    assert tangential == pytest.approx(expected, rel=1e-4, abs=1e-13)


def test_tapped_hole_against_a_double_integral() -> None:
    radius, diameter, wall = 0.014, 0.006, 0.001

    def along(power: int) -> float:
        found, _ = dblquad(
            lambda a, q: (
                q * (sqrt(radius**2 - (q * np.cos(a)) ** 2) ** power - wall**power) / power
            ),
            0.0,
            diameter / 2,
            0.0,
            2 * pi,
        )
        return float(found)

    assert tapped_hole(radius, diameter, wall) == pytest.approx((along(1), along(2)), rel=1e-7)


@pytest.mark.parametrize("depth", [0.0005, 0.003, 0.015])
def test_flat_takes_the_moment_of_its_segment(depth: float) -> None:
    sums = integrated_section(
        0.015, lambda t: (-sqrt(0.015**2 - t**2), sqrt(0.015**2 - t**2)), (0.015 - depth, 0.015)
    )
    assert flat_moment(0.03, depth) == pytest.approx(sums.area * sums.centre_t, rel=1e-6)


# --- a case ----------------------------------------------------------------------------------


def chucked(make_case: MakeCase, **changes: object) -> Case:
    """The plain bar in a chuck, so that no dog hangs on it."""
    return make_case(supports__drive={"kind": "chuck"}, **changes)


def test_bit_by_hand(make_case: MakeCase) -> None:
    """8 mm square, from the edge at 25 to the far side at -15: 40 long, its middle at +5, -4."""
    bit = part(balance_of(chucked(make_case)), "bit")
    mass = 8160 * 0.008**2 * 0.04
    assert bit.radial == pytest.approx(mass * 0.005)
    assert bit.tangential == pytest.approx(-mass * 0.004)


def test_hole_towards_the_trailing_side_leaves_the_leading_side_heavy(make_case: MakeCase) -> None:
    hole = part(balance_of(chucked(make_case)), "cross-hole")
    assert hole.tangential > 0
    assert hole.radial == pytest.approx(0.0, abs=1e-12)


def test_screw_that_fills_its_hole_hardly_counts_and_a_short_one_shifts_the_band(
    make_case: MakeCase,
) -> None:
    screws = [{"diameter": "6 mm"}]
    found = balance_of(chucked(make_case, cross_hole__set_screws=screws))
    without = balance_of(chucked(make_case))
    assert found.unbalance.likely == pytest.approx(without.unbalance.likely, rel=0.01)
    assert found.unbalance.high > 1.02 * found.unbalance.likely


def test_mass_off_centre_adds_its_moment_towards_its_side(make_case: MakeCase) -> None:
    collar = {"name": "clamp", "mass": "0.2 kg", "position": "100 mm"}
    off = {**collar, "off_centre": "10 mm", "side": "trailing"}
    assert part(balance_of(chucked(make_case, bar__carries=[off])), "clamp").tangential == (
        pytest.approx(-0.002)
    )
    plain = balance_of(chucked(make_case, bar__carries=[collar]))
    assert "clamp" not in [one.name for one in plain.parts]


def test_flat_behind_the_bit_leaves_the_bit_side_heavy(make_case: MakeCase) -> None:
    flat = {"start": "50 mm", "end": "150 mm", "depth": "2 mm", "side": "back"}
    # Half the chord of a 2 mm flat on 15 mm: sqrt(15^2 - 13^2).
    expected = STEEL * 0.1 * 2 / 3 * sqrt(0.015**2 - 0.013**2) ** 3
    found = part(balance_of(chucked(make_case, bar__flats=[flat])), "flats")
    assert found.radial == pytest.approx(expected, rel=1e-3)


def test_mass_is_bar_bit_and_dog(make_case: MakeCase) -> None:
    bar = STEEL * (pi * 0.03**2 / 4 * 0.4)
    found = balance_of(make_case()).mass
    assert found == pytest.approx(bar + 0.3, rel=0.01)


def test_dog_outweighs_all_else_and_may_lie_any_way(make_case: MakeCase) -> None:
    without = balance_of(chucked(make_case)).unbalance.likely
    found = balance_of(make_case())
    assert found.unbalance.likely == pytest.approx(sqrt(without**2 + 0.0045**2), rel=1e-6)
    dog = {"kind": "dead centre with dog", "dog_mass": "0.3 kg", "dog_off_centre": "15 mm"}
    told = balance_of(make_case(supports__drive=dog)).unbalance
    assert (told.low, told.high) == pytest.approx((0.0045 - without, 0.0045 + without))


def test_pull_at_the_bit_moves_it_by_the_give_there(make_case: MakeCase) -> None:
    """Everything stands at the hole, so the movement is the pull times the give at the bit."""
    case = chucked(make_case)
    found = balance_of(case, pitch=1e9).turning[0]
    give = mean_compliance(factorised(beam_model(case)))[0, 0]
    assert found.movement.likely == pytest.approx(found.pull.likely * give, rel=2e-3)


def test_pull_near_a_support_moves_the_bit_less(make_case: MakeCase) -> None:
    heavy = {"name": "clamp", "mass": "5 kg", "position": "10 mm", "off_centre": "20 mm"}
    near, at_hole = (
        balance_of(chucked(make_case, bar__carries=[{**heavy, "position": where}])).turning[0]
        for where in ("10 mm", "200 mm")
    )
    assert near.movement.likely < 0.25 * at_hole.movement.likely


def test_bar_off_line_pulls_as_its_mass_off_centre(make_case: MakeCase) -> None:
    """A hump of h between centres: two thirds of the mass times h, h half the reading."""
    readings = [
        {"at": x / 1e3, "reading": 1e-4 * 4 * x * (400 - x) / 400**2, "high_at": 0.0}
        for x in (20, 100, 200, 300, 380)
    ]
    bent = make_case(bar__run_out={"readings": readings})
    bar = part(balance_of(bent), "bar off line")
    mass = STEEL * pi * 0.03**2 / 4 * 0.4
    assert bar.radial == pytest.approx(2 / 3 * mass * 0.5e-4, rel=1e-2)
    for reading in readings:
        del reading["high_at"]
    loose = balance_of(make_case(bar__run_out={"readings": readings}))
    size = next(one.size for one in loose.anyway if one.name == "bar off line")
    assert size.likely == pytest.approx(bar.radial)


def test_speed_of_the_cut_and_the_fastest_of_the_lathe_are_told(make_case: MakeCase) -> None:
    found = balance_of(make_case(lathe={"speeds": ["60 rpm", "900 rpm"]}))
    assert [one.spindle_speed * 60 for one in found.turning] == pytest.approx([120, 900])
    assert len(balance_of(make_case()).turning) == 1


def test_at_line_boring_speed_balance_does_not_matter(make_case: MakeCase) -> None:
    """The truth that a practitioner tests us on: 120 rpm, no dog."""
    found = balance_of(chucked(make_case))
    assert found.turning[0].pull.high < 1e-3 * found.push
    assert found.turning[0].movement.high < 1e-7
    assert found.unbalance.high < found.turning[0].allowed[6.3]
