"""Decaying sines in a stretch of sound: pitch and damping by ring-down and by half power.

Ring-down: least squares on the sound itself, the amplitudes eliminated (variable projection,
Golub and Pereyra, SIAM J. Numer. Anal. 10, 1973, with Kaufman's derivative, BIT 15, 1975; both
from memory). What has died away weighs nothing, so no length of decay need be chosen. Steady
lines such as hum are amplitudes without decay that are eliminated too.

Half power: the width at half the peak of the power of a decaying sine's spectrum is 2 x damping
ratio x pitch (textbook; from memory). The sound is made to die within its stretch by a window
that decays too, and what the window adds is taken off again. Other pitches, hum and the mirror
image at minus the pitch are taken out first as ring-down found them.

A sine decaying as ``exp(-d t)`` at f Hz has the pitch ``sqrt(f^2 + (d / 2 pi)^2)`` and the
damping ratio ``d / sqrt((2 pi f)^2 + d^2)`` (one viscously damped mass on a spring).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import cos, hypot, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
DECAYS = (0.006, 0.02, 0.06, 0.2, 0.6)
"""Time constants that are tried when looking for a pitch, s."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """Sound around one tap.

    Attributes
    ----------
    time : (n,), s; the ring starts at 0, what lies before is the room alone
    sound : (n,)
    steady : (n, k), orthonormal columns of whatever hums through it
    rate : samples per second, Hz
    """

    time: Floats
    sound: Floats
    steady: Floats
    rate: float

    @property
    def ring(self) -> slice:
        """The samples from the start of the ring on."""
        return slice(int(np.searchsorted(self.time, -1e-9)), None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rings:
    """Decaying sines that fit a stretch.

    Attributes
    ----------
    line : (m,), Hz, where each turns
    decay : (m,), 1/s
    amplitude : (m,), complex, at the start of the ring
    residual : (n,), what they and the hum leave
    doubt : (2 m,), standard deviation of the lines in Hz, then of the logarithms of the decays,
        per unit of standard deviation of white noise
    """

    line: Floats
    decay: Floats
    amplitude: Complexes
    residual: Floats
    doubt: Floats

    @property
    def pitch(self) -> Floats:
        """Undamped pitch, Hz."""
        found: Floats = np.hypot(self.line, self.decay / (2 * pi))
        return found

    @property
    def damping(self) -> Floats:
        """Damping ratio."""
        found: Floats = self.decay / (2 * pi * self.pitch)
        return found


def fit_rings(stretch: Stretch, line: Floats, decay: Floats, *, most_steps: int = 40) -> Rings:
    """Decaying sines by least squares, from a first guess of their lines and decays.

    Parameters
    ----------
    line, decay : (m,), Hz and 1/s
        Within about a peak's width; the decay within a factor of three.
    """
    from scipy.optimize import least_squares

    guess = np.concatenate([line, np.log(decay)])
    if not len(line):
        return _found(stretch, guess, _eliminated(stretch, guess))
    last: dict[bytes, _Eliminated] = {}

    def at(x: Floats) -> _Eliminated:
        """The residual and its slope are asked for one after the other at the same place."""
        if x.tobytes() not in last:
            last.clear()
            last[x.tobytes()] = _eliminated(stretch, x)
        return last[x.tobytes()]

    found = least_squares(
        lambda x: at(x).residual,
        guess,
        jac=lambda x: at(x).slope(),
        method="lm",
        x_scale=np.concatenate([decay / (2 * pi), np.ones(len(decay))]),
        max_nfev=most_steps,
        xtol=1e-8,
        ftol=1e-10,
    )
    return _found(stretch, found.x, _eliminated(stretch, found.x))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Eliminated:
    """The best amplitudes at given lines and decays.

    Attributes
    ----------
    time, steady : of the stretch
    basis : (n, 2 m), orthonormal columns of the decaying sines beside the steady ones
    swing : (n, m), complex, decaying turns of unit size
    amplitude : (m,), complex
    decay : (m,), 1/s
    residual : (n,)
    """

    time: Floats
    steady: Floats
    basis: Floats
    swing: Complexes
    amplitude: Complexes
    decay: Floats
    residual: Floats

    def slope(self) -> Floats:
        """What the residual does (n, 2 m) per Hz of each line and per e-fold of each decay."""
        moved = self.amplitude * self.swing * self.time[:, None]
        columns = np.hstack([-2 * pi * moved.imag, -self.decay * moved.real])
        columns = _without(self.steady, columns)
        return self.basis @ (self.basis.T @ columns) - columns


def _eliminated(stretch: Stretch, guess: Floats) -> _Eliminated:
    count = len(guess) // 2
    decay = np.exp(np.clip(guess[count:], -10, 10))
    swing = swings(stretch.time, guess[:count], decay)
    columns = _without(stretch.steady, np.hstack([swing.real, -swing.imag]))
    basis, upper = np.linalg.qr(columns)
    sound = _without(stretch.steady, stretch.sound)
    parts = basis.T @ sound
    weights = np.linalg.lstsq(upper, parts, rcond=1e-10)[0]
    return _Eliminated(
        time=stretch.time,
        steady=stretch.steady,
        basis=basis,
        swing=swing,
        amplitude=weights[:count] + 1j * weights[count:],
        decay=decay,
        residual=sound - basis @ parts,
    )


def _found(stretch: Stretch, x: Floats, best: _Eliminated) -> Rings:
    slope = best.slope()
    return Rings(
        line=x[: len(x) // 2],
        decay=best.decay,
        amplitude=best.amplitude,
        residual=best.residual,
        doubt=np.sqrt(np.abs(np.diag(np.linalg.pinv(slope.T @ slope, rcond=1e-14)))),
    )


def swings(time: Floats, line: Floats, decay: Floats) -> Complexes:
    """Decaying turns of unit size (n, m), nothing before time 0."""
    after = np.maximum(time, 0.0)[:, None]
    return np.where(time[:, None] < 0, 0.0, np.exp((-decay + 2j * pi * line) * after))


def _without(basis: Floats, columns: Floats) -> Floats:
    """What is left of columns beside an orthonormal basis."""
    return columns - basis @ (basis.T @ columns) if basis.shape[1] else columns


def steady_columns(time: Floats, lines: Sequence[float]) -> Floats:
    """Orthonormal columns (n, 2 k) of steady sines at given lines in Hz, over the whole time."""
    if not len(lines):
        return np.empty((len(time), 0))
    turns = np.exp(2j * pi * time[:, None] * np.asarray(lines))
    basis, upper = np.linalg.qr(np.hstack([turns.real, turns.imag]))
    # Lines closer than the time can part leave columns that are noise of rounding.
    kept: Floats = basis[:, np.abs(np.diag(upper)) > 1e-6 * sqrt(len(time))]
    return kept


def half_power(stretch: Stretch, rings: Rings, number: int) -> tuple[float, float]:
    """Line in Hz and decay in 1/s of one of the rings, by the width of its peak at half power.

    Independent of ring-down but for what is taken out first. The aliases of a sampled sine are
    in the formula; what the stretch cuts off is below one in ten thousand of the window. Of a
    peak of noise it gives whatever width that has.
    """
    part = stretch.ring
    time = stretch.time[part]
    own = (
        rings.amplitude[number]
        / 2
        * swings(time, rings.line[number : number + 1], rings.decay[number : number + 1])
    )
    window = max(0.0, 11.0 / float(time[-1]) - float(rings.decay[number]))
    sound = (rings.residual[part] + own[:, 0]) * np.exp(-window * time)
    width_guess = (float(rings.decay[number]) + window) / pi
    return _peak_width(sound, stretch.rate, float(rings.line[number]), width_guess, window)


def _peak_width(
    sound: Complexes, rate: float, line: float, width: float, window: float
) -> tuple[float, float]:
    """Line and decay from the inverse of the power, which is a parabola over a clean peak."""
    from scipy.signal import zoom_fft

    band = (line - 1.5 * width, line + 1.5 * width)
    spots = np.linspace(*band, 301, endpoint=False)
    power = np.abs(zoom_fft(sound, band, m=301, fs=rate)) ** 2
    inverse = 1.0 / np.maximum(power, 1e-300)
    top = int(np.argmin(inverse[75:226])) + 75
    curve = np.polyfit(spots[top - 5 : top + 6] - spots[top], inverse[top - 5 : top + 6], 2)
    shift = -curve[1] / (2 * curve[0]) if curve[0] > 0 else 0.0
    least = np.polyval(curve, shift)
    level = float(2 * least)
    left = _crossing(spots[top::-1], inverse[top::-1], level)
    right = _crossing(spots[top:], inverse[top:], level)
    return float(spots[top] + shift), _decay_of_width(right - left, rate) - window


def _crossing(spots: Floats, inverse: Floats, level: float) -> float:
    """Where the inverse of the power first rises through a level, going away from the peak."""
    above = np.flatnonzero(inverse >= level)
    if not len(above) or above[0] == 0:
        return float(spots[-1])
    after = int(above[0])
    share = (level - inverse[after - 1]) / (inverse[after] - inverse[after - 1])
    return float(spots[after - 1] + share * (spots[after] - spots[after - 1]))


def _decay_of_width(width: float, rate: float) -> float:
    """Decay in 1/s of a sampled sine whose peak is `width` Hz wide at half power.

    From ``|1 - q exp(i a)|^2 = 2 (1 - q)^2`` with ``q = exp(-d / rate)`` and ``a`` half the
    width as an angle per sample.

    Examples
    --------
    >>> d = _decay_of_width(10.0, 1e6)
    >>> round(d, 2)
    31.42
    """
    middle = 2.0 - cos(min(pi * width / rate, pi / 2))
    return -rate * log(middle - sqrt(middle * middle - 1.0))


def next_line(
    stretches: Sequence[Stretch],
    residuals: Sequence[Floats],
    floor: Callable[[Floats, float], Floats],
    allowed: Callable[[Floats], NDArray[np.bool_]],
    enough: float,
) -> tuple[float, float] | None:
    """The decaying sine that takes most out of what is left of some stretches.

    A bank of filters matched to decaying sines (matching pursuit, Mallat and Zhang, IEEE
    Transactions on Signal Processing 41, 1993; from memory).

    Parameters
    ----------
    floor
        Power of the noise per Hz at lines in Hz, for a filter so many Hz wide.
    allowed
        Which lines in Hz may be taken.
    enough
        Least mean power of a filter over that of the noise.

    Returns
    -------
    line in Hz and decay in 1/s, or None where nothing stands over the noise
    """
    longest = max(len(s.time[s.ring]) for s in stretches)
    size = 1 << (2 * longest - 1).bit_length()
    rate = stretches[0].rate
    lines: Floats = np.fft.rfftfreq(size, 1 / rate).astype(np.float64)
    lines = lines[allowed(lines)]
    places = np.round(lines * size / rate).astype(int)
    best, most = None, 0.0
    for constant in DECAYS:
        total = np.zeros(len(lines))
        for stretch, residual in zip(stretches, residuals, strict=True):
            part = stretch.ring
            window = np.exp(-stretch.time[part] / constant)
            power = np.abs(np.fft.rfft(residual[part] * window, size)[places]) ** 2
            total += power / (len(stretches) * float(window @ window))
        total[total < enough * floor(lines, 1 / (pi * constant)) * rate / 2] = 0.0
        if len(total) and np.max(total) > most:
            most = float(np.max(total))
            best = float(lines[np.argmax(total)]), 1 / constant
    return best


def damping_ratio(line: float, decay: float) -> float:
    """Damping ratio of a sine that turns at `line` Hz and decays as ``exp(-decay t)``.

    Examples
    --------
    >>> round(damping_ratio(100.0, 6.283), 4)
    0.01
    """
    return decay / hypot(2 * pi * line, decay)
