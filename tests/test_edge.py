"""The engaged edge: forces and gains against closed forms, and against one another."""

from __future__ import annotations

from dataclasses import replace
from math import acos, cos, isclose, pi, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import beta

from barwright.analysis.edge import NODES, Edge, EdgeForce, Kienzle, edge_force

CUTTING = Kienzle(k=2220e6, m=0.14)
NORMAL = Kienzle(k=540e6, m=0.45)
DEEP = Edge(depth=1e-3, feed=0.1e-3, nose_radius=0.4e-3, lead_angle=0.0)

exponents = st.floats(0.0, 0.9)
edges = st.builds(
    Edge,
    depth=st.floats(0.01e-3, 3e-3),
    feed=st.floats(0.02e-3, 0.5e-3),
    nose_radius=st.one_of(st.just(0.0), st.floats(0.05e-3, 2e-3)),
    lead_angle=st.floats(0.0, radians(60)),
)


def slope_by(name: str, edge: Edge, cutting: Kienzle, normal: Kienzle) -> np.ndarray:
    """Central difference of the resultant by a length of the edge, (3,) N/m."""
    at = getattr(edge, name)
    step = 1e-5 * at
    ends = (
        edge_force(replace(edge, **{name: at + side}), cutting, normal).resultant
        for side in (step, -step)
    )
    above, below = ends
    return np.asarray((above - below) / (2 * step))


# --- closed forms ----------------------------------------------------------------------------


@pytest.mark.parametrize("feed", [0.05e-3, 0.1e-3, 0.3e-3])
@pytest.mark.parametrize("exponent", [0.0, 0.14, 0.45, 0.7])
def test_radial_gain_of_a_whole_quarter_nose_is_a_beta_function(
    feed: float, exponent: float
) -> None:
    # (1-m) k int_0^{pi/2} (f sin)^-m cos^2 r dkappa = (1-m)/2 B((1-m)/2, 3/2) k f^-m r
    normal = Kienzle(k=540e6, m=exponent)
    found = edge_force(replace(DEEP, feed=feed), CUTTING, normal).regenerative[0, 0]
    share = (1 - exponent) / 2 * beta((1 - exponent) / 2, 1.5)
    assert found == pytest.approx(share * 540e6 * (feed * 1e3) ** -exponent * 0.4e-3, rel=1e-12)


def test_radial_gain_with_a_constant_slope_is_a_quarter_of_pi() -> None:
    found = edge_force(DEEP, CUTTING, Kienzle(k=540e6, m=0.0)).regenerative[0, 0]
    assert found == pytest.approx(pi / 4 * 540e6 * 0.4e-3, rel=1e-12)


@pytest.mark.parametrize("exponent", [0.0, 0.14, 0.26, 0.6])
def test_tangential_gain_of_a_whole_quarter_nose_is_its_radius_times_kc(exponent: float) -> None:
    found = edge_force(DEEP, Kienzle(k=2220e6, m=exponent), NORMAL).regenerative[1, 0]
    assert found == pytest.approx(2220e6 * 0.1**-exponent * 0.4e-3, rel=1e-12)


def test_gains_of_a_whole_quarter_nose_do_not_know_the_depth() -> None:
    deeper = replace(DEEP, depth=3e-3)
    first, second = (edge_force(edge, CUTTING, NORMAL) for edge in (DEEP, deeper))
    np.testing.assert_allclose(first.regenerative[:2, 0], second.regenerative[:2, 0], rtol=1e-12)


def test_instant_gain_at_no_lead_is_tangential_kc_f_and_never_radial() -> None:
    instant = edge_force(DEEP, CUTTING, NORMAL).instant
    assert instant[1, 0] == pytest.approx(2220e6 * 0.1**-0.14 * 0.1e-3, rel=1e-12)
    assert abs(instant[0, 0]) < 1e-12 * instant[1, 0]
    assert instant[2, 0] == pytest.approx(540e6 * 0.1**-0.45 * 0.1e-3, rel=1e-12)
    assert not instant[:, 1:].any()


def test_push_is_square_to_the_chord_where_it_does_not_know_the_chip() -> None:
    # As m tends to 1 the push per length is alike all along the arc: its sum is square to the
    # chord, at half of acos(1 - depth/r) from the bit (geometry, by hand: 20.70 degrees).
    shallow = replace(DEEP, depth=0.1e-3)
    r, _, x = edge_force(shallow, CUTTING, Kienzle(k=540e6, m=1 - 1e-6)).resultant
    assert acos(r / np.hypot(r, x)) == pytest.approx(acos(1 - 0.1 / 0.4) / 2, rel=1e-5)
    assert acos(r / np.hypot(r, x)) == pytest.approx(radians(20.70), abs=radians(0.005))
    assert r / np.hypot(r, x) == pytest.approx(0.9354, abs=5e-5)
    assert x / np.hypot(r, x) == pytest.approx(0.3535, abs=1e-4)


def test_damping_shape_is_the_edge_seen_from_each_way() -> None:
    # int cos^2, cos sin, sin^2 over a quarter circle, and a side square to the bar
    shape = edge_force(DEEP, CUTTING, NORMAL).damping_shape
    r, side = 0.4e-3, 0.6e-3
    expected = np.zeros((3, 3))
    expected[0, 0], expected[2, 2] = pi / 4 * r, pi / 4 * r + side
    expected[0, 2] = expected[2, 0] = r / 2
    np.testing.assert_allclose(shape, expected, rtol=1e-12, atol=1e-18)


@pytest.mark.parametrize("depth", [0.03e-3, 0.2e-3, 0.4e-3])
@pytest.mark.parametrize("lead", [0.0, 0.5])
def test_resultant_agrees_with_an_adaptive_quadrature(depth: float, lead: float) -> None:
    edge = replace(DEEP, depth=depth, lead_angle=lead)
    end = min(pi / 2 - lead, acos(1 - depth / 0.4e-3))
    side = max(0.0, (depth - 0.4e-3 * (1 - sin(lead))) / cos(lead))

    def push(kappa: float) -> float:
        return float(540e6 * 1e-3 * (0.1 * sin(kappa)) ** 0.55)

    radial, axial = (
        quad(lambda k, share=share: push(k) * share(k) * 0.4e-3, 0, end, epsabs=0, epsrel=1e-11)[0]
        + push(pi / 2 - lead) * share(pi / 2 - lead) * side
        for share in (cos, sin)
    )
    found = edge_force(edge, CUTTING, NORMAL).resultant
    assert found[[0, 2]] == pytest.approx([radial, axial], rel=1e-9)


def test_straight_edge_at_75_degrees_is_kienzles_own_formula() -> None:
    # 2220 N/mm2 and 0.14, 2 mm deep, 0.25 mm/rev: h 0.241481 mm, b 2.070552 mm, 1354.3 N by hand.
    edge = Edge(depth=2e-3, feed=0.25e-3, nose_radius=0.0, lead_angle=radians(15))
    assert edge.length == pytest.approx(2.070552e-3, abs=5e-10)
    found = edge_force(edge, CUTTING, NORMAL).resultant
    assert found[1] == pytest.approx(1354.3, abs=0.05)
    normal = 540e6 * 2.070552e-3 * 1e-3 * 0.241481**0.55
    assert found[0] == pytest.approx(normal * cos(radians(75)), rel=1e-5)
    assert found[2] == pytest.approx(normal * sin(radians(75)), rel=1e-5)


# --- what the slopes are slopes of --------------------------------------------------------------


@given(edge=edges, m_c=exponents, m_n=exponents)
def test_more_depth_adds_force_as_the_instant_gain_says(
    edge: Edge, m_c: float, m_n: float
) -> None:
    cutting, normal = Kienzle(k=2e9, m=m_c), Kienzle(k=0.5e9, m=m_n)
    meets = edge.nose_radius * (1 - sin(edge.lead_angle))
    if isclose(edge.depth, meets, rel_tol=1e-3):
        return  # a central difference over the corner of the slope is neither slope
    force = edge_force(edge, cutting, normal)
    found = slope_by("depth", edge, cutting, normal)
    scale = np.abs(force.instant[:, 0]).max()
    np.testing.assert_allclose(found, force.instant[:, 0], rtol=1e-5, atol=1e-6 * scale)


@given(edge=edges, m_c=exponents, m_n=exponents)
def test_more_feed_adds_force_as_the_regenerative_gain_says(
    edge: Edge, m_c: float, m_n: float
) -> None:
    cutting, normal = Kienzle(k=2e9, m=m_c), Kienzle(k=0.5e9, m=m_n)
    force = edge_force(edge, cutting, normal)
    found = slope_by("feed", edge, cutting, normal)
    np.testing.assert_allclose(found, force.regenerative[:, 2], rtol=1e-6, atol=1e-3)


@given(edge=edges, m_c=exponents, m_n=exponents)
def test_twice_the_nodes_change_nothing(edge: Edge, m_c: float, m_n: float) -> None:
    cutting, normal = Kienzle(k=2e9, m=m_c), Kienzle(k=0.5e9, m=m_n)
    coarse = edge_force(edge, cutting, normal)
    fine = edge_force(edge, cutting, normal, nodes=2 * NODES)
    for name in ("resultant", "regenerative", "damping_shape"):
        a, b = getattr(coarse, name), getattr(fine, name)
        np.testing.assert_allclose(a, b, rtol=1e-9, atol=1e-12 * np.abs(b).max())


# --- limits and symmetries ----------------------------------------------------------------------


@given(edge=edges, m_n=exponents)
def test_normal_gains_are_symmetric_and_never_negative(edge: Edge, m_n: float) -> None:
    force = edge_force(edge, CUTTING, Kienzle(k=0.5e9, m=m_n))
    for gain in (force.regenerative, force.damping_shape):
        square = gain[np.ix_([0, 2], [0, 2])]
        np.testing.assert_allclose(square, square.T, rtol=1e-12)
        assert np.linalg.eigvalsh(square).min() >= -1e-9 * square.max()


@given(edge=edges, m_c=exponents, m_n=exponents, factor=st.floats(0.1, 10))
def test_all_lengths_larger_scale_the_force_by_their_power(
    edge: Edge, m_c: float, m_n: float, factor: float
) -> None:
    larger = Edge(
        depth=edge.depth * factor,
        feed=edge.feed * factor,
        nose_radius=edge.nose_radius * factor,
        lead_angle=edge.lead_angle,
    )
    cutting, normal = Kienzle(k=2e9, m=m_c), Kienzle(k=0.5e9, m=m_n)
    first, second = (edge_force(e, cutting, normal).resultant for e in (edge, larger))
    powers = np.array([2 - m_n, 2 - m_c, 2 - m_n])
    np.testing.assert_allclose(second, first * factor**powers, rtol=1e-6, atol=1e-9)


@given(edge=edges)
def test_edge_spans_the_depth(edge: Edge) -> None:
    within = edge.nose_radius * (1 - cos(edge.arc_end))
    along_side = edge.side_length * cos(edge.lead_angle)
    assert within + along_side == pytest.approx(edge.depth, rel=1e-9)
    assert edge.length >= edge.depth * (1 - 1e-12)
    assert 0 < edge.end_angle <= pi / 2


def shares(force: EdgeForce) -> tuple[np.ndarray, ...]:
    return force.resultant, force.regenerative, force.instant, force.damping_shape


@pytest.mark.parametrize("lead", np.radians([0.0, 15.0, 30.0, 60.0]))
def test_nose_that_shrinks_to_nothing_is_a_pointed_bit(lead: float) -> None:
    point = replace(DEEP, nose_radius=0.0, lead_angle=lead)
    tiny = replace(point, nose_radius=1e-12)
    for a, b in zip(*(shares(edge_force(e, CUTTING, NORMAL)) for e in (point, tiny)), strict=True):
        np.testing.assert_allclose(a, b, rtol=1e-6, atol=1e-6 * np.abs(a).max())


@pytest.mark.parametrize("lead", np.radians([0.0, 15.0, 30.0, 60.0]))
def test_edge_is_continuous_where_the_arc_meets_the_side(lead: float) -> None:
    meets = 0.4e-3 * (1 - sin(lead))
    below, above = (
        edge_force(replace(DEEP, depth=meets * (1 + e), lead_angle=lead), CUTTING, NORMAL)
        for e in (-1e-9, 1e-9)
    )
    for a, b in zip(shares(below), shares(above), strict=True):
        # at no lead the arc comes in square, so its end angle goes like the root of the depth
        np.testing.assert_allclose(a, b, rtol=1e-4, atol=1e-4 * np.abs(a).max())


def test_depth_of_nothing_takes_no_force() -> None:
    found = edge_force(replace(DEEP, depth=1e-15), CUTTING, NORMAL).resultant
    assert np.abs(found).max() < 1e-5
    assert found[0] > 100 * found[2]


def test_force_per_length_and_its_slope_are_kienzles() -> None:
    # C45, 2220 N/mm2 and 0.14 (Koenig type table, from memory): kc 3064 N/mm2 at 0.1 mm
    assert float(CUTTING.per_length(0.1e-3)) / 0.1e-3 == pytest.approx(3064e6, abs=0.5e6)
    assert float(CUTTING.slope(0.1e-3)) == pytest.approx(0.86 * 3064e6, rel=2e-4)


def test_scaled_edge_keeps_its_length_and_scales_each_direction() -> None:
    plain = edge_force(DEEP, CUTTING, NORMAL)
    scaled = plain.scaled(np.array([2.0, 3.0, 4.0]))
    for a, b in zip(shares(plain)[1:3], shares(scaled)[1:3], strict=True):
        np.testing.assert_allclose(b, a * np.array([[2.0], [3.0], [4.0]]))
    np.testing.assert_allclose(scaled.resultant, plain.resultant * [2, 3, 4])
    np.testing.assert_allclose(scaled.damping_shape, plain.damping_shape)
