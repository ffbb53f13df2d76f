"""What a hole adds to a bar by the loads it lays bare, against other ways to the same numbers."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from barwright.analysis.block_solid import (
    hole_block,
    meshed_block,
    plain_motion,
    plain_stress,
)
from barwright.analysis.hole_block import (
    LOADS,
    MODULUS_G,
    POISSON,
    BlockShape,
    HoleBlock,
    spread_give,
)
from barwright.analysis.hole_calibration import extra_compliance

OFFSET = BlockShape(shape="square", size=0.3, offset=0.1)
MIRRORED = BlockShape(shape="square", size=0.3, offset=-0.1)


@pytest.fixture(scope="module")
def offset_hole() -> HoleBlock:
    return meshed_block(OFFSET, wall=0.15, corner=0.08)


def section_grid() -> tuple[np.ndarray, np.ndarray]:
    """Points over a circle of diameter 1, (2, n), and weights: Gauss along the radius."""
    point, weight = np.polynomial.legendre.leggauss(12)
    radius, turn = (point + 1) / 4, np.arange(24) * pi / 12
    y, z = radius[:, None] * np.cos(turn), radius[:, None] * np.sin(turn)
    share = np.repeat((weight / 4 * radius * pi / 12)[:, None], 24, axis=1)
    return np.stack([y.ravel(), z.ravel()]), share.ravel()


def test_plain_stresses_carry_a_unit_of_each_load_and_no_more() -> None:
    """Resultants over the section at x = 0.4, of tractions on its far side."""
    place, weight = section_grid()
    y, z = place
    xx, xy, xz = plain_stress(np.vstack([np.full(y.size, 0.4), place])).transpose(1, 0, 2)
    found = np.stack(
        [-xx @ (y * weight), -xx @ (z * weight), (xz * y - xy * z) @ weight]
        + [part @ weight for part in (xx, xy, xz)],
        axis=1,
    )
    expected = np.eye(6)
    expected[4, 0] = expected[5, 1] = -0.4  # a shear force bends beside the hole
    np.testing.assert_allclose(found, expected, atol=1e-12)


def test_plain_stresses_leave_the_round_surface_free_and_balance_inside() -> None:
    turn = np.linspace(0, 2 * pi, 31)
    rim = np.stack([0.2 + 0 * turn, np.cos(turn) / 2, np.sin(turn) / 2])
    _, xy, xz = plain_stress(rim).transpose(1, 0, 2)
    np.testing.assert_allclose(xy * np.cos(turn) + xz * np.sin(turn), 0.0, atol=1e-12)
    place, h = np.random.default_rng(1).uniform(-0.3, 0.3, (3, 20)), 1e-5
    slopes = [
        (plain_stress(place + step) - plain_stress(place - step)) / (2 * h)
        for step in h * np.eye(3)[:, :, None]
    ]
    np.testing.assert_allclose(slopes[0][:, 0] + slopes[1][:, 1] + slopes[2][:, 2], 0.0, atol=1e-7)
    np.testing.assert_allclose([slopes[0][:, 1], slopes[0][:, 2]], 0.0, atol=1e-7)


def test_plain_motion_strains_as_hooke_has_it() -> None:
    place, h = np.random.default_rng(2).uniform(-0.3, 0.3, (3, 20)), 1e-5
    grad = np.stack(
        [
            (plain_motion(place + step) - plain_motion(place - step)) / (2 * h)
            for step in h * np.eye(3)[:, :, None]
        ],
        axis=2,
    )
    strain = (grad + grad.transpose(0, 2, 1, 3)) / 2
    xx, xy, xz = plain_stress(place).transpose(1, 0, 2)
    zero = np.zeros_like(xx)
    expected = [
        [xx, xy / (2 * MODULUS_G), xz / (2 * MODULUS_G)],
        [xy / (2 * MODULUS_G), -POISSON * xx, zero],
        [xz / (2 * MODULUS_G), zero, -POISSON * xx],
    ]
    np.testing.assert_allclose(strain, np.array(expected).transpose(2, 0, 1, 3), atol=1e-6)


def test_a_hole_only_softens(offset_hole: HoleBlock) -> None:
    assert np.linalg.eigvalsh(offset_hole.give).min() > 0
    spread = spread_give(offset_hole.give, OFFSET.size)
    assert np.linalg.eigvalsh(spread).min() > 0


def test_mirrored_offset_turns_the_couplings_about_and_nothing_else(
    offset_hole: HoleBlock,
) -> None:
    """Mirrored in t: what moves along t, slopes across, or turns changes its sign."""
    mirrored = meshed_block(MIRRORED, wall=0.15, corner=0.08)
    loads, walls = np.array([1, -1, -1, 1, 1, -1]), np.array([1, -1, 1, 1, -1, -1])
    # The mesher does not mirror its mesh, so a per cent of the largest of a kind is left.
    for name, left, right in (("give", loads, loads), ("carried", loads, walls)):
        one, other = getattr(offset_hole, name), getattr(mirrored, name)
        scale = np.sqrt(np.outer(np.abs(one).max(1), np.abs(one).max(0)))
        assert np.abs(one - np.outer(left, right) * other).max() < 0.03 * scale.max()
    assert abs(offset_hole.give[1, 3]) > 0.1
    assert abs(offset_hole.give[2, 4]) > 0.1


def test_couplings_of_a_hole_in_the_middle_vanish() -> None:
    give = meshed_block(BlockShape(shape="round", size=0.3), wall=0.07, corner=0.07).give
    size = np.sqrt(np.outer(np.diag(give), np.diag(give)))
    np.testing.assert_allclose((give - np.diag(np.diag(give))) / size, 0.0, atol=1e-2)


def test_volume_cut_out_is_that_of_the_strip(offset_hole: HoleBlock) -> None:
    """Chords of the circle over the hole's width, by the trapezoid rule; with second moments."""
    across = np.linspace(-0.05, 0.25, 20001)
    half = np.sqrt(0.25 - across**2)
    slices = (2 * half, 2 * half * across, 2 * half**3 / 3, 2 * half * across**2)
    expected = [0.3 * np.trapezoid(one, across) for one in slices]
    np.testing.assert_allclose(offset_hole.cut_out, expected, rtol=3e-3)


def test_metal_drifts_only_where_both_ends_bend_alike(offset_hole: HoleBlock) -> None:
    """Bending lifts it towards the hollow side in its own plane, a pull moves it aside.

    What is odd about the hole's middle adds to nothing over the block.
    """
    drift = offset_hole.drift.copy()
    assert drift[0, 0] > 0.04
    assert drift[1, 1] > 0.04
    drift[[0, 1, 3], [0, 1, 1]] = 0.0
    # The mesher does not mirror its mesh along the bar.
    np.testing.assert_allclose(drift, 0.0, atol=4e-3)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("shape", "size", "offset"),
    [("square", 0.3, 0.15), ("round", 0.2, 0.0)],
)
def test_give_agrees_with_the_table_found_by_filling_the_hole(
    shape: str, size: float, offset: float
) -> None:
    """The table takes the difference of two solids, drilled and filled, five diameters long."""
    block = hole_block(BlockShape(shape=shape, size=size, offset=offset))  # type: ignore[arg-type]
    table = extra_compliance(shape, size, 1.0, offset)  # type: ignore[arg-type]
    give = np.diag(spread_give(block.give, size)) * [1, 1, MODULUS_G, 1, MODULUS_G, MODULUS_G]
    for name, found in zip(LOADS, give, strict=True):
        assert found == pytest.approx(getattr(table, name), rel=0.045), name
