"""Section formulas against integration over the section."""

from __future__ import annotations

from math import pi, sqrt

import pytest
import references as ref

from barwright.analysis.section import (
    circle_area,
    circle_second_moment,
    flatted_section,
    hutchinson_coefficient,
    round_section,
    shear_coefficient,
    slotted_section,
    torsion_constant,
)

D, R, NU = 0.032, 0.016, 0.29


def chord(t: float) -> float:
    return sqrt(max(0.0, R**2 - t**2))


def test_integration_itself_finds_a_circle() -> None:
    found = ref.integrated_section(R, lambda t: (-chord(t), chord(t)), (-R, R))
    assert found.area == pytest.approx(pi * R**2, rel=1e-10)
    assert found.r_squared == pytest.approx(pi * R**4 / 4, rel=1e-10)
    assert found.t_squared == pytest.approx(pi * R**4 / 4, rel=1e-10)


def test_circle_has_its_area_and_second_moment() -> None:
    assert circle_area(D) == pytest.approx(pi * R**2)
    assert circle_second_moment(D) == pytest.approx(pi * R**4 / 4)


def test_whole_section_is_alike_all_round_and_twists_by_its_polar_moment() -> None:
    whole = round_section(D, NU)
    assert whole.second_moment_bit == whole.second_moment_across == circle_second_moment(D)
    assert whole.torsion_constant == pytest.approx(whole.polar_moment)
    assert whole.polar_moment == pytest.approx(pi * D**4 / 32)


@pytest.mark.parametrize(("poisson", "published"), [(0.3, 0.886364), (0.29, 0.885584)])
def test_shear_coefficient_is_cowpers(poisson: float, published: float) -> None:
    assert shear_coefficient(poisson) == pytest.approx(published, abs=5e-7)
    assert shear_coefficient(0.0) == pytest.approx(6 / 7)


@pytest.mark.parametrize(("poisson", "worked"), [(0.3, 0.925182), (0.29, 0.923098)])
def test_hutchinson_coefficient_is_worked_by_hand(poisson: float, worked: float) -> None:
    assert hutchinson_coefficient(poisson) == pytest.approx(worked, abs=5e-7)
    assert hutchinson_coefficient(0.0) == pytest.approx(6 / 7)


@pytest.mark.parametrize("share", [1e-3, 0.05, 0.2, 0.45, 0.8])
def test_flatted_section_is_the_integral_over_what_is_left(share: float) -> None:
    depth = share * R
    top, side = R - depth, sqrt(R**2 - (R - depth) ** 2)
    cut = ref.integrated_section(
        R, lambda t: (-chord(t), min(chord(t), top)), (-R, -side, side, R)
    )
    found = flatted_section(D, depth, NU, across=False)
    assert found.area == pytest.approx(cut.area, rel=1e-9)
    assert found.second_moment_bit == pytest.approx(cut.r_squared, rel=1e-9)
    assert found.second_moment_across == pytest.approx(cut.t_squared, rel=1e-9)


def test_flat_across_is_the_flat_with_its_planes_swapped() -> None:
    facing, across = (flatted_section(D, 0.003, NU, across=side) for side in (False, True))
    assert facing.second_moment_bit < facing.second_moment_across
    assert across.second_moment_bit == facing.second_moment_across
    assert across.second_moment_across == facing.second_moment_bit
    assert across.area == facing.area
    assert across.torsion_constant == facing.torsion_constant


def test_flat_of_no_depth_leaves_a_circle() -> None:
    found, whole = flatted_section(D, 1e-12, NU, across=False), round_section(D, NU)
    for name in ("area", "second_moment_bit", "second_moment_across", "torsion_constant"):
        assert getattr(found, name) == pytest.approx(getattr(whole, name), rel=1e-9)


def test_torsion_constant_is_exact_for_a_circle_and_close_for_an_ellipse() -> None:
    """An ellipse has pi a^3 b^3 / (a^2 + b^2), which Saint-Venant's formula gives exactly."""
    assert torsion_constant(pi * R**2, pi * R**4 / 2) == pytest.approx(pi * R**4 / 2)
    a, b = 0.02, 0.012
    polar = pi * a * b * (a**2 + b**2) / 4
    exact = pi * a**3 * b**3 / (a**2 + b**2)
    assert torsion_constant(pi * a * b, polar) == pytest.approx(exact)


@pytest.mark.parametrize("offset", [0.0, 0.002, -0.0035, 0.007])
@pytest.mark.parametrize("width", [0.001, 0.006, 0.012])
def test_slotted_section_is_the_integral_over_its_two_segments(
    width: float, offset: float
) -> None:
    low, high = offset - width / 2, offset + width / 2

    def strip(t: float) -> tuple[float, float]:
        return (0.0, 0.0) if low < t < high else (-chord(t), chord(t))

    left = ref.integrated_section(R, strip, (-R, low, high, R))
    found = slotted_section(D, width, offset, NU)
    assert found.area == pytest.approx(left.area, rel=1e-9)
    assert found.second_moment_bit == pytest.approx(left.r_squared, rel=1e-9)
    assert found.second_moment_across == pytest.approx(left.t_squared, rel=1e-9)
    assert found.torsion_constant == pytest.approx(left.r_squared + left.t_squared, rel=1e-9)


def test_slot_softens_the_bar_more_against_pushing_along_the_bit() -> None:
    found, whole = slotted_section(D, 0.008, 0.0, NU), round_section(D, NU)
    assert found.second_moment_bit < found.second_moment_across < whole.second_moment_across
    mirrored = slotted_section(D, 0.008, -0.003, NU), slotted_section(D, 0.008, 0.003, NU)
    assert mirrored[0].second_moment_across == pytest.approx(mirrored[1].second_moment_across)


@pytest.mark.parametrize(("ratio", "published"), [(0.1, 0.8353), (0.2, 0.6810), (0.3, 0.5381)])
def test_slot_of_a_hole_gives_the_net_section_of_the_hole_plane(
    ratio: float, published: float
) -> None:
    """Net over gross section modulus at a radial hole, c at the mouth's rim sqrt(R^2 - d^2/4).

    I_net = I - 2 int_0^{d/2} (2/3)(R^2 - z^2)^{3/2} dz, by geometry.
    """
    width = ratio * D
    found = slotted_section(D, width, 0.0, NU).second_moment_bit / sqrt(R**2 - width**2 / 4)
    assert found / (circle_second_moment(D) / R) == pytest.approx(published, abs=5e-5)
