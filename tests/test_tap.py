"""Taps found, measured and rejected: against recordings made from closed forms."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from scipy.signal import lfilter
from tap_sounds import Ring, Scene, any_scene, as_recording, recorded

from barwright.analysis.errors import SolveError
from barwright.analysis.recording import Recording
from barwright.analysis.tap import Pitch, Spread, TapTest, measure_taps, spread

BAR = Scene(rings=(Ring(pitch=148.0, damping=0.010), Ring(pitch=412.0, damping=0.008, size=0.5)))


def nearest(test: TapTest, ring: Ring) -> Pitch | None:
    """The pitch within 3 % of a truth, if any."""
    near = [p for p in test.pitches if abs(p.frequency.likely / ring.pitch - 1) < 0.03]
    return min(near, key=lambda p: abs(p.frequency.likely - ring.pitch), default=None)


def holds(value: Spread, truth: float) -> bool:
    return value.low <= truth <= value.high


def assert_right(test: TapTest, scene: Scene) -> None:
    for ring in scene.rings:
        pitch = nearest(test, ring)
        assert pitch is not None
        assert pitch.frequency.likely == pytest.approx(ring.pitch, rel=0.01)
        assert pitch.damping is not None
        assert pitch.damping.likely == pytest.approx(ring.damping, rel=0.25)


@dataclass(frozen=True, slots=True)
class Score:
    """One truth against what was measured of it."""

    seed: int
    ring: Ring
    pitch: Pitch

    @property
    def pitch_right(self) -> bool:
        return abs(self.pitch.frequency.likely / self.ring.pitch - 1) < 0.01

    @property
    def damping_right(self) -> bool:
        found = self.pitch.damping
        return found is not None and abs(found.likely / self.ring.damping - 1) < 0.25

    @property
    def held(self) -> Iterator[bool]:
        yield holds(self.pitch.frequency, self.ring.pitch)
        if self.pitch.damping is not None:
            yield holds(self.pitch.damping, self.ring.damping)


def scored(seeds: range) -> tuple[list[Score], int, int]:
    """Truths found, truths in all, pitches that are none."""
    scores, truths, false = [], 0, 0
    for seed in seeds:
        scene = any_scene(seed)
        truths += len(scene.rings)
        try:
            test = measure_taps(recorded(scene, seed))
        except SolveError:
            continue
        pairs = [(ring, nearest(test, ring)) for ring in scene.rings]
        found = [Score(seed, ring, pitch) for ring, pitch in pairs if pitch is not None]
        false += len(test.pitches) - len({id(score.pitch) for score in found})
        scores += found
    return scores, truths, false


def share(values: list[bool]) -> float:
    return sum(values) / len(values)


def test_six_spoilt_recordings_give_the_pitches_and_dampings_they_were_made_of() -> None:
    scores, truths, false = scored(range(6))
    assert len(scores) >= 0.85 * truths
    assert false <= 0.15 * truths
    assert share([score.pitch_right for score in scores]) >= 0.9
    assert share([score.damping_right for score in scores]) >= 0.9


@pytest.mark.slow
def test_forty_spoilt_recordings_reach_the_figures() -> None:
    scores, truths, false = scored(range(1000, 1040))
    assert len(scores) >= 0.9 * truths
    assert false <= 0.1 * truths
    assert share([score.pitch_right for score in scores]) >= 0.95
    assert share([score.damping_right for score in scores]) >= 0.95
    assert 0.85 <= share([next(score.held) for score in scores]) <= 0.97
    assert 0.85 <= share([list(score.held)[-1] for score in scores]) <= 0.97


# --- what phones and shops do to a recording -------------------------------------------------


@pytest.mark.parametrize(
    "change",
    [
        {"hum": (60.0, (0.2, 0.15, 0.2, 0.05, 0.1))},
        {"high_pass": (200.0, 2)},
        {"over": 6.0},
        {"offset": 0.4},
        {"pink": True},
        {"rate": 48000, "starts": (1.0, 2.2, 3.4)},
        {"rate": 8000, "bits": 8, "noise": 26.0},
        {"starts": (30.0, 31.2, 32.4, 33.6), "rate": 8000},
        {"starts": tuple(1.0 + 0.3 * k for k in range(10))},
        {"echoes": ((0.009, 0.3), (0.023, 0.2))},
    ],
    ids=lambda change: next(iter(change)),
)
def test_a_spoilt_recording_still_gives_both_pitches_and_dampings(change: dict[str, Any]) -> None:
    scene = replace(BAR, **change)
    assert_right(measure_taps(recorded(scene, 5)), scene)


def test_both_ways_to_damping_agree_where_nothing_spoils_it() -> None:
    test = measure_taps(recorded(replace(BAR, noise=40.0, rate=8000), 1))
    assert len(test.pitches) == 2
    for pitch in test.pitches:
        assert pitch.damping is not None
        assert pitch.half_power is not None
        assert pitch.half_power.likely == pytest.approx(pitch.damping.likely, rel=0.03)


def test_two_planes_three_per_cent_apart_are_two_pitches() -> None:
    scene = replace(
        BAR, rings=(Ring(pitch=150.0, damping=0.006), Ring(pitch=154.5, damping=0.008))
    )
    assert_right(measure_taps(recorded(scene, 2)), scene)


def test_a_pitch_on_a_multiple_of_the_mains_is_measured_and_said_to_be_one() -> None:
    scene = replace(BAR, rings=(Ring(pitch=150.3, damping=0.01),), hum=(50.0, (0.2, 0.1, 0.2)))
    test = measure_taps(recorded(scene, 3))
    assert test.mains == 50.0
    assert_right(test, scene)
    assert any("150" in note and "steady line" in note for note in test.notes)


def test_a_recorder_that_sets_its_own_level_keeps_the_pitch_and_loses_the_damping() -> None:
    scene = replace(BAR, rides_level=True, noise=26.0)
    test = measure_taps(recorded(scene, 4))
    assert "set its own level" in test.level_riding
    for ring in scene.rings:
        pitch = nearest(test, ring)
        assert pitch is not None
        assert pitch.damping is None
        assert pitch.half_power is None
        assert pitch.frequency.likely == pytest.approx(ring.pitch, rel=0.01)


@pytest.mark.parametrize("seed", range(4))
def test_a_recorder_that_leaves_the_level_alone_is_not_accused(seed: int) -> None:
    assert measure_taps(recorded(replace(BAR, rate=8000), seed)).level_riding == ""


def test_a_tap_hit_twice_counts_from_its_second_blow() -> None:
    scene = replace(BAR, noise=40.0, rate=8000, starts=(1.0, 2.5, 4.0, 5.5), extra=(1.09, 2.59))
    test = measure_taps(recorded(scene, 6))
    reasons = [hit.reason for hit in test.rejected]
    assert len(reasons) == 2
    assert all("hit again 0.0" in reason for reason in reasons)
    assert [round(time, 1) for time in test.used] == [1.1, 2.6, 4.0, 5.5]
    assert test.level_riding == ""
    assert_right(test, scene)


def test_a_tap_flat_topped_to_its_end_is_rejected_for_that() -> None:
    loud = recorded(replace(BAR, over=28.0, rings=(Ring(pitch=148.0, damping=0.002),)), 7)
    with pytest.raises(SolveError, match="flat-topped for"):
        measure_taps(loud)


def test_one_tap_is_measured_with_a_warning_that_it_is_one() -> None:
    test = measure_taps(recorded(replace(BAR, starts=(1.0,)), 8))
    assert len(test.used) == 1
    assert all(pitch.half_power is None for pitch in test.pitches)
    assert any("fewer than three taps" in note for note in test.notes)


def test_more_taps_than_are_needed_are_thinned_to_the_clearest() -> None:
    many = replace(BAR, rate=8000, starts=tuple(1.0 + 0.5 * k for k in range(20)))
    test = measure_taps(recorded(many, 9))
    assert len(test.used) == 16
    assert {hit.reason for hit in test.rejected} == {"16 clearer taps are enough"}


def voice(rng: np.random.Generator, rate: int, length: float) -> Recording:
    """Syllables: a glottal pulse train with a gliding pitch through two formants."""
    sound = np.zeros(int(length * rate))
    at = int(0.1 * rate)
    while at < len(sound) - rate // 2:
        count = int(rng.uniform(0.08, 0.3) * rate)
        glide = rng.uniform(90, 220) * (1 + 0.1 * rng.normal() * np.linspace(0, 1, count))
        part = np.diff(np.floor(np.cumsum(glide) / rate), prepend=0.0)
        for formant, width in ((rng.uniform(300, 800), 80), (rng.uniform(900, 2200), 120)):
            size = np.exp(-np.pi * width / rate)
            turn = np.cos(2 * np.pi * formant / rate)
            part = lfilter([1 - size], [1, -2 * size * turn, size * size], part)
        swell = np.minimum(1, np.arange(count) / rng.uniform(0.002, 0.03) / rate)
        sound[at : at + count] += part / np.std(part) * swell * swell[::-1]
        at += count + int(rng.uniform(0.02, 0.4) * rate)
    return as_recording(0.1 * sound + 0.001 * rng.normal(size=len(sound)), rate)


@pytest.mark.parametrize("seed", range(3))
def test_a_voice_is_no_tap(seed: int) -> None:
    with pytest.raises(SolveError, match=r"no pitch comes back|can be used|no tap found"):
        measure_taps(voice(np.random.default_rng(seed), 16000, 6.0))


def sines(*parts: tuple[float, float], noise: float = 1e-3) -> Recording:
    """Steady sines (Hz, size) for six seconds."""
    at = np.arange(6 * 16000) / 16000
    steady = sum((size * np.sin(2 * np.pi * f * at) for f, size in parts), np.zeros(len(at)))
    return as_recording(steady + noise * np.random.default_rng(0).normal(size=len(at)), 16000)


@pytest.mark.parametrize(
    ("heard", "words"),
    [
        (sines(noise=0.0), "the recording is silent"),
        (sines(noise=0.01), "nothing in it starts as suddenly"),
        (sines((50.0, 0.2), (150.0, 0.1)), "only mains hum at 50 Hz is heard"),
        (sines((60.0, 0.2), (180.0, 0.1), noise=1e-4), "only mains hum at 60 Hz is heard"),
        (sines((333.0, 0.2)), "only a steady hum is heard"),
    ],
    ids=["silence", "noise", "hum", "clean hum", "a fan"],
)
def test_where_nothing_was_tapped_it_says_what_was_heard(heard: Recording, words: str) -> None:
    with pytest.raises(SolveError, match=words):
        measure_taps(heard)


def test_a_minute_at_48_kilohertz_takes_under_two_seconds() -> None:
    taps = recorded(replace(BAR, rate=48000, starts=(1.0, 3.5, 6.0, 8.5)), 10)
    sound = as_recording(np.tile(taps.sound, 6), 48000)
    assert sound.length > 57
    measure_taps(recorded(replace(BAR, rate=8000), 0))
    begin = time.process_time()
    measure_taps(sound)
    assert time.process_time() - begin < 2.0


# --- the spread ------------------------------------------------------------------------------


def test_a_single_value_keeps_its_own_doubt() -> None:
    # Student's t with four degrees of freedom: 2.1318 at 95 % (any table).
    found = spread(np.array([100.0]), np.array([0.01]))
    assert found.likely == pytest.approx(100.0)
    assert found.sigma == pytest.approx(0.01)
    assert found.high == pytest.approx(100.0 * np.exp(2.1318 * 0.01), rel=1e-5)


@pytest.mark.parametrize("between", [0.0, 0.03])
def test_interval_holds_the_truth_nine_times_in_ten(between: float) -> None:
    rng = np.random.default_rng(0)
    held = []
    for _ in range(1000):
        own = rng.uniform(0.005, 0.02, size=5)
        values = np.exp(rng.normal(size=5) * np.sqrt(own**2 + between**2))
        held.append(holds(spread(values, own), 1.0))
    assert 0.85 <= share(held) <= 0.96
