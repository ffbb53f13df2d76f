"""The time-domain witness: a bore cut turn by turn, to see whether the bar really sings.

`chatter` says from frequencies alone when a cut starts to sing. This module owes that criterion
nothing: the bar moves under the force of its edge, step by step, over the surface the edge left
one turn ago. It also tells what the criterion cannot: what happens after the onset, how an
interrupted or eccentric bore is cut, what a second pass leaves, what unlike supports do.

*Motion.* The modes of `compliance.Compliance`: those across the bar and of the work stand still
in the room and meet a force that turns with the bar; twist, stretch and the bit turn with it.
Between steps the modal force runs straight (first-order hold; G. Franklin, J. Powell & M.
Workman, Digital Control of Dynamic Systems, 3rd ed., chapter 4; from memory) and the state is
carried by the exact matrix exponential, the supports' dampers coupling the modes as they do.
A force held constant over the step would lag by half a step and bias the limit by about 8 % at
40 steps per wave. The force at the end of a step is found together with the motion there. The
residual flexibility of the modes left out answers at once, within the same solution. Modes with
fewer than about eight steps per wave answer as springs.

*Cut.* The edge's elements and forces are those of `edge`, each element with its own memory of
the surface along its own normal. An element whose chip comes out negative cuts nothing: the old
surface stays and comes round again deeper by the feed. The engaged length follows the depth at
each instant. Neglected: that tangential motion and twist shift the instant at which the surface
is met (second order), that an element's neighbours share its surface, cutting speed's own effect
on force, and the bar's gyroscopic split. Positive r points into the work; the force on the bar
is minus the force on the work; the bar turns from r towards t.

The bore left is taken at the tip: the scallops of the feed are not in it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil, cos, inf, isfinite, nan, pi, sin
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag, expm
from scipy.optimize import brentq
from scipy.sparse.csgraph import connected_components

from .case import Case
from .chatter import Corner, edge_of
from .compliance import Compliance, ModeSet
from .edge import Edge, Kienzle, edge_force
from .errors import ModelError, SolveError

if TYPE_CHECKING:
    from .cutting_steps import Cutter, Motion, Record

Floats = NDArray[np.float64]

ARC_ELEMENTS = 16
STEPS_PER_WAVE = 40
MAY_SING = 0.1
KNOCK = 1e-4
ROUND_OFF = 1e-17


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Where the bore has no metal: a keyway, or a port over part of the bore.

    Attributes
    ----------
    start, width : rad, from straight up, the way the bar turns
    begin, end : m along the bore
    """

    start: float
    width: float
    begin: float = 0.0
    end: float = inf


@dataclass(frozen=True, slots=True, kw_only=True)
class StartingBore:
    """The bore before the first pass.

    Attributes
    ----------
    eccentricity : m, from its centre to the bar's, straight up
    ovality : m, largest diameter (up) less smallest
    gaps : where there is no metal
    """

    eccentricity: float = 0.0
    ovality: float = 0.0
    gaps: tuple[Gap, ...] = ()

    def radius_error(self, angle: Floats) -> Floats:
        """Radius against the mean, m, at angles (n_angle,) rad."""
        return self.eccentricity * np.cos(angle) + self.ovality / 4 * np.cos(2 * angle)

    def has_metal(self, angle: Floats, position: Floats) -> NDArray[np.bool_]:
        """Whether there is metal, (n_position, n_angle), at positions m along the bore."""
        metal = np.ones((position.size, angle.size), dtype=bool)
        for gap in self.gaps:
            within = np.mod(angle - gap.start, 2 * pi) < gap.width
            along = (position >= gap.begin) & (position < gap.end)
            metal &= ~(along[:, None] & within[None, :])
        return metal


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """One cut as the witness takes it.

    Attributes
    ----------
    edge : geometry at the planned depth and feed
    cutting, normal : the two forces of the edge
    speed : turns per second
    turning : whether the bar turns in its supports; a still bar is for comparing formulas
    gain : what the cutting force is multiplied by
    factors : of the force over r, t, x besides, as in `edge.EdgeForce.scaled`
    damping : N s/m per metre of edge, process damping over cutting speed, C/V
    linear : constant slopes at the planned cut and no loss of contact, as in `chatter`
    bore : what is there before the first pass
    """

    edge: Edge
    cutting: Kienzle
    normal: Kienzle
    speed: float
    turning: bool = True
    gain: float = 1.0
    factors: tuple[float, float, float] = (1.0, 1.0, 1.0)
    damping: float = 0.0
    linear: bool = False
    bore: StartingBore = StartingBore()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pass:
    """What one pass did and left.

    Attributes
    ----------
    advance : m, how far the bit was set out past the pass before it; the first: the depth
    turns : turns done, the last one perhaps already absurd where it ran away
    ran_away : whether it was given up: past 5 mm (a linear cut: 1 m) the bit's body is in the bore
    time : (n_sample,) s; motion : (n_sample, 3) m of edge against work over r, t, x
    force : (n_sample, 3) N on the work
    orbit : (n_sample, 2) m, motion of the bar up and sideways at the edge's station
    position : (n_turn,) m along the bore; angle : (n_angle,) rad
    wall : (n_turn, n_angle) m, radius left against the planned one; nan where there is no metal
    vibration : (n_turn - 1,) m, rms change of the radial motion from one turn to the next
    growth : what the vibration is multiplied by at each turn, over its second half; nan if still
    lost_contact : share of the time that the edge met metal but pushed nothing
    short_of_size : m, planned diameter less the mean one at the last turn
    eccentricity, ovality : m, of the bore left at the last turn
    eccentricity_copied, ovality_copied : the same over those found; nan where none was
    """

    advance: float
    turns: int
    ran_away: bool
    time: Floats
    motion: Floats
    force: Floats
    orbit: Floats
    position: Floats
    angle: Floats
    wall: Floats
    vibration: Floats
    growth: float
    lost_contact: float
    short_of_size: float
    eccentricity: float
    ovality: float
    eccentricity_copied: float
    ovality_copied: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class History:
    """All passes, and how finely they were stepped.

    Attributes
    ----------
    passes : in the order they were cut; none after one that ran away
    speed : turns per second
    steps_per_turn : how many steps
    """

    passes: tuple[Pass, ...]
    speed: float
    steps_per_turn: int


def cutting_of(
    case: Case, corner: Corner, *, linear: bool = False, damped: bool = True
) -> Cutting:
    """The cut of a case at one corner of `chatter.corners`, with the same gains as there.

    A typed force, rake, wear and speed come in as a factor of each direction. The gaps of an
    interrupted cut do not: a case gives their number and not their width.

    Parameters
    ----------
    linear : constant slopes and no loss of contact
    damped : whether the corner's process damping counts
    """
    metal, cut, bit = case.work.material, case.cut, case.bit
    edge = Edge(
        depth=cut.depth, feed=cut.feed, nose_radius=bit.nose_radius, lead_angle=bit.lead_angle
    )
    cutting = Kienzle(k=float(metal.specific_force), m=float(metal.force_exponent))
    normal = Kienzle(k=float(metal.normal_force), m=float(metal.normal_exponent))
    table, wanted = edge_force(edge, cutting, normal), edge_of(case, corner.end)
    gains = [np.hstack([f.regenerative, f.instant]) for f in (table, wanted)]
    # A pointed edge square to the bar has no radial gain whose factor could be told, or matters.
    most = np.abs(gains[0]).argmax(axis=1)
    rows = np.arange(3)
    factor = gains[1][rows, most] / np.where(gains[0][rows, most], gains[0][rows, most], inf)
    return Cutting(
        edge=edge,
        cutting=cutting,
        normal=normal,
        speed=case.spindle_speed,
        factors=(float(factor[0]), float(factor[1]), float(factor[2])),
        damping=corner.process_damping / case.surface_speed if damped else 0.0,
        linear=linear,
    )


# ---------------------------------------------------------------- the bar


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """Modes with the directions of their points in the bar, ``fixed + cosine c + sine s``.

    Attributes
    ----------
    modes : as in `compliance`
    fixed, cosine, sine : (n_point, 3), direction of each point over r, t, x
    orbit : (n_point, 2), motion of the bar up and sideways that each point is
    """

    modes: ModeSet
    fixed: Floats
    cosine: Floats
    sine: Floats
    orbit: Floats


_NOTHING = np.zeros((2, 3))
_UP = np.array([[1.0, 0, 0], [0, 0, 1]]), np.array([[0, -1.0, 0], [0, 0, 0]])
_SIDEWAYS = np.array([[0, 1.0, 0], [0, 0, 0]]), np.array([[1.0, 0, 0], [0, 0, 1]])


def _turning_with_bar(modes: ModeSet, direction: int) -> _Part:
    fixed = np.eye(3)[direction : direction + 1]
    still = np.zeros((1, 3))
    return _Part(modes=modes, fixed=fixed, cosine=still, sine=still, orbit=np.zeros((1, 2)))


def _in_the_room(modes: ModeSet, way: tuple[Floats, Floats], orbit: Floats) -> _Part:
    n = modes.reach.shape[0]
    cosine, sine = way[0][:n], way[1][:n]
    return _Part(modes=modes, fixed=_NOTHING[:n], cosine=cosine, sine=sine, orbit=orbit[:n])


def _parts(compliance: Compliance, sideways: Compliance) -> tuple[_Part, ...]:
    up, side = np.array([[1.0, 0], [0, 0]]), np.array([[0, 1.0], [0, 0]])
    none = np.zeros((2, 2))
    given = (
        _in_the_room(compliance.planar, _UP, up),
        _in_the_room(sideways.planar, _SIDEWAYS, side),
        _in_the_room(compliance.work_across, _UP, none),
        _in_the_room(sideways.work_across, _SIDEWAYS, none),
        _turning_with_bar(compliance.bit_along, 0),
        _turning_with_bar(compliance.twist, 1),
        _turning_with_bar(compliance.bit_across, 1),
        _turning_with_bar(compliance.bit_across, 2),
        _turning_with_bar(compliance.stretch, 2),
        _turning_with_bar(compliance.work_axial, 2),
    )
    return tuple(replace(part, modes=_moving(part.modes)) for part in given)


def _moving(modes: ModeSet) -> ModeSet:
    """Leave out modes that do not move the edge and that no damper ties to one that does."""
    group = _coupled(modes.damping)
    moves = np.zeros(modes.frequency.size, dtype=bool)
    moves[group[np.any(modes.reach, axis=0)]] = True
    kept = moves[group]
    if np.any(modes.frequency[kept] <= 0.0):
        message = "a mode of 0 Hz moves the edge: nothing holds the bar that way"
        raise ModelError(message)
    return ModeSet(
        frequency=modes.frequency[kept],
        damping=modes.damping[np.ix_(kept, kept)],
        reach=modes.reach[:, kept],
        rest=modes.rest,
    )


def _transition(frequency: Floats, damping: Floats, step: float) -> tuple[Floats, Floats, Floats]:
    """State after a step per state, per force at its start and per force at its end.

    Exponential of the system with a force and its slope as further states (C. Van Loan, IEEE
    Trans. Automatic Control 23 (1978) 395; from memory).
    """
    n = frequency.size
    zero, one = np.zeros((n, n)), np.eye(n)
    spring = np.diag((2 * pi * frequency) ** 2)
    big = np.zeros((4 * n, 4 * n))
    big[: 2 * n, : 2 * n] = np.block([[zero, one], [-spring, -damping]])
    big[n : 2 * n, 2 * n : 3 * n] = one
    big *= step
    big[2 * n : 3 * n, 3 * n :] = one
    answer = expm(big)
    ramp = answer[: 2 * n, 3 * n :]
    return answer[: 2 * n, : 2 * n], answer[: 2 * n, 2 * n : 3 * n] - ramp, ramp


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Assembled:
    """All parts side by side, the modes that dampers couple next to each other.

    Attributes
    ----------
    sizes : (n_block,) how many modes are coupled in each block
    frequency : (n_mode,) Hz; damping : (n_mode, n_mode) 1/s
    reach : three (n_mode, 3), the constant part and those times cosine and sine of the angle
    orbit : (n_mode, 2)
    rest : (n_point, n_point) m/N; points : three (n_point, 3), directions as in `reach`
    """

    sizes: NDArray[np.int64]
    frequency: Floats
    damping: Floats
    reach: tuple[Floats, Floats, Floats]
    orbit: Floats
    rest: Floats
    points: tuple[Floats, Floats, Floats]

    def static(self, angle: float) -> Floats:
        """Motion over r, t, x per steady force there, (3, 3) m/N, the bar at an angle."""
        c, s = cos(angle), sin(angle)
        reach = self.reach[0] + c * self.reach[1] + s * self.reach[2]
        point = self.points[0] + c * self.points[1] + s * self.points[2]
        squared = (2 * pi * self.frequency) ** 2
        return np.asarray((reach.T / squared) @ reach + point.T @ self.rest @ point)


def _assembled(parts: tuple[_Part, ...]) -> _Assembled:
    ways = [(part.fixed, part.cosine, part.sine) for part in parts]
    reach = [
        np.vstack([p.modes.reach.T @ way[k] for p, way in zip(parts, ways, strict=True)])
        for k in range(3)
    ]
    points = [np.vstack([way[k] for way in ways]) for k in range(3)]
    frequency = np.concatenate([part.modes.frequency for part in parts])
    damping = np.zeros((frequency.size, frequency.size))
    at = 0
    for part in parts:
        n = part.modes.frequency.size
        damping[at : at + n, at : at + n] = part.modes.damping
        at += n
    group = _coupled(damping)
    order = np.argsort(group, kind="stable")
    orbit = np.vstack([part.modes.reach.T @ part.orbit for part in parts])
    return _Assembled(
        sizes=np.bincount(group).astype(np.int64),
        frequency=frequency[order],
        damping=damping[np.ix_(order, order)],
        reach=(reach[0][order], reach[1][order], reach[2][order]),
        orbit=orbit[order],
        rest=block_diag(*(part.modes.rest for part in parts)),
        points=(points[0], points[1], points[2]),
    )


def _coupled(damping: Floats) -> NDArray[np.int64]:
    """Number of the block that each mode belongs to, (n_mode,)."""
    if not damping.size:
        return np.zeros(0, dtype=np.int64)
    return np.asarray(connected_components(damping != 0.0, directed=False)[1], dtype=np.int64)


def _at_angles(matrix: Floats, ways: tuple[Floats, Floats, Floats]) -> Floats:
    """``B^T M B`` for ``B = fixed + c cosine + s sine``, as factors of 1, c, s, cc, cs, ss."""
    fixed, cosine, sine = ways

    def pair(a: Floats, b: Floats) -> Floats:
        both = a.T @ matrix @ b
        return both if a is b else both + b.T @ matrix @ a

    return np.stack(
        [
            pair(fixed, fixed),
            pair(fixed, cosine),
            pair(fixed, sine),
            pair(cosine, cosine),
            pair(cosine, sine),
            pair(sine, sine),
        ]
    )


def _motion(bar: _Assembled, orbit_rest: Floats, step: float) -> Motion:
    """Matrices that carry the bar over one step of `step` s."""
    from .cutting_steps import Motion

    start = np.concatenate([[0], np.cumsum(bar.sizes)]).astype(np.int64)
    free, early, late = [np.zeros(0)], [np.zeros(0)], [np.zeros(0)]
    quick = np.zeros_like(bar.damping)
    for first, last in pairwise(start):
        block = slice(first, last)
        carried, begun, ended = _transition(bar.frequency[block], bar.damping[block, block], step)
        free.append(carried.ravel())
        early.append(begun.ravel())
        late.append(ended.ravel())
        quick[block, block] = ended[: last - first]
    return Motion(
        start=start,
        place=np.concatenate([[0], np.cumsum(2 * bar.sizes**2)])[:-1].astype(np.int64),
        free=np.concatenate(free),
        early=np.concatenate(early),
        late=np.concatenate(late),
        fixed=bar.reach[0],
        cosine=bar.reach[1],
        sine=bar.reach[2],
        give=_at_angles(quick, bar.reach) + _at_angles(bar.rest, bar.points),
        orbit=bar.orbit,
        orbit_rest=orbit_rest,
    )


def _orbit_rest(compliance: Compliance, sideways: Compliance) -> Floats:
    rows = [np.resize(one.planar.rest[0], 2) for one in (compliance, sideways)]
    if compliance.planar.reach.shape[0] == 1:
        rows = [row * [1.0, 0.0] for row in rows]
    return np.array(rows)


# ---------------------------------------------------------------- the edge


def _bounds(edge: Edge, power: float) -> Floats:
    """Bounds of the arc's elements, rad: crowded to the bottom of the nose, on to the side."""
    side = pi / 2 - edge.lead_angle
    if edge.nose_radius <= 0.0:
        return np.zeros(1)
    planned = edge.arc_end * np.linspace(0.0, 1.0, ARC_ELEMENTS + 1) ** (1.0 / power)
    width = planned[-1] - planned[-2]
    more = ceil((side - edge.arc_end) / width - 1e-9)
    return np.concatenate([planned, np.linspace(edge.arc_end, side, more + 1)[1:]])


def _nodes(bounds: Floats, m: float) -> Floats:
    """Where the slope ``kappa^-m`` has its mean over each element, rad."""
    low, high = bounds[:-1], bounds[1:]
    if m == 0.0:
        return np.asarray((low + high) / 2)
    mean = (high ** (1 - m) - low ** (1 - m)) / ((1 - m) * (high - low))
    return np.asarray(mean ** (-1.0 / m))


def _cutter(cut: Cutting, depth: float) -> Cutter:
    """The edge in elements that suit a depth, m."""
    from .cutting_steps import Cutter

    edge = replace(cut.edge, depth=depth)
    normal = replace(cut.normal, k=cut.normal.k * cut.gain)
    cutting = replace(cut.cutting, k=cut.cutting.k * cut.gain)
    factors = np.array(cut.factors)
    planned = edge_force(cut.edge if cut.linear else edge, cutting, normal).scaled(factors)
    bounds = _bounds(edge, 1.0 - normal.m)
    side = pi / 2 - edge.lead_angle
    kappa = np.append(_nodes(bounds, normal.m), side)
    return Cutter(
        low=bounds[:-1].copy(),
        high=bounds[1:].copy(),
        cosine=np.cos(kappa),
        sine=np.sin(kappa),
        nose_radius=float(edge.nose_radius),
        feed=float(edge.feed),
        side=side,
        side_height=edge.nose_radius * (1.0 - cos(side)),
        normal=normal.k * 1e-3,
        normal_power=1.0 - normal.m,
        cutting=cutting.k * 1e-3,
        cutting_power=1.0 - cutting.m,
        factors=factors,
        damping=float(cut.damping),
        force=planned.resultant.copy(),
        slope=planned.regenerative[:, [0, 2]].copy(),
        instant=planned.instant[:, 0].copy(),
        rub=cut.damping * planned.damping_shape[:, [0, 2]],
        depth=float(cut.edge.depth),
        linear=cut.linear,
    )


def _steady_push(cutter: Cutter, depth: float) -> Floats:
    """Force on the work, (3,) N, of a steady cut that takes a depth, m."""
    from .cutting_steps import push_on_work

    if cutter.linear:
        return np.asarray(cutter.force + cutter.instant * (depth - cutter.depth))
    still = np.zeros(cutter.cosine.size)
    return np.array(push_on_work(cutter, still, depth, (0.0, 0.0), (0.0, 0.0)))


def _equilibrium(cutter: Cutter, give: Floats, depth: float) -> tuple[Floats, Floats]:
    """Motion (m) and force (N) over r, t, x of a steady cut `depth` m deep on a rigid bar."""
    if not isfinite(depth) or (depth <= 0.0 and not cutter.linear):
        return np.zeros(3), np.zeros(3)

    def off(r: float) -> float:
        return r + float(give[0] @ _steady_push(cutter, depth + r))

    reach = 2 * abs(float(give[0] @ _steady_push(cutter, depth))) + 1e-12
    low, high = (-1e3 * reach, 1e3 * reach) if cutter.linear else (-depth, reach)
    if off(low) * off(high) > 0.0:
        message = "the cut pulls the bar in faster than the bar resists: no steady depth"
        raise ModelError(message)
    r = float(brentq(off, low, high, xtol=1e-15))
    push = _steady_push(cutter, depth + r)
    return -give @ push, push


# ---------------------------------------------------------------- the passes


def steps_for(compliance: Compliance, speed: float, per_wave: int = STEPS_PER_WAVE) -> int:
    """Steps per turn, so many per wave of the softest mode, two thirds of any that may sing.

    May sing: gives at least `MAY_SING` as much along r or x as the softest. With the force
    running straight between steps, a mode at m steps per wave feels ``(2 pi/m)^2/12`` less of it.
    """
    c = compliance
    radial = (c.planar, c.work_across, c.bit_along)
    axial = (c.stretch, c.bit_across, c.work_axial)
    felt = [(modes.frequency, modes.reach[0]) for modes in radial + axial]
    felt += [(c.planar.frequency, row) for row in c.planar.reach[1:]]
    frequency = np.concatenate([pitch for pitch, _ in felt])
    give = np.concatenate([(reach / pitch) ** 2 for pitch, reach in felt])
    softest = float(frequency[np.argmax(give)])
    fastest = float(frequency[give >= MAY_SING * give.max()].max())
    return max(per_wave, ceil(per_wave * max(softest, fastest / 1.5) / speed))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Job:
    """What stays the same from pass to pass."""

    cut: Cutting
    bar: _Assembled
    motion: Motion
    turned: Floats
    angle: Floats
    every: int
    knock: float
    at_rest: bool

    @property
    def time_step(self) -> float:
        return 1.0 / (self.cut.speed * self.angle.size)


def cutting_history(
    compliance: Compliance,
    cut: Cutting,
    *,
    turns: int = 100,
    steps_per_turn: int | None = None,
    advances: tuple[float, ...] = (),
    knock: float = KNOCK,
    start: Literal["cutting", "at rest"] = "cutting",
    samples_per_turn: int | None = None,
    sideways: Compliance | None = None,
) -> History:
    """Cut a bore turn by turn, in one pass or several.

    Parameters
    ----------
    compliance : what the edge meets
    cut : the cut
    turns : of each pass
    steps_per_turn : left out: as `steps_for` has it. Rounded up to a multiple of the samples.
    advances : m, how far the bit is set out before each further pass; 0 is a spring pass
    knock : N s, along r at the start of each pass
    start : from the steady spring of the cut, or with the bar straight
    samples_per_turn : of what is kept; left out: every fourth step
    sideways : what the edge meets sideways in the room, where supports or the work side are
        unlike; bar and work side of `compliance` are then those up and down

    Raises
    ------
    ModelError
        A mode of 0 Hz moves the edge, or the cut draws the bar in without bound.
    SolveError
        A step did not come out.
    """
    level = compliance if sideways is None else sideways
    bar = _assembled(_parts(compliance, level))
    wanted = steps_for(compliance, cut.speed) if steps_per_turn is None else steps_per_turn
    samples = ceil(wanted / 4) if samples_per_turn is None else samples_per_turn
    every = max(1, ceil(wanted / samples))
    n_step = samples * every
    angle = 2 * pi * np.arange(1, n_step + 1) / n_step
    turned = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    if not cut.turning:
        turned[:] = [1.0, 0.0]
    step = 1.0 / (cut.speed * n_step)
    job = _Job(
        cut=cut,
        bar=bar,
        motion=_motion(bar, _orbit_rest(compliance, level), step),
        turned=turned,
        angle=angle,
        every=every,
        knock=knock,
        at_rest=start == "at rest",
    )
    found = np.tile(cut.bore.radius_error(angle) - cut.edge.depth, (turns, 1))
    position = _positions(cut, turns)
    found[~cut.bore.has_metal(angle, position)] = nan
    passes: list[Pass] = []
    set_out = 0.0
    for advance in (0.0, *advances):
        set_out += advance
        done, wall = _pass(job, found - set_out, advance if passes else cut.edge.depth)
        passes.append(done)
        if done.ran_away:
            break
        found = wall + set_out
    return History(passes=tuple(passes), speed=cut.speed, steps_per_turn=n_step)


def _positions(cut: Cutting, turns: int) -> Floats:
    """Where along the bore each turn is cut, (n_turn,) m."""
    return np.asarray(np.arange(turns) * cut.edge.feed, dtype=np.float64)


def _pass(job: _Job, found: Floats, advance: float) -> tuple[Pass, Floats]:
    """Cut one pass; `found` (n_turn, n_step) m is the bore before it against the planned one."""
    from .cutting_steps import Record
    from .cutting_steps import advance as advance_steps

    n_turn, n_step = found.shape
    depth = np.where(np.isnan(found), -inf, -found)
    cutter = _cutter(job.cut, _typical_depth(depth))
    moved, push = np.zeros(3), np.zeros(3)
    if not job.at_rest:
        moved, push = _equilibrium(cutter, job.bar.static(0.0), float(depth[0, 0]))
    n_sample = n_turn * n_step // job.every
    record = Record(
        motion=np.full((n_sample, 3), nan),
        force=np.full((n_sample, 3), nan),
        orbit=np.full((n_sample, 2), nan),
        wall=np.full((n_turn, n_step), nan),
    )
    done, change, ran_away = advance_steps(
        job.motion,
        cutter,
        job.turned,
        depth,
        _first_state(job, push),
        _first_surface(cutter, moved, n_step),
        moved.copy(),
        push.copy(),
        job.time_step,
        job.every,
        record,
    )
    # Past 5 mm there is no cut left to settle: such a pass is given up, not solved.
    if change > 1e-3 * job.cut.edge.feed and not ran_away:
        message = (
            f"the force and the motion of a step did not settle (left: {change:.1e} m); "
            "take more steps per turn"
        )
        raise SolveError(message)
    return _passed(job, record, depth, done, advance, ran_away=ran_away), record.wall


def _typical_depth(depth: Floats) -> float:
    """Depth that the elements are laid out for, m; where next to nothing is cut, a micron."""
    metal = depth[0][np.isfinite(depth[0])]
    return max(float(metal.mean()) if metal.size else 0.0, 1e-6)


def _first_state(job: _Job, push: Floats) -> Floats:
    """Modal motion and speed, (2, n_mode), of the steady spring carried round, and the knock."""
    fixed, cosine, sine = job.bar.reach
    squared = (2 * pi * job.bar.frequency) ** 2
    reach = fixed + cosine
    turning = 2 * pi * job.cut.speed if job.cut.turning else 0.0
    carried = turning * (sine @ -push) / squared
    return np.stack([reach @ -push / squared, carried + reach[:, 0] * job.knock])


def _first_surface(cutter: Cutter, moved: Floats, n_step: int) -> Floats:
    if cutter.linear:
        return np.tile(moved[[0, 2]], (n_step, 1))
    return np.tile(cutter.cosine * moved[0] + cutter.sine * moved[2], (n_step, 1))


def _passed(
    job: _Job, record: Record, depth: Floats, done: int, advance: float, *, ran_away: bool
) -> Pass:
    per_turn = job.angle.size // job.every
    n = done * per_turn
    radial = record.motion[:n, 0].reshape(done, per_turn)
    vibration = np.sqrt(np.mean(np.diff(radial, axis=0) ** 2, axis=1))
    metal = np.isfinite(depth[:done, job.every - 1 :: job.every])
    pushed = record.force[:n].reshape(done, per_turn, 3).any(axis=2)
    found, left = _shape(-depth[done - 1], job.angle), _shape(record.wall[done - 1], job.angle)
    return Pass(
        advance=advance,
        turns=done,
        ran_away=ran_away,
        time=np.asarray(job.time_step * job.every * np.arange(1, n + 1), dtype=np.float64),
        motion=record.motion[:n],
        force=record.force[:n],
        orbit=record.orbit[:n],
        position=_positions(job.cut, done),
        angle=job.angle[job.every - 1 :: job.every],
        wall=record.wall[:done, job.every - 1 :: job.every],
        vibration=vibration,
        growth=_growth(vibration),
        lost_contact=float((metal & ~pushed).sum() / max(1, metal.sum())),
        short_of_size=-2 * left[0],
        eccentricity=left[1],
        ovality=4 * left[2],
        eccentricity_copied=_ratio(left[1], found[1]),
        ovality_copied=_ratio(left[2], found[2]),
    )


def _shape(error: Floats, angle: Floats) -> tuple[float, float, float]:
    """Mean of a radius error, m, and its swing once and twice a turn, fitted where there is metal.

    A keyway's gap leaves the three no longer orthogonal, hence a fit and not a Fourier sum.
    """
    there = np.isfinite(error)
    if there.sum() < 5:
        return nan, nan, nan
    a = angle[there]
    basis = np.stack([np.ones_like(a), np.cos(a), np.sin(a), np.cos(2 * a), np.sin(2 * a)], axis=1)
    fitted, *_ = np.linalg.lstsq(basis, error[there])
    return (
        float(fitted[0]),
        float(np.hypot(fitted[1], fitted[2])),
        float(np.hypot(fitted[3], fitted[4])),
    )


def _ratio(left: float, found: float) -> float:
    return left / found if found > 1e-12 else nan


def _growth(vibration: Floats) -> float:
    """Growth per turn by a straight line through the logarithm, over the second half."""
    heard = vibration[np.isfinite(vibration) & (vibration > ROUND_OFF)]
    late = heard[heard.size // 2 :]
    if late.size < 2:
        return nan
    return float(np.exp(np.polyfit(np.arange(late.size), np.log(late), 1)[0]))
