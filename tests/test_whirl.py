"""Whirl against rotors that can be solved by hand."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest
import references as ref

from barwright.analysis import reference_bars as bars
from barwright.analysis.model import Model, factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.timoshenko import Lump, beam
from barwright.analysis.whirl import critical_speeds, whirl, whirl_frequencies

STIFFNESS, DIAMETRAL = 5000.0, 0.02
FLAT, LONG = 0.03, 0.008  # polar inertia of a disc and of a roller


def conical(polar: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Rigid rotor on a tilt spring, tilting in two planes."""
    return (
        STIFFNESS * np.eye(2),
        DIAMETRAL * np.eye(2),
        polar * np.array([[0.0, 1.0], [-1.0, 0.0]]),
    )


@pytest.mark.parametrize("polar", [FLAT, LONG])
@pytest.mark.parametrize("spin", [0.0, 5.0, 80.0, 1000.0])
def test_rigid_rotor_has_its_backward_and_forward_whirl(polar: float, spin: float) -> None:
    found = whirl_frequencies(*conical(polar), spin)
    exact = ref.rigid_rotor_whirl(polar, DIAMETRAL, STIFFNESS, spin)
    assert found == pytest.approx(exact, rel=1e-9)


def test_long_rotor_has_one_forward_critical_speed() -> None:
    """In step w = W: (diametral - polar) w^2 = k."""
    found = critical_speeds(*conical(LONG))
    exact = (STIFFNESS / (DIAMETRAL - LONG)) ** 0.5 / (2 * pi)
    assert found == pytest.approx([exact], rel=1e-10)


def test_flat_disc_outruns_its_forward_whirl_and_has_no_critical_speed() -> None:
    assert critical_speeds(*conical(FLAT)).size == 0


def test_without_gyroscopic_terms_every_mode_is_a_critical_speed() -> None:
    K, M = np.diag([100.0, 100.0, 900.0, 900.0]), np.eye(4)
    found = critical_speeds(K, M, np.zeros((4, 4)))
    assert found == pytest.approx(np.array([10.0, 10.0, 30.0, 30.0]) / (2 * pi))


def test_critical_speed_is_where_a_forward_whirl_keeps_step() -> None:
    rotor = conical(LONG)
    (spin,) = critical_speeds(*rotor)
    assert whirl_frequencies(*rotor, spin)[1] == pytest.approx(spin, rel=1e-9)


def reference_rotor(*lumps: Lump) -> Model:
    holds = bars.spring(0.0, 30e6, 2e4, ground=True), bars.spring(bars.SPAN, 20e6)
    return beam([bars.reference_segment()], holds, edge=bars.SPAN / 2, lumps=lumps)


def test_still_bar_whirls_at_its_modes() -> None:
    model = reference_rotor()
    modes = undamped_modes(factorised(model), count=10)
    found = whirl(model, modes, 50.0)
    bending = [
        f for f, p in zip(modes.frequency, modes.plane, strict=True) if p in ("bit", "across")
    ]
    assert found.frequency[0] == pytest.approx(bending, rel=1e-6)
    assert found.spin == pytest.approx([0.0, 12.5, 25.0, 37.5, 50.0])
    assert found.frequency.shape == (5, len(bending))


def test_spin_parts_each_pair_and_the_more_the_faster() -> None:
    model = reference_rotor()
    found = whirl(model, undamped_modes(factorised(model), count=10), 100.0)
    split = found.frequency[:, 1::2] - found.frequency[:, 0::2]
    assert np.all(np.diff(split, axis=0) > 0)
    assert split[2] == pytest.approx(2 * split[1], rel=1e-2)


def test_first_critical_of_a_pinned_shaft_is_where_rayleighs_forward_whirl_keeps_step() -> None:
    """W = W in (rho A + rho I b^2) w^2 - 2 rho I b^2 W w = E I b^4: (rho A - rho I b^2) w^2."""
    piece = bars.without_shear(bars.reference_segment())
    model = beam([piece], bars.ends("pinned", "pinned"), edge=0.2, longest=bars.SPAN / 16)
    modes = undamped_modes(factorised(model), count=10, worst_residual=bars.RESIDUAL)
    b = pi / bars.SPAN
    exact = (piece.bending_bit * b**4 / (piece.mass - piece.rotary_bit * b**2)) ** 0.5
    assert whirl(model, modes, 10.0).first_critical == pytest.approx(exact / (2 * pi), rel=1e-6)


def test_whirl_in_the_space_of_still_modes_is_the_whole_rotors() -> None:
    disc = Lump(station=0.1, mass=0.5, diametral=3e-4, polar=5e-4)
    model = reference_rotor(disc)
    modes = undamped_modes(factorised(model), count=16)
    found = whirl(model, modes, 300.0, count=2).frequency[-1, :4]
    assert model.gyroscopic is not None
    K = model.stiffness.toarray()
    for hold in model.holds:
        resisted = (hold.vertical, hold.horizontal, 0.0, hold.tilt, hold.tilt, 0.0)
        K = K + (hold.motion * np.array(resisted)) @ hold.motion.T
    bending = np.arange(4 * model.n_dof // 6)
    pick = np.ix_(bending, bending)
    whole = whirl_frequencies(
        K[pick], model.mass.toarray()[pick], model.gyroscopic.toarray()[pick], 300.0
    )
    assert found == pytest.approx(whole[:4], rel=1e-4)


def test_way_of_spin_only_swaps_forward_and_backward() -> None:
    rotor = conical(LONG)
    assert whirl_frequencies(*rotor, -40.0) == pytest.approx(whirl_frequencies(*rotor, 40.0))
    K, M, G = rotor
    assert critical_speeds(K, M, -G) == pytest.approx(critical_speeds(K, M, G))


def test_a_disc_slows_the_backward_whirl_and_hastens_the_forward_one() -> None:
    disc = Lump(station=0.1, mass=0.5, diametral=3e-4, polar=5e-4)
    still = replace(disc, polar=0.0)
    spun, plain = (
        whirl(model, undamped_modes(factorised(model), count=10), 200.0, count=2)
        for model in (reference_rotor(disc), reference_rotor(still))
    )
    assert spun.frequency[-1, 0] < plain.frequency[-1, 0]
    assert spun.frequency[-1, 1] > plain.frequency[-1, 1]
