"""A short bare bar as a beam against three-dimensional elasticity of the round rod."""

from __future__ import annotations

from dataclasses import replace
from math import inf, pi

import numpy as np
import pytest
from round_rod import RoundRod

from barwright.analysis import reference_bars as bars
from barwright.analysis.model import Held, factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.section import (
    energy_coefficient,
    hutchinson_coefficient,
    rotation_lag,
    round_section,
    shear_coefficient,
)
from barwright.analysis.timoshenko import Mount, Segment, beam, segment

D, GRIP = 0.028, 0.025


def rod(*cuts: float) -> RoundRod:
    return RoundRod(cuts=cuts, diameter=D, E=bars.E, nu=bars.POISSON, density=bars.DENSITY)


def piece(end: float) -> Segment:
    section = replace(
        round_section(D, bars.POISSON), shear_coefficient=hutchinson_coefficient(bars.POISSON)
    )
    plain = segment(-GRIP, end, section, E=bars.E, G=bars.G, density=bars.DENSITY)
    return replace(plain, lag=rotation_lag(bars.POISSON))


def test_short_waves_run_as_a_beam_with_hutchinson_has_them() -> None:
    """Timoshenko's slower wave, 1 - w^2 (..) + w^4 = 0 in closed form; five diameters long."""
    wave = 1.2 / D
    area, second = pi * D**2 / 4, pi * D**4 / 64
    shear = hutchinson_coefficient(bars.POISSON) * bars.G * area
    mass, rotary = bars.DENSITY * area, bars.DENSITY * second
    whole = mass * rotary
    linear = mass * shear + wave**2 * (mass * bars.E * second + rotary * shear)
    root = np.sqrt(linear**2 - 4 * whole * wave**4 * bars.E * second * shear)
    beam_squared = (linear - root) / (2 * whole)
    assert np.sqrt(beam_squared) == pytest.approx(rod(0.0, 1.0).circular(wave), rel=2e-4)


def test_three_shear_coefficients_lie_evenly() -> None:
    """In their reciprocals: by energy of the stresses, Cowper's, Hutchinson's."""
    for nu in (0.0, 0.21, 0.29, 0.35):
        energy, cowper, hutchinson = (
            1 / one(nu) for one in (energy_coefficient, shear_coefficient, hutchinson_coefficient)
        )
        assert energy - cowper == pytest.approx(cowper - hutchinson, abs=1e-12)


def test_mean_rotation_of_a_grip_lags_by_its_share_of_the_shear_strain() -> None:
    grip = Mount(name="grip", start=-GRIP, end=0.0, vertical=inf, horizontal=inf, tilt=inf)
    model = beam([piece(0.2)], [grip], edge=0.1)
    n = model.n_dof // 6
    sheared = np.zeros((model.n_dof, 2))  # deflections of slope one, sections upright
    sheared[:n, 0] = model.rigid[:n, 3]
    sheared[2 * n : 3 * n, 1] = model.rigid[2 * n : 3 * n, 4]
    found = model.holds[0].motion[:, 3:5].T @ sheared
    np.testing.assert_allclose(found, -rotation_lag(bars.POISSON) * np.eye(2), atol=1e-12)


@pytest.mark.slow
@pytest.mark.parametrize(("tilt", "give", "pitch"), [(inf, 1e-3, 4e-4), (0.0, 2e-4, 4e-4)])
def test_bare_bar_of_eight_diameters_agrees_with_the_rod(
    tilt: float, give: float, pitch: float
) -> None:
    """A grip on its mean motions, a pinned end: without the lag the clamp is 0.2 % too high."""
    end, at = 8 * D, 3.76 * D
    grip = Mount(
        name="grip",
        start=-GRIP,
        end=0.0,
        vertical=inf,
        horizontal=inf,
        tilt=tilt,
        axial=inf,
        turning=inf,
    )
    centre = Mount(name="centre", start=end, end=end, vertical=inf, horizontal=inf)
    line = factorised(beam([piece(end)], [grip, centre], edge=at, longest=D))
    body = rod(-GRIP, -0.006, 0.0, 0.006, 2 * D, at, 6 * D, end - 0.007, end)
    (deflected, turned), (pinned, _) = body.mean(-GRIP, 0.0), body.mean(end, end)
    still = [deflected, turned, pinned] if tilt else [deflected, pinned]
    assert Held(line).edge_compliance[0, 0] == pytest.approx(
        body.give(still, body.mean(at, at)[0]), rel=give
    )
    modes = undamped_modes(line, count=11, counted=False)
    found = [f for f, p in zip(modes.frequency, modes.plane, strict=True) if p == "bit"]
    np.testing.assert_allclose(found[:3], body.pitches(still, 3), rtol=pitch)
