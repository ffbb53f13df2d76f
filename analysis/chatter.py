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

The engaged length alone makes a turning bar whirl where ``1 + g (G K0)_rr = 0``. Past that gain
the loop is unstable though no phase of the marks may show it any more, so the limit is the lesser
of the two.

The *gain margin* scales the whole cut, K and K0 together, until it just sings: a margin of 2
stands twice the cutting force's slope. It is far better behaved than a depth, which below the
nose radius goes like the gain squared. Process damping scales with nothing but the engaged edge
and the cutting speed; it is given apart, never mixed in silently.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, pi
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .beam import beam_model, held_at
from .case import Case
from .compliance import (
    TOP_FREQUENCY,
    Complexes,
    Compliance,
    DampingRatios,
    edge_compliance,
)
from .edge import EdgeForce
from .finish import ideal_roughness
from .force import cutting_force, force_carried_over
from .lobes import edge_floors
from .model import Factored, Floats, factorised
from .modes import Modes, undamped_modes
from .units import Estimate

GAINS = tuple(float(gain) for gain in np.geomspace(1e-3, 1e3, 121))
LOWER_GAINS = tuple(float(gain) for gain in np.geomspace(1e-7, 1e-3, 81)[:-1])
"""For a cut a thousand times past its limit and more."""
MODE_COUNT = 16
BIT_DAMPING = 0.02
BEFORE_WHIRL = (0.5, 0.8, 0.9, 0.95, 0.98, 0.99, 0.999)
"""Gains over the one that whirls, at which singing is looked for besides."""
SHARP_EDGE = 5e-6
"""Radius of a stoned high-speed-steel edge, m (common practice)."""
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
    frequency : Hz, of the singing, as seen from the bar, which turns at n: a microphone in the
        room hears it n higher or lower, or both; nan if there is none
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
    """Smallest gain at which the loop sings or whirls, and its frequency.

    Gains are searched upwards in steps of 12 %, finer just below the gain that whirls, and the
    first crossing is refined. Where the search comes nearest to singing between two steps it looks
    closer, so that a narrow window of singing is found if the steps about it feel its pull; one
    that opens and closes within a step with no dip beside it is not.
    """
    whirl, sung = whirl_onset(loop), _sung(loop, whirl_margin(loop))
    return sung if sung.gain_margin <= whirl.gain_margin else whirl


def _sung(loop: Loop, most: float) -> Onset:
    """Smallest gain below `most` at which some phase of the last turn's marks sings."""
    seen = _seen(loop)

    def excess(gain: float) -> float:
        return float(seen.worst(gain).min()) + 0.5

    def onset_between(below: float, above: float) -> Onset:
        gain = _crossing(excess, below, above)
        pitch = float(loop.frequency[int(np.argmin(seen.worst(gain)))])
        return Onset(gain_margin=gain, frequency=pitch)

    before_whirl = tuple(share * most for share in BEFORE_WHIRL if most < inf)
    lower = LOWER_GAINS if excess(GAINS[0]) < 0 else ()
    gains = sorted(gain for gain in (*lower, *GAINS, *before_whirl) if gain < most)
    found: list[float] = []
    for k, gain in enumerate(gains):
        found.append(excess(gain))
        if found[k] < 0:
            if k == 0:
                return Onset(gain_margin=0.0, frequency=float(loop.frequency[0]))
            return onset_between(gains[k - 1], gain)
        if k >= 2 and found[k - 2] > found[k - 1] < found[k]:
            dip = _dip(excess, gains[k - 2], gain)
            if excess(dip) < 0:
                return onset_between(gains[k - 2], dip)
    return Onset(gain_margin=inf, frequency=float("nan"))


def _dip(excess: Callable[[float], float], low: float, high: float) -> float:
    """Where `excess` is least between two gains, or first below 0; golden section to 1e-4."""
    share = (5**0.5 - 1) / 2
    while high - low > 1e-4 * high:
        left, right = high - share * (high - low), low + share * (high - low)
        at_left, at_right = excess(left), excess(right)
        if min(at_left, at_right) < 0:
            return left if at_left < 0 else right
        low, high = (low, right) if at_left < at_right else (left, high)
    return (low + high) / 2


def _crossing(excess: Callable[[float], float], below: float, above: float) -> float:
    """Where `excess` falls through zero between two gains, to one part in 1e10.

    The secant between the ends, an end that stays put twice running counting half (Illinois
    method: M. Dowell & P. Jarratt, BIT 11 (1971) 168; from memory). Loading a general root finder
    would take a quarter of a second of every run.
    """
    before, after = excess(below), excess(above)
    rose = None
    while above - below > 1e-10 * above:
        middle = below + (above - below) * before / (before - after)
        middle = min(max(middle, below + 4e-11 * above), above - 4e-11 * above)
        found = excess(middle)
        if found >= 0:
            below, before, after = middle, found, after / 2 if rose else after
        else:
            above, after, before = middle, found, before / 2 if rose is False else before
        rose = found >= 0
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
        # Nothing is cut twice the same way, so no phase matters.
        return found[0]
    whirl = whirl_onset(loop)
    for above in (1.2, 2.0, 5.0, 20.0, 100.0):
        # The engaged length's gain shifts the pitch, so a frequency may sing at a lower gain only.
        gains = np.geomspace(floor, above * floor, 24)
        could = np.min([seen.worst(float(g)) for g in gains], axis=0) < -0.5
        if whirl.gain_margin <= above * floor:
            could[int(np.abs(frequency - whirl.frequency).argmin())] = True
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
    # A mode without damping has no answer at its very frequency.
    widths = np.concatenate([-away[::-1], [1e-7], away])
    near = [f * (1 + widths) + shift for f in modes for shift in (spin, -spin)]
    found = np.concatenate([np.geomspace(5.0, TOP_FREQUENCY, 200), *near])
    return np.unique(found[(found > 1.0) & (found < TOP_FREQUENCY)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """One end of everything that is guessed about the loop, or its likely middle.

    Attributes
    ----------
    end : `low` is lightly damped, cut hard and little rubbed, on whichever of soft and
        stiff supports and work side leave the least margin at the case's cut; `high` the reverse
    compliance : receptance of edge against work
    process_damping : N/m, per metre of edge and per m/s of cutting speed
    pitches : (n_structure,) Hz, first mode of each structure that was tried for this end
    """

    end: End
    compliance: Compliance
    process_damping: float
    pitches: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Springs:
    """A bar on supports at one end of their springs, and its modes."""

    held: Factored
    modes: Modes


def corners(case: Case) -> dict[End, Corner]:
    """The structure of the loop at the low, likely and high end of what was guessed."""
    factored = factorised(beam_model(case, averaged=True))
    springs = {end: _springs(case, factored, end) for end in ENDS}
    return {end: _corner(case, springs, end) for end in ENDS}


def corner_at(case: Case, factored: Factored, end: End) -> Corner:
    """One corner, from a bar factorised alike in its two planes."""
    needed: tuple[End, ...] = ("likely",) if end == "likely" else ("low", "high")
    return _corner(case, {side: _springs(case, factored, side) for side in needed}, end)


def _springs(case: Case, factored: Factored, end: End) -> _Springs:
    """The bar on its supports at one end of their springs, alike both ways."""
    held = factored if end == "likely" else held_at(case, factored, end)[1]
    held = held.held_by(*(hold.alike() for hold in held.model.holds))
    return _Springs(held=held, modes=undamped_modes(held, count=MODE_COUNT, counted=False))


def _corner(case: Case, springs: Mapping[End, _Springs], end: End) -> Corner:
    """The likely structure, or the worst or best of soft and stiff supports and work side.

    Soft supports work their dampers harder, so that neither end of a stiffness is the quiet one
    for sure. The choice is made at the case's own cut and speed.
    """
    if end == "likely":
        return _structured(case, springs["likely"], "likely", end)
    sides: tuple[End, End] = ("low", "high") if end == "low" else ("high", "low")
    tried = [_structured(case, springs[held], work, end) for held in sides for work in sides]
    margins = [_floors(case, corner, [edge_of(case, end)])[0] for corner in tried]
    chosen = int(np.argmin(margins) if end == "low" else np.argmax(margins))
    pitches = tuple(pitch for corner in tried for pitch in corner.pitches)
    return replace(tried[chosen], pitches=pitches)


def _structured(case: Case, springs: _Springs, work: End, end: End) -> Corner:
    """Supports and work side as they are given, everything that damps at `end`."""
    ratios = DampingRatios(
        bar=_at(case.bar.damping_ratio, end),
        bit=BIT_DAMPING,
        work=_at(case.work.damping_ratio, end),
    )
    dampers = [_at(support.damping, end) for _, support, _ in case.placed_supports]
    held = springs.held.held_by(
        *(
            replace(hold, damping=damping)
            for hold, damping in zip(springs.held.model.holds, dampers, strict=True)
        )
    )
    compliance = edge_compliance(_with_work(case, work), held, springs.modes, ratios)
    return Corner(
        end=end,
        compliance=compliance,
        process_damping=_at(case.work.material.process_damping, end),
        pitches=(float(compliance.planar.frequency.min()),),
    )


def _with_work(case: Case, end: End) -> Case:
    """The case with its work side at one end: stiffness three ways, and mass with it."""
    if end == "likely":
        return case
    work = case.work.at(end).model_copy(update={"mass": _at(case.work.mass, end)})
    return case.model_copy(update={"work": work})


def _at(value: float, end: End) -> float:
    """One end of a value that has a range."""
    if end == "likely" or not isinstance(value, Estimate):
        return float(value)
    return float(getattr(value, end))


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
    """Whether the cut as planned sings, or is past the gain at which the bar whirls."""
    return bool(worst_eigenvalues(loop, 1.0).min() < -0.5) or whirl_margin(loop) < 1.0


Margins = Callable[[Floats], Floats]
"""Gain margin of the cut at each of several depths, radii or feeds, (n,)."""
STEPS = 32


def limit_from(
    margins: Margins, planned: float, *, quiet: bool, least: float, most: float
) -> float:
    """Nearest value to the planned one at which singing starts, or has stopped.

    A margin need not fall steadily with depth or nose radius, so the answer is told from the cut
    that is planned. If that is quiet: the first value above it that sings, inf if none does. If
    it sings: the largest below it that is quiet, 0 if none is. Values are tried in 31 steps; where
    the margin dips between steps on the way up the dip is looked into, so a narrow window is
    found if the steps about it feel its pull. A quiet window within a step on the way down is not.

    Parameters
    ----------
    quiet : whether the planned one is
    least, most : how far to look down and up
    """
    if quiet:
        return _first_singing(margins, np.geomspace(planned, max(most, 1.001 * planned), STEPS))
    if planned <= least:
        return 0.0
    return _last_quiet(margins, np.geomspace(least, planned, STEPS))


def _first_singing(margins: Margins, values: Floats) -> float:
    """First of rising values that sings, the first of all being quiet; inf if none does."""
    found = margins(values)
    found[0] = max(found[0], 1.0)
    for k in range(1, values.size):
        if found[k] < 1.0:
            return _narrowed(margins, values[k - 1], values[k], upwards=True)
        if k + 1 < values.size and found[k - 1] >= found[k] <= found[k + 1]:
            bottom = _bottom(margins, values[k - 1], values[k + 1])
            if bottom is not None:
                return _narrowed(margins, values[k - 1], bottom, upwards=True)
    return inf


def _bottom(margins: Margins, low: float, high: float) -> float | None:
    """A value between two that sings, near where the margin dips; None if it does not."""
    for _ in range(3):
        values = np.geomspace(low, high, 9)
        found = margins(values)
        k = int(np.argmin(found))
        if found[k] < 1.0:
            return float(values[k])
        # Three such rounds leave a thousandth of a step; a dip well above 1 is not worth them.
        if found[k] > 1.5:
            return None
        low, high = values[max(k - 1, 0)], values[min(k + 1, 8)]
    return None


def _last_quiet(margins: Margins, values: Floats) -> float:
    """Largest of rising values that is quiet, the last of all singing; 0 if none is."""
    found = margins(values)
    quiet = np.flatnonzero(found[:-1] >= 1.0)
    if not quiet.size:
        return 0.0
    k = int(quiet[-1])
    return _narrowed(margins, values[k], values[k + 1], upwards=False)


def _narrowed(margins: Margins, quiet: float, singing: float, *, upwards: bool) -> float:
    """Quiet side of where singing starts between two values, to one part in a thousand.

    Of several such places the lowest on the way up, the highest on the way down.
    """
    low, high = float(quiet), float(singing)
    while high / low > 1.001:
        values = np.geomspace(low, high, 9)
        past = margins(values) < 1.0
        past[0], past[-1] = False, True
        k = int(np.argmax(past)) if upwards else 1 + int(np.flatnonzero(~past)[-1])
        low, high = float(values[k - 1]), float(values[k])
    return low


def _floors(case: Case, corner: Corner, edges: Sequence[EdgeForce], **how: bool) -> Floats:
    """Gain margin of each of several edges at the case's speed."""
    turning, damped = how.get("turning", True), how.get("damped", True)
    damping = corner.process_damping if damped else 0.0
    given, radius, speed = corner.compliance, case.edge_radius, case.spindle_speed
    # Eight at a time stay in the processor's own memory.
    found = [
        edge_floors(given, edges[k : k + 8], damping, radius, speed, turning=turning)
        for k in range(0, len(edges), 8)
    ]
    return np.concatenate([np.zeros(0), *found])


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

    def margins(self, name: str, values: Floats, **changes: float) -> Floats:
        """Gain margin at values (n,) of one size of the cut or the bit, others changed besides."""
        cases = (changed(self.case, **{name: float(value)}, **changes) for value in values)
        edges = [edge_of(case, self.corner.end) for case in cases]
        return _floors(self.case, self.corner, edges, turning=self.turning, damped=self.damped)


def changed(case: Case, **changes: float) -> Case:
    """The case with another `depth`, `feed`, `nose_radius` (m) or `lead_angle` (rad).

    A typed force is that of the planned cut; it is carried over to the other in the proportion
    that it has to the table's.
    """
    of_bit = ("nose_radius", "lead_angle")
    bit = {name: value for name, value in changes.items() if name in of_bit}
    cut = {name: value for name, value in changes.items() if name not in of_bit}
    other = case.model_copy(
        update={
            "bit": case.bit.model_copy(update=bit),
            "cut": case.cut.model_copy(update=cut),
        }
    )
    if case.cut.force is None:
        return other
    force = force_carried_over(case, other)
    return other.model_copy(update={"cut": other.cut.model_copy(update={"force": force})})


def edge_of(case: Case, end: End) -> EdgeForce:
    """Gains of the edge; the soft end of the structure meets the hard end of the force."""
    force = cutting_force(case)
    if end == "likely":
        return force.edge
    return force.edge_at("high" if end == "low" else "low")


def least_depth(case: Case) -> float:
    """Depth below which nothing is cut, m: the height of the feed marks, or the edge's radius.

    The scallop of the last turn where the nose makes all of it, which asks a feed under its
    diameter (see `finish`); never under 5 um, the radius of a stoned edge.
    """
    marks = ideal_roughness(case.cut.feed, case.bit.nose_radius)
    return max(marks.peak_to_valley if marks else 0.0, SHARP_EDGE)


def _is_quiet(setting: Setting, quiet: bool | None) -> bool:
    return onset(setting.loop()).gain_margin >= 1.0 if quiet is None else quiet


def depth_limit(setting: Setting, quiet: bool | None = None) -> Limit:
    """Depth to which the cut may go, m, told from the planned one and so never against its margin.

    If the planned depth is quiet, the first depth above it that sings, or `none` to 6 mm or four
    times the depth; if it sings, the largest quiet depth below, or `no usable depth`.

    Parameters
    ----------
    quiet : whether the planned cut is, if that is known
    """
    planned = setting.case.cut.depth
    found = limit_from(
        lambda depths: setting.margins("depth", depths),
        planned,
        quiet=_is_quiet(setting, quiet),
        least=least_depth(setting.case),
        most=max(6e-3, 4 * planned),
    )
    return _limit(found, "no usable depth")


def _limit(found: float, nothing: str) -> Limit:
    return "none" if found == inf else float(found) if found > 0 else nothing


def nose_radius_limit(setting: Setting, quiet: bool | None = None) -> tuple[Limit, str]:
    """Nose radius to which the bit may go, m, and whether for this depth or for any depth.

    If the planned nose is quiet, the first radius above it that sings, or `none` to 6 mm; if it
    sings, the largest quiet radius below, or `no usable radius`.
    """
    case = setting.case
    found = limit_from(
        lambda radii: setting.margins("nose_radius", radii),
        max(case.bit.nose_radius, 2e-5),
        quiet=_is_quiet(setting, quiet),
        least=2e-5,
        most=6e-3,
    )
    if not 0 < found < inf:
        return _limit(found, "no usable radius"), "this depth"
    deeper = np.geomspace(case.cut.depth, max(6e-3, 4 * case.cut.depth), 12)[1:]
    deep = bool((setting.margins("depth", deeper, nose_radius=found) < 1.0).any())
    return found, "this depth" if deep else "any depth"


def whirl_feed_limit(setting: Setting) -> Limit:
    """Feed at which the bar whirls with no help from the last turn's marks, m/rev.

    Without regeneration the loop is ``1 + g L`` with ``L = (G K0)_rr``, since only a radial
    motion changes the engaged length. It whirls at the least gain for which ``-1/L`` is real and
    positive. For one planar mode this is ``K0_tr > 4 z k sqrt(1 + (z f_n / n)^2)``. If the planned
    feed whirls: the largest below that does not, or `no usable feed`.
    """
    base, case, end = setting.loop(), setting.case, setting.corner.end

    def margins(feeds: Floats) -> Floats:
        forces = (edge_of(changed(case, feed=float(feed)), end) for feed in feeds)
        return np.array([whirl_margin(replace(base, force=force)) for force in forces])

    planned = case.cut.feed
    quiet = whirl_margin(base) >= 1.0
    found = limit_from(margins, planned, quiet=quiet, least=1e-5, most=max(3e-3, 4 * planned))
    return _limit(found, "no usable feed")


def whirl_margin(loop: Loop) -> float:
    """Gain that whirls without regeneration over the gain of the cut; inf if none does."""
    return whirl_onset(loop).gain_margin


def whirl_onset(loop: Loop) -> Onset:
    """Where the bar whirls through the engaged length alone, with no help from the last turn."""
    gain = _seen(loop).instant[:, 0]
    crossing = np.flatnonzero(np.diff(np.sign(gain.imag)))
    share = gain.imag[crossing] / (gain.imag[crossing] - gain.imag[crossing + 1])
    real = gain.real[crossing] + share * (gain.real[crossing + 1] - gain.real[crossing])
    f = loop.frequency
    at = f[crossing] + share * (f[crossing + 1] - f[crossing])
    if not (real < 0).any():
        return Onset(gain_margin=inf, frequency=float("nan"))
    least = int(np.argmin(real))
    return Onset(gain_margin=float(-1.0 / real[least]), frequency=float(at[least]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Chatter:
    """What the loop says of one cut: margins first, as a band.

    Attributes
    ----------
    margin : gain margin, low, likely and high end of what was guessed; 1 just sings
    still : likely margin were the bar not turning
    bare : likely margin without process damping
    depth_limit : m at the low, likely and high end, or a word; see `depth_limit`
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
    quiet = {end: onsets[end].gain_margin >= 1.0 for end in ENDS}
    likely = settings["likely"]
    nose, holds_for = nose_radius_limit(likely, quiet["likely"])
    margin = in_order({end: onsets[end].gain_margin for end in ENDS})
    bare = onset(replace(likely, damped=False).loop())
    frequency = onsets["likely"].frequency
    if margin["likely"] == inf:
        frequency = bare.frequency
    verdict, reason = margin_verdict(margin, bare.gain_margin)
    return Chatter(
        margin=margin,
        still=onset(replace(likely, turning=False).loop()).gain_margin,
        bare=bare.gain_margin,
        depth_limit=_depths(settings, quiet),
        nose_radius_limit=nose,
        nose_limit_holds_for=holds_for,
        frequency=frequency,
        marks_per_turn=frequency / case.spindle_speed,
        whirl_feed_limit=whirl_feed_limit(likely),
        verdict=verdict,
        reason=reason,
    )


def in_order(band: Mapping[End, float]) -> dict[End, float]:
    """The band with no end on the wrong side of the likely value."""
    every = tuple(band.values())
    return {"low": min(every), "likely": band["likely"], "high": max(every)}


def _depths(settings: Mapping[End, Setting], quiet: Mapping[End, bool]) -> dict[End, Limit]:
    """Depth limit at each end, the least of them low and the greatest high."""
    found = {end: depth_limit(settings[end], quiet[end]) for end in ENDS}
    ranked = sorted(found.values(), key=_depth_order)
    return {"low": ranked[0], "likely": found["likely"], "high": ranked[-1]}


def _depth_order(limit: Limit) -> float:
    return limit if isinstance(limit, float) else inf if limit == "none" else 0.0


def margin_verdict(margin: Mapping[End, float], bare: float) -> tuple[Verdict, str]:
    """Verdict on a band of margins, and the reason for it; `bare` is without process damping."""
    if margin["low"] >= 1.0:
        return (
            "good",
            "it stays quiet even at the pessimistic end of that range; one guess in ten is worse",
        )
    if margin["likely"] < 1.0:
        return "avoid", "it is likely to chatter at this cut"
    if bare < 1.0:
        return "caution", (
            "it stays quiet only because the flank of a slow bit rubs the chatter down, which is "
            "known to a factor of four: a fresh or well-relieved edge may sing"
        )
    return "caution", "it is likely to stay quiet, but not at the pessimistic end of the guesses"
