"""Modes: named by plane, parted, scaled, and none missed in silence."""

from __future__ import annotations

import re
from dataclasses import replace
from math import inf, pi
from typing import Any

import numpy as np
import pytest
from scipy.sparse.linalg import eigsh

from barwright.analysis import reference_bars as bars
from barwright.analysis.errors import SolveError
from barwright.analysis.model import Factored, factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.timoshenko import Lump, Mount, beam

L = 0.4
PIECE = bars.reference_segment()
ROUND = bars.spring(0.0, 30e6, 2e4, ground=True), bars.spring(L, 20e6)
UNLIKE = tuple(replace(hold, horizontal=hold.vertical / 3) for hold in ROUND)


def bar(holds: tuple[Mount, ...], *lumps: Lump) -> Factored:
    return factorised(beam([PIECE], holds, edge=L / 2, lumps=lumps))


def test_bar_alike_all_round_has_bending_modes_in_pairs_one_in_each_plane() -> None:
    found = undamped_modes(bar(ROUND), count=8)
    bending = [k for k, plane in enumerate(found.plane) if plane in ("bit", "across")]
    assert len(bending) >= 6
    for one, other in zip(bending[0:6:2], bending[1:6:2], strict=True):
        assert (found.plane[one], found.plane[other]) == ("bit", "across")
        assert found.frequency[one] == pytest.approx(found.frequency[other], rel=1e-7)
    assert found.purity[:6].min() > 1 - 1e-6
    bit = found.along[found.plane.index("bit")]
    assert np.abs(bit[1]).max() < 1e-5 * np.abs(bit[0]).max()


def test_unlike_supports_part_the_planes_and_their_softer_way_is_lower() -> None:
    found = undamped_modes(bar(UNLIKE), count=8)
    assert found.first("across") < 0.99 * found.first("bit")
    assert found.first_bending == found.first("across")
    turned = undamped_modes(bar(UNLIKE), count=8, angle=pi / 2)
    assert turned.first("bit") == pytest.approx(found.first("across"), rel=1e-9)
    assert turned.first("across") == pytest.approx(found.first("bit"), rel=1e-9)
    assert turned.angle == pi / 2


def test_modes_between_planes_say_so_by_their_purity() -> None:
    found = undamped_modes(bar(UNLIKE), count=8, angle=pi / 4)
    first = found.purity[:2]
    assert first == pytest.approx([0.5, 0.5], abs=1e-6)


def test_torsion_and_stretch_are_named_and_follow_their_springs() -> None:
    """A stiff bar on a soft spring: root of stiffness over mass, or over polar inertia."""
    soft = replace(ROUND[0], axial=1e5, turning=20.0), ROUND[1]
    found = undamped_modes(bar(soft), count=8)
    mass, polar = PIECE.mass * L, PIECE.polar * L
    assert found.first("axial") == pytest.approx((1e5 / mass) ** 0.5 / (2 * pi), rel=1e-3)
    assert found.first("torsion") == pytest.approx((20.0 / polar) ** 0.5 / (2 * pi), rel=1e-2)


def test_shapes_have_unit_modal_mass_and_are_orthogonal() -> None:
    factored = bar(ROUND, Lump(station=0.1, mass=0.5, arm=0.02))
    found = undamped_modes(factored, count=8)
    mass = found.shape.T @ (factored.model.mass @ found.shape)
    assert np.abs(mass - np.eye(8)).max() < 1e-8
    assert np.all(np.diff(found.frequency) >= -1e-6 * found.frequency[:-1])
    assert found.residual.max() < 1e-8


def test_along_is_the_shape_where_it_is_sampled() -> None:
    factored = bar(ROUND)
    found = undamped_modes(factored, count=3)
    middle = found.along[:, 0, 40]
    assert factored.model.stations[40] == pytest.approx(L / 2)
    assert factored.model.edge[:, 0] @ found.shape == pytest.approx(middle, abs=1e-12)
    assert found.along.shape == (3, 6, factored.model.stations.size)


def test_same_bar_gives_the_same_modes_to_the_last_bit() -> None:
    one, other = (undamped_modes(bar(ROUND), count=6) for _ in range(2))
    assert np.array_equal(one.frequency, other.frequency)
    assert np.array_equal(one.shape, other.shape)


def test_a_plane_with_no_mode_found_has_none_below_any_pitch() -> None:
    found = undamped_modes(bar(ROUND), count=2)
    assert found.first("torsion") == inf
    assert set(found.plane) == {"bit", "across"}


@pytest.mark.parametrize("number", range(8))
def test_a_mode_missed_is_an_error(number: int, monkeypatch: pytest.MonkeyPatch) -> None:

    def forgetful(*given: Any, k: int, **named: Any) -> tuple[np.ndarray, np.ndarray]:
        squared, shape = eigsh(*given, k=k + 1, **named)
        kept = np.delete(np.argsort(squared), number)
        return squared[kept], shape[:, kept]

    plain = bar(UNLIKE)
    assert np.diff(undamped_modes(plain, count=10).frequency).min() > 10.0, "no pairs"
    monkeypatch.setattr("barwright.analysis.modes.eigsh", forgetful)
    with pytest.raises(SolveError, match=r"found \d modes below \d+ Hz where an inertia count"):
        undamped_modes(plain, count=9)
    assert undamped_modes(plain, count=9, counted=False).frequency.size == 9


def test_modes_do_not_change_sign_with_the_solver_that_found_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plain = undamped_modes(bar(UNLIKE), count=8)

    def turned(*given: Any, **named: Any) -> tuple[np.ndarray, np.ndarray]:
        squared, shape = eigsh(*given, **named)
        return squared, -shape

    monkeypatch.setattr("barwright.analysis.modes.eigsh", turned)
    other = undamped_modes(bar(UNLIKE), count=8)
    np.testing.assert_array_equal(other.shape, plain.shape)
    np.testing.assert_array_equal(other.along, plain.along)


def test_a_mode_with_too_large_a_residual_is_an_error() -> None:
    sentence = "a mode came out with a residual of "
    with pytest.raises(SolveError, match=f"^{re.escape(sentence)}.*; 1e-30 is the most$"):
        undamped_modes(bar(ROUND), count=4, worst_residual=1e-30)


def test_heavy_bar_on_soft_springs_bounces_and_rocks_as_a_rigid_body() -> None:
    """Two equal springs k at the ends: bounce sqrt(2k/m), rock sqrt(k L^2/2 / J)."""
    k = 1e4
    soft = bars.spring(0.0, k, ground=True), bars.spring(L, k)
    found = bars.in_plane(undamped_modes(bar(soft), count=8), "bit")
    mass = PIECE.mass * L
    inertia = mass * L**2 / 12 + PIECE.rotary_bit * L
    bounce = (2 * k / mass) ** 0.5 / (2 * pi)
    rock = (k * L**2 / 2 / inertia) ** 0.5 / (2 * pi)
    assert found[:2] == pytest.approx([bounce, rock], rel=2e-3)
