"""The solid bar: rigid motions, mass, symmetry, reciprocity, and stress."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from math import inf, pi, sqrt
from types import SimpleNamespace

import numpy as np
import pytest
from conftest import MakeCase
from scipy.linalg import eigh
from skfem import BilinearForm, ElementVector
from skfem.helpers import ddot, sym_grad, trace

from barwright.analysis import solid as module
from barwright.analysis.elastic import lame, scalar_basis, stiffness
from barwright.analysis.errors import ModelError
from barwright.analysis.material import BarMaterial
from barwright.analysis.mesh import Hole, SolidMesh, round_bar, solid_mesh
from barwright.analysis.model import Held, Model, factorised
from barwright.analysis.modes import undamped_modes
from barwright.analysis.patch import section_motion, slice_about, volume_points
from barwright.analysis.solid import MOST_UNKNOWNS, solid, solid_body, solid_model
from barwright.analysis.stress import largest_principal, nodal_stress, von_mises
from barwright.analysis.timoshenko import Lump, Mount

D, L = 0.025, 0.2
STEEL = BarMaterial(elastic_modulus=205e9, poisson=0.29, density=7850.0, yield_strength=3.5e8)
HOLE = Hole(shape="square", size=0.008, position=0.09)


def pin(station: float, *, kept: float = 0.0) -> Mount:
    return Mount(
        name=f"at {station:g} m",
        start=station,
        end=station,
        vertical=inf,
        horizontal=inf,
        axial=kept,
        turning=kept,
    )


PINNED = (pin(0.0, kept=inf), pin(L))


def coarse(hole: Hole | None = None) -> SolidMesh:
    return solid_mesh(round_bar(D, L, hole=hole), refinement=-1)


@pytest.fixture(scope="module")
def holed() -> Model:
    return solid(coarse(HOLE), STEEL, PINNED, edge=HOLE.position, arm=0.02)


def test_stiffness_is_what_scikit_fem_assembles() -> None:
    mesh = solid_mesh(round_bar(D, 0.03))
    basis = scalar_basis(mesh)
    whole = basis.with_element(ElementVector(basis.elem))
    first, second = lame(STEEL)

    @BilinearForm
    def elastic(u, v, w):  # type: ignore[no-untyped-def]
        strain = sym_grad(u)
        return first * trace(strain) * trace(sym_grad(v)) + 2 * second * ddot(strain, sym_grad(v))

    expected = elastic.assemble(whole)
    assert abs(stiffness(basis, STEEL) - expected).max() < 1e-12 * abs(expected).max()


def test_free_bar_has_six_motions_without_strain_and_no_more() -> None:
    mesh = solid_mesh(round_bar(D, 0.03), element_length=0.4 * D)
    model = solid(mesh, STEEL, PINNED[:1], edge=0.015)
    K = model.stiffness.toarray()
    value = np.abs(eigh(K, model.mass.toarray(), eigvals_only=True, subset_by_index=[0, 6]))
    assert value[5] < 1e-6 * value[6]
    assert np.abs(model.stiffness @ model.rigid).max() < 1e-12 * np.abs(K).max()


def test_mass_is_density_times_volume_and_what_is_carried() -> None:
    plain = solid(coarse(), STEEL, PINNED, edge=L / 2)
    lump = Lump(station=0.03, mass=0.5)
    laden = solid(coarse(), STEEL, PINNED, edge=L / 2, lumps=(lump,))
    whole = plain.rigid.T @ plain.mass @ plain.rigid
    m = STEEL.density * pi * D**2 / 4 * L
    np.testing.assert_allclose(np.diag(whole)[:3], m, rtol=2e-4)
    np.testing.assert_allclose(whole[3, 3], m * (L**2 / 12 + D**2 / 16), rtol=1e-3)
    np.testing.assert_allclose(whole[5, 5], m * D**2 / 8, rtol=1e-3)
    added = laden.rigid.T @ laden.mass @ laden.rigid - whole
    np.testing.assert_allclose(np.diag(added)[:3], 0.5, rtol=1e-9)
    assert added[0, 3] == pytest.approx(0.5 * (0.03 - L / 2), rel=0.01)
    assert plain.station_mass.sum() == pytest.approx(m, rel=2e-4)
    assert plain.station_polar.sum() == pytest.approx(m * D**2 / 8, rel=1e-3)


def test_mass_at_the_hole_keeps_its_arm_and_its_extent() -> None:
    along_r = (0.036**2) / 12  # a rod of 36 mm, longer than the bar is thick
    lump = Lump(station=HOLE.position, mass=0.1, arm=0.003, spread=(0.0, along_r, 0.0))
    bare, laden = (
        solid(coarse(HOLE), STEEL, PINNED, edge=HOLE.position, lumps=lumps)
        for lumps in ((), (lump,))
    )
    added = laden.rigid.T @ (laden.mass - bare.mass) @ bare.rigid
    np.testing.assert_allclose(np.diag(added)[:3], 0.1, rtol=1e-9)
    assert added[1, 5] == pytest.approx(0.1 * 0.003, rel=1e-6)
    about_t = 0.1 * (0.003**2 + along_r)
    walls = HOLE.size**2 / 6 + (HOLE.position - L / 2) ** 2  # two walls across x, two along it
    assert added[3, 3] == pytest.approx(about_t + 0.1 * walls, rel=0.01)


def test_supports_edge_and_stations_follow_a_rigid_motion(holed: Model) -> None:
    arm, away = holed.edge_arm, HOLE.position - L / 2
    np.testing.assert_allclose(
        holed.edge.T @ holed.rigid,
        [[1, 0, 0, away, 0, 0], [0, 1, 0, 0, away, arm], [0, 0, 1, -arm, 0, 0]],
        atol=1e-9,
    )
    for hold in holed.holds:
        moved = np.eye(6)
        moved[0, 3] = moved[1, 4] = hold.station - L / 2
        np.testing.assert_allclose(hold.motion.T @ holed.rigid, moved, atol=1e-9)
    along = (holed.along @ holed.rigid).reshape(6, -1, 6)
    np.testing.assert_allclose(along[0, :, 3], holed.stations - L / 2, atol=2e-6)
    np.testing.assert_allclose(along[4, :, 4], 1.0, atol=2e-6)
    np.testing.assert_allclose(along[5, :, 5], 1.0, atol=2e-6)


def test_slice_takes_a_parabola() -> None:
    mesh = coarse()
    points = volume_points(scalar_basis(mesh))
    x = mesh.nodes[0]
    bent = np.zeros((x.size, 3))
    bent[:, 1] = 1.0 + 30 * x - 400 * x**2
    for station in (0.0, 0.043, L):
        motion = section_motion(slice_about(points, station, 0.02), station)
        expected = 1.0 + 30 * station - 400 * station**2
        assert motion[:, 0] @ bent.ravel() == pytest.approx(expected, rel=2e-6)


def test_held_bar_that_is_pushed_all_over_its_pin_moves_as_a_rigid_body(holed: Model) -> None:
    soft = Mount(
        name="soft", start=0.0, end=0.0, vertical=1.0, horizontal=1.0,
        tilt=1.0, axial=1.0, turning=1.0,
    )  # fmt: skip
    model = solid(coarse(HOLE), STEEL, (soft,), edge=HOLE.position)
    held = Held(factorised(model))
    load = model.holds[0].motion[:, 1]
    answer = held.solve(load)
    moved = model.holds[0].motion.T @ answer.motion[:, 0]
    np.testing.assert_allclose(moved, np.eye(6)[1], atol=2e-4)
    assert model.stiffness.shape == holed.stiffness.shape


def test_edge_compliance_is_symmetric_and_a_solve_agrees(holed: Model) -> None:
    held = Held(factorised(holed))
    solved = holed.edge.T @ held.solve(holed.edge).motion
    np.testing.assert_allclose(solved, solved.T, rtol=1e-7, atol=1e-16)
    np.testing.assert_allclose(held.edge_compliance, solved, rtol=1e-6, atol=1e-14)


def test_mirrored_hole_gives_the_same_stiffness() -> None:
    offset = 0.003
    found = []
    for sign in (1, -1):
        hole = replace(HOLE, offset=sign * offset)
        model = solid(coarse(hole), STEEL, PINNED, edge=hole.position)
        found.append(Held(factorised(model)).edge_compliance)
    np.testing.assert_allclose(np.diag(found[0]), np.diag(found[1]), rtol=3e-3)
    assert found[0][1, 2] == pytest.approx(-found[1][1, 2], rel=0.05)


def test_bar_bends_alike_in_both_planes_without_a_hole() -> None:
    model = solid(coarse(), STEEL, PINNED, edge=L / 2)
    compliance = Held(factorised(model)).edge_compliance
    assert compliance[0, 0] == pytest.approx(compliance[1, 1], rel=1e-3)
    modes = undamped_modes(factorised(model), count=2, worst_residual=1e-5)
    assert modes.frequency[0] == pytest.approx(modes.frequency[1], rel=1e-3)


def test_pure_bending_stress_is_linear_across_the_bar() -> None:
    mesh = solid_mesh(round_bar(D, 0.06), refinement=2)
    x, y, z = mesh.nodes
    curvature, nu = 0.1, STEEL.poisson
    motion = np.stack(
        [
            -curvature * (x - 0.03) * y,
            curvature / 2 * ((x - 0.03) ** 2 + nu * (y**2 - z**2)),
            curvature * nu * y * z,
        ],
        axis=1,
    ).ravel()
    stress = nodal_stress(mesh, STEEL, motion)
    expected = -STEEL.elastic_modulus * curvature * y
    scale = STEEL.elastic_modulus * curvature * D / 2
    assert np.abs(stress[:, 0] - expected).max() < 0.02 * scale
    assert np.abs(stress[:, 1:]).max() < 0.02 * scale


def test_principal_and_von_mises_stress_of_pure_shear() -> None:
    shear = np.array([[0.0, 0, 0, 3.0, 0, 0]])
    assert largest_principal(shear) == pytest.approx(3.0)
    assert von_mises(shear) == pytest.approx(3.0 * sqrt(3))


def test_fields_of_a_case_belong_to_its_model(make_case) -> None:  # type: ignore[no-untyped-def]
    case = make_case()
    model = solid_model(case, refinement=-1)
    shapes = SimpleNamespace(shape=model.rigid[:, :2])
    points, cells, fields = solid_body(
        case, SimpleNamespace(motion=model.rigid[:, 0]), shapes, refinement=-1
    )
    ((kind, tetra),) = cells
    assert kind == "tetra10"
    assert points.shape == (model.n_dof // 3, 3)
    middle = (points[tetra[:, 0]] + points[tetra[:, 2]]) / 2
    assert np.median(np.linalg.norm(points[tetra[:, 6]] - middle, axis=1)) < 1e-12
    np.testing.assert_allclose(fields["deflection_m"], np.tile([0.0, 1, 0], (len(points), 1)))
    assert np.abs(fields["stress_von_mises_Pa"]).max() < 1e-3 * 205e9
    assert set(fields) >= {"mode_1", "mode_2", "stress_xx_Pa", "stress_xt_Pa"}
    with pytest.raises(ModelError, match="do not belong to a mesh"):
        solid_body(case, SimpleNamespace(motion=np.zeros(3)), shapes, refinement=-1)


def test_a_solid_beyond_the_ceiling_is_refused_before_it_is_meshed(make_case: MakeCase) -> None:
    thin = {"start": "300 mm", "end": "400 mm", "diameter": "3 mm"}
    case = make_case(bar__steps=[thin])
    began = time.process_time()
    with pytest.raises(
        ModelError, match=r"has some (\d+) unknowns, and more than 400000 "
    ) as error:
        solid_model(case)
    assert time.process_time() - began < 0.5
    # The part of 30 mm alone, in cubes of 0.23 of 3 mm: pi/4 30^2 300 / 0.69^3 of them.
    found = re.search(r"some (\d+)", str(error.value))
    assert found is not None
    cubes = pi / 4 * 30**2 * 300 / 0.69**3
    assert int(found[1]) > 10 * cubes > MOST_UNKNOWNS


def test_a_mesh_that_came_out_larger_than_expected_is_refused_before_it_is_solved(
    make_case: MakeCase, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "MOST_UNKNOWNS", 10_000)
    monkeypatch.setattr(module, "expected_unknowns", lambda *_: 0)
    monkeypatch.setattr(module, "solid", lambda *_, **__: pytest.fail("it was solved"))
    with pytest.raises(ModelError, match=r"this bar has \d+ unknowns, and more than 10000 "):
        solid_model(make_case(), refinement=-1)
