"""Bars whose answers are known: the set-ups that `verification` puts through our own beam.

The reference bar is solid steel, 25 mm in diameter and 400 mm between supports, with E 205 GPa,
Poisson's ratio 0.29 and 7850 kg/m3. Where the known answer is an Euler bar's, the shear
stiffness is raised `STIFFENED` times and the rotary inertia all but removed. That leaves 1e-5 of
the bar's shear give, some 4e-7 of a frequency number, and costs the eigen-solver digits of
residual, hence `RESIDUAL`; the frequencies themselves are what is held against the reference.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise
from math import cos, hypot, inf, pi, sin, sqrt

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.sparse import block_diag, csc_array, vstack

from .model import Floats, Held, Hold, Model, factorised
from .modes import Modes, undamped_modes
from .section import Section, round_section
from .statics import ANGLES, bore_size
from .timoshenko import FIELDS, Lump, Mount, Segment, beam, segment
from .whirl import whirl, whirl_frequencies

E, POISSON, DENSITY = 205e9, 0.29, 7850.0
G = E / (2 * (1 + POISSON))
DIAMETER, SPAN, FORCE = 0.025, 0.4, 100.0
STIFFENED = 1e5
RESIDUAL = 1e-6
ELEMENTS = 16

# --- supports -------------------------------------------------------------------------------


def spring(station: float, radial: float, tilt: float = 0.0, *, ground: bool = False) -> Mount:
    """Support of radial stiffness N/m and tilt N m/rad; `ground` also stops slide and turn."""
    kept = inf if ground else 0.0
    return Mount(
        name=f"at {station:g} m",
        start=station,
        end=station,
        vertical=radial,
        horizontal=radial,
        tilt=tilt,
        axial=kept,
        turning=kept,
    )


def ends(drive: str, tail: str, length: float = SPAN) -> tuple[Mount, ...]:
    """Supports of a bar by the textbook's words: pinned, clamped, guided, free."""
    stiffness = {"pinned": (inf, 0.0), "clamped": (inf, inf), "guided": (0.0, inf)}
    held = [spring(0.0, *stiffness[drive], ground=True)]
    if tail != "free":
        held.append(spring(length, *stiffness[tail]))
    return tuple(held)


# --- lengths of bar -------------------------------------------------------------------------


def reference_segment(length: float = SPAN, diameter: float = DIAMETER) -> Segment:
    """Length of the reference bar's steel, round."""
    section = round_section(diameter, POISSON)
    return segment(0.0, length, section, E=E, G=G, density=DENSITY)


def without_shear(piece: Segment) -> Segment:
    """Return the length of bar `STIFFENED` against shear, its inertia unchanged."""
    return replace(
        piece,
        shear_bit=piece.shear_bit * STIFFENED,
        shear_across=piece.shear_across * STIFFENED,
    )


def euler(piece: Segment) -> Segment:
    """Length of bar with next to no shear give and no rotary inertia: Euler and Bernoulli's."""
    return replace(
        without_shear(piece),
        rotary_bit=piece.rotary_bit / STIFFENED,
        rotary_across=piece.rotary_across / STIFFENED,
    )


def square_section(height: float, poisson: float, shear_coefficient: float) -> Section:
    """Square section of side `height`, its torsion constant the polar second moment."""
    second = height**4 / 12
    return Section(
        area=height**2,
        second_moment_bit=second,
        second_moment_across=second,
        torsion_constant=2 * second,
        shear_coefficient=shear_coefficient,
    )


# --- statics --------------------------------------------------------------------------------


def held_bar(holds: Sequence[Mount], load_at: float, piece: Segment | None = None) -> Held:
    """Reference bar, without shear unless a `piece` is given, its edge at `load_at`, m."""
    pieces = [piece or euler(reference_segment())]
    return Held(factorised(beam(pieces, holds, edge=load_at)))


def deflection(holds: Sequence[Mount], load_at: float, *, shear: bool = False) -> float:
    """Deflection of the reference bar under a push of `FORCE` where it is pushed, um."""
    held = held_bar(holds, load_at, reference_segment() if shear else None)
    edge = held.factored.model.edge[:, 0]
    return float(edge @ held.solve(edge * FORCE).motion[:, 0]) * 1e6


def thicker_bar(thin: float, thick: float) -> float:
    """Stiffness of a pinned bar of `thick` m over that of a `thin` one, pushed at mid-span."""
    gives = []
    for diameter in (thin, thick):
        held = held_bar(
            ends("pinned", "pinned"), SPAN / 2, euler(reference_segment(diameter=diameter))
        )
        edge = held.factored.model.edge[:, 0]
        gives.append(float(edge @ held.solve(edge).motion[:, 0]))
    return gives[0] / gives[1]


def shear_deflection(holds: Sequence[Mount], load_at: float) -> float:
    """Share of the deflection that is shear: with it less without, um."""
    return deflection(holds, load_at, shear=True) - deflection(holds, load_at)


def support_load(holds: Sequence[Mount], load_at: float, number: int, motion: int) -> float:
    """What one support takes of a push of `FORCE`, N, or N m for a tilt motion."""
    held = held_bar(holds, load_at)
    response = held.solve(held.factored.model.edge[:, 0] * FORCE)
    taken = held.springs.column @ response.spring_force[:, 0]
    return abs(float(taken.reshape(-1, 6)[number, motion]))


def highest_point(holds: Sequence[Mount], load_at: float) -> tuple[float, float]:
    """Largest deflection of a bar pushed at `load_at`, um, and its station, m.

    Between point loads an Euler bar is a cubic, so four sampled stations give it exactly.
    """
    held = held_bar(holds, load_at)
    return _peak(held, held.factored.model.edge[:, 0] * FORCE)


def sag(holds: Sequence[Mount]) -> float:
    """Largest sag of the reference bar under its own weight, um."""
    held = held_bar(holds, SPAN / 2)
    return _peak(held, -held.factored.model.sag_load)[0]


def _peak(held: Held, load: Floats) -> tuple[float, float]:
    model = held.factored.model
    bent = (model.along @ held.solve(load).motion[:, 0]).reshape(6, -1)[0]
    top = int(np.argmax(bent))
    near = slice(top - 1, top + 3) if bent[top + 1] > bent[top - 1] else slice(top - 2, top + 2)
    start, step = model.stations[near][0], model.stations[1] - model.stations[0]
    cubic = np.polynomial.Polynomial.fit(
        (model.stations[near] - start) / step, bent[near], 3, domain=[0, 3], window=[0, 3]
    )
    turning_points = np.asarray(cubic.deriv().roots(), dtype=complex)
    flat = [z.real for z in turning_points.tolist() if abs(z.imag) < 1e-9 and 0 < z.real < 3]
    best = max(flat, key=lambda x: float(cubic(x)))
    return float(cubic(best)) * 1e6, float(start + best * step)


def coefficient(holds: Sequence[Mount], load_at: float) -> float:
    """Deflection as the handbooks print it, delta EI / P L^3."""
    bending = reference_segment().bending_bit
    return float(held_bar(holds, load_at).edge_compliance[0, 0]) * bending / SPAN**3


@cache
def worst_place(drive: str, tail: str) -> tuple[float, float]:
    """Largest deflection coefficient over all places of the load, and the place, m from drive."""
    holds = ends(drive, tail)
    found = minimize_scalar(
        lambda x: -coefficient(holds, x), bounds=(0.1 * SPAN, 0.9 * SPAN), options={"xatol": 1e-7}
    )
    return -float(found.fun), float(found.x)


def equal_cantilever(given: float) -> float:
    """Length of the cantilever as stiff at its tip as a bar of a deflection coefficient.

    Found on our own beam: the tip compliance of cantilevers of two lengths gives the power of
    length it follows, and the length follows from that.
    """
    bending = reference_segment().bending_bit

    def tip(length: float) -> float:
        piece = euler(reference_segment(length * SPAN))
        held = held_bar(ends("clamped", "free"), length * SPAN, piece)
        return float(held.edge_compliance[0, 0]) * bending / SPAN**3

    length = 0.3
    for _ in range(8):
        length *= float((given / tip(length)) ** (1 / 3))
    return length


def stepped_tip(diameters: Sequence[float], lengths: Sequence[float]) -> float:
    """Tip deflection of a stepped cantilever under `FORCE`, um."""
    borders = [0.0, *np.cumsum(lengths).tolist()]
    pieces = [
        replace(euler(reference_segment(diameter=d)), start=a, end=b)
        for d, (a, b) in zip(diameters, pairwise(borders), strict=True)
    ]
    held = Held(factorised(beam(pieces, ends("clamped", "free"), edge=borders[-1])))
    return float(held.edge_compliance[0, 0]) * FORCE * 1e6


def bore_error(radial: float, tangential: float, radius: float) -> float:
    """Error of a bore's diameter, m, where the reference bar is pushed off by given distances.

    The bar is pinned, pushed at mid-span by the forces that move it so far.
    """
    compliance = held_bar(ends("pinned", "pinned"), SPAN / 2).edge_compliance
    force = np.array([radial / compliance[0, 0], tangential / compliance[1, 1], 0.0])
    return bore_size(np.repeat(compliance[None], ANGLES.size, axis=0), force, radius)[0]


# --- modes ----------------------------------------------------------------------------------


def modes_of(
    piece: Segment, holds: Sequence[Mount], *, count: int, lumps: Sequence[Lump] = ()
) -> Modes:
    """Lowest modes of a bar of one section."""
    length = piece.end - piece.start
    model = beam([piece], holds, edge=length / 2, lumps=lumps, longest=length / ELEMENTS)
    return undamped_modes(factorised(model), count=count, worst_residual=RESIDUAL)


def bending(
    piece: Segment, holds: Sequence[Mount], *, count: int, lumps: Sequence[Lump] = ()
) -> tuple[float, ...]:
    """Frequencies of the lowest `count` modes in the bit plane, Hz.

    Twice the bending stiffness across keeps each mode to one plane: of an equal pair, parted by
    no more than round-off, any mixture would be a mode.
    """
    parted = replace(piece, bending_across=2 * piece.bending_across)
    found = modes_of(parted, holds, count=3 * count + 2, lumps=lumps)
    return in_plane(found, "bit")[:count]


def in_plane(modes: Modes, plane: str) -> tuple[float, ...]:
    """Frequencies of the modes that move in one plane, Hz."""
    return tuple(float(f) for f, p in zip(modes.frequency, modes.plane, strict=True) if p == plane)


def roots(piece: Segment, frequencies: Sequence[float]) -> tuple[float, ...]:
    """Frequency numbers, the root of ``2 pi f L^2 sqrt(rho A / E I)``."""
    length = piece.end - piece.start
    scale = 2 * pi * length**2 * sqrt(piece.mass / piece.bending_bit)
    return tuple(sqrt(scale * f) for f in frequencies)


@cache
def euler_roots(
    holds: tuple[Mount, ...], count: int, lumps: tuple[Lump, ...] = ()
) -> tuple[float, ...]:
    """Frequency numbers of the reference bar without shear and rotary inertia."""
    piece = euler(reference_segment())
    return roots(piece, bending(piece, holds, count=count, lumps=lumps))


@cache
def euler_frequencies(holds: tuple[Mount, ...], count: int) -> tuple[float, ...]:
    """Frequencies of the reference bar without shear and rotary inertia, Hz."""
    return bending(euler(reference_segment()), holds, count=count)


@cache
def frequencies(holds: tuple[Mount, ...], count: int) -> tuple[float, ...]:
    """Frequencies of the reference bar with shear and rotary inertia, Hz."""
    return bending(reference_segment(), holds, count=count)


@cache
def rectangular_roots(drive: str, tail: str, depth: float, count: int) -> tuple[float, ...]:
    """Frequency numbers of a rectangular bar of `depth` over length, nu 0.3, kappa 5/6."""
    section = square_section(depth, 0.3, 5 / 6)
    piece = segment(0.0, 1.0, section, E=E, G=E / 2.6, density=DENSITY)
    return roots(piece, bending(piece, ends(drive, tail, 1.0), count=count))


@cache
def shear_ratio(slenderness: float, count: int) -> tuple[float, ...]:
    """Frequencies of a pinned round bar over those of the same bar without shear and rotary."""
    piece = reference_segment(length=slenderness * DIAMETER)
    holds = ends("pinned", "pinned", piece.end)
    real = bending(piece, holds, count=count)
    plain = bending(euler(piece), holds, count=count)
    return tuple(a / b for a, b in zip(real, plain, strict=True))


def spring_ends(radial: float, tilt: float) -> tuple[Mount, ...]:
    """Pin with a tilt spring of ``tilt EI/L``, and a tail spring of ``radial EI/L^3``, or pin."""
    bending_stiffness = reference_segment().bending_bit
    drive = spring(0.0, inf, tilt * bending_stiffness / SPAN, ground=True)
    return drive, spring(SPAN, radial * bending_stiffness / SPAN**3)


def equal_springs(radial: float) -> tuple[Mount, ...]:
    """Springs of ``radial EI/L^3`` at both ends, free to tilt."""
    stiffness = radial * reference_segment().bending_bit / SPAN**3
    return spring(0.0, stiffness, ground=True), spring(SPAN, stiffness)


def middle_mass(ratio: float) -> tuple[Lump, ...]:
    """Mass at mid-span of `ratio` times the reference bar's."""
    return (Lump(station=SPAN / 2, mass=ratio * reference_segment().mass * SPAN),)


def rayleigh_error(ratio: float) -> float:
    """Error of Rayleigh's estimate, in per cent, against our bar with a mass at mid-span.

    The estimate is the static stiffness at mid-span over the mass plus 17/35 of the bar's own.
    """
    holds, piece = ends("pinned", "pinned"), euler(reference_segment())
    own = piece.mass * SPAN
    stiffness = 1 / float(held_bar(holds, SPAN / 2).edge_compliance[0, 0])
    estimate = sqrt(stiffness / (ratio * own + 17 / 35 * own)) / (2 * pi)
    (true,) = bending(piece, holds, count=1, lumps=middle_mass(ratio) if ratio else ())
    return 100 * (estimate / true - 1)


# --- NAFEMS ---------------------------------------------------------------------------------


@cache
def deep_beam(shear_coefficient: float) -> dict[str, tuple[float, ...]]:
    """Frequencies by plane, Hz, of NAFEMS FV5: 10 m by 2 m by 2 m, simply supported."""
    section = square_section(2.0, 0.3, shear_coefficient)
    piece = segment(0.0, 10.0, section, E=200e9, G=200e9 / 2.6, density=8000.0)
    found = modes_of(piece, ends("pinned", "pinned", 10.0), count=12)
    return {plane: in_plane(found, plane) for plane in ("bit", "across", "torsion", "axial")}


def _turned(angle: float) -> Floats:
    """Motions of an arm's end (in the order of MOTIONS) per joint motion X, Y, Z, about X, Y, Z.

    The arm runs outwards at `angle` in the X-Y plane, its r in the plane and its t along Z.
    """
    c, s = cos(angle), sin(angle)
    given = np.zeros((6, 6))
    given[0, :2], given[1, 2], given[2, :2] = (-s, c), 1.0, (c, s)
    given[3, 5], given[4, 3:5], given[5, 3:5] = 1.0, (s, -c), (c, s)
    return given


def _arm() -> Model:
    """One arm of FV2, 5 m long, with its two ends named; too stiff to leave the plane."""
    section = square_section(0.125, 0.3, 5 / 6)
    piece = euler(segment(0.0, 5.0, section, E=200e9, G=200e9 / 2.6, density=8000.0))
    out_of_plane = 1e4
    piece = replace(
        piece,
        bending_across=piece.bending_across * out_of_plane,
        torsion=piece.torsion * out_of_plane,
    )
    return beam([piece], (spring(0.0, 0.0), spring(5.0, 0.0)), edge=5.0, longest=5.0 / 12)


def star(n_arm: int) -> Model:
    """Equal arms rigidly joined at the middle of a star, their outer ends pinned (NAFEMS FV2).

    Each arm is our beam, free; pins and joint are rigid supports, the joint's on the
    *difference* of two arms' motions.
    """
    arm = _arm()
    n, angles = arm.n_dof, [2 * pi * k / n_arm for k in range(n_arm)]
    lever = np.eye(6)
    lever[0, 3] = lever[1, 4] = 2.5
    block = [slice(n * k, n * (k + 1)) for k in range(n_arm)]

    def spread(local: Floats, number: int) -> Floats:
        whole = np.zeros((n * n_arm, 6))
        whole[block[number]] = local
        return whole

    inner = [spread(arm.holds[0].motion @ _turned(a), k) for k, a in enumerate(angles)]
    outer = [spread(arm.holds[1].motion, k) for k in range(n_arm)]
    joints = [_rigid_hold(inner[k] - inner[0], tilt=inf) for k in range(1, n_arm)]
    pins = [_rigid_hold(motion, tilt=0.0) for motion in outer]
    count = arm.stations.size
    along = [block_diag([arm.along[m * count : (m + 1) * count]] * n_arm) for m in range(6)]
    return replace(
        arm,
        stiffness=csc_array(block_diag([arm.stiffness] * n_arm)),
        mass=csc_array(block_diag([arm.mass] * n_arm)),
        gyroscopic=None,
        rigid=np.vstack([arm.rigid @ lever @ _turned(a) for a in angles]),
        anchor=np.concatenate([arm.anchor + n * k for k in range(n_arm)]),
        edge=np.vstack([arm.edge, np.zeros((n * (n_arm - 1), 3))]),
        holds=(*joints, *pins),
        stations=np.tile(arm.stations, n_arm),
        along=csc_array(vstack(along)),
        station_mass=np.tile(arm.station_mass, n_arm),
        station_polar=np.tile(arm.station_polar, n_arm),
        sag_load=np.tile(arm.sag_load, n_arm),
    )


def _rigid_hold(motion: Floats, *, tilt: float) -> Hold:
    return Hold(
        name="rigid",
        station=0.0,
        motion=motion,
        vertical=inf,
        horizontal=inf,
        axial=inf,
        tilt=tilt,
        turning=inf,
    )


@cache
def star_frequencies(n_arm: int) -> tuple[float, ...]:
    """Frequencies of the first two groups of FV2's modes, 2 n_arm in number, Hz."""
    found = undamped_modes(factorised(star(n_arm)), count=2 * n_arm + 1, worst_residual=RESIDUAL)
    return tuple(float(f) for f in found.frequency[:-1])


# --- rotors ---------------------------------------------------------------------------------


def disc(station: float, diameter: float, width: float, bore: float, density: float) -> Lump:
    """Disc on a shaft, with its own moments of inertia."""
    outer, inner = diameter / 2, bore / 2
    mass = density * pi * (outer**2 - inner**2) * width
    return Lump(
        station=station,
        mass=mass,
        diametral=mass * (3 * (outer**2 + inner**2) + width**2) / 12,
        polar=mass * (outer**2 + inner**2) / 2,
    )


def two_disc_rotor(n_element: int, shear_coefficient: float | None = None) -> Model:
    """Rotor of Friswell, Penny, Garvey & Lees, example 5.9.1, on equal bearings of 1 MN/m.

    Its shear coefficient is Cowper's unless another is given.
    """
    young, shear, density = 211e9, 81.2e9, 7810.0
    section = round_section(0.05, young / (2 * shear) - 1)
    if shear_coefficient is not None:
        section = replace(section, shear_coefficient=shear_coefficient)
    piece = segment(0.0, 1.5, section, E=young, G=shear, density=density)
    discs = disc(0.5, 0.28, 0.07, 0.05, density), disc(1.0, 0.35, 0.07, 0.05, density)
    holds = spring(0.0, 1e6, ground=True), spring(1.5, 1e6)
    return beam([piece], holds, edge=0.5, lumps=discs, longest=1.5 / n_element)


def condensed(model: Model, n_element: int) -> tuple[Floats, Floats, Floats]:
    """Bending stiffness, mass and gyroscopic matrices at the nodes, the bar on its springs.

    Static condensation of our elements' inner unknowns (R. J. Guyan, AIAA J. 3 (1965) 380; from
    memory) leaves the two-node element whose shape functions are the exact static ones: the
    element of most books and codes, so their numbers can be met on their own mesh.
    """
    assert model.gyroscopic is not None
    n, bending_fields = model.n_dof // len(FIELDS), range(4)
    nodal = np.concatenate([f * n + np.arange(n_element + 1) for f in bending_fields])
    inner = np.concatenate([f * n + np.arange(n_element + 1, n) for f in bending_fields])
    K = model.stiffness.toarray()
    shape = np.zeros((model.n_dof, nodal.size))
    shape[nodal, np.arange(nodal.size)] = 1.0
    shape[inner] = -np.linalg.solve(K[np.ix_(inner, inner)], K[np.ix_(inner, nodal)])
    for hold in model.holds:
        K = K + hold.motion[:, :1] * hold.vertical @ hold.motion[:, :1].T
        K = K + hold.motion[:, 1:2] * hold.horizontal @ hold.motion[:, 1:2].T
    return (
        shape.T @ K @ shape,
        shape.T @ (model.mass @ shape),
        shape.T @ (model.gyroscopic @ shape),
    )


@cache
def two_disc_whirl(n_element: int, spin: float) -> tuple[float, ...]:
    """First six whirl speeds of the two-disc rotor on a mesh of two-node elements, rad/s."""
    K, M, gyroscopic = condensed(two_disc_rotor(n_element), n_element)
    found = whirl_frequencies(K, M, gyroscopic, spin)[:6]
    return tuple(float(f) * 2 * pi for f in found)


@cache
def converged_whirl(spin: float, shear_coefficient: float) -> tuple[float, ...]:
    """First six whirl speeds of the two-disc rotor by our own elements and modes, rad/s."""
    model = two_disc_rotor(18, shear_coefficient)
    modes = undamped_modes(factorised(model), count=24)
    found = whirl(model, modes, spin, count=2).frequency[-1, :6]
    return tuple(float(f) * 2 * pi for f in found)


@cache
def spinning_shaft(spin: float) -> tuple[float, ...]:
    """Whirl frequencies, Hz, of the reference bar, pinned, with rotary inertia but no shear."""
    piece = without_shear(reference_segment())
    model = beam([piece], ends("pinned", "pinned"), edge=SPAN / 2, longest=SPAN / ELEMENTS)
    modes = undamped_modes(factorised(model), count=10, worst_residual=RESIDUAL)
    return tuple(float(f) for f in whirl(model, modes, spin, count=2).frequency[-1, :4])


@cache
def _jeffcott() -> tuple[Floats, Floats, Floats, float]:
    """Stiffness, mass and edge motions of a disc on a shaft without mass, and its pitch, Hz."""
    piece = reference_segment()
    piece = replace(
        piece,
        mass=piece.mass * 1e-9,
        polar=piece.polar * 1e-9,
        rotary_bit=piece.rotary_bit * 1e-9,
        rotary_across=piece.rotary_across * 1e-9,
    )
    holds = spring(0.0, 1e13, ground=True), spring(SPAN, 1e13)
    model = beam([piece], holds, edge=SPAN / 2, lumps=(Lump(station=SPAN / 2, mass=1.0),))
    K, M, _ = condensed(model, 12)
    edge = np.zeros((K.shape[0], 2))
    edge[6, 0] = edge[2 * 13 + 6, 1] = 1.0
    held = held_bar(ends("pinned", "pinned"), SPAN / 2, piece)
    return K, M, edge, sqrt(1 / float(held.edge_compliance[0, 0])) / (2 * pi)


def jeffcott_amplitude(ratio: float, damping: float) -> float:
    """Whirl of the disc over its eccentricity, at a spin of `ratio` times its pitch.

    The unbalance, mass times eccentricity times speed squared, turns with the shaft: a force
    along r and a quarter turn behind it one along t. The damper acts on the disc.
    """
    K, M, edge, pitch = _jeffcott()
    speed = 2 * pi * pitch * ratio
    damper = 2 * damping * 2 * pi * pitch * (edge @ edge.T)
    dynamic = K - speed**2 * M + 1j * speed * damper
    motion = edge.T @ np.linalg.solve(dynamic, edge @ np.array([1.0, -1j])) * speed**2
    return float(hypot(abs(motion[0]), abs(motion[1])) / sqrt(2))


def jeffcott_peak(damping: float) -> tuple[float, float]:
    """Largest whirl of the disc over its eccentricity, and the spin over its pitch."""
    found = minimize_scalar(
        lambda r: -jeffcott_amplitude(float(r), damping),
        bounds=(0.9, 1.1),
        options={"xatol": 1e-8},
    )
    return -float(found.fun), float(found.x)


def bit_unbalance(mass: float, arm: float) -> float:
    """Unbalance that a bit gives the reference bar, kg m: its coupling of turning and t motion."""
    model = beam(
        [reference_segment()],
        ends("pinned", "pinned"),
        edge=SPAN / 2,
        lumps=(Lump(station=SPAN / 2, mass=mass, arm=arm),),
    )
    return float(model.rigid[:, 1] @ (model.mass @ model.rigid[:, 5]))
