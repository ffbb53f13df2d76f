"""Lobes: the gain that just sings at each spindle speed, at that speed's own phase.

At one speed the surface left a turn ago comes back with one phase at each frequency. With the
loop at gain one,

    L(f) = (G^-1 + i w C/V)^-1 [K0 + (1 - exp(-i 2 pi f / n)) K],

a gain g sings at f where -1/g is an eigenvalue of L; the least such g over f is the limit at
that speed (Y. Altintas, Manufacturing Automation, chapter 4; from memory, with the turning bar
and the engaged length in the loop). The *floor* is the least over every phase, as in `chatter`.
Only radial and axial motion leave a mark on the chip, so L is followed on those two.

A gain at which the bar whirls through the engaged length alone, ``1 + g (G K0)_rr = 0`` with no
help from the last turn's marks, is a limit whatever the phase, and the floor takes it in: past it
the bar stays unstable while the marks may no longer show it.

Above about one wave per turn over the damping ratio the lobes merge, and no speed does better
than the floor by more than a few percent.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import pi
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from .compliance import TOP_FREQUENCY, Complexes, Compliance, ModeSet
from .edge import EdgeForce
from .model import Floats

Lobes = Literal["apart", "merging", "merged"]
POINTS_PER_WAVE = 24
LEAST_FREQUENCY = 1.0
FINEST = 1e-3
"""Spacing of frequencies over frequency: five of them span a damping of half a percent."""
CAPS = (1.06, 1.3, 2.0, 5.0, 20.0, 100.0)
"""Gains over the floor within which crossings are looked for, one after another."""
SCAN = (0.002, 0.01, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.85, 1.0, 1.2, 1.5, 2.0, 4.0, 10.0, 50.0)
"""Gains over the floor without K0, at which the first crossing of any phase is looked for."""
BEFORE_WHIRL = (0.3, 0.5, 0.7, 0.85, 0.93, 0.97, 0.99, 0.999)
"""Gains over the one that whirls, at which it is looked for besides."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LobeCurve:
    """Limit against speed.

    Attributes
    ----------
    speed : (n_speed,) turns per second
    limit : (n_speed,) gain that sings at this speed over the gain of the cut; inf if none does
    frequency : (n_speed,) Hz, of that singing, seen from the bar; nan if there is none
    floor : (n_speed,) the same limit at the worst phase; never above `limit`
    """

    speed: Floats
    limit: Floats
    frequency: Floats
    floor: Floats

    @property
    def waves_per_turn(self) -> Floats:
        """Waves left round the bore, (n_speed,)."""
        return self.frequency / self.speed


def lobes(waves_per_turn: float, damping: float) -> Lobes:
    """Whether lobes stand apart at this many waves per turn.

    Best speed over floor is about 1.3 at ``waves x damping`` of a half and 1.1 at one: one mode,
    any text on lobes worked through.
    """
    merging = waves_per_turn * damping
    return "merged" if merging > 1.0 else "merging" if merging > 0.5 else "apart"


def speed_can_be_aimed(waves_per_turn: float, doubt: float) -> bool:
    """Whether a speed can be set on a lobe: a quarter wave is within the doubt.

    Parameters
    ----------
    doubt : of frequency over speed, relative
    """
    return doubt < 1.0 / (4.0 * waves_per_turn)


# --- receptance over poles -------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Poles:
    """A `ModeSet` as a sum over complex poles, to be taken at any number of frequencies.

    Attributes
    ----------
    pole : (n_pole,) 1/s
    residue : (n_pole, n_point * n_point) m/(N s)
    rest : (n_point * n_point,) m/N
    """

    pole: Complexes
    residue: Complexes
    rest: Floats

    def at(self, frequency: Floats) -> Complexes:
        """Receptance at frequencies (m,) Hz, (n_point * n_point, m), m/N."""
        s = 2j * pi * frequency
        away = s[None, :] - self.pole[:, None]
        # A mode without damping has no answer at its very frequency.
        shares = 1.0 / np.where(away == 0.0, 1e-6, away)
        return np.asarray(self.residue.T @ shares + self.rest[:, None])


def poles_of(modes: ModeSet) -> Poles:
    """Expand modes over the eigenvectors of their state matrix; motionless ones are left out."""
    felt = np.abs(modes.reach).max(axis=0) > 0.0
    reach = modes.reach[:, felt]
    n = reach.shape[1]
    stiffness = np.diag((2 * pi * modes.frequency[felt]) ** 2)
    damping = modes.damping[np.ix_(felt, felt)]
    state = np.block([[np.zeros((n, n)), np.eye(n)], [-stiffness, -damping]])
    pole, shape = np.linalg.eig(state)
    out = reach @ shape[:n]
    into = np.linalg.solve(shape, np.vstack([np.zeros((n, reach.shape[0])), reach.T]))
    residue = np.einsum("ap,pb->pab", out, into).reshape(2 * n, reach.shape[0] ** 2)
    return Poles(pole=pole, residue=residue, rest=modes.rest.ravel())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Structure:
    """Every part of a compliance over poles, and whether the bar turns."""

    parts: dict[str, Poles]
    turning: bool

    def turned(self, part: str, f: Floats, n: Floats) -> tuple[Complexes, Complexes]:
        """Same-way and crosswise receptance seen from a bar that turns at n."""
        if not self.turning:
            still = self.parts[part].at(f)
            return still, np.zeros_like(still)
        ahead, behind = self.parts[part].at(f + n), self.parts[part].at(f - n)
        return (ahead + behind) / 2, 0.5j * (ahead - behind)

    def rows(self, f: Floats, n: Floats) -> Complexes:
        """Radial and axial motion per force along r, t, x, (2, 3, m), at pairs of f and n."""
        same, cross = self.turned("planar", f, n)
        work, work_cross = self.turned("work_across", f, n)
        along = self.parts["stretch"].at(f)[0] + self.parts["work_axial"].at(f)[0]
        along = along + self.parts["bit_across"].at(f)[0]
        radial = same[0] + work[0] + self.parts["bit_along"].at(f)[0]
        return np.array(
            [
                [radial, cross[0] + work_cross[0], same[1]],
                [same[2], cross[2], same[3] + along],
            ]
        )


_PARTS = ("planar", "stretch", "bit_along", "bit_across", "work_across", "work_axial")


def _structure(compliance: Compliance, *, turning: bool) -> _Structure:
    parts = {name: poles_of(getattr(compliance, name)) for name in _PARTS}
    return _Structure(parts=parts, turning=turning)


# --- the loop at pairs of frequency and speed ------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Loops:
    """The loop at gain one on radial and axial motion, at pairs of frequency and speed.

    Attributes
    ----------
    marked : (2, 2, m), through the surface of the last turn, without its delay
    instant : (2, m), through the engaged length, per radial motion
    """

    marked: Complexes
    instant: Complexes

    def worst(self, gain: Floats) -> Floats:
        """Most negative real part over any phase, at a gain for each pair, (m,)."""
        half, root = self._halves(gain)
        return np.asarray(half.real - np.abs(root.real))

    def loudest(self, gain: Floats) -> Complexes:
        """The one of the two eigenvalues that sings, or else the larger, (m,)."""
        half, root = self._halves(gain)
        one, other = half + root, half - root
        sings, other_sings = one.real < -0.5, other.real < -0.5
        first = np.where(sings == other_sings, np.abs(one) > np.abs(other), sings)
        return np.where(first, one, other)

    def _halves(self, gain: Floats) -> tuple[Complexes, Complexes]:
        """Half of the sum and half of the difference of the two eigenvalues."""
        # (1 + g k0 e_r')^-1 g M, the engaged length acting on radial motion alone
        share = gain * self.instant / (1.0 + gain * self.instant[0])
        seen = gain * (self.marked - share[:, None] * self.marked[0])
        half = (seen[0, 0] + seen[1, 1]) / 2
        return half, np.sqrt(((seen[0, 0] - seen[1, 1]) / 2) ** 2 + seen[0, 1] * seen[1, 0])

    def whirls(self, shape: tuple[int, ...]) -> Floats:
        """Gain that whirls within each step of frequency, (n_row, n_step); inf if none."""
        own = self.instant[0].reshape(shape)
        before, after = own[:, :-1], own[:, 1:]
        crossed = before.imag * after.imag < 0
        apart = np.where(crossed, before.imag - after.imag, 1.0)
        real = before.real + before.imag / apart * (after.real - before.real)
        whirling = crossed & (real < 0)
        return np.where(whirling, -1.0 / np.where(whirling, real, -1.0), np.inf)

    def polynomial(self, delayed: Complexes) -> tuple[Complexes, Complexes]:
        """Trace and determinant of L, where the delay leaves ``1 - delayed`` of the mark."""
        whole = self.marked * (1.0 - delayed)
        rr, xr = whole[0, 0] + self.instant[0], whole[1, 0] + self.instant[1]
        return rr + whole[1, 1], rr * whole[1, 1] - whole[0, 1] * xr


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cutting:
    """Structure and edge together.

    Attributes
    ----------
    damping : N s/m per metre of edge at one turn per second; at n it is this over n
    """

    structure: _Structure
    edge: EdgeForce
    damping: float

    def loops(self, f: Floats, n: Floats) -> _Loops:
        """Loop at pairs of frequency and speed."""
        rows = self.structure.rows(f, n)
        if self.damping:
            rubbed = self.edge.damping_shape[np.ix_([0, 2], [0, 2])]
            seen = np.einsum("abm,bc->acm", rows[:, [0, 2]], rubbed)
            rows = _solved(seen * (2j * pi * f * self.damping / n), rows)
        return _Loops(
            marked=np.einsum("abm,bc->acm", rows, self.edge.regenerative[:, [0, 2]]),
            instant=np.einsum("abm,b->am", rows, self.edge.instant[:, 0]),
        )

    def polynomial(self, f: Floats, n: Floats) -> tuple[Complexes, Complexes]:
        """Trace and determinant of L at each speed's own phase."""
        return self.loops(f, n).polynomial(np.exp(-2j * pi * f / n))


def _solved(extra: Complexes, right: Complexes) -> Complexes:
    """``(1 + extra)^-1 right`` for many 2 x 2, (2, 2, m) and (2, k, m)."""
    a, b, c, d = 1 + extra[0, 0], extra[0, 1], extra[1, 0], 1 + extra[1, 1]
    given = np.array([d * right[0] - b * right[1], a * right[1] - c * right[0]])
    return np.asarray(given / (a * d - b * c))


# --- limits ----------------------------------------------------------------------------------


def gain_limits(
    compliance: Compliance,
    edge: EdgeForce,
    process_damping: float,
    edge_radius: float,
    speeds_hz: Floats,
    *,
    turning: bool = True,
) -> LobeCurve:
    """Gain that just sings at each speed, at its own phase, and at the worst phase.

    Parameters
    ----------
    process_damping : N/m, force per metre of edge and per slope of the motion; 0 for none
    edge_radius : m, which gives the cutting speed from the turns
    speeds_hz : (n_speed,) turns per second
    turning : whether the bar turns in its supports; the delay is one turn all the same
    """
    speed = np.asarray(speeds_hz, dtype=float)
    cutting = _cutting(compliance, edge, process_damping, edge_radius, turning=turning)
    near = _frequencies(compliance, speed, turning=turning)
    found = [_block(cutting, near[part], speed[part]) for part in _blocks(speed)]
    limit, frequency, floor = (
        np.concatenate(part) for part in zip(*(found or [(speed, speed, speed)]), strict=True)
    )
    return LobeCurve(speed=speed, limit=limit, frequency=frequency, floor=floor)


def gain_floors(
    compliance: Compliance,
    edge: EdgeForce,
    process_damping: float,
    edge_radius: float,
    speeds_hz: Floats,
    *,
    turning: bool = True,
) -> Floats:
    """Gain that just sings at the worst phase, (n_speed,); as `gain_limits`, at a third less."""
    speed = np.asarray(speeds_hz, dtype=float)
    cutting = _cutting(compliance, edge, process_damping, edge_radius, turning=turning)
    near = _frequencies(compliance, speed, turning=turning)
    found = [np.zeros(0)]
    for part in _blocks(speed):
        found.append(_floors(_at_speeds(cutting, speed[part]), near[part]))
    return np.concatenate(found)


def edge_floors(
    compliance: Compliance,
    edges: Sequence[EdgeForce],
    process_damping: float,
    edge_radius: float,
    speed: float,
    *,
    turning: bool = True,
) -> Floats:
    """Gain that just sings at the worst phase, at one speed, for each of several edges."""
    structure = _structure(compliance, turning=turning)
    near = _frequencies(compliance, np.array([speed]), turning=turning)
    damping = process_damping / (2 * pi * edge_radius)
    cuttings = [_Cutting(structure=structure, edge=edge, damping=damping) for edge in edges]

    def loops(frequency: Floats) -> _Loops:
        each = [
            cutting.loops(row, np.full(row.size, speed))
            for cutting, row in zip(cuttings, frequency, strict=True)
        ]
        return _Loops(
            marked=np.concatenate([one.marked for one in each], axis=2),
            instant=np.concatenate([one.instant for one in each], axis=1),
        )

    return _floors(loops, np.broadcast_to(near, (len(edges), near.size)))


def worst_path(
    compliance: Compliance,
    edge: EdgeForce,
    process_damping: float,
    edge_radius: float,
    speed: float,
    frequency: Floats,
    gain: float = 1.0,
) -> Complexes:
    """The loop of the cut, `gain` times as hard, over frequency and any phase, (n_frequency,).

    It sings where the real part is below -1/2. Of the two eigenvalues the one that sings, or the
    larger.
    """
    cutting = _cutting(compliance, edge, process_damping, edge_radius, turning=True)
    loops = cutting.loops(frequency, np.full(frequency.size, speed))
    return loops.loudest(np.full(1, gain))


def _at_speeds(cutting: _Cutting, speed: Floats) -> Callable[[Floats], _Loops]:
    """The loop at a row of frequencies, Hz, for each speed."""
    return lambda frequency: cutting.loops(frequency.ravel(), np.repeat(speed, frequency.shape[1]))


def _blocks(speed: Floats) -> list[slice]:
    """Few enough speeds at a time to stay in the processor's own memory."""
    return [slice(k, k + 32) for k in range(0, speed.size, 32)]


def _cutting(
    compliance: Compliance, edge: EdgeForce, damping: float, radius: float, *, turning: bool
) -> _Cutting:
    return _Cutting(
        structure=_structure(compliance, turning=turning),
        edge=edge,
        damping=damping / (2 * pi * radius) if damping else 0.0,
    )


def depth_limits(
    margins: Callable[[float], Floats], depths: Floats, n_speed: int
) -> NDArray[np.float64]:
    """Shallowest depth at which each speed sings, m; inf where none of `depths` does.

    Parameters
    ----------
    margins : gain limit at each speed, (n_speed,), of the cut at a depth
    depths : (n_depth,) m, rising; between two of them the margin is taken as a power of depth
    """
    found = np.full(n_speed, np.inf)
    before = margins(float(depths[0]))
    found[before < 1.0] = depths[0]
    for low, high in pairwise(depths):
        after = margins(float(high))
        past = np.isinf(found) & (after < 1.0)
        share = np.ones(n_speed)
        finite = past & np.isfinite(before)
        share[finite] = np.log(before[finite]) / np.log(before[finite] / after[finite])
        found[past] = low * (high / low) ** share[past]
        before = after
    return found


def _frequencies(compliance: Compliance, speed: Floats, *, turning: bool) -> Floats:
    """Frequencies for each speed, (n_speed, n_frequency) Hz: dense about each mode.

    Seen from the turning bar a mode at f answers near f - n and f + n.
    """
    away = np.geomspace(2e-3, 0.35, 20)
    # A mode without damping has no answer at its very frequency.
    spread = 1.0 + np.concatenate([-away[::-1], [1e-7], away])
    turned = np.concatenate([compliance.planar.frequency, compliance.work_across.frequency])
    alone = np.concatenate([compliance.stretch.frequency, compliance.work_axial.frequency])
    turned, alone = (np.outer(f[f < TOP_FREQUENCY], spread).ravel() for f in (turned, alone))
    ground = np.concatenate([np.geomspace(5.0, TOP_FREQUENCY, 120), alone])
    n = speed[:, None] if turning else np.zeros((speed.size, 1))
    every = np.hstack([ground + 0 * n, turned + n, turned - n if turning else turned + n])
    return np.sort(np.clip(every, LEAST_FREQUENCY, TOP_FREQUENCY), axis=1)


def _block(cutting: _Cutting, near: Floats, speed: Floats) -> tuple[Floats, Floats, Floats]:
    """Limit, frequency and floor for a few speeds, with their frequencies about the modes."""
    loops = _at_speeds(cutting, speed)(near)
    floor = _floors(_at_speeds(cutting, speed), near, loops)
    limit, frequency = np.full(speed.size, np.inf), np.full(speed.size, np.nan)
    open_ones = np.isfinite(floor)
    past = np.zeros(near.size, dtype=bool)
    whirl = loops.whirls(near.shape)
    for below, cap in pairwise((1.0, *CAPS)):
        if not open_ones.any():
            break
        # The engaged length shifts the pitch: a frequency may sing at a lower gain only.
        for gain in np.geomspace(below, cap, 4)[1:]:
            each = np.repeat(np.where(open_ones, gain * floor, 0.0), near.shape[1])
            past |= loops.worst(each) < -0.5
        wanted = past.reshape(near.shape) | _touched(whirl <= cap * floor[:, None])
        wanted &= open_ones[:, None]
        at, owner, run = _fine(near, wanted, speed)
        least, where = _least_crossings(cutting, at, speed[owner], owner, run, speed.size)
        better = open_ones & (least < limit)
        limit[better], frequency[better] = least[better], where[better]
        open_ones &= limit > cap * floor
    return limit, frequency, np.minimum(floor, limit)


def _touched(steps: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Both ends of the chosen steps, (n_row, n_step + 1)."""
    wide = np.pad(steps, ((0, 0), (1, 1)))
    return np.asarray(wide[:, 1:] | wide[:, :-1])


def _floors(
    loops_at: Callable[[Floats], _Loops], near: Floats, loops: _Loops | None = None
) -> Floats:
    """Smallest gain that sings at some phase or whirls, for each row, (n_row,); inf if none does.

    A window of singing narrower than the steps of `SCAN` may be stepped over, but none that opens
    into whirl.

    Parameters
    ----------
    loops_at : gives the loop at a row of frequencies for each row
    near : (n_row, n_frequency) Hz
    loops : the loop at `near`, if it is known
    """
    loops = loops or loops_at(near)
    whirl = _whirl(loops_at, near, loops)
    low, high = _bracket(loops, near.shape, whirl)
    found = np.isfinite(high)
    top = np.where(found, high, 0.0)
    worst = loops.worst(np.repeat(top, near.shape[1])).reshape(near.shape)
    # Between the two gains only frequencies near the worst ones at the higher can sing.
    row = np.arange(near.shape[0])
    kept = np.sort(np.argsort(worst, axis=1)[:, :24], axis=1)
    index = (kept + near.shape[1] * row[:, None]).ravel()
    few = _Loops(marked=loops.marked[:, :, index], instant=loops.instant[:, index])
    low, top = _halved(few, kept.shape, low, top, 10)
    worst = few.worst(np.repeat(top, kept.shape[1])).reshape(kept.shape)
    best = kept[row, np.argmin(worst, axis=1)]
    last = near.shape[1] - 1
    left, right = near[row, np.maximum(best - 1, 0)], near[row, np.minimum(best + 1, last)]
    fine = np.linspace(left, right, 33, axis=1)
    _, top = _halved(loops_at(fine), fine.shape, 0.9 * top, top, 12)
    return np.minimum(np.where(found, top, np.inf), whirl)


def _whirl(loops_at: Callable[[Floats], _Loops], near: Floats, loops: _Loops) -> Floats:
    """Least gain that whirls with no help from the last turn's marks, (n_row,); inf if none."""
    steps = loops.whirls(near.shape)
    row, at = np.arange(near.shape[0]), np.argmin(steps, axis=1)
    coarse: Floats = steps[row, at]
    if not np.isfinite(coarse).any():
        return coarse
    fine = np.linspace(near[row, at], near[row, at + 1], 33, axis=1)
    found: Floats = loops_at(fine).whirls(fine.shape).min(axis=1)
    return np.where(np.isfinite(found), found, coarse)


def _bracket(loops: _Loops, shape: tuple[int, ...], whirl: Floats) -> tuple[Floats, Floats]:
    """Gains, rising, between which the first one sings at some phase; inf where none does.

    Nothing is looked for above the gain that whirls, (n_row,).
    """
    width = shape[1]
    bare = _Loops(marked=loops.marked, instant=np.zeros_like(loops.instant))
    deepest = bare.worst(np.ones(1)).reshape(shape).min(axis=1)
    start = np.where(deepest < 0, -0.5 / np.minimum(deepest, -1e-300), np.inf)
    low, high = np.zeros(shape[0]), np.full(shape[0], np.inf)
    tried = np.vstack([np.outer(SCAN, start), np.outer(BEFORE_WHIRL, whirl)])
    for scanned in np.sort(np.where(tried < whirl, tried, np.inf), axis=0):
        gain = np.where(np.isfinite(scanned) & np.isinf(high), scanned, 0.0)
        worst = loops.worst(np.repeat(gain, width)).reshape(shape).min(axis=1)
        past = (gain > 0) & (worst < -0.5)
        high[past] = gain[past]
        low = np.where(np.isinf(high) & (gain > 0), gain, low)
        if np.isfinite(high).all():
            break
    return low, high


def _halved(
    loops: _Loops, shape: tuple[int, ...], low: Floats, high: Floats, times: int
) -> tuple[Floats, Floats]:
    """Halve the step between a gain that is quiet and one that sings, so many times."""
    for _ in range(times):
        middle = (low + high) / 2
        past = loops.worst(np.repeat(middle, shape[1])).reshape(shape).min(axis=1) < -0.5
        high, low = np.where(past, middle, high), np.where(past, low, middle)
    return low, high


def _fine(
    near: Floats, past: NDArray[np.bool_], speed: Floats
) -> tuple[Floats, NDArray[np.int64], NDArray[np.int64]]:
    """Fine frequencies over every band that may sing: frequency, speed's number, band's number."""
    at, owners, runs = [np.zeros(0)], [np.zeros(0, int)], [np.zeros(0, int)]
    gates = np.pad(past, ((0, 0), (1, 1)))
    rows, edges = np.nonzero(gates[:, 1:] != gates[:, :-1])
    for run, (row, begin, end) in enumerate(zip(rows[::2], edges[::2], edges[1::2], strict=True)):
        low = near[row, max(begin - 1, 0)]
        high = near[row, min(end, near.shape[1] - 1)]
        step = min(speed[row] / POINTS_PER_WAVE, low * FINEST)
        count = max(3, int((high - low) / step) + 2)
        at.append(np.linspace(low, high, count))
        owners.append(np.full(count, row))
        runs.append(np.full(count, run))
    return np.concatenate(at), np.concatenate(owners), np.concatenate(runs)


def _least_crossings(
    cutting: _Cutting,
    f: Floats,
    n: Floats,
    owner: NDArray[np.int64],
    run: NDArray[np.int64],
    n_speed: int,
) -> tuple[Floats, Floats]:
    """Least gain for each speed at which L has a real negative eigenvalue, and where."""
    trace, determinant = cutting.polynomial(f, n)
    at, gain = _crossings(trace, determinant, f, run)
    order = np.lexsort((gain, owner[at]))
    at, gain = at[order], gain[order]
    place = np.arange(at.size) - np.searchsorted(owner[at], owner[at])
    at, gain = at[place < 6], gain[place < 6]
    gain, where = _polished(cutting, gain, f[at], f[at + 1], n[at])
    least, frequency = np.full(n_speed, np.inf), np.full(n_speed, np.nan)
    for k in np.argsort(-gain):
        least[owner[at[k]]], frequency[owner[at[k]]] = gain[k], where[k]
    return least, frequency


def _crossings(
    trace: Complexes, determinant: Complexes, f: Floats, run: NDArray[np.int64]
) -> tuple[NDArray[np.int64], Floats]:
    """Steps of frequency within which an eigenvalue crosses the negative real axis; its gain.

    Eigenvalues come in no order, so over each step they are paired by nearness.
    """
    root = np.sqrt(trace**2 / 4 - determinant)
    pair = np.array([trace / 2 + root, trace / 2 - root])
    before, after = pair[:, :-1], pair[:, 1:]
    kept = np.abs(after - before).sum(axis=0)
    after = np.where(np.abs(after[::-1] - before).sum(axis=0) < kept, after[::-1], after)
    crossed = (before.imag * after.imag < 0) & (run[1:] == run[:-1])
    branch, at = np.nonzero(crossed)
    first, second = before[branch, at], after[branch, at]
    share = first.imag / (first.imag - second.imag)
    real = first.real + share * (second.real - first.real)
    negative = real < 0
    return at[negative], -1.0 / real[negative]


def _polished(
    cutting: _Cutting, gain: Floats, low: Floats, high: Floats, n: Floats
) -> tuple[Floats, Floats]:
    """Newton's steps on ``1 + g tr + g^2 det = 0`` in gain and frequency together.

    One that leaves its step of frequency by more than its width falls back on where it began.
    """
    f = start = (low + high) / 2
    g, begin = gain, gain
    step = 1e-4 * (high - low)
    for _ in range(6):
        trace, determinant = cutting.polynomial(f, n)
        value = 1 + g * trace + g**2 * determinant
        trace_on, determinant_on = cutting.polynomial(f + step, n)
        by_f = (g * (trace_on - trace) + g**2 * (determinant_on - determinant)) / step
        by_g = trace + 2 * g * determinant
        turn = by_g.real * by_f.imag - by_g.imag * by_f.real
        turn = np.where(turn == 0.0, 1e-300, turn)
        g = g - (value.real * by_f.imag - value.imag * by_f.real) / turn
        f = f - (by_g.real * value.imag - by_g.imag * value.real) / turn
    good = (np.abs(f - start) < 1.5 * (high - low)) & (g > 0.5 * begin) & (g < 2.0 * begin)
    return np.where(good, g, begin), np.where(good, f, start)
