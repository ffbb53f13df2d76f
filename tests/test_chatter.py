"""Chatter: closed forms of one mode, the turning bar, limits of the edge, and where they meet."""

from __future__ import annotations

from dataclasses import replace
from math import cos, inf, pi, radians, sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import MakeCase
from loops import (
    floor_of_one_mode,
    lobe_limit,
    near_mode,
    one_planar_mode,
    pitch_of_one_mode,
    plunge,
    plunging_loop,
)
from numpy.typing import NDArray
from pydantic import ValidationError
from scipy.optimize import brentq

from barwright.analysis import chatter
from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case
from barwright.analysis.casefile import read_case
from barwright.analysis.chatter import (
    Corner,
    End,
    Loop,
    Setting,
    changed,
    corner_at,
    corners,
    depth_limit,
    edge_of,
    frequencies_for,
    in_order,
    least_depth,
    limit_from,
    loop_of,
    margin_verdict,
    nose_radius_limit,
    onset,
    onset_at_speed,
    sings,
    solve_chatter,
    whirl_feed_limit,
    whirl_margin,
    whirl_onset,
    worst_eigenvalues,
)
from barwright.analysis.compliance import one_mode
from barwright.analysis.cut import TypedForce
from barwright.analysis.edge import Edge, EdgeForce, Kienzle, edge_force
from barwright.analysis.force import cutting_force
from barwright.analysis.lobes import edge_floors, gain_floors, gain_limits
from barwright.analysis.model import factorised
from barwright.analysis.units import Estimate

STEEL = 2000e6


def limit_mm(
    stiffness: float, damping: float, mode: float, cutting: float, *, reach: float = 0.1
) -> float:
    """Depth limit of a plunging edge on one mode, mm; the margin at 1 mm."""
    given = one_planar_mode(stiffness, damping, mode)
    loop = plunging_loop(given, plunge(cutting, 1e-3), near_mode(mode, reach, 6001))
    return onset(loop).gain_margin


# --- one mode, bar standing still ---------------------------------------------------------------


def test_textbook_limit_and_pitch() -> None:
    # Y. Altintas, Manufacturing Automation, orthogonal-turning lobe figure (from memory).
    given = one_planar_mode(2.26e8, 0.012, 250.0)
    found = onset(plunging_loop(given, plunge(1e9, 1e-3), near_mode(250.0, 0.05, 25001)))
    assert found.gain_margin == pytest.approx(5.489088, abs=2e-6)
    assert found.frequency == pytest.approx(252.9822, abs=6e-4)


@pytest.mark.parametrize(
    ("stiffness", "limit"),
    [(2.99139e6, 0.06102), (6.99394e6, 0.14268), (12.18940e6, 0.24866), (3.60243e6, 0.07349)],
    ids=["pinned", "clamped and pinned", "clamped", "elastic"],
)
def test_plunging_limit_of_a_bar_is_2_k_z_1_z(stiffness: float, limit: float) -> None:
    # Modal stiffness pi^4 EI/2L^3 and its like by closed form; 2 % damping, 2000 N/mm2.
    assert limit_mm(stiffness, 0.02, 300.0, STEEL) == pytest.approx(limit, rel=1.5e-4)


def test_push_at_an_angle_counts_by_its_cosine() -> None:
    # Force 70 degrees from the bore's normal: cos 70 = 0.34202.
    cutting = STEEL * cos(radians(70))
    assert limit_mm(2.99139e6, 0.02, 300.0, cutting) == pytest.approx(0.1784, rel=3e-4)


@pytest.mark.parametrize("damping", [0.005, 0.03, 0.1])
def test_limit_and_pitch_are_the_closed_form_at_any_damping(damping: float) -> None:
    given = one_planar_mode(5e6, damping, 180.0)
    found = onset(plunging_loop(given, plunge(1e9, 1e-3), near_mode(180.0, 2 * damping, 30001)))
    assert found.gain_margin == pytest.approx(floor_of_one_mode(5e6, damping) / 1e6, rel=1e-6)
    assert found.frequency == pytest.approx(pitch_of_one_mode(180.0, damping), rel=1e-5)
    assert found.frequency > 180.0


def test_frequencies_that_a_case_is_judged_on_catch_the_limit() -> None:
    for damping in (0.005, 0.02, 0.05):
        given = one_planar_mode(5e6, damping, 180.0)
        loop = plunging_loop(given, plunge(1e9, 1e-3), frequencies_for(given))
        exact = floor_of_one_mode(5e6, damping) / 1e6
        assert exact * (1 - 1e-9) <= onset(loop).gain_margin < 1.005 * exact


def test_push_the_wrong_way_never_sings_at_the_mode() -> None:
    given = one_planar_mode(5e6, 0.02, 180.0)
    f = near_mode(180.0, 0.05, 6001)
    singing = onset(plunging_loop(given, plunge(1e9, 1e-3), f))
    reversed_push = onset(plunging_loop(given, plunge(-1e9, 1e-3), f))
    # The negative real part's counterpart lies below the mode: 2 k z (1 - z).
    assert reversed_push.frequency < 180.0 < singing.frequency
    assert reversed_push.gain_margin == pytest.approx(2 * 5e6 * 0.02 * 0.98 / 1e6, rel=1e-6)


# --- process damping ----------------------------------------------------------------------------


def rubbed_loop(speed: float, depth: float, reach: float = 0.9, count: int = 4001) -> Any:
    """Loop of the fixed-point example: k 1e7, 2 %, 400 Hz, 2000 N/mm2, C 3e5 N/m."""
    given = one_planar_mode(1e7, 0.02, 400.0)
    damping = 3e5 / speed if speed < inf else 0.0
    f = near_mode(400.0, reach, count)
    return plunging_loop(given, plunge(STEEL, depth), f, damping=damping)


def fixed_point(speed: float, depth: float) -> float:
    """Depth at which 2 k z' (1 + z') / K_s just sings, less this depth; z' holds the rubbing."""
    stiffness, mass = 1e7, 1e7 / (2 * pi * 400.0) ** 2
    damping = 0.02 + (3e5 * depth / speed) / (2 * sqrt(stiffness * mass))
    return 2 * stiffness * damping * (1 + damping) / STEEL - depth


# Model as in Tyler and Schmitz on process damping (from memory); depths of its fixed point, as
# an iteration gave them: up to 5 in their last place from the root.
@pytest.mark.parametrize(
    ("metres_per_minute", "limit"),
    [(inf, 0.20400), (100.0, 0.26727), (30.0, 1.77229)],
)
def test_rubbing_raises_the_limit_to_its_fixed_point(
    metres_per_minute: float, limit: float
) -> None:
    speed = metres_per_minute / 60

    def excess(depth: float) -> float:
        return onset(rubbed_loop(speed, depth, 0.3, 10001)).gain_margin - 1.0

    found = brentq(excess, 0.9 * limit * 1e-3, 1.06 * limit * 1e-3, xtol=1e-10)
    assert 1e3 * found == pytest.approx(limit, abs=5.1e-5)
    exact = brentq(lambda depth: fixed_point(speed, depth), 0.9e-3 * limit, 1.06e-3 * limit)
    assert found == pytest.approx(exact, rel=1e-6)


def test_narrow_window_of_singing_is_found_and_closes_again() -> None:
    edges = [
        brentq(lambda b: fixed_point(0.5, b), *pair) for pair in ((1e-3, 1.9e-3), (1.9e-3, 4e-3))
    ]
    assert 1e3 * np.array(edges) == pytest.approx([1.772, 2.025], abs=1e-3)
    for depth, singing in ((1.75, False), (1.80, True), (2.00, True), (2.05, False), (4.0, False)):
        worst = worst_eigenvalues(rubbed_loop(0.5, depth * 1e-3), 1.0).min()
        assert bool(worst < -0.5) is singing, depth


@pytest.mark.parametrize("metres_per_minute", [25.0, 10.0])
def test_slow_enough_it_never_sings_at_any_depth(metres_per_minute: float) -> None:
    for depth in np.geomspace(1e-5, 2e-2, 30):
        assert worst_eigenvalues(rubbed_loop(metres_per_minute / 60, depth), 1.0).min() > -0.5


# --- the turning bar ----------------------------------------------------------------------------


@pytest.mark.parametrize("spin", [0.5, 2.0, 8.0])
@pytest.mark.parametrize("damping", [0.005, 0.02])
def test_whirl_without_regeneration_is_the_closed_form(spin: float, damping: float) -> None:
    stiffness, mode = 4e6, 150.0
    given = one_planar_mode(stiffness, damping, mode)
    exact = 4 * damping * stiffness * sqrt(1 + (damping * mode / spin) ** 2)
    edge = plunge(0.0, 1e-3, instant=exact)
    found = whirl_margin(plunging_loop(given, edge, near_mode(mode, 0.2), spin))
    assert found == pytest.approx(1.0, rel=2 * damping**2 + (spin / mode) ** 2 + 1e-4)


def test_whirl_needs_a_turning_bar() -> None:
    given = one_planar_mode(4e6, 0.02, 150.0)
    edge = plunge(0.0, 1e-3, instant=1e6)
    assert whirl_margin(plunging_loop(given, edge, near_mode(150.0, 0.2))) == inf


def turning_limit(damping: float, spin: float, mode: float, ratio: float) -> float:
    """Gain of a still bar over a turning one by brute force on Grr + ratio Grt, one mode."""
    f = near_mode(mode, 0.3, 6001)

    def planar(g: NDArray[np.float64]) -> NDArray[np.complex128]:
        return np.asarray(1 / (1 - (g / mode) ** 2 + 2j * damping * g / mode))

    ahead, behind = planar(f + spin), planar(f - spin)
    seen = (ahead + behind) / 2 + ratio * 0.5j * (ahead - behind)
    return float(planar(f).real.min() / seen.real.min())


@pytest.mark.parametrize(("spin", "damping"), [(2.0, 0.02), (2.0, 0.01), (1.0, 0.02), (4.0, 0.04)])
def test_turning_lowers_the_limit_as_the_crosswise_receptance_says(
    spin: float, damping: float
) -> None:
    mode, ratio = 310.0, 2.2
    given, f = one_planar_mode(1e7, damping, mode), near_mode(mode, 0.3, 6001)
    edge = plunge(1e9, 1e-3, tangential=ratio * 1e9)
    still = onset(plunging_loop(given, edge, f)).gain_margin
    turning = onset(plunging_loop(given, edge, f, spin)).gain_margin
    assert turning / still == pytest.approx(turning_limit(damping, spin, mode, ratio), rel=1e-6)
    # The tangential gain enters by (K_tr/K_rr) n / (z f): two fifths to a half here.
    assert 1.1 < still / turning < 2.3


def test_turning_alone_without_a_tangential_force_raises_the_limit() -> None:
    given, f = one_planar_mode(1e7, 0.02, 310.0), near_mode(310.0, 0.3, 6001)
    still = onset(plunging_loop(given, plunge(1e9, 1e-3), f)).gain_margin
    assert onset(plunging_loop(given, plunge(1e9, 1e-3), f, 2.0)).gain_margin > still


# --- limits of the edge and of the structure ----------------------------------------------------

TABLE: dict[str, Any] = {
    "cut__force": None,
    "cut__depth": "0.3 mm",
    "cut__feed": "0.1 mm/rev",
    "bit__nose_radius": "0.4 mm",
}


@pytest.fixture(scope="module")
def likely(make_case: MakeCase) -> tuple[Case, Corner]:
    case = make_case(**TABLE)
    return case, corners(case)["likely"]


def margin_of(case: Case, corner: Corner, edge: Any = None) -> float:
    loop = Setting(case=case, corner=corner).loop()
    return onset(loop if edge is None else replace(loop, force=edge)).gain_margin


def reground(case: Case, **bit: float) -> Case:
    return case.model_copy(update={"bit": case.bit.model_copy(update=bit)})


def test_margin_comes_smoothly_to_a_pointed_bits(likely: tuple[Case, Corner]) -> None:
    case, corner = likely
    noses = [0.0, 1e-7, 1e-6, 1e-5, 1e-4]
    found = [
        margin_of(case, corner, edge_of(reground(case, nose_radius=r), "likely")) for r in noses
    ]
    assert np.all(np.isfinite(found[1:]))
    assert found[1] == pytest.approx(found[0], rel=0.02)


def test_margin_changes_smoothly_with_lead_angle(likely: tuple[Case, Corner]) -> None:
    case, corner = likely
    angles = np.radians(np.linspace(0.0, 60.0, 31))
    found = np.array(
        [
            margin_of(case, corner, edge_of(reground(case, lead_angle=float(a)), "likely"))
            for a in angles
        ]
    )
    assert np.all(np.isfinite(found))
    assert np.abs(np.diff(np.log(found))).max() < 0.06


def test_margin_is_continuous_where_the_depth_passes_the_nose_radius(
    likely: tuple[Case, Corner],
) -> None:
    case, corner = likely
    setting = Setting(case=case, corner=corner)
    below, at, above = (
        onset(setting.loop(depth=depth)).gain_margin for depth in (0.3999e-3, 0.4e-3, 0.4001e-3)
    )
    assert below == pytest.approx(at, rel=0.02)
    assert above == pytest.approx(at, rel=0.02)


def test_deeper_than_the_nose_a_square_side_adds_nothing_along_the_bit() -> None:
    cutting, normal = Kienzle(k=1.8e9, m=0.25), Kienzle(k=0.8e9, m=0.3)
    given, f = one_planar_mode(1e7, 0.02, 310.0), near_mode(310.0, 0.2, 6001)
    found = []
    for depth in (0.4e-3, 0.8e-3, 3e-3):
        edge = Edge(depth=depth, feed=1e-4, nose_radius=4e-4, lead_angle=0.0)
        found.append(onset(plunging_loop(given, edge_force(edge, cutting, normal), f)).gain_margin)
    # Still bar, rigid endways: only the nose pushes along the bit, so any depth gives one limit.
    np.testing.assert_allclose(found, found[0], rtol=1e-6)


def test_rubbing_fading_to_nothing_is_no_rubbing(likely: tuple[Case, Corner]) -> None:
    case, corner = likely
    bare = margin_of(case, replace(corner, process_damping=0.0))
    found = [margin_of(case, replace(corner, process_damping=C)) for C in (1e4, 1e2, 1.0)]
    assert found[0] > found[1] > found[2] > bare * (1 - 1e-9)
    assert found[2] == pytest.approx(bare, rel=1e-4)


@pytest.mark.parametrize(
    ("key", "stiff"),
    [
        ("supports__drive__radial_stiffness", "1e6 N/um"),
        ("supports__tail__radial_stiffness", "1e6 N/um"),
        ("work__radial_stiffness", "1e7 N/um"),
    ],
)
def test_rigid_part_is_the_limit_of_a_stiff_one(make_case: MakeCase, key: str, stiff: str) -> None:
    near, rigid = (make_case(**TABLE, **{key: value}) for value in (stiff, "rigid"))
    found = [margin_of(case, corners(case)["likely"]) for case in (near, rigid)]
    assert found[0] == pytest.approx(found[1], rel=0.01)


def test_everything_rigid_that_can_be_still_gives_whole_answers(make_case: MakeCase) -> None:
    case = make_case(**TABLE, work__axial_stiffness="rigid")
    found = solve_chatter(case)
    assert 0 < found.margin["low"] <= found.margin["likely"] <= found.margin["high"]
    assert found.bare <= found.margin["likely"] * (1 + 1e-9)
    first = corners(case)["likely"].compliance.planar.frequency[0]
    assert found.frequency > first


def test_margin_and_depth_limit_tell_one_story(likely: tuple[Case, Corner]) -> None:
    case, corner = likely
    setting = Setting(case=case, corner=corner)
    limit = depth_limit(setting)
    if isinstance(limit, float):
        assert onset(setting.loop(depth=0.99 * limit)).gain_margin > 1.0
        assert onset(setting.loop(depth=1.01 * limit)).gain_margin < 1.0
    else:
        assert limit in ("none", "no usable depth")


def test_two_ways_to_the_margin_agree(likely: tuple[Case, Corner]) -> None:
    case, corner = likely
    edge, speed = edge_of(case, "likely"), np.array([case.spindle_speed])
    floor = gain_floors(corner.compliance, edge, corner.process_damping, case.edge_radius, speed)[
        0
    ]
    assert floor == pytest.approx(margin_of(case, corner), rel=5e-3)


# --- whirl ---------------------------------------------------------------------------------------


def grows(stiffness: float, damping: float, mode: float, spin: float, engaged: float) -> float:
    """Fastest growth, 1/s, of a mass seen from the bar whose tangential force follows r at once.

    ``m (u'' + 2 W J u' - W^2 u) + c (u' + W J u) + k u = -K0 u`` over r, t as a state matrix.
    """
    W, m = 2 * pi * spin, stiffness / (2 * pi * mode) ** 2
    c = 2 * damping * sqrt(stiffness * m)
    J, one = np.array([[0.0, -1.0], [1.0, 0.0]]), np.eye(2)
    pull = np.array([[0.0, 0.0], [engaged, 0.0]])
    spring = (stiffness * one + c * W * J + pull) / m - W**2 * one
    state = np.block([[np.zeros((2, 2)), one], [-spring, -(2 * W * J + c / m * one)]])
    return float(np.linalg.eigvals(state).real.max())


WHIRLING = 4e6, 0.02, 150.0, 8.0


def whirling_edge() -> Any:
    """Twice what whirls, with next to nothing left from turn to turn."""
    stiffness, damping, mode, spin = WHIRLING
    limit = 4 * damping * stiffness * sqrt(1 + (damping * mode / spin) ** 2)
    return plunge(1e5, 1e-3, instant=2 * limit)


def test_bar_past_its_whirl_is_not_called_quiet() -> None:
    stiffness, damping, mode, spin = WHIRLING
    edge, given = whirling_edge(), one_planar_mode(stiffness, damping, mode)
    engaged = float(edge.instant[1, 0])
    loop = plunging_loop(given, edge, frequencies_for(given, spin), spin)
    exact = brentq(lambda g: grows(*WHIRLING, g * engaged), 0.1, 1.0)
    found = onset(loop)
    assert found.gain_margin <= exact * (1 + 1e-3)
    assert found.gain_margin == pytest.approx(exact, rel=0.02)
    assert exact == pytest.approx(0.5, rel=0.01)
    assert abs(found.frequency - mode) < 2 * spin
    assert sings(loop)
    assert grows(*WHIRLING, engaged) > 0


def test_every_way_to_the_margin_sees_the_whirl() -> None:
    stiffness, damping, mode, spin = WHIRLING
    edge, given = whirling_edge(), one_planar_mode(stiffness, damping, mode)
    engaged = float(edge.instant[1, 0])
    exact = brentq(lambda g: grows(*WHIRLING, g * engaged), 0.1, 1.0)
    speed = np.array([spin])
    curve = gain_limits(given, edge, 0.0, 0.025, speed)
    floors = (
        gain_floors(given, edge, 0.0, 0.025, speed)[0],
        edge_floors(given, [edge], 0.0, 0.025, spin)[0],
        curve.floor[0],
        curve.limit[0],
        onset_at_speed(given, edge, spin).gain_margin,
    )
    np.testing.assert_allclose(floors, exact, rtol=0.02)


def test_whirl_is_past_at_any_gain_above_its_limit() -> None:
    stiffness, damping, mode, spin = WHIRLING
    given, edge = one_planar_mode(stiffness, damping, mode), whirling_edge()
    f = frequencies_for(given, spin)
    for gain in (0.6, 1.0, 3.0, 30.0):
        assert sings(plunging_loop(given, edge.scaled(np.full(3, gain)), f, spin))
        assert grows(*WHIRLING, gain * float(edge.instant[1, 0])) > 0


@pytest.mark.parametrize("cutting", [1e6, 1e7, 3e7])
def test_singing_just_short_of_the_whirl_is_found(cutting: float) -> None:
    """What is cut twice sings a fifth of a per cent to 5 % before the whirl: gain by gain."""
    stiffness, damping, mode, spin = WHIRLING
    edge = plunge(cutting, 1e-3, instant=float(whirling_edge().instant[1, 0]))
    given, f = one_planar_mode(stiffness, damping, mode), near_mode(mode, 0.2, 2001)
    loop = plunging_loop(given, edge, f, spin)
    gains = whirl_margin(loop) * np.linspace(0.94, 1.0, 301)[:-1]
    first = next(g for g in gains if worst_eigenvalues(loop, float(g)).min() < -0.5)
    assert onset(loop).gain_margin == pytest.approx(first, rel=2.2e-4)


@pytest.mark.parametrize("diameter", ["20 mm", "30 mm"])
def test_pointed_bit_on_a_fast_thin_bar_is_judged_by_its_whirl(
    make_case: MakeCase, diameter: str
) -> None:
    changes = {**TABLE, "cut__feed": "0.2 mm/rev", "cut__speed": "600 rpm"}
    case = make_case(**changes | {"bar__diameter": diameter, "bit__nose_radius": 0.0})
    case = case.model_copy(
        update={"cross_hole": case.cross_hole.model_copy(update={"size": 6e-3})}
    )
    found = corners(case)
    for end, corner in found.items():
        setting = Setting(case=case, corner=corner)
        loop = setting.loop()
        assert onset(loop).gain_margin <= whirl_margin(loop), end
        fast = setting.margins("depth", np.array([case.cut.depth]))[0]
        assert fast == pytest.approx(onset(loop).gain_margin, rel=0.01), end


# --- the way of the feed -------------------------------------------------------------------------


def test_mirrored_bar_fed_the_other_way_has_the_same_margin(make_case: MakeCase) -> None:
    ends = {
        "stiff": ("70 N/um", "50 N/um", "900 N.s/m"),
        "soft": ("15 N/um", "20 N/um", "400 N.s/m"),
    }

    def bar(drive: str, tail: str, position: str, feed: str) -> Case:
        changes: dict[str, Any] = {"supports__drive__dog_mass": "0 kg"}
        for place, name in (("drive", drive), ("tail", tail)):
            for key, value in zip(
                ("radial_stiffness", "axial_stiffness", "damping"), ends[name], strict=True
            ):
                changes[f"supports__{place}__{key}"] = value
        return make_case(**TABLE, **changes, cross_hole__position=position, cut__feed_towards=feed)

    def margin(case: Case) -> float:
        return margin_of(case, corners(case)["likely"])

    given = margin(bar("stiff", "soft", "100 mm", "headstock"))
    mirrored = margin(bar("soft", "stiff", "300 mm", "tailstock"))
    assert mirrored == pytest.approx(given, rel=2e-3)
    only_feed = margin(bar("stiff", "soft", "100 mm", "tailstock"))
    assert abs(only_feed / given - 1) > 0.02


# --- ends of the band ----------------------------------------------------------------------------


def typed_at(case: Case, held: End, work: End, damped: End) -> Case:
    """The case with each guess of its supports, work side and damping typed at one end."""

    def moved(entry: Any, springs: End) -> Any:
        ends = {
            name: float(getattr(value, damped if "damping" in name else springs))
            for name, value in dict(entry).items()
            if isinstance(value, Estimate)
            and (name.endswith("_stiffness") or name in ("mass", "damping", "damping_ratio"))
        }
        return entry.model_copy(update=ends)

    supports = case.supports.model_copy(
        update={
            "drive": moved(case.supports.drive, held),
            "tail": moved(case.supports.tail, held),
            "others": tuple(moved(other, held) for other in case.supports.others),
        }
    )
    return case.model_copy(
        update={
            "supports": supports,
            "work": moved(case.work, work),
            "bar": moved(case.bar, damped),
        }
    )


@pytest.mark.parametrize("name", ["pump_bracket", "mill_gearcase"])
def test_ends_of_the_band_are_the_worst_and_best_of_soft_and_stiff(
    monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setattr(chatter, "limit_from", lambda *_, **__: inf)  # no limit is asked for
    case = read_case(Path(__file__).parents[1] / "cases" / f"{name}.yaml")
    sides: tuple[End, End] = ("low", "high")

    def margins(end: End) -> list[float]:
        edge, found = edge_of(case, end), []
        for held in sides:
            for work in sides:
                corner = corners(typed_at(case, held, work, end))["likely"]
                rubbing = case.work.material.process_damping
                damping = 0.0 if end == "low" else float(getattr(rubbing, "high", rubbing))
                found.append(margin_of(case, replace(corner, process_damping=damping), edge))
        return found

    band = solve_chatter(case).margin
    assert band["low"] == pytest.approx(min(margins("low")), rel=5e-3)
    assert band["high"] == pytest.approx(max(margins("high")), rel=5e-3)
    assert band["low"] <= band["likely"] <= band["high"]


def test_band_is_put_in_order() -> None:
    assert in_order({"low": 2.0, "likely": 1.0, "high": 3.0}) == {
        "low": 1.0,
        "likely": 1.0,
        "high": 3.0,
    }


# --- limits of depth, nose radius and feed -------------------------------------------------------


def test_force_typed_as_the_table_says_has_the_tables_limits(make_case: MakeCase) -> None:
    case = make_case(**TABLE, cut__edge_wear=1.3, bit__rake="10 deg")
    force = cutting_force(case)
    parts = {part: float(getattr(force, part)) for part in ("radial", "tangential", "axial")}
    typed = case.model_copy(
        update={"cut": case.cut.model_copy(update={"force": TypedForce(**parts)})}
    )
    corner = corners(case)["likely"]
    table, own = (Setting(case=one, corner=corner) for one in (case, typed))
    for limit in (depth_limit, nose_radius_limit, whirl_feed_limit):
        assert str(limit(own)) == str(limit(table))
    for name, values in (("depth", [1e-4, 2e-3]), ("nose_radius", [1e-4, 2e-3])):
        np.testing.assert_allclose(
            own.margins(name, np.array(values)), table.margins(name, np.array(values)), rtol=1e-9
        )


def test_typed_force_is_carried_over_in_its_own_proportion(make_case: MakeCase) -> None:
    case = make_case(**{**TABLE, "cut__force": {"radial": "60 N", "tangential": "200 N"}})
    other = changed(case, depth=0.6e-3)
    assert other.cut.force is not None
    table, deeper = (
        cutting_force(one.model_copy(update={"cut": one.cut.model_copy(update={"force": None})}))
        for one in (case, other)
    )
    grown = float(deeper.tangential) / float(table.tangential)
    assert float(other.cut.force.tangential) == pytest.approx(200 * grown, rel=1e-9)
    assert float(other.cut.force.axial) == 0.0
    same = changed(case, depth=case.cut.depth).cut.force
    assert same is not None
    assert float(same.radial) == pytest.approx(60.0, rel=1e-9)


@pytest.mark.slow
def test_limit_never_contradicts_the_margin_of_the_planned_cut(
    likely: tuple[Case, Corner],
) -> None:
    case, corner = likely
    chance = np.random.default_rng(11)
    for _ in range(12):
        planned = changed(
            case,
            depth=float(10 ** chance.uniform(-4.3, -2.5)),
            nose_radius=float(10 ** chance.uniform(-4.3, -2.7)),
            feed=float(10 ** chance.uniform(-4.2, -3.4)),
            lead_angle=float(chance.uniform(-0.3, 1.0)),
        )
        setting = Setting(case=planned, corner=corner)
        quiet = onset(setting.loop()).gain_margin >= 1.0
        limits = depth_limit(setting), nose_radius_limit(setting)[0]
        for limit, own in zip(limits, (planned.cut.depth, planned.bit.nose_radius), strict=True):
            beyond = limit == "none" or (isinstance(limit, float) and limit >= own * (1 - 1e-9))
            assert beyond is quiet


# Window of singing from 1.772 to 2.025 mm at 30 m/min; steps of 24 % may straddle it.
@pytest.mark.parametrize("start", [1.00e-5, 1.07e-5, 1.15e-5])
def test_narrow_window_of_depths_is_found_wherever_the_steps_fall(start: float) -> None:
    def margins(depths: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.array([1 + fixed_point(0.5, depth) / depth for depth in depths])

    found = limit_from(margins, start, quiet=True, least=5e-6, most=6e-3)
    assert 1e3 * found == pytest.approx(1.7723, rel=1.1e-3)


def test_largest_quiet_value_is_told_where_the_planned_one_sings() -> None:
    def margins(depths: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.where((depths < 1e-4) | ((depths > 2e-4) & (depths < 3e-4)), 2.0, 0.5)

    found = limit_from(margins, 1e-3, quiet=False, least=1e-5, most=6e-3)
    assert found == pytest.approx(3e-4, rel=1.1e-3)
    assert limit_from(lambda d: 0 * d, 1e-3, quiet=False, least=1e-5, most=6e-3) == 0.0
    assert limit_from(lambda d: 0 * d + 2, 1e-3, quiet=True, least=1e-5, most=6e-3) == inf


def test_least_depth_is_the_cusp_only_where_the_nose_makes_all_of_it(
    likely: tuple[Case, Corner],
) -> None:
    case, _ = likely
    pointed = changed(case, nose_radius=1e-6, feed=0.1e-3)
    assert least_depth(pointed) == pytest.approx(5e-6)
    coarse = changed(case, nose_radius=0.4e-3, feed=0.6e-3)
    assert least_depth(coarse) == pytest.approx(0.4e-3 - sqrt(0.4e-3**2 - 0.3e-3**2), rel=1e-9)


# --- what may be typed ---------------------------------------------------------------------------


def test_work_without_mass_is_refused(make_case: MakeCase) -> None:
    with pytest.raises(ValidationError, match="must be more than 0"):
        make_case(work__mass="0 kg")


def test_nothing_that_damps_sings_at_any_cut(make_case: MakeCase) -> None:
    still = {f"supports__{end}__damping": "0 N.s/m" for end in ("drive", "tail")}
    case = make_case(**TABLE, **still, bar__damping_ratio=0.0, work__damping_ratio=0.0)
    corner = replace(corners(case)["likely"], process_damping=0.0)
    assert margin_of(case, corner) < 0.05
    assert Setting(case=case, corner=corner).margins("depth", np.array([3e-4]))[0] < 0.05


def test_bar_that_nothing_can_make_sing_is_told_so(
    make_case: MakeCase, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(chatter, "limit_from", lambda *_, **__: inf)  # no limit is asked for
    short = {"bar__span": "80 mm", "cross_hole__position": "40 mm", "bar__diameter": "45 mm"}
    rigid = {
        f"supports__{end}__{way}_stiffness": "rigid"
        for end in ("drive", "tail")
        for way in ("radial", "axial")
    }
    case = make_case(**TABLE | {"cut__depth": "0.01 mm"}, **short, **rigid)
    case = case.model_copy(update={"work": case.work.model_copy(update={"axial_stiffness": inf})})
    found = solve_chatter(case)
    assert found.margin["low"] > 1.0
    assert found.verdict == "good"


# --- the loop by its own equation ----------------------------------------------------------------


def any_loop(damping: float) -> Loop:
    """A loop of numbers drawn at random: every motion of the edge moves every other."""
    chance = np.random.default_rng(5)
    K, K0, S = chance.normal(size=(3, 3, 3)) * np.array([1e7, 3e6, 1e-3])[:, None, None]
    K[:, 1] = K0[:, 1] = K0[:, 2] = 0.0  # a motion along the speed changes no chip
    S[1] = S[:, 1] = 0.0
    real, imaginary = chance.normal(size=(2, 40, 3, 3)) * 1e-7
    force = EdgeForce(resultant=np.zeros(3), regenerative=K, instant=K0, damping_shape=S)
    return Loop(
        receptance=real + 1j * imaginary,
        frequency=np.linspace(100.0, 900.0, 40),
        force=force,
        damping=damping,
    )


@pytest.mark.parametrize("damping", [0.0, 2e6])
@pytest.mark.parametrize("gain", [0.2, 1.0, 7.0])
def test_worst_eigenvalue_is_that_of_the_loops_equation(damping: float, gain: float) -> None:
    """Re eig[(G^-1 + g K0 + i w C)^-1 g K], the third eigenvalue being nothing."""
    loop = any_loop(damping)
    found = worst_eigenvalues(loop, gain)
    for G, f, worst in zip(loop.receptance, loop.frequency, found, strict=True):
        rubbed = 2j * pi * f * damping * loop.force.damping_shape
        held = np.linalg.inv(np.linalg.inv(G) + gain * loop.force.instant + rubbed)
        roots = np.linalg.eigvals(held @ (gain * loop.force.regenerative))
        two = sorted(roots, key=abs)[1:]
        assert worst == pytest.approx(min(root.real for root in two), rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("damping", [0.0, 2e6])
def test_onset_is_the_first_of_all_gains_that_sings(damping: float) -> None:
    loop = any_loop(damping)
    loop = replace(loop, force=replace(loop.force, instant=np.zeros((3, 3))))
    found = onset(loop)
    below, above = (
        np.array([worst_eigenvalues(loop, g).min() for g in found.gain_margin * np.array(shares)])
        for shares in (np.linspace(0.01, 1 - 1e-8, 300), [1 + 1e-8, 1.0001])
    )
    assert below.min() > -0.5 > above.max()
    at = worst_eigenvalues(loop, found.gain_margin)
    assert found.frequency == loop.frequency[at.argmin()]


@pytest.mark.parametrize(("gain", "margin"), [(1e-6, inf), (1e-2, 548.9088), (1e10, 5.489088e-10)])
def test_margins_are_looked_for_over_many_decades(gain: float, margin: float) -> None:
    """The textbook's mode again; past a thousandfold it is endless, below 1e-7 it is nothing."""
    given = one_planar_mode(2.26e8, 0.012, 250.0)
    loop = plunging_loop(given, plunge(1e9 * gain, 1e-3), near_mode(250.0, 0.05, 4001))
    found = onset(loop)
    if margin < 1e-7:
        assert (found.gain_margin, found.frequency) == (0.0, loop.frequency[0])
    elif margin == inf:
        assert found.gain_margin == inf
        assert np.isnan(found.frequency)
    else:
        assert found.gain_margin == pytest.approx(margin, rel=3e-6)


def test_margin_a_thousand_times_too_small_is_still_told() -> None:
    given = one_planar_mode(2.26e8, 0.012, 250.0)
    loop = plunging_loop(given, plunge(1e9 * 1e5, 1e-3), near_mode(250.0, 0.05, 4001))
    assert onset(loop).gain_margin == pytest.approx(5.489088e-5, rel=3e-6)


def windowed(marked: complex, instant: complex) -> Loop:
    """A loop of ``g marked / (1 + g instant)`` at every frequency; it never whirls."""
    receptance = np.zeros((3, 3, 3), dtype=np.complex128)
    receptance[:, 0, :2] = 1.0, 1j
    edge = plunge(0.0, 1.0)
    edge.regenerative[:2, 0] = marked.real, marked.imag
    edge.instant[:2, 0] = instant.real, instant.imag
    return Loop(receptance=receptance, frequency=np.array([50.0, 60.0, 70.0]), force=edge)


@pytest.mark.parametrize("place", [0.37, 1.05, 4.2])
def test_window_of_gains_narrower_than_a_step_is_found(place: float) -> None:
    """Near the gain that all but whirls the engaged length swells the marks fiftyfold."""
    instant = (-1 + 0.02j) / place

    def real(g: float, marked: complex) -> float:
        return (g * marked / (1 + g * instant)).real

    sings, quiet = -0.0101j / place, -0.0098j / place
    first = brentq(lambda g: real(g, sings) + 0.5, 0.95 * place, place)
    assert first == pytest.approx(place, rel=4e-3)
    assert onset(windowed(sings, instant)).gain_margin == pytest.approx(first, rel=1e-8)
    assert onset(windowed(quiet, instant)).gain_margin > 1.5 * place


@pytest.mark.parametrize("spin", [1.0, 6.0])
def test_whirl_is_where_the_crosswise_receptance_is_real(spin: float) -> None:
    """``1 + g K0 G_tr = 0``: G_rt of one mode is i/2 (g(f + n) - g(f - n)), worked here."""
    stiffness, damping, mode, engaged = 4e6, 0.02, 150.0, 1e6

    def crosswise(f: float) -> complex:
        ahead, behind = (
            1 / (stiffness * (1 - (x / mode) ** 2 + 2j * damping * x / mode))
            for x in (f + spin, f - spin)
        )
        return 0.5j * (ahead - behind)

    apart = 2 * sqrt(spin**2 + (damping * mode) ** 2)
    pitches = [
        float(brentq(lambda f: crosswise(f).imag, mode, mode + way)) for way in (-apart, apart)
    ]
    pitch = min(pitches, key=lambda f: crosswise(f).real)
    exact = -1 / (engaged * crosswise(pitch).real)
    given, f = one_planar_mode(stiffness, damping, mode), near_mode(mode, 0.2)
    found = whirl_onset(plunging_loop(given, plunge(0.0, 1e-3, instant=engaged), f, spin))
    assert found.gain_margin == pytest.approx(exact, rel=1e-6)
    assert found.frequency == pytest.approx(pitch, rel=1e-6)
    still = whirl_onset(plunging_loop(given, plunge(0.0, 1e-3, instant=engaged), f))
    assert still.gain_margin == inf
    assert np.isnan(still.frequency)


@pytest.mark.parametrize("damping", [0.0, 400.0])
@pytest.mark.parametrize("speed", [3.0, 11.0, 40.0])
def test_onset_at_a_speed_solves_the_loops_own_equation(speed: float, damping: float) -> None:
    """``det[1 + G (g K0 + i w C + (1 - exp(-i w T)) g K)] = 0`` at what it finds."""
    given = one_planar_mode(1e7, 0.02, 310.0)
    edge = plunge(1e9, 1e-3, tangential=2.2e9, instant=2e5)
    found = onset_at_speed(given, edge, speed, damping=damping)
    f, g = found.frequency, found.gain_margin
    G = given.at(np.array([f]), speed)[0]
    delayed = 1 - np.exp(-2j * pi * f / speed)
    rubbed = 2j * pi * f * damping * edge.damping_shape
    loop = G @ (g * edge.instant + rubbed + delayed * g * edge.regenerative)
    assert abs(np.linalg.det(np.eye(3) + loop)) < 5e-3
    floor = plunging_loop(given, edge, frequencies_for(given, speed), speed, damping)
    assert g >= onset(floor).gain_margin * (1 - 1e-3)


def test_bar_that_stands_still_keeps_its_delay() -> None:
    limit, pitch = lobe_limit(1e7, 0.02, 310.0, 11.0)
    given = one_planar_mode(1e7, 0.02, 310.0)
    found = onset_at_speed(given, plunge(1e9, 1e-3), 11.0, turning=False)
    assert found.gain_margin == pytest.approx(limit / 1e6, rel=1e-3)
    assert found.frequency == pytest.approx(pitch, rel=1e-4)


def test_no_gain_at_a_speed_sings_where_none_does_at_any() -> None:
    given = one_planar_mode(1e7, 0.02, 310.0)
    found = onset_at_speed(given, plunge(0.0, 1e-3), 11.0)
    assert found.gain_margin == inf
    assert np.isnan(found.frequency)
    nothing = onset_at_speed(given, plunge(1e18, 1e-3), 11.0)
    assert nothing.gain_margin == 0.0


@pytest.mark.parametrize("spin", [0.0, 8.0])
def test_frequencies_lie_close_about_every_mode_as_the_turning_bar_hears_it(spin: float) -> None:
    parts = ("planar", "twist", "stretch", "work_across", "work_axial")
    pitches = {part: 210.0 + 317.0 * k for k, part in enumerate(parts)}
    modes = {part: one_mode(1e7, 1e7 / (2 * pi * f) ** 2, 0.02) for part, f in pitches.items()}
    f = frequencies_for(replace(one_planar_mode(1e7, 0.02, 99.0), **modes), spin)
    assert np.all(np.diff(f) > 0)
    assert (f[0] >= 1.0, f[-1] <= 4000.0) == (True, True)
    assert f[0] == pytest.approx(5.0)
    assert f[-1] > 3800.0
    for pitch in pitches.values():
        for heard in {pitch + spin, pitch - spin}:
            near = f[np.abs(f - heard) < 0.3 * pitch]
            assert np.abs(near - heard).min() == pytest.approx(1e-7 * pitch, rel=0.02)
            # by a thirteenth of its distance, or 0.04 % of the pitch, to the next one
            step = np.diff(near)
            off = np.minimum(np.abs(near[1:] - heard), np.abs(near[:-1] - heard))
            assert np.all(step <= 0.13 * off + 4.1e-4 * pitch)


# --- corners and settings ------------------------------------------------------------------------


def test_corner_is_the_same_alone_and_among_all(make_case: MakeCase) -> None:
    case = make_case(**TABLE, supports__tail={"kind": "live centre"})
    every = corners(case)
    factored = factorised(beam_model(case, averaged=True))
    f = np.array([90.0, 400.0])
    for end, known in every.items():
        alone = corner_at(case, factored, end)
        np.testing.assert_allclose(alone.compliance.at(f, 2.0), known.compliance.at(f, 2.0))
        assert alone.end == known.end == end
        assert alone.pitches == pytest.approx(known.pitches)
        assert len(known.pitches) == (1 if end == "likely" else 4)
        rubbing = case.work.material.process_damping
        expected = float(rubbing) if end == "likely" else getattr(rubbing, end)
        assert known.process_damping == expected


def test_loop_of_a_case_turns_and_is_rubbed_unless_it_is_told_not_to(
    likely: tuple[Case, Corner],
) -> None:
    case, corner = likely
    speed = 2 * pi * 0.025 * 2.0
    turning, still, bare = (
        loop_of(case, corner, **how) for how in ({}, {"turning": False}, {"damped": False})
    )
    assert turning.damping == still.damping == pytest.approx(corner.process_damping / speed)
    assert bare.damping == 0.0
    for loop, spin in ((turning, 2.0), (still, 0.0), (bare, 2.0)):
        known = corner.compliance.at(loop.frequency[[100]], spin)
        np.testing.assert_allclose(loop.receptance[[100]], known)
        np.testing.assert_array_equal(loop.frequency, frequencies_for(corner.compliance, spin))
    np.testing.assert_array_equal(turning.force.regenerative, edge_of(case, "likely").regenerative)


@pytest.mark.parametrize("turning", [True, False])
@pytest.mark.parametrize("damped", [True, False])
def test_margins_of_many_depths_are_those_of_their_loops(
    likely: tuple[Case, Corner], turning: bool, damped: bool
) -> None:
    setting = Setting(case=likely[0], corner=likely[1], turning=turning, damped=damped)
    depths = np.geomspace(5e-5, 2e-3, 19)
    found = setting.margins("depth", depths, nose_radius=0.3e-3)
    assert found.shape == depths.shape
    for k in (0, 7, 8, 18):
        loop = setting.loop(depth=float(depths[k]), nose_radius=0.3e-3)
        assert found[k] == pytest.approx(onset(loop).gain_margin, rel=0.01)
    assert setting.margins("depth", np.zeros(0)).size == 0


def one_mode_corner(end: End, stiffness: float, damping: float = 0.02) -> Corner:
    given = one_planar_mode(stiffness, damping, 150.0)
    return Corner(end=end, compliance=given, process_damping=1e4, pitches=(150.0,))


def test_chatter_of_a_case_is_put_together_from_its_corners(
    make_case: MakeCase, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: dict[Any, Any] = {}

    def depths(setting: Setting, quiet: bool) -> Any:
        asked["depth", setting.corner.end] = quiet
        return {"low": "none", "likely": 3e-4, "high": 5e-4}[setting.corner.end]

    def nose(setting: Setting, quiet: bool) -> Any:
        asked["nose", setting.corner.end] = quiet
        return 2e-4, "this depth"

    monkeypatch.setattr(chatter, "depth_limit", depths)
    monkeypatch.setattr(chatter, "nose_radius_limit", nose)
    monkeypatch.setattr(chatter, "whirl_feed_limit", lambda setting: setting.corner.end)
    case = make_case(**TABLE)
    ends: dict[End, float] = {"low": 1.5e7, "likely": 3e7, "high": 1e8}
    every = {end: one_mode_corner(end, stiffness) for end, stiffness in ends.items()}
    found = solve_chatter(case, every)
    settings = {end: Setting(case=case, corner=corner) for end, corner in every.items()}
    margins = {end: onset(setting.loop()) for end, setting in settings.items()}
    assert dict(found.margin) == {end: one.gain_margin for end, one in margins.items()}
    assert found.margin["low"] < 1 < found.margin["likely"] < found.margin["high"]
    still = onset(replace(settings["likely"], turning=False).loop())
    bare = onset(replace(settings["likely"], damped=False).loop())
    assert (found.still, found.bare) == (still.gain_margin, bare.gain_margin)
    assert len({found.still, found.bare, found.margin["likely"]}) == 3
    assert found.frequency == margins["likely"].frequency
    assert found.marks_per_turn == pytest.approx(found.frequency / 2.0)
    assert asked == {
        ("depth", "low"): False,
        ("depth", "likely"): True,
        ("depth", "high"): True,
        ("nose", "likely"): True,
    }
    # The least of the limits is the low one, whichever end it came from.
    assert dict(found.depth_limit) == {"low": 3e-4, "likely": 3e-4, "high": "none"}
    assert (found.nose_radius_limit, found.nose_limit_holds_for) == (2e-4, "this depth")
    assert found.whirl_feed_limit == "likely"
    assert (found.verdict, found.reason) == margin_verdict(found.margin, found.bare)


@pytest.mark.slow
def test_pitch_of_a_cut_that_only_rubbing_keeps_quiet_is_that_without_it(
    make_case: MakeCase,
) -> None:
    case = make_case(**TABLE)
    ends: tuple[End, ...] = ("low", "likely", "high")
    every = {end: replace(one_mode_corner(end, 3e7), process_damping=1e9) for end in ends}
    found = solve_chatter(case, every)
    assert found.margin["likely"] == inf
    bare = onset(Setting(case=case, corner=every["likely"], damped=False).loop())
    assert (found.frequency, found.bare) == (bare.frequency, bare.gain_margin)


@pytest.mark.parametrize(
    ("planned", "whirls_at", "limit"),
    [
        (0.1e-3, 0.3e-3, None),
        (0.1e-3, 0.04e-3, None),
        (0.1e-3, 2.8e-3, None),
        (0.1e-3, 3.2e-3, "none"),
        (1e-3, 3.8e-3, None),
        (1e-3, 4.2e-3, "none"),
        (0.1e-3, 1.15e-5, None),
        (0.1e-3, 0.85e-5, "no usable feed"),
    ],
)
def test_feed_that_whirls_is_the_closed_form(
    make_case: MakeCase, planned: float, whirls_at: float, limit: str | None
) -> None:
    """``K0_tr = 4 z k sqrt(1 + (z f / n)^2)``: k is chosen so that it whirls at a given feed."""
    case = make_case(**TABLE)
    engaged = float(edge_of(changed(case, feed=whirls_at), "likely").instant[1, 0])
    stiffness = engaged / (4 * 0.02 * sqrt(1 + (0.02 * 150 / case.spindle_speed) ** 2))
    corner = replace(one_mode_corner("likely", stiffness), process_damping=0.0)
    found = whirl_feed_limit(Setting(case=changed(case, feed=planned), corner=corner))
    assert found == (limit or pytest.approx(whirls_at, rel=0.07))
