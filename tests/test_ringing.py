"""Ring-down and half power against exact decaying sines."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from barwright.analysis.ringing import (
    Stretch,
    damping_ratio,
    fit_rings,
    half_power,
    steady_columns,
    swings,
)

Floats = NDArray[np.float64]
RATE = 5000.0
TIME = np.arange(4000) / RATE


def sine(pitch: float, damping: float, phase: float = 0.7, time: Floats = TIME) -> Floats:
    """Free decay of one viscously damped mass on a spring (any textbook)."""
    turn = 2 * np.pi * pitch
    swing: Floats = np.cos(turn * np.sqrt(1 - damping**2) * time + phase)
    return np.exp(-damping * turn * time) * swing


def stretch(sound: Floats, *lines: float) -> Stretch:
    return Stretch(time=TIME, sound=sound, steady=steady_columns(TIME, lines), rate=RATE)


MODES = [(60.0, 0.004), (150.0, 0.01), (420.0, 0.02), (1100.0, 0.005), (1900.0, 0.04)]


@pytest.mark.parametrize(("pitch", "damping"), MODES)
@pytest.mark.parametrize("phase", [0.0, 0.7, 2.0])
def test_ring_down_finds_an_exact_decaying_sine(
    pitch: float, damping: float, phase: float
) -> None:
    decay = 2 * np.pi * pitch * damping
    heard = stretch(sine(pitch, damping, phase))
    found = fit_rings(heard, np.array([pitch * 1.001]), np.array([2 * decay]))
    assert found.pitch[0] == pytest.approx(pitch, rel=1e-7)
    assert found.damping[0] == pytest.approx(damping, rel=1e-6)
    assert abs(found.amplitude[0]) == pytest.approx(1.0, rel=1e-6)


@pytest.mark.parametrize(("pitch", "damping"), MODES)
@pytest.mark.parametrize("phase", [0.0, 0.7, 2.0])
def test_half_power_finds_an_exact_decaying_sine(
    pitch: float, damping: float, phase: float
) -> None:
    decay = 2 * np.pi * pitch * damping
    heard = stretch(sine(pitch, damping, phase))
    rings = fit_rings(heard, np.array([pitch * 1.001]), np.array([2 * decay]))
    line, width = half_power(heard, rings, 0)
    assert line == pytest.approx(pitch * np.sqrt(1 - damping**2), rel=1e-4)
    assert damping_ratio(line, width) == pytest.approx(damping, rel=1e-3)


def test_half_power_does_not_lean_on_the_decay_that_ring_down_found() -> None:
    """Told a decay a fifth too slow, it still measures the one in the sound."""
    heard = stretch(sine(300.0, 0.012))
    right = fit_rings(heard, np.array([300.1]), np.array([20.0]))
    short = 0.8 * right.decay
    left = heard.sound - (swings(TIME, right.line, short) @ right.amplitude).real
    wrong = replace(right, decay=short, residual=left)
    assert damping_ratio(*half_power(heard, wrong, 0)) == pytest.approx(0.012, rel=0.02)


def test_two_close_sines_and_hum_on_one_of_them_are_told_apart() -> None:
    hum = 0.5 * np.sin(2 * np.pi * 150.0 * TIME + 1.0)
    heard = stretch(sine(150.0, 0.008) + 0.5 * sine(154.5, 0.006) + hum, 150.0)
    found = fit_rings(heard, np.array([149.8, 154.8]), np.array([8.0, 8.0]))
    np.testing.assert_allclose(found.pitch, [150.0, 154.5], rtol=1e-6)
    np.testing.assert_allclose(found.damping, [0.008, 0.006], rtol=1e-5)


def test_doubt_is_the_cramer_rao_bound_of_a_decaying_sine() -> None:
    """Scatter of 200 noisy fits against the doubt that each of them names."""
    rng = np.random.default_rng(0)
    decay = 2 * np.pi * 150.0 * 0.01
    clean = sine(150.0, 0.01)
    found = []
    for _ in range(200):
        noisy = stretch(clean + 0.05 * rng.normal(size=len(TIME)))
        found.append(fit_rings(noisy, np.array([150.0]), np.array([decay])))
    lines = np.array([fit.line[0] for fit in found])
    decays = np.log([fit.decay[0] for fit in found])
    doubt = np.mean([fit.doubt for fit in found], axis=0) * 0.05
    assert np.std(lines) == pytest.approx(doubt[0], rel=0.2)
    assert np.std(decays) == pytest.approx(doubt[1], rel=0.2)
    # With the amplitude unknown: var(decay) = 16 sigma^2 decay^3 / (a^2 rate), from the integrals
    # of t^2, t and 1 times exp(-2 decay t) over the whole decay (Cramer-Rao, worked by hand).
    bound = np.sqrt(16 * 0.05**2 / RATE * decay**3) / decay
    assert doubt[1] == pytest.approx(bound, rel=0.05)


def test_no_sine_asked_for_is_none_found() -> None:
    heard = stretch(sine(150.0, 0.01))
    found = fit_rings(heard, np.empty(0), np.empty(0))
    assert found.pitch.shape == (0,)
    np.testing.assert_allclose(found.residual, heard.sound)
