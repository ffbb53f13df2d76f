"""Picture of a tap test: what was heard of the clearest tap, and how its pitches die away."""

from __future__ import annotations

from math import log10, pi
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from .label_places import spread
from .paper import FAINT, INK, QUIET, picture, short
from .ringing import Rings, Stretch, swings
from .tap import Pitch, TapTest

Floats = NDArray[np.float64]
MOST_DECAYS = 3
DEPTH = 60.0
"""Decibels shown below the strongest."""
_STYLES = ("-", (0, (6, 3)), (0, (1.5, 2)))


def draw_tap(test: TapTest, path: Path) -> None:
    """Spectrum and decay of the clearest tap, with what was fitted, kept at `path`."""
    with picture(path, 1600, 900) as figure:
        left = figure.add_axes((0.065, 0.12, 0.50, 0.66))
        right = figure.add_axes((0.635, 0.12, 0.345, 0.66))
        _spectrum(left, test)
        _decays(right, test)
        name = short(test.recording.name, 60)
        figure.text(0.03, 0.94, f"What was tapped: {name}", fontsize=18, weight="bold")
        figure.text(0.03, 0.895, _words(test), fontsize=13, color=QUIET)


def _words(test: TapTest) -> str:
    used = len(test.used)
    words = f"the clearest of {used} taps" if used > 1 else "one tap"
    hum = f"; mains hum at {test.mains:.0f} Hz taken out" if test.mains else ""
    riding = "; the recorder set its own level: no damping from this" if test.level_riding else ""
    return f"{words}{hum}{riding}"


def _spectrum(axes: Axes, test: TapTest) -> None:
    """Heard and left over, in decibels below the strongest, with a name on each pitch."""
    stretch, rings = test.clearest, test.clearest_rings
    spots, heard = _levels(stretch.sound[stretch.ring], stretch.rate, 1.5)
    _, left = _levels(rings.residual[stretch.ring], stretch.rate, 20.0)
    top = float(np.max(heard))
    highest = min(2.2 * max(p.frequency.likely for p in test.pitches), 0.4 * stretch.rate)
    shown = (spots > 20) & (spots < highest)
    axes.plot(spots[shown], heard[shown] - top, color=INK, lw=1.6, label="heard")
    axes.plot(
        spots[shown],
        left[shown] - top,
        color=QUIET,
        lw=1.0,
        ls=(0, (2, 1.5)),
        label="left when pitches and hum are taken out",
    )
    axes.set_ylim(-DEPTH, 14)
    axes.set_xlim(0, highest)
    # One letter of the label is about a hundredth of the width.
    wanted = [p.frequency.likely for p in test.pitches]
    for pitch, x in zip(test.pitches, spread(wanted, 0.11 * highest), strict=True):
        f = pitch.frequency.likely
        axes.plot([f, f, x], [-DEPTH, 2, 5], color=FAINT, lw=1.0, zorder=0)
        axes.text(x, 6, f"{f:.4g} Hz", ha="center", va="bottom", fontsize=12.5)
    axes.set_xlabel("pitch, Hz")
    axes.set_ylabel("loudness, dB below the loudest")
    axes.legend(loc="lower left", bbox_to_anchor=(-0.02, 1.0), ncols=2, fontsize=11.5)
    _plain(axes)


def _levels(sound: Floats, rate: float, width: float) -> tuple[Floats, Floats]:
    """Pitches in Hz and loudness in dB of a stretch that dies away, a mean over a width in Hz."""
    size = 4 << (len(sound) - 1).bit_length()
    power = np.abs(np.fft.rfft(sound, size)) ** 2
    bins = max(1, round(width * size / rate))
    smooth = np.convolve(power, np.ones(bins) / bins, mode="same")
    spots: Floats = np.fft.rfftfreq(size, 1 / rate).astype(np.float64)
    return spots, 10 * np.log10(smooth + 1e-30)


def _decays(axes: Axes, test: TapTest) -> None:
    """Each strong pitch by itself in decibels over time, with the line that was fitted."""
    stretch, rings = test.clearest, test.clearest_rings
    strong = sorted(test.pitches, key=lambda pitch: -pitch.level)[:MOST_DECAYS]
    top = max(20 * log10(abs(rings.amplitude[_number(rings, p)]) + 1e-30) for p in strong)
    ends = []
    for pitch, style in zip(strong, _STYLES, strict=False):
        k = _number(rings, pitch)
        time, level = _envelope(stretch, rings, k)
        begin = 20 * log10(abs(rings.amplitude[k]) + 1e-30) - top
        slope = 20 * log10(np.e) * float(rings.decay[k])
        end = min(float(time[-1]), (begin + 40) / slope)
        ends.append(end)
        axes.plot(time, level - top, color=QUIET, lw=1.2)
        axes.plot([0, end], [begin, begin - slope * end], color=INK, lw=2.2, ls=style)
        axes.plot([], [], color=INK, lw=2.2, ls=style, label=_named(pitch))
    axes.set_ylim(-45, 8)
    axes.set_xlim(0, 1.1 * max(ends))
    axes.set_xlabel("time after the start of the ring, s")
    axes.set_ylabel("loudness, dB (grey: heard, black: fitted)")
    axes.legend(loc="lower left", bbox_to_anchor=(-0.02, 1.0), ncols=1, fontsize=11.5)
    _plain(axes)


def _named(pitch: Pitch) -> str:
    words = f"{pitch.frequency.likely:.4g} Hz"
    return f"{words}, damping {100 * pitch.damping.likely:.2g} %" if pitch.damping else words


def _number(rings: Rings, pitch: Pitch) -> int:
    """Which of the rings of a tap is a pitch of them all."""
    return int(np.argmin(np.abs(rings.pitch - pitch.frequency.likely)))


def _envelope(stretch: Stretch, rings: Rings, k: int) -> tuple[Floats, Floats]:
    """Time in s and loudness in dB of one ring and what the fit leaves around it."""
    part = stretch.ring
    time = stretch.time[part]
    own = rings.amplitude[k] * swings(time, rings.line[k : k + 1], rings.decay[k : k + 1])[:, 0]
    turned = (own + 2 * rings.residual[part]) * np.exp(-2j * pi * rings.line[k] * time)
    # The narrower the filter, the less of the room; it may not be slower than the decay.
    width = max(3, int(stretch.rate / max(12.0, 1.5 * float(rings.decay[k]))))
    smooth = np.convolve(turned, np.ones(width) / width, mode="valid")
    return time[: len(smooth)] + width / 2 / stretch.rate, 20 * np.log10(np.abs(smooth) + 1e-30)


def _plain(axes: Axes) -> None:
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.grid(axis="y", color=FAINT, lw=0.6)
