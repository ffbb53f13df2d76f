"""Spindle speed against the modes: what shakes the bar, and how far from a mode it is.

The first mode of a sensible line-boring bar is tens of times the spindle frequency, so once and
twice per turn are nowhere near it and saying so settles nothing. What can reach a mode is the
beat of an interrupted cut and its harmonics, and the lathe's own gears, belts and motor.

A cut broken N times per turn beats at N, 2N, 3N ... times the spindle. The k-th harmonic of a
rectangular pulse carries 2/(pi k) of the force (Fourier), and dead on a mode of damping ratio z
it swings the bar 1/(2z) times as far as a steady force would. Up to `HARMONICS` that product
can reach one at a damping of 2 % (a guess, 1 to 4 %): the swing is then no less than the
steady spring of the bar. Higher harmonics always lie close to some mode and are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Literal

from .case import Case
from .modes import Modes

HARMONICS = 15
TRIVIAL_RATIO = 10.0
Verdict = Literal["clear", "caution", "avoid"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shake:
    """One thing that shakes the bar, and the mode nearest to it.

    Attributes
    ----------
    source : in shop words
    order : shakes per turn of the spindle; None for one that does not follow the spindle
    frequency, mode : Hz
    separation : distance to the mode as a share of the mode
    """

    source: str
    order: float | None
    frequency: float
    mode: float
    separation: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedCheck:
    """The cut's spindle speed held against the modes.

    Attributes
    ----------
    spindle_speed : Hz
    waves_per_turn : of the first bending mode
    shakes : every source, the nearest to a mode first
    verdict, reason : clear, caution or avoid, and why
    """

    spindle_speed: float
    waves_per_turn: float
    shakes: tuple[Shake, ...]
    verdict: Verdict
    reason: str

    @property
    def nearest(self) -> Shake:
        """The shake closest to a mode."""
        return self.shakes[0]


def sources(case: Case, spindle: float) -> list[tuple[str, float | None, float]]:
    """Name, shakes per turn, Hz of everything that shakes the bar at a spindle speed."""
    found: list[tuple[str, float | None, float]] = [
        ("once per turn: run-out and balance", 1.0, spindle),
        ("twice per turn: sag, cross-hole, unlike supports", 2.0, 2 * spindle),
    ]
    beats = case.work.cuts_per_turn
    for k in range(1, HARMONICS + 1 if beats else 1):
        name = f"interrupted cut, {beats} per turn" + (f", harmonic {k}" if k > 1 else "")
        found.append((name, float(beats * k), beats * k * spindle))
    for line in case.lathe.lines:
        if line.frequency is not None:
            found.append((line.name, None, line.frequency))
        elif line.per_turn is not None:
            found.append((line.name, float(line.per_turn), line.per_turn * spindle))
    return found


def _nearest_mode(frequency: float, pitches: list[float]) -> tuple[float, float]:
    mode = min(pitches, key=lambda f: abs(f - frequency) / f)
    return mode, abs(mode - frequency) / mode


def check_speed(case: Case, modes: Modes, spindle: float | None = None) -> SpeedCheck:
    """Hold a spindle speed (Hz; left out: the cut's) against the bending and torsion modes."""
    spindle = case.spindle_speed if spindle is None else spindle
    pitches = [float(f) for f, p in zip(modes.frequency, modes.plane, strict=True) if p != "axial"]
    shakes = []
    for source, order, frequency in sources(case, spindle):
        mode, separation = _nearest_mode(frequency, pitches)
        shakes.append(
            Shake(
                source=source,
                order=order,
                frequency=frequency,
                mode=mode,
                separation=separation,
            )
        )
    shakes.sort(key=lambda shake: shake.separation)
    waves = modes.first_bending / spindle
    verdict, reason = _judged(shakes, waves, case.limits.separation)
    return SpeedCheck(
        spindle_speed=spindle,
        waves_per_turn=waves,
        shakes=tuple(shakes),
        verdict=verdict,
        reason=reason,
    )


def _judged(shakes: list[Shake], waves: float, wanted: float) -> tuple[Verdict, str]:
    """Give the verdict and its reason from the shakes, nearest first."""
    near = shakes[0]
    away = f"{near.separation:.0%}" if near.separation >= 0.01 else "less than 1%"
    place = f"{near.source} ({near.frequency:.0f} Hz) lies {away} from the {near.mode:.0f} Hz mode"
    if near.separation < wanted / 3:
        return "avoid", f"{place}; the limit is {wanted:.0%}. Shift the speed or the mode."
    if near.separation < wanted:
        return "caution", f"{place}, inside the limit of {wanted:.0%}."
    if waves > TRIVIAL_RATIO and (near.order or inf) <= 2:
        return "clear", (
            f"the first bending mode is {waves:.0f} times the spindle's turns, so nothing that "
            "goes once or twice a turn comes near it. That is true of almost any bar and does "
            "not say that it will not chatter."
        )
    return "clear", f"{place}, outside the limit of {wanted:.0%}."
