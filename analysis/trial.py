"""A trial: what one set-up answers when everything known only within a range is drawn at once.

The sizes of the set-up stand, and what goes with them is made once on a `Bench`: the bar
condensed, the likely edge at many depths, what shakes the bar. A block of draws is then carried
through statics, modes and the cutting loop together. Each answer is the one that `run` gives for
a case with those values typed in; `tests/test_trial.py` holds them against each other.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from .case import Case
from .chatter import BIT_DAMPING, changed, edge_of, least_depth
from .compliance import bit_mass
from .condensed import (
    ACROSS,
    BIT_PLANE,
    EVERY,
    Condensed,
    Masses,
    Plane,
    Springs,
    condensed,
    masses_of,
    springs_of,
)
from .doubt import DENSITY, DOG, MODULUS, Draws, value_at
from .edge import EdgeForce
from .force import cutting_force
from .keys import Key
from .many_loops import (
    Bending,
    DepthTable,
    Structures,
    Swings,
    bending,
    depth_limits,
    depth_table,
    edges,
    gain_margins,
    one_swing,
    seen,
)
from .model import Floats
from .speeds import sources
from .statics import ANGLES, bit_compliances, push_back

PITCHES = 8
"""Modes that the distance from a shake is taken to, as in `run`."""
DEPTHS = 65
"""Depths at which the likely edge is tabled."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answers:
    """What each draw answers, all (n_sample,).

    Attributes
    ----------
    deflection : m, how far the edge springs off the cut, along the bit
    size_error : m, size of the diameter error
    first_mode : Hz, lowest bending mode in either plane
    gain_margin, undamped_margin : with what the flank rubs, and without; inf if nothing sings
    depth_limit : m, see `chatter.depth_limit`; inf for none, 0 for no usable depth
    separation : distance from the nearest shake to a mode, over the mode
    """

    deflection: Floats
    size_error: Floats
    first_mode: Floats
    gain_margin: Floats
    undamped_margin: Floats
    depth_limit: Floats
    separation: Floats


NAMES = tuple(field.name for field in fields(Answers))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bench:
    """What no draw changes.

    Attributes
    ----------
    bar, whirling : the bar as it is, and alike in its two planes
    push : (3,) N over r, t, x, likely, on the work
    edge, table : likely edge as planned, and at depths up and down from there
    shakes : (n_source,) Hz
    """

    case: Case
    bar: Condensed
    whirling: Condensed
    push: Floats
    edge: EdgeForce
    table: DepthTable
    shakes: Floats


def bench(case: Case, *, masses: bool = True, depth: bool = True) -> Bench:
    """Make ready everything that the draws on a case share.

    Parameters
    ----------
    masses : whether density or the dog's mass will vary
    depth : whether depth limits will be asked for
    """
    force = cutting_force(case)
    depths = _depths(case) if depth else np.full(2, float(case.cut.depth))
    tabled = [edge_of(changed(case, depth=float(one)), "likely") for one in depths]
    return Bench(
        case=case,
        bar=condensed(case, masses=masses),
        whirling=condensed(case, averaged=True, masses=masses),
        push=np.array([force.radial, force.tangential, force.axial], dtype=float),
        edge=force.edge,
        table=depth_table(depths, tabled),
        shakes=np.array([shake for _, _, shake in sources(case, case.spindle_speed)]),
    )


def _depths(case: Case) -> Floats:
    """Depths from the shallowest cut to the deepest looked at, the planned one among them, m."""
    planned, least = float(case.cut.depth), least_depth(case)
    down = np.geomspace(min(least, planned), planned, DEPTHS)
    up = np.geomspace(planned, max(6e-3, 4 * planned), DEPTHS)
    return np.unique(np.concatenate([down, up[1:]]))


def answers(ready: Bench, draws: Draws, *, depth: bool = True) -> Answers:
    """What a block of draws answers; some dozens at a time stay in the processor's own memory.

    Parameters
    ----------
    depth : whether to look for the depth limit and the margin without rubbing, which take
        longer than all the rest; nan where they are not looked for
    """
    if not draws.count:
        return Answers(**{name: np.zeros(0) for name in NAMES})
    springs, masses = springs_of(draws), masses_of(draws)
    modulus = draws.of(MODULUS) / float(ready.case.bar.material.elastic_modulus)
    factors = force_factors(draws)
    deflection, size_error = _spring(ready, draws, springs, modulus, factors)
    first, separation = _pitches(ready, springs, modulus, masses)
    looked = seen(_structures(ready, draws, springs.alike(), modulus, masses))
    rubbing = draws.of(("work", "material", "process_damping")) / ready.case.surface_speed
    margin = gain_margins(looked, edges(ready.edge, factors, rubbing))
    undamped = deepest = np.full(draws.count, np.nan)
    if depth:
        undamped = gain_margins(looked, edges(ready.edge, factors, np.zeros(draws.count)))
        planned, quiet = float(ready.case.cut.depth), margin >= 1.0
        deepest = depth_limits(looked, factors, rubbing, quiet, planned, ready.table)
    return Answers(
        deflection=deflection,
        size_error=size_error,
        first_mode=first,
        gain_margin=margin,
        undamped_margin=undamped,
        depth_limit=deepest,
        separation=separation,
    )


def joined(blocks: list[Answers]) -> Answers:
    """Answers of several blocks, one after another."""
    return Answers(**{name: np.concatenate([getattr(b, name) for b in blocks]) for name in NAMES})


# --- force -----------------------------------------------------------------------------------


def force_factors(draws: Draws) -> Floats:
    """Force of each direction r, t, x over the likely one, (n_sample, 3)."""
    if draws.case.cut.force is not None:
        return _typed_factors(draws)
    energy = draws.case.cut.method == "power constant"
    wear = _over(draws, "cut", "edge_wear")
    table = draws.factor("rake") * draws.factor("low speed")
    push = _over(draws, "work", "material", "normal_force") * wear * table
    constant = "power_constant" if energy else "specific_force"
    drag = _over(draws, "work", "material", constant) * wear * (1.0 if energy else table)
    return np.stack([push, drag, push], axis=1)


def _over(draws: Draws, *key: str) -> Floats:
    """Drawn values over the likely one; one where nothing is drawn or the likely one is 0."""
    likely = value_at(draws.case, key)
    if key not in draws.values or not likely:
        return np.ones(draws.count)
    return np.asarray(draws.values[key] / float(likely))


def _typed_factors(draws: Draws) -> Floats:
    """As `force._proportion`: a direction that was left out follows the other one."""
    typed = draws.case.cut.force
    assert typed is not None
    out, drag, along = (
        _over(draws, "cut", "force", part) for part in ("radial", "tangential", "axial")
    )
    return np.stack(
        [
            out if typed.radial > 0 else along if typed.axial > 0 else drag,
            drag,
            along if typed.axial > 0 else out if typed.radial > 0 else drag,
        ],
        axis=1,
    )


# --- statics and pitches ---------------------------------------------------------------------


def _spring(
    ready: Bench, draws: Draws, springs: Springs, modulus: Floats, factors: Floats
) -> tuple[Floats, Floats]:
    """Spring off the cut and size of the diameter error, m, as `statics.bore_size` has it."""
    case = ready.case
    vertical, horizontal, endways = _work_gives(draws)
    unlike = np.any(springs.vertical != springs.horizontal) or np.any(vertical != horizontal)
    angles = ANGLES if unlike else ANGLES[:1]
    give = ready.bar.edge_give(springs, modulus, angles) + bit_compliances(case)
    cos, sin = np.cos(angles), np.sin(angles)
    ways = np.stack([np.stack([cos, sin]), np.stack([-sin, cos])], axis=1)
    for one, way in zip((vertical, horizontal), ways, strict=True):
        turned = way.T[:, :, None] * way.T[:, None, :]
        give[:, :, :2, :2] += one[:, None, None, None] * turned
    give[:, :, 2, 2] += endways[:, None]
    load = push_back(case) * ready.push * factors
    motion = np.einsum("savw,sw->sav", give, load)
    radial = motion[:, :, 0] + motion[:, :, 1] ** 2 / (2 * case.edge_radius)
    return np.abs(motion[:, :, 0].mean(axis=1)), np.abs(2 * radial.mean(axis=1))


def _work_gives(draws: Draws) -> tuple[Floats, Floats, Floats]:
    """Give of the work side up and down, sideways and along, m/N."""
    radial = ("work", "radial_stiffness")
    vertical = draws.of(("work", "vertical_stiffness"), radial)
    horizontal = draws.of(("work", "horizontal_stiffness"), radial)
    return 1 / vertical, 1 / horizontal, 1 / draws.of(("work", "axial_stiffness"))


def _pitches(
    ready: Bench, springs: Springs, modulus: Floats, masses: Masses
) -> tuple[Floats, Floats]:
    """First bending mode, Hz, and distance of the nearest shake from a mode, over it."""
    bar, stiffness = ready.bar, springs.on_motions()
    parts: list[tuple[Plane, tuple[int, ...]]] = [(bar.bit, BIT_PLANE), (bar.across, ACROSS)]
    if bar.whole is not None:
        parts = [(bar.whole, EVERY)]
    found = [bar.modes(part, stiffness[:, :, ways], modulus, masses) for part, ways in parts]
    bent = [np.where(one.bending, one.frequency, np.inf).min(axis=1) for one in found]
    first = np.min(bent, axis=0)
    every = np.hstack([one.frequency[:, :PITCHES] for one in found])
    endways = np.hstack([one.endways[:, :PITCHES] for one in found])
    lowest = np.argsort(every, axis=1)[:, :PITCHES]
    # A mode that only goes endways stands infinitely far from any shake.
    pitch = np.where(endways, 1e-30, every)
    pitch = np.take_along_axis(pitch, lowest, axis=1)
    away = np.abs(1.0 - ready.shakes / pitch[:, :, None])
    return first, np.asarray(away.min(axis=(1, 2)))


# --- chatter ---------------------------------------------------------------------------------


def _structures(
    ready: Bench, draws: Draws, springs: Springs, modulus: Floats, masses: Masses
) -> Structures:
    """Everything that the edge meets, as `compliance.edge_compliance` puts it together."""
    case = ready.case
    bar, endways = _bar(ready, draws, springs, modulus, masses)
    vertical, horizontal, along = _work_gives(draws)
    mass, ratio = draws.of(("work", "mass")), draws.of(("work", "damping_ratio"))
    gives, bit = np.diag(bit_compliances(case)), bit_mass(case)
    one = np.ones(draws.count)
    damping = np.full(draws.count, BIT_DAMPING)
    return Structures(
        bar=bar,
        endways=endways,
        work_across=one_swing((vertical + horizontal) / 2, mass, ratio),
        work_endways=one_swing(along, mass, ratio),
        bit_along=one_swing(gives[0] * one, bit / 3 * one, damping),
        bit_across=one_swing(gives[1] * one, bit * 33 / 140 * one, damping),
        speed=case.spindle_speed,
    )


def _bar(
    ready: Bench, draws: Draws, springs: Springs, modulus: Floats, masses: Masses
) -> tuple[Bending, Swings]:
    """The bar across and endways, its damping in it."""
    bar, way = ready.whirling, 1.0 if ready.case.cut.feed_towards == "headstock" else -1.0
    modes = bar.modes(bar.bit, springs.on_motions()[:, :, BIT_PLANE], modulus, masses)
    ratio = draws.of(("bar", "damping_ratio"))[:, None]
    squared, shape = modes.lowest(bar.planar_count, bending=True)
    reach = bar.bit.edge @ shape * np.array([1.0, way])[:, None]
    own = 2 * ratio * np.sqrt(squared)
    damping = own[:, :, None] * np.eye(squared.shape[1]) + _dampers(bar, springs, shape)
    ends, ends_shape = modes.lowest(bar.axial_count, bending=False)
    ends_reach = (bar.bit.edge[1] @ ends_shape) ** 2
    lost = np.einsum("skk->sk", _dampers(bar, springs, ends_shape))
    endways = Swings(squared=ends, damping=ratio + lost / (2 * np.sqrt(ends)), give=ends_reach)
    static = bar.edge_give(springs, modulus, ANGLES[:1])[:, 0][:, [0, 2]][:, :, [0, 2]]
    static = static * np.array([[1.0, way], [way, 1.0]])
    static[:, 1, 1] -= (ends_reach / ends).sum(axis=1)
    carried = (reach / squared[:, None, :]) @ reach.transpose(0, 2, 1)
    return bending(squared, damping, reach, static - carried), endways


def _dampers(bar: Condensed, springs: Springs, shape: Floats) -> Floats:
    """Damping matrix of the supports' dampers on modes, (n_sample, n_mode, n_mode) 1/s."""
    moved = bar.bit.hold[:, 0] @ shape
    return np.asarray(moved.transpose(0, 2, 1) @ (springs.damping[:, :, None] * moved))


def moves_mass(key: Key) -> bool:
    """Whether a value changes the mass of what turns."""
    return key in (DENSITY, DOG)
