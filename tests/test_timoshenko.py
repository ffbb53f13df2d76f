"""The beam's matrices: what they must hold whatever the bar."""

from __future__ import annotations

from dataclasses import replace
from math import inf, pi

import numpy as np
import pytest
from skfem import Basis, ElementLinePp, MeshLine

from barwright.analysis import reference_bars as bars
from barwright.analysis.model import Held, Model, factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.section import Section, round_section
from barwright.analysis.timoshenko import (
    DEGREE,
    GRAVITY,
    Lump,
    Mount,
    Segment,
    _mesh,
    _reference,
    beam,
    segment,
)

L, D = 0.4, 0.025
PIECE = bars.reference_segment()
HOLDS = bars.spring(0.0, 30e6, 2e4, ground=True), bars.spring(L, 20e6)


def bar(*lumps: Lump, pieces: tuple[Segment, ...] = (PIECE,), arm: float = 0.0) -> Model:
    return beam(pieces, HOLDS, edge=L / 4, arm=arm, lumps=lumps)


def rigid_mass(model: Model) -> np.ndarray:
    return np.asarray(model.rigid.T @ (model.mass @ model.rigid))


def test_segment_has_the_stiffness_and_mass_of_its_section() -> None:
    section = Section(
        area=2e-4,
        second_moment_bit=3e-9,
        second_moment_across=5e-9,
        torsion_constant=7e-9,
        shear_coefficient=0.8,
    )
    piece = segment(0.1, 0.3, section, E=200e9, G=80e9, density=8000.0)
    expected = {
        "bending_bit": 600.0,
        "bending_across": 1000.0,
        "shear_bit": 0.8 * 80e9 * 2e-4,
        "shear_across": 0.8 * 80e9 * 2e-4,
        "torsion": 560.0,
        "stretch": 4e7,
        "mass": 1.6,
        "rotary_bit": 2.4e-5,
        "rotary_across": 4e-5,
        "polar": 6.4e-5,
    }
    assert {name: getattr(piece, name) for name in expected} == pytest.approx(expected)


def test_averaged_segment_gives_both_planes_the_mean_of_their_give() -> None:
    piece = replace(PIECE, bending_across=PIECE.bending_bit / 2, rotary_across=0.0)
    mean = piece.averaged()
    assert mean.bending_bit == mean.bending_across
    assert 1 / mean.bending_bit == pytest.approx(1.5 / PIECE.bending_bit)
    assert mean.rotary_bit == mean.rotary_across == pytest.approx(PIECE.rotary_bit / 2)
    assert mean.torsion == PIECE.torsion


def test_rigid_motions_carry_the_mass_and_inertia_of_a_rod() -> None:
    mass = bars.DENSITY * pi / 4 * D**2 * L
    tilting = mass * (L**2 / 12 + D**2 / 16)
    expected = np.diag([mass, mass, mass, tilting, tilting, mass * D**2 / 8])
    assert rigid_mass(bar()) == pytest.approx(expected, rel=1e-12, abs=1e-15)


def test_each_plane_has_its_own_rotary_inertia() -> None:
    unlike = replace(PIECE, rotary_bit=2e-3, rotary_across=5e-3)
    tilting = np.diag(rigid_mass(bar(pieces=(unlike,))))[3:5] - PIECE.mass * L**3 / 12
    assert tilting == pytest.approx([2e-3 * L, 5e-3 * L])


def test_lump_adds_its_mass_at_its_arm_and_its_own_inertia() -> None:
    lump = Lump(station=0.3, mass=0.5, arm=0.02, diametral=3e-4, polar=5e-4)
    added = rigid_mass(bar(lump)) - rigid_mass(bar())
    a, b = 0.3 - L / 2, 0.02  # along from the middle, out from the centre line
    mass = 0.5
    assert np.diag(added) == pytest.approx(
        [
            mass,
            mass,
            mass,
            mass * (a**2 + b**2) + 3e-4,
            mass * a**2 + 3e-4,
            mass * b**2 + 5e-4,
        ]
    )
    assert added[0, 3] == pytest.approx(mass * a)
    assert added[1, 4] == pytest.approx(mass * a)
    assert added[1, 5] == pytest.approx(mass * b)  # turning moves it along t
    assert added[2, 3] == pytest.approx(-mass * b)  # tilting draws it back along x
    assert added[4, 5] == pytest.approx(mass * a * b)


def test_lump_abreast_keeps_its_inertia_and_averaged_one_is_alike_all_round() -> None:
    """A box aside and out: moments about the centre line by hand."""
    lump = Lump(station=0.3, mass=2.0, arm=0.03, aside=-0.01, spread=(1e-5, 4e-5, 2e-5))
    whole = np.diag(lump.inertia)[3:]
    assert whole == pytest.approx([2 * (5e-5 + 9e-4), 2 * (3e-5 + 1e-4), 2 * (6e-5 + 1e-3)])
    abreast, averaged = lump.abreast().inertia, lump.averaged().inertia
    assert np.diag(abreast)[3:] == pytest.approx(whole)
    assert np.abs(abreast[np.ix_([0, 3, 2], [1, 4, 5])]).max() == 0.0
    assert averaged == pytest.approx(np.diag(np.diag(averaged)))
    assert averaged[3, 3] == pytest.approx((whole[0] + whole[1]) / 2)
    assert averaged[5, 5] == pytest.approx(whole[2])


def test_gyroscopic_matrix_is_antisymmetric_and_holds_the_polar_inertia() -> None:
    disc = Lump(station=0.1, mass=1.0, diametral=1e-3, polar=2e-3)
    model = bar(disc)
    assert model.gyroscopic is not None
    G = model.gyroscopic.toarray()
    assert np.abs(G + G.T).max() == 0.0
    spun = model.rigid.T @ G @ model.rigid
    polar = bars.DENSITY * pi / 4 * D**2 * L * D**2 / 8 + 2e-3
    expected = np.zeros((6, 6))
    expected[3, 4], expected[4, 3] = polar, -polar
    assert spun == pytest.approx(expected, abs=1e-15)


def test_weight_pulls_against_r_and_is_the_mass_times_gravity() -> None:
    model = bar(Lump(station=0.1, mass=0.7))
    mass = bars.DENSITY * pi / 4 * D**2 * L
    weight = model.rigid.T @ model.sag_load
    assert weight[0] == pytest.approx(-(mass + 0.7) * GRAVITY)
    assert weight[3] == pytest.approx(-0.7 * GRAVITY * (0.1 - L / 2))
    assert np.abs(weight[[1, 2, 4, 5]]).max() < 1e-15


def test_edge_on_its_arm_moves_with_turn_and_tilt() -> None:
    model = bar(arm=0.02)
    moved = model.edge.T @ model.rigid
    a = L / 4 - L / 2
    expected = [[1, 0, 0, a, 0, 0], [0, 1, 0, 0, a, 0.02], [0, 0, 1, -0.02, 0, 0]]
    assert moved == pytest.approx(np.array(expected, dtype=float))


def test_sampled_motion_of_a_rigid_bar_is_rigid() -> None:
    model = bar()
    sampled = (model.along @ model.rigid).reshape(6, model.stations.size, 6)
    swing = model.stations - L / 2
    for motion in range(6):
        for rigid in range(6):
            expected = np.full(swing.size, float(motion == rigid))
            if (motion, rigid) in ((0, 3), (1, 4)):
                expected = swing
            assert sampled[motion, :, rigid] == pytest.approx(expected, abs=1e-14)
    assert model.station_mass.sum() == pytest.approx(PIECE.mass * L)
    assert model.station_polar.sum() == pytest.approx(PIECE.polar * L)


def test_a_gripped_length_moves_by_its_mean() -> None:
    grip = Mount(name="chuck", start=0.05, end=0.15, vertical=1e7, horizontal=1e7)
    model = beam([PIECE], (grip,), edge=0.3)
    assert model.holds[0].station == pytest.approx(0.1)
    moved = model.holds[0].motion.T @ model.rigid
    expected = np.eye(6)
    expected[0, 3] = expected[1, 4] = 0.1 - L / 2
    assert moved == pytest.approx(expected, abs=1e-14)


def test_mean_over_a_grip_of_a_cubic_is_exact() -> None:
    """Cantilever under a tip load: w = P x^2 (3L - x) / 6EI + P x / kGA; its mean by hand."""
    ends = bars.ends("clamped", "free")
    probe = Mount(name="probe", start=0.1, end=0.3, vertical=0.0, horizontal=0.0)
    held = Held(factorised(beam([PIECE], (*ends, probe), edge=L)))
    model = held.factored.model
    found = model.holds[1].motion[:, 0] @ held.solve(model.edge[:, 0]).motion[:, 0]

    def integral(x: float) -> float:
        bending = (L * x**3 - x**4 / 4) / (6 * PIECE.bending_bit)
        return bending + x**2 / (2 * PIECE.shear_bit)

    assert found == pytest.approx((integral(0.3) - integral(0.1)) / 0.2, rel=1e-10)


@pytest.mark.parametrize("gap", [1e-5, 1e-6, 4e-8, 1e-9])
def test_stations_a_hair_apart_make_one_and_cost_no_accuracy(gap: float) -> None:
    """A step at 0.7874 in beside a grip of 20 mm: without the merging the modes are refused."""
    first, second = replace(PIECE, end=0.02 + gap), replace(PIECE, start=0.02 + gap)
    grip = Mount(
        name="chuck", start=0.0, end=0.02, vertical=inf, horizontal=1e7, axial=1e6, turning=1e3
    )
    holds = grip, bars.spring(L - gap, 1e7)
    found = undamped_modes(factorised(beam([first, second], holds, edge=L / 2)), count=8)
    plain = undamped_modes(
        factorised(beam([PIECE], (grip, bars.spring(L, 1e7)), edge=L / 2)), count=8
    )
    assert found.residual.max() < 1e-9
    assert found.frequency == pytest.approx(plain.frequency, rel=2e-4)


def test_a_contact_shorter_than_a_hair_acts_at_its_middle() -> None:
    short = Mount(name="centre", start=0.3, end=0.3 + 4e-6, vertical=1e7, horizontal=1e7)
    model = beam([PIECE], (short,), edge=0.2)
    moved = model.holds[0].motion.T @ model.rigid
    assert moved[0, 0] == pytest.approx(1.0)
    assert moved[0, 3] == pytest.approx(0.1, abs=1e-5)


def test_round_section_segment_is_alike_in_both_planes() -> None:
    piece = segment(0.0, 1.0, round_section(0.03, 0.3), E=2e11, G=8e10, density=7800.0)
    assert piece.averaged() == piece


def test_a_beams_unknowns_are_numbered_as_scikit_fem_numbers_them() -> None:
    mesh = _mesh([0.0, 0.31, 1.0], 0.2)
    basis = Basis(MeshLine(mesh.node), ElementLinePp(DEGREE))
    np.testing.assert_array_equal(mesh.dofs, basis.element_dofs.T)
    assert mesh.n_scalar == basis.N
    places = np.linspace(0.0, 1.0, 33)
    element = np.minimum(np.searchsorted(mesh.node, places, side="right") - 1, 5)
    ours = np.zeros((33, mesh.n_scalar))
    values = _reference().at((places - mesh.node[element]) / mesh.length[element])
    ours[np.arange(33)[:, None], mesh.dofs[element]] = values
    np.testing.assert_allclose(ours, basis.probes(places[None, :]).toarray(), atol=1e-14)
