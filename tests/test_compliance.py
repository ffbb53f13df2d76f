"""Receptance at the edge, against direct solves and equations written in the turning frame."""

from __future__ import annotations

from dataclasses import replace
from math import inf, pi
from typing import Any

import numpy as np
import pytest
from conftest import MakeCase
from loops import one_mode_receptance, one_planar_mode
from numpy.typing import NDArray

from barwright.analysis.beam import beam_model
from barwright.analysis.case import Case
from barwright.analysis.compliance import Compliance, DampingRatios, edge_compliance, one_mode
from barwright.analysis.model import Factored, Held, factorised, springs
from barwright.analysis.modes import undamped_modes

RATIOS = DampingRatios(bar=0.0, bit=0.02, work=0.04)
ALIKE: dict[str, Any] = {
    "supports__drive__damping": "900 N.s/m",
    "supports__tail__damping": "500 N.s/m",
}


def built(
    case: Case, count: int = 16, ratios: DampingRatios = RATIOS
) -> tuple[Factored, Compliance]:
    factored = factorised(beam_model(case, averaged=True))
    modes = undamped_modes(factored, count=count, counted=False)
    return factored, edge_compliance(case, factored, modes, ratios)


def solved_directly(factored: Factored, frequency: float) -> NDArray[np.complex128]:
    """Edge motion over r, t, x from (K + i w C - w^2 M) on the beam's own matrices."""
    model, w = factored.model, 2 * pi * frequency
    held = springs(model)
    motion = np.hstack([hold.motion for hold in model.holds])
    column = motion @ held.column
    dynamic = model.stiffness.toarray() - w**2 * model.mass.toarray()
    dynamic = dynamic + column / np.maximum(held.flexibility, 1e-16) @ column.T
    damper = np.zeros_like(dynamic)
    for hold in model.holds:
        damper += hold.damping * hold.motion[:, :2] @ hold.motion[:, :2].T
    return np.asarray(model.edge.T @ np.linalg.solve(dynamic + 1j * w * damper, model.edge))


def bar_alone(compliance: Compliance, frequency: float) -> NDArray[np.complex128]:
    f = np.array([frequency])
    found: NDArray[np.complex128] = compliance.at(f)[0]
    found[0, 0] -= compliance.bit_along.receptance(f)[0, 0, 0]
    for way in (1, 2):
        found[way, way] -= compliance.bit_across.receptance(f)[0, 0, 0]
    return found


# The supports' dampers couple every mode to every other: what the modes left out would have
# added is missing, less and less with their number. The bit's mass off the centre line couples
# bending and stretch a little, which the parts of the compliance leave out.
@pytest.mark.parametrize(("count", "radial", "rest"), [(16, 0.01, 0.01), (40, 0.003, 0.01)])
def test_receptance_is_a_direct_solves_about_the_first_three_modes(
    make_case: MakeCase, count: int, radial: float, rest: float
) -> None:
    case = make_case(**ALIKE, cross_hole__position="160 mm", work__axial_stiffness="rigid")
    factored, compliance = built(case, count)
    for mode in compliance.planar.frequency[:3]:
        for share in (0.9, 0.97, 0.995, 1.0, 1.005, 1.03, 1.1):
            exact = solved_directly(factored, share * mode)
            off = np.abs(bar_alone(compliance, share * mode) - exact)
            size = np.sqrt(np.abs(np.diag(exact)))
            assert off[0, 0] < radial * size[0] ** 2
            for row, column in ((0, 2), (2, 0), (2, 2)):
                assert off[row, column] < rest * size[row] * size[column]


def test_static_limit_is_the_held_bars(make_case: MakeCase) -> None:
    case = make_case(**ALIKE, cross_hole__position="160 mm", work__axial_stiffness="rigid")
    factored, compliance = built(case)
    still = bar_alone(compliance, 0.0)
    np.testing.assert_allclose(still.imag, 0.0, atol=1e-20)
    exact = Held(factored).edge_compliance
    for row, column in ((0, 0), (1, 1), (2, 2), (0, 2), (2, 0)):
        assert still[row, column].real == pytest.approx(exact[row, column], rel=1e-6)


@pytest.mark.parametrize("count", [8, 12, 24])
def test_static_limit_owes_nothing_to_the_number_of_modes(make_case: MakeCase, count: int) -> None:
    case = make_case(work__axial_stiffness="rigid")
    factored, compliance = built(case, count=count)
    exact = Held(factored).edge_compliance[0, 0]
    assert bar_alone(compliance, 0.0)[0, 0].real == pytest.approx(exact, rel=1e-9)


def turning_frame(
    stiffness: float, damping: float, mode: float, frequency: float, spin: float
) -> NDArray[np.complex128]:
    """Receptance over r, t of a mass on springs and a damper fixed in the room, bar's frame.

    ``m (u'' + 2 W J u' - W^2 u) + c (u' + W J u) + k u = F`` with ``J = [[0, -1], [1, 0]]``, since
    r turns towards t: Coriolis and centrifugal terms of any text on mechanics.
    """
    w, W = 2 * pi * frequency, 2 * pi * spin
    m = stiffness / (2 * pi * mode) ** 2
    c = 2 * damping * np.sqrt(stiffness * m)
    J, one = np.array([[0.0, -1.0], [1.0, 0.0]]), np.eye(2)
    inertia = m * (-(w**2) * one + 2j * w * W * J - W**2 * one)
    return np.asarray(np.linalg.inv(inertia + c * (1j * w * one + W * J) + stiffness * one))


@pytest.mark.parametrize("spin", [0.5, 2.0, 9.0, 40.0])
def test_turning_receptance_is_that_of_the_turning_frames_equations(spin: float) -> None:
    compliance = one_planar_mode(5e6, 0.02, 220.0)
    f = np.array([3.0, 180.0, 211.0, 219.0, 220.0, 222.0, 229.0, 400.0])
    found = compliance.at(f, spin)
    for k, frequency in enumerate(f):
        exact = turning_frame(5e6, 0.02, 220.0, frequency, spin)
        np.testing.assert_allclose(found[k][:2, :2], exact, rtol=1e-9, atol=1e-20)


def test_turning_bar_answers_its_two_ways_across_alike_and_crosswise_opposed(
    make_case: MakeCase,
) -> None:
    _, compliance = built(make_case(**ALIKE, cross_hole__position="140 mm"))
    f = np.linspace(20.0, 900.0, 40)
    found = compliance.at(f, 3.0)
    np.testing.assert_allclose(found[:, 0, 1], -found[:, 1, 0], rtol=1e-12)
    np.testing.assert_allclose(found[:, 0, 2], found[:, 2, 0], rtol=1e-9)
    np.testing.assert_allclose(found[:, 1, 2], -found[:, 2, 1], rtol=1e-9)


def test_slow_turning_comes_to_standing_still(make_case: MakeCase) -> None:
    _, compliance = built(make_case(**ALIKE, cross_hole__position="140 mm"))
    f = np.linspace(20.0, 900.0, 40)
    still = compliance.at(f)
    scale = np.abs(still).max(axis=(1, 2))
    off = [
        (np.abs(compliance.at(f, spin) - still).max(axis=(1, 2)) / scale).max()
        for spin in (0.1, 0.01, 0.001)
    ]
    # The crosswise part falls with the spin, the rest with its square.
    assert off[1] == pytest.approx(off[0] / 10, rel=0.05)
    assert off[2] < 1e-3


def test_still_receptance_is_symmetric_and_takes_energy(make_case: MakeCase) -> None:
    _, compliance = built(make_case(**ALIKE, cross_hole__position="140 mm"))
    found = compliance.at(np.linspace(20.0, 900.0, 40))
    np.testing.assert_allclose(found, found.transpose(0, 2, 1), atol=1e-22)
    lost = (found - found.conj().transpose(0, 2, 1)) / 2j
    assert np.all(np.linalg.eigvalsh(lost) <= 1e-12 * np.abs(found).max())


def test_rigid_work_side_adds_nothing_and_a_soft_one_its_own_mode(make_case: MakeCase) -> None:
    f = np.array([0.0, 1.0, 40.0, 137.8, 300.0])
    rigid = make_case(work__axial_stiffness="rigid", **ALIKE)
    soft = make_case(
        work__radial_stiffness="30 N/um",
        work__axial_stiffness="rigid",
        work__mass="40 kg",
        **ALIKE,
    )
    added = built(soft)[1].at(f)[:, 0, 0] - built(rigid)[1].at(f)[:, 0, 0]
    mode = np.sqrt(30e6 / 40.0) / (2 * pi)
    np.testing.assert_allclose(added, one_mode_receptance(30e6, 0.04, mode, f), rtol=1e-6)
    assert np.all(built(rigid)[1].work_across.receptance(f) == 0.0)


def test_rigid_support_is_the_limit_of_a_stiff_one(make_case: MakeCase) -> None:
    f = np.linspace(30.0, 800.0, 25)

    def along(drive: str) -> NDArray[np.complex128]:
        case = make_case(**ALIKE, supports__drive__radial_stiffness=drive)
        factored = factorised(beam_model(case, averaged=True))
        modes = undamped_modes(factored, count=16, counted=False)
        return edge_compliance(case, factored, modes, replace(RATIOS, bar=0.02)).at(f)[:, 0, 0]

    np.testing.assert_allclose(along("1e6 N/um"), along("rigid"), rtol=2e-3)


def test_rigid_mode_moves_nowhere_and_a_light_one_is_its_spring() -> None:
    f = np.array([1.0, 100.0])
    assert np.all(one_mode(inf, 1.0, 0.02).receptance(f) == 0.0)
    np.testing.assert_allclose(one_mode(2e7, 1e-6, 0.02).receptance(f)[:, 0, 0], 5e-8, rtol=1e-4)
