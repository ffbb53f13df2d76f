"""The room of a recording: what hums steadily through it, how loud it is, where things are hit.

Steady lines are found in the longest quiet stretch, mains or not; the noise is what they leave.
A tap is a rise by 8 dB within a few milliseconds, in one of three bands, to 13 dB over the room:
a voice or a passing car swells more slowly.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import pi

import numpy as np
from numpy.typing import NDArray

from .recording import Recording, clipped_samples

Floats = NDArray[np.float64]
LOWEST = 25.0
"""Below this nothing is heard, Hz."""
WANTED_RATE = 5000
"""Least samples per second to work with: pitches up to two fifths of it, Hz."""
MOST_LINES = 24
QUIET_FRAME = 0.05
_STEP = 0.002
_FRAME = 0.004
_RISE, _RISE_AGAIN, _OVER_ROOM = 6.0, 3.2, 20.0
_MAINS = (50.0, 60.0)
_HUM_SPREAD = 225.0
"""Hz over which what is left of taken-out hum is spread: the lowest band."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Thinned:
    """A recording with fewer samples, no rumble, and its flat tops marked.

    Attributes
    ----------
    rate : samples per second, Hz
    sound : (n,), share of full scale, without what is below `LOWEST`
    clipped : (k,), s, when it stood on a flat top
    """

    rate: float
    sound: Floats
    clipped: Floats

    @property
    def highest(self) -> float:
        """Highest pitch that can be told, Hz."""
        return min(0.4 * self.rate, 2000.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Room:
    """What is heard when nothing is hit.

    Attributes
    ----------
    start, end : s, the quiet stretch it was taken from
    lines : (k,), Hz, steady lines
    power : (k,), mean square of each line
    mains : 50 or 60 where the lines are its multiples, else 0; Hz
    spots, noise : (m,), Hz and mean square per Hz, of the rest
    """

    start: float
    end: float
    lines: Floats
    power: Floats
    mains: float
    spots: Floats
    noise: Floats

    def noise_at(self, frequency: float) -> float:
        """Mean square of the noise per Hz around a frequency."""
        return float(np.interp(frequency, self.spots, self.noise))

    def noise_around(self, lines: Floats, width: float) -> Floats:
        """Mean square of the noise per Hz around lines in Hz, the most within a width in Hz."""
        from scipy.ndimage import maximum_filter1d

        reach = 2 * round(width / float(self.spots[1] - self.spots[0])) + 1
        found: Floats = np.interp(lines, self.spots, maximum_filter1d(self.noise, reach))
        return found

    def noise_between(self, low: float, high: float) -> float:
        """Mean square of the noise in a band in Hz."""
        inside = (self.spots >= low) & (self.spots <= high)
        return float(np.sum(self.noise[inside])) * float(self.spots[1] - self.spots[0])


def thinned(recording: Recording) -> Thinned:
    """A recording at about 5 to 8 kHz, its steady offset and rumble gone.

    The filter that thins looks both ways by ten of the new samples, 2 ms; the one that takes
    rumble looks back only, so that nothing is heard before it is hit.
    """
    from scipy.signal import butter, resample_poly, sosfilt

    sound = recording.sound - np.mean(recording.sound)
    clipped = np.flatnonzero(clipped_samples(recording.sound, recording.rails)) / recording.rate
    fold = max(1, int(recording.rate // WANTED_RATE))
    few = resample_poly(sound, 1, fold) if fold > 1 else sound
    rate = recording.rate / fold
    rumble = butter(2, LOWEST * 0.7, "highpass", fs=rate, output="sos")
    return Thinned(rate=rate, sound=sosfilt(rumble, few), clipped=clipped)


def room_of(heard: Thinned) -> Room:
    """Steady lines and noise of the longest quiet stretch."""
    first, last = _longest_quiet(heard)
    quiet = heard.sound[first:last]
    lines = _steady_lines(quiet[-int(4 * heard.rate) :], heard.rate)
    rest, power = _taken_out(quiet, heard.rate, lines)
    spots, noise = _spectrum(rest, heard.rate)
    return Room(
        start=first / heard.rate,
        end=last / heard.rate,
        lines=lines,
        power=power,
        mains=_mains(lines, power, len(quiet) / heard.rate),
        spots=spots,
        noise=np.maximum(noise, _faintest(heard, quiet)),
    )


def _faintest(heard: Thinned, quiet: Floats) -> float:
    """Least noise that is believed, mean square per Hz: 90 dB under all, 40 dB under hum."""
    whole, hum = float(np.mean(heard.sound**2)), float(np.mean(quiet**2))
    return 2e-9 * whole / heard.rate + 1e-4 * hum / _HUM_SPREAD + 1e-30


def _longest_quiet(heard: Thinned) -> tuple[int, int]:
    """First and last sample of the longest run of quiet frames, its edges trimmed."""
    frame = int(QUIET_FRAME * heard.rate)
    count = len(heard.sound) // frame
    power = np.mean(heard.sound[: count * frame].reshape(count, frame) ** 2, axis=1)
    quiet = power <= 4 * np.quantile(power, 0.1) + 1e-30
    edges = np.flatnonzero(np.diff(np.concatenate([[0], quiet.astype(int), [0]])))
    starts, ends = edges[::2], edges[1::2]
    longest = int(np.argmax(ends - starts))
    first, last = int(starts[longest]), int(ends[longest])
    # A tap may begin within the frame after, and the last one still ring in the frame before.
    if last - first > 3:
        first, last = first + (1 if first else 0), last - 1
    return first * frame, last * frame


def _steady_lines(quiet: Floats, rate: float) -> Floats:
    """Lines that stand 13 dB over their surroundings, as strong at the end as at the start."""
    from scipy.ndimage import median_filter
    from scipy.signal import find_peaks, get_window

    length = len(quiet) / rate
    if length < 0.25 or not np.any(quiet):
        return np.empty(0)
    size = 4 << (len(quiet) - 1).bit_length()
    window = get_window("blackmanharris", len(quiet))
    power = np.abs(np.fft.rfft(quiet * window, size)) ** 2
    step = rate / size
    wide = max(3, int(max(30.0, 24 / length) / step) | 1)
    # Every eighth bin is enough for a floor and eight times as fast.
    floor = np.repeat(median_filter(power[::8], max(3, wide // 8)), 8)[: len(power)]
    apart = max(1, int(4 / length / step))
    tops, _ = find_peaks(power / (floor + 1e-300), height=20.0, distance=apart)
    tops = tops[(tops * step > LOWEST) & (tops * step < 0.45 * rate)]
    # 50 dB below the strongest, a line may be the foot of its peak, and matters to nobody.
    tops = tops[power[tops] > 1e-5 * np.max(power)]
    tops = np.sort(tops[np.argsort(power[tops])[::-1][:MOST_LINES]])
    lines = np.array([_peak(power, int(top)) * step for top in tops])
    return lines[[_is_steady(quiet, rate, float(line)) for line in lines]] if len(lines) else lines


def _peak(power: Floats, top: int) -> float:
    """Bin of a peak between bins, by a parabola through the logarithm of its power."""
    left, middle, right = np.log(power[top - 1 : top + 2] + 1e-300)
    return float(top + (left - right) / (2 * (left - 2 * middle + right)))


def _is_steady(quiet: Floats, rate: float, line: float) -> bool:
    """Whether a line is as strong in the second half as in the first, within 4 dB."""
    time = np.arange(len(quiet)) / rate
    turned = quiet * np.exp(-2j * pi * line * time)
    half = len(quiet) // 2
    before, after = (float(np.abs(np.mean(part))) for part in (turned[:half], turned[half:]))
    return 0.6 < after / (before + 1e-300) < 1.6


def _taken_out(quiet: Floats, rate: float, lines: Floats) -> tuple[Floats, Floats]:
    """Quiet without its lines, and the mean square of each."""
    if not len(lines):
        return quiet, np.empty(0)
    time = np.arange(len(quiet)) / rate
    turns = np.exp(2j * pi * time[:, None] * lines)
    columns = np.hstack([turns.real, turns.imag])
    weights = np.linalg.lstsq(columns, quiet, rcond=1e-8)[0]
    power = (weights[: len(lines)] ** 2 + weights[len(lines) :] ** 2) / 2
    return quiet - columns @ weights, power


def _spectrum(rest: Floats, rate: float) -> tuple[Floats, Floats]:
    """Power per Hz of noise, in steps of about 8 Hz."""
    from scipy.signal import welch

    size = min(len(rest), int(rate / 8))
    spots, noise = welch(rest, fs=rate, nperseg=size, detrend=False)
    return spots, noise


def _mains(lines: Floats, power: Floats, length: float) -> float:
    """50 or 60 where most of the power of the steady lines stands at its multiples."""
    if not len(lines):
        return 0.0
    shares = []
    for mains in _MAINS:
        order = np.maximum(np.round(lines / mains), 1)
        near = np.abs(lines - order * mains) < 0.006 * lines + 0.5 / length
        shares.append(float(np.sum(power[near]) / np.sum(power)))
    best = int(np.argmax(shares))
    return _MAINS[best] if shares[best] > 0.5 else 0.0


def without_lines(heard: Thinned, lines: Floats) -> Floats:
    """Sound with its steady lines followed and taken out; taps in between are passed over.

    Each line is turned down to standstill, averaged over tenths of a second, and the running
    median of these over a second and a half is taken away again.
    """
    from scipy.ndimage import median_filter

    left = heard.sound.copy()
    block = int(0.1 * heard.rate)
    count = len(left) // block
    if count < 3:
        return left
    time = np.arange(len(left)) / heard.rate
    middle = (np.arange(count) + 0.5) * block
    for line in lines:
        turn = np.exp(-2j * pi * line * time)
        swing = (left * turn)[: count * block].reshape(count, block).mean(axis=1)
        calm = median_filter(swing.real, 15) + 1j * median_filter(swing.imag, 15)
        at = np.arange(len(left))
        smooth = np.interp(at, middle, calm.real) + 1j * np.interp(at, middle, calm.imag)
        left -= 2 * (smooth * turn.conj()).real
    return left


def hits(sound: Floats, rate: float, room: Room) -> Floats:
    """When something was hit, s, in `sound` without its steady lines."""
    from scipy.ndimage import maximum_filter1d
    from scipy.signal import butter, sosfilt

    edges = (LOWEST, 250.0, 1000.0, 0.45 * rate)
    step, frame = max(1, int(_STEP * rate)), int(_FRAME * rate)
    at = np.arange(max(0, (len(sound) - frame) // step + 1)) * step
    sudden = np.zeros(len(at), dtype=bool)
    again = np.zeros(len(at))
    for low, high in pairwise(edges):
        band = butter(4, (low, high), "bandpass", fs=rate, output="sos")
        squares = np.concatenate([[0.0], np.cumsum(sosfilt(band, sound) ** 2)])
        power = (squares[at + frame] - squares[at]) / frame
        floor = max(room.noise_between(low, high), 1e-30)
        sudden |= _rises(power, floor, past=0.04, by=_RISE)
        again += maximum_filter1d(_rises(power, floor, past=0.014, by=_RISE_AGAIN), 3)
    times = np.flatnonzero(sudden | (again >= 2)) * step / rate
    first = np.diff(times, prepend=-1.0) > 0.012
    # Until 40 ms have been heard nothing is known to be sudden.
    result: Floats = times[first & (times > 0.04)]
    return result


def _rises(power: Floats, floor: float, *, past: float, by: float) -> NDArray[np.bool_]:
    """Frames that stand over the room, and so many times over the loudest of a time in s before.

    A beat of two pitches rises in one band; a second blow while the first still rings rises in
    two at once, though by less.
    """
    from scipy.ndimage import maximum_filter1d

    frames, gap = round(past / _STEP), round(_FRAME / _STEP)
    padded = np.concatenate([np.full(frames + gap, floor), power])
    loudest = maximum_filter1d(padded, frames, origin=frames // 2 - (frames + 1) % 2)
    rises: NDArray[np.bool_] = (power > _OVER_ROOM * floor) & (power > by * loudest[: len(power)])
    return rises
