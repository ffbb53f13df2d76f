"""The cutting loops of many bars at one cut: gain margins and depth limits, all at once.

What `chatter` and `lobes` find for one loop at a time, for hundreds together: the least gain at
which some phase of the last turn's marks sings, or the bar whirls through the engaged length
alone; and the depth at which it starts. Frequencies are taken at steps of each mode's own width
of resonance, then finely about the one that sings first.

Arrays run over sample first and frequency last, so that one call of the linear algebra serves
all; two-by-two problems (radial and axial motion leave a mark on the chip) are written out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, pi

import numpy as np
from numpy.typing import NDArray

from .compliance import TOP_FREQUENCY, Complexes
from .edge import EdgeForce
from .lobes import BEFORE_WHIRL, LEAST_FREQUENCY, SCAN
from .model import Floats

WIDTHS = (0.3, 0.6, 0.9, 1.15, 1.5, 2.0, 3.0, 6.0, 15.0)
"""Steps away from a mode over its half width, at which the loop is looked at."""
BETWEEN = (-0.8, -0.6, -0.4, -0.2, 0.0, 0.2, 0.4, 0.6, 0.8)
"""Steps between a mode's two pitches as a turning bar has them, over the speed."""
GROUND = 40
"""Frequencies besides, over the whole range."""
KEPT = 16
"""Worst frequencies that are followed as the gain is narrowed."""
FINE = 33
STEPS = 12
"""Depths that are tried between the planned one and the deepest or shallowest."""
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Swings:
    """Modes of one part of many structures, each on its own.

    Attributes
    ----------
    squared : (n_sample, n_mode) 1/s2, of the pitch
    damping : (n_sample, n_mode) damping ratio
    give : (n_sample, n_mode) 1/kg, motion of the edge squared at unit modal mass
    """

    squared: Floats
    damping: Floats
    give: Floats

    @property
    def frequency(self) -> Floats:
        """Pitches, (n_sample, n_mode) Hz."""
        return np.asarray(np.sqrt(self.squared) / (2 * pi))

    def at(self, frequency: Floats) -> Complexes:
        """Receptance, (n_sample, n_frequency) m/N."""
        found = np.zeros(frequency.shape, dtype=complex)
        w = 2 * pi * frequency
        for k in range(self.squared.shape[1]):
            squared, give = self.squared[:, k, None], self.give[:, k, None]
            damped = 2 * self.damping[:, k, None] * np.sqrt(squared)
            found += give / (squared - w**2 + 1j * damped * w)
        return found


def one_swing(give: Floats, mass: Floats, damping: Floats) -> Swings:
    """Spring and mass of each sample, m/N and kg; a rigid one (no give) moves nowhere."""
    softer = np.maximum(give, 1e-30)
    return Swings(
        squared=(1.0 / (softer * mass))[:, None],
        damping=np.broadcast_to(damping, give.shape)[:, None],
        give=np.where(give > 0.0, 1.0 / mass, 0.0)[:, None],
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bending:
    """Coupled modes of many bars over two points, as a sum over complex poles.

    Attributes
    ----------
    pole : (n_sample, n_pole) 1/s
    residue : (n_sample, 3, n_pole) m/(N s), of rr, rx, xx
    rest : (n_sample, 3) m/N, give of the modes left out
    """

    pole: Complexes
    residue: Complexes
    rest: Floats

    def at(self, frequency: Floats) -> Complexes:
        """Receptances rr, rx, xx, (n_sample, 3, n_frequency) m/N."""
        away = (2 * pi * frequency)[:, None, :] - self.pole.imag[:, :, None]
        fall = self.pole.real[:, :, None]
        size = 1.0 / np.maximum(away**2 + fall**2, 1e-12)
        share = np.empty(away.shape, dtype=complex)
        share.real, share.imag = -fall * size, -away * size
        return np.asarray(self.residue @ share + self.rest[:, :, None])


def bending(squared: Floats, damping: Floats, reach: Floats, rest: Floats) -> Bending:
    """Poles of coupled modes.

    Parameters
    ----------
    squared : (n_sample, n) 1/s2
    damping : (n_sample, n, n) 1/s, at unit modal mass
    reach : (n_sample, 2, n) kg^-1/2
    rest : (n_sample, 2, 2) m/N
    """
    count, n = squared.shape
    state = np.zeros((count, 2 * n, 2 * n))
    # Scaled by the pitch, so that both halves of the state are of one size.
    pitch = np.sqrt(squared)
    rows = np.arange(n)
    state[:, rows, n + rows] = pitch
    state[:, n + rows, rows] = -pitch
    state[:, n:, n:] = -damping
    pole, shape = np.linalg.eig(state)
    out = (reach / pitch[:, None, :]) @ shape[:, :n]
    into = np.linalg.inv(shape)[:, :, n:] @ reach.transpose(0, 2, 1)
    pairs = ((0, 0), (0, 1), (1, 1))
    residue = np.stack([out[:, a] * into[:, :, b] for a, b in pairs], axis=1)
    return Bending(
        pole=pole, residue=residue, rest=np.stack([rest[:, a, b] for a, b in pairs], axis=1)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Structures:
    """Everything that the edge meets, in many samples.

    Attributes
    ----------
    bar : across and into the metal, turning with the bar
    endways : the bar's motion along itself
    work_across, work_endways, bit_along, bit_across : the others
    speed : turns per second
    """

    bar: Bending
    endways: Swings
    work_across: Swings
    work_endways: Swings
    bit_along: Swings
    bit_across: Swings
    speed: float

    def part(self, chosen: Mask | NDArray[np.int64]) -> Structures:
        """Some of the samples."""
        names = ("endways", "work_across", "work_endways", "bit_along", "bit_across")
        swings = {
            name: Swings(
                squared=getattr(self, name).squared[chosen],
                damping=getattr(self, name).damping[chosen],
                give=getattr(self, name).give[chosen],
            )
            for name in names
        }
        bar = Bending(
            pole=self.bar.pole[chosen],
            residue=self.bar.residue[chosen],
            rest=self.bar.rest[chosen],
        )
        return Structures(bar=bar, speed=self.speed, **swings)

    def rows(self, frequency: Floats) -> Complexes:
        """Radial and axial motion per force along r, t, x, (n_sample, 2, 3, n_frequency)."""
        n = self.speed
        ahead, behind = self.bar.at(frequency + n), self.bar.at(frequency - n)
        same, cross = (ahead + behind) / 2, 0.5j * (ahead - behind)
        before, after = (self.work_across.at(frequency + way) for way in (n, -n))
        ends = self.endways.at(frequency) + self.work_endways.at(frequency)
        found = np.empty((frequency.shape[0], 2, 3, frequency.shape[1]), dtype=complex)
        found[:, 0, 0] = same[:, 0] + (before + after) / 2 + self.bit_along.at(frequency)
        found[:, 0, 1] = cross[:, 0] + 0.5j * (before - after)
        found[:, 0, 2] = found[:, 1, 0] = same[:, 1]
        found[:, 1, 1] = cross[:, 1]
        found[:, 1, 2] = same[:, 2] + ends + self.bit_across.at(frequency)
        return found

    def frequencies(self) -> Floats:
        """Frequencies that catch every resonance, rising, (n_sample, n_frequency) Hz."""
        own = np.abs(self.bar.pole.imag)
        size = np.abs(self.bar.pole)
        # One of each pair of poles is enough.
        order = np.argsort(self.bar.pole.imag < 0, axis=1, kind="stable")
        half = order[:, : (own.shape[1] + 1) // 2]
        own, size = (np.take_along_axis(one, half, axis=1) for one in (own, size))
        ratio = -np.take_along_axis(self.bar.pole.real, half, axis=1) / size
        turned = [(own / (2 * pi), ratio), (self.work_across.frequency, self.work_across.damping)]
        still = [(s.frequency, s.damping) for s in (self.endways, self.work_endways)]
        ground = np.geomspace(5.0, TOP_FREQUENCY, GROUND)
        every = [np.broadcast_to(ground, (own.shape[0], GROUND))]
        every += [_about(*one, shift) for one in turned for shift in (self.speed, -self.speed)]
        every += [_about(*one, 0.0) for one in still]
        middle = self.speed * np.array(BETWEEN)
        every += [(f[:, :, None] + middle).reshape(own.shape[0], -1) for f, _ in turned]
        return np.sort(np.clip(np.hstack(every), LEAST_FREQUENCY, TOP_FREQUENCY), axis=1)


def _about(frequency: Floats, ratio: Floats, shift: float) -> Floats:
    """Frequencies about each mode by its width, (n_sample, n) Hz."""
    away = np.array(WIDTHS)
    # A mode without damping has no answer at its very frequency.
    steps = np.concatenate([-away[::-1], [1e-6], away])
    width = np.clip(ratio, 1e-4, 0.3)[:, :, None] * frequency[:, :, None]
    found = np.maximum(frequency[:, :, None] + steps * width, 0.0) + shift
    return np.asarray(found.reshape(frequency.shape[0], -1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edges:
    """Gains of the edge in many samples.

    Attributes
    ----------
    gains : (n_sample, 5, 3), over r, t, x: regenerative of motion along r and along x, and
        instant of radial motion, N/m; length of edge that motion along r and along x rubs, m
    damping : (n_sample,) N s/m per metre of edge, process damping
    """

    gains: Floats
    damping: Floats

    def part(self, chosen: Mask | NDArray[np.int64]) -> Edges:
        """Some of the samples."""
        return Edges(gains=self.gains[chosen], damping=self.damping[chosen])


def edges(edge: EdgeForce, factors: Floats, damping: Floats) -> Edges:
    """One edge, its forces times a factor of each direction, (n_sample, 3)."""
    return _edges(_gains(edge)[None], factors, damping)


def _gains(edge: EdgeForce) -> Floats:
    """Gains of one edge, (5, 3), see `Edges`."""
    marked, rubbed = edge.regenerative[:, [0, 2]], edge.damping_shape[:, [0, 2]]
    return np.vstack([marked.T, edge.instant[:, 0], rubbed.T])


def _edges(gains: Floats, factors: Floats, damping: Floats) -> Edges:
    scaled = np.repeat(gains, factors.shape[0] // gains.shape[0], axis=0)
    scaled[:, :3] *= factors[:, None, :]
    return Edges(gains=scaled, damping=damping)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loops:
    """The loops at gain one, over radial and axial motion, see `lobes`.

    Attributes
    ----------
    marked : (n_sample, 2, 2, n_frequency), through the last turn's surface, without its delay
    instant : (n_sample, 2, n_frequency), through the engaged length, per radial motion
    """

    marked: Complexes
    instant: Complexes

    def worst(self, gain: Floats) -> Floats:
        """Most negative real part over any phase, (n_sample, n_frequency)."""
        g = gain[:, None]
        own = g / (1.0 + g * self.instant[:, 0])
        rr, rx = own * self.marked[:, 0, 0], own * self.marked[:, 0, 1]
        back = g * self.instant[:, 1]
        xr = g * self.marked[:, 1, 0] - back * rr
        xx = g * self.marked[:, 1, 1] - back * rx
        apart = (rr - xx) / 2
        square = apart * apart + rx * xr
        # The real part of a root without taking the root.
        root = np.sqrt(np.maximum((np.abs(square) + square.real) / 2, 0.0))
        return np.asarray((rr.real + xx.real) / 2 - root)

    def sings(self, gain: Floats) -> Mask:
        """Whether some frequency sings at a gain, (n_sample,)."""
        return np.asarray(self.worst(gain).min(axis=1) < -0.5)

    def whirls(self) -> Floats:
        """Gain that whirls within each step of frequency, (n_sample, n_step); inf if none."""
        own = self.instant[:, 0]
        before, after = own[:, :-1], own[:, 1:]
        crossed = before.imag * after.imag < 0
        apart = np.where(crossed, before.imag - after.imag, 1.0)
        real = before.real + before.imag / apart * (after.real - before.real)
        whirling = crossed & (real < 0)
        return np.where(whirling, -1.0 / np.where(whirling, real, -1.0), inf)

    def part(self, chosen: Mask | NDArray[np.int64]) -> Loops:
        """Some of the samples."""
        return Loops(marked=self.marked[chosen], instant=self.instant[chosen])


def loops_of(rows: Complexes, frequency: Floats, edge: Edges) -> Loops:
    """Loops from motions per force (n_sample, 2, 3, n_frequency)."""
    found = edge.gains[:, None] @ rows
    if edge.damping.any():
        found = _rubbed(found, frequency, edge.damping)
    return Loops(marked=found[:, :, :2], instant=found[:, :, 2])


def _rubbed(found: Complexes, frequency: Floats, damping: Floats) -> Complexes:
    """``(1 + i w C G)^-1`` of the loop, the flank rubbing on what it moves over."""
    w = 2j * pi * frequency * damping[:, None]
    a, b = 1 + w * found[:, 0, 3], w * found[:, 0, 4]
    c, d = w * found[:, 1, 3], 1 + w * found[:, 1, 4]
    share = 1.0 / (a * d - b * c)
    a, b, c, d = (part[:, None] for part in (a * share, b * share, c * share, d * share))
    solved = np.empty((found.shape[0], 2, 3, found.shape[3]), dtype=complex)
    solved[:, 0] = d * found[:, 0, :3] - b * found[:, 1, :3]
    solved[:, 1] = a * found[:, 1, :3] - c * found[:, 0, :3]
    return solved


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Structures, and how they answer at frequencies about their modes.

    Attributes
    ----------
    frequency : (n_sample, n_frequency) Hz
    rows : (n_sample, 2, 3, n_frequency) m/N, see `Structures.rows`
    """

    structures: Structures
    frequency: Floats
    rows: Complexes

    def part(self, chosen: Mask | NDArray[np.int64]) -> Seen:
        """Some of the samples."""
        return Seen(
            structures=self.structures.part(chosen),
            frequency=self.frequency[chosen],
            rows=self.rows[chosen],
        )


def seen(structures: Structures) -> Seen:
    """Look at structures where they may sing."""
    frequency = structures.frequencies()
    return Seen(structures=structures, frequency=frequency, rows=structures.rows(frequency))


# --- margins ---------------------------------------------------------------------------------


def gain_margins(looked: Seen, edge: Edges) -> Floats:
    """Gain that just sings or whirls over the gain of the cut, (n_sample,); inf if none does."""
    structures, frequency = looked.structures, looked.frequency
    loops = loops_of(looked.rows, frequency, edge)
    whirl = _whirl(structures, edge, frequency, loops)
    high = _first_that_sings(loops, whirl)
    found = np.flatnonzero(np.isfinite(high))
    margin = whirl.copy()
    if found.size:
        part = loops.part(found)
        near = _narrowed(structures, edge, frequency, part, found, high[found])
        margin[found] = np.minimum(near, whirl[found])
    return margin


def _first_that_sings(loops: Loops, whirl: Floats) -> Floats:
    """Lowest of rising gains that sings below the whirling one, (n_sample,); inf if none does."""
    bare = Loops(marked=loops.marked, instant=np.zeros_like(loops.instant))
    deepest = bare.worst(np.ones(1)).min(axis=1)
    start = np.where(deepest < 0, -0.5 / np.minimum(deepest, -1e-300), inf)
    tried = np.vstack([np.outer(SCAN, start), np.outer(BEFORE_WHIRL, whirl)])
    high = np.full(start.size, inf)
    open_ones = np.arange(start.size)
    for gain in np.sort(np.where(tried < whirl, tried, inf), axis=0):
        open_ones = open_ones[np.isfinite(gain[open_ones])]
        if not open_ones.size:
            break
        sung = loops.part(open_ones).sings(gain[open_ones])
        high[open_ones[sung]] = gain[open_ones[sung]]
        open_ones = open_ones[~sung]
    return high


def _narrowed(
    structures: Structures,
    edge: Edges,
    frequency: Floats,
    loops: Loops,
    found: NDArray[np.int64],
    high: Floats,
) -> Floats:
    """Gain that just sings below one that does, first on the grid, then finely about the worst."""
    worst = loops.worst(high)
    kept = np.sort(np.argpartition(worst, KEPT, axis=1)[:, :KEPT], axis=1)
    few = _taken(loops, kept)
    top = _halved(few, high / 6.0, high, 10)
    best = np.take_along_axis(kept, few.worst(top).argmin(axis=1)[:, None], axis=1)[:, 0]
    grid, last = frequency[found], frequency.shape[1] - 1
    row = np.arange(found.size)
    ends = grid[row, np.maximum(best - 1, 0)], grid[row, np.minimum(best + 1, last)]
    fine = np.linspace(*ends, FINE, axis=1)
    close = loops_of(structures.part(found).rows(fine), fine, edge.part(found))
    return _halved(close, 0.85 * top, top, 12)


def _taken(loops: Loops, kept: NDArray[np.int64]) -> Loops:
    """Loops at some of their frequencies, (n_sample, n_kept)."""
    return Loops(
        marked=np.take_along_axis(loops.marked, kept[:, None, None, :], axis=3),
        instant=np.take_along_axis(loops.instant, kept[:, None, :], axis=2),
    )


def _halved(loops: Loops, low: Floats, high: Floats, times: int) -> Floats:
    """Gain that sings, the step down to a quiet one halved so many times."""
    for _ in range(times):
        middle = (low + high) / 2
        past = loops.sings(middle)
        high, low = np.where(past, middle, high), np.where(past, low, middle)
    return high


def _whirl(structures: Structures, edge: Edges, frequency: Floats, loops: Loops) -> Floats:
    """Least gain that whirls with no help from the last turn's marks; inf if none does."""
    steps = loops.whirls()
    at = steps.argmin(axis=1)
    least = np.take_along_axis(steps, at[:, None], axis=1)[:, 0]
    some = np.flatnonzero(np.isfinite(least))
    if some.size:
        fine = np.linspace(frequency[some, at[some]], frequency[some, at[some] + 1], FINE, axis=1)
        near = loops_of(structures.part(some).rows(fine), fine, edge.part(some))
        closer = near.whirls().min(axis=1)
        least[some] = np.where(np.isfinite(closer), closer, least[some])
    return least


# --- depth -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DepthTable:
    """Likely gains of the edge at rising depths.

    Attributes
    ----------
    depth : (n_depth,) m
    gains : (n_depth, 5, 3), see `Edges`
    """

    depth: Floats
    gains: Floats

    def at(self, depth: Floats) -> Floats:
        """Gains at any depths, (n_sample, 5, 3), by straight lines over the logarithm."""
        place = np.interp(np.log(depth), np.log(self.depth), np.arange(self.depth.size))
        low = np.minimum(place.astype(int), self.depth.size - 2)
        share = (place - low)[:, None, None]
        return np.asarray(self.gains[low] + (self.gains[low + 1] - self.gains[low]) * share)


def depth_table(depth: Floats, found: Sequence[EdgeForce]) -> DepthTable:
    """Table of the edges found at rising depths."""
    return DepthTable(depth=depth, gains=np.stack([_gains(edge) for edge in found]))


def depth_limits(
    looked: Seen,
    factors: Floats,
    damping: Floats,
    quiet: Mask,
    planned: float,
    table: DepthTable,
) -> Floats:
    """Depth to which the cut may go, (n_sample,) m: as `chatter.depth_limit` tells it.

    inf where nothing sings up to the deepest of the table; 0 where no depth is quiet.

    Parameters
    ----------
    factors : (n_sample, 3), of the force over the likely one
    quiet : whether the planned depth is quiet
    """
    found = np.where(quiet, inf, 0.0)
    for up, end in ((True, table.depth[-1]), (False, table.depth[0])):
        grid = np.geomspace(planned, end, STEPS + 1)
        open_ones = np.flatnonzero(quiet == up)
        for near, far in pairwise(grid):
            if not open_ones.size:
                break
            part = looked.part(open_ones)
            cut = Deep(table=table, factors=factors[open_ones], damping=damping[open_ones])
            now = cut.quiet(part, np.full(open_ones.size, far))
            turned = now != up
            between = (near, far) if up else (far, near)
            found[open_ones[turned]] = _between(part.part(turned), cut.part(turned), *between)
            open_ones = open_ones[~turned]
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Deep:
    """Cuts that are alike but for their depth; fields as in `depth_limits`."""

    table: DepthTable
    factors: Floats
    damping: Floats

    def part(self, chosen: Mask) -> Deep:
        """Some of the samples."""
        return Deep(table=self.table, factors=self.factors[chosen], damping=self.damping[chosen])

    def loops(self, looked: Seen, depth: Floats) -> Loops:
        """Loops at depths (n_sample,) m."""
        edge = _edges(self.table.at(depth), self.factors, self.damping)
        return loops_of(looked.rows, looked.frequency, edge)

    def quiet(self, looked: Seen, depth: Floats) -> Mask:
        """Whether nothing sings or whirls at depths (n_sample,) m."""
        loops = self.loops(looked, depth)
        return np.asarray(~loops.sings(np.ones(depth.size)) & (loops.whirls().min(axis=1) >= 1.0))


def _between(looked: Seen, cut: Deep, quiet: float, singing: float) -> Floats:
    """Quiet side of where singing starts between two depths, to one part in a thousand.

    First on the grid of frequencies, then finely about the one that sings.
    """
    count = cut.damping.size
    if not count:
        return np.zeros(0)
    low, high = np.full(count, quiet), np.full(count, singing)
    low, high = _narrowed_depth(looked, cut, low, high, 4)
    loops = cut.loops(looked, high)
    whirls = loops.whirls()
    sung = loops.worst(np.ones(count))
    at = np.where(sung.min(axis=1) < -0.5, sung.argmin(axis=1), whirls.argmin(axis=1))
    row, last = np.arange(count), looked.frequency.shape[1] - 1
    grid = looked.frequency
    ends = grid[row, np.maximum(at - 1, 0)], grid[row, np.minimum(at + 1, last)]
    fine = np.linspace(*ends, FINE, axis=1)
    close = Seen(structures=looked.structures, frequency=fine, rows=looked.structures.rows(fine))
    # Between the steps of the grid it sings a little sooner than on them.
    low, _ = _narrowed_depth(close, cut, np.maximum(0.8 * low, quiet), high, 9)
    return low


def _narrowed_depth(
    looked: Seen, cut: Deep, low: Floats, high: Floats, times: int
) -> tuple[Floats, Floats]:
    for _ in range(times):
        middle = np.sqrt(low * high)
        still = cut.quiet(looked, middle)
        low, high = np.where(still, middle, low), np.where(still, high, middle)
    return low, high
