"""Chatter that was heard or left its marks: its pitch.

Chatter stands a little above the pitch of the part that sings: at the limit by the square root
of 1 + 2 x damping ratio, further above it more (one mode, regeneration along one direction;
textbook, from memory). It is no multiple of the turn but by chance, while an interrupted cut, a
gear or a bent belt is one always.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log10

import numpy as np
from numpy.typing import NDArray

from .errors import SolveError
from .recording import Recording
from .room import LOWEST, Thinned, thinned
from .units import Estimate

Floats = NDArray[np.float64]
MARKS_DOUBT = 1.0
"""How far a count of marks round the bore may be out: one of them."""
SPEED_DOUBT = 0.03
"""How far the turns a minute may be off the belt's or dial's name, as a share: a guess."""
OVER_FLOOR = 10.0
"""Least power of a line over its surroundings, 10 dB."""
_MAINS = (50.0, 60.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PassedOver:
    """A line that is louder than the chatter and was not taken: Hz, and why."""

    frequency: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chatter:
    """The line that sings in a recording of a cut.

    Attributes
    ----------
    frequency : Hz, from one side of the peak at half power to the other
    over_floor : power over that of its surroundings, dB
    passed_over : louder lines that have another cause
    told_to : the highest multiple of the turn that could be told from its neighbours; 0 where
        the speed was not given
    """

    frequency: Estimate
    over_floor: float
    passed_over: tuple[PassedOver, ...]
    told_to: int


def chatter_frequency_from_marks(
    marks: float,
    spindle_rev_per_s: float,
    *,
    marks_doubt: float = MARKS_DOUBT,
    speed_doubt: float = SPEED_DOUBT,
) -> Estimate:
    """Pitch in Hz of the chatter that left so many marks round the bore.

    Parameters
    ----------
    marks
        Counted once round, at one place along the bore; above `marks_doubt`.
    spindle_rev_per_s
        Turns per second while the marks were cut.
    marks_doubt, speed_doubt
        How far the count may be out, and the speed as a share. Belts slip: count turns against
        a watch.

    Examples
    --------
    >>> found = chatter_frequency_from_marks(150, 2.0)
    >>> found, round(found.low, 1), round(found.high, 1)
    (Estimate(300.0, 289.06, 311.06), 289.1, 311.1)
    """
    if not (marks > marks_doubt >= 0 and spindle_rev_per_s > 0 and 0 <= speed_doubt < 1):
        message = f"{marks:g} marks at {spindle_rev_per_s:g} turns per second is no chatter"
        raise ValueError(message)
    return Estimate(
        marks * spindle_rev_per_s,
        (marks - marks_doubt) * spindle_rev_per_s * (1 - speed_doubt),
        (marks + marks_doubt) * spindle_rev_per_s * (1 + speed_doubt),
    )


def recorded_chatter(
    recording: Recording,
    spindle_rev_per_s: float | None = None,
    *,
    speed_doubt: float = SPEED_DOUBT,
) -> Chatter:
    """The strongest line of a recorded cut that belongs neither to the turn nor to the mains.

    Multiples of the turn are passed over only as far as they can be told apart: where the doubt
    in speed reaches a quarter of the way to the next multiple, nothing can be said, and a bar
    sings tens of times a turn.

    Raises
    ------
    SolveError
        No line stands out.
    """
    heard = thinned(recording)
    step, power, over = _spectrum(heard)
    tops = _tops(power, over, step, heard.highest)
    mains = _mains([top * step for top in tops], step)
    told_to = floor(0.25 / max(speed_doubt, 1e-3)) if spindle_rev_per_s else 0
    passed: list[PassedOver] = []
    for top in tops:
        line, low, high = _line(power, top, step)
        reason = _of_the_mains(line, mains, step) or _of_the_turn(
            line, spindle_rev_per_s or 0.0, told_to, speed_doubt, step
        )
        if not reason:
            return Chatter(
                frequency=Estimate(line, low, high),
                over_floor=10 * log10(float(over[top])),
                passed_over=tuple(passed),
                told_to=told_to,
            )
        passed.append(PassedOver(frequency=line, reason=reason))
    raise SolveError(_nothing_sings(recording, passed))


def _nothing_sings(recording: Recording, passed: Sequence[PassedOver]) -> str:
    heard = ", ".join(f"{one.frequency:.0f} Hz is {one.reason}" for one in passed[:3])
    but = f" but what is not chatter ({heard})" if heard else ""
    return (
        f"{recording.name}: nothing sings: no pitch stands 10 dB over the noise of the cut{but}. "
        "Record closer, or count the marks round the bore."
    )


def _spectrum(heard: Thinned) -> tuple[float, Floats, Floats]:
    """Step in Hz, power in each step, and the same over the median of its surroundings."""
    from scipy.ndimage import median_filter
    from scipy.signal import welch

    size = min(len(heard.sound), int(heard.rate))
    _, power = welch(
        heard.sound, fs=heard.rate, window="blackmanharris", nperseg=size, detrend=False
    )
    step = heard.rate / size
    floor_around = median_filter(power, int(120 / step) | 1)
    return step, power, power / (floor_around + 1e-3 * float(np.mean(power)) + 1e-30)


def _tops(power: Floats, over: Floats, step: float, highest: float) -> list[int]:
    """Peaks that stand over their surroundings, the strongest first."""
    from scipy.signal import find_peaks

    tops, _ = find_peaks(np.where(over > OVER_FLOOR, power, 0.0), distance=max(1, int(5 / step)))
    tops = tops[(tops * step > LOWEST) & (tops * step < highest) & (over[tops] > OVER_FLOOR)]
    order = np.argsort(power[tops])[::-1]
    return [int(top) for top in tops[order]]


def _line(power: Floats, top: int, step: float) -> tuple[float, float, float]:
    """Middle of a peak and its sides at half power, Hz."""
    left, middle, right = np.log(power[top - 1 : top + 2] + 1e-300)
    line = (top + (left - right) / (2 * (left - 2 * middle + right))) * step
    half = power >= power[top] / 2
    low, high = top, top
    while low > 1 and half[low - 1]:
        low -= 1
    while high < len(power) - 2 and half[high + 1]:
        high += 1
    return float(line), min((low - 0.5) * step, line), max((high + 0.5) * step, line)


def _mains(lines: Sequence[float], step: float) -> float:
    """50 or 60 where at least two lines stand at its multiples, one of them low; else 0."""
    counts = []
    for mains in _MAINS:
        near = [line for line in lines if _off(line, mains) < 1.2 * step + 0.002 * line]
        counts.append(len(near) if near and min(near) < 2.5 * mains else 0)
    best = int(np.argmax(counts))
    return _MAINS[best] if counts[best] >= 2 else 0.0


def _off(line: float, base: float) -> float:
    """Distance of a line from the nearest multiple of another, Hz."""
    return abs(line - max(1, round(line / base)) * base)


def _of_the_mains(line: float, mains: float, step: float) -> str:
    if not mains or _off(line, mains) > step + 0.002 * line:
        return ""
    return f"{round(line / mains)} x the {mains:.0f} Hz of the mains"


def _of_the_turn(line: float, turn: float, told_to: int, doubt: float, step: float) -> str:
    if turn <= 0:
        return ""
    order = max(1, round(line / turn))
    if order > told_to or abs(line - order * turn) > order * turn * doubt + step:
        return ""
    return f"{order} x the turn" if order > 1 else "the turn itself"
