"""Lobes, against the textbook's example and the closed form of one mode."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from loops import best_over_floor, floor_of_one_mode, lobe_limit, one_planar_mode, plunge

from barwright.analysis.casefile import read_case
from barwright.analysis.chatter import corners, edge_of, onset_at_speed
from barwright.analysis.lobes import (
    depth_limits,
    edge_floors,
    gain_floors,
    gain_limits,
    lobes,
    poles_of,
    speed_can_be_aimed,
)

# Y. Altintas, Manufacturing Automation, the orthogonal-turning lobe figure (from memory); the
# limits at given speeds were worked out with the closed form and a time-delay simulation.
STIFFNESS, DAMPING, MODE, CUTTING = 2.26e8, 0.012, 250.0, 1e9
TEXTBOOK = one_planar_mode(STIFFNESS, DAMPING, MODE)
EDGE = plunge(CUTTING, 1e-3)
FLOOR = 5.489088
BOTTOMS = (20188, 8664, 5516, 4046, 3194, 2639)
LIMITS = (
    (300, 5.589, 253.61),
    (1000, 10.015, 259.92),
    (3000, 25.938, 276.86),
    (5000, 43.123, 293.63),
    (7500, 66.07, 314.55),
    (10000, 12.415, 262.65),
)


def limit_mm(rpm: list[float]) -> tuple[np.ndarray, np.ndarray]:
    curve = gain_limits(TEXTBOOK, EDGE, 0.0, 0.025, np.array(rpm) / 60, turning=False)
    return curve.limit, curve.frequency


def test_floor_and_lobe_bottoms_are_the_textbooks() -> None:
    limit, frequency = limit_mm([float(rpm) for rpm in BOTTOMS])
    np.testing.assert_allclose(limit, FLOOR, rtol=3e-6)
    np.testing.assert_allclose(frequency, 252.9822, rtol=3e-5)
    fine = np.linspace(0.999, 1.001, 81)
    for rpm in BOTTOMS:
        assert limit_mm(list(rpm * fine))[0].min() == pytest.approx(FLOOR, rel=1e-6)


# 10000 rpm was printed cut off, not rounded: 12.4158 by the closed form below.
@pytest.mark.parametrize(("rpm", "limit", "pitch"), LIMITS)
def test_limit_at_a_speed_is_the_textbooks(rpm: float, limit: float, pitch: float) -> None:
    found, at = limit_mm([rpm])
    assert found[0] == pytest.approx(limit, abs=1.01e-3 if limit < 50 else 1e-2)
    assert at[0] == pytest.approx(pitch, abs=1.01e-2)


@pytest.mark.parametrize("rpm", [250.0, 700.0, 1234.0, 4321.0, 9000.0, 15000.0])
def test_limit_is_the_closed_form_of_one_mode(rpm: float) -> None:
    found, at = limit_mm([rpm])
    limit, pitch = lobe_limit(STIFFNESS, DAMPING, MODE, rpm / 60)
    assert found[0] == pytest.approx(limit / (CUTTING * 1e-3), rel=1e-5)
    assert at[0] == pytest.approx(pitch, rel=1e-5)


def test_limit_is_never_below_the_floor() -> None:
    speed = np.geomspace(0.3, 400.0, 300)
    curve = gain_limits(TEXTBOOK, EDGE, 0.0, 0.025, speed, turning=False)
    exact = floor_of_one_mode(STIFFNESS, DAMPING) / (CUTTING * 1e-3)
    assert curve.limit.min() >= exact * (1 - 1e-7)
    np.testing.assert_allclose(curve.floor, exact, rtol=1e-3)
    np.testing.assert_array_less(curve.floor, curve.limit * (1 + 1e-12))
    assert np.all(curve.waves_per_turn[:10] > 100)


@pytest.mark.parametrize("merging", [0.1, 0.2, 0.5, 1.0, 2.0])
def test_lobes_merge_above_one_wave_over_the_damping(merging: float) -> None:
    damping = 0.005
    waves = merging / damping
    # Waves at the mode's own pitch; between the tops of two lobes a straight line.
    speed = MODE / np.linspace(waves - 1.3, waves + 1.3, 601)
    given = one_planar_mode(1e7, damping, MODE)
    curve = gain_limits(given, EDGE, 0.0, 0.025, speed, turning=False)
    inner = curve.limit[1:-1]
    tops = np.flatnonzero((inner > curve.limit[:-2]) & (inner > curve.limit[2:])) + 1
    waves_at = MODE / speed[tops]
    order = np.argsort(waves_at)
    found = np.interp(waves, waves_at[order], curve.limit[tops][order]) / curve.limit.min()
    assert waves_at.min() < waves < waves_at.max()
    assert found == pytest.approx(best_over_floor(merging), rel=0.02)
    assert lobes(waves, damping) == {0.5: "apart", 1.0: "merging", 2.0: "merged"}.get(
        merging, "apart"
    )


def test_lobe_can_be_aimed_at_within_a_quarter_wave() -> None:
    assert speed_can_be_aimed(5.0, 0.04)
    assert not speed_can_be_aimed(60.0, 0.01)


def test_process_damping_raises_every_limit_and_most_at_low_speed() -> None:
    speed = np.geomspace(2.0, 60.0, 40)
    bare = gain_limits(TEXTBOOK, EDGE, 0.0, 0.025, speed).floor
    rubbed = gain_limits(TEXTBOOK, EDGE, 1e7, 0.025, speed).floor
    assert np.all(rubbed > bare)
    gained = rubbed / bare
    assert gained[0] > 1.5 > gained[-1] > 1.0


def test_turning_bar_splits_the_mode_and_lowers_the_limit_with_a_tangential_force() -> None:
    edge = plunge(CUTTING, 1e-3, tangential=2.2 * CUTTING)
    speed = np.geomspace(0.5, 3.0, 12)
    still = gain_floors(TEXTBOOK, edge, 0.0, 0.025, speed, turning=False)
    turning = gain_floors(TEXTBOOK, edge, 0.0, 0.025, speed, turning=True)
    np.testing.assert_allclose(still, still[0], rtol=1e-3)
    assert np.all(turning < still)
    assert turning[-1] < 0.8 * still[-1]


def test_poles_give_the_receptance_of_modes_coupled_by_dampers() -> None:
    generator = np.random.default_rng(3)
    modes = one_planar_mode(1e7, 0.02, 300.0).planar
    coupled = type(modes)(
        frequency=np.array([120.0, 300.0, 900.0]),
        damping=np.diag([20.0, 60.0, 90.0]) + 15.0 * np.ones((3, 3)),
        reach=generator.normal(size=(2, 3)),
        rest=np.array([[1e-8, 2e-9], [2e-9, 3e-8]]),
    )
    f = np.linspace(-1000.0, 1000.0, 77)
    np.testing.assert_allclose(
        poles_of(coupled).at(f).T.reshape(-1, 2, 2), coupled.receptance(f), rtol=1e-9
    )


def test_chart_agrees_with_one_speed_at_a_time_on_a_whole_case() -> None:
    case = read_case(Path(__file__).parents[1] / "cases" / "stern_tube.yaml")
    corner = corners(case)["likely"]
    edge, n = edge_of(case, "likely"), case.spindle_speed
    speed = np.array([n, 1.7 * n, 4.0 * n])
    curve = gain_limits(corner.compliance, edge, 0.0, case.edge_radius, speed)
    singly = [onset_at_speed(corner.compliance, edge, one) for one in speed]
    np.testing.assert_allclose(curve.limit, [one.gain_margin for one in singly], rtol=2e-3)
    np.testing.assert_allclose(curve.frequency, [one.frequency for one in singly], rtol=1e-4)


def test_floor_of_several_edges_is_that_of_each() -> None:
    edges = [plunge(CUTTING, depth, instant=1e5) for depth in (1e-3, 2e-3)]
    together = edge_floors(TEXTBOOK, edges, 2e5, 0.025, 2.0)
    singly = [gain_floors(TEXTBOOK, edge, 2e5, 0.025, np.array([2.0]))[0] for edge in edges]
    np.testing.assert_allclose(together, singly, rtol=1e-9)


def test_depth_limit_of_a_plunging_edge_is_its_gain_limit() -> None:
    speed = np.array([1000.0, 5000.0]) / 60

    def margins(depth: float) -> np.ndarray:
        edge = plunge(CUTTING, depth)
        return gain_limits(TEXTBOOK, edge, 0.0, 0.025, speed, turning=False).limit

    found = depth_limits(margins, np.geomspace(1e-3, 20e-3, 6), speed.size)
    assert found[0] == pytest.approx(10.015e-3, rel=1e-3)
    assert found[1] == np.inf


def test_no_speed_gives_no_limit() -> None:
    curve = gain_limits(TEXTBOOK, EDGE, 0.0, 0.025, np.zeros(0))
    assert curve.limit.size == curve.floor.size == 0
