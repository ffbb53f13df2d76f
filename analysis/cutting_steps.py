"""The inner loop of `cutting_history`: the edge advanced step by step, compiled.

Each step needs the force of the step before and the surface of the turn before, so nothing can be
taken in bulk: numpy alone takes about 20 us a step, numba under 1 us. The compiled code is kept
on disk, so only the first run after an installation waits for the compiler. Import this module
only where it is needed: numba takes about half a second to load.

Named tuples carry the numbers because numba takes them as they are.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]
Push = tuple[float, float, float]
Function = TypeVar("Function", bound=Callable[..., object])

MILLIMETRE = 1e-3
MOST_ITERATIONS = 60
REMEMBERED_TURNS = 10
"""Metal left uncut for longer is taken as left for this long; see `_leave_surface`."""
TOO_FAR = 5e-3
"""Metres at which a cut is given up: the body of the bit would meet the bore long before. Loss of
contact holds chatter far below it, but not a whirl at more than about twice its limit."""
LINEAR_TOO_FAR = 1.0
"""The same for constant slopes, which know no size: only so that the numbers do not overflow."""


def _compiled(function: Function) -> Function:
    try:
        return cast("Function", numba.njit(cache=True)(function))
    except RuntimeError:  # neither the installation nor the home folder can be written to
        return cast("Function", numba.njit(function))


class Motion(NamedTuple):
    """How the edge answers a force over one step, the bar at any angle.

    A mode's reach over r, t, x is ``fixed + cosine cos(angle) + sine sin(angle)``. Modes that
    dampers couple lie side by side in one block; the blocks' matrices follow one another.

    Attributes
    ----------
    start : (n_block + 1,) first mode of each block
    place : (n_block,) where each block's matrices begin in `early` and `late`; twice that in
        `free`
    free : state after a step per state before, (2 s, 2 s) a block
    early, late : state after a step per modal force at its start and at its end, (2 s, s) a block
    fixed, cosine, sine : (n_mode, 3) kg^-1/2
    give : (6, 3, 3) m/N, motion at the end of a step per force there, times
        1, cos, sin, cos cos, cos sin, sin sin of the angle
    orbit : (n_mode, 2) kg^-1/2, motion of the bar up and sideways in the room
    orbit_rest : (2, 2) m/N, the same for the modes left out, per force and per force along
    """

    start: Integers
    place: Integers
    free: Floats
    early: Floats
    late: Floats
    fixed: Floats
    cosine: Floats
    sine: Floats
    give: Floats
    orbit: Floats
    orbit_rest: Floats


class Cutter(NamedTuple):
    """The edge and the law of its force.

    Attributes
    ----------
    low, high : (n_arc,) rad, elements of the nose arc by approach angle
    cosine, sine : (n_arc + 1,) of the approach angle of each element, the straight side last
    nose_radius, feed : m
    side : rad, approach angle of the straight side
    side_height : m, how far the side begins inside the tip
    normal, normal_power, cutting, cutting_power : force per length ``k h^power``, N/m, h in mm
    factors : (3,) that the force in each direction is multiplied by
    damping : N s/m per metre of edge
    force : (3,) N, slope : (3, 2) N/m against last turn's surface, over r and x, instant : (3,)
        N/m per radial motion, rub : (3, 2) N s/m, all at the planned cut of depth `depth`, m
    linear : keep to these slopes and never lose contact
    """

    low: Floats
    high: Floats
    cosine: Floats
    sine: Floats
    nose_radius: float
    feed: float
    side: float
    side_height: float
    normal: float
    normal_power: float
    cutting: float
    cutting_power: float
    factors: Floats
    damping: float
    force: Floats
    slope: Floats
    instant: Floats
    rub: Floats
    depth: float
    linear: bool


class Record(NamedTuple):
    """What a pass leaves, a sample every so many steps.

    Attributes
    ----------
    motion, force : (n_sample, 3) m and N; orbit : (n_sample, 2) m
    wall : (n_turn, n_step) m, radius left against the planned one
    """

    motion: Floats
    force: Floats
    orbit: Floats
    wall: Floats


@_compiled
def _element(
    cutter: Cutter, thickness: float, closing: float, c: float, s: float, length: float
) -> Push:
    """Force of one element on the work over r, t, x, N; c and s of its approach angle."""
    if thickness <= 0.0:
        return 0.0, 0.0, 0.0
    h = math.log(thickness / MILLIMETRE)
    push = cutter.normal * math.exp(cutter.normal_power * h)
    drag = cutter.cutting * math.exp(cutter.cutting_power * h)
    rub = cutter.damping * closing
    factors = cutter.factors
    return (
        (factors[0] * push + rub) * c * length,
        factors[1] * drag * length,
        (factors[2] * push + rub) * s * length,
    )


@_compiled
def push_on_work(
    cutter: Cutter,
    surface: Floats,
    depth: float,
    along: tuple[float, float],
    speed: tuple[float, float],
) -> Push:
    """Force on the work over r, t, x, N, at a depth of metal above the tip.

    Parameters
    ----------
    surface : (n_arc + 1,) m, what the last turn left before each element, the side last
    along, speed : m and m/s, motion of the edge along r and x
    """
    radial, tangential, axial = 0.0, 0.0, 0.0
    if depth <= 0.0:
        return radial, tangential, axial
    n_arc, r = cutter.low.size, cutter.nose_radius
    reach = cutter.side
    if depth < cutter.side_height:
        reach = 2.0 * math.asin(math.sqrt(depth / (2.0 * r)))
    for j in range(n_arc):
        low, high = cutter.low[j], cutter.high[j]
        if low >= reach:
            break
        c, s = cutter.cosine[j], cutter.sine[j]
        h = c * along[0] + s * along[1] - surface[j]
        closing = c * speed[0] + s * speed[1]
        if high > reach:
            high = reach
            c, s = math.cos(0.5 * (low + high)), math.sin(0.5 * (low + high))
        p = _element(cutter, cutter.feed * s + h, closing, c, s, r * (high - low))
        radial, tangential, axial = radial + p[0], tangential + p[1], axial + p[2]
    if depth > cutter.side_height:
        c, s = cutter.cosine[n_arc], cutter.sine[n_arc]
        h = cutter.feed * s + c * along[0] + s * along[1] - surface[n_arc]
        closing = c * speed[0] + s * speed[1]
        p = _element(cutter, h, closing, c, s, (depth - cutter.side_height) / s)
        radial, tangential, axial = radial + p[0], tangential + p[1], axial + p[2]
    return radial, tangential, axial


@_compiled
def _linear_push(
    cutter: Cutter,
    left: Floats,
    depth: float,
    along: tuple[float, float],
    speed: tuple[float, float],
) -> Push:
    """Force on the work by constant slopes; `left` (2,) is the motion a turn ago."""
    r, x = along[0] - left[0], along[1] - left[1]
    deeper = depth - cutter.depth
    p = (
        cutter.force
        + cutter.slope[:, 0] * r
        + cutter.slope[:, 1] * x
        + cutter.instant * deeper
        + cutter.rub[:, 0] * speed[0]
        + cutter.rub[:, 1] * speed[1]
    )
    return p[0], p[1], p[2]


@_compiled
def _push(
    cutter: Cutter,
    surface: Floats,
    depth: float,
    along: tuple[float, float],
    speed: tuple[float, float],
) -> Push:
    if cutter.linear:
        return _linear_push(cutter, surface, depth, along, speed)
    return push_on_work(cutter, surface, depth, along, speed)


@_compiled
def _leave_surface(
    cutter: Cutter, surface: Floats, cuts: bool, along: tuple[float, float]
) -> None:
    """Take the metal away that the edge has passed; what it missed comes round again deeper.

    An element that cuts leaves its own path. One that has no metal before it leaves the old
    surface, ``f sin(kappa)`` farther ahead at the next turn. Elements above the old bore follow
    the same rule: they only matter once the tip has moved outwards, and the metal then before
    them was passed by their neighbours. With the whole edge clear of the metal all of it stays.
    """
    for j in range(surface.size):
        c, s = cutter.cosine[j], cutter.sine[j]
        path = c * along[0] + s * along[1]
        old = surface[j] - cutter.feed * s
        if cuts:
            surface[j] = max(path, old)
        else:
            surface[j] = max(old, path - REMEMBERED_TURNS * cutter.feed * s)


@_compiled
def _fly(motion: Motion, state: Floats, force: Floats, after: Floats) -> None:
    """State (2, n_mode) after a step in which the modal force fades to nothing."""
    for b in range(motion.place.size):
        first, size = motion.start[b], motion.start[b + 1] - motion.start[b]
        place = motion.place[b]
        for i in range(2 * size):
            total = 0.0
            row, driven = 2 * place + 2 * size * i, place + size * i
            for j in range(size):
                total += motion.free[row + j] * state[0, first + j]
                total += motion.free[row + size + j] * state[1, first + j]
                total += motion.early[driven + j] * force[first + j]
            after[i // size, first + i % size] = total


@_compiled
def _drive(motion: Motion, state: Floats, force: Floats) -> None:
    """Add what the modal force at the end of the step does within it."""
    for b in range(motion.place.size):
        first, size = motion.start[b], motion.start[b + 1] - motion.start[b]
        for i in range(2 * size):
            driven = motion.place[b] + size * i
            for j in range(size):
                state[i // size, first + i % size] += motion.late[driven + j] * force[first + j]


@_compiled
def _give(motion: Motion, c: float, s: float, give: Floats) -> None:
    """Motion over r, t, x at the end of a step per force there, at one angle of the bar."""
    m = motion.give
    for i in range(3):
        for j in range(3):
            give[i, j] = m[0, i, j] + c * m[1, i, j] + s * m[2, i, j]
            give[i, j] += c * c * m[3, i, j] + c * s * m[4, i, j] + s * s * m[5, i, j]


@_compiled
def _meet(
    cutter: Cutter,
    surface: Floats,
    depth: float,
    free: Floats,
    give: Floats,
    rate: Floats,
    push: Floats,
    moved: Floats,
) -> float:
    """Find the motion and the force at the end of a step that agree; the last change, m.

    Newton's method with the slopes of the planned cut: over one step the bar gives so little
    that two rounds do. Speeds are taken backwards over two steps, ``rate[0] u + rate[1:3]``.

    Parameters
    ----------
    depth : m, with the edge where it was planned; -inf where there is no metal
    free : (3,) m, motion without the force at the end of the step
    push, moved : (3,), guess on entry, answer on return
    """
    k = np.empty((3, 2))
    for i in range(3):
        k[i, 0] = cutter.slope[i, 0] + cutter.instant[i] + cutter.rub[i, 0] * rate[0]
        k[i, 1] = cutter.slope[i, 1] + cutter.rub[i, 1] * rate[0]
    if depth == -np.inf:
        k[:] = 0.0
    j00, j01, j10, j11 = 1.0, 0.0, 0.0, 1.0
    for i in range(3):
        j00 += give[0, i] * k[i, 0]
        j01 += give[0, i] * k[i, 1]
        j10 += give[2, i] * k[i, 0]
        j11 += give[2, i] * k[i, 1]
    det = j00 * j11 - j01 * j10
    r = free[0] - give[0, 0] * push[0] - give[0, 1] * push[1] - give[0, 2] * push[2]
    x = free[2] - give[2, 0] * push[0] - give[2, 1] * push[1] - give[2, 2] * push[2]
    change = 0.0
    for _ in range(MOST_ITERATIONS):
        speed = (rate[0] * r + rate[1], rate[0] * x + rate[2])
        p = (0.0, 0.0, 0.0)
        if depth != -np.inf:
            p = _push(cutter, surface, depth + r, (r, x), speed)
        off_r = r - free[0] + give[0, 0] * p[0] + give[0, 1] * p[1] + give[0, 2] * p[2]
        off_x = x - free[2] + give[2, 0] * p[0] + give[2, 1] * p[1] + give[2, 2] * p[2]
        step_r = (j11 * off_r - j01 * off_x) / det
        step_x = (j00 * off_x - j10 * off_r) / det
        r -= step_r
        x -= step_x
        push[0], push[1], push[2] = p
        change = abs(step_r) + abs(step_x)
        if change <= 1e-9 * cutter.feed + 1e-13 * (abs(r) + abs(x)):
            break
    moved[0], moved[2] = r, x
    moved[1] = free[1] - give[1, 0] * push[0] - give[1, 1] * push[1] - give[1, 2] * push[2]
    return change


@_compiled
def _left_wall(depth: float, radial: float) -> float:
    """Radius left against the planned one, m: the tip's, or the old bore where it was clear."""
    if depth == -np.inf:
        return math.nan
    return max(radial, -depth)


@_compiled
def _record(
    motion: Motion,
    record: Record,
    at: int,
    turned: tuple[float, float],
    moved: Floats,
    push: Floats,
    state: Floats,
) -> None:
    c, s = turned
    record.motion[at] = moved
    record.force[at] = push
    up, side = 0.0, 0.0
    for j in range(motion.orbit.shape[0]):
        up += motion.orbit[j, 0] * state[0, j]
        side += motion.orbit[j, 1] * state[0, j]
    across = (-(c * push[0] - s * push[1]), -(s * push[0] + c * push[1]))
    rest = motion.orbit_rest
    record.orbit[at, 0] = up + rest[0, 0] * across[0] - rest[0, 1] * c * push[2]
    record.orbit[at, 1] = side + rest[1, 0] * across[1] - rest[1, 1] * s * push[2]


@_compiled
def advance(
    motion: Motion,
    cutter: Cutter,
    turned: Floats,
    depth: Floats,
    state: Floats,
    surface: Floats,
    moved: Floats,
    push: Floats,
    time_step: float,
    every: int,
    record: Record,
) -> tuple[int, float, bool]:
    """Cut turn after turn: turns done, worst change left in a step (m), and whether it ran away.

    Parameters
    ----------
    turned : (n_step, 2) cosine and sine of the bar's angle at the end of each step of a turn
    depth : (n_turn, n_step) m of metal above the tip where it was planned; -inf for none
    state : (2, n_mode) modal motion and speed; changed
    surface : (n_step, n_arc + 1) m left before each element, or (n_step, 2) m of motion a turn
        ago where the cutter is linear; changed
    moved, push : (3,) m and N at the start; changed
    time_step : s
    every : steps per sample
    """
    n_turn, n_step = depth.shape
    n_mode = state.shape[1]
    after, force, give = np.empty_like(state), np.zeros(n_mode), np.empty((3, 3))
    free, rate = np.empty(3), np.empty(3)
    before, last = moved.copy(), moved.copy()
    reach = motion.fixed + motion.cosine  # the bar starts at angle 0
    for j in range(n_mode):
        force[j] = -(reach[j, 0] * push[0] + reach[j, 1] * push[1] + reach[j, 2] * push[2])
    worst, ran_away = 0.0, False
    too_far = LINEAR_TOO_FAR if cutter.linear else TOO_FAR
    for turn in range(n_turn):
        for step in range(n_step):
            c, s = turned[step, 0], turned[step, 1]
            _fly(motion, state, force, after)
            free[:] = 0.0
            for j in range(n_mode):
                for i in range(3):
                    reach[j, i] = (
                        motion.fixed[j, i] + c * motion.cosine[j, i] + s * motion.sine[j, i]
                    )
                    free[i] += reach[j, i] * after[0, j]
            _give(motion, c, s, give)
            rate[0] = 1.5 / time_step
            rate[1] = (-2.0 * last[0] + 0.5 * before[0]) / time_step
            rate[2] = (-2.0 * last[2] + 0.5 * before[2]) / time_step
            metal = depth[turn, step]
            left = surface[step]
            change = _meet(cutter, left, metal, free, give, rate, push, moved)
            worst = max(worst, change / (1.0 + abs(moved[0]) / cutter.feed))
            for j in range(n_mode):
                force[j] = -(reach[j, 0] * push[0] + reach[j, 1] * push[1] + reach[j, 2] * push[2])
                state[0, j], state[1, j] = after[0, j], after[1, j]
            _drive(motion, state, force)
            ran_away |= not abs(moved[0]) < too_far
            before[:] = last
            last[:] = moved
            if cutter.linear:
                left[0], left[1] = moved[0], moved[2]
            else:
                cuts = metal == -np.inf or metal + moved[0] > 0.0
                _leave_surface(cutter, left, cuts, (moved[0], moved[2]))
            record.wall[turn, step] = _left_wall(metal, moved[0])
            if (step + 1) % every == 0:
                at = (turn * n_step + step + 1) // every - 1
                _record(motion, record, at, (c, s), moved, push, state)
        if ran_away:
            return turn + 1, worst, ran_away
    return n_turn, worst, ran_away
