"""Receptance at the edge: how far it moves per force at each frequency, the bar still or turning.

In axes fixed in space a bar alike all round answers both ways across it with one planar
receptance H(f), taken here between deflection and slope so that the edge's motion along the bar,
``u_x = u - R w'``, is in it. Seen from the bar, which turns at n, a force that swings at f is in
the room two forces circling at f + n and f - n, so that

    G_rr = (H(f+n) + H(f-n))/2,    G_rt = i (H(f+n) - H(f-n))/2 = -G_tr.

Torsion and stretch do not care which way the bar faces. The work side is fixed in the room and
turns against the bit as the bar does; the bit turns with the bar.

Built from the modes of the held bar with a modal damping of their own, the supports' dampers
coupling them, and the static rest of the modes left out (D. J. Ewins, Modal Testing, 2nd ed.,
chapter 2; from memory). Bit and work side are modes of their own, with mass and damping: a bare
spring in series would raise the chatter limit. The bar is taken as alike in its two planes (their
mean) and its supports as alike up and sideways (their mean).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf, pi

import numpy as np

from .beam import HSS_DENSITY
from .case import Case
from .model import Factored, Floats, Held
from .modes import Modes, Plane
from .statics import bit_compliance

TOP_FREQUENCY = 4000.0
"""Above this nothing of a line-boring bar sings, Hz."""
Complexes = np.ndarray[tuple[int, ...], np.dtype[np.complex128]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ModeSet:
    """Modes that move the same points, and what the modes left out add.

    Attributes
    ----------
    frequency : (n_mode,) Hz
    damping : (n_mode, n_mode) 1/s, damping matrix at unit modal mass
    reach : (n_point, n_mode) kg^-1/2, motion of each point per mode
    rest : (n_point, n_point) m/N, residual flexibility
    """

    frequency: Floats
    damping: Floats
    reach: Floats
    rest: Floats

    def receptance(self, frequency: Floats) -> Complexes:
        """Motion of the points per force on them, (n_frequency, n_point, n_point), m/N."""
        w = 2 * pi * np.asarray(frequency, dtype=float)[:, None, None]
        n_mode = self.frequency.size
        dynamic = np.diag((2 * pi * self.frequency) ** 2) - w**2 * np.eye(n_mode)
        dynamic = dynamic + 1j * w * self.damping
        force = np.broadcast_to(self.reach.T, (w.shape[0], n_mode, self.reach.shape[0]))
        return np.asarray(self.reach @ np.linalg.solve(dynamic, force) + self.rest)


def one_mode(stiffness: float, mass: float, damping: float) -> ModeSet:
    """A single spring and mass, N/m and kg, with its damping ratio; rigid moves nowhere."""
    if np.isinf(stiffness):
        return ModeSet(
            frequency=np.zeros(0),
            damping=np.zeros((0, 0)),
            reach=np.zeros((1, 0)),
            rest=np.zeros((1, 1)),
        )
    w = np.sqrt(stiffness / mass)
    return ModeSet(
        frequency=np.array([w / (2 * pi)]),
        damping=np.array([[2 * damping * w]]),
        reach=np.array([[1 / np.sqrt(mass)]]),
        rest=np.zeros((1, 1)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compliance:
    """Everything the edge meets, part by part.

    Attributes
    ----------
    planar : bar across itself, over deflection and the edge's motion into the uncut metal by the
        bar's slope (minus R times it where the work is fed towards the headstock), fixed in space
    twist, stretch : bar, tangential motion from torsion, and motion along
    bit_along, bit_across : bit, along and across itself
    work_across, work_axial : work side, across the bar (both ways alike) and along it
    """

    planar: ModeSet
    twist: ModeSet
    stretch: ModeSet
    bit_along: ModeSet
    bit_across: ModeSet
    work_across: ModeSet
    work_axial: ModeSet

    def at(self, frequency: Floats, spin: float = 0.0) -> Complexes:
        """Receptance of edge against work over r, t, x, (n_frequency, 3, 3), m/N.

        Parameters
        ----------
        frequency : (n_frequency,) Hz, seen from the bar
        spin : turns of the bar per second; 0 for a still bar
        """
        f = np.asarray(frequency, dtype=float)
        same, cross = _turned(self.planar, f, spin)
        work_same, work_cross = _turned(self.work_across, f, spin)
        given = np.zeros((f.size, 3, 3), dtype=complex)
        given[:, 0, 0] = same[:, 0, 0] + work_same[:, 0, 0]
        given[:, 0, 1] = cross[:, 0, 0] + work_cross[:, 0, 0]
        given[:, 1, 0] = -given[:, 0, 1]
        given[:, 1, 1] = given[:, 0, 0]
        given[:, 0, 2], given[:, 2, 0] = same[:, 0, 1], same[:, 1, 0]
        given[:, 1, 2], given[:, 2, 1] = -cross[:, 0, 1], cross[:, 1, 0]
        given[:, 2, 2] = same[:, 1, 1]
        given[:, 0, 0] += self.bit_along.receptance(f)[:, 0, 0]
        # The bit bends under the feed as it does under the drag.
        bent = self.bit_across.receptance(f)[:, 0, 0]
        given[:, 1, 1] += self.twist.receptance(f)[:, 0, 0] + bent
        given[:, 2, 2] += (self.stretch.receptance(f) + self.work_axial.receptance(f))[:, 0, 0]
        given[:, 2, 2] += bent
        return given


def _turned(modes: ModeSet, frequency: Floats, spin: float) -> tuple[Complexes, Complexes]:
    """Same-way and crosswise receptance seen from a bar that turns at `spin`."""
    ahead = modes.receptance(frequency + spin)
    if spin == 0.0:
        return ahead, np.zeros_like(ahead)
    behind = modes.receptance(frequency - spin)
    return (ahead + behind) / 2, 1j * (ahead - behind) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class DampingRatios:
    """Damping that no part of the model brings by itself."""

    bar: float
    bit: float
    work: float


def _modes_of(
    factored: Factored, modes: Modes, plane: Plane, rows: tuple[int, ...], ratio: float
) -> ModeSet:
    """Modes of one plane as the edge feels them over the motions `rows` of r, t, x."""
    model = factored.model
    chosen = [k for k, name in enumerate(modes.plane) if name == plane]
    shape, frequency = modes.shape[:, chosen], modes.frequency[chosen]
    reach = (model.edge.T @ shape)[list(rows)]
    angular = 2 * pi * frequency
    damping = np.diag(2 * ratio * angular)
    for hold in model.holds:
        # A bar mode of one plane moves the support along r or along t, never both.
        for motion in hold.motion[:, :2].T:
            moved = motion @ shape
            damping = damping + hold.damping * np.outer(moved, moved)
    return ModeSet(
        frequency=frequency,
        damping=damping,
        reach=reach,
        rest=np.zeros((len(rows), len(rows))),
    )


def _static(modes: ModeSet) -> Floats:
    """Static compliance that a set of modes carries, (n_point, n_point) m/N."""
    return np.asarray(modes.reach / (2 * pi * modes.frequency) ** 2 @ modes.reach.T)


def _with_rest(modes: ModeSet, static: Floats) -> ModeSet:
    """Add what the modes lack of the static compliance, (n_point, n_point) m/N."""
    return replace(modes, rest=static - _static(modes))


def edge_compliance(
    case: Case, factored: Factored, modes: Modes, ratios: DampingRatios
) -> Compliance:
    """Receptance of the edge of a case, from a bar alike in its two planes.

    Over r, t, and x into the uncut metal, as the gains of `edge` are.

    Parameters
    ----------
    factored, modes : of `beam_model(case, averaged=True)` with its supports alike both ways
    """
    static = Held(factored).edge_compliance
    stretch = _modes_of(factored, modes, "axial", (2,), ratios.bar)
    across = static[np.ix_([0, 2], [0, 2])] - np.diag([0.0, _static(stretch)[0, 0]])
    planar = _with_rest(_modes_of(factored, modes, "bit", (0, 2), ratios.bar), across)
    # Alike both ways across, so what the edge moves tangentially beyond that is torsion.
    twisted = static[1:2, 1:2] - static[:1, :1]
    twist = _with_rest(_modes_of(factored, modes, "torsion", (1,), ratios.bar), twisted)
    return _with_bit_and_work(case, _into_the_metal(case, planar), twist, stretch, ratios)


def _into_the_metal(case: Case, planar: ModeSet) -> ModeSet:
    """Turn the motion along the bar so that it is positive into the uncut metal.

    The model's x runs to the tail end. Work fed towards the headstock meets the edge from the
    tail side, so that is the way into the metal there; fed towards the tailstock it is the other.
    """
    if case.cut.feed_towards == "headstock":
        return planar
    way = np.diag([1.0, -1.0])
    return replace(planar, reach=way @ planar.reach, rest=way @ planar.rest @ way)


def bit_mass(case: Case) -> float:
    """Mass of the part of the bit that sticks out, kg."""
    area = case.bit.size**2 * (1.0 if case.cross_hole.shape == "square" else pi / 4)
    return HSS_DENSITY * area * case.projection


def _with_bit_and_work(
    case: Case, planar: ModeSet, twist: ModeSet, stretch: ModeSet, ratios: DampingRatios
) -> Compliance:
    square = case.cross_hole.shape == "square"
    along, across = bit_compliance(case.bit.size, case.projection, square=square)
    mass = bit_mass(case)
    work = case.work
    give = work.give_across
    return Compliance(
        planar=planar,
        twist=twist,
        stretch=stretch,
        bit_along=one_mode(1 / along, mass / 3, ratios.bit),
        bit_across=one_mode(1 / across, mass * 33 / 140, ratios.bit),
        work_across=one_mode(1 / give if give else inf, work.mass, ratios.work),
        work_axial=one_mode(work.axial_stiffness, work.mass, ratios.work),
    )
