"""Laws that every bar obeys, tried on bars made up at random (the same ones every time)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import cos, inf, pi, sin
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.linalg import eigvalsh, null_space

from barwright.analysis.model import (
    Factored,
    Floats,
    Held,
    Model,
    count_below,
    factorised,
    springs,
)
from barwright.analysis.modes import undamped_modes
from barwright.analysis.section import round_section
from barwright.analysis.timoshenko import Lump, Mount, Segment, beam, segment

few = settings(derandomize=True, database=None, deadline=None, max_examples=15)

E, G, DENSITY, POISSON = 205e9, 80e9, 7850.0, 0.29


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A bar made up: what `beam` takes."""

    segments: tuple[Segment, ...]
    holds: tuple[Mount, ...]
    edge: float
    arm: float
    lumps: tuple[Lump, ...]

    @property
    def length(self) -> float:
        return self.segments[-1].end

    def model(self, pieces: int = 5) -> Model:
        return beam(
            self.segments,
            self.holds,
            edge=self.edge,
            arm=self.arm,
            lumps=self.lumps,
            longest=self.length / pieces,
        )

    def factored(self, pieces: int = 5) -> Factored:
        return factorised(self.model(pieces))


def logarithmic(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(np.log10(low), np.log10(high)).map(lambda x: float(10.0**x))


@st.composite
def made_bars(draw: Any, *, rigid: bool = True) -> Made:
    """Stepped steel bar on two supports, with a bit and a carried mass."""
    count = draw(st.integers(1, 3))
    lengths = [draw(st.floats(0.08, 0.4)) for _ in range(count)]
    diameters = [draw(st.floats(0.02, 0.05)) for _ in range(count)]
    borders = [0.0, *np.cumsum(lengths).tolist()]
    segments = tuple(
        segment(a, b, round_section(d, POISSON), E=E, G=G, density=DENSITY)
        for d, (a, b) in zip(diameters, pairwise(borders), strict=True)
    )
    length = borders[-1]
    radial = logarithmic(1e6, 1e9)
    if rigid:
        radial |= st.just(inf)
    grip = draw(st.floats(0.01, 0.05))
    drive = Mount(
        name="chuck",
        start=0.0,
        end=grip,
        vertical=draw(radial),
        horizontal=draw(radial),
        tilt=draw(st.just(0.0) | logarithmic(1e2, 1e6)),
        axial=draw(logarithmic(1e6, 1e9)),
        turning=draw(logarithmic(1e3, 1e6)),
    )
    place = length - draw(st.just(0.0) | st.floats(0.001, 0.2 * length))
    tail = Mount(
        name="centre",
        start=place,
        end=place,
        vertical=draw(radial),
        horizontal=draw(radial),
    )
    return Made(
        segments=segments,
        holds=(drive, tail),
        edge=length * draw(st.floats(0.25, 0.75)),
        arm=draw(st.floats(0.0, 0.04)),
        lumps=(Lump(station=length / 3, mass=draw(st.floats(0.01, 1.0)), arm=0.01),),
    )


def loaded(model: Model) -> Floats:
    """Loads at the edge, at each support, and the bar's weight, (n_dof, n_load)."""
    return np.hstack(
        [model.edge, *(hold.motion[:, :3] for hold in model.holds), model.sag_load[:, None]]
    )


def held_stiffness(factored: Factored, angle: float = 0.0) -> Floats:
    """Dense stiffness of the bar on springs, none rigid."""
    held = springs(factored.model, angle)
    column = factored.motion @ held.column
    return np.asarray(factored.model.stiffness.toarray() + column / held.flexibility @ column.T)


@few
@given(made_bars(), st.floats(0.0, 2 * pi))
def test_motion_here_by_a_load_there_is_motion_there_by_a_load_here(
    made: Made, angle: float
) -> None:
    held = Held(made.factored(), angle)
    loads = loaded(held.factored.model)
    given_motion = loads.T @ held.solve(loads).motion
    size = np.sqrt(np.abs(np.diag(given_motion)))
    off = np.abs(given_motion - given_motion.T) / np.maximum(np.outer(size, size), 1e-30)
    free = size > 1e-9 * size.max()  # a rigid support does not move under a load on it
    assert off[np.ix_(free, free)].max() < 1e-8


@few
@given(made_bars(), st.floats(0.0, 2 * pi))
def test_edge_compliance_is_what_a_full_solve_gives(made: Made, angle: float) -> None:
    held = Held(made.factored(), angle)
    edge = held.factored.model.edge
    solved = edge.T @ held.solve(edge).motion
    assert np.abs(held.edge_compliance - solved).max() < 1e-9 * np.abs(solved).max()


@few
@given(made_bars(), st.floats(0.0, 2 * pi))
def test_supports_take_exactly_the_load_and_its_moment(made: Made, angle: float) -> None:
    held = Held(made.factored(), angle)
    model = held.factored.model
    loads = loaded(model)
    response = held.solve(loads)
    taken = held.factored.motion @ (held.springs.column @ response.spring_force)
    left = model.rigid.T @ (loads - taken)
    reach = np.abs(model.rigid).T @ np.abs(loads)
    assert (np.abs(left) / reach.max(axis=0)).max() < 1e-9
    assert held.residual(loads, response) < 1e-9


@few
@given(made_bars())
def test_work_of_the_load_is_held_in_bar_and_springs(made: Made) -> None:
    held = Held(made.factored())
    edge = held.factored.model.edge @ np.array([-3.0, 2.0, 1.0])
    response = held.solve(edge)
    motion, force = response.motion[:, 0], response.spring_force[:, 0]
    bar = motion @ (held.factored.model.stiffness @ motion)
    assert edge @ motion == pytest.approx(bar + force**2 @ held.springs.flexibility, rel=1e-8)


@few
@given(made_bars())
def test_free_bar_has_its_six_rigid_motions_and_no_other_without_strain(made: Made) -> None:
    model = made.model(pieces=2)
    K = model.stiffness.toarray()
    scale = 1 / np.sqrt(np.diag(K))
    values = np.linalg.eigvalsh(K * scale * scale[:, None])
    assert np.abs(values[:6]).max() < 1e-12
    assert values[6] > 1e-8
    assert np.linalg.matrix_rank(model.rigid) == 6
    strain = np.abs(K @ model.rigid).max(axis=0) / (np.abs(K) @ np.abs(model.rigid)).max(axis=0)
    assert strain.max() < 1e-14


@few
@given(made_bars())
def test_a_bar_turned_end_for_end_answers_the_same(made: Made) -> None:
    length = made.length
    flipped = Made(
        segments=tuple(
            replace(piece, start=length - piece.end, end=length - piece.start)
            for piece in reversed(made.segments)
        ),
        holds=tuple(
            replace(hold, start=length - hold.end, end=length - hold.start) for hold in made.holds
        ),
        edge=length - made.edge,
        arm=made.arm,
        lumps=tuple(replace(lump, station=length - lump.station) for lump in made.lumps),
    )
    one, other = made.factored(), flipped.factored()
    sign = np.array([1.0, 1.0, -1.0])
    mirrored = Held(other).edge_compliance * sign * sign[:, None]
    given_motion = Held(one).edge_compliance
    assert np.abs(given_motion - mirrored).max() < 1e-9 * np.abs(given_motion).max()
    found = undamped_modes(one, count=6).frequency
    assert undamped_modes(other, count=6).frequency == pytest.approx(found, rel=1e-7)


@few
@given(made_bars(), st.floats(0.2, 5.0), st.floats(0.3, 3.0), st.floats(0.3, 3.0))
def test_a_scaled_bar_follows_the_laws_of_scale(
    made: Made, s: float, e: float, density: float
) -> None:
    stretched = {
        "bending_bit": e * s**4,
        "bending_across": e * s**4,
        "shear_bit": e * s**2,
        "shear_across": e * s**2,
        "torsion": e * s**4,
        "stretch": e * s**2,
        "mass": density * s**2,
        "rotary_bit": density * s**4,
        "rotary_across": density * s**4,
        "polar": density * s**4,
        "start": s,
        "end": s,
    }
    scaled = Made(
        segments=tuple(
            Segment(**{name: getattr(piece, name) * by for name, by in stretched.items()})
            for piece in made.segments
        ),
        holds=tuple(
            replace(
                hold,
                start=hold.start * s,
                end=hold.end * s,
                vertical=hold.vertical * e * s,
                horizontal=hold.horizontal * e * s,
                axial=hold.axial * e * s,
                tilt=hold.tilt * e * s**3,
                turning=hold.turning * e * s**3,
            )
            for hold in made.holds
        ),
        edge=made.edge * s,
        arm=made.arm * s,
        lumps=tuple(
            replace(
                lump, station=lump.station * s, mass=lump.mass * density * s**3, arm=lump.arm * s
            )
            for lump in made.lumps
        ),
    )
    one, other = made.factored(), scaled.factored()
    expected = Held(one).edge_compliance / (e * s)
    assert np.abs(Held(other).edge_compliance - expected).max() < 1e-9 * expected.max()
    found = undamped_modes(one, count=5).frequency * np.sqrt(e / density) / s
    assert undamped_modes(other, count=5).frequency == pytest.approx(found, rel=1e-7)


@few
@given(made_bars(), st.floats(-5.0, 5.0), st.floats(-5.0, 5.0))
def test_answers_to_two_loads_add_up(made: Made, one: float, other: float) -> None:
    held = Held(made.factored())
    first, second = held.factored.model.edge[:, 0], held.factored.model.sag_load
    both = held.solve(one * first + other * second).motion[:, 0]
    apart = held.solve(np.column_stack([first, second])).motion @ np.array([one, other])
    reach = np.abs(held.solve(np.column_stack([first, second])).motion) @ np.abs([one, other])
    assert np.abs(both - apart).max() <= 1e-9 * reach.max()


@few
@given(
    made_bars(rigid=False),
    st.floats(1.0, 100.0),
    st.sampled_from(["vertical", "horizontal", "tilt", "axial", "turning"]),
    st.integers(0, 1),
)
def test_a_stiffer_support_never_lowers_a_mode_nor_softens_the_edge(
    made: Made, by: float, name: str, number: int
) -> None:
    changed = list(made.holds)
    changed[number] = replace(changed[number], **{name: getattr(changed[number], name) * by})
    one, other = made.factored(), replace(made, holds=tuple(changed)).factored()
    soft, stiff = Held(one).edge_compliance, Held(other).edge_compliance
    assert np.linalg.eigvalsh(soft - stiff).min() > -1e-9 * soft.max()
    low, high = (undamped_modes(bar, count=6).frequency for bar in (one, other))
    assert np.all(high >= low * (1 - 1e-8))


@few
@given(made_bars(), st.floats(0.0, 1.0))
def test_a_heavier_bar_never_has_a_higher_mode(made: Made, mass: float) -> None:
    heavier = replace(made, lumps=(*made.lumps, Lump(station=made.edge, mass=mass)))
    low, high = (undamped_modes(bar.factored(), count=6).frequency for bar in (heavier, made))
    assert np.all(low <= high * (1 + 1e-8))


@few
@given(made_bars(rigid=False), st.integers(1, 12), st.floats(0.0, 2 * pi))
def test_inertia_count_agrees_with_a_dense_eigen_solver(
    made: Made, below: int, angle: float
) -> None:
    factored = made.factored(pieces=2)
    squared = eigvalsh(held_stiffness(factored, angle), factored.model.mass.toarray())
    frequency = np.sqrt(np.abs(squared)) / (2 * pi)
    low, high = frequency[below - 1 : below + 1]
    assume(high > low * (1 + 1e-6))
    assert count_below(factored, float(np.sqrt(low * high)), angle) == below


@few
@given(made_bars(), st.integers(1, 8))
def test_inertia_count_and_modes_are_right_for_rigid_supports(made: Made, below: int) -> None:
    rigid = tuple(replace(hold, vertical=inf, horizontal=inf, axial=inf) for hold in made.holds)
    factored = replace(made, holds=rigid).factored(pieces=2)
    held = springs(factored.model)
    column = factored.motion @ held.column
    kept = held.flexibility == 0.0
    soft = column[:, ~kept]
    K = factored.model.stiffness.toarray() + soft / held.flexibility[~kept] @ soft.T
    left = null_space(column[:, kept].T)
    squared = eigvalsh(left.T @ K @ left, left.T @ factored.model.mass.toarray() @ left)
    frequency = np.sqrt(np.abs(squared)) / (2 * pi)
    assert undamped_modes(factored, count=8).frequency == pytest.approx(frequency[:8], rel=1e-6)
    low, high = frequency[below - 1 : below + 1]
    assume(high > low * (1 + 1e-6))
    assert count_below(factored, float(np.sqrt(low * high))) == below


@few
@given(made_bars(rigid=False), st.floats(0.0, 2 * pi))
def test_modes_are_those_of_a_dense_eigen_solver(made: Made, angle: float) -> None:
    factored = made.factored(pieces=2)
    squared = eigvalsh(held_stiffness(factored, angle), factored.model.mass.toarray())
    found = undamped_modes(factored, count=8, angle=angle)
    assert found.frequency == pytest.approx(np.sqrt(squared[:8]) / (2 * pi), rel=1e-6)
    mass = found.shape.T @ (factored.model.mass @ found.shape)
    assert np.abs(mass - np.eye(8)).max() < 1e-7


@few
@given(made_bars())
def test_a_quarter_turn_of_the_bit_is_the_supports_two_ways_swapped(made: Made) -> None:
    swapped = replace(
        made,
        holds=tuple(
            replace(hold, vertical=hold.horizontal, horizontal=hold.vertical)
            for hold in made.holds
        ),
    )
    turned, still = Held(made.factored(), pi / 2), Held(swapped.factored())
    expected = still.edge_compliance
    assert np.abs(turned.edge_compliance - expected).max() < 1e-9 * expected.max()
    found = undamped_modes(turned.factored, count=6, angle=pi / 2).frequency
    assert undamped_modes(still.factored, count=6).frequency == pytest.approx(found, rel=1e-7)


@few
@given(made_bars(), st.floats(0.0, 2 * pi))
def test_turning_a_round_bar_in_its_supports_turns_its_compliance(
    made: Made, angle: float
) -> None:
    """On the centre line r = up cos - side sin, so C(a) = R C(0) R^T."""
    plain = replace(made, arm=0.0, lumps=())
    factored = plain.factored()
    turn = np.array(
        [[cos(angle), sin(angle), 0.0], [-sin(angle), cos(angle), 0.0], [0.0, 0.0, 1.0]]
    )
    straight = Held(factored).edge_compliance
    found = Held(factored, angle).edge_compliance
    assert np.abs(found - turn @ straight @ turn.T).max() < 1e-9 * straight.max()
    still = undamped_modes(factored, count=6).frequency
    assert undamped_modes(factored, count=6, angle=angle).frequency == pytest.approx(
        still, rel=1e-7
    )


@few
@given(made_bars(), logarithmic(1e6, 1e9), logarithmic(1e6, 1e9))
def test_changing_supports_without_solving_again_is_the_same_as_building_anew(
    made: Made, drive: float, tail: float
) -> None:
    changed = tuple(
        replace(hold, vertical=k, horizontal=2 * k)
        for hold, k in zip(made.holds, (drive, tail), strict=True)
    )
    anew = replace(made, holds=changed).factored()
    quick = made.factored().held_by(*anew.model.holds)
    expected = Held(anew).edge_compliance
    assert np.abs(Held(quick).edge_compliance - expected).max() < 1e-10 * expected.max()
