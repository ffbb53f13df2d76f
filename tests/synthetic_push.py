"""Push tests and taps of a made-up lathe whose truth is known, as instruments would show them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from barwright.analysis.case import Case
from barwright.analysis.fit import GIVE_DOUBT, TappedPitch, Unknown, pitch_doubt, unknowns
from barwright.analysis.model import Floats
from barwright.analysis.push import Instruments, PullSeries, PushTest, Way
from barwright.analysis.pushed_bar import PushedBar, Springs, pushed_bar

WAYS: tuple[Way, ...] = ("sideways", "up and down")
PULLS = np.array([0.0, 60.0, 120.0, 180.0, 240.0, 300.0, 180.0, 60.0, 0.0])


@dataclass(frozen=True)
class Truth:
    """What the made-up lathe really is.

    Attributes
    ----------
    log : of each unknown of `fit.unknowns`, in its order
    """

    log: Floats
    modulus: float
    balance: float


def draw_truth(case: Case, ways: Sequence[Way], rng: np.random.Generator, scale: float) -> Truth:
    """A lathe as likely as the case thinks it is."""
    prior = np.array([one.prior for one in unknowns(case, ways, work=True)])
    return Truth(
        log=prior[:, 0] + prior[:, 1] * rng.standard_normal(len(prior)),
        modulus=float(np.exp(0.015 * rng.standard_normal())),
        balance=float(np.exp(scale * rng.standard_normal())),
    )


def push_and_tap(
    case: Case,
    places: Sequence[float],
    truth: Truth,
    instruments: Instruments,
    rng: np.random.Generator,
) -> tuple[PushTest, list[TappedPitch]]:
    """Readings at each place both ways, on the work both ways, and a tap both ways."""
    asked = unknowns(case, WAYS, work=True)
    springs = {
        spring: float(np.exp(value))
        for one, value in zip(asked, truth.log, strict=True)
        for spring in one.springs
    }
    bar = pushed_bar(case, places)
    series = [
        _read(one, _give(bar, one, springs, truth, asked), truth, instruments, rng)
        for one in _planned(places)
    ]
    pitches = bar.pitches(springs, modulus=truth.modulus)
    taps = [
        TappedPitch(
            way=way,
            frequency=pitches[way]
            * float(np.exp(pitch_doubt(case) * rng.standard_normal()))
            * (1 + 0.005 * float(rng.standard_normal())),
            scatter=0.005 * pitches[way],
        )
        for way in WAYS
    ]
    return PushTest(instruments=instruments, series=tuple(series)), taps


def _planned(places: Sequence[float]) -> list[PullSeries]:
    blank = np.zeros_like(PULLS)
    on_bar = [
        PullSeries(pull_at=x, read_at=x, way=way, on="bar", pull=PULLS, reading=blank)
        for x in places
        for way in WAYS
    ]
    on_work = [
        PullSeries(pull_at=0.0, read_at=0.0, way=way, on="work", pull=PULLS, reading=blank)
        for way in WAYS
    ]
    return on_bar + on_work


def _give(
    bar: PushedBar, one: PullSeries, springs: Springs, truth: Truth, asked: Sequence[Unknown]
) -> float:
    if one.on == "work":
        name = "vertical" if one.way == "up and down" else "horizontal"
        number = [u.name for u in asked].index(f"work.{name}_stiffness")
        return float(np.exp(-truth.log[number]))
    place, way = bar.places.index(one.pull_at), 0 if one.way == "up and down" else 1
    return float(bar.gives(springs, modulus=truth.modulus)[place, way, place, way])


def _read(
    one: PullSeries, give: float, truth: Truth, instruments: Instruments, rng: np.random.Generator
) -> PullSeries:
    """What the indicator shows: a zero of its own, a loop, scatter."""
    off = np.exp(GIVE_DOUBT * rng.standard_normal()) if instruments.scale_error > 1e-3 else 1.0
    shown = truth.balance * off * give * one.pull + rng.normal(0, 20e-6)
    shown = shown + abs(rng.normal(0, 3e-6)) * one.returning
    return replace(one, reading=shown + rng.normal(0, instruments.resolution, one.pull.size))
