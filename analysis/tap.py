"""Tap tests: pitches and dampings of what was tapped, from a recording, with their doubt.

A tap is used from a few milliseconds after the hit, once hammer and flat tops are over, until it
has sunk into the room or the next hit comes. The pitches are found in the taps together, one
after the other while anything stands over the room; then each tap is fitted by itself, and the
spread between taps together with what the noise alone would give is the doubt.

A phone that cuts lows makes a low pitch faint and moves neither it nor its damping. One that
sets its own level falsifies the damping, for the gain comes up while the ring goes down; it
shows by a room that is quieter after the tap than before it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, log, sqrt

import numpy as np
from numpy.typing import NDArray

from .errors import SolveError
from .recording import Recording
from .ringing import (
    Rings,
    Stretch,
    damping_ratio,
    fit_rings,
    half_power,
    next_line,
    steady_columns,
)
from .room import LOWEST, Room, Thinned, hits, room_of, thinned, without_lines

Floats = NDArray[np.float64]
AFTER_HIT = 0.006
"""From the hit to the start of the ring, for the hammer to leave: a guess, 6 ms."""
AFTER_CLIP = 0.003
SHORTEST, LONGEST = 0.1, 1.0
"""Shortest ring that is used and longest that is needed, s."""
FAINTEST = 2.0
"""Least mean square of a ring over that of the room in its first 30 ms, 3 dB."""
HIGHEST_DAMPING = 0.15
LATER = 0.045
"""A second start of the ring, s, that tells echoes and the hammer from what rings."""
SURE_LATER = 0.06
"""Doubt of a damping from the later start, as a share, up to which it is the one to take."""
UNSURE_LATER, ECHO_FAINTEST = 0.25, 0.02
"""Doubt from which, and energy below which, a ring is taken for a part of an echo there is."""
IN_MOST = 0.6
"""Share of the taps in which a pitch must come back."""
WELL_EXPLAINED = 0.8
"""Least share of a tap's power that its rings must explain."""
MOST_PITCHES = 8
MOST_TAPS = 16
FAINTEST_PITCH = 1e-3
"""Energy of the faintest pitch reported, as a share of the strongest's: 30 dB."""
UNSEEN_FAINTEST, UNSEEN_DAMPING = 0.005, 0.05
"""The same, and the most damping, for one that dies too fast to be seen with a later start."""
_SCOUTS = 4
_OWN_WEIGHT = 4.0
"""Taps that the doubt known from the noise counts for beside the spread between taps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A value with the interval that holds it nine times in ten.

    Attributes
    ----------
    likely, low, high : the value and its 90 % interval
    sigma : standard deviation, as a share of the value
    """

    likely: float
    low: float
    high: float
    sigma: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pitch:
    """One pitch that the taps bring out.

    Attributes
    ----------
    frequency : Hz
    damping : damping ratio by ring-down; None where the recorder falsifies it
    half_power : the same by the width of the peak; None with fewer than two taps
    level : energy as a share of the strongest pitch's
    taps : number of taps it was measured in
    each : Hz, in each of them
    """

    frequency: Spread
    damping: Spread | None
    half_power: Spread | None
    level: float
    taps: int
    each: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejected:
    """A hit that was not used: when, in s, and why."""

    time: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TapTest:
    """What a recording of taps tells.

    Attributes
    ----------
    recording : the recording
    pitches : lowest first
    used : (n,), s, the taps that were used
    rejected : the hits that were not
    mains : 50 or 60, 0 where neither hums; Hz
    lines : Hz, everything that hums steadily
    level_riding : what shows that the recorder set its own level; empty if nothing does
    notes : what the reader should know, each a sentence
    clearest : the ring that stood out most, for a picture
    clearest_rings : its fit
    """

    recording: Recording
    pitches: tuple[Pitch, ...]
    used: tuple[float, ...]
    rejected: tuple[Rejected, ...]
    mains: float
    lines: tuple[float, ...]
    level_riding: str
    notes: tuple[str, ...]
    clearest: Stretch
    clearest_rings: Rings


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Tap:
    """One hit with its ring."""

    time: float
    stretch: Stretch
    over_room: float


def measure_taps(recording: Recording) -> TapTest:
    """Pitches and dampings of a recording of taps.

    Raises
    ------
    SolveError
        No tap, or none that rings.
    """
    heard = thinned(recording)
    room = room_of(heard)
    calm = without_lines(heard, room.lines)
    struck = hits(calm, heard.rate, room)
    if not len(struck):
        raise SolveError(_no_tap(recording, room, heard))
    usable, rejected = _sorted_hits(heard, room, calm, struck)
    if not usable:
        raise SolveError(_none_left(recording, rejected))
    fits, silent = _ringing(_fitted(usable, room, heard.highest), room)
    taps = fits.taps
    rejected = tuple(sorted((*rejected, *silent), key=lambda hit: hit.time))
    pitches = _pitches(fits, room, heard.highest)
    if not pitches:
        raise SolveError(_no_pitch(recording, len(taps), rejected))
    riding = _level_riding(heard, [tap.time for tap in taps], struck)
    if riding:
        pitches = tuple(_undamped(pitch) for pitch in pitches)
    best = int(np.argmax([tap.over_room for tap in taps]))
    return TapTest(
        recording=recording,
        pitches=pitches,
        used=tuple(tap.time for tap in taps),
        rejected=rejected,
        mains=room.mains,
        lines=tuple(float(line) for line in room.lines),
        level_riding=riding,
        notes=_notes(pitches, room),
        clearest=taps[best].stretch,
        clearest_rings=fits.rings[best],
    )


def _no_tap(recording: Recording, room: Room, heard: Thinned) -> str:
    loudest = float(np.max(np.abs(recording.sound - np.mean(recording.sound))))
    if loudest < 1e-4:
        what = "the recording is silent"
    elif len(room.lines) and float(np.sum(room.power)) > 0.5 * float(np.mean(heard.sound**2)):
        hum = f"mains hum at {room.mains:.0f} Hz" if room.mains else "a steady hum"
        what = f"only {hum} is heard"
    else:
        what = "nothing in it starts as suddenly as a tap and stands over the room"
    return (
        f"{recording.name}: no tap found: {what}. Hold the microphone within a hand's breadth "
        "and tap harder, with a second of quiet before each tap."
    )


def _none_left(recording: Recording, rejected: Sequence[Rejected]) -> str:
    reasons = "; ".join(f"at {hit.time:.2f} s {hit.reason}" for hit in rejected[:4])
    more = f"; and {len(rejected) - 4} more" if len(rejected) > 4 else ""
    return (
        f"{recording.name}: {len(rejected)} hits found and none can be used: {reasons}{more}. "
        "Tap once, let it ring out, wait a second, tap again."
    )


def _no_pitch(recording: Recording, taps: int, rejected: Sequence[Rejected]) -> str:
    if not taps:
        return _none_left(recording, rejected)
    return (
        f"{recording.name}: {taps} hits found, but no pitch comes back from one to the next: "
        "this is not a ring (speech, rattle, a scrape?). Tap the bare bar with a plastic handle, "
        "always at the same place."
    )


def _sorted_hits(
    heard: Thinned, room: Room, calm: Floats, struck: Floats
) -> tuple[list[_Tap], tuple[Rejected, ...]]:
    """Hits that can be used, and the others with the reason."""
    taps: list[_Tap] = []
    rejected: list[Rejected] = []
    ends = np.append(struck[1:], len(calm) / heard.rate)
    quiet_since = 0.0
    for time, end in zip(struck, ends, strict=True):
        last = bool(end == ends[-1])
        found = _one_hit(heard, room, calm, float(time), float(end), last, quiet_since)
        quiet_since = float(time) + 0.3
        if isinstance(found, _Tap):
            taps.append(found)
        else:
            rejected.append(found)
    if len(taps) > MOST_TAPS:
        level = sorted((tap.over_room for tap in taps), reverse=True)[MOST_TAPS - 1]
        rejected += [
            Rejected(time=tap.time, reason=f"{MOST_TAPS} clearer taps are enough")
            for tap in taps
            if tap.over_room < level
        ]
        taps = [tap for tap in taps if tap.over_room >= level]
    return taps, tuple(rejected)


def _one_hit(
    heard: Thinned,
    room: Room,
    calm: Floats,
    time: float,
    end: float,
    last: bool,
    quiet_since: float,
) -> _Tap | Rejected:
    """The ring of a hit from `time` until the next one at `end`, or why there is none."""
    start = time + AFTER_HIT
    flat = heard.clipped[(heard.clipped > time - 0.01) & (heard.clipped < end - 0.01)]
    if len(flat):
        start = max(start, float(flat[-1]) + AFTER_CLIP)
    end = min(end - (0.0 if last else 0.01), start + LONGEST)
    clipped = f"flat-topped for {start - time:.2f} s" if start > time + AFTER_HIT else ""
    if end - start < SHORTEST:
        gap = f"{'the recording ends' if last else 'hit again'} {end - time:.2f} s later"
        return Rejected(time=time, reason=clipped or f"{gap}, too soon to hear it ring")
    rate = heard.rate
    noise = room.noise_between(LOWEST, rate / 2)
    over = float(np.mean(calm[int(start * rate) : int((start + 0.03) * rate)] ** 2)) / noise
    if over < FAINTEST:
        faint = f"only {10 * log(max(over, 1.0)) / log(10):.0f} dB over the room"
        return Rejected(time=time, reason=f"{clipped}, then {faint}" if clipped else faint)
    end = _sunk(calm, rate, start, end, noise)
    return _Tap(
        time=time,
        over_room=over,
        stretch=_stretch(heard, room, calm, (time, start, end), quiet_since),
    )


def _sunk(calm: Floats, rate: float, start: float, end: float, noise: float) -> float:
    """When a ring has sunk into the room, s; not before the shortest that is used."""
    frame = int(0.03 * rate)
    part = calm[int(start * rate) : int(end * rate)]
    count = len(part) // frame
    power = np.mean(part[: count * frame].reshape(count, frame) ** 2, axis=1)
    loud = np.flatnonzero(power > 2.0 * noise)
    heard = (int(loud[-1]) + 3) * 0.03 if len(loud) else 0.0
    return min(end, start + max(SHORTEST, 0.2, heard))


def _stretch(
    heard: Thinned,
    room: Room,
    calm: Floats,
    times: tuple[float, float, float],
    quiet_since: float,
) -> Stretch:
    """Sound of one tap, with the room before it where that is quiet, to tell the hum apart."""
    hit, start, end = times
    rate = heard.rate
    first, last = int(np.ceil(start * rate)), int(end * rate)
    picked = np.arange(first, last)
    before = np.arange(int((hit - 0.4) * rate), int((hit - 0.015) * rate))
    noise = room.noise_between(LOWEST, rate / 2)
    there = before[0] >= max(0.0, quiet_since) * rate
    if len(room.lines) and there and float(np.mean(calm[before] ** 2)) < 2.5 * noise:
        picked = np.concatenate([before, picked])
    time = (picked - first) / rate
    return Stretch(
        time=time,
        sound=heard.sound[picked],
        steady=steady_columns(time, room.lines.tolist()),
        rate=rate,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fits:
    """Every tap fitted with the same number of rings.

    Attributes
    ----------
    taps, rings : n of each
    doubts : (n, 2, m), standard deviation of pitch and damping from the noise alone, as shares
    """

    taps: tuple[_Tap, ...]
    rings: tuple[Rings, ...]
    doubts: Floats

    def only(self, kept: Sequence[int]) -> _Fits:
        """Some of the taps."""
        return _Fits(
            taps=tuple(self.taps[k] for k in kept),
            rings=tuple(self.rings[k] for k in kept),
            doubts=self.doubts[list(kept)],
        )


def _fitted(taps: Sequence[_Tap], room: Room, highest: float) -> _Fits:
    """Every tap fitted from a common set of pitches."""
    scouts = sorted(taps, key=lambda tap: tap.over_room, reverse=True)[:_SCOUTS]
    line, decay = _common_pitches([tap.stretch for tap in scouts], room, highest)
    rings = [fit_rings(tap.stretch, line, decay, most_steps=25) for tap in taps]
    doubts = [_doubt(tap.stretch, fit, room) for tap, fit in zip(taps, rings, strict=True)]
    return _Fits(taps=tuple(taps), rings=tuple(rings), doubts=np.array(doubts))


def _common_pitches(
    stretches: Sequence[Stretch], room: Room, highest: float
) -> tuple[Floats, Floats]:
    """Lines and decays found one after the other in some taps together."""
    line, decay = np.empty(0), np.empty(0)
    enough = _enough(len(stretches))
    fits = [fit_rings(stretch, line, decay) for stretch in stretches]
    closed: list[tuple[float, float]] = []
    for _ in range(2 * MOST_PITCHES):
        left = [fit.residual for fit in fits]
        found = next_line(stretches, left, room.noise_around, _open_band(closed, highest), enough)
        if found is None or len(line) == MOST_PITCHES:
            break
        tried = _with_line(stretches, line, decay, found)
        if _sane(tried, stretches, highest):
            fits = tried
            line = np.median([fit.line for fit in tried], axis=0)
            decay = np.median([fit.decay for fit in tried], axis=0)
        else:
            closed.append((found[0], max(4.0, found[1] / 6)))
    return line, decay


def _open_band(
    closed: Sequence[tuple[float, float]], highest: float
) -> Callable[[Floats], NDArray[np.bool_]]:
    """Which lines may still be looked for."""

    def allowed(lines: Floats) -> NDArray[np.bool_]:
        good = (lines > 1.2 * LOWEST) & (lines < highest)
        for middle, half in closed:
            good &= np.abs(lines - middle) > half
        return good

    return allowed


def _with_line(
    stretches: Sequence[Stretch], line: Floats, decay: Floats, found: tuple[float, float]
) -> list[Rings]:
    """Fits of all stretches with one line more."""
    more_line, more_decay = np.append(line, found[0]), np.append(decay, found[1])
    return [fit_rings(s, more_line, more_decay, most_steps=8) for s in stretches]


def _sane(fits: Sequence[Rings], stretches: Sequence[Stretch], highest: float) -> bool:
    """Whether most of the fits are of things that ring in the band, and none has run away."""
    line = np.median([fit.line for fit in fits], axis=0)
    decay = np.median([fit.decay for fit in fits], axis=0)
    swing = np.median(
        [
            np.abs(fit.amplitude) / np.max(np.abs(stretch.sound))
            for fit, stretch in zip(fits, stretches, strict=True)
        ],
        axis=0,
    )
    inside = np.all((line > LOWEST) & (line < 1.05 * highest))
    alive = np.all((decay < 2 * np.abs(line)) & (decay > 0.02))
    energy = np.median([ring_energy(fit) for fit in fits], axis=0)
    worth = energy[-1] > 0.1 * FAINTEST_PITCH * np.max(energy)
    return bool(inside and alive and worth and np.all(swing < 5.0))


def ring_energy(rings: Rings) -> Floats:
    """Mean square times time of each ring until it has died."""
    found: Floats = np.abs(rings.amplitude) ** 2 / (4 * rings.decay)
    return found


def _later(tap: _Tap) -> _Tap:
    """A tap whose ring starts `LATER`."""
    old = tap.stretch
    kept = (old.time < 0) | (old.time >= LATER)
    time = np.where(old.time[kept] < 0, old.time[kept], old.time[kept] - LATER)
    first = int(np.searchsorted(time, 0.0))
    time[first:] -= time[first]
    return _Tap(
        time=tap.time,
        over_room=tap.over_room,
        stretch=Stretch(
            time=time, sound=old.sound[kept], steady=_again(old.steady[kept]), rate=old.rate
        ),
    )


def _again(steady: Floats) -> Floats:
    """Steady columns made orthonormal once more."""
    return np.linalg.qr(steady)[0] if steady.shape[1] else steady


def _enough(taps: int) -> float:
    """Mean power over the noise that chance brings to this many taps once in 1e8 filters."""
    from scipy.stats import chi2

    return float(chi2.isf(1e-8, 2 * taps)) / (2 * taps)


def _doubt(stretch: Stretch, fit: Rings, room: Room) -> Floats:
    """Standard deviation of pitch and damping, as shares (2, m), from the noise around each.

    The noise is that of the room or of what the fit leaves, whichever is more.
    """
    part = fit.residual[stretch.ring]
    power = np.abs(np.fft.rfft(part)) ** 2 * 2 / (len(part) * stretch.rate)
    spots = np.fft.rfftfreq(len(part), 1 / stretch.rate)
    count = len(fit.line)
    found = np.empty((2, count))
    for k in range(count):
        width = max(15.0, 2 * float(fit.decay[k]))
        near = np.abs(spots - fit.line[k]) < width
        left = float(np.mean(power[near])) if np.any(near) else 0.0
        sigma = sqrt(max(left, room.noise_at(float(fit.line[k]))) * stretch.rate / 2)
        found[:, k] = sigma * fit.doubt[k] / fit.line[k], sigma * fit.doubt[count + k]
    return found


def _ringing(fits: _Fits, room: Room) -> tuple[_Fits, tuple[Rejected, ...]]:
    """Taps that the fit explains, and the others rejected."""
    shares = [
        _explained(tap.stretch, rings, room)
        for tap, rings in zip(fits.taps, fits.rings, strict=True)
    ]
    silent = tuple(
        Rejected(time=tap.time, reason="does not ring like the others (a scrape, a voice?)")
        for tap, share in zip(fits.taps, shares, strict=True)
        if share <= WELL_EXPLAINED
    )
    return fits.only([k for k, share in enumerate(shares) if share > WELL_EXPLAINED]), silent


def _explained(stretch: Stretch, fit: Rings, room: Room) -> float:
    """Share of the first tenth of a second, over the room's noise, that the rings explain."""
    part = stretch.ring
    count = int(0.1 * stretch.rate)
    sound = stretch.sound - stretch.steady @ (stretch.steady.T @ stretch.sound)
    noise = room.noise_between(0.0, stretch.rate / 2)
    whole = float(np.mean(sound[part][:count] ** 2)) - noise
    left = float(np.mean(fit.residual[part][:count] ** 2)) - noise
    return 1 - max(left, 0.0) / whole if whole > 0 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Held:
    """One ring over the taps that hold it.

    Attributes
    ----------
    number : which of the rings
    taps : which taps
    frequency, damping : over these taps
    energy, decay : median over these taps; mean square times s, and 1/s
    """

    number: int
    taps: tuple[int, ...]
    frequency: Spread
    damping: Spread
    energy: float
    decay: float


def _held(fits: _Fits) -> list[_Held]:
    """Rings that come back from tap to tap."""
    if not len(fits.rings):
        return []
    found = (_one_held(fits, k) for k in range(len(fits.rings[0].line)))
    return [held for held in found if held is not None]


def _one_held(fits: _Fits, k: int) -> _Held | None:
    """One ring over the taps that hold it, or None where it does not come back."""
    each = np.array([rings.pitch[k] for rings in fits.rings])
    damping = np.array([rings.damping[k] for rings in fits.rings])
    middle = float(np.median(each))
    near = np.abs(each - middle) < (0.03 + 2 * fits.doubts[:, 0, k]) * middle
    sure = (fits.doubts[:, 1, k] < 0.5) & (damping > 1e-5) & (damping < HIGHEST_DAMPING)
    taps = np.flatnonzero(near & sure)
    if len(taps) < max(1, IN_MOST * len(each)):
        return None
    rings = [fits.rings[i] for i in taps]
    return _Held(
        number=k,
        taps=tuple(taps.tolist()),
        frequency=spread(each[taps], fits.doubts[taps, 0, k]),
        damping=spread(damping[taps], fits.doubts[taps, 1, k]),
        energy=float(np.median([ring_energy(one)[k] for one in rings])),
        decay=float(np.median([one.decay[k] for one in rings])),
    )


def _pitches(early: _Fits, room: Room, highest: float) -> tuple[Pitch, ...]:
    """Pitches that come back from tap to tap and with a later start, lowest first.

    An echo or the end of the hammer's blow, heard in the first hundredths of a second, looks
    like rings that die fast; started later they are gone, while a true ring has only lost what
    its decay says.
    """
    held = _held(early)
    if not held:
        return ()
    late = _fitted([_later(tap) for tap in early.taps], room, highest)
    found, echo = _seen_again(_alone(held), _held(late), room)
    top = max((ring.energy for ring, _ in found), default=0.0)
    pitches = [
        _pitch(early, late, ring, again, echo, ring.energy / top)
        for ring, again in found
        if ring.energy > FAINTEST_PITCH * top and _believed(ring, again, top, echo)
    ]
    return tuple(sorted(pitches, key=lambda pitch: pitch.frequency.likely))


def _alone(held: Sequence[_Held]) -> list[_Held]:
    """Rings without the weaker of two that lie within a quarter of the stronger's peak width."""
    kept: list[_Held] = []
    for ring in sorted(held, key=lambda one: -one.energy):
        if all(_apart(ring, one) > 0.5 * one.damping.likely for one in kept):
            kept.append(ring)
    return kept


def _seen_again(
    held: Sequence[_Held], later: Sequence[_Held], room: Room
) -> tuple[list[tuple[_Held, _Held | None]], bool]:
    """Each ring, strongest first, with its like of the later start; whether any is gone."""
    found: list[tuple[_Held, _Held | None]] = []
    taken: set[int] = set()
    for ring in held:
        again = [one for one in later if _same(one, ring)]
        free = [one for one in again if one.number not in taken]
        if free:
            nearest = min(free, key=lambda one: _apart(one, ring))
            taken.add(nearest.number)
            found.append((ring, nearest))
        elif not again and _left_later(ring, room) < 3 * _enough(len(ring.taps)):
            found.append((ring, None))
    return found, len(found) < len(held)


def _believed(ring: _Held, again: _Held | None, top: float, echo: bool) -> bool:
    """Whether a ring is one: seen again, or dying too fast for that but strong and no echo."""
    if again and echo:
        return again.damping.sigma < UNSURE_LATER and ring.energy > ECHO_FAINTEST * top
    if again:
        return True
    strong = ring.energy > UNSEEN_FAINTEST * top and ring.damping.likely < UNSEEN_DAMPING
    return strong and not echo


def _apart(one: _Held, other: _Held) -> float:
    return abs(one.frequency.likely / other.frequency.likely - 1)


def _same(one: _Held, other: _Held) -> bool:
    """Whether two rings are within two per cent, or within their doubt."""
    both = one.frequency.sigma + other.frequency.sigma
    return _apart(one, other) < max(0.02, 3 * both)


def _left_later(ring: _Held, room: Room) -> float:
    """Power over that of the noise that a ring should still have with the later start."""
    line = np.array([ring.frequency.likely])
    noise = float(room.noise_around(line, ring.decay / 3)[0])
    return ring.energy * exp(-2 * ring.decay * LATER) / noise


def _pitch(
    early: _Fits, late: _Fits, ring: _Held, again: _Held | None, echo: bool, level: float
) -> Pitch:
    sure = again is not None and (echo or again.damping.sigma < SURE_LATER)
    fits, held = (late, again) if again and sure else (early, ring)
    frequency, damping = held.frequency, held.damping
    if again:
        frequency = _widened(frequency, ring.frequency, again.frequency)
        damping = _widened(damping, ring.damping, again.damping)
    rung = [(fits.taps[i].stretch, fits.rings[i]) for i in held.taps]
    return Pitch(
        frequency=frequency,
        damping=damping,
        half_power=_by_half_power(rung, held.number),
        level=level,
        taps=len(held.taps),
        each=tuple(float(fits.rings[i].pitch[held.number]) for i in held.taps),
    )


def _widened(value: Spread, one: Spread, other: Spread) -> Spread:
    """A spread that also holds what the start of the ring makes of it, beyond its own doubt."""
    change = log(one.likely / other.likely) ** 2
    more = max(0.0, change - one.sigma**2 - other.sigma**2)
    wider = sqrt(value.sigma**2 + more) / value.sigma
    return Spread(
        likely=value.likely,
        low=value.likely * (value.low / value.likely) ** wider,
        high=value.likely * (value.high / value.likely) ** wider,
        sigma=value.sigma * wider,
    )


def _by_half_power(rung: Sequence[tuple[Stretch, Rings]], k: int) -> Spread | None:
    """Damping ratio by the width of the peak over the taps."""
    found = [damping_ratio(*half_power(stretch, rings, k)) for stretch, rings in rung]
    good = np.array([value for value in found if value > 0])
    if len(good) < 2:
        return None
    return spread(good, np.full(len(good), float(np.std(np.log(good), ddof=1))))


def spread(values: Floats, doubts: Floats) -> Spread:
    """Weighted mean over taps with its 90 % interval.

    Works on logarithms. What the taps scatter more than their own doubts explain is added to
    each (DerSimonian and Laird, Controlled Clinical Trials 7, 1986; from memory). The scale of
    the doubts is settled by the scatter and, as `_OWN_WEIGHT` more taps, by the doubts
    themselves (normal with an inverse chi-square prior; Student's t).

    Parameters
    ----------
    values : (n,), above 0
    doubts : (n,), standard deviation of each as a share
    """
    from scipy.stats import t

    logs, count = np.log(values), len(values)
    own = np.maximum(doubts, 1e-7) ** 2
    between = _between(logs, own)
    weight = 1 / (own + between)
    mean = float(weight @ logs / np.sum(weight))
    scatter = float(weight @ (logs - mean) ** 2)
    # What the doubts say of themselves counts only as far as they are the doubt.
    trust = _OWN_WEIGHT * float(np.mean(own / (own + between)))
    freedom = trust + count - 1
    sigma = sqrt((trust + scatter) / freedom / float(np.sum(weight)))
    reach = float(t.isf(0.05, freedom)) * sigma
    return Spread(likely=exp(mean), low=exp(mean - reach), high=exp(mean + reach), sigma=sigma)


def _between(logs: Floats, own: Floats) -> float:
    """Variance between taps beyond their own."""
    weight = 1 / own
    mean = float(weight @ logs / np.sum(weight))
    scatter = float(weight @ (logs - mean) ** 2)
    size = float(np.sum(weight) - np.sum(weight**2) / np.sum(weight))
    return max(0.0, (scatter - (len(logs) - 1)) / size) if size > 0 else 0.0


def _level_riding(heard: Thinned, taps: Sequence[float], struck: Floats) -> str:
    """What shows that the recorder set its own level while it listened; empty if nothing does.

    A ring can only add to the room; where some band is quieter after the tap than before it,
    the gain went down.
    """
    from scipy.signal import stft

    size = int(0.06 * heard.rate)
    spots, times, swing = stft(
        heard.sound, fs=heard.rate, window="boxcar", nperseg=size, noverlap=0, boundary=None
    )
    power = np.abs(swing) ** 2
    edges = np.geomspace(100.0, 0.47 * heard.rate, 7)
    drops = []
    for low, high in pairwise(edges):
        inside = (spots >= low) & (spots < high)
        if np.count_nonzero(inside) >= 8:
            drops.append(_drop(np.mean(power[inside], axis=0), times, taps, struck))
    lowest = min((drop for drop in drops if drop is not None), default=1.0)
    if lowest > (0.45 if len(taps) > 2 else 0.3):
        return ""
    return (
        f"the room is {-10 * log(lowest) / log(10):.0f} dB quieter just after a tap than before "
        "it, so the recorder set its own level"
    )


def _drop(power: Floats, times: Floats, taps: Sequence[float], struck: Floats) -> float | None:
    """Lowest level of a band in the half second after a tap over that before, median of taps.

    Only taps with a quiet half second before them count: after another blow, used or not, what
    is heard before is that one's ring.
    """
    ratios = []
    for tap in taps:
        since = max((hit + 0.5 for hit in struck if hit < tap), default=0.0)
        before = power[(times > max(since, tap - 0.6)) & (times < tap - 0.06)]
        after = power[(times > tap + 0.06)][:8]
        if len(before) >= 3 and len(after) == 8:
            pairs = (after[:-1] + after[1:]) / 2
            ratios.append(pairs / np.mean(before))
    return float(np.min(np.median(ratios, axis=0))) if ratios else None


def _undamped(pitch: Pitch) -> Pitch:
    """A pitch without its dampings, which the recorder falsified."""
    return Pitch(
        frequency=pitch.frequency,
        damping=None,
        half_power=None,
        level=pitch.level,
        taps=pitch.taps,
        each=pitch.each,
    )


def _notes(pitches: Sequence[Pitch], room: Room) -> tuple[str, ...]:
    found = []
    if max(pitch.taps for pitch in pitches) < 3:
        found.append("With fewer than three taps the spread is a guess; tap five times or more.")
    for pitch in pitches:
        near = [line for line in room.lines if abs(line - pitch.frequency.likely) < 1.0]
        if near:
            found.append(
                f"{pitch.frequency.likely:.1f} Hz lies on a steady line of the room at "
                f"{near[0]:.1f} Hz: switch off what hums and tap again to be sure."
            )
        if pitch.damping and pitch.half_power:
            ratio = pitch.half_power.likely / pitch.damping.likely
            if not 0.7 < ratio < 1.4:
                found.append(
                    f"At {pitch.frequency.likely:.0f} Hz the two ways to damping differ by "
                    f"{abs(ratio - 1):.0%}: two pitches close together, or a loose joint."
                )
    return tuple(found)
