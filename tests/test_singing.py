"""Chatter from marks and from recordings, and which part it is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from tap_sounds import as_recording

from barwright.analysis.errors import SolveError
from barwright.analysis.recording import Recording
from barwright.analysis.singing import (
    chatter_frequency_from_marks,
    recorded_chatter,
)

RATE = 16000


def cut(*lines: tuple[float, float], wander: float = 0.0, noise: float = 0.05) -> Recording:
    """A noisy cut with lines (Hz, size); the first one may wander by a share."""
    rng = np.random.default_rng(0)
    at = np.arange(6 * RATE) / RATE
    drift = wander * np.interp(at, np.arange(0, 7, 0.2), rng.normal(size=35))
    sound = noise * rng.normal(size=len(at))
    for number, (line, size) in enumerate(lines):
        share = 1 + drift if number == 0 else np.ones(len(at))
        sound += size * np.sin(2 * np.pi * np.cumsum(line * share) / RATE)
    return as_recording(0.5 * sound, RATE)


def test_marks_times_turns_is_the_pitch() -> None:
    found = chatter_frequency_from_marks(150, 2.0, speed_doubt=0.0)
    assert (found, found.low, found.high) == (300.0, 298.0, 302.0)
    wide = chatter_frequency_from_marks(150, 2.0, marks_doubt=0.0, speed_doubt=0.03)
    assert (wide.low, wide.high) == pytest.approx((291.0, 309.0))


@pytest.mark.parametrize(("marks", "speed"), [(0, 2.0), (1, 2.0), (-3, 2.0), (40, 0.0)])
def test_marks_that_cannot_be_are_refused(marks: float, speed: float) -> None:
    with pytest.raises(ValueError, match="is no chatter"):
        chatter_frequency_from_marks(marks, speed)


def test_a_wandering_line_is_found_among_mains_and_turns() -> None:
    mains = [(50.0 * k, 0.3 / k) for k in range(1, 6)]
    turns = [(8.0 * k, 0.4) for k in (4, 5)]
    found = recorded_chatter(cut((163.0, 0.2), *mains, *turns, wander=0.003), 8.0)
    assert float(found.frequency) == pytest.approx(163.0, rel=0.01)
    assert found.frequency.low <= 163.0 <= found.frequency.high + 0.5
    reasons = {round(one.frequency): one.reason for one in found.passed_over}
    assert reasons[32] == "4 x the turn"
    assert reasons[50] == "1 x the 50 Hz of the mains"


def test_a_turn_too_slow_to_be_told_apart_passes_nothing_over() -> None:
    """At 2 turns a second every pitch is within 1 Hz of a multiple; 3 % of 163 Hz is 5 Hz."""
    found = recorded_chatter(cut((164.0, 0.2)), 2.0)
    assert float(found.frequency) == pytest.approx(164.0, rel=0.002)
    assert found.told_to == 8
    assert found.passed_over == ()


@pytest.mark.parametrize(
    ("lines", "turn", "words"),
    [
        ((), None, "no pitch stands 10 dB over the noise of the cut. Record closer"),
        ([(8.0 * k, 0.3) for k in range(4, 8)], 8.0, "40 Hz is 5 x the turn"),
    ],
)
def test_a_cut_that_does_not_sing_is_said_not_to(
    lines: Sequence[tuple[float, float]], turn: float | None, words: str
) -> None:
    with pytest.raises(SolveError, match="nothing sings") as caught:
        recorded_chatter(cut(*lines), turn)
    assert words in str(caught.value)
