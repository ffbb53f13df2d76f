"""Recordings of taps made from closed forms: rings, hum, noise, echoes, phones.

Nothing of ours is imported here but the container. The truth of each recording is what it was
made from. Signal to noise is the power of the rings in their first 20 ms over the power of the
noise in the whole band of the recording.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from barwright.analysis.recording import Recording

Floats = NDArray[np.float64]
Generator = np.random.Generator


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """One mode: undamped pitch in Hz, damping ratio, size."""

    pitch: float
    damping: float
    size: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A recording to be made.

    Attributes
    ----------
    rings : what rings at each tap
    rate : samples per second
    starts : when it is tapped, s
    noise : dB below the rings in their first 20 ms
    pink : whether the noise falls by 3 dB an octave
    hum : mains in Hz, and the size of each multiple over the rings' own
    echoes : delay in s and size of each
    high_pass : corner in Hz and order of what a phone cuts
    over : dB by which the loudest passes the clipping level; 0 for none
    offset : share of full scale
    rides_level : whether the recorder turns itself down when it is loud
    bits : of the file
    """

    rings: tuple[Ring, ...]
    rate: int = 16000
    starts: tuple[float, ...] = (1.0, 2.2, 3.4, 4.6, 5.8)
    noise: float = 20.0
    pink: bool = False
    hum: tuple[float, tuple[float, ...]] = (50.0, ())
    echoes: tuple[tuple[float, float], ...] = ()
    high_pass: tuple[float, int] = (0.0, 0)
    over: float = 0.0
    offset: float = 0.0
    rides_level: bool = False
    bits: int = 16
    extra: tuple[float, ...] = field(default=())

    @property
    def end(self) -> float:
        """Length, s."""
        return self.starts[-1] + 1.5


def recorded(scene: Scene, seed: int = 0, name: str = "made.wav") -> Recording:
    """The recording of a scene."""
    rng = np.random.default_rng(seed)
    time = np.arange(int(scene.end * scene.rate)) / scene.rate
    clean = sum((_tap(scene, time, start, rng) for start in scene.starts), np.zeros(len(time)))
    for start in scene.extra:
        clean += 0.8 * _tap(scene, time, start, rng)
    dry = clean
    for delay, size in scene.echoes:
        late = int(delay * scene.rate)
        clean = clean + size * np.concatenate([np.zeros(late), dry[:-late]])
    loud = np.sqrt(np.mean([np.mean(clean[_first(scene, s)] ** 2) for s in scene.starts]))
    sound = clean + _noise(scene, len(time), rng) * loud * 10 ** (-scene.noise / 20)
    mains, sizes = scene.hum
    for order, size in enumerate(sizes, start=1):
        sound += size * loud * np.sin(2 * np.pi * mains * order * time + rng.uniform(0, 6.3))
    return as_recording(_phone(scene, sound, loud), scene.rate, scene.bits, name)


def _first(scene: Scene, start: float) -> slice:
    return slice(int(start * scene.rate), int((start + 0.02) * scene.rate))


def _tap(scene: Scene, time: Floats, start: float, rng: Generator) -> Floats:
    """Rings that set in within a millisecond, and the click of the hammer."""
    strength = rng.uniform(0.6, 1.0)
    first = int(np.searchsorted(time, start))
    after = time[first:] - start
    found = np.zeros(len(after))
    for ring in scene.rings:
        turn = 2 * np.pi * ring.pitch
        swing = np.sin(turn * np.sqrt(1 - ring.damping**2) * after + rng.uniform(-0.4, 0.4))
        size = ring.size * rng.uniform(0.7, 1.3)
        found += size * np.exp(-ring.damping * turn * after) * swing
    early = int(np.searchsorted(after, 0.03))  # later its onset is one to the last digit
    found[:early] *= 1 - np.exp(-after[:early] / 0.0007)
    struck = int(np.searchsorted(after, 0.006))
    click = 0.5 * rng.normal(size=len(time))[first:][:struck]
    found[:struck] += click * np.exp(-after[:struck] / 0.0012)
    return np.concatenate([np.zeros(first), strength * found])


def _noise(scene: Scene, count: int, rng: Generator) -> Floats:
    noise = rng.normal(size=count)
    if scene.pink:
        lines = np.maximum(np.fft.rfftfreq(count, 1 / scene.rate), 20.0)
        noise = np.fft.irfft(np.fft.rfft(noise) / np.sqrt(lines), count)
    spread: Floats = noise / np.std(noise)
    return spread


def _phone(scene: Scene, sound: Floats, loud: float) -> Floats:
    corner, order = scene.high_pass
    if order:
        sound = sosfilt(butter(order, corner, "high", fs=scene.rate, output="sos"), sound)
    if scene.rides_level:
        sound = sound * _gain(sound, scene.rate, loud * 0.2)
    sound = 0.3 * sound / np.max(np.abs(sound))
    if scene.over:
        sound = np.clip(3 * sound * 10 ** (scene.over / 20), -0.9, 0.9)
    return sound + scene.offset


def _gain(sound: Floats, rate: int, wanted: float) -> Floats:
    """Gain of a compressor: down within 3 ms, up again within 0.3 s."""
    down, up = (np.exp(-1 / (constant * rate)) for constant in (0.003, 0.3))
    level, levels = 0.0, np.empty(len(sound))
    for k, value in enumerate(np.abs(sound)):
        keep = down if value > level else up
        level = keep * level + (1 - keep) * value
        levels[k] = level
    gain: Floats = np.minimum(1.0, wanted / np.maximum(levels, 1e-12)) ** 0.7
    return gain


def as_recording(sound: Floats, rate: int, bits: int = 16, name: str = "made.wav") -> Recording:
    """Sound as a file of so many bits would hold it."""
    steps = 2.0 ** (bits - 1)
    held = np.clip(np.round(sound * steps) / steps, -1, 1 - 1 / steps)
    return Recording(name=name, rate=float(rate), sound=held, rails=(-1.0, 1 - 1 / steps))


def any_scene(seed: int) -> Scene:
    """A scene of two or three rings with any of what spoils a recording, the same for a seed."""
    rng = np.random.default_rng(seed)
    pitches = [float(rng.uniform(60, 450))]
    for _ in range(int(rng.integers(1, 3))):
        step = rng.uniform(1.04, 1.3) if rng.random() < 0.5 else rng.uniform(1.3, 3.5)
        pitches.append(float(pitches[-1] * step))
    rings = tuple(
        Ring(
            pitch=pitch,
            damping=float(np.exp(rng.uniform(np.log(0.003), np.log(0.04)))),
            size=float(rng.uniform(0.3, 1.0)),
        )
        for pitch in pitches
        if pitch < 1450
    )
    gap = rng.uniform(0.3, 0.5) if rng.random() < 0.2 else rng.uniform(0.6, 2.0)
    count = int(rng.integers(3, 9))
    given: dict[str, Any] = {}
    spoilers: Sequence[tuple[float, str, Callable[[], Any]]] = (
        (0.6, "hum", lambda: (float(rng.choice([50, 60])), tuple(rng.uniform(0, 0.2, 8)))),
        (0.3, "over", lambda: float(rng.uniform(1, 6))),
        (0.3, "echoes", lambda: tuple(_echo(rng, *at) for at in ((4, 20, 0.3), (20, 40, 0.2)))),
        (0.25, "high_pass", lambda: (float(rng.uniform(80, 200)), int(rng.integers(1, 4)))),
        (0.3, "pink", lambda: True),
        (0.2, "offset", lambda: 0.1),
    )
    for chance, key, value in spoilers:
        if rng.random() < chance:
            given[key] = value()
    return Scene(
        rings=rings,
        rate=int(rng.choice([8000, 11025, 16000, 22050, 32000, 44100, 48000])),
        starts=_starts(rng, count, float(gap)),
        bits=int(rng.choice([12, 16, 24])),
        **given,
    )


def _starts(rng: Generator, count: int, gap: float) -> tuple[float, ...]:
    lead = float(rng.uniform(0.5, 3.0))
    return tuple(lead + gap * k + float(rng.uniform(0, 0.1)) for k in range(count))


def _echo(rng: Generator, first: float, last: float, size: float) -> tuple[float, float]:
    return float(rng.uniform(first, last)) / 1000, float(rng.uniform(0.05, size))
