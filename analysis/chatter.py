"""Chatter: how far the cut's loop gain is from where the bar starts to sing.

The edge meets the surface it left one turn ago. With G the receptance of edge against work, K the
regenerative gain and K0 the gain through the engaged length (see `edge`), C the process damping,

    (1 + G K0 + i w G C + (1 - exp(-i w T)) G K) u = 0

at the limit. Over all phases of the delay ``1 - exp(-i w T)`` runs round the circle of radius one
about one, whose inverse has a real part of one half: the loop sings first where

    min over f of Re eig[(G^-1 + K0 + i w C)^-1 K] = -1/2.

At tens or hundreds of waves per turn some phase is always there to be taken, so this is the limit
at every speed; with few waves per turn a speed may do better, never worse (J. Tlusty & M.
Polacek, 1963; Y. Altintas, Manufacturing Automation, chapter 4; from memory, re-derived here).

The *gain margin* scales the whole cut, K and K0 together, until it just sings: a margin of 2
stands twice the cutting force's slope. It is far better behaved than a depth, which below the
nose radius goes like the gain squared. Process damping scales with nothing but the engaged edge
and the cutting speed; it is given apart, never mixed in silently.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf, pi
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .beam import beam_model, held_at
from .case import Case
from .compliance import Complexes, Compliance, DampingRatios, edge_compliance
from .edge import EdgeForce
from .force import cutting_force
from .model import Factored, Floats, Hold, factorised
from .modes import undamped_modes
from .units import Estimate

GAINS = tuple(float(gain) for gain in np.geomspace(1e-3, 1e3, 121))
MODE_COUNT = 16
BIT_DAMPING = 0.02
TOP_FREQUENCY = 4000.0
End = Literal["low", "likely", "high"]
ENDS: tuple[End, ...] = ("low", "likely", "high")
Limit = float | str
Verdict = Literal["good", "caution", "avoid"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loop:
    """The cutting loop of one cut on one bar.

    Attributes
    ----------
    receptance : (n_frequency, 3, 3) m/N, edge against work over r, t, x, seen from the bar
    frequency : (n_frequency,) Hz
    force : resultant and gains of the edge
    damping : N s/m per metre of edge, process damping over cutting speed, C/V; 0 without
    """

    receptance: Complexes
    frequency: Floats
    force: EdgeForce
    damping: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """Where the loop first sings.

    Attributes
    ----------
    gain_margin : gain that just sings over the gain of the cut; inf if none does
    frequency : Hz, of the singing, seen from the bar; nan if there is none
    """

    gain_margin: float
    frequency: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Seen:
    """The loop at gain one as the chip sees it, over radial and axial motion.

    Nothing is inverted but ``1 + i w G C``, so parts that are rigid do no harm.

    Attributes
    ----------
    marked : (n_frequency, 2, 2), through the surface of the last turn, without its delay
    instant : (n_frequency, 2), through the engaged length, per radial motion
    """

    marked: Complexes
    instant: Complexes

    def worst(self, gain: float) -> Floats:
        """Most negative real part of the eigenvalues over any phase, (n_frequency,)."""
        # (1 + g k0 e_r')^-1 g M: the engaged length acts on radial motion alone
        share = gain * self.instant / (1.0 + gain * self.instant[:, :1])
        seen = gain * (self.marked - share[:, :, None] * self.marked[:, :1, :])
        half = (seen[:, 0, 0] + seen[:, 1, 1]) / 2
        apart = (seen[:, 0, 0] - seen[:, 1, 1]) / 2
        root = np.sqrt(apart**2 + seen[:, 0, 1] * seen[:, 1, 0])
        return np.asarray(half.real - np.abs(root.real))


def _seen(loop: Loop) -> _Seen:
    rows = loop.receptance[:, [0, 2], :]
    if loop.damping:
        w = 2 * pi * loop.frequency[:, None, None]
        shape = loop.force.damping_shape[np.ix_([0, 2], [0, 2])]
        rubbed = np.eye(2) + 1j * w * loop.damping * (rows[:, :, [0, 2]] @ shape)
        rows = np.asarray(np.linalg.solve(rubbed, rows), dtype=np.complex128)
    return _Seen(
        marked=rows @ loop.force.regenerative[:, [0, 2]],
        instant=rows @ loop.force.instant[:, 0],
    )


def worst_eigenvalues(loop: Loop, gain: float) -> Floats:
    """Most negative real part of the loop's eigenvalues at each frequency, (n_frequency,)."""
    return _seen(loop).worst(gain)


def onset(loop: Loop) -> Onset:
    """Smallest gain at which the loop sings, and its frequency.

    Gains are searched upwards in steps of 12 % and the first crossing is refined, so that a
    narrow unstable window is not stepped over by a wider one above it.
    """
    seen = _seen(loop)

    def excess(gain: float) -> float:
        return float(seen.worst(gain).min()) + 0.5

    def pitch(gain: float) -> float:
        return float(loop.frequency[int(np.argmin(seen.worst(gain)))])

    if excess(GAINS[0]) < 0:
        return Onset(gain_margin=0.0, frequency=pitch(GAINS[0]))
    for below, above in pairwise(GAINS):
        if excess(above) < 0:
            gain = _crossing(excess, below, above)
            return Onset(gain_margin=gain, frequency=pitch(gain))
    return Onset(gain_margin=inf, frequency=float("nan"))


def _crossing(excess: Callable[[float], float], below: float, above: float) -> float:
    """Where `excess` falls through zero between two gains, to one part in 1e10.

    The secant between the ends, the end that stays put counting half (Illinois method: M. Dowell
    & P. Jarratt, BIT 11 (1971) 168; from memory). Loading a general root finder would take a
    quarter of a second of every run.
    """
    before, after = excess(below), excess(above)
    while above - below > 1e-10 * above:
        middle = below + (above - below) * before / (before - after)
        middle = min(max(middle, below + 4e-11 * above), above - 4e-11 * above)
        found = excess(middle)
        if found >= 0:
            below, before, after = middle, found, after / 2
        else:
            above, after, before = middle, found, before / 2
    return (below + above) / 2


def onset_at_speed(
    compliance: Compliance,
    force: EdgeForce,
    speed: float,
    *,
    turning: bool = True,
    damping: float = 0.0,
) -> Onset:
    """Smallest gain at which the loop sings at this very speed, with the delay's own phase.

    With M the loop at gain one, ``G' (K0 + (1 - exp(-i w T)) K)`` and ``G'`` the receptance with
    process damping, a gain g sings at w where -1/g is an eigenvalue of M. The eigenvalues are
    followed at 200 frequencies per turn's worth of phase or more, and the crossings of the real
    axis taken by a straight line between two of them: good to one part in two thousand.

    Parameters
    ----------
    speed : turns per second
    turning : whether the bar turns in its supports; the delay is one turn all the same
    damping : N s/m per metre of edge, as in `Loop`
    """
    spin = speed if turning else 0.0
    frequency = frequencies_for(compliance, spin)
    loop = Loop(
        receptance=compliance.at(frequency, spin),
        frequency=frequency,
        force=force,
        damping=damping,
    )
    floor, seen = onset(loop).gain_margin, _seen(loop)
    found = [Onset(gain_margin=inf, frequency=float("nan"))]
    if floor == 0.0:
        return Onset(gain_margin=0.0, frequency=float("nan"))
    if floor == inf:
        # Nothing is cut twice the same way, so no phase matters; the bar may still whirl.
        return min(found + _crossings(loop, speed), key=lambda at: at.gain_margin)
    for above in (1.2, 2.0, 5.0, 20.0, 100.0):
        # The engaged length's gain shifts the pitch, so a frequency may sing at a lower gain only.
        gains = np.geomspace(floor, above * floor, 24)
        could = np.min([seen.worst(float(g)) for g in gains], axis=0) < -0.5
        for low, high in _bands(frequency, could):
            fine = np.arange(max(low, 1.0), high, min(speed / 200, low / 4000))
            near = Loop(
                receptance=compliance.at(fine, spin), frequency=fine, force=force, damping=damping
            )
            found += _crossings(near, speed)
        least = min(found, key=lambda at: at.gain_margin)
        if least.gain_margin <= above * floor:
            return least
    return least


def _bands(frequency: Floats, chosen: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Stretches of frequency, Hz, that hold the chosen ones and their neighbours."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], chosen, [False]]).astype(int)))
    last = frequency.size - 1
    return [
        (float(frequency[max(begin - 1, 0)]), float(frequency[min(end, last)]))
        for begin, end in edges.reshape(-1, 2)
    ]


def _crossings(loop: Loop, speed: float) -> list[Onset]:
    """Gains and frequencies at which the loop sings with the phase of one turn's delay."""
    seen = _seen(loop)
    delayed = np.exp(-2j * pi * loop.frequency / speed)[:, None, None]
    whole = (1 - delayed) * seen.marked
    whole[:, :, 0] += seen.instant
    roots = -np.linalg.eigvals(whole)
    for k in range(1, roots.shape[0]):
        kept = np.abs(roots[k] - roots[k - 1]).sum()
        if np.abs(roots[k][::-1] - roots[k - 1]).sum() < kept:
            roots[k] = roots[k][::-1]
    found = []
    for root in roots.T:
        for at in np.flatnonzero(root.imag[:-1] * root.imag[1:] < 0):
            k = int(at)
            part = root.imag[k] / (root.imag[k] - root.imag[k + 1])
            real = float(root.real[k] + part * (root.real[k + 1] - root.real[k]))
            step = loop.frequency[k + 1] - loop.frequency[k]
            if real > 0.0:
                sung = float(loop.frequency[k] + part * step)
                found.append(Onset(gain_margin=1 / real, frequency=sung))
    return found


def frequencies_for(compliance: Compliance, spin: float = 0.0) -> Floats:
    """Frequencies, Hz, that catch every resonance: dense about each mode, sparse between.

    Seen from a turning bar a mode at f answers near f - n and f + n; the spacing near each of
    them is a small part of the narrowest damping that is guessed.
    """
    modes = np.concatenate(
        [
            part.frequency
            for part in (
                compliance.planar,
                compliance.twist,
                compliance.stretch,
                compliance.work_across,
                compliance.work_axial,
            )
        ]
    )
    away = np.geomspace(4e-4, 0.4, 60)
    widths = np.concatenate([-away[::-1], [0.0], away])
    near = [f * (1 + widths) + shift for f in modes for shift in (spin, -spin)]
    found = np.concatenate([np.geomspace(5.0, TOP_FREQUENCY, 200), *near])
    return np.unique(found[(found > 1.0) & (found < TOP_FREQUENCY)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """One end of everything that is guessed about the loop, or its likely middle.

    Attributes
    ----------
    end : `low` is soft, lightly damped, cut hard and with no process damping
    compliance : receptance of edge against work
    process_damping : N/m, per metre of edge and per m/s of cutting speed
    """

    end: End
    compliance: Compliance
    process_damping: float


def corners(case: Case) -> dict[End, Corner]:
    """The structure of the loop at the low, likely and high end of what was guessed."""
    factored = factorised(beam_model(case, averaged=True))
    return {end: corner_at(case, factored, end) for end in ENDS}


def corner_at(case: Case, factored: Factored, end: End) -> Corner:
    """One corner, from a bar factorised alike in its two planes."""
    moved, held = (case, factored) if end == "likely" else held_at(case, factored, end)
    held = held.held_by(*(_alike(hold) for hold in held.model.holds))
    modes = undamped_modes(held, count=MODE_COUNT, counted=False)
    ratios = DampingRatios(
        bar=_at(case.bar.damping_ratio, end),
        bit=BIT_DAMPING,
        work=_at(case.work.damping_ratio, end),
    )
    damping = 0.0 if end == "low" else _at(case.work.material.process_damping, end)
    return Corner(
        end=end,
        compliance=edge_compliance(moved, held, modes, ratios),
        process_damping=damping,
    )


def _at(value: float, end: End) -> float:
    """One end of a value that has a range."""
    if end == "likely" or not isinstance(value, Estimate):
        return float(value)
    return float(getattr(value, end))


def _alike(hold: Hold) -> Hold:
    """Return the hold with the mean give of its two directions both ways."""
    give = (1 / hold.vertical + 1 / hold.horizontal) / 2
    mean = 1 / give if give > 0 else inf
    return replace(hold, vertical=mean, horizontal=mean)


def loop_of(case: Case, corner: Corner, *, turning: bool = True, damped: bool = True) -> Loop:
    """Cutting loop of a case at one corner.

    Parameters
    ----------
    turning : whether the bar turns at the case's speed or stands still
    damped : whether the corner's process damping counts
    """
    spin = case.spindle_speed if turning else 0.0
    frequency = frequencies_for(corner.compliance, spin)
    return Loop(
        receptance=corner.compliance.at(frequency, spin),
        frequency=frequency,
        force=edge_of(case, corner.end),
        damping=corner.process_damping / case.surface_speed if damped else 0.0,
    )


def sings(loop: Loop) -> bool:
    """Whether the cut as planned is past its limit."""
    return bool(worst_eigenvalues(loop, 1.0).min() < -0.5)


def _first_crossing(past: Callable[[float], bool], values: Floats) -> Limit:
    """Smallest of rising values past the limit, refined by halving to one part in a thousand."""
    if past(values[0]):
        return "no usable depth"
    for below, above in pairwise(values):
        if past(above):
            low, high = float(below), float(above)
            while high / low > 1.001:
                middle = (low * high) ** 0.5
                low, high = (low, middle) if past(middle) else (middle, high)
            return low
    return "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One way of looking at a corner's loop: the case's speed, turning or still, damped or not."""

    case: Case
    corner: Corner
    turning: bool = True
    damped: bool = True

    def loop(self, **changes: float) -> Loop:
        """Loop with changes to the cut or the bit: `depth`, `feed` or `nose_radius`, m."""
        loop = loop_of(self.case, self.corner, turning=self.turning, damped=self.damped)
        if not changes:
            return loop
        return replace(loop, force=edge_of(changed(self.case, **changes), self.corner.end))


def changed(case: Case, **changes: float) -> Case:
    """The case with another `depth`, `feed` (m) or `nose_radius` (m)."""
    bit = {name: value for name, value in changes.items() if name == "nose_radius"}
    cut = {name: value for name, value in changes.items() if name != "nose_radius"}
    return case.model_copy(
        update={
            "bit": case.bit.model_copy(update=bit),
            "cut": case.cut.model_copy(update=cut),
        }
    )


def edge_of(case: Case, end: End) -> EdgeForce:
    """Gains of the edge; the soft end of the structure meets the hard end of the force."""
    force = cutting_force(case)
    if end == "likely":
        return force.edge
    return force.edge_at("high" if end == "low" else "low")


def least_depth(case: Case) -> float:
    """Depth below which nothing is cut: the height of the feed marks, f^2/8r, or 5 um, m.

    The scallop of the last turn, and the radius of a stoned high-speed-steel edge (common
    practice).
    """
    nose = case.bit.nose_radius
    scallop = case.cut.feed**2 / (8 * nose) if nose > 0 else 0.0
    return max(scallop, 5e-6)


def depth_limit(setting: Setting) -> Limit:
    """Shallowest depth at which the cut sings, m; `none`, or `no usable depth`."""
    case, base = setting.case, setting.loop()
    end = setting.corner.end

    def past(depth: float) -> bool:
        return sings(replace(base, force=edge_of(changed(case, depth=depth), end)))

    deepest = max(6e-3, 4 * case.cut.depth)
    return _first_crossing(past, np.geomspace(least_depth(case), deepest, 48))


def nose_radius_limit(setting: Setting) -> tuple[Limit, str]:
    """Largest nose radius that does not sing, m, and whether for this depth or for any depth."""
    case, base = setting.case, setting.loop()
    end = setting.corner.end

    def past_at(depth: float) -> Callable[[float], bool]:
        def past(nose: float) -> bool:
            case_at = changed(case, depth=depth, nose_radius=nose)
            return sings(replace(base, force=edge_of(case_at, end)))

        return past

    radii = np.geomspace(2e-5, 6e-3, 40)
    found = _first_crossing(past_at(case.cut.depth), radii)
    if not isinstance(found, float):
        return ("none" if found == "none" else "no usable radius"), "this depth"
    deep = any(past_at(depth)(found) for depth in np.geomspace(case.cut.depth, 6e-3, 12)[1:])
    return found, "this depth" if deep else "any depth"


def whirl_feed_limit(setting: Setting) -> Limit:
    """Feed at which the bar whirls with no help from the last turn's marks, m/rev.

    Without regeneration the loop is ``1 + g L`` with ``L = (G K0)_rr``, since only a radial
    motion changes the engaged length. It whirls at the least gain for which ``-1/L`` is real and
    positive. For one planar mode this is ``K0_tr > 4 z k sqrt(1 + (z f_n / n)^2)``.
    """
    base, case, end = setting.loop(), setting.case, setting.corner.end

    def past(feed: float) -> bool:
        return whirl_margin(replace(base, force=edge_of(changed(case, feed=feed), end))) < 1.0

    return _first_crossing(past, np.geomspace(1e-5, 3e-3, 40))


def whirl_margin(loop: Loop) -> float:
    """Gain that whirls without regeneration over the gain of the cut; inf if none does."""
    gain = _seen(loop).instant[:, 0]
    crossing = np.flatnonzero(np.diff(np.sign(gain.imag)))
    if not crossing.size:
        return inf
    share = gain.imag[crossing] / (gain.imag[crossing] - gain.imag[crossing + 1])
    real = gain.real[crossing] + share * (gain.real[crossing + 1] - gain.real[crossing])
    real = real[real < 0]
    return float((-1.0 / real).min()) if real.size else inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Chatter:
    """What the loop says of one cut: margins first, as a band.

    Attributes
    ----------
    margin : gain margin, low, likely and high end of what was guessed; 1 just sings
    still : likely margin were the bar not turning
    bare : likely margin without process damping
    depth_limit : m at the low, likely and high end, or a word
    nose_radius_limit, nose_limit_holds_for : m or a word, at the likely end
    frequency : Hz, of the singing at the likely end
    marks_per_turn : waves left round the bore
    whirl_feed_limit : m/rev or a word
    verdict : good, caution or avoid
    reason : why
    """

    margin: Mapping[End, float]
    still: float
    bare: float
    depth_limit: Mapping[End, Limit]
    nose_radius_limit: Limit
    nose_limit_holds_for: str
    frequency: float
    marks_per_turn: float
    whirl_feed_limit: Limit
    verdict: Verdict
    reason: str


def solve_chatter(case: Case, found: Mapping[End, Corner] | None = None) -> Chatter:
    """Everything about chatter of the case's cut at its own speed."""
    found = found or corners(case)
    settings = {end: Setting(case=case, corner=found[end]) for end in ENDS}
    onsets = {end: onset(settings[end].loop()) for end in ENDS}
    likely = settings["likely"]
    nose, holds_for = nose_radius_limit(likely)
    margin = {end: onsets[end].gain_margin for end in ENDS}
    bare = onset(replace(likely, damped=False).loop())
    frequency = onsets["likely"].frequency
    if margin["likely"] == inf:
        frequency = bare.frequency
    verdict, reason = margin_verdict(margin, bare.gain_margin)
    return Chatter(
        margin=margin,
        still=onset(replace(likely, turning=False).loop()).gain_margin,
        bare=bare.gain_margin,
        depth_limit={end: depth_limit(settings[end]) for end in ENDS},
        nose_radius_limit=nose,
        nose_limit_holds_for=holds_for,
        frequency=frequency,
        marks_per_turn=frequency / case.spindle_speed,
        whirl_feed_limit=whirl_feed_limit(likely),
        verdict=verdict,
        reason=reason,
    )


def margin_verdict(margin: Mapping[End, float], bare: float) -> tuple[Verdict, str]:
    """Verdict on a band of margins, and the reason for it; `bare` is without process damping."""
    if margin["low"] >= 1.0:
        return "good", "it stays quiet even at the pessimistic end of what was guessed"
    if margin["likely"] < 1.0:
        return "avoid", "it is likely to chatter at this cut"
    if bare < 1.0:
        return "caution", (
            "it stays quiet only because the flank of a slow bit rubs the chatter down, which is "
            "known to a factor of four: a fresh or well-relieved edge may sing"
        )
    return "caution", "it is likely to stay quiet, but not at the pessimistic end of the guesses"
